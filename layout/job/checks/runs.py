"""Checks of a run: its water, and whether a closed one closes."""

from __future__ import annotations

import math

from layout.errors import Advice
from layout.job.checks.spot import CheckSpot, attempt, whole_profile
from layout.job.closing import (
    MOST_SHOWN, PlanSide, allowed_gap, closing_corners, closing_gap, closing_lengths, turned_in_all, turns_round,
)
from layout.job.lengths import limit_ticks
from layout.job.limits import MIN_HOLD, MIN_SLOT
from layout.job.model import FacePart, JobPart, RunPart
from layout.job.part import Unsound
from layout.shapes import footing_turn
from layout.units import inches

WITHIN = 1e-6
"""Less than this is the last bits of floating point [ticks]."""

REAL_GAP = Advice("a real gap", file="a gap that is real: allow_gap: true in the run, or --allow-gap",
                  book="a gap that is real: yes under allow gap on the sheet Runs, or --allow-gap")
"""What to do about a run that does not close and need not."""


def check_run(run: RunPart, spot: CheckSpot, *, allow_gap: bool = False) -> None:
    """Check what a run says about itself, its faces aside; with ``allow_gap`` a closed one need not close on plan."""
    attempt(_water, run, spot)
    attempt(_drain, run, spot)
    attempt(_stations, run, "lows", spot)
    attempt(_stations, run, "highs", spot)
    attempt(_lows_and_highs, run, spot)
    attempt(_turning, run, spot)
    if not allow_gap:
        attempt(_closing, run, spot)
    attempt(_ends_of_footings, run, spot)


def check_round(job: JobPart, run: RunPart, spot: CheckSpot) -> None:
    """Check that a closed run is at least one sheet long all round, so that no drop lies over itself more than once."""
    if not run.closed:
        return
    attempt(_round, run, job.sheet.width, "the sheet", spot)
    if job.drainage_board is not None:
        attempt(_round, run, job.drainage_board.width, "the drainage board", spot)


def _round(run: RunPart, width: int, what: str, spot: CheckSpot) -> None:
    if _length(run) < width:
        spot.at("closed").say(
            f"must be false where the run is shorter than {what} is wide, {inches(width, spot.unit)}",
            got=f"{inches(_length(run), spot.unit)} all round")


def _length(run: RunPart) -> int:
    return sum(face.length for face in run.faces)


def _water(run: RunPart, spot: CheckSpot) -> None:
    given = [name for name in ("flow", "lows", "drain") if run.__dict__.get(name) is not None]
    for name in given[1:]:
        spot.at(name).say(f"must not be given beside {given[0]}", hint="give one of flow, lows and drain")
    if run.highs is not None and run.lows is None:
        spot.at("highs").say("must not be given without lows")


def _drain(run: RunPart, spot: CheckSpot) -> None:
    for index, (station, _) in enumerate(run.drain or ()):
        if station > _length(run):
            spot.at("drain", index, 0).say(f"must be within the run, which is {spot.tape(_length(run))} long")


def _stations(run: RunPart, name: str, spot: CheckSpot) -> None:
    for index, station in enumerate(getattr(run, name) or ()):
        if not 0 <= station <= _length(run):
            spot.at(name, index).say(f"must be within the run, which is {spot.tape(_length(run))} long")


def _lows_and_highs(run: RunPart, spot: CheckSpot) -> None:
    """Between two highs there must be a low, and the other way round where highs are given."""
    round_trip = _length(run)
    marks = [(station % round_trip if run.closed else station, name, index)
             for name in ("lows", "highs") for index, station in enumerate(getattr(run, name) or ())]
    marks.sort()
    for (before, earlier, _), (station, name, index) in zip(marks, marks[1:]):
        if station == before:
            spot.at(name, index).say("must not be given twice", hint="each station is one low or one high")
        elif name == earlier == "highs":
            spot.at(name, index).say("must have a low between it and the high before it")


