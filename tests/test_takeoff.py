"""The takeoff's rules: surfaces of any outline, bars, money, dates, fit checks, and what each rule moves."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

import pytest
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from helpers.thinned import thinned
from layout.errors import JobError
from layout.faces import develop
from layout.job import read_job_text
from layout.pieces import reinforce
from layout.pipeline import make_plan
from layout.records import Plan, Primer, Quantity
from layout.shapes import ring_area
from layout.takeoff import fit_checks, schedule, take_off
from layout.takeoff.edges import bar_lengths, fasteners
from layout.takeoff.figures import bought, decimal
from layout.takeoff.walls import Measures

INCH = 16


# --- surfaces ----------------------------------------------------------------------------------

def outline(seed: int) -> Polygon:
    """Return a random right-angled outline on whole inches: a block of rooms, no courtyards."""
    rng = random.Random(seed)
    while True:
        xs, ys = [0], [0]
        for edges in (xs, ys):
            for _ in range(3):
                edges.append(edges[-1] + rng.randint(40, 200))
        rooms = [box(xs[i], ys[j], xs[i + 1], ys[j + 1]) for i in range(3) for j in range(3) if rng.random() < 0.7]
        whole = unary_union(rooms)
        if isinstance(whole, Polygon) and not whole.interiors and whole.area:
            return whole.simplify(0)


def corners_of(shape: Polygon) -> list[tuple[float, str]]:
    """Return the length of each wall, counter-clockwise, and what is at its right end."""
    points = list(shape.exterior.coords[:-1])
    if not shape.exterior.is_ccw:
        points.reverse()
    walls = []
    for i, here in enumerate(points):
        there, beyond = points[(i + 1) % len(points)], points[(i + 2) % len(points)]
        turn = ((there[0] - here[0]) * (beyond[1] - there[1]) - (there[1] - here[1]) * (beyond[0] - there[0]))
        walls.append((abs(there[0] - here[0]) + abs(there[1] - here[1]), "outside" if turn > 0 else "inside"))
    return walls


@pytest.mark.parametrize("seed", thinned(range(100), keep=8))
def test_surface_of_right_angled_outlines(seed: int) -> None:
    """run x developed height + 4 x (p^2 + 2 p d), against the solid itself: wall, ledge and footing face by shapely."""
    shape = outline(seed)
    walls = corners_of(shape)
    high, p, d = 96, 6, 4
    faces = "".join(
        f"      - {{name: F{n}, length: {length}, top: {high}, footing: 0, ledge: {p}, corner: {corner}}}\n"
        for n, (length, corner) in enumerate(walls))
    job = read_job_text(f"""
