"""The sheet on the concrete: slits, covers, dabs and points in space, against values worked by hand.

36 in sheet, side lap 2 1/2 in, and unless a case says otherwise ledge p = 6, turn-down t = 4, fillet f = 3/4 in.
The toe is p + t - (2 - sqrt 2) f = 9.5607, which the sheet rounds up to 9 9/16.
"""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from shapely.geometry import Point as Place
from shapely.geometry import Polygon

from layout.concrete import concrete_of
from layout.drawing.schedules import hung_as
from layout.faces import develop
from layout.folding import Motion, folds_between, hinge, shared
from layout.job import read_job_text
from layout.pieces import reinforce
from layout.pieces.covers import covers, outside_parts
from layout.pieces.slits import flat_slits
from layout.pipeline import make_plan
from layout.records import Job, Piece, Plan, Point, Wall

INCH = 16
RULES = "turn_down: 4, base_strip: 18"


def job_of(faces: str, *, rules: str = RULES, closed: bool = False, units: str = "in", width: str = "36") -> Job:
    """Read a job of one run."""
    return read_job_text(f"""
job: {{name: Folds}}
units: {units}
sheet: {{width: {width}, rolls: [{{length: 66'-8"}}]}}
strip: {{width: 18 in}}
rules: {{{rules}}}
runs:
  - name: A
    closed: {str(closed).lower()}
    faces:
{faces}
""", "folds.yaml")


def face(name: str, *, ledge: str = "6", footing: str = "0", length: str = "240", more: str = "") -> str:
    return (f"      - {{name: {name}, length: {length}, top: 96, footing: {footing}, ledge: {ledge}, "
            f"footing_depth: 24{more}}}\n")


def corner_job(kind: str, *, left: str = "6", right: str = "6", turn: float = 90, rules: str = RULES,
               footing: tuple[str, str] = ("0", "0")) -> Job:
    """Two faces of 20 ft with a corner at 240 in."""
    return job_of(face("South", ledge=left, footing=footing[0], more=f", corner: {kind}, angle: {turn}")
                  + face("East", ledge=right, footing=footing[1]), rules=rules)


def wall_of(job: Job) -> Wall:
    return develop(job)[0]


def slits_over(wall: Wall, outline: list[tuple[float, float]]) -> list[tuple[float, float, float, float]]:
    """Return the slits of a piece whose outline is given in inches: (x, y, x, y) from the top down, in inches."""
    ring = tuple((round(x * INCH), round(y * INCH)) for x, y in outline)
    return [(a / INCH, b / INCH, c / INCH, d / INCH)
            for (a, b), (c, d) in ((slit.start, slit.end) for slit in flat_slits(wall, ring, (), upward=False))]


def over(x: float, *, left: float, right: float, half: float = 17.0) -> list[tuple[float, float]]:
    """Return the outline of a sheet around a station, each half ending at its own toe."""
    if left == right:
        return [(x - half, 96), (x + half, 96), (x + half, right), (x - half, left)]
    return [(x - half, 96), (x + half, 96), (x + half, right), (x, right), (x, left), (x - half, left)]


# --- slits -------------------------------------------------------------------------------------

TOE = -9.5625


def test_the_toe() -> None:
    assert math.ceil((6 + 4 - (2 - math.sqrt(2)) * 0.75) * 16) / 16 == -TOE


@pytest.mark.parametrize("turn", [60, 90, 120, 135])
def test_outside_corner_is_slit_from_the_fillet_to_the_end(turn: float) -> None:
    """10 5/16 in long at any turn: the ledges part there whatever the angle."""
    wall = wall_of(corner_job("outside", turn=turn))
    assert slits_over(wall, over(240, left=TOE, right=TOE)) == [(240, 0.75, 240, TOE)]


def test_outside_corner_without_a_fillet() -> None:
    wall = wall_of(corner_job("outside", rules="turn_down: 4, base_strip: 18, fillet: 0"))
    assert slits_over(wall, over(240, left=-10, right=-10)) == [(240, 0, 240, -10)]


@pytest.mark.parametrize("height", [16, 8])
def test_step_is_slit_as_far_as_the_higher_flap_reaches(height: int) -> None:
    """At 8 in the last 1 9/16 in lies below the lower footing's top, where both parts are toe on different footings."""
    wall = wall_of(job_of(face("South", footing=f"[[0, 0], [90, 0], [90, -{height}], [240, -{height}]]")))
    assert slits_over(wall, over(90, left=TOE, right=TOE - height)) == [(90, 0.75, 90, TOE)]


