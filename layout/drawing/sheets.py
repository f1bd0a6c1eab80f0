"""Pages: drawings cut where nothing is written, laid in rows, with headings, match lines and a title block."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from layout.drawing.elevations import scale_words
from layout.drawing.listing import texts
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import (
    Box, Drawing, Entity, Insert, Line, PaperSize, Polyline, Text, Vec, walk,
)
from layout.drawing.model.fonts import shortened, width
from layout.drawing.model.plain import insert_box

EDGE = 10.0
"""White between a page's border and its edge [mm]."""
HEAD = 9.0
"""Room under a view for its title [mm]."""
SIDE = 6.0
"""Room beside a view for the words of a match line [mm]."""
TITLE = 3.0
"""Height of a view's title [mm]."""


@dataclass(frozen=True)
class Window:
    """A part of a drawing that fits a page: which part of how many, and whether it goes on to either side."""

    drawing: Drawing
    box: Box
    number: int
    of: int

    @property
    def paper(self) -> Vec:
        """Plotted size [mm]."""
        one = self.drawing.on_wall(1.0)
        return self.box.width / one, self.box.height / one

    @property
    def beside(self) -> Vec:
        """Room that the words of its match lines take to the left and to the right [mm]."""
        return SIDE if self.number > 1 else 0.0, SIDE if self.number < self.of else 0.0


def windows(drawing: Drawing, *, widest: float) -> list[Window]:
    """Cut a drawing into parts no wider than a page, each cut through no text where that can be done.

    A run is parted at a corner where one is within reach, a single face into parts of about one size.

    Parameters
    ----------
    drawing
        The drawing.
    widest
        Room across [mm].
    """
    one = drawing.on_wall(1.0)
    frame = drawing.frame
    if frame.width <= widest * one:
        return [Window(drawing, frame, 1, 1)]
    taken = [(text.box.left * one, text.box.right * one) for text in texts(drawing)]
    taken += [(box.left, box.right) for entity in walk(drawing.entities) if isinstance(entity, Insert)
              for box in (insert_box(entity, one=one),) if box]
    taken.sort()
    cuts = [frame.left]
    while frame.right - cuts[-1] > widest * one:
        least, most = cuts[-1] + widest * one / 2, cuts[-1] + widest * one
        if not drawing.breaks:  # one face: parts of about one size, so that no page holds its last words alone
            left = frame.right - cuts[-1]
            share = left / math.ceil(left / (widest * one))
            least, most = cuts[-1] + 0.6 * share, min(most, cuts[-1] + 1.1 * share)
        cuts.append(_part(drawing, taken, least, most, one))
    cuts.append(frame.right)
    parts = list(zip(cuts, cuts[1:]))
    return [Window(drawing, Box(left, frame.bottom, right, frame.top), number, len(parts))
            for number, (left, right) in enumerate(parts, start=1)]


def _part(drawing: Drawing, taken: Sequence[tuple[float, float]], low: float, high: float, one: float) -> float:
    """Return where to part a drawing between two stations: at the last of its breaks, else as far on as can be."""
    for at in sorted((at for at in drawing.breaks if low <= at <= high), reverse=True):
        clear = _clear_station(taken, at - 12 * one, at + 0.0, one)
        if not any(left < clear < right for left, right in taken):
            return clear
    return _clear_station(taken, low, high, one)


def _clear_station(taken: Sequence[tuple[float, float]], low: float, high: float, one: float) -> float:
    """Return the last station between two that no text crosses; the last of all when every one is crossed."""
    at = high
    for left, right in sorted(taken, key=lambda span: -span[1]):
        if left - one / 2 < at < right + one / 2:
            at = left - one / 2
    # going down by right ends can meet a longer text again; look once more until nothing is crossed
    while at > low and any(left < at < right for left, right in taken):
        at = max(left for left, right in taken if left < at < right) - one / 2
    if at > low:
        return at
    ends = [end for left, right in taken for end in (left - one / 2, right + one / 2) if low < end <= high]
    # every station is crossed: the one that the fewest texts cross, the last of such
    return min(ends, key=lambda end: (sum(left < end < right for left, right in taken), -end), default=high)


def view_title(part: Window, at: Vec, *, number: int, beside: str = "") -> list[Entity]:
    """Return what stands under a view: its number in a circle, its title, its scale, and what it goes on with.

    Parameters
    ----------
    part
        What is seen.
    at
        Its lower left corner on the sheet [mm].
    number
        Of the view on its sheet; 0 for none.
    beside
        Where the neighbouring parts and faces are.
    """
    drawing = part.drawing
    count = f", part {part.number} of {part.of}" if part.of > 1 else ""
    scale = scale_words(drawing.scale, drawing.unit)
    room = max(part.paper[0] - 10.0, 40.0)
    words = f"{drawing.title}{count}"
    wide = width(f"   {scale}", SMALL)
    if beside and width(words, TITLE, strong=True) + width(f"   {beside}", SMALL) + wide > room:
        beside = ""
    title = shortened(words, TITLE, max(room - wide, 30.0), strong=True)
    left = at[0] + (9.0 if number else 0.0)
    entities: list[Entity] = []
    if number:
        entities.append(Insert("title", "VIEW", (at[0] + 4.0, at[1] - 4.6), (("NUMBER", str(number)),)))
    entities.append(Text("title", (left, at[1] - 5.6), title, TITLE, strong=True))
    left += width(title, TITLE, strong=True)
    entities.append(Text("title", (left + 3.0, at[1] - 5.6), scale, SMALL))
    if beside:
        entities.append(Text("title", (left + 6.0 + width(scale, SMALL), at[1] - 5.6), beside, SMALL))
    return entities


def match_lines(part: Window, at: Vec, sheets: Sequence[str]) -> list[Entity]:
    """Return the match lines of a part that goes on elsewhere, each with the sheet it goes on on.

    Parameters
    ----------
    part
        What is seen.
    at
        Its lower left corner on the sheet [mm].
    sheets
        The sheet of each part of the drawing, in their order.
    """
    wide, high = part.paper
    entities: list[Entity] = []
    for goes_on, x, side in ((part.number > 1, at[0], -1), (part.number < part.of, at[0] + wide, 1)):
        if not goes_on:
            continue
        other = part.number + side
        entities.append(Line("match", (x, at[1]), (x, at[1] + high)))
        words = f"match line: part {other} of {part.of}, {sheets[other - 1]}"
        entities.append(Text("match", (x + side * 2.9, at[1] + high / 2), words, SMALL, "centre", "middle", True))
    return entities


def framed(size: PaperSize) -> list[Entity]:
    """Return the border of a page."""
    left, bottom, right, top = EDGE, EDGE, size.width - EDGE, size.height - EDGE
    return [Polyline("title", ((left, top), (right, top), (right, bottom), (left, bottom)))]
