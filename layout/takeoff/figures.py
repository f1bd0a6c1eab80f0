"""Numbers of the takeoff: rounded once, said the same way everywhere."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from fractions import Fraction

from layout.records import Quantity
from layout.units import Unit

CENT = Decimal("0.01")
FLOAT_NOISE = 9
"""Digits kept of a measured area or volume before it is rounded: floating point is good to more, no tape is."""


def exact(value: Fraction | Decimal | float) -> Fraction:
    """Return a number as a fraction, with the noise of floating point taken off."""
    if isinstance(value, Decimal):
        return Fraction(value)
    return value if isinstance(value, Fraction) else Fraction(round(Decimal(value), FLOAT_NOISE))


def decimal(value: Fraction | float, places: int = 2, *, up: bool = False) -> Decimal:
    """Return a number with so many places; to the nearest, halves up, or up."""
    whole = exact(value)
    shifted = whole * 10 ** places
    rounded = math.ceil(shifted) if up else math.floor(shifted + Fraction(1, 2))
    return Decimal(rounded).scaleb(-places)


def cents(value: Decimal) -> Decimal:
    """Return money to the hundredth, halves up."""
    return value.quantize(CENT, ROUND_HALF_UP)


def whole_packages(net: Fraction, waste: Decimal = Decimal(0)) -> int:
    """Return how many whole packages hold a net quantity and its waste [per cent]."""
    return int((Decimal(math.ceil(net * (1 + Fraction(waste) / 100)))).to_integral_value(ROUND_CEILING))


def whole_number(value: Decimal) -> int:
    """Return a count of packages as a whole number, rounded up if it is none."""
    return int(value.to_integral_value(ROUND_CEILING))


def bought(
    item: str, *, unit: str, net: Fraction | float, basis: str, waste: Decimal = Decimal(0),
    price: Decimal | None = None, package: str = "", overage: int = 0,
) -> Quantity:
    """Return the line of something bought by the whole package.

    Parameters
    ----------
    item, unit
        What it is, and what it is bought in.
    net
        How many packages the wall needs.
    basis
        How the net quantity came about; waste and whole packages are added to the words here.
    waste
        Added to the net quantity [per cent].
    price
        Of one package, or None.
    package
        What one package is.
    overage
        Whole packages ordered besides.
    """
    need = exact(net)
    count = whole_packages(need, waste) + overage
    words = f"{basis} = {decimal(need, up=True)}"
    if waste:
        words += f"; with {plain_number(waste)} % waste {decimal(need * (1 + Fraction(waste) / 100), up=True)}"
    words += f"; {count - overage} whole" + (f" + {overage} over" if overage else "")
    return Quantity(
        item, unit, decimal(need, up=True), Decimal(count), package, price,
        None if price is None else cents(price * count), words,
    )


def counted(item: str, count: int, *, basis: str, unit: str = "each") -> Quantity:
    """Return the line of pieces that are counted and cut from rolls listed elsewhere."""
    return Quantity(item, unit, Decimal(count), Decimal(count), basis=basis, group="piece")


AREA_PLACES = 1
"""Places that areas are told with: a tenth of a square foot or metre is less than any tape and coverage is good to."""


def measured(item: str, value: Fraction | float, *, unit: str, basis: str, places: int = 2) -> Quantity:
    """Return the line of something that is measured and not bought."""
    figure = decimal(value, places)
    return Quantity(item, unit, figure, figure, basis=basis, group="measured")


def plain_number(value: Decimal) -> str:
    """Return a number without the zeros at its end.

    Examples
    --------
    >>> plain(Decimal("5.00")), plain(Decimal("20"))
    ('5', '20')
    """
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def long_name(unit: Unit) -> str:
    """Return the unit that long lengths are measured in: feet or metres."""
    return "ft" if unit.name == "in" else "m"


def long(ticks: Fraction | float, unit: Unit) -> Fraction:
    """Return a length in ticks as feet or metres."""
    return exact(ticks) / (12 * unit.ticks if unit.name == "in" else 1000)


def area(square_ticks: Fraction | float, unit: Unit) -> Fraction:
    """Return an area in square ticks as square feet or square metres."""
    return exact(square_ticks) / ((12 * unit.ticks) ** 2 if unit.name == "in" else 10 ** 6)


def say_area(square_ticks: Fraction | float, unit: Unit) -> str:
    """Return an area as it stands in a basis."""
    return f"{told_area(square_ticks, unit):,} {unit.area_name}"


def told_area(square_ticks: Fraction | float, unit: Unit) -> Decimal:
    """Return an area as it is told and reckoned with in money [square feet or square metres, to a tenth]."""
    return decimal(area(square_ticks, unit), AREA_PLACES)


def measured_area(item: str, square_ticks: Fraction | float, unit: Unit, *, basis: str) -> Quantity:
    """Return the line of an area that is measured and not bought; ``square_ticks`` in square ticks."""
    return measured(item, area(square_ticks, unit), unit=unit.area_name, basis=basis, places=AREA_PLACES)


def say_long(ticks: Fraction | float, unit: Unit) -> str:
    """Return a long length as it stands in a basis."""
    return f"{decimal(long(ticks, unit)):,} {long_name(unit)}"


def several(count: int, noun: str) -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> several(1, "piece"), several(3, "piece"), several(2, "each")
    ('1 piece', '3 pieces', '2 each')
    """
    if count == 1 or noun == "each":
        return f"{count:,} {noun}"
    plural = noun + ("es" if noun.endswith(("s", "x", "ch", "sh")) else "s")
    return f"{count:,} {plural}"
