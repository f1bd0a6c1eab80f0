"""Every column that a better answer could use, held as arrays so that hundreds of thousands can be priced at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from helpers.listing import Lister, Listing
from numpy.typing import NDArray

from layout.rolls.blocks import Lane
from layout.rolls.master import MasterColumn, Master, PricedDuals, RipColumn, RollColumn, part_worths, proven

Whole = NDArray[np.int64]


@dataclass(frozen=True)
class ColumnGroup:
    """Columns of one kind: rolls of one stock, or rips of one slot."""

    lane: int
    stock: int | None
    slot: int | None


@dataclass(frozen=True)
class Pool:
    """Columns one after another: column p holds entries start[p] to start[p + 1].

    Parameters
    ----------
    groups
        What kinds there are.
    group
        The kind of each column.
    cost
        What each costs; 0 for a rip.
    start, element, row, gain
        Its entries: part or way of the lane, row of the master, and how much of it.
    """

    groups: tuple[ColumnGroup, ...]
    group: Whole
    cost: Whole
    start: Whole
    element: Whole
    row: Whole
    gain: Whole

    def __len__(self) -> int:
        return len(self.cost)

    def column(self, place: int) -> MasterColumn:
        """Return one column as the master knows it."""
        group = self.groups[int(self.group[place])]
        entries = range(int(self.start[place]), int(self.start[place + 1]))
        held = [(int(self.element[e]), int(abs(self.gain[e]))) for e in entries if self.element[e] >= 0]
        if group.stock is not None:
            return RollColumn(group.stock, group.lane, tuple(held))
        assert group.slot is not None
        return RipColumn(group.slot, group.lane, tuple(held))

    def entries(self, place: int) -> tuple[list[int], list[float]]:
        """Return a column's rows and values, each row once."""
        merged: dict[int, float] = {}
        for e in range(int(self.start[place]), int(self.start[place + 1])):
            merged[int(self.row[e])] = merged.get(int(self.row[e]), 0.0) + float(self.gain[e])
        return list(merged), list(merged.values())


def gather_columns(master: Master, duals: Sequence[PricedDuals], target: int, most: int) -> Pool | None:
    """Return every column that an answer of cost ``target`` could use; None when there are more than ``most``.

    Parameters
    ----------
    master
        A master, solved.
    duals
        Sets of whole duals, priced exactly; a column that any of them rules out is left out.
    target
        The most that a better answer may cost.
    most
        Most columns.

    Notes
    -----
    Only columns to which nothing can be added are listed: making more than is asked is allowed.
    """
    shrunk = [master.shrink(priced) for priced in duals]
    slacks = [slack(master, priced, target) for priced in shrunk]
    parts: list[Pool] = []
    for number, lane in enumerate(master.lanes):
        for group, listing, elements in _listings(master, number, lane, shrunk, slacks, most):
            if listing is None:
                return None
            parts.append(_pool(master, group, listing, elements))
            most -= len(listing)
    return _joined(parts)


def slack(master: Master, priced: PricedDuals, target: int) -> int:
    """Return how far the patterns of an answer of cost ``target`` may fall short together [cost x scale]."""
    return target * master.scale - proven(master.problem, master.scale, priced.duals, priced.values, master.box)


def _enough(master: Master, priced: PricedDuals, k: int, short: int) -> int:
    """Return the least worth of a pattern of a stock that falls short by no more than ``short``.

    The bound already counts the least or most rolls of a stock at what its best pattern leaves or gains; such a
    stock's patterns fall short of that best one, others of their cost.
    """
    price = master.problem.stocks[k].cost * master.scale
    value = priced.values[k]
    return (value if master.box.least[k] else max(price, value)) - short


