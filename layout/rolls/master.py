"""The master program: column generation over roll patterns and rips, and an exact bound from its duals.

The linear program is floating point and is never believed: its duals are scaled, floored to whole numbers and
priced by an exact knapsack, and what that proves is the bound.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import floor
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from layout.milp import INFINITY, Floats, LinearAnswer, Program
from layout.rolls.blocks import Lane, Rip, lanes, rip_worths
from layout.rolls.laned import LanedWorths
from layout.rolls.pricing import Knapsack, RollWorths, RollPricing
from layout.rolls.problem import CutBlock, RollBounds, Effort, Pattern, Problem, Proof
from layout.rolls.totals import Totals

NEW_A_ROUND = 16
"""Most columns taken for one stock from one table: many, since a table costs more than a column."""
MOST_A_ROUND = 400
"""Columns taken for all stocks together, one each at least: with hundreds of remnants the program would swell."""
FEWEST_ROUNDS = 12
"""Rounds at a node of a dive even when its objective is low enough: the columns help further down."""
MOST_LANED = 120_000
"""Ticks of a roll up to which lanes that are cross-cut again are priced; of narrow pieces on longer ones nothing is
proven: the tables would be too large."""
TABLE_STEPS = 25
"""Steps of the simplex method that pricing the duals once takes as long as, about, on the joint benchmark."""
SCALE_BITS = 36
"""Duals are kept to about 2^-36 of the dearest roll: floors lose nothing that matters, sums stay far from 2^63."""


@dataclass(frozen=True)
class RollColumn:
    """A roll of a stock cut into parts: (part of the lane, count), by part; and blocks whose lanes are cross-cut."""

    stock: int
    lane: int
    parts: tuple[tuple[int, int], ...]
    blocks: tuple[CutBlock, ...] = ()


@dataclass(frozen=True)
class RipColumn:
    """A slot of a lane ripped: (way of the lane, count), by way."""

    slot: int
    lane: int
    ways: tuple[tuple[int, int], ...]


MasterColumn = RollColumn | RipColumn
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class PricedDuals:
    """One set of whole duals priced: by lane the rips and the roll table, by stock what its best roll is worth."""

    duals: tuple[int, ...]
    rips: tuple[dict[int, Rip], ...]
    tables: tuple[RollWorths, ...]
    values: tuple[int, ...]


class LanedRoll(NamedTuple):
    """What a roll of blocks with lanes and of single pieces is worth, and how to read it: parts, and blocks."""

    worth: int
    read: Callable[[], tuple[dict[int, int], list[CutBlock]]]


@dataclass
class MasterState:
    """A master solved as far as it goes: the last linear answer, the best proof, how it ended."""

    answer: LinearAnswer | None = None
    proof: Proof | None = None
    priced: PricedDuals | None = None
    converged: bool = False
    rounds: int = 0


@dataclass
class Master:
    """Columns found so far over one problem, and the linear program over them.

    Where ``cross_cut`` is false, lanes hold one piece each: what is proven then is no bound on other cuttings.
    ``pricing`` is made of the lengths of parts and of rolls [ticks].
    """

    problem: Problem
    cross_cut: bool = True
    pricing: Callable[[Sequence[int], Sequence[int]], RollPricing] = Knapsack
    columns: list[MasterColumn] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.lanes = lanes(self.problem)
        dearest = max((stock.cost for stock in self.problem.stocks), default=1) or 1
        self.scale = max(1, (1 << SCALE_BITS) // dearest)
        self.dearest = dearest
        self.totals = Totals(self.problem)
        self.knapsacks = [
            self.pricing([part.length for part in lane.parts], [self.problem.stocks[k].length for k in lane.stocks])
            for lane in self.lanes
        ]
        self.lane_of = {k: number for number, lane in enumerate(self.lanes) for k in lane.stocks}
        self.laned = [number for number, lane in enumerate(self.lanes)
                      if self.cross_cut and lane.slots and lane.longest <= MOST_LANED]
        self.singles = {number: self._singles(number) for number in self.laned}
        self.turn = 0
        self.limits: list[tuple[int, float]] = []
        self._made = np.zeros((256, len(self.problem.items)), dtype=np.int32)
        self.known: dict[MasterColumn, int] = {}
        self._build()

    def _singles(self, number: int) -> Knapsack:
        """Return the knapsack of the pieces of a lane beside which nothing fits."""
        lane = self.lanes[number]
        lengths = [part.length for part in lane.parts if part.item is not None]
        return Knapsack(lengths, [self.problem.stocks[k].length for k in lane.stocks])

    def _build(self) -> None:
        """Add the rows (items, slots, limited stocks) and a dear stand-in for each item."""
        self.program = Program()
        self.item_row = [self.program.add_row(item.demand, INFINITY) for item in self.problem.items]
        self.slot_row = [
            {slot: self.program.add_row(0, INFINITY) for slot in lane.slots} for lane in self.lanes
        ]
        self.stock_row = {
            k: self.program.add_row(-INFINITY, INFINITY if stock.count is None else stock.count)
            for k, stock in enumerate(self.problem.stocks) if stock.count is not None or len(self.problem.stocks) > 1
        }
        self.box = RollBounds.whole(self.problem)
        self.rows = self.program.rows
        # a stand-in costs more than any roll, so it leaves the basis as soon as real columns can replace it
        self.stand_ins = [
            self.program.add_column(2.0 * len(self.problem.stocks), [row], [1.0]) for row in self.item_row
        ]

    def confine(self, box: RollBounds) -> None:
        """Say how many rolls of each stock may be opened; bounds proven from here on hold within that."""
        self.box = box
        for k, row in self.stock_row.items():
            most = box.most[k]
            self.program.bound_row(row, lower=box.least[k], upper=INFINITY if most is None else most)

    # --- columns -------------------------------------------------------------------------------

    def add(self, column: MasterColumn) -> bool:
        """Add a column unless it is there; return whether it was new."""
        if column in self.known:
            return False
        rows, values, cost = self.entries(column)
        self.known[column] = self.program.add_column(cost / self.dearest, rows, values)
        self.limits.append((0, INFINITY))
        if len(self.columns) == len(self._made):
            self._made = np.vstack([self._made, np.zeros_like(self._made)])
        for item, count in self.produces(column).items():
            self._made[len(self.columns), item] = count
        self.columns.append(column)
        return True

    def uses(self, answer: LinearAnswer) -> Floats:
        """Return how often an answer uses each column; those made after it have no value yet."""
        return answer.columns[len(self.stand_ins):].copy()

    def made(self) -> NDArray[np.int32]:
        """Return the pieces that each column makes by itself: one row a column, one place an item."""
        return self._made[:len(self.columns)]

    def limit(self, number: int, least: int, most: float) -> None:
        """Say how often a column may be used."""
        if self.limits[number] != (least, most):
            self.limits[number] = (least, most)
            self.program.bound_column(self.known[self.columns[number]], lower=least, upper=most)

    def entries(self, column: MasterColumn) -> tuple[list[int], list[float], int]:
        """Return a column's rows, values and cost."""
        gains: dict[int, float] = {}
        lane = self.lanes[column.lane]
        if isinstance(column, RollColumn):
            for part, count in column.parts:
                item = lane.parts[part].item
                row = self.slot_row[column.lane][part] if item is None else self.item_row[item]
                gains[row] = gains.get(row, 0.0) + count
            for lay in (lay for block in column.blocks for lay in block.lays):
                row = self.item_row[lay.item]
                gains[row] = gains.get(row, 0.0) + 1
            if column.stock in self.stock_row:
                gains[self.stock_row[column.stock]] = 1.0
            return list(gains), list(gains.values()), self.problem.stocks[column.stock].cost
        for way, count in column.ways:
            row = self.item_row[lane.ways[way].item]
            gains[row] = gains.get(row, 0.0) + count
        gains[self.slot_row[column.lane][column.slot]] = -1.0
        return list(gains), list(gains.values()), 0

    def produces(self, column: MasterColumn) -> dict[int, int]:
        """Return the pieces of each item that a column makes by itself."""
        lane = self.lanes[column.lane]
        made: dict[int, int] = {}
        if isinstance(column, RollColumn):
            for part, count in column.parts:
                item = lane.parts[part].item
                if item is not None:
                    made[item] = made.get(item, 0) + count
            for lay in (lay for block in column.blocks for lay in block.lays):
                made[lay.item] = made.get(lay.item, 0) + 1
        else:
            for way, count in column.ways:
                item = lane.ways[way].item
                made[item] = made.get(item, 0) + count
        return made

    # --- pricing and the bound -----------------------------------------------------------------

    def whole_duals(self, duals: Floats) -> tuple[int, ...]:
        """Return the items' duals scaled and floored, none negative."""
        factor = self.scale * self.dearest
        return tuple(max(0, floor(duals[row] * factor)) for row in self.item_row)

    def price(self, duals: tuple[int, ...], demand: Sequence[int] | None = None) -> PricedDuals:
        """Price one set of whole duals: rips first, then rolls, for each lane.

        Parameters
        ----------
        duals
            Worth of one piece of each item [cost x scale].
        demand
            Most pieces of each item one roll may hold; the problem's own demand unless given.
        """
        wanted = [item.demand for item in self.problem.items] if demand is None else demand
        self.turn += 7
        rips, tables = [], []
        values = [0] * len(self.problem.stocks)
        for number, lane in enumerate(self.lanes):
            rip = dict(rip_worths(lane, duals, wanted))
            worths = part_worths(lane, duals, rip)
            bounds = [part.most if part.item is None else min(part.most, wanted[part.item]) for part in lane.parts]
            table = self.knapsacks[number].price(worths, bounds, self.turn % max(1, len(worths)))
            for k in lane.stocks:
                values[k] = table.value(self.problem.stocks[k].length)
            rips.append(rip)
            tables.append(table)
        return PricedDuals(duals, tuple(rips), tuple(tables), tuple(values))

    def shrink(self, priced: PricedDuals) -> PricedDuals:
        """Return duals shrunk until no roll without limit is worth more than it costs, priced again."""
        over, under = 1, 1
        for stock, value, most in zip(self.problem.stocks, priced.values, self.box.most):
            if most is None and value * under > stock.cost * self.scale * over:
                over, under = value, stock.cost * self.scale
        if over == under:
            return priced
        shrunk = self.price(tuple(dual * under // over for dual in priced.duals))
        return self.with_lanes(shrunk) if self.laned else shrunk

    def with_lanes(self, priced: PricedDuals) -> PricedDuals:
        """Return the same duals with rolls worth what they hold when lanes are cross-cut again."""
        values = list(priced.values)
        for number in self.laned:
            for k, found in self._laned(priced.duals, number).items():
                values[k] = found.worth
        return replace(priced, values=tuple(values))

    def _laned(self, duals: Sequence[int], number: int) -> dict[int, LanedRoll]:
        """Return by stock the best roll of blocks with lanes and, beyond these, single pieces."""
        lane = self.lanes[number]
        demand = [item.demand for item in self.problem.items]
        worths = LanedWorths(lane, duals, demand)
        closed, helped = worths.close()
        parts = [place for place, part in enumerate(lane.parts) if part.item is not None]
        items = [lane.parts[place].item or 0 for place in parts]
        table = self.singles[number].price([duals[item] for item in items], [demand[item] for item in items])
        singles = table.worth[np.arange(worths.size) * worths.grain // table.grain]
        found: dict[int, LanedRoll] = {}
        for k in lane.stocks:
            end = self.problem.stocks[k].length // worths.grain
            both = closed[:end + 1] + singles[end::-1][:end + 1]
            length = int(both.argmax())
            found[k] = LanedRoll(int(both[length]), lambda length=length, end=end: (  # type: ignore[misc]
                {parts[place]: count for place, count in table.read((end - length) * worths.grain).items()},
                worths.blocks(length, closed, helped)))
        return found

    def generate_laned(self, priced: PricedDuals, duals: Floats) -> int:
        """Add rolls that hold blocks with cross-cut lanes where these are worth more than they cost."""
        new = 0
        for number in self.laned:
            for k, found in self._laned(priced.duals, number).items():
                if self.box.most[k] != 0 and found.worth > self._price(k, duals):
                    parts, blocks = found.read()
                    new += self.add(RollColumn(k, number, tuple(sorted(parts.items())), tuple(sorted(blocks))))
        return new

    def proof(self, priced: PricedDuals) -> Proof:
        """Return what priced duals prove, shrunk first where they must be."""
        if self.cross_cut and any(lane.slots and number not in self.laned for number, lane in enumerate(self.lanes)):
            priced = self.price((0,) * len(self.problem.items))
        shrunk = self.shrink(priced)
        worth = proven(self.problem, self.scale, shrunk.duals, shrunk.values, self.box)
        bound = self.totals.at_least(max(0, -(-worth // self.scale)))
        return Proof(self.scale, shrunk.duals, shrunk.values, bound, bound)

    def _may_prove(self, priced: PricedDuals) -> int:
        """Return the most that priced duals can prove once they are shrunk and lanes are cross-cut."""
        worth = proven(self.problem, self.scale, priced.duals, priced.values, self.box)
        return self.totals.at_least(max(0, -(-worth // self.scale)))

    # --- column generation ---------------------------------------------------------------------

    def generate(self, priced: PricedDuals, duals: Floats) -> int:
        """Add the columns that the priced duals recommend; return how many were new."""
        new = 0
        factor = self.scale * self.dearest
        for number, lane in enumerate(self.lanes):
            for slot, rip in priced.rips[number].items():
                if rip.worth > duals[self.slot_row[number][slot]] * factor + 2 and rip.ways:
                    new += self.add(RipColumn(slot, number, rip.ways))
            for k in lane.stocks:
                new += self._generate_rolls(priced, number, k, duals)
        return new

    def _price(self, k: int, duals: Floats) -> int:
        """Return what a roll of a stock must be worth more than to help the linear program [cost x scale]."""
        limit = -duals[self.stock_row[k]] if k in self.stock_row else 0.0
        return self.problem.stocks[k].cost * self.scale + floor(limit * self.scale * self.dearest) + 2

    def _generate_rolls(self, priced: PricedDuals, number: int, k: int, duals: Floats) -> int:
        table = priced.tables[number]
        if self.box.most[k] == 0:
            return 0
        price = self._price(k, duals)
        if priced.values[k] <= price:
            return 0
        place = self.lanes[number].stocks.index(k)
        most = max(1, min(NEW_A_ROUND, MOST_A_ROUND // len(self.problem.stocks)))
        return sum(
            self.add(RollColumn(k, number, tuple(sorted(counts.items()))))
            for counts in table.patterns(place, price, most))

    def solve(
        self,
        *,
        rounds: int,
        target: int | None = None,
        demand: Sequence[int] | None = None,
        enough: float | None = None,
        effort: Effort = Effort(),
    ) -> MasterState:
        """Generate columns until none can lower the linear program any more, or something else settles it.

        Parameters
        ----------
        rounds
            Most linear programs.
        target
            A cost that is known to be reachable; generation ends once the bound meets it.
        demand
            Most pieces of each item that a new column may make, where part of the demand is already fixed; no bound
            is proven then.
        enough
            Generation ends after a few rounds once the linear program's objective is no more than this.
        effort
            Its ``stop`` ends the search.
        """
        state, laned = MasterState(), 0
        for _ in range(rounds):
            if effort.stopped():
                break
            state.rounds += 1
            answer = self.program.solve_linear()
            effort.spend(TABLE_STEPS + self.program.steps)
            if answer is None:
                state.answer = None
                break
            state.answer = answer
            if enough is not None and state.rounds > FEWEST_ROUNDS and answer.objective <= enough:
                break
            priced = self.price(self.whole_duals(answer.duals), demand)
            if self.laned:
                new = self.generate(priced, answer.duals)
                if demand is None and not new:
                    if state.proof is None or self._may_prove(priced) > state.proof.bound:
                        state.proof = _better(state.proof, self.proof(self.with_lanes(priced)))
                    if laned < effort.laned and (target is None or state.proof.bound < target):
                        new, laned = self.generate_laned(priced, answer.duals), laned + 1
            else:
                if demand is None:
                    state.proof = _better(state.proof, self.proof(priced))
                    if target is not None and state.proof.bound >= target:
                        break
                new = self.generate(priced, answer.duals)
            if not new:
                state.converged = True
                state.priced = priced
                break
        return state


def _better(known: Proof | None, found: Proof) -> Proof:
    """Return the proof that proves more, the known one when neither does."""
    return found if known is None or found.bound > known.bound else known


def part_worths(lane: Lane, duals: Sequence[int], rips: Mapping[int, Rip]) -> list[int]:
    """Return what one of each part of a lane is worth: a piece its dual, a slot its best rip."""
    return [rips[p].worth if part.item is None else duals[part.item] for p, part in enumerate(lane.parts)]


def columns_of(master: Master, patterns: Sequence[Pattern]) -> list[MasterColumn]:
    """Return the columns that make a cutting: the rolls, and the rips of their blocks."""
    columns: dict[MasterColumn, None] = {}
    for pattern in patterns:
        number = master.lane_of[pattern.stock]
        lane = master.lanes[number]
        counts: dict[int, int] = {}
        laned: list[CutBlock] = []
        for block in pattern.blocks:
            found = _part_of(lane, number, block)
            if found is None:
                laned.append(block)
                continue
            part, rip = found
            counts[part] = counts.get(part, 0) + 1
            if rip is not None:
                columns[rip] = None
        columns[RollColumn(pattern.stock, number, tuple(sorted(counts.items())), tuple(sorted(laned)))] = None
    return list(columns)


def _part_of(lane: Lane, number: int, block: CutBlock) -> tuple[int, RipColumn | None] | None:
    """Return the part a block is, and its rip when it is a slot; None when a lane of it is cross-cut."""
    if any(len(lays) > 1 for lays in block.lanes):
        return None
    if len(block.lanes) == 1:
        # a piece that lies alone either way is a part only in its shorter way, which fits wherever the longer did
        for place, part in enumerate(lane.parts):
            if part.item == block.lays[0].item and part.length <= block.length:
                return place, None
    ways = {(way.item, way.turned): place for place, way in enumerate(lane.ways)}
    counts: dict[int, int] = {}
    for lay in block.lays:
        way = ways.get((lay.item, lay.turned))
        if way is None:
            return None
        counts[way] = counts.get(way, 0) + 1
    slots = (place for place, part in enumerate(lane.parts) if part.item is None and part.length == block.length)
    slot = next(slots, None)
    return None if slot is None else (slot, RipColumn(slot, number, tuple(sorted(counts.items()))))


def proven(
    problem: Problem, scale: int, duals: Sequence[int], values: Sequence[int], box: RollBounds | None = None,
) -> int:
    """Return what every answer within a box costs at least, times the scale (see ``Proof``)."""
    box = box or RollBounds.whole(problem)
    worth = sum(dual * item.demand for dual, item in zip(duals, problem.items))
    for stock, value, least, most in zip(problem.stocks, values, box.least, box.most):
        left = stock.cost * scale - value
        if left >= 0:
            worth += least * left
        elif most is not None:
            worth += most * left
    return worth
