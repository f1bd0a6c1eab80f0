"""The comparison as a table: narrow or wide on a screen, CSV, JSON; the cheapest way to do the whole job first."""

from __future__ import annotations

import csv
import io
import json
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from layout.cautions import Caution, courses_caution
from layout.compare.planning import Row, FigureValue
from layout.packet.cut_list import safe_cell
from layout.units import Unit

FORMAT = "lapwright comparison"
VERSION = 1
MONEY = ("total", "cost", "labour", "bound")
"""Columns that are amounts of money."""
SCREEN = 100
"""Columns of a screen that the narrow table keeps within, names of scenarios wrapped."""
LEAST_NAME = 14
"""The narrowest column of names."""


@dataclass(frozen=True)
class Figure:
    """One figure of the comparison: its name in files, and its heading on a screen; ``{long}`` and ``{area}`` units."""

    name: str
    heading: str


COLUMNS = (
    Figure("total", "whole takeoff"), Figure("cost", "sheet"), Figure("labour", "labour"), Figure("days", "days"),
    Figure("rolls", "rolls"), Figure("remnants", "remnants"), Figure("bound", "sheet, least"),
    Figure("proven", "proven"), Figure("drops", "drops"), Figure("courses", "courses"),
    Figure("pieces_of_sheet", "pieces of sheet"), Figure("pieces_of_reinforcing", "pieces of reinforcing"),
    Figure("seam_length", "seams, {long}"), Figure("to_cover", "wall, {area}"), Figure("lap_area", "laps, {area}"),
    Figure("cut_away", "cut away, {area}"), Figure("leftover_kept", "kept, {area}"), Figure("scrap", "scrap, {area}"),
    Figure("unpriced", "unpriced lines"), Figure("exceptions", "exceptions"),
)


def ranked(rows: Sequence[Row]) -> list[Row]:
    """Return the rows by what the whole job costs, the cheapest first; those without a price or a layout last.

    Rows whose money is not in the first row's currency keep their order behind those that are.
    """
    currency = rows[0].figures.currency if rows and rows[0].figures else ""

    def key(row: Row) -> tuple[object, ...]:
        if row.figures is None:
            return (3,)
        if row.figures.currency != currency:
            return (2,)
        if row.figures.total is None:
            return (1, row.figures.cost or Decimal(0))
        return (0, row.figures.total, row.figures.cost or Decimal(0), row.figures.exceptions)

    return sorted(rows, key=key)


def narrow_table(rows: Sequence[Row], unit: Unit, *, width: int = SCREEN) -> list[str]:
    """Return the comparison as lines of text, the cheapest first, within a screen.

    Parameters
    ----------
    rows
        The rows; ``more`` tells each one's takeoff against the first of them.
    unit
        What lengths are told in.
    width
        Columns to keep within.
    """
    long = "ft" if unit.name == "in" else "m"
    heads = ["takeoff", "more", "sheet", "labour", "days", "rolls", f"seams {long}", "proof", "exc."]
    table = [heads, *(_narrow_cells(row, rows[0]) for row in ranked(rows))]
    used = [number for number in range(len(heads)) if any(line[number] not in ("", "–") for line in table[1:])]
    widths = [max(len(line[number]) for line in table) for number in used]
    room = max(LEAST_NAME, width - sum(widths) - 2 * len(widths))
    said = ("scenario", *(row.name for row in ranked(rows)))
    names = [textwrap.wrap(" ".join(name.split()), room - 2) or [""] for name in said]
    wide = max(len(line) for name in names for line in name)
    lines: list[str] = []
    for name, line in zip(names, table, strict=True):
        figures = "".join("  " + line[number].rjust(wide_) for number, wide_ in zip(used, widths, strict=True))
        lines += [name[0].ljust(wide) + figures, *("  " + more for more in name[1:])]
        if line is heads:
            lines.append("-" * len(lines[0]))
    return lines


def _narrow_cells(row: Row, first: Row) -> list[str]:
    found = row.figures
    if found is None:
        return ["no layout", *[""] * 8]
    more = difference(row, first, "total")
    return [
        _shown(found.total, "total"), "" if more is None else _signed(more, "total"), _shown(found.cost, "cost"),
        _shown(found.labour, "labour"), _shown(found.days, "days"), _shown(found.rolls, "rolls"),
        _shown(found.seam_length, "seam_length"), _proof(row), str(found.exceptions),
    ]


def _proof(row: Row) -> str:
    """Return what is proven about the sheet's cost: that it is the least, or how far from it at most."""
    found = row.figures
    assert found is not None
    if found.proven:
        return "least"
    if found.bound is None or not found.cost:
        return "none"
    return f"within {float((found.cost - found.bound) / found.cost):.0%}"


def verdict(rows: Sequence[Row], *, rules: bool = False) -> list[str]:
    """Return in words which way is the cheapest, and what the totals leave out.

    Parameters
    ----------
    rows
        The rows, the job as it is first.
    rules
        The others are single changes of rules that were tried.
    """
    priced = [row for row in ranked(rows) if row.figures is not None and row.figures.total is not None]
    lines: list[str] = []
    if priced and rows[0] in priced:
        best = priced[0]
        saved = difference(rows[0], best, "total")
        if best is rows[0] or not saved:
            if rules and len(rows) == 1:
                lines.append("no single change of a rule might take less sheet: none was tried")
            elif rules:
                lines.append(f"of {len(rows) - 1} single changes of a rule that were tried, none makes the job cheaper")
        else:
            lines.append(f"cheapest: {best.name}, {saved:,.2f} less than {rows[0].name}")
            if best.figures and rows[0].figures and best.figures.exceptions > rows[0].figures.exceptions:
                lines.append("it breaks more rules: see the column exc.")
    counts = {row.figures.unpriced for row in priced if row.figures}
    if max(counts, default=0):
        least, most = min(counts), max(counts)
        told = f"{most}" if least == most else f"{least} to {most}"
        lines.append(f"the takeoffs leave out lines that have no price: {told}")
    return lines


