"""9xx, tables: cut list, spreadsheet and takeoff say what plan.json says, and marks rebuild the pieces."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from pathlib import Path

from shapely.geometry import Polygon

from layout.audit.asked import Asked
from layout.audit.files import NotReadable
from layout.audit.findings import Findings
from layout.audit.marks import LYING, Unclear, rebuild, same, measured_from_corner, told_ticks
from layout.audit.page import without_space as bare_text
from layout.audit.page import check_tuck_words
from layout.audit.tables import CellValue, CellGrid, SheetCells, read_csv, read_raw_csv
from layout.audit.written import Written, WrittenCut, WrittenPiece, WrittenRoll
from layout.units import Unit

FIXED = ("cut", "roll", "at", "piece", "kind", "run", "face", "length", "width", "marks", "install", "note")
"""Columns that every cut list has, in this order, before any others."""
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def check_cut_list(
    folder: Path, plan: Written, asked: Asked, tucks: Mapping[str, Sequence[str]], book: Findings,
) -> None:
    """Hold cut-list.csv against the rolls and pieces of plan.json; ``tucks`` says by drop what to say of tucking."""
    try:
        rows = read_csv(folder / "cut-list.csv")
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
        return
    if rows and tuple(rows[0])[:len(FIXED)] != FIXED:
        book.note(102, "cut-list.csv", ",".join(FIXED), ",".join(rows[0]))
        return
    cuts = [(roll, cut) for roll in plan.rolls for cut in roll.cuts]
    pieces = {piece.tag: piece for piece in plan.pieces}
    if not _check_tags(rows, [cut.piece for _, cut in cuts], book):
        return
    for number, (row, (roll, cut)) in enumerate(zip(rows, cuts, strict=True), start=1):
        _check_row(row, number, roll, cut, pieces[cut.piece], asked.unit, book)
        place = f"cut-list.csv, row {number}, piece {cut.piece}"
        check_tuck_words(place, bare_text(row["note"]), tucks.get(pieces[cut.piece].drop, ()), book)
        up = "film" if asked.film_side_up else "liner"
        if row.get("side_up") != up:
            book.note(921, place, f"{up} side up", row.get("side_up") or "not said")
    _check_formulas(folder, "cut-list.csv", book)


def _check_tags(rows: Sequence[Mapping[str, str]], tags: Sequence[str], book: Findings) -> bool:
    """Note pieces the cut list lacks or has too many of, and rows out of cutting order; tell whether none."""
    listed = [row["piece"] for row in rows]
    if listed == list(tags):
        return True
    missing = sorted(set(tags) - set(listed))
    more = sorted(set(listed) - set(tags)) or sorted({tag for tag in listed if listed.count(tag) > 1})
    if missing or more or len(listed) != len(tags):
        book.note(901, "cut-list.csv", ", ".join(missing) or "each piece once", ", ".join(more) or "not there")
    else:
        first = next(i for i, (a, b) in enumerate(zip(listed, tags)) if a != b)
        book.note(903, f"cut-list.csv, row {first + 1}", tags[first], listed[first])
    return False


def _check_row(
    row: Mapping[str, str], number: int, roll: WrittenRoll, cut: WrittenCut, piece: WrittenPiece, unit: Unit,
    book: Findings,
) -> None:
    words = {"cut": str(number), "roll": roll.tag, "kind": piece.kind, "run": piece.run, "face": piece.face,
             "install": str(piece.install) if piece.install else "", "marks": "; ".join(piece.marks)}
    place = f"cut-list.csv, row {number}, piece {piece.tag}"
    more = {"stock": roll.stock, "pile": piece.pile, "marks_liner": "; ".join(piece.marks_liner)}
    for column, text in (*words.items(), *more.items()):
        if row.get(column, text) != text:
            book.note(902, f"{place}, {column}", text, row[column])
    lengths = {"at": cut.at, "length": piece.length, "width": piece.width, "to": cut.at + cut.length,
               "across": cut.across, "station": min(x for x, _ in piece.ring)}
    for column, ticks in lengths.items():
        if column in row and _ticks(row[column], unit) != ticks and not (column == "station" and not piece.flat):
            book.note(902, f"{place}, {column}", ticks, row[column])


def _ticks(text: str, unit: Unit) -> float | None:
    """Return a length as the tape reads it, in ticks; a length must name its unit."""
    return told_ticks(text, unit) if text.endswith(('"', "mm")) else None


def _check_formulas(folder: Path, name: str, book: Findings) -> None:
    """Note cells that a spreadsheet would take for a formula."""
    for number, row in enumerate(read_raw_csv(folder / name)[1:], start=1):
        for cell in row:
            if cell.lstrip(" ").startswith(_FORMULA) and not _is_number(cell):
                book.note(916, f"{name}, row {number}", "text", cell[:40])


def _is_number(cell: str) -> bool:
    try:
        return Decimal(cell).is_finite()
    except InvalidOperation:
        return False


def check_heading(plan: Written, asked: Asked, digest: str, book: Findings) -> None:
    """Note a plan that has the other side of the sheet up than the job, or another digest than its pieces."""
    if plan.film_side_up != asked.film_side_up:
        book.note(921, "plan.json", f"{'film' if asked.film_side_up else 'liner'} side up", "the other")
    if plan.digest != digest:
        book.note(933, "plan.json", digest, plan.digest)


def digest_of(plan: Written, asked: Asked) -> str:
    """Return the twelve figures that stand for the pieces of a plan, worked from what plan.json says of them."""
    parts = [str((asked.job.get("job") or {}).get("name") or ""), asked.unit.name]
    parts += [repr((piece.tag, piece.kind, piece.product, piece.length, piece.width, piece.ring, piece.holes,
                    list(piece.slits))) for piece in plan.pieces]
    return hashlib.sha256("\n".join(parts).encode("utf-8", "surrogatepass")).hexdigest()[:12]


# --- marks -------------------------------------------------------------------------------------

def check_marks(plan: Written, asked: Asked, book: Findings) -> None:
    """Rebuild every piece from its marks, film side up and liner side up."""
    for piece in plan.pieces:
        for mirrored, marks in ((False, piece.marks), (True, piece.marks_liner)):
            place = f"piece {piece.tag}" + (", liner side up" if mirrored else "")
            try:
                marked = rebuild(marks, length=piece.length, width=piece.width, unit=asked.unit)
            except Unclear as error:
                book.note(904, place, "a mark of a known form", str(error))
                continue
            lying = bool(marks) and marks[0] == LYING
            across = piece.length if lying else piece.width
            shape = Polygon(measured_from_corner(piece.ring, width=across, mirrored=mirrored),
                            [_in_frame(piece, hole, across, mirrored) for hole in piece.holes])
            slits = [tuple(_in_frame(piece, slit, across, mirrored)) for slit in piece.slits]
            if not same(marked, shape, [(slit[0], slit[1]) for slit in slits]):
                book.note(905, place, "the outline in plan.json", "; ".join(marks) or "no marks")


def _in_frame(
    piece: WrittenPiece, points: Sequence[tuple[int, int]], across: float, mirrored: bool,
) -> list[tuple[float, float]]:
    left, top = min(x for x, _ in piece.ring), max(y for _, y in piece.ring)
    return [((across - (x - left)) if mirrored else x - left, top - y) for x, y in points]


# --- the spreadsheet ---------------------------------------------------------------------------

def check_workbook(
    sheets: Mapping[str, SheetCells], plan: Written, asked: Asked, tucks: Mapping[str, Sequence[str]], book: Findings,
) -> None:
    """Hold cut-list.xlsx against plan.json: a sheet for each roll, with the cut list's rows on them."""
    pieces = {piece.tag: piece for piece in plan.pieces}
    pages = _pages(sheets)
    number = 0
    for roll in plan.rolls:
        found = pages.get(roll.tag)
        if found is None:
            book.note(906, f"cut-list.xlsx, roll {roll.tag}", "a sheet of its own", "none")
            number += len(roll.cuts)
            continue
        if len(found) != len(roll.cuts):
            book.note(906, f"cut-list.xlsx, roll {roll.tag}", f"{len(roll.cuts)} rows", f"{len(found)}")
            number += len(roll.cuts)
            continue
        for row, cut in zip(found, roll.cuts, strict=True):
            number += 1
            piece = pieces[cut.piece]
            _check_sheet_row(row, number, roll, cut, piece, asked.unit, book)
            check_tuck_words(f"cut-list.xlsx, roll {roll.tag}, piece {piece.tag}",
                             bare_text(str(row.get("note") or "")), tucks.get(piece.drop, ()), book)
    up = "film" if asked.film_side_up else "liner"
    for name, (cells, _) in sheets.items():
        sides = {found for cell in cells.values() if isinstance(cell, str) and "side up" in cell
                 for found in re.findall(r"lies (film|liner) side up", cell)}
        if _head_row(cells) and sides != {up}:
            book.note(921, f"cut-list.xlsx, {name}", f"{up} side up", ", ".join(sorted(sides)) or "not said")
    for name, (_, formulas) in sheets.items():
        for place, formula in formulas.items():
            if any(word in formula.upper() for word in ("HYPERLINK", "CMD", "DDE", "WEBSERVICE", "[", "|")):
                book.note(916, f"cut-list.xlsx, {name}, row {place[0]}", "a plain sum", formula[:40])


