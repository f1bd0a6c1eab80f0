"""The pricing knapsack: which pieces together are worth most in one roll, for every roll length at once.

Values are whole numbers (duals scaled and floored), so what is said of a pattern's worth is exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce
from math import gcd
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]
PartCounts = dict[int, int]
"""A pattern: how many of each part."""


class RollWorths(Protocol):
    """What rolls are worth under one set of values; see ``Table``."""

    def value(self, length: int) -> int:
        """Return the worth of the best pattern in a roll of the length [ticks]; exact."""

    def patterns(self, place: int, price: int, most: int) -> list[PartCounts]:
        """Return patterns of one of the rolls that are worth more than a price."""


class RollPricing(Protocol):
    """Prices rolls again and again; see ``Knapsack``."""

    def price(self, values: Sequence[int], bounds: Sequence[int], first: int = 0) -> RollWorths:
        """Return what rolls are worth."""


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
