"""What a drop costs: by the classes its edges lie in, and its width."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from layout.drops.columns import StretchCells, IntArray
from layout.drops.costs import CostArray, RealArray, Scale, drop_costs, scale_for
from layout.drops.prices import PriceTable


@dataclass(frozen=True)
class Sheet:
    """The sheet that is hung.

    Parameters
    ----------
    width
        Of a full drop [ticks].
    narrowest
        Of a ripped drop [ticks]; more than ``side_lap``.
    side_lap
        Least lap of neighbours [ticks].
    """

    width: int
    narrowest: int
    side_lap: int

    @property
    def step(self) -> int:
        """Spacing of full drops at the least lap [ticks]."""
        return self.width - self.side_lap

    @property
    def least(self) -> int:
        """Spacing of the narrowest drops at the least lap [ticks]."""
        return self.narrowest - self.side_lap


class Worths:
    """What the drops of one stretch of wall cost, packed by a scale.

    Parameters
    ----------
    stretch
        The wall.
    table
        Prices of columns.
    sheet
        What is hung.
    """

    def __init__(self, stretch: StretchCells, table: PriceTable, sheet: Sheet) -> None:
        self.stretch = stretch
        self.sheet = sheet
        self.table = table
        self.scale: Scale = scale_for(stretch, table)
        self.packed = self.scale.packed(table)

    @property
    def widest(self) -> int:
        """Width of the widest drop that shares a roll's width; 0 when none does [ticks]."""
        return self.table.share if self.table.share >= self.sheet.narrowest else 0

    def parts(self, costs: RealArray) -> tuple[RealArray, RealArray]:
        """Return what each tick of width adds to the costs of drops that share a roll's width, and what else they cost.

        ``costs`` are those of drops of full width; infinite ones stay so.
        """
        known = np.isfinite(costs)
        price, pieces = np.divmod(np.where(known, costs, 0), self.scale.price)
        return price // self.table.width * self.scale.price, np.where(known, pieces, costs)

    def column(self, height: int) -> float:
        """Return the cost of a column of a height, as of a wide drop."""
        return float(self.packed[max(height, 0)])

    def ended(self, lefts: IntArray, rights: IntArray) -> CostArray:
        """Return the packed costs of drops, what their laps miss of clearances included; both arrays must be sorted."""
        ends: CostArray = self.scale.violation * self.stretch.reached[rights] + 0j
        return ends + self.costs(lefts, rights)

    def costs(self, lefts: IntArray, rights: IntArray) -> RealArray:
        """Return price and pieces of drops, packed; ``lefts`` and ``rights`` [ticks] must each be sorted."""
        kind, widths = self.stretch.kind, rights - lefts
        from_kinds, to_kinds = kind[lefts], kind[rights - 1]
        first, last = int(from_kinds[0]), int(to_kinds[-1])
        narrow = (widths > 0) & (widths <= self.widest)
        if first == last:
            costs: RealArray = np.full(len(lefts), self.same_class(first))
            if narrow.any():
                part, besides = self.same_class_parts(first)
                costs = np.where(narrow, np.minimum(besides + part * widths, costs), costs)
            return costs
        rows = from_kinds - first, to_kinds - to_kinds[0]
        drops = self.drops(
            np.arange(first, int(from_kinds[-1]) + 1), np.arange(int(to_kinds[0]), last + 1))
        costs = drops[rows]
        if narrow.any():
            parts, each = self.parts(drops)
            costs = np.where(narrow, np.minimum(each[rows] + parts[rows] * widths, costs), costs)
        return costs

    def drops(self, lefts: IntArray, rights: IntArray) -> RealArray:
        """Return the costs of wide drops, by the classes of their edges."""
        return drop_costs(self.stretch, self.packed, lefts=lefts, rights=rights)

    def same_class(self, kind: int) -> float:
        """Return the cost of a wide drop within one class."""
        return float(self._within[kind])

    def same_class_parts(self, kind: int) -> tuple[float, float]:
        """Return what each tick of width adds to the cost of a drop within one class, and what else it costs."""
        parts, besides = self._parts_within
        return float(parts[kind]), float(besides[kind])

    @cached_property
    def _within(self) -> RealArray:
        """By class, what a wide drop within it costs."""
        costs: RealArray = self.packed[np.maximum(self.stretch.class_top - self.stretch.class_bottom, 0)]
        for kind in {kind for span in self.stretch.spans for kind in range(span.first, span.last + 1)}:
            one = np.array([kind])
            costs[kind] = drop_costs(self.stretch, self.packed, lefts=one, rights=one)[0, 0]
        return costs

    @cached_property
    def _parts_within(self) -> tuple[RealArray, RealArray]:
        """By class, what each tick of width adds to the cost of a drop within it, and what else it costs."""
        return self.parts(self._within)
