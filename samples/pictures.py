"""Draws the README's pictures from a sample: ``python samples/pictures.py`` writes them beside this file."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from layout.drawing import files  # noqa: E402  (found beside the samples)
from layout.drawing.sections import footing_section  # noqa: E402
from layout.drawing.sketch import SCALE  # noqa: E402
from layout.drawing.svg import svg_text  # noqa: E402
from layout.job import read_job  # noqa: E402
from layout.pipeline import make_plan  # noqa: E402


def pictures() -> dict[str, str]:
    """Return the pictures by name: the section at the footing, and one face in elevation."""
    plan = make_plan(read_job(HERE / "hillside.yaml"))
    section = footing_section(plan, SCALE[plan.job.unit.name])
    assert section is not None
    return {"hillside-section.svg": svg_text(section),
            "hillside-east.svg": str(files(plan)["elevations/a-east.svg"])}


if __name__ == "__main__":
    for name, text in pictures().items():
        (HERE / name).write_text(text, encoding="utf-8")
