"""Drawings of a plan: makers turn records into one neutral drawing, writers turn that into files.

``model`` is the neutral drawing. ``elevations``, ``sections``, ``key_plan`` and ``roll_cards`` make drawings, ``sheets``
puts them on pages; ``dxf``, ``svg`` and ``pdf`` write files and ``listing`` a list for tests. The writers are
imported when they are first used, since a plan may be made without them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from pathlib import Path

from layout.records import Plan


def svg_elevations(plan: Plan) -> dict[str, str]:
    """Return the elevation of every face as SVG text, by a file name that is safe and used once.

    Parameters
    ----------
    plan
        The plan.
    """
    from layout.drawing.elevations import elevation
    from layout.drawing.svg import svg_text

    return {name: svg_text(elevation(plan, run, face)) for name, run, face in _names(plan)}


def rolls_svg(plan: Plan) -> str:
    """Return the roll cards as one SVG text.

    Parameters
    ----------
    plan
        The plan.
    """
    from layout.drawing.roll_cards import roll_cards
    from layout.drawing.svg import svg_text

    return svg_text(roll_cards(plan))


def write_dxf(plan: Plan, path: Path) -> None:
    """Write the drawings of a plan as one DXF file: each run developed at full size, and sheets to plot.

    Parameters
    ----------
    plan
        The plan.
    path
        Where to write.
    """
    from layout.drawing.dxf import write_dxf as write
    from layout.drawing.cad_sheets import cad_set

    write(cad_set(plan), path)


def write_pdf(plan: Plan, path: Path) -> None:
    """Write the packet of a plan as one PDF.

    Parameters
    ----------
    plan
        The plan.
    path
        Where to write.
    """
    from layout.drawing.pdf import write_pdf as write
    from layout.drawing.packet_pages import packet_pages

    write(packet_pages(plan), path, title=plan.job.info.name)


def files(plan: Plan) -> dict[str, str | Callable[[Path], None]]:
    """Return every drawing of the packet by its place in it: its text, or what writes it to a path.

    Parameters
    ----------
    plan
        The plan.
    """
    drawings: dict[str, str | Callable[[Path], None]] = {
        f"elevations/{name}": text for name, text in svg_elevations(plan).items()
    }
    drawings["rolls.svg"] = rolls_svg(plan)
    drawings["elevations.dxf"] = lambda path: write_dxf(plan, path)
    drawings["packet.pdf"] = lambda path: write_pdf(plan, path)
    return drawings


_RESERVED = {"con", "prn", "aux", "nul", *(f"com{i}" for i in range(10)), *(f"lpt{i}" for i in range(10))}
_MOST = 60


def _names(plan: Plan) -> list[tuple[str, str, str]]:
    """Return (file name, run, face) of every face; the names agree with those the packet's lists use."""
    named: list[tuple[str, str, str]] = []
    taken: set[str] = set()
    for run in plan.job.runs:
        for face in run.faces:
            plain = unicodedata.normalize("NFKD", f"{run.name} {face.name}").encode("ascii", "ignore").decode().lower()
            base = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_MOST].strip("-") or "face"
            base = f"{base}-face" if base in _RESERVED else base
            stem, number = base, 1
            while stem in taken:
                number += 1
                stem = f"{base}-{number}"
            taken.add(stem)
            named.append((f"{stem}.svg", run.name, face.name))
    return named
