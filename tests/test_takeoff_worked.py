"""One small job worked by hand, every line and every sum, and found the same in every file of its packet.

All lengths in inches. One straight wall 300 long and 96 high on a footing that stands out 6; the sheet goes 4 down its
face; no fillet. Sheet 36 wide lapped 3: nine drops make 9 x 36 - 8 x 3 = 300, just the wall.
"""

from __future__ import annotations

import csv
import json
import subprocess
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path

import openpyxl
import pytest

from helpers.spreadsheet import formulas, needs_office, recalculated
from layout.job import read_job_text
from layout.pipeline import audit_folder, make_plan, write_packet
from layout.records import Plan

JOB = """
job: {name: Worked by hand}
sheet: {name: sheet, width: 36, rolls: [{length: 66'-8", price: 205, weight_lb: 83}]}
strip: {name: tape, width: 18, rolls: [{length: 50'-0", price: 60, weight_lb: 31}]}
rules: {side_lap: 3, turn_down: 4, fillet: 0, base_strip: 18, clear_of_opening: 1, clear_of_sleeve: 1,
  cut_to: 1/16, roll_end: 0}
primer: {coverage: 250, price: 148, weight_lb: 46}
sealant: {volume: 29, price: 12}
termination_bar: {price: 13.6, fastener_price: 20}
consumables: [{item: seam roller, quantity: 2, price: 16}]
labour: {drops_per_day: 4, per_drop: 14.5, per_seam: 0.85, per_piece: 1.1, per_setup: 65, per_strip: 0.9, per_collar: 4,
         per_bar: 1.2, per_primer: 0.2, strip_per_day: 310, small_per_day: 20, bar_per_day: 82, primer_per_day: 859.6}
schedule: {start: 2026-05-04}
money: {currency: USD, markup: 10, tax: 8, tax_on: [materials]}
delivery: {rolls_a_pallet: 20, pallet_weight_lb: 45}
alternates: [{name: second coat, add: 90, per_area: 0.5}]
runs:
  - name: A
    faces:
      - name: South
        length: 300
        top: 96
        ledge: 6
        openings: [{tag: W1, kind: window, left: 103, sill: 40, width: 28, height: 30}]
        sleeves: [{tag: P1, at: 216, elevation: 48, diameter: 4}]
"""

