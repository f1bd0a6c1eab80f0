"""835: the band that is primed first, worked again: the concrete under strips, collars and covers, each bit once.

Pieces that lie flat in the run's frame are rolled on to the audit's own concrete; the others lie where the plan says
that their parts do, which finding 1006 holds against the concrete.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from shapely.affinity import affine_transform
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.audit.asked import Asked
from layout.audit.concrete import Pose
from layout.audit.coverage import FIELD
from layout.audit.folding import motion_of
from layout.audit.spread import Flap, Spread, Spreads
from layout.audit.walls import parts
from layout.audit.written import Written, WrittenPiece

FAR = 1e8
"""Higher and lower than any wall may stand [ticks]."""
ALIKE, APART = 1e-5, 2.5
"""Parts lie in one plane when one minus the cosine between them is less, and they are no farther apart [ticks]."""


@dataclass
class _Level:
    """One plane of concrete, with what lies on it in the frame of the first part found there."""

    pose: Pose
    shapes: list[BaseGeometry] = field(default_factory=list)

    def holds(self, pose: Pose, middle: tuple[float, float]) -> bool:
        """Tell whether sheet that lies so is in this plane."""
        return (float(self.pose.out @ pose.out) > 1 - ALIKE
                and abs(float((pose.put(middle) - self.pose.origin) @ self.pose.out)) <= APART)

    def add(self, shape: BaseGeometry, pose: Pose) -> None:
        """Put a part on it."""
        x, y, _ = self.pose.back(pose.origin)
        along, up = self.pose.along, self.pose.up
        self.shapes.append(affine_transform(shape, [
            float(pose.along @ along), float(pose.up @ along), float(pose.along @ up), float(pose.up @ up), x, y]))


def first_band(plan: Written, asked: Asked, spreads: Spreads) -> float:
    """Return the area of concrete under all reinforcing, what lies there twice counted once [square ticks].

    Parameters
    ----------
    plan, asked
        The plan and its job.
    spreads
        The sheet of each run.
    """
    total = 0.0
    for run in asked.runs:
        pieces = [piece for piece in plan.pieces if piece.run == run.name and piece.layer == FIELD
                  and not piece.drop and piece.kind not in ("sleeve patch", "spare")]
        if not pieces:
            continue
        spread = spreads.of(run)
        levels: list[_Level] = []
        for piece in pieces:
            for shape, pose in _lying(piece, spread):
                middle = shape.representative_point()
                spot = (float(middle.x), float(middle.y))
                level = next((level for level in levels if level.holds(pose, spot)), None)
                if level is None:
                    level = _Level(pose)
                    levels.append(level)
                level.add(shape, pose)
        total += sum(float(unary_union(level.shapes).area) for level in levels)
    return total


def _lying(piece: WrittenPiece, spread: Spread) -> Iterator[tuple[Polygon, Pose]]:
    """Yield the parts of a piece, each with how it lies."""
    if not piece.flat:
        for laid in piece.parts:
            pose = motion_of(laid)
            yield from ((part, pose) for part in parts(Polygon(laid.outline).buffer(0)))
        return
    left, low, right, high = (shape := piece.shape.buffer(0)).bounds
    for flap in spread.flaps:
        if flap.opening.left < right and flap.opening.right > left:
            yield from ((part, flap.motion) for part in parts(shape.intersection(_turned_in(flap))))
    inside = [box(flap.opening.left, flap.opening.bottom, flap.opening.right, flap.opening.top)
              for flap in spread.flaps if flap.opening.left < right and flap.opening.right > left]
    rest = shape.difference(unary_union(inside)) if inside else shape
    for strip in spread.made.strips:
        if strip.left >= right or strip.right <= left:
            continue
        for number, facet in enumerate(strip.parts):
            after = strip.parts[number + 1] if number + 1 < len(strip.parts) else None
            heads = [min(facet.begins(x), FAR) for x in (strip.left, strip.right)]
            feet = [-FAR if after is None else after.begins(x) for x in (strip.left, strip.right)]
            if min(feet) >= high or max(heads) <= low:
                continue
            zone = Polygon([(strip.left, heads[0]), (strip.right, heads[1]), (strip.right, feet[1]),
                            (strip.left, feet[0])])
            yield from ((part, facet.motion) for part in parts(rest.intersection(zone)))


def _turned_in(flap: Flap) -> Polygon:
    """Return the part of the developed sheet that turns into an opening at one of its sides."""
    here, deep = flap.opening, flap.deep
    outer: Sequence[tuple[float, float]] = (
        (here.left, here.bottom), (here.left, here.top), (here.right, here.top), (here.right, here.bottom))
    inner = ((here.left + deep, here.bottom + deep), (here.left + deep, here.top - deep),
             (here.right - deep, here.top - deep), (here.right - deep, here.bottom + deep))
    first = {"left": 0, "top": 1, "right": 2, "bottom": 3}[flap.side]
    then = (first + 1) % 4
    return Polygon([outer[first], outer[then], inner[then], inner[first]]).buffer(0)
