"""Checks of a run: its water, and whether a closed one closes."""

from __future__ import annotations

import math
from fractions import Fraction

from layout.job.checks.spot import Spot, attempt
from layout.job.model import JobPart, RunPart
from layout.shapes import footing_turn
from layout.units import inches

CLOSING_TOLERANCE = 1
"""A closed run's turns may miss 360 by this much, since surveyed angles are rounded [degrees]."""


WITHIN = 1e-6
"""Less than this is the last bits of floating point [ticks]."""


def check_run(run: RunPart, spot: Spot) -> None:
    """Check what a run says about itself, its faces aside."""
    attempt(_water, run, spot)
    attempt(_drain, run, spot)
    attempt(_stations, run, "lows", spot)
    attempt(_stations, run, "highs", spot)
    attempt(_lows_and_highs, run, spot)
    attempt(_closing, run, spot)
    attempt(_ledges, run, spot)


def check_round(job: JobPart, run: RunPart, spot: Spot) -> None:
    """Check that a closed run is at least one sheet long all round, so that no drop lies over itself more than once."""
    if not run.closed:
        return
    attempt(_round, run, job.sheet.width, "the sheet", spot)
    if job.drainage_board is not None:
        attempt(_round, run, job.drainage_board.width, "the drainage board", spot)


def _round(run: RunPart, width: int, what: str, spot: Spot) -> None:
    if _length(run) < width:
        spot.at("closed").say(
            f"must be false where the run is shorter than {what} is wide, {inches(width, spot.unit)}",
            got=f"{inches(_length(run), spot.unit)} all round")


def _length(run: RunPart) -> int:
    return sum(face.length for face in run.faces)


def _water(run: RunPart, spot: Spot) -> None:
    given = [name for name in ("flow", "lows", "drain") if run.__dict__.get(name) is not None]
    for name in given[1:]:
        spot.at(name).say(f"must not be given beside {given[0]}", hint="give one of flow, lows and drain")
    if run.highs is not None and run.lows is None:
        spot.at("highs").say("must not be given without lows")


def _drain(run: RunPart, spot: Spot) -> None:
    for index, (station, _) in enumerate(run.drain or ()):
        if station > _length(run):
            spot.at("drain", index, 0).say(f"must be within the run, which is {spot.tape(_length(run))} long")


def _stations(run: RunPart, name: str, spot: Spot) -> None:
    for index, station in enumerate(getattr(run, name) or ()):
        if not 0 <= station <= _length(run):
            spot.at(name, index).say(f"must be within the run, which is {spot.tape(_length(run))} long")


def _lows_and_highs(run: RunPart, spot: Spot) -> None:
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


def _closing(run: RunPart, spot: Spot) -> None:
    if not run.closed:
        return
    turns = Fraction(0)
    for face in run.faces:
        angle = Fraction(90) if face.angle is None else Fraction(face.angle)
        corner = face.corner or "outside"
        turns += angle if corner == "outside" else -angle if corner == "inside" else 0
    if abs(turns - 360) > CLOSING_TOLERANCE:
        spot.at("closed").say(
            "must be false unless the corners turn through 360 degrees in all", got=f"{float(turns):g} degrees",
            hint="outside corners count for the angle, inside corners against it")


def _ledges(run: RunPart, spot: Spot) -> None:
    """At every corner the footing's edges must meet, and no face may be shorter than its corners take from it."""
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
        elif corner == "inside":
            taken[index] += max(edges.left, 0.0)
            taken[(index + 1) % len(run.faces)] += max(edges.right, 0.0)
    for index, face in enumerate(run.faces):
        if taken[index] > face.length + WITHIN:
            spot.at("faces", index, "length").say(
                f"must be more than the footings at its inside corners take from it, "
                f"{spot.tape(math.ceil(taken[index]))}: they overlap there", got=spot.tape(face.length))
