"""Pricing of rolls so long that a table of every length would be too large, as some published instances have them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from helpers.listing import Lister, Listing

from layout.errors import SolverError
from layout.rolls.pricing import Knapsack, PartCounts, Table, Whole

LONG = 120_000
"""Rolls of more lengths than this are priced by listing rather than by a table."""
COARSE = 8_000
"""Steps of the coarse grid of such a roll."""
MOST_LISTED = 400_000


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
