"""The sketch on a piece's card: how it lies on the roll and what to cut, with running measures and numbered corners.

The drawing lies as the sheet lies on the ground: film side up, or liner side up when the job says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from layout.marks import LyingPiece, sheet
from layout.packet.crew import NumberedPoint, across_sketch, down_sketch
from layout.records import Cut, Piece, Point, Roll
from layout.shapes import circle_ring, outline_polygon, rectangle
from layout.units import Unit, inches, tape

_GAP = 16.0
"""Least distance between two labels [drawing units, of which a letter is 14]."""
_RIGHT, _BOTTOM = 26.0, 26.0
_NARROW, _BROAD = " '’\"-/.,ijlt", "mw↑↓←→"
"""Letters that are narrower, or wider, than a figure."""
_WIDE, _HIGH = 150.0, 290.0
_LONG, _LOW = 300.0, 110.0
_LEAST = 104.0
_DISC = 8.0
_FEW = 4
"""So few numbered corners stand under a sketch that is about square, which is larger then."""
_NUDGES = [(0.0, 0.0)] + [(round(r * math.cos(a * math.pi / 4), 1), round(r * math.sin(a * math.pi / 4), 1))
                          for r in (17, 26, 36) for a in range(8)]
"""Where a corner's number goes, from its point, the first that is free."""


@dataclass(frozen=True)
class Edges:
    """What each edge does, in words: laps over a neighbour, lies under one; empty where it does neither."""

    left: str
    right: str
    top: str
    bottom: str

    def mirrored(self) -> Edges:
        """Return the edges seen from the other side."""
        return Edges(self.right, self.left, self.top, self.bottom)


@dataclass(frozen=True)
class OnRoll:
    """How a piece lies on its roll, its own top up.

    Parameters
    ----------
    end_at_top
        The roll's end lies past the piece's top; else past its left edge. The roll's near edge then lies past the
        left edge, else past the bottom.
    end, edge
        How far it lies from the roll's end and from its near edge, in words; ``edge`` is empty for a piece as wide as
        the roll.
    """

    end_at_top: bool
    end: str
    edge: str


def on_roll(piece: Piece, cut: Cut, roll: Roll, unit: Unit) -> OnRoll:
    """Return how a piece lies on its roll: its top toward the roll's end, a turned one's toward the far edge."""
    whole = cut.across == 0 and cut.width == roll.width
    return OnRoll(sheet(piece).lying == cut.turned, tape(cut.at, unit), "" if whole else inches(cut.across, unit))


def shape_svg(
    piece: Piece, unit: Unit, *, film_side_up: bool, edges: Edges, corners: Sequence[NumberedPoint] = (),
    lies: OnRoll | None = None,
) -> str:
    """Return a piece's shape as SVG markup for an HTML page.

    Parameters
    ----------
    piece
        The piece.
    unit
        How lengths are spoken of.
    film_side_up
        Which side of the sheet faces the reader.
    edges
        What its edges do, film side up.
    corners
        The numbered corners, for the side that faces the reader.
    lies
        How it lies on its roll; None when that is not to be said.

    Notes
    -----
    Each measure runs from the top-left corner of the cut rectangle, dashed where the shape leaves it. A round hole is
    measured at its centre. Length and width have their own scales when the piece is long and thin.
    """
    flat = sheet(piece, mirrored=not film_side_up)
    across, down = _stations(flat)
    beside = [_bare(down_sketch(y, flat, unit)) for y in down]
    above = [_bare(across_sketch(x, flat, unit)) for x in across]
    frame = _Frame(flat, above, beside)
    shown = edges if film_side_up else edges.mirrored()
    parts = [
        f'<rect class="sheet" x="{_tenths(frame.left)}" y="{_tenths(frame.top)}" width="{_tenths(frame.wide)}" '
        f'height="{_tenths(frame.high)}"/>',
        '<path class="cutout" fill-rule="evenodd" '
        f'd="{"".join(frame.path(ring) for ring in (flat.ring, *flat.holes))}"/>',
    ]
    for start, end in flat.slits:
        (x0, y0), (x1, y1) = frame.at(start), frame.at(end)
        parts.append(f'<line class="slit" x1="{_tenths(x0)}" y1="{_tenths(y0)}" x2="{_tenths(x1)}" '
                     f'y2="{_tenths(y1)}"/>')
    for x, y, _ in flat.rounds:
        if 0 <= x <= flat.width and 0 <= y <= flat.height:
            cx, cy = frame.at((x, y))
            parts.append(f'<path class="centre" d="M{cx - 6:.0f},{cy:.0f}h12M{cx:.0f},{cy - 6:.0f}v12"/>')
    parts += _down_measures(down, beside, frame)
    parts += _across_measures(across, above, frame)
    parts += _edge_words(shown, frame)
    words = _lie_words(lies) if lies else []
    parts += [f'<text class="lies" x="4" y="{14 + 16 * row}">{_text(line)}</text>' for row, line in enumerate(words)]
    numbers, discs = _numbers(corners, frame)
    parts += _top_word(flat, frame, discs) + numbers
    wide = max(frame.wide + frame.left + _RIGHT, 190.0, *(8 + _long(line) for line in words))
    high = frame.high + frame.top + _BOTTOM
    label = f"Shape of {piece.tag}, {'film' if film_side_up else 'liner'} side up"
    broad = frame.wide > frame.high or len(corners) <= _FEW and frame.wide > 0.6 * frame.high
    return (f'<svg class="shape{" wide" if broad else ""}" role="img" aria-label="{escape(label)}" '
            f'viewBox="0 0 {wide:.0f} {high:.0f}" width="{wide:.0f}" height="{high:.0f}">{"".join(parts)}</svg>')


