"""6xx and 10xx: what closes the places that flat sheet leaves open, and dabs at the points that no sheet holds.

What a cover must lie on is worked from the concrete: points of the open places, and of the laps beside them, just
within their ends. A point is closed when a part of a piece of the right kind lies there.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from layout.audit.asked import Asked, AskedFace, AskedSleeve, ProfilePoints
from layout.audit.concrete import FLAT, UP, RunInSpace, FaceCorner, Pose, Setting, Spot, DevelopedBand, SpaceVec
from layout.audit.findings import Findings
from layout.audit.folding import ROUNDED, corners_of_opening, leads_to, motion_of, slit_heads, taken_up
from layout.audit.spread import OFF, Spread
from layout.audit.walls import line_of, value
from layout.audit.written import WrittenDab, WrittenPiece

INSET = 0.25
"""Points looked at lie so far within what must be closed: less than the tick that a lap must not be short [ticks]."""
ABOUT = 8.0
"""A dab is at its point within this, and more where a fillet is between [ticks]."""
FAR = 400.0
"""A piece of the right kind within this of an open place was meant for it [ticks]."""


@dataclass(frozen=True)
class Open:
    """A place that flat sheet leaves open: the finding it is, what closes it, where it is, and points of it in space.

    ``twice`` are points where two layers must lie.
    """

    number: int
    kind: str
    run: str
    at: float
    height: float
    points: tuple[SpaceVec, ...]
    twice: tuple[SpaceVec, ...] = ()


@dataclass(frozen=True)
class _Cover:
    """One part of a cover as cut: what of it its pattern holds, and how it lies."""

    kind: str
    motion: Pose
    outline: BaseGeometry


class Covers:
    """The parts of all covers of a run, to look up by place.

    Parameters
    ----------
    pieces
        The pieces of the run that have a pattern.
    """

    def __init__(self, pieces: Sequence[WrittenPiece]) -> None:
        self.parts: list[_Cover] = []
        for piece in pieces:
            for laid in piece.parts:
                outline = Polygon(laid.outline).buffer(0).intersection(piece.shape)
                if outline.area > FLAT:
                    shapely.prepare(outline)
                    self.parts.append(_Cover(piece.kind, motion_of(laid), outline))

    def layers(self, kind: str, point: SpaceVec) -> int:
        """Return how many parts of pieces of a kind lie at a point."""
        count = 0
        for part in self.parts:
            if part.kind == kind:
                x, y, off = part.motion.back(point)
                count += abs(off) <= OFF / 2 and bool(part.outline.distance(Point(x, y)) <= INSET / 2)
        return count

    def near(self, kind: str, point: SpaceVec) -> bool:
        """Tell whether a piece of a kind is about a place."""
        return any(part.kind == kind and float(np.linalg.norm(
            part.motion.put((part.outline.centroid.x, part.outline.centroid.y)) - point)) < FAR for part in self.parts)


def check_open(places: Sequence[Open], covers: Covers, book: Findings) -> None:
    """Note open places that nothing closes, or something too small, and arrises without an ear."""
    for place in places:
        where = book.at(place.run, place.at, place.height)
        bare = [point for point in place.points if not covers.layers(place.kind, point)]
        if bare:
            x, y, z = bare[0]
            found = "one too small" if covers.near(place.kind, place.points[0]) else "none"
            book.note(place.number, where, f"{place.kind} with its laps", f"{found}: bare {book.say_length(x)}, "
                      f"{book.say_length(y)} on plan, elevation {book.say_length(z)}")
        elif any(covers.layers(place.kind, point) < 2 for point in place.twice):
            book.note(614, where, "an ear around the arris, a side lap wide", "none, or one too small")


def open_places(made: RunInSpace, asked: Asked) -> list[Open]:
    """Return every place of a run that flat sheet leaves open, with the points that must be closed."""
    end = made.run.length
    corners = [corner for corner in made.corners if (0 < corner.at <= end if made.run.closed else True)]
    found: list[Open] = []
    for corner in corners:
        found += _at_corner(made, asked, corner)
    for left, right in zip(made.strips, made.strips[1:]):
        if abs(left.right - right.left) < ROUNDED and (0 < left.right <= end if made.run.closed else True):
            found += _at_step(made, asked, left, right)
    found += _at_openings(made, asked)
    return found


# --- corners -----------------------------------------------------------------------------------

def _at_corner(made: RunInSpace, asked: Asked, corner: FaceCorner) -> Iterator[Open]:
    p, q = corner.before.face.ledge, corner.after.face.ledge
    if corner.edge is None or not (p or q):
        return
    left, right = corner.before.face.footing[-1][1], corner.after.face.footing[0][1]
    if corner.turn > 0:
        yield _outside(made, asked, corner, (left, right))
    elif made.turn_down and (left == right or not (p and q)) and min(
        corner.back(left=True), corner.back(left=False)
    ) >= 0:
        yield _inside(made, asked, corner, max(left if p else right, right if q else left))


def _outside(made: RunInSpace, asked: Asked, corner: FaceCorner, joints: tuple[float, float]) -> Open:
    """Return the open corner of a ledge with both footing faces beyond the wall's corner, laps and ear."""
    before, after, edge = corner.before, corner.after, corner.edge
    assert edge is not None
    p, q = before.face.ledge, after.face.ledge
    lap, f, t = float(asked.rules["cover_lap"]), made.fillet, made.turn_down
    level = max(joint for joint, ledge in zip(joints, (p, q)) if ledge)
    within = min(0.25, (1 - f / min(ledge for ledge in (p, q) if ledge)) / 2)  # past the fillet, on the level ledge
    middle = edge + within * (before.spot(corner.at, p) + after.spot(corner.at, q) - 2 * edge)
    points = [_at(middle, level), _at(edge + (corner.spot - edge) * min(0.02, within), level)]
    even = joints[0] == joints[1] or not (p and q)
    sides = ((before, p, -1.0, even or joints[0] > joints[1]), (after, q, 1.0, even or joints[1] > joints[0]))
    for setting, ledge, way, full in sides:
        reach = min(lap, _goes_on(made, setting, corner.at, way)) - INSET if full else -INSET
        end = corner.at + way * reach
        height = _joint(made, setting, end) if full else level
        if ledge > f + 1 and full:
            points += [_at(setting.spot(end, off), height) for off in (f + INSET, ledge - INSET)]
        if t and ledge and (full or not even):
            points += [_at(setting.spot(end, ledge), height - t + INSET)]
            points += [_at(edge + way * INSET * setting.way, level - depth) for depth in (INSET, t - INSET)]
    twice: tuple[SpaceVec, ...] = ()
    width = float(asked.rules["side_lap"])
    onto = min(lap, _goes_on(made, after, corner.at, 1.0)) if even or joints[1] >= joints[0] else 0.0
    room = float(np.linalg.norm(edge - after.spot(corner.at + onto, q)))
    if t and p and q:
        depth = t * 0.9
        past = min(width, room, depth * math.tan(corner.turn) if corner.turn < math.pi / 2 - FLAT else math.inf)
        twice = (_at(edge + (past - INSET - 0.05 * past) * after.way, level - depth),)
    return Open(605, "footing cover", made.run.name, corner.at, level, tuple(points), twice)


