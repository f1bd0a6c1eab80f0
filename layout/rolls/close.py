"""Closing the gap: an integer program over a small pool, a tree of linear ones with cuts over a large one."""

from __future__ import annotations

from layout.rolls.branch import Tree
from layout.rolls.master import Master, PricedDuals
from layout.rolls.pool import gather_columns, tilted
from layout.rolls.problem import Effort
from layout.rolls.whole import Closed, solve_pool

FEW = 1500
"""Columns that one integer program settles at once; when there are more it pays to look for duals that leave fewer."""
FEW_BRANCHES = 12
"""Branches tried before the whole pool is given to one integer program, and the tree goes on after that."""


def close(master: Master, priced: PricedDuals, target: int, effort: Effort, *, quick: bool = False) -> Closed:
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
    quick
        Give up at once when one integer program cannot hold the pool.
    """
    pool = gather_columns(master, [priced], target, effort.mip_patterns)
    if pool is None and quick:
        return Closed()
    if pool is None or len(pool) > FEW and not quick:
        pool = gather_columns(master, [priced, *tilted(master, target, effort)], target, effort.patterns)
    if pool is None:
        return Closed()
    how = f"all {len(pool)} patterns that an answer of {target} could use"
    if quick or len(pool) <= FEW:
        return solve_pool(master, pool, target, effort, how)
    tree = Tree(master, pool, target, effort, how)
    closed = tree.run(FEW_BRANCHES)
    if closed.patterns is None and closed.least is None and len(pool) <= effort.mip_patterns:
        closed = solve_pool(master, pool, target, effort, how)
    if closed.patterns is None and closed.least is None:
        closed = tree.run(effort.branches)
    return closed
