"""Outlines to walls in their rows, each with its footing and its grade."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from layout.errors import Fault
from layout.job.trace.drawn import Box, Chain, Disc, Place, box_of
from layout.job.trace.outlines import (
    SLACK, Crooked, Line, Moved, clipped, edges, is_hood, laid_end_to_end, level_at, profile,
)

DRAFTING = "draw each wall as one closed polyline"
ELSEWHERE = "leave plans and details out with --window, or with --as none=LAYER"
MAX_GHOSTS = 1_000
"""With more outlines than this unread, what lies on none of the others is not told one by one."""


@dataclass
class Wall:
    """One wall as drawn [ticks, not yet whole]; ``bottom`` is None until a footing is found for an open outline."""

    place: Place
    box: Box
    top: Line
    bottom: Line | None
    depth: float | None = None
    grade: Line | None = None
    openings: list[Chain] = field(default_factory=list)
    sleeves: list[Disc] = field(default_factory=list)

    @property
    def left(self) -> float:
        """Its left end."""
        return self.box[0]

    @property
    def right(self) -> float:
        """Its right end."""
        return self.box[2]


@dataclass
class Row:
    """Walls side by side, left to right: one run. ``datum`` is the drawing's height of elevation 0."""

    walls: list[Wall]
    low: float
    high: float
    datum: float | None = None
    lefts: list[float] = field(default_factory=list)


@dataclass
class Stand:
    """All walls, row by row from the top, and the boxes of outlines that are none."""

    rows: list[Row]
    ghosts: list[Box]
    faults: list[Fault]

    def over(self, box: Box, *, reach: float = 0.0) -> Iterator[Wall]:
        """Yield the walls that a box lies over, its height stretched by a share of the wall's."""
        for row in self.rows:
            slack = SLACK + reach * (row.high - row.low)
            if box[3] < row.low - slack or box[1] > row.high + slack:
                continue
            first = max(bisect_right(row.lefts, box[0]) - 2, 0)
            for index in range(first, len(row.walls)):
                wall = row.walls[index]
                if wall.left > box[2] + SLACK:
                    break
                more = SLACK + reach * (wall.box[3] - wall.box[1])
                if wall.right >= box[0] - SLACK and box[1] <= wall.box[3] + more and box[3] >= wall.box[1] - more:
                    yield wall

    def under(self, box: Box) -> Wall | None:
        """Return the wall that the middle of a box lies on, or None."""
        middle = (box[0] + box[2]) / 2
        found = [wall for wall in self.over(box) if wall.left - SLACK <= middle <= wall.right + SLACK]
        return min(found, key=lambda wall: max(wall.left - middle, middle - wall.right), default=None)

    def lost(self, box: Box) -> bool:
        """Tell whether a box lies over an outline that could not be read, which is told already."""
        return len(self.ghosts) > MAX_GHOSTS or any(
            box[0] <= ghost[2] + SLACK and box[2] >= ghost[0] - SLACK
            and box[1] <= ghost[3] + SLACK and box[3] >= ghost[1] - SLACK for ghost in self.ghosts)


def stand_of(outlines: Iterable[Chain], moved: Moved) -> Stand:
    """Return the walls of a drawing, in rows.

    Parameters
    ----------
    outlines
        Joined lines on layers for walls.
    moved
        Told how far anything was moved.
    """
    walls: list[Wall] = []
    ghosts: list[Box] = []
    faults: list[Fault] = []
    for outline in outlines:
        box = box_of(outline.points)
        try:
            if not outline.closed and not is_hood(outline.points):
                raise Crooked(f"must be a closed outline; its ends are {_open_by(outline)} apart", outline.points[-1])
            top, bottom = edges(outline.points, moved)
        except Crooked as error:
            faults.append(error.fault(outline.place, hint=DRAFTING))
            ghosts.append(box)
            continue
        walls.append(Wall(outline.place, box, top, bottom if outline.closed else None))
    rows = _rows(walls)
    for row in rows:
        for before, wall in zip(row.walls, row.walls[1:]):
            if wall.left < before.right - SLACK and min(wall.box[3], before.box[3]) > max(wall.box[1], before.box[1]):
                faults.append(wall.place.fault("must not lie over another wall", hint=f"that is {before.place.text()}"))
    return Stand(rows, ghosts, faults)


def _open_by(outline: Chain) -> str:
    """Return how far apart the ends of an outline are, in drawing units."""
    return f"{math.dist(outline.points[0], outline.points[-1]) / outline.place.scale:.4g}"


