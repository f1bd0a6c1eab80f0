"""A picture of how a drawing was read: what was read over what was there, in colour, with everything passed over."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, TYPE_CHECKING

import svgwrite

from layout.errors import Fault
from layout.job.trace.curves import LETTER as LETTER_WIDE
from layout.job.trace.drawn import DrawnBox, Vec, DrawnWords, box_around_points
from layout.job.trace.visible import CLIPPED, HIDDEN, INVISIBLE, NO_PLOT, OLD
from layout.job.tree import show
from layout.units import INCH, round_ticks, tape

if TYPE_CHECKING:
    from layout.job.trace import Reading
    from layout.job.trace.telling import Named

WIDE = 1600.0
"""Width of the picture [px]."""
EDGE = 30.0
LETTER = 13.0
LINE = 18.0
SMALL_SHARE = 0.2
"""When what is read takes less of the width than this, the picture shows its surroundings only."""
MOST_WORDS = 2_000
MOST_FAULTS = 60
_PLACE = re.compile(r"at \(([-+.\deE]+), ([-+.\deE]+)\)")

_OTHER = "#b9b9b9"
_PASSED = {HIDDEN: "#d08a00", NO_PLOT: "#d08a00", OLD: "#c2571a", INVISIBLE: "#d08a00", CLIPPED: "#c2571a"}
"""Colour of what is passed over for a reason of its own; the rest is grey."""
_WALL, _FOOT, _GRADE, _OPEN, _SLEEVE, _FAULT, _NAME = (
    "#1f5a8c", "#7a5230", "#2e7d32", "#7b3fa0", "#00838f", "#c62828", "#1f5a8c")


def picture(reading: Reading, *, title: str) -> str:
    """Return the picture as SVG text.

    Parameters
    ----------
    reading
        What the trace found, also where faults ended it.
    title
        Written at the top: the name of the drawing.
    """
    return _Picture(reading, title).text()


class _Picture:
    """One picture being drawn."""

    def __init__(self, reading: Reading, title: str) -> None:
        self.reading, self.title = reading, title
        self.spots = list(_spots(reading.faults, reading.sheet.scale))
        self.box = _frame(reading, [spot for spot, _, _ in self.spots])
        left, bottom, right, top = self.box
        self.scale = (WIDE - 2 * EDGE) / max(right - left, 1.0)
        self.head = EDGE + 3 * LINE
        self.high = (top - bottom) * self.scale

    def put(self, point: Vec) -> tuple[float, float]:
        return (round(EDGE + (point[0] - self.box[0]) * self.scale, 2),
                round(self.head + (self.box[3] - point[1]) * self.scale, 2))

    def text(self) -> str:
        lines = list(self.legend())
        height = self.head + self.high + EDGE + LINE * (len(lines) + min(len(self.spots), MOST_FAULTS) + 2)
        self.svg: Any = svgwrite.Drawing(size=(f"{WIDE:g}px", f"{height:.0f}px"),
                                         viewBox=f"0 0 {WIDE:g} {height:.0f}", debug=True)
        self.svg.add(self.svg.rect((0, 0), (WIDE, round(height)), fill="#ffffff"))
        self.write(f"How {show(self.title)} was read", (EDGE, EDGE), size=18, weight="bold")
        faults = len(self.reading.faults)
        self.write("Refused: the red marks are listed below." if faults else
                   "Coloured: what was read. Grey and orange: what was passed over.", (EDGE, EDGE + LINE * 1.3))
        frame = self.svg.defs.add(self.svg.clipPath(id="page"))
        frame.add(self.svg.rect((EDGE - 4, self.head - 4), (WIDE - 2 * EDGE + 8, round(self.high + 8, 2))))
        self.page = self.svg.add(self.svg.g(clip_path="url(#page)"))
        self.passed_over()
        self.words()
        self.walls()
        y = self.head + self.high + EDGE
        for colour, words in lines:
            self.svg.add(self.svg.line((EDGE, y - 4), (EDGE + 26, y - 4), stroke=colour, stroke_width=3))
            self.write(words, (EDGE + 36, y))
            y += LINE
        self.faults(y + LINE / 2)
        return str(self.svg.tostring()) + "\n"

    def write(self, words: str, at: tuple[float, float], *, size: float = LETTER, weight: str = "normal",
              fill: str = "#222222", anchor: str = "start", group: Any = None) -> None:
        (self.svg if group is None else group).add(self.svg.text(
            words, insert=(round(at[0], 2), round(at[1], 2)), font_size=f"{size:g}px", font_family="Arial, sans-serif",
            font_weight=weight, fill=fill, text_anchor=anchor))

    def line(self, points: Sequence[Vec], colour: str, *, wide: float, closed: bool = False, fill: str = "none",
             dashed: bool = False) -> None:
        places = [self.put(point) for point in points]
        if len(places) == 1:
            self.page.add(self.svg.circle(places[0], 2, fill=colour))
            return
        more = {"stroke_dasharray": "6,4"} if dashed else {}
        shape = self.svg.polygon if closed else self.svg.polyline
        self.page.add(shape(places, stroke=colour, stroke_width=wide, fill=fill, fill_opacity=0.35, **more))

    # --- what was there --------------------------------------------------------------------------

    def passed_over(self) -> None:
        for seen in self.reading.sheet.seen:
            self.line(seen.points, _PASSED.get(seen.why, _OTHER), wide=1.0, dashed=seen.why in _PASSED)
        for chain in self.reading.sheet.chains:  # what is read and drawn over again stays grey only where it is not
            self.line([*chain.points, *chain.points[:1 if chain.closed else 0]], _OTHER, wide=2.5)
        for disc in self.reading.sheet.discs:
            self.page.add(self.svg.circle(self.put(disc.centre), max(disc.radius * self.scale, 0.5), fill="none",
                                          stroke=_OTHER, stroke_width=2.5))

    def words(self) -> None:
        titles = {id(named.word) for named in self.reading.named if named.word is not None}
        for word in self.reading.sheet.words[:MOST_WORDS]:
            x, y = self.put(word.middle)
            size = min(max(word.height * self.scale, 2.0), 40.0)
            chosen = id(word) in titles
            self.write(word.text[:80], (x, y + size / 2), size=round(max(size, 9.0) if chosen else size, 1),
                       fill=_NAME if chosen else "#8f8f8f", weight="bold" if chosen else "normal", anchor="middle",
                       group=self.page)

    # --- what was read ---------------------------------------------------------------------------

    def walls(self) -> None:
        for wall in self.reading.stand.walls:
            bottom = wall.bottom or ()
            if bottom:
                self.line([*wall.top, *reversed(bottom)], _WALL, wide=1.5, closed=True, fill="#cfe0f0")
                self.line(bottom, _FOOT, wide=3.0)
            else:
                self.line(wall.top, _WALL, wide=1.5)
            if wall.depth is not None and bottom:
                self.line([(x, y - (wall.depth or 0.0)) for x, y in bottom], _FOOT, wide=1.0, dashed=True)
            if wall.grade is not None:
                self.line(wall.grade, _GRADE, wide=2.5)
            for opening in wall.openings:
                left, low, right, high = opening.box
                self.line(((left, low), (left, high), (right, high), (right, low)), _OPEN, wide=2.0, closed=True,
                          fill="#e6d5ef")
            for disc in wall.sleeves:
                self.page.add(self.svg.circle(self.put(disc.centre), max(disc.radius * self.scale, 1.5),
                                              stroke=_SLEEVE, stroke_width=2, fill="#cdeef0", fill_opacity=0.6))
        for named in self.reading.named:
            self.name(named)

    def name(self, named: Named) -> None:
        """Write a wall's name under it, or over it where its title is below, and a line to the text that gave it."""
        unit = self.reading.unit or INCH
        wall = named.wall
        below = named.word is not None and named.word.middle[1] < wall.box[1]
        foot = wall.box[1] - (wall.depth or 0.0)
        x, y = self.put(((wall.left + wall.right) / 2, wall.box[3] if below else foot))
        y += -LINE * 1.3 if below else LINE * 1.1
        length = tape(round_ticks(wall.right - wall.left, "nearest"), unit)
        self.write(f"{named.run}: {show(named.face)}", (x, y), weight="bold", fill=_NAME, anchor="middle")
        self.write(length, (x, y + LINE * 0.9), size=LETTER - 2, fill=_NAME, anchor="middle")
        if named.word is not None:
            start = (x, y + LINE if below else y - LETTER)
            self.page.add(self.svg.line(start, self.put(named.word.middle), stroke=_NAME, stroke_width=0.8,
                                        stroke_dasharray="2,3"))

    def legend(self) -> Iterator[tuple[str, str]]:
        """Yield colours and what they stand for."""
        sheet = self.reading.sheet
        yield _WALL, "wall, with its name and the text that named it"
        yield _FOOT, "top of the footing; dashed: its underside"
        yield _GRADE, "grade"
        yield _OPEN, "opening"
        yield _SLEEVE, "sleeve"
        if sheet.others:
            yield _OTHER, f"passed over, on other layers: {sum(sheet.others.values())}"
        if sheet.notes:
            yield _OTHER, "passed over: " + ", ".join(f"{n} x {what}" for what, n in sorted(sheet.notes.items()))[:200]
        for why, counts in sorted(sheet.unseen.items()):
            yield _PASSED.get(why, _OTHER), f"not read, {why}: {sum(counts.values())}"

    def faults(self, y: float) -> None:
        """Mark the faults where they are, and list them."""
        for number, (spot, words, known) in enumerate(self.spots[:MOST_FAULTS], start=1):
            if known:
                x, high = self.put(spot)
                self.svg.add(self.svg.circle((x, high), 9, fill="none", stroke=_FAULT, stroke_width=2.5))
                self.write(str(number), (x + 11, high - 8), weight="bold", fill=_FAULT)
            self.write(f"{number}  {words}"[:230], (EDGE, y), fill=_FAULT)
            y += LINE
        if len(self.spots) > MOST_FAULTS:
            self.write(f"and {len(self.spots) - MOST_FAULTS} more", (EDGE, y), fill=_FAULT)


