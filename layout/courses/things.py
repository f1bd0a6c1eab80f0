"""What the seams between courses keep clear of: sleeves, the corners of openings, and all below the wall's foot."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from layout.courses.columns import Columns
from layout.records import Rules, SeamClearance, Wall
from layout.shapes import lowest

LevelArray = NDArray[np.int64]


@dataclass(frozen=True)
class CourseKeep:
    """Something that a seam between courses keeps clear of in height, where it passes it.

    Parameters
    ----------
    rule, tag
        The rule, and what it is in words.
    left, right
        Where a seam passes it [ticks]; in a closed run it may lie past the ends.
    bottom, top, clear
        Its height, and how far above and below it no lap may lie [ticks].
    """

    rule: str
    tag: str
    left: int
    right: int
    bottom: int
    top: int
    clear: int

    def gap(self, *, bottom: int, top: int) -> int:
        """Return the height between it and a lap."""
        return max(self.bottom - top, bottom - self.top, 0)

    def shortfall(self, *, bottom: int, top: int) -> int:
        """Return by how much a lap lies too near."""
        return max(0, self.clear - self.gap(bottom=bottom, top=top))


def things_of(wall: Wall, rules: Rules) -> tuple[CourseKeep, ...]:
    """Return what the seams between the courses of a run keep clear of.

    Notes
    -----
    No seam lies on the ledge or the footing's face, nor within ``clear_of_corner`` above the joint, which is a corner
    too. An opening has its clearance at the height of its sill and of its head; between them a seam may run up to the
    jamb.
    """
    found = [*_sleeves(wall, rules), *_openings(wall, rules), *_joints(wall, rules)]
    return tuple(thing for thing in found if thing.clear)


def _sleeves(wall: Wall, rules: Rules) -> Iterator[CourseKeep]:
    clear = rules.clear_of_sleeve
    for sleeve in wall.rounds:
        half = -(-sleeve.diameter // 2)
        yield CourseKeep("clear_of_sleeve", sleeve.tag, sleeve.x - half - clear, sleeve.x + half + clear,
                         sleeve.y - half, sleeve.y + half, clear)


def _openings(wall: Wall, rules: Rules) -> Iterator[CourseKeep]:
    clear = rules.clear_of_opening
    for hole in wall.holes:
        for level, part in ((hole.bottom, "sill"), (hole.top, "head")):
            yield CourseKeep("clear_of_opening", f"the {part} of {hole.tag}", hole.left - clear, hole.right + clear,
                             level, level, clear)
    for tag, left, right in openings_at_line(wall):
        sill = lowest(wall.top, left, right)
        yield CourseKeep("clear_of_opening", f"the sill of {tag}", left - clear, right + clear, sill, sill, clear)


def openings_at_line(wall: Wall) -> list[tuple[str, int, int]]:
    """Return (tag, left jamb, right jamb) of the openings that reach the membrane line and are no holes."""
    holes = {hole.tag for hole in wall.holes}
    jambs: dict[str, list[int]] = {}
    for keep in wall.keeps:
        if keep.rule == "clear_of_opening" and keep.tag not in holes:
            jambs.setdefault(keep.tag, []).append(keep.left)
    return [(tag, min(stations), max(stations)) for tag, stations in jambs.items() if len(stations) > 1]


def _joints(wall: Wall, rules: Rules) -> Iterator[CourseKeep]:
    """Yield the joint along each straight part of the footing, with the ledge and the face below it."""
    straights = [(a, b) for a, b in pairwise(wall.footing) if a[0] < b[0]]
    for span in wall.faces:
        for (x0, y0), (x1, y1) in straights:
            left, right = max(x0, span.left), min(x1, span.right)
            if left < right:
                yield CourseKeep("clear_of_corner", f"the wall/footing joint of {span.name}", left, right,
                                 min(y0, y1) - span.toe, max(y0, y1), rules.clear_of_corner)


def keeps_at(wall: Wall, *, bottom: int, top: int) -> list[SeamClearance]:
    """Return what the end laps of a course keep clear of: of sleeves and openings only those at its height."""
    heights = {("clear_of_sleeve", sleeve.tag): (sleeve.y - sleeve.diameter, sleeve.y + sleeve.diameter)
               for sleeve in wall.rounds}
    heights |= {("clear_of_opening", hole.tag): (hole.bottom, hole.top) for hole in wall.holes}
    found: list[SeamClearance] = []
    for keep in wall.keeps:
        low, high = heights.get((keep.rule, keep.tag), (bottom, top))
        if low - keep.clear < top and bottom < high + keep.clear:
            found.append(keep)
    return found


def shortfalls(columns: Columns, things: Sequence[CourseKeep], *, lap: int) -> LevelArray:
    """Return, for a seam at each level, by how much its lap lies too near to things, summed [ticks].

    Parameters
    ----------
    columns, things
        The run.
    lap
        Height of the lap below the level [ticks].

    Returns
    -------
    array
        One number a tick, from the lowest elevation of the run to the highest.
    """
    total: LevelArray = np.zeros(columns.top - columns.bottom + 1, dtype=np.int64)
    for thing in things:
        low = max(thing.bottom - thing.clear + 1, columns.bottom)
        high = min(thing.top + thing.clear + lap, columns.top + 1)
        if low >= high:
            continue
        levels = np.arange(low, high)
        gaps = np.maximum(np.maximum(thing.bottom - levels, levels - lap - thing.top), 0)
        there = np.zeros(high - low, dtype=bool)
        for column in columns.between(thing.left, thing.right):
            there[max(column.lowest + lap + 1 - low, 0):max(column.highest - low, 0)] = True
        total[low - columns.bottom:high - columns.bottom] += np.where(there, np.maximum(thing.clear - gaps, 0), 0)
    return total
