"""Nothing that a job file holds makes the reader do anything but return a job or tell its faults, in bounded time."""

from __future__ import annotations

import json
import random
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from layout.errors import JobError
from layout.job import echo, limits, read_job, read_job_text, starter
from layout.records import Job

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = [starter(), *(path.read_text(encoding="utf-8") for path in sorted((ROOT / "samples").glob("*.yaml")))]
MOST_SECONDS = 5.0
"""Longest that one text may take [seconds of processor time]."""

calm = settings(deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
brief = settings(calm, max_examples=30)
"""For what reads whole samples or plans; ``test_random_damage_many_times`` goes on where these end."""


def take(text: str, *, file: str = "job.yaml") -> Job | None:
    """Read a text; return the job, or None when it has faults. Anything else than a JobError is let through."""
    began = time.process_time()
    try:
        return read_job_text(text, file)
    except JobError as error:
        lines = error.lines()
        assert lines
        assert all(line.isprintable() and line.startswith(file) for line in lines)
        assert [fault.line for fault in error.faults if fault.line] == sorted(
            fault.line for fault in error.faults if fault.line)
        return None
    finally:
        assert time.process_time() - began < MOST_SECONDS


@calm
@given(st.text())
def test_any_text(text: str) -> None:
    take(text)


@calm
@given(st.text(alphabet="ab:- \n\t'\"[]{},#&*!|>%@`?~0<\x85\u2028\ufeff", max_size=60))
def test_any_text_of_yamls_own_signs(text: str) -> None:
    take(text)


@calm
@given(st.binary())
def test_any_bytes(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzz.yaml"
    path.write_bytes(data)
    try:
        read_job(path)
    except JobError:
        pass


values = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20), st.sampled_from(
        ["8'-4 1/2\"", "2.44 m", "-6", "outside", "sheet", "2026-05-04", "W1", ".nan", "1/0", "wall", "grade",
         "300 sq ft"])),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=8), inner, max_size=4)),
    max_leaves=8)


@calm
@given(values)
def test_any_json_value(value: Any) -> None:
    take(json.dumps(value), file="job.json")
    take(json.dumps(value))


def spots(node: Any) -> list[tuple[Any, Any]]:
    """Return every (holder, key or index) in a tree."""
    found: list[tuple[Any, Any]] = []
    for key in (node if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else ()):
        found.append((node, key))
        found += spots(node[key])
    return found


TREES = [YAML(typ="safe", pure=True).load(text) for text in SAMPLES]


@brief
@given(st.data())
def test_any_value_anywhere_in_a_good_job(data: st.DataObject) -> None:
    """One to three values of a sample are replaced, taken out or doubled: the rest of the file is still read."""
    tree = json.loads(json.dumps(data.draw(st.sampled_from(TREES)), default=str))
    for _ in range(data.draw(st.integers(1, 3))):
        holder, key = data.draw(st.sampled_from(spots(tree)))
        change = data.draw(st.sampled_from(("replace", "take out", "double", "rename")))
        if change == "replace":
            holder[key] = data.draw(values)
        elif change == "take out":
            del holder[key]
        elif change == "double" and isinstance(holder, list):
            holder.append(holder[key])
        elif isinstance(holder, dict):
            holder[data.draw(st.text(max_size=8))] = holder.pop(key)
    job = take(json.dumps(tree), file="job.json")
    if job is not None:
        assert read_job_text(echo(job), "") == job


@brief
@given(st.sampled_from(SAMPLES), st.data())
def test_any_damage_to_the_text_of_a_good_job(text: str, data: st.DataObject) -> None:
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 12))
        text = text[:at] + data.draw(st.text(max_size=6)) + text[at + cut:]
    job = take(text)
    if job is not None:
        assert read_job_text(echo(job), "") == job


@brief
@given(st.lists(st.tuples(st.integers(0, 480), st.integers(-40, 40)), min_size=1, max_size=6), st.integers(60, 100))
def test_any_profile_reads_back(points: list[tuple[int, int]], top: int) -> None:
    footing = [list(point) for point in sorted(points, key=lambda point: point[0])]
    tree = {"job": {"name": "x"}, "sheet": {"width": 36, "rolls": [{"length": 800}]},
            "runs": [{"name": "A", "faces": [{"name": "S", "length": 480, "top": top, "footing": footing}]}]}
    job = take(json.dumps(tree))
    if job is not None:
        read = job.runs[0].faces[0].footing
        assert (read[0][0], read[-1][0]) == (0, 480 * 16)
        assert [station for station, _ in read] == sorted(station for station, _ in read)
        assert read_job_text(echo(job), "") == job


