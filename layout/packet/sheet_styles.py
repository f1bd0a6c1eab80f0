"""Formats, sums and printing that the sheets of a workbook share."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from textwrap import wrap

import xlsxwriter
from xlsxwriter.utility import xl_rowcol_to_cell

from layout.records import Plan
from layout.units import Unit

HEAD_ROW = 4
"""Row of the headings of most sheets, counted from 0."""


LINE = 13
"""Height of a line of wrapped text [points]."""


@dataclass(frozen=True)
class Styles:
    """The cell formats of one workbook; ``beside`` is for text that stands right of figures."""

    title: object
    head: object
    head_right: object
    part_head: object
    text: object
    wrap: object
    beside: object
    whole: object
    length: object
    area: object
    money: object
    figures: tuple[object, ...]
    total_head: object
    total_length: object
    total_whole: object
    total_area: object
    total_money: object

    def figure(self, value: Decimal) -> object:
        """Return the format for a figure with so many places, two at most."""
        exponent = value.as_tuple().exponent
        return self.figures[min(max(-exponent, 0), 2) if isinstance(exponent, int) else 0]


def fit_row(sheet: xlsxwriter.worksheet.Worksheet, row: int, cells: Iterable[tuple[str, float]]) -> None:
    """Make a row as high as its longest wrapped cell: not every program does so by itself.

    Parameters
    ----------
    sheet, row
        Which row, counted from 0.
    cells
        The texts that may wrap, each with its column's width [characters].
    """
    lines = max((len(wrap(text, max(int(width * 1.2), 1))) for text, width in cells if text), default=1)
    if lines > 1:
        sheet.set_row(row, LINE * lines + 2)


def make_styles(book: xlsxwriter.Workbook, unit: Unit) -> Styles:
    """Return the cell formats of a workbook whose lengths are in ``unit``."""
    length = '# ??/??\\"' if unit.name == "in" else '0" mm"'
    base = {"valign": "top", "font_size": 10}
    total = {**base, "bold": True, "top": 1}

    def style(**more: object) -> object:
        return book.add_format({**base, **more})

    def sum_style(**more: object) -> object:
        return book.add_format({**total, **more})

    head = {"bold": True, "bottom": 2, "text_wrap": True}
    return Styles(
        title=book.add_format({"bold": True, "font_size": 14}), head=style(**head),
        head_right=style(**head, align="right"), part_head=style(bold=True, bottom=2), text=style(num_format="@"),
        wrap=style(num_format="@", text_wrap=True),
        beside=style(num_format="@", text_wrap=True, align="left", indent=1),
        whole=style(num_format="0"), length=style(num_format=length),
        area=style(num_format="#,##0.0"), money=style(num_format="#,##0.00"),
        figures=tuple(style(num_format=form) for form in ("#,##0", "#,##0.0", "#,##0.00")), total_head=sum_style(),
        total_length=sum_style(num_format=length), total_whole=sum_style(num_format="0"),
        total_area=sum_style(num_format="#,##0.0"), total_money=sum_style(num_format="#,##0.00"),
    )


def write_sum(
    sheet: xlsxwriter.worksheet.Worksheet, row: int, column: int, first: int, style: object, value: float,
) -> None:
    """Write the sum of a column from a row down to the one above, with its value."""
    top, bottom = xl_rowcol_to_cell(first, column), xl_rowcol_to_cell(row - 1, column)
    sheet.write_formula(row, column, f"=SUM({top}:{bottom})", style, value)


def set_page(
    sheet: xlsxwriter.worksheet.Worksheet, plan: Plan, *, last_row: int, last_column: int, heads: int = HEAD_ROW,
) -> None:
    """Set a sheet up for printing: landscape, one page wide, the rows down to ``heads`` on each page."""
    sheet.set_landscape()
    sheet.set_paper(1 if plan.job.unit.name == "in" else 9)
    sheet.fit_to_pages(1, 0)
    sheet.set_margins(left=0.4, right=0.4, top=0.6, bottom=0.6)
    sheet.repeat_rows(0, heads)
    sheet.print_area(0, 0, last_row, last_column)
    sheet.set_footer(f"&L{_footer(plan.job.info.name)}&C&A&RPage &P of &N")


def _footer(text: str) -> str:
    """Return a text as a footer shows it: its own & doubled, short, on one line."""
    return one_line(text)[:60].replace("&", "&&")


def one_line(text: str) -> str:
    """Return a text on one line, cut to what a cell shows."""
    return " ".join(text.split())[:200]
