"""Random walls, folded by the audit's own code: every piece foldable, every edge held or dabbed."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from helpers.folded import folded
from layout.errors import JobError, NoLayout

FACE = """      - {{name: F{number}, length: {length}, top: {top}, footing: {footing}, ledge: {ledge},
         footing_depth: {deep}, corner: {corner}{angle}, openings: [{openings}], sleeves: [{sleeves}]}}
"""
JOB = """
job: {{name: Walls}}
units: {unit}
sheet: {{width: {width}, rolls: [{{length: {roll}, price: 205}}]}}
strip: {{width: {base}, rolls: [{{length: {roll}, price: 60}}]}}
rules: {{fillet: {fillet}, turn_down: {down}, base_strip: {base}, corner_strip: {corner}, opening_return: {back}}}
runs:
  - name: A
    flow: {flow}
    faces:
"""
DEEP = 30
"""Depth of every footing [in]: deeper than any step here is high."""


@st.composite
def walls(draw: st.DrawFn) -> str:
    """Return a job of an open run of two to four faces: any corners, unequal ledges, steps, windows, pipes."""
    metric = draw(st.booleans())
    size = (lambda inches: f"{round(inches * 25)} mm") if metric else (lambda inches: f'{inches} in')
    count = draw(st.integers(2, 4))
    level, ledges = 0, [draw(st.sampled_from([0, 4, 6, 6, 8, 10])) for _ in range(count)]
    down = draw(st.sampled_from([0, 3, 4, 6]))
    text = JOB.format(
        unit="mm" if metric else "in", width=size(36), roll=size(800), base=size(18),
        fillet=size(draw(st.sampled_from([0, 0.75]))), down=size(down),
        corner=size(draw(st.sampled_from([0, 12]))), back=size(draw(st.sampled_from([0, 2, 3]))),
        flow=draw(st.sampled_from(["left", "right"])))
    for number in range(count):
        last = number == count - 1
        corner = "none" if last else draw(st.sampled_from(["outside", "outside", "inside", "none"]))
        turn = 0 if corner == "none" else draw(st.sampled_from([
            each for each in ((45, 60, 90, 90, 120, 135) if corner == "outside" else (60, 90, 90, 120, 135))
            if each >= 90 or ledges[number] == ledges[number + 1]
            or min(ledges[number:number + 2]) > max(ledges[number:number + 2]) * math.cos(math.radians(each))]))
        length = draw(st.integers(100, 150))
        start = level
        level -= draw(st.sampled_from([0, 0, 0, 8, 16, -12])) if length > 120 else 0
        half = length // 2
        footing = f"[[0, {size(start)}], [{size(half)}, {size(start)}], [{size(half)}, {size(level)}], " \
                  f"[{size(length)}, {size(level)}]]" if level != start else size(start)
        window = ""
        if draw(st.booleans()):
            window = f"{{tag: W{number}, kind: window, left: {size(12)}, sill: {size(start + 40)}, " \
                     f"width: {size(24)}, height: {size(20)}}}"
        pipe = ""
        if draw(st.booleans()):
            pipe = f"{{tag: P{number}, at: {size(length - 30)}, elevation: {size(level + 30)}, diameter: {size(4)}, " \
                   f"projects: {size(draw(st.sampled_from([0, 6])))}}}"
        text += FACE.format(
            number=number, length=size(length), top=size(96), footing=footing, deep=size(DEEP),
            ledge=size(ledges[number]), corner=corner,
            angle=f", angle: {turn}" if turn else "", openings=window, sleeves=pipe)
        # a step at a corner, but not at an inside one that is no right angle, nor at one with a ledge on one side only
        if down and (corner == "outside" or turn == 90) and ledges[number] and not last and ledges[number + 1]:
            level -= draw(st.sampled_from([0, 0, 8, 16, -8]))
    return text


def clean(text: str, folder: Path) -> Any:
    """Assert that nothing is found in a job's plan; one that is refused, with its reason, has none."""
    try:
        found = folded(text, folder)
    except (JobError, NoLayout):
        return
    assert not found, (text, [f"{each.number} {each.place}: {each.found}" for each in found])


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=walls())
def test_random_walls_fold(text: str, tmp_path: Path) -> None:
    clean(text, tmp_path)


@pytest.mark.slow
@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=walls())
def test_four_hundred_random_walls_fold(text: str, tmp_path: Path) -> None:
    clean(text, tmp_path)
