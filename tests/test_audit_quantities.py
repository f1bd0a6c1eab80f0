"""The audit works net quantities of the takeoff again: each line that is a little off is found, and no other."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from helpers.packets import short_plan, write_tables
from helpers.random_jobs import random_job
from helpers.thinned import thinned
from layout.audit.asked import read_asked
from layout.audit.findings import Findings
from layout.audit.quantities import check_quantities
from layout.audit.spread import Spreads
from layout.audit.written import Written, read_written
from layout.errors import NoLayout
from layout.job import read_mapping
from layout.records import Finding
from layout.units import UNITS

PERS = ("job", "day", "roll", "drop", "piece", "sleeve", "opening", "corner", "area", "seam")
JOB: dict[str, Any] = {
    "job": {"name": "Everything counted"},
    "sheet": {"name": "sheet", "width": 36, "rolls": [{"length": "66'-8\"", "price": 205, "weight_lb": 83}],
              "remnants": [{"tag": "K1", "length": "20'-0\""}]},
    "strip": {"name": "tape", "width": 18, "rolls": [{"length": "50'-0\"", "price": 60, "weight_lb": 31}]},
    "rules": {"base_strip": 18},
    "runs": [{"name": "A", "faces": [
        {"name": "South", "length": 300, "top": [[0, 96], [160, 96], [160, 84], [300, 84]], "ledge": 6,
         "footing": [[0, 0], [200, 0], [200, 16], [300, 16]],
         "openings": [{"tag": "W1", "kind": "window", "left": 53, "sill": 40, "width": 28, "height": 30}],
         "sleeves": [{"tag": "P1", "at": 260, "elevation": 48, "diameter": 4}]},
        {"name": "East", "length": 200, "top": 180, "footing": 16, "ledge": 6, "corner": "inside"},
        {"name": "North", "length": 150, "top": 96, "footing": 16, "ledge": 6},
    ]}],
}
EXTRAS: dict[str, Any] = {
    "primer": {"coverage": 250, "coats": 2}, "sealant": {"volume": 29, "seam_bead": "1/8\""}, "termination_bar": {},
    "outlet_channel": {}, "adhesive": {"name": "glue", "coverage": 100}, "protection": {"name": "felt", "coverage": 90},
    "drainage_board": {"name": "board", "width": 48, "rolls": [{"length": "50'-0\"", "price": 90}]},
    "labour": {"per_drop": 5, "drops_per_day": 4, "strip_per_day": 40, "bar_per_day": 60},
    "delivery": {"rolls_a_pallet": 1},
    "consumables": [{"item": f"by the {per}", "per": per, "quantity": 3, "in_package": 7} for per in PERS],
}
ELSEWHERE = {
    "wall, ledge and footing face to cover", "wall/footing joint", "hang drops", "cut pieces",  # finding 833
}
"""Lines that are held by another finding."""


@lru_cache(maxsize=None)
def written(text: str) -> tuple[Written, tuple[Finding, ...], Any]:
    """Return what plan.json says of a job's plan, what is found, and the job as the audit reads it."""
    with TemporaryDirectory() as place:
        write_tables(short_plan(text), Path(place))
        asked = read_asked(read_mapping(Path(place) / "job.yaml"))
        plan = read_written(Path(place), asked.unit)
    return plan, found(plan, asked), asked


def found(plan: Written, asked: Any) -> tuple[Finding, ...]:
    """Return what is found in the net quantities."""
    book = Findings(UNITS["in"])
    check_quantities(plan, asked, Spreads(plan, asked), book)
    return book.findings()


def test_each_line_that_is_off_is_found() -> None:
    """Every line that is measured, bought, weighed or worked, by 4 % of it and at least 1: finding 835 names it."""
    plan, first, asked = written(json.dumps({**JOB, **EXTRAS}))
    assert first == ()
    off = {str(line["item"]) for line in plan.takeoff if line["group"] not in ("money", "piece")} - ELSEWHERE
    wrong = ({**line, "net": float(line["net"]) * 1.04 + 1} if line["item"] in off else line for line in plan.takeoff)
    told = found(replace(plan, takeoff=tuple(wrong)), asked)
    assert sorted(each.place for each in told if each.number == 835) == sorted(f"takeoff, {item[:60]}" for item in off)
    names = {line["item"] for line in plan.takeoff}
    assert ELSEWHERE <= names and {f"by the {per}" for per in PERS} <= names and "put on drainage board" in names
    assert {"primer, first band", "fastener", "outlet channel, outlet", "heaviest piece of membrane (sheet)",
            "heaviest pallet of strip (tape)"} <= names


def test_each_order_of_a_package_more_is_found() -> None:
    """One package more than the net quantity takes with its waste and overage: finding 836 names the line."""
    plan, _, asked = written(json.dumps({**JOB, **EXTRAS}))
    more = {str(line["item"]) for line in plan.takeoff
            if line["group"] == "material" and line["unit"] not in ("roll", "remnant", "bar")}
    wrong = ({**line, "order": float(line["order"]) + 1} if line["item"] in more else line for line in plan.takeoff)
    told = found(replace(plan, takeoff=tuple(wrong)), asked)
    assert sorted((each.number, each.place) for each in told) == sorted((836, f"takeoff, {item[:60]}") for item in more)


def test_things_of_one_name_are_each_held_by_their_own_line() -> None:
    """Rags by the job and by the opening, and one thing by the name of a measured length: all clean."""
    twice = [{"item": "rag", "quantity": 9}, {"item": "rag", "per": "opening"}, {"item": "side laps", "quantity": 500}]
    assert written(json.dumps({**JOB, **EXTRAS, "consumables": twice}))[1] == ()


@pytest.mark.parametrize("seed", thinned([*range(12), 108]))
def test_random_jobs_with_everything_in_them_are_clean(seed: int) -> None:
    job = json.loads(random_job(seed))
    metric = job.get("units") == "mm"
    extras = {**EXTRAS, "sealant": {"volume": 600 if metric else 29, "seam_bead": "3 mm"}}
    del extras["drainage_board"]
    try:
        assert written(json.dumps({**job, **extras}))[1] == ()
    except NoLayout:
        pytest.skip("no layout")
