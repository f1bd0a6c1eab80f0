"""The soil side of each wall of a run: its outline, its footing, its openings and what goes through it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from layout.errors import Fault
from layout.job.ifc.chains import Chained, Loop
from layout.job.ifc.model import BuildingModel
from layout.job.ifc.solids import NEAR, Odd, Solid, rings_at
from layout.job.trace.drawn import DrawnBox, Vec, box_around_points
from layout.job.trace.joining import OpenLine, Moved
from layout.job.trace.outlines import Crooked, clipped, edges, is_rectangle, level_at
from layout.job.trace.write import FaceDrawn, plain_profile
from layout.job.turns import corner_of, turn_between
from layout.records import Opening, Profile, Sleeve
from layout.units import Unit, round_ticks, tape

ROUND = 0.03
"""How far the sides of a circle's box, or its points, may differ, as a share of its size; curves come in chords."""
NEARLY = {"in": 192.0, "mm": 300.0}
"""A footing is a wall's when its top lies no further than this under the wall [ticks]: one foot."""
LEAST_POINTS = 8
"""Fewest points of a circle."""


@dataclass
class WallSide:
    """One wall of a run seen from the soil: stations [ticks] from its corner on the left to that on the right."""

    chained: Chained
    start: float
    end: float
    corner_turn: float | None
    top: OpenLine = ()
    bottom: OpenLine = ()
    ledge: float | None = None
    depth: float | None = None
    holes: list[tuple[DrawnBox, Solid | None]] = field(default_factory=list)
    rounds: list[tuple[Vec, float, Solid]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def length(self) -> float:
        """Its length from corner to corner."""
        return self.end - self.start

    def seen(self, point: Sequence[float]) -> tuple[float, float, float]:
        """Return a point as (station, elevation, how far it lies out in the soil)."""
        u, v, z = self.chained.wall.frame.put(point)
        if self.chained.forward:
            return u - self.start, z, self.chained.soil - v
        return -u - self.start, z, v - self.chained.soil


def sides_of(loop: Loop, unit: Unit, faults: list[Fault]) -> list[WallSide]:
    """Return the walls of a run as seen from the soil, cut at the corners that their soil sides make."""
    sides = [_bare(wall) for wall in loop.walls]
    pairs = list(zip(range(len(sides)), [*range(1, len(sides)), *([0] if loop.closed else [])]))
    for one, other in pairs:
        _corner(sides[one], sides[other], faults)
    return sides


def _bare(chained: Chained) -> WallSide:
    wall = chained.wall
    start, end = (wall.left, wall.right) if chained.forward else (-wall.right, -wall.left)
    return WallSide(chained, start, end, None)


def _corner(one: WallSide, other: WallSide, faults: list[Fault]) -> None:
    """Set where two soil sides meet; what goes on in one line must be flush."""
    turn = turn_between(one.chained.heading, other.chained.heading)
    one.corner_turn = turn
    frame, way = one.chained.wall.frame, one.chained.heading
    spot = other.chained.wall.frame.back(0.0, other.chained.soil)
    _, v, _ = frame.put(spot)
    if corner_of(turn)[0] == "none":
        if abs(v - one.chained.soil) > NEAR:
            faults.append(other.chained.wall.solid.fault(
                "must be flush with the wall before it on the soil side",
                hint=f"that is {one.chained.wall.solid.place()}"))
        return
    start = frame.back(0.0, one.chained.soil)
    other_way = other.chained.heading
    cross = way[0] * other_way[1] - way[1] * other_way[0]
    dx, dy = spot[0] - start[0], spot[1] - start[1]
    reach = (dx * other_way[1] - dy * other_way[0]) / cross
    corner = start[0] + reach * way[0], start[1] + reach * way[1]
    thick = one.chained.wall.thick + other.chained.wall.thick
    one_end, other_start = _station(one, corner), _station(other, corner)
    for side, drawn, meant in ((one, one.end, one_end), (other, other.start, other_start)):
        if abs(drawn - meant) > thick / abs(cross) + NEAR:
            faults.append(side.chained.wall.solid.fault("must reach the corner that its soil side makes with the wall "
                                                        "beside it"))
    one.end, other.start = one_end, other_start


def _station(side: WallSide, point: Vec) -> float:
    """Return a point's station along a wall, in the numbers of its start and end."""
    u = side.chained.wall.frame.put(point)[0]
    return u if side.chained.forward else -u


# --- outlines ----------------------------------------------------------------------------------

def put_outline(side: WallSide, moved: Moved, faults: list[Fault]) -> None:
    """Set a wall's top and bottom on its soil side; holes in the surface itself are openings."""
    solid = side.chained.wall.solid
    try:
        rings = rings_at(side.chained.wall, side.chained.soil)
        seen = [tuple((u - side.start if side.chained.forward else -u - side.start, z) for u, z in ring)
                for ring in rings]
        top, bottom = edges(seen[0], moved)
        side.top, side.bottom = (_fitted(line, side.length) for line in (top, bottom))
    except Odd as error:
        faults.append(solid.fault(str(error)))
        return
    except Crooked as error:
        why = str(error).format(*(f"{size:.4g} ticks" for size in error.sizes)) if error.sizes else str(error)
        faults.append(solid.fault(why))
        return
    for ring in seen[1:]:
        if is_rectangle(ring):
            side.holes.append((box_around_points(ring), None))
        else:
            faults.append(solid.fault("must have holes that are level rectangles, or openings of their own"))


def _fitted(line: OpenLine, length: float) -> OpenLine:
    """Return a profile cut off, or gone on level, at the corners."""
    left, right = line[0][0], line[-1][0]
    inner = clipped(line, left=max(0.0, left), right=min(length, right))
    before = ((0.0, inner[0][1]),) if inner[0][0] > 0.0 else ()
    after = ((length, inner[-1][1]),) if inner[-1][0] < length else ()
    return (*before, *inner, *after)


# --- footings ----------------------------------------------------------------------------------

def put_footing(side: WallSide, footings: Sequence[Solid], unit: Unit, faults: list[Fault], used: set[str]) -> None:
    """Set the footing under a wall: where its top is, how far it goes out into the soil, how deep it is."""
    wall = side.chained.wall
    found: list[tuple[float, float, float, float, float, Solid]] = []
    for solid in footings:
        local = [side.seen(point) for point in solid.points]
        s0, s1 = min(s for s, _, _ in local), max(s for s, _, _ in local)
        z0, z1 = min(z for _, z, _ in local), max(z for _, z, _ in local)
        out0, out1 = min(out for _, _, out in local), max(out for _, _, out in local)
        first, last = max(s0, 0.0), min(s1, side.length)
        foot = level_at(side.bottom, (first + last) / 2, from_right=True)
        under = last - first > NEAR and out1 > -wall.thick / 2 > out0 \
            and z0 < foot + NEAR and z1 > foot - NEARLY[unit.name]
        along = s1 - s0 >= out1 - out0 or solid.kind == "base slab"
        if not under or not along:
            continue
        used.add(solid.guid)
        if any(min(abs(value - low), abs(value - high)) > NEAR for point in local
               for value, low, high in ((point[1], z0, z1), (point[2], out0, out1))):
            faults.append(solid.fault("must be a straight, level strip along the wall", hint="that is "
                                      f"{wall.solid.place()}; leave it out with --leave-out"))
            continue
        found.append((s0, s1, z0, z1, out1, solid))
    if not found:
        side.notes.append("no footing lies under it in the model")
        return
    _stepped(side, found, unit, faults)


def _stepped(side: WallSide, found: Sequence[tuple[float, float, float, float, float, Solid]], unit: Unit,
             faults: list[Fault]) -> None:
    """Set the top of the footings under a wall, the highest wherever several lie over one another."""
    solid = side.chained.wall.solid
    marks = sorted({0.0, side.length, *(min(max(end, 0.0), side.length) for part in found for end in part[:2])})
    top: list[Vec] = []
    depths: list[float] = []
    ledges: list[float] = []
    for left, right in zip(marks, marks[1:]):
        if right - left <= NEAR:
            continue
        over = [part for part in found if part[0] <= left + NEAR and part[1] >= right - NEAR]
        if not over:
            near_end = left <= NEAR and top == [] or right >= side.length - NEAR
            if near_end and right - left <= side.chained.wall.thick * 2:
                continue  # a corner where the footing of the wall beside it goes on
            faults.append(solid.fault("must have a footing under its whole length, or none in the model",
                                      got=f"none from {tape(round(left), unit)} to {tape(round(right), unit)}"))
            return
        high = max(over, key=lambda part: part[3])
        top += [(left, high[3]), (right, high[3])]
        depths.append(high[3] - high[2])
        ledges.append(high[4])
    if not top:
        return
    lowest = max(abs(level_at(side.bottom, (a[0] + b[0]) / 2, from_right=True) - a[1])
                 for a, b in zip(top[::2], top[1::2]))
    if lowest > NEAR and any(level_at(side.bottom, (a[0] + b[0]) / 2, from_right=True) > a[1] + NEAR
                             for a, b in zip(top[::2], top[1::2])):
        faults.append(solid.fault("must stand on its footing", got=f"a gap of {tape(round(lowest), unit)}"))
        return
    if max(ledges) - min(ledges) > NEAR:
        faults.append(solid.fault("must have footings that go out into the soil alike along it",
                                  got=f"{tape(round(min(ledges)), unit)} to {tape(round(max(ledges)), unit)}"))
        return
    side.bottom = ((0.0, top[0][1]), *top[1:-1], (side.length, top[-1][1]))
    side.ledge, side.depth = max(ledges[0], 0.0), min(depths)
    if max(depths) - min(depths) > NEAR:
        side.notes.append(f"its footings are {tape(round(min(depths)), unit)} to {tape(round(max(depths)), unit)} "
                          "deep; the least is taken")


# --- openings and pipes ------------------------------------------------------------------------

def put_holes(side: WallSide, model: BuildingModel, faults: list[Fault], used: set[str]) -> None:
    """Put a wall's openings on it, then the provisions for voids and the pipes that go through it."""
    wall = side.chained.wall
    for void in model.voids.get(wall.solid.guid, ()):
        _hole(side, void, faults, must=True)
    for solid in sorted(model.pipes, key=lambda each: each.kind == "pipe"):
        local = [side.seen(point) for point in solid.points]
        box = _box(local)
        outs = [out for _, _, out in local]
        crosses = min(outs) < -NEAR and max(outs) >= -NEAR and min(max(outs), 0.0) - max(min(outs), -wall.thick) > NEAR
        middle = (box[0] + box[2]) / 2
        if not crosses or not 0.0 < middle < side.length:
            continue
        height = (box[1] + box[3]) / 2
        if not level_at(side.bottom, middle, from_right=True) < height < level_at(side.top, middle, from_right=True):
            continue
        used.add(solid.guid)
        inside = next((each for each in _known(side) if _within(box, each[0])), None)
        if inside is not None:
            side.notes.append(f"{solid.place()} goes through {inside[1]}")
            continue
        _hole(side, solid, faults, must=solid.kind != "pipe")


def _hole(side: WallSide, solid: Solid, faults: list[Fault], *, must: bool) -> None:
    """Put one opening or pipe on a wall."""
    local = [side.seen(point) for point in solid.points]
    box = _box(local)
    if must and max(out for _, _, out in local) < -NEAR:
        side.notes.append(f"{solid.place()} does not reach the soil side, and is passed over")
        return
    wide, high = box[2] - box[0], box[3] - box[1]
    centre, radius = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), max(wide, high) / 2
    away = [math.dist((s, z), centre) for s, z, _ in local]
    rim = sum(distance >= radius * (1 - ROUND) - NEAR for distance in away)
    corners = all(min(abs(s - box[0]), abs(s - box[2])) <= NEAR and min(abs(z - box[1]), abs(z - box[3])) <= NEAR
                  for s, z, _ in local)
    if corners:
        side.holes.append((box, solid))
    elif abs(wide - high) <= 2 * ROUND * radius + NEAR and max(away) <= radius * (1 + ROUND) + NEAR \
            and rim >= LEAST_POINTS:
        side.rounds.append((centre, radius, solid))
    else:
        faults.append(solid.fault("must cross the wall square to it, as a circle or a level rectangle", hint="that is "
                                  f"{side.chained.wall.solid.place()}; leave it out with --leave-out"))


