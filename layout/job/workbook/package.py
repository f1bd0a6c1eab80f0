"""The file of a workbook, opened with care: what is no workbook, hides something or unpacks to too much is refused.

Only this module touches openpyxl. What its readers raise on broken files is not known, so ``except Exception`` stands
here and nowhere else.
"""

from __future__ import annotations

import datetime
import io
import posixpath
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Any
from xml.etree import ElementTree

from layout.errors import Fault
from layout.job.tree import Place, Unreadable, show

MAX_UNPACKED = 60_000_000
"""Most bytes that a workbook may unpack to, all its parts together."""
MAX_PARTS = 500
"""Most parts in a workbook's file."""
MAX_ROWS = 25_000
"""Last row of a sheet that may be filled: more than the points of the largest job take."""
MAX_COLUMNS = 100
"""Last column of a sheet that may be filled."""
MAX_SHEETS = 50
MAX_CELLS = 400_000
"""Most cells of one sheet that may be filled: 20,000 points take 100,000."""

_ZIP, _OLD = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
SUFFIXES = (".xlsx", ".xlsm", ".xltx", ".xls", ".ods")
_SHEETS_AHEAD = 10 * MAX_ROWS
"""Lines of one sheet come before those of the next when places are put in order."""

CellContent = str | int | float | bool | datetime.datetime | datetime.date | datetime.time | datetime.timedelta | None


@dataclass(frozen=True)
class Cell:
    """A cell: where it is, what it holds, what its formula lacks.

    Parameters
    ----------
    place
        Its place, for faults.
    content
        What it holds; None when it is blank.
    wrong
        Why its content cannot be taken: a formula without a value, an error.
    hundredths
        It is shown as a percentage, so that what was typed as 5 % is held as 0.05.
    """

    place: Place
    content: CellContent
    wrong: str = ""
    hundredths: bool = False


@dataclass(frozen=True)
class Grid:
    """A sheet: its number and name, and its rows that hold anything, by their numbers from 1."""

    number: int
    name: str
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]

    def place(self, row: int, column: int) -> Place:
        """Return the place of a cell, row and column counted from 1."""
        return Place(self.number * _SHEETS_AHEAD + row, column, f"{self.name}!{column_letters(column)}{row}")


def column_letters(column: int) -> str:
    """Return what a column is called.

    Examples
    --------
    >>> letters(1), letters(26), letters(27), letters(703)
    ('A', 'Z', 'AA', 'AAA')
    """
    text = ""
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def is_workbook(data: bytes, file: str) -> bool:
    """Tell whether a file is to be read as a workbook, by how it begins or what it is called."""
    return data.startswith((_ZIP, _OLD)) or file.lower().endswith(SUFFIXES)


def open_book(data: bytes) -> tuple[list[Grid], list[tuple[Place, Fault]]]:
    """Read what stands on the sheets of a workbook.

    Parameters
    ----------
    data
        The file.

    Returns
    -------
    tuple
        The sheets in order, and what is wrong with them as such: hidden rows and columns, merged cells.

    Raises
    ------
    Unreadable
        When it is no workbook, is protected, holds macros, or is too large.
    """
    package = _package(data)
    parts = _sheet_parts(package)
    faults: list[tuple[Place, Fault]] = []
    filled: dict[str, bool] = {}
    for number, part in enumerate(parts):
        if not is_note(part.name):
            filled[part.name] = _survey(package, number, part, faults)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions that are of no matter here
            return list(_grids(data, parts, filled)), faults
    except Unreadable:
        raise
    except Exception as error:
        raise _refusal("cannot be read as a workbook", type(error).__name__) from None


def is_note(name: str) -> bool:
    """Tell whether a sheet is the user's own, which is not read: its name starts with Note."""
    return name.strip().lower().startswith("note")


def _refusal(what: str, got: str = "", hint: str = "") -> Unreadable:
    return Unreadable(Fault(0, "", what, show(got), hint))


# --- the file as a package ---------------------------------------------------------------------

@dataclass(frozen=True)
class _Part:
    """A sheet in the package: its name, its file, whether it is hidden."""

    name: str
    file: str
    hidden: bool


