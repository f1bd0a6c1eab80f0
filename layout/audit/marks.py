"""Reads the cut list's marks back: the text alone, on the piece's rectangle, gives the piece's shape.

Lengths are ticks to the right of and down from the rectangle's top-left corner, as the marks say them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from shapely import box
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from layout.units import Unit, read_length

LYING = "lies along the wall: right is along the piece"
AROUND = 2.5
"""How far a hole's polygon may be from its circle [ticks]."""

Spot = tuple[float, float]
_LENGTH = r"(-?[0-9][0-9 '\"/.-]*?(?:\"|'| mm))"
_SIDE = r"(top|right|bottom|left)"
_CORNER = r"((?:top|bottom) (?:left|right))"
_SPARE = re.compile(rf"spare {_LENGTH} at the {_SIDE}")
_EDGE_NOTCH = re.compile(rf"notch {_SIDE} edge {_LENGTH} to {_LENGTH} (down|right), {_LENGTH} deep")
_AT_CORNER = re.compile(rf"(notch|trim) {_CORNER} corner {_LENGTH} wide, {_LENGTH} long")
_CUT_AWAY = re.compile(r"cut away ([a-z ]+?) along (.+)")
_POINT = re.compile(rf"{_LENGTH} right {_LENGTH} down")
_ROUND = re.compile(
    rf"hole {_LENGTH} dia, centre {_LENGTH} (right|past the left edge|past the right edge), "
    rf"{_LENGTH} (down|above the top edge|below the bottom edge)"
    rf"(?:, crossing the {_SIDE} edge {_LENGTH} to {_LENGTH} (?:down|right))?(?: \([A-Za-z0-9._#-]+\))?"
)
_BOX_HOLE = re.compile(rf"hole {_LENGTH} to {_LENGTH} right, {_LENGTH} to {_LENGTH} down")
_CORNERS_HOLE = re.compile(r"hole with corners (.+)")
_UPRIGHT_SLIT = re.compile(rf"slit {_LENGTH} right, {_LENGTH} to {_LENGTH} down")
_LEVEL_SLIT = re.compile(rf"slit {_LENGTH} down, {_LENGTH} to {_LENGTH} right")
_SLANTED_SLIT = re.compile(rf"slit from {_LENGTH} right {_LENGTH} down to {_LENGTH} right {_LENGTH} down")


_AFTER = {"top right": "right", "bottom right": "bottom", "bottom left": "left", "top left": "top"}
"""The side that comes after a corner, clockwise."""


class Unclear(ValueError):
    """A mark cannot be read; its text is the message."""


@lru_cache(maxsize=1 << 14)
def told_ticks(text: str, unit: Unit) -> float | None:
    """Return a length as a tape reads it [ticks], or None; a packet says the same ones over and over."""
    try:
        return float(read_length(text, unit))
    except ValueError:
        return None


@dataclass
class Marked:
    """What marks leave of a rectangle.

    Parameters
    ----------
    shape
        What is left once edges and straight holes are cut [ticks, right and down].
    circles
        Round holes as (x, y, diameter), not yet taken out.
    slits
        Cuts that take nothing away.
    """

    shape: BaseGeometry
    circles: list[tuple[float, float, float]] = field(default_factory=list)
    slits: list[tuple[Spot, Spot]] = field(default_factory=list)


@dataclass(frozen=True)
class _Frame:
    """The box of the shape inside its rectangle, spare left out, and how lengths are read."""

    left: float
    top: float
    right: float
    bottom: float
    unit: Unit

    def ticks(self, text: str) -> float:
        ticks = told_ticks(text.strip(), self.unit)
        if ticks is None:
            raise Unclear(text)
        return ticks

    def points(self, text: str) -> list[Spot]:
        found = []
        for part in text.split(", "):
            match = _POINT.fullmatch(part)
            if not match:
                raise Unclear(text)
            found.append((self.ticks(match[1]), self.ticks(match[2])))
        return found


