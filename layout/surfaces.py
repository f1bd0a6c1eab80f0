"""The concrete around a place as flat surfaces with common edges, and sheet that goes on over those edges.

Seen from above a footing is made of cells, one beside each stretch of wall and one at each outside corner, the higher
over the lower where two lie on one place. Their tops, the upright faces between cells of different heights and around
all of them, and the walls are the ``Surface``s. ``unrolled`` lays a flat shape on one of them and takes what goes past
its edges on to the surface beyond: so a lap is as long on the concrete as it is on the sheet, whatever it comes to.

No surface takes in the chamfers: they are bent over and nothing ends on them. Lengths are ticks.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import shapely
from shapely.affinity import translate
from shapely.geometry import LinearRing, LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.concrete import Concrete
from layout.folding import (
    GRID, SAME, TOUCH, SheetLine, Motion, FoldedPart, Spot, Vector, dot, hinge, lines, minus, scaled,
)
from layout.panels import FAR, UP, Leg, Panel
from layout.shapes import footing_turn, hole_polygon, polygons

DEEP = 1e4
"""Deeper than any footing [ticks]."""
LIES = 4.0
"""Sheet no farther off a surface than this lies on it: what slopes runs so little askew past its end [ticks]."""
EDGES = 6
"""Edges that one lap goes over at most."""


@dataclass(frozen=True)
class Surface:
    """A flat surface: what it is, how sheet lies on it, and its shape on that sheet."""

    on: str
    motion: Motion
    shape: Polygon

    @cached_property
    def edges(self) -> list[tuple[Vector, Vector]]:
        """Its edges in space."""
        spots = [self.motion.place((x, y)) for x, y, *_ in self.shape.exterior.coords]
        return list(zip(spots, spots[1:], strict=False))


@dataclass(frozen=True)
class FootingCell:
    """Some footing seen from above: its shape on plan, the leg along which it may slope, and its top."""

    shape: BaseGeometry
    leg: Leg
    at: float
    level: float
    rise: float = 0.0

    def height(self, spot: Spot) -> float:
        """Return the height of its top at a place on plan."""
        foot = self.leg.spot(self.at, 0.0, 0.0)
        return self.level + self.rise * dot((spot[0] - foot[0], spot[1] - foot[1], 0.0), self.leg.along)


def surfaces_near(concrete: Concrete, left: float, right: float) -> list[Surface]:
    """Return the surfaces beside a stretch of a run, faces whole.

    Parameters
    ----------
    concrete
        The run's concrete.
    left, right
        The stretch [ticks].
    """
    panels = concrete.around(left, right)
    legs = list(dict.fromkeys(panel.leg for panel in panels))
    cells = _apart([*_beside(panels, legs), *_at_corners(panels, legs)])
    first, last = legs[0], legs[-1]
    closed = LineString([first.spot(first.span.left, FAR, 0)[:2], first.spot(first.span.left, 0, 0)[:2],
                         *(leg.spot(leg.span.right, 0, 0)[:2] for leg in legs),
                         last.spot(last.span.right, FAR, 0)[:2]])
    bands = unary_union([_rectangle(panel.leg, panel.left, panel.right, panel.fillet)
                         for panel in panels if panel.fillet] + list(_fillets_at_corners(panels)))
    found: list[Surface] = []
    for panel in panels:
        found += _walls(panel, concrete)
    for cell in cells:
        top = _top(cell)
        found += [Surface("ledge", top, part) for shape in polygons(cell.shape.difference(bands))
                  if (part := _on_sheet(top, shape, cell)).area > SAME]
        found += _upright(cell, cells, closed, float(concrete.wall.fillet))
    return found


def carried(concrete: Concrete, part: FoldedPart) -> bool:
    """Tell whether there is concrete under what lies on a ledge or a footing's face, and not before it.

    Parameters
    ----------
    concrete
        Of the run.
    part
        What may run past the end of its footing.
    """
    if part.on not in ("ledge", "footing face"):
        return True
    spots = [part.motion.place((x, y)) for x, y, *_ in part.shape.exterior.coords]
    station = concrete.station_of(spots[0])
    panels = concrete.around(station - TOUCH, station + TOUCH)
    legs = list(dict.fromkeys(panel.leg for panel in panels))
    cells = _apart([*_beside(panels, legs), *_at_corners(panels, legs)])
    if part.on == "ledge":
        under = [cell.shape.buffer(SAME) for cell in cells
                 if all(abs(cell.height(spot[:2]) - spot[2]) <= LIES for spot in spots)]
        seen = Polygon([spot[:2] for spot in spots]).buffer(-2 * SAME)
        return seen.is_empty or bool(unary_union(under).covers(seen))
    high = [cell.shape.buffer(SAME, join_style="mitre") for cell in cells
            if all(cell.height(spot[:2]) > spot[2] - LIES for spot in spots)]
    seen_from_above = LineString([spot[:2] for spot in spots])
    return bool(high) and bool(unary_union(high).boundary.buffer(2 * SAME).covers(seen_from_above))


# --- cells -------------------------------------------------------------------------------------

def _rectangle(leg: Leg, left: float, right: float, out: float) -> Polygon:
    return Polygon([leg.spot(x, by, 0.0)[:2] for x, by in ((left, 0), (right, 0), (right, out), (left, out))])


def _beside(panels: Sequence[Panel], legs: Sequence[Leg]) -> Iterator[FootingCell]:
    """Yield the footing beside each stretch of wall; at a sharp inside corner it ends at the next wall.

    Where slopes come to an inside corner each lies on its own side of the line from the wall's corner to the
    footing's: the flaps lie so, and neither stands over the other.
    """
    for panel in panels:
        leg, ledge = panel.leg, float(panel.leg.span.ledge)
        if not ledge:
            continue
        shape: BaseGeometry = _rectangle(leg, panel.left, panel.right, ledge)
        number = legs.index(leg)
        for one, other in ((number - 1, number), (number, number + 1)):
            if one >= 0 and other < len(legs) and legs[one].span.corner == "inside":
                beyond = legs[one] if other == number else legs[other]
                shape = shape.intersection(_rectangle(beyond, beyond.span.left - FAR, beyond.span.right + FAR, FAR))
                if _meet_sloping(panels, legs[one], legs[other]):
                    shape = shape.intersection(_own_side(legs[one], legs[other], leg))
        if panel.end:
            at, way, _ = panel.end
            far = [(at[0] + x * way[1] - y * way[0], at[1] - x * way[0] - y * way[1])
                   for x, y in ((-DEEP, 0), (DEEP, 0), (DEEP, DEEP), (-DEEP, DEEP))]
            shape = shape.intersection(Polygon(far))
        yield FootingCell(shape, leg, panel.left, panel.joint[0], math.tan(panel.slope))


def _joints(panels: Sequence[Panel], one: Leg, other: Leg) -> tuple[float, float]:
    """Return the footing's levels at both sides of a corner."""
    return ([panel.joint[1] for panel in panels if panel.leg is one][-1],
            next(panel.joint[0] for panel in panels if panel.leg is other))


