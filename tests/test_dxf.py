"""DXF: audited, in the job's unit at full size, each piece as the plan has it, sheets at standard scales."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing as Document

from helpers.crew_plan import crew_plan
from helpers.drawing_plans import SMALL_FIRST, drawn_plan
from layout import drawing
from layout.drawing.cad_sheets import cad_set
from layout.drawing.dxf import write_dxf
from layout.drawing.model.entities import Box, CadSet, Drawing, Line, Model
from layout.drawing.model.layers import LAYERS, layer_table, read_layers
from layout.drawing.options import DrawingOptions
from layout.errors import DrawingError, JobError
from layout.packet import plan_json
from layout.records import Plan
from layout.shapes import ring_area
from layout.units import INCH

NAME = re.compile(r"[A-Z]{1,2}-[A-Z0-9]{4}(-[A-Z0-9]{4}){0,2}(-[NEDFTMXAS1-9])?")
"""Discipline, major group, up to two minor groups, status: AIA CAD Layer Guidelines in the US National CAD Standard."""


@pytest.fixture(scope="module", params=SMALL_FIRST)
def plan(request: pytest.FixtureRequest) -> Plan:
    return drawn_plan(request.param)


@pytest.fixture(scope="module")
def path(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("dxf") / "elevations.dxf"
    drawing.write_plan_dxf(plan, made)
    return made


@pytest.fixture(scope="module")
def doc(path: Path) -> Document:
    return ezdxf.readfile(path)  # type: ignore[attr-defined, no-any-return]


def outlines(doc: Document) -> dict[str, object]:
    """Return the outline of each piece by the tag in its extended data."""
    found: dict[str, object] = {}
    for line in doc.modelspace().query("LWPOLYLINE"):
        if line.has_xdata("LAPWRIGHT"):
            tags = [tag.value for tag in line.get_xdata("LAPWRIGHT") if tag.code == 1000]
            assert len(tags) == 1 and tags[0] not in found
            found[tags[0]] = line
    return found


def test_the_audit_finds_nothing(doc: Document) -> None:
    audit = doc.audit()
    assert [error.message for error in audit.errors] == [] and [fix.message for fix in audit.fixes] == []


def test_the_unit_is_the_job_s(plan: Plan, doc: Document) -> None:
    assert doc.header["$INSUNITS"] == {"in": 1, "mm": 4}[plan.job.unit.name]
    assert doc.header["$MEASUREMENT"] == {"in": 0, "mm": 1}[plan.job.unit.name]
    assert doc.dxfversion >= "AC1024"


def test_every_flat_piece_is_one_closed_outline_at_full_size(plan: Plan, doc: Document) -> None:
    found = outlines(doc)
    assert set(found) == {piece.tag for piece in plan.pieces if piece.flat}
    per = plan.job.unit.ticks
    first = plan.job.runs[0].name
    for piece in plan.pieces:
        if not piece.flat:
            continue
        line = found[piece.tag]
        assert line.closed  # type: ignore[attr-defined]
        points = [(x * per, y * per) for x, y in line.get_points("xy")]  # type: ignore[attr-defined]
        assert ring_area(tuple((round(x), round(y)) for x, y in points)) == ring_area(piece.outline)
        if (piece.run, piece.layer) == (first, "membrane"):  # the first run lies in its own frame
            assert sorted(points) == sorted(piece.outline)


def test_the_drawing_agrees_with_plan_json(plan: Plan, doc: Document, tmp_path: Path) -> None:
    """Count, tag, area and size of every piece, order of installing: against the file as it is written."""
    from shapely.geometry import Polygon

    (tmp_path / "plan.json").write_text(plan_json(plan), encoding="utf-8")
    told = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))
    flat = {piece["tag"]: piece for piece in told["pieces"] if "outline" in piece}
    found = outlines(doc)
    assert len(found) == len(flat) > 0 and set(found) == set(flat)
    starts: dict[tuple[str, str], set[tuple[float, float]]] = {}
    for tag, line in found.items():
        points = list(line.get_points("xy"))  # type: ignore[attr-defined]
        outline = flat[tag]["outline"]
        drawn, wanted = Polygon(points), Polygon(outline)
        assert len(points) == len(outline) and drawn.area == pytest.approx(wanted.area, abs=1e-6)
        assert Counter(lengths(points)) == Counter(lengths(outline))
        starts.setdefault((flat[tag]["run"], flat[tag]["layer"]), set()).add(
            (round(drawn.bounds[0] - wanted.bounds[0], 6), round(drawn.bounds[1] - wanted.bounds[1], 6)))
    assert all(len(moved) == 1 for moved in starts.values())  # each run is put down whole
    tags = Counter(attribute.dxf.text for insert in doc.modelspace().query("INSERT") for attribute in insert.attribs
                   if attribute.dxf.tag == "TAG")
    assert tags == Counter(dict.fromkeys(flat, 1))
    total = sum(Polygon(line.get_points("xy")).area for line in found.values())  # type: ignore[attr-defined]
    assert total == pytest.approx(sum(Polygon(piece["outline"]).area for piece in flat.values()), rel=1e-12)
    orders = Counter(attribute.dxf.text for insert in doc.modelspace().query("INSERT") for attribute in insert.attribs
                     if attribute.dxf.tag == "ORDER" and insert.dxf.name != "PIECE")
    below = {match["number"] for text in doc.modelspace().query("TEXT")
             if (match := re.search(r"goes on (?P<number>\d+)", text.dxf.text))}
    assert set(orders) | below == {str(drop["install"]) for drop in told["drops"]}
    closing = [line for line in doc.modelspace().query("LINE") if line.dxf.layer == LAYERS["closing"].name]
    assert bool(closing) == any(seam["tuck"] for seam in told["seams"])


def lengths(points: Sequence[Sequence[float]]) -> list[float]:
    """Return the length of each side of an outline."""
    return [round(math.dist(a, b), 6) for a, b in zip(points, [*points[1:], points[0]], strict=True)]


def test_a_block_with_the_tag_sits_on_every_piece(plan: Plan, doc: Document) -> None:
    from shapely.geometry import Point, Polygon

    found = outlines(doc)
    tagged: Counter[str] = Counter()
    for insert in doc.modelspace().query("INSERT"):
        for attribute in insert.attribs:
            if attribute.dxf.tag == "TAG":
                tag = attribute.dxf.text
                tagged[tag] += 1
                outline = Polygon(found[tag].get_points("xy"))  # type: ignore[attr-defined]
                assert outline.buffer(0.01).contains(Point(insert.dxf.insert.vec2))
    assert tagged == Counter(list(found))


def test_laps_are_hatches(plan: Plan, doc: Document) -> None:
    laps = [hatch for hatch in doc.modelspace().query("HATCH") if hatch.dxf.layer == LAYERS["lap"].name]
    assert len(laps) >= len(plan.seams)
    assert all(hatch.dxf.solid_fill == 0 and len(hatch.paths.paths) for hatch in laps)


def test_dimensions_are_real_and_say_what_they_measure(plan: Plan, doc: Document) -> None:
    dimensions = list(doc.modelspace().query("DIMENSION"))
    assert len(dimensions) >= len(plan.seams)
    for dimension in dimensions:
        assert dimension.dxf.geometry in doc.blocks
        measured = dimension.get_measurement()
        value = measured if isinstance(measured, float) else None
        if value is not None and dimension.dxf.text in ("", "<>"):
            assert value == pytest.approx(dimension.dxf.actual_measurement)
        # no length is typed over a measure: the text is the measure itself, with words after it, or words alone
        assert dimension.dxf.text == "" or dimension.dxf.text.startswith("<>") or dimension.dxf.text[0].isalpha()


def test_layers_follow_the_pattern_and_hold_everything(doc: Document) -> None:
    used = {entity.dxf.layer for space in doc.layouts for entity in space}
    used |= {entity.dxf.layer for block in doc.blocks if not block.name.startswith(("*Model", "*Paper", "_"))
             for entity in block}
    assert used <= {layer.name for layer in LAYERS.values()}
    assert all(NAME.fullmatch(layer.name) for layer in LAYERS.values())
    assert all(doc.layers.has_entry(name) for name in used)


def test_text_plots_at_its_height(plan: Plan, doc: Document) -> None:
    least = {"in": 3 / 32, "mm": 2.5}[plan.job.unit.name]
    scales = {round(view.dxf.view_height / view.dxf.height, 6) for layout in doc.layouts if layout.name != "Model"
              for view in layout.query("VIEWPORT") if view.dxf.id != 1}
    main = doc.header["$DIMSCALE"]
    assert main in scales
    for text in doc.modelspace().query("TEXT"):
        assert any(text.dxf.height / scale >= least - 1e-9 for scale in scales)
    style = doc.dimstyles.get(f"LAPWRIGHT-{main:g}")
    assert style.dxf.dimtxt >= least and style.dxf.dimscale == main


def test_views_are_at_standard_scales(plan: Plan, doc: Document) -> None:
    standard = {"in": {2, 4, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 240, 384, 480},
                "mm": {5, 10, 20, 25, 50, 100, 200, 500}}[plan.job.unit.name]
    views = [view for layout in doc.layouts if layout.name != "Model" for view in layout.query("VIEWPORT")
             if view.dxf.id != 1]
    assert views
    for view in views:
        scale = view.dxf.view_height / view.dxf.height
        assert round(scale) in standard and scale == pytest.approx(round(scale), abs=1e-6)


def test_sheets_have_their_size_and_title_block(plan: Plan, doc: Document) -> None:
    wide, high = {"in": (36 * 25.4, 24 * 25.4), "mm": (841, 594)}[plan.job.unit.name]
    sheets = [layout for layout in doc.layouts if layout.name != "Model"]
    assert [layout.name for layout in sheets] == [page.number for page in cad_set(plan).pages]
    for layout in sheets:
        assert (layout.dxf.paper_width, layout.dxf.paper_height) == pytest.approx((wide, high), abs=0.01)
        blocks = [insert for insert in layout.query("INSERT") if insert.dxf.name == "TITLE-BLOCK"]
        fields = {attribute.dxf.tag: attribute.dxf.text for attribute in blocks[0].attribs}
        assert len(blocks) == 1 and fields["SHEET"] == layout.name and fields["JOB"] == plan.job.info.name
        assert set(fields) == {
            "JOB", "NUMBER", "SITE", "REVISION", "PREPARED_BY", "DATE", "SCALE", "TITLE", "SHEET", "OF", "SET", "DRAWN",
            "DRAWN_DATE", "CHECKED", "CHECKED_DATE", "APPROVED", "APPROVED_DATE"}
        assert fields["OF"] == f"{sheets.index(layout) + 1} of {len(sheets)}"
        assert fields["DRAWN"] == plan.job.info.prepared_by and not fields["CHECKED"] and not fields["APPROVED"]


def test_the_same_plan_gives_the_same_bytes(plan: Plan, path: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.dxf"
    drawing.write_plan_dxf(plan, again)
    assert again.read_bytes() == path.read_bytes()


def test_writing_leaves_the_library_s_settings_alone(tmp_path: Path) -> None:
    before = ezdxf.options.write_fixed_meta_data_for_testing  # type: ignore[attr-defined]
    drawing.write_plan_dxf(crew_plan(), tmp_path / "x.dxf")
    assert ezdxf.options.write_fixed_meta_data_for_testing is before  # type: ignore[attr-defined]


def test_odd_names_survive(tmp_path: Path) -> None:
    """Codes that DXF would read as symbols are broken up; letters beyond ASCII come out as they went in."""
    odd = "Süd %%c ^J <b>"
    path = tmp_path / "odd.dxf"
    drawing.write_plan_dxf(crew_plan(name=odd, face=odd), path)
    doc = ezdxf.readfile(path)  # type: ignore[attr-defined]
    assert not doc.audit().errors
    said = [text.dxf.text for text in doc.modelspace().query("TEXT")]
    assert any("Süd" in text and "%%c" not in text for text in said)


def test_a_paper_that_is_not_known_is_an_error() -> None:
    with pytest.raises(DrawingError, match="paper must be one of ARCH D, ANSI B, ANSI A, A1, A3, A4 .got 'A0'."):
        cad_set(crew_plan(), paper="A0")


def test_what_cannot_be_drawn_is_an_error(tmp_path: Path) -> None:
    made = Drawing("x", "x", INCH, 48, Box(0, 0, 10, 10), (Line("wall", (0, 0), (1, 1)), 7))  # type: ignore[arg-type]
    with pytest.raises(DrawingError, match="cannot draw a int"):
        write_dxf(CadSet(INCH, 48, (Model(made),), ()), tmp_path / "x.dxf")


# --- an office's own layers --------------------------------------------------------------------

def test_the_table_of_layers_reads_back_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "layers.csv"
    path.write_text(layer_table(), encoding="utf-8")
    assert read_layers(path) == LAYERS


def test_an_office_has_its_own_names_colours_and_weights(tmp_path: Path) -> None:
    mapping = tmp_path / "office.csv"
    mapping.write_text("use,name,index,weight,line\nlap,WP_LAPS,30,25,dashed\nedge,WP_EDGE,,,\n", encoding="utf-8")
    layers = read_layers(mapping)
    assert layers["wall"] == LAYERS["wall"] and layers["edge"] == replace(LAYERS["edge"], name="WP_EDGE")
    path = tmp_path / "office.dxf"
    drawing.write_plan_dxf(crew_plan(), path, DrawingOptions(mapping, "ANSI B"))
    doc = ezdxf.readfile(path)  # type: ignore[attr-defined]
    entry = doc.layers.get("WP_LAPS")
    assert (entry.dxf.color, entry.dxf.lineweight, entry.dxf.linetype) == (30, 25, "HIDDEN")
    assert doc.modelspace().query('HATCH[layer=="WP_LAPS"]') and not doc.layers.has_entry(LAYERS["lap"].name)
    assert not doc.audit().errors


@pytest.mark.parametrize(("text", "message"), [
    ("name\nX\n", "office.csv:1: use: must be a column of the first line"),
    ("use,name\nroof,X\n", "office.csv:2: use: must be one of wall, footing"),
    ("use,name\nlap,a/b\n", "office.csv:2: name: must be a layer name without"),
    ("use,index\nlap,0\n", "office.csv:2: index: must be a whole number from 1 to 255 (got 0)"),
    ("use,weight\nlap,thick\n", "office.csv:2: weight: must be a whole number from 1 to 211 (got thick)"),
    ("use,line\nlap,wavy\n", "office.csv:2: line: must be one of solid, dashed, dotted, centre (got wavy)"),
    ("use,colour\nlap,blue\n", "office.csv:2: colour: must be like #1f5a8c (got blue)"),
    ("use,name\nlap,\udcff\n", "office.csv:2: must be UTF-8 text (got byte 0xff)"),
    ("use,name\n" + "lap,X\n" * 20_000, "office.csv: must be at most 100 kB"),
])
def test_a_mapping_that_is_wrong_says_where(text: str, message: str, tmp_path: Path) -> None:
    path = tmp_path / "office.csv"
    path.write_text(text, encoding="utf-8", errors="surrogateescape")
    with pytest.raises(JobError) as raised:
        read_layers(path)
    assert message in str(raised.value)
