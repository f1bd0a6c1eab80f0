"""The drainage board: what it covers, how it laps, and how its seams keep off the membrane's."""

from __future__ import annotations

import json

import pytest
from shapely import affinity
from shapely.geometry import Polygon
from shapely.ops import unary_union

from helpers.packets import plan_findings, short_plan
from helpers.random_jobs import random_job
from layout.board import board_keeps, board_product, board_rules, develop_board
from layout.drops import Layout, place
from layout.faces import develop_run
from layout.job import read_job_text
from layout.pieces import field_pieces
from layout.records import DrainageBoard, Job, Seam, Wall
from layout.shapes import must_cover, value

INCH = 16

TEXT = """
job: {name: Board}
sheet: {width: 36, rolls: [{length: 66'-8"}]}
drainage_board: {width: 48, rolls: [{length: 50'-0"}], MORE}
runs:
  - name: A
    closed: CLOSED
    faces:
      - {name: South, length: 32'-5", top: 8'-2", footing: 0, ledge: 4, grade: 7'-1",
         openings: [{tag: W1, kind: window, left: 120, sill: 50, width: 40, height: 24}],
         sleeves: [{tag: P1, at: 40, elevation: 30, diameter: 4}]}
      - {name: East, length: 21'-7", top: 8'-2", footing: 0, ledge: 4, grade: [[0, 7'-1"], [21'-7", 5'-3"]]}
      - {name: North, length: 32'-5", top: 8'-2", footing: 0, ledge: 4, grade: 5'-3"}
      - {name: West, length: 21'-7", top: 8'-2", footing: 0, ledge: 4, grade: [[0, 5'-3"], [21'-7", 7'-1"]]}
"""


def job_of(*, more: str = "flap: 3", closed: bool = True) -> Job:
    return read_job_text(TEXT.replace("MORE", more).replace("CLOSED", str(closed).lower()), "board.yaml")


def board(job: Job) -> DrainageBoard:
    found = job.extras.drainage_board
    assert found is not None
    return found


def layers(job: Job, run: int = 0) -> tuple[tuple[Wall, Layout], tuple[Wall, Layout]] | None:
    """Place both layers of one run; None when it has no board."""
    asked = board(job)
    field = develop_run(job.runs[run], job.rules, turn_down=job.rules.turn_down[0])
    developed = develop_board(job.runs[run], job)
    if developed is None:
        return None
    under = place(field, job.rules, width=job.sheet.width, side_lap=job.rules.side_lap, prefix="A", unit=job.unit)
    wall = board_keeps(developed, under.seams, clear=asked.seams_apart)
    rules, product = board_rules(job, asked), board_product(asked)
    over = place(wall, rules, width=product.width, side_lap=asked.flap, prefix="A-B", unit=job.unit)
    return (field, under), (wall, over)


def apart(a: Seam, b: Seam, length: int | None) -> int:
    """Return how far apart two seams are, 0 when they overlap [ticks]."""
    shifts = (-length, 0, length) if length else (0,)
    return min(max(a.left_edge + s - b.right_edge, b.left_edge - a.right_edge - s, 0) for s in shifts)


def test_no_board_no_second_layer() -> None:
    job = read_job_text(TEXT.replace("drainage_board: {width: 48, rolls: [{length: 50'-0\"}], MORE}", "")
                        .replace("CLOSED", "true"), "board.yaml")
    assert job.extras.drainage_board is None and develop_board(job.runs[0], job) is None


def test_top_is_under_grade_and_bottom_on_the_ledge() -> None:
    job = job_of(more="top_below_grade: 6")
    wall = develop_board(job.runs[0], job)
    assert wall is not None and wall.layer == "drainage"
    # 7'-1" less 6 in is 79 in along South, 5'-3" less 6 in is 57 in along North
    assert value(wall.top, 100, from_right=True) == 79 * INCH
    assert value(wall.top, round((32 * 12 + 5 + 21 * 12 + 7) * INCH) + 100, from_right=True) == 57 * INCH
    assert wall.bottom == wall.footing
    assert all(face.toe == 0 for face in wall.faces)


def test_without_grade_the_board_hangs_from_the_membrane_line() -> None:
    text = TEXT.replace("MORE", "flap: 3").replace("CLOSED", "true")
    for grade in (', grade: 7\'-1"', ", grade: [[0, 7'-1\"], [21'-7\", 5'-3\"]]", ", grade: 5'-3\"",
                  ", grade: [[0, 5'-3\"], [21'-7\", 7'-1\"]]"):
        assert grade in text
        text = text.replace(grade, "")
    job = read_job_text(text, "board.yaml")
    wall = develop_board(job.runs[0], job)
    assert wall is not None
    assert wall.top == develop_run(job.runs[0], job.rules, turn_down=64).top


def test_no_board_where_the_ground_leaves_no_height() -> None:
    text = TEXT.replace("MORE", "flap: 3").replace("CLOSED", "true").replace("grade: 5'-3\"}", "grade: 5}")
    job = read_job_text(text, "board.yaml")
    assert develop_board(job.runs[0], job) is None


def test_flap_stands_out_past_the_panel() -> None:
    job = job_of()
    assert board_product(board(job)).width == (48 + 3) * INCH
    assert {roll.width for roll in board_product(board(job)).rolls} == {51 * INCH}
    assert board(job).product.width == 48 * INCH


