"""A job's tree to a workbook: the form to fill in, and what a job file says put into it.

Cells that hold text or lengths are formatted as text, so that a spreadsheet program leaves ``3/4`` and ``0001`` as
they are. The same tree gives the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from textwrap import wrap
from typing import TYPE_CHECKING

from layout.job.kind import Kind
from layout.job.lengths import Range
from layout.job.quantities import Number
from layout.job.tree import Place, Value
from layout.job.words import Choice, Day, Words
from layout.job.workbook.columns import NO, PRODUCTS, PROFILES, YES, FormSheet, lists, sheets
from layout.job.workbook.read import LABEL, SETTING
from layout.units import UNITS, Unit

if TYPE_CHECKING:
    import xlsxwriter

FREE_ROWS = 200
"""Rows of a table that are made ready for more entries."""
_PRINTED_ROWS = 20
"""Rows of a table that are printed, empty ones too: so many can be filled in by hand."""
_CREATED = datetime(2000, 1, 1)  # no clock: the same job gives the same bytes
_LETTER, _A4 = 1, 9
_WIDE = 60

RowCells = Mapping[str, Value]
NOTES = (
    "How to fill this in",
    "Write over the example, sheet by sheet, and clear the rows that you do not need.",
    "An empty setting counts as its meaning says; a product of the sheet Takeoff that is left empty is not bought.",
    "One row a face on the sheet Faces, from left to right as you see the wall from the soil side.",
    "A closed building goes round counter-clockwise on plan: yes under closed on the sheet Runs.",
    "Lengths are text such as 8'-4 1/2\", 100 1/2\", 7 ft, 2.44 m, 850 mm, or bare numbers in the unit of the heading.",
    "Elevations are up from one level that you choose, mostly the top of the lowest footing.",
    "A wall top, footing or grade that is not level has its points on the sheet Points, and an empty cell on Faces.",
    "A station given twice on the sheet Points is a step: the level before it, then the level after it.",
    "Bold headings must be filled. Hold the mouse over a heading to read what it means.",
    "Lists in one cell are parted by semicolons: 31'-6\"; 88'-0\".",
    "This sheet is not read; nor is any other whose name starts with Note.",
    "Then: lapwright check THIS-FILE, and lapwright plan THIS-FILE.",
)


def write_book(root: Value) -> bytes:
    """Return a job as a workbook.

    Parameters
    ----------
    root
        The tree of a job file that was read and checked.

    Returns
    -------
    bytes
        The file, the same for the same tree. Reading it gives the same job.
    """
    import xlsxwriter  # reading a job does without it

    held = _held(root, "units")
    unit = UNITS[str(held.content)] if held else UNITS["in"]
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {
        "in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
    })
    name = _held(_held(root, "job"), "name")
    book.set_properties({"title": f"Job: {' '.join(name.text.split()) if name else ''}"[:200], "created": _CREATED})
    form = _Form(book, unit)
    form.notes()
    for sheet in sheets():
        if sheet.settings:
            form.settings(sheet, root)
        else:
            form.table(sheet, list(_rows(sheet, root)))
    book.close()
    return out.getvalue()


# --- the tree as rows ----------------------------------------------------------------------------

def _rows(sheet: FormSheet, root: Value) -> Iterator[RowCells]:
    """Yield the rows of a table by the names of their columns."""
    if sheet.name == "Rolls":
        yield from _rolls(root)
    elif sheet.name in lists():
        yield from (_mapping(entry) for entry in _list(root, lists()[sheet.name]))
    elif sheet.name == "Runs":
        yield from (_mapping(run) for run in _list(root, "runs"))
    else:
        for run in _list(root, "runs"):
            yield from _of_run(sheet, run)


def _rolls(root: Value) -> Iterator[RowCells]:
    for product in PRODUCTS:
        for key in ("rolls", "remnants"):
            for entry in _list(_held(root, product), key):
                yield {"product": _word(product), **_mapping(entry)}


def _of_run(sheet: FormSheet, run: Value) -> Iterator[RowCells]:
    """Yield what a sheet has of one run."""
    name = _mapping(run)["name"]
    if sheet.name == "Points":
        yield from _points(_held(run, "drain"), {"run": name}, "drain")
    for face in _list(run, "faces"):
        of_face = {"run": name, "face": _mapping(face)["name"]}
        if sheet.name == "Faces":
            yield {**_face(face), "run": name}
        elif sheet.name == "Points":
            for profile in PROFILES[:3]:
                if not _has_cells(face, profile):
                    yield from _points(_held(face, profile), of_face, profile)
        else:
            for entry in _list(face, sheet.name.lower()):
                yield {**_mapping(entry), **of_face}


def _face(face: Value) -> dict[str, Value]:
    """Return a face's cells; grade that is one line from end to end stands in two of them."""
    cells = {key: value for key, value in _mapping(face).items() if not isinstance(value.content, list)}
    grade = _held(face, "grade")
    if grade is not None and _has_cells(face, "grade"):
        ends = [point.content[1] for point in grade.content if isinstance(point.content, list)] if isinstance(
            grade.content, list) else [grade]
        cells.update(zip(("grade_left", "grade_right"), ends))
    cells.pop("grade", None)
    return cells


