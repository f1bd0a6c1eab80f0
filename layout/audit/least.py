"""The least that any row of drops of a run is worth, worked again tick by tick: claims about all layouts rest on it.

The wall is cut into cells of one tick. A row of drops is a path over left edges: each drop reaches at least a side lap
past the next one's left edge and is at least as wide as the narrowest. Everything is whole numbers.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from layout.audit.asked import Asked, AskedFace, AskedRun
from layout.audit.walls import line_of, picked, stretches, toe, value

Whole = NDArray[np.int64]

BIG = 1 << 44
"""A tick by which a clearance is missed counts more than the worth of any layout."""
NEVER = 1 << 61
LEVELS, PARTS = 5, 8
"""Times that the starting points of a closed run are split, and into how many parts each time."""


@dataclass(frozen=True)
class WorthTerms:
    """What drops are worth.

    Parameters
    ----------
    worth
        By cut length, from 0 [ticks].
    width, widest
        Of the sheet, and of the widest drop that shares a roll's width: it counts by its ticks of width.
    """

    worth: Whole
    width: int
    widest: int


@dataclass(frozen=True)
class OpeningCells:
    """An opening that splits drops: its cells, foot and head [ticks]."""

    left: int
    right: int
    bottom: int
    top: int


class Cells:
    """A run cut into cells of one tick: top and bottom of each, openings, and what seams keep clear of."""

    def __init__(self, run: AskedRun, asked: Asked, turn_down: float) -> None:
        self.run, self.asked = run, asked
        self.length = round(run.length)
        self.top = np.zeros(self.length, dtype=np.int64)
        self.bottom = np.zeros(self.length, dtype=np.int64)
        self.holes: list[OpeningCells] = []
        for face in run.faces:
            self._face(face, turn_down)

    def _face(self, face: AskedFace, turn_down: float) -> None:
        left, right = round(face.left), round(face.right)
        below = math.ceil(round(toe(face, turn_down=turn_down, fillet=self.asked.rules["fillet"]), 6))
        line = line_of(face, self.asked)
        if self.asked.top == "grade" and face.grade is not None:
            line = picked(line, face.footing, lower=False)
        top = _extreme(line, left, right, highest=True)
        if self.asked.top == "grade":
            # where grade and wall top cross inside a tick, the line is rounded up beside it too
            sloping = np.zeros(right - left, dtype=bool)
            sloping[1:] = np.diff(top) != 0
            sloping[:-1] |= sloping[1:]
            top = top + sloping
        self.top[left:right] = top
        self.bottom[left:right] = _extreme(face.footing, left, right, highest=False) - below
        back = self.asked.rules["opening_return"]
        for opening in face.openings:
            a, b = round(opening.left + back), round(opening.right - back)
            low, high = round(opening.bottom + back), round(opening.top - back)
            if a >= b or low >= high:
                continue
            low = max(low, math.ceil(max(y for _, y in _along(face.footing, a, b))))
            if low < high:
                self._open(a, b, low, high)

    def _open(self, a: int, b: int, low: int, high: int) -> None:
        """Let an opening lower the line where that lies within it; elsewhere under the line it stays a hole."""
        cells = np.arange(a, b)
        over = self.top[a:b] > high
        self.top[cells[(self.top[a:b] <= high) & (self.top[a:b] > low)]] = low
        edges = np.flatnonzero(np.diff(np.concatenate(([0], over.astype(np.int8), [0]))))
        self.holes += [OpeningCells(a + int(x), a + int(y), low, high)
                       for x, y in zip(edges[::2], edges[1::2], strict=True)]

    @cached_property
    def keeps(self) -> list[tuple[int, int, int]]:
        """From, to and clearance of everything that seams keep clear of [ticks]."""
        rules, found = self.asked.rules, []
        faces = self.run.faces
        for face in faces:
            if face.corner != "none":
                found.append((face.right, face.right, rules["clear_of_corner"]))
            for sleeve in face.sleeves:
                half = -(-sleeve.diameter // 2)
                found.append((sleeve.x - half, sleeve.x + half, rules["clear_of_sleeve"]))
            line = line_of(face, self.asked)
            for opening in face.openings:
                over = max(y for _, y in _along(line, opening.left, opening.right))
                if opening.bottom + rules["opening_return"] < over:
                    found += [(jamb, jamb, rules["clear_of_opening"]) for jamb in (opening.left, opening.right)]
        found += [(x, x, rules["clear_of_step"]) for x in sorted(self._steps())]
        return [(round(a), round(b), clear) for a, b, clear in found if clear > 0]

    def _steps(self) -> set[float]:
        faces, found = self.run.faces, set[float]()
        for face in faces:
            for profile in (face.footing, face.top if self.asked.top == "wall" or not face.grade else face.grade):
                found |= {
                    x0 for (x0, y0), (x1, y1) in zip(profile, profile[1:], strict=False)
                    if x0 == x1 and y0 != y1 and face.left < x0 < face.right
                }
        joints = list(zip(faces, (*faces[1:], faces[0]), strict=True))
        for face, after in joints if self.run.closed else joints[:-1]:
            jump = face.footing[-1][1] != after.footing[0][1] or face.top[-1][1] != after.top[0][1]
            if face.corner == "none" and (jump or face.ledge != after.ledge):
                found.add(face.right)
        return found


def _along(points: Sequence[tuple[float, float]], left: float, right: float) -> list[tuple[float, float]]:
    profile = tuple(points)
    ends = [(x, value(profile, x, from_right=side)) for x, side in ((left, True), (right, False))]
    return [*ends, *((x, y) for x, y in profile if left < x < right)]


def _extreme(points: Sequence[tuple[float, float]], left: int, right: int, *, highest: bool) -> Whole:
    """Return the highest elevation over each cell rounded up, or the lowest rounded down."""
    profile = tuple(points)
    found = np.full(right - left, -NEVER if highest else NEVER, dtype=np.int64)
    choose = np.maximum if highest else np.minimum
    for x0, x1 in stretches(profile):
        y0, y1 = value(profile, x0, from_right=True), value(profile, x1, from_right=False)
        first, last = max(math.floor(x0), left), min(math.ceil(x1), right)
        if first >= last or x0 == x1:
            continue
        cells = np.arange(first, last)
        ends = [y0 + (y1 - y0) * (np.clip(cells + by, x0, x1) - x0) / (x1 - x0) for by in (0, 1)]
        level = np.round(np.maximum(*ends) if highest else np.minimum(*ends), 6)
        whole = (np.ceil(level) if highest else np.floor(level)).astype(np.int64)
        found[first - left:last - left] = choose(found[first - left:last - left], whole)
    return found


class RowSearch:
    """The search for the least worth of any row of drops over a wall's cells.

    Parameters
    ----------
    cells
        The wall.
    terms
        What drops are worth.
    """

    def __init__(self, cells: Cells, terms: WorthTerms) -> None:
        rules = cells.asked.rules
        self.cells, self.terms = cells, terms
        self.lap, self.width, self.length = rules["side_lap"], terms.width, cells.length
        self.step = self.width - self.lap
        self.narrowest = max(min(rules["min_width"], self.length, self.width), self.lap + 1)
        self.starts = min(self.step, self.length) if cells.run.closed else 1
        turns = 3 if cells.run.closed else 1
        self.size = self.length + (self.starts + 2 * self.width if cells.run.closed else 0)
        over = np.arange(self.size) % self.length
        self.top, self.bottom = cells.top[over], cells.bottom[over]
        shifts = [turn * self.length for turn in range(turns)]
        self.holes = [
            (hole.left + by, hole.right + by, hole.bottom, hole.top) for by in shifts for hole in cells.holes
            if hole.left + by < self.size
        ]
        self.holes.sort(key=lambda hole: -hole[3])
        around = (-self.length, *shifts) if cells.run.closed else (0,)
        keeps = [(left + by, right + by, clear) for by in around for left, right, clear in cells.keeps]
        self.reached = _rising([(left - clear, clear) for left, _, clear in keeps], self.size + 1)
        self.passed = _rising([(right, clear) for _, right, clear in keeps], self.size + 1)
        change = np.zeros(self.size, dtype=bool)
        change[1:] = (np.diff(self.top) != 0) | (np.diff(self.bottom) != 0)
        for left, right, _, _ in self.holes:
            change[max(left, 0):right + 1] = True
        self.changes = np.concatenate(([0], np.cumsum(change)))
        self.prices = _prices(rules, terms.worth, int(max(_tallest(self.top, self.bottom, self.width), 1)))
        self.block = self.narrowest - self.lap
        """Left edges worked out at a time: drops that start within a block reach past it at the narrowest."""
        self.wide = self._wide()
        self.flat: tuple[int, Whole] | None = None

    def _wide(self) -> tuple[Whole, Whole]:
        """Return the ticks that drops count by, and what bars those that are too wide or no wider than the narrowest.

        A row for each right neighbour within a block, a column for each left edge before the block.
        """
        apart = np.arange(self.block)[:, None] + self.step - np.arange(self.step)
        wide = apart + self.lap
        counted = np.where(wide <= self.terms.widest, wide, self.width)
        return counted, np.where((apart > self.step) | (apart <= self.block), NEVER, 0)

    def least(self, wanted: tuple[int, int]) -> tuple[int, int]:
        """Return by how much clearances are missed at least, and the least worth of a row that misses them by no more.

        Parameters
        ----------
        wanted
            What is claimed: of a closed run no more than that is worked out.
        """
        if self.length <= self.narrowest and not self.cells.run.closed:
            return 0, int(self._drops(np.array([0]), np.array([self.length]))[0])
        if not self.cells.run.closed:
            best = self._sweep(np.zeros((1, 1), dtype=np.int64), self.length - self.narrowest)[0]
            lefts = np.arange(max(self.length - self.width, 0), self.length - self.narrowest + 1)
            ends = best[lefts] + self._drops(lefts, np.full(len(lefts), self.length))
            return divmod(int(ends.min()), BIG)
        target, found = wanted[0] * BIG + wanted[1], NEVER
        intervals = [(0, self.starts)]
        for _ in range(LEVELS):
            bounds = self._around(intervals)
            low = [at for at, bound in enumerate(bounds) if bound < target]
            found = min([found, *(bound for bound in bounds if bound >= target)])
            if not low:
                return divmod(found, BIG)
            if all(intervals[at][1] - intervals[at][0] == 1 for at in low):
                return divmod(min(bounds), BIG)
            intervals = [part for at in low for part in _parts(*intervals[at])]
        return divmod(min(self._around(intervals)), BIG)

    def _around(self, intervals: Sequence[tuple[int, int]]) -> list[int]:
        """Return for each interval the least of starting anywhere in it and ending anywhere in it a round later."""
        starts = np.full((len(intervals), self.starts), NEVER, dtype=np.int64)
        for row, (left, right) in zip(starts, intervals, strict=True):
            row[left:right] = 0
        best = self._sweep(starts, self.length + max(right for _, right in intervals) - 1)
        return [
            int(row[self.length + left:self.length + right].min())
            for row, (left, right) in zip(best, intervals, strict=True)
        ]

    def _sweep(self, starts: Whole, last: int) -> Whole:
        """Return the least of reaching each left edge up to the last, one row for each row of starts.

        Notes
        -----
        A drop is of the narrowest width or reaches a side lap past its neighbour's left edge. One of the narrowest
        costs the same wherever its neighbour starts, but for what the neighbour's edge passes; so within a block two
        of them in a row are never less than the first alone.
        """
        best = np.full((len(starts), last + 1), NEVER, dtype=np.int64)
        best[:, :starts.shape[1]] = starts
        for start in range(1, last + 1, self.block):
            stop = min(start + self.block, last + 1)
            passed = self.passed[start:stop] * BIG
            found = best[:, start:stop]
            lefts = np.arange(max(start - self.block, 0), start)
            narrow = np.full((len(starts), self.block), NEVER, dtype=np.int64)
            narrow[:, self.block - len(lefts):] = best[:, lefts] + self.narrow[lefts]
            narrow = np.minimum.accumulate(narrow[:, ::-1], axis=1)[:, ::-1]
            np.minimum(found, narrow[:, :stop - start] - passed, out=found)
            low, high = max(start - self.step, 0), stop - 1 - self.block
            if low < high:
                costs = self._across(start, stop, low, high)
                clear = self.reached[start + self.lap:stop + self.lap] * BIG - passed
                for row, reach in zip(best[:, low:high], found, strict=True):
                    np.minimum(reach, (costs + row).min(axis=1) + clear, out=reach)
            within = np.minimum.accumulate(found + self.narrow[start:stop], axis=1)
            np.minimum(found[:, 1:], within[:, :-1] - passed[1:], out=found[:, 1:])
        return best

    @cached_property
    def narrow(self) -> Whole:
        """By left edge: what a drop of the narrowest width costs, less what its neighbour's edge passes."""
        costs = np.zeros(max(self.size - self.narrowest + 1, 0), dtype=np.int64)
        for start in range(0, len(costs), self.block):
            lefts = np.arange(start, min(start + self.block, len(costs)))
            rights = lefts + self.narrowest
            found = self.reached[rights] * BIG + self._drops(lefts, rights)
            for b, inside in self._within(lefts, rights):
                found[inside] = np.minimum(found[inside], self._just_past(b, lefts[inside]))
            costs[lefts] = found
        return costs

    def _within(self, lefts: Whole, rights: Whole) -> list[tuple[int, NDArray[np.bool_]]]:
        """Return the ends of openings that drops start and end within, and which those are."""
        found = []
        for a, b, _, _ in self.holes:
            if a <= int(lefts[-1]) and int(rights[0]) <= b < self.size:
                inside = (lefts >= a) & (rights <= b) & (b + 1 - lefts <= self.width)
                if inside.any():
                    found.append((b, inside))
        return found

    def _just_past(self, b: int, lefts: Whole) -> Whole:
        """Return what drops cost that start within an opening and reach just past it, and so are not split."""
        return np.asarray(self.reached[b + 1] * BIG + self._drops(lefts, np.full(len(lefts), b + 1)), dtype=np.int64)

    def _across(self, start: int, stop: int, low: int, high: int) -> Whole:
        """Return what drops cost from left edges ``low`` to ``high`` with neighbours from ``start`` to ``stop``.

        Without what seams miss, but for drops that reach past an opening: theirs is less what others' would be.
        """
        columns = slice(low - start + self.step, high - start + self.step)
        counted, barred = (each[:stop - start, columns] for each in self.wide)
        first, last = start + self.lap, stop + self.lap
        if self.changes[last - 1] == self.changes[low + 1]:
            price = int(self.prices[max(int(self.top[low] - self.bottom[low]), 0)])
            if self.flat is None or self.flat[0] != price:
                self.flat = price, price * self.wide[0] + self.wide[1]
            return self.flat[1][:stop - start, columns]
        lefts, rights = np.arange(low, high), np.arange(first, last)
        top, bottom = (
            join.outer(join.accumulate(cells[start:last - 1])[self.lap - 1:],
                       join.accumulate(cells[low:start + 1][::-1])[::-1][:high - low])
            for cells, join in ((self.top, np.maximum), (self.bottom, np.minimum))
        )
        worth = np.zeros(top.shape, dtype=np.int64)
        for a, b, foot, head in self.holes:
            if a < high and b >= first:
                split = slice(0, int(np.searchsorted(rights, b, side="right"))), slice(max(a - low, 0), None)
                worth[split] += self._price(top[split] - head)
                top[split] = foot
        worth += self._price(top - bottom)
        found = worth * counted + barred
        for b, inside in self._within(lefts, np.full(len(lefts), first)):
            rows = slice(0, int(np.searchsorted(rights, b, side="right")))
            past = np.full(len(lefts), NEVER, dtype=np.int64)
            past[inside] = self._just_past(b, lefts[inside])
            others = barred[rows] - self.reached[rights[rows], None] * BIG
            np.minimum(found[rows], past + others, out=found[rows])
        return np.asarray(found, dtype=np.int64)

    def _price(self, heights: Whole) -> Whole:
        """Return what columns of some heights are worth; one of less than nothing is none."""
        return self.prices.take(heights, mode="clip")

    def _drops(self, lefts: Whole, rights: Whole) -> Whole:
        """Return what drops are worth; lefts rise, rights never fall."""
        start, stop = int(lefts[0]), int(rights[-1])
        top, bottom = (
            _over(cells[start:stop], lefts - start, rights - start, highest=highest)
            for cells, highest in ((self.top, True), (self.bottom, False))
        )
        worth = np.zeros(len(lefts), dtype=np.int64)
        for a, b, low, high in self.holes:
            if a <= int(lefts[-1]) and b >= int(rights[0]):
                split = (lefts >= a) & (rights <= b)
                worth += np.where(split, self._price(top - high), 0)
                top = np.where(split, low, top)
        worth += self._price(top - bottom)
        wide = rights - lefts
        return np.asarray(worth * np.where(wide <= self.terms.widest, wide, self.width), dtype=np.int64)


