"""2xx: every run is the job's, every part of it has sheet, and no sheet lies where none belongs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from shapely import STRtree
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.audit.asked import Asked, AskedFace, AskedRun
from layout.audit.findings import Findings
from layout.audit.walls import bounds_of, line_of, may, must, parts, shifted, toe
from layout.audit.written import Written, WrittenPiece

FIELD = "membrane"
"""The layer that waterproofs."""
FAR = 1e9
"""Further than any wall reaches [ticks]."""


class ShapeIndex:
    """Shapes to look up by place.

    Parameters
    ----------
    shapes
        Any shapes.
    """

    def __init__(self, shapes: Sequence[BaseGeometry]) -> None:
        self._shapes = list(shapes)
        self._tree = STRtree(self._shapes)

    def to(self, place: BaseGeometry) -> list[BaseGeometry]:
        """Return the shapes that meet a place."""
        return [self._shapes[index] for index in self._tree.query(place, "intersects")]

    def within(self, place: BaseGeometry) -> BaseGeometry:
        """Return what of the shapes lies within a place."""
        return unary_union([shape.intersection(place) for shape in self.to(place)])

    def hold(self, place: BaseGeometry) -> bool:
        """Tell whether one of the shapes has all of a place in it."""
        return len(self._tree.query(place, "covered_by")) > 0

    def all_near(self, place: BaseGeometry) -> BaseGeometry:
        """Return the shapes that meet a place as one."""
        return unary_union(self.to(place))


@dataclass(frozen=True)
class HungLayer:
    """One layer's pieces of one run with their shapes in the run's frame.

    Parameters
    ----------
    run
        The run as the job gives it.
    turn_down
        That of the layer [ticks].
    pieces, shapes
        The pieces of its drops, and their shapes by tag; among the shapes are patches over holes in them.
    needed
        What the layer must cover, face by face.
    """

    run: AskedRun
    turn_down: int
    pieces: tuple[WrittenPiece, ...]
    shapes: Mapping[str, Polygon]
    needed: tuple[tuple[AskedFace, BaseGeometry], ...]

    @cached_property
    def walls(self) -> ShapeIndex:
        """What must be covered, around a closed run, to look things up in."""
        return ShapeIndex(shifted([shape for _, shape in self.needed], self.run))


def check_runs(plan: Written, asked: Asked, book: Findings) -> bool:
    """Hold the plan's runs and faces against the job's; return whether they are the same."""
    same = [run.name for run in plan.runs] == [run.name for run in asked.runs]
    if not same:
        book.note(107, "runs", ", ".join(run.name for run in asked.runs), ", ".join(run.name for run in plan.runs))
        return False
    for run, written in zip(asked.runs, plan.runs, strict=True):
        faces = [(face.name, face.left, face.right, face.corner) for face in run.faces]
        found = [(face.name, face.left, face.right, face.corner) for face in written.faces]
        for needed, got in zip(faces, found, strict=False):
            if needed != got:
                book.note(107, f"run {run.name}, face {needed[0]}", _face_words(needed, book), _face_words(got, book))
                same = False
        if len(faces) != len(found) or (run.closed, run.length) != (written.closed, written.length):
            needed_words = f"{len(faces)} faces, {_closed(run.closed)}, {book.say_length(run.length)}"
            found_words = f"{len(found)} faces, {_closed(written.closed)}, {book.say_length(written.length)}"
            book.note(107, f"run {run.name}", needed_words, found_words)
            same = False
    return same


def _face_words(face: tuple[str, float, float, str], book: Findings) -> str:
    name, left, right, corner = face
    return f"{name} from {book.say_length(left)} to {book.say_length(right)}, corner {corner}"


def _closed(closed: bool) -> str:
    return "closed" if closed else "open"


def check_toes(plan: Written, asked: Asked, book: Findings) -> None:
    """Hold each run's turn-down against its range, and its toe against the formula."""
    least, most = asked.turn_down
    for run, written in zip(asked.runs, plan.runs, strict=True):
        if not least <= written.turn_down <= most:
            needed = f"{book.say_length(least)} to {book.say_length(most)}"
            book.note(204, f"run {run.name}", needed, written.turn_down)
        exact = max(toe(face, turn_down=written.turn_down, fillet=asked.rules["fillet"]) for face in run.faces)
        if not exact - 1e-6 <= written.toe < exact + 1:
            book.note(205, f"run {run.name}", math.ceil(round(exact, 6)), written.toe)


