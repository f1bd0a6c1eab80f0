"""What a rule costs: jobs made so that one change saves a roll, worked by hand, and jobs where none does."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace

import pytest

from helpers.integrated_jobs import integrated_job
from helpers.thinned import slow_where
from layout.errors import NoLayout
from layout.faces import develop
from layout.job import echo, read_job_text
from layout.integrated import decide
from layout.records import Job, Plan, RuleException
from layout.savings import changes, savings

FACE = {"name": "South", "length": 471.5, "top": 110.75}
"""Just what 14 drops cover: 14 x 36 - 13 x 2 1/2 in. With 4 in of turn-down they are 9'-6 3/4" long."""


def job_of(
    rules: Mapping[str, object], *, rolls: object = None, face: Mapping[str, object] = FACE, **more: object,
) -> Job:
    """Return a job of one straight wall without strips."""
    sheet = {"width": 36, "rolls": rolls or [{"length": 800, "price": 205}], **more}
    return read_job_text(json.dumps({
        "job": {"name": "Wall"}, "sheet": sheet, "rules": {
            "corner_strip": 0, "base_strip": 0, "cut_to": "1/16", "roll_end": 0, **rules},
        "runs": [{"name": "A", "faces": [face]}],
    }), "wall")


def plan_core(job: Job) -> Plan:
    """Plan drops and rolls."""
    return decide(job, develop(job), progress=lambda words: None, stop=lambda: False)


def bought(plan: Plan) -> int:
    """Return how many rolls a plan buys."""
    return sum(not roll.remnant for roll in plan.cuttings[0].rolls)


def found(job: Job, *, most: int = 99) -> tuple[Mapping[str, object], ...]:
    """Return what is found to save, each change planned again here and held against what is said of it."""
    plan = plan_core(job)
    told = savings(job, plan, plan_core, most=most, thorough=True)
    jobs = {change.words: change.job for change in changes(job, plan)}
    for saving in told:
        again = plan_core(jobs[str(saving["change"])])
        assert bought(plan) - bought(again) == saving["saves_rolls"]
        assert json.loads(json.dumps(saving)) == dict(saving)
    return told


def test_half_an_inch_of_turn_down_below_its_range_saves_a_roll() -> None:
    # 14 drops of 114 3/4 in, 6 a roll of 800 in: 3 rolls. 7 of them need 803 1/4: 3 1/4 / 7 = 0.46 in too much each
    job = job_of({"turn_down": [4, 6]})
    (saving,) = found(job)
    assert {key: saving[key] for key in ("rule", "from", "to", "saves_rolls", "saves_cost", "source")} == {
        "rule": "turn_down", "from": '4"', "to": '3 1/2"', "saves_rolls": 1, "saves_cost": 205.0, "source": "",
    }
    assert saving["change"] == 'turn_down 3 1/2" instead of 4"'
    assert saving["why"] == '7 drops of 9\'-6 3/4" need 66\'-11 1/4" of a 66\'-8" roll: 1/2" less each and they fit'
    assert saving["text"] == f'turn_down 3 1/2" instead of 4" saves 1 roll and 205.00: {saving["why"]}'


def test_inside_its_range_the_plan_takes_it_by_itself() -> None:
    job = job_of({"turn_down": [3.5, 6]})
    assert len(plan_core(job).cuttings[0].rolls) == 2
    assert found(job) == ()


def test_a_turn_down_is_not_proposed_where_the_near_miss_is_too_far() -> None:
    job = job_of({"turn_down": [4, 6]}, face={**FACE, "top": 112})  # 116 in: 12 in too much for seven, 1 5/7 each
    assert [saving["rule"] for saving in found(job)] == []
    shallow = job_of({"turn_down": [2, 6]}, face={**FACE, "top": 112.75})  # 114 3/4 in again, but already 2 in
    assert [saving["rule"] for saving in found(shallow)] == []


def test_a_base_strip_that_would_end_below_the_sheet_is_told() -> None:
    job = job_of({"turn_down": [4, 6], "base_strip": 18, "base_strip_up": 4})
    (saving,) = found(job)
    assert 'the base strip, 4" down the face, would end below the sheet' in str(saving["why"])