def _meet_sloping(panels: Sequence[Panel], one: Leg, other: Leg) -> bool:
    """Tell whether two ledges come to one level at an inside corner, one of them or both on a slope."""
    before = [panel for panel in panels if panel.leg is one][-1]
    after = next(panel for panel in panels if panel.leg is other)
    return bool(before.joint[1] == after.joint[0] and one.span.ledge and other.span.ledge
                and (before.slope or after.slope))


def _own_side(one: Leg, other: Leg, leg: Leg) -> Polygon:
    """Return what lies on one leg's side of the line between the corners of the wall and of the footing, on plan."""
    p, q = float(one.span.ledge), float(other.span.ledge)
    corner = one.span.right
    edge = one.spot(corner - footing_turn(left=p, right=q, turn=one.span.angle).left, p, 0.0)
    at = other.start
    way = (edge[0] - at[0], edge[1] - at[1])
    long = math.hypot(*way)
    u = (way[0] / long * FAR, way[1] / long * FAR)
    # from the corner outward the first leg lies to the right of the line, seen from above
    v = (u[1], -u[0]) if leg is one else (-u[1], u[0])
    return Polygon([(at[0] - u[0], at[1] - u[1]), (at[0] + u[0], at[1] + u[1]),
                    (at[0] + u[0] + v[0], at[1] + u[1] + v[1]), (at[0] - u[0] + v[0], at[1] - u[1] + v[1])])


