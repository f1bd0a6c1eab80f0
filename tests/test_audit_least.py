"""The least worth of a row of drops, against every row tried tick by tick on small walls."""

from __future__ import annotations

import random
from types import SimpleNamespace

import numpy as np
import pytest

from layout.audit.least import BIG, RowSearch, WorthTerms

WIDTH, LAP, NARROWEST = 12, 2, 5
RULES = {"side_lap": LAP, "min_width": NARROWEST, "cut_to": 1, "cut_allowance": 0, "end_lap": 2, "max_piece": 400}


def small_wall(rng: random.Random) -> SimpleNamespace:
    """Return cells of a wall of a few drops with steps or slopes, openings and places that seams keep clear of."""
    length = rng.randrange(15, 40)
    top, bottom = np.full(length, rng.randrange(40, 60)), np.zeros(length, dtype=np.int64)
    for _ in range(rng.randrange(4)):
        at, by = rng.randrange(length), rng.randrange(-6, 7)
        bottom[at:] += by
        if rng.random() < 0.4:
            top[at:at + 20] += np.arange(len(top[at:at + 20]))
    holes = []
    for _ in range(rng.randrange(3)):
        left = rng.randrange(length - 8)
        right = min(left + rng.randrange(2, 20), length - 1)
        holes.append(SimpleNamespace(left=left, right=right, bottom=20, top=rng.randrange(21, 35)))
    holes = holes[:1] if len(holes) > 1 and holes[1].left <= holes[0].right else holes
    keeps = [(at := rng.randrange(2, length), at + rng.randrange(3), rng.randrange(1, 7))
             for _ in range(rng.randrange(7))]
    keeps += [(jamb, jamb, rng.randrange(1, 4)) for hole in holes for jamb in (hole.left, hole.right)]
    return SimpleNamespace(
        run=SimpleNamespace(closed=rng.random() < 0.4), asked=SimpleNamespace(rules=RULES), length=length,
        top=top, bottom=bottom, holes=holes, keeps=keeps,
    )


def one_drop(wall: SimpleNamespace, worth: np.ndarray, widest: int, left: int, right: int) -> int:
    """Return what a drop between two edges is worth, split by openings that hold all of its width."""
    cells = np.arange(left, right) % wall.length
    top, bottom = int(wall.top[cells].max()), int(wall.bottom[cells].min())
    total = 0
    turns = range(3) if wall.run.closed else range(1)
    by = [(hole, turn * wall.length) for hole in wall.holes for turn in turns]
    for hole, shift in sorted(by, key=lambda each: -each[0].top):
        if hole.left + shift <= left and right <= hole.right + shift:
            total += int(worth[max(top - hole.top, 0)])
            top = hole.bottom
    total += int(worth[max(top - bottom, 0)])
    return total * (right - left if right - left <= widest else WIDTH)


def missed(wall: SimpleNamespace, right: int, neighbour: int) -> int:
    """Return by how much a seam from a neighbour's left edge to a drop's right edge misses its clearances."""
    turns = range(-1, 3) if wall.run.closed else range(1)
    return sum(
        min(max(right - (a + turn * wall.length - clear), 0), clear)
        - min(max(neighbour - (b + turn * wall.length), 0), clear)
        for a, b, clear in wall.keeps for turn in turns
    )


def every_row(wall: SimpleNamespace, worth: np.ndarray, widest: int) -> tuple[int, int]:
    """Return the least clearance missed and worth of any row, each pair of edges looked at by itself."""
    def cost(left: int, neighbour: int) -> int:
        rights = {max(neighbour + LAP, left + NARROWEST)}
        for hole in wall.holes:
            for turn in range(3) if wall.run.closed else range(1):
                a, b = hole.left + turn * wall.length, hole.right + turn * wall.length
                if left >= a and max(rights) <= b and b + 1 - left <= WIDTH:
                    rights.add(b + 1)
        return min(missed(wall, right, neighbour) * BIG + one_drop(wall, worth, widest, left, right)
                   for right in rights)

    def rows(start: int, end: int) -> dict[int, int]:
        best = {start: 0}
        for neighbour in range(start + 1, end + 1):
            best[neighbour] = min(best[left] + cost(left, neighbour)
                                  for left in range(max(neighbour - WIDTH + LAP, start), neighbour))
        return best

    if wall.run.closed:
        return divmod(min(rows(start, start + wall.length)[start + wall.length]
                          for start in range(min(WIDTH - LAP, wall.length))), BIG)
    best = rows(0, wall.length - NARROWEST)
    return divmod(min(best[left] + one_drop(wall, worth, widest, left, wall.length)
                      for left in range(max(wall.length - WIDTH, 0), wall.length - NARROWEST + 1)), BIG)


@pytest.mark.parametrize("seed", range(40))
def test_no_row_of_drops_is_worth_less(seed: int) -> None:
    """Worths that rise anyhow but subadditively, widest drops that share a roll's width or none."""
    rng = random.Random(seed)
    wall = small_wall(rng)
    base = rng.choice([5, 40, 90])
    worth = np.array([0, *(base + 3 * height + rng.randrange(3) for height in range(1, 401))], dtype=np.int64)
    worth = np.maximum.accumulate(worth)
    widest = rng.choice([0, 7])
    expected = every_row(wall, worth, widest)
    search = RowSearch(wall, WorthTerms(worth, WIDTH, widest))  # type: ignore[arg-type]
    assert search.least(expected) == expected
    assert search.least((expected[0], expected[1] + 1)) == expected
