"""How full sheets and pages are: how many a set needs, what share of each is used, what the list of sheets tells."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise

import pytest
from helpers.drawing_plans import SAMPLES, sample_plan
from layout.cautions import DEFERENCE, cautions
from layout.drawing.cad_sheets import cad_set, paper_named
from layout.drawing.listing import page_texts
from layout.drawing.model.entities import Box, Line, Page, View
from layout.drawing.packet_pages import PageWords, packet_pages, room
from layout.drawing.titles import sheet_area
from layout.packet.checks import check_rows
from shapely import STRtree, union_all
from shapely.geometry import Polygon, box

TITLE, MATCH = 9.0, 6.0
"""Under a view stands its title, and beside a match line its words [mm]."""
WHITE = 2.0
"""Between one thing and the next [mm]."""
NEAR = 5.0
"""Words and lines this near belong to one thing: a table, a list, a paragraph [mm]."""
BEGUN = 36.0
"""A list begins on a page that is begun already where this much of its foot is free [mm]."""


@lru_cache(maxsize=None)
def pages_of(name: str, paper: str) -> list[Page]:
    plan = sample_plan(name)
    told = tuple((each.topic, each.text, each.rule) for each in cautions(plan.job))
    return packet_pages(plan, PageWords(told, DEFERENCE, check_rows(plan)), paper=paper)


@lru_cache(maxsize=None)
def sheets_of(name: str, paper: str) -> list[Page]:
    return list(cad_set(sample_plan(name), paper=paper).pages)


def things(page: Page, area: Box) -> list[Polygon]:
    """Return the box of each view with its title, and of each block of words and lines beside them."""
    views = [whole(view) for view in page.views]
    loose = [box(text.box.left, text.box.bottom, text.box.right, text.box.top) for text in page_texts(page)]
    loose += [box(*each.start, *each.end) for each in page.entities if isinstance(each, Line)]
    inside = box(area.left - 0.01, area.bottom - 0.01, area.right + 0.01, area.top + 0.01)
    seen = STRtree(views)
    loose = [each for each in loose if inside.contains(each) and not len(seen.query(each, predicate="intersects"))]
    joined = union_all([each.buffer(NEAR / 2, join_style="mitre") for each in loose])
    blocks = [box(*part.bounds).buffer(-NEAR / 2, join_style="mitre")
              for part in getattr(joined, "geoms", [joined]) if not part.is_empty]
    return [*views, *blocks]


def whole(view: View) -> Polygon:
    """Return the box of a view with its title, and with the words of its match lines where it goes on elsewhere."""
    frame = view.drawing.frame
    left = MATCH if view.window.left > frame.left else 0.0
    right = MATCH if view.window.right < frame.right else 0.0
    return box(view.box.left - left, view.box.bottom - TITLE, view.box.right + right, view.box.top)


def share(page: Page, area: Box) -> float:
    """Return how much of a page is taken by the boxes of what lies on it, from 0 to 1."""
    return float(union_all(things(page, area)).area / (area.width * area.height))


def around(thing: Polygon) -> tuple[float, float]:
    """Return how wide and high a thing is with the white beside it."""
    left, bottom, right, top = thing.bounds
    return right - left + WHITE, top - bottom + WHITE


def room_for(size: tuple[float, float], taken: Sequence[Polygon], area: Box) -> bool:
    """Tell whether a box fits a page beside what lies there: tried against every edge, as a person would push it."""
    wide, high = size
    rights = [area.right, *(each.bounds[0] for each in taken)]
    lefts = [area.left, *(each.bounds[2] for each in taken)]
    tops = [area.top, *(each.bounds[1] for each in taken)]
    known = STRtree(list(taken))
    for left in (*lefts, *(right - wide for right in rights)):
        for top in tops:
            spot = box(left, top - high, left + wide, top)
            if left < area.left or left + wide > area.right or top - high < area.bottom or top > area.top:
                continue
            if not len(known.query(spot.buffer(-0.01), predicate="intersects")):
                return True
    return False


@pytest.mark.parametrize(("name", "paper", "asked"), [
    ("long-wall", "ARCH D", 5), ("long-wall", "A1", 5), ("hillside", "ARCH D", 2), ("hillside", "A1", 2),
    # on small paper a sheet holds one row: as many as there are rows
    ("long-wall", "tabloid", 14), ("hillside", "tabloid", 4),
])
def test_elevations_need_no_more_sheets_than_were_asked_for(name: str, paper: str, asked: int) -> None:
    elevations = [page for page in sheets_of(name, paper) if "elevation" in page.title.lower()]
    assert 0 < len(elevations) <= asked
    faces = {face.name for run in sample_plan(name).job.runs for face in run.faces}
    drawn = " ".join(view.drawing.title for page in elevations for view in page.views)
    assert all(face in drawn for face in faces)


@pytest.mark.parametrize("paper", ["ARCH D", "A1", "tabloid"])
@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.slow
def test_the_list_of_sheets_tells_what_share_of_each_is_used(name: str, paper: str) -> None:
    pages = sheets_of(name, paper)
    area = sheet_area(paper_named(paper))
    told = dict(rows(pages))
    assert list(told) == [page.number for page in pages]
    for page in pages:
        # a view takes its whole box in both; a block of words here ends at its longest and its last line
        assert told[page.number] - 0.12 < share(page, area) < told[page.number] + 0.02, page.number


def rows(pages: Sequence[Page]) -> Iterator[tuple[str, float]]:
    """Yield number and share of each sheet as the list of sheets tells them."""
    for page in pages:
        words = [each.text for each in page.entities if hasattr(each, "text")]
        for at, word in enumerate(words):
            if re.fullmatch(r"Z-\d+", word) and re.fullmatch(r"\d+%", words[at + 2]):
                yield word, int(words[at + 2].rstrip("%")) / 100


@pytest.mark.parametrize("paper", ["ARCH D", "A1", "tabloid", "letter", "A4"])
@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.slow
def test_no_page_is_under_half_used_where_anything_that_comes_later_has_room_on_it(name: str, paper: str) -> None:
    """The rule: a page may be under half used when it is the last, or when nothing from a later page fits it.

    A list that goes on over pages begins where the page before it ends, if there is room for a few rows. Cards of rolls
    and of patterns stand together in the order of cutting, after all other drawings; they are put on no page before.
    """
    pages, area = pages_of(name, paper), room(paper_named(paper))
    cards = {roll.tag for cutting in sample_plan(name).cuttings for roll in cutting.rolls}
    for page, after in pairwise(pages):
        used = share(page, area)
        if used >= 0.5:
            continue
        taken = things(page, area)
        if not after.views:
            foot = min(each.bounds[1] for each in taken) - area.bottom
            assert foot <= BEGUN, (page.number, page.title, round(used, 2))
        fits = [view.drawing.title for other in pages[int(page.number):] for view in other.views
                if view.drawing.name not in cards and not view.drawing.name.startswith("pattern ")
                and room_for(around(whole(view)), taken, area)]
        assert fits == [], (page.number, page.title, round(used, 2))


def test_a_box_is_found_room_for_only_where_there_is_some() -> None:
    area = Box(0, 0, 100, 100)
    taken = [box(0, 40, 60, 100), box(60, 70, 100, 100)]
    assert room_for((40, 70), taken, area) and room_for((100, 40), taken, area)
    assert not room_for((41, 41), taken, area)
