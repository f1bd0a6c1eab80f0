"""Covers: what closes the places that flat drops leave open, each folded in space and laid out flat again.

A cover is built part by part: the first part lies on one surface of the concrete, each further one is hinged to a
part before it and lies on the next surface. Its pattern is what the parts make on the flat sheet, and its slits are
found as those of any piece: where parts touch on the sheet and not in space.

::

    footing cover (outside corner)    inside cover        riser cover
        +------+-----+---+                +----+----+         +----+--------+
        | lap  |ledge|   | face           |ledge tabs         |wall| ledge  |
        |      |     |   |                | 1  | 2  |         |    +--------+
        +------+-----+---+                +----+----+         |    | riser  +---+
        |  face      |ear                 |faces    |         |    +--------+lap|
        +------------+                    +----+----+              | ledge  |
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

import shapely
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from layout.concrete import Concrete, CornerHere, StepHere, concrete_of
from layout.folding import (
    GRID, SAME, SheetLine, Motion, FoldedPart, Spot, Vector, hinge, mismatch, plus, scaled, shared, slits_between,
)
from layout.panels import UP, Leg, Panel
from layout.pieces.blanks import Largest, PieceKind, halves, largest, letters, piece, plain_tag
from layout.pieces.gussets import gussets, ordered
from layout.pieces.slits import on_ticks
from layout.records import MEMBRANE, Job, Laid, Piece, Rules, Slit, Wall
from layout.shapes import footing_turn, polygons
from layout.surfaces import Surface, surfaces_near, unrolled

WHY = {"footing cover": "arris of the footing"}
"""What the slits of a cover are for; those of the others part two tabs."""


def covers(job: Job, wall: Wall) -> list[Piece]:
    """Return every cover of a run: footing covers, inside covers, riser covers, ledge covers, slope
    covers, opening gussets."""
    return list(_covers(concrete_of(wall).once, job.rules, largest(job.sheet, job.rules)))


@lru_cache(maxsize=64)
def _covers(wall: Wall, rules: Rules, most: Largest) -> tuple[Piece, ...]:
    """Return every cover of a run with such concrete: while a job is edited that is mostly the same."""
    concrete = concrete_of(wall)
    lap, ear = rules.cover_lap, rules.side_lap
    made: list[Piece] = []
    near: dict[float, list[Surface]] = {}

    def add(name: str, tag: str, face: str, parts: Sequence[FoldedPart], at: float, where: str) -> None:
        kind = PieceKind(name, wall.run, MEMBRANE, rules, turnable=True)
        for each in pattern_pieces(kind, most, f"{wall.run}-{tag}", face, parts, taken_up=wall.taken_up):
            made.append(replace(each, spot=round(at), where=where))

    def on_concrete(station: float, parts: Sequence[FoldedPart]) -> list[FoldedPart]:
        if not parts:
            return []
        if station not in near:
            near[station] = surfaces_near(concrete, station - 3 * lap, station + 3 * lap)
        return laid_on(near[station], parts)

    counts = {"outside": 0, "inside": 0}
    for corner in concrete.corners():
        parts = on_concrete(corner.station, (outside_parts if corner.kind == "outside" else inside_parts)(
            corner, fillet=wall.fillet, turn_down=wall.turn_down, lap=lap, ear=ear))
        if parts:
            counts[corner.kind] += 1
            name, letter = ("footing cover", "FC") if corner.kind == "outside" else ("inside cover", "IC")
            where = f"{corner.kind} corner of {corner.before.span.name} and {corner.after.span.name}"
            add(name, f"{letter}{counts[corner.kind]}", corner.before.span.name, parts, corner.station, where)
    risers = ledges = 0
    for step in concrete.steps():
        if step.height and (step.upper_ledge or step.runs_on):
            risers += 1
            for number, parts in enumerate(riser_parts(concrete, step, turn_down=wall.turn_down, lap=lap), 1):
                parts = on_concrete(step.station, parts)
                if parts:
                    add("riser cover", f"RC{risers}" + (f"-{number}" if number > 1 else ""), step.upper_face, parts,
                        step.station, "foot of the riser's outer edge" if number > 1 else "riser of the footing step")
        if step.upper_ledge != step.lower_ledge and not step.at_corner:
            ledges += 1
            parts = on_concrete(step.station, ledge_parts(concrete, step, turn_down=wall.turn_down, lap=lap))
            if parts:
                add("ledge cover", f"LC{ledges}", step.upper_face, parts, step.station, "where the ledge changes")
    for number, (one, other) in enumerate(concrete.kinks(), 1):
        parts = slope_parts(one, other, fillet=wall.fillet, turn_down=wall.turn_down, lap=lap)
        if parts:
            add("slope cover", f"SC{number}", one.leg.span.name, parts, other.left, "where the footing's slope changes")
    if wall.opening_return:
        for hole in wall.openings:
            face = next(span.name for span in wall.faces if span.left <= hole.left < span.right)
            for each in gussets(concrete, hole, lap=lap, side_lap=ear):
                add("opening gusset", f"OG-{plain_tag(hole.tag)}-{each.number}", face, each.parts, each.station,
                    f"{each.corner} corner of {hole.kind} {hole.tag}")
    return tuple(made)


GOES_ON = {
    "wall": {"wall", "riser"},
    "ledge": {"ledge", "riser"},
    "riser": {"ledge", "riser"},
    "footing face": {"footing face", "riser"},
}
"""Over its edges a lap goes on to such surfaces."""


def laid_on(surfaces: Sequence[Surface], parts: Sequence[FoldedPart]) -> list[FoldedPart]:
    """Return the parts of a cover as the concrete takes them: cut at its edges, and on beyond them.

    Parameters
    ----------
    surfaces
        Those about the cover.
    parts
        The first, and others hinged to a part before them: laps as long as they should be, whatever they come to.
    """
    found: list[FoldedPart] = []
    for number, part in enumerate(parts):
        start = part.shape if not number else _hinge_of(part, parts[:number])
        if start is None:
            continue
        upright = ("wall", "footing face") if part.on != "ledge" else ()
        on = [each for each in surfaces if each.on in GOES_ON[part.on] or each.on in upright]
        found += unrolled(on, part.shape, part.motion, start, over=GOES_ON[part.on])
    return _joined(found)


def _hinge_of(part: FoldedPart, before: Sequence[FoldedPart]) -> SheetLine | None:
    """Return the line along which a part hangs on one before it; None where they have none."""
    for other in before:
        for touching in shared(part.shape, other.shape):
            for line in pairwise(touching):
                if mismatch(part.motion, other.motion, line) <= SAME:
                    return line
    return None


def _joined(parts: Sequence[FoldedPart]) -> list[FoldedPart]:
    """Return parts with those joined that lie on one surface by one motion.

    Shapes keep the grid they are joined on, and all that is made of them: grown and shrunk again on it a rectangle is
    gone. So they leave it here.
    """
    alike: dict[tuple[str, Motion], list[Polygon]] = {}
    for part in parts:
        alike.setdefault((part.on, part.motion), []).append(part.shape)
    return [FoldedPart(on, shape, motion) for (on, motion), shapes in alike.items()
            for shape in polygons(shapely.set_precision(shapely.union_all(shapes, grid_size=GRID), 0))]


def pattern_pieces(
    kind: PieceKind, most: Largest, tag: str, face: str, parts: Sequence[FoldedPart], *, taken_up: float,
) -> list[Piece]:
    """Return the piece that folded parts make on the flat sheet, in lapping halves where it is too wide for one."""
    whole = unary_union([part.shape.buffer(0.01, join_style="mitre") for part in parts]).buffer(
        -0.01, join_style="mitre")
    shape = max(polygons(whole), key=lambda part: float(part.area))
    exact = Polygon([(_snap(x), _snap(y)) for x, y in shape.exterior.coords]).simplify(1e-6)
    if any(x != round(x) or y != round(y) for x, y in exact.exterior.coords):
        # off the ticks: a tick larger all round, so that rounding each corner to its tick cannot leave it short
        larger = exact.buffer(1, join_style="mitre")
        # a narrow wedge may close on the way, and be left as a line that the outline runs along twice
        rounded = Polygon([(round(x), round(y)) for x, y in larger.exterior.coords]).buffer(0)
        exact = max(polygons(rounded), key=lambda part: float(part.area)).simplify(0)
    left, bottom = math.floor(exact.bounds[0]), math.floor(exact.bounds[1])

    def moved(ring: Sequence[Sequence[float]]) -> list[Spot]:
        return [(spot[0] - left, spot[1] - bottom) for spot in ring]

    flat = Polygon(moved(exact.exterior.coords))
    found = [on_ticks((moved([a])[0], moved([b])[0]), flat, WHY.get(kind.name, "between the tabs"))
             for a, b in slits_between(parts, taken_up=taken_up)]
    slits = sorted((slit for slit in found if slit), key=lambda slit: (slit.start, slit.end))
    shapes = halves(flat, most, kind.rules)
    made: list[Piece] = []
    for letter, part in zip(letters(len(shapes)), shapes, strict=True):
        laid = [_laid(each, moved(each.shape.exterior.coords), (left, bottom), part) for each in parts]
        made.append(piece(kind, part, tag=tag + letter, face=face, slits=_within(slits, part),
                          laid=[each for each in laid if each]))
    return made


def _within(slits: Sequence[Slit], shape: Polygon) -> list[Slit]:
    """Return the parts of slits that cut one of several halves."""
    clipped = [on_ticks((slit.start, slit.end), shape, slit.why) for slit in slits]
    return [slit for slit in clipped if slit]


def _laid(part: FoldedPart, ring: Sequence[Spot], shift: Spot, within: Polygon) -> Laid | None:
    """Return where a part lies, its outline in the pattern's own frame."""
    shape = Polygon(ring)
    if not within.covers(shape):
        inside = polygons(shape.intersection(within.buffer(0.01)))
        if not inside:
            return None
        shape = inside[0]
    origin = part.motion.place(shift)
    outline = tuple((_snap(x), _snap(y)) for x, y in shape.exterior.coords[:-1])
    return Laid(part.on, outline, origin, part.motion.along, part.motion.up)


