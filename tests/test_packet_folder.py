"""The packet is written as one folder: whole, or not at all, and never outside its place."""

from __future__ import annotations

import errno
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

from helpers.crew_plan import crew_plan
from helpers.folders import FILES, SVG, listing, write
from layout import packet
from layout.errors import DrawingError, JobError, LayoutError
from layout.job import starter
from layout.packet import folder as folder_module
from layout.records import Finding
from layout.revise import read_earlier


@pytest.fixture(scope="module", autouse=True)
def early(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, bytes], float]:
    """The files of a packet, and when they were written [s]."""
    place = tmp_path_factory.mktemp("early") / "p"
    write(place)
    return listing(place), time.monotonic()


def test_a_packet_holds_every_file_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    place = tmp_path / "deep" / "er" / "job-packet"
    assert write(place) == ()
    assert sorted(listing(place)) == FILES
    assert os.listdir(place.parent) == ["job-packet"]


def test_an_older_packet_is_replaced_whole(tmp_path: Path) -> None:
    write(tmp_path / "p")
    (tmp_path / "p" / "elevations" / "a-gone.svg").write_text(SVG)
    write(tmp_path / "p")
    assert sorted(listing(tmp_path / "p")) == FILES
    assert os.listdir(tmp_path) == ["p"]


def test_an_empty_folder_may_become_a_packet(tmp_path: Path) -> None:
    (tmp_path / "p").mkdir()
    write(tmp_path / "p")
    assert sorted(listing(tmp_path / "p")) == FILES


def refuse_file(place: Path) -> None:
    place.write_text("mine")


def refuse_other_folder(place: Path) -> None:
    place.mkdir()
    (place / "photo.jpg").write_text("mine")


def refuse_other_plan(place: Path) -> None:
    place.mkdir()
    (place / "plan.json").write_text('{"format": "other"}')


def refuse_broken_plan(place: Path) -> None:
    place.mkdir()
    (place / "plan.json").write_text("[" * 100_000)


def refuse_progress(place: Path) -> None:
    write(place)
    (place / "progress.json").write_text('{"format": "lapwright progress", "cut": ["A-01"]}')


@pytest.mark.parametrize("make, words", [
    (refuse_file, "is a file, not a packet folder"),
    (refuse_other_folder, "is a folder but not a packet"),
    (refuse_other_plan, "is a folder but not a packet"),
    (refuse_broken_plan, "is a folder but not a packet"),
    (refuse_progress, "holds the progress file progress.json"),
])
def test_what_is_no_packet_is_left_alone(tmp_path: Path, make: Callable[[Path], None], words: str) -> None:
    place = tmp_path / "p"
    make(place)
    before = place.read_bytes() if place.is_file() else listing(place)
    with pytest.raises(LayoutError, match=words):
        write(place)
    assert (place.read_bytes() if place.is_file() else listing(place)) == before
    assert os.listdir(tmp_path) == ["p"]


def zeros(file: Path) -> None:
    with open(file, "wb") as out:
        out.truncate(50_000_000_000)  # no room on the disk is taken


def device(file: Path) -> None:
    file.symlink_to("/dev/zero")


def not_text(file: Path) -> None:
    file.write_bytes(b'{"format": "\xff"}')


def deep(file: Path) -> None:
    file.write_bytes(b"[" * 100_000)


def folder(file: Path) -> None:
    file.mkdir()


def gone(file: Path) -> None:
    pass


BAD_FILES = [
    (zeros, "plan.json: must be at most 400 MB"),
    (device, "plan.json: must be a file, not a folder, a device or a pipe"),
    (os.mkfifo, "plan.json: must be a file, not a folder, a device or a pipe"), (folder, "plan.json: must be a file"),
    (not_text, "plan.json:1: must be UTF-8 text"), (deep, "plan.json: must be a plan that this program wrote"),
    (gone, "plan.json: cannot be read: no such file"),
]


