"""Reads the packet's tables: CSV text, and the cells of a spreadsheet from its XML, without a spreadsheet library."""

from __future__ import annotations

import csv
import io
import lzma
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from xml.etree import ElementTree

from layout.audit.files import MOST_BYTES, NotReadable, read_bytes, read_text

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_FORMULA, _VALUE = f"{_MAIN}f", f"{_MAIN}v"
_LINK = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
CellValue = str | float | None
CellGrid = dict[tuple[int, int], CellValue]
"""Cells of a sheet by (row, column), both from 1."""
SheetCells = tuple[CellGrid, dict[tuple[int, int], str]]
"""The cells of a sheet, and the formulas among them."""


def read_csv(path: Path) -> list[dict[str, str]]:
    """Return the rows of a CSV file by its headings; raises NotReadable.

    A cell that was kept from being a formula has its one apostrophe taken off.
    """
    rows = read_raw_csv(path)
    if not rows:
        raise NotReadable(102, path.name, "a row of headings", "an empty file")
    heads = rows[0]
    for number, row in enumerate(rows[1:], start=2):
        if len(row) != len(heads):
            raise NotReadable(102, f"{path.name}:{number}", f"{len(heads)} cells", f"{len(row)}")
    return [{head: bare(cell) for head, cell in zip(heads, row, strict=True)} for row in rows[1:]]


def read_raw_csv(path: Path) -> list[list[str]]:
    """Return every cell of a CSV file as it stands; raises NotReadable."""
    text = read_text(path)
    try:
        return list(csv.reader(text.splitlines(keepends=True)))
    except csv.Error as error:
        raise NotReadable(102, path.name, "cells of text", str(error)) from error


def bare(cell: str) -> str:
    """Return a cell without the apostrophe that keeps it from being a formula."""
    return cell[1:] if cell.startswith("'") else cell


def read_workbook(path: Path) -> dict[str, SheetCells]:
    """Return each sheet of a spreadsheet: its cells, and the formulas among them; raises NotReadable."""
    try:
        with zipfile.ZipFile(io.BytesIO(read_bytes(path))) as book:
            if sum(part.file_size for part in book.infolist()) > MOST_BYTES:
                raise NotReadable(102, path.name, f"at most {MOST_BYTES} bytes", "more")
            shared = _shared(book)
            return {name: _sheet(book, part, shared) for name, part in _sheets(book)}
    except (
        zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, RuntimeError, struct.error,
        ElementTree.ParseError, KeyError, ValueError, IndexError,
    ) as error:
        raise NotReadable(102, path.name, "a spreadsheet", type(error).__name__) from None


def _shared(book: zipfile.ZipFile) -> list[str]:
    if "xl/sharedStrings.xml" not in book.namelist():
        return []
    root = ElementTree.fromstring(book.read("xl/sharedStrings.xml"))
    return [_unescaped("".join(text.text or "" for text in item.iter(f"{_MAIN}t"))) for item in root.iter(f"{_MAIN}si")]


def _unescaped(text: str) -> str:
    """Return a text with the spreadsheet's own _xHHHH_ escapes undone."""
    return re.sub(r"_x([0-9A-Fa-f]{4})_", lambda match: chr(int(match[1], 16)), text)


def _sheets(book: zipfile.ZipFile) -> Iterator[tuple[str, str]]:
    links = ElementTree.fromstring(book.read("xl/_rels/workbook.xml.rels"))
    targets = {link.attrib["Id"]: link.attrib["Target"] for link in links}
    root = ElementTree.fromstring(book.read("xl/workbook.xml"))
    for sheet in root.iter(f"{_MAIN}sheet"):
        yield sheet.attrib["name"], "xl/" + targets[sheet.attrib[_LINK]].removeprefix("/xl/")


def _sheet(book: zipfile.ZipFile, part: str, shared: list[str]) -> SheetCells:
    cells: CellGrid = {}
    formulas: dict[tuple[int, int], str] = {}
    for cell in ElementTree.fromstring(book.read(part)).iter(f"{_MAIN}c"):
        place = _place(cell.attrib["r"])
        formula = cell.find(_FORMULA)
        if formula is not None:
            formulas[place] = formula.text or ""
        cells[place] = _value(cell, shared)
    return cells, formulas


def _value(cell: ElementTree.Element, shared: list[str]) -> CellValue:
    value = cell.find(_VALUE)
    kind = cell.attrib.get("t", "n")
    if kind == "inlineStr":
        return "".join(text.text or "" for text in cell.iter(f"{_MAIN}t"))
    if value is None or value.text is None:
        return None
    if kind == "s":
        return shared[int(value.text)]
    return float(value.text) if kind == "n" else value.text


def _place(name: str) -> tuple[int, int]:
    letters = name.rstrip("0123456789")
    return int(name[len(letters):]), _column(letters)


@lru_cache
def _column(letters: str) -> int:
    if not re.fullmatch(r"[A-Z]+", letters):
        raise ValueError(letters)
    column = 0
    for letter in letters:
        column = column * 26 + ord(letter) - 64
    return column
