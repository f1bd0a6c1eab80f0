"""Elevations: one face, or a whole run developed flat, as it is seen from the soil side."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from layout.drawing.annotate import annotate
from layout.drawing.chains import Note
from layout.drawing.facenotes import FaceNotes, Spans, rolls_of
from layout.drawing.legend import elevation_legend
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import (
    Box, Circle, Drawing, Entity, Group, Hatch, Insert, Line, SubDrawing, Polyline, Text, Vec, moved, on_wall,
)
from layout.drawing.model.fonts import width
from layout.drawing.model.plain import box_of_text, plain
from layout.drawing.rows import deepest_row, dimension_rows, heights, key_lines, levels
from layout.drawing.struck import masked
from layout.drawing.wallview import WallView, wall_view
from layout.drawing.wallwork import background, field_groups, folds, foreground, labelled, other_groups
from layout.errors import DrawingError
from layout.names import drawing_stems
from layout.records import MEMBRANE, Face, FaceSpan, Plan, Run, Wall
from layout.shapes import value
from layout.units import Unit, tape

SCALE = {"in": 48, "mm": 50}
"""Elevations on their own: 1/4 in to the foot, or 1:50."""
MARGIN = 4.0
"""White around a drawing [plotted mm]."""
CORNER = 8.0
"""Least distance of two faces that meet in a corner [plotted mm]."""
TICKS = 1.4
"""What is drawn past the end of a face within this may lie on its neighbour: the ticks of dimensions [plotted mm]."""


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


@dataclass(frozen=True)
class FaceDrawing:
    """What is drawn of one face within its own width, in the frame of its run; levels and heights stand beside it.

    Parameters
    ----------
    name
        Its name as a part of larger drawings.
    span, face
        Which.
    view
        What is seen.
    unit, scale
        The job's unit, and 48 for 1:48.
    entities
        In drawing order.
    box
        The box around them [ticks].
    numbered
        Words put as numbers, the first for the number after ``before``.
    before
        How many numbers were given out on faces before it.
    flags
        Lines that explain the flags on it.
    labels
        The labels of each piece, by its tag and how far along the run it is moved here.
    loose
        What else is written on it.
    above, below
        What stands in the rows above and below it.
    """

    name: str
    span: FaceSpan
    face: Face
    view: WallView
    unit: Unit
    scale: int
    entities: tuple[Entity, ...]
    box: Box
    numbered: tuple[str, ...]
    before: int
    flags: tuple[str, ...]
    labels: Mapping[tuple[str, int], Sequence[Entity]]
    loose: Sequence[Entity]
    above: Sequence[Note]
    below: Sequence[Note]

    @property
    def one(self) -> float:
        """Ticks that plot as one millimetre."""
        return on_wall(1.0, self.unit, self.scale)

    @property
    def words_end(self) -> float:
        """Where what is written on it ends on the right, when that is past its end; else its end [ticks]."""
        end = float(self.span.right)
        return self.box.right if self.box.right > end + TICKS * self.one else end

    def key(self) -> list[str]:
        """Return the lines of its key."""
        return [f"[{number}] {words}" for number, words in enumerate(self.numbered, start=self.before + 1)]


Faces = dict[tuple[str, str, str], FaceDrawing]
"""Faces by run, face and layer."""


def drawn_faces(plan: Plan, scale: int, seen: Mapping[tuple[str, str, str], WallView] = {}) -> Faces:
    """Return what is drawn of every face by run, face and layer: membrane first, then other layers that are placed.

    Parameters
    ----------
    plan
        The plan.
    scale
        48 for 1:48.
    seen
        What is seen of faces, by run, face and layer, where that is known already: it is the same at each scale.
    """
    placed = {(drop.run, drop.layer) for drop in plan.drops}
    layers = [MEMBRANE, *sorted({layer for _, layer in placed} - {MEMBRANE})]
    wanted = [(run, layer) for layer in layers for run in plan.job.runs
              if layer == MEMBRANE or (run.name, layer) in placed]
    stems = drawing_stems([(run.name, face.name, layer) for run, layer in wanted for face in run.faces])
    rolls = rolls_of(plan)
    made: Faces = {}
    for run, layer in wanted:
        wall, _ = _wall(plan, run.name, layer)
        before, deep = 0, deepest_row(plan, wall)
        for span, face in zip(wall.faces, run.faces, strict=True):
            key = run.name, face.name, layer
            view = seen.get(key) or wall_view(plan, wall, span.left, span.right, wrap=True)
            made[key] = _face(plan, view, span, face, scale, rolls, f"FACE-{stems[key].upper()}", before, deep)
            before += len(made[key].numbered)
    return made


def face_elevations(plan: Plan, faces: Faces | None = None) -> dict[tuple[str, str, str], Elevation]:
    """Return the elevation of every face by run, face and layer, each with its levels and heights.

    Parameters
    ----------
    plan
        The plan.
    faces
        What is drawn of each, made already at the usual scale; None makes it.
    """
    drawn = faces if faces is not None else drawn_faces(plan, SCALE[plan.job.unit.name])
    return {key: Elevation(joined_faces(plan, [face], loose=True), face.view) for key, face in drawn.items()}


def elevation(plan: Plan, run_name: str, face_name: str, *, scale: int = 0, layer: str = MEMBRANE,
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
            scale = scale or SCALE[plan.job.unit.name]
            one_face = _face(plan, wall_view(plan, wall, span.left, span.right, wrap=True), span, face, scale,
                             rolls_of(plan), f"FACE-{run_name}-{face_name}", 0, deepest_row(plan, wall))
            made = Elevation(joined_faces(plan, [one_face], loose=True), one_face.view)
            return made.whole() if legend else made.bare
    raise DrawingError(f"run {run_name} has no face named {face_name!r}")


def joined_faces(plan: Plan, faces: Sequence[FaceDrawing], *, loose: bool = False, keyed: bool = True) -> Drawing:
    """Return neighbouring faces of one run in one drawing, left to right, with the levels of all and one key.

    Faces in line meet; others stand a little apart, so that each corner is seen.

    Parameters
    ----------
    plan
        The plan.
    faces
        The faces, all of one run, layer and scale.
    loose
        One face only, and what is drawn of it not as a part.
    keyed
        Write the key under it; else it is only known.
    """
    first, last = faces[0], faces[-1]
    unit, scale, wall = plan.job.unit, first.scale, first.view.wall
    one = on_wall(1.0, unit, scale)
    entities: list[Entity] = []
    shift = 0.0
    breaks: list[float] = []
    boxes: list[Box] = []
    for before, face in zip((None, *faces), faces):
        if before is not None:
            shift += gap_between(before, face)
            breaks.append(face.span.left + shift)
        boxes.append(face.box.moved((shift, 0.0)))
        if loose:
            entities += face.entities
            continue
        foot = float(face.span.left), float(value(wall.footing, face.span.left, from_right=True))
        entities.append(SubDrawing(face.name, face.entities, foot, (foot[0] + shift, foot[1]),
                                   (("RUN", wall.run), ("FACE", face.span.name), ("LAYER", wall.layer))))
    beside: list[Entity] = []
    words: list[str] = []
    given = last.before + len(last.numbered)
    beside += levels(plan, wall, [(face.span, face.face) for face in faces], one=one, key=words, before=given)
    beside += moved(heights(plan, last.view, last.span, one=one, clear=last.words_end), (shift, 0.0))
    key = [line for face in faces for line in face.key()]
    key += [f"[{number}] {line}" for number, line in enumerate(words, start=given + 1)]
    key += [line for face in faces for line in face.flags]
    bottom = min(face.box.bottom for face in faces)
    room = last.span.right + shift - first.span.left
    if keyed:
        beside += key_lines(key, left=float(first.span.left), top=bottom - 2 * one, room=room, one=one)
    beside = list(masked(beside, one=one))
    boxes.append(bounds(beside, one))
    entities += beside
    names = ", ".join(face.span.name for face in faces)
    title = f"Run {wall.run}, {'face' if len(faces) == 1 else 'faces'} {names}"
    if wall.layer != MEMBRANE:
        title += f", {wall.layer}"
    return Drawing(f"{wall.run} {names}", title, unit, scale, Box.around(boxes).grown(MARGIN * one), tuple(entities),
                   tuple(breaks), _told(plan, faces), () if keyed else tuple(key))


def _told(plan: Plan, faces: Sequence[FaceDrawing]) -> str:
    """Return what faces show, in words."""
    said = []
    for face in faces:
        drops = list(dict.fromkeys(seen.piece.drop for seen in face.view.field))
        hung = f"drops {drops[0]} to {drops[-1]}" if len(drops) > 1 else f"drop {drops[0]}" if drops else "no drops"
        holes = [*(each.tag for each in face.face.openings), *(each.tag for each in face.face.sleeves)]
        long = tape(face.span.right - face.span.left, plan.job.unit)
        said.append(f"{face.span.name}, {long} long, seen from the soil side: {hung}"
                    + (f"; {', '.join(holes)}" if holes else ""))
    return ". ".join(said)


def gap_between(left: FaceDrawing, right: FaceDrawing) -> float:
    """Return how far apart two neighbouring faces stand: as far as their words need, and at a corner always [ticks].

    Parameters
    ----------
    left, right
        The faces.
    """
    one = right.one
    over, under = left.box.right - left.span.right, right.span.left - right.box.left
    needed = over + under + 2 * one if max(over, under) > TICKS * one else 0.0
    return max(needed, 0.0 if left.span.corner == "none" else CORNER * one)


def strip(plan: Plan, run_name: str, *, scale: int = 0, layer: str = MEMBRANE, legend: bool = True,
          faces: Faces | None = None) -> Drawing:
    """Return a whole run developed flat, each face dimensioned from its own left end, each piece drawn once and whole.

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
    faces
        What is drawn of its faces at that scale, whose labels it bears too; None makes it.

    Raises
    ------
    DrawingError
        When the plan has no such run.
    """
    wall, run = _wall(plan, run_name, layer)
    spans = list(zip(wall.faces, run.faces, strict=True))
    unit = plan.job.unit
    scale = scale or SCALE[unit.name]
    one = on_wall(1.0, unit, scale)
    pieces = [piece for piece in plan.pieces if piece.flat and (piece.run, piece.layer) == (run_name, layer)]
    right = max([spans[-1][0].right, *(x for piece in pieces for x, _ in piece.outline)])
    view = wall_view(plan, wall, spans[0][0].left, right, wrap=True)
    notes = FaceNotes(plan, view, one, 0, deepest_row(plan, wall), rolls=rolls_of(plan))
    drawn = [face for (name, _, each), face in (faces or drawn_faces(plan, scale)).items()
             if (name, each) == (run_name, layer)]
    for face in drawn:
        notes.above += face.above
        notes.below += face.below
        for (tag, shift), labels in face.labels.items():
            labels = [each for each in labels if not (isinstance(each, Insert) and each.block.startswith("ON-"))]
            notes.placed[tag, 0] += moved(labels, (-float(shift), 0.0))
    others, fields = other_groups(view, notes, alone=False), field_groups(view, notes, alone=False)
    loose = [*(entity for face in drawn for entity in face.loose), *dimension_rows(notes, spans)]
    loose = [_on_its_piece(entity, notes, wall) for entity in loose]
    entities: list[Entity] = [*background(view, spans), *folds(view, spans), *labelled(others, notes),
                              *labelled(fields, notes), *foreground(view, spans, plan.dabs), *loose]
    words = [line for face in drawn for line in face.numbered]
    entities += levels(plan, wall, spans[:1], one=one, key=words)
    entities += heights(plan, view, spans[-1][0], one=one)
    key = [f"[{number}] {line}" for number, line in enumerate(words, start=1)]
    key += [line for face in drawn for line in face.flags]
    bottom = bounds(entities, one).bottom
    entities += key_lines(key, left=float(spans[0][0].left), top=bottom - 2 * one, room=float(right), one=one)
    entities = list(masked(entities, one=one))
    title = f"Run {wall.run}, developed" + (f", {layer}" if layer != MEMBRANE else "")
    bare = Drawing(wall.run, title, unit, scale, bounds(entities, one).grown(MARGIN * one), tuple(entities),
                   tuple(float(span.right) for span, _ in spans[:-1]))
    made = Elevation(bare, view)
    return made.whole() if legend else made.bare


def _on_its_piece(entity: Entity, notes: FaceNotes, wall: Wall) -> Entity:
    """Return a tag at the end of a leader with its place on the piece where that is drawn, however far round."""
    tag = dict(entity.values).get("TAG", "") if isinstance(entity, Insert) else ""
    if not isinstance(entity, Insert) or tag not in notes.same_tag:
        return entity
    left, _, right, _ = next(seen for seen in notes.same_tag[tag] if not seen.shift).whole.bounds
    x = entity.at[0]
    steps = (0, wall.length, -wall.length) if not left <= x <= right else (0,)
    step = next((step for step in steps if left <= x + step <= right), 0)
    return entity._replace(at=(x + step, entity.at[1]), away=entity.away or entity.at) if step else entity


def _wall(plan: Plan, run_name: str, layer: str) -> tuple[Wall, Run]:
    for wall in plan.walls:
        if (wall.run, wall.layer) == (run_name, layer):
            for run in plan.job.runs:
                if run.name == run_name:
                    return wall, run
    raise DrawingError(f"the plan has no run named {run_name!r} with a layer named {layer!r}")


def _face(plan: Plan, view: WallView, span: FaceSpan, face: Face, scale: int, rolls: Mapping[str, str], name: str,
          before: int, deep: float) -> FaceDrawing:
    """Return what is drawn of one face."""
    one = on_wall(1.0, plan.job.unit, scale)
    notes = FaceNotes(plan, view, one, before, deep, rolls=rolls)
    entities = _drawn(notes, [(span, face)])
    box = bounds(entities, one)
    if width(tape(span.right - span.left, plan.job.unit), SMALL) + 2 * TICKS > (span.right - span.left) / one:
        # its length is written from end to end: a neighbour's tick must not reach into it
        box = Box(min(box.left, span.left - 2 * TICKS * one), box.bottom, max(box.right, span.right + 2 * TICKS * one),
                  box.top)
    return FaceDrawing(name, span, face, view, plan.job.unit, scale, entities, box,
                       tuple(notes.keyed), before, tuple(notes.flags), notes.placed, notes.entities, notes.above,
                       notes.below)


def _drawn(notes: FaceNotes, spans: Spans) -> tuple[Entity, ...]:
    """Return what is drawn of a face: lines first, since labels keep off them; labels in the groups of pieces."""
    view, one = notes.view, notes.one
    front = foreground(view, spans, notes.plan.dabs)
    others, pieces = other_groups(view, notes, alone=True), field_groups(view, notes, alone=True)
    behind = [*background(view, spans), *folds(view, spans)]
    notes.draw([*behind, *front, *pieces])
    notes.draw(others, soft=True)
    annotate(notes, spans)
    return masked([*behind, *labelled(others, notes), *labelled(pieces, notes), *front, *notes.entities,
                   *dimension_rows(notes, spans)], one=one)


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
    corners = [corner for points in _corners(entities, one) for corner in points]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return Box(min(xs), min(ys), max(xs), max(ys))


def _corners(entities: Iterable[Entity], one: float) -> Iterator[Sequence[Vec]]:
    """Yield for each thing drawn points that its box goes around."""
    for entity in entities:
        if isinstance(entity, Group):
            yield from _corners(entity.entities, one)
        elif isinstance(entity, Text):
            box = box_of_text(entity, one=one)
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
