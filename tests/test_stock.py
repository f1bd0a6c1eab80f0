"""The stock book: what it says, what a plan takes of it, and that nothing is promised twice or lost, come what may."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

import cli
from layout import stock
from layout.errors import JobError, LayoutError
from layout.job.shelf import Book, Kept, Shelf, book_text, read_stock_book
from layout.units import INCH, MM

ROOT = Path(__file__).resolve().parent.parent
TEXT = """
units: in
products:
  - name: yard sheet
    width: 36
    rolls: [{length: 66'-8", on_hand: 3}]
    remnants:
      - {tag: K1, length: 21'-4", place: rack 2}
      - {tag: K2, length: 100, width: 18, promised: Elsewhere}
"""
KEY = ("yard sheet", 36 * 16)


def run(*arguments: str) -> tuple[int, str, str]:
    """Run a command and return its exit status, stdout and stderr."""
    result = CliRunner().invoke(cli.main, list(arguments))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


def job_text(name: str = "Wall", length: float = 337.5) -> str:
    """Return a straight wall: 10 drops of 100 in; a roll of 800 in holds 8, K1 of 256 in the other 2."""
    return json.dumps({
        "job": {"name": name}, "sheet": {"name": "yard sheet", "width": 36, "rolls": [{"length": 800, "price": 205}]},
        "rules": {"turn_down": 4, "corner_strip": 0, "base_strip": 0, "cut_to": "1/16", "roll_end": 0},
        "runs": [{"name": "A", "faces": [{"name": "South", "length": length, "top": 96}]}],
    })


@pytest.fixture()
def book(tmp_path: Path) -> Path:
    path = tmp_path / "stock.yaml"
    path.write_text(TEXT, encoding="utf-8")
    return path


def test_a_book_written_reads_as_the_same_book(book: Path) -> None:
    read = stock.load(book)
    assert read.shelves[0].remnants == (
        Kept("K1", 256 * 16, 576, "rack 2"), Kept("K2", 1600, 288, "", "Elsewhere"))
    assert read_stock_book(book_text(read), "again") == read
    odd = Book(MM, (Shelf('a "b": {c}\\', 1000, remnants=(Kept("#1 é", 5, 6, "- x", "y: z"),)),))
    assert read_stock_book(book_text(odd), "odd") == odd
    assert read_stock_book(book_text(Book()), "empty") == Book()


@pytest.mark.parametrize(("wrong", "said"), [
    ("products: [{name: a}]", "width: must be given"),
    ("products: [{name: a, width: 36, remnants: [{tag: K, length: 9}, {tag: K, length: 8}]}]", "must be used once"),
    ("products: [{name: a, width: 36, rolls: [{length: 9, on_hand: 1}], promises: [{job: J, length: 9, count: 2}]}]",
     "must not promise more rolls than there are"),
    ("products: [{name: a, width: 36}, {name: a, width: 36}]", "is listed twice"),
    ("shelf: 1", "is not a known key"), ("[", "stock.yaml:"), ("", "must not be empty"), ("[1]", "must be a mapping"),
])
def test_a_wrong_book_is_refused_with_its_place(book: Path, wrong: str, said: str) -> None:
    book.write_text(wrong, encoding="utf-8")
    with pytest.raises(JobError) as found:
        stock.load(book)
    assert any(said in line for line in found.value.lines()), found.value.lines()
    assert run("stock", str(book))[0] == 2


@pytest.mark.slow
def test_a_plan_uses_what_lies_there_for_nobody_and_takes_it(book: Path, tmp_path: Path) -> None:
    job = tmp_path / "wall.json"
    job.write_text(job_text(), encoding="utf-8")
    status, out, err = run("plan", str(job), "--stock", str(book), "-o", str(tmp_path / "p"))
    assert (status, err) == (0, "") and book.read_text(encoding="utf-8") == TEXT
    status, out, err = run("plan", str(job), "--stock", str(book), "--take", "-o", str(tmp_path / "p"))
    assert (status, err) == (0, "")
    # 2 drops from K1, 8 from one roll, which lies in the yard: nothing is bought
    plan = json.loads((tmp_path / "p" / "plan.json").read_text(encoding="utf-8"))
    assert [(line["unit"], line["need"], line["stock"], line["buy"]) for line in plan["order"]] == [
        ("roll", 1, 1, 0), ("remnant", 1, 1, 0)]
    shelf = stock.load(book).shelves[0]
    assert {kept.tag: kept.promised for kept in shelf.remnants} == {"K1": "Wall", "K2": "Elsewhere"}
    assert shelf.free(800 * 16) == 2
    # again: its own promise is its own to use
    assert run("plan", str(job), "--stock", str(book), "--take", "-o", str(tmp_path / "p"))[0] == 0
    assert stock.load(book).shelves[0] == shelf
    # another job finds nothing of it
    other = tmp_path / "other.json"
    other.write_text(job_text("Other"), encoding="utf-8")
    assert run("plan", str(other), "--stock", str(book), "--take", "-o", str(tmp_path / "q"))[0] == 0
    plan = json.loads((tmp_path / "q" / "plan.json").read_text(encoding="utf-8"))
    assert not any(roll["remnant"] for roll in plan["rolls"])
    # it takes two rolls, both from the yard
    assert "1 to Wall, 2 to Other" in run("stock", str(book))[1]
    # cut: K1 and the roll are gone; of K1 256 - 200 = 56 in are left and kept
    status, out, _ = run("stock", str(book), "cut", str(tmp_path / "p"))
    assert status == 0 and "remnant K1 is used up" in out
    shelf = stock.load(book).shelves[0]
    assert sorted(kept.length for kept in shelf.remnants) == [56 * 16, 1600]
    assert dict(shelf.on_hand) == {800 * 16: 2} and shelf.free(800 * 16) == 0
    status, _, err = run("stock", str(book), "cut", str(tmp_path / "p"))
    assert status == 2 and "marked cut before" in err
    assert run("stock", str(book), "return", "Other")[0] == 0
    assert stock.load(book).shelves[0].free(800 * 16) == 2
    assert run("stock", str(book), "return", "Nobody")[0] == 2


def test_adding_and_taking_out_by_hand(tmp_path: Path) -> None:
    book = tmp_path / "new.yaml"
    common = ["stock", str(book), "add", "--product", "yard sheet", "--width", "36"]
    assert run(*common, "--tag", "K9", "--length", "12 ft", "--place", "by the door")[0] == 0
    assert run(*common, "--length", "66'-8\"", "--rolls", "4")[0] == 0
    status, out, _ = run("stock", str(book))
    assert status == 0 and "K9" in out and "by the door" in out and "4 rolls, 4 free" in out
    assert run(*common, "--tag", "K9", "--length", "12 ft")[0] == 2
    assert run(*common, "--tag", "K8", "--length", "long")[0] == 2
    assert run(*common, "--length", "66'-8\"", "--rolls", "-5")[0] == 2
    assert run("stock", str(book), "remove", "--product", "yard sheet", "--width", "36", "--tag", "K9")[0] == 0
    assert stock.load(book).shelves[0].remnants == ()
    assert run("stock", str(tmp_path / "none.yaml"))[0] == 2


def test_what_is_promised_to_another_is_refused(book: Path) -> None:
    held = stock.load(book)
    with pytest.raises(stock.Taken, match="K2 of yard sheet is promised to Elsewhere"):
        stock.promised(held, "Mine", [stock.Use(KEY, ("K2",), ())])
    with pytest.raises(stock.Taken, match="3 rolls of 66'-8\" are free, 4 are needed"):
        stock.promised(held, "Mine", [stock.Use(KEY, (), ((800 * 16, 4),))])
    made = stock.promised(held, "Mine", [stock.Use(KEY, ("K1", "own"), ((800 * 16, 3),))])
    assert stock.released(made, "Mine") == held


def test_a_change_that_fails_leaves_the_book(book: Path) -> None:
    def fail(held: Book) -> Book:
        raise LayoutError("no")

    with pytest.raises(LayoutError):
        stock.change(book, fail)
    assert book.read_text(encoding="utf-8") == TEXT
    assert [name for name in os.listdir(book.parent) if name.endswith(".new")] == []


# --- come what may -----------------------------------------------------------------------------

TOGGLE = """
import sys; sys.path.insert(0, {root!r})
from pathlib import Path
from layout import stock
path = Path({path!r})
key = ("yard sheet", 576)
tags = tuple(f"T{{n}}" for n in range(40))
print("ready", flush=True)
while True:
    stock.change(path, lambda book: stock.promised(book, "Mine", [stock.Use(key, tags, ((12800, 2),))]))
    print("promised", flush=True)
    stock.change(path, lambda book: stock.released(book, "Mine"))
    print("released", flush=True)
"""


def full_book(path: Path, remnants: int) -> Book:
    made = Book(INCH, (Shelf("yard sheet", 576, ((12800, 3),), (), tuple(
        Kept(f"T{n}", 1600 + n, 576) for n in range(remnants))),))
    path.write_text(book_text(made), encoding="utf-8")
    return made


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL")
def test_killed_at_a_hundred_random_moments_it_is_the_old_book_or_the_new(tmp_path: Path) -> None:
    path = tmp_path / "stock.yaml"
    old = full_book(path, 40)
    tags = tuple(f"T{n}" for n in range(40))
    new = stock.promised(old, "Mine", [stock.Use(KEY, tags, ((12800, 2),))])
    rng = random.Random(7)
    seen = set()
    for _ in range(100):
        child = subprocess.Popen([sys.executable, "-c", TOGGLE.format(root=str(ROOT), path=str(path))],
                                 stdout=subprocess.PIPE)
        assert child.stdout is not None and child.stdout.readline() == b"ready\n"
        for _ in range(rng.randrange(6)):  # by what is done, not by the clock alone: a busy machine starts slowly
            child.stdout.readline()
        time.sleep(rng.uniform(0, 0.02))
        child.kill()
        child.wait()
        child.stdout.close()
        now = stock.load(path)
        assert now in (old, new)
        seen.add(now == old)
    assert seen == {True, False}
    # the lock of a killed process is free, and a change goes through
    assert stock.change(path, lambda book: stock.released(book, "Mine")) == old


RESERVE = """
import sys; sys.path.insert(0, {root!r})
from pathlib import Path
from layout import stock
path, who = Path({path!r}), sys.argv[1]
key = ("yard sheet", 576)
print("ready", flush=True)
for line in sys.stdin:
    got = []
    for tag in ("T0", "T1"):
        try:
            stock.change(path, lambda book: add(book, tag))
        except stock.Taken:
            continue
        got.append(tag)
    print(" ".join(got), flush=True)
"""
ADD = """
def add(book, tag):
    shelf = book.shelves[0]
    mine = tuple(kept.tag for kept in shelf.remnants if kept.promised == who)
    return stock.promised(book, who, [stock.Use(key, (*mine, tag), ())])
"""


@pytest.mark.slow
def test_two_processes_that_reserve_at_once_never_get_the_same_remnant(tmp_path: Path) -> None:
    """Two hundred times both ask for the same two remnants: each is had by exactly one of them, and none is lost."""
    path = tmp_path / "stock.yaml"
    empty = full_book(path, 3)
    program = RESERVE.format(root=str(ROOT), path=str(path)).replace("print(\"ready\"", ADD + "print(\"ready\"")
    children = [subprocess.Popen([sys.executable, "-c", program, who], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                 text=True) for who in ("one", "two")]
    for child in children:
        assert child.stdout is not None and child.stdout.readline() == "ready\n"
    for n in range(200):
        for child in children:
            assert child.stdin is not None
            child.stdin.write(f"{n}\n")
            child.stdin.flush()
        got = [tag for child in children if child.stdout is not None for tag in child.stdout.readline().split()]
        assert sorted(got) == ["T0", "T1"]
        assert {kept.tag for kept in stock.load(path).shelves[0].remnants if kept.promised} == {"T0", "T1"}
        assert stock.change(path, lambda book: stock.released(stock.released(book, "one"), "two")) == empty
    for child in children:
        assert child.stdin is not None and child.stdout is not None
        child.stdin.close()
        child.wait()
        child.stdout.close()
