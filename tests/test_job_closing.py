"""Whether a closed run closes: worked by hand, against shapely outlines, and what would close it."""

from __future__ import annotations

import math
import random

import pytest

from layout.job.closing import (
    Longer, PlanSide, Turned, allowed_gap, closes, closing_corners, closing_gap, closing_lengths, face_directions,
    turned_in_all, turns_round,
)
from layout.records import Corner
from layout.units import INCH, MM

FOOT = 192


def run_of(*sides: tuple[float, Corner]) -> list[PlanSide]:
    """Return faces given in feet, all corners square."""
    return [PlanSide(round(feet * FOOT), corner, 90.0) for feet, corner in sides]


ELL = run_of((40, "outside"), (18, "outside"), (16, "inside"), (10, "outside"), (24, "outside"), (28, "outside"))


def regular(count: int, feet: float, angle: float) -> list[PlanSide]:
    return [PlanSide(round(feet * FOOT), "outside", angle)] * count


# --- worked by hand ------------------------------------------------------------------------------

def test_a_rectangle_closes() -> None:
    assert closing_gap(run_of((40, "outside"), (25, "outside")) * 2) == (0.0, 0.0)


def test_an_ell_closes() -> None:
    """40 = 16 + 24 across and 18 + 10 = 28 up."""
    assert closing_gap(ELL) == (0.0, 0.0)
    assert face_directions(ELL) == [0.0, 90.0, 180.0, 90.0, 180.0, 270.0]


def test_a_face_too_long_leaves_a_gap_the_way_it_runs() -> None:
    assert closing_gap([ELL[0]._replace(length=41 * FOOT), *ELL[1:]]) == (FOOT, 0.0)
    assert closing_gap([ELL[0], ELL[1]._replace(length=17 * FOOT), *ELL[2:]]) == (0.0, -FOOT)
    assert closing_gap([*ELL[:5], ELL[5]._replace(length=29 * FOOT)]) == (0.0, -FOOT)


def test_a_triangle_of_3_4_5() -> None:
    """The turns of a triangle are 180 less its angles: 90, 180 - 53.130102, 180 - 36.869898."""
    sides = [PlanSide(4 * FOOT, "outside", 90.0), PlanSide(3 * FOOT, "outside", 180 - 53.130102),
             PlanSide(5 * FOOT, "outside", 180 - 36.869898)]
    assert math.hypot(*closing_gap(sides)) < 0.001 and turns_round(sides)


@pytest.mark.parametrize(("count", "angle"), [(3, 120.0), (5, 72.0), (6, 60.0), (8, 45.0), (12, 30.0)])
def test_regular_outlines_close_and_one_side_a_foot_longer_does_not(count: int, angle: float) -> None:
    sides = regular(count, 20, angle)
    assert closes(sides, INCH)
    longer = [sides[0]._replace(length=21 * FOOT), *sides[1:]]
    assert not closes(longer, INCH)
    assert closing_gap(longer) == pytest.approx((FOOT, 0.0), abs=0.01)


def test_turns_that_do_not_go_round() -> None:
    assert turned_in_all(ELL) == 360 and turned_in_all(ELL[:3]) == 90
    assert not closes(run_of((10, "outside"), (10, "outside")), INCH)


# --- what is allowed -----------------------------------------------------------------------------

@pytest.mark.parametrize(("ticks", "closed"), [(8, True), (-8, True), (9, False), (-9, False)])
def test_half_an_inch_is_allowed(ticks: int, closed: bool) -> None:
    assert closes([ELL[0]._replace(length=40 * FOOT + ticks), *ELL[1:]], INCH) == closed


@pytest.mark.parametrize(("ticks", "closed"), [(13, True), (14, False)])
def test_13_mm_are_allowed(ticks: int, closed: bool) -> None:
    sides = [PlanSide(12_000, "outside", 90.0), PlanSide(8_000, "outside", 90.0)] * 2
    assert closes([sides[0]._replace(length=12_000 + ticks), *sides[1:]], MM) == closed


