"""Writing, seen from outside: the command killed, the disk full, the folder locked; the old packet or the new one."""

from __future__ import annotations

import ctypes
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from click.testing import CliRunner, Result

import cli
import layout.pipeline

ROOT = Path(__file__).resolve().parent.parent
RING = ROOT / "tests" / "data" / "ring.yaml"


def command(*words: str | Path) -> list[str]:
    """Return a command of the program."""
    return [sys.executable, str(ROOT / "cli.py"), *map(str, words)]


def plan(job: Path, folder: Path) -> subprocess.CompletedProcess[str]:
    """Plan a job to the end."""
    return subprocess.run(command("plan", job, "-o", folder), capture_output=True, text=True, timeout=120, check=False)


def held(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def other_job(folder: Path) -> Path:
    """Return another job for the same place."""
    job = folder / "other.yaml"
    job.write_text(RING.read_text(encoding="utf-8").replace("name: Ring", "name: Other ring"), encoding="utf-8")
    return job


def plan_here(job: Path, folder: Path) -> Result:
    """Plan a job to the end, in this process."""
    return CliRunner().invoke(cli.main, ["plan", str(job), "-o", str(folder)])


class Packets(NamedTuple):
    """What two jobs' packets hold when nothing goes wrong."""

    ring: dict[str, bytes]
    other: dict[str, bytes]


@pytest.fixture(scope="module")
def packets(tmp_path_factory: pytest.TempPathFactory) -> Packets:
    folder = tmp_path_factory.mktemp("whole")
    for job, name in ((RING, "ring"), (other_job(folder), "other")):
        done = plan_here(job, folder / name)
        assert done.exit_code == 0, done.stderr
    made = Packets(held(folder / "ring"), held(folder / "other"))
    assert made.ring != made.other
    return made


@pytest.fixture(scope="module")
def seconds(tmp_path_factory: pytest.TempPathFactory, packets: Packets) -> float:
    """How long the command takes to write a packet [s]."""
    folder = tmp_path_factory.mktemp("timed")
    started = time.monotonic()
    run = plan(RING, folder / "ring")
    took = time.monotonic() - started
    assert run.returncode == 0, run.stderr
    assert held(folder / "ring") == packets.ring
    return took


def lay(packet: dict[str, bytes], place: Path) -> None:
    """Put a packet in its place."""
    for name, data in packet.items():
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        (place / name).write_bytes(data)


def started(job: Path, place: Path) -> subprocess.Popen[str]:
    """Start to plan a job."""
    return subprocess.Popen(command("plan", job, "-o", place), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
                            text=True)


def wait_until_it_writes(run: subprocess.Popen[str], place: Path) -> None:
    """Wait until a run is in the middle of the packet that it makes aside: its drawing is there or begun."""
    while not [path for path in place.parent.rglob("elevations.dxf") if path.parent != place]:
        assert run.poll() is None, run.communicate()
        time.sleep(0.002)


def test_killed_while_it_writes(tmp_path: Path, packets: Packets) -> None:
    place, other = tmp_path / "packet", other_job(tmp_path)
    lay(packets.ring, place)
    run = started(other, place)
    wait_until_it_writes(run, place)
    run.send_signal(signal.SIGKILL)
    run.communicate(timeout=60)
    assert run.returncode == -signal.SIGKILL
    assert held(place) == packets.ring
    assert len(os.listdir(tmp_path)) > 2
    assert plan_here(other, place).exit_code == 0
    assert held(place) == packets.other
    assert sorted(os.listdir(tmp_path)) == ["other.yaml", "packet"]


@pytest.mark.slow
def test_killed_a_hundred_times(tmp_path: Path, packets: Packets, seconds: float) -> None:
    """Kill the command again and again at random moments; the packet is always one of the two, whole."""
    rng = random.Random(2)
    place, other = tmp_path / "packet", other_job(tmp_path)
    lay(packets.ring, place)
    killed = 0
    for number in range(100):
        run = started((other, RING)[number % 2], place)
        # most tries fall into the last part of a run, where files are written
        time.sleep(seconds * (rng.uniform(0.5, 1.1) if rng.random() < 0.8 else rng.uniform(0, 0.5)))
        run.send_signal(signal.SIGKILL)
        run.communicate(timeout=60)
        killed += run.returncode == -signal.SIGKILL
        assert held(place) in packets
    assert plan_here(other, place).exit_code == 0
    assert held(place) == packets.other
    assert sorted(os.listdir(tmp_path)) == ["other.yaml", "packet"]
    print(f"{killed} of 100 runs were killed before they ended")
    assert killed >= 50


def test_interrupted_twice_leaves_the_old_packet(tmp_path: Path, packets: Packets) -> None:
    place = tmp_path / "packet"
    lay(packets.ring, place)
    run = started(other_job(tmp_path), place)
    wait_until_it_writes(run, place)
    for _ in range(3):
        run.send_signal(signal.SIGINT)
        time.sleep(0.1)
    _, errors = run.communicate(timeout=60)
    assert held(place) in packets
    assert "Traceback" not in errors
    assert sorted(os.listdir(tmp_path)) == ["other.yaml", "packet"]


def test_no_room_for_a_file_leaves_the_old_packet(tmp_path: Path, packets: Packets) -> None:
    place = tmp_path / "packet"
    lay(packets.ring, place)

    job, before = other_job(tmp_path), resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, before[1]))
    try:
        done = plan_here(job, place)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert done.exit_code == 2
    assert "Traceback" not in done.stderr and done.stderr.count("\n") == 1
    assert held(place) == packets.ring
    assert sorted(os.listdir(tmp_path)) == ["other.yaml", "packet"]


