"""Stretches of wall and footing over which the section stays the same: a run's faces on plan, parted into panels.

Lengths are ticks; space is X along the run's first face, the soil at -Y, Z the elevation.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from shapely.geometry import Polygon

from layout.folding import Motion, Spot, Vector, cross, dot, hinge, minus, plus, scaled
from layout.records import FaceSpan, Profile, Wall
from layout.shapes import along as profile_along
from layout.shapes import footing_turn, prepared

FAR = 1e6
"""Beyond every wall and every footing [ticks]."""
UP: Vector = (0.0, 0.0, 1.0)
Zone = tuple[str, float, float, Motion]
"""One surface of a panel: see ``Panel.zones``."""


@dataclass(frozen=True)
class Leg:
    """One face on plan.

    ``start`` is the plan point of its left end, ``heading`` the sum of the turns before it [radians].
    """

    span: FaceSpan
    start: Spot
    heading: float

    @cached_property
    def along(self) -> Vector:
        """The way the face runs, left to right from the soil side."""
        return (math.cos(self.heading), math.sin(self.heading), 0.0)

    @cached_property
    def out(self) -> Vector:
        """The way the face looks: level, toward the soil."""
        return (math.sin(self.heading), -math.cos(self.heading), 0.0)

    def spot(self, station: float, out: float, elevation: float) -> Vector:
        """Return the point at a station of the run, so far out from the wall, at an elevation."""
        on = station - self.span.left
        return (
            self.start[0] + on * self.along[0] + out * self.out[0],
            self.start[1] + on * self.along[1] + out * self.out[1],
            elevation,
        )

    def wall(self) -> Motion:
        """Return the motion of the sheet on this face's wall."""
        corner = self.spot(self.span.left, 0.0, 0.0)
        return Motion(minus(corner, scaled(self.along, self.span.left)), self.along, UP)


@dataclass(frozen=True)
class Panel:
    """A stretch of a face over which the section through wall and footing stays the same.

    Parameters
    ----------
    leg
        The face.
    left, right
        Its stations [ticks].
    joint
        Elevation of the wall/footing joint at ``left`` and at ``right`` [ticks].
    fillet, ledge
        Leg of the chamfer, and how far the ledge goes out; ``math.inf`` where the footing's edge has turned away and
        the sheet lies on the next face's ledge [ticks].
    end
        Where that ledge ends over a lower footing, in the way of the sheet: a point there, the way it looks, and the
        level of the lower one.
    """

    leg: Leg
    left: float
    right: float
    joint: tuple[float, float]
    fillet: float
    ledge: float
    end: tuple[Vector, Vector, float] | None = None

    @cached_property
    def slope(self) -> float:
        """Slope of the joint along the face [radians]."""
        return math.atan2(self.joint[1] - self.joint[0], self.right - self.left)

    def joint_at(self, station: float) -> float:
        """Return the elevation of the joint at a station [ticks]."""
        return self.joint[0] + (station - self.left) * math.tan(self.slope)

    def ledge_at(self, station: float) -> float:
        """Return how high on the developed sheet the ledge begins at a station, under the fillet [ticks]."""
        cosine = math.cos(self.slope)
        return self.joint_at(station) + self.fillet - math.hypot(self.fillet * cosine, self.fillet) / cosine

    def zones(self) -> tuple[Zone, ...]:
        """Return each surface from the top down: its name, where it begins and ends below the first fold, its motion.

        Distances are measured square to the joint from the line y = joint + fillet [ticks].
        """
        return self._zones

    @cached_property
    def outlines(self) -> tuple[Polygon, ...]:
        """Where on the developed sheet each surface lies."""
        return tuple(prepared(self.outline(begin, end)) for _, begin, end, _ in self._zones)

    @cached_property
    def _zones(self) -> tuple[Zone, ...]:
        return tuple(self._found())

    def _found(self) -> Iterator[Zone]:
        leg, cosine, sine = self.leg, math.cos(self.slope), math.sin(self.slope)
        wall = leg.wall()
        yield "wall", -FAR, 0.0, wall
        # a foot on the first fold, the joint's own direction on the sheet and in space
        foot = (self.left, self.joint[0] + self.fillet)
        along_joint = plus(scaled(leg.along, cosine), (0.0, 0.0, sine))
        reach = 0.0
        motion = wall
        fillet = math.hypot(self.fillet * cosine, self.fillet)
        drop = scaled(plus((0.0, 0.0, -1.0), scaled(along_joint, sine)), 1 / cosine)
        slant = plus(scaled(leg.out, self.fillet), scaled(drop, self.fillet * cosine))
        stretches = [
            ("fillet", fillet, scaled(slant, 1 / fillet) if fillet else leg.out),
            ("ledge", self.ledge - self.fillet, leg.out),
            ("footing face", FAR, drop),
        ]
        for name, length, toward in stretches:
            if length <= 0:
                continue
            start = (foot[0] + reach * sine, foot[1] - reach * cosine)
            end = (start[0] + cosine, start[1] + sine)
            motion = hinge(motion, start, end, cross(along_joint, scaled(toward, -1.0)))
            yield name, reach, min(reach + length, FAR), motion
            reach += length
            if reach >= FAR:
                return

    def outline(self, begin: float, end: float) -> Polygon:
        """Return where on the developed sheet a surface of this panel lies."""
        def line(distance: float) -> list[Spot]:
            lowered = self.fillet - distance / math.cos(self.slope)
            return [(x, self.joint_at(x) + lowered) for x in (self.left, self.right)]

        upper, lower = line(begin), line(end)
        return Polygon([upper[0], upper[1], lower[1], lower[0]])


