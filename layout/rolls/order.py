"""From patterns to rolls: which piece goes where, and in what order the crew cuts."""

from __future__ import annotations

from collections.abc import Sequence

from layout.records import Cut, Piece
from layout.rolls.problem import Block, Pattern, Problem


class Piles:
    """The pieces still to be cut, by item, in hanging order, and the piles (run and face) they make."""

    def __init__(self, pieces: Sequence[Piece], items: Sequence[int]) -> None:
        self.pieces = pieces
        self.waiting: dict[int, list[int]] = {}
        for place, item in enumerate(items):
            self.waiting.setdefault(item, []).append(place)
        self.left: dict[tuple[str, str], int] = {}
        for piece in pieces:
            self.left[pile(piece)] = self.left.get(pile(piece), 0) + 1
        self.started: set[tuple[str, str]] = set()

    def choose(self, item: int) -> int:
        """Return the waiting piece of the item whose pile is open with fewest left, else the first to hang."""
        def rank(place: int) -> tuple[bool, int, int]:
            name = pile(self.pieces[place])
            return name not in self.started, self.left[name] if name in self.started else 0, place
        return min(self.waiting[item], key=rank)

    def take(self, item: int) -> int | None:
        """Take a piece of the item; None when all are cut."""
        if not self.waiting.get(item):
            return None
        place = self.choose(item)
        self.waiting[item].remove(place)
        name = pile(self.pieces[place])
        self.started.add(name)
        self.left[name] -= 1
        return place


def pile(piece: Piece) -> tuple[str, str]:
    """Return the pile a cut piece is laid on: its run and face."""
    return piece.run, piece.face


def roll_order(rolls: Sequence[Pattern], pieces: Sequence[Piece], items: Sequence[int]) -> list[Pattern]:
    """Return the rolls in cutting order: next always the one that opens fewest new piles.

    Notes
    -----
    Greedy; among equals the roll that finishes the open piles most, then the one that holds the piece that hangs first.
    """
    first: dict[int, dict[tuple[str, str], int]] = {}
    for place, item in enumerate(items):
        first.setdefault(item, {}).setdefault(pile(pieces[place]), place)
    holds = [sorted({lay.item for block in roll.blocks for lay in block.lays}) for roll in rolls]
    todo = list(range(len(rolls)))
    started: set[tuple[str, str]] = set()
    ordered = []
    while todo:
        def rank(number: int) -> tuple[int, int, int]:
            fresh = [item for item in holds[number] if not started.intersection(first[item])]
            places = [min(first[item].values()) for item in holds[number]]
            return len(fresh), min(places, default=0), number
        chosen = min(todo, key=rank)
        todo.remove(chosen)
        for item in holds[chosen]:
            if not started.intersection(first[item]):
                started.add(min(first[item], key=lambda name: first[item][name]))
        ordered.append(rolls[chosen])
    return ordered


def lay_out(problem: Problem, roll: Pattern, piles: Piles) -> tuple[Cut, ...]:
    """Return the cuts of one roll, longest block first, each block's pieces side by side.

    A place in the pattern for which no piece is left stays uncut, and a block shrinks to its longest piece.
    """
    cuts: list[Cut] = []
    filled: list[tuple[int, list[tuple[int, int, int, bool]]]] = []
    for block in sorted(roll.blocks, key=_longest_first):
        pieces = []
        for lay in block.lays:
            place = piles.take(lay.item)
            if place is not None:
                item = problem.items[lay.item]
                length, width = (item.width, item.length) if lay.turned else (item.length, item.width)
                pieces.append((place, length, width, lay.turned))
        if pieces:
            filled.append((max(piece[1] for piece in pieces), pieces))
    at = 0
    for length, pieces in sorted(filled, key=lambda entry: -entry[0]):
        across = 0
        for place, long, wide, turned in sorted(pieces, key=lambda piece: (-piece[1], -piece[2], piece[0])):
            cuts.append(Cut(piles.pieces[place].tag, at, across, long, wide, turned))
            across += wide
        at += length
    return tuple(cuts)


def _longest_first(block: Block) -> tuple[int, Block]:
    return -block.length, block
