"""What is read on a sheet and not measured: drop schedule, general notes, legend, list of sheets."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

from layout.drawing.compose import GAP, LARGE, SheetItem
from layout.drawing.facenotes import rolls_of
from layout.drawing.legend import Sample, samples
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Box, Drawing, Entity, Text, moved
from layout.drawing.model.fonts import shortened, width
from layout.drawing.sheets import TITLE
from layout.drawing.tables import PITCH, Column, fitted, paragraph, table_pages
from layout.marks import marks
from layout.records import Plan
from layout.units import inches, tape

SHEETS, USED = "Sheets", "share used"
"""Heading of the list of sheets, and of the share of each that is used."""
HEADING = 8.0
"""Height of a heading over a block of text [mm]."""
MANY = 300
"""A schedule of so many rows fills sheets of its own, in the form that fills the fewest."""
NARROW, WIDE = 62.0, 120.0
"""Widest column of marks in the drop schedule [mm]."""
LEAST, MARKS = 46.0, 36.0
"""Narrowest column of marks under its whole heading, and narrowest of all [mm]."""
BESIDE = GAP + 2.0
"""White beside a column of the schedule [mm]."""


def drop_schedules(plan: Plan, area: Box) -> list[list[SheetItem]]:
    """Return the drop schedule in several forms: in fewer, taller or in more, lower columns, wide or narrow.

    It tells what is cut for each drop and how it lies to its neighbours. Each column is an item of its own.

    Parameters
    ----------
    plan
        The plan.
    area
        Room on a sheet [mm].
    """
    rows = schedule_rows(plan)
    if not rows:
        return [[]]
    columns = [Column("drop", 40), Column("roll", 30), Column("length", 40, True), Column("width", 40, True),
               Column("order", 20, True), Column("over", 60), Column("under", 60)]
    columns = fitted([*columns, Column("", 0)], [(*row[:-1], "") for row in rows], 1e6)[:-1]
    widest = max(max(width(row[-1], SMALL) for row in rows) + 4, LEAST)
    taken = sum(column.width for column in columns) + BESIDE
    if area.width > LARGE and len(rows) < MANY:
        forms = [(1, NARROW), (1, WIDE), (2, NARROW), (2, WIDE), (3, WIDE)]
    else:  # as wide as a sheet, as half of it, as a third …
        forms = [(1, room) for room in (NARROW, *(area.width / across - taken for across in range(1, 6)))
                 if MARKS <= room <= area.width - taken] or [(1, max(area.width - taken, MARKS / 2))]
    made = [_schedule(rows, [*columns, Column("marks from the top left" if min(widest, room) >= LEAST else "marks",
                                              min(widest, room))], area.height / parts) for parts, room in forms]
    return made if len(rows) < MANY else [min(made, key=lambda items: _sheets(items, area))]


def _sheets(items: Sequence[SheetItem], area: Box) -> int:
    """Return how many sheets columns of a schedule fill by themselves."""
    return math.ceil(len(items) / max(area.width // (items[0].size[0] + GAP), 1))


def _schedule(rows: Sequence[tuple[str, ...]], columns: Sequence[Column], high: float) -> list[SheetItem]:
    """Return the columns of the drop schedule in one form, each no higher than ``high`` [mm]."""
    across = sum(column.width for column in columns)
    pages = table_pages("Drop schedule", columns, rows, Box(0.0, 0.0, across, high - 4.0), size=TITLE)
    items: list[SheetItem] = []
    for page in pages:
        foot = min(_lowest(entity) for entity in page)
        entities = moved(page, (0.0, -foot))
        items.append(SheetItem("schedule", "Drop schedule", (across + 2.0, high - 4.0 - foot), None, entities))
    return items


def _lowest(entity: Entity) -> float:
    if isinstance(entity, Text):
        return entity.at[1] - 1.0
    return min(point[1] for point in (entity.start, entity.end))  # type: ignore[union-attr]


def schedule_rows(plan: Plan) -> list[tuple[str, ...]]:
    """Return a row for each piece of each drop: tag, roll, length, width, order, laps over and under, marks.

    Parameters
    ----------
    plan
        The plan.
    """
    unit, rolls, order = plan.job.unit, rolls_of(plan), hung_as(plan)
    pieces = {piece.tag: piece for piece in plan.pieces}
    over: dict[str, list[str]] = defaultdict(list)
    under: dict[str, list[str]] = defaultdict(list)
    for seam in plan.seams:
        below = seam.right if seam.over == seam.left else seam.left
        over[seam.over].append(below)
        under[below].append(seam.over)
    rows: list[tuple[str, ...]] = []
    for drop in plan.drops:
        for number, tag in enumerate(drop.pieces):
            piece = pieces[tag]
            lies_over = [*over[drop.tag], *drop.pieces[number + 1:number + 2]]
            lies_under = [*under[drop.tag], *drop.pieces[max(number - 1, 0):number]]
            rows.append((tag, rolls.get(tag, ""), tape(piece.length, unit), inches(piece.width, unit),
                         order[tag], ", ".join(lies_over), ", ".join(lies_under),
                         "; ".join(marks(piece, unit))))
    return rows


def hung_as(plan: Plan) -> dict[str, str]:
    """Return the number in the order of hanging of each piece of a drop: 7, or 7.1 and 7.2 from the lowest piece up.

    Parameters
    ----------
    plan
        The plan.
    """
    return {tag: f"{drop.install}.{len(drop.pieces) - number}" if len(drop.pieces) > 1 else str(drop.install)
            for drop in plan.drops for number, tag in enumerate(drop.pieces)}


def general_notes(plan: Plan, *, room: float) -> SheetItem:
    """Return the general notes of a set.

    Parameters
    ----------
    plan
        The plan.
    room
        Width of a line [mm].
    """
    unit, rules = plan.job.unit, plan.job.rules
    inch = unit.name == "in"
    lines = [
        "Elevations are seen from the soil side. Below the wall/footing joint the toe is drawn unfolded.",
        f"Lengths are in {'feet and inches' if inch else 'millimetres'}. Stations are measured from the left end of "
        "each face, levels from the job's zero.",
        f"Side laps at least {inches(rules.side_lap, unit)}, end laps at least {inches(rules.end_lap, unit)}, the "
        "upper piece over the lower. At each side lap a mark points from the drop on top to the one beneath.",
        "Corner strips, base strips and collars go on before the drops; drops go on in the order of the numbers in "
        "circles, of a drop the lower piece first: 7.1, then 7.2.",
        "Marks in the drop schedule are measured from the top left corner of the piece, film side "
        f"{'up' if plan.job.film_side_up else 'down'}.",
        "Local code, the sheet maker's instructions, the engineer and the site's competent person go before these "
        "drawings.",
    ]
    entities: list[Entity] = [Text("note", (0.0, -TITLE - 1.0), "General notes", TITLE, strong=True)]
    top = -HEADING
    for number, line in enumerate(lines, start=1):
        entities.append(Text("note", (0.0, top - SMALL), f"{number}.", SMALL))
        made, top = paragraph(line, left=5.0, top=top, room=room - 5.0)
        entities += made
        top -= 1.2
    return SheetItem("notes", "General notes", (room + 3.0, -top + 2.0), None, moved(entities, (0.0, -top + 2.0)))


def keys_apart(drawings: Sequence[Drawing], *, room: float) -> list[SheetItem]:
    """Return the keys of drawings that have no room for them, each to be put near its drawing.

    Parameters
    ----------
    drawings
        The drawings.
    room
        Width of a key [mm].
    """
    items: list[SheetItem] = []
    for drawing in drawings:
        if drawing.key:
            heading = f"Key to {drawing.title}"
            entities: list[Entity] = [Text("note", (0.0, -TITLE - 1.0), shortened(heading, TITLE, room, strong=True),
                                           TITLE, strong=True)]
            top = -HEADING
            for line in drawing.key:
                made, top = paragraph(line, left=0.0, top=top, room=room)
                entities += made
            drawn = moved(entities, (0.0, -top + 2.0))
            items.append(SheetItem("notes", heading, (room + 2.0, -top + 2.0), None, drawn))
    return items


def legend_item(shown: Sequence[Sample]) -> SheetItem:
    """Return a legend to be put on a sheet.

    Parameters
    ----------
    shown
        Samples of lines and marks.
    """
    entities: list[Entity] = [Text("note", (0.0, -TITLE - 1.0), "Legend", TITLE, strong=True),
                              *samples(shown, (0.0, -HEADING - 2.0), 1.0)]
    high = HEADING + 6.0 * len(shown) + 2.0
    wide = 14.0 + max(width(sample.meaning, SMALL) for sample in shown)
    return SheetItem("notes", "Legend", (wide, high), None, moved(entities, (0.0, high)))


def sheet_list(rows: Sequence[tuple[str, str, str]], *, room: float, high: float, lines: int) -> list[SheetItem]:
    """Return the list of the sheets of a set, in as many columns as it needs.

    Parameters
    ----------
    rows
        Number and title of each sheet, and what share of it is used.
    room, high
        Width of a line, and room up [mm].
    lines
        How many sheets there is room for.
    """
    most = int((high - HEADING - 4.0) / PITCH)
    items: list[SheetItem] = []
    for start in range(0, lines, most):
        count = min(most, lines - start)
        own = rows[start:start + count]
        entities: list[Entity] = [Text("note", (0.0, -TITLE - 1.0), SHEETS, TITLE, strong=True)]
        across = max([width(number, SMALL) for number, _, _ in own], default=0.0) + 4.0
        last = width(USED, SMALL) + 3.0
        entities.append(Text("note", (room, -TITLE - 1.0), USED, SMALL, "right"))
        top = -HEADING
        for number, title, used in own:
            entities.append(Text("note", (0.0, top - SMALL), number, SMALL))
            entities.append(Text("note", (across, top - SMALL), shortened(title, SMALL, room - across - last), SMALL))
            entities.append(Text("note", (room, top - SMALL), used, SMALL, "right"))
            top -= PITCH
        tall = HEADING + PITCH * count + 2.0
        items.append(SheetItem("notes", SHEETS, (room + 2.0, tall), None, moved(entities, (0.0, tall))))
    return items
