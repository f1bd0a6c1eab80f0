"""Pages and sheets of every sample: nothing overlaps, everything is on the paper, long drawings go on elsewhere."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from shapely.geometry import LineString, box

from helpers.drawing_plans import SAMPLES, sample_plan
from helpers.sample_plans import SAMPLES as PLACE
from layout.cautions import DEFERENCE, cautions
from layout.drawing.cad_sheets import cad_set
from layout.drawing.details import details
from layout.drawing.elevations import elevation, strip
from layout.drawing.key_plan import key_plan, legs
from layout.drawing.listing import PlacedText, overlapping, page_texts, texts
from layout.drawing.model.entities import PAPERS, PLOTTED_MM, Box, CadSet, Insert, Line, Page, Polyline, walk
from layout.drawing.packet_pages import PageWords, packet_pages
from layout.drawing.roll_cards import cards_of, roll_cards
from layout.drawing.sheets import windows
from layout.drawing.tables import Column, fitted, table_pages
from layout.drawing.titles import foot_high, scale_bar
from layout.faces import develop
from layout.job import read_job
from layout.packet.checks import check_rows
from layout.records import Plan
from layout.units import INCH


@pytest.fixture(scope="module", params=SAMPLES)
def plan(request: pytest.FixtureRequest) -> Plan:
    return sample_plan(request.param)


@pytest.fixture(scope="module")
def pages(plan: Plan) -> list[Page]:
    told = tuple((each.topic, each.text, each.rule) for each in cautions(plan.job))
    words = PageWords(told, DEFERENCE, check_rows(plan))
    return packet_pages(plan, words)


@pytest.fixture(scope="module")
def cad(plan: Plan) -> CadSet:
    return cad_set(plan)


@pytest.fixture(scope="module")
def placed(pages: list[Page], cad: CadSet) -> list[tuple[Page, list[PlacedText]]]:
    return [(page, page_texts(page)) for page in (*pages, *cad.pages)]


def test_no_text_on_any_page_lies_on_another(placed: list[tuple[Page, list[PlacedText]]]) -> None:
    for page, found in placed:
        assert [(a.text, b.text) for a, b in overlapping(found)] == [], (page.number, page.title)


def test_no_text_on_any_page_plots_too_small(plan: Plan, placed: list[tuple[Page, list[PlacedText]]]) -> None:
    for _, found in placed:
        assert min(text.height for text in found) >= PLOTTED_MM[plan.job.unit.name]


def test_everything_lies_within_the_border(placed: list[tuple[Page, list[PlacedText]]]) -> None:
    for page, found in placed:
        border = Box(10, 10, page.size.width - 10, page.size.height - 10)
        outside = [text.text for text in found if not border.holds(text.box)]
        assert outside == [], (page.number, page.title)
        assert all(border.holds(view.box) for view in page.views)


def test_views_do_not_overlap_each_other_or_the_title_block(pages: list[Page], cad: CadSet) -> None:
    for page in (*pages, *cad.pages):
        boxes = [view.box for view in page.views]
        assert not any(a.overlaps(b) for n, a in enumerate(boxes) for b in boxes[n + 1:])
    for page in cad.pages:
        along_foot = Box(10, 10, page.size.width - 10, 10 + foot_high(page.size))
        assert not any(view.box.overlaps(along_foot) for view in page.views)


def test_every_page_has_job_revision_and_number(plan: Plan, pages: list[Page]) -> None:
    for number, page in enumerate(pages, start=1):
        said = " ".join(text.text for text in page_texts(page))
        assert f"page {number} of {len(pages)}" in said
        assert plan.job.info.name in said and (plan.job.info.revision or "") in said


def test_the_packet_has_every_part(pages: list[Page]) -> None:
    titles = [part for page in pages for part in page.title.lower().split(", ")]
    assert list(dict.fromkeys(part for part in titles if part not in ("notes", "details"))) == [
        "summary", "key plan", "elevations", "roll cards", "cut list", "takeoff", "checks to sign"]
    assert {"notes", "details"} <= set(titles)


def test_the_cover_names_every_caution_and_exception(plan: Plan, pages: list[Page]) -> None:
    said = " ".join(text.text for page in pages if page.title.startswith("Summary") for text in page_texts(page))
    assert all(f"{caution.topic}." in said for caution in cautions(plan.job))
    assert all(broken.rule in said for broken in plan.exceptions)


def test_the_cut_list_has_every_piece(plan: Plan, pages: list[Page]) -> None:
    said = [text.text for page in pages if "cut list" in page.title.lower() for text in page_texts(page)]
    assert {cut.piece for cutting in plan.cuttings for roll in cutting.rolls for cut in roll.cuts} <= set(said)


def test_a_face_too_long_for_a_page_is_parted_evenly() -> None:
    """No page holds only the words beside a wall."""
    plan = sample_plan("long-wall")
    run = plan.job.runs[0]
    for face in run.faces[:3]:
        drawing = elevation(plan, run.name, face.name, legend=False)
        across = drawing.frame.width / drawing.on_wall(1.0)
        for widest in (across * 0.97, across * 0.6, across * 0.4):
            parts = [window.paper[0] for window in windows(drawing, widest=widest)]
            assert max(parts) <= widest + 1e-6 and min(parts) > 0.5 * max(parts)


def test_no_arrow_of_a_key_plan_runs_through_its_words(plan: Plan) -> None:
    """And each run says the way the crew goes, from a low point both ways."""
    for run in plan.job.runs:
        drawing = key_plan(plan, run.name)
        one = drawing.on_wall(1.0)
        shafts = [entity for entity in drawing.entities
                  if isinstance(entity, Line) and entity.layer in ("tag", "water")]
        assert {shaft.layer for shaft in shafts} == {"tag", "water"}
        for shaft in shafts:
            line = LineString([(x / one, y / one) for x, y in (shaft.start, shaft.end)]).buffer(0.2)
            crossed = [text.text for text in texts(drawing)
                       if line.intersects(box(text.box.left, text.box.bottom, text.box.right, text.box.top))]
            assert crossed == []


def test_sheets_have_a_number_a_border_and_a_title_block(plan: Plan, cad: CadSet) -> None:
    numbers = [page.number for page in cad.pages]
    assert len(set(numbers)) == len(numbers) and {number[:3] for number in numbers} <= {"Z-1", "Z-2", "Z-5", "Z-6"}
    for at, page in enumerate(cad.pages, start=1):
        block = next(dict(each.values) for each in walk(page.entities) if isinstance(each, Insert)
                     and each.block == "TITLE-BLOCK")
        assert block["SHEET"] == page.number and block["JOB"] == plan.job.info.name
        assert block["DATE"] == plan.job.info.date and block["SCALE"] and block["OF"] == f"{at} of {len(numbers)}"


def test_every_part_of_a_run_is_on_some_sheet(cad: CadSet) -> None:
    seen = {id(view.drawing) for page in cad.pages for view in page.views}
    for model in cad.models:
        if id(model.drawing) not in seen:
            assert model.drawing.title.split(", ")[1] == "developed"  # what sheets show as elevations
            continue
        spans = sorted((view.window.left, view.window.right) for page in cad.pages for view in page.views
                       if view.drawing is model.drawing)
        assert spans[0][0] == model.drawing.frame.left and spans[-1][1] == model.drawing.frame.right
        assert all(a[1] == b[0] for a, b in zip(spans, spans[1:]))


def test_a_cut_through_a_drawing_crosses_no_text(plan: Plan) -> None:
    drawing = strip(plan, plan.job.runs[0].name, legend=False)
    one = drawing.on_wall(1.0)
    parts = windows(drawing, widest=400.0)
    assert len(parts) > 1
    assert parts[0].box.left == drawing.frame.left and parts[-1].box.right == drawing.frame.right
    for part in parts:
        assert part.paper[0] <= 400.0 + 1e-6
    spans = [(text.box.left * one, text.box.right * one) for text in texts(drawing)]
    for part in parts[:-1]:
        assert not any(left < part.box.right < right for left, right in spans)


@pytest.mark.parametrize("paper", [*PAPERS, "letter", "Tabloid"])
@pytest.mark.slow
def test_every_paper_takes_a_set(paper: str) -> None:
    name = "metric" if paper.startswith("A") and paper[1].isdigit() else "basement"
    plan = sample_plan(name)
    for page in (*cad_set(plan, paper=paper).pages, *packet_pages(plan, paper=paper)):
        assert paper.casefold() in {page.size.name.casefold(), *page.size.also, page.size.name.casefold()}
        found = page_texts(page)
        border = Box(9.99, 9.99, page.size.width - 9.99, page.size.height - 9.99)
        assert overlapping(found) == [] and min(text.height for text in found) >= PLOTTED_MM[plan.job.unit.name]
        assert all(border.holds(text.box) for text in found), (page.number, page.title)


def test_a_scale_bar_is_as_long_as_it_says() -> None:
    bars = [entity for entity in scale_bar(INCH, 48, (0.0, 0.0)) if isinstance(entity, Polyline)]
    feet = max(x for bar in bars for x, _ in bar.points) / (25.4 / 4)  # 1/4 in to the foot
    assert feet == pytest.approx(16.0)


def test_a_closed_right_angled_run_closes_on_the_key_plan() -> None:
    """Faces of the basement and the hillside house, walked around, come back to where they began."""
    for name in ("basement", "hillside"):
        walked = legs(develop(read_job(PLACE / f"{name}.yaml"))[0])
        assert math.dist(walked[0].start, walked[-1].end) < 16  # an inch, at most: the surveys' own rounding
        area = sum(leg.start[0] * leg.end[1] - leg.end[0] * leg.start[1] for leg in walked)
        assert area > 0  # counter-clockwise: the soil lies to the right of one who walks the run


def test_the_key_plan_names_faces_and_the_points_of_the_drain(plan: Plan) -> None:
    for run in plan.job.runs:
        said = [text.text for text in texts(key_plan(plan, run.name))]
        assert all(face.name in said for face in run.faces)
        wall = next(wall for wall in plan.walls if (wall.run, wall.layer) == (run.name, "membrane"))
        turns = list(zip(wall.slopes, (*wall.slopes[1:], *(wall.slopes[:1] if wall.closed else ()))))
        lows = sum(a[2] == "right" and b[2] == "left" for a, b in turns)
        assert sum(text.startswith("low point") for text in said) == lows
        assert overlapping(texts(key_plan(plan, run.name))) == []


def test_details_show_what_the_job_has(plan: Plan) -> None:
    made = details(plan)
    names = [each.drawing.name for each in made]
    sections = [name for name in names if not name.startswith("fold ")]
    assert names[0] == "footing section" and sections[-1] == "top edge" and "side lap" in names
    assert names == sections + [name for name in names if name.startswith("fold ")]
    faces = [face for run in plan.job.runs for face in run.faces]
    assert ("sleeve" in names) == any(face.sleeves for face in faces)
    assert ("opening" in names) == any(face.openings for face in faces)
    assert ("inside corner" in names) == any(face.corner == "inside" for face in faces)
    assert ("end lap" in names) == any(len(drop.pieces) > 1 for drop in plan.drops if drop.layer == "membrane")
    folded = {piece.kind for piece in plan.pieces if piece.laid and "strip" not in piece.kind}
    titles = " ".join(each.drawing.title for each in made)
    assert all(kind in titles for kind in folded)
    for each in made:
        assert overlapping(texts(each.drawing)) == [] and each.calls


def test_roll_cards_show_every_cut_where_it_is(plan: Plan) -> None:
    cards = cards_of(plan)
    rolls = [roll for cutting in plan.cuttings for roll in cutting.rolls]
    assert len(cards) == len(rolls)
    for card, roll in zip(cards, rolls, strict=True):
        pieces = {cut.piece: cut for cut in roll.cuts}
        for group in card.entities:
            if getattr(group, "tag", "") not in pieces:
                continue
            cut = pieces.pop(group.tag)  # type: ignore[union-attr]
            points = [point for entity in walk([group]) if isinstance(entity, Polyline)  # type: ignore[list-item]
                      and entity.layer in ("piece", "cutting") for point in entity.points]
            assert min(x for x, _ in points) >= cut.at and max(x for x, _ in points) <= cut.at + cut.length
            assert min(y for _, y in points) >= cut.across and max(y for _, y in points) <= cut.across + cut.width
        assert not pieces
    assert overlapping(texts(roll_cards(plan))) == []


def test_a_plan_without_rolls_says_so() -> None:
    empty = replace(sample_plan("basement"), cuttings=())
    assert [text.text for text in texts(roll_cards(empty))] == ["No piece is cut from a roll."]


def test_tables_go_on_over_pages_with_their_headings() -> None:
    columns = [Column("piece", 40), Column("what to mark", 0)]
    rows = [(f"A-{n:02d}", "notch right edge " * 12) for n in range(60)]
    area = Box(0, 0, 200, 150)
    made = table_pages("Cut list", fitted(columns, rows, area.width), rows, area)
    assert len(made) > 3
    for page in made:
        said = [entity.text for entity in page if hasattr(entity, "text")]
        assert "piece" in said and said[0].startswith("Cut list")
    assert sum(getattr(entity, "text", "").startswith("A-") for page in made for entity in page) == 60


def test_a_face_by_itself_fits_beside_its_name() -> None:
    drawing = elevation(sample_plan("metric"), "K", "Lane", legend=False)
    assert [part.of for part in windows(drawing, widest=drawing.paper[0] + 1)] == [1]
