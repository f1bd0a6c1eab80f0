"""Tools and supplies, counted for whatever wears them out; every count below is worked by hand."""

from __future__ import annotations

from decimal import Decimal

import pytest

from helpers.packets import short_plan
from layout.errors import JobError
from layout.job import read_job_text
from layout.records import Quantity

# Two faces of 10 ft, 8 ft high, no ledge, sheet turned down 4 in: the sheet is 100 in high. 20 ft take 8 drops of
# 36 in lapped 2 1/2 in (36 + 7 x 33 1/2 >= 240 > 36 + 6 x 33 1/2), so 7 seams of 100 in, which is 58.33 ft.
# The window is too narrow for a seam to stand clear of both its jambs, so no seam runs through it.
TWO_FACES = """
job: {name: Two faces}
sheet: {width: 36, rolls: [{length: 66'-8", price: 205}]}
rules: {turn_down: 4}
consumables: [{item: glove, per: PER, quantity: 3MORE}]
LABOUR
runs:
  - name: A
    faces:
      - {name: South, length: 10 ft, top: 8 ft, corner: outside,
         openings: [{tag: W1, kind: window, left: 45, sill: 60, width: 10, height: 20}]}
      - {name: East, length: 10 ft, top: 8 ft}
"""


def glove(per: str, *, more: str = "", labour: str = "") -> Quantity:
    """Return the takeoff's line of a supply of which 3 are used up for each of something."""
    text = TWO_FACES.replace("PER", per).replace("MORE", more).replace("LABOUR", labour)
    line, = (line for line in short_plan(text).quantities if line.item == "glove")
    return line


@pytest.mark.parametrize(("per", "net", "order", "words"), [
    ("job", "3", 3, "3 for the job"),
    ("drop", "24", 24, "3 for each drop, 8 drops"),
    ("opening", "3", 3, "3 for each opening, 1 opening"),
    ("sleeve", "0", 0, "3 for each sleeve, 0 sleeves"),
    ("corner", "3", 3, "3 for each corner, 1 corner"),
    # 58.33 / 100 x 3 = 1.75
    ("seam", "1.75", 2, "3 for each 100 ft of 58.33 of seam"),
    # (240 x 100 - 10 x 20) / 144 = 165.28 sq ft
    ("area", "4.96", 5, "3 for each 100 sq ft of 165.28"),
])
def test_supplies_by_what_wears_them_out(per: str, net: str, order: int, words: str) -> None:
    line = glove(per)
    assert (line.net, line.order) == (Decimal(net), order)
    assert words in line.basis
    assert line.cost is None  # no price, so unpriced, not free


def test_a_package_of_supplies_and_its_price() -> None:
    line = glove("drop", more=", package: box, in_package: 10, price: 4.5")
    assert (line.unit, line.net, line.order, line.cost) == ("box", Decimal("2.40"), 3, Decimal("13.50"))
    assert "10 a box" in line.basis


def test_supplies_by_the_day_need_a_crew() -> None:
    line = glove("day", labour="labour: {drops_per_day: 3}")
    assert (line.net, line.order) == (Decimal(9), 9)  # 8 drops at 3 a day are 3 days
    assert "3 for each day, 3 days" in line.basis
    without = glove("day")
    assert (without.net, without.order, without.cost) == (0, 0, None)
    assert "the job gives no crew (labour), so no days" in without.basis


def test_supplies_by_a_word_nobody_knows_are_refused() -> None:
    with pytest.raises(JobError, match=r"consumables\.glove\.per"):
        read_job_text(TWO_FACES.replace("PER", "week").replace("MORE", "").replace("LABOUR", ""), "two.yaml")
