"""A job whose names hold markup, formulas, quotes, right-to-left text and emoji gives safe, correct files."""

from __future__ import annotations

import csv
import html.parser
import io
import json
import xml.etree.ElementTree as ET
from pathlib import Path

import ezdxf
import openpyxl
import pytest
from ruamel.yaml import YAML

from helpers.thinned import slow_where
from layout.errors import JobError
from layout.job import read_job_text
from layout.pipeline import make_plan, write_packet
from layout.records import Plan

NAMES = {
    "formula": "=cmd()|\"/c calc\"!A0,'; 100% <script>alert(1)</script>&amp;<b>",
    "turned": "@ קיר צפון 12 🌊 %%c {\\H2;x} \\P",
    "path": "../../etc/CON",
}
"""What names may hold; %% and backslashes are control codes in drawings."""


def job_text(name: str) -> str:
    """Return a small job in which everything that can be named has this name."""
    text = io.StringIO()
    YAML(typ="safe").dump({
        "job": {"name": name, "number": name, "site": name, "prepared_by": name, "revision": name},
        "units": "in",
        "sheet": {"name": name, "width": 36, "rolls": [{"length": "66'-8\"", "price": 205}],
                  "remnants": [{"tag": name, "length": "21'-4\""}]},
        "runs": [{"name": name, "flow": "right", "faces": [
            {"name": name, "length": "20'-0\"", "top": "8'-0\"", "ledge": 6, "corner": "outside",
             "openings": [{"tag": name, "kind": name, "left": "6'-0\"", "sill": "5'-0\"", "width": "3'-0\"",
                           "height": "2'-0\""}],
             "sleeves": [{"tag": name + "1", "at": "14'-9\"", "elevation": "2'-6\"", "diameter": 4}]},
            {"name": name + "-2", "length": "9'-0\"", "top": "8'-0\"", "ledge": 6}]}],
    }, text)
    return text.getvalue()


@pytest.fixture(scope="module", params=slow_where(lambda name: name != "formula", sorted(NAMES)))
def packed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Plan, Path]:
    """A packet of a job with one kind of name, and nothing beside it."""
    name = NAMES[request.param]
    try:
        job = read_job_text(job_text(name), "job.yaml")
    except JobError as error:
        pytest.skip(f"the job file refuses such names: {error}")
    plan = make_plan(job, stop=lambda: True)
    place = tmp_path_factory.mktemp("hostile") / "packet"
    assert write_packet(plan, place) == ()
    assert [entry.name for entry in place.parent.iterdir()] == ["packet"]
    return name, plan, place


@pytest.mark.slow
def test_csv(packed: tuple[str, Plan, Path]) -> None:
    name, plan, place = packed
    rows = list(csv.DictReader(io.StringIO((place / "cut-list.csv").read_text("utf-8"), newline="")))
    assert len(rows) == len(plan.pieces)
    for row in rows:
        assert None not in row and None not in row.values()
        for cell in row.values():
            assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
        assert row["run"] in (name, "'" + name)
        piece = row["piece"].removeprefix("'")
        assert piece in {one.tag for one in plan.pieces}
        assert row["marks"].isascii() and row["marks_liner"].isascii()


def test_xlsx(packed: tuple[str, Plan, Path]) -> None:
    name, plan, place = packed
    book = openpyxl.load_workbook(place / "cut-list.xlsx")
    cells = [cell for sheet in book.worksheets for row in sheet.iter_rows() for cell in row]
    assert name in {cell.value for cell in cells if cell.data_type == "s"}
    assert not [cell for cell in cells if cell.hyperlink]
    assert not [cell.value for cell in cells if cell.data_type == "f" and ("cmd" in cell.value or name in cell.value)]


class Page(html.parser.HTMLParser):
    """What a page's markup really holds."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: dict[str, int] = {}
        self.handlers: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] = self.tags.get(tag, 0) + 1
        self.handlers += [key for key, _ in attrs if key.startswith("on") or key == "style"]
        self.handlers += [value or "" for key, value in attrs
                          if key in ("href", "src") and not (value or "").startswith("#")]

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def test_html(packed: tuple[str, Plan, Path]) -> None:
    name, plan, place = packed
    page = Page()
    page.feed((place / "packet.html").read_text("utf-8"))
    assert page.tags["script"] == 2 and page.tags["style"] == 1
    assert not {"img", "iframe", "object", "embed", "link", "foreignobject", "b"} & set(page.tags)
    assert page.handlers == []
    assert name in page.text


def test_svg(packed: tuple[str, Plan, Path]) -> None:
    name, plan, place = packed
    drawings = sorted(place.rglob("*.svg"))
    assert len(drawings) >= 3 and {path.parent for path in drawings} <= {place, place / "elevations"}
    texts = []
    for path in drawings:
        root = ET.parse(path).getroot()
        assert not [element for element in root.iter() if element.tag.endswith("}script")]
        texts += [element.text or "" for element in root.iter()]
    assert any(name in text for text in texts)


def test_dxf(packed: tuple[str, Plan, Path]) -> None:
    _, plan, place = packed
    document = ezdxf.readfile(place / "elevations.dxf")
    assert document.audit().errors == []
    tagged = {entity.get_xdata("LAPWRIGHT")[-1].value for entity in document.modelspace().query("LWPOLYLINE")
              if entity.has_xdata("LAPWRIGHT")}
    assert tagged >= {piece.tag for piece in plan.pieces if piece.flat and piece.kind == "drop"}


def test_plan_json(packed: tuple[str, Plan, Path]) -> None:
    name, plan, place = packed
    data = json.loads((place / "plan.json").read_text("ascii"))
    assert data["job"]["name"] == name and data["runs"][0]["name"] == name
    assert [piece["tag"] for piece in data["pieces"]] == [piece.tag for piece in plan.pieces]
