"""Horizontal courses: worked by hand, held against brute force, and what holds for every wall."""

from __future__ import annotations

import csv
import io
import json
import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

import cli
from helpers.drawn_walls import RULES, SIDE_LAP, WIDTH, walls
from helpers.random_jobs import random_job
from helpers.thinned import thinned
from layout import processes
from layout.coursed import Coursed, lay_job, piece_lengths
from layout.courses import Coursing, lay_courses
from layout.courses.broken import too_near_ends
from layout.courses.columns import Columns
from layout.courses.end_laps import MORE, Near, Pieces, laps_along, laps_around
from layout.courses.levels import MOST_ABREAST, SHARES, Strip, choose_levels
from layout.courses.things import CourseKeep, keeps_at, things_of
from layout.faces import develop
from layout.job import read_job_text
from layout.pieces import course_pieces
from layout.records import Hole, Piece, Profile, Rules, SeamClearance, SleeveHole, Wall
from layout.scenarios import read_scenarios
from layout.shapes import must_cover, repeated
from layout.units import INCH

IN = 16


def never() -> bool:
    """Go on to the end."""
    return False


def job_text(face: dict[str, object], *, closed: bool = False, rolls: Sequence[dict[str, object]] = (),
             **rules: object) -> str:
    """Return a job of one face, or of that face four times around."""
    count = 4 if closed else 1
    return json.dumps({
        "job": {"name": "Wall"}, "sheet": {"width": 36, "rolls": [*rolls] or [{"length": 800, "price": 205}]},
        "rules": {"turn_down": 4, "corner_strip": 0, "base_strip": 0, "cut_to": "1/16", "roll_end": 0, "courses": True,
                  **rules},
        "runs": [{"name": "A", "closed": closed, "faces": [{**face, "name": f"F{i}"} for i in range(count)]}],
    })


def laid(text: str) -> Coursed:
    """Return a job in courses."""
    return lay_job(read_job_text(text, "wall"), stop=never)


def sizes(coursed: Coursed) -> list[tuple[float, float]]:
    """Return length and width of each piece [in]."""
    return [(piece.length / IN, piece.width / IN) for piece in coursed.plan.pieces if piece.kind == "course"]


# --- worked by hand ----------------------------------------------------------------------------

def test_a_plain_wall_of_30_ft_by_8_ft() -> None:
    """A wall 360 in long and 96 in high, turned down 4 in: 100 in to cover; sheet of 36 in, laps of 2 1/2 and 5 in.

    Courses: 36 + 33 1/2 + 33 1/2 = 103 >= 100, so three; two would reach 69 1/2. Each is as wide as the sheet: the
    third goes 3 in further under the second's edge than it must, 36 + 36 + 36 - 2 1/2 - 5 1/2 = 100.
    Pieces: of at most 144 in, 144 + 139 + 139 = 422 >= 360, so three a course; two would reach 283. A course takes
    360 + 2 x 5 = 370 in of sheet, all three 1110 in: two rolls of 800 in. 12 in of stagger leave the end laps of the
    second course at 127 and 266 in, those of the first and the third at 139 and 278.
    Seams: 2 x 360 in between courses, and 6 end laps of 36 in: 936 in, 78 ft.
    """
    coursed = laid(job_text({"length": 360, "top": 96}))
    assert coursed.courses == 3
    assert [length for length, _ in sizes(coursed)] == [144, 144, 82, 132, 144, 94, 144, 144, 82]
    assert {width for _, width in sizes(coursed)} == {36}
    assert [(piece.outline[0], piece.outline[2]) for piece in coursed.plan.pieces[3:4]] == [
        ((0, int(65.5 * IN)), (132 * IN, int(29.5 * IN)))]  # 32 - 2 1/2 and 36 more
    assert coursed.seam_length == 936 * IN
    assert len(coursed.plan.cuttings[0].rolls) == 2 and coursed.plan.exceptions == ()
    assert coursed.plan.cost_bound is None and not coursed.plan.optimal