def _inside(made: RunInSpace, asked: Asked, corner: FaceCorner, level: float) -> Open:
    """Return the edge in which two footing faces meet, a lap on to both and on to both ledges."""
    edge = corner.edge
    assert edge is not None
    lap, t = float(asked.rules["cover_lap"]), made.turn_down
    points: list[SpaceVec] = []
    for setting, left in ((corner.before, True), (corner.after, False)):
        way = -1.0 if left else 1.0
        ledge = setting.face.ledge
        # on a wall without a ledge that a higher footing runs on to, a fillet lies over the end of that ledge
        next_wall = corner.after if left else corner.before
        filled = 0.0 if next_wall.face.ledge else next(
            (strip.stretch.fillet for strip in made.strips
             if strip.stretch.face is next_wall.face and strip.left < corner.at - way * ROUNDED < strip.right), 0.0)
        reach = min(lap, _faced_from(made, setting, corner.at + way * corner.back(left=left), way)) - INSET
        if reach <= 0:
            continue
        for on in (INSET, reach):
            spot = edge + way * on * setting.way
            height = _joint(made, setting, setting.station(spot)) if ledge else level
            points += [_at(spot, height - INSET), _at(spot, height - t + INSET)]
            deep = min(lap, ledge - made.fillet) - INSET
            if ledge and deep > 0:
                # tabs of one pattern part in a plumb line: on a slope that leaves a wedge beside the edge
                inward = way * (1 if on == INSET else -1) * setting.way
                past = filled if on == INSET else 0.0
                slant = deep * abs(_joint(made, setting, setting.station(spot + inward)) - height)
                inner = spot + (past + slant) * inward
                points.append(_at(inner - deep * setting.out, _joint(made, setting, setting.station(inner))))
    return Open(610, "inside cover", made.run.name, corner.at, level, tuple(points))


