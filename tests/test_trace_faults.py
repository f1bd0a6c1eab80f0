"""What is wrong with a drawing is told with handle, layer and place; no file makes the trace hang or break."""

from __future__ import annotations

import io
import math
import os
import random
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from helpers.drafted import box, saved, sheet, stepped
from helpers.trace_drawings import draw
from helpers.traced import faults_of, on
from layout.errors import JobError
from layout.job import read_job_text
from layout.job.trace import document as document_limits
from layout.job.trace import trace
from layout.job.trace.layers import role_of

MOST_SECONDS = 5.0


def overhang(space: Any) -> None:
    space.add_lwpolyline([(0, 0), (0, 96), (60, 96), (50, 80), (120, 80), (120, 0)], close=True, **on("WALL"))


def leaning(space: Any) -> None:
    space.add_lwpolyline([(0, 0), (1, 50), (0, 96), (120, 96), (120, 0)], close=True, **on("WALL"))


def curved(space: Any) -> None:
    space.add_lwpolyline([(0, 0, 0.2), (0, 96, 0), (120, 96, 0), (120, 0, 0)], format="xyb", close=True, **on("WALL"))


def out_of_plane(space: Any) -> None:
    space.add_line((300, 0, 0), (400, 0, 5), **on("WALL"))


def in_space(space: Any) -> None:
    space.add_circle((20, 20), 3, **on("SLEEVE", extrusion=(1, 0, 0)))


def crossing(space: Any) -> None:
    for x in (0, 120):
        space.add_line((x, 0), (x, 96), **on("WALL"))
    for y in (0, 96):
        space.add_line((0, y), (120, y), **on("WALL"))
    space.add_line((120, 96), (200, 96), **on("WALL"))


