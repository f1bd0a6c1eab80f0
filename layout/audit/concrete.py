"""The concrete in space, built from the job's own words, and the sheet rolled down over it.

Space of a run: X along the first face from its left end, the soil at -Y, Z the elevation [ticks]. A sheet starts flat
on the wall and is rolled over each edge it comes to, on to the next surface: a turn around the line where two planes
meet, by the angle between them. So much of the run's developed width as is rolled over the same edges is a
``DevelopedBand``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from layout.audit.asked import Asked, AskedFace, AskedRun

SpaceVec = NDArray[np.float64]
Array = NDArray[np.float64]
Spot = tuple[float, float]
AlongWall = TypeVar("AlongWall", float, Array)

UP: SpaceVec = np.array([0.0, 0.0, 1.0])
FLAT = 1e-6
"""Directions and distances less than this apart are the same [ticks, or the sine of an angle]."""
ENDLESS = 1e7
"""Further than any sheet reaches [ticks]."""


def _cross(one: SpaceVec, other: SpaceVec) -> SpaceVec:
    """Return the way square to two ways; for two alone this takes a tenth of the time that numpy's does."""
    (x, y, z), (u, v, w) = one.tolist(), other.tolist()
    return np.array([y * w - z * v, z * u - x * w, x * v - y * u])


@dataclass(frozen=True)
class Plane:
    """A plane of concrete: a point on it, the way out of the concrete, and what it is."""

    at: SpaceVec
    out: SpaceVec
    kind: str


@dataclass(frozen=True)
class Pose:
    """How flat sheet lies in space: its point (x, y) is at ``origin + x * along + y * up``."""

    origin: SpaceVec
    along: SpaceVec
    up: SpaceVec

    @cached_property
    def out(self) -> SpaceVec:
        """The side of the sheet that faces the soil."""
        return _cross(self.along, self.up)

    def carried(self, other: Pose) -> Pose:
        """Return this pose after all of space is moved by another one, whose own sheet lies level."""
        def turn(way: SpaceVec) -> SpaceVec:
            moved: SpaceVec = way[0] * other.along + way[1] * other.up + way[2] * UP
            return moved

        return Pose(other.origin + turn(self.origin), turn(self.along), turn(self.up))

    def put(self, spot: Spot) -> SpaceVec:
        """Return where a point of the sheet lies."""
        return self.origin + spot[0] * self.along + spot[1] * self.up

    def back(self, point: SpaceVec) -> tuple[float, float, float]:
        """Return the point of the sheet nearest a point in space, and how far off the sheet that is."""
        away = point - self.origin
        return float(away @ self.along), float(away @ self.up), float(away @ self.out)

    def put_all(self, spots: Array) -> Array:
        """Return where points of the sheet lie, a row for each."""
        placed: Array = self.origin + spots[:, :1] * self.along + spots[:, 1:] * self.up
        return placed

    def back_all(self, points: Array) -> tuple[Array, Array, Array]:
        """Return for points in space what ``back`` does for one: three columns."""
        away = points - self.origin
        return away @ self.along, away @ self.up, away @ self.out

    def _axis(self, plane: Plane) -> SpaceVec:
        """Return the way of the line in which the sheet meets a plane, as long as the sine of the angle between."""
        return _cross(self.out, plane.out)

    def along_with(self, plane: Plane) -> bool:
        """Tell whether the sheet lies in a plane or beside it, so that no fold leads from one to the other."""
        return float(np.linalg.norm(self._axis(plane))) < FLAT

    def rolled(self, onto: Plane) -> tuple[Pose, tuple[float, float, float]]:
        """Return the sheet turned on to another plane, and the fold: a, b, c with a x + b y = c on the sheet."""
        a, b = float(self.along @ onto.out), float(self.up @ onto.out)
        c = float((onto.at - self.origin) @ onto.out)
        axis = self._axis(onto)
        sine = float(np.linalg.norm(axis))
        if sine < FLAT:
            raise ValueError("two surfaces in one plane have no edge")
        axis = axis / sine
        cosine = float(self.out @ onto.out)
        square = a * a + b * b
        on_fold = self.put((a * c / square, b * c / square))

        def turn(way: SpaceVec) -> SpaceVec:  # Rodrigues' formula
            return way * cosine + _cross(axis, way) * sine + axis * float(axis @ way) * (1 - cosine)

        return Pose(on_fold + turn(self.origin - on_fold), turn(self.along), turn(self.up)), (a, b, c)