def test_step_that_rises_to_the_right() -> None:
    wall = wall_of(job_of(face("South", footing="[[0, -16], [90, -16], [90, 0], [240, 0]]")))
    assert slits_over(wall, over(90, left=TOE - 16, right=TOE)) == [(90, 0.75, 90, TOE)]


def test_inside_corner_has_three_slits() -> None:
    """One in the corner, and one each side where the footing's edge turns: 4 in long from 5 9/16 below the joint."""
    wall = wall_of(corner_job("inside"))
    assert slits_over(wall, over(240, left=TOE, right=TOE)) == [
        (234, -5.5625, 234, TOE), (240, 0.75, 240, TOE), (246, -5.5625, 246, TOE)]


def test_inside_corner_of_unequal_ledges() -> None:
    """Ledges 6 and 10: 10 in back on the left from its own edge, 6 in on the right from 9 9/16 down."""
    wall = wall_of(corner_job("inside", right="10"))
    outline = [(223, 96), (257, 96), (257, -13.5625), (240, -13.5625), (240, TOE), (223, TOE)]
    assert slits_over(wall, outline) == [
        (230, -5.5625, 230, TOE), (240, 0.75, 240, TOE), (246, -9.5625, 246, -13.5625)]


@pytest.mark.parametrize(("turn", "back"), [(60, 3.4641), (90, 6), (120, 10.3923), (135, 14.4853)])
def test_inside_corner_at_other_turns(turn: float, back: float) -> None:
    """Equal ledges p: the edge turns p tan(t / 2) from the corner."""
    wall = wall_of(corner_job("inside", turn=turn))
    found = slits_over(wall, over(240, left=TOE, right=TOE))
    assert [round(x - 240, 4) for x, *_ in found] == [
        round(round(-back * 16) / 16, 4), 0, round(round(back * 16) / 16, 4)]


@pytest.mark.parametrize("kind", ["outside", "inside"])
def test_flush_corner_is_not_slit(kind: str) -> None:
    wall = wall_of(corner_job(kind, left="0", right="0"))
    assert slits_over(wall, over(240, left=-4, right=-4)) == []
    assert not covers(corner_job(kind, left="0", right="0"), wall)


def test_step_without_a_ledge_is_not_slit() -> None:
    wall = wall_of(job_of(face("South", ledge="0", footing="[[0, 0], [90, 0], [90, -16], [240, -16]]")))
    assert slits_over(wall, over(90, left=-4, right=-20)) == []


def test_turn_down_of_nothing_leaves_no_tails() -> None:
    wall = wall_of(corner_job("inside", rules="turn_down: 0, base_strip: 18"))
    assert slits_over(wall, over(240, left=-5.5625, right=-5.5625)) == [(240, 0.75, 240, -5.5625)]
    assert not [piece for piece in covers(corner_job("inside", rules="turn_down: 0"), wall)]


def test_ledge_that_changes_on_a_straight_wall() -> None:
    """From the narrower ledge's edge down: there the left part turns down and the right part goes on out."""
    wall = wall_of(job_of(face("South", ledge="4", more=", corner: none") + face("East", ledge="6")))
    outline = [(223, 96), (257, 96), (257, TOE), (240, TOE), (240, -7.5625), (223, -7.5625)]
    assert slits_over(wall, outline) == [(240, -3.5625, 240, -7.5625)]


def test_opening_is_slit_from_each_corner_at_45_degrees() -> None:
    """Return 2: from the hole's corner to the opening's, 2 sqrt 2 long."""
    opening = ", openings: [{tag: W1, left: 100, sill: 40, width: 30, height: 20}]"
    wall = wall_of(job_of(face("South", more=opening), rules="opening_return: 2, base_strip: 18"))
    ring = tuple((x * INCH, y * INCH) for x, y in [(95, 96), (135, 96), (135, 0), (95, 0)])
    hole = tuple((x * INCH, y * INCH) for x, y in [(102, 58), (128, 58), (128, 42), (102, 42)])
    found = {frozenset((slit.start, slit.end)) for slit in flat_slits(wall, ring, (hole,), upward=False)}
    ends = [((100, 60), (102, 58)), ((130, 60), (128, 58)), ((100, 40), (102, 42)), ((130, 40), (128, 42))]
    assert found == {frozenset((x * INCH, y * INCH) for x, y in pair) for pair in ends}


