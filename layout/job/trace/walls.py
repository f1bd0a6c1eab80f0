"""Outlines to walls in their rows, each with its footing, its grade and its datum."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from layout.errors import Fault
from layout.job.trace.drawn import DrawnBox, DrawnPolyline, Disc, Own, DrawingPlace, box_around_points
from layout.job.trace.joining import DRAFTING, SLACK, OpenLine, Moved, is_hood, joined, merged
from layout.job.trace.networks import Tangled, nets, outlines_in
from layout.job.trace.outlines import Crooked, clipped, edges, laid_end_to_end, level_at, profile, same_height

ELSEWHERE = "leave plans and details out with --window, or with --as none=LAYER"
MAX_GHOSTS = 1_000
"""With more outlines than this unread, what lies on none of the others is not told one by one."""


@dataclass
class DrawnWall:
    """One wall as drawn [ticks, not yet whole]; ``bottom`` is None until a footing is found for an open outline.

    ``datum`` is the drawing's height of elevation 0; ``own`` says which wall of one of our own drawings this is.
    """

    place: DrawingPlace
    box: DrawnBox
    top: OpenLine
    bottom: OpenLine | None
    depth: float | None = None
    grade: OpenLine | None = None
    datum: float | None = None
    own: Own | None = None
    openings: list[DrawnPolyline] = field(default_factory=list)
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
class WallRow:
    """Walls side by side, left to right: one run. ``given`` says that its datum is drawn or told."""

    walls: list[DrawnWall]
    low: float
    high: float
    given: bool = False
    lefts: list[float] = field(default_factory=list)


@dataclass
class Stand:
    """All walls, row by row from the top, and the boxes of outlines that are none."""

    rows: list[WallRow]
    ghosts: list[DrawnBox]
    faults: list[Fault]

    @property
    def walls(self) -> Iterator[DrawnWall]:
        """Every wall, row by row."""
        for row in self.rows:
            yield from row.walls

    def over(self, box: DrawnBox, *, reach: float = 0.0) -> Iterator[DrawnWall]:
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

    def under(self, box: DrawnBox) -> DrawnWall | None:
        """Return the wall that the middle of a box lies on, or None."""
        middle = (box[0] + box[2]) / 2
        found = [wall for wall in self.over(box) if wall.left - SLACK <= middle <= wall.right + SLACK]
        return min(found, key=lambda wall: max(wall.left - middle, middle - wall.right), default=None)

    def lost(self, box: DrawnBox) -> bool:
        """Tell whether a box lies over an outline that could not be read, which is told already."""
        return len(self.ghosts) > MAX_GHOSTS or any(
            box[0] <= ghost[2] + SLACK and box[2] >= ghost[0] - SLACK
            and box[1] <= ghost[3] + SLACK and box[3] >= ghost[1] - SLACK for ghost in self.ghosts)


def outlined(chains: Sequence[DrawnPolyline], moved: Moved) -> tuple[list[DrawnPolyline], list[Fault]]:
    """Return lines joined to outlines; lines in nets, such as walls that share an upright, are taken apart.

    Parameters
    ----------
    chains
        Lines of one role.
    moved
        Told how far anything was moved.
    """
    groups = nets(chains, moved)
    if groups is None:
        return joined(chains, moved)
    done: list[DrawnPolyline] = []
    faults: list[Fault] = []
    for net in groups:
        found, wrong = joined(net, moved)
        if len(net) > 1 and (wrong or any(not chain.closed and not is_hood(chain.points, moved.slack)
                                          for chain in found)):
            try:
                found, wrong = outlines_in(net, moved), []
            except Tangled as error:
                wrong = wrong or ([error.fault] if any(chain.closed for chain in found) else [])
        done += found
        faults += wrong
    return done, faults


def stand_of(outlines: Iterable[DrawnPolyline], moved: Moved) -> Stand:
    """Return the walls of a drawing, in rows.

    Parameters
    ----------
    outlines
        Joined lines on layers for walls.
    moved
        Told how far anything was moved.
    """
    walls: list[DrawnWall] = []
    ghosts: list[DrawnBox] = []
    faults: list[Fault] = []
    for outline in outlines:
        box = box_around_points(outline.points)
        try:
            if not outline.closed and not is_hood(outline.points, moved.slack):
                raise Crooked("must be a closed outline; its ends are {} apart", outline.points[-1],
                              (math.dist(outline.points[0], outline.points[-1]),))
            top, bottom = edges(outline.points, moved)
        except Crooked as error:
            faults.append(error.fault(outline.place, hint=f"{DRAFTING}, or allow more with --gap"))
            ghosts.append(box)
            continue
        walls.append(DrawnWall(outline.place, box, top, bottom if outline.closed else None, own=outline.own))
    rows = _rows(walls)
    for number, row in enumerate(rows):
        for before, wall in zip(row.walls, row.walls[1:]):
            if wall.left < before.right - SLACK and min(wall.box[3], before.box[3]) > max(wall.box[1], before.box[1]):
                faults.append(wall.place.fault("must not lie over another wall", hint=f"that is {before.place.text()}"))
        for below in rows[number + 1:number + 2]:
            faults += [wall.place.fault("must not stand under another wall", hint="draw what is poured in lifts as one "
                                        f"wall; the other is {over.place.text()}")
                       for wall in below.walls for over in row.walls if _stacked(over, wall)]
    return Stand(rows, ghosts, faults)


def _stacked(over: DrawnWall, wall: DrawnWall) -> bool:
    """Tell whether one wall stands right on another."""
    both = min(over.right, wall.right) - max(over.left, wall.left)
    return abs(over.box[1] - wall.box[3]) <= SLACK and both > min(over.right - over.left, wall.right - wall.left) / 2


def _rows(walls: Sequence[DrawnWall]) -> list[WallRow]:
    """Return walls in rows: what overlaps in height is one row; from the top, each from the left."""
    rows: list[WallRow] = []
    for wall in sorted(walls, key=lambda wall: (-wall.box[3], wall.left)):
        if rows and wall.box[3] > rows[-1].low + SLACK:
            rows[-1].walls.append(wall)
            rows[-1].low = min(rows[-1].low, wall.box[1])
        else:
            rows.append(WallRow([wall], wall.box[1], wall.box[3]))
    for row in rows:
        row.walls.sort(key=lambda wall: (wall.left, -wall.box[3]))
        row.lefts = [wall.left for wall in row.walls]
    return rows


# --- footing, grade ----------------------------------------------------------------------------

WallPart = tuple[OpenLine, OpenLine | None, DrawnPolyline]
"""The top of a footing, its underside where that is drawn with it, and its line."""


def put_footings(stand: Stand, chains: Sequence[DrawnPolyline], moved: Moved) -> None:
    """Give each wall the footing drawn for it: its top as a line, its top and underside, or its outline."""
    parts: dict[int, list[WallPart]] = {}
    for chain in chains:
        try:
            upper, lower = edges(chain.points, moved) if chain.closed else (profile(chain.points, moved), None)
        except Crooked as error:
            stand.faults.append(error.fault(chain.place, hint=ELSEWHERE))
            continue
        for wall in _walls_for(stand, chain, upper):
            parts.setdefault(id(wall), []).append((upper, lower, chain))
    for wall in stand.walls:
        mine = parts.get(id(wall), [])
        try:
            if mine:
                wall.bottom, wall.depth = _footing(wall, mine, moved)
            elif wall.bottom is None:
                stand.faults.append(wall.place.fault(
                    "must be a closed outline, or have a footing drawn under it", hint=DRAFTING))
        except Crooked as error:
            stand.faults.append(error.fault(mine[0][2].place, of="the footing"))


def _footing(wall: DrawnWall, parts: Sequence[WallPart], moved: Moved) -> tuple[OpenLine, float | None]:
    """Return the top of a wall's footing, and its depth where that is drawn and the same all along."""
    tops, undersides = _two_lines(wall, parts)
    bottom = laid_end_to_end([upper for upper, _, _ in tops], moved, left=wall.left, right=wall.right)
    if wall.bottom is not None:
        _stands_on(wall.bottom, bottom)
    if undersides:
        lower = laid_end_to_end([line for line, _, _ in undersides], moved, left=wall.left, right=wall.right)
        return bottom, _depth(wall, [(bottom, lower)])
    return bottom, _depth(wall, [(upper, lower) for upper, lower, _ in tops])


