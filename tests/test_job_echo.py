"""The job written back, its JSON Schema, and the starter job."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from helpers.thinned import thinned
from layout.errors import JobError
from layout.job import SHAPES, echo, read_job, read_job_text, schema, starter
from layout.job.kind import ReadingContext
from layout.job.model import JobPart, RulesPart
from layout.job.part import Default
from layout.readback import warnings
from layout.records import Rules
from layout.units import UNITS

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = sorted((ROOT / "samples").glob("*.yaml"))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_echo_reads_as_the_same_job_and_writes_the_same_text(path: Path) -> None:
    job = read_job(path)
    text = echo(job)
    again = read_job_text(text, "job.yaml")
    assert again == job
    assert echo(again) == text


def test_echo_spells_out_the_defaults() -> None:
    text = echo(read_job_text(starter(), ""))
    for field in fields(Rules):
        assert f"\n  {field.name}: " in text
    assert '\n  turn_down: [4", 6"]\n' in text
    assert "\nunits: in\n" in text


BARE = """
job: {name: PLACE}
sheet: {width: 36, rolls: [{length: 50 ft}]}
runs: [{name: A, faces: [{name: South, length: 30 ft, top: 8 ft}]}]
"""


@pytest.mark.parametrize("name", [
    "yes", "null", "1.5", "a: b", "#1", "- x", "it's", 'say "x"', "{a}", "[b]", "*c", "&d", "%e", "~", "café", "x\\n",
    "!f", "2026-05-04", "a #b", "’", "on", "0x1", "<<", "@g", "`", "|", "壁",
])
def test_echo_of_any_name(name: str) -> None:
    quoted = "'" + name.replace("'", "''") + "'"
    renamed = read_job_text(BARE.replace("PLACE", quoted), "")
    assert renamed.info.name == name
    text = echo(renamed)
    assert read_job_text(text, "") == renamed
    assert YAML(typ="safe", pure=True).load(text)["job"]["name"] == name


def test_strips_from_the_sheet_are_echoed() -> None:
    job = read_job_text("strip: {from: sheet}\n" + starter(), "")
    assert "\nstrip: {from: sheet}\n" in echo(job)
    assert read_job_text(echo(job), "") == job


def objects(node: Any) -> list[dict[str, Any]]:
    """Return every object in a schema that has properties."""
    found = []
    if isinstance(node, dict):
        if "properties" in node:
            found.append(node)
        for value in node.values():
            found += objects(value)
    elif isinstance(node, list):
        for value in node:
            found += objects(value)
    return found


def test_schema_allows_no_other_key_and_describes_each() -> None:
    made = objects(schema())
    assert len(made) > 15
    for node in made:
        assert node["additionalProperties"] is False
        for name, key in node["properties"].items():
            assert key.get("description"), name


def test_schema_has_the_contracts_defaults() -> None:
    rules = schema()["$defs"]["RulesPart"]["properties"]
    assert set(rules) == {field.name for field in fields(Rules)}
    assert (rules["side_lap"]["default"], rules["turn_down"]["default"]) == ('2 1/2"', ['4"', '6"'])
    assert "65 mm" in rules["side_lap"]["description"]
    assert schema()["required"] == ["job", "sheet", "runs"]


def test_schema_is_the_same_twice() -> None:
    assert schema() == schema()


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_models_take_a_whole_file_as_the_reader_does(path: Path) -> None:
    """The reader goes through the models key by key; pydantic, given the whole file, must find the same values."""
    loaded = YAML(typ="safe", pure=True)
    loaded.Constructor.add_constructor("tag:yaml.org,2002:timestamp", lambda maker, node: node.value)
    job = read_job(path)
    part = JobPart.model_validate(loaded.load(path.read_text(encoding="utf-8")), context=ReadingContext(job.unit))
    assert part.sheet.width == job.sheet.width
    assert [face.length for run in part.runs for face in run.faces] == [
        face.length for run in job.runs for face in run.faces]
    assert [sleeve.diameter for run in part.runs for face in run.faces for sleeve in face.sleeves] == [
        sleeve.diameter for run in job.runs for face in run.faces for sleeve in face.sleeves]
    for name in part.rules.model_fields_set:
        assert getattr(part.rules, name) == getattr(job.rules, name)


@pytest.mark.parametrize("unit", UNITS)
def test_defaults_keep_their_own_rules(unit: str) -> None:
    told = ReadingContext(UNITS[unit])
    for name, info in RulesPart.model_fields.items():
        if isinstance(info.default, Default):
            RulesPart.model_validate({name: info.default.written(told.unit)}, context=told)


# --- the starter -------------------------------------------------------------------------------

STARTERS = [(shape, metric) for shape in SHAPES for metric in (False, True)]


@pytest.mark.parametrize(("shape", "metric"), STARTERS)
def test_starter_is_a_good_job_without_a_warning(shape: str, metric: bool) -> None:
    job = read_job_text(starter(shape, metric=metric), "starter.yaml")
    assert job.runs[0].closed == (shape != "wall")
    assert job.unit.name == ("mm" if metric else "in")
    assert warnings(job) == ()


@pytest.mark.parametrize("metric", [False, True])
def test_the_starter_shows_an_ell_with_a_step_sloping_grade_a_window_and_a_sleeve(metric: bool) -> None:
    run, = read_job_text(starter(metric=metric), "").runs
    assert [face.corner for face in run.faces].count("inside") == 1 and len(run.faces) == 6
    assert any(a[0] == b[0] for face in run.faces for a, b in zip(face.footing, face.footing[1:]))
    assert any(len({y for _, y in face.grade or ()}) > 1 for face in run.faces)
    assert any(face.openings for face in run.faces) and any(face.sleeves for face in run.faces)


@pytest.mark.parametrize(("shape", "metric"), STARTERS)
def test_starter_rules_are_the_defaults(shape: str, metric: bool) -> None:
    text = starter(shape, metric=metric)
    bare = text[:text.index("rules:")] + text[text.index("runs:"):]
    assert read_job_text(text, "").rules == read_job_text(bare, "").rules
    lines = text[text.index("rules:"):text.index("runs:")].splitlines()[1:]
    told = [line.split(":")[0].strip() for line in lines if line]
    assert sorted(told) == sorted(field.name for field in fields(Rules))


EXAMPLE = re.compile(r"^(?P<indent> *)# (?P<text>(?:- \{|  - \{)?[a-z_]+: .*)$", re.MULTILINE)
ONE_OF = {"flow", "lows", "drain"}
"""Examples that take the place of what the starter says of water."""


def examples(shape: str, metric: bool) -> list[str]:
    """Return the commented examples of the starter by their own lines."""
    found = [match[0] for match in EXAMPLE.finditer(starter(shape, metric=metric))]
    return [line for line in found if "remnants" not in line and "tag: K1" not in line]


def test_starter_has_examples() -> None:
    assert all(len(examples(shape, metric)) > 15 for shape, metric in STARTERS)


@pytest.mark.parametrize(("shape", "metric", "line"), thinned([
    (shape, metric, line) for shape, metric in STARTERS for line in examples(shape, metric)], rows=True))
def test_each_example_in_the_starter_may_be_used(shape: str, metric: bool, line: str) -> None:
    plain = starter(shape, metric=metric)
    key = line.split(":")[0].strip("# -{")
    text = re.sub("^    (flow|lows): ", r"    ## \1: ", plain, count=1, flags=re.MULTILINE) if key in ONE_OF else plain
    text = text.replace(line, line.replace("# ", "", 1), 1)
    if key == "footing":
        text = text.replace("        footing: 0", "        # footing: 0")
    try:
        job = read_job_text(text, "starter.yaml")
    except JobError as error:
        raise AssertionError(error.lines()) from None
    if key not in {"angle", "film_side_up"}:
        assert job != read_job_text(plain, "") or key == "substrate"
