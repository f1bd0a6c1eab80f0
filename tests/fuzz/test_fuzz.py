"""A bounded share of fuzzing among the long tests, the same cases on every machine: a fifth of a round, and twelve."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).resolve().parent / "fuzz.py"


def fuzz(tmp_path: Path, *, rounds: float, seed: int) -> None:
    """Run the fuzzer in a process of its own, its memory bounded, and show what broke."""
    found = tmp_path / "found"
    words = [sys.executable, str(SCRIPT), "--rounds", str(rounds), "--seed", str(seed), "--found", str(found)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=rounds * 60 + 120, check=False)
    traces = [path.read_text(encoding="utf-8") for path in sorted(found.glob("*.txt"))[:3]] if found.exists() else []
    assert done.returncode == 0, done.stdout + done.stderr + "\n".join(traces)
    assert "cases" in done.stdout


@pytest.mark.slow
def test_a_fifth_of_a_round(tmp_path: Path) -> None:
    fuzz(tmp_path, rounds=0.2, seed=1)


@pytest.mark.slow
def test_twelve_rounds(tmp_path: Path) -> None:
    fuzz(tmp_path, rounds=12, seed=2)
