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
from math import floor, gcd
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from layout.joint.market import WORTH_BITS, Sharing, Terms, Want
from layout.milp import INFINITY, LinearAnswer, Program
from layout.rolls.pricing import Knapsack, Table

Whole = NDArray[np.int64]
Ask = Callable[[int, "Prices"], tuple[Sequence[Want], int | None]]
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
MOST_WEIGHTS = 6
"""Ways in which narrow pieces are weighed."""
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


Kind = Literal["blocks", "wide", "narrow", "ticks"]
OWN: tuple[Kind, ...] = ("wide", "narrow", "ticks")
"""What is counted of each run: its wide pieces, its narrow ones, and the ticks of width of these."""


class Count(NamedTuple):
    """What is counted of pieces of a length or longer, of a run; or all blocks."""

    of: Kind
    run: int
    length: int


def blocks(length: int) -> Count:
    """Return the count of blocks, which are no run's own."""
    return Count("blocks", -1, length)


@dataclass(frozen=True)
class Case:
    """Least and most of some counts."""

    least: Mapping[Count, int]
    most: Mapping[Count, int]

    def bounds(self, count: Count) -> tuple[int, int | None]:
        """Return the least and the most of a count: longer ones are among shorter ones."""
        leasts = [n for one, n in self.least.items() if one[:2] == count[:2] and one.length >= count.length]
        mosts = [n for one, n in self.most.items() if one[:2] == count[:2] and one.length <= count.length]
        return max(leasts, default=0), min(mosts, default=None)

    def split(self, count: Count, whole: int) -> tuple[Case, Case]:
        """Return the case that a count is at most some whole number, and the one that it is more."""
        return (
            Case(self.least, {**self.most, count: whole}), Case({**self.least, count: whole + 1}, self.most),
        )

    @property
    def empty(self) -> bool:
        """Whether nothing can be counted so."""
        return any(
            least > most for longer, least in self.least.items() for shorter, most in self.most.items()
            if longer[:2] == shorter[:2] and shorter.length <= longer.length
        )


class Part(NamedTuple):
    """Pieces of one length: how many wide ones, and the widths of the narrow ones [ticks]."""

    length: int
    wide: int
    narrow: tuple[int, ...]


@dataclass(frozen=True)
class Weight:
    """What narrow pieces take of a block by their width, in so many parts of a whole one.

    However they are ripped, the pieces of one block take no more than the whole of it together, and a wide piece takes
    all. A weight rises with the width, evenly from each step to the next.

    Parameters
    ----------
    steps
        Least width, weight of a piece so wide, and of each tick more, from the narrowest piece on.
    whole
        Parts in a whole block.
    """

    steps: tuple[tuple[int, int, int], ...]
    whole: int

    def at(self, width: int) -> tuple[int, int]:
        """Return the weight of a piece, and that of each tick more until the next step."""
        low, weight, tick = next(step for step in reversed(self.steps) if step[0] <= width)
        return weight + tick * (width - low), tick

    def of(self, part: Part) -> float:
        """Return what pieces take of blocks."""
        return part.wide + sum(self.at(width)[0] for width in part.narrow) / self.whole


def weights(sharing: Sharing) -> list[Weight]:
    """Return how narrow pieces are weighed at first: by their width; and by what they are wider than the narrowest.

    Notes
    -----
    With the narrowest n wide in a sheet S wide, k pieces side by side are wider than k * n by S - k * n at most, and
    one piece that another fits beside by S - 2n at most; so S - 2n is a whole in the second.
    """
    narrowest, width = sharing.narrowest, sharing.width
    found = [Weight(((narrowest, narrowest, 1),), width)]
    if sharing.widest > narrowest:
        found.append(Weight(((narrowest, 0, 1),), sharing.widest - narrowest))
    return found


