"""The phone packet as text: its policy, its drawings, its cards. What a browser makes of it is tested in browser/."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html import unescape

import pytest
import segno

from helpers.crew_plan import crew_plan, t
from helpers.sample_plans import sample_plan
from layout import drawing, packet
from layout.errors import DrawingError
from layout.packet.html import qr
from layout.packet.inline_svg import Inliner
from layout.packet.shape_card import Edges, labels_spread, shape_svg
from layout.packet.view import bound, cards, goes_to
from layout.records import Plan
from layout.units import INCH


def page(plan: Plan, svgs: dict[str, str] | None = None) -> str:
    return packet.html(plan, svgs or {})


def test_the_policy_names_the_pages_own_style_and_script() -> None:
    text = page(crew_plan())
    allowed = unescape(re.search(r'Content-Security-Policy" content="([^"]+)"', text)[1])  # type: ignore[index]
    for name, kind in (("style", "style-src"), ("script", "script-src")):
        inner = re.findall(rf"<{name}>(.*?)</{name}>", text, re.S)
        assert len(inner) == 1
        digest = base64.b64encode(hashlib.sha256(inner[0].encode()).digest()).decode()
        assert f"{kind} 'sha256-{digest}'" in allowed
    assert allowed.startswith("default-src 'none';") and "unsafe" not in allowed
    assert " style=" not in text and " onclick=" not in text and "http-equiv" in text


def test_the_page_names_nothing_outside_itself() -> None:
    text = re.sub(r"http://www\.w3\.org/2000/svg", "", page(crew_plan(), drawings(crew_plan())))
    assert not re.findall(r"https?:|//\w|url\((?!#)|@import| src=", text)


def drawings(plan: Plan) -> dict[str, str]:
    return {name: str(content) for name, content in drawing.files(plan).items() if name.endswith(".svg")}


def test_the_same_plan_gives_the_same_page() -> None:
    assert page(crew_plan(), drawings(crew_plan())) == page(crew_plan(), drawings(crew_plan()))


def test_every_face_and_piece_is_on_the_page() -> None:
    plan = sample_plan("metric")
    text = page(plan, drawings(plan))
    assert text.count('class="elevation"') >= len(plan.job.runs[0].faces)
    for piece in plan.pieces:
        assert text.count(f'id="piece-{piece.tag}"') == 1
        assert text.count(f'<li data-row="{piece.tag}">') == 2
    data = json.loads(re.search(r'id="packet-data">(.*?)</script>', text, re.S)[1])  # type: ignore[index]
    assert data["tags"] == [piece.tag for piece in plan.pieces]


def test_edges_say_which_sheet_is_over() -> None:
    """The first drop lies over the second; the upper piece over the lower."""
    first, second = cards(crew_plan())[0], cards(crew_plan())[2]
    assert [(one.edge, one.verb, one.tag, one.lap) for one in first.neighbours] == [("right", "over", "A-02", '2 1/2"')]
    assert [(one.edge, one.verb, one.tag) for one in second.neighbours] == [
        ("left", "under", "A-01"), ("right", "over", "A-03")]
    plan = crew_plan()
    drop, whole = plan.drops[3], plan.pieces[3]
    left, right = drop.left, drop.right
    upper = replace(whole, tag="A-04a", outline=((left, t("8'")), (right, t("8'")), (right, t("4'")), (left, t("4'"))))
    lower = replace(whole, tag="A-04b",
                    outline=((left, t("4'-5\"")), (right, t("4'-5\"")), (right, 0), (left, 0)))
    drops = tuple(replace(one, pieces=("A-04a", "A-04b")) if one is drop else one for one in plan.drops)
    rolls = plan.cuttings[0].rolls
    cuts = tuple(replace(cut, piece="A-04a") if cut.piece == "A-04" else
                 replace(cut, piece="A-04b") if cut.piece == "A-05" else cut for cut in rolls[1].cuts)
    split = replace(plan, drops=drops, pieces=(*plan.pieces[:3], upper, lower, plan.pieces[5]),
                    cuttings=(replace(plan.cuttings[0], rolls=(rolls[0], replace(rolls[1], cuts=cuts))),))
    by_tag = {card.tag: card for card in cards(split)}
    assert ("bottom", "over", "A-04b", '5"') in [
        (one.edge, one.verb, one.tag, one.lap) for one in by_tag["A-04a"].neighbours]
    assert ("top", "under", "A-04a") in [(one.edge, one.verb, one.tag) for one in by_tag["A-04b"].neighbours]


def test_cards_show_the_marks_of_the_side_that_lies_up() -> None:
    film, liner = cards(crew_plan())[2], cards(crew_plan(film_side_up=False))[2]
    assert film.marks == liner.marks_other == ('notch right edge 10" to 2\'-10" down, 21 1/2" deep',)
    assert liner.marks == film.marks_other == ('notch left edge 10" to 2\'-10" down, 21 1/2" deep',)
    assert "film side up" in film.shape and "liner side up" in liner.shape


def test_every_piece_has_a_sketch_and_plain_rectangles_are_known() -> None:
    assert all(card.shape for card in cards(crew_plan()))
    assert [card.tag for card in cards(crew_plan()) if card.plain] == ["A-04"]


def test_a_sketch_says_where_the_rolls_end_and_its_near_edge_are() -> None:
    """The strip lies after the first drop, 8'-9 9/16" along the remnant, and is 12 in of its 36 in wide."""
    strip = next(card for card in cards(crew_plan()) if card.tag == "A-C1")
    said = [unescape(text) for text in re.findall(r'class="lies"[^>]*>([^<]*)<', strip.shape)]
    assert said == ["↑ roll’s end 8'-9 9/16\"", '← its near edge 0"']
    whole = next(card for card in cards(crew_plan()) if card.tag == "A-02")
    assert [text for text in re.findall(r'class="lies"[^>]*>([^<]*)<', whole.shape)] == ['↑ roll’s end 0"']


