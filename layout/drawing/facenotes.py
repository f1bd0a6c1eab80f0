"""The notes of one elevation while they are placed, and where on the run they belong."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from layout.drawing.chains import Note
from layout.drawing.labels import Places
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Box, Entity, Vec
from layout.drawing.model.fonts import width
from layout.drawing.wallview import Seen, Shape, WallView
from layout.records import Face, FaceSpan, Plan
from layout.shapes import highest, lowest, rectangle, value
from layout.units import tape

Spans = Sequence[tuple[FaceSpan, Face]]
"""Faces with where they lie on the run."""


@dataclass
class FaceNotes:
    """The labels and dimensions of one elevation as they are being placed.

    Parameters
    ----------
    plan
        The plan.
    view
        What is seen.
    one
        Ticks that plot as one millimetre.
    """

    plan: Plan
    view: WallView
    one: float
    entities: list[Entity] = field(default_factory=list)
    keyed: list[str] = field(default_factory=list)
    flags: list[str] = field(default_factory=list)
    rolls: dict[str, str] = field(default_factory=dict)
    placed: dict[tuple[str, int], list[Entity]] = field(default_factory=lambda: defaultdict(list))
    below: list[Note] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.places = Places(12 * self.one)
        for cutting in self.plan.cuttings:
            for roll in cutting.rolls:
                self.rolls.update((cut.piece, roll.tag) for cut in roll.cuts)
        self.laps_of: dict[str, list[Shape]] = defaultdict(list)
        for lap in self.view.laps:
            self.laps_of[lap.over].append(lap.shape)
            self.laps_of[lap.under].append(lap.shape)
        lines = [(lap.bounds, lap.shape, False) for lap in self.view.laps]
        lines += [(seen.part.bounds, seen.part.boundary, True) for seen in self.view.others
                  if seen.piece.kind in ("collar", "opening corner", "sleeve patch")]
        cell = self.places.cell
        self.lines: dict[int, list[tuple[tuple[float, float, float, float], Shape, bool]]] = defaultdict(list)
        for bounds, shape, collar in lines:
            for column in range(math.floor(bounds[0] / cell), math.floor(bounds[2] / cell) + 1):
                self.lines[column].append((bounds, shape, collar))
        self.same_tag: dict[str, list[Seen]] = defaultdict(list)
        for seen in (*self.view.field, *self.view.others):
            self.same_tag[seen.piece.tag].append(seen)
        self.numbered: dict[str, str] = {}
        for drop in self.plan.drops:
            areas = {seen.piece.tag: seen.whole.area for tag in drop.pieces for seen in self.same_tag.get(tag, ())}
            if areas:  # the top piece bears the number, unless it is small
                most = max(areas.values())
                self.numbered[drop.tag] = next(tag for tag in drop.pieces if areas.get(tag, 0.0) > 0.4 * most)
        unit = self.plan.job.unit
        self.longest = max((width(tape(seen.piece.length, unit), SMALL) for seen in self.view.field), default=0.0)

    def lines_in(self, box: Box, *, collars: bool = True) -> bool:
        """Tell whether a lap, the membrane line, the grade line or, if asked, the edge of a collar crosses a box."""
        area = rectangle(box.left, box.bottom, box.right, box.top)
        cell = self.places.cell
        for column in range(math.floor(box.left / cell), math.floor(box.right / cell) + 1):
            for (left, bottom, right, top), shape, collar in self.lines.get(column, ()):
                if collar and not collars:
                    continue
                near = left < box.right and box.left < right and bottom < box.top and box.bottom < top
                if near and shape.intersects(area):
                    return True
        wall = self.view.wall
        low, high = max(round(box.left), 0), min(round(box.right), wall.length)
        if low >= high:
            return False
        gap = self.one / 2
        if lowest(wall.top, low, high) - gap < box.top:
            return True  # above the membrane line stand the leaders of the stations
        return bool(wall.grade and lowest(wall.grade, low, high) - gap < box.top
                    and box.bottom < highest(wall.grade, low, high) + gap)

    def labels(self, seen: Seen) -> list[Entity]:
        """Return the labels of a piece, as far as they were placed here."""
        return self.placed.get((seen.piece.tag, seen.shift), [])


def face_origin(notes: FaceNotes, x: float) -> Vec:
    """Return the foot of the left end of the face that a station lies on."""
    wall = notes.view.wall
    for span in wall.faces:
        if span.left <= x % wall.length <= span.right:
            return float(span.left), float(value(wall.footing, span.left, from_right=True))
    return float(notes.view.left), 0.0


def within_run(view: WallView) -> tuple[int, int]:
    """Return the window, kept within the run."""
    return max(view.left, 0), min(view.right, view.wall.length)