def _at_corners(panels: Sequence[Panel], legs: Sequence[Leg]) -> Iterator[FootingCell]:
    """Yield the footing beyond each outside corner of the wall: the higher one goes around it."""
    for one, other in zip(legs, legs[1:], strict=False):
        p, q = float(one.span.ledge), float(other.span.ledge)
        if one.span.corner == "outside" and (p or q):
            level = max(joint for joint, ledge in zip(_joints(panels, one, other), (p, q), strict=True) if ledge)
            yield FootingCell(_kite(one, other, p, q), one, one.span.right, level)


def _kite(one: Leg, other: Leg, p: float, q: float) -> Polygon:
    corner = one.span.right
    edge = one.spot(corner + footing_turn(left=p, right=q, turn=one.span.angle).left, p, 0.0)
    spots = (one.spot(corner, 0, 0), one.spot(corner, p, 0), edge, other.spot(corner, q, 0))
    return Polygon([spot[:2] for spot in spots]).buffer(0)


def _fillets_at_corners(panels: Sequence[Panel]) -> Iterator[Polygon]:
    for one, other in zip(panels, panels[1:], strict=False):
        if one.leg.span.corner == "outside" and one.leg is not other.leg:
            yield _kite(one.leg, other.leg, one.fillet, other.fillet)


def _apart(cells: Sequence[FootingCell]) -> list[FootingCell]:
    """Return cells that do not lie over one another: the higher is what there is."""
    taken: BaseGeometry = MultiPolygon()
    found: list[FootingCell] = []
    whole = [cell for cell in cells if cell.shape.area > SAME]
    for cell in sorted(whole, key=_highest, reverse=True):
        # what lies free keeps its corners to the last bit, so that faces that go on in one plane are in one
        overlaps = cell.shape.intersection(taken).area > SAME
        rest = _whole(cell.shape.difference(taken)) if overlaps else cell.shape
        taken = taken.union(cell.shape)
        if rest.area > SAME:
            found.append(FootingCell(rest, cell.leg, cell.at, cell.level, cell.rise))
    return found


def _whole(shape: BaseGeometry) -> BaseGeometry:
    """Return a shape without what of it is thinner than the last bits of floating point."""
    sharp = {"join_style": "mitre", "mitre_limit": 100.0}
    return shape.buffer(-SAME, **sharp).buffer(SAME, **sharp)


def _highest(cell: FootingCell) -> float:
    return max(cell.height(spot[:2]) for part in polygons(cell.shape) for spot in part.exterior.coords)


# --- surfaces ----------------------------------------------------------------------------------

def _top(cell: FootingCell) -> Motion:
    """Return how sheet lies on a cell's top, x along its leg."""
    length = math.hypot(1.0, cell.rise)
    along = (cell.leg.along[0] / length, cell.leg.along[1] / length, cell.rise / length)
    return Motion(cell.leg.spot(cell.at, 0.0, cell.level), along, scaled(cell.leg.out, -1.0))


def _flat(motion: Motion, point: Vector) -> Spot:
    """Return the point of a sheet that lies at a point in space."""
    away = minus(point, motion.origin)
    return dot(away, motion.along), dot(away, motion.up)


def _on_sheet(motion: Motion, shape: Polygon, cell: FootingCell) -> Polygon:
    return Polygon([_flat(motion, (x, y, cell.height((x, y)))) for x, y, *_ in shape.exterior.coords])


