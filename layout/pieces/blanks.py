"""Shapes -> reinforcing pieces: the rectangle each is cut from, and what product it is cut from."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.pieces.field import blank
from layout.pieces.slits import flat_slits
from layout.records import MEMBRANE, STRIP, Job, Laid, Piece, Product, Rules, SleeveHole, Slit, Wall
from layout.shapes import circle_ring, polygons


@dataclass(frozen=True)
class PieceKind:
    """What is the same for all reinforcing pieces of one kind on one run.

    Parameters
    ----------
    name
        ``corner strip``, ``base strip``, ``collar``, …
    run
        Name of the run.
    product
        ``membrane`` or ``strip``.
    rules
        For the cut length.
    lying
        The piece's length runs along the wall, not down it.
    turnable
        It may be cut with its length across the roll.
    """

    name: str
    run: str
    product: str
    rules: Rules
    lying: bool = False
    turnable: bool = False


def strip_product(job: Job) -> tuple[str, Product]:
    """Return the name among pieces, and the product, that corner and base strips are cut from."""
    return (MEMBRANE, job.sheet) if job.strips_from == "sheet" else (STRIP, job.strip)


def longest(product: Product, rules: Rules) -> int:
    """Return the greatest height or reach of one piece of a product [ticks].

    Its cut length, with the allowance and rounded up, is no longer than ``max_piece`` nor than the longest roll.
    """
    limit = min(rules.max_piece, product.longest)
    return max(limit - limit % rules.cut_to - rules.cut_allowance, 1)


def piece(
    kind: PieceKind, shape: Polygon, *, tag: str, face: str, wall: Wall | None = None, slits: Sequence[Slit] = (),
    rounds: Sequence[SleeveHole] = (), laid: Sequence[Laid] = (), spot: float | None = None, where: str = "",
) -> Piece:
    """Return the piece that a shape is, cut from the least rectangle around it.

    Parameters
    ----------
    kind
        What it is and is cut from.
    shape
        Its shape, in the run's frame or in its own [ticks].
    tag, face
        Its tag, and the face it goes on.
    wall
        The developed wall it lies flat on: it is slit where it folds on to the concrete. None for a pattern.
    slits
        Of a pattern: cuts that take nothing away.
    rounds
        Sleeves of the run; those that cut the shape are named on the piece.
    laid
        Of a pattern: where its parts lie.
    spot, where
        Of a pattern: the station it goes to [ticks], and to what there, in words.
    """
    cut = blank(shape, kind.rules, lying=kind.lying)
    through = [sleeve for sleeve in rounds if near(sleeve, shape) and cuts(sleeve, shape)]
    return Piece(
        tag=tag, kind=kind.name, layer=MEMBRANE, run=kind.run, face=face, product=kind.product,
        length=cut.length, width=cut.width, flat=wall is not None, outline=cut.outline, holes=cut.holes,
        slits=flat_slits(wall, cut.outline, cut.holes, upward=True) if wall else tuple(slits),
        sleeves=tuple((sleeve.tag, sleeve.x, sleeve.y, sleeve.diameter) for sleeve in through),
        turnable=kind.turnable, laid=tuple(laid), spot=None if spot is None else round(spot), where=where,
    )


def near(sleeve: SleeveHole, shape: BaseGeometry) -> bool:
    """Tell whether the boxes around a sleeve and a shape meet."""
    left, bottom, right, top = shape.bounds
    reach = sleeve.diameter / 2
    return bool(
        left <= sleeve.x + reach and sleeve.x - reach <= right and bottom <= sleeve.y + reach
        and sleeve.y - reach <= top)


def cuts(sleeve: SleeveHole, shape: Polygon) -> bool:
    """Tell whether a sleeve's edge runs along some edge or hole of a shape."""
    ring = Polygon(circle_ring(sleeve.x, sleeve.y, sleeve.diameter)).exterior
    return bool(shape.boundary.intersection(ring).length > 0)


class Largest(NamedTuple):
    """The largest piece that can be cut from a product: its width, and its length or reach [ticks]."""

    width: int
    reach: int


def largest(product: Product, rules: Rules) -> Largest:
    """Return the largest piece that can be cut from a product."""
    return Largest(product.width, longest(product, rules))


def halves(shape: Polygon, most: Largest, rules: Rules) -> list[Polygon]:
    """Return a shape whole when a piece may be large enough for it, else in upright parts that lap.

    The parts lap by ``side_lap`` and are about equally wide.
    """
    left, bottom, right, top = (round(edge) for edge in shape.bounds)
    width, reach = most
    wide, high = right - left, top - bottom
    if (wide <= width and high <= reach) or (high <= width and wide <= reach):
        return [shape]
    parts: list[Polygon] = []
    for x0, x1 in lapping_shares(left, right, most=width, lap=rules.side_lap):
        for y0, y1 in lapping_shares(bottom, top, most=reach, lap=rules.end_lap):
            parts += polygons(shape.intersection(box(x0, y0, x1, y1)))
    return parts


def lapping_shares(start: int, end: int, *, most: int, lap: int) -> list[tuple[int, int]]:
    """Divide a stretch into the fewest lapping parts, as equal as ticks allow.

    Parameters
    ----------
    start, end
        The stretch [ticks].
    most
        Greatest length of one part [ticks].
    lap
        How far neighbouring parts lap [ticks].

    Examples
    --------
    >>> shares(0, 100, most=60, lap=10)
    [(0, 55), (45, 100)]
    """
    length = end - start
    count = 1 if length <= most else -(-(length - lap) // max(most - lap, 1))
    step = length + (count - 1) * lap
    parts: list[tuple[int, int]] = []
    left = start
    for i in range(count):
        size = step * (i + 1) // count - step * i // count
        parts.append((left, left + size))
        left += size - lap
    return parts


def plain_tag(tag: str) -> str:
    """Return a tag reduced to letters, digits, dots and dashes, so that it can be part of another.

    Examples
    --------
    >>> plain("P 1/b")
    'P-1-b'
    """
    return re.sub(r"[^A-Za-z0-9.]+", "-", tag).strip("-") or "X"


def letters(count: int) -> list[str]:
    """Return what is put after the tag of each of several parts: nothing for one, else a, b, …"""
    if count == 1:
        return [""]
    return [chr(ord("a") + i) if count <= 26 else f"-{i + 1}" for i in range(count)]