def _has_cells(face: Value, profile: str) -> bool:
    """Tell whether a profile stands on the sheet of faces: one elevation, or grade from end to end in one line."""
    held, length = _held(face, profile), _held(face, "length")
    if held is None or not isinstance(held.content, list):
        return True
    if profile != "grade" or len(held.content) != 2 or length is None:
        return False
    stations = [point.content[0].content for point in held.content if isinstance(point.content, list)]
    return stations[0] in (0, '0"', "0", "0 mm") and stations[1] == length.content


def _points(profile: Value | None, where: RowCells, name: str) -> Iterator[RowCells]:
    """Yield the points of a profile."""
    for point in profile.content if profile and isinstance(profile.content, list) else ():
        if isinstance(point.content, list):
            yield {**where, "profile": _word(name), "station": point.content[0], "elevation": point.content[1]}


def _mapping(value: Value) -> dict[str, Value]:
    return dict(value.content) if isinstance(value.content, dict) else {}


def _held(value: Value | None, key: str) -> Value | None:
    return value.content.get(key) if value is not None and isinstance(value.content, dict) else None


def _list(value: Value | None, key: str) -> list[Value]:
    held = _held(value, key)
    return held.content if held is not None and isinstance(held.content, list) else []


def _word(text: str) -> Value:
    return Value(text, Place(0, 0), text)


# --- the form ------------------------------------------------------------------------------------