def _walls(panel: Panel, concrete: Concrete) -> Iterator[Surface]:
    """Yield the wall over a stretch, up to the membrane line, and the footing's face under one without a ledge."""
    motion = panel.leg.wall()
    left, right = panel.left, panel.right
    line = [(x, y) for x, y in concrete.line_over(left, right)]
    foot = [(x, panel.joint_at(x) + panel.fillet) for x in (left, right)]
    by = concrete.once.length if left < 0 else 0
    wall = Polygon([*foot, *reversed(line)]).buffer(0).difference(unary_union([
        translate(hole_polygon(hole), -by) for hole in concrete.wall.openings
        if hole.left - by < right and hole.right - by > left]))
    yield from (Surface("wall", motion, part) for part in polygons(wall))
    if not panel.ledge:
        yield Surface("footing face", motion, Polygon([*foot, (right, foot[1][1] - DEEP), (left, foot[0][1] - DEEP)]))


def _upright(cell: FootingCell, cells: Sequence[FootingCell], closed: BaseGeometry, fillet: float) -> Iterator[Surface]:
    """Yield the upright faces of a cell: down to lower cells beside it, and down its footing where there is none.

    ``closed`` are lines on plan that have none: walls, and where the stretch ends.
    """
    others = [other for other in cells if other is not cell]
    spots = [spot[:2] for other in others for part in polygons(other.shape) for spot in part.exterior.coords]
    for shape in polygons(cell.shape):
        ring = shapely.geometry.polygon.orient(shape).exterior.coords
        for start, end in zip(ring, ring[1:], strict=False):
            a, b = start[:2], end[:2]
            long = math.dist(a, b)
            if long < TOUCH:
                continue
            along = ((b[0] - a[0]) / long, (b[1] - a[1]) / long, 0.0)
            motion = Motion((a[0], a[1], 0.0), along, UP)
            line = LineString([a, b])
            cuts = sorted({0.0, long, *(_flat(motion, (*spot, 0.0))[0] for spot in spots
                                        if line.distance(Point(spot)) < SAME)})
            for one, other in zip(cuts, cuts[1:], strict=False):
                if other - one < TOUCH or one < -SAME or other > long + SAME:
                    continue
                middle = Point(motion.place(((one + other) / 2, 0.0))[:2])
                if closed.distance(middle) < SAME:
                    continue
                beside = next((each for each in others if each.shape.distance(middle) < SAME), None)
                yield from _face(motion, (one, other), cell, beside, closed, fillet)


def _face(motion: Motion, ends: tuple[float, float], cell: FootingCell, lower: FootingCell | None, closed: BaseGeometry,
          fillet: float) -> Iterator[Surface]:
    """Yield the face of a cell over a lower one, or over none; the lower one's fillet takes its corner at a wall."""
    spots = [motion.place((x, 0.0))[:2] for x in ends]
    upper = [(x, cell.height(spot)) for x, spot in zip(ends, spots, strict=True)]
    if lower is None:
        yield Surface("footing face", motion, Polygon([*upper, *((x, y - DEEP) for x, y in reversed(upper))]))
        return
    foot: list[list[Spot]] = []
    for (x, high), spot, way in zip(upper, spots, (1.0, -1.0), strict=True):
        low = lower.height(spot)
        cut = min(fillet, high - low, ends[1] - ends[0]) if closed.distance(Point(spot)) < 2 * SAME else 0.0
        foot.append([(x, low + cut), (x + way * cut, low)] if cut > SAME else [(x, low)])
    if max(high[1] - low[-1][1] for high, low in zip(upper, foot, strict=True)) > SAME:
        shape = Polygon([*upper, *foot[1], *reversed(foot[0])]).buffer(0)
        yield from (Surface("riser", motion, part) for part in polygons(shape))


# --- sheet over them ---------------------------------------------------------------------------

