"""Strips, collars and covers: where they lie, what they are cut from, and what is said when they do not fit."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from helpers.random_jobs import random_job
from helpers.thinned import thinned
from layout.concrete import concrete_of
from layout.faces import develop
from layout.job import read_job_text
from layout.pieces import reinforce
from layout.pieces.blanks import letters, longest, plain_tag, lapping_shares
from layout.pieces.covers import outside_parts
from layout.pieces.strips import bed, stock_lengths
from layout.records import FaceSpan, Job, Piece, RuleException, Wall
from layout.shapes import corners, must_cover, footing_turn, open_area, repeated

INCH = 16


def job_of(faces: str, *, closed: bool = False, rules: str = "", more: str = "") -> Job:
    """Read a job of one run."""
    return read_job_text(f"""
job: {{name: Strips}}
sheet: {{width: 36, rolls: [{{length: 66'-8"}}]}}
rules: {{{rules}}}
{more}
runs:
  - name: A
    closed: {str(closed).lower()}
    faces:
{faces}
""", "strips.yaml")


def face(name: str, *, length: str = "20'-0\"", more: str = "", ledge: str = "4") -> str:
    return f"      - {{name: {name}, length: {length}, top: 8'-0\", footing: 0, ledge: {ledge}{more}}}\n"


def sleeves(*each: tuple[str, int, int, int]) -> str:
    listed = [f"{{tag: {tag}, at: {at}, elevation: {y}, diameter: {size}}}" for tag, at, y, size in each]
    return f", sleeves: [{', '.join(listed)}]"


def reinforced(job: Job) -> tuple[list[Piece], list[RuleException], Wall]:
    walls = develop(job)
    pieces, broken = reinforce(job, walls, (), ())
    return list(pieces), list(broken), walls[0]


def of_kind(pieces: list[Piece], kind: str) -> list[Piece]:
    return [piece for piece in pieces if piece.kind == kind]


def inches(ring: tuple[tuple[int, int], ...]) -> list[tuple[float, float]]:
    return [(x / INCH, y / INCH) for x, y in ring]


# --- corner strips -----------------------------------------------------------------------------

def test_corner_strip_is_centred_and_slit_from_the_joint_down() -> None:
    pieces, _, _ = reinforced(job_of(face("South") + face("East"), rules="fillet: 0, turn_down: 4"))
    strip, = of_kind(pieces, "corner strip")
    # the corner is at 240 in: 6 in each side; 96 in up, 4 + 4 in down
    assert inches(strip.outline) == [(234, 96), (246, 96), (246, -8), (234, -8)]
    assert [(inches((s.start,))[0], inches((s.end,))[0]) for s in strip.slits] == [((240, 0), (240, -8))]
    assert (strip.tag, strip.product, strip.length, strip.width) == ("A-CS1", "strip", 104 * INCH, 12 * INCH)


def test_corner_at_the_end_of_a_closed_run_goes_on_past_its_length() -> None:
    four = "".join(face(name) for name in ("South", "East", "North", "West"))
    pieces, _, wall = reinforced(job_of(four, closed=True))
    last = of_kind(pieces, "corner strip")[-1]
    assert [min(x for x, _ in last.outline), max(x for x, _ in last.outline)] == [
        wall.length - 6 * INCH, wall.length + 6 * INCH]


def test_long_corner_strip_is_end_lapped() -> None:
    job = job_of(face("South") + face("East"), rules="max_piece: 5'-0\"")
    pieces, _, _ = reinforced(job)
    strips = of_kind(pieces, "corner strip")
    assert [strip.tag for strip in strips] == ["A-CS1a", "A-CS1b"]
    upper, lower = strips
    assert min(y for _, y in upper.outline) + job.rules.end_lap == max(y for _, y in lower.outline)
    assert not upper.slits and lower.slits


def test_strips_ripped_from_sheet() -> None:
    job = job_of(face("South") + face("East"), rules="corner_strip: 16", more="strip: {from: sheet}")
    pieces, _, _ = reinforced(job)
    assert {piece.product for piece in pieces} == {"membrane"}
    assert of_kind(pieces, "corner strip")[0].width == 16 * INCH


# --- base strips -------------------------------------------------------------------------------

@pytest.mark.parametrize(("ledge", "width", "fits"), [
    # 12 in strip, 4 in up and down, square joint: 4 in of ledge fits, 4 1/16 does not
    (4 * 16, 12 * 16, True), (4 * 16 + 1, 12 * 16, False),
    (6 * 16, 14 * 16, True), (6 * 16, 14 * 16 - 1, False),
])
def test_base_strip_up_across_and_down(ledge: int, width: int, fits: bool) -> None:
    rules = job_of(face("South"), rules="fillet: 0").rules
    span = FaceSpan("South", 0, 3840, "none", 90.0, ledge, ledge + 64, 192)
    laid = bed(rules, span, width=width, turn_down=64)
    assert (laid.down >= rules.base_strip_up) == fits
    assert laid.up >= rules.base_strip_up
    assert laid.up + ledge + laid.down == width


def test_base_strip_saved_by_a_fillet() -> None:
    # 4 + 6 - (2 - sqrt 2) 3/4 + 4 = 13.5607, so 13 9/16
    rules = job_of(face("South"), rules="fillet: 3/4").rules
    laid = bed(rules, FaceSpan("South", 0, 3840, "none", 90.0, 96, 160, 192), width=192, turn_down=64)
    assert laid.needed == math.ceil((14 - (2 - math.sqrt(2)) * 0.75) * 16) == 217


def test_narrow_base_strip_is_an_exception_with_its_cures() -> None:
    job = job_of(face("South", ledge="6") + face("East", ledge="6"), rules="fillet: 0, base_strip: 12")
    _, broken, _ = reinforced(job)
    only, = broken
    assert (only.rule, only.needed, only.found) == ("base_strip", 14 * INCH, 12 * INCH)
    assert "South and East" in only.why and "goes 2\" down the face" in only.why
    assert only.cure == ("order a strip 14\" wide or more, lay two strips lapped 2 1/2\" (21 1/2\" in all), "
                         "or rip it from sheet (2 of 14\" from its width)")


def test_a_strip_above_a_low_wall_is_left_out() -> None:
    """A strip 1 in wide that ends 4 in up the wall begins 3 in up, which is as high as the wall is anywhere."""
    pieces, _, _ = reinforced(job_of("""\
      - {name: South, length: 40, ledge: 24, top: [[0, 2], [26, 2], [26, 3], [34, 3], [34, 2], [40, 2]]}
""", rules="base_strip: 1, base_strip_up: 4"))
    assert of_kind(pieces, "base strip") == []


def test_base_strips_come_in_stock_lengths_with_laps() -> None:
    job = job_of(face("South", length="40'-0\""), rules="corner_strip: 0, roll_end: 0")
    pieces, _, _ = reinforced(job)
    strips = of_kind(pieces, "base strip")
    # five 10'-0" lengths from a 50 ft roll; 480 in: 120, then 115 gained by each
    spans = [(min(x for x, _ in s.outline) / INCH, max(x for x, _ in s.outline) / INCH) for s in strips]
    assert spans == [(0, 120), (115, 235), (230, 350), (345, 465), (460, 480)]
    assert [s.length / INCH for s in strips] == [120, 120, 120, 120, 20]


def test_base_strips_stop_at_corners_and_steps() -> None:
    step = ", footing_depth: 12"
    job = job_of(
        f"      - {{name: South, length: 20'-0\", top: 8'-0\", footing: [[0, 0], [90, 0], [90, -16], [240, -16]], "
        f"ledge: 4{step}}}\n" + f"      - {{name: East, length: 100, top: 8'-0\", footing: -16, ledge: 4{step}}}\n",
        rules="roll_end: 0")
    pieces, _, _ = reinforced(job)
    ends = [(min(x for x, _ in s.outline) / INCH, max(x for x, _ in s.outline) / INCH)
            for s in of_kind(pieces, "base strip")]
    assert ends == [(0, 90), (90, 210), (205, 240), (240, 340)]


def test_base_strip_along_a_slope_lies_in_its_own_frame() -> None:
    """12 in wide, 71/16 above a joint that falls 1 in 10: its upper end is plumb, 1.2 in askew over its width.

    At the lower end the ledge, from 116 to 64 up the strip, ends square at sqrt(1600^2 + 160^2) = 1607.98 along the
    joint, 7.1 less and so 7 farther from the strip's own left end: 1614.98. Plumb above it, at the first fold (133) and
    the top (192): 1614.98 - 1.19 and - 7.1. Plumb below its edge, at the foot: 1614.98 + 6.4. All to the tick within.
    """
    job = job_of("      - {name: South, length: 100, top: 96, footing: [[0, 0], [100, -10]], ledge: 4}\n")
    strip, = of_kind(reinforced(job)[0], "base strip")
    assert not strip.flat
    assert strip.length == 1624  # 1621 up to the next quarter inch
    assert strip.outline == ((0, 192), (1607, 192), (1613, 133), (1614, 116), (1614, 64), (1621, 0), (20, 0))


def test_straight_joint_between_faces_is_one_stretch() -> None:
    job = job_of(face("South", length="60", more=", corner: none") + face("South again", length="60"),
                 rules="roll_end: 0")
    assert len(of_kind(reinforced(job)[0], "base strip")) == 1


@pytest.mark.parametrize(("start", "end"), [(0, 100), (0, 101), (0, 105), (0, 119), (0, 1000), (50, 337)])
def test_stock_lengths_cover_and_lap(start: int, end: int) -> None:
    parts = stock_lengths(start, end, most=100, lap=10)
    assert parts[0][0] == start and parts[-1][1] == end
    assert all(right - left <= 100 for left, right in parts)
    assert all(a[1] - b[0] == 10 for a, b in zip(parts, parts[1:]))
    assert all(right - left >= 20 for left, right in parts[1:])


def test_shares_are_the_fewest_lapping_parts() -> None:
    for length in range(1, 400):
        parts = lapping_shares(0, length, most=100, lap=10)
        assert parts[0][0] == 0 and parts[-1][1] == length
        assert all(right - left <= 100 for left, right in parts)
        assert all(a[1] - b[0] == 10 for a, b in zip(parts, parts[1:]))
        assert len(parts) == max(1, math.ceil((length - 10) / 90))


# --- collars and what is asked for -------------------------------------------------------------

def test_collar_is_square_with_a_round_hole() -> None:
    job = job_of(face("South", more=sleeves(("P 1", 100, 48, 4))))
    collar, = of_kind(reinforced(job)[0], "collar")
    assert collar.tag == "A-CL-P-1"
    assert inches(collar.outline) == [(92, 56), (108, 56), (108, 40), (92, 40)]
    assert len(collar.holes) == 1 and collar.sleeves == (("P 1", 1600, 768, 64),)
    assert collar.turnable and collar.flat and collar.product == "membrane"


def test_neighbouring_sleeves_pierce_each_others_collars() -> None:
    pieces, _, _ = reinforced(job_of(face("South", more=sleeves(("P1", 100, 48, 4), ("P2", 105, 48, 4)))))
    assert [len(collar.holes) for collar in of_kind(pieces, "collar")] == [2, 2]


def test_collar_wider_than_the_sheet_comes_in_lapping_parts() -> None:
    pieces, _, _ = reinforced(job_of(face("South", more=sleeves(("P1", 100, 48, 30)))))
    parts = of_kind(pieces, "collar")
    assert [part.tag for part in parts] == ["A-CL-P1a", "A-CL-P1b"]
    assert max(x for x, _ in parts[0].outline) - min(x for x, _ in parts[1].outline) == 40
    assert all(part.width <= 36 * INCH for part in parts)


def test_the_far_parts_of_a_vast_collar_go_with_the_wall_they_lie_on() -> None:
    """A collar 10 ft past a sleeve 4 ft from the end of its wall: 2 ft past the end is within a sheet, 5 ft is not."""
    job = job_of("""\
      - {name: South, length: 8', top: 12', corner: none,
         sleeves: [{tag: P, at: 4', elevation: 6', diameter: 4}]}
      - {name: North, length: 20', top: 12'}
""", rules="collar_reach: 120")
    wall, = develop(job)
    parts = [piece for piece in reinforce(job, [wall], (), ())[0] if piece.kind == "collar"]
    edges = {piece.tag: min(x for x, _ in piece.outline) - 96 * INCH for piece in parts}
    assert {piece.face for piece in parts} == {"South", "North"}
    assert all((piece.face == "North") == (edges[piece.tag] > 36 * INCH) for piece in parts)


def test_collar_is_trimmed_at_the_top() -> None:
    pieces, _, _ = reinforced(job_of(face("South", more=sleeves(("P1", 100, 92, 4)))))
    collar, = of_kind(pieces, "collar")
    assert max(y for _, y in collar.outline) == 96 * INCH


def test_top_strips_and_opening_corners_only_where_asked() -> None:
    window = ", openings: [{tag: W1, kind: window, left: 60, sill: 48, width: 36, height: 24}]"
    plain_job = job_of(face("South", more=window))
    unasked, _, _ = reinforced(plain_job)
    assert not of_kind(unasked, "top strip") and not of_kind(unasked, "opening corner")
    asked, _, _ = reinforced(job_of(face("South", more=window), more="top_strip: 6\nopening_corner: 12"))
    assert sum(s.length for s in of_kind(asked, "top strip")) / INCH == 240 + 2 * 5
    pieces = of_kind(asked, "opening corner")
    assert [p.tag for p in pieces] == [f"A-OC-W1-{n}" for n in (1, 2, 3, 4)]
    # a 12 in square less the quarter that is the opening
    assert [Polygon(p.outline).area / INCH ** 2 for p in pieces] == [108] * 4


# --- covers ------------------------------------------------------------------------------------

@pytest.mark.parametrize("turn", [15, 30, 45, 60, 72, 90, 100, 120, 135, 150])
@pytest.mark.parametrize("ledges", [(96, 96), (96, 64), (64, 96)])
def test_open_area_is_what_two_straight_strips_leave(turn: float, ledges: tuple[int, int]) -> None:
    """The ledge's share, against half planes cut by shapely: footing less building less the two straight strips."""
    left, right = ledges
    corner = footing_turn(left=left, right=right, turn=turn)
    if not (corner.left > 0 and corner.right > 0):
        assert left != right and turn < 60  # one ledge ends before the other's corner: nothing of it goes on
        return
    t, far = math.radians(turn), 5000.0

    def strip(angle: float, low: float, high: float, start: float, end: float) -> Polygon:
        """Points between two distances out from a wall through the origin and two stations along it."""
        u, n = (math.cos(angle), math.sin(angle)), (math.sin(angle), -math.cos(angle))
        return Polygon([(u[0] * s + n[0] * o, u[1] * s + n[1] * o)
                        for s, o in ((start, low), (end, low), (end, high), (start, high))])

    footing = strip(0, -far, left, -far, far).intersection(strip(t, -far, right, -far, far))
    building = strip(0, -far, 0, -far, far).intersection(strip(t, -far, 0, -far, far))
    bare = footing.difference(building).difference(strip(0, 0, left, -far, 0)).difference(strip(t, 0, right, 0, far))
    near = bare.intersection(box(-2000, -2000, 2000, 2000))
    assert near.area == pytest.approx(open_area(left=left, right=right, turn_down=0, turn=turn), rel=1e-9)


@pytest.mark.parametrize("turn", [30, 45, 60, 90, 120])
def test_open_area_formula_with_equal_ledges(turn: float) -> None:
    half = math.tan(math.radians(turn) / 2)
    assert open_area(left=96, right=96, turn_down=64, turn=turn) == pytest.approx(96 * 96 * half + 2 * 96 * 64 * half)


@pytest.mark.parametrize("turn", [30, 45, 60, 72, 90, 100, 120])
def test_footing_cover_holds_open_area_and_laps(turn: float) -> None:
    """Without a fillet: the open area, a lap on to both ledges and faces, and an ear of at most lap by turn-down."""
    lap, ear, d, p = 96, 40, 64, 96
    job = job_of(face("South", more=f", angle: {turn}", ledge="6") + face("East", ledge="6"),
                 rules="fillet: 0, turn_down: 4, base_strip: 18")
    corner, = concrete_of(develop(job)[0]).corners()
    parts = outside_parts(corner, fillet=0, turn_down=d, lap=lap, ear=ear)
    needed = open_area(left=p, right=p, turn_down=d, turn=turn) + 2 * lap * (p + d)
    ears = [part.shape.area for part in parts if part.shape.area <= ear * d + 1e-6]
    assert sum(part.shape.area for part in parts) == pytest.approx(needed + ears[-1])
    assert 0 < ears[-1] <= ear * d + 1e-6
    assert (turn < 90) == (ears[-1] < ear * d - 1e-6)


def test_footing_covers_only_at_outside_corners_with_a_ledge() -> None:
    job = job_of(face("South", more=", corner: outside") + face("East", more=", corner: inside") + face("North"))
    assert [p.tag for p in of_kind(reinforced(job)[0], "footing cover")] == ["A-FC1"]
    bare = job_of(face("South", ledge="0") + face("East", ledge="0"))
    assert not of_kind(reinforced(bare)[0], "footing cover")


def test_footing_cover_of_one_ledge_and_no_flaps_is_its_lap() -> None:
    job = job_of(face("South", ledge="0", more=", corner: outside") + face("East"), rules="turn_down: 0, fillet: 0")
    cover, = of_kind(reinforced(job)[0], "footing cover")
    assert sorted((cover.width / INCH, cover.length / INCH)) == [4, 6]


def test_riser_cover() -> None:
    job = job_of("      - {name: South, length: 240, top: 96, footing: [[0, 0], [90, 0], [90, -16], [240, -16]], "
                 "ledge: 6, footing_depth: 18}\n", rules="turn_down: 4, base_strip: 18")
    riser, foot = of_kind(reinforced(job)[0], "riser cover")
    # a 6 in lap on the wall, the 6 in ledge, a 6 in lap around the edge; 6 in laps above and below a 16 in riser
    assert (riser.width / INCH, riser.length / INCH) == (18, 28)
    # 6 in each way along the footing's face; 4 in down it and 6 in up the higher one's
    assert (foot.width / INCH, foot.length / INCH) == (12, 10)
    assert [piece.tag for piece in (riser, foot)] == ["A-RC1", "A-RC1-2"]


# --- every wall --------------------------------------------------------------------------------

@pytest.mark.parametrize("seed", thinned(range(40)))
def test_any_job(seed: int) -> None:
    """Tags differ, shapes are whole, pieces fit their product, corners and joints are reinforced."""
    job = read_job_text(random_job(seed), "random")
    walls = develop(job)
    pieces = reinforce(job, walls, (), ())[0]
    assert len({piece.tag for piece in pieces}) == len(pieces)
    for piece in pieces:
        shape = Polygon(piece.outline, piece.holes)
        assert shape.is_valid and shape.area > 0, piece.tag
        product = job.sheet if piece.product == "membrane" else job.strip
        most = longest(product, job.rules) + job.rules.cut_allowance + job.rules.cut_to
        sides = sorted((piece.length, piece.width)) if piece.turnable else [piece.width, piece.length]
        assert sides[0] <= product.width and sides[1] <= most, piece.tag
        assert piece.face in {span.name for wall in walls for span in wall.faces if wall.run == piece.run}
    for wall in walls:
        _assert_corners(job, wall, list(pieces))


def _assert_corners(job: Job, wall: Wall, pieces: list[Piece]) -> None:
    width = job.rules.corner_strip
    sheets = [Polygon(p.outline, p.holes) for p in pieces if p.run == wall.run and p.kind == "corner strip"]
    shifts = (-wall.length, 0, wall.length) if wall.closed else (0,)
    laid = unary_union([affinity.translate(sheet, shift) for sheet in sheets for shift in shifts])
    for span in corners(wall) if width else ():
        left = span.right - width // 2 + (wall.length if wall.closed and span.right < width // 2 else 0)
        stretch = repeated(wall)
        needed = must_cover(stretch, max(left, 0), min(left + width, stretch.length))
        assert needed.difference(laid).area < 1e-6, (wall.run, span.name)


@pytest.mark.parametrize("seed", thinned(range(20)))
def test_no_rule_no_pieces(seed: int) -> None:
    """A rule of 0 takes its pieces away and no others."""
    job = read_job_text(random_job(seed), "random")
    walls = develop(job)
    whole = reinforce(job, walls, (), ())[0]
    name, kind = random.Random(seed).choice(
        [("corner_strip", "corner strip"), ("base_strip", "base strip"), ("collar_reach", "collar")])
    less = reinforce(replace(job, rules=replace(job.rules, **{name: 0})), walls, (), ())[0]
    assert less == tuple(piece for piece in whole if piece.kind != kind)


def test_tags_are_made_plain_and_kept_apart() -> None:
    assert plain_tag("P 1/b") == "P-1-b" and plain_tag("///") == "X"
    assert letters(1) == [""] and letters(3) == ["a", "b", "c"]
    pieces, _, _ = reinforced(job_of(face("South", more=sleeves(("P 1", 60, 48, 4), ("P-1", 140, 48, 4)))))
    assert [piece.tag for piece in of_kind(pieces, "collar")] == ["A-CL-P-1", "A-CL-P-1.2"]