def test_the_fourth_course_is_ripped_three_abreast() -> None:
    """8'-0" of wall, a 6 in ledge without a fillet and 4 in down: 106 in. Three courses reach 103 in.

    A fourth of at least 12 in is one of three ripped from the sheet's width. The other three stay whole: one of them
    laps more, for 36 x 3 + 12 - 3 x 2 1/2 = 112 1/2.
    """
    coursed = laid(job_text({"length": 360, "top": 96, "ledge": 6}, fillet=0))
    assert coursed.courses == 4
    assert sorted({width for _, width in sizes(coursed)}) == [12, 36]
    assert len(coursed.plan.cuttings[0].rolls) == 2  # 3 x 370 + 370 / 3 = 1234 in of 1600


def test_pieces_that_divide_a_roll_are_tried() -> None:
    """Six of 133 5/16 in come from a roll of 800 in; five of 144 in leave 80 in."""
    job = read_job_text(job_text({"length": 360, "top": 96}), "wall")
    assert piece_lengths(job) == (144 * IN, 800 * IN // 6)
    # two courses round a square of 4 x 128 1/3 in: 513 1/3 in are four pieces of 133 1/3 in, or 4 x 139 - 42 2/3 in
    coursed = laid(job_text({"length": 128.3125, "top": 65.5}, closed=True))
    assert coursed.courses == 2 and len(sizes(coursed)) == 8
    assert len(coursed.plan.cuttings[0].rolls) == 2


def test_courses_leave_out_what_lies_above_the_line() -> None:
    """Half of the wall is 32 in high, half 64 in: the second course covers only the higher half."""
    coursed = laid(job_text({"length": 240, "top": [[0, 32], [120, 32], [120, 64], [240, 64]]}))
    assert coursed.courses == 2
    assert [piece.outline for piece in coursed.plan.pieces][-1] == (
        (120 * IN, 64 * IN), (240 * IN, 64 * IN), (240 * IN, 28 * IN), (120 * IN, 28 * IN))


def test_a_course_stops_at_an_opening_as_high_as_itself() -> None:
    """A hatch from 20 to 90 in: the middle one of three courses, 29 1/2 to 65 1/2 in, lies on both sides of it."""
    hatch = {"tag": "H1", "kind": "hatch", "left": 100, "sill": 20, "width": 60, "height": 70}
    coursed = laid(job_text({"length": 240, "top": 96, "openings": [hatch]}))
    middle = [piece for piece in coursed.plan.pieces if piece.tag.startswith("A-H2")]
    assert len(middle) == 2
    assert [(piece.outline[0][0] / IN, piece.outline[1][0] / IN) for piece in middle] == [(0, 100), (160, 240)]


def test_where_one_course_ends_and_the_next_starts_the_upper_goes_on_over_the_lower() -> None:
    """Left of 120 in the sheet goes from -4 to 31 in, right of it from 30 to 64 in: one inch of height in common.

    A course from -4 to 32 in covers all of the left, one from 29 1/2 in all of the right. That goes 5 in to the left.
    """
    job = json.loads(job_text({"length": 120, "top": 31, "corner": "none"}))
    job["runs"][0]["faces"].append({"name": "High", "length": 120, "footing": 34, "top": 64})
    wall, = develop(read_job_text(json.dumps(job), "wall"))
    rules = replace(RULES, min_width=80)
    coursing = lay_courses(wall, rules, width=WIDTH, longest=2304)
    assert [[(left / IN, right / IN) for left, right, _, _ in course.boxes] for course in coursing.courses] == [
        [(0, 120)], [(115, 240)]]
    pieces = course_pieces(wall, [course.boxes for course in coursing.courses], rules, product="membrane")
    check_lines(wall, pieces, rules)


def test_seams_keep_clear_of_a_sleeve() -> None:
    """A 4 in sleeve at 31 in lies on the seam between two full courses, 29 1/2 to 32 in: the seam goes elsewhere."""
    sleeve = {"tag": "P1", "at": 120, "elevation": 31, "diameter": 4}
    coursed = laid(job_text({"length": 240, "top": 80, "sleeves": [sleeve]}))  # 84 in: room for the seam to be lower
    assert coursed.plan.exceptions == ()
    lowest = coursed.plan.pieces[0]
    assert max(y for _, y in lowest.outline) <= (29 - 6) * IN


def test_what_cannot_be_kept_is_listed() -> None:
    """Sleeves every 8 in up the wall leave no place for a seam 6 in from all of them."""
    sleeves = [{"tag": f"P{i}", "at": 60, "elevation": 8 + 8 * i, "diameter": 4} for i in range(11)]
    coursed = laid(job_text({"length": 240, "top": 96, "sleeves": sleeves}))
    assert {broken.rule for broken in coursed.plan.exceptions} == {"clear_of_sleeve"}
    assert all(broken.found < broken.needed == 6 * IN for broken in coursed.plan.exceptions)
    assert "seam between courses 1 and 2" in coursed.plan.exceptions[0].why


def test_no_seam_lies_on_the_ledge_or_just_above_the_joint() -> None:
    """The footing steps up 30 in: a first course of 36 in would end 2 in above the higher joint."""
    face = {"length": 480, "top": 140, "footing": [[0, 0], [240, 0], [240, 30], [480, 30]], "footing_depth": 12}
    coursed = laid(job_text(face))
    assert coursed.plan.exceptions == ()


def test_an_end_lap_in_a_short_run_says_what_it_is_too_near() -> None:
    """Corners every 60 in with 30 in clear on both sides leave an end lap of 5 in no place."""
    coursed = laid(job_text({"length": 60, "top": 30, "corner": "outside"}, closed=True, clear_of_corner=30))
    assert {broken.rule for broken in coursed.plan.exceptions} == {"clear_of_corner"}
    assert "end lap of course 1" in coursed.plan.exceptions[0].why


def test_a_closed_run_closes_on_itself() -> None:
    """40 ft around, 480 in: 480 <= 4 x 139, four pieces a course that make up 480 + 4 x 5 = 500 in."""
    coursed = laid(job_text({"length": 120, "top": 30}, closed=True))
    assert len(sizes(coursed)) == 4 and sum(length for length, _ in sizes(coursed)) == 500


# --- against brute force -----------------------------------------------------------------------

def coarse_wall(rng: random.Random) -> Wall:
    """Return a small wall on a coarse grid, level between steps, with an opening and a sleeve now and then."""
    length = rng.randint(8, 24)
    at = sorted(rng.sample(range(1, length), 2))
    bottoms, tops = [rng.randint(0, 3) for _ in range(3)], [rng.randint(9, 18) for _ in range(3)]
    stations = [0, *at, length]

    def steps(levels: Sequence[int]) -> Profile:
        return tuple((x, level) for i, level in enumerate(levels) for x in stations[i:i + 2])

    holes = []
    if rng.random() < 0.5:
        left, foot = rng.randint(1, length - 4), rng.randint(4, 6)
        holes.append(Hole("W", "window", left, left + rng.randint(1, 3), foot, foot + rng.randint(1, 2)))
    rounds = (SleeveHole("P", length // 2, rng.randint(5, 7), 2),) if rng.random() < 0.5 and not holes else ()
    return Wall(
        run="A", layer="membrane", closed=rng.random() < 0.3, length=length, turn_down=0, faces=(), top=steps(tops),
        bottom=steps(bottoms), footing=steps(bottoms), wall_top=steps(tops), grade=None, holes=tuple(holes),
        rounds=rounds, keeps=(), slopes=((0, length, "right"),),
    )


def goals_of(
    columns: Columns, things: Sequence[CourseKeep], strips: Sequence[Strip], width: int,
) -> tuple[int, int, int]:
    """Return what courses are judged by, read off the wall station by station."""
    too_near = sum(
        thing.shortfall(bottom=upper[0], top=lower[1]) for lower, upper in zip(strips, strips[1:]) for thing in things
        if columns.seam_is_there(left=thing.left, right=thing.right, bottom=upper[0], top=lower[1])
    )
    roll = 0
    for column in columns.all:
        high = min(i for i, (_, top) in enumerate(strips) if top >= column.highest)
        low = min(high, max(i for i, (bottom, _) in enumerate(strips) if bottom <= column.lowest))
        for bottom, top in strips[low:high + 1]:
            roll += (column.right - column.left) * SHARES // min(width // (top - bottom), MOST_ABREAST)
    return too_near, roll, len(strips)


def every_ladder(low: int, high: int, *, width: int, lap: int, least: int) -> Iterator[list[Strip]]:
    """Yield all courses, each lapped by just the lap, that make up a height."""
    def over(top: int) -> Iterator[list[Strip]]:
        if top == high:
            yield []
        for height in range(least, width + 1):
            if top < top - lap + height <= high:
                for rest in over(top - lap + height):
                    yield [(top - lap, top - lap + height), *rest]

    for first in range(least, min(width, high - low) + 1):
        for rest in over(low + first):
            yield [(low, low + first), *rest]


@pytest.mark.parametrize("fewest", [True, False])
@pytest.mark.parametrize("seed", thinned(range(24)))
def test_levels_are_the_best_of_all(seed: int, fewest: bool) -> None:
    rng = random.Random(seed)
    wall = coarse_wall(rng)
    width, lap, least = rng.choice(((8, 2, 4), (7, 1, 3), (9, 2, 4)))
    columns = Columns(wall)
    things = things_of(wall, replace(RULES, clear_of_sleeve=2, clear_of_opening=2, clear_of_corner=0))
    found = choose_levels(columns, things, width=width, lap=lap, least=least, fewest=fewest)
    if columns.top - columns.bottom <= width:
        assert found == ((columns.bottom, columns.top),)
        return
    ladders = every_ladder(columns.bottom, columns.top, width=width, lap=lap, least=least)
    order = (0, 2, 1) if fewest else (0, 1, 2)

    def rank(strips: Sequence[Strip]) -> tuple[int, ...]:
        goals = goals_of(columns, things, strips, width)
        return tuple(goals[i] for i in order)

    best = min(rank(ladder) for ladder in ladders)
    assert rank(found) <= best  # laid whole and lapped more, a course may take less of the one below
    assert all(top - bottom <= width for bottom, top in found)
    assert all(lower[1] - upper[0] >= lap for lower, upper in zip(found, found[1:]))


def cost(place: int, near: Iterable[Near], end_lap: int) -> int:
    """Return by how much an end lap lies too near to things."""
    return sum(max(0, thing.clear - max(thing.left - place - end_lap, place - thing.right, 0)) for thing in near)


@pytest.mark.parametrize("seed", thinned(range(40)))
def test_end_laps_are_the_best_of_all(seed: int) -> None:
    rng = random.Random(seed)
    pieces = Pieces(longest=rng.randint(7, 10), shortest=rng.choice((3, 4)), end_lap=2)
    start, length = rng.randint(0, 5), rng.randint(11, 26)
    near = [Near(x, x + rng.randint(0, 3), rng.randint(0, 2))
            for x in (rng.randint(start, start + length) for _ in range(rng.randint(0, 4)))]
    end = start + length - pieces.end_lap
    fewest = -(-(end - start) // pieces.steps[1])

    def allowed(places: Sequence[int], count: int) -> bool:
        steps = [b - a for a, b in zip((start, *places), (*places, end))]
        return len(steps) == count and all(pieces.steps[0] <= step <= pieces.steps[1] for step in steps)

    goals = {
        (sum(cost(place, near, pieces.end_lap) for place in places), count)
        for count in range(fewest, fewest + MORE + 1)
        for places in combinations(range(start + 1, end), count - 1) if allowed(places, count)
    }
    found = laps_along((start, start + length), near, pieces)
    assert (sum(cost(place, near, pieces.end_lap) for place in found), len(found) + 1) == min(goals)


def test_a_ring_starts_where_nothing_is_near() -> None:
    near = [Near(x, x, 6) for x in (0, 25, 50, 75)]
    found = laps_around(100, near, Pieces(longest=40, shortest=8, end_lap=4))
    assert all(cost(place + by, near, 4) == 0 for place in found for by in (-100, 0, 100))
    assert all(b - a <= 36 for a, b in zip(found, (*found[1:], found[0] + 100)))


# --- what holds for every wall -----------------------------------------------------------------

def spans(shape: BaseGeometry, line: LineString, axis: int) -> list[tuple[float, float]]:
    """Return where a line lies in a shape, as stretches along an axis."""
    met = shape.intersection(line)
    parts = [part for part in getattr(met, "geoms", [met]) if isinstance(part, LineString) and part.length > 1e-6]
    found = sorted((min(c[axis] for c in part.coords), max(c[axis] for c in part.coords)) for part in parts)
    joined: list[tuple[float, float]] = []
    for a, b in found:
        if joined and a <= joined[-1][1] + 1e-6:
            joined[-1] = (joined[-1][0], max(b, joined[-1][1]))
        else:
            joined.append((a, b))
    return joined


def check_lines(wall: Wall, pieces: Sequence[Piece], rules: Rules) -> None:
    """Along level and upright lines through every corner's neighbourhood, the wall is covered, each piece lapping
    the next by its rule: walking a line, the next piece must start a lap before the last one ends."""
    stretch = repeated(wall)
    region = must_cover(stretch, 0, stretch.length)
    shifts = (-wall.length, 0, wall.length) if wall.closed else (0,)
    shapes = [Polygon([(x + by, y) for x, y in piece.outline], [[(x + by, y) for x, y in hole] for hole in piece.holes])
              for piece in pieces for by in shifts]
    assert all(shape.is_valid for shape in shapes)
    corners = {point for piece in pieces for point in piece.outline}
    left, low, right, high = region.bounds
    for axis, lap in ((0, rules.end_lap), (1, rules.side_lap)):
        near = sorted({corner[1 - axis] + half for corner in corners for half in (-0.5, 0.5)})
        for at in near[::max(len(near) // 40, 1)]:
            line = LineString([(left - 1, at), (right + 1, at)] if axis == 0 else [(at, low - 1), (at, high + 1)])
            mine = sorted(span for shape in shapes if shape.intersects(line) for span in spans(shape, line, axis))
            for start, end in spans(region, line, axis):
                reach, needed = start, start
                while reach < end - 1e-6:
                    further = max((b for a, b in mine if a <= needed + 1e-6), default=reach)
                    assert further > reach + 1e-6, (axis, at, start, end, reach)
                    reach, needed = further, further - lap


def check(wall: Wall, coursing: Coursing, pieces: Sequence[Piece], rules: Rules, width: int, longest: int) -> None:
    """Check one run."""
    check_lines(wall, pieces, rules)
    assert all(piece.width <= width and piece.length <= longest for piece in pieces)
    for lower, upper in zip(coursing.courses, coursing.courses[1:]):
        assert lower.top < upper.top and lower.bottom <= upper.bottom
    check_listed(wall, coursing, rules)


def check_listed(wall: Wall, coursing: Coursing, rules: Rules) -> None:
    """Every end lap too near to a corner, a step or a sleeve, or to one below, is listed with what was found."""
    shifts = (-wall.length, 0, wall.length) if wall.closed else (0,)
    expected = []
    below: tuple[int, ...] = ()
    for course in coursing.courses:
        for place in course.places:
            for keep in keeps_at(wall, bottom=course.bottom, top=course.top):
                gap = min(max(keep.left + by - place - rules.end_lap, place - keep.right - by, 0) for by in shifts)
                expected += [(keep.rule, place % wall.length, gap)] if gap < keep.clear else []
            apart = min((abs(place + by - other) for other in below for by in shifts), default=10**9)
            expected += [("end_lap_stagger", place % wall.length, apart)] if apart < rules.end_lap_stagger else []
        below = course.places
    listed = [(each.rule, each.at, each.found) for each in coursing.broken if "end lap of" in each.why]
    assert sorted(listed) == sorted(expected)


@settings(max_examples=60, deadline=None)
@given(walls())
@pytest.mark.slow
def test_every_wall_is_covered_and_lapped(wall: Wall) -> None:
    coursing = lay_courses(wall, RULES, width=WIDTH, longest=2304)
    pieces = course_pieces(wall, [course.boxes for course in coursing.courses], RULES, product="membrane")
    check(wall, coursing, pieces, RULES, WIDTH, 2304)
    assert RULES.side_lap == SIDE_LAP


@pytest.mark.parametrize("seed", thinned(range(24)))
def test_random_jobs_are_covered_and_lapped(seed: int) -> None:
    job = read_job_text(random_job(seed), "random")
    for wall in develop(job):
        coursing = lay_courses(wall, job.rules, width=job.sheet.width, longest=piece_lengths(job)[0],
                               fewest=seed % 2 == 0, unit=job.unit)
        pieces = course_pieces(wall, [course.boxes for course in coursing.courses], job.rules, product="membrane")
        check(wall, coursing, pieces, job.rules, job.sheet.width, job.rules.max_piece)


def test_clearances_of_seams_too_near_are_listed() -> None:
    """The keeps of an end lap: a sleeve only where it is at the height of the course, a corner at any height."""
    wall = replace(
        coarse_wall(random.Random(1)), rounds=(SleeveHole("P", 5, 100, 10),),
        keeps=(SeamClearance("clear_of_sleeve", "P", 0, 10, 6), SeamClearance("clear_of_corner", "corner", 20, 20, 6)),
    )
    assert [keep.rule for keep in keeps_at(wall, bottom=0, top=80)] == ["clear_of_corner"]
    assert [keep.rule for keep in keeps_at(wall, bottom=0, top=95)] == ["clear_of_sleeve", "clear_of_corner"]


@pytest.mark.parametrize(("place", "listed"), [(6, []), (5, [5]), (26, []), (27, [5]), (40, [0])])
def test_an_end_lap_is_listed_when_a_tick_too_near(place: int, listed: list[int]) -> None:
    """Corners at 0 and 52, an end lap 20 long and 6 clear: it may start from 6 to 52 - 20 - 6 = 26."""
    wall = replace(coarse_wall(random.Random(1)), closed=False, length=60,
                   keeps=(SeamClearance("clear_of_corner", "one", 0, 0, 6),
                          SeamClearance("clear_of_corner", "other", 52, 52, 6)))
    rules = replace(RULES, end_lap=20, end_lap_stagger=0)
    assert [broken.found for broken in too_near_ends(wall, [(0, 10, (place,))], rules, unit=INCH)] == listed


# --- in the comparison -------------------------------------------------------------------------

@pytest.fixture(autouse=True)
def here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Compare in this process: to begin others takes longer than all these small jobs."""
    monkeypatch.setattr(processes, "cores", lambda: 1)


@pytest.fixture()
def job_file(tmp_path: Path) -> Path:
    """Return the plain wall's job file."""
    path = tmp_path / "wall.json"
    path.write_text(job_text({"length": 360, "top": 96}), encoding="utf-8")
    return path


def run(*arguments: str) -> tuple[int, str, str]:
    """Run the comparison and return its exit status, stdout and stderr."""
    result = CliRunner().invoke(cli.main, ["compare", *arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


def test_compare_sets_courses_beside_the_drops(job_file: Path, tmp_path: Path) -> None:
    table, data = tmp_path / "t.csv", tmp_path / "t.json"
    status, out, err = run(str(job_file), "--csv", str(table), "--json", str(data))
    assert (status, err) == (0, "")
    drops, beside = (line for line in out.splitlines() if line.startswith(("as it is ", "horizontal courses ")))
    # 11 drops of 100 in, 2 rolls; 3 courses in 9 pieces, 2 rolls; 10 seams of 100 in are 83.3 ft
    assert drops.split()[-5:] == ["410.00", "2", "83.3", "least", "0"]
    assert beside.split()[-5:] == ["410.00", "2", "78.0", "none", "0"]
    assert "Courses need more hands" in out and "maker's instructions decide" in out
    first, courses = csv.DictReader(io.StringIO(table.read_text(encoding="utf-8")))
    assert (first["drops"], first["courses"], first["caution"]) == ("11", "0", "")
    assert (courses["drops"], courses["courses"], courses["courses_difference"]) == ("0", "3", "3")
    assert (courses["cost"], courses["bound"], courses["proven"]) == ("410.00", "", "no")
    assert "more hands" in courses["caution"]
    told = json.loads(data.read_text(encoding="utf-8"))
    assert told["scenarios"][1]["name"] == "horizontal courses"
    assert told["scenarios"][1]["figures"]["bound"] is None and told["scenarios"][1]["figures"]["proven"] is False
    figures, difference = told["scenarios"][1]["figures"], told["scenarios"][1]["difference"]
    assert (figures["drops"], figures["courses"], figures["pieces_of_sheet"]) == (0, 3, 9)
    assert (difference["drops"], difference["courses"], difference["pieces_of_sheet"]) == (-11, 3, -2)
    assert difference["seam_length"] == -5.3
    # 36 x 1110 sq in cut from 2 rolls, 36 x 360 x 100 / 36 of them on the wall: 277.5 - 250 sq ft in laps
    assert told["scenarios"][1]["figures"]["lap_area"] == 27.5
    assert [caution["topic"] for caution in told["cautions"]] == ["Horizontal courses"]


def test_compare_lists_no_courses_where_the_job_allows_none(job_file: Path, tmp_path: Path) -> None:
    path = tmp_path / "plain.json"
    path.write_text(job_text({"length": 360, "top": 96}, courses=False), encoding="utf-8")
    data = tmp_path / "t.json"
    status, out, _ = run(str(path), "--json", str(data))
    assert status == 0 and "course" not in out.lower()
    assert json.loads(data.read_text(encoding="utf-8"))["cautions"] == []


def test_courses_are_a_way_beside_each_scenario_that_allows_them(job_file: Path, tmp_path: Path) -> None:
    names = [scenario.name for scenario in read_scenarios(job_file, ["side_lap=3", "courses=false"])]
    assert names == ["as it is", "horizontal courses", "side_lap=3", "side_lap=3, horizontal courses", "courses=false"]
    path = tmp_path / "plain.json"
    path.write_text(job_text({"length": 360, "top": 96}, courses=False), encoding="utf-8")
    # allowing courses changes no drop, so the drops are not planned a second time
    assert [scenario.name for scenario in read_scenarios(path, ["courses=true"])] == [
        "as it is", "courses=true, horizontal courses"]


def test_courses_of_a_metric_job(tmp_path: Path) -> None:
    job = json.loads(job_text({"length": "9 m", "top": 2400}, turn_down=100))
    job |= {"units": "mm", "sheet": {"width": 1000, "rolls": [{"length": "20 m", "price": 268}]}}
    path = tmp_path / "metric.json"
    path.write_text(json.dumps(job), encoding="utf-8")
    data = tmp_path / "t.json"
    status, _, _ = run(str(path), "--json", str(data))
    figures = json.loads(data.read_text(encoding="utf-8"))["scenarios"][1]["figures"]
    # 2500 mm: 1000 + 935 + 935 >= 2500, three courses; 9000 <= 3650 + 2 x 3523, three pieces each of 9000 + 2 x 127 mm
    assert status == 0 and (figures["courses"], figures["pieces_of_sheet"], figures["rolls"]) == (3, 9, 2)


def test_a_roll_too_few_is_told_of_the_courses_too(tmp_path: Path) -> None:
    path = tmp_path / "short.json"
    path.write_text(job_text({"length": 360, "top": 96}, rolls=[{"length": 800, "on_hand": 1}]), encoding="utf-8")
    status, out, _ = run(str(path))
    assert status == 3 and "horizontal courses: no layout is possible: " in out


def test_the_tries_of_rules_leave_courses_beside_them(job_file: Path) -> None:
    status, out, _ = run(str(job_file), "--rules")
    assert status == 0 and any(line.startswith("horizontal courses ") for line in out.splitlines())


def test_the_plan_is_the_same_with_courses_allowed(job_file: Path) -> None:
    from layout.pipeline import make_plan

    allowed = read_job_text(job_file.read_text(encoding="utf-8"), "wall")
    plan = make_plan(allowed)
    bare = make_plan(replace(allowed, rules=replace(allowed.rules, courses=False)))
    assert replace(plan, job=bare.job) == bare and len(plan.drops) == 11
