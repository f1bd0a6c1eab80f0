"""Tall columns: where a drop is split into an upper and a lower piece."""

from __future__ import annotations

import numpy as np

from layout.drops.prices import PriceTable

Box = tuple[int, int]
"""Top and bottom of one piece [ticks]."""


def split_column(top: int, bottom: int, table: PriceTable, *, raised: bool) -> list[Box]:
    """Split a column into the fewest pieces at the least price, upper pieces lapping over lower ones.

    Parameters
    ----------
    top, bottom
        Of the column [ticks].
    table
        Prices and limits.
    raised
        Of equally good splits take the one with the joint highest, else the one lowest: neighbours differ.

    Returns
    -------
    list
        The pieces top to bottom.
    """
    height = top - bottom
    if height <= table.longest:
        return [(top, bottom)]
    sizes = np.arange(table.end_lap + 1, min(table.longest, height - 1) + 1)
    rest = height - sizes + table.end_lap
    fits = table.pieces[rest] == table.pieces[height] - 1
    sizes, rest = sizes[fits], rest[fits]
    totals = table.piece_price[sizes] + table.price[rest]
    best = np.flatnonzero(totals == totals.min())
    size = int(sizes[best[-1 if raised else 0]])
    lowest = (bottom + size, bottom)
    return [*split_column(top, bottom + size - table.end_lap, table, raised=raised), lowest]
