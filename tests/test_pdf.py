"""PDF: true page sizes, fonts embedded, vector only, no dates, the same bytes each time."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess
import warnings
import zlib
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from helpers.crew_plan import crew_plan
from helpers.drawing_plans import SMALL_FIRST, drawn_plan
from layout import drawing
from layout.drawing.listing import page_texts
from layout.drawing.model.entities import PAPERS, Box, Drawing, Page, Text, View
from layout.drawing.model.fonts import width
from layout.drawing.packet_pages import PageWords, packet_pages
from layout.drawing.pdf import write_pdf
from layout.errors import DrawingError
from layout.packet import plan_json, takeoff_csv
from layout.records import Plan
from layout.units import INCH

PDFTOTEXT = shutil.which("pdftotext")


@pytest.fixture(scope="module", params=SMALL_FIRST)
def plan(request: pytest.FixtureRequest) -> Plan:
    return drawn_plan(request.param)


@pytest.fixture(scope="module")
def path(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("pdf") / "packet.pdf"
    drawing.write_plan_pdf(plan, made)
    return made


def page(*entities: Text, paper: str = "ANSI B", number: str = "1") -> Page:
    return Page(number, "test", PAPERS[paper], (), entities)


def streams(data: bytes) -> bytes:
    """Return everything compressed in a PDF, taken out."""
    found = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", data, re.DOTALL)
    return b"\n".join(zlib.decompress(each) for each in found if each[:1] == b"\x78")


def test_pages_have_their_true_size(plan: Plan, path: Path) -> None:
    wide, high = {"in": (17 * 72, 11 * 72), "mm": (420 / 25.4 * 72, 297 / 25.4 * 72)}[plan.job.unit.name]
    boxes = re.findall(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+) ?\]", path.read_bytes())
    assert len(boxes) == len(packet_pages(plan))
    for box in boxes:
        assert [float(each) for each in box] == pytest.approx([wide, high], abs=0.01)


def test_fonts_are_embedded_and_nothing_is_a_picture(path: Path) -> None:
    data = path.read_bytes()
    fonts = re.findall(rb"/BaseFont /(?:[A-Z]{6}\+)?([\w-]+)", data)
    assert fonts and {font.split(b"-")[0] for font in fonts} == {b"DejaVuSans"}
    assert data.count(b"/FontFile2") == len(re.findall(rb"/Type /FontDescriptor", data)) > 0
    assert b"/Subtype /Image" not in data and b"/Subtype /Type3" not in data


def test_there_is_no_date_in_it(path: Path) -> None:
    data = path.read_bytes()
    assert b"CreationDate" not in data and b"ModDate" not in data


def test_the_same_plan_gives_the_same_bytes(plan: Plan, path: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.pdf"
    drawing.write_plan_pdf(plan, again)
    assert again.read_bytes() == path.read_bytes()


@pytest.mark.slow
def test_another_process_gives_the_same_bytes(tmp_path: Path) -> None:
    """Whatever order sets come in there."""
    import sys

    made = []
    for seed in ("1", "2"):
        out = tmp_path / f"{seed}.pdf"
        program = ("import sys; from pathlib import Path; from helpers.crew_plan import crew_plan; "
                   "from layout import drawing; "
                   f"drawing.write_plan_pdf(crew_plan(), Path({str(out)!r}))")
        subprocess.run([sys.executable, "-c", program], check=True, cwd=Path(__file__).parent, env={
            "PYTHONHASHSEED": seed, "PYTHONPATH": f"{Path(__file__).parent}:{Path(__file__).parent.parent}",
            "HOME": str(tmp_path), "PATH": "/usr/bin:/bin"})
        made.append(out.read_bytes())
    assert made[0] == made[1]


@pytest.mark.skipif(not PDFTOTEXT, reason="needs pdftotext")
def test_text_can_be_searched(plan: Plan, path: Path) -> None:
    said = subprocess.run([str(PDFTOTEXT), "-raw", path, "-"], check=True, capture_output=True, text=True).stdout
    assert plan.job.info.name in said and "page 1 of" in said
    missing = [piece.tag for piece in plan.pieces if piece.drop and piece.tag not in said]
    assert missing == []


def number(value: object, *, money: bool = False) -> str:
    """Return a number of plan.json as a pattern for how the page writes it, with every digit that it has."""
    digits = Decimal(repr(value))
    text = f"{digits:,.2f}" if money and digits == round(digits, 2) else f"{digits:,}"
    return re.escape(text.removesuffix(".0")) + (r"(?:\.0+)?" if text.endswith(".0") else "0*" * ("." in text))


@pytest.mark.skipif(not PDFTOTEXT, reason="needs pdftotext")
def test_the_takeoff_page_says_what_plan_json_says(plan: Plan, path: Path) -> None:
    """Every line in its order; net, order, price and cost to the last digit, and nothing where there is no price."""
    said = subprocess.run([str(PDFTOTEXT), "-layout", path, "-"], check=True, capture_output=True, text=True).stdout
    lines = [line.strip() for page in said.split("\f") if re.search(r"^\s*Takeoff(, part \d+ of \d+)?$", page, re.M)
             for line in page.splitlines()]
    rows = json.loads(plan_json(plan))["takeoff"]
    assert rows and len(rows) == len(plan.quantities)
    for row in rows:
        package = rf"\s+{re.escape(row['package'].split()[0])}.*?" if row["package"] else ""
        money = "".join(rf"\s+{number(row[key], money=True)}" for key in ("price", "cost") if row[key] is not None)
        basis = rf"\s+{re.escape(row['basis'].split()[0])}(?:\s.*)?" if row["basis"] else ""
        pattern = (rf"{re.escape(row['item'].split()[0])}.*?\s+{number(row['net'])}\s+{number(row['order'])}"
                   rf"\s+{re.escape(row['unit'])}{package}{money}{basis}")
        while lines and not re.fullmatch(pattern, lines[0]):
            lines.pop(0)
        assert lines, pattern
        lines.pop(0)


def test_takeoff_csv_says_what_plan_json_says(plan: Plan) -> None:
    rows = json.loads(plan_json(plan))["takeoff"]
    listed = list(csv.DictReader(io.StringIO(takeoff_csv(plan))))
    assert len(listed) == len(rows) > 10
    for line, row in zip(listed, rows, strict=True):
        assert [line[key] for key in ("item", "unit", "package", "basis", "group")] == [
            row[key] for key in ("item", "unit", "package", "basis", "group")]
        for key in ("net", "order", "price", "cost"):
            told = None if line[key] == "" else Decimal(line[key])
            assert told == (None if row[key] is None else Decimal(repr(row[key]))), (row["item"], key)


def test_a_price_keeps_its_last_digit() -> None:
    made = crew_plan()
    fine = replace(made.quantities[0], price=Decimal("0.1055"), cost=Decimal("1234.5"))
    pages = packet_pages(replace(made, quantities=(fine,)))
    said = {text.text for page in pages if "takeoff" in page.title.lower() for text in page_texts(page)}
    assert {"0.1055", "1,234.50"} <= said


def test_the_cover_says_what_is_proven_and_what_would_save() -> None:
    made = replace(crew_plan(), savings=({"text": "laps of 2 in save 1 roll and 205.00"},))
    first = packet_pages(made, PageWords(proof="proof: no layout and no cutting of it costs less than 390.00"))[0]
    said = " ".join(text.text for text in page_texts(first))
    assert "no layout and no cutting of it costs less than 390.00" in said
    assert "Savings laps of 2 in save 1 roll and 205.00" in said


def test_text_is_set_as_wide_as_it_was_measured(tmp_path: Path) -> None:
    """No kerning and no ligatures: the glyphs follow each other by their advances alone."""
    path = tmp_path / "x.pdf"
    write_pdf([page(Text("text", (50, 50), "AVAffi To", 5.0))], path, title="x")
    shown = re.findall(rb"\[(.*?)\] TJ", streams(path.read_bytes()), re.DOTALL)
    assert len(shown) == 1 and not re.search(rb"\)\s*-?[\d.]+\s*\(", shown[0])
    assert width("AVAffi To", 5.0) == pytest.approx(sum(width(each, 5.0) for each in "AVAffi To"))


def test_letters_the_face_does_not_have_are_no_reason_to_stop(tmp_path: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        write_pdf([page(Text("text", (50, 50), "地下室 🌊", 5.0))], tmp_path / "x.pdf", title="x")
    assert (tmp_path / "x.pdf").read_bytes().startswith(b"%PDF")


def test_odd_names_make_a_packet(tmp_path: Path) -> None:
    drawing.write_plan_pdf(crew_plan(name="(Süd) \\ ) %%EOF", face="<b>", sleeve="P)("), tmp_path / "x.pdf")
    if PDFTOTEXT:
        command = [str(PDFTOTEXT), "-raw", tmp_path / "x.pdf", "-"]
        said = subprocess.run(command, check=True, capture_output=True, text=True)
        assert "(Süd) \\ ) %%EOF" in said.stdout and said.stderr == ""


def test_what_cannot_be_drawn_is_an_error(tmp_path: Path) -> None:
    strange = Drawing("x", "x", INCH, 48, Box(0, 0, 10, 10), ("scribble",))  # type: ignore[arg-type]
    made = Page("1", "x", PAPERS["A3"], (View(strange, strange.frame, (10, 10)),), ())
    with pytest.raises(DrawingError, match="cannot draw a str"):
        write_pdf([made], tmp_path / "x.pdf", title="x")


def test_each_page_of_a_set_can_have_its_own_size(tmp_path: Path) -> None:
    write_pdf([page(paper="A1"), page(paper="ARCH D")], tmp_path / "x.pdf", title="x")
    boxes = re.findall(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+) ?\]", (tmp_path / "x.pdf").read_bytes())
    assert [float(each) for box in boxes for each in box] == pytest.approx(
        [841 / 25.4 * 72, 594 / 25.4 * 72, 36 * 72, 24 * 72], abs=0.01)
