"""What narrow pieces of several lengths take of blocks together: weighed for the pieces and blocks of one case.

Two pieces of one length may lie side by side, and each of them beside a longer one, but not all at once as well as a
count of blocks length by length would have it. Here a piece is worth something by its length and its width, and a block
of each length what the pieces are worth together that fit into it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from layout.joint.market import Sharing
from layout.milp import INFINITY, Program

PARTS = 120
"""Parts in what the longest block is worth, about."""
MOST_WAYS = 4_000
"""Ways to lay pieces side by side that are listed; where there are more, nothing is weighed."""

Size = tuple[int, int]
"""Length and width of a piece [ticks]."""


@dataclass(frozen=True)
class Ripping:
    """What pieces and blocks are worth.

    Parameters
    ----------
    lengths, lows
        Lengths and widths from which a piece is worth more, rising [ticks].
    values
        Of a narrow piece, by its length and then its width; they fall along neither.
    whole
        Of a block, and of a wide piece, by its length: the most that narrow pieces so long are worth side by side.
    """

    lengths: tuple[int, ...]
    lows: tuple[int, ...]
    values: tuple[tuple[int, ...], ...]
    whole: tuple[int, ...]

    @property
    def longest(self) -> int:
        """What the longest block is worth."""
        return self.whole[-1]

    def of(self, length: int, wide: int, narrow: Sequence[int]) -> int:
        """Return what pieces of one length are worth together: so many wide ones, and narrow ones by their widths."""
        at = bisect_right(self.lengths, length) - 1
        if at < 0:
            return 0
        lows = [bisect_right(self.lows, width) - 1 for width in narrow]
        return self.whole[at] * wide + sum(self.values[at][low] for low in lows if low >= 0)

    def jumps(self, at: int) -> list[int]:
        """Return what a narrow piece is worth more from each width on, than of the length before."""
        here, before = self.values[at], self.values[at - 1] if at else (0,) * len(self.lows)
        more = [one - other for one, other in zip(here, before, strict=True)]
        return [after - lower for lower, after in zip((0, *more), more, strict=False)]

    def more(self) -> list[int]:
        """Return what a block of each of the lengths is worth more than of the one before."""
        return [after - before for before, after in zip((0, *self.whole), self.whole, strict=False)]


def best_ripping(
    sharing: Sharing, asked: Mapping[Size, float], blocks: Mapping[int, float],
) -> Ripping | None:
    """Return values by which some narrow pieces are worth more than some blocks, if there are such.

    Parameters
    ----------
    sharing
        Which pieces fit side by side.
    asked
        How many narrow pieces of each size there are; their lengths are among those of ``blocks``.
    blocks
        How many blocks of each length or longer there are for them.
    """
    lengths, sizes = sorted(blocks), sorted(asked)
    ways = _side_by_side(sharing, sizes)
    if ways is None:
        return None
    program = Program()
    rows = [program.add_row(-INFINITY, 0) for _ in ways]
    one = program.add_row(0, 1)
    level = [lengths.index(max(sizes[number][0] for number in way)) for way in ways]
    worth: dict[Size, int] = {}
    for number, size in enumerate(sizes):
        entries = [(row, way.count(number)) for row, way in zip(rows, ways, strict=True) if number in way]
        worth[size] = program.add_column(-asked[size], [row for row, _ in entries], [float(n) for _, n in entries])
    for at, length in enumerate(lengths):
        within = [row for row, top in zip(rows, level, strict=True) if top >= at]
        program.add_column(blocks[length], [*within, one], [*([-1.0] * len(within)), 1.0])
    answer = program.solve_linear()
    if answer is None:
        return None
    return _whole(sharing, lengths, {size: round(float(answer.columns[worth[size]]) * PARTS) for size in sizes})


def _side_by_side(sharing: Sharing, sizes: Sequence[Size]) -> list[tuple[int, ...]] | None:
    """Return every way that pieces, by the number of their size, lie side by side; None when there are too many."""
    found: list[tuple[int, ...]] = []
    growing: list[tuple[tuple[int, ...], int]] = [((), sharing.width)]
    while growing:
        way, room = growing.pop()
        for number in range(way[-1] if way else 0, len(sizes)):
            if sizes[number][1] <= room:
                found.append((*way, number))
                growing.append((found[-1], room - sizes[number][1]))
        if len(found) > MOST_WAYS:
            return None
    return found


def _whole(sharing: Sharing, lengths: Sequence[int], worth: Mapping[Size, int]) -> Ripping | None:
    """Return values that fall along no length or width, with the worth of blocks that is theirs exactly."""
    lows = sorted({width for _, width in worth})
    values = [
        tuple(max((value for (long, wide), value in worth.items() if long <= length and wide <= low), default=0)
              for low in lows)
        for length in lengths
    ]
    kept = [at for at in range(len(lengths)) if values[at] != (values[at - 1] if at else (0,) * len(lows))]
    if not kept:
        return None
    rows = tuple(values[at] for at in kept)
    return Ripping(
        tuple(lengths[at] for at in kept), tuple(lows), rows, tuple(_most(sharing.width, lows, row) for row in rows),
    )


def _most(width: int, lows: Sequence[int], values: Sequence[int]) -> int:
    """Return the most that pieces are worth together that fit side by side."""
    best = [0] * (width + 1)
    for room in range(width + 1):
        best[room] = max([
            best[room - 1] if room else 0,
            *(value + best[room - low] for low, value in zip(lows, values, strict=True) if low <= room),
        ])
    return best[width]