def check_ledges(job: JobPart, run: RunPart, spot: CheckSpot) -> None:
    """At every corner the footing's edges must meet, and corners must leave enough of each face to lap or cut."""
    last = len(run.faces) - 1
    taken = [0.0] * len(run.faces)
    for index, face in enumerate(run.faces):
        corner = face.corner or ("none" if index == last and not run.closed else "outside")
        if corner == "none" or index == last and not run.closed:
            continue
        after = run.faces[(index + 1) % len(run.faces)]
        turn = 90.0 if face.angle is None else float(face.angle)
        edges = footing_turn(left=face.ledge, right=after.ledge, turn=turn)
        if corner == "outside" and min(edges.left, edges.right) < -WITHIN:
            spot.at("faces", index, "angle").say(
                f"must suit the ledges beside the corner, {inches(face.ledge, spot.unit)} and "
                f"{inches(after.ledge, spot.unit)}: at this angle the edge of one would end before the corner",
                got=f"{turn:g} degrees", hint="make the two ledges more alike")
        elif corner == "outside" and abs(face.ledge - after.ledge) > WITHIN:
            _holding(run, spot, index)
        elif corner == "inside":
            following = (index + 1) % len(run.faces)
            taken[index] += max(edges.left, 0.0)
            taken[following] += max(edges.right, 0.0)
            for part, number, from_end, reach in (
                    (face, index, True, edges.left), (after, following, False, edges.right)):
                _steps_in_corner(part, spot.at("faces", number), from_end=from_end, reach=reach)
                if turn > 90 and (face.ledge or after.ledge):
                    _slopes_in_corner(part, spot.at("faces", number), from_end=from_end, reach=reach)
    for index, face in enumerate(run.faces):
        if taken[index] > face.length + WITHIN:
            spot.at("faces", index, "length").say(
                f"must be more than the footings at its inside corners take from it, "
                f"{spot.tape(math.ceil(taken[index]))}: they overlap there", got=spot.tape(face.length))
        elif taken[index] > WITHIN:
            ends = not run.closed and (index == last or index == 0)
            least = job.rules.side_lap if ends else limit_ticks(MIN_SLOT, spot.unit)
            if face.length < taken[index] + least - WITHIN:
                spot.at("faces", index, "length").say(
                    f"must be at least {inches(least, spot.unit)} more than the footings at its inside corners take "
                    f"from it, {spot.tape(math.ceil(taken[index]))}: "
                    + ("so much laps past the corner" if ends else "no sheet can be cut to less"),
                    got=spot.tape(face.length))


def _holding(run: RunPart, spot: CheckSpot, index: int) -> None:
    """At a run's end past an outside corner where the ledge changes, there is wall enough to hold the cover."""
    ends = () if run.closed else {0, len(run.faces) - 1}.intersection((index, index + 1))
    least = limit_ticks(MIN_HOLD, spot.unit)
    for number in sorted(ends):
        if run.faces[number].length < least - WITHIN:
            spot.at("faces", number, "length").say(
                f"must be at least {inches(least, spot.unit)} at the end of a run past an outside corner where the "
                f"ledge changes: so much holds the cover of the corner", got=spot.tape(run.faces[number].length))


def _steps_in_corner(face: FacePart, spot: CheckSpot, *, from_end: bool, reach: float) -> None:
    """No footing may step where it is one with the footing of the next wall of an inside corner.

    There the ledges of both walls are one surface, and a step would go on into the other wall's footing.
    """
    points = whole_profile(face, "footing")
    for (x, level), (after, to) in zip(points, points[1:]):
        away = face.length - x if from_end else x
        if x == after and level != to and 0 < away <= reach + WITHIN:
            spot.at("footing").say(
                f"must not step within {spot.tape(math.ceil(reach))} of an inside corner: there both walls stand on "
                "one footing", got=f"a step {spot.tape(away)} from it",
                hint="put the step at the corner, or farther away")


def _slopes_in_corner(face: FacePart, spot: CheckSpot, *, from_end: bool, reach: float) -> None:
    """No footing may slope where it is one with the next wall's at an inside corner of more than 90 degrees.

    There a flap that runs askew comes into the other wall from below its fillet, and no cut lays it flat.
    """
    points = whole_profile(face, "footing")
    for (x, level), (after, to) in zip(points, points[1:]):
        away = face.length - after if from_end else x
        if x < after and level != to and away <= max(reach, 0.0) + WITHIN:
            spot.at("footing").say(
                f"must be level within {spot.tape(math.ceil(max(reach, 0.0)))} of an inside corner of more than 90 "
                "degrees: there both walls stand on one footing",
                got=f"a slope that comes to {spot.tape(away)} from it", hint="let the slope end before the corner")


def check_room(job: JobPart, run: RunPart, spot: CheckSpot) -> None:
    """Check that where the footing steps at an inside corner both its edges meet beyond the fillets."""
    last = len(run.faces) - 1
    for index, face in enumerate(run.faces):
        after = run.faces[(index + 1) % len(run.faces)]
        if face.corner != "inside" or index == last and not run.closed or not (face.ledge and after.ledge):
            continue
        turn = 90.0 if face.angle is None else float(face.angle)
        edges = footing_turn(left=face.ledge, right=after.ledge, turn=turn)
        steps = whole_profile(face, "footing")[-1][1] != whole_profile(after, "footing")[0][1]
        if steps and min(edges.left, edges.right) < job.rules.fillet - WITHIN:
            spot.at("faces", index, "angle").say(
                f"must leave room for the step of the footing there: with ledges of {inches(face.ledge, spot.unit)} "
                f"and {inches(after.ledge, spot.unit)} one of their edges ends before the fillet in the corner",
                got=f"{turn:g} degrees", hint="make the two ledges more alike, or put the step away from the corner")


