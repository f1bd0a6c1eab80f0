"""Outlines taken apart into the profiles of a wall.

Lengths are ticks, not yet whole: everything is rounded once, at the end.
"""

from __future__ import annotations

from collections.abc import Sequence

from layout.errors import Fault
from layout.job.trace.drawn import DrawingPlace, Vec
from layout.job.trace.joining import SLACK, OpenLine, Moved

STEEP = 4.0
"""A side leaning no more than the slack is plumb when it is this many times as high as it leans."""
LEANING = 12.0
"""A side leaning more is meant to be plumb, and is not, when it is this many times as high as it leans (5 degrees)."""


class Crooked(Exception):
    """An outline is no wall, or a line no profile: why, and at which point of it [ticks] where that is known.

    ``sizes`` are lengths [ticks] that stand in the reason, told in drawing units.
    """

    def __init__(self, why: str, point: Vec | None = None, sizes: tuple[float, ...] = ()) -> None:
        self.point, self.sizes = point, sizes
        super().__init__(why)

    def fault(self, place: DrawingPlace, *, of: str = "", hint: str = "") -> Fault:
        """Return the fault of what stands at a place."""
        there = place if self.point is None else place.there(self.point)
        why = str(self).format(*(f"{size / place.scale:.4g}" for size in self.sizes)) if self.sizes else str(self)
        return there.fault(f"{of} {why}" if of else why, hint=hint)


# --- taking apart ------------------------------------------------------------------------------

def edges(ring: OpenLine, moved: Moved) -> tuple[OpenLine, OpenLine]:
    """Return the upper and the lower edge of an outline, each from left to right.

    Parameters
    ----------
    ring
        A closed line whose left and right ends are plumb, or come to a point.
    moved
        Told how far a side was moved to be plumb.

    Raises
    ------
    Crooked
        When an edge turns back, so that it is no profile, or a side leans more than the slack.
    """
    xs = [x for x, _ in ring]
    left, right = min(xs), max(xs)
    if right - left <= 2 * SLACK:
        raise Crooked("must have a length")
    slack = moved.slack
    points = [(left if x - left <= slack else right if right - x <= slack else x, y) for x, y in ring]
    for end in (left, right):
        moved.note(max((abs(x - end) for x, _ in ring if abs(x - end) <= slack), default=0.0), "sides made plumb")
    area = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(
        _shifted(points), [*_shifted(points)[1:], _shifted(points)[0]]))
    if abs(area) <= 2 * SLACK * (right - left):
        raise Crooked("must have an area")
    if area > 0:
        points.reverse()
    for (x0, y0), (x1, y1) in zip(points, (*points[1:], points[0])):
        _plumb((x0, y0), (x1, y1), slack)
    start = max((index for index, point in enumerate(points) if point[0] == left), key=lambda i: points[i][1])
    points = points[start:] + points[:start]
    turn = max((index for index, point in enumerate(points) if point[0] == right), key=lambda i: points[i][1])
    foot = max((index for index, point in enumerate(points) if point[0] == right), key=lambda i: -points[i][1])
    heel = min((index for index, point in enumerate(points) if point[0] == left),
               key=lambda i: (points[i][1], -i))
    if foot < turn or any(x != right for x, _ in points[turn:foot + 1]):
        raise Crooked("must have a plumb right end", points[turn])
    if heel and (heel < foot or any(x != left for x, _ in points[heel:])):
        raise Crooked("must have a plumb left end", points[0])
    lower = points[foot:heel + 1] if heel else [*points[foot:], points[0]]
    return profile(points[:turn + 1], moved), profile(lower[::-1], moved)


def _plumb(start: Vec, end: Vec, slack: float) -> None:
    """Raise where a side is meant to be plumb, and is not within the slack."""
    lean, rise = abs(end[0] - start[0]), abs(end[1] - start[1])
    if lean > slack and rise >= LEANING * lean:
        raise Crooked("must be plumb; it leans {} over a height of {}", end, (lean, rise))


def _shifted(points: Sequence[Vec]) -> list[Vec]:
    """Return points near the origin, where areas do not drown in rounding."""
    x0, y0 = points[0]
    return [(x - x0, y - y0) for x, y in points]


