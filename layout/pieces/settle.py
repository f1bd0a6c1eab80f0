"""What waits until the drops hang: where sleeve patches lie, the order in which everything goes on, and the dabs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shapely.geometry import Polygon

from layout.pieces.blanks import PieceKind, piece, plain_tag
from layout.pieces.dabs import dabs
from layout.pieces.field import blank
from layout.records import MEMBRANE, Dab, Job, Piece, Ring, Slit, Wall
from layout.shapes import must_cover, polygons, rectangle, repeated

PATCH = "sleeve patch"
ORDER = (
    "base strip", "corner strip", "top strip", "inside cover", "slope cover", "ledge cover", "footing cover",
    "riser cover", "opening corner", "opening gusset", "collar",
)
"""What goes on before the drops, in this order: strips, covers over them, then what lies around openings and pipes."""


def sleeve_patches(job: Job, wall: Wall) -> list[Piece]:
    """Return a patch for each pipe that stands out, for the slit with which its drop goes around it.

    Its size is settled before the drops are: from the middle of the pipe as far as half the sheet's width and a side
    lap, ``cover_lap`` to either side. Where it lies waits for ``settle``.
    """
    kind = PieceKind(PATCH, wall.run, MEMBRANE, job.rules, turnable=True)
    shape = Polygon(patch_outline(job))
    made: list[Piece] = []
    for sleeve in wall.rounds:
        if sleeve.projects:
            face = next(span.name for span in wall.faces if span.left <= sleeve.x <= span.right)
            made.append(piece(kind, shape, tag=f"{wall.run}-SP-{plain_tag(sleeve.tag)}", face=face))
    return made


def patch_outline(job: Job) -> Ring:
    """Return the outline that every sleeve patch of a job has before it is laid, in its own frame."""
    wide, long = 2 * job.rules.cover_lap, -(-job.sheet.width // 2) + job.rules.side_lap
    return ((0, long), (wide, long), (wide, 0), (0, 0))


def settle(job: Job, walls: Sequence[Wall], pieces: Sequence[Piece]) -> tuple[tuple[Piece, ...], tuple[Dab, ...]]:
    """Return the pieces with their place in the order of work, patches where their slits are, and the dabs.

    Parameters
    ----------
    job
        The job.
    walls, pieces
        The developed walls, and every piece of the plan.

    Returns
    -------
    tuple
        The pieces in the order given, and the dabs.
    """
    by_run = {wall.run: wall for wall in walls if wall.layer == MEMBRANE}
    placed = [_patch(job, by_run[each.run], each, pieces) if each.kind == PATCH else each for each in pieces]
    order: dict[str, int] = {}
    for run in by_run:
        mine = [each for each in placed if each.run == run and each.layer == MEMBRANE]
        for number, each in enumerate(sorted(mine, key=lambda each: _place(each, mine)), 1):
            order[each.tag] = number
    numbered = tuple(replace(each, order=order.get(each.tag, 0)) for each in placed)
    return numbered, dabs(job, walls, numbered)


def _place(each: Piece, pieces: Sequence[Piece]) -> tuple[int, int, int, int]:
    """Return what orders a piece: before the drops by kind; a drop's pieces lower first; a patch after its drop."""
    if each.kind in ORDER:
        return (0, ORDER.index(each.kind), 0, 0)
    if each.kind == PATCH:
        slit = _slit_for(each, pieces)
        return (*_place(slit[0], pieces)[:3], 1) if slit else (2, 0, 0, 0)
    return (1, each.install, min(y for _, y in each.outline), 0)


def _slit_for(patch: Piece, pieces: Sequence[Piece]) -> tuple[Piece, Slit] | None:
    """Return the drop's piece, and its slit, that a patch closes."""
    for each in pieces:
        if each.kind == "drop" and each.layer == MEMBRANE and each.run == patch.run:
            for slit in each.slits:
                tag = slit.why.removeprefix("around ")
                if tag != slit.why and patch.tag.startswith(f"{patch.run}-SP-{plain_tag(tag)}"):
                    return each, slit
    return None


def _patch(job: Job, wall: Wall, patch: Piece, pieces: Sequence[Piece]) -> Piece:
    """Return a patch laid over its drop's slit, flat in the run's frame; as it was when no drop is slit for it."""
    found = _slit_for(patch, pieces)
    if found is None:
        return patch
    _, slit = found
    stretch = repeated(wall)
    sleeve = next(each for each in stretch.rounds if f"around {each.tag}" == slit.why
                  and abs(each.x - slit.start[0]) <= each.diameter and abs(each.y - slit.start[1]) <= each.diameter)
    lap, past = job.rules.cover_lap, job.rules.side_lap
    (x0, y0), (x1, y1) = (sleeve.x, sleeve.y), slit.end
    if y0 == y1:
        left, right = (x1 - past, x0) if x1 < x0 else (x0, x1 + past)
        around = rectangle(left, y0 - lap, right, y0 + lap)
    else:
        around = rectangle(x0 - lap, y1 - past, x0 + lap, y0)
    left, _, right, _ = (round(edge) for edge in around.bounds)
    within = polygons(must_cover(stretch, max(left, 0), min(right, stretch.length)).intersection(around))
    shape = max(within, key=lambda part: part.area, default=Polygon())
    if shape.is_empty:
        return patch
    cut = blank(shape, job.rules)
    return replace(
        patch, flat=True, outline=cut.outline, holes=cut.holes,
        sleeves=((sleeve.tag, sleeve.x, sleeve.y, sleeve.diameter),),
    )
