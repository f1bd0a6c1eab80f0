"""What each device of the integrated search buys: switched off one at a time, over seeded jobs.

    python tests/bench/ablation.py [--jobs N] [--first SEED] [--device NAME]

Prints for each device the jobs that cost more or prove less without it, and the seconds of processor with and without.
A device that buys nothing on any job goes.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from unittest.mock import patch

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]

from helpers.integrated_jobs import integrated_job  # noqa: E402

from layout.faces import develop  # noqa: E402
from layout.job import read_job_text  # noqa: E402
from layout.integrated import search as integrated  # noqa: E402
from layout.integrated.market import Market  # noqa: E402
from layout.rolls import small  # noqa: E402

EFFORTS = {"dives": {"dives": 0}, "branching on roll counts": {"boxes": 0}}
"""Devices of the cutting: what an effort is without them."""


@contextmanager
def without(device: str) -> Iterator[None]:
    """Switch a device off."""
    if device in EFFORTS:
        with patch.object(integrated, "FIRST", replace(integrated.FIRST, **EFFORTS[device])), \
                patch.object(integrated, "TRIAL", replace(integrated.TRIAL, **EFFORTS[device])):
            yield
    elif device == "pairing":
        with patch.object(integrated, "QUICK", replace(integrated.QUICK, paired_turns=0)):
            yield
    elif device == "market":
        with patch.object(Market, "settle", Market.by_length):
            yield
    elif device == "layouts of each turn":
        with patch.object(integrated.IntegratedSearch, "_better", lambda self, best, _: best):
            yield
    elif device == "lanes of small pieces":
        with patch.object(small, "in_lanes", lambda *_: None):
            yield
    elif device == "splits at roll ends":
        with patch.object(integrated, "to_the_ends", lambda *_, **__: None):
            yield
    elif device == "rooms":
        with patch.object(integrated, "rooms_beside", lambda *_: []):
            yield
    else:
        yield


DEVICES = (
    *EFFORTS, "pairing", "market", "layouts of each turn", "lanes of small pieces", "splits at roll ends",
    "rooms",
)


def run(seed: int) -> tuple[int, int, float]:
    """Return cost, bound and seconds of one job."""
    job = read_job_text(integrated_job(seed), f"seed-{seed}.json")
    walls = develop(job)
    started = time.process_time()
    search = integrated.IntegratedSearch(job, walls)
    best = search.run()
    return search._cost(best), search.bound, time.process_time() - started


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--jobs", type=int, default=15)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--device", choices=DEVICES)
    arguments = parser.parse_args()
    seeds = range(arguments.first, arguments.first + arguments.jobs)
    plain = {seed: run(seed) for seed in seeds}
    for device in [arguments.device] if arguments.device else DEVICES:
        with without(device):
            off = {seed: run(seed) for seed in seeds}
        dearer = {seed: off[seed][0] - plain[seed][0] for seed in seeds if off[seed][0] != plain[seed][0]}
        proves = {seed: off[seed][1] - plain[seed][1] for seed in seeds if off[seed][1] != plain[seed][1]}
        print(f"without {device}: cost {dearer or 'the same'}, bound {proves or 'the same'}, "
              f"{sum(each[2] for each in off.values()):.1f} s for {sum(each[2] for each in plain.values()):.1f} s",
              flush=True)


if __name__ == "__main__":
    main()