def test_a_metric_near_miss_is_told_in_millimetres() -> None:
    # 12 x 914 - 11 x 65 = 10253 mm; drops of 2502 mm, 5 a roll of 15000: 3 rolls; 6 need 15012, 2 mm each too much
    job = read_job_text(json.dumps({
        "job": {"name": "Wall"}, "units": "mm", "sheet": {"width": 914, "rolls": [{"length": 15000, "price": 150}]},
        "rules": {"corner_strip": 0, "base_strip": 0, "turn_down": 102, "cut_to": 1, "roll_end": 0},
        "runs": [{"name": "A", "faces": [{"name": "South", "length": 10253, "top": 2400}]}],
    }), "wall")
    (saving,) = found(job)
    assert (saving["from"], saving["to"], saving["saves_rolls"]) == ("102 mm", "97 mm", 1)
    assert saving["why"] == "6 drops of 2502 mm need 15012 mm of a 15000 mm roll: 2 mm less each and they fit"


def test_one_end_lap_saves_a_roll_that_the_longest_piece_does_not_ask_for() -> None:
    # 10 drops of 140 in, 2 a roll of 400 in: 5 rolls. In two pieces, 145 in each: 1450 in go on 4 rolls
    job = job_of({"turn_down": 4}, face={"name": "South", "length": 337.5, "top": 136},
                 rolls=[{"length": 400, "price": 100}])
    saving = next(saving for saving in found(job) if saving["rule"] == "max_piece")
    assert saving["change"] == "one end lap in drops longer than 11'-7\""
    assert (saving["saves_rolls"], saving["saves_cost"]) == (1, 100.0)


def test_a_side_lap_goes_down_to_the_published_least_and_names_its_source() -> None:
    # 267.1 in at 3 in of lap: 8 x 36 - 7 x 3 = 267 in is too little, 9 drops; at 2 1/2 in 8 drops cover 270 1/2 in
    job = job_of({"turn_down": 4, "side_lap": 3}, face={"name": "South", "length": 267.125, "top": 100},
                 rolls=[{"length": 832, "price": 100}])
    saving = next(saving for saving in found(job) if saving["rule"] == "side_lap")
    assert (saving["to"], saving["saves_rolls"]) == ('2 1/2"', 1)
    assert "UFGS 07131, 3.4" in str(saving["source"])


@pytest.mark.parametrize("units", ["in", "mm"])
def test_no_lap_is_proposed_below_the_published_least(units: str) -> None:
    least = {"in": (2.5, 5), "mm": (65, 127)}[units]
    scale = 1 if units == "in" else 25
    job = read_job_text(json.dumps({
        "job": {"name": "Wall"}, "units": units,
        "sheet": {"width": 36 * scale, "rolls": [{"length": 400 * scale, "price": 100}]},
        "rules": {"corner_strip": 0, "base_strip": 0, "side_lap": least[0], "end_lap": least[1]},
        "runs": [{"name": "A", "faces": [{"name": "South", "length": 270 * scale, "top": 190 * scale}]}],
    }), "wall")
    assert not {"side_lap", "end_lap"} & {change.rule for change in changes(job, plan_core(job))}
    wider = replace(job, rules=replace(job.rules, end_lap=job.rules.end_lap * 2, side_lap=job.rules.side_lap * 2))
    for change in changes(wider, plan_core(wider)):
        assert change.job.rules.side_lap >= job.rules.side_lap
        assert change.job.rules.end_lap >= job.rules.end_lap
        assert change.job.rules.collar_reach == job.rules.collar_reach


def test_an_allowance_and_a_longer_piece() -> None:
    # 8 drops of 104 in are 832 in, one roll; an inch of allowance makes it two
    job = job_of({"turn_down": 4, "cut_allowance": 1}, face={"name": "South", "length": 270.5, "top": 100},
                 rolls=[{"length": 832, "price": 100}])
    assert [saving["rule"] for saving in found(job)] == ["cut_allowance", "turn_down"]
    # 8 drops of 146 in, 4 a roll of 584 in; in two pieces for the sake of 1 in, 151 in each, they take a third roll
    job = job_of({"turn_down": 4, "max_piece": 145}, face={"name": "South", "length": 270.5, "top": 142},
                 rolls=[{"length": 584, "price": 100}])
    saving = next(saving for saving in found(job) if saving["rule"] == "max_piece")
    assert (saving["from"], saving["to"], saving["saves_rolls"]) == ("12'-1\"", "12'-2\"", 1)


