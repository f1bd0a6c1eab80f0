"""Walls from a survey, a list of points in a CSV file as a level or a total station gives it, to a job file.

Columns are known by their headings, in any order (``table``); every line is one station of one face, with the levels of
the wall top, the footing and the grade there. Stations come as distances, or as eastings and northings, which also make
corners and lengths (``walls``). Every fault is told with its line.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from layout.errors import Fault, JobError
from layout.files import read_text
from layout.job import read_job_text
from layout.job.limits import MAX_FAULTS
from layout.job.survey.table import read_table
from layout.job.survey.walls import runs_of
from layout.job.trace import Traced
from layout.job.trace.plausible import odd_faces
from layout.job.trace.write import RunDrawn, job_text
from layout.job.tree import show
from layout.units import UNITS, tape

__all__ = ["MAX_SURVEY_BYTES", "trace_survey"]

MAX_SURVEY_BYTES = 5_000_000
"""Largest survey [bytes]."""
_SHOWN = 12


def trace_survey(path: Path, *, unit: str = "", accept_size: bool = False) -> Traced:
    """Trace the walls of a survey.

    Parameters
    ----------
    path
        A CSV file whose first line names its columns.
    unit
        What its lengths are in: in, ft, mm, cm or m; empty where the headings say it, such as ``top (ft)``.
    accept_size
        Go on with sizes that no foundation has.

    Returns
    -------
    Traced
        The job and what to say of it.

    Raises
    ------
    JobError
        With every fault of the survey and its line.

    Notes
    -----
    Levels are rounded to whole ticks toward the safe side, as in a job file: tops and grades up, footings down;
    stations to the nearest tick.
    """
    file = str(path)
    table = read_table(read_text(path, MAX_SURVEY_BYTES), unit=unit, file=file)
    faults: list[Fault] = []
    runs, told, lines = runs_of(table, faults)
    if not faults and not accept_size:
        faults += [Fault(lines[run.name, face.name], face.name, what, got, "is the unit right? say it with --unit; "
                         "--accept-size goes on with the sizes as they are")
                   for run, face, what, got in odd_faces(runs, table.unit)]
    if faults:
        found = sorted(faults, key=lambda fault: fault.line)
        raise JobError(found[:MAX_FAULTS], file)
    text = job_text(runs, name=show(path.stem), source=show(path.name), unit=table.unit, what="A survey")
    try:
        read_job_text(text, file)
    except JobError as error:
        raise JobError([Fault(0, fault.where, fault.what, fault.got, fault.helps) for fault in error.faults],
                       file) from None
    return Traced(text, (*_told(runs, table.unit.name), *table.told, *told))


def _told(runs: Sequence[RunDrawn], unit: str) -> list[str]:
    lines = []
    for run in runs:
        faces = [f"{face.name} {tape(face.length, UNITS[unit])}" for face in run.faces[:_SHOWN]]
        more = f", and {len(run.faces) - _SHOWN} more" if len(run.faces) > _SHOWN else ""
        lines.append(f"run {run.name}: {', '.join(faces)}{more}")
    return lines
