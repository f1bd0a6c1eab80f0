"""Patterns: folded pieces as they are cut, flat, with every dimension, and a card of each shape for the rolls.

A pattern is measured from the lower left corner of the rectangle cut for it, spare included. Places that no blade can
tell apart have one dimension.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from layout.concrete import parts_of
from layout.drawing.chains import Note, level_column, station_row
from layout.drawing.elevations import MARGIN, bounds, scale_words
from layout.drawing.folds import creases, walls_by_run
from layout.drawing.labels import Holds, Places, first_free, inside_centres
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Box, Drawing, Entity, Polyline, Text, Vec, on_wall
from layout.drawing.model.fonts import DESCENT, width, wrapped
from layout.folding import FoldedPart, folds_between
from layout.marks import LyingPiece, sheet
from layout.records import Piece, Plan
from layout.shapes import polygon_of, rectangle
from layout.units import Unit, inches, tape

SCALES = {"in": (8, 12, 16, 24), "mm": (5, 10, 20)}
"""Standard scales of pattern cards: 1:8 or larger unless a pattern is larger than the page."""
BLADE = 1
"""Places no farther apart than this are one to a blade [ticks: 1/16 in or 1 mm]."""
PITCH = SMALL * (1 + DESCENT) + 0.6
"""From one line of words to the next [plotted mm]."""
LEAST = 95.0
"""A card is at least this wide, so that its words stand in few lines [plotted mm]."""


def figure_of(ticks: int, unit: Unit) -> str:
    """Return a length as it stands on a pattern, which says its unit once where the unit is no mark on the figure.

    Examples
    --------
    >>> figure_of(40, INCH), figure_of(914, MM)
    ('2 1/2"', '914')
    """
    return inches(ticks, unit).removesuffix(" mm")


def in_unit(unit: Unit) -> str:
    """Return the unit of bare figures as it is said once on a card, to stand before other words; nothing of inches."""
    return "in mm " if unit.name == "mm" else ""


def told_apart(exact: Iterable[float], drawn: Iterable[float] = ()) -> list[int]:
    """Return the places to measure along one side of a pattern: one for all that no blade can tell apart.

    The pattern's far end goes before its other corners, and these before folds, which are only bent.

    Parameters
    ----------
    exact
        Corners and ends of slits, from the corner that is measured from [ticks].
    drawn
        Ends of folds [ticks].

    Examples
    --------
    >>> told_apart([0, 96, 97, 192, 193], [95.6, 150.2])
    [96, 150, 193]
    """
    corners = [round(place) for place in exact]
    ends = [0, *([max(corners)] if corners else [])]
    kept: list[int] = []
    for place in (*ends, *sorted(corners), *sorted(round(place) for place in drawn)):
        if all(abs(place - other) > BLADE for other in kept):
            kept.append(place)
    return sorted(kept)[1:]


@dataclass
class FlatPattern:
    """The flat pattern of a piece being drawn, the lower left corner of the rectangle cut for it at the origin.

    Parameters
    ----------
    piece
        The piece.
    parts
        Its parts where they lie, for their names and the folds between them.
    unit
        How lengths are spoken of.
    one
        Ticks that plot as one millimetre.
    mirrored
        Liner side up: left and right change places.
    """

    piece: Piece
    parts: Sequence[FoldedPart]
    unit: Unit
    one: float
    mirrored: bool = False
    entities: list[Entity] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.flat: LyingPiece = sheet(self.piece)

    def drawn(self) -> list[Entity]:
        """Return outline, folds, slits, what each part lies on, and every corner's distances."""
        piece = self.piece
        outline = [self._put(point) for point in piece.outline]
        cut = rectangle(0, 0, self.flat.width, self.flat.height)
        if cut.area > polygon_of(outline).envelope.area:  # spare beside the shape is cut with it, then cut off
            self.entities.append(Polyline("piece", tuple((x, y) for x, y, *_ in cut.exterior.coords[:-1])))
        self.entities.append(Polyline("cover", tuple(outline), tone="reinforcing"))
        holes = [[self._put(point) for point in hole] for hole in piece.holes]
        self.entities += [Polyline("cover", tuple(hole), tone="paper") for hole in holes]
        folds = [(self._put(start), self._put(end)) for start, end in folds_between(self.parts)]
        slits = [(self._put(slit.start), self._put(slit.end)) for slit in piece.slits]
        self.entities += [*creases(folds, "fold"), *creases(slits, "slit")]
        exact = [(float(self.flat.width), float(self.flat.height)), *outline,
                 *(point for hole in holes for point in hole), *(end for slit in slits for end in slit)]
        bent = [end for fold in folds for end in fold]
        self._measures(told_apart([x for x, _ in exact], [x for x, _ in bent]),
                       told_apart([y for _, y in exact], [y for _, y in bent]))
        self._names([*folds, *slits])
        return self.entities

    def _put(self, point: tuple[float, float]) -> Vec:
        """Return a point of the piece's frame as it is drawn."""
        ring = self.piece.outline
        x, down = point[0] - min(x for x, _ in ring), max(y for _, y in ring) - point[1]
        return float(self.flat.width - x if self.mirrored else x), float(self.flat.height - down)

    def _measures(self, across: Sequence[int], up: Sequence[int]) -> None:
        """Write the running measures under the pattern and to the right of it."""
        one, wide = self.one, across[-1]
        row, _ = station_row([Note((float(x), 0.0), (0.0, 0.0), figure_of(x, self.unit)) for x in across],
                             level=-4 * one, one=one, low=-10 * one, high=wide + 10 * one)
        end = max(float(wide), bounds(row, one).right)  # the column stands clear of the row
        column, _ = level_column([Note((float(wide), float(y)), (0.0, 0.0), figure_of(y, self.unit)) for y in up],
                                 station=end + 4 * one, one=one)
        self.entities += [*row, *column]

    def _names(self, lines: Sequence[tuple[Vec, Vec]]) -> None:
        """Write the surface that each part lies on in it; where there is no room, a number told over the pattern."""
        one = self.one
        places = Places(12 * one)
        for start, end in lines:
            for share in range(21):
                x, y = (a + (b - a) * share / 20 for a, b in zip(start, end, strict=True))
                places.take(Box(x - one / 50, y - one / 50, x + one / 50, y + one / 50))
        keyed: list[str] = []
        small: list[str] = []
        for part in self.parts:
            ring = [self._put((x, y)) for x, y, *_ in part.shape.exterior.coords]
            shape = polygon_of(ring)
            room = Box(*shape.bounds)
            middle = shape.representative_point()  # of one arm where it has two: in the box's own middle is a corner

            def holds(box: Box, shape: Any = shape) -> bool:
                return bool(shape.contains(rectangle(box.left, box.bottom, box.right, box.top)))

            prefer = middle.x, middle.y
            if self._written(part.on, room, prefer, holds, places):
                continue
            number = str(keyed.index(part.on) + 1 if part.on in keyed else len(keyed) + 1)
            if self._written(number, room, prefer, holds, places):
                keyed += [part.on] if part.on not in keyed else []
            else:
                small.append(part.on)
        key = [f"{number}: {words}" for number, words in enumerate(keyed, start=1)]
        key += [f"not named: {', '.join(dict.fromkeys(small))}"] if small else []
        top = bounds(self.entities, one).top + 2.5 * one
        self.entities += [Text("text", (0.0, top + row * 4.2 * one), line, SMALL)
                          for row, line in enumerate(reversed(key))]

    def _written(self, words: str, room: Box, prefer: Vec, holds: Holds, places: Places) -> bool:
        """Write words into a part in the first way in which they fit: in one line or two, level or upright."""
        one = self.one
        for turned, text in itertools.product((False, True), (words, words.replace(" ", "\n"))):
            label = text.split("\n")
            long = (max(width(line, SMALL) for line in label) + 0.4) * one
            deep = (SMALL + (len(label) - 1) * PITCH + SMALL * DESCENT + 0.4) * one
            wide, high = (deep, long) if turned else (long, deep)
            centres = inside_centres(room, prefer, one, wide=wide, high=high)
            at = first_free(places, centres, wide=wide, high=high, holds=holds)
            if at:
                self.entities += _lines(label, at, one, turned=turned)
                return True
        return False


