"""SVG: well-formed, at its plotted size, one titled group a piece, nothing in it that is not a drawing."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from svgwrite.validator2 import get_validator

from helpers.crew_plan import crew_plan
from helpers.drawing_plans import SAMPLES, sample_plan
from helpers.frozen import frozen_plan
from layout import drawing
from layout.drawing.elevations import elevation, face_elevations
from layout.drawing.model.entities import Box, Circle, Drawing, Group, Line, Polyline, Text
from layout.drawing.svg import svg_text
from layout.drawing.svg_markup import svg_markup
from layout.errors import DrawingError
from layout.names import elevation_files
from layout.packet.inline_svg import Inliner
from layout.records import Plan
from layout.units import INCH, MM

SVG = "{http://www.w3.org/2000/svg}"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
RSVG = shutil.which("rsvg-convert")


def parsed(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text.encode("utf-8"))


def plain(entities: tuple[object, ...], *, metric: bool = False) -> Drawing:
    """Return a drawing of 100 by 50 at 1:1."""
    unit = MM if metric else INCH
    return Drawing("plain", "plain", unit, 1, Box(0, 0, 100, 50), entities)  # type: ignore[arg-type]


@pytest.fixture(scope="module", params=SAMPLES)
def plan(request: pytest.FixtureRequest) -> Plan:
    return sample_plan(request.param)


@pytest.fixture(scope="module")
def made(plan: Plan) -> dict[str, str]:
    return drawing.svg_elevations(plan)


def test_every_face_has_a_file_whose_name_the_packet_knows(plan: Plan, made: dict[str, str]) -> None:
    wanted = {name.removeprefix("elevations/") for name in elevation_files(plan.job).values()}
    assert wanted <= set(made)
    assert all(re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*\.svg", name) for name in made)


def test_faces_of_one_name_and_names_that_are_paths_get_files_of_their_own() -> None:
    plan = crew_plan(run="../etc", face="passwd")
    run = plan.job.runs[0]
    names = list(drawing.svg_elevations(plan))
    assert len(set(names)) == len(run.faces) and all("/" not in name and ".." not in name for name in names)
    assert [f"elevations/{name}" for name in names] == list(elevation_files(plan.job).values())


def test_every_drawing_is_well_formed_and_sized(plan: Plan, made: dict[str, str]) -> None:
    suffix = {"in": "in", "mm": "mm"}[plan.job.unit.name]
    per = {"in": 96.0, "mm": 1.0}[plan.job.unit.name]
    for text in (*made.values(), drawing.rolls_svg(plan)):
        root = parsed(text)
        assert root.tag == f"{SVG}svg" and root.find(f"{SVG}title") is not None
        assert root.get("width", "").endswith(suffix) and root.get("height", "").endswith(suffix)
        left, top, wide, high = map(float, root.get("viewBox", "").split())
        assert (left, top) == (0, 0)
        assert float(root.get("width", "").removesuffix(suffix)) * per == pytest.approx(wide, abs=0.05)
        assert float(root.get("height", "").removesuffix(suffix)) * per == pytest.approx(high, abs=0.05)


def test_every_element_and_attribute_is_one_that_svg_has(plan: Plan, made: dict[str, str]) -> None:
    """Held against the tables of SVG 1.1 that svgwrite has; ``role`` came with SVG 2."""
    validator = get_validator("full")
    for text in (next(iter(made.values())), drawing.rolls_svg(plan)):
        for element in parsed(text).iter():
            name = element.tag.removeprefix(SVG)
            values = {key: value for key, value in element.items() if key != "role"}
            validator.check_all_svg_attribute_values(name, values)
            for child in element:
                validator.check_valid_children(name, child.tag.removeprefix(SVG))


@pytest.mark.parametrize("wrong", ['<rect hight="3" />', '<circle r="wide" />', "<rect><g /></rect>"])
def test_the_tables_of_svg_refuse_what_it_has_not(wrong: str) -> None:
    element = ElementTree.fromstring(wrong)
    validator = get_validator("full")
    with pytest.raises((ValueError, TypeError)):
        validator.check_all_svg_attribute_values(element.tag, dict(element.items()))
        for child in element:
            validator.check_valid_children(element.tag, child.tag)


def test_every_piece_is_one_group_with_a_title(plan: Plan, made: dict[str, str]) -> None:
    seen: set[str] = set()
    for text in made.values():
        ids = [group.get("id") for group in parsed(text).iter(f"{SVG}g") if group.get("id")]
        assert len(set(ids)) == len(ids)
        for group in parsed(text).iter(f"{SVG}g"):
            if (name := group.get("id") or "").startswith("piece-"):
                title = group.find(f"{SVG}title")
                tag = re.sub(r"\.\d+$", "", name.removeprefix("piece-"))  # a second part, or labels drawn last
                assert title is not None and (title.text or "").startswith(tag + ": ")
                seen.add(tag)
    assert seen == {piece.tag for piece in plan.pieces if piece.flat}


def test_a_wall_is_as_long_as_its_scale_says(plan: Plan) -> None:
    """1:48 counts 2 px an inch; 1:50 counts 0.02 mm a millimetre."""
    run = plan.job.runs[0]
    face = run.faces[0]
    root = parsed(svg_text(elevation(plan, run.name, face.name)))
    walls = [path.get("d", "") for path in root.iter(f"{SVG}path") if path.get("class") == "lw-wall"]
    xs = [float(x) for path in walls for x in re.findall(r"[ML]([-\d.]+),", path)]
    plotted = face.length / 16 * 2 if plan.job.unit.name == "in" else face.length / 50
    assert max(xs) - min(xs) == pytest.approx(plotted, abs=0.002)


def test_names_with_markup_stay_text() -> None:
    evil = '<script>alert(1)</script>&"\''
    plan = crew_plan(name=evil, face=evil, sleeve="<P>", window="W&1")
    for text in (*drawing.svg_elevations(plan).values(), drawing.rolls_svg(plan)):
        root = parsed(text)
        assert {element.tag for element in root.iter()} <= {
            SVG + name for name in ("svg", "title", "desc", "defs", "style", "rect", "g", "path", "circle", "text")}
        assert "<script" not in text
    made = drawing.svg_elevations(plan).values()
    said = [text.text or "" for each in made for text in parsed(each).iter(f"{SVG}text")]
    assert evil in said and any("<P>" in text for text in said)


def test_markup_for_a_page_is_what_the_document_comes_to_there(plan: Plan) -> None:
    """Two ways to one text: the page's markup written at once, and the document read again and made fit for a page."""
    tags = [piece.tag for piece in plan.pieces]
    for face in face_elevations(plan).values():
        inliner = Inliner(tags)
        taken = inliner.take("face", svg_text(face.bare))
        made = svg_markup(face.bare, tags)
        assert (made.text, made.css) == (taken.markup, inliner.css)
        assert "data-piece=" in made.text and not re.search(r"\s(id|style)=", made.text)


