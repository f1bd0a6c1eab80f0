"""Drawings as people draw them: traced right, or refused with reason and place."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from helpers.odd_drawings import REFUSED, TRACED, drawing
from layout.errors import JobError
from layout.job import read_job_text
from layout.job.trace import trace
from layout.records import Face


def summary(face: Face) -> dict[str, object]:
    """Return what a face is, in inches."""
    def inches(profile: Any) -> Any:
        return profile and [(x / 16, y / 16) for x, y in profile]

    return {"name": face.name, "length": face.length / 16, "top": inches(face.top), "footing": inches(face.footing),
            "grade": inches(face.grade), "depth": face.footing_depth / 16,
            "openings": [(o.left / 16, o.sill / 16, o.width / 16, o.height / 16) for o in face.openings],
            "sleeves": [(s.at / 16, s.elevation / 16, s.diameter / 16) for s in face.sleeves]}


@pytest.mark.parametrize("odd", TRACED)
def test_traced_right(tmp_path: Path, odd: str) -> None:
    put, options, true, told = TRACED[odd]
    made = trace(drawing(put, tmp_path), **options)
    run = read_job_text(made.text, "t").runs[0]
    found = summary(run.faces[0])
    for key, value in true.items():
        if key == "second":
            assert summary(run.faces[1])["footing"] == value
        elif key == "second_name":
            assert run.faces[1].name == value
        elif key == "grade_near":
            assert callable(value) and run.faces[0].grade
            grade = found["grade"]
            assert isinstance(grade, list) and grade[0][0] == 0 and grade[-1][0] == 240 and len(grade) > 4
            for (x0, y0), (x1, y1) in zip(grade, grade[1:]):  # corners on the curve, chords within a tick of it
                assert abs(y0 - value(x0)) <= 1.5 / 16
                assert abs((y0 + y1) / 2 - value((x0 + x1) / 2)) <= 2 / 16
        else:
            assert found[key] == value, key
    if not any(key.startswith("second") for key in true):
        assert len(run.faces) == 1 or odd.startswith(("walls", "two rows"))
    if told:
        assert any(told in line for line in made.told), made.told


@pytest.mark.parametrize("odd", REFUSED)
def test_refused_with_reason_and_place(tmp_path: Path, odd: str) -> None:
    put, options, fault = REFUSED[odd]
    with pytest.raises(JobError) as caught:
        trace(drawing(put, tmp_path), **options)
    assert any(re.search(fault, line) for line in caught.value.lines()), caught.value.lines()


def test_there_are_enough() -> None:
    assert len(TRACED) >= 30 and len(REFUSED) >= 15
