"""The audit's own geometry of a wall: what must be covered, where sheet may lie.

Worked in floats on ticks. A sleeve is a 256-sided polygon one tick outside its circle; two shapes count as equal where
they differ by less than ``SPECK`` square ticks in one place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.audit.asked import Asked, AskedFace, AskedOpening, ProfilePoints, AskedRun, AskedSleeve

SPECK = 0.01
"""Area under which a difference of shapes is only rounding [square ticks]."""
SLACK = 2.5
"""How far sheet may reach past where it belongs, for whole ticks on slopes and circles [ticks]."""
CORNER = 1.5
"""How much farther where two sleeves meet: the corner of sheet between them is on whole ticks too [ticks]."""
CIRCLE = 256
_CIRCLE = np.array([(math.cos(2 * math.pi * k / CIRCLE), math.sin(2 * math.pi * k / CIRCLE)) for k in range(CIRCLE)])


@dataclass(frozen=True)
class Bounds:
    """The membrane line and the sheet's end over one stretch: straight lines from left to right [ticks]."""

    left: float
    right: float
    high: tuple[float, float]
    low: tuple[float, float]


def toe(face: AskedFace, *, turn_down: float, fillet: float) -> float:
    """Return the developed distance below the joint [ticks], exact."""
    return face.ledge + turn_down - ((2 - math.sqrt(2)) * fillet if face.ledge else 0)


def value(points: ProfilePoints, x: float, *, from_right: bool) -> float:
    """Return a profile's elevation at a station, on one side of a step."""
    at = [y for station, y in points if station == x]
    if at:
        return at[-1] if from_right else at[0]
    for (x0, y0), (x1, y1) in zip(points, points[1:]):
        if x0 < x < x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return points[0][1] if x < points[0][0] else points[-1][1]


def line_of(face: AskedFace, asked: Asked) -> ProfilePoints:
    """Return the membrane line of a face: the wall top, or grade and a height but never above the wall."""
    if asked.top == "wall" or face.grade is None:
        return face.top
    raised = tuple((x, y + asked.rules["above_grade"]) for x, y in face.grade)
    return picked(face.top, raised, lower=True)


def picked(a: ProfilePoints, b: ProfilePoints, *, lower: bool) -> ProfilePoints:
    """Return the lower or the higher of two profiles at each station."""
    choose = min if lower else max
    points: list[tuple[float, float]] = []
    for left, right in stretches(a, b):
        a0, a1 = value(a, left, from_right=True), value(a, right, from_right=False)
        b0, b1 = value(b, left, from_right=True), value(b, right, from_right=False)
        points.append((left, choose(a0, b0)))
        if (a0 - b0) * (a1 - b1) < 0:
            share = (a0 - b0) / ((a0 - b0) - (a1 - b1))
            points.append((left + share * (right - left), a0 + share * (a1 - a0)))
        points.append((right, choose(a1, b1)))
    return tuple(points)


def stretches(*profiles: ProfilePoints) -> Iterator[tuple[float, float]]:
    """Yield the stretches between the stations of several profiles."""
    stations = sorted({x for points in profiles for x, _ in points})
    yield from zip(stations, stations[1:])


def bounds_of(face: AskedFace, line: ProfilePoints, drop_by: float) -> Iterator[Bounds]:
    """Yield the stretches of a face from the membrane line down to ``drop_by`` below the footing top."""
    for left, right in stretches(line, face.footing):
        yield Bounds(
            left, right,
            (value(line, left, from_right=True), value(line, right, from_right=False)),
            (value(face.footing, left, from_right=True) - drop_by,
             value(face.footing, right, from_right=False) - drop_by),
        )


def area_between(bounds: Bounds) -> Polygon:
    """Return the area of a stretch where its high line is over its low one."""
    x0, x1 = bounds.left, bounds.right
    (h0, h1), (l0, l1) = bounds.high, bounds.low
    if h0 > l0 and h1 > l1:
        return Polygon([(x0, h0), (x1, h1), (x1, l1), (x0, l0)])
    if h0 <= l0 and h1 <= l1:
        return Polygon()
    share = (h0 - l0) / ((h0 - l0) - (h1 - l1))
    x, y = x0 + share * (x1 - x0), h0 + share * (h1 - h0)
    if h0 > l0:
        return Polygon([(x0, h0), (x, y), (x0, l0)])
    return Polygon([(x, y), (x1, h1), (x1, l1)])


