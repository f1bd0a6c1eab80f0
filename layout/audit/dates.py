"""9xx, dates: by when each face must be covered, counted again from the job's start, its days off and the order."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from layout.audit.asked import Asked
from layout.audit.findings import Book
from layout.audit.written import Written, WrittenDrop

WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
USUAL_DROPS_A_DAY = "20"
"""What a crew hangs where the job does not say: the README's default."""
USUAL_DAYS_BARE = 30


def cover_by(plan: Written, asked: Asked) -> dict[tuple[str, str], str]:
    """Return by (run, face) the last day on which a face may be bare; empty when the job gives no start.

    Drops go on run by run, the membrane in its order and then the drainage board, so many a working day; a face must
    be covered so many days after the day of its first drop. A drop is on the face of its first piece.
    """
    given = asked.job.get("schedule")
    if not given:
        return {}
    labour = asked.job.get("labour") or {}
    rate = Fraction(str(labour.get("drops_per_day") or USUAL_DROPS_A_DAY))
    bare = datetime.timedelta(days=int(given.get("cover_within_days") or USUAL_DAYS_BARE))
    order: list[WrittenDrop] = []
    for run in asked.runs:
        for layer in ("membrane", "drainage"):
            order += sorted((drop for drop in plan.drops if (drop.run, drop.layer) == (run.name, layer)),
                            key=lambda drop: (drop.install, drop.tag))
    face_of = {piece.drop: piece.face for piece in reversed(plan.pieces) if piece.drop}
    days = _working_days(given)
    known: list[datetime.date] = []
    first: dict[tuple[str, str], str] = {}
    for place, drop in enumerate(order):
        number = math.floor(place / rate)
        while len(known) <= number:
            known.append(next(days))
        if drop.layer == "membrane":
            first.setdefault((drop.run, face_of.get(drop.tag, "")), (known[number] + bare).isoformat())
    return first


def _working_days(given: Mapping[str, Any]) -> Iterator[datetime.date]:
    day = datetime.date.fromisoformat(str(given["start"]))
    worked = {str(name) for name in given.get("working_days") or WEEK[:5]}
    off = {str(date) for date in given.get("holidays") or ()}
    while True:
        if WEEK[day.weekday()] in worked and day.isoformat() not in off:
            yield day
        day += datetime.timedelta(days=1)


def check_dates(plan: Written, needed: Mapping[tuple[str, str], str], book: Book) -> None:
    """Hold the dates of plan.json against the job's."""
    found = {(date.run, date.face): date.cover_by for date in plan.dates}
    for run, face in sorted({*needed, *found}):
        if needed.get((run, face)) != found.get((run, face)):
            book.note(928, f"plan.json, run {run}, face {face}", needed.get((run, face), "no date"),
                      found.get((run, face), "no date"))
