"""Tall drops whose end laps are staggered: the bound against a twin that hangs every row of drops in every way.

The twin tries every left and right edge of every drop and every height of every end lap, and keeps those of neighbours
a stagger apart. It knows nothing of pairs, classes or blocks.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import lru_cache

import numpy as np
import pytest
from test_drops_twin import elevations, in_small_parts, rules, wall

from layout.drops import place
from layout.drops.prices import Own, WidthBand
from layout.records import Hole, Rules, Wall

WIDTH, LAP, NARROWEST, SHARE, LONGEST, END_LAP = 7, 2, 4, 5, 12, 1
Lengths = Callable[[int], int]


class Staggered:
    """The least price of a run with all neighbours' end laps a stagger apart; None when there is no such layout."""

    def __init__(self, wall: Wall, rules: Rules, least: Lengths, tick: Lengths, wide: Lengths) -> None:
        self.wall, self.stagger = wall, rules.end_lap_stagger
        self.least, self.tick, self.wide = least, tick, wide
        shifts = range(3) if wall.closed else range(1)
        self.top, self.bottom = (
            tuple((x + s * wall.length, y) for s in shifts for x, y in profile) for profile in (wall.top, wall.bottom)
        )
        self.holes = [(h.left + s * wall.length, h.right + s * wall.length, h.bottom, h.top)
                      for s in shifts for h in wall.holes]
        self.after = lru_cache(None)(self._after)
        self.ways = lru_cache(None)(self._ways)

    def price(self, lengths: list[int], width: int) -> int:
        if width > SHARE:
            return sum(self.wide(length) for length in lengths)
        return sum(self.least(length) + self.tick(length) * (width - NARROWEST) for length in lengths)

    def _ways(self, left: int, right: int) -> list[tuple[tuple[int, ...], int]]:
        """Joints and price of every way to hang a drop in the fewest pieces."""
        top = max(elevations(self.top, left, right))
        bottom = min(elevations(self.bottom, left, right))
        columns: list[tuple[Fraction, Fraction]] = []
        for a, b, low, high in sorted(self.holes, key=lambda hole: -hole[3]):
            if a <= left and right <= b:
                columns.append((top, Fraction(high)))
                top = Fraction(low)
        columns.append((top, bottom))
        found: list[tuple[tuple[int, ...], list[int]]] = [((), [])]
        for upper, lower in columns:
            found = [(joints + more, lengths + pieces) for joints, lengths in found
                     for more, pieces in self.hung(int(upper), int(lower))]
        return [(joints, self.price(lengths, right - left)) for joints, lengths in found]

    def hung(self, top: int, bottom: int) -> Iterator[tuple[tuple[int, ...], list[int]]]:
        height = top - bottom
        if height <= LONGEST:
            yield (), [height] if height > 0 else []
        for lower in range(height + END_LAP - LONGEST, LONGEST + 1):
            if height > LONGEST:
                yield (bottom + lower - END_LAP,), [lower, height + END_LAP - lower]

    def _after(self, left: int, beside: tuple[int, ...], end: int, first: tuple[int, ...]) -> int | None:
        """Least price from a left edge on, beside a drop with some joints; round to ``end`` and the first drop's."""
        best: int | None = None
        for right in range(left + NARROWEST, left + WIDTH + 1):
            if not self.wall.closed and right > end:
                break
            for joints, price in self.ways(left, right):
                if not self.apart(beside, joints):
                    continue
                rests = [0] if not self.wall.closed and right == end else []
                for following in range(left + 1, right - LAP + 1):
                    if following > end:
                        break
                    if self.wall.closed and following == end:
                        rests += [0] if self.apart(joints, first) else []
                    elif self.wall.closed or right < end:
                        rest = self.after(following, joints, end, first)
                        rests += [] if rest is None else [rest]
                if rests and (best is None or price + min(rests) < best):
                    best = price + min(rests)
        return best

    def apart(self, one: tuple[int, ...], other: tuple[int, ...]) -> bool:
        return all(abs(a - b) >= self.stagger for a in one for b in other)

    def best(self) -> int | None:
        if not self.wall.closed:
            return self.after(0, (), self.wall.length, ())
        found = []
        for start in range(self.wall.length):
            for right in range(start + NARROWEST, start + WIDTH + 1):
                for joints, price in self.ways(start, right):
                    for following in range(start + 1, right - LAP + 1):
                        rest = self.after(following, joints, start + self.wall.length, joints)
                        found += [] if rest is None else [price + rest]
        return min(found, default=None)


