"""cut-list.xlsx, opened with a library that has nothing to do with the one that writes it."""

from __future__ import annotations

import re
import zipfile
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from helpers.crew_plan import crew_plan
from helpers.sample_plans import NAMES, sample_plan
from layout.packet import html, write_workbook
from layout.packet.cut_list import rolls, rows
from layout.records import Plan


def book(plan: Plan, place: Path, *, values: bool = False) -> openpyxl.Workbook:
    path = place / "cut-list.xlsx"
    write_workbook(plan, path)
    return openpyxl.load_workbook(path, data_only=values)


def table(sheet: Worksheet) -> tuple[int, list[str]]:
    """Return the row of the headings, and the headings."""
    for row in sheet.iter_rows():
        if row[0].value in ("cut", "roll", "item"):
            return row[0].row, [str(cell.value) for cell in row]
    raise AssertionError("no headings")


@pytest.mark.parametrize("name", ["hand", *NAMES])
def test_a_sheet_a_roll_with_the_cut_lists_rows(name: str, tmp_path: Path) -> None:
    plan = crew_plan() if name == "hand" else sample_plan(name)
    unit = plan.job.unit
    found = book(plan, tmp_path)
    assert found.sheetnames == ["Summary", *(roll.tag for roll in rolls(plan)), "Takeoff", "Order"]
    listed = rows(plan)
    for roll in rolls(plan):
        sheet = found[roll.tag]
        head, headings = table(sheet)
        assert headings[:12] == ["cut", "roll", "at", "piece", "kind", "run", "face", "length", "width", "marks",
                                 "install", "note"]
        mine = [row for row in listed if row.roll is roll]
        for place, row in enumerate(mine, start=head + 1):
            cells = {heading: sheet.cell(place, column).value for column, heading in enumerate(headings, start=1)}
            assert (cells["cut"], cells["piece"]) == (row.number, row.piece.tag)
            assert cells["at"] == row.cut.at / unit.ticks
            assert cells["length"] == row.piece.length / unit.ticks and cells["width"] == row.piece.width / unit.ticks
            assert (cells["marks"] or "") == "; ".join(row.marks)


def test_lengths_are_numbers_shown_as_fractions(tmp_path: Path) -> None:
    sheet = book(crew_plan(), tmp_path)["R01"]
    head, headings = table(sheet)
    cell = sheet.cell(head + 1, headings.index("length") + 1)
    assert cell.data_type == "n" and cell.value == 105.5625 and cell.number_format == '# ??/??\\"'
    assert sheet.cell(head + 1, headings.index("length_tape") + 1).value == "8'-9 9/16\""


def test_totals_are_formulas_that_carry_their_values(tmp_path: Path) -> None:
    """Each formula of the hand plan is worked out here from the cells it names."""
    formulas, values = book(crew_plan(), tmp_path), book(crew_plan(), tmp_path, values=True)

    def number(sheet: str, cell: str) -> float:
        return float(values[sheet][cell].value)

    checked = 0
    for sheet in formulas.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type != "f" or str(cell.value).startswith("=IF("):  # these: tests/test_takeoff_worked.py
                    continue
                value, text = number(sheet.title, cell.coordinate), str(cell.value)
                if match := re.fullmatch(r"=(SUM|MAX|COUNTA)\(([A-Z]+)(\d+):\2(\d+)\)", text):
                    column = [values[sheet.title][f"{match[2]}{i}"].value
                              for i in range(int(match[3]), int(match[4]) + 1)]
                    filled = [entry for entry in column if entry is not None]
                    work = {"SUM": sum, "MAX": max, "COUNTA": len}[match[1]]
                    assert value == pytest.approx(work(filled)), cell
                elif match := re.fullmatch(r"=(?:'?(\w+)'?!)([A-Z]+\d+)", text):
                    assert value == number(match[1], match[2])
                elif match := re.fullmatch(r"=([A-Z]+\d+)-([A-Z]+\d+)", text):
                    assert value == pytest.approx(number(sheet.title, match[1]) - number(sheet.title, match[2]))
                elif match := re.fullmatch(r"=([A-Z]+\d+)\*([A-Z]+\d+)/144", text):
                    assert value == pytest.approx(number(sheet.title, match[1]) * number(sheet.title, match[2]) / 144,
                                                  abs=5e-5)
                else:
                    raise AssertionError(f"a formula this test does not know: {text}")
                checked += 1
    assert checked >= 15


def test_frozen_headings_and_print_set_up(tmp_path: Path) -> None:
    found = book(crew_plan(), tmp_path)
    for sheet in found.worksheets:
        head, _ = table(sheet)
        assert int(re.sub(r"\D", "", sheet.freeze_panes)) == head + 1
        assert sheet.page_setup.orientation == "landscape" and sheet.page_setup.fitToHeight == 0
        assert sheet.print_title_rows.startswith("$1:$") and sheet.print_area
    assert found["R01"].page_setup.paperSize == 1


HOSTILE = '=HYPERLINK("http://x","y")'
LONG = "[x]:*?/\\ 'very long name of a remnant that goes on'"


def test_text_is_never_a_formula_or_a_link(tmp_path: Path) -> None:
    found = book(crew_plan(name=HOSTILE, run=HOSTILE, face="@SUM(1)", remnant=LONG), tmp_path)
    texts = [cell for sheet in found.worksheets for row in sheet.iter_rows() for cell in row
             if isinstance(cell.value, str) and cell.data_type == "s" and cell.value.startswith(("=", "@"))]
    assert {cell.value for cell in texts} >= {HOSTILE, "@SUM(1)"}
    assert all(cell.hyperlink is None for sheet in found.worksheets for row in sheet.iter_rows() for cell in row)
    formulas = [str(cell.value) for sheet in found.worksheets for row in sheet.iter_rows() for cell in row
                if cell.data_type == "f"]
    assert not [text for text in formulas if "HYPERLINK" in text]


def test_the_summary_says_what_is_proven_and_what_would_save(tmp_path: Path) -> None:
    """The workbook is the office's copy; the crew's page says neither."""
    plan = replace(crew_plan(), savings=({"text": "laps of 2 in save 1 roll and 205.00"},), optimal=False,
                   cost_bound=Decimal(390))
    said = [cell.value for cell in book(plan, tmp_path)["Summary"]["A"]]
    assert "Saving: laps of 2 in save 1 roll and 205.00" in said
    assert "proof: no layout and no cutting of it costs less than 390.00" in said
    assert not {"205.00", "390.00"} & set(re.findall(r"[0-9.]+", re.sub(r"<(script|style).*?</", "", html(plan, {}))))


def test_the_same_plan_gives_the_same_bytes_and_no_clock(tmp_path: Path) -> None:
    for name in ("one.xlsx", "two.xlsx"):
        write_workbook(crew_plan(), tmp_path / name)
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()
    with zipfile.ZipFile(tmp_path / "one.xlsx") as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert b"2000-01-01T00:00:00Z" in archive.read("docProps/core.xml")


def test_marks_of_the_side_that_lies_down_are_not_printed(tmp_path: Path) -> None:
    """Film side up: the page ends before the last column, which is there to be read on a screen."""
    sheet = book(crew_plan(), tmp_path)["R01"]
    headings = table(sheet)[1]
    assert headings[-1] == "marks_liner"
    last = re.search(r"\$A\$1:\$([A-Z]+)\$\d+", sheet.print_area)
    assert last and last[1] == "ABCDEFGHIJKLMNOPQRST"[len(headings) - 2]
