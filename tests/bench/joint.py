"""How often the joint search proves its plan, and how much it saves over deciding one after the other.

    python tests/bench/joint.py [--jobs N] [--first SEED] [--thorough]

Prints one line a job (seed, drops, cost one after the other, cost together, bound, proven or the gap, seconds) and
totals, by how many lengths of roll can be bought: with two, costs differ by little and a proof needs a sharper bound.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import mean

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]

from helpers.integrated_jobs import integrated_job, one_after_the_other  # noqa: E402

from layout.faces import develop  # noqa: E402
from layout.job import read_job_text  # noqa: E402
from layout.integrated.search import IntegratedSearch  # noqa: E402


@dataclass(frozen=True)
class Outcome:
    """What the rolls of one job cost one after the other and together, and the bound."""

    apart: float
    together: float
    bound: float

    @property
    def gap(self) -> float:
        """How far the bound lies below the cost, as a part of it."""
        return (self.together - self.bound) / self.together if self.together else 0.0


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--jobs", type=int, default=60)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--thorough", action="store_true")
    arguments = parser.parse_args()
    found: dict[str, list[Outcome]] = {"one length of roll": [], "two lengths of roll": []}
    for seed in range(arguments.first, arguments.first + arguments.jobs):
        job = read_job_text(integrated_job(seed), f"seed-{seed}.json")
        walls = develop(job)
        started = time.process_time()
        apart = one_after_the_other(job, walls)
        middle = time.process_time()
        search = IntegratedSearch(job, walls, thorough=arguments.thorough)
        best = search.run()
        ended = time.process_time()
        cost, before, bound = best.sheet.cost, apart.sheet.cost, search.bound_money()
        assert cost is not None and before is not None and bound is not None and bound <= cost <= before
        outcome = Outcome(float(before), float(cost), float(bound))
        found["two lengths of roll" if len(job.sheet.rolls) > 1 else "one length of roll"].append(outcome)
        said = "proven" if outcome.gap == 0 else f"{outcome.gap:6.2%}"
        print(f"{seed:4d} drops {len(best.field.drops):4d}  apart {before:8}  together {cost:8}  bound {bound:8}  "
              f"{said}  {middle - started:5.1f} {ended - middle:5.1f} s", flush=True)
    for name, outcomes in [*found.items(), ("all", [each for some in found.values() for each in some])]:
        gaps = [each.gap for each in outcomes if each.gap]
        saved = [each.apart - each.together for each in outcomes if each.together < each.apart]
        print(f"{name}: proven {len(outcomes) - len(gaps)} of {len(outcomes)}; mean gap of the others "
              f"{mean(gaps) if gaps else 0:.2%}, of all {sum(gaps) / max(1, len(outcomes)):.2%}; "
              f"cheaper in {len(saved)} by {sum(saved):.2f} of {sum(each.apart for each in outcomes):.2f}")


if __name__ == "__main__":
    main()
