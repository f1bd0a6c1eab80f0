"""From columns to rolls as they are cut, in whole numbers: nothing the solver says is taken on trust here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from layout.rolls.first_fit import OpenBlock, OpenLane, OpenRoll, breadth, cheapen, decreasing, first_fit
from layout.rolls.master import MasterColumn, Master, RipColumn, RollColumn
from layout.rolls.problem import Lay, Pattern, Problem

MasterColumns = Sequence[MasterColumn] | Mapping[int, MasterColumn]


def complete(master: Master, columns: MasterColumns, counts: Mapping[int, int]) -> list[Pattern] | None:
    """Return rolls cut by the columns chosen, with every piece that is still missing put in by first fit.

    Parameters
    ----------
    master
        Whose rows the columns are of.
    columns
        The columns to choose from.
    counts
        How often each is used, by its place; rips are put into the slots of the rolls, longest first.

    Returns
    -------
    list of Pattern or None
        One pattern a roll; None when the stock cannot hold all pieces.
    """
    problem = master.problem
    left = [item.demand for item in problem.items]
    used = [columns[number] for number, count in sorted(counts.items()) for _ in range(count)]
    opened = [_open(master, column, left) for column in used if isinstance(column, RollColumn)]
    _rip(master, opened, [column for column in used if isinstance(column, RipColumn)], left)
    missing = Problem(
        tuple(type(item)(item.length, item.width, max(0, n), item.turnable) for item, n in zip(problem.items, left)),
        problem.stocks)
    pieces = list(decreasing(missing))
    order = sorted(range(len(problem.stocks)), key=lambda k: (problem.stocks[k].cost > 0, -problem.stocks[k].length))
    filled = first_fit(problem, pieces, order, opened) if pieces else opened
    if filled is None:
        return None
    return cheapen(problem, [pattern for pattern in (roll.pattern() for roll in filled) if pattern.blocks])


def _open(master: Master, column: RollColumn, left: list[int]) -> OpenRoll:
    """Return a roll cut by a column: pieces while any are wanted, slots as empty blocks."""
    problem = master.problem
    stock = problem.stocks[column.stock]
    lane = master.lanes[column.lane]
    roll = OpenRoll(column.stock, stock.width, stock.length)
    for number, count in column.parts:
        part = lane.parts[number]
        for _ in range(count):
            if part.item is None:
                roll.blocks.append(OpenBlock(part.length, stock.width))
                roll.free -= part.length
            elif left[part.item] > 0:
                left[part.item] -= 1
                item = problem.items[part.item]
                width = item.length if part.turned else item.width
                block = OpenBlock(part.length, stock.width)
                block.add_lane(Lay(part.item, part.turned), part.length, width)
                roll.blocks.append(block)
                roll.free -= part.length
    for laned in column.blocks:
        block = OpenBlock(laned.length, stock.width)
        for lays in laned.lanes:
            _rip_lane(problem, block, lays, left)
        roll.blocks.append(block)
        roll.free -= laned.length
    return roll


def _rip_lane(problem: Problem, block: OpenBlock, lays: Sequence[Lay], left: list[int]) -> None:
    """Rip a lane of a block for those of its pieces that are still wanted."""
    wanted = []
    for lay in lays:
        if left[lay.item] > 0:
            left[lay.item] -= 1
            wanted.append(lay)
    if wanted:
        sizes = [problem.items[lay.item].size(turned=lay.turned) for lay in wanted]
        width = max(width for _, width in sizes)
        block.free -= width
        block.lanes.append(OpenLane(width, block.length - sum(length for length, _ in sizes), wanted))


def _rip(master: Master, opened: Sequence[OpenRoll], rips: Sequence[RipColumn], left: list[int]) -> None:
    """Put rips into empty blocks long enough for them, longest rips first."""
    for rip in sorted(rips, key=lambda rip: -master.lanes[rip.lane].parts[rip.slot].length):
        lane = master.lanes[rip.lane]
        length = lane.parts[rip.slot].length
        blocks = [
            block for roll in opened if roll.width == lane.width
            for block in roll.blocks if not block.lanes and block.length >= length
        ]
        if not blocks:
            continue
        block = min(blocks, key=lambda block: block.length)
        for number, count in rip.ways:
            way = lane.ways[number]
            for _ in range(min(count, left[way.item])):
                left[way.item] -= 1
                block.add_lane(Lay(way.item, way.turned), way.length, way.width)


def faults(problem: Problem, patterns: Sequence[Pattern]) -> list[str]:
    """Return what is wrong with a cutting; empty when it makes every piece and nothing overlaps or runs out."""
    wrong = []
    made = [0] * len(problem.items)
    used = [0] * len(problem.stocks)
    for pattern in patterns:
        stock = problem.stocks[pattern.stock]
        used[pattern.stock] += 1
        if pattern.used > stock.length:
            wrong.append(f"a roll {stock.length} long has {pattern.used} cut from it")
        for block in pattern.blocks:
            if breadth(problem, block) > stock.width:
                wrong.append(f"a block is wider than its roll of {stock.width}")
            for lays in block.lanes:
                if sum(problem.items[lay.item].size(turned=lay.turned)[0] for lay in lays) > block.length:
                    wrong.append(f"a lane is longer than its block of {block.length}")
                for lay in lays:
                    made[lay.item] += 1
                    if lay.turned and not problem.items[lay.item].turnable:
                        wrong.append(f"item {lay.item} must not be turned")
    for number, (item, count) in enumerate(zip(problem.items, made)):
        if count != item.demand:
            wrong.append(f"item {number} is made {count} times, {item.demand} wanted")
    for number, (stock, count) in enumerate(zip(problem.stocks, used)):
        if stock.count is not None and count > stock.count:
            wrong.append(f"stock {number} is used {count} times, {stock.count} on hand")
    return wrong
