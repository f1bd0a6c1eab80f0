"""Which pieces of a new plan are cut already, and which cut pieces no place needs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from layout.errors import NoLayout
from layout.records import FaceSpan, Job, Piece, Point, Ring, Slit, Wall
from layout.revise.earlier import SPARE, SPOILT, WASTE
from layout.revise.happened import plain_sheet
from layout.revise.mending import Unsuited, moved_piece
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
    new: Mapping[str, Wall], turned: frozenset[str] = frozenset(), mended: frozenset[str] = frozenset(),
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
    turned
        Tags of cut pieces whose length lies across their roll.
    mended
        Tags of pieces that are the same but for a hole that is still to be cut into them.

    Raises
    ------
    NoLayout
        When a drop that is hung has no place in the new plan.

    Notes
    -----
    A piece is the same when its tag, product and shape are. What is left over and is a plain rectangle goes, the
    longest need first, to whatever new piece it is large enough for: at the end none is left that any uncut piece fits
    in. A strip, a collar or a cover that hangs where none is needed any more stays there, as a spare.
    """
    waste = [piece for piece in cut if piece.kind in WASTE]
    cut = [piece for piece in cut if piece.kind not in WASTE]
    by_tag = {piece.tag: piece for piece in cut if piece.kind != SPARE}
    same = {piece.tag for piece in pieces if piece.tag in by_tag and (
        piece.tag in mended or _same(by_tag[piece.tag], piece))}
    lost = [tag for tag in sorted(hung & set(by_tag)) if tag not in same or _moved(
        by_tag[tag], next(piece for piece in pieces if piece.tag == tag), old, new,
    )]
    drops = [tag for tag in lost if by_tag[tag].drop]
    if drops:
        raise NoLayout(
            f"{', '.join(drops)} {'is' if len(drops) == 1 else 'are'} hung, and the changed job has no such piece "
            "there. What would make it possible: take it down and tell it spoilt with --spoilt")
    same -= set(lost)
    free = [piece for piece in cut if piece.kind == SPARE or piece.tag not in same]
    named = _named_apart(pieces, same, {piece.tag for piece in free})
    made_of = {tag: tag for tag in same}
    trimmed: list[str] = []
    for piece in sorted(named, key=lambda piece: (-piece.length, -piece.width, piece.tag)):
        if piece.tag in same:
            continue
        found = [other for other in free if other.tag not in hung and _serves(other, piece, other.tag in turned)]
        if found:
            best = min(found, key=lambda other: (other.length, other.width, other.tag))
            free.remove(best)
            made_of[piece.tag] = best.tag
            trimmed.append(piece.tag)
    spares = tuple(_spare(piece, job, piece.tag in turned) for piece in (*free, *waste))
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
    before = [_told_from(cut, span) for span in old[cut.run].faces if span.name == cut.face]
    after = [_told_from(piece, span) for span in new[piece.run].faces if span.name == piece.face]
    return cut.face != piece.face or before[0] - _left(cut) != after[0] - _left(piece)


def _told_from(piece: Piece, span: FaceSpan) -> int:
    """Return where a piece is told from: what is at a corner from there, any other from its face's left end."""
    return span.right if piece.kind.startswith("corner") else span.left


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


def _serves(cut: Piece, piece: Piece, turned: bool) -> bool:
    """Tell whether a new piece can be trimmed from a cut piece, turned where it may be."""
    if cut.product != piece.product or not is_uncut(cut):
        return False
    long, wide = (cut.width, cut.length) if turned else (cut.length, cut.width)
    return (piece.length <= long and piece.width <= wide) or (
        piece.turnable and piece.width <= long and piece.length <= wide)


def is_uncut(piece: Piece) -> bool:
    """Tell whether a piece is its whole rectangle, with nothing cut into it."""
    xs, ys = [x for x, _ in piece.outline], [y for _, y in piece.outline]
    whole = ring_area(piece.outline) == (max(xs) - min(xs)) * (max(ys) - min(ys))
    return whole and len(piece.outline) == 4 and not piece.holes and not piece.slits


def _spare(piece: Piece, job: Job, turned: bool) -> Piece:
    """Return a cut piece that no place needs as a piece of the new plan: a pattern, no longer on the wall.

    One that lay across its roll is told as the roll sees it: a rectangle, or waste when something is cut into it.
    """
    run = next((run for run in job.runs if run.name == piece.run), job.runs[0])
    face = piece.face if any(face.name == piece.face for face in run.faces) else run.faces[0].name
    kind = piece.kind if piece.kind in WASTE else SPARE
    if turned:
        flat = plain_sheet(piece.tag, kind if is_uncut(piece) else SPOILT, run.name, face, piece.product, piece.width,
                           piece.length, job.rules)
        return replace(flat, drop=piece.drop or piece.tag)
    upright = max(x for x, _ in piece.outline) - min(x for x, _ in piece.outline) == piece.width
    return replace(
        piece if upright else _turned(piece), kind=kind, layer=SPARE, run=run.name, face=face, flat=False,
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
    """Return the error for a drop that is cut or hung and does not fit the changed wall."""
    return NoLayout(f"{drop} is {done}, and does not suit the changed job: {why}")
