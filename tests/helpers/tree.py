"""A tree of linear programs over a pool: cuts first, then branching on pairs that share a roll.

For published instances only: no job of this program has ever needed it.

Each node is closed by an exact bound in whole numbers, never by the solver's word. Columns are priced by looking at
every one of the pool, so cuts and branchings cost nothing in the pricing.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from math import floor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from helpers.pool import Pool, Whole, gather_columns, slack
from helpers.whole import MOST_PATTERNS, Closed, row_limits, solve_closing, solve_pool

from layout.errors import SolverError
from layout.milp import INFINITY, Floats, LinearAnswer, Program
from layout.rolls.assemble import complete
from layout.rolls.master import Master, PricedDuals
from layout.rolls.problem import Answer, Effort, Problem

FEW = 1500
"""Columns that one integer program settles at once; when there are more it pays to look for duals that leave fewer."""
FEW_BRANCHES, BRANCHES = 12, 150
"""Branches tried before the whole pool is given to one integer program, and in all."""
PATTERNS = 500_000
"""Most patterns listed."""
TILT_SHARES = (0.02, 0.04, 0.06, 0.1, 0.16, 0.25)
TILTS = (0.03, 0.05, 0.08, 0.12, 0.2, 0.3, 0.5)
"""Tilts of the duals: of pieces shorter than a share of the longest roll so much less is asked that the duals move."""
TILTED = 1e-7
TILT_ROUNDS = 200
MOST_SLACK = 0.2
"""Duals that prove this much of a roll less than the target leave too many patterns to be worth listing."""
NEW_A_ROUND = 120
CUTS_A_ROUND = 30
CUT_ROUNDS = 30
"""Most rounds of cuts at one node."""
VIOLATED = 0.02
Marks = NDArray[np.bool_]
Small = NDArray[np.integer[Any]]
"""Whole numbers in as little memory as holds them: a tree keeps many for each column of its pools."""


def total_of(pool: Pool, entries: Whole) -> Whole:
    """Return the sum of a figure over the entries of each column of a pool."""
    if not len(pool):
        return np.zeros(0, dtype=np.int64)
    return np.asarray(np.add.reduceat(entries, pool.start[:-1]), dtype=np.int64)


def kept(pool: Pool, marks: Marks) -> Pool:
    """Return a pool with only the marked columns."""
    sizes = np.diff(pool.start)
    entries = np.repeat(marks, sizes)
    start = np.concatenate([[0], np.cumsum(sizes[marks])])
    return Pool(
        pool.groups, pool.group[marks], pool.cost[marks], start,
        pool.element[entries], pool.row[entries], pool.gain[entries])


@dataclass(frozen=True)
class ExtraRow:
    """A row beyond the master's: a cut on three items, or a branching on a pair; ``sign`` +1 for >=, -1 for <=.

    A column's coefficient is the pieces of the three items halved and rounded up, or whether it holds the pair.
    """

    items: tuple[int, ...]
    sign: int
    limit: int
    pair: bool

    def gains(self, pool: Pool, rows: Whole) -> Whole:
        """Return the coefficient of every column of a pool; ``rows`` are the master's rows of the items."""
        if self.pair:
            first = total_of(pool, (pool.row == rows[0]).astype(np.int64))
            second = total_of(pool, (pool.row == rows[1]).astype(np.int64))
            return ((first > 0) & (second > 0)).astype(np.int64)
        inside = np.isin(pool.row, rows)
        return -(-total_of(pool, np.where(inside, pool.gain, 0)) // 2)


@dataclass
class Node:
    """A part of the search: the columns still possible there, and its rows with their coefficients."""

    pool: Pool
    rows: list[ExtraRow]
    gains: list[Small]
    start: Marks

    def keep(self, marks: Marks) -> None:
        """Drop the columns that are not marked."""
        self.pool = kept(self.pool, marks)
        self.gains = [gain[marks] for gain in self.gains]
        self.start = self.start[marks]

    def copy(self) -> Node:
        """Return a node to branch from."""
        return Node(self.pool, list(self.rows), list(self.gains), self.start)


@dataclass(frozen=True)
class Bound:
    """Whole duals checked over a node's pool: what they prove, scaled, and each column's shortfall."""

    worth: int
    shortfall: Whole


class Tree:
    """A depth-first search for a cutting of at most ``target`` over a pool."""

    def __init__(
        self, master: Master, pool: Pool, target: int, effort: Effort, how: str, at_once: int = MOST_PATTERNS,
    ) -> None:
        self.master = master
        self.target = target
        self.effort = effort
        self.how, self.at_once = how, at_once
        self.limits = row_limits(master)
        self.item_rows = np.array(master.item_row)
        self.demand = np.array([item.demand for item in master.problem.items], dtype=np.int64)
        self.todo = [Node(pool, [], [], np.zeros(len(pool), dtype=bool))]
        self.failed: list[Node] = []
        self.nodes = 0

    def run(self, branches: int) -> Closed:
        """Search until a cutting is found, every node is closed, or so many branches were visited in all."""
        while self.todo:
            if self.nodes >= branches or self.effort.stopped():
                return Closed()
            self.nodes += 1
            found = self._visit(self.todo.pop())
            if found is not None:
                return found
        if self.failed:
            return Closed()
        return Closed(None, self.target + 1, f"{self.how}, in {self.nodes} branches")

    def _visit(self, node: Node) -> Closed | None:
        """Work on one node; None when it is closed or split."""
        for _ in range(CUT_ROUNDS):
            point = self._solve(node)
            if point is None:
                return None
            held, values = point
            found = self._integral(node, held, values)
            if found is not None:
                return found
            if len(node.pool) <= self.at_once // 4:
                closed = solve_pool(self.master, node.pool, self.target, self.effort, self.how)
                if closed.patterns is not None:
                    return closed
                if closed.least is not None:
                    return None
            if self.effort.stopped() or not self._cut(node, held, values):
                break
        self._split(node, held, values)
        return None

    # --- one linear program ----------------------------------------------------------------------

    def _solve(self, node: Node) -> tuple[list[int], Floats] | None:
        """Solve a node's linear program over its pool; return the columns held and their values, None when closed."""
        program = Program()
        for lower, upper in self.limits:
            program.add_row(lower, upper)
        for row in node.rows:
            program.add_row(row.limit if row.sign > 0 else -INFINITY, row.limit if row.sign < 0 else INFINITY)
        for number, (lower, _) in enumerate(self.limits):
            if lower > 0:
                program.add_column(4.0, [number], [1.0])
        for number, row in enumerate(node.rows, start=len(self.limits)):
            if row.sign > 0:
                program.add_column(4.0, [number], [1.0])
        stand_ins = program.columns
        held: list[int] = []
        fresh = np.flatnonzero(node.start)
        while True:
            for place in fresh:
                self._add(program, node, int(place))
                held.append(int(place))
            answer = program.solve_linear()
            if answer is None:
                raise SolverError("a linear program that stand-ins can satisfy was called infeasible")
            bound = self._bound(node, answer)
            if bound.worth > self.target * self.master.scale:
                return None
            fresh = self._improving(node, answer, held)
            if not len(fresh) or self.effort.stopped():
                break
        values = answer.columns[stand_ins:]
        node.start = np.zeros(len(node.pool), dtype=bool)
        node.start[held] = True
        marks = bound.shortfall <= self.target * self.master.scale - bound.worth
        if not marks.all():
            places = np.cumsum(marks) - 1
            kept = marks[held]
            values = values[kept]
            held = [int(places[place]) for place, here in zip(held, kept) if here]
            node.keep(marks)
        return held, values

    def _add(self, program: Program, node: Node, place: int) -> None:
        rows, values = node.pool.entries(place)
        for number, gains in enumerate(node.gains, start=len(self.limits)):
            if gains[place]:
                rows.append(number)
                values.append(float(gains[place]))
        program.add_column(float(node.pool.cost[place]) / self.master.dearest, rows, values)

    def _improving(self, node: Node, answer: LinearAnswer, held: list[int]) -> Whole:
        """Return the columns of the pool that would lower the linear program most, by its own duals."""
        reduced = node.pool.cost / self.master.dearest - self._floating_worth(node, answer.duals)
        reduced[held] = 0.0
        best = np.argsort(reduced, kind="stable")[:NEW_A_ROUND]
        return np.asarray(best[reduced[best] < -1e-7])

    def _floating_worth(self, node: Node, duals: Floats) -> Floats:
        pool = node.pool
        worth = np.add.reduceat(duals[pool.row] * pool.gain, pool.start[:-1]) if len(pool) else np.zeros(0)
        for number, gains in enumerate(node.gains, start=len(self.limits)):
            if duals[number]:
                worth = worth + duals[number] * gains.astype(np.float64)
        return np.asarray(worth)

    def _bound(self, node: Node, answer: LinearAnswer) -> Bound:
        """Return what the answer's duals prove, in whole numbers, for every answer within the node.

        Slots are worth their best rip, limited stocks are credited with what their best pattern is worth beyond its
        cost, and when a roll without limit is worth more than it costs, everything is shrunk by that factor.
        """
        master = self.master
        factor = master.scale * master.dearest
        duals = np.array([floor(value * factor) for value in answer.duals], dtype=np.int64)
        duals[:len(self.demand)] = np.maximum(duals[:len(self.demand)], 0)
        bound = self._checked(node, duals)
        over = bound.shortfall.min(initial=0)
        if over >= 0:
            return bound
        # every unlimited roll costs at least the cheapest, so this factor makes each shortfall whole again
        unlimited = (s.cost for s, most in zip(master.problem.stocks, master.box.most) if most is None)
        cheapest = min(unlimited, default=0) * master.scale
        if not cheapest:
            return Bound(0, np.zeros(len(node.pool), dtype=np.int64))
        shrink = cheapest / (cheapest - int(over)) * (1 - 1e-12)
        smaller = np.array([floor(int(dual) * shrink) for dual in duals], dtype=np.int64)
        bound = self._checked(node, smaller)
        if bound.shortfall.min(initial=0) < 0:
            return Bound(0, np.zeros(len(node.pool), dtype=np.int64))
        return bound

    def _checked(self, node: Node, duals: Whole) -> Bound:
        """Return the bound of whole duals and each column's shortfall; a shortfall below 0 makes the bound void."""
        pool, master = node.pool, self.master
        own = len(self.limits)
        for number, row in enumerate(node.rows, start=own):
            duals[number] = max(0, duals[number]) if row.sign > 0 else min(0, duals[number])
        slots = [row for rows in master.slot_row for row in rows.values()]
        duals[slots] = 0
        duals[list(master.stock_row.values())] = 0
        extra = np.zeros(len(pool), dtype=np.int64)
        for number, gains in enumerate(node.gains, start=own):
            extra += duals[number] * gains.astype(np.int64)
        worth = total_of(pool, duals[pool.row] * pool.gain) + extra
        for index, group in enumerate(pool.groups):
            if group.slot is not None:
                inside = pool.group == index
                duals[master.slot_row[group.lane][group.slot]] = worth[inside].max(initial=0)
        if slots:
            worth = total_of(pool, duals[pool.row] * pool.gain) + extra
        shortfall = pool.cost * master.scale - worth
        total = int((duals[:len(self.demand)] * self.demand).sum())
        total += sum(int(duals[number]) * row.limit for number, row in enumerate(node.rows, start=own))
        for index, group in enumerate(pool.groups):
            if group.stock is None:
                continue
            inside = pool.group == index
            least, most = master.box.least[group.stock], master.box.most[group.stock]
            left = int(shortfall[inside].min(initial=master.scale * master.dearest))
            if left >= 0 and least:
                total += least * left
            elif left < 0 and most is not None:
                total += most * left
            else:
                continue
            shortfall[inside] -= left
        return Bound(total, shortfall)

    # --- whole answers, cuts, branches -------------------------------------------------------------

    def _integral(self, node: Node, held: list[int], values: Floats) -> Closed | None:
        """Return a cutting when the point is whole, or nearly so that first fit completes it within the target."""
        used = Counter({place: floor(value + 1e-6) for place, value in zip(held, values) if value > 1 - 1e-6})
        if sum(used.values()) < 0.8 * float(values.sum()):
            return None
        columns = {place: node.pool.column(place) for place in used}
        patterns = complete(self.master, columns, used)
        if patterns is None:
            return None
        cost = sum(self.master.problem.stocks[pattern.stock].cost for pattern in patterns)
        return Closed(patterns) if cost <= self.target else None

    def _content(self, node: Node, held: list[int], values: Floats) -> tuple[Floats, Floats]:
        """Return the columns in use as rows of pieces by item, and their values."""
        used = [(place, value) for place, value in zip(held, values) if value > 1e-7]
        content = np.zeros((len(used), len(self.demand)))
        for number, (place, _) in enumerate(used):
            rows, gains = node.pool.entries(place)
            for row, gain in zip(rows, gains):
                if row < len(self.demand):
                    content[number, row] = gain
        return content, np.array([value for _, value in used])

    def _cut(self, node: Node, held: list[int], values: Floats) -> bool:
        """Add the cuts on three items that the point violates most; return whether there were any."""
        content, weights = self._content(node, held, values)
        triples = violated(content, weights, self.demand)
        known = {row.items for row in node.rows if not row.pair}
        fresh = [triple for triple in triples if triple not in known][:CUTS_A_ROUND]
        for triple in fresh:
            wanted = int(self.demand[list(triple)].sum())
            row = ExtraRow(triple, 1, -(-wanted // 2), False)
            node.rows.append(row)
            node.gains.append(_small(row.gains(node.pool, self.item_rows[list(triple)])))
        return bool(fresh)

    def _split(self, node: Node, held: list[int], values: Floats) -> None:
        """Branch on the pair of items whose rolls in common are farthest from a whole number."""
        content, weights = self._content(node, held, values)
        holds = content > 0.5
        common = (holds * weights[:, None]).T @ holds
        np.fill_diagonal(common, 0.0)
        fraction = np.abs(common - np.rint(common))
        best = int(np.argmax(np.triu(fraction)))
        first, second = divmod(best, len(self.demand))
        if fraction[first, second] < 1e-6:
            self._split_column(node)
            return
        below = floor(common[first, second])
        rows = self.item_rows[[first, second]]
        apart, together = node.copy(), node.copy()
        row = ExtraRow((first, second), -1, below, True)
        gains = row.gains(node.pool, rows)
        if below == 0:
            apart.keep(gains == 0)
        else:
            apart.rows.append(row)
            apart.gains.append(_small(gains))
        together.rows.append(ExtraRow((first, second), 1, below + 1, True))
        together.gains.append(_small(gains))
        self.todo += [apart, together]

    def _split_column(self, node: Node) -> None:
        """Solve a node whose pairs are all whole as an integer program; when that fails it stays to be done."""
        closed = solve_pool(self.master, node.pool, self.target, self.effort, self.how)
        if closed.patterns is not None or closed.least is None:
            self.failed.append(node)


def violated(content: Floats, weights: Floats, demand: Whole) -> list[tuple[int, int, int]]:
    """Return the triples of items whose halved and rounded-up cut a point violates, worst first.

    Parameters
    ----------
    content
        Pieces of each item in each column in use, one row a column.
    weights
        How often each column is used.
    demand
        Pieces wanted of each item.

    Notes
    -----
    Adding the demand rows of three items, halving, and rounding up both sides is the rank-one cut of Chvátal and
    Gomory that is known as a subset-row cut.
    """
    holds = (content > 0.5).astype(float)
    common = (holds * weights[:, None]).T @ holds
    np.fill_diagonal(common, 0.0)
    count = len(demand)
    triples: list[tuple[float, tuple[int, int, int]]] = []
    for first in range(count - 2):
        near = np.flatnonzero(common[first, first + 1:] > 1e-9) + first + 1
        others = np.arange(first + 1, count) if len(near) else near
        if not len(near):
            continue
        reach = common[first][near][:, None] + common[first][others][None, :] + common[np.ix_(near, others)]
        for i, j in zip(*np.nonzero(reach > 1 + VIOLATED)):
            second, third = sorted((int(near[i]), int(others[j])))
            if second < third and int(demand[[first, second, third]].sum()) % 2:
                triples.append((0.0, (first, second, third)))
    unique = sorted({triple for _, triple in triples})
    if not unique:
        return []
    index = np.array(unique)
    inside = content[:, index[:, 0]] + content[:, index[:, 1]] + content[:, index[:, 2]]
    made = weights @ np.ceil(inside / 2 - 1e-9)
    wanted = np.ceil(demand[index].sum(axis=1) / 2)
    gap = wanted - made
    order = np.argsort(-gap, kind="stable")
    return [unique[place] for place in order if gap[place] > VIOLATED]


def _small(values: Whole) -> Small:
    """Return whole numbers from 0 on in as little memory as holds the greatest."""
    return values.astype(np.min_scalar_type(int(values.max(initial=0))))


def close_by_tree(master: Master, priced: PricedDuals, target: int, effort: Effort) -> Closed:
    """Look for a cutting of at most ``target``, or prove that there is none, where one program cannot hold the pool.

    Parameters
    ----------
    master, priced, target, effort
        As for ``whole.close``.
    """
    quick = target > master.proof(priced).bound
    pool = gather_columns(master, [priced], target, MOST_PATTERNS)
    if pool is None and quick:
        return Closed()
    if pool is None or len(pool) > FEW and not quick:
        pool = gather_columns(master, [priced, *tilted(master, target, effort)], target, PATTERNS)
    if pool is None:
        return Closed()
    how = f"all {len(pool)} patterns that an answer of {target} could use"
    if quick or len(pool) <= FEW:
        return solve_pool(master, pool, target, effort, how)
    tree = Tree(master, pool, target, effort, how)
    closed = tree.run(FEW_BRANCHES)
    if closed.patterns is None and closed.least is None and len(pool) <= MOST_PATTERNS:
        closed = solve_pool(master, pool, target, effort, how)
    if closed.patterns is None and closed.least is None:
        closed = tree.run(BRANCHES)
    return closed


def tilted(master: Master, target: int, effort: Effort) -> list[PricedDuals]:
    """Return sets of duals that are nearly optimal, tilted many ways.

    Notes
    -----
    When optimal duals leave many patterns at no shortfall at all, duals a little off the optimum can leave far fewer:
    short pieces, which fill patterns in countless ways, are given less worth by asking for a little less of them.
    """
    unit = master.scale * master.dearest
    duals: list[PricedDuals] = []
    for share in TILT_SHARES:
        for less in TILTS:
            priced = None if effort.stopped() else tilt(master, share, less, effort)
            if priced is None:
                return duals
            short = slack(master, master.shrink(priced), target)
            if TILTED * unit < short < MOST_SLACK * unit:
                duals.append(priced)
            if short > TILTED * unit:
                break
    return duals


def tilt(master: Master, share: float, less: float, effort: Effort) -> PricedDuals | None:
    """Return duals of the master when ``less`` of the demand for short pieces is asked.

    A piece is short when it is shorter than ``share`` of the longest roll.
    """
    short = share * max(stock.length for stock in master.problem.stocks)
    for row, item in zip(master.item_row, master.problem.items):
        asked = item.demand - less if item.length < short else item.demand
        master.program.bound_row(row, lower=asked, upper=INFINITY)
    try:
        return master.solve(rounds=TILT_ROUNDS, effort=effort).priced
    finally:
        for row, item in zip(master.item_row, master.problem.items):
            master.program.bound_row(row, lower=item.demand, upper=INFINITY)


def solve_by_tree(problem: Problem, effort: Effort = Effort()) -> Answer | None:
    """Cut the items at the least cost and close what gap is left by a tree; None when the stock cannot hold them."""
    return solve_closing(problem, effort, close_by_tree)