# --- shapes that make careless readers run for ever --------------------------------------------

def bombs() -> dict[str, str]:
    """Return texts that explode, nest or repeat."""
    laughs = ["a0: &a0 [x, x]"] + [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 40)]
    return {
        "aliases": "\n".join(laughs),
        "alias keys": "a: &a [" + "x, " * 1000 + "]\n" + "\n".join(f"b{i}: *a" for i in range(1000)),
        "open lists": "[" * 100_000,
        "nested lists": "[" * 5_000 + "]" * 5_000,
        "open mappings": "{a: " * 50_000,
        "nested json": '{"a":' * 50_000 + "1" + "}" * 50_000,
        "block lists": "".join(" " * depth + "-\n" for depth in range(2_000)),
        "one long word": "a" * 1_000_000,
        "one long quoted text": "job: '" + "a " * 40_000 + "'",
        "one long number": "job: " + "9" * 1_000_000,
        "one long key": "a" * 100_000 + ": 1",
        "long comment": "#" * 4_000_000,
        "one long tag": "a: !" + "x" * 4_000_000,
        "long tags": "a: [" + "\n".join("!" + "x" * 90_000 + "," for _ in range(50)) + "]",
        "many keys": "\n".join(f"k{i}: 1" for i in range(4_000)),
        "one key again and again": "a: 1\n" * 4_000,
        "many blank lines": "\n" * 190_000,
        "many documents": "---\n" * 10_000,
        "many anchors": "\n".join(f"k{i}: &a{i} 1" for i in range(3_000)),
        "percent": "%YAML 1.1\n---\n" + starter(),
        "quotes": "'" * 100_001,
        "questions": "? " * 20_000,
        "brackets and commas": "[" + "," * 100_000 + "]",
    }


@pytest.mark.parametrize("name", bombs())
def test_bombs_are_told_in_time(name: str) -> None:
    take(bombs()[name])
    take(bombs()[name], file="job.json")


def test_openings_stacked_to_the_limit_take_no_time() -> None:
    """Every opening shares its stations with all others, and none overlaps: the worst that overlap checks can get."""
    openings = [{"tag": f"W{index}", "left": 10, "sill": index, "width": 100, "height": 0.5}
                for index in range(limits.MAX_FEATURES_A_FACE)]
    sleeves = [{"tag": f"P{index}", "at": 200, "elevation": 10 + index, "diameter": 1}
               for index in range(limits.MAX_FEATURES_A_FACE)]
    tree = {"job": {"name": "x"}, "sheet": {"width": 36, "rolls": [{"length": 800}]},
            "runs": [{"name": "A", "faces": [{"name": "S", "length": 480, "top": 900,
                                              "openings": openings, "sleeves": sleeves}]}]}
    assert take(json.dumps(tree)) is not None


@pytest.mark.slow
def test_a_job_at_the_limits_is_read_within_bounds() -> None:
    """500 faces and 2,000 sleeves: read within 10 s and 500 MB, checks included."""
    import tracemalloc
    faces = [{"name": f"F{number}", "length": 120, "top": 96, "sleeves": [
        {"tag": f"P{number}-{index}", "at": 24 + 8 * index, "elevation": 40, "diameter": 4} for index in range(4)]}
        for number in range(limits.MAX_FACES)]
    text = json.dumps({"job": {"name": "x"}, "sheet": {"width": 36, "rolls": [{"length": 800}]},
                       "runs": [{"name": "A", "faces": faces}]})
    began = time.process_time()
    assert len(read_job_text(text, "job.json").runs[0].faces) == limits.MAX_FACES
    assert time.process_time() - began < 10
    tracemalloc.start()
    read_job_text(text, "job.json")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 500_000_000


@pytest.mark.slow
@settings(calm, max_examples=2_000)
@given(st.data())
def test_any_value_anywhere_many_times(data: st.DataObject) -> None:
    test_any_value_anywhere_in_a_good_job.hypothesis.inner_test(data)  # type: ignore[attr-defined]


@pytest.mark.slow
def test_random_damage_many_times() -> None:
    chance = random.Random(20260504)
    signs = "[]{}:,&*!|>'\"%@`#-?~ \n\t0123456789abcxyz½″′\u00a0"
    for _ in range(1_000):
        text = chance.choice(SAMPLES)
        for _ in range(chance.randint(1, 6)):
            at = chance.randrange(len(text) + 1)
            text = text[:at] + "".join(chance.choices(signs, k=chance.randint(0, 5))) + text[at + chance.randint(0, 9):]
        take(text)
