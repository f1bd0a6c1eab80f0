"""Numbers in a job file: money, percentages, weights, areas and volumes, counts, angles, temperatures."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from fractions import Fraction
from typing import Annotated, Any

from layout.job.kind import BadValue, Flaw, Kind, ReadingContext


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
    sign
        Its unit, for headings.
    """

    least: Decimal | None = Decimal(0)
    above: Decimal | None = None
    most: Decimal = Decimal(1_000_000_000)
    places: int = 4
    what: str = "a number"
    sign: str = ""

    def check(self, value: object, told: ReadingContext) -> Decimal:
        """Return the number."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise BadValue(Flaw((), f"must be {self.what}", hint=_slip(value)))
        number = Decimal(repr(value))
        if not number.is_finite():
            raise BadValue(Flaw((), "must be a finite number"))
        if self.above is not None and number <= self.above:
            raise BadValue(Flaw((), f"must be more than {self.above}"))
        if self.least is not None and number < self.least:
            raise BadValue(Flaw((), f"must be at least {self.least}"))
        if number > self.most:
            raise BadValue(Flaw((), f"must be at most {self.most:,}"))
        if number != round(number, self.places):
            raise BadValue(Flaw((), f"must have at most {self.places} digits after the point"))
        return Decimal(format(number.normalize(), "f"))

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        schema: dict[str, Any] = {"type": "number", "maximum": int(self.most)}
        if self.above is not None:
            schema["exclusiveMinimum"] = float(self.above)
        elif self.least is not None:
            schema["minimum"] = float(self.least)
        return schema


def _slip(value: object) -> str:
    """Return the number in text such as ``$1,205.50`` or ``5 %``, as a hint; nothing when there is none."""
    match = re.fullmatch(r"\s*[$€£]?\s*(\d{1,3}(?:,\d{3})+|\d{1,9})(\.\d+)?\s*[$€£%]?\s*", str(value))
    return f"write {match[1].replace(',', '')}{match[2] or ''}" if isinstance(value, str) and match else ""


Price = Annotated[Decimal, Number(what="a price, a plain number", sign="money")]
RollPrice = Annotated[Decimal, Number(places=2, what="a price, a plain number", sign="money")]
Positive = Annotated[Decimal, Number(above=Decimal(0), least=None)]
Percent = Annotated[Decimal, Number(most=Decimal(100), what="a percentage, a plain number", sign="%")]
Pounds = Annotated[
    Decimal, Number(above=Decimal(0), least=None, most=Decimal(100_000), what="a weight in pounds", sign="lb")]
Degrees = Annotated[
    Decimal, Number(least=Decimal(-100), most=Decimal(250), what="a temperature", sign="°F or °C")]
TurnAngle = Annotated[
    Decimal, Number(above=Decimal(0), least=None, most=Decimal(175), what="an angle in degrees", sign="degrees")]
Heading = Annotated[Decimal, Number(most=Decimal(360), what="an angle in degrees", sign="degrees")]


@dataclass(frozen=True)
class WholeNumber(Kind):
    """A whole number."""

    least: int = 0
    most: int = 1_000_000

    def check(self, value: object, told: ReadingContext) -> int:
        """Return the number."""
        if isinstance(value, bool) or not isinstance(value, int):
            raise BadValue(Flaw((), "must be a whole number"))
        if value < self.least:
            raise BadValue(Flaw((), f"must be at least {self.least}"))
        if value > self.most:
            raise BadValue(Flaw((), f"must be at most {self.most:,}"))
        return value

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"type": "integer", "minimum": self.least, "maximum": self.most}


Count = Annotated[int, WholeNumber()]
CountMore = Annotated[int, WholeNumber(least=1)]


@dataclass(frozen=True)
class Amount(Kind):
    """An area or a volume: a number in the job's own unit, or text with a unit, rounded down when it is converted.

    Parameters
    ----------
    inch_unit, metric_unit
        The unit of a bare number in an inch job and in a metric one.
    sizes
        Every unit that text may name, in one common measure.
    example
        What it may look like, for messages.
    """

    inch_unit: str
    metric_unit: str
    sizes: tuple[tuple[str, Fraction], ...]
    example: str

    def check(self, value: object, told: ReadingContext) -> Decimal:
        """Return the amount in the job's unit of it."""
        own = self.inch_unit if told.unit.name == "in" else self.metric_unit
        if isinstance(value, str):
            value = self._converted(value, own)
        return Number(above=Decimal(0), least=None, what=f"{own}, a number or text such as {self.example}").check(
            value, told)

    def _converted(self, text: str, own: str) -> object:
        match = _AMOUNT.fullmatch(text.strip())
        sizes = dict(self.sizes)
        unit = match["unit"].strip().lower().replace(".", "") if match else ""
        if not match or unit not in sizes:
            return text
        size = Fraction(match["number"]) * sizes[unit] / sizes[own]
        exact = Decimal(size.numerator) / Decimal(size.denominator)
        return float(exact.quantize(Decimal("0.001"), rounding=ROUND_DOWN)) if exact < 10 ** 9 else float(exact)

    def json_schema(self) -> dict[str, Any]:
        """Return the JSON Schema."""
        return {"anyOf": [{"type": "number", "exclusiveMinimum": 0}, {"type": "string", "minLength": 1}]}


_AMOUNT = re.compile(r"(?P<number>[0-9]{1,9}(?:\.[0-9]{0,6})?)(?P<unit>[ a-zA-Z.²2]+)")
_FOOT = Fraction(3048, 10000)
_OUNCE = Fraction(231, 128) * Fraction(254, 100) ** 3
_AREAS = (("sq ft", _FOOT ** 2), ("sqft", _FOOT ** 2), ("ft2", _FOOT ** 2), ("ft²", _FOOT ** 2),
          ("m²", Fraction(1)), ("m2", Fraction(1)), ("sq m", Fraction(1)))
_VOLUMES = (("fl oz", _OUNCE), ("oz", _OUNCE), ("gal", 128 * _OUNCE), ("qt", 32 * _OUNCE), ("ml", Fraction(1)),
            ("l", Fraction(1000)))

Area = Annotated[Decimal, Amount("sq ft", "m²", _AREAS, "250 sq ft or 23 m²")]
Volume = Annotated[Decimal, Amount("fl oz", "ml", _VOLUMES, "29 fl oz or 860 ml")]
MoneyAmount = Annotated[Decimal, Number(least=Decimal(-1_000_000_000), what="money, a plain number", sign="money")]
