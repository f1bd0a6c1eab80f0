"""Closing the gap: every pattern that a better answer could use, and an integer program over them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layout.milp import INFINITY, Program
from layout.rolls.assemble import complete
from layout.rolls.listing import Lister
from layout.rolls.master import Column, Master, Priced, RipColumn, RollColumn, proven
from layout.rolls.problem import Effort, Pattern


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


def close(master: Master, priced: Priced, target: int, effort: Effort) -> Closed:
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
    columns = usable(master, priced, target, effort.patterns)
    if columns is None:
        return Closed()
    chosen = Chosen(master, columns, target)
    return chosen.solve(effort, f"all {len(columns)} patterns that an answer of {target} could use")


def usable(master: Master, priced: Priced, target: int, most: int) -> list[Column] | None:
    """Return every column that an answer of cost ``target`` could use; None when there are more than ``most``.

    Notes
    -----
    Only rolls to which nothing can be added are listed: making more than is asked is allowed.
    """
    proof = master.proof(priced)
    problem = master.problem
    shrunk = master.price(proof.duals) if proof.duals != priced.duals else priced
    slack = target * master.scale - proven(problem, master.scale, shrunk.duals, shrunk.values)
    columns: list[Column] = []
    for number, lane in enumerate(master.lanes):
        rips = shrunk.rips[number]
        values = [rips[p].worth if part.item is None else shrunk.duals[part.item] for p, part in enumerate(lane.parts)]
        lister = Lister([part.length for part in lane.parts], values, [part.most for part in lane.parts], lane.longest)
        for k in lane.stocks:
            stock = problem.stocks[k]
            price = stock.cost * master.scale
            # the bound credits a limited stock that is worth more than it costs with the difference, roll by roll
            least = (price if stock.count is None else max(price, shrunk.values[k])) - slack
            listing = lister.patterns(stock.length, least, most - len(columns))
            if listing is None:
                return None
            for row in listing.counts:
                parts = tuple((int(part), int(row[part])) for part in np.flatnonzero(row))
                columns.append(RollColumn(k, number, parts))
        listed = rip_columns(master, number, shrunk, slack, most - len(columns))
        if listed is None:
            return None
        columns.extend(listed)
    return columns


def rip_columns(master: Master, number: int, priced: Priced, slack: int, most: int) -> list[RipColumn] | None:
    """Return every rip of a lane's slots that falls short of the best by no more than ``slack``."""
    lane = master.lanes[number]
    columns: list[RipColumn] = []
    for slot in lane.slots:
        length = lane.parts[slot].length
        ways = [way for way in range(len(lane.ways)) if lane.ways[way].length <= length]
        lister = Lister(
            [lane.ways[way].width for way in ways],
            [priced.duals[lane.ways[way].item] for way in ways],
            [master.problem.items[lane.ways[way].item].demand for way in ways],
            lane.width)
        listing = lister.patterns(lane.width, priced.rips[number][slot].worth - slack, most - len(columns))
        if listing is None:
            return None
        for row in listing.counts:
            used = tuple((ways[place], int(row[place])) for place in np.flatnonzero(row))
            # a block is as long as its longest piece, so other rips belong to a shorter slot
            if any(lane.ways[way].length == length for way, _ in used):
                columns.append(RipColumn(slot, number, used))
    return columns


class Chosen:
    """An integer program over a fixed list of columns."""

    def __init__(self, master: Master, columns: Sequence[Column], target: int) -> None:
        self.master = master
        self.columns = columns
        self.target = target
        self.program = Program()
        for item in master.problem.items:
            self.program.add_row(item.demand, INFINITY)
        for lane in master.lanes:
            for _ in lane.slots:
                self.program.add_row(0, INFINITY)
        for stock in master.problem.stocks:
            if stock.count is not None:
                self.program.add_row(-INFINITY, stock.count)
        costs = []
        for column in columns:
            rows, values, cost = master.entries(column)
            self.program.add_column(cost, rows, values, upper=master.problem.pieces, integer=True)
            costs.append(float(cost))
        priced = [place for place, cost in enumerate(costs) if cost]
        self.program.add_row(-INFINITY, target, priced, [costs[place] for place in priced])

    def solve(self, effort: Effort, how: str) -> Closed:
        """Solve and check what is found in whole numbers."""
        if not self.columns:
            return Closed(None, self.target + 1, how)
        answer = self.program.solve_integer(
            nodes=effort.mip_nodes, step=float(self.master.totals.step), cutoff=float(self.target), stop=effort.stop)
        if answer.status == "infeasible":
            return Closed(None, self.target + 1, how)
        if answer.objective is None:
            return Closed()
        used = Counter({place: int(value) for place, value in enumerate(answer.columns) if value > 0.5})
        least = round(answer.objective) if answer.status == "optimal" else None
        return Closed(complete(self.master, self.columns, used), least, how)
