"""The search: a quick answer and a quick bound first, then whatever is needed to make them meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from layout.errors import SolverError
from layout.rolls.assemble import faults
from layout.rolls.counts import CountSearch
from layout.rolls.dive import dive
from layout.rolls.few import FEW, every_way
from layout.rolls.first_fit import quick_answer, cost_of_patterns
from layout.rolls.master import Master, columns_of
from layout.rolls.problem import Answer, Effort, Pattern, Problem, Proof, rolls_by_pattern
from layout.rolls.tidy import fewer_patterns, gather_scrap, rolls_by_cost

VAST = 250_000
"""Kinds of piece times kinds of stock past which each linear program takes very long: hundreds of remnants."""
VAST_ROUNDS = 60
"""Linear programs that are solved then; the best bound of theirs stands."""


def solve(problem: Problem, effort: Effort = Effort()) -> Answer | None:
    """Cut the items at the least cost and prove it.

    Parameters
    ----------
    problem
        Items and stocks, in whole numbers.
    effort
        How far to search, and where from.

    Returns
    -------
    Answer or None
        None when the stock cannot hold the pieces.

    Notes
    -----
    First-fit decreasing gives the first answer and column generation the first bound; dives, then branching on how
    many rolls of each length are opened, close what is left between them. Whatever is returned was checked in whole
    numbers.
    """
    search = CuttingSearch(problem, effort)
    search.run()
    return search.answer()


def improve(problem: Problem, answer: Answer) -> tuple[Answer, int]:
    """Gather scrap and repeat patterns as far as that costs nothing.

    Returns
    -------
    tuple of Answer and int
        An answer that costs no more, and the least number of rolls proven at that cost.
    """
    patterns = fewer_patterns(gather_scrap(problem, answer.opened))
    check(problem, patterns)
    better = replace(answer, patterns=rolls_by_pattern(patterns), cost=cost_of_patterns(problem, patterns))
    return better, min(max(rolls_by_cost(problem, answer.cost), fewest_by_area(problem)), len(patterns))


def fewest_by_area(problem: Problem) -> int:
    """Return the least number of rolls by area: that many of the largest."""
    asked = sum(item.length * item.width * item.demand for item in problem.items)
    areas: list[int] = []
    for stock in problem.stocks:
        areas += [stock.length * stock.width] * (problem.pieces if stock.count is None else stock.count)
    count = 0
    for area in sorted(areas, reverse=True):
        if asked <= 0:
            break
        asked -= area
        count += 1
    return count


def check(problem: Problem, patterns: Sequence[Pattern]) -> None:
    """Raise SolverError when a cutting is not what it claims to be, in whole numbers."""
    wrong = faults(problem, patterns)
    if wrong:
        raise SolverError("a cutting failed its check: " + "; ".join(wrong[:3]))


def within_reach(problem: Problem, effort: Effort) -> Effort:
    """Return an effort that ends in minutes however many kinds of piece and of stock there are together."""
    if len(problem.items) * len(problem.stocks) <= VAST:
        return effort
    return replace(effort, rounds=min(effort.rounds, VAST_ROUNDS), dives=0, boxes=0)


class CuttingSearch:
    """One search under way: the best cutting, the best proof, and the master program."""

    def __init__(self, problem: Problem, effort: Effort) -> None:
        self.problem = problem
        self.effort = within_reach(problem, effort)
        self.master = Master(problem, cross_cut=effort.laned > 0)
        self.best: list[Pattern] | None = None
        # nothing costs as much as this, so it stands for the cost of no cutting at all
        self.cost = 1 + sum(
            stock.cost * (problem.pieces if stock.count is None else stock.count) for stock in problem.stocks)
        self.stopped = False
        self.proof = Proof(1, (0,) * len(problem.items), (0,) * len(problem.stocks), 0, 0)

    @property
    def open(self) -> bool:
        """Whether a better answer is still possible."""
        return self.proof.bound < self.least_refused

    @property
    def least_refused(self) -> int:
        """A new answer must cost less than this: than the best one so far, and no more than the caller wants."""
        return self.cost if self.effort.wanted is None else min(self.cost, self.effort.wanted + 1)

    def run(self) -> None:
        """Search in stages, each dearer than the last, until the bound meets the answer or effort runs out."""
        self.take(self.effort.start(self.problem) if self.effort.start else None)
        self.take(quick_answer(self.problem))
        if not self.open:
            return
        for column in columns_of(self.master, self.best or []):
            self.master.add(column)
        stages = [self._bound, self._dive, self._count]
        if self.problem.pieces <= FEW:
            stages = [self._bound, self._every_way]
        for stage in stages:
            stage()
            if not self.open:
                return
            if self.effort.stopped():
                self.stopped = self.effort.interrupted()
                return

    def take(self, patterns: Sequence[Pattern] | None) -> bool:
        """Keep a cutting when it is better than the best; return whether it was."""
        if patterns is None:
            return False
        cost = cost_of_patterns(self.problem, patterns)
        if cost >= self.cost:
            return False
        if self.effort.accept is not None and (cost >= self.least_refused or not self.effort.accept(patterns)):
            return False
        check(self.problem, patterns)
        self.best, self.cost = list(patterns), cost
        return True

    def _bound(self) -> None:
        """Column generation."""
        proof = self.master.solve(rounds=self.effort.rounds, target=self.least_refused, effort=self.effort).proof
        if proof is not None and proof.bound > self.proof.bound:
            self.proof = proof

    def _dive(self) -> None:
        """Dive for the bound; with several prices, for anything better, since the bound is rarely reached."""
        several = len(self.problem.stocks) > 1
        for seed in range(min(2, self.effort.dives) if several else self.effort.dives):
            if self.effort.stopped() or not self.open:
                return
            target = self.cost - 1 if several or self.best is None else self.proof.bound
            self.take(dive(self.master, target, seed=seed, effort=self.effort))

    def _count(self) -> None:
        """Branch on how many rolls of each length are opened, where there are several."""
        if len(self.problem.stocks) < 2:
            return
        least, leaves = CountSearch(self.master, self.cost, self.take, self.effort).run(self.proof)
        if least > self.proof.bound:
            how = f"{len(leaves)} boxes of roll counts"
            self.proof = replace(self.proof, bound=least, searched=how, leaves=leaves)

    def _every_way(self) -> None:
        """Cut a few pieces every way there is."""
        found = every_way(self.problem)
        self.take(found)
        if found is not None and self.cost > self.proof.bound:
            self.proof = replace(self.proof, bound=self.cost, searched=f"every way to cut {self.problem.pieces} pieces")

    def answer(self) -> Answer | None:
        """Return the best cutting with what is proven."""
        if self.best is None:
            return None
        return Answer(rolls_by_pattern(self.best), self.cost, self.proof, self.stopped)
