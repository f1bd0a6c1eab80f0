"""Which totals of roll costs can occur at all; a bound is rounded up to the next one."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from math import gcd

import numpy as np

from layout.rolls.problem import Problem

MOST_STEPS = 4_000_000
"""Totals are listed up to this many steps; past it only their common divisor is used."""


class Totals:
    """Every sum of roll costs that the stock allows.

    Parameters
    ----------
    problem
        Its stocks' costs and counts.
    """

    def __init__(self, problem: Problem) -> None:
        self.costs = sorted({stock.cost for stock in problem.stocks if stock.cost})
        self.limits: dict[int, int | None] = {}
        for stock in problem.stocks:
            if stock.cost:
                so_far = self.limits.get(stock.cost, 0)
                more = stock.count
                self.limits[stock.cost] = None if so_far is None or more is None else so_far + more
        self.step = reduce(gcd, self.costs, 0) or 1
        self._table = np.zeros(1, dtype=bool)
        self._table[0] = True

    def at_least(self, total: int) -> int:
        """Return the least total that can occur and is no less than ``total``."""
        steps = -(-total // self.step)
        if len(self.costs) < 2 and not any(count is not None for count in self.limits.values()):
            return steps * self.step
        # the next total is never farther away than the dearest roll
        enough = steps + self.costs[-1] // self.step
        if enough >= len(self._table) and steps < MOST_STEPS:
            self._list(max(2 * enough, 1000))
        reachable = np.flatnonzero(self._table[steps:])
        return (steps + int(reachable[0]) if reachable.size else steps) * self.step

    def _list(self, steps: int) -> None:
        """Mark the totals up to a number of steps."""
        table = np.zeros(min(steps, MOST_STEPS) + 1, dtype=bool)
        table[0] = True
        for cost in self.costs:
            unit = cost // self.step
            limit = self.limits[cost]
            left = len(table) // unit if limit is None else min(limit, len(table) // unit)
            count = 1
            while left > 0:
                count = min(count, left)
                span = unit * count
                if span < len(table):
                    table[span:] |= table[:-span].copy()
                left -= count
                count *= 2
        self._table = table


def fewest_for(costs: Sequence[tuple[int, int | None]], total: int) -> int:
    """Return the fewest rolls whose costs add up to just a total; 0 when none do.

    Parameters
    ----------
    costs
        Cost of one roll of each length, and how many there are (None: no limit).
    total
        What they must add up to.
    """
    step = reduce(gcd, (cost for cost, _ in costs), 0) or 1
    if total % step or total // step > MOST_STEPS:
        return 0
    steps = total // step
    never = np.iinfo(np.int64).max // 2
    fewest = np.full(steps + 1, never, dtype=np.int64)
    fewest[0] = 0
    for cost, limit in costs:
        unit = cost // step
        left = steps // unit if limit is None else min(limit, steps // unit)
        count = 1
        while left > 0:
            count = min(count, left)
            span = unit * count
            fewest[span:] = np.minimum(fewest[span:], fewest[:-span] + count)
            left -= count
            count *= 2
    return 0 if fewest[steps] >= never else int(fewest[steps])
