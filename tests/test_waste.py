"""Waste against the usual ways to order, on walls worked by hand."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from pathlib import Path

import pytest

from helpers.sample_plans import NAMES, sample_plan
from layout.job import read_job_text
from layout.packet import summary_lines
from layout.packet.totals import sheet_rows
from layout.takeoff.waste import waste_lines
from layout.pipeline import make_plan
from layout.records import Plan


def lines_of(face: dict[str, object], *, side_lap: float = 2.5, **sheet: object) -> list[str]:
    """Return what is said of a straight wall without strips."""
    return waste_lines(plan_of(face, side_lap=side_lap, **sheet))


def plan_of(face: dict[str, object], *, side_lap: float, **sheet: object) -> Plan:
    """Return the plan of a straight wall without strips."""
    return make_plan(read_job_text(json.dumps({
        "job": {"name": "Wall"}, "sheet": {"width": 36, "rolls": [{"length": 800, "price": 205}], **sheet},
        "rules": {
            "corner_strip": 0, "base_strip": 0, "turn_down": 4, "side_lap": side_lap, "cut_to": "1/16", "roll_end": 0},
        "runs": [{"name": "A", "faces": [face]}],
    }), "wall"))


def test_a_wall_where_area_plus_ten_per_cent_is_what_it_takes() -> None:
    # 15 drops of 100 in and 8 a roll: 2 rolls. Area 505 x 100 in = 350.7 sq ft, + 10 % = 385.8: 2 rolls of 200 sq ft
    first_come, by_area = lines_of({"name": "S", "length": 505, "top": 96})
    assert first_come == ("cut first come, first served, the same pieces take 2 rolls of one length; "
                          "this plan opens 2 x 66'-8\"")
    assert by_area == ("by area plus 10 % (common practice) the order would be 2 x 66'-8\", 400.0 sq ft; "
                       "this plan buys 400.0 sq ft")


def test_a_wall_where_area_plus_ten_per_cent_falls_short() -> None:
    # a lap of 11 1/2 in: 20 drops of 100 in cover 501 1/2 in; they are 500 sq ft, 8 a roll: 3 rolls.
    # Area 501 1/2 x 100 in = 348.3 sq ft, + 10 % = 383.1: 2 rolls
    _, by_area = lines_of({"name": "S", "length": 501.5, "top": 96}, side_lap=11.5)
    assert by_area == ("by area plus 10 % (common practice) the order would be 2 x 66'-8\", 400.0 sq ft; "
                       "this plan buys 600.0 sq ft, and its pieces alone are 500.0 sq ft: that order falls short")


def test_remnants_are_counted_beside_the_rolls() -> None:
    first_come, by_area = lines_of({"name": "S", "length": 505, "top": 96},
                                   remnants=[{"tag": "K1", "length": 700}])
    assert first_come.endswith("this plan opens 1 x 66'-8\", 1 remnant")
    assert by_area.endswith("this plan buys 200.0 sq ft")


def test_nothing_is_ordered_where_remnants_do() -> None:
    (first_come,) = lines_of({"name": "S", "length": 60, "top": 96}, remnants=[{"tag": "K1", "length": 700}])
    assert first_come.endswith("this plan opens 1 remnant")


@pytest.mark.parametrize("name", NAMES)
def test_the_page_and_the_summary_add_up_as_written(name: str) -> None:
    """On the phone page and on the screen: where the sheet went makes up what was ordered, to the last figure."""
    plan = sample_plan(name)
    for cutting in plan.cuttings:
        rows = dict(sheet_rows(plan, cutting))
        parts = {"to cover", "laps", "on the wall", "cut away", "leftover kept", "scrap"} & rows.keys()
        assert sum(area_in(rows[part]) for part in parts) == area_in(rows["opened"])
        assert area_in(rows["opened"]) == sum(
            Decimal(roll.length * roll.width) / (36864 if plan.job.unit.name == "in" else 10**6)
            for roll in cutting.rolls
        ).quantize(Decimal("0.1"))
        if "bought" in rows:
            assert area_in(rows["bought"]) + area_in(rows["from stock"]) == area_in(rows["opened"])
    line = next(line for line in summary_lines(plan, Path("p")) if " opened" in line and line.startswith("of "))
    whole, _, told = line.partition(": ")
    opened, *shares = (Decimal(figure.replace(",", "")) for figure in re.findall(r"[\d,]+\.\d", whole))
    parts = [Decimal(figure.replace(",", "")) for figure in re.findall(r"[\d,]+\.\d", told)]
    assert len(parts) == 5 and sum(parts) == opened and (not shares or sum(shares) == opened)


def area_in(text: str) -> Decimal:
    """Return the area at the start of a text."""
    return Decimal(text.split()[0].replace(",", ""))


def test_the_summary_tells_the_order_by_area_and_that_it_falls_short() -> None:
    """The walls of the two tests above: 2 rolls by area, of which the second wall would need 500 sq ft."""
    found = {}
    start = "by area plus 10 % (common practice) the order would be "
    for lap, length in ((2.5, 505), (11.5, 501.5)):
        plan = plan_of({"name": "S", "length": length, "top": 96}, side_lap=lap)
        told, = (line for line in summary_lines(plan, Path("p")) if line.startswith(start))
        found[lap] = (told.removeprefix(start).split(";")[0], told.endswith(": that order falls short"))
    assert found == {2.5: ("2 x 66'-8\", 400.0 sq ft", False), 11.5: ("2 x 66'-8\", 400.0 sq ft", True)}
