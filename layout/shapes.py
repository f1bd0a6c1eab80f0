"""Pure shape helpers: profiles, the region to cover, outlines on whole ticks.

Everything here rounds so that a sheet cut to the result covers what it must: tops go up, bottoms go
down, holes shrink.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import TypeVar

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.records import FaceSpan, Hole, Point, Profile, Ring, SleeveHole, Wall

Exact = tuple[tuple[int, Fraction], ...]
"""A profile whose elevations are not rounded yet: stations on whole ticks, elevations between them."""
Levels = Sequence[tuple[int, int | Fraction]]
"""A profile, rounded or not."""
ShapeKind = TypeVar("ShapeKind", bound=BaseGeometry)
LevelKind = TypeVar("LevelKind", int, Fraction)

CIRCLE_POINTS = 64
"""Points of the polygon that stands for a sleeve's hole."""


def value(profile: Levels, station: int | Fraction, *, from_right: bool) -> Fraction:
    """Return the elevation of a profile at a station [ticks].

    At a step, ``from_right`` says which side's elevation is meant.
    """
    first, after = bisect_left(profile, station, key=_station), bisect_right(profile, station, key=_station)
    if first < after:
        return Fraction(profile[after - 1 if from_right else first][1])
    if not first:
        return Fraction(profile[0][1])
    if first == len(profile):
        return Fraction(profile[-1][1])
    (x0, y0), (x1, y1) = profile[first - 1], profile[first]
    return y0 + Fraction(y1 - y0) * (Fraction(station) - x0) / (x1 - x0)


def _station(point: tuple[int, Fraction | int]) -> int:
    return point[0]


def exactly(profile: Levels) -> Exact:
    """Return a profile with its elevations as fractions [ticks]."""
    return tuple((x, Fraction(y)) for x, y in profile)


def along(profile: Levels, left: int, right: int) -> list[tuple[int, Fraction]]:
    """Return a profile's points on [left, right], with its own values just inside both ends."""
    first, after = bisect_right(profile, left, key=_station), bisect_left(profile, right, key=_station)
    inside = [(x, Fraction(y)) for x, y in profile[first:after]]
    start = (left, value(profile, left, from_right=True))
    end = (right, value(profile, right, from_right=False))
    return [start, *inside, end]


def highest(profile: Profile, left: int, right: int) -> int:
    """Return the highest elevation between two stations, rounded up to a tick."""
    first, after = bisect_right(profile, left, key=_station), bisect_left(profile, right, key=_station)
    return max(-_floor(profile, left, from_right=True, sign=-1), -_floor(profile, right, from_right=False, sign=-1),
               *(math.ceil(y) for _, y in profile[first:after]))


def lowest(profile: Profile, left: int, right: int) -> int:
    """Return the lowest elevation between two stations, rounded down to a tick."""
    first, after = bisect_right(profile, left, key=_station), bisect_left(profile, right, key=_station)
    return min(_floor(profile, left, from_right=True), _floor(profile, right, from_right=False),
               *(math.floor(y) for _, y in profile[first:after]))


