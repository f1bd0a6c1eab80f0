"""A developed wall cut into columns: what must be covered over each station, openings left out."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from layout.records import Profile, Wall

SlopeLine = tuple[Fraction, Fraction]
"""Elevations of a straight line at the left and at the right end of a column [ticks]."""


@dataclass(frozen=True)
class WallColumn:
    """A part of the wall between two stations, straight below and above, with nothing in it but sleeves.

    Parameters
    ----------
    left, right
        Its stations [ticks].
    bottom, top
        The lines it lies between.
    """

    left: int
    right: int
    bottom: SlopeLine
    top: SlopeLine

    @property
    def lowest(self) -> int:
        """Its lowest elevation, rounded down [ticks]."""
        return math.floor(min(self.bottom))

    @property
    def highest(self) -> int:
        """Its highest elevation, rounded up [ticks]."""
        return math.ceil(max(self.top))

    def within(self, left: int, right: int) -> WallColumn:
        """Return the part of the column between two stations."""
        left, right = max(left, self.left), min(right, self.right)
        if (left, right) == (self.left, self.right):
            return self
        return WallColumn(left, right, self._part(self.bottom, left, right), self._part(self.top, left, right))

    def _part(self, line: SlopeLine, left: int, right: int) -> SlopeLine:
        rise = (line[1] - line[0]) / (self.right - self.left)
        return line[0] + rise * (left - self.left), line[0] + rise * (right - self.left)

    def split(self, levels: Sequence[int]) -> Iterator[WallColumn]:
        """Yield the column cut at the ticks around every place where its top or its bottom crosses a level."""
        stations = {self.left, self.right}
        for start, end in (self.bottom, self.top):
            for level in levels:
                if (start - level) * (end - level) < 0:
                    crossing = self.left + (level - start) / (end - start) * (self.right - self.left)
                    stations |= {math.floor(crossing), math.ceil(crossing)}
        for left, right in pairwise(sorted(stations)):
            yield self.within(left, right)


class Columns:
    """The columns of a run, left to right and upward, and how to find those near a station.

    Parameters
    ----------
    wall
        The developed run.
    """

    def __init__(self, wall: Wall) -> None:
        self.length, self.closed = wall.length, wall.closed
        self.all = tuple(_columns(wall))
        self.bottom = min(column.lowest for column in self.all)
        self.top = max(column.highest for column in self.all)
        self._lefts = [column.left for column in self.all]

    def between(self, left: int, right: int) -> Iterator[WallColumn]:
        """Yield the parts of columns between two stations; in a closed run these may lie past its ends."""
        for start, end in self._on_run(left, right):
            first = bisect_left(self._lefts, self._lefts[max(bisect_right(self._lefts, start) - 1, 0)])
            for column in self.all[first:bisect_left(self._lefts, end)]:
                if column.right > start:
                    yield column.within(start, end)

    def _on_run(self, left: int, right: int) -> Iterable[tuple[int, int]]:
        """Return a stretch in parts that lie on [0, length]."""
        shifts = (-self.length, 0, self.length) if self.closed else (0,)
        parts = [(max(left - shift, 0), min(right - shift, self.length)) for shift in shifts]
        return [part for part in parts if part[0] < part[1]]

    def seam_is_there(self, *, left: int, right: int, bottom: int, top: int) -> bool:
        """Tell whether a lap from ``bottom`` to ``top`` has wall below and above it somewhere on a stretch."""
        return any(column.lowest < bottom and column.highest > top for column in self.between(left, right))


def _columns(wall: Wall) -> Iterator[WallColumn]:
    """Yield the columns of a run."""
    bottoms, tops = _straights(wall.bottom), _straights(wall.top)
    stations = sorted({x for x0, _, x1, _ in (*bottoms, *tops) for x in (x0, x1)}
                      | {x for hole in wall.holes for x in (hole.left, hole.right)})
    gaps: list[list[tuple[int, int]]] = [[] for _ in stations]
    for hole in sorted(wall.holes, key=lambda hole: (hole.bottom, hole.left)):
        for i in range(bisect_left(stations, hole.left), bisect_left(stations, hole.right)):
            gaps[i].append((hole.bottom, hole.top))
    below = above = 0
    for i, (left, right) in enumerate(pairwise(stations)):
        while bottoms[below][2] < right:
            below += 1
        while tops[above][2] < right:
            above += 1
        floor, ceiling = _on(bottoms[below], left, right), _on(tops[above], left, right)
        for foot, head in gaps[i]:
            yield from _some(left, right, floor, (Fraction(foot), Fraction(foot)))
            floor = (Fraction(head), Fraction(head))
        yield from _some(left, right, floor, ceiling)


def _some(left: int, right: int, bottom: SlopeLine, top: SlopeLine) -> Iterator[WallColumn]:
    """Yield a column, unless nothing lies between its lines."""
    if bottom[0] < top[0] or bottom[1] < top[1]:
        yield WallColumn(left, right, bottom, top)


def _straights(profile: Profile) -> list[tuple[int, int, int, int]]:
    """Return the straight parts of a profile, its steps left out."""
    return [(x0, y0, x1, y1) for (x0, y0), (x1, y1) in pairwise(profile) if x0 < x1]


def _on(straight: tuple[int, int, int, int], left: int, right: int) -> SlopeLine:
    x0, y0, x1, y1 = straight
    rise = Fraction(y1 - y0, x1 - x0)
    return y0 + rise * (left - x0), y0 + rise * (right - x0)
