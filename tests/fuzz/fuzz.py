"""Feeds damaged input to everything that reads a file, and says what it breaks.

``python tests/fuzz/fuzz.py [--seconds 60 | --rounds 12] [--seed 0] [--target job]``. Every case must be taken or
refused plainly: no other exception, no more than 5 seconds, no more than 500 MB. What breaks is kept in
tests/fuzz/found/ to become a file of tests/bad_jobs/.
"""

from __future__ import annotations

import argparse
import atexit
import io
import json
import logging
import math
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import zipfile
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any, Iterator

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from helpers.frozen import frozen_plan  # noqa: E402  (found beside the tests when run as a script)
from layout.errors import JobError  # noqa: E402  (found beside the tests when run as a script)
from layout.garbage import seldom  # noqa: E402  (found beside the tests when run as a script)
from layout.units import UNITS, read_length  # noqa: E402

MOST_SECONDS = 5
MOST_BYTES = 500_000_000
WORDS = [
    b"null", b"true", b"false", b".nan", b".inf", b"-.inf", b"1e999", b"-1", b"0", b"~", b"[]", b"{}", b"[[[[[[", b"}}",
    b"&a [*a]", b"<<: *x", b"!!python/object:os.system", b"? !", b"- - - -", b"'", b'"', b"\\", b"\x00", b"\xff\xfe",
    "½".encode(), "′″".encode(), "\u202e".encode(), b"9" * 400, b"0x7fffffffffffffff", b"1_000", b"12:30:45", b"#",
    b"|\n", b">-\n", b"%YAML 1.1\n", b"---\n", b"...\n", b"\r", b"\t", b"1/0", b"8'-13\"", b"1 mile",
    b"[0, 0], [0, 0], [0, 0]", b"runs", b"faces", b"length",
    b"=cmd()", b"../../x", b"1e-999", b"-0.0", b"2026-02-30", b"\xed\xa0\x80",
]


class TooLong(Exception):
    """A case took longer than it may."""