def _box(local: Sequence[tuple[float, float, float]]) -> DrawnBox:
    return box_around_points(tuple((s, z) for s, z, _ in local))


def _known(side: WallSide) -> list[tuple[DrawnBox, str]]:
    """Return the boxes of what is on a wall already, and what each is."""
    known = [(box, solid.place() if solid else "a hole in the wall") for box, solid in side.holes]
    return known + [((x - r, y - r, x + r, y + r), solid.place()) for (x, y), r, solid in side.rounds]


def _within(inner: DrawnBox, outer: DrawnBox) -> bool:
    return (inner[0] >= outer[0] - NEAR and inner[1] >= outer[1] - NEAR and inner[2] <= outer[2] + NEAR
            and inner[3] <= outer[3] + NEAR)


# --- whole ticks -------------------------------------------------------------------------------

def face_of(side: WallSide, name: str, tags: Sequence[str], *, last: bool, moved: Moved) -> FaceDrawn:
    """Return a wall in whole ticks; ``tags`` are those of its openings, then of its sleeves."""
    def whole(exact: float) -> int:
        ticks = round_ticks(exact, "nearest")
        moved.note(abs(exact - ticks) if abs(exact - ticks) > 0.01 else 0.0)
        return ticks

    def profile(line: OpenLine) -> Profile:
        return plain_profile([(whole(x), whole(y)) for x, y in line])

    openings = []
    for (box, solid), tag in zip(side.holes, tags):
        left, sill = whole(box[0]), whole(box[1])
        kind = solid.kind if solid and solid.kind in ("window", "door") else "opening"
        openings.append(Opening(tag, kind, left, sill, whole(box[2]) - left, whole(box[3]) - sill))
    sleeves = [Sleeve(tag, whole(centre[0]), whole(centre[1]), whole(2 * radius))
               for (centre, radius, _), tag in zip(side.rounds, tags[len(side.holes):])]
    corner, angle = corner_of(side.corner_turn) if side.corner_turn is not None and not last else ("none", None)
    solid = side.chained.wall.solid
    return FaceDrawn(
        name, whole(side.length), profile(side.top), profile(side.bottom), None,
        None if side.depth is None else whole(side.depth), tuple(openings), tuple(sleeves),
        ledge=None if side.ledge is None else whole(side.ledge), corner=corner, angle=angle,
        notes=(solid.place(), *side.notes))
