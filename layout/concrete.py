"""The concrete under a developed wall, as flat surfaces in space with their edges and points.

A run is developed flat: x is the station, y the elevation on the wall, and below the wall/footing joint y goes on down
by the developed distance over the ledge and down the footing's face. This module says where each bit of that flat
sheet lies on the concrete.

::

        wall            |            plan of an outside corner      plan of an inside corner
                        |                                              |  wall
    y = h + f       ____|                  wall                        |
      fillet       /                ________|                __________|...
    ledge edge ___/ ledge           ledge   |   ledge          ledge   : ledge
      face    |                     ........|_____             ________E tail
              |  toe                        :     E           footing's edge turns back at E

Every question about a corner, a step or a change of ledge is answered by comparing how the sheet lies on the two
sides of a station. Lengths are ticks; space is X along the run's first face, the soil at -Y, Z the elevation.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from shapely.affinity import affine_transform
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.folding import (
    SAME, SheetLine, Motion, FoldedPart, Spot, Vector, dot, hinge, minus, plus, scaled, slits_between,
)
from layout.panels import FAR, UP, Leg, Panel, legs_of, panels_of
from layout.records import Hole, Piece, Wall
from layout.shapes import Turn, footing_turn, hole_polygon, outline_polygon, polygon_of, polygons, repeated
from layout.shapes import along as profile_along

DOWN: Vector = (0.0, 0.0, -1.0)


@dataclass(frozen=True)
class CornerHere:
    """A corner of the run: the legs beside it, their ledges and the footing's level on either side [ticks].

    ``rises`` is how much the footing rises for its length on plan, going away from the corner to the left and to the
    right.
    """

    station: int
    kind: str
    turn: float
    before: Leg
    after: Leg
    left_joint: float
    right_joint: float
    rises: tuple[float, float] = (0.0, 0.0)

    @property
    def level(self) -> float:
        """Level of the ledge around the corner: the higher footing's, of those that have a ledge [ticks]."""
        levels = [
            joint for joint, leg in ((self.left_joint, self.before), (self.right_joint, self.after)) if leg.span.ledge
        ]
        return max(levels, default=self.left_joint)

    @property
    def falls(self) -> float:
        """How far the footing falls to the right there; 0 where only one face has a ledge [ticks]."""
        both = self.before.span.ledge and self.after.span.ledge
        return self.left_joint - self.right_joint if both else 0.0

    @property
    def footing(self) -> Turn:
        """Where the footing's edges meet."""
        return footing_turn(left=self.before.span.ledge, right=self.after.span.ledge, turn=self.turn)


@dataclass(frozen=True)
class StepHere:
    """A place where the footing's top, or its ledge, changes along the wall.

    Parameters
    ----------
    station
        Where it is on the run [ticks].
    leg
        The face on whose wall the riser stands: that of the lower footing.
    upper_face
        Name of the face of the higher footing.
    upper_ledge, lower_ledge
        How far the riser stands out, and the ledge of the lower footing [ticks].
    falls
        1 where the lower (or narrower) footing lies to the right, -1 to the left.
    bottom, top
        Levels of the two footing tops; equal where only the ledge changes [ticks].
    at_corner
        The outside corner of the run that it stands at, if any.
    runs_on
        The riser goes on past the lower ledge as the higher footing's own face, at an inside corner.
    rises
        How much the lower (or narrower) footing, and the other one, rise for their length, going away from the step.
    """

    station: float
    leg: Leg
    upper_face: str
    upper_ledge: float
    lower_ledge: float
    falls: int
    bottom: float
    top: float
    at_corner: CornerHere | None = None
    runs_on: bool = False
    rises: tuple[float, float] = (0.0, 0.0)

    @property
    def height(self) -> float:
        """Height of the riser [ticks]."""
        return self.top - self.bottom


