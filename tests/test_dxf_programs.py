"""DXF for other programs: releases, flat files, blocks, attributes; what unrelated readers find in them."""

from __future__ import annotations

import csv
import io
import math
import os
import re
import shutil
import subprocess
import zlib
from collections import Counter
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from ezdxf.document import Drawing as Document

from helpers.drawing_plans import SMALL_FIRST, drawn_plan, sample_plan
from helpers.frozen import frozen_plan
from layout import drawing
from layout.drawing.cad_sheets import cad_set
from layout.drawing.dxf import VERSIONS, write_dxf
from layout.drawing.model.blanks import unmasked
from layout.drawing.model.entities import (
    Box, CadSet, Dimension, Drawing, Entity, Group, Hatch, Insert, Line, Model, Polyline, SubDrawing, Text, moved, walk,
)
from layout.drawing.model.layers import LAYERS, read_layers
from layout.drawing.model.plain import box_of_text, dimension_parts, hatch_lines, insert_parts, plain
from layout.drawing.options import DrawingOptions, read_scale
from layout.errors import DrawingError
from layout.packet import cut_list_csv
from layout.records import Plan
from layout.reference import OF_LAYERS
from layout.units import UNITS

OGRINFO, LIBRECAD = shutil.which("ogrinfo"), shutil.which("librecad")
TAGGED = ("TAG", "TAG-UP", "MARK", "MARK-UP")


@pytest.fixture(scope="module", params=SMALL_FIRST)
def plan(request: pytest.FixtureRequest) -> Plan:
    return drawn_plan(request.param)


@pytest.fixture(scope="module")
def cad(plan: Plan) -> CadSet:
    return cad_set(plan)


@pytest.fixture(scope="module")
def doc(cad: CadSet, tmp_path_factory: pytest.TempPathFactory) -> Document:
    return written(cad, tmp_path_factory.mktemp("dxf") / "x.dxf")


def written(cad: CadSet, path: Path, **how: Any) -> Document:
    write_dxf(cad, path, **how)
    doc = ezdxf.readfile(path)  # type: ignore[attr-defined]
    audit = doc.audit()
    assert [each.message for each in (*audit.errors, *audit.fixes)] == []
    return doc  # type: ignore[no-any-return]


def outlines(doc: Document) -> Counter[str]:
    return Counter(tag.value for line in doc.modelspace().query("LWPOLYLINE POLYLINE") if line.has_xdata("LAPWRIGHT")
                   for tag in line.get_xdata("LAPWRIGHT") if tag.code == 1000)


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("flat", [False, True])
@pytest.mark.slow
def test_every_release_holds_every_piece_once(version: str, flat: bool, tmp_path: Path) -> None:
    plan = sample_plan("metric")
    doc = written(cad_set(plan), tmp_path / "x.dxf", version=version, flat=flat)
    assert doc.acad_release == version
    assert outlines(doc) == Counter(piece.tag for piece in plan.pieces if piece.flat)
    texts = {text.dxf.text for text in doc.modelspace().query("TEXT")}
    if flat or version == "R12":
        assert not doc.modelspace().query("INSERT DIMENSION HATCH WIPEOUT")
        assert {piece.tag for piece in plan.pieces if piece.flat} <= texts
    else:
        assert doc.modelspace().query("DIMENSION") and doc.modelspace().query("HATCH")


def test_extents_view_and_layers_are_set(doc: Document) -> None:
    low, high = doc.header["$EXTMIN"], doc.header["$EXTMAX"]
    assert all(abs(each) < 1e6 for each in (*low, *high)) and high[0] > low[0] and high[1] > low[1]
    for line in doc.modelspace().query("LWPOLYLINE LINE"):
        points = line.get_points("xy") if line.dxftype() == "LWPOLYLINE" else (line.dxf.start, line.dxf.end)
        assert all(low[0] <= point[0] <= high[0] and low[1] <= point[1] <= high[1] for point in points)
    view = doc.viewports.get("*ACTIVE")[0]
    assert low[0] < view.dxf.center[0] < high[0] and view.dxf.height >= high[1] - low[1]
    used = {entity.dxf.layer for entity in doc.entitydb.values() if entity.dxf.hasattr("layer")}
    assert {layer.dxf.name for layer in doc.layers} - {"0", "Defpoints"} <= used  # none is empty


