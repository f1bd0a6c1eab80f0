"""Elevations: one face, or a whole run developed flat, as it is seen from the soil side."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from layout.drawing.annotate import annotate
from layout.drawing.facenotes import FaceNotes
from layout.drawing.legend import elevation_legend
from layout.drawing.model.entities import (
    Box, Circle, Drawing, Entity, Group, Hatch, Line, Polyline, Text, Vec, on_wall,
)
from layout.drawing.model.plain import box_of, plain
from layout.drawing.wallview import WallView, wall_view
from layout.drawing.wallwork import background, field_groups, foreground, other_groups
from layout.errors import DrawingError
from layout.records import Face, FaceSpan, Plan, Run, Wall
from layout.units import Unit

SCALE = {"in": 48, "mm": 50}
"""Elevations on their own: 1/4 in to the foot, or 1:50."""
MARGIN = 4.0
"""White around a drawing [plotted mm]."""


@dataclass(frozen=True)
class Elevation:
    """A drawing of some faces without heading and legend, and what is seen on it."""

    bare: Drawing
    view: WallView

    def whole(self) -> Drawing:
        """Return the drawing with its heading and the legend of what is seen under it."""
        drawing = self.bare
        one, frame = drawing.on_wall(1.0), drawing.frame.grown(-drawing.on_wall(MARGIN))
        heading = f"{drawing.title}: seen from the soil side, {scale_words(drawing.scale, drawing.unit)}"
        below = elevation_legend(heading, self.view, left=frame.left, top=frame.bottom - 5 * one,
                                 room=max(frame.width, 150 * one), one=one)
        around = Box.around([frame, bounds(below, one)]).grown(MARGIN * one)
        return replace(drawing, frame=around, entities=(*drawing.entities, *below))


def face_elevations(plan: Plan) -> dict[tuple[str, str, str], Elevation]:
    """Return the elevation of every face by run, face and layer: membrane first, then other layers that are placed.

    Parameters
    ----------
    plan
        The plan.
    """
    placed = {(drop.run, drop.layer) for drop in plan.drops}
    layers = ["membrane", *sorted({layer for _, layer in placed} - {"membrane"})]
    made: dict[tuple[str, str, str], Elevation] = {}
    for layer in layers:
        for run in plan.job.runs:
            if layer != "membrane" and (run.name, layer) not in placed:
                continue
            wall, _ = _wall(plan, run.name, layer)
            for span, face in zip(wall.faces, run.faces, strict=True):
                scale = SCALE[plan.job.unit.name]
                made[run.name, face.name, layer] = _drawn(plan, wall, [(span, face)], scale, alone=True)
    return made


def elevation(plan: Plan, run_name: str, face_name: str, *, scale: int = 0, layer: str = "membrane",
              legend: bool = True) -> Drawing:
    """Return the elevation of one face, dimensioned from its left end.

    Drops that turn a corner are cut off at the face's ends and bear a mark that they go on; the tag is on the larger
    part.

    Parameters
    ----------
    plan
        The plan.
    run_name, face_name
        Which face.
    scale
        48 for 1:48; 0 takes the usual one.
    layer
        ``membrane`` or ``drainage``.
    legend
        Put the title and the legend under it.

    Raises
    ------
    DrawingError
        When the plan has no such face.
    """
    wall, run = _wall(plan, run_name, layer)
    for span, face in zip(wall.faces, run.faces, strict=True):
        if face.name == face_name:
            made = _drawn(plan, wall, [(span, face)], scale or SCALE[plan.job.unit.name], alone=True)
            return made.whole() if legend else made.bare
    raise DrawingError(f"run {run_name} has no face named {face_name!r}")


def strip(plan: Plan, run_name: str, *, scale: int = 0, layer: str = "membrane", legend: bool = True) -> Drawing:
    """Return a whole run developed flat, each face dimensioned from its own left end.

    Parameters
    ----------
    plan
        The plan.
    run_name
        Which run.
    scale
        48 for 1:48; 0 takes the usual one.
    layer
        ``membrane`` or ``drainage``.
    legend
        Put the title and the legend under it.

    Raises
    ------
    DrawingError
        When the plan has no such run.
    """
    wall, run = _wall(plan, run_name, layer)
    faces = list(zip(wall.faces, run.faces, strict=True))
    made = _drawn(plan, wall, faces, scale or SCALE[plan.job.unit.name], alone=False)
    return made.whole() if legend else made.bare


def _wall(plan: Plan, run_name: str, layer: str) -> tuple[Wall, Run]:
    for wall in plan.walls:
        if (wall.run, wall.layer) == (run_name, layer):
            for run in plan.job.runs:
                if run.name == run_name:
                    return wall, run
    raise DrawingError(f"the plan has no run named {run_name!r} with a layer named {layer!r}")


def _drawn(plan: Plan, wall: Wall, faces: Sequence[tuple[FaceSpan, Face]], scale: int, *,
           alone: bool) -> Elevation:
    """Return the drawing of some neighbouring faces."""
    unit = plan.job.unit
    one = on_wall(1.0, unit, scale)
    left, right = faces[0][0].left, faces[-1][0].right
    if not alone:
        pieces = [piece for piece in plan.pieces if piece.flat and (piece.run, piece.layer) == (wall.run, wall.layer)]
        right = max([right, *(x for piece in pieces for x, _ in piece.outline)])
    view = wall_view(plan, wall, left, right, wrap=True)
    notes = annotate(FaceNotes(plan, view, one), faces, alone=alone)
    entities: list[Entity] = [
        *background(view, faces), *other_groups(view, notes, alone=alone), *field_groups(view, notes, alone=alone),
        *foreground(view, faces), *notes.entities,
    ]
    name = f"{wall.run} {faces[0][0].name}" if alone else f"{wall.run}"
    title = f"Run {wall.run}, face {faces[0][0].name}" if alone else f"Run {wall.run}, developed"
    if wall.layer != "membrane":
        title += f", {wall.layer}"
    bare = Drawing(name, title, unit, scale, bounds(entities, one).grown(MARGIN * one), tuple(entities),
                   tuple(float(span.right) for span, _ in faces[:-1]))
    return Elevation(bare, view)


def scale_words(scale: int, unit: Unit) -> str:
    """Return a scale as it is written under a drawing.

    Examples
    --------
    >>> from layout.units import INCH, MM
    >>> scale_words(48, INCH), scale_words(32, INCH), scale_words(50, MM)
    ('1/4" = 1\\'-0" (1:48)', '3/8" = 1\\'-0" (1:32)', '1:50')
    """
    names = {8: '1 1/2"', 12: '1"', 16: '3/4"', 24: '1/2"', 32: '3/8"', 48: '1/4"', 64: '3/16"', 96: '1/8"',
             4: '3"', 192: '1/16"'}
    if unit.name == "in" and scale in names:
        return f"{names[scale]} = 1'-0\" (1:{scale})"
    return f"1:{scale}"


def bounds(entities: Sequence[Entity], one: float) -> Box:
    """Return the box around everything drawn, text included [ticks].

    Parameters
    ----------
    entities
        What is drawn; at least one.
    one
        Ticks that plot as one millimetre.
    """
    boxes = [Box(min(x for x, _ in points), min(y for _, y in points), max(x for x, _ in points),
                 max(y for _, y in points)) for points in _corners(entities, one)]
    return Box.around(boxes)


def _corners(entities: Iterable[Entity], one: float) -> Iterator[Sequence[Vec]]:
    """Yield for each thing drawn points that its box goes around."""
    for entity in entities:
        if isinstance(entity, Group):
            yield from _corners(entity.entities, one)
        elif isinstance(entity, Text):
            box = box_of(entity, one=one)
            yield (box.left, box.bottom), (box.right, box.top)
        elif isinstance(entity, Circle):
            (x, y), r = entity.centre, entity.radius
            yield (x - r, y - r), (x + r, y + r)
        elif isinstance(entity, Hatch):
            yield entity.rings[0]
        elif isinstance(entity, Line):
            yield entity.start, entity.end
        elif isinstance(entity, Polyline):
            yield entity.points
        else:
            yield from _corners(plain([entity], one=one), one)
