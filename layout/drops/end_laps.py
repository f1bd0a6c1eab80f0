"""The ways one drop can be hung in upper and lower pieces: where its end laps may lie.

An *end lap* is named by its level, the lower edge of the upper piece; the lower piece reaches ``end_lap`` above it. The
end laps of a column can lie as high as full pieces from its foot allow, or lower by up to its *slack*: what the fewest
pieces could cover beyond its height.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from layout.drops.prices import PriceTable
from layout.records import Rules, Wall

PieceBox = tuple[int, int]
"""Top and bottom of one piece or column [ticks]."""
MOST_WAYS = 48
"""Ways kept for one column."""
MOST_WAYS_OF_MANY = 6
"""Ways kept for each column of a drop that has several tall ones."""


@dataclass(frozen=True)
class LapKeep:
    """What end laps of a drop keep clear of: a sleeve, or the corners of an opening at one height [ticks]."""

    rule: str
    tag: str
    bottom: int
    top: int
    clear: int

    def shortfall(self, level: int, end_lap: int) -> int:
        """Return by how much an end lap lies too near."""
        return max(0, self.clear - self.gap(level, end_lap))

    def gap(self, level: int, end_lap: int) -> int:
        """Return the height between an end lap and the thing."""
        return max(self.bottom - level - end_lap, level - self.top, 0)


@dataclass(frozen=True)
class DropWay:
    """One way to hang a drop.

    Parameters
    ----------
    end_laps
        Lower edges of its upper pieces [ticks].
    boxes
        Its pieces, top to bottom.
    shortfall
        By how much its end laps lie too near to things, summed [ticks].
    price, pieces
        As in the goals.
    """

    end_laps: tuple[int, ...]
    boxes: tuple[PieceBox, ...]
    shortfall: int
    price: int
    pieces: int


def things_near(wall: Wall, left: int, right: int, rules: Rules) -> list[LapKeep]:
    """Return what the end laps of a drop from ``left`` to ``right`` keep clear of."""
    shifts = [shift * wall.length for shift in ((0, 1, -1) if wall.closed else (0,))]
    found: list[LapKeep] = []

    def near(x0: int, x1: int, clear: int) -> bool:
        return any(x0 + shift - right < clear and left - x1 - shift < clear for shift in shifts)

    for sleeve in wall.rounds:
        half = -(-sleeve.diameter // 2)
        if near(sleeve.x - half, sleeve.x + half, rules.clear_of_sleeve):
            found.append(
                LapKeep("end_lap_clear_of_sleeve", sleeve.tag, sleeve.y - half, sleeve.y + half,
                        rules.clear_of_sleeve),
            )
    for hole in wall.holes:
        if any(near(jamb, jamb, rules.clear_of_opening) for jamb in (hole.left, hole.right)):
            found += [
                LapKeep("end_lap_clear_of_opening", hole.tag, corner, corner, rules.clear_of_opening)
                for corner in (hole.bottom, hole.top)
            ]
    return [thing for thing in found if thing.clear]


def ways_to_hang(
    columns: Sequence[PieceBox], things: Sequence[LapKeep], table: PriceTable, *, stagger: int, beside: Iterable[int],
    extra: bool,
) -> list[DropWay]:
    """Return ways to hang a drop, the plainest first.

    Parameters
    ----------
    columns
        The columns it falls into, top to bottom.
    things
        What its end laps keep clear of.
    table
        Prices and limits.
    stagger
        Least difference in height of neighbours' end laps [ticks].
    beside
        Heights at which neighbours' end laps may lie; end laps a stagger above and below are among the ways.
    extra
        Also ways with one piece more than needed.
    """
    tall = sum(int(table.pieces[top - bottom] > 1) for top, bottom in columns)
    beside = sorted(set(beside))
    ways = [DropWay((), (), 0, 0, 0)]
    for top, bottom in columns:
        mine = _column_ways(top, bottom, things, table, stagger, beside, extra)
        if tall > 1:
            mine = mine[:MOST_WAYS_OF_MANY]
        ways = [_both(way, more) for way in ways for more in mine]
    return ways


def _both(upper: DropWay, lower: DropWay) -> DropWay:
    return DropWay(
        upper.end_laps + lower.end_laps, upper.boxes + lower.boxes, upper.shortfall + lower.shortfall,
        upper.price + lower.price, upper.pieces + lower.pieces,
    )


def plain_end_laps(top: int, bottom: int, table: PriceTable, *, stagger: int, raised: bool) -> list[int]:
    """Return the end laps of about equal pieces, raised or lowered by half a stagger as far as pieces allow.

    Examples
    --------
    >>> from layout.drops.prices import PriceTable
    >>> import numpy as np
    >>> table = PriceTable(np.arange(41), np.repeat([0, 1, 2], [1, 25, 15]), np.arange(26), longest=25, end_lap=2)
    >>> plain_end_laps(40, 0, table, stagger=6, raised=True), plain_end_laps(40, 0, table, stagger=6, raised=False)
    ([22], [16])
    """
    count = int(table.pieces[top - bottom])
    if count < 2:
        return []
    highest, slack = _highest(top, bottom, table, count)
    shift = -(stagger - stagger // 2) if raised else stagger // 2
    return [high - min(max(lower + shift, 0), slack) for high, lower in zip(highest, _equal(slack, count), strict=True)]


def _highest(top: int, bottom: int, table: PriceTable, count: int) -> tuple[list[int], int]:
    """Return the highest end laps of a column in so many pieces, lowest first, and its slack."""
    reach = table.longest - table.end_lap
    return [bottom + i * reach for i in range(1, count)], count * reach + table.end_lap - (top - bottom)


def _equal(slack: int, count: int) -> list[int]:
    """Return how far below the highest the end laps of equal pieces lie."""
    return [slack * i // count for i in range(1, count)]


def _column_ways(
    top: int, bottom: int, things: Sequence[LapKeep], table: PriceTable, stagger: int, beside: Sequence[int],
    extra: bool,
) -> list[DropWay]:
    count = int(table.pieces[top - bottom])
    if count < 2:
        return [_way((), top, bottom, (), table)]
    most = 2 * MOST_WAYS if extra else MOST_WAYS
    found: dict[tuple[int, ...], None] = {}
    """Joints in order of preference, without repeats."""
    for pieces in (count, count + 1) if extra else (count,):
        highest, slack = _highest(top, bottom, table, pieces)
        equal = _equal(slack, pieces)
        shifts = _shifts(highest, equal, slack, things, table, stagger, beside)
        for shift in dict.fromkeys(shifts):
            if len(found) >= most:
                break
            end_laps = tuple(high - min(max(down + shift, 0), slack) for high, down in zip(highest, equal, strict=True))
            found.setdefault(end_laps)
        if pieces == count:
            for end_laps in _cheapest(top, bottom, table, stagger):
                found.setdefault(end_laps)
    ways = [_way(end_laps, top, bottom, things, table)
            for end_laps in list(found)[:most]]
    return [way for way in ways if all(upper - lower > table.end_lap for upper, lower in way.boxes)]


def _shifts(
    highest: Sequence[int], equal: Sequence[int], slack: int, things: Sequence[LapKeep], table: PriceTable,
    stagger: int,
    beside: Sequence[int],
) -> list[int]:
    """Return shifts of equal pieces' end laps, downward, that are worth a look: plain ones, then just clear ones."""
    half = stagger // 2
    shifts = [half, half - stagger, 0, half + stagger, half - 2 * stagger, slack, -slack]
    for high, down in zip(highest, equal, strict=True):
        level = high - down
        for height in beside:
            shifts += [level - height - stagger, level - height + stagger]
        for thing in things:
            shifts += [
                level - thing.top - thing.clear, level - (thing.bottom - thing.clear - table.end_lap),
            ]
            for height in beside:
                shifts += [
                    level - thing.top - thing.clear + by for by in (stagger, -stagger)
                ] if abs(thing.top - height) < 2 * stagger else []
    return shifts