def _snap(length: float) -> float:
    """Return a length on its tick when it is one but for the last bits of floating point."""
    return float(round(length)) if abs(length - round(length)) < 1e-6 else length


# --- corners -----------------------------------------------------------------------------------

def outside_parts(corner: CornerHere, *, fillet: int, turn_down: int, lap: int, ear: int) -> list[FoldedPart]:
    """Return the parts of a footing cover: what closes an outside corner of the footing.

    Parameters
    ----------
    corner
        The corner.
    fillet, turn_down
        Leg of the chamfer, and how far the flaps go down the footing's faces [ticks].
    lap, ear
        How far it goes on to the sheets beside it, and around the arris of the footing [ticks].

    Returns
    -------
    list of FoldedPart
        The ledge's corner with a lap on to both ledges (on to the riser, where the footing steps down there), a flap
        down each face, and an ear from the first face around the arris, in the plan frame of the corner: the first
        face along x, the soil below. Empty where neither face has a ledge.
    """
    p, q = float(corner.before.span.ledge), float(corner.after.span.ledge)
    if not (p or q):
        return []
    turn = math.radians(corner.turn)
    u1, n1 = (1.0, 0.0), (0.0, -1.0)
    u2, n2 = (math.cos(turn), math.sin(turn)), (math.sin(turn), -math.cos(turn))

    def at(*steps: tuple[Spot, float]) -> Spot:
        return (sum(v[0] * length for v, length in steps), sum(v[1] * length for v, length in steps))

    f1, f2 = (float(fillet) if p else 0.0), (float(fillet) if q else 0.0)
    edge = footing_turn(left=p, right=q, turn=corner.turn)
    foot = footing_turn(left=f1, right=f2, turn=corner.turn)
    far = at((u1, edge.left), (n1, p))
    back = on = float(lap)
    level, falls = corner.level, corner.falls
    origin = corner.before.spot(corner.station, 0.0, level)
    ledge = Motion(origin, corner.before.along, scaled(corner.before.out, -1.0))
    kite = Polygon([at((u1, foot.left), (n1, f1)), at((n1, f1)), at((n1, p)), far, at((n2, q)), at((n2, f2))])
    parts = [FoldedPart("ledge", kite.buffer(0), ledge)] if kite.area > 1e-6 else []
    down = float(turn_down)
    for drop, rise, away, way, ends in (
        (-falls, corner.rises[0], scaled(corner.before.along, -1.0), (-1.0, 0.0), (at((n1, f1)), at((n1, p)))),
        (falls, corner.rises[1], corner.after.along, u2, (at((n2, f2)), at((n2, q)))),
    ):
        if ends[0] == ends[1]:
            continue
        reach = lap * (1.0 if drop > 0 else math.hypot(1.0, rise))
        lap_on = Polygon([*ends, *(_moved(end, way, reach) for end in reversed(ends))])
        if drop > 0:  # the footing beside it is lower: the lap goes down the riser
            parts.append(FoldedPart("riser", lap_on, hinge(ledge, *ends, away)))
            continue
        parts.append(FoldedPart("ledge", lap_on, hinge(ledge, *ends, _sloping(away, rise)) if rise else ledge))
    if not down:
        return parts
    left_end = at((u1, -back if falls >= 0 else 0.0), (n1, p))
    right_end = at((u2, on if falls <= 0 else 0.0), (n2, q))
    flaps: list[FoldedPart] = []
    for leg, near, end, plumb, rise in ((corner.before, at((n1, p)), left_end, n1, corner.rises[0]),
                                        (corner.after, at((n2, q)), right_end, n2, corner.rises[1])):
        if rise and leg.span.ledge and kite.area <= 1e-6 and parts:
            # no level edge here that it could hang from: it hangs from that of the sloping ledge
            lap_on = parts[-1]
            flaps.append(_hung(lap_on.motion, far, _moved(far, _unit(near, end), lap * math.hypot(1.0, rise)),
                               down, leg.out))
            continue
        line = (end, far) if leg is corner.before else (far, end)
        flaps.append(FoldedPart("footing face", _under_edge(far, near, end, plumb, down, rise),
                                hinge(ledge, *line, leg.out)))
    parts += flaps
    on_first = flaps[0].motion
    deep = _plumb(on_first)
    arris = (far, _moved(far, deep, down))
    width = float(min(ear, math.dist(far, right_end)))
    around = (-deep[1], deep[0])
    lobe = Polygon([arris[0], arris[1], _moved(arris[1], around, width), _moved(arris[0], around, width)])
    if corner.turn < 90:  # as much of it as there is room for beside the second flap
        sector = Polygon([far, _moved(far, n1, 4 * down + 1), _moved(far, n2, 4 * down + 1)])
        lobe = polygons(lobe.intersection(sector))[0]
    elif lobe.intersection(flaps[1].shape).area > SAME:  # one of the flaps hangs askew from a sloping edge
        lobe = polygons(lobe.difference(flaps[1].shape))[0]
    return [*parts, FoldedPart("footing face", lobe, hinge(on_first, *arris, corner.after.out))]


