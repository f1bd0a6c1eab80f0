"""Tall drops split where a roll ends: what is left of one roll and a piece of another make one drop.

However a tall drop is split in two, its pieces are together as long. So tall drops can be cut from rolls as from a
tape: one after the other, and where a roll ends within a drop, that drop is split there. Neighbours' end laps lie far
enough apart when they lie off the middle by half a stagger, one up and one down.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from random import Random
from typing import NamedTuple

from layout.drops import Layout
from layout.drops.joints import Box, things_near
from layout.drops.tall import joints_of, too_near
from layout.joint.hang import Hung
from layout.pieces.field import cut_length
from layout.records import Cutting, Rules, Wall
from layout.rolls import Stock
from layout.rolls.cutting import Packed, Sizes

TRIES = 24
"""Ways to spread the other blocks over some rolls."""


class Packing(NamedTuple):
    """Layouts, and rolls that all of their pieces are cut from."""

    layouts: tuple[Layout, ...]
    rolls: tuple[Packed, ...]


@dataclass(frozen=True)
class Tall:
    """Tall drops whose pieces are together as long.

    Parameters
    ----------
    tags, widths
        Of the drops [ticks].
    total
        Cut lengths of the two pieces of one [ticks].
    lengths
        Cut lengths that one of them may have, shortest first: what the other then has is one too.
    """

    tags: tuple[str, ...]
    widths: tuple[int, ...]
    total: int
    lengths: tuple[int, ...]

    def parts(self, rest: int) -> tuple[int, ...]:
        """Return pieces of one drop, or of two, that take as much of a rest of a roll as they can."""
        ways = [(one,) for one in self.lengths if one <= rest]
        ways = ways[-1:]
        allowed = set(self.lengths)
        for both in range(min(rest, 2 * self.lengths[-1]), max(rest // 2, 2 * self.lengths[0]) - 1, -1):
            two = next(((both - one, one) for one in reversed(self.lengths) if both - one in allowed), None)
            if two:
                return max([*ways, two], key=sum)
        return ways[0] if ways else ()


def split_at_roll_ends(
    walls: Sequence[Wall], layouts: Sequence[Layout], hung: Hung, cutting: Cutting, rules: Rules, *,
    stocks: Sequence[Stock], rolls: Sequence[int], width: int, tries: Iterator[int],
) -> Iterator[Packing]:
    """Give ways to split the tall drops of some layouts so that all is cut from other rolls than now.

    Parameters
    ----------
    walls, layouts, hung, cutting
        The runs, their layouts with the pieces they hang in, and how these are cut now.
    rules
        For the end laps.
    stocks, rolls
        Which rolls there are, and how many of each may be used.
    width
        Of the narrowest drop that counts as whole [ticks].
    tries
        Numbers, one taken for each try; when there are no more, nothing more is given.
    """
    tall = _tall_drops(walls, layouts, rules, width)
    if not tall:
        return
    free = {tag for each in tall for tag in each.tags}
    others = _other_blocks(cutting, {piece.tag for piece in hung.pieces if piece.drop in free})
    each = sorted((stocks[k].length, k) for k, count in enumerate(rolls) for _ in range(count))
    asked = sum(_long(block) for block in others)
    asked += sum(len(one.tags) * one.total for one in tall)
    if asked > sum(length for length, _ in each):
        return
    for seed in islice(tries, TRIES):
        filled = _filled(each, others, Random(seed), least=tall[0].lengths[0])
        if filled is None:
            continue
        tape = _tape([
            length - sum(_long(block) for block in blocks) for (length, _), blocks in zip(each, filled, strict=True)
        ], tall)
        if tape is None:
            continue
        split = _split(walls, layouts, rules, tall, tape.splits)
        if split is not None:
            yield Packing(split, tuple(
                (k, (*blocks, *(((*size, False),) for size in pieces)))
                for (_, k), blocks, pieces in zip(each, filled, tape.pieces, strict=True) if blocks or pieces
            ))


def _long(block: Sizes) -> int:
    return max(length for length, _, _ in block)


def _tall_drops(walls: Sequence[Wall], layouts: Sequence[Layout], rules: Rules, width: int) -> list[Tall]:
    """Return the whole drops in two pieces whose end lap is kept clear of nothing."""
    found: dict[int, list[tuple[str, int]]] = {}
    for wall, layout in zip(walls, layouts, strict=True):
        for drop in layout.drops:
            boxes = layout.splits[drop.tag]
            if len(boxes) == 2 and joints_of(boxes) and drop.right - drop.left >= width \
                    and not things_near(wall, drop.left, drop.right, rules):
                found.setdefault(boxes[0][0] - boxes[1][1], []).append((drop.tag, drop.right - drop.left))
    tall = []
    for height, drops in sorted(found.items(), reverse=True):
        heights = height + rules.end_lap
        lengths = {
            cut_length(one, rules) for one in range(rules.end_lap + 1, heights - rules.end_lap)
            if abs(2 * one - heights) >= rules.end_lap_stagger
            and max(cut_length(one, rules), cut_length(heights - one, rules)) <= rules.max_piece
            and one + rules.cut_allowance == cut_length(one, rules)
        }
        total = min((one + cut_length(heights - one + rules.cut_allowance, rules) for one in lengths), default=0)
        lengths &= {total - one for one in lengths}
        if lengths:
            tags, widths = zip(*drops, strict=True)
            tall.append(Tall(tags, widths, total, tuple(sorted(lengths))))
    return tall


def _other_blocks(cutting: Cutting, free: set[str]) -> list[Sizes]:
    """Return the blocks of a cutting, by the sizes in each, without those of free pieces alone; longest first."""
    found: list[Sizes] = []
    for roll in cutting.rolls:
        by_place: dict[int, list[tuple[int, int, bool]]] = {}
        for cut in roll.cuts:
            if cut.piece not in free:
                by_place.setdefault(cut.at, []).append((cut.length, cut.width, cut.turned))
        found += [tuple(sorted(sizes)) for sizes in by_place.values()]
    return sorted(found, key=lambda block: (-_long(block), block))


def _filled(
    rolls: Sequence[tuple[int, int]], blocks: Sequence[Sizes], rng: Random, *, least: int,
) -> list[list[Sizes]] | None:
    """Spread blocks over rolls so that each is nearly full or has room for a piece; None when they do not fit."""
    left = list(blocks)
    filled: list[list[Sizes]] = [[] for _ in rolls]
    for number in sorted(range(len(rolls)), key=lambda number: (-rolls[number][0], number)):
        room = rolls[number][0]
        sums = [1]
        for block in left:
            sums.append(sums[-1] | sums[-1] << _long(block))
        reach = [total for total in range(room, -1, -1) if sums[-1] >> total & 1]
        tight = [total for total in reach if room - total <= least // 50]
        roomy = [total for total in reach if room - total >= least]
        choices = tight[:1] or roomy[:1 + rng.randrange(4)][-1:] or reach[:1]
        total = choices[0]
        for at in range(len(left) - 1, -1, -1):
            if not sums[at] >> total & 1:
                filled[number].append(left[at])
                total -= _long(left[at])
                del left[at]
        if not left:
            break
    return filled if not left else None


class Tape(NamedTuple):
    """The pieces (length, width) cut from each roll, and for each kind of tall drop the length of one piece of each."""

    pieces: list[list[tuple[int, int]]]
    splits: list[list[int]]


def _tape(rooms: Sequence[int], tall: Sequence[Tall]) -> Tape | None:
    """Cut tall drops from what is left of rolls, one after the other; None when they do not fit."""
    pieces: list[list[tuple[int, int]]] = [[] for _ in rooms]
    splits: list[list[int]] = [[] for _ in tall]
    waiting: list[tuple[int, int]] = []
    for number in sorted(range(len(rooms)), key=lambda number: (rooms[number], number)):
        room, here = rooms[number], pieces[number]
        for piece in sorted(waiting, reverse=True):
            if piece[0] <= room:
                here.append(piece)
                waiting.remove(piece)
                room -= piece[0]
        for kind, done in zip(tall, splits, strict=True):
            left = len(kind.tags) - len(done)
            whole = min(left, room // kind.total)
            parts: tuple[int, ...] = ()
            if whole < left:
                ways = [
                    (count, kind.parts(room - count * kind.total)) for count in (whole, whole - 1) if count >= 0
                ]
                ways = [(count, parts) for count, parts in ways if count + len(parts) <= left]
                whole, parts = max(ways, key=lambda way: way[0] * kind.total + sum(way[1]), default=(whole, ()))
            middle = min(one for one in kind.lengths if 2 * one >= kind.total)
            for one in [middle] * whole:
                here += [(length, kind.widths[len(done)]) for length in (one, kind.total - one)]
                done.append(one)
            for one in parts:
                here.append((one, kind.widths[len(done)]))
                waiting.append((kind.total - one, kind.widths[len(done)]))
                done.append(one)
            room -= whole * kind.total + sum(parts)
    all_done = all(len(done) == len(kind.tags) for kind, done in zip(tall, splits, strict=True))
    return Tape(pieces, splits) if all_done and not waiting else None


def _split(
    walls: Sequence[Wall], layouts: Sequence[Layout], rules: Rules, tall: Sequence[Tall],
    splits: Sequence[Sequence[int]],
) -> tuple[Layout, ...] | None:
    """Return the layouts with their tall drops split so, end laps a stagger apart; None where none are."""
    lengths = {
        tag: length for kind, done in zip(tall, splits, strict=True)
        for tag, length in zip(kind.tags, done, strict=True)
    }
    found = []
    for wall, layout in zip(walls, layouts, strict=True):
        boxes = _staggered(wall, layout, rules, lengths)
        if boxes is None:
            return None
        found.append(replace(layout, splits=boxes))
    return tuple(found)


def _staggered(
    wall: Wall, layout: Layout, rules: Rules, lengths: Mapping[str, int],
) -> Mapping[str, tuple[Box, ...]] | None:
    """Return the pieces of each drop of a run, the shorter of two above or below; None where end laps lie too near."""
    ways: list[list[tuple[Box, ...]]] = []
    for drop in layout.drops:
        boxes = layout.splits[drop.tag]
        if drop.tag in lengths:
            top, bottom = boxes[0][0], boxes[-1][1]
            one = lengths[drop.tag] - rules.cut_allowance
            ways.append([
                ((top, bottom + lower - rules.end_lap), (bottom + lower, bottom))
                for lower in (one, top - bottom + rules.end_lap - one)
            ])
        else:
            ways.append([boxes])
    for first in ways[0]:
        chosen = _row([[first], *ways[1:]], rules, closed=wall.closed)
        if chosen is not None:
            return dict(zip((drop.tag for drop in layout.drops), chosen, strict=True))
    return None


def _row(
    ways: Sequence[Sequence[tuple[Box, ...]]], rules: Rules, *, closed: bool,
) -> list[tuple[Box, ...]] | None:
    """Return one way for each drop of a row so that neighbours' end laps lie a stagger apart; None where none do."""
    def apart(one: tuple[Box, ...], other: tuple[Box, ...]) -> bool:
        return not too_near(joints_of(one), joints_of(other), rules.end_lap_stagger)

    before: list[dict[tuple[Box, ...], tuple[Box, ...]]] = []
    reached = list(ways[0])
    for choices in ways[1:]:
        came = {way: one for way in choices for one in reached if apart(one, way)}
        before.append(came)
        reached = list(came)
    if closed and len(ways) > 1:
        reached = [way for way in reached if apart(way, ways[0][0])]
    if not reached:
        return None
    row = [reached[0]]
    for came in reversed(before):
        row.append(came[row[-1]])
    return row[::-1]