def _ends_of_footings(run: RunPart, spot: CheckSpot) -> None:
    """No footing may end higher beside a wall that goes on down without a ledge.

    At an outside corner the end of a footing that stands higher is in the plane of the next wall. That wall's sheet
    goes on down beside it with an open edge, and there is no ledge for a riser cover to lie on.
    """
    last = len(run.faces) - 1
    for index, face in enumerate(run.faces):
        corner = face.corner or ("none" if index == last and not run.closed else "outside")
        if corner != "outside" or index == last and not run.closed:
            continue
        after = run.faces[(index + 1) % len(run.faces)]
        left, right = whole_profile(face, "footing")[-1][1], whole_profile(after, "footing")[0][1]
        here = index if left < right else (index + 1) % len(run.faces)
        lower, higher = (face, after) if left < right else (after, face)
        if left != right and higher.ledge and not lower.ledge:
            spot.at("faces", here, "ledge").say(
                f"must be more than 0 where the footing of {higher.name} ends {spot.tape(abs(left - right))} higher, "
                "at the outside corner between them", got=inches(lower.ledge, spot.unit),
                hint="give both a ledge, or step the footing away from the corner")


# --- closing -----------------------------------------------------------------------------------

def _sides(run: RunPart) -> list[PlanSide]:
    """Return a closed run's faces as they lie on plan."""
    return [PlanSide(face.length, face.corner or "outside", 90.0 if face.angle is None else float(face.angle))
            for face in run.faces]


def _turning(run: RunPart, spot: CheckSpot) -> None:
    if not run.closed:
        return
    sides = [PlanSide(1, face.corner or "outside", 90.0 if face.angle is None else float(face.angle))
             for face in run.faces]
    if turns_round(sides):
        return
    hint = "outside corners count for the angle, inside corners against it"
    try:
        hint += _corners_told(run, spot)
    except Unsound:
        pass  # a wrong length is told already; without it no corner can be named
    spot.at("closed").say("must be false unless the corners turn through 360 degrees in all",
                          got=f"{turned_in_all(sides):g} degrees", hint=hint)


def _closing(run: RunPart, spot: CheckSpot) -> None:
    if not run.closed or run.allow_gap:
        return
    sides = _sides(run)
    gap = closing_gap(sides)
    if not turns_round(sides) or math.hypot(*gap) <= allowed_gap(sides, spot.unit):
        return
    first, last = run.faces[0].name, run.faces[-1].name
    told = []
    for change in closing_lengths(sides, spot.unit)[:MOST_SHOWN]:
        told.append(" and ".join(f"{run.faces[face.index].name} {spot.tape(face.length)}" for face in change))
    hint = f"it closes with {', or '.join(told)}" if told else "no other length of one face or two closes it"
    hint += _corners_told(run, spot)
    spot.at("closed").say(
        f"must be false, or the faces must close: on a plan with {first} drawn from left to right, {last} ends "
        f"{direction(gap, spot)} where {first} starts", got=f"a gap of {spot.tape(round(math.hypot(*gap)))}",
        hint=hint, advice=REAL_GAP)


def direction(gap: tuple[float, float], spot: CheckSpot) -> str:
    """Return a gap in words, such as ``1'-0" right of and 3" below``, after which the place it is from follows."""
    across, up = round(gap[0]), round(gap[1])
    words = []
    if across:
        words.append(f"{spot.tape(abs(across))} {'right' if across > 0 else 'left'} of")
    if up:
        words.append(f"{spot.tape(abs(up))} {'above' if up > 0 else 'below'}")
    return " and ".join(words)


def _corners_told(run: RunPart, spot: CheckSpot) -> str:
    """Return which corners would close a run if they were others, as the end of a hint."""
    names = [face.name for face in run.faces]
    told = []
    for change in closing_corners(_sides(run), spot.unit)[:MOST_SHOWN]:
        told.append(" and ".join(
            f"corner: {turned.corner}" + (f", angle: {turned.angle:g}" if turned.angle != 90 else "")
            + f" at {names[turned.index]}" for turned in change))
    return f"; it closes with {', or '.join(told)}" if told else ""
