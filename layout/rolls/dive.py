"""Diving: fix the columns that the linear program likes best, generate more for what is left, and go on.

A dive proves nothing; what it finds is checked in whole numbers by ``assemble``.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from random import Random

import numpy as np

from layout.milp import INFINITY, LinearAnswer
from layout.rolls.assemble import complete
from layout.rolls.first_fit import cost_of_patterns
from layout.rolls.master import Master, RollColumn
from layout.rolls.problem import Effort, Pattern

QUICK_ROUNDS = 12
"""Rounds of column generation after each fixing in a quick dive; more gain little."""
THOROUGH_ROUNDS = 100
"""Rounds in a thorough dive, which gives a fixing up only when the linear program is really solved."""
NEARLY = 1e-6
MOST_UNDONE = 40
FEW_LEFT = 40
"""Pieces left for which first fit is tried after every fixing."""


@dataclass
class Dive:
    """One dive under way: how many of each column are fixed, what is left to make, which columns are barred."""

    master: Master
    fixed: Counter[int]
    barred: set[int]
    left: list[int]
    bound: set[int] = field(default_factory=set)

    def fix(self, column: int, count: int) -> None:
        """Fix more of a column (fewer, when the count is negative)."""
        self.fixed[column] += count
        for item, made in self.master.produces(self.master.columns[column]).items():
            self.left[item] -= made * count

    def bind(self) -> None:
        """Limit the columns: fixed ones stay used, barred ones and those that make too much are used no further."""
        left = np.maximum(np.array(self.left), 0)
        shut = {int(number) for number in np.flatnonzero((self.master.made() > left).any(axis=1))} | self.barred
        for number in sorted(shut | self.bound | set(self.fixed)):
            count = self.fixed.get(number, 0)
            self.master.limit(number, count, count if number in shut else INFINITY)
        self.bound = shut | {number for number, count in self.fixed.items() if count}


def dive(master: Master, target: int, *, seed: int, effort: Effort) -> list[Pattern] | None:
    """Return a cutting that costs no more than ``target``, one pattern a roll; None when none is found.

    Parameters
    ----------
    master
        A master solved by column generation; it keeps the columns the dive finds.
    target
        The cost to reach.
    seed
        0 dives straight; others shake the choice a little, each its own way. Even ones are quick, odd ones thorough.
    effort
        Its ``stop`` ends the dive.
    """
    random = Random(seed)
    state = Dive(master, Counter(), set(), [item.demand for item in master.problem.items])
    try:
        return _descend(state, target, random, seed, effort)
    finally:
        for number in range(len(master.columns)):
            master.limit(number, 0, INFINITY)


def _descend(state: Dive, target: int, random: Random, seed: int, effort: Effort) -> list[Pattern] | None:
    """Fix, solve, and go on; undo and bar the last fixing when the target is out of reach after it."""
    master = state.master
    ceiling = target / master.dearest + NEARLY
    thorough = bool(seed % 2)
    undo = MOST_UNDONE
    several = True
    last: list[tuple[int, int]] = []
    while not effort.stopped():
        state.bind()
        answer = master.solve(
            rounds=THOROUGH_ROUNDS if thorough else QUICK_ROUNDS,
            demand=[max(0, n) for n in state.left],
            enough=ceiling if thorough else None,
            effort=effort,
        ).answer
        if answer is None or answer.objective > ceiling:
            undo -= 1
            if not last or undo < 0:
                return None
            for number, count in last:
                state.fix(number, -count)
            several = len(last) == 1
            if several:
                state.barred.add(last[0][0])
            last = []
            continue
        found = _finish(state, answer, target)
        if found is not None:
            return found
        last = _choose(state, answer, random, shake=0.3 if seed else 0.0, several=several)
        several = True
        if not last:
            return None
        for number, count in last:
            state.fix(number, count)
    return None


def _choose(
    state: Dive, answer: LinearAnswer, random: Random, *, shake: float, several: bool,
) -> list[tuple[int, int]]:
    """Return what to fix next: rolls before rips; everything that is whole, or else the column nearest to one more."""
    loose = _loose(state, answer)
    rolls = [(number, value) for number, value in loose if isinstance(state.master.columns[number], RollColumn)]
    loose = rolls or loose
    whole = [(number, int(value + NEARLY)) for number, value in loose if value >= 1 - NEARLY]
    if whole:
        return whole if several else [max(whole, key=lambda entry: (entry[1], -entry[0]))]
    scored = [
        (value + (shake * random.random() if shake else 0.0), number)
        for number, value in loose if number not in state.barred
    ]
    return [(max(scored)[1], 1)] if scored else []


def _loose(state: Dive, answer: LinearAnswer) -> list[tuple[int, float]]:
    """Return the columns in use beyond what is fixed, and by how much."""
    values = state.master.uses(answer)
    for number, count in state.fixed.items():
        if number < len(values):
            values[number] -= count
    return [(int(number), float(values[number])) for number in np.flatnonzero(values > NEARLY)]


def _finish(state: Dive, answer: LinearAnswer, target: int) -> list[Pattern] | None:
    """Fill what is left into the fixed rolls and new ones by first fit; None when that costs more than the target.

    Tried when little is left, and once no roll is open in part.
    """
    master = state.master
    rest = sum(max(0, n) for n in state.left)
    if rest > FEW_LEFT and any(isinstance(master.columns[number], RollColumn) for number, _ in _loose(state, answer)):
        return None
    patterns = complete(master, master.columns, state.fixed)
    if patterns is None or cost_of_patterns(master.problem, patterns) > target:
        return None
    return patterns
