"""The quick answer: every elevation drawn by the drawing stage, with the drops of a quick plan where the job is sound.

While a job is being written some of it is wrong. What is wrong is left out, so that the other faces are seen as they
are; such a drawing shows walls, openings and sleeves only, and no drop.
"""

from __future__ import annotations

import copy
import json
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from typing import Any

from layout.drawing.elevations import Elevation, face_elevations
from layout.drawing.svg_markup import svg_markup
from layout.errors import Fault, JobError, LayoutError, NoLayout
from layout.faces import develop
from layout.job import read_job_text
from layout.job.tree import Path
from layout.takeoff.areas import areas, field_cutting
from layout.packet.totals import money
from layout.page.background import NOTHING
from layout.page.reading import advised
from layout.pipeline import quick_plan
from layout.readback import warnings
from layout.records import MEMBRANE, Job, Plan
from layout.units import tape

TRIES = 8
"""Times that what is wrong is left out before nothing is drawn; leaving one thing out may make another one wrong."""
STAND_IN: dict[str, dict[str, object]] = {
    "in": {"width": 36, "rolls": [{"length": "100 ft"}]}, "mm": {"width": 914, "rolls": [{"length": "30 m"}]},
}
"""A sheet for drawing walls while the job's own cannot be read; no drop is hung of it."""
MOST_DRAWN = 200
"""Faces that are drawn; a larger job is seen in its packet."""


def answer(text: str, file: str, plain: Any) -> dict[str, Any]:
    """Return the quick answer to a job as it is.

    Parameters
    ----------
    text
        The job file's text.
    file
        Its name, for messages.
    plain
        The same as plain mappings and lists.

    Returns
    -------
    dict
        ``figures``: rolls, cost and waste in words, or None; ``why`` there are none; ``exceptions``: rules that could
        not be kept; ``warnings``: what reads as a mistake, each with its ``path``; ``drawings`` of faces by
        ``RUN/FACE``, their numbers in the file, each with ``title``, ``markup``, ``css`` and ``drops`` in words;
        ``seams``: for each run the stations of its drops' left edges.
    """
    job, plan, why = None, None, ""
    try:
        job = read_job_text(text, file)
        plan = quick_plan(job)
    except JobError:
        why = "faults"
    except NoLayout as error:
        why = f"no layout is possible: {error}"
    if job is None:
        found = sound(plain)
        return {**NOTHING, "why": why, "drawings": _drawings(_walls(found[0]), found[1]) if found else {}}
    numbers = [(i, list(range(len(run.faces)))) for i, run in enumerate(job.runs)]
    doubts = [_warning(each) for each in warnings(job)]
    if plan is None:
        return {**NOTHING, "why": why, "warnings": doubts, "drawings": _drawings(_walls(job), numbers)}
    return {
        "why": "", "warnings": doubts, "figures": quick_figures(replace(plan, job=job)),
        "exceptions": _exceptions(plan),
        "seams": _seams(plan), "drawings": _drawings(plan, numbers),
    }


def _walls(job: Job) -> Plan:
    """Return a plan that hangs nothing yet: its walls are all that there is to draw."""
    return Plan(job=job, walls=develop(job), drops=(), seams=(), pieces=(), cuttings=(), exceptions=())


def quick_figures(plan: Plan) -> dict[str, str]:
    """Return what a quick plan comes to, in words.

    Parameters
    ----------
    plan
        The plan.
    """
    cutting = field_cutting(plan)
    if cutting is None:
        return {}
    where = areas(plan, cutting)
    counts = Counter(roll.stock for roll in cutting.rolls if not roll.remnant)
    left = sum(roll.remnant for roll in cutting.rolls)
    opened = [f"{count} × {stock}" for stock, count in counts.items()]
    opened += [f"{left} remnant" + ("s" if left > 1 else "")] if left else []
    lost = where.cut_away + where.scrap
    share = lost / where.ordered * 100 if where.ordered else Decimal(0)
    return {
        "rolls": str(len(cutting.rolls)), "of": ", ".join(opened),
        "cost": "no price given" if cutting.cost is None else money(cutting.cost, plan),
        "waste": f"{share:.1f} %", "kept": f"{where.leftover_kept:,.0f} {plan.job.unit.area_name}",
        "drops": str(len(plan.drops)),
    }


def _warning(warning: Fault) -> dict[str, Any]:
    return {"path": list(warning.path), "where": warning.where, "what": warning.what, "got": warning.got,
            "hint": advised(warning)}


def _exceptions(plan: Plan) -> list[str]:
    return [f"run {broken.run} at {tape(broken.at, plan.job.unit)}: {broken.rule}: {broken.why}"
            for broken in plan.exceptions]


def _seams(plan: Plan) -> list[list[int]]:
    """Return for each run where its drops' left edges are, along the run [ticks]."""
    lengths = {run.name: run.length for run in plan.job.runs}
    return [sorted({drop.left % lengths[run.name] for drop in plan.drops if drop.run == run.name})
            for run in plan.job.runs]