@contextmanager
def at_most(seconds: int) -> Iterator[None]:
    """Stop what runs longer."""
    def late(number: int, frame: object) -> None:
        raise TooLong(f"more than {seconds} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def damaged(data: bytes, rng: random.Random, others: Sequence[bytes]) -> bytes:
    """Return some bytes changed in a few places: cut, doubled, swapped, overwritten, joined with another file."""
    for _ in range(rng.choice((1, 1, 1, 2, 3, 8))):
        place, length = rng.randrange(len(data) + 1), rng.choice((1, 1, 2, 8, 64, 512))
        way = rng.randrange(9)
        if way == 0:
            data = data[:place] + data[place + length:]
        elif way == 1:
            data = data[:place] + data[place:place + length] * rng.choice((2, 3, 50)) + data[place + length:]
        elif way == 2:
            data = data[:place] + rng.choice(WORDS) + data[place:]
        elif way == 3:
            data = data[:place] + rng.choice(WORDS) + data[place + length:]
        elif way == 4:
            data = data[:place] + bytes([rng.randrange(256)]) + data[place + 1:]
        elif way == 5:
            lines = data.split(b"\n")
            rng.shuffle(lines)
            data = b"\n".join(lines)
        elif way == 6:
            lines = data.split(b"\n")
            index = rng.randrange(len(lines))
            words = lines[index].split(b" ")
            words[rng.randrange(len(words))] = rng.choice(WORDS)
            lines[index] = b" ".join(words)
            data = b"\n".join(lines)
        elif way == 7:
            other = rng.choice(others)
            data = data[:place] + other[rng.randrange(len(other) + 1):]
        else:
            data = data[:place]
    return data[:6_000_000]


# --- what is fed -------------------------------------------------------------------------------

class Corpus(Sequence[bytes]):
    """Good files, each made when it is first asked for."""

    def __init__(self, makers: Iterable[Callable[[], bytes]]) -> None:
        self.makers = list(makers)
        self.made: dict[int, bytes] = {}

    def __len__(self) -> int:
        return len(self.makers)

    def __getitem__(self, index: Any) -> Any:
        if index not in self.made:
            self.made[index] = self.makers[index]()
        return self.made[index]


def job_corpus() -> list[bytes]:
    """Return job files good and bad."""
    files = [*sorted((ROOT / "samples").glob("*.yaml")), *sorted((ROOT / "tests" / "bad_jobs").glob("*.yaml"))]
    return [path.read_bytes() for path in files]


def feed_job(data: bytes, work: Path) -> None:
    """Read a job file."""
    from layout.job import read_job

    path = work / "job.yaml"
    path.write_bytes(data)
    try:
        read_job(path)
    except JobError as error:
        lines = error.lines()
        assert lines and all("\n" not in line and line.isprintable() for line in lines), lines


def length_corpus() -> list[bytes]:
    """Return lengths as people write them."""
    texts = ["8'-4 1/2\"", "8' 4.5\"", "100 1/2\"", "2.5 in", "7 ft", "2.44 m", "850 mm", "12", "3/4", "-1'-4\"",
             "8′-4½″", "85 cm", "5 1/16 inches", "6 feet 3 1/8 in", "0'-11 15/16\""]
    return [text.encode() for text in texts]


def feed_length(data: bytes, work: Path) -> None:
    """Read a length."""
    try:
        read_length(data.decode("utf-8", "replace"), UNITS["in"])
    except ValueError as error:
        assert str(error)


def packet_corpus() -> list[bytes]:
    """Return the files of a good packet, each with its name before it."""
    global GOOD
    from helpers.packets import write_drawings, write_rest, write_tables

    GOOD = Path(tempfile.mkdtemp(prefix="lapwright-fuzz-")) / "packet"
    atexit.register(shutil.rmtree, GOOD.parent, ignore_errors=True)
    plan = frozen_plan("bank")
    write_tables(plan, GOOD)
    write_drawings(plan, GOOD)
    write_rest(plan, GOOD)
    names = ["plan.json", "cut-list.csv", "takeoff.csv", "cut-list.xlsx", "elevations.dxf", "packet.html",
             "elevations/t-1-side.svg", "job.yaml"]
    return [name.encode() + b"\x00" + (GOOD / name).read_bytes() for name in names]


GOOD = Path()


def feed_packet(data: bytes, work: Path) -> None:
    """Audit a packet one file of which is damaged."""
    from layout.pipeline import audit_folder

    name, _, content = data.partition(b"\x00")
    names = {str(path.relative_to(GOOD)) for path in GOOD.rglob("*") if path.is_file()}
    folder = work / "packet"
    if not folder.exists():
        shutil.copytree(GOOD, folder)
    chosen = name.decode("utf-8", "replace")
    if chosen not in names:
        chosen = "plan.json"
    (folder / chosen).write_bytes(content)
    try:
        for finding in audit_folder(folder):
            assert finding.number and finding.place and finding.what
    except JobError as error:
        assert error.lines()
    finally:
        shutil.copyfile(GOOD / chosen, folder / chosen)


def damaged_values(data: bytes, rng: random.Random, others: Sequence[bytes]) -> bytes:
    """Return a packet's file changed: plan.json mostly in its values, so that it is still JSON."""
    name, _, content = data.partition(b"\x00")
    if name != b"plan.json" or rng.random() < 0.2:
        return name + b"\x00" + damaged(content, rng, [other.partition(b"\x00")[2] for other in others])
    plan = json.loads(content)
    for _ in range(rng.choice((1, 1, 2, 5))):
        place = plan
        while True:
            keys = list(place) if isinstance(place, dict) else list(range(len(place)))
            if not keys:
                break
            key = rng.choice(keys)
            if isinstance(place[key], (dict, list)) and place[key] and rng.random() < 0.85:
                place = place[key]
                continue
            place[key] = rng.choice([None, True, 0, -1, 1e308, 0.5, "", "A-01", "T 1-02a", [], {}, [[0, 0]], "x" * 300,
                                     1e9, place[key] * 2 if isinstance(place[key], (int, float)) else 7, float("nan")])
            break
    return name + b"\x00" + json.dumps(plan).encode()


def drawing_corpus() -> Sequence[bytes]:
    """Return wall elevations drawn in the ways a drafter might."""
    from helpers import odd_drawings
    from helpers.trace_drawings import Style

    styles = (Style(), Style(lines=True), Style(footing="ring"), Style(footing="line"))
    return Corpus([
        *(partial(_drafted, name, style) for name in ("basement", "metric") for style in styles),
        *(partial(_odd, put) for put, _, _, _ in odd_drawings.TRACED.values()), _own_drawing,
    ])


def _drafted(name: str, style: Any) -> bytes:
    """Return a sample's walls as a drafter draws them."""
    from helpers.trace_drawings import draw
    from layout.job import read_job

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drafted.dxf"
        draw(read_job(ROOT / "samples" / f"{name}.yaml"), path, style)
        return path.read_bytes()


def _odd(put: Any) -> bytes:
    """Return an odd drawing."""
    from helpers.odd_drawings import drawing

    with tempfile.TemporaryDirectory() as folder:
        return drawing(put, Path(folder)).read_bytes()


def _own_drawing() -> bytes:
    """Return a drawing of ours, which carries its job."""
    from layout import drawing
    from layout.job import echo

    plan = frozen_plan("nook")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "own.dxf"
        drawing.write_plan_dxf(plan, path, carried=echo(plan.job))
        return path.read_bytes()


def survey_corpus() -> list[bytes]:
    """Return surveys of every kind."""
    from helpers import surveys

    return [text.encode() for text in (surveys.LEVELS, surveys.TOTAL, surveys.TAPE)]


def feed_survey(data: bytes, work: Path) -> None:
    """Trace a survey."""
    from layout.job.survey import trace_survey

    path = work / "survey.csv"
    path.write_bytes(data)
    for unit in ("", "ft"):
        try:
            assert trace_survey(path, unit=unit).text
        except JobError as error:
            assert error.lines()


def model_corpus() -> list[bytes]:
    """Return building models with openings, pipes and footings."""
    from helpers.ifc_models import Building, rectangle

    models = []
    with tempfile.TemporaryDirectory() as folder:
        for schema in ("IFC4", "IFC2X3"):
            made = Building(schema)
            walls = rectangle(made, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1)
            made.opening(walls["South"], "W1", left=2.0, sill=1.0, wide=1.0, high=0.8, thick=0.25, low=-2.6)
            made.pipe(walls["West"], "P1", at=2.0, up=1.0, across=0.15)
            made.footing("strip", (0.0, 0.0), (12.0, 0.0), ledge=0.15, wide=0.55, low=-2.9, high=-2.6)
            models.append(made.saved(Path(folder) / "m.ifc").read_bytes())
    return models


def feed_model(data: bytes, work: Path) -> None:
    """Trace a building model."""
    from layout.job.ifc import trace_model

    path = work / "model.ifc"
    path.write_bytes(data)
    try:
        assert trace_model(path).text
    except JobError as error:
        assert error.lines()


def feed_drawing(data: bytes, work: Path) -> None:
    """Trace a drawing."""
    from layout.job.trace import trace

    path = work / "walls.dxf"
    path.write_bytes(data)
    try:
        assert trace(path).text
    except JobError as error:
        assert error.lines()


def damaged_drawing(data: bytes, rng: random.Random, others: Sequence[bytes]) -> bytes:
    """Return a drawing changed mostly in its values, pair by pair, so that more of it is still one."""
    if rng.random() < 0.2:
        return damaged(data, rng, others)
    lines = data.split(b"\n")
    first = next((i for i, line in enumerate(lines) if line.strip() == b"ENTITIES"), 0)
    for _ in range(rng.choice((1, 1, 2, 5, 20))):
        index = rng.randrange(first, len(lines))
        way = rng.randrange(5)
        if way == 0:
            lines[index] = rng.choice(WORDS).replace(b"\n", b"")
        elif way == 1:
            lines[index] = rng.choice((b"0", b"1e300", b"-1e300", b"nan", b"inf", b"1e-300", b"123456789012", b"-1"))
        elif way == 2:
            lines[index] = lines[rng.randrange(first, len(lines))]
        elif way == 3:
            even = index - (index - first) % 2
            del lines[even:even + 2]
        else:
            even = index - (index - first) % 2
            lines[even:even] = lines[even:even + 2 * rng.choice((1, 5, 40))]
    return b"\n".join(lines)


def progress_corpus() -> list[bytes]:
    """Return progress files of a good packet."""
    global EARLIER
    from layout.revise import Done, progress_json, read_earlier

    if GOOD == Path():
        packet_corpus()
    EARLIER = read_earlier(GOOD, lambda folder: ())
    plan = frozen_plan("bank")
    tags = [piece.tag for piece in plan.pieces]
    return [progress_json(plan, Done(frozenset(tags[:count]), frozenset(tags[:count // 2]))).encode()
            for count in (0, 1, 7, len(tags))]


EARLIER: object = None


def feed_progress(data: bytes, work: Path) -> None:
    """Read what is cut and hung."""
    from layout.revise import BaselinePlan, read_done

    path = work / "progress.json"
    path.write_bytes(data)
    assert isinstance(EARLIER, BaselinePlan)
    try:
        read_done(EARLIER, path)
    except JobError as error:
        assert error.lines()


def book_corpus() -> Sequence[bytes]:
    """Return jobs as workbooks."""
    from layout.job import SHAPES, as_file, echo, read_job, starter

    texts: list[Callable[[], str]] = [
        partial(starter, shape, metric=metric) for shape in SHAPES for metric in (False, True)]
    texts += [lambda path=path: echo(read_job(path)) for path in sorted((ROOT / "samples").glob("*.yaml"))]
    return Corpus([lambda text=text: as_file(text(), Path("job.xlsx")) for text in texts])


def damaged_book(data: bytes, rng: random.Random, others: Sequence[bytes]) -> bytes:
    """Return a workbook changed mostly in one of its parts, so that more of it is still one."""
    if rng.random() < 0.2:
        return damaged(data, rng, others)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as package, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as changed:
        names = package.namelist()
        chosen = rng.choice([name for name in names if "sheet" in name or "workbook" in name] + names)
        for name in names:
            part = package.read(name)
            if name != chosen:
                changed.writestr(name, part)
            elif rng.random() < 0.9:
                changed.writestr(name, _damaged_part(part, rng) if rng.random() < 0.7 else damaged(part, rng, [part]))
    return out.getvalue()


def _damaged_part(part: bytes, rng: random.Random) -> bytes:
    """Return a part with some of its values and attributes others, so that it is still XML."""
    spots = list(re.finditer(rb'(?<=")[^"<>&]*(?=")|(?<=>)[^<>&]+(?=<)', part))
    for _ in range(rng.choice((1, 1, 2, 5))):
        spot = rng.choice(spots) if spots else None
        value = rng.choice((b"", b"-1", b"0", b"1e308", b"nan", b"99999999999", b"A1", b"XFD1048576", b"x" * 300, b"s",
                            b"d", b"e", b"b", b"str", b"2026-13-45", b"1", b"12", b"rId3", b"14", b"#REF!"))
        if spot is not None and spot.end() <= len(part):
            part = part[:spot.start()] + value + part[spot.end():]
            spots = list(re.finditer(rb'(?<=")[^"<>&]*(?=")|(?<=>)[^<>&]+(?=<)', part)) if len(part) < 30_000 else []
    return part


def feed_book(data: bytes, work: Path) -> None:
    """Read a workbook."""
    from layout.job import read_job

    path = work / "job.xlsx"
    path.write_bytes(data)
    try:
        read_job(path)
    except JobError as error:
        lines = error.lines()
        assert lines and all("\n" not in line and line.isprintable() for line in lines), lines


Feed = Callable[[bytes, Path], None]
Damage = Callable[[bytes, random.Random, Sequence[bytes]], bytes]
TARGETS: dict[str, tuple[Callable[[], Sequence[bytes]], Damage, Feed]] = {
    "job": (job_corpus, damaged, feed_job),
    "workbook": (book_corpus, damaged_book, feed_book),
    "length": (length_corpus, damaged, feed_length),
    "packet": (packet_corpus, damaged_values, feed_packet),
    "drawing": (drawing_corpus, damaged_drawing, feed_drawing),
    "survey": (survey_corpus, damaged, feed_survey),
    "model": (model_corpus, damaged, feed_model),
    "progress": (progress_corpus, damaged, feed_progress),
}


ROUND = {
    "drawing": 30, "job": 450, "length": 20_000, "model": 100, "packet": 5, "progress": 2_000, "survey": 650,
    "workbook": 25,
}
"""How many cases of each reader make a round: together about five seconds."""


def run(target: str, *, cases: float, seconds: float, seed: int, found: Path) -> Counter[str]:
    """Feed one reader so many cases, for so long at most; keep and count what breaks."""
    corpus, damage, feed = TARGETS[target]
    good = corpus()
    rng = random.Random(seed)
    counts: Counter[str] = Counter()
    end = time.monotonic() + seconds
    with tempfile.TemporaryDirectory() as folder:
        while counts["cases"] < cases and time.monotonic() < end:
            data = damage(rng.choice(good), rng, good)
            counts["cases"] += 1
            try:
                with at_most(MOST_SECONDS):
                    feed(data, Path(folder))
            except BaseException as error:
                if isinstance(error, KeyboardInterrupt):
                    raise
                counts[f"{type(error).__name__}"] += 1
                found.mkdir(parents=True, exist_ok=True)
                name = f"{target}-{seed}-{counts['cases']}-{type(error).__name__}"
                (found / name).write_bytes(data)
                (found / f"{name}.txt").write_text(traceback.format_exc(), encoding="utf-8")
    return counts


def main() -> int:
    """Feed each reader its share and print the counts; 1 when anything broke."""
    parser = argparse.ArgumentParser(description="Feed damaged input to everything that reads a file.")
    length = parser.add_mutually_exclusive_group()
    length.add_argument("--seconds", type=float, default=60)
    length.add_argument("--rounds", type=float,
                        help="so many rounds instead of a time: the same cases wherever it runs")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--target", choices=sorted(TARGETS), action="append")
    parser.add_argument("--found", type=Path, default=HERE / "found")
    asked = parser.parse_args()
    logging.disable(logging.CRITICAL)
    seldom()
    targets = asked.target or sorted(TARGETS)
    import layout.pipeline  # noqa: F401  (what it takes up is there before the limit is set)

    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    with open("/proc/self/statm", encoding="ascii") as pages:
        mapped = int(pages.read().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (max(mapped, used) + MOST_BYTES, resource.RLIM_INFINITY))
    broke = 0
    for target in targets:
        cases = asked.rounds * ROUND[target] if asked.rounds else math.inf
        seconds = math.inf if asked.rounds else asked.seconds / len(targets)
        counts = run(target, cases=cases, seconds=seconds, seed=asked.seed, found=asked.found)
        broke += sum(count for what, count in counts.items() if what != "cases")
        print(f"{target}: " + ", ".join(f"{count} {what}" for what, count in counts.most_common()), flush=True)
    return 1 if broke else 0


if __name__ == "__main__":
    sys.exit(main())
