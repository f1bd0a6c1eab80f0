"""The pages of the packet's PDF: cover, key plan, elevations, sections, roll cards, lists, checks to sign."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from layout.drawing.cad_sheets import detail_items, on_sheets, paper_named
from layout.drawing.compose import (
    GAP, SheetItem, by_run, composed, drawing_items, elevations_at, scales_by_need,
)
from layout.drawing.details import fitting_details
from layout.drawing.drawn import DrawnOnce
from layout.drawing.elevations import SCALE, bounds
from layout.drawing.key_plan import WIDEST, key_plan
from layout.drawing.legend import samples_of
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Box, Entity, Line, Page, PaperSize, Text, View, moved
from layout.drawing.model.fonts import shortened
from layout.drawing.patterns import pattern_cards
from layout.drawing.roll_cards import LONGEST
from layout.drawing.schedules import general_notes, hung_as, keys_apart, legend_item
from layout.drawing.sheets import EDGE, HEAD, framed
from layout.drawing.tables import BETWEEN, Column, fitted, paragraph, table_pages
from layout.errors import DrawingError
from layout.marks import marks
from layout.records import MEMBRANE, Plan
from layout.units import inches, tape

FOOT = 9.0
"""Height of the strip at the foot of each page [mm]."""
PAPER = {"in": "ANSI B", "mm": "A3"}
LARGER = {"in": "ARCH D", "mm": "A1"}
"""What is taken where nobody asked for a paper and a face with its labels does not fit the usual one."""


@dataclass(frozen=True)
class PageWords:
    """What others have to say on the packet's pages.

    Parameters
    ----------
    cautions
        Topic, text and rule of each.
    deference
        Whose word goes before this packet's.
    checks
        Rows to sign, the first the headings.
    digest
        What stands for the plan's pieces; on every page, so that pages of another plan are told from these.
    proof
        What is proven of the cost.
    """

    cautions: tuple[tuple[str, str, str], ...] = ()
    deference: str = ""
    checks: tuple[tuple[str, ...], ...] = ()
    digest: str = ""
    proof: str = ""


PageContent = tuple[str, Sequence[View], Sequence[Entity]]
"""A page before it has its number: title, views, what is drawn on the paper."""
PART = 400.0
"""A list stands in parts side by side where each has this much room [mm]."""
LEAST = 36.0
"""A list begins on a page that is begun when this much of it is free [mm]."""
TITLES = {"summary": "Summary", "plan": "Key plan", "elevation": "Elevations", "detail": "Details",
          "roll": "Roll cards", "notes": "Notes"}


def packet_pages(
    plan: Plan, words: PageWords = PageWords(), drawn: DrawnOnce | None = None, *, paper: str = "",
    scale: int = 0,
) -> list[Page]:
    """Return every page of the packet.

    Parameters
    ----------
    plan
        The plan.
    words
        Cautions and checks.
    drawn
        What is drawn once for several files; None draws it.
    paper
        Name of the paper; empty for the usual one of the job's unit, or the larger one where a face does not fit it.
    scale
        Of the elevations; 0 for the largest at which they need the fewest pages.
    """
    unit = plan.job.unit
    drawn = drawn or DrawnOnce(plan)
    if not paper:
        try:
            return packet_pages(plan, words, drawn, paper=PAPER[unit.name], scale=scale)
        except DrawingError:
            return packet_pages(plan, words, drawn, paper=LARGER[unit.name], scale=scale)
    size = paper_named(paper)
    area = room(size)
    *covers, last = cover_page(plan, words, area)
    made: list[PageContent] = [("Summary", (), page) for page in covers]
    made += drawn_pages(plan, area, drawn, last, scale=scale, first=len(made) + 1)
    lists: list[tuple[str, Callable[[float | None], list[list[Entity]]]]] = [
        ("Cut list", lambda top: cut_list(plan, area, top=top)), ("Takeoff", lambda top: takeoff(plan, area, top=top)),
        ("Checks to sign", lambda top: _checks(words, area, top=top)),
    ]
    for title, write in lists:
        free = _free(made[-1], area)
        begun = free - area.bottom > LEAST
        pages = write(free - 6.0 if begun else None)
        if begun and pages and bounds(pages[0], 1.0).bottom < area.bottom:  # its first row is too high for what is free
            begun, pages = False, write(None)
        if begun and pages:
            before, views, entities = made[-1]
            made[-1] = f"{before}, {title.lower()}", views, (*entities, *pages.pop(0))
        made += [(title, (), page) for page in pages]
    return [
        Page(str(number), title, size, tuple(views),
             (*framed(size), *page_foot(plan, size, title, number, len(made), words.digest), *entities))
        for number, (title, views, entities) in enumerate(made, start=1)
    ]


def _free(content: PageContent, area: Box) -> float:
    """Return how far down a page is used [mm]."""
    _, views, entities = content
    feet = [view.box.bottom - HEAD for view in views]
    if entities:
        feet.append(bounds(list(entities), 1.0).bottom)
    return min(feet, default=area.top)


def drawn_pages(plan: Plan, area: Box, drawn: DrawnOnce, summary: Sequence[Entity], *, scale: int,
                first: int) -> list[PageContent]:
    """Return the pages of drawings: key plan, notes, elevations, details, roll cards, from under the summary on.

    Parameters
    ----------
    plan
        The plan.
    area
        Room on a page [mm].
    drawn
        What is drawn once for several files.
    summary
        The last page of the summary, from the top of the area on.
    scale
        Of the elevations; 0 leaves the choice.
    first
        Number of the first of these pages.
    """
    runs = by_run(drawn.faces(SCALE[plan.job.unit.name]))
    wide = (max(min(area.width, WIDEST[0]), area.width * 0.45),
            min(area.height - HEAD, max(WIDEST[1], area.height * 0.4)))
    foot = bounds(summary, 1.0).bottom - GAP
    before = [SheetItem("summary", "Summary", (area.width - GAP, area.top - foot), None,
                        moved(summary, (-area.left, -foot)))]
    before += drawing_items("plan", [key_plan(plan, run.name, room=wide) for run in plan.job.runs], area)
    before += [general_notes(plan, room=min(110.0, area.width - 4.0)),
               legend_item(samples_of([face.view for row in runs for face in row]))]
    made = fitting_details(plan, area.width - GAP, area.height - HEAD - GAP)
    after = detail_items(made, area)
    scale = scale or scales_by_need(plan, runs, area, [*before, *after])[0][0]
    _, elevations = elevations_at(plan, drawn, scale, area)
    items = [*before, *drawing_items("elevation", elevations, area),
             *keys_apart(elevations, room=min(110.0, area.width - 4.0), high=area.height), *after]
    rolls = [*drawn.cards(min(area.width - 14.0, LONGEST)),
             *pattern_cards(plan, wide=area.width - GAP, high=area.height - HEAD - GAP)]
    items += [replace(item, size=(item.size[0], item.size[1] - HEAD)) for item in drawing_items("roll", rolls, area)]
    puts = composed(items, area)
    count = max(put.sheet for put in puts) + 1
    own = [[put for put in puts if put.sheet == number] for number in range(count)]
    names = [f"page {first + number}" for number in range(count)]
    views, words = on_sheets(plan, own, names, elevations, made)
    titles = [", ".join(dict.fromkeys(TITLES[put.item.kind] for put in sheet)) for sheet in own]
    return [(title[0] + title[1:].lower(), view, word) for title, view, word in zip(titles, views, words)]


def room(size: PaperSize) -> Box:
    """Return where a page may be drawn on [mm].

    Parameters
    ----------
    size
        The paper.
    """
    return Box(EDGE + 3, EDGE + FOOT + 3, size.width - EDGE - 3, size.height - EDGE - 3)


def page_foot(plan: Plan, size: PaperSize, title: str, number: int, of: int, digest: str = "") -> list[Entity]:
    """Return the strip at the foot of a page: job, revision, what the page is, its plan and number.

    Parameters
    ----------
    plan
        The plan.
    size
        The paper.
    title
        What the page is.
    number, of
        Its number, and how many there are.
    digest
        What stands for the plan's pieces, or nothing.
    """
    info = plan.job.info
    which = f"plan {digest}, page {number} of {of}" if digest else f"page {number} of {of}"
    y = EDGE + FOOT / 2
    job = ", ".join(part for part in (info.name, info.number, f"revision {info.revision}" if info.revision else "",
                                      info.date) if part)
    half = (size.width - 2 * EDGE) / 2
    return [
        Line("title", (EDGE, EDGE + FOOT), (size.width - EDGE, EDGE + FOOT)),
        Text("title", (EDGE + 3, y), shortened(job, SMALL, half), SMALL, "left", "middle"),
        Text("title", (EDGE + 1.4 * half, y), title, SMALL, "centre", "middle", strong=True),
        Text("title", (size.width - EDGE - 3, y), which, SMALL, "right", "middle"),
    ]


# --- cover -------------------------------------------------------------------------------------

def cover_page(plan: Plan, words: PageWords, area: Box) -> list[list[Entity]]:
    """Return the cover: whose job it is, what it takes, what could not be kept, and the cautions.

    Parameters
    ----------
    plan
        The plan.
    words
        Cautions.
    area
        Room on a page [mm].
    """
    info = plan.job.info
    pages: list[list[Entity]] = [[]]
    top = area.top
    for text, height in ((info.name, 7.0), (", ".join(part for part in (info.site, info.number) if part), 3.5)):
        if text:
            made, top = paragraph(text, left=area.left, top=top, room=area.width, height=height, strong=height > 5)
            pages[-1] += made
            top -= 2.0
    split = area.left + area.width * 0.5
    left = _Flow(pages, Box(area.left, area.bottom, split - 5, top - 3), area)
    for heading, lines in _summary(plan, words.proof):
        left.heading(heading)
        for line in lines:
            left.write(line)
    if words.cautions or words.deference:
        right = _Flow(pages, Box(split + 5, area.bottom, area.right, top - 3), area)
        right.heading("Cautions")
        if words.deference:
            right.write(words.deference)
        for topic, text, rule in words.cautions:
            right.write(f"{topic}. {text}" + (f" [{rule}]" if rule else ""))
    return pages


class _Flow:
    """Paragraphs down a column, going on in the same column of the next page."""

    def __init__(self, pages: list[list[Entity]], column: Box, area: Box) -> None:
        self.pages, self.column, self.area = pages, column, area
        self.page, self.y = 0, column.top

    def heading(self, text: str) -> None:
        self._put(text, 3.5, True)

    def write(self, text: str) -> None:
        self._put(text, SMALL, False)

    def _put(self, text: str, height: float, strong: bool) -> None:
        column = self.column
        made, y = paragraph(text, left=column.left, top=self.y, room=column.width, height=height, strong=strong)
        if y < column.bottom:
            self.page += 1
            if self.page == len(self.pages):
                self.pages.append([])
            made, y = paragraph(text, left=column.left, top=self.area.top, room=column.width, height=height,
                                strong=strong)
        self.pages[self.page] += made
        self.y = y - 1.6


def _summary(plan: Plan, proof: str) -> list[tuple[str, list[str]]]:
    """Return the cover's headings and what stands under each; ``proof`` says what is proven of the cost."""
    unit, info = plan.job.unit, plan.job.info
    who = [f"{name}: {value}" for name, value in (("Prepared by", info.prepared_by), ("Date", info.date),
                                                  ("Revision", info.revision)) if value]
    what = []
    for wall in plan.walls:
        drops = [drop for drop in plan.drops if (drop.run, drop.layer) == (wall.run, wall.layer)]
        if drops:
            what.append(f"Run {wall.run}, {wall.layer}: {len(wall.faces)} faces, {tape(wall.length, unit)} long, "
                        f"{len(drops)} drops" + (f", turn-down {inches(wall.turn_down, unit)}"
                                                 if wall.layer == MEMBRANE else ""))
    kinds: dict[str, int] = {}
    for piece in plan.pieces:
        kinds[piece.kind] = kinds.get(piece.kind, 0) + 1
    what.append("Pieces: " + ", ".join(f"{count} {kind}" for kind, count in kinds.items()))
    rolls = []
    for cutting in plan.cuttings:
        stocks: dict[str, int] = {}
        for roll in cutting.rolls:
            name = f"remnant {roll.stock}" if roll.remnant else roll.stock
            stocks[name] = stocks.get(name, 0) + 1
        cost = f", {_money(cutting.cost)}" if cutting.cost is not None else ""
        text = f"{cutting.product}: " + ", ".join(f"{count} of {name}" for name, count in stocks.items()) + cost
        if cutting.optimal:
            text += "; no cutting of these pieces costs less"
        elif cutting.bound is not None:
            text += f"; no cutting of these pieces costs less than {_money(cutting.bound)}"
        rolls.append(text)
    rolls += [proof] if proof else []
    broken = [f"E{number} {each.rule} in run {each.run} at {tape(each.at, unit)}: needed "
              f"{inches(each.needed, unit)}, found {inches(each.found, unit)}. {each.why}"
              + (f" Cure: {each.cure}" if each.cure else "")
              for number, each in enumerate(plan.exceptions, start=1)]
    notes = [note for wall in plan.walls for note in wall.notes if wall.layer == MEMBRANE] + list(plan.notes)
    groups = [("Job", who), ("Layout", what), ("Rolls", rolls),
              ("Savings", [str(saving["text"]) for saving in plan.savings]),
              ("Warnings", [warning.text() for warning in plan.warnings]),
              ("Exceptions", broken or ["None: every rule is kept."]), ("Notes", list(dict.fromkeys(notes)))]
    return [(heading, lines) for heading, lines in groups if lines]


