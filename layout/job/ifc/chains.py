"""Walls on plan chained into runs: which end meets which, which way round, on which side the soil is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from layout.errors import Fault
from layout.job.ifc.solids import Solid, StraightWall
from layout.job.trace.drawn import Vec

TOUCH = {"in": 4.0, "mm": 6.0}
"""How far apart walls that meet may stand [ticks]: a quarter of an inch."""
_PARALLEL = math.sin(math.radians(1.0))
End = tuple[int, int]
"""A wall, and its left (0) or right (1) end as it is drawn."""
_LEAVE = "leave it out with --leave-out, or say in the model that it is not external"


@dataclass(frozen=True)
class Chained:
    """A wall in its run: ``forward`` when the run goes along it as it is drawn, which has the soil on its near side."""

    wall: StraightWall
    forward: bool

    @property
    def heading(self) -> Vec:
        """The direction of the run along it."""
        x, y = self.wall.frame.along
        return (x, y) if self.forward else (-x, -y)

    @property
    def soil(self) -> float:
        """Where its soil side lies across it."""
        return self.wall.near if self.forward else self.wall.far


@dataclass(frozen=True)
class Loop:
    """Walls one after another, left to right as seen from the soil side."""

    walls: tuple[Chained, ...]
    closed: bool


def loops_of(walls: Sequence[StraightWall], *, unit: str, side: str, faults: list[Fault]) -> list[Loop]:
    """Return the runs that walls make.

    Parameters
    ----------
    walls
        The walls.
    unit
        Name of the job's unit.
    side
        left or right: where the soil is beside walls that close no loop, as they are drawn; empty when not told.
    faults
        What is wrong is put here.
    """
    meets = _meetings(walls, TOUCH[unit], faults)
    if faults:
        return []
    used: set[int] = set()
    loops: list[Loop] = []
    for index in range(len(walls)):
        if index in used:
            continue
        order, closed = _walk(index, meets)
        used |= {wall for wall, _ in order}
        chain = [Chained(walls[wall], forward) for wall, forward in order]
        loops.append(_turned(chain, closed, side, faults))
    _apart(loops, faults)
    return loops


# --- which end meets which ---------------------------------------------------------------------

def _meetings(walls: Sequence[StraightWall], touch: float, faults: list[Fault]) -> dict[End, End]:
    """Return which end meets which; an end that meets several, or a wall between its ends, is told."""
    found: dict[End, list[End]] = {}
    for i, one in enumerate(walls):
        for j in range(i + 1, len(walls)):
            other = walls[j]
            if _gap(one, other) > touch:
                continue
            if one.low > other.high - touch or other.low > one.high - touch:
                if _stacked(one, other, touch):
                    faults.append(other.solid.fault("must not stand on or under another wall", hint="that is "
                                                    f"{one.solid.place()}; name one storey with --storey"))
                continue
            ends = _ends(one, other, touch)
            if ends is None:
                faults.append(other.solid.fault("must meet another wall end to end or at a corner, not beside it",
                                                hint=f"that is {one.solid.place()}; {_LEAVE}"))
                continue
            mine, its = ends
            if mine is None and its is None:
                faults.append(other.solid.fault("must not cross or cover another wall", hint=f"that is "
                                                f"{one.solid.place()}; name one storey with --storey"))
            elif mine is None or its is None:
                tee, bar = (one, other) if its is None else (other, one)
                faults.append(tee.solid.fault("must not meet another wall between its ends",
                                              hint=f"that is {bar.solid.place()}; {_LEAVE}"))
            else:
                found.setdefault((i, mine), []).append((j, its))
                found.setdefault((j, its), []).append((i, mine))
    for (index, _), others in sorted(found.items()):
        if len(others) > 1:
            names = " and ".join(walls[wall].solid.place() for wall, _ in others[:3])
            faults.append(walls[index].solid.fault("must meet one wall at each end", got=names, hint=_LEAVE))
    return {end: others[0] for end, others in found.items()}


def _stacked(one: StraightWall, other: StraightWall, touch: float) -> bool:
    """Tell whether one of two walls stands on the other, or close over it."""
    (ux, uy), (vx, vy) = one.frame.along, other.frame.along
    apart = max(one.low - other.high, other.low - one.high)
    return abs(ux * vy - uy * vx) <= _PARALLEL and _in_line(one, other, touch) == (None, None) \
        and apart <= max(one.thick, other.thick) * 2


def _gap(one: StraightWall, other: StraightWall) -> float:
    """Return about how far apart two rectangles on plan are; 0 or less when they touch."""
    gap = -math.inf
    for wall in (one, other):
        x, y = wall.frame.along
        for ax, ay in ((x, y), (-y, x)):
            mine = [px * ax + py * ay for px, py in one.corners()]
            its = [px * ax + py * ay for px, py in other.corners()]
            gap = max(gap, min(its) - max(mine), min(mine) - max(its))
    return gap


def _ends(one: StraightWall, other: StraightWall, touch: float) -> tuple[int | None, int | None] | None:
    """Return at which end of each two walls meet, None for between its ends; None when they do not meet at all."""
    (ux, uy), (vx, vy) = one.frame.along, other.frame.along
    cross = ux * vy - uy * vx
    if abs(cross) <= _PARALLEL:
        return _in_line(one, other, touch)
    ox, oy = one.frame.back(0.0, one.middle)
    qx, qy = other.frame.back(0.0, other.middle)
    at_one = ((qx - ox) * vy - (qy - oy) * vx) / cross
    at_other = ((qx - ox) * uy - (qy - oy) * ux) / cross
    reach = (one.thick + other.thick) / (2 * abs(cross)) * 1.05 + touch
    return _end_at(one, at_one, reach), _end_at(other, at_other, reach)


def _end_at(wall: StraightWall, at: float, reach: float) -> int | None:
    away = [abs(at - wall.left), abs(at - wall.right)]
    nearest = 0 if away[0] <= away[1] else 1
    return nearest if away[nearest] <= reach else None


def _in_line(one: StraightWall, other: StraightWall, touch: float) -> tuple[int | None, int | None] | None:
    """Return the ends at which two parallel walls meet; None when they lie side by side."""
    us = [one.frame.put(corner)[0] for corner in other.corners()]
    vs = [one.frame.put(corner)[1] for corner in other.corners()]
    over_u = min(one.right, max(us)) - max(one.left, min(us))
    over_v = min(one.far, max(vs)) - max(one.near, min(vs))
    if over_u > touch + min(one.thick, other.thick) / 2 and over_v > touch:
        return None, None
    away, i, j = min((math.dist(one.end(i), other.end(j)), i, j) for i in (0, 1) for j in (0, 1))
    return (i, j) if away <= touch + max(over_u, 0.0) + abs(one.thick - other.thick) / 2 else None


# --- which way round ---------------------------------------------------------------------------

def _walk(start: int, meets: dict[End, End]) -> tuple[list[tuple[int, bool]], bool]:
    """Return walls one after another from one of them, with the way along each, and whether they close a loop."""
    order: list[tuple[int, bool]] = [(start, True)]
    at: End = (start, 1)
    while at in meets:
        wall, end = meets[at]
        if wall == start:
            return order, True
        order.append((wall, end == 0))
        at = wall, 1 - end
    before: list[tuple[int, bool]] = []
    at = (start, 0)
    while at in meets:
        wall, end = meets[at]
        before.append((wall, end == 1))
        at = wall, 1 - end
    return [*before[::-1], *order], False


def _turned(chain: list[Chained], closed: bool, side: str, faults: list[Fault]) -> Loop:
    """Return walls left to right as seen from the soil side: counter-clockwise where they close a loop."""
    if closed:
        points = [wall.wall.end(0 if wall.forward else 1) for wall in chain]
        area = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(
            _near(points), [*_near(points)[1:], _near(points)[0]]))
        if area < 0:
            back = _reversed(chain)
            chain = [back[-1], *back[:-1]]
        return Loop(tuple(chain), True)
    sides = {wall.forward for wall in chain}
    if not side:
        faults.append(chain[0].wall.solid.fault(
            "must be one of walls that close a loop, or the side of the soil must be told", hint="say --side left or "
            "--side right, as the walls are drawn"))
    elif len(sides) > 1:
        faults.append(chain[0].wall.solid.fault("must be drawn the same way as the walls it meets, for --side to mean "
                                                "one side of them all"))
    elif sides == {side == "left"}:
        chain = _reversed(chain)
    return Loop(tuple(chain), False)


def _near(points: Sequence[Vec]) -> list[Vec]:
    """Return points near the origin, where areas do not drown in rounding."""
    x0, y0 = points[0]
    return [(x - x0, y - y0) for x, y in points]


def _reversed(chain: Sequence[Chained]) -> list[Chained]:
    return [Chained(wall.wall, not wall.forward) for wall in reversed(chain)]


def _apart(loops: Sequence[Loop], faults: list[Fault]) -> None:
    """Tell walls that stand inside another loop: no soil lies against them, or it lies on their other side."""
    for loop in loops:
        for other in loops:
            if other is loop or not other.closed:
                continue
            ring = [wall.wall.end(0 if wall.forward else 1) for wall in other.walls]
            point = loop.walls[0].wall.end(0)
            if _inside(point, ring):
                solids: list[Solid] = [wall.wall.solid for wall in loop.walls]
                faults.append(solids[0].fault("must not stand inside a loop of other walls, where there is no soil",
                                              hint=_LEAVE))
                break


def _inside(point: Vec, ring: Sequence[Vec]) -> bool:
    x, y = point
    inside = False
    for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0])):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) / (y1 - y0) * (x1 - x0):
            inside = not inside
    return inside
