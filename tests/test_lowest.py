"""The lowest versions that setup.cfg allows are enough: the package installs, imports, plans and audits with them."""

from __future__ import annotations

import configparser
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def requirements() -> list[str]:
    """Return the packages that the program needs, as setup.cfg has them."""
    parser = configparser.ConfigParser()
    parser.read(ROOT / "setup.cfg", encoding="utf-8")
    return [line.strip() for line in parser["options"]["install_requires"].splitlines() if line.strip()]


@pytest.mark.parametrize("line", requirements())
def test_each_requirement_has_a_lower_bound_and_no_upper_one(line: str) -> None:
    assert re.fullmatch(r"[A-Za-z0-9._-]+>=[0-9.]+", line)


@pytest.mark.slow
def test_the_lowest_versions_plan(tmp_path: Path) -> None:
    subprocess.run([sys.executable, "-m", "venv", str(tmp_path / "venv")], check=True, timeout=300)
    python = str(tmp_path / "venv" / "bin" / "python")
    lowest = [line.replace(">=", "==") for line in requirements()]
    subprocess.run([python, "-m", "pip", "install", "-q", "--disable-pip-version-check", *lowest], check=True,
                   timeout=1200)
    folder = tmp_path / "packet"
    for words in (["plan", str(ROOT / "tests" / "data" / "nook.yaml"), "-o", str(folder)], ["check", str(folder)]):
        done = subprocess.run([python, str(ROOT / "cli.py"), *words], capture_output=True, text=True, timeout=600,
                              check=False, cwd=tmp_path)
        assert done.returncode == 0, done.stdout + done.stderr
