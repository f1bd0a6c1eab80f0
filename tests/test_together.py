"""Many jobs from one yard: cheaper than one by one, promised once, the same however they are spread over workers."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

import cli
from helpers.together_jobs import write_jobs
from layout import stock
from layout.errors import JobError, LayoutError
from layout.files import read_bytes
from layout.pipeline import audit_folder
from layout.together import Alone, Cluster, Cores, Engine, Report, plan_together, sources
from layout.together import run as together_run
from layout.together.engine import Lost

ROOT = Path(__file__).resolve().parent.parent


def run(*arguments: str) -> tuple[int, str, str]:
    """Run a command and return its exit status, stdout and stderr."""
    result = CliRunner().invoke(cli.main, list(arguments))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


def wall(folder: Path, name: str, length: float, start: str, **more: object) -> Path:
    """Write a straight wall of drops 100 in long; a roll holds 8 of them at 205."""
    folder.mkdir(exist_ok=True)
    path = folder / f"{name}.json"
    path.write_text(json.dumps({
        "job": {"name": name}, "sheet": {"name": "yard sheet", "width": 36, "rolls": [{"length": 800, "price": 205}]},
        "rules": {"turn_down": 4, "corner_strip": 0, "base_strip": 0, "cut_to": "1/16", "roll_end": 0},
        "schedule": {"start": start},
        "runs": [{"name": "A", "faces": [{"name": "South", "length": length, "top": 96}]}], **more,
    }), encoding="utf-8")
    return path


def digest(folder: Path) -> str:
    """Return what stands for every byte of a folder."""
    found = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            found.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return found.hexdigest()


def check_promises(folder: Path) -> None:
    """Check over all packets: every remnant is used once, and what was handed on was there, as long as that."""
    used: Counter[tuple[str, str]] = Counter()
    for packet in sorted(folder.glob("*-packet")):
        assert audit_folder(packet) == ()
        data = json.loads((packet / "plan.json").read_text(encoding="utf-8"))
        for roll in data["rolls"]:
            if roll["remnant"]:
                used[roll["product"], roll["stock"]] += 1
                giver, _, tag = roll["stock"].rpartition("-R" if roll["product"] == "membrane" else "-S")
                source = folder / f"{giver}-packet" / "plan.json"
                if source.is_file() and "-strip" not in tag:
                    rolls = json.loads(source.read_text(encoding="utf-8"))["rolls"]
                    given = next(each for each in rolls if each["tag"].endswith(tag) and each["product"] ==
                                 roll["product"])
                    assert given["leftover"]["length"] >= roll["length"]
    assert not [remnant for remnant, count in used.items() if count > 1]


def test_three_walls_worked_by_hand(tmp_path: Path) -> None:
    """Five drops each: alone a roll each, 615. Together 15 drops of 8 a roll: 2 rolls, 410, and less is not possible.

    5 x 36 - 4 x 2 1/2 = 170 in. The first to start opens rolls; later ones cut on what it leaves.
    """
    jobs = tmp_path / "jobs"
    for name, start in (("late", "2026-06-01"), ("early", "2026-05-01"), ("middle", "2026-05-11")):
        wall(jobs, name, 170, start)
    status, out, err = run("plan", str(jobs), "--together", "-o", str(tmp_path / "out"), "--workers", "1")
    assert (status, err) == (0, "")
    assert "yard sheet: 2 rolls for 410.00; one by one 3 rolls for 615.00: 205.00 saved" in out
    assert "no cutting of all these pieces from this stock costs less" in out
    assert max(len(line) for line in out.splitlines() if "-packet" not in line and "order.csv" not in line) <= 100
    told = json.loads((tmp_path / "out" / "together.json").read_text(encoding="utf-8"))
    assert [job["place"] for job in told["jobs"]] == [0, 2, 1]  # early, late, middle by name; cut by start
    delivery, = [each for each in told["deliveries"] if each["product"] == "membrane"]
    assert (delivery["rolls"], delivery["cost"], delivery["alone"], delivery["bound"], delivery["optimal"]) == (
        2, 410.0, 615.0, 410.0, True)
    with open(tmp_path / "out" / "order.csv", encoding="utf-8", newline="") as file:
        line, = csv.DictReader(file)
    assert (line["buy"], line["cost"], line["needed_by"]) == ("2", "410.00", "2026-05-01")
    check_promises(tmp_path / "out")


def test_a_long_roll_is_dealt_to_two_walls_of_which_each_would_take_a_short_one(tmp_path: Path) -> None:
    """Five drops and three, of 100 in: alone a roll of 600 in each, 320, and the end of the first holds one drop more.

    3 x 36 - 2 x 2 1/2 = 103 in. All eight are just a roll of 800 in, 205: one roll must hold them, or two cost 320.
    """
    jobs = tmp_path / "jobs"
    sheet = {"name": "yard sheet", "width": 36, "rolls": [{"length": 800, "price": 205}, {"length": 600, "price": 160}]}
    wall(jobs, "first", 170, "2026-05-01", sheet=sheet)
    wall(jobs, "second", 103, "2026-05-11", sheet=sheet)
    status, out, err = run("plan", str(jobs), "--together", "-o", str(tmp_path / "out"), "--workers", "1")
    assert (status, err) == (0, "")
    assert "yard sheet: 1 rolls for 205.00; one by one 2 rolls for 320.00: 115.00 saved" in out
    check_promises(tmp_path / "out")
    second = json.loads((tmp_path / "out" / "second-packet" / "plan.json").read_text(encoding="utf-8"))
    roll, = second["rolls"]
    assert (roll["remnant"], roll["length"]) == (True, 300.0) and len(roll["cuts"]) == 3


@pytest.mark.slow
def test_deliveries_are_cut_one_after_the_other(tmp_path: Path) -> None:
    """Of two deliveries the first buys a roll for 5 drops; its end of 300 in serves 3 of the second's 5."""
    jobs = tmp_path / "jobs"
    wall(jobs, "b", 170, "2026-05-20", delivery={"date": "2026-05-15"})
    wall(jobs, "a", 170, "2026-06-20", delivery={"date": "2026-04-15"})
    assert run("plan", str(jobs), "--together", "-o", str(tmp_path / "out"), "--workers", "1")[0] == 0
    told = json.loads((tmp_path / "out" / "together.json").read_text(encoding="utf-8"))
    assert [(each["delivery"], each["jobs"]) for each in told["deliveries"] if each["product"] == "membrane"] == [
        ("2026-04-15", ["a"]), ("2026-05-15", ["b"])]
    check_promises(tmp_path / "out")


