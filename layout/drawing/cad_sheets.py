"""The CAD set: each run developed at full size, and sheets that plot it at a standard scale."""

from __future__ import annotations

from collections.abc import Sequence

from layout.drawing.elevations import scale_words, strip
from layout.drawing.key_plan import key_plan
from layout.drawing.model.blocks import TITLE_HIGH, TITLE_WIDE, SMALL
from layout.drawing.model.entities import (
    PAPERS, Box, CadSet, Entity, Insert, Line, Model, Page, PaperSize, Polyline, Text, View, on_wall,
)
from layout.drawing.model.fonts import shortened
from layout.drawing.sections import LARGE_SCALE, SCALE, sections
from layout.drawing.sheets import EDGE, framed, laid_out
from layout.errors import DrawingError
from layout.records import Plan
from layout.shapes import highest, lowest
from layout.units import Unit

PAPER = {"in": "ARCH D", "mm": "A1"}
SCALES = {"in": (24, 32, 48, 64, 96, 192), "mm": (20, 25, 50, 100, 200)}
"""Standard scales, the largest first."""
SMALLEST_WHOLE = {"in": 48, "mm": 50}
"""A face is not shrunk beyond this to fit a sheet; it goes on past a match line instead."""
AROUND = (70.0, 150.0)
"""Room for levels beside a wall and for dimension rows above and below it [plotted mm]."""


def check_paper(paper: str) -> None:
    """Raise DrawingError unless there is such a paper; empty is the usual one."""
    if paper and paper not in PAPERS:
        raise DrawingError(f"paper must be one of {', '.join(PAPERS)} (got {paper!r})")


def cad_set(plan: Plan, *, paper: str = "") -> CadSet:
    """Return the CAD set of a plan.

    Parameters
    ----------
    plan
        The plan.
    paper
        Name of the sheet: ARCH D, ANSI B, A1 or A3; empty for the usual one of the job's unit.

    Raises
    ------
    DrawingError
        When there is no such paper.
    """
    unit = plan.job.unit
    check_paper(paper)
    size = PAPERS[paper or PAPER[unit.name]]
    area = Box(EDGE + 4, EDGE + TITLE_HIGH + 4, size.width - EDGE - 4, size.height - EDGE - 4)
    scale = sheet_scale(plan, area)
    models: list[Model] = []
    below = 0.0
    for wall in plan.walls:
        if wall.layer != "membrane" and not any((d.run, d.layer) == (wall.run, wall.layer) for d in plan.drops):
            continue
        drawing = strip(plan, wall.run, scale=scale, layer=wall.layer, legend=False)
        down = 0.0 if not models else below - drawing.frame.top
        models.append(Model(drawing, (0.0, float(round(down)))))
        below = down + drawing.frame.bottom - on_wall(20.0, unit, scale)
    strips = [model.drawing for model in models]
    large = size.width > 500
    plans = [key_plan(plan, run.name, room=(area.width * 0.6, area.height * 0.8)) for run in plan.job.runs]
    details = sections(plan, scale=(LARGE_SCALE if large else SCALE)[unit.name])
    for drawing in (*plans, *details):
        down = below - drawing.frame.top
        models.append(Model(drawing, (-float(round(drawing.frame.left)), float(round(down)))))
        below = down + drawing.frame.bottom - on_wall(20.0, unit, scale)
    pages: list[Page] = []
    sheets = ((1, "Key plan", plans), (2, "Elevations", strips), (3, "Sections and details", details))
    for series, title, drawings in sheets:
        for number, (views, words) in enumerate(laid_out(drawings, area), start=1):
            name = f"Z-{series}{number:02d}"
            pages.append(Page(name, title, size, tuple(views),
                              (*framed(size), *words, *title_block(plan, size, name, title, views))))
    return CadSet(unit, scale, tuple(models), tuple(pages))


def sheet_scale(plan: Plan, area: Box) -> int:
    """Return the largest standard scale at which every face fits a sheet, or the smallest that is still legible.

    Parameters
    ----------
    plan
        The plan.
    area
        Room on a sheet [mm].
    """
    unit = plan.job.unit
    spans = [(wall, span) for wall in plan.walls for span in wall.faces]
    widest = max((span.right - span.left for _, span in spans), default=0)
    tallest = max((highest(wall.wall_top, span.left, span.right) - lowest(wall.bottom, span.left, span.right)
                   for wall, span in spans), default=0)
    last = SCALES[unit.name][-1]
    for scale in SCALES[unit.name]:
        one = on_wall(1.0, unit, scale)
        high = tallest / one + AROUND[1] <= area.height
        wide = widest / one + AROUND[0] <= area.width
        if high and (wide or scale >= SMALLEST_WHOLE[unit.name]):
            return scale
    return last