class Concrete:
    """The concrete under one developed wall, laid out as far as its sheet goes (twice around a closed run)."""

    def __init__(self, wall: Wall) -> None:
        self.once = wall
        self.wall = repeated(wall)
        self.legs = legs_of(self.wall)
        self.panels = panels_of(self.wall, self.legs, around=len(wall.faces) if wall.closed else 0)
        self._lefts = [panel.left for panel in self.panels]

    def parts(self, shape: Polygon) -> list[FoldedPart]:
        """Return the parts of a piece that lies flat in the run's frame, top to bottom within each panel."""
        found: list[FoldedPart] = []
        left, _, right, _ = shape.bounds
        for panel in self._between(left, right):
            for (on, _, _, motion), outline in zip(panel.zones(), panel.outlines, strict=True):
                within = [shape] if outline.contains(shape) else polygons(shape.intersection(outline))
                for part in within:
                    if 2 * part.area < SAME * part.length:
                        continue  # no thicker than the last bits of floating point
                    if on == "wall":
                        found += self._around_openings(part, motion)
                    elif on == "ledge":
                        found += self._beside_walls(part, motion, panel)
                    else:
                        found.append(FoldedPart(on, part, motion))
        return found

    def past(self, left: float, right: float) -> tuple[BaseGeometry, BaseGeometry]:
        """Return what of the sheet on a stretch runs past its left and its right end, below the first fold.

        A plumb line of the sheet lies askew on a sloping ledge: at the lower end it comes out past the end.
        """
        found: tuple[list[Polygon], list[Polygon]] = [], []
        for panel in self._between(left, right):
            for station, sign, beyond in ((left, -1.0, found[0]), (right, 1.0, found[1])):
                for (_, _, _, motion), outline in list(zip(panel.zones(), panel.outlines, strict=True))[1:]:
                    past = _past(motion, panel.leg.spot(station, 0.0, 0.0), scaled(panel.leg.along, sign))
                    if past is not None:
                        parts = polygons(outline.intersection(past[1]))
                        beyond += [part for part in parts if 2 * part.area > SAME * part.length]
        at_left, at_right = (
            unary_union([each.buffer(SAME, join_style="mitre") for each in beyond]) for beyond in found)
        return at_left, at_right

    def slits(self, shape: Polygon) -> list[SheetLine]:
        """Return the slits that a piece needs that lies flat in the run's frame: none where it folds without."""
        if not self._may_need_slits(shape):
            return []
        return slits_between(self.parts(shape), taken_up=self.wall.taken_up)

    def place(self, spot: Spot, *, from_right: bool = True) -> Vector:
        """Return where a point of the developed sheet lies in space; at a break, as the panel on one side has it."""
        index = bisect_right(self._lefts, spot[0]) - 1
        if not from_right and index > 0 and self.panels[index].left == spot[0]:
            index -= 1
        panel = self.panels[max(index, 0)]
        below = (panel.joint_at(spot[0]) + panel.fillet - spot[1]) * math.cos(panel.slope)
        motion = next(m for _, begin, end, m in panel.zones() if begin <= below <= end)
        return motion.place(spot)

    def around(self, left: float, right: float) -> list[Panel]:
        """Return the panels of the faces beside a stretch, left to right; of a closed run before its start too."""
        near = self._between(left, right)
        legs = {panel.leg for panel in near}
        found = [panel for panel in self.panels if panel.leg in legs]
        if self.once.closed and left < 0:
            before = self.around(left + self.once.length, self.once.length)
            found = [*(self._a_turn_back(panel) for panel in before if panel.left < self.once.length), *found]
        return found

    def _a_turn_back(self, panel: Panel) -> Panel:
        """Return a panel of a closed run where it lies one turn before."""
        here, first = self.legs[len(self.once.faces)], self.legs[0]
        turn = first.heading - here.heading
        x, y = panel.leg.start[0] - here.start[0], panel.leg.start[1] - here.start[1]
        start = (first.start[0] + x * math.cos(turn) - y * math.sin(turn),
                 first.start[1] + x * math.sin(turn) + y * math.cos(turn))
        by, span = self.once.length, panel.leg.span
        leg = Leg(replace(span, left=span.left - by, right=span.right - by), start, panel.leg.heading + turn)
        return replace(panel, leg=leg, left=panel.left - by, right=panel.right - by)

    def line_over(self, left: float, right: float) -> list[Spot]:
        """Return the membrane line over a stretch of the run [ticks]."""
        by = self.once.length if left < 0 else 0
        ends = (math.ceil(left - 1e-6) + by, math.floor(right + 1e-6) + by)
        line = [(float(x - by), float(y)) for x, y in profile_along(self.wall.top, *ends)]
        return [(left, line[0][1]), *line[1:-1], (right, line[-1][1])]

    def station_of(self, point: Vector) -> float:
        """Return the station of the run nearest to a point in space, seen from above."""
        found: list[tuple[float, float]] = []
        for leg in self.legs[:len(self.once.faces)]:
            on = (point[0] - leg.start[0]) * leg.along[0] + (point[1] - leg.start[1]) * leg.along[1]
            station = min(max(leg.span.left + on, float(leg.span.left)), float(leg.span.right))
            found.append((math.dist(leg.spot(station, 0.0, point[2]), point), station))
        return min(found)[1]

    def _between(self, left: float, right: float) -> list[Panel]:
        first = max(bisect_right(self._lefts, left) - 1, 0)
        return [panel for panel in self.panels[first:] if panel.left < right and panel.right > left]

    def _may_need_slits(self, shape: Polygon) -> bool:
        left, bottom, right, top = shape.bounds
        back = self.wall.opening_return
        return len(self._between(left, right)) > 1 or bool(back) and any(
            hole.left < right and hole.right > left and hole.bottom < top and hole.top > bottom
            for hole in self.wall.openings)

    def _beside_walls(self, part: Polygon, motion: Motion, panel: Panel) -> list[FoldedPart]:
        """Part what lies on a ledge where at an inside corner it meets the next wall, or goes past its footing's edge.

        There it turns up on that wall, or down on that footing's face. At a right angle it does so only where the
        footing slopes, and the sheet runs askew across it.
        """
        found: list[FoldedPart] = []
        if panel.end is not None:
            return _down_the_end(part, motion, panel.end)
        index = self.legs.index(panel.leg)
        for number in (index - 1, index):
            if not 0 <= number < len(self.legs) - 1 or self.legs[number].span.corner != "inside":
                continue
            first, second = self.legs[number], self.legs[number + 1]
            other = second if first is panel.leg else first
            # from the head of the ledge in the corner on: what the fillets take there is pressed in
            corner = motion.place((float(first.span.right), panel.ledge_at(float(first.span.right))))
            ways = [("wall", corner, -1.0)] if first.span.angle >= 90 else []
            beside = panel.right == first.span.right or panel.left == first.span.right
            if first.span.angle <= 90 and panel.ledge == math.inf and beside:
                ways.append(("footing face", other.spot(float(other.span.left), float(other.span.ledge), 0.0), 1.0))
            for on, at, sign in ways:
                beyond = _past(motion, at, scaled(other.out, sign))
                if beyond is None:
                    continue
                (start, end), outline = beyond
                if on == "footing face":  # nearer the wall than its own edge the sheet lies on its own ledge
                    own = _past(motion, panel.leg.spot(0.0, float(panel.leg.span.ledge), 0.0), panel.leg.out)
                    outline = outline.intersection(own[1]) if own else outline
                for over in polygons(part.intersection(outline)):
                    if over.area > 1:
                        found.append(FoldedPart(on, over, hinge(motion, start, end, other.out)))
                rest = polygons(part.difference(outline))
                if not rest:
                    return found
                part = rest[0]
        return [FoldedPart("ledge", part, motion), *found]

    def _around_openings(self, part: Polygon, motion: Motion) -> list[FoldedPart]:
        """Part what lies on a wall where it turns into openings."""
        back = self.wall.opening_return
        left, bottom, right, top = part.bounds
        near = [
            hole for hole in self.wall.openings
            if back and hole.left < right and hole.right > left and hole.bottom < top and hole.top > bottom
        ]
        found: list[FoldedPart] = []
        rest = part
        for hole in near:
            for on, outline, line, normal in flaps(hole, back, motion):
                turned = hinge(motion, *line, normal)
                found += [FoldedPart(on, piece, turned) for piece in polygons(rest.intersection(outline))]
            rest = rest.difference(hole_polygon(hole))
        return [*(FoldedPart("wall", piece, motion) for piece in polygons(rest)), *found]

    # --- where sheets part ---------------------------------------------------------------------

    def corners(self) -> list[CornerHere]:
        """Return the corners of the run, each once, left to right."""
        return self._corners

    def steps(self) -> list[StepHere]:
        """Return where the footing steps, or its ledge changes, each once, left to right."""
        return self._steps

    @cached_property
    def _corners(self) -> list[CornerHere]:
        found: list[CornerHere] = []
        spans = self.once.faces if self.once.closed else self.once.faces[:-1]
        for index, span in enumerate(spans):
            if span.corner == "none":
                continue
            before, after = self.legs[index], self.legs[index + 1]
            (_, second), (_, left) = profile_along(self.wall.footing, span.right - 1, span.right)
            (_, right), (_, next_one) = profile_along(self.wall.footing, span.right, span.right + 1)
            found.append(CornerHere(
                span.right, span.corner, span.angle, before, after, float(left), float(right),
                (float(second - left), float(next_one - right)),
            ))
        return found

    @cached_property
    def _steps(self) -> list[StepHere]:
        found: list[StepHere] = []
        at_corners = {corner.station: corner for corner in self._corners}
        end = self.once.length
        for one, other in zip(self.panels, self.panels[1:], strict=False):
            at = other.left
            if at > end or (at == end and not self.once.closed) or math.inf in (one.ledge, other.ledge) and (
                    one.joint[1] == other.joint[0]):
                continue
            step = _step_between(one, other, at_corners.get(int(at)))
            if step is not None and step.runs_on:
                step = replace(step, upper_face=self._beside(step))
            if step is not None:
                found.append(step)
        return found

    def turned_back(self) -> list[float]:
        """Return the stations at which the footing's edge turns back beside an inside corner, left to right."""
        return [other.left for one, other in zip(self.panels, self.panels[1:], strict=False)
                if (one.ledge == math.inf) != (other.ledge == math.inf)]

    def kinks(self) -> list[tuple[Panel, Panel]]:
        """Return the panels beside each change of slope that the sheet is slit for, each once, left to right."""
        found: list[tuple[Panel, Panel]] = []
        for one, other in zip(self.panels, self.panels[1:], strict=False):
            on_wall = one.leg is other.leg or one.leg.span.corner == "none"
            ledge = min(one.ledge, other.ledge)
            # with a turn-down the end of a wider ledge has a cover, which closes this too
            alike = one.ledge == other.ledge or not self.wall.turn_down
            alike = alike and 0 < ledge and max(one.ledge, other.ledge) < math.inf and one.joint[1] == other.joint[0]
            once = other.left < self.once.length or other.left == self.once.length and self.once.closed
            if on_wall and alike and once and one.slope != other.slope:
                at = other.left
                toe = ledge + self.wall.turn_down
                end = (at, one.joint[1] - toe)
                left, right = (self.place(end, from_right=side) for side in (False, True))
                if math.dist(left, right) > self.wall.taken_up:
                    found.append((one, other))
        return found

    def _beside(self, step: StepHere) -> str:
        """Return the face whose footing runs on past an inside corner to a step."""
        index = self.legs.index(step.leg)
        return self.legs[(index - step.falls) % len(self.legs)].span.name


