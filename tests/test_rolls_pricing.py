"""Pricing, listing and totals against plain enumeration on small cases."""

from itertools import product
from random import Random

import numpy as np
import pytest

from helpers.listing import Lister
from helpers.long_rolls import LongKnapsack

from layout.rolls import Problem, Stock
from layout.rolls.pricing import Knapsack
from layout.rolls.totals import Totals, fewest_for


def every(lengths: list[int], bounds: list[int], roll: int) -> list[tuple[int, ...]]:
    """Return every pattern of a roll."""
    return [
        counts for counts in product(*(range(bound + 1) for bound in bounds))
        if sum(count * length for count, length in zip(counts, lengths)) <= roll
    ]


def case(seed: int) -> tuple[list[int], list[int], list[int], list[int]]:
    """Return lengths, values, bounds and two rolls."""
    random = Random(seed)
    lengths = [random.randint(3, 20) for _ in range(random.randint(1, 4))]
    return lengths, [random.randint(0, 30) for _ in lengths], [random.randint(1, 4) for _ in lengths], [40, 27]


@pytest.mark.parametrize("kind", [Knapsack, LongKnapsack])
def test_worth_equals_the_best_of_every_pattern(kind: type[Knapsack] | type[LongKnapsack]) -> None:
    for seed in range(60):
        lengths, values, bounds, rolls = case(seed)
        table = kind(lengths, rolls).price(values, bounds)
        for place, roll in enumerate(rolls):
            worths = [sum(map(int.__mul__, counts, values)) for counts in every(lengths, bounds, roll)]
            assert table.value(roll) == max(worths), seed
            for counts in table.patterns(place, 0, 5):
                assert sum(lengths[part] * count for part, count in counts.items()) <= roll
                assert all(count <= bounds[part] for part, count in counts.items())
            found = table.patterns(place, 0, 5)
            if found:
                assert sum(values[part] * count for part, count in found[0].items()) == max(worths), seed


def test_listing_is_every_full_pattern_worth_enough() -> None:
    for seed in range(60):
        lengths, values, bounds, (roll, _) = case(seed)
        least = 25
        patterns = every(lengths, bounds, roll)
        full = {
            counts for counts in patterns
            if sum(map(int.__mul__, counts, values)) >= least and not any(
                count < bound and sum(map(int.__mul__, counts, lengths)) + length <= roll
                for count, bound, length in zip(counts, bounds, lengths))
        }
        for grid in (1, 7):
            listing = Lister(lengths, [values], bounds, roll, grid=grid).patterns(roll, [least], 10_000)
            assert listing is not None
            found = set()
            for number in range(len(listing)):
                counts = [0] * len(lengths)
                for entry in range(int(listing.start[number]), int(listing.start[number + 1])):
                    counts[int(listing.part[entry])] = int(listing.count[entry])
                found.add(tuple(counts))
            assert found == full, (seed, grid)


def test_listing_says_none_when_there_are_too_many() -> None:
    lister = Lister([3, 4, 5, 6, 7], [[1] * 5], [9] * 5, 60)
    assert lister.patterns(60, [0], 10) is None


def test_totals_are_the_sums_that_can_occur() -> None:
    totals = Totals(Problem((), (Stock(10, 1, 205), Stock(8, 1, 163, 2))))
    sums = {205 * a + 163 * b for a in range(20) for b in range(3)}
    for total in range(0, 2000, 7):
        assert totals.at_least(total) == min(s for s in sums if s >= total)


def test_fewest_rolls_for_a_total() -> None:
    assert fewest_for([(2, None), (3, None)], 12) == 4
    assert fewest_for([(2, None), (3, 1)], 12) == 6
    assert fewest_for([(5, None)], 12) == 0


def test_values_past_32_bits_stay_exact() -> None:
    big = 2**36 // 3
    table = Knapsack([3, 5], [11]).price([big, 2 * big - 1], [3, 2])
    assert table.value(11) == max(3 * big, 2 * (2 * big - 1), 2 * big + 2 * big - 1)
    assert table.worth.dtype == np.int64
