"""Every figure of a comparison as tables: one where there is room, else as many as it takes side by side."""

from __future__ import annotations

from collections.abc import Sequence

from rich import box
from rich.table import Table
from rich.text import Text

from layout.compare.planning import Row
from layout.compare.table import cells, columns_for, headings, one_currency, ranked
from layout.units import Unit

FRAME = 3
"""What a table puts around each cell [characters]."""


def wide_tables(rows: Sequence[Row], unit: Unit, *, room: int, plain: bool) -> list[Table]:
    """Return the tables that tell every figure, the cheapest scenario first.

    Parameters
    ----------
    rows
        The scenarios; differences are from the first.
    unit
        The job's unit.
    room
        Characters in a line.
    plain
        Draw with letters only, for a file.
    """
    columns, currency = columns_for(rows), one_currency(rows)
    names = headings(unit, columns, currency=currency)
    order = ranked(rows)
    written = [cells(row, rows[0], columns, currency=currency) for row in order]
    widths = [max(len(line[i]) for line in (names, *written)) + FRAME for i in range(len(names))]
    longest = max(len("scenario"), *(len(row.name) for row in rows)) + FRAME
    shares = tables_across(widths, room - min(longest, room // 3) - 1)
    made: list[Table] = []
    for first, last in shares:
        table = Table(box=box.ASCII2 if plain else box.SIMPLE)
        table.add_column("scenario", max_width=None if len(shares) == 1 else room // 3 - FRAME)
        for name in names[first:last]:
            table.add_column(name, justify="right", no_wrap=True)
        for row, line in zip(order, written):
            table.add_row(Text(row.name), *(Text(cell) for cell in line[first:last]))
        made.append(table)
    return made


def tables_across(widths: Sequence[int], room: int) -> list[tuple[int, int]]:
    """Return the first and last column of each of the fewest tables that are no wider than there is room."""
    shares: list[tuple[int, int]] = []
    first = 0
    for i in range(len(widths)):
        if i > first and sum(widths[first:i + 1]) > room:
            shares.append((first, i))
            first = i
    return [*shares, (first, len(widths))]
