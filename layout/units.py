"""Ticks: the whole numbers every length is kept in, and how people write and read them.

A job in inches counts in 1/16 in, a metric job in 1 mm. A length that is not on a tick is rounded
once, here, toward the side the caller names as safe.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Rounding = Literal["up", "down", "nearest"]

MM_PER_INCH = Fraction(254, 10)  # exact: NIST Handbook 44, appendix C


@dataclass(frozen=True)
class Unit:
    """A system of lengths.

    Parameters
    ----------
    name
        ``in`` or ``mm``; also the unit of numbers in plan.json.
    ticks
        Ticks in one unit.
    tick_mm
        Length of one tick [mm].
    """

    name: Literal["in", "mm"]
    ticks: int
    tick_mm: Fraction

    def number(self, ticks: int) -> float:
        """Return ticks as a number in the unit; exact, since a tick is a power of two of an inch."""
        return ticks / self.ticks

    def area(self, square_ticks: float) -> float:
        """Return square ticks as square feet (inch jobs) or square metres (metric jobs)."""
        return square_ticks / (self.ticks * 12) ** 2 if self.name == "in" else square_ticks / 1e6

    @property
    def area_name(self) -> str:
        """The unit of areas as printed."""
        return "sq ft" if self.name == "in" else "m²"


INCH = Unit("in", 16, MM_PER_INCH / 16)
MM = Unit("mm", 1, Fraction(1))
UNITS: dict[str, Unit] = {"in": INCH, "mm": MM}

FILLET_FACTOR = 2 - math.sqrt(2)
"""What a chamfer fillet of leg 1 saves on the developed length (two legs less the hypotenuse)."""

_NUMBER = r"(?:\d+(?:\.\d*)?|\.\d+)"
_FRACTION = rf"(?:(?P<whole{{0}}>\d+)[ -]+)?(?P<top{{0}}>\d+)/(?P<bottom{{0}}>\d+)|(?P<plain{{0}}>{_NUMBER})"
_FEET_INCHES = re.compile(
    rf"(?P<sign>-?)\s*(?P<feet>{_NUMBER})\s*(?:'|ft\.?|feet|foot)"
    rf"(?:\s*-?\s*(?:{_FRACTION.format('a')})\s*(?:\"|in\.?|inch(?:es)?)?)?"
)
_ONE = re.compile(
    rf"(?P<sign>-?)\s*(?:{_FRACTION.format('b')})\s*(?P<unit>\"|in\.?|inch(?:es)?|mm|cm|m)?"
)
_TYPOGRAPHY = str.maketrans({
    "′": "'", "’": "'", "‘": "'", "‵": "'", "ʹ": "'", "″": '"', "”": '"', "“": '"', "‟": '"', "ʺ": '"',
    "−": "-", "–": "-", "—": "-", "\u2011": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "⁄": "/",
})
_VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
MAX_TEXT = 60
"""Longest text read as a length; anything longer is not a length."""


def read_length(value: object, unit: Unit) -> Fraction:
    """Read a length as a person writes it and return it in ticks, exact.

    Parameters
    ----------
    value
        Text such as ``8'-4 1/2"``, ``7 ft``, ``2.44 m``, ``850 mm``, or a number in the job's unit.
    unit
        The job's unit, for a number without one.

    Returns
    -------
    Fraction
        The length [ticks], not yet rounded.

    Raises
    ------
    ValueError
        When the value is not a length; the message is the rule that it breaks.

    Examples
    --------
    >>> read_length("8'-4 1/2\\"", INCH) / 16
    Fraction(201, 2)
    >>> read_length("2.44 m", MM)
    Fraction(2440, 1)
    """
    if isinstance(value, bool) or value is None or not isinstance(value, (int, float, str)):
        raise ValueError("must be a length")
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError("must be a finite length")
        return Fraction(repr(value)) * unit.ticks
    if isinstance(value, int):
        return Fraction(value) * unit.ticks
    if len(value) > MAX_TEXT:
        raise ValueError("must be a length")
    text = value.translate(_TYPOGRAPHY)
    for sign, plain in _VULGAR.items():
        text = text.replace(sign, " " + plain)
    text = text.replace("''", '"').strip().lower()
    if not text.isascii():
        raise ValueError("must be a length")
    match = _FEET_INCHES.fullmatch(text)
    if match:
        feet = Fraction(match["feet"])
        inches = _amount(match, "a")
        if inches >= 12 and feet:
            raise ValueError("must have less than 12 inches beside the feet")
        millimetres = (feet * 12 + inches) * MM_PER_INCH
    else:
        match = _ONE.fullmatch(text)
        if not match:
            raise ValueError("must be a length such as 8'-4 1/2\", 100 1/2\", 2.44 m or 850 mm")
        amount = _amount(match, "b")
        suffix = match["unit"]
        if suffix is None:
            ticks = amount * unit.ticks
            return -ticks if match["sign"] else ticks
        scale = {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000)}
        millimetres = amount * scale.get(suffix, MM_PER_INCH)
    ticks = millimetres / unit.tick_mm
    return -ticks if match["sign"] else ticks


def _amount(match: re.Match[str], group: str) -> Fraction:
    """Return the number that one alternative of a pattern caught; 0 when it caught nothing."""
    if match["plain" + group]:
        return Fraction(match["plain" + group])
    if not match["top" + group]:
        return Fraction(0)
    bottom = int(match["bottom" + group])
    if not bottom:
        raise ValueError("must not have a fraction over 0")
    return int(match["whole" + group] or 0) + Fraction(int(match["top" + group]), bottom)


def round_ticks(length: Fraction | float, toward: Rounding) -> int:
    """Round a length in ticks to whole ticks.

    Parameters
    ----------
    length
        Length [ticks].
    toward
        ``up``, ``down``, or ``nearest`` with halves up.

    Examples
    --------
    >>> round_ticks(Fraction(1, 2), "nearest"), round_ticks(Fraction(7, 2), "down")
    (1, 3)
    """
    if toward == "up":
        return math.ceil(length)
    if toward == "down":
        return math.floor(length)
    return math.floor(length + Fraction(1, 2))


def tape(ticks: int, unit: Unit) -> str:
    """Return a length as a person reads it off a tape.

    Examples
    --------
    >>> tape(1689, INCH), tape(192, INCH), tape(9, INCH), tape(2682, MM)
    ('8\\'-9 9/16"', '1\\'-0"', '9/16"', '2682 mm')
    """
    if unit.name == "mm":
        return f"{ticks} mm"
    sign = "-" if ticks < 0 else ""
    feet, rest = divmod(abs(ticks), 12 * unit.ticks)
    if not feet:
        return sign + _inches(rest, unit)
    return f"{sign}{feet}'-" + ("0 " if 0 < rest < unit.ticks else "") + _inches(rest, unit)


def inches(ticks: int, unit: Unit) -> str:
    """Return a length in inches only, or in millimetres: the way a width is spoken of.

    Examples
    --------
    >>> inches(576, INCH), inches(40, INCH), inches(914, MM)
    ('36"', '2 1/2"', '914 mm')
    """
    if unit.name == "mm":
        return f"{ticks} mm"
    return ("-" if ticks < 0 else "") + _inches(abs(ticks), unit)


def _inches(ticks: int, unit: Unit) -> str:
    whole, part = divmod(ticks, unit.ticks)
    if not part:
        return f'{whole}"'
    fraction = Fraction(part, unit.ticks)
    text = f"{fraction.numerator}/{fraction.denominator}"
    return f'{whole} {text}"' if whole else f'{text}"'
