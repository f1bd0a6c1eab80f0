"""A packet of a hand-made plan, written to a folder."""

from __future__ import annotations

from pathlib import Path

from helpers.crew_plan import crew_plan
from layout import packet
from layout.packet import folder as folder_module
from layout.records import Finding

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="1in" height="1in" viewBox="0 0 96 96"><title>South</title></svg>'
DRAWINGS: dict[str, folder_module.Content] = {
    "elevations/a-south.svg": SVG, "rolls.svg": SVG.encode(),
    "elevations.dxf": lambda path: path.write_text("0\nEOF\n"),
}
FILES = ["SHA256SUMS", "cut-list.csv", "cut-list.xlsx", "elevations.dxf", "elevations/a-south.svg", "job.yaml",
         "order.csv", "packet-worker.js", "packet.html", "packet.webmanifest", "plan.json", "rolls.svg", "takeoff.csv"]


def write(place: Path, **more: object) -> tuple[Finding, ...]:
    return packet.write_folder(crew_plan(), "job: {name: x}\n", place,
                               **{"drawings": DRAWINGS, **more})  # type: ignore[arg-type]


def listing(place: Path) -> dict[str, bytes]:
    return {str(path.relative_to(place)): path.read_bytes() for path in sorted(place.rglob("*")) if path.is_file()}