LINES = [
    # 300 x (96 + 6 + 4) less the window 28 x 30 and the sleeve, 4 across: (31,800 - 840 - 12.5) / 144 = 214.9
    ("wall, ledge and footing face to cover", "214.9", "214.9", "", ""),
    ("wall/footing joint", "25.00", "25.00", "", ""),
    ("top edge", "25.00", "25.00", "", ""),
    # both ends of the run, 106 each: 212 / 12 = 17.67
    ("ends of open runs", "17.67", "17.67", "", ""),
    # around the window: 2 x (28 + 30) = 116; 116 / 12 = 9.67
    ("edges at openings", "9.67", "9.67", "", ""),
    # 8 seams of 106: 848 / 12 = 70.67
    ("side laps", "70.67", "70.67", "", ""),
    # 9 drops of 36 x 106: 34,344 of 36 x 800 = 28,800 a roll: 1.1925, told as 1.20, so 2 at 205. The window, 28 x 30,
    # lies in one drop (the fourth from the left, 99 to 135), and the collar, 16 x 16, comes from what it leaves
    ('membrane (sheet), roll 66\'-8"', "1.20", "2", "205", "410.00"),
    # joint strip in 3 pieces (10 ft at most) lapped 5: 300 + 2 x 5 = 310; 310 / 600 = 0.52, so 1 at 60
    ('strip (tape), roll 50\'-0"', "0.52", "1", "60", "60.00"),
    ("pieces of sheet", "9", "9", "", ""),
    ("base strip", "3", "3", "", ""),
    ("collar", "1", "1", "", ""),
    # under the strip, 18 wide, and the collar: (300 x 18 + 16 x 16 - 12.5) / 144 = 39.19; the rest of 214.91 is 175.72
    ("primer, first band", "39.2", "39.2", "", ""),
    ("primer, field", "175.7", "175.7", "", ""),
    # 214.9 / 250 = 0.86; with 5 % waste 0.90; 1 at 148
    ("primer", "0.86", "1", "148", "148.00"),
    # round beads of 1/4: (300 + 212 + 116) x 0.0491 = 30.83; of 1/2 around the sleeve: 12.57 x 0.1963 = 2.47;
    # 33.29 / (29 x 231 / 128 = 52.34) = 0.64; with 5 % 0.67; 1 at 12
    ("sealant", "0.64", "1", "12", "12.00"),
    # top 120 + 120 + 60, ends 96 + 96 (from the joint up): 492 / 120 = 4.10; no two rests fit one bar, so 5 at 13.60
    ("termination bar", "4.10", "5", "13.6", "68.00"),
    # 8 apart, 1 from each end: 2 x 16 + (1 + 58 / 8 up = 9) + 2 x (1 + 94 / 8 up = 13) = 67; 0.67 packages of 100
    ("fastener", "0.67", "1", "20", "20.00"),
    ("seam roller", "2.00", "2", "16", "32.00"),
    # 214.9 x 0.20
    ("prime", "214.9", "214.9", "0.2", "42.98"),
    # 310 / 12 = 25.83 x 0.90 = 23.247
    ("put on: base strip", "25.83", "25.83", "0.9", "23.25"),
    ("put on: collar", "1", "1", "4", "4.00"),
    # 9 x 14.50
    ("hang drops", "9", "9", "14.5", "130.50"),
    # 70.67 x 0.85 = 60.0695
    ("roll seams", "70.67", "70.67", "0.85", "60.07"),
    # 492 / 12 = 41 x 1.20
    ("fasten termination bar", "41.00", "41.00", "1.2", "49.20"),
    # 9 + 3 + 1 pieces x 1.10
    ("cut pieces", "13", "13", "1.1", "14.30"),
    ("set up", "1", "1", "65", "65.00"),
    ("weight of membrane (sheet) rolls", "166.0", "166.0", "", ""),
    # 2 x 83 + 45
    ("heaviest pallet of membrane (sheet)", "211.0", "211.0", "", ""),
    # 106 x 36 / 144 = 26.5 sq ft at 83 / 200 = 0.415: 10.9975, rounded up
    ("heaviest piece of membrane (sheet)", "11.0", "11.0", "", ""),
    ("weight of strip (tape) rolls", "31.0", "31.0", "", ""),
    ("heaviest pallet of strip (tape)", "76.0", "76.0", "", ""),
    # the longest piece of strip: 310 / 3 is 103 1/3; pieces of 10 ft and a rest: 120 x 18 / 144 = 15 at 31 / 75 = 0.413
    ("heaviest piece of strip (tape)", "6.2", "6.2", "", ""),
    # 410 + 60 + 148 + 12 + 68 + 20 + 32
    ("materials", "750.00", "750.00", "", "750.00"),
    # 42.98 + 23.25 + 4 + 130.50 + 60.07 + 49.20 + 14.30 + 65
    ("labour", "389.30", "389.30", "", "389.30"),
    # 10 % of 750 + 389.30 = 1,139.30
    ("markup", "113.93", "113.93", "", "113.93"),
    # 8 % of materials alone
    ("tax", "60.00", "60.00", "", "60.00"),
    # 750 + 389.30 + 113.93 + 60
    ("total", "1313.23", "1313.23", "", "1313.23"),
    # 1,313.23 / 214.9
    ("total a sq ft", "6.11", "6.11", "", "6.11"),
    # 90 + 0.5 x 214.9
    ("alternate: second coat", "197.45", "197.45", "", "197.45"),
]
"""Item, net, order, price and cost of every line."""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(read_job_text(JOB, "worked.yaml"))


