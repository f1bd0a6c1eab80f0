"""Totals as rows of words and figures: what is ordered and where it goes; for the crew without money."""

from __future__ import annotations

from decimal import Decimal

from layout.counts import counts
from layout.takeoff.areas import Areas, areas
from layout.records import Cutting, Plan

Rows = tuple[tuple[str, str], ...]


def plan_rows(plan: Plan) -> Rows:
    """Return what the whole plan comes to, without money."""
    here = counts(plan)
    named = (("drops", here.drops), ("pieces of sheet", here.sheet), ("pieces of reinforcing", here.reinforcing),
             ("pieces of drainage board", here.board), ("spare pieces", here.spare))
    found = [(name, str(count)) for name, count in named if count]
    return (*found, ("exceptions", str(len(plan.exceptions))))


def _rolls(cutting: Cutting) -> list[tuple[str, str]]:
    used: dict[str, int] = {}
    for roll in cutting.rolls:
        label = "remnants used" if roll.remnant else f"rolls of {roll.stock}"
        used[label] = used.get(label, 0) + 1
    return [(label, str(count)) for label, count in used.items()]


def sheet_rows(plan: Plan, cutting: Cutting) -> Rows:
    """Return what one product comes to without money: rolls, and where the sheet goes."""
    return (*_rolls(cutting), *_where(plan, areas(plan, cutting)))


def _where(plan: Plan, exact: Areas) -> Rows:
    """Return where the sheet goes, to a tenth, so that what is told adds up."""
    name, where = plan.job.unit.area_name, exact.told()
    used = [("to cover", where.to_cover), ("laps", where.laps)] if where.to_cover else [("on the wall", where.laps)]
    rest = [("cut away", where.cut_away), ("leftover kept", where.leftover_kept), ("scrap", where.scrap)]
    whole = [("opened", where.ordered)]
    if where.from_remnants:
        whole += [("bought", where.bought), ("from stock", where.from_remnants)]
    return tuple((label, f"{value:,} {name}") for label, value in (*used, *rest, *whole))


def money(value: Decimal, plan: Plan) -> str:
    """Return an amount of money with its currency, where the job names one."""
    terms = plan.job.extras.money
    currency = plan.costing.currency if plan.costing else terms.currency if terms else ""
    return f"{value:,.2f} {currency}".rstrip()
