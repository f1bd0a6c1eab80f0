"""The same walls done several ways, side by side: what each takes, and how it differs from the first."""

from __future__ import annotations

import csv
import io
import json
import multiprocessing
import os
import signal
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from multiprocessing.synchronize import Event

from layout.cautions import Caution, courses_caution
from layout.coursed import Coursed, lay_job
from layout.errors import NoLayout
from layout.packet.areas import areas
from layout.packet.cut_list import safe_cell
from layout.packet.plan_json import FIELD, field_cutting
from layout.pipeline import make_plan, never, quiet
from layout.products import Money
from layout.records import Cutting, Plan
from layout.savings import changes
from layout.scenarios import Scenario
from layout.takeoff.measures import end_laps, seam_lengths
from layout.units import MM_PER_INCH, Unit

FORMAT = "lapwright comparison"
VERSION = 1
ASKS_EVERY = 0.2
"""How often the planning of scenarios is asked whether the user wants it to stop [s]."""

MONEY = ("cost", "bound")
"""Columns that are amounts of money."""

Value = int | bool | Decimal | None


@dataclass(frozen=True)
class Column:
    """One figure of the comparison: its name in files, and its heading on a screen; ``{long}`` and ``{area}`` units."""

    name: str
    heading: str


COLUMNS = (
    Column("rolls", "rolls"), Column("remnants", "remnants"), Column("cost", "cost"), Column("bound", "bound"),
    Column("proven", "proven"), Column("drops", "drops"), Column("courses", "courses"), Column("pieces", "pieces"),
    Column("seam_length", "seams, {long}"), Column("lap_area", "laps, {area}"),
    Column("leftover_kept", "kept, {area}"), Column("scrap", "scrap, {area}"), Column("exceptions", "exceptions"),
)


@dataclass(frozen=True)
class Figures:
    """What one scenario takes of the membrane.

    Parameters
    ----------
    rolls, remnants
        Rolls bought, and remnants used.
    cost
        Of the rolls; None when the sheet has no prices.
    bound, proven
        What no layout and no cutting costs less than (None when nothing is proven), and whether the plan meets it.
    drops, courses, pieces
        How many drops, or horizontal courses of all runs, and pieces cut from the sheet.
    seam_length
        Side laps, or seams between courses, and end laps [feet or metres].
    lap_area, leftover_kept, scrap
        Where the sheet went [square feet or square metres]; laps include the reinforcing cut from the sheet.
    exceptions
        Rules that the plan could not keep.
    currency
        Of cost and bound; empty when the job names none.
    """

    rolls: int
    remnants: int
    cost: Decimal | None
    bound: Decimal | None
    proven: bool
    drops: int
    pieces: int
    seam_length: Decimal
    lap_area: Decimal
    leftover_kept: Decimal
    scrap: Decimal
    exceptions: int
    currency: str = ""
    courses: int = 0

    def value(self, name: str) -> Value:
        """Return one column's figure."""
        found: Value = getattr(self, name)
        return found


@dataclass(frozen=True)
class Row:
    """One scenario: its figures, or why no layout of it is possible."""

    name: str
    figures: Figures | None
    why: str = ""


def figures(plan: Plan, unit: Unit) -> Figures:
    """Return what a plan takes, its lengths and areas as a job in ``unit`` speaks of them."""
    cutting = field_cutting(plan)
    assert cutting is not None
    seams = sum(length for _, length in (*seam_lengths(plan, FIELD), *end_laps(plan, FIELD)))
    return _figures(plan, cutting, unit, seams=seams, courses=0)


def figures_of_courses(coursed: Coursed, unit: Unit) -> Figures:
    """Return what a job in horizontal courses takes, as ``figures`` does; no bound on other ways is known."""
    plan = coursed.plan
    return _figures(plan, plan.cuttings[0], unit, seams=coursed.seam_length, courses=coursed.courses)


def _figures(plan: Plan, cutting: Cutting, unit: Unit, *, seams: int, courses: int) -> Figures:
    own = plan.job.unit
    found = areas(plan, cutting)
    money = plan.job.extras.get("money")
    return Figures(
        rolls=sum(not roll.remnant for roll in cutting.rolls), remnants=sum(roll.remnant for roll in cutting.rolls),
        cost=cutting.cost, bound=plan.cost_bound, proven=plan.optimal,
        drops=sum(drop.layer == FIELD for drop in plan.drops), pieces=sum(len(roll.cuts) for roll in cutting.rolls),
        seam_length=_rounded(seams * own.tick_mm / _long_mm(unit)),
        lap_area=_area(found.laps, own, unit), leftover_kept=_area(found.leftover_kept, own, unit),
        scrap=_area(found.scrap, own, unit), exceptions=len(plan.exceptions),
        currency=money.currency if isinstance(money, Money) else "", courses=courses,
    )


