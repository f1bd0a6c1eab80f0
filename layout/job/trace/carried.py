"""What one of our own drawings carries beside its lines: the job without its walls' shapes, and which wall is which.

The text of the job lies in an XRECORD named ``LAPWRIGHT`` of the named-object dictionary, in chunks of at most 250
bytes between bars. Every wall's outline bears extended data under ``LAPWRIGHT_WALL``: a digest of the names
of run and face, and the point of station 0, elevation 0, which a CAD program moves along with the outline.
"""

from __future__ import annotations

import hashlib
import math
from typing import Any

from layout.job.trace.drawn import Vec

APP = "LAPWRIGHT"
WALL_APP = "LAPWRIGHT_WALL"
END = "# end"
"""Stands after the text, so that one cut short is known."""
MAX_CARRIED = 5_000_000
"""Most bytes that are carried."""


def app_data(document: Any) -> str:
    """Return the text that a drawing carries; empty when it carries none that is whole."""
    try:
        record = document.rootdict.get(APP)
        if record is None or record.dxftype() != "XRECORD":
            return ""
        chunks = [str(tag.value) for tag in record.tags if tag.code == 1]
    except Exception:  # a damaged dictionary carries nothing
        return ""
    text = "".join(chunk.strip()[1:-1] for chunk in chunks)
    return text[:-len(END)] if len(text) <= MAX_CARRIED and text.endswith(END) else ""


def wall_key(run: str, face: str) -> str:
    """Return the digest that the outline of a wall bears."""
    return hashlib.sha256(f"{run}\n{face}".encode()).hexdigest()


def own_wall(entity: Any) -> tuple[str, Vec] | None:
    """Return the digest and the origin [drawing units] that an outline bears; None when it bears none."""
    if not entity.has_xdata(WALL_APP):
        return None
    tags = [(tag.code, tag.value) for tag in entity.get_xdata(WALL_APP)]
    keys = [str(value) for code, value in tags if code == 1000]
    points = [value for code, value in tags if code == 1011]
    if not keys or not points:
        return None
    x, y = float(points[0][0]), float(points[0][1])
    return (keys[0], (x, y)) if math.isfinite(x) and math.isfinite(y) else None
