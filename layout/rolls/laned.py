"""What blocks are worth whose lanes are cross-cut again, and rolls with such blocks: exact, in whole numbers."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from math import gcd

import numpy as np
from numpy.typing import NDArray

from layout.rolls.blocks import Lane, Way
from layout.rolls.problem import CutBlock, Lay

Whole = NDArray[np.int64]


class LanedWorths:
    """Worths of blocks of every length, ripped into lanes with pieces end to end, under one set of duals.

    Parameters
    ----------
    lane
        Rolls of one width, and the narrow ways that pieces may lie in them.
    duals
        Worth of one piece of each item, whole.
    demand
        Most pieces of each item that one lane may hold.

    Notes
    -----
    A lane is as wide as its widest piece. ``lanes[c]`` is what a lane of the c-th width is worth by its length, ``of``
    what a block is worth: a knapsack of lanes over the width, for all lengths at once.
    """

    def __init__(self, lane: Lane, duals: Sequence[int], demand: Sequence[int]) -> None:
        self.width = lane.width
        self.ways = [way for way in lane.ways if duals[way.item] > 0 and demand[way.item] > 0]
        self.grain = reduce(gcd, [way.length for way in lane.ways] + [part.length for part in lane.parts], 0) or 1
        self.size = lane.longest // self.grain + 1
        self.duals, self.demand = duals, demand
        self.ways.sort(key=lambda way: (way.width, way.length, way.item))
        self.chunks: list[tuple[Way, int, NDArray[np.bool_]]] = []
        self.widths: list[int] = []
        self.lanes: list[Whole] = []
        table: Whole = np.zeros(self.size, dtype=np.int64)
        for place, way in enumerate(self.ways):
            self._fill(table, way)
            if place + 1 == len(self.ways) or self.ways[place + 1].width != way.width:
                self.widths.append(way.width)
                self.lanes.append(table.copy())
        self.of = self._blocks()

    def _fill(self, table: Whole, way: Way) -> None:
        """Let lanes hold a piece lying one more way, up to the demand."""
        span, worth = way.length // self.grain, self.duals[way.item]
        left, count = min(self.demand[way.item], (self.size - 1) // span), 1
        while left > 0:
            count = min(count, left)
            if span * count < self.size:
                grown, tail = table[:-span * count] + count * worth, table[span * count:]
                self.chunks.append((way, count, grown > tail))
                np.maximum(tail, grown, out=tail)
            left -= count
            count *= 2

    def _blocks(self) -> Whole:
        """Return what a block of each length is worth at most."""
        by_width: dict[int, Whole] = {0: np.zeros(self.size, dtype=np.int64)}
        for width, worths in zip(self.widths, self.lanes, strict=True):
            waiting = sorted(by_width)
            while waiting:
                used = waiting.pop(0)
                wider = used + width
                if wider > self.width:
                    continue
                grown = by_width[used] + worths
                if wider not in by_width:
                    by_width[wider] = grown
                    waiting.append(wider)
                    waiting.sort()
                else:
                    by_width[wider] = np.maximum(by_width[wider], grown)
        return np.asarray(reduce(np.maximum, by_width.values()), dtype=np.int64)

    def close(self) -> tuple[Whole, dict[int, int]]:
        """Return what stretches of roll cut into such blocks are worth, and the blocks that help by their length.

        Both are by the grain: of every length, and the worth of a block where no shorter ones together are worth that.
        """
        worth: Whole = np.zeros(self.size, dtype=np.int64)
        helped: dict[int, int] = {}
        at = 1
        while at < self.size:
            better = np.flatnonzero(self.of[at:] > worth[at:])
            if not better.size:
                break
            at += int(better[0])
            helped[at] = gain = int(self.of[at])
            for start in range(at, self.size, at):
                stop = min(start + at, self.size)
                np.maximum(worth[start:stop], worth[start - at:stop - at] + gain, out=worth[start:stop])
            at += 1
        return worth, helped

    def blocks(self, length: int, worth: Whole, helped: dict[int, int]) -> list[CutBlock]:
        """Return the blocks of a stretch of roll of some length [grains]; see ``close``."""
        found: list[CutBlock] = []
        while worth[length] > 0:
            if worth[length] == worth[length - 1]:
                length -= 1
                continue
            span = next(span for span, gain in helped.items()
                        if span <= length and worth[length - span] + gain == worth[length])
            found.append(self.block(span))
            length -= span
        return found

    def block(self, length: int) -> CutBlock:
        """Return the block of a length that is worth most [grains]."""
        best: dict[int, tuple[int, tuple[int, ...]]] = {0: (0, ())}
        for number, width in enumerate(self.widths):
            worth = int(self.lanes[number][length])
            for used in range(self.width - width + 1):
                if used in best:
                    sofar, chosen = best[used]
                    if used + width not in best or best[used + width][0] < sofar + worth:
                        best[used + width] = sofar + worth, (*chosen, number)
        _, chosen = max(best.values())
        lanes = [self._lane(number, length) for number in chosen]
        return CutBlock(length * self.grain, tuple(sorted(lane for lane in lanes if lane)))

    def _lane(self, number: int, length: int) -> tuple[Lay, ...]:
        """Return the pieces of the lane of a width and length that is worth most."""
        lays: list[Lay] = []
        for way, count, better in reversed(self.chunks):
            span = way.length // self.grain * count
            if way.width <= self.widths[number] and span <= length and better[length - span]:
                lays += [Lay(way.item, way.turned)] * count
                length -= span
        return tuple(lays)
