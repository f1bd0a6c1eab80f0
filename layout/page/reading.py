"""What the page shows of a job at once: its faults, each with the field it belongs to, and every run from above."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from layout.drawing.key_plan import PlanFace, legs
from layout.errors import Fault
from layout.job import look_over
from layout.job.checks.runs import REAL_GAP
from layout.job.closing import PlanSide, allowed_gap, closing_gap, closing_lengths, turns_round
from layout.job.model import FacePart, JobPart, RunPart
from layout.job.sanity import GAP_ALLOWED
from layout.page.merge import follow
from layout.records import MEMBRANE, Corner, FaceSpan, Wall
from layout.units import Unit, tape

MOST_SHOWN = 200
"""Faults that the page lists; it says how many more there are."""
ADVICE = {
    REAL_GAP.about: "a gap that is real: tick “the gap is really there”",
    GAP_ALLOWED.about: "allowed: “the gap is really there” is ticked",
}
"""What the page says where a fault has advice: it shows that box beside the run."""
MOST_WAYS = 3
"""Ways to close a run that are offered."""


def reading(text: str, file: str, plain: Any) -> dict[str, Any]:
    """Return what the page shows of a job at once.

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
        ``unit``; ``faults``, each with ``path``, ``where``, ``what``, ``got``, ``hint`` and ``empty`` (nothing stands
        there yet); how many ``more`` there are; ``runs``, each as ``outline`` returns it.
    """
    part, unit, faults = look_over(text, file)
    return {
        "unit": unit.name,
        "faults": [_fault(fault, plain) for fault in faults[:MOST_SHOWN]],
        "more": max(0, len(faults) - MOST_SHOWN),
        "runs": [outline(run, unit) for run in _runs(part)],
    }


def _fault(fault: Fault, plain: Any) -> dict[str, Any]:
    return {
        "path": list(fault.path), "where": fault.where, "what": fault.what, "got": fault.got,
        "hint": advised(fault),
        "empty": follow(plain, fault.path) in (None, "", []),
    }


def advised(fault: Fault) -> str:
    """Return what would help against a fault, in the page's words."""
    own = ADVICE[fault.advice.about] if fault.advice else ""
    return "; ".join(words for words in (fault.hint, own) if words)


def _runs(part: JobPart) -> list[RunPart]:
    runs: list[RunPart] = part.__dict__.get("runs", [])
    return runs


def outline(run: RunPart, unit: Unit) -> dict[str, Any]:
    """Return a run from above, as far as its faces' lengths and corners can be read.

    Parameters
    ----------
    run
        The run; wrong values are left out of it.
    unit
        The job's unit.

    Returns
    -------
    dict
        ``closed``; ``legs``, each with its face's number, its ends, the direction toward the soil, its length in
        ticks and as ``words``, and which end ``corner`` it has; ``missing``, the numbers of faces without a length;
        ``gap`` of a closed run that does not close: ``from`` and ``to``, its ``length`` in words, in ``words`` which
        way the end lies from the start, ``ways`` to close it by other lengths of faces, and whether the job says that
        it is ``allowed``. Points are in ticks, y up, the first face toward the right.
    """
    faces: list[FacePart] = run.__dict__.get("faces", [])
    closed = bool(run.__dict__.get("closed", False))
    missing = [number for number, face in enumerate(faces) if not face.__dict__.get("length")]
    known = [(number, face) for number, face in enumerate(faces) if number not in missing]
    sides = [PlanSide(face.length, *corner_after(face, number == len(faces) - 1 and not closed))
             for number, face in known]
    walked = walk_round(sides)
    names = [face.__dict__.get("name", f"face {number + 1}") for number, face in enumerate(faces)]
    gap = None if missing or not closed else _gap(sides, walked, names, unit)
    if gap is not None:
        gap["allowed"] = bool(run.__dict__.get("allow_gap", False))
    return {
        "closed": closed, "missing": missing, "gap": gap,
        "legs": [
            {"face": number, "start": _point(leg.start), "end": _point(leg.end), "out": _point(leg.outward, 6),
             "length": leg.right - leg.left, "words": tape(leg.right - leg.left, unit),
             "corner": side.corner, "angle": side.angle}
            for (number, _), side, leg in zip(known, sides, walked, strict=True)],
    }


def corner_after(face: FacePart, ends: bool) -> tuple[Corner, float]:
    """Return what is at a face's right end, and how far the wall turns there [degrees]."""
    kind: Corner | None = face.__dict__.get("corner")
    angle = face.__dict__.get("angle")
    return kind or ("none" if ends else "outside"), 90.0 if angle is None else float(angle)


def walk_round(sides: Sequence[PlanSide]) -> list[PlanFace]:
    """Return faces as they lie on plan, the first one toward the right."""
    spans: list[FaceSpan] = []
    left = 0
    for side in sides:
        spans.append(FaceSpan(str(len(spans)), left, left + side.length, side.corner, side.angle, 0, 0, 0))
        left += side.length
    level = ((0, 0), (left, 0))
    return legs(Wall(
        run="", layer=MEMBRANE, closed=False, length=left, turn_down=0, faces=tuple(spans), top=level, bottom=level,
        footing=level, wall_top=level, grade=None, holes=(), rounds=(), keeps=(), slopes=(), notes=()))


def _gap(
    sides: Sequence[PlanSide], walked: Sequence[PlanFace], names: Sequence[str], unit: Unit,
) -> dict[str, Any] | None:
    """Return what is between the end of a closed run and its start; None where they meet."""
    across, up = closing_gap(sides)
    if not sides or math.hypot(across, up) <= allowed_gap(sides, unit):
        return None
    parts = [f"{tape(round(abs(by)), unit)} {more if by > 0 else less}" for by, more, less in (
        (across, "to the right of", "to the left of"), (up, "above", "below")) if round(abs(by))]
    ways = closing_lengths(sides, unit)[:MOST_WAYS] if turns_round(sides) else []
    return {
        "from": _point(walked[-1].end), "to": _point(walked[0].start),
        "length": tape(round(math.hypot(across, up)), unit),
        "words": f"the last face ends {' and '.join(parts)} where the first begins",
        "ways": [[{"face": face.index, "name": names[face.index], "length": tape(face.length, unit)} for face in way]
                 for way in ways],
    }


def _point(point: tuple[float, float], places: int = 2) -> list[float]:
    return [round(point[0], places), round(point[1], places)]
