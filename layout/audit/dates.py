"""9xx, dates: by when each face must be covered, counted again from the job's start, its days off and the order."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from layout.audit.asked import Asked
from layout.audit.findings import Findings
from layout.audit.written import Written

WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
USUAL_DROPS_A_DAY = "20"
"""What a crew hangs where the job does not say: the job model's default."""
USUAL_DAYS_BARE = 30
MOST_DAYS = 100_000
"""Working days that a job takes at most; past them there is no date."""


def cover_by(plan: Written, asked: Asked) -> dict[tuple[str, str], tuple[str, str]]:
    """Return by (run, face) the earliest and the latest that its last bare day may be; empty without a start.

    A run is primed, reinforced, hung, and barred, its board goes on, then comes the next run; what has no rate a day
    takes no time, but drops, which have one always. A face must be covered so many days after the day of its first
    drop. A drop is on the face of its first piece. Priming and bar are known for the whole job only: with one run
    both dates are the same, with more all of that time may come before, or none.
    """
    given = asked.job.get("schedule")
    if not given:
        return {}
    bare = datetime.timedelta(days=int(given.get("cover_within_days") or USUAL_DAYS_BARE))
    days = _working_days(given)
    known: list[datetime.date] = []

    def date(at: Fraction) -> str:
        if not 0 <= at <= MOST_DAYS:
            return "no date"
        while len(known) <= math.floor(at):
            known.append(next(days))
        return (known[math.floor(at)] + bare).isoformat()

    prime, bar = _whole_job(plan, asked)
    one = len(asked.runs) == 1
    low = dict(_first_days(plan, asked, prime if one else Fraction(0)))
    high = low if one else dict(_first_days(plan, asked, prime + bar))
    return {face: (date(low[face]), date(high[face])) for face in low}


def _whole_job(plan: Written, asked: Asked) -> tuple[Fraction, Fraction]:
    """Return the days that priming and fastening the bar take, from the takeoff's own figures."""
    labour = asked.job.get("labour") or {}
    times = []
    for item, rate in (("prime", "primer_per_day"), ("fasten termination bar", "bar_per_day")):
        row = next((row for row in plan.takeoff if row.get("item") == item and row.get("group") == "labour"), None)
        a_day = labour.get(rate)
        net = row.get("net") if row else None
        known = a_day and isinstance(net, (int, float))
        times.append(Fraction(str(net)) / Fraction(str(a_day)) if known else Fraction(0))
    return times[0], times[1]


def _first_days(plan: Written, asked: Asked, before: Fraction) -> Iterator[tuple[tuple[str, str], Fraction]]:
    """Yield for each face the moment of its first drop, in working days from the start."""
    labour = asked.job.get("labour") or {}
    drops = Fraction(str(labour.get("drops_per_day") or USUAL_DROPS_A_DAY))
    board = Fraction(str(labour.get("board_per_day") or drops))
    face_of = {piece.drop: piece.face for piece in reversed(plan.pieces) if piece.drop}
    now = before
    seen: set[tuple[str, str]] = set()
    for run in asked.runs:
        put_on = [piece for piece in plan.pieces
                  if piece.run == run.name and piece.layer == "membrane" and not piece.drop]
        strips = [piece.length for piece in put_on if piece.kind.endswith("strip")]
        foot = 12 * asked.unit.ticks if asked.unit.name == "in" else 1000
        for amount, rate in ((Fraction(sum(strips), foot), "strip_per_day"),
                             (Fraction(len(put_on) - len(strips)), "small_per_day")):
            if labour.get(rate):
                now += amount / Fraction(str(labour[rate]))
        for layer, a_day in (("membrane", drops), ("drainage", board)):
            hung = [drop for drop in plan.drops if (drop.run, drop.layer) == (run.name, layer)]
            for drop in sorted(hung, key=lambda drop: (drop.install, drop.tag)):
                face = (drop.run, face_of.get(drop.tag, ""))
                if layer == "membrane" and face not in seen:
                    seen.add(face)
                    yield face, now
                now += 1 / a_day


def _working_days(given: Mapping[str, Any]) -> Iterator[datetime.date]:
    day = datetime.date.fromisoformat(str(given["start"]))
    worked = {str(name) for name in given.get("working_days") or WEEK[:5]}
    off = {str(date) for date in given.get("holidays") or ()}
    while True:
        if WEEK[day.weekday()] in worked and day.isoformat() not in off:
            yield day
        day += datetime.timedelta(days=1)


def check_dates(plan: Written, needed: Mapping[tuple[str, str], tuple[str, str]], book: Findings) -> None:
    """Hold the dates of plan.json against the job's."""
    found = {(date.run, date.face): date.cover_by for date in plan.dates}
    for run, face in sorted({*needed, *found}):
        low, high = needed.get((run, face), ("no date", "no date"))
        date = found.get((run, face), "no date")
        if not low <= date <= high:
            book.note(928, f"plan.json, run {run}, face {face}", low if low == high else f"{low} to {high}", date)
