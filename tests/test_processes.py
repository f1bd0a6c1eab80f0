"""How processes for planning begin: with everything imported, wherever the command is run, and again when killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from multiprocessing import forkserver
from pathlib import Path

import pytest

from layout.together import Cores

ROOT = Path(__file__).resolve().parent.parent


def run(script: Path, *arguments: str) -> str:
    """Run a script away from the checkout, which it is told of in its arguments alone; return what it prints."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run([sys.executable, str(script), str(ROOT), *arguments], cwd=script.parent, env=environment,
                          capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


@pytest.mark.slow
def test_planning_and_writing_import_nothing_that_was_not_imported_before(tmp_path: Path) -> None:
    script = tmp_path / "script.py"
    script.write_text("""
import functools, importlib, sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
from layout.processes import READY
for name in READY:
    importlib.import_module(name)
before = set(sys.modules)
from layout.together import work
from layout.together.work import Finish, JobFile, plan_one, write_one
ring, nook, bank = (
    JobFile(name, name, Path(sys.argv[1], "tests", "data", name).read_bytes())
    for name in ("ring.yaml", "nook.yaml", "bank.yaml"))
plan_one(ring)  # searched to the end: the job with everything takes longer
work.make_plan = functools.partial(work.make_plan, stop=lambda: True)
plan_one(nook)
planned = plan_one(bank)
done = write_one(Finish(planned.packed, {kind: need.alone for kind, need in planned.needs.items()}, {}, {}, ()))
print(len(done.files) > 10, sorted(name for name in set(sys.modules) - before if name.startswith("layout")))
""", encoding="utf-8")
    assert run(script) == "True []\n"


def test_processes_begin_with_everything_imported_from_where_the_command_imports(tmp_path: Path) -> None:
    script = tmp_path / "script.py"
    script.write_text("""
import sys
sys.path.insert(0, sys.argv[1])
from layout.together import Cores

def ready(number):
    return "layout.drawing.pdf" in sys.modules, "PYTHONPATH" in __import__("os").environ

if __name__ == "__main__":
    engine = Cores(1)
    print(dict(sorted(engine.each(ready, 2, int))), ready(0))
    engine.close()
""", encoding="utf-8")
    out = run(script)
    assert out.startswith("{0: (True, ") and ", 1: (True, " in out
    assert out.endswith(" (False, False)\n")  # here nothing is imported that is not needed, nor the environment changed


def orphaned(task: tuple[int, str, int]) -> int:
    """End, once, the process that this one was forked from."""
    number, marker, caller = task
    if number == 2 and not os.path.exists(marker):
        Path(marker).touch()
        assert os.getppid() != caller
        os.kill(os.getppid(), signal.SIGKILL)
    return 2 * number


def test_the_process_that_others_are_forked_from_may_be_killed(tmp_path: Path) -> None:
    engine, marker = Cores(2), str(tmp_path / "killed")
    found = dict(engine.each(orphaned, 6, lambda number: (number, marker, os.getpid())))
    engine.close()
    assert os.path.exists(marker)
    assert found == {number: 2 * number for number in range(6)}


def doubled(number: int) -> int:
    """Return twice a number."""
    return 2 * number


@pytest.mark.parametrize("stopped", [ConnectionRefusedError, BrokenPipeError, EOFError])
@pytest.mark.parametrize("times", [1, 2])
def test_the_process_that_others_are_forked_from_may_be_ending_while_one_is_begun(
    stopped: type[Exception], times: int, monkeypatch: pytest.MonkeyPatch,
) -> None:
    connect, left = forkserver.connect_to_new_process, [stopped("it is ending")] * times

    def ending(files: list[int]) -> tuple[int, int]:
        if left:
            raise left.pop()
        return connect(files)

    monkeypatch.setattr(forkserver, "connect_to_new_process", ending)
    engine = Cores(2)
    found = dict(engine.each(doubled, 6, int))
    engine.close()
    assert not left
    assert found == {number: 2 * number for number in range(6)}
