"""Shingling: at every seam the drop uphill lies over the one downhill, and the order to hang them in."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from layout.records import Side, Wall

Band = tuple[int, int]
"""The lap of two neighbours: left and right edge [ticks]."""


def water_sides(wall: Wall, bands: Sequence[Band]) -> list[Side]:
    """Return the side water runs to at the middle of each lap; where it divides, that of the part to the right."""
    slopes = sorted(wall.slopes)
    starts = [2 * left for left, _, _ in slopes]
    twice = [left + right for left, right in bands]
    if wall.closed:
        twice = [middle % (2 * wall.length) for middle in twice]
    return [slopes[max(bisect_right(starts, middle) - 1, 0)][2] for middle in twice]


def closing_seam(
    sides: Sequence[Side], bands: Sequence[Band], bottoms: Sequence[int], heights: Sequence[int],
) -> int | None:
    """Return the seam of a closed run that must be tucked, or None when water divides somewhere.

    With one direction all the way round each drop would lie over the next and none could be hung first. The seam
    whose sheet ends highest above the drain is tucked, of equal ones the shortest, of equal ones the first.

    Parameters
    ----------
    sides
        Which way water runs at each seam.
    bands
        Their laps.
    bottoms, heights
        Elevation of the sheet's lower end at each seam, and its height [ticks].
    """
    if len(set(sides)) != 1:
        return None
    return min(range(len(sides)), key=lambda i: (-bottoms[i], heights[i], bands[i]))


def install_order(count: int, sides: Sequence[Side], *, closed: bool, tuck: int | None) -> list[int]:
    """Return the drops in the order they are hung: from each low point uphill, a drop at a high point after both sides.

    Parameters
    ----------
    count
        Number of drops, left to right.
    sides
        Which way water runs at the seam after each drop; one fewer than drops in an open run.
    closed
        The last drop's seam is with the first.
    tuck
        The seam that binds nothing, if any.

    Returns
    -------
    list
        Indexes of drops. The crew takes the low points from left to right; from each it walks uphill to the left, then
        to the right.
    """
    seams = {i: side for i, side in enumerate(sides) if i != tuck}

    def over_left(drop: int) -> bool:
        """The drop lies over its left neighbour."""
        return seams.get((drop - 1) % count if closed else drop - 1) == "left"

    def over_right(drop: int) -> bool:
        return seams.get(drop) == "right"

    placed = [False] * count
    order: list[int] = []

    def hang(drop: int) -> None:
        placed[drop] = True
        order.append(drop)

    def neighbour(drop: int, by: int) -> int | None:
        other = drop + by
        seam = drop if by > 0 else drop - 1
        if closed:
            other, seam = other % count, seam % count
        return other if seam in seams else None

    def ready(drop: int) -> bool:
        left, right = neighbour(drop, -1), neighbour(drop, 1)
        return not (over_left(drop) and left is not None and not placed[left]) and not (
            over_right(drop) and right is not None and not placed[right])

    def climb(drop: int, by: int) -> None:
        """Hang what lies uphill, one after the other, up to a drop that must wait for its other side."""
        following = neighbour(drop, by)
        while following is not None and not placed[following] and ready(following):
            if not (over_left(following) if by > 0 else over_right(following)):
                return
            hang(following)
            following = neighbour(following, by)

    for drop in range(count):
        if not over_left(drop) and not over_right(drop) and not placed[drop]:
            hang(drop)
            climb(drop, -1)
            climb(drop, 1)
    return order
