"""takeoff.csv: everything else that the job needs, one line an item."""

from __future__ import annotations

from decimal import Decimal

from layout.packet.cut_list import table_csv
from layout.records import Plan

COLUMNS = ("item", "net", "order", "unit", "package", "price", "cost", "basis", "group")


def takeoff_csv(plan: Plan) -> str:
    """Return takeoff.csv.

    Parameters
    ----------
    plan
        The plan; its quantities are written as they stand, with what is unpriced left blank, not zero.
    """
    return table_csv([
        {
            "item": quantity.item, "net": figure(quantity.net), "order": figure(quantity.order),
            "unit": quantity.unit, "package": quantity.package, "price": figure(quantity.price),
            "cost": figure(quantity.cost), "basis": quantity.basis,
            "group": quantity.group,
        }
        for quantity in plan.quantities
    ], COLUMNS)


def figure(value: Decimal | None) -> str:
    """Return a number in plain figures, or nothing."""
    return "" if value is None else format(value, "f")
