"""Jobs at the limits: ``python tests/bench/limits.py [NAME …] [--folder FOLDER] [--check-only]``.

Each job goes through ``check`` and ``plan`` as processes of their own; printed are the seconds of processor they took
and their peak memory. ``thousand`` is no limit but the size that must be planned within a minute. Without names all
are measured.
"""

from __future__ import annotations

import argparse
import json
import random
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from helpers.large_jobs import STEP, large_job  # noqa: E402  (found beside the tests when run as a script)
from layout.job import limits  # noqa: E402


NEAR_DROPS, NEAR_PIECES = limits.MAX_DROPS * 19 // 20, limits.MAX_PIECES * 19 // 20
"""As many as may be, less what corners and steps may add."""


class Used(NamedTuple):
    """What a process took: its exit status, seconds of processor, and peak memory [MB]."""

    status: int
    seconds: float
    megabytes: float


def of_faces(faces: Sequence[object], *, runs: int = 1, **sheet: object) -> str:
    """Return a job that shares faces out among some runs."""
    each = -(-len(faces) // runs)
    return json.dumps({
        "job": {"name": "At a limit"}, "rules": {"base_strip": 18},
        "sheet": {"width": 36, "rolls": [{"length": 800, "price": 205}], **sheet},
        "runs": [{"name": f"R{run}", "flow": "right", "faces": faces[run * each:(run + 1) * each]}
                 for run in range(runs)],
    })


def face(number: int, length: float, top: object = 96, **more: object) -> dict[str, object]:
    """Return a face on a footing with a ledge."""
    return {"name": f"F{number}", "length": length, "top": top, "footing": 0, "ledge": 6, "footing_depth": 12, **more}


def most_faces() -> str:
    """As many faces as may be, 10 a run, of 20 heights."""
    faces = [face(number, 80, 90 + number % 20, corner="outside") for number in range(limits.MAX_FACES)]
    return of_faces(faces, runs=limits.MAX_FACES // 10)


def most_features() -> str:
    """As many sleeves as may be, as many on each face as may be."""
    a_face = limits.MAX_FEATURES_A_FACE

    def sleeves(number: int) -> list[dict[str, object]]:
        return [{"tag": f"P{number}-{at}", "at": 20 + STEP * at, "elevation": 20 + at % 30, "diameter": 4}
                for at in range(a_face)]

    return of_faces([face(number, STEP * a_face + 40, corner="none", sleeves=sleeves(number))
                     for number in range(limits.MAX_FEATURES // a_face)])


def most_points() -> str:
    """As many points as may be: tops that go up and down every 4 in."""
    rng = random.Random(1)
    count = limits.MAX_POINTS
    return of_faces([
        face(number, 4.0 * count, [[4 * at, 96 + rng.randrange(24)] for at in range(count)], corner="none")
        for number in range(limits.MAX_POINTS_TOGETHER // count - 1)
    ])


def most_stock() -> str:
    """As many kinds of roll and remnants as may be, for 200 drops under a sloping top."""
    rng = random.Random(1)
    rolls = [{"length": 400 + 8 * number, "price": 100 + 2 * number + rng.randrange(3)}
             for number in range(limits.MAX_ROLLS)]
    remnants = [{"tag": f"K{number}", "length": 50 + rng.randrange(4800) / 16} for number in range(limits.MAX_REMNANTS)]
    top = [[0, 96], [3000, 130], [STEP * 200, 100]]
    return of_faces([face(1, STEP * 200, top)], rolls=rolls, remnants=remnants)


def slope(drops: int, low: float, high: float) -> str:
    """So many drops under one long slope over several faces: hardly two are of one length."""
    count = -(-drops // 1000)
    length = round(STEP * drops / count)
    tops = [round(low + (high - low) * number / count) for number in range(count + 1)]
    return of_faces([face(number, length, [[0, tops[number]], [length, tops[number + 1]]], corner="none")
                     for number in range(count)])


def most_kinds(drops: int) -> str:
    """So many drops under a slope, and as many kinds of roll and remnants as may be."""
    job = json.loads(slope(drops, 96, 150))
    job["sheet"] |= json.loads(most_stock())["sheet"]
    return json.dumps(job)


JOBS: dict[str, Callable[[], str]] = {
    "thousand": lambda: large_job(1000), "thousand-tall": lambda: large_job(1000, tall=True),
    "slope": lambda: slope(1000, 90, 140), "faces": most_faces, "features": most_features, "points": most_points,
    "stock": most_stock,
    "drops": lambda: large_job(NEAR_DROPS), "drops-slope": lambda: slope(NEAR_DROPS, 90, 140),
    "drops-stock": lambda: most_kinds(NEAR_DROPS),
    "pieces": lambda: large_job(NEAR_PIECES // 2, tall=True),
    "pieces-slope": lambda: slope(NEAR_PIECES // 2, 170, 230),
}


LAUNCH = """
import json, os, subprocess, sys
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, took = os.wait4(process.pid, 0)
print(json.dumps([os.waitstatus_to_exitcode(status), took.ru_utime + took.ru_stime, took.ru_maxrss / 1024]))
"""
"""A process's peak memory begins with that of the one it was started from: a small process starts it, not the tests."""


def used(arguments: Sequence[str]) -> Used:
    """Run the program and return what it took."""
    command = [sys.executable, "-S", "-c", LAUNCH, sys.executable, str(ROOT / "cli.py"), *arguments]
    return Used(*json.loads(subprocess.run(command, stdout=subprocess.PIPE, check=True).stdout))


def measure(name: str, folder: Path, *, check_only: bool = False) -> tuple[Used, Used | None]:
    """Return what ``check`` and ``plan`` of a job take."""
    job = folder / f"{name}.json"
    job.write_text(JOBS[name](), encoding="utf-8")
    checked = used(["check", str(job)])
    return checked, None if check_only else used(["plan", str(job)])


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("names", nargs="*", metavar="NAME", help=", ".join(JOBS))
    reader.add_argument("--folder", type=Path)
    reader.add_argument("--check-only", action="store_true")
    asked = reader.parse_args()
    with tempfile.TemporaryDirectory() as spare:
        folder = asked.folder or Path(spare)
        folder.mkdir(exist_ok=True)
        for name in asked.names or JOBS:
            checked, planned = measure(name, folder, check_only=asked.check_only)
            for command, took in (("check", checked), ("plan", planned)):
                if took is not None:
                    print(f"{name:14} {command:6} exit {took.status}  {took.seconds:7.1f} s of processor  "
                          f"{took.megabytes:6,.0f} MB", flush=True)


if __name__ == "__main__":
    main()