def test_an_end_is_kept_by_what_can_be_cut_from_it(tmp_path: Path) -> None:
    """Eight drops of a roll of 848 leave 48 in, of which a bought roll loses 1: less than the 48 that are kept."""
    wall(tmp_path / "jobs", "a", 270.5, "2026-05-01",  # 8 x 36 - 7 x 2 1/2
         sheet={"name": "yard sheet", "width": 36, "rolls": [{"length": 848, "price": 205}]},
         rules={"turn_down": 4, "corner_strip": 0, "base_strip": 0, "cut_to": "1/16", "roll_end": 1,
                "keep_remnant": 48})
    status, _, err = run("plan", str(tmp_path / "jobs"), "--together", "-o", str(tmp_path / "out"), "--workers", "1")
    assert (status, err) == (0, "")
    roll, = json.loads((tmp_path / "out" / "a-packet" / "plan.json").read_text(encoding="utf-8"))["rolls"]
    assert roll["leftover"] == {"length": 48, "width": 36, "keep": False}


def test_faults_of_one_never_stop_the_others(tmp_path: Path) -> None:
    jobs = tmp_path / "jobs"
    wall(jobs, "good", 170, "2026-05-01")
    wall(jobs, "short", 505, "2026-05-02", sheet={"width": 36, "rolls": [{"length": 800, "price": 1, "on_hand": 1}]})
    (jobs / "broken.yaml").write_text("job: {name: x}\nsheet: {width: -1}\n", encoding="utf-8")
    (jobs / "empty.yaml").write_text("", encoding="utf-8")
    status, out, err = run("plan", str(jobs), "--together", "-o", str(tmp_path / "out"), "--workers", "1")
    assert status == 2
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "good-packet", "jobs.csv", "order.csv", "order.xlsx", "together.json"]
    assert "broken.yaml:2: sheet.width: must be" in err and "short.json: no layout" in err
    assert f"{jobs}/empty.yaml" in err and "1 of 4 jobs have a packet" in out
    with open(tmp_path / "out" / "jobs.csv", encoding="utf-8", newline="") as file:
        rows = {row["job"]: row for row in csv.DictReader(file)}
    assert (rows["good"]["status"], rows["short"]["status"], rows["broken"]["status"]) == ("0", "3", "2")


