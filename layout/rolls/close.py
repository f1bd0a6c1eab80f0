"""Closing the gap: an integer program over every pattern that a better answer could use."""

from __future__ import annotations

from collections.abc import Callable

from layout.rolls.master import Master, PricedDuals
from layout.rolls.pool import gather_columns
from layout.rolls.problem import Effort
from layout.rolls.whole import Closed, solve_pool

Closer = Callable[[Master, PricedDuals, int, Effort], Closed]
"""What looks for a cutting of at most a cost, or proves that there is none: ``close``, or a dearer search."""


def close(master: Master, priced: PricedDuals, target: int, effort: Effort) -> Closed:
    """Look for a cutting of at most ``target`` over every pattern one could use, or prove that there is none.

    Parameters
    ----------
    master
        A master solved to the end.
    priced
        Its last duals, priced.
    target
        The most that a better answer may cost.
    effort
        Limits on the patterns listed and on the nodes of the integer program.
    """
    pool = gather_columns(master, [priced], target, effort.mip_patterns)
    if pool is None:
        return Closed()
    return solve_pool(master, pool, target, effort, f"all {len(pool)} patterns that an answer of {target} could use")
