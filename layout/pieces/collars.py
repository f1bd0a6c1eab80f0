"""Collars around sleeves, and the pieces at the corners of openings."""

from __future__ import annotations

import math
from dataclasses import replace

from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.pieces.blanks import PieceKind, halves, largest, letters, near, piece, plain_tag
from layout.pieces.field import face_at
from layout.records import MEMBRANE, Job, Piece, SleeveHole, Wall
from layout.shapes import must_cover, polygons, repeated, ring_area, round_polygon


def collars(job: Job, wall: Wall) -> list[Piece]:
    """Return a square collar around each sleeve of a run: ``collar_reach`` past it all round, with a round hole.

    A collar is trimmed at the membrane line, at openings and at the sheet's end, and has a hole for every sleeve it
    meets. One too wide for the sheet comes in lapping parts.
    """
    reach = job.rules.collar_reach
    if not reach:
        return []
    kind = PieceKind("collar", wall.run, MEMBRANE, job.rules, turnable=True)
    made: list[Piece] = []
    for sleeve in wall.rounds:
        half = math.ceil(sleeve.diameter / 2) + reach
        made += _pieces(job, wall, kind, sleeve.x, sleeve.y, half, f"{wall.run}-CL-{plain_tag(sleeve.tag)}")
    return made


def opening_corners(job: Job, wall: Wall, reach: int) -> list[Piece]:
    """Return a square piece at each corner of each opening, ``reach`` past it each way, less the opening.

    Corners that the membrane line has cut off have none.
    """
    kind = PieceKind("opening corner", wall.run, MEMBRANE, job.rules, turnable=True)
    made: list[Piece] = []
    for hole in wall.holes:
        places = [(hole.left, hole.top), (hole.right, hole.top), (hole.right, hole.bottom), (hole.left, hole.bottom)]
        for number, (x, y) in enumerate(places, 1):
            made += _pieces(job, wall, kind, x, y, reach, f"{wall.run}-OC-{plain_tag(hole.tag)}-{number}")
    return made


def _pieces(job: Job, wall: Wall, kind: PieceKind, x: int, y: int, half: int, tag: str) -> list[Piece]:
    """Return the square piece centred on a point of the wall, in as many parts as it takes.

    They go with the point's face, but for those that lie more than a sheet's width past it.
    """
    stretch = repeated(wall)
    if wall.closed and x < half:
        x += wall.length
    left, right = max(x - half, 0), min(x + half, stretch.length)
    square = _uncut(stretch, left, right).intersection(box(left, y - half, right, y + half))
    if square.is_empty:
        return []  # above the membrane line
    around = box(*square.bounds)
    through = [
        sleeve for sleeve in stretch.rounds if near(sleeve, around) and around.intersects(round_polygon(sleeve))
    ]
    most = largest(job.sheet, job.rules)
    shapes = [part for whole in polygons(square) for part in halves(whole, most, job.rules)]
    pierced = [part for shape in shapes for part in polygons(shape.difference(_holes(through)))]
    home = face_at(stretch, x)

    def face(shape: Polygon) -> str:
        first, _, last, _ = shape.bounds
        far = max(home.left - last, first - home.right) > job.sheet.width
        return (face_at(stretch, int(first + last) // 2) if far else home).name

    return [
        piece(kind, shape, tag=tag + letter, face=face(shape), wall=wall, rounds=through)
        for letter, shape in zip(letters(len(pierced)), pierced, strict=True)
    ]


def _uncut(wall: Wall, left: int, right: int) -> BaseGeometry:
    """Return what is covered between two stations as if there were no sleeves."""
    return must_cover(replace(wall, rounds=()), left, right)


def _holes(sleeves: list[SleeveHole]) -> BaseGeometry:
    return unary_union([round_polygon(sleeve) for sleeve in sleeves]) if sleeves else Polygon()


def net_area(collar: Piece) -> float:
    """Return the area of a collar with true circles for its sleeves [square ticks].

    Only sleeves wholly within the collar count as circles; one cut by its edge keeps its polygon.
    """
    outside = ring_area(collar.outline)
    whole = len(collar.sleeves) == len(collar.holes)
    if not whole:
        return ring_area(collar.outline, collar.holes)
    return outside - sum(math.pi * diameter ** 2 / 4 for *_, diameter in collar.sleeves)
