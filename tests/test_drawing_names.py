"""Names as long as a job file allows, and with marks of HTML: every sheet is drawn, each name whole somewhere."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

import ezdxf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpers.limit_jobs import limit_job
from helpers.packets import short_plan
from helpers.thinned import slow_where
from layout import drawing
from layout.drawing.cad_sheets import cad_set
from layout.drawing.elevations import face_elevations
from layout.drawing.key_plan import key_plan
from layout.drawing.model.blocks import LONGEST_TAG, TAG_HEIGHT, tag_written
from layout.drawing.model.entities import Text, walk
from layout.drawing.model.fonts import abridged, width
from layout.drawing.model.plain import box_of_text, plain
from layout.drawing.roll_cards import roll_cards
from layout.drawing.schedules import schedule_rows
from layout.job.limits import MAX_NAME
from layout.records import Plan

LETTERS = ("W", "<&\">", "wall of the north wing ")
MARKUP_FIRST = slow_where(lambda letters: letters != LETTERS[1], LETTERS)


@lru_cache(maxsize=None)
def named_plan(letters: str) -> Plan:
    """Return the plan of three faces, everything on which has a name of the most letters."""
    def name(first: str) -> str:
        return (first + letters * MAX_NAME)[:MAX_NAME - 1] + "."

    faces = [
        {"name": name(f"F{number}"), "length": length, "top": 96, "footing": 0, "ledge": 6, "footing_depth": 12,
         "corner": corner,
         "openings": [{"tag": name(f"W{number}"), "kind": "window", "left": 30, "sill": 50, "width": 36, "height": 24}],
         "sleeves": [{"tag": name(f"P{number}"), "at": 20, "elevation": 30, "diameter": 4}]}
        for number, (length, corner) in enumerate([(120, "outside"), (80, "inside"), (100, "none")])]
    return short_plan(json.dumps({
        "job": {"name": name("J"), "number": name("N"), "site": name("S"), "prepared_by": name("B")}, "units": "in",
        "sheet": {"name": name("M"), "width": 36, "rolls": [{"length": 800, "price": 205}],
                  "remnants": [{"tag": name("K"), "length": 256, "width": 36}]},
        "runs": [{"name": name("R"), "flow": "right", "faces": faces}]}))


@pytest.mark.parametrize("paper", ["letter", "ARCH D"])
@pytest.mark.parametrize("letters", LETTERS)
@pytest.mark.slow
def test_every_sheet_is_drawn_with_its_words_on_it(letters: str, paper: str) -> None:
    cad = cad_set(named_plan(letters), paper=paper)
    for model in cad.models:
        one, frame = model.drawing.on_wall(1.0), model.drawing.frame.grown(1.0)
        for part in plain(model.drawing.entities, one=one):
            for text in walk([part]):
                assert not isinstance(text, Text) or frame.holds(box_of_text(text, one=one)), text
    for page in cad.pages:
        for view in page.views:
            assert view.box.width <= page.size.width and view.box.height <= page.size.height
        for part in plain(page.entities, one=1.0):
            if isinstance(part, Text):
                box = box_of_text(part, one=1.0)
                assert 0 <= box.left and box.right <= page.size.width and 0 <= box.bottom, part


@pytest.mark.parametrize("letters", LETTERS)
def test_every_name_is_whole_somewhere(letters: str) -> None:
    plan = named_plan(letters)
    run = plan.job.runs[0]
    written = [part for part in key_plan(plan, run.name).entities if isinstance(part, Text)]
    written.sort(key=lambda part: (round(part.at[0]), -part.at[1]))  # line under line
    plan_words = "".join(part.text for part in written)
    for face in run.faces:
        assert face.name.replace(" ", "") in plan_words.replace(" ", "")
    keys = "".join(text.text for face in face_elevations(plan).values() for text in walk(face.bare.entities)
                   if isinstance(text, Text)).replace(" ", "")
    for face in run.faces:
        assert all(each.tag.replace(" ", "") in keys for each in (*face.openings, *face.sleeves))
    assert {row[0] for row in schedule_rows(plan)} == {tag for drop in plan.drops for tag in drop.pieces}


@pytest.mark.parametrize("letters", MARKUP_FIRST[:2])
def test_a_tag_that_is_too_long_is_whole_in_its_block_and_short_beside_it(letters: str, tmp_path: Path) -> None:
    plan = named_plan(letters)
    drawing.write_plan_dxf(plan, tmp_path / "x.dxf")
    doc = ezdxf.readfile(tmp_path / "x.dxf")  # type: ignore[attr-defined]
    assert not doc.audit().errors
    flat = {piece.tag for piece in plan.pieces if piece.flat}
    told = {attribute.dxf.text for insert in doc.modelspace().query("INSERT") for attribute in insert.attribs
            if attribute.dxf.tag == "TAG" and attribute.is_invisible}
    assert flat == told and all(len(tag) > MAX_NAME for tag in flat)
    texts = {text.dxf.text for text in doc.modelspace().query("TEXT")}
    assert {tag_written(tag) for tag in flat} <= texts


@pytest.mark.parametrize("letters", MARKUP_FIRST)
def test_roll_cards_and_pages_are_written(letters: str, tmp_path: Path) -> None:
    plan = named_plan(letters)
    cards = roll_cards(plan)
    one = cards.on_wall(1.0)
    for part in plain(cards.entities, one=one):
        for text in walk([part]):
            assert not isinstance(text, Text) or cards.frame.grown(1.0).holds(box_of_text(text, one=one)), text
    drawing.write_plan_pdf(plan, tmp_path / "x.pdf")
    assert (tmp_path / "x.pdf").stat().st_size > 10_000


@pytest.mark.parametrize("seed", slow_where(lambda seed: seed == 18, [18, 59]))
def test_a_run_with_a_long_name_and_a_wall_of_200_feet_is_drawn(seed: int) -> None:
    assert cad_set(short_plan(limit_job(seed))).pages


@given(st.text(max_size=200), st.floats(1.0, 60.0))
def test_an_abridged_text_keeps_its_ends_and_fits(text: str, room: float) -> None:
    made = abridged(text, 2.5, room)
    if width(text, 2.5) <= room:
        assert made == text
        return
    assert width(made, 2.5) <= room or made == "…"
    first, _, last = made.partition("…")
    assert text.startswith(first) and text.endswith(last) and len(last) >= len(first) - 1 - text.count(" ")


def test_tags_that_fit_are_written_whole() -> None:
    """A letter W in bold is 2259 of 1493 units a capital: 2.8 mm high, 9 are 38.1 mm wide, and 10 are 42.4 mm."""
    assert tag_written("W" * 9) == "W" * 9
    assert width("W" * 10, TAG_HEIGHT, strong=True) > LONGEST_TAG and "…" in tag_written("W" * 10)
