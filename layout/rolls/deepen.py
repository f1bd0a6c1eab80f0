"""Second chances for a dive that got stuck: keep how it began, and close the rest as a problem of its own."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from layout.rolls.assemble import complete
from layout.rolls.close import close
from layout.rolls.master import Master, RollColumn
from layout.rolls.problem import Effort, Pattern, Problem

MOST_PATTERNS = 150_000
FEW_BRANCHES = 25


def deepen(
    master: Master, history: Sequence[tuple[int, int]], share: float, target: int, effort: Effort,
) -> list[Pattern] | None:
    """Keep the first fixings of a dive and look for a cutting of the rest.

    Parameters
    ----------
    master
        Whose columns were fixed; without slots.
    history
        Column and count of each fixing, in order.
    share
        How much of the target's cost the kept fixings may take.
    target
        What the whole cutting may cost.
    effort
        Limits of the whole search; only part of it is spent here.

    Returns
    -------
    list of Pattern or None
        The whole cutting, one pattern a roll.
    """
    kept: Counter[int] = Counter()
    spent = 0
    for number, count in history:
        column = master.columns[number]
        assert isinstance(column, RollColumn)
        cost = master.problem.stocks[column.stock].cost * count
        if spent + cost > share * target:
            break
        kept[number] += count
        spent += cost
    rest = _rest(master, kept)
    smaller = Master(rest)
    state = smaller.solve(rounds=effort.rounds, effort=effort)
    if state.priced is None or state.proof is None or state.proof.bound > target - spent:
        return None
    less = replace(effort, patterns=MOST_PATTERNS, branches=FEW_BRANCHES)
    closed = close(smaller, state.priced, target - spent, less)
    if closed.patterns is None:
        return None
    began = complete(master, master.columns, kept, only=True)
    return None if began is None else began + closed.patterns


def _rest(master: Master, kept: Counter[int]) -> Problem:
    """Return the problem that is left when columns are kept."""
    problem = master.problem
    left = [item.demand for item in problem.items]
    used = [0] * len(problem.stocks)
    for number, count in kept.items():
        column = master.columns[number]
        for item, made in master.produces(column).items():
            left[item] = max(0, left[item] - made * count)
        if isinstance(column, RollColumn):
            used[column.stock] += count
    items = tuple(replace(item, demand=n) for item, n in zip(problem.items, left))
    stocks = tuple(
        replace(stock, count=None if stock.count is None else stock.count - n)
        for stock, n in zip(problem.stocks, used))
    return Problem(items, stocks)