def _unit(start: Spot, end: Spot) -> Spot:
    """Return the direction from one point to another."""
    long = math.dist(start, end)
    return ((end[0] - start[0]) / long, (end[1] - start[1]) / long)


def _plumb(motion: Motion) -> Spot:
    """Return which way is down on a sheet that lies on an upright face."""
    return (-motion.along[2], -motion.up[2])


def _hung(motion: Motion, far: Spot, end: Spot, down: float, out: Vector) -> FoldedPart:
    """Return a flap that hangs from the edge of what lies on a sloping ledge; its ends are plumb."""
    left, right = sorted((far, end))
    face = hinge(motion, left, right, out)
    deep = _plumb(face)
    return FoldedPart("footing face", Polygon([far, end, _moved(end, deep, down), _moved(far, deep, down)]), face)


def _sloping(away: Vector, rise: float) -> Vector:
    """Return which way a ledge faces that rises, going away from a place, so much for its length on plan."""
    return scaled(plus(UP, scaled(away, -rise)), 1 / math.hypot(1.0, rise))


def _under_edge(far: Spot, near: Spot, end: Spot, down: Spot, deep: float, rise: float) -> Polygon:
    """Return a flap under the edge of a ledge: level from ``far`` to ``near``, rising from there to ``end``.

    Where the edge rises the flap stays below the level line, on which the ledge lies in the pattern; its lower end
    keeps to the slope.
    """
    slant = rise * math.dist(near, end)
    corners = [far, near, _moved(end, down, max(-slant, 0.0)), _moved(end, down, deep - slant),
               _moved(near, down, deep), _moved(far, down, deep)]
    if not slant:
        corners = [far, end, corners[3], corners[5]]
    return Polygon(corners).buffer(0)


