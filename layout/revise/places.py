"""The drops of one changed run: those that stay where they are, and new ones placed between them.

A drop that stays has a fixed range of stations, told from the left end of its face; the run is placed around it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from layout.drops import FixedDrop, place
from layout.integrated.hang import Hung, hang
from layout.records import Drop, Job, Piece, Rules, Wall
from layout.revise.mending import Unsuited, mended, moved_piece
from layout.shapes import must_cover, polygons, repeated

SPECK = 6
"""Places after the point to which outlines are the same [ticks]."""


@dataclass(frozen=True)
class Stay:
    """A drop that stays: where it hangs on the changed run, its pieces moved with it, and whether they are hung.

    ``patches`` go over it after it hangs; it is mended where there are any or a piece has a hole that it had not.
    """

    drop: Drop
    pieces: tuple[Piece, ...]
    hung: bool
    patches: tuple[Piece, ...] = ()
    mended: bool = False


@dataclass(frozen=True)
class Placed:
    """One changed run, hung; ``violation`` counts by how much rules are broken [ticks]."""

    hung: Hung
    violation: int


def shift_of(old: Wall, new: Wall, drop: Drop) -> int:
    """Return how far the faces that a drop hangs on have moved along their run [ticks].

    A drop that goes around a corner is told from the corner, any other from the left end of its face.

    Raises
    ------
    Unsuited
        When one of them is gone, or they moved apart.
    """
    faces = {span.name: span for span in new.faces}
    moves: set[int] = set()
    for turn in (0, 1) if old.closed else (0,):
        for span in old.faces:
            left = span.left + turn * old.length
            if not (left < drop.right and drop.left < span.right + turn * old.length):
                continue
            if span.name not in faces:
                raise Unsuited(f"its face {span.name} is not in the changed job")
            right = span.right + turn * old.length
            if drop.right > right:  # it goes on around the corner, and there it stays
                moves.add(faces[span.name].right + turn * new.length - right)
            else:
                moves.add(faces[span.name].left + turn * new.length - left)
    if len(moves) != 1:
        raise Unsuited("the faces it hangs on are no longer as far apart")
    return moves.pop()


def stay(
    old: Wall, new: Wall, drop: Drop, pieces: Sequence[Piece], *, hung: bool, rules: Rules | None = None,
) -> Stay:
    """Return a drop where it stays on a changed run.

    With ``rules`` a drop behind which only sleeves have changed stays too: it gets a hole for each new one, and a patch
    over the hole of each that is gone.

    Raises
    ------
    Unsuited
        When what it covers has changed: its pieces were cut to another outline.
    """
    move = shift_of(old, new, drop)
    left, right = drop.left + move, drop.right + move
    if not new.closed and not 0 <= left < right <= new.length:
        raise Unsuited("the wall no longer reaches so far")
    if new.closed and right - left > new.length:
        raise Unsuited("the run is now shorter than the drop is wide")
    same = _share(old, drop.left, drop.right) == _share(new, left, right)
    if _corners(old, drop.left, drop.right, move) != _corners(new, left, right, 0) or not (same or (
            rules is not None and _share(replace(old, rounds=()), drop.left, drop.right) == _share(
                replace(new, rounds=()), left, right))):
        raise Unsuited("the wall behind it has changed")
    if new.closed and left >= new.length:
        move, left, right = move - new.length, left - new.length, right - new.length
    moved = tuple(moved_piece(piece, move) for piece in pieces)
    placed = replace(drop, left=left, right=right)
    if same or rules is None:
        return Stay(placed, moved, hung)
    return Stay(placed, *mended(old, new, placed, moved, move, rules, hung=hung))


def freed(wall: Wall, stays: Sequence[Stay]) -> list[Stay]:
    """Return the drops that stay without those that are only cut and lack a neighbour that stays."""
    ordered = sorted(stays, key=lambda one: one.drop.left)
    count = len(ordered)
    laps = [
        i + 1 < count and ordered[i + 1].drop.left < ordered[i].drop.right
        or i + 1 == count and wall.closed and ordered[0].drop.left + wall.length < ordered[i].drop.right
        for i in range(count)
    ]
    ends = [not wall.closed and (one.drop.left == 0, one.drop.right == wall.length) or (False, False)
            for one in ordered]
    return [
        one for i, one in enumerate(ordered)
        if one.hung or ((laps[i - 1] or ends[i][0]) and (laps[i] or ends[i][1]))
    ]


def _share(wall: Wall, left: int, right: int) -> list[list[tuple[float, float]]]:
    """Return the outlines of what a drop covers, holes too, from its left edge [ticks]."""
    rings = [
        ring for shape in polygons(must_cover(repeated(wall), left, right).normalize())
        for ring in (shape.exterior, *shape.interiors)
    ]
    return [[(round(x - left, SPECK), round(y, SPECK)) for x, y, *_ in ring.coords] for ring in rings]


def _corners(wall: Wall, left: int, right: int, move: int) -> set[tuple[int, str, float, int]]:
    """Return the corners that a drop turns, where slits are cut."""
    return {
        (span.right + turn + move, span.corner, span.angle, span.toe)
        for turn in ((0, wall.length) if wall.closed else (0,)) for span in wall.faces
        if left < span.right + turn < right
    }


def place_around(job: Job, wall: Wall, stays: Sequence[Stay], taken: Collection[str]) -> Placed:
    """Place a changed run around the drops that stay, for the least violation, then the least length.

    Parameters
    ----------
    job
        The changed job.
    wall
        The changed run.
    stays
        The drops that stay, if any.
    taken
        Tags that are written on sheet already, or that other pieces have.

    Raises
    ------
    NoLayout
        When the stretches between cannot be covered, or new drops cannot be tagged in order.
    """
    rules = job.rules
    kept = {one.drop.tag: one for one in stays}
    fixed = [FixedDrop(one.drop.tag, one.drop.left, one.drop.right, _boxes_of(one.pieces)) for one in stays]
    layout = place(wall, rules, width=job.sheet.width, side_lap=rules.side_lap, fixed=fixed, taken=taken,
                   prefix=wall.run, unit=job.unit)
    hung = hang(job, wall, layout)
    new = {drop.tag: [piece for piece in hung.pieces if piece.drop == drop.tag] for drop in hung.drops}
    return Placed(replace(
        hung,
        drops=tuple(replace(kept[drop.tag].drop, install=drop.install) if drop.tag in kept else drop
                    for drop in hung.drops),
        pieces=tuple(chain.from_iterable(
            [replace(piece, install=drop.install) for piece in (*kept[drop.tag].pieces, *kept[drop.tag].patches)]
            if drop.tag in kept else new[drop.tag] for drop in hung.drops)),
    ), violation=layout.cost.violation)


def _boxes_of(pieces: Sequence[Piece]) -> tuple[tuple[int, int], ...]:
    """Return the top and bottom of each piece of a drop [ticks]."""
    return tuple((max(y for _, y in piece.outline), min(y for _, y in piece.outline)) for piece in pieces)


def tags_of(pieces: Sequence[Piece]) -> set[str]:
    """Return the tags that pieces, and the drops they belong to, have."""
    return set(chain.from_iterable((piece.tag, piece.drop) for piece in pieces)) - {""}