def _package(data: bytes) -> zipfile.ZipFile:
    """Return the parts of a workbook's file, sizes and kinds checked."""
    if data.startswith(_OLD):
        raise _refusal("must not be protected by a password, nor of the old .xls kind",
                       hint="save it as .xlsx without a password")
    try:
        package = zipfile.ZipFile(io.BytesIO(data))
        infos = package.infolist()
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError, zlib.error, EOFError):
        raise _refusal("cannot be read as a workbook: the file is damaged, or is none") from None
    names = {info.filename for info in infos}
    if len(infos) > MAX_PARTS:
        raise _refusal(f"must have at most {MAX_PARTS} parts in its file", f"{len(infos):,}")
    if any(info.flag_bits & 1 for info in infos):
        raise _refusal("must not be protected by a password", hint="save it without a password")
    unpacked = sum(info.file_size for info in infos)
    if unpacked > MAX_UNPACKED:
        raise _refusal(f"must not unpack to more than {MAX_UNPACKED // 1_000_000} MB", f"{unpacked // 1_000_000:,} MB")
    if any("vbaproject" in name.lower() or "macrosheets/" in name.lower() for name in names):
        raise _refusal("must be a workbook without macros", hint="save it as .xlsx")
    if "xl/workbook.xml" not in names:
        raise _refusal("must be an .xlsx workbook", hint="save it as .xlsx")
    for info in infos:
        if info.filename.endswith((".xml", ".rels", ".vml")):
            _no_entities(package, info)
    return package


def _no_entities(package: zipfile.ZipFile, info: zipfile.ZipInfo) -> None:
    """Refuse a part that declares entities, with which a small file can grow without end; no workbook needs any."""
    try:
        text = package.read(info)
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError, RuntimeError, zlib.error, EOFError):
        raise _refusal("cannot be read as a workbook: the file is damaged", info.filename) from None
    if b"<!" in text.replace(b"\0", b"").replace(b"<!--", b"").replace(b"<![CDATA[", b""):
        raise _refusal("must not declare entities or document types in its parts", info.filename)


def _sheet_parts(package: zipfile.ZipFile) -> list[_Part]:
    """Return the sheets of a workbook in order."""
    try:
        book = ElementTree.fromstring(package.read("xl/workbook.xml"))
        links = ElementTree.fromstring(package.read("xl/_rels/workbook.xml.rels"))
    except (ElementTree.ParseError, KeyError, LookupError, ValueError):
        raise _refusal("cannot be read as a workbook: the file is damaged") from None
    target = {link.get("Id"): link.get("Target", "") for link in links}
    found = []
    for element in book.iter():
        if _tag(element) != "sheet":
            continue
        link = next((value for key, value in element.attrib.items() if key.endswith("}id")), "")
        file = target.get(link, "")
        file = file.lstrip("/") if file.startswith("/") else posixpath.normpath(posixpath.join("xl", file))
        if "worksheets/" in file:
            found.append(_Part(element.get("name", ""), file, element.get("state", "visible") != "visible"))
    if len(found) > MAX_SHEETS:
        raise _refusal(f"must have at most {MAX_SHEETS} sheets", f"{len(found):,}")
    if not found:
        raise _refusal("must have a sheet")
    return found


def _tag(element: ElementTree.Element) -> str:
    return element.tag.rpartition("}")[2]


# --- what a sheet hides ------------------------------------------------------------------------

def _survey(package: zipfile.ZipFile, number: int, part: _Part, faults: list[tuple[Place, Fault]]) -> bool:
    """Go through a sheet's file for what is hidden or merged or too far out; tell whether it has formulas."""
    sheet = Grid(number, part.name, ())
    try:
        with package.open(part.file) as stream:
            return _Survey(sheet, part.hidden, faults).of(stream)
    except (ElementTree.ParseError, KeyError, LookupError, ValueError, zipfile.BadZipFile, OSError):
        raise _refusal("cannot be read as a workbook: the file is damaged", part.file) from None


