"""Cases of whole counts: the least and the most of each, and what counts within them are worth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from layout.joint.weights import Count


@dataclass(frozen=True)
class Case:
    """Least and most of some counts."""

    least: Mapping[Count, int]
    most: Mapping[Count, int]

    def bounds(self, count: Count) -> tuple[int, int | None]:
        """Return the least and the most of a count: longer ones are among shorter ones."""
        leasts = [n for one, n in self.least.items() if one[:2] == count[:2] and one.length >= count.length]
        mosts = [n for one, n in self.most.items() if one[:2] == count[:2] and one.length <= count.length]
        return max(leasts, default=0), min(mosts, default=None)

    def split(self, count: Count, whole: int) -> tuple[Case, Case]:
        """Return the case that a count is at most some whole number, and the one that it is more."""
        return (
            Case(self.least, {**self.most, count: whole}), Case({**self.least, count: whole + 1}, self.most),
        )

    @property
    def empty(self) -> bool:
        """Whether nothing can be counted so."""
        return any(
            least > most for longer, least in self.least.items() for shorter, most in self.most.items()
            if longer[:2] == shorter[:2] and shorter.length <= longer.length
        )


def least_of_counts(worths: Sequence[int], bounds: Sequence[tuple[int, int]]) -> int:
    """Return the least sum of worths times counts that fall along a list, each within its bounds.

    Examples
    --------
    >>> least_of_counts([2, -3], [(4, 9), (0, 6)])
    -6
    """
    if not any(worths):
        return 0
    marks = sorted({bound for pair in bounds for bound in pair})
    # at the least every count is one of the bounds: from the last one back, the least for each count before it
    values: list[int | None] = [0] * len(marks)
    for worth, (least, most) in zip(reversed(worths), reversed(bounds), strict=True):
        running: int | None = None
        following: list[int | None] = []
        for mark, value in zip(marks, values, strict=True):
            if value is not None and (running is None or value < running):
                running = value
            following.append(running + worth * mark if running is not None and least <= mark <= most else None)
        values = following
    return min(value for value in values if value is not None)
