"""Scenarios: changes written on the command line become jobs, or every fault is told."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from layout.errors import JobError
from layout.job import read_job, read_job_text
from layout.scenarios import AS_IT_IS, Scenario, changed_job, read_scenarios
from layout.units import INCH

PLAIN: dict[str, object] = {
    "job": {"name": "Scenario job"},
    "sheet": {"width": 36, "rolls": [{"length": "66'-8\"", "price": 205}, {"length": "50 ft", "price": 162}],
              "remnants": [{"tag": "K.1", "length": "9 ft"}]},
    "rules": {"turn_down": [4, 6]},
    "runs": [
        {"name": "A", "lows": ["10 ft"], "highs": ["2 ft"], "faces": [
            {"name": "North yard", "length": "20 ft", "top": "8 ft", "corner": "outside",
             "sleeves": [{"tag": "P1", "at": "5 ft", "elevation": "2 ft", "diameter": 4}]},
            {"name": "West", "length": "12 ft", "top": "8 ft"},
        ]},
        {"name": "A.2", "faces": [{"name": "South", "length": "15 ft", "top": "7 ft"}]},
    ],
}


@pytest.fixture()
def job_file(tmp_path: Path) -> Path:
    """Return a job file."""
    path = tmp_path / "walls.json"
    path.write_text(json.dumps(PLAIN), encoding="utf-8")
    return path


def changed(text: str) -> Scenario:
    """Return the job with changes."""
    return Scenario(text, changed_job(PLAIN, text, file="walls"))


def faults(text: str) -> str:
    """Return the lines that tell what is wrong with changes."""
    with pytest.raises(JobError) as caught:
        changed_job(PLAIN, text, file="walls")
    return "\n".join(caught.value.lines())


def test_nothing_changed_is_the_job_itself(job_file: Path) -> None:
    (first,) = read_scenarios(job_file, [])
    assert first == Scenario(AS_IT_IS, read_job(job_file))


def test_a_bare_rule_changes_that_rule_alone() -> None:
    before = read_job_text(json.dumps(PLAIN), "walls")
    assert changed("side_lap=3").job == replace(before, rules=replace(before.rules, side_lap=3 * INCH.ticks))


@pytest.mark.parametrize("text", ["side_lap=3", "rules.side_lap=3", " side_lap = 3\" ", "side_lap=0.25 ft"])
def test_one_change_can_be_written_in_several_ways(text: str) -> None:
    assert changed(text).job == changed("side_lap=3").job


def test_a_list_keeps_its_commas_and_changes_are_parted_by_theirs() -> None:
    rules = changed("turn_down=[3 1/2, 5], max_piece=10'-0\",side_lap=3").job.rules
    assert (rules.turn_down, rules.max_piece, rules.side_lap) == ((56, 80), 1920, 48)


def test_width_in_fractions() -> None:
    assert changed("sheet.width=39 3/8").job.sheet.width == 630


@pytest.mark.parametrize("key", ["sheet.rolls.1.price", "sheet.rolls[1].price"])
def test_entries_without_a_name_go_by_number(key: str) -> None:
    assert [roll.price for roll in changed(f"{key}=99").job.sheet.rolls] == [205, 99]


def test_runs_faces_and_features_go_by_name_even_with_dots_and_spaces() -> None:
    job = changed("runs.A.faces.North yard.sleeves.P1.diameter=6, runs.A.2.faces.South.top=9 ft").job
    assert job.runs[0].faces[0].sleeves[0].diameter == 96
    assert job.runs[1].faces[0].top[0][1] == 9 * 192
    assert changed("sheet.remnants.K.1.length=10 ft").job.sheet.remnants[0].length == 1920


def test_flow_takes_away_lows_and_highs() -> None:
    run = changed("runs.A.flow=left").job.runs[0]
    assert (run.flow, run.lows, run.highs, run.drain) == ("left", (), (), None)


def test_drain_takes_away_flow_and_lows_take_away_the_old_highs() -> None:
    drain = changed("runs.A.drain=[[0, 0], [32 ft, -4]]").job.runs[0]
    assert drain.drain is not None and drain.lows == () and drain.highs == ()
    lows = changed("runs.A.lows=[3 ft]").job.runs[0]
    assert (lows.lows, lows.highs) == ((576,), ())


def test_lows_and_highs_changed_together_both_stand() -> None:
    for text in ("runs.A.lows=[3 ft], runs.A.highs=[9 ft]", "runs.A.highs=[9 ft], runs.A.lows=[3 ft]"):
        run = changed(text).job.runs[0]
        assert (run.lows, run.highs) == ((576,), (1728,))


def test_a_part_that_the_job_does_not_have_is_made() -> None:
    assert changed("strip.width=18").job.strip.width == 18 * 16


def test_the_job_changed_is_left_as_it_was() -> None:
    before = json.dumps(PLAIN)
    changed("side_lap=3, runs.A.flow=left, sheet.rolls.0.price=1")
    assert json.dumps(PLAIN) == before


def test_another_job_file_is_a_scenario(job_file: Path, tmp_path: Path) -> None:
    other = tmp_path / "side_lap=3.json"
    other.write_text(json.dumps({**PLAIN, "job": {"name": "Other"}}), encoding="utf-8")
    assert [scenario.job.info.name for scenario in read_scenarios(job_file, [str(other)])] == ["Scenario job", "Other"]


@pytest.mark.parametrize(("text", "told"), [
    ("sidelap=3", "walls: sidelap: is not a key of the job; did you mean side_lap?"),
    ("flow=left", "walls: flow: is not a key of the job; did you mean runs.A.flow?"),
    ("rules.sidelap=3", "walls: rules.sidelap: is not a known key; did you mean side_lap?"),
    ("runs.A.floww=left", "did you mean flow?"),
    ("side_lap=abc", "walls: rules.side_lap: must be a length"),
    ("side_lap=", "walls: side_lap: must have a value after = (got nothing)"),
    ("=3", "walls: must be changes such as side_lap=3 (got =3)"),
    ("side_lap=3, rules.side_lap=4", "walls: rules.side_lap: must be changed once"),
    ("side_lap=30", "rules.side_lap: must be less than min_width"),
    ("runs.B.flow=left", "walls: runs.B.flow: is not there: nothing is called B; known here: A, A.2"),
    ("sheet.rolls.7.price=1", "nothing is called 7; numbered here: 0 to 1"),
    ("job.name.x=3", "walls: job.name.x: has nothing in it: job.name is one value"),
    ("fillet=*x", "walls: fillet: must not use an alias"),
    ("turn_down=[6, 4]", "rules.turn_down: must not have its least above its most"),
])
def test_faults_are_told_with_what_would_help(text: str, told: str) -> None:
    assert told in faults(text)


def test_a_fault_has_no_line_of_a_text_that_nobody_wrote() -> None:
    assert faults("side_lap=abc").startswith("walls: rules")


def test_a_message_shows_no_control_characters() -> None:
    assert "\x1b" not in faults("\x1b[31mside=2")


def test_every_fault_of_every_scenario_is_told_at_once(job_file: Path) -> None:
    with pytest.raises(JobError) as caught:
        read_scenarios(job_file, ["sidelap=3", "side_lap=3", "side_lap=x, max_piece=y", "no-such-file.yaml", "\0"])
    lines = caught.value.lines()
    assert len(lines) == 5
    assert lines[0].startswith(f"{job_file} with sidelap=3: sidelap")
    assert "rules.side_lap" in lines[1] and "rules.max_piece" in lines[2]
    assert lines[3] == "--with: is neither a change, such as side_lap=3, nor a job file (got no-such-file.yaml)"
    assert len(caught.value.faults) == 5


def test_faults_of_another_job_file_keep_their_lines(job_file: Path, tmp_path: Path) -> None:
    other = tmp_path / "bad.yaml"
    other.write_text("job: {name: J}\nsheet: {width: 36, rolls: [{length: 50 ft}]}\nruns: 3\n", encoding="utf-8")
    with pytest.raises(JobError) as caught:
        read_scenarios(job_file, [str(other)])
    assert caught.value.lines() == [f"{other}:3: runs: must be a list (got 3)"]


def test_products_that_do_not_go_together_are_a_fault(job_file: Path) -> None:
    text = "primer={coverage: 200, solvent: true}, substrate={foam_forms: true}"
    with pytest.raises(JobError, match="IRC R406.2"):
        read_scenarios(job_file, [text])