def test_height_above_grade_is_not_taken_below_grade() -> None:
    face = {**FACE, "top": 120, "grade": 108.25}
    job = job_of({"turn_down": 4, "top": "grade", "above_grade": 2.5}, face=face)
    saving = next(saving for saving in found(job) if saving["rule"] == "above_grade")
    assert saving["to"] == '2"' and "IRC R406.2" in str(saving["source"])
    low = job_of({"turn_down": 4, "top": "grade", "above_grade": 0.25}, face={**face, "grade": 110.5})
    assert "above_grade" not in {change.rule for change in changes(low, plan_core(low))}


def test_more_of_a_roll_that_has_run_out() -> None:
    # 8 drops of 104 in: one roll of 832 in for 100 if there were one, else two of 800 in
    job = job_of({"turn_down": 4}, face={"name": "South", "length": 270.5, "top": 100},
                 rolls=[{"length": 832, "price": 100, "on_hand": 0}, {"length": 800, "price": 90}])
    saving = next(saving for saving in found(job) if str(saving["rule"]).startswith("sheet"))
    assert (saving["change"], saving["saves_cost"]) == ("more 69'-4\" rolls than 0 on hand", 80.0)


def test_a_remnant_missed_by_a_little() -> None:
    # 7 drops of 114 in on a roll of 800 in, the eighth on a remnant that is 1/4 in too short for it
    job = job_of({"turn_down": 4}, face={"name": "South", "length": 270.5, "top": 110},
                 remnants=[{"tag": "K1", "length": 113.75}])
    saving = next(saving for saving in found(job) if saving["rule"] == "turn_down")
    assert (saving["to"], saving["saves_rolls"]) == ('3 3/4"', 1)
    assert saving["why"] == 'drops of 9\'-6" are 1/4" too long for remnant K1 (9\'-5 3/4")'


def test_unpriced_sheet_saves_rolls_and_no_money() -> None:
    (saving,) = found(job_of({"turn_down": [4, 6]}, rolls=[{"length": 800}]))
    assert (saving["saves_rolls"], saving["saves_cost"]) == (1, None)
    assert str(saving["text"]).startswith('turn_down 3 1/2" instead of 4" saves 1 roll: ')


def test_nothing_is_tried_when_the_sheet_itself_takes_the_rolls() -> None:
    job = job_of({"turn_down": 4}, face={**FACE, "top": 110})  # 14 drops of 114 in: 1596 of 1600 in
    plan = plan_core(job)
    assert changes(job, plan) == ()

    def no_planning(job: Job) -> Plan:
        raise AssertionError("planned all the same")

    assert savings(job, plan, no_planning, most=9) == ()


def test_no_more_is_planned_than_is_asked_for_and_a_change_without_a_layout_is_no_saving() -> None:
    job = job_of({"turn_down": 4, "cut_allowance": 1}, face={"name": "South", "length": 270.5, "top": 100},
                 rolls=[{"length": 832, "price": 100}])
    plan = plan_core(job)
    tried: list[Job] = []

    def refuse(job: Job) -> Plan:
        tried.append(job)
        raise NoLayout("not today")

    assert savings(job, plan, refuse, most=1) == () and len(tried) == 1
    assert savings(job, plan, plan_core, most=0) == ()


def test_a_change_whose_plan_saves_nothing_or_breaks_more_is_not_named() -> None:
    job = job_of({"turn_down": [4, 6]})
    plan = plan_core(job)
    assert savings(job, plan, lambda job: plan, most=9) == ()
    broken = replace(plan, exceptions=())

    def breaking(job: Job) -> Plan:
        return replace(plan_core(job), exceptions=(RuleException("clear_of_step", "A", 0, 6, 3, "why"),))

    assert savings(job, broken, breaking, most=9) == ()


@pytest.mark.parametrize("seed", slow_where(lambda seed: seed in (1, 2, 4), range(6)))
def test_every_change_is_a_job_that_could_be_written_down(seed: int) -> None:
    job = read_job_text(integrated_job(seed), "seeded")
    plan = decide(job, develop(job), progress=lambda words: None, stop=lambda: True)
    tried = changes(job, plan)
    assert [change.likely for change in tried] == sorted((change.likely for change in tried), reverse=True)
    assert len({change.words for change in tried}) == len(tried)
    for change in tried:
        assert read_job_text(echo(change.job), change.words) == change.job
        assert change.job != job