def _goes_on(made: RunInSpace, setting: Setting, at: float, way: float) -> float:
    """Return how far a face's footing goes on as it is from a station; 0 at its end."""
    return next((abs((strip.right if way > 0 else strip.left) - at) for strip in made.strips
                 if strip.stretch.face is setting.face and strip.left < at + way * ROUNDED < strip.right), 0.0)


def _faced_from(made: RunInSpace, setting: Setting, at: float, way: float) -> float:
    """Return how far from a station the first stretch of a face's footing goes that has an edge; 0 where none does."""
    faced = [strip for strip in made.strips if strip.stretch.face is setting.face and strip.stretch.faced]
    ends = [strip.right - at if way > 0 else at - strip.left for strip in faced]
    return min((end for end in ends if end > ROUNDED), default=0.0)


# --- steps -------------------------------------------------------------------------------------

def _at_step(made: RunInSpace, asked: Asked, left: DevelopedBand, right: DevelopedBand) -> Iterator[Open]:
    """Yield the riser between two strips, or the end of the wider of two ledges."""
    at = left.right
    corner = next((each for each in made.corners if abs(each.at - at) < ROUNDED and each.edge is not None), None)
    if corner is not None and corner.turn < 0:
        return
    one, other = left.height(at), right.height(at)
    p, q = left.stretch.face.ledge, right.stretch.face.ledge
    if one == other and corner is None and p == q and left.stretch.faced and right.stretch.faced:
        below = left.levels(at)[-1] - made.turn_down if left.levels(at) else 0.0
        one_end, other_end = (strip.part_at(at, below).motion.put((at, below)) for strip in (left, right))
        if p and float(np.linalg.norm(one_end - other_end)) > taken_up(asked.unit):
            yield _change_of_slope(made, asked, left, right)
        return
    if one == other:
        if corner is None and p != q and left.stretch.faced and right.stretch.faced and made.turn_down:
            yield _end_of_ledge(made, asked, left, right)
        return
    falls = one > other
    upper, lower = (left, right) if falls else (right, left)
    if corner is not None and not (p and q):
        return
    runs_on = not upper.stretch.faced
    wide = lower.stretch.face.ledge if corner is not None or runs_on else upper.stretch.face.ledge
    if not wide:
        return
    yield _riser(made, asked, upper, lower, wide, alone=corner is None and not runs_on)


def _riser(
    made: RunInSpace, asked: Asked, upper: DevelopedBand, lower: DevelopedBand, wide: float, *, alone: bool,
) -> Open:
    """Return a riser, a lap on to the wall and both ledges, and around its edge on to the higher footing's face."""
    way = 1.0 if lower.left >= upper.right - ROUNDED else -1.0
    at = upper.right if way > 0 else upper.left
    setting = _setting(made, lower)
    top, low = upper.height(at), lower.height(at)
    lap, f = float(asked.rules["cover_lap"]), made.fillet
    ledge = lower.stretch.face.ledge
    foot = min(f if ledge else 0.0, top - low, wide)
    points = [_at(setting.spot(at, off), z) for off in (foot + INSET, wide - INSET) for z in (low + INSET, top - INSET)]
    face = setting.face
    onto = min(lap, (face.right - at) if way > 0 else (at - face.left), lower.right - lower.left) - INSET
    if onto > 0:
        # a riser no higher than the fillet has no edge on the wall: what parts there is less than a fillet long
        if top - low > foot and _has_sheet(made, asked, face, at + way * onto, top + INSET):
            points.append(_at(setting.spot(at + way * onto), top + INSET))
        beside = min(wide, ledge)
        if beside > f + 1:
            points += [_at(setting.spot(at + way * onto, off), lower.height(at + way * onto))
                       for off in (f + INSET, beside - INSET)]
    back = min(lap, upper.right - upper.left) - INSET
    if alone and back > 0:
        height = upper.height(at - way * back)
        if wide > f + 1:
            points += [_at(setting.spot(at - way * back, off), height) for off in (f + INSET, wide - INSET)]
        if made.turn_down:
            points += [_at(setting.spot(at - way * back, wide), z) for z in (low + INSET, height - INSET)]
    return Open(606, "riser cover", made.run.name, at, top, tuple(points))


