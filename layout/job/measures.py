"""The kinds of value a job file holds: lengths rounded once toward the safe side, profiles, money, dates.

Each kind is a pydantic validator that takes the job's unit as context. A rule that is broken is raised as
``Broken``, which carries the words of the rule and, inside a list, the steps to the item.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import core_schema

from layout.job.limits import (
    MAX_DETAIL, MAX_ELEVATION, MAX_FACE_LENGTH, MAX_LIST, MAX_NAME, MAX_POINTS, MAX_ROLL_LENGTH, MAX_SHEET_WIDTH,
)
from layout.units import INCH, Rounding, Unit, read_length, round_ticks, tape

Points = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Reading:
    """What validators are told: the job's unit, and whether it could be read (limits are not applied if not)."""

    unit: Unit = INCH
    sure: bool = True


@dataclass(frozen=True)
class Flaw:
    """A rule broken somewhere inside one value: the steps to it, the rule, what was got, a hint."""

    steps: tuple[str | int, ...]
    what: str
    got: str | None = None
    hint: str = ""

    def below(self, *steps: str | int) -> Flaw:
        """Return the flaw as seen from a value that holds this one."""
        return Flaw((*steps, *self.steps), self.what, self.got, self.hint)


class Broken(ValueError):
    """A value breaks its rules; holds the flaws."""

    def __init__(self, *flaws: Flaw) -> None:
        self.flaws = flaws
        super().__init__("; ".join(flaw.what for flaw in flaws))


def reading(info: ValidationInfo) -> Reading:
    """Return what the validators are told; inches when nothing is."""
    return info.context if isinstance(info.context, Reading) else Reading()


@dataclass(frozen=True)
class Kind:
    """A kind of value: how it is checked, and its JSON Schema."""

    def check(self, value: object, told: Reading) -> Any:
        raise NotImplementedError

    def json_schema(self) -> dict[str, Any]:
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(lambda value, info: self.check(value, reading(info)))

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler,
    ) -> JsonSchemaValue:
        return self.json_schema()


# --- lengths -----------------------------------------------------------------------------------

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
    most
        The greatest that is believed, as text.
    """

    toward: Rounding = "up"
    above: bool = False
    signed: bool = False
    most: str = MAX_DETAIL

    def check(self, value: object, told: Reading) -> int:
        """Return the length [ticks]; raises when it is none, or out of bounds."""
        try:
            exact = read_length(value, told.unit)
        except ValueError as error:
            raise Broken(Flaw((), str(error))) from None
        rule = self.rule(exact, told)
        if rule:
            raise Broken(Flaw((), rule))
        return round_ticks(exact, self.toward)

    def rule(self, exact: Fraction, told: Reading) -> str:
        """Return the bound that a length breaks, or nothing."""
        if self.above and exact <= 0:
            return "must be more than 0"
        if not self.signed and exact < 0:
            return "must be at least 0"
        if told.sure:
            most = round_ticks(read_length(self.most, told.unit), "down")
            if abs(exact) > most:
                within = "within" if self.signed else "at most"
                return f"must be {within} {tape(most, told.unit)}"
            if self.above and not round_ticks(exact, self.toward):
                return f"must be at least {tape(1, told.unit)}"
        return ""

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema: a number in the job's unit, or text."""
        number: dict[str, Any] = {"type": "number"}
        if self.above:
            number["exclusiveMinimum"] = 0
        elif not self.signed:
            number["minimum"] = 0
        return {"anyOf": [number, {"type": "string", "minLength": 1}]}


Up = Annotated[int, Length("up")]
Down = Annotated[int, Length("down")]
UpMore = Annotated[int, Length("up", above=True)]
DownMore = Annotated[int, Length("down", above=True)]
FaceLength = Annotated[int, Length("up", above=True, most=MAX_FACE_LENGTH)]
SheetWidth = Annotated[int, Length("down", above=True, most=MAX_SHEET_WIDTH)]
RollLength = Annotated[int, Length("down", above=True, most=MAX_ROLL_LENGTH)]
LongUp = Annotated[int, Length("up", most=MAX_ROLL_LENGTH)]
LongDown = Annotated[int, Length("down", above=True, most=MAX_ROLL_LENGTH)]
Level = Annotated[int, Length("nearest", signed=True, most=MAX_ELEVATION)]
Across = Annotated[int, Length("nearest", signed=True, most=MAX_FACE_LENGTH)]
OpeningSize = Annotated[int, Length("down", above=True, most=MAX_FACE_LENGTH)]


