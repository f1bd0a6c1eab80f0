"""Totals as rows of words and figures: what is ordered, where it goes, and what is proven about it."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from layout.counts import counts
from layout.packet.areas import areas
from layout.packet.plan_json import field_cutting
from layout.packet.waste import BY_AREA, order_by_area
from layout.products import Money
from layout.records import Cutting, Plan

Rows = tuple[tuple[str, str], ...]


def totals(plan: Plan) -> Rows:
    """Return what the whole plan comes to."""
    here = counts(plan)
    named = (("drops", here.drops), ("pieces of sheet", here.sheet), ("pieces of reinforcing", here.reinforcing),
             ("pieces of drainage board", here.board), ("spare pieces", here.spare))
    found = [(name, str(count)) for name, count in named if count]
    found.append(("exceptions", str(len(plan.exceptions))))
    if plan.costing is not None:
        found.append(("total of what is priced", money(plan.costing.total, plan)))
        found.append((f"for each {plan.job.unit.area_name.replace('sq ft', 'square foot')}",
                      money(plan.costing.per_area, plan)))
        if plan.costing.unpriced:
            found.append(("without a price", ", ".join(plan.costing.unpriced)))
    return tuple(found)


def product_rows(plan: Plan, cutting: Cutting) -> Rows:
    """Return what one product comes to: rolls, cost, what is proven, where the sheet goes."""
    counts: dict[str, int] = {}
    for roll in cutting.rolls:
        label = "remnants used" if roll.remnant else f"rolls of {roll.stock}"
        counts[label] = counts.get(label, 0) + 1
    found = [(label, str(count)) for label, count in counts.items()]
    if cutting.cost is not None:
        found.append(("cost of rolls", money(cutting.cost, plan)))
        if cutting.bound is not None:
            word = "proven least for these pieces" if cutting.optimal else "no cutting of these pieces costs less than"
            found.append((word, money(cutting.bound, plan)))
    else:
        found.append(("cost of rolls", "no price given"))
    found.append(("rolls, cut as they are hung", str(cutting.first_come)))
    exact = areas(plan, cutting)
    where = exact.told()
    by_area = order_by_area(plan, cutting, exact) if cutting is field_cutting(plan) else None
    if by_area is not None:
        found.append((f"rolls, {BY_AREA}", by_area.words + (": falls short" if by_area.falls_short else "")))
    name = plan.job.unit.area_name
    used = [("to cover", where.to_cover), ("laps", where.laps)] if where.to_cover else [("on the wall", where.laps)]
    rest = [("cut away", where.cut_away), ("leftover kept", where.leftover_kept), ("scrap", where.scrap)]
    whole = [("opened", where.ordered)]
    if where.from_remnants:
        whole += [("bought", where.bought), ("from stock", where.from_remnants)]
    for label, value in (*used, *rest, *whole):
        found.append((label, f"{value:,} {name}"))
    return tuple(found)


def proof(plan: Plan) -> str:
    """Return in one sentence what is proven about the cost of the membrane's rolls; empty when nothing is."""
    if plan.cost_bound is None:
        return ""
    if plan.optimal:
        return f"Proven: no layout that keeps the rules takes rolls for less than {money(plan.cost_bound, plan)}."
    return (f"Proven: no layout that keeps the rules takes rolls for less than {money(plan.cost_bound, plan)}. "
            "That this one is the least has not been proven.")


def money(value: Decimal, plan: Plan) -> str:
    """Return an amount of money with its currency, where the job names one."""
    terms = plan.job.extras.get("money")
    currency = plan.costing.currency if plan.costing else terms.currency if isinstance(terms, Money) else ""
    return f"{value:,.2f} {currency}".rstrip()


def saving_text(saving: Mapping[str, object]) -> str:
    """Return a saving in words: its own text, or its keys and values."""
    text = saving.get("text") or saving.get("words") or saving.get("what")
    return str(text) if text else ", ".join(f"{key}: {value}" for key, value in saving.items())
