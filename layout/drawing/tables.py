"""Tables and paragraphs on pages: columns of text wrapped to their width, going on over as many pages as they need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Box, Entity, Line, Text
from layout.drawing.model.fonts import DESCENT, width, wrapped

PITCH = SMALL * (1 + DESCENT) + 0.7
"""From one line to the next [mm]."""
PAD = 1.5
"""White left and right of a cell's text [mm]."""

SHARE, BROKEN = 0.33, 30.0
"""Least share of a table for its last column, and least width of a column that is broken for it [mm]."""
BETWEEN = 8.0
"""White between two parts of a table on one page [mm]."""


@dataclass(frozen=True)
class Column:
    """A column: its heading, its width [mm], and whether its figures stand to the right."""

    heading: str
    width: float
    right: bool = False


def table_pages(
    title: str, columns: Sequence[Column], rows: Sequence[Sequence[str]], area: Box, *, size: float = 4.0,
    top: float | None = None, across: int = 1,
) -> list[list[Entity]]:
    """Return a table as the entities of as many pages as it needs, with its headings on each; parts are counted.

    Parameters
    ----------
    title
        Written above it.
    columns
        Its columns; their widths together are no more than the area's, or its part.
    rows
        Text, one item a column.
    area
        Room on each page [mm].
    size
        Height of the title [mm].
    top
        Where it begins on its first page [mm]; the top of the area when None.
    across
        How many parts of the table stand side by side on a page.
    """
    pages: list[list[Entity]] = []
    heads: list[tuple[list[Entity], int]] = []
    y, parts, left, step = area.bottom, 0, area.left, (area.width + BETWEEN) / across
    for row in rows:
        cells = [wrapped(text, SMALL, column.width - 2 * PAD) for text, column in zip(row, columns, strict=True)]
        high = max(len(lines) for lines in cells) * PITCH + 1.4
        if y - high < area.bottom or not pages:
            if parts % across == 0:
                pages.append([])
            left = area.left + parts % across * step
            parts += 1
            heads.append((pages[-1], len(pages[-1])))
            y = _head(pages[-1], title, columns, left, area.top if top is None or len(pages) > 1 else top, size)
        _row(pages[-1], cells, columns, left, y)
        y -= high
        pages[-1].append(Line("schedule", (left, y), (left + sum(each.width for each in columns), y)))
    for number, (page, at) in enumerate(heads, start=1):
        head = page[at]
        if parts > 1 and isinstance(head, Text):
            page[at] = head._replace(text=f"{title}, part {number} of {parts}")
    return pages


def _head(page: list[Entity], title: str, columns: Sequence[Column], left: float, y: float, size: float) -> float:
    """Write the title and the headings of a page, and return where its rows begin [mm]."""
    page.append(Text("schedule", (left, y - size), title, size, strong=True))
    y -= size + 4.0
    cells = [wrapped(column.heading, SMALL, column.width - 2 * PAD, strong=True) for column in columns]
    _row(page, cells, columns, left, y, strong=True)
    y -= max(len(lines) for lines in cells) * PITCH + 1.4
    page.append(Line("title", (left, y), (left + sum(each.width for each in columns), y)))
    return y


def _row(page: list[Entity], cells: Sequence[Sequence[str]], columns: Sequence[Column], left: float, top: float, *,
         strong: bool = False) -> None:
    for lines, column in zip(cells, columns, strict=True):
        for number, line in enumerate(lines):
            y = top - 0.7 - SMALL - 0.3 - number * PITCH
            at = (left + column.width - PAD, y) if column.right else (left + PAD, y)
            if line:
                page.append(Text("schedule", at, line, SMALL, "right" if column.right else "left", strong=strong))
        left += column.width


def paragraph(text: str, *, left: float, top: float, room: float, height: float = SMALL,
              strong: bool = False) -> tuple[list[Entity], float]:
    """Return a paragraph wrapped to a width, and where the next may begin [mm].

    Parameters
    ----------
    text
        What it says.
    left, top
        Its upper left corner [mm].
    room
        Widest line [mm].
    height
        Height of its capitals [mm].
    strong
        Bold.
    """
    entities: list[Entity] = []
    pitch = height * (1 + DESCENT) + 0.7
    lines = wrapped(text, height, room, strong=strong)
    for line in lines:
        entities.append(Text("note", (left, top - height), line, height, strong=strong))
        top -= pitch
    return entities, top


def fitted(columns: Sequence[Column], rows: Sequence[Sequence[str]], room: float) -> list[Column]:
    """Return columns as wide as their text, the last as wide as what is left: a third where others can be broken.

    Parameters
    ----------
    columns
        The columns; their own widths are the most they may take.
    rows
        Text, one item a column.
    room
        Width of the table [mm].
    """
    made: list[Column] = []
    for number, column in enumerate(columns[:-1]):
        text = max([width(column.heading, SMALL, strong=True), *(width(row[number], SMALL) for row in rows)])
        made.append(Column(column.heading, min(text + 2 * PAD + 0.5, column.width), column.right))
    last = columns[-1]
    while room - sum(each.width for each in made) < SHARE * room:
        widest = max(range(len(made)), key=lambda number: 0.0 if made[number].right else made[number].width)
        if made[widest].right or made[widest].width <= BROKEN:
            break
        made[widest] = replace(made[widest], width=max(made[widest].width - 5.0, BROKEN))
    return [*made, Column(last.heading, room - sum(each.width for each in made), last.right)]