def threshold(sharing: Sharing, low: int) -> Weight:
    """Return the weight by which pieces narrower than ``low`` take nothing, and such as no others fit beside all.

    Notes
    -----
    Where a piece wider than S - low lies, what lies beside it is narrower than ``low``, and weighs nothing. Dual
    feasible functions of this kind are known from bin packing (Fekete and Schepers, "New classes of fast lower bounds
    for bin packing problems", 2001; from memory).
    """
    width, narrowest = sharing.width, sharing.narrowest
    steps = [(low, low, 1)]
    if low > narrowest:
        steps.insert(0, (narrowest, 0, 0))
    if width - low + 1 <= sharing.widest:
        steps.append((width - low + 1, width, 0))
    return Weight(tuple(steps), width)


@dataclass(frozen=True)
class Pieces:
    """What a layout of a run asks for, by length."""

    run: int
    parts: tuple[Part, ...]

    def taken(self, weight: Weight, length: int) -> float:
        """Return the blocks that pieces so long or longer take."""
        return sum(weight.of(part) for part in self.parts if part.length >= length)

    def count(self, count: Count) -> int:
        """Return how much of a count of its run the layout has."""
        return sum(
            part.wide if count.of == "wide" else len(part.narrow) if count.of == "narrow" else sum(part.narrow)
            for part in self.parts if part.length >= count.length
        )

    def area(self, width: int) -> int:
        """Return lengths times the widths taken [square ticks]."""
        return sum(part.length * (part.wide * width + sum(part.narrow)) for part in self.parts)


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
    """

    terms: Terms
    ask: Ask
    stop: Callable[[], bool]

    def __post_init__(self) -> None:
        self.stocks, self.sharing, self.width = self.terms.stocks, self.terms.sharing, self.terms.sharing.width
        self.weights = weights(self.sharing)
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
        self.placings = 0
        self.cases = 0
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
        given = self.program.add_row(
            0, INFINITY, [column for column, n in yields if n], [float(n) for _, n in yields if n],
        )
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
        kept = {column: value for column, value in entries.items() if value}
        row = self.program.add_row(self.always.taken(weight, length), INFINITY, list(kept), list(kept.values()))
        self._slack(self.longest, row, 1.0)
        return row

    def _weigh(self, weight: Weight) -> None:
        """Weigh pieces in another way as well from now on."""
        self.weights.append(weight)
        for length in self.lengths:
            self.asked_rows[length].append(self._ask_for(length, weight))
        self._lengthen()

    def _bound_blocks(self, length: int) -> None:
        least, most = self.case.bounds(blocks(length))
        self.program.bound_column(self.blocks[length], lower=least, upper=INFINITY if most is None else most)

    def _unit(self, count: Count) -> int:
        """Return how many make a whole block."""
        return self.width if count.of == "ticks" else 1

    def _count_own(self, count: Count) -> None:
        """Count a run's wide or narrow pieces, or the width of these, from now on."""
        if count in self.count_row:
            return
        known = [(column, pieces.count(count)) for pieces, column in self.layouts.items() if pieces.run == count.run]
        row = self.program.add_row(
            0, INFINITY, [column for column, have in known if have],
            [have / self._unit(count) for _, have in known if have],
        )
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
        for count, row in self.count_row.items():
            if count.run == run:
                entries[row] = pieces.count(count) / self._unit(count)
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
            self.cases += 1
            self.case = waiting.pop()
            if self.case.empty:
                continue
            self._bound_counts()
            answer = self._settled(rolls)
            if answer is None:
                continue
            split = self._split(answer)
            if split is None:
                return False
            waiting += self.case.split(*split)
        return True

    def _bound_counts(self) -> None:
        """Keep the program within the case."""
        for length in self.lengths:
            self._bound_blocks(length)
        for count, row in self.count_row.items():
            least, most = self.case.bounds(count)
            unit = self._unit(count)
            self.program.bound_row(row, lower=least / unit, upper=INFINITY if most is None else most / unit)

    def _settled(self, rolls: Sequence[int]) -> LinearAnswer | None:
        """Solve the program for the case, adding patterns and layouts; None when the case is closed."""
        for _ in range(MOST_ROUNDS):
            answer = self._solved()
            if sum(answer.columns[column] for column in self.slacks) <= SHORT:
                if not self._weigh_closer(answer):
                    return answer
                continue
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
        if len(self.weights) >= MOST_WEIGHTS:
            return False
        mix = [(self.always, 1.0)]
        mix += [(pieces, float(answer.columns[column])) for pieces, column in self.layouts.items()]
        mix = [(pieces, amount) for pieces, amount in mix if amount > WHOLE]
        widths = {width for pieces, _ in mix for part in pieces.parts for width in part.narrow}
        lows = {width if 2 * width <= self.width else self.width - width + 1 for width in widths}
        most, found = SHORTER, None
        for low in sorted(low for low in lows if low > self.sharing.narrowest):
            weight = threshold(self.sharing, low)
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
        prices = self._prices(worths)
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
            own, counted = self._with_extras(run, prices, worths)
            asked = own.rising()
            wants, least = self.ask(run, asked)
            self.placings += 1
            new |= self.add_layout(run, wants)
            new |= self.add_layout(run, [self._as_priced(want, own) for want in wants])
            if least is None:
                sure = False
            else:
                total += least + counted
        return sure and total > have, new

    def _prices(self, worths: Worths) -> Prices:
        """Return what pieces cost by the marks of what they take of blocks."""
        lows = sorted({step[0] for weight in self.weights for step in weight.steps})
        ticks, jumps = [worths.base.copy() for _ in lows], [worths.base * 0 for _ in lows]
        wide, marks = worths.base * self.width, []
        jumps[0] += worths.base * lows[0]
        for length, of_weights in zip(self.lengths, worths.marks, strict=True):
            total = 0
            for weight, mark in zip(self.weights, of_weights, strict=True):
                # a mark is lowered until what it makes of one tick is whole
                mark -= mark % (weight.whole // gcd(weight.whole, self.width))
                one = mark * self.width // weight.whole
                before = 0
                for i, low in enumerate(lows):
                    value, tick = weight.at(low)
                    jumps[i][length:] += one * (value - before)
                    ticks[i][length:] += one * tick
                    before = value + (tick * (lows[i + 1] - low) if i + 1 < len(lows) else 0)
                total += mark
            wide[length:] += total * self.width
            marks.append(total)
        return Prices(tuple(lows), tuple(ticks), tuple(jumps), wide, tuple(marks))

    def _with_extras(self, run: int, prices: Prices, worths: Worths) -> tuple[Prices, int]:
        """Return what a run's pieces cost with the extras of its own counts, and what these prove by themselves."""
        ticks, (least, *jumps), wide = [tick.copy() for tick in prices.ticks], prices.jumps, prices.wide.copy()
        least, narrowest, counted = least.copy(), prices.lows[0], 0
        for of in OWN:
            counts = [Count(of, run, length) for length in self.lengths]
            extras = []
            for count in counts:
                extra, at = worths.extras.get(count, 0), count.length
                # no price falls below nothing
                if of == "wide":
                    extra = max(extra, -(int(wide[at]) // self.width))
                    wide[at:] += extra * self.width
                elif of == "narrow":
                    extra = max(extra, -(int(least[at]) // self.width))
                    least[at:] += extra * self.width
                else:
                    extra = max(extra, -min(int(tick[at]) for tick in ticks), -(int(least[at]) // narrowest))
                    least[at:] += extra * narrowest
                    for tick in ticks:
                        tick[at:] += extra
                extras.append(extra)
            unit = self.width // self._unit(counts[0]) if counts else 0
            counted += unit * least_of_counts([-extra for extra in extras], [self._capped(count) for count in counts])
        return Prices(prices.lows, tuple(ticks), (least, *jumps), wide, prices.marks), counted

    def _as_priced(self, want: Want, own: Prices) -> Want:
        """Return what pieces are priced as: narrow ones as wide ones, or shorter ones as longer, where that is less."""
        length = min(want.length, self.longest)
        ways = [
            (cost, wide, one) for one in (length, *self.lengths) if one >= length
            for wide, cost in ((0, own.narrow(one, want.width)), (1, int(own.wide[one])))
            if wide or want.width <= self.sharing.widest
        ]
        _, wide, as_long = min(ways)
        return Want(as_long, self.width if wide else want.width, want.count)


class Prices(NamedTuple):
    """What pieces cost by their lengths, in parts of a worth.

    Parameters
    ----------
    lows
        Widths from which narrow pieces cost more [ticks], the first that of the narrowest.
    ticks
        Of each tick of width from one of them to the next.
    jumps
        What comes on top at each of them; at the first all that the narrowest piece costs.
    wide
        Of a wide piece.
    marks
        Of a block of each length counted or longer, of all weights together, in a tick of its width.
    """

    lows: tuple[int, ...]
    ticks: tuple[Whole, ...]
    jumps: tuple[Whole, ...]
    wide: Whole
    marks: tuple[int, ...]

    def at_lows(self) -> list[Whole]:
        """Return what narrow pieces cost that are just so wide."""
        found = [self.jumps[0]]
        for i in range(1, len(self.lows)):
            found.append(found[-1] + self.ticks[i - 1] * (self.lows[i] - self.lows[i - 1]) + self.jumps[i])
        return found

    def narrow(self, length: int, width: int) -> int:
        """Return what a narrow piece costs."""
        cost = 0
        for i, low in enumerate(self.lows):
            if low <= width:
                beyond = self.lows[i + 1] if i + 1 < len(self.lows) else width
                cost += int(self.jumps[i][length]) + int(self.ticks[i][length]) * (min(width, beyond) - low)
        return cost

    def of(self, part: Part) -> int:
        """Return what pieces of one length cost."""
        narrow = sum(self.narrow(part.length, width) for width in part.narrow)
        return int(self.wide[part.length]) * part.wide + narrow

    def rising(self) -> Prices:
        """Return prices by which no longer piece costs less than a shorter one, which could be cut as long."""
        ticks, jumps = (
            tuple(np.minimum.accumulate(one[::-1])[::-1] for one in several) for several in (self.ticks, self.jumps)
        )
        return Prices(self.lows, ticks, jumps, np.minimum.accumulate(self.wide[::-1])[::-1], self.marks)


@dataclass(frozen=True)
class Worths:
    """Whole duals.

    Parameters
    ----------
    base
        Of each length of block, by the rate of a tick.
    marks
        Of what layouts take of the blocks of each length or longer, by each weight.
    extras
        Of a run's own counts, for each tick of width.
    rolls
        Of rolls; never believed.
    priced, steps
        What blocks are worth beyond their rate: the knapsack over the lengths counted, and its worth at every length.
    """

    base: Whole
    marks: list[list[int]]
    extras: dict[Count, int]
    rolls: list[float]
    priced: Table
    steps: Whole


def _yield(cut: Sequence[tuple[int, int]], length: int) -> int:
    """Return how many of the blocks of a pattern are of a length or longer."""
    return sum(count for one, count in cut if one >= length)


def least_of_counts(worths: Sequence[int], bounds: Sequence[tuple[int, int]]) -> int:
    """Return the least sum of worths times counts that fall along a list, each within its bounds.

    Examples
    --------
    >>> least_of_counts([2, -3], [(4, 9), (0, 6)])
    -6
    """
    if not any(worths):
        return 0
    marks = sorted({bound for pair in bounds for bound in pair})
    # at the least every count is one of the bounds: from the last one back, the least for each count before it
    values: list[int | None] = [0] * len(marks)
    for worth, (least, most) in zip(reversed(worths), reversed(bounds), strict=True):
        running: int | None = None
        following: list[int | None] = []
        for mark, value in zip(marks, values, strict=True):
            if value is not None and (running is None or value < running):
                running = value
            following.append(running + worth * mark if running is not None and least <= mark <= most else None)
        values = following
    return min(value for value in values if value is not None)
