"""The goals as numbers that add up and compare in their order.

A cost holds six whole numbers, first things first: violation, price, pieces, drops, seam length, odd spacings. They are
packed into the two halves of one complex number, because numpy orders complex numbers by their first half and then by
their second: sums, minima and running minima of costs are then single fast operations.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from layout.drops.columns import StretchCells, IntArray
from layout.drops.prices import PriceTable
from layout.errors import NoLayout

CostArray = NDArray[np.complexfloating[Any, Any]]
RealArray = NDArray[np.floating[Any]]

NEVER = complex(np.inf, 0)
"""The cost of what cannot be."""
ROOMS = (128, 64, 32)
"""Two costs that are compared may differ in a later goal by what half this many drops can make: the most that fits."""
EXACT = 2.0**53
"""Whole numbers below this are exact in half a complex number."""
VIOLATIONS = 128
"""Violation for which there must be place [ticks]."""


class Goals(NamedTuple):
    """What a layout is judged by, in order; the least is best."""

    violation: int
    price: int
    pieces: int
    drops: int
    seam_length: int
    odd_spacings: int


@dataclass(frozen=True)
class Scale:
    """How goals are packed: each weight is more than the later goals in its half can differ by.

    Parameters
    ----------
    violation, price
        Weights in the first half; a piece counts 1.
    drop, seam
        Weights in the second half; an odd spacing counts 1.
    """

    violation: float
    price: float
    drop: float
    seam: float

    def packed(self, table: PriceTable) -> RealArray:
        """Return price and pieces of a column, by its height, as one number."""
        packed: RealArray = table.price * self.price + table.pieces
        return packed

    def first_goals(self, difference: complex) -> tuple[int, int]:
        """Return by how much two costs differ in violation and price, the price rounded down over the pieces."""
        violation = round(difference.real / self.violation)
        return violation, int((difference.real - violation * self.violation) // self.price)

    def spread_within(self, costs: CostArray) -> bool:
        """Tell whether costs are so close together that a few more drops cannot upset their order.

        Parameters
        ----------
        costs
            Costs that may be compared, one row each set.
        """
        least = costs.min(axis=1, keepdims=True)
        least[np.isinf(least.real)] = 0
        first, second = costs.real - least.real, costs.imag - least.imag
        unknown = np.isinf(first)
        if unknown.any():
            first[unknown] = second[unknown] = 0
        return _near(first, self.violation, self.price) and _near(second, self.drop, self.seam)


def _near(values: RealArray, weight: float, inner: float) -> bool:
    """Tell whether what values differ by below each of two weights is at most a quarter of it; uses the values up."""
    whole = np.rint(values / weight)
    if whole.any():
        values -= np.multiply(whole, weight, out=whole)
    np.rint(np.divide(values, inner, out=whole), out=whole)
    if max(whole.max(), -whole.min()) > weight / inner / 4:
        return False
    values -= np.multiply(whole, inner, out=whole)
    return bool(max(values.max(), -values.min()) <= inner / 4)


def scale_for(stretch: StretchCells, table: PriceTable) -> Scale:
    """Return weights for a stretch of wall and a price.

    Raises
    ------
    NoLayout
        When prices are so great that sums of them are no longer exact.
    """
    columns_of_a_drop = 1 + most_at_once(stretch)
    most_pieces = columns_of_a_drop * max(int(table.pieces.max(initial=1)), 1)
    most_price = columns_of_a_drop * max(int(table.price.max(initial=1)), 1)
    most_seam = max(int(stretch.seam.max(initial=1)), 1)
    for room in ROOMS:
        price, seam = _power_above(room * most_pieces), _power_above(room)
        scale = Scale(
            violation=price * _power_above(room * most_price), price=price,
            drop=seam * _power_above(room * most_seam), seam=seam,
        )
        if scale.violation * VIOLATIONS <= EXACT:
            return scale
    raise NoLayout(f"the price of a length must be at most {EXACT / 2**20 / most_pieces:,.0f} (got {most_price})")


def most_at_once(stretch: StretchCells) -> int:
    """Return how many openings at most lie over one another."""
    if not stretch.spans:
        return 0
    edges = sorted([(span.first, 1) for span in stretch.spans] + [(span.last + 1, -1) for span in stretch.spans])
    most = now = 0
    for _, change in edges:
        now += change
        most = max(most, now)
    return most


def _power_above(least: int) -> float:
    return float(1 << int(least).bit_length())


def drop_costs(
    stretch: StretchCells, packed: RealArray, *, lefts: IntArray, rights: IntArray,
) -> RealArray:
    """Return price and pieces, packed, of drops with their edges in given classes.

    Parameters
    ----------
    stretch
        The wall.
    packed
        Price and pieces of a column, by its height; see ``Scale.packed``.
    lefts, rights
        Classes of the first and of the last cell of a drop, rising without gaps; each pair is one drop.

    Returns
    -------
    array
        One row for each of ``lefts``; infinite where a drop would end before it starts. Pairs further apart than a
        sheet is wide may be taller than ``packed`` reaches; they are given its last value, and nobody asks for them.
    """
    start, stop = int(lefts[0]), int(rights[-1]) + 1
    tallest = len(packed) - 1
    top = _extremes(stretch.class_top, lefts, rights, np.maximum)
    bottom = _extremes(stretch.class_bottom, lefts, rights, np.minimum)
    cost = np.zeros(top.shape)
    for span in stretch.spans_over(start, stop - 1):
        split = (lefts[:, None] >= span.first) & (rights[None, :] <= span.last)
        cost += np.where(split, packed[_within(top - span.top, tallest)], 0)
        top = np.where(split, span.bottom, top)
    cost += packed[_within(top - bottom, tallest)]
    if rights[0] < lefts[-1]:
        cost[rights[None, :] < lefts[:, None]] = np.inf
    return cost


def _within(heights: IntArray, tallest: int) -> IntArray:
    """Return heights with those below 0 and above the tallest brought in."""
    within: IntArray = np.minimum(np.maximum(heights, 0), tallest)
    return within


def _extremes(values: IntArray, lefts: IntArray, rights: IntArray, greater: np.ufunc) -> IntArray:
    """Return the extreme of ``values`` over each stretch from one of ``lefts`` to one of ``rights``.

    Where a stretch would end before it starts, the result means nothing.
    """
    extremes: IntArray
    middle = int(lefts[-1])
    if middle <= rights[0]:
        before = greater.accumulate(values[lefts[0]:middle + 1][::-1])[::-1]
        after = greater.accumulate(values[middle:rights[-1] + 1])[rights[0] - middle:]
        extremes = greater(before[:, None], after)
        return extremes
    columns = np.arange(lefts[0], rights[-1] + 1)
    inside = np.maximum(columns, lefts[:, None])
    extremes = greater.accumulate(values[np.minimum(inside, rights[-1])], axis=1)[:, rights[0] - lefts[0]:]
    return extremes