class _Form:
    """A workbook being written."""

    def __init__(self, book: xlsxwriter.Workbook, unit: Unit) -> None:
        self.book = book
        self.unit = unit
        base = {"valign": "top", "font_size": 10}
        head = {**base, "text_wrap": True, "bottom": 2, "bg_color": "#E8EDF2"}
        self.head = book.add_format(head)
        self.strong = book.add_format({**head, "bold": True})
        self.text = book.add_format({**base, "num_format": "@"})
        self.number = book.add_format(base)
        self.said = book.add_format({**base, "text_wrap": True, "font_color": "#444444"})
        self.label = book.add_format({**base, "text_wrap": True})
        self.needed = book.add_format({**base, "text_wrap": True, "bold": True})
        self.title = book.add_format({"bold": True, "font_size": 14})

    def settings(self, sheet: FormSheet, root: Value) -> None:
        """Write a sheet of settings: name, value, unit, what it means and counts as when left out."""
        page = self._page(sheet)
        for column, (head, wide) in enumerate(((LABEL, 28), (SETTING, 30), ("unit", 9), ("meaning", _WIDE))):
            page.write_string(0, column, head, self.strong if column < 2 else self.head)
            page.set_column(column, column, wide, self.text if column == 1 else None)
        page.write_comment(0, 0, sheet.about)
        page.write_comment(0, 1, "Fill in this column; an empty cell leaves the setting out.")
        page.write_comment(0, 2, "Unit of bare numbers; lengths may be text with a unit of their own.")
        page.write_comment(0, 3, "What the setting is, and what counts when it is left out.")
        for row, setting in enumerate(sheet.columns, 1):
            page.write_string(row, 0, setting.name.replace("_", " "), self.needed if setting.required else self.label)
            held: Value | None = root
            for step in setting.path:
                held = _held(held, step)
            if held is not None:
                self._write(page, row, 1, setting.kind, held)
            elif not setting.is_text:
                page.write_blank(row, 1, None, self.number)
            page.write_string(row, 2, setting.sign(self.unit), self.said)
            page.write_string(row, 3, setting.meaning(self.unit), self.said)
            self._high(page, row, [(setting.name, 28), (setting.meaning(self.unit), _WIDE)])
            if setting.choices:
                page.data_validation(row, 1, row, 1, {"validate": "list", "source": list(setting.choices)})
        page.freeze_panes(1, 1)

    def table(self, sheet: FormSheet, rows: Sequence[RowCells]) -> None:
        """Write a table, with the headings' meanings as comments and drop-down lists below them."""
        page = self._page(sheet)
        last = len(rows) + FREE_ROWS
        heads = []
        for at, column in enumerate(sheet.columns):
            page.write_string(0, at, column.head(self.unit), self.strong if column.required else self.head)
            page.write_comment(0, at, column.meaning(self.unit), {"x_scale": 1.6, "y_scale": 1.2})
            texts = [_shown(row[column.name], column.kind) for row in rows if column.name in row]
            wide = min(_WIDE, max([9, len(column.head(self.unit)) // 2 + 3, *(len(str(text)) + 2 for text in texts)]))
            heads.append((column.head(self.unit), wide))
            page.set_column(at, at, wide, self.text if column.is_text else self.number)
            for row, cells in enumerate(rows, 1):
                if column.name in cells:
                    self._write(page, row, at, column.kind, cells[column.name])
            source: object = list(column.choices)
            if not column.choices and column.name in ("run", "face") and sheet.name != "Faces":
                letter = "A" if column.name == "run" else "B"
                source = f"=Faces!${letter}$2:${letter}${last + 1}"
            if source:  # of other entries only a warning: a sleeve may be entered before its face
                page.data_validation(1, at, last, at, {
                    "validate": "list", "source": source, "error_type": "stop" if column.choices else "warning"})
        self._high(page, 0, heads)
        page.print_area(0, 0, max(len(rows) + 4, _PRINTED_ROWS), len(sheet.columns) - 1)
        page.freeze_panes(1, 2 if len(sheet.columns) > 4 else 0)

    def notes(self) -> None:
        """Write the sheet that says how to fill in the others."""
        page = self.book.add_worksheet("Notes")
        page.set_column(0, 0, 110, self.label)
        for row, line in enumerate(NOTES):
            page.write_string(row, 0, line, self.title if row == 0 else self.label)
        self._paper(page)

    def _page(self, sheet: FormSheet) -> xlsxwriter.worksheet.Worksheet:
        page = self.book.add_worksheet(sheet.name)
        page.repeat_rows(0)
        page.ignore_errors({"number_stored_as_text": "A1:Z2000"})  # a bare number typed into a text cell is well
        self._paper(page)
        return page

    def _high(self, page: xlsxwriter.worksheet.Worksheet, row: int, texts: Sequence[tuple[str, int]]) -> None:
        """Make a row as high as its texts need, each in a column of a width; not every program does so by itself."""
        lines = max(len(wrap(text, wide - 1)) for text, wide in texts)
        if lines > 1:
            page.set_row(row, 2 + 13 * lines)

    def _paper(self, page: xlsxwriter.worksheet.Worksheet) -> None:
        """Set a sheet to print on letter or A4, one page wide."""
        page.set_landscape()
        page.set_paper(_LETTER if self.unit.name == "in" else _A4)
        page.fit_to_pages(1, 0)
        page.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.6)
        page.set_footer("&L&A&R&P of &N")
        page.hide_gridlines(0)

    def _write(self, page: xlsxwriter.worksheet.Worksheet, row: int, column: int, kind: Kind | None,
               held: Value) -> None:
        """Write a value as a person would enter it."""
        shown = _shown(held, kind)
        if isinstance(shown, str):
            page.write_string(row, column, shown, self.text)
        elif shown is not None:
            page.write_number(row, column, shown, self.number if isinstance(kind, Number) else self.text)


def _shown(held: Value, kind: Kind | None) -> str | int | float | None:
    """Return what stands in a cell for a value: a number, or text; nothing where there is none."""
    if isinstance(held.content, list):
        return (" to " if isinstance(kind, Range) else "; ").join(str(_said(item.content)) for item in held.content)
    content = _said(held.content) if not isinstance(held.content, dict) else None
    return str(content) if isinstance(content, (int, float)) and isinstance(kind, (Words, Day, Choice)) else content


def _said(content: object) -> str | int | float | None:
    """Return a scalar as a cell holds it."""
    if isinstance(content, bool):
        return YES if content else NO
    if isinstance(content, str) and content.endswith(" mm") and content[:-3].lstrip("-").isdigit():
        return int(content[:-3])
    assert content is None or isinstance(content, (str, int, float))
    return content
