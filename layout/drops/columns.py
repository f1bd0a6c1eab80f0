"""A wall as the optimiser sees it: one column of sheet over each tick of station.

The wall is cut into cells of one tick. Neighbouring cells that no drop can tell apart (same top, same bottom, no
edge of an opening between them) form a *class*; what a drop costs depends only on the classes its two edges lie in.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from layout.records import Hole, Profile, Wall

IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Span:
    """An opening by the classes it covers: a drop within [first, last] is split by it."""

    first: int
    last: int
    left: int
    right: int
    bottom: int
    top: int


@dataclass(frozen=True, eq=False)
class StretchCells:
    """A stretch of wall cut into cells of one tick; positions are counted from the stretch's origin.

    Parameters
    ----------
    origin
        Station of position 0 [ticks].
    extent
        Number of cells.
    kind
        Class of each cell; never falls.
    class_left, class_top, class_bottom
        For each class, its first cell, the membrane line rounded up and the sheet's end rounded down [ticks].
    spans
        The openings, by their first class.
    reached
        For the right edge of a lap at each position, the part of the violation that it causes, summed from the left
        [ticks]; see ``violation``.
    passed
        The same for the left edge, to be taken away.
    seam
        Height of wall at each cell, less the openings there [ticks].
    """

    origin: int
    extent: int
    kind: NDArray[np.int32]
    class_left: IntArray
    class_top: IntArray
    class_bottom: IntArray
    spans: tuple[Span, ...]
    reached: IntArray
    passed: IntArray
    seam: NDArray[np.int32]

    def spans_over(self, first: int, last: int) -> list[Span]:
        """Return the openings that cover some class from ``first`` to ``last``, highest first."""
        stop = int(np.searchsorted(self._firsts, last, side="right"))
        start = int(np.searchsorted(self._reach, first, side="left"))
        return sorted((span for span in self.spans[start:stop] if span.last >= first), key=lambda span: -span.top)

    @cached_property
    def _firsts(self) -> IntArray:
        return np.array([span.first for span in self.spans], dtype=np.int64)

    @cached_property
    def _reach(self) -> IntArray:
        """The last class that each opening, or one before it, reaches."""
        return np.maximum.accumulate(np.array([span.last for span in self.spans], dtype=np.int64))

    def violation(self, left: int, right: int) -> int:
        """Return by how much a lap between two positions comes too near to things [ticks].

        Notes
        -----
        A thing at [a, b] to be kept clear of by c costs ``max(0, c - distance)``. That is
        ``clamp(right - a + c, 0, c) - clamp(left - b, 0, c)``: one term for each edge of the lap.
        """
        return int(self.reached[right] - self.passed[left])

    def height(self, left: int, right: int) -> tuple[int, int]:
        """Return the top and the bottom of a drop between two positions [ticks]."""
        first, last = int(self.kind[left]), int(self.kind[right - 1])
        return int(self.class_top[first:last + 1].max()), int(self.class_bottom[first:last + 1].min())

    def boxes(self, left: int, right: int) -> list[tuple[int, int]]:
        """Return the columns (top, bottom) that a drop between two positions falls into, top to bottom [ticks]."""
        top, bottom = self.height(left, right)
        first, last = int(self.kind[left]), int(self.kind[right - 1])
        found: list[tuple[int, int]] = []
        for span in self.spans_over(first, last):
            if not (span.first <= first and last <= span.last):
                continue
            found.append((top, span.top))
            top = span.bottom
        found.append((top, bottom))
        return [(upper, lower) for upper, lower in found if upper > lower]


def columns(wall: Wall, *, origin: int = 0, extent: int | None = None) -> StretchCells:
    """Cut a wall into cells.

    Parameters
    ----------
    wall
        The developed run.
    origin
        Station to start from [ticks]; other than 0 only for a closed run.
    extent
        Number of cells [ticks]; a closed run goes round as often as it takes. The run's length when None.
    """
    size = wall.length if extent is None else extent
    stations = (origin + np.arange(size)) % wall.length
    top = cell_values(wall.top, wall.length, up=True)[stations]
    bottom = cell_values(wall.bottom, wall.length, up=False)[stations]
    shifts = range(-2, (origin + size) // wall.length + 3) if wall.closed else range(1)
    holes = [
        (hole, hole.left + shift * wall.length - origin, hole.right + shift * wall.length - origin)
        for shift in shifts for hole in wall.holes
    ]
    holes = [(hole, a, b) for hole, a, b in holes if a < size and b > 0]
    holes.sort(key=lambda item: (item[1], -item[0].top, item[0].tag))
    fresh = np.zeros(size, dtype=bool)
    fresh[0] = True
    fresh[1:] = (top[1:] != top[:-1]) | (bottom[1:] != bottom[:-1])
    for edge in {edge for _, a, b in holes for edge in (a, b)}:
        if 0 < edge < size:
            fresh[edge] = True
    class_left = np.flatnonzero(fresh)
    kind = (np.cumsum(fresh) - 1).astype(np.int32)
    spans = tuple(_span(hole, a, b, kind) for hole, a, b in holes)
    keeps = [
        (keep.left + shift * wall.length - origin, keep.right + shift * wall.length - origin, keep.clear)
        for shift in shifts for keep in wall.keeps
    ]
    keeps = [(a, b, clear) for a, b, clear in keeps if a - clear <= size and b + clear >= 0]
    return StretchCells(
        origin=origin, extent=size, kind=kind, class_left=class_left,
        class_top=top[class_left], class_bottom=bottom[class_left], spans=spans,
        reached=_ramps(((a - clear, clear) for a, _, clear in keeps), size),
        passed=_ramps(((b, clear) for _, b, clear in keeps), size),
        seam=_seam_heights(top, bottom, holes),
    )


def cell_values(profile: Profile, length: int, *, up: bool) -> IntArray:
    """Return the highest (``up``) or lowest elevation of a profile over each cell of one tick, in whole ticks outward.

    Parameters
    ----------
    profile
        Points with whole stations; it reaches from 0 to ``length`` or is level beyond its ends.
    length
        Number of cells [ticks].
    """
    values = np.empty(length, dtype=np.int64)
    values[:max(profile[0][0], 0)] = profile[0][1]
    values[min(profile[-1][0], length):] = profile[-1][1]
    for (x0, y0), (x1, y1) in zip(profile, profile[1:], strict=False):
        left, right = max(x0, 0), min(x1, length)
        if left >= right:
            continue
        if y0 == y1:
            values[left:right] = y0
            continue
        far = (y1 > y0) == up
        along = (np.arange(left, right, dtype=np.int64) + int(far) - x0) * (y1 - y0)
        values[left:right] = y0 + (-(-along // (x1 - x0)) if up else along // (x1 - x0))
    return values


def _span(hole: Hole, left: int, right: int, kind: NDArray[np.int32]) -> Span:
    """Return an opening by the classes it covers; one that reaches past the stretch covers up to its end."""
    size = len(kind)
    first, last = int(kind[max(left, 0)]), int(kind[min(right, size) - 1])
    return Span(first, last, left, right, hole.bottom, hole.top)


def _ramps(ramps: Iterable[tuple[int, int]], size: int) -> IntArray:
    """Return, at positions 0 to ``size``, the sum of ramps that rise by one a tick from a start for a length."""
    slope = np.zeros(size + 1, dtype=np.int64)
    base = 0
    for start, rise in ramps:
        base += min(max(-start, 0), rise)
        left, right = min(max(start, 0), size), min(max(start + rise, 0), size)
        slope[left] += 1
        slope[right] -= 1
    total = np.empty(size + 1, dtype=np.int64)
    total[0] = base
    total[1:] = base + np.cumsum(np.cumsum(slope[:-1]))
    return total


def _seam_heights(
    top: IntArray, bottom: IntArray, holes: Iterable[tuple[Hole, int, int]],
) -> NDArray[np.int32]:
    heights = np.maximum(top - bottom, 0)
    for hole, left, right in holes:
        cells = slice(max(left, 0), max(right, 0))
        crossed = np.minimum(hole.top, top[cells]) - np.maximum(hole.bottom, bottom[cells])
        heights[cells] -= np.maximum(crossed, 0)
    narrowed: NDArray[np.int32] = heights.astype(np.int32)
    return narrowed
