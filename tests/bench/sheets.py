"""Counts sheets: ``python tests/bench/sheets.py [SAMPLE …] [--paper NAME …]``.

Prints for each sample and paper the scale, how many sheets the set has, how many of them show elevations, and what
share of each is used, as its list of sheets tells.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from layout.drawing.cad_sheets import cad_set  # noqa: E402
from layout.drawing.model.entities import CadSet, Text  # noqa: E402
from layout.job import read_job  # noqa: E402
from layout.pipeline import make_plan  # noqa: E402

SAMPLES = Path(__file__).resolve().parents[2] / "samples"


def shares(cad: CadSet) -> Iterator[tuple[str, str]]:
    """Yield the number and the used share of each sheet as the list of sheets has them."""
    for page in cad.pages:
        words = [each.text for each in page.entities if isinstance(each, Text)]
        for at, word in enumerate(words[:-2]):
            if re.fullmatch(r"Z-\d+", word) and re.fullmatch(r"\d+%", words[at + 2]):
                yield word, words[at + 2]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("samples", nargs="*", metavar="SAMPLE")
    parser.add_argument("--paper", nargs="+", default=["ARCH D", "A1", "tabloid"])
    asked = parser.parse_args()
    print(f"{'sample':<12}{'paper':<9}{'scale':>6}{'sheets':>8}{'elevations':>12}  share of each used")
    for name in asked.samples or ["long-wall", "hillside"]:
        plan = make_plan(read_job(SAMPLES / f"{name}.yaml"), stop=lambda: True)
        for paper in asked.paper:
            cad = cad_set(plan, paper=paper)
            shown = sum("elevation" in page.title.lower() for page in cad.pages)
            used = "  ".join(f"{number} {share}" for number, share in shares(cad))
            print(f"{name:<12}{paper:<9}{f'1:{cad.scale}':>6}{len(cad.pages):>8}{shown:>12}  {used}")


if __name__ == "__main__":
    main()