def _cheapest(top: int, bottom: int, table: PriceTable, stagger: int) -> list[tuple[int, ...]]:
    """Return end laps of least price: over all, and, of two pieces, of those a stagger above and below it."""
    height, lap = top - bottom, table.end_lap
    if table.pieces[height] > 2:
        sizes = np.arange(lap + 1, table.longest + 1)
        rest = height - sizes + lap
        sizes = sizes[table.pieces[rest] == table.pieces[height] - 1]
        size = int(sizes[np.argmin(table.piece_price[sizes] + table.price[height - sizes + lap])])
        return [
            (bottom + size - lap, *above) for above in _cheapest(top, bottom + size - lap, table, stagger)
        ]
    lowest = height + lap - table.longest
    sizes = np.arange(lowest, table.longest + 1)
    totals = table.piece_price[sizes] + table.piece_price[height + lap - sizes]
    best = int(np.argmin(totals))
    choices = [best]
    if best - stagger >= 0:
        choices.append(int(np.argmin(totals[:best - stagger + 1])))
    if best + stagger < len(totals):
        choices.append(best + stagger + int(np.argmin(totals[best + stagger:])))
    return [(bottom + lowest + choice - lap,) for choice in choices]


def _way(end_laps: tuple[int, ...], top: int, bottom: int, things: Sequence[LapKeep], table: PriceTable) -> DropWay:
    """Return the way with given end laps, lowest first."""
    boxes: list[PieceBox] = []
    foot = bottom
    for level in end_laps:
        boxes.append((level + table.end_lap, foot))
        foot = level
    boxes.append((top, foot))
    heights = [upper - lower for upper, lower in boxes]
    return DropWay(
        end_laps=end_laps, boxes=tuple(boxes[::-1]),
        shortfall=sum(thing.shortfall(level, table.end_lap) for level in end_laps for thing in things),
        price=int(sum(table.piece_price[height] for height in heights)), pieces=len(boxes),
    )
