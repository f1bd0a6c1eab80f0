"""Where labels go: beside nothing that is taken, and in rows that spread apart only as far as they must."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from layout.drawing.model.entities import Box, Vec
from layout.shapes import prepared, rectangle

Holds = Callable[[Box], bool]
"""Tells whether a box lies within the shape its label belongs to."""


class Places:
    """The boxes already taken on a drawing, found again quickly.

    Parameters
    ----------
    cell
        Size of the squares they are sorted into; about that of a label [ticks].
    """

    def __init__(self, cell: float) -> None:
        self.cell = cell
        self._cells: dict[tuple[int, int], list[Box]] = defaultdict(list)

    def take(self, box: Box) -> None:
        """Note that a box is taken."""
        for key in self._keys(box):
            self._cells[key].append(box)

    def free(self, box: Box) -> bool:
        """Tell whether nothing taken lies in a box."""
        left, bottom, right, top = box
        for key in self._keys(box):
            for taken_left, taken_bottom, taken_right, taken_top in self._cells.get(key, ()):
                if left < taken_right and taken_left < right and bottom < taken_top and taken_bottom < top:
                    return False
        return True

    def near(self, around: Box) -> list[tuple[float, float, float, float]]:
        """Return the boxes taken near a box, as left, bottom, right and top."""
        found: set[tuple[float, float, float, float]] = {
            box for key in self._keys(around) for box in self._cells.get(key, ())}
        return sorted(found)

    def clear_line(self, start: Vec, end: Vec) -> bool:
        """Tell whether a straight line passes over nothing taken."""
        length = math.dist(start, end)
        steps = max(1, math.ceil(length / self.cell * 8))
        half = self.cell / 32
        for step in range(steps, -1, -1):  # from its end, which is where lines tried for one place meet
            x = start[0] + (end[0] - start[0]) * step / steps
            y = start[1] + (end[1] - start[1]) * step / steps
            if not self.free(Box(x - half, y - half, x + half, y + half)):
                return False
        return True

    def _keys(self, box: Box) -> list[tuple[int, int]]:
        cell = self.cell
        left, bottom, right, top = box
        first, last = math.floor(left / cell), math.floor(right / cell)
        low, high = math.floor(bottom / cell), math.floor(top / cell)
        if first == last and low == high:
            return [(first, low)]
        return [(column, row) for column in range(first, last + 1) for row in range(low, high + 1)]


def held_in(shape: Any) -> tuple[Holds, Box]:
    """Return the test of lying within a shapely shape, and the box around it.

    Parameters
    ----------
    shape
        The shape; nothing lies within one without an area.
    """
    if not shape.area:
        return (lambda box: False), Box(0, 0, 0, 0)

    outer = Box(*shape.bounds)
    if abs(shape.area - outer.width * outer.height) < 0.5:  # the shape is its own box
        return outer.holds, outer
    shape = prepared(shape)

    def holds(box: Box) -> bool:
        return outer.holds(box) and bool(shape.contains(rectangle(*box)))

    return holds, outer


def first_free(places: Places, centres: Iterable[Vec], *, wide: float, high: float, holds: Holds) -> Vec | None:
    """Return the first centre at which a box is free and within its shape, and take it there; None when there is none.

    Parameters
    ----------
    places
        What is taken.
    centres
        Where to try, the best first.
    wide, high
        Size of the box [ticks].
    holds
        The shape it must stay in.
    """
    for x, y in centres:
        box = Box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
        if places.free(box) and holds(box):
            places.take(box)
            return x, y
    return None


def inside_centres(within: Box, prefer: Vec, step: float, *, wide: float = 0.0, high: float = 0.0) -> Iterator[Vec]:
    """Yield centres within a box: up and down the preferred one's column first, then columns to both sides.

    Parameters
    ----------
    within
        What the label must lie in.
    prefer
        The first one.
    step
        Distance from one to the next [ticks].
    wide, high
        Size of the label [ticks]; 0 lets centres lie on the box's edge.
    """
    within = Box(within.left + wide / 2, within.bottom + high / 2, within.right - wide / 2, within.top - high / 2)
    if within.width < 0 or within.height < 0:
        return
    columns = list(_outward(within.left, within.right, prefer[0], step))
    rows = list(_outward(within.bottom, within.top, prefer[1], step))
    for x in columns:
        for y in rows:
            yield x, y


def _outward(low: float, high: float, start: float, step: float) -> Iterator[float]:
    """Yield positions from a start outward, alternating, as far as two ends."""
    start = min(max(start, low), high)
    yield start
    for number in range(1, math.ceil((high - low) / step) + 1):
        for place in (start - number * step, start + number * step):
            if low <= place <= high:
                yield place


def around(point: Vec, *, wide: float, high: float, clear: float, rings: int) -> Iterator[Vec]:
    """Yield centres of a box beside a point, then further and further out.

    Parameters
    ----------
    point
        What is labelled.
    wide, high
        Size of the box [ticks].
    clear
        Least distance from the point to the box, and how much further out each ring is [ticks].
    rings
        How many rings.
    """
    x, y = point
    for ring in range(1, rings + 1):
        out = clear * ring
        beside, above = out + wide / 2, out + high / 2
        yield from ((x + beside, y), (x - beside, y), (x, y + above), (x, y - above))
        for slide in (0.15, 0.3, 0.5):
            for step in (slide * wide, -slide * wide):
                yield from ((x + step, y + above), (x + step, y - above))
        yield from (
                    (x + beside, y + above), (x - beside, y + above), (x + beside, y - above), (x - beside, y - above),
                    (x + beside, y + above / 2), (x + beside, y - above / 2))


def spread_apart(
    wanted: Sequence[float], pitch: float, *, low: float = -math.inf, high: float = math.inf,
) -> list[float]:
    """Return positions at least a pitch apart, in order, as near to the wanted ones as can be (least squares).

    Parameters
    ----------
    wanted
        Positions that never fall.
    pitch
        Least distance of neighbours.
    low, high
        Ends to stay within while there is room.

    Examples
    --------
    >>> spread([0.0, 1.0, 10.0], 3.0)
    [-1.0, 2.0, 10.0]
    """
    clusters: list[tuple[float, int]] = []  # sum of (wanted - pitch * index), and how many
    for index, place in enumerate(wanted):
        clusters.append((place - pitch * index, 1))
        while len(clusters) > 1 and clusters[-2][0] / clusters[-2][1] >= clusters[-1][0] / clusters[-1][1]:
            total, count = clusters.pop()
            clusters[-1] = clusters[-1][0] + total, clusters[-1][1] + count
    bases = [total / count for total, count in clusters for _ in range(count)]
    last = high - pitch * (len(wanted) - 1)
    bases = [max(min(base, last), low) for base in bases]
    return [base + pitch * index for index, base in enumerate(bases)]
