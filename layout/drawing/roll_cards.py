"""Roll cards: each roll laid out flat with the pieces cut from it, where each cut comes, and what is left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from layout.drawing.chains import Note, station_row
from layout.drawing.elevations import MARGIN, bounds, scale_words
from layout.drawing.labels import Holds, Places, first_free, held_in, inside_centres
from layout.drawing.model.blocks import SMALL, TAG_HEIGHT, tag_written
from layout.drawing.model.entities import (
    Box, Drawing, Entity, Group, Insert, Line, Polyline, Text, Vec, moved, on_wall,
)
from layout.drawing.model.fonts import DESCENT, width
from layout.drawing.struck import masked
from layout.marks import sheet
from layout.records import Cut, Piece, Plan, Ring, Roll
from layout.shapes import outline_polygon
from layout.units import inches, tape

SCALES = {"in": (24, 32, 48, 64, 96), "mm": (20, 25, 50, 100)}
LONGEST = 380.0
"""Longest roll on a card [plotted mm]: it fits a page of 11 × 17 in or A3."""


def roll_cards(plan: Plan, cards: Sequence[Drawing] | None = None) -> Drawing:
    """Return the cards of every roll, one under the other in cutting order.

    Parameters
    ----------
    plan
        The plan.
    cards
        The cards, drawn already; None draws them.
    """
    cards = cards_of(plan) if cards is None else cards
    if not cards:
        return _nothing(plan)
    scale = cards[0].scale
    one = on_wall(1.0, plan.job.unit, scale)
    entities: list[Entity] = []
    top = 0.0
    for card in cards:
        entities += moved(card.entities, (0.0, top - card.frame.top))
        top -= card.frame.height + 4 * one
    title = f"Roll cards, {plan.job.info.name}"
    return Drawing("rolls", title, plan.job.unit, scale, bounds(entities, one).grown(MARGIN * one), tuple(entities))


def cards_of(plan: Plan, *, longest: float = LONGEST) -> list[Drawing]:
    """Return one drawing a roll, all at one scale, in cutting order.

    Parameters
    ----------
    plan
        The plan.
    longest
        Longest roll on a card [plotted mm].
    """
    unit = plan.job.unit
    pieces = {piece.tag: piece for piece in plan.pieces}
    opened = [roll for cutting in plan.cuttings for roll in cutting.rolls]
    if not opened:
        return []
    most = max(roll.length for roll in opened)
    scale = next((scale for scale in SCALES[unit.name] if most / on_wall(1.0, unit, scale) <= longest),
                 SCALES[unit.name][-1])
    return [_Card(plan, roll, pieces, scale, longest).drawing() for roll in opened]


def _nothing(plan: Plan) -> Drawing:
    """Return the drawing of a plan without rolls: it says so."""
    unit, scale = plan.job.unit, SCALES[plan.job.unit.name][0]
    one = on_wall(1.0, unit, scale)
    text = Text("title", (0.0, 0.0), "No piece is cut from a roll.", 3.5)
    frame = bounds([text], one).grown(6 * one)
    return Drawing("rolls", f"Roll cards, {plan.job.info.name}", unit, scale, frame, (text,))


@dataclass
class _Card:
    """One roll being drawn: the roll's end at the left, its lower edge at elevation 0."""

    plan: Plan
    roll: Roll
    pieces: dict[str, Piece]
    scale: int
    longest: float = LONGEST

    def drawing(self) -> Drawing:
        unit, roll = self.plan.job.unit, self.roll
        self.one = one = on_wall(1.0, unit, self.scale)
        self.places = Places(12 * one)
        self.notes: list[Note] = []
        entities: list[Entity] = [self._heading()]
        entities.append(Polyline("roll", _rectangle(0, 0, roll.length, roll.width), tone="paper"))
        entities += self._left_over()
        for cut in roll.cuts:
            entities.append(self._piece(cut))
        for at in sorted({cut.at + cut.length for cut in roll.cuts}):
            self.notes.append(Note((float(at), 0.0), (0.0, 0.0), tape(at, unit)))
        row, deep = station_row(self.notes, level=-5 * one, one=one, low=0.0, high=roll.length + 20 * one)
        entities += row
        frame = Box(-2 * one, -5 * one - deep - 2 * one, max(self.longest, roll.length / one + 12) * one,
                    roll.width + 11 * one)
        name = f"{roll.tag} of {self.plan.job.info.name}"
        return Drawing(roll.tag, name, unit, self.scale, frame, masked(entities, one=one))

    def _heading(self) -> Text:
        unit, roll = self.plan.job.unit, self.roll
        what = f"remnant {roll.stock}" if roll.remnant else f"{roll.stock} roll"
        many = "1 piece" if len(roll.cuts) == 1 else f"{len(roll.cuts)} pieces"
        words = (f"{roll.tag}   {what} of {roll.product}, {inches(roll.width, unit)} wide, {many}; "
                 f"each figure is measured from the roll's end; {scale_words(self.scale, unit)}")
        return Text("title", (0.0, roll.width + 4 * self.one), words, 3.0)

    def _left_over(self) -> Iterator[Entity]:
        """Draw what is left at the end of the roll."""
        left, one, roll = self.roll.leftover, self.one, self.roll
        if left.length <= 0:
            return
        start = roll.length - left.length
        yield Polyline("leftover", _rectangle(start, 0, roll.length, left.width), tone="leftover")
        lines = ["keep" if left.keep else "scrap", tape(left.length, self.plan.job.unit)]
        wide = max(width(line, SMALL) for line in lines) * one + one
        x, y = (start + roll.length) / 2, left.width / 2
        pitch = SMALL * (1 + DESCENT) * one + 0.6 * one
        one_line = " ".join(lines)
        if pitch * len(lines) > left.width and width(one_line, SMALL) * one + one <= left.length:
            lines = [one_line]
        if pitch * len(lines) <= left.width and wide <= left.length:
            for number, line in enumerate(lines):
                yield Text("text", (x, y + pitch * ((len(lines) - 1) / 2 - number)), line, SMALL, "centre", "middle")
        else:
            yield Text("text", (roll.length + 2 * one, y), " ".join(reversed(lines)) + " left", SMALL, "left", "middle")

    def _piece(self, cut: Cut) -> Group:
        """Draw one piece within the rectangle cut for it, and its labels in it or under the roll."""
        piece = self.pieces.get(cut.piece) or _plain_piece(cut, self.roll)
        room = Box(cut.at, cut.across, cut.at + cut.length, cut.across + cut.width)
        blank = _rectangle(room.left, room.bottom, room.right, room.top)
        ring, holes, slits = _lying(piece, cut, mirrored=not self.plan.job.film_side_up)
        inside: list[Entity] = []
        if set(ring) != set(blank):
            inside.append(Polyline("piece", blank))
        inside.append(Polyline("cutting", ring, tone="sheet"))
        inside += [Polyline("cutting", hole, tone="paper") for hole in holes]
        inside += [Line("slit", start, end) for start, end in slits]
        holds, _ = held_in(outline_polygon(_whole(ring), [_whole(hole) for hole in holes]))
        inside += self._labels(piece, room, holds)
        unit = self.plan.job.unit
        size = f"{tape(piece.length, unit)} by {inches(piece.width, unit)}"
        title = f"{piece.tag}: {piece.kind}, {size}, from roll {self.roll.tag}"
        return Group(piece.tag, title, tuple(inside))

    def _labels(self, piece: Piece, room: Box, holds: Holds) -> list[Entity]:
        """Write the tag and the size of a piece in it; a tag that does not fit goes under the roll."""
        labels: list[Entity] = []
        one, unit = self.one, self.plan.job.unit
        prefer = (room.centre[0], room.centre[1] + 2.2 * one)
        for block, height in (("TAG", TAG_HEIGHT), ("MARK", SMALL), ("TAG-UP", TAG_HEIGHT), ("MARK-UP", SMALL)):
            wide = (width(tag_written(piece.tag), height, strong=block.startswith("TAG")) + 0.6) * one
            high = (height * (1 + 2 * DESCENT) + 0.1) * one
            if block.endswith("UP"):
                wide, high = high, wide
            centres = inside_centres(room, prefer, one, wide=wide, high=high)
            at = first_free(self.places, centres, wide=wide, high=high, holds=holds)
            if at:
                labels.append(Insert("tag", block, at, (("TAG", piece.tag),)))
                break
        else:
            point = (room.centre[0], room.bottom + min(room.height / 2, 2 * one))
            self.notes.append(Note(point, (0.0, 0.0), piece.tag, tag=piece.tag))
            return labels
        size = f"{tape(piece.length, unit)} × {inches(piece.width, unit)}"
        long, deep = (width(size, SMALL) + 1.0) * one, (SMALL * (1 + 2 * DESCENT) + 0.2) * one
        for turned, wide, high in ((False, long, deep), (True, deep, long)):
            below = (at[0], at[1] - 4.6 * one) if not turned else (at[0] + 4 * one, at[1])
            centres = inside_centres(room, below, one, wide=wide, high=high)
            spot = first_free(self.places, centres, wide=wide, high=high, holds=holds)
            if spot:
                labels.append(Text("text", spot, size, SMALL, "centre", "middle", turned))
                break
        return labels