def test_the_last_digit_of_an_angle_may_be_rounded_and_whole_degrees_are_exact() -> None:
    """An angle to a tenth moves what lies 20 ft beyond by up to 20 ft x 0.05 degrees: 3.35 ticks."""
    assert allowed_gap(ELL, INCH) == 8
    wide = [PlanSide(20 * FOOT, "outside", 90.5), *regular(3, 20, 90.0)]
    assert allowed_gap(wide, INCH) == pytest.approx(8 + 20 * FOOT * math.radians(0.05), rel=0.01)
    assert allowed_gap(regular(6, 20, 60.0), INCH) == 8


@pytest.mark.parametrize("digits", [1, 2, 3])
def test_a_surveyed_outline_closes_with_its_angles_rounded(digits: int) -> None:
    """Random convex outlines measured exactly, their angles then written with a few digits."""
    rng = random.Random(digits)
    for _ in range(40):
        turns = sorted(rng.uniform(0, 360) for _ in range(5))
        points = [(3000 * math.cos(math.radians(turn)), 3000 * math.sin(math.radians(turn))) for turn in turns]
        legs = [(b[0] - a[0], b[1] - a[1]) for a, b in zip(points, [*points[1:], points[0]])]
        ways = [math.degrees(math.atan2(y, x)) for x, y in legs]
        angles = [(after - way) % 360 for way, after in zip(ways, [*ways[1:], ways[0]])]
        sides = [PlanSide(round(math.hypot(*leg)), "outside", round(angle, digits) + 10 ** -digits / 10 ** 6)
                 for leg, angle in zip(legs, angles)]
        sides = [side._replace(angle=round(side.angle, digits)) for side in sides]
        if all(side.length and side.angle != int(side.angle) for side in sides):
            assert closes(sides, INCH)


# --- what would close it -------------------------------------------------------------------------

def test_lengths_of_one_face_that_close_an_ell() -> None:
    """A foot too long to the right: South shorter, or either of the faces that run back longer."""
    assert closing_lengths([ELL[0]._replace(length=41 * FOOT), *ELL[1:]], INCH) == [
        (Longer(0, 40 * FOOT),), (Longer(2, 17 * FOOT),), (Longer(4, 25 * FOOT),)]


def test_lengths_of_two_faces_where_one_will_not_do() -> None:
    wrong = [ELL[0]._replace(length=41 * FOOT), ELL[1]._replace(length=16 * FOOT), *ELL[2:]]
    changes = closing_lengths(wrong, INCH)
    assert (Longer(0, 40 * FOOT), Longer(1, 18 * FOOT)) in changes
    assert all(len(change) == 2 for change in changes)


@pytest.mark.parametrize("seed", range(20))
def test_every_change_that_is_told_closes_the_run(seed: int) -> None:
    rng = random.Random(seed)
    angle = rng.choice([90.0, 60.0, 45.0, 72.0])
    sides = regular(round(360 / angle), rng.randint(8, 40), angle)
    for index in rng.sample(range(len(sides)), rng.choice((1, 2))):
        sides[index] = sides[index]._replace(length=sides[index].length + rng.randint(20, 400))
    changes = closing_lengths(sides, INCH)
    assert changes
    for change in changes:
        changed = list(sides)
        for longer in change:
            changed[longer.index] = changed[longer.index]._replace(length=longer.length)
        assert closes(changed, INCH)


def test_an_inside_corner_entered_as_outside_is_named() -> None:
    wrong = [*ELL[:2], ELL[2]._replace(corner="outside"), *ELL[3:]]
    assert closing_corners(wrong, INCH) == [(Turned(2, "inside", 90.0),)]


def test_an_angle_measured_inside_the_building_is_named() -> None:
    """A bay of 45 degree turns whose one angle was taken as the 135 degrees between the walls."""
    octagon = regular(8, 10, 45.0)
    wrong = [*octagon[:3], octagon[3]._replace(angle=135.0), *octagon[4:]]
    assert closing_corners(wrong, INCH) == [(Turned(3, "outside", 45.0),)]


def test_two_corners_exchanged_are_named() -> None:
    wrong = [*ELL[:2], ELL[2]._replace(corner="outside"), ELL[3]._replace(corner="inside"), *ELL[4:]]
    assert closing_corners(wrong, INCH) == [(Turned(2, "inside", 90.0), Turned(3, "outside", 90.0))]


def test_a_wrong_length_is_no_wrong_corner() -> None:
    assert closing_corners([ELL[0]._replace(length=41 * FOOT), *ELL[1:]], INCH) == []
