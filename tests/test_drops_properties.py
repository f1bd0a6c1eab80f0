"""What holds for every wall: it is covered, laps are wide enough, water runs over seams, the order can be walked."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from layout.drops import Layout, place
from layout.pieces import field_pieces
from layout.records import FaceSpan, Hole, Keep, Profile, Round, Rules, Side, Wall
from layout.shapes import cover, repeated
from layout.units import INCH

WIDTH = 576
SIDE_LAP = 40
SPECK = 1e-6 * INCH.ticks**2
"""A millionth of a square inch, for each piece [square ticks]."""

LOW, HIGH = -10_000, 10_000

RULES = Rules(
    side_lap=SIDE_LAP, end_lap=80, end_lap_stagger=192, top="wall", above_grade=0, turn_down=(64, 64), fillet=0,
    opening_return=0, min_width=192, max_piece=2304, clear_of_corner=96, clear_of_sleeve=96, clear_of_opening=96,
    clear_of_step=96, corner_strip=0, base_strip=0, base_strip_up=0, collar_reach=0, cover_lap=96,
    cut_allowance=0, cut_to=1,
    keep_remnant=0,
)


@st.composite
def profiles(draw: st.DrawFn, length: int, low: int, high: int) -> Profile:
    level = st.integers(low, high)
    points = [(0, draw(level))]
    for x in sorted(draw(st.sets(st.integers(1, length - 1), max_size=3))):
        before = draw(level) if draw(st.booleans()) else points[-1][1]
        points.append((x, before))
        if draw(st.booleans()):
            points.append((x, draw(level)))
    points.append((length, points[-1][1]))
    return tuple(points)


@st.composite
def walls(draw: st.DrawFn) -> Wall:
    length = draw(st.integers(60, 5000))
    closed = draw(st.booleans())
    footing = draw(profiles(length, -200, 300))
    tall = draw(st.sampled_from((900, 900, 2600)))
    top = draw(profiles(length, tall, tall + 400))
    holes, rounds, keeps = [], [], []
    left = 0
    for i in range(draw(st.integers(0, 3))):
        left += draw(st.integers(1, 900))
        right = left + draw(st.integers(40, 1500))
        if right > length:
            break
        bottom = draw(st.integers(301, 500))
        holes.append(Hole(f"W{i}", "window", left, right, bottom, bottom + draw(st.integers(20, 300))))
        keeps += [Keep("clear_of_opening", f"W{i}", jamb, jamb, 96) for jamb in (left, right)]
        left = right
    for i in range(draw(st.integers(0, 2))):
        diameter = draw(st.integers(10, min(100, length // 3)))
        x = draw(st.integers(diameter, length - diameter))
        rounds.append(Round(f"P{i}", x, draw(st.integers(310, 880)), diameter))
        keeps.append(Keep("clear_of_sleeve", f"P{i}", x - diameter, x + diameter, 96))
    return Wall(
        run="A", layer="membrane", closed=closed, length=length, turn_down=64,
        faces=(FaceSpan("South", 0, length, "none", 90.0, 0, 64, 192),), top=top,
        bottom=tuple((x, y - 64) for x, y in footing), footing=footing, wall_top=top, grade=None, holes=tuple(holes),
        rounds=tuple(rounds), keeps=tuple(keeps), slopes=draw(slopes(length)),
    )


@st.composite
def slopes(draw: st.DrawFn, length: int) -> tuple[tuple[int, int, Side], ...]:
    edges = [0, *sorted(draw(st.sets(st.integers(1, length - 1), max_size=4))), length]
    side: Side = draw(st.sampled_from(("left", "right")))
    parts: list[tuple[int, int, Side]] = []
    for left, right in zip(edges, edges[1:], strict=False):
        parts.append((left, right, side))
        side = "left" if side == "right" else "right"
    return tuple(parts)


def upstream(wall: Wall, middle: float) -> str:
    """Which drop of a seam lies uphill, read off the slopes."""
    middle = middle % wall.length if wall.closed else middle
    for left, right, side in wall.slopes:
        if left <= middle < right:
            return "left" if side == "right" else "right"
    return "left" if wall.slopes[-1][2] == "right" else "right"


@settings(max_examples=60, deadline=None)
@given(walls())
def test_every_wall_is_covered_and_shingled(wall: Wall) -> None:
    layout = place(wall, RULES, width=WIDTH, side_lap=SIDE_LAP, prefix="A")
    check_edges(wall, layout)
    check_cover(wall, layout)
    check_end_laps(layout)
    check_water(wall, layout)


@pytest.mark.parametrize("side", ["left", "right"])
def test_two_drops_may_reach_past_the_start_of_a_closed_run(side: Side) -> None:
    """4825 = 9 x 536 + 1: nine full drops are one tick short of the last lap, and the tenth covers that lap.

    The ninth drop ends at 8 x 536 + 576 = 4864, past the run's 4825, and the tenth starts a tick before the start.
    """
    level: Profile = ((0, 900), (4825, 900))
    wall = Wall(
        run="A", layer="membrane", closed=True, length=4825, turn_down=64,
        faces=(FaceSpan("South", 0, 4825, "none", 90.0, 0, 64, 192),), top=level,
        bottom=((0, -64), (4825, -64)), footing=((0, 0), (4825, 0)), wall_top=level, grade=None, holes=(), rounds=(),
        keeps=(), slopes=((0, 4825, side),),
    )
    layout = place(wall, RULES, width=WIDTH, side_lap=SIDE_LAP, prefix="A")
    assert [(drop.left, drop.right) for drop in layout.drops[-2:]] == [(4288, 4864), (4824, 5016)]
    check_edges(wall, layout)
    check_cover(wall, layout)
    check_water(wall, layout)


def check_edges(wall: Wall, layout: Layout) -> None:
    drops = layout.drops
    assert len(layout.seams) == len(drops) - (not wall.closed)
    assert [drop.left for drop in drops] == sorted({drop.left for drop in drops})
    for drop in drops:
        assert 0 <= drop.left < wall.length
        assert min(RULES.min_width, wall.length) <= drop.right - drop.left <= WIDTH
    for i, seam in enumerate(layout.seams):
        turn = wall.length * (i == len(drops) - 1)
        following = drops[(i + 1) % len(drops)]
        assert (seam.left_edge, seam.right_edge) == (following.left + turn, drops[i].right)
        assert seam.right_edge - seam.left_edge >= SIDE_LAP
    if not wall.closed:
        assert (drops[0].left, drops[-1].right) == (0, wall.length)


def check_cover(wall: Wall, layout: Layout) -> None:
    """The union of the pieces covers what must be covered; each lap is covered by both its drops."""
    hung, pieces = field_pieces(wall, layout.drops, layout.splits, RULES, product="membrane")
    shapes = {piece.tag: Polygon(piece.outline, piece.holes) for piece in pieces}
    stretch = repeated(wall)
    needed = cover(stretch, 0, stretch.length)
    start, end = layout.drops[0].left, layout.drops[0].left + wall.length
    bare = needed.intersection(box(start, LOW, end, HIGH)).difference(unary_union(list(shapes.values())))
    assert bare.area < SPECK * len(pieces)
    sheets = {drop.tag: unary_union([shapes[tag] for tag in drop.pieces]) for drop in hung}
    for i, seam in enumerate(layout.seams):
        lap = needed.intersection(box(seam.left_edge, LOW, seam.right_edge, HIGH))
        turn = wall.length * (i == len(layout.drops) - 1)  # more drops than the last may reach past the start
        for tag, shift in ((seam.left, 0), (seam.right, turn)):
            assert lap.difference(translate(sheets[tag], shift)).area < SPECK * len(pieces)
    for piece in pieces:
        assert piece.length <= RULES.max_piece


def check_end_laps(layout: Layout) -> None:
    for boxes in layout.splits.values():
        for (_, foot), (head, _) in zip(boxes, boxes[1:], strict=False):
            assert head <= foot or head - foot >= RULES.end_lap


def check_water(wall: Wall, layout: Layout) -> None:
    turns = {drop.tag: drop.install for drop in layout.drops}
    assert sorted(turns.values()) == list(range(1, len(turns) + 1))
    for seam in layout.seams:
        assert seam.over == getattr(seam, upstream(wall, (seam.left_edge + seam.right_edge) / 2))
        under = seam.left if seam.over == seam.right else seam.right
        if not seam.tuck:
            assert turns[seam.over] > turns[under]
    overs = {seam.over == seam.left for seam in layout.seams}
    assert sum(seam.tuck for seam in layout.seams) == int(wall.closed and len(overs) == 1)


@settings(max_examples=25, deadline=None)
@given(walls(), st.integers(1, 400))
def test_turning_a_closed_run_changes_no_goal(wall: Wall, by: int) -> None:
    """The start of a closed run is only where its stations are counted from."""
    level = replace(
        wall, closed=True, holes=(), top=((0, wall.top[0][1]), (wall.length, wall.top[0][1])),
        bottom=((0, 0), (wall.length, 0)), rounds=(),
        keeps=tuple(keep for keep in wall.keeps if keep.right <= wall.length),
    )
    turned = replace(
        level,
        keeps=tuple(
            replace(keep, left=left, right=left + keep.right - keep.left)
            for keep in level.keeps for left in [(keep.left + by) % wall.length]
        ),
    )
    one, other = (place(w, RULES, width=WIDTH, side_lap=SIDE_LAP, prefix="A") for w in (level, turned))
    assert one.cost == other.cost
