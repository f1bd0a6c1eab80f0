"""A small job that is planned, worked on and planned again."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from helpers.packets import packet_findings, plan_findings, short_plan, write_tables
from layout.job import read_job_text
from layout.integrated import never, quiet
from layout.records import Job, Plan
from layout.revise import BaselinePlan, Revised, read_done, read_earlier, renew

JOB = """
job: {name: Shed}
units: in
sheet:
  width: 36
  rolls: [{length: 66'-8", price: 205}]
rules: {corner_strip: 12, base_strip: 18}
runs:
  - name: A
    flow: right
    faces:
      - {name: South, length: 24'-0", top: 8'-0", ledge: 4, footing_depth: 12, corner: outside}
      - name: East
        length: 20'-0"
        top: 8'-0"
        ledge: 4
        footing_depth: 12
        sleeves: [{tag: P1, at: 8'-4", elevation: 2'-0", diameter: 4}]
  - name: B
    closed: true
    flow: left
    faces:
      - {name: N, length: 9'-0", top: 7'-0", ledge: 4, footing_depth: 12, corner: outside}
      - {name: W, length: 7'-0", top: 7'-0", ledge: 4, footing_depth: 12, corner: outside}
      - {name: S, length: 9'-0", top: 7'-0", ledge: 4, footing_depth: 12, corner: outside}
      - {name: E, length: 7'-0", top: 7'-0", ledge: 4, footing_depth: 12, corner: outside}
"""


PAPERS = pytest.mark.parametrize(
    "papers", [pytest.param(False, id="plan"), pytest.param(True, id="papers", marks=pytest.mark.slow)])
"""Whether a new plan's papers are audited too."""


@lru_cache(maxsize=None)
def earlier(text: str = JOB) -> tuple[Plan, BaselinePlan]:
    """Return a plan and the same read back from its packet."""
    plan = short_plan(text)
    with TemporaryDirectory() as folder:
        write_tables(plan, Path(folder))
        return plan, read_earlier(Path(folder), lambda folder: ())


def job(text: str) -> Job:
    return read_job_text(text, "test")


def again(text: str, *, cut: tuple[str, ...] = (), hung: tuple[str, ...] = ()) -> Revised:
    """Revise the shed with some pieces, drops or rolls done."""
    _, before = earlier()
    return renew(before, read_done(before, None, cut=cut, hung=hung), job(text), progress=quiet, stop=never)


def sound(made: Revised, *, papers: bool = False) -> None:
    """Assert that a new plan passes the audit, and where asked the papers of its packet too."""
    assert (packet_findings if papers else plan_findings)(made.plan) == ()


def places(plan: Plan) -> dict[str, tuple[object, ...]]:
    """Return each piece's roll, place and size by its tag."""
    return {
        cut.piece: (roll.tag, cut.at, cut.across, cut.length, cut.width)
        for made in plan.cuttings for roll in made.rolls for cut in roll.cuts
    }
