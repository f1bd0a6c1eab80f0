"""Slits: where a flat piece must be cut through to lie on the concrete, and to go around a pipe that stands out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

from shapely.geometry import LineString, Polygon

from layout.concrete import Concrete, concrete_of
from layout.folding import SheetLine, lines
from layout.records import MEMBRANE, Point, Ring, SleeveHole, Slit, Wall
from layout.shapes import circle_ring, outline_polygon

SHORTEST = 1
"""A slit no longer than this is the rounding of the sheet's end, and nobody's cut [ticks]."""


def flat_slits(wall: Wall, outline: Ring, holes: Sequence[Ring], *, upward: bool) -> tuple[Slit, ...]:
    """Return the slits of a piece that lies flat in the run's frame.

    Parameters
    ----------
    wall
        The developed wall it hangs on; pieces across the start of a closed run lie past its length.
    outline, holes
        Its shape on whole ticks, in the run's frame.
    upward
        Where a pipe stands out, slit from its hole to the top. Otherwise to the nearest of the left edge, the right
        edge and the foot: what lies under a drop is slit where the drop is not.

    Returns
    -------
    tuple of Slit
        Those that folding asks for, from the left, then those around pipes.
    """
    if wall.layer != MEMBRANE:
        return ()
    found = _folding(concrete_of(wall), outline, tuple(holes))
    if not holes:
        return found
    rings = {frozenset(hole) for hole in holes}
    twice = [replace(sleeve, x=sleeve.x + wall.length) for sleeve in wall.rounds] if wall.closed else []
    pierced = [sleeve for sleeve in (*wall.rounds, *twice)
               if sleeve.projects and frozenset(circle_ring(sleeve.x, sleeve.y, sleeve.diameter)) in rings]
    if not pierced:
        return found
    shape = _valid(outline, holes)
    return (*found, *(_around(sleeve, outline, shape, upward=upward) for sleeve in pierced))


@lru_cache(maxsize=5_000)
def _folding(concrete: Concrete, outline: Ring, holes: tuple[Ring, ...]) -> tuple[Slit, ...]:
    """Return the slits that folding asks for, from the left: for a shape on some concrete, always the same."""
    shape = _valid(outline, holes)
    found = [slit for line in concrete.slits(shape) if (slit := on_ticks(line, shape, _why(concrete, line)))]
    return tuple(sorted(found, key=lambda slit: (slit.start[0], -slit.start[1], slit.end)))


def _valid(outline: Ring, holes: Sequence[Ring]) -> Polygon:
    """Return a shape in which no lines cross."""
    shape = outline_polygon(outline, holes)
    return shape if shape.is_valid else shape.buffer(0)


def on_ticks(line: SheetLine, shape: Polygon, why: str) -> Slit | None:
    """Return a line as a slit on whole ticks, clipped to the shape it cuts; None when nothing of it is left."""
    (x0, y0), (x1, y1) = line
    start, end = (round(x0), round(y0)), (round(x1), round(y1))
    within = lines(LineString([start, end]).intersection(shape).difference(shape.boundary))
    if not within:
        return None
    longest = max(within, key=lambda part: (part.length, part.bounds))
    ends = [(round(x), round(y)) for x, y, *_ in (longest.coords[0], longest.coords[-1])]
    upper, lower = sorted(ends, key=lambda spot: (-spot[1], spot[0]))
    return Slit(upper, lower, why) if math.dist(upper, lower) > SHORTEST else None


def _why(concrete: Concrete, line: SheetLine) -> str:
    """Return what a slit is for, in words."""
    (x0, _), (x1, _) = line
    if abs(x0 - x1) > 1:
        return _opening_words(concrete, line)
    length = concrete.once.length if concrete.once.closed else math.inf
    station = x0 % length
    near = [
        (abs(at % length - station), order, words) for order, (at, words) in enumerate(_breaks(concrete))
    ]
    distance, _, words = min(near, default=(math.inf, 0, ""))
    return words if distance <= 1 else "change of slope"


def _breaks(concrete: Concrete) -> list[tuple[float, str]]:
    """Return the stations where sheets part, with what is there."""
    found: list[tuple[float, str]] = []
    for corner in concrete.corners():
        found.append((corner.station, f"{corner.kind} corner"))
    found += [(at, "footing's inside corner") for at in concrete.turned_back()]
    found += [(step.station, "footing step" if step.height else "ledge changes") for step in concrete.steps()]
    return found


def _opening_words(concrete: Concrete, line: SheetLine) -> str:
    x, y = line[0]
    near = min(concrete.wall.openings, key=lambda hole: (
        max(hole.left - x, x - hole.right, 0) + max(hole.bottom - y, y - hole.top, 0), hole.left), default=None)
    return f"corner of {near.tag}" if near else "corner of an opening"


def _around(sleeve: SleeveHole, outline: Ring, shape: Polygon, *, upward: bool) -> Slit:
    """Return the slit that lets a sheet go around a pipe: from its hole to an edge, past no other hole if it can."""
    radius = sleeve.diameter // 2
    x, y = sleeve.x, sleeve.y
    left, right = min(px for px, _ in outline), max(px for px, _ in outline)
    bottom, top = min(py for _, py in outline), max(py for _, py in outline)
    up = ((x, y + radius), (x, top))
    ways: list[tuple[Point, Point]] = [
        ((x - radius, y), (left, y)), ((x + radius, y), (right, y)), ((x, y - radius), (x, bottom)),
    ]

    def cost(way: tuple[Point, Point]) -> tuple[bool, float]:
        inside = LineString(way).intersection(shape).length
        return (inside < math.dist(*way) - 1, math.dist(*way))

    start, end = up if upward else min(ways, key=cost)
    reached = lines(LineString([start, end]).intersection(shape))
    if reached:  # to where the sheet ends: at a trimmed edge, or at the next hole
        first = min(reached, key=lambda part: part.distance(LineString([start, start]).centroid))
        end = max(((round(px), round(py)) for px, py, *_ in first.coords), key=lambda spot: math.dist(spot, start))
    return Slit(start, end, f"around {sleeve.tag}")
