"""One set of counts with one name each: drops, pieces of sheet, pieces of reinforcing, pieces of drainage board."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from layout.records import MEMBRANE, Piece, Plan

FIELD_KINDS = ("drop", "course")
"""Kinds of pieces that cover the wall."""
SPARE = "spare"
"""The kind of a piece that is cut and that no place needs."""


@dataclass(frozen=True)
class Counts:
    """How many there are.

    Parameters
    ----------
    drops
        Drops of the membrane.
    sheet
        Pieces of sheet: what the membrane's drops or courses are hung in.
    reinforcing
        Pieces of reinforcing: strips, collars, covers and the like, whatever they are cut from.
    board
        Pieces of drainage board.
    spare
        Pieces that are cut and that no place needs.
    """

    drops: int
    sheet: int
    reinforcing: int
    board: int
    spare: int = 0

    @property
    def pieces(self) -> int:
        """All pieces that are cut."""
        return self.sheet + self.reinforcing + self.board + self.spare

    def words(self) -> str:
        """Return the pieces in words, those there are.

        Examples
        --------
        >>> Counts(4, 5, 1, 0).words()
        '5 pieces of sheet, 1 piece of reinforcing'
        """
        named = ((self.sheet, "of sheet"), (self.reinforcing, "of reinforcing"), (self.board, "of drainage board"),
                 (self.spare, "that are spare"))
        return ", ".join(f"{count:,} {'piece' if count == 1 else 'pieces'} {name}" for count, name in named if count)


def count_pieces(pieces: Iterable[Piece], *, drops: int = 0) -> Counts:
    """Return the counts of some pieces."""
    sheet = reinforcing = board = spare = 0
    for piece in pieces:
        if piece.kind == SPARE:
            spare += 1
        elif piece.layer != MEMBRANE:
            board += 1
        elif piece.kind in FIELD_KINDS:
            sheet += 1
        else:
            reinforcing += 1
    return Counts(drops, sheet, reinforcing, board, spare)


def counts(plan: Plan) -> Counts:
    """Return the counts of a plan."""
    return count_pieces(plan.pieces, drops=sum(drop.layer == MEMBRANE for drop in plan.drops))
