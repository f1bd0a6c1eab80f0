"""Piece outline -> marks: what a crew member scratches on the sheet with a tape, as short lines of text.

Every measure runs from the top-left corner of the rectangle cut from the roll: ``right`` across the sheet,
``down`` along it. The rectangle less its marks is the outline, to the tick: the text alone is enough.

==================  ===========================================================================
``notch``           a rectangle taken out of an edge or a corner
``trim``            a corner taken off by one straight line
``cut away``        any other shape taken off: from corner to corner along the line to cut, the
                    side named is what falls away
``hole``            a round hole (its polygon is ``shapes.circle_ring``), a rectangle, or corners
``slit``            a cut that takes nothing away
``spare``           what the rectangle holds beyond the shape: cutting allowance and rounding
==================  ===========================================================================
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from layout.records import Piece, Point, Ring
from layout.shapes import circle_ring
from layout.units import Unit, inches, tape

LYING = "lies along the wall: right is along the piece"
"""First mark of a piece whose length runs along the wall, so that its cut length is to the right."""

SIDES = ("top", "right", "bottom", "left")
CORNERS = ("top right", "bottom right", "bottom left", "top left")  # CORNERS[i] ends side i, going clockwise


@dataclass(frozen=True)
class LyingPiece:
    """A piece as it lies on the ground: its shape measured right and down from its rectangle's top-left corner.

    Parameters
    ----------
    width, height
        The rectangle, to the right and down [ticks].
    ring
        The shape, clockwise as seen [ticks].
    holes
        Rings within it [ticks].
    slits
        Cuts from point to point [ticks].
    rounds
        Centre and diameter of each round hole (x, y, diameter) [ticks].
    names
        The sleeve tag of each round hole.
    lying
        The piece's length runs to the right.
    """

    width: int
    height: int
    ring: Ring
    holes: tuple[Ring, ...]
    slits: tuple[tuple[Point, Point], ...]
    rounds: tuple[tuple[int, int, int], ...]
    names: tuple[str, ...]
    lying: bool


@dataclass(frozen=True)
class Extent:
    """The smallest upright rectangle around a shape [ticks, right and down]."""

    left: int
    top: int
    right: int
    bottom: int

    def side_of(self, start: Point, end: Point) -> str | None:
        """Return the side that a stretch lies on, or None."""
        (x0, y0), (x1, y1) = start, end
        if y0 == y1 == self.top:
            return "top"
        if x0 == x1 == self.right:
            return "right"
        if y0 == y1 == self.bottom:
            return "bottom"
        return "left" if x0 == x1 == self.left else None

    def touches(self, point: Point) -> bool:
        """Tell whether a point lies on the rectangle's edge."""
        return point[0] in (self.left, self.right) or point[1] in (self.top, self.bottom)

    def around(self, point: Point) -> int:
        """Return how far clockwise from the top-left corner a point on the edge lies [ticks]."""
        x, y = point
        wide, high = self.right - self.left, self.bottom - self.top
        if y == self.top:
            return x - self.left
        if x == self.right:
            return wide + y - self.top
        if y == self.bottom:
            return wide + high + self.right - x
        return 2 * wide + high + self.bottom - y

    def corners_between(self, start: Point, end: Point) -> list[int]:
        """Return the corners passed going clockwise along the edge, by the side each ends; the ends do not count."""
        wide, high = self.right - self.left, self.bottom - self.top
        whole = 2 * (wide + high)
        places = (wide, wide + high, 2 * wide + high, whole)
        begin = self.around(start) % whole
        length = (self.around(end) - begin) % whole
        passed = [((place - begin) % whole, side) for side, place in enumerate(places)]
        return [side for distance, side in sorted(passed) if 0 < distance < length]


@lru_cache(maxsize=4096)
def sheet(piece: Piece, *, mirrored: bool = False) -> LyingPiece:
    """Return a piece as it lies on the ground.

    Parameters
    ----------
    piece
        The piece; film side up it lies as the wall is seen from the soil side.
    mirrored
        Liner side up: left and right change places.
    """
    left, top = min(x for x, _ in piece.outline), max(y for _, y in piece.outline)
    across = max(x for x, _ in piece.outline) - left
    down = top - min(y for _, y in piece.outline)
    lying = (across > piece.width or down > piece.length) and across <= piece.length and down <= piece.width
    width, height = (piece.length, piece.width) if lying else (piece.width, piece.length)

    def place(point: Point) -> Point:
        x = point[0] - left
        return (width - x if mirrored else x, top - point[1])

    def ring(points: Ring) -> Ring:
        return _clockwise([place(point) for point in points])

    return LyingPiece(
        width=width, height=height, ring=ring(piece.outline), holes=tuple(ring(hole) for hole in piece.holes),
        slits=tuple((place(slit.start), place(slit.end)) for slit in piece.slits),
        rounds=tuple((*place((x, y)), diameter) for _, x, y, diameter in piece.sleeves),
        names=tuple(tag for tag, *_ in piece.sleeves), lying=lying,
    )


