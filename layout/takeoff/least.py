"""The least that any layout takes of rolls and drops, worked out from the walls alone."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

from layout.records import Quantity
from layout.takeoff.figures import cents
from layout.takeoff.walls import Measures


def least_lines(measures: Measures) -> list[Quantity]:
    """Return lines of the fewest rolls of the membrane and the fewest drops, at the least they may cost.

    Rolls are counted by the area to cover less all remnants, as if all were the largest and each for the price of the
    cheapest. A line of the takeoff is one length of roll, so the rolls are dealt out evenly over the lengths: one of
    them has at least so many.
    """
    sheet, labour = measures.plan.job.sheet, measures.plan.job.extras.labour
    bare = Fraction(measures.flat) - sum(each.length * each.width for each in sheet.remnants)
    largest = max(each.length * each.width for each in sheet.rolls)
    rolls = math.ceil(max(bare, Fraction()) / (largest * len(sheet.rolls)))
    prices = [each.price for each in sheet.rolls]
    price = min((each for each in prices if each is not None), default=None) if None not in prices else None
    drops = sum(math.ceil(wall.length / sheet.width) for wall in measures.walls)
    rate = labour.per_drop if labour else None
    return [_line("membrane, rolls", "roll", rolls, price), _line("hang drops", "drop", drops, rate)]


def _line(item: str, unit: str, count: int, price: Decimal | None) -> Quantity:
    return Quantity(item, unit, Decimal(count), Decimal(count), "", price,
                    None if price is None else cents(price * count))
