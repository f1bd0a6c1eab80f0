"""What it costs as far as it is priced: sums, markup, tax, cost by area, alternates, and what is unpriced."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from layout.records import Costing, Job, Money, Quantity
from layout.takeoff.figures import cents, decimal, plain_number, told_area
from layout.takeoff.walls import Measures


def costing(measures: Measures, lines: Sequence[Quantity]) -> Costing:
    """Return what the job costs: priced materials and labour, markup, then tax, each on the groups the job names.

    Parameters
    ----------
    measures
        The plan as measured, for the cost by area and the alternates.
    lines
        Every line of the takeoff but those of money.
    """
    job = measures.plan.job
    groups = {
        "materials": sum((line.cost for line in lines if line.group == "material" and line.cost), Decimal(0)),
        "labour": sum((line.cost for line in lines if line.group == "labour" and line.cost), Decimal(0)),
    }
    terms = terms_of(job)
    markup = cents(sum((groups[name] for name in terms.markup_on), Decimal(0)) * terms.markup / 100)
    groups["markup"] = markup
    tax = cents(sum((groups[name] for name in terms.tax_on), Decimal(0)) * terms.tax / 100)
    total = groups["materials"] + groups["labour"] + markup + tax
    covered = told_area(measures.flat, job.unit)
    return Costing(
        currency=terms.currency, materials=cents(groups["materials"]), labour=cents(groups["labour"]), markup=markup,
        tax=tax, total=cents(total), per_area=decimal(Fraction(total) / Fraction(covered)) if covered else Decimal(0),
        unpriced=tuple(dict.fromkeys(
            line.item for line in lines if line.group in ("material", "labour") and line.cost is None)),
        alternates=tuple(
            (each.name, cents(each.add + decimal(Fraction(each.per_area) * Fraction(covered))))
            for each in job.extras.alternates),
    )


def terms_of(job: Job) -> Money:
    """Return the job's markup and tax; none at all where it names none."""
    return job.extras.money or Money("", Decimal(0), Decimal(0))


def money_lines(measures: Measures, cost: Costing) -> list[Quantity]:
    """Return the lines of money, in the order they are added up."""
    job = measures.plan.job
    money = terms_of(job)
    unit = cost.currency or "money"
    groups = {"materials": cost.materials, "labour": cost.labour, "markup": cost.markup}
    without = f"; unpriced and not in it: {', '.join(cost.unpriced)}" if cost.unpriced else ""
    lines = [
        _sum("materials", cost.materials, unit, "every priced line of material"),
        _sum("labour", cost.labour, unit, "every priced line of labour"),
    ]
    if money.markup:
        lines.append(_sum("markup", cost.markup, unit, _share(money.markup, money.markup_on, groups)))
    if money.tax:
        lines.append(_sum("tax", cost.tax, unit, _share(money.tax, money.tax_on, groups)))
    lines.append(_sum("total", cost.total, unit, "materials + labour + markup + tax, as far as priced" + without))
    covered = told_area(measures.flat, job.unit)
    lines.append(_sum(f"total a {job.unit.area_name}", cost.per_area, unit,
                      f"{cost.total} / {covered:,} {job.unit.area_name} to cover"))
    for name, adds in cost.alternates:
        lines.append(_sum(f"alternate: {name}", adds, unit, f"total with it {cost.total + adds}"))
    return lines


def _share(rate: Decimal, on: Sequence[str], groups: Mapping[str, Decimal]) -> str:
    """Return the words of a percentage of some groups."""
    named = [name for name in groups if name in on and (name != "markup" or groups[name])]
    base = sum((groups[name] for name in named), Decimal(0))
    return f"{plain_number(rate)} % of {base}" + (f": {' + '.join(named)}" if named else "")


def _sum(item: str, value: Decimal, unit: str, basis: str) -> Quantity:
    return Quantity(item, unit, value, value, "", None, value, basis, "money")