def _stands_on(foot: OpenLine, bottom: OpenLine) -> None:
    """Raise where a wall drawn whole ends above its footing."""
    for x in sorted({x for x, _ in (*foot, *bottom)}):
        for side in (True, False):
            gap = level_at(foot, x, from_right=side) - level_at(bottom, x, from_right=side)
            if gap > SLACK:
                spot = x, level_at(bottom, x, from_right=side)
                raise Crooked("must meet the wall; it lies {} under it", spot, (gap,))


def _two_lines(wall: DrawnWall, parts: Sequence[WallPart]) -> tuple[list[WallPart], list[WallPart]]:
    """Return the lines along a footing's top, and those along its underside where open lines are drawn for both."""
    if any(lower is not None for _, lower, _ in parts):
        return list(parts), []
    tops: list[WallPart] = []
    undersides: list[WallPart] = []
    for part in parts:
        mine = clipped(part[0], left=wall.left, right=wall.right)
        others = [clipped(other[0], left=wall.left, right=wall.right) for other in parts if other is not part]
        over = [other for other in others if mine and other and min(mine[-1][0], other[-1][0])
                - max(mine[0][0], other[0][0]) > SLACK and not same_height(mine, other)]
        above = [_over(other, mine) for other in over]
        if above and all(above):
            undersides.append(part)
        elif any(above):
            raise Crooked("must be one line, or two: its top and its underside", mine[0])
        else:
            tops.append(part)
    return tops, undersides


