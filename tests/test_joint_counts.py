"""Rolls that are proven too few: against every cutting of every choice of layouts."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest

from layout.errors import SolverError
from layout.joint.choices import RollChoice, roll_choices
from layout.joint.cases import Case, least_of_counts
from layout.joint.counts import Counts
from layout.joint.market import Sharing, Terms, Want
from layout.joint.ripping import best_ripping
from layout.joint.weights import OWN, Count, Part, Prices, blocks, thirds, threshold, weights
from layout.milp import Program
from layout.rolls import Stock

SHARING = Sharing(width=36, narrowest=12)
Layouts = Sequence[Sequence[Sequence[Want]]]


def cut(wants: Sequence[Want], rolls: Sequence[int], width: int) -> tuple[int, ...] | None:
    """Try every way to lay pieces, the longest first, into blocks of some rolls; return the blocks' lengths."""
    pieces = sorted(((want.length, want.width) for want in wants for _ in range(want.count)), reverse=True)

    def lay(at: int, room: tuple[int, ...], blocks: tuple[tuple[int, int], ...]) -> tuple[int, ...] | None:
        if at == len(pieces):
            return tuple(length for length, _ in blocks)
        length, wide = pieces[at]
        # a block is as long as its first piece, so any of those after it fits along
        for i, (long, left) in enumerate(blocks):
            if left >= wide:
                found = lay(at + 1, room, (*blocks[:i], (long, left - wide), *blocks[i + 1:]))
                if found is not None:
                    return found
        for i, left in enumerate(room):
            if left >= length and left not in room[:i]:
                found = lay(at + 1, (*room[:i], left - length, *room[i + 1:]), (*blocks, (length, width - wide)))
                if found is not None:
                    return found
        return None

    return lay(0, tuple(rolls), ())


def cheapest(layouts: Layouts, sharing: Sharing, run: int, prices: Prices) -> tuple[Sequence[Want], int]:
    """Return the layout of a run that costs the least, and its cost."""
    longest = len(prices.wide) - 1

    def cost(want: Want) -> int:
        length = min(want.length, longest)
        wide = int(prices.wide[length])
        if want.width < sharing.narrowest:
            return 0
        narrow = prices.narrow(length, want.width)
        return want.count * (min(narrow, wide) if want.width <= sharing.widest else wide)

    costs = [sum(map(cost, wants)) for wants in layouts[run]]
    least = min(costs)
    return layouts[run][costs.index(least)], least


def some_layout(rng: random.Random, sharing: Sharing, pieces: int) -> list[Want]:
    lengths = rng.sample(range(5, 14), 3)
    return [
        Want(rng.choice(lengths), rng.choice([sharing.width, rng.randint(sharing.narrowest, sharing.width)]), 1)
        for _ in range(pieces)
    ]


@pytest.mark.parametrize("seed", range(300))
def test_rolls_are_too_few_only_where_nothing_can_be_cut_from_them(seed: int) -> None:
    """And no case that some cutting falls in is ever closed, however wrong the program's duals are."""
    rng = random.Random(seed)
    width = rng.choice([36, 36, 31])
    sharing = Sharing(width, rng.choice([12, 8, 11, 18]))
    runs = rng.randint(1, 3)
    layouts = [[some_layout(rng, sharing, rng.randint(1, 3)) for _ in range(rng.randint(1, 4))] for _ in range(runs)]
    fixed = tuple(some_layout(rng, sharing, rng.randint(0, 1)))
    stocks = (Stock(rng.randint(13, 30), width, 9), Stock(rng.randint(13, 20), width, 7))
    counts = Counts(
        Terms(stocks, sharing, runs, fixed), lambda run, prices: cheapest(layouts, sharing, run, prices), lambda: False,
        closer=seed % 2 == 0,
    )
    possible = []
    for rolls in product(range(3), repeat=2):
        lengths = [stock.length for stock, count in zip(stocks, rolls, strict=True) for _ in range(count)]
        few = counts.too_few(rolls, cases=60)
        for chosen in product(*layouts):
            found = cut([*fixed, *(want for wants in chosen for want in wants)], lengths, width)
            if found is not None:
                assert not few, (rolls, layouts)
                possible.append((chosen, found, rolls))
    for case in rng.choices(possible, k=8) if possible else ():
        assert not closed_by_wrong_duals(counts, *case, rng), (case, counts.case)