def check_outlines(plan: Written, book: Findings) -> None:
    """Note outlines that are no simple shapes, and drops that are not drawn where they hang."""
    for piece in plan.pieces:
        shape = piece.shape
        if not shape.is_valid or shape.area <= 0 or (piece.kind == "drop" and not piece.flat):
            book.note(206, f"piece {piece.tag}", "a simple outline", "none")


def hung_shapes(plan: Written, asked: Asked) -> list[HungLayer]:
    """Return the field pieces of each run as shapes."""
    layer = asked.layer
    hung = []
    for run, written in zip(asked.runs, plan.runs, strict=True):
        pieces = [piece for piece in plan.pieces
                  if piece.kind == "drop" and piece.layer == layer and piece.run == run.name]
        patches = [piece for piece in plan.pieces
                   if piece.kind == "patch" and piece.layer == layer and piece.run == run.name]
        shapes = {piece.tag: piece.shape for piece in (*pieces, *patches)}
        turn_down = written.turn_down if layer == FIELD else 0
        needed = tuple(must(run, asked, turn_down))
        hung.append(HungLayer(run, turn_down, tuple(pieces), shapes, needed))
    return hung


def check_coverage(hung: HungLayer, asked: Asked, book: Findings) -> None:
    """Note every hole in a run's sheet, with its size and centre, and sheet that lies outside the wall."""
    run = hung.run
    sheets = ShapeIndex(shifted(hung.shapes.values(), run))
    for face, needed in hung.needed:
        for hole in parts(needed.difference(sheets.all_near(needed))):
            left, bottom, right, top = hole.bounds
            x, y = hole.centroid.x, hole.centroid.y
            book.note(201, book.at(run.name, x, y) + f" ({face.name})", "sheet",
                      f"a hole {book.say_length(right - left)} wide and {book.say_length(top - bottom)} high")
    check_belonging(hung, asked, book)


def check_belonging(hung: HungLayer, asked: Asked, book: Findings) -> None:
    """Note sheet above the membrane line, below the toe, past an open run's ends, in openings and in sleeves."""
    run = hung.run
    room = ShapeIndex(shifted([shape for _, shape in may(run, asked, hung.turn_down)], run))
    for tag, sheet in hung.shapes.items():
        for spill in () if room.hold(sheet) else parts(sheet.difference(room.all_near(sheet))):
            left, bottom, right, top = spill.bounds
            book.note(202, f"piece {tag}, " + book.at(run.name, spill.centroid.x, spill.centroid.y), "no sheet",
                      f"sheet {book.say_length(right - left)} wide and {book.say_length(top - bottom)} high")


def check_drops(plan: Written, hung: HungLayer, book: Findings) -> None:
    """Note pieces that reach past their drop."""
    drops = {drop.tag: drop for drop in plan.drops}
    for piece in hung.pieces:
        drop = drops[piece.drop]
        left, _, right, _ = hung.shapes[piece.tag].bounds
        if left < drop.left or right > drop.right:
            book.note(203, f"piece {piece.tag}", f"{book.say_length(drop.left)} to {book.say_length(drop.right)}",
                      f"{book.say_length(left)} to {book.say_length(right)}")


def board_may_be_left_out(run: AskedRun, asked: Asked) -> bool:
    """Tell whether a run may go without drainage board: where some stretch has no height for one."""
    for face in run.faces:
        for part in bounds_of(face, line_of(face, asked), 0):
            if part.high[0] <= part.low[0] or part.high[1] <= part.low[1]:
                return True
            if any(door.left < part.right and part.left < door.right and door.bottom <= max(part.low)
                   and door.top >= min(part.high) for door in face.openings):
                return True
    return False


def window(left: float, right: float) -> Polygon:
    """Return the endless upright stripe between two stations."""
    return box(left, -FAR, right, FAR)
