"""Traces wall elevations drawn in any CAD program: a DXF file to the text of a job file.

The drawing's model space is read (``reader``) by what its layers are for (``layers``), lines are joined and outlines
taken apart (``outlines``), walls stand in rows with their footings and grades (``walls``), openings, sleeves and words
are put on them (``features``), everything is rounded once and written (``write``), and the job is read back before
anyone gets it. Every fault is told with the handle, the layer and the place of what is wrong.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from layout.errors import Fault, JobError
from layout.job import read_job_text
from layout.job.limits import MAX_FACES, MAX_FAULTS, MAX_RUNS
from layout.job.trace.drawn import Box, Chain, Sheet
from layout.job.trace.features import (
    in_order, name_of, put_openings, put_sleeves, tags_of, unlike, words_by_wall,
)
from layout.job.trace.layers import OPENINGS, read_roles
from layout.job.trace.outlines import Moved, joined
from layout.job.trace.reader import DRAWING_UNITS, read_sheet, roles_of_layers
from layout.job.trace.walls import Row, Stand, put_datums, put_footings, put_grades, stand_of
from layout.job.trace.write import FaceDrawn, RunDrawn, face_drawn, job_text
from layout.job.tree import show, spell
from layout.units import Unit, tape

__all__ = ["Traced", "trace"]

_SHOWN = 12
"""Most faces of a run, or layers, named in what is told."""


@dataclass(frozen=True)
class Traced:
    """A job traced from a drawing.

    Parameters
    ----------
    text
        The job file.
    told
        What there is to say of how the drawing was read, one line a matter.
    """

    text: str
    told: tuple[str, ...]


def trace(path: Path, *, layers: Sequence[str] = (), unit: str = "", window: str = "") -> Traced:
    """Trace the wall elevations of a drawing.

    Parameters
    ----------
    path
        A DXF file.
    layers
        What layers are for, such as ``wall=A-CONC``; what is not named is known by words in layer names.
    unit
        What it is drawn in: in, ft, mm, cm or m; empty to take the drawing's own word.
    window
        ``X1,Y1,X2,Y2``: only what lies in there is read [drawing units]; empty for all of model space.

    Returns
    -------
    Traced
        The job and what to say of it.

    Raises
    ------
    JobError
        With every fault of the drawing.

    Notes
    -----
    Lengths are rounded to the nearest tick. Ledges, corners and rolls are not in a drawing of elevations; the job
    holds usual values for them, marked in comments.
    """
    roles, faults = read_roles(layers)
    box = _window(window, faults)
    if unit and unit not in DRAWING_UNITS:
        faults.append(Fault(0, "--unit", f"must be one of {', '.join(DRAWING_UNITS)}", show(unit)))
    if faults:
        raise JobError(faults)
    sheet, job_unit = read_sheet(path, roles=roles, unit=unit, window=box)
    moved = Moved()
    stand, outlines = _stand(sheet, moved)
    if not stand.rows and not stand.faults and not sheet.faults:
        stand.faults.append(_no_walls(sheet))
    _limits(stand)
    if not _hopeless(stand):
        put_footings(stand, outlines["footing"], moved)
        put_grades(stand, outlines["grade"], moved)
        put_datums(stand, outlines["datum"])
        put_openings(stand, sheet, [chain for role in OPENINGS for chain in outlines[role]])
        put_sleeves(stand, sheet)
    _refuse([*sheet.faults, *stand.faults], path)
    runs = _runs(stand, sheet, moved)
    text = job_text(runs, name=show(path.stem), source=show(path.name), unit=job_unit)
    _checked(text, stand, path)
    return Traced(text, tuple(_told(runs, sheet, outlines, moved, job_unit)))


def _window(text: str, faults: list[Fault]) -> Box | None:
    """Return the window that is asked for, its corners put in order."""
    if not text:
        return None
    parts = text.split(",")
    if len(parts) != 4 or not all(re.fullmatch(r"\s*[-+]?\d{1,15}(\.\d{1,15})?\s*", part) for part in parts):
        faults.append(Fault(0, "--window", "must be four numbers, X1,Y1,X2,Y2", show(text)))
        return None
    x1, y1, x2, y2 = (float(part) for part in parts)
    return min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)


def _stand(sheet: Sheet, moved: Moved) -> tuple[Stand, Mapping[str, list[Chain]]]:
    """Return the walls, and what else is drawn, joined, by what it is for."""
    outlines: dict[str, list[Chain]] = {}
    faults: list[Fault] = []
    for role in ("wall", "footing", "grade", "datum", *OPENINGS):
        outlines[role], found = joined([chain for chain in sheet.chains if chain.role == role], moved)
        faults += found
    stand = stand_of(outlines["wall"], moved)
    stand.faults[:0] = faults
    return stand, outlines


def _no_walls(sheet: Sheet) -> Fault:
    names = [show(layer) for layer, _ in sheet.others.most_common(_SHOWN)]
    has = f"it has {', '.join(names)}" if names else "nothing is drawn in model space"
    return Fault(0, "", "must have wall outlines on a layer whose name has the word wall", has,
                 "say which layer with --as wall=LAYER")


def _limits(stand: Stand) -> None:
    walls = sum(len(row.walls) for row in stand.rows)
    if walls > MAX_FACES:
        stand.faults.append(Fault(0, "", f"must have at most {MAX_FACES:,} walls", f"{walls:,}"))
    if len(stand.rows) > MAX_RUNS:
        stand.faults.append(Fault(0, "", f"must have at most {MAX_RUNS} rows of walls", f"{len(stand.rows):,}"))


def _hopeless(stand: Stand) -> bool:
    """Tell whether there are too many walls to look any further."""
    return len(stand.rows) > MAX_RUNS or sum(len(row.walls) for row in stand.rows) > MAX_FACES


def _refuse(faults: Sequence[Fault], path: Path) -> None:
    """Raise with the faults, if there are any."""
    if not faults:
        return
    shown = list(faults[:MAX_FAULTS])
    if len(faults) > MAX_FAULTS:
        shown.append(Fault(0, "", f"has {len(faults) - MAX_FAULTS:,} faults more, not listed"))
    raise JobError(shown, str(path))


# --- names -------------------------------------------------------------------------------------

def _runs(stand: Stand, sheet: Sheet, moved: Moved) -> list[RunDrawn]:
    """Return every row as a run, its faces named, its openings and sleeves tagged."""
    words = words_by_wall(stand, sheet.words)
    tags: list[str] = []
    is_sleeve: list[bool] = []
    names: list[list[str]] = []
    for row in stand.rows:
        in_order(row)
        names.append([])
        for wall in row.walls:
            near = words.get(id(wall), [])
            found, used = tags_of(wall, near)
            count = len(wall.openings) + len(wall.sleeves)
            tags += [found.get(feature, "") for feature in range(count)]
            is_sleeve += [feature >= len(wall.openings) for feature in range(count)]
            names[-1].append(name_of(wall, [word for number, word in enumerate(near) if number not in used]))
    tags = _tagged(tags, is_sleeve)
    runs: list[RunDrawn] = []
    for number, (row, given) in enumerate(zip(stand.rows, names, strict=True)):
        faces, tags = _faces(row, _face_names(given, sheet), tags, moved)
        runs.append(RunDrawn(_run_name(number), tuple(faces)))
    return runs


def _tagged(tags: Sequence[str], is_sleeve: Sequence[bool]) -> list[str]:
    """Return tags unlike one another; an opening without one is W1, W2, …, a sleeve P1, P2, …."""
    windows, pipes = (f"W{number}" for number in itertools.count(1)), (f"P{number}" for number in itertools.count(1))
    openings = [tag for tag, sleeve in zip(tags, is_sleeve) if not sleeve]
    sleeves = [tag for tag, sleeve in zip(tags, is_sleeve) if sleeve]
    kept = unlike([tag for tag in [*openings, *sleeves] if tag], iter(()))
    free = set(kept)
    fresh = {False: (tag for tag in windows if tag not in free), True: (tag for tag in pipes if tag not in free)}
    given = iter(kept)
    made = [next(given) if tag else next(fresh[False]) for tag in openings]
    other = iter([next(given) if tag else next(fresh[True]) for tag in sleeves])
    first = iter(made)
    return [next(other) if sleeve else next(first) for sleeve in is_sleeve]


def _face_names(given: Sequence[str], sheet: Sheet) -> list[str]:
    """Return names of a row's faces; a text found over several of them names none."""
    counts = Counter(given)
    names = [name if counts[name] == 1 else "" for name in given]
    if any(counts[name] > 1 for name in given if name):
        sheet.notes["text that stands over several walls of a row, and so names none"] += 1
    return unlike(names, (f"Face {number}" for number in itertools.count(1)))


