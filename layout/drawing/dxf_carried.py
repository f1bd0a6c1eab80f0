"""What a DXF file carries beside its lines, so that the walls drawn in it can be read back as the job they came from.

The job's text lies in an XRECORD named ``LAPWRIGHT`` of the named-object dictionary; each wall's outline bears extended
data under ``LAPWRIGHT_WALL``: a digest of the names of run and face, which may be longer than such data may be, and the
point of station 0, elevation 0, which moves with the outline.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from ezdxf.document import Drawing as Document

from layout.drawing.model.entities import Vec
from layout.drawing.model.layers import Layer

RECORD = "LAPWRIGHT"
WALL_APP = "LAPWRIGHT_WALL"
CHUNK = 240
"""Characters in one string of an XRECORD; a string holds at most 255 bytes."""
END = "# end"
"""Stands after the text, so that one cut short is known."""


def carry(doc: Document, job: str, layers: Mapping[str, Layer]) -> None:
    """Put a job's text and the names of the layers into a document.

    Parameters
    ----------
    doc
        The document.
    job
        Text of the job file.
    layers
        Layers by their use.
    """
    held = {"format": "lapwright walls", "version": 1, "layers": {use: layer.name for use, layer in layers.items()},
            "job": job}
    text = json.dumps(held).replace("^", "\\u005e").replace("%", "\\u0025") + END  # both are codes in some programs
    chunks = [text[start:start + CHUNK] for start in range(0, len(text), CHUNK)]
    record: Any = doc.rootdict.add_xrecord(RECORD)
    record.reset([(1, f"|{chunk}|") for chunk in chunks])  # the bars keep spaces at the ends


def mark(outline: Any, wall: tuple[str, str, Vec]) -> None:
    """Let a wall's outline bear its run, its face and the point of station 0, elevation 0 [drawing units]."""
    run, face, (x, y) = wall
    key = hashlib.sha256(f"{run}\n{face}".encode()).hexdigest()
    outline.set_xdata(WALL_APP, [(1000, key), (1011, (x, y, 0.0))])
