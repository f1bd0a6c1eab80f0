"""Tall drops split where a roll ends, so that rolls are cut up to their ends.

A drop that is too tall for one piece may be split at many heights, and takes as much sheet wherever it is. So rolls are
filled with what there is, longest first, and the last piece of each is as long as the room that is left: half of a
drop that was kept back for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

import numpy as np

from layout.drops import Layout, split_at
from layout.drops.prices import cut_lengths, longest_piece
from layout.integrated.hang import Hung
from layout.records import Job, Piece, Wall
from layout.rolls import CutBlock, Lay, Pattern, Problem, Stock
from layout.rolls.assemble import faults
from layout.rolls.cutting import gather_pieces
from layout.rolls.first_fit import decreasing, first_fit

MOST_WAYS = 5_000
"""Ways to choose how many rolls are opened that are gone through."""
MOST_CHOICES = 3
"""Choices of rolls that are filled, the cheapest first."""


@dataclass(frozen=True)
class CutPart:
    """What is cut off a roll at once: its length [ticks], and lane by lane the tags of its pieces."""

    length: int
    lanes: tuple[tuple[str, ...], ...]


CutRoll = tuple[int, tuple[CutPart, ...]]
"""The stock of a roll, and what is cut from it."""


@dataclass(frozen=True)
class Tall:
    """A drop in an upper and a lower piece: the number of its run, its own there, and its pieces' tags."""

    run: int
    number: int
    upper: str
    lower: str


@dataclass(frozen=True)
class Ended:
    """Layouts whose tall drops are split at the ends of rolls.

    Parameters
    ----------
    layouts
        One of each run.
    asked
        Length of roll that they take [ticks].
    rolls
        What is cut from each.
    """

    layouts: tuple[Layout, ...]
    asked: int
    rolls: tuple[CutRoll, ...]

    def patterns(self, pieces: Mapping[str, Piece], problem: Problem) -> list[Pattern] | None:
        """Return the rolls as a cutting of a problem; None where they are none of just its pieces."""
        numbers = {(item.length, item.width): i for i, item in enumerate(problem.items) if not item.turnable}
        if not all(tag in pieces for _, parts in self.rolls for part in parts for lane in part.lanes for tag in lane):
            return None
        patterns = [Pattern(stock, tuple(sorted((CutBlock(part.length, tuple(sorted(
            tuple(Lay(numbers[pieces[tag].length, pieces[tag].width]) for tag in lane) for lane in part.lanes)))
            for part in parts), reverse=True))) for stock, parts in self.rolls]
        return None if faults(problem, patterns) else patterns


def to_the_ends(
    job: Job, walls: Sequence[Wall], layouts: Sequence[Layout], field: Hung, others: Sequence[Piece],
    stocks: Sequence[Stock], *, wide: int, below: int, longest: int | None,
) -> Ended | None:
    """Split tall drops at the ends of rolls that cost less than so much.

    Parameters
    ----------
    job, walls
        The job and its runs.
    layouts, field
        A layout of each run, and what hangs in them.
    others
        Strips that are cut from the sheet too.
    stocks
        Rolls and remnants with whole costs.
    wide
        Greatest width of a piece that another one fits beside [ticks].
    below
        The rolls must cost less.
    longest
        The layouts must take less of the rolls [ticks]; None: no limit.

    Returns
    -------
    Ended or None
        None where no cheaper rolls are long enough, or where that was not found.
    """
    pieces = {piece.tag: piece for piece in (*field.pieces, *others)}
    hung = {drop.tag: drop.pieces for drop in field.drops}
    tall = [
        Tall(run, number, *hung[drop.tag]) for run, layout in enumerate(layouts)
        for number, drop in enumerate(layout.drops)
        if len(hung[drop.tag]) == 2 and drop.right - drop.left > wide
        and split_at(layout, walls[run], job.rules, number, _lower(layout, number)) is not None
    ]
    if not tall:
        return None
    halves = {tag for each in tall for tag in (each.upper, each.lower)}
    parts = side_by_side([piece for tag, piece in pieces.items() if tag not in halves], job.sheet.width)
    asked = sum(part.length for part in parts) + sum(pieces[tag].length for tag in halves)
    if longest is None or asked < longest:
        for rolls in cheaper_rolls(stocks, asked, below)[:MOST_CHOICES]:
            lengths = sorted((stocks[k].length, k) for k in rolls)
            spare = sum(length for length, _ in lengths) - asked
            filling = _Filling(job, walls, layouts, pieces, parts, tall)
            cut = filling.run(lengths, spare)
            if cut is not None:
                return Ended(tuple(filling.layouts), asked, cut)
    return None


def _lower(layout: Layout, number: int) -> int:
    """Return the height of the lowest piece of a drop [ticks]."""
    top, bottom = layout.splits[layout.drops[number].tag][-1]
    return top - bottom


