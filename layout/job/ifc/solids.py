"""Plain solids, and what the solid of a straight wall is on plan and in elevation [ticks]."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from layout.errors import Fault
from layout.job.trace.drawn import Vec
from layout.job.tree import show

Point3 = tuple[float, float, float]
NEAR = 1.0
"""What is taken for one place [ticks]."""


@dataclass(frozen=True)
class Solid:
    """One element of a model: what it is called, and its surface as triangles.

    ``kind`` is what it is read as; ``axis`` is the direction on plan in which it is drawn.
    """

    guid: str
    entity: str
    name: str
    tag: str
    title: str
    kind: str
    storey: str = ""
    points: tuple[Point3, ...] = ()
    triangles: tuple[tuple[int, int, int], ...] = ()
    axis: Vec = (1.0, 0.0)

    def shaped(self, points: Sequence[Point3], triangles: Sequence[tuple[int, int, int]], axis: Vec) -> Solid:
        """Return the solid with its surface."""
        return replace(self, points=tuple(points), triangles=tuple(triangles), axis=axis)

    def place(self) -> str:
        """Return the element as it is told."""
        name = f" {show(self.name)}" if self.name else ""
        return f"{self.entity} {show(self.guid, most=30)}{name}"

    def fault(self, what: str, *, got: str = "", hint: str = "") -> Fault:
        """Return a fault of this element."""
        return Fault(0, self.place(), what, got, hint)


class Odd(Exception):
    """A solid is no wall that is understood; the message is the rule it breaks."""


@dataclass(frozen=True)
class Frame:
    """A direction on plan and the one to its left, through an origin: u along, v to the left, z up."""

    origin: Vec
    along: Vec

    def put(self, point: Sequence[float]) -> Point3:
        """Return a point as (u, v, z)."""
        x, y = point[0] - self.origin[0], point[1] - self.origin[1]
        ux, uy = self.along
        return x * ux + y * uy, y * ux - x * uy, point[2] if len(point) > 2 else 0.0

    def back(self, u: float, v: float) -> Vec:
        """Return a point on plan."""
        ux, uy = self.along
        return self.origin[0] + u * ux - v * uy, self.origin[1] + u * uy + v * ux


@dataclass(frozen=True)
class StraightWall:
    """A wall on plan: from ``left`` to ``right`` along its frame, between ``near`` (right side) and ``far`` (left)."""

    solid: Solid
    frame: Frame
    left: float
    right: float
    near: float
    far: float
    low: float
    high: float

    @property
    def thick(self) -> float:
        """Its thickness."""
        return self.far - self.near

    @property
    def middle(self) -> float:
        """Where its centre line lies across it."""
        return (self.near + self.far) / 2

    def corners(self) -> list[Vec]:
        """Return the corners of its rectangle on plan."""
        return [self.frame.back(u, v) for u, v in (
            (self.left, self.near), (self.right, self.near), (self.right, self.far), (self.left, self.far))]

    def end(self, index: int) -> Vec:
        """Return the middle of its left (0) or right (1) end on plan."""
        return self.frame.back((self.left, self.right)[index], self.middle)


def straight(solid: Solid) -> StraightWall:
    """Return the wall that a solid is.

    Raises
    ------
    Odd
        When it is not straight, plumb and of one thickness.
    """
    longest = max(((a, b) for triangle in solid.triangles for a, b in zip(triangle, (*triangle[1:], triangle[0]))),
                  key=lambda pair: _plan(solid.points[pair[0]], solid.points[pair[1]]))
    (x0, y0, _), (x1, y1, _) = solid.points[longest[0]], solid.points[longest[1]]
    long = math.hypot(x1 - x0, y1 - y0)
    ways = [solid.axis] + ([((x1 - x0) / long, (y1 - y0) / long)] if long > NEAR else [])
    for x, y in ways:
        if x * solid.axis[0] + y * solid.axis[1] < -1e-9:
            x, y = -x, -y
        frame = Frame((solid.points[0][0], solid.points[0][1]), (x, y))
        local = [frame.put(point) for point in solid.points]
        near, far = min(v for _, v, _ in local), max(v for _, v, _ in local)
        if all(min(v - near, far - v) <= NEAR for _, v, _ in local) and far - near > 2 * NEAR:
            left, right = min(u for u, _, _ in local), max(u for u, _, _ in local)
            return StraightWall(solid, frame, left, right, near, far, min(z for _, _, z in local),
                                max(z for _, _, z in local))
    raise Odd("must be a straight, plumb wall of one thickness")


def _plan(one: Point3, other: Point3) -> float:
    return math.hypot(one[0] - other[0], one[1] - other[1])


def rings_at(wall: StraightWall, across: float) -> list[tuple[Vec, ...]]:
    """Return the outlines of a wall's surface on one side, as (u, z), the largest first.

    Parameters
    ----------
    wall
        The wall.
    across
        The side: its ``near`` or its ``far``.

    Raises
    ------
    Odd
        When the surface there has no clear outline.
    """
    local = [wall.frame.put(point) for point in wall.solid.points]
    sides: dict[tuple[Vec, Vec], int] = defaultdict(int)
    for triangle in wall.solid.triangles:
        if all(abs(local[corner][1] - across) <= NEAR for corner in triangle):
            flat = [(round(local[corner][0], 2), round(local[corner][2], 2)) for corner in triangle]
            for a, b in zip(flat, (*flat[1:], flat[0])):
                if a != b:
                    sides[min(a, b), max(a, b)] += 1
    after: dict[Vec, list[Vec]] = defaultdict(list)
    for (a, b), count in sorted(sides.items()):
        if count % 2:
            after[a].append(b)
            after[b].append(a)
    if not after or any(len(others) != 2 for others in after.values()):
        raise Odd("must have a surface with one clear outline on each side")
    rings: list[tuple[Vec, ...]] = []
    left = set(after)
    while left:
        start = min(left)
        ring, before, at = [start], start, after[start][0]
        while at != start:
            ring.append(at)
            one, other = after[at]
            before, at = at, other if one == before else one
        left -= set(ring)
        rings.append(tuple(ring))
    return sorted(rings, key=lambda ring: -_area(ring))


def _area(ring: Sequence[Vec]) -> float:
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0])))) / 2
