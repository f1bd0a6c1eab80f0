"""Sloping footings that turn a corner, as of a wall along a falling street: what is planned folds, closes and holds.

A joint that falls or rises 1 in 8 (13 in over 104): a plumb line of the sheet comes out askew on the ledge, an eighth
of what it is out from the wall farther down the slope. Fillet 3/4, turn-down 4, covers lap 6; lengths in inches.
"""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from helpers.folded import folding_findings
from helpers.packets import short_plan
from helpers.thinned import thinned
from layout.audit.asked import read_asked
from layout.audit.concrete import build
from layout.audit.spread import Spread
from layout.job import read_mapping
from layout.records import Piece, Plan

INCH = 16
JOB = """
job: {{name: Street}}
sheet: {{width: 36, rolls: [{{length: "66'-8\\"", price: 205}}]}}
strip: {{width: 18, rolls: [{{length: 50 ft, price: 60}}]}}
rules: {{base_strip: 18, turn_down: {down}, fillet: {fillet}}}
runs:
  - name: A
    faces:
      - {{name: F0, length: 104, top: 120, footing: [[0, 0], [104, {first}]], ledge: {p}, footing_depth: 60,
         corner: {corner}, angle: {angle}}}
      - {{name: F1, length: 104, top: 120, footing: [[0, {first}], [104, {second}]], ledge: {q}, footing_depth: 60}}
"""
FALLS, LEVEL, RISES = -13, 0, 13


def street(corner: str, first: float, second: float, *, ledges: tuple[float, float] = (6, 6), down: float = 4,
           fillet: float = 0.75, angle: float = 90) -> str:
    """Return a job of two faces of 104 in whose joints rise so much each."""
    return JOB.format(corner=corner, first=first, second=first + second, p=ledges[0], q=ledges[1], down=down,
                      fillet=fillet, angle=angle)


def laid_corners(plan: Plan, tag: str, *surfaces: str) -> list[tuple[float, ...]]:
    """Return the corners in space of what of a piece lies on some surfaces [in]."""
    piece: Piece = next(each for each in plan.pieces if each.tag == tag)
    return [tuple((o + x * a + y * u) / INCH for o, a, u in zip(part.origin, part.along, part.up, strict=True))
            for part in piece.laid if part.on in surfaces for x, y in part.outline]


OUTSIDE = [
    *((first, second, (6, 6), down, 90.0) for first, second in itertools.product((FALLS, LEVEL, RISES), repeat=2)
      for down in (0, 4) if first or second),
    *((FALLS, second, ledges, 4, 90.0) for second in (FALLS, RISES) for ledges in ((10, 6), (6, 10), (0, 6), (6, 0))),
    *((FALLS, RISES, (6, 6), 4, angle) for angle in (60.0, 75.0, 120.0, 150.0)),
]


@pytest.mark.parametrize(("first", "second", "ledges", "down", "angle"), thinned(OUTSIDE, keep=6, rows=True))
def test_an_outside_corner_folds_and_holds(
    first: float, second: float, ledges: tuple[float, float], down: float, angle: float, tmp_path: Path,
) -> None:
    plan = short_plan(street("outside", first, second, ledges=ledges, down=down, angle=angle))
    assert [f"{each.number} {each.place}" for each in folding_findings(plan, tmp_path)] == []


@pytest.mark.parametrize(("first", "second", "tag"), [(FALLS, LEVEL, "A-BS01"), (LEVEL, RISES, "A-BS02")])
def test_a_strip_ends_where_the_footing_goes_on_level_around_the_corner(first: float, second: float, tag: str) -> None:
    """Cut plumb its lower end would lie 6 / 8 in past the corner, askew on what is level there."""
    ends = laid_corners(short_plan(street("outside", first, second)), tag, "ledge", "footing face")
    past = [x - 104 if tag == "A-BS01" else -y for x, y, _ in ends]
    assert -1.5 / INCH <= max(past) <= 1e-6


def test_what_of_a_flap_lies_past_an_outside_corner_is_bent_on_to_the_level_ledge(tmp_path: Path) -> None:
    """The joint falls 1 in 8 to -13 at the corner at 104; the flap is slit there, plumb below the joint.

    So far down the slit that it is 5 in out, it is 5 / 8 in past the corner: on the level, that is measured level.
    """
    (tmp_path / "job.yaml").write_text(street("outside", FALLS, LEVEL, fillet=0), encoding="utf-8")
    asked = read_asked(read_mapping(tmp_path / "job.yaml"))
    spread = Spread(build(asked.runs[0], asked, 4 * INCH), asked)
    spot = (104 * INCH - 1e-6, (-13 - 5 * math.sqrt(1 + 1 / 64)) * INCH)
    assert spread.motion_at(spot).put(spot) / INCH == pytest.approx([104 + 5 / 8, -5, -13], abs=1e-6)


