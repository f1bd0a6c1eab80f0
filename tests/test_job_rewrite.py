"""A job file rewritten in place: it says what was meant, and all else stays as it was, comments and order with it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.errors import LayoutError
from layout.job import read_job_text
from layout.job.form import form
from layout.job.model import JobPart
from layout.job.rewrite import Change, changed, rewritten
from layout.job.text import read_tree
from layout.job.walk import keys_of

SAMPLES = {path.stem: path.read_text("utf-8")
           for path in sorted((Path(__file__).resolve().parent.parent / "samples").glob("*.yaml"))}
SMALL = """\
# the job
job: {name: J}   # its name
sheet:
  width: 36
  rolls: [{length: 50 ft}]
runs:
  - name: A
    faces:
      # south of the drive
      - name: South   # first
        length: 9 ft
        top: 8 ft
      # north of it
      - {name: North, length: 9 ft, top: 8 ft}   # second
"""


def plain(text: str, file: str = "") -> Any:
    return read_tree(text, file=file)[0].plain()


def comments(text: str) -> list[str]:
    return sorted(line[line.index("#"):].strip() for line in text.splitlines() if "#" in line)


def test_a_value_is_put_in_its_place_and_nothing_else_moves() -> None:
    assert rewritten(SMALL, [Change("set", ("runs", 0, "faces", 0, "length"), "41'-4\"")]) == SMALL.replace(
        "length: 9 ft\n        top", "length: 41'-4\"\n        top")
    assert rewritten(SMALL, [Change("set", ("runs", 0, "faces", 1, "top"), [[0, "8'"], ["9'", "7'-6\""]])]) == (
        SMALL.replace("9 ft, top: 8 ft}", "9 ft, top: [[0, 8'], [9', 7'-6\"]]}"))


def test_a_new_key_stands_where_the_job_usually_has_it() -> None:
    added = rewritten(SMALL, [
        Change("set", ("rules", "side_lap"), 3), Change("set", ("runs", 0, "faces", 0, "grade"), "7 ft"),
        Change("set", ("runs", 0, "faces", 1, "ledge"), 6), Change("set", ("runs", 0, "faces", 0, "ledge"), 4),
        Change("set", ("runs", 0, "closed"), False), Change("set", ("units",), "in"),
    ])
    assert added == """\
# the job
job: {name: J}   # its name
units: in
sheet:
  width: 36
  rolls: [{length: 50 ft}]
rules: {side_lap: 3}
runs:
  - name: A
    closed: false
    faces:
      # south of the drive
      - name: South   # first
        length: 9 ft
        top: 8 ft
        ledge: 4
        grade: 7 ft
      # north of it
      - {name: North, length: 9 ft, top: 8 ft, ledge: 6}   # second
"""


def test_entries_are_added_moved_and_removed_with_their_comments() -> None:
    faces = ("runs", 0, "faces")
    moved = rewritten(SMALL, [Change("move", (*faces, 0), to=1)])
    assert moved == """\
# the job
job: {name: J}   # its name
sheet:
  width: 36
  rolls: [{length: 50 ft}]
runs:
  - name: A
    faces:
      # north of it
      - {name: North, length: 9 ft, top: 8 ft}   # second
      # south of the drive
      - name: South   # first
        length: 9 ft
        top: 8 ft
"""
    assert rewritten(moved, [Change("move", (*faces, 1), to=0)]) == SMALL
    grown = rewritten(SMALL, [Change("insert", (*faces, 1), {"name": "East", "length": "4'", "top": "8'"})])
    assert grown == SMALL.replace(
        "      # north", "      - name: East\n        length: 4'\n        top: 8'\n      # north")
    assert rewritten(grown, [Change("remove", (*faces, 1))]) == SMALL
    assert comments(rewritten(SMALL, [Change("remove", (*faces, 0))])) == [
        "# its name", "# north of it", "# second", "# the job"]


def test_a_house_written_from_nothing_reads_well() -> None:
    text = ("job:\n  name: \"\"\nunits: in\nsheet:\n  width: 36\n  rolls: []\n"
            "runs:\n  - name: A\n    closed: true\n    faces: []\n")
    faces = ("runs", 0, "faces")
    made = rewritten(text, [
        Change("set", ("job", "name"), "Row: 7 #1"), Change("insert", ("sheet", "rolls", 0), {"length": "66'-8\""}),
        Change("insert", (*faces, 0), {"name": "South"}), Change("set", (*faces, 0, "length"), "40'-0\""),
        Change("insert", (*faces, 0, "openings", 0), {"tag": "W1", "left": "3'"}),
        Change("insert", (*faces, 0, "openings", 1), {"tag": "W2"}), Change("insert", (*faces, 1), {"name": "East"}),
        Change("remove", (*faces, 0, "openings", 0)),
    ])
    assert made == """\
job:
  name: 'Row: 7 #1'
