"""Time the cutting of made-up but realistic jobs: sixteenths, priced roll lengths, remnants, narrow pieces.

    python tests/bench/jobs.py [--whole] [--narrow] [--seed N] [--limit SECONDS] [--json]

Sixty seeded jobs: thirty of whole-width pieces, thirty with a third of the pieces narrower than the roll. Seconds are
processor seconds of one core.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path
from random import Random
from typing import Any

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]

from layout.rolls import Effort, Item, Problem, Stock, solve  # noqa: E402  (found only once the path is set)

WIDTH = 36 * 16
FOOT = 12 * 16
ROLLS = (50 * FOOT, 800 * 16, 400 * 16, 60 * FOOT, 75 * FOOT)
NARROW = (6, 8, 12, 12, 12, 16, 18, 24, 30)


def job(seed: int, *, narrow: bool) -> Problem:
    """Return one made-up job.

    Parameters
    ----------
    seed
        Which job.
    narrow
        A third of its pieces are narrower than the roll, some of them small enough to be turned.
    """
    random = Random(seed * 2 + narrow)
    pieces = round(20 * 100 ** (seed % 30 / 29))
    kinds = random.randint(3, min(60, pieces // 2))
    rolls = random.sample(ROLLS, random.randint(1, 3))
    stocks = []
    for length in rolls:
        price = round(length / FOOT * random.uniform(2.8, 3.4))
        limit = random.choice((None, None, random.randint(1, 5))) if len(stocks) else None
        stocks.append(Stock(length, WIDTH, price * 100, limit))
    for _ in range(random.randint(0, 15)):
        stocks.append(Stock(random.randint(3 * FOOT, 30 * FOOT), WIDTH, 0, 1))
    centre = random.randint(7 * FOOT, 12 * FOOT)
    counts: dict[tuple[int, int, bool], int] = {}
    sizes = [_size(random, centre, narrow and number % 3 == 0, min(rolls)) for number in range(kinds)]
    whole = [size for size in sizes if size[1] == WIDTH] or sizes
    small = [size for size in sizes if size[1] < WIDTH] or sizes
    for number in range(pieces):
        size = random.choice(small if narrow and number % 3 == 0 else whole)
        counts[size] = counts.get(size, 0) + 1
    items = tuple(
        Item(length, width, count, turn) for (length, width, turn), count in sorted(counts.items(), reverse=True))
    return Problem(items, tuple(stocks))


def _size(random: Random, centre: int, narrow: bool, longest: int) -> tuple[int, int, bool]:
    """Return a size: most drops are near one height, some are short, narrow ones may be collars."""
    if not narrow:
        length = random.randint(centre - 24 * 16, centre + 24 * 16) if random.random() < 0.8 else random.randint(
            2 * FOOT, 2 * centre)
        return min(length, longest), WIDTH, False
    width = random.choice(NARROW) * 16
    if random.random() < 0.3:
        side = random.randint(14, 30) * 16
        return side, side, True
    return min(random.randint(3 * FOOT, centre), longest), width, random.random() < 0.2


def run(seed: int, *, narrow: bool, limit: float) -> dict[str, Any]:
    """Solve one job and return what is proven of it."""
    problem = job(seed, narrow=narrow)
    start = time.process_time()
    answer = solve(problem, Effort(stop=lambda: time.process_time() - start > limit))
    seconds = time.process_time() - start
    assert answer is not None and answer.proof.bound <= answer.cost
    return {
        "job": ("narrow " if narrow else "whole ") + str(seed), "pieces": problem.pieces, "sizes": len(problem.items),
        "stocks": len(problem.stocks), "cost": answer.cost, "bound": answer.proof.bound, "optimal": answer.optimal,
        "gap": round((answer.cost - answer.proof.bound) / max(1, answer.proof.bound), 5), "seconds": round(seconds, 2),
    }


def main() -> None:
    """Read the arguments, run, print."""
    parser = argparse.ArgumentParser(description="Time the cutting of made-up jobs.")
    parser.add_argument("--whole", action="store_true", help="only the jobs of whole-width pieces")
    parser.add_argument("--narrow", action="store_true", help="only the jobs with narrow pieces")
    parser.add_argument("--seed", type=int, default=None, help="only this seed")
    parser.add_argument("--limit", type=float, default=60.0, help="seconds a job may take")
    parser.add_argument("--json", action="store_true", help="one JSON object a job")
    options = parser.parse_args()
    for narrow in (False, True):
        if (options.whole and narrow) or (options.narrow and not narrow):
            continue
        results = []
        for seed in range(30) if options.seed is None else [options.seed]:
            results.append(run(seed, narrow=narrow, limit=options.limit))
            if options.json:
                print(json.dumps(results[-1]), flush=True)
        proven = sum(result["optimal"] for result in results)
        worst = max(result["seconds"] for result in results)
        gap = max(result["gap"] for result in results)
        if not options.json:
            kind = "narrow" if narrow else "whole"
            print(f"{kind}: {proven}/{len(results)} proven, worst {worst} s, widest gap {gap:.3%}")


if __name__ == "__main__":
    main()
