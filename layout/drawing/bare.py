"""Walls without sheet: every run from above and every face, for holding against the drawing they were taken from."""

from __future__ import annotations

from layout.drawing.elevations import face_elevations
from layout.drawing.key_plan import key_plan
from layout.drawing.model.entities import Drawing
from layout.records import MEMBRANE, Job, Plan, Wall


def bare_walls(job: Job, walls: tuple[Wall, ...]) -> list[Drawing]:
    """Return each run of a job from above, and after it the elevations of its faces.

    Parameters
    ----------
    job
        The job.
    walls
        Its developed runs.
    """
    plan = Plan(job, walls, (), (), (), (), ())
    faces = face_elevations(plan)
    drawings: list[Drawing] = []
    for run in job.runs:
        drawings.append(key_plan(plan, run.name))
        drawings += [faces[run.name, face.name, MEMBRANE].whole() for face in run.faces]
    return drawings
