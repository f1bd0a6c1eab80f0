"""Damaged packets, jobs, workbooks, progress files, drawings and stock books: each is a finding or a plain refusal.

``python tests/bench/damage.py [--cases 5000] [--seed 0] [--only KIND] [--from N]``. Bytes are flipped, lines shuffled,
files cut off or joined; values anywhere in JSON become others: of another kind, not finite, huge, half a surrogate
pair, nested deep; files become folders, devices, pipes, links that lead nowhere or round, or are gone. No other
exception may come out, no case may take ``MOST_SECONDS``, and no packet with a changed file may pass. Case N of a seed
is always the same.
"""

from __future__ import annotations

import argparse
import json
import logging
import os
import random
import shutil
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "fuzz")]

import fuzz  # noqa: E402  (found beside the tests when run as a script)
from helpers.frozen import frozen_plan  # noqa: E402
from helpers.packets import write_drawings, write_rest, write_tables  # noqa: E402

from layout import packet  # noqa: E402
from layout.errors import LayoutError  # noqa: E402
from layout.garbage import seldom  # noqa: E402
from layout.job import read_job  # noqa: E402
from layout.job.survey import trace_survey  # noqa: E402
from layout.job.trace import trace  # noqa: E402
from layout.pipeline import audit_folder  # noqa: E402
from layout.records import BaselinePlan, Finding  # noqa: E402
from layout.revise import Options, progress_json, read_earlier, read_field  # noqa: E402
from layout.revise.progress import Done  # noqa: E402
from layout.stock import act, after_cutting, load  # noqa: E402

MOST_SECONDS = 20
DEEP = 100_000
VALUES: tuple[object, ...] = (
    None, True, False, 0, -1, 1, 0.5, 1e308, -1e308, 1e-308, float("inf"), float("-inf"), float("nan"), 10 ** 19,
    10 ** 400, -10 ** 400, "", "A", "\ud800", "\udfff x", "\x00", "\u202e", "x" * 100_000, "1e999", "../../x", [], {},
    [[]], [None], {"": {}}, [[0, 0]], [float("nan")] * 3, "2999-12-31", "0" * 64,
)


# --- what is there before ----------------------------------------------------------------------

@cache
def shelf() -> Path:
    """Return a folder, gone at the end, of good files."""
    place = tempfile.TemporaryDirectory(prefix="lapwright-damage-")
    shelf.held = place  # type: ignore[attr-defined]
    return Path(place.name)


@cache
def good_packet(name: str) -> Path:
    """Return a good packet."""
    folder = shelf() / name
    plan = frozen_plan(name)
    write_tables(plan, folder)
    write_drawings(plan, folder)
    write_rest(plan, folder)
    assert audit_folder(folder) == ()
    return folder


@cache
def earlier() -> BaselinePlan:
    """Return a plan that is worked from."""
    return read_earlier(good_packet("bank"), lambda folder: ())


