"""Rectangles inside what is cut away of whole pieces: openings, steps, corners. Small pieces can be cut from them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from layout.marks import sheet
from layout.records import Piece
from layout.shapes import outline_polygon, rectangle

MOST_LINES = 24
"""Edges each way of a piece that is looked at: one with more is no plain opening or step."""
MOST_ROOMS = 4
"""Rectangles taken from one piece, the largest first."""


class Room(NamedTuple):
    """A rectangle of a piece's blank that is cut away: from its top and left edge as it lies on the roll [ticks]."""

    at: int
    across: int
    length: int
    width: int


def rooms(piece: Piece, *, mirrored: bool, least: int) -> tuple[Room, ...]:
    """Return rectangles that are cut away of a piece, none over another, the largest first.

    Parameters
    ----------
    piece
        It lies with its length along the roll.
    mirrored
        It lies liner side up.
    least
        Least length of a side that is of use [ticks].
    """
    if not piece.outline:
        return ()
    flat = sheet(piece, mirrored=mirrored)
    if flat.lying or len(flat.ring) <= 4 and not flat.holes:
        return ()
    xs, ys = set[int](), set[int]()
    for ring in (flat.ring, *flat.holes):
        for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0]), strict=True):
            if x0 == x1:
                xs.add(x0)
            if y0 == y1:
                ys.add(y0)
    box = outline_polygon(flat.ring).bounds
    across, down = (sorted({*lines, int(box[i]), int(box[i + 2])}) for i, lines in enumerate((xs, ys)))
    if max(len(across), len(down)) > MOST_LINES:
        return ()
    shape = outline_polygon(flat.ring, flat.holes)
    free = np.array([
        [shape.intersection(rectangle(left, top, right, bottom)).area == 0
         for left, right in zip(across, across[1:], strict=False)]
        for top, bottom in zip(down, down[1:], strict=False)
    ])
    found: list[Room] = []
    while len(found) < MOST_ROOMS:
        room = _largest(free, down, across, least)
        if room is None:
            break
        found.append(room)
    return tuple(found)


def _largest(free: NDArray[np.bool_], down: Sequence[int], across: Sequence[int], least: int) -> Room | None:
    """Return the largest rectangle of free cells and take it; None when none is of use."""
    best: tuple[int, Room, tuple[slice, slice]] | None = None
    for top in range(free.shape[0]):
        for left in range(free.shape[1]):
            widest = free.shape[1]
            for bottom in range(top, free.shape[0]):
                run = free[bottom, left:widest]
                widest = left + (int(np.argmin(run)) if not run.all() else len(run))
                if widest == left:
                    break
                room = Room(down[top], across[left], down[bottom + 1] - down[top], across[widest] - across[left])
                if min(room.length, room.width) >= least and (best is None or room.length * room.width > best[0]):
                    best = room.length * room.width, room, (slice(top, bottom + 1), slice(left, widest))
    if best is None:
        return None
    free[best[2]] = False
    return best[1]