def closed_by_wrong_duals(
    counts: Counts, chosen: Sequence[Sequence[Want]], found: Sequence[int], rolls: Sequence[int],
    rng: random.Random,
) -> bool:
    """Tell whether a case that a choice of layouts and the blocks cut for it fall in is closed."""
    least, most = {}, {}
    for of in ("blocks", *OWN):
        for _ in range(rng.randint(0, 3)):
            run, length = rng.randrange(len(chosen)), rng.choice(counts.lengths)
            count = blocks(length) if of == "blocks" else Count(of, run, length)
            have = sum(one >= length for one in found) if of == "blocks" \
                else counts._pieces(run, chosen[run]).count(count)
            if of != "blocks":
                counts._count_own(count)
            if rng.random() < 0.6:
                least[count] = max(0, have - rng.choice((0, 0, 1)))
            if rng.random() < 0.6:
                most[count] = have + rng.choice((0, 0, 1))
    sizes = [
        (max(one for one in counts.lengths if one <= part.length), width)
        for run, wants in enumerate(chosen) for part in counts._pieces(run, wants).parts for width in part.narrow
        if part.length >= counts.lengths[0]
    ]
    for _ in range(rng.randint(0, 2) if sizes else 0):
        together = best_ripping(
            counts.sharing, {size: rng.uniform(0.5, 2) for size in sizes},
            {length: rng.uniform(0, 2) for length in counts.lengths},
        )
        if together:
            counts._rip(together)
    counts.case = Case(least, most)
    counts._bound_counts()
    answer = counts._solved()
    duals = answer.duals.copy()
    for row in range(len(duals)):
        if rng.random() < 0.4:
            duals[row] = rng.uniform(-1, 1) * (1 + abs(answer.duals).max())
    closed, _ = counts._closes(counts._worths(replace(answer, duals=duals)), rolls)
    return closed


def test_most_rolls_that_are_too_few_are_told() -> None:
    told, few = 0, 0
    for seed in range(60):
        rng = random.Random(seed)
        layouts = [[some_layout(rng, SHARING, 3) for _ in range(3)] for _ in range(2)]
        stocks = (Stock(20, 36, 1),)
        counts = Counts(
            Terms(stocks, SHARING, 2, ()), lambda run, prices: cheapest(layouts, SHARING, run, prices), lambda: False,
        )
        rolls = next(n for n in range(9) if any(
            cut([want for wants in chosen for want in wants], [20] * n, 36) is not None for chosen in product(*layouts)
        ))
        few += 1
        told += counts.too_few((rolls - 1,), cases=60)
        assert not counts.too_few((rolls,), cases=60)
    assert told > few * 0.8


def test_three_drops_wider_than_half_need_three_blocks() -> None:
    """By area two blocks are enough, 3 * 20 / 36 of one being less; no two of them fit side by side."""
    layouts = [[[Want(10, 20, 3)]]]
    counts = Counts(
        Terms((Stock(10, 36, 1),), Sharing(36, 16), 1, ()),
        lambda run, prices: cheapest(layouts, Sharing(36, 16), run, prices), lambda: False,
    )
    assert counts.too_few((2,), cases=20)
    assert not counts.too_few((3,), cases=20)


def test_a_program_that_ends_early_proves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Program, "solve_linear", unsolved)
    layouts = [[[Want(10, 36, 3)]]]
    counts = Counts(
        Terms((Stock(10, 36, 1),), SHARING, 1, ()),
        lambda run, prices: cheapest(layouts, SHARING, run, prices), lambda: False,
    )
    assert not counts.too_few((2,), cases=20)


