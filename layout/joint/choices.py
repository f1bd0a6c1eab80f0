"""Which rolls a plan of some cost could be cut from: how many of each stock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from layout.rolls import Stock


class RollChoice(NamedTuple):
    """How many rolls of each stock, and what they cost."""

    cost: int
    rolls: tuple[int, ...]

    def within(self, other: RollChoice, stocks: Sequence[Stock]) -> bool:
        """Tell whether each of these rolls has one as long among the others, so that what they yield the others do."""
        ahead = 0
        for k in sorted(range(len(stocks)), key=lambda k: -stocks[k].length):
            ahead += other.rolls[k] - self.rolls[k]
            if ahead < 0:
                return False
        return True


def roll_choices(stocks: Sequence[Stock], least: int, below: int) -> Iterator[RollChoice]:
    """Give every choice of rolls that costs at least ``least`` and less than ``below``; it has all that cost nothing.

    Parameters
    ----------
    stocks
        With whole costs; those that cost nothing have a count.
    least, below
        Costs.

    Examples
    --------
    >>> stocks = [Stock(12800, 576, 205), Stock(9600, 576, 156), Stock(2400, 576, 0, 2)]
    >>> sorted(roll_choices(stocks, 460, 520))
    [RollChoice(cost=468, rolls=(0, 3, 2)), RollChoice(cost=517, rolls=(1, 2, 2))]
    """
    bought = [k for k, stock in enumerate(stocks) if stock.cost]

    def give(at: int, cost: int, rolls: list[int]) -> Iterator[RollChoice]:
        if at == len(bought):
            if cost >= least:
                yield RollChoice(cost, tuple(rolls))
            return
        stock = stocks[bought[at]]
        most = (below - 1 - cost) // stock.cost
        fewest = max(0, -(-(least - cost) // stock.cost)) if at == len(bought) - 1 else 0
        for count in range(fewest, (most if stock.count is None else min(most, stock.count)) + 1):
            rolls[bought[at]] = count
            yield from give(at + 1, cost + count * stock.cost, rolls)
        rolls[bought[at]] = 0

    yield from give(0, 0, [0 if stock.cost else stock.count or 0 for stock in stocks])
