"""Plans the same walls several ways, side by side on the cores, and takes the figures of each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from multiprocessing.synchronize import Event

from layout import processes
from layout.counts import counts
from layout.coursed import Coursed, lay_job
from layout.errors import NoLayout
from layout.takeoff.areas import areas, field_cutting
from layout.integrated import never, quiet
from layout.pipeline import make_plan
from layout.records import MEMBRANE, Cutting, Plan
from layout.savings import changes
from layout.scenarios import Scenario
from layout.takeoff import days_of_work
from layout.takeoff.measures import end_laps, seam_lengths
from layout.units import MM_PER_INCH, Unit

ASKS_EVERY = 0.2
"""How often the planning of scenarios is asked whether the user wants it to stop [s]."""

FigureValue = int | bool | Decimal | None


@dataclass(frozen=True)
class Figures:
    """What one scenario takes.

    Parameters
    ----------
    rolls, remnants
        Rolls of the membrane bought, and remnants of it used.
    cost
        Of those rolls; None when the sheet has no prices.
    bound, proven
        What no layout and no cutting costs less than (None when nothing is proven), and whether the plan meets it.
    drops, courses, pieces_of_sheet, pieces_of_reinforcing
        How many drops, or horizontal courses of all runs, and pieces of either.
    seam_length
        Side laps, or seams between courses, and end laps [feet or metres].
    to_cover, lap_area, cut_away, leftover_kept, scrap
        Where the sheet went [square feet or square metres], told so that they add up to all that is opened; laps
        include the reinforcing cut from the sheet.
    exceptions
        Rules that the plan could not keep.
    currency
        Of all money; empty when the job names none.
    total, labour
        What the whole takeoff comes to as far as it is priced, and the labour in it before markup and tax; None where
        no takeoff is made, as of courses.
    unpriced
        Lines of the takeoff that have no price.
    days
        Working days of the crew; None without a crew.
    """

    rolls: int
    remnants: int
    cost: Decimal | None
    bound: Decimal | None
    proven: bool
    drops: int
    pieces_of_sheet: int
    seam_length: Decimal
    lap_area: Decimal
    leftover_kept: Decimal
    scrap: Decimal
    exceptions: int
    currency: str = ""
    courses: int = 0
    pieces_of_reinforcing: int = 0
    to_cover: Decimal = Decimal(0)
    cut_away: Decimal = Decimal(0)
    total: Decimal | None = None
    labour: Decimal | None = None
    unpriced: int = 0
    days: int | None = None

    def value(self, name: str) -> FigureValue:
        """Return one column's figure."""
        found: FigureValue = getattr(self, name)
        return found


@dataclass(frozen=True)
class Row:
    """One scenario: its figures, or why no layout of it is possible."""

    name: str
    figures: Figures | None
    why: str = ""


def plan_figures(plan: Plan, unit: Unit) -> Figures:
    """Return what a plan takes, its lengths and areas as a job in ``unit`` speaks of them."""
    cutting = field_cutting(plan)
    assert cutting is not None
    seams = sum(length for _, length in (*seam_lengths(plan, MEMBRANE), *end_laps(plan, MEMBRANE)))
    return _figures(plan, cutting, unit, seams=seams, courses=0)


def figures_of_courses(coursed: Coursed, unit: Unit) -> Figures:
    """Return what a job in horizontal courses takes, as ``plan_figures`` does; no bound on other ways is known."""
    plan = coursed.plan
    return _figures(plan, plan.cuttings[0], unit, seams=coursed.seam_length, courses=coursed.courses)


def _figures(plan: Plan, cutting: Cutting, unit: Unit, *, seams: int, courses: int) -> Figures:
    own = plan.job.unit
    found = areas(plan, cutting)
    if own.name == unit.name:
        found = found.told()
    here, costing = counts(plan), plan.costing
    money = plan.job.extras.money
    return Figures(
        rolls=sum(not roll.remnant for roll in cutting.rolls), remnants=sum(roll.remnant for roll in cutting.rolls),
        cost=cutting.cost, bound=plan.cost_bound, proven=plan.optimal,
        drops=here.drops, pieces_of_sheet=here.sheet, pieces_of_reinforcing=here.reinforcing,
        seam_length=_rounded(seams * own.tick_mm / _long_mm(unit)),
        lap_area=_area(found.laps, own, unit), leftover_kept=_area(found.leftover_kept, own, unit),
        scrap=_area(found.scrap, own, unit), exceptions=len(plan.exceptions),
        currency=money.currency if money else "", courses=courses,
        to_cover=_area(found.to_cover, own, unit), cut_away=_area(found.cut_away, own, unit),
        total=costing.total if costing else None,
        labour=costing.labour if costing and any(line.group == "labour" for line in plan.quantities) else None,
        unpriced=len(costing.unpriced) if costing else 0, days=days_of_work(plan) if costing else None,
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
    at_once = min(len(scenarios), workers if workers is not None else processes.cores())
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
        The job as it is first.
    """
    progress(f"planning {scenario.name}")
    plan = make_plan(scenario.job, stop=stop)
    unit = scenario.job.unit
    first = Row(scenario.name, plan_figures(plan, unit))
    # a change is guessed at without the drainage board; what it costs is seen with everything the job has
    tried = [Scenario(change.words, replace(change.job, extras=scenario.job.extras))
             for change in changes(scenario.job, plan)]
    rest = compare(tried, workers=workers, progress=progress, stop=stop) if tried and not stop() else ()
    return (first, *rest)


def _row(scenario: Scenario, unit: Unit, stop: Callable[[], bool]) -> Row:
    try:
        if scenario.courses:
            return Row(scenario.name, figures_of_courses(lay_job(scenario.job, stop=stop), unit))
        return Row(scenario.name, plan_figures(make_plan(scenario.job, stop=stop), unit))
    except NoLayout as error:
        return Row(scenario.name, None, str(error))


def _side_by_side(
    scenarios: Sequence[Scenario], unit: Unit, workers: int, progress: Callable[[str], None],
    stop: Callable[[], bool],
) -> tuple[Row, ...]:
    """Plan the scenarios in processes of their own, which inherit no solver's threads."""
    context = processes.context()
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
    processes.begin()
    _Worker.asked = asked


def _row_here(scenario: Scenario, unit: Unit) -> Row:
    return _row(scenario, unit, _Worker.asked.is_set if _Worker.asked is not None else never)
