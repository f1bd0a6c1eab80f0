"""Which lap holds which edge: side edges the side lap, the ends of pieces that are end-lapped the end lap.

A wall 100 in long and 96 high under three drops 36 in wide: at a side lap of 4 in, 36 + 32 + 32 = 100, so that both
seams are 4 in to the tick. Pieces are 72 in long at most, so that each drop is of two.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from helpers.folded import folding_findings
from helpers.packets import short_plan
from helpers.plan_changes import with_piece
from layout.records import Piece, Plan

IN = 16
JOB = """
job: {{name: Laps}}
sheet: {{width: 36, rolls: [{{length: "66'-8\\"", price: 205}}]}}
rules: {{side_lap: {side}, end_lap: {end}, base_strip: 0, turn_down: 0, fillet: 0, max_piece: 6 ft}}
runs:
  - {{name: A, faces: [{{name: South, length: 100, top: 96, footing: 0, ledge: 0}}]}}
"""


def planned(*, side: float, end: float) -> Plan:
    plan = short_plan(JOB.format(side=side, end=end))
    assert [len(drop.pieces) for drop in plan.drops] == [2, 2, 2]
    return plan


def cut(plan: Plan, tag: str, *, right: float = 0, top: float = 0) -> Plan:
    """Cut so much off the right or the top of a piece [in]."""
    def run(one: Piece) -> Piece:
        most = max(x for x, _ in one.outline) - round(right * IN), max(y for _, y in one.outline) - round(top * IN)
        return replace(one, outline=tuple((min(x, most[0]), min(y, most[1])) for x, y in one.outline))

    return with_piece(tag, run)(plan)


def numbers(plan: Plan, folder: Path) -> list[int]:
    return sorted({found.number for found in folding_findings(plan, folder)})


@pytest.mark.parametrize(("side", "end"), [(4, 2), (2.5, 5), (4, 4)])
def test_the_laps_of_the_rules_hold(side: float, end: float, tmp_path: Path) -> None:
    assert numbers(planned(side=side, end=end), tmp_path) == []


def test_a_side_lap_wider_than_the_end_lap_does_not_hold_when_it_is_too_narrow(tmp_path: Path) -> None:
    """3 in at a seam, where the side lap is 4 and the end lap 2."""
    plan = planned(side=4, end=2)
    first = plan.drops[0].pieces
    assert max(x for x, _ in next(p for p in plan.pieces if p.tag == first[0]).outline) - plan.drops[1].left == 4 * IN
    for tag in first:
        plan = cut(plan, tag, right=1)
    assert numbers(plan, tmp_path) == [1003]


@pytest.mark.parametrize(("side", "end", "short"), [(4, 2, 0.5), (2.5, 5, 1)])
def test_an_end_lap_does_not_hold_when_it_is_too_short(side: float, end: float, short: float, tmp_path: Path) -> None:
    """Half an inch short of an end lap less than the side lap; 4 in of 5 where the side lap is 2 1/2."""
    plan = planned(side=side, end=end)
    _, lower = plan.drops[1].pieces
    assert numbers(cut(plan, lower, top=short), tmp_path) == [1003]
