"""Corners from the plan: which way a run turns, and by how much."""

from __future__ import annotations

import math

from layout.records import Corner

LEAST_TURN = 1.0
"""A turn of less is no corner [degrees]."""


def turn_between(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Return how far a wall turns to the left from one direction on plan to the next [degrees].

    Examples
    --------
    >>> turn_of((1.0, 0.0), (0.0, 2.0)), turn_of((0.0, 1.0), (3.0, 0.0))
    (90.0, -90.0)
    """
    turn = math.degrees(math.atan2(other[1], other[0]) - math.atan2(one[1], one[0]))
    return (turn + 180.0) % 360.0 - 180.0


def corner_of(turn: float) -> tuple[Corner, float | None]:
    """Return the corner that a turn makes, and its angle: the soil lies to the right of a run, so left is outside.

    Examples
    --------
    >>> corner_of(90.0), corner_of(-45.04), corner_of(0.3)
    (('outside', 90.0), ('inside', 45.0), ('none', None))
    """
    angle = round(abs(turn), 1)
    if angle < LEAST_TURN:
        return "none", None
    return "outside" if turn > 0 else "inside", angle
