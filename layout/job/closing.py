"""Does a closed run close: by how much it misses, which way, and which lengths or corners would close it.

Plain geometry on the faces' lengths and turns, so that whoever draws a plan can ask too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations
from typing import NamedTuple

from layout.records import Corner
from layout.units import Unit, round_ticks

FULL_TURN = 360
TURN_TOLERANCE = 1
"""A closed run's turns may miss a full one by this much, since surveyed angles are rounded [degrees]."""
GAP_TOLERANCE = {"in": 8, "mm": 13}
"""A closed run's ends may miss one another by this much, 1/2 in or 13 mm, as measured walls do [ticks]; our choice."""
MOST_SWAPPED = 60
"""Corners are tried in pairs on a run of no more faces than this."""
MOST_SHOWN = 3
"""Ways to close a run that are told."""


class PlanSide(NamedTuple):
    """A face as it lies on plan: its length [ticks], the corner at its right end, how far it turns there [degrees]."""

    length: int
    corner: Corner
    angle: float

    @property
    def turn(self) -> float:
        """How far the wall turns left at the corner [degrees], for one who walks it from left to right."""
        return self.angle if self.corner == "outside" else -self.angle if self.corner == "inside" else 0.0


@dataclass(frozen=True)
class Longer:
    """A face that is to be of another length: which, counted from 0, and how long [ticks]."""

    index: int
    length: int


@dataclass(frozen=True)
class Turned:
    """A corner that is to be another: at the right end of which face, counted from 0, what kind, which angle."""

    index: int
    corner: Corner
    angle: float


def face_directions(sides: Sequence[PlanSide]) -> list[float]:
    """Return the way each face runs on plan [degrees]: 0 for the first, counted to the left."""
    found: list[float] = []
    heading = 0.0
    for side in sides:
        found.append(heading)
        heading = (heading + side.turn) % FULL_TURN
    return found


def closing_gap(sides: Sequence[PlanSide]) -> tuple[float, float]:
    """Return how far the end of the last face lies from the start of the first.

    Parameters
    ----------
    sides
        The faces of a run in order.

    Returns
    -------
    tuple of float
        To the right and up [ticks], on a plan where the first face is drawn from left to right and the soil lies
        to the right of one who walks along it, so below it. (0, 0) when the run closes.

    Examples
    --------
    >>> square = [Side(1920, "outside", 90.0)] * 4
    >>> closing_gap(square)
    (0.0, 0.0)
    >>> closing_gap([Side(2112, "outside", 90.0), *square[1:]])
    (192.0, 0.0)
    """
    ways = [_way(heading) for heading in face_directions(sides)]
    across = math.fsum(side.length * way[0] for side, way in zip(sides, ways))
    up = math.fsum(side.length * way[1] for side, way in zip(sides, ways))
    return round(across, 6) + 0.0, round(up, 6) + 0.0


def _way(heading: float) -> tuple[float, float]:
    """Return a heading as a step of length 1; exact for right angles."""
    right = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    return right.get(heading) or (math.cos(math.radians(heading)), math.sin(math.radians(heading)))


def turned_in_all(sides: Sequence[PlanSide]) -> float:
    """Return how far the corners turn in all, outside corners counted for it and inside ones against it [degrees]."""
    return round(math.fsum(side.turn for side in sides), 9)


def turns_round(sides: Sequence[PlanSide]) -> bool:
    """Tell whether the corners turn once round, as a closed run's must."""
    return abs(turned_in_all(sides) - FULL_TURN) <= TURN_TOLERANCE


def allowed_gap(sides: Sequence[PlanSide], unit: Unit) -> float:
    """Return how far the ends of a closed run may miss one another and still count as closed [ticks].

    Half an inch or 13 mm, and what the rounding of angles leaves: one written with digits after the point may be off
    by half its last digit, which moves all that follows. Whole degrees are taken as exact.
    """
    most = float(GAP_TOLERANCE[unit.name])
    x = y = 0.0
    corners: list[tuple[float, float, float]] = []
    for side, heading in zip(sides, face_directions(sides)):
        way = _way(heading)
        x, y = x + side.length * way[0], y + side.length * way[1]
        digits = -int(Decimal(repr(float(side.angle))).normalize().as_tuple().exponent)
        if side.turn and digits > 0:
            corners.append((x, y, math.radians(0.5 * 10 ** -digits)))
    return most + math.fsum(math.dist((x, y), corner[:2]) * corner[2] for corner in corners)


