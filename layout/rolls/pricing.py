"""The pricing knapsack: which pieces together are worth most in one roll, for every roll length at once.

Values are whole numbers (duals scaled and floored), so what is said of a pattern's worth is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from math import gcd

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]


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
            worth = table[:-chunk.span] + chunk.count * values[chunk.part]
            tail = table[chunk.span:]
            better = worth > tail
            np.maximum(tail, worth, out=tail)
            chunks.append(chunk)
            taken.append(better)
            prefixes.append(table[self.ends])
        return Table(self.grain, table, chunks, taken, prefixes)

    def _chunks(self, values: Sequence[int], bounds: Sequence[int], first: int) -> list[Chunk]:
        """Split each part's bound into 1, 2, 4, … so that every count up to it can be made."""
        chunks = []
        for place in range(len(self.lengths)):
            part = (place + first) % len(self.lengths)
            length = self.lengths[part]
            left = min(bounds[part], self.capacity // length) if values[part] > 0 else 0
            count = 1
            while left > 0:
                count = min(count, left)
                chunks.append(Chunk(part, count, count * length))
                left -= count
                count *= 2
        return chunks


@dataclass(frozen=True)
class Table:
    """What every length of roll is worth under one set of values, and the parts that make that worth."""

    grain: int
    worth: Whole
    chunks: list[Chunk]
    taken: list[NDArray[np.bool_]]
    prefixes: list[Whole]

    def value(self, length: int) -> int:
        """Return the worth of the best pattern in a roll of the length [ticks]; exact."""
        return int(self.worth[length // self.grain])

    def pattern(self, length: int, chunks: int | None = None) -> dict[int, int]:
        """Return the best pattern in the length as count by part; of the first ``chunks`` chunks only when given."""
        room = length // self.grain
        counts: dict[int, int] = {}
        last = len(self.chunks) if chunks is None else chunks
        for number in range(last - 1, -1, -1):
            chunk = self.chunks[number]
            if chunk.span <= room and self.taken[number][room - chunk.span]:
                counts[chunk.part] = counts.get(chunk.part, 0) + chunk.count
                room -= chunk.span
        return counts


def worth_of_length(table: Table, length: int, roll: int, cost: int) -> int:
    """Return the least worth at which one more piece of a length would earn its place in a roll.

    Parameters
    ----------
    table
        Worths of all lengths under the present duals.
    length, roll
        Of the piece and of the roll it is cut from [ticks].
    cost
        Of the roll, in the money of the duals (scale x cost).
    """
    return max(0, cost - table.value(roll - length))
