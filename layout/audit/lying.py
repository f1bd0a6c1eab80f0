"""1006: every part of a pattern lies on the concrete: in the plane of one of its surfaces, and over it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.audit.concrete import UP, Plane, SpaceVec, joint
from layout.audit.findings import Findings
from layout.audit.folding import motion_of
from layout.audit.spread import OFF, Spread
from layout.audit.written import WrittenLaid, WrittenPiece

SQUARE = 1e-3
"""How far two directions out of one plane may be apart: one minus their cosine."""


class Surfaces:
    """The surfaces of a run's concrete, as planes and as what they cover seen from above.

    Parameters
    ----------
    spread
        The sheet of the run, for the openings that it turns into.
    """

    def __init__(self, spread: Spread) -> None:
        made = spread.made
        self.planes = list(_planes(spread))
        walls = [LineString([setting.spot(setting.face.left), setting.spot(setting.face.right)])
                 for setting in made.settings]
        self.ground: BaseGeometry = unary_union([*walls, *made.footings()]).buffer(2 * OFF)

    def check(self, piece: WrittenPiece, book: Findings) -> None:
        """Note the first part of a piece that is not on the concrete."""
        for laid in piece.parts:
            motion = motion_of(laid)
            corners = [motion.put(spot) for spot in laid.outline]
            if not any(self._in_plane(plane, laid.on, motion.out, corners) for plane in self.planes):
                book.note(1006, f"piece {piece.tag}", f"a {laid.on} of the concrete", "no such surface there")
                return
            if not self._over(laid, corners):
                book.note(1006, f"piece {piece.tag}", f"sheet over the {laid.on}", "sheet past its end")
                return

    def _in_plane(self, plane: Plane, kind: str, out: SpaceVec, corners: list[SpaceVec]) -> bool:
        alike = plane.kind == kind or {plane.kind, kind} <= {"wall", "footing face", "riser"}
        return alike and float(plane.out @ out) > 1 - SQUARE and all(
            abs(float((corner - plane.at) @ plane.out)) <= OFF for corner in corners)

    def _over(self, laid: WrittenLaid, corners: list[SpaceVec]) -> bool:
        """Tell whether a part's corners are over the surface: over wall or footing as it is seen from above."""
        if laid.on in ("jamb", "head", "sill"):
            return True
        middle = np.mean(corners, axis=0)
        return all(self.ground.contains(Point(*(corner + (middle - corner) * 0.001)[:2])) for corner in corners)


def _planes(spread: Spread) -> Iterator[Plane]:
    made = spread.made
    for strip in made.strips:
        for part in strip.parts:
            yield part.plane
    for corner in made.corners:
        if corner.edge is not None and corner.turn > 0:  # out there the higher footing goes on level
            height = max(joint(corner.before.face, at_right=True), joint(corner.after.face, at_right=False))
            yield Plane(np.array([*corner.spot, height]), UP, "ledge")
    for left, right in zip(made.strips, made.strips[1:]):
        at = left.right
        for strip in (left, right):
            setting = next(each for each in made.settings if each.face is strip.stretch.face)
            along = np.array([*setting.way, 0.0])
            spot = np.array([*setting.spot(at), 0.0])
            yield Plane(spot, along, "riser")
            yield Plane(spot, -along, "riser")
    for flap in spread.flaps:
        kind = {"left": "jamb", "right": "jamb", "top": "head", "bottom": "sill"}[flap.side]
        yield Plane(flap.motion.put((flap.opening.left if flap.side == "left" else flap.opening.right,
                                     flap.opening.bottom if flap.side == "bottom" else flap.opening.top)),
                    flap.motion.out, kind)