class _Survey:
    """One pass through the file of a sheet."""

    def __init__(self, sheet: Grid, hidden: bool, faults: list[tuple[Place, Fault]]) -> None:
        self.sheet = sheet
        self.sheet_hidden = hidden
        self.faults = faults
        self.hidden_columns: list[tuple[int, int]] = []
        self.told: set[str] = set()
        self.formulas = False
        self.row = 0
        self.cells = 0

    def of(self, stream: IO[bytes]) -> bool:
        """Go through it."""
        hidden_row = False
        count = 0
        for event, element in ElementTree.iterparse(stream, events=("start", "end")):
            tag = _tag(element)
            if event == "start":
                if tag == "row":
                    self.row = int(element.get("r") or self.row + 1)
                    hidden_row, count = element.get("hidden") in ("1", "true"), 0
                elif tag == "col" and element.get("hidden") in ("1", "true"):
                    self.hidden_columns.append((int(element.get("min", 0)), int(element.get("max", 0))))
                elif tag == "mergeCell":
                    self._merged(element.get("ref", ""))
                continue
            if tag == "f":
                self.formulas = True
            elif tag == "c":
                count += 1
                if any((child.text or len(child)) for child in element):
                    self._filled(self._column(element, count), hidden_row)
                element.clear()
            elif tag in ("row", "sheetData"):
                element.clear()
        return self.formulas

    @staticmethod
    def _column(element: ElementTree.Element, count: int) -> int:
        match = re.match(r"([A-Z]{1,3})\d", element.get("r", ""))
        if not match:
            return count
        number = 0
        for letter in match[1]:
            number = number * 26 + ord(letter) - ord("A") + 1
        return number

    def _filled(self, column: int, hidden_row: bool) -> None:
        """Look at a cell that holds something."""
        name = self.sheet.name
        self.cells += 1
        if self.cells > MAX_CELLS:
            raise _refusal(f"must have at most {MAX_CELLS:,} filled cells on a sheet", f"more on {name}")
        if self.row > MAX_ROWS:
            raise _refusal(f"must have nothing below row {MAX_ROWS:,}",
                           f"something in {name}!{column_letters(column)}{self.row}")
        if column > MAX_COLUMNS:
            raise _refusal(f"must have nothing right of column {column_letters(MAX_COLUMNS)}",
                           f"something in {name}!{column_letters(column)}{self.row}")
        if self.sheet_hidden:
            self._tell("sheet", 1, 1, "must not be hidden: what is not seen is not checked by eye", "show the sheet")
        if hidden_row:
            self._tell(f"row {self.row}", self.row, 1, f"must not be in a hidden row, {self.row}",
                       "show the row, or delete it")
        if any(least <= column <= most for least, most in self.hidden_columns):
            self._tell(f"column {column}", 1, column, f"must not be in a hidden column, {column_letters(column)}",
                       "show the column, or delete it")

    def _merged(self, ref: str) -> None:
        match = re.match(r"([A-Z]{1,3})(\d{1,7}):", ref)
        if match:
            number = 0
            for letter in match[1]:
                number = number * 26 + ord(letter) - ord("A") + 1
            self._tell(ref, int(match[2]), number, "must not be merged with other cells",
                       "unmerge the cells and fill each", ref)

    def _tell(self, key: str, row: int, column: int, what: str, hint: str, got: str = "") -> None:
        if key not in self.told:
            self.told.add(key)
            place = self.sheet.place(row, column)
            self.faults.append((place, Fault(0, "", what, got, hint, place.cell)))


# --- what the cells hold -----------------------------------------------------------------------

def _grids(data: bytes, parts: list[_Part], filled: dict[str, bool]) -> Iterator[Grid]:
    """Yield each sheet with its rows, values for formulas."""
    import openpyxl  # takes as long as all the rest of reading a job, and most jobs are text

    values = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    formulas = None
    if any(filled.values()):
        formulas = openpyxl.load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
    for number, part in enumerate(parts):
        sheet = Grid(number, part.name, ())
        if is_note(part.name):
            yield sheet
            continue
        asked: dict[tuple[int, int], bool] = {}
        if formulas is not None and filled[part.name]:
            asked = {(row, column): True for row, column, cell in _cells(formulas[part.name]) if cell.data_type == "f"}
        rows: dict[int, list[Cell]] = {}
        for row, column, cell in _cells(values[part.name]):
            wrong = "must not hold an error" if cell.data_type == "e" else ""
            share = isinstance(cell.value, (int, float)) and "%" in str(cell.number_format)
            rows.setdefault(row, []).append(Cell(sheet.place(row, column), cell.value, wrong, share))
            asked.pop((row, column), None)
        for row, column in asked:
            rows.setdefault(row, []).append(Cell(sheet.place(row, column), "=", "must have a value beside its formula"))
        yield Grid(number, part.name, tuple((row, tuple(rows[row])) for row in sorted(rows)))


def _cells(sheet: Any) -> Iterator[tuple[int, int, Any]]:
    """Yield row, column and cell of each cell that holds something."""
    sheet.reset_dimensions()  # what the file says of its own size is not to be trusted
    for row, cells in enumerate(sheet.iter_rows(max_row=MAX_ROWS, max_col=MAX_COLUMNS), 1):
        for column, cell in enumerate(cells, 1):
            if cell.value is not None and str(cell.value).strip():
                yield row, column, cell
