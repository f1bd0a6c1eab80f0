"""Footings that slope to a change of ledge, a step, or an end: strips and covers lie on the concrete, to the tick.

A joint that falls 1 in 8 (13 in over 104): a plumb line of the sheet comes out askew on the ledge, an eighth of what it
is out from the wall farther down the slope, measured level. Fillet 3/4, turn-down 4, covers lap 6; lengths in inches.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from helpers.folded import folding_findings
from helpers.packets import short_plan
from helpers.thinned import thinned
from layout.audit.asked import read_asked
from layout.audit.concrete import build
from layout.audit.spread import Spread
from layout.job import echo, read_mapping
from layout.records import Piece, Plan

INCH = 16
JOB = """
job: {{name: Slopes}}
sheet: {{width: 36, rolls: [{{length: "66'-8\\"", price: 205}}]}}
strip: {{width: 18, rolls: [{{length: 50 ft, price: 60}}]}}
rules: {{base_strip: 18, turn_down: {down}}}
runs:
  - name: A
    faces:
{faces}
"""
LEVEL, FALLS, RISES = (0, 0), (0, -13), (0, 13)


def planned(*faces: tuple[tuple[float, float], float, str], down: float | str = 4) -> Plan:
    """Plan faces of 104 in; a face is written as the heights of its joint at both ends, its ledge, its corner."""
    text, level = "", 0.0
    for number, ((first, last), ledge, corner) in enumerate(faces):
        text += (f"      - {{name: F{number}, length: 104, top: 120, footing: [[0, {level + first}], "
                 f"[104, {level + last}]], ledge: {ledge}, footing_depth: 60, corner: {corner}}}\n")
        level += last
    return short_plan(JOB.format(down=down, faces=text))


def corners_of(piece: Piece, *surfaces: str) -> list[tuple[float, float, float]]:
    """Return the corners in space of what of a piece lies on some surfaces [in]."""
    found = []
    for part in piece.laid:
        if part.on in surfaces:
            found += [tuple((o + x * a + y * u) / INCH
                            for o, a, u in zip(part.origin, part.along, part.up, strict=True))
                      for x, y in part.outline]
    return found  # type: ignore[return-value]


def strip(plan: Plan, number: int) -> Piece:
    return next(piece for piece in plan.pieces if piece.tag == f"A-BS{number:02d}")


CASES = {
    f"{name} a {'wider' if wider else 'narrower'} ledge": ((first, 6 if wider else 10, "none"),
                                                           (second, 10 if wider else 6, "none"))
    for wider in (True, False)
    for name, first, second in (("falls to", FALLS, LEVEL), ("rises to", RISES, LEVEL), ("falls from", LEVEL, FALLS),
                                ("rises from", LEVEL, RISES), ("falls past", FALLS, FALLS))
} | {
    "falls to an open end": ((FALLS, 6, "none"),),
    "falls to an outside corner with a wall without a ledge": ((FALLS, 6, "outside"), (LEVEL, 0, "none")),
    "falls to where the ledge ends": ((FALLS, 6, "none"), (LEVEL, 0, "none")),
}


@pytest.mark.parametrize("faces", thinned(CASES.values()), ids=CASES)
def test_it_folds_and_holds(faces: tuple[tuple[tuple[float, float], float, str], ...], tmp_path: Path) -> None:
    assert [f"{each.number} {each.place}" for each in folding_findings(planned(*faces), tmp_path)] == []


@pytest.mark.parametrize(("first", "second", "ledges", "fillet"), thinned([
    (first, second, ledges, fillet) for ledges in ((6, 6), (10, 10), (6, 10))
    for first, second in ((LEVEL, RISES), (FALLS, RISES), (FALLS, LEVEL), (RISES, FALLS)) for fillet in (0, 0.75)
], keep=5, rows=True))
def test_a_valley_or_a_ridge_without_a_turn_down_folds_and_holds(
    first: tuple[float, float], second: tuple[float, float], ledges: tuple[float, float], fillet: float, tmp_path: Path,
) -> None:
    """A plumb edge of the first ledge comes out up to 10 / 8 in past the kink, and is bent on to the second one."""
    plan = planned((first, ledges[0], "none"), (second, ledges[1], "none"), down=f"0, fillet: {fillet}")
    assert [f"{each.number} {each.place}" for each in folding_findings(plan, tmp_path)] == []


def test_the_audit_bends_what_lies_past_a_kink_on_to_the_next_ledge(tmp_path: Path) -> None:
    """Falls 1 in 8 to 104 and rises again: 5 in out its slit is 5 / 8 in past the kink, up the second ledge."""
    plan = planned((FALLS, 6, "none"), (RISES, 6, "none"), down="4, fillet: 0")
    (tmp_path / "job.yaml").write_text(echo(plan.job), encoding="utf-8")
    asked = read_asked(read_mapping(tmp_path / "job.yaml"))
    spread = Spread(build(asked.runs[0], asked, 4 * INCH), asked)
    angle = math.atan(1 / 8)
    spot = (104 * INCH - 1e-6, (-13 - 5 / math.cos(angle)) * INCH)
    lies = [104 + 5 / 8 * math.cos(angle), -5, -13 + 5 / 8 * math.sin(angle)]
    assert spread.motion_at(spot).put(spot) / INCH == pytest.approx(lies, abs=1e-6)


@pytest.mark.parametrize("name", ["falls to a narrower ledge", "falls to a wider ledge", "falls to an open end",
                                  "falls to an outside corner with a wall without a ledge"])
def test_a_strip_ends_where_its_sloping_ledge_ends(name: str) -> None:
    """Cut plumb it would come out 6 / 8 = 3/4 in past the end; it ends there, no tick and a half before."""
    ends = [x for x, _, _ in corners_of(strip(planned(*CASES[name]), 1), "ledge", "footing face")]
    assert 104 - 1.5 / INCH <= max(ends) <= 104 + 1e-6


@pytest.mark.parametrize(("first", "second", "station"), [(RISES, LEVEL, 98), (LEVEL, FALLS, 110)])
def test_a_ledge_cover_laps_six_inches_level_on_a_sloping_ledge(
    first: tuple[float, float], second: tuple[float, float], station: float,
) -> None:
    """On the wide ledge: 6 in level is 6 * sqrt(1 + 1/64) = 6.047 along the slope, 3/4 in of it up or down."""
    ledges = (10, 6) if first == RISES else (6, 10)
    plan = planned((first, ledges[0], "none"), (second, ledges[1], "none"))
    cover = next(piece for piece in plan.pieces if piece.kind == "ledge cover")
    height = 13 - 0.75 if first == RISES else -0.75
    for out in (6, 10):
        assert any(spot == pytest.approx((station, -out, height), abs=0.01) for spot in corners_of(cover, "ledge"))


def test_a_riser_cover_laps_six_inches_level_on_sloping_ledges() -> None:
    """Down 12 at 60 on a joint that falls 1 in 8 before and after: 6 in to both sides, 3/4 in up and down."""
    plan = short_plan(JOB.format(down=4, faces=(
        "      - {name: F, length: 120, top: 120, footing: [[0, 7.5], [60, 0], [60, -12], [120, -19.5]], ledge: 6, "
        "footing_depth: 60}")))
    cover = next(piece for piece in plan.pieces if piece.tag == "A-RC1")
    for station, height in ((54, 0.75), (66, -12.75)):
        assert any(spot == pytest.approx((station, -6, height), abs=0.01) for spot in corners_of(cover, "ledge"))


def test_without_a_turn_down_a_cover_closes_the_wedge_where_slope_and_ledge_change(tmp_path: Path) -> None:
    """Rises to a wider ledge: at 6 in out the sheets part by 6 / 8 in, and there is no end of a ledge to cover."""
    plan = planned((RISES, 6, "none"), (LEVEL, 10, "none"), down=0)
    assert [piece.kind for piece in plan.pieces if piece.tag.startswith("A-SC")] == ["slope cover"]
    assert list(folding_findings(plan, tmp_path)) == []


def test_slopes_that_turn_in_twice_are_folded_by_the_audit(tmp_path: Path) -> None:
    """Beside the inside corners of this footing two surfaces lie in one plane: no fold leads from one to the other."""
    faces = "".join(
        f"      - {{name: F{number}, length: {length}, top: 130, footing: [[0, {first}], [{length}, {last}]], "
        f"ledge: {ledge}, footing_depth: 60, corner: {corner}}}\n"
        for number, (length, first, last, ledge, corner) in enumerate((
            (80, 0, -10, 4, "inside"), (120, -10, -25, 6, "inside"), (104, -25, -16.3125, 6, "none"))))
    plan = short_plan(JOB.format(down="4, fillet: 0", faces=faces))
    assert folding_findings(plan, tmp_path / "packet") == ()
