"""Good job files: what is read, defaults, rounding toward the safe side, profiles, water."""

from __future__ import annotations

import json
from dataclasses import asdict
from decimal import Decimal
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from layout.errors import JobError
from layout.job import read_job, read_job_text
from layout.records import Extras, Face, Job
from layout.units import INCH, MM

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = sorted((ROOT / "samples").glob("*.yaml"))

INCH_JOB = """\
job: {name: Test}
sheet: {width: 36, rolls: [{length: 66'-8"}]}
rules: {RULES}
runs:
  - {name: A, RUN faces: [{name: South, length: 40'-0", top: 8'-0", FACE}]}
"""
METRIC_JOB = INCH_JOB.replace("job:", "units: mm\njob:").replace("36", "1000").replace("66'-8\"", "20 m").replace(
    "40'-0\"", "12 m").replace("8'-0\"", "2400")


def read(rules: str = "", face: str = "", *, run: str = "", job: str = INCH_JOB) -> Job:
    """Read the test job with some rules and some more keys of its one face and its run."""
    return read_job_text(job.replace("RULES", rules).replace("FACE", face).replace("RUN", run), "job.yaml")


def only_face(job: Job) -> Face:
    """Return the one face of the test job."""
    return job.runs[0].faces[0]


def test_inch_defaults_are_the_contracts() -> None:
    """Values of the job file's published table, in sixteenths."""
    assert asdict(read().rules) == {
        "side_lap": 40, "end_lap": 80, "end_lap_stagger": 192, "top": "wall", "above_grade": 0,
        "turn_down": (64, 96), "fillet": 12, "opening_return": 0, "min_width": 192, "max_piece": 144 * 16,
        "clear_of_corner": 96, "clear_of_sleeve": 96, "clear_of_opening": 96, "clear_of_step": 96,
        "corner_strip": 192, "base_strip": 192, "base_strip_up": 64, "collar_reach": 96, "cover_lap": 96,
        "cut_allowance": 0, "cut_to": 4, "keep_remnant": 768, "courses": False, "roll_end": 16,
    }


def test_metric_laps_are_not_the_inch_laps_converted() -> None:
    """65 mm and 127 mm: UFGS 07131, 3.4; 63.5 mm would be the inch figure converted."""
    rules = read(job=METRIC_JOB).rules
    assert (rules.side_lap, rules.end_lap) == (65, 127)


@pytest.mark.parametrize(("rule", "inches", "safer"), [
    ("side_lap", 2.5, "more"), ("end_lap", 5, "more"), ("end_lap_stagger", 12, "more"), ("fillet", 0.75, "less"),
    ("min_width", 12, "more"), ("max_piece", 144, "less"), ("base_strip_up", 4, "more"), ("keep_remnant", 48, "more"),
])
def test_other_metric_defaults_are_on_the_safe_side(rule: str, inches: float, safer: str) -> None:
    found = getattr(read(job=METRIC_JOB).rules, rule)
    assert found >= inches * 25.4 if safer == "more" else found <= inches * 25.4
    assert abs(found - inches * 25.4) < 8


def test_metric_reinforcing_is_the_published_150_mm() -> None:
    """ASTM D5898, 7.3: at least 150 mm [6 in] past the corner or penetration; so a corner strip of 300 mm."""
    rules = read(job=METRIC_JOB).rules
    assert (rules.collar_reach, rules.corner_strip, rules.clear_of_corner) == (150, 300, 150)


@pytest.mark.parametrize(("rule", "ticks"), [
    ("side_lap: 2.51", 41), ("end_lap: 5 1/32", 81), ("clear_of_sleeve: 6.01", 97), ("cut_allowance: 0.01", 1),
    ("min_width: 12.01", 193), ("max_piece: 143.99", 2303), ("fillet: 0.74", 11), ("above_grade: 4.01", 65),
    ("collar_reach: 6.01", 97), ("corner_strip: 11.99", 192), ("opening_return: 1.99", 32),
    ("base_strip_up: 4.01", 65), ("keep_remnant: 47.99", 768), ("cut_to: 1/20", 1),
])
def test_rules_are_rounded_toward_the_safe_side(rule: str, ticks: int) -> None:
    assert getattr(read(rule).rules, rule.split(":")[0]) == ticks


def test_turn_down_range_is_rounded_inwards() -> None:
    assert read("turn_down: [4.01, 5.99]").rules.turn_down == (65, 95)


