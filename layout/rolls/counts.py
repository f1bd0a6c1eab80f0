"""Branching on how many rolls of each bought length are opened; the pricing does not change.

With several prices the linear program opens parts of rolls, and many totals lie between its cost and the best answer.
Once the number of rolls of each length is whole, the cost is a total that can occur, and a dive usually reaches it.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import reduce
from math import floor, gcd

from layout.rolls.close import close
from layout.rolls.dive import dive
from layout.rolls.master import Box, Master, Priced, RollColumn, State
from layout.rolls.problem import Effort, Pattern, Problem, Proof
from layout.rolls.whole import solve_found

NEARLY = 1e-6
Take = Callable[[list[Pattern] | None], bool]


@dataclass(frozen=True)
class Leaf:
    """A box closed by duals alone: what they prove within it."""

    box: Box
    proof: Proof


@dataclass(frozen=True)
class Point:
    """Whole roll counts at which no cutting was found easily: their cost, and the problem of cutting from just them."""

    total: int
    inner: Master
    priced: Priced
    target: int


class Counts:
    """A best-first search over boxes of roll counts.

    Parameters
    ----------
    master
        A master with its columns.
    cost
        Of the best cutting known.
    take
        Called with each cutting found; returns whether it is better.
    effort
        Limits.
    """

    def __init__(self, master: Master, cost: int, take: Take, effort: Effort) -> None:
        self.master = master
        self.cost = cost
        self.take = take
        self.effort = effort
        self.bought = [k for k, stock in enumerate(master.problem.stocks) if stock.cost]
        self.heap: list[tuple[int, int, Box]] = []
        self.open: list[int] = []
        self.leaves: list[Leaf] = []
        self.hard: list[Point] = []
        self.visited = 0

    def run(self, bound: int) -> tuple[int, str]:
        """Search; return the least that any answer costs, and how that is known."""
        self._push(bound, Box.whole(self.master.problem))
        try:
            while self.heap and self.heap[0][0] < self.cost:
                if self.visited >= self.effort.boxes or self.effort.stopped():
                    break
                self.visited += 1
                known, _, box = heapq.heappop(self.heap)
                self._visit(known, box)
        finally:
            self.master.confine(Box.whole(self.master.problem))
        self._settle()
        unsettled = (point.total for point in self.hard)
        least = min([self.cost, *self.open, *unsettled, *(known for known, _, _ in self.heap)])
        return least, f"{self.visited} boxes of roll counts"

    def _settle(self) -> None:
        """Settle the points at which no cutting was found easily, the cheapest first; stop at one that stays open."""
        self.hard.sort(key=lambda point: point.total)
        while self.hard and self.hard[0].total < self.cost and not self.effort.stopped():
            point = self.hard[0]
            closed = close(point.inner, point.priced, point.target, self.effort)
            if not self._better(closed.patterns) and closed.least is None:
                return
            self.hard.pop(0)

    def _push(self, bound: int, box: Box) -> None:
        heapq.heappush(self.heap, (bound, self.visited * 8 + len(self.heap) % 8, box))

    def _visit(self, known: int, box: Box) -> None:
        """Bound a box; split it, or try its point."""
        self.master.confine(box)
        state = self.master.solve(rounds=self.effort.rounds, target=self.cost, effort=self.effort)
        if state.proof is None:
            self.open.append(known)
            return
        bound = max(known, state.proof.bound)
        if bound >= self.cost:
            self.leaves.append(Leaf(box, state.proof))
            return
        if state.answer is None or not state.converged:
            self.open.append(bound)
            return
        used = self._used(state)
        part = {k: abs(used[k] - round(used[k])) for k in self.bought}
        k = max(self.bought, key=lambda k: (part[k], -k))
        if part[k] > NEARLY:
            below = floor(used[k])
            self._push(bound, _within(box, k, most=below))
            self._push(bound, _within(box, k, least=below + 1))
            return
        self._point(bound, box, {k: round(used[k]) for k in self.bought})

    def _used(self, state: State) -> dict[int, float]:
        """Return how many rolls of each bought stock the linear program opens."""
        used = {k: 0.0 for k in self.bought}
        assert state.answer is not None
        for column in self.master.columns:
            number = self.master.known[column]
            if isinstance(column, RollColumn) and column.stock in used and number < len(state.answer.columns):
                used[column.stock] += float(state.answer.columns[number])
        return used

    def _point(self, bound: int, box: Box, counts: dict[int, int]) -> None:
        """Look for a cutting with just these counts, then search what is left of the box around them."""
        total = sum(self.master.problem.stocks[k].cost * count for k, count in counts.items())
        if total < self.cost and not self._reach(total, counts):
            self.open.append(max(bound, total))
        for k, count in counts.items():
            if count > box.least[k]:
                self._push(bound, _within(box, k, most=count - 1))
            most = box.most[k]
            if most is None or count < most:
                self._push(bound, _within(box, k, least=count + 1))
            box = _within(box, k, least=count, most=count)

    def _reach(self, total: int, counts: dict[int, int]) -> bool:
        """Look whether so many rolls, and the free stock, can hold the pieces; return whether that can be settled.

        Cost says nothing any more once the counts are fixed, so the rolls' area stands for it: what can be cut at all
        is cut from the least area, and whatever that leaves is room to spare.
        """
        inner = Master(by_area(self.master.problem, counts))
        for column in self.master.columns:
            inner.add(column)
        target = sum(stock.cost * (stock.count or 0) for stock in inner.problem.stocks)
        state = inner.solve(rounds=self.effort.rounds, target=target + 1, effort=self.effort)
        for column in inner.columns:
            self.master.add(column)
        if state.proof is None:
            return False
        if state.proof.bound > target:
            return True
        for seed in range(self.effort.dives):
            if self._better(dive(inner, target, seed=seed, effort=self.effort).patterns):
                return True
        if self._better(solve_found(inner, target, self.effort)):
            return True
        if state.priced is None:
            return False
        self.hard.append(Point(total, inner, state.priced, target))
        return True

    def _better(self, patterns: list[Pattern] | None) -> bool:
        """Take a cutting; return whether it is the best now."""
        if patterns is None or not self.take(patterns):
            return False
        self.cost = sum(self.master.problem.stocks[pattern.stock].cost for pattern in patterns)
        return True


def by_area(problem: Problem, counts: dict[int, int]) -> Problem:
    """Return a problem with the counts of bought stocks fixed as limits and the area of every roll as its cost."""
    unit = reduce(gcd, (stock.width for stock in problem.stocks))
    limits = [problem.pieces if stock.count is None else stock.count for stock in problem.stocks]
    return Problem(problem.items, tuple(
        replace(stock, cost=stock.length * (stock.width // unit), count=counts.get(k, limits[k]))
        for k, stock in enumerate(problem.stocks)))


def _within(box: Box, k: int, *, least: int | None = None, most: int | None = None) -> Box:
    """Return a box with the limits of one stock changed."""
    lows, highs = list(box.least), list(box.most)
    if least is not None:
        lows[k] = least
    if most is not None:
        highs[k] = most
    return Box(tuple(lows), tuple(highs))