@pytest.mark.parametrize("make, words", BAD_FILES)
def test_a_plan_that_is_too_large_or_no_file_is_no_packet(
    tmp_path: Path, make: Callable[[Path], None], words: str,
) -> None:
    """Neither to write over, nor to work from: plainly refused, and left alone."""
    place = tmp_path / "p"
    place.mkdir()
    (place / "job.yaml").write_text(starter("wall"))
    make(place / "plan.json")
    with pytest.raises(LayoutError, match="is a folder but not a packet"):
        write(place)
    with pytest.raises(JobError, match=words):
        read_earlier(place, lambda folder: ())
    assert set(os.listdir(place)) == {"job.yaml", "plan.json"} - ({"plan.json"} if make is gone else set())


@pytest.mark.parametrize("name", [
    "../out.svg", "/tmp/out.svg", "a/../../out.svg", "", "a//b.svg", ".", "a\\b.svg", "c:out.svg", "a\nb.svg",
    "a" * 200,
])
def test_no_file_is_written_outside_the_packet(tmp_path: Path, name: str) -> None:
    with pytest.raises(DrawingError, match="a packet cannot hold a file named"):
        write(tmp_path / "p", drawings={name: SVG})
    assert os.listdir(tmp_path) == []


def fail(path: Path) -> None:
    path.write_text("half")
    raise OSError(28, "No space left on device")


def test_a_failure_leaves_the_older_packet(tmp_path: Path) -> None:
    write(tmp_path / "p")
    before = listing(tmp_path / "p")
    with pytest.raises(LayoutError, match="cannot be written: No space left on device"):
        write(tmp_path / "p", drawings={"elevations.dxf": fail})
    assert listing(tmp_path / "p") == before
    assert os.listdir(tmp_path) == ["p"]


def test_a_failure_of_any_kind_leaves_nothing(tmp_path: Path) -> None:
    def interrupt(path: Path) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write(tmp_path / "p", drawings={"elevations.dxf": interrupt})
    assert os.listdir(tmp_path) == []


def test_a_packet_with_a_finding_is_put_beside_its_place(tmp_path: Path) -> None:
    write(tmp_path / "p")
    before = listing(tmp_path / "p")
    finding = Finding(1, "A-01", "36", "35", "too narrow")
    seen = []

    def check(place: Path) -> list[Finding]:
        seen.append(sorted(listing(place)))
        return [finding]

    for _ in range(2):
        assert write(tmp_path / "p", check=check) == (finding,)
    assert seen == [FILES, FILES]
    assert listing(tmp_path / "p") == before
    assert sorted(listing(tmp_path / "p-rejected")) == FILES
    assert sorted(os.listdir(tmp_path)) == ["p", "p-rejected"]


def test_a_link_to_a_packet_is_followed(tmp_path: Path) -> None:
    write(tmp_path / "real")
    (tmp_path / "link").symlink_to("real")
    (tmp_path / "real" / "elevations" / "a-gone.svg").write_text(SVG)
    write(tmp_path / "link")
    assert (tmp_path / "link").is_symlink()
    assert sorted(listing(tmp_path / "real")) == FILES


def test_without_an_exchange_the_older_packet_is_renamed_aside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folder_module, "exchange", lambda one, other: False)
    for _ in range(3):
        write(tmp_path / "p")
    assert sorted(listing(tmp_path / "p")) == FILES
    assert os.listdir(tmp_path) == ["p"]


def test_what_a_killed_run_left_is_mended(tmp_path: Path) -> None:
    """Killed between its two renames, a run leaves the older packet aside; the next puts it back, even if it fails."""
    place = tmp_path / "p"
    write(place)
    before = listing(place)
    prefix = folder_module.hidden_prefix(place)
    (tmp_path / (prefix + "lapwright-old-x")).mkdir()
    place.rename(tmp_path / (prefix + "lapwright-old-x") / "packet")
    (tmp_path / (prefix + "lapwright-new-y")).mkdir()
    with pytest.raises(LayoutError):
        write(place, drawings={"elevations.dxf": fail})
    assert listing(place) == before
    assert os.listdir(tmp_path) == ["p"]


