"""From patterns to rolls: which piece goes where, and in what order the crew cuts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from layout.records import Cut, Piece
from layout.rolls.fill import Inside
from layout.rolls.problem import CutBlock, Lay, Pattern, Problem

PileKey = tuple[str, str]
NOTHING: Mapping[str, Sequence[Inside]] = MappingProxyType({})


def pile(piece: Piece) -> PileKey:
    """Return the pile a cut piece is laid on: its run and face."""
    return piece.run, piece.face


class OpenPiles:
    """The pieces still to be cut, by item and pile, in hanging order, and the piles that are open.

    Parameters
    ----------
    pieces
        In hanging order.
    items
        The item of each piece.
    inside
        By the tag of a large piece, the small ones within what is cut away of it.
    """

    def __init__(
        self, pieces: Sequence[Piece], items: Sequence[int], inside: Mapping[str, Sequence[Inside]] = NOTHING,
    ) -> None:
        self.pieces = pieces
        self.waiting: dict[int, dict[PileKey, list[int]]] = {}
        self.left: Counter[PileKey] = Counter(pile(piece) for piece in pieces)
        self.open: set[PileKey] = set()
        self.inside = inside
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
    problem: Problem, rolls: Sequence[Pattern], piles: OpenPiles,
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


def lay_out(problem: Problem, roll: Pattern, piles: OpenPiles) -> tuple[Cut, ...]:
    """Return the cuts of one roll, longest block first; its lanes side by side, the longest at the edge.

    In a lane the widest piece comes first, then the longest. A place in the pattern for which no piece is left stays
    uncut; lanes and blocks shrink to what they hold.
    """
    filled: list[tuple[int, list[list[PlacedPiece]]]] = []
    for block in sorted(roll.blocks, key=_longest_first):
        lanes = [lane for lane in (_lane(problem, lays, piles) for lays in block.lanes) if lane]
        if lanes:
            lanes.sort(key=lambda lane: (-sum(piece.length for piece in lane), -lane[0].width, lane[0].place))
            filled.append((sum(piece.length for piece in lanes[0]), lanes))
    cuts: list[Cut] = []
    at = 0
    for length, lanes in sorted(filled, key=lambda entry: -entry[0]):
        across = 0
        for lane in lanes:
            along = at
            for piece in lane:
                cut = Cut(piles.pieces[piece.place].tag, along, across, piece.length, piece.width, piece.turned)
                cuts += [cut, *_within(problem, cut, piles)]
                along += piece.length
            across += lane[0].width
        at += length
    return tuple(cuts)


class PlacedPiece(NamedTuple):
    """A piece as it lies on a roll: its place in hanging order, length along and width across the roll [ticks]."""

    place: int
    length: int
    width: int
    turned: bool


def _within(problem: Problem, host: Cut, piles: OpenPiles) -> Iterator[Cut]:
    """Give the cuts within what is cut away of a piece."""
    for lay, at, across in piles.inside.get(host.piece, ()):
        place = piles.take(lay.item)
        if place is not None:
            length, width = problem.items[lay.item].size(turned=lay.turned)
            yield Cut(
                piles.pieces[place].tag, host.at + at, host.across + across, length, width, lay.turned, host.piece)


def _lane(problem: Problem, lays: Sequence[Lay], piles: OpenPiles) -> list[PlacedPiece]:
    """Return the pieces of a lane that are still to be cut, the widest first."""
    placed = []
    for lay in lays:
        place = piles.take(lay.item)
        if place is not None:
            placed.append(PlacedPiece(place, *problem.items[lay.item].size(turned=lay.turned), lay.turned))
    return sorted(placed, key=lambda piece: (-piece.width, -piece.length, piece.place))


def _longest_first(block: CutBlock) -> tuple[int, CutBlock]:
    return -block.length, block