def unrolled(surfaces: Sequence[Surface], shape: Polygon, motion: Motion, start: Polygon | SheetLine, *,
             over: Collection[str], edges: int = EDGES) -> list[FoldedPart]:
    """Return the parts of a flat shape on surfaces: where it is laid, and beyond the edges that it comes to.

    Parameters
    ----------
    surfaces
        Those that it may come to lie on.
    shape, motion
        The shape, and how it lies at its start.
    start
        Some of it that lies on a surface, or the edge it comes from.
    over
        The surfaces that it may go on to beyond an edge.
    edges
        So many edges more it may go over.

    Returns
    -------
    list of FoldedPart
        What of it has concrete under it, all that hangs together with its start.
    """
    level = [each for each in surfaces if _in_plane(each, motion)]
    flat = [(each.on, _seen_by(motion, each)) for each in level]
    under = shapely.union_all([part for _, part in flat], grid_size=GRID)
    shape = shapely.set_precision(shape, GRID)
    first = start if isinstance(start, Polygon) else LineString(start).buffer(SAME, cap_style="flat")
    here = [part for part in polygons(shape.intersection(under, grid_size=GRID))
            if part.area > TOUCH and part.intersection(first).area > SAME * SAME]
    found: list[FoldedPart] = []
    for on in dict.fromkeys(on for on, _ in flat):
        kind = shapely.union_all([part for each, part in flat if each == on], grid_size=GRID)
        for whole in here:
            found += [FoldedPart(on, part, motion) for part in polygons(whole.intersection(kind, grid_size=GRID))
                      if part.area > TOUCH]
    rest = shape.difference(unary_union([*here, *(part for _, part in flat)]), grid_size=GRID)
    if not edges or not here:
        return found
    for each in surfaces:
        if rest.area <= TOUCH:
            break
        if each in level or each.on not in over:
            continue
        for edge in _edges_on(each, motion, here):
            beyond = hinge(motion, *edge, each.motion.normal)
            strip = _beyond(edge, here, each, beyond)
            for part in polygons(rest.intersection(strip, grid_size=GRID)):
                if part.area > TOUCH and part.intersection(LineString(edge).buffer(SAME)).area > SAME * SAME:
                    found += unrolled(surfaces, part, beyond, edge, over=over, edges=edges - 1)
                    rest = rest.difference(part, grid_size=GRID)
    return found


def _in_plane(surface: Surface, motion: Motion) -> bool:
    return math.dist(surface.motion.normal, motion.normal) < SAME and all(
        abs(dot(minus(point, motion.origin), motion.normal)) < SAME for point, _ in surface.edges)


def _seen_by(motion: Motion, surface: Surface) -> BaseGeometry:
    """Return a surface's shape on a sheet that lies in its plane."""
    def seen(ring: LinearRing) -> list[Spot]:
        return [_on_grid(_flat(motion, surface.motion.place((x, y)))) for x, y, *_ in ring.coords]

    shape = Polygon(seen(surface.shape.exterior), [seen(ring) for ring in surface.shape.interiors])
    return shape if shape.is_valid else shape.buffer(0)


def _on_grid(spot: Spot) -> Spot:
    return (round(spot[0] / GRID) * GRID, round(spot[1] / GRID) * GRID)


def _edges_on(surface: Surface, motion: Motion, here: Sequence[Polygon]) -> Iterator[SheetLine]:
    """Yield the edges of a surface that lie along the outlines of what lies on a sheet."""
    outline = unary_union([part.boundary for part in here])
    for ends in surface.edges:
        if all(abs(dot(minus(point, motion.origin), motion.normal)) < SAME for point in ends):
            edge = LineString([_flat(motion, point) for point in ends])
            if edge.length > TOUCH:
                for line in lines(outline.intersection(edge.buffer(SAME, cap_style="flat"))):
                    spots = [(float(x), float(y)) for x, y, *_ in line.coords]
                    yield from (pair for pair in zip(spots, spots[1:], strict=False) if math.dist(*pair) > TOUCH)


def _beyond(edge: SheetLine, here: Sequence[Polygon], surface: Surface, motion: Motion) -> Polygon:
    """Return what lies square beyond an edge, on the side that a surface is on."""
    (x0, y0), (x1, y1) = edge
    long = math.dist(*edge)
    across = ((y0 - y1) / long, (x1 - x0) / long)
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    inside = any(part.contains(Point(middle[0] + across[0] * TOUCH, middle[1] + across[1] * TOUCH)) for part in here)
    by = -DEEP if inside else DEEP
    strip = Polygon([(x0, y0), (x1, y1), (x1 + across[0] * by, y1 + across[1] * by),
                     (x0 + across[0] * by, y0 + across[1] * by)])
    lies = _seen_by(motion, surface).intersection(strip)
    return strip if lies.area > SAME else Polygon()
