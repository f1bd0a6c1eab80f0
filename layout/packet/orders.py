"""The order of work: what is hung on which day, from the low points up, and which piles that needs.

The plan's install order decides; this only cuts it into days at the crew's rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from layout.packet.piles import piles
from layout.records import MEMBRANE, Drop, Piece, Plan, Schedule
from layout.takeoff.timetable import drops_a_day, timed, timetable

_WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_HOURS = Fraction(8)  # a day of a job without a crew: the job file's default


@dataclass(frozen=True)
class Step:
    """What is hung on one face on one day.

    Parameters
    ----------
    day, on
        The day of work from 1, and its date as text; empty when the job gives no start.
    run, face, layer
        Where.
    drops
        Tags in the order they go on.
    piles
        The piles that are needed.
    """

    day: int
    on: str
    run: str
    face: str
    layer: str
    drops: tuple[str, ...]
    piles: tuple[str, ...]


@dataclass(frozen=True)
class FaceDays:
    """When a face is hung, and by when it must be covered; what the job gives no dates for is empty."""

    run: str
    face: str
    first_day: int
    last_day: int
    hung: str
    cover_by: str
    covered: str
    late: bool


@dataclass(frozen=True)
class Orders:
    """The order of work.

    Parameters
    ----------
    first
        What goes on before the field, in words.
    steps
        The days.
    faces
        When each face is hung and must be covered.
    primer
        How far ahead to prime, in words.
    rate
        Drops a day the days are cut by, in words.
    """

    first: tuple[str, ...]
    steps: tuple[Step, ...]
    faces: tuple[FaceDays, ...]
    primer: str
    rate: str

    def rows(self) -> tuple[tuple[str, ...], ...]:
        """Return the days as rows of text: day, date, run, face, drops, piles; the first row is the heading."""
        listed: list[tuple[str, ...]] = [("day", "date", "run", "face", "hang in this order", "piles")]
        for step in self.steps:
            face = step.face if step.layer == MEMBRANE else f"{step.face} ({step.layer})"
            listed.append((str(step.day), step.on, step.run, face, ", ".join(step.drops), ", ".join(step.piles)))
        return _without_empty(listed)

    def face_rows(self) -> tuple[tuple[str, ...], ...]:
        """Return the faces as rows of text; the first row is the heading."""
        listed: list[tuple[str, ...]] = [("run", "face", "days", "hung", "covered", "cover by")]
        for face in self.faces:
            days = f"{face.first_day}" if face.first_day == face.last_day else f"{face.first_day} to {face.last_day}"
            by = face.cover_by or "as the maker's data sheet says"
            listed.append((face.run, face.face, days, face.hung, face.covered, f"{by}: LATE" if face.late else by))
        return _without_empty(listed)


def _without_empty(table: Sequence[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """Return a table without the columns that have a heading and nothing under it."""
    kept = [column for column in range(len(table[0])) if any(row[column] for row in table[1:]) or len(table) == 1]
    return tuple(tuple(row[column] for column in kept) for row in table)


def orders(plan: Plan) -> Orders:
    """Return the order of work of a plan.

    Parameters
    ----------
    plan
        The plan; its job's ``labour``, ``schedule`` and ``primer`` are used where it has them.

    Notes
    -----
    One crew takes the runs one after the other, each run's membrane and then its further layers, on the days of the
    takeoff's timetable: what has a rate of its own takes its time before the drops, or after them.
    """
    labour, schedule = plan.job.extras.labour, plan.job.extras.schedule
    rate = drops_a_day(plan)
    calendar = Calendar(schedule) if schedule else None
    days: dict[int, list[Drop]] = {}
    hung = timetable(plan).drops
    for drop in _sequence(plan):
        days.setdefault(hung[drop.tag] + 1, []).append(drop)
    steps: list[Step] = []
    for day, drops in days.items():
        steps += _day(plan, drops, day, calendar.work_day(day) if calendar else "")
    said = _besides(plan) if labour else ", as the job gives no crew"
    return Orders(
        first=_first(plan), steps=tuple(steps), faces=_faces(plan, steps), primer=_primer(plan, rate),
        rate=f"{_plain(rate)} drops a day{said}",
    )


def _besides(plan: Plan) -> str:
    """Return what else takes the crew's days, in words."""
    names = timed(plan)
    return f", besides the days for {', '.join(names)}" if names else ""


