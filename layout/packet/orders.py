"""The order of work: what is hung on which day, from the low points up, and which piles that needs.

The plan's install order decides; this only cuts it into days at the crew's rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from layout.packet.piles import piles
from layout.products import Labour, Primer, Schedule
from layout.records import Drop, Piece, Plan

_WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_RATE, _HOURS = Fraction(20), Fraction(8)  # what a job without a crew is planned at: the job file's defaults


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
    """When a face is hung, and by when it must be covered; dates are empty when the job gives no start."""

    run: str
    face: str
    first_day: int
    last_day: int
    hung_from: str
    cover_by: str
    cover_within_days: int | None


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
            face = step.face if step.layer == "membrane" else f"{step.face} ({step.layer})"
            listed.append((str(step.day), step.on, step.run, face, ", ".join(step.drops), ", ".join(step.piles)))
        return _without_empty(listed)

    def face_rows(self) -> tuple[tuple[str, ...], ...]:
        """Return the faces as rows of text: run, face, days, hung from, cover by; the first row is the heading."""
        listed: list[tuple[str, ...]] = [("run", "face", "days", "hung from", "cover by")]
        for face in self.faces:
            days = f"{face.first_day}" if face.first_day == face.last_day else f"{face.first_day} to {face.last_day}"
            by = face.cover_by or (f"{face.cover_within_days} days after it is hung" if face.cover_within_days
                                   else "as the maker's data sheet says")
            listed.append((face.run, face.face, days, face.hung_from, by))
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
    One crew takes the runs one after the other, the membrane before any other layer. A day holds whole drops: the
    crew's rate rounded down, at least one.
    """
    labour, schedule = plan.job.extras.get("labour"), plan.job.extras.get("schedule")
    rate = Fraction(labour.drops_per_day) if isinstance(labour, Labour) else _RATE
    a_day = max(1, int(rate))
    calendar = Calendar(schedule) if isinstance(schedule, Schedule) else None
    steps: list[Step] = []
    sequence = _sequence(plan)
    for start in range(0, len(sequence), a_day):
        day = start // a_day + 1
        steps += _day(plan, sequence[start:start + a_day], day, calendar.work_day(day) if calendar else "")
    said = "" if isinstance(labour, Labour) else ", as the job gives no crew"
    return Orders(
        first=_first(plan), steps=tuple(steps), faces=_faces(steps, calendar), primer=_primer(plan, a_day),
        rate=f"{a_day} drops a day{said}",
    )


class Calendar:
    """The working days of a schedule, counted from its start."""

    def __init__(self, schedule: Schedule) -> None:
        self.cover_within_days = schedule.cover_within_days
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

    def cover_by(self, hung: str) -> str:
        """Return the last date by which what was hung on a date must be covered."""
        return (date.fromisoformat(hung) + timedelta(days=self.cover_within_days)).isoformat()


def _sequence(plan: Plan) -> list[Drop]:
    """Return every drop in the order one crew hangs them."""
    place = {run.name: i for i, run in enumerate(plan.job.runs)}
    return sorted(plan.drops, key=lambda drop: (drop.layer != "membrane", drop.layer, place.get(drop.run, len(place)),
                                                drop.install))


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


def _faces(steps: Sequence[Step], calendar: Calendar | None) -> tuple[FaceDays, ...]:
    spans: dict[tuple[str, str], list[Step]] = {}
    for step in steps:
        if step.layer == "membrane":
            spans.setdefault((step.run, step.face), []).append(step)
    found = []
    for (run, face), members in spans.items():
        hung = members[0].on
        found.append(FaceDays(
            run, face, members[0].day, members[-1].day, hung, calendar.cover_by(hung) if calendar else "",
            calendar.cover_within_days if calendar else None,
        ))
    return tuple(found)


def _primer(plan: Plan, a_day: int) -> str:
    """Return how far ahead to prime."""
    primer, labour = plan.job.extras.get("primer"), plan.job.extras.get("labour")
    text = "Prime only what will be covered within the primer's open time; prime again what was left longer."
    if isinstance(primer, Primer) and primer.open_time_hours is not None:
        hours = Fraction(labour.hours_per_day) if isinstance(labour, Labour) else _HOURS
        ahead = int(Fraction(a_day) / hours * Fraction(primer.open_time_hours))
        reach = f"about {ahead} drops" if ahead > 1 else "one drop"
        text += (f" The open time is {primer.open_time_hours.normalize():f} hours: at {a_day} drops a day prime no "
                 f"more than {reach} ahead.")
    return text + " Ledge and corners first, then the field."
