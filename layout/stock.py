"""The stock book: rolls and remnants in the yard, and which job each is promised to.

A change is made under a lock of the file: the book is read, changed and written aside, then put in its place in one
step. Whoever is interrupted, the file is the old book or the new one.
"""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from layout.errors import Fault, JobError, LayoutError
from layout.files import MOST_PLAN_BYTES, read_text
from layout.job import read_job
from layout.job.leftovers import PacketRoll, PacketRolls, read_packet
from layout.job.shelf import MOST_BYTES, Book, Kept, Promise, Shelf, book_text, read_stock_book
from layout.records import MEMBRANE, Job, Plan, Product, Remnant
from layout.units import UNITS, Unit, read_length, round_ticks, tape

try:
    import fcntl
except ImportError:  # not a POSIX system
    fcntl = None  # type: ignore[assignment]

ProductKey = tuple[str, int]
"""A product in the yard: its name and width [ticks]."""


class Taken(LayoutError):
    """Sheet that a plan uses was promised to another job after the plan was made."""


@dataclass(frozen=True)
class Use:
    """What a job takes of one product: tags of remnants, rolls by length, and its word in the plan."""

    key: ProductKey
    remnants: tuple[str, ...]
    rolls: tuple[tuple[int, int], ...]


def name_of(job: Job) -> str:
    """Return what a job is called in the book: its number and its name."""
    return f"{job.info.number} {job.info.name}".strip()


def load(path: Path) -> Book:
    """Read a stock book; raises JobError with every fault in it."""
    return read_stock_book(read_text(path, MOST_BYTES), str(path))


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold the book's lock: a file beside it that is never replaced, so that all wait at the same one."""
    if fcntl is None:
        raise LayoutError(f"{path}: a stock book can be changed only on a system with file locks")
    lock = path.with_name(f".{path.name}.lock")
    try:
        held = os.open(lock, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)
    except OSError as error:
        raise LayoutError(f"{path}: its lock cannot be opened: {error.strerror}") from error
    try:
        fcntl.flock(held, fcntl.LOCK_EX)
        yield
    finally:
        os.close(held)


def change(path: Path, make: Callable[[Book], Book], *, new: Book | None = None) -> Book:
    """Change a stock book under its lock and return it as it is now.

    Parameters
    ----------
    path
        The book.
    make
        Returns the changed book; what it raises leaves the book as it was.
    new
        What to begin with where there is no book yet; left out, that is refused.
    """
    path = Path(os.path.realpath(path))
    with locked(path):
        book = new if new is not None and not path.exists() else load(path)
        made = make(book)
        if made != book or not path.exists():
            save(path, made)
    return made


