"""Time the cutting-stock search on files of published instances and print what it proves, class by class.

    python tests/bench/cutting.py FILE [--class C] [--name N] [--limit SECONDS] [--json]

FILE holds {"instances": [{"class", "name", "stock", "lengths", "demand", "optimum", "known_bounds"}, …]}.
With --json one object an instance is printed: class, name, rolls, bound, optimal, seconds. Seconds, and the limit, are
processor seconds of the one core that is used, so that a busy machine gives the same table.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import time
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]

from helpers.tree import solve_by_tree  # noqa: E402  (found only once the path is set)

from layout.rolls import Effort, Item, Problem, Stock  # noqa: E402  (found only once the path is set)


def run(instance: dict[str, Any], limit: float) -> dict[str, Any]:
    """Solve one instance and return what is proven of it."""
    items = tuple(Item(length, 1, count) for length, count in zip(instance["lengths"], instance["demand"]))
    problem = Problem(items, (Stock(instance["stock"], 1, 1),))
    start = time.process_time()
    answer = solve_by_tree(problem, Effort(stop=lambda: time.process_time() - start > limit))
    seconds = time.process_time() - start
    assert answer is not None
    result = {
        "class": instance.get("class", ""), "name": instance["name"], "rolls": answer.cost,
        "bound": answer.proof.bound, "optimal": answer.optimal, "seconds": round(seconds, 3),
    }
    check(instance, result)
    return result


def check(instance: dict[str, Any], result: dict[str, Any]) -> None:
    """Stop when an answer contradicts what is known of an instance."""
    optimum = instance.get("optimum")
    least, most = instance.get("known_bounds") or (optimum or 0, optimum or result["rolls"])
    if result["rolls"] < least or result["bound"] > most or result["bound"] > result["rolls"]:
        raise SystemExit(f"{result['name']}: {result} contradicts the known bounds {least} to {most}")


def table(results: list[dict[str, Any]]) -> list[str]:
    """Return one line a class and one for all: instances, proven, median and worst seconds."""
    groups: dict[str, list[dict[str, Any]]] = {}
    for result in results:
        groups.setdefault(result["class"], []).append(result)
    lines = [f"{'class':16} {'proven':>9} {'median s':>9} {'worst s':>9}"]
    for name, group in [*groups.items(), ("all", results)]:
        seconds = [result["seconds"] for result in group]
        proven = f"{sum(result['optimal'] for result in group)}/{len(group)}"
        lines.append(f"{name:16} {proven:>9} {statistics.median(seconds):9.2f} {max(seconds):9.2f}")
    return lines


def main() -> None:
    """Read the arguments, run, print."""
    parser = argparse.ArgumentParser(description="Time the cutting-stock search on published instances.")
    parser.add_argument("file", type=Path)
    parser.add_argument("--class", dest="kind", default="", help="only classes whose name contains this")
    parser.add_argument("--name", default="", help="only instances whose name contains this")
    parser.add_argument("--limit", type=float, default=60.0, help="seconds an instance may take")
    parser.add_argument("--json", action="store_true", help="one JSON object an instance")
    options = parser.parse_args()
    results = []
    for instance in json.loads(options.file.read_text())["instances"]:
        if options.kind in instance.get("class", "") and options.name in instance["name"]:
            results.append(run(instance, options.limit))
            if options.json:
                print(json.dumps(results[-1]), flush=True)
    if results and not options.json:
        print("\n".join(table(results)))
        for result in results:
            if not result["optimal"]:
                print(f"open: {result['class']} {result['name']}: {result['rolls']} rolls, bound {result['bound']}")


if __name__ == "__main__":
    main()