def profile(points: Sequence[Vec], moved: Moved, *, built: bool = True) -> OpenLine:
    """Return a line as a profile, from left to right, its nearly plumb sides plumb; tell how far any was moved.

    Raises
    ------
    Crooked
        When it turns back, stands still, or, where it is ``built``, a side leans more than the slack.
    """
    line = list(points if points[0][0] <= points[-1][0] else points[::-1])
    end = line[-1][0]
    if end - line[0][0] <= SLACK:
        raise Crooked("must run from left to right")
    kept = [line[0]]
    for x, y in line[1:]:
        before, level = kept[-1]
        lean = abs(x - before)
        if lean <= moved.slack and abs(y - level) >= STEEP * lean and (x < before or x < end):
            moved.note(lean, "sides made plumb")
            x = before
        if x < before:
            raise Crooked("must not turn back or overhang", (x, y))
        if built:
            _plumb((before, level), (x, y), moved.slack)
        kept.append((x, y))
    return tuple(kept)


def clipped(line: OpenLine, *, left: float, right: float) -> OpenLine:
    """Return the part of a profile between two stations; empty when no more than the slack of it is there."""
    left, right = max(left, line[0][0]), min(right, line[-1][0])
    if right - left <= SLACK:
        return ()
    inside = [(x, y) for x, y in line if left < x < right]
    return (left, level_at(line, left, from_right=True)), *inside, (right, level_at(line, right, from_right=False))


def level_at(line: OpenLine, at: float, *, from_right: bool) -> float:
    """Return a profile's elevation at a station, on one side of a step there."""
    for (x0, y0), (x1, y1) in zip(line, line[1:]):
        if x0 < x1 and (x0 <= at < x1 if from_right else x0 < at <= x1):
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return line[0][1] if at <= line[0][0] else line[-1][1]


def laid_end_to_end(parts: Sequence[OpenLine], moved: Moved, *, left: float, right: float) -> OpenLine:
    """Return parts of profiles as one profile from end to end of a wall; what is drawn twice counts once.

    Raises
    ------
    Crooked
        When they lie over one another at other heights, or leave a gap.
    """
    pieces = sorted((piece for part in parts if (piece := clipped(part, left=left, right=right))),
                    key=lambda piece: (piece[0][0], -piece[-1][0], piece[0][1]))
    if not pieces:
        raise Crooked("must cross the wall")
    whole: list[Vec] = []
    at = left
    for piece in pieces:
        if piece[0][0] > at + moved.near:
            raise Crooked("must run from end to end of the wall", (at, piece[0][1]))
        if whole and piece[0][0] < at - moved.near:
            if not same_height(whole, piece):
                raise Crooked("must be one line, not two over one another", piece[0])
            moved.counts["lines over one another, taken as one"] += 1
            if piece[-1][0] <= at + moved.near:
                continue
            piece = clipped(piece, left=at, right=right)
        moved.note(abs(piece[0][0] - at), "gaps closed")
        whole += [(max(x, at), y) for x, y in piece]
        at = piece[-1][0]
    if at < right - moved.near:
        raise Crooked("must run from end to end of the wall", whole[-1])
    moved.note(max(abs(whole[0][0] - left), abs(whole[-1][0] - right)), "gaps closed")
    return ((left, whole[0][1]), *whole[1:-1], (right, whole[-1][1]))


def same_height(one: Sequence[Vec], other: Sequence[Vec]) -> bool:
    """Tell whether two profiles run at one height, within a tick, where both run."""
    one, other = tuple(one), tuple(other)
    left, right = max(one[0][0], other[0][0]), min(one[-1][0], other[-1][0])
    stations = {left, right, *(x for x, _ in (*one, *other) if left < x < right)}
    return all(abs(level_at(one, x, from_right=side) - level_at(other, x, from_right=side)) <= SLACK
               for x in stations for side in (True, False) if not (x == left and not side or x == right and side))


def is_rectangle(ring: OpenLine) -> bool:
    """Tell whether an outline is a rectangle with level and plumb sides."""
    xs, ys = [x for x, _ in ring], [y for _, y in ring]
    left, right, bottom, top = min(xs), max(xs), min(ys), max(ys)
    if right - left <= 2 * SLACK or top - bottom <= 2 * SLACK:
        return False
    corners = {(x - left <= SLACK, y - bottom <= SLACK) for x, y in ring
               if min(x - left, right - x) <= SLACK and min(y - bottom, top - y) <= SLACK}
    for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0])):
        plumb = abs(x0 - x1) <= SLACK and min(x0 - left, right - x0) <= SLACK
        level = abs(y0 - y1) <= SLACK and min(y0 - bottom, top - y0) <= SLACK
        if not (plumb or level):
            return False
    return len(corners) == 4
