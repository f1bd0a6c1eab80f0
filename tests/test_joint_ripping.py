"""Narrow pieces of several lengths weighed together: never more than the blocks they can be cut from."""

from __future__ import annotations

import random
from itertools import combinations_with_replacement

import pytest
from test_joint_counts import cheapest

from layout.joint import counts as counts_module
from layout.joint.counts import Counts
from layout.joint.market import Sharing, Terms, Want
from layout.joint.ripping import Ripping, best_ripping
from layout.rolls import Stock

SHARING = Sharing(width=36, narrowest=12)
LONG, SHORT = 20, 16
PIECES = [(LONG, 12), (LONG, 15), (SHORT, 16), (SHORT, 21), (SHORT, 24)]
"""12 and 15 lie side by side, 12 beside 24, 15 beside 21; no two of 16, 21 and 24 do."""


def worth(ripping: Ripping, pieces: list[tuple[int, int]]) -> int:
    return sum(ripping.of(length, 0, [width]) for length, width in pieces)


@pytest.mark.parametrize("seed", range(150))
def test_what_lies_side_by_side_is_worth_no_more_than_its_block(seed: int) -> None:
    rng = random.Random(seed)
    width = rng.randint(20, 40)
    sharing = Sharing(width, rng.randint(5, width // 2))
    lengths = rng.sample(range(5, 20), 3)
    sizes = [(rng.choice(lengths), rng.randint(sharing.narrowest, sharing.widest)) for _ in range(6)]
    found = best_ripping(
        sharing, {size: rng.randint(1, 3) for size in sizes},
        dict(zip(sorted(lengths), sorted((rng.randint(0, 4) for _ in lengths), reverse=True), strict=True)),
    )
    if found is None:
        return
    every = [(length, wide) for length in sorted(lengths) for wide in range(sharing.narrowest, sharing.widest + 1)]
    for count in range(1, width // sharing.narrowest + 1):
        for way in combinations_with_replacement(every[::3] + sizes, count):
            if sum(wide for _, wide in way) <= width:
                assert worth(found, list(way)) <= found.of(max(length for length, _ in way), 1, [])
    for length, wide in every:
        assert found.of(length, 0, [wide]) <= found.of(length, 1, [])
        assert found.of(length, 0, [wide]) <= found.of(length + 1, 0, [wide])
        assert found.of(length, 0, [wide]) <= found.of(length, 0, [wide + 1])


@pytest.mark.parametrize("long, all_, too_few", [(1, 3, True), (1, 4, False), (2, 3, False)])
def test_three_blocks_one_of_them_long_do_not_hold_five_pieces(long: int, all_: int, too_few: bool) -> None:
    """Side by side in the long one, 12 and 15 leave three for two blocks; beside others they need two long ones."""
    found = best_ripping(SHARING, dict.fromkeys(PIECES, 1.0), {LONG: long, SHORT: all_})
    blocks = 0 if found is None else sum(
        more * {LONG: long, SHORT: all_}[length] for length, more in zip(found.lengths, found.more(), strict=True))
    assert (found is not None and worth(found, PIECES) > blocks) == too_few


@pytest.mark.parametrize("length, too_few", [(55, True), (56, False)])
def test_rolls_are_counted_with_them(length: int, too_few: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """One long block and two short ones are 52 long, two and one 56, one and three 68."""
    layouts = [[[Want(long, wide, 1) for long, wide in PIECES]]]

    def counted() -> Counts:
        return Counts(Terms((Stock(length, 36, 1),), SHARING, 1, ()),
                      lambda run, prices: cheapest(layouts, SHARING, run, prices), lambda: False)

    counts = counted()
    assert counts.too_few((1,), cases=50) == too_few
    assert bool(counts.rippings) or not too_few
    monkeypatch.setattr(counts_module, "MOST_RIPPINGS", 0)
    assert not counted().too_few((1,), cases=50)
