"""Waste told honestly: what the plan takes against two ways that sheet is usually ordered."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal

from layout.takeoff.areas import Areas, areas, field_cutting, roll_area
from layout.records import Cutting, Plan, Roll
from layout.units import Unit

USUAL_PERCENT = 10
"""What is usually added to the area for laps and waste [per cent]: common practice, no published source."""

BY_AREA = f"by area plus {USUAL_PERCENT} % (common practice)"
"""How such an order is spoken of."""


@dataclass(frozen=True)
class AreaOrder:
    """An order by area: the rolls in words, and whether it is less than the pieces and their laps alone take."""

    words: str
    falls_short: bool


def waste_lines(plan: Plan) -> list[str]:
    """Return what the membrane's rolls are against first-come cutting, and against area plus a usual percentage.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    list of str
        Sentences; none when the plan has no field.

    Notes
    -----
    First-come cutting takes the same pieces in hanging order from one open roll at a time, rolls of one length as far
    as the pieces fit, and leaves remnants on the shelf. Area plus a percentage is counted in whole rolls of the one
    that the plan opens most; it is told when that order is less than the pieces and their laps alone take.
    """
    cutting = field_cutting(plan)
    if cutting is None or not cutting.rolls:
        return []
    return [_first_come(cutting), *_by_area(plan, cutting, areas(plan, cutting))]


def _first_come(cutting: Cutting) -> str:
    counts = Counter(roll.stock for roll in cutting.rolls if not roll.remnant)
    here = [f"{count} x {stock}" for stock, count in counts.items()]
    remnants = sum(roll.remnant for roll in cutting.rolls)
    if remnants:
        here.append(_counted(remnants, "remnant"))
    return (f"cut first come, first served, the same pieces take {_counted(cutting.first_come, 'roll')} of one length; "
            f"this plan opens {', '.join(here)}")


def _by_area(plan: Plan, cutting: Cutting, found: Areas) -> list[str]:
    """Return how an order by area compares; nothing when only remnants are opened."""
    order = order_by_area(plan, cutting, found)
    if order is None:
        return []
    unit = plan.job.unit
    line = (f"{BY_AREA} the order would be {order.words}; this plan buys "
            f"{_area(found.ordered - found.from_remnants, unit)}")
    if order.falls_short:
        hung = found.to_cover + found.laps + found.cut_away
        line += f", and its pieces alone are {_area(hung, unit)}: that order falls short"
    return [line]


def order_by_area(plan: Plan, cutting: Cutting, found: Areas) -> AreaOrder | None:
    """Return what an order by area plus the usual percentage would be; None when only remnants are opened.

    Parameters
    ----------
    plan, cutting
        The plan, and its membrane as it is cut.
    found
        Where that went.
    """
    rolls = [roll for roll in cutting.rolls if not roll.remnant]
    if not rolls:
        return None
    unit = plan.job.unit
    common = _commonest(rolls)
    wanted = found.to_cover * (100 + USUAL_PERCENT) / 100
    count = int((wanted / roll_area(common, unit)).to_integral_value(ROUND_CEILING))
    order = count * roll_area(common, unit)
    hung = found.to_cover + found.laps + found.cut_away
    return AreaOrder(f"{count} x {common.stock}, {_area(order, unit)}", order < hung - found.from_remnants)


def _commonest(rolls: list[Roll]) -> Roll:
    """Return one of the rolls that are opened most, the longest of those opened equally often."""
    counts = Counter(roll.stock for roll in rolls)
    return max(rolls, key=lambda roll: (counts[roll.stock], roll.length))


def _area(value: Decimal, unit: Unit) -> str:
    return f"{value.quantize(Decimal('0.1'), ROUND_HALF_EVEN):,} {unit.area_name}"


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
