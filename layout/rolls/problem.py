"""The cutting problem in whole numbers: what is asked, what there is to cut it from, and an answer.

Nothing here knows of jobs or tapes, so the benchmark and the joint optimiser use it as it is.
A roll is cut in three stages: cross-cut into blocks, each block ripped into lanes, each lane cross-cut into pieces.
A piece narrower than its lane is trimmed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Literal


@dataclass(frozen=True)
class Item:
    """Pieces of one size.

    Parameters
    ----------
    length, width
        Along and across the roll [ticks].
    demand
        Pieces wanted.
    turnable
        They may be cut with their length across the roll.
    """

    length: int
    width: int
    demand: int
    turnable: bool = False

    def size(self, *, turned: bool) -> tuple[int, int]:
        """Return the length along and the width across the roll of a piece that lies so [ticks]."""
        return (self.width, self.length) if turned else (self.length, self.width)

    def ways(self) -> tuple[tuple[int, int, bool], ...]:
        """Return (length, width, turned) for every way the piece may lie."""
        ways = [(self.length, self.width, False)]
        if self.turnable and self.length != self.width:
            ways.append((self.width, self.length, True))
        return tuple(ways)


@dataclass(frozen=True)
class Stock:
    """Rolls of one size: their length and width [ticks], the cost of one, and how many (None: no limit)."""

    length: int
    width: int
    cost: int
    count: int | None = None


@dataclass(frozen=True)
class Problem:
    """What is asked and what there is to cut it from."""

    items: tuple[Item, ...]
    stocks: tuple[Stock, ...]

    @property
    def pieces(self) -> int:
        """Pieces wanted in all."""
        return sum(item.demand for item in self.items)


@dataclass(frozen=True, order=True)
class Lay:
    """One piece in a block: which item, and whether it lies turned."""

    item: int
    turned: bool = False


@dataclass(frozen=True, order=True)
class CutBlock:
    """What one pair of cross-cuts takes off: lanes side by side, in each of them pieces end to end."""

    length: int
    lanes: tuple[tuple[Lay, ...], ...]

    @property
    def lays(self) -> tuple[Lay, ...]:
        """The pieces, lane by lane."""
        return tuple(lay for lane in self.lanes for lay in lane)


@dataclass(frozen=True, order=True)
class Pattern:
    """How one roll of a stock is cut: its blocks from the roll's end."""

    stock: int
    blocks: tuple[CutBlock, ...]

    @property
    def used(self) -> int:
        """Length cut off the roll [ticks]."""
        return sum(block.length for block in self.blocks)


@dataclass(frozen=True)
class RollBounds:
    """How many rolls of each stock may be opened: at least, and at most (None: no limit)."""

    least: tuple[int, ...]
    most: tuple[int | None, ...]

    @staticmethod
    def whole(problem: Problem) -> RollBounds:
        """Return the box that the stock itself allows."""
        return RollBounds((0,) * len(problem.stocks), tuple(stock.count for stock in problem.stocks))


@dataclass(frozen=True)
class Proof:
    """Why no answer costs less than ``bound``.

    ``duals`` values one piece of each item and ``scale`` the unit of cost in the same money: no pattern of
    stock k is worth more than ``values[k]``. Every answer uses between 0 and the limit of each stock, so it
    costs at least (sum of demand x dual + sum over limited stocks of limit x min(0, scale x cost - value)) / scale.
    ``by_duals`` is that rounded up to the next total of roll costs that can occur. ``bound`` is the same unless
    ``searched`` says what search raised it. ``leaves`` split all roll counts, and each proves the bound for its own.
    """

    scale: int
    duals: tuple[int, ...]
    values: tuple[int, ...]
    by_duals: int
    bound: int
    searched: str = ""
    leaves: tuple[Leaf, ...] = ()


