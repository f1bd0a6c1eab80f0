"""The takeoff of the rectangular sample, worked by hand line by line, and again with every product a job can name.

All arithmetic in inches. South and North are 463.5 long, East and West 315.375; the wall is 97.25 high, the ledge 4,
the turn-down 4 (the least allowed), the fillet 3/4.
"""

from __future__ import annotations

import csv
import io
import json
import math
from decimal import Decimal
from pathlib import Path

import pytest

from layout.job import read_job_text
from layout.packet.plan_json import plan_json
from layout.packet.takeoff_list import takeoff_csv
from layout.pipeline import make_plan
from layout.records import Plan

SAMPLE = Path(__file__).resolve().parent.parent / "samples" / "basement.yaml"

RUN = 2 * (463.5 + 315.375)
TOE = math.ceil((4 + 4 - (2 - math.sqrt(2)) * 0.75) * 16) / 16
HIGH = 97.25 + TOE
CUT = math.ceil(4 * HIGH) / 4  # cut lengths are whole quarters of an inch
DROPS = math.ceil(RUN / (36 - 2.5))  # a closed run has as many laps as drops

FULL = """
sealant: {volume: 29 fl oz, price: 12, joint_fillet: true, top_bead: 1/4, sleeve_bead: 1/2, seam_bead: 1/8, waste: 10}
outlet_channel: {length: 10'-0", price: 24, outlet_price: 19}
drainage_board: {width: 48, rolls: [{length: 50'-0", price: 131}], flap: 3}
adhesive: {name: board adhesive, coverage: 200 sq ft, price: 40}
protection: {name: protection fleece, coverage: 300 sq ft, price: 55, waste: 0}
consumables:
  - {item: seam roller, quantity: 2, price: 16}
  - {item: hook blade, per: roll, quantity: 3, package: box, in_package: 50, price: 21}
  - {item: marker, per: corner, quantity: 1}
labour: {drops_per_day: 16, per_drop: 14.5, per_seam: 0.85, per_setup: 65}
alternates: [{name: second coat, add: 96}, {name: thicker sheet, per_area: 0.5}]
delivery: {rolls_a_pallet: 20, pallet_weight_lb: 45}
"""


@pytest.fixture(scope="module")
def sample() -> Plan:
    return make_plan(read_job_text(SAMPLE.read_text(encoding="utf-8"), "basement.yaml"))


@pytest.fixture(scope="module")
def full() -> Plan:
    text = SAMPLE.read_text(encoding="utf-8").replace("tax: 6.25", "tax: 6.25, markup: 12")
    return make_plan(read_job_text(text + FULL, "basement.yaml"), stop=lambda: True)


def rows(plan: Plan) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(takeoff_csv(plan))))


def near(value: float) -> Decimal:
    """Round to the hundredth, halves up."""
    return Decimal(math.floor(round(value * 100, 6) + 0.5)) / 100


def tenth(value: float) -> Decimal:
    """Round to the tenth, halves up: how areas are told."""
    return Decimal(math.floor(round(value * 10, 6) + 0.5)) / 10


def up(value: float) -> Decimal:
    """Round up to the hundredth."""
    return Decimal(math.ceil(round(value * 100, 6))) / 100


def hole(diameter: int) -> float:
    """Area of a sleeve's hole as cut [sq in]: 64 points of the circle, each drawn in to a whole sixteenth."""
    points = []
    for k in range(64):
        angle = math.pi / 2 - 2 * math.pi * k / 64
        points.append((math.trunc(round(math.cos(angle) * diameter / 2, 6)),
                       math.trunc(round(math.sin(angle) * diameter / 2, 6))))
    twice = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, [*points[1:], points[0]]))
    return abs(twice) / 2 / 256


COVER = RUN * HIGH - hole(106) - hole(40)  # sleeves of 6 5/8 and 2 1/2 in
CORNERS = 4 * (4 * 4 + 2 * 4 * 4)  # p^2 + 2 p d at each