def _faces(
    row: Row, names: Sequence[str], tags: list[str], moved: Moved,
) -> tuple[list[FaceDrawn], list[str]]:
    """Return the faces of a row, and the tags that are left for the next."""
    faces: list[FaceDrawn] = []
    for wall, name in zip(row.walls, names, strict=True):
        count = len(wall.openings) + len(wall.sleeves)
        faces.append(face_drawn(wall, name, tags[:count], datum=row.datum or 0.0, moved=moved))
        tags = tags[count:]
    return faces, tags


def _run_name(number: int) -> str:
    """Return A, B, …, Z, then R27, R28, …."""
    return chr(ord("A") + number) if number < 26 else f"R{number + 1}"


# --- the job, read back ------------------------------------------------------------------------

def _checked(text: str, stand: Stand, path: Path) -> None:
    """Read the job as anyone will, and tell its faults where they stand in the drawing."""
    try:
        read_job_text(text, str(path))
    except JobError as error:
        raise JobError([_in_drawing(fault, stand) for fault in error.faults], str(path)) from None


def _in_drawing(fault: Fault, stand: Stand) -> Fault:
    """Return a fault of the job as one of the drawing."""
    match = re.match(r"runs\[(\d+)\]\.faces\[(\d+)\](?:\.(openings|sleeves)\[(\d+)\])?\.?(.*)", spell(fault.path))
    if not match:
        return replace(fault, line=0)
    wall = stand.rows[int(match[1])].walls[int(match[2])]
    place = wall.place
    if match[3] == "openings":
        place = wall.openings[int(match[4])].place
    elif match[3] == "sleeves":
        place = wall.sleeves[int(match[4])].place
    what = f"{match[5]} {fault.what}" if match[5] else fault.what
    return Fault(0, place.text(), what, fault.got, fault.hint)


