"""The one small tree of errors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field


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
    """

    line: int
    where: str
    what: str
    got: str = ""
    hint: str = ""
    cell: str = ""
    path: tuple[str | int, ...] = field(default=(), compare=False)

    def text(self, file: str = "") -> str:
        """Return the fault as one plain line."""
        at = self.cell or (str(self.line) if self.line else "")
        place = f"{file}:{at}: " if file and at else f"{file}: " if file else ""
        where = f"{self.where}: " if self.where else ""
        got = f" (got {self.got})" if self.got else ""
        hint = f"; {self.hint}" if self.hint else ""
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
