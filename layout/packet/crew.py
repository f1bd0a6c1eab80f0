"""Marks as a crew says them: from the nearest edge, with one numbered list of corners beside the sketch.

The cut list's marks (``layout.marks``) run from one corner and rebuild the piece by themselves. These say the same
shape for a person at the sheet: every corner that is cut has a number on the sketch and its distances from the two
edges nearest to it, the nearer one first; along the piece as the tape reads, across it in inches, as on the sketch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from layout.marks import CORNERS, SIDES, Extent, LyingPiece, box_around, upright_rectangle, parting_cuts, sheet
from layout.records import Piece, Point, Ring
from layout.shapes import circle_ring
from layout.units import Unit, inches, tape


@dataclass(frozen=True)
class NumberedPoint:
    """One numbered place on a sketch: where it is [ticks right and down], and its distances in words."""

    number: int
    point: Point
    words: str


@dataclass(frozen=True)
class Crew:
    """What to cut, a line a mark, and the corners that the lines name by their numbers."""

    lines: tuple[str, ...]
    corners: tuple[NumberedPoint, ...]


def crew_marks(piece: Piece, unit: Unit, *, mirrored: bool = False) -> Crew:
    """Return a piece's marks as a crew says them.

    Parameters
    ----------
    piece
        The piece; its rectangle is ``length`` by ``width`` [ticks].
    unit
        How lengths are spoken of.
    mirrored
        Liner side up: left and right change places.
    """
    return _Teller(sheet(piece, mirrored=mirrored), unit).told()


class _Teller:
    """Numbers the corners in the order the lines come to them."""

    def __init__(self, flat: LyingPiece, unit: Unit) -> None:
        self.flat, self.unit = flat, unit
        self.box = box_around(flat.ring)
        self.numbers: dict[Point, int] = {}
        self.arcs = {point for x, y, diameter in flat.rounds for point in circle_ring(x, y, diameter)}

    def told(self) -> Crew:
        flat = self.flat
        lines = ["It lies along the wall: its length runs to the right."] if flat.lying else []
        lines += self._spare()
        lines += [self._cut(chain) for chain in parting_cuts(flat.ring, self.box)]
        for hole in sorted(flat.holes, key=lambda ring: (min(y for _, y in ring), min(x for x, _ in ring))):
            lines.append(self._hole(hole))
        lines += [f"Slit from {self._number(start)} to {self._number(end)}." for start, end in flat.slits]
        return Crew(tuple(lines), tuple(
            NumberedPoint(number, point, self._place(point)) for point, number in self.numbers.items()))

    def _number(self, point: Point) -> int:
        return self.numbers.setdefault(point, len(self.numbers) + 1)

    def _numbers(self, points: Sequence[Point]) -> str:
        found = [str(self._number(point)) for point in points]
        return ", ".join(found[:-1]) + (" and " if len(found) > 1 else "") + found[-1]

    def _spare(self) -> list[str]:
        box, flat = self.box, self.flat
        spares = ((box.top, "top"), (flat.width - box.right, "right"), (flat.height - box.bottom, "bottom"),
                  (box.left, "left"))
        return [f"Spare: {inches(amount, self.unit)} at the {side}." for amount, side in spares if amount]

    def _cut(self, chain: Sequence[Point]) -> str:
        """Return the words for one cut from edge to edge of the piece's box."""
        passed = self.box.corners_between(chain[0], chain[-1])
        side = self.box.side_of(chain[0], chain[-1])
        around = self._round_of(chain[1:-1]) if side and not passed else None
        if around is not None:
            return self._round(around, f", through the {side} edge")
        square = all(a[0] == b[0] or a[1] == b[1] for a, b in zip(chain, chain[1:]))
        if square and len(chain) == 4 and side and not passed:
            along = side in ("left", "right")
            deep = abs(chain[1][0] - chain[0][0]) if along else abs(chain[1][1] - chain[0][1])
            long = abs(chain[0][1] - chain[-1][1]) if along else abs(chain[0][0] - chain[-1][0])
            return (f"Notch the {side} edge, {self._say(deep, side)} deep and {self._say(long, turned(side))} long: "
                    f"corners {self._numbers(chain)}.")
        if len(passed) == 1 and len(chain) in (2, 3):
            wide, high = abs(chain[0][0] - chain[-1][0]), abs(chain[0][1] - chain[-1][1])
            ways = ("along", "across") if self.flat.lying else ("across", "along")
            size = (f"the {CORNERS[passed[0]]} corner, {self._say(wide, 'left')} {ways[0]} and "
                    f"{self._say(high, 'top')} {ways[1]}")
            if len(chain) == 2:
                return f"Trim {size}: straight from {self._number(chain[0])} to {self._number(chain[1])}."
            if square:
                return f"Notch {size}: corners {self._numbers(chain)}."
        return f"Cut away {self._what(passed, side)}: from corner to corner {self._numbers(chain)}."

    def _what(self, passed: Sequence[int], side: str | None) -> str:
        """Return the name of what falls away."""
        if not passed:
            return f"the {side} edge between" if side else "the edge between"
        if len(passed) == 1:
            return f"the {CORNERS[passed[0]]} corner"
        return "the " + " and ".join(SIDES[(corner + 1) % 4] for corner in passed[:-1]) + " side"

    def _hole(self, hole: Ring) -> str:
        around = self._round_of(hole)
        if around is not None:
            return self._round(around, "")
        box = upright_rectangle(hole)
        if box:
            size = f"{self._say(box.right - box.left, 'left')} wide and {self._say(box.bottom - box.top, 'top')} high"
            return f"Hole, {size}: corners {self._numbers(_around(box))}."
        return f"Hole: from corner to corner {self._numbers(hole)}."

    def _round_of(self, points: Sequence[Point]) -> int | None:
        """Return which round hole these points lie on, all of them, or None."""
        if not points:
            return None
        for index, (x, y, diameter) in enumerate(self.flat.rounds):
            if set(points) <= set(circle_ring(x, y, diameter)):
                return index
        return None

    def _round(self, index: int, more: str) -> str:
        x, y, diameter = self.flat.rounds[index]
        name = self.flat.names[index]
        named = f" for {name}" if name else ""
        if 0 <= x <= self.flat.width and 0 <= y <= self.flat.height:
            return f"Round hole{named}, {inches(diameter, self.unit)} across, centre {self._number((x, y))}{more}."
        return f"Round hole{named}, {inches(diameter, self.unit)} across, centre {self._place((x, y))}{more}."

    def _say(self, ticks: int, edge: str) -> str:
        """Return a distance square to an edge, as on the sketch."""
        return across_sketch(ticks, self.flat, self.unit) if edge in ("left", "right") else down_sketch(
            ticks, self.flat, self.unit)

    def _place(self, point: Point) -> str:
        """Return the distances of a point from the nearer side edge and the nearer end, the nearest first."""
        (x, y), flat = point, self.flat
        sides = [(x, "left"), (flat.width - x, "right")]
        ends = [(y, "top"), (flat.height - y, "bottom")]
        side, end = (min(pair, key=lambda one: abs(one[0])) for pair in (sides, ends))
        if side[0] == end[0] == 0:
            return f"{end[1]} {side[1]} corner"
        return ", ".join(self._from(*one) for one in sorted((side, end), key=lambda one: one[0]))

    def _from(self, ticks: int, edge: str) -> str:
        if ticks == 0:
            return f"{edge} edge"
        if ticks < 0:
            return f"{self._say(-ticks, edge)} past the {edge} edge"
        return f"{self._say(ticks, edge)} from {edge}"


def across_sketch(ticks: int, flat: LyingPiece, unit: Unit) -> str:
    """Return a measure across a sketch: in inches, but as the tape reads where that is along the piece."""
    return tape(ticks, unit) if flat.lying else inches(ticks, unit)


def down_sketch(ticks: int, flat: LyingPiece, unit: Unit) -> str:
    """Return a measure down a sketch: as the tape reads, but in inches where that is across the piece."""
    return inches(ticks, unit) if flat.lying else tape(ticks, unit)


def turned(side: str) -> str:
    """Return an edge square to one."""
    return "top" if side in ("left", "right") else "left"


def _around(box: Extent) -> tuple[Point, ...]:
    return (box.left, box.top), (box.right, box.top), (box.right, box.bottom), (box.left, box.bottom)
