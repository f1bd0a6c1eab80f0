"""One yard of rolls and remnants for many jobs: who cuts what from what, and what no cutting costs less than.

Jobs are cut in the order of their start. What an earlier one leaves is a remnant of a later one, promised once.
Two ways are tried for each product and delivery, and the cheaper is taken: job by job, each from what is there when
it starts; and all pieces as one cutting problem, its rolls then dealt out to the jobs, where every roll that passes
from one job to the next does so as a whole end that is long enough to keep.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from layout.errors import LayoutError, NoLayout
from layout.integrated import cut_product, never
from layout.records import Cutting, Remnant
from layout.rolls import Effort
from layout.together.deal import deal
from layout.together.engine import Engine
from layout.together.stock import Free, Lot, Served, Wanted, Yard, outlay_on_rolls, tag_of

MOST_PIECES = 1200
"""Pieces that are cut as one problem; a larger delivery is parted into runs of jobs with no more."""
EACH = Effort(rounds=400, dives=2, boxes=24)
"""How far one job is cut from the yard."""
WHOLE = Effort(rounds=600, dives=1, boxes=60)
"""How far all pieces of a delivery are cut as one."""


def serve_jobs(yard: Yard, lot: Lot, engine: Engine, stop: Callable[[], bool]) -> Yard:
    """Cut every job of a lot from the yard; return the yard as it is then, and fill in the lot.

    ``engine`` is where the two ways are tried side by side. ``stop`` is asked before each share of the lot; when it
    says yes, jobs are cut one by one only.
    """
    after = yard
    for jobs in _shares(lot.jobs):
        after = _serve_share(after, lot, jobs, engine, stop)
    return after


def _shares(jobs: Sequence[Wanted]) -> list[list[Wanted]]:
    """Part jobs into runs of jobs that have no more pieces together than one problem takes."""
    shares: list[list[Wanted]] = []
    held = 0
    for job in jobs:
        if not shares or held + len(job.pieces) > MOST_PIECES:
            shares.append([])
            held = 0
        shares[-1].append(job)
        held += len(job.pieces)
    return shares


@dataclass(frozen=True)
class YardTask:
    """Some jobs of a lot and the yard they are cut from; all pieces at once, or job by job."""

    yard: Yard
    jobs: Sequence[Wanted]
    priced: bool
    at_once: bool


@dataclass(frozen=True)
class OneByOne:
    """How jobs are cut one after the other, by number, or why they cannot be, and the yard after them."""

    served: dict[int, Served]
    failed: dict[int, str]
    after: Yard


def cut_share(task: YardTask) -> OneByOne | Cutting | None:
    """Cut some jobs one way."""
    return _as_one(task.yard, task.jobs) if task.at_once else _one_by_one(task)


def _serve_share(yard: Yard, lot: Lot, jobs: Sequence[Wanted], engine: Engine, stop: Callable[[], bool]) -> Yard:
    """Cut some jobs of a lot: one by one, and as one problem; take the cheaper."""
    ways = [YardTask(yard, jobs, lot.priced, at_once) for at_once in ((False,) if stop() else (False, True))]
    made = dict(engine.each(cut_share, len(ways), ways.__getitem__))
    alone, whole = made[0], made.get(1)
    if not isinstance(alone, OneByOne):
        raise LayoutError(f"the yard could not be shared out: {alone}")
    lot.failed.update(alone.failed)
    served, after, bound = alone.served, alone.after, None
    able = [job for job in jobs if job.number in served]
    cost = _sum(served, priced=lot.priced)
    lot.alone += sum((outlay_on_rolls(job.alone.rolls, priced=lot.priced) for job in able), Decimal(0))
    if alone.failed and able and len(ways) > 1:
        whole = _as_one(yard, able)
    if able and isinstance(whole, Cutting):
        bound = _bound(whole, lot)
        dealt = deal(whole, able, yard) if outlay_on_rolls(whole.rolls, priced=lot.priced) < cost else None
        if dealt is not None:
            served, after = dealt, _after(yard, able, dealt)
            cost = _sum(dealt, priced=lot.priced)
    lot.served.update(served)
    lot.cost += cost
    lone = len(able) == len(lot.jobs) and bound is not None
    lot.bound = bound if lone else None
    if not lone and lot.jobs:
        lot.bound = _by_area(yard, lot)
    return after


def _one_by_one(task: YardTask) -> OneByOne:
    """Cut jobs in the order of their start, each from what is there then."""
    found = OneByOne({}, {}, task.yard.copy())
    for job in task.jobs:
        try:
            served = _one(found.after, job, priced=task.priced)
        except NoLayout as error:
            found.failed[job.number] = str(error)
            continue
        found.served[job.number] = served
        found.after.take(served.cutting, keep=lambda roll, job=job: tag_of(job, roll),  # type: ignore[misc]
                         origin=job.name, number=job.number)
    return found


def _sum(served: Mapping[int, Served], *, priced: bool) -> Decimal:
    return sum((outlay_on_rolls(each.cutting.rolls, priced=priced) for each in served.values()), Decimal(0))


def _one(yard: Yard, job: Wanted, *, priced: bool) -> Served:
    """Cut one job from the yard; as it is cut alone where that costs less and its remnants are still there."""
    offered = yard.offer(job.number)
    stock = yard.stock(offered)
    made: Cutting | None = None
    failure: NoLayout | None = None
    try:
        made = cut_product(job.job, job.alone.product, stock, job.pieces, stop=never, effort=EACH)
    except NoLayout as error:
        failure = error
    there = {(each.remnant.tag, each.remnant.length, each.remnant.width) for each in offered}
    alone_is_there = all((roll.stock, roll.length, roll.width) in there for roll in job.alone.rolls if roll.remnant)
    enough = all(
        roll.on_hand is None or roll.on_hand >= sum(
            not each.remnant and each.length == roll.length for each in job.alone.rolls)
        for roll in stock.rolls)
    if alone_is_there and enough:
        if made is None or outlay_on_rolls(job.alone.rolls, priced=priced) < outlay_on_rolls(made.rolls, priced=priced):
            made = job.alone
    if made is None:
        assert failure is not None
        raise failure
    used = {roll.stock for roll in made.rolls if roll.remnant}
    taken = [each for each in offered if each.remnant.tag in used]
    return Served(made, tuple(each.remnant for each in taken), {each.remnant.tag: each.origin for each in taken})


# --- all pieces as one problem -----------------------------------------------------------------

def _as_one(yard: Yard, jobs: Sequence[Wanted]) -> Cutting | None:
    """Return how all pieces of some jobs are cut as one, each tagged with its job's number; None when they cannot."""
    pieces = tuple(replace(piece, tag=f"{job.number}/{piece.tag}") for job in jobs for piece in job.pieces)
    numbers = {job.number for job in jobs}
    free = [each for each in yard.free if each.own in numbers or each.own < min(numbers)]
    free.sort(key=lambda each: (each.own < 0, -each.remnant.length * each.remnant.width))
    try:
        return cut_product(jobs[0].job, jobs[0].alone.product, yard.stock(free), pieces, stop=never, effort=WHOLE)
    except NoLayout:
        return None


