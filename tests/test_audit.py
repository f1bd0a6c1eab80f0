"""The audit's own geometry and reading, held against figures worked by hand."""

from __future__ import annotations

import json
import math
import zipfile
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from shapely.geometry import Polygon

from helpers.audited import face_of, job, shape_of
from helpers.frozen import frozen_plan
from helpers.packets import findings, short_plan, write_tables
from layout.audit import FINDINGS, audit
from layout.audit.asked import AskedFace, AskedRun, board_of, read_asked
from layout.audit.clearances import obstacles
from layout.audit.drawings import elevation_names, read_dxf
from layout.audit.files import NotReadable
from layout.audit.findings import Findings
from layout.audit.laps import Lap
from layout.audit.marks import Unclear, same
from layout.audit.rolls import stock_of_roll
from layout.audit.tables import read_csv, read_workbook
from layout.audit.walls import Bounds, area_between, line_of, may, must, picked, toe
from layout.audit.water import allowed, check_water, ways
from layout.audit.written import WrittenDrop, WrittenRoll, WrittenSeam, read_written
from layout.units import INCH, MM


def test_numbers_fall_into_eleven_families() -> None:
    assert {number // 100 for number in FINDINGS} == set(range(1, 12))
    assert len(set(FINDINGS.values())) == len(FINDINGS)


# --- the job's words ---------------------------------------------------------------------------

def test_toe_of_the_worked_drop() -> None:
    """Worked by hand: ledge 6, turn-down 4, fillet 3/4: 10 - (2 - sqrt 2) 3/4 = 9.560660 in."""
    face = read_asked(job()).runs[0].faces[0]
    assert toe(face, turn_down=64, fillet=12) / 16 == pytest.approx(9.560660, abs=1e-6)
    assert toe(replace(face, ledge=0), turn_down=64, fillet=12) == 64


def test_area_of_a_plain_wall() -> None:
    """20 ft by (8 ft + 9.560660 in): 240 x 105.560660 sq in."""
    asked = read_asked(job())
    (_, shape), = must(asked.runs[0], asked, 64)
    assert shape.area / 256 == pytest.approx(240 * 105.560660, rel=1e-7)


def test_defaults_of_both_units() -> None:
    inch, metric = read_asked(job()), read_asked(job(units="mm"))
    assert (inch.rules["side_lap"], inch.rules["end_lap"], inch.turn_down) == (40, 80, (64, 96))
    assert (metric.rules["side_lap"], metric.rules["end_lap"], metric.turn_down) == (65, 127, (102, 150))


def test_lengths_are_rounded_toward_the_safe_side() -> None:
    asked = read_asked(job(rules={"side_lap": 2.51, "max_piece": 100.03, "turn_down": [4.01, 5.99]}))
    assert (asked.rules["side_lap"], asked.rules["max_piece"], asked.turn_down) == (41, 1600, (65, 95))
    assert read_asked(job(rules={"turn_down": 4.01})).turn_down == (65, 65)


def test_a_profile_short_of_its_face_goes_on_level() -> None:
    face = read_asked(face_of(top=[["5 ft", "8 ft"], ["10 ft", "9 ft"]])).runs[0].faces[0]
    assert face.top == ((0, 1536), (960, 1536), (1920, 1728), (3840, 1728))


def test_the_line_is_the_lower_of_wall_and_grade() -> None:
    rules = {"top": "grade", "above_grade": 4}
    asked = read_asked(face_of(grade=[[0, "6 ft"], ["20 ft", "9 ft"]]) | {"rules": rules})
    face = asked.runs[0].faces[0]
    assert line_of(face, asked) == ((0, 1216.0), (pytest.approx(2133.333, abs=0.001), 1536.0), (3840, 1536.0))


def test_lower_and_higher_of_two_profiles() -> None:
    up, down = ((0.0, 0.0), (10.0, 10.0)), ((0.0, 10.0), (10.0, 0.0))
    assert picked(up, down, lower=True) == ((0, 0), (5.0, 5.0), (10, 0))
    assert picked(up, down, lower=False) == ((0, 10), (5.0, 5.0), (10, 10))


@pytest.mark.parametrize(("high", "low", "area"), [
    ((5, 5), (0, 0), 50), ((0, 0), (5, 5), 0), ((5, 0), (0, 0), 25), ((5, -5), (0, 0), 12.5), ((-5, 5), (0, 0), 12.5),
    ((0, 0), (0, 0), 0),
])
def test_between_two_lines(high: tuple[float, float], low: tuple[float, float], area: float) -> None:
    assert area_between(Bounds(0, 10, high, low)).area == pytest.approx(area)


def test_openings_and_sleeves_are_left_out() -> None:
    opening = {"tag": "W", "left": "5 ft", "sill": "3 ft", "width": "3 ft", "height": "2 ft"}
    sleeve = {"tag": "P", "at": "12 ft", "elevation": "2 ft", "diameter": 4}
    plain = read_asked(job())
    asked = read_asked(face_of(openings=[opening], sleeves=[sleeve]) | {"rules": {"opening_return": 2}})
    less = must(plain.runs[0], plain, 64)[0][1].area - must(asked.runs[0], asked, 64)[0][1].area
    assert less / 256 == pytest.approx(32 * 20 + math.pi * 2.0625 ** 2, rel=1e-4)
    (_, room), = may(asked.runs[0], asked, 64)
    assert room.area > must(asked.runs[0], asked, 64)[0][1].area


def test_the_board_hangs_under_grade_and_ends_at_the_joint() -> None:
    board = {"width": "4 ft", "rolls": [{"length": "50 ft"}], "top_below_grade": 6}
    asked = read_asked(face_of(grade="7 ft") | {"drainage_board": board})
    layer = board_of(asked)
    assert layer and (layer.rules["side_lap"], layer.stock["drainage"][0].width) == (48, 51 * 16)
    (_, shape), = must(layer.runs[0], layer, 0)
    assert shape.bounds == (0, 0, 3840, (84 - 6) * 16)
    assert board_of(read_asked(job())) is None


def test_the_board_without_grade_hangs_from_the_wall_top() -> None:
    board = {"width": "4 ft", "rolls": [{"length": "50 ft"}]}
    layer = board_of(read_asked(job(drainage_board=board)))
    assert layer and must(layer.runs[0], layer, 0)[0][1].bounds[3] == 96 * 16


# --- water -------------------------------------------------------------------------------------

def run_with(**changes: Any) -> AskedRun:
    """Return an open run of 240 in with water as given [ticks]."""
    return replace(read_asked(job()).runs[0], flow="", **changes)


def test_water_one_way() -> None:
    right = replace(run_with(), flow="right")
    assert allowed(ways(right), 100, 140) == {"left"}
    assert allowed(ways(replace(right, flow="left")), 100, 140) == {"right"}


def test_water_to_a_low_point() -> None:
    parts = ways(run_with(lows=(1000.0,)))
    assert allowed(parts, 500, 540) == {"left"}
    assert allowed(parts, 1500, 1540) == {"right"}
    assert allowed(parts, 980, 1020) == {"left", "right"}


def test_water_from_a_high_point() -> None:
    parts = ways(run_with(lows=(1000.0,), highs=(2000.0,)))
    assert allowed(parts, 1500, 1540) == {"right"}
    assert allowed(parts, 2500, 2540) == {"left"}


def test_water_down_a_drain_with_a_level_stretch() -> None:
    parts = ways(run_with(drain=((0.0, 0.0), (1000.0, -10.0), (1500.0, -10.0), (3840.0, 0.0))))
    assert allowed(parts, 500, 540) == {"left"}
    assert allowed(parts, 3000, 3040) == {"right"}
    assert allowed(parts, 1200, 1240) == {"left", "right"}
    flat = ways(run_with(drain=((0.0, 0.0), (3840.0, 0.0))))
    assert allowed(flat, 500, 540) == {"left", "right"}


def test_a_drain_short_of_its_run_goes_on_level() -> None:
    parts = ways(run_with(drain=((1000.0, 0.0), (2000.0, -10.0))))
    assert allowed(parts, 200, 240) == allowed(parts, 3000, 3040) == {"left"}


def test_water_around_a_closed_run() -> None:
    closed = replace(run_with(lows=(1000.0,), highs=(3000.0,)), closed=True)
    parts = ways(closed)
    assert allowed(parts, 3500, 3540) == {"left"}
    assert allowed(parts, 3840 + 200, 3840 + 240) == {"left"}
    drained = replace(run_with(drain=((0.0, 0.0), (1000.0, -10.0))), closed=True)
    assert allowed(ways(drained), 2000, 2040) == {"right"}


def seams_over(sides: str) -> dict[Lap, WrittenSeam]:
    """Return seams 500 ticks apart, each with its left (L) or right (R) drop over."""
    drops = [WrittenDrop(f"A-{i + 1:02d}", "A", "membrane", i * 500, i * 500 + 540, i + 1, ())
             for i in range(len(sides) + 1)]
    found = {}
    for left, right, side in zip(drops, drops[1:], sides):
        over = left.tag if side == "L" else right.tag
        seam = WrittenSeam("A", "membrane", right.left, left.right, left.tag, right.tag, over, False)
        found[Lap(left, right, right.left, left.right)] = seam
    return found


@pytest.mark.parametrize(("sides", "wrong"), [("RRLLL", 0), ("RRRRR", 0), ("LLLLL", 0), ("LRLLL", 1), ("LLRRL", 2)])
def test_between_two_lows_the_drops_rise_once(sides: str, wrong: int) -> None:
    run = run_with(lows=(100.0, 3700.0))
    book = Findings(INCH)
    check_water(run, seams_over(sides), book)
    assert [finding.number for finding in book.findings()] == [501] * wrong


# --- obstacles ---------------------------------------------------------------------------------

def rules_near(asked: Any) -> list[tuple[str, float, bool]]:
    return sorted({(thing.rule, thing.left, thing.sure) for thing in obstacles(asked.runs[0], asked)})


def test_obstacles_of_a_wall() -> None:
    opening = {"tag": "W", "left": "5 ft", "sill": "3 ft", "width": "3 ft", "height": "2 ft"}
    sleeve = {"tag": "P", "at": "12 ft", "elevation": "2 ft", "diameter": "3 1/16 in"}
    stepped = [[0, 0], ["10 ft", 0], ["10 ft", -12], ["20 ft", -12]]
    asked = read_asked(face_of(openings=[opening], sleeves=[sleeve], footing=stepped, corner="outside"))
    assert rules_near(asked) == [
        ("clear_of_corner", 3840, False), ("clear_of_opening", 960, True), ("clear_of_opening", 1536, True),
        ("clear_of_sleeve", 2304 - 25, True), ("clear_of_step", 1920, True),
    ]


def test_an_opening_over_the_line_is_no_obstacle() -> None:
    opening = {"tag": "W", "left": "5 ft", "sill": "6 ft", "width": "3 ft", "height": "1 ft"}
    asked = read_asked(face_of(openings=[opening], grade="4 ft") | {"rules": {"top": "grade"}})
    assert rules_near(asked) == []


# --- marks -------------------------------------------------------------------------------------


def test_marks_of_every_form() -> None:
    area = 1600 * 576
    cases: dict[str, float] = {
        'notch left edge 10" to 20" down, 3" deep': 160 * 48,
        'notch top edge 10" to 20" right, 3" deep': 160 * 48,
        'notch right edge 1\'-0" to 2\'-0" down, 3" deep': 192 * 48,
        'notch bottom edge 1" to 2" right, 1\'-0" deep': 16 * 192,
        'notch top left corner 6" wide, 1\'-0" long': 96 * 192,
        'notch bottom right corner 6" wide, 1\'-0" long': 96 * 192,
        'trim top right corner 36" wide, 6" long': 576 * 96 / 2,
        'trim bottom left corner 6" wide, 6" long': 96 * 96 / 2,
        'cut away top left corner along 0" right 6" down, 12" right 0" down': 96 * 192 / 2,
        'cut away left edge along 0" right 50" down, 6" right 40" down, 0" right 30" down': 320 * 96 / 2,
        'cut away top along 0" right 6" down, 36" right 6" down': 576 * 96,
        'hole 1" to 3" right, 10" to 12" down': 32 * 32,
        'hole with corners 1" right 1" down, 3" right 1" down, 3" right 3" down': 32 * 32 / 2,
        'slit 12" right, 80" to 100" down': 0,
        'slit 12" down, 3" to 6" right': 0,
        'slit from 1" right 2" down to 3" right 4" down': 0,
    }
    for mark, less in cases.items():
        assert area - shape_of(mark).shape.area == pytest.approx(less), mark
    assert area - shape_of('hole 4" dia, centre 18" right, 4\'-0" down (P1)').shape.area == pytest.approx(
        math.pi * 32 ** 2, rel=1e-3)
    half = 'hole 4" dia, centre 0" right, 4\'-0" down, crossing the left edge 3\'-10" to 4\'-2" down'
    assert area - shape_of(half).shape.area == pytest.approx(math.pi * 32 ** 2 / 2, rel=1e-3)
    for past in ('1" past the left edge, 10" down', '1" past the right edge, 10" down',
                 '5" right, 1" above the top edge', '5" right, 1" below the bottom edge'):
        assert 0 < area - shape_of(f'hole 4" dia, centre {past}').shape.area < math.pi * 32 ** 2 / 2


def test_spare_is_outside_the_shape() -> None:
    marks = ('spare 1" at the bottom', 'spare 2" at the left', 'notch left edge 10" to 20" down, 3" deep')
    assert shape_of(*marks).shape.bounds == (32, 0, 576, 1584)


def test_a_piece_that_lies_along_the_wall() -> None:
    assert shape_of("lies along the wall: right is along the piece").shape.bounds == (0, 0, 1600, 576)


@pytest.mark.parametrize("mark", [
    "notch", 'notch left edge 10" to 20" right, 3" deep', 'trim middle corner 1" wide, 1" long', "hole", "slit",
    'cut away left edge along 0" right 6" down, 12" right 0" down', 'cut away top along 5" right 6" down',
    'cut away top left corner along 1" right 6" down, 12" right 0" down', 'spare at the top', 'hole with corners here',
    'cut away right along 0" right 6" down, 36" right 6" down', 'slit 1" right', '12" right', "",
    'notch left edge 10 to 20 down, 3 deep',
])
def test_unclear_marks(mark: str) -> None:
    with pytest.raises(Unclear):
        shape_of(mark)


def test_the_same_shape_within_a_round_hole() -> None:
    whole = Polygon([(0, 0), (576, 0), (576, 1600), (0, 1600)])
    marked = shape_of('hole 4" dia, centre 18" right, 4\'-0" down')
    sixteen = [(288 + 31 * math.sin(k / 8 * math.pi), 768 + 31 * math.cos(k / 8 * math.pi)) for k in range(16)]
    assert same(marked, Polygon(whole.exterior, [sixteen]), [])
    assert not same(marked, whole, [])
    assert not same(marked, Polygon(whole.exterior, [sixteen]), [((0, 0), (1, 1))])


# --- files -------------------------------------------------------------------------------------

@pytest.mark.parametrize("text", ["", "a,b\n1\n", "a,b\n1,2,3\n"])
def test_tables_that_are_none(tmp_path: Path, text: str) -> None:
    (tmp_path / "t.csv").write_text(text, encoding="utf-8")
    with pytest.raises(NotReadable) as caught:
        read_csv(tmp_path / "t.csv")
    assert caught.value.number == 102


def test_a_cell_gets_its_formula_back(tmp_path: Path) -> None:
    (tmp_path / "t.csv").write_text("a,b\n'=1,plain\n", encoding="utf-8")
    assert read_csv(tmp_path / "t.csv") == [{"a": "=1", "b": "plain"}]


def test_a_spreadsheet_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(NotReadable) as caught:
        read_workbook(tmp_path / "none.xlsx")
    assert caught.value.number == 101


@pytest.mark.parametrize("text", ["  0\nSECTION\n  2\n", "x\n1\n  0\nEOF\n", "  0\nEOF\n  0\n"])
def test_drawings_that_are_none(tmp_path: Path, text: str) -> None:
    (tmp_path / "d.dxf").write_text(text, encoding="utf-8")
    with pytest.raises(NotReadable) as caught:
        read_dxf(tmp_path / "d.dxf")
    assert caught.value.number == 102


def roll(**changes: Any) -> WrittenRoll:
    plain = WrittenRoll("R01", "membrane", "66'-8\"", False, 12800, 576, Decimal(205), (), 0, 576, False)
    return replace(plain, **changes)


def test_rolls_in_stock() -> None:
    asked = read_asked(job(sheet={"width": 36, "rolls": [{"length": "66'-8\"", "price": 205}],
                                  "remnants": [{"tag": "K1", "length": "10 ft"}]}))
    assert stock_of_roll(roll(), asked) is not None
    for changes in ({"length": 12801}, {"width": 575}, {"stock": "50'-0\""}, {"stock": "long"}, {"product": "tape"}):
        assert stock_of_roll(roll(**changes), asked) is None
    remnant = roll(stock="K1", remnant=True, length=1920, price=None)
    assert stock_of_roll(remnant, asked) is not None
    assert stock_of_roll(replace(remnant, price=Decimal(1)), asked) is None
    assert stock_of_roll(replace(remnant, stock="K2"), asked) is None


def test_file_names_of_faces_with_hostile_names(tmp_path: Path) -> None:
    plan = frozen_plan("ring")
    write_tables(plan, tmp_path)
    written = read_written(tmp_path, INCH)
    names = ("Süd / West", "süd west", "🌊", "../..")
    faces = tuple(replace(face, name=name) for face, name in zip(written.runs[0].faces, names, strict=True))
    assert elevation_names(replace(written, runs=(replace(written.runs[0], faces=faces),))) == [
        "r-sud-west.svg", "r-sud-west-2.svg", "r.svg", "r-2.svg"]
    odd = replace(written.runs[0], name="con", faces=(replace(faces[0], name="🌊"),))
    assert elevation_names(replace(written, runs=(odd,))) == ["con-face.svg"]


def test_an_unfit_job_is_not_audited() -> None:
    with pytest.raises(KeyError):
        audit(Path("nowhere"), {})


def test_a_book_is_full_some_day() -> None:
    book = Findings(MM)
    for number in range(Findings.MOST + 50):
        book.note(101, f"file {number}", 5, 2.4)
    assert len(book.findings()) == Findings.MOST
    assert (book.findings()[0].needed, book.findings()[0].found) == ("5 mm", "2 mm")


# --- what the plan may leave out ---------------------------------------------------------------

def test_a_run_with_no_room_for_board_may_go_without(tmp_path: Path) -> None:
    text = """
job: {name: Bare}
sheet: {width: 36, rolls: [{length: 50 ft, price: 150}]}
drainage_board: {width: 4 ft, rolls: [{length: 50 ft}]}
runs:
  - name: A
    faces: [{name: Low, length: 10 ft, top: 5 in, ledge: 6, grade: 5}]
rules: {top: grade, base_strip: 18}
"""
    plan = short_plan(text)
    assert not any(drop.layer == "drainage" for drop in plan.drops)
    write_tables(plan, tmp_path)
    assert {finding.number for finding in findings(tmp_path)} == {101}


def test_faces_are_shapes_of_their_own() -> None:
    face: AskedFace = read_asked(job()).runs[0].faces[0]
    assert (face.left, face.right, face.corner, face.angle) == (0, 3840, "none", 90)


# --- corners of the readers --------------------------------------------------------------------

MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
LINK = 'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"'
BOOK = f'<workbook {MAIN} {LINK}><sheets><sheet name="One" r:id="r1"/></sheets></workbook>'


def test_files_too_large_are_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from layout.audit import files

    plan = frozen_plan("ring")
    write_tables(plan, tmp_path)
    monkeypatch.setattr(files, "MOST_BYTES", 10)
    for read in (lambda: read_csv(tmp_path / "cut-list.csv"), lambda: read_workbook(tmp_path / "cut-list.xlsx"),
                 lambda: read_written(tmp_path, INCH)):
        with pytest.raises(NotReadable) as caught:
            read()
        assert caught.value.number == 102 and "bytes" in caught.value.needed


def test_text_that_is_no_utf_8(tmp_path: Path) -> None:
    (tmp_path / "t.csv").write_bytes(b"a,b\n\xff,1\n")
    with pytest.raises(NotReadable) as caught:
        read_csv(tmp_path / "t.csv")
    assert caught.value.number == 102


def test_a_spreadsheet_with_its_text_in_the_cells(tmp_path: Path) -> None:
    """Cells may hold their text themselves, or nothing, or an error, and a book may share no text at all."""
    parts = {
        "xl/workbook.xml": BOOK,
        "xl/_rels/workbook.xml.rels": '<R><R Id="r1" Target="worksheets/s.xml"/></R>',
        "xl/worksheets/s.xml": f'<worksheet {MAIN}><sheetData><row><c r="A1" t="inlineStr"><is><t>a</t><t>b</t></is>'
                               '</c><c r="B1"/><c r="AA12"><v>2.5</v></c><c r="C1" t="str"><f>A1</f><v>ab</v></c></row>'
                               "</sheetData></worksheet>",
    }
    with zipfile.ZipFile(tmp_path / "b.xlsx", "w") as book:
        for name, text in parts.items():
            book.writestr(name, text)
    cells, formulas = read_workbook(tmp_path / "b.xlsx")["One"]
    assert cells == {(1, 1): "ab", (1, 2): None, (12, 27): 2.5, (1, 3): "ab"}
    assert formulas == {(1, 3): "A1"}


@pytest.mark.parametrize("share", [0.1, 0.2, 0.3, 0.5])
def test_a_spreadsheet_damaged_inside(tmp_path: Path, share: float) -> None:
    """Whatever a damaged part of the archive makes its reader raise, it is told as a finding."""
    write_tables(frozen_plan("ring"), tmp_path)
    path = tmp_path / "cut-list.xlsx"
    content = path.read_bytes()
    at = int(len(content) * share)
    path.write_bytes(content[:at] + bytes(255 - byte for byte in content[at:at + 60]) + content[at + 60:])
    with pytest.raises(NotReadable) as caught:
        read_workbook(path)
    assert caught.value.number == 102


def test_a_cell_with_no_place_is_no_spreadsheet(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "b.xlsx", "w") as book:
        book.writestr("xl/workbook.xml", BOOK)
        book.writestr("xl/_rels/workbook.xml.rels", '<R><R Id="r1" Target="s.xml"/></R>')
        book.writestr("xl/s.xml", f'<worksheet {MAIN}><c r="1A"><v>1</v></c></worksheet>')
    with pytest.raises(NotReadable) as caught:
        read_workbook(tmp_path / "b.xlsx")
    assert caught.value.number == 102


def test_two_drops_around_a_small_closed_run(tmp_path: Path) -> None:
    """A pier so thin that two drops go round it and lap on both sides: two seams of the same two drops."""
    faces = ", ".join(f"{{name: {name}, length: 9 in, top: 4 ft}}" for name in "NESW")
    text = f"""
job: {{name: Pier}}
sheet: {{width: 36, rolls: [{{length: 50 ft, price: 150}}]}}
rules: {{base_strip: 0, corner_strip: 0, clear_of_corner: 0}}
runs: [{{name: A, closed: true, flow: right, faces: [{faces}]}}]
"""
    plan = short_plan(text)
    write_tables(plan, tmp_path)
    assert [(seam.left, seam.right) for seam in plan.seams] == [("A-01", "A-02"), ("A-02", "A-01")]
    assert {finding.number for finding in findings(tmp_path)} == {101}


def test_an_unpriced_job_has_no_cost(tmp_path: Path) -> None:
    plan = frozen_plan("ring")
    write_tables(plan, tmp_path)
    data = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    assert data["summary"]["cost"] is None
    data["summary"]["cost"] = 0.0
    (tmp_path / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    # a cost where there is none to have, and one that is not the bound it is called equal to
    assert {finding.number for finding in findings(tmp_path)} == {101, 801, 811}


@pytest.mark.parametrize(("place", "value"), [
    (("summary", "area"), []), (("summary", "rolls"), {"x": 1.5}), (("runs", 0, "faces", 0), None),
    (("pieces", 0, "outline", 0), [1, 2, 3]), (("takeoff",), [1]), (("drops", 0, "pieces"), [1]),
    (("pieces", 0, "tag"), None), (("rolls", 0, "remnant"), "no"), (("rolls", 0, "price"), "dear"),
])
def test_cells_of_the_wrong_kind(tmp_path: Path, place: tuple[Any, ...], value: Any) -> None:
    write_tables(frozen_plan("ring"), tmp_path)
    data = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    row = data
    for step in place[:-1]:
        row = row[step]
    row[place[-1]] = value
    (tmp_path / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    assert [finding.number for finding in findings(tmp_path)] == [103]
