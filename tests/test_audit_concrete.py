"""The audit's own concrete: where it parts the sheet, held against figures worked by hand.

A 36 in sheet, ledge 6, turn-down 4, fillet 3/4 where nothing else is said; lengths in inches.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from helpers.audited import job
from layout.audit.asked import Asked, read_asked
from layout.audit.concrete import RunInSpace, build
from layout.audit.folding import breaks_of
from layout.audit.spread import Spread

C = 240.0
"""Station of the corner or step between the two walls."""
TOE = 10 - (2 - math.sqrt(2)) * 0.75
EDGE = 0.75 - 0.75 * math.sqrt(2) - 5.25
"""Where the ledge ends on the sheet, from the joint."""


def two(*, corner: str = "outside", turn: float = 90, ledges: tuple[float, float] = (6, 6), joints: tuple[Any, Any] = (
        0, 0), **rules: Any) -> Asked:
    """Return a job of two walls of 20 ft."""
    faces: list[dict[str, Any]] = [
        {"name": "L", "length": C, "top": "8 ft", "footing": joints[0], "ledge": ledges[0], "corner": corner},
        {"name": "R", "length": C, "top": "8 ft", "footing": joints[1], "ledge": ledges[1]},
    ]
    if corner != "none":
        faces[0]["angle"] = turn
    return read_asked(job(runs=[{"name": "A", "faces": faces}], rules=rules))


def concrete(asked: Asked) -> RunInSpace:
    return build(asked.runs[0], asked, 64)


def parted(asked: Asked) -> list[tuple[float, float, float]]:
    """Return where sheet parts: the station, from which height to which; what goes on below every sheet ends at -99."""
    found = []
    for each in breaks_of(concrete(asked), asked):
        (x, high), (_, low) = each.spots[0], each.spots[-1]
        found.append((round(x / 16, 4), round(high / 16, 4), round(max(low / 16, -99.0), 4)))
    return sorted(found)


def test_outside_corner_parts_from_above_the_fillet() -> None:
    assert parted(two()) == [(C, 0.75, -99)]


@pytest.mark.parametrize("turn", [45, 60, 120, 135])
def test_outside_corners_at_other_turns_part_in_one_line(turn: float) -> None:
    assert parted(two(turn=turn)) == [(C, 0.75, -99)]


@pytest.mark.parametrize(("ledges", "left", "right"), [((6, 6), 6, 6), ((6, 10), 10, 6)])
def test_inside_corner_parts_where_the_footing_turns_back(ledges: tuple[float, float], left: float,
                                                          right: float) -> None:
    edges = [round(0.75 - 0.75 * math.sqrt(2) - (ledge - 0.75), 4) for ledge in ledges]
    assert parted(two(corner="inside", ledges=ledges)) == [
        (C - left, edges[0], -99), (C, 0.75, -99), (C + right, edges[1], -99)]


@pytest.mark.parametrize(("turn", "p", "q"), [(60, 6.0, 6.0), (120, 6.0, 6.0), (60, 6.0, 8.0), (135, 6.0, 6.0)])
def test_inside_corners_at_other_turns(turn: float, p: float, q: float) -> None:
    """Two offset lines meet (q - p cos t) / sin t before the corner and (p - q cos t) / sin t past it."""
    t = math.radians(turn)
    left, right = (q - p * math.cos(t)) / math.sin(t), (p - q * math.cos(t)) / math.sin(t)
    found = [x for x, _, _ in parted(two(corner="inside", turn=turn, ledges=(p, q)))]
    assert found[0] == pytest.approx(C - left, abs=1e-3) and found[-1] == pytest.approx(C + right, abs=1e-3)
    assert C in found


@pytest.mark.parametrize(("down", "end"), [(16, -16 + EDGE), (8, -8 + EDGE), (3, -3 + EDGE)])
def test_step_parts_until_the_lower_ledge_ends(down: float, end: float) -> None:
    """Below that both sides lie on faces in one plane: the sheet is sound again."""
    assert parted(two(corner="none", joints=(0, -down))) == [(C, 0.75, round(end, 4))]


def test_step_the_other_way() -> None:
    assert parted(two(corner="none", joints=(-8, 0))) == [(C, 0.75, round(-8 + EDGE, 4))]


@pytest.mark.parametrize("corner", ["outside", "inside", "none"])
def test_walls_without_ledges_do_not_part(corner: str) -> None:
    assert parted(two(corner=corner, ledges=(0, 0))) == []
    assert parted(two(corner="none", ledges=(0, 0), joints=(0, -16))) == []


def test_ledge_that_changes_parts_from_the_narrower_edge() -> None:
    assert parted(two(corner="none", ledges=(6, 10))) == [(C, round(EDGE, 4), -99)]


def test_without_a_fillet_sheet_parts_from_the_joint() -> None:
    assert parted(two(fillet=0)) == [(C, 0, -99)]


def test_step_at_an_outside_corner_parts_from_the_higher_footing() -> None:
    assert parted(two(joints=(0, -16))) == [(C, 0.75, -99)]
    assert parted(two(joints=(-16, 0))) == [(C, 0.75, -99)]


def test_opening_that_the_sheet_turns_into_parts_at_its_corners() -> None:
    face = {"name": "W", "length": C, "top": "8 ft", "footing": 0, "ledge": 6,
            "openings": [{"tag": "W1", "left": 60, "sill": 30, "width": 36, "height": 24}]}
    asked = read_asked(job(runs=[{"name": "A", "faces": [face]}], rules={"opening_return": 2}))
    lines = [[(x / 16, y / 16) for x, y in each.spots] for each in breaks_of(concrete(asked), asked)]
    assert sorted(lines) == [[(60, 30), (62, 32)], [(60, 54), (62, 52)], [(96, 30), (94, 32)], [(96, 54), (94, 52)]]


def test_metric_outside_corner() -> None:
    faces = [{"name": "L", "length": 6000, "top": 2500, "footing": 0, "ledge": 150, "corner": "outside"},
             {"name": "R", "length": 6000, "top": 2500, "footing": 0, "ledge": 150}]
    asked = read_asked(job(units="mm", runs=[{"name": "A", "faces": faces}]))
    each, = breaks_of(build(asked.runs[0], asked, 100), asked)
    assert each.spots[0] == pytest.approx((6000, 19))


# --- in space ----------------------------------------------------------------------------------

def test_toe_of_the_worked_drop_in_space() -> None:
    """9.5607 below the joint the sheet is 4 in down the face, 6 in out."""
    strip = concrete(two()).strips[0]
    part = strip.part_at(1600, -TOE * 16)
    assert part.plane.kind == "footing face"
    assert part.motion.put((1600, -TOE * 16)) / 16 == pytest.approx((100, -6, -4), abs=1e-6)


@pytest.mark.parametrize(("corner", "turn"), [("outside", 90), ("inside", 90), ("outside", 60), ("inside", 120)])
def test_lengths_on_the_sheet_are_lengths_along_the_concrete(corner: str, turn: float) -> None:
    """Distances between points of one part are kept, and folds lie on both parts, to a thousandth of an inch."""
    for strip in concrete(two(corner=corner, turn=turn, joints=(0, -16) if corner == "outside" else (0, 0))).strips:
        for part in strip.parts:
            spots = [(strip.left, -10.0), (strip.left + 17, 33.0), (strip.right, 5.0)]
            for a, b in zip(spots, spots[1:]):
                there = float(np.linalg.norm(part.motion.put(a) - part.motion.put(b)))
                assert there == pytest.approx(math.dist(a, b), abs=0.016)
        for before, after in zip(strip.parts, strip.parts[1:]):
            for x in (strip.left, strip.right):
                spot = (x, after.begins(x))
                assert before.motion.put(spot) == pytest.approx(after.motion.put(spot), abs=0.016)


def test_sheet_turns_the_same_way_out_everywhere() -> None:
    """The soil side of the sheet is the soil side of every surface."""
    for strip in concrete(two(corner="inside", turn=120, ledges=(6, 8))).strips:
        for part in strip.parts:
            assert part.motion.out == pytest.approx(part.plane.out, abs=1e-9)


def test_a_point_in_space_is_found_on_the_sheet_again() -> None:
    asked = two(corner="inside")
    spread = Spread(concrete(asked), asked)
    for spot in ((1600.0, 800.0), (1600.0, -40.0), (1600.0, -120.0), (4000.0, -120.0)):
        motion = spread.motion_at(spot)
        found = spread.found(motion.put(spot)[None], motion.along[None], np.zeros(1))
        assert any(math.dist(spot, there) < 0.01 for there in found.spots)


def test_closed_run_goes_on_as_it_begins() -> None:
    faces = [{"name": name, "length": "20 ft", "top": "8 ft", "ledge": 6} for name in "NESW"]
    asked = read_asked(job(runs=[{"name": "A", "closed": True, "faces": faces}]))
    made = build(asked.runs[0], asked, 64)
    corners = [corner.at / 16 for corner in made.corners if 0 < corner.at <= 960 * 16]
    assert corners == [240, 480, 720, 960]
    assert all(corner.turn == pytest.approx(math.pi / 2) for corner in made.corners)
    first, again = made.settings[4], made.settings[8]
    assert first.start == pytest.approx((0, 0), abs=1e-6) and again.start == pytest.approx((0, 0), abs=1e-6)
