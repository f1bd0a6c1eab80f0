"""Drops and rolls decided together: jobs made by hand where one change saves a roll, and what forbids it is named.

In each, with seams and end laps where the least total length of sheet puts them, a roll more is needed than another
layout takes; the docstrings work out both. A seam is a lap 2 1/2 in wide; sheets of 36 in then lie 33 1/2 in apart.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

import pytest

from helpers.integrated_jobs import one_after_the_other
from layout.faces import develop
from layout.job import read_job_text
from layout.pipeline import make_plan
from layout.records import Job, Piece, Plan

TICKS = 16
"""Ticks in an inch."""
LAP = 2.5


def job_of(rules: Mapping[str, object], faces: Sequence[Mapping[str, object]], *, roll: float) -> Job:
    """Return a job of runs of one face each, hung with 36 in sheet from rolls of one length [in]; no strips."""
    return read_job_text(json.dumps({
        "job": {"name": "Worked"}, "sheet": {"width": 36, "rolls": [{"length": roll, "price": 100}]},
        "rules": {"turn_down": 4, "corner_strip": 0, "base_strip": 0, "cut_to": "1/16", "roll_end": 0, **rules},
        "runs": [{"name": f"{face['name']}", "flow": "right", "faces": [face]} for face in faces],
    }), "worked")


def rolls_apart(job: Job) -> int:
    """Return the rolls needed by the layout of least total length."""
    return len(one_after_the_other(job, develop(job)).sheet.rolls)


def rolls(plan: Plan) -> int:
    """Return the rolls a plan takes."""
    return len(plan.cuttings[0].rolls)


def lengths(pieces: Sequence[Piece]) -> list[float]:
    """Return the cut lengths of pieces, in their order [in]."""
    return [piece.length / TICKS for piece in pieces]


def said(plan: Plan) -> dict[object, tuple[object, object, object]]:
    """Return what the plan says of savings: for each rule from what to what, and how many rolls it saves."""
    return {saving["rule"]: (saving["from"], saving["to"], saving["saves_rolls"]) for saving in plan.savings}


# --- seams at footing steps --------------------------------------------------------------------

STEPS = {60: -16, 78.5: -32, 126.5: -20}
"""Stations of the footing's steps, and its level after each [in]."""


def stepped(**rules: object) -> Job:
    """Return a wall 250 1/2 in long whose footing steps down twice and up once: 100, 116, 132 and 120 in of sheet."""
    footing: list[tuple[float, float]] = [(0, 0)]
    for station, level in STEPS.items():
        footing += [(station, footing[-1][1]), (station, level)]
    wall = {"name": "A", "length": 250.5, "top": 96, "footing": footing}
    return job_of({"min_width": 20, "max_piece": 132, **rules}, [wall], roll=480)


def test_a_seam_moved_past_a_step_saves_a_roll() -> None:
    """Eight drops at least, as seven cover 7 x 33 1/2 + 2 1/2 = 237 of the 250 1/2 in: 20 in of play.

    A seam keeps 6 in from a step at s: it starts at s + 6 or after, or at s - 8 1/2 or before. The second seam starts
    at 67 at most, the fourth at 134.

    Seams as far right as they go: the second at 67, past the step at 60 (66 or after); the fourth at 134, past the
    step at 126 1/2 (132 1/2 or after). The drops are 100, 116 (across the step at 60), 132, 132, and four of 120: 960
    in. Four of 120 are 480 in, and 100 + 116 + 132 + 132 are 480 in: two rolls to the tick.

    Least total length: the second seam before the step at 60, at 51 1/2 at most, so that both first drops are 100.
    Then the fourth starts at 51 1/2 + 67 = 118 1/2 at most: not past the step at 126 1/2, so a third drop is 132. The
    drops are 100, 100, 132, 132, 132, and three of 120: 956 in. Eight drops in two rolls are four a roll, as five of
    the shortest are 500 in. With two of 132 in a roll the other two must both be 100 (132 + 132 + 100 + 120 = 484),
    and the third of 132 has three of 120 beside it: 492 in. Three of 132 and 100 are 496 in. So three rolls.

    No plan takes fewer than two: eight drops of 100 in or more.
    """
    job = stepped()
    apart = one_after_the_other(job, develop(job))
    assert sorted(lengths(apart.field.pieces)) == [100, 100, 120, 120, 120, 132, 132, 132]
    assert len(apart.sheet.rolls) == 3
    plan = make_plan(job, ask_rules=True)
    assert lengths(plan.pieces) == [100, 116, 132, 132, 120, 120, 120, 120]
    assert (rolls(plan), plan.cost_bound, plan.optimal) == (2, 200, True)
    assert plan.exceptions == () and plan.savings == ()
    check_row(plan, clear=6, narrowest=20)


def check_row(plan: Plan, *, clear: float, narrowest: float) -> None:
    """Hold the drops against what the rules ask: widths, laps, clearances of steps, lengths by the lowest footing."""
    drops = [(drop.left / TICKS, drop.right / TICKS) for drop in plan.drops]
    assert (drops[0][0], drops[-1][1]) == (0, 250.5)
    levels = list(zip([0, *STEPS], [*STEPS, 250.5], [0, *STEPS.values()], strict=True))
    for (left, right), length in zip(drops, lengths(plan.pieces), strict=True):
        assert narrowest <= right - left <= 36
        assert length == 96 + 4 - min(level for start, end, level in levels if start < right and left < end)
    for (_, end), (start, _) in zip(drops, drops[1:], strict=False):
        assert end - start >= LAP
        for step in STEPS:
            assert start >= step + clear or end <= step - clear


