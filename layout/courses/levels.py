"""Where the courses lie: the levels that break the clearances least and then take the least length of roll.

What is least, over all levels on the tick grid, each course lapped by just ``side_lap``: first by how much the seams
between courses lie too near to things; then the length of roll, each course counted over the stretches it covers and
shared by as many as can be ripped side by side from the sheet's width, and then courses, or the other way round; then
the widest courses lie lowest. End laps are not looked at here: they lengthen every course alike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layout.courses.columns import WallColumn, Columns
from layout.courses.things import CourseKeep, shortfalls

Whole = NDArray[np.int64]
Strip = tuple[int, int]
"""Lower and upper edge of a course [ticks]."""
MOST_ABREAST = 8
"""Most courses ripped from one width that are counted."""
SHARES = math.lcm(*range(1, MOST_ABREAST + 1))
"""A whole width in parts."""
FAR = np.iinfo(np.int64).max // 4
ALMOST = 1e-6
"""Slopes are worked out in floating point; what is this near to a tick is on it [ticks]."""


def choose_levels(
    columns: Columns, things: Sequence[CourseKeep], *, width: int, lap: int, least: int, fewest: bool = False,
) -> tuple[Strip, ...]:
    """Return the courses of a run, the lowest first.

    Parameters
    ----------
    columns, things
        The run.
    width, lap, least
        Of the sheet; how far courses lap; the narrowest course [ticks].
    fewest
        Few courses go before a short length of roll.

    Notes
    -----
    A course that is ripped is then laid as wide as just as many abreast allow, and lapped more, where no clearance
    suffers from it. The topmost is cut off at the run's highest elevation.
    """
    least = min(least, width)
    tops = _tops(columns, things, width=width, lap=lap, least=least, rise=least - lap, fewest=fewest)
    if tops is None:  # no courses lapped by just so much make up the height: some are lapped more
        tops = _tops(columns, things, width=width, lap=lap, least=least, rise=1, fewest=fewest)
    assert tops is not None
    return tuple(_widened(columns, things, tops, width=width, lap=lap, least=least))


def _tops(
    columns: Columns, things: Sequence[CourseKeep], *, width: int, lap: int, least: int, rise: int, fewest: bool,
) -> list[int] | None:
    """Return the upper edge of each course, lowest first, each at least ``rise`` over the last; None when none do."""
    size = columns.top - columns.bottom
    if size <= width:
        return [columns.top]
    ends, passes = _lengths(columns, lap)
    too_near = shortfalls(columns, things, lap=lap)
    shares = SHARES // np.minimum(width // np.maximum(np.arange(width + 1), least), MOST_ABREAST)
    goals = np.full((3, size + 1), FAR, dtype=np.int64)
    """Of the best courses up to each level: broken rules, then roll and courses, or courses and roll."""
    roll, count = (2, 1) if fewest else (1, 2)
    came_from = np.zeros(size + 1, dtype=np.int64)
    for top in range(least, size + 1):
        if top <= width:
            goals[0, top], goals[roll, top], goals[count, top] = 0, shares[top] * (passes[top] + ends[top]), 1
        under = np.arange(max(least, top - width + lap), top - max(rise, 1) + 1)
        if not len(under):
            continue
        through = goals[:, under]
        through[0] += too_near[under]
        through[roll] += shares[top - under + lap] * (passes[top] + ends[top] - ends[under])
        through[count] += 1
        best = _last_least(through)
        if through[0, best] < FAR and tuple(through[:, best]) < tuple(goals[:, top]):
            goals[:, top] = through[:, best]
            came_from[top] = under[best]
    if goals[0, size] >= FAR:
        return None
    found = [size]
    while came_from[found[-1]]:
        found.append(int(came_from[found[-1]]))
    return [columns.bottom + top for top in reversed(found)]


def _last_least(goals: Whole) -> int:
    """Return the last of the places that are least in the first row, of those in the second, and so on."""
    places = np.arange(goals.shape[1])
    for goal in goals:
        values = goal[places]
        places = places[values == values.min()]
    return int(places[-1])


def _lengths(columns: Columns, lap: int) -> tuple[Whole, Whole]:
    """Return for each level the length of wall that ends at or below it, and the length that a seam there has.

    Notes
    -----
    A course between the levels p and t covers what ends above p and either ends at or below t, or starts below the
    lap at t and so goes on under the next course: passes[t] + ends[t] - ends[p].
    """
    size = columns.top - columns.bottom
    ends, passes = np.zeros(size + 2, dtype=np.int64), np.zeros(size + 2, dtype=np.int64)
    for column in columns.all:
        bottoms, tops, length = _ticks(column)
        bottoms, tops = bottoms - columns.bottom, tops - columns.bottom
        np.add.at(ends, tops, length)
        seam = tops > bottoms + lap + 1
        np.add.at(passes, bottoms[seam] + lap + 1, length)
        np.add.at(passes, tops[seam], -length)
    return np.cumsum(ends)[:-1], np.cumsum(passes)[:-1]


def _ticks(column: WallColumn) -> tuple[Whole, Whole, int]:
    """Return the lowest and highest elevation of a column at each of its ticks, and how long each of these is.

    A level column is one long tick.
    """
    level = column.bottom[0] == column.bottom[1] and column.top[0] == column.top[1]
    steps = 1 if level else column.right - column.left

    def line(ends: tuple[object, object]) -> NDArray[np.float64]:
        return np.linspace(float(ends[0]), float(ends[1]), steps + 1)  # type: ignore[arg-type]

    low, high = line(column.bottom), line(column.top)
    bottoms = np.floor(np.minimum(low[1:], low[:-1]) + ALMOST).astype(np.int64)
    tops = np.ceil(np.maximum(high[1:], high[:-1]) - ALMOST).astype(np.int64)
    return bottoms, tops, column.right - column.left if level else 1


def _widened(
    columns: Columns, things: Sequence[CourseKeep], tops: Sequence[int], *, width: int, lap: int, least: int,
) -> list[Strip]:
    """Return the courses with their lower edges, those that would be ripped lapped more where no clearance suffers."""

    def shortfall(bottom: int, top: int) -> int:
        return sum(
            thing.shortfall(bottom=bottom, top=top) for thing in things
            if thing.shortfall(bottom=bottom, top=top)
            and columns.seam_is_there(left=thing.left, right=thing.right, bottom=bottom, top=top)
        )

    strips: list[Strip] = [(columns.bottom, tops[0])]
    for under, top in zip(tops, tops[1:], strict=False):
        below = strips[-1][0]
        bottom = max(min(under - lap, top - least), below)
        wide = top - width // max(width // (top - bottom), 1)
        if below <= wide < bottom and shortfall(wide, under) <= shortfall(bottom, under):
            bottom = wide
        strips.append((bottom, top))
    return strips
