"""What a length of sheet is worth: a linear program over whole layouts and cutting patterns.

The relaxation counts lengths only. A piece takes its whole length of a roll when nothing wide enough to matter fits
beside it, and its share of the width otherwise; no cutting, however it rips, does better than that. Rows are cut
lengths, columns are patterns (what one roll yields) and layouts (what one run asks for).

The duals are never believed. They are scaled and floored to whole numbers and made into a *worth* of every length by
an exact knapsack: the most that a roll of that length could yield. Such a worth is superadditive (two lengths
together are worth no more than one as long as both), so no pattern of any lengths, known or not, is worth more than its
roll. The least worth of any layout of each run, which the placement finds exactly, then gives a bound that holds for
every layout and every cutting.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from layout.milp import INFINITY, LinearAnswer, Program
from layout.rolls import Problem, Stock
from layout.rolls.pricing import Knapsack, Table
from layout.rolls.totals import Totals

Whole = NDArray[np.int64]

WORTH_BITS = 19
"""A roll's worth is kept below 2^19, so that it can be multiplied by a width and still be added up exactly."""
MOST_ROUNDS = 400
"""Linear programs solved over patterns before the last duals are taken as they are; they need not be optimal."""
NEAR = 2000
"""Patterns are added until none is worth more than its roll's cost and a part in so many: the worths are then lowered
by as little, which seldom costs a roll in the bound."""
MOST_KINDS, MOST_WAYS = 3, 20_000
"""Stocks whose rolls are counted whole in a bound, and ways to count them that are gone through."""
NEW_A_ROUND = 12
"""Patterns taken for one stock from one table: many, since a table costs more than a pattern."""


@dataclass(frozen=True)
class Want:
    """Pieces of one size that a layout, or the job, asks for: cut length and width [ticks], and how many."""

    length: int
    width: int
    count: int


