"""Surveys as a level or a total station gives them are traced to the walls that someone would have written by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from cli import main
from helpers.surveys import LEVELS, TAPE, TOTAL
from layout.errors import JobError
from layout.job import read_job_text
from layout.job.survey import trace_survey
from layout.records import Job

HEAD = """
job: {name: By hand}
units: UNIT
sheet: {name: sheet, width: WIDE, rolls: [{length: 20 m}]}
runs:
"""

LEVELS_BY_HAND = """
  - name: A
    faces:
      - name: North
        length: 40 ft
        top: 102 ft
        footing: [[0, 94 ft], [15.17 ft, 94 ft], [15.17 ft, 92.67 ft], [40 ft, 92.67 ft]]
        grade: [[0, 101.25 ft], [15.17 ft, 100.75 ft], [40 ft, 100.1 ft]]
        ledge: 4
      - name: East
        length: 22.25 ft
        top: [[0, 102 ft], [22.25 ft, 101.5 ft]]
        footing: 92.67 ft
        grade: [[0, 100.1 ft], [22.25 ft, 99 ft]]
        ledge: 4
"""

TOTAL_BY_HAND = """
  - name: K
    closed: true
    faces:
      - {name: South, length: 12 m, top: 52.4 m, footing: 50 m, ledge: 100, corner: outside}
      - {name: East, length: 8 m, top: 52.4 m, footing: [[0, 50 m], [4 m, 50 m], [4 m, 49.6 m], [8 m, 49.6 m]],
         ledge: 100, corner: outside}
      - {name: Court, length: 6 m, top: 52.4 m, footing: 49.6 m, ledge: 100, corner: inside}
      - {name: Court side, length: 5 m, top: 52.4 m, footing: 49.6 m, ledge: 100, corner: outside}
      - {name: North, length: 6 m, top: 52.4 m, footing: [[0, 49.6 m], [6 m, 50 m]], ledge: 100, corner: outside}
      - {name: West, length: 12.99 m, top: 52.4 m, footing: 50 m, ledge: 100, corner: outside}
