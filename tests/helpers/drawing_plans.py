"""Plans for the tests of drawings: each sample planned with a short search, once."""

from __future__ import annotations

import pytest

from helpers.sample_plans import sample_plan

__all__ = ["SAMPLES", "first", "sample_plan"]
SAMPLES = ("basement", "hillside", "metric", "long-wall")


def first(sample: str) -> list[object]:
    """Return the samples as cases, all but one for the slow tests: where each is dear."""
    return [name if name == sample else pytest.param(name, marks=pytest.mark.slow) for name in SAMPLES]
