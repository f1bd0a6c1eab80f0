"""Whatever is damaged is a finding or a plain refusal: no traceback, no hang, and no changed packet passes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

BENCH = Path(__file__).resolve().parent / "bench" / "damage.py"


def damage(first: int, cases: int) -> None:
    """Run some cases of the bench in a process of its own."""
    words = [sys.executable, str(BENCH), "--from", str(first), "--cases", str(cases)]
    done = subprocess.run(words, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONHASHSEED": "0"})
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]
    assert "packet refused" in done.stdout and "progress refused" in done.stdout


def test_damaged_files_are_refused_plainly() -> None:
    damage(190, 25)  # among them files of every kind


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 2_000, 500))
def test_thousands_of_damaged_files_are_refused_plainly(first: int) -> None:
    damage(first, 500)
