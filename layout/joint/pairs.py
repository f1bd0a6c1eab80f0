"""Narrow drops that lie side by side in a roll: which layouts, together, take the least length of rolls.

Each run ends, at its ends and beside its corners and steps, with drops narrower than the sheet. Two of them that fit in
one width cost one length, whichever runs they hang on; so the layouts of all runs are chosen together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

from layout.joint.market import Sharing, Want

MOST_CHOICES = 20_000
"""Choices of a layout for each run that are all looked at; of more, runs are changed one after the other."""

Choice = tuple[int, tuple[int, ...]]
"""Length of roll taken [ticks], and for each run which of its layouts."""


@dataclass(frozen=True)
class Share:
    """What pieces take of the rolls: the length of all wide ones [ticks], and each narrow one (length, width)."""

    wide: int
    narrow: tuple[tuple[int, int], ...]

    @staticmethod
    def of(wants: Sequence[Want], sharing: Sharing) -> Share:
        """Return what some pieces take."""
        wide = sum(want.length * want.count for want in wants if want.width > sharing.widest)
        narrow = sorted(
            ((want.length, want.width) for want in wants if want.width <= sharing.widest for _ in range(want.count)),
            reverse=True,
        )
        return Share(wide, tuple(narrow))


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


def length_of_rolls(shares: Sequence[Share], width: int) -> int:
    """Return the length of roll that pieces take when narrow ones, the longest first, go where they fit most snugly."""
    total = sum(share.wide for share in shares)
    rooms: list[int] = []
    for length, wide in sorted((piece for share in shares for piece in share.narrow), reverse=True):
        snug = min((i for i, room in enumerate(rooms) if room >= wide), key=lambda i: rooms[i], default=None)
        if snug is None:
            rooms.append(width - wide)
            total += length
        else:
            rooms[snug] -= wide
    return total


def best_choices(pools: Sequence[Sequence[Share]], fixed: Share, *, width: int) -> list[Choice]:
    """Return choices of a layout for each run, those that take the least length of roll first.

    Parameters
    ----------
    pools
        What each layout of each run takes.
    fixed
        What the job takes whatever the layouts.
    width
        Of the rolls [ticks].
    """
    def length(numbers: Sequence[int]) -> int:
        return length_of_rolls([fixed, *(pool[i] for pool, i in zip(pools, numbers, strict=True))], width)

    if prod(len(pool) for pool in pools) <= MOST_CHOICES:
        return sorted((length(numbers), numbers) for numbers in product(*(range(len(pool)) for pool in pools)))
    chosen = tuple(0 for _ in pools)
    found = {chosen: length(chosen)}
    while True:
        for run, pool in enumerate(pools):
            for i in range(len(pool)):
                changed = (*chosen[:run], i, *chosen[run + 1:])
                if changed not in found:
                    found[changed] = length(changed)
        least = min(found, key=lambda numbers: (found[numbers], numbers))
        if least == chosen:
            return sorted((taken, numbers) for numbers, taken in found.items())
        chosen = least
