"""How often the joint search proves its plan, and how much it saves over deciding one after the other.

    python tests/bench/joint.py [--jobs N] [--first SEED]

Prints one line a job (seed, drops, cost one after the other, cost together, bound, proven, seconds) and totals.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]

from joint_jobs import joint_job  # noqa: E402

from layout.faces import develop  # noqa: E402
from layout.job import read_job_text  # noqa: E402
from layout.joint.search import Search, one_after_the_other  # noqa: E402


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--jobs", type=int, default=60)
    parser.add_argument("--first", type=int, default=1)
    arguments = parser.parse_args()
    proven = cheaper = dearer = 0
    gaps, saved = [], []
    for seed in range(arguments.first, arguments.first + arguments.jobs):
        job = read_job_text(joint_job(seed), f"seed-{seed}.json")
        walls = develop(job)
        started = time.process_time()
        apart = one_after_the_other(job, walls)
        middle = time.process_time()
        search = Search(job, walls)
        best = search.run()
        ended = time.process_time()
        cost, before, bound = best.sheet.cost, apart.sheet.cost, search.bound_money()
        assert cost is not None and before is not None and bound is not None and bound <= cost
        proven += search.proven(best)
        cheaper += cost < before
        dearer += cost > before
        saved.append(float(before - cost))
        gaps.append(float((cost - bound) / cost) if cost else 0.0)
        said = "proven" if search.proven(best) else "      "
        print(f"{seed:4d} drops {len(best.field.drops):4d}  apart {before:8}  together {cost:8}  bound {bound:8}  "
              f"{said}  {middle - started:5.1f} {ended - middle:5.1f} s", flush=True)
    open_gaps = [gap for gap in gaps if gap]
    print(f"proven {proven} of {len(gaps)}; mean gap of the others {sum(open_gaps) / max(1, len(open_gaps)):.2%}; "
          f"cheaper in {cheaper}, dearer in {dearer}, saved {sum(saved):.2f} in all")


if __name__ == "__main__":
    main()
