"""What is primed before the strips: the concrete under every strip, cover and collar, each bit once."""

from __future__ import annotations

from layout.concrete import parts_of
from layout.folding import Motion, FoldedPart, dot, minus
from layout.records import MEMBRANE, Plan
from layout.shapes import area_together

WayOut = tuple[int, int, int]
"""The direction a plane faces, rounded."""
SamePlane = tuple[float, list[FoldedPart]]
"""How far a plane is from the origin [ticks], and what lies on it."""
FINE = 4096
"""Directions no farther apart than this part of a unit are one."""
TOUCH = 2
"""Planes no farther apart than this are one [ticks]: fillets and toes are rounded to whole ticks."""


def reinforced_area(plan: Plan) -> float:
    """Return the area of concrete under the strips, covers and collars of a plan, overlaps once [square ticks].

    Parameters
    ----------
    plan
        The plan; only what goes on under the membrane's drops counts.
    """
    walls = {wall.run: wall for wall in plan.walls if wall.layer == MEMBRANE}
    total = 0.0
    for run, wall in walls.items():
        on: dict[WayOut, list[SamePlane]] = {}
        for piece in plan.pieces:
            if piece.run == run and piece.layer == MEMBRANE and not piece.drop and piece.kind != "sleeve patch":
                for part in parts_of(piece, wall):
                    _put_on(on, part)
        for planes in on.values():
            for _, parts in planes:
                first = parts[0].motion
                total += area_together([_flat(part, first) for part in parts])
    return total


def _put_on(on: dict[WayOut, list[SamePlane]], part: FoldedPart) -> None:
    """Put a part with those of its plane, or on a plane of its own."""
    a, b, c = part.motion.normal
    far = dot(part.motion.normal, part.motion.origin)
    planes = on.setdefault((round(a * FINE), round(b * FINE), round(c * FINE)), [])
    found = next((parts for other, parts in planes if abs(far - other) <= TOUCH), None)
    if found is None:
        planes.append((far, [part]))
    else:
        found.append(part)


def _flat(part: FoldedPart, frame: Motion) -> list[list[tuple[float, float]]]:
    """Return the rings of a part in the frame of another part of its plane."""
    def put(spot: tuple[float, float]) -> tuple[float, float]:
        offset = minus(part.motion.place(spot), frame.origin)
        return dot(offset, frame.along), dot(offset, frame.up)

    rings = [part.shape.exterior, *part.shape.interiors]
    return [[put((x, y)) for x, y, *_ in ring.coords] for ring in rings]
