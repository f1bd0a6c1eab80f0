"""Which pieces of a new plan are cut already, and which cut pieces no place needs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from layout.errors import NoLayout
from layout.records import Job, Piece, Point, Ring, Slit, Wall
from layout.revise.earlier import SPARE
from layout.revise.places import Unsuited, moved_piece
from layout.shapes import ring_area, ring_of


@dataclass(frozen=True)
class Matched:
    """New pieces and what they are made of.

    Parameters
    ----------
    pieces
        The new pieces; one whose tag is written on another piece already has another tag.
    made_of
        New tag -> tag of the cut piece it is, or is trimmed from.
    trimmed
        Those of the tags in ``made_of`` that are cut from a piece meant for another place.
    spares
        Cut pieces that are needed nowhere, as pieces of the new plan.
    """

    pieces: tuple[Piece, ...]
    made_of: Mapping[str, str]
    trimmed: tuple[str, ...]
    spares: tuple[Piece, ...]


def match(
    job: Job, pieces: Sequence[Piece], cut: Sequence[Piece], hung: frozenset[str], *, old: Mapping[str, Wall],
    new: Mapping[str, Wall],
) -> Matched:
    """Find what each new piece is made of.

    Parameters
    ----------
    job
        The changed job.
    pieces
        The new pieces.
    cut
        The pieces that are cut.
    hung
        Tags of those that are hung.
    old, new
        The developed runs before and after the change, by name.

    Raises
    ------
    NoLayout
        When something that is hung has no place in the new plan.

    Notes
    -----
    A piece is the same when its tag, product and shape are; what is left over goes, the longest need first, to new
    drops that it is large enough for, if it is a plain rectangle. Nothing is turned.
    """
    by_tag = {piece.tag: piece for piece in cut if piece.kind != SPARE}
    same = {piece.tag for piece in pieces if piece.tag in by_tag and _same(by_tag[piece.tag], piece)}
    lost = [tag for tag in sorted(hung & set(by_tag)) if tag not in same or _moved(
        by_tag[tag], next(piece for piece in pieces if piece.tag == tag), old, new,
    )]
    if lost:
        raise NoLayout(
            f"{', '.join(lost)} {'is' if len(lost) == 1 else 'are'} hung, and the changed job has no such piece there")
    free = [piece for piece in cut if piece.kind == SPARE or piece.tag not in same]
    named = _named_apart(pieces, same, {piece.tag for piece in free})
    made_of = {tag: tag for tag in same}
    trimmed: list[str] = []
    for piece in sorted(named, key=lambda piece: (-piece.length, -piece.width, piece.tag)):
        if piece.tag in same:
            continue
        found = [other for other in free if _serves(other, piece)]
        if found:
            best = min(found, key=lambda other: (other.length, other.width, other.tag))
            free.remove(best)
            made_of[piece.tag] = best.tag
            trimmed.append(piece.tag)
    spares = tuple(_spare(piece, job) for piece in free)
    return Matched(named, made_of | {piece.tag: piece.tag for piece in spares}, tuple(trimmed), spares)


def _same(cut: Piece, piece: Piece) -> bool:
    """Tell whether a cut piece has the product and the shape of a new one, wherever either hangs."""
    if (cut.kind, cut.product, cut.flat, cut.length, cut.width) != (
        piece.kind, piece.product, piece.flat, piece.length, piece.width,
    ):
        return False
    moved = moved_piece(cut, _left(piece) - _left(cut))
    return (moved.outline, moved.holes, _cuts(moved)) == (piece.outline, piece.holes, _cuts(piece))


def _left(piece: Piece) -> int:
    return min(x for x, _ in piece.outline)


def _cuts(piece: Piece) -> list[object]:
    return [(slit.start, slit.end) for slit in piece.slits]


def _moved(cut: Piece, piece: Piece, old: Mapping[str, Wall], new: Mapping[str, Wall]) -> bool:
    """Tell whether a hung piece that is not a drop would now hang elsewhere on its face."""
    if cut.drop or not cut.flat:
        return False
    before = [span.left for span in old[cut.run].faces if span.name == cut.face]
    after = [span.left for span in new[piece.run].faces if span.name == piece.face]
    return cut.face != piece.face or before[0] - _left(cut) != after[0] - _left(piece)


def _named_apart(pieces: Sequence[Piece], same: set[str], written: set[str]) -> tuple[Piece, ...]:
    """Return the pieces with a number after each tag that is written on a piece which is none of them."""
    taken = {piece.tag for piece in pieces} | written
    named: list[Piece] = []
    for piece in pieces:
        tag = piece.tag
        if tag in written and tag not in same:
            tag = next(new for n in range(2, len(taken) + 3) if (new := f"{piece.tag}.{n}") not in taken)
            taken.add(tag)
        named.append(replace(piece, tag=tag))
    return tuple(named)


def _serves(cut: Piece, piece: Piece) -> bool:
    """Tell whether a new drop's piece can be trimmed from a cut piece."""
    plain = len(cut.outline) == 4 and not cut.holes and not cut.slits
    xs, ys = [x for x, _ in cut.outline], [y for _, y in cut.outline]
    whole = ring_area(cut.outline) == (max(xs) - min(xs)) * (max(ys) - min(ys))
    return (
        piece.kind == "drop" and cut.product == piece.product and plain and whole
        and max(ys) - min(ys) >= max(y for _, y in piece.outline) - min(y for _, y in piece.outline)
        and cut.length >= piece.length and cut.width >= piece.width
    )


def _spare(piece: Piece, job: Job) -> Piece:
    """Return a cut piece that no place needs as a piece of the new plan: a pattern, no longer on the wall."""
    run = next((run for run in job.runs if run.name == piece.run), job.runs[0])
    face = piece.face if any(face.name == piece.face for face in run.faces) else run.faces[0].name
    upright = max(x for x, _ in piece.outline) - min(x for x, _ in piece.outline) == piece.width
    return replace(
        piece if upright else _turned(piece), kind=SPARE, layer=SPARE, run=run.name, face=face, flat=False,
        drop=piece.drop or piece.tag, install=0, turnable=False,
    )


def _turned(piece: Piece) -> Piece:
    """Return a strip that lies along the wall stood up: a quarter turn, so that its length goes down its pattern."""
    def point(at: Point) -> Point:
        return -at[1], at[0]

    def ring(points: Ring) -> Ring:
        return ring_of([point(at) for at in points])

    return replace(
        piece, outline=ring(piece.outline), holes=tuple(ring(hole) for hole in piece.holes),
        slits=tuple(Slit(point(slit.start), point(slit.end), slit.why) for slit in piece.slits),
        sleeves=tuple((tag, *point((x, y)), diameter) for tag, x, y, diameter in piece.sleeves),
    )


def unsuited(drop: str, done: str, why: Unsuited) -> NoLayout:
    """Return the refusal that a drop's unsuitedness leads to."""
    return NoLayout(f"{drop} is {done}, and does not suit the changed job: {why}")
