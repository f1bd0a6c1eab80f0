"""What every sheet carries along its foot: title block, signatures, revisions, room for a stamp, legend, scale bars."""

from __future__ import annotations

from collections.abc import Sequence

from layout.drawing.elevations import scale_words
from layout.drawing.legend import Sample, samples
from layout.drawing.model.blocks import LARGE_BLOCK, SLIM_BLOCK, SMALL, SMALL_BLOCK
from layout.drawing.model.entities import (
    Box, Entity, Insert, Line, PaperSize, Polyline, Text, Vec, View,
)
from layout.drawing.model.fonts import shortened, width
from layout.drawing.sheets import EDGE
from layout.records import Plan
from layout.units import Unit

LARGE, SLIM = 500.0, 220.0
"""A sheet wider than this has the large title block; one lower than this the lowest [mm]."""
BARS = 15.0
"""From one scale bar to the next [mm]."""
STAMP = {True: 62.0, False: 34.0}
"""Width of the room for a stamp on a large and on a small sheet [mm]."""


def is_large(size: PaperSize) -> bool:
    """Tell whether a sheet has the large title block."""
    return size.width > LARGE


def is_slim(size: PaperSize) -> bool:
    """Tell whether a sheet has the lowest title block, and no room for a stamp."""
    return size.height < SLIM


def foot_high(size: PaperSize) -> float:
    """Return the height of what stands along the foot of a sheet [mm]."""
    return (LARGE_BLOCK if is_large(size) else SLIM_BLOCK if is_slim(size) else SMALL_BLOCK)[1]


def foot(plan: Plan, size: PaperSize, views: Sequence[View], *, number: str, title: str, at: int, of: int,
         shown: Sequence[Sample]) -> list[Entity]:
    """Return everything along the foot of a sheet.

    Parameters
    ----------
    plan
        The plan.
    size
        The paper.
    views
        What is on it.
    number, title
        Of the sheet.
    at, of
        Which sheet of how many.
    shown
        Samples of lines and marks for the legend of a large sheet.
    """
    large = is_large(size)
    if is_slim(size):
        return title_block(plan, size, views, number=number, title=title, at=at, of=of)
    wide, high = LARGE_BLOCK if large else SMALL_BLOCK
    right = size.width - EDGE
    entities = title_block(plan, size, views, number=number, title=title, at=at, of=of)
    left = right - wide
    entities += _framed("STAMP", left - STAMP[large], left, high)
    left -= STAMP[large]
    columns = ((14.0, 26.0, 62.0) if large else (12.0, 25.0, 0.0))
    if left - sum(columns) < EDGE:
        columns = (0.0, 0.0, 0.0)
    entities += revision_rows(plan, left, high, columns)
    left -= sum(columns)
    entities.append(Line("title", (EDGE, EDGE + high), (right, EDGE + high)))
    scales = sorted({view.drawing.scale for view in views})
    x, bars = EDGE + 4.0, Box(EDGE, EDGE, left, EDGE + high)
    if large:
        y = bars.top - 7.5
        for scale in scales[:3]:
            entities += scale_bar(plan.job.unit, scale, (x, y), room=78.0)
            y -= BARS
        x += 88.0
        entities += legend_block(shown, Box(x, bars.bottom, left - 2.0, bars.top))
    else:
        y = bars.top - 7.5
        for scale in scales[:2]:
            if bars.width > 40.0:
                entities += scale_bar(plan.job.unit, scale, (x, y), room=min(bars.width - 14.0, 70.0))
                y -= BARS
    return entities


def _framed(caption: str, left: float, right: float, high: float) -> list[Entity]:
    return [Polyline("title", ((left, EDGE + high), (right, EDGE + high), (right, EDGE), (left, EDGE))),
            Text("title", (left + 2.0, EDGE + high - 4.4), caption, SMALL)]