job: {{name: Outline}}
sheet: {{width: 36, rolls: [{{length: 66'-8"}}]}}
rules: {{fillet: 0, turn_down: {d}, base_strip: 18}}
runs:
  - name: A
    closed: true
    faces:
{faces}""", "outline.yaml")
    wall, = develop(job)
    covers = [piece for piece in reinforce(job, (wall,), (), ())[0] if piece.kind == "footing cover"]
    measures = Measures(Plan(job, (wall,), (), (), (), (), ()))
    footing = shape.buffer(p, join_style="mitre")
    solid = shape.length * high + (footing.area - shape.area) + footing.length * d
    assert measures.flat / 256 == pytest.approx(shape.length * (high + p + d))
    assert measures.surface / 256 == pytest.approx(solid)
    assert measures.surface / 256 == pytest.approx(shape.length * (high + p + d) + 4 * (p * p + 2 * p * d))
    assert len(covers) == sum(corner == "outside" for _, corner in walls)
    # each cover holds the open 84 sq in, its two laps 6 x 10 and its ear 2 1/2 x 4
    assert {ring_area(piece.outline) / 256 for piece in covers} == {84 + 2 * 60 + 10}


# --- bars and whole packages -------------------------------------------------------------------

@pytest.mark.parametrize(("length", "count"), [(120, 16), (8, 2), (10, 2), (10.0625, 3), (2, 1), (1, 1), (463.5, 59)])
def test_fasteners(length: float, count: int) -> None:
    # 8 in apart, 1 in from the ends: 1 + ceil((length - 2) / 8)
    assert fasteners(round(length * 16), spacing=128, from_end=16) == count


@pytest.mark.parametrize("stretch", [1, 191, 192, 1919, 1920, 1921, 2111, 2112, 7416, 12345])
def test_bar_lengths_add_up(stretch: int) -> None:
    lengths = bar_lengths(stretch, stock=1920, shortest=192)
    assert sum(lengths) == stretch and max(lengths) <= 1920
    assert len(lengths) == -(-stretch // 1920)
    assert min(lengths) >= min(192, stretch)


@pytest.mark.parametrize(("net", "waste", "order"), [
    (Fraction(3), 0, 3), (Fraction(3), 5, 4), (Fraction(20, 7), 5, 3), (Fraction(0), 5, 0), (Fraction(20), 5, 21),
])
def test_whole_packages(net: Fraction, waste: int, order: int) -> None:
    line = bought("x", unit="pail", net=net, waste=Decimal(waste), price=Decimal("1.25"), basis="net")
    assert line.order == order and line.cost == order * Decimal("1.25")
    assert bought("x", unit="pail", net=net, basis="net").cost is None


def test_figures_are_rounded_once() -> None:
    assert decimal(Fraction(1, 200)) == Decimal("0.01") and decimal(Fraction(1, 300), up=True) == Decimal("0.01")
    assert decimal(0.1 + 0.2, up=True) == Decimal("0.30")


# --- a small job, and what each rule moves -----------------------------------------------------

SMALL = """
job: {name: Small}
sheet: {width: 36, rolls: [{length: 66'-8", price: 205, weight_lb: 83}]}
strip: {width: 12, rolls: [{length: 50'-0", price: 46}]}
rules: {RULES}
primer: {coverage: 250 sq ft, price: 148, open_time_hours: 4}
sealant: {volume: 29 fl oz, price: 12}
termination_bar: {price: 13.6, fastener_price: 20}
labour: {drops_per_day: 6}
EXTRA
runs:
  - name: A
    faces:
      - {name: South, length: 25'-0", top: 8'-0", footing: 0, ledge: 4, corner: outside, grade: 7'-0",
         sleeves: [{tag: P1, at: 100, elevation: 48, diameter: 4}]}
      - {name: East, length: 18'-0", top: 8'-0", footing: 0, ledge: 4, grade: 7'-0"}
"""


@lru_cache(maxsize=None)
def small(rules: str = "", extra: str = "") -> Plan:
    text = SMALL.replace("RULES", rules).replace("EXTRA", extra)
    return make_plan(read_job_text(text, "small.yaml"))


def lines(plan: Plan) -> dict[str, Quantity]:
    return {line.item: line for line in plan.quantities}


def moved(before: Plan, after: Plan) -> set[str]:
    """Return the items whose net, order or cost differ between two plans, sums of money left out."""
    a, b = lines(before), lines(after)
    names = {name for name in a if a[name].group != "money"} | {name for name in b if b[name].group != "money"}

    def figures(found: dict[str, Quantity], name: str) -> tuple[Decimal, Decimal, Decimal | None] | None:
        return (found[name].net, found[name].order, found[name].cost) if name in found else None

    return {name for name in names if figures(a, name) != figures(b, name)}


ROLL, STRIP = "membrane, roll 66'-8\"", "strip, roll 50'-0\""


@pytest.mark.parametrize(("rules", "expected"), [
    ("corner_strip: 0", {
        "corner strip", "put on: corner strip", STRIP, "cut pieces", "cut slits", "primer, first band",
        "primer, field"}),
    ("base_strip: 0", {"base strip", "put on: base strip", STRIP, "cut pieces", "primer, first band", "primer, field"}),
    ("collar_reach: 16", {ROLL, "primer, first band", "primer, field"}),
    ("collar_reach: 0", {"collar", "put on: collar", "cut pieces", ROLL, "primer, first band", "primer, field"}),
    ("fillet: 0", {
        "sealant", "wall, ledge and footing face to cover", "side laps", "roll seams", ROLL, STRIP, "ends of open runs",
        "put on: corner strip", "prime", "primer, first band", "primer, field", "primer",
        "heaviest piece of membrane"}),
    ("clear_of_sleeve: 0", set()),
])
def test_one_rule_moves_its_own_quantities(rules: str, expected: set[str]) -> None:
    found = moved(small(), small(rules))
    assert found <= expected and bool(found) == bool(expected)
    assert {"termination bar", "fastener", "top edge", "wall/footing joint"}.isdisjoint(found)


def test_prices_move_costs_alone() -> None:
    plan = small()
    dearer = small(extra="money: {currency: USD, tax: 8}")
    assert moved(plan, dearer) == set()
    assert plan.costing and dearer.costing and dearer.costing.total > plan.costing.total


def test_what_the_job_does_not_name_is_said() -> None:
    plan = small()
    assert any(note.startswith("not in the takeoff, since the job names none: drainage board, outlet channel")
               for note in plan.notes)


def test_bars_share_offcuts_only_when_cut() -> None:
    plan = small()
    own = take_off(replace(plan, quantities=(), notes=()))
    # 300 + 216 in of top edge: 2 whole + 60, 1 whole + 96; 96 at each end; no two rests fit one bar, so both ways 7
    assert lines(plan)["termination bar"].order == lines(own)["termination bar"].order == 7
    assert "each straight part" in lines(own)["termination bar"].basis


# --- dates -------------------------------------------------------------------------------------

MAY = "schedule: {start: 2026-05-04, cover_within_days: DAYS, holidays: [2026-05-05]}\n"


def dated(days: int, more: str = "") -> Plan:
    return small(extra=MAY.replace("DAYS", str(days)) + more)


def test_dates_by_working_days() -> None:
    # 43 ft in 36 in drops lapped 2 1/2: ceil((516 - 2.5) / 33.5) = 16 drops, 6 a day: Monday the 4th, Wednesday the 6th
    # (the 5th is a holiday) and Thursday the 7th
    plan = dated(30)
    assert len(plan.drops) == 16
    assert min(face.first for face in plan.dates) == "2026-05-04"
    assert max(face.last for face in plan.dates) == "2026-05-07"
    assert {face.cover_by for face in plan.dates} <= {"2026-06-03", "2026-06-05", "2026-06-06"}
    assert sum(face.drops for face in plan.dates) == 16
    assert [face.covered for face in plan.dates] == ["", ""] and not any(face.late for face in plan.dates)
    assert any("by other means" in note for note in plan.notes)
    assert any("prime for no more than 3 drops ahead" in note for note in plan.notes)  # 6 a day of 8 h, 4 h open


def test_weekend_is_not_worked() -> None:
    plan = small(extra="schedule: {start: 2026-05-02}\n")  # a Saturday
    assert min(face.first for face in plan.dates) == "2026-05-04"


def test_protection_covers_the_day_after_the_run() -> None:
    plan = dated(30, "protection: {name: fleece, coverage: 300 sq ft}\n")
    assert {face.covered for face in plan.dates} == {"2026-05-08"}


def test_late_cover_is_warned_of() -> None:
    plan = dated(2, "protection: {name: fleece, coverage: 300 sq ft}\n")
    assert any(face.late for face in plan.dates)
    assert any("may stay bare" in note for note in plan.notes)
    assert not any("may stay bare" in note for note in dated(30).notes)


def test_board_covers_after_the_membrane() -> None:
    plan = dated(30, "drainage_board: {width: 48, rolls: [{length: 50'-0\"}]}\n")
    for face in plan.dates:
        assert face.covered >= face.last
    assert schedule(plan) == plan.dates


def test_no_start_no_dates() -> None:
    assert small().dates == ()


# --- fit ---------------------------------------------------------------------------------------

def notes(text: str, *, units: str = "in", rules: str = "", width: str = "36") -> tuple[str, ...]:
    job = read_job_text(f"""
job: {{name: Fit}}
units: {units}
sheet: {{width: {width}, rolls: [{{length: 20 m, weight_lb: 40}}]}}
rules: {{{rules}}}
{text}
runs:
  - {{name: A, faces: [{{name: South, length: 8 m, top: 2 m}}]}}
""", "fit.yaml")
    faults, found = fit_checks(job)
    assert faults == ()
    return found


def test_solvent_primer_on_foam_forms_is_refused() -> None:
    text = SMALL.replace("RULES", "").replace("EXTRA", "substrate: {foam_forms: true}")
    with pytest.raises(JobError, match=r"primer\.solvent: .*foam_forms: true.*IRC R406\.2"):
        read_job_text(text.replace("coverage: 250 sq ft,", "coverage: 250 sq ft, solvent: true,"), "foam.yaml")


def test_solvent_primer_on_foam_forms_is_refused_in_a_job_made_otherwise() -> None:
    job = small(extra="substrate: {foam_forms: true}").job
    primer = job.extras.primer
    assert isinstance(primer, Primer)
    solvent = replace(job, extras=replace(job.extras, primer=replace(primer, solvent=True)))
    (fault,), _ = fit_checks(solvent)
    assert (fault.where, fault.got) == ("primer.solvent", "true")
    assert "organic-solvent products do not go on foam plastic (IRC R406.2, exception)" in fault.what
    with pytest.raises(JobError):
        make_plan(solvent)


def test_water_based_primer_on_foam_forms_is_taken() -> None:
    assert small(extra="substrate: {foam_forms: true}").quantities


@pytest.mark.parametrize(("units", "rules", "said"), [
    ("in", "side_lap: 2 1/4", "side lap is 2 1/4\", below the published least of 2 1/2\""),
    ("in", "end_lap: 4", "end lap is 4\", below the published least of 5\""),
    ("mm", "side_lap: 60", "side lap is 60 mm, below the published least of 65 mm"),
    ("in", "collar_reach: 5", "collar's reach is 5\", below"),
    ("in", "side_lap: 65 mm", "looks like the metric figure converted; the inch one is 2 1/2\""),
    ("mm", "side_lap: 63.5", "looks like the inch figure converted; the metric one is 65 mm"),
])
def test_laps_against_the_published_least(units: str, rules: str, said: str) -> None:
    found = notes("", units=units, rules=rules, width="36" if units == "in" else "1000")
    assert len(found) == 1 and said in found[0]


@pytest.mark.parametrize("units", ["in", "mm"])
def test_defaults_fit(units: str) -> None:
    assert notes("", units=units, width="36" if units == "in" else "1000") == ()


def test_heavy_rolls() -> None:
    assert any("weigh 83 lb" in note and "51 lb" in note for note in small().notes)
    assert notes("labour: {lift_limit_lb: 40}") == ()
    assert len(notes("labour: {lift_limit_lb: 39}")) == 1


@pytest.mark.parametrize(("given", "count"), [
    ("{least: 40, expected_low: 39}", 1), ("{least: 40, expected_low: 40}", 0), ("{least: 40}", 0),
    ("{expected_low: 10}", 0), ("{least: 40, most: 90, expected_low: 30, expected_high: 95}", 2),
])
def test_temperature_only_where_both_are_given(given: str, count: int) -> None:
    assert len(notes(f"temperature: {given}")) == count
