"""Workbooks for tests: the starter's, changed as a person with a spreadsheet program would, or worse."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import openpyxl

from layout.job import starter, as_file

Change = Callable[[Any], None]


@lru_cache(maxsize=None)
def book(text: str = "") -> bytes:
    """Return a job as a workbook; the starter's rectangle when none is given."""
    return as_file(text or starter("rectangle"), Path("job.xlsx"))


def changed(change: Change, data: bytes = b"") -> bytes:
    """Return a workbook after a change of its sheets, saved again as a spreadsheet program would."""
    opened = openpyxl.load_workbook(io.BytesIO(data or book()))
    change(opened)
    out = io.BytesIO()
    opened.save(out)
    return out.getvalue()


def column(sheet: Any, head: str) -> int:
    """Return the number of the column under a heading, its unit left aside."""
    for cell in sheet[1]:
        if str(cell.value).split(" [")[0] == head:
            return int(cell.column)
    raise AssertionError(f"{sheet.title} has no column {head}")


def row_of(sheet: Any, label: str) -> int:
    """Return the row of a setting, or of an entry by the text of any of its cells."""
    for row in sheet.iter_rows():
        if any(cell.value == label for cell in row):
            return int(row[0].row)
    raise AssertionError(f"{sheet.title} has no row {label}")


def put(sheet: str, row: int | str, head: str, value: object) -> Change:
    """Return the change that puts a value into a cell; the row by its number, or by the text of one of its cells."""
    def change(opened: Any) -> None:
        page = opened[sheet]
        at = row if isinstance(row, int) else row_of(page, row)
        page.cell(at, column(page, head)).value = value

    return change


def parts_of(data: bytes) -> dict[str, bytes]:
    """Return the parts of a workbook's file."""
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {name: package.read(name) for name in package.namelist()}


def packed(parts: dict[str, bytes]) -> bytes:
    """Return parts as a file."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=4) as package:
        for name, part in parts.items():
            package.writestr(name, part)
    return out.getvalue()