@pytest.mark.skipif(os.geteuid() != 0 or shutil.which("mount") is None, reason="only root may mount a small disk")
@pytest.mark.parametrize("kilobytes", [
    pytest.param(8, marks=pytest.mark.slow), 40, pytest.param(120, marks=pytest.mark.slow),
    pytest.param(300, marks=pytest.mark.slow),
])
def test_a_full_disk_leaves_the_old_packet(tmp_path: Path, packets: Packets, kilobytes: int) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(disk)], check=False,
                             capture_output=True)
    if mounted.returncode:
        pytest.skip("this system mounts no tmpfs")
    try:
        place = disk / "packet"
        lay(packets.ring, place)
        free = os.statvfs(disk).f_bavail * os.statvfs(disk).f_frsize
        with open(disk / "ballast", "wb") as ballast:
            ballast.write(b"x" * max(free - kilobytes * 1024, 0))
        done = plan_here(other_job(tmp_path), place)
        assert done.exit_code == 2 and "Traceback" not in done.stderr, done.stderr
        assert "space" in done.stderr
        assert held(place) == packets.ring
        assert sorted(os.listdir(disk)) == ["ballast", "packet"]
    finally:
        subprocess.run(["umount", str(disk)], check=False)


def test_a_folder_that_may_not_be_written_is_left_as_it_was(tmp_path: Path, packets: Packets) -> None:
    place, job = tmp_path / "folder" / "packet", other_job(tmp_path)
    place.parent.mkdir()
    lay(packets.ring, place)

    def no_override() -> None:
        """Take from root the right to write where nobody may (PR_CAPBSET_DROP, CAP_DAC_OVERRIDE: capabilities(7))."""
        ctypes.CDLL(None).prctl(24, 1, 0, 0, 0)

    place.parent.chmod(0o500)
    try:
        done = subprocess.run(command("plan", job, "-o", place), capture_output=True, text=True, timeout=120,
                              check=False, preexec_fn=no_override)
    finally:
        place.parent.chmod(0o700)
    assert done.returncode == 2 and done.stderr.count("\n") == 1 and "cannot be written" in done.stderr, done.stderr
    assert held(place) == packets.ring
    assert os.listdir(place.parent) == ["packet"]


@pytest.mark.slow
def test_two_plans_at_once_leave_one_packet_whole(tmp_path: Path, packets: Packets) -> None:
    place, other = tmp_path / "packet", other_job(tmp_path)
    runs = [subprocess.Popen(command("plan", job, "-o", place), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
                             text=True) for job in (RING, other)]
    for run in runs:
        _, errors = run.communicate(timeout=120)
        assert run.returncode == 0, errors
    assert held(place) in packets
    assert sorted(os.listdir(tmp_path)) == ["other.yaml", "packet"]


