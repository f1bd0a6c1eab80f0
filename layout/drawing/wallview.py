"""What is seen of one layer of a run between two stations: pieces, the edges that lie on top, the laps."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from layout.drawing.model.entities import Vec
from layout.records import Drop, Piece, Plan, Seam, Wall
from layout.shapes import outline_polygon, line_points, polygons, rectangle

Shape = Any
"""A shapely geometry; shapely has no type information."""

FAR = 10 ** 8
"""Further than any wall reaches [ticks]."""


@dataclass(frozen=True)
class VisiblePiece:
    """A piece where it is seen: moved by ``shift`` along the run; ``whole`` uncut, ``part`` within the window."""

    piece: Piece
    shift: int
    whole: Shape
    part: Shape

    @cached_property
    def rings(self) -> list[tuple[tuple[Vec, ...], ...]]:
        """The polygons of what is seen of it, each as its outer ring and its holes."""
        return rings(self.part)

    @cached_property
    def goes_on(self) -> bool:
        """Tell whether some of the piece lies outside the window."""
        return bool(self.part.area < self.whole.area - 0.5)


@dataclass(frozen=True)
class VisibleLap:
    """Where one piece lies over another, and which."""

    over: str
    under: str
    shape: Shape
    seam: Seam | None
    bounds: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)

    @cached_property
    def rings(self) -> list[tuple[tuple[Vec, ...], ...]]:
        """Its polygons, each as its outer ring and its holes."""
        return rings(self.shape)


@dataclass(frozen=True)
class WallView:
    """One layer of a run as it is seen between two stations.

    Parameters
    ----------
    wall
        The developed run.
    left, right
        Ends of the window [ticks].
    field
        Pieces of the drops, left to right.
    others
        Strips, collars and covers that lie flat.
    laps
        Where pieces of the field lie over each other.
    covers
        For each piece of the field by (tag, shift): what lies over it.
    """

    wall: Wall
    left: int
    right: int
    field: tuple[VisiblePiece, ...]
    others: tuple[VisiblePiece, ...]
    laps: tuple[VisibleLap, ...]
    covers: dict[tuple[str, int], tuple[Shape, ...]]

    @property
    def window(self) -> Shape:
        """The window as a shape, as high as any wall."""
        return rectangle(self.left, -FAR, self.right, FAR)

    @cached_property
    def edges(self) -> dict[tuple[str, int], list[tuple[Vec, ...]]]:
        """By (tag, shift) of a piece of the field: its edges that lie on top, as chains of points within the window."""
        made: dict[tuple[str, int], list[tuple[Vec, ...]]] = {}
        for seen in self.field:
            edge = seen.whole.boundary
            for cover in self.covers.get((seen.piece.tag, seen.shift), ()):
                edge = edge.difference(cover)
            made[seen.piece.tag, seen.shift] = chains(edge.intersection(self.window))
        return made

    @cached_property
    def clear(self) -> dict[tuple[str, int], Shape]:
        """By (tag, shift) of a piece of the field: the part of it that is no lap, where its labels may stand."""
        laps_of: dict[str, list[Shape]] = defaultdict(list)
        for lap in self.laps:
            for tag in (lap.over, lap.under):
                laps_of[tag].append(areas_of(lap.shape))
        made: dict[tuple[str, int], Shape] = {}
        for seen in self.field:
            shape = seen.part
            for lap_shape in laps_of[seen.piece.tag]:
                shape = shape.difference(lap_shape)
            made[seen.piece.tag, seen.shift] = shape
        return made


def wall_view(plan: Plan, wall: Wall, left: int, right: int, *, wrap: bool) -> WallView:
    """Return what is seen of a layer of a run between two stations.

    Parameters
    ----------
    plan
        The plan.
    wall
        The developed run; its layer is what is seen.
    left, right
        Ends of the window [ticks].
    wrap
        On a closed run, show pieces that go past its length where they lie on the first face too.
    """
    drops = {drop.tag: drop for drop in plan.drops if (drop.run, drop.layer) == (wall.run, wall.layer)}
    shifts = (0, -wall.length, wall.length) if wrap and wall.closed else (0,)
    field: list[VisiblePiece] = []
    others: list[VisiblePiece] = []
    window = rectangle(left, -FAR, right, FAR)
    for piece in plan.pieces:
        if (piece.run, piece.layer) != (wall.run, wall.layer) or not piece.flat:
            continue
        low, high = min(x for x, _ in piece.outline), max(x for x, _ in piece.outline)
        for shift in shifts:
            if low + shift >= right or high + shift <= left:
                continue
            ring = tuple((x + shift, y) for x, y in piece.outline)
            holes = [tuple((x + shift, y) for x, y in hole) for hole in piece.holes]
            whole = outline_polygon(ring, holes)
            inside = low + shift >= left and high + shift <= right
            seen = VisiblePiece(piece, shift, whole, whole if inside else areas_of(whole.intersection(window)))
            (field if piece.drop else others).append(seen)
    field.sort(key=lambda seen: (seen.whole.bounds[0], -seen.whole.bounds[3], seen.piece.tag))
    others.sort(key=lambda seen: (seen.whole.bounds[0], -seen.whole.bounds[3], seen.piece.tag))
    seams = [seam for seam in plan.seams if (seam.run, seam.layer) == (wall.run, wall.layer)]
    laps, covers = _laps(field, drops, seams)
    cut: list[VisibleLap] = []
    for lap in laps:
        shape = lap.shape.intersection(window)
        if shape.area:
            cut.append(VisibleLap(lap.over, lap.under, shape, lap.seam, shape.bounds))
    return WallView(wall, left, right, tuple(field), tuple(others), tuple(cut), covers)


def _laps(
    field: Sequence[VisiblePiece], drops: dict[str, Drop], seams: Iterable[Seam],
) -> tuple[list[VisibleLap], dict[tuple[str, int], tuple[Shape, ...]]]:
    """Return where pieces of the field lie over each other, and what lies over each."""
    of_drop: dict[tuple[str, int], list[VisiblePiece]] = defaultdict(list)
    for seen in field:
        of_drop[seen.piece.drop, seen.shift].append(seen)
    laps: list[VisibleLap] = []
    covers: dict[tuple[str, int], list[Shape]] = defaultdict(list)

    def note(over: VisiblePiece, under: VisiblePiece, seam: Seam | None) -> None:
        shape = over.whole.intersection(under.whole)
        if shape.area > 0.5:
            laps.append(VisibleLap(over.piece.tag, under.piece.tag, shape, seam))
            covers[under.piece.tag, under.shift].append(over.whole)

    for seam in seams:
        left, right = drops[seam.left], drops[seam.right]
        for shift in sorted({seen.shift for seen in field}):
            # the seam's own place may be a whole run away from where one of its drops is listed
            lefts = of_drop.get((seam.left, seam.right_edge - left.right + shift), [])
            rights = of_drop.get((seam.right, seam.left_edge - right.left + shift), [])
            overs, unders = (lefts, rights) if seam.over == seam.left else (rights, lefts)
            for over in overs:
                for under in unders:
                    note(over, under, seam)
    for (drop, _), pieces in of_drop.items():
        order = {tag: number for number, tag in enumerate(drops[drop].pieces)}
        pieces = sorted(pieces, key=lambda seen: order.get(seen.piece.tag, 0))
        for number, upper in enumerate(pieces):
            for lower in pieces[number + 1:]:
                note(upper, lower, None)
    return laps, {key: tuple(shapes) for key, shapes in covers.items()}


def areas_of(shape: Shape) -> Shape:
    """Return a shape without the lines and points that cutting it at its very edge leaves."""
    return shape if shape.geom_type in ("Polygon", "MultiPolygon") else shape.buffer(0)


def rings(shape: Shape) -> list[tuple[tuple[Vec, ...], ...]]:
    """Return the polygons of a shape, each as its outer ring and its holes."""
    return [
        (ring_points(part.exterior), *(ring_points(hole) for hole in part.interiors)) for part in polygons(shape)
    ]


def ring_points(ring: Shape) -> tuple[Vec, ...]:
    """Return the points of a shapely ring, the first not repeated."""
    return tuple(line_points(ring)[:-1])


def chains(shape: Shape) -> list[tuple[Vec, ...]]:
    """Return the lines of a shape as chains of points, in the order of where they start."""
    return sorted(tuple(line_points(line)) for line in _lines(shape))


def _lines(shape: Shape) -> Iterator[Shape]:
    if shape.geom_type in ("LineString", "LinearRing"):
        if len(shape.coords) > 1:
            yield shape
    else:
        for part in getattr(shape, "geoms", ()):
            yield from _lines(part)
