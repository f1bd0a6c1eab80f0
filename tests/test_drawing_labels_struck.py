"""No label is struck by a line, lies on another or plots too small: samples on every paper, and random jobs."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from helpers.drawing_plans import SMALL_FIRST, drawn_plan, sample_plan
from helpers.drawn_labels import advance, of_drawing, of_page
from helpers.packets import short_plan
from helpers.random_jobs import random_job
from layout.cautions import DEFERENCE, cautions
from layout.drawing.cad_sheets import cad_set
from layout.drawing.elevations import drawn_faces, face_elevations, strip
from layout.drawing.fold_details import fold_pictures
from layout.drawing.model.entities import PLOTTED_MM, Box, Drawing, Line, Page, PAPERS, Text
from layout.drawing.model.fonts import width
from layout.drawing.packet_pages import PageWords, packet_pages
from layout.drawing.roll_cards import roll_cards
from layout.drawing.struck import masked, struck
from layout.errors import NoLayout
from layout.packet.checks import check_rows
from layout.records import Plan
from layout.units import INCH

RANDOM = range(40, 60)
"""Seeds of random jobs."""


def drawings(plan: Plan) -> Iterator[Drawing]:
    scale = {"in": 48, "mm": 50}[plan.job.unit.name]
    faces = drawn_faces(plan, scale)
    yield from (face.whole() for face in face_elevations(plan, faces).values())
    for run, layer in dict.fromkeys((run, layer) for run, _, layer in faces):
        yield strip(plan, run, layer=layer, faces=faces)
    yield roll_cards(plan)
    yield from fold_pictures(plan).values()


def pages(plan: Plan, paper: str = "") -> Iterator[Page]:
    told = tuple((each.topic, each.text, each.rule) for each in cautions(plan.job))
    words = PageWords(told, DEFERENCE, check_rows(plan))
    yield from cad_set(plan, paper=paper).pages
    yield from packet_pages(plan, words, paper=paper)


def faults(plan: Plan, paper: str = "") -> list[str]:
    """Return a line for each label that is struck, lies on another, or is too small."""
    found = []
    papers = [(drawing.name, of_drawing(drawing)) for drawing in (drawings(plan) if not paper else ())]
    papers += [(f"{page.number} {page.title}", of_page(page)) for page in pages(plan, paper)]
    assert sum(len(paper.labels) for _, paper in papers) > 100
    for name, each in papers:
        found += [f"{name}: {text} is struck" for text in each.struck()]
        found += [f"{name}: {a} and {b} lie on each other" for a, b in each.overlapping()]
        found += [f"{name}: {label.text} is {label.height} mm high" for label in each.labels
                  if label.height < PLOTTED_MM[plan.job.unit.name]]
    return found


@pytest.mark.parametrize("name", SMALL_FIRST)
def test_no_label_of_a_sample_is_struck_or_covered(name: str) -> None:
    assert faults(drawn_plan(name)) == []


@pytest.mark.parametrize(("name", "paper"), [
    (name, paper) for name in ("hillside", "metric") for paper in (*PAPERS, "letter", "tabloid")
    if paper not in ("ANSI A", "ANSI B")])
@pytest.mark.slow
def test_nor_on_any_paper(name: str, paper: str) -> None:
    assert faults(sample_plan(name), paper) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", RANDOM)
def test_nor_in_random_jobs(seed: int) -> None:
    try:
        plan = short_plan(random_job(seed))
    except NoLayout:
        pytest.skip("no layout keeps the hard limits")
    assert faults(plan) == []


def test_the_check_finds_a_struck_label_and_a_covered_one() -> None:
    text = Text("text", (0.0, 0.0), "A-01", 2.5)
    line = Line("wall", (-5.0, 1.0), (30.0, 1.0))
    made = Drawing("x", "x", INCH, 1, Box(-50, -50, 50, 50), (text, line))
    assert of_drawing(made).struck() == ["A-01"] == [each.text for each in struck(made.entities, one=1.0)]
    blank = Drawing("x", "x", INCH, 1, made.frame, masked(made.entities, one=1.0))
    assert of_drawing(blank).struck() == [] == struck(blank.entities, one=1.0)
    assert of_drawing(Drawing("x", "x", INCH, 1, made.frame, (text, text))).overlapping() == [("A-01", "A-01")]


def test_the_check_measures_as_wide_as_the_program_does() -> None:
    for strong in (False, True):
        for text in ("A-01 Ø4\"", "8'-9 9/16\"", "Süd × 2,5"):
            assert sum(advance(each, strong) for each in text) == pytest.approx(width(text, 1.0, strong=strong), 2e-3)