@pytest.fixture(scope="module")
def packet(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("worked") / "packet"
    assert write_packet(plan, folder) == ()
    return folder


def money(text: object) -> Decimal | None:
    return None if text in ("", None) else Decimal(str(text))


def test_csv_line_by_line(packet: Path) -> None:
    with open(packet / "takeoff.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(row["item"], row["net"], row["order"], row["price"], row["cost"]) for row in rows] == LINES


def test_json_line_by_line(packet: Path) -> None:
    data = json.loads((packet / "plan.json").read_text(encoding="utf-8"))
    for row, (item, net, order, price, cost) in zip(data["takeoff"], LINES, strict=True):
        assert row["item"] == item
        for key, text in (("net", net), ("order", order), ("price", price), ("cost", cost)):
            assert (None if row[key] is None else Decimal(repr(row[key]))) == money(text), (item, key)
    costing = data["costing"]
    assert (costing["materials"], costing["labour"], costing["markup"], costing["tax"], costing["total"]) == (
        750.0, 389.3, 113.93, 60.0, 1313.23)
    assert costing["unpriced"] == []
    assert data["summary"]["drops"] == 9 and data["summary"]["pieces_of_sheet"] == 9
    assert data["summary"]["pieces_of_reinforcing"] == 4 and data["summary"]["pieces"] == 13


class Rows(HTMLParser):
    """The cells of every row of every table."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th") and self.rows:
            self.inside = True
            self.rows[-1].append("")

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self.inside = False

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.rows[-1][-1] += data


def test_page_tells_what_is_needed_and_no_money(packet: Path) -> None:
    """The page is the crew's: it lists what the job takes; prices stay in the takeoff."""
    page = Rows()
    page.feed((packet / "packet.html").read_text(encoding="utf-8"))
    shown = {row[0]: row for row in page.rows if row}
    data = json.loads((packet / "plan.json").read_text(encoding="utf-8"))
    bought = {line["item"] for line in data["takeoff"] if line["group"] == "material"}
    assert len(bought) == 7
    for item, _, order, _, _ in LINES:
        if item in bought:
            assert shown[item][1].split()[0] == order
    assert "1,313.23" not in (packet / "packet.html").read_text(encoding="utf-8")


def test_pdf_text_line_by_line(packet: Path) -> None:
    text = subprocess.run(["pdftotext", "-layout", str(packet / "packet.pdf"), "-"], capture_output=True, text=True,
                          check=True).stdout
    words = " ".join(text.split())
    for item, _, _, _, cost in LINES:
        name = item.split(" ")[0]
        assert name in words
        if cost:
            assert f"{Decimal(cost):,.2f}" in words, item


def cells(book: openpyxl.Workbook, sheet: str) -> dict[str, dict[str, object]]:
    """Return the rows of a sheet by their first cell, each by its headings."""
    rows = [[cell.value for cell in row] for row in book[sheet].iter_rows()]
    head = next(number for number, row in enumerate(rows) if row[0] == "item")
    return {str(row[0]): dict(zip(map(str, rows[head]), row)) for row in rows[head + 1:] if row[0]}


@pytest.fixture(scope="module")
def book(packet: Path, tmp_path_factory: pytest.TempPathFactory) -> openpyxl.Workbook:
    """The workbook as a spreadsheet program works it out."""
    return recalculated(packet / "cut-list.xlsx", tmp_path_factory.mktemp("office"))


@needs_office
def test_workbook_recalculated_line_by_line(book: openpyxl.Workbook) -> None:
    rows = cells(book, "Takeoff")
    for item, net, order, price, cost in LINES:
        row = rows[item]
        if row["group"] != "money":
            assert float(str(row["net"])) == float(net) and float(str(row["order"])) == float(order)
            assert (row["price"] or "") == (float(price) if price else "")
        assert (row["cost"] or "") == (pytest.approx(float(cost), abs=1e-9) if cost else "")
        assert (row["as planned"] or "") == (float(cost) if cost else "")
    order = cells(book, "Order")
    assert (order["membrane (sheet)"]["buy"], order["membrane (sheet)"]["load lb"]) == (2, 166)
    assert order["total of what is priced and weighed"]["cost"] == 750


@needs_office
def test_every_formula_gives_the_value_it_carries(packet: Path, book: openpyxl.Workbook) -> None:
    found = formulas(packet / "cut-list.xlsx")
    assert len(found) > 60
    for sheet, cell, stored in found:
        value = book[sheet][cell].value
        needed = pytest.approx(stored, abs=1e-9) if isinstance(stored, float | int) else (stored or 0)
        assert (value or 0) == needed, (sheet, cell)


@needs_office
@pytest.mark.slow
def test_a_price_that_is_changed_reaches_the_total(packet: Path, tmp_path: Path) -> None:
    """Rolls at 215 for 205: materials 770, markup 115.93, tax 61.60, total 770 + 389.30 + 115.93 + 61.60."""
    book = openpyxl.load_workbook(packet / "cut-list.xlsx")
    sheet = book["Takeoff"]
    row = next(row for row in sheet.iter_rows() if str(row[0].value).startswith("membrane (sheet), roll"))
    row[5].value = 215
    book.save(tmp_path / "changed.xlsx")
    rows = cells(recalculated(tmp_path / "changed.xlsx", tmp_path / "work"), "Takeoff")
    assert rows["total"]["cost"] == pytest.approx(1336.83) and rows["total"]["as planned"] == 1313.23


def test_order_list(packet: Path) -> None:
    with open(packet / "order.csv", encoding="utf-8", newline="") as file:
        rows = {row["item"]: row for row in csv.DictReader(file)}
    sheet = rows["membrane (sheet)"]
    assert (sheet["size"], sheet["need"], sheet["stock"], sheet["buy"], sheet["cost"]) == (
        '36" by 66\'-8"', "2", "0", "2", "410.00")
    assert (sheet["load_lb"], sheet["pallets"]) == ("166", "1")
    assert rows["primer"]["load_lb"] == "46"
    assert sum(Decimal(row["cost"]) for row in rows.values()) == 750


def test_dates_count_every_kind_of_work(plan: Plan, packet: Path) -> None:
    """Priming 214.91 / 859.6 = 0.25 day, strip 25.83 / 310 = 0.083, collar 1 / 20 = 0.05: the drops begin at 0.38.

    Nine drops at 4 a day take 2.25 days, to 2.63: the last begins at 2.38. The bar, 41 / 82, ends at 3.13.
    """
    rows = {line.item: line for line in plan.order}
    assert rows["primer"].needed_by == "2026-05-04" and rows["termination bar"].needed_by == "2026-05-06"
    face, = plan.dates
    assert (face.first, face.last) == ("2026-05-04", "2026-05-06")
    assert not any("give no time" in note for note in plan.notes)


def test_audit_finds_every_figure_that_is_changed(packet: Path, tmp_path: Path) -> None:
    """Each change of one figure in one file is found."""
    import shutil

    def broken(name: str, old: str, new: str) -> set[int]:
        copy = tmp_path / "copy"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(packet, copy)
        text = (copy / name).read_text(encoding="utf-8")
        assert old in text, (name, old)
        (copy / name).write_text(text.replace(old, new, 1), encoding="utf-8")
        return {finding.number for finding in audit_folder(copy)}

    assert 830 in broken("plan.json", '"cost": 12.0,', '"cost": 13.0,')
    assert 831 in broken("plan.json", '"net": 4.1, "order": 5.0', '"net": 4.1, "order": 4.0')
    assert 832 in broken("plan.json", '"total": 1313.23', '"total": 1314.23')
    assert 833 in broken(
        "plan.json", '"unit": "drop", "net": 9.0, "order": 9.0', '"unit": "drop", "net": 9.0, "order": 10.0')
    assert 834 in broken("plan.json", '"need": 2, "stock": 0, "buy": 2', '"need": 3, "stock": 0, "buy": 3')
    assert 914 in broken("takeoff.csv", "1313.23", "1314.23")
    assert 940 in broken("order.csv", "410.00", "411.00")


def test_audit_finds_a_figure_changed_in_the_workbook(packet: Path, tmp_path: Path) -> None:
    import shutil

    copy = tmp_path / "copy"
    shutil.copytree(packet, copy)
    book = openpyxl.load_workbook(copy / "cut-list.xlsx")
    for row in book["Takeoff"].iter_rows():
        if row[0].value == "total":
            row[7].value = 1314.23
    book.save(copy / "cut-list.xlsx")
    assert 941 in {finding.number for finding in audit_folder(copy)}