def _rows(walls: Sequence[Wall]) -> list[Row]:
    """Return walls in rows: what overlaps in height is one row; from the top, each from the left."""
    rows: list[Row] = []
    for wall in sorted(walls, key=lambda wall: (-wall.box[3], wall.left)):
        if rows and wall.box[3] > rows[-1].low + SLACK:
            rows[-1].walls.append(wall)
            rows[-1].low = min(rows[-1].low, wall.box[1])
        else:
            rows.append(Row([wall], wall.box[1], wall.box[3]))
    for row in rows:
        row.walls.sort(key=lambda wall: (wall.left, -wall.box[3]))
        row.lefts = [wall.left for wall in row.walls]
    return rows


# --- footing, grade, datum ---------------------------------------------------------------------

def put_footings(stand: Stand, chains: Sequence[Chain], moved: Moved) -> None:
    """Give each wall the footing drawn for it; a closed outline also tells the footing's depth."""
    parts: dict[int, list[tuple[Line, Line | None, Chain]]] = {}
    for chain in chains:
        try:
            upper, lower = edges(chain.points, moved) if chain.closed else (profile(chain.points, moved), None)
        except Crooked as error:
            stand.faults.append(error.fault(chain.place, hint=ELSEWHERE))
            continue
        for wall in _walls_for(stand, chain, upper):
            parts.setdefault(id(wall), []).append((upper, lower, chain))
    for wall in _all(stand):
        mine = parts.get(id(wall), [])
        try:
            if mine:
                wall.bottom = laid_end_to_end([upper for upper, _, _ in mine], left=wall.left, right=wall.right)
                wall.depth = _depth(wall, [(upper, lower) for upper, lower, _ in mine])
            elif wall.bottom is None:
                stand.faults.append(wall.place.fault(
                    "must be a closed outline, or have a footing drawn under it", hint=DRAFTING))
        except Crooked as error:
            stand.faults.append(error.fault(mine[0][2].place, of="the footing"))


def _depth(wall: Wall, parts: Sequence[tuple[Line, Line | None]]) -> float | None:
    """Return how deep a wall's footing is, or None where it is not drawn, or not the same all along."""
    found: list[float] = []
    for upper, lower in parts:
        if lower is None:
            return None
        stations = [x for x, _ in (*upper, *lower) if wall.left <= x <= wall.right] or [wall.left]
        for x in (max(wall.left, upper[0][0]), *stations, min(wall.right, upper[-1][0])):
            for side in (True, False):
                found.append(level_at(upper, x, from_right=side) - level_at(lower, x, from_right=side))
    return min(found) if max(found) - min(found) <= SLACK else None


def put_grades(stand: Stand, chains: Sequence[Chain], moved: Moved) -> None:
    """Give each wall the grade drawn across it."""
    parts: dict[int, list[tuple[Line, Chain]]] = {}
    for chain in chains:
        try:
            if chain.closed:
                raise Crooked("must be an open line across the wall")
            line = profile(chain.points, moved)
        except Crooked as error:
            stand.faults.append(error.fault(chain.place, hint=ELSEWHERE))
            continue
        for wall in _walls_for(stand, chain, line):
            parts.setdefault(id(wall), []).append((line, chain))
    for wall in _all(stand):
        mine = parts.get(id(wall), [])
        if not mine:
            continue
        try:
            wall.grade = laid_end_to_end([line for line, _ in mine], left=wall.left, right=wall.right)
        except Crooked as error:
            stand.faults.append(error.fault(mine[0][1].place, of="the grade"))


def _walls_for(stand: Stand, chain: Chain, line: Line) -> list[Wall]:
    """Return the walls that a line crosses; a line that is for no wall is told."""
    for reach in (0.0, 0.5):
        found: list[Wall] = []
        for wall in stand.over(chain.box, reach=reach):
            part = clipped(line, left=wall.left, right=wall.right)
            slack = SLACK + reach * (wall.box[3] - wall.box[1])
            if part and max(y for _, y in part) >= wall.box[1] - slack \
                    and min(y for _, y in part) <= wall.box[3] + slack:
                found.append(wall)
        if found:
            return found
    if not stand.lost(chain.box):
        stand.faults.append(chain.place.fault("must cross a wall", hint=ELSEWHERE))
    return []


def put_datums(stand: Stand, chains: Sequence[Chain]) -> None:
    """Set elevation 0 of each row: the level line drawn for it, else the lowest point of its footings."""
    for chain in chains:
        left, low, right, high = chain.box
        if chain.closed or high - low > SLACK:
            stand.faults.append(chain.place.fault("must be a level line"))
            continue
        row = min(stand.rows, key=lambda row: max(row.low - low, low - row.high, 0.0), default=None)
        if row is None:
            continue
        if row.datum is not None:
            stand.faults.append(chain.place.fault("must be the only datum of its row of walls"))
        row.datum = (low + high) / 2
    for row in stand.rows:
        if row.datum is None:
            row.datum = min((y for wall in row.walls for _, y in wall.bottom or wall.top), default=0.0)


def _all(stand: Stand) -> Iterator[Wall]:
    for row in stand.rows:
        yield from row.walls
