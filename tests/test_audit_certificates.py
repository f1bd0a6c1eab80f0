"""Claims about the cost of all layouts: the audit believes what it can work out itself; forgeries are found."""

import json
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from helpers.integrated_jobs import integrated_job
from helpers.thinned import thinned
from layout.audit.asked import read_asked
from layout.audit.certificates import check_certificates
from layout.audit.findings import Findings
from layout.audit.least import Cells, RowSearch, WorthTerms
from layout.audit.written import read_written
from layout.faces import develop
from layout.job import read_job_text
from layout.integrated.market import Worth
from layout.integrated.search import IntegratedSearch
from layout.packet.plan_json import plan_json
from layout.pipeline import plan_sheet

PROVEN, OPEN = 4, 60
"""Seeds of a job whose plan is proven, and of one whose bound lies below its cost."""


@lru_cache(maxsize=None)
def told(seed: int) -> str:
    """Return plan.json of a seeded job."""
    return plan_json(plan_sheet(read_job_text(integrated_job(seed), "seeded")))


def findings(seed: int, data: dict[str, Any], folder: Path) -> set[int]:
    """Return the numbers of what the audit finds in the claims of a plan."""
    asked = read_asked(json.loads(integrated_job(seed)))
    (folder / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    book = Findings(asked.unit)
    check_certificates(read_written(folder, asked.unit), asked, book)
    return {finding.number for finding in book.findings()}


def forged(seed: int, change: Callable[[dict[str, Any]], None], folder: Path) -> set[int]:
    """Return what is found once a plan was changed."""
    data = json.loads(told(seed))
    change(data)
    return findings(seed, data, folder)


@pytest.mark.parametrize("seed", [PROVEN, OPEN])
@pytest.mark.slow
def test_what_is_told_is_believed(seed: int, tmp_path: Path) -> None:
    assert findings(seed, json.loads(told(seed)), tmp_path) == set()


def bound_raised_to_the_cost(data: dict[str, Any]) -> None:
    data["summary"]["cost_bound"] = data["summary"]["cost"]
    data["summary"]["optimal"] = True


def emptied(data: dict[str, Any]) -> None:
    data["summary"]["certificate"] = {}
    for product in data["products"]:
        product["certificate"] = {}


def certificate_of(data: dict[str, Any]) -> Any:
    return data["summary"]["certificate"]


def bound_and_certificate_raised(data: dict[str, Any]) -> None:
    bound_raised_to_the_cost(data)
    certificate_of(data)["bound"] = int(data["summary"]["cost"])


def run_worth_more(data: dict[str, Any]) -> None:
    certificate_of(data)["runs"][-1]["least"] = certificate_of(data)["runs"][-1]["least"] * 11 // 10


def run_left_out(data: dict[str, Any]) -> None:
    del certificate_of(data)["runs"][0]


def one_length_worth_more(data: dict[str, Any]) -> None:
    certificate_of(data)["rises"][1000] += 100_000


def all_lengths_worth_more(data: dict[str, Any]) -> None:
    certificate_of(data)["rises"] = [2 * rise for rise in certificate_of(data)["rises"]]


def falling(data: dict[str, Any]) -> None:
    certificate_of(data)["rises"][5] = -1


def coarser(data: dict[str, Any]) -> None:
    certificate_of(data)["grain"] = 7


def words(data: dict[str, Any]) -> None:
    certificate_of(data)["bound"] = "the least"


def by_area_instead(data: dict[str, Any]) -> None:
    data["summary"]["certificate"] = {"by": "area", "bound": certificate_of(data)["bound"]}


def cutting_bound_raised(data: dict[str, Any]) -> None:
    data["products"][0]["cost_bound"] = data["products"][0]["cost"] + 100


def duals_doubled(data: dict[str, Any]) -> None:
    certificate = data["products"][0]["certificate"]
    certificate["duals"] = [2 * dual for dual in certificate["duals"]]


def small_pieces_counted(data: dict[str, Any]) -> None:
    certificate = data["products"][0]["certificate"]
    collar = next(piece for piece in data["pieces"] if piece["kind"] not in ("drop", "corner strip", "base strip"))
    certificate["items"].append({
        "length": round(collar["length"] * 16), "width": round(collar["width"] * 16), "demand": 1, "turnable": True})
    certificate["duals"].append(0)


FORGED: list[tuple[int, Callable[[dict[str, Any]], None], int]] = [
    (OPEN, bound_raised_to_the_cost, 1108),
    (PROVEN, emptied, 1101),
    (OPEN, bound_and_certificate_raised, 1111),
    (PROVEN, run_worth_more, 1110),
    (PROVEN, run_left_out, 1112),
    (PROVEN, one_length_worth_more, 1109),
    (PROVEN, all_lengths_worth_more, 1111),
    (PROVEN, falling, 1109),
    (PROVEN, coarser, 1102),
    (PROVEN, words, 1102),
    (PROVEN, by_area_instead, 1111),
    (PROVEN, cutting_bound_raised, 1108),
    (PROVEN, duals_doubled, 1104),
    (OPEN, small_pieces_counted, 1103),
]


@pytest.mark.parametrize(("seed", "change", "number"), [
    pytest.param(*forgery, marks=pytest.mark.slow if forgery[0] == OPEN else ()) for forgery in FORGED
], ids=lambda value: getattr(value, "__name__", ""))
def test_a_forged_claim_is_found_by_its_number(
    seed: int, change: Callable[[dict[str, Any]], None], number: int, tmp_path: Path,
) -> None:
    assert forged(seed, change, tmp_path) == {number}


@pytest.mark.parametrize("seed", thinned([1, 2, 7]))
def test_the_least_worth_of_a_run_is_what_the_placement_proves(seed: int) -> None:
    """Steps, windows and closed runs: two codes that share nothing agree on the least of all rows of drops."""
    job = read_job_text(integrated_job(seed), "seeded")
    walls, asked = develop(job), read_asked(json.loads(integrated_job(seed)))
    search = IntegratedSearch(job, walls)
    search.first()
    worth = np.arange(12801, dtype=np.int64) * 3
    for wall, run in zip(walls, asked.runs, strict=True):
        layout = search.place(wall, Worth(worth, 1))
        assert layout.bound is not None
        claim = layout.bound.violation, layout.bound.price
        found = RowSearch(Cells(run, asked, wall.turn_down), WorthTerms(worth, 576, 384)).least(claim)
        assert found >= claim
        if not wall.closed:
            assert found == claim
