"""Many small houses in one run: seconds, peak memory, rolls and cost, together and one by one.

``python tests/bench/together.py [--jobs N ...] [--workers N] [--random] [--against-one]``: for each N that many small
houses (or random walls) are planned together; ``--against-one`` also does them with one worker and tells the ratio.
Seconds of the wall mean something on an idle machine only; seconds of processor are told beside them, and how many of
them this process took itself, which is the part that more workers do not shorten.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[2])]

from helpers.together_jobs import write_jobs  # noqa: E402  (found beside the tests when run as a script)

from layout.together import Alone, Cores, Engine, Report, plan_together, sources  # noqa: E402

PAGE = os.sysconf("SC_PAGE_SIZE")


def memory_of_all(parent: int) -> int:
    """Return the memory of a process and of all that came from it [bytes]."""
    parents = {}
    sizes = {}
    for name in os.listdir("/proc"):
        if name.isdigit():
            try:
                stat = Path(f"/proc/{name}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
                parents[int(name)] = int(stat[1])
                sizes[int(name)] = int(Path(f"/proc/{name}/statm").read_text(encoding="utf-8").split()[1]) * PAGE
            except (OSError, IndexError):
                continue
    mine = {parent}
    while True:
        more = {child for child, of in parents.items() if of in mine} - mine
        if not more:
            return sum(sizes.get(each, 0) for each in mine)
        mine |= more


class Watch:
    """Looks at the memory twice a second."""

    def __init__(self) -> None:
        self.most = 0
        self.over = threading.Event()
        self.thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> Watch:
        self.thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.over.set()
        self.thread.join()

    def _look(self) -> None:
        while not self.over.wait(0.5):
            self.most = max(self.most, memory_of_all(os.getpid()))


def once(folder: Path, name: str, engine: Engine) -> tuple[Report, float, float, float, int]:
    """Plan the jobs of a folder; return the report, seconds, and peak memory [bytes].

    The seconds are of the wall, of processor in this process, and of processor in the workers.
    """
    def processor() -> tuple[float, float]:
        own, others = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
        return own.ru_utime + own.ru_stime, others.ru_utime + others.ru_stime

    before, begun = processor(), time.monotonic()
    with Watch() as watch:
        report = plan_together(sources([folder / "jobs"]), folder / name, engine=engine)
        engine.close()  # what its processes took is known once they have ended
    own, others = (now - then for now, then in zip(processor(), before, strict=True))
    return report, time.monotonic() - begun, own, others, watch.most


def main() -> None:
    """Print a line for each number of jobs."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, nargs="+", default=[100])
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--random", action="store_true")
    parser.add_argument("--against-one", action="store_true")
    given = parser.parse_args()
    for count in given.jobs:
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            write_jobs(folder / "jobs", count, small=not given.random)
            report, wall, own, others, memory = once(folder, "out", Cores(given.workers))
            failed = sum(bool(line.status) for line in report.lines)
            print(f"{count} jobs, {given.workers} workers: {wall:.1f} s of the wall, "
                  f"{own + others:.1f} s of processor, {own:.1f} s of them in this process, "
                  f"{memory / 1e6:,.0f} MB, {failed} failed")
            for _, lot in report.lots:
                print(f"  {lot.product.name}: {lot.rolls:,} rolls for {lot.cost:,}; one by one {lot.alone:,}; at least "
                      f"{lot.bound:,}")
            if given.against_one:
                _, alone, own, others, _ = once(folder, "one", Alone())
                print(f"  one after the other: {alone:.1f} s of the wall, {own + others:.1f} s of processor; ratio "
                      f"{wall / alone:.2f}")


if __name__ == "__main__":
    main()