def test_one_turn_down_is_rounded_up() -> None:
    assert read("turn_down: 4.01").rules.turn_down == (65, 65)


def test_sheet_and_rolls_are_rounded_down() -> None:
    sheet = read_job_text(INCH_JOB.replace("36", "35.99").replace("66'-8\"", "799.99").replace(
        "RULES", "").replace("FACE", "").replace("RUN", ""), "").sheet
    assert (sheet.width, sheet.rolls[0].length, sheet.rolls[0].width) == (575, 12799, 575)


@pytest.mark.parametrize(("key", "field", "ticks"), [
    ("ledge: 6.01", "ledge", 97), ("footing_depth: 11.99", "footing_depth", 191),
])
def test_face_is_rounded_toward_the_safe_side(key: str, field: str, ticks: int) -> None:
    assert getattr(only_face(read(face=key)), field) == ticks


def test_profiles_are_rounded_toward_the_safe_side() -> None:
    """The top and the grade up, the footing down: the sheet then reaches at least as far as it must."""
    face = only_face(read(face="footing: -0.01, grade: 90.01"))
    assert face.footing[0][1] == -1
    assert face.grade is not None and face.grade[0][1] == 1441


def test_stations_go_to_the_nearest_tick() -> None:
    text = "footing: [[0, 0], [100.03, 0], [100.04, -8]]"
    assert only_face(read(face=text)).footing == ((0, 0), (1600, 0), (1601, -128), (7680, -128))


def test_opening_shrinks_and_sleeve_grows() -> None:
    face = only_face(read(face="openings: [{tag: W1, left: 60, sill: 50, width: 36.01, height: 24.03}], "
                               "sleeves: [{tag: P1, at: 200, elevation: 20, diameter: 4.01}]"))
    assert (face.openings[0].width, face.openings[0].height, face.sleeves[0].diameter) == (576, 384, 65)


def test_one_elevation_is_a_level_profile() -> None:
    assert only_face(read()).top == ((0, 1536), (7680, 1536))


def test_profile_is_level_before_its_first_point_and_after_its_last() -> None:
    assert only_face(read(face="footing: [[10', 0], [20', -8]]")).footing == (
        (0, 0), (1920, 0), (3840, -128), (7680, -128))


def test_station_given_twice_is_a_step() -> None:
    assert only_face(read(face="footing: [[0, 0], [12', 0], [12', -16], [40', -16]]")).footing == (
        (0, 0), (2304, 0), (2304, -256), (7680, -256))


@pytest.mark.parametrize(("run", "flow", "lows", "highs"), [
    ("", "right", (), ()), ("flow: left,", "left", (), ()), ("lows: [30', 10'],", None, (1920, 5760), ()),
    ("lows: [10', 30'], highs: [20'],", None, (1920, 5760), (3840,)),
])
def test_water(run: str, flow: str | None, lows: tuple[int, ...], highs: tuple[int, ...]) -> None:
    found = read(run=run).runs[0]
    assert (found.flow, found.lows, found.highs, found.drain) == (flow, lows, highs, None)


def test_drain_of_an_open_run_is_level_past_its_ends() -> None:
    assert read(run="drain: [[10', 0], [30', -8]],").runs[0].drain == (
        (0, 0), (1920, 0), (5760, -128), (7680, -128))


def test_drain_of_a_closed_run_joins_its_ends() -> None:
    """Perimeter 40 ft; from -8 in at 30 ft back to 0 at 10 ft is 20 ft more: half way, at the start, -4 in."""
    sides = ", ".join(f"{{name: F{index}, length: 10', top: 8'}}" for index in range(4))
    text = f"""\
job: {{name: Test}}
sheet: {{width: 36, rolls: [{{length: 800}}]}}
runs: [{{name: A, closed: true, drain: [[10', 0], [30', -8]], faces: [{sides}]}}]
"""
    assert read_job_text(text, "").runs[0].drain == ((0, -64), (1920, 0), (5760, -128), (7680, -64))


def test_corner_left_out_is_outside_but_none_at_an_open_end() -> None:
    text = INCH_JOB.replace("RULES", "").replace("RUN", "").replace(
        ", FACE}", "}, {name: East, length: 10', top: 8'}")
    faces = read_job_text(text, "").runs[0].faces
    assert [(face.corner, face.angle) for face in faces] == [("outside", 90.0), ("none", 90.0)]