def _drawings(plan: Plan, numbers: list[tuple[int, list[int]]]) -> dict[str, Any]:
    """Return the drawings of a plan by the numbers that its runs and faces have in the file."""
    drawn: dict[str, Any] = {}
    keys = [((run.name, face.name, MEMBRANE), f"{i}/{j}")
            for run, (i, own) in zip(plan.job.runs, numbers, strict=True)
            for face, j in zip(run.faces, own, strict=True)]
    if len(keys) > MOST_DRAWN:
        return {}  # the page says that they are too many
    made = face_elevations(plan)
    tags = [piece.tag for piece in plan.pieces]
    for key, place in keys:
        drawn[place] = _drawing(made[key], tags)
    return drawn


def _drawing(elevation: Elevation, tags: list[str]) -> dict[str, str]:
    drawing = elevation.bare
    markup = svg_markup(drawing, tags)
    hung = [seen.piece.drop for seen in elevation.view.field]
    drops = list(dict.fromkeys(hung))
    words = "" if not drops else f"drops {', '.join(drops)}" if len(drops) < 3 else f"drops {drops[0]} to {drops[-1]}"
    return {"title": drawing.title, "markup": markup.text, "css": markup.css, "drops": words}


# --- what is sound of a job --------------------------------------------------------------------

def sound(plain: Any) -> tuple[Job, list[tuple[int, list[int]]]] | None:
    """Return the job without what is wrong in it, and the numbers that its runs and faces have in the file.

    Parameters
    ----------
    plain
        The job as plain mappings and lists.

    Returns
    -------
    tuple or None
        None where not one face can be drawn.
    """
    left = copy.deepcopy(plain)
    if not isinstance(left, dict):
        return None
    for i, run in enumerate(_list(left.get("runs"))):
        if isinstance(run, dict):
            run["#"] = i
            for j, face in enumerate(_list(run.get("faces"))):
                if isinstance(face, dict):
                    face["#"] = j
    for _ in range(TRIES):
        _tidy(left)
        if not _list(left.get("runs")):
            return None
        try:
            job = read_job_text(json.dumps(_bare(left)), "job")
        except JobError as error:
            if not _leave_out(left, error.faults):
                return None
            continue
        except LayoutError:
            return None
        return job, [(run["#"], [face["#"] for face in run["faces"]]) for run in left["runs"]]
    return None


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _bare(value: Any) -> Any:
    """Return plain values without the numbers that this module put beside them."""
    if isinstance(value, dict):
        return {key: _bare(item) for key, item in value.items() if key != "#"}
    return [_bare(item) for item in value] if isinstance(value, list) else value


def _tidy(left: dict[str, Any]) -> None:
    """Leave out runs without faces, and give what cannot be drawn without a stand-in."""
    runs = [run for run in _list(left.get("runs")) if isinstance(run, dict)]
    for run in runs:
        run["faces"] = [face for face in _list(run.get("faces")) if isinstance(face, dict)]
    left["runs"] = [run for run in runs if run["faces"]]


def _leave_out(left: dict[str, Any], faults: tuple[Fault, ...]) -> bool:
    """Take what faults are about out of a job, the last things first; say whether anything was."""
    done = False
    for path in sorted({_outer(fault.path) for fault in faults}, key=_order, reverse=True):
        done = _take_out(left, path) or done
    return done


def _order(path: Path) -> tuple[str, ...]:
    """Return what paths are sorted by: entries of a list by their numbers."""
    return tuple(step if isinstance(step, str) else f"{step:09}" for step in path)


def _outer(path: Path) -> Path:
    """Return the smallest thing with a fault that can be left out: an opening, a face's grade, a face, a rule."""
    if len(path) > 5 and path[0] == "runs" and path[4] in ("openings", "sleeves"):
        return path[:6]
    if len(path) > 4 and path[0] == "runs":
        return path[:4] if path[4] in ("length", "top") else path[:5]
    if len(path) > 2 and path[0] == "runs":
        return path[:3]
    return path[:2] if path[:1] in (("rules",), ("job",)) else path[:1]


def _take_out(left: dict[str, Any], path: Path) -> bool:
    """Take one thing out; names and the sheet get a stand-in instead."""
    if not path:
        return False
    if path[0] == "sheet":
        left["sheet"] = STAND_IN["mm" if left.get("units") == "mm" else "in"]
        return True
    if path[0] == "job":
        left["job"] = {"name": "job"}
        return True
    if path[0] == "units":
        left["units"] = "in"
        return True
    here: Any = left
    for step in path[:-1]:
        try:
            here = here[step]
        except (LookupError, TypeError):
            return False
    last = path[-1]
    if len(path) == 2 and isinstance(here, list) and isinstance(last, int) and here[last].get("closed"):
        here[last]["closed"] = False  # what is wrong with a run as a whole is that it does not close
        return True
    if last == "name" and isinstance(here, dict):
        here["name"] = f"face {here['#'] + 1}" if path[2:3] == ("faces",) else f"run {here['#'] + 1}"
        return True
    if isinstance(here, list) and isinstance(last, int) and last < len(here):
        del here[last]
        return True
    if isinstance(here, dict) and last in here:
        del here[last]
        return True
    return False
