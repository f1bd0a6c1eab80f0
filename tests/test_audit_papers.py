"""The audit, tested by breaking one paper at a time in a good packet: files changed as they lie in the folder."""

from __future__ import annotations

import ast
import csv
import json
import re
import shutil
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from html import escape, unescape
from pathlib import Path
from typing import Any

import pytest

from helpers.frozen import frozen_plan
from helpers.packets import (
    findings, paper_findings, print_lines, print_pdf, write_drawings, write_print, write_rest, write_tables,
)
from helpers.thinned import thinned
from layout.audit import FINDINGS
from layout.records import Plan

Change = Callable[[Path], None]


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Good packets: one with everything, and one around which water runs one way, so that a seam is tucked.

    That nothing is wrong in plan.json either is what each change of it shows: it gives its own finding alone.
    """
    made = {}
    for name in ("nook", "ring"):
        plan = frozen_plan(name)
        folder = tmp_path_factory.mktemp(name) / "packet"
        write_tables(plan, folder)
        write_drawings(plan, folder)
        write_rest(plan, folder)
        assert paper_findings(folder) == ()
        made[name] = folder
    return made


# --- changes -----------------------------------------------------------------------------------

def in_plan(change: Callable[[dict[str, Any]], None]) -> Change:
    """Change what plan.json holds."""
    def run(folder: Path) -> None:
        data = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        before = json.dumps(data)
        change(data)
        assert json.dumps(data) != before
        (folder / "plan.json").write_text(json.dumps(data), encoding="utf-8")

    return run


def put(value: Any, *steps: str | int) -> Change:
    """Put a value at a place in plan.json."""
    def change(data: dict[str, Any]) -> None:
        place: Any = data
        for step in steps[:-1]:
            place = place[step]
        place[steps[-1]] = value

    return in_plan(change)


def without(*steps: str | int) -> Change:
    """Take a value out of plan.json."""
    def change(data: dict[str, Any]) -> None:
        place: Any = data
        for step in steps[:-1]:
            place = place[step]
        del place[steps[-1]]

    return in_plan(change)


def gone(name: str) -> Change:
    """Remove a file."""
    return lambda folder: (folder / name).unlink()


def written(name: str, content: bytes) -> Change:
    """Put other bytes into a file."""
    def run(folder: Path) -> None:
        (folder / name).write_bytes(content)

    return run


def replaced(name: str, old: str, new: str, *, count: int = 1) -> Change:
    """Put other text in the place of a regular expression's first match."""
    def run(folder: Path) -> None:
        text = (folder / name).read_text(encoding="utf-8")
        changed = re.sub(old, new, text, count=count, flags=re.S)
        assert changed != text, f"{old} is not in {name}"
        (folder / name).write_text(changed, encoding="utf-8")

    return run


def cut_short(name: str, share: float) -> Change:
    """Keep only the first part of a file."""
    def run(folder: Path) -> None:
        content = (folder / name).read_bytes()
        (folder / name).write_bytes(content[:int(len(content) * share)])

    return run


def in_rows(change: Callable[[list[str]], list[str]], name: str = "cut-list.csv") -> Change:
    """Change the lines of a table, headings first."""
    def run(folder: Path) -> None:
        lines = (folder / name).read_text(encoding="utf-8").splitlines()
        changed = change(list(lines))
        assert changed != lines
        (folder / name).write_text("\n".join(changed) + "\n", encoding="utf-8")

    return run


