"""Drawings made in odd but lawful ways: what is read of them, what is passed over, and what is said."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ezdxf.enums import TextEntityAlignment

from helpers.drafted import box, saved, sheet
from helpers.traced import faults_of, on
from layout.job import read_job_text
from layout.job.trace import Traced, curves, reader, trace


def walled(put: Callable[[Any], object]) -> Any:
    """Return a drawing of a wall 10 ft long and 8 ft high, and something more."""
    document = sheet()
    box(document, "WALL", 0, 0, 120, 96)
    put(document.modelspace())
    return document


def told(made: Traced, words: str) -> bool:
    """Tell whether the trace says something."""
    return any(words in line for line in made.told)


# --- passed over, and said ---------------------------------------------------------------------

def test_notes_on_a_layer_that_is_read_shape_nothing(tmp_path: Path) -> None:
    def put(space: Any) -> None:
        space.add_point((50, 50), **on("WALL"))
        space.add_linear_dim((0, -10), (0, 0), (120, 0), **on("WALL")).render()

    made = trace(saved(walled(put), tmp_path))
    face, = read_job_text(made.text, "t").runs[0].faces
    assert face.length == 120 * 16
    assert told(made, "dimension") and told(made, "point")


def test_a_layer_that_is_off_is_not_read(tmp_path: Path) -> None:
    document = walled(lambda space: space.add_circle((50, 50), 3, **on("SLEEVE")))
    document.layers.add("SLEEVE").off()
    made = trace(saved(document, tmp_path))
    assert read_job_text(made.text, "t").runs[0].faces[0].sleeves == ()
    assert told(made, "SLEEVE")


def test_a_strange_shape_outside_the_window_is_no_fault(tmp_path: Path) -> None:
    document = walled(lambda space: space.add_solid([(500, 50), (505, 50), (500, 55)], **on("WALL")))
    path = saved(document, tmp_path)
    assert any("SOLID" in line for line in faults_of(path))
    made = trace(path, window="-10,-10,130,110")
    assert read_job_text(made.text, "t").runs[0].faces[0].length == 120 * 16


def test_a_block_on_a_layer_that_nobody_reads_is_not_opened(tmp_path: Path) -> None:
    document = sheet()
    box(document, "WALL", 0, 0, 120, 96)
    tree = document.blocks.new("TREE")
    tree.add_arc((0, 0), 5, 0, 90, **on("PLANTS"))
    document.modelspace().add_blockref("TREE", (50, 50), **on("PLANTS"))
    made = trace(saved(document, tmp_path))
    assert told(made, "PLANTS")


# --- read --------------------------------------------------------------------------------------

def test_sleeves_in_a_grid_of_blocks_are_all_read(tmp_path: Path) -> None:
    document = walled(lambda space: None)
    document.blocks.new("PIPE").add_circle((0, 0), 2)
    document.modelspace().add_blockref("PIPE", (30, 40), **on(
        "SLEEVE", row_count=1, column_count=3, row_spacing=1, column_spacing=20))
    sleeves = read_job_text(trace(saved(document, tmp_path)).text, "t").runs[0].faces[0].sleeves
    assert [(sleeve.at, sleeve.elevation, sleeve.diameter) for sleeve in sleeves] == [
        (30 * 16, 40 * 16, 4 * 16), (50 * 16, 40 * 16, 4 * 16), (70 * 16, 40 * 16, 4 * 16)]


def test_an_attribute_of_a_block_names_its_sleeve(tmp_path: Path) -> None:
    document = walled(lambda space: None)
    block = document.blocks.new("PIPE")
    block.add_circle((0, 0), 2)
    block.add_attdef("TAG", (0, 3), height=2)
    document.modelspace().add_blockref("PIPE", (30, 40), **on("SLEEVE")).add_auto_attribs({"TAG": "P7"})
    sleeve, = read_job_text(trace(saved(document, tmp_path)).text, "t").runs[0].faces[0].sleeves
    assert sleeve.tag == "P7"


@pytest.mark.parametrize("align", [
    TextEntityAlignment.LEFT, TextEntityAlignment.MIDDLE_RIGHT, TextEntityAlignment.FIT, TextEntityAlignment.ALIGNED])
def test_a_name_may_be_put_in_any_way(tmp_path: Path, align: TextEntityAlignment) -> None:
    def put(space: Any) -> None:
        words = space.add_text("North", height=4, **on("TEXT"))
        two = align in (TextEntityAlignment.FIT, TextEntityAlignment.ALIGNED)
        words.set_placement((50, 40), (70, 40) if two else None, align=align)

    made = trace(saved(walled(put), tmp_path))
    assert read_job_text(made.text, "t").runs[0].faces[0].name == "North"


@pytest.mark.parametrize("attachment", range(1, 10))
def test_a_name_of_several_lines_is_its_first(tmp_path: Path, attachment: int) -> None:
    def put(space: Any) -> None:
        words = space.add_mtext("North\\Pbasement wall", **on("TEXT", char_height=4, attachment_point=attachment))
        words.set_location((60, 40))

    made = trace(saved(walled(put), tmp_path))
    assert read_job_text(made.text, "t").runs[0].faces[0].name == "North"


def test_an_old_polyline_is_a_wall_too(tmp_path: Path) -> None:
    document = sheet()
    document.modelspace().add_polyline2d([(0, 0), (0, 96), (120, 96), (120, 0)], close=True, **on("WALL"))
    face, = read_job_text(trace(saved(document, tmp_path)).text, "t").runs[0].faces
    assert (face.length, face.top[0][1]) == (120 * 16, 96 * 16)


# --- refused -----------------------------------------------------------------------------------

@pytest.mark.parametrize("name, put, words", [
    ("a line of no points", lambda space: space.add_polyline2d([], **on("GRADE")), "must have points"),
    ("a circle far too large", lambda space: space.add_circle((50, 50), 1e30, **on("SLEEVE")),
     "must have a radius that is a number"),
    ("too many points", lambda space: space.add_lwpolyline(
        [(x / 100, 50 + x % 2) for x in range(curves.MAX_CORNERS + 1)], **on("GRADE")), "must have at most 10,000"),
])
def test_shapes_that_are_refused(tmp_path: Path, name: str, put: Callable[[Any], object], words: str) -> None:
    assert any(words in line for line in faults_of(saved(walled(put), tmp_path))), name


@pytest.mark.parametrize("limit, words", [
    ("MAX_DRAWN", "must hold at most 5 entities"), ("MAX_READ", "must have at most 5 lines and circles"),
    ("MAX_WORDS", "must hold at most 5 texts"),
])
def test_a_drawing_with_too_much_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, words: str,
) -> None:
    def put(space: Any) -> None:
        for x in range(10, 80, 10):
            space.add_circle((x, 50), 2, **on("SLEEVE"))
            space.add_text("P", height=2, **on("TEXT")).set_placement((x, 54))

    monkeypatch.setattr(reader, limit, 5)
    assert any(words in line for line in faults_of(saved(walled(put), tmp_path)))


def test_a_part_that_its_block_will_not_give_is_told(tmp_path: Path) -> None:
    """A circle squeezed by its block is no circle: it comes out as an ellipse."""
    document = walled(lambda space: None)
    document.blocks.new("PIPE").add_circle((0, 0), 2)
    document.modelspace().add_blockref("PIPE", (30, 40), **on("SLEEVE", xscale=2, yscale=1))
    assert any("must be a circle, on a layer for sleeves" in line for line in faults_of(saved(document, tmp_path)))
