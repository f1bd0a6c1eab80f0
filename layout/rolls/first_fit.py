"""First-fit decreasing with width: the quick answer that every other one has to beat."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from layout.rolls.problem import CutBlock, Item, Lay, Pattern, Problem, Stock


@dataclass
class OpenLane:
    """A lane of a block being filled end to end: its width, the length left, and its pieces."""

    width: int
    free: int
    lays: list[Lay] = field(default_factory=list)


@dataclass
class OpenBlock:
    """A block being filled: its length, the width left beside its lanes, and the lanes."""

    length: int
    free: int
    lanes: list[OpenLane] = field(default_factory=list)

    def add_lane(self, lay: Lay, length: int, width: int) -> None:
        """Rip one more lane, for a piece."""
        self.free -= width
        self.lanes.append(OpenLane(width, self.length - length, [lay]))


@dataclass
class OpenRoll:
    """A roll being filled block after block."""

    stock: int
    width: int
    free: int
    blocks: list[OpenBlock] = field(default_factory=list)

    def beside(self, item: int, ways: Sequence[tuple[int, int, bool]]) -> bool:
        """Put the piece at the end of a lane or into a lane of its own, where it wastes least; tell whether it went."""
        best: tuple[int, OpenBlock, OpenLane | None, tuple[int, int, bool]] | None = None
        for block in self.blocks:
            for way in ways:
                length, width, _ = way
                if length > block.length:
                    continue
                if width <= block.free and (best is None or (block.length - length) * width < best[0]):
                    best = (block.length - length) * width, block, None, way
                for lane in block.lanes:
                    waste = length * (lane.width - width)
                    if length <= lane.free and waste >= 0 and (best is None or waste < best[0]):
                        best = waste, block, lane, way
        if best is None:
            return False
        _, block, chosen, (length, width, turned) = best
        if chosen is None:
            block.add_lane(Lay(item, turned), length, width)
        else:
            chosen.free -= length
            chosen.lays.append(Lay(item, turned))
        return True

    def behind(self, item: int, ways: Sequence[tuple[int, int, bool]]) -> bool:
        """Start a new block with the piece, lying the way that takes least of the roll; return whether it went."""
        fits = [way for way in ways if way[0] <= self.free and way[1] <= self.width]
        if not fits:
            return False
        length, width, turned = min(fits)
        self.free -= length
        block = OpenBlock(length, self.width)
        block.add_lane(Lay(item, turned), length, width)
        self.blocks.append(block)
        return True

    def pattern(self) -> Pattern:
        """Return the roll as it is cut, longest block first."""
        blocks = [
            CutBlock(block.length, tuple(sorted(tuple(lane.lays) for lane in block.lanes)))
            for block in self.blocks if block.lanes
        ]
        return Pattern(self.stock, tuple(sorted(blocks, reverse=True)))


def roll_opened(problem: Problem, pattern: Pattern) -> OpenRoll:
    """Return a roll cut by a pattern, open for more."""
    stock = problem.stocks[pattern.stock]
    roll = OpenRoll(pattern.stock, stock.width, stock.length - pattern.used)
    for block in pattern.blocks:
        lanes = []
        for lays in block.lanes:
            sizes = [problem.items[lay.item].size(turned=lay.turned) for lay in lays]
            lanes.append(OpenLane(
                max(width for _, width in sizes), block.length - sum(length for length, _ in sizes), list(lays)))
        roll.blocks.append(OpenBlock(block.length, stock.width - sum(lane.width for lane in lanes), lanes))
    return roll


def fits(item: Item, stock: Stock) -> bool:
    """Return whether one piece can be cut from the stock at all."""
    return any(length <= stock.length and width <= stock.width for length, width, _ in item.ways())


def decreasing(problem: Problem) -> Iterator[int]:
    """Give the item of every piece, longest first, full width before narrow, turnable pieces last."""
    order = sorted(range(len(problem.items)), key=lambda i: _weight(problem.items[i]), reverse=True)
    for index in order:
        for _ in range(problem.items[index].demand):
            yield index


def _weight(item: Item) -> tuple[bool, int, int]:
    return not item.turnable, max(item.length, item.width if item.turnable else 0), item.width


def first_fit(
    problem: Problem, pieces: Sequence[int], stocks: Sequence[int], opened: Sequence[OpenRoll] = (),
) -> list[OpenRoll] | None:
    """Cut the pieces in the order given, each from the first open roll that takes it.

    Parameters
    ----------
    problem
        What there is.
    pieces
        Item of each piece, in order.
    stocks
        Stocks in the order in which new rolls are opened; a limited one until it is used up.
    opened
        Rolls that are open already; they are filled further.

    Returns
    -------
    list of OpenRoll or None
        None when a piece fits no roll that is left.
    """
    rolls = list(opened)
    left = {k: problem.stocks[k].count for k in stocks}
    for roll in rolls:
        count = left.get(roll.stock)
        if count is not None:
            left[roll.stock] = count - 1
    ways = [item.ways() for item in problem.items]
    full: dict[int, int] = {}
    for item in pieces:
        start = full.get(item, 0)
        for place in range(start, len(rolls)):
            if rolls[place].beside(item, ways[item]) or rolls[place].behind(item, ways[item]):
                full[item] = place
                break
        else:
            fresh = _open(problem, item, stocks, left)
            if fresh is None or not fresh.behind(item, ways[item]):
                return None
            full[item] = len(rolls)
            rolls.append(fresh)
    return rolls


def _open(problem: Problem, item: int, stocks: Sequence[int], left: dict[int, int | None]) -> OpenRoll | None:
    """Open the first roll in ``stocks`` that takes the piece, or None."""
    for k in stocks:
        count = left[k]
        if (count is None or count > 0) and fits(problem.items[item], problem.stocks[k]):
            left[k] = None if count is None else count - 1
            return OpenRoll(k, problem.stocks[k].width, problem.stocks[k].length)
    return None


def quick_answer(problem: Problem) -> list[Pattern] | None:
    """Return the cheapest of first-fit decreasing over the orders in which stocks can be opened.

    Free stock is opened first, shortest first and longest first; then each bought length in turn leads, the others
    stand by from the longest down. The last roll is changed for the cheapest stock that holds it.
    """
    pieces = list(decreasing(problem))
    free = [k for k, stock in enumerate(problem.stocks) if not stock.cost]
    bought = [k for k, stock in enumerate(problem.stocks) if stock.cost]
    bought.sort(key=lambda k: (-problem.stocks[k].length, problem.stocks[k].cost))
    free.sort(key=lambda k: problem.stocks[k].length)
    best: tuple[int, int, list[Pattern]] | None = None
    for remnants in ([free, free[::-1], []] if free else [[]]):
        for lead in (bought or [-1]):
            order = [*remnants, *([lead] if lead >= 0 else []), *(k for k in bought if k != lead)]
            rolls = first_fit(problem, pieces, order)
            if rolls is None:
                continue
            patterns = cheapen(problem, [roll.pattern() for roll in rolls])
            cost = cost_of_patterns(problem, patterns)
            if best is None or (cost, len(patterns)) < best[:2]:
                best = cost, len(patterns), patterns
    return best[2] if best else None


def cheapen(problem: Problem, patterns: Sequence[Pattern]) -> list[Pattern]:
    """Move each pattern, costliest first, to the cheapest stock that holds it and is not used up."""
    used = [0] * len(problem.stocks)
    for pattern in patterns:
        used[pattern.stock] += 1
    cheaper = sorted(range(len(problem.stocks)), key=lambda k: (problem.stocks[k].cost, problem.stocks[k].length))
    moved = []
    for pattern in sorted(patterns, key=lambda p: (-problem.stocks[p.stock].cost, p.used)):
        old = problem.stocks[pattern.stock]
        for k in cheaper:
            stock = problem.stocks[k]
            if (stock.cost, stock.length) >= (old.cost, old.length):
                break
            free = stock.count is None or used[k] < stock.count
            if free and stock.length >= pattern.used and stock.width >= _breadth(problem, pattern):
                used[pattern.stock] -= 1
                used[k] += 1
                pattern = Pattern(k, pattern.blocks)
                break
        moved.append(pattern)
    return moved


def _breadth(problem: Problem, pattern: Pattern) -> int:
    """Return the widest block of the pattern [ticks]."""
    return max((breadth(problem, block) for block in pattern.blocks), default=0)


def breadth(problem: Problem, block: CutBlock) -> int:
    """Return the width that the lanes of a block take together [ticks]."""
    return sum(
        max(problem.items[lay.item].size(turned=lay.turned)[1] for lay in lays) for lays in block.lanes)


def cost_of_patterns(problem: Problem, patterns: Sequence[Pattern]) -> int:
    """Return what the rolls of the patterns cost."""
    return sum(problem.stocks[pattern.stock].cost for pattern in patterns)