def test_the_page_tells_no_money() -> None:
    plan = sample_plan("basement")
    assert plan.costing is not None
    text = unescape(page(plan)).split("<main")[1].split("<script")[0]
    assert not re.search(r"205\.00|USD|cost|price|markup|labour|labor", text)
    assert str(plan.costing.total) not in text and f"{plan.costing.total:,.2f}" not in text


def test_a_fold_picture_stands_on_its_piece_s_card_only() -> None:
    text = packet.html(crew_plan(), {}, {"A-05": SVG.format('<title>x</title><path d="M0,0L5,5"/>')})
    assert text.count('<div class="fold">') == 1
    assert '<div class="fold">' in text.split('id="piece-A-05"')[1].split("</article>")[0]


def test_a_shape_is_dimensioned_from_two_edges() -> None:
    root = ET.fromstring(shape_svg(crew_plan().pieces[1], INCH, film_side_up=True,
                                   edges=Edges("under A-01", "over <A-03>", "", "")))
    texts = [element.text for element in root.iter("text")]
    assert [element.text for element in root.iter("text") if element.get("class", "").startswith("measure")] == [
        '10"', "2'-10\"", "8'-9 9/16\"", '14 1/2"', '36"']
    assert "under A-01" in texts and "over <A-03>" in texts and "▲ top" in texts


@pytest.mark.parametrize("places", [[0, 1, 2, 3, 200], [10, 12, 300, 301, 302], [5], []])
def test_labels_keep_their_order_and_their_distance(places: list[float]) -> None:
    spread = labels_spread(places, 15)
    assert all(after - before >= 15 - 1e-9 for before, after in zip(spread, spread[1:]))
    assert not spread or spread[-1] <= max(places) + 1e-9 or len(places) == 1


def test_measures_are_kept_whole() -> None:
    said = bound('notch at 4\'-2 3/16" to 10" and 6 5/8" or 2682 mm, 9/16" A-12')
    assert said.replace("\N{NO-BREAK SPACE}", "_") == (
        'notch at 4\'-2_3/16" to 10" and 6_5/8" or 2682_mm, 9/16" A-12')


def test_a_code_holds_the_address_of_its_piece() -> None:
    side, packed = qr("A-01").split(":")
    code = segno.make("packet.html#piece-A-01", error="m", micro=False, mask=3)
    bits = "".join(f"{byte:08b}" for byte in base64.b64decode(packed))[:int(side) ** 2]
    assert [list(bits[i:i + int(side)]) for i in range(0, len(bits), int(side))] == [
        [str(int(square)) for square in row] for row in code.matrix]


def test_quotes_stay_as_they_are_between_tags_and_nowhere_else() -> None:
    """Feet and inches are read as they are; in attributes, and in what a person typed as an escape, nothing changes."""
    plan = crew_plan(face='6\'-0" &#34;bay&#34;')
    text = page(plan)
    assert '<bdi>6\'-0" &amp;#34;bay&amp;#34;</bdi>' in text and "\"hung on A 6&#39;-0&#34; &amp;#34;bay" in text
    data = re.search(r'id="packet-data">(.*?)</script>', text, re.S)
    assert data is not None and json.loads(data[1])["faces"][0][1] == '6\'-0" &#34;bay&#34;'


def test_drawn_paths_become_steps_that_end_where_the_points_are() -> None:
    """Each point is rounded for itself: a thousand steps of 0.04 and 0.03 end at 40 and 30, and a ring where it began.

    The ring begins at 0, 0; the next chain runs from 5, 5 by 6, 4 to 6, 9. Curves stay as they are, rounded.
    """
    points = "L".join(f"{0.04 * i:.2f},{0.03 * i:.2f}" for i in range(1, 1001))
    taken = Inliner([]).take("x", SVG.format(f'<path d="M0,0L{points}Z M5,5L6,4L6,9"/>')).markup
    ring, chain = re.search(r' d="m0 0([^"]*)z([^"]*)"', taken).groups()  # type: ignore[union-attr]
    at = {"h": 0.0, "v": 0.0}
    for verb, steps in re.findall(r"([lhv]?)([-0-9. ]+)", ring):
        for place, step in enumerate(re.findall(r"-?[0-9.]+", steps)):
            at["hv"[place % 2] if verb in ("", "l") else verb] += float(step)
    assert at == pytest.approx({"h": 40, "v": 30}) and chain == "m5 5 1-1v5"
    curve = Inliner([]).take("x", SVG.format('<path d="M1.26,2a3.04,3 0 0 1 1,1"/>')).markup
    assert 'd="M1.3,2a3,3 0 0 1 1,1"' in curve


SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="2in" height="1in" viewBox="0 0 192 96">{}</svg>'


def test_a_drawing_is_taken_without_what_a_page_must_not_hold() -> None:
    inliner = Inliner(["A-01", "B 2"])
    taken = inliner.take("x.svg", SVG.format(
        "<title>South</title><style>.lw-a{fill:none;stroke:#111}\n.lw-b{fill:url(http://x)}</style>"
        '<script>alert(1)</script><foreignObject><b>x</b></foreignObject>'
        '<image href="http://x"/><a href="javascript:1"><path d="M0,0"/></a>'
        '<g id="piece-A-01" onclick="alert(1)"><title>A-01: drop</title><path class="lw-a" style="fill:#123" '
        'd="M1.23456,2.0001L3.999,4"/></g><g id="piece-B_2.2"><rect width="1" height="1" fill="url(#p)"/></g>'
        '<defs><pattern id="p"/></defs><use href="#p"/><use href="http://x#p"/>'))
    assert taken.pieces == ("A-01", "B 2") and taken.title == "South"
    assert not re.search(r"script|foreign|image|onclick|style=|http|javascript", taken.markup)
    assert 'd="m1.2 2 2.8 2"' in taken.markup and 'class="lw-a lw-s1"' in taken.markup
    assert 'fill="url(#d1-p)"' in taken.markup and 'href="#d1-p"' in taken.markup and 'id="d1-p"' in taken.markup
    assert 'width="192"' in taken.markup and 'height="96"' in taken.markup
    assert inliner.css == ".lw-a{fill:none;stroke:#111}\n.lw-b{}\n.lw-s1{fill:#123}"


def test_a_rule_that_differs_between_drawings_gets_its_own_name() -> None:
    inliner = Inliner([])
    one = inliner.take("1.svg", SVG.format('<style>.k{stroke:#111}</style><path class="k" d="M0,0"/>'))
    two = inliner.take("2.svg", SVG.format('<style>.k{stroke:#222}</style><path class="k" d="M0,0"/>'))
    assert 'class="k"' in one.markup and 'class="d2-k"' in two.markup
    assert inliner.css == ".k{stroke:#111}\n.d2-k{stroke:#222}"


@pytest.mark.parametrize("text", ["<svg", "<html/>", "no"])
def test_what_is_no_svg_is_refused(text: str) -> None:
    with pytest.raises(DrawingError, match="x.svg is not SVG"):
        Inliner([]).take("x.svg", text)


def test_a_card_says_how_far_from_its_faces_left_end() -> None:
    """The third drop starts two laps of 33 1/2 in to the right of the face's left end."""
    by_tag = {card.tag: card for card in cards(crew_plan())}
    assert (by_tag["A-03"].from_left, by_tag["A-C1"].from_left) == ("5'-7\"", "")


def test_every_face_has_a_button_in_the_order_of_the_job_board_after_membrane() -> None:
    plan = sample_plan("metric")
    assert {drop.layer for drop in plan.drops} == {"membrane", "drainage"}
    svgs = {f"elevations/{name}": text for name, text in drawing.svg_elevations(plan).items()}
    said = [unescape(re.sub(r"<[^>]+>", "", text)).strip()
            for text in re.findall(r"<button[^>]*data-face=[^>]*>(.*?)</button>", page(plan, svgs), re.S)]
    names = [f"{run.name} · {face.name}" for run in plan.job.runs for face in run.faces]
    assert said == names + [f"{name}, drainage" for name in names]


def test_each_face_lists_its_pieces_in_the_order_they_go_on() -> None:
    """The number before each piece is its place over all faces: down a list they only rise."""
    plan = sample_plan("metric")
    made = packet.html(plan, {})
    lists = made.split('<article class="face-list"')[1:]
    turns = [[int(turn) for turn in re.findall(r'<span class="turn">(\d+)</span>', each)] for each in lists]
    assert len(turns) == 2 * len(plan.job.runs[0].faces)  # one of membrane, one of board
    assert all(each == sorted(each) and len(each) > 4 for each in turns)


def test_a_patch_says_which_hole_it_goes_over() -> None:
    plan = crew_plan()
    patch = replace(plan.pieces[0], tag="A-01-P1", kind="patch", drop="", install=0)
    assert goes_to(patch, plan) == "over the hole in A-01"
