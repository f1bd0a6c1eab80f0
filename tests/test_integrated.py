"""Drops and rolls decided together: against a twin that tries everything, and on jobs made so that it matters."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache

import pytest

from helpers.exhaustive import exhaustive
from helpers.small_walls import elevations, rules, wall
from helpers.integrated_jobs import one_after_the_other
from layout.drops import Layout
from layout.faces import develop
from layout.job import read_job_text
from layout.integrated.market import Sharing
from layout.integrated.search import IntegratedSearch, Trial
from layout.records import Job, JobInfo, Product, Profile, Remnant, RollStock, Wall
from layout.rolls import Effort, Item, Problem, Stock
from layout.units import INCH

Wants = tuple[tuple[int, int], ...]
"""(length, width) of every piece of a layout, sorted."""


def tiny(seed: int) -> tuple[Job, tuple[Wall, ...]]:
    """Return a job of one or two tiny walls with a step each, cut from rolls a few drops long."""
    rng = random.Random(seed)
    width, lap, narrowest = rng.choice([(5, 1, 3), (6, 2, 3), (4, 1, 2)])
    walls = []
    for name in "AB"[:rng.choice([1, 1, 2])]:
        length = rng.randint(width + 1, 9 if name == "B" else 12)
        at, low, high = rng.randint(2, length - 2), rng.randint(4, 7), rng.randint(4, 9)
        top: Profile = ((0, low), (at, low), (at, high), (length, high))
        made = wall(length, closed=False, top=top, bottom=((0, 0), (length, 0)))
        walls.append(replace(made, run=name))
    longest = rng.randint(10, 22)
    rolls = [RollStock(longest, width, Decimal(rng.randint(5, 9)))]
    if rng.random() < 0.5:
        rolls.append(RollStock(rng.randint(9, longest), width, Decimal(rng.randint(3, 8))))
    remnants = (Remnant("K1", rng.randint(4, 12), width),) if rng.random() < 0.4 else ()
    sheet = Product("sheet", width, tuple(rolls), remnants)
    job = Job(
        info=JobInfo("Tiny"), unit=INCH, sheet=sheet, strip=Product("strip", 1, ()), strips_from="strip",
        rules=rules(side_lap=lap, min_width=narrowest), runs=(),
    )
    return job, tuple(walls)


def every_layout(of: Wall, job: Job) -> set[Wants]:
    """Return what every row of drops over a wall asks for, every left and right edge tried."""
    width, lap, narrowest = job.sheet.width, job.rules.side_lap, job.rules.min_width

    def piece(left: int, right: int) -> tuple[int, int]:
        return (int(max(elevations(of.top, left, right)) - min(elevations(of.bottom, left, right))), right - left)

    @lru_cache(maxsize=None)
    def rest(left: int) -> frozenset[Wants]:
        found: set[Wants] = set()
        for right in range(left + narrowest, min(left + width, of.length) + 1):
            here = piece(left, right)
            if right == of.length:
                found.add((here,))
                continue
            for following in range(left + 1, right - lap + 1):
                for wants in rest(following):
                    if len(wants) < 5:
                        found.add(tuple(sorted((here, *wants))))
        return frozenset(found)

    return set(rest(0))


def least_cost(job: Job, walls: tuple[Wall, ...]) -> int:
    """Return the least cost over every layout and every cutting."""
    stocks = [Stock(roll.length, roll.width, int(roll.price or 0)) for roll in job.sheet.rolls]
    stocks += [Stock(remnant.length, remnant.width, 0, 1) for remnant in job.sheet.remnants]
    together: set[Wants] = {()}
    for of in walls:
        together = {tuple(sorted((*a, *b))) for a in together for b in every_layout(of, job) if len(a) + len(b) <= 6}
    costs = []
    for wants in thinned(together):
        items = tuple(Item(length, width, wants.count((length, width))) for length, width in sorted(set(wants)))
        cost = exhaustive(Problem(items, tuple(stocks)))
        if cost is not None:
            costs.append(cost)
    return min(costs)


def thinned(wants: set[Wants]) -> list[Wants]:
    """Leave out layouts that ask for as many pieces as another, each at least as long and as wide."""
    kept: list[Wants] = []
    for candidate in sorted(wants, key=lambda pieces: (len(pieces), sum(a * b for a, b in pieces), pieces)):
        if not any(len(other) <= len(candidate) and _within(other, candidate) for other in kept):
            kept.append(candidate)
    return kept


def _within(small: Wants, large: Wants) -> bool:
    """Tell whether the pieces of one layout, matched in order of size, all fit in those of another."""
    return all(a[0] <= b[0] and a[1] <= b[1] for a, b in zip(reversed(small), reversed(large), strict=False))


@pytest.mark.parametrize("seed", range(40))
def test_tiny_jobs_equal_a_twin_that_tries_every_layout_and_every_cutting(seed: int) -> None:
    job, walls = tiny(seed)
    search = IntegratedSearch(job, walls)
    best = search.run()
    least = least_cost(job, walls)
    bound = search.bound_money()
    assert bound is not None and bound <= least
    assert best.sheet.cost == least


def test_the_integrated_search_is_never_dearer_than_one_after_the_other() -> None:
    for seed in range(40, 60):
        job, walls = tiny(seed)
        together, apart = IntegratedSearch(job, walls).run().sheet.cost, one_after_the_other(job, walls).sheet.cost
        assert together is not None and apart is not None and together <= apart


def test_shares_of_pieces_that_fit_side_by_side_never_exceed_the_width() -> None:
    shared = Sharing(width=36, narrowest=12)
    for a in range(1, 37):
        for b in range(1, 37 - a):
            for c in range(0, 37 - a - b):
                assert shared.share(a) + shared.share(b) + (shared.share(c) if c else 0) <= 36
    assert shared.share(24) == 24
    assert shared.share(25) == 36


STEPPED = """
job: {{name: A step}}
units: in
sheet: {{width: 36, rolls: [{{length: 66'-8", price: 205}}]}}
rules: {{turn_down: {turn_down}, fillet: 0, corner_strip: 0, base_strip: 0, clear_of_step: 0}}
runs:
  - name: A
    flow: right
    faces:
      - {{name: South, length: {length}, top: {top}, footing: 0, ledge: 6, footing_depth: 12, corner: none}}
"""


def test_half_an_inch_of_turn_down_inside_its_range_saves_rolls() -> None:
    # 14 drops of 103 3/4 + 6 + 4 = 113 3/4 in: seven take 796 1/4 of an 800 in roll; at 4 1/2 in they are 114 1/4,
    # seven take 799 3/4; at 5 in 114 3/4, seven take 803 1/4 and only six fit
    text = STEPPED.format(turn_down="[4, 6]", length="471 1/2", top="103 3/4")
    job = read_job_text(text, "job.yaml")
    best = IntegratedSearch(job, develop(job)).run()
    assert len(best.sheet.rolls) == 2
    fixed = read_job_text(STEPPED.format(turn_down="5", length="471 1/2", top="103 3/4"), "job.yaml")
    assert len(IntegratedSearch(fixed, develop(fixed)).run().sheet.rolls) == 3


@pytest.mark.slow
def test_without_prices_the_trial_that_opens_the_least_length_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Remnants are there already: what is cut from them counts for nothing."""
    made: list[tuple[int, int]] = []
    search = IntegratedSearch(*sloped())
    tried = search.cut

    def watched(layouts: tuple[Layout, ...], effort: Effort) -> Trial:
        trial = tried(layouts, effort)
        opened = sum(roll.length for roll in trial.sheet.rolls if not roll.remnant)
        made.append((trial.rank[0], opened))
        return trial

    monkeypatch.setattr(search, "cut", watched)
    best = search.run()
    assert len({opened for _, opened in made}) > 1
    assert (best.rank[0], sum(roll.length for roll in best.sheet.rolls if not roll.remnant)) == min(made)


def sloped() -> tuple[Job, tuple[Wall, ...]]:
    """Return a job under slopes and steps without prices, with remnants, where layouts open rolls of other lengths."""
    rng = random.Random(62)
    length = rng.randint(20, 60) * 12
    top, x = [[0, rng.randint(70, 110)]], 0
    while x < length - 20:
        x = min(x + rng.randint(30, 120), length - 20)
        if rng.random() < .5:
            top.append([x, top[-1][1]])
        top.append([x, rng.randint(70, 120)])
    top.append([length, top[-1][1]])
    job = read_job_text(json.dumps({
        "job": {"name": "Without prices"}, "rules": {"base_strip": 0},
        "sheet": {
            "width": 36,
            "rolls": [{"length": one} for one in rng.sample([800, 600, 480, 400, 300], rng.randint(1, 2))],
            "remnants": [
                {"tag": f"K{i}", "length": rng.randint(80, 420), "width": 36} for i in range(rng.randint(2, 7))
            ],
        },
        "runs": [{"name": "A", "flow": "right", "faces": [
            {"name": "F", "length": length, "top": top, "footing": 0, "ledge": 6, "footing_depth": 12},
        ]}],
    }), "job.json")
    return job, develop(job)