@lru_cache(maxsize=256)
def concrete_of(wall: Wall) -> Concrete:
    """Return the concrete of a wall; of walls that differ only in what is not concrete, the same one.

    Its walls bear no sleeves, no clearances and no grade.
    """
    return _concrete(replace(
        wall, wall_top=(), grade=None, holes=(), rounds=(), keeps=(), slopes=(), notes=()))


@lru_cache(maxsize=256)
def _concrete(wall: Wall) -> Concrete:
    return Concrete(wall)


def _step_between(one: Panel, other: Panel, corner: CornerHere | None) -> StepHere | None:
    """Return the step of the footing, or the change of ledge, between two panels; None where neither is."""
    left, right = one.joint[1], other.joint[0]
    if left == right and (corner is not None or one.ledge == other.ledge):
        return None
    falls = 1 if (left, one.ledge) > (right, other.ledge) else -1
    upper, lower = (one, other) if falls > 0 else (other, one)
    ledge, beside = float(lower.leg.span.ledge), float(upper.leg.span.ledge)
    if corner is not None and (corner.kind == "inside" or not (ledge and beside)):
        return None  # where only one of the faces has a ledge, the footings have no common edge
    runs_on = upper.ledge == math.inf
    # across a corner the riser stands on the lower wall, as wide as the ledge there
    wide = ledge if corner is not None or runs_on else upper.ledge
    rises = (-math.tan(one.slope), math.tan(other.slope))  # away from the step, to the left and to the right
    return StepHere(
        other.left, lower.leg, upper.leg.span.name, wide, ledge, falls, min(left, right), max(left, right),
        corner, runs_on, rises if falls < 0 else (rises[1], rises[0]),
    )