def save(path: Path, book: Book) -> None:
    """Put a book in its place in one step; its lock must be held."""
    text = book_text(book)
    read_stock_book(text, str(path))  # what could not be read again is never put in place
    handle, aside = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".new", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(text.encode("utf-8"))
            out.flush()
            os.fsync(out.fileno())
        if path.exists():
            os.chmod(aside, path.stat().st_mode & 0o777)
        os.replace(aside, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(aside)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


# --- what a job may use, and takes -------------------------------------------------------------

def products(job: Job) -> dict[str, Product]:
    """Return the products of a job that a yard may hold, by the word its pieces have for them."""
    return {MEMBRANE: job.sheet, **({"strip": job.strip} if job.strips_from == "strip" else {})}


def stocked(job: Job, book: Book) -> Job:
    """Return a job that may use, besides its own remnants, what lies in the yard for nobody or for itself.

    A remnant of the job with the same tag as one in the book is that one, and goes by the book.
    """
    if job.unit != book.unit:
        raise LayoutError(f"the stock book is in {book.unit.name} and the job in {job.unit.name}")
    sheet = _with_remnants(job.sheet, book, name_of(job))
    strip = sheet if job.strips_from == "sheet" else _with_remnants(job.strip, book, name_of(job))
    return replace(job, sheet=sheet, strip=strip)


def _with_remnants(product: Product, book: Book, job: str) -> Product:
    shelf = find(book, (product.name, product.width))
    if shelf is None:
        return product
    known = {kept.tag for kept in shelf.remnants}
    own = [each for each in product.remnants if each.tag not in known]
    free = [Remnant(kept.tag, kept.length, kept.width) for kept in shelf.remnants if kept.promised in ("", job)]
    return replace(product, remnants=(*own, *free))


def find(book: Book, key: ProductKey) -> Shelf | None:
    """Return the shelf of a product, or None."""
    return next((shelf for shelf in book.shelves if (shelf.name, shelf.width) == key), None)


def rolls_on_hand(job: Job, book: Book) -> dict[tuple[str, int], int]:
    """Return how many rolls lie in the yard for a job, by product's word and length [ticks]."""
    found: dict[tuple[str, int], int] = {}
    for word, product in products(job).items():
        shelf = find(book, (product.name, product.width))
        for length, _ in shelf.on_hand if shelf else ():
            own = sum(each.count for each in shelf.promises if (each.job, each.length) == (name_of(job), length)) \
                if shelf else 0
            found[word, length] = (shelf.free(length) if shelf else 0) + own
    return found


def uses(plan: Plan) -> list[Use]:
    """Return what a plan takes of each product: every remnant, and the rolls that its order takes from stock."""
    found: list[Use] = []
    for word, product in products(plan.job).items():
        rolls = [roll for cutting in plan.cuttings if cutting.product == word for roll in cutting.rolls]
        held: Counter[int] = Counter()
        opened = Counter(roll.length for roll in rolls if not roll.remnant)
        for line in plan.order:
            if line.key == word and line.unit == "roll" and line.stock:
                length = next(n for n in opened if line.size.endswith(f" by {tape(n, plan.job.unit)}"))
                held[length] += line.stock
        found.append(Use((product.name, product.width), tuple(roll.stock for roll in rolls if roll.remnant),
                         tuple(sorted(held.items()))))
    return found


def promised(book: Book, job: str, wanted: Sequence[Use]) -> Book:
    """Return a book in which a job is promised what it takes, and nothing else.

    Raises
    ------
    Taken
        When some of it is promised to another job, or has gone.
    """
    book = released(book, job)
    shelves = {(shelf.name, shelf.width): shelf for shelf in book.shelves}
    for use in wanted:
        shelf = shelves.get(use.key)
        if shelf is None:
            continue
        kept = {each.tag: each for each in shelf.remnants}
        for tag in use.remnants:
            if tag not in kept:
                continue  # the job's own remnant: the book never knew it
            if kept[tag].promised:
                raise Taken(f"remnant {tag} of {shelf.name} is promised to {kept[tag].promised}")
            kept[tag] = replace(kept[tag], promised=job)
        promises = list(shelf.promises)
        for length, count in use.rolls:
            if shelf.free(length) < count:
                raise Taken(f"{shelf.name}: {shelf.free(length)} rolls of {tape(length, book.unit)} are free, "
                            f"{count} are needed")
            promises.append(Promise(job, length, count))
        shelves[use.key] = replace(shelf, remnants=tuple(kept.values()), promises=tuple(promises))
    return replace(book, shelves=tuple(shelves.values()))


def released(book: Book, job: str) -> Book:
    """Return a book in which nothing is promised to a job."""
    return replace(book, shelves=tuple(
        replace(shelf, promises=tuple(each for each in shelf.promises if each.job != job),
                remnants=tuple(replace(each, promised="") if each.promised == job else each
                               for each in shelf.remnants))
        for shelf in book.shelves))


def returned(book: Book, job: str) -> Book:
    """Return a book in which everything promised to a job is free again; raises where nothing was."""
    made = released(book, job)
    if made == book:
        known = sorted({each.job for shelf in book.shelves for each in shelf.promises}
                       | {each.promised for shelf in book.shelves for each in shelf.remnants if each.promised})
        raise LayoutError(f"nothing is promised to {job}; known here: {', '.join(known) or 'no job'}")
    return made


# --- a packet that is cut, and what is added by hand -------------------------------------------

def after_cutting(book: Book, packet: Path) -> tuple[Book, list[str]]:
    """Return a book after a packet was cut, and what changed in words: what it used is gone, what it leaves is there.

    Raises
    ------
    LayoutError
        When the packet cannot be read or its remnants are promised to another job.
    """
    try:
        data = read_packet(read_text(packet / "plan.json", MOST_PLAN_BYTES))
    except ValueError as error:
        raise LayoutError(f"{packet}: is not a packet that can be read: {error}") from None
    job = read_job(packet / "job.yaml")
    if job.unit != book.unit:
        raise LayoutError(f"{packet}: is in {job.unit.name} and the stock book in {book.unit.name}")
    told: list[str] = []
    shelves = {(shelf.name, shelf.width): shelf for shelf in book.shelves}
    for word, product in products(job).items():
        key = (product.name, product.width)
        mine = [roll for roll in data.rolls if roll.product == word]
        if mine:
            shelves[key] = _after(shelves.get(key, Shelf(*key)), name_of(job), mine, _handed_on(data, word),
                                  book.unit, told)
    return replace(book, shelves=tuple(shelves.values())), told


def _handed_on(data: PacketRolls, word: str) -> set[str]:
    """Return the tags of rolls whose ends a packet says are promised to another job that was planned with it."""
    found = (re.match(rf"{word}: the end of roll (\S+) is promised to ", note) for note in data.notes)
    return {match[1] for match in found if match}


def _after(
    shelf: Shelf, job: str, rolls: Sequence[PacketRoll], handed_on: set[str], unit: Unit, told: list[str],
) -> Shelf:
    kept = {each.tag: each for each in shelf.remnants}
    for roll in rolls:
        tag = roll.stock
        if roll.remnant and tag in kept:
            if kept[tag].promised not in ("", job):
                raise LayoutError(f"remnant {tag} of {shelf.name} is promised to {kept[tag].promised}, not to {job}")
            del kept[tag]
            told.append(f"{shelf.name}: remnant {tag} is used up")
    for roll in rolls:
        left = roll.leftover
        if left.keep and roll.tag not in handed_on:
            tag = f"{job} {roll.tag}"[:120]
            length, width = round(left.length * unit.ticks), round(left.width * unit.ticks)
            if tag in kept:
                raise LayoutError(f"remnant {tag} of {shelf.name} is in the book already: was this packet marked cut "
                                  "before?")
            kept[tag] = Kept(tag, length, width)
            told.append(f"{shelf.name}: remnant {tag} put in, {tape(length, unit)} by {tape(width, unit)}")
    used = Counter({each.length: each.count for each in shelf.promises if each.job == job})
    on_hand = tuple((length, count - used[length]) for length, count in shelf.on_hand)
    for length, count in sorted(used.items()):
        told.append(f"{shelf.name}: {count} of {tape(length, unit)} used up")
    return replace(shelf, remnants=tuple(kept.values()), on_hand=on_hand,
                   promises=tuple(each for each in shelf.promises if each.job != job))


def length(text: str, unit: Unit, option: str) -> int:
    """Return a length given on the command line, rounded down [ticks]."""
    try:
        ticks = round_ticks(read_length(text, unit), "down")
    except ValueError as error:
        raise JobError([Fault(0, option, str(error), text or "nothing")]) from None
    if ticks <= 0:
        raise JobError([Fault(0, option, "must be more than 0", text)])
    return ticks


def with_remnant(book: Book, key: ProductKey, kept: Kept) -> Book:
    """Return a book with one more remnant; its tag must be new for the product."""
    shelf = find(book, key) or Shelf(*key)
    if any(each.tag == kept.tag for each in shelf.remnants):
        raise JobError([Fault(0, "--tag", "is in the book already", kept.tag)])
    return _with_shelf(book, replace(shelf, remnants=(*shelf.remnants, kept)))


def with_rolls(book: Book, key: ProductKey, length: int, count: int) -> Book:
    """Return a book with more rolls on hand, or less where ``count`` is below 0."""
    shelf = find(book, key) or Shelf(*key)
    held = dict(shelf.on_hand)
    held[length] = held.get(length, 0) + count
    if held[length] < 0 or replace(shelf, on_hand=tuple(held.items())).free(length) < 0:
        raise JobError([Fault(0, "--rolls", "must leave what is promised", str(count))])
    return _with_shelf(book, replace(shelf, on_hand=tuple(held.items())))


def without_remnant(book: Book, key: ProductKey, tag: str) -> Book:
    """Return a book without a remnant that is promised to nobody."""
    shelf = find(book, key)
    kept = next((each for each in shelf.remnants if each.tag == tag), None) if shelf else None
    if shelf is None or kept is None:
        raise JobError([Fault(0, "--tag", "is not in the book", tag)])
    if kept.promised:
        raise JobError([Fault(0, "--tag", f"is promised to {kept.promised}", tag)])
    return _with_shelf(book, replace(shelf, remnants=tuple(each for each in shelf.remnants if each.tag != tag)))


def _with_shelf(book: Book, shelf: Shelf) -> Book:
    key = (shelf.name, shelf.width)
    others = [each if (each.name, each.width) != key else shelf for each in book.shelves]
    return replace(book, shelves=tuple(others if find(book, key) else [*others, shelf]))


def book_lines(book: Book) -> list[str]:
    """Return the book as a table for the screen: rolls on hand and free, remnants and whom they are promised to."""
    rows: list[tuple[str, ...]] = [("product", "what", "size", "place", "promised to")]
    for shelf in book.shelves:
        for length, count in shelf.on_hand:
            owners = ", ".join(f"{each.count} to {each.job}" for each in shelf.promises if each.length == length)
            rows.append((shelf.name, f"{count} rolls, {shelf.free(length)} free",
                         f"{tape(shelf.width, book.unit)} by {tape(length, book.unit)}", "", owners))
        for kept in shelf.remnants:
            rows.append((shelf.name, f"remnant {kept.tag}",
                         f"{tape(kept.width, book.unit)} by {tape(kept.length, book.unit)}", kept.place,
                         kept.promised))
    widths = [max(len(row[i]) for row in rows) for i in range(5)]
    lines = ["  ".join(cell.ljust(wide) for cell, wide in zip(row, widths, strict=True)).rstrip() for row in rows]
    return [lines[0], "-" * max(map(len, lines)), *lines[1:]]


def act(path: Path, action: str, what: str, given: Mapping[str, str], rolls: int | None) -> list[str]:
    """Do what the command line asks of a stock book, and return what changed and the book as lines.

    Parameters
    ----------
    path
        The book.
    action
        ``list``, ``add``, ``remove``, ``return`` or ``cut``.
    what
        The job to return from, or the packet that is cut.
    given
        The options by name, as text; empty where they are not given.
    rolls
        Rolls put in or taken out; None where a remnant is meant.
    """
    told: list[str] = []
    if action in ("return", "cut") and not what:
        raise LayoutError(f"{action} needs {'the name of a job' if action == 'return' else 'a packet folder'}")

    def changed(book: Book) -> Book:
        if action == "return":
            return returned(book, what)
        if action == "cut":
            made, words = after_cutting(book, Path(what))
            told.extend(words)
            return made
        key = (given["product"], length(given["width"], book.unit, "--width"))
        if action == "remove":
            return without_remnant(book, key, given["tag"])
        long = length(given["length"], book.unit, "--length")
        if rolls is not None:
            return with_rolls(book, key, long, rolls)
        wide = given["remnant-width"]
        across = length(wide, book.unit, "--remnant-width") if wide else key[1]
        return with_remnant(book, key, Kept(given["tag"], long, across, given["place"]))

    if action == "list":
        return book_lines(load(path))
    made = change(path, changed, new=Book(UNITS[given["units"]]) if action == "add" else None)
    return [*told, *book_lines(made)]