# --- what is told ------------------------------------------------------------------------------

def _told(
    runs: Sequence[RunDrawn], sheet: Sheet, outlines: Mapping[str, Sequence[Chain]], moved: Moved, unit: Unit,
) -> list[str]:
    """Return what there is to say of how the drawing was read."""
    lines: list[str] = []
    for run in runs:
        faces = [f"{face.name} {tape(face.length, unit)}" for face in run.faces[:_SHOWN]]
        more = f", and {len(run.faces) - _SHOWN} more" if len(run.faces) > _SHOWN else ""
        openings = sum(len(face.openings) for face in run.faces)
        sleeves = sum(len(face.sleeves) for face in run.faces)
        lines.append(f"run {run.name}: {', '.join(faces)}{more}; openings: {openings}, sleeves: {sleeves}")
    lines += [f"read as {role}: {layers}" for role, layers in roles_of_layers(sheet)]
    if sheet.unit_note:
        lines.append(sheet.unit_note)
    if sheet.repairs:
        lines.append(f"the file is damaged: repairs made to read it: {sheet.repairs}; something may be missing")
    lines.append("elevation 0: " + ("the datum drawn for each run, else " if outlines["datum"] else "")
                 + "the lowest point of each run's footings")
    lines.append(f"anything was moved by at most {_distance(moved.most, unit)}, to whole "
                 + ("sixteenths of an inch" if unit.name == "in" else "millimetres"))
    lines += _passed_over(sheet)
    lines.append("not in a drawing, and filled in with usual values: rolls, ledges, corners, flow"
                 + (", footing depths" if any(face.depth is None for run in runs for face in run.faces) else "")
                 + "; look for FILL IN")
    return lines


def _distance(ticks: float, unit: Unit) -> str:
    return f'{ticks / unit.ticks:.4f}"' if unit.name == "in" else f"{ticks:.3f} mm"


def _passed_over(sheet: Sheet) -> list[str]:
    """Return what was not read, by number."""
    lines: list[str] = []
    if sheet.notes:
        lines.append("passed over: " + ", ".join(f"{count} x {what}" for what, count in sorted(sheet.notes.items())))
    for counts, where in ((sheet.others, "on other layers"), (sheet.hidden, "on layers that are off or frozen")):
        if counts:
            names = [show(layer) for layer, _ in sorted(counts.items(), key=lambda item: (-item[1], item[0]))]
            more = ", …" if len(names) > _SHOWN else ""
            lines.append(f"not read: {sum(counts.values())} {where}: {', '.join(names[:_SHOWN])}{more}")
    if sheet.outside:
        lines.append(f"not read: {sheet.outside} outside the window")
    return lines