def inside_parts(corner: CornerHere, *, fillet: int, turn_down: int, lap: int, ear: int) -> list[FoldedPart]:
    """Return the parts of an inside cover: what closes the edge at which two footing faces meet in an inside corner.

    A flap on each face, folded into that edge, and a tab on to each ledge (on to the wall, where it has no ledge).
    Empty where the sheet does not go down there, or the footing steps at the corner. ``ear`` is not used: an inside
    edge has none.
    """
    p, q = float(corner.before.span.ledge), float(corner.after.span.ledge)
    edge = corner.footing
    if not (p or q) or not turn_down or corner.falls:
        return []
    if min(edge.left, edge.right) < -1e-6:
        return []
    level, down = corner.level, float(turn_down)
    before, after = corner.before, corner.after
    origin = before.spot(corner.station - edge.left, p, level)
    # the pattern's frame: x = 0 in the edge, y = 0 at the top of the footing in the corner
    first = Motion(origin, before.along, UP)
    second = hinge(first, (0.0, 0.0), (0.0, -down), after.out)
    faces: list[FoldedPart] = []
    tabs: list[FoldedPart] = []
    reach = float(lap)
    sides = ((first, before, p, -1.0, edge.left, corner.rises[0]), (second, after, q, 1.0, edge.right, corner.rises[1]))
    for motion, leg, ledge, sign, back, rise in sides:
        low, high = rise * back, rise * (back + reach)
        ends = ((0.0, low), (sign * reach, high))
        foot = _upright(ends, -down)
        if not ledge:  # its own sheet may end above the foot of the edge: the lap goes down as far as the other flap
            foot = Polygon([*ends, *((x, min(y, 0.0) - down) for x, y in reversed(ends))])
        faces.append(FoldedPart("footing face", foot, motion))
        deep = float(lap)
        turned = hinge(motion, (0.0, low), (1.0, low + sign * rise), _sloping(scaled(leg.along, sign), rise))
        on, lies = ("ledge", turned) if ledge else ("wall", motion)
        tabs.append(FoldedPart(on, _beyond(ends, deep), lies))
    return [*(part for part in faces if part.shape.area), *tabs]