BAD: dict[str, tuple[Callable[[Any], object], str]] = {
    "overhang": (overhang, r"layer WALL, at \(50, 80\): must not turn back or overhang"),
    "leaning end": (leaning, r"layer WALL, at \(1, 50\): must be plumb; it leans 1 over a height of 50;"),
    "curved wall": (curved, r"layer WALL, at \([^)]*\): must (be plumb|have a plumb left end)"),
    "not flat": (out_of_plane, r"must lie flat in the XY plane"),
    "turned circle": (in_space, r"layer SLEEVE, at \(20, 20\): must lie flat in the XY plane"),
    "three lines at one point": (crossing, r"must not meet more than one other line at an end"),
    "an arc": (lambda space: space.add_arc((50, 50), 5, 0, 90, **on("wall")),
               r"layer wall, at \(50, 55\): must be a closed outline; its ends are 7.071 apart"),
    "a spline": (lambda space: space.add_spline([(0, 0), (9, 9), (20, 0)], **on("FOOTING")),
                 r"layer FOOTING, at \(20, [^)]*\): the footing must run from end to end of the wall"),
    "a solid": (lambda space: space.add_solid([(0, 0), (9, 9), (20, 0)], **on("wall")),
                r"layer wall, at \(0, 0\): must be drawn with lines, polylines, arcs, splines or circles "
                r"\(got SOLID\); it stands on"),
    "a mesh": (lambda space: space.add_polyface(**on("FOOTING")), r"\(got POLYLINE\)"),
    "a wall over a wall": (lambda space: box(space.doc, "WALL", 60, 10, 200, 90), r"must not lie over another wall"),
    "two corners": (lambda space: space.add_lwpolyline([(0, 0), (9, 9)], close=True, **on("WALL")),
                    r"must have an area"),
    "a point as a line": (lambda space: space.add_line((5, 5), (5, 5), **on("GRADE")), r"must have a length"),
    "no number": (lambda space: space.add_line((5, 5), (5, math.nan), **on("GRADE")),
                  r"must have points that are numbers"),
    "far away": (lambda space: space.add_line((5, 5), (1e30, 5), **on("GRADE")), r"must be drawn nearer"),
    "grade half across": (lambda space: space.add_line((0, 60), (80, 60), **on("GRADE")),
                          r"at \(80, 60\): the grade must run from end to end of the wall"),
    "grade twice": (lambda space: [space.add_line((-5, y), (125, y), **on("GRADE")) for y in (50, 60)],
                    r"the grade must be one line, not two over one another"),
    "grade closed": (lambda space: box(space.doc, "GRADE", 0, 40, 120, 60), r"must be an open line across the wall"),
    "grade elsewhere": (lambda space: space.add_line((0, 900), (120, 900), **on("GRADE")), r"must cross a wall"),
    "plumb grade": (lambda space: space.add_line((60, 0), (60, 90), **on("GRADE")), r"must run from left to right"),
    "footing too short": (lambda space: space.add_line((0, 0), (110, 0), **on("FTG")),
                          r"at \(110, 0\): the footing must run from end to end of the wall"),
    "sloping datum": (lambda space: space.add_line((0, 0), (110, 9), **on("DATUM")), r"must be a level line"),
    "two datums": (lambda space: [space.add_line((0, y), (110, y), **on("DATUM")) for y in (0, 5)],
                   r"must be the only datum"),
    "window elsewhere": (lambda space: box(space.doc, "WINDOW", 500, 500, 510, 510), r"must lie on a wall"),
    "skewed window": (lambda space: space.add_lwpolyline([(10, 50), (12, 70), (30, 70), (30, 50)], close=True,
                                                         **on("WINDOW")), r"must be a closed rectangle"),
    "open window": (lambda space: space.add_lwpolyline([(10, 50), (10, 70), (30, 70), (30, 50)], **on("WINDOW")),
                    r"must be a closed rectangle"),
    "round window": (lambda space: space.add_circle((50, 50), 8, **on("WINDOW")), r"not a circle"),
    "circle as wall": (lambda space: space.add_circle((50, 50), 8, **on("WALL")), r"must not be a circle on a layer"),
    "square sleeve": (lambda space: box(space.doc, "SLEEVE", 50, 50, 60, 60), r"must be a circle"),
    "sleeve elsewhere": (lambda space: space.add_circle((500, 50), 3, **on("SLEEVE")), r"must lie on a wall"),
    "sleeve across the top": (lambda space: space.add_circle((50, 95), 3, **on("SLEEVE")),
                              r"layer SLEEVE, at \(50, 95\): elevation must keep the whole sleeve below the wall top"),
    "windows that touch": (lambda space: [box(space.doc, "WINDOW", x, 50, x + 10, 60) for x in (20, 30)],
                           r"layer WINDOW, at \(30, 50\): must not overlap or touch opening W1"),
    "a sleeve of nothing": (lambda space: space.add_circle((50, 50), 0.01, **on("SLEEVE")),
                            r"at \(50, 50\): diameter must be more than 0"),
}


@pytest.mark.parametrize("name", BAD)
def test_each_fault_is_told(tmp_path: Path, name: str) -> None:
    put, words = BAD[name]
    document = sheet()
    if name not in ("overhang", "leaning end", "curved wall", "three lines at one point"):
        box(document, "WALL", 0, 0, 120, 96)
    put(document.modelspace())
    lines = faults_of(saved(document, tmp_path))
    assert any(re.search(words, line) for line in lines), lines
    assert all("drawing.dxf: " in line for line in lines)


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    document = sheet()
    space = document.modelspace()
    box(document, "WALL", 0, 0, 120, 96)
    overhang(space)
    for put in ("an arc", "a point as a line", "round window", "square sleeve", "sloping datum"):
        BAD[put][0](space)
    lines = faults_of(saved(document, tmp_path))
    assert len(lines) >= 6
    assert all("handle" in line and "layer" in line for line in lines)


def test_what_lies_on_a_wall_that_is_not_understood_is_not_told_twice(tmp_path: Path) -> None:
    document = sheet()
    overhang(document.modelspace())
    box(document, "WINDOW", 10, 40, 20, 60)
    assert len(faults_of(saved(document, tmp_path))) == 1


