"""Walls that hypothesis draws: level, sloped and stepped, with holes and corners."""

from __future__ import annotations

from hypothesis import strategies as st

from layout.records import FaceSpan, Hole, Profile, Rules, SeamClearance, Side, SleeveHole, Wall

WIDTH = 576
SIDE_LAP = 40
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
        keeps += [SeamClearance("clear_of_opening", f"W{i}", jamb, jamb, 96) for jamb in (left, right)]
        left = right
    for i in range(draw(st.integers(0, 2))):
        diameter = draw(st.integers(10, min(100, length // 3)))
        x = draw(st.integers(diameter, length - diameter))
        rounds.append(SleeveHole(f"P{i}", x, draw(st.integers(310, 880)), diameter))
        keeps.append(SeamClearance("clear_of_sleeve", f"P{i}", x - diameter, x + diameter, 96))
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
