"""The details of a job: each a drawing, its title, and where on the elevations it is called out.

A detail that is to be numbered and called out is a row of ``MAKERS``: what draws it, and what finds its places. After
them come the folds of the sheet (``fold_details``), called out where the first of each kind is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from layout.drawing.compose import LARGE
from layout.drawing.fold_details import fold_details
from layout.drawing.lap_details import (
    end_lap_detail, inside_corner, inside_corner_detail, plain_seam, side_lap_detail,
)
from layout.drawing.model.entities import Drawing
from layout.drawing.sections import (
    corner_detail, meeting_faces, deepest, footing_section, opening_section, sleeve_section, top_section,
)
from layout.drawing.sketch import SCALE
from layout.records import MEMBRANE, Plan, Wall
from layout.shapes import value


@dataclass(frozen=True)
class Call:
    """A place on the membrane's elevations that a detail is about [ticks on the run]."""

    run: str
    station: float
    elevation: float


@dataclass(frozen=True)
class Detail:
    """A detail: its drawing, and the places that it is called out at."""

    drawing: Drawing
    calls: tuple[Call, ...] = ()


Maker = Callable[[Plan, int], Drawing | None]
FindPlaces = Callable[[Plan], Iterator[Call]]


def _membrane(plan: Plan) -> list[Wall]:
    return [wall for wall in plan.walls if wall.layer == MEMBRANE]


def _at_joint(wall: Wall, station: float) -> Call:
    x = round(station) % wall.length if wall.closed else min(max(round(station), 0), wall.length)
    return Call(wall.run, station, float(value(wall.footing, x, from_right=x < wall.length)))


def _footing(plan: Plan) -> Iterator[Call]:
    found = deepest(plan)
    if found:
        wall, span = found
        yield _at_joint(wall, span.left + (span.right - span.left) * 0.4)


def _outside(plan: Plan) -> Iterator[Call]:
    for wall in _membrane(plan):
        for span, after in meeting_faces(wall):
            if span.corner == "outside" and span.angle == 90 and span.ledge and after.ledge:
                yield _at_joint(wall, span.right)
                return


def _inside(plan: Plan) -> Iterator[Call]:
    found = inside_corner(plan)
    if found:
        yield _at_joint(found[0], found[1].right)


def _sleeve(plan: Plan) -> Iterator[Call]:
    rounds = [(wall, each) for wall in _membrane(plan) for each in wall.rounds]
    if rounds:
        wall, sleeve = max(rounds, key=lambda pair: pair[1].diameter)
        yield Call(wall.run, float(sleeve.x), float(sleeve.y))


def _opening(plan: Plan) -> Iterator[Call]:
    for run, wall in zip(plan.job.runs, _membrane(plan)):
        for span, face in zip(wall.faces, run.faces):
            for opening in face.openings:
                yield Call(wall.run, float(span.left + opening.left), opening.sill + opening.height / 2)
                return


def _top(plan: Plan) -> Iterator[Call]:
    for wall in _membrane(plan)[:1]:
        at = wall.faces[0].left + (wall.faces[0].right - wall.faces[0].left) * 0.25
        yield Call(wall.run, at, float(value(wall.top, round(at), from_right=True)))


def _side_lap(plan: Plan) -> Iterator[Call]:
    found = plain_seam(plan)
    if found:
        wall, seam = found
        middle = (seam.left_edge + seam.right_edge) / 2 % wall.length
        low, high = (float(value(profile, round(middle), from_right=True)) for profile in (wall.footing, wall.top))
        yield Call(wall.run, middle, low + 0.3 * (high - low))


def _end_lap(plan: Plan) -> Iterator[Call]:
    pieces = {piece.tag: piece for piece in plan.pieces}
    for drop in plan.drops:
        if drop.layer == MEMBRANE and len(drop.pieces) > 1:
            lower = pieces[drop.pieces[1]]
            yield Call(drop.run, (drop.left + drop.right) / 2, float(max(y for _, y in lower.outline)))
            return


SCALES = {"in": (4, 8, 12, 16, 24, 48), "mm": (5, 10, 20, 50)}
"""Standard scales of details, the largest first, which is for large sheets."""
MAKERS: tuple[tuple[Maker, FindPlaces], ...] = (
    (footing_section, _footing), (corner_detail, _outside), (inside_corner_detail, _inside),
    (side_lap_detail, _side_lap), (end_lap_detail, _end_lap), (sleeve_section, _sleeve), (opening_section, _opening),
    (top_section, _top),
)
"""Every detail in the order of the work: what draws it where the job has it, and where it is called out."""


def fitting_details(plan: Plan, wide: float, high: float) -> list[Detail]:
    """Return the details, each at the largest standard scale at which it fits a sheet.

    Parameters
    ----------
    plan
        The plan.
    wide, high
        Room for one [mm].
    """
    scales = SCALES[plan.job.unit.name]
    made: list[Detail] = []
    for scale in scales[0 if wide > LARGE else 1:]:
        every = details(plan, scale=scale)
        made = [before if _fits(before.drawing, wide, high) else each for before, each in zip(made or every, every)]
        if all(_fits(each.drawing, wide, high) for each in made):
            break
    return made


def _fits(drawing: Drawing, wide: float, high: float) -> bool:
    return drawing.paper[0] <= wide and drawing.paper[1] <= high


def details(plan: Plan, *, scale: int = 0) -> list[Detail]:
    """Return each detail that the job has, in the order of the work.

    Parameters
    ----------
    plan
        The plan.
    scale
        8 for 1:8; 0 takes that of the packet's pages.
    """
    scale = scale or SCALE[plan.job.unit.name]
    made: list[Detail] = []
    for make, places in MAKERS:
        drawing = make(plan, scale)
        if drawing:
            made.append(Detail(drawing, tuple(places(plan))))
    for folded in fold_details(plan, scale=scale):
        made.append(Detail(folded.drawing, tuple(Call(*place) for place in folded.places[:1])))
    return made