def test_attributes_give_the_drops_of_the_cut_list(plan: Plan, doc: Document) -> None:
    """Tag, roll, length, width, order and face of every drop, as a program would extract them, against the list."""
    found = []
    for insert in doc.modelspace().query("INSERT"):
        values = {attribute.dxf.tag: attribute.dxf.text for attribute in insert.attribs}
        if insert.dxf.name == "PIECE" and values["KIND"] == "drop":
            found.append(tuple(values[name] for name in ("TAG", "ROLL", "LENGTH", "WIDTH", "ORDER", "FACE")))
    rows = [row for row in csv.DictReader(io.StringIO(cut_list_csv(plan))) if row["kind"] == "drop"]
    listed = [tuple(row[name].lstrip("'") if name == "piece" else row[name]
                    for name in ("piece", "roll", "length", "width", "install", "face")) for row in rows]
    assert Counter(found) == Counter(listed) and len(found) >= len(plan.drops)
    data = {}
    for line in doc.modelspace().query("LWPOLYLINE"):
        if line.has_xdata("LAPWRIGHT_PIECE"):
            told = [tag.value for tag in line.get_xdata("LAPWRIGHT_PIECE") if tag.code == 1000]
            data[line.get_xdata("LAPWRIGHT")[-1].value] = dict(zip(told[::2], told[1::2]))
    assert {tag: (each["ROLL"], each["LENGTH"], each["WIDTH"], each["ORDER"], each["FACE"])
            for tag, each in data.items() if each["KIND"] == "drop"} == {row[0]: row[1:] for row in listed}


def test_each_face_is_one_block_with_its_base_at_its_lower_left(plan: Plan, doc: Document) -> None:
    faces = {insert.dxf.name: insert for insert in doc.modelspace().query("INSERT")
             if insert.dxf.name.startswith("FACE-")}
    layers = len({(drop.run, drop.layer) for drop in plan.drops} | {(run.name, "membrane") for run in plan.job.runs})
    assert len(faces) >= sum(len(run.faces) for run in plan.job.runs) and layers
    for name, insert in faces.items():
        inner = {each.dxf.name.removeprefix(f"{name}-") for each in doc.blocks.get(name).query("INSERT")}
        assert {"WALL", "DROPS", "TAGS", "DIMS"} <= inner
        wall = next(line for line in doc.blocks.get(f"{name}-WALL").query("LWPOLYLINE")
                    if line.dxf.layer == LAYERS["wall"].name)
        points = list(wall.get_points("xy"))
        assert min(x for x, _ in points) == pytest.approx(0, abs=1e-9) and points[0] == pytest.approx((0, 0), abs=1e-9)
        assert {each.dxf.tag for each in insert.attribs} == {"RUN", "FACE", "LAYER"}
        assert not any(each.attribs for sort in inner for each in doc.blocks.get(f"{name}-{sort}").query("INSERT"))


@pytest.mark.parametrize("plan_of", [partial(frozen_plan, "ring"), pytest.param(
    partial(sample_plan, "basement"), marks=pytest.mark.slow)], ids=["ring", "basement"])
