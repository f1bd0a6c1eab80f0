"""Packets for tests: planned with a short search, written by the real writers, audited by the real audit."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from layout import audit, drawing, packet
from layout.drawing.model.entities import PAPERS, Page, Text
from layout.drawing.pdf import write_pdf
from layout.job import echo, read_job_text, read_mapping
from layout.pipeline import make_plan
from layout.records import Finding, Plan
from layout.takeoff import take_off


def short_plan(text: str) -> Plan:
    """Return the plan of a job's text, its searches cut short: sound, though perhaps not the best."""
    return make_plan(read_job_text(text, "test"), stop=lambda: True)


def counted_again(plan: Plan) -> Plan:
    """Return a changed plan with its takeoff counted again, so that only what was changed is wrong."""
    return take_off(replace(plan, notes=()))


def write_data(plan: Plan, folder: Path) -> None:
    """Write the job and the plan as programs read them."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.yaml").write_text(echo(plan.job), encoding="utf-8")
    (folder / "plan.json").write_text(packet.plan_json(plan), encoding="utf-8")


def write_tables(plan: Plan, folder: Path) -> None:
    """Write what the packet says in numbers and words."""
    write_data(plan, folder)
    (folder / "cut-list.csv").write_text(packet.cut_list_csv(plan), encoding="utf-8")
    (folder / "takeoff.csv").write_text(packet.takeoff_csv(plan), encoding="utf-8")
    (folder / "order.csv").write_text(packet.order_csv(plan.order), encoding="utf-8")
    packet.write_workbook(plan, folder / "cut-list.xlsx")


def write_drawings(plan: Plan, folder: Path) -> None:
    """Write the faces' SVGs and the DXF."""
    (folder / "elevations").mkdir(exist_ok=True)
    for name, text in drawing.svg_elevations(plan).items():
        (folder / "elevations" / name).write_text(text, encoding="utf-8")
    drawing.write_plan_dxf(plan, folder / "elevations.dxf")


def write_roll_cards(plan: Plan, folder: Path) -> None:
    """Write the roll drawing."""
    (folder / "rolls.svg").write_text(drawing.rolls_svg(plan), encoding="utf-8")


def write_rest(plan: Plan, folder: Path) -> None:
    """Write the roll drawing and the phone packet, and of the PDF only what the audit reads."""
    write_roll_cards(plan, folder)
    (folder / "packet.html").write_text(packet.html(plan, {}), encoding="utf-8")
    write_print(folder)
    seal(folder)


def seal(folder: Path) -> None:
    """Write the sums of a packet's files, as they are now."""
    (folder / packet.SUMS).unlink(missing_ok=True)
    (folder / packet.SUMS).write_text(packet.sums_of(folder), encoding="utf-8")


def write_print(folder: Path) -> None:
    """Write a PDF of one page with what the audit reads of it: the whole one takes seconds."""
    print_pdf(print_lines(folder), folder)


def print_lines(folder: Path) -> list[str]:
    """Return what the short PDF says: the digest, the marks, the takeoff's cells and the proof that plan.json has."""
    data = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    optimal, bound = data["summary"]["optimal"], data["summary"]["cost_bound"]
    proof = "proof: no layout and no cutting of it costs less"
    cells = ("item", "net", "order", "unit", "package", "price", "cost", "basis")
    return [
        data["digest"], *(mark for piece in data["pieces"] for mark in piece["marks"]),
        *(_printed(line[cell]) for line in data["takeoff"] for cell in cells),
        *([proof] if optimal else [f"{proof} than {bound:,.2f}"] if bound is not None else []),
    ]


def _printed(value: object) -> str:
    """Return a cell as it is printed."""
    return "" if value is None else value if isinstance(value, str) else f"{value:,}"


def print_pdf(lines: Sequence[str], folder: Path) -> None:
    """Write lines as a PDF of one page."""
    texts = tuple(Text("note", (10.0, 10.0 + place), line, 2.5) for place, line in enumerate(lines) if line)
    write_pdf([Page("1", "Marks", PAPERS["A1"], (), texts)], folder / "packet.pdf", title="Marks")


def findings(folder: Path) -> tuple[Finding, ...]:
    """Return what the audit finds in a packet."""
    return audit.audit(folder, read_mapping(folder / "job.yaml"))


def paper_findings(folder: Path) -> tuple[Finding, ...]:
    """Return what the audit finds in the papers of a packet whose plan.json is sound."""
    return audit.audit_papers(folder, read_mapping(folder / "job.yaml"))


def plan_findings(plan: Plan) -> tuple[Finding, ...]:
    """Return what the audit finds in a plan's plan.json alone: no table, drawing or page is written or looked at."""
    with TemporaryDirectory() as folder:
        place = Path(folder)
        write_data(plan, place)
        return audit.audit_plan(place, read_mapping(place / "job.yaml"))


def packet_findings(plan: Plan) -> tuple[Finding, ...]:
    """Return what the audit finds in the packet of a plan, of whose PDF only what it reads is written."""
    with TemporaryDirectory() as folder:
        place = Path(folder)
        write_tables(plan, place)
        write_drawings(plan, place)
        write_rest(plan, place)
        return findings(place)


Look = Callable[[Plan], tuple[Finding, ...]]
LOOKS = (
    pytest.param(plan_findings, id="plan"), pytest.param(packet_findings, id="papers", marks=pytest.mark.slow),
)
"""What the audit finds in a plan: in its plan.json, and, among the slow tests, in its papers too."""
