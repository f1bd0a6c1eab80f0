"""The audit where walls are uncommon: one drop around a run, narrow strips, sloping footings, swallowed openings."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from helpers.audited import face_of, job, shape_of
from helpers.packets import plan_findings, short_plan, write_tables
from layout.audit import audit_plan, clearances, coverage, laps
from layout.audit.asked import Asked, AskedStock, read_asked
from layout.audit.findings import Findings
from layout.audit.marks import Unclear
from layout.audit.sums import first_fit_cost, least_rolls
from layout.audit.written import WrittenDrop, WrittenPiece
from layout.job import read_mapping
from layout.records import Plan, RuleException
from layout.units import INCH

SHEET = WrittenPiece("A-01", "drop", "membrane", "A", "Wall", "membrane", 1600, 576, True, (), (), (), "R01", "A-01", 1,
                     "", (), ())


def numbers(plan: Plan) -> set[int]:
    """Return the numbers that the audit finds in a plan."""
    return {finding.number for finding in plan_findings(plan)}


# --- laps --------------------------------------------------------------------------------------

def pier(around: int) -> Asked:
    """Return a closed run of four faces, so far around [in]."""
    faces = [{"name": name, "length": around / 4, "top": "4 ft"} for name in "NESW"]
    return read_asked(job(runs=[{"name": "A", "closed": True, "faces": faces}], rules={"clear_of_corner": 0}))


@pytest.mark.parametrize(("around", "width"), [(32, 64), (36, 0)])
def test_a_drop_alone_around_a_closed_run_laps_itself(around: int, width: int) -> None:
    run = pier(around).runs[0]
    only = WrittenDrop("A-01", "A", "membrane", 0, 576, 1, ("A-01",))
    lap, = laps.laps_of([only], run)
    assert (lap.left, lap.right, lap.from_, lap.to, lap.width) == (only, only, around * 16, 576, width)


def test_a_drop_alone_needs_no_stagger_to_itself_but_both_ends_of_its_sheet() -> None:
    asked = pier(32)
    run = asked.runs[0]
    only = WrittenDrop("A-01", "A", "membrane", 0, 576, 1, ("A-01",))
    itself = laps.laps_of([only], run)
    whole: Sequence[tuple[int, int]] = ((0, 768), (576, 768), (576, -64), (0, -64))
    for ring, wrong in ((whole, []), ([*whole[:2], (560, -64), (0, -64)], [305])):
        hung = coverage.HungLayer(run, 64, (replace(SHEET, ring=tuple(ring)),), {"A-01": coverage.Polygon(ring)},
                                  tuple(coverage.must(run, asked, 64)))
        book = Findings(INCH)
        laps.check_side_laps(hung, itself, hung.shapes, book)
        assert [finding.number for finding in book.findings()] == wrong
        ends = [laps.EndLap(only, "A-01a", "A-01b", 0, 576, foot) for foot in (100, 200)]
        assert list(clearances.stagger_breaks(itself, ends, run, asked)) == []


# --- strips ------------------------------------------------------------------------------------

WIDE_LEDGE = """
job: {name: Wide ledge}
sheet: {width: 36, rolls: [{length: 66'-8", price: 205}]}
runs: [{name: A, faces: [{name: South, length: 10 ft, top: 8 ft, ledge: 6}]}]
"""


def renamed(listed: Sequence[RuleException], rule: str) -> tuple[RuleException, ...]:
    """Let the exceptions speak of another rule."""
    return tuple(replace(broken, rule=rule) for broken in listed)


@pytest.mark.parametrize(("change", "wrong"), [
    (lambda listed: listed, set()),
    (lambda listed: (), {607}),
    (lambda listed: renamed(listed, "corner_strip"), {402, 607}),
    (lambda listed: tuple(replace(broken, found=100) for broken in listed), {402, 607}),
    (lambda listed: (*listed, *renamed(listed, "corner_strip")), {402}),
])
def test_a_strip_too_narrow_for_its_ledge_is_an_exception(
    change: Callable[[Sequence[RuleException]], tuple[RuleException, ...]], wrong: set[int],
) -> None:
    """4 in up, 6 across the ledge and 4 down less what the fillet saves is more than a strip of 12."""
    plan = short_plan(WIDE_LEDGE)
    assert [broken.rule for broken in plan.exceptions] == ["base_strip"]
    assert numbers(replace(plan, exceptions=change(plan.exceptions))) == wrong


SLOPING = """
job: {name: Sloping footing}
sheet: {width: 36, rolls: [{length: 66'-8", price: 205}]}
runs: [{name: A, faces: [{name: South, length: 20 ft, top: 8 ft, footing: [[0, 0], [20 ft, 2 ft]]}]}]
"""


def test_a_strip_along_a_sloping_joint_is_as_long_as_the_slope() -> None:
    plan = short_plan(SLOPING)
    assert numbers(plan) == set()
    strips = [piece.tag for piece in plan.pieces if piece.kind == "base strip"]
    assert strips
    kept = tuple(piece for piece in plan.pieces if piece.tag != strips[-1])
    assert 603 in numbers(replace(plan, pieces=kept, cuttings=tuple(
        replace(cutting, rolls=tuple(replace(roll, cuts=tuple(
            cut for cut in roll.cuts if cut.piece != strips[-1])) for roll in cutting.rolls))
        for cutting in plan.cuttings)))


# --- openings, marks, sums ---------------------------------------------------------------------

def places(asked: Asked) -> list[tuple[str, float]]:
    """Return the rules that end laps keep, and how far the places to keep clear of are from the left."""
    run = asked.runs[0]
    drop = WrittenDrop("A-01", "A", "membrane", 900, 1476, 1, ())
    end_lap = laps.EndLap(drop, "A-01a", "A-01b", 900, 1476, 700)
    return sorted({(found.rule, found.found) for found in clearances.end_lap_breaks([end_lap], run, asked)})


def test_an_opening_that_the_sheet_turns_into_all_round_has_no_corners() -> None:
    vent = {"tag": "V", "left": "5 ft", "sill": "3 ft", "width": "8 in", "height": "8 in"}
    plain = face_of(openings=[vent])
    assert {rule for rule, _ in places(read_asked(plain))} == {"end_lap_clear_of_opening"}
    assert places(read_asked(plain | {"rules": {"opening_return": "4 in"}})) == []


@pytest.mark.parametrize("mark", [
    'notch left edge ten to 20" down, 3" deep',
    'hole with corners 1" right 1" down, 3" right 3" down, 3" right 1" down, 1" right 3" down',
])
def test_marks_that_make_no_shape(mark: str) -> None:
    with pytest.raises(Unclear):
        shape_of(mark)


def test_first_fit_of_one_stock_is_possible_or_not() -> None:
    """Rolls of two sheets and the inch that their end loses."""
    stock = AskedStock("", 1600 * 2 + 16, 576, read_asked(job()).stock["membrane"][0].price, None)
    assert first_fit_cost([SHEET] * 5, stock, 16) == 3 * 205
    assert first_fit_cost([SHEET] * 5, stock, 17) == 5 * 205
    assert first_fit_cost([SHEET, replace(SHEET, length=3201)], stock, 16) is None
    assert first_fit_cost([SHEET, replace(SHEET, width=577)], stock, 16) is None


@pytest.mark.parametrize(("roll_end", "rolls"), [(0, [0, 1, 1, 2, 2, 3]), (1, [0, 1, 2, 2, 3, 3])])
def test_rolls_by_area(roll_end: int, rolls: list[int]) -> None:
    """A roll of 66'-8" is 12,800 ticks long: eight pieces of 1,600 fill it, or seven where its end is lost."""
    asked = read_asked(job(rules={"roll_end": roll_end}))
    assert [least_rolls([SHEET] * n, "membrane", asked) for n in (0, 1, 8, 9, 16, 17)] == rolls
    assert least_rolls([SHEET], "fleece", asked) == 0


def changed(folder: Path, change: Callable[[Any], object]) -> None:
    data = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    change(data)
    (folder / "plan.json").write_text(json.dumps(data), encoding="utf-8")


def test_optimal_without_a_bound(tmp_path: Path) -> None:
    plan = short_plan(WIDE_LEDGE)
    write_tables(plan, tmp_path)
    assert audit_plan(tmp_path, read_mapping(tmp_path / "job.yaml")) == ()
    claim: Mapping[str, object] = {"cost_bound": None, "optimal": True}
    changed(tmp_path, lambda data: data["summary"].update(claim))
    found = audit_plan(tmp_path, read_mapping(tmp_path / "job.yaml"))
    assert {finding.number for finding in found} == {811}


# --- little room at corners --------------------------------------------------------------------

def cornered(*faces: dict[str, object], **rules: object) -> str:
    """Return a job of one open run of walls 6 ft high on ledges of 6 in."""
    each = [{"name": f"F{number}", "top": 72, "ledge": 6, **face} for number, face in enumerate(faces)]
    return json.dumps({
        "job": {"name": "Corner"}, "rules": rules, "sheet": {"width": 36, "rolls": [{"length": "66'-8\""}]},
        "runs": [{"name": "A", "flow": "right", "faces": each}],
    })


@pytest.mark.parametrize("faces", [
    # the footing of the first takes 6 in of the second: a side lap is left at the end of a run, else half an inch
    ({"length": 100, "corner": "inside"}, {"length": 8.5}),
    ({"length": 100, "corner": "inside"}, {"length": 6.5, "corner": "outside"}, {"length": 100}),
    ({"length": 100, "corner": "inside"}, {"length": 12.5, "corner": "inside"}, {"length": 100}),
], ids=["return", "pier", "court"])
def test_as_little_as_may_be_left_past_an_inside_corner_is_closed(faces: Sequence[dict[str, object]]) -> None:
    assert numbers(short_plan(cornered(*faces))) == set()


@pytest.mark.parametrize("fillet", [4.5, "5 15/16\""])
def test_a_fillet_nearly_as_wide_as_the_ledge_leaves_the_cover_of_a_corner_whole(fillet: float | str) -> None:
    plan = short_plan(cornered({"length": 60, "corner": "outside"}, {"length": 60}, fillet=fillet))
    assert numbers(plan) == set()
