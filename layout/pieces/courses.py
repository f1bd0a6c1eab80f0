"""Horizontal courses -> pieces: what is cut for the field when the sheet lies level."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import Polygon

from layout.pieces.field import blank, face_at
from layout.records import Piece, Rules, Wall
from layout.shapes import must_cover, polygons, rectangle, repeated

CourseBox = tuple[int, int, int, int]
"""Left, right, bottom and top of the rectangle one piece is cut from [ticks]."""


def course_pieces(
    wall: Wall, courses: Sequence[Sequence[CourseBox]], rules: Rules, *, product: str,
) -> tuple[Piece, ...]:
    """Cut the courses of one run into pieces; their length lies along the wall.

    Parameters
    ----------
    wall
        The developed wall.
    courses
        For each course, lowest first, the boxes of its pieces from left to right.
    rules
        For the cut length.
    product
        Name of the sheet they are cut from.

    Returns
    -------
    tuple of Piece
        In the order they are hung. A box that an opening parts makes several pieces.
    """
    stretch = repeated(wall)
    made: list[Piece] = []
    for number, boxes in enumerate(courses, 1):
        shapes = [
            shape for left, right, bottom, top in boxes
            for shape in polygons(must_cover(stretch, left, right).intersection(rectangle(left, bottom, right, top)))
        ]
        for place, shape in enumerate(shapes, 1):
            tag = f"{wall.run}-H{number}-{place:02d}"
            made.append(_piece(stretch, tag, shape, rules, product, install=len(made) + 1))
    return tuple(made)


def _piece(wall: Wall, tag: str, shape: Polygon, rules: Rules, product: str, *, install: int) -> Piece:
    cut = blank(shape, rules, lying=True)
    return Piece(
        tag=tag, kind="course", layer=wall.layer, run=wall.run, face=face_at(wall, cut.left).name, product=product,
        length=cut.length, width=cut.width, flat=True, outline=cut.outline, holes=cut.holes, install=install,
    )