def _lines(label: Sequence[str], at: Vec, one: float, *, turned: bool) -> Iterator[Text]:
    """Yield lines of words, one below the other, about their middle."""
    for number, line in enumerate(label):
        up = ((len(label) - 1) / 2 - number) * PITCH * one
        spot = (at[0] - up, at[1]) if turned else (at[0], at[1] + up)
        yield Text("text", spot, line, SMALL, "centre", "middle", turned)


# --- cards -------------------------------------------------------------------------------------

def is_pattern(piece: Piece) -> bool:
    """Tell whether a piece is a cover: folded from a pattern of its own, and no strip.

    Parameters
    ----------
    piece
        The piece.
    """
    return bool(piece.laid) and "strip" not in piece.kind


def pattern_cards(plan: Plan, *, wide: float, high: float) -> list[Drawing]:
    """Return a card of each pattern that the rolls have, in cutting order, as it lies when it is cut.

    Parameters
    ----------
    plan
        The plan.
    wide, high
        Room for one [mm]; a pattern larger than that at 1:8 is drawn smaller.
    """
    pieces = {piece.tag: piece for piece in plan.pieces if is_pattern(piece)}
    alike: dict[tuple[object, ...], list[tuple[Piece, str]]] = {}
    for cutting in plan.cuttings:
        for roll in cutting.rolls:
            for cut in roll.cuts:
                piece = pieces.get(cut.piece)
                if piece is not None:
                    place = f"{piece.tag} from {roll.tag} at {tape(cut.at, plan.job.unit).removesuffix(' mm')}"
                    alike.setdefault(_shape(piece), []).append((piece, place))
    return [_card(plan, places, wide, high) for places in alike.values()]