@dataclass(frozen=True)
class Range(Kind):
    """A length, or [least, most]: the least rounded up and the most rounded down."""

    def check(self, value: object, told: Reading) -> tuple[int, int]:
        """Return least and most [ticks]."""
        if not isinstance(value, list):
            one = Length("up").check(value, told)
            return one, one
        if len(value) != 2:
            raise Broken(Flaw((), "must be a length, or a list of two: [least, most]", f"a list of {len(value)}"))
        flaws: list[Flaw] = []
        ends: list[int] = []
        for index, (kind, item) in enumerate(zip((Length("up"), Length("down")), value, strict=True)):
            ends.append(_step(kind, item, told, (index,), flaws))
        if flaws:
            raise Broken(*flaws)
        if ends[0] > ends[1]:
            raise Broken(Flaw((), "must not have its least above its most",
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

    def check(self, value: object, told: Reading) -> Points:
        """Return points [ticks]; one elevation alone is the single point (0, elevation)."""
        elevation = Length(self.toward, signed=True, most=MAX_ELEVATION)
        if not isinstance(value, list):
            if not self.single:
                raise Broken(Flaw((), "must be a list of [station, elevation] points"))
            return ((0, elevation.check(value, told)),)
        if not value:
            raise Broken(Flaw((), "must have at least one [station, elevation] point", "an empty list"))
        if len(value) > MAX_POINTS:
            raise Broken(Flaw((), f"must have at most {MAX_POINTS:,} points", f"{len(value):,}"))
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
            raise Broken(*flaws)
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


def _step(kind: Kind, value: object, told: Reading, steps: tuple[str | int, ...], flaws: list[Flaw]) -> int:
    """Check one item of a list, put its flaws into the list's, and return it (0 when it is wrong)."""
    try:
        return int(kind.check(value, told))
    except Broken as error:
        flaws.extend(flaw.below(*steps) for flaw in error.flaws)
        return 0


TopProfile = Annotated[Points, Elevations("up")]
FootingProfile = Annotated[Points, Elevations("down")]
GradeProfile = Annotated[Points, Elevations("up")]
DrainProfile = Annotated[Points, Elevations("nearest", single=False)]


@dataclass(frozen=True)
class Items(Kind):
    """A list of values of one kind."""

    kind: Kind
    least: int = 0

    def check(self, value: object, told: Reading) -> tuple[Any, ...]:
        """Return the items."""
        if not isinstance(value, list):
            raise Broken(Flaw((), "must be a list"))
        if not self.least <= len(value) <= MAX_LIST:
            raise Broken(Flaw((), f"must have {self.least} to {MAX_LIST:,} items", f"{len(value)}"))
        flaws: list[Flaw] = []
        items: list[Any] = []
        for index, item in enumerate(value):
            try:
                items.append(self.kind.check(item, told))
            except Broken as error:
                flaws.extend(flaw.below(index) for flaw in error.flaws)
        if flaws:
            raise Broken(*flaws)
        return tuple(items)

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "array", "items": self.kind.json_schema(), "minItems": self.least, "maxItems": MAX_LIST}


Stations = Annotated[tuple[int, ...], Items(Length("nearest", signed=True, most=MAX_ELEVATION), least=1)]


# --- numbers, words, dates ---------------------------------------------------------------------

@dataclass(frozen=True)
class Number(Kind):
    """A plain number, kept as an exact decimal.

    Parameters
    ----------
    above, least, most
        Bounds: more than, at least, at most.
    places
        Most digits after the decimal point.
    what
        What it is, for messages.
    """

    least: Decimal | None = Decimal(0)
    above: Decimal | None = None
    most: Decimal = Decimal(1_000_000_000)
    places: int = 4
    what: str = "a number"

    def check(self, value: object, told: Reading) -> Decimal:
        """Return the number."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise Broken(Flaw((), f"must be {self.what}"))
        number = Decimal(repr(value))
        if not number.is_finite():
            raise Broken(Flaw((), "must be a finite number"))
        if self.above is not None and number <= self.above:
            raise Broken(Flaw((), f"must be more than {self.above}"))
        if self.least is not None and number < self.least:
            raise Broken(Flaw((), f"must be at least {self.least}"))
        if number > self.most:
            raise Broken(Flaw((), f"must be at most {self.most:,}"))
        if number != round(number, self.places):
            raise Broken(Flaw((), f"must have at most {self.places} digits after the point"))
        return Decimal(format(number.normalize(), "f"))

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        schema: dict[str, Any] = {"type": "number", "maximum": int(self.most)}
        if self.above is not None:
            schema["exclusiveMinimum"] = float(self.above)
        elif self.least is not None:
            schema["minimum"] = float(self.least)
        return schema


Price = Annotated[Decimal, Number(what="a price, a plain number")]
Positive = Annotated[Decimal, Number(above=Decimal(0), least=None)]
Percent = Annotated[Decimal, Number(most=Decimal(100), what="a percentage, a plain number")]
Pounds = Annotated[Decimal, Number(above=Decimal(0), least=None, most=Decimal(100_000), what="a weight in pounds")]
Degrees = Annotated[Decimal, Number(least=Decimal(-100), most=Decimal(250), what="a temperature")]
Turn = Annotated[Decimal, Number(above=Decimal(0), least=None, most=Decimal(175), what="an angle in degrees")]


@dataclass(frozen=True)
class Whole(Kind):
    """A whole number."""

    least: int = 0
    most: int = 1_000_000

    def check(self, value: object, told: Reading) -> int:
        """Return the number."""
        if isinstance(value, bool) or not isinstance(value, int):
            raise Broken(Flaw((), "must be a whole number"))
        if value < self.least:
            raise Broken(Flaw((), f"must be at least {self.least}"))
        if value > self.most:
            raise Broken(Flaw((), f"must be at most {self.most:,}"))
        return value

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "integer", "minimum": self.least, "maximum": self.most}


Count = Annotated[int, Whole()]
CountMore = Annotated[int, Whole(least=1)]


@dataclass(frozen=True)
class Words(Kind):
    """One line of text; a bare number is taken as its text, so that a job may be numbered 2031."""

    most: int = MAX_NAME
    empty: bool = False

    def check(self, value: object, told: Reading) -> str:
        """Return the text, spaces at its ends taken off."""
        if isinstance(value, int) and not isinstance(value, bool):
            value = str(value)
        if not isinstance(value, str):
            raise Broken(Flaw((), "must be text"))
        text = value.strip()
        if not text and not self.empty:
            raise Broken(Flaw((), "must not be empty", "nothing"))
        if len(text) > self.most:
            raise Broken(Flaw((), f"must have at most {self.most} characters", f"{len(text):,}"))
        if not text.isprintable():
            raise Broken(Flaw((), "must be one line of printable text"))
        return text

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": ["string", "integer"], **({} if self.empty else {"minLength": 1}), "maxLength": self.most}


Name = Annotated[str, Words()]
Line = Annotated[str, Words(most=200, empty=True)]


@dataclass(frozen=True)
class Day(Kind):
    """A date, kept as text such as 2026-05-04."""

    def check(self, value: object, told: Reading) -> str:
        """Return the date."""
        try:
            if isinstance(value, str) and len(value) == 10:
                return datetime.date.fromisoformat(value).isoformat()
        except ValueError:
            pass
        raise Broken(Flaw((), "must be a date such as 2026-05-04"))

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "string", "format": "date"}


Date = Annotated[str, Day()]


@dataclass(frozen=True)
class Choice(Kind):
    """One of a few words."""

    words: tuple[str, ...]

    def check(self, value: object, told: Reading) -> str:
        """Return the word."""
        if not isinstance(value, str) or value not in self.words:
            raise Broken(Flaw((), f"must be {' or '.join(self.words)}"))
        return value

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "string", "enum": list(self.words)}


@dataclass(frozen=True)
class YesNo(Kind):
    """True or false."""

    def check(self, value: object, told: Reading) -> bool:
        """Return it."""
        if not isinstance(value, bool):
            raise Broken(Flaw((), "must be true or false"))
        return value

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "boolean"}


Flag = Annotated[bool, YesNo()]
