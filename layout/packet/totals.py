"""Totals as rows of words and figures: what is ordered and where it goes; for the crew without money."""

from __future__ import annotations

from decimal import Decimal

from layout.packet.areas import Areas, areas
from layout.packet.plan_json import FIELD, field_cutting
from layout.packet.waste import BY_AREA, order_by_area
from layout.products import Money
from layout.records import Cutting, Plan

Rows = tuple[tuple[str, str], ...]


def counts(plan: Plan) -> Rows:
    """Return what the whole plan comes to, without money."""
    layers = dict.fromkeys(drop.layer for drop in plan.drops)
    found = [(f"drops, {layer}" if layer != FIELD else "drops",
              str(sum(drop.layer == layer for drop in plan.drops))) for layer in layers]
    found.append(("pieces", str(len(plan.pieces))))
    found.append(("exceptions", str(len(plan.exceptions))))
    return tuple(found)


def _rolls(cutting: Cutting) -> list[tuple[str, str]]:
    used: dict[str, int] = {}
    for roll in cutting.rolls:
        label = "remnants used" if roll.remnant else f"rolls of {roll.stock}"
        used[label] = used.get(label, 0) + 1
    return [(label, str(count)) for label, count in used.items()]


def sheet_rows(plan: Plan, cutting: Cutting) -> Rows:
    """Return what one product comes to without money: rolls, and where the sheet goes."""
    return (*_rolls(cutting), *_where(plan, areas(plan, cutting)))


def product_rows(plan: Plan, cutting: Cutting) -> Rows:
    """Return what one product comes to: rolls, cost, what is proven, where the sheet goes."""
    found = _rolls(cutting)
    if cutting.cost is not None:
        found.append(("cost of rolls", money(cutting.cost, plan)))
        if cutting.bound is not None:
            word = "proven least for these pieces" if cutting.optimal else "no cutting of these pieces costs less than"
            found.append((word, money(cutting.bound, plan)))
    else:
        found.append(("cost of rolls", "no price given"))
    found.append(("rolls, cut as they are hung", str(cutting.first_come)))
    where = areas(plan, cutting)
    by_area = order_by_area(plan, cutting, where) if cutting is field_cutting(plan) else None
    if by_area is not None:
        found.append((f"rolls, {BY_AREA}", by_area.words + (": falls short" if by_area.falls_short else "")))
    return (*found, *_where(plan, where))


def _where(plan: Plan, where: Areas) -> Rows:
    """Return where the sheet goes, with all places, so that what is written adds up."""
    name = plan.job.unit.area_name
    used = [("to cover", where.to_cover), ("laps", where.laps)] if where.to_cover else [("on the wall", where.laps)]
    rest = [("cut away", where.cut_away), ("leftover kept", where.leftover_kept), ("scrap", where.scrap)]
    return tuple((label, f"{value:,} {name}") for label, value in (*used, *rest, ("ordered", where.ordered)))


def money(value: Decimal, plan: Plan) -> str:
    """Return an amount of money with its currency, where the job names one."""
    terms = plan.job.extras.get("money")
    currency = plan.costing.currency if plan.costing else terms.currency if isinstance(terms, Money) else ""
    return f"{value:,.2f} {currency}".rstrip()
