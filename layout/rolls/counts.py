"""Branching on how many rolls of each bought length are opened; the pricing does not change.

With several prices the linear program opens parts of rolls, and many totals lie between its cost and the best answer.
Once the number of rolls of each length is whole, the cost is a total that can occur, and a dive usually reaches it.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import replace
from functools import reduce
from math import floor, gcd

from layout.rolls.dive import dive
from layout.rolls.master import Master, RollColumn, MasterState
from layout.rolls.problem import RollBounds, Effort, Leaf, Pattern, Problem, Proof

NEARLY = 1e-6
NEVER = 1 << 62
"""The bound of counts that cannot hold the pieces at all."""
Take = Callable[[list[Pattern] | None], bool]


class CountSearch:
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
        self.heap: list[tuple[int, int, RollBounds, Proof]] = []
        self.leaves: list[Leaf] = []
        self.visited = 0
        self.pushed = 0

    def run(self, proof: Proof) -> tuple[int, tuple[Leaf, ...]]:
        """Search; return the least that any answer costs, and the leaves that prove it together.

        Parameters
        ----------
        proof
            What is proven of the whole.
        """
        self._push(RollBounds.whole(self.master.problem), proof)
        try:
            while self.heap and self.heap[0][0] < self.cost:
                if self.visited >= self.effort.boxes or self.effort.stopped():
                    break
                self.visited += 1
                _, _, box, known = heapq.heappop(self.heap)
                self._visit(box, known)
        finally:
            self.master.confine(RollBounds.whole(self.master.problem))
        self.leaves += [Leaf(box, "duals", known.bound, known) for _, _, box, known in self.heap]
        return min([self.cost, *(leaf.bound for leaf in self.leaves)]), tuple(self.leaves)

    def _push(self, box: RollBounds, proof: Proof) -> None:
        self.pushed += 1
        heapq.heappush(self.heap, (proof.bound, self.pushed, box, proof))

    def _visit(self, box: RollBounds, known: Proof) -> None:
        """Bound a box; split it, or try its point."""
        self.master.confine(box)
        state = self.master.solve(rounds=self.effort.rounds, target=self.cost, effort=self.effort)
        if state.proof is not None and state.proof.bound > known.bound:
            known = state.proof
        if known.bound >= self.cost or state.answer is None or not state.converged:
            self.leaves.append(Leaf(box, "duals", known.bound, known))
            return
        used = self._used(state)
        part = {k: abs(used[k] - round(used[k])) for k in self.bought}
        k = max(self.bought, key=lambda k: (part[k], -k))
        if part[k] > NEARLY:
            below = floor(used[k])
            self._push(_within(box, k, most=below), known)
            self._push(_within(box, k, least=below + 1), known)
            return
        self._point(box, known, {k: round(used[k]) for k in self.bought})

    def _used(self, state: MasterState) -> dict[int, float]:
        """Return how many rolls of each bought stock the linear program opens."""
        used = {k: 0.0 for k in self.bought}
        assert state.answer is not None
        for column, value in zip(self.master.columns, self.master.uses(state.answer)):
            if isinstance(column, RollColumn) and column.stock in used:
                used[column.stock] += float(value)
        return used

    def _point(self, box: RollBounds, known: Proof, counts: dict[int, int]) -> None:
        """Look for a cutting with just these counts, then search what is left of the box around them."""
        point = box
        for k, count in counts.items():
            if count > box.least[k]:
                self._push(_within(point, k, most=count - 1), known)
            most = box.most[k]
            if most is None or count < most:
                self._push(_within(point, k, least=count + 1), known)
            point = _within(point, k, least=count, most=count)
        total = sum(self.master.problem.stocks[k].cost * count for k, count in counts.items())
        if total >= self.cost:
            self.leaves.append(Leaf(point, "cost", total))
        else:
            self._reach(total, point, counts)

    def _reach(self, total: int, box: RollBounds, counts: dict[int, int]) -> None:
        """Look whether so many rolls, and the free stock, can hold the pieces.

        Cost says nothing any more once the counts are fixed, so the rolls' area stands for it: what can be cut at all
        is cut from the least area, and whatever that leaves is room to spare.
        """
        inner = Master(problem_by_area(self.master.problem, counts), cross_cut=self.master.cross_cut)
        for column in self.master.columns:
            inner.add(column)
        target = sum(stock.cost * (stock.count or 0) for stock in inner.problem.stocks)
        state = inner.solve(rounds=self.effort.rounds, target=target + 1, effort=self.effort)
        for column in inner.columns:
            self.master.add(column)
        if state.proof is not None and state.proof.bound > target:
            self.leaves.append(Leaf(box, "area", NEVER, state.proof))
            return
        self.leaves.append(Leaf(box, "cost", total))
        for seed in range(self.effort.dives):
            if self._better(dive(inner, target, seed=seed, effort=self.effort)):
                break

    def _better(self, patterns: list[Pattern] | None) -> bool:
        """Take a cutting; return whether it is the best now."""
        if patterns is None or not self.take(patterns):
            return False
        self.cost = sum(self.master.problem.stocks[pattern.stock].cost for pattern in patterns)
        return True


def problem_by_area(problem: Problem, counts: dict[int, int]) -> Problem:
    """Return a problem with the counts of bought stocks fixed as limits and the area of every roll as its cost."""
    unit = reduce(gcd, (stock.width for stock in problem.stocks))
    limits = [problem.pieces if stock.count is None else stock.count for stock in problem.stocks]
    return Problem(problem.items, tuple(
        replace(stock, cost=stock.length * (stock.width // unit), count=counts.get(k, limits[k]))
        for k, stock in enumerate(problem.stocks)))


def _within(box: RollBounds, k: int, *, least: int | None = None, most: int | None = None) -> RollBounds:
    """Return a box with the limits of one stock changed."""
    lows, highs = list(box.least), list(box.most)
    if least is not None:
        lows[k] = least
    if most is not None:
        highs[k] = most
    return RollBounds(tuple(lows), tuple(highs))