"""

TAPE_BY_HAND = """
  - name: Shed
    faces:
      - {name: Long, length: 100.5 ft, top: 8 ft, footing: [[0, 0], [100.5 ft, -6]], ledge: 4}
      - {name: End, length: 12.75 ft, top: [[0, 8 ft], [12.75 ft, 7'-6 1/2"]], footing: -6, ledge: 4}
"""


def by_hand(runs: str, unit: str) -> Job:
    """Return a job written by hand."""
    return read_job_text(HEAD.replace("UNIT", unit).replace("WIDE", "36" if unit == "in" else "1000") + runs, "hand")


@pytest.mark.parametrize("survey, hand, unit, how", [
    (LEVELS, LEVELS_BY_HAND, "in", ""), (TOTAL, TOTAL_BY_HAND, "mm", ""), (TAPE, TAPE_BY_HAND, "in", "ft")],
    ids=["levels in another order, feet with decimals", "eastings and northings", "tape lengths and stations"])
def test_surveys_give_the_walls_written_by_hand(tmp_path: Path, survey: str, hand: str, unit: str, how: str) -> None:
    path = tmp_path / "survey.csv"
    path.write_text(survey, encoding="utf-8")
    assert read_job_text(trace_survey(path, unit=how).text, "t").runs == by_hand(hand, unit).runs


def test_what_is_told(tmp_path: Path) -> None:
    path = tmp_path / "survey.csv"
    path.write_text(TOTAL, encoding="utf-8")
    told = trace_survey(path).told
    assert told[0].startswith("run K: South 12000 mm, East 8000 mm")
    assert "not read: the columns Pt" in told
    assert "run K: closed, since its last point is its first; corners and lengths from eastings and northings" in told


@pytest.mark.parametrize("text, how, fault", [
    (LEVELS.replace("15.17;step;North;92.67", "15.17;step;North;9x.67"), "", "s.csv:5: footing: must be a"),
    (LEVELS.replace("100.10;102.00;40.00;;North", "100.10;102.00;14.00;;North"), "",
     "s.csv:6: North: must have stations that do not fall"),
    (LEVELS.replace("99.00;101.50;62.25", "99.00;;62.25"), "",
     "s.csv:8: top: must be given at the first and the last station"),
    (LEVELS.replace("100.10;102.00;40.00;;East", "100.10;102.00;43.00;;East"), "",
     "s.csv:7: station: must be 0, or go on where the face before it ends, at 40'-0\" (got 43'-0\")"),
    (LEVELS.replace("(ft)", "(ells)"), "", "s.csv:2: Grade (ells): must state one of the units in, ft, mm, cm, m"),
    (LEVELS.replace(" (ft)", ""), "", "s.csv:2: station: must state its unit, such as top (ft)"),
    (LEVELS.replace("TOW (ft)", "TOW (m)"), "", "s.csv:2: must have all lengths in feet and inches, or all in metres"),
    (LEVELS, "m", "s.csv:2: station: must be in m, as --unit says, or the heading is wrong (got ft)"),
    (LEVELS.replace("Wall", "Where"), "", "s.csv:2: must have a column for face"),
    (LEVELS.replace("Remarks", "Distance (ft)"), "", "s.csv:2: Distance (ft): must be the only column for station"),
    (LEVELS.replace("(ft)", "(in)"), "", "s.csv:3: North: must be a wall from 3'-0\" to 40'-0\" high"),
    (TOTAL.replace("4,K,East,5012.000", "4,K,East,5012.300"), "", "s.csv:5: East: must lie on the line between"),
    (TOTAL.replace("7,K,Court,5012.000", "7,K,Court,5012.900"), "",
     "s.csv:8: Court: must start where the face before it ends (got a gap of 900 mm)"),
    (TOTAL.replace("5000.000,2013.000", "5000.000,"), "", "northing: must be given on every line"),
    (TOTAL.replace("52.400", "52,400.0"), "", "s.csv:7: must have at most the 7 columns of the first line (got 8)"),
    (TAPE.replace("1+00.50", "1+0.50"), "ft", "s.csv:3: station: must be a number, with a point for decimals"),
    (TAPE.replace("Shed\tEnd\t0", "Shed\tLong\t0"), "ft", "s.csv:4: Long: must have stations that do not fall"),
    ("", "", "must have a first line that names its columns (got an empty file)"),
    ("face,station,top,footing\n", "ft", "must have a line for each station"),
    ('face,station,top,footing\n"A', "ft", "cannot be read as CSV"),
])
def test_faults_are_told_with_their_line(tmp_path: Path, text: str, how: str, fault: str) -> None:
    path = tmp_path / "s.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(JobError) as caught:
        trace_survey(path, unit=how)
    assert any(part in line for line in caught.value.lines() for part in fault.split("|")), caught.value.lines()


def test_a_survey_that_goes_round_the_wrong_way(tmp_path: Path) -> None:
    head, *rows = TOTAL.splitlines()
    backward = [",".join([*row.split(",")]) for row in reversed(rows)]
    path = tmp_path / "s.csv"
    path.write_text("\n".join([head, *backward]), encoding="utf-8")
    with pytest.raises(JobError, match="must go round K counter-clockwise on plan"):
        trace_survey(path)


def test_the_command_traces_a_survey(tmp_path: Path) -> None:
    path, made = tmp_path / "survey.csv", tmp_path / "job.yaml"
    path.write_text(LEVELS, encoding="utf-8")
    done = CliRunner().invoke(main, ["trace", str(path), "-o", str(made)])
    assert done.exit_code == 0 and "run A: North 40'-0\", East 22'-3\"" in done.output, done.output
    assert CliRunner().invoke(main, ["check", str(made)]).exit_code == 0
    again = CliRunner().invoke(main, ["trace", str(path), "-o", str(tmp_path / "b.yaml"), "--window", "0,0,1,1"])
    assert again.exit_code == 2 and "--window: must be given with a drawing only" in again.output
    assert not (tmp_path / "b.yaml").exists()
