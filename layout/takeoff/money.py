"""What it costs as far as it is priced: sums, markup, tax, cost by area, alternates, and what is unpriced."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from layout.products import Money
from layout.records import Costing, Quantity
from layout.takeoff.asked import alternates, asked
from layout.takeoff.figures import area, cents, decimal, plain
from layout.takeoff.walls import Measures


def costing(measures: Measures, lines: Sequence[Quantity]) -> Costing:
    """Return what the job costs: priced materials and labour, markup on both, then tax on everything.

    Parameters
    ----------
    measures
        The plan as measured, for the cost by area and the alternates.
    lines
        Every line of the takeoff but those of money.
    """
    job = measures.plan.job
    money = asked(job, "money", Money)
    markup_rate, tax_rate = (money.markup, money.tax) if money else (Decimal(0), Decimal(0))
    materials = sum((line.cost for line in lines if line.group == "material" and line.cost is not None), Decimal(0))
    labour = sum((line.cost for line in lines if line.group == "labour" and line.cost is not None), Decimal(0))
    markup = cents((materials + labour) * markup_rate / 100)
    tax = cents((materials + labour + markup) * tax_rate / 100)
    total = materials + labour + markup + tax
    covered = area(measures.flat, job.unit)
    return Costing(
        currency=money.currency if money else "", materials=cents(materials), labour=cents(labour), markup=markup,
        tax=tax, total=cents(total), per_area=decimal(Fraction(total) / covered) if covered else Decimal(0),
        unpriced=tuple(dict.fromkeys(
            line.item for line in lines if line.group in ("material", "labour") and line.cost is None)),
        alternates=tuple(
            (each.name, cents(each.add + decimal(Fraction(each.per_area) * covered))) for each in alternates(job)),
    )


def money_lines(measures: Measures, cost: Costing) -> list[Quantity]:
    """Return the lines of money, in the order they are added up."""
    job = measures.plan.job
    money = asked(job, "money", Money)
    unit = cost.currency or "money"
    priced = cost.materials + cost.labour
    without = f"; unpriced and not in it: {', '.join(cost.unpriced)}" if cost.unpriced else ""
    lines = [
        _sum("materials", cost.materials, unit, "every priced line of material"),
        _sum("labour", cost.labour, unit, "every priced line of labour"),
    ]
    if money and money.markup:
        lines.append(_sum("markup", cost.markup, unit, f"{plain(money.markup)} % of {priced}"))
    if money and money.tax:
        lines.append(_sum("tax", cost.tax, unit, f"{plain(money.tax)} % of {priced + cost.markup}"))
    lines.append(_sum("total", cost.total, unit, "materials + labour + markup + tax, as far as priced" + without))
    covered = decimal(area(measures.flat, job.unit))
    lines.append(_sum(f"total a {job.unit.area_name}", cost.per_area, unit,
                      f"{cost.total} / {covered:,} {job.unit.area_name} to cover"))
    for name, adds in cost.alternates:
        lines.append(_sum(f"alternate: {name}", adds, unit, f"total with it {cost.total + adds}"))
    return lines


def _sum(item: str, value: Decimal, unit: str, basis: str) -> Quantity:
    return Quantity(item, unit, value, value, "", None, value, basis, "money")