def is_plain(piece: Piece) -> bool:
    """Tell whether a piece is its whole rectangle: nothing to mark but perhaps some spare length."""
    return not piece.holes and not piece.slits and upright_rectangle(piece.outline) is not None


def upright_rectangle(ring: Sequence[Point]) -> Extent | None:
    """Return the rectangle that an outline of four corners is, or None when it is no upright rectangle."""
    xs, ys = sorted({x for x, _ in ring}), sorted({y for _, y in ring})
    if len(ring) != 4 or len(xs) != 2 or len(ys) != 2 or len(set(ring)) != 4:
        return None
    return Extent(xs[0], ys[0], xs[1], ys[1])


def box_around(ring: Sequence[Point]) -> Extent:
    """Return the smallest upright rectangle around an outline, right and down."""
    return Extent(min(x for x, _ in ring), min(y for _, y in ring), max(x for x, _ in ring), max(y for _, y in ring))


@lru_cache(maxsize=4096)
def marks(piece: Piece, unit: Unit, *, mirrored: bool = False) -> tuple[str, ...]:
    """Return what to mark on a piece from its top-left corner.

    Parameters
    ----------
    piece
        The piece; its rectangle is ``length`` by ``width`` [ticks].
    unit
        How lengths are spoken of.
    mirrored
        False: film side up. True: liner side up, for marking on the back.

    Returns
    -------
    tuple
        One line a mark: spare, then what is cut from the edges clockwise from the top left, then holes from the
        top down, then slits. Empty for a plain rectangle.

    Notes
    -----
    The rectangle less these marks is the outline exactly. Text of the job appears only as a short plain sleeve
    tag in brackets.
    """
    flat = sheet(piece, mirrored=mirrored)
    say = _Words(unit)
    box = box_around(flat.ring)
    lines = [LYING] if flat.lying else []
    lines += _spare(flat, box, say)
    for chain in parting_cuts(flat.ring, box):
        lines.append(_cut_round(chain, flat, box, say) or _cut(chain, box, say))
    for hole in sorted(flat.holes, key=lambda ring: (min(y for _, y in ring), min(x for x, _ in ring))):
        lines.append(_hole(hole, flat, say))
    lines += [_slit(start, end, say) for start, end in flat.slits]
    return tuple(lines)


@dataclass(frozen=True)
class _Words:
    """How measures are said: across in inches, down as the tape reads."""

    unit: Unit

    def across(self, ticks: int) -> str:
        return inches(ticks, self.unit)

    def down(self, ticks: int) -> str:
        return tape(ticks, self.unit)

    def point(self, point: Point) -> str:
        return f"{self.across(point[0])} right {self.down(point[1])} down"

    def corners(self, points: Sequence[Point]) -> str:
        return ", ".join(self.point(point) for point in points)


def _clockwise(points: Sequence[Point]) -> Ring:
    """Return an outline clockwise as seen, with y down, from its top-left corner."""
    doubled = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(points, [*points[1:], *points[:1]], strict=True))
    ring = list(points) if doubled > 0 else list(reversed(points))
    start = min(range(len(ring)), key=lambda i: (ring[i][0] + ring[i][1], ring[i]))
    return tuple(ring[start:] + ring[:start])


def _spare(flat: LyingPiece, box: Extent, say: _Words) -> list[str]:
    """Return what the rectangle holds beyond the shape's own box."""
    spares = (
        ("top", box.top, say.down), ("right", flat.width - box.right, say.across),
        ("bottom", flat.height - box.bottom, say.down), ("left", box.left, say.across),
    )
    return [f"spare {measure(amount)} at the {side}" for side, amount, measure in spares if amount]


def parting_cuts(ring: Ring, box: Extent) -> list[list[Point]]:
    """Return the cuts that part a shape from its box: each runs, clockwise, from edge to edge of the box."""
    closed = [*ring, ring[0]]
    start = next(i for i, point in enumerate(ring) if box.touches(point))
    closed = [*ring[start:], *ring[:start], ring[start]]
    found: list[list[Point]] = []
    open_chain: list[Point] = []
    for here, there in zip(closed, closed[1:]):
        if not open_chain and box.side_of(here, there):
            continue
        open_chain = [*(open_chain or [here]), there]
        if box.touches(there):
            found.append(open_chain)
            open_chain = []

    def place(chain: list[Point]) -> tuple[bool, int, int]:
        return 3 not in box.corners_between(chain[0], chain[-1]), box.around(chain[0]), box.around(chain[-1])

    return sorted(found, key=place)


def _cut(chain: Sequence[Point], box: Extent, say: _Words) -> str:
    """Return the words for one cut from edge to edge, as short as its shape allows."""
    passed = box.corners_between(chain[0], chain[-1])
    side = _shared_side(chain, box)
    square = all(a[0] == b[0] or a[1] == b[1] for a, b in zip(chain, chain[1:]))
    if square and len(chain) == 4 and side and not passed:
        return _edge_notch(chain, side, box, say)
    if len(passed) == 1 and len(chain) in (2, 3):
        wide = abs(chain[0][0] - chain[-1][0])
        high = abs(chain[0][1] - chain[-1][1])
        size = f"{CORNERS[passed[0]]} corner {say.across(wide)} wide, {say.down(high)} long"
        if len(chain) == 2:
            return f"trim {size}"
        if square and chain[1] == _inner_corner(chain, passed[0]):
            return f"notch {size}"
    return f"cut away {_side_words(passed, side)} along {say.corners(chain)}"