@dataclass(frozen=True)
class Sharing:
    """Which pieces can share a roll's width.

    Parameters
    ----------
    width
        Of the sheet [ticks].
    narrowest
        Width of the narrowest piece that counts: narrower ones are left out of the relaxation [ticks].
    """

    width: int
    narrowest: int

    @property
    def widest(self) -> int:
        """Width of the widest piece that another one fits beside [ticks]; 0 when none is."""
        return max(self.width - self.narrowest, 0) if 2 * self.narrowest <= self.width else 0

    def share(self, width: int) -> int:
        """Return what a piece takes of the width, in parts of ``width``."""
        if width < self.narrowest:
            return 0
        return width if width <= self.widest else self.width

    def most(self, width: int) -> int:
        """Return a bound on the shares that fit side by side in a roll or remnant of some width."""
        if width > self.width:
            return self.width * -(-width // self.width)
        return self.share(width) if width > self.widest else width


@dataclass(frozen=True)
class Worth:
    """What lengths are worth, in ``1 / scale`` of a unit of cost.

    Parameters
    ----------
    table
        Worth of each length from 0 to that of the longest roll; superadditive, and of no roll more than its cost.
    scale
        Units of worth in one unit of cost.
    """

    table: Whole
    scale: int

    def of(self, lengths: Whole) -> Whole:
        """Return the worth of cut lengths; longer than every roll counts as the longest."""
        worths: Whole = self.table[np.minimum(lengths, len(self.table) - 1)]
        return worths


@dataclass(frozen=True)
class Terms:
    """What layouts and cuttings of a job are weighed by.

    Parameters
    ----------
    stocks
        Rolls and remnants with whole costs.
    sharing
        Which pieces share widths.
    runs
        How many runs choose a layout.
    fixed
        Pieces that the job needs whatever the layouts.
    """

    stocks: tuple[Stock, ...]
    sharing: Sharing
    runs: int
    fixed: tuple[Want, ...]


@dataclass
class Market:
    """The linear program over layouts and patterns, and what its duals are worth."""

    terms: Terms

    def __post_init__(self) -> None:
        self.stocks, self.sharing = self.terms.stocks, self.terms.sharing
        self.longest = max(stock.length for stock in self.stocks)
        self.dearest = max(stock.cost for stock in self.stocks) or 1
        self.scale = max(1, (1 << WORTH_BITS) // self.dearest)
        self.totals = Totals(Problem((), self.stocks))
        self.program = Program()
        self.run_row = [self.program.add_row(1, INFINITY) for _ in range(self.terms.runs)]
        self.stock_row = {
            k: self.program.add_row(-INFINITY, stock.count)
            for k, stock in enumerate(self.stocks) if stock.count is not None
        }
        self.length_row: dict[int, int] = {}
        self.needed: dict[int, float] = {}
        self.known: set[tuple[int, tuple[Want, ...]]] = set()
        self.patterns: set[tuple[int, tuple[tuple[int, int], ...]]] = set()
        for want in self.terms.fixed:
            share = self.sharing.share(want.width)
            if share:
                row = self._row(want.length)
                self.needed[want.length] = self.needed.get(want.length, 0.0) + want.count * share / self.sharing.width
                self.program.bound_row(row, lower=self.needed[want.length], upper=INFINITY)

    def _row(self, length: int) -> int:
        """Return the row of a cut length, with a stand-in dearer than any roll while nothing yields it."""
        if length not in self.length_row:
            row = self.program.add_row(0, INFINITY)
            self.length_row[length] = row
            self.program.add_column(2.0, [row], [1.0])
        return self.length_row[length]

    def add_layout(self, run: int, wants: Sequence[Want]) -> bool:
        """Let a run choose a layout; return whether it was new."""
        key = (run, tuple(sorted(wants, key=lambda want: (want.length, want.width))))
        if key in self.known:
            return False
        self.known.add(key)
        asked: dict[int, float] = {}
        for want in wants:
            share = self.sharing.share(want.width)
            if share:
                asked[want.length] = asked.get(want.length, 0.0) + want.count * share / self.sharing.width
        rows = [self._row(length) for length in asked]
        self.program.add_column(0.0, [self.run_row[run], *rows], [1.0, *(-amount for amount in asked.values())])
        return True

    def by_length(self) -> Worth:
        """Return lengths as their own worth: the bound is then by area alone, good where rolls are filled well."""
        rate = min(Fraction(stock.cost * self.scale, stock.length) for stock in self.stocks if stock.count is None)
        table: Whole = np.arange(self.longest + 1, dtype=np.int64) * rate.numerator // rate.denominator
        return Worth(self._shrunk(table), self.scale)

    def between(self, one: Worth, other: Worth) -> Worth:
        """Return the mean of two worths, length by length, lowered where a roll would be worth more than it costs."""
        return Worth(self._shrunk((one.table + other.table) // 2), self.scale)

    def settle(self) -> Worth:
        """Solve the program, adding patterns while they help, and return what lengths are worth."""
        lengths = sorted(self.length_row, reverse=True)
        knapsack = Knapsack(lengths, [stock.length for stock in self.stocks])
        most = [self.longest // length for length in lengths]
        table: Whole = np.zeros(self.longest + 1, dtype=np.int64)
        for _ in range(MOST_ROUNDS):
            answer = self.program.solve_linear()
            if answer is None:
                break
            values = self._whole(answer, lengths)
            priced = knapsack.price(values, most)
            table = priced.worth[np.arange(self.longest + 1) // knapsack.grain]
            if not self._add_patterns(answer, lengths, priced, table):
                break
        return Worth(self._shrunk(table), self.scale)

    def _whole(self, answer: LinearAnswer, lengths: Sequence[int]) -> list[int]:
        factor = self.scale * self.dearest
        return [max(0, floor(answer.duals[self.length_row[length]] * factor)) for length in lengths]

    def _add_patterns(self, answer: LinearAnswer, lengths: Sequence[int], priced: Table, table: Whole) -> int:
        """Add patterns where a roll is worth more than it costs; return how many were new."""
        added = 0
        for k, stock in enumerate(self.stocks):
            share = self.sharing.most(stock.width) / self.sharing.width
            limit = -answer.duals[self.stock_row[k]] if k in self.stock_row else 0.0
            price = stock.cost * self.scale + limit * self.scale * self.dearest
            if int(table[stock.length]) * share <= price + 1 + price / NEAR:
                continue
            for counts in priced.patterns(k, floor(price / share), NEW_A_ROUND):
                added += self._add_pattern(k, counts, lengths, share)
        return added

    def _add_pattern(self, k: int, counts: Mapping[int, int], lengths: Sequence[int], share: float) -> bool:
        """Add what one roll of a stock may yield; return whether it was new."""
        key = (k, tuple(sorted((lengths[i], count) for i, count in counts.items())))
        if not counts or key in self.patterns:
            return False
        self.patterns.add(key)
        rows = [self.length_row[length] for length, _ in key[1]]
        yields = [count * share for _, count in key[1]]
        if k in self.stock_row:
            rows.append(self.stock_row[k])
            yields.append(1.0)
        self.program.add_column(self.stocks[k].cost / self.dearest, rows, yields)
        return True

    def _shrunk(self, table: Whole) -> Whole:
        """Return the worths lowered, all by one factor, until no unlimited roll is worth more than it costs."""
        over, under = 1, 1
        for stock in self.stocks:
            if stock.count is None:
                value, cost = self._most(stock, table), stock.cost * self.scale * self.sharing.width
                if value * under > cost * over:
                    over, under = value, cost
        return table if over == under else table * under // over

    def _most(self, stock: Stock, table: Whole) -> int:
        """Return the most that one roll of a stock yields, times the sheet's width."""
        return int(table[stock.length]) * self.sharing.most(stock.width)

    def asked(self, worth: Worth, layouts: Sequence[int]) -> int:
        """Return a lower bound on the worth of all pieces cut from rolls [units of worth x ticks of the sheet's width].

        Parameters
        ----------
        worth
            Of lengths.
        layouts
            For each run, the least worth of any of its layouts, times the sheet's width.
        """
        return sum(layouts) + sum(
            int(worth.of(np.array([min(want.length, self.longest)]))[0]) * self.sharing.share(want.width) * want.count
            for want in self.terms.fixed
        )

    def bound(self, worth: Worth, asked: int) -> int:
        """Return the least cost of any layouts and any cutting of them that the worths prove; see ``asked``."""
        return self.totals.at_least(least_cover(asked, [
            Yield(self._most(stock, worth.table), stock.cost, stock.count) for stock in self.stocks
        ]))

    def measure(self, worth: Worth, asked: int) -> Fraction:
        """Return the bound as a fraction, before it is rounded up, so that the bounds of two worths can be compared."""
        width = self.sharing.width
        given = sum(
            stock.count * max(0, self._most(stock, worth.table) - stock.cost * self.scale * width)
            for stock in self.stocks if stock.count is not None
        )
        return Fraction(asked - given, self.scale * width)


@dataclass(frozen=True)
class Yield:
    """The most that one roll of a stock is worth, what it costs, and how many there are (None: no limit)."""

    worth: int
    cost: int
    count: int | None

    @property
    def rate(self) -> Fraction:
        """Least cost of one unit of worth: the roll's cost by its greatest worth."""
        return Fraction(self.cost, self.worth)

    def enough(self, asked: int) -> int:
        """Return the fewest rolls whose worth together reaches ``asked``; all there are when those do not."""
        rolls = -(-asked // self.worth)
        return rolls if self.count is None else min(self.count, rolls)


def least_cover(asked: int, yields: Sequence[Yield]) -> int:
    """Return the least cost of whole rolls that are together worth what is asked.

    Parameters
    ----------
    asked
        In the unit of the yields' worths.
    yields
        The stocks.

    Notes
    -----
    Where more than ``MOST_KINDS`` stocks have a cost, or there are more than ``MOST_WAYS`` to count them, rolls of the
    dearest per worth are counted in parts: the result is then a bound on that cost. So it is where all there is is not
    enough.

    Examples
    --------
    Three of the first and the remnant are worth 32 and cost 24; two, one of the second and the remnant 29 for 22.

    >>> least_cover(28, [Yield(10, 8, None), Yield(7, 6, None), Yield(2, 0, 1)])
    22
    """
    useful = [each for each in yields if each.worth > 0]
    given = sum(each.worth * each.count for each in useful if each.count is not None and not each.cost)
    bought = sorted((each for each in useful if each.cost), key=lambda each: (each.count is None, each.rate))
    if any(each.count is None and not each.cost for each in useful):
        return 0
    kinds, ways = 0, 1
    for each in bought[:-1][:MOST_KINDS]:
        ways *= each.enough(max(asked - given, 0)) + 1
        if ways > MOST_WAYS:
            break
        kinds += 1
    return _cover(asked - given, bought, kinds)


def _cover(asked: int, yields: Sequence[Yield], kinds: int) -> int:
    if asked <= 0 or not yields:
        return 0
    first = yields[0]
    if len(yields) == 1:
        return first.enough(asked) * first.cost
    if not kinds:
        return ceil(asked * min(each.rate for each in yields))
    return min(
        count * first.cost + _cover(asked - count * first.worth, yields[1:], kinds - 1)
        for count in range(first.enough(asked) + 1)
    )