def _rising(rises: Sequence[tuple[int, int]], size: int) -> Whole:
    """Return for each tick the sum of what rises from 0 by one a tick, each from its start and up to its height."""
    slope = np.zeros(size + 1, dtype=np.int64)
    before = 0
    for start, height in rises:
        slope[min(max(start, 0), size)] += 1
        slope[min(max(start + height, 0), size)] -= 1
        before += min(max(-start, 0), height)
    return before + np.concatenate(([0], np.cumsum(np.cumsum(slope)[:size - 1])))


def _over(cells: Whole, lefts: Whole, rights: Whole, *, highest: bool) -> Whole:
    """Return the extreme of the cells of each drop; all drops share the cells from the last left to the first right."""
    pick: Callable[..., Whole] = np.maximum.accumulate if highest else np.minimum.accumulate
    join = np.maximum if highest else np.minimum
    middle = int(min(lefts[-1], rights[0] - 1))
    before = pick(cells[middle::-1])[::-1]
    after = pick(cells[middle:])
    found: Whole = join(before[np.minimum(lefts, middle)], after[rights - 1 - middle])
    if lefts[-1] > middle:
        for at in np.flatnonzero(lefts > middle):
            part = cells[lefts[at]:rights[at]]
            found[at] = part.max() if highest else part.min()
    return found


