"""83x: the takeoff's own figures, worked again: costs, sums, counts, weights, and the order."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Any

from layout.audit.asked import Asked, ProfilePoints
from layout.audit.coverage import FIELD
from layout.audit.findings import Findings
from layout.audit.written import Written, WrittenPiece

JsonRow = Mapping[str, Any]
CENT, TENTH = Decimal("0.01"), Decimal("0.1")
COVER = "wall, ledge and footing face to cover"
NAMES = {"drop": "pieces of sheet", "course": "pieces of sheet"}
"""What the takeoff calls pieces of a kind, where it is not by the kind."""
LOOSE = Decimal("0.11")
"""What an area or a length told to a tenth or hundredth may differ from one worked again [feet, metres or squares]."""


def row_figure(row: JsonRow, key: str) -> Decimal | None:
    """Return a figure of a row as it is written; None when there is none."""
    value = row.get(key)
    if isinstance(value, bool) or not isinstance(value, (int, float, Decimal)):
        return None
    try:
        return Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
    except InvalidOperation:
        return None


def cents(value: Decimal) -> Decimal:
    """Return money to the hundredth, halves up."""
    return value.quantize(CENT, ROUND_HALF_UP)


def check_bill(plan: Written, asked: Asked, book: Findings) -> None:
    """Work every line of the takeoff again as far as the plan tells it, then the sums, then the order."""
    _check_costs(plan, book)
    _check_counts(plan, book)
    _check_rolls(plan, book)
    _check_measures(plan, asked, book)
    _check_money(plan, asked, book)
    if plan.order is not None:
        _check_order(plan, book)


def _place(index: int, row: JsonRow) -> str:
    return f"takeoff, line {index}, {str(row.get('item', ''))[:60]}"


def _check_costs(plan: Written, book: Findings) -> None:
    for index, row in enumerate(plan.takeoff, start=1):
        group = row.get("group")
        net, order, price, cost = (row_figure(row, key) for key in ("net", "order", "price", "cost"))
        if group in ("material", "labour"):
            worked = None if price is None or order is None else cents(price * order)
            if worked != cost and not (worked is not None and cost is not None and abs(worked - cost) < CENT / 2):
                book.note(830, _place(index, row), _said(worked), _said(cost))
            if net is not None and order is not None and order < net and row.get("unit") != "remnant":
                book.note(831, _place(index, row), f"at least {net}", str(order))
            if group == "material" and order is not None and order != order.to_integral_value():
                book.note(831, _place(index, row), "whole packages", str(order))
        elif group != "money" and (price is not None or cost is not None):
            book.note(830, _place(index, row), "no cost on a line that is not bought", _said(cost))


def _said(value: Decimal | None) -> str:
    return "nothing" if value is None else str(value)


def _check_counts(plan: Written, book: Findings) -> None:
    """Hold the lines of pieces and of labour by count against the plan's pieces and drops."""
    found = Counter(_name(piece) for piece in plan.pieces if piece.kind != "spare")
    lines: Counter[str] = Counter()
    for row in plan.takeoff:
        if row.get("group") == "piece":
            lines[str(row.get("item"))] += int(row_figure(row, "order") or 0)
    if plan.takeoff and lines:
        for item in sorted(set(found) | set(lines)):
            if found[item] != lines[item] and not (item == "spare"):
                book.note(833, f"takeoff, {item}", str(found[item]), str(lines[item]))
    counted = {"hang drops": sum(drop.layer == FIELD for drop in plan.drops), "cut pieces": len(plan.pieces)}
    for kind, count in found.items():
        counted[f"put on: {kind}"] = count
    for index, row in enumerate(plan.takeoff, start=1):
        item = str(row.get("item"))
        if row.get("group") == "labour" and item in counted and row.get("unit") in ("drop", "piece", "each"):
            if row_figure(row, "order") != counted[item]:
                book.note(833, _place(index, row), str(counted[item]), _said(row_figure(row, "order")))


def _name(piece: WrittenPiece) -> str:
    return "pieces of drainage board" if piece.layer not in (FIELD, "spare") else NAMES.get(piece.kind, piece.kind)


def _check_rolls(plan: Written, book: Findings) -> None:
    """Hold the lines of rolls against the rolls of the plan: how many of each length at each price."""
    bought = Counter((roll.stock, roll.price) for roll in plan.rolls if not roll.remnant)
    lines: Counter[tuple[str, Decimal | None]] = Counter()
    for row in plan.takeoff:
        if row.get("unit") == "roll" and row.get("group") == "material":
            stock = str(row.get("item", "")).rpartition(", roll ")[2]
            lines[stock, row_figure(row, "price")] += int(row_figure(row, "order") or 0)
    if not plan.takeoff:
        return
    for stock, price in sorted(set(bought) | set(lines), key=str):
        if bought[stock, price] != lines[stock, price]:
            book.note(833, f"takeoff, rolls of {stock}", str(bought[stock, price]), str(lines[stock, price]))


