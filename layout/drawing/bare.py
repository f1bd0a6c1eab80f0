"""Walls without sheet: every run from above and every face, on one picture for holding against the drawing."""

from __future__ import annotations

from xml.sax.saxutils import escape

from layout.drawing.elevations import face_elevations
from layout.drawing.key_plan import key_plan
from layout.drawing.model.entities import Drawing
from layout.drawing.svg import svg_text
from layout.records import Job, Plan, Wall

_PIXELS = 96 / 25.4
"""What SVG counts as a pixel in a millimetre."""
_BETWEEN = 6.0
"""White between drawings [plotted mm]."""


def bare_walls(job: Job, walls: tuple[Wall, ...]) -> str:
    """Return the runs of a job from above and their elevations as one SVG text, one below the other.

    Parameters
    ----------
    job
        The job.
    walls
        Its developed runs.
    """
    plan = Plan(job, walls, (), (), (), (), ())
    drawings: list[Drawing] = []
    faces = face_elevations(plan)
    for run in job.runs:
        drawings.append(key_plan(plan, run.name))
        drawings += [faces[run.name, face.name, "membrane"].whole() for face in run.faces]
    return _stacked(drawings, job)


def _stacked(drawings: list[Drawing], job: Job) -> str:
    """Return drawings one below the other as one SVG text."""
    unit, per = ("in", 25.4) if job.unit.name == "in" else ("mm", 1.0)
    wide = max(drawing.paper[0] for drawing in drawings)
    parts: list[str] = []
    down = 0.0
    for drawing in drawings:
        body = svg_text(drawing).partition("?>\n")[2]
        parts.append(body.replace("<svg ", f'<svg x="0" y="{down / per:.3f}{unit}" ', 1))
        down += drawing.paper[1] + _BETWEEN
    view = f"0 0 {wide * _PIXELS:.3f} {down * _PIXELS:.3f}"
    size = f'width="{wide / per:.3f}{unit}" height="{down / per:.3f}{unit}" viewBox="{view}"'
    title = escape(f"{job.info.name}: walls as they were read")
    return ('<?xml version="1.0" encoding="UTF-8"?>\n'
            f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" role="img" {size}>\n<title>{title}</title>\n'
            '<rect width="100%" height="100%" fill="#ffffff"/>\n' + "".join(parts) + "</svg>\n")
