"""Jobs at the limits are read, and planned in bounded time and memory; the jobs are those of ``bench/limits.py``."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent / "bench"))

from limits import JOBS, measure  # noqa: E402  (the benchmark beside the tests)

from helpers.limit_jobs import limit_job  # noqa: E402
from helpers.packets import packet_findings, short_plan  # noqa: E402
from helpers.thinned import slow_where  # noqa: E402
from layout.errors import JobError  # noqa: E402
from layout.job import limits, read_job_text  # noqa: E402

MINUTE = 60.0
SLOW = 1.5
"""A machine may take so many times what it may take on the one of the table in DEVELOPERS.md."""
GIGABYTE = 1024.0


@pytest.mark.parametrize("name", slow_where(lambda name: name == "points", JOBS))
def test_a_job_at_a_limit_is_read(name: str) -> None:
    job = read_job_text(JOBS[name](), "job.json")
    faces = [face for run in job.runs for face in run.faces]
    reached = {
        "faces": len(faces) == limits.MAX_FACES,
        "features": sum(len(face.sleeves) for face in faces) == limits.MAX_FEATURES,
        "points": all(limits.MAX_POINTS <= len(face.top) <= limits.MAX_POINTS + 2 for face in faces),
        "stock": (len(job.sheet.rolls), len(job.sheet.remnants)) == (limits.MAX_ROLLS, limits.MAX_REMNANTS),
    }
    assert reached.get(name, True)


@pytest.mark.parametrize("seed", slow_where(lambda seed: seed in (246, 416, 747), [
    141,  # a fillet nearly as wide as the ledge
    246,  # a collar that reaches 19 ft
    320,  # a strip higher up than the wall
    416,  # a drop that laps cover wholly
    747,  # a piece of one tick by one
]))
def test_a_job_near_limits_that_was_once_too_much_is_clean(seed: int) -> None:
    assert packet_findings(short_plan(limit_job(seed))) == ()


@pytest.mark.parametrize("seed", [134, 225])
def test_a_job_near_limits_that_cannot_be_closed_is_refused(seed: int) -> None:
    """Less than a side lap is left past an inside corner at the end of a run."""
    with pytest.raises(JobError, match="so much laps past the corner"):
        read_job_text(limit_job(seed), "job.json")


@pytest.mark.slow
@pytest.mark.parametrize(("name", "seconds", "megabytes"), [("thousand", 2 * MINUTE * SLOW, GIGABYTE)])
def test_a_large_job_is_planned_in_bounds(name: str, seconds: float, megabytes: float, tmp_path: Path) -> None:
    """Seconds of processor and peak memory of ``check`` and ``plan``, each a process of its own."""
    checked, planned = measure(name, tmp_path)
    print(f"{name}: check {checked.seconds:.1f} s, {checked.megabytes:,.0f} MB")
    assert planned is not None
    print(f"{name}: plan {planned.seconds:.1f} s, {planned.megabytes:,.0f} MB")
    assert (checked.status, planned.status) == (0, 0)
    assert checked.seconds < MINUTE / 6 and checked.megabytes < GIGABYTE / 4
    assert planned.seconds < seconds and planned.megabytes < megabytes
