"""Steps and changes of ledge near one another and near corners: what is planned folds and holds under the audit.

Ledge 6, turn-down 4, fillet 3/4, covers lap 6, unless a case says otherwise; the audit folds by code of its own.
"""

from __future__ import annotations

import math
from fractions import Fraction
from pathlib import Path

import pytest
from shapely.geometry import Polygon

from helpers.folded import folding_findings
from helpers.packets import short_plan
from helpers.thinned import thinned
from layout.audit.asked import read_asked
from layout.audit.concrete import build
from layout.audit.spread import Spread
from layout.concrete import concrete_of
from layout.faces import develop
from layout.job import read_job_text, read_mapping
from layout.records import Plan

INCH = 16


def wall(*faces: str, rules: str = "", closed: bool = False) -> str:
    """Return a job of one run; a face is written as its length, its footing, its ledge, and what else it has."""
    text = (f"job: {{name: Steps}}\nsheet: {{width: 36, rolls: [{{length: \"66'-8\\\"\"}}]}}\nstrip: {{width: 18 in}}\n"
            f"rules: {{turn_down: 4, base_strip: 18{rules}}}\nruns:\n  - name: A\n    closed: {str(closed).lower()}\n"
            "    faces:\n")
    for number, face in enumerate(faces):
        text += f"      - {{name: F{number}, top: 96, footing_depth: 60, {face}}}\n"
    return text


def stepped(*levels: tuple[float, float], length: float = 150, ledge: float = 6, more: str = "") -> str:
    """Return a face whose footing steps at stations to levels, from 0."""
    points, before = [[0.0, 0.0]], 0.0
    for station, level in levels:
        points += [[station, before], [station, level]]
        before = level
    points.append([length, before])
    return f"length: {length}, footing: {points}, ledge: {ledge}{more}"


def level(height: float, *, length: float = 150, ledge: float = 6, more: str = "") -> str:
    return f"length: {length}, footing: {height}, ledge: {ledge}{more}"


WALLS = {
    "stairs down, 2 in apart": wall(stepped((60, -10), (62, -20))),
    "stairs up, 1 in apart": wall(stepped((60, 10), (61, 20), (62, 30))),
    "stairs of half an inch, less than the fillet": wall(stepped((60, -0.5), (75, 0))),
    "a trench 3 in wide": wall(stepped((60, -12), (63, 0))),
    "a pier 3 in wide": wall(stepped((60, 12), (63, -2))),
    "a trench of an inch, no fillet": wall(stepped((60, -20), (61, -2)), rules=", fillet: 0"),
    "a step 3 in before an outside corner": wall(stepped((147, -9), more=", corner: outside"), level(-9)),
    "a step 2 in past an outside corner": wall(level(0, more=", corner: outside"), stepped((2, 14))),
    "a step at an outside corner and one 3 in past it": wall(
        level(0, more=", corner: outside"), "length: 150, footing: [[0, -9], [3, -9], [3, 5], [150, 5]], ledge: 6"),
    "a step 2 in past the footing of an inside corner": wall(level(0, more=", corner: inside"), stepped((8, -9))),
    "a step an inch from a change of ledge": wall(stepped((149, -9), more=", corner: none"), level(-9, ledge=10)),
    "a change of ledge an inch past a step": wall(level(0, more=", corner: none"), stepped((1, 9), ledge=4)),
    "a step up where the ledge grows": wall(level(0, more=", corner: none"), level(9, ledge=10)),
    "a step up where the ledge shrinks": wall(level(0, more=", corner: none"), level(9, ledge=4)),
    "a step 20 in from the end of a wider ledge": wall(level(0, ledge=10, more=", corner: none"), stepped((20, -4))),
    "a ledge on one side of an outside corner, and a step 3 in past it": wall(
        level(0, ledge=0, more=", corner: outside"), stepped((3, -9))),
    "a door on the higher footing, over a step": wall(stepped((60, -12), more=(
        ", openings: [{tag: D1, kind: door, left: 40, sill: 0, width: 40, height: 80}]"))),
    **{f"a step {way} at an inside corner of {angle}": wall(
        level(0, more=f", corner: inside, angle: {angle}"), level(height))
       for angle in (45, 60, 90, 120, 135)
       for way, height in (("down", -9), ("up", 9), ("16 down", -16), ("4 up", 4))},
    **{f"a step at an outside corner of {angle}": wall(
        level(0, more=f", corner: outside, angle: {angle}"), level(-9)) for angle in (45, 60, 90, 120)},
}