def _upright(ends: tuple[Spot, Spot], deep: float) -> Polygon:
    """Return what lies between a line and another one so far above it, or under: the ends are plumb."""
    (x0, y0), (x1, y1) = ends
    return Polygon([(x0, y0), (x1, y1), (x1, y1 + deep), (x0, y0 + deep)])


def _beyond(ends: tuple[Spot, Spot], deep: float) -> Polygon:
    """Return what lies beyond a fold, so deep square to it: above it in the pattern, its ends plumb."""
    (x0, y0), (x1, y1) = ends
    return _upright(ends, deep * math.dist(*ends) / abs(x1 - x0))


# --- steps and changes of ledge ----------------------------------------------------------------

def riser_parts(concrete: Concrete, step: StepHere, *, turn_down: int, lap: int) -> list[list[FoldedPart]]:
    """Return the parts of the covers at a footing step: the riser's, then the one at the foot of its outer edge.

    The riser cover goes on to the wall, the upper and the lower ledge, and around the outer edge on to the face of the
    higher footing. Where that edge meets the lower footing, the sheet of the lower footing's face ends in the open:
    a second cover laps it, the higher footing's face, and the lower ledge.
    """
    leg, out = step.leg, step.leg.out
    f = float(concrete.wall.fillet)
    wide, height = step.upper_ledge, step.height
    low, top = step.bottom, step.top
    # film side up the wall lies to the right of a riser that looks right, to the left of one that looks left
    side = -1.0 if step.falls > 0 else 1.0
    foot = leg.spot(step.station, 0.0, 0.0)
    riser = Motion(foot, scaled(out, side), UP)
    f_low = min(f if step.lower_ledge else 0.0, height, wide)
    f_top = min(f, wide)

    def bar(x0: float, y0: float, x1: float, y1: float) -> Polygon:
        return box(min(side * x0, side * x1), y0, max(side * x0, side * x1), y1)

    parts: list[FoldedPart] = []
    if wide:
        corners = [(0, low + f_low), (0, top), (side * wide, top), (side * wide, low)]
        parts.append(FoldedPart("riser", Polygon([*corners, (side * f_low, low)] if f_low else corners), riser))
    ahead, behind = step.rises
    foot_of_wall = low + f_low
    if step.runs_on and turn_down:
        # around the outer edge the higher footing's face goes on: the cover with it, as far down as the sheet goes
        under = max(low, top - turn_down) if wide else top - turn_down
        past = bar(wide, under, wide + lap, top)
        edge = (side * wide, under), (side * wide, top)
        on_face = hinge(riser, *edge, _beside(concrete, step).out)
        parts += [FoldedPart("footing face", past, on_face),
                  FoldedPart("ledge", bar(wide, top, wide + lap, top + lap),
                             hinge(on_face, (side * wide, top), (side * (wide + lap), top), UP))]
        foot_of_wall = foot_of_wall if wide else under
    wall = hinge(riser, (0.0, low), (0.0, top), out)
    foot_line = [(-side * lap, foot_of_wall + ahead * lap), (0.0, foot_of_wall)]
    parts.append(FoldedPart("wall", Polygon([*foot_line, (0.0, top + lap), (-side * lap, top + lap)]), wall))
    if wide > f_top:
        rise = 0.0 if step.at_corner else behind
        looks = _sloping(scaled(leg.along, float(-step.falls)), rise)
        tab = bar(f_top, top, wide, top + lap * math.hypot(1.0, rise))
        parts.append(FoldedPart("ledge", tab, hinge(riser, (0.0, top), (side, top), looks)))
    lower = min(wide, step.lower_ledge)
    if lower > f_low:
        looks = _sloping(scaled(leg.along, float(step.falls)), ahead)
        tab = bar(f_low, low - lap * math.hypot(1.0, ahead), lower, low)
        parts.append(FoldedPart("ledge", tab, hinge(riser, (0.0, low), (side, low), looks)))
    if turn_down and not step.runs_on:
        around = hinge(riser, (side * wide, low), (side * wide, top), out)
        upper = top + (0.0 if step.at_corner else behind) * lap
        ends = [(side * wide, low), (side * wide, top), (side * (wide + lap), upper), (side * (wide + lap), low)]
        parts.append(FoldedPart("footing face", Polygon(ends), around))
    made = [[part for part in parts if part.shape.area]]
    if turn_down and wide and step.lower_ledge == wide:
        made.append(_foot_parts(concrete, step, turn_down=float(turn_down), lap=lap))
    return made