def _pages(sheets: Mapping[str, SheetCells]) -> dict[str, list[dict[str, CellValue]]]:
    """Return the rows of each roll's sheet by heading, down to the total, by the roll's tag."""
    pages: dict[str, list[dict[str, CellValue]]] = {}
    for name, (cells, formulas) in sheets.items():
        heads = _head_row(cells)
        if not heads:
            continue
        row, columns = heads
        rows = []
        while True:
            row += 1
            values = {head: cells.get((row, column)) for column, head in columns.items()}
            if not isinstance(values.get("cut"), float) or (row, 1) in formulas:
                break
            rows.append(values)
        tag = rows[0].get("roll") if rows else name
        pages.setdefault(str(tag), rows)
    return pages


def _head_row(cells: CellGrid) -> tuple[int, dict[int, str]] | None:
    row = min((row for (row, column), value in cells.items() if column == 1 and value == "cut"), default=None)
    if row is None:
        return None
    return row, {c: str(text) for (r, c), text in cells.items() if r == row and text is not None}


def _check_sheet_row(
    row: Mapping[str, CellValue], number: int, roll: WrittenRoll, cut: WrittenCut, piece: WrittenPiece, unit: Unit,
    book: Findings,
) -> None:
    needed: dict[str, CellValue] = {
        "cut": float(number), "roll": roll.tag, "at": unit.number(cut.at), "piece": piece.tag, "kind": piece.kind,
        "run": piece.run, "face": piece.face, "length": unit.number(piece.length), "width": unit.number(piece.width),
        "marks": "; ".join(piece.marks) or None, "install": float(piece.install) if piece.install else None,
        "marks_liner": "; ".join(piece.marks_liner) or None,
    }
    for column, value in needed.items():
        found = row.get(column)
        if (found or None) != value and not (value == 0 and found == 0):
            book.note(906, f"cut-list.xlsx, roll {roll.tag}, piece {piece.tag}, {column}", repr(value), repr(found))


# --- the takeoff -------------------------------------------------------------------------------

def check_takeoff(folder: Path, plan: Written, book: Findings) -> None:
    """Hold takeoff.csv against plan.json's takeoff, line by line."""
    try:
        rows = read_csv(folder / "takeoff.csv")
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
        return
    if len(rows) != len(plan.takeoff):
        book.note(914, "takeoff.csv", f"{len(plan.takeoff)} lines", f"{len(rows)}")
        return
    for number, (row, line) in enumerate(zip(rows, plan.takeoff, strict=True), start=1):
        for key in ("item", "unit", "package", "basis"):
            if key in row and row[key] != str(line.get(key, "")):
                book.note(914, f"takeoff.csv, row {number}, {key}", str(line.get(key)), row[key])
        for key in ("net", "order", "price", "cost"):
            if key in row and not _same_figure(row[key], line.get(key)):
                book.note(914, f"takeoff.csv, row {number}, {key}", str(line.get(key)), row[key] or "nothing")
    _check_formulas(folder, "takeoff.csv", book)


def _same_figure(cell: str, value: object) -> bool:
    if value is None or cell == "":
        return value is None and cell == ""
    try:
        return Decimal(cell) == Decimal(repr(value))
    except InvalidOperation:
        return False
