"""order.xlsx: one order for many jobs, and the table of the jobs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import xlsxwriter

from layout.packet.bill_sheets import write_order
from layout.packet.sheet_styles import make_styles
from layout.order import OrderLine
from layout.units import INCH

_CREATED = datetime(2000, 1, 1)  # no clock: the same order gives the same bytes
_FIGURES = ("drops", "rolls", "rolls_alone", "remnants", "total", "unpriced", "exceptions", "status")


def write_order_book(
    order: Sequence[OrderLine], rows: Sequence[Sequence[str]], columns: Sequence[str], path: Path,
) -> None:
    """Write order.xlsx.

    Parameters
    ----------
    order
        Its lines.
    rows, columns
        The table of the jobs: cells as text, and what the columns are called.
    path
        Where the file goes.
    """
    book = xlsxwriter.Workbook(str(path), {
        "in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
    })
    book.set_properties({"title": "Order", "created": _CREATED})
    styles = make_styles(book, INCH)
    write_order(book.add_worksheet("Order"), order, styles, title="Order for all jobs")
    sheet = book.add_worksheet("Jobs")
    for column, name in enumerate(columns):
        sheet.write_string(0, column, name.replace("_", " "), styles.head_right if name in _FIGURES else styles.head)
        sheet.set_column(column, column, 30 if name in ("job", "name", "fault") else 11)
    for at, row in enumerate(rows, start=1):
        for column, (name, cell) in enumerate(zip(columns, row, strict=True)):
            if name in _FIGURES and cell:
                sheet.write_number(at, column, float(cell), styles.figures[0] if name != "total" else styles.money)
            else:
                sheet.write_string(at, column, cell, styles.wrap)
    sheet.freeze_panes(1, 1)
    book.close()