def _bound(whole: Cutting, lot: Lot) -> Decimal | None:
    """Return the proven least cost of a whole cutting; where rolls are unpriced, its own length where it is least."""
    if lot.priced:
        return whole.bound
    return outlay_on_rolls(whole.rolls, priced=False) if whole.optimal else None


def _by_area(yard: Yard, lot: Lot) -> Decimal | None:
    """Return what the rolls cost at least by area alone, remnants that were there for nothing."""
    if not lot.product.rolls:
        return None
    needed = sum(piece.length * piece.width for job in lot.jobs for piece in job.pieces
                 if job.number not in lot.failed)
    needed -= sum(each.remnant.length * each.remnant.width for each in yard.free)
    rates = [Fraction(roll.price if lot.priced and roll.price is not None else Decimal(roll.length))
             / (roll.length * roll.width) for roll in lot.product.rolls]
    least = max(Fraction(needed), Fraction(0)) * min(rates)
    return Decimal(int(least * 100)) / 100


def _after(yard: Yard, jobs: Sequence[Wanted], dealt: Mapping[int, Served]) -> Yard:
    """Return the yard after some jobs were served as one: ends that were passed on are not in it."""
    after = yard.copy()
    for job in jobs:
        served = dealt[job.number]
        used = {roll.stock for roll in served.cutting.rolls if roll.remnant}
        after.free = [each for each in after.free if each.remnant.tag not in used]
        for roll in served.cutting.rolls:
            if not roll.remnant:
                after.opened[roll.length] += 1
            rest = served.rests.get(roll.tag, roll.leftover.length)
            usable = rest - (0 if roll.remnant else job.job.rules.roll_end)
            if usable >= job.job.rules.keep_remnant and roll.tag not in served.passed_on:
                left = Remnant(tag_of(job, roll), rest, roll.leftover.width)
                after.free.append(Free(left, f"{job.name}, roll {roll.tag}"))
    return after