def stepped(rng: random.Random, most: int) -> Lengths:
    """A price of lengths that rises in a few steps, as blocks of a few lengths do: some near half a column's height."""
    steps = [rng.choice((0, 0, 0, 0, most)) for _ in range(40)]
    steps[rng.randint(8, 11)] += 3 * most
    totals = np.cumsum(steps)
    return lambda length: int(totals[length])


def tall_wall(rng: random.Random, *, closed: bool) -> Wall:
    length = rng.randint(12, 15) if closed else rng.randint(8, 24)
    height = rng.randint(13, 19)
    step = rng.randint(4, length - 4)
    below = rng.choice((0, 0, 0, 1, 2))
    bottom = ((0, 0), (step, 0), (step, -below), (length, -below))
    left = rng.randint(2, length - 5)
    holes = () if rng.random() < 0.7 else (Hole("W", "window", left, left + rng.randint(2, 4), 3, 6),)
    return wall(length, closed=closed, top=((0, height), (length, height)), bottom=bottom, holes=holes)


def job(seed: int) -> tuple[Wall, Rules, Lengths, Lengths, Lengths]:
    rng = random.Random(seed)
    some = tall_wall(rng, closed=seed % 3 == 2)
    some_rules = rules(side_lap=LAP, end_lap=END_LAP, min_width=NARROWEST, max_piece=LONGEST,
                       end_lap_stagger=rng.randint(1, 3))
    least, tick, jump = stepped(rng, 4), stepped(rng, 1), stepped(rng, 3)

    def wide(length: int) -> int:
        return least(length) + tick(length) * (SHARE - NARROWEST) + jump(length)

    return some, some_rules, least, tick, wide


def bound(seed: int, *, staggered: bool) -> int:
    some, some_rules, *lengths = job(seed)
    least, tick, wide = (np.vectorize(one, otypes=[np.int64]) for one in lengths)
    layout = place(
        some, some_rules, width=WIDTH, side_lap=LAP, share=SHARE, own=Own((WidthBand(NARROWEST, least, tick),), wide),
        staggered=staggered, prefix="A",
    )
    assert layout.bound is not None
    return layout.bound.price


@pytest.mark.parametrize("seed", range(240))
def test_no_staggered_layout_costs_less_than_the_bound(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    in_small_parts(seed, monkeypatch)
    best = Staggered(*job(seed)).best()
    found = bound(seed, staggered=True)
    assert bound(seed, staggered=False) <= found
    assert best is None or found <= best


def test_the_bound_is_often_met_where_it_was_not() -> None:
    met, before = 0, 0
    for seed in range(0, 240, 3):
        best = Staggered(*job(seed)).best()
        met += bound(seed, staggered=True) == best
        before += bound(seed, staggered=False) == best
    assert met > before + 5


@pytest.mark.parametrize("drops, dear", [(1, 0), (2, 1), (3, 1), (4, 2), (5, 2)])
def test_every_second_drop_pays_for_the_stagger(drops: int, dear: int) -> None:
    """15 high, in pieces of 8 and 8 at no price, or 11 and 5 of which one costs 1: of neighbours one must."""
    length = drops * (WIDTH - LAP) + LAP
    some = wall(length, closed=False, top=((0, 15), (length, 15)), bottom=((0, 0), (length, 0)))
    some_rules = rules(side_lap=LAP, end_lap=1, min_width=WIDTH, max_piece=12, end_lap_stagger=3)

    def price(lengths: np.ndarray) -> np.ndarray:
        return np.where(lengths > 8, 1, 0)

    layout = place(some, some_rules, width=WIDTH, side_lap=LAP, price=price, staggered=True, prefix="A")
    alone = place(some, some_rules, width=WIDTH, side_lap=LAP, price=price, prefix="A")
    assert layout.bound is not None and alone.bound is not None
    assert (len(layout.drops), layout.bound.price, layout.cost.price, alone.bound.price) == (drops, dear, dear, 0)
