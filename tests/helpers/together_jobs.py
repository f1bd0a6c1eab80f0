"""Random jobs that share one sheet and one strip, the same for the same seeds, for planning together.

``python tests/together_jobs.py FOLDER COUNT [--small]`` writes some.
"""

from __future__ import annotations

import json
import random
import sys
from pathlib import Path
from typing import Any

SHEET = {"name": "yard sheet", "width": 36, "rolls": [
    {"length": "66'-8\"", "price": 205, "weight_lb": 83}, {"length": "50'-0\"", "price": 160, "weight_lb": 62}]}
STRIP = {"name": "yard strip", "width": 18, "rolls": [{"length": "50'-0\"", "price": 46, "weight_lb": 21}]}
LABOUR = {"per_drop": 14.5, "per_seam": 0.85}


def random_together(seed: int) -> str:
    """Return a random wall or two of the common sheet, with a start date, perhaps a window, a pipe, a remnant."""
    rng = random.Random(seed)
    high, faces = rng.randint(80, 116), []
    for number in range(rng.randint(1, 3)):
        length = rng.randint(90, 300)
        face: dict[str, Any] = {"name": f"F{number}", "length": length, "top": high, "footing": 0,
                                "ledge": rng.choice((0, 4, 6)), "corner": rng.choice(("outside", "inside"))}
        if rng.random() < 0.4:
            face["sleeves"] = [{"tag": f"P{number}", "at": rng.randint(30, length - 30), "elevation": 40,
                                "diameter": 4}]
        elif length > 140 and rng.random() < 0.4:
            face["openings"] = [{"tag": f"W{number}", "kind": "window", "left": rng.randint(45, length - 90),
                                 "sill": 50, "width": 30, "height": 24}]
        faces.append(face)
    faces[-1]["corner"] = "none"
    sheet: dict[str, Any] = dict(SHEET)
    if rng.random() < 0.3:
        sheet["remnants"] = [{"tag": f"Y{seed}", "length": rng.randint(100, 400)}]
    return json.dumps({
        "job": {"name": f"Random {seed}"}, "sheet": sheet, "strip": STRIP, "labour": LABOUR,
        "rules": {"base_strip": 18},
        "schedule": {"start": f"2026-{rng.randint(3, 10):02d}-{rng.randint(1, 28):02d}"},
        "runs": [{"name": "A", "faces": faces}],
    })


def small_house(seed: int) -> str:
    """Return a small rectangular house of the common sheet: four walls, two pipes."""
    rng = random.Random(seed)
    sides = [rng.randint(18 * 12, 34 * 12), rng.randint(14 * 12, 26 * 12)]
    high = rng.randint(84, 108)
    faces = []
    for number, name in enumerate(("South", "East", "North", "West")):
        face: dict[str, Any] = {"name": name, "length": sides[number % 2], "top": high, "footing": 0, "ledge": 4,
                                "corner": "outside"}
        if number % 2:
            face["sleeves"] = [{"tag": f"P{number}", "at": rng.randint(40, 120), "elevation": rng.randint(20, 60),
                                "diameter": 4}]
        faces.append(face)
    return json.dumps({
        "job": {"name": f"House {seed}"}, "sheet": SHEET, "strip": STRIP, "labour": LABOUR,
        "schedule": {"start": f"2026-{1 + seed % 12:02d}-{1 + seed // 12 % 28:02d}"},
        "runs": [{"name": "A", "closed": True, "flow": "right", "faces": faces}],
    })


def write_jobs(folder: Path, count: int, *, small: bool = False) -> list[Path]:
    """Write some jobs into a folder and return their files."""
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for seed in range(1, count + 1):
        path = folder / f"{'house' if small else 'random'}-{seed:04d}.json"
        path.write_text(small_house(seed) if small else random_together(seed), encoding="utf-8")
        files.append(path)
    return files


if __name__ == "__main__":
    write_jobs(Path(sys.argv[1]), int(sys.argv[2]), small="--small" in sys.argv)
