"""The pages of the packet's PDF: cover, key plan, elevations, sections, roll cards, lists, checks to sign."""

from __future__ import annotations

from collections.abc import Sequence

from layout.drawing.elevations import elevation
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import PAPERS, Box, Entity, Line, Page, PaperSize, Text
from layout.drawing.model.fonts import shortened
from layout.drawing.roll_cards import cards_of
from layout.drawing.sheets import EDGE, framed, laid_out
from layout.records import Plan

FOOT = 9.0
"""Height of the strip at the foot of each page [mm]."""
PAPER = {"in": "ANSI B", "mm": "A3"}


def packet_pages(plan: Plan) -> list[Page]:
    """Return every page of the packet.

    Parameters
    ----------
    plan
        The plan.
    """
    size = PAPERS[PAPER[plan.job.unit.name]]
    area = room(size)
    made: list[tuple[str, list[object], list[Entity]]] = []
    faces = [elevation(plan, run.name, face.name, legend=False) for run in plan.job.runs for face in run.faces]
    for views, words in laid_out(faces, area):
        made.append(("Elevations", list(views), words))
    for views, words in laid_out(cards_of(plan), area, titles=False):
        made.append(("Roll cards", list(views), words))
    pages = []
    for number, (title, views, words) in enumerate(made, start=1):
        foot = page_foot(plan, size, title, number, len(made))
        pages.append(Page(str(number), title, size, tuple(views), (*framed(size), *foot, *words)))  # type: ignore
    return pages


def room(size: PaperSize) -> Box:
    """Return where a page may be drawn on [mm]."""
    return Box(EDGE + 3, EDGE + FOOT + 3, size.width - EDGE - 3, size.height - EDGE - 3)


def page_foot(plan: Plan, size: PaperSize, title: str, number: int, of: int) -> Sequence[Entity]:
    """Return the strip at the foot of a page: job, revision, what the page is, its number."""
    info = plan.job.info
    y = EDGE + FOOT / 2
    job = ", ".join(part for part in (info.name, info.number, f"revision {info.revision}" if info.revision else "",
                                      info.date) if part)
    third = (size.width - 2 * EDGE) / 3
    return [
        Line("title", (EDGE, EDGE + FOOT), (size.width - EDGE, EDGE + FOOT)),
        Text("title", (EDGE + 3, y), shortened(job, SMALL, 1.5 * third), SMALL, "left", "middle"),
        Text("title", (EDGE + 2 * third, y), title, SMALL, "centre", "middle", strong=True),
        Text("title", (size.width - EDGE - 3, y), f"page {number} of {of}", SMALL, "right", "middle"),
    ]
