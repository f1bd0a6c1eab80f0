"""Plans for the tests of drawings: a small one that is kept, and each sample planned with a short search, once."""

from __future__ import annotations

from helpers.frozen import frozen_plan
from helpers.sample_plans import sample_plan
from helpers.thinned import slow_where
from layout.records import Plan

__all__ = ["SAMPLES", "SMALL_FIRST", "drawn_plan", "sample_plan"]
SAMPLES = ("basement", "hillside", "metric", "long-wall")

SMALL_FIRST = slow_where(lambda name: name in SAMPLES, ("bank", *SAMPLES))
"""The small plan and the samples as cases, these for the slow tests: where each is dear."""


def drawn_plan(name: str) -> Plan:
    """Return the plan of a case."""
    return sample_plan(name) if name in SAMPLES else frozen_plan(name)
