"""Closed runs that one drop or a few go round, and lengths that miss a whole number of steps by little: audited whole.

A drop of 36 in lapped 2 1/2 in covers 33 1/2 in = 536 ticks more than the one before; so n drops close a run of at most
n x 536 ticks. Each face sees both ends of a drop that goes round it.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from cli import main
from helpers.packets import LOOKS, Look, packet_findings, plan_findings, short_plan
from helpers.thinned import thinned

STEP = 536
LENGTHS = [576, 600, 2 * STEP, 2 * STEP + 1, 3 * STEP + 1, 9 * STEP + 1]
KEPT = {"clear_of_corner": 0, "clear_of_sleeve": 0}


def closed_job(length: int, *, sides: int, rules: dict[str, object], height: str = "8'") -> str:
    """Return a job of one closed run with so many sides; its first has a sleeve in the middle.

    Parameters
    ----------
    length
        All round [ticks].
    sides
        Of about equal length.
    rules
        As in a job file.
    height
        Of the wall.
    """
    side = length // sides
    lengths = [side] * (sides - 1) + [length - side * (sides - 1)]
    faces: list[dict[str, object]] = [
        {"name": f"Side {number}", "length": f"{ticks}/16", "top": height, "ledge": 6, "angle": 360 // sides}
        for number, ticks in enumerate(lengths, 1)
    ]
    faces[0]["sleeves"] = [{"tag": "P1", "at": f"{lengths[0] // 2}/16", "elevation": "3'", "diameter": 4}]
    sheet = {"width": 36, "rolls": [{"length": "66'-8\"", "price": 205}]}
    return json.dumps({
        "job": {"name": "Short"}, "sheet": sheet, "rules": rules,
        "runs": [{"name": "A", "closed": True, "flow": "right", "faces": faces}],
    })


def drops_at_least(length: int) -> int:
    """Return the fewest drops that close a run."""
    return -(-length // STEP)


@pytest.mark.parametrize(("length", "sides", "rules"), thinned([
    (length, sides, rules) for length in LENGTHS for sides in (3, 4) for rules in ({}, KEPT)], keep=14, rows=True))
def test_the_plan_of_a_short_closed_run_is_clean(length: int, sides: int, rules: dict[str, object]) -> None:
    plan = short_plan(closed_job(length, sides=sides, rules=rules))
    if rules is KEPT:
        assert len(plan.drops) == drops_at_least(length)
    assert plan_findings(plan) == ()


@pytest.mark.slow
@pytest.mark.parametrize("sides", [3, 4])
@pytest.mark.parametrize("length", LENGTHS)
def test_the_papers_of_a_short_closed_run_are_clean(length: int, sides: int) -> None:
    assert packet_findings(short_plan(closed_job(length, sides=sides, rules={}))) == ()


@pytest.mark.parametrize("look", LOOKS)
def test_the_packet_of_a_tall_short_closed_run_is_clean(look: Look) -> None:
    """Two drops in two pieces each lap one another on both sides."""
    plan = short_plan(closed_job(600, sides=4, rules=KEPT, height="20'"))
    assert [len(drop.pieces) for drop in plan.drops] == [2, 2]
    assert look(plan) == ()


@pytest.mark.parametrize(("length", "status"), [
    (575, 2), *(pytest.param(length, 0, marks=pytest.mark.slow) for length in (576, 9 * STEP + 1))])
def test_plan_writes_a_packet_or_refuses(length: int, status: int, tmp_path: Path) -> None:
    """A closed run shorter than the sheet is wide would have its one drop lie over itself more than once."""
    job = tmp_path / "job.json"
    job.write_text(closed_job(length, sides=4, rules=KEPT), encoding="utf-8")
    result = CliRunner().invoke(main, ["plan", str(job)])
    assert result.exit_code == status, result.stderr
    assert (tmp_path / "job-packet" / "packet.pdf").exists() == (status == 0)
    if status:
        assert "runs.A.closed: must be false where the run is shorter than the sheet is wide" in result.stderr
