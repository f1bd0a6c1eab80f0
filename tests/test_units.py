"""Lengths: every way that people write them, the one rounding, and how they are shown."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.units import INCH, MM, UNITS, inches, read_length, round_ticks, tape

EIGHT_FOUR_AND_A_HALF = Fraction(201, 2)
"""8'-4 1/2" in inches."""


@pytest.mark.parametrize("text", [
    "8'-4 1/2\"", "8' 4.5\"", "8'4.5\"", "8' 4 1/2\"", "8'4 1/2", "8'-4-1/2\"", "8 ft 4 1/2 in", "8ft 4.5in",
    "8 feet 4 1/2 inches", "8 ft. 4.5 in.", "100 1/2\"", "100.5\"", "100-1/2\"", "100.5 in", "100.5", "100 1/2",
    "201/2", "201/2\"", " 8'-4 1/2\" ", "8′-4 1/2″", "8’-4 1/2”", "8‘ 4½“", "8'-4½\"", "8' 4 ½\"",
    "8'\u00a04\u00a01/2\"",
    "8'–4 1/2\"", "8'‑4 1/2\"", "8' - 4 1/2''", "8'-4 1⁄2\"",
    "8 FT 4 1/2 IN", "8.375'", "8.375 ft", "100½", "8'\u202f4.5\"",
])
def test_every_form_of_one_length(text: str) -> None:
    assert read_length(text, INCH) == EIGHT_FOUR_AND_A_HALF * 16


@pytest.mark.parametrize(("text", "millimetres"), [
    ("850 mm", 850), ("850mm", 850), ("85 cm", 850), ("2.44 m", 2440), ("2.44m", 2440), ("850", 850), ("850.", 850),
    ("1 in", Fraction(254, 10)), ("1'", Fraction(3048, 10)), ("1'-0\"", Fraction(3048, 10)), (".5 m", 500),
])
def test_metric_forms(text: str, millimetres: Fraction) -> None:
    assert read_length(text, MM) == millimetres


@pytest.mark.parametrize(("text", "inch"), [
    ("7 ft", 84), ("7'", 84), ("2.5 in", Fraction(5, 2)), ("2 1/2", Fraction(5, 2)), ("3/4", Fraction(3, 4)),
    ("0", 0), ("0'-0\"", 0), ("-2'-1\"", -25), ("−6 1/2\"", Fraction(-13, 2)), ("- 3", -3), ("25.4 mm", 1),
    ("¾", Fraction(3, 4)), ("⅛\"", Fraction(1, 8)), ("0'-0 5/16\"", Fraction(5, 16)),
    ("1'-11 15/16", Fraction(383, 16)),
])
def test_inch_forms(text: str, inch: Fraction) -> None:
    assert read_length(text, INCH) == inch * 16


@pytest.mark.parametrize(("number", "inch"), [(36, 36), (2.5, Fraction(5, 2)), (0.1, Fraction(1, 10)), (-4, -4)])
def test_bare_numbers_are_in_the_jobs_unit_and_exact(number: float, inch: Fraction) -> None:
    assert read_length(number, INCH) == inch * 16
    assert read_length(number, MM) == inch


@pytest.mark.parametrize("text", [
    "", " ", "'", '"', "-", "8'-", "ft", "8'-4'", "4\" 8'", "8'-4 1/2\" 3", "1/2/3", "1//2", "1e3",
    "8'-4 1/2 mm", "2.44 km",
    "8'--4\"", "--4", "+4", "4,5", "1 2", "1 1", "0x10", "nan", "inf", "٣", "८'", "8'-4 1/", "x" * 61, "1.2.3", "1_000",
    "8' -4 -1/2 -1", "²", "3 yd", "½½",
])
def test_what_is_no_length(text: str) -> None:
    with pytest.raises(ValueError, match="must"):
        read_length(text, INCH)


@pytest.mark.parametrize(("value", "words"), [
    (None, "must be a length"), (True, "must be a length"), ([1], "must be a length"), ({}, "must be a length"),
    (float("nan"), "must be a finite length"), (float("inf"), "must be a finite length"),
    ("8'-12\"", "must have less than 12 inches beside the feet"), ("4 1/0", "must not have a fraction over 0"),
    ("1/0", "must not have a fraction over 0"),
])
def test_the_words_of_the_rule(value: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        read_length(value, INCH)


@pytest.mark.parametrize(("length", "toward", "ticks"), [
    (Fraction(1, 10), "up", 1), (Fraction(1, 10), "down", 0), (Fraction(1, 10), "nearest", 0),
    (Fraction(1, 2), "nearest", 1),
    (Fraction(-1, 2), "nearest", 0), (Fraction(-1, 10), "up", 0), (Fraction(-1, 10), "down", -1),
    (7, "up", 7), (7, "down", 7),
])
def test_round_ticks(length: Fraction, toward: str, ticks: int) -> None:
    assert round_ticks(length, toward) == ticks  # type: ignore[arg-type]


@pytest.mark.parametrize(("ticks", "shown"), [
    (0, '0"'), (1, '1/16"'), (16, '1"'), (191, '11 15/16"'), (192, "1'-0\""), (193, "1'-0 1/16\""), (200, "1'-0 1/2\""),
    (1608, "8'-4 1/2\""), (-400, "-2'-1\""), (-8, '-1/2"'), (12800, "66'-8\""),
])
def test_tape(ticks: int, shown: str) -> None:
    assert tape(ticks, INCH) == shown


def test_tape_in_millimetres() -> None:
    assert (tape(2682, MM), tape(-5, MM)) == ("2682 mm", "-5 mm")


def test_inches() -> None:
    assert (inches(576, INCH), inches(40, INCH), inches(-40, INCH), inches(914, MM)) == (
        '36"', '2 1/2"', '-2 1/2"', "914 mm")


def test_areas() -> None:
    """178,416 sq in is 1239 sq ft (144 sq in each)."""
    assert INCH.area(178416 * 256) == 1239
    assert MM.area(2_500_000) == 2.5
    assert (INCH.area_name, MM.area_name) == ("sq ft", "m²")


@given(st.integers(-10**7, 10**7), st.sampled_from(sorted(UNITS)))
def test_what_is_shown_reads_as_itself(ticks: int, name: str) -> None:
    unit = UNITS[name]
    assert read_length(tape(ticks, unit), unit) == ticks
    assert read_length(inches(ticks, unit), unit) == ticks
    assert read_length(unit.number(ticks), unit) == ticks


@given(st.fractions(min_value=-10**6, max_value=10**6))
def test_rounding_is_on_the_side_it_names(length: Fraction) -> None:
    up, down, nearest = (round_ticks(length, toward) for toward in ("up", "down", "nearest"))  # type: ignore[arg-type]
    assert down <= length <= up and up - down <= 1
    assert abs(nearest - length) <= Fraction(1, 2)


@given(st.one_of(
    st.text(max_size=80),
    st.text(alphabet="0123456789 '\"-/.ftinmc½′″\u00a0", max_size=70),
    st.floats(), st.integers(), st.booleans(), st.none(),
))
def test_any_value_is_a_length_or_a_value_error(value: object) -> None:
    for unit in UNITS.values():
        try:
            assert isinstance(read_length(value, unit), Fraction)
        except ValueError as error:
            assert str(error).startswith("must")
