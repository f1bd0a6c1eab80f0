"""The few lines that say what a plan came to."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from layout.counts import counts
from layout.takeoff.areas import areas, field_cutting
from layout.takeoff.waste import waste_lines
from layout.records import MEMBRANE, Cutting, Plan
from layout.units import tape


def summary_lines(plan: Plan, folder: Path) -> list[str]:
    """Return the plan's summary for the screen: what hangs, what is cut from what, what is proven, what to look at.

    Parameters
    ----------
    plan
        The plan.
    folder
        Where its packet lies.
    """
    cutting = field_cutting(plan)
    found = counts(plan)
    lines = [
        f"{plan.job.info.name}: {found.drops} {'drop' if found.drops == 1 else 'drops'}, {found.words()}, "
        f"{len(plan.job.runs)} {'run' if len(plan.job.runs) == 1 else 'runs'}",
    ]
    if cutting is not None:
        lines += [_rolls(cutting), proof_words(plan), _waste(plan, cutting), *waste_lines(plan)]
    lines += [
        f"turn-down, run {wall.run}: {tape(wall.turn_down, plan.job.unit)}"
        for wall in plan.walls if wall.layer == MEMBRANE
    ]
    lines += [str(saving.get("text", "")) for saving in plan.savings]
    lines += [_exception(plan, number) for number in range(len(plan.exceptions))]
    if plan.costing is not None:
        count = len(plan.costing.unpriced)
        unpriced = f", without {count} unpriced line{'s' if count > 1 else ''}" if count else ""
        total = f"{plan.costing.currency} {plan.costing.total:,.2f}".strip()
        lines.append(f"whole takeoff: {total}{unpriced}")
    return [*lines, f"packet: {folder}"]


def _rolls(cutting: Cutting) -> str:
    found: dict[tuple[str, str], int] = {}
    for roll in cutting.rolls:
        name = ("remnant", "") if roll.remnant else ("roll", f" of {roll.stock}")
        found[name] = found.get(name, 0) + 1
    bought = ", ".join(f"{count} {noun if count == 1 else noun + 's'}{of}" for (noun, of), count in found.items())
    cost = "" if cutting.cost is None else f" for {_money(cutting.cost)}"
    return f"sheet: {bought}{cost}"


def proof_words(plan: Plan) -> str:
    """Return what is proven of the cost of the field's sheet, in one line; nothing where there is none."""
    cutting = field_cutting(plan)
    if cutting is None:
        return ""
    if plan.optimal:
        return "proof: no layout and no cutting of it costs less"
    if plan.cost_bound is not None:
        return f"proof: no layout and no cutting of it costs less than {_money(plan.cost_bound)}"
    if cutting.optimal:
        return "proof: no cutting of these pieces costs less; other layouts were not ruled out"
    if cutting.bound is not None:
        return (
            f"proof: no cutting of these pieces costs less than {_money(cutting.bound)}; "
            "other layouts were not ruled out"
        )
    return "proof: none"


def _waste(plan: Plan, cutting: Cutting) -> str:
    found = areas(plan, cutting).told()
    unit = plan.job.unit.area_name
    parts = f" ({found.bought:,} bought, {found.from_remnants:,} from stock)" if found.from_remnants else " and bought"
    return (
        f"of {found.ordered:,} {unit} opened{parts}: {found.to_cover:,} on the wall, {found.laps:,} in laps, "
        f"{found.cut_away:,} cut away, {found.leftover_kept:,} kept, {found.scrap:,} scrap"
    )


def _exception(plan: Plan, number: int) -> str:
    broken = plan.exceptions[number]
    return f"exception: run {broken.run} at {tape(broken.at, plan.job.unit)}: {broken.rule}: {broken.why}"


def _money(amount: Decimal) -> str:
    return f"{amount:,.2f}"
