"""Lengths and profiles in a job file, rounded once toward the safe side."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Annotated, Any

from layout.job.kind import BadValue, Flaw, Items, Kind, ReadingContext
from layout.job.limits import (
    MAX_DETAIL, MAX_ELEVATION, MAX_FACE_LENGTH, MAX_POINTS, MAX_ROLL_LENGTH, MAX_SHEET_WIDTH, MIN_SLEEVE,
)
from layout.units import Rounding, Unit, read_length, round_ticks, tape

Points = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Length(Kind):
    """A length, in ticks once read.

    Parameters
    ----------
    toward
        The safe side, to which a length off the tick grid is rounded.
    above
        True when it must be more than 0.
    signed
        True when it may be less than 0: elevations and stations.
    most, least
        The greatest that is believed and, of what must be more than 0, the least that can be built, as text.
    """

    toward: Rounding = "up"
    above: bool = False
    signed: bool = False
    most: str = MAX_DETAIL
    least: str = ""

    def check(self, value: object, told: ReadingContext) -> int:
        """Return the length [ticks]; raises when it is none, or out of bounds."""
        try:
            exact = read_length(value, told.unit)
        except ValueError as error:
            raise BadValue(Flaw((), str(error), hint=_slip(value))) from None
        rule = self.rule(exact, told)
        if rule:
            raise BadValue(Flaw((), rule))
        return round_ticks(exact, self.toward)

    def rule(self, exact: Fraction, told: ReadingContext) -> str:
        """Return the bound that a length breaks, or nothing."""
        if self.above and exact <= 0:
            return "must be more than 0"
        if not self.signed and exact < 0:
            return "must be at least 0"
        if told.sure:
            most = limit_ticks(self.most, told.unit)
            if abs(exact) > most:
                within = "within" if self.signed else "at most"
                return f"must be {within} {tape(most, told.unit)}"
            least = max(1, limit_ticks(self.least or "0", told.unit))
            if self.above and round_ticks(exact, self.toward) < least:
                return f"must be at least {tape(least, told.unit)}"
        return ""

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema: a number in the job's unit, or text."""
        number: dict[str, Any] = {"type": "number"}
        if self.above:
            number["exclusiveMinimum"] = 0
        elif not self.signed:
            number["minimum"] = 0
        return {"anyOf": [number, {"type": "string", "minLength": 1}]}


def _slip(value: object) -> str:
    """Return what would help with text that is no length; nothing when nothing is known."""
    if not isinstance(value, str):
        return ""
    text = value.strip()
    if ": " in text:
        return "is a quote before it not closed?"
    if text[:1] in _QUOTES:
        return "write it without quotes around it"
    if re.fullmatch(r"-?\d+,\d+", text):
        return f"write a point, not a comma: {text.replace(',', '.')}"
    if re.fullmatch(r"\d+-\d+(?: \d+/\d+)?", text):
        feet, _, rest = text.partition("-")
        return f"did you mean {feet}'-{rest}\"?"
    return ""


_QUOTES = tuple("\"'“”‘’")

Up = Annotated[int, Length("up")]
Down = Annotated[int, Length("down")]
UpMore = Annotated[int, Length("up", above=True)]
DownMore = Annotated[int, Length("down", above=True)]
FaceLength = Annotated[int, Length("up", above=True, most=MAX_FACE_LENGTH)]
Diameter = Annotated[int, Length("up", above=True, least=MIN_SLEEVE)]
SheetWidth = Annotated[int, Length("down", above=True, most=MAX_SHEET_WIDTH)]
RollLength = Annotated[int, Length("down", above=True, most=MAX_ROLL_LENGTH)]
LongUp = Annotated[int, Length("up", most=MAX_ROLL_LENGTH)]
LongDown = Annotated[int, Length("down", above=True, most=MAX_ROLL_LENGTH)]
Level = Annotated[int, Length("nearest", signed=True, most=MAX_ELEVATION)]
Across = Annotated[int, Length("nearest", signed=True, most=MAX_FACE_LENGTH)]
OpeningSize = Annotated[int, Length("down", above=True, most=MAX_FACE_LENGTH)]


@cache
def limit_ticks(text: str, unit: Unit) -> int:
    """Return a limit in ticks."""
    return round_ticks(read_length(text, unit), "down")


