"""Room for a label near a point of an elevation, with a leader when it is not right beside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

from layout.drawing.facenotes import FaceNotes, within_run
from layout.drawing.model.entities import Box, Line, Vec
from layout.shapes import highest, lowest


BESIDE = 3.0
"""A label this near to what it names needs no leader [plotted mm]."""
FARTHEST = 24.0
"""A label is put no further away than this, between the edges [plotted mm]."""

Found = tuple[int, Vec, list[Line]]
"""Which of the sizes fits, where its middle is, and the leader to it."""


def spot(notes: FaceNotes, point: Vec, sizes: Sequence[tuple[float, float]], *, reach: float) -> Found | None:
    """Find the nearest room for a label near a point, and its leader when it is not right beside; take the room.

    Lines, laps and the grade line are kept clear of when that is possible; those of strips and collars give way first.

    Parameters
    ----------
    notes
        The notes of the elevation.
    point
        What is labelled.
    sizes
        Width and height of each way to write the label, the best first [ticks].
    reach
        What is kept clear around the point [ticks].
    """
    view, one = notes.view, notes.one
    low, top = lowest(view.wall.bottom, *within_run(view)), highest(view.wall.wall_top, *within_run(view))
    limits = Box(view.left, low, view.right, top)
    for strict, soft in ((True, True), (True, False), (False, False)):
        for number, (wide, high) in enumerate(sizes):
            for gap, dx, dy in _steps(round(wide / one, 2), round(high / one, 2), round(reach / one, 2)):
                x, y = point[0] + dx * one, point[1] + dy * one
                box = Box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
                if not limits.holds(box) or (strict and notes.lines_in(box, soft=soft)) or not notes.places.free(box):
                    continue
                start = (min(max(point[0], box.left), box.right), min(max(point[1], box.bottom), box.top))
                if gap > BESIDE and not notes.places.clear_line(_toward(point, start, reach + one), start):
                    continue
                leader = [Line("leader", _toward(point, start, reach), start)] if gap > BESIDE else []
                notes.places.take(box)
                notes.draw(leader)
                return number, (x, y), leader
    return None


@lru_cache(maxsize=256)
def _steps(wide: float, high: float, reach: float) -> tuple[tuple[float, float, float], ...]:
    """Return steps from a point to the middle of a box around it, the nearest first, each with the gap between.

    Parameters
    ----------
    wide, high
        Size of the box [plotted mm].
    reach
        What is kept clear around the point [plotted mm].
    """
    found: list[tuple[float, float, float, float]] = []
    for column in range(-round((FARTHEST + wide / 2) / 1.25), round((FARTHEST + wide / 2) / 1.25) + 1):
        for row in range(-round((FARTHEST + high / 2) / 2.5), round((FARTHEST + high / 2) / 2.5) + 1):
            dx, dy = column * 1.25, row * 2.5
            gap = math.hypot(max(abs(dx) - wide / 2, 0.0), max(abs(dy) - high / 2, 0.0)) - reach
            if 1.0 <= gap <= FARTHEST:
                # right of the point is best, then left of it, above, below
                found.append((gap + 0.5 * abs(dy) / (1 + abs(dx)) * (1.0 if dy >= 0 else 1.2) + (dx < 0) * 0.3, gap, dx,
                              dy))
    return tuple((gap, dx, dy) for _, gap, dx, dy in sorted(found))


def _toward(point: Vec, to: Vec, reach: float) -> Vec:
    """Return the point a distance from one point toward another."""
    dx, dy = to[0] - point[0], to[1] - point[1]
    length = max((dx * dx + dy * dy) ** 0.5, 1e-9)
    return point[0] + dx / length * reach, point[1] + dy / length * reach
