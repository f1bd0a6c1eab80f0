"""Drawings of a plan: makers turn records into one neutral drawing, writers turn that into files.

``model`` is the neutral drawing. ``elevations``, ``sections``, ``key_plan`` and ``roll_cards`` make drawings;
``sheets``, ``packet_pages`` and ``cad_sheets`` put them on pages; ``dxf``, ``svg`` and ``pdf`` write files, ``listing``
a list for tests. The writers are imported when they are first used, since a plan may be made without them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from layout.drawing.options import DrawingOptions
from layout.names import drawing_stems
from layout.records import Job, Plan, Wall

if TYPE_CHECKING:
    from layout.drawing.drawn import DrawnOnce
    from layout.drawing.elevations import Elevation
    from layout.drawing.model.entities import CadSet, Drawing
    from layout.drawing.packet_pages import PageWords


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


def rolls_svg(plan: Plan, cards: Sequence[Drawing] | None = None) -> str:
    """Return the roll cards as one SVG text.

    Parameters
    ----------
    plan
        The plan.
    cards
        The cards, drawn already; None draws them.
    """
    from layout.drawing.roll_cards import roll_cards
    from layout.drawing.svg import svg_text

    return svg_text(roll_cards(plan, cards))


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


def write_plan_dxf(plan: Plan, path: Path, asked: DrawingOptions = DrawingOptions(), *, carried: str = "") -> None:
    """Write the drawings of a plan as one DXF file: runs and faces at full size, and sheets to plot.

    Parameters
    ----------
    plan
        The plan.
    path
        Where to write.
    asked
        Paper, scale, layers, release, and whether it is flat.
    carried
        Text of the job file, carried along for reading the walls back; empty for none.

    Raises
    ------
    JobError
        When the mapping file is wrong.
    DrawingError
        When there is no such paper, scale or release.
    """
    from layout.drawing.cad_sheets import cad_set

    _writer(asked)(cad_set(plan, paper=asked.paper, scale=asked.scale), path, carried=carried)


def write_folded_dxf(plan: Plan, path: Path, asked: DrawingOptions = DrawingOptions()) -> None:
    """Write every ply of the membrane as 3D faces where it lies on the concrete, a block for each run.

    Parameters
    ----------
    plan
        The plan.
    path
        Where to write.
    asked
        An office's own layers.
    """
    from layout.drawing.dxf_folded import write_folded
    from layout.drawing.folded import folded_bodies
    from layout.drawing.model.layers import read_layers

    layers = read_layers(asked.layers) if asked.layers else None
    write_folded(folded_bodies(plan), path, unit=plan.job.unit, layers=layers)


def _writer(asked: DrawingOptions) -> Callable[..., None]:
    """Return what writes a set of drawings as a DXF the way it is asked for."""
    from layout.drawing.dxf import write_dxf as write
    from layout.drawing.model.layers import read_layers

    layers = read_layers(asked.layers) if asked.layers else None
    return partial(write, layers=layers, version=asked.dxf, flat=asked.flat)


def check_asked(asked: DrawingOptions) -> None:
    """Refuse a mapping of layers, a paper or a release that cannot be used, before anything is planned.

    Parameters
    ----------
    asked
        What a person asks of the drawings.

    Raises
    ------
    JobError
        With every fault in the mapping file.
    DrawingError
        When there is no such paper or release.
    """
    from layout.drawing.cad_sheets import check_paper
    from layout.drawing.dxf import check_version
    from layout.drawing.model.layers import read_layers

    check_paper(asked.paper)
    check_version(asked.dxf)
    if asked.layers is not None:
        read_layers(asked.layers)


def write_plan_pdf(
    plan: Plan, path: Path, words: PageWords | None = None, asked: DrawingOptions = DrawingOptions(),
) -> None:
    """Write the packet of a plan as one PDF.

    Parameters
    ----------
    plan
        The plan.
    path
        Where to write.
    words
        Cautions and checks for its pages.
    asked
        Paper and scale.
    """
    _pdf(plan, path, words, None, asked)


def _pdf(plan: Plan, path: Path, words: PageWords | None, drawn: DrawnOnce | None, asked: DrawingOptions) -> None:
    from layout.drawing.packet_pages import PageWords, packet_pages
    from layout.drawing.pdf import write_pdf as write

    pages = packet_pages(plan, words or PageWords(), drawn, paper=asked.paper, scale=asked.scale)
    write(pages, path, title=plan.job.info.name)


def files(plan: Plan, words: PageWords | None = None, asked: DrawingOptions = DrawingOptions(), *,
          carried: str = "") -> dict[str, str | Callable[[Path], None]]:
    """Return every drawing of the packet by its place in it: its text, or what writes it to a path.

    Parameters
    ----------
    plan
        The plan.
    words
        Cautions and checks for the pages of the PDF.
    asked
        What a person asks of the drawings.
    carried
        As for ``write_plan_dxf``.
    """
    from layout.drawing.cad_sheets import cad_set
    from layout.drawing.drawn import DrawnOnce
    from layout.drawing.elevations import SCALE, face_elevations

    usual = SCALE[plan.job.unit.name]
    drawn = DrawnOnce(plan)
    drawings: dict[str, str | Callable[[Path], None]] = {
        f"elevations/{name}": text for name, text in _svgs(face_elevations(plan, drawn.faces(usual))).items()
    }
    drawings["rolls.svg"] = rolls_svg(plan, drawn.cards())
    cad = cad_set(plan, paper=asked.paper, scale=asked.scale, drawn=drawn)
    drawn.forget_but({usual, cad.scale})
    write = _writer(asked)
    drawings["elevations.dxf"] = partial(write, cad, carried=carried)
    drawings |= {name: partial(write, single) for name, single in _single(cad, asked).items()}
    drawings["folded.dxf"] = lambda path: write_folded_dxf(plan, path, asked)
    drawings["packet.pdf"] = lambda path: _pdf(plan, path, words, drawn, asked)
    return drawings


def _single(cad: CadSet, asked: DrawingOptions) -> dict[str, CadSet]:
    """Return what is asked for in files of its own: each face to insert, each sheet for programs without sheets."""
    from layout.drawing.cad_sheets import face_sets
    from layout.drawing.flat_sheets import sheet_set

    single: dict[str, CadSet] = {}
    if asked.blocks:
        single |= {f"blocks/{name}.dxf": each for name, each in face_sets(cad).items()}
    if asked.flat or asked.dxf == "R12":
        single |= {f"sheets/{page.number}.dxf": sheet_set(page, cad.unit) for page in cad.pages}
    return single