@pytest.mark.parametrize("second", [RISES, FALLS])
def test_the_ear_of_a_cover_keeps_clear_of_a_flap_that_hangs_askew(second: float) -> None:
    """No ledge before the corner: the second flap hangs from the edge of the sloping ledge, and plumb on it is 1 in 8
    off square. Over the 2 1/2 in of the ear that is 2 1/2 / 8 = 5 / 16 in: no part of the pattern lies on another."""
    plan = short_plan(street("outside", LEVEL, second, ledges=(0, 6)))
    cover = next(each for each in plan.pieces if each.kind == "footing cover")
    ear = cover.laid[-1]
    area = abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(
        ear.outline, [*ear.outline[1:], ear.outline[0]], strict=True))) / 2 / INCH ** 2
    assert area == pytest.approx(2.5 * 4 - 2.5 * 5 / 16 / 2, abs=0.02)


# --- inside corners ----------------------------------------------------------------------------

INSIDE = [
    *((first, second, (6, 6), down, 0.75) for first, second in itertools.product((FALLS, LEVEL, RISES), repeat=2)
      for down in (0, 4) if first or second),
    *((first, second, ledges, 4, fillet) for first, second in ((RISES, FALLS), (FALLS, RISES), (LEVEL, RISES))
      for ledges in ((10, 6), (6, 10), (0, 6), (10, 0)) for fillet in (0, 0.75)),
]


@pytest.mark.parametrize(("first", "second", "ledges", "down", "fillet"), thinned(INSIDE, keep=6, rows=True))
def test_an_inside_corner_folds_and_holds(
    first: float, second: float, ledges: tuple[float, float], down: float, fillet: float, tmp_path: Path,
) -> None:
    plan = short_plan(street("inside", first, second, ledges=ledges, down=down, fillet=fillet))
    assert [f"{each.number} {each.place}" for each in folding_findings(plan, tmp_path)] == []


@pytest.mark.parametrize(("second", "station"), [(RISES, 110.75), (LEVEL, 110), (FALLS, 109.25)])
def test_the_sheet_is_slit_where_its_plumb_line_comes_to_the_corner_of_the_footing(
    second: float, station: float, tmp_path: Path,
) -> None:
    """Ledges 6 and 6: the edges meet 6 in along the second wall, at 110, and 6 in out.

    The plumb line that comes to that point leaves the wall 6 sin (atan 1 / 8) = 0.744 in up the slope.
    """
    text = street("inside", LEVEL, second, fillet=0)
    plan = short_plan(text)
    slits = {slit.start[0] / INCH for piece in plan.pieces if piece.kind == "drop" for slit in piece.slits}
    assert slits == {98, 104, station}
    (tmp_path / "job.yaml").write_text(text, encoding="utf-8")
    asked = read_asked(read_mapping(tmp_path / "job.yaml"))
    made = build(asked.runs[0], asked, 4 * INCH)
    up = 0 if not second else math.copysign(6 * math.sin(math.atan(1 / 8)), second)
    assert [strip.left / INCH for strip in made.strips] == pytest.approx([0, 98, 104, 110 + up])


def test_a_flap_rides_on_the_next_ledge_that_rises(tmp_path: Path) -> None:
    """Level before the corner at 104, 1 in 8 up after it: 9 in out along the second wall its ledge is 9 / 8 in up."""
    (tmp_path / "job.yaml").write_text(street("inside", LEVEL, RISES, fillet=0), encoding="utf-8")
    asked = read_asked(read_mapping(tmp_path / "job.yaml"))
    spread = Spread(build(asked.runs[0], asked, 4 * INCH), asked)
    spot = (103.0 * INCH, -9.0 * INCH)
    flat = spread.motion_at(spot).put(spot)
    of, places = spread.elsewhere(np.array([spot]), flat[None])
    assert flat / INCH == pytest.approx([103, -9, 0])
    assert of.tolist() == [0]
    assert places / INCH == pytest.approx(np.array([[103, -9, 9 / 8]]))


def test_a_flap_that_comes_into_the_next_wall_has_no_slit_of_an_eighth() -> None:
    """Falls 1 in 8 to the corner and rises from it: both flaps turn up on the other wall along one fold each."""
    plan = short_plan(street("inside", FALLS, RISES, ledges=(10, 6), fillet=0))
    slits = [slit for piece in plan.pieces if piece.kind in ("drop", "corner strip") for slit in piece.slits]
    assert slits
    assert {slit.start[0] - slit.end[0] for slit in slits} == {0}