def rebuild(marks: Sequence[str], *, length: int, width: int, unit: Unit) -> Marked:
    """Return the shape that marks make of a rectangle.

    Parameters
    ----------
    marks
        One text a mark.
    length, width
        The rectangle cut from the roll [ticks].
    unit
        For reading lengths.

    Raises
    ------
    Unclear
        When a mark is none of the known forms.
    """
    lying = bool(marks) and marks[0] == LYING
    wide, high = (length, width) if lying else (width, length)
    rest = list(marks[1:] if lying else marks)
    frame = _Frame(0, 0, wide, high, unit)
    while rest and rest[0].startswith("spare "):
        frame = _spared(rest.pop(0), frame)
    marked = Marked(box(frame.left, frame.top, frame.right, frame.bottom))
    for mark in rest:
        _apply(mark, frame, marked, wide=wide, high=high)
    return marked


def _spared(mark: str, frame: _Frame) -> _Frame:
    match = _SPARE.fullmatch(mark)
    if not match:
        raise Unclear(mark)
    spare, side = frame.ticks(match[1]), match[2]
    return _Frame(
        frame.left + spare * (side == "left"), frame.top + spare * (side == "top"),
        frame.right - spare * (side == "right"), frame.bottom - spare * (side == "bottom"), frame.unit,
    )


def _apply(mark: str, frame: _Frame, marked: Marked, *, wide: float, high: float) -> None:
    """Carry one mark out."""
    if match := _EDGE_NOTCH.fullmatch(mark):
        away: BaseGeometry = _edge_notch(match, frame, mark)
    elif match := _AT_CORNER.fullmatch(mark):
        away = _at_corner(match, frame)
    elif match := _CUT_AWAY.fullmatch(mark):
        away = _cut_away(match[1], frame.points(match[2]), frame, mark)
    elif match := _BOX_HOLE.fullmatch(mark):
        x0, x1, y0, y1 = (frame.ticks(match[i]) for i in range(1, 5))
        away = box(x0, y0, x1, y1)
    elif match := _CORNERS_HOLE.fullmatch(mark):
        away = Polygon(frame.points(match[1]))
    else:
        _apply_round_or_slit(mark, frame, marked, wide=wide, high=high)
        return
    if not away.is_valid:
        raise Unclear(mark)
    marked.shape = marked.shape.difference(away)


def _apply_round_or_slit(mark: str, frame: _Frame, marked: Marked, *, wide: float, high: float) -> None:
    if match := _ROUND.fullmatch(mark):
        across, down = frame.ticks(match[2]), frame.ticks(match[4])
        x = {"right": across, "past the left edge": -across, "past the right edge": wide + across}[match[3]]
        y = {"down": down, "above the top edge": -down, "below the bottom edge": high + down}[match[5]]
        diameter = frame.ticks(match[1])
        marked.circles.append((x, y, diameter))
        marked.shape = marked.shape.difference(Point(x, y).buffer(diameter / 2, quad_segs=64))
    elif match := _UPRIGHT_SLIT.fullmatch(mark):
        x, y0, y1 = (frame.ticks(match[i]) for i in range(1, 4))
        marked.slits.append(((x, y0), (x, y1)))
    elif match := _LEVEL_SLIT.fullmatch(mark):
        y, x0, x1 = (frame.ticks(match[i]) for i in range(1, 4))
        marked.slits.append(((x0, y), (x1, y)))
    elif match := _SLANTED_SLIT.fullmatch(mark):
        x0, y0, x1, y1 = (frame.ticks(match[i]) for i in range(1, 5))
        marked.slits.append(((x0, y0), (x1, y1)))
    else:
        raise Unclear(mark)


def _edge_notch(match: re.Match[str], frame: _Frame, mark: str) -> Polygon:
    side, way = match[1], match[4]
    low, high, deep = frame.ticks(match[2]), frame.ticks(match[3]), frame.ticks(match[5])
    if (way == "down") != (side in ("left", "right")):
        raise Unclear(mark)
    return {
        "left": lambda: box(frame.left, low, frame.left + deep, high),
        "right": lambda: box(frame.right - deep, low, frame.right, high),
        "top": lambda: box(low, frame.top, high, frame.top + deep),
        "bottom": lambda: box(low, frame.bottom - deep, high, frame.bottom),
    }[side]()


