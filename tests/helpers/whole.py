"""Closing the gap: an integer program over every pattern that a better answer could use, and what its end proves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

from helpers.integer import IntegerAnswer, IntegerProgram
from helpers.long_rolls import knapsack
from helpers.pool import Pool, gather_columns

from layout.milp import INFINITY
from layout.rolls.assemble import complete
from layout.rolls.master import Master, PricedDuals
from layout.rolls.problem import Answer, Effort, Pattern, Problem
from layout.rolls.solve import CuttingSearch

INTEGER_STEPS = 3
"""Steps of a linear program that one of an integer program takes as long as, about, with all that is tried between."""
MOST_PATTERNS = 12_000
"""Most patterns listed, and given to one integer program."""
MOST_NODES = 20_000
"""Nodes of one integer program."""


@dataclass(frozen=True)
class Closed:
    """How an attempt to close the gap ended.

    Parameters
    ----------
    patterns
        A better cutting, one pattern a roll; None when none was found.
    least
        No answer costs less than this; None when nothing more was proven.
    how
        What proves it, in words.
    """

    patterns: list[Pattern] | None = None
    least: int | None = None
    how: str = ""


def solve_pool(master: Master, pool: Pool, target: int, effort: Effort, how: str) -> Closed:
    """Solve a pool as one integer program and check what is found in whole numbers."""
    if not len(pool):
        return Closed(None, target + 1, how)
    columns = [(int(pool.cost[place]), *pool.entries(place)) for place in range(len(pool))]
    answer = _solve(master, columns, target, effort)
    if answer.status == "infeasible":
        return Closed(None, target + 1, how)
    if answer.objective is None:
        return Closed()
    used = Counter({place: int(value) for place, value in enumerate(answer.columns) if value > 0.5})
    least = round(answer.objective) if answer.status == "optimal" else None
    return Closed(complete(master, {place: pool.column(place) for place in used}, used), least, how)


def _solve(
    master: Master, columns: list[tuple[int, list[int], list[float]]], target: int, effort: Effort,
) -> IntegerAnswer:
    """Solve an integer program over columns given as cost, rows and values."""
    program = IntegerProgram()
    for lower, upper in row_limits(master):
        program.add_row(lower, upper)
    for cost, rows, values in columns:
        program.add_integer(float(cost), rows, values, upper=master.problem.pieces)
    dear = [place for place, (cost, _, _) in enumerate(columns) if cost]
    program.add_row(-INFINITY, target, dear, [float(columns[place][0]) for place in dear])
    answer = program.solve_integer(
        nodes=MOST_NODES, step=float(master.totals.step), cutoff=float(target), stop=effort.stop)
    effort.spend(INTEGER_STEPS * program.steps)
    return answer


def row_limits(master: Master) -> list[tuple[float, float]]:
    """Return the limits of the master's rows, in their order: items, slots, limited stocks."""
    limits: list[tuple[float, float]] = [(item.demand, INFINITY) for item in master.problem.items]
    limits += [(0.0, INFINITY) for lane in master.lanes for _ in lane.slots]
    for k in master.stock_row:
        most = master.box.most[k]
        limits.append((float(master.box.least[k]), INFINITY if most is None else most))
    return limits


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
        Its ``stop`` ends the integer program.
    """
    pool = gather_columns(master, [priced], target, MOST_PATTERNS)
    if pool is None:
        return Closed()
    return solve_pool(master, pool, target, effort, f"all {len(pool)} patterns that an answer of {target} could use")


Closer = Callable[[Master, PricedDuals, int, Effort], Closed]
"""What looks for a cutting of at most a cost, or proves that there is none: ``close``, or a dearer search."""


class ClosingSearch(CuttingSearch):
    """The search for a cutting with one stage more: where rolls are of one kind, what is left of the gap is closed."""

    def __init__(self, problem: Problem, effort: Effort, closer: Closer) -> None:
        super().__init__(problem, effort)
        self.master = Master(problem, cross_cut=effort.laned > 0, pricing=knapsack)
        self.closer = closer

    def run(self) -> None:
        """Search, then settle one target after another until the bound meets the answer or none can be settled."""
        super().run()
        if len(self.problem.stocks) > 1 or not self.open or self.effort.stopped():
            return
        priced = self.master.solve(rounds=self.effort.rounds, effort=self.effort).priced
        while self.open and priced is not None and not self.effort.stopped():
            if not any(self._settle(target, priced) for target in self._targets()):
                return

    def _targets(self) -> list[int]:
        """Return the costs to settle, the most telling first: just below the best, halfway, and the bound."""
        top, low = self.cost - 1, self.proof.bound
        return sorted({max(low, top), low + (top - low) // 2, low + (top - low) // 8, low}, reverse=True)

    def _settle(self, target: int, priced: PricedDuals) -> bool:
        """Find a cutting of at most ``target`` or prove that there is none; return whether either was done."""
        closed = self.closer(self.master, priced, target, self.effort)
        better = self.take(closed.patterns)
        if closed.least is not None and not self.master.laned:
            bound = min(self.master.totals.at_least(closed.least), self.cost)
            if bound > self.proof.bound:
                self.proof = replace(self.proof, bound=bound, searched=closed.how)
                return True
        return better


def solve_closing(problem: Problem, effort: Effort = Effort(), closer: Closer = close) -> Answer | None:
    """Cut the items at the least cost and close what gap is left; None when the stock cannot hold the pieces."""
    search = ClosingSearch(problem, effort, closer)
    search.run()
    return search.answer()
