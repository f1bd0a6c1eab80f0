"""Order of work, piles, checks to sign and cautions: with the plan's own figures, and deferring where they must."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from helpers.crew_plan import crew_plan, t
from helpers.sample_plans import NAMES, sample_plan
from layout.cautions import DEFERENCE, cautions
from layout.packet.checks import check_rows, checks
from layout.packet.orders import Calendar, orders
from layout.packet.piles import piles
from layout.records import Extras, FaceDates, Job, Labour, Plan, Primer, RollStock, Schedule, Substrate, Temperature
from layout.units import MM


def crew(drops: str, hours: str = "8") -> Labour:
    return Labour(3, Decimal(hours), Decimal(drops), None, None, None, None, Decimal(51))


def primer(*, solvent: bool = False, open_time: str | None = None) -> Primer:
    return Primer("primer", Decimal(300), "pail", None, None, solvent, Decimal(open_time) if open_time else None, 1,
                  Decimal(5))


def with_extras(plan: Plan, **extras: object) -> Plan:
    return replace(plan, job=replace(plan.job, extras=Extras(**extras)))


def test_days_follow_the_install_order_at_the_crews_rate() -> None:
    """Five drops, installed right to left, two a day."""
    plan = with_extras(crew_plan(), labour=crew("2"))
    assert [(step.day, step.drops, step.piles) for step in orders(plan).steps] == [
        (1, ("A-05", "A-04"), ("2",)), (2, ("A-03", "A-02"), ("2",)), (3, ("A-01",), ("2",))]
    assert orders(plan).rate == "2 drops a day"
    assert orders(crew_plan()).rate == "20 drops a day, as the job gives no crew"


def test_half_drops_carry_over_to_the_next_day() -> None:
    """At 2.5 a day the third drop is begun on the first day: days hold 3 and 2."""
    plan = with_extras(crew_plan(), labour=crew("2.5"))
    assert [(step.day, len(step.drops)) for step in orders(plan).steps] == [(1, 3), (2, 2)]


def test_days_leave_time_for_strips() -> None:
    """Strips 0.8 of a day, then two drops a day: one drop is begun on the first day, on the next two, on the last."""
    plan = crew_plan()
    feet = sum(piece.length for piece in plan.pieces if piece.kind.endswith("strip")) / (12 * 16)
    assert feet
    slow = replace(crew("2"), strip_per_day=Decimal(feet) / Decimal("0.8"))
    told = orders(with_extras(plan, labour=slow))
    assert [(step.day, len(step.drops)) for step in told.steps] == [(1, 1), (2, 2), (3, 2)]
    assert told.rate == "2 drops a day, besides the days for strips"


def test_dates_skip_weekends_and_holidays() -> None:
    """2026-05-01 is a Friday; the fourth of May is off."""
    schedule = Schedule("2026-05-01", ("mon", "tue", "wed", "thu", "fri"), ("2026-05-04",), 30)
    calendar = Calendar(schedule)
    assert [calendar.work_day(day) for day in (3, 1, 2)] == ["2026-05-06", "2026-05-01", "2026-05-05"]
    plan = with_extras(crew_plan(), labour=crew("2"), schedule=schedule)
    assert [row[1] for row in orders(plan).rows()] == ["date", "2026-05-01", "2026-05-05", "2026-05-06"]


def test_cover_by_dates_come_from_the_takeoff() -> None:
    dates = (FaceDates("A", "South", 5, "2026-05-01", "2026-05-06", "2026-05-31", "2026-06-02", True),)
    plan = replace(with_extras(crew_plan(), labour=crew("2")), dates=dates)
    assert orders(plan).face_rows() == (
        ("run", "face", "days", "hung", "covered", "cover by"),
        ("A", "South", "1 to 3", "2026-05-01 to 2026-05-06", "2026-06-02", "2026-05-31: LATE"))
    assert orders(crew_plan()).face_rows() == (
        ("run", "face", "days", "cover by"), ("A", "South", "1", "as the maker's data sheet says"))


@pytest.mark.parametrize("open_time, words", [
    ("4", "no more than about 10 drops ahead"), ("0.5", "than one drop ahead"),
])
def test_primer_reaches_as_far_as_its_open_time(open_time: str, words: str) -> None:
    """20 drops in 8 hours are 2.5 an hour."""
    plan = with_extras(crew_plan(), labour=crew("20"), primer=primer(open_time=open_time))
    assert words in orders(plan).primer


@pytest.mark.parametrize("name", NAMES)
def test_every_drop_is_hung_once_in_an_order_that_respects_the_seams(name: str) -> None:
    plan = sample_plan(name)
    order = [tag for step in orders(plan).steps for tag in step.drops]
    assert sorted(order) == sorted(drop.tag for drop in plan.drops)
    place = {tag: i for i, tag in enumerate(order)}
    day = {tag: step.day for step in orders(plan).steps for tag in step.drops}
    for seam in plan.seams:
        under = seam.left if seam.over == seam.right else seam.right
        assert seam.tuck or day[under] <= day[seam.over]
    assert place


@pytest.mark.parametrize("name", ["hand", *NAMES])
def test_every_piece_lies_in_one_pile_in_hanging_order(name: str) -> None:
    plan = crew_plan() if name == "hand" else sample_plan(name)
    found = piles(plan)
    assert sorted(tag for pile in found.piles for tag in pile.pieces) == sorted(piece.tag for piece in plan.pieces)
    by_tag = {piece.tag: piece for piece in plan.pieces}
    for pile in found.piles:
        pieces = [by_tag[tag] for tag in pile.pieces]
        assert {(piece.run, piece.face, piece.layer) for piece in pieces} == {(pile.run, pile.face, pile.layer)}
        assert [piece.install for piece in pieces] == sorted(piece.install for piece in pieces)
        for upper, lower in zip(pieces[1:], pieces):
            if upper.drop and upper.drop == lower.drop:  # the lower piece goes on first
                assert max(y for _, y in lower.outline) <= max(y for _, y in upper.outline)
        assert {found.by_piece[tag] for tag in pile.pieces} == {pile.name}


def test_checks_stand_beside_the_plans_quantities() -> None:
    by_stage = {check.stage: check.quantity for check in reversed(checks(crew_plan()))}
    assert by_stage == {
        "Substrate": "113.7 sq ft", "Primer": "", "Reinforcing": "1", "Laps": "4 seams", "Rolling": "5 drops",
        "Penetrations": "1 sleeves", "Top edge": "13'-6\" of top edge", "Base": 'turn-down 4"', "Protection": "",
        "Before backfill": "1 exceptions"}
    texts = [check.text for check in checks(crew_plan())]
    assert any("Side laps at least 2 1/2\"" in text for text in texts)
    assert any("Closing seam" in text for text in texts)
    assert not any("End laps" in text for text in texts)
    assert all(row[3:] == ("", "") for row in check_rows(crew_plan())[1:])


def test_end_laps_are_counted_where_there_are_any() -> None:
    plan = sample_plan("long-wall")
    count = sum(len(drop.pieces) - 1 for drop in plan.drops)
    lap = next(check for check in checks(plan) if "End laps" in check.text)
    assert 0 < int(lap.quantity.split()[0]) <= count


def metric(job: Job) -> Job:
    return replace(job, unit=MM)


@pytest.mark.parametrize("of", [crew_plan().job, metric(crew_plan().job)], ids=["inch", "metric"])
def test_cautions_name_their_rule_and_never_say_safe(of: Job) -> None:
    found = cautions(of)
    assert [caution.topic for caution in found] == [
        "Trench", "Way out", "Rolls at the edge", "Fall", "Lift", "Solvent", "Blade", "Temperature", "Backfill"]
    assert all(caution.rule and caution.text.endswith(".") for caution in found)
    words = " ".join(caution.text for caution in found).lower()
    assert "is safe" not in words and "are safe" not in words and "safely" not in words
    for whom in ("local code", "maker's instructions", "engineer", "competent person"):
        assert whom in DEFERENCE.lower()


@pytest.mark.parametrize("topic, rule, figures", [
    ("Trench", "1926.652(a)(1)", ["5 ft"]), ("Way out", "1926.651(c)(2)", ["4 ft", "25 ft", "3 ft"]),
    ("Rolls at the edge", "1926.651(j)(2)", ["2 ft"]), ("Fall", "1926.501(b)(7)", ["6 ft"]),
    ("Lift", "94-110", ["51 lb"]), ("Backfill", "R404.1.7", ["4 ft"]),
])
def test_cautions_hold_the_published_figures(topic: str, rule: str, figures: list[str]) -> None:
    """29 CFR 1926 subparts P, M and X; NIOSH 94-110 (rev. 2021); International Residential Code, R404.1.7."""
    caution = next(one for one in cautions(crew_plan().job) if one.topic == topic)
    assert rule in caution.rule
    assert all(figure in caution.text for figure in figures)


def test_cautions_use_the_jobs_own_figures() -> None:
    job = crew_plan().job

    def text(topic: str, of: Job) -> str:
        return next(one.text for one in cautions(of) if one.topic == topic)

    heavy = replace(job.sheet, rolls=(RollStock(t("66'-8\""), t('36"'), None, Decimal(83)),))
    assert "is given as 83 lb: more than one person should lift alone" in text("Lift", replace(job, sheet=heavy))
    light = replace(job.sheet, rolls=(RollStock(t("66'-8\""), t('36"'), None, Decimal(40)),))
    assert "is given as 40 lb: weigh a lift by reach" in text("Lift", replace(job, sheet=light))
    assert "38 kg" in text("Lift", metric(replace(job, sheet=heavy)))  # 83 lb at 0.45359237 kg
    assert "is a solvent one" in text("Solvent", replace(job, extras=Extras(primer=primer(solvent=True))))
    assert "the data sheet rule" in text("Solvent", replace(job, extras=Extras(primer=primer())))
    assert "no organic-solvent product" in text("Solvent", replace(job, extras=Extras(substrate=Substrate(True))))
    cold = Temperature(Decimal(25), Decimal("90.0"), None, None)
    assert "not below 25 °F and not above 90 °F" in text("Temperature", replace(job, extras=Extras(temperature=cold)))