@pytest.mark.parametrize("metric", [False, True])
def test_markup_keeps_what_is_drawn_and_what_is_said_as_text(metric: bool) -> None:
    evil = '<script>alert(1)</script>&"\' \n\t'
    tags = ["A 1", evil]
    made = replace(plain((
        Line("wall", (0.01, -0.01), (16, 16)), Polyline("wall", ((3, 3), (5, 9), (5.004, 9.001))),
        Polyline("opening", ((0, 0), (10.03, 0), (10, 10)), tone="paper"), Circle("sleeve", (20.1, 20.2), 8.0),
        Circle("sleeve", (0, 50), 0.04, tone="paper"), Group("A 1", "", ()), Group("A 1", "twice", ()),
        Group(evil, evil, (Text("text", (5, 5), evil, 2.5, masked=True),)), Group("not one of them", "t", ()),
        Text("text", (0, 50), "turned", 2.5, "right", "top", turned=True), Text("text", (5, 5), "", 2.5),
        Text("text", (5, 5), "bold", 2.5, "centre", "middle", strong=True)), metric=metric), title=evil, told=evil)
    inliner = Inliner(tags)
    taken = inliner.take("plain", svg_text(made).replace("\t", "&#09;"))
    markup = svg_markup(made, tags)
    assert (markup.text, markup.css) == (taken.markup, inliner.css)


