"""The notes of one elevation while they are placed, and where on the run they belong."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from layout.drawing.chains import Note
from layout.drawing.ink import CELL, Ink, lies_on
from layout.drawing.labels import Places
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Box, Entity, Vec
from layout.drawing.model.fonts import width
from layout.drawing.wallview import VisiblePiece, WallView
from layout.records import Face, FaceSpan, Piece, Plan
from layout.shapes import highest, lowest, value
from layout.units import inches, tape

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
    keys_before
        How many numbers of the key are given out already on other faces of the run.
    row_deep
        Depth of the row of seams, the same on all faces of the run [plotted mm].
    """

    plan: Plan
    view: WallView
    one: float
    keys_before: int = 0
    row_deep: float = 0.0
    entities: list[Entity] = field(default_factory=list)
    keyed: list[str] = field(default_factory=list)
    flags: list[str] = field(default_factory=list)
    rolls: Mapping[str, str] = field(default_factory=dict)
    placed: dict[tuple[str, int], list[Entity]] = field(default_factory=lambda: defaultdict(list))
    above: list[Note] = field(default_factory=list)
    below: list[Note] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.places = Places(12 * self.one)
        self.ink = Ink(CELL * self.one)
        self.soft = Ink(CELL * self.one)
        for lap in self.view.laps:
            self.ink.area(lap.bounds, lies_on(lap.shape))
        self.same_tag: dict[str, list[VisiblePiece]] = defaultdict(list)
        for seen in (*self.view.field, *self.view.others):
            self.same_tag[seen.piece.tag].append(seen)
        self.numbered: dict[str, str] = {}
        for drop in self.plan.drops:
            areas = {seen.piece.tag: seen.whole.area for tag in drop.pieces for seen in self.same_tag.get(tag, ())}
            if areas:  # the top piece bears the number, unless it is small
                most = max(areas.values())
                self.numbered[drop.tag] = next(tag for tag in drop.pieces if areas.get(tag, 0.0) > 0.4 * most)
        within = within_run(self.view)
        self.reach = lowest(self.view.wall.bottom, *within), highest(self.view.wall.top, *within)
        self.least_top = lowest(self.view.wall.top, 0, self.view.wall.length)
        unit = self.plan.job.unit
        self.longest = max((width(tape(seen.piece.length, unit), SMALL) for seen in self.view.field), default=0.0)

    def draw(self, entities: Sequence[Entity], *, soft: bool = False) -> None:
        """Note the lines of what is drawn already: labels keep off them; ``soft`` ones only while there is room."""
        (self.soft if soft else self.ink).draw(entities, one=self.one)

    def lines_in(self, box: Box, *, soft: bool = True) -> bool:
        """Tell whether a line, a lap or the way of a station's leader crosses a box; if asked, a soft line too."""
        if self.ink.crosses(box) or (soft and self.soft.crosses(box)):
            return True
        wall = self.view.wall
        low, high = max(round(box.left), 0), min(round(box.right), wall.length)
        if low >= high:
            return False
        half = self.one / 2  # above the membrane line stand the leaders of the stations
        return self.least_top - half < box.top and lowest(wall.top, low, high) - half < box.top

    def values(self, piece: Piece) -> tuple[tuple[str, str], ...]:
        """Return what is known of a piece, by the names that its block's attributes have."""
        unit = self.plan.job.unit
        return (("TAG", piece.tag), ("KIND", piece.kind), ("FACE", piece.face), ("ROLL", self.rolls.get(piece.tag, "")),
                ("LENGTH", tape(piece.length, unit)), ("WIDTH", inches(piece.width, unit)),
                ("ORDER", str(piece.install) if piece.install else ""))


def rolls_of(plan: Plan) -> dict[str, str]:
    """Return the tag of the roll that each piece is cut from, by the piece's tag."""
    return {cut.piece: roll.tag for cutting in plan.cuttings for roll in cutting.rolls for cut in roll.cuts}


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
