"""Small pieces go where the large ones leave room: ends of lanes, what is cut away of large ones, ends of rolls."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from layout.rolls.cutaways import Room
from layout.rolls.first_fit import OpenRoll, decreasing, roll_opened
from layout.rolls.problem import Lay, Pattern, Problem


class Inside(NamedTuple):
    """A small piece within what is cut away of a large one: its place on that one's blank, and how it lies [ticks]."""

    lay: Lay
    at: int
    across: int


@dataclass(frozen=True)
class Filled:
    """Rolls with small pieces in them.

    Parameters
    ----------
    patterns
        One a roll.
    inside
        By the large piece's tag, the small ones within what is cut away of it.
    left
        How many of each item found no room.
    """

    patterns: list[Pattern]
    inside: Mapping[str, tuple[Inside, ...]]
    left: tuple[int, ...]


def fill(problem: Problem, patterns: Sequence[Pattern], rooms: Mapping[str, Sequence[Room]]) -> Filled:
    """Put small pieces into rolls that are cut already.

    Parameters
    ----------
    problem
        The small pieces: what is asked for, of the items that the patterns know.
    patterns
        How the large pieces are cut, one pattern a roll.
    rooms
        By its tag, what is cut away of each large piece.

    Notes
    -----
    The longest go first, each to a lane beside others or at the end of one; then to what is cut away of large pieces;
    then to the end of the roll with the least room for it, so that what can be kept stays whole.
    """
    rolls = [roll_opened(problem, pattern) for pattern in patterns]
    spaces = [
        (tag, room, OpenRoll(-1, room.width, room.length)) for tag, each in rooms.items() for room in each
    ]
    left = [0] * len(problem.items)
    for item in decreasing(problem):
        ways = problem.items[item].ways()
        if any(roll.beside(item, ways) for roll in rolls):
            continue
        if any(space.beside(item, ways) or space.behind(item, ways) for _, _, space in spaces):
            continue
        if not any(roll.behind(item, ways) for roll in sorted(rolls, key=lambda roll: roll.free)):
            left[item] += 1
    inside: dict[str, tuple[Inside, ...]] = {}
    for tag, room, space in spaces:
        if space.blocks:
            inside[tag] = (*inside.get(tag, ()), *_places(problem, room, space))
    return Filled([roll.pattern() for roll in rolls], inside, tuple(left))


def _places(problem: Problem, room: Room, space: OpenRoll) -> list[Inside]:
    """Return where the pieces lie that were put into what is cut away of a large one."""
    found = []
    at = room.at
    for block in space.blocks:
        across = room.across
        for lane in block.lanes:
            along = at
            for lay in lane.lays:
                found.append(Inside(lay, along, across))
                along += problem.items[lay.item].size(turned=lay.turned)[0]
            across += lane.width
        at += block.length
    return found


def asking(problem: Problem, demand: Sequence[int]) -> Problem:
    """Return the same problem with other numbers of its items asked for."""
    return replace(problem, items=tuple(
        replace(item, demand=count) for item, count in zip(problem.items, demand, strict=True)))