def with_cell(column: str, text: str, name: str = "cut-list.csv", *, row: int = 1) -> Change:
    """Put another text into a cell of a table."""
    def run(folder: Path) -> None:
        with open(folder / name, encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file))
        assert rows[row][rows[0].index(column)] != text
        rows[row][rows[0].index(column)] = text
        with open(folder / name, "w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows(rows)

    return run


def swapped_rows(lines: list[str]) -> list[str]:
    """Let the first two cuts change places, numbered as they now stand."""
    first, second = lines[1].split(",", 1), lines[2].split(",", 1)
    return [lines[0], f"1,{second[1]}", f"2,{first[1]}", *lines[3:]]


def in_workbook(change: Callable[[str, str], str]) -> Change:
    """Change the parts of the spreadsheet: (name, text) to text."""
    def run(folder: Path) -> None:
        path = folder / "cut-list.xlsx"
        with zipfile.ZipFile(path) as book:
            parts = {name: book.read(name) for name in book.namelist()}
        changed = {name: change(name, content.decode("utf-8")).encode("utf-8") for name, content in parts.items()}
        assert changed != parts
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
            for name, content in changed.items():
                book.writestr(name, content)

    return run


def in_sheet(pattern: str, new: str, part: str = "xl/worksheets/sheet2.xml") -> Change:
    """Change the first match in one sheet of the spreadsheet."""
    return in_workbook(lambda name, text: re.sub(pattern, new, text, count=1) if name == part else text)


def everywhere(old: str, new: str) -> Change:
    """Change words of the marks in every paper that holds them."""
    def run(folder: Path) -> None:
        for name in ("plan.json", "cut-list.csv", "packet.html"):
            text = (folder / name).read_text(encoding="utf-8")
            assert old in text
            (folder / name).write_text(text.replace(old, new), encoding="utf-8")
        in_workbook(lambda name, text: text.replace(old, new))(folder)
        write_print(folder)

    return run


def in_marks(tag: str, change: Callable[[str], str]) -> Change:
    """Change the first mark of a piece that can be changed so, in every paper that holds it."""
    def run(folder: Path) -> None:
        data = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        piece = next(piece for piece in data["pieces"] if piece["tag"] == tag)
        at = next(index for index, mark in enumerate(piece["marks"]) if change(mark) != mark)
        old, new = piece["marks"][at], change(piece["marks"][at])
        piece["marks"][at] = new
        (folder / "plan.json").write_text(json.dumps(data), encoding="utf-8")
        table = (folder / "cut-list.csv").read_text(encoding="utf-8")
        quoted = old.replace('"', '""')
        line = next(line for line in table.splitlines() if f",{tag}," in line)
        assert quoted in line
        table = table.replace(line, line.replace(quoted, new.replace('"', '""'), 1))
        (folder / "cut-list.csv").write_text(table, encoding="utf-8")
        escaped = old.replace("&", "&amp;")
        in_workbook(lambda name, text: text.replace(escaped, new.replace("&", "&amp;"), 1))(folder)
        page = (folder / "packet.html").read_text(encoding="utf-8")
        items = [item for item in re.findall(r"<li>.*?</li>", page)
                 if unescape(re.sub("<[^>]*>", "", item)).replace("\N{NO-BREAK SPACE}", " ") == old]
        assert items
        for item in items:
            page = page.replace(item, f"<li>{escape(new)}</li>")
        (folder / "packet.html").write_text(page, encoding="utf-8")
        write_print(folder)

    return run


def all_of(*changes: Change) -> Change:
    """Make several changes."""
    def run(folder: Path) -> None:
        for change in changes:
            change(folder)

    return run


def moved_point(tag: str) -> Change:
    """Move the first point of a piece's outline in the DXF by a sixteenth of an inch."""
    def run(folder: Path) -> None:
        path = folder / "elevations.dxf"
        text = path.read_text(encoding="utf-8")
        end = text.index(f"1001\nLAPWRIGHT\n1000\n{tag}\n")
        start = text.rindex("LWPOLYLINE", 0, end)
        one = text[start:end]
        first = re.search(r"\n 10\n([0-9.eE+-]+)\n", one)
        assert first
        moved = one.replace(first[0], f"\n 10\n{float(first[1]) + 0.0625!r}\n", 1)
        path.write_text(text[:start] + moved + text[end:], encoding="utf-8")

    return run


def opened(tag: str) -> Change:
    """Leave a piece's outline in the DXF open."""
    def run(folder: Path) -> None:
        path = folder / "elevations.dxf"
        text = path.read_text(encoding="utf-8")
        end = text.index(f"1001\nLAPWRIGHT\n1000\n{tag}\n")
        start = text.rindex("LWPOLYLINE", 0, end)
        one = text[start:end]
        assert "\n 70\n1\n" in one
        path.write_text(text[:start] + one.replace("\n 70\n1\n", "\n 70\n0\n", 1) + text[end:], encoding="utf-8")

    return run


def two_more(name: str) -> Change:
    """Add two square feet to one of the sheet's areas."""
    def change(data: dict[str, Any]) -> None:
        data["products"][0]["area"][name] += 2

    return in_plan(change)


def billed(change: Callable[[Plan], Plan]) -> Change:
    """Write tables and page of the nook with another bill: all of them agree."""
    def run(folder: Path) -> None:
        before = frozen_plan("nook")
        plan = change(before)
        assert plan != before
        write_tables(plan, folder)
        write_rest(plan, folder)

    return run


def line_with(item: str, **changes: Any) -> Change:
    """Change a line of the takeoff."""
    return billed(lambda plan: replace(plan, quantities=tuple(
        replace(line, **changes) if line.item == item else line for line in plan.quantities)))


def ordered_with(**changes: Any) -> Change:
    """Change the first line of the order."""
    return billed(lambda plan: replace(plan, order=(replace(plan.order[0], **changes), *plan.order[1:])))


def one_dear_pail(plan: Plan) -> Plan:
    """Order one pail of primer for the money of two: 1.16 are needed."""
    dear = {"price": Decimal(200), "cost": Decimal("200.00")}
    return replace(
        plan, quantities=tuple(replace(line, order=Decimal(1), **dear) if line.item == "primer" else line
                               for line in plan.quantities),
        order=tuple(replace(line, need=1, buy=1, **dear) if line.item == "primer" else line for line in plan.order))


SVG = "elevations/a-north.svg"
SOUTH, EAST = "elevations/a-south.svg", "elevations/a-east.svg"
FIRST_PIECE = r'(<g id="piece-A-09"><title>[^<]*</title><path class="lw-piece" d="M)([0-9.]+)'


def on_card(tag: str, old: str, new: str, *, count: int = 1) -> Change:
    """Put other text in the place of a regular expression's first match on a piece's card."""
    def run(folder: Path) -> None:
        path = folder / "packet.html"
        page = path.read_text(encoding="utf-8")
        start = page.index(f'id="piece-{tag}"')
        end = page.index('id="piece-', start + 20)
        changed = re.sub(old, new, page[start:end], count=count, flags=re.S)
        assert changed != page[start:end], f"{old} is not on the card of {tag}"
        path.write_text(page[:start] + changed + page[end:], encoding="utf-8")

    return run


def slit_piece(kind: str) -> Callable[[Path], str]:
    """Return the tag of the first slit piece of a kind."""
    def find(folder: Path) -> str:
        data = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        return str(next(piece["tag"] for piece in data["pieces"] if piece["kind"] == kind and piece["slits"]))

    return find


def on_slit_card(old: str, new: str) -> Change:
    """Put other text on the card of a drop with a slit."""
    return lambda folder: on_card(slit_piece("drop")(folder), old, new)(folder)


def printed(change: Callable[[list[str]], list[str]]) -> Change:
    """Print a PDF with other lines than the digest and the marks of the plan."""
    def run(folder: Path) -> None:
        lines = print_lines(folder)
        changed = change(list(lines))
        assert changed != lines
        print_pdf(changed, folder)

    return run


def after_text(text: str, figure: str, *, places: int = 1) -> Callable[[list[str]], list[str]]:
    """Put another figure in the cell so many places after a text's last."""
    def change(lines: list[str]) -> list[str]:
        at = max(index for index, line in enumerate(lines) if line == text) + places
        assert re.fullmatch("[0-9,.]+", lines[at]) and lines[at] != figure
        return [*lines[:at], figure, *lines[at + 1:]]

    return change


def printed_of(name: str) -> Change:
    """Put the PDF of another plan in the packet."""
    def run(folder: Path) -> None:
        other = folder.parent / "other"
        write_tables(frozen_plan(name), other)
        write_print(other)
        shutil.copy(other / "packet.pdf", folder / "packet.pdf")

    return run


def without_marks(name: str, use: str) -> Change:
    """Leave out everything an SVG draws on one layer."""
    return replaced(name, rf'<path class="lw-{use}"[^>]*/>', "", count=0)


def no_dimension(folder: Path) -> None:
    """Call every dimension of the DXF something else."""
    path = folder / "elevations.dxf"
    text = path.read_text(encoding="utf-8")
    assert "\n  0\nDIMENSION\n" in text
    path.write_text(text.replace("\n  0\nDIMENSION\n", "\n  0\nPICTURE\n"), encoding="utf-8")


@dataclass(frozen=True)
class Broke:
    """One thing broken in a packet's files, and the finding it must give; ``packet`` names the plan they are of."""

    name: str
    number: int
    change: Change
    packet: str = "nook"


PAPERS = [
    # 1xx: files, format, names
    *(Broke(f"{name} missing", 101, gone(name)) for name in (
        "plan.json", "cut-list.csv", "cut-list.xlsx", "takeoff.csv", "elevations.dxf", SVG, "rolls.svg", "packet.html",
        "packet.pdf",
    )),
    Broke("plan.json cut short", 102, cut_short("plan.json", 0.7)),
    Broke("plan.json nested without end", 102, written("plan.json", b"[" * 100_000)),
    Broke("plan.json not UTF-8", 102, written("plan.json", b'{"format": "\xff"}')),
    Broke("cut list with a short row", 102, in_rows(
        lambda lines: [*lines[:3], lines[3].rsplit(",", 2)[0], *lines[4:]])),
    Broke("cut list empty", 102, written("cut-list.csv", b"")),
    Broke("cut list with other headings", 102, replaced("cut-list.csv", "^cut,roll", "roll,cut")),
    Broke("spreadsheet cut short", 102, cut_short("cut-list.xlsx", 0.7)),
    Broke("spreadsheet no zip", 102, written("cut-list.xlsx", b"PK nothing")),
    Broke("DXF cut short", 102, cut_short("elevations.dxf", 0.5)),
    Broke("DXF of something else", 102, written("elevations.dxf", b"not a drawing\n")),
    Broke("DXF without its end", 102, replaced("elevations.dxf", r"  0\nEOF\n", "")),
    Broke("DXF with words for a number", 102, replaced(
        "elevations.dxf", r"(\n 10\n)[0-9.eE+-]+(\n 20\n[^\n]*\n1001\nLAPWRIGHT\n)", r"\g<1>here\g<2>")),
    Broke("SVG with words for a point", 102, replaced(SVG, FIRST_PIECE, r"\g<1>here")),
    Broke("phone packet not UTF-8", 102, written("packet.html", b"<html>\xff")),
    Broke("SVG cut short", 102, cut_short(SVG, 0.9)),
    Broke("SVG without its scale", 102, replaced(SVG, "scale 1:48", "no scale")),
    Broke("PDF that is none", 102, written("packet.pdf", b"hello")),
    Broke("roll drawing that is none", 102, written("rolls.svg", b"hello")),
    Broke("a drop without its left", 103, without("drops", 3, "left")),
    Broke("no summary", 103, without("summary")),
    Broke("a width in words", 103, put("wide", "pieces", 3, "width")),
    Broke("a count that is true", 103, put(True, "drops", 0, "install")),
    Broke("an outline of two points", 103, put([[0, 0], [1, 1]], "pieces", 0, "outline")),
    Broke("pieces that are no list", 103, put({}, "pieces")),
    Broke("a drop that is a number", 103, put(7, "drops", 0)),
    Broke("a roll's length not finite", 102, put(float("inf"), "rolls", 0, "length")),
    Broke("a roll's tag twice", 104, in_plan(lambda data: data["rolls"].append({**data["rolls"][0], "cuts": []}))),
    Broke("a seam of a drop that is not there", 105, put("A-77", "seams", 0, "right")),
    Broke("a piece of a drop that is not there", 105, put(["A-77"], "drops", 0, "pieces")),
    Broke("a drop without pieces", 105, put([], "drops", 0, "pieces")),
    Broke("a third drop over a seam", 105, put("A-05", "seams", 0, "over")),
    Broke("an exception of a run that is not there", 105, put("Z", "exceptions", 0, "run")),
    Broke("a cut of a piece that is not there", 105, put("A-77", "rolls", 0, "cuts", 0, "piece")),
    Broke("a station off the tick", 106, put(33.33, "drops", 2, "left")),
    Broke("a length beyond belief", 106, put(1e300, "rolls", 0, "length")),
    Broke("another run", 107, in_plan(lambda data: data.update(json.loads(
        json.dumps(data).replace('"run": "A"', '"run": "B"').replace('"name": "A"', '"name": "B"'))))),
    Broke("a face that ends elsewhere", 107, put(111.0, "runs", 0, "faces", 0, "to")),
    Broke("another corner", 107, put("inside", "runs", 0, "faces", 0, "corner")),
    Broke("a run left open", 107, put(False, "runs", 0, "closed")),
    Broke("a face less", 107, without("runs", 0, "faces", 3)),
    Broke("another unit", 108, put("mm", "unit")),
    Broke("another version", 108, put(2, "version")),
    Broke("another format", 108, put("plan", "format")),
    # 2xx: what leaves no shape to check
    Broke("an outline that crosses itself", 206, in_plan(lambda data: data["pieces"][8]["outline"].insert(
        0, data["pieces"][8]["outline"].pop(1)))),
    # 7xx, 8xx: what only plan.json says
    Broke("a piece that names another roll", 707, put("R02", "pieces", 0, "roll")),
    Broke("a piece cut out of one on no such roll", 714, in_plan(lambda data: next(
        cut for roll in data["rolls"] for cut in roll["cuts"] if cut.get("within")).update(within="A-12"))),
    Broke("a cut in the end of a roll left for squaring", 715, replaced(
        "job.yaml", 'roll_end: 1"', 'roll_end: 1 1/2"')),
    Broke("a roll more", 802, put({'50\'-0"': 3}, "summary", "rolls")),
    Broke("a remnant more", 803, in_plan(lambda data: data["summary"].update(
        remnants_used=data["summary"]["remnants_used"] + 1))),
    Broke("areas that do not add up", 804, in_plan(lambda data: data["summary"]["area"].update(
        laps=data["summary"]["area"]["laps"] + 0.02))),
    *(Broke(f"{name} two more", number, two_more(name)) for name, number in (
        ("to_cover", 805), ("laps", 806), ("cut_away", 807), ("leftover_kept", 808), ("ordered", 809), ("scrap", 813),
    )),
    # 83x, 94x: the bill
    Broke("a cost of the order", 830, ordered_with(cost=Decimal(301))),
    Broke("less primer than is needed", 831, billed(one_dear_pail)),
    Broke("a total of other lines", 832, put(801.0, "costing", "total")),
    Broke("a piece more in the takeoff", 833, line_with("corner strip", net=Decimal(5), order=Decimal(5))),
    Broke("an order of more than is needed", 834, ordered_with(need=3, stock=1)),
    Broke("a need in the order list", 940, with_cell("need", "3", "order.csv")),
    Broke("a line missing from the order list", 940, in_rows(lambda lines: lines[:-1], "order.csv")),
    Broke("an item of another name in the spreadsheet", 941, in_sheet(
        "wall/footing joint", "joint at the footing", "xl/sharedStrings.xml")),
    Broke("a material of another name on the page", 942, replaced(
        "packet.html", "<td><bdi>primer</bdi></td>", "<td><bdi>paint</bdi></td>")),
    Broke("another count of a material on the page", 942, replaced(
        "packet.html", r'<td class="num">2 pail</td>', '<td class="num">3 pail</td>')),
    # 9xx: tables
    Broke("a row less", 901, in_rows(lambda lines: [*lines[:4], *lines[5:]])),
    Broke("a row twice", 901, in_rows(lambda lines: [*lines, lines[4]])),
    Broke("a piece nobody planned", 901, replaced("cut-list.csv", ",A-09,", ",A-99,")),
    Broke("a length an inch off", 902, replaced("cut-list.csv", r"North,\"8'-7 3/4", "North,\"8'-8 3/4")),
    Broke("a length in words", 902, replaced("cut-list.csv", r',"36""",', ',"wide""",')),
    Broke("a length without its unit", 902, replaced("cut-list.csv", r',"36""",', ",36,")),
    Broke("another roll", 902, replaced("cut-list.csv", r"\n1,R01,", r"\n1,R02,")),
    Broke("another place on the roll", 902, replaced("cut-list.csv", r'\n1,R01,"0"""', r'\n1,R01,"1"""')),
    Broke("another kind", 902, replaced("cut-list.csv", ",collar,", ",cover,")),
    Broke("another face", 902, replaced("cut-list.csv", ",drop,A,North,", ",drop,A,South,")),
    Broke("another station", 902, replaced("cut-list.csv", r"22'-6 1/2", "22'-7 1/2")),
    Broke("other marks liner side up", 902, replaced(
        "cut-list.csv", r"notch right edge 3'-6 9/16", "notch right edge 3'-6")),
    Broke("cuts in another order", 903, in_rows(swapped_rows)),
    Broke("marks in other words", 904, everywhere("dia, centre", "bore, centre")),
    Broke("a hole an inch lower", 905, in_marks("A-06", lambda mark: re.sub(
        r"right, (\d+)'-(\d+)", lambda m: f"right, {m[1]}'-{int(m[2]) - 1}", mark))),
    Broke("a hole a little larger", 905, in_marks("A-06", lambda mark: mark.replace('4" dia', '4 1/2" dia'))),
    Broke("a notch an inch wider", 905, in_marks("A-05", lambda mark: mark.replace('25" wide', '26" wide'))),
    Broke("a trim a sixteenth longer", 905, in_marks("A-11", lambda mark: mark.replace('1 5/16" long', '1 3/8" long'))),
    Broke("a number in the spreadsheet", 906, in_sheet(r'(<c r="H6"[^>]*><v>)[0-9.]+', r"\g<1>99")),
    Broke("a row less in the spreadsheet", 906, in_sheet(r"(<c r=\"A7\"[^>]*><v>)\d+", r"\g<1>0.5")),
    Broke("a roll's sheet that ends early", 906, in_sheet(r'<row r="8".*?</row>', "")),
    Broke("a roll without its sheet", 906, in_workbook(
        lambda name, text: re.sub(r'<sheet name="R02"[^>]*/>', "", text) if name == "xl/workbook.xml" else text)),
    # 9xx: drawings
    Broke("a piece not in the DXF", 907, replaced("elevations.dxf", "1000\nA-09\n", "1000\nA-99\n")),
    Broke("a piece twice in the DXF", 907, replaced("elevations.dxf", "1000\nA-09\n", "1000\nA-10\n")),
    Broke("a point moved in the DXF", 908, moved_point("A-09")),
    Broke("an outline left open in the DXF", 908, opened("A-09")),
    Broke("a tag of another drop", 909, replaced(
        "elevations.dxf", r"(\nATTRIB\n(?:(?!\n  0\n).)*?\n  1\n)A-09\n", r"\g<1>A-10\n")),
    Broke("a DXF in millimetres", 910, replaced("elevations.dxf", r"(\$INSUNITS\n 70\n)1\n", r"\g<1>4\n")),
    Broke("a piece not in its SVG", 911, replaced(SVG, 'id="piece-A-09"', 'id="A-09"')),
    Broke("a piece nobody planned in an SVG", 911, replaced(
        SVG, "</svg>", '<g id="piece-A-99"><title>x</title></g></svg>')),
    Broke("a point moved in an SVG", 912, replaced(SVG, FIRST_PIECE, r"\g<1>300")),
    Broke("a cut not on the roll cards", 911, replaced("rolls.svg", 'id="piece-A-09"', 'id="A-09"')),
    Broke("a cut elsewhere on its roll card", 912, replaced(
        "rolls.svg", r'(<g id="piece-A-09"><title>[^<]*</title><path class="[a-z-]*" d="M)([0-9.]+)', r"\g<1>100")),
    Broke("a cut without its title", 913, replaced(
        "rolls.svg", r'(<g id="piece-A-09">)<title>[^<]*</title>', r"\g<1>")),
    Broke("a piece without its outline in an SVG", 912, replaced(
        SVG, r'(<g id="piece-A-09"><title>[^<]*</title>).*?</g>', r"\g<1></g>")),
    Broke("a cut without its outline", 912, replaced(
        "rolls.svg", r'(<g id="piece-A-10"><title>[^<]*</title>).*?</g>', r"\g<1></g>")),
    Broke("a piece without its title", 913, replaced(SVG, r'(<g id="piece-A-09">)<title>[^<]*</title>', r"\g<1>")),
    Broke("a takeoff line less", 914, in_rows(lambda lines: lines[:-1], "takeoff.csv")),
    Broke("a takeoff figure in words", 914, in_rows(lambda lines: [
        *lines[:4], lines[4].replace("joint,", "joint,about ", 1), *lines[5:]], "takeoff.csv")),
    Broke("a takeoff line by another name", 914, in_rows(lambda lines: [
        *lines[:4], lines[4].replace("joint,", "seam,", 1), *lines[5:]], "takeoff.csv")),
    Broke("a takeoff figure", 914, in_rows(lambda lines: [
        *lines[:4], lines[4].replace("joint,", "joint,9", 1), *lines[5:]], "takeoff.csv")),
    Broke("a piece not in the phone packet", 915, replaced("packet.html", "A-CL-P1", "A-CLP1", count=0)),
    Broke("a formula in the cut list", 916, with_cell("note", "=1+1")),
    Broke("a link in the spreadsheet", 916, in_sheet(r"<f>[^<]*</f>", '<f>HYPERLINK("http://x")</f>')),
    Broke("a script in an SVG", 916, replaced(SVG, "</svg>", "<script>1</script></svg>")),
    # 9xx: what is drawn and said besides
    Broke("a slit elsewhere in the DXF", 917, replaced(
        "elevations.dxf", r"(Z-MEMB-SLIT-N\n100\nAcDbLine\n 10\n)[0-9.eE+-]+", r"\g<1>1.0", count=0)),
    Broke("slits not in an SVG", 918, without_marks(SOUTH, "slit")),
    Broke("a slit elsewhere in an SVG", 918, replaced(
        SOUTH, r'(<path class="lw-slit" d="M)([0-9.]+)', r"\g<1>1")),
    Broke("a slit's mark on the page an inch off", 919, on_slit_card("<li>slit ", "<li>slit 1 in off ")),
    Broke("no marks on a card", 919, on_slit_card(r'<ul class="marks">.*?</ul>', "")),
    Broke("marks of the wrong side on the page", 919, on_slit_card(
        r'(film side up</h4>\s*)<ul class="marks">(.*?)</ul>(.*?)<ul class="marks">(.*?)</ul>',
        r'\g<1><ul class="marks">\g<4></ul>\g<3><ul class="marks">\g<2></ul>')),
    Broke("a slit's mark not in the PDF", 920, printed(lambda lines: [
        line for line in lines if line != next(one for one in lines if one.startswith("slit"))])),
    Broke("a slit's mark in the PDF an inch off", 920, printed(lambda lines: [
        re.sub("^slit [0-9]+", "slit 99", line) for line in lines])),
    Broke("side laps longer than the seams", 835, line_with("side laps", net=Decimal("99"), order=Decimal("99"))),
    Broke("a net quantity in the PDF", 943, printed(after_text("wall/footing joint", "0.5"))),
    Broke("a cost in the PDF", 943, printed(after_text("total", "0.5", places=6))),
    Broke("two figures of the PDF run together", 943, printed(after_text("wall/footing joint", ""))),
    Broke("a line of the takeoff by another name in the PDF", 943, printed(lambda lines: [
        "side seams" if line == "side laps" else line for line in lines])),
    Broke("a bound of the cost that only the PDF claims", 944, printed(lambda lines: [
        *lines, "proof: no layout and no cutting of it costs less than 1.00"])),
    Broke("the liner up in plan.json", 921, put(False, "film_side_up")),
    Broke("the liner up in the cut list", 921, with_cell("side_up", "liner")),
    Broke("the liner up in the spreadsheet", 921, in_workbook(
        lambda name, text: text.replace("lies film side up", "lies liner side up"))),
    Broke("the liner up on the page", 921, replaced(
        "packet.html", r"sheet lies film side up", "sheet lies liner side up")),
    Broke("the liner up on a drawn shape", 921, on_slit_card("film side up\"", "liner side up\"")),
    Broke("an edge over that is under", 922, on_card("A-09", r"(<dt>left edge</dt><dd>)(over|under)",
                                                     r"\g<1>beside")),
    Broke("a lap of another width on the page", 922, on_card("A-09", r", lap [^<]*", ', lap 9"')),
    Broke("words along the wrong edge of a shape", 922, on_slit_card(
        r'(text class="edge"[^>]*translate\()[0-9.]+', r"\g<1>9999")),
    Broke("a shape drawn mirrored", 923, on_slit_card(
        r'(<line class="slit" x1=")([0-9.]+)(" y1="[0-9.]+" x2=")([0-9.]+)', r"\g<1>1.0\g<3>1.0")),
    Broke("no shape on a card", 923, on_slit_card(r'<svg class="shape.*?</svg>', "")),
    Broke("an arrow at a lap turned around in the DXF", 924, replaced(
        "elevations.dxf", "\n  2\nOVER-RIGHT\n( 10\n)", "\n  2\nOVER-LEFT\n\\g<1>", count=0)),
    Broke("no arrows at laps in an SVG", 924, without_marks(SVG, "over")),
    Broke("an arrow at a lap turned around in an SVG", 924, replaced(
        SVG, r'(lw-over" d="M)([0-9.]+),([0-9.]+)L([0-9.]+),([0-9.]+)L([0-9.]+),',
        r"\g<1>\g<4>,\g<3>L\g<2>,\g<5>L\g<4>,")),
    Broke("no dimensions in the DXF", 925, no_dimension),
    Broke("a dimension that measures another length", 925, replaced(
        "elevations.dxf", r"(AcDbDimension\n(?:[^\n]*\n){1,60}? 42\n)([0-9.]+)", r"\g<1>99.5", count=0)),
    Broke("a dimension that says another length", 925, replaced(
        "elevations.dxf", r"(\n  1\n)9'-3 1/2\"\n", r"\g<1>9'-4 1/2\"\n")),
    Broke("a dimension of an SVG that says another length", 925, replaced(
        SVG, r">9'-3 1/2&quot;<|>9'-3 1/2\"<", ">9'-4<")),
    Broke("water turned around in the DXF", 926, replaced(
        "elevations.dxf", "\n  2\nFLOW-RIGHT\n( 10\n)", "\n  2\nFLOW-LEFT\n\\g<1>", count=0)),
    Broke("a low point that is a high one in the DXF", 926, replaced(
        "elevations.dxf", "\n  2\nLOW\n( 10\n)", "\n  2\nHIGH\n\\g<1>", count=0)),
    Broke("no water in an SVG", 926, without_marks(SOUTH, "water")),
    Broke("no word of the tuck in the cut list", 927, replaced(
        "cut-list.csv", "tuck its (left|right) edge under", "see to the edge at"), "ring"),
    Broke("no word of the loose edge in the spreadsheet", 927, in_workbook(
        lambda name, text: re.sub("edge loose", "edge", text)), "ring"),
    Broke("the other edge tucked on the page", 927, replaced(
        "packet.html", "tuck its (left|right) edge under", "tuck its far edge under", count=0), "ring"),
    Broke("a tuck where nothing is tucked", 927, with_cell("note", "tuck its left edge under A-01")),
    Broke("a date that no job asks for", 928, in_plan(lambda data: data["dates"].append(
        {"run": "A", "face": "South", "cover_by": "2026-06-01"}))),
    Broke("the PDF of another job", 929, printed_of("ring")),
    Broke("a page of the PDF without the digest", 929, printed(lambda lines: lines[1:])),
    Broke("another digest in plan.json", 933, put("0123456789ab", "digest")),
    Broke("another digest on the page", 933, replaced(
        "packet.html", r'("plan": ?")[0-9a-f]{12}"', r'\g<1>0123456789ab"')),
    Broke("an entity in an SVG", 916, replaced(SVG, "<svg ", '<!DOCTYPE svg [<!ENTITY a "b">]><svg ')),
]


@pytest.mark.parametrize("broke", thinned(PAPERS, keep=8), ids=lambda broke: f"{broke.number} {broke.name}")
def test_one_thing_wrong_in_the_files(broke: Broke, good: dict[str, Path], tmp_path: Path) -> None:
    folder = tmp_path / "packet"
    shutil.copytree(good[broke.packet], folder)
    broke.change(folder)
    same = all((folder / name).is_file() and (folder / name).read_bytes() == (good[broke.packet] / name).read_bytes()
               for name in ("plan.json", "job.yaml"))
    found = paper_findings(folder) if same else findings(folder)
    assert {finding.number for finding in found} == {broke.number}, found
    assert all(finding.what == FINDINGS[broke.number] and finding.place for finding in found)


def expected_in(path: Path) -> Iterator[int]:
    """Yield the numbers that a file of tests expects: those in calls of Broke, and all those of a list FORGED."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Broke":
            yield from (part.value for part in node.args if isinstance(part, ast.Constant) and part.value in FINDINGS)
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.target.id == "FORGED":
            yield from (part.value for part in ast.walk(node)
                        if isinstance(part, ast.Constant) and part.value in FINDINGS)


def test_every_finding_is_tested() -> None:
    others = sorted(set(Path(__file__).parent.glob("test_*.py")) - {Path(__file__)})
    expected = [broke.number for broke in PAPERS] + [number for path in others for number in expected_in(path)]
    # orders in test_audit_quantities; the two tests of leaves in test_rolls_certificate
    elsewhere = {836, 1106, 1107}
    assert not elsewhere & set(expected)
    assert set(expected) | elsewhere == set(FINDINGS)
    assert len(expected) >= 170
