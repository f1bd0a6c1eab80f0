"""What pieces take of blocks by their width, and what they cost by that.

A block is ripped into pieces that lie side by side. However that is done, there are ways to weigh pieces by their
width so that those of one block weigh no more than a whole: so blocks are at least as many as all pieces weigh.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import gcd
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from layout.joint.market import Sharing, Want
from layout.joint.ripping import Ripping

Whole = NDArray[np.int64]

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


def thirds(sharing: Sharing) -> Weight:
    """Return the weight by which a piece wider than a third of the sheet takes half, and just a third a third.

    Notes
    -----
    Of three pieces side by side none is wider than a third where all are at least so wide. A dual feasible function,
    as that of ``threshold``.
    """
    third, rest = divmod(sharing.width, 3)
    weights = {third + 1: 3, (2 * sharing.width) // 3 + 1: 6}
    if not rest:
        weights |= {third: 2, 2 * third: 4}
    below = max((low for low in weights if low <= sharing.narrowest), default=0)
    steps = {sharing.narrowest: weights.get(below, 0)}
    steps |= {low: weight for low, weight in weights.items() if sharing.narrowest < low <= sharing.widest}
    return Weight(tuple((low, weight, 0) for low, weight in sorted(steps.items())), 6)


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


class Prices(NamedTuple):
    """What pieces cost by their lengths, in parts of a worth.

    Parameters
    ----------
    width
        Of the sheet [ticks].
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

    width: int
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

    def copy(self) -> Prices:
        """Return the same prices, to be changed."""
        ticks, jumps = (tuple(one.copy() for one in several) for several in (self.ticks, self.jumps))
        return Prices(self.width, self.lows, ticks, jumps, self.wide.copy(), self.marks)

    def add(self, count: Count, extra: int) -> int:
        """Make what a count counts dearer, or cheaper as far as no price falls below nothing; return by how much.

        Parameters
        ----------
        count
            Of a run's own pieces.
        extra
            For each tick of the width of a block.
        """
        at, least = count.length, self.jumps[0]
        if count.of == "wide":
            extra = max(extra, -(int(self.wide[at]) // self.width))
            self.wide[at:] += extra * self.width
        elif count.of == "narrow":
            extra = max(extra, -(int(least[at]) // self.width))
            least[at:] += extra * self.width
        else:
            extra = max(extra, -min(int(tick[at]) for tick in self.ticks), -(int(least[at]) // self.lows[0]))
            least[at:] += extra * self.lows[0]
            for tick in self.ticks:
                tick[at:] += extra
        return extra

    def priced_as(self, want: Want, lengths: Sequence[int], sharing: Sharing) -> Want:
        """Return what pieces are taken for: narrow ones for wide, or shorter for longer ones, where that is less."""
        length = min(want.length, len(self.wide) - 1)
        ways = [
            (cost, wide, one) for one in (length, *lengths) if one >= length
            for wide, cost in ((0, self.narrow(one, want.width)), (1, int(self.wide[one])))
            if wide or want.width <= sharing.widest
        ]
        _, wide, as_long = min(ways)
        return Want(as_long, self.width if wide else want.width, want.count)

    def rising(self) -> Prices:
        """Return prices by which no longer piece costs less than a shorter one, which could be cut as long.

        Widths at which nothing changes are left out.
        """
        kept = [
            i for i in range(len(self.lows))
            if not i or self.jumps[i].any() or (self.ticks[i] != self.ticks[i - 1]).any()
        ]
        lows, least = tuple(self.lows[i] for i in kept), self.at_lows()
        ticks, leasts = (
            tuple(np.minimum.accumulate(several[i][::-1])[::-1] for i in kept) for several in (self.ticks, least)
        )
        jumps = tuple(
            leasts[i] - leasts[i - 1] - ticks[i - 1] * (lows[i] - lows[i - 1]) if i else leasts[0]
            for i in range(len(kept))
        )
        return Prices(self.width, lows, ticks, jumps, np.minimum.accumulate(self.wide[::-1])[::-1], self.marks)

    def with_ripping(self, ripping: Ripping, lengths: Sequence[int], mark: int) -> Prices:
        """Return prices with what pieces and blocks are worth by a ripping on top.

        Parameters
        ----------
        ripping
            What pieces and blocks are worth by it.
        lengths
            Those whose blocks are counted.
        mark
            What a part of the longest block is worth in a tick of its width.
        """
        lows = sorted({*self.lows, *ripping.lows})
        before = [bisect_right(self.lows, low) - 1 for low in lows]
        ticks = [self.ticks[i].copy() for i in before]
        jumps = [(self.jumps[i] if self.lows[i] == low else self.jumps[i] * 0).copy()
                 for i, low in zip(before, lows, strict=True)]
        wide, marks, worth = self.wide.copy(), list(self.marks), mark * self.width
        for at, (length, more) in enumerate(zip(ripping.lengths, ripping.more(), strict=True)):
            wide[length:] += worth * more
            marks[lengths.index(length)] += mark * more
            for low, jump in zip(ripping.lows, ripping.jumps(at), strict=True):
                jumps[lows.index(low)][length:] += worth * jump
        return Prices(self.width, tuple(lows), tuple(ticks), tuple(jumps), wide, tuple(marks))


def prices_by(
    weights: Sequence[Weight], lengths: Sequence[int], base: Whole, marks: Sequence[Sequence[int]], width: int,
) -> Prices:
    """Return what pieces cost by what they take of blocks.

    Parameters
    ----------
    weights
        Ways in which they are weighed.
    lengths
        Those whose blocks are counted.
    base
        What a tick of width is worth by length, whatever the blocks.
    marks
        For each of the lengths and each of the weights, what a block so long or longer is worth in a tick of its width.
    width
        Of a block [ticks].
    """
    lows = sorted({step[0] for weight in weights for step in weight.steps})
    ticks, jumps = [base.copy() for _ in lows], [base * 0 for _ in lows]
    wide, totals = base * width, []
    jumps[0] += base * lows[0]
    for length, of_weights in zip(lengths, marks, strict=True):
        total = 0
        for weight, mark in zip(weights, of_weights, strict=True):
            # a mark is lowered until what it makes of one tick is whole
            mark -= mark % (weight.whole // gcd(weight.whole, width))
            one = mark * width // weight.whole
            before = 0
            for i, low in enumerate(lows):
                value, tick = weight.at(low)
                jumps[i][length:] += one * (value - before)
                ticks[i][length:] += one * tick
                before = value + (tick * (lows[i + 1] - low) if i + 1 < len(lows) else 0)
            total += mark
        wide[length:] += total * width
        totals.append(total)
    return Prices(width, tuple(lows), tuple(ticks), tuple(jumps), wide, tuple(totals))
