"""What a roll is worth at most, which choices of rolls are worth how much, and whether boxes hold every count."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from math import gcd

import numpy as np

from layout.audit.least import Whole

ItemSize = tuple[int, int, int, bool]
"""Length, width, how many, whether it may be turned."""
CountRange = Sequence[tuple[int, int | None]]


def best_worth(items: Sequence[ItemSize], duals: Sequence[int], length: int, width: int) -> int:
    """Return the most that one roll can be worth, cross-cut into blocks, these into lanes, and these across.

    A lane holds no more of an item than is asked, and as many pieces as fit; it is as wide as its widest piece. A
    piece beside which nothing fits makes a block of its own.
    """
    ways = [
        (long, wide, number) for number, item in enumerate(items) if item[2]
        for long, wide in ({(item[0], item[1]), (item[1], item[0])} if item[3] else {(item[0], item[1])})
        if long <= length and wide <= width
    ]
    alone, beside = dict[int, int](), []
    for long, wide, number in ways:
        others = [w for _, w, n in ways if n != number or items[number][2] > 1]
        if any(wide + other <= width for other in others):
            beside.append((wide, long, number))
        else:
            alone[number] = min(long, alone.get(number, long))
    grain = reduce(gcd, [long for _, long, _ in beside] + list(alone.values()), 0) or 1
    size = length // grain + 1
    roll: Whole = np.zeros(size, dtype=np.int64)
    block = _blocks(sorted(beside), items, duals, size, grain, width)
    for at in range(1, size):
        gain = int(block[at])
        if gain > roll[at]:
            # as many such blocks as fit: each stretch of the table builds on the one before
            for start in range(at, size, at):
                stop = min(start + at, size)
                np.maximum(roll[start:stop], roll[start - at:stop - at] + gain, out=roll[start:stop])
    for number, long in alone.items():
        _add(roll, long // grain, duals[number], items[number][2])
    return int(roll.max())


def _add(table: Whole, span: int, worth: int, most: int) -> None:
    """Let a table of lengths hold up to so many pieces of a span."""
    take, left = 1, min(most, (len(table) - 1) // span)
    while left > 0 and worth > 0:
        take = min(take, left)
        if span * take < len(table):
            np.maximum(table[span * take:], table[:-span * take] + take * worth, out=table[span * take:])
        left -= take
        take *= 2


def _blocks(
    beside: Sequence[tuple[int, int, int]], items: Sequence[ItemSize], duals: Sequence[int], size: int, grain: int,
    width: int,
) -> Whole:
    """Return what a block of each length is worth: lanes side by side, as many as the width holds."""
    lane: Whole = np.zeros(size, dtype=np.int64)
    used: dict[int, Whole] = {0: lane.copy()}
    for at, (wide, long, number) in enumerate(beside):
        _add(lane, long // grain, duals[number], items[number][2])
        if at + 1 < len(beside) and beside[at + 1][0] == wide:
            continue
        for before in range(width - wide + 1):
            if before in used:
                both = used[before] + lane
                used[before + wide] = np.maximum(used[before + wide], both) if before + wide in used else both
    return np.asarray(reduce(np.maximum, used.values()), dtype=np.int64)


def most_worth(yields: Sequence[int], costs: Sequence[int], counts: Sequence[int | None], most: int) -> int:
    """Return the most that rolls are worth together which cost no more than ``most``.

    Parameters
    ----------
    yields, costs, counts
        What a roll of each stock is worth and costs, and how many there are (None: no limit).
    most
        In the unit of the costs.
    """
    if most < 0:
        return -1
    free = sum(
        worth * (count or 0) for worth, cost, count in zip(yields, costs, counts, strict=True) if not cost and worth)
    if any(count is None and not cost and worth for worth, cost, count in zip(yields, costs, counts, strict=True)):
        raise ValueError("rolls without limit that cost nothing")
    unit = reduce(gcd, costs, 0) or 1
    table: Whole = np.zeros(most // unit + 1, dtype=np.int64)
    for worth, cost, count in zip(yields, costs, counts, strict=True):
        if cost:
            _add(table, cost // unit, worth, len(table) if count is None else count)
    return free + int(np.maximum.accumulate(table)[-1])


def covered(region: CountRange, boxes: Sequence[CountRange]) -> bool:
    """Tell whether every choice of roll counts in a region lies in some box; it is split at the boxes' edges."""
    def inside(box: CountRange) -> bool:
        return all(
            low >= least and (most is None or (high is not None and high <= most))
            for (low, high), (least, most) in zip(region, box, strict=True))

    def apart(box: CountRange) -> bool:
        return any(
            (high is not None and high < least) or (most is not None and low > most)
            for (low, high), (least, most) in zip(region, box, strict=True))

    near = [box for box in boxes if not apart(box)]
    if any(inside(box) for box in near):
        return True
    for box in near:
        for place, ((low, high), (least, most)) in enumerate(zip(region, box, strict=True)):
            cut = least if low < least else None if most is None or (high is not None and most >= high) else most + 1
            if cut is not None:
                left, right = list(region), list(region)
                left[place], right[place] = (low, cut - 1), (cut, high)
                return covered(left, near) and covered(right, near)
    return False