def _has_sheet(made: RunInSpace, asked: Asked, face: AskedFace, x: float, y: float) -> bool:
    """Tell whether a point of a face's wall is under the membrane line and in no opening."""
    own = next(each for each in made.run.faces if each.name == face.name)  # this time around
    x -= face.left - own.left
    inside = any(each.left <= x <= each.right and each.bottom <= y <= each.top for each in own.openings)
    return not inside and value(line_of(own, asked), x, from_right=True) > y


def _end_of_ledge(made: RunInSpace, asked: Asked, left: DevelopedBand, right: DevelopedBand) -> Open:
    """Return the upright end of the wider of two ledges on one wall, with its laps."""
    at, way = left.right, 1.0 if right.stretch.face.ledge > left.stretch.face.ledge else -1.0
    wider = right if way > 0 else left
    setting = _setting(made, wider)
    narrow, wide = sorted((left.stretch.face.ledge, right.stretch.face.ledge))
    level, t = left.height(at), made.turn_down
    lap = float(asked.rules["cover_lap"])
    onto = min(lap, _goes_on(made, setting, at, way)) - INSET
    points = [_at(setting.spot(at, off), level - depth) for off in (narrow + INSET, wide - INSET)
              for depth in (INSET, t - INSET)]
    inner = max(narrow, made.fillet) + INSET
    narrower = left if wider is right else right
    back = min(lap, _goes_on(made, _setting(made, narrower), at, -way)) - INSET
    points += [_at(setting.spot(at + way * onto, off), wider.height(at + way * onto)) for off in (inner, wide - INSET)]
    points += [_at(setting.spot(x, off), strip.height(x) - t + INSET)
               for x, off, strip in ((at + way * onto, wide, wider), (at - way * back, narrow, narrower))]
    return Open(615, "ledge cover", made.run.name, at, level, tuple(points))


def _change_of_slope(made: RunInSpace, asked: Asked, left: DevelopedBand, right: DevelopedBand) -> Open:
    """Return the wedge that opens below a change of slope: a lap to both sides on the ledge and on its face."""
    at, t, f = left.right, made.turn_down, made.fillet
    setting = _setting(made, left)
    ledge = left.stretch.face.ledge
    points: list[SpaceVec] = []
    for strip, way in ((left, -1.0), (right, 1.0)):
        x = at + way * (min(float(asked.rules["cover_lap"]), strip.right - strip.left) - INSET)
        height = strip.height(x)
        if ledge > f + 1:
            points += [_at(setting.spot(x, off), height) for off in (f + INSET, ledge - INSET)]
        if t:  # under both edges, the one it is beside and the other one produced
            points += [_at(setting.spot(x, ledge), z) for z in (
                min(left.height(x), right.height(x)) - INSET, height - t + INSET)]
    return Open(616, "slope cover", made.run.name, at, left.height(at), tuple(points))


def _joint(made: RunInSpace, setting: Setting, x: float) -> float:
    """Return the height of a face's joint at a station: that of its faced part there, or of the nearest one."""
    faced = [strip for strip in made.strips if strip.stretch.face is setting.face and strip.stretch.faced]
    return min(faced, key=lambda strip: max(strip.left - x, x - strip.right, 0.0)).height(x)


def _setting(made: RunInSpace, strip: DevelopedBand) -> Setting:
    return next(setting for setting in made.settings if setting.face is strip.stretch.face)


def _at(spot: SpaceVec, z: float) -> SpaceVec:
    return np.array([spot[0], spot[1], z])


# --- openings ----------------------------------------------------------------------------------