def legs_of(wall: Wall) -> list[Leg]:
    """Return the faces of a wall on plan, chained from the origin."""
    legs: list[Leg] = []
    start, heading = (0.0, 0.0), 0.0
    for span in wall.faces:
        leg = Leg(span, start, heading)
        legs.append(leg)
        end = leg.spot(span.right, 0.0, 0.0)
        start = (end[0], end[1])
        heading += math.radians(span.angle) * {"outside": 1, "inside": -1, "none": 0}[span.corner]
    return legs


def panels_of(wall: Wall, legs: list[Leg], *, around: int) -> list[Panel]:
    """Return the panels of a wall, left to right; ``around`` is how many legs go once around a closed one."""
    panels: list[Panel] = []
    for index, leg in enumerate(legs):
        span = leg.span
        after = legs[index + 1] if index + 1 < len(legs) else None
        points = profile_along(wall.footing, span.left, span.right)
        level: list[tuple[float, float]] = [(float(x), float(y)) for x, y in points]
        here = index or around  # the start of a closed run is the corner where it begins again
        at_left = _turned_back(legs[here - 1], legs[here], wall.footing, first=False) if here else _Back(0.0, None)
        panels += _of_face(wall, leg, level, (at_left, _turned_back(leg, after, wall.footing, first=True)))
    return panels


@dataclass(frozen=True)
class _Back:
    """How far the footing's edge stays back from an inside corner, and the level the sheet lies on there [ticks].

    ``end`` is where the footing ends over a lower one beside it, as in ``Panel``; nearer the corner than ``knee`` the
    sheet meets the next wall before that [ticks]. ``askew`` tells that on a slope the sheet comes to the edge's end
    from a station beside it.
    """

    reach: float
    level: float | None
    end: tuple[Vector, Vector, float] | None = None
    knee: float = 0.0
    askew: bool = False