def _whole(ring: Sequence[Vec]) -> Ring:
    """Return the points of a ring that lies on whole ticks as whole numbers."""
    return tuple((round(x), round(y)) for x, y in ring)


def _plain_piece(cut: Cut, roll: Roll) -> Piece:
    """Return the rectangle of a cut that is no piece of the wall, such as a length of bar."""
    ring = ((0, cut.length), (cut.width, cut.length), (cut.width, 0), (0, 0))
    return Piece(cut.piece, roll.product, "", "", "", roll.product, cut.length, cut.width, False, ring)


def _lying(
    piece: Piece, cut: Cut, *, mirrored: bool,
) -> tuple[tuple[Vec, ...], list[tuple[Vec, ...]], list[tuple[Vec, Vec]]]:
    """Return outline, holes and slits of a piece as it lies on the roll, the roll's end to the left.

    A piece lies with its top toward the roll's end; a turned one with its top toward the roll's far edge.
    """
    flat = sheet(piece, mirrored=mirrored)
    along = flat.lying == cut.turned  # its length, measured down the sheet, runs along the roll

    def put(point: tuple[int, int]) -> Vec:
        x, y = point
        return (cut.at + y, cut.across + x) if along else (cut.at + x, cut.across + flat.height - y)

    return (tuple(put(point) for point in flat.ring), [tuple(put(point) for point in hole) for hole in flat.holes],
            [(put(start), put(end)) for start, end in flat.slits])


def _rectangle(left: float, bottom: float, right: float, top: float) -> tuple[Vec, ...]:
    return (left, top), (right, top), (right, bottom), (left, bottom)
