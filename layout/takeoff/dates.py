"""Dates: when each face is hung, by when it must be covered, and whether the plan keeps that."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from layout.records import DRAINAGE, MEMBRANE, FaceDates, Plan, Schedule, Weekday
from layout.takeoff.figures import plain_number
from layout.takeoff.timetable import hung, timetable, untimed

WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def schedule(plan: Plan) -> tuple[FaceDates, ...]:
    """Return the dates of each face; nothing when the job gives no start.

    Parameters
    ----------
    plan
        The plan; its drops go on run by run, in their install order.

    Notes
    -----
    The order of the work and its rates are those of ``timetable``. A face is bare from its first drop to its last
    strip of board, or, with a protection course and no board, to the working day after its run is hung; with neither,
    the plan does not cover it, and ``covered`` is empty.
    """
    dates = plan.job.extras.schedule
    if dates is None:
        return ()
    days = WorkingDays(dates)
    day_of = timetable(plan).drops
    face_of = {piece.drop: piece.face for piece in reversed(plan.pieces) if piece.drop}
    allowed = datetime.timedelta(days=dates.cover_within_days)
    found: list[FaceDates] = []
    for run in plan.job.runs:
        field = hung(plan, run.name, MEMBRANE)
        for face in dict.fromkeys(face_of[drop.tag] for drop in field):
            mine = [day_of[drop.tag] for drop in field if face_of[drop.tag] == face]
            covered = _covered(plan, run.name, face, day_of, face_of, last=max(day_of[drop.tag] for drop in field))
            limit = days.date(min(mine)) + allowed
            found.append(FaceDates(
                run=run.name, face=face, drops=len(mine), first=days.date(min(mine)).isoformat(),
                last=days.date(max(mine)).isoformat(), cover_by=limit.isoformat(),
                covered="" if covered is None else days.date(covered).isoformat(),
                late=days.date(max(mine) if covered is None else covered) > limit,
            ))
    return tuple(found)


def _covered(
    plan: Plan, run: str, face: str, day_of: Mapping[str, int], face_of: dict[str, str], *, last: int,
) -> int | None:
    """Return the working day, counted from 0, on which a face is covered, or None when the plan does not cover it."""
    board = hung(plan, run, DRAINAGE)
    if board:
        mine = [day_of[drop.tag] for drop in board if face_of.get(drop.tag) == face]
        return max(mine or [day_of[drop.tag] for drop in board])
    if plan.job.extras.protection:
        return last + 1
    return None


class WorkingDays:
    """The working days from the start on, counted from 0."""

    def __init__(self, dates: Schedule) -> None:
        self._next = self._working(dates)
        self._known: list[datetime.date] = []

    @staticmethod
    def _working(dates: Schedule) -> Iterator[datetime.date]:
        day = datetime.date.fromisoformat(dates.start)
        while True:
            if WEEKDAYS[day.weekday()] in dates.working_days and day.isoformat() not in dates.holidays:
                yield day
            day += datetime.timedelta(days=1)

    def date(self, number: int) -> datetime.date:
        """Return the date of a working day."""
        while len(self._known) <= number:
            self._known.append(next(self._next))
        return self._known[number]


def needed_by(plan: Plan) -> Mapping[str, str]:
    """Return the date on which each thing is first needed on site, by its key in the job file; nothing without a start.

    The keys are ``sheet``, ``strip``, ``drainage_board``, ``primer``, ``termination_bar``, ``protection``; anything
    else is needed on the first day of work, ``start``.
    """
    dates = plan.job.extras.schedule
    if dates is None:
        return {}
    days = WorkingDays(dates)
    return {key: days.date(day).isoformat() for key, day in timetable(plan).first.items()}


def date_notes(plan: Plan, dates: Sequence[FaceDates]) -> list[str]:
    """Return what must be said about the dates: faces bare too long or never covered, and the primer's open time."""
    notes: list[str] = []
    given = plan.job.extras.schedule
    if given is not None:
        limit = f"{given.cover_within_days} days"
        for face in dates:
            if face.late:
                when = f"is covered on {face.covered}" if face.covered else f"is still being hung on {face.last}"
                notes.append(
                    f"run {face.run}, {face.face}: {when}, after {face.cover_by}, the last of the {limit} that the "
                    "membrane may stay bare; cover it earlier, or hang it later",
                )
        if any(not face.covered for face in dates):
            notes.append(
                f"the job names no drainage board that is laid out and no protection: each face must be covered within "
                f"{limit} of its first drop by other means",
            )
        without = untimed(plan)
        if without:
            notes.append(f"the dates give no time to {', '.join(without)}: labour names no rate a day for them")
    return notes + _primer_note(plan)


def _primer_note(plan: Plan) -> list[str]:
    """Return how many drops can be hung before the primer under them is too old."""
    primer, labour = plan.job.extras.primer, plan.job.extras.labour
    if primer is None or primer.open_time_hours is None or labour is None:
        return []
    ahead = Fraction(labour.drops_per_day) * Fraction(primer.open_time_hours) / Fraction(labour.hours_per_day)
    if primer.open_time_hours >= labour.hours_per_day:
        return []
    count = max(math.floor(ahead), 1)
    return [
        f"{primer.name} stays ready for {plain_number(primer.open_time_hours)} h: at "
        f"{plain_number(labour.drops_per_day)} drops in a day of {plain_number(labour.hours_per_day)} h, prime for no "
        f"more than {count} drops ahead",
    ]