def _past(motion: Motion, at: Vector, way: Vector) -> tuple[SheetLine, Polygon] | None:
    """Return the line of a sheet in which it passes a plane, and what of it lies past that; None where it never does.

    Parameters
    ----------
    motion
        Where the sheet lies.
    at, way
        A point of the plane, and the direction square to it that goes past it.
    """
    # on the sheet, how far past the plane a point lies is linear: from + across x + up y
    across, up = dot(motion.along, way), dot(motion.up, way)
    before = dot(minus(motion.origin, at), way)
    square = across ** 2 + up ** 2
    if square < 1e-12:
        return None
    foot = (-before * across / square, -before * up / square)
    return (foot, (foot[0] - up, foot[1] + across)), _half_plane(foot, (-up, across), (across, up))


def _down_the_end(part: Polygon, motion: Motion, end: tuple[Vector, Vector, float]) -> list[FoldedPart]:
    """Part what lies on a ledge that ends over a lower one: past its end it goes down that, and on to the lower one."""
    at, way, low = end
    past = _past(motion, at, way)
    if past is None:
        return [FoldedPart("ledge", part, motion)]
    line, outline = past
    found = [FoldedPart("ledge", rest, motion) for rest in polygons(part.difference(outline))]
    down = hinge(motion, *line, way)
    foot = _past(down, (at[0], at[1], low), DOWN)
    assert foot is not None  # the end stands upright
    line, under = foot
    on_lower = hinge(down, *line, UP)
    for over in polygons(part.intersection(outline)):
        for on, shape, lies in (("riser", over.difference(under), down), ("ledge", over.intersection(under), on_lower)):
            found += [FoldedPart(on, each, lies) for each in polygons(shape) if each.area > 1]
    return found


