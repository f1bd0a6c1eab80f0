"""Where a check looks, how it tells a fault, and how it is passed over when a value it needs is wrong already."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import NamedTuple

from layout.errors import Advice
from layout.job.model import FacePart
from layout.job.part import Unsound
from layout.job.profiles import filled
from layout.job.tree import Path
from layout.job.walk import Faults
from layout.records import Profile
from layout.units import Unit, round_ticks, tape


class CheckSpot(NamedTuple):
    """Where a check looks: the path, and what it needs to tell a fault."""

    path: Path
    faults: Faults
    unit: Unit

    def at(self, *steps: str | int) -> CheckSpot:
        """Return the spot further in."""
        return CheckSpot((*self.path, *steps), self.faults, self.unit)

    def say(self, what: str, *, got: str | None = None, hint: str = "", advice: Advice | None = None) -> None:
        """Tell a fault here."""
        self.faults.add(self.path, what, got=got, hint=hint, advice=advice)

    def tape(self, ticks: int | Fraction) -> str:
        """Return a length as messages show it, rounded to a tick."""
        return tape(round_ticks(Fraction(ticks), "nearest"), self.unit)


def attempt(check: Callable[..., None], *parts: object) -> None:
    """Make a check, or pass it over when it needs a value that is wrong in the file."""
    try:
        check(*parts)
    except Unsound:
        pass


def whole_profile(face: FacePart, name: str) -> Profile:
    """Return a face's profile filled out to both ends; raises ``Unsound`` when a point lies past them."""
    points: Profile = getattr(face, name)
    if points[-1][0] > face.length:
        raise Unsound(name)
    return filled(points, length=face.length)
