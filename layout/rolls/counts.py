"""Branching on how many rolls of each bought length are opened; the pricing does not change.

With several prices the linear program opens parts of rolls, and many totals lie between its cost and the best answer.
Once the number of rolls of each length is whole, the cost is a total that can occur, and a dive usually reaches it.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import floor

from layout.rolls.close import close
from layout.rolls.dive import dive
from layout.rolls.master import Box, Master, RollColumn, State
from layout.rolls.problem import Effort, Pattern, Proof
from layout.rolls.whole import solve_found

NEARLY = 1e-6
DIVES_A_POINT = 4
Take = Callable[[list[Pattern] | None], bool]


@dataclass(frozen=True)
class Leaf:
    """A box closed by duals alone: what they prove within it."""

    box: Box
    proof: Proof


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
        least = min([self.cost, *self.open, *(known for known, _, _ in self.heap)])
        return least, f"{self.visited} boxes of roll counts"

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
        point = box
        for k, count in counts.items():
            point = _within(point, k, least=count, most=count)
        self.master.confine(point)
        if total < self.cost and not self._reach(total):
            self.open.append(max(bound, total))
        for k, count in counts.items():
            if count > box.least[k]:
                self._push(bound, _within(box, k, most=count - 1))
            most = box.most[k]
            if most is None or count < most:
                self._push(bound, _within(box, k, least=count + 1))
            box = _within(box, k, least=count, most=count)

    def _reach(self, total: int) -> bool:
        """Settle whether the counts the master is confined to can hold the pieces; return whether that was settled."""
        for seed in range(DIVES_A_POINT):
            if self._better(dive(self.master, total, seed=seed, effort=self.effort).patterns):
                return True
        state = self.master.solve(rounds=self.effort.rounds, effort=self.effort)
        if state.priced is None or state.proof is None:
            return False
        if state.proof.bound > total:
            return True
        if self._better(solve_found(self.master, total, self.effort)):
            return True
        closed = close(self.master, state.priced, total, replace(self.effort, branches=self.effort.branches // 8))
        return self._better(closed.patterns) or closed.least is not None

    def _better(self, patterns: list[Pattern] | None) -> bool:
        """Take a cutting; return whether it is the best now."""
        if patterns is None or not self.take(patterns):
            return False
        self.cost = sum(self.master.problem.stocks[pattern.stock].cost for pattern in patterns)
        return True


def _within(box: Box, k: int, *, least: int | None = None, most: int | None = None) -> Box:
    """Return a box with the limits of one stock changed."""
    lows, highs = list(box.least), list(box.most)
    if least is not None:
        lows[k] = least
    if most is not None:
        highs[k] = most
    return Box(tuple(lows), tuple(highs))