@cache
def corpus(kind: str) -> Sequence[bytes]:
    """Return good files of a kind."""
    if kind == "progress":
        tags = [piece.tag for piece in earlier().pieces]
        told = [{"what": "spoilt", "piece": tags[0], "time": "2026-05-04T10:00:00Z"}]
        files = [progress_json(frozen_plan("bank"), Done(frozenset(tags[:n]), frozenset(tags[:n // 2])))
                 for n in (0, 1, 7, len(tags))]
        return [text.encode() for text in (*files, json.dumps({**json.loads(files[1]), "told": told}))]
    if kind == "book":
        book = shelf() / "yard.yaml"
        given = {"product": "60 mil sheet", "width": "36", "length": "21'-4\"", "remnant-width": "", "tag": "K7",
                 "place": "rack", "units": "in"}
        act(book, "add", "", given, None)
        act(book, "add", "", {**given, "tag": ""}, 4)
        return [book.read_bytes()]
    corpora = {"job": fuzz.job_corpus, "workbook": fuzz.book_corpus, "drawing": fuzz.drawing_corpus,
               "survey": fuzz.survey_corpus}
    return corpora[kind]()


def made_ready(kind: str) -> None:
    """Make what the cases of a kind begin with, which takes longer than a case may."""
    if kind in ("packet", "cut", "progress"):
        for name in ("bank", "ring"):
            good_packet(name)
        earlier()
    if kind not in ("packet", "cut"):
        corpus(kind)


# --- damage ------------------------------------------------------------------------------------

def damaged_json(data: bytes, rng: random.Random) -> bytes:
    """Return JSON with one to three of its values, anywhere, others: still JSON, or nested deeper than may be."""
    tree = json.loads(data)
    deep = rng.random() < 0.05
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        place: Any = tree
        while isinstance(place, (dict, list)) and place:
            key = rng.choice(list(place) if isinstance(place, dict) else range(len(place)))
            if isinstance(place[key], (dict, list)) and place[key] and rng.random() < 0.85:
                place = place[key]
                continue
            way = rng.randrange(8)
            if way == 0:
                del place[key]
            elif way == 1 and isinstance(place, dict):
                place[str(rng.choice(("", "x", "\ud800")))] = place.pop(key)
            elif way == 2 and isinstance(place[key], (int, float)):
                place[key] = place[key] * rng.choice((-1, 2, 10 ** 9))
            else:
                place[key] = "DEEP" if deep else rng.choice(VALUES)
            break
    text = json.dumps(tree)
    return text.replace('"DEEP"', "[" * DEEP + "]" * DEEP).encode()


def other_thing(path: Path, rng: random.Random) -> str:
    """Put something that is no file, or nothing, where a file was; say what."""
    way = rng.choice(("gone", "folder", "zeros", "null", "full", "pipe", "loop", "nowhere", "itself"))
    path.unlink()
    if way == "folder":
        path.mkdir()
    elif way == "pipe":
        os.mkfifo(path)
    elif way == "loop":
        path.symlink_to(path.with_name("other-end"))
        path.with_name("other-end").symlink_to(path)
    elif way != "gone":
        where = {"zeros": "/dev/zero", "null": "/dev/null", "full": "/dev/full", "nowhere": "/no/such/place",
                 "itself": path.name}
        path.symlink_to(where[way])
    return way


def damaged(kind: str, data: bytes, rng: random.Random) -> bytes:
    """Return a file of some kind damaged in one of the ways that suit it."""
    if rng.random() < 0.1:
        return data[:rng.randrange(len(data) + 1)]
    if kind in ("progress", "plan.json") and rng.random() < 0.8:
        return damaged_json(data, rng)
    if kind == "workbook":
        return fuzz.damaged_book(data, rng, [data])
    if kind == "drawing":
        return fuzz.damaged_drawing(data, rng, [data])
    return fuzz.damaged(data, rng, [data])


# --- cases -------------------------------------------------------------------------------------

def packet_case(rng: random.Random, work: Path) -> str:
    """Audit and work on a packet one file of which is damaged; it must not pass."""
    whole = good_packet(rng.choice(("bank", "ring")))
    folder = work / "packet"
    shutil.copytree(whole, folder)
    names = sorted(path.relative_to(whole).as_posix() for path in whole.rglob("*") if path.is_file())
    name = "plan.json" if rng.random() < 0.4 else rng.choice(names)
    before = (whole / name).read_bytes()
    if rng.random() < 0.15:
        what = other_thing(folder / name, rng)
    else:
        after = damaged("plan.json" if name == "plan.json" else name.rpartition(".")[2], before, rng)
        (folder / name).write_bytes(after)
        what = "same" if after == before else "changed"
        if name == "plan.json" and rng.random() < 0.2:  # a forger who writes the sums again
            (folder / packet.SUMS).unlink()
            (folder / packet.SUMS).write_text(packet.sums_of(folder), encoding="utf-8")
            what = "forged"
    found: list[Finding] = []

    def check(place: Path) -> list[Finding]:
        found.extend(audit_folder(place))
        return found

    try:
        read = read_earlier(folder, check)
    except LayoutError:
        for finding in found:
            assert finding.number and finding.place and finding.what
            finding.line().encode("utf-8")
        raise
    assert what in ("same", "forged"), f"a packet passes with {name} {what}"
    read_field(read, (), cut=[read.pieces[0].tag], hung=[], options=Options())
    return what


def progress_case(rng: random.Random, work: Path) -> str:
    path = work / "progress.json"
    path.write_bytes(damaged("progress", rng.choice(corpus("progress")), rng))
    if rng.random() < 0.05:
        other_thing(path, rng)
    read_field(earlier(), (path,), cut=[], hung=[], options=Options())
    return "read"


def book_case(rng: random.Random, work: Path) -> str:
    path = work / "yard.yaml"
    path.write_bytes(damaged("book", corpus("book")[0], rng))
    if rng.random() < 0.05:
        other_thing(path, rng)
    load(path)
    return "read"


def cut_case(rng: random.Random, work: Path) -> str:
    """Mark a damaged packet as cut in a good stock book."""
    whole = good_packet("ring")
    for name in ("plan.json", "job.yaml"):
        shutil.copyfile(whole / name, work / name)
    (work / "plan.json").write_bytes(damaged("plan.json", (whole / "plan.json").read_bytes(), rng))
    corpus("book")
    after_cutting(load(shelf() / "yard.yaml"), work)
    return "read"


def reader(kind: str, name: str, read: Callable[[Path], object]) -> Callable[[random.Random, Path], str]:
    """Return the case of a reader of one file."""
    def case(rng: random.Random, work: Path) -> str:
        path = work / name
        path.write_bytes(damaged(kind, rng.choice(corpus(kind)), rng))
        if rng.random() < 0.05:
            other_thing(path, rng)
        read(path)
        return "read"

    return case


CASES: dict[str, tuple[int, Callable[[random.Random, Path], str]]] = {
    "packet": (8, packet_case), "progress": (4, progress_case), "job": (4, reader("job", "job.yaml", read_job)),
    "workbook": (1, reader("workbook", "job.xlsx", read_job)), "drawing": (2, reader("drawing", "walls.dxf", trace)),
    "survey": (1, reader("survey", "points.csv", trace_survey)), "book": (1, book_case), "cut": (1, cut_case),
}
"""Kind -> its share of the cases, and how one is made and read."""


def run(seed: int, numbers: range, only: str = "") -> Iterator[tuple[int, str, str]]:
    """Yield for each case its number, its kind, and what came of it; a traceback where it broke."""
    logging.disable(logging.CRITICAL)
    kinds = [kind for kind, (share, _) in CASES.items() for _ in range(share) if only in ("", kind)]
    for number in numbers:
        rng = random.Random(f"{seed}:{number}")
        kind = rng.choice(kinds)
        made_ready(kind)
        with tempfile.TemporaryDirectory() as folder:
            try:
                with fuzz.at_most(MOST_SECONDS):
                    yield number, kind, CASES[kind][1](rng, Path(folder))
            except LayoutError as error:
                lines = str(error).splitlines()
                told = lines and all(line.isprintable() and line.isascii() or line.encode("utf-8") for line in lines)
                yield number, kind, "refused" if told else repr(error)
            except (Exception, fuzz.TooLong):
                yield number, kind, traceback.format_exc()


def broken(outcome: str) -> bool:
    """Tell whether what came of a case is none of what may."""
    return outcome not in ("read", "refused", "same", "forged")


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cases", type=int, default=5_000)
    asked.add_argument("--seed", type=int, default=0)
    asked.add_argument("--from", type=int, default=0, dest="first")
    asked.add_argument("--only", choices=CASES, default="")
    given = asked.parse_args()
    seldom()
    counts: Counter[str] = Counter()
    for number, kind, outcome in run(given.seed, range(given.first, given.first + given.cases), given.only):
        if broken(outcome):
            print(f"case {number}, {kind}:\n{outcome}", flush=True)
        counts[f"{kind} broken" if broken(outcome) else f"{kind} {outcome}"] += 1
    for what, count in sorted(counts.items()):
        print(f"{count:6} {what}")
    return int(any(what.endswith("broken") for what in counts))


if __name__ == "__main__":
    sys.exit(main())
