"""The lines of a drawing, sorted so that one soon knows whether any of them runs through a box."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from layout.drawing.model.entities import Box, Circle, Entity, Group, Hatch, Line, SubDrawing, Polyline, Text, Vec
from layout.drawing.model.plain import plain
from layout.shapes import prepared, rectangle

CELL = 12.0
"""Size of the squares that lines are sorted into [plotted mm]."""
SIDES = 16
"""Sides of the polygon that stands for a circle."""

Segment = tuple[float, float, float, float, int]
"""Two points, and the number of what the line belongs to."""


class Ink:
    """Lines already drawn, by the squares they run through.

    Parameters
    ----------
    cell
        Size of the squares; about that of a label [the unit of the lines].
    """

    def __init__(self, cell: float) -> None:
        self.cell = cell
        self._cells: dict[tuple[int, int], list[Segment]] = defaultdict(list)
        self._areas: dict[int, list[tuple[Box, Callable[[Box], bool], int]]] = defaultdict(list)

    def line(self, start: Vec, end: Vec, *, of: int = 0) -> None:
        """Note a straight line, and the number of what it belongs to."""
        (x0, y0), (x1, y1) = start, end
        segment, cell = (x0, y0, x1, y1, of), self.cell
        column, row = math.floor(x0 / cell), math.floor(y0 / cell)
        if column == math.floor(x1 / cell) and row == math.floor(y1 / cell):  # most lines lie within one square
            self._cells[column, row].append(segment)
            return
        for key in self._squares(segment):
            self._cells[key].append(segment)

    def area(self, bounds: tuple[float, float, float, float], meets: Callable[[Box], bool], *, of: int = 0) -> None:
        """Note a hatched area: the box around it, the test of a box lying on it, what it belongs to."""
        around = Box(*bounds)
        for column in range(math.floor(around.left / self.cell), math.floor(around.right / self.cell) + 1):
            self._areas[column].append((around, meets, of))

    def draw(self, entities: Iterable[Entity], *, one: float, of: int = 0) -> None:
        """Note every line of entities; text and hatches have none.

        Parameters
        ----------
        entities
            What is drawn.
        one
            What plots as one millimetre.
        of
            The number of what they belong to.
        """
        for start, end in straight_lines(entities, one=one):
            self.line(start, end, of=of)

    def crosses(self, box: Box, *, but: int = -1, after: int = -1) -> bool:
        """Tell whether a line runs through a box, not only along its edge, or a hatch lies in it.

        Parameters
        ----------
        box
            The box.
        but
            The number of what does not count.
        after
            Only what has a larger number counts.
        """
        cell = self.cell
        left, bottom, right, top = box
        first, last = math.floor(left / cell), math.floor(right / cell)
        rows = range(math.floor(bottom / cell), math.floor(top / cell) + 1)
        for column in range(first, last + 1):
            for row in rows:
                for segment in self._cells.get((column, row), ()):
                    x0, y0, x1, y1, of = segment
                    # most lines lie to one side of the box
                    if (x0 > left or x1 > left) and (x0 < right or x1 < right) and (y0 > bottom or y1 > bottom) and (
                            y0 < top or y1 < top) and of != but and of > after and _through(segment, box):
                        return True
        return bool(self._areas) and any(
            of != but and of > after and around.overlaps(box) and meets(box)
            for column in range(first, last + 1) for around, meets, of in self._areas.get(column, ()))

    def straight(self, around: Box) -> list[tuple[float, float, float, float]]:
        """Return the level and upright lines near a box, as left, bottom, right and top."""
        cell = self.cell
        found = {segment for column in range(math.floor(around.left / cell), math.floor(around.right / cell) + 1)
                 for row in range(math.floor(around.bottom / cell), math.floor(around.top / cell) + 1)
                 for segment in self._cells.get((column, row), ())}
        return sorted((min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)) for x0, y0, x1, y1, _ in found
                      if x0 == x1 or y0 == y1)

    def _squares(self, segment: Segment) -> list[tuple[int, int]]:
        """Return the squares that a line runs through."""
        cell = self.cell
        x0, y0, x1, y1, _ = segment
        if x1 < x0:
            x0, y0, x1, y1 = x1, y1, x0, y0
        first, last = math.floor(x0 / cell), math.floor(x1 / cell)
        low, high = math.floor(y0 / cell), math.floor(y1 / cell)
        if high < low:
            low, high = high, low
        if first == last or low == high:  # most others: along one row or column of squares
            return [(column, row) for column in range(first, last + 1) for row in range(low, high + 1)]
        squares: list[tuple[int, int]] = []
        rise = (y1 - y0) / (x1 - x0)
        for column in range(first, last + 1):
            ends = [y0 + rise * (at - x0) for at in (max(x0, column * cell), min(x1, (column + 1) * cell))]
            squares += [(column, row) for row in range(math.floor(min(ends) / cell), math.floor(max(ends) / cell) + 1)]
        return squares


def _through(segment: Segment, box: Box) -> bool:
    """Tell whether a straight line runs through the inside of a box."""
    x0, y0, x1, y1, _ = segment
    left, bottom, right, top = box
    if (x0 <= left and x1 <= left) or (x0 >= right and x1 >= right):
        return False
    if (y0 <= bottom and y1 <= bottom) or (y0 >= top and y1 >= top):
        return False
    if x0 == x1 or y0 == y1:
        return True
    dx, dy = x1 - x0, y1 - y0
    sides = [dx * (y - y0) - dy * (x - x0) for x, y in ((left, bottom), (left, top), (right, bottom), (right, top))]
    return min(sides) < 0 < max(sides)


def lies_on(shape: Any) -> Callable[[Box], bool]:
    """Return the test of a box that meets the one around a shapely shape: whether it meets the shape."""
    left, bottom, right, top = shape.bounds
    if shape.area == (right - left) * (top - bottom):
        return lambda box: True  # it is all of the box around it
    shape = prepared(shape)
    return lambda box: bool(shape.intersects(rectangle(box.left, box.bottom, box.right, box.top)))


def straight_lines(entities: Iterable[Entity], *, one: float) -> Iterator[tuple[Vec, Vec]]:
    """Yield every straight line of entities; circles as polygons, dimensions and symbols by their lines.

    Parameters
    ----------
    entities
        What is drawn.
    one
        What plots as one millimetre.
    """
    for entity in entities:
        if isinstance(entity, Line):
            yield entity.start, entity.end
        elif isinstance(entity, Polyline):
            points = entity.points
            yield from zip(points, points[1:])
            if entity.closed:
                yield points[-1], points[0]
        elif isinstance(entity, Group):
            yield from straight_lines(entity.entities, one=one)
        elif isinstance(entity, Circle):
            (x, y), r = entity.centre, entity.radius
            turns = [math.tau * step / SIDES for step in range(SIDES + 1)]
            ring = [(x + r * math.cos(turn), y + r * math.sin(turn)) for turn in turns]
            yield from zip(ring, ring[1:])
        elif isinstance(entity, SubDrawing):
            dx, dy = entity.step
            for (x0, y0), (x1, y1) in straight_lines(entity.entities, one=one):
                yield (x0 + dx, y0 + dy), (x1 + dx, y1 + dy)
        elif not isinstance(entity, (Text, Hatch)):
            yield from straight_lines(plain([entity], one=one), one=one)
