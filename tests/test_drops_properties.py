"""What holds for every wall: it is covered, laps are wide enough, water runs over seams, the order can be walked."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from helpers.drawn_walls import RULES, SIDE_LAP, WIDTH, walls
from layout.drops import Layout, place
from layout.pieces import field_pieces
from layout.records import FaceSpan, Profile, Side, Wall
from layout.shapes import must_cover, repeated
from layout.units import INCH

SPECK = 1e-6 * INCH.ticks**2
"""A millionth of a square inch, for each piece [square ticks]."""

LOW, HIGH = -10_000, 10_000


def upstream(wall: Wall, middle: float) -> str:
    """Which drop of a seam lies uphill, read off the slopes."""
    middle = middle % wall.length if wall.closed else middle
    for left, right, side in wall.slopes:
        if left <= middle < right:
            return "left" if side == "right" else "right"
    return "left" if wall.slopes[-1][2] == "right" else "right"


def sound(wall: Wall) -> None:
    """Place drops on a wall and check the layout."""
    layout = place(wall, RULES, width=WIDTH, side_lap=SIDE_LAP, prefix="A")
    check_edges(wall, layout)
    check_cover(wall, layout)
    check_end_laps(layout)
    check_water(wall, layout)


test_every_wall_is_covered_and_shingled = settings(max_examples=20, deadline=None)(given(walls())(sound))
test_sixty_walls_are_covered_and_shingled = pytest.mark.slow(
    settings(max_examples=60, deadline=None)(given(walls())(sound)))


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
    needed = must_cover(stretch, 0, stretch.length)
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
