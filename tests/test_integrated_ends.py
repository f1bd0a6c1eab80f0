"""Tall drops split where a roll ends: jobs worked by hand, what end laps keep clear of, and which rolls are tried."""

from __future__ import annotations

import json

import pytest

from helpers.integrated_jobs import integrated_job, one_after_the_other
from layout.drops import split_at
from layout.faces import develop
from layout.integrated.roll_ends import cheaper_rolls
from layout.integrated.search import IntegratedSearch
from layout.job import read_job_text
from layout.pipeline import make_plan
from layout.records import Job, Plan
from layout.rolls import Stock

TICKS = 16
"""Ticks in an inch."""


def tall(drops: int, *, roll: float, **face: object) -> Job:
    """Return a wall of so many drops of 36 in, each 175 in high with a turn-down of 4 in [in]."""
    return read_job_text(json.dumps({
        "job": {"name": "Tall"}, "sheet": {"width": 36, "rolls": [{"length": roll, "price": 100}]},
        "rules": {"turn_down": 4, "corner_strip": 0, "base_strip": 0, "cut_to": "1/16", "roll_end": 0,
                  "end_lap": 5, "end_lap_stagger": 12, "max_piece": 144},
        "runs": [{"name": "A", "flow": "right", "faces": [
            {"name": "A", "length": 33.5 * drops + 2.5, "top": 171, "footing": 0, **face}]}],
    }), "tall")


def end_laps(plan: Plan) -> list[float]:
    """Return the foot of each upper piece, drop after drop [in]."""
    uppers = {piece.drop: piece for piece in plan.pieces if piece.tag.endswith("a")}
    return [min(y for _, y in uppers[drop.tag].outline) / TICKS for drop in plan.drops]


def test_drops_split_at_the_ends_of_rolls_save_a_roll() -> None:
    """Seven drops in two pieces take 7 x (175 + 5) = 1,260 in, and five rolls of 254 in hold 1,270.

    With all end laps half a stagger, 6 in, off the middle, 96 and 84 in: a roll holds three of 84 in, else two pieces.
    Two rolls of 84, 84, 84 in leave one of 84 and seven of 96 in, two a roll: four rolls more, six in all.
    """
    job = tall(7, roll=254)
    assert len(one_after_the_other(job, develop(job)).sheet.rolls) == 6
    plan = make_plan(job)
    assert (len(plan.cuttings[0].rolls), plan.cost_bound, plan.optimal, plan.exceptions) == (5, 500, True, ())
    for drop in plan.drops:
        assert sum(piece.length for piece in plan.pieces if piece.drop == drop.tag) == 180 * TICKS
    levels = end_laps(plan)
    assert all(abs(one - other) >= 12 for one, other in zip(levels, levels[1:], strict=False))


def test_a_drop_is_split_elsewhere_only_where_all_rules_are_kept() -> None:
    """Pieces of 36 to 144 in, 12 in from the end laps beside, and an end lap of 5 in at least 6 in off a sleeve.

    The drops hang from -4 to 171 in; a lower piece of 60 in ends at 56, its end lap begins at 51.
    """
    job = tall(3, roll=254, sleeves=[{"tag": "P", "at": 52, "elevation": 100, "diameter": 8}])
    wall, = develop(job)
    layout = one_after_the_other(job, (wall,)).layouts[0]
    first, _, last = (layout.splits[drop.tag][1][0] / TICKS for drop in layout.drops)
    beside = {first - 5, last - 5}
    clear = job.rules.clear_of_sleeve / TICKS
    for sixteenths in range(30 * TICKS, 150 * TICKS, 4):
        lower = sixteenths / TICKS
        level = lower - 4 - 5
        kept = (
            36 <= lower <= 144 and all(abs(level - other) >= 12 for other in beside)
            and (level + 5 <= 96 - clear or level >= 104 + clear)
        )
        changed = split_at(layout, wall, job.rules, 1, sixteenths)
        assert (changed is not None) == kept, lower
        if changed is not None:
            (top, foot), (head, bottom) = changed.splits[layout.drops[1].tag]
            assert (top, foot, head, bottom) == (171 * TICKS, level * TICKS, (level + 5) * TICKS, -4 * TICKS)


def test_a_drop_in_one_piece_is_not_split() -> None:
    job = tall(3, roll=254, top=130)
    wall, = develop(job)
    layout = one_after_the_other(job, (wall,)).layouts[0]
    assert [split_at(layout, wall, job.rules, 1, lower * TICKS) for lower in (40, 70, 100)] == [None] * 3


ROLLS = [Stock(100, 36, 10), Stock(60, 36, 7), Stock(20, 36, 0, 1)]


@pytest.mark.parametrize(("asked", "below", "choices"), [
    (200, 22, [(2, 0, 0), (2, 1, 1, 1)]),  # 220 for 20; 200 for 21
    (200, 20, []),
    (221, 28, [(2, 0, 1, 1), (2, 0, 0, 1)]),  # 240 for 24, 280 for 27
    (20, 5, []),  # the remnant alone is enough: nothing costs less
])
def test_rolls_long_enough_that_cost_less(asked: int, below: int, choices: list[tuple[int, ...]]) -> None:
    assert cheaper_rolls(ROLLS, asked, below) == choices


def test_a_run_of_many_tall_drops_is_cut_at_its_bound() -> None:
    """Eleven rolls at 205; twelve of two lengths, at 2,331, are what its usual end laps take."""
    job = read_job_text(integrated_job(8), "job.json")
    search = IntegratedSearch(job, develop(job))
    best = search.run()
    assert (best.sheet.cost, search.bound_money(), search.proven(best)) == (2255, 2255, True)
