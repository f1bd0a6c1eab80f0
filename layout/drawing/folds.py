"""Folded sheet as it is seen: the parts of pieces in space, turned into flat entities from a point of view.

A view stands on the soil side, where one ply covers another. Within a ply the nearest part is drawn last. Nothing here
is measured: what is measured is drawn flat.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from layout.drawing.model.entities import Circle, Entity, Line, Polyline, Tone, Vec
from layout.folding import SheetLine as Crease
from layout.folding import FoldedPart, Vector, cross, dot, scaled
from layout.records import MEMBRANE, Plan, Wall

SIDE, RISE = math.radians(32), math.radians(34)
"""Where a view stands: this far to the right of straight on, and this far above level [radians]."""


@dataclass(frozen=True)
class Eye:
    """A point of view: the directions on the paper, and the one toward the eye, in the run's space."""

    across: Vector
    up: Vector
    toward: Vector

    def see(self, point: Vector) -> Vec:
        """Return where a point falls on the paper [ticks]."""
        return dot(point, self.across), dot(point, self.up)

    def depth(self, point: Vector) -> float:
        """Return how near a point is to the eye [ticks]."""
        return dot(point, self.toward)


def eye(out: Vector, *, side: float = SIDE, rise: float = RISE) -> Eye:
    """Return a point of view on the soil side.

    Parameters
    ----------
    out
        The level direction the concrete faces.
    side, rise
        How far the eye stands to the right of that, and above level [radians].
    """
    turn = math.atan2(out[1], out[0]) + side
    toward = (math.cos(turn) * math.cos(rise), math.sin(turn) * math.cos(rise), math.sin(rise))
    flat = math.hypot(toward[0], toward[1])
    across = (-toward[1] / flat, toward[0] / flat, 0.0)
    return Eye(across, cross(toward, across), toward)


def from_above(out: Vector) -> Eye:
    """Return the view from above, the soil below on the paper."""
    return Eye((-out[1], out[0], 0.0), scaled(out, -1.0), (0.0, 0.0, 1.0))


@dataclass(frozen=True)
class DrawnPly:
    """One part to be seen: the layer and tone it is drawn with."""

    layer: str
    part: FoldedPart
    tone: Tone = ""


def seen(plies: Sequence[DrawnPly], view: Eye) -> list[Entity]:
    """Return the parts whose faces are seen, the nearest last.

    Parameters
    ----------
    plies
        The parts of one ply; what lies under it is drawn before it, by a call of its own.
    view
        Where from.
    """
    drawn: list[tuple[float, int, list[Entity]]] = []
    for number, ply in enumerate(plies):
        facing = dot(ply.part.motion.normal, view.toward)
        if facing < 1e-3:
            continue  # seen on edge, or from behind
        motion = ply.part.motion
        rings = [ply.part.shape.exterior, *ply.part.shape.interiors]
        entities: list[Entity] = [
            Polyline(ply.layer, tuple(view.see(motion.place((x, y))) for x, y, *_ in ring.coords[:-1]),
                     tone=ply.tone if index == 0 else "paper")
            for index, ring in enumerate(rings)
        ]
        centre = ply.part.shape.representative_point()
        drawn.append((view.depth(motion.place((centre.x, centre.y))), number, entities))
    return [entity for _, _, entities in sorted(drawn, key=lambda each: each[:2]) for entity in entities]


def creases(lines: Sequence[Crease], layer: str) -> list[Entity]:
    """Return folds or slits of a flat pattern as lines."""
    return [Line(layer, start, end) for start, end in lines]


def dab_seen(point: Vector, size: float, view: Eye) -> Circle:
    """Return a dab as it is seen."""
    return Circle("dab", view.see(point), size / 2, tone="ink")


def walls_by_run(plan: Plan) -> Mapping[str, Wall]:
    """Return the membrane's developed wall of each run."""
    return {wall.run: wall for wall in plan.walls if wall.layer == MEMBRANE}