def test_metric_inside_corner() -> None:
    """p = 150, t = 100, f = 19 mm: toe 250 - 11.13 = 238.87, so 239; tails from 138.87 below the joint, 139."""
    job = job_of(
        "      - {name: South, length: 6000, top: 2400, ledge: 150, corner: inside}\n"
        "      - {name: East, length: 6000, top: 2400, ledge: 150}\n",
        rules="turn_down: 100, base_strip: 450", units="mm", width="914")
    ring = ((5600, 2400), (6400, 2400), (6400, -239), (5600, -239))
    found = [(slit.start, slit.end) for slit in flat_slits(wall_of(job), ring, (), upward=False)]
    assert found == [((5850, -139), (5850, -239)), ((6000, 19), (6000, -239)), ((6150, -139), (6150, -239))]


def test_pipe_that_stands_out_is_gone_around() -> None:
    """Slit to the nearer edge; the collar under it upward, so that the two do not lie over each other."""
    sleeve = ", sleeves: [{tag: P1, at: 112, elevation: 50, diameter: 4, projects: 10}]"
    plan = planned(job_of(face("South", more=sleeve)))
    by_slit = [(piece, slit) for piece in plan.pieces for slit in piece.slits if slit.why == "around P1"]
    drop, slit = next((p, s) for p, s in by_slit if p.kind == "drop")
    edges = [min(x for x, _ in drop.outline), max(x for x, _ in drop.outline)]
    near = min(edges, key=lambda x: abs(x - 112 * INCH))
    assert slit.end == (near, 50 * INCH) and abs(slit.start[0] - 112 * INCH) == 2 * INCH
    collar, up = next((p, s) for p, s in by_slit if p.kind == "collar")
    assert up.start == (112 * INCH, 52 * INCH) and up.end == (112 * INCH, 58 * INCH)
    patch, = [piece for piece in plan.pieces if piece.kind == "sleeve patch"]
    shape = Polygon(patch.outline)
    assert shape.bounds[1] == 44 * INCH and shape.bounds[3] == 56 * INCH  # 6 in to either side
    assert abs(near - 112 * INCH) + 2.5 * INCH == shape.bounds[2] - shape.bounds[0]
    assert patch.order == drop.order + 1 and collar.order < drop.order


def planned(job: Job) -> Plan:
    return make_plan(job, stop=lambda: True)


def test_flush_sleeve_needs_no_slit() -> None:
    plan = planned(job_of(face("South", more=", sleeves: [{tag: P1, at: 112, elevation: 50, diameter: 4}]")))
    assert not [slit for piece in plan.pieces for slit in piece.slits]
    assert not [piece for piece in plan.pieces if piece.kind == "sleeve patch"]


# --- in space ----------------------------------------------------------------------------------

def lies(wall: Wall, x: float, y: float, *, from_right: bool = True) -> tuple[float, ...]:
    """Return where a point of the developed sheet lies, all in inches."""
    point = concrete_of(wall).place((x * INCH, y * INCH), from_right=from_right)
    return tuple(value / INCH for value in point)


def near(*expected: float) -> object:
    return pytest.approx(expected, abs=1e-3)


F = 0.75
EDGE = -(6 - 2 * F + F * math.sqrt(2))  # where the ledge's edge lies on the developed sheet


def test_down_a_straight_wall() -> None:
    """Wall, fold at 3/4, chamfer 1.0607, ledge 5 1/4, face 4."""
    wall = wall_of(corner_job("outside"))
    assert lies(wall, 100, 50) == near(100, 0, 50)
    assert lies(wall, 100, F) == near(100, 0, F)
    assert lies(wall, 100, F - F * math.sqrt(2)) == near(100, -F, 0)
    assert lies(wall, 100, EDGE) == near(100, -6, 0)
    assert lies(wall, 100, EDGE - 4) == near(100, -6, -4)


def test_on_both_sides_of_an_outside_corner() -> None:
    """The first wall runs along X with the soil at -Y; at 90 degrees the second runs along Y with the soil at +X."""
    wall = wall_of(corner_job("outside"))
    assert lies(wall, 238, EDGE) == near(238, -6, 0)
    assert lies(wall, 243, EDGE - 4) == near(246, 3, -4)
    assert lies(wall, 240, EDGE, from_right=False) == near(240, -6, 0)
    assert lies(wall, 240, EDGE) == near(246, 0, 0)