def _text(words: str) -> str:
    """Return words fit to stand between tags; quotes may stay there as they are."""
    return escape(words, quote=False)


def _long(words: str) -> float:
    """Return how wide heavy words are, at the widest of the fonts that phones have."""
    return sum(6.7 if letter in _NARROW else 14.6 if letter in _BROAD else 9.8 for letter in words)


def _bare(measure: str) -> str:
    """Return a measure without the unit that every metric one would repeat; the size below the sketch has it."""
    return measure.removesuffix(" mm")


def _tenths(value: float) -> str:
    """Return a coordinate to the tenth, without a zero behind the point."""
    return f"{value:.1f}".removesuffix(".0")


class _Frame:
    """Where points of the sheet fall on the card: beside and under its own measures."""

    def __init__(self, flat: LyingPiece, across: Sequence[str], down: Sequence[str]) -> None:
        wide, high = (_LONG, _LOW) if flat.width > flat.height else (_WIDE, _HIGH)
        scale = min(wide / flat.width, high / flat.height)
        self.x_scale = max(scale, _LEAST / flat.width)
        self.y_scale = max(scale, _LEAST / flat.height)
        self.wide, self.high = flat.width * self.x_scale, flat.height * self.y_scale
        self.left = 18 + max(map(_long, down), default=0.0)
        self.top = 50 + max(map(_long, across), default=0.0)

    def at(self, point: Point) -> tuple[float, float]:
        return self.left + point[0] * self.x_scale, self.top + point[1] * self.y_scale

    def path(self, ring: Sequence[Point]) -> str:
        return "M" + "L".join(f"{_tenths(x)},{_tenths(y)}" for x, y in map(self.at, ring)) + "Z"


def _stations(flat: LyingPiece) -> tuple[list[int], list[int]]:
    """Return the measures across and down that the shape needs; a circle needs only its centre."""
    rings = {point for x, y, diameter in flat.rounds for point in circle_ring(x, y, diameter)}
    points = [point for ring in (flat.ring, *flat.holes) for point in ring if point not in rings]
    points += [point for slit in flat.slits for point in slit]
    points += [(x, y) for x, y, _ in flat.rounds if 0 <= x <= flat.width and 0 <= y <= flat.height]
    across = sorted({x for x, _ in points} | {flat.width})
    down = sorted({y for _, y in points} | {flat.height})
    return [x for x in across if x > 0], [y for y in down if y > 0]


def labels_spread(places: Sequence[float], gap: float) -> list[float]:
    """Return label places in the same order, none nearer to the next than a gap, the last ones kept low."""
    spread: list[float] = []
    for place in places:
        spread.append(place if not spread else max(place, spread[-1] + gap))
    overrun = spread[-1] - places[-1] if spread else 0.0
    if overrun > 0:
        for i in range(len(spread) - 1, -1, -1):
            limit = places[-1] if i == len(spread) - 1 else spread[i + 1] - gap
            spread[i] = min(spread[i], limit)
    return spread


def _down_measures(down: Sequence[int], words: Sequence[str], frame: _Frame) -> list[str]:
    """Return the running measures along the left edge."""
    places = [frame.at((0, y))[1] for y in down]
    parts, leaders = [], ""
    for said, place, label in zip(words, places, labels_spread(places, _GAP), strict=True):
        left = frame.left
        leaders += f"M{left - 2:.0f},{place:.0f}h-5L{left - 11:.0f},{label:.0f}"
        parts.append(f'<text class="measure down" x="{left - 13:.0f}" y="{label + 5:.0f}">'
                     f'{_text(said)}</text>')
    return [f'<path class="leader" d="{leaders}"/>', *parts]


