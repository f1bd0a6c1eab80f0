"""What a column of sheet costs: how many pieces it is hung in, and the price of their lengths."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from layout.drops.columns import IntArray
from layout.errors import NoLayout
from layout.records import Rules

PriceOf = Callable[[IntArray], IntArray]
"""Prices of cut lengths [ticks] as whole numbers: never negative, never less for a longer piece."""


def length_price(lengths: IntArray) -> IntArray:
    """Price a piece at its own length."""
    return lengths


@dataclass(frozen=True, eq=False)
class PriceTable:
    """The least price of a column of each height, and the fewest pieces it can be hung in.

    Parameters
    ----------
    price, pieces
        By height of column, from 0 [ticks]; both 0 at 0. The price is that of a higher column where that is less.
    piece_price
        By height of one piece, from 0 to ``longest``.
    longest
        Greatest height of one piece: its cut length is within ``max_piece`` [ticks].
    end_lap
        Lap of an upper piece over a lower one [ticks].
    width, share
        Of the sheet, and of the widest drop that shares a roll's width with another [ticks]. When ``share`` is not 0,
        prices are for a full width, and a drop at most ``share`` wide costs its part of the width.
    """

    price: IntArray
    pieces: IntArray
    piece_price: IntArray
    longest: int
    end_lap: int
    width: int = 1
    share: int = 0

    def of(self, heights: Sequence[int], width: int) -> int:
        """Return the least price of a drop so wide whose columns are so high [ticks]."""
        return self._at(width, sum(int(self.price[height]) for height in heights))

    def of_pieces(self, heights: Sequence[int], width: int) -> int:
        """Return the price of a drop so wide that is hung in pieces so high [ticks]."""
        return self._at(width, sum(int(self.piece_price[height]) for height in heights))

    def _at(self, width: int, price: int) -> int:
        return price if width > self.share else price // self.width * width


def cut_lengths(heights: IntArray, rules: Rules) -> IntArray:
    """Return the lengths cut for pieces of given heights [ticks]: with the allowance, up to the next ``cut_to``."""
    step = max(rules.cut_to, 1)
    return -(-(heights + rules.cut_allowance) // step) * step


def longest_piece(rules: Rules) -> int:
    """Return the greatest height of a piece whose cut length is within ``max_piece`` [ticks]."""
    step = max(rules.cut_to, 1)
    return rules.max_piece // step * step - rules.cut_allowance


def price_table(
    rules: Rules, price: PriceOf, *, tallest: int, width: int = 1, share: int = 0,
) -> PriceTable:
    """Price every column up to the tallest.

    Parameters
    ----------
    rules
        For ``max_piece``, ``end_lap`` and the cut lengths.
    price
        What a cut length is worth: of any width, or a tick wide where drops share widths.
    tallest
        Greatest height of a column [ticks].
    width, share
        Of the sheet, and of the widest drop that shares a roll's width with another; 0 when none does [ticks].

    Raises
    ------
    NoLayout
        When a column must be split and no piece is long enough to lap.
    """
    longest = longest_piece(rules)
    if tallest > longest and longest <= rules.end_lap:
        raise NoLayout(
            "rules.max_piece must be more than end_lap with the cut allowance, where the wall is taller than one piece",
        )
    single = np.zeros(min(longest, max(tallest, 0)) + 1, dtype=np.int64)
    heights = np.arange(1, len(single), dtype=np.int64)
    single[1:] = np.asarray(price(cut_lengths(heights, rules)), dtype=np.int64) * (width if share else 1)
    prices, pieces = _columns(single.tobytes(), longest, rules.end_lap, tallest)
    return PriceTable(prices, pieces, single, longest, rules.end_lap, width, share)


@lru_cache(maxsize=32)
def _columns(single: bytes, longest: int, lap: int, tallest: int) -> tuple[IntArray, IntArray]:
    """Return the least price of each column and its pieces, from the prices of single pieces by height.

    Runs are placed many times at one price: their columns are priced once. Nobody may change what is returned.
    """
    one = np.frombuffer(single, dtype=np.int64)
    prices = np.zeros(tallest + 1, dtype=np.int64)
    pieces = np.zeros(tallest + 1, dtype=np.int64)
    prices[:len(one)] = one[:tallest + 1]
    pieces[1:len(one)] = 1
    for height in range(len(one), tallest + 1):
        # the lowest piece takes x, what hangs above it laps it
        rest_pieces = int(pieces[height - longest + lap])
        lowest = height - _tallest_in(rest_pieces, longest, lap) + lap
        x = np.arange(lowest, longest + 1)
        prices[height] = (one[x] + prices[height - x + lap]).min()
        pieces[height] = rest_pieces + 1
    # two pieces may be worth less than one: a lower column then costs no more than a higher one, as which it can hang
    prices = np.minimum.accumulate(prices[::-1])[::-1]
    for array in (prices, pieces):
        array.flags.writeable = False
    return prices, pieces


def _tallest_in(count: int, longest: int, lap: int) -> int:
    """Return the greatest height of a column of so many pieces [ticks]."""
    return count * longest - (count - 1) * lap