def test_on_both_sides_of_an_inside_corner() -> None:
    """The second wall runs along -Y with the soil at -X; within 6 in of the corner the tails lie on the ledge."""
    wall = wall_of(corner_job("inside"))
    assert lies(wall, 230, EDGE - 4) == near(230, -6, -4)
    assert lies(wall, 238, EDGE - 4) == near(238, -10, 0)
    assert lies(wall, 242, EDGE - 4) == near(230, -2, 0)
    assert lies(wall, 250, EDGE - 4) == near(234, -10, -4)


def test_sharp_inside_corner_turns_the_flap_up_on_the_next_wall() -> None:
    """At 120 degrees the walls stand 60 apart: the flap at the corner meets the next wall at once and lies on it."""
    wall = wall_of(corner_job("inside", turn=120, rules="turn_down: 4, base_strip: 18, fillet: 0"))
    parts = concrete_of(wall).parts(Polygon([(x * INCH, y * INCH) for x, y in over(240, left=-10, right=-10)]))
    up = [part for part in parts if part.on == "wall" and part.motion.up[2] < 0.999]
    assert len(up) == 2
    second = (math.cos(math.radians(-120)), math.sin(math.radians(-120)))
    for x, y in list(up[0].shape.exterior.coords):
        px, py, pz = up[0].motion.place((x, y))
        out = (px - 240 * INCH) * second[1] - (py - 0) * second[0]
        assert abs(out) / INCH < 1e-6 and pz >= -1e-6


def test_on_both_sides_of_a_step() -> None:
    wall = wall_of(job_of(face("South", footing="[[0, 0], [90, 0], [90, -16], [240, -16]]")))
    assert lies(wall, 88, EDGE - 4) == near(88, -6, -4)
    assert lies(wall, 92, EDGE - 4) == near(92, 0, EDGE - 4)  # still wall: the lower footing is 16 in down
    assert lies(wall, 92, EDGE - 16) == near(92, -6, -16)


CASES = [
    ("outside", corner_job("outside"), 240, over(240, left=TOE, right=TOE)),
    ("outside 60", corner_job("outside", turn=60), 240, over(240, left=TOE, right=TOE)),
    ("outside 135", corner_job("outside", turn=135), 240, over(240, left=TOE, right=TOE)),
    ("inside", corner_job("inside"), 240, over(240, left=TOE, right=TOE)),
    ("inside 45", corner_job("inside", turn=45), 240, over(240, left=TOE, right=TOE)),
    ("inside 120", corner_job("inside", turn=120), 240, over(240, left=TOE, right=TOE)),
    ("step", job_of(face("South", footing="[[0, 0], [90, 0], [90, -16], [240, -16]]")), 90,
     over(90, left=TOE, right=TOE - 16)),
    ("step at an outside corner", corner_job("outside", footing=("0", "-16")), 240,
     over(240, left=TOE, right=TOE - 16)),
    ("step at an inside corner", corner_job("inside", footing=("0", "-16")), 240,
     over(240, left=TOE, right=TOE - 16)),
]