def worked_sample() -> list[tuple[str, Decimal, Decimal, str, str]]:
    """Item, net, order, unit, cost of every line, in order."""
    feet, square = 12, 144
    # base strips: 10 ft pieces lapped 5, South (463.5 - 5) / 115 -> 4, East (315.375 - 5) / 115 -> 3 pieces
    base = [math.ceil((463.5 - 5) / 115), math.ceil((315.375 - 5) / 115)]
    strip = 2 * (463.5 + 3 * 5) + 2 * (315.375 + 2 * 5) + 4 * HIGH
    # collars 6 5/8 + 12 and 2 1/2 + 12 square; covers: corner 4 x 4 and two laps of 6, less the fillet, on the ledge,
    # two flaps 6 + 4 wide, an ear 2 1/2 wide, all 4 down: 4 + 4 + 6 = 14 in square at the most, 14 cut
    small = 18.625 ** 2 + 14.5 ** 2 + 4 * 14 ** 2
    # first band: base strips 12 wide all along, the corner strips above them, the collars less their holes, and of each
    # cover the ledge's corner less the fillet's square and both faces beyond the walls' ends
    first = RUN * 12 + 4 * 12 * (HIGH - 12) + 4 * (16 - 0.75 ** 2 + 2 * 16)
    first += 18.625 ** 2 - hole(106) + 14.5 ** 2 - hole(40)
    pails = (COVER + CORNERS) / square / 260
    # bars: South 3 whole and 103.5, East 2 whole and 75.375; no two rests fit one bar
    bars = 2 * 4 + 2 * 3
    fasteners = 10 * (1 + 15) + 2 * (1 + math.ceil(101.5 / 8)) + 2 * (1 + math.ceil(73.375 / 8))
    one = Decimal(1)
    materials = 7 * Decimal(205) + 4 * Decimal(46) + 5 * Decimal(148) + bars * Decimal("13.60") + 3 * Decimal("23.75")
    tax = near(float(materials) * 0.0625)
    total = materials + tax
    per = near(float(total / tenth(COVER / square)))
    return [
        ("wall, ledge and footing face to cover", tenth(COVER / square), tenth(COVER / square), "sq ft", ""),
        ("footing corners open under flat drops, closed by covers", tenth(CORNERS / square), tenth(CORNERS / square),
         "sq ft", ""),
        ("wall/footing joint", near(RUN / feet), near(RUN / feet), "ft", ""),
        ("top edge", near(RUN / feet), near(RUN / feet), "ft", ""),
        ("side laps", near(DROPS * HIGH / feet), near(DROPS * HIGH / feet), "ft", ""),
        # 7 drops of 104 13/16 from 800 in: 47 drops take 6.71, so 7 rolls. The drops' widths add up to the run and one
        # lap each: 46 of 36 and one ripped to 19.25
        ("membrane (60 mil self-adhering sheet), roll 66'-8\"",
         up(((RUN + DROPS * 2.5) * CUT + small) / 28_800), 7 * one,
         "roll", "1435.00"),
        ("strip (60 mil reinforcing strip), roll 50'-0\"", up(strip / 600), 4 * one, "roll", "184.00"),
        ("pieces of sheet", DROPS * one, DROPS * one, "piece", ""),
        ("corner strip", 4 * one, 4 * one, "piece", ""),
        ("base strip", 2 * sum(base) * one, 2 * sum(base) * one, "piece", ""),
        ("collar", 2 * one, 2 * one, "piece", ""),
        ("footing cover", 4 * one, 4 * one, "piece", ""),
        ("primer, first band", tenth(first / square), tenth(first / square), "sq ft", ""),
        ("primer, field", tenth((COVER + CORNERS - first) / square),
         tenth((COVER + CORNERS - first) / square), "sq ft", ""),
        ("water-based primer", up(pails), math.ceil(pails * 1.05) * one, "5 gal pail", "740.00"),
        ("termination bar", up(RUN / 120), bars * one, "bar", "190.40"),
        ("fastener", up(fasteners / 100), 3 * one, "package", "71.25"),
        ("weight of membrane (60 mil self-adhering sheet) rolls", Decimal("581.0"), Decimal("581.0"), "lb", ""),
        # 83 lb on 200 sq ft
        ("heaviest piece of membrane (60 mil self-adhering sheet)", _tenth_up(HIGH * 36 / square * 83 / 200),
         _tenth_up(HIGH * 36 / square * 83 / 200), "lb", ""),
        ("weight of strip (60 mil reinforcing strip) rolls", Decimal("84.0"), Decimal("84.0"), "lb", ""),
        ("heaviest piece of strip (60 mil reinforcing strip)", Decimal("4.2"), Decimal("4.2"), "lb", ""),
        ("materials", materials, materials, "USD", f"{materials:.2f}"),
        ("labour", 0 * one, 0 * one, "USD", "0.00"),
        ("tax", tax, tax, "USD", f"{tax:.2f}"),
        ("total", total, total, "USD", f"{total:.2f}"),
        ("total a sq ft", per, per, "USD", f"{per:.2f}"),
    ]


def _tenth_up(value: float) -> Decimal:
    return Decimal(math.ceil(round(value * 10, 6))) / 10


def test_sample_line_by_line(sample: Plan) -> None:
    found = [(row["item"], Decimal(row["net"]), Decimal(row["order"]), row["unit"], row["cost"])
             for row in rows(sample)]
    for line, worked in zip(found, worked_sample()):
        assert line == worked
    assert len(found) == len(worked_sample())


def test_sample_numbers_in_plain_sight() -> None:
    """The hand arithmetic above, its main results written out."""
    assert (RUN, TOE, HIGH, DROPS) == (1557.75, 7.5625, 104.8125, 47)
    assert CORNERS == 192
    assert RUN + DROPS * 2.5 == 46 * 36 + 19.25
    # 10 bars of 16 fasteners, 2 of 14, 2 of 11
    assert 10 * 16 + 2 * 14 + 2 * 11 == 210


def by_item(plan: Plan) -> dict[str, dict[str, str]]:
    return {row["item"]: row for row in rows(plan)}