def difference(row: Row, first: Row, name: str) -> int | Decimal | None:
    """Return a row's figure less that of the first row; None where either is missing or they cannot be compared."""
    if row.figures is None or first.figures is None or row is first:
        return None
    here, there = row.figures.value(name), first.figures.value(name)
    if here is None or there is None or isinstance(here, bool) or isinstance(there, bool):
        return None
    if name in MONEY and row.figures.currency != first.figures.currency:
        return None
    return here - there


def columns_for(rows: Sequence[Row]) -> tuple[Figure, ...]:
    """Return the columns worth showing: that of courses only where some way has courses."""
    return tuple(column for column in COLUMNS if column.name != "courses" or courses_in(rows))


def courses_in(rows: Sequence[Row]) -> bool:
    """Tell whether some way to do the job lays horizontal courses."""
    return any(row.figures is not None and row.figures.courses for row in rows)


def one_currency(rows: Sequence[Row]) -> str:
    """Return the currency of every amount; empty when none is named, or not the same for all."""
    named = {row.figures.currency for row in rows if row.figures is not None and row.figures.cost is not None}
    return named.pop() if len(named) == 1 else ""


def headings(unit: Unit, columns: Sequence[Figure] = COLUMNS, *, currency: str = "") -> list[str]:
    """Return the headings of the figures, with their units.

    Parameters
    ----------
    unit
        What lengths and areas are told in.
    columns
        The columns shown.
    currency
        Of every amount; left out, each amount names its own.
    """
    long = "ft" if unit.name == "in" else "m"
    return [
        column.heading.format(long=long, area=unit.area_name)
        + (f", {currency}" if currency and column.name in MONEY else "")
        for column in columns
    ]


def cells(row: Row, first: Row, columns: Sequence[Figure] = COLUMNS, *, currency: str = "") -> list[str]:
    """Return a row's figures as text, each with its difference from the first row in brackets.

    Parameters
    ----------
    row, first
        The row, and the first one.
    columns, currency
        As for ``headings``.
    """
    if row.figures is None:
        return ["–"] * len(columns)
    written: list[str] = []
    for column in columns:
        value, more = row.figures.value(column.name), difference(row, first, column.name)
        text = _shown(value, column.name)
        if column.name in MONEY and value is not None and not currency:
            text = f"{text} {row.figures.currency}".rstrip()
        written.append(text if more is None else f"{text} ({_signed(more, column.name)})")
    return written


def _shown(value: FigureValue, name: str) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:,.2f}" if name in MONEY else f"{value:,}"


def _signed(more: int | Decimal, name: str) -> str:
    if not more:
        return "="
    return f"{more:+,.2f}" if name in MONEY else f"{more:+,}"


def cautions_for(rows: Sequence[Row]) -> tuple[Caution, ...]:
    """Return what must be said beside a comparison: that courses need more hands, where there are any."""
    return (courses_caution(),) if courses_in(rows) else ()


def remarks(rows: Sequence[Row]) -> list[str]:
    """Return the lines below a comparison: what has no layout, and why; cautions."""
    return [*(f"{row.name}: no layout is possible: {row.why}" for row in rows if row.why),
            *(f"{caution.topic}: {caution.text} ({caution.rule})" for caution in cautions_for(rows))]


def comparison_csv(rows: Sequence[Row]) -> str:
    """Return the comparison as CSV: each figure with its difference from the first, and the row's rank by total.

    No text is taken for a formula.
    """
    order = {id(row): place for place, row in enumerate(ranked(rows), start=1)}
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    names = [part for column in COLUMNS for part in (
        (column.name,) if column.name == "proven" else (column.name, f"{column.name}_difference"))]
    writer.writerow(["scenario", "rank", *names, "no_layout", "currency", "caution"])
    for row in rows:
        line = [safe_cell(row.name), str(order[id(row)])]
        for column in COLUMNS:
            line.append(_plain(row.figures.value(column.name) if row.figures else None, column.name))
            if column.name != "proven":
                line.append(_plain(difference(row, rows[0], column.name), column.name))
        currency = row.figures.currency if row.figures else ""
        caution = courses_caution().text if courses_in([row]) else ""
        writer.writerow([*line, safe_cell(row.why), safe_cell(currency), safe_cell(caution)])
    return text.getvalue()


def _plain(value: FigureValue, name: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.2f}" if name in MONEY else str(value)


def comparison_json(rows: Sequence[Row], unit: Unit) -> str:
    """Return the comparison as JSON: the rows as given, each with its rank by what the whole job costs."""
    order = {id(row): place for place, row in enumerate(ranked(rows), start=1)}
    return json.dumps({
        "format": FORMAT, "version": VERSION, "unit": unit.name, "length": "ft" if unit.name == "in" else "m",
        "area": "sq ft" if unit.name == "in" else "m2",
        "scenarios": [
            {
                "name": row.name, "no_layout": row.why or None,
                "figures": {column.name: _number(row.figures.value(column.name)) for column in COLUMNS}
                if row.figures else None,
                "difference": {column.name: _number(difference(row, rows[0], column.name)) for column in COLUMNS}
                if row.figures else None,
                "rank": order[id(row)], "currency": (row.figures.currency if row.figures else "") or None,
            }
            for row in rows
        ],
        "cautions": [{"topic": each.topic, "text": each.text, "rule": each.rule} for each in cautions_for(rows)],
    }, indent=1, ensure_ascii=True) + "\n"


def _number(value: FigureValue) -> int | float | bool | None:
    return float(value) if isinstance(value, Decimal) else value
