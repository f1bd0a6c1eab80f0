"""The search against a twin that tries everything, on cases tiny enough for that."""

import sys

import pytest

from helpers.exhaustive import exhaustive, tiny
from layout.rolls import Item, Problem, Stock, solve
from layout.rolls.assemble import faults


@pytest.mark.parametrize("start", range(0, 300, 30))
def test_solve_equals_trying_everything(start: int) -> None:
    for seed in range(start, start + 30):
        problem = tiny(seed)
        best = exhaustive(problem)
        answer = solve(problem)
        if best is None:
            assert answer is None, seed
            continue
        assert answer is not None, seed
        patterns = [pattern for pattern, count in answer.patterns for _ in range(count)]
        assert not faults(problem, patterns), seed
        assert answer.proof.bound <= best <= answer.cost, (seed, answer.proof.bound, best, answer.cost)
        assert answer.optimal and answer.cost == best, (seed, answer.proof.bound, best, answer.cost)


def test_a_lane_is_cross_cut_again() -> None:
    # beside one piece 100 long and 24 wide, a lane of 12 holds two of 50: one roll, where rips alone take two
    problem = Problem((Item(100, 24, 1), Item(50, 12, 2)), (Stock(100, 36, 10),))
    answer = solve(problem)
    assert answer is not None
    assert (answer.cost, answer.proof.bound, answer.rolls) == (10, 10, 1)


@pytest.mark.parametrize("start", range(0, 300, 60))
def test_the_searches_for_many_pieces_hold_for_few(start: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.modules["layout.rolls.solve"], "FEW", 0)
    for seed in range(start, start + 60):
        problem = tiny(seed)
        best = exhaustive(problem)
        answer = solve(problem)
        if best is not None and answer is not None:
            assert answer.proof.bound <= best <= answer.cost, (seed, answer.proof.bound, best, answer.cost)
            patterns = [pattern for pattern, count in answer.patterns for _ in range(count)]
            assert not faults(problem, patterns), seed
