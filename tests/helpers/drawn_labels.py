"""Labels of sheets and pages counted: struck by a line, lying on each other, too small, by the fonts' own widths.

Widths come from the font files that matplotlib brings along, not from the program's table; lines from shapely.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache

from layout.drawing.model.blocks import BLOCKS
from layout.drawing.model.entities import (
    Circle, Drawing, Entity, Group, Insert, Line, Page, SubDrawing, Polyline, Text, moved,
)
from layout.drawing.model.plain import plain
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.ft2font import LoadFlags
from shapely import LineString, STRtree, box
from shapely.geometry.base import BaseGeometry

INSIDE = 0.1
"""A line that comes no further into a text's box strikes nothing [mm]."""


@lru_cache(maxsize=None)
def advance(character: str, strong: bool) -> float:
    """Return how far a character of the face goes on, in heights of its capitals."""
    face = get_font(findfont(FontProperties(family="DejaVu Sans", weight="bold" if strong else "normal")))
    cap = 1493  # height of H in the font file's own units
    if not face.get_char_index(ord(character)):
        return 2048 / cap
    return float(face.load_char(ord(character), LoadFlags.NO_SCALE).horiAdvance) / cap


@dataclass(frozen=True)
class Label:
    """A text on paper: what it says, its box without what hangs below the line, its height, when it was drawn."""

    text: str
    ink: BaseGeometry
    height: float
    number: int
    masked: bool


@dataclass
class Paper:
    """A sheet as it comes out: every label and every line in millimetres, each with the number of its owner."""

    labels: list[Label] = field(default_factory=list)
    lines: list[LineString] = field(default_factory=list)
    owners: list[int] = field(default_factory=list)
    count: int = 0

    def draw(self, entities: Iterable[Entity], one: float, at: tuple[float, float], within: BaseGeometry) -> None:
        """Add what is drawn of entities within a part of the paper."""
        for entity in owned(entities):
            self.count += 1
            blank = isinstance(entity, Insert) and BLOCKS[entity.block].blank
            for part in plain([entity], one=one):
                if isinstance(part, Text):
                    if part.text:
                        label = measured(part, one, at, self.count, part.masked or blank)
                        if label.ink.intersects(within):
                            self.labels.append(label)
                    continue
                for start, end in strokes(part):
                    drawn = LineString([(at[0] + x / one, at[1] + y / one) for x, y in (start, end)])
                    line = drawn.intersection(within)
                    if line.length:
                        self.lines.append(line)
                        self.owners.append(self.count)

    def struck(self) -> list[str]:
        """Return what each label says that a line of another owner runs through, unless it stands on a blank."""
        tree = STRtree(self.lines)
        found = []
        for label in self.labels:
            for at in tree.query(label.ink.buffer(-INSIDE, join_style="mitre"), predicate="intersects"):
                owner = self.owners[at]
                if owner != label.number and not (label.masked and owner < label.number):
                    found.append(label.text)
                    break
        return found

    def overlapping(self) -> list[tuple[str, str]]:
        """Return every two labels that lie on each other."""
        tree = STRtree([label.ink for label in self.labels])
        pairs = []
        for at, label in enumerate(self.labels):
            for other in tree.query(label.ink.buffer(-0.01, join_style="mitre"), predicate="intersects"):
                if other > at:
                    pairs.append((label.text, self.labels[other].text))
        return pairs


def owned(entities: Iterable[Entity]) -> Iterator[Entity]:
    """Yield entities with groups and parts opened."""
    for entity in entities:
        if isinstance(entity, Group):
            yield from owned(entity.entities)
        elif isinstance(entity, SubDrawing):
            yield from owned(moved(entity.entities, entity.step))
        else:
            yield entity


def strokes(part: object) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Yield the straight lines of a line, an outline or a circle."""
    if isinstance(part, Line):
        yield part.start, part.end
    elif isinstance(part, Polyline):
        points = (*part.points, part.points[0]) if part.closed else part.points
        yield from zip(points, points[1:])
    elif isinstance(part, Circle):
        ring = [(part.centre[0] + part.radius * math.cos(math.tau * step / 48),
                 part.centre[1] + part.radius * math.sin(math.tau * step / 48)) for step in range(49)]
        yield from zip(ring, ring[1:])


def measured(text: Text, one: float, at: tuple[float, float], number: int, masked: bool) -> Label:
    """Return a text where it lies on paper, measured by the font file."""
    wide = sum(advance(character, text.strong) for character in text.text) * text.height
    left = {"left": 0.0, "centre": -wide / 2, "right": -wide}[text.across]
    foot = {"base": 0.0, "middle": -text.height / 2, "top": -text.height}[text.up]
    corners = (left, foot, left + wide, foot + text.height)
    if text.turned:
        corners = (-corners[3], corners[0], -corners[1], corners[2])
    x, y = at[0] + text.at[0] / one, at[1] + text.at[1] / one
    return Label(text.text, box(corners[0] + x, corners[1] + y, corners[2] + x, corners[3] + y), text.height, number,
                 masked)


def of_drawing(drawing: Drawing) -> Paper:
    """Return a drawing as it comes out."""
    paper, one = Paper(), drawing.on_wall(1.0)
    paper.draw(drawing.entities, one, (0.0, 0.0), box(-1e6, -1e6, 1e6, 1e6))
    return paper


def of_page(page: Page) -> Paper:
    """Return a page as it comes out: what its views show, and what is drawn on the page."""
    paper = Paper()
    for view in page.views:
        one = view.drawing.on_wall(1.0)
        at = view.at[0] - view.window.left / one, view.at[1] - view.window.bottom / one
        within = box(view.box.left, view.box.bottom, view.box.right, view.box.top)
        paper.draw(view.drawing.entities, one, at, within)
    paper.draw(page.entities, 1.0, (0.0, 0.0), box(-1e6, -1e6, 1e6, 1e6))
    return paper