def _money(amount: Decimal | None) -> str:
    return "" if amount is None else f"{amount:,.2f}"


def _exact(amount: Decimal | None) -> str:
    """Return an amount of money with every digit it has, and at least two after the point."""
    if amount is None:
        return ""
    return f"{amount:,}" if -int(amount.as_tuple().exponent) > 2 else f"{amount:,.2f}"


# --- lists -------------------------------------------------------------------------------------

def cut_list(plan: Plan, area: Box, *, top: float | None = None) -> list[list[Entity]]:
    """Return the pages of the cut list.

    Parameters
    ----------
    plan
        The plan.
    area
        Room on a page [mm].
    top
        Where it begins on its first page [mm]; the top of the area when None.
    """
    unit = plan.job.unit
    pieces = {piece.tag: piece for piece in plan.pieces}
    order = hung_as(plan)
    rows: list[tuple[str, ...]] = []
    for cutting in plan.cuttings:
        for roll in cutting.rolls:
            for cut in roll.cuts:
                piece = pieces.get(cut.piece)
                if piece is None:
                    rows.append((str(len(rows) + 1), roll.tag, tape(cut.at, unit), cut.piece, cutting.product, "", "",
                                 tape(cut.length, unit), inches(cut.width, unit), ""))
                    continue
                goes_on = order.get(piece.tag, str(piece.install)) if piece.install else "first"
                rows.append((str(len(rows) + 1), roll.tag, tape(cut.at, unit), piece.tag, piece.kind, piece.face,
                             goes_on, tape(piece.length, unit),
                             inches(piece.width, unit), "; ".join(marks(piece, unit))))
    columns = [Column("cut", 20, True), Column("roll", 30), Column("at", 35, True), Column("piece", 40),
               Column("kind", 40), Column("face", 50), Column("goes on", 25, True), Column("length", 35, True),
               Column("width", 30, True), Column("marks from the top left corner, film side up", 0)]
    return _listed("Cut list, in cutting order", columns, rows, area, top)