def _long_mm(unit: Unit) -> Fraction:
    """Return the foot or the metre [mm]."""
    return 12 * MM_PER_INCH if unit.name == "in" else Fraction(1000)


def _area(area: Decimal, own: Unit, unit: Unit) -> Decimal:
    return _rounded(Fraction(area) * (_long_mm(own) / _long_mm(unit)) ** 2)


def _rounded(value: Fraction) -> Decimal:
    return (Decimal(value.numerator) / Decimal(value.denominator)).quantize(Decimal("0.1"))


# --- planning side by side ---------------------------------------------------------------------

def compare(
    scenarios: Sequence[Scenario], *, unit: Unit | None = None, workers: int | None = None,
    progress: Callable[[str], None] = quiet, stop: Callable[[], bool] = never,
) -> tuple[Row, ...]:
    """Plan every scenario and return their rows, in the order given whichever is ready first.

    Parameters
    ----------
    scenarios
        The ways to do the job.
    unit
        What lengths and areas are told in; left out, the first scenario's.
    workers
        Processes at work at once; left out, as many as there are cores. One plans in this process.
    progress
        Told how many are ready.
    stop
        Asked now and then; when it says yes, each plan still under way is the best so far, and not called proven.

    Returns
    -------
    tuple of Row
        The same whatever the number of workers.
    """
    unit = unit or scenarios[0].job.unit
    at_once = min(len(scenarios), workers if workers is not None else _cores())
    if at_once > 1:
        return _side_by_side(scenarios, unit, at_once, progress, stop)
    rows: list[Row] = []
    for scenario in scenarios:
        progress(f"planning {scenario.name} ({len(rows) + 1} of {len(scenarios)})")
        rows.append(_row(scenario, unit, stop))
    return tuple(rows)


def compare_rules(
    scenario: Scenario, *, workers: int | None = None, progress: Callable[[str], None] = quiet,
    stop: Callable[[], bool] = never,
) -> tuple[Row, ...]:
    """Plan a job, and every single change of its rules that might take less sheet; parameters as for ``compare``.

    Returns
    -------
    tuple of Row
        The job as it is first. Under a change the drainage board is left out, since the membrane is compared.
    """
    progress(f"planning {scenario.name}")
    plan = make_plan(scenario.job, stop=stop)
    unit = scenario.job.unit
    first = Row(scenario.name, figures(plan, unit))
    tried = [Scenario(change.words, change.job) for change in changes(scenario.job, plan)]
    rest = compare(tried, workers=workers, progress=progress, stop=stop) if tried and not stop() else ()
    return (first, *rest)


def _cores() -> int:
    """Return how many processes can run at once here."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _row(scenario: Scenario, unit: Unit, stop: Callable[[], bool]) -> Row:
    try:
        if scenario.courses:
            return Row(scenario.name, figures_of_courses(lay_job(scenario.job, stop=stop), unit))
        return Row(scenario.name, figures(make_plan(scenario.job, stop=stop), unit))
    except NoLayout as error:
        return Row(scenario.name, None, str(error))


def _side_by_side(
    scenarios: Sequence[Scenario], unit: Unit, workers: int, progress: Callable[[str], None],
    stop: Callable[[], bool],
) -> tuple[Row, ...]:
    """Plan the scenarios in processes of their own, started afresh so that no solver's threads are inherited."""
    context = multiprocessing.get_context("spawn")
    asked = context.Event()
    with ProcessPoolExecutor(workers, mp_context=context, initializer=_begin, initargs=(asked,)) as pool:
        futures = [pool.submit(_row_here, scenario, unit) for scenario in scenarios]
        waiting: set[Future[Row]] = set(futures)
        try:
            while waiting:
                progress(f"planning: {len(futures) - len(waiting)} of {len(futures)} scenarios ready")
                _, waiting = wait(waiting, timeout=ASKS_EVERY, return_when=FIRST_COMPLETED)
                if stop():
                    asked.set()
        except BaseException:
            asked.set()
            pool.shutdown(wait=False, cancel_futures=True)
            raise
        return tuple(future.result() for future in futures)


class _Worker:
    """What a process that plans scenarios was told as it began."""

    asked: Event | None = None


