"""Walls of one of our own drawings put back into the job it carries: shapes as drawn, all else as it was planned."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from layout.errors import Fault, JobError
from layout.job.trace.drawn import DrawnPolyline, Disc, ReadDrawing, boxes_apart
from layout.job.trace.joining import SLACK
from layout.job.trace.write import FaceDrawn, plain_profile
from layout.records import Face, Job, Opening, Profile, Sleeve

Feature = TypeVar("Feature", Opening, Sleeve)

ROLES = ("wall", "footing", "grade", "opening", "sleeve")
"""Uses of our own layers that say the shape of a wall."""


@dataclass(frozen=True)
class Carried:
    """What a drawing carries: the text of its job, and the names of its layers by their use."""

    job: str
    layers: dict[str, str]


def read_carried(text: str) -> Carried | None:
    """Return what a drawing carries; None when it carries nothing that is understood."""
    try:
        held = json.loads(text) if text else None
    except (ValueError, RecursionError):
        return None
    if not isinstance(held, dict) or held.get("format") != "lapwright walls" or not isinstance(held.get("job"), str):
        return None
    layers = held.get("layers")
    named = {use: name for use, name in layers.items() if isinstance(name, str)} if isinstance(layers, dict) else {}
    return Carried(held["job"], {use: named[use] for use in ROLES if use in named})


def only_own(sheet: ReadDrawing) -> None:
    """Leave only the marked walls of a sheet, and what lies on them or under them; count the rest.

    Key plans, sections and elevations of other layers use the layers of the walls too.
    """
    boxes = [chain.box for chain in sheet.chains if chain.own is not None]
    higher = [(left, bottom, right, top + (top - bottom) / 2) for left, bottom, right, top in boxes]

    def on_wall(thing: DrawnPolyline | Disc) -> bool:
        return any(not boxes_apart(thing.box, box, slack=SLACK) for box in (higher if thing.role == "grade" else boxes))

    kept = [chain for chain in sheet.chains if chain.own is not None or chain.role != "wall" and on_wall(chain)]
    discs = [disc for disc in sheet.discs if on_wall(disc)]
    left_out = len(sheet.chains) - len(kept) + len(sheet.discs) - len(discs)
    if left_out:
        sheet.notes["line of key plans, sections and other layers of our own drawing, or of walls added to it"] += (
            left_out)
    sheet.chains, sheet.discs = kept, discs


OwnFaces = Sequence[tuple[str, str, FaceDrawn]]
"""Run, face and shape of each wall that is marked."""


def put_back(job: Job, drawn: OwnFaces, file: str) -> tuple[Job, list[str]]:
    """Return the job with its walls as they are drawn now, and what there is to say of what differs.

    Parameters
    ----------
    job
        The job that the drawing carries.
    drawn
        The walls that are marked.
    file
        Name of the drawing, for messages.

    Raises
    ------
    JobError
        When a wall of the job is missing in the drawing, or there twice.
    """
    found: dict[tuple[str, str], FaceDrawn] = {}
    faults: list[Fault] = []
    for run_name, face_name, shape in drawn:
        if (run_name, face_name) in found:
            faults.append(Fault(0, f"run {run_name}, {face_name}", "must be drawn once", hint="copies of a wall keep "
                                "its name; leave one out with --window"))
        found[run_name, face_name] = shape
    for run in job.runs:
        faults += [Fault(0, f"run {run.name}, {face.name}", "must be in the drawing, as in the job it carries")
                   for face in run.faces if (run.name, face.name) not in found]
    known = {(run.name, face.name) for run in job.runs for face in run.faces}
    faults += [Fault(0, f"run {run}, {face}", "must be a wall of the job that the drawing carries")
               for run, face in found if (run, face) not in known]
    if faults:
        raise JobError(faults, file)
    told: list[str] = []
    runs = []
    for run in job.runs:
        faces = []
        # our drawings show grade only where every face of a run has it
        graded = all(face.grade is not None for face in run.faces)
        for face in run.faces:
            made = _as_drawn(face, found[run.name, face.name])
            if made.grade is None and not graded:
                made = replace(made, grade=face.grade)
            changed = list(_changes(face, made))
            if changed:
                told.append(f"run {run.name}, {face.name}: not as it was planned: {', '.join(changed)}")
            faces.append(made)
        runs.append(replace(run, faces=tuple(faces)))
    return replace(job, runs=tuple(runs)), told or ["every wall is drawn as it was planned"]


def _as_drawn(face: Face, drawn: FaceDrawn) -> Face:
    """Return a face of the job as it is drawn; what did not change is kept as it is written in the job."""
    step = _moved_on_page(face, drawn)
    top, footing = _same(face.top, drawn.top, step), _same(face.footing, drawn.footing, step)
    grade = None if drawn.grade is None else _same(face.grade, drawn.grade, step)
    openings = [_opening(opening, face.openings, step) for opening in drawn.openings]
    sleeves = [_sleeve(sleeve, face.sleeves, step) for sleeve in drawn.sleeves]
    return replace(face, length=drawn.length, top=top, footing=footing, grade=grade,
                   footing_depth=face.footing_depth if drawn.depth is None else drawn.depth,
                   openings=_in_order(openings, face.openings), sleeves=_in_order(sleeves, face.sleeves))


def _moved_on_page(face: Face, drawn: FaceDrawn) -> int:
    """Return how much higher a wall was drawn by a program that left its mark behind [ticks]; 0 when it did not."""
    top, footing = plain_profile(face.top), plain_profile(face.footing)
    steps = {y - old for (_, y), (_, old) in zip((*drawn.top, *drawn.footing), (*top, *footing))}
    if len(drawn.top) == len(top) and len(drawn.footing) == len(footing) and len(steps) == 1:
        return steps.pop()
    return 0


def _same(old: Profile | None, new: Profile, step: int) -> Profile:
    """Return a profile as drawn; as it stands in the job where it says the same."""
    moved = tuple((x, y - step) for x, y in new)
    return old if old is not None and plain_profile(old) == moved else moved


def _opening(drawn: Opening, known: Sequence[Opening], step: int) -> Opening:
    """Return an opening as drawn, its tag and all that is not drawn taken from the job's own."""
    drawn = replace(drawn, sill=drawn.sill - step)
    same = (old for old in known if (old.left, old.sill, old.width, old.height)
            == (drawn.left, drawn.sill, drawn.width, drawn.height))
    old = next(same, None) or next((old for old in known if old.tag == drawn.tag), None)
    return drawn if old is None else replace(old, left=drawn.left, sill=drawn.sill, width=drawn.width,
                                             height=drawn.height)


