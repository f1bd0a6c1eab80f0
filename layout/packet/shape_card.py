"""The drawn shape on a piece's card: what to cut, with running measures from its top and left edges.

The drawing lies as the sheet lies on the ground: film side up, or liner side up when the job says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from layout.marks import Sheet, sheet
from layout.records import Piece, Point
from layout.shapes import circle_ring
from layout.units import Unit, inches, tape

_GAP = 15.0
"""Least distance between two labels [drawing units, of which a letter is 12]."""
_LEFT, _TOP, _RIGHT, _BOTTOM = 90.0, 78.0, 30.0, 30.0
_WIDE, _HIGH = 210.0, 380.0
_LINE = 12.0


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


def shape_svg(piece: Piece, unit: Unit, *, film_side_up: bool, edges: Edges) -> str:
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

    Notes
    -----
    Each measure runs from the top-left corner of the cut rectangle, dashed where the shape leaves it. A round hole is
    measured at its centre. Length and width have their own scales when the piece is long and thin.
    """
    flat = sheet(piece, mirrored=not film_side_up)
    frame = _Frame(flat)
    shown = edges if film_side_up else edges.mirrored()
    parts = [
        f'<rect class="sheet" x="{_LEFT}" y="{_TOP}" width="{frame.wide:.1f}" height="{frame.high:.1f}"/>',
        '<path class="cutout" fill-rule="evenodd" '
        f'd="{"".join(frame.path(ring) for ring in (flat.ring, *flat.holes))}"/>',
    ]
    for start, end in flat.slits:
        (x0, y0), (x1, y1) = frame.at(start), frame.at(end)
        parts.append(f'<line class="slit" x1="{x0:.1f}" y1="{y0:.1f}" x2="{x1:.1f}" y2="{y1:.1f}"/>')
    for x, y, _ in flat.rounds:
        if 0 <= x <= flat.width and 0 <= y <= flat.height:
            cx, cy = frame.at((x, y))
            parts.append(f'<path class="centre" d="M{cx - 5:.1f},{cy:.1f}h10M{cx:.1f},{cy - 5:.1f}v10"/>')
    across, down = _stations(flat)
    parts += _down_measures(down, frame, unit)
    parts += _across_measures(across, frame, unit)
    parts += _edge_words(shown, frame)
    wide, high = frame.wide + _LEFT + _RIGHT, frame.high + _TOP + _BOTTOM
    words = f"Shape of {piece.tag}, {'film' if film_side_up else 'liner'} side up"
    return (f'<svg class="shape" role="img" aria-label="{escape(words)}" viewBox="0 0 {wide:.0f} {high:.0f}" '
            f'width="{wide:.0f}" height="{high:.0f}">{"".join(parts)}</svg>')


class _Frame:
    """Where points of the sheet fall on the card."""

    def __init__(self, flat: Sheet) -> None:
        scale = min(_WIDE / flat.width, _HIGH / flat.height)
        self.x_scale = max(scale, 110 / flat.width)
        self.y_scale = max(scale, 110 / flat.height)
        self.wide, self.high = flat.width * self.x_scale, flat.height * self.y_scale

    def at(self, point: Point) -> tuple[float, float]:
        return _LEFT + point[0] * self.x_scale, _TOP + point[1] * self.y_scale

    def path(self, ring: Sequence[Point]) -> str:
        return "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in map(self.at, ring)) + "Z"


def _stations(flat: Sheet) -> tuple[list[int], list[int]]:
    """Return the measures across and down that the shape needs; a circle needs only its centre."""
    rings = {point for x, y, diameter in flat.rounds for point in circle_ring(x, y, diameter)}
    points = [point for ring in (flat.ring, *flat.holes) for point in ring if point not in rings]
    points += [point for slit in flat.slits for point in slit]
    points += [(x, y) for x, y, _ in flat.rounds if 0 <= x <= flat.width and 0 <= y <= flat.height]
    across = sorted({x for x, _ in points} | {flat.width})
    down = sorted({y for _, y in points} | {flat.height})
    return [x for x in across if x > 0], [y for y in down if y > 0]


def _spread(places: Sequence[float], gap: float) -> list[float]:
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


def _down_measures(down: Sequence[int], frame: _Frame, unit: Unit) -> list[str]:
    """Return the running measures along the left edge."""
    places = [frame.at((0, y))[1] for y in down]
    parts = []
    for y, place, label in zip(down, places, _spread(places, _GAP), strict=True):
        parts.append(f'<path class="leader" d="M{_LEFT - 2:.1f},{place:.1f}h-6L{_LEFT - 14:.1f},{label:.1f}"/>')
        parts.append(f'<text class="measure" text-anchor="end" x="{_LEFT - 16:.1f}" y="{label + 4:.1f}">'
                     f'{escape(tape(y, unit))}</text>')
    return parts


def _across_measures(across: Sequence[int], frame: _Frame, unit: Unit) -> list[str]:
    """Return the running measures along the top edge, turned so that close ones still fit."""
    places = [frame.at((x, 0))[0] for x in across]
    parts = []
    for x, place, label in zip(across, places, _spread(places, _GAP), strict=True):
        parts.append(f'<path class="leader" d="M{place:.1f},{_TOP - 2:.1f}v-4L{label:.1f},{_TOP - 12:.1f}"/>')
        parts.append(f'<text class="measure" transform="translate({label + 4:.1f} {_TOP - 14:.1f}) rotate(-90)">'
                     f'{escape(inches(x, unit))}</text>')
    return parts


def _edge_words(edges: Edges, frame: _Frame) -> list[str]:
    """Return what the edges do, and which end is the top."""
    middle_y, middle_x = _TOP + frame.high / 2, _LEFT + frame.wide / 2
    parts = [f'<text class="up" text-anchor="middle" x="{middle_x:.1f}" y="{_TOP + 0.2 * frame.high:.1f}">▲ top</text>']
    for words, x, turn in ((edges.left, _LEFT + 13, -90), (edges.right, _LEFT + frame.wide + 15, -90)):
        if words:
            parts.append(f'<text class="edge" text-anchor="middle" transform="translate({x:.1f} {middle_y:.1f}) '
                         f'rotate({turn})">{escape(words)}</text>')
    for words, y in ((edges.bottom, _TOP + frame.high + 17), (edges.top, _TOP + 0.2 * frame.high + 16)):
        if words:
            parts.append(f'<text class="edge" text-anchor="middle" x="{middle_x:.1f}" y="{y:.1f}">'
                         f'{escape(words)}</text>')
    return parts
