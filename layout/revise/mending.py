"""Pieces that stay while the wall behind them changed a little: moved with their face, holed anew, patched."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from layout.records import Drop, Piece, Point, Ring, Rules, SleeveHole, Slit, Wall
from layout.shapes import must_cover, outline_polygon, polygons, rectangle, repeated, ring_of, round_polygon

PATCH = "patch"
"""Kind of a piece that closes a hole in a drop that hangs or is cut."""


class Unsuited(Exception):
    """A drop does not suit the changed wall; the message says why."""


def moved_piece(piece: Piece, move: int) -> Piece:
    """Return a piece moved along its run [ticks]; one that does not lie flat stays as it is."""
    if not move or not piece.flat:
        return piece

    def point(at: Point) -> Point:
        return at[0] + move, at[1]

    def ring(points: Ring) -> Ring:
        return tuple(point(at) for at in points)

    return replace(
        piece, outline=ring(piece.outline), holes=tuple(ring(hole) for hole in piece.holes),
        slits=tuple(Slit(point(slit.start), point(slit.end), slit.why) for slit in piece.slits),
        sleeves=tuple((tag, x + move, y, diameter) for tag, x, y, diameter in piece.sleeves),
    )


def mended(
    old: Wall, new: Wall, drop: Drop, pieces: Sequence[Piece], move: int, rules: Rules, *, hung: bool,
) -> tuple[tuple[Piece, ...], bool, tuple[Piece, ...], bool]:
    """Return a drop's pieces with holes for new sleeves, and patches over holes whose sleeve is gone.

    Parameters
    ----------
    old, new
        The run before and after the change.
    drop, pieces
        Where they hang on the changed run.
    move
        How far the drop has moved along its run [ticks].
    rules
        For the reach of a patch past its hole: ``collar_reach``, the side lap at least.
    hung
        Whether the drop hangs.

    Returns
    -------
    tuple
        Pieces, hung, patches, True: the fields of ``places.Stay`` after the drop.

    Raises
    ------
    Unsuited
        When a new sleeve would part a piece in two.
    """
    before = {(one.x + move, one.y, one.diameter) for one in repeated(old).rounds}
    stretch = repeated(new)
    after = {(one.x, one.y, one.diameter) for one in stretch.rounds}
    fresh = [one for one in stretch.rounds if (one.x, one.y, one.diameter) not in before and _meets(one, drop)]
    gone = sorted(one for one in before - after if _meets(SleeveHole("", *one), drop))
    pipes = {(one.x + move, one.y, one.diameter) for one in repeated(old).rounds if one.projects}
    if any(one.projects for one in fresh) or pipes & set(gone):
        raise Unsuited("a pipe that stands out moved, and the slit around it would be open")
    holed = tuple(_holed(piece, fresh) for piece in pieces)
    reach = max(rules.collar_reach, rules.side_lap)
    patches: list[Piece] = []
    for x, y, diameter in gone:
        half = math.ceil(diameter / 2) + reach
        share = must_cover(stretch, max(0, x - half), min(stretch.length, x + half))
        for shape in polygons(share.intersection(rectangle(x - half, y - half, x + half, y + half))):
            patches.append(_patch(shape, drop, pieces[0], len(patches) + 1, rules, [
                one for one in stretch.rounds if shape.boundary.intersects(round_polygon(one).exterior)]))
    return holed, hung, tuple(patches), True


def _meets(one: SleeveHole, drop: Drop) -> bool:
    return drop.left < one.x + one.diameter / 2 and one.x - one.diameter / 2 < drop.right


def _holed(piece: Piece, fresh: Sequence[SleeveHole]) -> Piece:
    """Return a piece with a hole for each new sleeve that it meets."""
    shape = outline_polygon(piece.outline, piece.holes)
    through = [one for one in fresh if shape.intersects(round_polygon(one))]
    if not through:
        return piece
    for one in through:
        shape = shape.difference(round_polygon(one))
    parts = polygons(shape)
    if len(parts) != 1:
        raise Unsuited("a new sleeve would part it in two")
    return replace(
        piece, outline=ring_of(parts[0].exterior.coords),
        holes=tuple(ring_of(ring.coords) for ring in parts[0].interiors),
        sleeves=(*piece.sleeves, *((one.tag, one.x, one.y, one.diameter) for one in through)))


def _patch(shape: object, drop: Drop, piece: Piece, number: int, rules: Rules, rounds: Sequence[SleeveHole]) -> Piece:
    """Return the patch that a shape is, cut from the least rectangle around it."""
    left, bottom, right, top = (round(edge) for edge in shape.bounds)  # type: ignore[attr-defined]
    step = rules.cut_to
    return Piece(
        tag=f"{drop.tag}-P{number}", kind=PATCH, layer=piece.layer, run=piece.run, face=piece.face,
        product=piece.product,
        length=-(-(top - bottom + rules.cut_allowance) // step) * step, width=right - left, flat=True,
        outline=ring_of(shape.exterior.coords),  # type: ignore[attr-defined]
        holes=tuple(ring_of(ring.coords) for ring in shape.interiors),  # type: ignore[attr-defined]
        sleeves=tuple((one.tag, one.x, one.y, one.diameter) for one in rounds), turnable=False,
    )


EXTENDED = ("base strip", "top strip")
"""Kinds of strip that lie along the wall and can be made longer by another that laps them."""


def kept_strips(
    strips: Sequence[Piece], cut: Sequence[Piece], *, old: dict[str, Wall], new: dict[str, Wall], lap: int,
) -> tuple[Piece, ...]:
    """Return the strips of a changed job with those that are cut already where they were, and others only beside them.

    Parameters
    ----------
    strips
        The strips that the changed job asks for, and all its other reinforcing, which stays as it is.
    cut
        What is cut of the job before.
    old, new
        The runs before and after the change, by name.
    lap
        How far a strip goes on to its neighbour [ticks].

    Notes
    -----
    A strip is told from the left end of its face. It is kept where strips of its kind lie at its height along the whole
    of it; what they leave bare gets extension strips, with an ``x`` after the tag of the strip they lengthen.
    """
    made = list(strips)
    taken = {piece.tag for piece in (*strips, *cut)}
    rows: dict[tuple[str, str, int, int], list[Piece]] = {}
    for piece in strips:
        if piece.kind in EXTENDED and piece.flat and _plain(piece):
            rows.setdefault(_row(piece), []).append(piece)
    kept: dict[tuple[str, str, int, int], list[Piece]] = {}
    for piece in cut:
        if piece.kind not in EXTENDED or not piece.flat or not _plain(piece) or piece.run not in new:
            continue
        before = next((span.left for span in old[piece.run].faces if span.name == piece.face), None)
        after = next((span.left for span in new[piece.run].faces if span.name == piece.face), None)
        if before is None or after is None:
            continue
        moved = moved_piece(piece, after - before)
        if _within(_span(moved), [_span(one) for one in rows.get(_row(moved), ())]):
            kept.setdefault(_row(moved), []).append(moved)
    for row, there in kept.items():
        if there == [piece for piece in rows[row]]:
            continue
        spans, tags = [_span(piece) for piece in there], {piece.tag for piece in there}
        laid = list(there)
        for piece in rows[row]:
            for left, right in _bare(_span(piece), spans):
                start = left - lap if left > _span(piece)[0] else left
                end = right + lap if right < _span(piece)[1] else right
                tag = piece.tag
                if (start, end) != _span(piece) or tag in tags:
                    names = (f"{tag}x", *(f"{tag}x{number}" for number in range(2, 10_000)))
                    tag = next(name for name in names if name not in taken)
                    taken.add(tag)
                laid.append(_lengthwise(piece, tag, start, end))
        place = made.index(rows[row][0])
        made = [piece for piece in made if piece not in rows[row]]
        made[place:place] = sorted(laid, key=_span)
    return tuple(made)


def _row(piece: Piece) -> tuple[str, str, int, int]:
    return piece.run, piece.kind, min(y for _, y in piece.outline), max(y for _, y in piece.outline)


def _span(piece: Piece) -> tuple[int, int]:
    return min(x for x, _ in piece.outline), max(x for x, _ in piece.outline)


def _plain(piece: Piece) -> bool:
    return (len(piece.outline) == 4 and not piece.holes and not piece.slits
            and len({x for x, _ in piece.outline}) == 2 and len({y for _, y in piece.outline}) == 2)


def _within(span: tuple[int, int], others: Sequence[tuple[int, int]]) -> bool:
    """Tell whether stretches cover one without a gap."""
    return bool(others) and not _bare(span, others)


def _bare(span: tuple[int, int], others: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return what other stretches leave of one."""
    found: list[tuple[int, int]] = []
    at = span[0]
    for left, right in sorted(others):
        if right <= at or left >= span[1]:
            continue
        if left > at:
            found.append((at, left))
        at = max(at, right)
    return [*found, (at, span[1])] if at < span[1] else found


def _lengthwise(piece: Piece, tag: str, left: int, right: int) -> Piece:
    """Return a plain lying strip from one station to another."""
    _, _, low, high = _row(piece)
    spare = piece.length - (_span(piece)[1] - _span(piece)[0])
    return replace(piece, tag=tag, length=right - left + spare,
                   outline=((left, high), (right, high), (right, low), (left, low)))
