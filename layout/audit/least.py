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
        at = np.arange(self.size + 1)
        self.reached, self.passed = np.zeros((2, self.size + 1), dtype=np.int64)
        for by in (-self.length, *shifts) if cells.run.closed else (0,):
            for left, right, clear in cells.keeps:
                self.reached += np.clip(at - (left + by - clear), 0, clear)
                self.passed += np.clip(at - (right + by), 0, clear)
        change = np.zeros(self.size, dtype=bool)
        change[1:] = (np.diff(self.top) != 0) | (np.diff(self.bottom) != 0)
        for left, right, _, _ in self.holes:
            # openings change what drops beside them may do, up to a sheet's width away
            change[max(left - 1, 0):right + 2] = True
        self.changes = np.concatenate(([0], np.cumsum(change)))
        self.prices = _prices(rules, terms.worth, int(max(_tallest(self.top, self.bottom, self.width), 1)))
        self.known: dict[tuple[int, int, int], Whole] = {}

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
        """Return the least of reaching each left edge up to the last, one row for each row of starts."""
        best = np.full((len(starts), last + 1), NEVER, dtype=np.int64)
        best[:, :starts.shape[1]] = starts
        for right in range(1, last + 1):
            left = max(right - self.step, 0)
            reach = (best[:, left:right] + self._arcs(left, right)).min(axis=1)
            np.minimum(best[:, right], reach, out=best[:, right])
        return best

    def _arcs(self, left: int, right: int) -> Whole:
        """Return what the drops cost that start from ``left`` on and have their neighbour's left edge at ``right``."""
        lefts = np.arange(left, right)
        rights = np.minimum(np.maximum(right + self.lap, lefts + self.narrowest), self.size)
        far = int(rights[-1])
        if self.changes[far] == self.changes[left + 1]:
            key = int(self.top[left]), int(self.bottom[left]), right - left
            if key not in self.known:
                self.known[key] = self._drops(lefts, rights)
            if self.reached[far] == self.passed[left]:
                return self.known[key]
            return np.asarray((self.reached[rights] - self.passed[right]) * BIG + self.known[key], dtype=np.int64)
        found = self._cost(lefts, rights, right)
        for a, b, _, _ in self.holes:
            # a drop that starts within an opening may reach just past it, and then is not split
            if a < right and b >= left:
                inside = (lefts >= a) & (rights <= b) & (b + 1 - lefts <= self.width)
                if inside.any():
                    past = self._cost(lefts[inside], np.full(int(inside.sum()), b + 1), right)
                    found[inside] = np.minimum(found[inside], past)
        return found

    def _cost(self, lefts: Whole, rights: Whole, neighbour: int) -> Whole:
        missed = self.reached[rights] - self.passed[neighbour]
        return np.asarray(missed * BIG + self._drops(lefts, rights), dtype=np.int64)

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
                worth += np.where(split, self.prices[np.clip(top - high, 0, len(self.prices) - 1)], 0)
                top = np.where(split, low, top)
        worth += self.prices[np.clip(top - bottom, 0, len(self.prices) - 1)]
        wide = rights - lefts
        return np.asarray(worth * np.where(wide <= self.terms.widest, wide, self.width), dtype=np.int64)


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
