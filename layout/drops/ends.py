"""From the search to whole layouts: a run with two ends, a closed one, whose starting point is free, or one around
drops that are fixed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from layout.drops.columns import StretchCells, columns
from layout.drops.costs import NEVER, CostArray
from layout.drops.prices import PriceTable
from layout.drops.search import ODD, StretchSearch
from layout.drops.shingle import Band
from layout.drops.worths import Sheet, Worths
from layout.errors import NoLayout
from layout.records import Wall

FLUSH = np.zeros((1, 1), dtype=complex)
"""Starts of a row of drops whose first is flush with the end of the run."""
ROWS_AT_ONCE = 64
"""Intervals searched side by side; only memory and speed depend on it."""
MOST_POSITIONS = 100_000_000
"""Positions searched over all starting points of a closed run before the best so far is taken, unproven."""
PARTS = 8
"""How many parts an interval of starting points is split into."""


@dataclass(frozen=True, eq=False)
class Chain:
    """The drops of one run before they are hung.

    Parameters
    ----------
    stretch
        The wall as the search saw it; positions below are its.
    edges
        (left, right) of each drop, left to right.
    proven
        No other chain on the tick grid is better.
    less
        By how much violation and price may be less than this chain's: not more than 0.
    """

    stretch: StretchCells
    edges: tuple[Band, ...]
    proven: bool
    less: tuple[int, int] = (0, 0)


def open_chain(wall: Wall, table: PriceTable, sheet: Sheet) -> Chain:
    """Place the drops of a run with two ends: the first drop starts flush at one, the last ends flush at the other.

    Raises
    ------
    NoLayout
        When no row of drops fits between the ends.
    """
    stretch = columns(wall)
    length = wall.length
    if length <= sheet.narrowest:
        return Chain(stretch, ((0, length),), proven=True)
    search = StretchSearch(Worths(stretch, table, sheet))
    drops = _to_the_end(search, FLUSH, length)
    if drops is None:
        raise NoLayout(f"run {wall.run}: no row of drops of the allowed widths fits between its ends")
    return Chain(stretch, tuple(drops), search.sound)


def _to_the_end(search: StretchSearch, starts: CostArray, length: int) -> list[Band] | None:
    """Return the best drops from one of some starts to an end, where the last is flush; None when none fit."""
    sheet = search.sheet
    last = length - sheet.narrowest
    if last < 0:
        return None
    costs = search.sweep(starts, last)[0]
    firsts = np.arange(max(length - sheet.width, 0), last + 1)
    totals = costs[firsts] + search.worths.costs(firsts, np.full(len(firsts), length))
    choice = int(np.flatnonzero(totals == totals.min())[-1])  # rather rip the last drop than crowd it
    if not np.isfinite(totals[choice].real):
        return None
    return search.walk_back(costs, starts[0], int(firsts[choice]), length)


def fixed_chain(wall: Wall, table: PriceTable, sheet: Sheet, fixed: Sequence[Band]) -> Chain:
    """Place drops around some that are fixed; each stretch between two neighbours of these is searched for itself.

    Parameters
    ----------
    wall, table, sheet
        As for the other chains.
    fixed
        The edges of the fixed drops, left to right; no wider than the sheet [ticks].

    Raises
    ------
    NoLayout
        When no row of drops fits into a stretch between.
    """
    edges, sound = list(fixed), True
    for before, after in _gaps(wall, fixed, sheet):
        origin = before[0] if before else 0
        end = after[0] if after else wall.length
        extent = end + sheet.width - origin
        stretch = columns(wall, origin=origin, extent=extent if wall.closed else min(extent, wall.length - origin))
        search = StretchSearch(Worths(stretch, table, sheet))
        starts = _starts_after(search, before[1] - origin, end - origin) if before else FLUSH
        drops = (_to_a_drop if after else _to_the_end)(search, starts, end - origin)
        if drops is None:
            raise NoLayout(f"run {wall.run}: no row of drops of the allowed widths fits between those that stay")
        edges += [(origin + left, origin + right) for left, right in drops]
        sound = sound and search.sound
    if wall.closed:
        edges = [(left % wall.length, left % wall.length + right - left) for left, right in edges]
    around = columns(wall, extent=wall.length + 3 * sheet.width if wall.closed else None)
    return Chain(around, tuple(sorted(edges)), sound)


def _gaps(wall: Wall, fixed: Sequence[Band], sheet: Sheet) -> Iterator[tuple[Band | None, Band | None]]:
    """Yield the fixed drops left and right of each stretch that other drops must cover; None for an end of the run."""
    if not wall.closed and fixed[0][0] > 0:
        yield None, fixed[0]
    around = [(fixed[0][0] + wall.length, fixed[0][1] + wall.length)] if wall.closed else []
    for before, after in zip(fixed, [*fixed[1:], *around], strict=False):
        if before[1] - after[0] < sheet.side_lap:
            yield before, after
    if not wall.closed and fixed[-1][1] < wall.length:
        yield fixed[-1], None


def _starts_after(search: StretchSearch, width: int, end: int) -> CostArray:
    """Return the costs of the seam of a fixed drop from position 0 with a drop from each position before ``end``."""
    stretch, scale = search.stretch, search.scale
    lefts = np.arange(1, min(width - search.sheet.side_lap, end - 1) + 1)
    starts = np.full((1, len(lefts) + 1), NEVER)
    starts[0, 1:] = scale.violation * (stretch.reached[width] - stretch.passed[lefts]) + 1j * (
        scale.seam * stretch.seam[lefts] + scale.drop) + np.where(lefts == search.sheet.step, 0, ODD)
    return starts


def _to_a_drop(search: StretchSearch, starts: CostArray, end: int) -> list[Band] | None:
    """Return the best drops from one of some starts to a fixed drop with its left edge at ``end``; None when none fit.
    """
    sheet, extent = search.sheet, search.stretch.extent
    last = min(end - 1, extent - sheet.narrowest)
    if last < 0 or end + sheet.side_lap > extent:
        return None
    costs = search.sweep(starts, last)[0]
    try:
        return search.walk_back(costs, starts[0], *search.before(costs, end))
    except NoLayout:
        return None


def closed_chain(wall: Wall, table: PriceTable, sheet: Sheet, *, rough: int = 0) -> Chain:
    """Place the drops of a closed run, over all starting points.

    Some drop of every layout starts within the first ``step`` of the run. For an interval of starting points the search
    may begin anywhere in it and end anywhere in it, one round later: a bound for all of them at once. Intervals that
    cannot beat the best layout known are dropped, the others split, down to single starting points. When ``rough``
    is not 0, they are split so many times only: the layout is a good one, and ``less`` says how much better the best
    may be.

    Raises
    ------
    NoLayout
        When no row of drops goes round.
    """
    around = _Round(wall, table, sheet, rough=rough)
    around.settle()
    return around.chain()


class _Round:
    def __init__(self, wall: Wall, table: PriceTable, sheet: Sheet, *, rough: int) -> None:
        self.wall = wall
        self.rough = rough
        self.length = wall.length
        self.sheet = sheet
        self.first_starts = min(sheet.step, wall.length)
        self.stretch = self._from(0)
        if len(self.stretch.class_left) == 1 and not wall.keeps:
            self.first_starts = 1  # all round the wall is the same
        elif wall.keeps:
            self.stretch = self._from(self._origin())
        self.search = StretchSearch(Worths(self.stretch, table, sheet))
        self.best = NEVER
        self.start = -1
        self.swept: CostArray | None = None
        """Costs of the left edges from the best starting point on; None where they were not kept."""
        self.open: list[complex] = []
        self.proven = True

    def _from(self, origin: int) -> StretchCells:
        return columns(self.wall, origin=origin, extent=self.length + self.first_starts + 2 * self.sheet.width)

    def _origin(self) -> int:
        """Return the station from which the fewest of the first starting points are clear of things."""
        lap, count = self.sheet.side_lap, self.length + self.first_starts
        clear = self.stretch.reached[lap:count + lap] == self.stretch.passed[:count]
        before = np.concatenate(([0], np.cumsum(clear)))
        return int(np.argmin(before[self.first_starts:self.first_starts + self.length] - before[:self.length]))

    def settle(self) -> None:
        """Find the best starting point."""
        intervals = [(0, self.first_starts)]
        levels = self.rough or self.first_starts
        while intervals and levels:
            levels -= 1
            kept = []
            for interval, bound in zip(intervals, self._bounds(intervals), strict=True):
                if interval[1] - interval[0] > 1 and self._may_beat(bound):
                    kept.append((interval, bound))
            self.open = [bound for _, bound in kept]
            intervals = [part for interval, _ in kept for part in _parts(*interval)]

    def _may_beat(self, bound: complex) -> bool:
        """Tell whether an interval of starting points may hold a better one than the best known."""
        if self.rough:
            return bool(bound.real // self.search.scale.price < self.best.real // self.search.scale.price)
        return _less(self._tightened(bound), self.best)

    def _bounds(self, intervals: list[tuple[int, int]]) -> list[complex]:
        """Return the least cost of each interval of starting points; try out the starting points it suggests."""
        bounds: list[complex] = []
        for i in range(0, len(intervals), ROWS_AT_ONCE):
            batch = intervals[i:i + ROWS_AT_ONCE]
            if self.search.searched > MOST_POSITIONS:
                self.proven = False
                bounds += [NEVER] * len(batch)
                continue
            swept = self._sweep(batch) if len(batch) == 1 else None
            costs = self._last_costs(batch) if swept is None else swept[:, self.length:]
            values = [complex(row[left:right].min()) for row, (left, right) in zip(costs, batch, strict=True)]
            bounds += values
            single = [row for row, (left, right) in enumerate(batch) if right - left == 1]
            for row in single:
                self._offer(batch[row][0], values[row])
            row = min(range(len(batch)), key=lambda r: (values[r].real, values[r].imag))
            if not single and _less(values[row], self.best):
                left, right = batch[row]
                end = left + int(costs[row, left:right].argmin())
                self._try_out(batch[row], end, self._sweep([batch[row]])[0] if swept is None else swept[0])
        return bounds

    def _try_out(self, interval: tuple[int, int], end: int, swept: CostArray) -> None:
        """Search from the starting points where a layout of an interval, ending at ``end``, starts and ends.

        ``swept`` are the costs of the left edges when starting anywhere in the interval.
        """
        drops = self.search.walk_back(swept, self._starts([interval])[0], end + self.length)
        starts = sorted({end, drops[0][0]})
        for start, costs in zip(starts, self._sweep([(start, start + 1) for start in starts]), strict=True):
            self._offer(start, complex(costs[self.length + start]), costs)

    def _last_costs(self, intervals: list[tuple[int, int]]) -> CostArray:
        """Return, for each interval of starting points, the costs of ending at each starting point a round later."""
        last = max(right for _, right in intervals) - 1 + self.length
        return self.search.last_costs(self._starts(intervals), self.length, last)

    def _sweep(self, intervals: list[tuple[int, int]]) -> CostArray:
        """Return, for each interval of starting points, the costs of all left edges up to its last one a round later.
        """
        return self.search.sweep(self._starts(intervals), max(right for _, right in intervals) - 1 + self.length)

    def _starts(self, intervals: list[tuple[int, int]]) -> CostArray:
        starts = np.full((len(intervals), self.first_starts), NEVER)
        for row, (left, right) in zip(starts, intervals, strict=True):
            row[left:right] = 0
        return starts

    def _offer(self, start: int, cost: complex, swept: CostArray | None = None) -> None:
        """Take a starting point when it is better than the best known; ``swept`` are its costs where all are kept."""
        if _less(cost, self.best) or (cost == self.best and start < self.start):
            self.best, self.start, self.swept = cost, start, swept

    def _tightened(self, bound: complex) -> complex:
        """Return a bound with the one odd spacing that no round of another length than whole steps can do without."""
        scale = self.search.scale
        known = bound.imag // scale.drop < scale.seam  # no more drops, and so no more odd spacings, than can be told
        even = known and not bound.imag % scale.seam
        return bound + ODD if even and self.length % self.sheet.step else bound

    def chain(self) -> Chain:
        """Return the drops of the best starting point, from the run's start on."""
        if self.start < 0:
            raise NoLayout(f"run {self.wall.run}: no row of drops of the allowed widths goes round")
        only = [(self.start, self.start + 1)]
        swept = self._sweep(only)[0] if self.swept is None else self.swept
        drops = self.search.walk_back(swept, self._starts(only)[0], self.start + self.length)
        around = sorted(
            ((left + self.stretch.origin) % self.length, right - left) for left, right in drops
        )
        edges = tuple((left, left + width) for left, width in around)
        least = min(self.open, key=lambda bound: bound.real, default=None) if self.rough else None
        return Chain(
            self._from(0), edges, self.proven and self.search.sound,
            (0, 0) if least is None else self.search.scale.first_goals(least - self.best),
        )


def _less(a: complex, b: complex) -> bool:
    return (a.real, a.imag) < (b.real, b.imag)


def _parts(left: int, right: int) -> list[tuple[int, int]]:
    """Split an interval of starting points."""
    count = min(PARTS, right - left)
    edges = [left + (right - left) * i // count for i in range(count + 1)]
    return list(zip(edges, edges[1:], strict=False))
