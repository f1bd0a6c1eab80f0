"""A bounded share of fuzzing: a few seconds by default, a minute in the long tests."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).resolve().parent / "fuzz.py"


def fuzz(tmp_path: Path, *, seconds: int, seed: int) -> None:
    """Run the fuzzer in a process of its own, its memory bounded, and show what broke."""
    found = tmp_path / "found"
    words = [sys.executable, str(SCRIPT), "--seconds", str(seconds), "--seed", str(seed), "--found", str(found)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=seconds * 4 + 120, check=False)
    traces = [path.read_text(encoding="utf-8") for path in sorted(found.glob("*.txt"))[:3]] if found.exists() else []
    assert done.returncode == 0, done.stdout + done.stderr + "\n".join(traces)
    assert "cases" in done.stdout


def test_a_few_seconds(tmp_path: Path) -> None:
    fuzz(tmp_path, seconds=6, seed=1)


@pytest.mark.slow
def test_a_minute(tmp_path: Path) -> None:
    fuzz(tmp_path, seconds=60, seed=2)