def _listings(
    master: Master, number: int, lane: Lane, duals: Sequence[PricedDuals], slacks: Sequence[int], most: int,
) -> list[tuple[ColumnGroup, Listing | None, list[int]]]:
    """Return the listings of one lane: each stock's rolls, each slot's rips; one that is None ends it."""
    found: list[tuple[ColumnGroup, Listing | None, list[int]]] = []
    values = [part_worths(lane, priced.duals, priced.rips[number]) for priced in duals]
    lister = Lister([part.length for part in lane.parts], values, [part.most for part in lane.parts], lane.longest)
    for k in lane.stocks:
        stock = master.problem.stocks[k]
        if master.box.most[k] == 0:
            continue
        least = [_enough(master, priced, k, short) for priced, short in zip(duals, slacks)]
        listing = lister.patterns(stock.length, least, most)
        found.append((ColumnGroup(number, k, None), listing, list(range(len(lane.parts)))))
        if listing is None:
            return found
        most -= len(listing)
    for slot in lane.slots:
        length = lane.parts[slot].length
        ways = [way for way in range(len(lane.ways)) if lane.ways[way].length <= length]
        across = Lister(
            [lane.ways[way].width for way in ways],
            [[priced.duals[lane.ways[way].item] for way in ways] for priced in duals],
            [master.problem.items[lane.ways[way].item].demand for way in ways],
            lane.width)
        least = [priced.rips[number][slot].worth - short for priced, short in zip(duals, slacks)]
        listing = across.patterns(lane.width, least, most)
        if listing is None:
            return [*found, (ColumnGroup(number, None, slot), None, ways)]
        # a block is as long as its longest piece, so other rips belong to a shorter slot
        longest = np.array([lane.ways[way].length == length for way in ways])
        owner = np.repeat(np.arange(len(listing)), np.diff(listing.start))
        kept = np.zeros(len(listing), dtype=bool)
        kept[owner[longest[listing.part]]] = True
        listing = listing.keep(kept)
        found.append((ColumnGroup(number, None, slot), listing, ways))
        most -= len(listing)
    return found


def _pool(master: Master, group: ColumnGroup, listing: Listing, elements: Sequence[int]) -> Pool:
    """Return a listing as a pool of one group."""
    lane = master.lanes[group.lane]
    place = np.repeat(np.arange(len(listing)), np.diff(listing.start))
    gain = listing.count
    element = np.array(elements, dtype=np.int64)[listing.part]
    if group.stock is not None:
        rows = [
            master.slot_row[group.lane][p] if part.item is None else master.item_row[part.item]
            for p, part in enumerate(lane.parts)
        ]
        cost = master.problem.stocks[group.stock].cost
        extra: tuple[int, int] | None = None
        if group.stock in master.stock_row:
            extra = master.stock_row[group.stock], 1
    else:
        assert group.slot is not None
        rows = [master.item_row[way.item] for way in lane.ways]
        cost = 0
        extra = master.slot_row[group.lane][group.slot], -1
    row = np.array(rows, dtype=np.int64)[element]
    count = len(listing)
    if extra is not None:
        place = np.concatenate([place, np.arange(count)])
        order = np.argsort(place, kind="stable")
        place = place[order]
        element = np.concatenate([element, np.full(count, -1)])[order]
        row = np.concatenate([row, np.full(count, extra[0])])[order]
        gain = np.concatenate([gain, np.full(count, extra[1])])[order]
    start = np.searchsorted(place, np.arange(count + 1))
    return Pool(
        (group,), np.zeros(count, dtype=np.int64), np.full(count, cost, dtype=np.int64),
        start.astype(np.int64), element, row, gain)


def _joined(parts: Sequence[Pool]) -> Pool:
    """Return pools of one group each as one pool."""
    ends = np.cumsum([0, *(len(part.row) for part in parts)])
    return Pool(
        tuple(group for part in parts for group in part.groups),
        np.concatenate([part.group + number for number, part in enumerate(parts)]),
        np.concatenate([part.cost for part in parts]),
        np.concatenate([*(part.start[:-1] + end for part, end in zip(parts, ends)), ends[-1:]]),
        np.concatenate([part.element for part in parts]),
        np.concatenate([part.row for part in parts]),
        np.concatenate([part.gain for part in parts]))
