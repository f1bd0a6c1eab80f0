"""A packet in which a file was changed since it was written is told by ``check`` and refused by ``revise``."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from cli import main
from helpers.frozen import frozen_plan
from helpers.packets import write_drawings, write_rest, write_tables
from layout import packet

CHANGED = "{}: a file has been changed since the packet was written (needed the file as it was written, "


def edited(name: str, old: bytes, new: bytes) -> Callable[[Path], None]:
    """Return a change of some bytes of a file."""
    def change(folder: Path) -> None:
        data = (folder / name).read_bytes()
        assert old in data
        (folder / name).write_bytes(data.replace(old, new, 1))

    return change


def replaced(name: str, put: Callable[[Path], None]) -> Callable[[Path], None]:
    """Return a change that puts something else where a file was."""
    def change(folder: Path) -> None:
        (folder / name).unlink()
        put(folder / name)

    return change


def written(name: str, data: bytes) -> Callable[[Path], None]:
    return lambda folder: (folder / name).write_bytes(data) and None  # type: ignore[func-returns-value]


DEVICE = replaced("elevations.dxf", lambda path: path.symlink_to("/dev/zero"))
NO_FILE = "a file cannot be read as what it should be (needed a file, found a folder, a device or a pipe)"
FORGED: list[tuple[int, str, Callable[[Path], None], str]] = [
    (109, "a drawing's label", edited("elevations/t-1-side.svg", b"</svg>", b"<!-- by hand --></svg>"),
     CHANGED.format("elevations/t-1-side.svg")),
    (109, "a comment in the DXF", edited("elevations.dxf", b"  0\nEOF", b"999\nby hand\n  0\nEOF"),
     CHANGED.format("elevations.dxf")),
    (101, "no sums", lambda folder: (folder / packet.SUMS).unlink(),
     "SHA256SUMS: a file of the packet is missing (needed a file, found nothing)"),
    (102, "sums of files elsewhere", written(packet.SUMS, b"0" * 64 + b"  ../x\n"),
     "SHA256SUMS: a file cannot be read as what it should be (needed names inside the packet, found ../x)"),
    (102, "a device", DEVICE, f"elevations.dxf: {NO_FILE}"),
    (102, "a pipe", replaced("cut-list.csv", lambda path: os.mkfifo(path)), f"cut-list.csv: {NO_FILE}"),
    (102, "a folder", replaced("packet.pdf", lambda path: path.mkdir()), f"packet.pdf: {NO_FILE}"),
    (102, "a link to itself", replaced("rolls.svg", lambda path: path.symlink_to(path.name)),
     "rolls.svg: a file cannot be read as what it should be (needed a file that can be read, found OSError)"),
    (102, "an SVG cut off", replaced("elevations/t-1-side.svg", lambda path: path.write_text("<svg")),
     "elevations/t-1-side.svg: a file cannot be read as what it should be"),
    (102, "half a surrogate pair", edited("plan.json", b'"tag": "', b'"tag": "\\ud800'),
     "plan.json: a file cannot be read as what it should be (needed JSON, found UnicodeEncodeError)"),
    (102, "no number in a certificate", edited("plan.json", b'"scale": ', b'"scale": Infinity, "was": '),
     "plan.json: a file cannot be read as what it should be (needed JSON, found ValueError)"),
    (102, "a number past all bounds", edited("plan.json", b'"scale": ', b'"scale": 1e999, "was": '),
     "plan.json: a file cannot be read as what it should be (needed JSON, found ValueError)"),
]


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("good") / "packet"
    plan = frozen_plan("bank")
    write_tables(plan, folder)
    write_drawings(plan, folder)
    write_rest(plan, folder)
    return folder


def test_a_packet_as_it_was_written_passes(good: Path) -> None:
    assert CliRunner().invoke(main, ["check", str(good)]).output == f"{good}: no findings\n"


def test_the_sums_are_those_that_sha256sum_checks(good: Path) -> None:
    lines = (good / packet.SUMS).read_text().splitlines()
    assert lines == [f"{hashlib.sha256((good / name).read_bytes()).hexdigest()}  {name}" for name in sorted(
        path.relative_to(good).as_posix() for path in good.rglob("*") if path.is_file() and path.name != packet.SUMS)]


@pytest.mark.parametrize(("number", "change", "told"), [
    pytest.param(number, change, told, id=name, marks=() if at in (0, 4) else pytest.mark.slow)
    for at, (number, name, change, told) in enumerate(FORGED)])
def test_a_changed_packet_is_told_and_not_worked_on(
    number: int, change: Callable[[Path], None], told: str, good: Path, tmp_path: Path,
) -> None:
    folder = tmp_path / "packet"
    shutil.copytree(good, folder)
    change(folder)
    checked = CliRunner().invoke(main, ["check", str(folder)])
    assert (checked.exit_code, checked.exception.__class__) == (1, SystemExit), checked.output
    assert checked.output.startswith(f"{number}: {told}")
    revised = CliRunner().invoke(main, ["revise", str(folder), "--cut", "R01"])
    place, what = told.split(": ", 1)
    assert revised.exit_code == 2
    assert revised.stderr.startswith(f"{folder}: must be a packet that passes the audit (got {number}: {place}: "
                                     + what.partition(" (needed")[0])
    assert not (tmp_path / "packet-revised").exists()