@dataclass(frozen=True)
class Facet:
    """One surface of a strip: the plane it lies on, how, and the fold it begins at (None at the top)."""

    plane: Plane
    motion: Pose
    fold: tuple[float, float, float] | None

    def begins(self, x: float) -> float:
        """Return how high the part begins at a station of the sheet."""
        if self.fold is None:
            return ENDLESS
        a, b, c = self.fold
        return (c - a * x) / b


@dataclass(frozen=True)
class Stretch:
    """A straight part of a face's footing top, ``low`` and ``high`` at its two ends: heights of the joint [ticks].

    ``faced`` is False where the ledge goes on without an edge: at an inside corner, on the next wall's footing.
    ``fillet`` is the leg of the chamfer there, and ``over`` the inside corner past which a flap goes down the end of
    its footing, on to a lower one.
    """

    face: AskedFace
    left: float
    right: float
    heights: Spot
    faced: bool
    fillet: float
    over: FaceCorner | None = None

    def height(self, x: AlongWall) -> AlongWall:
        """Return the height of the joint at a station, or at each of many."""
        share = (x - self.left) / (self.right - self.left)
        return self.heights[0] * (1 - share) + self.heights[1] * share


@dataclass(frozen=True)
class DevelopedBand:
    """Some width of the developed run, that over one stretch, with the sheet rolled over its edges."""

    stretch: Stretch
    parts: tuple[Facet, ...]

    @property
    def left(self) -> float:
        """Its left end [ticks]."""
        return self.stretch.left

    @property
    def right(self) -> float:
        """Its right end [ticks]."""
        return self.stretch.right

    def height(self, x: AlongWall) -> AlongWall:
        """Return the height of the joint at a station, or at each of many."""
        return self.stretch.height(x)

    def part_at(self, x: float, y: float) -> Facet:
        """Return the part that a point of the sheet lies on."""
        return next(part for part, after in zip(self.parts, [*self.parts[1:], None])
                    if after is None or y > after.begins(x))

    def levels(self, x: float) -> list[float]:
        """Return the heights of the folds at a station, from the top down."""
        return [part.begins(x) for part in self.parts[1:]]


@dataclass(frozen=True)
class Setting:
    """A face on plan: where its left end is, which way it goes, and which way is out."""

    face: AskedFace
    start: SpaceVec
    way: SpaceVec
    out: SpaceVec

    def spot(self, x: float, off: float = 0.0) -> SpaceVec:
        """Return where a station of the run is on plan, so far off the wall."""
        return self.start + (x - self.face.left) * self.way + off * self.out

    def station(self, spot: SpaceVec) -> float:
        """Return the station of a place on plan."""
        return self.face.left + float((spot - self.start) @ self.way)

    def measured(self, spots: Array) -> tuple[Array, Array]:
        """Return the stations of places on plan, and how far off the wall they are."""
        away = spots - self.start
        return self.face.left + away @ self.way, away @ self.out


@dataclass(frozen=True)
class FaceCorner:
    """Where two faces meet.

    Parameters
    ----------
    at
        Its station [ticks].
    before, after
        The faces on both sides as they lie on plan.
    turn
        How far the run turns to the left there [radians]; less than 0 at an inside corner.
    spot
        Where the wall's corner is on plan.
    edge
        Where the edges of the two footings meet on plan; None where the run goes straight on.
    """

    at: float
    before: Setting
    after: Setting
    turn: float
    spot: SpaceVec
    edge: SpaceVec | None

    def back(self, *, left: bool) -> float:
        """Return how far from the corner the footing's edges meet, along the wall before or after it [ticks]."""
        assert self.edge is not None
        return self.at - self.before.station(self.edge) if left else self.after.station(self.edge) - self.at