def unsolved(program: Program) -> None:
    raise SolverError("the linear program was not solved: Iteration limit reached")


def test_blocks_are_counted_whole() -> None:
    """A wide drop and 24 and 20 of others are 2.22 blocks: a roll of 2.5 holds them in parts, but not three."""
    layouts = [[[Want(10, 36, 1), Want(10, 24, 1)]], [[Want(10, 20, 1)]]]
    counts = Counts(
        Terms((Stock(25, 36, 1),), SHARING, 2, ()),
        lambda run, prices: cheapest(layouts, SHARING, run, prices), lambda: False,
    )
    assert counts.too_few((1,), cases=20)
    assert not counts.too_few((2,), cases=20)


@pytest.mark.parametrize("seed", range(200))
def test_what_fits_side_by_side_weighs_no_more_than_a_block(seed: int) -> None:
    rng = random.Random(seed)
    width = rng.randint(20, 60)
    sharing = Sharing(width, rng.randint(2, width // 2))
    fits: list[int] = []
    while (left := width - sum(fits)) >= sharing.narrowest and len(fits) < 6:
        fits.append(rng.randint(sharing.narrowest, left))
    part = Part(
        5, sum(one > sharing.widest for one in fits), tuple(sorted(one for one in fits if one <= sharing.widest)),
    )
    lows = range(sharing.narrowest + 1, width // 2 + 1)
    for weight in [*weights(sharing), thirds(sharing), *(threshold(sharing, low) for low in lows)]:
        assert part.wide + Fraction(sum(weight.at(one)[0] for one in part.narrow), weight.whole) <= 1
        rising = [weight.at(one)[0] for one in range(sharing.narrowest, sharing.widest + 1)]
        assert rising == sorted(rising)
        for one, more in zip(range(sharing.narrowest, sharing.widest), rising[1:], strict=True):
            value, tick = weight.at(one)
            assert more == value + tick or any(step[0] == one + 1 for step in weight.steps)


@pytest.mark.parametrize("seed", range(200))
def test_the_least_sum_of_falling_counts(seed: int) -> None:
    rng = random.Random(seed)
    count = rng.randint(1, 4)
    mosts = sorted((rng.randint(2, 5) for _ in range(count)), reverse=True)
    leasts = sorted((rng.randint(0, 2) for _ in range(count)), reverse=True)
    worths = [rng.randint(-5, 5) for _ in range(count)]
    bounds = list(zip(leasts, mosts, strict=True))
    every = product(*(range(least, most + 1) for least, most in bounds))
    falling = (counts for counts in every if list(counts) == sorted(counts, reverse=True))
    assert least_of_counts(worths, bounds) == min(
        sum(worth * n for worth, n in zip(worths, counts, strict=True)) for counts in falling
    )


@pytest.mark.parametrize("seed", range(60))
def test_every_choice_of_rolls_between_two_costs(seed: int) -> None:
    rng = random.Random(seed)
    stocks = [Stock(rng.randint(20, 60), 36, rng.randint(3, 9)), Stock(rng.randint(20, 60), 36, rng.randint(3, 9), 2),
              Stock(rng.randint(4, 30), 36, 0, rng.randint(1, 3))]
    least, below = rng.randint(0, 20), rng.randint(10, 40)
    expected = {
        RollChoice(cost, (some, more, stocks[2].count or 0))
        for some in range(15) for more in range(3)
        if least <= (cost := some * stocks[0].cost + more * stocks[1].cost) < below
    }
    found = list(roll_choices(stocks, least, below))
    assert set(found) == expected and len(found) == len(expected)
    for one, other in product(found, repeat=2):
        mine, theirs = (
            sorted((-stock.length for stock, n in zip(stocks, choice.rolls, strict=True) for _ in range(n)))
            for choice in (one, other)
        )
        assert one.within(other, stocks) == (
            len(mine) <= len(theirs) and all(length >= longer for length, longer in zip(mine, theirs, strict=False))
        )