def _across_measures(across: Sequence[int], words: Sequence[str], frame: _Frame) -> list[str]:
    """Return the running measures along the top edge, turned so that close ones still fit."""
    places = [frame.at((x, 0))[0] for x in across]
    parts, leaders = [], ""
    for said, place, label in zip(words, places, labels_spread(places, _GAP), strict=True):
        top = frame.top
        leaders += f"M{place:.0f},{top - 2:.0f}v-3L{label:.0f},{top - 9:.0f}"
        parts.append(f'<text class="measure" transform="translate({label + 5:.0f} {top - 11:.0f}) rotate(-90)">'
                     f'{_text(said)}</text>')
    return [f'<path class="leader" d="{leaders}"/>', *parts]


def _edge_words(edges: Edges, frame: _Frame) -> list[str]:
    """Return what the edges do."""
    left, top = frame.left, frame.top
    middle_y, middle_x = top + frame.high / 2, left + frame.wide / 2
    parts = []
    for words, x in ((edges.left, left + 15), (edges.right, left + frame.wide + 17)):
        if words:
            parts.append(f'<text class="edge" transform="translate({x:.0f} {middle_y:.0f}) '
                         f'rotate(-90)">{_text(words)}</text>')
    for words, y in ((edges.bottom, top + frame.high + 18), (edges.top, top + 0.2 * frame.high + 18)):
        if words:
            parts.append(f'<text class="edge" x="{middle_x:.0f}" y="{y:.0f}">'
                         f'{_text(words)}</text>')
    return parts


def _top_word(flat: LyingPiece, frame: _Frame, discs: Sequence[tuple[float, float]]) -> list[str]:
    """Return the word for the piece's top, in the piece where no number, slit or hole is in its way; else above it."""
    shape = outline_polygon(flat.ring, flat.holes)
    slits = [frame.at(point) for start, end in flat.slits for point in (
        start, end, ((start[0] + end[0]) // 2, (start[1] + end[1]) // 2))]
    for down in (0.2, 0.3, 0.12, 0.45, 0.6, 0.75, 0.88):
        for right in (0.5, 0.3, 0.7, 0.23, 0.77):
            x, y = frame.left + right * frame.wide, frame.top + down * frame.high
            box = [((a - frame.left) / frame.x_scale, (b - frame.top) / frame.y_scale)
                   for a, b in ((x - 30, y - 14), (x + 30, y + 6))]
            clear = all(abs(a - x) > 30 + _DISC or abs(b - y + 4) > 10 + _DISC for a, b in (*discs, *slits))
            if clear and shape.contains(rectangle(box[0][0], box[0][1], box[1][0], box[1][1])):
                return [f'<text class="up" x="{x:.0f}" y="{y:.0f}">▲ top</text>']
    return ['<text class="up aside" x="4" y="46">▲ top</text>']


def _lie_words(lies: OnRoll) -> list[str]:
    """Return where the roll's end and its near edge lie, a line each, with an arrow to each and the distance."""
    end, edge = ("↑", "←") if lies.end_at_top else ("←", "↓")
    words = [f"{end} roll’s end {lies.end}"]
    if lies.edge:
        words.append(f"{edge} its near edge {lies.edge}")
    return words


def _numbers(corners: Sequence[NumberedPoint], frame: _Frame) -> tuple[list[str], list[tuple[float, float]]]:
    """Return the corners' numbers, each at its point or, where another is there, a little off it; and their places."""
    placed: list[tuple[float, float]] = []
    parts = []
    for corner in corners:
        x, y = frame.at(corner.point)
        spots = [(x + dx, y + dy) for dx, dy in _NUDGES]
        free = [spot for spot in spots if all(math.hypot(spot[0] - a, spot[1] - b) >= 2 * _DISC for a, b in placed)]
        cx, cy = free[0] if free else (x, y)
        placed.append((cx, cy))
        if (cx, cy) != (x, y):
            parts.append(f'<path class="leader" d="M{x:.0f},{y:.0f}L{cx:.0f},{cy:.0f}"/>')
        parts.append(f'<circle class="disc" cx="{cx:.0f}" cy="{cy:.0f}" r="{_DISC}"/><text class="number" '
                     f'x="{cx:.0f}" y="{cy + 4:.0f}">{corner.number}</text>')
    return parts, placed