def test_blocks_and_sheets_come_in_files_of_their_own(plan_of: Callable[[], Plan], tmp_path: Path) -> None:
    plan = plan_of()
    made = drawing.files(plan, asked=DrawingOptions(flat=True, blocks=True, dxf="R2000"))
    names = {name for name in made if name.endswith(".dxf")}
    assert {name for name in names if name.startswith("blocks/")} == {
        f"blocks/FACE-{plan.job.runs[0].name}-{face.name.upper()}.dxf" for face in plan.job.runs[0].faces}
    sheets = [name for name in names if name.startswith("sheets/")]
    assert len(sheets) == len(cad_set(plan).pages)
    tags: Counter[str] = Counter()
    for name in sorted(names):
        path = tmp_path / Path(name).name
        write = made[name]
        assert callable(write)
        write(path)
        doc = ezdxf.readfile(path)  # type: ignore[attr-defined]
        assert not doc.audit().errors
        if name.startswith("blocks/"):
            tags.update(each.value for text in doc.modelspace().query("TEXT") if text.has_xdata("LAPWRIGHT")
                        for each in text.get_xdata("LAPWRIGHT") if each.code == 1000)
    assert tags == Counter(piece.tag for piece in plan.pieces if piece.flat)


def wanted(cad: CadSet) -> Counter[str]:
    """Return how many entities a flat file has for tags, dimensions and hatches, from the drawings themselves."""
    count: Counter[str] = Counter()
    for model in cad.models:
        one = model.drawing.on_wall(1.0)
        for entity in walk(model.drawing.entities):
            assert not isinstance(entity, (Group, SubDrawing))
            if isinstance(entity, Text):
                count["text"] += bool(entity.text)
            elif isinstance(entity, Dimension):
                count["text"] += sum(isinstance(part, Text) for part in dimension_parts(entity, one=one))
            elif isinstance(entity, Insert):
                count["text"] += sum(isinstance(part, Text) and bool(part.text)
                                     for part in insert_parts(entity, one=one))
                count["tag"] += entity.block in TAGGED
            elif isinstance(entity, Hatch):
                count["hatch lines"] += len(list(hatch_lines(entity, one=one)))
    return count


def test_a_flat_file_has_everything_as_lines_and_text(cad: CadSet, tmp_path: Path) -> None:
    doc = written(cad, tmp_path / "x.dxf", flat=True)
    texts = list(doc.modelspace().query("TEXT"))
    count = wanted(cad)
    assert len(texts) == count["text"] and sum(text.has_xdata("LAPWRIGHT") for text in texts) <= count["tag"]
    names = LAYERS["lap"].name, LAYERS["pattern"].name
    laps = [line for line in doc.modelspace().query("LINE") if line.dxf.layer in names]
    # a line behind a label is in two parts, or gone where the label hides all of it
    assert len(laps) == pytest.approx(count["hatch lines"], rel=0.05) and count["hatch lines"] > 0


def counted(cad: CadSet) -> Counter[tuple[str, str]]:
    """Return how many texts and how many lines a flat file has on each layer, from the drawings themselves."""
    found: Counter[tuple[str, str]] = Counter()

    def count(entities: Iterable[Entity], one: float) -> None:
        for entity in entities:
            if isinstance(entity, (Group, SubDrawing)):  # each part hatched in its own frame
                count(entity.entities, one)
                continue
            for part in plain([entity], one=one):
                assert not isinstance(part, Group)
                if not isinstance(part, Text):
                    found[LAYERS[part.layer].name, "line"] += 1
                elif part.text:
                    found[LAYERS[part.layer].name, "text"] += 1

    for model in cad.models:
        one = model.drawing.on_wall(1.0)
        count(unmasked(model.drawing.entities, one=one), one)
    return found


def read_by_gdal(path: Path) -> tuple[Counter[tuple[str, str]], Counter[str]]:
    """Return how many texts and lines GDAL finds on each layer of a DXF file, and each text."""
    command = [str(OGRINFO), "-ro", "-al", "-q", "-geom=NO", str(path)]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    count: Counter[tuple[str, str]] = Counter()
    texts: Counter[str] = Counter()
    for feature in said.split("OGRFeature(")[1:]:
        known = dict(re.findall(r"^  (\w+) \(String\) = (.*)$", feature, re.MULTILINE))
        count[known["Layer"], "text" if "Text" in known else "line"] += 1
        if "Text" in known:
            texts[known["Text"]] += 1
    return count, texts


