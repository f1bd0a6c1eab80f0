"""Paper on concrete: parts of a flat sheet, each moved rigidly to where it lies, and what lies between them.

A piece is cut flat. Where it lies on one flat surface it moves as a whole: a ``FoldedPart``. Two parts that touch along
a line of the sheet either touch along that same line in space, and the line is a fold, or they do not, and the line is
a slit. Nothing else decides where a slit goes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import shapely
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import linemerge

Vector = tuple[float, float, float]
Spot = tuple[float, float]
SheetLine = tuple[Spot, Spot]

SAME = 0.05
"""Two places closer than this are one [ticks]: far under a tick, far over the last bits of floating point."""
GRID = 2.0 ** -10
"""Edges of two parts that differ only in the last bits of floating point are one on this grid [ticks]."""
TOUCH = 0.5
"""Parts that share less of a line than this only meet in a point [ticks]."""


@dataclass(frozen=True)
class Motion:
    """Where a flat part lies in space: point (x, y) of the sheet at ``origin + x along + y up``.

    ``along`` and ``up`` are unit vectors at right angles, and ``along x up`` points to the soil: the sheet is never
    turned over. All lengths in ticks.
    """

    origin: Vector
    along: Vector
    up: Vector

    def place(self, spot: Spot) -> Vector:
        """Return the point in space of a point of the sheet."""
        x, y = spot
        return (
            self.origin[0] + x * self.along[0] + y * self.up[0],
            self.origin[1] + x * self.along[1] + y * self.up[1],
            self.origin[2] + x * self.along[2] + y * self.up[2],
        )

    @property
    def normal(self) -> Vector:
        """The direction away from the concrete."""
        return cross(self.along, self.up)


@dataclass(frozen=True)
class FoldedPart:
    """What of a piece lies on one flat surface.

    Parameters
    ----------
    on
        The surface: ``wall``, ``fillet``, ``ledge``, ``footing face``, ``riser``, ``jamb``, ``head``, ``sill``.
    shape
        Its shape in the frame of the flat piece [ticks].
    motion
        Where it lies.
    """

    on: str
    shape: Polygon
    motion: Motion


def hinge(motion: Motion, start: Spot, end: Spot, normal: Vector) -> Motion:
    """Return the motion of the part beyond a fold.

    Parameters
    ----------
    motion
        Where the part before the fold lies.
    start, end
        Two points of the fold, in the frame of the sheet [ticks].
    normal
        Which way the surface beyond the fold faces; square to the fold.
    """
    foot = motion.place(start)
    far = motion.place(end)
    length = math.dist(start, end)
    along_fold = scaled(minus(far, foot), 1 / length)
    square_fold = cross(normal, along_fold)
    cosine, sine = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    # the sheet's axes in the fold's own: (cosine, sine) lies along it, (-sine, cosine) square to it
    along = plus(scaled(along_fold, cosine), scaled(square_fold, -sine))
    up = plus(scaled(along_fold, sine), scaled(square_fold, cosine))
    origin = minus(foot, plus(scaled(along, start[0]), scaled(up, start[1])))
    return Motion(origin, along, up)


def mismatch(one: Motion, other: Motion, line: SheetLine) -> float:
    """Return how far apart two motions carry a line of the sheet, at its worse end [ticks]."""
    return max(math.dist(one.place(spot), other.place(spot)) for spot in line)


def slits_between(parts: Sequence[FoldedPart], *, taken_up: float = 0.0) -> list[SheetLine]:
    """Return the lines along which the sheet must be slit for its parts to lie where they do, longest first.

    Parameters
    ----------
    parts
        The parts of one piece; they touch but do not overlap.
    taken_up
        A line along which motions differ by no more than this is not slit, nor one no longer than this [ticks].
    """
    apart: list[tuple[LineString, float]] = []
    for line, one, other in _touching(parts):
        for ends in pairwise(line):
            gap = mismatch(one.motion, other.motion, ends)
            if gap > SAME:
                apart.append((LineString(ends), gap))
    return [
        line for line in _straight(apart)
        if math.dist(*line) > taken_up
        and max(gap for each, gap in apart if each.distance(LineString(line)) < TOUCH) > max(taken_up, SAME)
    ]


def folds_between(parts: Sequence[FoldedPart]) -> list[SheetLine]:
    """Return the lines along which the sheet is bent."""
    bent: list[tuple[LineString, float]] = []
    for line, one, other in _touching(parts):
        for ends in pairwise(line):
            if mismatch(one.motion, other.motion, ends) <= SAME:
                if math.dist(one.motion.normal, other.motion.normal) > 1e-6:
                    bent.append((LineString(ends), 0.0))
    return _straight(bent)


def _touching(parts: Sequence[FoldedPart]) -> Iterable[tuple[list[Spot], FoldedPart, FoldedPart]]:
    """Yield each line that two parts share, from point to point."""
    outlined = [(part, _Outline.of(part.shape)) for part in parts]
    for index, (one, its) in enumerate(outlined):
        for other, outline in outlined[index + 1:]:
            if one.motion is not other.motion:
                for line in _shared(its, outline):
                    yield line, one, other


@dataclass(frozen=True)
class _Outline:
    """The edges of a shape, and the box around it."""

    edges: list[SheetLine]
    box: tuple[float, float, float, float]

    @staticmethod
    def of(shape: Polygon) -> _Outline:
        """Return a shape's."""
        edges: list[SheetLine] = []
        for ring in (shape.exterior, *shape.interiors):
            spots = [(x, y) for x, y in shapely.get_coordinates(ring).tolist()]
            edges += pairwise(spots)
        return _Outline(edges, shape.bounds)

    def near(self, other: _Outline) -> list[SheetLine]:
        """Return the edges that reach into the box around another shape."""
        left, bottom, right, top = other.box
        left, bottom, right, top = left - SAME, bottom - SAME, right + SAME, top + SAME
        return [edge for edge in self.edges
                if (edge[0][0] >= left or edge[1][0] >= left) and (edge[0][0] <= right or edge[1][0] <= right)
                and (edge[0][1] >= bottom or edge[1][1] >= bottom) and (edge[0][1] <= top or edge[1][1] <= top)]


