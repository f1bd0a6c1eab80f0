"""Covers: what closes the places that flat drops leave open, at footing corners and at footing steps."""

from __future__ import annotations

import math

from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from layout.pieces.blanks import Kind, halves, letters, piece
from layout.records import Job, Piece, Slit, Wall
from layout.shapes import FootingCorner, corners, following, footing_corner, polygons, risers


def footing_covers(job: Job, wall: Wall) -> list[Piece]:
    """Return a cover for each outside footing corner of a run.

    It closes the ledge's corner and the two faces below it, laps ``side_lap`` onto the drops on both sides, and has an
    ear that folds around the footing's arris under the other flap.
    """
    kind = Kind("footing cover", wall.run, "membrane", job.rules, turnable=True)
    made: list[Piece] = []
    number = 0
    for span in corners(wall):
        after = following(wall, span)
        if span.corner != "outside" or not (span.ledge or after.ledge):
            continue
        number += 1
        corner = footing_corner(left=span.ledge, right=after.ledge, turn=span.angle)
        shape, slits = cover_pattern(corner, span.angle, turn_down=wall.turn_down, lap=job.rules.side_lap)
        shapes = halves(shape, job.sheet, job.rules)
        made += [
            piece(kind, part, tag=f"{wall.run}-FC{number}{letter}", face=span.name, flat=False, slits=slits)
            for letter, part in zip(letters(len(shapes)), shapes, strict=True)
        ]
    return made


def cover_pattern(corner: FootingCorner, turn: float, *, turn_down: int, lap: int) -> tuple[Polygon, list[Slit]]:
    """Return the flat pattern of a footing-corner cover and its slits, with the lower left of its rectangle at (0, 0).

    Parameters
    ----------
    corner
        The footing's corner.
    turn
        How far the wall turns [degrees].
    turn_down
        How far the flaps go down the footing's faces [ticks].
    lap
        How far it goes onto the sheets beside it, and its ear around the arris [ticks].

    Notes
    -----
    Plan view, the first wall coming along the x axis to the origin with the soil below it. The pattern is the ledge's
    corner, a flap down each face, and a lap onto each neighbour. At 90 degrees every corner is on the ticks; at
    other turns the pattern is taken one tick larger all round, so that rounding cannot leave it short.
    """
    along = math.radians(turn)
    u1, n1 = (1.0, 0.0), (0.0, -1.0)
    u2, n2 = (math.cos(along), math.sin(along)), (math.sin(along), -math.cos(along))

    def place(*steps: tuple[tuple[float, float], float]) -> tuple[float, float]:
        return (_snap(sum(v[0] * length for v, length in steps)), _snap(sum(v[1] * length for v, length in steps)))

    p1, p2, a1, a2, d = corner.left, corner.right, corner.past_left, corner.past_right, turn_down
    ledge = Polygon([place(), place((n1, p1)), place((n1, p1), (u1, a1)), place((n2, p2))])
    first = Polygon([place((u1, -lap)), place((u1, -lap), (n1, p1 + d)), place((u1, a1), (n1, p1 + d)),
                     place((u1, a1), (n1, p1)), place()])
    second = Polygon([place((u2, lap)), place((u2, lap), (n2, p2 + d)), place((u2, -a2), (n2, p2 + d)),
                      place((u2, -a2), (n2, p2)), place()])
    square = abs(turn - 90) < 1e-9
    ear_width = min(lap, d) if square else 0
    ear = Polygon([place((u1, a1), (n1, p1)), place((u1, a1), (n1, p1 + d)),
                   place((u1, a1 + ear_width), (n1, p1 + d)), place((u1, a1 + ear_width), (n1, p1))])
    whole = unary_union([part.buffer(0) for part in (ledge, first, second, ear) if part.area > 0])
    if not square:
        whole = whole.buffer(1, join_style="mitre")
    shape = polygons(whole)[0]
    left, bottom = math.floor(shape.bounds[0]), math.floor(shape.bounds[1])
    moved = Polygon([(x - left, y - bottom) for x, y in shape.exterior.coords])
    arris = (round(a1) - left, -p1 - bottom)
    slits = [Slit(arris, (arris[0] + ear_width, arris[1]), "arris of the footing")] if ear_width else []
    return moved, slits


def _snap(length: float) -> float:
    """Return a length on its tick when it is one but for the last bits of floating point."""
    return float(round(length)) if abs(length - round(length)) < 1e-6 else length


def riser_covers(job: Job, wall: Wall) -> list[Piece]:
    """Return a cover for the riser at each footing step of a run.

    It covers the riser from the wall to the footing's edge, goes around the edge as far as the turn-down, and laps
    ``side_lap`` onto the wall, the upper ledge and the lower one; four slits let it fold.
    """
    kind = Kind("riser cover", wall.run, "membrane", job.rules, turnable=True)
    lap = job.rules.side_lap
    made: list[Piece] = []
    for number, riser in enumerate(risers(wall), 1):
        width, height = lap + riser.ledge + wall.turn_down, riser.height + 2 * lap
        slits = [
            Slit((x, start), (x, end), "fold of the riser")
            for x in (lap, lap + riser.ledge) for start, end in ((height, height - lap), (lap, 0))
        ]
        shapes = halves(box(0, 0, width, height), job.sheet, job.rules)
        made += [
            piece(kind, part, tag=f"{wall.run}-RC{number}{letter}", face=riser.face, flat=False, slits=slits)
            for letter, part in zip(letters(len(shapes)), shapes, strict=True)
        ]
    return made