def test_prices_and_weights_are_exact() -> None:
    text = INCH_JOB.replace("66'-8\"", "800, price: 205.10, weight_lb: 82.5, on_hand: 3")
    roll = read(job=text).sheet.rolls[0]
    assert (str(roll.price), str(roll.weight_lb), roll.on_hand) == ("205.1", "82.5", 3)


def test_remnant_without_a_width_is_as_wide_as_the_sheet() -> None:
    text = INCH_JOB.replace("]}", "], remnants: [{tag: K1, length: 9'}]}", 1)
    assert read(job=text).sheet.remnants[0].width == 576


def test_strip_left_out_is_a_product_of_its_own() -> None:
    job = read("base_strip: 18")
    assert job.strips_from == "strip"
    assert (job.strip.name, job.strip.width, job.strip.rolls[0].length) == ("strip", 288, 9600)
    assert job.strip.rolls[0].price is None


def test_strip_from_the_sheet() -> None:
    job = read(job="strip: {from: sheet}\n" + INCH_JOB)
    assert (job.strips_from, job.strip) == ("sheet", job.sheet)


def test_metric_strip_is_in_rolls_of_15_m() -> None:
    job = read(job=METRIC_JOB)
    assert (job.strip.width, job.strip.rolls[0].length) == (300, 15000)


def test_extras_hold_only_what_is_given() -> None:
    assert read().extras == Extras()


def test_primer_coverage_in_another_unit_is_rounded_down() -> None:
    """23 m² is 247.569 sq ft (1 ft = 0.3048 m)."""
    primer = read(job="primer: {coverage: 23 m²}\n" + INCH_JOB).extras.primer
    assert primer is not None
    assert primer.coverage == Decimal("247.569")


def test_sealant_volume() -> None:
    """A US fluid ounce is 231/128 cubic inches, 4,096 cubic ticks an inch cubed."""
    sealant = read(job="sealant: {volume: 29}\n" + INCH_JOB).extras.sealant
    assert sealant is not None
    assert sealant.cubic_ticks(INCH) == 29 * 231 * 4096 / 128
    metric = read(job="sealant: {volume: 600}\n" + METRIC_JOB).extras.sealant
    assert metric is not None
    assert metric.cubic_ticks(MM) == 600_000


def test_drainage_board() -> None:
    board = read(job="drainage_board: {width: 48, rolls: [{length: 50'}]}\n" + INCH_JOB).extras.drainage_board
    assert board is not None
    assert (board.product.width, board.product.rolls[0].length, board.flap, board.top_below_grade) == (
        768, 9600, 48, 96)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_samples_are_good(path: Path) -> None:
    assert read_job(path).runs


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_a_job_in_json_is_the_same_job(path: Path) -> None:
    loaded = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    assert read_job_text(json.dumps(loaded, default=str, indent=1), "job.json") == read_job(path)
    assert read_job_text(json.dumps(loaded, default=str), "job.yaml") == read_job(path)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_closed_samples_close_on_plan(path: Path) -> None:
    """Walk round each closed run by its lengths and turns: the end must meet the start within half an inch."""
    job = read_job(path)
    for run in job.runs:
        if run.closed:
            x, y, heading = 0, 0, (1, 0)
            for face in run.faces:
                x, y = x + heading[0] * face.length, y + heading[1] * face.length
                dx, dy = heading
                heading = (-dy, dx) if face.corner == "outside" else (dy, -dx) if face.corner == "inside" else heading
            assert max(abs(x), abs(y)) * job.unit.tick_mm < 13


def test_alias_is_written_out() -> None:
    text = """\
job: {name: Test}
sheet: {width: 36, rolls: [{length: 800}]}
runs:
  - name: A
    faces:
      - {name: S, length: &side 40', top: &top [[0, 8'], [5', 7']]}
      - {name: E, length: *side, top: *top}
"""
    first, second = read_job_text(text, "").runs[0].faces
    assert (first.length, first.top) == (second.length, second.top)


def test_yaml_that_looks_like_json_but_is_not() -> None:
    text = "{job: {name: Test}, sheet: {width: 36, rolls: [{length: 800}]}, runs: [{name: A, faces: [{name: S, " \
           "length: 40', top: 8'}]}]}"
    assert read_job_text(text, "job.yaml").info.name == "Test"
    with pytest.raises(JobError, match="cannot be read as JSON"):
        read_job_text(text, "job.json")


def test_number_as_a_name_is_its_text() -> None:
    assert read(job=INCH_JOB.replace("name: A", "name: 1")).runs[0].name == "1"