def _at_openings(made: RunInSpace, asked: Asked) -> Iterator[Open]:
    """Yield the corners of openings that the sheet turns into: both sides as deep as it goes, and the wall beside."""
    back = float(asked.rules["opening_return"])
    lap = float(asked.rules["cover_lap"])
    if not back:
        return
    for face in made.run.faces:
        wall = next(strip for strip in made.strips if abs(strip.left - face.left) < ROUNDED).parts[0].motion
        line = line_of(face, asked)
        for opening in face.openings:
            wide, high = opening.right - opening.left, opening.top - opening.bottom
            deep = min(back, wide / 2, high / 2) - INSET
            for x, y, dx, dy in corners_of_opening(opening):
                top = value(line, x, from_right=dx > 0)
                joint = value(face.footing, x, from_right=dx > 0) + (made.fillet if face.ledge else 0.0)
                if top <= y or y <= joint:
                    continue
                corner = wall.put((x, y))
                along, up = dx * wall.along, dy * UP
                beside = min(lap, high / 2, *((top - y,) if dy > 0 else ())) - INSET
                past = min(lap, wide / 2, *(_under(line, x, y, dx) if dy < 0 else ())) - INSET
                into = -wall.out * deep
                points = (corner + into + up * beside, corner + into + along * past,
                          corner + up * beside - along * INSET, corner + along * past - up * INSET)
                yield Open(611, "opening gusset", made.run.name, x, y, points)


def _under(line: ProfilePoints, x: float, y: float, way: int) -> Iterator[float]:
    """Yield how far along a head, right (1) or left (-1) of its corner, the membrane line comes down to it."""
    for (x0, y0), (x1, y1) in itertools.pairwise(line):
        low, high = min(y0, y1), max(y0, y1)
        if low <= y < high or low == high == y:
            there = x0 if x0 == x1 or y0 == y1 else x0 + (y - y0) / (y1 - y0) * (x1 - x0)
            if (there - x) * way > 0:
                yield (there - x) * way


# --- sleeves -----------------------------------------------------------------------------------

def check_sleeves(pieces: Sequence[WrittenPiece], sleeves: Sequence[AskedSleeve], asked: Asked, run: str,
                  book: Findings) -> None:
    """Note pieces around a pipe that stands out without a slit to it, and slits of drops without a patch.

    Parameters
    ----------
    pieces
        The flat pieces of a run's membrane.
    sleeves
        Those whose pipe stands out.
    asked
        The job's rules.
    run
        Name of the run.
    book
        Where findings are noted.
    """
    lap = float(asked.rules["cover_lap"])
    patches = [piece.shape for piece in pieces if piece.kind == "sleeve patch"]
    for sleeve in sleeves:
        centre = Point(sleeve.x, sleeve.y)
        for piece in pieces:
            shape = piece.shape
            around = any(Polygon(hole).contains(centre) for hole in piece.holes)
            if not around or piece.kind == "sleeve patch":
                continue
            slits = [LineString(slit) for slit in piece.slits if leads_to(LineString(slit), sleeve, shape)]
            place = f"piece {piece.tag}, sleeve {sleeve.tag}, " + book.at(run, sleeve.x, sleeve.y)
            if not slits:
                book.note(612, place, "a slit from its hole to an edge", "none")
            elif piece.kind == "drop" and not any(_patched(patch, slits[0], shape, lap) for patch in patches):
                book.note(613, place, f"a patch {book.say_length(lap)} past the slit on both sides", "none")


def _patched(patch: Polygon, slit: LineString, sheet: Polygon, lap: float) -> bool:
    """Tell whether a patch lies over a slit, a lap past it on both sides as far as there is sheet."""
    (x0, y0), (x1, y1) = slit.coords[0][:2], slit.coords[-1][:2]
    long = slit.length
    across = ((y0 - y1) / long * (lap - INSET), (x1 - x0) / long * (lap - INSET))
    for share in (0.1, 0.5, 0.9):
        x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
        for sign in (1, -1):
            spot = Point(x + sign * across[0], y + sign * across[1])
            if sheet.contains(spot) and patch.distance(spot) > INSET:
                return False
    return True


# --- dabs --------------------------------------------------------------------------------------

