"""The certificate of a cutting, checked by the audit, which shares nothing with the search; and forged ones."""

import copy
import json
from collections.abc import Callable
from decimal import Decimal
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest

from layout.audit import certificates
from layout.audit.asked import AskedStock
from layout.audit.patterns import best_worth, covered, most_worth
from layout.records import Cutting, Piece, Product, Remnant, RollStock
from layout.rolls import best_cutting
from layout.units import INCH

WIDTH = 36 * 16
STOCK = (
    RollStock(12800, WIDTH, Decimal(205)), RollStock(9600, WIDTH, Decimal(163)),
    RollStock(6400, WIDTH, Decimal(111), on_hand=2),
)
REMNANTS = (Remnant("K1", 4096, WIDTH), Remnant("K2", 3000, WIDTH))


def job(seed: int, *, rolls: int, narrow: bool) -> tuple[list[Piece], Cutting]:
    """Return the pieces of a small made-up job, and how they are cut."""
    random = Random(seed)
    sizes = [(random.randint(60 * 16, 140 * 16), WIDTH, "drop") for _ in range(5)]
    if narrow:
        sizes += [(random.randint(40 * 16, 90 * 16), 12 * 16, "drop"), (18 * 16, 18 * 16, "collar")]
    pieces = []
    for number in range(40):
        length, width, kind = random.choice(sizes)
        pieces.append(Piece(
            f"A-{number:02d}", kind, "membrane", "A", "South", "membrane", length, width, True,
            ((0, length), (width, length), (width, 0), (0, 0)), turnable=kind == "collar"))
    product = Product("membrane", WIDTH, STOCK[:rolls], REMNANTS)
    return pieces, best_cutting(pieces, product, unit=INCH, keep_remnant=768)


def proven(pieces: list[Piece], cutting: Cutting, certificate: dict[str, Any], *, rolls: int) -> Decimal:
    """Return what the audit finds proven; it raises ``Doubt`` when nothing is."""
    written = SimpleNamespace(
        rolls=[SimpleNamespace(product="membrane", cuts=roll.cuts) for roll in cutting.rolls],
        pieces=[SimpleNamespace(tag=piece.tag, length=piece.length, width=piece.width, kind=piece.kind,
                                ring=piece.outline, holes=piece.holes) for piece in pieces])
    asked = SimpleNamespace(
        stock={"membrane": tuple(AskedStock("", s.length, s.width, s.price, s.on_hand) for s in STOCK[:rolls])},
        remnants={"membrane": tuple(AskedStock(r.tag, r.length, r.width, Decimal(0), 1) for r in REMNANTS)},
        rules={"roll_end": 0})
    summary = SimpleNamespace(certificate=json.loads(json.dumps(certificate)))
    return certificates.proven_cutting("membrane", summary, written, asked)  # type: ignore[arg-type]


@pytest.mark.parametrize(("rolls", "narrow"), [
    (1, False), (1, True), (2, False), (3, False), pytest.param(2, True, marks=pytest.mark.slow),
    pytest.param(3, True, marks=pytest.mark.slow)])
def test_certificate_proves_the_bound(rolls: int, narrow: bool) -> None:
    for seed in range(3):
        pieces, cutting = job(seed, rolls=rolls, narrow=narrow)
        assert len(json.dumps(cutting.certificate)) < 40_000
        assert proven(pieces, cutting, dict(cutting.certificate), rolls=rolls) == cutting.bound


def with_leaves() -> tuple[list[Piece], Cutting]:
    """Return a job whose bound needs cases of roll counts."""
    for seed in range(12):
        pieces, cutting = job(seed, rolls=3, narrow=False)
        leaves = cutting.certificate["leaves"]
        if isinstance(leaves, list) and any(leaf["by"] == "duals" for leaf in leaves) and len(leaves) > 1:
            return pieces, cutting
    pytest.fail("no job needed leaves")


def raised(certificate: dict[str, Any]) -> None:
    certificate["bound"] += 205