def _shared_side(chain: Sequence[Point], box: Extent) -> str | None:
    return box.side_of(chain[0], chain[-1])


def _inner_corner(chain: Sequence[Point], corner: int) -> Point:
    """Return where the two lines of a corner notch meet: opposite the corner taken off."""
    start, end = chain[0], chain[-1]
    # going clockwise, a top right or bottom left notch is entered along x, the others along y
    return (start[0], end[1]) if corner in (0, 2) else (end[0], start[1])


def _edge_notch(chain: Sequence[Point], side: str, box: Extent, say: _Words) -> str:
    if side in ("right", "left"):
        low, high = sorted((chain[0][1], chain[-1][1]))
        depth = abs(chain[1][0] - chain[0][0])
        return f"notch {side} edge {say.down(low)} to {say.down(high)} down, {say.across(depth)} deep"
    low, high = sorted((chain[0][0], chain[-1][0]))
    depth = abs(chain[1][1] - chain[0][1])
    return f"notch {side} edge {say.across(low)} to {say.across(high)} right, {say.down(depth)} deep"


def _side_words(passed: Sequence[int], side: str | None) -> str:
    """Return the name of what falls away, by the corners of the box that go with it."""
    if not passed:
        return f"{side} edge" if side else "edge"
    if len(passed) == 1:
        return f"{CORNERS[passed[0]]} corner"
    return " and ".join(SIDES[(corner + 1) % 4] for corner in passed[:-1])


def _cut_round(chain: Sequence[Point], flat: LyingPiece, box: Extent, say: _Words) -> str:
    """Return the words for a round hole that one edge cuts, or nothing when the cut is no part of a circle."""
    side = _shared_side(chain, box)
    if side is None or len(chain) < 3 or box.corners_between(chain[0], chain[-1]):
        return ""
    for (x, y, diameter), name in zip(flat.rounds, flat.names, strict=True):
        inside = [p for p in circle_ring(x, y, diameter) if box.left < p[0] < box.right and box.top < p[1] < box.bottom]
        if sorted(inside) != sorted(chain[1:-1]) or len(set(inside)) != len(inside):
            continue
        if side in ("right", "left"):
            low, high = sorted((chain[0][1], chain[-1][1]))
            crossing = f"{say.down(low)} to {say.down(high)} down"
        else:
            low, high = sorted((chain[0][0], chain[-1][0]))
            crossing = f"{say.across(low)} to {say.across(high)} right"
        return f"{_round_words(x, y, diameter, flat, say)}, crossing the {side} edge {crossing}{_named(name)}"
    return ""


def _hole(hole: Ring, flat: LyingPiece, say: _Words) -> str:
    """Return the words for a hole within the piece."""
    for (x, y, diameter), name in zip(flat.rounds, flat.names, strict=True):
        if sorted(circle_ring(x, y, diameter)) == sorted(hole):
            return _round_words(x, y, diameter, flat, say) + _named(name)
    box = upright_rectangle(hole)
    if box:
        return (f"hole {say.across(box.left)} to {say.across(box.right)} right, "
                f"{say.down(box.top)} to {say.down(box.bottom)} down")
    return f"hole with corners {say.corners(hole)}"


def _round_words(x: int, y: int, diameter: int, flat: LyingPiece, say: _Words) -> str:
    """Return size and centre of a round hole; a centre off the sheet is measured past its edge."""
    right = f"{say.across(x)} right"
    if x < 0:
        right = f"{say.across(-x)} past the left edge"
    elif x > flat.width:
        right = f"{say.across(x - flat.width)} past the right edge"
    down = f"{say.down(y)} down"
    if y < 0:
        down = f"{say.down(-y)} above the top edge"
    elif y > flat.height:
        down = f"{say.down(y - flat.height)} below the bottom edge"
    return f"hole {inches(diameter, say.unit)} dia, centre {right}, {down}"


def _named(tag: str) -> str:
    """Return a sleeve's tag in brackets when it is short and plain, so that it can turn nothing on the page around."""
    plain = bool(tag) and len(tag) <= 12 and tag.isascii() and all(char.isalnum() or char in "._#-" for char in tag)
    return f" ({tag})" if plain else ""


def _slit(start: Point, end: Point, say: _Words) -> str:
    """Return the words for a slit."""
    if start[0] == end[0]:
        low, high = sorted((start[1], end[1]))
        return f"slit {say.across(start[0])} right, {say.down(low)} to {say.down(high)} down"
    if start[1] == end[1]:
        low, high = sorted((start[0], end[0]))
        return f"slit {say.down(start[1])} down, {say.across(low)} to {say.across(high)} right"
    return f"slit from {say.point(start)} to {say.point(end)}"
