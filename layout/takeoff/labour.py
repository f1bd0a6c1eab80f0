"""Labour by drop, seam, piece and face, and what wears out."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

from layout.products import Consumable, Labour, Per
from layout.records import Plan, Quantity
from layout.shapes import corners
from layout.takeoff.asked import asked, consumables
from layout.takeoff.figures import area, bought, cents, decimal, long, long_name, plain, several
from layout.takeoff.sheets import product_of
from layout.takeoff.walls import Measures


def labour_lines(measures: Measures) -> list[Quantity]:
    """Return the lines of labour; a rate that the job leaves out is unpriced, not zero."""
    plan, unit = measures.plan, measures.plan.job.unit
    labour = asked(plan.job, "labour", Labour)
    if labour is None:
        return []
    field = sum(drop.layer == "membrane" for drop in plan.drops)
    board = len(plan.drops) - field
    seams = decimal(long(measures.seams + measures.end_laps, unit))
    faces = len(measures.faces)
    hung = f"{several(field, 'drop')} of membrane" + (f" + {board} of drainage board" if board else "")
    return [
        _work("hang drops", "drop", Decimal(field + board), labour.per_drop, hung),
        _work("roll seams", long_name(unit), seams, labour.per_seam, "side laps and end laps of the membrane"),
        _work("cut pieces", "piece", Decimal(len(plan.pieces)), labour.per_piece, "every piece cut, all layers"),
        _work("set up", "face", Decimal(faces), labour.per_setup, f"once for each of {several(faces, 'face')}"),
    ]


def _work(item: str, unit: str, count: Decimal, rate: Decimal | None, basis: str) -> Quantity:
    said = f"{basis}: {plain(count)}" + (", no rate given" if rate is None else f" at {plain(rate)}")
    return Quantity(
        item, unit, count, count, "", rate, None if rate is None else cents(rate * count), said, "labour",
    )


def days_of_work(plan: Plan) -> int | None:
    """Return how many days the drops of all layers take the crew, or None when the job gives no crew."""
    labour = asked(plan.job, "labour", Labour)
    return None if labour is None else math.ceil(Fraction(len(plan.drops)) / Fraction(labour.drops_per_day))


def consumable_lines(measures: Measures) -> list[Quantity]:
    """Return the lines of tools and supplies; one counted by the day needs a crew to know the days."""
    lines: list[Quantity] = []
    for item in consumables(measures.plan.job):
        count, what = _count(measures, item.per)
        if count is None:
            lines.append(Quantity(
                item.item, item.package, Decimal(0), Decimal(0), "", item.price, None,
                f"not counted: {plain(item.quantity)} a day, but the job gives no crew (labour), so no days",
            ))
            continue
        lines.append(bought(
            item.item, unit=item.package, net=count * Fraction(item.quantity) / item.in_package,
            basis=f"{plain(item.quantity)} for {what}" + _packed(item), price=item.price,
            package="" if item.in_package == 1 else f"{item.in_package} a {item.package}",
        ))
    return lines


def _packed(item: Consumable) -> str:
    return "" if item.in_package == 1 else f", {item.in_package} a {item.package}"


def _count(measures: Measures, per: Per) -> tuple[Fraction | None, str]:
    """Return how many of something the job has, and the words for it."""
    plan, unit = measures.plan, measures.plan.job.unit
    if per == "job":
        return Fraction(1), "the job"
    if per == "day":
        days = days_of_work(plan)
        return (None if days is None else Fraction(days)), f"each day, {several(days or 0, 'day')}"
    if per == "area":
        step = 100 if unit.name == "in" else 10
        square = area(measures.surface, unit)
        return square / step, f"each {step} {unit.area_name} of {decimal(square):,}"
    if per == "seam":
        step = 100 if unit.name == "in" else 30
        length = long(measures.seams + measures.end_laps, unit)
        return length / step, f"each {step} {long_name(unit)} of {decimal(length):,} of seam"
    counts = {
        "roll": sum(len(c.rolls) for c in plan.cuttings if product_of(plan, c) == "membrane"),
        "drop": sum(drop.layer == "membrane" for drop in plan.drops), "piece": len(plan.pieces),
        "sleeve": sum(len(face.sleeves) for run in plan.job.runs for face in run.faces),
        "opening": sum(len(face.openings) for run in plan.job.runs for face in run.faces),
        "corner": sum(len(corners(wall)) for wall in measures.walls),
    }
    return Fraction(counts[per]), f"each {per}, {several(counts[per], per)}"
