"""Bad workbooks, each with its exact messages: what a spreadsheet program, a person or an attacker can do to one."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from cli import main
from helpers.thinned import slow_where
from helpers.workbooks import Change, book, changed, column, packed, parts_of, put, row_of
from layout.job.workbook import package

Made = Callable[[], bytes]


def by(*changes: Change) -> Made:
    """Return what makes a workbook with changes."""
    def make() -> bytes:
        def all_of(opened: Any) -> None:
            for change in changes:
                change(opened)

        return changed(all_of)

    return make


def renamed(old: str, new: str) -> Change:
    def change(opened: Any) -> None:
        opened[old].title = new

    return change


def removed(name: str) -> Change:
    def change(opened: Any) -> None:
        del opened[name]

    return change


def added(name: str) -> Change:
    def change(opened: Any) -> None:
        opened.create_sheet(name)["A1"] = "x"

    return change


def merged(sheet: str, cells: str) -> Change:
    def change(opened: Any) -> None:
        opened[sheet].merge_cells(cells)

    return change


def hidden_row(sheet: str, row: int) -> Change:
    def change(opened: Any) -> None:
        opened[sheet].row_dimensions[row].hidden = True

    return change


def hidden_column(sheet: str, letter: str) -> Change:
    def change(opened: Any) -> None:
        opened[sheet].column_dimensions[letter].hidden = True

    return change


def hidden_sheet(name: str) -> Change:
    def change(opened: Any) -> None:
        opened[name].sheet_state = "hidden"

    return change


def headed(sheet: str, head: str, new: str | None) -> Change:
    def change(opened: Any) -> None:
        page = opened[sheet]
        page.cell(1, column(page, head)).value = new

    return change


def cell(sheet: str, at: str, value: object) -> Change:
    def change(opened: Any) -> None:
        opened[sheet][at] = value

    return change


def shown(sheet: str, at: str, number_format: str) -> Change:
    def change(opened: Any) -> None:
        opened[sheet][at].number_format = number_format

    return change


def setting(sheet: str, label: str, value: object) -> Change:
    def change(opened: Any) -> None:
        page = opened[sheet]
        page.cell(row_of(page, label), 2).value = value

    return change


def with_part(name: str, part: bytes) -> Made:
    return lambda: packed({**parts_of(book()), name: part})


def without_part(name: str) -> Made:
    return lambda: packed({key: part for key, part in parts_of(book()).items() if key != name})


def replaced(name: str, old: bytes, new: bytes) -> Made:
    def make() -> bytes:
        parts = parts_of(book())
        assert old in parts[name]
        parts[name] = parts[name].replace(old, new, 1)
        return packed(parts)

    return make


def a_million_rows() -> bytes:
    """A sheet of 10^6 rows with one number in each."""
    rows = "".join(f'<row r="{row}"><c r="A{row}"><v>1</v></c></row>' for row in range(1, 1_000_001))
    sheet = ('<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
             f"<sheetData>{rows}</sheetData></worksheet>")
    return packed({**parts_of(book()), "xl/worksheets/sheet6.xml": sheet.encode()})


def locked() -> bytes:
    """A zip file whose parts are marked as encrypted: the flag stands in each local and each central header."""
    data = bytearray(book())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = data.find(mark)
        while at >= 0:
            data[at + offset] |= 1
            at = data.find(mark, at + 4)
    return bytes(data)


ENTITIES = (b'<!DOCTYPE lolz [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>')
MONTHS = datetime.datetime(2026, 3, 4)
DATED = ("must not be a date: the spreadsheet program has made one of what was typed (got 2026-03-04); "
         "was it 3/4 or 4/3? Format the cell as text and write it again")
NO_BOOK = "cannot be read as a workbook: the file is damaged, or is none"
NO_PASSWORD = "must not be protected by a password, nor of the old .xls kind; save it as .xlsx without a password"
COLUMNS = "run, name, length, top, footing, ledge, footing depth, grade left, grade right, corner, angle"

BAD: dict[str, tuple[Made, list[str]]] = {
    "a sheet called otherwise": (by(renamed("Faces", "Face")), [
        ":Face!A1: is on a sheet that is not known (got Face); did you mean Faces?", ": must have a sheet Faces"]),
    "a sheet that may be missing, misspelt": (by(renamed("Openings", "Opennings")), [
        ":Opennings!A1: is on a sheet that is not known (got Opennings); did you mean Openings?"]),
    "a sheet of one's own": (by(added("Estimate 2")), [
        ":Estimate 2!A1: is on a sheet that is not known (got Estimate 2); name a sheet of your own Notes"]),
    "a sheet there twice": (by(added("faces ")), [":faces !A1: is on a sheet that is there twice (got faces )"]),
    "a sheet missing": (by(removed("Rolls")), [": must have a sheet Rolls"]),
    "merged cells": (by(merged("Faces", "C3:C4")), [
        ":Faces!C3: must not be merged with other cells (got C3:C4); unmerge the cells and fill each",
        ":Faces!C4: runs.A.faces.North.length: must be given"]),
    "a formula without a value": (by(put("Faces", "East", "length", "=C2")), [
        ":Faces!C3: must have a value beside its formula; save the workbook in a spreadsheet program, "
        "or write the value"]),
    "an error": (by(put("Faces", "East", "top", "#REF!")), [
        ":Faces!D3: must not hold an error (got #REF!)"]),
    "a date where a fraction was typed": (by(setting("Rules", "fillet", MONTHS)), [f":Rules!B8: {DATED}"]),
    "a date where a length was typed": (by(put("Faces", "East", "ledge", MONTHS)), [f":Faces!F3: {DATED}"]),
    "a time where a length was typed": (by(put("Faces", "East", "ledge", datetime.time(8, 4))), [
        ":Faces!F3: must not be a time: the spreadsheet program has made one of what was typed (got 08:04:00); "
        "format the cell as text and write it again"]),
    "text where a number belongs": (by(put("Rolls", 2, "price", "cheap")), [
        ":Rolls!D2: sheet.rolls[0].price: must be a price, a plain number (got cheap)"]),
    "a price with its sign": (by(put("Rolls", 2, "price", "$1,205.50")), [
        ":Rolls!D2: sheet.rolls[0].price: must be a price, a plain number (got $1,205.50); write 1205.50"]),
    "text where a length belongs": (by(put("Faces", "East", "length", "twenty feet")), [
        ":Faces!C3: runs.A.faces.East.length: must be a length such as 8'-4 1/2\", 100 1/2\", 2.44 m or 850 mm "
        "(got twenty feet)"]),
    "true where a length belongs": (by(put("Faces", "East", "length", True)), [
        ":Faces!C3: runs.A.faces.East.length: must be a length (got true)"]),
    "a percentage where a length belongs": (by(put("Faces", "East", "ledge", 0.04), shown("Faces", "F3", "0%")), [
        ":Faces!F3: must not be a percentage (got 4 %); format the cell as text and write it again"]),
    "a negative length": (by(put("Faces", "East", "length", -268)), [
        ":Faces!C3: runs.A.faces.East.length: must be more than 0 (got -268)"]),
    "a hidden row": (by(hidden_row("Faces", 4)), [
        ":Faces!A4: must not be in a hidden row, 4; show the row, or delete it"]),
    "a hidden column": (by(hidden_column("Faces", "D")), [
        ":Faces!D1: must not be in a hidden column, D; show the column, or delete it"]),
    "a hidden sheet": (by(hidden_sheet("Sleeves")), [
        ":Sleeves!A1: must not be hidden: what is not seen is not checked by eye; show the sheet"]),
    "a million rows": (a_million_rows, [": must have nothing below row 25,000 (got something in Faces!A25001)"]),
    "something far right": (by(cell("Faces", "CZ2", "x")), [
        ": must have nothing right of column CV (got something in Faces!CZ2)"]),
    "macros": (with_part("xl/vbaProject.bin", b"x"), [": must be a workbook without macros; save it as .xlsx"]),
    "a bomb": (with_part("xl/media/image1.png", bytes(61_000_000)), [
        ": must not unpack to more than 60 MB (got 61 MB)"]),
    "too many parts": (lambda: packed({**parts_of(book()), **{f"x{number}": b"" for number in range(600)}}), [
        f": must have at most 500 parts in its file (got {600 + len(parts_of(book()))})"]),
    "entities that multiply": (replaced("xl/workbook.xml", b"<workbook", ENTITIES + b"<workbook"), [
        ": must not declare entities or document types in its parts (got xl/workbook.xml)"]),
    "encrypted by a password": (lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(2000), [f": {NO_PASSWORD}"]),
    "parts under a password": (locked, [": must not be protected by a password; save it without a password"]),
    "cut off": (lambda: book()[:-3000], [f": {NO_BOOK}"]),
    "no workbook at all": (lambda: b"job: {name: x}\n", [f": {NO_BOOK}"]),
    "nothing": (lambda: b"", [f": {NO_BOOK}"]),
    "a text document": (lambda: packed({"word/document.xml": b"<x/>"}), [
        ": must be an .xlsx workbook; save it as .xlsx"]),
    "a part that is missing": (without_part("xl/worksheets/sheet6.xml"), [
        ": cannot be read as a workbook: the file is damaged (got xl/worksheets/sheet6.xml)"]),
    "a part that is broken": (replaced("xl/worksheets/sheet6.xml", b"</row>", b"</raw>"), [
        ": cannot be read as a workbook: the file is damaged (got xl/worksheets/sheet6.xml)"]),
    "a column that is not known": (by(headed("Faces", "angle", "pitch")), [
        f":Faces!K1: is not a known column (got pitch); known here: {COLUMNS}"]),
    "a column misspelt": (by(headed("Faces", "ledge", "lege")), [
        ":Faces!F1: is not a known column (got lege); did you mean ledge?"]),
    "a column that must be there": (by(headed("Faces", "length", None)), [
        ":Faces!A1: must have a column headed length"]),
    "a heading twice": (by(headed("Faces", "angle", "corner")), [":Faces!K1: must be a heading once (got corner)"]),
    "a cell under no heading": (by(cell("Faces", "N3", "see plan")), [
        ":Faces!N3: stands under no heading (got see plan)"]),
    "headings in another unit": (by(headed("Faces", "length", "length [mm]")), [
        ":Faces!C1: must be headed [in], as the job's units are in (got [mm]); bare numbers are read in the "
        "job's units: correct the heading or the units"]),
    "a setting that is not known": (by(cell("Job", "A3", "telephone")), [
        ":Job!A3: is not a known setting (got telephone); known here: name, number, site, prepared by, date, revision, "
        "north, units, film side up, sheet name, sheet width"]),
    "a setting twice": (by(cell("Rules", "A4", "side lap")), [
        ":Rules!A4: must be given once: it is also in Rules!A2 (got side lap)"]),
    "a value without a setting": (by(cell("Rules", "A4", None)), [
        ":Rules!B4: must have the name of its setting beside it (got 12\")"]),
    "no headings": (by(cell("Job", "A1", None)), [
        ":Job!A1: must have a column headed setting"]),
    "an opening on no face": (by(put("Openings", "W1", "face", "Suoth")), [
        ":Openings!B2: must name a face of run A on the sheet Faces (got Suoth); did you mean South?"]),
    "a sleeve of no run": (by(put("Sleeves", "P1", "run", "B")), [
        ":Sleeves!A2: must name a run that has faces (got B)"]),
    "points beside a filled cell": (by(cell("Points", "B2", "East"), cell("Points", "C2", "top"),
                                       cell("Points", "D2", 0), cell("Points", "E2", 96)), [
        ":Points!D2: must not be given beside Faces!D3; empty that cell: the top has points here"]),
    "points of nothing known": (by(cell("Points", "B2", "East"), cell("Points", "C2", "roof"), cell("Points", "D2", 0),
                                   cell("Points", "E2", 96)), [
        ":Points!C2: must be top, footing, grade or drain (got roof)"]),
    "a drain on a face": (by(cell("Points", "B2", "East"), cell("Points", "C2", "drain"), cell("Points", "D2", 0),
                             cell("Points", "E2", 96)), [
        ":Points!B2: must be empty: a drain is of the whole run (got East)"]),
    "grade at one end only": (by(put("Faces", "East", "grade right", 80)), [
        ":Faces!I3: must have grade left beside it (got 80)"]),
    "a roll of nothing known": (by(put("Rolls", 2, "product", "sheets")), [
        ":Job!B11: sheet.rolls: must be given",
        ":Rolls!A2: must be sheet, strip or drainage_board (got sheets); did you mean sheet?"]),
    "a corner in other words": (by(put("Faces", "East", "corner", "outer")), [
        ":Faces!J3: runs.A.faces.East.corner: must be outside, inside or none (got outer); did you mean outside?"]),
    "a run that does not close": (by(put("Faces", "East", "length", "23'-4\"")), [
        ":Runs!B2: runs.A.closed: must be false, or the faces must close: on a plan with South drawn from left to "
        "right, West ends 1'-0\" above where South starts (got a gap of 1'-0\"); it closes with East 22'-4\", or "
        "West 23'-4\"; a gap that is real: yes under allow gap on the sheet Runs, or --allow-gap"]),
    "a length left out": (by(put("Faces", "East", "length", None)), [
        ":Faces!C3: runs.A.faces.East.length: must be given"]),
}


def test_there_are_enough_bad_workbooks() -> None:
    assert len(BAD) >= 30


@pytest.mark.parametrize("name", slow_where(lambda name: name == "a million rows", BAD))
def test_a_bad_workbook_gives_its_messages_and_no_other(name: str, tmp_path: Path) -> None:
    make, told = BAD[name]
    job = tmp_path / "job.xlsx"
    job.write_bytes(make())
    result = CliRunner().invoke(main, ["plan", str(job)])
    assert result.stderr.splitlines() == [f"{job}{line}" for line in told]
    assert (result.exit_code, result.stdout) == (2, "")
    assert [path.name for path in tmp_path.iterdir()] == ["job.xlsx"]


@pytest.mark.parametrize("name", ["job.xls", "job.xlsm", "job.ods"])
def test_other_kinds_of_workbook_are_refused_by_what_they_hold(name: str, tmp_path: Path) -> None:
    job = tmp_path / name
    job.write_bytes(packed({"mimetype": b"application/vnd.oasis.opendocument.spreadsheet", "content.xml": b"<x/>"}))
    result = CliRunner().invoke(main, ["check", str(job)])
    assert (result.exit_code, result.stderr) == (2, f"{job}: must be an .xlsx workbook; save it as .xlsx\n")


def test_a_workbook_is_known_by_its_beginning_whatever_it_is_called(tmp_path: Path) -> None:
    job = tmp_path / "job.txt"
    job.write_bytes(book())
    assert CliRunner().invoke(main, ["check", str(job)]).exit_code == 0


def test_letters() -> None:
    assert [package.column_letters(number) for number in (1, 26, 27, 52, 53, 702, 703)] == [
        "A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
