"""Many small houses in one run: seconds, peak memory, rolls and cost, together and one by one.

``python tests/bench/together.py [--jobs N ...] [--workers N] [--random] [--against-one]``: for each N that many small
houses (or random walls) are planned together; ``--against-one`` also does them with one worker and tells the ratio.
Seconds of the wall mean something on an idle machine only; seconds of processor are told beside them, and how many of
them this process took itself, which is the part that more workers do not shorten. What this process imports before it
begins is in none of the figures; what the processes import that it starts is.
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

from layout.garbage import seldom  # noqa: E402
from layout.together import Alone, Cores, Engine, Report, plan_together, sources  # noqa: E402

PAGE = os.sysconf("SC_PAGE_SIZE")
TICK = 1 / os.sysconf("SC_CLK_TCK")


def living(parent: int) -> dict[int, float]:
    """Return a process and all living that came from it, with the seconds of processor that it and its ended ones took.

    What a process took that lives on when the work is done, as the one that workers are forked from, is not yet in
    what ``getrusage`` tells of children.
    """
    parents: dict[int, int] = {}
    seconds: dict[int, float] = {}
    for name in os.listdir("/proc"):
        if name.isdigit():
            try:
                stat = Path(f"/proc/{name}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
            except OSError:
                continue
            parents[int(name)] = int(stat[1])
            seconds[int(name)] = sum(map(int, stat[11:15])) * TICK
    mine = {parent}
    while more := {child for child, of in parents.items() if of in mine} - mine:
        mine |= more
    return {each: seconds[each] for each in mine if each in seconds}


def memory_of_all(parent: int) -> int:
    """Return the memory of a process and of all that came from it, what they share counted once for each [bytes]."""
    total = 0
    for each in living(parent):
        try:
            total += int(Path(f"/proc/{each}/statm").read_text(encoding="utf-8").split()[1]) * PAGE
        except (OSError, IndexError):
            continue
    return total


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

    The seconds are of the wall, of processor in this process, and of processor in all.
    """
    def processor() -> tuple[float, float]:
        own = resource.getrusage(resource.RUSAGE_SELF)
        return own.ru_utime + own.ru_stime, sum(living(os.getpid()).values())

    before, begun = processor(), time.monotonic()
    with Watch() as watch:
        report = plan_together(sources([folder / "jobs"]), folder / name, engine=engine)
        engine.close()  # what its processes took is known once they have ended
    own, every = (now - then for now, then in zip(processor(), before, strict=True))
    return report, time.monotonic() - begun, own, every, watch.most


def main() -> None:
    """Print a line for each number of jobs."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, nargs="+", default=[100])
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--random", action="store_true")
    parser.add_argument("--against-one", action="store_true")
    given = parser.parse_args()
    seldom()  # as the command does
    for count in given.jobs:
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            write_jobs(folder / "jobs", count, small=not given.random)
            report, wall, own, every, memory = once(folder, "out", Cores(given.workers))
            failed = sum(bool(line.status) for line in report.lines)
            print(f"{count} jobs, {given.workers} workers: {wall:.1f} s of the wall, "
                  f"{every:.1f} s of processor, {own:.1f} s of them in this process, "
                  f"{memory / 1e6:,.0f} MB, {failed} failed")
            for line in report.lines:
                if line.status:
                    print(f"  {line.file}: {line.status}: " + "; ".join(line.faults[:3]))
            for _, lot in report.lots:
                print(f"  {lot.product.name}: {lot.rolls:,} rolls for {lot.cost:,}; one by one {lot.alone:,}; at least "
                      f"{lot.bound:,}")
            if given.against_one:
                _, alone, _, lone, _ = once(folder, "one", Alone())
                print(f"  one after the other: {alone:.1f} s of the wall, {lone:.1f} s of processor; ratio "
                      f"{wall / alone:.2f} of the wall, {every / lone:.2f} of processor")


if __name__ == "__main__":
    main()
