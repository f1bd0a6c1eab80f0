"""Piles for staging: which cut pieces lie together beside the trench, in the order they are hung."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from layout.records import MEMBRANE, Piece, Plan


@dataclass(frozen=True)
class Pile:
    """Pieces of one face laid together.

    Parameters
    ----------
    name
        What is chalked on it: ``1``, ``2``, … in the order the piles are used.
    run, face, layer
        Where it goes.
    pieces
        Tags, first hung first; so the first is laid on top.
    """

    name: str
    run: str
    face: str
    layer: str
    pieces: tuple[str, ...]


@dataclass(frozen=True)
class Piles:
    """Every pile, and the pile of each piece by its tag."""

    piles: tuple[Pile, ...]
    by_piece: Mapping[str, str]


def piles(plan: Plan) -> Piles:
    """Return the piles: one for each face and layer, reinforcing first on its own, in the order they are used."""
    groups: dict[tuple[int, str, str, str], list[Piece]] = {}
    order = {run.name: place for place, run in enumerate(plan.job.runs)}
    for piece in plan.pieces:
        stage = 0 if not piece.install else 1
        groups.setdefault((stage, piece.layer, piece.run, piece.face), []).append(piece)
    place = {piece.tag: i for i, piece in enumerate(plan.pieces)}

    def first(key: tuple[int, str, str, str]) -> tuple[object, ...]:
        stage, layer, run, _ = key
        members = groups[key]
        return (layer != MEMBRANE, stage, order.get(run, len(order)),
                min((piece.install, -place[piece.tag]) if stage else (0, place[piece.tag]) for piece in members))

    found = []
    by_piece: dict[str, str] = {}
    for number, key in enumerate(sorted(groups, key=first), start=1):
        _, layer, run, face = key
        # of one drop the lower piece goes on first: the upper one laps over it
        members = sorted(groups[key], key=lambda piece: (piece.install, -place[piece.tag] if piece.install else 0,
                                                         place[piece.tag]))
        found.append(Pile(str(number), run, face, layer, tuple(piece.tag for piece in members)))
        by_piece.update({piece.tag: str(number) for piece in members})
    return Piles(tuple(found), by_piece)