def side_by_side(pieces: Sequence[Piece], width: int) -> list[CutPart]:
    """Return what is cut off a roll for some pieces, narrow ones side by side as first-fit decreasing lays them."""
    if not pieces:
        return []
    endless = Stock(sum(piece.length for piece in pieces), width, 1)
    problem, items = gather_pieces(pieces, (endless,))
    tags: list[list[str]] = [[] for _ in problem.items]
    for piece, item in zip(pieces, items, strict=True):
        tags[item].append(piece.tag)
    return [
        CutPart(block.length, tuple(tuple(tags[lay.item].pop() for lay in lane.lays) for lane in block.lanes))
        for roll in first_fit(problem, list(decreasing(problem)), [0]) or () for block in roll.blocks
    ]


def cheaper_rolls(stocks: Sequence[Stock], asked: int, below: int) -> list[tuple[int, ...]]:
    """Return choices of rolls together at least so long that cost less than so much, the cheapest first.

    Examples
    --------
    >>> cheaper_rolls([Stock(100, 36, 10), Stock(60, 36, 7), Stock(20, 36, 0, 1)], 200, 22)
    [(2, 0, 0), (2, 1, 1, 1)]
    """
    free = [k for k, stock in enumerate(stocks) if not stock.cost for _ in range(stock.count or 0)]
    bought = [k for k, stock in enumerate(stocks) if stock.cost]
    asked -= sum(stocks[k].length for k in free)
    most = [
        min(-(-max(asked, 0) // stock.length), (below - 1) // stock.cost, asked if stock.count is None else stock.count)
        for stock in (stocks[k] for k in bought)
    ]
    found = []
    if asked > 0 and prod(count + 1 for count in most) <= MOST_WAYS:
        for counts in product(*(range(count + 1) for count in most)):
            rolls = [k for k, count in zip(bought, counts, strict=True) for _ in range(count)]
            spare = sum(stocks[k].length for k in rolls) - asked
            cost = sum(stocks[k].cost for k in rolls)
            if cost < below and 0 <= spare < min(stocks[k].length for k in rolls):
                found.append((cost, -spare, (*free, *rolls)))
    return [rolls for _, _, rolls in sorted(found)]


class _Filling:
    """Rolls being filled one after the other."""

    def __init__(
        self, job: Job, walls: Sequence[Wall], layouts: Sequence[Layout], pieces: Mapping[str, Piece],
        parts: Sequence[CutPart], tall: Sequence[Tall],
    ) -> None:
        self.rules, self.walls, self.layouts, self.pieces = job.rules, walls, list(layouts), pieces
        self.step, self.longest = max(job.rules.cut_to, 1), longest_piece(job.rules)
        self.pool, self.kept = list(parts), list(tall[::2])  # neighbours of what is kept stay as they are
        for each in tall[1::2]:
            self._halve(each)

    def _halve(self, tall: Tall) -> None:
        """Give up a drop that was kept back: it stays split where it is."""
        self.pool += [CutPart(self.pieces[tag].length, ((tag,),)) for tag in (tall.upper, tall.lower)]

    def run(self, rolls: Sequence[tuple[int, int]], spare: int) -> tuple[CutRoll, ...] | None:
        """Fill rolls, given by length and stock, that are together so much longer than what is cut from them."""
        cut: list[CutRoll] = []
        for length, stock in rolls:
            parts, room = self._fill(length)
            spare -= room if self.pool or self.kept else 0
            if spare < 0:
                return None
            cut.append((stock, tuple(parts)))
        return None if self.pool or self.kept else tuple(each for each in cut if each[1])

    def _fill(self, length: int) -> tuple[list[CutPart], int]:
        """Take what is cut from one roll; return it and the room that is left."""
        while True:
            parts, rest, room = list[CutPart](), list[CutPart](), length
            for part in sorted(self.pool, key=lambda part: (-part.length, part.lanes)):
                if part.length <= room:
                    parts.append(part)
                    room -= part.length
                else:
                    rest.append(part)
            if room <= self.longest or not self.kept:
                break
            self._halve(self.kept.pop())
        self.pool = rest
        for out in (None, *parts[::-1]) if room >= self.step else ():
            end = self._end(room + (out.length if out else 0))
            if end is not None:
                if out is not None:
                    parts.remove(out)
                    room += out.length
                    self.pool.append(out)
                self.pool.append(end[1])
                return [*parts, end[0]], room - end[0].length
        return parts, room

    def _end(self, room: int) -> tuple[CutPart, CutPart] | None:
        """Split a drop that was kept back so that one half just fills a room; return that half and the other one."""
        height = room // self.step * self.step - self.rules.cut_allowance
        for tall in self.kept:
            layout, wall = self.layouts[tall.run], self.walls[tall.run]
            (top, _), (_, bottom) = layout.splits[layout.drops[tall.number].tag]
            other = top - bottom + self.rules.end_lap - height
            for tags, lower in (((tall.lower, tall.upper), height), ((tall.upper, tall.lower), other)):
                changed = split_at(layout, wall, self.rules, tall.number, lower)
                if changed is not None:
                    self.kept.remove(tall)
                    self.layouts[tall.run] = changed
                    one, rest = cut_lengths(np.array([height, other]), self.rules).tolist()
                    return CutPart(one, ((tags[0],),)), CutPart(rest, ((tags[1],),))
        return None
