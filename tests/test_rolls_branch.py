"""The tree of linear programs, made to work on small cases that one integer program would settle at once."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from helpers import tree as tree_of_programs
from helpers.pool import gather_columns
from helpers.tree import Tree, close_by_tree
from helpers.whole import solve_closing

from layout.rolls import Effort, Item, Problem, Stock, solve
from layout.rolls.assemble import faults
from layout.rolls.master import Master


def case(seed: int) -> Problem:
    """Return pieces to be cut from rolls of three lengths, one of them limited."""
    random = Random(seed)
    lengths = sorted(random.sample(range(17, 70), random.randint(4, 9)), reverse=True)
    items = tuple(Item(length, 10, random.randint(1, 3)) for length in lengths)
    return Problem(items, (Stock(100, 10, random.choice((9, 10, 11))), Stock(63, 10, 6), Stock(80, 10, 8, 2)))


def tree(problem: Problem, target: int) -> tuple[Tree, int]:
    """Return a tree over every pattern that a cutting of a cost could use, and how many there are.

    No node is given to an integer program: the tree cuts and branches to the end.
    """
    master = Master(problem)
    state = master.solve(rounds=5000, effort=Effort())
    assert state.priced is not None
    pool = gather_columns(master, [state.priced], target, 500_000)
    assert pool is not None
    return Tree(master, pool, target, Effort(), "every pattern", at_once=0), len(pool)


@pytest.mark.parametrize(("cases", "least_found", "least_proven", "least_branched"), [
    (30, 24, 5, 2), pytest.param(150, 121, 26, 11, marks=pytest.mark.slow)])
def test_a_tree_finds_the_least_and_proves_that_there_is_no_less(
    cases: int, least_found: int, least_proven: int, least_branched: int,
) -> None:
    found = proven = branched = 0
    for seed in range(cases):
        problem = case(seed)
        least = solve(problem, Effort())
        assert least is not None and least.optimal
        at_least, size = tree(problem, least.cost)
        if size:
            closed = at_least.run(400)
            assert closed.least is None or closed.least <= least.cost, seed
            if closed.patterns is not None:
                assert faults(problem, closed.patterns) == [], seed
                assert sum(problem.stocks[pattern.stock].cost for pattern in closed.patterns) == least.cost, seed
                found += 1
        below, size = tree(problem, least.cost - 1)
        if size:
            closed = below.run(400)
            assert closed.patterns is None, seed
            proven += closed.least == least.cost
            branched += below.nodes > 1
    assert found >= least_found and proven >= least_proven and branched >= least_branched


@pytest.mark.parametrize("seed", [7, 25, 61, 84, 94, 128])
def test_closing_by_the_tree_finds_the_least_and_nothing_below(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    problem = case(seed)
    least = solve(problem)
    assert least is not None and least.optimal
    monkeypatch.setattr(tree_of_programs, "FEW", 0)
    master = Master(problem)
    state = master.solve(rounds=5000)
    assert state.priced is not None and state.proof is not None
    closed = close_by_tree(master, state.priced, least.cost, Effort())
    assert closed.patterns is not None and faults(problem, closed.patterns) == []
    assert sum(problem.stocks[pattern.stock].cost for pattern in closed.patterns) == least.cost
    if state.proof.bound < least.cost:
        below = close_by_tree(master, state.priced, state.proof.bound, Effort())
        assert below.patterns is None and below.least == state.proof.bound + 1


def test_a_gap_is_closed_where_rolls_are_of_one_kind() -> None:
    # without dives first fit stands: one roll more than the bound
    for seed in (0, 12, 19):
        sized = case(seed)
        problem = Problem(tuple(replace(item, demand=2 * item.demand) for item in sized.items), sized.stocks[:1])
        alone, closed = solve(problem, Effort(dives=0)), solve_closing(problem, Effort(dives=0))
        assert alone is not None and not alone.optimal
        assert closed is not None and closed.optimal and closed.cost == alone.proof.bound
