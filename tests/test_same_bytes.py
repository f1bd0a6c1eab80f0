"""The same job gives the same bytes: whatever the hash seed, the time zone, the locale, the threads, the folder."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PLAN = """
import locale, sys
try:
    locale.setlocale(locale.LC_ALL, "")
except locale.Error:
    pass  # this system has no such locale: the variables alone must not matter
sys.path.insert(0, {root!r})
sys.argv = ["lapwright", "plan", {job!r}, "-o", {folder!r}]
from cli import main
main()
"""
PLACES = [
    {"PYTHONHASHSEED": "0", "TZ": "UTC", "LC_ALL": "C", "OMP_NUM_THREADS": "1"},
    {"PYTHONHASHSEED": "4242", "TZ": "Pacific/Kiritimati", "LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8",
     "OMP_NUM_THREADS": "4", "SOURCE_DATE_EPOCH": "1"},
    {"PYTHONHASHSEED": "7", "TZ": "America/St_Johns", "LC_ALL": "de_DE.UTF-8", "LC_NUMERIC": "de_DE.UTF-8",
     "OMP_NUM_THREADS": "2", "PYTHONUTF8": "0", "COLUMNS": "40"},
]
SAMPLES = {"basement": PLACES, "hillside": PLACES[1:], "metric": PLACES[:2], "long-wall": PLACES[:2]}
"""Where each sample is planned: the small one everywhere, the others in two places."""


def packet(job: Path, folder: Path, place: dict[str, str]) -> dict[str, bytes]:
    """Plan a job in a process of its own and return the packet's files."""
    code = PLAN.format(root=str(ROOT), job=str(job), folder=str(folder))
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("LC_", "LANG", "PYTHON"))}
    done = subprocess.run([sys.executable, "-c", code], env={**environment, **place}, capture_output=True, text=True,
                          timeout=600, check=False, cwd=folder.parent)
    assert done.returncode == 0, done.stderr
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def differing(job: Path, tmp_path: Path, places: list[dict[str, str]]) -> list[str]:
    """Return the names of files that differ between packets made in different places."""
    packets = []
    for number, place in enumerate(places):
        at = tmp_path / f"place-{number}"
        at.mkdir()
        packets.append(packet(job, at / "packet", place))
    first, *others = packets
    assert len(first) > 8
    return sorted({name for other in others for name in {*first, *other} if first.get(name) != other.get(name)})


@pytest.mark.slow
def test_a_small_job_twice(tmp_path: Path) -> None:
    assert differing(ROOT / "tests" / "data" / "ring.yaml", tmp_path, PLACES[:2]) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
def test_the_samples(name: str, tmp_path: Path) -> None:
    assert differing(ROOT / "samples" / f"{name}.yaml", tmp_path, SAMPLES[name]) == []
