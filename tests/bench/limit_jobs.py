"""Random jobs near every limit: planned and clean, or refused in plain words; none crashes, none is rejected.

``python tests/bench/limit_jobs.py [--jobs 200] [--from SEED] [--processes 1]`` prints what is found, and the counts.
"""

from __future__ import annotations

import argparse
import multiprocessing
import re
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from helpers.limit_jobs import limit_job  # noqa: E402  (found beside the tests when run as a script)
from helpers.packets import findings, short_plan, write_drawings, write_rest, write_tables  # noqa: E402
from layout.errors import JobError, NoLayout  # noqa: E402


def verdict(seed: int) -> tuple[int, str, list[str], float]:
    """Plan, write and audit one job; return the seed, what came of it, its lines, and the seconds of processor."""
    began = time.process_time()
    try:
        plan = short_plan(limit_job(seed))
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place) / "packet"
            write_tables(plan, folder)
            write_drawings(plan, folder)
            write_rest(plan, folder)
            found = findings(folder)
        lines = [finding.line() for finding in found]
        what = "rejected" if found else "clean"
    except JobError as error:
        what, lines = "refused", [re.sub(r"^[^:]*:\d+: ", "", line) for line in error.lines()]
    except NoLayout as error:
        what, lines = "no layout", [str(error)]
    except Exception:
        what, lines = "crashed", [traceback.format_exc()]
    return seed, what, lines, time.process_time() - began


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--jobs", type=int, default=200)
    asked.add_argument("--from", type=int, default=0, dest="first")
    asked.add_argument("--processes", type=int, default=1)
    asked.add_argument("--all", action="store_true", help="Print refusals too.")
    given = asked.parse_args()
    counts: Counter[str] = Counter()
    longest = (0.0, 0)
    with multiprocessing.Pool(given.processes) as pool:
        for seed, what, lines, took in pool.imap(verdict, range(given.first, given.first + given.jobs)):
            counts[what] += 1
            longest = max(longest, (took, seed))
            for line in lines[:3] if given.all or what in ("rejected", "crashed") else ():
                print(f"seed {seed}: {what}: {line}", flush=True)
    print(f"{given.jobs} jobs from seed {given.first}: " + ", ".join(f"{n} {what}" for what, n in counts.most_common())
          + f"; longest {longest[0]:.1f} s of processor, seed {longest[1]}")
    return int(bool(counts["rejected"] or counts["crashed"]))


if __name__ == "__main__":
    sys.exit(main())