def opening_seen(opening: AskedOpening, back: float) -> Polygon:
    """Return an opening as the sheet leaves it free: shrunk by the return on every side."""
    left, right = opening.left + back, opening.right - back
    bottom, top = opening.bottom + back, opening.top - back
    return box(left, bottom, right, top) if left < right and bottom < top else Polygon()


def disc(sleeve: AskedSleeve) -> Polygon:
    """Return the polygon around a sleeve's circle, a tick wider: sheet is cut to it on whole ticks."""
    radius = (sleeve.diameter / 2 + 1) / math.cos(math.pi / CIRCLE)
    return Polygon((sleeve.x, sleeve.y) + radius * _CIRCLE)


def must(run: AskedRun, asked: Asked, turn_down: float) -> list[tuple[AskedFace, BaseGeometry]]:
    """Return what the membrane must cover, face by face.

    Parameters
    ----------
    run, asked
        What the job asks for.
    turn_down
        How far the sheet goes down the footing's face [ticks].
    """
    shapes = []
    for face in run.faces:
        below = toe(face, turn_down=turn_down, fillet=asked.rules["fillet"])
        band = unary_union([area_between(bounds) for bounds in bounds_of(face, line_of(face, asked), below)])
        free = [opening_seen(opening, asked.rules["opening_return"]) for opening in face.openings]
        free += [disc(sleeve) for sleeve in face.sleeves]
        shapes.append((face, band.difference(unary_union(free)) if free else band))
    return shapes


def may(run: AskedRun, asked: Asked, turn_down: float) -> list[tuple[AskedFace, BaseGeometry]]:
    """Return where the membrane may lie, face by face: what must be covered, ``SLACK`` wider.

    Where grade is under the footing top the footing is still wrapped, and an opening that reaches below the footing
    top frees only what is above it.
    """
    shapes = []
    for face in run.faces:
        below = math.ceil(round(toe(face, turn_down=turn_down, fillet=asked.rules["fillet"]), 6))
        line = picked(line_of(face, asked), face.footing, lower=False)
        band = unary_union([area_between(bounds) for bounds in bounds_of(face, line, below)])
        openings = [opening_seen(opening, asked.rules["opening_return"]) for opening in face.openings]
        free = [_above(shape, face) for shape in openings if not shape.is_empty]
        wide = band.buffer(SLACK, join_style="mitre", mitre_limit=3)
        holes = [shape.buffer(-SLACK, join_style="mitre") for shape in free]
        holes += [disc(sleeve).buffer(-SLACK - 1 - (CORNER if _meets_another(sleeve, face) else 0))
                  for sleeve in face.sleeves]
        shapes.append((face, wide.difference(unary_union(holes)) if holes else wide))
    return shapes


def _meets_another(sleeve: AskedSleeve, face: AskedFace) -> bool:
    return any(
        math.hypot(other.x - sleeve.x, other.y - sleeve.y) <= (other.diameter + sleeve.diameter) / 2 + 2
        for other in face.sleeves if other is not sleeve
    )


def _above(shape: Polygon, face: AskedFace) -> BaseGeometry:
    """Return the part of an opening above the highest footing top along it."""
    left, bottom, right, top = shape.bounds
    levels = [value(face.footing, x, from_right=side) for x in (left, right) for side in (True, False)]
    levels += [y for x, y in face.footing if left <= x <= right]
    return box(left, max(bottom, max(levels)), right, top) if max(levels) < top else Polygon()


def farther_along(shape: BaseGeometry, by: float) -> BaseGeometry:
    """Return a shape so much farther along the run."""
    return shapely.transform(shape, lambda spots: spots + (by, 0.0)) if by else shape


def shifted(shapes: Iterable[BaseGeometry], run: AskedRun) -> list[BaseGeometry]:
    """Return shapes of a closed run with their copies a length to the left and right; of an open run as they are."""
    listed = list(shapes)
    if not run.closed:
        return listed
    return [farther_along(shape, by) for shape in listed for by in (-run.length, 0, run.length)]


def parts(shape: BaseGeometry, *, least: float = SPECK) -> list[Polygon]:
    """Return the polygons of a shape that are more than a speck, left to right."""
    pieces: Sequence[BaseGeometry] = getattr(shape, "geoms", [shape])
    found = [piece for piece in pieces if isinstance(piece, Polygon) and piece.area > least]
    return sorted(found, key=lambda piece: piece.bounds)