def _check_measures(plan: Written, asked: Asked, book: Findings) -> None:
    """Hold what is measured against the walls as the job gives them, as far as it needs no layout."""
    inch = asked.unit.name == "in"
    long = Decimal(12 * asked.unit.ticks if inch else 1000)
    joint = Decimal(math.fsum(_length(face.footing) for run in asked.runs for face in run.faces)) / long
    worked = {COVER: plan.summary.area.get("to_cover"), "wall/footing joint": joint}
    for index, row in enumerate(plan.takeoff, start=1):
        needed = worked.get(str(row.get("item")))
        found = row_figure(row, "net")
        if row.get("group") == "measured" and needed is not None and found is not None:
            if abs(needed - found) > LOOSE:
                book.note(833, _place(index, row), f"{needed:.2f}", str(found))


def _length(points: ProfilePoints) -> float:
    """Return the length of a profile, its steps left out."""
    return math.fsum(math.dist(a, b) for a, b in zip(points, points[1:]) if a[0] < b[0])


# --- money -------------------------------------------------------------------------------------

def _check_money(plan: Written, asked: Asked, book: Findings) -> None:
    """Work the sums again from the lines and the job's own terms."""
    if plan.costing is None:
        return
    sums = {str(row.get("item")): row_figure(row, "cost") for row in plan.takeoff if row.get("group") == "money"}
    for name, needed in worked_sums(plan, asked):
        key = "per_area" if name.startswith("total a ") else name
        told = ((f"costing.{key}", row_figure(plan.costing, key)), (f"takeoff, {name}", sums.get(name)))
        for place, found in told:
            absent = place.startswith("takeoff") and name not in sums and not needed
            if not absent and (found is None or abs(found - needed) >= CENT / 2):
                book.note(832, place, str(needed), _said(found))


def worked_sums(plan: Written, asked: Asked) -> Iterator[tuple[str, Decimal]]:
    """Yield (name, amount) of every sum of money, from the lines and the job's own terms."""
    terms = asked.job.get("money") or {}
    groups = {
        name: sum((row_figure(row, "cost") or Decimal(0) for row in plan.takeoff if row.get("group") == group),
                  Decimal(0))
        for name, group in (("materials", "material"), ("labour", "labour"))
    }
    rate = {name: Decimal(str(terms.get(name) or 0)) for name in ("markup", "tax")}
    on = terms.get("markup_on")
    marked = groups if on is None else {name: groups[name] for name in on}
    groups["markup"] = cents(sum(marked.values(), Decimal(0)) * rate["markup"] / 100)
    on = terms.get("tax_on")
    taxed = groups if on is None else {name: groups[name] for name in on}
    tax = cents(sum(taxed.values(), Decimal(0)) * rate["tax"] / 100)
    total = sum(groups.values(), Decimal(0)) + tax
    yield from ((name, cents(value)) for name, value in groups.items())
    yield "tax", tax
    yield "total", cents(total)
    covered = next((row_figure(row, "net") for row in plan.takeoff if row.get("item") == COVER), None)
    if covered:
        yield f"total a {asked.unit.area_name}", cents(total / covered)


# --- the order ---------------------------------------------------------------------------------

def _check_order(plan: Written, book: Findings) -> None:
    """Hold the order against the takeoff: everything bought once, and need = stock + buy on each line."""
    assert plan.order is not None
    needed: Counter[str] = Counter()
    for row in plan.takeoff:
        if row.get("group") == "material":
            item, sort = str(row.get("item", "")), str(row.get("unit"))
            if sort in ("roll", "remnant"):
                item = item.rpartition(f", {sort} ")[0]
            needed[item] += 1 if sort == "remnant" else int(row_figure(row, "order") or 0)
    listed: Counter[str] = Counter()
    for index, row in enumerate(plan.order, start=1):
        place = f"order, line {index}, {str(row.get('item', ''))[:60]}"
        need, stock, buy = (row_figure(row, key) or Decimal(0) for key in ("need", "stock", "buy"))
        price, cost = row_figure(row, "price"), row_figure(row, "cost")
        listed[str(row.get("item"))] += int(need)
        if need != stock + buy or min(need, stock, buy) < 0:
            book.note(834, place, f"need {need} = stock + buy", f"{stock} + {buy}")
        worked = None if price is None else cents(price * buy)
        if worked != cost and not (worked is not None and cost is not None and abs(worked - cost) < CENT / 2):
            book.note(830, place, _said(worked), _said(cost))
    for item in sorted(set(needed) | set(listed)):
        if needed[item] != listed[item]:
            book.note(834, f"order, {item}", str(needed[item]), str(listed[item]))
