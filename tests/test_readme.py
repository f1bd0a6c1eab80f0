"""The README says what the program does: its commands, its printed example, its layers."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from click.testing import CliRunner

import cli
from layout.drawing.model.layers import layer_table

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_printed_example_is_what_plan_prints(tmp_path: Path) -> None:
    shown = re.search(r"samples/basement\.yaml` prints:\n\n```text\n(.*?)\n```", README, re.S)
    assert shown is not None
    folder = tmp_path / "basement-packet"
    run = CliRunner().invoke(cli.main, ["plan", str(ROOT / "samples/basement.yaml"), "-o", str(folder)])
    assert run.exit_code == 0
    assert run.output.strip().replace(str(folder), "samples/basement-packet") == shown[1]


def test_every_command_is_in_the_table() -> None:
    for name in cli.main.commands:
        assert f"| `{name}" in README


def test_the_layer_table_is_the_programs() -> None:
    for row in csv.DictReader(io.StringIO(layer_table())):
        assert f"| {row['use']} | `{row['name']}` | {row['meaning']} |" in README