@pytest.mark.parametrize(("job", "at", "outline"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_a_folded_drop_keeps_its_lengths(job: Job, at: float, outline: list[Point]) -> None:
    """Along the sheet and in space all distances within a part are the same, to 1/1000 in; so are they over folds."""
    shape = Polygon([(x * INCH, y * INCH) for x, y in outline])
    parts = concrete_of(wall_of(job)).parts(shape)
    assert sum(part.shape.area for part in parts) == pytest.approx(shape.area)
    for part in parts:
        spots = [(x, y) for x, y, *_ in part.shape.exterior.coords]
        for a in spots:
            for b in spots:
                in_space = math.dist(part.motion.place(a), part.motion.place(b))
                assert abs(in_space - math.dist(a, b)) / INCH < 1e-3
    slit = {(x0, y0, x1, y1) for x0, y0, x1, y1 in slits_over(wall_of(job), outline)}
    assert slit, "a corner or a step is always slit"
    for start, end in folds_between(parts):
        for share in (0.1, 0.4, 0.6, 0.9):
            at_fold = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
            places = [part.motion.place(at_fold) for part in parts if part.shape.distance(_spot(at_fold)) < 0.01]
            assert len(places) == 2 and math.dist(*places) / INCH < 1e-3


def _spot(at: tuple[float, float]) -> Place:
    return Place(at)


def test_hinge_turns_about_its_line_only() -> None:
    flat = Motion((0, 0, 0), (1, 0, 0), (0, 1, 0))
    folded = hinge(flat, (0, 0), (1, 0), (0, -1, 0))  # facing -Y beyond the x axis
    assert folded.place((3, 0)) == pytest.approx((3, 0, 0))
    assert folded.place((0, -2)) == pytest.approx((0, 0, -2))


@pytest.mark.parametrize("off, long", [(0.0, 4.0), (1e-6, 4.0), (0.001, 4.0), (0.4, 0.0)])
def test_edges_that_differ_in_the_last_bits_are_one(off: float, long: float) -> None:
    """From 3 to 7 of an edge 10 long, the other one turned a little about its end; 0.4 apart they are two."""
    one = Polygon([(0, 0), (10, 0), (10, 5), (0, 5)])
    other = Polygon([(3, 0), (7, -off), (7, -5), (3, -5)])
    found = sum(math.dist(start, end) for line in shared(one, other) for start, end in pairwise(line))
    assert found == pytest.approx(long, abs=1e-3)


def test_shapes_that_meet_in_a_point_share_no_line() -> None:
    one = Polygon([(0, 0), (10, 0), (10, 5), (0, 5)])
    assert shared(one, Polygon([(10, 5), (20, 5), (20, 9), (10, 9)])) == []
    assert shared(one, Polygon([(10, 0), (20, -10), (20, -20), (10, -20)])) == []


# --- covers ------------------------------------------------------------------------------------

def area_on(parts: list[object], surface: str) -> float:
    return sum(part.shape.area for part in parts if part.on == surface) / INCH ** 2  # type: ignore[attr-defined]


def corner_of(job: Job) -> object:
    return concrete_of(wall_of(job)).corners()[0]


def test_footing_cover_at_90_degrees() -> None:
    """Fillet 0: the ledge's corner 6 x 6, laps 6 x 6 on two ledges, faces 12 x 4 twice, the ear 2 1/2 x 4."""
    job = corner_job("outside", rules="turn_down: 4, base_strip: 18, fillet: 0")
    parts = outside_parts(corner_of(job), fillet=0, turn_down=64, lap=96, ear=40)  # type: ignore[arg-type]
    assert area_on(parts, "ledge") == pytest.approx(36 + 2 * 36)
    assert area_on(parts, "footing face") == pytest.approx(2 * 12 * 4 + 2.5 * 4)


@pytest.mark.parametrize("turn", [60, 90, 120, 135])
def test_footing_cover_at_any_turn_has_an_ear(turn: float) -> None:
    """Kite p² tan(t/2), laps 6 p, faces (6 + p tan(t/2)) t; the ear as wide as the lap where it has room."""
    job = corner_job("outside", turn=turn, rules="turn_down: 4, base_strip: 18, fillet: 0")
    parts = outside_parts(corner_of(job), fillet=0, turn_down=64, lap=96, ear=40)  # type: ignore[arg-type]
    past = 6 * math.tan(math.radians(turn) / 2)
    assert area_on(parts, "ledge") == pytest.approx(6 * past + 2 * 36)
    # at 60 degrees the flap beside the ear leaves a sector: 2 1/2 wide where v tan 60 allows, 4 deep
    room = 2.5 * 4 - (2.5 ** 2 / math.tan(math.radians(60)) / 2 if turn == 60 else 0)
    assert area_on(parts, "footing face") == pytest.approx(2 * (6 + past) * 4 + room)
    assert parts[-1].motion.normal == pytest.approx(parts[-2].motion.normal)


def test_footing_cover_of_unequal_ledges() -> None:
    """Ledges 6 and 10 at 90 degrees: corner 10 x 6, laps 6 x 6 and 6 x 10, faces (6 + 10) x 4 and (6 + 6) x 4."""
    job = corner_job("outside", right="10", rules="turn_down: 4, base_strip: 18, fillet: 0")
    parts = outside_parts(corner_of(job), fillet=0, turn_down=64, lap=96, ear=40)  # type: ignore[arg-type]
    assert area_on(parts, "ledge") == pytest.approx(60 + 36 + 60)
    assert area_on(parts, "footing face") == pytest.approx(16 * 4 + 12 * 4 + 10)


@pytest.mark.parametrize("turn", [60, 90, 120])
def test_inside_cover(turn: float) -> None:
    """6 in on both faces, 4 down, tabs of 6 x 5 1/4 on the ledges (as wide as they are past the fillet)."""
    cover, = [piece for piece in reinforced(corner_job("inside", turn=turn)) if piece.kind == "inside cover"]
    assert area_laid(cover) == pytest.approx({"footing face": 2 * 6 * 4, "ledge": 2 * 6 * 5.25}, rel=1e-4)


def area_laid(cover: Piece) -> dict[str, float]:
    """Return how much of a cover lies on each kind of surface [sq in]."""
    found: dict[str, float] = {}
    for laid in cover.laid:
        found[laid.on] = found.get(laid.on, 0.0) + Polygon(laid.outline).area / INCH ** 2
    return found


def test_inside_cover_is_slit_between_its_tabs() -> None:
    cover, = [piece for piece in reinforced(corner_job("inside")) if piece.kind == "inside cover"]
    assert (cover.width, cover.length) == (12 * INCH, 9.25 * INCH)
    assert [(slit.start, slit.end) for slit in cover.slits] == [((96, 148), (96, 64))]


def reinforced(job: Job) -> list[Piece]:
    return list(reinforce(job, develop(job), (), ())[0])


def test_riser_cover_covers_the_riser_and_its_laps() -> None:
    """16 in riser, 6 in ledge, fillet 0: riser 96, ledges 36 each, wall 6 x 22, around the edge 6 x 16 sq in."""
    job = job_of(face("South", footing="[[0, 0], [90, 0], [90, -16], [240, -16]]"),
                 rules="turn_down: 4, base_strip: 18, fillet: 0")
    cover = next(piece for piece in reinforced(job) if piece.kind == "riser cover")
    assert area_laid(cover) == pytest.approx({"riser": 96, "wall": 6 * 22, "ledge": 72, "footing face": 96})


def corners_in_space(piece: Piece, surface: str) -> set[tuple[float, float, float]]:
    """Return the corners of a cover's parts on a surface, in inches."""
    return {tuple(round(value / INCH, 3) + 0.0 for value in Motion(laid.origin, laid.along, laid.up).place(spot))
            for laid in piece.laid if laid.on == surface for spot in laid.outline}  # type: ignore[misc]


SLOPE = "[[0, 0], [90, 0], [240, -15]]"
"""Level, then 1 in 10 down to the right."""


def test_slope_cover_lies_on_both_ledges_and_their_face() -> None:
    """6 in to either side: on the ledge from the fillet's foot to its edge, on the face 4 in deep plumb."""
    job = job_of(face("South", footing=SLOPE))
    cover, = [piece for piece in reinforced(job) if piece.kind == "slope cover"]
    ledge = {(84, -0.75, 0), (84, -6, 0), (90, -0.75, 0), (90, -6, 0), (96, -0.75, -0.6), (96, -6, -0.6)}
    assert corners_in_space(cover, "ledge") == ledge
    top = {(84, -6, 0), (90, -6, 0), (96, -6, -0.6)}
    foot = {(84, -6, -4), (90, -6, -4), (96, -6, -4.6)}
    assert corners_in_space(cover, "footing face") == top | foot


def test_no_slope_cover_where_the_sheet_takes_the_slope_up() -> None:
    """1 in 100: over ledge and face together the sheet comes 1/10 in apart, under 1/8."""
    job = job_of(face("South", footing="[[0, 0], [90, 0], [240, -1.5]]"))
    assert not [piece for piece in reinforced(job) if piece.kind == "slope cover"]
    slits = [slit for piece in planned(job).pieces for slit in piece.slits]
    assert not slits


def test_footing_cover_follows_a_ledge_that_slopes() -> None:
    """1 in 10 down from the corner to the left: the lap's far end lies 0.6 in lower, and so does its face."""
    job = job_of(face("South", footing="[[0, -24], [240, 0]]", more=", corner: outside") + face("East"))
    cover, = [piece for piece in reinforced(job) if piece.kind == "footing cover"]
    assert {(234, -0.75, -0.6), (234, -6, -0.6)} <= corners_in_space(cover, "ledge")
    assert {(234, -6, -0.6), (240, -6, 0), (246, -6, 0), (234, -6, -4.6)} <= corners_in_space(cover, "footing face")


def test_inside_cover_follows_a_ledge_that_slopes() -> None:
    """1 in 10 up to the corner: 6 in from it, where the edges meet, the left ledge is 0.6 in lower; at 12 in 1.2 in."""
    job = job_of(face("South", footing="[[0, -24], [240, 0]]", more=", corner: inside") + face("East"))
    cover, = [piece for piece in reinforced(job) if piece.kind == "inside cover"]
    assert {(234, -6, -0.6), (228, -6, -1.2), (234, -6, -4.6), (228, -6, -5.2)} <= corners_in_space(
        cover, "footing face")
    assert {(234, -6, 0), (234, -12, 0), (234, -12, -4)} <= corners_in_space(cover, "footing face")


def test_inside_cover_beside_a_wall_without_a_ledge_goes_down_to_the_foot_of_the_edge() -> None:
    """1 in 10 down to the corner: the wall's own sheet ends at -3.4 in, the flap on the next face at -4 in."""
    job = job_of(face("South", ledge="0", footing="[[0, 24], [240, 0]]", more=", corner: inside") + face("East"))
    cover, = [piece for piece in reinforced(job) if piece.kind == "inside cover"]
    assert {(234, 0, 0.6), (228, 0, 1.2), (234, 0, -4), (228, 0, -4)} <= corners_in_space(cover, "footing face")
    assert {(234, 0, 0), (234, -6, 0), (234, -6, -4)} <= corners_in_space(cover, "footing face")


def test_slope_that_ends_at_a_corner_makes_no_step() -> None:
    """107/16 in over 6,563/16: in floating point the slope's end is off its own level by the last bit."""
    job = job_of(face("South", length="6563/16", footing="[[0, 0], [6563/16, -107/16]]", more=", corner: outside")
                 + face("East", footing="-107/16"))
    assert not [piece for piece in reinforced(job) if piece.kind == "riser cover"]


# --- dabs --------------------------------------------------------------------------------------

def dab_points(plan: Plan) -> set[tuple[str, float, float, float]]:
    return {(dab.kind, *(round(value / INCH, 3) + 0.0 for value in dab.point)) for dab in plan.dabs}


def test_dabs_of_an_outside_corner() -> None:
    """The wall's corner 3/4 up, with angles of 90 + 90 + 270, and the footing's arris, where the cover is slit."""
    plan = planned(corner_job("outside"))
    assert dab_points(plan) == {("wall corner", 240, 0, 0.75), ("footing corner", 246, -6, 0)}
    assert all(dab.size >= 2 * plan.job.rules.side_lap for dab in plan.dabs)


def test_dabs_of_an_inside_corner() -> None:
    plan = planned(corner_job("inside"))
    assert dab_points(plan) == {("wall corner", 240, 0, 0.75), ("footing corner", 234, -6, 0)}


def test_dabs_of_a_step() -> None:
    """At the wall and at the ledge's edge, at the riser's head and at its foot."""
    plan = planned(job_of(face("South", footing="[[0, 0], [90, 0], [90, -16], [240, -16]]")))
    assert dab_points(plan) == {
        ("step at the wall", 90, 0, 0.75), ("step at the ledge's edge", 90, -6, 0),
        ("foot of the step at the wall", 90, 0, -15.25), ("foot of the step", 90, -6, -16)}


def test_flush_corner_has_no_dab() -> None:
    assert not planned(corner_job("outside", left="0", right="0")).dabs


def test_pieces_go_on_in_one_order() -> None:
    """Strips, covers, then drops; the lower piece of an end-lapped drop before the upper."""
    plan = planned(job_of(face("South", more=", corner: outside") + face("East"),
                          rules="turn_down: 4, base_strip: 18, max_piece: 80"))
    order = {piece.tag: piece.order for piece in plan.pieces}
    assert sorted(order.values()) == list(range(1, len(order) + 1))
    first_drop = min(piece.order for piece in plan.pieces if piece.kind == "drop")
    assert all(piece.order < first_drop for piece in plan.pieces if piece.kind != "drop")
    for drop in plan.drops:
        assert len(drop.pieces) == 2
        assert order[drop.pieces[1]] < order[drop.pieces[0]]


# --- more of the worked values -----------------------------------------------------------------

@pytest.mark.parametrize("height", [16, 8])
@pytest.mark.parametrize("falls", [1, -1])
def test_step_at_an_outside_corner_is_slit_from_the_higher_footing(height: int, falls: int) -> None:
    """From 3/4 in above the higher footing to the higher flap's end, whichever side of the corner that lies on."""
    footing = ("0", f"-{height}") if falls > 0 else (f"-{height}", "0")
    wall = wall_of(corner_job("outside", footing=footing))
    left, right = (TOE, TOE - height) if falls > 0 else (TOE - height, TOE)
    assert slits_over(wall, over(240, left=left, right=right)) == [(240, 0.75, 240, TOE)]


def test_step_without_a_fillet() -> None:
    """Fillet 0: toe 10, the slit from the joint to 10 in below it."""
    wall = wall_of(job_of(face("South", footing="[[0, 0], [90, 0], [90, -16], [240, -16]]"),
                          rules="turn_down: 4, base_strip: 18, fillet: 0"))
    assert slits_over(wall, over(90, left=-10, right=-26)) == [(90, 0, 90, -10)]


def test_inside_corner_without_a_fillet() -> None:
    """Fillet 0: the corner from 0 to -10, the tails from the ledge's edge at -6."""
    wall = wall_of(corner_job("inside", rules="turn_down: 4, base_strip: 18, fillet: 0"))
    assert slits_over(wall, over(240, left=-10, right=-10)) == [
        (234, -6, 234, -10), (240, 0, 240, -10), (246, -6, 246, -10)]


def test_metric_step_and_outside_corner() -> None:
    """p = 150, t = 100, f = 19 mm: toe 239; both slits from 19 above the joint to 239 below it."""
    rules = "turn_down: 100, base_strip: 450"
    step = job_of("      - {name: South, length: 6000, top: 2400, ledge: 150, footing_depth: 600, "
                  "footing: [[0, 0], [2000, 0], [2000, -400], [6000, -400]]}\n", rules=rules, units="mm", width="914")
    ring = ((1600, 2400), (2400, 2400), (2400, -639), (2000, -639), (2000, -239), (1600, -239))
    assert [(s.start, s.end) for s in flat_slits(wall_of(step), ring, (), upward=False)] == [
        ((2000, 19), (2000, -239))]
    corner = job_of("      - {name: South, length: 6000, top: 2400, ledge: 150, corner: outside}\n"
                    "      - {name: East, length: 6000, top: 2400, ledge: 150}\n",
                    rules=rules, units="mm", width="914")
    ring = ((5600, 2400), (6400, 2400), (6400, -239), (5600, -239))
    assert [(s.start, s.end) for s in flat_slits(wall_of(corner), ring, (), upward=False)] == [
        ((6000, 19), (6000, -239))]


@pytest.mark.parametrize(("turn", "left", "right"), [
    (60, 8.0829, 1.1547), (90, 10, 6), (120, 15.0111, 12.7017)])
def test_inside_corner_of_unequal_ledges_at_other_turns(turn: float, left: float, right: float) -> None:
    """Ledges p = 6 and q = 10: the edges meet (q - p cos t) / sin t back from the corner, (p - q cos t) / sin t on."""
    wall = wall_of(corner_job("inside", right="10", turn=turn))
    found = slits_over(wall, [(208, 96), (272, 96), (272, -13.5625), (240, -13.5625), (240, TOE), (208, TOE)])
    assert [x - 240 for x, *_ in found] == [-round(left * 16) / 16, 0, round(right * 16) / 16]


def test_lower_piece_of_a_drop_has_the_first_number_in_print() -> None:
    """Every drop here is in two pieces, a over b: drop 3 goes on as 3.1, its b, and then 3.2, its a."""
    plan = planned(job_of(face("South"), rules="turn_down: 4, base_strip: 18, max_piece: 80"))
    printed = hung_as(plan)
    assert all(len(drop.pieces) == 2 for drop in plan.drops)
    for drop in plan.drops:
        assert [printed[tag] for tag in drop.pieces] == [f"{drop.install}.2", f"{drop.install}.1"]
    order = {piece.tag: piece.order for piece in plan.pieces}
    by_number = sorted(printed, key=lambda tag: [int(part) for part in printed[tag].split(".")])
    assert by_number == sorted(printed, key=lambda tag: order[tag])
