"""The field: each drop's pieces with their outlines, holes and slits."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import permutations, product
from typing import NamedTuple

from shapely.geometry import MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from layout.pieces.slits import flat_slits
from layout.records import Drop, FaceSpan, Piece, Point, Ring, Rules, Wall
from layout.shapes import must_cover, polygons, rectangle, repeated, ring_of, tidy_ring

DRAWN_IN = 0.75
"""More than half a tick's diagonal, the most that rounding moves a corner [ticks]."""
PieceBox = tuple[int, int]
"""Top and bottom of one piece of a drop [ticks]."""


class Blank(NamedTuple):
    """A shape on whole ticks, the edges of the least rectangle around it, and what is cut from the roll [ticks]."""

    outline: Ring
    holes: tuple[Ring, ...]
    left: int
    bottom: int
    right: int
    top: int
    length: int
    width: int


def blank(shape: Polygon, rules: Rules, *, lying: bool = False) -> Blank:
    """Return what a shape is cut from; where it is ``lying``, its length runs along the wall, not down it."""
    outline = whole_ring(shape)
    holes = tuple(sorted(hole for interior in shape.interiors for hole in whole_holes(Polygon(interior))))
    left, right = min(x for x, _ in outline), max(x for x, _ in outline)
    bottom, top = min(y for _, y in outline), max(y for _, y in outline)
    reach, across = (right - left, top - bottom) if lying else (top - bottom, right - left)
    return Blank(outline, holes, left, bottom, right, top, cut_length(reach, rules), across)


