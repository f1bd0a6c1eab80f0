"""What one of our own drawings carries beside its lines: the job without its walls' shapes, and which wall is which.

The text of the job lies in an XRECORD named ``LAPWRIGHT`` of the named-object dictionary, in chunks of at most 250
bytes. Every wall's outline bears extended data under ``LAPWRIGHT_WALL``: the run, the face, and the point of station 0,
elevation 0, which a CAD program moves along with the outline.
"""

from __future__ import annotations

import math
from typing import Any

from layout.job.trace.drawn import Vec

APP = "LAPWRIGHT"
WALL_APP = "LAPWRIGHT_WALL"
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
    text = "".join(chunk[1:] if chunk.startswith("|") else chunk for chunk in chunks)
    if len(text) > MAX_CARRIED or not text.endswith("\x23 end"):
        return ""
    return text


def own_wall(entity: Any) -> tuple[str, str, Vec] | None:
    """Return the run, the face and the origin [drawing units] that an outline bears; None when it bears none."""
    if not entity.has_xdata(WALL_APP):
        return None
    tags = [(tag.code, tag.value) for tag in entity.get_xdata(WALL_APP)]
    names = [str(value) for code, value in tags if code == 1000]
    points = [value for code, value in tags if code == 1011]
    if len(names) < 2 or not points:
        return None
    x, y = float(points[0][0]), float(points[0][1])
    return (names[0], names[1], (x, y)) if math.isfinite(x) and math.isfinite(y) else None
