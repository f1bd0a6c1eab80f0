"""Room for a label near a point of an elevation, with a leader when it is not right beside."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import product

import numpy as np
import numpy.typing as npt

from layout.drawing.facenotes import FaceNotes, within_run
from layout.drawing.model.entities import Box, Line, Vec
from layout.shapes import highest, lowest


BESIDE = 3.0
"""A label this near to what it names needs no leader [plotted mm]."""
NEAR = 9.0
"""A label stands so near in any way of writing it sooner than further off in the best [plotted mm]."""
FARTHEST = 24.0
"""A label is put no further away than this, between the edges [plotted mm]."""

AT_ONCE = 256
"""Places that are held against what is taken at once: most labels stand on one of the first."""

FloatArray = npt.NDArray[np.float64]
FoundRoom = tuple[int, Vec, list[Line]]
"""Which of the sizes fits, where its middle is, and the leader to it."""


def spot(notes: FaceNotes, point: Vec, sizes: Sequence[tuple[float, float]], *, reach: float) -> FoundRoom | None:
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
    far = FARTHEST * one + reach
    around = Box(point[0] - far, point[1] - far, point[0] + far, point[1] + far).grown(max(max(each) for each in sizes))
    taken, hard, soft = notes.places.near(around), notes.ink.straight(around), notes.soft.straight(around)
    passes: list[tuple[list[tuple[float, float, float, float]], bool, bool]] = [
        ([*taken, *hard, *soft], True, True), ([*taken, *hard], True, False), (taken, False, False)]
    for blocked, strict, keep_off_soft in passes:
        others = np.array(blocked).reshape(-1, 4)
        for (least, most), (number, (wide, high)) in product(((0.0, NEAR), (NEAR, FARTHEST)), enumerate(sizes)):
            steps = _steps(round(wide / one, 2), round(high / one, 2), round(reach / one, 2), least, most)
            x, y = point[0] + steps[:, 1] * one, point[1] + steps[:, 2] * one
            boxes = np.column_stack((x - wide / 2, y - high / 2, x + wide / 2, y + high / 2))
            for at in _open(boxes, (view.left, low, view.right, top), others):
                box, gap = Box(*map(float, boxes[at])), float(steps[at, 0])
                if strict and notes.lines_in(box, soft=keep_off_soft):
                    continue
                start = (min(max(point[0], box.left), box.right), min(max(point[1], box.bottom), box.top))
                if gap > BESIDE and not notes.places.clear_line(_toward(point, start, reach + one), start):
                    continue
                leader = [Line("leader", _toward(point, start, reach), start)] if gap > BESIDE else []
                notes.places.take(box)
                notes.draw(leader)
                return number, box.centre, leader
    return None


def _open(boxes: FloatArray, limits: tuple[float, float, float, float], blocked: FloatArray) -> Iterator[int]:
    """Yield, in order, which boxes lie within limits and on nothing that blocks them."""
    left, bottom, right, top = boxes.T
    within = np.flatnonzero((left >= limits[0]) & (bottom >= limits[1]) & (right <= limits[2]) & (top <= limits[3]))
    for start in range(0, len(within), AT_ONCE):
        some = within[start:start + AT_ONCE]
        left, bottom, right, top = boxes[some].T[:, :, None]
        taken = (left < blocked[:, 2]) & (right > blocked[:, 0]) & (bottom < blocked[:, 3]) & (top > blocked[:, 1])
        yield from map(int, some[~taken.any(axis=1)])


@lru_cache(maxsize=512)
def _steps(wide: float, high: float, reach: float, least: float, most: float) -> FloatArray:
    """Return steps from a point to the middle of a box around it, the nearest first: the gap between, across, up.

    Parameters
    ----------
    wide, high
        Size of the box [plotted mm].
    reach
        What is kept clear around the point [plotted mm].
    least, most
        The gap is more than the first, and no more than the second [plotted mm].
    """
    columns = np.arange(-round((FARTHEST + wide / 2) / 1.25), round((FARTHEST + wide / 2) / 1.25) + 1) * 1.25
    rows = np.arange(-round((FARTHEST + high / 2) / 2.0), round((FARTHEST + high / 2) / 2.0) + 1) * 2.0
    dx, dy = (each.ravel() for each in np.meshgrid(columns, rows))
    gap = np.hypot(np.maximum(np.abs(dx) - wide / 2, 0.0), np.maximum(np.abs(dy) - high / 2, 0.0)) - reach
    # right of the point is best, then left of it, above, below
    worth = gap + 0.5 * np.abs(dy) / (1 + np.abs(dx)) * np.where(dy >= 0, 1.0, 1.2) + np.where(dx < 0, 0.3, 0.0)
    order = np.lexsort((dy, dx, np.round(worth, 9)))
    kept = order[(gap[order] >= 1.0) & (gap[order] > least) & (gap[order] <= most)]
    return np.column_stack((gap[kept], dx[kept], dy[kept]))


def _toward(point: Vec, to: Vec, reach: float) -> Vec:
    """Return the point a distance from one point toward another."""
    dx, dy = to[0] - point[0], to[1] - point[1]
    length = max((dx * dx + dy * dy) ** 0.5, 1e-9)
    return point[0] + dx / length * reach, point[1] + dy / length * reach
