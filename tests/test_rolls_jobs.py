"""Made-up but realistic jobs, proven; a few by default, all sixty when asked for slow tests."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from layout.rolls import solve
from layout.rolls.assemble import faults


def bench() -> ModuleType:
    """Return the bench that makes the jobs."""
    path = Path(__file__).parent / "bench" / "jobs.py"
    spec = importlib.util.spec_from_file_location("jobs", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["jobs"] = module
    spec.loader.exec_module(module)
    return module


JOBS = bench()
RIPPED = {5: 10_600, 8: 135_700, 17: 825_300}
"""Narrow jobs that stay open, and the least cost that was proven of them with one piece a lane: lanes that are
cross-cut again can only save."""
WIDE, NARROW = (0, 3, 9, 14), (1, 8, 10)
"""Jobs that the default tests take, of whole widths and with narrow pieces: the slow ones take all others."""
PROVEN = {1, 10, 29}
"""Narrow jobs that are proven."""


def prove(seed: int, *, narrow: bool) -> None:
    """Check that a job's answer is a real cutting and is proven, or nearly."""
    problem = JOBS.job(seed, narrow=narrow)
    answer = solve(problem)
    assert answer is not None
    patterns = [pattern for pattern, count in answer.patterns for _ in range(count)]
    assert not faults(problem, patterns)
    assert answer.proof.bound <= answer.cost
    if narrow and seed in RIPPED:
        assert answer.cost <= RIPPED[seed]
    elif not narrow or seed in PROVEN:
        assert answer.optimal


@pytest.mark.parametrize("seed", WIDE)
def test_whole_width_job_is_proven(seed: int) -> None:
    prove(seed, narrow=False)


@pytest.mark.parametrize("seed", NARROW)
def test_job_with_narrow_pieces_is_proven_or_no_dearer(seed: int) -> None:
    prove(seed, narrow=True)


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "narrow"), [
    (seed, narrow) for seed in range(30) for narrow in (False, True) if seed not in (NARROW if narrow else WIDE)])
def test_every_job_is_cut_and_whole_widths_are_proven(seed: int, narrow: bool) -> None:
    prove(seed, narrow=narrow)
