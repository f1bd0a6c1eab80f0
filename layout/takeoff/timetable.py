"""In what order the crew works and how long each part takes, in working days from the start."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from layout.counts import FIELD_KINDS, SPARE
from layout.errors import Fault, JobError
from layout.records import DRAINAGE, MEMBRANE, Drop, Labour, Piece, Plan
from layout.takeoff.edges import bar_length
from layout.takeoff.figures import area, long
from layout.takeoff.walls import Measures

USUAL_DROPS_A_DAY = 20
"""Drops a crew of three hangs in a day, where the job does not say; common practice."""

MOST_DAYS = 100_000
"""Working days that the work may take."""


@dataclass(frozen=True)
class Timetable:
    """When things are done, in working days from the start, counted from 0.

    Parameters
    ----------
    drops
        The day on which each drop is hung, by its tag; board too.
    first
        The first day on which something is needed, by its key in the job file: ``sheet``, ``strip``, ``primer``,
        ``termination_bar``, ``drainage_board``, ``protection``; ``start`` is day 0.
    days
        Working days in all.
    """

    drops: Mapping[str, int]
    first: Mapping[str, int]
    days: int


def timetable(plan: Plan) -> Timetable:
    """Return when everything is done; raises JobError when it takes longer than ``MOST_DAYS``.

    Notes
    -----
    The crew does one thing after another. A run is primed, then its reinforcing goes on (strips, then collars, covers
    and the like), then its drops in their order, the termination bar, and the drainage board; then comes the next
    run. What the job gives no rate a day for takes no time, but for drops, which have one always, and board, which
    then goes on as fast as drops do.
    """
    labour = plan.job.extras.labour
    measures = Measures(plan)
    now = Fraction(0)
    drops: dict[str, int] = {}
    first: dict[str, int] = {"start": 0}
    for run in plan.job.runs:
        first.setdefault("primer", math.floor(now))
        now += _time(_to_prime(measures, run.name), labour, lambda crew: crew.primer_per_day)
        first.setdefault("strip", math.floor(now))
        first.setdefault("sheet", math.floor(now))
        now += _time(_strip(plan, run.name), labour, lambda crew: crew.strip_per_day)
        now += _time(Fraction(_small(plan, run.name)), labour, lambda crew: crew.small_per_day)
        for drop in hung(plan, run.name, MEMBRANE):
            drops[drop.tag] = math.floor(now)
            now += 1 / drops_a_day(plan)
        bar = _bar(measures, run.name)
        if bar:
            first.setdefault("termination_bar", math.floor(now))
            now += _time(bar, labour, lambda crew: crew.bar_per_day)
        rate = Fraction(labour.board_per_day) if labour and labour.board_per_day else drops_a_day(plan)
        for drop in hung(plan, run.name, DRAINAGE):
            first.setdefault("drainage_board", math.floor(now))
            drops[drop.tag] = math.floor(now)
            now += 1 / rate
        first.setdefault("protection", math.ceil(now))
    if now > MOST_DAYS:
        raise JobError([Fault(0, "labour", f"must let the work end within {MOST_DAYS:,} working days",
                              f"{math.ceil(now):,}", "raise what is done a day")])
    return Timetable(drops, first, math.ceil(now))


def _time(quantity: Fraction, labour: Labour | None, rate: Callable[[Labour], Decimal | None]) -> Fraction:
    """Return how many days a quantity takes; none where no rate is given."""
    a_day = rate(labour) if labour else None
    return quantity / Fraction(a_day) if a_day else Fraction(0)


def drops_a_day(plan: Plan) -> Fraction:
    """Return how many drops the crew hangs in a day."""
    labour = plan.job.extras.labour
    return Fraction(labour.drops_per_day) if labour else Fraction(USUAL_DROPS_A_DAY)


def days_of_work(plan: Plan) -> int | None:
    """Return how many days the work takes the crew, or None when the job gives no crew."""
    return None if plan.job.extras.labour is None else timetable(plan).days


def timed(plan: Plan) -> list[str]:
    """Return the names of work beside the drops that the plan has and that takes time in the dates."""
    return [name for name, rated in _work_beside_drops(plan) if rated]


def untimed(plan: Plan) -> list[str]:
    """Return the names of work that the plan has and that takes no time in the dates for want of a rate."""
    return [name for name, rated in _work_beside_drops(plan) if not rated]


def _work_beside_drops(plan: Plan) -> Iterator[tuple[str, bool]]:
    """Yield the names of work that the plan has beside its drops, and whether the crew has a rate for it."""
    extras, labour = plan.job.extras, plan.job.extras.labour
    strips = [is_strip(kind) for kind in reinforcing_kinds(plan)]
    for name, there, a_day in (
        ("priming", extras.primer is not None, labour.primer_per_day if labour else None),
        ("strips", any(strips), labour.strip_per_day if labour else None),
        ("collars, covers and the like", not all(strips), labour.small_per_day if labour else None),
        ("termination bar", extras.termination_bar is not None, labour.bar_per_day if labour else None),
    ):
        if there:
            yield name, bool(a_day)


def hung(plan: Plan, run: str, layer: str) -> list[Drop]:
    """Return the drops of one layer of a run in install order."""
    return sorted((d for d in plan.drops if d.run == run and d.layer == layer), key=lambda d: (d.install, d.tag))


# --- what there is to do -----------------------------------------------------------------------

def reinforcing_kinds(plan: Plan, run: str | None = None) -> dict[str, list[Piece]]:
    """Return the pieces of reinforcing by kind, whatever kinds the plan has; of one run where it is named."""
    found: dict[str, list[Piece]] = {}
    for piece in plan.pieces:
        if piece.layer == MEMBRANE and piece.kind not in (*FIELD_KINDS, SPARE) and run in (None, piece.run):
            found.setdefault(piece.kind, []).append(piece)
    return found


def is_strip(kind: str) -> bool:
    """Tell whether pieces of a kind go on by length.

    Examples
    --------
    >>> is_strip("corner strip"), is_strip("collar")
    (True, False)
    """
    return kind.endswith("strip")


def dabs_of(plan: Plan) -> tuple[object, ...]:
    """Return the points that no flat sheet holds, where the plan lists them."""
    return tuple(getattr(plan, "dabs", ()))


def _strip(plan: Plan, run: str) -> Fraction:
    """Return the length of a run's strips [feet or metres]."""
    pieces = [piece for kind, found in reinforcing_kinds(plan, run).items() if is_strip(kind) for piece in found]
    return long(sum(piece.length for piece in pieces), plan.job.unit)


def _small(plan: Plan, run: str) -> int:
    """Return how many small pieces of reinforcing a run has."""
    return sum(len(found) for kind, found in reinforcing_kinds(plan, run).items() if not is_strip(kind))


def _to_prime(measures: Measures, run: str) -> Fraction:
    """Return the area of a run that is primed, all coats [square feet or metres]."""
    primer = measures.plan.job.extras.primer
    if primer is None:
        return Fraction(0)
    square = sum(face.area for face in measures.faces if face.run == run)
    square += sum(corner.net for corner in measures.corners if corner.run == run)
    return area(square, measures.plan.job.unit) * primer.coats


def _bar(measures: Measures, run: str) -> Fraction:
    """Return the length of a run's termination bar [feet or metres]; none where the job names no bar."""
    if measures.plan.job.extras.termination_bar is None:
        return Fraction(0)
    return long(bar_length(measures, run), measures.plan.job.unit)