@pytest.mark.parametrize("code, words", [(0, "must say what the drawing is drawn in"), (7, "must be inches, feet,"),
                                         (-5, "must be inches, feet,"), (99, "must be inches, feet,")])
def test_an_unknown_unit(tmp_path: Path, code: int, words: str) -> None:
    document = sheet(code)
    box(document, "WALL", 0, 0, 120, 96)
    line, = faults_of(saved(document, tmp_path))
    assert f"$INSUNITS: {words}" in line and "--unit" in line


@pytest.mark.parametrize("how, words", [
    ({"unit": "furlong"}, "--unit: must be one of in, ft, mm, cm, m"), ({"window": "1,2,3"}, "--window: must be four"),
    ({"gap": "wide"}, "--gap: must be a length"), ({"gap": "3 in"}, "--gap: must be at most 2 in"),
    ({"trim": "both"}, "--trim: must be one of outer, inner"),
    ({"datum": "low"}, "--datum: must be heights on the page"),
    ({"datum": "1,2"}, "--datum: must be one height, or one for each of the 1 rows"),
    ({"window": "1,2,nan,3"}, "--window: must be four"), ({"layers": ["roof=X"]}, "--as: must be a word and a layer"),
    ({"layers": ["wall"]}, "--as: must be a word"), ({"layers": ["wall=NOPE"]}, "--as: must name a layer of the"),
    ({"layers": ["wall=WALL", "grade=wall"]}, "--as: must name a layer once"),
])
def test_bad_use(tmp_path: Path, how: dict[str, Any], words: str) -> None:
    document = sheet()
    box(document, "WALL", 0, 0, 120, 96)
    assert any(words in line for line in faults_of(saved(document, tmp_path), **how))


def test_across_the_edge_of_the_window(tmp_path: Path) -> None:
    document = sheet()
    box(document, "WALL", 0, 0, 120, 96)
    assert "not across its edge" in faults_of(saved(document, tmp_path), window="-10,-10,60,200")[0]


def test_no_wall_at_all(tmp_path: Path) -> None:
    document = sheet()
    box(document, "TREES", 0, 0, 120, 96)
    line, = faults_of(saved(document, tmp_path))
    assert "must have wall outlines on a layer whose name has the word wall (got it has TREES)" in line


@pytest.mark.parametrize("layer, role", [
    ("A-WALL", "wall"), ("Basement walls", "wall"), ("S-FNDN-WALL", "wall"), ("S-FNDN", "footing"),
    ("ftg_top", "footing"),
    ("Z-ELEV-GRAD-N", "grade"), ("WallWindow", "window"), ("A-WALL-DOOR", "door"), ("Z-WALL-OPNG-N", "opening"),
    ("Z-WALL-PENE-N", "sleeve"), ("PIPE SLEEVES", "sleeve"), ("A-WALL-DIMS", ""), ("A-WALL-PATT", ""), ("DRYWALL", ""),
    ("0", ""), ("", ""), ("UPGRADE", "")])
def test_words_of_layers(layer: str, role: str) -> None:
    assert role_of(layer) == role


# --- hostile files -----------------------------------------------------------------------------

def told_or_traced(path: Path) -> None:
    """Trace whatever is in a file; it is traced or refused in plain lines, in bounded time."""
    began = time.process_time()
    try:
        read_job_text(trace(path).text, "t")
    except JobError as error:
        assert error.lines() and all(line.isprintable() for line in error.lines())
    assert time.process_time() - began < MOST_SECONDS


