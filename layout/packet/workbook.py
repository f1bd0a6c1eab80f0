"""cut-list.xlsx: a summary, one sheet a roll to print and take to the roll, the takeoff and the order.

Lengths are real numbers in the job's unit, shown as fractions of an inch or whole millimetres; beside them stands
what the tape reads. Totals are formulas that carry their value. Text is written as text, whatever it looks like.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import xlsxwriter
from xlsxwriter.exceptions import FileCreateError
from xlsxwriter.utility import quote_sheetname, xl_rowcol_to_cell

from layout.takeoff.areas import Areas, areas
from layout.packet.cut_list import CutRow, rolls, rows
from layout.packet.names import sheet_names
from layout.packet.bill_sheets import order_sheet, takeoff_sheet
from layout.packet.summary import proof_words
from layout.packet.sheet_styles import HEAD_ROW, Styles, fit_row, make_styles, one_line, set_page, write_sum
from layout.records import Plan, Roll
from layout.units import Unit, inches, tape

_CREATED = datetime(2000, 1, 1)  # no clock: the same plan gives the same bytes
_HEADINGS = (
    ("cut", 5), ("roll", 6), ("at", 11), ("piece", 9), ("kind", 12), ("run", 8), ("face", 14), ("length", 11),
    ("width", 9), ("marks", 48), ("install", 7), ("note", 26), ("pile", 5), ("station", 11), ("at_tape", 11),
    ("length_tape", 11), ("width_tape", 10), ("to", 11), ("across", 9), ("marks_liner", 48),
)
_COLUMN = {name: column for column, (name, _) in enumerate(_HEADINGS)}
_SUMMARY_COLUMNS = (
    ("roll", 9), ("product", 12), ("stock", 11), ("length", 11), ("width", 9), ("area", 11), ("price", 11),
    ("pieces", 8), ("used", 11), ("left", 11), ("left is", 9),
)


def write_workbook(plan: Plan, path: Path) -> None:
    """Write cut-list.xlsx.

    Parameters
    ----------
    plan
        The plan.
    path
        Where the file goes.

    Notes
    -----
    Formulas carry the value they give, so that a reader that does not calculate sees it too.
    """
    book = xlsxwriter.Workbook(str(path), {
        "in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
    })
    info = plan.job.info
    book.set_properties({"title": one_line(f"Cut list: {info.name}"), "created": _CREATED})
    styles = make_styles(book, plan.job.unit)
    opened = rolls(plan)
    names = sheet_names([roll.tag for roll in opened], taken=("Summary", "Takeoff", "Order"))
    summary = book.add_worksheet("Summary")
    listed = rows(plan)
    used = []
    for roll, name in zip(opened, names, strict=True):
        cuts = [row for row in listed if row.roll is roll]
        used.append(_roll_sheet(book.add_worksheet(name), plan, roll, cuts, styles))
    _summary_sheet(summary, plan, opened, names, used, styles)
    takeoff_sheet(book.add_worksheet("Takeoff"), plan, styles)
    order_sheet(book.add_worksheet("Order"), plan, styles)
    try:
        book.close()
    except FileCreateError as error:
        raise OSError(*(error.args[0].args if isinstance(error.args[0], OSError) else error.args)) from error


@dataclass(frozen=True)
class _RollTotals:
    """Where a roll's sheet keeps its totals, and what they are."""

    pieces_cell: str
    pieces: int
    used_cell: str
    used: float


