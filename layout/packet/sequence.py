"""The one order in which everything goes on, over all faces, and what must be on before each piece."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from layout.records import MEMBRANE, Piece, Plan, Seam, Wall

OFF_THE_WALL = "spare"
"""Layer of what is cut and hangs nowhere."""


@dataclass(frozen=True)
class Hanging:
    """The order of hanging.

    Parameters
    ----------
    tags
        Every piece that hangs, in the order it goes on: run by run, membrane before other layers, each piece by its
        place in its run's order; where the plan gives none, by install number, of one drop the lower piece first.
    before
        Tag -> tags of the pieces that must be on before it: what it laps over, and the reinforcing it covers.
    """

    tags: tuple[str, ...]
    before: Mapping[str, tuple[str, ...]]


def hung_in_order(plan: Plan) -> list[Piece]:
    """Return every piece that hangs, in the order it goes on."""
    place = {piece.tag: i for i, piece in enumerate(plan.pieces)}
    runs = {run.name: i for i, run in enumerate(plan.job.runs)}
    faces = {(run.name, face.name): i for run in plan.job.runs for i, face in enumerate(run.faces)}

    def key(piece: Piece) -> tuple[object, ...]:
        return (runs.get(piece.run, len(runs)), piece.layer != MEMBRANE, piece.layer, piece.order, piece.install,
                0 if piece.install else faces.get((piece.run, piece.face), 0),
                -place[piece.tag] if piece.drop else place[piece.tag])

    return sorted((piece for piece in plan.pieces if piece.layer != OFF_THE_WALL), key=key)


def hanging(plan: Plan) -> Hanging:
    """Return the order of hanging of a plan.

    Notes
    -----
    Of the two drops of a seam the one with the lower install number is on first: the one beneath, or at a closing
    seam the one that is left loose.
    """
    ordered = hung_in_order(plan)
    tags = tuple(piece.tag for piece in ordered)
    at = {tag: i for i, tag in enumerate(tags)}
    found = _Before(plan, ordered)
    return Hanging(tags, {
        piece.tag: tuple(sorted({tag for tag in found.of(piece) if at[tag] < at[piece.tag]}, key=at.__getitem__))
        for piece in ordered
    })


class _Before:
    """What lies under a piece."""

    def __init__(self, plan: Plan, ordered: Sequence[Piece]) -> None:
        self.drops = {drop.tag: drop for drop in plan.drops}
        self.pieces = {piece.tag: piece for piece in ordered}
        self.boxes = {piece.tag: _box(piece) for piece in ordered if piece.outline}
        self.walls = {wall.run: wall for wall in plan.walls if wall.layer == MEMBRANE}
        self.seams: dict[str, list[Seam]] = {}
        for seam in plan.seams:
            self.seams.setdefault(seam.left, []).append(seam)
            self.seams.setdefault(seam.right, []).append(seam)
        self.under: dict[str, list[Piece]] = {}
        for piece in ordered:
            if not piece.drop and piece.layer == MEMBRANE:
                self.under.setdefault(piece.run, []).append(piece)

    def of(self, piece: Piece) -> Iterator[str]:
        """Yield the tags of what lies under, or beside and is on first."""
        if not piece.drop:
            return
        for seam in self.seams.get(piece.drop, ()):
            other = self.drops.get(seam.right if seam.left == piece.drop else seam.left)
            if other is not None and other.install < piece.install:
                yield from (tag for tag in other.pieces if tag in self.pieces)
        drop = self.drops.get(piece.drop)
        for tag in drop.pieces if drop else ():
            if tag != piece.tag and tag in self.pieces and self._meet(self.pieces[tag], piece, 0):
                yield tag
        if piece.layer != MEMBRANE:
            return
        wall = self.walls.get(piece.run)
        for other_piece in self.under.get(piece.run, ()):
            if wall is not None and self._covers(piece, other_piece, wall):
                yield other_piece.tag

    def _covers(self, piece: Piece, under: Piece, wall: Wall) -> bool:
        """Tell whether a piece of a drop lies over a strip, a collar or a cover."""
        turns = (0, wall.length, -wall.length) if wall.closed else (0,)
        if under.flat:
            return any(self._meet(piece, under, turn) for turn in turns)
        left, _, right, _ = self.boxes[piece.tag]
        if under.spot is not None:  # no part of a pattern lies further from there than it is long
            reach = under.length // 2 if "strip" in under.kind else max(under.length, under.width)
            return any(left < under.spot + reach + turn and under.spot - reach + turn < right for turn in turns)
        spans = (span for span in wall.faces if span.name == under.face)
        return any(left < span.right + turn and span.left + turn < right for span in spans for turn in turns)

    def _meet(self, one: Piece, other: Piece, turn: int) -> bool:
        """Tell whether the boxes of two flat pieces share some area, the second moved along the run."""
        left, low, right, high = self.boxes[one.tag]
        left2, low2, right2, high2 = self.boxes[other.tag]
        return left < right2 + turn and left2 + turn < right and low < high2 and low2 < high


def _box(piece: Piece) -> tuple[int, int, int, int]:
    """Return the left, lowest, right and highest of a piece's outline."""
    xs, ys = zip(*piece.outline, strict=True)
    return min(xs), min(ys), max(xs), max(ys)
