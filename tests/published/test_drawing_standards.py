"""Published figures about drawings, each with where it comes from and how it is known.

Layer names: AIA CAD Layer Guidelines in the US National CAD Standard, version 5, 1.1 to 1.7, read. Plotted text at
least 3/32 in or 2.5 mm: National CAD Standard and ISO 3098, from memory. Sheet sizes: ASME Y14.1 and ISO 216, read.
$INSUNITS and LWPOLYLINE: DXF reference 2024, read. SVG lengths: W3C SVG 1.1, read. Scales and plotted lengths: worked.
"""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from layout import drawing
from layout.drawing.elevations import elevation
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import PAPERS, PLOTTED_MM, on_wall
from layout.drawing.model.layers import LAYERS
from layout.drawing.svg import svg_text
from layout.job import read_job_text
from layout.pipeline import make_plan
from layout.records import Plan
from layout.units import INCH, MM

JOB = """
job: {{name: Plotted lengths}}
units: {unit}
sheet: {{name: sheet, width: {width}, rolls: [{{length: {roll}}}]}}
rules: {{base_strip: 0, corner_strip: 0}}
runs:
  - name: A
    closed: false
    flow: right
    faces:
      - {{name: South, length: {length}, top: {top}, footing: 0, ledge: {ledge}, footing_depth: {depth}, corner: none}}
"""


def plan(unit: str) -> Plan:
    if unit == "in":
        text = JOB.format(unit="in", width=36, roll="66'-8\"", length=480, top=96, ledge=6, depth=12)
    else:
        text = JOB.format(unit="mm", width=1000, roll=20000, length=12192, top=2440, ledge=150, depth=300)
    return make_plan(read_job_text(text, "job.yaml"), stop=lambda: True)


def wall_on_paper(made: Plan) -> float:
    """Return the length of the wall's outline in an SVG, in its user units."""
    root = ElementTree.fromstring(svg_text(elevation(made, "A", "South")).encode())
    path = next(each.get("d", "") for each in root.iter() if each.get("class") == "lw-wall")
    xs = [float(x) for x in re.findall(r"[ML]([-\d.]+),", path)]
    return max(xs) - min(xs)


def test_6_8_480_inches_at_1_to_48_is_10_inches_and_960_pixels() -> None:
    assert on_wall(10 * 25.4, INCH, 48) / 16 == pytest.approx(480)
    assert wall_on_paper(plan("in")) == pytest.approx(960, abs=1e-6)


def test_6_8_12192_mm_at_1_to_50_is_243_84_mm() -> None:
    assert on_wall(243.84, MM, 50) == pytest.approx(12192)
    assert wall_on_paper(plan("mm")) == pytest.approx(243.84, abs=1e-6)


@pytest.mark.parametrize(("plotted", "scale"), [(1 / 4, 48), (3 / 8, 32), (1 / 2, 24)])
def test_4_scales_a_foot_by_the_inch(plotted: float, scale: int) -> None:
    assert on_wall(plotted * 25.4, INCH, scale) / 16 == pytest.approx(12)


def test_4_svg_counts_96_to_the_inch() -> None:
    """1 in = 25.4 mm = 72 pt = 96 px."""
    text = svg_text(elevation(plan("in"), "A", "South"))
    wide, pixels = re.search(r'width="([\d.]+)in"', text), re.search(r'viewBox="0 0 ([\d.]+) ', text)
    assert wide and pixels and float(pixels[1]) == pytest.approx(float(wide[1]) * 96, abs=0.05)


@pytest.mark.parametrize("layer", LAYERS.values(), ids=lambda layer: layer.use)
def test_4_layer_names_follow_the_pattern(layer: object) -> None:
    """Discipline of one or two characters, a major group of four, minor groups of four, a status of one."""
    parts = layer.name.split("-")  # type: ignore[attr-defined]
    assert parts[0] == "Z" and len(parts[1]) == 4 and all(len(part) == 4 for part in parts[2:-1]) and parts[-1] == "N"
    assert len(parts) == 4  # one format on all layers, as ISO 13567 asks


def test_4_annotation_layers_use_the_standard_minor_groups() -> None:
    """DIMS TEXT NOTE TTLB SYMB SCHD NPLT; from memory."""
    used = {layer.name.split("-")[2] for layer in LAYERS.values() if layer.name.startswith("Z-ANNO-")}
    assert {"DIMS", "TEXT", "NOTE", "TTLB", "SYMB", "SCHD", "NPLT"} <= used


@pytest.mark.parametrize(("name", "size"), [
    ("ARCH D", (914.4, 609.6)), ("ANSI B", (431.8, 279.4)), ("A1", (841, 594)), ("A3", (420, 297)),
])
def test_4_sheet_sizes(name: str, size: tuple[float, float]) -> None:
    """24 × 36 in, 11 × 17 in, 594 × 841 mm, 297 × 420 mm."""
    assert (PAPERS[name].width, PAPERS[name].height) == pytest.approx(size)


def test_4_least_plotted_text() -> None:
    assert PLOTTED_MM["in"] == pytest.approx(25.4 * 3 / 32) and PLOTTED_MM["mm"] == 2.5
    assert SMALL >= max(PLOTTED_MM.values())


def test_4_hidden_edges_are_thin_and_dashed() -> None:
    """ISO 128; from memory."""
    assert LAYERS["footing"].line == "dashed" and LAYERS["footing"].weight < LAYERS["wall"].weight
    assert LAYERS["piece"].line == "dashed" and LAYERS["piece"].weight < LAYERS["edge"].weight


@pytest.mark.parametrize(("unit", "code"), [("in", 1), ("mm", 4)])
def test_4_insunits(unit: str, code: int, tmp_path: Path) -> None:
    """1 is inches, 4 millimetres."""
    drawing.write_plan_dxf(plan(unit), tmp_path / "x.dxf")
    tags = pairs(tmp_path / "x.dxf")
    assert tags[tags.index(("9", "$INSUNITS")) + 1] == ("70", str(code))


def test_4_closed_outlines_say_so(tmp_path: Path) -> None:
    """LWPOLYLINE: group 90 counts the vertices, bit 1 of group 70 closes it, groups 10 and 20 are the vertices."""
    made = plan("in")
    drawing.write_plan_dxf(made, tmp_path / "x.dxf")
    tags = pairs(tmp_path / "x.dxf")
    found = 0
    for number, tag in enumerate(tags):
        if tag != ("0", "LWPOLYLINE"):
            continue
        end = next(n for n in range(number + 1, len(tags)) if tags[n][0] == "0")
        entity = tags[number:end]
        if ("1001", "LAPWRIGHT") not in entity:
            continue
        found += 1
        values = dict(entity)
        assert int(values["70"]) & 1
        assert int(values["90"]) == sum(code == "10" for code, _ in entity) == sum(code == "20" for code, _ in entity)
    assert found == sum(piece.flat for piece in made.pieces)


def pairs(path: Path) -> list[tuple[str, str]]:
    """Return a DXF file as its pairs of group code and value."""
    lines = [line.strip() for line in path.read_text(encoding="utf-8").splitlines()]
    return list(zip(lines[::2], lines[1::2]))