def test_every_kind_of_line_and_text_arrives() -> None:
    made = parsed(svg_text(plain((
        Line("wall", (0, 0), (16, 16)), Polyline("edge", ((0, 0), (10, 0), (10, 10)), closed=False),
        Polyline("opening", ((0, 0), (10, 0), (10, 10)), tone="paper"), Circle("sleeve", (20, 20), 8.0, tone="paper"),
        Text("text", (5, 5), "level", 2.5), Text("text", (5, 5), "turned", 2.5, turned=True)))))
    paths = [path.get("d") for path in made.iter(f"{SVG}path")]
    assert paths == ["M0,300L96,204", "M0,300L60,300L60,240", "M0,300L60,300L60,240Z"]
    circle = next(made.iter(f"{SVG}circle"))
    assert (circle.get("cx"), circle.get("cy"), circle.get("r")) == ("120.0", "180.0", "48.0")
    texts = {text.text: text.get("transform") for text in made.iter(f"{SVG}text")}
    assert texts["level"] is None and str(texts["turned"]).startswith("rotate(-90 ")


def test_a_metric_drawing_counts_millimetres() -> None:
    made = parsed(svg_text(plain((Line("wall", (0, 0), (100, 50)),), metric=True)))
    assert (made.get("width"), made.get("height"), made.get("viewBox")) == ("100mm", "50mm", "0 0 100 50")
    assert next(made.iter(f"{SVG}path")).get("d") == "M0,50L100,0"


def test_what_cannot_be_drawn_is_an_error() -> None:
    with pytest.raises(DrawingError, match="cannot draw a float"):
        svg_text(plain((3.5,)))
    with pytest.raises(DrawingError, match="no layer is named for 'scribble'"):
        svg_text(plain((Line("scribble", (0, 0), (1, 1)),)))


def test_the_same_plan_gives_the_same_text() -> None:
    plan = sample_plan("basement")
    assert drawing.svg_elevations(plan) == drawing.svg_elevations(plan)
    assert drawing.rolls_svg(plan) == drawing.rolls_svg(plan)


def test_the_board_has_drawings_of_its_own() -> None:
    made = drawing.svg_elevations(sample_plan("metric"))
    assert {"k-lane.svg", "k-lane-drainage.svg"} <= set(made)
    assert "piece-K-B-" in made["k-lane-drainage.svg"] and "piece-K-B-" not in made["k-lane.svg"]


def test_texts_are_as_long_as_they_were_measured() -> None:
    """A reader without the face fits the text into the measured length, so that nothing can run into its neighbour."""
    made = parsed(svg_text(replace(plain((Text("text", (0, 0), "8'-9 9/16\"", 2.5),)))))
    assert next(made.iter(f"{SVG}text")).get("textLength") is not None


@pytest.mark.browser
@pytest.mark.skipif(not (CHROMIUM and RSVG), reason="needs chromium and rsvg-convert")
def test_browser_and_rsvg_draw_the_same(tmp_path: Path) -> None:
    """Both paint the same pixels dark, but for the edges of letters and lines."""
    from PIL import Image, ImageChops, ImageFilter

    text = drawing.svg_elevations(frozen_plan("nook"))["a-east.svg"]
    source = tmp_path / "face.svg"
    source.write_text(text, encoding="utf-8")
    wide, high = (round(float(each)) for each in parsed(text).get("viewBox", "").split()[2:])
    subprocess.run([str(RSVG), "-w", str(wide), "-h", str(high), source, "-o", tmp_path / "rsvg.png"], check=True)
    subprocess.run([str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
                    f"--window-size={wide},{high}", f"--screenshot={tmp_path / 'chromium.png'}", source.as_uri()],
                   check=True, capture_output=True, timeout=120)
    pictures = [Image.open(tmp_path / name).convert("L").crop((0, 0, wide, high)).filter(ImageFilter.GaussianBlur(2))
                for name in ("rsvg.png", "chromium.png")]
    histogram = ImageChops.difference(*pictures).histogram()
    assert sum(histogram[48:]) / sum(histogram) < 0.002
