"""A few pieces, cut every way there is: what the dearer searches cannot close is settled here when it is small."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import TypeVar

from layout.rolls.problem import CutBlock, Lay, Pattern, Problem

FEW = 8
"""Pieces up to which every way is tried: sets of sets of them number 3 to that power."""

PieceSize = tuple[int, int]
Lays = tuple[Lay, ...]
T = TypeVar("T")


def every_way(problem: Problem) -> list[Pattern] | None:
    """Return the cheapest cutting there is, one pattern a roll; None when the stock cannot hold the pieces.

    Parameters
    ----------
    problem
        Of ``FEW`` pieces at most.

    Notes
    -----
    Dynamic programs over sets of pieces: those that make a lane, lanes that make a block, blocks that make a roll,
    and rolls.
    """
    pieces = [number for number, item in enumerate(problem.items) for _ in range(item.demand)]

    @lru_cache(maxsize=None)
    def lanes(mask: int) -> dict[PieceSize, Lays]:
        """Return the lanes that a set makes: (length, width) of those not longer and wider than another."""
        if not mask:
            return {(0, 0): ()}
        low = mask & -mask
        number = pieces[low.bit_length() - 1]
        return _least({
            (length + long, max(width, wide)): (*lays, Lay(number, turned))
            for (length, width), lays in lanes(mask ^ low).items()
            for long, wide, turned in problem.items[number].ways()
        })

    @lru_cache(maxsize=None)
    def blocks(mask: int) -> dict[PieceSize, tuple[Lays, ...]]:
        """Return the blocks that a set makes side by side."""
        if not mask:
            return {(0, 0): ()}
        return _least({
            (max(length, long), width + wide): (*others, lays)
            for part in _parts(mask) for (long, wide), lays in lanes(part).items()
            for (length, width), others in blocks(mask ^ part).items()
        })

    @lru_cache(maxsize=None)
    def roll(mask: int, width: int) -> tuple[int, tuple[CutBlock, ...]]:
        """Return the least length of a roll of some width that the pieces can be cut from, and its blocks."""
        if not mask:
            return 0, ()
        best = NEVER
        for part in _parts(mask):
            fitting = min(((long, lays) for (long, wide), lays in blocks(part).items() if wide <= width), default=None)
            if fitting:
                rest, others = roll(mask ^ part, width)
                best = min(best, (rest + fitting[0], (CutBlock(*fitting), *others)))
        return best

    @lru_cache(maxsize=None)
    def rolls(mask: int, left: tuple[int, ...]) -> tuple[int, tuple[Pattern, ...]] | None:
        """Return the least cost of a set from rolls, of which so many are left, and their patterns."""
        if not mask:
            return 0, ()
        best: tuple[int, tuple[Pattern, ...]] | None = None
        for part in _parts(mask):
            for k, stock in enumerate(problem.stocks):
                length, cut = roll(part, stock.width)
                if not left[k] or length > stock.length:
                    continue
                rest = rolls(mask ^ part, (*left[:k], left[k] - 1, *left[k + 1:]))
                if rest and (best is None or rest[0] + stock.cost < best[0]):
                    pattern = Pattern(k, tuple(sorted(cut, reverse=True)))
                    best = rest[0] + stock.cost, (pattern, *rest[1])
        return best

    found = rolls((1 << len(pieces)) - 1, tuple(
        len(pieces) if stock.count is None else min(stock.count, len(pieces)) for stock in problem.stocks))
    return list(found[1]) if found else None


NEVER: tuple[int, tuple[CutBlock, ...]] = (1 << 62, ())


def _parts(mask: int) -> Iterator[int]:
    """Give every part of a set that holds its lowest member."""
    low = mask & -mask
    rest = sub = mask ^ low
    while True:
        yield sub | low
        if not sub:
            return
        sub = (sub - 1) & rest


def _least(shapes: dict[PieceSize, T]) -> dict[PieceSize, T]:
    """Return the shapes that no other is as short and as narrow as."""
    kept: dict[PieceSize, T] = {}
    narrowest: int | None = None
    for length, width in sorted(shapes):
        if narrowest is None or width < narrowest:
            kept[length, width] = shapes[length, width]
            narrowest = width
    return kept