@dataclass
class RunInSpace:
    """A run in space.

    A closed run is laid out three times over, from one length before its start to one past its end, so that sheet
    that goes on past the end has concrete under it, whether or not the plan closes.

    Parameters
    ----------
    run
        The run as the job gives it.
    turn_down
        How far the sheet goes down the footing's face [ticks].
    fillet
        Leg of the chamfer at the joint [ticks].
    """

    run: AskedRun
    turn_down: float
    fillet: float
    settings: list[Setting] = field(default_factory=list)
    corners: list[FaceCorner] = field(default_factory=list)
    stretches: list[Stretch] = field(default_factory=list)
    strips: list[DevelopedBand] = field(default_factory=list)

    def heights(self, x: Array) -> Array:
        """Return the height of the joint at each of many stations, the higher one at a step."""
        found = np.full(len(x), -math.inf)
        for strip in self.strips:
            at = (strip.left - FLAT <= x) & (x <= strip.right + FLAT)
            found[at] = np.maximum(found[at], strip.height(x[at]))
        return found

    def again(self) -> list[Pose]:
        """Return how space is moved from this time around to the next and the one before, on a closed run.

        A motion here takes (x, y, 0) in space; upright stays upright.
        """
        if not self.run.closed:
            return []
        count = len(self.run.faces)
        first = self.settings[count]
        moves = []
        for other in (self.settings[0], self.settings[2 * count]):
            cosine = float(first.way @ other.way)
            sine = float(first.way[0] * other.way[1] - first.way[1] * other.way[0])
            along, up = np.array([cosine, sine, 0.0]), np.array([-sine, cosine, 0.0])
            foot = first.start[0] * along + first.start[1] * up
            moves.append(Pose(_deep(other.start, 0.0) - foot, along, up))
        return moves

    def footings(self) -> Iterator[Polygon]:
        """Yield what the footings cover, seen from above: beside each wall, and at each outside corner."""
        widest = max(setting.face.ledge for setting in self.settings)
        for strip in self.strips:
            setting = next(each for each in self.settings if each.face is strip.stretch.face)
            ledge = strip.stretch.face.ledge if strip.stretch.faced else widest
            if ledge:
                yield Polygon([setting.spot(strip.left), setting.spot(strip.right), setting.spot(strip.right, ledge),
                               setting.spot(strip.left, ledge)]).buffer(0)
        for corner in self.corners:
            if corner.edge is not None and corner.turn > 0:
                p, q = corner.before.face.ledge, corner.after.face.ledge
                yield Polygon([corner.spot, corner.before.spot(corner.at, p), corner.edge,
                               corner.after.spot(corner.at, q)]).buffer(0)


def build(run: AskedRun, asked: Asked, turn_down: float) -> RunInSpace:
    """Return a run's concrete with the sheet rolled over it.

    Parameters
    ----------
    run, asked
        The run and its job.
    turn_down
        That of the plan [ticks].
    """
    made = RunInSpace(run, turn_down, float(asked.rules["fillet"]))
    made.settings = _set_out(run)
    for before, after in zip(made.settings, made.settings[1:]):
        made.corners.append(FaceCorner(before.face.right, before, after, turn_of(before.face), after.start,
                                       _edges_meet(before, after)))
    made.stretches = list(_stretches(made))
    made.strips = [_rolled(made, stretch) for stretch in made.stretches]
    return made


def _set_out(run: AskedRun) -> list[Setting]:
    """Return the faces as they lie on plan, the run's first one from (0, 0) along X."""
    around = (-run.length, 0.0, run.length) if run.closed else (0.0,)
    settings: list[Setting] = []
    spot: SpaceVec = np.zeros(2)
    angle = -sum(turn_of(face) for face in run.faces) if run.closed else 0.0
    for by in around:
        for face in run.faces:
            way = np.array([math.cos(angle), math.sin(angle)])
            settings.append(Setting(_moved(face, by), spot, way, np.array([math.sin(angle), -math.cos(angle)])))
            spot = spot + (face.right - face.left) * way
            angle += turn_of(face)
    origin = next(setting.start for setting in settings if setting.face.left == 0)
    return [replace(setting, start=setting.start - origin) for setting in settings]


def _moved(face: AskedFace, by: float) -> AskedFace:
    """Return a face so much farther along the run."""
    return replace(face, left=face.left + by, right=face.right + by,
                   footing=tuple((x + by, y) for x, y in face.footing)) if by else face


def turn_of(face: AskedFace) -> float:
    """Return how far the run turns to the left at a face's right end [radians]."""
    return {"outside": 1, "inside": -1}.get(face.corner, 0) * math.radians(face.angle)


def _edges_meet(before: Setting, after: Setting) -> SpaceVec | None:
    """Return where one footing's edge meets the next one's, both produced; None where they go on in one line."""
    across = float(before.way @ after.out)
    if abs(across) < FLAT:
        return None
    # corner + p * out + s * way lies as far off the next wall as its own ledge
    p, q = before.face.ledge, after.face.ledge
    s = (q - p * float(before.out @ after.out)) / across
    met: SpaceVec = after.start + p * before.out + s * before.way
    return met


# --- the footing along a run -------------------------------------------------------------------