def test_each_job_is_read_once_and_one_that_cannot_be_is_a_fault_of_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
) -> None:
    read: list[str] = []

    def counted(path: Path, most: int) -> bytes:
        read.append(path.name)
        return read_bytes(path, most)

    monkeypatch.setattr(together_run, "read_bytes", counted)
    good = wall(tmp_path, "good", 170, "2026-05-01")
    os.mkfifo(tmp_path / "pipe.json")
    report = plan_together(sources([tmp_path / "pipe.json", good]), tmp_path / "out", engine=Alone())
    assert read == ["pipe.json", "good.json"]
    assert [(line.status, line.faults) for line in report.lines] == [
        (2, (f"{tmp_path / 'pipe.json'}: must be a file, not a folder, a device or a pipe",)), (0, ())]


def test_what_is_named_is_looked_at_before_anything_is_planned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(Cluster, "ANSWERS_WITHIN", 0.5)
    (tmp_path / "none").mkdir()
    with pytest.raises(JobError) as found:
        sources([tmp_path / "none", tmp_path / "missing.yaml"])
    assert len(found.value.faults) == 2
    wall(tmp_path / "jobs", "a", 170, "2026-05-01")
    assert [each.name for each in sources([tmp_path / "jobs", tmp_path / "jobs" / "a.json"])] == ["a"]
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("x", encoding="utf-8")
    status, _, err = run("plan", str(tmp_path / "jobs"), "--together", "-o", str(tmp_path / "mine"))
    assert status == 2 and "it was left alone" in err and os.listdir(tmp_path / "mine") == ["letter.txt"]
    (tmp_path / "mine" / "letter.txt").unlink()
    os.mkfifo(tmp_path / "mine" / "together.json")  # whoever opens it waits for ever
    status, _, err = run("plan", str(tmp_path / "jobs"), "--together", "-o", str(tmp_path / "mine"))
    assert status == 2 and "it was left alone" in err
    assert run("plan", str(tmp_path / "jobs" / "a.json"), str(tmp_path / "jobs"))[0] == 2
    status, _, err = run("plan", str(tmp_path / "jobs"), "--together", "--on", "tcp://127.0.0.1:1", "-o",
                         str(tmp_path / "out"))
    assert status == 2 and "does not answer" in err and not (tmp_path / "out").exists()


def test_jobs_together_take_from_the_stock_book_once(tmp_path: Path) -> None:
    """Two walls of 5 drops and a remnant of 210 in for two: 8 of a roll and 2 of it, so one roll, which lies there."""
    jobs, book = tmp_path / "jobs", tmp_path / "stock.yaml"
    wall(jobs, "one", 170, "2026-05-01")
    wall(jobs, "two", 170, "2026-05-02")
    book.write_text("""
products: [{name: yard sheet, width: 36, rolls: [{length: 800, on_hand: 1}], remnants: [{tag: K1, length: 210}]}]
""", encoding="utf-8")
    written = set()
    for _ in range(2):  # the second time their own promises are theirs to use
        status, out, err = run("plan", str(jobs), "--together", "--stock", str(book), "--take", "-o",
                               str(tmp_path / "out"), "--workers", "1")
        assert (status, err) == (0, "") and "yard sheet: 1 rolls for 205.00" in out
        shelf = stock.load(book).shelves[0]
        assert shelf.remnants[0].promised in ("one", "two") and shelf.free(800 * 16) == 0
        with open(tmp_path / "out" / "order.csv", encoding="utf-8", newline="") as file:
            rolls = [row for row in csv.DictReader(file) if row["unit"] == "roll"]
        assert [(row["need"], row["stock"], row["buy"]) for row in rolls] == [("1", "1", "0")]
        written.add(digest(tmp_path / "out"))
    assert len(written) == 1
    check_promises(tmp_path / "out")


# --- the engine --------------------------------------------------------------------------------

def double(number: int) -> int:
    return 2 * number


def deadly(number: int) -> int:
    """End this very process for one number."""
    if number == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    return 2 * number


