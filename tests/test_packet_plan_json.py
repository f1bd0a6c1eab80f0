"""plan.json: the contract's keys, exact numbers, areas that add up as written."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

import pytest

from helpers.crew_plan import W, crew_plan, t, with_pieces
from helpers.sample_plans import NAMES, sample_plan
from layout.packet import plan_json
from layout.packet.plan_json import digest
from layout.records import Plan

PARTS = ("to_cover", "laps", "cut_away", "leftover_kept", "scrap")


def load(plan: Plan) -> dict[str, object]:
    data = json.loads(plan_json(plan), parse_float=Decimal)
    assert isinstance(data, dict)
    return data


def test_the_contracts_keys_stand_in_their_places() -> None:
    data = json.loads(plan_json(crew_plan()))
    assert (data["format"], data["version"], data["unit"]) == ("lapwright plan", 1, "in")
    run = data["runs"][0]
    assert {"name": "A", "closed": False, "length": 162.0, "turn_down": 4.0, "toe": 9.5625}.items() <= run.items()
    assert {"name": "South", "from": 0.0, "to": 144.0, "corner": "outside"}.items() <= run["faces"][0].items()
    assert data["drops"][0] == {"tag": "A-01", "run": "A", "layer": "membrane", "left": 0.0, "right": 36.0,
                                "install": 5, "pieces": ["A-01"]}
    assert data["seams"][0] == {"run": "A", "layer": "membrane", "from": 33.5, "to": 36.0, "left": "A-01",
                                "right": "A-02", "over": "A-01", "tuck": True}
    piece = data["pieces"][0]
    assert {"tag": "A-01", "kind": "drop", "layer": "membrane", "run": "A", "length": 105.5625, "width": 36.0,
            "roll": "R01"}.items() <= piece.items()
    assert piece["outline"] == [[0.0, 96.0], [36.0, 96.0], [36.0, -9.5625], [0.0, -9.5625]]
    assert "pattern" not in piece and len(piece["holes"]) == 1
    strip = data["pieces"][5]
    assert strip["pattern"] == [[0.0, 96.0], [12.0, 96.0], [12.0, 0.0], [0.0, 0.0]] and "outline" not in strip
    roll = data["rolls"][1]
    assert {"tag": "R02", "product": "membrane", "stock": "66'-8\"", "remnant": False, "length": 800.0, "width": 36.0,
            "price": 205.0, "leftover": {"length": 377.75, "width": 36.0, "keep": True}}.items() <= roll.items()
    assert {"piece": "A-03", "at": 105.5625, "across": 0.0, "length": 105.5625, "width": 36.0}.items() <= roll[
        "cuts"][1].items()
    assert data["exceptions"] == [{
        "rule": "clear_of_corner", "run": "A", "at": 144.0, "needed": 6.0, "found": 3.5,
        "why": "the return is too short", "cure": "a wider sheet", "layer": "membrane"}]
    summary = data["summary"]
    assert {"rolls": {"66'-8\"": 1}, "remnants_used": 1, "cost": 205.0, "cost_bound": 205.0, "rolls_bound": 1,
            "optimal": True, "first_come_rolls": 1}.items() <= summary.items()


def test_areas_of_the_hand_plan_by_hand() -> None:
    """13'-6" by 105 9/16 in, less a 30 by 24 in window and a sleeve; one roll and one remnant 36 in wide."""
    area = json.loads(plan_json(crew_plan()))["summary"]["area"]
    ring = crew_plan().pieces[0].holes[0]
    doubled = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(ring, [*ring[1:], ring[0]], strict=True))
    sleeve = abs(doubled) / 2 / 256
    assert 12.0 < sleeve < 3.1416 * 4  # a polygon on whole ticks inside the circle of 4 in
    assert area["to_cover"] == pytest.approx((162 * 105.5625 - 30 * 24 - sleeve) / 144, abs=5e-5)
    assert area["ordered"] == pytest.approx((800 + 256) * 36 / 144, abs=5e-5)
    assert area["cut_away"] == pytest.approx((21.5 * 24 + 11 * 24 + sleeve) / 144, abs=5e-5)
    assert area["leftover_kept"] == pytest.approx(377.75 * 36 / 144, abs=5e-5)
    assert area["scrap"] == pytest.approx((24 * 96 + (256 - 105.5625 - 96) * 36) / 144, abs=5e-5)
    assert area["reinforcing_in_laps"] == pytest.approx(12 * 96 / 144, abs=5e-5)
    assert area["from_remnants"] == pytest.approx(256 * 36 / 144, abs=5e-5)


@pytest.mark.parametrize("name", ["hand", *NAMES])
def test_areas_add_up_exactly_as_written(name: str) -> None:
    data = load(crew_plan() if name == "hand" else sample_plan(name))
    summaries = [data["summary"], *data["products"]]  # type: ignore[misc]
    for summary in summaries:
        area = summary["area"]
        assert sum(area[part] for part in PARTS) == area["ordered"]
        assert all(area[part] >= 0 for part in PARTS)


@pytest.mark.parametrize("name", NAMES)
def test_every_length_is_on_a_tick(name: str) -> None:
    plan = sample_plan(name)
    ticks = plan.job.unit.ticks
    data = json.loads(plan_json(plan))
    numbers = [value for piece in data["pieces"] for point in piece.get("outline") or piece["pattern"]
               for value in point]
    numbers += [cut[key] for roll in data["rolls"] for cut in roll["cuts"]
                for key in ("at", "across", "length", "width")]
    assert all(value * ticks == int(value * ticks) for value in numbers)
    assert {piece["roll"] for piece in data["pieces"]} == {roll["tag"] for roll in data["rolls"]}


def test_the_text_is_ascii_stable_and_a_record_a_line() -> None:
    text = plan_json(crew_plan(name="Süd 🌊 </script>"))
    assert text.isascii() and text == plan_json(crew_plan(name="Süd 🌊 </script>"))
    assert json.loads(text)["job"]["name"] == "Süd 🌊 </script>"
    assert sum('"tag": "A-01", "kind"' in line for line in text.splitlines()) == 1


def test_nothing_ordered_nothing_proven() -> None:
    plan = replace(crew_plan(), cuttings=(), cost_bound=None, optimal=False)
    data = json.loads(plan_json(plan))
    assert data["rolls"] == [] and data["summary"]["cost_bound"] is None and data["summary"]["optimal"] is False
    assert {piece["roll"] for piece in data["pieces"]} == {None}


def test_other_pieces_have_another_digest() -> None:
    plan = crew_plan()
    longer = replace(plan.pieces[3], length=plan.pieces[3].length + 1)
    assert digest(plan) == digest(crew_plan()) != digest(with_pieces(plan, longer))
    assert len(digest(plan)) == 12 and W == t('36"')