def _stretches(made: RunInSpace) -> Iterator[Stretch]:
    """Yield the straight parts of the footing's top, parted where its edge has no face."""
    for index, setting in enumerate(made.settings):
        face = setting.face
        raised, start, end, downs = _taken(made, index)
        profile = _profile(face, raised)
        stations = {x for x, _ in profile} | {x for x in (start, end) if face.left < x < face.right} | {
            x for left, right, _ in downs for x in (left, right) if face.left < x < face.right}
        for left, right in zip(sorted(stations), sorted(stations)[1:]):
            if right - left > FLAT:
                middle = (left + right) / 2
                heights = _height(profile, left, middle), _height(profile, right, middle)
                own = joint(face, at_right=middle > end)
                higher = any(level > own and x0 < middle < x1 for x0, x1, level in raised)
                fillet = made.fillet if face.ledge or higher else 0.0
                over = next((corner for x0, x1, corner in downs if x0 < middle < x1), None)
                yield Stretch(face, left, right, heights, start <= middle <= end, fillet, over)


def _taken(made: RunInSpace, index: int) -> tuple[
        list[tuple[float, float, float]], float, float, list[tuple[float, float, FaceCorner]]]:
    """Return what the footings of the faces beside one take of it at inside corners.

    First the stations that lie on a neighbour's higher footing (left, right, height), then from where to where its own
    footing has a face, then the stations from which a flap goes down its footing's end beside a lower one.
    """
    downs: list[tuple[float, float, FaceCorner]] = []
    face = made.settings[index].face
    raised: list[tuple[float, float, float]] = []
    start, end = -math.inf, math.inf
    for corner, at_right in ((index, True), (index - 1, False)):
        if not 0 <= corner < len(made.corners) or made.corners[corner].turn >= 0:
            continue
        met = made.corners[corner]
        other = (met.after if at_right else met.before).face
        own, theirs = joint(face, at_right=at_right), joint(other, at_right=not at_right)
        square = abs(met.turn + math.pi / 2) < FLAT
        if own > theirs and (square or not (face.ledge and other.ledge)):
            continue  # the lower footing ends at its face, which goes on to the corner
        back = max(met.back(left=at_right), 0.0)
        if own > theirs:
            # nearer the corner than a knee a flap comes to the other wall before the end of the footing
            knee = max(-max(met.back(left=not at_right), 0.0) * math.cos(met.turn), 0.0)
            downs.append((face.right - back, face.right - knee, met) if at_right else
                         (face.left + knee, face.left + back, met))
        if back and other.ledge and (theirs > own or not face.ledge):
            # their footing runs on to this wall and ends square to it where the two edges meet
            level = max(own, theirs)
            raised.append((face.right - back, face.right, level) if at_right else (face.left, face.left + back, level))
        edge = face.right - back if at_right else face.left + back
        if back and own == theirs and face.ledge:
            edge = _sheet_at_edge(made, index, edge, at_right=at_right)
        if at_right:
            end = edge
        else:
            start = edge
    return raised, start, end, downs


def _sheet_at_edge(made: RunInSpace, index: int, at: float, *, at_right: bool) -> float:
    """Return the station of the sheet that lies on the edge of a face's footing at a station; on a slope beside it."""
    setting = made.settings[index]
    face = setting.face
    steps = [(one, other) for one, other in zip(face.footing, face.footing[1:]) if one[0] < other[0]]
    (x0, y0), (x1, y1) = steps[-1 if at_right else 0]
    if y0 == y1:
        return at
    stretch = Stretch(face, x0, x1, (y0, y1), False, made.fillet)
    pose = Pose(_deep(setting.start - face.left * setting.way, 0.0), _deep(setting.way, 0.0), UP)
    for plane in list(planes_of(setting, stretch))[1:]:
        pose, _ = pose.rolled(plane)
    return pose.back(_deep(setting.spot(at, face.ledge), stretch.height(at)))[0]


def joint(face: AskedFace, *, at_right: bool) -> float:
    """Return the height of the joint at an end of a face."""
    return face.footing[-1][1] if at_right else face.footing[0][1]


def _profile(face: AskedFace, raised: Sequence[tuple[float, float, float]]) -> list[Spot]:
    """Return a face's footing top with what lies on higher footings raised."""
    points: list[Spot] = list(face.footing)
    for left, right, height in raised:
        before = [(x, y) for x, y in points if x < left]
        after = [(x, y) for x, y in points if x > right]
        points = [*before, *([(left, _height(points, left, left - FLAT))] if before else []), (left, height),
                  (right, height), *([(right, _height(points, right, right + FLAT))] if after else []), *after]
    return points


