"""Lines joined to outlines, and outlines taken apart into the profiles of a wall.

Lengths are ticks, not yet whole: everything is rounded once, at the end. A gap, or a side out of plumb, of up to
one tick (1/16 in, 1 mm) is taken for drafting.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace

from layout.errors import Fault
from layout.job.trace.drawn import Chain, Place, Vec

SLACK = 1.0
"""What is taken for drafting [ticks]."""
_NEAR = SLACK * (1 + 1e-9) + 1e-6
"""The slack, and what floating point makes of it far from the origin."""
_STEEP = 4.0
"""A side leaning no more than the slack is plumb when it is this many times as high as it leans."""

Line = tuple[Vec, ...]
End = tuple[int, int]
"""A chain, and its first (0) or last (-1) point."""


class Crooked(Exception):
    """An outline is no wall, or a line no profile: why, and at which point of it [ticks] where that is known."""

    def __init__(self, why: str, point: Vec | None = None) -> None:
        self.point = point
        super().__init__(why)

    def fault(self, place: Place, *, of: str = "", hint: str = "") -> Fault:
        """Return the fault of what stands at a place."""
        there = place if self.point is None else place.there(self.point)
        return there.fault(f"{of} {self}" if of else str(self), hint=hint)


# --- joining -----------------------------------------------------------------------------------

class Moved:
    """How far anything was moved so far [ticks]."""

    def __init__(self) -> None:
        self.most = 0.0

    def note(self, distance: float) -> None:
        """Take note of a distance."""
        self.most = max(self.most, distance)


def joined(chains: Sequence[Chain], moved: Moved) -> tuple[list[Chain], list[Fault]]:
    """Join open lines end to end.

    Parameters
    ----------
    chains
        Lines of one role, open and closed.
    moved
        Told the width of every gap that is closed.

    Returns
    -------
    list of Chain
        Longer lines, closed where their ends meet; what was closed comes first, as it was.
    list of Fault
        Where more than two ends meet, or a line has no length.

    Notes
    -----
    Walls drawn without their bottom edge, one beside another, are not joined at their feet.
    """
    done: list[Chain] = []
    opened: list[Chain] = []
    faults: list[Fault] = []
    for chain in chains:
        points = _apart(chain.points)
        gap = _gap(points[0], points[-1])
        if len(points) < 2:
            faults.append(chain.place.fault("must have a length"))
        elif not chain.closed and (len(points) <= 3 or gap > _NEAR):
            opened.append(replace(chain, points=points))
        elif len(_ring(points)) < 3:
            faults.append(chain.place.fault("must have an area"))
        else:
            moved.note(gap if gap <= _NEAR else 0.0)
            done.append(replace(chain, points=_ring(points), closed=True))
    partners, branches = _partners(opened)
    for index in sorted({index for index, _ in branches}):
        faults.append(opened[index].place.fault(
            "must not meet more than one other line at an end", hint="draw each outline as one closed polyline"))
    for one, other in partners.items():
        moved.note(_gap(_point(opened, one), _point(opened, other)))
    return [*done, *_walked(opened, partners)], faults


def _gap(one: Vec, other: Vec) -> float:
    return math.hypot(one[0] - other[0], one[1] - other[1])


def _apart(points: Line) -> Line:
    """Return points without those that repeat the one before."""
    kept = [points[0]]
    for point in points[1:]:
        if _gap(point, kept[-1]) > 1e-6:
            kept.append(point)
    return tuple(kept)


def _ring(points: Line) -> Line:
    """Return a closed line's points, the first not repeated."""
    return points[:-1] if len(points) > 1 and _gap(points[0], points[-1]) <= _NEAR else points


def _point(chains: Sequence[Chain], end: End) -> Vec:
    return chains[end[0]].points[end[1]]


def _partners(chains: Sequence[Chain]) -> tuple[dict[End, End], list[End]]:
    """Return which end meets which, and the ends that meet several."""
    cells: dict[tuple[int, int], list[End]] = defaultdict(list)
    ends = [(index, side) for index in range(len(chains)) for side in (0, -1)]
    for end in ends:
        x, y = _point(chains, end)
        cells[math.floor(x / 2), math.floor(y / 2)].append(end)
    hoods = [is_hood(chain.points) for chain in chains]
    partners: dict[End, End] = {}
    branches: list[End] = []
    for end in ends:
        x, y = _point(chains, end)
        column, row = math.floor(x / 2), math.floor(y / 2)
        near: list[End] = []
        for i in (column - 1, column, column + 1):
            for j in (row - 1, row, row + 1):
                for other in cells.get((i, j), ())[:100]:
                    if other != end and not (hoods[end[0]] and hoods[other[0]] and other[0] != end[0]) \
                            and _gap((x, y), _point(chains, other)) <= _NEAR:
                        near.append(other)
        if len(near) > 1:
            branches.append(end)
        elif near:
            partners[end] = near[0]
    return {one: other for one, other in partners.items() if partners.get(other) == one}, branches


