"""Listing every pattern that a better answer could use: those worth nearly what their roll costs.

If an answer of cost T exists, the shortfalls of its patterns (scaled cost less worth) add up to no more than
T x scale less the worth of the demand. A pattern whose own shortfall is more is in no such answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]

SPARE = 3
"""Patterns under way for each one wanted before the listing is given up; those that are not full go at the end."""
MOST_CELLS = 24_000_000
"""Cells in the tables that prune the listing (about 200 MB); longer rolls are pruned on a coarser grid."""


@dataclass(frozen=True)
class Listing:
    """Patterns one after another: pattern p holds the entries from start[p] to start[p + 1].

    Parameters
    ----------
    start
        Where each pattern's entries start; one more than there are patterns.
    part, count
        The entries: which part, how many.
    """

    start: Whole
    part: Whole
    count: Whole

    def __len__(self) -> int:
        return len(self.start) - 1

    def keep(self, marks: NDArray[np.bool_]) -> Listing:
        """Return the listing of those patterns for which the mask is true."""
        sizes = np.diff(self.start)
        entries = np.repeat(marks, sizes)
        return Listing(np.concatenate([[0], np.cumsum(sizes[marks])]), self.part[entries], self.count[entries])


@dataclass(frozen=True)
class Under:
    """Patterns under way: the room each has left, its last step, and its worth under each set of values."""

    room: Whole
    ends: Whole
    worths: list[Whole]


@dataclass
class Growth:
    """Patterns as they grow part by part: each step knows the step before it, so nothing is copied."""

    before: list[Whole]
    part: list[Whole]
    count: list[Whole]
    steps: int = 1

    def add(self, before: Whole, part: int, count: int) -> Whole:
        """Add ``count`` of a part to the patterns ending in ``before``; return their new ends."""
        self.before.append(before)
        self.part.append(np.full(len(before), part, dtype=np.int64))
        self.count.append(np.full(len(before), count, dtype=np.int64))
        ends = np.arange(self.steps, self.steps + len(before), dtype=np.int64)
        self.steps += len(before)
        return ends

    def listing(self, ends: Whole) -> Listing:
        """Return the patterns that end in the steps given."""
        none = np.zeros(1, dtype=np.int64)
        before, part, count = (np.concatenate([none, *steps]) for steps in (self.before, self.part, self.count))
        owner, parts, counts = [], [], []
        alive = np.arange(len(ends))
        step = ends
        while len(alive):
            going = step > 0
            alive, step = alive[going], step[going]
            owner.append(alive)
            parts.append(part[step])
            counts.append(count[step])
            step = before[step]
        owners = np.concatenate([none[:0], *owner])
        order = np.argsort(owners, kind="stable")
        start = np.searchsorted(owners[order], np.arange(len(ends) + 1)).astype(np.int64)
        return Listing(start, np.concatenate([none[:0], *parts])[order], np.concatenate([none[:0], *counts])[order])


class Lister:
    """Lists patterns over fixed parts that are worth enough under each of several sets of values.

    Parameters
    ----------
    lengths
        Length of each part [ticks].
    values
        Sets of values: worth of one of each part, whole.
    bounds
        Most of each part in one roll.
    longest
        The longest roll [ticks].
    grid
        Step of the tables that prune [ticks]; chosen by their size unless given.
    """

    def __init__(
        self,
        lengths: Sequence[int],
        values: Sequence[Sequence[int]],
        bounds: Sequence[int],
        longest: int,
        *,
        grid: int | None = None,
    ) -> None:
        self.lengths = list(lengths)
        self.values = [list(each) for each in values]
        self.bounds = [min(bound, longest // length) for bound, length in zip(bounds, lengths)]
        self.order = sorted(range(len(lengths)), key=lambda part: -lengths[part])
        cells = max(1, MOST_CELLS // ((len(self.order) + 1) * len(self.values)))
        self.grid = grid or max(1, -(-(longest + 1) // cells))
        self.after = [self._tables(each, longest) for each in self.values]

    def _tables(self, values: Sequence[int], longest: int) -> list[Whole]:
        """Return, by place in the order, the most that the parts from there on are worth in each room.

        On a grid coarser than a tick, lengths are rounded down, so the tables never say too little.
        """
        table = np.zeros(longest // self.grid + 1, dtype=np.int64)
        tables = [table]
        for part in reversed(self.order):
            table = table.copy()
            span, value, left, count = self.lengths[part] // self.grid, values[part], self.bounds[part], 1
            while left > 0 and value > 0:
                count = min(count, left)
                if span == 0:
                    table += count * value
                elif span * count < len(table):
                    worth = table[:-span * count] + count * value
                    np.maximum(table[span * count:], worth, out=table[span * count:])
                left -= count
                count *= 2
            tables.append(table)
        return tables[::-1]

    def patterns(self, roll: int, least: Sequence[int], most: int) -> Listing | None:
        """Return every pattern of a roll that is worth enough and to which no part can be added.

        Parameters
        ----------
        roll
            Length of the roll [ticks].
        least
            Least worth under each set of values.
        most
            Most patterns; None is returned when there are more.
        """
        under = Under(
            np.array([roll], dtype=np.int64), np.zeros(1, dtype=np.int64),
            [np.zeros(1, dtype=np.int64) for _ in self.values])
        growth = Growth([], [], [])
        for place, part in enumerate(self.order):
            grown = []
            for count in range(self.bounds[part] + 1):
                more = self._grow(under, place, part, count, least)
                if more is None:
                    break
                if len(more.ends):
                    ends = growth.add(more.ends, part, count) if count else more.ends
                    grown.append(Under(more.room, ends, more.worths))
            if not grown:
                return growth.listing(under.ends[:0])
            under = Under(
                np.concatenate([each.room for each in grown]),
                np.concatenate([each.ends for each in grown]),
                [np.concatenate(worths) for worths in zip(*(each.worths for each in grown))])
            if len(under.room) > SPARE * most:
                return None
        listing = growth.listing(under.ends)
        full = self._full(listing, under.room)
        return listing.keep(full) if int(full.sum()) <= most else None

    def _grow(self, under: Under, place: int, part: int, count: int, least: Sequence[int]) -> Under | None:
        """Return the patterns under way with ``count`` of a part added that can still be worth enough."""
        left = under.room - count * self.lengths[part]
        able = np.flatnonzero(left >= 0)
        if not len(able):
            return None
        left = left[able]
        worths = [worth[able] + count * values[part] for worth, values in zip(under.worths, self.values)]
        good = np.ones(len(able), dtype=bool)
        for worth, after, enough in zip(worths, self.after, least):
            good &= worth + after[place + 1][left // self.grid] >= enough
        return Under(left[good], under.ends[able[good]], [worth[good] for worth in worths])

    def _full(self, listing: Listing, room: Whole) -> NDArray[np.bool_]:
        """Return which patterns hold something and leave no room for one more of any part they may hold more of."""
        full = np.diff(listing.start) > 0
        owner = np.repeat(np.arange(len(listing)), np.diff(listing.start))
        for part in reversed(self.order):
            roomy = room >= self.lengths[part]
            if not (roomy & full).any():
                break
            held = np.zeros(len(listing), dtype=np.int64)
            entries = listing.part == part
            held[owner[entries]] = listing.count[entries]
            full &= ~roomy | (held >= self.bounds[part])
        return full
