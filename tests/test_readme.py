"""The README says what the program does: its commands, its printed example, its layers."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from click.testing import CliRunner

import cli
from layout.drawing.model import layers
from layout.drawing.model.layers import layer_table
from layout.job import limits
from layout.job import survey
from layout.job.ifc import model
from layout.job.survey import table
from layout.job.trace import curves, document, reader
from layout.revise import progress

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_printed_example_is_what_plan_prints(tmp_path: Path) -> None:
    shown = re.search(r"samples/basement\.yaml` prints:\n\n```text\n(.*?)\n```", README, re.S)
    assert shown is not None
    folder = tmp_path / "basement-packet"
    run = CliRunner().invoke(cli.main, ["plan", str(ROOT / "samples/basement.yaml"), "-o", str(folder)])
    assert run.exit_code == 0
    assert run.output.strip().replace(str(folder), "samples/basement-packet") == shown[1]


def test_the_limits_are_the_programs() -> None:
    """Every number of the table, row by row, in the order it stands there."""
    limits_table = README[README.index("## Limits"):README.index("## What it does not do")]
    lines = [line for line in limits_table.splitlines() if line.startswith("| ")]
    rows = [re.findall(r"[0-9][0-9,]*", line.split("|")[2]) for line in lines][1:]
    mega, kilo = 1_000_000, 1_000
    told: list[list[int | str]] = [
        [limits.MAX_BYTES // mega, limits.MAX_LINES, limits.MAX_LINE, limits.MAX_VALUES, limits.MAX_DEPTH],
        [limits.MAX_RUNS, limits.MAX_FACES, limits.MAX_FACE_LENGTH, limits.MAX_WALL_HEIGHT],
        [limits.MAX_FEATURES_A_FACE, limits.MAX_FEATURES],
        [limits.MAX_POINTS, limits.MAX_POINTS_TOGETHER],
        [limits.MAX_DROPS, limits.MAX_PIECES],
        [limits.MAX_ROLLS, limits.MAX_REMNANTS, limits.MAX_ROLL_LENGTH, limits.MAX_SHEET_WIDTH],
        [limits.MAX_DETAIL],
        [limits.MAX_LIST, limits.MAX_NAME],
        [limits.MAX_ELEVATION, 0],
        [document.MAX_DXF_BYTES // mega, document.MAX_BINARY_BYTES // mega, document.MAX_RECORDS, reader.MAX_BLOCKS,
         reader.MAX_READ, curves.MAX_CORNERS, reader.MAX_WORDS],
        [model.MAX_IFC_BYTES // mega, model.MAX_ELEMENTS, model.MAX_POINTS],
        [survey.MAX_SURVEY_BYTES // mega, table.MAX_ROWS, table.MAX_COLUMNS],
        [progress.MOST_BYTES // mega, layers.MOST_BYTES // kilo],
    ]
    assert reader.MAX_DRAWN == document.MAX_RECORDS
    assert [[int(number.replace(",", "")) for number in row] for row in rows] == [
        [limit if isinstance(limit, int) else int(limit.removesuffix(" ft")) for limit in row] for row in told]


def test_every_command_is_in_the_table() -> None:
    for name in cli.main.commands:
        assert f"| `{name}" in README


def test_the_layer_table_is_the_programs() -> None:
    for row in csv.DictReader(io.StringIO(layer_table())):
        assert f"| {row['use']} | `{row['name']}` | {row['meaning']} |" in README
