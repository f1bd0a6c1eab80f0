"""What a drop costs: by the classes its edges lie in, its width, and how far off the middle its end lap lies."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from layout.drops.columns import Columns, IntArray
from layout.drops.costs import CostArray, RealArray, Scale, drop_costs, scale_for
from layout.drops.prices import PriceTable
from layout.drops.stagger import FAR, stagger_costs


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


class NarrowBand(NamedTuple):
    """What narrow drops of some width or wider cost by height of column: just so wide, and each tick more.

    Both are None where they cost their part of the price.
    """

    low: int
    least: RealArray | None
    tick: RealArray | None


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
    stagger
        When not 0, the least difference in height of tall neighbours' end laps, which then counts [ticks].
    """

    def __init__(self, stretch: Columns, table: PriceTable, sheet: Sheet, *, stagger: int = 0) -> None:
        self.stretch = stretch
        self.sheet = sheet
        self.table = table
        self.widths: list[tuple[int, int]] = []
        """Least and greatest width of the drops in each band, none where no drops share a roll's width; the first holds
        all that are narrower."""
        self.bands: list[NarrowBand] = []
        if table.share:
            lows = [band.low for band in table.bands] or [0]
            self.widths = [
                (max(low if at else 0, sheet.narrowest), min([*lows[at + 1:at + 2], table.share + 1]) - 1)
                for at, low in enumerate(lows)
            ]
        self.staggered = stagger_costs(stretch, table, self.widths, stagger=stagger)
        self.states = len(self.staggered.more) if self.staggered else 1
        self.scale: Scale = scale_for(stretch, table, more=self.staggered.most if self.staggered else 0)
        self.packed = self.scale.packed(table)
        if table.share:
            self.bands = [
                NarrowBand(band.low, *(one.price * self.scale.price for one in (band.least, band.tick)))
                for band in table.bands
            ] or [NarrowBand(0, None, None)]

    def parts(
        self, costs: RealArray, lefts: IntArray, rights: IntArray, at: int, state: int | None = None,
    ) -> tuple[RealArray, RealArray]:
        """Return what each tick of width adds to the costs of drops that share a roll's width, and what else they cost.

        Parameters
        ----------
        costs
            Of drops of full width.
        lefts, rights
            The classes of their edges, as for ``drop_costs``.
        at
            Which band of widths.
        state
            What they leave: infinite where they cannot; when None, all as if split where they cost least.
        """
        band = self.bands[at]
        known = np.isfinite(costs)
        price, pieces = np.divmod(np.where(known, costs, 0), self.scale.price)
        if band.least is not None and band.tick is not None:
            least, parts = (
                np.where(known, drop_costs(self.stretch, one, lefts=lefts, rights=rights), 0)
                for one in (band.least, band.tick)
            )
            besides = least - parts * band.low
        else:
            parts, besides = price // self.table.width * self.scale.price, np.zeros(price.shape)
        if self.staggered and state is not None:
            tall, more = self.tall(lefts, rights), self.staggered.more[state].narrow[at]
            known = known & (tall | (state == FAR))
            costs = np.where(known, costs, np.inf)
            parts = parts + tall * more.tick[lefts][:, None] * self.scale.price
            besides = besides + tall * more.besides[lefts][:, None] * self.scale.price
        return parts, np.where(known, besides + pieces, costs)

    def tall(self, lefts: IntArray, rights: IntArray) -> NDArray[np.bool_]:
        """Tell of which drops, by the classes of their edges, the end laps count."""
        assert self.staggered
        tall: NDArray[np.bool_] = (lefts[:, None] == rights[None, :]) & self.staggered.tall[lefts][:, None]
        return tall

    def leaves(self, kind: int, state: int) -> bool:
        """Tell whether drops within a class may leave a state."""
        return state == FAR or bool(self.staggered and self.staggered.tall[kind])

    def column(self, height: int) -> float:
        """Return the cost of a column of a height, as of a wide drop."""
        return float(self.packed[max(height, 0)])

    def ended(self, lefts: IntArray, rights: IntArray, state: int | None = None) -> CostArray:
        """Return the costs of drops that leave a state and of where their laps end; neither edges may ever fall."""
        ends: CostArray = self.scale.violation * self.stretch.reached[rights] + 0j
        return ends + self.costs(lefts, rights, state)

    def costs(self, lefts: IntArray, rights: IntArray, state: int | None = None) -> RealArray:
        """Return price and pieces, packed, of drops that leave a state; neither edges may ever fall."""
        kind, widths = self.stretch.kind, rights - lefts
        from_kinds, to_kinds = kind[lefts], kind[rights - 1]
        first, last = int(from_kinds[0]), int(to_kinds[-1])
        least, most = int(widths.min()), int(widths.max())
        narrow = [
            (at, (widths >= narrowest if at else widths > 0) & (widths <= widest))
            for at, (narrowest, widest) in enumerate(self.widths)
            if least <= widest and (most >= narrowest or not at)
        ]
        if first == last:
            if state is not None and not self.leaves(first, state):
                return np.full(len(lefts), np.inf)
            costs: RealArray = np.full(len(lefts), self.same_class(first, state))
            for at, these in narrow:
                part, besides = self.same_class_parts(first, at, state)
                costs = np.where(these, np.minimum(besides + part * widths, costs), costs)
            return costs
        kinds = np.arange(first, int(from_kinds[-1]) + 1), np.arange(int(to_kinds[0]), last + 1)
        rows = from_kinds - first, to_kinds - to_kinds[0]
        drops = self.drops(*kinds)
        costs = self.left(drops, *kinds, state)[rows]
        for at, these in narrow:
            parts, each = self.parts(drops, *kinds, at, state)
            costs = np.where(these, np.minimum(each[rows] + parts[rows] * widths, costs), costs)
        return costs

    def drops(self, lefts: IntArray, rights: IntArray, state: int | None = None) -> RealArray:
        """Return the costs of wide drops that leave a state, by the classes of their edges."""
        return self.left(drop_costs(self.stretch, self.packed, lefts=lefts, rights=rights), lefts, rights, state)

    def left(self, costs: RealArray, lefts: IntArray, rights: IntArray, state: int | None) -> RealArray:
        """Return the costs of wide drops when they leave a state; infinite where they cannot."""
        if not self.staggered or state is None:
            return costs
        tall = self.tall(lefts, rights)
        more = tall * self.staggered.more[state].wide[lefts][:, None] * self.scale.price
        return np.where(tall | (state == FAR), costs + more, np.inf)

    def same_class(self, kind: int, state: int | None = None) -> float:
        """Return the cost of a wide drop within one class that leaves a state."""
        more = self.staggered.more[state].wide[kind] if self.staggered and state is not None else 0
        return float(self._within[kind] + more * self.scale.price)

    def same_class_parts(self, kind: int, at: int, state: int | None = None) -> tuple[float, float]:
        """Return what each tick of width adds to the cost of a drop within one class, and what else it costs."""
        parts, besides = self._parts_within[at]
        part, each = float(parts[kind]), float(besides[kind])
        if self.staggered and state is not None:
            more = self.staggered.more[state].narrow[at]
            part += more.tick[kind] * self.scale.price
            each += more.besides[kind] * self.scale.price
        return part, each

    @cached_property
    def _within(self) -> RealArray:
        """By class, what a wide drop within it costs."""
        return self._priced_within(self.packed)

    @cached_property
    def _parts_within(self) -> list[tuple[RealArray, RealArray]]:
        """For each band, by class, what each tick of width adds to the cost of a drop within it, and what else."""
        price, pieces = np.divmod(self._within, self.scale.price)
        found: list[tuple[RealArray, RealArray]] = []
        for band in self.bands:
            if band.least is not None and band.tick is not None:
                parts = self._priced_within(band.tick)
                found.append((parts, self._priced_within(band.least) - parts * band.low + pieces))
            else:
                found.append((price // self.table.width * self.scale.price, pieces))
        return found

    def _priced_within(self, packed: RealArray) -> RealArray:
        """Return by class what a drop within it costs, by what a column costs of each height."""
        costs: RealArray = packed[np.maximum(self.stretch.class_top - self.stretch.class_bottom, 0)]
        for kind in {kind for span in self.stretch.spans for kind in range(span.first, span.last + 1)}:
            one = np.array([kind])
            costs[kind] = drop_costs(self.stretch, packed, lefts=one, rights=one)[0, 0]
        return costs
