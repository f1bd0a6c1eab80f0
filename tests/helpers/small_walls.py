"""Small random walls, for holding a placement against trying everything."""

from __future__ import annotations

import random
from fractions import Fraction

from layout.records import FaceSpan, Hole, Profile, Rules, SeamClearance, Wall


def rules(**changed: object) -> Rules:
    settings: dict[str, object] = {
        "side_lap": 2, "end_lap": 2, "end_lap_stagger": 0, "top": "wall", "above_grade": 0, "turn_down": (0, 0),
        "fillet": 0, "opening_return": 0, "min_width": 4, "max_piece": 1000, "clear_of_corner": 0, "clear_of_sleeve": 0,
        "clear_of_opening": 0, "clear_of_step": 0, "corner_strip": 0, "base_strip": 0, "base_strip_up": 0,
        "collar_reach": 0, "cover_lap": 96, "cut_allowance": 0, "cut_to": 1, "keep_remnant": 0,
    }
    return Rules(**(settings | changed))  # type: ignore[arg-type]


def wall(
    length: int, *, closed: bool, top: Profile, bottom: Profile, holes: tuple[Hole, ...] = (),
    keeps: tuple[SeamClearance, ...] = (),
) -> Wall:
    return Wall(
        run="A", layer="membrane", closed=closed, length=length, turn_down=0,
        faces=(FaceSpan("South", 0, length, "none", 90.0, 0, 0, 0),), top=top, bottom=bottom, footing=bottom,
        wall_top=top, grade=None, holes=holes, rounds=(), keeps=keeps, slopes=((0, length, "right"),),
    )


def elevations(profile: Profile, left: int, right: int) -> list[Fraction]:
    """Every elevation that can be the highest or lowest on the open interval: its ends' limits and its corners."""
    found: list[Fraction] = []
    for (x0, y0), (x1, y1) in zip(profile, profile[1:], strict=False):
        a, b = max(x0, left), min(x1, right)
        if a < b:
            found += [y0 + Fraction((y1 - y0) * (x - x0), x1 - x0) for x in (a, b)]
    return found


def profile(rng: random.Random, length: int, low: int, high: int) -> Profile:
    points = [(0, rng.randint(low, high))]
    for x in sorted(rng.sample(range(1, length), min(rng.choice((0, 0, 1, 2, 3)), length - 1))):
        shape = rng.choice(("step", "slope", "both"))
        y = points[-1][1] if shape == "step" else rng.randint(low, high)
        points.append((x, y))
        if shape != "slope":
            points.append((x, rng.randint(low, high)))
    points.append((length, points[-1][1] if rng.random() < 0.7 else rng.randint(low, high)))
    return tuple(points)


def random_wall(rng: random.Random, *, closed: bool) -> Wall:
    length = rng.randint(3, 34) if closed else rng.randint(3, 46)
    holes: list[Hole] = []
    x = 0
    while rng.random() < 0.6 and x + 2 < length:
        left = rng.randint(x, length - 1)
        right = rng.randint(left + 1, min(length, left + 20))
        bottom = rng.randint(4, 9)
        holes.append(Hole(f"W{len(holes)}", "window", left, right, bottom, bottom + rng.randint(1, 4)))
        if rng.random() < 0.3:
            holes.append(Hole(f"V{len(holes)}", "vent", left, min(right + rng.randint(0, 2), length), 1, 3))
        x = right + 3
    keeps = []
    for i in range(rng.choice((0, 1, 2, 3, 5))):
        left = rng.randint(0, length)
        right = left + rng.choice((0, 0, 1, 3))
        keeps.append(SeamClearance("clear_of_sleeve", f"P{i}", left, right, rng.randint(1, 5)))
    return wall(
        length, closed=closed, top=profile(rng, length, 14, 24), bottom=profile(rng, length, -6, 0), holes=tuple(holes),
        keeps=tuple(keeps),
    )