def _roll_sheet(sheet: xlsxwriter.worksheet.Worksheet, plan: Plan, roll: Roll, cuts: Sequence[CutRow],
                styles: Styles) -> _RollTotals:
    unit = plan.job.unit
    number = unit.number
    which = "remnant" if roll.remnant else "roll"
    sheet.write_string(0, 0, f"{roll.tag}: {roll.product}, {which} {roll.stock}", styles.title)
    sheet.write_string(1, 0, "roll length", styles.text)
    sheet.write_number(1, 2, number(roll.length), styles.length)
    sheet.write_string(1, 3, "roll width", styles.text)
    sheet.write_number(1, 4, number(roll.width), styles.length)
    up = "film" if plan.job.film_side_up else "liner"
    sheet.write_string(2, 0, f"Measure every cut from the roll's end. The sheet lies {up} side up: "
                             f"use the column {'marks' if plan.job.film_side_up else 'marks_liner'}.", styles.text)
    for column, (heading, width) in enumerate(_HEADINGS):
        sheet.write_string(HEAD_ROW, column, heading, styles.head)
        sheet.set_column(column, column, width)
    first = HEAD_ROW + 1
    for place, row in enumerate(cuts):
        _cut_row(sheet, first + place, row, plan, styles)
    last, total = first + len(cuts) - 1, first + len(cuts)
    used_length = max((row.cut.at + row.cut.length for row in cuts), default=0)

    def span(name: str) -> str:
        return f"{xl_rowcol_to_cell(first, _COLUMN[name])}:{xl_rowcol_to_cell(last, _COLUMN[name])}"

    sheet.write_string(total, 0, "total", styles.total_head)
    sheet.write_formula(total, _COLUMN["piece"], f"=COUNTA({span('piece')})", styles.total_whole, len(cuts))
    sheet.write_formula(total, _COLUMN["length"], f"=SUM({span('length')})", styles.total_length,
                        number(sum(row.piece.length for row in cuts)))
    sheet.write_formula(total, _COLUMN["to"], f"=MAX({span('to')})", styles.total_length, number(used_length))
    sheet.write_string(total + 1, 0, "left on the roll" + (", keep as stock" if roll.leftover.keep else ", scrap"),
                       styles.text)
    used_cell = xl_rowcol_to_cell(total, _COLUMN["to"])
    sheet.write_formula(total + 1, _COLUMN["length"], f"=C2-{used_cell}", styles.length,
                        number(roll.length - used_length))
    sheet.freeze_panes(first, 4)
    # the marks of the side that lies down stand last; printed too, they would shrink the rest past reading
    set_page(sheet, plan, last_row=total + 1, last_column=_COLUMN["marks_liner"] - plan.job.film_side_up)
    return _RollTotals(xl_rowcol_to_cell(total, _COLUMN["piece"]), len(cuts), used_cell, number(used_length))


def _cut_row(sheet: xlsxwriter.worksheet.Worksheet, at: int, row: CutRow, plan: Plan, styles: Styles) -> None:
    unit = plan.job.unit
    piece, cut = row.piece, row.cut
    texts = {
        "roll": row.roll.tag, "piece": piece.tag, "kind": piece.kind, "run": piece.run, "face": piece.face,
        "marks": "; ".join(row.marks), "note": row.note, "pile": row.pile, "at_tape": tape(cut.at, unit),
        "length_tape": tape(piece.length, unit), "width_tape": inches(piece.width, unit),
        "marks_liner": "; ".join(row.marks_liner),
    }
    lengths: dict[str, int | None] = {
        "at": cut.at, "length": piece.length, "width": piece.width, "station": row.station,
        "to": cut.at + cut.length, "across": cut.across,
    }
    sheet.write_number(at, _COLUMN["cut"], row.number, styles.whole)
    if piece.install:
        sheet.write_number(at, _COLUMN["install"], piece.install, styles.whole)
    for name, text in texts.items():
        sheet.write_string(at, _COLUMN[name], text, styles.wrap)
    fit_row(sheet, at, ((text, _HEADINGS[_COLUMN[name]][1]) for name, text in texts.items()))
    for name, ticks in lengths.items():
        if ticks is not None:
            sheet.write_number(at, _COLUMN[name], unit.number(ticks), styles.length)


