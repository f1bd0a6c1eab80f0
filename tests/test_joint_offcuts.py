"""Tall drops split where rolls end: what is cut is what hangs, and it fits."""

from __future__ import annotations

import random
from collections import Counter
from itertools import combinations_with_replacement

import pytest
from joint_jobs import joint_job

from layout.drops.tall import joints_of
from layout.faces import develop
from layout.job import read_job_text
from layout.joint.hang import hang
from layout.joint.offcuts import Tall, _tape, split_at_roll_ends
from layout.joint.search import Search
from layout.records import Job, Wall


@pytest.mark.parametrize("seed", range(60))
def test_the_parts_of_a_rest_take_as_much_of_it_as_any(seed: int) -> None:
    rng = random.Random(seed)
    half = sorted(rng.sample(range(10, 30), rng.randint(1, 6)))
    total = 60
    lengths = tuple(sorted({*half, *(total - one for one in half)}))
    kind = Tall(("A",), (36,), total, lengths)
    for rest in range(0, 2 * total):
        ways = [way for count in (1, 2) for way in combinations_with_replacement(lengths, count) if sum(way) <= rest]
        found = kind.parts(rest)
        most = max(map(sum, ways), default=0)
        assert sum(found) <= rest and all(one in lengths for one in found) and len(found) <= 2
        # two are looked for only where they fill more than half of the rest
        assert sum(found) == most or 2 * most < rest + 2


def test_a_tape_of_three_drops_goes_into_two_rolls() -> None:
    """Whole, 190 is once in 300; in parts it is once and a half."""
    kind = Tall(("A", "B", "C"), (36, 36, 36), 190, tuple(range(60, 86)) + tuple(range(105, 131)))
    tape = _tape([300, 270], [kind])
    assert tape is not None
    assert [sum(length for length, _ in pieces) for pieces in tape.pieces] == [300, 270]
    assert _tape([300, 269], [kind]) is None
    assert _tape([284, 284], [kind]) is None  # 94 is no length that a piece may have


def seeded(seed: int) -> tuple[Job, tuple[Wall, ...]]:
    job = read_job_text(joint_job(seed), "seeded.json")
    return job, develop(job)


def test_what_is_cut_is_what_hangs() -> None:
    job, walls = seeded(31)
    search = Search(job, walls)
    first = search.first()
    ways = 0
    for rolls in ((5, 3, 1, 1), (6, 2, 1, 1), (7, 3, 1, 1)):
        for packing in split_at_roll_ends(
            walls, first.layouts, first.field, first.sheet, job.rules, stocks=search.stock.stocks, rolls=rolls,
            width=job.sheet.width, tries=iter(range(100)),
        ):
            ways += 1
            hung = hang(job, walls, packing.layouts)
            pieces = [(piece.length, piece.width) for piece in hung.pieces]
            pieces += [(piece.length, piece.width) for piece in first.strips if piece.product == "membrane"]
            cut = [(wide, long) if turned else (long, wide)
                   for _, blocks in packing.rolls for block in blocks for long, wide, turned in block]
            assert Counter(cut) == Counter(pieces)
            used = Counter(stock for stock, _ in packing.rolls)
            assert all(used[k] <= count for k, count in enumerate(rolls))
            for stock, blocks in packing.rolls:
                assert sum(max(long for long, _, _ in block) for block in blocks) <= search.stock.stocks[stock].length
                assert all(sum(wide for _, wide, _ in block) <= job.sheet.width for block in blocks)
            for layout in packing.layouts:
                joints = [joints_of(layout.splits[drop.tag]) for drop in layout.drops]
                for here, beside in zip(joints, joints[1:], strict=False):
                    assert all(abs(one - other) >= job.rules.end_lap_stagger for one in here for other in beside)
    assert ways


def test_it_saves_a_roll() -> None:
    """Of a job with nine tall drops among 39, split as they hang and split where rolls end."""
    job, walls = seeded(31)
    search = Search(job, walls)
    best = search.run()
    assert search.proven(best) and best.sheet.cost == search.bound_money()
    assert best.sheet.cost is not None and search.first().sheet.cost is not None
    assert best.sheet.cost < search.first().sheet.cost  # type: ignore[operator]
