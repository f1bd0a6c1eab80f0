"""Drops and cuts worked by hand, job file in and plan out.

Wall H = 96 in, ledge p = 6 in, turn-down d = 4 in, fillet f = 3/4 in, sheet W = 36 in, side lap 2 1/2 in unless said.
The arithmetic is beside each value. The laps are UFGS 07131, 3.4 (undated older edition; successor UFGS 07 13 53,
Feb 2016): side laps at least 65 mm (2 1/2 in), ends 5 in / 127 mm. Check the current edition.
"""

from __future__ import annotations

import math

import pytest

from layout.job import read_job_text
from layout.pipeline import make_plan
from layout.records import Plan


def planned(*, length: str, rolls: str = "[{length: 66'-8\", price: 205}]", units: str = "in", rules: str = "",
            top: str = "8'-0\"", width: str = "36", ledge: str = "6", footing_depth: str = "12") -> Plan:
    """Plan one straight wall, open at both ends."""
    text = f"""
job: {{name: Straight wall}}
units: {units}
sheet: {{width: {width}, rolls: {rolls}}}
rules: {{{rules}}}
runs:
  - name: A
    flow: right
    faces:
      - {{name: South, length: {length}, top: {top}, footing: 0, ledge: {ledge}, footing_depth: {footing_depth},
         corner: none}}
"""
    return make_plan(read_job_text(text, "wall.yaml"))


def membrane_drops(plan: Plan) -> list[tuple[int, int]]:
    return [(drop.left, drop.right) for drop in plan.drops if drop.layer == "membrane"]


def lengths(plan: Plan) -> list[float]:
    return [piece.length / 16 for piece in plan.pieces if piece.kind == "drop" and piece.layer == "membrane"]


def test_6_1_drop_length_square_joint() -> None:
    plan = planned(length="36", rules="fillet: 0, turn_down: 4")
    assert lengths(plan) == [96 + 6 + 4]


def test_6_1_drop_length_chamfer() -> None:
    # 95.25 + 1.060660 + 5.25 + 4 = 105.560660, cut at 105 9/16
    worked = (96 - 0.75) + math.hypot(0.75, 0.75) + (6 - 0.75) + 4
    assert worked == pytest.approx(105.560660, abs=1e-6)
    assert lengths(planned(length="36", rules="turn_down: 4, cut_to: 1/16")) == [105 + 9 / 16]


@pytest.mark.parametrize(("length", "count"), [
    ("480", 15), ("240", 8), ("360", 11), ("36", 1), ("36 1/16", 2), ("69.5", 2), ("337.5", 10), ("337 9/16", 11),
])
def test_6_2_drops_on_a_straight_wall(length: str, count: int) -> None:
    # max(1, ceil((L - lap) / (W - lap)))
    drops = membrane_drops(planned(length=length))
    assert len(drops) == count
    assert drops[0][0] == 0


def test_6_2_fifteen_drops_cover_505() -> None:
    # 15 x 36 - 14 x 2.5 = 505: one more inch needs a sixteenth drop
    assert 15 * 36 - 14 * 2.5 == 505
    assert len(membrane_drops(planned(length="505"))) == 15
    assert len(membrane_drops(planned(length="505 1/16"))) == 16


@pytest.mark.parametrize(("lap", "count"), [("63.5 mm", 10), ("65 mm", 11)])
def test_6_3_metric_trap(lap: str, count: int) -> None:
    # L 8572.5 mm, W 914.4 mm, in inches 337.5 and 36: 10 drops at 63.5 mm and 11 at 65 mm
    assert max(1, math.ceil((8572.5 - 63.5) / (914.4 - 63.5))) == 10
    assert max(1, math.ceil((8572.5 - 65) / (914.4 - 65))) == 11
    plan = planned(length="8572.5 mm", width="914.4 mm", rules=f"side_lap: {lap}")
    assert len(membrane_drops(plan)) == count


@pytest.mark.parametrize(("roll", "per_roll"), [("50'-0\"", 5), ("66'-8\"", 7)])
def test_6_5_rolls_for_a_40_ft_wall(roll: str, per_roll: int) -> None:
    # 15 x 105.5625 = 1583.4375 in; a 600 in roll gives 5 drops, an 800 in roll 7; 3 rolls either way
    plan = planned(length="480", rolls=f"[{{length: {roll}, price: 100}}]",
                   rules="turn_down: 4, cut_to: 1/16, roll_end: 0")
    assert sum(lengths(plan)) == 1583.4375
    membrane = next(cutting for cutting in plan.cuttings if cutting.product == "membrane")
    assert max(len(used.cuts) for used in membrane.rolls) <= per_roll
    assert len(membrane.rolls) == 3


def test_6_7_twelve_foot_wall_in_two_lengths() -> None:
    # 144 + 6 + 4 without a fillet is 154, longer than one 12'-0" piece; two lengths with a 5 in end lap: 159 in cut
    plan = planned(length="36", top="12'-0\"", rules="fillet: 0, turn_down: 4, max_piece: 12'-0\", end_lap: 5")
    assert len(lengths(plan)) == 2
    assert sum(lengths(plan)) == 159