@pytest.mark.skipif(not OGRINFO, reason="needs GDAL's ogrinfo")
@pytest.mark.parametrize("sample", ["hillside", "metric"])
@pytest.mark.slow
def test_gdal_counts_tags_dimensions_and_hatch_lines_as_they_were_written(sample: str, tmp_path: Path) -> None:
    """Texts and lines layer by layer: tags, dimensions and hatches each have layers of their own."""
    plan = sample_plan(sample)
    cad, path = cad_set(plan), tmp_path / "x.dxf"
    write_dxf(cad, path, version="R12", flat=True)
    count, texts = read_by_gdal(path)
    assert count == counted(cad)
    tags = Counter(dict(entity.values)["TAG"] for model in cad.models for entity in walk(model.drawing.entities)
                   if isinstance(entity, Insert) and entity.block in TAGGED)
    assert {piece.tag for piece in plan.pieces if piece.flat} <= set(tags)
    assert all(texts[tag] >= number for tag, number in tags.items())
    dimensions = [entity for model in cad.models for entity in walk(model.drawing.entities)
                  if isinstance(entity, Dimension)]
    assert count[LAYERS["dims"].name, "text"] == len(dimensions) > 100
    assert count[LAYERS["lap"].name, "line"] > 100 and count[LAYERS["pattern"].name, "line"] > 100


@pytest.mark.skipif(not OGRINFO, reason="needs GDAL's ogrinfo")
@pytest.mark.parametrize("plan_of", [
    pytest.param(partial(frozen_plan, "ring"), id="ring"),
    pytest.param(partial(sample_plan, "metric"), id="metric", marks=pytest.mark.slow)])
def test_gdal_reads_the_text_of_a_flat_file_with_sheets(plan_of: Callable[[], Plan], tmp_path: Path) -> None:
    cad, path = cad_set(plan_of()), tmp_path / "x.dxf"
    write_dxf(cad, path, version="R2018", flat=True)
    # it reads the sheet that is open too
    sheet = [part for part in plain(cad.pages[0].entities, one=1.0) if isinstance(part, Text) and part.text]
    assert sum(read_by_gdal(path)[1].values()) == wanted(cad)["text"] + len(sheet)


Stroke = tuple[tuple[int, int], ...]
SHEET = (841.0, 594.0)
"""Paper that LibreCAD fits everything to [mm]."""


def drawn_by_librecad(entities: Iterable[Entity], path: Path, frame: Box) -> Counter[Stroke]:
    """Return the strokes of LibreCAD's own PDF of lines and text written flat, within a frame that sets its scale.

    It draws letters as strokes, so that its PDF holds no text. Strokes are in its points of a 1200th of an inch.
    """
    corners = ((frame.left, frame.bottom), (frame.left, frame.top), (frame.right, frame.top),
               (frame.right, frame.bottom))
    shown = Drawing("one", "One", UNITS["mm"], 1, frame, (Polyline("title", corners), *entities))
    write_dxf(CadSet(UNITS["mm"], 1, (Model(shown),), ()), path, version="R12", flat=True)
    command = [str(LIBRECAD), "dxf2pdf", "-p", f"{SHEET[0]:.0f}x{SHEET[1]:.0f}", "-a", "-m", str(path)]
    subprocess.run(command, check=True, capture_output=True, timeout=120, cwd=path.parent, env={
        **os.environ, "QT_QPA_PLATFORM": "offscreen", "HOME": str(path.parent)})
    found: Counter[Stroke] = Counter()
    for part in re.findall(rb"stream\r?\n(.*?)endstream", path.with_suffix(".pdf").read_bytes(), re.DOTALL):
        try:
            text = zlib.decompress(part).decode("latin-1")
        except zlib.error:
            continue
        for points in re.findall(r"((?:-?[\d.]+ -?[\d.]+ [ml]\n)+)S\n", text):
            found[tuple((round(float(x)), round(float(y))) for x, y in re.findall(r"(\S+) (\S+) [ml]", points))] += 1
    return found


