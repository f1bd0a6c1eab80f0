"""Exceptions on an elevation: a numbered flag where each rule could not be kept, and the key that explains it."""

from __future__ import annotations

from collections.abc import Iterator

from layout.drawing.chains import Note
from layout.drawing.facenotes import FaceNotes, Spans, face_origin
from layout.drawing.model.blocks import FLAG_HIGH, SMALL
from layout.drawing.model.entities import Insert, Vec
from layout.drawing.model.fonts import width, wrapped
from layout.drawing.spots import spot
from layout.records import Plan, RuleException
from layout.shapes import value
from layout.units import inches

KEY_WIDE = 150.0
"""Longest line of the key [plotted mm]."""


def flag_exceptions(notes: FaceNotes, spans: Spans) -> None:
    """Put a flag at each exception on the faces shown, and its words in the key below.

    A flag bears the exception's number in the plan. Where there is no room near its place the number stands in the row
    below, at the end of a leader from there.

    Parameters
    ----------
    notes
        The notes of the elevation.
    spans
        The faces shown, left to right.
    """
    wall, one = notes.view.wall, notes.one
    for number, broken in enumerate(notes.plan.exceptions, start=1):
        if (broken.run, broken.layer) != (wall.run, wall.layer):
            continue
        for span, _ in spans:
            last = span.right == wall.length and not wall.closed
            at = broken.at % wall.length if wall.closed else broken.at
            if not (span.left <= at < span.right or (last and at >= span.right)):
                continue
            name = f"E{number}"
            point = _place(notes, spans, broken, min(at, span.right))
            wide, high = (width(name, SMALL) + 4.0) * one, (FLAG_HIGH + 0.4) * one
            found = spot(notes, point, [(wide, high)], reach=0.0)
            if found:
                notes.entities += [*found[2], Insert("flag", _block(name), found[1], (("FLAG", name),))]
            else:
                notes.below.append(Note(point, face_origin(notes, point[0]), name, suffix=name))
            notes.flags += wrapped(words(notes.plan, number), SMALL, KEY_WIDE)
            break


def _block(name: str) -> str:
    """Return the flag that a number fits in."""
    return "FLAG" if len(name) < 4 else "FLAG-WIDE"


def words(plan: Plan, number: int) -> str:
    """Return what an exception says, by its number in the plan from 1 on.

    Parameters
    ----------
    plan
        The plan.
    number
        Which.
    """
    broken, unit = plan.exceptions[number - 1], plan.job.unit
    text = (f"E{number} {broken.rule}: needed {inches(broken.needed, unit)}, found {inches(broken.found, unit)}: "
            f"{broken.why}")
    return text + (f". Cure: {broken.cure}" if broken.cure else "")


def _place(notes: FaceNotes, spans: Spans, broken: RuleException, at: int) -> Vec:
    """Return the point an exception is about: beside the sleeve, opening, joint or end lap, else half way up."""
    wall = notes.view.wall
    joint = float(value(wall.footing, at, from_right=at < wall.length))
    if broken.rule in ("base_strip", "clear_of_step"):
        return float(at), joint
    levels = sorted(_levels(notes, spans, broken.rule, at))
    if levels:
        return float(at), levels[0][1]
    return float(at), (joint + float(value(wall.top, at, from_right=at < wall.length))) / 2


def _levels(notes: FaceNotes, spans: Spans, rule: str, at: int) -> Iterator[tuple[float, float]]:
    """Yield how far along and how high lies each thing that a rule is about."""
    if rule == "clear_of_sleeve":
        yield from ((abs(span.left + sleeve.at - at), float(sleeve.elevation))
                    for span, face in spans for sleeve in face.sleeves)
    if rule == "clear_of_opening":
        yield from ((abs(span.left + each.left + each.width / 2 - at), each.sill + each.height / 2)
                    for span, face in spans for each in face.openings)
    if rule == "end_lap_stagger":
        yield from ((abs((lap.bounds[0] + lap.bounds[2]) / 2 - at), (lap.bounds[1] + lap.bounds[3]) / 2)
                    for lap in notes.view.laps if lap.seam is None)
