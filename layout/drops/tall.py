"""Tall walls: where drops are split into upper and lower pieces, so that neighbours' end laps are staggered.

Each drop has a few ways to be hung; the best choice along the run is a shortest path through them. Fewest broken rules
come first (end laps of neighbours too near in height, end laps too near to sleeves or openings' corners, weighted by
how much), then price, then pieces, then the plainest way. Extra pieces are tried only where fewer break a rule.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.drops.costs import CostArray
from layout.drops.end_laps import PieceBox, LapKeep, DropWay, plain_end_laps, things_near, ways_to_hang
from layout.drops.prices import PriceTable
from layout.drops.shingle import Band
from layout.records import RuleException, Rules, Wall
from layout.units import Unit, inches

PIECE = 2.0**-14
"""What an extra piece weighs against a unit of price; a run has fewer tall drops than its inverse, or ties may slip."""


@dataclass(frozen=True)
class Splits:
    """How the drops of a run are split.

    Parameters
    ----------
    boxes
        For each drop its pieces, top to bottom [ticks].
    broken
        What could not be kept.
    shortfall
        By how much, summed [ticks].
    """

    boxes: tuple[tuple[PieceBox, ...], ...]
    broken: tuple[RuleException, ...]
    shortfall: int


def split_drops(
    wall: Wall, edges: Sequence[Band], columns: Sequence[Sequence[PieceBox]], rules: Rules, table: PriceTable, *,
    fixed: Mapping[int, Sequence[PieceBox]], unit: Unit,
) -> Splits:
    """Split the drops of a run that are taller than one piece.

    Parameters
    ----------
    wall
        The run.
    edges, columns
        The edges of each drop and the columns (top, bottom) it falls into.
    rules
        For the stagger, the clearances and the end lap.
    table
        Prices and limits.
    fixed
        The pieces of drops that are cut already, by their place in the row.
    unit
        The job's unit, for the words of exceptions.
    """
    things = [
        things_near(wall, left, right, rules) if i in fixed or _is_tall(columns[i], table) else []
        for i, (left, right) in enumerate(edges)
    ]
    as_cut = {i: _as_cut(boxes, things[i], rules.end_lap) for i, boxes in fixed.items()}
    chosen = _best_ways(wall, columns, things, rules, table, as_cut, extra=False)
    if _shortfall(chosen, wall.closed, rules):
        more = _best_ways(wall, columns, things, rules, table, as_cut, extra=True)
        if _shortfall(more, wall.closed, rules) < _shortfall(chosen, wall.closed, rules):
            chosen = more
    return Splits(
        boxes=tuple(way.boxes for way in chosen), broken=tuple(_broken(wall, edges, chosen, things, rules, unit)),
        shortfall=_shortfall(chosen, wall.closed, rules),
    )


def end_lap_levels(boxes: Sequence[PieceBox]) -> list[int]:
    """Return the lower edges of the upper pieces of a drop [ticks]."""
    return [bottom for (_, bottom), (top, _) in zip(boxes, boxes[1:], strict=False) if top > bottom]


# --- the choice along the run ------------------------------------------------------------------

def _as_cut(boxes: Sequence[PieceBox], things: Sequence[LapKeep], end_lap: int) -> DropWay:
    """Return the one way of a drop whose pieces are cut; what they cost is spent."""
    end_laps = tuple(end_lap_levels(boxes))
    shortfall = sum(thing.shortfall(level, end_lap) for level in end_laps for thing in things)
    return DropWay(end_laps, tuple(boxes), shortfall, price=0, pieces=len(boxes))


def _is_tall(columns: Sequence[PieceBox], table: PriceTable) -> bool:
    return any(table.pieces[top - bottom] > 1 for top, bottom in columns)


def _best_ways(
    wall: Wall, columns: Sequence[Sequence[PieceBox]], things: Sequence[Sequence[LapKeep]], rules: Rules,
    table: PriceTable, as_cut: Mapping[int, DropWay], *, extra: bool,
) -> list[DropWay]:
    """Choose a way for each drop, by shortest path along the run."""
    count = len(columns)
    around = [(i - 1) % count for i in range(count)], [(i + 1) % count for i in range(count)]
    plain = [
        [level for top, bottom in mine for raised in (True, False)
         for level in plain_end_laps(top, bottom, table, stagger=rules.end_lap_stagger, raised=raised)]
        for mine in columns
    ]
    for i, way in as_cut.items():
        plain[i] = list(way.end_laps)
    ways: list[list[DropWay]] = []
    for i, mine in enumerate(columns):
        if i in as_cut:
            ways.append([as_cut[i]])
            continue
        if not _is_tall(mine, table):
            ways.append(ways_to_hang(mine, (), table, stagger=0, beside=(), extra=False))
            continue
        beside = [level for side in around for level in plain[side[i]]]
        choices = ways_to_hang(mine, things[i], table, stagger=rules.end_lap_stagger, beside=beside, extra=extra)
        if i % 2:  # the plainest way of every second drop has its end lap on the other level
            choices[:2] = choices[:2][::-1]
        ways.append(choices)
    if not wall.closed or count == 1:
        return _path(ways, rules, closed=False)
    # a closed run is cut open at its drop with the fewest ways
    start = min(range(count), key=lambda i: (len(ways[i]), i))
    turned = ways[start:] + ways[:start]
    chosen = _path(turned, rules, closed=True)
    return chosen[count - start:] + chosen[:count - start]


def _path(ways: Sequence[Sequence[DropWay]], rules: Rules, *, closed: bool) -> list[DropWay]:
    """Return the best way of each drop along a row; in a closed one the last is beside the first."""
    stagger = rules.end_lap_stagger
    own = [_own_costs(choices) for choices in ways]
    first = len(ways[0])
    # one row for each way of the first drop, which is kept fixed along the row
    totals = np.full((first, first), complex(np.inf, 0))
    np.fill_diagonal(totals, own[0])
    came_from: list[NDArray[np.intp]] = []
    for i in range(1, len(ways)):
        between = _stagger_costs(ways[i - 1], ways[i], stagger)
        if len(ways[i - 1]) == 1:
            came_from.append(np.zeros((first, len(ways[i])), dtype=np.intp))
            totals = totals + between[0] + own[i]
            continue
        through = totals[:, :, None] + between
        came_from.append(through.argmin(axis=1))
        totals = through.min(axis=1) + own[i]
    if closed:
        totals = totals + _stagger_costs(ways[-1], ways[0], stagger).T
    row, last = np.unravel_index(int(totals.argmin()), totals.shape)
    chosen = [int(last)]
    for steps in reversed(came_from):
        chosen.append(int(steps[row, chosen[-1]]))
    return [choices[index] for choices, index in zip(ways, chosen[::-1], strict=True)]


def _own_costs(ways: Sequence[DropWay]) -> CostArray:
    least = min(way.price for way in ways)
    fewest = min(way.pieces for way in ways)
    return np.array([complex(way.shortfall, way.price - least + PIECE * (way.pieces - fewest)) for way in ways])


def _stagger_costs(ways: Sequence[DropWay], following: Sequence[DropWay], stagger: int) -> NDArray[np.int64]:
    """Return by how much the end laps of neighbours are too near in height, for each pair of their ways."""
    deepest = max(len(way.end_laps) for way in ways), max(len(way.end_laps) for way in following)
    if not all(deepest):
        return np.zeros((len(ways), len(following)), dtype=np.int64)
    far = np.iinfo(np.int32).max
    left = np.array([[*way.end_laps, *[-far] * (deepest[0] - len(way.end_laps))] for way in ways])
    right = np.array([[*way.end_laps, *[far] * (deepest[1] - len(way.end_laps))] for way in following])
    apart = np.abs(left[:, None, :, None] - right[None, :, None, :])
    near: NDArray[np.int64] = np.maximum(stagger - apart, 0).sum(axis=(2, 3))
    return near


def too_near(end_laps: Sequence[int], beside: Sequence[int], stagger: int) -> int:
    """Return by how much the end laps of two neighbours lie too near in height, summed [ticks]."""
    return sum(max(0, stagger - abs(one - other)) for one in end_laps for other in beside)


def _neighbours(count: int, closed: bool) -> list[tuple[int, int]]:
    pairs = [(i, i + 1) for i in range(count - 1)]
    return [*pairs, (count - 1, 0)] if closed and count > 1 else pairs


def _shortfall(chosen: Sequence[DropWay], closed: bool, rules: Rules) -> int:
    return sum(way.shortfall for way in chosen) + sum(
        too_near(chosen[i].end_laps, chosen[j].end_laps, rules.end_lap_stagger)
        for i, j in _neighbours(len(chosen), closed)
    )


def _broken(
    wall: Wall, edges: Sequence[Band], chosen: Sequence[DropWay], things: Sequence[Sequence[LapKeep]], rules: Rules,
    unit: Unit,
) -> list[RuleException]:
    found: list[RuleException] = []
    for i, j in _neighbours(len(chosen), wall.closed):
        at = edges[j][0] % wall.length
        apart = {abs(one - other) for one in chosen[i].end_laps for other in chosen[j].end_laps}
        found += [
            RuleException(
                "end_lap_stagger", wall.run, at, needed=rules.end_lap_stagger, found=gap,
                why=f"the end laps of neighbouring drops lie {inches(gap, unit)} apart in height; pieces of at most "
                    f"{inches(rules.max_piece, unit)} leave no better place",
                cure=f"end_lap_stagger of {inches(gap, unit)} here, or a longer max_piece, would allow it",
            ) for gap in sorted(apart) if gap < rules.end_lap_stagger
        ]
    for i, way in enumerate(chosen):
        for thing in things[i]:
            for level in way.end_laps:
                gap = thing.gap(level, rules.end_lap)
                if gap < thing.clear:
                    found.append(RuleException(
                        thing.rule, wall.run, edges[i][0] % wall.length, needed=thing.clear, found=gap,
                        why=f"an end lap lies {inches(gap, unit)} from {thing.tag} in height; no better height is "
                            "within reach of the pieces and clear of the neighbours' end laps",
                        cure="a longer max_piece, or a smaller clearance here, would allow it",
                    ))
    return found