class Calendar:
    """The working days of a schedule, counted from its start."""

    def __init__(self, schedule: Schedule) -> None:
        self._worked = {_WEEK.index(day) for day in schedule.working_days}
        self._off = set(schedule.holidays)
        self._days: list[date] = []
        self._next = date.fromisoformat(schedule.start)

    def work_day(self, number: int) -> str:
        """Return the date of a day of work, counted from 1."""
        while len(self._days) < number:
            if self._next.weekday() in self._worked and self._next.isoformat() not in self._off:
                self._days.append(self._next)
            self._next += timedelta(days=1)
        return self._days[number - 1].isoformat()


def _plain(number: Fraction) -> str:
    """Return a rate in plain figures, such as 20 or 12.5."""
    return f"{float(number):g}"


def _sequence(plan: Plan) -> list[Drop]:
    """Return every drop in the order one crew hangs them."""
    place = {run.name: i for i, run in enumerate(plan.job.runs)}
    return sorted(plan.drops, key=lambda drop: (place.get(drop.run, len(place)), drop.layer != MEMBRANE, drop.layer,
                                                drop.install, drop.tag))


def _day(plan: Plan, drops: Sequence[Drop], day: int, on: str) -> list[Step]:
    """Return a day's steps: neighbouring drops of one face together."""
    face_of = {piece.drop: piece.face for piece in reversed(plan.pieces) if piece.drop}
    pile_of = piles(plan).by_piece
    groups: list[tuple[tuple[str, str, str], list[Drop]]] = []
    for drop in drops:
        key = (drop.run, face_of.get(drop.tag, ""), drop.layer)
        for group_key, members in groups:
            if group_key == key:
                members.append(drop)
                break
        else:
            groups.append((key, [drop]))
    steps = []
    for (run, face, layer), members in groups:
        needed = dict.fromkeys(pile_of[tag] for drop in members for tag in drop.pieces if tag in pile_of)
        steps.append(Step(day, on, run, face, layer, tuple(drop.tag for drop in members), tuple(needed)))
    return steps


def _first(plan: Plan) -> tuple[str, ...]:
    """Return what goes on before the field, kind by kind, with how many."""
    counts: dict[str, int] = {}
    for piece in plan.pieces:
        if _is_reinforcing(piece):
            counts[piece.kind] = counts.get(piece.kind, 0) + 1
    lines = ["Substrate clean and dry; joints, voids and penetrations filled.", "Primer."]
    lines += [f"{kind}: {count}" for kind, count in counts.items()]
    return tuple(lines)


def _is_reinforcing(piece: Piece) -> bool:
    return not piece.install and not piece.drop


def _faces(plan: Plan, steps: Sequence[Step]) -> tuple[FaceDays, ...]:
    """Return each face's days, with the takeoff's dates where the job gives a start."""
    days: dict[tuple[str, str], list[int]] = {}
    for step in steps:
        if step.layer == MEMBRANE:
            days.setdefault((step.run, step.face), []).append(step.day)
    dates = {(entry.run, entry.face): entry for entry in plan.dates}
    found = []
    for (run, face), worked in days.items():
        entry = dates.get((run, face))
        if entry is None:
            found.append(FaceDays(run, face, worked[0], worked[-1], "", "", "", False))
            continue
        hung = entry.first if entry.first == entry.last else f"{entry.first} to {entry.last}"
        found.append(FaceDays(run, face, worked[0], worked[-1], hung, entry.cover_by, entry.covered, entry.late))
    return tuple(found)


def _primer(plan: Plan, rate: Fraction) -> str:
    """Return how far ahead to prime."""
    primer, labour = plan.job.extras.primer, plan.job.extras.labour
    text = "Prime only what will be covered within the primer's open time; prime again what was left longer."
    if primer and primer.open_time_hours is not None:
        hours = Fraction(labour.hours_per_day) if labour else _HOURS
        ahead = int(rate / hours * Fraction(primer.open_time_hours))
        reach = f"about {ahead} drops" if ahead > 1 else "one drop"
        text += (f" The open time is {primer.open_time_hours.normalize():f} hours: at {_plain(rate)} drops a day prime "
                 f"no more than {reach} ahead.")
    return text + " Ledge and corners first, then the field."