def test_a_clearance_that_forbids_the_move_is_named() -> None:
    """The same wall with seams 8 in from steps: the second, at 67 at most, cannot be past the step at 60 (68 or after).

    Before the step it starts at 60 - 10 1/2 = 49 1/2 at most, and the third at 83 at most. Between 68 and 86 1/2 it
    would be too near the step at 78 1/2, so it starts at 68 at most: 32 1/2 in short of the 100 1/2 of full sheets,
    more than the 20 in of play that eight drops have. So nine drops. Each is at least 20 in wide, so no two of them lie
    side by side on a roll, and each at least 100 in long, so no more than four are cut from one: three rolls.
    """
    plan = make_plan(stepped(clear_of_step=8), ask_rules=True)
    assert (rolls(plan), len(plan.drops), plan.cost_bound, plan.optimal) == (3, 9, 300, True)
    assert plan.exceptions == ()
    check_row(plan, clear=8, narrowest=20)
    assert said(plan) == {"clear_of_step": ('8"', '4"', 1)}


# --- one end lap -------------------------------------------------------------------------------

def with_offcuts(*, top: float, **rules: object) -> Job:
    """Return a wall one drop wide, and another of four drops of 110 in, two of which leave 80 in of a 300 in roll.

    Parameters
    ----------
    top
        Height of the first wall; its drop is 4 in longer [in].
    rules
        Besides the usual ones.
    """
    faces = [{"name": "A", "length": 36, "top": top}, {"name": "B", "length": 4 * 33.5 + LAP, "top": 106}]
    return job_of(rules, faces, roll=300)


def test_an_end_lap_at_one_height_alone_lets_both_pieces_come_from_offcuts() -> None:
    """A drop of 155 in, over the 144 in a crew handles: in two pieces it needs 155 + 5 = 160 in.

    The usual place for the end lap is half a stagger, 6 in, off the middle: 86 and 74 in. Four drops of 110 in on two
    rolls leave 80 in of each (110 + 110 + 80 = 300), so 86 takes a third roll. With pieces of 80 and 80 in, and no
    others, two rolls hold it all: 4 x 110 + 160 = 600 in.
    """
    job = with_offcuts(top=151)
    assert rolls_apart(job) == 3
    plan = make_plan(job, ask_rules=True)
    assert lengths(plan.pieces) == [80, 80, 110, 110, 110, 110]
    assert (rolls(plan), plan.optimal, plan.exceptions, plan.savings) == (2, True, (), ())
    upper, lower = plan.pieces[:2]
    foot, head = min(y for _, y in upper.outline), max(y for _, y in lower.outline)
    assert (foot / TICKS, head / TICKS) == (71, 76)  # the drop goes from -4 to 151 in, the lap is 5 in


@pytest.mark.parametrize(("top", "rules", "named"), [
    (151, {"end_lap": 6}, {"end_lap": ('6"', '5"', 1)}),
    (140, {}, {"max_piece": ("12'-0\"", "11'-11\"", 1)}),
], ids=["wider-lap", "no-lap"])
def test_a_rule_that_forbids_the_end_lap_is_named(
    top: float, rules: Mapping[str, object], named: Mapping[object, object],
) -> None:
    """With an end lap of 6 in the pieces need 161 in, and the offcuts are 160 in together: a third roll.

    A drop of 140 + 4 = 144 in hangs in one piece where 144 in may be handled, in the fewest pieces, and takes a third
    roll; were an inch less handled, its two pieces would need 149 in of the 160.
    """
    plan = make_plan(with_offcuts(top=top, **rules), ask_rules=True)
    assert (rolls(plan), plan.cost_bound, plan.optimal) == (3, 300, True)
    assert said(plan) == named


# --- turn-down ---------------------------------------------------------------------------------

@pytest.mark.parametrize(("turn_down", "taken", "count", "named"), [
    ([4, 6], 4, 2, {}),
    ([4.5, 6], 4.5, 3, {"turn_down": ('4 1/2"', '4 1/4"', 1)}),
], ids=["inside", "outside"])
def test_half_an_inch_of_turn_down(
    turn_down: list[float], taken: float, count: int, named: Mapping[object, object],
) -> None:
    """Fourteen drops cover 13 x 33 1/2 + 36 = 471 1/2 in; with 110 in of wall and ``t`` of turn-down each is 110 + t.

    Seven in a roll of 800 in may be 114 2/7 in: 110 + 4 fits (798), 110 + 4 1/2 does not (801 1/2), and six a roll make
    three rolls. A quarter inch less, 7 x 114 1/4 = 799 3/4, would fit again.
    """
    wall = {"name": "A", "length": 471.5, "top": 110}
    plan = make_plan(job_of({"turn_down": turn_down}, [wall], roll=800), ask_rules=True)
    assert {piece.length for piece in plan.pieces} == {(110 + taken) * TICKS}
    assert (rolls(plan), plan.optimal) == (count, True)
    assert said(plan) == named
