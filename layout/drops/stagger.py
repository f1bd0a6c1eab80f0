"""Tall drops side by side: what it costs that their end laps must lie apart in height.

A tall drop in two pieces has its end lap in the middle, or off it by so much. Of two neighbours within one stretch of
one height the end laps lie off the middle by a stagger together at least. How far off they lie is told in three
*states*: beside a drop near the middle the next is far from it, beside one between the next is not near, and beside one
that is far, and any other drop, the next may be anywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from layout.drops.columns import Columns, IntArray
from layout.drops.prices import PriceTable

FAR, BETWEEN, NEAR = STATES = (0, 1, 2)
"""What drops leave. A drop that leaves one comes after one that left no more than ``NEAR`` less it."""


class MoreByWidth(NamedTuple):
    """What narrow drops of a band of widths cost more, by class: for each tick of width, and besides."""

    tick: IntArray
    besides: IntArray


class More(NamedTuple):
    """What drops that leave a state cost more, by class: wide ones, and narrow ones by band."""

    wide: IntArray
    narrow: tuple[MoreByWidth, ...]


@dataclass(frozen=True, eq=False)
class Staggered:
    """What drops cost more than if they were split where they cost least.

    Parameters
    ----------
    tall
        By class: whether the end laps of drops within it count; other drops leave ``FAR`` and cost no more.
    more
        For each state.
    """

    tall: NDArray[np.bool_]
    more: tuple[More, ...]

    @property
    def most(self) -> int:
        """The most that a wide drop costs more."""
        return max(int(more.wide.max()) for more in self.more)


def stagger_costs(
    stretch: Columns, table: PriceTable, widths: Sequence[tuple[int, int]], *, stagger: int,
) -> Staggered | None:
    """Return what drops cost more in each state; None where nothing, or where more than two pieces hang.

    Parameters
    ----------
    stretch
        The wall.
    table
        Prices of columns.
    widths
        For each band of widths, the least and greatest width of its drops [ticks].
    stagger
        Least difference in height of neighbours' end laps [ticks].

    Notes
    -----
    Split at some height, a narrow drop costs a straight line in its width. So the least over some heights, less what
    it costs alone, lies nowhere below the straight line between its values at the least and the greatest width.
    """
    if not stagger or int(table.pieces.max(initial=0)) != 2:
        return None
    heights = np.maximum(stretch.class_top - stretch.class_bottom, 0)
    tall = table.pieces[heights] == 2
    for span in stretch.spans:
        tall[span.first:span.last + 1] = False
    found = tuple(
        More(np.zeros_like(heights), tuple(MoreByWidth(np.zeros_like(heights), np.zeros_like(heights)) for _ in widths))
        for _ in STATES
    )
    for height in sorted(set(heights[tall].tolist())):
        here = tall & (heights == height)
        wide = _wide(table, height)
        bands = [[_narrow(table, at, height, width) for width in band] for at, band in enumerate(widths)]
        near = _best_near([wide, *(end for ends in bands for end in ends)], stagger)
        if near is None:
            tall &= ~here
            continue
        for state, more in zip(STATES, found, strict=True):
            more.wide[here] = wide.more(state, near, stagger)
            for by_width, ends, (narrowest, widest) in zip(more.narrow, bands, widths, strict=True):
                low, high = (end.more(state, near, stagger) for end in ends)
                by_width.tick[here] = (high - low) // max(widest - narrowest, 1)
                by_width.besides[here] = low - by_width.tick[here] * narrowest
    return Staggered(tall, found) if tall.any() else None


class Halved(NamedTuple):
    """What a drop in two pieces costs alone, and by how far its end lap lies off the middle [ticks].

    ``odd`` is 1 where the first of these is half a tick off, and each other as much more; else 0.
    """

    alone: int
    off: IntArray
    odd: int

    def more(self, state: int, near: int, stagger: int) -> int:
        """Return what it costs more when it leaves a state, ``near`` being the first of ``off`` that is not near."""
        costs = self.off[:near] if state == NEAR else self.off[near if state == BETWEEN else self.far(near, stagger):]
        return int(costs.min()) - self.alone

    def far(self, near: int, stagger: int) -> int:
        """Return the first of ``off`` that is far."""
        return max(stagger - self.odd - near, near)


def _wide(table: PriceTable, height: int) -> Halved:
    return _halved(int(table.price[height]), _in_two(table, height))


def _narrow(table: PriceTable, at: int, height: int, width: int) -> Halved:
    if not table.bands:
        wide = _wide(table, height)
        return wide._replace(alone=wide.alone // table.width * width, off=wide.off // table.width * width)
    low, least, tick = table.bands[at]
    by = max(width - low, 0)
    return _halved(
        int(least.price[height] + tick.price[height] * by),
        _in_two(least, height) + _in_two(tick, height) * by,
    )


def _in_two(table: PriceTable, height: int) -> IntArray:
    """Return what two pieces cost by the height of the lower one, from the least to the greatest."""
    lower = np.arange(height + table.end_lap - table.longest, table.longest + 1)
    both: IntArray = table.piece_price[lower] + table.piece_price[height + table.end_lap - lower]
    return both


def _halved(alone: int, both: IntArray) -> Halved:
    # which of the two pieces is the lower one makes no difference: half of the heights tell all
    return Halved(alone, both[len(both) // 2:], (len(both) - 1) % 2)


def _best_near(costs: Sequence[Halved], stagger: int) -> int | None:
    """Return where near had best end for what some drops cost in a row; None where no end makes them dearer."""
    _, off, odd = costs[0]
    ends = [near for near in range(1, (stagger - odd + 1) // 2 + 1) if costs[0].far(near, stagger) < len(off)]
    if not ends:
        return None
    not_near, far = np.array(ends), np.array([costs[0].far(near, stagger) for near in ends])
    worth = np.zeros(len(ends))
    for alone, off, _ in costs:
        within, beyond = np.minimum.accumulate(off), np.minimum.accumulate(off[::-1])[::-1]
        in_a_row = np.minimum(2 * beyond[not_near], within[not_near - 1] + beyond[far]) - 2 * alone
        worth += in_a_row / max(alone, 1)
    return ends[int(worth.argmax())] if worth.any() else None