def title_block(
    plan: Plan, size: PaperSize, views: Sequence[View], *, number: str, title: str, at: int, of: int,
) -> list[Entity]:
    """Return the title block of a sheet.

    Parameters
    ----------
    plan
        The plan.
    size
        The paper.
    views
        What is on it, for the scales.
    number, title
        Of the sheet.
    at, of
        Which sheet of how many.
    """
    info, unit = plan.job.info, plan.job.unit
    scales = sorted({view.drawing.scale for view in views})
    words = "none" if not scales else scale_words(scales[0], unit) if len(scales) == 1 else "as noted"
    large = is_large(size)
    # value, height and room of each field
    fields = {
        "JOB": (info.name, 3.5, 136.0), "NUMBER": (info.number, 2.8, 46.0), "SITE": (info.site, 2.8, 136.0),
        "REVISION": (info.revision, 2.8, 46.0), "PREPARED_BY": (info.prepared_by, 2.8, 80.0),
        "DATE": (info.date, 2.8, 51.0), "SCALE": (words, 2.5, 46.0), "TITLE": (title, 3.2, 136.0),
        "SHEET": (number, 4.5, 27.0), "OF": (f"{at} of {of}", 2.8, 18.0), "DRAWN": (info.prepared_by, 2.8, 41.0),
        "DRAWN_DATE": (info.date, 2.5, 24.0), "CHECKED": ("", 2.8, 41.0), "CHECKED_DATE": ("", 2.5, 24.0),
        "APPROVED": ("", 2.8, 41.0), "APPROVED_DATE": ("", 2.5, 24.0),
        "SET": ("waterproofing, shop drawings", 2.5, 68.0),
    }
    if not large:
        rooms = {"JOB": 94.0, "NUMBER": 40.0, "SITE": 94.0, "REVISION": 40.0, "PREPARED_BY": 49.0, "DATE": 43.0,
                 "SCALE": 40.0, "TITLE": 94.0, "SHEET": 19.0, "OF": 20.0, "DRAWN": 28.0, "DRAWN_DATE": 20.0,
                 "CHECKED": 28.0, "CHECKED_DATE": 20.0, "APPROVED": 28.0, "APPROVED_DATE": 20.0, "SET": 51.0}
        fields["SET"] = ("shop drawings", 2.5, 51.0)
        fields = {tag: (value, 2.8 if tag == "SHEET" else 2.5, rooms[tag]) for tag, (value, _, _) in fields.items()}
    if is_slim(size):
        fields |= {"JOB": (info.name, 2.5, 66.0), "NUMBER": (info.number, 2.5, 26.0), "SITE": (info.site, 2.5, 66.0),
                   "REVISION": (info.revision, 2.5, 26.0), "TITLE": (title, 2.5, 64.0), "SHEET": (number, 2.8, 18.0)}
        fields |= {tag: (fields[tag][0], 2.5, 24.0) for tag in ("DRAWN", "CHECKED", "APPROVED")}
    if not large and width(words, SMALL) > 40.0:
        fields["SCALE"] = (f"1:{scales[0]}", 2.5, 40.0)
    values = tuple((tag, shortened(text, high, room)) for tag, (text, high, room) in fields.items())
    block = "TITLE-BLOCK" if large else "TITLE-BLOCK-SLIM" if is_slim(size) else "TITLE-BLOCK-SMALL"
    return [Insert("title", block, (size.width - EDGE, EDGE), values)]