def shared(one: Polygon, other: Polygon) -> list[list[Spot]]:
    """Return the lines along which two shapes touch; edges nowhere farther apart than ``SAME`` are one."""
    return _shared(_Outline.of(one), _Outline.of(other))


def _shared(one: _Outline, other: _Outline) -> list[list[Spot]]:
    a, b = one.box, other.box
    if a[0] > b[2] + SAME or b[0] > a[2] + SAME or a[1] > b[3] + SAME or b[1] > a[3] + SAME:
        return []
    beside = other.near(one)
    found = [line for edge in one.near(other) for each in beside if (line := _common(edge, each))]
    if len(found) == 1:
        return [list(found[0])] if math.dist(*found[0]) > TOUCH else []
    return [[(x, y) for x, y, *_ in line.coords] for line in lines(MultiLineString(found))] if found else []


def _common(edge: SheetLine, other: SheetLine) -> SheetLine | None:
    """Return what two edges have in common, from one end to the other of it; None where they only meet or cross."""
    (x0, y0), (x1, y1) = edge
    long = math.dist(*edge)
    if long <= SAME:
        return None
    u, v = (x1 - x0) / long, (y1 - y0) / long
    # along the edge, then square to it, each end of the other
    first, last = other
    a, b = ((x - x0) * u + (y - y0) * v for x, y in other)
    if a > b:
        first, last, a, b = last, first, b, a
    low, high = max(a, 0.0), min(b, long)
    if high - low <= SAME:
        return None
    off_a, off_b = ((y - y0) * u - (x - x0) * v for x, y in (first, last))
    if max(abs(off_a + (off_b - off_a) * (at - a) / (b - a)) for at in (low, high)) > SAME:
        return None
    return first if a > 0 else edge[0], last if b < long else edge[1]


def lines(shape: BaseGeometry) -> list[LineString]:
    """Return the lines of a shape that have a length, pieces of one line joined."""
    found = [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, LineString) and part.length > TOUCH]
    if not found:
        return []
    joined = linemerge(MultiLineString(found))
    return [line for line in getattr(joined, "geoms", [joined]) if line.length > TOUCH]


def _straight(found: Sequence[tuple[LineString, float]]) -> list[SheetLine]:
    """Return straight lines as long as they go, longest first."""
    on: dict[tuple[int, int, int], list[tuple[float, float, Spot, Spot]]] = {}
    for line, _ in found:
        start, end = sorted((x, y) for x, y, *_ in (line.coords[0], line.coords[-1]))
        length = math.dist(start, end)
        u, v = (end[0] - start[0]) / length, (end[1] - start[1]) / length
        key = (round(u / SAME), round(v / SAME), round((start[1] * u - start[0] * v) / SAME))
        on.setdefault(key, []).append((start[0] * u + start[1] * v, end[0] * u + end[1] * v, start, end))
    joined: list[SheetLine] = []
    for stretches in on.values():
        stretches.sort()
        _, high, start, end = stretches[0]
        for begin, until, first, last in stretches[1:]:
            if begin > high + TOUCH:  # between them three parts may meet in a line too short to count
                joined.append((start, end))
                high, start, end = until, first, last
            elif until > high:
                high, end = until, last
        joined.append((start, end))
    return sorted(joined, key=lambda ends: (-math.dist(*ends), ends))


# --- vectors -----------------------------------------------------------------------------------

def plus(a: Vector, b: Vector) -> Vector:
    """Return the sum of two vectors."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def minus(a: Vector, b: Vector) -> Vector:
    """Return one vector less another."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def scaled(a: Vector, by: float) -> Vector:
    """Return a vector made longer by a factor."""
    return (a[0] * by, a[1] * by, a[2] * by)


def cross(a: Vector, b: Vector) -> Vector:
    """Return the vector product."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def dot(a: Vector, b: Vector) -> float:
    """Return how far one vector reaches along another, a unit vector."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
