"""Cutting stock with published optima.

Sources: the encyclopaedia example of paper reels; Chvátal, Linear Programming, chapter 13; the 17-unit boards of
Winston and the MIE376 notes; OR-Library binpack1 u120_00; BPPLIB (Delorme, Iori and Martello, Optimization Letters
12(2):235-250, 2018), whose optima are in tests/data/bpplib.json. First-fit decreasing's figures are from the same
collection of examples.
"""

import json
import time
from pathlib import Path
from typing import Any

import pytest

from helpers.tree import solve_by_tree
from layout.rolls import Item, Problem, Stock, solve
from layout.rolls.first_fit import quick_answer

DATA = Path(__file__).parents[1] / "data"
WORKED = json.loads((DATA / "cutting-worked.json").read_text())["instances"]
BPPLIB = json.loads((DATA / "bpplib.json").read_text())["instances"]
# one or two of each class, the quickest to prove
QUICK = (
    "Falkenauer_u120_01", "Falkenauer_t60_02", "N1C1W2_Q", "N1W1B2R4", "Waescher_TEST0022", "Schwerin1_BPP13",
    "Hard28_BPP814", "BPP_100_120_0.1_0.8_5",
)
FIRST_FIT = {"paper reels": 82, "Chvatal chapter 13": 485, "17-unit boards": 19, "OR-Library binpack1 u120_00": 49}


def problem(instance: dict[str, Any]) -> Problem:
    """Return a published instance as a problem: one unlimited roll, pieces as wide as it."""
    items = tuple(Item(length, 1, count) for length, count in zip(instance["lengths"], instance["demand"]))
    return Problem(items, (Stock(instance["stock"], 1, 1),))


@pytest.mark.parametrize("instance", WORKED, ids=lambda instance: instance["name"])
def test_worked_optimum_is_proven_within_a_second(instance: dict[str, Any]) -> None:
    start = time.process_time()
    answer = solve(problem(instance))
    assert time.process_time() - start < 1
    assert answer is not None
    assert answer.cost == answer.proof.bound == instance["optimum"]


@pytest.mark.parametrize("instance", WORKED, ids=lambda instance: instance["name"])
def test_first_fit_decreasing_is_as_published(instance: dict[str, Any]) -> None:
    patterns = quick_answer(problem(instance))
    assert patterns is not None
    if instance["name"] in FIRST_FIT:
        assert len(patterns) == FIRST_FIT[instance["name"]]


def proven(instance: dict[str, Any]) -> None:
    """Check that an instance is proven, and against its published optimum; a tree settles the hard ones."""
    answer = solve_by_tree(problem(instance))
    assert answer is not None
    assert answer.cost == answer.proof.bound == instance["optimum"]


@pytest.mark.parametrize("instance", [i for i in BPPLIB if i["name"] in QUICK], ids=lambda instance: instance["name"])
def test_bpplib_instance_of_each_class_is_proven(instance: dict[str, Any]) -> None:
    proven(instance)


@pytest.mark.slow
@pytest.mark.parametrize("instance", BPPLIB, ids=lambda instance: instance["name"])
def test_bpplib_instance_is_proven(instance: dict[str, Any]) -> None:
    proven(instance)