def strokes_of_letters(letters: str, folder: Path) -> dict[str, int]:
    """Return how many strokes LibreCAD draws for each letter, each written once, far from all others."""
    across, step = 20, 40.0
    frame = Box(0.0, 0.0, across * step, step * math.ceil(len(letters) / across))
    places = {letter: (at % across * step + step / 2, at // across * step + step / 2)
              for at, letter in enumerate(letters)}
    found = drawn_by_librecad([Text("text", place, letter, 3.5) for letter, place in places.items()],
                              folder / "letters.dxf", frame)
    left, low = min(x for stroke in found for x, _ in stroke), max(y for stroke in found for _, y in stroke)
    one = (max(x for stroke in found for x, _ in stroke) - left) / frame.width
    counts: Counter[str] = Counter()
    for stroke, number in found.items():
        if len(stroke) == 2 and math.dist(*stroke) > 0.4 * step * one or len(stroke) > 2 and (
                max(x for x, _ in stroke) - min(x for x, _ in stroke) > step * one):
            continue  # the frame
        x, y = (stroke[0][0] - left) / one, (low - stroke[0][1]) / one
        near = min(places, key=lambda letter: math.dist(places[letter], (x, y)))
        assert math.dist(places[near], (x, y)) < step / 4, near
        counts[near] += number
    return dict(counts)


@pytest.mark.skipif(not LIBRECAD, reason="needs LibreCAD")
@pytest.mark.slow
@pytest.mark.parametrize("sample", ["hillside", "metric"])
def test_librecad_draws_every_tag_every_dimension_and_every_hatch_line(sample: str, tmp_path: Path) -> None:
    """Model space, flat: the strokes of all its letters, letter by letter, and of all its hatch lines, none missing.

    What is drawn of the tags alone, of the texts of dimensions alone, of all texts alone and of the hatches alone must
    each be as many strokes as their letters or lines need, and must all be there in the drawing of the whole.
    """
    cad = cad_set(sample_plan(sample))
    elevation = cad.models[0].drawing  # the first run, developed whole
    one = elevation.on_wall(1.0)
    # ticks and inches are of no matter here: all is drawn as it plots, in millimetres
    parts = [each for entity in walk(unmasked(elevation.entities, one=one)) for each in plain([entity], one=one)]
    shown = [each for each in moved(parts, (0.0, 0.0), size=1 / one) if not isinstance(each, Text) or each.text]
    frame = Box.around(box_of_text(each, one=1.0) for each in shown if isinstance(each, Text)).grown(30.0)
    tags = Counter(dict(entity.values)["TAG"] for entity in walk(elevation.entities)
                   if isinstance(entity, Insert) and entity.block in TAGGED)
    texts = [each for each in shown if isinstance(each, Text)]
    groups: dict[str, list[Entity]] = {
        "tags": [each for each in texts if each.text in tags],
        "dimensions": [each for each in texts if each.layer == "dims"],
        "texts": list(texts),
    }
    assert len(groups["tags"]) >= sum(tags.values()) > 60 and len(groups["dimensions"]) > 50
    whole = drawn_by_librecad(shown, tmp_path / "whole.dxf", frame)
    bare = drawn_by_librecad([], tmp_path / "bare.dxf", frame)
    strokes = strokes_of_letters("".join(sorted({letter for each in texts for letter in each.text} - {" "})), tmp_path)
    for name, group in groups.items():
        alone = drawn_by_librecad(group, tmp_path / f"{name}.dxf", frame) - bare
        needed = Counter(letter for each in group if isinstance(each, Text) for letter in each.text if letter != " ")
        assert alone.total() == sum(strokes[letter] * number for letter, number in needed.items()), name
        assert not alone - whole, name
    lines = [each for each in shown if isinstance(each, Line) and each.layer == "lap"
             and math.dist(each.start, each.end) > 0.2]  # a shorter one is less than one of its points
    alone = drawn_by_librecad(lines, tmp_path / "laps.dxf", frame) - bare
    assert alone.total() == len(lines) > 100 and not alone - whole


@pytest.mark.skipif(not LIBRECAD, reason="needs LibreCAD")
@pytest.mark.slow
def test_librecad_draws_dots_and_dashes_that_can_be_seen(tmp_path: Path) -> None:
    """It goes by a linetype's name alone: in 200 mm of the patterns of the usual names it sets few marks or none."""
    frame = Box(0.0, 0.0, SHEET[0], SHEET[1])
    bare = drawn_by_librecad([], tmp_path / "bare.dxf", frame)
    for layer in ("cover", "footing", "fold"):
        line = Line(layer, (100.0, 100.0), (300.0, 100.0))
        assert (drawn_by_librecad([line], tmp_path / f"{layer}.dxf", frame) - bare).total() > 20, layer


@pytest.mark.parametrize(("text", "scale"), [
    ("1:48", 48), ("48", 48), ('1/4"', 48), ('1/4" = 1\'-0"', 48), ("3/16 in = 1 ft", 64), ("1 : 50", 50), ("", 0),
    ('1 1/2"', 8), ('3"', 4),
])
def test_scales_are_read_as_drafters_write_them(text: str, scale: int) -> None:
    assert read_scale(text) == scale


@pytest.mark.parametrize("text", ["1:47", "0", "-48", "1/0\"", "big", "1:48:2", '7/64"'])
def test_a_scale_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(DrawingError, match="scale must be a standard one"):
        read_scale(text)


def test_a_release_that_is_not_known_is_refused() -> None:
    with pytest.raises(DrawingError, match="the DXF release must be one of R12, R2000, R2010, R2018 .got 'R9'."):
        drawing.check_asked(DrawingOptions(dxf="R9"))


def test_a_scale_that_is_asked_for_is_kept() -> None:
    cad = cad_set(sample_plan("basement"), scale=96)
    assert cad.scale == 96
    views = [view for page in cad.pages for view in page.views]
    assert {view.drawing.scale for view in views if view.drawing.title.startswith("Run A, face")} == {96}


def test_the_mapping_to_iso_13567_has_a_name_of_its_own_for_every_layer() -> None:
    """Agent of two characters, element of six, presentation of two, status of one; from memory of ISO 13567-2."""
    layers = read_layers(Path(__file__).parent.parent / "samples" / "layers-iso13567.csv")
    names = {use: layers[use].name for use in LAYERS}
    assert len(set(names.values())) == len(names)
    # elements, annotation, text, hatching, dimensions, tables, border, viewports
    assert all(re.fullmatch(r"Z-[A-Z]{6}[EATHDBV]-N", name) for name in names.values())
    assert [names[use][8] for use in ("dims", "text", "lap", "pattern", "wall")] == list("DTHHE")
    assert len({name[2:8] for name in names.values()}) == len(names)


STANDARD = {
    # A/E/C groups of the AIA CAD Layer Guidelines in the US National CAD Standard, 5.0; from memory, and from a partial
    # list of them in public
    "ANNO": "DIMS KEYN LABL LEGN MARK MATC NOTE NPLT REDL REFR REVC REVS SCHD STMP SYMB TABL TEXT TITL TTLB",
    "DETL": "IDEN MBND MCUT OTLN PATT", "SECT": "IDEN MBND MCUT OTLN PATT", "ELEV": "IDEN OTLN PATT",
    "WALL": "FULL HEAD IDEN JAMB MOVE OTLN PATT PRHT", "FNDN": "PATT PILE RBAR",
}
"""Major groups, and the minor groups known under each."""


def test_every_group_of_a_layer_name_is_the_standards_or_is_named_as_ours() -> None:
    told = OF_LAYERS.partition("Of the groups in them ")[2].partition(" are ours")[0]
    ours = set(re.findall(r"[A-Z]{4}", told))
    used = set()
    for layer in LAYERS.values():
        discipline, major, minor, status = layer.name.split("-")
        assert (discipline, status) == ("Z", "N")
        if major not in STANDARD:
            assert major in ours, layer.name
            used.add(major)
        if minor not in STANDARD.get(major, "").split():
            assert minor in ours or minor in STANDARD, layer.name
            used.add(minor)
    assert ours <= used  # and nothing is called ours that is not in a name


@pytest.mark.parametrize("paper", ["letter", "tabloid", "ARCH D", "A4", "A3", "A1"])
@pytest.mark.slow
def test_text_lines_and_dashes_plot_alike_on_every_paper(paper: str, tmp_path: Path) -> None:
    """Text at least 2.5 mm (ISO 3098 by way of PLOTTED_MM), pens of the table, dashes as long as on any other paper.

    A linetype plots as its pattern, times the file's scale, times the thing's own, over the scale of the viewport.
    """
    plan = sample_plan("metric" if paper.startswith("A") and paper[1].isdigit() else "hillside")
    doc = written(cad_set(plan, paper=paper), tmp_path / "x.dxf")
    pens = {layer.name: layer.weight for layer in LAYERS.values()}
    written_pens = {layer.dxf.name: layer.dxf.lineweight for layer in doc.layers if layer.dxf.name in pens}
    assert written_pens.items() <= pens.items() and len(written_pens) > 20
    assert doc.header["$PSLTSCALE"] == 0  # or each viewport would scale dashes once more
    heights: list[float] = []
    dashes: list[tuple[str, float]] = []
    scales = set()
    for layout in doc.layouts:
        if layout.name == "Model":
            continue
        look(doc, layout, 1.0, heights, dashes)
        for port in layout.query("VIEWPORT")[1:]:  # the first is the sheet itself
            scale = port.dxf.height / port.dxf.view_height
            scales.add(round(1 / scale))
            (x, y, _), high = port.dxf.view_center_point, port.dxf.view_height
            wide = port.dxf.width / scale
            shown = [each for each in doc.modelspace() if each.dxftype() in PLACE
                     and abs(PLACE[each.dxftype()](each)[0] - x) <= wide / 2
                     and abs(PLACE[each.dxftype()](each)[1] - y) <= high / 2]
            look(doc, shown, scale, heights, dashes)
    assert len(scales) > 1  # elevations and details
    millimetres = 25.4 if plan.job.unit.name == "in" else 1.0
    assert min(heights) * millimetres >= 2.5 - 1e-9 and len(heights) > 100
    first = {"HIDDEN": 2.0, "DOT": 0.4, "CENTER": 6.0}  # first mark of each linetype [mm]
    assert {name for name, _ in dashes} == set(first)
    for name, long in dashes:
        assert long * millimetres == pytest.approx(first[name], rel=1e-3), name


PLACE: dict[str, Callable[[Any], Any]] = {
    "LINE": lambda each: each.dxf.start, "LWPOLYLINE": lambda each: each[0], "TEXT": lambda each: each.dxf.insert,
    "INSERT": lambda each: each.dxf.insert, "CIRCLE": lambda each: each.dxf.center,
}
"""A point of each sort of entity, to tell which viewport it is seen in."""


def look(doc: Document, entities: Iterable[Any], scale: float, heights: list[float],
         dashes: list[tuple[str, float]]) -> None:
    """Add the plotted heights of text and lengths of first dashes, blocks opened [the file's unit]."""
    for entity in entities:
        sort = entity.dxftype()
        if sort == "INSERT":
            heights += [each.dxf.height * scale for each in entity.attribs if not each.is_invisible and each.dxf.text]
            if entity.dxf.name.startswith("FACE-"):
                look(doc, doc.blocks.get(entity.dxf.name), scale, heights, dashes)
        elif sort == "TEXT":
            heights.append(entity.dxf.height * scale)
        elif sort in ("LINE", "LWPOLYLINE", "CIRCLE"):
            name = doc.layers.get(entity.dxf.layer).dxf.linetype
            if name != "Continuous":
                mark = doc.linetypes.get(name).simplified_line_pattern()[0]
                dashes.append((name, mark * doc.header["$LTSCALE"] * entity.dxf.get("ltscale", 1.0) * scale))
