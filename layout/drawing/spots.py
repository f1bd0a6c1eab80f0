"""Room for a label near a point of an elevation, with a leader when it is not right beside."""

from __future__ import annotations

from layout.drawing.facenotes import FaceNotes, within_run
from layout.drawing.labels import around
from layout.drawing.model.entities import Box, Line, Vec
from layout.shapes import highest, lowest


def spot(notes: FaceNotes, point: Vec, *, wide: float, high: float, reach: float) -> tuple[Vec, list[Line]] | None:
    """Find room for a box near a point, and the leader to it when it is not right beside; take the room.

    Lap bands and the grade line are kept clear of when that is possible.
    """
    view, one = notes.view, notes.one
    low, top = lowest(view.wall.bottom, *within_run(view)), highest(view.wall.wall_top, *within_run(view))
    limits = Box(view.left, low, view.right, top)
    for first, last, strict, collars in ((1, 5, True, True), (1, 5, True, False), (5, 16, True, True),
                                         (1, 16, False, False)):
        for ring in range(first, last):
            out = reach + ring * 1.5 * one
            for centre in around(point, wide=wide, high=high, clear=out, rings=1):
                box = Box(centre[0] - wide / 2, centre[1] - high / 2, centre[0] + wide / 2, centre[1] + high / 2)
                if not (limits.holds(box) and notes.places.free(box)):
                    continue
                if strict and notes.lines_in(box, collars=collars):
                    continue
                start = (min(max(point[0], box.left), box.right), min(max(point[1], box.bottom), box.top))
                leader = Line("leader", _toward(point, start, reach), start)
                if ring > 2 and not notes.places.clear_line(_toward(point, start, reach + one), start):
                    continue
                notes.places.take(box)
                return centre, [leader] if ring > 2 else []
    return None


def _toward(point: Vec, to: Vec, reach: float) -> Vec:
    """Return the point a distance from one point toward another."""
    dx, dy = to[0] - point[0], to[1] - point[1]
    length = max((dx * dx + dy * dy) ** 0.5, 1e-9)
    return point[0] + dx / length * reach, point[1] + dy / length * reach