def weak_points(pieces: Sequence[WrittenPiece], spread: Spread, sealed: Sequence[Polygon]) -> list[SpaceVec]:
    """Return where slits end within pieces, in space: there every ply ends in one point.

    ``sealed`` are places where the sheet is trimmed and sealed along its edges: see ``folding.cut_openings``.
    """
    found: list[SpaceVec] = []
    for piece in pieces:
        for spot in slit_heads(piece.shape, piece.slits):
            if piece.flat and any(each.contains(Point(spot)) for each in sealed):
                continue
            run = spread.made.run
            if piece.flat and run.closed and spot[0] > run.length:  # past the seam, which may leave a gap on plan
                spot = (spot[0] - run.length, spot[1])
            if piece.flat:  # as the sheet above it lies, which is whole
                found.append(spread.motion_at((spot[0] - 0.01, spot[1] + ROUNDED)).put(spot))
            elif piece.parts:
                laid = min(piece.parts, key=lambda part: Polygon(part.outline).distance(Point(spot)))
                found.append(motion_of(laid).put(spot))
    return found


def check_dabs(
    dabs: Sequence[WrittenDab], weak: Sequence[SpaceVec], known: Sequence[SpaceVec], made: RunInSpace, lap: float,
    book: Findings,
) -> None:
    """Note weak points without a dab that reaches the lap all round them, and dabs where nothing is weak.

    Parameters
    ----------
    dabs
        Those of the run.
    weak
        Points that need one.
    known
        Other points where a dab has its place: those of the concrete, and inner corners of patterns.
    made
        The run's concrete.
    lap
        The side lap [ticks].
    book
        Where findings are noted.
    """
    run = made.run.name
    missing: list[SpaceVec] = []
    for point in weak:
        held = any(float(np.linalg.norm(np.array(dab.point) - point)) + lap <= dab.size / 2 + ROUNDED for dab in dabs)
        if not held and not any(float(np.linalg.norm(point - other)) < ABOUT for other in missing):
            missing.append(point)
            x, y, z = point
            book.note(1004, f"run {run}, {book.say_length(x)}, {book.say_length(y)} on plan, elevation "
                            f"{book.say_length(z)}", f"a dab {book.say_length(2 * lap)} across or more", "none")
    near = ABOUT + made.fillet * math.sqrt(2)
    for dab in dabs:
        point = np.array(dab.point)
        if not any(float(np.linalg.norm(point - other)) <= near for other in (*weak, *known)):
            book.note(1005, f"dab {dab.tag}", "a point that no sheet holds", "none there")
        elif abs(dab.elevation - point[2]) > 1 or not _at_station(made, dab, point):
            book.note(1005, f"dab {dab.tag}", f"the place of its point, {book.say_length(point[2])} high",
                      f"{book.say_length(dab.station)}, {book.say_length(dab.elevation)} high")


def _at_station(made: RunInSpace, dab: WrittenDab, point: SpaceVec) -> bool:
    """Tell whether a dab's station is that of the corner or step it is at, or the nearest to its point on plan."""
    around = made.run.length if made.run.closed else math.inf
    if any(corner.edge is not None and float(np.linalg.norm(corner.edge - point[:2])) < ABOUT
           and math.remainder(corner.at - dab.station, around) == 0 for corner in made.corners):
        return True
    for strip in made.strips:
        if abs(math.remainder(strip.right - dab.station, around)) <= 2 * ABOUT:
            foot = _setting(made, strip).spot(strip.right)
            if float(np.linalg.norm(foot - point[:2])) <= FAR:
                return True
    # each time around a closed run by itself: where its plan leaves a gap, sheet past its end lies on from the last
    # face, and another time around may come to lie across this one
    count = len(made.run.faces)
    said, nearest = math.inf, 0.0
    for index, by in enumerate((-made.run.length, 0.0, made.run.length) if made.run.closed else (0.0,)):
        once = made.settings[index * count:(index + 1) * count]
        here = min((float(np.linalg.norm(setting.spot(dab.station + by) - point[:2])) for setting in once
                    if setting.face.left - ROUNDED <= dab.station + by <= setting.face.right + ROUNDED),
                   default=math.inf)
        if here < said:
            said = here
            nearest = min(float(np.linalg.norm(setting.spot(min(max(setting.station(point[:2]), setting.face.left),
                                                                setting.face.right)) - point[:2]))
                          for setting in once)
    return said <= nearest + ABOUT


