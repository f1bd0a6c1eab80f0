"""The cut list: one row a piece, in cutting order, as a person reads a tape."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from layout.marks import marks
from layout.packet.piles import piles
from layout.records import Cut, Piece, Plan, Roll
from layout.units import Unit, inches, tape

COLUMNS = (
    "cut", "roll", "at", "piece", "kind", "run", "face", "length", "width", "marks", "install", "note",
    "stock", "across", "to", "station", "pile", "marks_liner", "side_up", "order",
)
"""Columns of cut-list.csv; the first twelve are fixed, more may come after them."""

_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "'")


@dataclass(frozen=True)
class CutRow:
    """One piece where it is cut.

    Parameters
    ----------
    number
        Its place in cutting order, from 1.
    roll, cut, piece
        The roll, the place on it, and what is cut.
    station
        Where its left edge hangs, from the run's start [ticks]; None for a piece that does not lie flat.
    pile
        The pile it is laid on.
    marks, marks_liner
        What to mark, film side up and liner side up.
    note
        What else the person cutting must know.
    """

    number: int
    roll: Roll
    cut: Cut
    piece: Piece
    station: int | None
    pile: str
    marks: tuple[str, ...]
    marks_liner: tuple[str, ...]
    note: str


def rolls(plan: Plan) -> tuple[Roll, ...]:
    """Return every roll opened, in cutting order, product after product."""
    return tuple(roll for cutting in plan.cuttings for roll in cutting.rolls)


def rows(plan: Plan) -> tuple[CutRow, ...]:
    """Return the cut list: every cut of every roll in cutting order."""
    by_tag = {piece.tag: piece for piece in plan.pieces}
    pile_of = piles(plan).by_piece
    tucks, after = tuck_notes(plan), after_notes(plan)
    unit = plan.job.unit
    listed: list[CutRow] = []
    for roll in rolls(plan):
        for cut in roll.cuts:
            piece = by_tag[cut.piece]
            listed.append(CutRow(
                number=len(listed) + 1, roll=roll, cut=cut, piece=piece,
                station=min(x for x, _ in piece.outline) if piece.flat else None,
                pile=pile_of.get(piece.tag, ""),
                marks=marks(piece, unit), marks_liner=marks(piece, unit, mirrored=True),
                note="; ".join(_notes(cut, roll, (*tucks.get(piece.drop, ()), *after.get(piece.tag, ())), unit)),
            ))
    return tuple(listed)


def tuck_notes(plan: Plan) -> dict[str, tuple[str, ...]]:
    """Return, by the drop's tag, what a closing seam asks: one edge is left loose, the last drop tucked under."""
    notes: dict[str, tuple[str, ...]] = {}
    for seam in plan.seams:
        if not seam.tuck:
            continue
        under = seam.left if seam.over == seam.right else seam.right
        loose, hidden = ("right", "left") if seam.over == seam.left else ("left", "right")
        notes[seam.over] = (*notes.get(seam.over, ()), f"leave its {loose} edge loose: {under} tucks under it")
        notes[under] = (*notes.get(under, ()), f"tuck its {hidden} edge under {seam.over}")
    return notes


def after_notes(plan: Plan) -> dict[str, tuple[str, ...]]:
    """Return, by the tag of each piece that laps over a lower one of its drop, which must be on before it."""
    order = {piece.tag: piece.order for piece in plan.pieces}
    return {
        upper: (f"goes on after {lower}, over it",)
        for drop in plan.drops for upper, lower in zip(drop.pieces, drop.pieces[1:])
        if order.get(upper, 0) > order.get(lower, 0) > 0
    }


def _notes(cut: Cut, roll: Roll, said: Sequence[str], unit: Unit) -> list[str]:
    notes = []
    if cut.within:
        notes.append(f"from what is cut away of {cut.within}")
    if cut.turned:
        notes.append("turned: its length lies across the roll")
    if cut.width < roll.width:
        notes.append(f"rip {inches(cut.width, unit)} of {inches(roll.width, unit)}")
    return [*notes, *said]


def safe_cell(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula.

    A text that starts like a formula, or with an apostrophe, gets an apostrophe before it; a reader that drops
    one leading apostrophe has the text back.

    Examples
    --------
    >>> safe_cell("=cmd()"), safe_cell("A-01")
    ("'=cmd()", 'A-01')
    """
    return "'" + text if text.lstrip(" ").startswith(_RISKY) else text


def cut_list_csv(plan: Plan) -> str:
    """Return cut-list.csv: the cut list with lengths as a person reads a tape.

    Parameters
    ----------
    plan
        The plan.

    Notes
    -----
    Comma-separated, UTF-8, one line a row; cells are kept from being formulas by ``safe_cell``. ``at`` and ``to``
    are measured from the roll's end, so that an error in one cut does not add up.
    """
    return table_csv([dict(zip(COLUMNS, _cells(row, plan), strict=True)) for row in rows(plan)], COLUMNS)


def table_csv(records: Sequence[Mapping[str, str]], columns: Sequence[str]) -> str:
    """Return rows of text as CSV, every cell safe."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    for record in records:
        writer.writerow([safe_cell(record[column]) for column in columns])
    return text.getvalue()


def _cells(row: CutRow, plan: Plan) -> list[str]:
    unit = plan.job.unit
    piece, cut = row.piece, row.cut
    return [
        str(row.number), row.roll.tag, tape(cut.at, unit), piece.tag, piece.kind, piece.run, piece.face,
        tape(piece.length, unit), inches(piece.width, unit), "; ".join(row.marks),
        str(piece.install) if piece.install else "", row.note,
        row.roll.stock, inches(cut.across, unit), tape(cut.at + cut.length, unit),
        "" if row.station is None else tape(row.station, unit), row.pile, "; ".join(row.marks_liner),
        "film" if plan.job.film_side_up else "liner", str(piece.order) if piece.order else "",
    ]
