"""Jobs at the edge of what may be asked: planned and clean, or refused in plain words, soon."""

from __future__ import annotations

import json
import time
from typing import Any

import pytest

from helpers.packets import packet_findings, plan_findings, short_plan
from helpers.thinned import thinned
from layout.errors import JobError
from layout.job import read_job_text
from layout.pipeline import make_plan

SOON = 5.0
"""Longest that a refusal may take [seconds of processor]."""


def job(face: dict[str, Any], **more: Any) -> str:
    """Return a job of one face 30 ft long, 8 ft high unless it says otherwise."""
    sheet = {"width": 36, "rolls": [{"length": "66'-8\"", "price": 205}], **more.pop("sheet", {})}
    return json.dumps({
        "job": {"name": "x"}, "sheet": sheet, "runs": [{"name": "A", "flow": "right", "faces": [{
            "name": "S", "length": 360, "top": 96, "footing": 0, "ledge": 4, "footing_depth": 12, **face}]}], **more})


def refusal(text: str) -> list[str]:
    """Return what a job is refused with, soon."""
    began = time.process_time()
    with pytest.raises(JobError) as caught:
        make_plan(read_job_text(text, "job.json"))
    assert time.process_time() - began < SOON
    return caught.value.lines()


PIPE = {"sleeves": [{"tag": "P1", "at": 180, "elevation": 40, "diameter": 4}]}
THIN = {"sleeves": [{"tag": "P1", "at": 180, "elevation": 40, "diameter": "1/16 in"}]}
DEAR = {"rolls": [{"length": 800, "price": 1e9}]}
REFUSED: dict[str, tuple[str, list[str]]] = {
    "a sleeve of a tick": (
        job(THIN), ["job.json:1: runs.A.faces.S.sleeves.P1.diameter: must be at least 1/4\" (got 1/16 in)"]),
    "a slot of a tick in the top": (
        job({"top": [[0, 96], [100, 96], [100, 60], [100.0625, 60], [100.0625, 96]]}),
        ["job.json:1: runs.A.faces.S.top[2]: must not have a slot narrower than 1/2\", to which no sheet can be cut "
         "(got 1/16\"); leave it out: a patch closes it"]),
    "a face of a tick": (
        job({"length": "1/16 in"}), ["job.json:1: runs.A.faces.S.length: must be at least 1\" (got 1/16 in)"]),
    "a wall top near 30,000 ft": (
        job({"top": "29999 ft"}),
        ["job.json:1: runs: must need at most 5,000 pieces of sheet together (got about …)",
         "job.json:1: runs.A.faces.S.top: must be at most 200'-0\" above the footing (got 29999'-0\" above it)"]),
    "a footing near 30,000 ft down": (
        job({"footing": "-29999 ft"}),
        ["job.json:1: runs: must need at most 5,000 pieces of sheet together (got about …)",
         "job.json:1: runs.A.faces.S.top: must be at most 200'-0\" above the footing (got 30007'-0\" above it)"]),
    "a start in the last days of the calendar": (
        job({}, schedule={"start": "9999-12-30"}),
        ["job.json:1: schedule.start: must be a date from 1900 to 2999 (got 9999-12-30)"]),
    "a delivery before the calendar of today": (
        job({}, delivery={"date": "0001-01-01"}),
        ["job.json:1: delivery.date: must be a date from 1900 to 2999 (got 0001-01-01)"]),
    "work that takes centuries": (
        job({}, schedule={"start": "2026-05-04"}, labour={"crew": 3, "drops_per_day": 0.0001}),
        ["labour: must let the work end within 100,000 working days (got 110,000); raise what is done a day"]),
    "a roll for less than a cent": (
        job({}, sheet={"rolls": [{"length": 800, "price": 1e9}, {"length": 600, "price": 0.0001}]}),
        ["job.json:1: sheet.rolls[1].price: must have at most 2 digits after the point (got 0.0001)"]),
    "rolls for more than 10^9": (
        job({}, sheet=DEAR),
        ["takeoff, membrane, rolls: must come to at most 1,000,000,000 (got at least 2,000,000,000.00 of money); look "
         "at its price, and at how much its packages hold"]),
    "a thousand dear drops": (  # 3,000 ft in sheet 3 ft wide, without any lap
        job({"length": 36_000}, labour={"crew": 3, "per_drop": 1_000_001}),
        ["takeoff, hang drops: must come to at most 1,000,000,000 (got at least 1,000,001,000.00 of money); look at "
         "its price, and at how much its packages hold"]),
    "primer that covers nothing": (
        job({}, primer={"name": "Primer", "coverage": 0.0001, "package": "can", "price": 1e9}),
        ["takeoff, Primer: must come to at most 1,000,000,000 (got … of money); look at its "
         "price, and at how much its packages hold"]),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_planned_is_refused_in_plain_words(name: str) -> None:
    text, told = REFUSED[name]
    for line, known in zip(refusal(text), told, strict=True):
        before, _, after = known.partition("…")
        assert line.startswith(before) and line.endswith(after)


PLANNED: dict[str, str] = {
    "a wall just below 30,000 ft": job({"top": "29999 ft", "footing": "29991 ft"}),
    "a wall just above -30,000 ft": job(
        {"top": "-29991 ft", "footing": "-29999 ft"},
        primer={"name": "P", "coverage": 100, "package": "can", "price": 1}),
    "a start in the last year of dates": job({}, schedule={"start": "2999-12-30"}),
    "a ramp of a tick in the top": job({"top": [[0, 96], [100, 96], [100.0625, 110], [100.125, 96], [360, 96]]}),
    "a spike of a tick in the top": job({"top": [[0, 96], [100, 96], [100, 110], [100.0625, 110], [100.0625, 96]]}),
    "a slot of half an inch in the top": job({"top": [[0, 96], [100, 96], [100, 60], [100.5, 60], [100.5, 96]]}),
    "a slot of a tick in the footing": job({"footing": [[0, 0], [100, 0], [100, -12], [100.0625, -12], [100.0625, 0]]}),
    "a curb of a tick on the footing": job({"footing": [[0, 0], [100, 0], [100, 12], [100.0625, 12], [100.0625, 0]]}),
    "collars of 15 ft": job(PIPE, rules={"collar_reach": "15'-0\""}),
    "rolls whose prices are far apart": job(
        {}, sheet={"rolls": [{"length": 800, "price": 99_999_999.99}, {"length": 600, "price": 0.01, "on_hand": 2}]}),
    "a low wall whose toe is most of a tick longer than it need be": job(
        {"top": 1.125, "length": 230.5}, rules={"fillet": 0.25, "base_strip": 36}),
    "a face narrower than a lap, with a sleeve": job(
        {"length": 2, "sleeves": [{"tag": "P1", "at": 1, "elevation": 40, "diameter": 1}]}),
    "a window into which the sheet turns as far as half its width": job(
        {"openings": [{"tag": "W1", "kind": "window", "left": 100, "sill": 40, "width": 22.625, "height": 24}]},
        rules={"opening_return": 11}),
    "a side lap wider than the end lap": job(
        {"length": 72}, rules={"side_lap": 8.0625, "end_lap": 2.5, "max_piece": 60}),
    "a wall 59 ft high": job({"top": "59 ft", "length": 96}),
}


@pytest.mark.parametrize("name", PLANNED)
def test_what_can_be_planned_is_clean(name: str) -> None:
    assert plan_findings(short_plan(PLANNED[name])) == ()


@pytest.mark.parametrize("name", thinned(PLANNED, keep=5))
def test_the_papers_of_what_can_be_planned_are_clean(name: str) -> None:
    assert packet_findings(short_plan(PLANNED[name])) == ()
