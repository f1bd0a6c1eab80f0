"""Seeded jobs for the integrated search: two to four runs with steps, windows, sleeves, tall faces and remnants."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence

from layout.integrated.search import IntegratedSearch, Trial
from layout.records import Job, Wall


def integrated_job(seed: int) -> str:
    """Return a job as JSON text, the same for the same seed."""
    rng = random.Random(seed)
    rolls = [{"length": "66'-8\"", "price": 205}]
    if rng.random() < 0.5:
        rolls.append({"length": "50'-0\"", "price": rng.choice([156, 162, 168])})
    remnants = [
        {"tag": f"K{i + 1}", "length": _feet(rng, 4, 30), "width": 36} for i in range(rng.choice([0, 0, 1, 2, 4]))
    ]
    tall = rng.random() < 0.35
    runs = [_run(rng, name, tall=tall) for name in "ABCD"[:rng.randint(2, 4)]]
    job = {
        "job": {"name": f"Seeded {seed}"}, "units": "in",
        "sheet": {"width": 36, "rolls": rolls, "remnants": remnants},
        "rules": {"turn_down": [4, 6], "corner_strip": 12, "base_strip": 18, "cut_to": "1/16", "roll_end": 0},
        "runs": runs,
    }
    return json.dumps(job, indent=1)


def _feet(rng: random.Random, least: int, most: int) -> str:
    """Return a length between whole feet as a survey would give it."""
    sixteenths = rng.randint(least * 192, most * 192)
    feet, rest = divmod(sixteenths, 192)
    inches, part = divmod(rest, 16)
    return f"{feet}'-{inches} {part}/16\"" if part else f"{feet}'-{inches}\""


def _run(rng: random.Random, name: str, *, tall: bool) -> dict[str, object]:
    closed = rng.random() < 0.3
    if closed:
        sides = [rng.randint(12 * 192, 40 * 192) for _ in range(2)] * 2
    else:
        sides = [rng.randint(10 * 192, 45 * 192) for _ in range(rng.randint(1, 3))]
    base = 0
    height = rng.randint(13 * 192, 15 * 192) if tall and rng.random() < 0.6 else rng.randint(7 * 192, 10 * 192)
    faces = []
    for number, length in enumerate(sides):
        corner = "outside" if closed or number < len(sides) - 1 else "none"
        faces.append(_face(rng, f"{name}{number + 1}", length, height, base, corner, level=closed))
        base = faces[-1]["end"]  # type: ignore[assignment]
        del faces[-1]["end"]
    return {"name": name, "closed": closed, "flow": rng.choice(["left", "right"]), "faces": faces}


def _ticks(value: int) -> str:
    sign, value = ("-", -value) if value < 0 else ("", value)
    whole, part = divmod(value, 16)
    return f"{sign}{whole} {part}/16" if part else f"{sign}{whole}"


def _face(
    rng: random.Random, name: str, length: int, height: int, base: int, corner: str, *, level: bool,
) -> dict[str, object]:
    footing: object = _ticks(base)
    end = base
    if not level and length > 14 * 192 and rng.random() < 0.5:
        end = base - rng.choice([-1, 1]) * rng.randint(8 * 16, 24 * 16)
        at = rng.randint(5 * 192, length - 5 * 192)
        footing = [[0, _ticks(base)], [_ticks(at), _ticks(base)], [_ticks(at), _ticks(end)],
                   [_ticks(length), _ticks(end)]]
    openings = []
    if length > 16 * 192 and rng.random() < 0.6:
        left = rng.randint(2 * 192, length - 6 * 192)
        openings.append({
            "tag": f"W{name}", "kind": "window", "left": _ticks(left),
            "sill": _ticks(height - rng.randint(48, 60) * 16),
            "width": rng.choice([32, 36, 48]), "height": rng.choice([24, 30, 36]),
        })
    sleeves = []
    if rng.random() < 0.5:
        sleeves.append({
            "tag": f"P{name}", "at": _ticks(rng.randint(20 * 16, length - 20 * 16)),
            "elevation": _ticks(max(base, end) + 400), "diameter": rng.choice([4, 6]),
        })
        if openings:
            sleeves = []
    return {
        "name": name, "length": _ticks(length), "top": _ticks(height), "footing": footing, "ledge": 6,
        "footing_depth": 12, "corner": corner, "openings": openings, "sleeves": sleeves, "end": end,
    }


def one_after_the_other(job: Job, walls: Sequence[Wall]) -> Trial:
    """Place the drops for the least total length, then cut them: what the integrated search starts from."""
    return IntegratedSearch(job, walls).first()