def _begin(asked: Event) -> None:
    """Begin a process: it hears of an early stop from the one that started it, not from the terminal."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _Worker.asked = asked


def _row_here(scenario: Scenario, unit: Unit) -> Row:
    return _row(scenario, unit, _Worker.asked.is_set if _Worker.asked is not None else never)


# --- the table ---------------------------------------------------------------------------------

def difference(row: Row, first: Row, name: str) -> int | Decimal | None:
    """Return by how much a row's figure is more than the first one's; None where that says nothing."""
    if row.figures is None or first.figures is None or row is first:
        return None
    here, there = row.figures.value(name), first.figures.value(name)
    if here is None or there is None or isinstance(here, bool) or isinstance(there, bool):
        return None
    if name in MONEY and row.figures.currency != first.figures.currency:
        return None
    return here - there


def columns_for(rows: Sequence[Row]) -> tuple[Column, ...]:
    """Return the columns worth showing: that of courses only where some way has courses."""
    return tuple(column for column in COLUMNS if column.name != "courses" or courses_in(rows))


def courses_in(rows: Sequence[Row]) -> bool:
    """Tell whether some way to do the job lays horizontal courses."""
    return any(row.figures is not None and row.figures.courses for row in rows)


def one_currency(rows: Sequence[Row]) -> str:
    """Return the currency of every amount; empty when none is named, or not the same for all."""
    named = {row.figures.currency for row in rows if row.figures is not None and row.figures.cost is not None}
    return named.pop() if len(named) == 1 else ""


def headings(unit: Unit, columns: Sequence[Column] = COLUMNS, *, currency: str = "") -> list[str]:
    """Return the headings of the figures, with their units.

    Parameters
    ----------
    unit
        What lengths and areas are told in.
    columns
        The columns shown.
    currency
        Of every amount; left out, each amount names its own.
    """
    long = "ft" if unit.name == "in" else "m"
    return [
        column.heading.format(long=long, area=unit.area_name)
        + (f", {currency}" if currency and column.name in MONEY else "")
        for column in columns
    ]


def cells(row: Row, first: Row, columns: Sequence[Column] = COLUMNS, *, currency: str = "") -> list[str]:
    """Return a row's figures as text, each with its difference from the first row in brackets.

    Parameters
    ----------
    row, first
        The row, and the first one.
    columns, currency
        As for ``headings``.
    """
    if row.figures is None:
        return ["–"] * len(columns)
    written: list[str] = []
    for column in columns:
        value, more = row.figures.value(column.name), difference(row, first, column.name)
        text = _shown(value, column.name)
        if column.name in MONEY and value is not None and not currency:
            text = f"{text} {row.figures.currency}".rstrip()
        written.append(text if more is None else f"{text} ({_signed(more, column.name)})")
    return written


def _shown(value: Value, name: str) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:,.2f}" if name in MONEY else f"{value:,}"


def _signed(more: int | Decimal, name: str) -> str:
    if not more:
        return "="
    return f"{more:+,.2f}" if name in MONEY else f"{more:+,}"


def cautions_for(rows: Sequence[Row]) -> tuple[Caution, ...]:
    """Return what must be said beside a comparison: that courses need more hands, where there are any."""
    return (courses_caution(),) if courses_in(rows) else ()


def comparison_csv(rows: Sequence[Row]) -> str:
    """Return the comparison as CSV: each figure with its difference from the first; no text is taken for a formula."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    names = [part for column in COLUMNS for part in (
        (column.name,) if column.name == "proven" else (column.name, f"{column.name}_difference"))]
    writer.writerow(["scenario", *names, "no_layout", "currency", "caution"])
    for row in rows:
        line = [safe_cell(row.name)]
        for column in COLUMNS:
            line.append(_plain(row.figures.value(column.name) if row.figures else None, column.name))
            if column.name != "proven":
                line.append(_plain(difference(row, rows[0], column.name), column.name))
        currency = row.figures.currency if row.figures else ""
        caution = courses_caution().text if courses_in([row]) else ""
        writer.writerow([*line, safe_cell(row.why), safe_cell(currency), safe_cell(caution)])
    return text.getvalue()


def _plain(value: Value, name: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.2f}" if name in MONEY else str(value)


def comparison_json(rows: Sequence[Row], unit: Unit) -> str:
    """Return the comparison as JSON."""
    return json.dumps({
        "format": FORMAT, "version": VERSION, "unit": unit.name, "length": "ft" if unit.name == "in" else "m",
        "area": "sq ft" if unit.name == "in" else "m2",
        "scenarios": [
            {
                "name": row.name, "no_layout": row.why or None,
                "figures": {column.name: _number(row.figures.value(column.name)) for column in COLUMNS}
                if row.figures else None,
                "difference": {column.name: _number(difference(row, rows[0], column.name)) for column in COLUMNS}
                if row.figures else None,
                "currency": (row.figures.currency if row.figures else "") or None,
            }
            for row in rows
        ],
        "cautions": [{"topic": each.topic, "text": each.text, "rule": each.rule} for each in cautions_for(rows)],
    }, indent=1, ensure_ascii=True) + "\n"


def _number(value: Value) -> int | float | bool | None:
    return float(value) if isinstance(value, Decimal) else value
