"""94x: the order list, the spreadsheet's takeoff, order and summary, and the page's takeoff say what plan.json says."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from layout.audit.bill import row_figure
from layout.audit.files import NotReadable, read_text
from layout.audit.findings import Findings
from layout.audit.tables import CellValue, CellGrid, SheetCells, read_csv
from layout.audit.written import Summary, Written

JsonRow = Mapping[str, Any]
NEAR = Decimal("0.005")
TOLD = Decimal("0.1")
"""An area told to a tenth, so that five of them add up, is at most this far from the exact one."""
ORDER_TEXTS = ("item", "size", "unit", "needed_by", "uses", "instead")
ORDER_FIGURES = ("need", "stock", "buy", "price", "cost", "weight_lb", "pallets")
PARTS = {"to cover": "to_cover", "laps": "laps", "cut away": "cut_away", "leftover kept": "leftover_kept",
         "scrap": "scrap", "opened": "ordered"}
"""Line of the spreadsheet's areas -> the area in plan.json."""
AREAS_WRONG = (804, 805, 806, 807, 808, 809, 813)
"""Findings that areas in plan.json are not those of its pieces and rolls."""


def check_bill_papers(folder: Path, sheets: Mapping[str, SheetCells] | None, plan: Written, book: Findings) -> None:
    """Check order.csv, then the sheets of cut-list.xlsx if it can be read, then the materials in packet.html."""
    if plan.order is not None:
        _check_order_list(folder, plan.order, book)
    if sheets is not None:
        _check_sheets(sheets, plan, book)
    _check_page(folder, plan, book)


def _check_order_list(folder: Path, order: Sequence[JsonRow], book: Findings) -> None:
    try:
        rows = read_csv(folder / "order.csv")
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
        return
    if len(rows) != len(order):
        book.note(940, "order.csv", f"{len(order)} lines", f"{len(rows)}")
        return
    for index, (row, line) in enumerate(zip(rows, order, strict=True), start=1):
        for key in ORDER_TEXTS:
            if row.get(key) != str(line.get(key, "")):
                book.note(940, f"order.csv, row {index}, {key}", str(line.get(key)), str(row.get(key)))
        for key in ORDER_FIGURES:
            if not _same(row.get(key, ""), row_figure(line, key)):
                book.note(940, f"order.csv, row {index}, {key}", str(line.get(key)), row.get(key) or "nothing")


def _same(cell: CellValue, value: Decimal | None) -> bool:
    """Tell whether a cell holds a figure, or nothing where there is none."""
    if cell is None or cell == "":
        return value is None
    try:
        return value is not None and abs(Decimal(str(cell)) - value) < NEAR
    except InvalidOperation:
        return False


# --- the spreadsheet ---------------------------------------------------------------------------

def _check_sheets(sheets: Mapping[str, SheetCells], plan: Written, book: Findings) -> None:
    takeoff = _table(sheets.get("Takeoff"), "item")
    _check_lines("Takeoff", takeoff, plan.takeoff, ("item", "package", "basis", "group"), ("net", "price"), book)
    for index, (row, line) in enumerate(zip(takeoff, plan.takeoff), start=1):
        rated = line.get("item") in ("markup", "tax") or str(line.get("item")).startswith("alternate: ")
        keys = ("cost", "as planned") if line.get("group") == "money" else ("order", "cost", "as planned")
        for key in keys:
            if not (rated and key == "order"):
                needed = row_figure(line, "cost" if key == "as planned" else key)
                _figure(f"Takeoff, row {index}, {key}", row.get(key), needed, book)
    if plan.order is not None:
        order = _table(sheets.get("Order"), "item")
        _check_lines("Order", [_underscored(row) for row in order], plan.order, ORDER_TEXTS, ORDER_FIGURES, book)
    if "Summary" in sheets:
        _check_summary(sheets["Summary"][0], plan, book)


def _underscored(row: Mapping[str, CellValue]) -> dict[str, CellValue]:
    return {key.replace(" ", "_"): value for key, value in row.items()}


def _table(sheet: SheetCells | None, head: str) -> list[dict[str, CellValue]]:
    """Return the rows of a table by its headings: from below the cell of the first column that reads ``head``."""
    if sheet is None:
        return []
    cells = sheet[0]
    start = next((row for (row, column), value in sorted(cells.items()) if column == 1 and value == head), None)
    if start is None:
        return []
    heads = {column: str(value) for (row, column), value in cells.items() if row == start and value is not None}
    rows: list[dict[str, CellValue]] = []
    for row in range(start + 1, max(row for row, _ in cells) + 1):
        rows.append({name: cells.get((row, column)) for column, name in heads.items()})
    return rows


