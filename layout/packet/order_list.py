"""order.csv: what to buy, by product and length, and what is taken from stock."""

from __future__ import annotations

from collections.abc import Sequence

from layout.packet.cut_list import table_csv
from layout.packet.takeoff_list import figure
from layout.order import OrderLine

COLUMNS = ("item", "size", "unit", "need", "stock", "buy", "price", "cost", "weight_lb", "load_lb", "pallets",
           "needed_by", "uses", "instead")


def order_csv(lines: Sequence[OrderLine]) -> str:
    """Return order.csv; what has no price, weight or date is left blank.

    ``need`` = ``stock`` + ``buy``; ``weight_lb`` is of one and ``load_lb`` of all that are bought.
    """
    return table_csv([order_row(line) for line in lines], COLUMNS)


def order_row(line: OrderLine) -> dict[str, str]:
    """Return one line of an order as text by column."""
    load = None if line.weight_lb is None else line.weight_lb * line.buy
    return {
        "item": line.item, "size": line.size, "unit": line.unit, "need": str(line.need), "stock": str(line.stock),
        "buy": str(line.buy), "price": figure(line.price), "cost": figure(line.cost),
        "weight_lb": figure(line.weight_lb), "load_lb": figure(load),
        "pallets": "" if line.pallets is None else str(line.pallets), "needed_by": line.needed_by, "uses": line.uses,
        "instead": line.instead,
    }