def _spots(faults: Iterable[Fault], scale: float) -> Iterator[tuple[Vec, str, bool]]:
    """Yield where each fault is [ticks], what it says, and whether its place is known."""
    for fault in faults:
        match = _PLACE.search(fault.where)
        try:
            spot = (float(match[1]) * scale, float(match[2]) * scale) if match else (0.0, 0.0)
        except ValueError:
            match, spot = None, (0.0, 0.0)
        yield spot, fault.text(), match is not None


def _corners(word: DrawnWords) -> tuple[Vec, Vec]:
    """Return two corners of about the box around a text."""
    (x, y), half = word.middle, LETTER_WIDE * word.height * len(word.text) / 2
    return (x - half, y - word.height), (x + half, y + word.height)


def _frame(reading: Reading, spots: Sequence[Vec]) -> DrawnBox:
    """Return what the picture shows: everything, or what was read and its surroundings where the rest is far off."""
    read = [point for chain in reading.sheet.chains for point in chain.points]
    read += [corner for disc in reading.sheet.discs for corner in (disc.box[:2], disc.box[2:])]
    known = [spot for spot in spots if spot != (0.0, 0.0)]
    points = [*read, *known, *(point for seen in reading.sheet.seen for point in seen.points),
              *(corner for word in reading.sheet.words[:MOST_WORDS] for corner in _corners(word))]
    if not points:
        return 0.0, 0.0, 1000.0, 500.0
    box = box_around_points(tuple(points))
    core = box_around_points(tuple(read)) if read else box
    if read and (core[2] - core[0] < SMALL_SHARE * (box[2] - box[0]) or core[3] - core[1] < SMALL_SHARE
                 * (box[3] - box[1])):
        more = 0.3 * max(core[2] - core[0], core[3] - core[1])
        box = core[0] - more, core[1] - more, core[2] + more, core[3] + more
    wide, high = box[2] - box[0], box[3] - box[1]
    least = max(wide / 4, 1.0)
    pad = max(least - high, 0.0) / 2
    more = max(high / 2.5 - wide, 0.0) / 2
    return box[0] - more - wide / 50, box[1] - pad, box[2] + more + wide / 50, box[3] + pad
