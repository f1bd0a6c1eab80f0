"""Exceptions on the elevations: each flagged once at its place, explained below, on its own layer's drawing."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import pytest

from helpers.drawing_plans import sample_plan
from layout.drawing.elevations import Elevation, face_elevations, strip
from layout.drawing.flags import words
from layout.drawing.listing import overlapping, texts
from layout.drawing.model.entities import Dimension, Drawing, Insert, walk
from layout.records import Plan, RuleException

FLAGS = {"FLAG", "FLAG-WIDE"}


def flagged(drawing: Drawing) -> list[tuple[str, tuple[float, float]]]:
    """Return the number and the place of every flag, and of every leader to a number in the row below."""
    found = [(dict(entity.values)["FLAG"], entity.at) for entity in walk(drawing.entities)
             if isinstance(entity, Insert) and entity.block in FLAGS]
    return found + [(entity.text, entity.end) for entity in walk(drawing.entities)
                    if isinstance(entity, Dimension) and re.fullmatch(r"E\d+", entity.text)]


def broken_plan(name: str) -> Plan:
    """Return a sample's plan with exceptions of every kind put into it, on each face."""
    plan = sample_plan(name)
    made: list[RuleException] = []
    for wall in plan.walls:
        if wall.layer == "membrane":
            for span, face in zip(wall.faces, next(run.faces for run in plan.job.runs if run.name == wall.run)):
                third = (span.right - span.left) // 3
                made.append(RuleException("clear_of_corner", wall.run, span.left, 96, 40, "a seam lies near the corner",
                                          "a wider sheet"))
                made.append(RuleException("base_strip", wall.run, span.left + third, 256, 192,
                                          "the ledge is wider than the strip allows, and the words about it go on for "
                                          "so long that no drawing holds them in one line, nor would anybody wish to "
                                          "read them so"))
                made += [
                    RuleException("clear_of_sleeve", wall.run, span.left + sleeve.at, 96, 16, f"beside {sleeve.tag}")
                    for sleeve in face.sleeves]
    return replace(plan, exceptions=tuple(made))


@pytest.fixture(scope="module", params=["basement", "hillside", "metric"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return broken_plan(request.param)


@pytest.fixture(scope="module")
def faces(plan: Plan) -> dict[tuple[str, str, str], Elevation]:
    return face_elevations(plan)


def test_each_exception_is_flagged_once_at_its_place(plan: Plan, faces: dict[tuple[str, str, str], Elevation]) -> None:
    found = Counter(name for made in faces.values() for name, _ in flagged(made.bare))
    assert found == Counter(f"E{number}" for number in range(1, len(plan.exceptions) + 1))
    for (run, _, _), made in faces.items():
        near = made.bare.on_wall(40.0)
        for name, (x, _) in flagged(made.bare):
            broken = plan.exceptions[int(name[1:]) - 1]
            assert broken.run == run and abs(x - broken.at) < near


def test_a_flag_about_a_sleeve_is_near_it(plan: Plan, faces: dict[tuple[str, str, str], Elevation]) -> None:
    heights = {(run.name, sleeve.tag): sleeve.elevation for run in plan.job.runs for face in run.faces
               for sleeve in face.sleeves}
    for made in faces.values():
        for name, (_, y) in flagged(made.bare):
            broken = plan.exceptions[int(name[1:]) - 1]
            if broken.rule == "clear_of_sleeve":
                level = heights[broken.run, broken.why.removeprefix("beside ")]
                assert abs(y - level) < made.bare.on_wall(40.0)


def test_the_key_says_each_exception_whole(plan: Plan, faces: dict[tuple[str, str, str], Elevation]) -> None:
    for made in faces.values():
        said = " ".join(text.text for text in texts(made.bare))
        for name, _ in flagged(made.bare):
            assert words(plan, int(name[1:])) in said


def test_nothing_lies_on_anything_else(plan: Plan, faces: dict[tuple[str, str, str], Elevation]) -> None:
    for drawing in (*(made.whole() for made in faces.values()),
                    *(strip(plan, run.name) for run in plan.job.runs)):
        assert [(a.text, b.text) for a, b in overlapping(texts(drawing))] == [], drawing.name
    for run in plan.job.runs:
        wanted = sum(broken.run == run.name for broken in plan.exceptions)
        assert len(flagged(strip(plan, run.name))) == wanted


def test_an_exception_of_another_layer_is_not_shown_on_the_membrane() -> None:
    plan = sample_plan("basement")
    plan = replace(plan, exceptions=(RuleException("clear_of_corner", "A", 100, 96, 40, "board", layer="drainage"),))
    assert all(not flagged(made.bare) for made in face_elevations(plan).values())


def test_a_plan_that_keeps_every_rule_has_no_flags() -> None:
    plan = replace(sample_plan("basement"), exceptions=())
    assert all(not flagged(made.bare) for made in face_elevations(plan).values())
