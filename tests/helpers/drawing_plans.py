"""Plans for the tests of drawings: each sample planned with a short search, once."""

from __future__ import annotations

from helpers.sample_plans import sample_plan
from helpers.thinned import slow_where

__all__ = ["SAMPLES", "first", "sample_plan"]
SAMPLES = ("basement", "hillside", "metric", "long-wall")


def first(sample: str) -> list[object]:
    """Return the samples as cases, all but one for the slow tests: where each is dear."""
    return slow_where(lambda name: name != sample, SAMPLES)
