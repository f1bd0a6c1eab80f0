"""The takeoff and the order as sheets of the workbook: live sums on numbers, the plan's own figures beside them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal

from xlsxwriter.utility import xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet as Sheet

from layout.packet.order_list import COLUMNS as ORDER_COLUMNS
from layout.packet.sheet_styles import Styles, fit_row, set_page
from layout.order import OrderLine
from layout.records import Alternate, Money, Plan, Quantity

HEAD = 2
"""Row of the headings, counted from 0."""
TAKEOFF = (("item", 30), ("net", 11), ("order", 11), ("unit", 8), ("package", 18), ("price", 11), ("cost", 11),
           ("as planned", 11), ("basis", 60), ("group", 10))
FIGURES = ("net", "order", "price", "cost", "as planned", "need", "stock", "buy", "weight_lb", "load_lb", "pallets")
"""Columns of figures: their headings stand over them on the right."""
WIDTHS = dict(TAKEOFF)
_AT = {name: column for column, (name, _) in enumerate(TAKEOFF)}
GROUPS = {"materials": "material", "labour": "labour"}
"""A sum of the takeoff -> the group of its lines."""


def takeoff_sheet(sheet: Sheet, plan: Plan, styles: Styles) -> None:
    """Write the takeoff.

    Parameters
    ----------
    sheet
        The empty sheet.
    plan
        The plan.
    styles
        Cell formats of the workbook.

    Notes
    -----
    ``cost`` is a formula: order x price, to the cent; sums are of a group; markup and tax take their rate from the
    row's ``order``. Change a price, a rate or an order and everything follows. ``as planned`` is what the plan itself
    worked out, and stays.
    """
    sheet.write_string(0, 0, "Takeoff", styles.title)
    sheet.write_string(1, 0, "Change prices, orders and rates as you like: costs and sums follow; as planned stays.",
                       styles.text)
    for column, (heading, width) in enumerate(TAKEOFF):
        sheet.write_string(HEAD, column, heading, styles.head_right if heading in FIGURES else styles.head)
        sheet.set_column(column, column, width)
    lines = [line for line in plan.quantities if line.group != "money"]
    sums = [line for line in plan.quantities if line.group == "money"]
    first = HEAD + 1
    for at, quantity in enumerate(lines, start=first):
        _line(sheet, at, quantity, styles)
    last = first + len(lines) - 1
    row = _sums(sheet, plan, sums, first, last, styles) if sums else _plain_total(sheet, lines, first, styles)
    sheet.freeze_panes(first, 1)
    set_page(sheet, plan, last_row=row, last_column=len(TAKEOFF) - 1, heads=HEAD)


def _cell(row: int, name: str) -> str:
    return str(xl_rowcol_to_cell(row, _AT[name]))


def _line(sheet: Sheet, at: int, quantity: Quantity, styles: Styles) -> None:
    for name, text in (("item", quantity.item), ("unit", quantity.unit), ("package", quantity.package),
                       ("basis", quantity.basis), ("group", quantity.group)):
        sheet.write_string(at, _AT[name], text, styles.beside if name in ("unit", "basis") else styles.wrap)
    fit_row(sheet, at, ((text, WIDTHS[name]) for name, text in (
        ("item", quantity.item), ("package", quantity.package), ("basis", quantity.basis))))
    sheet.write_number(at, _AT["net"], float(quantity.net), styles.figure(quantity.net))
    sheet.write_number(at, _AT["order"], float(quantity.order), styles.figure(quantity.order))
    if quantity.price is not None:
        sheet.write_number(at, _AT["price"], float(quantity.price), styles.money)
    if quantity.group in GROUPS.values():
        price, order = _cell(at, "price"), _cell(at, "order")
        cost: float | str = "" if quantity.cost is None else float(quantity.cost)
        sheet.write_formula(at, _AT["cost"], f'=IF({price}="","",ROUND({order}*{price},2))', styles.money, cost)
    if quantity.cost is not None:
        sheet.write_number(at, _AT["as planned"], float(quantity.cost), styles.money)


def _plain_total(sheet: Sheet, lines: Sequence[Quantity], first: int, styles: Styles) -> int:
    """Write one sum of all costs, for a plan that has no money lines."""
    total = first + len(lines)
    sheet.write_string(total, 0, "total of what is priced", styles.total_head)
    if lines:
        priced = sum((line.cost for line in lines if line.cost is not None), Decimal(0))
        sheet.write_formula(total, _AT["cost"], f"=SUM({_cell(first, 'cost')}:{_cell(total - 1, 'cost')})",
                            styles.total_money, float(priced))
    return total


def _sums(sheet: Sheet, plan: Plan, sums: Sequence[Quantity], first: int, last: int, styles: Styles) -> int:
    """Write the sums of money, each by its own formula, and return the last row."""
    rows = {line.item: last + 1 + place for place, line in enumerate(sums)}
    terms = plan.job.extras.money
    per_area = f"total a {plan.job.unit.area_name}"
    extra = {f"alternate: {each.name}": each for each in plan.job.extras.alternates}
    for line in sums:
        at = rows[line.item]
        bold = line.item == "total"
        sheet.write_string(at, _AT["item"], line.item, styles.total_head if bold else styles.wrap)
        for name, text in (("unit", line.unit), ("basis", line.basis), ("group", line.group)):
            sheet.write_string(at, _AT[name], text, styles.wrap if name == "group" else styles.beside)
        fit_row(sheet, at, ((line.item, WIDTHS["item"]), (line.basis, WIDTHS["basis"])))
        if line.item in GROUPS:
            formula = _of_group(GROUPS[line.item], first, last)
        elif line.item in ("markup", "tax") and terms is not None:
            formula = _percentage(sheet, at, terms, line.item, rows, styles)
        elif bold:
            formula = "=" + "+".join(_cell(rows[name], "cost") for name in ("materials", "labour", "markup", "tax")
                                     if name in rows)
        elif line.item == per_area:
            covered = _cell(first, "net")
            formula = f"=IF({covered}=0,0,ROUND({_cell(rows['total'], 'cost')}/{covered},2))"
        else:
            formula = _alternate(sheet, at, extra[line.item], first, styles)
        sheet.write_formula(at, _AT["cost"], formula, styles.total_money if bold else styles.money,
                            float(line.cost or 0))
        sheet.write_number(at, _AT["as planned"], float(line.cost or 0), styles.money)
    return last + len(sums)


def _of_group(group: str, first: int, last: int) -> str:
    costs = f"{_cell(first, 'cost')}:{_cell(last, 'cost')}"
    groups = f"{_cell(first, 'group')}:{_cell(last, 'group')}"
    return f'=SUMIF({groups},"{group}",{costs})'


def _percentage(sheet: Sheet, at: int, terms: Money, name: str, rows: dict[str, int], styles: Styles) -> str:
    """Write the rate of markup or tax where it can be changed, and return its formula."""
    rate = terms.markup if name == "markup" else terms.tax
    on = terms.markup_on if name == "markup" else terms.tax_on
    sheet.write_number(at, _AT["order"], float(rate), styles.money)
    sheet.write_string(at, _AT["unit"], "%", styles.beside)
    cells = "+".join(_cell(rows[each], "cost") for each in on if each in rows)
    return f"=ROUND(({cells or 0})*{_cell(at, 'order')}/100,2)"


def _alternate(sheet: Sheet, at: int, option: Alternate, first: int, styles: Styles) -> str:
    """Write what an alternate adds, whole and by the area, and return its formula."""
    sheet.write_number(at, _AT["order"], float(option.add), styles.money)
    sheet.write_number(at, _AT["price"], float(option.per_area), styles.money)
    by_area = f"ROUND({_cell(at, 'price')}*{_cell(first, 'net')},2)"
    return f"=ROUND({_cell(at, 'order')}+{by_area},2)"


# --- the order ---------------------------------------------------------------------------------

_WIDE = {"item": 32, "size": 20, "instead": 44, "uses": 12, "needed_by": 12}


def order_sheet(sheet: Sheet, plan: Plan, styles: Styles) -> None:
    """Write the order: need, what stock gives, what is bought, at what cost and weight; parameters as for the takeoff.

    ``buy`` is need less stock and ``cost`` is buy x price, so that stock found later can be entered.
    """
    write_order(sheet, plan.order, styles, title="Order")
    last = HEAD + 1 + len(plan.order)
    set_page(sheet, plan, last_row=last, last_column=len(ORDER_COLUMNS), heads=HEAD)


def write_order(sheet: Sheet, lines: Sequence[OrderLine], styles: Styles, *, title: str) -> None:
    """Write the lines of an order with their sums."""
    sheet.write_string(0, 0, title, styles.title)
    names = [*ORDER_COLUMNS, "as planned"]
    at = {name: column for column, name in enumerate(names)}
    for name, column in at.items():
        sheet.write_string(HEAD, column, name.replace("_", " "), styles.head_right if name in FIGURES else styles.head)
        sheet.set_column(column, column, _WIDE.get(name, 10))
    first = HEAD + 1

    def cell(row: int, name: str) -> str:
        return str(xl_rowcol_to_cell(row, at[name]))

    for row, line in enumerate(lines, start=first):
        for name in ("item", "size", "unit", "needed_by", "uses", "instead"):
            style = styles.beside if name == "needed_by" else styles.wrap
            sheet.write_string(row, at[name], getattr(line, name), style)
        fit_row(sheet, row, ((getattr(line, name), _WIDE[name]) for name in ("item", "size", "uses", "instead")))
        sheet.write_number(row, at["need"], line.need, styles.whole)
        sheet.write_number(row, at["stock"], line.stock, styles.whole)
        sheet.write_formula(row, at["buy"], f"={cell(row, 'need')}-{cell(row, 'stock')}", styles.whole, line.buy)
        if line.price is not None:
            sheet.write_number(row, at["price"], float(line.price), styles.money)
        if line.weight_lb is not None:
            sheet.write_number(row, at["weight_lb"], float(line.weight_lb), styles.figure(line.weight_lb))
        if line.pallets is not None:
            sheet.write_number(row, at["pallets"], line.pallets, styles.whole)
        if line.cost is not None:
            sheet.write_number(row, at["as planned"], float(line.cost), styles.money)
        price, buy, weight = cell(row, "price"), cell(row, "buy"), cell(row, "weight_lb")
        cost: float | str = "" if line.cost is None else float(line.cost)
        sheet.write_formula(row, at["cost"], f'=IF({price}="","",ROUND({buy}*{price},2))', styles.money, cost)
        weighed = styles.figure(line.weight_lb or Decimal(0))
        load: float | str = "" if line.weight_lb is None else float(line.weight_lb * line.buy)
        sheet.write_formula(row, at["load_lb"], f'=IF({weight}="","",{buy}*{weight})', weighed, load)
    total = first + len(lines)
    sheet.write_string(total, 0, "total of what is priced and weighed", styles.total_head)
    if lines:
        parts: tuple[tuple[str, Callable[[OrderLine], Decimal], object], ...] = (
            ("cost", lambda line: line.cost or Decimal(0), styles.total_money),
            ("load_lb", lambda line: (line.weight_lb or Decimal(0)) * line.buy, styles.total_money),
            ("pallets", lambda line: Decimal(line.pallets or 0), styles.total_whole))
        for name, value, form in parts:
            if name == "pallets" and all(line.pallets is None for line in lines):
                continue  # not known, which is not none
            sheet.write_formula(total, at[name], f"=SUM({cell(first, name)}:{cell(total - 1, name)})", form,
                                float(sum((value(line) for line in lines), Decimal(0))))
    sheet.freeze_panes(first, 1)