def _beside(concrete: Concrete, step: StepHere) -> Leg:
    """Return the leg of the higher footing at a step."""
    number = concrete.legs.index(step.leg)
    return concrete.legs[number - step.falls] if step.runs_on else step.leg


def _foot_parts(concrete: Concrete, step: StepHere, *, turn_down: float, lap: int) -> list[FoldedPart]:
    """Return the parts of the cover where a riser's outer edge, or the face it runs on as, meets the lower footing."""
    leg, d = step.leg, float(step.falls)
    foot = leg.spot(step.station, step.lower_ledge, step.bottom)
    face = Motion(foot, leg.along, UP)
    rise = step.rises[0]
    ends = ((0.0, 0.0), (d * lap, rise * lap))
    looks = _beside(concrete, step).out if step.runs_on else leg.out
    upper = box(min(0, -d * lap), -turn_down, max(0, -d * lap), min(float(lap), step.height))
    return [
        FoldedPart("footing face", upper, hinge(face, (0.0, 0.0), (0.0, -1.0), looks)),
        FoldedPart("footing face", _upright(ends, -turn_down), face),
        FoldedPart("ledge", _beyond(ends, float(lap)), hinge(face, *ends, _sloping(scaled(leg.along, d), rise))),
    ]


def ledge_parts(concrete: Concrete, step: StepHere, *, turn_down: int, lap: int) -> list[FoldedPart]:
    """Return the parts of a cover where the ledge changes on a straight wall.

    The end of the wider footing stands open between the two ledges' edges: the cover lies on it, laps the wider ledge,
    and goes around both its upright edges on to the footing faces beside it.
    """
    level, down = step.bottom, float(turn_down)
    if not down:
        return []
    here = [panel for panel in concrete.panels if step.station in (panel.left, panel.right)]
    left = next(panel for panel in here if panel.right == step.station)
    right = next(panel for panel in here if panel.left == step.station)
    wider_right = right.ledge > left.ledge
    narrow, wide = sorted((left.ledge, right.ledge))
    leg = right.leg if wider_right else left.leg
    # x runs out from the wall where the end looks left, and in where it looks right
    side = 1.0 if wider_right else -1.0
    end = Motion(leg.spot(step.station, 0.0, level), scaled(leg.out, side), UP)
    face = box(*ordered(side * narrow, side * wide, -down, 0))
    # of the narrower ledge and of the wider one, going away; at a step only the lower one's edge is here
    ahead, behind = step.rises
    if step.height:
        ahead, behind = (0.0, ahead) if leg is step.leg else (ahead, 0.0)
    deep = lap * math.hypot(1.0, behind)
    tab = box(*ordered(side * max(narrow, float(concrete.wall.fillet)), side * wide, 0, deep))
    inner = _upright(((side * narrow, 0.0), (side * (narrow - lap), ahead * lap)), -down)
    outer = _upright(((side * wide, 0.0), (side * (wide + lap), behind * lap)), -down)
    return [
        FoldedPart("footing face", face, end),
        FoldedPart("ledge", tab, hinge(end, (0.0, 0.0), (1.0, 0.0), _sloping(scaled(leg.along, side), behind))),
        FoldedPart("footing face", inner, hinge(end, (side * narrow, 0.0), (side * narrow, -1.0), leg.out)),
        FoldedPart("footing face", outer, hinge(end, (side * wide, 0.0), (side * wide, -1.0), leg.out)),
    ]


