"""A detail being drawn: concrete cut through, sheet as one line whatever its plies (ASTM D5898, 5.2), and its notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from layout.drawing.chains import Note, level_column
from layout.drawing.elevations import MARGIN, bounds
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Dimension, Drawing, Entity, Hatch, Line, Polyline, Tone, Vec, on_wall
from layout.drawing.struck import masked
from layout.records import Plan
from layout.units import tape

SCALE = {"in": 8, "mm": 10}
"""Details on a page of the packet: 1 1/2 in to the foot, or 1:10."""
SHOWN = {"in": 24 * 16, "mm": 600}
"""How much wall is shown above a joint or below a top [ticks]."""
THICK = {"in": 8 * 16, "mm": 200}
"""Where a wall whose thickness nobody gave is broken off [ticks]."""


@dataclass
class Sketch:
    """A detail being drawn: its entities, and the notes that go in a column to the right of it."""

    plan: Plan
    scale: int
    name: str
    entities: list[Entity] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    @property
    def one(self) -> float:
        return on_wall(1.0, self.plan.job.unit, self.scale)

    def shape(self, layer: str, points: Sequence[Vec], *, closed: bool = True, tone: Tone = "") -> None:
        self.entities.append(Polyline(layer, tuple(points), closed, tone))

    def mass(self, ring: Sequence[Vec], *edges: Sequence[Vec]) -> None:
        """Hatch what is cut through, and draw those of its edges that are real; the others are broken off."""
        self.entities.append(Hatch("pattern", (tuple(ring),), spacing=3.0))
        for edge in edges:
            self.entities.append(Polyline("cut", tuple(edge), closed=False))

    def line(self, layer: str, start: Vec, end: Vec) -> None:
        self.entities.append(Line(layer, start, end))

    def across(self, left: Vec, right: Vec, level: float) -> None:
        """Measure across; the text goes beside the line's end when it does not fit between."""
        text = tape(round(abs(right[0] - left[0])), self.plan.job.unit)
        self.entities.append(Dimension("dims", "across", left, right, (left[0], level), text, SMALL))

    def up(self, low: Vec, high: Vec, station: float) -> None:
        text = tape(round(abs(high[1] - low[1])), self.plan.job.unit)
        self.entities.append(Dimension("dims", "up", low, high, (station, (low[1] + high[1]) / 2), text, SMALL))

    def note(self, point: Vec, text: str) -> None:
        self.notes.append(Note(point, (0.0, 0.0), text, suffix=text))

    def broken(self, start: Vec, end: Vec) -> None:
        """Draw a break line."""
        (x0, y0), (x1, y1) = start, end
        one = self.one
        mx, my = (x0 + x1) / 2, (y0 + y1) / 2
        upright = abs(x1 - x0) < abs(y1 - y0)
        along = (0.0, one if y1 > y0 else -one) if upright else (one if x1 > x0 else -one, 0.0)
        zig = [(mx + along[0] * step + along[1] * out, my + along[1] * step + along[0] * out)
               for step, out in ((-2.0, 0.0), (-1.0, 1.5), (1.0, -1.5), (2.0, 0.0))]
        self.entities.append(Polyline("beyond", (start, *zig, end), closed=False))

    def drawing(self, title: str) -> Drawing:
        unit = self.plan.job.unit
        right = bounds(self.entities, self.one).right
        column, _ = level_column(self.notes, station=right + 8 * self.one, one=self.one)
        self.entities += column
        self.entities = list(masked(self.entities, one=self.one))
        frame = bounds(self.entities, self.one).grown(MARGIN * self.one)
        return Drawing(self.name, title, unit, self.scale, frame, tuple(self.entities))
