"""Walls from a building model: an IFC file (ISO 16739; IFC2X3 and IFC4) to the text of a job file.

``model`` reads the walls of the storeys below grade with their openings, the footings and the pipes, as plain solids;
``solids`` says what the solid of a straight wall is; ``chains`` puts walls one after another by which ends meet;
``faces`` sees each from the soil side, corner to corner, with its footing and its holes. What is not understood is told
with its GlobalId, and then no job is written.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from pathlib import Path

from layout.errors import Fault, JobError
from layout.job import read_job_text
from layout.job.ifc.chains import Loop, loops_of
from layout.job.ifc.faces import WallSide, face_of, put_footing, put_holes, put_outline, sides_of
from layout.job.ifc.model import BuildingModel, read_model
from layout.job.ifc.solids import Odd, StraightWall, straight
from layout.job.limits import MAX_FACES, MAX_FAULTS, MAX_RUNS
from layout.job.trace import Traced
from layout.job.trace.joining import Moved
from layout.job.trace.naming import TAG, tagged, unlike
from layout.job.trace.plausible import odd_faces
from layout.job.trace.telling import distance
from layout.job.trace.write import RunDrawn, job_text
from layout.job.tree import show, spell
from layout.units import tape

__all__ = ["trace_model"]

SIDES = ("left", "right")
_SHOWN = 12


def trace_model(
    path: Path, *, storeys: Sequence[str] = (), side: str = "", unit: str = "", without: Sequence[str] = (),
    accept_size: bool = False,
) -> Traced:
    """Trace the walls of a building model.

    Parameters
    ----------
    path
        An IFC file.
    storeys
        Names of the storeys whose walls are read; empty for those below 0, or the only one.
    side
        left or right: where the soil is beside walls that close no loop, seen along them as they are drawn; empty when
        not told.
    unit
        in or ft for a job in inches, mm, cm or m for one in millimetres; empty for the model's own.
    without
        GlobalIds of elements that are left out.
    accept_size
        Go on with sizes that no foundation has.

    Returns
    -------
    Traced
        The job and what to say of it.

    Raises
    ------
    JobError
        With every fault of the model, each with a GlobalId.

    Notes
    -----
    A run goes along the outer faces of its walls; corners and angles come from where these meet. Elevations are the
    model's own. Lengths are rounded to the nearest tick.
    """
    file = str(path)
    if side and side not in SIDES:
        raise JobError([Fault(0, "--side", f"must be one of {', '.join(SIDES)}", show(side))])
    model = read_model(path, storeys=storeys, without=without, unit=unit)
    faults: list[Fault] = []
    walls = _walls(model, faults)
    moved = Moved()
    loops = loops_of(walls, unit=model.unit.name, side=side, faults=faults) if not faults else []
    _refuse(faults, file)
    runs, sides = _runs(model, loops, moved, faults)
    _refuse(faults, file)
    if not accept_size:
        hint = "is it in another unit than it says? --accept-size goes on with the sizes as they are"
        odd = list(odd_faces(runs, model.unit))
        _refuse([_wall_fault(runs, sides, run, face, what, got, hint) for run, face, what, got in odd], file)
    text = job_text(runs, name=show(path.stem), source=show(path.name), unit=model.unit, what="A model")
    try:
        read_job_text(text, file)
    except JobError as error:
        raise JobError([_in_model(fault, sides) for fault in error.faults], file) from None
    return Traced(text, tuple(_told(model, runs, moved)))


def _refuse(faults: Sequence[Fault], file: str) -> None:
    if faults:
        raise JobError(list(faults)[:MAX_FAULTS], file)


def _walls(model: BuildingModel, faults: list[Fault]) -> list[StraightWall]:
    """Return the walls; one that is not straight is told."""
    if not model.walls:
        faults.append(Fault(0, "", "must have external walls in the storeys that are read",
                            ", ".join(show(storey) for storey in model.storeys), "name others with --storey"))
    if len(model.walls) > MAX_FACES:
        faults.append(Fault(0, "", f"must have at most {MAX_FACES:,} walls", f"{len(model.walls):,}"))
        return []
    found: list[StraightWall] = []
    for solid in model.walls:
        try:
            found.append(straight(solid))
        except Odd as error:
            faults.append(solid.fault(str(error), hint="leave it out with --leave-out"))
    return found


def _runs(
    model: BuildingModel, loops: Sequence[Loop], moved: Moved, faults: list[Fault],
) -> tuple[list[RunDrawn], list[list[WallSide]]]:
    """Return the runs in whole ticks, and their walls as seen from the soil."""
    if len(loops) > MAX_RUNS:
        faults.append(Fault(0, "", f"must make at most {MAX_RUNS} runs", f"{len(loops)}"))
        return [], []
    used: set[str] = set()
    all_sides: list[list[WallSide]] = []
    for loop in loops:
        sides = sides_of(loop, model.unit, faults)
        all_sides.append(sides)
        for side in sides:
            put_outline(side, moved, faults)
            if side.top:
                put_footing(side, model.footings, model.unit, faults, used)
                put_holes(side, model, faults, used)
                side.holes.sort(key=lambda hole: hole[0])
                side.rounds.sort(key=lambda round_: round_[0])
    if faults:
        return [], all_sides
    for solid in (*model.footings, *model.pipes):
        if solid.guid not in used:
            model.others[f"{solid.entity} beside the walls"] += 1
    tags = _tags(all_sides)
    runs: list[RunDrawn] = []
    for number, (loop, sides) in enumerate(zip(loops, all_sides, strict=True)):
        names = unlike([side.chained.wall.solid.name[:100] for side in sides],
                       (f"Face {count}" for count in itertools.count(1)))
        faces = []
        for side, name in zip(sides, names, strict=True):
            count = len(side.holes) + len(side.rounds)
            faces.append(face_of(side, name, tags[:count], last=side is sides[-1] and not loop.closed, moved=moved))
            tags = tags[count:]
        runs.append(RunDrawn(chr(ord("A") + number) if number < 26 else f"R{number + 1}", tuple(faces),
                             closed=loop.closed))
    return runs, all_sides


def _tags(all_sides: Sequence[Sequence[WallSide]]) -> list[str]:
    """Return a tag for every opening and sleeve: its own in the model where that is short, else W1, P1, …."""
    given: list[str] = []
    is_sleeve: list[bool] = []
    for sides in all_sides:
        for side in sides:
            for solid, round_ in (*((solid, False) for _, solid in side.holes),
                                  *((solid, True) for _, _, solid in side.rounds)):
                words = [solid.tag, solid.title] if solid else []
                given.append(next((word for word in words if TAG.fullmatch(word)), ""))
                is_sleeve.append(round_)
    return tagged(given, is_sleeve)


def _wall_fault(
    runs: Sequence[RunDrawn], sides: Sequence[Sequence[WallSide]], run: RunDrawn, face: object, what: str, got: str,
    hint: str,
) -> Fault:
    """Return a fault of a face as one of its wall."""
    side = sides[runs.index(run)][[each is face for each in run.faces].index(True)]
    return side.chained.wall.solid.fault(what, got=got, hint=hint)


def _in_model(fault: Fault, sides: Sequence[Sequence[WallSide]]) -> Fault:
    """Return a fault of the job as one of the model."""
    match = re.match(r"runs\[(\d+)\]\.faces\[(\d+)\](?:\.(openings|sleeves)\[(\d+)\])?\.?(.*)", spell(fault.path))
    if not match:
        return Fault(0, fault.where, fault.what, fault.got, fault.helps)
    side = sides[int(match[1])][int(match[2])]
    solid = side.chained.wall.solid
    if match[3] == "openings":
        solid = side.holes[int(match[4])][1] or solid
    elif match[3] == "sleeves":
        solid = side.rounds[int(match[4])][2]
    return solid.fault(f"{match[5]} {fault.what}" if match[5] else fault.what, got=fault.got, hint=fault.helps)


def _told(model: BuildingModel, runs: Sequence[RunDrawn], moved: Moved) -> list[str]:
    """Return what there is to say of how the model was read."""
    lines = [f"read: {model.schema}, storeys {', '.join(show(storey) for storey in model.storeys)}"]
    for run in runs:
        faces = [f"{face.name} {tape(face.length, model.unit)}" for face in run.faces[:_SHOWN]]
        more = f", and {len(run.faces) - _SHOWN} more" if len(run.faces) > _SHOWN else ""
        openings = sum(len(face.openings) for face in run.faces)
        sleeves = sum(len(face.sleeves) for face in run.faces)
        lines.append(f"run {run.name}, {'closed' if run.closed else 'open'}: {', '.join(faces)}{more}; openings: "
                     f"{openings}, sleeves: {sleeves}")
        lines += [f"{face.name}: {note}" for face in run.faces for note in face.notes[1:]][:60]
    lines.append("elevation 0: the model's own")
    lines.append(f"anything was moved by {distance(moved.most, model.unit)}, to whole ticks" if moved.most
                 else "nothing was moved: every length is in whole ticks")
    others = +model.others
    if others:
        lines.append("not read: " + ", ".join(f"{count} x {kind}" for kind, count in sorted(others.items())))
    lines += model.told
    missing = ["rolls", "flow", "grade"]
    missing += ["ledges"] if any(face.ledge is None for run in runs for face in run.faces) else []
    missing += ["footing depths"] if any(face.depth is None for run in runs for face in run.faces) else []
    lines.append(f"not in the model, and filled in or left out: {', '.join(missing)}; look for FILL IN")
    return lines
