"""The drops of one changed run: those that stay where they are, and new ones placed between them.

A drop that stays has a fixed range of stations, told from the left end of its face. Every stretch between two such
drops is placed exactly, from a lap onto the one to a lap onto the other. Then the whole run is judged and shingled.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from layout.drops.clear import broken_clearances, ripped_too_narrow
from layout.drops.columns import Columns, columns
from layout.drops.ends import between_ends
from layout.drops.joints import Box
from layout.drops.place import bands_of, price_table_for, sheet_for
from layout.drops.prices import PriceTable, length_price
from layout.drops.search import Search
from layout.drops.shingle import Band, closing_seam, install_order, water_sides
from layout.drops.tall import joints_of, split_drops
from layout.drops.worths import Sheet, Worths
from layout.errors import NoLayout
from layout.joint.hang import Hung
from layout.pieces import field_pieces
from layout.records import Broken, Drop, Job, Piece, Rules, Seam, Wall
from layout.revise.mending import Unsuited, mended, moved_piece
from layout.shapes import cover, polygons, repeated

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
    if joints_of(boxes_of(pieces)):
        raise Unsuited("it has end laps, and changed runs with end laps that are cut already are not replanned")
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
        ring for shape in polygons(cover(repeated(wall), left, right).normalize())
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


def boxes_of(pieces: Sequence[Piece]) -> tuple[Box, ...]:
    """Return the top and bottom of each piece of a drop [ticks]."""
    return tuple((max(y for _, y in piece.outline), min(y for _, y in piece.outline)) for piece in pieces)


def place_between(job: Job, wall: Wall, stays: Sequence[Stay], taken: Collection[str]) -> Placed:
    """Place new drops between those that stay, and hang the whole run.

    Parameters
    ----------
    job
        The changed job.
    wall
        The changed run.
    stays
        The drops that stay; one at least.
    taken
        Tags that are written on sheet already, or that other pieces have.

    Raises
    ------
    NoLayout
        When the stretches between cannot be covered, or new drops cannot be tagged in order.

    Notes
    -----
    Each stretch is placed for the least violation, then the least length, like a run with two ends. Its first and last
    drops lap the neighbours by the side lap; only a stretch narrower than the narrowest drop laps by more.
    """
    rules = job.rules
    sheet = sheet_for(wall, rules, width=job.sheet.width, side_lap=rules.side_lap)
    table = price_table_for(wall, rules, length_price, width=job.sheet.width)
    ordered = sorted(stays, key=lambda one: one.drop.left)
    new = [
        (left % wall.length, left % wall.length + right - left) if wall.closed else (left, right)
        for gap in _gaps(wall, ordered, sheet, job) for left, right in _fill(wall, *gap, table, sheet)
    ]
    edges = sorted([(one.drop.left, one.drop.right) for one in ordered] + new)
    if len({left for left, _ in edges}) < len(edges):
        raise NoLayout(f"run {wall.run}: a stretch between drops that are cut is too narrow for a drop of its own")
    kept = {(one.drop.left, one.drop.right): one for one in ordered}
    tags = _tags(wall.run, [kept[edge].drop.tag if edge in kept else "" for edge in edges], taken)
    return _hang(job, wall, edges, tags, kept, sheet, table)


def _gaps(wall: Wall, stays: Sequence[Stay], sheet: Sheet, job: Job) -> Iterator[Band]:
    """Yield the stretches that new drops must cover, laps included."""
    drops = [one.drop for one in stays]
    lap = sheet.side_lap
    if not wall.closed and drops[0].left > 0:
        right = max(drops[0].left + lap, sheet.narrowest)
        if right >= drops[0].right:
            raise NoLayout(f"run {wall.run}: no drop as wide as the rules ask fits left of {drops[0].tag}")
        yield 0, right
    followers = [*drops[1:], *([replace(
        drops[0], left=drops[0].left + wall.length, right=drops[0].right + wall.length,
    )] if wall.closed else [])]
    for before, after in zip(drops, followers, strict=False):
        overlap = before.right - after.left
        if overlap < lap:
            right = after.left + lap
            left = min(before.right - lap, right - sheet.narrowest)
            if left <= before.left:
                raise NoLayout(
                    f"run {wall.run}: no drop as wide as the rules ask fits between {before.tag} and {after.tag}")
            yield left, right
    if not wall.closed and drops[-1].right < wall.length:
        left = min(drops[-1].right - lap, wall.length - sheet.narrowest)
        if left <= drops[-1].left:
            raise NoLayout(f"run {wall.run}: no drop as wide as the rules ask fits right of {drops[-1].tag}")
        yield left, wall.length


def _fill(wall: Wall, left: int, right: int, table: PriceTable, sheet: Sheet) -> list[Band]:
    """Return the best drops of one stretch, the first flush at its left end, the last at its right."""
    length = right - left
    if length <= sheet.narrowest:
        return [(left, right)]
    drops = between_ends(Search(Worths(columns(wall, origin=left, extent=length), table, sheet)), length)
    if drops is None:
        raise NoLayout(f"run {wall.run}: no row of drops of the allowed widths fits between those that stay")
    return [(left + a, left + b) for a, b in drops]


def _tags(run: str, fixed: Sequence[str], taken: Collection[str]) -> list[str]:
    """Return a tag for every drop, rising from left to right; "" in ``fixed`` asks for a new one.

    Raises
    ------
    NoLayout
        When there are not so many tags between two that stay, or those that stay hang in another order.
    """
    staying = [tag for tag in fixed if tag]
    if staying != sorted(staying, key=_order):
        raise NoLayout(f"run {run}: drops that are cut would hang in another order: {', '.join(staying)}")
    tags: list[str] = []
    used = {tag for tag in taken} | set(fixed)
    at = 0
    while at < len(fixed):
        if fixed[at]:
            tags.append(fixed[at])
            at += 1
            continue
        end = next((i for i in range(at, len(fixed)) if fixed[i]), len(fixed))
        low, high = (tags[-1] if tags else ""), (fixed[end] if end < len(fixed) else "")
        tags += _between(run, low, high, end - at, used)
        at = end
    return tags


def _between(run: str, low: str, high: str, count: int, used: Collection[str]) -> list[str]:
    """Return so many tags after ``low`` and before ``high``: numbers where there are any, else A-07.1 after A-07."""
    def fits(tag: str) -> bool:
        return tag not in used and _order(tag) > _order(low) and (not high or _order(tag) < _order(high))

    found = [tag for tag in _numbers_after(run, low, count, used) if fits(tag)][:count]
    base = low or f"{run}-00"
    dotted = (f"{base}{zeros}.{number}" for zeros in ("", ".0", ".0.0") for number in range(1, count + len(used) + 1))
    fitting = [tag for tag in dotted if fits(tag)][:count - len(found)]
    if len(found) + len(fitting) < count:
        raise NoLayout(f"run {run}: {count} new drops before {high} cannot be tagged in order from left to right")
    return sorted((*fitting, *found), key=_order)


def _numbers_after(run: str, low: str, count: int, used: Collection[str]) -> Iterator[str]:
    """Yield numbered tags past the last one."""
    last = max((int(figures) for figures in re.findall(r"[0-9]+", low[len(run) + 1:])[:1]), default=0)
    for number in range(last + 1, last + count + len(used) + 1):
        yield f"{run}-{number:02d}"


def _order(tag: str) -> list[tuple[int, str]]:
    """Return what tags rise by: their figures as numbers, so that A-07 < A-07.1 < A-08 < A-100."""
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"([0-9]+)", tag)]


def _hang(
    job: Job, wall: Wall, edges: Sequence[Band], tags: Sequence[str], kept: dict[Band, Stay], sheet: Sheet,
    table: PriceTable,
) -> Placed:
    """Shingle the run, cut its new drops into pieces, and say what it breaks."""
    rules = job.rules
    stretch = columns(wall, extent=wall.length + 3 * sheet.width if wall.closed else None)
    bands = bands_of(edges, wall)
    sides = water_sides(wall, bands)
    tuck = None
    if wall.closed:
        bottoms = [int(stretch.class_bottom[stretch.kind[left]]) for left, _ in bands]
        tuck = closing_seam(sides, bands, bottoms, [int(stretch.seam[left]) for left, _ in bands])
    turn = {drop: i + 1 for i, drop in enumerate(install_order(len(edges), sides, closed=wall.closed, tuck=tuck))}
    seams = tuple(
        Seam(wall.run, wall.layer, left, right, tags[i], tags[(i + 1) % len(tags)],
             over=tags[i] if side == "right" else tags[(i + 1) % len(tags)], tuck=i == tuck)
        for i, ((left, right), side) in enumerate(zip(bands, sides, strict=True))
    )
    splits = split_drops(wall, edges, [_columns_of(stretch, edge, kept) for edge in edges], rules, table,
                         unit=job.unit)
    drops: list[Drop] = []
    pieces: list[Piece] = []
    for i, (edge, tag) in enumerate(zip(edges, tags, strict=True)):
        if edge in kept:
            drops.append(replace(kept[edge].drop, install=turn[i]))
            pieces += [replace(piece, install=turn[i]) for piece in (*kept[edge].pieces, *kept[edge].patches)]
            continue
        drop = Drop(tag, wall.run, wall.layer, *edge, turn[i])
        made = field_pieces(wall, [drop], {tag: splits.boxes[i]}, rules, product=wall.layer)
        drops += made[0]
        pieces += made[1]
    broken = (
        *broken_clearances(wall, stretch, bands, sheet, unit=job.unit),
        *ripped_too_narrow(wall, edges, min_width=min(rules.min_width, sheet.width), unit=job.unit), *splits.broken,
    )
    return Placed(
        Hung((wall,), tuple(drops), seams, tuple(pieces), tuple(_reworded(one) for one in broken)),
        violation=sum(stretch.violation(left, right) for left, right in bands) + splits.shortfall,
    )


def _columns_of(stretch: Columns, edge: Band, kept: dict[Band, Stay]) -> list[Box]:
    """Return the columns a drop falls into; of one that stays, its pieces."""
    return list(boxes_of(kept[edge].pieces)) if edge in kept else stretch.boxes(*edge)


def _reworded(broken: Broken) -> Broken:
    """Say of a seam no more than is known where drops stay: other places were not all looked at."""
    if not broken.rule.startswith("clear_of"):
        return broken
    return replace(broken, why=broken.why.split(";")[0] + "; it is planned around drops that are cut already",
                   cure=broken.cure.split(";")[0])


def tags_of(pieces: Sequence[Piece]) -> set[str]:
    """Return the tags that pieces, and the drops they belong to, have."""
    return set(chain.from_iterable((piece.tag, piece.drop) for piece in pieces)) - {""}


def retagged(hung: Hung, run: str, taken: Collection[str]) -> Hung:
    """Return a run placed anew with other tags where one of its own is written on sheet already."""
    if not (tags_of(hung.pieces) | {drop.tag for drop in hung.drops}) & set(taken):
        return hung
    tags = dict(zip((drop.tag for drop in hung.drops), _tags(run, [""] * len(hung.drops), taken), strict=True))

    def named(tag: str, drop: str) -> str:
        return tags[drop] + tag[len(drop):]

    return replace(
        hung,
        drops=tuple(replace(drop, tag=tags[drop.tag], pieces=tuple(named(tag, drop.tag) for tag in drop.pieces))
                    for drop in hung.drops),
        seams=tuple(replace(seam, left=tags[seam.left], right=tags[seam.right], over=tags[seam.over])
                    for seam in hung.seams),
        pieces=tuple(replace(piece, tag=named(piece.tag, piece.drop), drop=tags[piece.drop]) for piece in hung.pieces),
    )