def _tallest(top: Whole, bottom: Whole, width: int) -> int:
    """Return a height that no drop exceeds."""
    spans = np.arange(0, len(top), width)
    tops, bottoms = np.maximum.reduceat(top, spans), np.minimum.reduceat(bottom, spans)
    return max(
        int((np.maximum(tops[by:], tops[:len(tops) - by]) - np.minimum(bottoms[by:], bottoms[:len(tops) - by])).max())
        for by in range(min(3, len(spans)))
    )


def _prices(rules: Mapping[str, int], worth: Whole, tallest: int) -> Whole:
    """Return what a column of each height is worth, hung in as few pieces as can be; no more than a higher one."""
    step, allowance, lap = max(rules["cut_to"], 1), rules["cut_allowance"], rules["end_lap"]
    longest = rules["max_piece"] // step * step - allowance
    heights = np.arange(1, min(longest, tallest) + 1)
    one = np.zeros(len(heights) + 1, dtype=np.int64)
    one[1:] = worth[np.minimum(-(-(heights + allowance) // step) * step, len(worth) - 1)]
    prices, pieces = np.zeros((2, tallest + 1), dtype=np.int64)
    prices[:len(one)], pieces[1:len(one)] = one, 1
    for height in range(len(one), tallest + 1):
        fewest = int(pieces[height - longest + lap])
        lowest = np.arange(height - (fewest * longest - (fewest - 1) * lap) + lap, longest + 1)
        prices[height] = (one[lowest] + prices[height - lowest + lap]).min()
        pieces[height] = fewest + 1
    return np.asarray(np.minimum.accumulate(prices[::-1])[::-1], dtype=np.int64)


def _parts(left: int, right: int) -> list[tuple[int, int]]:
    count = min(PARTS, right - left)
    edges = [left + (right - left) * i // count for i in range(count + 1)]
    return list(zip(edges, edges[1:], strict=False))
