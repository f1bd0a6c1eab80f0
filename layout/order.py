"""A line of an order: what is bought, and what is taken from stock."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class OrderLine:
    """One line of the order: what is bought, or taken from stock.

    Parameters
    ----------
    item, size, unit
        What it is, in the words of the takeoff.
    key
        ``membrane``, ``strip`` or ``drainage`` for rolls and remnants; another word for other things.
    need, stock, buy
        How many the job takes, how many of them lie in stock, and how many are bought; need = stock + buy.
    price, cost
        Of one, and of all that are bought; None when unpriced.
    weight_lb
        Of one, where it is known.
    pallets
        Pallets that the bought rolls come on, where the job says how they come.
    needed_by
        The day on which it is first needed on site; empty without a schedule.
    uses
        Tag of the remnant that is used.
    instead
        What will do when this length of roll is not to be had, in words.
    """

    item: str
    key: str
    size: str
    unit: str
    need: int
    stock: int
    buy: int
    price: Decimal | None
    cost: Decimal | None
    weight_lb: Decimal | None = None
    pallets: int | None = None
    needed_by: str = ""
    uses: str = ""
    instead: str = ""
