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

MOST_CELLS = 24_000_000
"""Cells in the tables that prune the listing (about 200 MB); longer rolls are pruned on a coarser grid."""


@dataclass(frozen=True)
class Listing:
    """Patterns as rows of counts, one column a part, with their worths."""

    counts: NDArray[np.int16]
    worths: Whole


class Lister:
    """Lists patterns over fixed parts under one set of values.

    Parameters
    ----------
    lengths
        Length of each part [ticks].
    values
        Worth of one of each part, whole.
    bounds
        Most of each part in one roll.
    longest
        The longest roll [ticks].
    """

    def __init__(
        self, lengths: Sequence[int], values: Sequence[int], bounds: Sequence[int], longest: int,
    ) -> None:
        self.lengths = list(lengths)
        self.values = list(values)
        self.bounds = [min(bound, longest // length) for bound, length in zip(bounds, lengths)]
        self.order = sorted(range(len(lengths)), key=lambda part: -lengths[part])
        cells = max(1, MOST_CELLS // (len(self.order) + 1))
        self.grid = max(1, -(-(longest + 1) // cells))
        self.after = self._tables(longest)

    def _tables(self, longest: int) -> list[Whole]:
        """Return, by place in the order, the most that the parts from there on are worth in each room.

        On a grid coarser than a tick, lengths are rounded down, so the tables never say too little.
        """
        table = np.zeros(longest // self.grid + 1, dtype=np.int64)
        tables = [table]
        for part in reversed(self.order):
            table = table.copy()
            span, value, left, count = self.lengths[part] // self.grid, self.values[part], self.bounds[part], 1
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

    def patterns(self, roll: int, least: int, most: int) -> Listing | None:
        """Return every pattern of a roll worth at least ``least`` to which no part can be added.

        Parameters
        ----------
        roll
            Length of the roll [ticks].
        least
            Least worth.
        most
            Most patterns; None is returned when there are more.
        """
        room = np.array([roll], dtype=np.int64)
        worth = np.zeros(1, dtype=np.int64)
        counts = np.zeros((1, len(self.order)), dtype=np.int16)
        for place, part in enumerate(self.order):
            rest = self.after[place + 1]
            rooms, worths, grown = [], [], []
            for count in range(self.bounds[part] + 1):
                left = room - count * self.lengths[part]
                gain = worth + count * self.values[part]
                alive = left >= 0
                alive[alive] &= gain[alive] + rest[left[alive] // self.grid] >= least
                if not alive.any():
                    if count:
                        break
                    continue
                more = counts[alive]
                more[:, part] = count
                rooms.append(left[alive])
                worths.append(gain[alive])
                grown.append(more)
            if not rooms:
                return Listing(np.zeros((0, len(self.order)), dtype=np.int16), np.zeros(0, dtype=np.int64))
            room, worth, counts = np.concatenate(rooms), np.concatenate(worths), np.concatenate(grown)
            if len(room) > 4 * most:
                return None
        full = np.ones(len(room), dtype=bool)
        for part, length in enumerate(self.lengths):
            full &= (counts[:, part] >= self.bounds[part]) | (room < length)
        if int(full.sum()) > most:
            return None
        return Listing(counts[full], worth[full])