def takeoff(plan: Plan, area: Box, *, top: float | None = None) -> list[list[Entity]]:
    """Return the pages of the takeoff.

    Parameters
    ----------
    plan
        The plan.
    area
        Room on a page [mm].
    top
        Where it begins on its first page [mm]; the top of the area when None.
    """
    rows = [(each.item, f"{each.net:,}", f"{each.order:,}", each.unit, each.package, _exact(each.price),
             _exact(each.cost), each.basis) for each in plan.quantities]
    columns = [Column("item", 90), Column("net", 30, True), Column("order", 30, True), Column("unit", 25),
               Column("package", 45), Column("price", 30, True), Column("cost", 30, True), Column("how it is found", 0)]
    return _listed("Takeoff", columns, rows, area, top)


def _listed(title: str, columns: Sequence[Column], rows: Sequence[tuple[str, ...]], area: Box,
            top: float | None) -> list[list[Entity]]:
    """Return the pages of a list, on wide paper in parts side by side."""
    across = max(1, math.floor(area.width / PART))
    wide = (area.width + BETWEEN) / across - BETWEEN
    return table_pages(title, fitted(columns, rows, wide), rows, area, top=top, across=across) if rows else []


def _checks(words: PageWords, area: Box, *, top: float | None = None) -> list[list[Entity]]:
    """Return the pages of the checks to sign."""
    if len(words.checks) < 2:
        return []
    heading, *rows = words.checks
    widest = {0: 45.0, 1: area.width * 0.42, 2: 50.0}
    rest = area.width - sum(widest[each] for each in range(min(3, len(heading))))
    columns = [Column(text, widest.get(number, rest / max(len(heading) - 3, 1))) for number, text in enumerate(heading)]
    return table_pages("Checks to sign before the wall is buried", columns, rows, area, top=top)