def test_keeps_are_of_the_other_layer_and_this_run() -> None:
    job = job_of()
    wall = develop_board(job.runs[0], job)
    assert wall is not None
    seams = (Seam("A", "membrane", 500, 540, "A-01", "A-02", "A-01"),
             Seam("B", "membrane", 900, 940, "B-01", "B-02", ""),
             Seam("A", "drainage", 700, 740, "A-B-01", "A-B-02", ""),
             Seam("A", "membrane", wall.length + 8, wall.length + 48, "A-09", "A-01", ""))
    added = [keep for keep in board_keeps(wall, seams, clear=64).keeps if keep.rule == "board_seam"]
    assert [(keep.left, keep.right, keep.clear) for keep in added] == [(8, 48, 64), (500, 540, 64)]


@pytest.mark.parametrize("closed", [True, False])
def test_board_covers_and_laps_like_the_membrane(closed: bool) -> None:
    job = job_of(closed=closed)
    both = layers(job)
    assert both is not None
    for wall, layout, lap in ((*both[0], job.rules.side_lap), (*both[1], board(job).flap)):
        assert_covers(job, wall, layout)
        assert_laps(wall, layout, lap)


def test_seams_of_the_two_layers_are_apart() -> None:
    job = job_of(closed=False)
    both = layers(job)
    assert both is not None
    (_, under), (_, over) = both
    assert not over.broken  # the geometry allows it everywhere on this wall
    assert min(apart(a, b, None) for a in over.seams for b in under.seams) >= board(job).seams_apart


def assert_covers(job: Job, wall: Wall, layout: Layout) -> None:
    """The pieces of a layout cover all that the layer must."""
    rules = job.rules if wall.layer == "membrane" else board_rules(job, board(job))
    _, pieces = field_pieces(wall, layout.drops, layout.splits, rules, product=wall.layer)
    shifts = (-wall.length, 0, wall.length) if wall.closed else (0,)
    laid = unary_union([affinity.translate(Polygon(p.outline, p.holes), s) for p in pieces for s in shifts])
    assert must_cover(wall, 0, wall.length).difference(laid).area < 1e-6
    assert all(p.width <= (job.sheet if wall.layer == "membrane" else board_product(board(job))).width
               for p in pieces)


def assert_laps(wall: Wall, layout: Layout, lap: int) -> None:
    """Neighbours lap by at least the lap, all along the run."""
    drops = sorted(layout.drops, key=lambda drop: drop.left)
    pairs = list(zip(drops, drops[1:]))
    assert all(a.right - b.left >= lap for a, b in pairs)
    if wall.closed:
        assert drops[-1].right - (drops[0].left + wall.length) >= lap
    else:
        assert drops[0].left <= 0 and drops[-1].right >= wall.length
    assert len(layout.seams) == len(drops) - (0 if wall.closed else 1)


@pytest.mark.parametrize("seed", range(12))
def test_any_job_with_a_board(seed: int) -> None:
    """Both layers of random walls cover and lap; a pair of seams too near is an exception of the board's."""
    data = json.loads(random_job(seed))
    metric = data["units"] == "mm"
    data["drainage_board"] = {"width": 1200 if metric else 48, "rolls": [{"length": "15 m" if metric else "50 ft"}]}
    job = read_job_text(json.dumps(data), "random.yaml")
    for number, run in enumerate(job.runs):
        both = layers(job, number)
        if both is None:
            continue
        (field, under), (wall, over) = both
        assert_covers(job, wall, over)
        assert_laps(wall, over, board(job).flap)
        near = [
            (a, b) for a in over.seams for b in under.seams
            if apart(a, b, field.length if run.closed else None) < board(job).seams_apart
        ]
        told = [broken for broken in over.broken if broken.rule == "board_seam"]
        assert bool(near) == bool(told)


def test_a_door_on_the_footing_leaves_its_width_bare() -> None:
    text = TEXT.replace("MORE", "flap: 3").replace("CLOSED", "false").replace(
        "{tag: W1, kind: window, left: 120, sill: 50, width: 40, height: 24}",
        "{tag: D1, kind: door, left: 120, sill: 0, width: 36, height: 84}")
    job = read_job_text(text, "board.yaml")
    both = layers(job)
    assert both is not None
    wall, layout = both[1]
    # South 389 in, 79 in high, less the door's 36 in and the sleeve
    south = must_cover(wall, 0, 389 * INCH).area / INCH ** 2
    # its hole as cut lies inside the true circle of 4 in
    assert south == pytest.approx((389 - 36) * 79 - 3.14159 * 4, abs=1)
    assert_covers(job, wall, layout)


DOOR = """
job: {name: Door}
sheet: {width: 36, rolls: [{length: 66'-8"}]}
drainage_board: {width: 4'-0", rolls: [{length: 50'-0"}], flap: 3, top_below_grade: 6}
runs:
  - name: A
    faces:
      - {name: South, length: 30'-0", top: 8'-0", grade: 7'-0", footing: 0, ledge: 0, corner: none,
         openings: [{tag: D1, kind: door, left: 8'-0", sill: 0, width: 9'-0", height: 7'-8"}]}
  - name: B
    faces: [{name: Side, length: 20'-0", top: 8'-0", grade: 7'-0", footing: 0, ledge: 4, corner: none}]
"""


def test_a_door_down_to_the_footing_leaves_its_run_s_board_out_and_says_so() -> None:
    """The membrane goes round the door; a board that a door cuts through is left to the crew, and nothing else is."""
    plan = short_plan(DOOR)
    layers = {(drop.run, drop.layer) for drop in plan.drops}
    assert layers == {("A", "membrane"), ("B", "membrane"), ("B", "drainage")}
    left_out = [note for note in plan.notes if "no drainage board is laid out" in note]
    assert len(left_out) == 1 and left_out[0].startswith("run A:") and "opening" in left_out[0]
    assert plan_findings(plan) == ()