def test_a_failed_swap_puts_the_older_packet_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The new packet cannot be renamed in, ever: the older one is put back each time, and the run gives up."""
    place = tmp_path / "p"
    write(place)
    before = listing(place)
    real = os.rename

    def rename(source: Path, target: Path) -> None:
        if Path(target) == place and "lapwright-new-" in str(source):
            raise OSError(errno.EACCES, "Permission denied")
        real(source, target)

    monkeypatch.setattr(folder_module, "exchange", lambda one, other: False)
    monkeypatch.setattr(os, "rename", rename)
    with pytest.raises(LayoutError, match="cannot be written: Permission denied"):
        write(place)
    assert listing(place) == before
    assert os.listdir(tmp_path) == ["p"]


def test_a_live_runs_folder_is_not_taken_for_one_left_behind(tmp_path: Path) -> None:
    """The inner run ends first and cleans up after others, but not the outer run's folder that is still in use."""
    place = tmp_path / "p"

    def another(path: Path) -> None:
        packet.write_folder(crew_plan(name="inner"), "x", place, drawings={})
        path.write_text("0\nEOF\n")

    write(place, drawings={"elevations.dxf": another})
    assert json.loads((place / "plan.json").read_text())["job"]["name"] == "Alder Row basement"
    assert os.listdir(tmp_path) == ["p"]


def test_the_root_is_no_place_for_a_packet() -> None:
    with pytest.raises(LayoutError, match="a packet needs a folder of its own"):
        write(Path("/"))


def test_a_long_name_in_any_script_is_no_trouble(tmp_path: Path) -> None:
    place = tmp_path / ("שרוול" * 20 + "🌊" * 10)
    write(place)
    assert sorted(listing(place)) == FILES
    assert os.listdir(tmp_path) == [place.name]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(LayoutError, match="cannot be written"):
        write(tmp_path / "p")


def test_the_same_plan_gives_the_same_bytes(early: tuple[dict[str, bytes], float], tmp_path: Path) -> None:
    files, when = early
    time.sleep(max(0.0, when + 2.1 - time.monotonic()))  # zip files keep time to two seconds
    write(tmp_path / "p")
    assert listing(tmp_path / "p") == files


LOOP = """
import sys
sys.path[:0] = [{tests!r}]
from pathlib import Path
from helpers.crew_plan import crew_plan
from layout import packet
print("ready", flush=True)
for _ in range({rounds}):
    packet.write_folder(crew_plan(name={name!r}), "x", Path({place!r}), drawings={{}})
"""


def loop(place: Path, name: str, rounds: int) -> subprocess.Popen[str]:
    code = LOOP.format(tests=str(Path(__file__).parent), rounds=rounds, name=name, place=str(place))
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert process.stdout and process.stdout.readline() == "ready\n"
    return process


def whole(place: Path) -> str:
    """Check that a packet is whole and return the name of its job."""
    plan = json.loads((place / "plan.json").read_text())
    assert sorted(listing(place)) == [name for name in FILES if name in packet_only()]
    assert plan["job"]["name"] in (place / "packet.html").read_text()
    return str(plan["job"]["name"])


def packet_only() -> set[str]:
    return {"SHA256SUMS", "cut-list.csv", "cut-list.xlsx", "job.yaml", "order.csv", "packet-worker.js", "packet.html",
            "packet.webmanifest", "plan.json", "takeoff.csv"}


def test_two_runs_at_once_leave_one_whole_packet(tmp_path: Path) -> None:
    place = tmp_path / "p"
    runs = [loop(place, name, 4) for name in ("one", "two")]
    assert [run.wait(60) for run in runs] == [0, 0]
    assert whole(place) in ("one", "two")
    assert os.listdir(tmp_path) == ["p"]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL")
@pytest.mark.parametrize("moments", [
    pytest.param((1, 4), id="two"), pytest.param(range(6), id="six", marks=pytest.mark.slow)])
def test_killed_at_any_moment_a_run_leaves_a_whole_packet(tmp_path: Path, moments: Iterable[int]) -> None:
    place = tmp_path / "p"
    packet.write_folder(crew_plan(name="before"), "x", place, drawings={})
    for moment in moments:
        run = loop(place, f"after {moment}", 1000)
        time.sleep(0.01 + 0.037 * moment)
        run.kill()
        run.wait()
        whole(place)
    packet.write_folder(crew_plan(name="last"), "x", place, drawings={})
    assert whole(place) == "last"
    assert os.listdir(tmp_path) == ["p"]