def _half_plane(at: Spot, along: Spot, toward: Spot) -> Polygon:
    """Return what lies on one side of a line through a point."""
    length = math.hypot(*along)
    u = (along[0] / length * FAR, along[1] / length * FAR)
    v = (toward[0] / length * FAR, toward[1] / length * FAR)
    return Polygon([
        (at[0] - u[0], at[1] - u[1]), (at[0] + u[0], at[1] + u[1]),
        (at[0] + u[0] + v[0], at[1] + u[1] + v[1]), (at[0] - u[0] + v[0], at[1] - u[1] + v[1]),
    ])


def flaps(hole: Hole, back: int, motion: Motion) -> list[tuple[str, Polygon, SheetLine, Vector]]:
    """Return what turns into an opening: surface, its outline on the sheet, the arris it folds around, its normal.

    Parameters
    ----------
    hole
        The opening as built.
    back
        How far the sheet turns in [ticks].
    motion
        Of the sheet on the wall around it.
    """
    l, b, r, t = hole.left, hole.bottom, hole.right, hole.top
    into = scaled(motion.along, -1.0)
    # mitred where the opening is narrower than two returns, whose flaps then meet in the middle
    d = min(back, (r - l) / 2, (t - b) / 2)
    return [
        ("jamb", Polygon([(l, b), (l + d, b + d), (l + d, t - d), (l, t)]), ((l, b), (l, t)), motion.along),
        ("head", Polygon([(l, t), (l + d, t - d), (r - d, t - d), (r, t)]), ((l, t), (r, t)), DOWN),
        ("jamb", Polygon([(r, t), (r - d, t - d), (r - d, b + d), (r, b)]), ((r, t), (r, b)), into),
        ("sill", Polygon([(r, b), (r - d, b + d), (l + d, b + d), (l, b)]), ((r, b), (l, b)), UP),
    ]


def turned_parts(concrete: Concrete, shape: Polygon, *, foot: Spot, cosine: float, sine: float) -> list[FoldedPart]:
    """Return the parts of a piece that lies askew on the developed sheet, in the piece's own frame.

    Parameters
    ----------
    concrete
        Of the run.
    shape
        The piece in its own frame [ticks].
    foot
        Where (0, 0) of that frame lies in the run's frame [ticks].
    cosine, sine
        Which way its x axis runs there.
    """
    flat = affine_transform(shape, [cosine, -sine, sine, cosine, *foot])
    found: list[FoldedPart] = []
    for part in concrete.parts(flat):
        x, y = -foot[0], -foot[1]
        back = affine_transform(part.shape, [cosine, sine, -sine, cosine, x * cosine + y * sine, y * cosine - x * sine])
        along, up = part.motion.along, part.motion.up
        found.append(FoldedPart(part.on, back, Motion(
            part.motion.place(foot), plus(scaled(along, cosine), scaled(up, sine)),
            plus(scaled(along, -sine), scaled(up, cosine)))))
    return found


def parts_of(piece: Piece, wall: Wall) -> list[FoldedPart]:
    """Return the parts of a piece in the space of its run; of a pattern, those it was laid out from.

    Parameters
    ----------
    piece
        A piece of the membrane.
    wall
        The developed wall of its run.
    """
    if piece.laid:
        return [FoldedPart(laid.on, polygon_of(laid.outline), Motion(laid.origin, laid.along, laid.up))
                for laid in piece.laid]
    if not piece.flat:
        return []
    shape = outline_polygon(piece.outline, piece.holes)
    whole = [shape] if shape.is_valid else polygons(shape.buffer(0))
    return [part for each in whole for part in concrete_of(wall).parts(each)]
