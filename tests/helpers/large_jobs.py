"""Large jobs for measuring: many runs with windows, footing steps and sleeves, the same for the same count of drops.

``python tests/large_jobs.py DROPS`` prints one.
"""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Mapping

STEP = 33.5
"""Spacing of drops from 36 in sheet lapped 2 1/2 in [in]."""
DROPS_A_RUN = 100
"""About how many drops a run takes."""


def large_job(drops: int, *, tall: bool = False) -> str:
    """Return a job that needs about so many drops at least, as JSON text.

    Every other run is a closed building with an offset in it, the others are open walls of three faces. A face longer
    than 40 ft has a footing step when its run is open, a window and a sleeve in every 40 ft or so.

    Parameters
    ----------
    drops
        Of the membrane.
    tall
        Walls are 14 to 16 ft high, so that every drop has an end lap, instead of 7 to 10.
    """
    rng = random.Random(drops)
    runs = []
    left = drops
    while left > 0:
        number = len(runs) + 1
        count = min(left, rng.randint(DROPS_A_RUN * 4 // 5, DROPS_A_RUN * 6 // 5))
        height = rng.randint(14 * 12, 16 * 12) if tall else rng.randint(7 * 12, 10 * 12)
        make = _building if number % 2 else _wall
        runs.append(make(rng, f"R{number}", _sixteenths(count * STEP), _sixteenths(height + rng.random())))
        left -= count
    sheet = {
        "width": 36, "rolls": [{"length": "66'-8\"", "price": 205}, {"length": "50'-0\"", "price": 160}],
        "remnants": [{"tag": f"K{i}", "length": _sixteenths(rng.uniform(60, 300))} for i in range(1, 6)],
    }
    rules = {"turn_down": [4, 6], "base_strip": 18}
    return json.dumps({"job": {"name": f"Large {drops}"}, "units": "in", "sheet": sheet, "rules": rules, "runs": runs})


def _sixteenths(inches: float) -> float:
    """Return a length on a tick [in]."""
    return round(inches * 16) / 16


def _building(rng: random.Random, name: str, around: float, height: float) -> dict[str, object]:
    """Return a closed run: a rectangle with one corner set back, six faces."""
    half = around / 2
    width = _sixteenths(half * rng.uniform(0.35, 0.5))
    depth = _sixteenths(half - width)
    back, across = _sixteenths(depth * 0.3), _sixteenths(width * 0.4)
    sides = [(width, "outside"), (_sixteenths(depth - back), "outside"), (across, "inside"), (back, "outside"),
             (_sixteenths(width - across), "outside"), (depth, "outside")]
    faces = [
        _face(rng, f"{name} side {number}", length, height, 0.0, corner)[0]
        for number, (length, corner) in enumerate(sides, 1)
    ]
    return {"name": name, "closed": True, "flow": rng.choice(["left", "right"]), "faces": faces}


def _wall(rng: random.Random, name: str, length: float, height: float) -> dict[str, object]:
    """Return an open run of three faces whose footing steps."""
    level = 0.0
    faces = []
    for number, corner in enumerate(("outside", "inside", "none"), 1):
        made, level = _face(rng, f"{name} side {number}", _sixteenths(length / 3), height, level, corner, stepped=True)
        faces.append(made)
    return {"name": name, "flow": rng.choice(["left", "right"]), "faces": faces}


def _face(
    rng: random.Random, name: str, length: float, height: float, level: float, corner: str, *, stepped: bool = False,
) -> tuple[Mapping[str, object], float]:
    """Return a face and the footing's level at its right end; every 40 ft or so it has a step, a window, a sleeve."""
    footing = [[0, level]]
    openings: list[dict[str, object]] = []
    sleeves: list[dict[str, object]] = []
    bay = 480.0
    for number in range(int(length // bay)):
        start = number * bay
        if stepped and number % 2 == 0:
            at = _sixteenths(start + rng.uniform(20, 100))
            footing.append([at, level])
            level = 0.0 if level else -8.0 * rng.randint(1, 3)
            footing.append([at, level])
        openings.append({
            "tag": f"{name}-W{number}", "kind": "window", "left": _sixteenths(start + rng.uniform(130, 220)),
            "sill": _sixteenths(height - rng.uniform(44, 56)), "width": rng.choice([32, 36, 48, 72]), "height": 30,
        })
        sleeves.append({
            "tag": f"{name}-P{number}", "at": _sixteenths(start + rng.uniform(320, 450)),
            "elevation": _sixteenths(rng.uniform(10, 30)), "diameter": rng.choice([4, 6, 6.625]),
        })
    face = {
        "name": name, "length": length, "top": height, "footing": footing if len(footing) > 1 else level, "ledge": 6,
        "footing_depth": 12, "corner": corner, "openings": openings, "sleeves": sleeves,
    }
    return face, level


if __name__ == "__main__":
    print(large_job(int(sys.argv[1]), tall="--tall" in sys.argv[2:]))
