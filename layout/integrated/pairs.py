"""Narrow drops that lie side by side in a roll: which layouts, together, take the least of the rolls.

Each run ends, at its ends and beside its corners and steps, with drops narrower than the sheet. Two of them that fit in
one width cost one length, whichever runs they hang on; so the layouts of all runs are chosen together.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product
from math import prod

import numpy as np

from layout.integrated.market import Sharing, Want, Worth

MOST_CHOICES = 20_000
"""Choices of a layout for each run that are all looked at; of more, two runs at a time are changed."""

PairChoice = tuple[int, tuple[int, ...]]
"""What is taken of the rolls, and for each run which of its layouts."""


@dataclass(frozen=True)
class Share:
    """What pieces take of the rolls: all wide ones together, and each narrow one with its width [ticks]."""

    wide: int
    narrow: tuple[tuple[int, int], ...]

    @staticmethod
    def of(wants: Sequence[Want], sharing: Sharing, worth: Worth) -> Share:
        """Return what some pieces take, by the worth of their lengths."""
        worths = worth.of(np.array([want.length for want in wants], dtype=np.int64)).tolist()
        wide = sum(one * want.count for one, want in zip(worths, wants, strict=True) if want.width > sharing.widest)
        return Share(wide, tuple(
            (one, want.width) for one, want in zip(worths, wants, strict=True) if want.width <= sharing.widest
            for _ in range(want.count)
        ))


def widths_to_try(sharing: Sharing, most: int) -> list[int]:
    """Return widths up to which drops may count as narrow [ticks], evenly between the widest and the narrowest.

    Notes
    -----
    Layouts whose narrow drops are all at most half the sheet wide can be paired in any way; wider ones need narrower
    partners, and so other layouts.
    """
    if not sharing.widest:
        return []
    if most < 2:
        return [sharing.width // 2][:most]
    span = sharing.widest - sharing.narrowest
    return sorted({sharing.widest - span * i // (most - 1) for i in range(most)}, reverse=True)


def rooms_beside(pools: Sequence[Sequence[Share]], choices: Sequence[PairChoice], sharing: Sharing) -> list[int]:
    """Return the widths that the narrow pieces of some choices leave beside them [ticks], the widest first."""
    return sorted({
        sharing.width - width for _, numbers in choices for pool, i in zip(pools, numbers, strict=True)
        for _, width in pool[i].narrow if sharing.narrowest <= sharing.width - width <= sharing.widest
    }, reverse=True)


def taken(shares: Sequence[Share], width: int) -> int:
    """Return what pieces take of the rolls when narrow ones, the longest first, go where they fit most snugly."""
    total = sum(share.wide for share in shares)
    rooms: list[int] = []  # narrowest first
    for one, wide in sorted((piece for share in shares for piece in share.narrow), reverse=True):
        snug = bisect_left(rooms, wide)
        if snug == len(rooms):
            insort(rooms, width - wide)
            total += one
        else:
            insort(rooms, rooms.pop(snug) - wide)
    return total


def best_choices(pools: Sequence[Sequence[Share]], fixed: Share, *, width: int) -> list[PairChoice]:
    """Return choices of a layout for each run, those that take the least first.

    Parameters
    ----------
    pools
        What each layout of each run takes.
    fixed
        What the job takes whatever the layouts.
    width
        Of the rolls [ticks].
    """
    def of(numbers: Sequence[int]) -> int:
        return taken([fixed, *(pool[i] for pool, i in zip(pools, numbers, strict=True))], width)

    if prod(len(pool) for pool in pools) <= MOST_CHOICES:
        return sorted((of(numbers), numbers) for numbers in product(*(range(len(pool)) for pool in pools)))
    chosen = tuple(0 for _ in pools)
    found = {chosen: of(chosen)}
    while True:
        for one, other in combinations(range(len(pools)), 2):
            for changed in product(*(
                range(len(pool)) if run in (one, other) else chosen[run:run + 1] for run, pool in enumerate(pools)
            )):
                if changed not in found:
                    found[changed] = of(changed)
        least = min(found, key=lambda numbers: (found[numbers], numbers))
        if least == chosen:
            return sorted((total, numbers) for numbers, total in found.items())
        chosen = least
