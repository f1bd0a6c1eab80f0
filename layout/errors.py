"""The one small tree of errors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Advice:
    """What would help, where that is said in words of its own to who writes a file, a workbook or on a page.

    Parameters
    ----------
    about
        What is advised, for readers with words of their own for it.
    file, book
        The words for who writes a job file, and for who fills in a workbook.
    """

    about: str
    file: str
    book: str


@dataclass(frozen=True, order=True)
class Fault:
    """One thing that is wrong with an input: where it is, what the rule is, what was got.

    Parameters
    ----------
    line
        Line in the file, counted from 1; 0 when no line is known.
    where
        Place in the file, entries of lists called by their names, such as ``runs.A.faces.North.length``.
    what
        The rule that was broken, such as ``must be more than 0``.
    got
        The value found, as text; empty when there is none.
    hint
        What would help; empty when nothing would.
    cell
        The cell of a workbook, such as ``Faces!C7``; empty in other files.
    path
        The place step by step, entries of lists by their number from 0; empty when it is not known.
    advice
        What would help besides the hint, each reader in words of its own.
    """

    line: int
    where: str
    what: str
    got: str = ""
    hint: str = ""
    cell: str = ""
    path: tuple[str | int, ...] = field(default=(), compare=False)
    advice: Advice | None = field(default=None, compare=False)

    @property
    def helps(self) -> str:
        """The hint with the advice for the kind of file that the fault is in."""
        own = "" if self.advice is None else self.advice.book if self.cell else self.advice.file
        return "; ".join(words for words in (self.hint, own) if words)

    def text(self, file: str = "") -> str:
        """Return the fault as one plain line."""
        at = self.cell or (str(self.line) if self.line else "")
        place = f"{file}:{at}: " if file and at else f"{file}: " if file else ""
        where = f"{self.where}: " if self.where else ""
        got = f" (got {self.got})" if self.got else ""
        hint = f"; {self.helps}" if self.helps else ""
        return " ".join(f"{place}{where}{self.what}{got}{hint}".split())


class LayoutError(Exception):
    """Anything lapwright refuses to do, with the reason in plain words."""


class JobError(LayoutError):
    """The job file, or another input file, is wrong.

    Parameters
    ----------
    faults
        Every fault found, in the order of the file.
    file
        Name of the file the faults were found in.
    """

    def __init__(self, faults: Sequence[Fault], file: str = "") -> None:
        self.faults = tuple(faults)
        self.file = file
        super().__init__("\n".join(self.lines()))

    def lines(self) -> list[str]:
        """Return one plain line a fault."""
        return [fault.text(self.file) for fault in self.faults]


class NoLayout(LayoutError):
    """No layout keeps the hard limits: the wall cannot be covered, or a piece fits no roll."""


class SolverError(LayoutError):
    """The LP/MILP solver gave no usable answer."""


class DrawingError(LayoutError):
    """Something cannot be drawn or written."""