def _turned_back(one: Leg, other: Leg | None, footing: Profile, *, first: bool) -> _Back:
    """Return what an inside corner takes from the footing's edge of its first, or its second, face."""
    if other is None or one.span.corner != "inside":
        return _Back(0.0, None)
    at = one.span.right
    left = float(profile_along(footing, one.span.left, at)[-1][1])
    right = float(profile_along(footing, at, other.span.right)[0][1])
    turn = footing_turn(left=one.span.ledge, right=other.span.ledge, turn=one.span.angle)
    reach = turn.left if first else turn.right
    own, its = (left, right) if first else (right, left)
    ledge, beside = (one.span.ledge, other.span.ledge) if first else (other.span.ledge, one.span.ledge)
    if reach > 0 and its < own and ledge and beside and one.span.angle != 90:
        # the higher footing goes around the corner and ends square to the lower wall, where the edges meet
        way = other.along if first else scaled(one.along, -1.0)
        along = max(turn.right if first else turn.left, 0.0) * math.cos(math.radians(one.span.angle))
        return _Back(reach, None, (one.spot(at - turn.left, one.span.ledge, own), way, its), max(-along, 0.0))
    if reach <= 0 or its < own:
        return _Back(0.0, None)  # the lower footing beside it takes nothing from the face of the higher one
    # beside a wall without a ledge all there is to lie on is the other wall's footing, which goes on level
    level = its if its > own or not ledge else None
    return _Back(reach, level, askew=level is None)


def _station_at_edge(leg: Leg, piece: tuple[Spot, Spot], fillet: float, out: float) -> float:
    """Return the station of the sheet that comes to a point of a ledge's edge.

    On a ledge that slopes a plumb line of the sheet runs askew: it leaves the wall before that point, or after it.

    Parameters
    ----------
    leg
        The face.
    piece
        The ends of the straight part of its joint there.
    fillet
        Leg of the chamfer [ticks].
    out
        Station of the point [ticks].
    """
    (x0, y0), (x1, y1) = piece
    panel = Panel(leg, x0, x1, (y0, y1), fillet, math.inf)
    *_, (_, _, _, ledge) = panel.zones()
    point = leg.spot(out, float(leg.span.ledge), panel.joint_at(out))
    return dot(minus(point, ledge.origin), ledge.along)


def _of_face(wall: Wall, leg: Leg, level: list[tuple[float, float]], ends: tuple[_Back, _Back]) -> list[Panel]:
    """Return the panels of one face: its footing's straight parts, parted where inside corners turn the edge back."""
    span = leg.span
    fillet = float(wall.fillet if span.ledge else 0)
    parts = [part for part in zip(level, level[1:], strict=False) if part[0][0] < part[1][0]]
    edges = tuple(
        _station_at_edge(leg, part, fillet, at) if end.askew and part[0][1] != part[1][1] else at
        for end, part, at in zip(ends, (parts[0], parts[-1]), (span.left + ends[0].reach, span.right - ends[1].reach),
                                 strict=True))
    panels: list[Panel] = []
    for (x0, y0), (x1, y1) in parts:
        knees = (span.left + ends[0].knee, span.right - ends[1].knee)
        cuts = sorted({x0, x1, *(edge for edge in (*edges, *knees) if x0 < edge < x1)})
        for a, b in zip(cuts, cuts[1:], strict=False):
            middle = (a + b) / 2
            back = ends[0] if middle < edges[0] else ends[1] if middle > edges[1] else None
            if back is not None and back.level is not None:
                raised = back.level > (level[0] if middle < edges[0] else level[-1])[1]
                panels.append(Panel(leg, a, b, (back.level, back.level), float(wall.fillet) if raised else fillet,
                                    math.inf))
            else:
                rise = (y1 - y0) / (x1 - x0)
                # at its own points a profile has its own levels, or a last bit would make a step
                joint = (y0 + rise * (a - x0), y1 if b == x1 else y0 + rise * (b - x0))
                ledge = math.inf if back is not None else float(span.ledge)
                at_end = back.end if back and (knees[0] < middle < edges[0] or edges[1] < middle < knees[1]) else None
                panels.append(Panel(leg, a, b, joint, fillet, ledge, at_end))
    return panels
