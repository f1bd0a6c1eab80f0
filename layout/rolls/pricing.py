"""The pricing knapsack: which pieces together are worth most in one roll, for every roll length at once.

Values are whole numbers (duals scaled and floored), so what is said of a pattern's worth is exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache, reduce
from math import gcd

import numpy as np
from numpy.typing import NDArray

from layout.errors import SolverError
from layout.rolls.listing import Lister, Listing

Whole = NDArray[np.int64]
PartCounts = dict[int, int]
"""A pattern: how many of each part."""

LONG = 120_000
"""Rolls of more lengths than this are priced by listing rather than by a table."""
COARSE = 8_000
"""Steps of the coarse grid of such a roll."""
MOST_LISTED = 400_000


@dataclass(frozen=True)
class Chunk:
    """``count`` pieces of one part taken together (binary splitting of a bounded demand)."""

    part: int
    count: int
    span: int


class Knapsack:
    """A bounded knapsack over parts of fixed lengths, priced again and again.

    Parameters
    ----------
    lengths
        Length of each part [ticks].
    rolls
        Lengths of the rolls [ticks]; one table prices them all.
    """

    def __init__(self, lengths: Sequence[int], rolls: Sequence[int]) -> None:
        self.grain = reduce(gcd, lengths, 0) or 1
        self.lengths = [length // self.grain for length in lengths]
        self.ends = np.array([roll // self.grain for roll in rolls])
        self.capacity = int(self.ends.max())
        self.split = lru_cache(maxsize=None)(self._split)
        self.grown = np.empty(self.capacity + 1, dtype=np.int64)

    def price(self, values: Sequence[int], bounds: Sequence[int], first: int = 0) -> Table:
        """Return what every length of roll is worth.

        Parameters
        ----------
        values
            Worth of one of each part, whole and not negative.
        bounds
            Most of each part that one roll may hold.
        first
            Part that is filled in first; it changes which of equally good patterns are read off, not their worth.
        """
        table = np.zeros(self.capacity + 1, dtype=np.int64)
        chunks: list[Chunk] = []
        taken: list[NDArray[np.bool_]] = []
        prefixes: list[Whole] = []
        for chunk in self._chunks(values, bounds, first):
            tail = table[chunk.span:]
            worth = np.add(table[:-chunk.span], chunk.count * values[chunk.part], out=self.grown[chunk.span:])
            better = worth > tail
            np.maximum(tail, worth, out=tail)
            chunks.append(chunk)
            taken.append(better)
            prefixes.append(table[self.ends])
        return Table(self.grain, table, self.ends, chunks, taken, prefixes, min(self.lengths, default=0))

    def _chunks(self, values: Sequence[int], bounds: Sequence[int], first: int) -> Iterator[Chunk]:
        """Give the chunks of all parts that are worth anything, from one part on round to the one before it."""
        for part in (*range(first, len(self.lengths)), *range(first)):
            if values[part] > 0:
                yield from self.split(part, bounds[part])

    def _split(self, part: int, bound: int) -> list[Chunk]:
        """Split a part's bound into 1, 2, 4, … so that every count up to it can be made."""
        length = self.lengths[part]
        chunks, left, count = [], min(bound, self.capacity // length), 1
        while left > 0:
            count = min(count, left)
            chunks.append(Chunk(part, count, count * length))
            left -= count
            count *= 2
        return chunks


@dataclass(frozen=True)
class Table:
    """What every length of roll is worth under one set of values, and the parts that make that worth.

    ``least`` is the length of the shortest part [grains].
    """

    grain: int
    worth: Whole
    ends: Whole
    chunks: list[Chunk]
    taken: list[NDArray[np.bool_]]
    prefixes: list[Whole]
    least: int

    def value(self, length: int) -> int:
        """Return the worth of the best pattern in a roll of the length [ticks]; exact."""
        return int(self.worth[length // self.grain])

    def patterns(self, place: int, price: int, most: int) -> list[PartCounts]:
        """Return patterns of one of the rolls that are worth more than a price, the best first.

        Parameters
        ----------
        place
            Which of the knapsack's rolls.
        price
            What they must be worth more than.
        most
            Most patterns.

        Notes
        -----
        Besides the best of all parts, the best of the first parts only, which the table knows as it was filled.
        """
        found: list[PartCounts] = []
        worth = -1
        for number in range(len(self.chunks), 0, -1):
            before, worth = worth, int(self.prefixes[number - 1][place])
            if worth <= price or len(found) >= most:
                break
            if worth != before:
                found.append(self._read(int(self.ends[place]), number))
        return found

    def read(self, length: int) -> PartCounts:
        """Return the best pattern of a roll of the length [ticks] as count by part."""
        return self._read(length // self.grain, len(self.chunks))

    def _read(self, room: int, chunks: int) -> PartCounts:
        """Return the best pattern of the first chunks in a room [grains] as count by part."""
        counts: PartCounts = {}
        for number in range(chunks - 1, -1, -1):
            if room < self.least:
                break
            chunk = self.chunks[number]
            if chunk.span <= room and self.taken[number][room - chunk.span]:
                counts[chunk.part] = counts.get(chunk.part, 0) + chunk.count
                room -= chunk.span
        return counts


class LongKnapsack:
    """The same for rolls so long in ticks that a table of every length would be too large.

    Lengths rounded up to a coarse grid give patterns that certainly fit; a listing pruned by lengths rounded down
    then finds whatever is better, exactly.
    """

    def __init__(self, lengths: Sequence[int], rolls: Sequence[int]) -> None:
        self.lengths = list(lengths)
        self.rolls = list(rolls)
        self.grid = max(1, max(rolls) // COARSE)
        self.coarse = Knapsack(
            [-(-length // self.grid) for length in lengths], [roll // self.grid for roll in rolls])

    def price(self, values: Sequence[int], bounds: Sequence[int], first: int = 0) -> LongTable:
        """Return what every length of roll is worth; parameters as for ``Knapsack.price``."""
        lister = Lister(
            self.lengths, [values], [bound if value > 0 else 0 for bound, value in zip(bounds, values)],
            max(self.rolls), grid=self.grid)
        return LongTable(self.grid, self.rolls, values, self.coarse.price(values, bounds, first), lister)


@dataclass(frozen=True)
class LongTable:
    """What rolls are worth when lengths are not tabulated; the same questions as ``Table`` answers."""

    grid: int
    rolls: list[int]
    values: Sequence[int]
    coarse: Table
    lister: Lister
    listed: dict[int, Listing] = field(default_factory=dict)

    def value(self, length: int) -> int:
        """Return the worth of the best pattern in a roll of the length [ticks]; exact."""
        return int(self._worths(self._listing(length)).max(initial=0))

    def patterns(self, place: int, price: int, most: int) -> list[PartCounts]:
        """Return patterns of one of the rolls that are worth more than a price, the best first."""
        listing = self._listing(self.rolls[place])
        worths = self._worths(listing)
        found: list[PartCounts] = []
        for number in np.argsort(-worths, kind="stable")[:most]:
            if worths[number] > price:
                entries = range(int(listing.start[number]), int(listing.start[number + 1]))
                found.append({int(listing.part[e]): int(listing.count[e]) for e in entries})
        return found + [counts for counts in self.coarse.patterns(place, price, most) if counts not in found]

    def _listing(self, length: int) -> Listing:
        """List the patterns worth at least the best that certainly fits; some are asked for again and again."""
        if length not in self.listed:
            least = self.coarse.value(length // self.grid)
            listing = self.lister.patterns(length, [least], MOST_LISTED)
            if listing is None:
                raise SolverError("too many patterns are nearly as good as the best to tell which is")
            self.listed[length] = listing
        return self.listed[length]

    def _worths(self, listing: Listing) -> Whole:
        if not len(listing):
            return np.zeros(0, dtype=np.int64)
        worth = np.array(self.values, dtype=np.int64)[listing.part] * listing.count
        return np.asarray(np.add.reduceat(worth, listing.start[:-1]))


def knapsack(lengths: Sequence[int], rolls: Sequence[int]) -> Knapsack | LongKnapsack:
    """Return the knapsack that suits the rolls: a table of every length, or a listing when that would be too large."""
    table = Knapsack(lengths, rolls)
    return table if table.capacity <= LONG else LongKnapsack(lengths, rolls)