def _at_corner(match: re.Match[str], frame: _Frame) -> Polygon:
    up, aside = match[2].split()
    wide, long = frame.ticks(match[3]), frame.ticks(match[4])
    x = frame.left if aside == "left" else frame.right
    y = frame.top if up == "top" else frame.bottom
    dx, dy = (wide if aside == "left" else -wide), (long if up == "top" else -long)
    if match[1] == "trim":
        return Polygon([(x, y), (x + dx, y), (x, y + dy)])
    return box(min(x, x + dx), min(y, y + dy), max(x, x + dx), max(y, y + dy))


def _cut_away(what: str, chain: Sequence[Spot], frame: _Frame, mark: str) -> Polygon:
    """Return what falls away on the left of a cut from edge to edge, as one walks it clockwise around the piece."""
    if len(chain) < 2:
        raise Unclear(mark)
    passed = _corners_between(chain[0], chain[-1], frame, mark)
    _check_words(what, [name for name, _ in passed], mark)
    return Polygon([*[spot for _, spot in passed], *reversed(chain)])


def _corners_between(start: Spot, end: Spot, frame: _Frame, mark: str) -> list[tuple[str, Spot]]:
    """Return the corners passed going clockwise along the box's edge from one point on it to another."""
    corners = [("top right", (frame.right, frame.top)), ("bottom right", (frame.right, frame.bottom)),
               ("bottom left", (frame.left, frame.bottom)), ("top left", (frame.left, frame.top))]
    whole = 2 * (frame.right - frame.left + frame.bottom - frame.top)
    begin = _around(start, frame, mark)
    length = (_around(end, frame, mark) - begin) % whole
    found = []
    for name, spot in corners:
        distance = (_around(spot, frame, mark) - begin) % whole
        if 0 < distance < length:
            found.append((distance, name, spot))
    return [(name, spot) for _, name, spot in sorted(found)]


def _around(spot: Spot, frame: _Frame, mark: str) -> float:
    """Return how far clockwise from the top-left corner a point on the box's edge lies."""
    x, y = spot
    wide, high = frame.right - frame.left, frame.bottom - frame.top
    if y == frame.top and frame.left <= x <= frame.right:
        return x - frame.left
    if x == frame.right and frame.top <= y <= frame.bottom:
        return wide + y - frame.top
    if y == frame.bottom and frame.left <= x <= frame.right:
        return wide + high + frame.right - x
    if x == frame.left and frame.top <= y <= frame.bottom:
        return 2 * wide + high + frame.bottom - y
    raise Unclear(mark)


def _check_words(what: str, passed: Sequence[str], mark: str) -> None:
    """Hold the words for what falls away against the corners that go with it."""
    if len(passed) > 1:
        good = what == " and ".join(_AFTER[corner] for corner in passed[:-1])
    elif passed:
        good = what == f"{passed[0]} corner"
    else:
        good = what in ("edge", "top edge", "right edge", "bottom edge", "left edge")
    if not good:
        raise Unclear(mark)


def same(marked: Marked, shape: Polygon, slits: Sequence[tuple[Spot, Spot]]) -> bool:
    """Tell whether marks make a shape: equal everywhere but along the edges of round holes, and the same slits.

    Parameters
    ----------
    marked
        What the marks make.
    shape, slits
        What they should make [ticks, right and down].
    """
    rest = marked.shape.symmetric_difference(shape)
    for x, y, diameter in marked.circles:
        radius = diameter / 2
        inner = Point(x, y).buffer(radius - AROUND) if radius > AROUND else Polygon()
        rest = rest.difference(Point(x, y).buffer(radius + 0.1, quad_segs=64).difference(inner))
    return rest.area < 0.01 and _level(marked.slits) == _level(slits)


def _level(slits: Sequence[tuple[Spot, Spot]]) -> list[tuple[Spot, ...]]:
    return sorted(tuple(sorted((float(x), float(y)) for x, y in slit)) for slit in slits)


def measured_from_corner(ring: Sequence[tuple[int, int]], *, width: float, mirrored: bool) -> list[Spot]:
    """Return an outline measured right and down from the top left of its own box, mirrored in a width when asked."""
    left, top = min(x for x, _ in ring), max(y for _, y in ring)
    return [((width - (x - left)) if mirrored else x - left, top - y) for x, y in ring]