def _shape(piece: Piece) -> tuple[object, ...]:
    """Return what is the same for pieces that are cut in one way and lie on the same surfaces."""
    left, low = min(x for x, _ in piece.outline), min(y for _, y in piece.outline)

    def ring(points: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
        return tuple(sorted((x - left, y - low) for x, y in points))

    return (piece.kind, ring(piece.outline), tuple(map(ring, piece.holes)),
            tuple(sorted(ring((slit.start, slit.end)) for slit in piece.slits)),
            tuple(sorted(laid.on for laid in piece.laid)))


def _card(plan: Plan, places: Sequence[tuple[Piece, str]], wide: float, high: float) -> Drawing:
    """Return one card at the largest scale at which it fits."""
    for scale in SCALES[plan.job.unit.name]:
        drawing = _card_at(plan, places, scale)
        if drawing.paper[0] <= wide and drawing.paper[1] <= high:
            break
    return drawing


def _card_at(plan: Plan, places: Sequence[tuple[Piece, str]], scale: int) -> Drawing:
    unit, piece = plan.job.unit, places[0][0]
    one = on_wall(1.0, unit, scale)
    wall = walls_by_run(plan)[piece.run]
    mirrored = not plan.job.film_side_up
    entities = FlatPattern(piece, parts_of(piece, wall), unit, one, mirrored).drawn()
    box = bounds(entities, one)
    side = "liner" if mirrored else "film"
    long, across = figure_of(piece.length, unit), figure_of(piece.width, unit)
    lines = [f"{piece.kind}, {long} by {across}, {side} side up, top edge up; "
             f"measured {in_unit(unit)}from the lower left corner as cut; {scale_words(scale, unit)}",
             "; ".join(place for _, place in places)]
    room = max(LEAST, box.width / one)
    entities += _heading(lines, (box.left, box.top + 3 * one), room, one)
    frame = bounds(entities, one).grown(MARGIN / 2 * one)
    tags = ", ".join(each.tag for each, _ in places)
    return Drawing(f"pattern {piece.tag}", f"Pattern of {tags}", unit, scale, frame, tuple(entities))


def _heading(lines: Sequence[str], at: Vec, room: float, one: float) -> Iterator[Text]:
    """Yield lines of words over a pattern, broken to the card's width."""
    written = [line for words in lines for line in wrapped(words, SMALL, room)]
    for number, line in enumerate(reversed(written)):
        yield Text("title", (at[0], at[1] + number * 4.2 * one), line, SMALL)