def title_block(plan: Plan, size: PaperSize, number: str, title: str, views: Sequence[View]) -> list[Entity]:
    """Return the title block, the revision rows and the scale bars of a sheet.

    Parameters
    ----------
    plan
        The plan.
    size
        The paper.
    number, title
        Of the sheet.
    views
        What is on it.
    """
    info, unit = plan.job.info, plan.job.unit
    corner = (size.width - EDGE, EDGE)
    scales = sorted({view.drawing.scale for view in views})
    words = ", ".join(scale_words(scale, unit) for scale in scales[:1]) if len(scales) < 2 else "as noted"
    fields = {"JOB": (info.name, 3.5, 136), "NUMBER": (info.number, 2.8, 46), "SITE": (info.site, 2.8, 136),
              "REVISION": (info.revision, 2.8, 46), "PREPARED_BY": (info.prepared_by, 2.8, 80),
              "DATE": (info.date, 2.8, 51), "SCALE": (words, 2.5, 46), "TITLE": (title, 3.2, 136),
              "SHEET": (number, 4.5, 46)}
    values = tuple((tag, shortened(text, height, room)) for tag, (text, height, room) in fields.items())
    entities: list[Entity] = [Insert("title", "TITLE-BLOCK", corner, values)]
    entities += revision_rows(plan, corner[0] - TITLE_WIDE)
    left = EDGE + 8
    for scale in scales:
        entities += scale_bar(unit, scale, (left, EDGE + 10))
        left += 150
    return entities


def revision_rows(plan: Plan, right: float) -> list[Entity]:
    """Return the table of revisions beside the title block: this one, and room for three more.

    Parameters
    ----------
    plan
        The plan.
    right
        Where the table ends [mm].
    """
    info = plan.job.info
    columns = ((14.0, "REV", info.revision), (28.0, "DATE", info.date if info.revision else ""),
               (78.0, "WHAT", "as planned" if info.revision else ""))
    wide, row = sum(column[0] for column in columns), TITLE_HIGH / 5
    left, bottom = right - wide, EDGE
    entities: list[Entity] = [Polyline("title", ((left, bottom + TITLE_HIGH), (right, bottom + TITLE_HIGH),
                                                 (right, bottom), (left, bottom)))]
    entities += [Line("title", (left, bottom + row * n), (right, bottom + row * n)) for n in range(1, 5)]
    x = left
    for room, caption, value in columns:
        if x > left:
            entities.append(Line("title", (x, bottom), (x, bottom + TITLE_HIGH)))
        entities.append(Text("title", (x + 2, bottom + 4.5 * row), caption, SMALL, "left", "middle"))
        if value:
            entities.append(Text("title", (x + 2, bottom + 3.5 * row), shortened(value, SMALL, room - 4), SMALL, "left",
                                 "middle"))
        x += room
    return entities


def scale_bar(unit: Unit, scale: int, at: tuple[float, float]) -> list[Entity]:
    """Return a bar to measure a plot against, whatever a copier did to it.

    Parameters
    ----------
    unit
        The job's unit.
    scale
        48 for 1:48.
    at
        Left end of the bar's foot [mm].
    """
    step = 25.4 * 12 / scale if unit.name == "in" else 1000 / scale  # one foot or one metre, plotted
    marks = [mark for mark in (0, 1, 2, 4, 8, 16, 32) if mark * step <= 110]
    x, y = at
    entities: list[Entity] = []
    for number, (start, end) in enumerate(zip(marks, marks[1:])):
        box = ((x + start * step, y + 2.0), (x + end * step, y + 2.0), (x + end * step, y), (x + start * step, y))
        entities.append(Polyline("note", box, tone="ink" if number % 2 == 0 else ""))
    name = "ft" if unit.name == "in" else "m"
    last = -100.0
    for mark in marks:
        at_x = x + mark * step
        if at_x - last < 7 and mark != marks[-1]:
            continue
        figure = f"{mark} {name}" if mark == marks[-1] else str(mark)
        entities.append(Text("note", (at_x, y + 3.2), figure, SMALL, "centre"))
        last = at_x
    entities.append(Text("note", (x, y - 4.5), f"scale {scale_words(scale, unit)}", SMALL))
    return entities
