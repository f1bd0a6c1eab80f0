"""The cut list and the takeoff as CSV: in cutting order, as a tape reads, every cell safe."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from helpers.crew_plan import crew_plan, t
from helpers.marks_reader import read_marks
from helpers.sample_plans import NAMES, sample_plan
from layout.packet import cut_list_csv, plan_json, takeoff_csv
from layout.packet.cut_list import COLUMNS, safe_cell
from layout.records import Plan
from layout.units import UNITS, read_length

FIXED = ["cut", "roll", "at", "piece", "kind", "run", "face", "length", "width", "marks", "install", "note"]


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_columns_begin_as_fixed() -> None:
    assert list(COLUMNS[:12]) == FIXED
    assert cut_list_csv(crew_plan()).splitlines()[0].split(",")[:12] == FIXED


def test_the_hand_plan_by_hand() -> None:
    """The remnant holds A-01 (8'-9 9/16") and the strip after it; the roll the other four, each after the last."""
    rows = read(cut_list_csv(crew_plan()))
    assert [(row["cut"], row["roll"], row["at"], row["piece"]) for row in rows] == [
        ("1", "R01", '0"', "A-01"), ("2", "R01", "8'-9 9/16\"", "A-C1"), ("3", "R02", '0"', "A-02"),
        ("4", "R02", "8'-9 9/16\"", "A-03"), ("5", "R02", "17'-7 1/8\"", "A-04"), ("6", "R02", "26'-4 11/16\"", "A-05"),
    ]
    first, strip = rows[0], rows[1]
    assert (first["length"], first["width"], first["install"]) == ("8'-9 9/16\"", '36"', "5")
    assert first["note"] == "leave its right edge loose: A-02 tucks under it"
    assert rows[2]["note"] == "tuck its left edge under A-01"
    assert (strip["note"], strip["install"], strip["station"]) == ('rip 12" of 36"', "", "")
    assert (first["marks"], first["marks_liner"]) == (
        'hole 4" dia, centre 15" right, 5\'-6" down (P1)', 'hole 4" dia, centre 21" right, 5\'-6" down (P1)')
    assert {row["side_up"] for row in rows} == {"film"}
    assert {row["side_up"] for row in read(cut_list_csv(crew_plan(film_side_up=False)))} == {"liner"}
    assert {row["pile"]: row["piece"] for row in rows if row["piece"] == "A-C1"} == {"1": "A-C1"}
    assert {row["pile"] for row in rows if row["kind"] == "drop"} == {"2"}


def test_a_turned_cut_says_so() -> None:
    plan = crew_plan()
    roll = plan.cuttings[0].rolls[0]
    cut = replace(roll.cuts[1], length=t('12"'), width=t("2'-0\""), turned=True)
    rolls = (replace(roll, cuts=(roll.cuts[0], cut)), plan.cuttings[0].rolls[1])
    rows = read(cut_list_csv(replace(plan, cuttings=(replace(plan.cuttings[0], rolls=rolls),))))
    assert rows[1]["note"] == 'turned: its length lies across the roll; rip 24" of 36"'
    assert (rows[1]["length"], rows[1]["width"]) == ("8'-0\"", '12"')


@pytest.mark.parametrize("name", NAMES)
def test_every_piece_of_a_sample_rebuilds_from_its_row(name: str) -> None:
    """Length, width and marks of the row give back plan.json's outline, film side up and mirrored."""
    plan = sample_plan(name)
    unit = plan.job.unit
    data = json.loads(plan_json(plan))
    pieces = {piece["tag"]: piece for piece in data["pieces"]}
    rows = read(cut_list_csv(plan))
    assert sorted(row["piece"] for row in rows) == sorted(pieces)

    def ticks(value: float) -> int:
        exact = value * unit.ticks
        assert exact == int(exact)
        return int(exact)

    for row in rows:
        piece = pieces[row["piece"]]
        length, width = (int(read_length(row[key], unit)) for key in ("length", "width"))
        assert (length, width) == (ticks(piece["length"]), ticks(piece["width"]))
        outline = piece["outline"] if "outline" in piece else piece["pattern"]
        left, top = min(x for x, _ in outline), max(y for _, y in outline)

        for key, mirrored in (("marks", False), ("marks_liner", True)):
            right = length if row[key].startswith("lies along") else width

            def lie(points: list[list[float]], mirrored: bool = mirrored, right: int = right) -> list[tuple[int, int]]:
                flat = [(ticks(x - left), ticks(top - y)) for x, y in points]
                return [(right - x, y) if mirrored else (x, y) for x, y in flat]

            found = read_marks(row[key], length=length, width=width, unit=unit)
            shape = Polygon(lie(outline), [lie(hole) for hole in piece["holes"]])
            assert found.shape.symmetric_difference(shape).area == 0, (row["piece"], row[key])
            assert found.slits == {frozenset(lie([slit["from"], slit["to"]])) for slit in piece["slits"]}


@pytest.mark.parametrize("name", NAMES)
def test_rows_follow_the_rolls_of_plan_json(name: str) -> None:
    plan = sample_plan(name)
    data = json.loads(plan_json(plan))
    unit = UNITS[data["unit"]]
    rows = read(cut_list_csv(plan))
    cuts = [(roll, cut) for roll in data["rolls"] for cut in roll["cuts"]]
    assert [int(row["cut"]) for row in rows] == list(range(1, len(cuts) + 1))
    for row, (roll, cut) in zip(rows, cuts, strict=True):
        assert (row["roll"], row["piece"]) == (roll["tag"], cut["piece"])
        assert [float(read_length(row[key], unit)) / unit.ticks for key in ("at", "across", "to")] == [
            cut["at"], cut["across"], cut["at"] + cut["length"]]


def test_takeoff_leaves_what_is_unpriced_blank() -> None:
    rows = read(takeoff_csv(crew_plan()))
    assert [(row["item"], row["net"], row["order"], row["unit"], row["price"], row["cost"]) for row in rows] == [
        ("primer", "0.42", "1", "gal", "48.50", "48.50"), ("termination bar", "13.5", "20", "ft", "", "")]
    assert Decimal(rows[0]["cost"]) == crew_plan().quantities[0].cost


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "  =1", "＝1", "'quoted", "'=1"])
def test_cells_that_look_like_formulas_are_held_as_text(text: str) -> None:
    assert safe_cell(text) == "'" + text


@given(st.text())
def test_a_reader_that_drops_one_apostrophe_has_the_text_back(text: str) -> None:
    cell = safe_cell(text)
    assert not cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert (cell[1:] if cell.startswith("'") else cell) == text


def hostile(plan: Plan) -> list[dict[str, str]]:
    return read(cut_list_csv(plan))


def test_commas_quotes_and_formulas_come_back_from_csv() -> None:
    name = '=cmd(),"\'; DROP\nx'
    rows = hostile(crew_plan(run=name, face=name))
    assert {row["run"] for row in rows} == {"'" + name}
    assert all(None not in row and None not in row.values() for row in rows)