def _check_lines(
    sheet: str, rows: Sequence[Mapping[str, CellValue]], lines: Sequence[JsonRow], texts: Sequence[str],
    figures: Sequence[str], book: Findings,
) -> None:
    if len(rows) < len(lines):
        book.note(941, f"cut-list.xlsx, {sheet}", f"{len(lines)} lines", f"{len(rows)}")
        return
    for index, (row, line) in enumerate(zip(rows, lines), start=1):
        for key in texts:
            if (row.get(key) or "") != str(line.get(key) or ""):
                book.note(941, f"cut-list.xlsx, {sheet}, row {index}, {key}", str(line.get(key)), str(row.get(key)))
        if line.get("group") != "money":
            for key in figures:
                _figure(f"{sheet}, row {index}, {key}", row.get(key), row_figure(line, key), book)


def _figure(place: str, cell: CellValue, value: Decimal | None, book: Findings) -> None:
    if not _same(cell, value):
        book.note(941, f"cut-list.xlsx, {place}", "nothing" if value is None else str(value), str(cell))


def _check_summary(cells: CellGrid, plan: Written, book: Findings) -> None:
    """Hold the rows of rolls, their total and the areas of each product against plan.json."""
    rows = {value: row for (row, column), value in cells.items() if column == 1 and isinstance(value, str)}
    heads = {str(value).split()[0]: column for (row, column), value in cells.items()
             if row == rows.get("roll") and value is not None}
    for roll in plan.rolls:
        row = rows.get(roll.tag)
        place = f"cut-list.xlsx, Summary, roll {roll.tag}"
        if row is None:
            book.note(941, place, "a row", "none")
            continue
        if not _same(cells.get((row, heads.get("price", 0))), roll.price):
            book.note(941, f"{place}, price", str(roll.price), str(cells.get((row, heads.get("price", 0)))))
        if cells.get((row, heads.get("pieces", 0))) != len(roll.cuts):
            book.note(941, f"{place}, pieces", str(len(roll.cuts)), str(cells.get((row, heads.get("pieces", 0)))))
    if book.has_any(AREAS_WRONG):
        return  # that the spreadsheet differs from areas known to be wrong is no news
    for product, summary in plan.products.items():
        title = next((row for text, row in rows.items() if text.startswith(f"Where the {product} goes")), None)
        if title is not None:
            _check_areas(cells, title, product, summary, book)


def _check_areas(cells: CellGrid, title: int, product: str, summary: Summary, book: Findings) -> None:
    for row in range(title + 1, title + 1 + len(PARTS)):
        label, value = cells.get((row, 1)), cells.get((row, 4))
        name = PARTS.get(str(label))
        if name is None or not isinstance(value, float):
            book.note(941, f"cut-list.xlsx, Summary, {product}, row {row}", "an area", str(label))
        elif abs(Decimal(repr(value)) - summary.area[name]) > TOLD + NEAR:
            book.note(941, f"cut-list.xlsx, Summary, {product}, {label}", str(summary.area[name]), str(value))


# --- the page ----------------------------------------------------------------------------------

_TABLE = re.compile(r"<table\b.*?(?:</table>|\Z)", re.DOTALL)


class _Tables(HTMLParser):
    """Collects the rows of every table of a page as text."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: list[list[list[str]]] = []
        self._cell: list[str] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "table":
            self.tables.append([])
        elif tag == "tr" and self.tables:
            self.tables[-1].append([])
        elif tag in ("td", "th") and self.tables and self.tables[-1]:
            self._cell = []

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th") and self._cell is not None:
            self.tables[-1][-1].append(" ".join("".join(self._cell).split()))
            self._cell = None

    def handle_data(self, data: str) -> None:
        if self._cell is not None:
            self._cell.append(data)


def _check_page(folder: Path, plan: Written, book: Findings) -> None:
    """Hold each material on the page against plan.json, and see that the page, which is the crew's, tells no money."""
    try:
        text = read_text(folder / "packet.html")
    except NotReadable:
        return  # noted with the page
    needed = [line for line in plan.takeoff if line.get("group") in ("material", "weight")]
    reader = _Tables()
    for markup in _TABLE.findall(text):
        reader.feed(markup)
    table = next((rows for rows in reader.tables if rows and {"item", "order"} <= set(rows[0])), None)
    if needed and (table is None or len(table) - 1 != len(needed)):
        book.note(942, "packet.html", f"{len(needed)} lines", "none" if table is None else f"{len(table) - 1}")
        return
    for index, (cells, line) in enumerate(zip((table or [])[1:], needed, strict=True), start=1):
        row = dict(zip((table or [[]])[0], cells, strict=False))
        item = " ".join(str(line.get("item", "")).split())
        if row.get("item") != item:
            book.note(942, f"packet.html, materials, row {index}, item", item, str(row.get("item")))
        if not _same(row.get("order", "").split(" ")[0], row_figure(line, "order")):
            book.note(942, f"packet.html, materials, row {index}, order", str(line.get("order")), str(row.get("order")))
    if any("cost" in heads or "price" in heads for heads in (rows[0] for rows in reader.tables if rows)):
        book.note(942, "packet.html", "no money on the crew's page", "a table of costs")
