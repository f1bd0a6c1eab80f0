"""What the audit's tests read: a job, one face of it, and what is drawn of that."""

from __future__ import annotations

from typing import Any

from layout.audit.marks import Marked, rebuild
from layout.units import INCH


def job(**changes: Any) -> dict[str, Any]:
    """Return a plain job as the audit is given it: one open wall of 20 ft by 8 ft."""
    face = {"name": "Wall", "length": "20 ft", "top": "8 ft", "footing": 0, "ledge": 6}
    plain: dict[str, Any] = {
        "job": {"name": "Plain"}, "units": "in", "sheet": {"width": 36, "rolls": [{"length": "66'-8\"", "price": 205}]},
        "runs": [{"name": "A", "flow": "right", "faces": [face]}],
    }
    return {**plain, **changes}


def face_of(**changes: Any) -> dict[str, Any]:
    """Return the runs of a job with one face changed."""
    face = {"name": "Wall", "length": "20 ft", "top": "8 ft", "footing": 0, "ledge": 6, **changes}
    return job(runs=[{"name": "A", "faces": [face]}])


def shape_of(*marks: str, length: int = 1600, width: int = 576) -> Marked:
    return rebuild(marks, length=length, width=width, unit=INCH)
