"""The job's walls as the audit measures them, once, for what lines of the takeoff must come to."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from layout.audit.asked import Asked, AskedFace, AskedOpening, AskedRun, ProfilePoints, board_of
from layout.audit.coverage import FIELD
from layout.audit.spread import Spreads
from layout.audit.walls import line_of, must, opening_seen, toe, value
from layout.audit.written import Written, WrittenPiece
from layout.units import Unit, read_length, round_ticks

TENTH, HUNDREDTH = 0.1, 0.01
"""Areas are told to a tenth, all else to a hundredth."""


@dataclass(frozen=True)
class NeededQuantity:
    """What a line's net quantity must be, and what it may differ by for rounding, both in the line's own unit."""

    item: str
    net: float
    off: float


@dataclass(frozen=True)
class ReachedOpening:
    """An opening as the sheet sees it, against the membrane line [ticks].

    ``line`` is the line's height, ``foot`` where the sheet beside the opening begins; ``cuts`` tells whether the
    opening takes the line away, ``hole`` whether there is sheet all round it.
    """

    left: float
    right: float
    foot: float
    high: float
    line: float
    cuts: bool
    hole: bool


def reached(opening: AskedOpening, face: AskedFace, line: ProfilePoints, back: int) -> ReachedOpening | None:
    """Return how an opening lies to the line; None where a line that is not level cuts it, or it reaches a face's end.

    Parameters
    ----------
    opening, face, line
        The opening, its face and the membrane line.
    back
        How far the sheet turns into openings [ticks].
    """
    shape = opening_seen(opening, back)
    if shape.is_empty:
        return ReachedOpening(0, 0, 0, 0, 0, cuts=False, hole=False)
    left, bottom, right, high = shape.bounds
    levels = [value(line, left, from_right=True), value(line, right, from_right=False),
              *(y for x, y in line if left <= x <= right)]
    foot = max(bottom, *(value(face.footing, x, from_right=side) for x in (left, right) for side in (True, False)),
               *(y for x, y in face.footing if left <= x <= right))
    sloping = max(levels) > min(levels) and bottom < max(levels) and min(levels) <= high
    if left <= face.left or right >= face.right or sloping:
        return None
    under = high < min(levels)
    return ReachedOpening(left, right, foot, high, levels[0], cuts=not under and foot < min(levels), hole=under)


class MeasuredJob:
    """The job's walls as the sheet sees them, measured once [ticks]."""

    def __init__(self, plan: Written, asked: Asked, spreads: Spreads) -> None:
        self.plan, self.asked, self.spreads = plan, asked, spreads
        self.unit: Unit = asked.unit
        self.turn_down = {run.name: run.turn_down for run in plan.runs}

    def part(self, name: str) -> Mapping[str, Any] | None:
        """Return what the job says under a key, or None."""
        found = self.asked.job.get(name)
        return found if isinstance(found, Mapping) else None

    def long(self, ticks: float) -> float:
        """Return a length in feet or metres."""
        return ticks / (12 * self.unit.ticks if self.unit.name == "in" else 1000)

    def area(self, square: float) -> float:
        """Return an area in square feet or square metres."""
        return square / ((12 * self.unit.ticks) ** 2 if self.unit.name == "in" else 1e6)

    def ticks(self, given: object, inch: str, metric: str, *, up: bool = True) -> int:
        """Return a length of the job, rounded up or down; the usual one where it says nothing."""
        usual = metric if self.unit.name == "mm" else inch
        return round_ticks(read_length(usual if given is None else given, self.unit), "up" if up else "down")

    def product(self, name: str) -> Mapping[str, Any]:
        """Return what the job says of membrane, strip or drainage."""
        return self.part({"membrane": "sheet", "drainage": "drainage_board"}.get(name, name)) or {}

    def width(self, product: str) -> int:
        """Return how wide a product's rolls are, a board's without its flap [ticks]; 0 where no roll is opened."""
        given = self.product(product).get("width")
        if given is not None:
            return round_ticks(read_length(given, self.unit), "down")
        return next((roll.width for roll in self.plan.rolls if roll.product == product and not roll.remnant), 0)

    def below(self, run: AskedRun, face: AskedFace) -> int:
        """Return how far the sheet goes below the joint, on a whole tick."""
        reach = toe(face, turn_down=self.turn_down.get(run.name, 0), fillet=self.asked.rules["fillet"])
        return math.ceil(round(reach, 6))

    @cached_property
    def reinforcing(self) -> list[WrittenPiece]:
        """The pieces of reinforcing."""
        return [piece for piece in self.plan.pieces
                if piece.layer == FIELD and piece.kind not in ("drop", "course", "spare")]

    @cached_property
    def sleeves(self) -> list[float]:
        """Diameters of all sleeves."""
        return [sleeve.diameter for run in self.asked.runs for face in run.faces for sleeve in face.sleeves]

    @cached_property
    def openings(self) -> int:
        """How many openings the job has."""
        return sum(len(face.openings) for run in self.asked.runs for face in run.faces)

    @cached_property
    def board(self) -> float:
        """Area of the drainage board [square ticks]."""
        board = board_of(self.asked)
        laid = {drop.run for drop in self.plan.drops if drop.layer != FIELD}
        return sum(shape.area for run in (board.runs if board else ()) if run.name in laid
                   for _, shape in must(run, board, 0)) if board else 0.0

    @cached_property
    def bar_ends(self) -> list[int]:
        """Length of bar at each end of an open run; none where the job wants none."""
        bar = self.part("termination_bar")
        if bar is not None and bar.get("run_ends") is False:
            return []
        return [math.ceil(round(high - joint, 6)) for high, joint, _ in self.ends]

    @cached_property
    def ends(self) -> list[tuple[float, float, float]]:
        """Membrane line, joint and the sheet's lower end at each end of an open run."""
        found = []
        for run in self.asked.runs:
            for face, at, right in () if run.closed else (
                    (run.faces[0], 0.0, True), (run.faces[-1], run.length, False)):
                joint = value(face.footing, at, from_right=right)
                found.append((value(line_of(face, self.asked), at, from_right=right), joint,
                              joint - self.below(run, face)))
        return found