@pytest.mark.parametrize("text", thinned(WALLS.values()), ids=WALLS)
def test_it_folds_and_holds(text: str, tmp_path: Path) -> None:
    plan = short_plan(text)
    assert [f"{found.number}: {found.place}: {found.found}" for found in folding_findings(plan, tmp_path)] == []
    assert any(piece.kind in ("riser cover", "ledge cover") for piece in plan.pieces)


def corners_of(plan: Plan, tag: str, surface: str) -> set[tuple[float, ...]]:
    """Return the corners in space of what of a cover lies on a surface [in]."""
    piece = next(each for each in plan.pieces if each.tag == tag)
    return {tuple(round((o + x * a + y * u) / INCH, 3) + 0.0
                  for o, a, u in zip(part.origin, part.along, part.up, strict=True))
            for part in piece.laid if part.on == surface for x, y in part.outline}


def test_a_lap_goes_on_down_the_next_riser() -> None:
    """Down 10 at 60 and 10 more at 62: past the first riser 2 in on the tread, and the other 4 in down the second."""
    plan = short_plan(WALLS["stairs down, 2 in apart"])
    assert {(62, -6, -10), (62, -6, -14), (62, -0.75, -14)} <= corners_of(plan, "A-RC1", "riser")
    # the second one's lap on the tread above goes on up the first riser
    assert {(60, -6, -10), (60, -6, -6), (60, -0.75, -6)} <= corners_of(plan, "A-RC2", "riser")


def test_a_lap_goes_on_around_a_pier() -> None:
    """3 in wide: around its outer edge the first riser's cover goes 3 in along its face and 3 in on to its far side."""
    plan = short_plan(WALLS["a pier 3 in wide"])
    assert {(63, -6, 12), (63, -3, 12), (63, -3, 0)} <= corners_of(plan, "A-RC1", "riser")


def test_a_higher_footing_ends_square_to_the_lower_wall() -> None:
    """Inside corner of 120, ledges 6: the edges meet 6 tan 60 = 10.392 in along both walls, and there is the riser."""
    plan = short_plan(WALLS["a step down at an inside corner of 120"])
    cover = next(piece for piece in plan.pieces if piece.tag == "A-RC1")
    riser = next(part for part in cover.laid if part.on == "riser")
    # the lower wall goes back from (150, 0) at 120 degrees; its riser looks along it
    normal = [riser.along[1] * riser.up[2] - riser.along[2] * riser.up[1],
              riser.along[2] * riser.up[0] - riser.along[0] * riser.up[2]]
    assert normal == pytest.approx([-0.5, -0.75 ** 0.5])
    away = (riser.origin[0] / INCH - 150) * normal[0] + riser.origin[1] / INCH * normal[1]
    assert away == pytest.approx(6 * 3 ** 0.5)


