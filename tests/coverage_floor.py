"""Says how much of layout/ the tests ran, from a coverage report in JSON; the exit status is 1 below the floor.

``python -m pytest --cov=layout --cov-report=json:coverage.json; python tests/coverage_floor.py coverage.json``
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

LINES, BRANCHES = 95.0, 90.0
"""Least share of lines and of branches [per cent]."""


def shares(report: Path) -> tuple[float, float, str]:
    """Return the shares of lines and of branches that were run [per cent], and the counts in words."""
    totals = json.loads(report.read_text(encoding="utf-8"))["totals"]
    lines = 100 * totals["covered_lines"] / totals["num_statements"]
    branches = 100 * totals["covered_branches"] / totals["num_branches"]
    return lines, branches, (
        f"lines {totals['covered_lines']} of {totals['num_statements']} ({lines:.2f} %), "
        f"branches {totals['covered_branches']} of {totals['num_branches']} ({branches:.2f} %)")


def main() -> int:
    """Print the figures of a report."""
    lines, branches, words = shares(Path(sys.argv[1]))
    print(f"{words}; at least {LINES:g} % and {BRANCHES:g} % are asked for")
    return 0 if lines >= LINES and branches >= BRANCHES else 1


if __name__ == "__main__":
    sys.exit(main())