units: in
sheet:
  width: 36
  rolls:
    - {length: 66'-8"}
runs:
  - name: A
    closed: true
    faces:
      - name: South
        length: 40'-0"
        openings:
          - {tag: W2}
      - name: East
"""


@pytest.mark.parametrize("value", [
    "yes", "no", "true", "null", "~", "1", "1.5", "1e3", "0x10", "2026-05-04", "a: b", "a #b", "- a", "[a", "{a", "*a",
    "&a", "!a", "%a", "@a", "`a", "'", '"', "'a'", '"a"', "41'-4\"", "2 1/2", "", " a ", "a, b", "é – ½", "a\\n", "|",
    ">",
    0, -3, 2.5, 1e-7, True, False, None, [], {}, [[0, "8'"], [1, 2]],
])
@pytest.mark.parametrize("path", [("job", "name"), ("runs", 0, "faces", 0, "name"), ("runs", 0, "faces", 1, "top"),
                                  ("job", "site"), ("runs", 0, "faces", 0, "grade")])
def test_every_value_is_written_so_that_it_reads_back(path: tuple[str | int, ...], value: object) -> None:
    for text, file in ((SMALL, ""), (json.dumps(plain(SMALL)), "j.json"), (json.dumps(plain(SMALL), indent=2), "")):
        made = rewritten(text, [Change("set", path, value)], file=file)
        assert plain(made, file) == changed(plain(text, file), Change("set", path, value))
        if text is SMALL:
            assert comments(made)[:3] == comments(SMALL)[:3] or "#" in str(value)
        else:
            json.loads(made)


def test_a_value_used_in_several_places_is_parted_first() -> None:
    text = SMALL.replace("- name: South   # first\n        length: 9 ft\n        top: 8 ft",
                         "- &wall {name: South, length: 9 ft, top: &top [[0, 8 ft], [9 ft, 7 ft]]}").replace(
        "top: 8 ft}", "top: *top}")
    made = rewritten(text, [Change("set", ("runs", 0, "faces", 1, "top", 1, 1), "6 ft")])
    faces = plain(made)["runs"][0]["faces"]
    assert (faces[0]["top"], faces[1]["top"]) == ([[0, "8 ft"], ["9 ft", "7 ft"]], [[0, "8 ft"], ["9 ft", "6 ft"]])
    assert comments(made) == comments(text)


@pytest.mark.parametrize("change", [
    Change("set", ("runs", 3, "name"), "B"), Change("remove", ("runs", 0, "flow")), Change("remove", ("runs", 7)),
    Change("move", ("runs", 0, "faces", 0), to=5), Change("insert", ("runs", 4), {}), Change("set", ("units", "x"), 1),
    Change("insert", ("job", "name"), 1), Change("set", (), {}),
])
def test_a_change_without_a_place_is_refused(change: Change) -> None:
    with pytest.raises(LayoutError, match="there is no such place"):
        rewritten(SMALL.replace("sheet:", "units: in\nsheet:"), [change])


def places(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Return the path of everything in a job but the job itself."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [each for key, item in items for each in ((*path, key), *places(item, (*path, key)))]


@settings(max_examples=25, deadline=None)
@given(st.data())
@pytest.mark.slow
def test_any_changes_of_any_sample_say_what_was_meant(data: st.DataObject) -> None:
    text = SAMPLES[data.draw(st.sampled_from(sorted(set(SAMPLES) - {"long-wall"})))]
    for _ in range(data.draw(st.integers(1, 4))):
        here = plain(text)
        path = data.draw(st.sampled_from(places(here)))
        value = data.draw(st.sampled_from(["7'-3\"", 4, "a: b", [[0, 1]], {"tag": "X1", "left": 3}]))
        kinds = ["set", "remove", *(["insert", "move"] if isinstance(path[-1], int) else [])]
        change = Change(data.draw(st.sampled_from(kinds)), path, value, 0)  # type: ignore[arg-type]
        made = rewritten(text, [change])
        assert plain(made) == changed(here, change)
        if change.do in ("insert", "move"):
            assert comments(made) == comments(text)
        text = made


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_a_change_and_back_leaves_every_byte(name: str) -> None:
    text = SAMPLES[name]
    path = ("runs", 0, "faces", 0, "length")
    before = plain(text)["runs"][0]["faces"][0]["length"]
    there = rewritten(text, [Change("set", path, "11'-1\"")])
    assert there != text and rewritten(there, [Change("set", path, before)]) == text
    assert read_job_text(rewritten(text, [Change("set", ("job", "name"), "Other")]), name).info.name == "Other"


def test_the_form_has_every_key_of_every_part() -> None:
    fields = form()
    assert [field["key"] for field in fields["JobPart"]] == list(keys_of(JobPart))
    assert {field["of"] for part in fields.values() for field in part if "of" in field} == set(fields) - {"JobPart"}
    for part in fields.values():
        for field in part:
            assert field["help"] and field["label"], field
            assert field["kind"] in {"part", "parts", "list", "length", "range", "profile", "number", "text", "date",
                                     "choice", "flag"}
    rules = {field["key"]: field for field in fields["RulesPart"]}
    assert rules["side_lap"]["empty"] == {"in": '2 1/2"', "mm": "65 mm"}  # UFGS 07131, 3.4
    assert rules["turn_down"]["empty"]["in"] == '4" to 6"'