def _summary_sheet(sheet: xlsxwriter.worksheet.Worksheet, plan: Plan, opened: Sequence[Roll], names: Sequence[str],
                   used: Sequence[_RollTotals], styles: Styles) -> None:
    unit = plan.job.unit
    divisor = DIVISORS[unit.name]
    info = plan.job.info
    sheet.write_string(0, 0, f"Cut list: {info.name}", styles.title)
    about = [text for text in (info.number, info.site, info.prepared_by, info.date, info.revision) if text]
    sheet.write_string(1, 0, " · ".join(about), styles.text)
    for column, (heading, width) in enumerate(_SUMMARY_COLUMNS):
        label = f"area {unit.area_name}" if heading == "area" else heading
        sheet.write_string(HEAD_ROW, column, label, styles.head)
        sheet.set_column(column, column, width)
    first = HEAD_ROW + 1
    for place, (roll, name, totals) in enumerate(zip(opened, names, used, strict=True)):
        at = first + place
        for column, text in enumerate((roll.tag, roll.product, roll.stock)):
            sheet.write_string(at, column, text, styles.text)
        sheet.write_number(at, 3, unit.number(roll.length), styles.length)
        sheet.write_number(at, 4, unit.number(roll.width), styles.length)
        sheet.write_formula(at, 5, f"=D{at + 1}*E{at + 1}/{divisor}", styles.area, _area(roll, unit))
        if roll.price is not None:
            sheet.write_number(at, 6, float(roll.price), styles.money)
        page = quote_sheetname(name)
        sheet.write_formula(at, 7, f"={page}!{totals.pieces_cell}", styles.whole, totals.pieces)
        sheet.write_formula(at, 8, f"={page}!{totals.used_cell}", styles.length, totals.used)
        sheet.write_formula(at, 9, f"=D{at + 1}-I{at + 1}", styles.length, unit.number(roll.length) - totals.used)
        sheet.write_string(at, 10, "stock" if roll.leftover.keep else "scrap", styles.beside)
    total = first + len(opened)
    sheet.write_string(total, 0, "total", styles.total_head)
    sums = ((5, styles.total_area, sum(_area(roll, unit) for roll in opened)),
            (6, styles.total_money, float(sum(roll.price or 0 for roll in opened))),
            (7, styles.total_whole, sum(totals.pieces for totals in used)))
    for column, style, value in sums:
        write_sum(sheet, total, column, first, style, value)
    row = total + 2
    for cutting in plan.cuttings:
        row = _area_block(sheet, row, cutting.product, areas(plan, cutting).told(), unit, styles)
    for text in (proof_words(plan), *(f"Saving: {saving['text']}" for saving in plan.savings),
                 *(f"Warning: {warning.text()}" for warning in plan.warnings), *plan.notes,
                 *(f"Exception: {broken.rule}, run {broken.run} at {tape(broken.at, unit)}: {broken.why}"
                   for broken in plan.exceptions)):
        sheet.write_string(row, 0, text, styles.text)
        row += 1
    sheet.freeze_panes(first, 1)
    set_page(sheet, plan, last_row=row, last_column=len(_SUMMARY_COLUMNS) - 1)


DIVISORS = {"in": 144, "mm": 1_000_000}
"""Square inches in a square foot, square millimetres in a square metre."""


def _area(roll: Roll, unit: Unit) -> float:
    """Return a roll's area as the sheet's own formula works it out."""
    return unit.number(roll.length) * unit.number(roll.width) / DIVISORS[unit.name]


def _area_block(sheet: xlsxwriter.worksheet.Worksheet, row: int, product: str, found: Areas, unit: Unit,
                styles: Styles) -> int:
    """Write where one product's sheet went, and return the next free row."""
    sheet.write_string(row, 0, f"Where the {product} goes [{unit.area_name}]", styles.part_head)
    lines = (("to cover", found.to_cover), ("laps", found.laps), ("cut away", found.cut_away),
             ("leftover kept", found.leftover_kept), ("scrap", found.scrap))
    first = row + 1
    for place, (label, value) in enumerate(lines):
        sheet.write_string(first + place, 0, label, styles.text)
        sheet.write_number(first + place, 3, float(value), styles.area)
    total = first + len(lines)
    sheet.write_string(total, 0, "opened", styles.total_head)
    write_sum(sheet, total, 3, first, styles.total_area, float(found.ordered))
    if found.from_remnants:
        sheet.write_string(total + 1, 0, "of it from stock", styles.text)
        sheet.write_number(total + 1, 3, float(found.from_remnants), styles.area)
        sheet.write_string(total + 2, 0, "bought", styles.text)
        opened, stock = xl_rowcol_to_cell(total, 3), xl_rowcol_to_cell(total + 1, 3)
        sheet.write_formula(total + 2, 3, f"={opened}-{stock}", styles.area, float(found.bought))
        return total + 4
    return total + 2
