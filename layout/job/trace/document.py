"""Opens a DXF file in bounds and says what it is drawn in.

Damaged files are repaired as far as ezdxf can, and that is said. What ezdxf cannot read at all is refused.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf import recover

from layout.errors import Fault, JobError
from layout.files import read_bytes
from layout.job.tree import show

_EZDXF: Any = ezdxf  # its front does not say what it exports

MAX_DXF_BYTES = 50_000_000
"""Largest DXF file [bytes]."""
MAX_BINARY_BYTES = 10_000_000
"""Largest binary DXF file [bytes]; it holds about five times as much as a text file of its size."""
MAX_RECORDS = 300_000
"""Most records (entities, vertices, table entries, objects) in a file."""

DRAWING_UNITS: dict[str, tuple[str, float]] = {
    "in": ("in", 16.0), "ft": ("in", 192.0), "mm": ("mm", 1.0), "cm": ("mm", 10.0), "m": ("mm", 1000.0),
}
"""What a drawing may be drawn in: the job's unit, and ticks in one drawing unit."""
INSUNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}
"""Codes of $INSUNITS; DXF reference, header variables."""

_RECORD = re.compile(rb"(?:\A|\n)[ \t]*0[ \t]*\r?\n[ \t]*[A-Za-z]")
_BINARY = b"AutoCAD Binary DXF"
_DWG = re.compile(rb"AC10\d\d")
_ALONE = "save the elevations alone as a DXF file of their own"


def open_document(path: Path) -> tuple[Any, int]:
    """Return the document in a file, and how many repairs it took to read it.

    Raises
    ------
    JobError
        When it is no DXF file, too large, or cannot be read at all.
    """
    file = str(path)
    data = read_bytes(path, MAX_DXF_BYTES, hint=_ALONE)
    if _DWG.match(data):
        raise JobError([Fault(0, "", "must be a DXF file, which a DWG file is not",
                              hint="save it as DXF in the CAD program")], file)
    if data.startswith(_BINARY) and len(data) > MAX_BINARY_BYTES:
        raise JobError([Fault(0, "", f"must be at most {MAX_BINARY_BYTES // 1_000_000} MB as a binary DXF",
                              hint="save it as a text DXF")], file)
    records = sum(1 for _ in _RECORD.finditer(data))
    if records > MAX_RECORDS:
        raise JobError([Fault(0, "", f"must hold at most {MAX_RECORDS:,} records", f"{records:,}", _ALONE)], file)
    if not data.startswith(_BINARY) and not records:
        raise JobError([Fault(0, "", "must be a DXF file, which this is not")], file)
    try:
        document = _EZDXF.readfile(path)
        document.modelspace()
        return document, 0
    except Exception as first:  # whatever a broken file does to the parser, the recovering one is tried
        why = reason_of(first)
    try:
        document, auditor = recover.read(io.BytesIO(data))
        document.modelspace()
        return document, max(len(auditor.errors) + len(auditor.fixes), 1)
    except Exception as second:  # nothing is known of what broken files raise; all of it means the same
        raise JobError([Fault(0, "", f"cannot be read as DXF: {reason_of(second) or why}")], file) from None


def reason_of(error: Exception) -> str:
    """Return a parser's reason as one short line."""
    return show(" ".join(str(error).split()), most=120) or type(error).__name__


def drawn_in(document: Any, told: str, path: Path) -> tuple[str, str]:
    """Return what a drawing is drawn in, and what there is to say of it.

    Parameters
    ----------
    document
        The drawing.
    told
        What the drafter says; empty to take the drawing's own word.
    path
        The file, for messages.

    Raises
    ------
    JobError
        When neither says it.
    """
    code = document.header.get("$INSUNITS", 0)
    own = INSUNITS.get(code) if isinstance(code, int) else None
    if told:
        differs = own is not None and own != told
        return told, f"the drawing says it is in {own}; it was read in {told}, as --unit says" if differs else ""
    if own is not None:
        return own, ""
    if code == 0:
        what, got = "must say what the drawing is drawn in, which it does not", "0, no unit"
    else:
        what, got = "must be inches, feet, millimetres, centimetres or metres", show(str(code))
    raise JobError([Fault(0, "$INSUNITS", what, got, "say it with --unit in, ft, mm, cm or m")], str(path))