def test_a_plan_that_the_audit_rejects_is_put_aside_and_the_status_says_so(
    tmp_path: Path, packets: Packets, monkeypatch: pytest.MonkeyPatch,
) -> None:
    place, whole = tmp_path / "packet", layout.pipeline.make_plan
    lay(packets.ring, place)

    def one_seam_less(*words: Any, **options: Any) -> Any:
        made = whole(*words, **options)
        return replace(made, seams=made.seams[1:])

    monkeypatch.setattr(layout.pipeline, "make_plan", one_seam_less)
    for _ in range(2):
        done = plan_here(other_job(tmp_path), place)
        assert done.exit_code == 4
        assert "\n301: R-01 and R-02, run R" in done.output
        assert done.output.endswith("the audit rejected this plan; it is in packet-rejected\n")
        assert held(place) == packets.ring
        assert sorted(os.listdir(tmp_path)) == ["other.yaml", "packet", "packet-rejected"]
    checked = CliRunner().invoke(cli.main, ["check", str(tmp_path / "packet-rejected")])
    assert checked.exit_code == 1 and checked.output.startswith("301: R-01 and R-02")


NAMES = ["../outside", "/etc/outside", "con", "x" * 120, "🌊", ".", "a/b:c", "$(touch x)", "..", "CON", "a b", "A_B"]


@pytest.mark.parametrize("first", [0, pytest.param(4, marks=pytest.mark.slow), pytest.param(8, marks=pytest.mark.slow)])
def test_no_name_writes_outside_the_packet(tmp_path: Path, first: int) -> None:
    job = tmp_path / "job.yaml"
    text = RING.read_text(encoding="utf-8")
    for old, new in zip(("One", "Two", "Three", "Four"), NAMES[first:first + 4], strict=True):
        text = text.replace(f"name: {old},", f'name: "{new}",')
    job.write_text(text.replace("name: R\n", f'name: "{NAMES[first]}"\n'), encoding="utf-8")
    here = tmp_path / "here"
    here.mkdir()
    done = plan_here(job, here / "packet")
    assert done.exit_code == 0, done.stderr
    assert sorted(os.listdir(tmp_path)) == ["here", "job.yaml"]
    assert os.listdir(here) == ["packet"]
    assert len(list((here / "packet" / "elevations").glob("*.svg"))) == 4
    assert all(len(path.name) < 80 and path.name.isascii() for path in (here / "packet").rglob("*"))


@pytest.mark.parametrize("names", [
    pytest.param(("W" * 120, "12.50 ft + 3.00 ft, 1,234.00", "a\\\\(b)",
                  "proof: no layout and no cutting of it costs less than 1.00"),
                 id="long and figures", marks=pytest.mark.slow),
    pytest.param(("הקיר 12", "الاول لا 3.00 ft", "🌊 office " + "e\u0301" * 55, "地下室の壁" * 20),
                 id="letters of the world", marks=pytest.mark.slow),
])
def test_no_name_makes_the_audit_reject_a_plan(tmp_path: Path, names: tuple[str, ...]) -> None:
    text = RING.read_text(encoding="utf-8")
    for old, new in zip(("One", "Two", "Three", "Four"), names, strict=True):
        text = text.replace(f"name: {old},", f'name: "{new}",')
    job = tmp_path / "job.yaml"
    job.write_text(text.replace("name: R\n", f'name: "{names[0]}"\n'), encoding="utf-8")
    done = plan_here(job, tmp_path / "packet")
    assert done.exit_code == 0, done.stderr


def test_a_name_too_long_is_refused(tmp_path: Path) -> None:
    job = tmp_path / "job.yaml"
    job.write_text(RING.read_text(encoding="utf-8").replace("name: One", f"name: {'x' * 300}"), encoding="utf-8")
    done = plan_here(job, tmp_path / "packet")
    assert done.exit_code == 2 and "runs.R.faces." in done.stderr and ".name: must have at most 120" in done.stderr
    assert os.listdir(tmp_path) == ["job.yaml"]


@pytest.mark.parametrize(("told", "signals", "said"), [
    ("placing the drops", 1, "stopped before there was any plan; nothing is written"),
    ("cutting the rolls; best so far 410.00", 2, "given up; nothing is written"),
])
def test_what_ctrl_c_ends_is_named(told: str, signals: int, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended, cli.plain_errors(), cli.Watch().running() as tell:
        tell(told)
        for _ in range(signals):
            signal.raise_signal(signal.SIGINT)
    assert ended.value.code == 130
    assert capsys.readouterr().err.splitlines()[-1] == said
