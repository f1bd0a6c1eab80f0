"""The CAD set: runs and faces at full size, and sheets that plot them at a standard scale."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from layout.drawing.callouts import callouts
from layout.drawing.compose import (
    GAP, SheetItem, Put, by_run, composed, drawing_items, elevations_at, scales_by_need, sheet_shares,
)
from layout.drawing.details import Detail, fitting_details
from layout.drawing.drawn import DrawnOnce
from layout.drawing.elevations import SCALE, Faces, bounds, strip
from layout.drawing.key_plan import key_plan
from layout.drawing.legend import Sample, samples_of
from layout.drawing.model.entities import (
    PAPERS, Box, CadSet, Drawing, Entity, Model, Page, PaperSize, SubDrawing, View, moved, on_wall,
)
from layout.drawing.schedules import SHEETS, drop_schedules, general_notes, keys_apart, legend_item, sheet_list
from layout.drawing.sheets import HEAD, framed, match_lines, view_title
from layout.drawing.titles import foot, is_large, sheet_area
from layout.errors import DrawingError
from layout.records import MEMBRANE, Plan

PAPER = {"in": "ARCH D", "mm": "A1"}
SERIES = {"plan": (1, "Key plan"), "elevation": (2, "Elevations"), "detail": (5, "Details"),
          "schedule": (6, "Schedule"), "notes": (0, "Notes")}
"""Sheet type of the National CAD Standard, and its words, by what is on a sheet: the first that it has."""


def paper_named(paper: str) -> PaperSize:
    """Return a sheet of paper by its name, in capitals or not.

    Raises
    ------
    DrawingError
        When there is no such paper.
    """
    for size in PAPERS.values():
        if paper.casefold() in (size.name.casefold(), *(name.casefold() for name in size.also)):
            return size
    raise DrawingError(f"paper must be one of {', '.join(PAPERS)} (got {paper!r})")


def check_paper(paper: str) -> None:
    """Raise DrawingError unless there is such a paper; empty is the usual one."""
    if paper:
        paper_named(paper)


TRIES = 3
"""Scales at which faces are drawn to count the sheets that they really need."""


def cad_set(plan: Plan, *, paper: str = "", scale: int = 0, drawn: DrawnOnce | None = None) -> CadSet:
    """Return the CAD set of a plan.

    Parameters
    ----------
    plan
        The plan.
    paper
        Name of the sheet; empty for the usual one of the job's unit.
    scale
        Of the elevations, 48 for 1:48; 0 for the largest at which the set needs the fewest sheets.
    drawn
        What is drawn once for several files; None draws it.

    Raises
    ------
    DrawingError
        When there is no such paper.
    """
    unit = plan.job.unit
    size = paper_named(paper or PAPER[unit.name])
    area = sheet_area(size)
    drawn = drawn or DrawnOnce(plan)
    runs = by_run(drawn.faces(SCALE[unit.name]))
    shown = samples_of([face.view for row in runs for face in row])
    large = is_large(size)
    wide = area.width * 0.45 if large else area.width - GAP  # on small paper nothing is legible in half of it
    before = drawing_items("plan", [key_plan(plan, run.name, room=(wide, area.height * 0.8)) for run in plan.job.runs],
                           area)
    before.append(general_notes(plan, room=_list_wide(area)))
    if not large:
        before.append(legend_item(shown))
    made = fitting_details(plan, area.width - GAP, area.height - HEAD - GAP)
    tables = [[*detail_items(made, area), *table] for table in drop_schedules(plan, area)]
    ways = [(size_, sheets, table) for table in tables
            for size_, sheets in ([(scale, 0)] if scale else scales_by_need(plan, runs, area, [*before, *table]))]
    best: tuple[int, int, list[Drawing], list[SheetItem]] | None = None
    rows: dict[int, tuple[int, list[Drawing]]] = {}
    for each, sheets, table in sorted(ways, key=lambda way: (way[1], way[0])):
        if best and best[0] <= sheets:
            break
        if each not in rows:
            if len(rows) == TRIES:
                continue
            rows[each] = elevations_at(plan, drawn, each, area)
        real, elevations = rows[each]
        keys = keys_apart(elevations, room=_list_wide(area), high=area.height)
        found = len(_put(before, drawing_items("elevation", elevations, area), [*keys, *table], area)[0])
        if best is None or found < best[0]:
            best = found, real, elevations, [*keys, *table]
    assert best is not None
    _, scale, elevations, after = best
    models = _models(plan, scale, drawn.faces(scale), elevations, [item for item in (*before, *after) if item.window])
    pages = _pages(plan, size, area, before, drawing_items("elevation", elevations, area), after, shown, made)
    return CadSet(unit, scale, tuple(models), tuple(pages))


def detail_items(made: Sequence[Detail], area: Box) -> list[SheetItem]:
    """Return an item of each detail, numbered from 1 on, the tallest first: so they need the fewest sheets.

    Parameters
    ----------
    made
        The details.
    area
        Room on a sheet [mm].
    """
    items = [replace(item, number=number) for number, detail in enumerate(made, start=1)
             for item in drawing_items("detail", [detail.drawing], area)[:1]]
    return sorted(items, key=lambda item: -item.size[1])


def _models(plan: Plan, scale: int, faces: Faces, elevations: Sequence[Drawing],
            others: Sequence[SheetItem]) -> list[Model]:
    """Return what lies in model space, one under the other: runs developed whole, elevations, plans and details."""
    drawn = {(drop.run, drop.layer) for drop in plan.drops}
    drawings = [strip(plan, wall.run, scale=scale, layer=wall.layer, legend=False, faces=faces) for wall in plan.walls
                if wall.layer == MEMBRANE or (wall.run, wall.layer) in drawn]
    strips = len(drawings)
    drawings += elevations
    drawings += [item.window.drawing for item in others if item.window]
    models: list[Model] = []
    below = 0.0
    for number, drawing in enumerate(drawings):
        down = float(round(below - drawing.frame.top)) if models else 0.0
        along = 0.0 if number < strips else -float(round(drawing.frame.left))
        models.append(Model(drawing, (along, down)))
        below = down + drawing.frame.bottom - on_wall(20.0, plan.job.unit, scale)
    return models


def _pages(plan: Plan, size: PaperSize, area: Box, before: Sequence[SheetItem], elevations: Sequence[SheetItem],
           after: Sequence[SheetItem], shown: Sequence[Sample], made: Sequence[Detail]) -> list[Page]:
    """Return the sheets: key plan, notes and list of sheets first, elevations in rows, the rest where there is room."""
    lists, puts = _put(before, elevations, after, area)
    sheets = [[put for put in puts if put.sheet == number] for number in lists]
    numbers, titles = _named(sheets)
    used = [f"{share:.0%}" for share in sheet_shares(puts, area)]
    filled = iter(sheet_list(list(zip(numbers, titles, used)), room=_list_wide(area), high=area.height,
                             lines=len(lists)))
    sheets = [[replace(put, item=next(filled)) if put.item.title == SHEETS else put for put in own] for own in sheets]
    every, words = on_sheets(plan, sheets, numbers, [item.window.drawing for item in elevations if item.window], made)
    pages: list[Page] = []
    for at, views in enumerate(every):
        strip_foot = foot(plan, size, views, number=numbers[at], title=titles[at], at=at + 1, of=len(sheets),
                          shown=shown)
        pages.append(Page(numbers[at], titles[at], size, tuple(views), (*framed(size), *words[at], *strip_foot)))
    return pages


def face_sets(cad: CadSet) -> dict[str, CadSet]:
    """Return each face of a set as a set of its own, its lower left corner at the origin, by its name.

    Parameters
    ----------
    cad
        The set.
    """
    made: dict[str, CadSet] = {}
    for model in cad.models:
        drawing = model.drawing
        for part in drawing.entities:
            if isinstance(part, SubDrawing):
                frame = bounds(part.entities, drawing.on_wall(1.0))
                face = Drawing(part.name, part.name, cad.unit, drawing.scale, frame, part.entities)
                made[part.name] = CadSet(cad.unit, drawing.scale, (Model(face, (-part.base[0], -part.base[1])),), ())
    return made


def on_sheets(
    plan: Plan, sheets: Sequence[Sequence[Put]], names: Sequence[str], elevations: Sequence[Drawing],
    made: Sequence[Detail],
) -> tuple[list[list[View]], list[list[Entity]]]:
    """Return the views of each sheet, and what is written on it: titles, match lines, call-outs, lists.

    Parameters
    ----------
    plan
        The plan.
    sheets
        What lies on each.
    names
        What each is called.
    elevations
        The elevations, in the order of their runs.
    made
        The details by their numbers, the first being 1.
    """
    where: dict[int, tuple[str, int]] = {}
    parts: dict[int, list[str]] = defaultdict(list)
    for name, own in zip(names, sheets):
        seen = [put.item.window for put in own if put.item.window and put.item.kind != "roll"]
        for number, window in enumerate(seen, start=1):
            where[id(window)] = name, number
            parts[id(window.drawing)].append(name)
    first = {id(put.item.window.drawing): where[id(put.item.window)] for own in reversed(sheets)
             for put in reversed(own) if put.item.window and id(put.item.window) in where}
    beside = _beside(plan, elevations, first)
    calls = [(call, where[id(put.item.window)]) for own in sheets for put in own if put.item.kind == "detail"
             for call in made[put.item.number - 1].calls]
    every: list[list[View]] = []
    words: list[list[Entity]] = []
    for own in sheets:
        views: list[View] = []
        written: list[Entity] = []
        for put in own:
            item = put.item
            if item.window is None:
                written += moved(item.entities, put.at)
                continue
            drawing = item.window.drawing
            card = item.kind == "roll"
            corner = (put.at[0] + item.window.beside[0], put.at[1] + (0.0 if card else HEAD))
            views.append(View(drawing, item.window.box, corner))
            if not card:
                written += match_lines(item.window, corner, parts[id(drawing)])
                written += view_title(item.window, corner, number=where[id(item.window)][1],
                                      beside=beside.get(id(drawing), ""))
        every.append(views)
        words.append([*written, *callouts(plan, views, calls)])
    return every, words


def _beside(plan: Plan, elevations: Sequence[Drawing], where: Mapping[int, tuple[str, int]]) -> dict[int, str]:
    """Return what lies to the left and right of each elevation, with its view and its sheet."""
    closed = {run.name: run.closed for run in plan.job.runs}
    rows: dict[tuple[str, str], list[Drawing]] = defaultdict(list)
    for drawing in {id(each): each for each in elevations}.values():
        known = _ends(drawing)[0]
        rows[known["RUN"], known["LAYER"]].append(drawing)
    words: dict[int, str] = {}
    for (run, _), row in rows.items():
        for at, drawing in enumerate(row):
            said = []
            for side, step in (("left", -1), ("right", 1)):
                other = at + step
                if len(row) < 2 or not (closed[run] or 0 <= other < len(row)):
                    continue
                beside = row[other % len(row)]
                sheet, view = where[id(beside)]
                said.append(f"{side}: {_ends(beside)[0 if step > 0 else 1]['FACE']}, {view}/{sheet}")
            words[id(drawing)] = "   ".join(said)
    return words


def _ends(drawing: Drawing) -> tuple[dict[str, str], dict[str, str]]:
    """Return what is known of the first and of the last face of an elevation."""
    parts = [dict(entity.values) for entity in drawing.entities if isinstance(entity, SubDrawing)]
    return parts[0], parts[-1]


def _list_wide(area: Box) -> float:
    """Return the width of notes and of the list of sheets [mm]."""
    return min(110.0, area.width - 4.0)


def _put(before: Sequence[SheetItem], elevations: Sequence[SheetItem], after: Sequence[SheetItem],
         area: Box) -> tuple[range, list[Put]]:
    """Return the sheets, and where on them everything lies, the list of these sheets included."""
    lines = 1
    while True:
        listed = sheet_list([], room=_list_wide(area), high=area.height, lines=lines)
        items = [*before, *listed, *elevations, *after]
        puts = composed(items, area)
        needed = max(put.sheet for put in puts) + 1
        if needed <= lines:
            return range(needed), puts
        lines = needed


def _named(sheets: Sequence[Sequence[Put]]) -> tuple[list[str], list[str]]:
    """Return the number and the title of each sheet by what is on it."""
    counts: dict[int, int] = defaultdict(int)
    numbers: list[str] = []
    titles: list[str] = []
    for own in sheets:
        kinds = {put.item.kind for put in own}
        found = [SERIES[kind] for kind in SERIES if kind in kinds]
        counts[found[0][0]] += 1
        numbers.append(f"Z-{found[0][0]}{counts[found[0][0]]:02d}")
        words = [word for series, word in found if series or len(found) == 1]
        title = ", ".join(words)
        titles.append(title[0] + title[1:].lower())
    return numbers, titles
