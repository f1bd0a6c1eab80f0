"""Which rolls are too few for every layout, when blocks and wide drops are counted whole.

A roll is cut across into blocks, and a block is ripped into pieces that lie side by side. So the blocks of some length
or longer are a whole number, however the narrow pieces of all runs share widths; so are the wide drops of a run, and
the ticks of width of its narrow ones. The linear program here lets runs mix layouts, and rolls patterns, as the
market's does, but knows these counts; where it would have a part of one, both cases are gone through.

As in the market the duals are never believed. They are made whole numbers, lengths and layouts are priced by them
exactly, and a case is closed only when that sum is more than the rolls are worth. With ``N(h)`` blocks of length h or
longer, ``X(h)`` what a layout's pieces take of them by their widths, ``C(h)`` any other count, and the worths of
lengths split into a rate and steps, the sum is::

    rolls' worth >= worth of all blocks = rate * length of all blocks + sum over h of step(h) * N(h)
                 >= least over layouts of (rate * length + sum of mark(h) * X(h) + sum of extra(h) * C(h))
                    + least over counts of (step(h) - mark(h)) * N(h) - extra(h) * C(h)

for any marks and extras, since ``N(h) >= X(h)``; the program's duals say which marks and extras prove most.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import floor

import numpy as np

from layout.errors import SolverError
from layout.joint.cases import Case, least_of_counts
from layout.joint.market import WORTH_BITS, Terms, Want
from layout.joint.ripping import Ripping, best_ripping
from layout.joint.weights import (
    OWN,
    Count,
    Kind,
    Part,
    Pieces,
    Prices,
    Weight,
    Whole,
    blocks,
    prices_by,
    thirds,
    threshold,
    weights,
)
from layout.milp import INFINITY, LinearAnswer, Program
from layout.rolls.pricing import Knapsack, Table

Ask = Callable[[int, Prices], tuple[Sequence[Want], int | None]]
"""For a run, what drops cost: pieces of its best layout, and the least cost of any of its layouts, None when that is
not known."""
Pattern = tuple[int, tuple[tuple[int, int], ...]]
"""A stock, and the blocks cut from one roll of it: length and how many."""

MOST_LENGTHS = 40
"""Lengths whose blocks are counted; of the others only their sum is."""
MOST_ROUNDS = 60
"""Linear programs solved in one case for patterns and layouts."""
MOST_STEPS = 5_000
"""Steps of the simplex method for one of them."""
NEW_A_ROUND = 4
"""Patterns taken for one stock from one table."""
MOST_WEIGHTS, MOST_RIPPINGS = 8, 12
"""Ways in which narrow pieces are weighed: length by length, and several lengths together."""
SHORTER = 1e-3
"""Blocks by which a new way must take more than there are."""
SHORT = 1e-7
"""Rolls short below this are none."""
WHOLE = 1e-5
"""Counts this near to a whole number are whole."""
RATES = 1 << 20
"""Parts of a whole worth that the worth of a tick is counted in."""
MANY_BLOCKS = 10**5
"""More blocks than any job has."""


@dataclass
class Counts:
    """The linear program over layouts and patterns, with blocks, wide drops and narrow widths counted.

    Parameters
    ----------
    terms
        The job's; no stock is wider than the sheet.
    ask
        Prices the layouts of a run.
    stop
        Asked now and then; true ends the search, and nothing more is proven.
    closer
        Whether narrow pieces are weighed by thirds of the sheet from the start: that proves more, and asks for more
        prices.
    """

    terms: Terms
    ask: Ask
    stop: Callable[[], bool]
    closer: bool = False

    def __post_init__(self) -> None:
        self.stocks, self.sharing, self.width = self.terms.stocks, self.terms.sharing, self.terms.sharing.width
        self.weights = weights(self.sharing)
        if self.closer and len(self.weights) > 1:
            self.weights.append(thirds(self.sharing))
        self.rippings: list[Ripping] = []
        self.ripping_rows: list[int] = []
        self.longest = max(stock.length for stock in self.stocks)
        self.always = self._pieces(-1, self.terms.fixed)
        self.program = Program(steps=MOST_STEPS)
        self.run_row = [self.program.add_row(1, INFINITY) for _ in range(self.terms.runs)]
        self.stock_row = [self.program.add_row(0, INFINITY) for _ in self.stocks]
        self.area_row = self.program.add_row(self.always.area(self.width) / self.width, INFINITY)
        self.used = [self.program.add_column(0.0, [row], [1.0]) for row in self.stock_row]
        self.slacks = [
            self.program.add_column(float(stock.length), [row], [1.0])
            for stock, row in zip(self.stocks, self.stock_row, strict=True)
        ]
        for row in self.run_row:
            self._slack(self.longest * MANY_BLOCKS, row, 1.0)
        self.lengths: list[int] = []
        self.asked_rows: dict[int, list[int]] = {}
        self.given_row: dict[int, int] = {}
        self.blocks: dict[int, int] = {}
        self.count_row: dict[Count, int] = {}
        self.longer: list[int] = []
        self.layouts: dict[Pieces, int] = {}
        self.patterns: dict[Pattern, int] = {}
        self.case = Case({}, {})
        for k in range(len(self.stocks)):
            self._add_pattern(k, {})
        for part in self.always.parts:
            self._count_blocks(part.length)

    # --- rows and columns --------------------------------------------------------------------------

    def _pieces(self, run: int, wants: Sequence[Want]) -> Pieces:
        parts: dict[int, Part] = {}
        for want in wants:
            if want.width >= self.sharing.narrowest:
                length = min(want.length, self.longest)
                _, wide, narrow = parts.get(length, Part(length, 0, ()))
                if want.width > self.sharing.widest:
                    wide += want.count
                else:
                    narrow = tuple(sorted((*narrow, *[want.width] * want.count)))
                parts[length] = Part(length, wide, narrow)
        return Pieces(run, tuple(parts[length] for length in sorted(parts)))

    def _slack(self, cost: int, row: int, value: float) -> None:
        self.slacks.append(self.program.add_column(float(cost), [row], [value]))

    def _count_blocks(self, length: int) -> None:
        """Count the blocks of a length or longer from now on."""
        if length in self.blocks or len(self.lengths) >= MOST_LENGTHS:
            return
        yields = [(column, _yield(cut, length)) for (_, cut), column in self.patterns.items()]
        given = self._row(0, {column: float(n) for column, n in yields})
        self.given_row[length] = given
        self.blocks[length] = self.program.add_column(0.0, [given], [-1.0])
        self.asked_rows[length] = [self._ask_for(length, weight) for weight in self.weights]
        self.lengths = sorted(self.blocks)
        at = self.lengths.index(length)
        for shorter, longer in ((at - 1, at), (at, at + 1)):
            if shorter >= 0 and longer < len(self.lengths):
                columns = [self.blocks[self.lengths[shorter]], self.blocks[self.lengths[longer]]]
                self.program.add_row(0, INFINITY, columns, [1.0, -1.0])
        # one pattern alone keeps the program feasible
        longest = max(range(len(self.stocks)), key=lambda k: self.stocks[k].length)
        self._add_pattern(longest, {length: self.longest // length})
        self._bound_blocks(length)
        self._lengthen()

    def _ask_for(self, length: int, weight: Weight) -> int:
        """Add the row that there are as many blocks of a length or longer as pieces take by a weight."""
        entries = {self.blocks[length]: 1.0}
        entries.update((column, -pieces.taken(weight, length)) for pieces, column in self.layouts.items())
        row = self._row(self.always.taken(weight, length), entries)
        self._slack(self.longest, row, 1.0)
        return row

    def _weigh(self, weight: Weight) -> None:
        """Weigh pieces in another way as well from now on."""
        self.weights.append(weight)
        for length in self.lengths:
            self.asked_rows[length].append(self._ask_for(length, weight))
        self._lengthen()

    def _rip(self, ripping: Ripping) -> None:
        """Weigh pieces of several lengths together from now on, in parts of what the longest block is worth."""
        entries = {
            self.blocks[length]: more / ripping.longest
            for length, more in zip(ripping.lengths, ripping.more(), strict=True)
        }
        entries.update((column, -_worth(ripping, pieces)) for pieces, column in self.layouts.items())
        row = self._row(_worth(ripping, self.always), entries)
        self._slack(self.longest, row, 1.0)
        self.rippings.append(ripping)
        self.ripping_rows.append(row)
        self._lengthen()

    def _bound_blocks(self, length: int) -> None:
        least, most = self.case.bounds(blocks(length))
        self.program.bound_column(self.blocks[length], lower=least, upper=INFINITY if most is None else most)

    def _unit(self, of: Kind) -> int:
        """Return how many of what is counted make a whole block."""
        return self.width if of == "ticks" else 1

    def _count_own(self, count: Count) -> None:
        """Count a run's wide or narrow pieces, or the width of these, from now on."""
        if count in self.count_row:
            return
        row = self._row(0, {
            column: pieces.count(count) / self._unit(count.of)
            for pieces, column in self.layouts.items() if pieces.run == count.run
        })
        self.count_row[count] = row
        self._slack(self.longest, row, 1.0)
        self._slack(self.longest, row, -1.0)
        self._lengthen()

    def _lengthen(self) -> None:
        """Let pieces be cut longer than they need be, and more of them: the prices of layouts allow both."""
        for column in self.longer:
            self.program.bound_column(column, lower=0, upper=0)
        self.longer = []
        narrowest = self.sharing.narrowest
        before: Count | None = None
        for count in sorted(self.count_row):
            shorter = before.length if before and before[:2] == count[:2] else 0
            before = count
            if count.of == "ticks":  # by ticks of width, where each takes the least
                ticks, taken = self.width, [self.width * min(step[2] for step in one.steps) / one.whole
                                            for one in self.weights]
            else:
                part = Part(count.length, int(count.of == "wide"), () if count.of == "wide" else (narrowest,))
                ticks, taken = part.wide * self.width + sum(part.narrow), [one.of(part) for one in self.weights]
            entries = {self.area_row: -(ticks / self.width) * (count.length - shorter)}
            for ripping, row in zip(self.rippings, self.ripping_rows, strict=True):
                long, short = (
                    ripping.of(length, int(count.of == "wide"), (narrowest,) if count.of == "narrow" else ())
                    for length in (count.length, shorter)
                )
                entries[row] = -(long - short) / ripping.longest
            for length in self.lengths:
                if shorter < length <= count.length:
                    entries.update(zip(self.asked_rows[length], (-one for one in taken), strict=True))
            for other, row in self.count_row.items():
                if other.run == count.run and shorter < other.length <= count.length:
                    if other.of == count.of:
                        entries[row] = 1.0
                    elif (other.of, count.of) == ("ticks", "narrow"):
                        entries[row] = narrowest / self.width
            self.longer.append(self._column(entries))

    def _row(self, lower: float, entries: Mapping[int, float]) -> int:
        """Add a row with no upper bound, by the values of its columns."""
        kept = {column: value for column, value in entries.items() if value}
        return self.program.add_row(lower, INFINITY, list(kept), list(kept.values()))

    def _column(self, entries: Mapping[int, float]) -> int:
        """Add a column that costs nothing, by the values of its rows."""
        kept = {row: value for row, value in entries.items() if value}
        return self.program.add_column(0.0, list(kept), list(kept.values()))

    def add_layout(self, run: int, wants: Sequence[Want]) -> bool:
        """Let a run choose a layout; return whether it was new."""
        pieces = self._pieces(run, wants)
        if pieces in self.layouts:
            return False
        for part in pieces.parts:
            self._count_blocks(part.length)
        entries = {self.run_row[run]: 1.0, self.area_row: -pieces.area(self.width) / self.width}
        for length in self.lengths:
            for weight, row in zip(self.weights, self.asked_rows[length], strict=True):
                entries[row] = -pieces.taken(weight, length)
        for ripping, row in zip(self.rippings, self.ripping_rows, strict=True):
            entries[row] = -_worth(ripping, pieces)
        for count, row in self.count_row.items():
            if count.run == run:
                entries[row] = pieces.count(count) / self._unit(count.of)
        self.layouts[pieces] = self._column(entries)
        return True

    def _add_pattern(self, k: int, cut: Mapping[int, int]) -> bool:
        """Add blocks cut from one roll of a stock, by their length; return whether they were new."""
        key = (k, tuple(sorted(cut.items())))
        if key in self.patterns:
            return False
        entries = {self.stock_row[k]: -1.0, self.area_row: float(self.stocks[k].length)}
        entries.update((self.given_row[length], float(_yield(key[1], length))) for length in self.lengths)
        self.patterns[key] = self._column(entries)
        return True

    # --- cases -------------------------------------------------------------------------------------

    def too_few(self, rolls: Sequence[int], *, cases: int) -> bool:
        """Tell whether some rolls are proven too few for every layout and every cutting.

        Parameters
        ----------
        rolls
            How many of each stock there are.
        cases
            Most cases gone through.
        """
        for column, count in zip(self.used, rolls, strict=True):
            self.program.bound_column(column, lower=0, upper=count)
        waiting = [Case({}, {
            blocks(length): sum(n * (stock.length // length) for n, stock in zip(rolls, self.stocks, strict=True))
            for length in self.lengths
        })]
        while waiting:
            if cases <= 0 or self.stop():
                return False
            cases -= 1
            self.case = waiting.pop()
            if self.case.empty:
                continue
            self._bound_counts()
            try:
                answer = self._settled(rolls)
            except SolverError:
                return False  # its steps are limited: nothing is known of the case
            if answer is None:
                continue
            split = self._split(answer)
            if split is not None:
                waiting += self.case.split(*split)
            elif self._weigh_closer(answer):
                waiting.append(self.case)
            else:
                return False
        return True

    def _bound_counts(self) -> None:
        """Keep the program within the case."""
        for length in self.lengths:
            self._bound_blocks(length)
        for count, row in self.count_row.items():
            least, most = self.case.bounds(count)
            unit = self._unit(count.of)
            self.program.bound_row(row, lower=least / unit, upper=INFINITY if most is None else most / unit)

    def _settled(self, rolls: Sequence[int]) -> LinearAnswer | None:
        """Solve the program for the case, adding patterns and layouts; None when the case is closed."""
        for _ in range(MOST_ROUNDS):
            answer = self._solved()
            if sum(answer.columns[column] for column in self.slacks) <= SHORT:
                return answer
            worths = self._worths(answer)
            if self._add_patterns(worths):
                continue
            closed, new = self._closes(worths, rolls)
            if closed:
                return None
            if not new:
                return answer
        return self._solved()

    def _weigh_closer(self, answer: LinearAnswer) -> bool:
        """Weigh pieces so that they take more blocks than the program has, if some way does; tell whether one did."""
        mix = [(self.always, 1.0)]
        mix += [(pieces, float(answer.columns[column])) for pieces, column in self.layouts.items()]
        mix = [(pieces, amount) for pieces, amount in mix if amount > WHOLE]
        return self._weigh_each_length(answer, mix) or self._weigh_together(answer, mix)

    def _weigh_together(self, answer: LinearAnswer, mix: Sequence[tuple[Pieces, float]]) -> bool:
        """Find a way over several lengths at once; tell whether there is one."""
        if len(self.rippings) >= MOST_RIPPINGS:
            return False
        left = {length: float(answer.columns[self.blocks[length]]) for length in self.lengths}
        asked: dict[tuple[int, int], float] = {}
        for pieces, amount in mix:
            for part in pieces.parts:
                shorter = [length for length in self.lengths if length <= part.length]
                for length in shorter:
                    left[length] -= amount * part.wide
                for width in part.narrow if shorter else ():
                    asked[shorter[-1], width] = asked.get((shorter[-1], width), 0.0) + amount
        found = best_ripping(self.sharing, asked, left)
        if found is None or found in self.rippings:
            return False
        over = sum(amount * _worth(found, pieces) for pieces, amount in mix) - sum(
            more * float(answer.columns[self.blocks[length]]) / found.longest
            for length, more in zip(found.lengths, found.more(), strict=True)
        )
        if over > SHORTER:
            self._rip(found)
        return over > SHORTER

    def _weigh_each_length(self, answer: LinearAnswer, mix: Sequence[tuple[Pieces, float]]) -> bool:
        """Find a way for each length by itself; tell whether there is one."""
        if len(self.weights) >= MOST_WEIGHTS:
            return False
        widths = {width for pieces, _ in mix for part in pieces.parts for width in part.narrow}
        lows = {width if 2 * width <= self.width else self.width - width + 1 for width in widths}
        most, found = SHORTER, None
        ways = [threshold(self.sharing, low) for low in sorted(lows) if low > self.sharing.narrowest]
        for weight in (thirds(self.sharing), *ways):
            if weight not in self.weights:
                for length in self.lengths:
                    over = sum(amount * pieces.taken(weight, length) for pieces, amount in mix) \
                        - float(answer.columns[self.blocks[length]])
                    if over > most:
                        most, found = over, weight
        if found:
            self._weigh(found)
        return found is not None

    def _solved(self) -> LinearAnswer:
        answer = self.program.solve_linear()
        if answer is None:
            raise AssertionError("the program always has an answer")
        return answer

    def _split(self, answer: LinearAnswer) -> tuple[Count, int] | None:
        """Return a count that is not whole and the whole number below it; None when all are.

        Blocks come first, then wide drops, then the width of narrow ones; of these where a part weighs most.
        """
        longer_by = {after: after - before for before, after in zip([0, *self.lengths], self.lengths, strict=False)}
        found = self._heaviest([
            (blocks(length), float(answer.columns[self.blocks[length]]), longer_by[length] + 20)
            for length in self.lengths
        ])
        mixes = [
            [(pieces, float(answer.columns[column])) for pieces, column in self.layouts.items()
             if pieces.run == run and answer.columns[column] > WHOLE]
            for run in range(self.terms.runs)
        ]
        for of in OWN:
            if found is None:
                found = self._heaviest([
                    (count, sum(amount * pieces.count(count) for pieces, amount in mix), count.length)
                    for run, mix in enumerate(mixes) if len(mix) > 1
                    for count in (Count(of, run, length) for length in self.lengths)
                ])
        if found and found[0].of != "blocks":
            self._count_own(found[0])
        return found

    def _heaviest(self, counts: Sequence[tuple[Count, float, int]]) -> tuple[Count, int] | None:
        """Return the count whose part of a whole one weighs most, and the whole number below it; None if all are whole.

        Parameters
        ----------
        counts
            Each with its amount and weight.
        """
        best, found = 0.0, None
        for count, amount, weight in counts:
            whole = floor(amount + WHOLE)
            part = min(amount - whole, whole + 1 - amount)
            if part > WHOLE and part * weight > best:
                least, most = self._capped(count)
                if least <= whole < most:  # not so where the program is short of it
                    best, found = part * weight, (count, whole)
        return found

    def _capped(self, count: Count) -> tuple[int, int]:
        """Return the least and most of a count."""
        least, most = self.case.bounds(count)
        if most is None:
            most = self.case.bounds(blocks(count.length))[1]
            most = (MANY_BLOCKS if most is None else most) * self.width
        return least, max(least, most)

    # --- worths ------------------------------------------------------------------------------------

    def _worths(self, answer: LinearAnswer) -> Worths:
        """Return the program's duals as whole numbers."""
        duals, lengths = answer.duals, self.lengths
        rate = max(0.0, duals[self.area_row])
        most = rate * self.longest + sum(max(0.0, duals[row]) for rows in self.asked_rows.values() for row in rows)
        most += sum(max(0.0, duals[row]) for row in self.ripping_rows)
        factor = ((1 << WORTH_BITS) - 1) / max(float(self.longest), most)

        def whole(row: int) -> int:
            return int(max(0.0, duals[row] * factor))

        steps = [whole(self.given_row[length]) for length in lengths]
        knapsack = Knapsack(lengths[::-1], [stock.length for stock in self.stocks])
        priced = knapsack.price(
            np.cumsum(steps)[::-1].tolist(), [self.longest // length for length in lengths[::-1]],
        )
        every = np.arange(self.longest + 1, dtype=np.int64)
        return Worths(
            base=every * floor(rate * factor * RATES) // RATES,
            marks=[[whole(row) for row in self.asked_rows[length]] for length in lengths],
            rips=[
                whole(row) // ripping.longest for ripping, row in zip(self.rippings, self.ripping_rows, strict=True)
            ],
            extras={count: -round(duals[row] * factor) for count, row in self.count_row.items()},
            rolls=[duals[row] * factor for row in self.stock_row],
            priced=priced, steps=priced.worth[every // knapsack.grain],
        )

    def _add_patterns(self, worths: Worths) -> int:
        """Add patterns where a roll is worth more than the program thinks; return how many were new."""
        added = 0
        for k, stock in enumerate(self.stocks):
            price = max(0, floor(worths.rolls[k]) - int(worths.base[stock.length]) + 2)
            if int(worths.steps[stock.length]) > price:
                for cut in worths.priced.patterns(k, price, NEW_A_ROUND):
                    added += self._add_pattern(k, {self.lengths[::-1][i]: n for i, n in cut.items()})
        return added

    def _closes(self, worths: Worths, rolls: Sequence[int]) -> tuple[bool, bool]:
        """Tell whether worths prove that the case cannot be, and whether a layout was new."""
        prices = prices_by(self.weights, self.lengths, worths.base, worths.marks, self.width)
        for ripping, mark in zip(self.rippings, worths.rips, strict=True):
            prices = prices.with_ripping(ripping, self.lengths, mark)
        have = sum(
            count * int(worths.base[stock.length] + worths.steps[stock.length]) * self.width
            for count, stock in zip(rolls, self.stocks, strict=True)
        )
        steps = np.diff([0, *(int(worths.steps[length]) for length in self.lengths)]).tolist()
        total = sum(prices.of(part) for part in self.always.parts)
        total += self.width * least_of_counts(
            [int(step) - mark for step, mark in zip(steps, prices.marks, strict=True)],
            [self._capped(blocks(length)) for length in self.lengths],
        )
        new, sure = False, True
        for run in range(self.terms.runs):
            own, counted = prices.copy(), 0
            for of in OWN:
                counts = [Count(of, run, length) for length in self.lengths]
                extras = [own.add(count, worths.extras.get(count, 0)) for count in counts]
                counted += self.width // self._unit(of) * least_of_counts(
                    [-extra for extra in extras], [self._capped(count) for count in counts],
                )
            wants, least = self.ask(run, own.rising())
            new |= self.add_layout(run, wants)
            new |= self.add_layout(run, [own.priced_as(want, self.lengths, self.sharing) for want in wants])
            if least is None:
                sure = False
            else:
                total += least + counted
        return sure and total > have, new


@dataclass(frozen=True)
class Worths:
    """Whole duals.

    Parameters
    ----------
    base
        Of each length of block, by the rate of a tick.
    marks
        Of what layouts take of the blocks of each length or longer, by each weight.
    rips
        Of what layouts take of a part of the longest block, by each of the rippings.
    extras
        Of a run's own counts, for each tick of width.
    rolls
        Of rolls; never believed.
    priced, steps
        What blocks are worth beyond their rate: the knapsack over the lengths counted, and its worth at every length.
    """

    base: Whole
    marks: list[list[int]]
    rips: list[int]
    extras: dict[Count, int]
    rolls: list[float]
    priced: Table
    steps: Whole


def _worth(ripping: Ripping, pieces: Pieces) -> float:
    """Return what pieces are worth, in what the longest block is."""
    return sum(ripping.of(*part) for part in pieces.parts) / ripping.longest


def _yield(cut: Sequence[tuple[int, int]], length: int) -> int:
    """Return how many of the blocks of a pattern are of a length or longer."""
    return sum(count for one, count in cut if one >= length)
