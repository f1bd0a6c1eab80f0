"""What is gained at no cost: long leftovers on few rolls, the same pattern again and again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from layout.rolls.first_fit import breadth
from layout.rolls.problem import CutBlock, Pattern, Problem
from layout.rolls.totals import fewest_for

MOST_PASSES = 40
"""Passes over the rolls; each moves scrap from the others into one roll."""


@dataclass
class TidyRoll:
    """A roll being tidied: its stock, its blocks, and what is left of it."""

    stock: int
    width: int
    free: int
    blocks: list[CutBlock]

    def pattern(self) -> Pattern:
        """Return the roll as a pattern, longest block first."""
        return Pattern(self.stock, tuple(sorted(self.blocks, reverse=True)))


def rolls_by_cost(problem: Problem, cost: int) -> int:
    """Return the fewest bought rolls whose costs add up to a total; remnants may be needed besides."""
    return fewest_for([(stock.cost, stock.count) for stock in problem.stocks if stock.cost], cost)


def gather_scrap(problem: Problem, patterns: Sequence[Pattern]) -> list[Pattern]:
    """Move scrap into as few rolls as possible, so that what is left over is long enough to keep.

    Parameters
    ----------
    problem
        What the patterns cut.
    patterns
        One a roll.

    Returns
    -------
    list of Pattern
        The same pieces from the same rolls, or fewer.

    Notes
    -----
    One roll at a time, the emptiest first, takes the scrap of the others: a block of theirs is changed for a longer one
    of its own, or they take one over, as long as it fits. Each change moves length into the emptier roll's leftover.
    """
    rolls = [_opened(problem, pattern) for pattern in patterns]
    fixed: set[int] = set()
    for _ in range(min(MOST_PASSES, len(rolls))):
        waiting = [number for number in range(len(rolls)) if number not in fixed and rolls[number].blocks]
        if not waiting:
            break
        sink = max(waiting, key=lambda number: (rolls[number].free, number))
        fixed.add(sink)
        _fill_from(problem, rolls[sink], [rolls[number] for number in waiting if number != sink])
    return [roll.pattern() for roll in rolls if roll.blocks]


def _opened(problem: Problem, pattern: Pattern) -> TidyRoll:
    stock = problem.stocks[pattern.stock]
    return TidyRoll(pattern.stock, stock.width, stock.length - pattern.used, list(pattern.blocks))


def _fill_from(problem: Problem, sink: TidyRoll, others: Sequence[TidyRoll]) -> None:
    """Fill the other rolls from one, each as full as a single change of blocks makes it, until none gets fuller."""
    changed = True
    while changed and sink.blocks:
        changed = False
        for roll in sorted(others, key=lambda roll: roll.free):
            if not sink.blocks:
                return
            change = _best_change(problem, sink, roll)
            if change is None:
                continue
            given, taken = change
            sink.blocks.remove(given)
            roll.blocks.append(given)
            gained = given.length
            if taken is not None:
                roll.blocks.remove(taken)
                sink.blocks.append(taken)
                gained -= taken.length
            sink.free += gained
            roll.free -= gained
            changed = True


def _best_change(problem: Problem, sink: TidyRoll, roll: TidyRoll) -> tuple[CutBlock, CutBlock | None] | None:
    """Return the block to give and the block to take back that fill a roll best; None when nothing fits better."""
    best: tuple[int, CutBlock, CutBlock | None] | None = None
    takes: list[CutBlock | None] = [None]
    takes += sorted({block for block in roll.blocks if breadth(problem, block) <= sink.width})
    for given in sorted(set(sink.blocks)):
        if breadth(problem, given) > roll.width:
            continue
        for taken in takes:
            gained = given.length - (taken.length if taken else 0)
            if 0 < gained <= roll.free and (best is None or gained > best[0]):
                best = gained, given, taken
    return best[1:] if best else None


def fewer_patterns(patterns: Sequence[Pattern]) -> list[Pattern]:
    """Cut two rolls alike where together they hold an even number of every block and lose the same.

    Leftovers stay as they are, so this can only lower the number of different patterns.
    """
    counts = Counter(patterns)
    merged = True
    while merged:
        merged = False
        kinds = sorted(counts, key=lambda pattern: (pattern.stock, pattern.used, pattern.blocks))
        for first, second in zip(kinds, kinds[1:]):
            if (first.stock, first.used) != (second.stock, second.used) or counts[first] != counts[second]:
                continue
            both = Counter(first.blocks) + Counter(second.blocks)
            if any(count % 2 for count in both.values()):
                continue
            half = tuple(sorted((block for block, count in both.items() for _ in range(count // 2)), reverse=True))
            number = counts.pop(first) + counts.pop(second)
            counts[Pattern(first.stock, half)] += number
            merged = True
            break
    return [pattern for pattern, count in counts.items() for _ in range(count)]