def _over(one: OpenLine, other: OpenLine) -> bool:
    """Tell whether one profile lies over another half way along what both run."""
    middle = (max(one[0][0], other[0][0]) + min(one[-1][0], other[-1][0])) / 2
    return level_at(one, middle, from_right=True) > level_at(other, middle, from_right=True)


def _depth(wall: DrawnWall, parts: Sequence[tuple[OpenLine, OpenLine | None]]) -> float | None:
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


def put_grades(stand: Stand, chains: Sequence[DrawnPolyline], moved: Moved) -> None:
    """Give each wall the grade drawn across it."""
    parts: dict[int, list[tuple[OpenLine, DrawnPolyline]]] = {}
    for chain in chains:
        try:
            if chain.closed:
                raise Crooked("must be an open line across the wall")
            line = profile(chain.points, moved, built=False)
        except Crooked as error:
            stand.faults.append(error.fault(chain.place, hint=ELSEWHERE))
            continue
        for wall in _walls_for(stand, chain, line):
            parts.setdefault(id(wall), []).append((line, chain))
    for wall in stand.walls:
        mine = parts.get(id(wall), [])
        if not mine:
            continue
        try:
            wall.grade = laid_end_to_end([line for line, _ in mine], moved, left=wall.left, right=wall.right)
        except Crooked as error:
            stand.faults.append(error.fault(mine[0][1].place, of="the grade"))


def _walls_for(stand: Stand, chain: DrawnPolyline, line: OpenLine) -> list[DrawnWall]:
    """Return the walls that a line crosses; a line that is for no wall is told."""
    for reach in (0.0, 0.5):
        found: list[DrawnWall] = []
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


def joined_levels(chains: Sequence[DrawnPolyline], moved: Moved) -> tuple[list[DrawnPolyline], list[Fault]]:
    """Return lines for grades and datums joined end to end, what overlaps on one line as one."""
    return joined(merged(chains, moved), moved)


def rings_of(chains: Sequence[DrawnPolyline], moved: Moved) -> tuple[list[DrawnPolyline], list[Fault]]:
    """Return lines for footings joined, what overlaps on one line as one, outlines that share sides taken apart."""
    return outlined(merged(chains, moved), moved)