def _height(profile: Sequence[Spot], x: float, side: float) -> float:
    """Return a profile's height at a station, coming from the side of another one."""
    for (x0, y0), (x1, y1) in zip(profile, profile[1:]):
        if x0 < x1 and x0 - FLAT <= x <= x1 + FLAT and x0 - FLAT <= side <= x1 + FLAT:
            share = (x - x0) / (x1 - x0)
            return y0 * (1 - share) + y1 * share  # at both ends to the last bit: no step where there is none
    return profile[0][1] if x <= profile[0][0] else profile[-1][1]


# --- the sheet rolled down ---------------------------------------------------------------------

def _rolled(made: RunInSpace, stretch: Stretch) -> DevelopedBand:
    """Return a stretch with the sheet rolled over its edges, from the wall down."""
    setting = next(each for each in made.settings if each.face is stretch.face)
    planes = list(planes_of(setting, stretch))
    wall = planes[0]
    origin = _deep(setting.start - stretch.face.left * setting.way, 0.0)
    parts = [Facet(wall, Pose(origin, _deep(setting.way, 0.0), UP), None)]
    for plane in planes[1:]:
        motion, fold = parts[-1].motion.rolled(plane)
        parts.append(Facet(plane, motion, fold))
    for plane in _turned_up(made, stretch):
        if parts[-1].motion.along_with(plane):
            continue
        motion, fold = parts[-1].motion.rolled(plane)
        # up on a wall that the sheet, going down, goes into; down over an edge that it goes past
        if fold[1] * (-1 if plane.kind in ("footing face", "riser") else 1) > FLAT:
            parts.append(Facet(plane, motion, fold))
    return DevelopedBand(stretch, tuple(parts))


def _turned_up(made: RunInSpace, stretch: Stretch) -> Iterator[Plane]:
    """Yield the planes that a flap meets beyond its ledge, at an inside corner.

    At a sharp turn it is turned up on the next wall, and at a right angle where the sheet runs askew down a slope; at a
    slight one its tip goes down over the next footing's edge.
    """
    if stretch.faced:
        return
    if stretch.over is not None:
        edge, after = stretch.over.edge, stretch.over.before.face is stretch.face
        assert edge is not None
        way = stretch.over.after.way if after else -stretch.over.before.way
        other = stretch.over.after if after else stretch.over.before
        lower = joint(other.face, at_right=not after)
        yield Plane(_deep(edge, 0.0), _deep(way, 0.0), "riser")
        yield Plane(_deep(edge, lower), UP, "ledge")  # and from the foot of that on to the lower footing
        return
    for corner in made.corners:
        mine = corner.before.face is stretch.face, corner.after.face is stretch.face
        at_left, at_right = abs(corner.at - stretch.left) < FLAT, abs(corner.at - stretch.right) < FLAT
        if not ((mine[0] and at_right) or (mine[1] and at_left)):
            continue
        other = corner.after if mine[0] else corner.before
        spot, out = _deep(corner.spot, stretch.height(corner.at)), _deep(other.out, 0.0)
        if corner.turn > -math.pi / 2 - FLAT:
            yield Plane(spot + other.face.ledge * out, out, "footing face")
        if corner.turn > -math.pi / 2 + FLAT:
            continue
        level = joint(corner.before.face, at_right=True) == joint(corner.after.face, at_right=False)
        if stretch.fillet and other.face.ledge and level:  # at a step what the chamfer takes is pressed in
            yield Plane(spot + stretch.fillet * UP, _outward(out + UP, UP), "fillet")
        yield Plane(spot, out, "wall")


def planes_of(setting: Setting, stretch: Stretch) -> Iterator[Plane]:
    """Yield the planes of a stretch from the wall down: wall, fillet, ledge, footing face."""
    fillet = stretch.fillet
    p = stretch.face.ledge if stretch.faced else ENDLESS
    out = _deep(setting.out, 0.0)
    start, end = (_deep(setting.spot(x), z) for x, z in zip((stretch.left, stretch.right), stretch.heights))
    yield Plane(start, out, "wall")
    if not p:
        return
    along = end - start
    if fillet:
        slant = _cross(along, fillet * out - fillet * UP)
        yield Plane(start + fillet * UP, _outward(slant, out + UP), "fillet")
    if p > fillet:
        yield Plane(start, _outward(_cross(along, out), UP), "ledge")
    if stretch.faced:
        yield Plane(start + p * out, out, "footing face")


def _deep(spot: SpaceVec, z: float) -> SpaceVec:
    return np.array([spot[0], spot[1], z])


def _outward(normal: SpaceVec, like: SpaceVec) -> SpaceVec:
    unit: SpaceVec = normal / np.linalg.norm(normal)
    return unit if float(unit @ like) > 0 else -unit