@dataclass(frozen=True)
class Range(Kind):
    """A length, or [least, most]: the least rounded up and the most rounded down."""

    def check(self, value: object, told: ReadingContext) -> tuple[int, int]:
        """Return least and most [ticks]."""
        if not isinstance(value, list):
            one = Length("up").check(value, told)
            return one, one
        if len(value) != 2:
            raise BadValue(Flaw((), "must be a length, or a list of two: [least, most]", f"a list of {len(value)}"))
        flaws: list[Flaw] = []
        ends: list[int] = []
        for index, (kind, item) in enumerate(zip((Length("up"), Length("down")), value, strict=True)):
            ends.append(_step(kind, item, told, (index,), flaws))
        if flaws:
            raise BadValue(*flaws)
        if ends[0] > ends[1]:
            raise BadValue(Flaw((), "must not have its least above its most",
                                f"{tape(ends[0], told.unit)} to {tape(ends[1], told.unit)}"))
        return ends[0], ends[1]

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        one = Length("up").json_schema()
        return {"anyOf": [*one["anyOf"], {"type": "array", "items": one, "minItems": 2, "maxItems": 2}]}


TurnDown = Annotated[tuple[int, int], Range()]


@dataclass(frozen=True)
class Elevations(Kind):
    """A profile as written: one elevation, or points whose stations never fall.

    Parameters
    ----------
    toward
        The safe side for the elevations; stations go to the nearest tick.
    single
        True when one elevation alone will do.
    """

    toward: Rounding = "nearest"
    single: bool = True

    def check(self, value: object, told: ReadingContext) -> Points:
        """Return points [ticks]; one elevation alone is the single point (0, elevation)."""
        elevation = Length(self.toward, signed=True, most=MAX_ELEVATION)
        if not isinstance(value, list):
            if not self.single:
                raise BadValue(Flaw((), "must be a list of [station, elevation] points"))
            return ((0, elevation.check(value, told)),)
        if not value:
            raise BadValue(Flaw((), "must have at least one [station, elevation] point", "an empty list"))
        if len(value) > MAX_POINTS:
            raise BadValue(Flaw((), f"must have at most {MAX_POINTS:,} points", f"{len(value):,}"))
        station = Length("nearest", signed=True, most=MAX_ELEVATION)
        flaws: list[Flaw] = []
        points: list[tuple[int, int]] = []
        for index, item in enumerate(value):
            if not isinstance(item, list) or len(item) != 2:
                flaws.append(Flaw((index,), "must be a [station, elevation] point"))
                continue
            known = len(flaws)
            x = _step(station, item[0], told, (index, 0), flaws)
            y = _step(elevation, item[1], told, (index, 1), flaws)
            if len(flaws) == known:
                points.append((x, y))
                flaws.extend(_order_flaw(points, index))
        if flaws:
            raise BadValue(*flaws)
        return tuple(points)

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        one = Length(signed=True).json_schema()
        point = {"type": "array", "items": one, "minItems": 2, "maxItems": 2}
        points = {"type": "array", "items": point, "minItems": 1, "maxItems": MAX_POINTS}
        return {"anyOf": [*one["anyOf"], points]} if self.single else points


def _order_flaw(points: list[tuple[int, int]], index: int) -> list[Flaw]:
    """Return what is wrong with the last point's station, seen from those before it."""
    x = points[-1][0]
    if x < 0:
        return [Flaw((index, 0), "must be at least 0: stations run from the left end")]
    if len(points) > 1 and x < points[-2][0]:
        return [Flaw((index, 0), "must not fall: stations run from left to right")]
    if len(points) > 2 and x == points[-3][0]:
        return [Flaw((index, 0), "must not be given more than twice: a step has two elevations")]
    return []


def _step(kind: Kind, value: object, told: ReadingContext, steps: tuple[str | int, ...], flaws: list[Flaw]) -> int:
    """Check one item of a list, put its flaws into the list's, and return it (0 when it is wrong)."""
    try:
        return int(kind.check(value, told))
    except BadValue as error:
        flaws.extend(flaw.below(*steps) for flaw in error.flaws)
        return 0


TopProfile = Annotated[Points, Elevations("up")]
FootingProfile = Annotated[Points, Elevations("down")]
GradeProfile = Annotated[Points, Elevations("up")]
DrainProfile = Annotated[Points, Elevations("nearest", single=False)]


Stations = Annotated[tuple[int, ...], Items(Length("nearest", signed=True, most=MAX_ELEVATION), least=1)]
