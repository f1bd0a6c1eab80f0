"""What people do wrong when they enter a house, and what each is told: faults that stop, warnings that do not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from cli import main
from layout.errors import JobError
from layout.job import read_job, read_job_text
from layout.readback import warnings

HOUSE = """\
job: {name: House}
sheet:
  width: 36
  rolls:
    - {length: 66'-8", price: 205}
runs:
  - name: A
    closed: true
    flow: right
    faces:
      - name: South
        length: 41'-4"
        top: 8'-0"
        ledge: 4
        grade: 7'-0"
        corner: outside
        openings:
          - {tag: W1, kind: window, left: 10'-3", sill: 5'-2", width: 2'-8", height: 2'-0"}
        sleeves:
          - {tag: P1, at: 27'-3", elevation: 2'-6", diameter: 4}
      - name: East
        length: 18'-0"
        top: 8'-0"
        ledge: 4
        grade: 7'-0"
        corner: outside
      - {name: Yard, length: 16'-0", top: 8'-0", ledge: 4, grade: 7'-0", corner: inside}
      - {name: Court, length: 10'-0", top: 8'-0", ledge: 4, grade: 7'-0", corner: outside}
      - {name: North, length: 25'-4", top: 8'-0", ledge: 4, grade: 7'-0", corner: outside}
      - {name: West, length: 28'-0", top: 8'-0", ledge: 4, grade: 7'-0", corner: outside}
"""

FAULTS: dict[str, tuple[str, str, list[str]]] = {
    # name: what stands there, what is written instead, what is told
    "feet and inches in double quotes": (
        "length: 41'-4\"",
        "length: \"41'-4\"\"",
        ["12: must not have a quote inside quotes (got \"41'-4\"\"); write feet and inches without quotes "
         "around them: 41'-4\""]),
    "feet and inches in single quotes": (
        "length: 41'-4\"",
        "length: '41'-4\"'",
        ["12: must not have a quote inside quotes (got '41'-4\"'); write feet and inches without quotes "
         "around them: 41'-4\""]),
    "feet and inches in double quotes within braces": (
        "left: 10'-3\"",
        "left: \"10'-3\"\"",
        ["18: must not have a quote inside quotes (got \"10'-3\"\"); write feet and inches without quotes "
         "around them: 10'-3\""]),
    "a quote left open": (
        "length: 41'-4\"",
        "length: \"41'-4",
        ["12: must close the quote that opens here (got 41'-4 top: 8'-0)"]),
    "no space after a colon": (
        "        length: 41'",
        "        length:41'",
        ["12: must have a space after the colon (got length:41'-4\"); write length: 41'-4\""]),
    "no space after a colon within braces": (
        "{tag: W1, kind",
        "{tag:W1, kind",
        ["18: runs.A.faces.South.openings[0].tag: must be given",
         "18: runs.A.faces.South.openings[0].tag:W1: is not a known key; put a space after the colon: tag: W1"]),
    "a tab": (
        "        ledge: 4\n"
        "        grade",
        "	ledge: 4\n"
        "        grade",
        ["14: must not have a tab in it (got ledge: 4); indent with spaces, not tabs"]),
    "a line indented too far": (
        "        ledge: 4\n"
        "        grade",
        "          ledge: 4\n"
        "        grade",
        ["14: must be indented as the lines that it belongs with (got ledge: 4)"]),
    "an equals sign": (
        "length: 41'-4\"",
        "length = 41'-4\"",
        ["12: must have a colon after length (got length = 41'-4\"); write length: 41'-4\""]),
    "a comma left out": (
        "left: 10'-3\", sill",
        "left: 10'-3\" sill",
        ["18: must have a comma before sill (got left: 10'-3\" sill:)"]),
    "a brace left open": (
        "height: 2'-0\"}",
        "height: 2'-0\"",
        ["18: must have a } for the { that opens here (got - {tag: W1, kind: window, left: 10'-3\", sill: "
         "5'-2\", widt...)"]),
    "a colon in a name": (
        "name: South",
        "name: South: street",
        ['11: must have text with a colon in it in quotes (got South: street); write name: "South: street"']),
    "no dash before the first face": (
        "      - name: South",
        "      -name: South",
        ["11: must have a space after the dash (got -name: South); write - name: South"]),
    "a decimal comma": (
        "length: 41'-4\"",
        "length: 496,5",
        ["12: runs.A.faces.South.length: must be a length such as 8'-4 1/2\", 100 1/2\", 2.44 m or 850 mm "
         "(got 496,5); write a point, not a comma: 496.5"]),
    "feet and inches without their signs": (
        "length: 41'-4\"",
        "length: 41-4",
        ["12: runs.A.faces.South.length: must be a length such as 8'-4 1/2\", 100 1/2\", 2.44 m or 850 mm "
         "(got 41-4); did you mean 41'-4\"?"]),
    "twelve inches and more": (
        "length: 41'-4\"",
        "length: 40'-16\"",
        ["12: runs.A.faces.South.length: must have less than 12 inches beside the feet (got 40'-16\")"]),
    "feet as a bare number": (
        "length: 41'-4\"",
        "length: 41.33",
        ["12: runs.A.faces.South.length: must hold what is on the face, which reaches to 27'-5\" (got "
         "41.33); bare numbers are inches here: did you mean feet, 41.33 ft?"]),
    "a wall top in feet as a bare number": (
        "        top: 8'-0\"\n"
        "        ledge: 4\n"
        "        grade: 7'-0\"\n"
        "        corner: outside\n"
        "        openings",
        "        top: 8\n"
        "        ledge: 4\n"
        "        grade: 7'-0\"\n"
        "        corner: outside\n"
        "        openings",
        ["13: runs.A.faces.South.top: must hold what is on the face, which reaches to 5'-2 1/16\" (got "
         "8); bare numbers are inches here: did you mean feet, 8 ft?"]),
    "a loop a foot open": (
        "length: 41'-4\"",
        "length: 42'-4\"",
        ["8: runs.A.closed: must be false, or the faces must close: on a plan with South drawn from left "
         "to right, West ends 1'-0\" right of where South starts (got a gap of 1'-0\"); it closes with "
         "South 41'-4\", or Yard 17'-0\", or North 26'-4\"; a gap that is real: allow_gap: true in the run, "
         "or --allow-gap"]),
    "a loop open both ways": (
        "      - name: East\n"
        "        length: 18'-0\"\n"
        "        top: 8'-0\"\n"
        "        ledge: 4\n"
        "        grade: 7'-0\"\n",
        "      - name: East\n"
        "        length: 17'-6\"\n"
        "        top: 8'-0\"\n"
        "        ledge: 4\n"
        "        grade: 7'-0\"\n"
        "        angle: 90\n",
        ["8: runs.A.closed: must be false, or the faces must close: on a plan with South drawn from left "
         "to right, West ends 6\" below where South starts (got a gap of 6\"); it closes with East 18'-0\", "
         "or Court 10'-6\", or West 27'-6\"; a gap that is real: allow_gap: true in the run, or --allow-gap"]),
    "an inside corner entered as outside": (
        "corner: inside",
        "corner: outside",
        ["8: runs.A.closed: must be false unless the corners turn through 360 degrees in all (got 540 "
         "degrees); outside corners count for the angle, inside corners against it; it closes with "
         "corner: inside at Yard"]),
    "an inside corner at the wrong face": (
        "grade: 7'-0\", corner: inside}\n"
        "      - {name: Court, length: 10'-0\", top: 8'-0\", ledge: 4, grade: 7'-0\", corner: outside}",
        "grade: 7'-0\", corner: outside}\n"
        "      - {name: Court, length: 10'-0\", top: 8'-0\", ledge: 4, grade: 7'-0\", corner: inside}",
        ["8: runs.A.closed: must be false, or the faces must close: on a plan with South drawn from left "
         "to right, West ends 20'-0\" below where South starts (got a gap of 20'-0\"); it closes with East "
         "38'-0\", or West 8'-0\"; it closes with corner: inside at Yard and corner: outside at Court; a "
         "gap that is real: allow_gap: true in the run, or --allow-gap"]),
    "a corner in other words": (
        "        corner: outside\n"
        "        openings",
        "        corner: external\n"
        "        openings",
        ["16: runs.A.faces.South.corner: must be outside, inside or none (got external); did you mean outside?"]),
    "yes for true": (
        "closed: true",
        "closed: yes",
        ["8: runs.A.closed: must be true or false (got yes); write true"]),
    "a compass point for the flow": (
        "flow: right",
        "flow: east",
        ["9: runs.A.flow: must be right or left (got east)"]),
    "units in other words": (
        "job: {name: House}",
        "job: {name: House}\n"
        "units: inches",
        ["2: units: must be in or mm (got inches); did you mean in?"]),
    "a price with its sign": (
        "price: 205",
        "price: $205.50",
        ["5: sheet.rolls[0].price: must be a price, a plain number (got $205.50); write 205.50"]),
    "a date the other way round": (
        "job: {name: House}",
        "job: {name: House, date: 5/4/2026}",
        ["1: job.date: must be a date such as 2026-05-04 (got 5/4/2026)"]),
    "a key misspelt": (
        "        ledge: 4\n"
        "        grade",
        "        legde: 4\n"
        "        grade",
        ["14: runs.A.faces.South.legde: is not a known key; did you mean ledge?"]),
    "a key in capitals": (
        "        ledge: 4\n"
        "        grade",
        "        Ledge: 4\n"
        "        grade",
        ["14: runs.A.faces.South.Ledge: is not a known key; did you mean ledge?"]),
    "a name that starts with a hash": (
        "name: South",
        "name: '#1'\n"
        "        # South\n"
        "      - name: #2",
        ["8: runs.A.closed: must be false unless the corners turn through 360 degrees in all (got 450 "
         "degrees); outside corners count for the angle, inside corners against it",
         "11: runs.A.faces.#1.length: must be given",
         "11: runs.A.faces.#1.top: must be given",
         "13: runs.A.faces[1].name: must be text (got nothing); what follows a # is a comment: put such "
         "text in quotes"]),
    "a sleeve past the end": (
        "at: 27'-3\"",
        "at: 47'-3\"",
        ["20: runs.A.faces.South.sleeves.P1.at: must keep the whole sleeve within the face, which is "
         "41'-4\" long (got 47'-3\")"]),
    "a sleeve above the wall": (
        "elevation: 2'-6\"",
        "elevation: 26'",
        ["20: runs.A.faces.South.sleeves.P1.elevation: must keep the whole sleeve below the wall top (got 26')"]),
    "two faces of one name": (
        "name: North",
        "name: South",
        ["29: runs.A.faces[4].name: must be unlike every other face's name in its run (got South)"]),
}

WARNINGS: dict[str, tuple[str, str, list[str]]] = {
    "a window in feet for inches": (
        "height: 2'-0\"",
        "height: 48'",
        ["18: warning: runs.A.faces.South.openings.W1.height: reaches above the wall top (got 48'-0\", "
         "45'-2\" above it); did you mean inches, 48 in?",
         "18: warning: runs.A.faces.South.openings.W1.height: is more than 10 times the width (got "
         "48'-0\" by 2'-8\")"]),
    "a window ten times as wide as high": (
        "width: 2'-8\", height: 2'-0\"",
        "width: 12'-8\", height: 1'-2\"",
        ["18: warning: runs.A.faces.South.openings.W1.width: is more than 10 times the height (got "
         "12'-8\" by 1'-2\")"]),
    "grade of 7 in for 7 ft": (
        "        grade: 7'-0\"\n"
        "        corner: outside\n"
        "        openings",
        "        grade: 7\n"
        "        corner: outside\n"
        "        openings",
        ['15: warning: runs.A.faces.South.grade: is hardly above the footing (got 7" above it); did you '
         "mean feet?",
         '15: warning: runs.A.faces.South.grade: starts at another level than grade on West ends (got 7" '
         "beside 7'-0\")",
         "25: warning: runs.A.faces.East.grade: starts at another level than grade on South ends (got "
         "7'-0\" beside 7\")"]),
    "grade above the wall": (
        "        grade: 7'-0\"\n"
        "        corner: outside\n"
        "        openings",
        "        grade: [[0, 7'-0\"], [20'-0\", 8'-3\"], [41'-4\", 7'-0\"]]\n"
        "        corner: outside\n"
        "        openings",
        ["15: warning: runs.A.faces.South.grade: is above the wall top (got by 3\" at 20'-0\")"]),
    "a footing that rises the way water is said to run": (
        "        ledge: 4\n"
        "        grade: 7'-0\"\n"
        "        corner: outside\n"
        "        openings",
        "        footing: [[0, -10], [20'-0\", -10], [20'-0\", 0], [41'-4\", 0]]\n"
        "        ledge: 4\n"
        "        grade: 7'-0\"\n"
        "        corner: outside\n"
        "        openings",
        ["9: warning: runs.A.flow: has water run uphill: the footing rises 10\" on South at 20'-0\" (got "
         "right); give lows, the stations of the drain's low points, or the other direction"]),
    "a wall lower than the sheet is wide": (
        "name: Court, length: 10'-0\", top: 8'-0\"",
        "name: Court, length: 10'-0\", top: 8",
        ['28: warning: runs.A.faces.Court.top: makes a wall lower than the sheet is wide, 36" (got 8" '
         "high); did you mean feet?",
         "28: warning: runs.A.faces.Court.grade: is above the wall top (got by 6'-4\" at 10'-0\")"]),
    "a riser taller than the footing is deep": (
        "ledge: 4, grade: 7'-0\", corner: outside}\n      - {name: North",
        "footing: [[0, 0], [5'-0\", 0], [5'-0\", -16], [10'-0\", -16]], ledge: 4, grade: 7'-0\", "
        "corner: outside}\n      - {name: North",
        ["9: warning: runs.A.flow: has water run uphill: the footing rises 1'-4\" on North at 0\" (got right); give "
         "lows, the stations of the drain's low points, or the other direction",
         "28: warning: runs.A.faces.Court.footing: steps by more than the footing is deep, 12\" (got 1'-4\" at "
         "5'-0\"); the riser cover would span a void under the upper footing: give footing_depth there, or more steps",
         "29: warning: runs.A.faces.North.footing: steps by more than the footing is deep, 12\" (got 1'-4\" at 0\"); "
         "the riser cover would span a void under the upper footing: give footing_depth there, or more steps"]),
    "sleeves nearer than their collars": (
        "diameter: 4}",
        "diameter: 4}\n"
        "          - {tag: P2, at: 28'-1\", elevation: 30, diameter: 2}",
        ['21: warning: runs.A.faces.South.sleeves.P2.at: is nearer to P1 than their collars reach, 6" '
         'each (got 7" between)']),
    "a ledge that the base strip does not reach over": (
        "name: Court, length: 10'-0\", top: 8'-0\", ledge: 4",
        "name: Court, length: 10'-0\", top: 8'-0\", ledge: 6",
        ['28: warning: runs.A.faces.Court.ledge: is wider than a base strip of 12" reaches over (got '
         '6"); it needs base_strip: 13 9/16"']),
    "inches for feet": (
        "name: Court, length: 10'-0\", top: 8'-0\"",
        "name: Court, length: 10'-0\", top: 96 ft",
        ["28: warning: runs.A.faces.Court.top: makes a wall more than 40'-0\" high (got 96'-0\" high); did "
         "you mean inches, 96 in?"]),
}


def test_the_house_is_right() -> None:
    assert warnings(read_job_text(HOUSE, "job.yaml")) == ()


def test_there_are_enough_mistakes() -> None:
    assert len(FAULTS) + len(WARNINGS) >= 30


def written(folder: Path, old: str, new: str) -> Path:
    """Write the house with a mistake."""
    assert old in HOUSE
    job = folder / "job.yaml"
    job.write_text(HOUSE.replace(old, new, 1), encoding="utf-8")
    return job


@pytest.mark.parametrize("name", FAULTS)
def test_a_mistake_is_told_in_plain_words(name: str, tmp_path: Path) -> None:
    old, new, told = FAULTS[name]
    job = written(tmp_path, old, new)
    result = CliRunner().invoke(main, ["plan", str(job)])
    assert result.stderr.splitlines() == [f"{job}:{line}" for line in told]
    assert (result.exit_code, result.stdout) == (2, "")
    assert [path.name for path in tmp_path.iterdir()] == ["job.yaml"]


@pytest.mark.parametrize("name", WARNINGS)
def test_what_reads_as_a_mistake_is_a_warning_and_stops_nothing(name: str, tmp_path: Path) -> None:
    old, new, told = WARNINGS[name]
    job = written(tmp_path, old, new)
    result = CliRunner().invoke(main, ["check", str(job)])
    lines = [line for line in result.stdout.splitlines() if "warning: " in line]
    assert lines == [f"{job}:{line}" for line in told]
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.splitlines()[-1] == f"{job}: no faults"


# --- what is done about them ---------------------------------------------------------------------

@pytest.mark.slow
def test_a_gap_that_is_real_is_allowed_and_told(tmp_path: Path) -> None:
    """The packet's own job says so too, so that it can be read and audited alone."""
    job = written(tmp_path, "length: 41'-4\"", "length: 42'-4\"")
    told = f"{job}:8: warning: runs.A.closed: does not close on plan (got a gap of 1'-0\"); allowed by allow_gap"
    result = CliRunner().invoke(main, ["check", str(job), "--allow-gap"])
    assert result.exit_code == 0 and told in result.stdout.splitlines()
    assert "closing error 1'-0\"" in result.stdout
    result = CliRunner().invoke(main, ["plan", str(job), "--allow-gap"])
    assert result.exit_code == 0 and result.stderr.splitlines() == [told]
    packet = tmp_path / "job-packet"
    assert read_job(packet / "job.yaml").runs[0].allow_gap
    data = json.loads((packet / "plan.json").read_text())
    assert data["warnings"] == [{"where": "runs.A.closed", "what": "does not close on plan", "got": "a gap of 1'-0\"",
                                 "hint": "allowed by allow_gap"}]
    assert "does not close on plan" in (packet / "packet.html").read_text()
    assert CliRunner().invoke(main, ["check", str(packet)]).exit_code == 0
    assert CliRunner().invoke(main, ["compare", str(job), "--allow-gap", "--with", "side_lap=3"]).exit_code == 0


def test_allow_gap_says_nothing_of_a_run_that_closes(tmp_path: Path) -> None:
    job = written(tmp_path, "name: South", "name: South")
    assert not read_job(job, allow_gap=True).runs[0].allow_gap
    assert "runs.A.closed" not in CliRunner().invoke(main, ["check", str(job), "--allow-gap"]).output


def test_more_of_one_kind_are_counted() -> None:
    text = HOUSE.replace("ledge: 4", "ledge: 6")
    told = [warning.text() for warning in warnings(read_job_text(text, ""))]
    assert len(told) == 3
    assert told[-1].endswith("it needs base_strip: 13 9/16\"; and 3 more like it in this run")


METRIC = """\
job: {name: House}
units: mm
sheet: {width: 1000, rolls: [{length: 20 m}]}
runs:
  - name: A
    faces: [{name: Street, length: LENGTH, top: TOP, ledge: 100, footing_depth: 300}]
"""


@pytest.mark.parametrize(("length", "top", "told"), [
    ("30", "2400", ["runs.A.faces.Street.length: is the longest face of its run, and short (got 30 mm); did you mean "
                    "metres?"]),
    ("12000", "2.4", ["runs.A.faces.Street.top: makes a wall lower than the sheet is wide, 1000 mm (got 3 mm "
                      "high); did you mean metres?"]),
    ("12000", "24000", ["runs.A.faces.Street.top: makes a wall more than 12000 mm high (got 24000 mm high); did you "
                        "mean another unit?"]),
    ("12000", "2400", []),
])
def test_metric_lengths_in_another_unit(length: str, top: str, told: list[str]) -> None:
    job = read_job_text(METRIC.replace("LENGTH", length).replace("TOP", top), "")
    assert [warning.text() for warning in warnings(job)] == told


def test_a_bare_number_of_metres_too_small_for_what_is_on_its_face(tmp_path: Path) -> None:
    job = tmp_path / "job.yaml"
    job.write_text(METRIC.replace("LENGTH", "11.48").replace("TOP", "2.44, sleeves: "
                   "[{tag: P1, at: 3000, elevation: 800, diameter: 110}]"), encoding="utf-8")
    assert CliRunner().invoke(main, ["check", str(job)]).stderr.splitlines() == [
        f"{job}:6: runs.A.faces.Street.length: must hold what is on the face, which reaches to 3055 mm (got 11.48); "
        "bare numbers are millimetres here: did you mean metres, 11.48 m?",
        f"{job}:6: runs.A.faces.Street.top: must hold what is on the face, which reaches to 855 mm (got 2.44); bare "
        "numbers are millimetres here: did you mean metres, 2.44 m?"]


@pytest.mark.parametrize(("length", "told"), [
    ("1000000", "must hold what is on the face, which reaches to 9000000 mm (got 1000000); bare numbers are "
                "millimetres here: did you mean metres, 1000000 m?"),
    ("1.0e+6", "must hold what is on the face, which reaches to 9000000 mm (got 1.0e+6); bare numbers are "
               "millimetres here: did you mean metres, 1000000 m?"),
    ("1234.5678", ""),
    ("-1000000", "must be more than 0 (got -1000000)"),
    ("1e+300", "must be at most 1609344 mm (got 1e+300)"),
    (".inf", "must be a finite length (got .inf)"),
    (".nan", "must be a finite length (got .nan)"),
    ("1e-300", "must be at least 25 mm (got 1e-300)"),
])
def test_bare_numbers_of_any_size_are_told_in_plain_digits(length: str, told: str) -> None:
    """What no unit would make right is told by what lies outside the face instead."""
    text = METRIC.replace("LENGTH", length).replace("TOP", "2400, footing: [[0, 0], [9000000, 0]]")
    with pytest.raises(JobError) as error:
        read_job_text(text, "")
    assert any(line.startswith(f"runs.A.faces.Street.length: {told}") for line in error.value.lines()) == bool(told)


@pytest.mark.parametrize("top", ["-1000000", "-1.0e+6", "-0.001", "0"])
def test_wall_tops_at_or_below_0_are_not_taken_for_another_unit(top: str) -> None:
    sleeves = "sleeves: [{tag: P1, at: 3000, elevation: 800, diameter: 110}]"
    text = METRIC.replace("LENGTH", "12000").replace("TOP", f"{top}, {sleeves}")
    with pytest.raises(JobError) as error:
        read_job_text(text, "")
    assert not any("did you mean" in line for line in error.value.lines())