def _sleeve(drawn: Sleeve, known: Sequence[Sleeve], step: int) -> Sleeve:
    """Return a sleeve as drawn, its tag and all that is not drawn taken from the job's own."""
    drawn = replace(drawn, elevation=drawn.elevation - step)
    same = (old for old in known if (old.at, old.elevation, old.diameter)
            == (drawn.at, drawn.elevation, drawn.diameter))
    old = next(same, None) or next((old for old in known if old.tag == drawn.tag), None)
    return drawn if old is None else replace(old, at=drawn.at, elevation=drawn.elevation, diameter=drawn.diameter)


def _in_order(made: Iterable[Feature], known: Sequence[Feature]) -> tuple[Feature, ...]:
    """Return features in the order of the job, new ones last."""
    order = {old.tag: number for number, old in enumerate(known)}
    return tuple(sorted(made, key=lambda feature: order.get(feature.tag, len(order))))


def _changes(face: Face, made: Face) -> Iterator[str]:
    """Yield the names of what differs."""
    for name in ("length", "top", "footing", "footing_depth", "grade"):
        if getattr(face, name) != getattr(made, name):
            yield name
    for old, new in ((face.openings, made.openings), (face.sleeves, made.sleeves)):
        before, after = {item.tag: item for item in old}, {item.tag: item for item in new}
        yield from (f"{tag} is gone" for tag in before if tag not in after)
        yield from (f"{tag} is new" for tag in after if tag not in before)
        yield from (tag for tag in after if tag in before and after[tag] != before[tag])
