"""Bare numbers that are too small in the job's unit for what is on the face, and right in a larger one.

Such a length or wall top is told once, where it stands, and left out, so that what is on the face is not told to lie
outside it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from layout.job.checks.spot import CheckSpot
from layout.job.model import FacePart, JobPart
from layout.units import read_length

LARGER = {"in": (("ft", "feet"),), "mm": (("m", "metres"), ("cm", "centimetres"))}
"""Units that a bare number may have been meant in, by the unit it is read in, the likeliest first."""
TIMES = 2
"""What is on the face must reach so many times as far: what lies just past an end is another mistake."""
CALLED = {"in": "inches", "mm": "millimetres"}


def check_meant(job: JobPart, spot: CheckSpot) -> None:
    """Tell bare lengths and wall tops that hold what is on their face only in a larger unit, and leave them out."""
    for i, run in enumerate(job.__dict__.get("runs", ())):
        for j, face in enumerate(run.__dict__.get("faces", ())):
            here = spot.at("runs", i, "faces", j)
            length, top = face.__dict__.get("length"), face.__dict__.get("top")
            if length is not None and _told(here.at("length"), length, _reach(face)):
                del face.__dict__["length"]
            if top is not None and len(top) == 1 and _told(here.at("top"), top[0][1], _height(face)):
                del face.__dict__["top"]


def _told(spot: CheckSpot, ticks: int, needed: Iterable[int]) -> bool:
    """Tell a bare number that is less than what it must hold, where a larger unit would do, and say whether it was."""
    value = spot.faults.root.follow(spot.path)[0]
    if value is None or isinstance(value.content, bool) or not isinstance(value.content, (int, float)):
        return False
    most = max(needed, default=0)
    if ticks <= 0 or ticks * TIMES > most:
        return False
    number, plain = read_length(value.content, spot.unit) / spot.unit.ticks, Decimal(repr(value.content)).normalize()
    for sign, name in LARGER[spot.unit.name]:
        if number * read_length(f"1 {sign}", spot.unit) >= most:
            bare = CALLED[spot.unit.name]
            spot.say(f"must hold what is on the face, which reaches to {spot.tape(most)}",
                     hint=f"bare numbers are {bare} here: did you mean {name}, {plain:f} {sign}?")
            return True
    return False


def _reach(face: FacePart) -> Iterator[int]:
    """Yield how far to the right what is on a face reaches."""
    for opening in face.__dict__.get("openings", ()):
        if {"left", "width"} <= opening.__dict__.keys():
            yield opening.left + opening.width
    for sleeve in face.__dict__.get("sleeves", ()):
        if {"at", "diameter"} <= sleeve.__dict__.keys():
            yield sleeve.at + sleeve.diameter // 2
    for name in ("top", "footing", "grade"):
        yield from (station for station, _ in face.__dict__.get(name) or ())


def _height(face: FacePart) -> Iterator[int]:
    """Yield how high up what is on a face begins: sills, whole sleeves, the footing."""
    for opening in face.__dict__.get("openings", ()):
        if "sill" in opening.__dict__:
            yield opening.sill + 1
    for sleeve in face.__dict__.get("sleeves", ()):
        if {"elevation", "diameter"} <= sleeve.__dict__.keys():
            yield sleeve.elevation + sleeve.diameter // 2
    yield from (level + 1 for _, level in face.__dict__.get("footing") or ())