def test_full_sealant(full: Plan) -> None:
    # fillet 3/4 x 3/4 / 2; round beads of 1/4 on top, 1/2 around pi x (6 5/8 + 2 1/2), 1/8 along the side laps; at each
    # of four corners a dab 5 across on the footing's arris, and one 2 x (2 1/2 + 3/4 sqrt 2) = 7 1/8 across where the
    # wall meets the ledge, 1/8 thick
    volume = (RUN * 0.75 ** 2 / 2 + RUN * math.pi / 4 * 0.25 ** 2 + math.pi * (6.625 + 2.5) * math.pi / 4 * 0.5 ** 2
              + DROPS * HIGH * math.pi / 4 * 0.125 ** 2 + 4 * math.pi / 4 * (5 ** 2 + 7.125 ** 2) / 8)
    cartridges = volume / (29 * 231 / 128)
    line = by_item(full)["sealant"]
    assert Decimal(line["net"]) == up(cartridges)
    assert int(Decimal(line["order"])) == math.ceil(cartridges * 1.10)
    assert Decimal(line["cost"]) == 12 * math.ceil(cartridges * 1.10)


def test_full_channel_adhesive_protection(full: Plan) -> None:
    lines = by_item(full)
    assert int(Decimal(lines["outlet channel"]["order"])) == math.ceil(RUN / 120) == 13
    assert int(Decimal(lines["outlet channel, outlet"]["order"])) == 1  # one direction all the way round
    # the board: membrane line to the ledge, no toe
    board = (RUN * 97.25 - hole(106) - hole(40)) / 144
    assert Decimal(lines["drainage board area"]["net"]) == tenth(board)
    assert int(Decimal(lines["board adhesive"]["order"])) == math.ceil(board / 200 * 1.05)
    surface = (COVER + CORNERS) / 144
    assert int(Decimal(lines["protection fleece"]["order"])) == math.ceil(surface / 300) == 4


def test_full_consumables_and_labour(full: Plan) -> None:
    lines = by_item(full)
    assert (lines["seam roller"]["order"], lines["seam roller"]["cost"]) == ("2", "32.00")
    assert (lines["hook blade"]["net"], lines["hook blade"]["order"]) == ("0.42", "1")  # 3 x 7 rolls / 50
    assert lines["marker"]["cost"] == ""  # unpriced, not zero
    assert Decimal(lines["hang drops"]["cost"]) == DROPS * Decimal("14.5")
    board = (RUN * 97.25 - hole(106) - hole(40)) / 144
    assert (lines["put on drainage board"]["net"], lines["put on drainage board"]["cost"]) == (str(tenth(board)), "")
    assert Decimal(lines["put on: footing cover"]["order"]) == 4
    assert Decimal(lines["cut slits"]["order"]) == 4 * 3  # at each corner the drop, the corner strip and the cover
    assert Decimal(lines["roll seams"]["cost"]) == near(float(near(DROPS * HIGH / 12) * Decimal("0.85")))
    assert lines["cut pieces"]["cost"] == ""
    assert Decimal(lines["set up"]["cost"]) == 4 * 65
    assert Decimal(lines["heaviest pallet of membrane (60 mil self-adhering sheet)"]["net"]) == 7 * 83 + 45


def test_full_money_adds_up(full: Plan) -> None:
    cost = full.costing
    assert cost is not None
    lines = [line for line in full.quantities if line.cost is not None and line.group in ("material", "labour")]
    priced = sum((line.cost or Decimal(0)) for line in lines)
    assert cost.materials + cost.labour == priced
    assert cost.markup == near(float(priced * 12) / 100)
    assert cost.tax == near(float((priced + cost.markup) * Decimal("6.25")) / 100)
    assert cost.total == priced + cost.markup + cost.tax
    assert cost.unpriced == (
        "marker", "prime", "put on: corner strip", "put on: base strip", "put on: collar", "put on: footing cover",
        "dabs of sealant", "cut slits", "fasten termination bar", "put on drainage board", "cut pieces")
    assert "unpriced and not in it: marker, prime, put on: corner strip" in by_item(full)["total"]["basis"]
    half = near(0.5 * float(tenth(COVER / 144)))
    assert cost.alternates == (("second coat", Decimal("96.00")), ("thicker sheet", half))
    for line in lines:
        assert line.price is not None and line.cost == (line.price * line.order).quantize(Decimal("0.01"))


def test_csv_and_plan_json_agree_to_the_last_digit(full: Plan) -> None:
    written = json.loads(plan_json(full))["takeoff"]
    listed = rows(full)
    assert len(written) == len(listed) == len(full.quantities)
    for there, here in zip(written, listed):
        for key in ("item", "unit", "package", "basis"):
            assert there[key] == here[key]
        for key in ("net", "order", "price", "cost"):
            assert ("" if there[key] is None else Decimal(repr(there[key]))) == (
                "" if here[key] == "" else Decimal(here[key]))


def test_every_line_shows_its_arithmetic(full: Plan) -> None:
    for line in full.quantities:
        assert line.basis
        if line.group == "material" and "roll" not in line.item and "whole" in line.basis:
            assert f"; {line.order} whole" in line.basis
