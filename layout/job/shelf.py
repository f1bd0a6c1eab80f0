"""The stock book as text: what lies in the yard, read as strictly as a job file, and written back."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Annotated, Literal

from pydantic import Field

from layout.errors import Fault, JobError
from layout.job.kind import ReadingContext
from layout.job.lengths import RollLength, SheetWidth
from layout.job.part import Part
from layout.job.quantities import Count, CountMore
from layout.job.text import read_tree
from layout.job.tree import Unreadable, Value
from layout.job.walk import Faults, TreeWalk
from layout.job.words import Choice, OneLine, Name
from layout.units import INCH, UNITS, Unit, tape

MOST_BYTES = 5_000_000
"""Largest stock book."""
HEADING = "# Stock book of lapwright. Change it with: lapwright stock FILE; an edit by hand is read as strictly.\n"


@dataclass(frozen=True)
class Kept:
    """A remnant in the yard: where it lies, and the job it is promised to, or empty."""

    tag: str
    length: int
    width: int
    place: str = ""
    promised: str = ""


@dataclass(frozen=True)
class Promise:
    """Rolls of one length that are promised to a job."""

    job: str
    length: int
    count: int


@dataclass(frozen=True)
class Shelf:
    """One product in the yard: rolls on hand by length, promised ones included; rolls promised; remnants."""

    name: str
    width: int
    on_hand: tuple[tuple[int, int], ...] = ()
    promises: tuple[Promise, ...] = ()
    remnants: tuple[Kept, ...] = ()

    def free(self, length: int) -> int:
        """Return how many rolls of a length are on hand and promised to nobody."""
        held = sum(count for each, count in self.on_hand if each == length)
        return held - sum(promise.count for promise in self.promises if promise.length == length)


@dataclass(frozen=True)
class Book:
    """The whole yard, in one unit."""

    unit: Unit = INCH
    shelves: tuple[Shelf, ...] = field(default=())


class KeptPart(Part):
    """A remnant in the yard."""

    tag: Name = Field(description="Its tag; no two remnants of a product have the same.")
    length: RollLength = Field(description="Its length.")
    width: SheetWidth | None = Field(default=None, description="Its width. Left out: the width of the product.")
    place: OneLine = Field(default="", description="Where it lies.")
    promised: OneLine = Field(default="", description="The job it is promised to.")


class PromisePart(Part):
    """Rolls promised to a job."""

    job: Name = Field(description="The job.")
    length: RollLength = Field(description="Length of the rolls.")
    count: CountMore = Field(description="How many.")


class HeldPart(Part):
    """Rolls on hand."""

    length: RollLength = Field(description="Length of the rolls.")
    on_hand: Count = Field(description="How many there are, promised ones included.")


class ShelfPart(Part):
    """One product in the yard."""

    name: Name = Field(description="Name of the product, as jobs call it.")
    width: SheetWidth = Field(description="Width of its rolls.")
    rolls: list[HeldPart] = Field(default=[], description="Rolls on hand.")
    promises: list[PromisePart] = Field(default=[], description="Rolls promised to jobs.")
    remnants: list[KeptPart] = Field(default=[], description="Remnants.")


class BookPart(Part):
    """A stock book."""

    units: Annotated[Literal["in", "mm"], Choice(("in", "mm"))] = Field(default="in", description="Unit of bare "
                                                                        "numbers.")
    products: list[ShelfPart] = Field(default=[], description="What lies in the yard.")


def read_stock_book(text: str, file: str) -> Book:
    """Read the text of a stock book.

    Raises
    ------
    JobError
        With every fault in it, in its order.
    """
    try:
        root, repeated = read_tree(text, file=file)
    except Unreadable as error:
        raise JobError(error.faults, file) from None
    faults = Faults(root, list(repeated))
    given = root.content.get("units") if isinstance(root.content, dict) else None
    name = str(given.content) if isinstance(given, Value) else "in"
    part = TreeWalk(ReadingContext(UNITS.get(name, INCH), sure=name in UNITS), faults).part(BookPart, root, ())
    found = faults.ordered()
    if found:
        raise JobError(found, file)
    book = Book(UNITS[name], tuple(_shelf(each) for each in part.products))
    wrong = list(_faults(book))
    if wrong:
        raise JobError(wrong, file)
    return book


def _shelf(part: ShelfPart) -> Shelf:
    return Shelf(
        part.name, part.width, tuple((roll.length, roll.on_hand) for roll in part.rolls),
        tuple(Promise(each.job, each.length, each.count) for each in part.promises),
        tuple(Kept(each.tag, each.length, each.width or part.width, each.place, each.promised)
              for each in part.remnants),
    )


def _faults(book: Book) -> Iterator[Fault]:
    """Yield what is wrong with a book as a whole."""
    seen: set[tuple[str, int]] = set()
    for at, shelf in enumerate(book.shelves):
        where = f"products[{at}]"
        if (shelf.name, shelf.width) in seen:
            yield Fault(0, where, "is listed twice: name and width are those of another product", shelf.name)
        seen.add((shelf.name, shelf.width))
        tags: set[str] = set()
        for number, kept in enumerate(shelf.remnants):
            if kept.tag in tags:
                yield Fault(0, f"{where}.remnants[{number}].tag", "must be used once", kept.tag)
            tags.add(kept.tag)
            if kept.width > shelf.width:
                yield Fault(0, f"{where}.remnants[{number}].width", "must be at most that of the product")
        lengths = [length for length, _ in shelf.on_hand]
        for length in sorted(set(lengths) | {promise.length for promise in shelf.promises}):
            if lengths.count(length) > 1:
                yield Fault(0, f"{where}.rolls", "must list each length once", tape(length, book.unit))
            if shelf.free(length) < 0:
                yield Fault(0, f"{where}.promises", "must not promise more rolls than there are",
                            tape(length, book.unit))


def book_text(book: Book) -> str:
    """Return a stock book as text that reads as the same book."""
    lines = [HEADING, f"units: {book.unit.name}\n", "products:" + ("" if book.shelves else " []") + "\n"]
    for shelf in book.shelves:
        lines.append(f"  - name: {json.dumps(shelf.name, ensure_ascii=False)}\n")
        lines.append(f"    width: {_length(shelf.width, book.unit)}\n")
        lines += _list("rolls", [f"length: {_length(length, book.unit)}, on_hand: {count}"
                                 for length, count in shelf.on_hand])
        lines += _list("promises", [f"job: {json.dumps(each.job, ensure_ascii=False)}, "
                                    f"length: {_length(each.length, book.unit)}, count: {each.count}"
                                    for each in shelf.promises])
        lines += _list("remnants", [_kept(each, book.unit) for each in shelf.remnants])
    return "".join(lines)


def _list(name: str, items: list[str]) -> list[str]:
    return [f"    {name}:\n", *(f"      - {{{item}}}\n" for item in items)] if items else []


def _kept(kept: Kept, unit: Unit) -> str:
    words = {"tag": kept.tag, "place": kept.place, "promised": kept.promised}
    told = [f"{name}: {json.dumps(text, ensure_ascii=False)}" for name, text in words.items() if text]
    told[1:1] = [f"length: {_length(kept.length, unit)}", f"width: {_length(kept.width, unit)}"]
    return ", ".join(told)


def _length(ticks: int, unit: Unit) -> str:
    return json.dumps(tape(ticks, unit))
