"""Times the placement of one long run: ``python tests/bench/placement.py [--drops N] [--closed] [--profile]``.

The run is level ground with something every 20 ft: in turn a step of the footing, a window and a sleeve. Prints the
drops placed, seconds and peak memory.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from layout.drops import place  # noqa: E402
from layout.records import FaceSpan, Hole, Profile, Rules, SeamClearance, Wall  # noqa: E402

INCH = 16
FOOT = 12 * INCH
WIDTH = 36 * INCH
SIDE_LAP = 40
EVERY = 20 * FOOT

RULES = Rules(
    side_lap=SIDE_LAP, end_lap=5 * INCH, end_lap_stagger=12 * INCH, top="wall", above_grade=0, turn_down=(64, 96),
    fillet=12, opening_return=0, min_width=12 * INCH, max_piece=12 * FOOT, clear_of_corner=96, clear_of_sleeve=96,
    clear_of_opening=96, clear_of_step=96, corner_strip=192, base_strip=192, base_strip_up=64, collar_reach=96,
    cover_lap=96,
    cut_allowance=0, cut_to=1, keep_remnant=768,
)


def long_wall(drops: int, *, closed: bool) -> Wall:
    """Return a run about as long as so many full drops at the least lap."""
    length = drops * (WIDTH - SIDE_LAP) + SIDE_LAP
    footing: list[tuple[int, int]] = [(0, 0)]
    holes: list[Hole] = []
    keeps: list[SeamClearance] = []
    for i, station in enumerate(range(EVERY, length - 5 * FOOT, EVERY)):
        if i % 3 == 0:
            level = footing[-1][1]
            footing += [(station, level), (station, -2 * FOOT if level == 0 else 0)]
            keeps.append(SeamClearance("clear_of_step", f"step {i}", station, station, RULES.clear_of_step))
        elif i % 3 == 1:
            right = station + (3 * FOOT if i % 2 else 8 * FOOT)
            if right < length - FOOT:
                tag = f"W{i}"
                holes.append(Hole(tag, "window", station, right, 5 * FOOT, 7 * FOOT))
                keeps += [
                    SeamClearance("clear_of_opening", tag, x, x, RULES.clear_of_opening) for x in (station, right)]
        else:
            keeps.append(SeamClearance("clear_of_sleeve", f"P{i}", station - 32, station + 32, RULES.clear_of_sleeve))
    if closed:
        footing.append((length, footing[0][1]))
    else:
        footing.append((length, footing[-1][1]))
    bottom: Profile = tuple((x, y - 153) for x, y in footing)
    top: Profile = ((0, 8 * FOOT), (length, 8 * FOOT))
    return Wall(
        run="A", layer="membrane", closed=closed, length=length, turn_down=64,
        faces=(FaceSpan("Long", 0, length, "none", 90.0, 96, 153, 192),), top=top, bottom=bottom,
        footing=tuple(footing), wall_top=top, grade=None, holes=tuple(holes), rounds=(), keeps=tuple(keeps),
        slopes=((0, length, "right"),),
    )


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--drops", type=int, default=10_000)
    reader.add_argument("--closed", action="store_true")
    reader.add_argument("--profile", action="store_true")
    asked = reader.parse_args()
    wall = long_wall(asked.drops, closed=asked.closed)
    if asked.profile:
        import cProfile

        profiler = cProfile.Profile()
        profiler.enable()
    start, start_cpu = time.perf_counter(), time.process_time()
    layout = place(wall, RULES, width=WIDTH, side_lap=SIDE_LAP, prefix="A")
    seconds, cpu = time.perf_counter() - start, time.process_time() - start_cpu
    if asked.profile:
        profiler.disable()
        profiler.print_stats("tottime")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{len(layout.drops)} drops, {wall.length / FOOT:,.0f} ft")
    print(f"{seconds:.2f} s ({cpu:.2f} s of processor), peak {peak:,.0f} MB")
    print(f"proven {layout.proven}, {layout.cost}")


if __name__ == "__main__":
    main()
