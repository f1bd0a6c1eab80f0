"""The bound's certificate, checked by code that shares nothing with the search."""

import json
from decimal import Decimal
from random import Random

import pytest

from certificate_reader import best_worth, faults
from layout.records import Cutting, Piece, Product, Remnant, RollStock
from layout.rolls import cut
from layout.units import INCH

WIDTH = 36 * 16


def job(seed: int, *, rolls: int, narrow: bool) -> Cutting:
    """Cut a small made-up job."""
    random = Random(seed)
    sizes = [(random.randint(60 * 16, 140 * 16), WIDTH, False) for _ in range(5)]
    if narrow:
        sizes += [(random.randint(40 * 16, 90 * 16), 12 * 16, False), (18 * 16, 18 * 16, True)]
    pieces = []
    for number in range(40):
        length, width, turnable = random.choice(sizes)
        pieces.append(Piece(
            f"A-{number:02d}", "drop", "membrane", "A", "South", "membrane", length, width, True, (),
            turnable=turnable))
    stock = (
        RollStock(12800, WIDTH, Decimal(205)), RollStock(9600, WIDTH, Decimal(163)),
        RollStock(6400, WIDTH, Decimal(111), on_hand=2),
    )
    remnants = (Remnant("K1", 4096, WIDTH), Remnant("K2", 3000, WIDTH))
    return cut(pieces, Product("membrane", WIDTH, stock[:rolls], remnants), unit=INCH, keep_remnant=768)


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("rolls", [1, 2, 3])
def test_certificate_proves_the_bound(rolls: int, narrow: bool) -> None:
    for seed in range(3):
        cutting = job(seed, rolls=rolls, narrow=narrow)
        text = json.dumps(cutting.certificate)
        assert len(text) < 40_000
        assert faults(json.loads(text)) == []
        assert cutting.bound == cutting.certificate["bound"] * Decimal(str(cutting.certificate["step"]))


def test_a_bound_too_high_is_found_out() -> None:
    certificate = json.loads(json.dumps(job(1, rolls=1, narrow=True).certificate))
    certificate["by_duals"] += 205
    assert any("the duals prove" in what for what in faults(certificate))


def test_a_value_too_low_is_found_out() -> None:
    certificate = json.loads(json.dumps(job(1, rolls=1, narrow=True).certificate))
    certificate["values"][0] //= 2
    assert any("is worth more than" in what for what in faults(certificate))


def test_a_missing_leaf_is_found_out() -> None:
    for seed in range(9):
        certificate = json.loads(json.dumps(job(seed, rolls=3, narrow=False).certificate))
        if len(certificate["leaves"]) > 1:
            del certificate["leaves"][0]
            assert "the leaves leave out some roll counts" in faults(certificate)
            return
    pytest.fail("no job needed leaves")


def test_reader_values_a_pattern_worked_by_hand() -> None:
    # a roll 10 x 4: two blocks 5 long, each two pieces of 2 wide worth 3, so 12; or one piece 10 x 4 worth 11
    items = [
        {"length": 5, "width": 2, "demand": 4, "turnable": False},
        {"length": 10, "width": 4, "demand": 1, "turnable": False},
    ]
    assert best_worth(items, [3, 11], {"length": 10, "width": 4}) == 12
