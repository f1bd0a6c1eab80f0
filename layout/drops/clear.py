"""What could not be kept: seams too near to things, drops too narrow; and what would mend it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layout.drops.columns import StretchCells
from layout.drops.shingle import Band
from layout.drops.worths import Sheet
from layout.records import RuleException, SeamClearance, Wall
from layout.units import Unit, inches


def broken_clearances(
    wall: Wall, stretch: StretchCells, bands: Sequence[Band], sheet: Sheet, *, fixed: bool, unit: Unit,
) -> list[RuleException]:
    """Return an exception for each seam that comes too near to something.

    Parameters
    ----------
    wall
        The run.
    stretch
        The same cut into cells from station 0; as long as the laps reach.
    bands
        The laps of its drops; in a closed run they may lie past its length.
    sheet
        What is hung.
    fixed
        Some drops are fixed, so that other places for the seams were not all looked at.
    unit
        The job's unit, for the words.
    """
    shifts = [shift * wall.length for shift in ((-1, 0, 1, 2) if wall.closed else (0,))]
    things = sorted(
        ((keep.left + shift, keep.right + shift, keep) for shift in shifts for keep in wall.keeps),
        key=lambda thing: (thing[0], thing[1], thing[2].rule, thing[2].tag),
    )
    lefts = [left for left, _, _ in things]
    reach = max((right - left + keep.clear for left, right, keep in things), default=0)
    nearest = max((keep.clear for keep in wall.keeps), default=0)
    lap = sheet.side_lap
    free = np.flatnonzero(stretch.reached[lap:] == stretch.passed[:max(0, len(stretch.passed) - lap)])
    found: list[RuleException] = []
    for band in bands:
        near = things[bisect_left(lefts, band[0] - reach):bisect_right(lefts, band[1] + nearest)]
        for left, right, keep in near:
            distance = max(left - band[1], band[0] - right, 0)
            if distance < keep.clear:
                at = min(max(band[0], left), band[1])
                across = None if fixed else _width_across(free, band[0], lap)
                reason = "it is planned around drops that are cut already" if fixed else (
                    f"no place for the seams within reach of a {inches(sheet.width, unit)} sheet breaks the rules by "
                    "less")
                found.append(_too_near(wall, keep, at, distance, sheet.width, across, reason, unit))
    return found


def _width_across(free: NDArray[np.intp], left: int, side_lap: int) -> int | None:
    """Return how wide a sheet would reach from the last clear place for a lap to the next; None past either end."""
    following = int(np.searchsorted(free, left))
    if not 0 < following < len(free):
        return None
    return int(free[following] - free[following - 1]) + side_lap


def _too_near(
    wall: Wall, keep: SeamClearance, at: int, distance: int, width: int, across: int | None, reason: str, unit: Unit,
) -> RuleException:
    how = "crosses" if distance == 0 else f"comes within {inches(distance, unit)} of"
    cure = f"{keep.rule} of {inches(distance, unit)} here would allow it"
    if across is not None and across > width:
        cure += f"; a sheet at least {inches(across, unit)} wide would reach across"
    return RuleException(
        rule=keep.rule, run=wall.run, at=at % wall.length if wall.closed else at, needed=keep.clear, found=distance,
        why=f"the seam {how} {keep.tag}; {reason}", cure=cure,
    )


def ripped_too_narrow(wall: Wall, edges: Sequence[Band], *, min_width: int, unit: Unit) -> list[RuleException]:
    """Return an exception for each drop narrower than allowed: only a run narrower than that has one."""
    return [
        RuleException(
            rule="min_width", run=wall.run, at=left, needed=min_width, found=right - left,
            why=f"the run is only {inches(wall.length, unit)} long",
            cure=f"min_width of {inches(right - left, unit)} would allow it",
        )
        for left, right in edges if right - left < min_width
    ]