def cut_length(height: int, rules: Rules) -> int:
    """Return the length cut for a piece of a given height: with the allowance, up to the next ``cut_to`` [ticks]."""
    step = max(rules.cut_to, 1)
    return -(-(height + rules.cut_allowance) // step) * step


def field_pieces(
    wall: Wall, drops: Sequence[Drop], splits: Mapping[str, Sequence[PieceBox]], rules: Rules, *, product: str,
) -> tuple[tuple[Drop, ...], tuple[Piece, ...]]:
    """Cut each drop's share of the wall into pieces.

    Parameters
    ----------
    wall
        The developed wall the drops hang on.
    drops
        The drops of that wall.
    splits
        For each drop's tag, the boxes (top, bottom) of its pieces, top to bottom [ticks].
    rules
        For the cut length.
    product
        Name of the sheet they are cut from.

    Returns
    -------
    tuple
        The drops with their pieces' tags, and the pieces, in the order of the drops and top to bottom.
    """
    stretch = repeated(wall)
    hung: list[Drop] = []
    pieces: list[Piece] = []
    for drop in drops:
        share = must_cover(stretch, drop.left, drop.right)
        shapes: list[Polygon] = []
        for top, bottom in splits[drop.tag]:
            shapes += polygons(share.intersection(rectangle(drop.left, bottom, drop.right, top)))
        tags = [drop.tag] if len(shapes) == 1 else [drop.tag + _letter(i) for i in range(len(shapes))]
        pieces += [
            _piece(wall, stretch, drop, tag, shape, rules, product) for tag, shape in zip(tags, shapes, strict=True)
        ]
        hung.append(replace(drop, pieces=tuple(tags)))
    return tuple(hung), tuple(pieces)


def _letter(index: int) -> str:
    """Return a, b, … z, aa, ab, … for the pieces of one drop."""
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(ord("a") + rest) + text
    return text


def _piece(
    wall: Wall, stretch: Wall, drop: Drop, tag: str, shape: Polygon, rules: Rules, product: str,
) -> Piece:
    cut = blank(shape, rules)
    return Piece(
        tag=tag, kind="drop", layer=wall.layer, run=wall.run, face=face_at(stretch, drop.left).name, product=product,
        length=cut.length, width=cut.width, flat=True, outline=cut.outline, holes=cut.holes,
        slits=flat_slits(wall, cut.outline, cut.holes, upward=False), sleeves=_sleeves(stretch, shape), drop=drop.tag,
        install=drop.install,
    )


def face_at(wall: Wall, station: int) -> FaceSpan:
    """Return the face that a station lies on; at a corner, the one to its right."""
    for span in reversed(wall.faces):
        if span.left <= station:
            return span
    return wall.faces[0]


def _sleeves(wall: Wall, shape: BaseGeometry) -> tuple[tuple[str, int, int, int], ...]:
    """Return the sleeves whose holes touch a piece."""
    left, bottom, right, top = shape.bounds
    found = []
    for sleeve in wall.rounds:
        reach = sleeve.diameter / 2
        if left - reach < sleeve.x < right + reach and bottom - reach < sleeve.y < top + reach:
            found.append((sleeve.tag, sleeve.x, sleeve.y, sleeve.diameter))
    return tuple(found)


def whole_ring(shape: Polygon) -> Ring:
    """Return the outline of a shape on whole ticks, nowhere inside it.

    Corners fall off the ticks only where a sloping edge meets another. Each such corner moves to the neighbouring
    tick that keeps the whole shape inside the outline and adds least. Where no single tick does, as at the tip of a
    narrow spike, several of them take the corner's place, or none does and the gap between its neighbours is filled;
    should even that fall short, the outline is the convex one around them all.
    """
    exact = [(x, y) for x, y, *_ in shape.exterior.coords[:-1]]
    chains: list[tuple[tuple[float, float], ...]] = [(point,) for point in exact]
    off = [i for i, (x, y) in enumerate(exact) if x != round(x) or y != round(y)]
    for corners in (1, 4):
        for i in off:
            ticks = _ticks_around(shape, exact[i])
            choices = [chain for count in range(1, corners + 1) for chain in permutations(ticks, count)]
            if corners > 1:
                choices.append(())
            chains[i] = min(choices, key=lambda chain: (_lost(shape, chains, i, chain), len(chain), *chain))
        if not _lost(shape, chains, 0, chains[0])[0]:
            break
    else:
        around = MultiPoint([tick for point in exact for tick in _ticks_around(shape, point)]).convex_hull
        return ring_of(around.exterior.coords[:-1])
    return ring_of(tidy_ring([(round(x), round(y)) for chain in chains for x, y in chain]))


def whole_holes(hole: Polygon) -> tuple[Ring, ...]:
    """Return a hole on whole ticks, nowhere outside it.

    Corners fall off the ticks where two sleeves meet. Each such corner moves to the near tick that takes least from
    the hole. Where none keeps the hole within itself, all of it is drawn in by more than rounding moves a corner, which
    may part it where it is narrowest.
    """
    corners = [(x, y) for x, y, *_ in hole.exterior.coords[:-1]]
    for i, (x, y) in enumerate(corners):
        if x != round(x) or y != round(y):
            near = product(range(math.floor(x) - 1, math.ceil(x) + 2), range(math.floor(y) - 1, math.ceil(y) + 2))
            within = [(_left_of(hole, corners, i, tick), tick) for tick in near]
            area, corners[i] = max(within)
            if not area:
                break
    else:
        return (ring_of(corners),)
    inner = hole.buffer(-DRAWN_IN, join_style="mitre")
    rings = [ring_of([(round(x), round(y)) for x, y, *_ in part.exterior.coords[:-1]]) for part in polygons(inner)]
    return tuple(ring for ring in rings if len(ring) > 2 and Polygon(ring).is_valid)


def _left_of(hole: Polygon, corners: Sequence[tuple[float, float]], index: int, tick: Point) -> float:
    """Return the area of a hole with one corner moved to a tick; 0 when it would reach outside the hole."""
    moved = Polygon([*corners[:index], tick, *corners[index + 1:]])
    return float(moved.area) if moved.is_valid and moved.difference(hole).area < 1e-9 else 0.0


def _ticks_around(shape: Polygon, point: tuple[float, float]) -> list[Point]:
    """Return the ticks next to a point that make a shape no wider or higher than its own whole ticks."""
    left, bottom, right, top = shape.bounds
    return [
        (x, y) for x in sorted({math.floor(point[0]), math.ceil(point[0])})
        for y in sorted({math.floor(point[1]), math.ceil(point[1])})
        if math.floor(left) <= x <= math.ceil(right) and math.floor(bottom) <= y <= math.ceil(top)
    ]


def _lost(
    shape: Polygon, chains: Sequence[Sequence[tuple[float, float]]], index: int, chain: Sequence[tuple[float, float]],
) -> tuple[float, float]:
    """Return how much of a shape an outline would leave out with a chain of points for one corner, and its area."""
    ring = [point for i, each in enumerate(chains) for point in (chain if i == index else each)]
    moved = Polygon(ring) if len(ring) > 2 else Polygon()
    if not moved.is_valid:
        return (math.inf, math.inf)
    return (round(shape.difference(moved).area, 9), round(moved.area, 9))