def _floor(profile: Levels, station: int, *, from_right: bool, sign: int = 1) -> int:
    """Return the elevation of a profile at a station, times ``sign``, rounded down: ``value`` in whole numbers."""
    first, after = bisect_left(profile, station, key=_station), bisect_right(profile, station, key=_station)
    if first < after or not first or first == len(profile):
        at = (after - 1 if from_right else first) if first < after else min(first, len(profile) - 1)
        return math.floor(sign * profile[at][1])
    (x0, y0), (x1, y1) = profile[first - 1], profile[first]
    return math.floor(sign * (y0 * (x1 - station) + y1 * (station - x0)) // (x1 - x0))


def tidy(points: Iterable[tuple[int, LevelKind]]) -> tuple[tuple[int, LevelKind], ...]:
    """Drop repeated points and points in the middle of a straight line."""
    kept: list[tuple[int, LevelKind]] = []
    for point in points:
        if kept and kept[-1] == point:
            continue
        while len(kept) >= 2 and _straight(kept[-2], kept[-1], point):
            kept.pop()
        kept.append(point)
    return tuple(kept)


def _straight(a: tuple[int, LevelKind], b: tuple[int, LevelKind], c: tuple[int, LevelKind]) -> bool:
    """Tell whether b lies on the line from a to c, between them."""
    if (b[0] - a[0]) * (c[1] - a[1]) != (c[0] - a[0]) * (b[1] - a[1]):
        return False
    return min(a[0], c[0]) <= b[0] <= max(a[0], c[0]) and min(a[1], c[1]) <= b[1] <= max(a[1], c[1])


def repeated(wall: Wall) -> Wall:
    """Return a closed wall laid out twice, so that drops across its start see one stretch; others as they are."""
    if not wall.closed:
        return wall
    length = wall.length

    def twice(profile: Profile) -> Profile:
        return tidy((*profile, *((x + length, y) for x, y in profile)))

    return replace(
        wall,
        closed=False,
        length=2 * length,
        top=twice(wall.top),
        bottom=twice(wall.bottom),
        footing=twice(wall.footing),
        wall_top=twice(wall.wall_top),
        grade=twice(wall.grade) if wall.grade else None,
        faces=wall.faces + tuple(replace(f, left=f.left + length, right=f.right + length) for f in wall.faces),
        holes=wall.holes + tuple(replace(h, left=h.left + length, right=h.right + length) for h in wall.holes),
        openings=wall.openings + tuple(
            replace(o, left=o.left + length, right=o.right + length) for o in wall.openings),
        rounds=wall.rounds + tuple(replace(r, x=r.x + length) for r in wall.rounds),
        keeps=wall.keeps + tuple(replace(k, left=k.left + length, right=k.right + length) for k in wall.keeps),
        slopes=wall.slopes + tuple((a + length, b + length, side) for a, b, side in wall.slopes),
    )


def band(wall: Wall, left: int, right: int) -> Ring:
    """Return the outline, on whole ticks, of what lies between the membrane line and the sheet's end.

    The wall must reach from ``left`` to ``right``: use ``repeated`` for a closed one. Holes are not taken out.
    """
    upper = [(x, math.ceil(y)) for x, y in along(wall.top, left, right)]
    lower = [(x, math.floor(y)) for x, y in along(wall.bottom, left, right)]
    return tidy_ring([*upper, *reversed(lower)])


def tidy_ring(points: Sequence[Point]) -> Ring:
    """Return an outline without repeated points or points in the middle of a side."""
    ring = list(tidy(points))
    if len(ring) > 1 and ring[0] == ring[-1]:
        ring.pop()
    changed = True
    while changed and len(ring) > 3:
        changed = False
        for i in (0, -1):
            before, here, after = ring[i - 1], ring[i], ring[(i + 1) % len(ring)]
            if here in (before, after) or _straight(before, here, after):
                del ring[i]
                changed = True
                break
    return tuple(ring)


@lru_cache(maxsize=4096)
def circle_ring(x: int, y: int, diameter: int) -> Ring:
    """Return the outline, on whole ticks and inside the circle, of a round hole.

    Each of 64 points at equal angles, clockwise from the top, is moved toward the centre to whole ticks, so that
    the sheet always reaches the circle.
    """
    points: list[Point] = []
    for k in range(CIRCLE_POINTS):
        angle = math.pi / 2 - 2 * math.pi * k / CIRCLE_POINTS
        dx = math.trunc(round(math.cos(angle) * diameter / 2, 6))
        dy = math.trunc(round(math.sin(angle) * diameter / 2, 6))
        point = (x + dx, y + dy)
        if not points or points[-1] != point:
            points.append(point)
    return tidy_ring(points)


def hole_polygon(hole: Hole) -> Polygon:
    """Return an opening as the sheet sees it."""
    return rectangle(hole.left, hole.bottom, hole.right, hole.top)


def round_polygon(sleeve: SleeveHole) -> Polygon:
    """Return a sleeve's hole."""
    return Polygon(circle_ring(sleeve.x, sleeve.y, sleeve.diameter))


def rectangle(left: float, bottom: float, right: float, top: float) -> Polygon:
    """Return an upright rectangle."""
    rectangular: Polygon = shapely.box(left, bottom, right, top, ccw=False)
    return rectangular


def prepared(shape: ShapeKind) -> ShapeKind:
    """Return a shape made ready for being asked many times what lies in it."""
    shapely.prepare(shape)
    return shape


def outline_polygon(outline: Ring, holes: Iterable[Ring] = ()) -> Polygon:
    """Return an outline less its holes as a polygon."""
    return Polygon(outline, list(holes))


def polygon_of(ring: Sequence[tuple[float, float]]) -> Polygon:
    """Return an outline that need not lie on whole ticks as a polygon."""
    return Polygon(ring)


def area_together(shapes: Iterable[Sequence[Sequence[tuple[float, float]]]]) -> float:
    """Return the area under shapes, what lies under several counted once; each shape is its outline, then its holes."""
    return float(unary_union([Polygon(rings[0], rings[1:]).buffer(0) for rings in shapes]).area)


def united(shapes: Iterable[BaseGeometry]) -> BaseGeometry:
    """Return what lies in any of some shapes as one shape."""
    return unary_union(list(shapes))


def must_cover(wall: Wall, left: int, right: int) -> BaseGeometry:
    """Return what the layer must cover between two stations: the band less openings and sleeves.

    Nothing where the band has no height, as a drainage board's has along a door.
    """
    ring = band(wall, left, right)
    if len(ring) < 3:
        return Polygon()
    outline = Polygon(ring)
    if not outline.is_valid:
        outline = outline.buffer(0)
    cutouts = [hole_polygon(h) for h in wall.holes if h.left < right and h.right > left]
    reach = [r for r in wall.rounds if r.x - r.diameter < right and r.x + r.diameter > left]
    cutouts += [round_polygon(r) for r in reach]
    return outline.difference(unary_union(cutouts)) if cutouts else outline


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """Return the polygons of a shape that have an area, left to right and top to bottom."""
    if isinstance(shape, Polygon):
        parts = [shape]
    elif isinstance(shape, MultiPolygon):
        parts = list(shape.geoms)
    else:
        parts = [part for part in getattr(shape, "geoms", ()) if isinstance(part, Polygon)]
    parts = [part for part in parts if part.area > 0]
    if len(parts) > 1:
        parts.sort(key=lambda part: (-part.bounds[3], part.bounds[0], part.bounds[1]))
    return parts


def line_points(line: BaseGeometry) -> list[tuple[float, float]]:
    """Return the points of a line or a ring, in order."""
    return [(x, y) for x, y in shapely.get_coordinates(line).tolist()]


def ring_of(coordinates: Iterable[Sequence[float]]) -> Ring:
    """Return an outline on whole ticks, clockwise from its top left.

    Corners that are not on a tick are rounded to the nearest one.
    """
    points: list[Point] = []
    for x, y, *_ in coordinates:
        points.append((round(x), round(y)))
    ring = list(tidy_ring(points))
    if signed_area(ring) > 0:
        ring.reverse()
    start = min(range(len(ring)), key=lambda i: (-ring[i][1] + ring[i][0], ring[i][0], -ring[i][1]))
    return tuple(ring[start:] + ring[:start])


def signed_area(ring: Sequence[Point]) -> float:
    """Return the area of an outline [square ticks], positive when it runs counter-clockwise."""
    total = 0
    for (x0, y0), (x1, y1) in zip(ring, [*ring[1:], *ring[:1]], strict=True):
        total += x0 * y1 - x1 * y0
    return total / 2


def ring_area(outline: Ring, holes: Iterable[Ring] = ()) -> float:
    """Return the area inside an outline less its holes [square ticks]."""
    return abs(signed_area(outline)) - sum(abs(signed_area(hole)) for hole in holes)


# --- what is not flat: corners and steps of the footing ----------------------------------------

def corners(wall: Wall) -> list[FaceSpan]:
    """Return the faces with a corner of the run at their right end; the open end of a run is not one."""
    spans = wall.faces if wall.closed else wall.faces[:-1]
    return [span for span in spans if span.corner != "none"]


def following(wall: Wall, span: FaceSpan) -> FaceSpan:
    """Return the face that comes after another; after the last of a closed run, the first."""
    index = wall.faces.index(span)
    return wall.faces[(index + 1) % len(wall.faces)]


@dataclass(frozen=True)
class Turn:
    """How far two footings go past, or stop short of, the wall's corner until their edges meet.

    ``left`` and ``right`` are measured along the first and the second face from the corner, away from it at an outside
    corner and back from it at an inside one [ticks].
    """

    left: float
    right: float


def footing_turn(*, left: float, right: float, turn: float) -> Turn:
    """Return where the edges of two ledges meet.

    Parameters
    ----------
    left, right
        Ledges before and after the corner [ticks].
    turn
        How far the wall turns there [degrees].

    Notes
    -----
    The point lies ``left`` out from the first face and ``right`` out from the second, so along the first face it is
    (right - left cos t) / sin t from the corner. Below 0 no footing is like that: its edge would end before the
    corner.

    Examples
    --------
    >>> round(footing_turn(left=96, right=160, turn=90).left), round(footing_turn(left=96, right=160, turn=90).right)
    (160, 96)
    """
    sine, cosine = math.sin(math.radians(turn)), math.cos(math.radians(turn))
    if left == right or abs(sine) < 1e-9:
        reach = left * math.tan(math.radians(turn) / 2)
        return Turn(reach, reach)
    return Turn((right - left * cosine) / sine, (left - right * cosine) / sine)


def open_area(*, left: int, right: int, turn_down: int, turn: float = 90.0) -> float:
    """Return the area that flat drops leave open at an outside footing corner [square ticks].

    At an inside corner the same area is doubled up instead.

    Parameters
    ----------
    left, right
        Ledges before and after the corner [ticks].
    turn_down
        How far the sheet goes down the footing's face [ticks].
    turn
        How far the wall turns [degrees].

    Notes
    -----
    Two right-angled triangles on the ledge, and a strip of each face: (left a + right b) / 2 +
    (a + b) d, a and b how far the edges go on. With equal ledges p at 90 degrees this is p² + 2 p d; at a turn t it is
    p² tan(t/2) + 2 p d tan(t/2).

    Examples
    --------
    >>> round(open_area(left=6 * 16, right=6 * 16, turn_down=4 * 16) / 256, 6)
    84.0
    """
    past = footing_turn(left=left, right=right, turn=turn)
    on_left, on_right = max(past.left, 0.0), max(past.right, 0.0)
    return (left * on_left + right * on_right) / 2 + (on_left + on_right) * turn_down


@dataclass(frozen=True)
class Riser:
    """A step of the footing: where, how high, and the wider ledge beside it [ticks]."""

    at: int
    height: int
    ledge: int
    face: str


def risers(wall: Wall) -> list[Riser]:
    """Return the steps of a run's footing whose riser stands out from the wall, left to right."""
    found: list[Riser] = []
    points = list(wall.footing)
    if wall.closed:
        points = [*points, (wall.length, wall.footing[0][1])]
    for (x0, y0), (x1, y1) in zip(points, points[1:], strict=False):
        if x0 != x1 or y0 == y1:
            continue
        before = [span for span in wall.faces if span.left < x0 <= span.right]
        after = [span for span in wall.faces if span.left <= x0 % wall.length < span.right] or before
        upper = (before if y0 > y1 else after)[0]
        if upper.ledge:
            found.append(Riser(at=x0, height=abs(y1 - y0), ledge=upper.ledge, face=upper.name))
    return found