@pytest.mark.parametrize(("angle", "back", "left", "right"), [
    (60, 3.4641, "146 9/16", "153 7/16"),  # 6 tan 30, to the nearest sixteenth
    (45, 2.4853, "147 1/2", "152 1/2"),  # 6 tan 22.5
])
def test_a_step_at_a_slight_inside_corner(angle: int, back: float, left: str, right: str) -> None:
    """Up 9 at an inside corner at 150, ledges 6, turn-down 4, fillet 3/4, so that the toe is 9 9/16.

    The higher footing runs on to the lower wall as far back as the edges meet, and its riser stands square to that
    wall. The sheet is slit there, from the fillet on the higher footing to the end of the lower toe; at the corner, as
    far as the higher toe; and where the higher footing's edge begins, from that edge down: 5 9/16 below the joint.
    """
    plan = short_plan(WALLS[f"a step up at an inside corner of {angle}"])
    drop = next(piece for piece in plan.pieces if piece.kind == "drop" and piece.slits)
    slits = [(slit.start[0], slit.start[1], slit.end[1]) for slit in drop.slits]

    def ticks(*lengths: float) -> tuple[int, ...]:
        return tuple(round(length * INCH) for length in lengths)

    at = [sum(map(Fraction, text.split())) for text in (left, right)]
    assert slits == [ticks(at[0], 9.75, -9 - 9 / 16), ticks(150, 9.75, 9 - 9 - 9 / 16),
                     ticks(at[1], 9 - 5 - 9 / 16, 9 - 9 - 9 / 16)]
    foot = 150 - back
    riser = [(foot, -6, 0), (foot, -0.75, 0), (foot, 0, 0.75), (foot, 0, 9), (foot, -6, 9)]
    for spot in riser:
        assert any(each == pytest.approx(spot, abs=0.002) for each in corners_of(plan, "A-RC1", "riser"))
    # around its outer edge the cover goes 6 in along the higher footing's face, as far down as the sheet does
    turn = math.radians(angle)
    end = (foot + 6 * math.cos(turn), -6 - 6 * math.sin(turn))
    for height in (9, 5):
        assert any(each == pytest.approx((*end, height), abs=0.002)
                   for each in corners_of(plan, "A-RC1", "footing face"))
    dabs = [tuple(value / INCH for value in dab.point) for dab in plan.dabs]
    for spot in ((foot, 0, 9.75), (foot, 0, 0.75), (foot, -6, 9), (foot, -6, 0), (150, 0, 9.75)):
        assert any(each == pytest.approx(spot, abs=0.002) for each in dabs)


@pytest.mark.parametrize(("ledges", "height"), thinned(
    [((6, 6), 1), ((6, 6), -1), ((10, 6), 4), ((6, 10), -4), ((10, 6), -1)], keep=2, rows=True))
@pytest.mark.parametrize("angle", [60, 75])
def test_a_low_step_at_a_sharp_inside_corner(
    ledges: tuple[float, float], height: float, angle: float, tmp_path: Path,
) -> None:
    """Past its end a flap of the higher footing goes down as far as that is high, and on to the lower ledge."""
    plan = short_plan(wall(level(0, ledge=ledges[0], more=f", corner: inside, angle: {angle}"),
                           level(height, ledge=ledges[1])))
    assert [f"{found.number}: {found.place}: {found.found}" for found in folding_findings(plan, tmp_path)] == []


@pytest.mark.parametrize("own_code", [True, False])
def test_a_flap_goes_on_to_the_lower_footing_from_the_foot_of_the_end(own_code: bool, tmp_path: Path) -> None:
    """Up 1 at an inside corner of 60 at 150, ledges 6, no fillet: the higher footing ends 6 tan 30 = 3.464 before it.

    The flap of the second wall leaves the corner at 30 degrees from the way that end looks. 5 1/2 in out it is
    5 1/2 sin 60 along that way, 1 in of it down the end, and 5 1/2 cos 60 = 2 3/4 out from the first wall.
    """
    text = wall(level(0, more=", corner: inside, angle: 60"), level(1), rules=", fillet: 0")
    spot = (150 * INCH + 0.001, (1 - 5.5) * INCH)
    if own_code:
        (tmp_path / "job.yaml").write_text(text, encoding="utf-8")
        asked = read_asked(read_mapping(tmp_path / "job.yaml"))
        place = list(Spread(build(asked.runs[0], asked, 4 * INCH), asked).motion_at(spot).put(spot) / INCH)
    else:
        x, y = spot
        square = Polygon([(x, y), (x, y + 2), (x + 2, y + 2), (x + 2, y)])
        part = concrete_of(develop(read_job_text(text, "test"))[0]).parts(square)[0]
        assert part.on == "ledge"
        place = [value / INCH for value in part.motion.place(spot)]
    assert place == pytest.approx([150 - 5.5 * math.sin(math.radians(60)) + 1, -2.75, 0], abs=1e-3)
