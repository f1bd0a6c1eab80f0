"""Drawings of a plan: makers turn records into one neutral drawing, writers turn that into files.

``model`` is the neutral drawing. ``elevations``, ``sections``, ``key_plan`` and ``roll_cards`` make drawings;
``sheets``, ``packet_pages`` and ``cad_sheets`` put them on pages; ``dxf``, ``svg`` and ``pdf`` write files, ``listing``
a list for tests. The writers are imported when they are first used, since a plan may be made without them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from layout.names import drawing_stems
from layout.records import Job, Plan, Wall

if TYPE_CHECKING:
    from layout.drawing.elevations import Elevation
    from layout.drawing.packet_pages import Words


def svg_elevations(plan: Plan) -> dict[str, str]:
    """Return the elevation of every face as SVG text, by a file name that is safe and used once.

    Parameters
    ----------
    plan
        The plan.
    """
    from layout.drawing.elevations import face_elevations

    return _svgs(face_elevations(plan))


def _svgs(faces: Mapping[tuple[str, str, str], Elevation]) -> dict[str, str]:
    from layout.drawing.svg import svg_text

    stems = drawing_stems(list(faces))
    return {f"{stems[key]}.svg": svg_text(face.whole()) for key, face in faces.items()}


def walls_svg(job: Job, walls: tuple[Wall, ...]) -> str:
    """Return the walls of a job without sheet, from above and in elevation, as one SVG text.

    Parameters
    ----------
    job
        The job.
    walls
        Its developed runs.
    """
    from layout.drawing.bare import bare_walls
    from layout.drawing.svg import stacked_svg

    return stacked_svg(bare_walls(job, walls), f"{job.info.name}: walls as they were read")


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


def fold_svgs(plan: Plan) -> dict[str, str]:
    """Return pictures of how slit pieces and covers fold on to the concrete, as SVG texts by the piece's tag.

    Parameters
    ----------
    plan
        The plan.
    """
    from layout.drawing.fold_details import fold_pictures
    from layout.drawing.svg import svg_text

    return {tag: svg_text(picture) for tag, picture in fold_pictures(plan).items()}


def write_dxf(
    plan: Plan, path: Path, *, layers: Path | None = None, paper: str = "", carried: str = "",
) -> None:
    """Write the drawings of a plan as one DXF file: each run developed at full size, and sheets to plot.

    Parameters
    ----------
    plan
        The plan.
    path
        Where to write.
    layers
        An office's mapping file for layers; None for the standard ones.
    paper
        ARCH D, ANSI B, A1 or A3; empty for the usual one of the job's unit.
    carried
        Text of the job file, carried along for reading the walls back; empty for none.

    Raises
    ------
    JobError
        When the mapping file is wrong.
    DrawingError
        When there is no such paper.
    """
    from layout.drawing.cad_sheets import cad_set
    from layout.drawing.dxf import write_dxf as write
    from layout.drawing.model.layers import read_layers

    write(cad_set(plan, paper=paper), path, layers=read_layers(layers) if layers else None, carried=carried)


def check_sheet(*, layers: Path | None, paper: str) -> None:
    """Refuse a mapping of layers or a paper that cannot be used, before anything is planned.

    Parameters
    ----------
    layers, paper
        As for ``write_dxf``.

    Raises
    ------
    JobError
        With every fault in the mapping file.
    DrawingError
        When there is no such paper.
    """
    from layout.drawing.cad_sheets import check_paper
    from layout.drawing.model.layers import read_layers

    check_paper(paper)
    if layers is not None:
        read_layers(layers)


def write_pdf(plan: Plan, path: Path, words: Words | None = None) -> None:
    """Write the packet of a plan as one PDF.

    Parameters
    ----------
    plan
        The plan.
    path
        Where to write.
    words
        Cautions and checks for its pages.
    """
    from layout.drawing.elevations import face_elevations

    _pdf(plan, path, words, face_elevations(plan))


def _pdf(plan: Plan, path: Path, words: Words | None, faces: Mapping[tuple[str, str, str], Elevation]) -> None:
    from layout.drawing.packet_pages import Words, packet_pages
    from layout.drawing.pdf import write_pdf as write

    write(packet_pages(plan, words or Words(), faces), path, title=plan.job.info.name)


def files(
    plan: Plan, words: Words | None = None, *, layers: Path | None = None, paper: str = "", carried: str = "",
) -> dict[str, str | Callable[[Path], None]]:
    """Return every drawing of the packet by its place in it: its text, or what writes it to a path.

    Parameters
    ----------
    plan
        The plan.
    words
        Cautions and checks for the pages of the PDF.
    layers, paper, carried
        As for ``write_dxf``.
    """
    from layout.drawing.elevations import face_elevations

    faces = face_elevations(plan)
    drawings: dict[str, str | Callable[[Path], None]] = {
        f"elevations/{name}": text for name, text in _svgs(faces).items()
    }
    drawings["rolls.svg"] = rolls_svg(plan)
    drawings["elevations.dxf"] = lambda path: write_dxf(plan, path, layers=layers, paper=paper, carried=carried)
    drawings["packet.pdf"] = lambda path: _pdf(plan, path, words, faces)
    return drawings
