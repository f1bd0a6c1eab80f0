"""What each rule costs: changes of a job that were planned and take less sheet."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from layout.errors import NoLayout
from layout.records import Cutting, Job, Plan
from layout.savings.changes import Candidate, changes
from layout.savings.guess import cost_of, sheet_of


def savings(
    job: Job, plan: Plan, plan_core: Callable[[Job], Plan], *, most: int, thorough: bool = False,
) -> tuple[Mapping[str, object], ...]:
    """Return the single changes that were planned and found to take less, the most saved first.

    Parameters
    ----------
    job, plan
        The job, and its plan.
    plan_core
        Plans a job's drops and rolls; ``joint.decide`` on the developed job, as far as time allows.
    most
        How many changes are planned.
    thorough
        Plan also those that the plan's own pieces do not show to save anything.

    Returns
    -------
    tuple of mappings
        JSON-ready: ``change``, ``rule``, ``from``, ``to``, ``saves_rolls`` (rolls bought; less than 0 where more but
        cheaper ones are), ``saves_cost`` (None when the sheet has no prices), ``source``, ``why``, and all of it as
        ``text``.

    Notes
    -----
    A change not named here was not tried, or not found to save; it is not proven to save nothing. A change whose plan
    breaks more rules than the plan in hand is left out.
    """
    before = sheet_of(plan)
    tried = [change for change in changes(job, plan) if change.likely or thorough]
    found: list[tuple[int, Mapping[str, object]]] = []
    for change in tried[:max(most, 0)]:
        try:
            other = plan_core(change.job)
        except NoLayout:
            continue
        after = sheet_of(other)
        saved = cost_of(job, before) - cost_of(job, after)
        if saved > 0 and _broken(other) <= _broken(plan):
            found.append((saved, _saving(change, before, after)))
    found.sort(key=lambda item: -item[0])
    return tuple(saving for _, saving in found)


def _broken(plan: Plan) -> int:
    """Return how many rules the plan breaks, those about the drainage board's seams left out."""
    return sum(broken.rule != "board_seam" for broken in plan.exceptions)


def _saving(change: Candidate, before: Cutting, after: Cutting) -> Mapping[str, object]:
    """Return what a change was found to save."""
    rolls = sum(not roll.remnant for roll in before.rolls) - sum(not roll.remnant for roll in after.rolls)
    money = None if before.cost is None or after.cost is None else before.cost - after.cost
    saved = [f"{rolls} roll" if rolls == 1 else f"{rolls} rolls"] if rolls > 0 else []
    if money is not None:
        saved.append(f"{money:,.2f}")
    elif rolls <= 0:
        saved.append("length of roll")
    source = f" ({change.source})" if change.source else ""
    return {
        "change": change.words, "rule": change.rule, "from": change.before, "to": change.after, "saves_rolls": rolls,
        "saves_cost": None if money is None else float(money), "source": change.source, "why": change.why,
        "text": f"{change.words} saves {' and '.join(saved)}: {change.why}{source}",
    }