def worth_less(certificate: dict[str, Any]) -> None:
    certificate["values"][0] //= 2


def dearer_duals(certificate: dict[str, Any]) -> None:
    certificate["duals"] = [2 * dual for dual in certificate["duals"]]


def more_pieces(certificate: dict[str, Any]) -> None:
    certificate["items"][0]["demand"] += 1


def dearer_rolls(certificate: dict[str, Any]) -> None:
    certificate["stocks"][0]["cost"] += 10


def shorter_rolls(certificate: dict[str, Any]) -> None:
    certificate["stocks"][0]["length"] -= 100


def words_for_duals(certificate: dict[str, Any]) -> None:
    certificate["duals"][0] = "much"


FORGED: list[tuple[Callable[[dict[str, Any]], None], set[int]]] = [
    (raised, {1105}), (worth_less, {1104}), (dearer_duals, {1104}), (more_pieces, {1103}), (dearer_rolls, {1103}),
    (shorter_rolls, {1103}),
]


@pytest.mark.parametrize(("forge", "numbers"), FORGED, ids=lambda value: getattr(value, "__name__", ""))
def test_a_forged_certificate_is_found_out(forge: Callable[[dict[str, Any]], None], numbers: set[int]) -> None:
    pieces, cutting = job(1, rolls=1, narrow=True)
    certificate = copy.deepcopy(dict(cutting.certificate))
    forge(certificate)
    with pytest.raises(certificates.Doubt) as caught:
        proven(pieces, cutting, certificate, rolls=1)
    assert caught.value.number in numbers


def test_words_for_numbers_cannot_be_read() -> None:
    pieces, cutting = job(1, rolls=1, narrow=True)
    certificate = copy.deepcopy(dict(cutting.certificate))
    words_for_duals(certificate)
    with pytest.raises(ValueError, match="no whole number"):
        proven(pieces, cutting, certificate, rolls=1)


def test_a_missing_leaf_is_found_out() -> None:
    pieces, cutting = with_leaves()
    certificate = copy.deepcopy(dict(cutting.certificate))
    del certificate["leaves"][0]  # type: ignore[attr-defined]
    with pytest.raises(certificates.Doubt) as caught:
        proven(pieces, cutting, certificate, rolls=3)
    assert caught.value.number == 1106


def test_a_leaf_that_proves_less_is_found_out() -> None:
    pieces, cutting = with_leaves()
    certificate = copy.deepcopy(dict(cutting.certificate))
    for leaf in certificate["leaves"]:  # type: ignore[attr-defined]
        if leaf["by"] == "duals":
            leaf["duals"] = [0] * len(leaf["duals"])
    with pytest.raises(certificates.Doubt) as caught:
        proven(pieces, cutting, certificate, rolls=3)
    assert caught.value.number == 1107


def test_a_pattern_worked_by_hand() -> None:
    # a roll 10 x 4: two blocks 5 long, each two pieces of 2 wide worth 3, so 12; or one piece 10 x 4 worth 11
    assert best_worth([(5, 2, 4, False), (10, 4, 1, False)], [3, 11], 10, 4) == 12
    # beside one piece 100 x 24 worth 40 a lane of 12 holds two of 50 worth 7 each
    assert best_worth([(100, 24, 1, False), (50, 12, 2, False)], [40, 7], 100, 36) == 54


def test_choices_of_rolls_worked_by_hand() -> None:
    # for 22: two of 8 and one of 6 are worth 27, and a remnant that costs nothing 2 more
    assert most_worth([10, 7, 2], [8, 6, 0], [None, None, 1], 22) == 29
    assert most_worth([10, 7, 2], [8, 6, 0], [1, None, 1], 22) == 26
    assert most_worth([10], [8], [None], -1) == -1


def test_boxes_that_leave_out_a_count() -> None:
    assert covered([(0, None)], [[(0, 3)], [(4, None)]])
    assert not covered([(0, None)], [[(0, 3)], [(5, None)]])
