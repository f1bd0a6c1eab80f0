"""Plan -> takeoff: quantities with their arithmetic, cost, dates, and whether the products go together.

``take_off`` is the stage. Termination bar is cut from bars by the same optimiser as the sheet: ``bar_pieces`` and
``bar_product`` say what is to be cut, and the cutting comes back in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from layout.errors import Fault, JobError
from layout.records import DRAINAGE, Cutting, Job, Plan, Quantity, Wall
from layout.takeoff.coatings import area_lines, primer_lines, sealant_lines
from layout.takeoff.dates import date_notes, needed_by, schedule
from layout.takeoff.edges import bar_lines, bar_pieces, bar_product, channel_lines
from layout.takeoff.fit import fit_checks
from layout.takeoff.labour import consumable_lines, labour_lines
from layout.takeoff.least import least_lines
from layout.takeoff.money import costing, money_lines
from layout.takeoff.order import OnHand, Shortage, order_lines
from layout.takeoff.sheets import piece_lines, roll_lines, weight_lines
from layout.takeoff.timetable import days_of_work
from layout.takeoff.walls import Measures, measured_lines

MOST = 1_000_000_000
"""What one line of the takeoff may come to: its quantity, and its money."""

__all__ = [
    "bar_pieces", "bar_product", "days_of_work", "fit_checks", "needed_by", "order_lines", "refuse_endless", "schedule",
    "take_off",
]


SYSTEM = {
    "primer": "primer", "sealant": "sealant", "termination_bar": "termination bar",
    "drainage_board": "drainage board", "outlet_channel": "outlet channel", "adhesive": "adhesive",
    "protection": "protection", "consumables": "consumables", "labour": "labour",
}
"""What a whole system has, by its key in the job file: what a job does not name of it is not counted."""


def take_off(plan: Plan, *, bars: Cutting | None = None, short: Shortage = {}, on_hand: OnHand = {}) -> Plan:
    """Return the plan with its quantities, cost, dates and the notes that go with them.

    Parameters
    ----------
    plan
        Drops, seams, pieces and rolls, decided.
    bars
        How ``bar_pieces`` are cut from bars; without it each straight part of the edge takes bars of its own.
    short, on_hand
        As for ``order_lines``: what will do when a roll is not to be had, and rolls that lie in stock.

    Raises
    ------
    JobError
        When a line comes to more than ``MOST``, or the work takes too many days.
    """
    measures = Measures(plan)
    lines: list[Quantity] = [
        *measured_lines(measures), *roll_lines(plan), *piece_lines(plan), *primer_lines(measures),
        *sealant_lines(measures), *bar_lines(measures, bars), *channel_lines(measures), *area_lines(measures),
        *consumable_lines(measures, days_of_work(plan)), *labour_lines(measures), *weight_lines(plan),
    ]
    _check_bounded(lines)
    cost = costing(measures, lines)
    sums = money_lines(measures, cost)
    _check_bounded(sums)
    dates = schedule(plan)
    notes = [*plan.notes, *fit_checks(plan.job)[1], *date_notes(plan, dates), *_board_note(plan), *_left_out(plan)]
    counted = replace(
        plan, quantities=(*lines, *sums), costing=cost, dates=dates,
        notes=tuple(dict.fromkeys(notes)),
    )
    return replace(counted, order=order_lines(counted, short=short, on_hand=on_hand))


def refuse_endless(job: Job, walls: Sequence[Wall]) -> None:
    """Refuse, before anything is planned, a job whose takeoff is past its bounds whatever its layout is.

    What is counted are the walls with nothing hung on them: any layout takes at least as much primer, sealant, adhesive
    and protection. Sheet is counted by the area to cover, drops as the fewest side by side. What may be shared, such as
    one bar for two short edges, is left to ``take_off``.

    Parameters
    ----------
    job
        A job that was read and checked.
    walls
        Its walls, developed.

    Raises
    ------
    JobError
        When a line comes to more than ``MOST``.
    """
    measures = Measures(Plan(job, tuple(walls), (), (), (), (), ()))
    _check_bounded([
        *primer_lines(measures), *sealant_lines(measures), *channel_lines(measures), *area_lines(measures),
        *labour_lines(measures), *least_lines(measures),
    ], least=True)


def _check_bounded(lines: Sequence[Quantity], *, least: bool = False) -> None:
    """Raise JobError when a line comes to more than ``MOST``: written and read as a number it would not be exact."""
    got = "at least " if least else ""
    faults = [
        Fault(0, f"takeoff, {line.item}", f"must come to at most {MOST:,}", f"{got}{value:,.2f} {what}",
              "look at its price, and at how much its packages hold")
        for line in lines for what, value in ((line.unit, max(line.net, line.order, key=abs)), ("of money", line.cost))
        if value is not None and abs(value) > MOST
    ]
    if faults:
        raise JobError(faults)


def _board_note(plan: Plan) -> list[str]:
    """Return a note for each run where the board asked for is not laid out."""
    if plan.job.extras.drainage_board is None:
        return []
    laid = {wall.run for wall in plan.walls if wall.layer == DRAINAGE}
    return [
        f"run {run.name}: no drainage board is laid out, since somewhere the ground or an opening leaves it no height"
        for run in plan.job.runs if run.name not in laid
    ]


def _left_out(plan: Plan) -> list[str]:
    """Return a note that names what the job does not, so that nobody takes it for counted."""
    names = [name for key, name in SYSTEM.items() if not getattr(plan.job.extras, key)]
    return [f"not in the takeoff, since the job names none: {', '.join(names)}"] if names else []