def test_engines_give_the_same_results() -> None:
    for engine in (Alone(), Cores(2)):
        assert dict(engine.each(double, 7, lambda number: number)) == {n: 2 * n for n in range(7)}


def test_a_task_that_kills_its_worker_is_told_from_those_beside_it() -> None:
    found = dict(Cores(2).each(deadly, 6, lambda number: number))
    assert isinstance(found.pop(3), Lost)
    assert found == {n: 2 * n for n in (0, 1, 2, 4, 5)}


# --- twenty random jobs ------------------------------------------------------------------------

@pytest.fixture(scope="module")
def twenty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("twenty")
    write_jobs(folder / "jobs", 20)
    return folder


def together(folder: Path, name: str, engine: Engine) -> tuple[Report, str, float]:
    """Plan the jobs of a folder and return the report, what stands for every byte, and the seconds it took."""
    begun = time.monotonic()
    report = plan_together(sources([folder / "jobs"]), folder / name, engine=engine)
    return report, digest(folder / name), time.monotonic() - begun


@pytest.mark.slow
def test_twenty_random_jobs_cost_no_more_than_one_by_one(twenty: Path) -> None:
    report, bytes_of, _ = together(twenty, "cores", Cores(2))
    assert report.status == 0 and all(line.total for line in report.lines)
    for _, lot in report.lots:
        assert lot.cost <= lot.alone
        assert lot.rolls <= sum(sum(not roll.remnant for roll in job.alone.rolls) for job in lot.jobs)
        assert lot.bound is not None and Decimal(0) < lot.bound <= lot.cost
    check_promises(twenty / "cores")
    # what each packet says its rolls cost adds up to what is said of all
    rolls = [roll for packet in (twenty / "cores").glob("*-packet")
             for roll in json.loads((packet / "plan.json").read_text(encoding="utf-8"))["rolls"]]
    for _, lot in report.lots:
        assert sum(Decimal(str(roll["price"] or 0)) for roll in rolls if roll["product"] == lot.key) == lot.cost
    scheduled, same, killed = clustered(twenty)
    assert scheduled.status == 0 and killed
    assert same == bytes_of


def clustered(twenty: Path) -> tuple[Report, str, bool]:
    """Plan on a local scheduler with two workers, one of which is killed in the middle."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "DASK_DISTRIBUTED__LOGGING__DISTRIBUTED": "critical"}
    address = twenty / "scheduler.json"
    command = [sys.executable, "-m", "distributed.cli"]
    processes = [subprocess.Popen(
        [*command[:2], "distributed.cli.dask_scheduler", "--port", "0", "--no-dashboard", "--host", "127.0.0.1",
         "--scheduler-file", str(address)], env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)]
    try:
        for _ in range(600):
            if address.exists() and address.stat().st_size:
                break
            time.sleep(0.1)
        for number in range(2):
            processes.append(subprocess.Popen(
                [*command[:2], "distributed.cli.dask_worker", "--nthreads", "1", "--nworkers", "1", "--no-nanny",
                 "--no-dashboard", "--scheduler-file", str(address), "--local-directory", str(twenty / f"w{number}")],
                env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL))
        scheduler = json.loads(address.read_text(encoding="utf-8"))["address"]
        engine = Cluster(scheduler)
        while len(engine.workers()) < 2:
            time.sleep(0.1)
        killing = Killing(engine, processes[1])
        report, bytes_of, _ = together(twenty, "cluster", killing)
        engine.close()
        return report, bytes_of, processes[1].poll() is not None
    finally:
        for process in processes:
            process.kill()
            process.wait()


class Killing:
    """An engine that kills a worker once a few tasks are ready."""

    def __init__(self, engine: Cluster, worker: subprocess.Popen[bytes]) -> None:
        self.engine, self.worker, self.ready = engine, worker, 0

    def each(self, work: object, count: int, task: object) -> Iterator[tuple[int, object]]:
        for found in self.engine.each(work, count, task):  # type: ignore[arg-type]
            self.ready += 1
            if self.ready == 5:
                self.worker.kill()
            yield found

    def close(self) -> None:
        self.engine.close()


def test_without_dask_it_is_said_plainly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(LayoutError, match=r"install lapwright\[cluster\]"):
        Cluster("tcp://127.0.0.1:1")
