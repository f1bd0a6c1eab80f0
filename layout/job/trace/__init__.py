"""Traces wall elevations drawn in any CAD program: a DXF file to the text of a job file.

What is visible and live in the drawing's model space is read (``reader``, ``visible``, ``curves``) by what its layers
are for (``layers``); lines are joined (``joining``, ``networks``) and outlines taken apart (``outlines``); walls stand
in rows with their footings and grades (``walls``); openings and sleeves are put on them (``features``); sizes and
heights that cannot well be meant are told (``plausible``); texts name things (``naming``). Everything is rounded once
and written (``write``), and the job is read back before anyone gets it. Our own drawings carry what lines cannot say
(``carried``, ``own``). Every fault is told with the handle, the layer and the place of what is wrong.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from layout.errors import Fault, JobError
from layout.job import echo, read_job_text
from layout.job.limits import MAX_FACES, MAX_FAULTS, MAX_RUNS
from layout.job.trace.asked import TraceOptions, read_trace_options
from layout.job.trace.carried import wall_key
from layout.job.trace.drawn import DrawnPolyline, ReadDrawing
from layout.job.trace.features import in_order, put_openings, put_sleeves, rectangles
from layout.job.trace.joining import Moved
from layout.job.trace.layers import OPENINGS, Roles
from layout.job.trace.naming import Titles, face_names, tagged, tags_beside, titles_of, words_near
from layout.job.trace.own import Carried, only_own, put_back, read_carried
from layout.job.trace.plausible import check_jumps, check_sizes, put_datums
from layout.job.trace.reader import read_sheet
from layout.job.trace.telling import Named, told_of
from layout.job.trace.walls import (
    Stand, DrawnWall, joined_levels, outlined, put_footings, put_grades, rings_of, stand_of,
)
from layout.job.trace.write import FaceDrawn, RunDrawn, face_drawn, job_text
from layout.job.tree import show, spell
from layout.units import Unit

__all__ = ["Traced", "trace"]

_SHOWN = 12
"""Most layers named in a fault."""


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


@dataclass
class Reading:
    """What a trace has found so far, kept for the picture of it also where faults end it."""

    sheet: ReadDrawing = field(default_factory=ReadDrawing)
    stand: Stand = field(default_factory=lambda: Stand([], [], []))
    named: list[Named] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    unit: Unit | None = None


def trace(
    path: Path, *, layers: Sequence[str] = (), unit: str = "", window: str = "", gap: str = "", trim: str = "",
    datum: str = "", accept_size: bool = False, fresh: bool = False, reading: Reading | None = None,
) -> Traced:
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
    gap
        How far ends may be apart, and sides out of plumb, as a length; empty for one tick.
    trim
        ``outer`` or ``inner``: which of two rectangles around an opening is the opening; empty to ask.
    datum
        Heights of elevation 0 on the page, one for all rows or one a row from the top, such as ``0,-300`` [drawing
        units]; or ``drawn`` where walls of a row jump as they are built.
    accept_size
        Go on with sizes that no foundation has.
    fresh
        Read one of our own drawings as any other, and not what it carries.
    reading
        Filled with what is found, for a picture of it.

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
    asked = read_trace_options(layers=layers, unit=unit, window=window, gap=gap, trim=trim, datum=datum)
    kept = reading if reading is not None else Reading()
    try:
        return _traced(path, asked, kept, accept_size=accept_size, fresh=fresh, picture=reading is not None)
    except JobError as error:
        kept.faults = list(error.faults)
        raise


def _traced(path: Path, asked: TraceOptions, kept: Reading, *, accept_size: bool, fresh: bool, picture: bool) -> Traced:
    sheet, unit = read_sheet(path, roles=asked.roles, unit=asked.unit, window=asked.window, picture=picture,
                             own_roles=None if fresh or asked.roles.told else _own_roles)
    kept.sheet, kept.unit = sheet, unit
    carried = None if fresh else read_carried(sheet.carried)
    if carried is not None and any(chain.own is not None for chain in sheet.chains):
        only_own(sheet)
    else:
        carried = None
        sheet.chains = [replace(chain, own=None) for chain in sheet.chains]
    moved = Moved(asked.slack(unit))
    stand, outlines = _stand(sheet, moved)
    kept.stand = stand
    if not stand.rows and not stand.faults and not sheet.faults:
        stand.faults.append(_no_walls(sheet))
    _limits(stand)
    if not _hopeless(stand):
        put_footings(stand, outlines["footing"], moved)
        put_grades(stand, outlines["grade"], moved)
        put_datums(stand, outlines["datum"], [height * sheet.scale for height in asked.datums], drawn=asked.as_drawn)
        put_openings(stand, sheet, [chain for role in OPENINGS for chain in outlines[role]], trim=asked.trim, unit=unit)
        put_sleeves(stand, sheet, moved)
        if not (stand.faults or sheet.faults):
            check_jumps(stand, unit)
            if not accept_size:
                check_sizes(stand, unit, sheet.scale)
    _refuse([*sheet.faults, *stand.faults], path)
    if carried is not None:
        return _own(carried, stand, sheet, moved, unit, path, kept)
    runs, named, titles = _runs(stand, sheet, moved)
    kept.named = named
    text = job_text(runs, name=show(path.stem), source=show(path.name), unit=unit)
    _checked(text, stand, path)
    return Traced(text, tuple(told_of(runs, named, titles, sheet, moved, unit, datums=bool(outlines["datum"]),
                                      told_datum=bool(asked.datums))))


def _own_roles(text: str) -> Roles | None:
    """Return what our own layers are for, where a drawing carries their names."""
    carried = read_carried(text)
    if carried is None or not carried.layers:
        return None
    return Roles({name.upper(): use for use, name in carried.layers.items()})


def _stand(sheet: ReadDrawing, moved: Moved) -> tuple[Stand, Mapping[str, list[DrawnPolyline]]]:
    """Return the walls, and what else is drawn, joined, by what it is for."""
    outlines: dict[str, list[DrawnPolyline]] = {}
    faults: list[Fault] = []
    for role in ("wall", "footing", "grade", "datum", *OPENINGS):
        chains = [chain for chain in sheet.chains if chain.role == role]
        if role in OPENINGS:
            outlines[role], found = rectangles(chains, sheet, moved)
        else:
            join = outlined if role == "wall" else rings_of if role == "footing" else joined_levels
            outlines[role], found = join(chains, moved)
        faults += found
    stand = stand_of(outlines["wall"], moved)
    stand.faults[:0] = faults
    return stand, outlines


def _no_walls(sheet: ReadDrawing) -> Fault:
    names = [show(layer) for layer, _ in sheet.others.most_common(_SHOWN)]
    hidden = sorted({show(layer) for counts in sheet.unseen.values() for layer in counts})[:_SHOWN]
    has = f"it has {', '.join(names)}" if names else "nothing is drawn in model space" if not hidden else ""
    if hidden:
        has += f"{' and, ' if has else ''}not read, {', '.join(hidden)}"
    return Fault(0, "", "must have wall outlines on a layer whose name has the word wall", has,
                 "say which layer with --as wall=LAYER")


def _limits(stand: Stand) -> None:
    walls = sum(1 for _ in stand.walls)
    if walls > MAX_FACES:
        stand.faults.append(Fault(0, "", f"must have at most {MAX_FACES:,} walls", f"{walls:,}"))
    if len(stand.rows) > MAX_RUNS:
        stand.faults.append(Fault(0, "", f"must have at most {MAX_RUNS} rows of walls", f"{len(stand.rows):,}"))


def _hopeless(stand: Stand) -> bool:
    """Tell whether there are too many walls to look any further."""
    return len(stand.rows) > MAX_RUNS or sum(1 for _ in stand.walls) > MAX_FACES


def _refuse(faults: Sequence[Fault], path: Path) -> None:
    """Raise with the faults, if there are any."""
    if not faults:
        return
    shown = list(faults[:MAX_FAULTS])
    if len(faults) > MAX_FAULTS:
        shown.append(Fault(0, "", f"has {len(faults) - MAX_FAULTS:,} faults more, not listed"))
    raise JobError(shown, str(path))


# --- runs --------------------------------------------------------------------------------------

def _runs(stand: Stand, sheet: ReadDrawing, moved: Moved) -> tuple[list[RunDrawn], list[Named], Titles]:
    """Return every row as a run, its faces named, its openings and sleeves tagged; and which text named what."""
    near = words_near(stand, sheet.words)
    tags: list[str] = []
    is_sleeve: list[bool] = []
    used: set[int] = set()
    for row in stand.rows:
        in_order(row)
        for wall in row.walls:
            found, mine = tags_beside(wall, near.get(id(wall), []))
            used |= mine
            count = len(wall.openings) + len(wall.sleeves)
            tags += [found.get(feature, "") for feature in range(count)]
            is_sleeve += [feature >= len(wall.openings) for feature in range(count)]
    tags = tagged(tags, is_sleeve)
    titles = titles_of(stand, near, used)
    runs: list[RunDrawn] = []
    named: list[Named] = []
    for number, row in enumerate(stand.rows):
        words = [titles.of.get(id(wall)) for wall in row.walls]
        names, _ = face_names([word.text if word else "" for word in words])
        faces: list[FaceDrawn] = []
        for wall, name, word in zip(row.walls, names, words, strict=True):
            count = len(wall.openings) + len(wall.sleeves)
            faces.append(face_drawn(wall, name, tags[:count], moved=moved))
            tags = tags[count:]
            named.append(Named(_run_name(number), name, word, wall))
        runs.append(RunDrawn(_run_name(number), tuple(faces)))
    return runs, named, titles


def _run_name(number: int) -> str:
    """Return A, B, …, Z, then R27, R28, …."""
    return chr(ord("A") + number) if number < 26 else f"R{number + 1}"


def _own(
    carried: Carried, stand: Stand, sheet: ReadDrawing, moved: Moved, unit: Unit, path: Path, kept: Reading,
) -> Traced:
    """Return the job that one of our own drawings carries, its walls as they are drawn now."""
    try:
        job = read_job_text(carried.job, str(path))
    except JobError as error:
        raise JobError([Fault(0, f"the job it carries, {fault.where}", fault.what, fault.got, "--fresh reads the lines "
                              "alone") for fault in error.faults], str(path)) from None
    if job.unit != unit:
        raise JobError([Fault(0, "$INSUNITS", f"must be the unit of the job that the drawing carries, {job.unit.name}",
                              unit.name, "say it with --unit")], str(path))
    names = {wall_key(run.name, face.name): (run.name, face.name) for run in job.runs for face in run.faces}
    known = {tag for run in job.runs for face in run.faces
             for tag in (*(opening.tag for opening in face.openings), *(sleeve.tag for sleeve in face.sleeves))}
    fresh = (tag for number in itertools.count(1) if (tag := f"N{number}") not in known)
    drawn: list[tuple[str, str, FaceDrawn]] = []
    near = words_near(stand, sheet.words)
    for row in stand.rows:
        in_order(row)
        for wall in row.walls:
            assert wall.own is not None
            tags, _ = tags_beside(wall, near.get(id(wall), []))
            count = len(wall.openings) + len(wall.sleeves)
            wall.datum = wall.own.origin[1]
            run_name, face_name = names.get(wall.own.key, ("", ""))
            face = face_drawn(wall, face_name, [tags.get(feature) or next(fresh) for feature in range(count)],
                              moved=moved)
            drawn.append((run_name, face_name, face))
            kept.named.append(Named(run_name, face_name, None, wall))
    made, told = put_back(job, drawn, str(path))
    text = f"# Traced from {show(path.name)}, which carries its job.\n" + echo(made)
    _checked(text, stand, path)
    runs = [RunDrawn(run.name, tuple(face for name, _, face in drawn if name == run.name)) for run in made.runs]
    lines = told_of(runs, [], Titles({}, []), sheet, moved, unit, datums=False, told_datum=False, own=True)
    return Traced(text, (*lines, *told))


def _checked(text: str, stand: Stand, path: Path) -> None:
    """Read the job as anyone will, and tell its faults where they stand in the drawing."""
    try:
        read_job_text(text, str(path))
    except JobError as error:
        raise JobError([_in_drawing(fault, stand) for fault in error.faults], str(path)) from None


def _in_drawing(fault: Fault, stand: Stand) -> Fault:
    """Return a fault of the job as one of the drawing."""
    match = re.match(r"runs\[(\d+)\]\.faces\[(\d+)\](?:\.(openings|sleeves)\[(\d+)\])?\.?(.*)", spell(fault.path))
    wall = _wall_at(stand, int(match[1]), int(match[2])) if match else None
    if match is None or wall is None:
        return replace(fault, line=0)
    place = wall.place
    if match[3] == "openings" and int(match[4]) < len(wall.openings):
        place = wall.openings[int(match[4])].place
    elif match[3] == "sleeves" and int(match[4]) < len(wall.sleeves):
        place = wall.sleeves[int(match[4])].place
    what = f"{match[5]} {fault.what}" if match[5] else fault.what
    return Fault(0, place.text(), what, fault.got, fault.helps)


def _wall_at(stand: Stand, run: int, face: int) -> DrawnWall | None:
    if run < len(stand.rows) and face < len(stand.rows[run].walls):
        return stand.rows[run].walls[face]
    return None
