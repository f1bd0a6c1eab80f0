"""Dabs: the points that no flat sheet holds, where mastic or liquid membrane goes on.

Where the angles of the surfaces around a point add to more than 360 degrees any flat sheet gapes, and at the head of a
slit every ply ends in one point. Those points are few and known: corners of the wall at the footing, corners of the
footing, both ends of a riser's two edges, corners of openings that the sheet turns into.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import Point as Place
from shapely.geometry import Polygon

from layout.concrete import Concrete, concrete_of
from layout.folding import Motion, Spot, Vector
from layout.records import MEMBRANE, Dab, Job, Laid, Piece, Wall
from layout.shapes import value
from layout.units import FILLET_FACTOR

NEAR = 1.0
"""Two points no farther apart are one [ticks]."""


@dataclass(frozen=True)
class Weak:
    """A point that no flat sheet holds: what it is, its station, where it is, and how far its neighbours reach.

    ``ledge`` is how far below its level it lies on the developed sheet: over the fillet and the ledge [ticks].
    """

    kind: str
    station: float
    point: Vector
    reach: float = 0.0
    ledge: float = 0.0


def dabs(job: Job, walls: Sequence[Wall], pieces: Sequence[Piece]) -> tuple[Dab, ...]:
    """Return the dabs of a job, run by run and along each run.

    Parameters
    ----------
    job
        For the side lap, which a dab reaches all round its point.
    walls
        The developed walls; only the membrane's are looked at.
    pieces
        Every piece of the plan: the heads of their slits get a dab each.
    """
    made: list[Dab] = []
    for wall in walls:
        if wall.layer != MEMBRANE:
            continue
        concrete = concrete_of(wall)
        weak = _joined([*_points(concrete), *_heads(concrete, [p for p in pieces if p.run == wall.run])],
                       within=wall.fillet * math.sqrt(2) + NEAR)
        for number, each in enumerate(weak, 1):
            station = round(each.station) % (wall.length if wall.closed else wall.length + 1)
            face = next((span.name for span in wall.faces if span.left <= station < span.right), wall.faces[-1].name)
            made.append(Dab(
                tag=f"{wall.run}-D{number:02d}", run=wall.run, face=face, station=station,
                elevation=round(each.point[2]), kind=each.kind,
                size=2 * math.ceil(job.rules.side_lap + each.reach), point=each.point,
                drawn_at=round(each.point[2] - each.ledge),
            ))
    return tuple(made)


def _points(concrete: Concrete) -> Iterator[Weak]:
    """Yield the points of the concrete that no flat sheet holds."""
    wall = concrete.once
    f = float(wall.fillet)

    def over(ledge: float) -> float:
        return ledge - FILLET_FACTOR * f if ledge else 0.0

    for corner in concrete.corners():
        if not (corner.before.span.ledge or corner.after.span.ledge):
            continue
        level = corner.level
        yield Weak("wall corner", corner.station, corner.before.spot(corner.station, 0.0, level + f), f * math.sqrt(2))
        if wall.turn_down and not (corner.kind == "inside" and corner.falls):
            past = corner.footing.left * (1 if corner.kind == "outside" else -1)
            ledge = float(corner.before.span.ledge)
            yield Weak("footing corner", corner.station, corner.before.spot(corner.station + past, ledge, level),
                       ledge=over(max(ledge, float(corner.after.span.ledge))))
    for step in concrete.steps():
        wide, narrow = max(step.upper_ledge, step.lower_ledge), min(step.upper_ledge, step.lower_ledge)
        if step.height and (step.upper_ledge or step.runs_on):
            f_top = f * math.sqrt(2)
            yield Weak("step at the wall", step.station, step.leg.spot(step.station, 0.0, step.top + f), f_top)
            yield Weak("foot of the step at the wall", step.station,
                       step.leg.spot(step.station, 0.0, step.bottom + f), f_top)
            yield Weak("step at the ledge's edge", step.station,
                       step.leg.spot(step.station, step.upper_ledge, step.top), ledge=over(step.upper_ledge))
            if step.lower_ledge:
                out = min(step.upper_ledge, step.lower_ledge)
                yield Weak("foot of the step", step.station, step.leg.spot(step.station, out, step.bottom),
                           ledge=over(out))
        if step.upper_ledge != step.lower_ledge and not step.at_corner and wall.turn_down:
            for out in (narrow, wide):
                yield Weak("change of ledge", step.station, step.leg.spot(step.station, out, step.bottom),
                           ledge=over(out))
    if wall.opening_return:
        for hole in wall.openings:
            leg = next(leg for leg in concrete.legs if leg.span.left <= hole.left < leg.span.right)
            for x, y, right in ((hole.left, hole.top, True), (hole.right, hole.top, False),
                                (hole.right, hole.bottom, False), (hole.left, hole.bottom, True)):
                if value(wall.top, x, from_right=right) > y:
                    yield Weak(f"corner of {hole.tag}", x, leg.spot(x, 0.0, y))


def _heads(concrete: Concrete, pieces: Sequence[Piece]) -> Iterator[Weak]:
    """Yield where slits, and notches between two folded parts, end within a piece."""
    for piece in pieces:
        if piece.layer != MEMBRANE:
            continue
        edge = Polygon(piece.outline, piece.holes).boundary
        for slit in piece.slits:
            for spot in (slit.start, slit.end):
                if edge.distance(Place(spot)) > NEAR:
                    yield _weak(concrete, piece, (float(spot[0]), float(spot[1])))
        if piece.laid and "strip" not in piece.kind:
            for notch in _notches(piece):
                yield _weak(concrete, piece, notch)


def _notches(piece: Piece) -> Iterator[Spot]:
    """Yield the corners of a pattern that go in, where two of its parts meet and no slit comes out."""
    ring = piece.outline
    mouths = [spot for slit in piece.slits for spot in (slit.start, slit.end)]
    for before, here, after in zip(ring[-1:] + ring[:-1], ring, ring[1:] + ring[:1], strict=True):
        turn = (here[0] - before[0]) * (after[1] - here[1]) - (here[1] - before[1]) * (after[0] - here[0])
        meet = sum(Polygon(laid.outline).distance(Place(here)) < 2 * NEAR for laid in piece.laid)
        # outlines run clockwise
        if turn > 0 and meet > 1 and all(math.dist(here, mouth) > 2 * NEAR for mouth in mouths):
            yield (float(here[0]), float(here[1]))


def _weak(concrete: Concrete, piece: Piece, spot: Spot) -> Weak:
    """Return the point in space at which a slit or a notch of a piece ends."""
    if not piece.laid:
        if concrete.once.closed and spot[0] > concrete.once.length:
            # past the closing seam it lies where the run began, also where the plan leaves a gap there
            spot = (spot[0] - concrete.once.length, spot[1])
        point = concrete.place(spot)
        return Weak("head of a slit", spot[0], point, ledge=point[2] - spot[1])
    laid = min(piece.laid, key=lambda each: Polygon(each.outline).distance(Place(spot)))
    point = _motion(laid).place(spot)
    return Weak("head of a slit", concrete.station_of(point), point)


def _motion(laid: Laid) -> Motion:
    return Motion(laid.origin, laid.along, laid.up)


def _joined(found: Sequence[Weak], *, within: float) -> list[Weak]:
    """Return the points with those that are one joined, along the run; named points come before plain heads."""
    joined: list[Weak] = []
    for each in found:
        for index, other in enumerate(joined):
            apart = math.dist(each.point, other.point)
            if apart <= (within if each.kind == "head of a slit" else NEAR):
                joined[index] = replace(other, reach=max(other.reach, apart))
                break
        else:
            joined.append(each)
    return sorted(joined, key=lambda weak: (weak.station, -weak.point[2], weak.point))
