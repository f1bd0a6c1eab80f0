"""What a crew takes that cuts in hanging order from one open roll at a time: the yardstick for savings."""

from __future__ import annotations

from collections.abc import Sequence

from layout.rolls.first_fit import OpenRoll, fits
from layout.rolls.problem import Problem


def first_come(problem: Problem, pieces: Sequence[int]) -> int:
    """Return how many rolls the pieces take, cut in the order given from one open roll at a time.

    Each piece goes beside others or behind them on the open roll; when it does not fit, that roll is put away for good
    and the next is opened. One roll length is used throughout, whichever takes fewest rolls; a longer one only for a
    piece that does not fit it. Remnants stay on the shelf, and limits on hand are not looked at.

    Parameters
    ----------
    problem
        Items and stocks.
    pieces
        Item of each piece, in hanging order.

    Returns
    -------
    int
        Rolls opened; 0 when no length can be used.
    """
    bought = [k for k, stock in enumerate(problem.stocks) if stock.cost] or list(range(len(problem.stocks)))
    longest_first = sorted(bought, key=lambda k: -problem.stocks[k].length)
    counts = [_opened(problem, pieces, [lead, *longest_first]) for lead in bought]
    return min((count for count in counts if count), default=0)


def _opened(problem: Problem, pieces: Sequence[int], stocks: Sequence[int]) -> int:
    opened = 0
    roll: OpenRoll | None = None
    ways = [item.ways() for item in problem.items]
    for item in pieces:
        if roll and (roll.beside(item, ways[item]) or roll.behind(item, ways[item])):
            continue
        stock = next((k for k in stocks if fits(problem.items[item], problem.stocks[k])), None)
        if stock is None:
            return 0
        roll = OpenRoll(stock, problem.stocks[stock].width, problem.stocks[stock].length)
        roll.behind(item, ways[item])
        opened += 1
    return opened
