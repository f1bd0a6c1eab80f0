"""What is measured on the developed walls: areas, lengths and counts, face by face."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from layout.records import MEMBRANE, FaceSpan, Piece, Plan, Profile, Seam, Wall
from layout.shapes import along, corners, must_cover, following, open_area, repeated, risers, value


@dataclass(frozen=True)
class FaceMeasure:
    """One face of one layer.

    Parameters
    ----------
    run, face
        Names.
    area
        What is covered, less openings and sleeves [square ticks].
    joint
        Length of the wall/footing joint, steps not counted [ticks].
    drops, pieces
        How many drops hang on it, in how many pieces.
    """

    run: str
    face: str
    area: float
    joint: int
    drops: int
    pieces: int


@dataclass(frozen=True)
class CornerMeasure:
    """What the corners and steps of one run add to, or take from, its flat area [square ticks].

    ``outside`` is what flat drops leave open at each outside footing corner, ``inside`` what they double at each
    inside one, ``steps`` the face of each riser.
    """

    run: str
    outside: tuple[float, ...]
    inside: tuple[float, ...]
    steps: tuple[float, ...]

    @property
    def net(self) -> float:
        """What is added to the run's flat area to make the surface that is really there [square ticks]."""
        return sum(self.outside) + sum(self.steps) - sum(self.inside)


def face_measures(plan: Plan, wall: Wall) -> list[FaceMeasure]:
    """Measure each face of a wall."""
    drops = {drop.tag: drop for drop in plan.drops if drop.run == wall.run and drop.layer == wall.layer}
    hung = [piece for piece in plan.pieces if piece.drop in drops]
    found: list[FaceMeasure] = []
    for span in wall.faces:
        here = [piece for piece in hung if piece.face == span.name]
        found.append(FaceMeasure(
            run=wall.run, face=span.name, area=float(must_cover(wall, span.left, span.right).area),
            joint=math.ceil(_run_of(wall.footing, span)),
            drops=len({piece.drop for piece in here}), pieces=len(here),
        ))
    return found


def _run_of(profile: Profile, span: FaceSpan) -> float:
    """Return the length of a profile along a face, steps not counted [ticks]."""
    return sum(_straights(profile, span))


def _straights(profile: Profile, span: FaceSpan) -> tuple[int, ...]:
    """Return the length of each straight part of a profile along a face, rounded up [ticks]."""
    points = along(profile, span.left, span.right)
    return tuple(
        math.ceil(math.hypot(x1 - x0, float(y1 - y0)))
        for (x0, y0), (x1, y1) in zip(points, points[1:], strict=False) if x0 < x1
    )


def corner_measure(wall: Wall) -> CornerMeasure:
    """Measure what a run's corners and steps add to its flat area."""
    outside: list[float] = []
    inside: list[float] = []
    for span in corners(wall):
        area = open_area(
            left=span.ledge, right=following(wall, span).ledge, turn_down=wall.turn_down, turn=span.angle,
        )
        if area:
            (outside if span.corner == "outside" else inside).append(area)
    steps = tuple(float(riser.height * riser.ledge) for riser in risers(wall))
    return CornerMeasure(wall.run, tuple(outside), tuple(inside), steps)


def seam_lengths(plan: Plan, layer: str) -> list[tuple[Seam, int]]:
    """Return each seam of a layer with its length: the height of sheet along its middle, openings left out [ticks]."""
    found: list[tuple[Seam, int]] = []
    for wall in plan.walls:
        if wall.layer != layer:
            continue
        stretch = repeated(wall)
        for seam in plan.seams:
            if seam.run == wall.run and seam.layer == layer:
                found.append((seam, _height(stretch, seam)))
    return found


def _height(wall: Wall, seam: Seam) -> int:
    """Return the height of sheet along the middle of a seam [ticks, rounded up]."""
    middle = Fraction(seam.left_edge + seam.right_edge, 2)
    if wall.length:
        middle %= wall.length
    top = max(value(wall.top, middle, from_right=side) for side in (False, True))
    bottom = min(value(wall.bottom, middle, from_right=side) for side in (False, True))
    gone = sum(
        (max(Fraction(0), min(top, Fraction(hole.top)) - max(bottom, Fraction(hole.bottom)))
         for hole in wall.holes if hole.left < middle < hole.right),
        Fraction(0),
    )
    return math.ceil(top - bottom - gone)


def end_laps(plan: Plan, layer: str) -> list[tuple[str, int]]:
    """Return (drop, length) of each end lap of a layer, where an upper piece lies over a lower one [ticks]."""
    found: list[tuple[str, int]] = []
    pieces = {piece.tag: piece for piece in plan.pieces}
    for drop in plan.drops:
        if drop.layer != layer:
            continue
        hung = [pieces[tag] for tag in drop.pieces if tag in pieces]
        for upper in hung:
            found += [(drop.tag, _overlap(upper, lower)) for lower in hung
                      if lower is not upper and _laps_over(upper, lower)]
    return [lap for lap in found if lap[1] > 0]


def _laps_over(upper: Piece, lower: Piece) -> bool:
    """Tell whether one piece's foot lies over another's head."""
    foot, head = min(y for _, y in upper.outline), max(y for _, y in lower.outline)
    return min(y for _, y in lower.outline) < foot < head < max(y for _, y in upper.outline)


def _overlap(a: Piece, b: Piece) -> int:
    """Return how far two pieces lie side by side along the wall [ticks]."""
    left = max(min(x for x, _ in a.outline), min(x for x, _ in b.outline))
    right = min(max(x for x, _ in a.outline), max(x for x, _ in b.outline))
    return right - left


def membrane_walls(plan: Plan) -> Sequence[Wall]:
    """Return the walls of the membrane, in the order of the job's runs."""
    return [wall for wall in plan.walls if wall.layer == MEMBRANE]
