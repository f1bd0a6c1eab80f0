"""Plans for the tests of drawings: each sample planned with a short search, once."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from layout.job import read_job
from layout.pipeline import make_plan
from layout.records import Plan

SAMPLES = ("basement", "hillside", "metric", "long-wall")
FOLDER = Path(__file__).resolve().parents[2] / "samples"


@lru_cache(maxsize=None)
def sample_plan(name: str) -> Plan:
    """Return the plan of a sample, its searches cut short: sound, though perhaps not the best."""
    return make_plan(read_job(FOLDER / f"{name}.yaml"), stop=lambda: True)