def slope_parts(one: Panel, other: Panel, *, fillet: float, turn_down: int, lap: int) -> list[FoldedPart]:
    """Return the parts of a cover at a change of slope, where the drops are slit from the joint down.

    Both ledges meet in a line square to the wall, over which the cover is bent, and below them lies one footing face:
    the cover hangs from the edge of the ledge on the left, and goes on under the other one's with a slit between.
    """
    leg, at, level, p = one.leg, other.left, other.joint[0], min(one.ledge, other.ledge)
    turn, f = other.slope - one.slope, float(fillet)
    along = plus(scaled(leg.along, math.cos(one.slope)), (0.0, 0.0, math.sin(one.slope)))
    # x = 0 where the slope changes, along the left one; y = 0 at the wall
    left = Motion(leg.spot(at, 0.0, level), along, scaled(leg.out, -1.0))
    reach = [min(lap, panel.right - panel.left) / math.cos(panel.slope) for panel in (one, other)]
    parts: list[FoldedPart] = []
    if p > f:
        right = hinge(left, (0.0, -f), (0.0, -p), _sloping(leg.along, math.tan(other.slope)))
        parts = [FoldedPart("ledge", box(-reach[0], -p, 0.0, -f), left),
                 FoldedPart("ledge", box(0.0, -p, reach[1], -f), right)]
    if not turn_down:
        return parts
    end = (reach[1] * math.cos(turn), -p + reach[1] * math.sin(turn))
    top = [(-reach[0], -p), (0.0, -p), end]
    plumb = (-math.sin(one.slope), -math.cos(one.slope))
    foot = [_moved(spot, plumb, turn_down) for spot in reversed(top)]
    under = _moved(end, plumb, max(end[1] + p, 0.0) / math.cos(one.slope))  # plumb below its end, under the left edge
    face = Polygon([*top[:2], under, *foot])
    return [*parts, FoldedPart("footing face", face, hinge(left, (-reach[0], -p), (0.0, -p), leg.out))]


def _moved(spot: Spot, direction: Spot, by: float) -> Spot:
    return (spot[0] + direction[0] * by, spot[1] + direction[1] * by)
