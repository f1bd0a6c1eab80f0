"""The four samples, planned once a test run; the search stops at its first answer, which is as good a plan to write."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from layout.job import read_job
from layout.pipeline import make_plan
from layout.records import Plan

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
NAMES = ("basement", "hillside", "metric", "long-wall")


@lru_cache(maxsize=None)
def sample_plan(name: str) -> Plan:
    """Return the quick plan of a sample."""
    return make_plan(read_job(SAMPLES / f"{name}.yaml"), stop=lambda: True)
