"""What was read of a job, in words and figures, for holding against the drawing it was taken from, and what in it looks
wrong.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from layout.errors import Fault
from layout.faces import develop_run, water
from layout.job import sanity
from layout.job.closing import PlanSide, closing_gap
from layout.job.profiles import height_stretches
from layout.records import Face, Job, Profile, Run
from layout.shapes import must_cover
from layout.units import Unit, inches, round_ticks, tape

HEADS = ("face", "length", "height", "footing", "ledge", "depth", "grade", "corner")
GAP = "   "
"""Between the columns of the table."""


def warnings(job: Job) -> tuple[Fault, ...]:
    """Return what in a job reads as a mistake, though it breaks no rule."""
    return sanity.likely_mistakes(job, {run.name: water(run)[0] for run in job.runs})


def read_back(job: Job) -> list[str]:
    """Return what was read of a job.

    Parameters
    ----------
    job
        The job.

    Returns
    -------
    list of str
        For each run its length, whether it closes and by how much not, the area to cover, the way water runs, and a
        table of its faces with their openings and sleeves below each.
    """
    name = {"in": "inches, to 1/16 in", "mm": "millimetres, to 1 mm"}[job.unit.name]
    lines = [f"{job.info.name}: in {name}; sheet {inches(job.sheet.width, job.unit)} wide, rolls of "
             + ", ".join(tape(roll.length, job.unit) for roll in job.sheet.rolls)]
    for run in job.runs:
        lines += ["", *_run(job, run)]
    return lines


def _run(job: Job, run: Run) -> Iterator[str]:
    unit = job.unit
    wall = develop_run(run, job.rules, turn_down=job.rules.turn_down[0])
    area = unit.area(must_cover(wall, 0, wall.length).area)
    if run.closed:
        yield f"run {run.name}, closed: {tape(run.length, unit)} round; {_closing(run, unit)}"
    else:
        yield f"run {run.name}, open: {tape(run.length, unit)} long"
    yield (f"to cover: {area:,.1f} {unit.area_name}, from the membrane line over the ledge and "
           f"{inches(wall.turn_down, unit)} down the footing's face, less openings and sleeves")
    ways = ", ".join(f"{side} from {tape(left, unit)} to {tape(right, unit)}" for left, right, side in water(run)[0])
    yield f"water runs: {ways}"
    rows = [HEADS, *(_face(face, unit) for face in run.faces)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEADS))]
    yield _line(rows[0], widths)
    for face, row in zip(run.faces, rows[1:], strict=True):
        yield _line(row, widths)
        for opening in face.openings:
            yield (f"{GAP}{GAP}{opening.kind} {opening.tag}: {tape(opening.width, unit)} wide, "
                   f"{tape(opening.height, unit)} high, left jamb at {tape(opening.left, unit)}, "
                   f"sill at {tape(opening.sill, unit)}")
        for sleeve in face.sleeves:
            yield (f"{GAP}{GAP}sleeve {sleeve.tag}: {inches(sleeve.diameter, unit)} across, centre at "
                   f"{tape(sleeve.at, unit)}, elevation {tape(sleeve.elevation, unit)}")


def _closing(run: Run, unit: Unit) -> str:
    """Return whether a run closes, in words."""
    gap = closing_gap([PlanSide(face.length, face.corner, face.angle) for face in run.faces])
    error = round(math.hypot(*gap))
    return f"closing error {tape(error, unit)}" if error else "closes"


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    return (GAP + GAP.join(f"{cell:{wide}}" for cell, wide in zip(row, widths, strict=True))).rstrip()


def _face(face: Face, unit: Unit) -> tuple[str, ...]:
    """Return a row of the table."""
    ends = [height for _, _, start, end in height_stretches(face.top, face.footing) for height in (start, end)]
    low, high = (tape(round_ticks(height, "nearest"), unit) for height in (min(ends), max(ends)))
    corner = face.corner if face.corner == "none" or face.angle == 90 else f"{face.corner} {face.angle:g}°"
    return (
        face.name, tape(face.length, unit), low if low == high else f"{low} to {high}", _levels(face.footing, unit),
        inches(face.ledge, unit), inches(face.footing_depth, unit), _levels(face.grade, unit) if face.grade else "–",
        corner,
    )


def _levels(profile: Profile, unit: Unit) -> str:
    """Return a profile's elevations from left to right, each once where it stays."""
    levels = [y for number, (_, y) in enumerate(profile) if not number or y != profile[number - 1][1]]
    shown = [tape(y, unit) for y in levels]
    return ", ".join(shown) if len(shown) <= 4 else f"{shown[0]}, {shown[1]}, … {shown[-1]}"
