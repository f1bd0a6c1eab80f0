"""Walls drafted by hand, entity by entity, and saved as a DXF file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf

from layout.job import read_job_text
from layout.records import Job

STEPPED = """
job: {name: Stepped}
units: in
sheet: {name: sheet, width: 36, rolls: [{length: 66'-8"}]}
runs:
  - name: A
    faces:
      - name: North side
        length: 40'-0"
        top: [[0, 9'-0"], [12'-6", 9'-0"], [12'-6", 8'-0 1/2"], [30'-0", 8'-0 1/2"], [40'-0", 7'-3 7/16"]]
        footing: [[0, 1'-4"], [15'-2", 1'-4"], [15'-2", 0], [40'-0", 0]]
        ledge: 4
        grade: [[0, 8'-2"], [20'-0", 7'-0"], [40'-0", 6'-5"]]
        openings:
          - {tag: W7, kind: window, left: 3'-0", sill: 5'-2", width: 3'-0 1/16", height: 2'-0"}
          - {tag: D1, kind: door, left: 33'-0", sill: 1", width: 3'-0", height: 6'-8"}
        sleeves:
          - {tag: P4, at: 22'-3 3/16", elevation: 2'-6", diameter: 4 1/2}
      - {name: Return, length: 8'-2 1/16", top: 9'-0", footing: 0, ledge: 4}
  - name: B
    faces:
      - {name: Areaway, length: 6'-0", top: 4'-0", footing: 0, ledge: 4,
         openings: [{tag: V1, kind: vent, left: 1'-0", sill: 1'-0", width: 8, height: 8}]}
"""


def stepped() -> Job:
    """Return a job with steps, slopes, openings and a sleeve, in two runs."""
    return read_job_text(STEPPED, "stepped")


def sheet(insunits: int = 1) -> Any:
    """Return an empty drawing."""
    document: Any = ezdxf.new("R2010")  # type: ignore[attr-defined]
    document.header["$INSUNITS"] = insunits
    return document


def box(document: Any, layer: str, left: float, bottom: float, right: float, top: float) -> Any:
    """Draw a closed rectangle."""
    return document.modelspace().add_lwpolyline(
        [(left, bottom), (left, top), (right, top), (right, bottom)], close=True, dxfattribs={"layer": layer})


def saved(document: Any, tmp_path: Path) -> Path:
    """Save a drawing."""
    document.saveas(tmp_path / "drawing.dxf")
    return tmp_path / "drawing.dxf"
