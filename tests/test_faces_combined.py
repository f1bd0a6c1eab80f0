"""Two profiles combined: the result is nowhere below the exact one, and less than a tick and a bit above it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.faces import combined, cut_by_line
from layout.records import Hole, Profile
from layout.shapes import value


def test_a_valley_between_ticks_is_not_cut_off() -> None:
    """Grade falls under a sloping footing 0.3 of a tick past a station: the station keeps the grade's height."""
    line: Profile = ((860, 653), (1585, -522))
    footing: Profile = ((860, -547), (1585, -511))
    joined = combined(line, footing, lower=False)
    for station in (1570, 1577, 1578, 1579, 1585):
        exact = max(value(line, station, from_right=False), value(footing, station, from_right=False))
        assert value(joined, station, from_right=False) >= exact


def test_the_line_is_rounded_once_however_often_it_is_combined() -> None:
    """Grade under a wall top, over a stepped footing, past two windows: nowhere a tick above the exact one."""
    grade: Profile = ((0, 1003), (4993, 765))
    top: Profile = ((0, 2601), (4993, 2601))
    footing: Profile = ((0, 0), (1777, 0), (1777, 148), (2826, 148), (2826, -313), (4993, -313))
    line = combined(combined(top, grade, lower=True), footing, lower=False)
    for hole in (Hole("W1", "vent", 3888, 4572, 190, 1358), Hole("W2", "window", 794, 2273, 452, 924)):
        line, _ = cut_by_line(line, hole)
    for station in range(1, 1658):
        assert value(line, station, from_right=False) == value(grade, station, from_right=False)


levels = st.integers(min_value=-300, max_value=300)


@st.composite
def profiles(draw: st.DrawFn, length: int = 400) -> Profile:
    stations = sorted(draw(st.sets(st.integers(min_value=1, max_value=length - 1), max_size=3)))
    return tuple((x, draw(levels)) for x in (0, *stations, length))


def test_a_rising_corner_between_ticks_is_not_cut_off() -> None:
    """Both lines rise through their crossing: the tick after it is higher than the crossing."""
    a: Profile = ((0, 0), (400, 95))
    b: Profile = ((0, -26), (44, 19), (400, 0))
    assert value(combined(a, b, lower=True), 35, from_right=False) >= Fraction(35 * 95, 400)


@pytest.mark.parametrize("lower", [True, False])
@settings(max_examples=60, deadline=None)
@given(a=profiles(), b=profiles())
def test_never_below_the_exact_one(lower: bool, a: Profile, b: Profile) -> None:
    joined = combined(a, b, lower=lower)
    pick = min if lower else max
    for step in range(0, 801, 13):
        station = Fraction(step, 2)
        exact = pick(value(a, station, from_right=False), value(b, station, from_right=False))
        assert value(joined, station, from_right=False) >= exact