@pytest.mark.parametrize("content, words", [
    (b"", "must be a DXF file"), (b"hello\n", "must be a DXF file"), (b"AC1032\x00\x00\x01", "a DWG file is not"),
    (b"\x00" * 1000, "must be a DXF file"), (b"0\nSECTION\n", "cannot be read as DXF|must have wall|INSUNITS"),
    (b"AutoCAD Binary DXF\r\n\x1a\x00" + b"\xff" * 500, "cannot be read as DXF"),
    (b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(document_limits.MAX_BINARY_BYTES), "must be at most 10 MB as a binary"),
    (b" " * (document_limits.MAX_DXF_BYTES + 1), "must be at most 50 MB"),
    (b"0\nLINE\n8\nWALL\n" * (document_limits.MAX_RECORDS + 1), "must hold at most 300,000 records"),
])
def test_files_that_are_no_drawing(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "x.dxf"
    path.write_bytes(content)
    line, = faults_of(path)
    assert any(word in line for word in words.split("|")), line


def test_no_file_a_folder_and_a_pipe(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert "no such file" in faults_of(tmp_path / "none.dxf")[0]
    assert "must be a file" in faults_of(tmp_path)[0]
    assert "must be a file" in faults_of(tmp_path / "pipe")[0]


def test_blocks_within_blocks_without_end(tmp_path: Path) -> None:
    document = sheet()
    one, two = document.blocks.new("ONE"), document.blocks.new("TWO")
    one.add_line((0, 0), (5, 5), **on("WALL"))
    one.add_blockref("TWO", (0, 0))
    two.add_blockref("ONE", (0, 0))
    document.modelspace().add_blockref("ONE", (0, 0), **on("WALL"))
    assert any("nested deeper than 8" in line for line in faults_of(saved(document, tmp_path)))


@pytest.mark.slow
def test_blocks_that_double_and_double(tmp_path: Path) -> None:
    document = sheet()
    document.blocks.new("B0").add_line((0, 0), (5, 5), **on("WALL"))
    for depth in range(1, 8):
        block = document.blocks.new(f"B{depth}")
        for _ in range(10):
            block.add_blockref(f"B{depth - 1}", (0, 0))
    document.modelspace().add_blockref("B7", (0, 0))
    began = time.process_time()
    assert any("must hold at most" in line or "must have at most" in line
               for line in faults_of(saved(document, tmp_path)))
    assert time.process_time() - began < 20


def test_a_grid_of_blocks_without_end(tmp_path: Path) -> None:
    document = sheet()
    document.blocks.new("B").add_line((0, 0), (5, 5), **on("WALL"))
    document.modelspace().add_blockref("B", (0, 0), **on(
        "0", row_count=30000, column_count=30000, row_spacing=1, column_spacing=1))
    assert "block references written out" in faults_of(saved(document, tmp_path))[0]


@pytest.mark.slow
def test_a_heap_of_lines_at_one_point(tmp_path: Path) -> None:
    document = sheet()
    for number in range(5000):
        document.modelspace().add_line((0, 0), (number, 50), **on("WALL"))
    began = time.process_time()
    faults_of(saved(document, tmp_path))
    assert time.process_time() - began < 20


def test_names_that_try_to_be_yaml(tmp_path: Path) -> None:
    document = sheet()
    box(document, "WALL", 0, 0, 120, 96)
    document.modelspace().add_text('x", length: 0} # & *a !b %0x', height=9).set_placement((30, 40))
    path = saved(document, tmp_path)
    path = path.rename(tmp_path / 'a: "b" #c.dxf')
    job = read_job_text(trace(path).text, "t")
    assert job.runs[0].faces[0].name == 'x", length: 0} # & *a !b %0x' and job.info.name == 'a: "b" #c'


def test_a_damaged_file_is_read_as_far_as_it_can_be_and_that_is_said(tmp_path: Path) -> None:
    path = tmp_path / "walls.dxf"
    draw(stepped(), path)
    text = path.read_text(encoding="utf-8").replace("ENDSEC", "ENDSEX", 1)
    path.write_text(text, encoding="utf-8")
    made = trace(path)
    assert any("the file is damaged: repairs made to read it: " in line for line in made.told)


@pytest.mark.parametrize("seed", range(3))
def test_damaged_drawings(tmp_path: Path, seed: int) -> None:
    document = ezdxf.new("R12")  # type: ignore[attr-defined]
    document.modelspace().add_polyline2d([(0, 0), (0, 96), (120, 96), (120, 0)], close=True, **on("WALL"))
    document.modelspace().add_circle((40, 40), 4, **on("SLEEVE"))
    document.modelspace().add_line((0, 70), (120, 75), **on("GRADE"))
    stream = io.StringIO()
    document.write(stream)
    good = stream.getvalue().encode()
    rng = random.Random(seed)
    path = tmp_path / "damaged.dxf"
    for _ in range(25):
        data = bytearray(good)
        for _ in range(rng.choice((1, 2, 8))):
            place = rng.randrange(len(data))
            way = rng.randrange(3)
            if way == 0:
                del data[place:place + rng.choice((1, 4, 200))]
            elif way == 1:
                data[place:place] = rng.choice((b"nan", b"\xff", b"0\n", b"1e999", b"-", b"99999999999999999999"))
            else:
                data[place] = rng.randrange(256)
        path.write_bytes(bytes(data))
        told_or_traced(path)


@pytest.mark.slow
def test_a_million_entities(tmp_path: Path) -> None:
    path = tmp_path / "heap.dxf"
    path.write_bytes(b"0\nSECTION\n2\nENTITIES\n" + b"0\nLINE\n8\nWALL\n10\n0\n20\n0\n11\n9\n21\n9\n" * 1_000_000)
    began = time.process_time()
    assert "must hold at most 300,000 records (got 1,000,001)" in faults_of(path)[0]
    assert time.process_time() - began < 20


def test_cut_off_in_every_section(tmp_path: Path) -> None:
    """A drawing cut off at the start, in the middle and at the end of every section is read as damaged, or refused."""
    whole = tmp_path / "whole.dxf"
    draw(stepped(), whole)
    data = whole.read_bytes()
    sections = [match.start() for match in re.finditer(rb"SECTION\r?\n +2", data)]
    assert len(sections) >= 6
    path = tmp_path / "cut.dxf"
    for start, end in zip(sections, [*sections[1:], len(data)]):
        for at in (start, start + 40, (start + end) // 2, end - 20):
            path.write_bytes(data[:at])
            try:
                made = trace(path)
            except JobError as error:
                assert error.lines() and all(line.isprintable() for line in error.lines())
            else:
                # nothing may be missing in silence: the damage is told, or every wall is there
                whole_text = trace(whole).text.replace("whole", "cut")
                assert any("the file is damaged" in line for line in made.told) or made.text == whole_text


def test_a_picture_shows_what_was_read_and_the_faults(tmp_path: Path) -> None:
    from layout.job.ways_in import trace_file

    document = sheet()
    box(document, "WALL", 0, 0, 120, 96)
    box(document, "TREES & CO", 0, 0, 50, 40)
    document.modelspace().add_text("<b>&", height=9, dxfattribs={"layer": "T"}).set_placement((30, 110))
    path = saved(document, tmp_path)
    made = trace_file(path, draw=tmp_path / "right.svg")
    assert made.text == trace(path).text
    right = (tmp_path / "right.svg").read_text(encoding="utf-8")
    assert "&lt;b&gt;&amp;" in right and "<b>" not in right and "passed over, on other layers: 1" in right
    box(document, "WINDOW", 500, 500, 510, 510)
    with pytest.raises(JobError):
        trace_file(saved(document, tmp_path), draw=tmp_path / "wrong.svg")
    assert "must lie on a wall" in (tmp_path / "wrong.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize("name, how, words", [
    ("x.ifc", {"window": "1,2,3,4"}, "--window: must be given with a drawing only"),
    ("x.csv", {"storeys": ("B",)}, "--storey: must be given with a model only"),
    ("x.dxf", {"side": "left"}, "--side: must be given with a model only"),
])
def test_options_go_with_their_kind_of_file(tmp_path: Path, name: str, how: dict[str, Any], words: str) -> None:
    from layout.job.ways_in import trace_file

    with pytest.raises(JobError, match=re.escape(words)):
        trace_file(tmp_path / name, **how)
