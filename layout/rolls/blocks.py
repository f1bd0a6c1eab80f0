"""Two stages made one: what one cross-cut can take off a roll, and what ripping it is worth.

Parts of a roll are either single pieces that leave no useful width beside them, or slots: blocks of some length
to be ripped into narrow pieces. To the roll both are lengths, so one knapsack prices them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from layout.rolls.problem import Problem


@dataclass(frozen=True)
class Way:
    """One way a narrow piece may lie in a block."""

    item: int
    length: int
    width: int
    turned: bool


@dataclass(frozen=True)
class CrossCutPart:
    """What one cross-cut takes off a roll: one piece of ``item``, or, when that is None, a slot for narrow ones.

    ``most`` is the most that one roll can use.
    """

    length: int
    most: int
    item: int | None = None
    turned: bool = False


@dataclass(frozen=True)
class Lane:
    """The rolls of one width: their stocks, what cross-cuts can take off them, and the narrow ways."""

    width: int
    stocks: tuple[int, ...]
    longest: int
    parts: tuple[CrossCutPart, ...]
    ways: tuple[Way, ...]

    @property
    def slots(self) -> tuple[int, ...]:
        """The parts that are slots, shortest first."""
        slots = [number for number, part in enumerate(self.parts) if part.item is None]
        return tuple(sorted(slots, key=lambda number: self.parts[number].length))


RipState = tuple[int, int, tuple[tuple[int, int], ...]]
"""Width that is ripped off a block, what the pieces are worth, and how many lie each way."""


@dataclass(frozen=True)
class Rip:
    """How one block is ripped: how many pieces lie each way, and what they are worth."""

    ways: tuple[tuple[int, int], ...]
    worth: int


def lanes(problem: Problem) -> tuple[Lane, ...]:
    """Return one lane for each width of roll, widest first."""
    widths = sorted({stock.width for stock in problem.stocks}, reverse=True)
    return tuple(_lane(problem, width) for width in widths)


def _lane(problem: Problem, width: int) -> Lane:
    stocks = tuple(k for k, stock in enumerate(problem.stocks) if stock.width == width)
    longest = max(problem.stocks[k].length for k in stocks)
    ways = [
        Way(number, length, across, turned)
        for number, item in enumerate(problem.items) if item.demand
        for length, across, turned in item.ways() if length <= longest and across <= width
    ]
    single: dict[int, Way] = {}
    narrow = []
    for way in ways:
        if _alone(problem, way, ways, width):
            if way.item not in single or way.length < single[way.item].length:
                single[way.item] = way
        else:
            narrow.append(way)
    parts = [
        CrossCutPart(way.length, min(problem.items[way.item].demand, longest // way.length), way.item, way.turned)
        for way in single.values()
    ]
    for length in sorted({way.length for way in narrow}, reverse=True):
        fitting = {way.item for way in narrow if way.length <= length}
        wanted = sum(problem.items[item].demand for item in fitting)
        parts.append(CrossCutPart(length, min(wanted, longest // length)))
    return Lane(width, stocks, longest, tuple(parts), tuple(sorted(narrow, key=lambda way: way.length)))


def _alone(problem: Problem, way: Way, ways: Sequence[Way], width: int) -> bool:
    """Return whether nothing that is wanted fits in the width beside the piece."""
    free = width - way.width
    for other in ways:
        if other.width <= free and (other.item != way.item or problem.items[way.item].demand > 1):
            return False
    return True


def rip_worths(lane: Lane, duals: Sequence[int], demand: Sequence[int]) -> Mapping[int, Rip]:
    """Return the best way to rip each slot of a lane.

    Parameters
    ----------
    lane
        Rolls of one width.
    duals
        Worth of one piece of each item, whole.
    demand
        Most pieces of each item that one block may hold.

    Notes
    -----
    A knapsack over the width, ways taken by length, so the pieces of a slot never lie longer than it. Each item is
    bounded by its demand over the whole block, both ways counted together.
    """
    best: dict[int, Rip] = {}
    # an item whose two ways are both there is bounded jointly when read off
    states: list[RipState] = [(0, 0, ())]
    number = 0
    for slot in lane.slots:
        while number < len(lane.ways) and lane.ways[number].length <= lane.parts[slot].length:
            way = lane.ways[number]
            if duals[way.item] > 0:
                states = _with_way(states, number, way, duals[way.item], demand[way.item], lane.width)
            number += 1
        _, worth, ways = states[-1]
        best[slot] = Rip(ways, worth)
    return best


def _with_way(
    states: Sequence[RipState], number: int, way: Way, dual: int, demand: int, width: int,
) -> list[RipState]:
    """Return the undominated states after any number of pieces lying one more way."""
    grown = {used: (worth, ways) for used, worth, ways in states}
    for used, worth, ways in states:
        for count in range(1, min(demand, (width - used) // way.width) + 1):
            wider, more = used + count * way.width, worth + count * dual
            if wider not in grown or grown[wider][0] < more:
                grown[wider] = more, (*ways, (number, count))
    kept: list[RipState] = []
    for used in sorted(grown):
        worth, ways = grown[used]
        if not kept or worth > kept[-1][1]:
            kept.append((used, worth, ways))
    return kept
