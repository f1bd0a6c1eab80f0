"""Random jobs near the limits: walls of one or two faces whose every figure is drawn near an end of what it may be.

``PYTHONPATH=tests python -m helpers.limit_jobs SEED`` prints one. They are small, so that many can be planned; sizes
that make a job large are drawn by ``tests/bench/limits.py``.
"""

from __future__ import annotations

import json
import random
import sys
from typing import Any

FAR = 30_000 * 12
"""Elevations and stations lie within this of 0 [in]."""
TICK = 1 / 16


def near(rng: random.Random, low: float, high: float) -> float:
    """Return a length on or within a few ticks of an end of a range, or anywhere in it [in]."""
    way = rng.randrange(6)
    by = rng.choice((0, 0, 1, 2, 16)) * TICK
    length = low + by if way < 2 else high - by if way < 4 else rng.uniform(low, high)
    return round(min(max(length, low), high) * 16) / 16


def limit_job(seed: int) -> str:
    """Return the text of a job, JSON, most of whose figures lie at a limit.

    Parameters
    ----------
    seed
        The same seed gives the same job.
    """
    rng = random.Random(f"limits {seed}")
    base = near(rng, -FAR, FAR - 2400) if rng.random() < 0.5 else 0.0
    faces = [_face(rng, f"F{number}", base) for number in range(rng.choice((1, 1, 1, 2)))]
    for face in faces[:-1]:
        face["corner"] = rng.choice(("outside", "inside", "none"))
    job: dict[str, Any] = {
        "job": {"name": f"Limit {seed}"[:120].ljust(rng.choice((1, 120)), "x")}, "units": "in", "sheet": _sheet(rng),
        "rules": _rules(rng),
        "runs": [{"name": "A" * rng.choice((1, 1, 120)), "flow": rng.choice(("left", "right")), "faces": faces}],
    }
    if rng.random() < 0.3:
        job["schedule"] = {"start": rng.choice(("1900-01-01", "2999-12-31", "2026-05-04")),
                           "cover_within_days": rng.choice((1, 1_000_000)),
                           "working_days": rng.choice((["sun"], ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]))}
        job["labour"] = {"crew": rng.choice((1, 1_000_000)), "drops_per_day": rng.choice((0.01, 1e6)),
                         "per_drop": rng.choice((0, 0.0001, 1e6))}
    if rng.random() < 0.3:
        job["primer"] = {"name": "P", "coverage": rng.choice((0.1, 1e6)), "package": "can",
                         "price": rng.choice((0, 0.0001, 99_999))}
        job["money"] = {"tax": rng.choice((0, 100, 8.25)), "markup": rng.choice((0, 100))}
    return json.dumps(job, indent=1) + "\n"


def _sheet(rng: random.Random) -> dict[str, Any]:
    """Draw a sheet: narrow or 20 ft wide, its rolls short or 2,000 ft long, dear or for nothing."""
    width = rng.choice((36, 36, 36, 39 + 3 / 8, 12, 240))
    prices = [rng.choice((0, 0.01, 205, 1e6)) for _ in range(3)]
    rolls = [{"length": length, **({"price": price} if prices[0] else {})}
             for length, price in zip(rng.sample((150, 400, 800, 24_000), rng.randint(1, 3)), prices, strict=False)]
    remnants = [{"tag": f"K{number}", "length": near(rng, 1, 800), "width": near(rng, 1, width)}
                for number in range(rng.choice((0, 0, 3)))]
    return {"width": width, "rolls": rolls, "remnants": remnants}


def _rules(rng: random.Random) -> dict[str, Any]:
    """Draw a few rules at their ends."""
    most = {"side_lap": 9, "end_lap": 24, "end_lap_stagger": 240, "fillet": 4, "opening_return": 12, "min_width": 36,
            "clear_of_corner": 240, "clear_of_sleeve": 240, "clear_of_opening": 240, "clear_of_step": 240,
            "corner_strip": 36, "base_strip": 36, "base_strip_up": 12, "collar_reach": 240, "cut_allowance": 12,
            "cut_to": 12, "roll_end": 24, "keep_remnant": 240}
    least = {"side_lap": 2.5, "end_lap": 2.5, "base_strip_up": 4, "collar_reach": 6, "min_width": 0, "cut_to": TICK}
    rules: dict[str, Any] = {name: near(rng, least.get(name, 0), most[name])
                             for name in rng.sample(sorted(most), rng.randint(0, 4))}
    if rng.random() < 0.3:
        rules["max_piece"] = near(rng, 60, 600)
    return rules


def _face(rng: random.Random, name: str, base: float) -> dict[str, Any]:
    """Draw a face: 1 in to 60 ft long, a few inches to 200 ft high, with features at its edges."""
    length = near(rng, rng.choice((1, 6, 36)), rng.choice((40, 400, 720)))
    high = near(rng, rng.choice((1, 12, 60)), rng.choice((96, 120, 120, 2_400)) if length < 100 else 144)
    face: dict[str, Any] = {
        "name": name, "length": length, "footing": base, "top": _top(rng, length, base + high),
        "ledge": rng.choice((0, 4, 4, 6, 24)), "footing_depth": rng.choice((8, 12, 240)),
    }
    if length > 12 and high > 24:
        face["sleeves"] = [{"tag": f"{name}-P{number}", "at": near(rng, 4, length - 4),
                            "elevation": near(rng, base + 4, base + high - 4), "diameter": rng.choice((0.25, 1, 4))}
                           for number in range(rng.choice((0, 0, 1, 2)))]
    if length > 60 and high > 48 and rng.random() < 0.3:
        wide, tall = near(rng, 15, 36), near(rng, 15, 24)
        face["openings"] = [{"tag": f"{name}-W", "kind": "window", "left": near(rng, TICK, length - wide - TICK),
                             "sill": near(rng, base + TICK, base + high - tall), "width": wide, "height": tall}]
        face.pop("sleeves", None)
    return face


def _top(rng: random.Random, length: float, level: float) -> Any:
    """Draw a wall top: level, or with a step, a spike or a slot that is a tick wide or wider."""
    if length < 30 or rng.random() < 0.6:
        return level
    at = near(rng, 6, length - 14)
    wide = rng.choice((TICK, 2 * TICK, 1, 8))
    by = rng.choice((TICK, 1, 14))
    return [[0, level], [at, level], [at, level + by], [at + wide, level + by], [at + wide, level], [length, level]]


if __name__ == "__main__":
    print(limit_job(int(sys.argv[1])), end="")
