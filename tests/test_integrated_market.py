"""What lengths are worth and what that proves: against twins that try every case."""

from __future__ import annotations

import random
from itertools import product

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from helpers.small_walls import random_wall
from helpers.thinned import thinned
from layout.integrated.market import Market, Sharing, Terms, Want, Worth, Yield, least_cover
from layout.integrated.search import least_area
from layout.rolls import Stock

SHARING = Sharing(width=36, narrowest=12)
STOCKS = (Stock(100, 36, 9), Stock(70, 36, 7), Stock(40, 36, 0, 2))


def market(*, runs: int = 1, fixed: tuple[Want, ...] = ()) -> Market:
    return Market(Terms(STOCKS, SHARING, runs, fixed))


def least_cost(asked: int, yields: tuple[Yield, ...]) -> int:
    """Return the least cost of rolls worth what is asked, every count tried; all there is where that is not enough."""
    counts = [range(each.count + 1 if each.count is not None else asked // max(each.worth, 1) + 2) for each in yields]
    costs = [
        sum(count * each.cost for count, each in zip(chosen, yields, strict=True)) for chosen in product(*counts)
        if sum(count * each.worth for count, each in zip(chosen, yields, strict=True)) >= asked
    ]
    return min(costs)


@pytest.mark.parametrize("seed", thinned(range(200)))
def test_the_least_cost_of_whole_rolls_worth_what_is_asked(seed: int) -> None:
    rng = random.Random(seed)
    yields = [Yield(rng.randint(5, 14), rng.randint(1, 9), None)]
    for _ in range(rng.randint(0, 2)):
        yields.append(Yield(rng.randint(0, 14), rng.randint(0, 9), rng.randint(0, 3)))
    if rng.random() < 0.5:
        yields.append(Yield(rng.randint(3, 14), rng.randint(1, 9), None))
    rng.shuffle(yields)
    asked = rng.randint(0, 60)
    assert least_cover(asked, yields) == least_cost(asked, tuple(yields))


def test_with_many_kinds_of_rolls_the_least_cost_is_bounded() -> None:
    rng = random.Random(1)
    equal = 0
    for _ in range(60):
        yields = tuple(Yield(rng.randint(4, 9), rng.randint(3, 9), None) for _ in range(6))
        asked = rng.randint(1, 25)
        found, least = least_cover(asked, yields), least_cost(asked, yields)
        assert found <= least
        equal += found == least
    assert equal > 30


def test_nothing_that_costs_nothing_is_counted() -> None:
    assert least_cover(1000, [Yield(5, 0, None), Yield(9, 4, None)]) == 0
    assert least_cover(10, [Yield(0, 3, None), Yield(4, 3, 2)]) == 6  # all there is, though it is not enough


def adds_up(worth: Worth) -> None:
    """Check that two lengths are never worth more than one as long as both, and no roll more than it costs."""
    table = worth.table
    for length in range(len(table)):
        assert (table[:length + 1] + table[length::-1] <= table[length]).all()
    for stock in STOCKS:
        if stock.count is None:
            assert table[stock.length] <= stock.cost * worth.scale


def test_worths_add_up_whichever_way_they_were_found() -> None:
    program = market()
    program.add_layout(0, [Want(33, 36, 4), Want(21, 36, 3), Want(26, 15, 2)])
    program.add_layout(0, [Want(31, 36, 5), Want(21, 36, 2)])
    by_length, settled = program.by_length(), program.settle()
    for worth in (by_length, settled, program.between(by_length, settled)):
        adds_up(worth)
        assert worth.table[-1] > 0
    assert not np.array_equal(by_length.table, settled.table)


def test_a_bound_by_worths_in_figures() -> None:
    """Five pieces of 31 and two of 21, whole width: 197 in all, of which two remnants of 40 hold one 31 each.

    By length 197 less 80 leave 117 to buy: 100 and 70 for 16 at least, since two rolls of 70 for 14 hold 140. So the
    least is 14; and in truth three pieces of 31 and two of 21 fit in rolls of 70: 31 + 31, and 31 + 21, one 21 is left,
    which no remnant takes beside its 31. 100 and 70 hold 31 + 31 + 31 and 21 + 21, for 16.
    """
    program = market()
    wants = [Want(31, 36, 5), Want(21, 36, 2)]
    program.add_layout(0, wants)

    def proven(worth: Worth) -> int:
        value = sum(int(worth.of(np.array([want.length]))[0]) * want.count for want in wants) * SHARING.width
        asked = program.asked(worth, [value])
        assert asked == value
        return program.bound(worth, asked)

    assert proven(program.by_length()) == 14
    assert proven(program.settle()) == 16


@pytest.mark.parametrize("seed", thinned(range(60)))
def test_the_area_of_a_wall_against_shapely(seed: int) -> None:
    some = random_wall(random.Random(seed), closed=False)
    shape = Polygon([*some.top, *some.bottom[::-1]])
    for hole in some.holes:
        shape = shape.difference(box(hole.left, hole.bottom, hole.right, hole.top))
    assert float(least_area(some)) <= shape.area + 1e-9
    if not some.holes:
        assert float(least_area(some)) == pytest.approx(shape.area)
