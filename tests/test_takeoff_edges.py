"""The terminated edge of a wall: top, steps, run ends and openings, each worked by hand [inches]."""

from __future__ import annotations

import pytest

from layout.faces import develop
from layout.job import read_job_text
from layout.records import Plan
from layout.takeoff.terminated import terminated_edges, total_length


def edges(faces: str, *, rules: str = "", closed: bool = False, ends: bool = True) -> dict[str, tuple[float, float]]:
    """Return (bead, bar) in inches of each kind of edge."""
    job = read_job_text(f"""
job: {{name: Edges}}
sheet: {{width: 36, rolls: [{{length: 66'-8"}}]}}
rules: {{fillet: 0, turn_down: 4, {rules}}}
runs: [{{name: A, closed: {str(closed).lower()}, faces: [{faces}]}}]
""", "edges.yaml")
    wall, = develop(job)
    found = terminated_edges(Plan(job, (wall,), (), (), (), (), ()), wall, ends=ends)
    kinds = {edge.kind: (0.0, 0.0) for edge in found}
    for kind in kinds:
        kinds[kind] = (total_length(found, kind) / 16, sum(edge.bar for edge in found if edge.kind == kind) / 16)
    return dict(kinds)


def test_a_plain_wall_has_a_top_and_two_ends() -> None:
    # 300 long, 96 high, ledge 6 and turn-down 4: the bead goes on over the ledge and down, the bar stops at the joint
    assert edges("{name: S, length: 300, top: 96, ledge: 6}") == {"top": (300, 300), "run end": (212, 192)}
    assert edges("{name: S, length: 300, top: 96, ledge: 6}", ends=False) == {"top": (300, 300), "run end": (212, 0)}


def test_a_closed_run_has_no_ends() -> None:
    faces = ", ".join(f"{{name: F{n}, length: {length}, top: 96, ledge: 6}}" for n, length in
                      enumerate((300, 200, 300, 200)))
    assert edges(faces, closed=True) == {"top": (1000, 1000)}


def test_steps_in_the_top_within_a_face_at_a_corner_and_where_a_run_closes() -> None:
    # within F0: 96 to 84, 12; at the corner to F1: 84 to 90, 6; back to F0 at the start: 90 to 96, 6
    faces = ("{name: F0, length: 300, top: [[0, 96], [100, 96], [100, 84], [300, 84]]}, "
             "{name: F1, length: 200, top: 84}, {name: F2, length: 300, top: 84}, {name: F3, length: 200, top: 90}")
    assert edges(faces, closed=True) == {"top": (1000, 1000), "step": (12 + 6 + 6, 24)}


def test_a_window_with_sheet_above_it_is_sealed_all_round_and_has_no_bar() -> None:
    window = "openings: [{tag: W1, kind: window, left: 100, sill: 40, width: 30, height: 24}]"
    wall = f"{{name: S, length: 300, top: 96, {window}}}"
    assert edges(wall)["opening"] == (108, 0)  # 2 x (30 + 24)
    # however far the sheet returns into it, the sides are as long
    assert edges(wall, rules="opening_return: 2")["opening"] == (108, 0)
    assert edges(wall)["top"] == (300, 300)


@pytest.mark.parametrize("back", [0, 2])
def test_a_window_that_reaches_the_top_takes_no_bar_across_it(back: int) -> None:
    # from sill 72 up to the wall's top at 96: foot 30 and two jambs of 24, and the top is 270 long; where the sheet
    # returns 2 into it, the top goes on over the 2 at each side
    wall = "{name: S, length: 300, top: 96, openings: [{tag: W1, kind: window, left: 100, sill: 72, width: 30, " \
           "height: 24}]}"
    found = edges(wall, rules=f"opening_return: {back}")
    if back:
        # the return closes the head by 2 as well: sheet over it, sealed all round
        assert found["opening"] == (108, 0) and found["top"] == (300, 300)
    else:
        assert found["opening"] == (30 + 2 * 24, 0) and found["top"] == (270, 270)


def test_a_door_to_the_footing_parts_the_top() -> None:
    # a door from the footing to above the grade line at 60: foot 36 and two jambs of 60
    door = "openings: [{tag: D1, kind: door, left: 100, sill: 0, width: 36, height: 80}]"
    found = edges(f"{{name: S, length: 300, top: 96, grade: 60, {door}}}", rules="top: grade")
    assert found["opening"] == (36 + 120, 0) and found["top"] == (264, 264)


def test_a_sloping_top_is_measured_along_the_slope() -> None:
    # 300 along and 125 up: 325
    assert edges("{name: S, length: 300, top: [[0, 60], [300, 185]]}")["top"] == (325, 325)