def revision_rows(plan: Plan, right: float, high: float, columns: tuple[float, float, float]) -> list[Entity]:
    """Return the table of revisions beside the title block: the job's, the one made in the field, and room for more.

    Parameters
    ----------
    plan
        The plan.
    right, high
        Where the table ends, and its height [mm].
    columns
        Width of the revision, its date and its words; 0 for a column that is left out [mm].
    """
    info, field = plan.job.info, plan.revision
    made = [(info.revision, info.date, "as planned")] if info.revision else []
    made += [(f"R{field.number}", "", f"in the field, from plan {field.before}")] if field else []
    cells = tuple((room, caption, [row[place] for row in made])
                  for place, (room, caption) in enumerate(zip(columns, ("REV", "DATE", "WHAT"))))
    wide = sum(columns)
    if not wide:
        return []
    lines = 6 if high > 40 else 4
    row = high / lines
    left, bottom = right - wide, EDGE
    entities: list[Entity] = [Polyline("title", ((left, bottom + high), (right, bottom + high), (right, bottom),
                                                 (left, bottom)))]
    entities += [Line("title", (left, bottom + row * n), (right, bottom + row * n)) for n in range(1, lines)]
    x = left
    for room, caption, values in cells:
        if not room:
            continue
        if x > left:
            entities.append(Line("title", (x, bottom), (x, bottom + high)))
        entities.append(Text("title", (x + 1.5, bottom + (lines - 0.5) * row), caption, SMALL, "left", "middle"))
        for number, value in enumerate(values, start=1):
            if value:
                entities.append(Text("title", (x + 1.5, bottom + (lines - number - 0.5) * row),
                                     shortened(value, SMALL, room - 3), SMALL, "left", "middle"))
        x += room
    return entities


def scale_bar(unit: Unit, scale: int, at: Vec, *, room: float = 110.0) -> list[Entity]:
    """Return a bar to measure a plot against, whatever a copier did to it.

    Parameters
    ----------
    unit
        The job's unit.
    scale
        48 for 1:48.
    at
        Left end of the bar's foot [mm].
    room
        Longest bar [mm].
    """
    inch = unit.name == "in"
    foot_long = 25.4 * 12 / scale if inch else 1000 / scale  # one foot or one metre, plotted
    step, name = (foot_long, "ft" if inch else "m")
    if foot_long * 2 > room:
        step, name = (foot_long / 12, "in") if inch else (foot_long / 10, "dm")
    marks = [mark for mark in (0, 1, 2, 4, 8, 16, 32, 64) if mark * step <= room]
    x, y = at
    entities: list[Entity] = []
    for number, (start, end) in enumerate(zip(marks, marks[1:])):
        box = ((x + start * step, y + 2.0), (x + end * step, y + 2.0), (x + end * step, y), (x + start * step, y))
        entities.append(Polyline("note", box, tone="ink" if number % 2 == 0 else ""))
    last = -100.0
    for mark in marks:
        at_x = x + mark * step
        if at_x - last < 7 and mark != marks[-1]:
            continue
        if mark == marks[-1] and at_x - last < 9:
            entities.pop()
        figure = f"{mark} {name}" if mark == marks[-1] else str(mark)
        entities.append(Text("note", (at_x, y + 3.2), figure, SMALL, "centre"))
        last = at_x
    entities.append(Text("note", (x, y - 4.5), f"scale {scale_words(scale, unit)}", SMALL))
    return entities


def legend_block(shown: Sequence[Sample], room: Box) -> list[Entity]:
    """Return as many samples of lines and marks as a room holds, in columns.

    Parameters
    ----------
    shown
        The samples, the most needed first.
    room
        Where [mm].
    """
    pitch = 6.0
    entities: list[Entity] = []
    x, y, wide = room.left, room.top - 4.0, 0.0
    for sample in shown:
        if y - 2.5 < room.bottom:
            x, y, wide = x + wide + 4.0, room.top - 4.0, 0.0
        own = 12.0 + width(sample.meaning, SMALL)
        if x + own > room.right:
            break
        entities += samples([sample], (x, y), 1.0)
        wide, y = max(wide, own), y - pitch
    return entities


def sheet_area(size: PaperSize) -> Box:
    """Return where a sheet may be drawn on: above what stands along its foot [mm].

    Parameters
    ----------
    size
        The paper.
    """
    return Box(EDGE + 3, EDGE + foot_high(size) + 3, size.width - EDGE - 3, size.height - EDGE - 3)
