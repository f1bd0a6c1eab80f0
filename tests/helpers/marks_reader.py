"""Reads marks back: a rectangle and the text alone give the outline. Shares nothing with what writes them.

The one rule taken from the program is ``circle_ring``: which polygon stands for a round hole.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from shapely.geometry import Polygon
from shapely.ops import unary_union

from layout.records import Point
from layout.shapes import circle_ring
from layout.units import Unit, read_length

_CORNER = r"(?P<corner>(?:top|bottom) (?:left|right)) corner"
_SIDE = r"(?P<side>top|right|bottom|left)"


@dataclass
class Read:
    """What the text says: the sheet that is left, and its slits [ticks, right and down from the top left]."""

    shape: Polygon
    slits: set[frozenset[Point]] = field(default_factory=set)


class _Reader:
    def __init__(self, length: int, width: int, unit: Unit) -> None:
        self.unit = unit
        self.right, self.bottom = width, length
        self.left = self.top = 0
        self.wide, self.high = width, length
        self.off: list[Polygon] = []
        self.slits: set[frozenset[Point]] = set()

    def ticks(self, text: str) -> int:
        length = read_length(text, self.unit)
        assert length.denominator == 1, text
        return int(length)

    def points(self, text: str) -> list[Point]:
        found = [re.fullmatch(r"(.+) right (.+) down", part) for part in text.split(", ")]
        assert all(found), text
        return [(self.ticks(match[1]), self.ticks(match[2])) for match in found if match]

    def box(self, left: int, top: int, right: int, bottom: int) -> None:
        assert left < right and top < bottom
        self.off.append(Polygon([(left, top), (right, top), (right, bottom), (left, bottom)]))

    def mark(self, text: str) -> None:
        """Take one mark."""
        for pattern, take in _FORMS:
            match = re.fullmatch(pattern, text)
            if match:
                take(self, match)
                return
        raise AssertionError(f"no such mark: {text!r}")

    def lying(self, match: re.Match[str]) -> None:
        self.wide, self.high = self.high, self.wide
        self.right, self.bottom = self.wide, self.high

    def spare(self, match: re.Match[str]) -> None:
        amount = self.ticks(match["amount"])
        if match["side"] == "top":
            self.top += amount
        elif match["side"] == "right":
            self.right -= amount
        elif match["side"] == "bottom":
            self.bottom -= amount
        else:
            self.left += amount

    def notch_edge_down(self, match: re.Match[str]) -> None:
        low, high, deep = (self.ticks(match[name]) for name in ("low", "high", "deep"))
        if match["side"] == "right":
            self.box(self.right - deep, low, self.right, high)
        else:
            self.box(self.left, low, self.left + deep, high)

    def notch_edge_right(self, match: re.Match[str]) -> None:
        low, high, deep = (self.ticks(match[name]) for name in ("low", "high", "deep"))
        if match["side"] == "top":
            self.box(low, self.top, high, self.top + deep)
        else:
            self.box(low, self.bottom - deep, high, self.bottom)

    def corner(self, match: re.Match[str]) -> None:
        wide, high = self.ticks(match["wide"]), self.ticks(match["long"])
        x, inward = (self.left, wide) if "left" in match["corner"] else (self.right, -wide)
        y, downward = (self.top, high) if "top" in match["corner"] else (self.bottom, -high)
        if match["how"] == "trim":
            self.off.append(Polygon([(x, y), (x + inward, y), (x, y + downward)]))
        else:
            self.box(min(x, x + inward), min(y, y + downward), max(x, x + inward), max(y, y + downward))

    def cut_away(self, match: re.Match[str]) -> None:
        """The line cut, and back along the edge: the side named falls away."""
        line = self.points(match["points"])
        corners = [(self.right, self.top), (self.right, self.bottom), (self.left, self.bottom), (self.left, self.top)]
        start, end = self._around(line[0]), self._around(line[-1])
        whole = self._around((self.left, self.bottom)) + self.bottom - self.top
        passed = sorted(((self._around(c) or whole) - start) % whole for c in corners)
        ahead = {((self._around(c) or whole) - start) % whole: c for c in corners}
        length = (end - start) % whole
        back = [ahead[d] for d in passed if 0 < d < length]
        self.off.append(Polygon([*line, *reversed(back)]))
        named = {"top": (self.left, self.top), "right": (self.right, self.top)}
        if " corner" in match["what"]:
            vertical, horizontal = match["what"].removesuffix(" corner").split()
            assert back == [(self.right if horizontal == "right" else self.left,
                             self.top if vertical == "top" else self.bottom)]
        elif match["what"].split(" and ")[0] in named and " edge" not in match["what"]:
            assert back[0] == named[match["what"].split(" and ")[0]]

    def _around(self, point: Point) -> int:
        x, y = point
        wide, high = self.right - self.left, self.bottom - self.top
        if y == self.top:
            return x - self.left
        if x == self.right:
            return wide + y - self.top
        if y == self.bottom:
            return wide + high + self.right - x
        assert x == self.left, f"{point} is not on an edge"
        return 2 * wide + high + self.bottom - y

    def hole_box(self, match: re.Match[str]) -> None:
        left, right, top, bottom = (self.ticks(match[name]) for name in ("left", "right", "top", "bottom"))
        self.box(left, top, right, bottom)

    def hole_corners(self, match: re.Match[str]) -> None:
        self.off.append(Polygon(self.points(match["points"])))

    def hole_round(self, match: re.Match[str]) -> None:
        diameter, x, y = self.ticks(match["dia"]), self.ticks(match["x"]), self.ticks(match["y"])
        x = {"right": x, "past the left edge": -x, "past the right edge": self.wide + x}[match["across"]]
        y = {"down": y, "above the top edge": -y, "below the bottom edge": self.high + y}[match["along"]]
        ring = list(circle_ring(x, y, diameter))
        if not match["side"]:
            self.off.append(Polygon(ring))
            return
        low, high = self.ticks(match["low"]), self.ticks(match["high"])
        if match["side"] in ("left", "right"):
            edge = self.left if match["side"] == "left" else self.right
            ends = [(edge, low), (edge, high)]
        else:
            edge = self.top if match["side"] == "top" else self.bottom
            ends = [(low, edge), (high, edge)]
        inside = [self.left < px < self.right and self.top < py < self.bottom for px, py in ring]
        first = next(i for i in range(len(ring)) if inside[i] and not inside[i - 1])
        turned = [(ring[(first + i) % len(ring)], inside[(first + i) % len(ring)]) for i in range(len(ring))]
        arc = [point for point, kept in turned if kept]
        near = min(ends, key=lambda end: (end[0] - arc[0][0]) ** 2 + (end[1] - arc[0][1]) ** 2)
        far = ends[1 - ends.index(near)]
        self.off.append(Polygon([near, *arc, far]))

    def slit_down(self, match: re.Match[str]) -> None:
        x, low, high = (self.ticks(match[name]) for name in ("at", "low", "high"))
        self.slits.add(frozenset([(x, low), (x, high)]))

    def slit_right(self, match: re.Match[str]) -> None:
        y, low, high = (self.ticks(match[name]) for name in ("at", "low", "high"))
        self.slits.add(frozenset([(low, y), (high, y)]))

    def slit_any(self, match: re.Match[str]) -> None:
        self.slits.add(frozenset([*self.points(match["start"]), *self.points(match["end"])]))


_FORMS = [
    (r"lies along the wall: right is along the piece", _Reader.lying),
    (rf"spare (?P<amount>.+) at the {_SIDE}", _Reader.spare),
    (rf"notch {_SIDE} edge (?P<low>.+) to (?P<high>.+) down, (?P<deep>.+) deep", _Reader.notch_edge_down),
    (rf"notch {_SIDE} edge (?P<low>.+) to (?P<high>.+) right, (?P<deep>.+) deep", _Reader.notch_edge_right),
    (rf"(?P<how>notch|trim) {_CORNER} (?P<wide>.+) wide, (?P<long>.+) long", _Reader.corner),
    (r"cut away (?P<what>.+) along (?P<points>.+)", _Reader.cut_away),
    (r"hole (?P<left>.+) to (?P<right>.+) right, (?P<top>.+) to (?P<bottom>.+) down", _Reader.hole_box),
    (r"hole with corners (?P<points>.+)", _Reader.hole_corners),
    (r"hole (?P<dia>.+) dia, centre (?P<x>\S+(?: \S+)?) (?P<across>right|past the left edge|past the right edge), "
     r"(?P<y>.+?) (?P<along>down|above the top edge|below the bottom edge)"
     rf"(?:, crossing the {_SIDE} edge (?P<low>.+) to (?P<high>.+) (?:down|right))?(?: \([A-Za-z0-9._#-]+\))?",
     _Reader.hole_round),
    (r"slit (?P<at>.+) right, (?P<low>.+) to (?P<high>.+) down", _Reader.slit_down),
    (r"slit (?P<at>.+) down, (?P<low>.+) to (?P<high>.+) right", _Reader.slit_right),
    (r"slit from (?P<start>.+ down) to (?P<end>.+ down)", _Reader.slit_any),
]


def read_marks(text: str, *, length: int, width: int, unit: Unit) -> Read:
    """Return what is left of a rectangle once every mark of a cell of text is cut, and the slits."""
    reader = _Reader(length, width, unit)
    for mark in text.split("; ") if text else []:
        reader.mark(mark)
    sheet = Polygon([(reader.left, reader.top), (reader.right, reader.top), (reader.right, reader.bottom),
                     (reader.left, reader.bottom)])
    shape = sheet.difference(unary_union(reader.off)) if reader.off else sheet
    return Read(shape, reader.slits)
