"""Outlines on whole ticks: they cover the shape they stand for, however steep its edges are."""

from __future__ import annotations

import random

import pytest
from shapely.geometry import Polygon

from layout.pieces.field import whole_holes, whole_ring
from layout.shapes import circle_ring


def covers(shape: Polygon) -> bool:
    """Tell whether a shape's outline on whole ticks is a simple one and leaves none of the shape out."""
    ring = Polygon(whole_ring(shape))
    return bool(ring.is_valid and shape.difference(ring).area < 1e-6)


@pytest.mark.parametrize("corners", [
    [(0, 0), (0, 1600), (8.3, 1376.4), (9.7, 0.2)],            # grade that falls 86 in within 1/8 in
    [(0, 0), (14, 0), (14, 200), (7.4, 2000.7), (7.1, 200)],   # a spike narrower than a tick
    [(0, 0), (30, 0), (30, 1000), (15.6, 1000), (15.5, 20.5), (15.4, 1000), (0, 1000)],  # a slot narrower than a tick
    [(15, 1431), (29, 4), (2.0987068032832545, 1850), (25.015118260447867, 27),
     (29.03660184000921, 0.5077864482198844)],                 # no choice of ticks around it does
])
def test_steep_corners_stay_covered(corners: list[tuple[float, float]]) -> None:
    assert covers(Polygon(corners))


@pytest.mark.parametrize("shapes", [100, pytest.param(400, marks=pytest.mark.slow)])
def test_any_outline_is_covered(shapes: int) -> None:
    """Corners on ticks and off them, shapes a few ticks wide and over a hundred inches high."""
    chance = random.Random(5)
    tried = 0
    while tried < shapes:
        corners = [(chance.randint(0, 30) + chance.choice((0, 0, chance.random())),
                    chance.choice((chance.randint(0, 30), chance.randint(0, 2000)))
                    + chance.choice((0, 0, chance.random()))) for _ in range(chance.choice((3, 4, 5)))]
        shape = Polygon(corners)
        if shape.is_valid and shape.area > 20:
            tried += 1
            assert covers(shape), corners


def test_an_outline_grows_no_wider_than_its_ticks() -> None:
    shape = Polygon([(0, 0), (36.0, 0), (36.0, 100.5), (0, 120.25)])
    xs, ys = zip(*whole_ring(shape))
    assert (min(xs), max(xs), min(ys), max(ys)) == (0, 36, 0, 121)
    assert Polygon(whole_ring(shape)).area - shape.area < 36 * 1.0


def test_a_shape_on_the_ticks_stays_as_it_is() -> None:
    assert whole_ring(Polygon([(0, 0), (0, 90), (30, 90), (30, 0)])) == ((0, 90), (30, 90), (30, 0), (0, 0))


def test_the_hole_of_two_sleeves_that_meet_stays_within_them() -> None:
    one, other = (Polygon(circle_ring(x, y, d)) for x, y, d in ((157, 365, 33), (104, 357, 88)))
    both = one.union(other)
    assert any(x != round(x) for x, _ in both.exterior.coords)
    holes = whole_holes(both)
    assert holes
    for ring in holes:
        assert Polygon(ring).difference(both).area == 0
    assert sum(Polygon(ring).area for ring in holes) > both.area - both.length