@dataclass(frozen=True)
class Leaf:
    """What is proven for a box of roll counts.

    Parameters
    ----------
    box
        The roll counts.
    by
        ``duals``: the proof holds within the box. ``cost``: so many rolls cost that much. ``area``: with the area of
        each roll for its cost, the proof asks for more than there is, so these counts cannot hold the pieces.
    bound
        The least cost within the box.
    proof
        Duals and values; None where none are needed.
    """

    box: RollBounds
    by: Literal["duals", "cost", "area"]
    bound: int
    proof: Proof | None = None


@dataclass(frozen=True)
class Answer:
    """Patterns with how many rolls are cut by each, what they cost, and the proven least cost."""

    patterns: tuple[tuple[Pattern, int], ...]
    cost: int
    proof: Proof
    stopped: bool = False

    @property
    def optimal(self) -> bool:
        """The cost equals its proven bound."""
        return self.cost == self.proof.bound

    @property
    def rolls(self) -> int:
        """Rolls opened."""
        return sum(count for _, count in self.patterns)

    @property
    def opened(self) -> list[Pattern]:
        """One pattern for each roll."""
        return [pattern for pattern, count in self.patterns for _ in range(count)]


def rolls_by_pattern(patterns: Sequence[Pattern]) -> tuple[tuple[Pattern, int], ...]:
    """Return different patterns, and how many rolls are cut by each."""
    return tuple(Counter(patterns).items())


@dataclass
class Work:
    """Work that may still be done, in steps of the simplex method: a count, so that the same job ends the same way."""

    left: int

    def take(self, steps: int) -> None:
        """Count work that was done."""
        self.left -= steps


class TooDear(Exception):
    """What was found costs more than is of use."""


@dataclass(frozen=True)
class Effort:
    """How far to search; every limit is a count, so that the same job gives the same rolls.

    Parameters
    ----------
    rounds
        Rounds of column generation in one linear program.
    laned
        Rounds in one linear program that bring rolls whose lanes are cross-cut again. With 0 the search, its bound too,
        knows lanes of one piece only.
    dives
        Seeded dives for a better answer.
    boxes
        Boxes of roll counts, where several lengths have prices.
    wanted
        Only answers of at most this cost are wanted: the search ends once none is possible.
    dearest
        Answers that cost more are of no use: they end in ``TooDear``, before pieces are put in their places.
    start
        Asked for a cutting of a problem to start from; None where there is none.
    accept
        Asked of each cutting found that costs no more than is wanted; one that is refused counts as not found, and the
        search goes on to others. Nothing is proven then.
    stop
        Asked now and then; when it says true the search ends with what it has. A time limit is a ``stop``
        that looks at a clock.
    work
        What all linear programs and tables together may take; no limit when None.
    """

    rounds: int = 5000
    laned: int = 200
    dives: int = 12
    boxes: int = 2000
    wanted: int | None = None
    dearest: int | None = None
    start: Callable[[Problem], Sequence[Pattern] | None] | None = None
    accept: Callable[[Sequence[Pattern]], bool] | None = None
    stop: Callable[[], bool] | None = None
    work: Work | None = None

    def interrupted(self) -> bool:
        """Return whether the caller wants the search to end."""
        return self.stop is not None and self.stop()

    def stopped(self) -> bool:
        """Return whether the search ends: its work is done, or the caller wants it."""
        return self.work is not None and self.work.left <= 0 or self.interrupted()

    def judge(self, cost: int) -> None:
        """Raise TooDear when an answer of this cost is of no use."""
        if self.dearest is not None and cost > self.dearest:
            raise TooDear(cost)

    def spend(self, steps: int) -> None:
        """Count work that was done."""
        if self.work is not None:
            self.work.take(steps)

    @contextmanager
    def limited(self, most: int, part: int = 1) -> Iterator[Effort]:
        """Give an effort of at most so many steps, and of one of so many parts of what is left; count what it took."""
        given = max(0, most if self.work is None else min(most, self.work.left // part))
        allowed = Work(given)
        try:
            yield replace(self, work=allowed)
        finally:
            self.spend(given - allowed.left)