def closes(sides: Sequence[PlanSide], unit: Unit) -> bool:
    """Tell whether the corners turn once round and the end of the last face meets the start of the first."""
    return turns_round(sides) and math.hypot(*closing_gap(sides)) <= allowed_gap(sides, unit)


# --- what would close it -----------------------------------------------------------------------

def closing_lengths(sides: Sequence[PlanSide], unit: Unit) -> list[tuple[Longer, ...]]:
    """Return ways to close a run by other lengths: each of one face where one alone can do it, else of two.

    Parameters
    ----------
    sides
        The faces of a run that does not close.
    unit
        The job's unit.

    Returns
    -------
    list
        The least change first.
    """
    gap = closing_gap(sides)
    ways = [_way(heading) for heading in face_directions(sides)]
    allowed = allowed_gap(sides, unit)
    alone = [(abs(by), (Longer(index, side.length + by),))
             for index, (side, way) in enumerate(zip(sides, ways))
             for by in (round_ticks(-(gap[0] * way[0] + gap[1] * way[1]), "nearest"),)
             if by and side.length + by > 0 and math.hypot(gap[0] + by * way[0], gap[1] + by * way[1]) <= allowed]
    if alone:
        return [change for _, change in sorted(alone, key=lambda item: (item[0], item[1][0].index))]
    both = []
    for (i, one), (j, other) in combinations(enumerate(ways), 2):
        cross = one[0] * other[1] - one[1] * other[0]
        if abs(cross) < 0.1:
            continue
        first = round_ticks((gap[1] * other[0] - gap[0] * other[1]) / cross, "nearest")
        second = round_ticks((gap[0] * one[1] - gap[1] * one[0]) / cross, "nearest")
        if sides[i].length + first > 0 and sides[j].length + second > 0:
            both.append((abs(first) + abs(second),
                         (Longer(i, sides[i].length + first), Longer(j, sides[j].length + second))))
    return [change for _, change in sorted(both, key=lambda item: (item[0], item[1][0].index, item[1][1].index))]


def closing_corners(sides: Sequence[PlanSide], unit: Unit) -> list[tuple[Turned, ...]]:
    """Return ways to close a run by one other corner, or, where the turns are right as they are, by two exchanged.

    A corner may be of another kind, or its angle may have been measured inside the building instead of as a turn.
    """
    listed = list(sides)
    found: list[tuple[Turned, ...]] = []
    for index, side in enumerate(sides):
        for corner, angle in _others(side):
            changed = [*listed[:index], PlanSide(side.length, corner, angle), *listed[index + 1:]]
            if closes(changed, unit):
                found.append((Turned(index, corner, angle),))
    if found or len(sides) > MOST_SWAPPED or not turns_round(sides):
        return found
    for i, j in combinations(range(len(sides)), 2):
        one, other = sides[i], sides[j]
        if (one.corner, one.angle) == (other.corner, other.angle):
            continue
        changed = list(sides)
        changed[i] = PlanSide(one.length, other.corner, other.angle)
        changed[j] = PlanSide(other.length, one.corner, one.angle)
        if closes(changed, unit):
            found.append((Turned(i, other.corner, other.angle), Turned(j, one.corner, one.angle)))
    return found


def _others(side: PlanSide) -> Iterator[tuple[Corner, float]]:
    """Yield what a corner may be instead."""
    kinds: tuple[Corner, ...] = ("outside", "inside", "none")
    for kind in kinds:
        if kind != side.corner:
            yield kind, side.angle
    if side.corner != "none" and side.angle != 90:
        yield side.corner, 180 - side.angle
