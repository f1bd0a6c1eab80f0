"""From patterns to rolls: which piece goes where, and in what order the crew cuts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from layout.records import Cut, Piece
from layout.rolls.problem import Block, Pattern, Problem

Pile = tuple[str, str]


def pile(piece: Piece) -> Pile:
    """Return the pile a cut piece is laid on: its run and face."""
    return piece.run, piece.face


class Piles:
    """The pieces still to be cut, by item and pile, in hanging order, and the piles that are open.

    Parameters
    ----------
    pieces
        In hanging order.
    items
        The item of each piece.
    """

    def __init__(self, pieces: Sequence[Piece], items: Sequence[int]) -> None:
        self.pieces = pieces
        self.waiting: dict[int, dict[Pile, list[int]]] = {}
        self.left: Counter[Pile] = Counter(pile(piece) for piece in pieces)
        self.open: set[Pile] = set()
        for place, item in enumerate(items):
            self.waiting.setdefault(item, {}).setdefault(pile(pieces[place]), []).append(place)

    def opens(self, item: int) -> bool:
        """Return whether cutting a piece of the item must open a new pile."""
        piles = self.waiting.get(item)
        return bool(piles) and self.open.isdisjoint(piles or ())

    def first(self, item: int) -> int:
        """Return the place in hanging order of the item's first waiting piece."""
        return min((places[0] for places in self.waiting.get(item, {}).values()), default=len(self.pieces))

    def take(self, item: int) -> int | None:
        """Take a piece for the open pile that needs fewest more, else the first to hang; None when all are cut."""
        piles = self.waiting.get(item)
        if not piles:
            return None
        ready = [name for name in piles if name in self.open]
        name = min(ready, key=lambda name: (self.left[name], piles[name][0])) if ready else min(
            piles, key=lambda name: piles[name][0])
        place = piles[name].pop(0)
        if not piles[name]:
            del piles[name]
        self.left[name] -= 1
        self.open.add(name)
        if not self.left[name]:
            self.open.discard(name)
        return place


def in_cutting_order(
    problem: Problem, rolls: Sequence[Pattern], piles: Piles,
) -> Iterator[tuple[Pattern, tuple[Cut, ...]]]:
    """Give the rolls in cutting order with their cuts: next always the one that opens fewest new piles.

    Parameters
    ----------
    problem
        What the rolls cut.
    rolls
        One pattern a roll.
    piles
        The pieces, none cut yet.

    Notes
    -----
    Greedy. Among rolls that open equally many piles, the pattern just cut goes on, then the one that holds the piece
    that hangs first.
    """
    todo = Counter(rolls)
    last: Pattern | None = None
    while todo:
        def rank(pattern: Pattern) -> tuple[int, bool, int, Pattern]:
            held = {lay.item for block in pattern.blocks for lay in block.lays}
            opened = sum(piles.opens(item) for item in held)
            return opened, pattern != last, min((piles.first(item) for item in held), default=0), pattern
        chosen = min(todo, key=rank)
        todo[chosen] -= 1
        if not todo[chosen]:
            del todo[chosen]
        last = chosen
        cuts = lay_out(problem, chosen, piles)
        if cuts:
            yield chosen, cuts


def lay_out(problem: Problem, roll: Pattern, piles: Piles) -> tuple[Cut, ...]:
    """Return the cuts of one roll, longest block first, each block's pieces side by side, the longest at the edge.

    A place in the pattern for which no piece is left stays uncut, and a block shrinks to its longest piece.
    """
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
    cuts: list[Cut] = []
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
