"""What the drafter asks of a trace, read and checked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from layout.errors import Fault, JobError
from layout.job.trace.document import DRAWING_UNITS
from layout.job.trace.drawn import DrawnBox
from layout.job.trace.features import TRIMS
from layout.job.trace.joining import SLACK
from layout.job.trace.layers import Roles, read_roles
from layout.job.tree import show
from layout.units import INCH, UNITS, Unit, read_length

MAX_GAP = "2 in"
"""Widest gap that may be closed."""
_NUMBER = r"\s*[-+]?\d{1,15}(\.\d{1,15})?\s*"


@dataclass(frozen=True)
class TraceOptions:
    """How a drawing is to be read.

    Parameters
    ----------
    roles
        What each layer is for.
    unit
        What it is drawn in; empty to take the drawing's own word.
    window
        What is read [drawing units]; None for everything.
    gap
        How far ends may be apart, as text; empty for one tick.
    trim
        ``outer``, ``inner`` or empty.
    datums
        Heights of elevation 0 [drawing units].
    as_drawn
        The heights of a row are drawn as they are built.
    """

    roles: Roles
    unit: str
    window: DrawnBox | None
    gap: str
    trim: str
    datums: tuple[float, ...]
    as_drawn: bool

    def slack(self, unit: Unit) -> float:
        """Return how far ends may be apart [ticks]."""
        return max(float(read_length(self.gap, unit)), SLACK) if self.gap else SLACK


def read_trace_options(
    *, layers: Sequence[str], unit: str, window: str, gap: str, trim: str, datum: str,
) -> TraceOptions:
    """Return what is asked; JobError with every fault in it."""
    roles, faults = read_roles(layers)
    box = _window(window, faults)
    if unit and unit not in DRAWING_UNITS:
        faults.append(Fault(0, "--unit", f"must be one of {', '.join(DRAWING_UNITS)}", show(unit)))
    if gap:
        _gap(gap, UNITS[DRAWING_UNITS[unit][0]] if unit in DRAWING_UNITS else INCH, faults)
    if trim and trim not in TRIMS:
        faults.append(Fault(0, "--trim", f"must be one of {', '.join(TRIMS)}", show(trim)))
    drawn = datum.strip() == "drawn"
    heights: tuple[float, ...] = ()
    if datum and not drawn:
        parts = datum.split(",")
        if all(re.fullmatch(_NUMBER, part) for part in parts):
            heights = tuple(float(part) for part in parts)
        else:
            faults.append(Fault(0, "--datum", "must be heights on the page such as 0 or 0,-300, or the word drawn",
                                show(datum)))
    if faults:
        raise JobError(faults)
    return TraceOptions(roles, unit, box, gap, trim, heights, drawn)


def _window(text: str, faults: list[Fault]) -> DrawnBox | None:
    """Return the window that is asked for, its corners put in order."""
    if not text:
        return None
    parts = text.split(",")
    if len(parts) != 4 or not all(re.fullmatch(_NUMBER, part) for part in parts):
        faults.append(Fault(0, "--window", "must be four numbers, X1,Y1,X2,Y2", show(text)))
        return None
    x1, y1, x2, y2 = (float(part) for part in parts)
    return min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)


def _gap(text: str, unit: Unit, faults: list[Fault]) -> None:
    try:
        length = read_length(text, unit)
    except ValueError as error:
        faults.append(Fault(0, "--gap", str(error), show(text)))
        return
    if not 0 <= length <= read_length(MAX_GAP, unit):
        faults.append(Fault(0, "--gap", f"must be at most {MAX_GAP}", show(text)))