def _walked(chains: Sequence[Chain], partners: dict[End, End]) -> Iterator[Chain]:
    """Yield the chains that the partners make, each walked from one end; rings last."""
    used: set[int] = set()
    starts = [(index, side) for index in range(len(chains)) for side in (0, -1) if (index, side) not in partners]
    for start in (*starts, *((index, 0) for index in range(len(chains)))):
        if start[0] in used:
            continue
        points: list[Vec] = []
        end = start
        closed = False
        while True:
            index, side = end
            used.add(index)
            line = chains[index].points if side == 0 else chains[index].points[::-1]
            points += line[1:] if points else line
            far = (index, -1 if side == 0 else 0)
            if far not in partners:
                break
            end = partners[far]
            if end[0] in used:
                closed = True
                break
        first = chains[start[0]]
        yield replace(first, points=_ring(tuple(points)) if closed else tuple(points), closed=closed)


def is_hood(points: Line) -> bool:
    """Tell whether an open line is a wall without its bottom edge: plumb up, over the top, plumb down."""
    if len(points) < 4:
        return False
    xs = [x for x, _ in points]
    line = points if points[0][0] <= points[-1][0] else points[::-1]
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = line[0], line[1], line[-2], line[-1]
    plumb = abs(x0 - x1) <= SLACK and abs(x2 - x3) <= SLACK and y1 > y0 + SLACK and y2 > y3 + SLACK
    return plumb and x0 <= min(xs) + SLACK and x3 >= max(xs) - SLACK and x3 - x0 > SLACK


# --- taking apart ------------------------------------------------------------------------------

def edges(ring: Line, moved: Moved) -> tuple[Line, Line]:
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
        When an edge turns back, so that it is no profile.
    """
    xs = [x for x, _ in ring]
    left, right = min(xs), max(xs)
    if right - left <= 2 * SLACK:
        raise Crooked("must have a length")
    points = [(left if x - left <= SLACK else right if right - x <= SLACK else x, y) for x, y in ring]
    for (x, _), (drawn, _) in zip(points, ring):
        moved.note(abs(x - drawn))
    area = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(
        _shifted(points), [*_shifted(points)[1:], _shifted(points)[0]]))
    if abs(area) <= 2 * SLACK * (right - left):
        raise Crooked("must have an area")
    if area > 0:
        points.reverse()
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


def _shifted(points: Sequence[Vec]) -> list[Vec]:
    """Return points near the origin, where areas do not drown in rounding."""
    x0, y0 = points[0]
    return [(x - x0, y - y0) for x, y in points]


def profile(points: Sequence[Vec], moved: Moved) -> Line:
    """Return a line as a profile, from left to right, its nearly plumb sides plumb; tell how far any was moved.

    Raises
    ------
    Crooked
        When it turns back, or stands still.
    """
    line = list(points if points[0][0] <= points[-1][0] else points[::-1])
    end = line[-1][0]
    if end - line[0][0] <= SLACK:
        raise Crooked("must run from left to right")
    kept = [line[0]]
    for x, y in line[1:]:
        before, level = kept[-1]
        lean = abs(x - before)
        if lean <= SLACK and abs(y - level) >= _STEEP * lean and (x < before or x < end):
            moved.note(lean)
            x = before
        if x < before:
            raise Crooked("must not turn back or overhang", (x, y))
        kept.append((x, y))
    return tuple(kept)


def clipped(line: Line, *, left: float, right: float) -> Line:
    """Return the part of a profile between two stations; empty when no more than the slack of it is there."""
    left, right = max(left, line[0][0]), min(right, line[-1][0])
    if right - left <= SLACK:
        return ()
    inside = [(x, y) for x, y in line if left < x < right]
    return (left, level_at(line, left, from_right=True)), *inside, (right, level_at(line, right, from_right=False))


def level_at(line: Line, at: float, *, from_right: bool) -> float:
    """Return a profile's elevation at a station, on one side of a step there."""
    for (x0, y0), (x1, y1) in zip(line, line[1:]):
        if x0 < x1 and (x0 <= at < x1 if from_right else x0 < at <= x1):
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return line[0][1] if at <= line[0][0] else line[-1][1]


def laid_end_to_end(parts: Sequence[Line], *, left: float, right: float) -> Line:
    """Return parts of profiles as one profile from end to end of a wall.

    Raises
    ------
    Crooked
        When they lie over one another, or leave a gap.
    """
    pieces = sorted((piece for part in parts if (piece := clipped(part, left=left, right=right))),
                    key=lambda piece: (piece[0][0], piece[0][1]))
    if not pieces:
        raise Crooked("must cross the wall")
    whole: list[Vec] = []
    at = left
    for piece in pieces:
        if piece[0][0] > at + _NEAR:
            raise Crooked("must run from end to end of the wall", (at, piece[0][1]))
        if piece[0][0] < at - _NEAR:
            raise Crooked("must be one line, not two over one another", piece[0])
        whole += [(max(x, at), y) for x, y in piece]
        at = piece[-1][0]
    if at < right - _NEAR:
        raise Crooked("must run from end to end of the wall", whole[-1])
    return ((left, whole[0][1]), *whole[1:-1], (right, whole[-1][1]))


def is_rectangle(ring: Line) -> bool:
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