def meeting_points(made: RunInSpace, asked: Asked) -> list[SpaceVec]:
    """Return the points of a run's concrete in which three surfaces or more meet."""
    found: list[SpaceVec] = []
    for left, right in zip(made.strips, made.strips[1:]):
        at = left.right
        for strip in (left, right):
            setting = _setting(made, strip)
            for level in {left.height(at), right.height(at)}:
                ledges = {0.0, left.stretch.face.ledge, right.stretch.face.ledge}
                found += [_at(setting.spot(at, off), level + (made.fillet if not off else 0.0)) for off in ledges]
    for corner in made.corners:
        if corner.edge is not None:
            joints = corner.before.face.footing[-1][1], corner.after.face.footing[0][1]
            found += [_at(corner.edge, joint) for joint in joints]
    for face in made.run.faces:
        wall = next(strip for strip in made.strips if abs(strip.left - face.left) < ROUNDED).parts[0].motion
        found += [wall.put((x, y)) for opening in face.openings for x, y, _, _ in corners_of_opening(opening)]
    return found


def inner_corners(pieces: Sequence[WrittenPiece]) -> Iterator[SpaceVec]:
    """Yield in space the corners of patterns that go in, and all ends of their slits."""
    for piece in pieces:
        if not piece.parts:
            continue
        for spot in (end for slit in piece.slits for end in slit):
            laid = min(piece.parts, key=lambda part: Polygon(part.outline).distance(Point(spot)))
            yield motion_of(laid).put(spot)
        ring: Sequence[Spot] = piece.ring
        way = 1 if Polygon(ring).exterior.is_ccw else -1
        for before, here, after in zip([ring[-1], *ring], ring, [*ring[1:], ring[0]]):
            turn = (here[0] - before[0]) * (after[1] - here[1]) - (here[1] - before[1]) * (after[0] - here[0])
            if turn * way < 0:
                laid = min(piece.parts, key=lambda part: Polygon(part.outline).distance(Point(here)))
                yield motion_of(laid).put(here)


# --- the order ---------------------------------------------------------------------------------

def check_ply_order(pieces: Sequence[WrittenPiece], run: str, book: Findings) -> None:
    """Note an order of plies that does not count up, that hangs a drop before what goes under it, or turns a drop's

    pieces around: reinforcing goes first, then the drops by their numbers, of a drop the lower piece first; a patch at
    a sleeve goes on after the drop it lies on.
    """
    ordered = sorted(pieces, key=lambda piece: piece.order)
    if [piece.order for piece in ordered] != list(range(1, len(ordered) + 1)):
        book.note(1008, f"run {run}", f"1 to {len(ordered)}, once each", "another count")
        return
    latest = ""
    install = 0
    for piece in ordered:
        if piece.drop:
            latest = piece.tag
            if piece.install < install:
                book.note(1008, f"piece {piece.tag}", "the drops by their numbers", f"{piece.install} after {install}")
                return
            install = piece.install
        elif latest and piece.kind not in ("sleeve patch", "patch"):
            book.note(1008, f"piece {piece.tag}", "before the drops", f"after {latest}")
            return
        elif not latest and piece.kind in ("sleeve patch", "patch"):
            book.note(1008, f"piece {piece.tag}", "after the drop it lies on", "before the drops")
            return
    _check_pieces_of_drops(ordered, book)


def _check_pieces_of_drops(ordered: Sequence[WrittenPiece], book: Findings) -> None:
    hung: dict[str, list[WrittenPiece]] = {}
    for piece in ordered:
        if piece.drop:
            hung.setdefault(piece.drop, []).append(piece)
    for drop, pieces in hung.items():
        for lower, upper in zip(pieces, pieces[1:]):
            beside = (min(x for x, _ in lower.ring) < max(x for x, _ in upper.ring)
                      and min(x for x, _ in upper.ring) < max(x for x, _ in lower.ring))
            if beside and min(y for _, y in lower.ring) > min(y for _, y in upper.ring):
                book.note(1009, f"drop {drop}", f"{upper.tag} before {lower.tag}", f"{lower.tag} first")
