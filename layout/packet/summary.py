"""The few lines that say what a plan came to."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from layout.packet.areas import areas
from layout.packet.plan_json import FIELD, field_cutting
from layout.packet.waste import waste_lines
from layout.records import Cutting, Plan
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
    drops = [drop for drop in plan.drops if drop.layer == FIELD]
    pieces = [piece for piece in plan.pieces if piece.kind == "drop" and piece.layer == FIELD]
    lines = [
        f"{plan.job.info.name}: {len(drops)} drops in {len(pieces)} pieces, "
        f"{len(plan.job.runs)} {'run' if len(plan.job.runs) == 1 else 'runs'}",
    ]
    if cutting is not None:
        lines += [_rolls(cutting), _proof(plan, cutting), _waste(plan, cutting), *waste_lines(plan)]
    lines += [
        f"turn-down, run {wall.run}: {tape(wall.turn_down, plan.job.unit)}"
        for wall in plan.walls if wall.layer == FIELD
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
    counts: dict[str, int] = {}
    for roll in cutting.rolls:
        name = "remnants" if roll.remnant else f"rolls of {roll.stock}"
        counts[name] = counts.get(name, 0) + 1
    bought = ", ".join(f"{count} {name}" for name, count in counts.items())
    cost = "" if cutting.cost is None else f" for {_money(cutting.cost)}"
    return f"sheet: {bought}{cost}"


def _proof(plan: Plan, cutting: Cutting) -> str:
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
    found = areas(plan, cutting)
    unit = plan.job.unit.area_name
    return (
        f"of {found.ordered:,} {unit} ordered: {found.to_cover:,} on the wall, {found.laps:,} in laps, "
        f"{found.cut_away:,} cut away, {found.leftover_kept:,} kept, {found.scrap:,} scrap"
    )


def _exception(plan: Plan, number: int) -> str:
    broken = plan.exceptions[number]
    return f"exception: run {broken.run} at {tape(broken.at, plan.job.unit)}: {broken.rule}: {broken.why}"


def _money(amount: Decimal) -> str:
    return f"{amount:,.2f}"
