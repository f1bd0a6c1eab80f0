"""Opening gussets: what closes the corners of openings that the sheet turns into.

::

    +-----+--+
    |wall |  | head
    |tab 2|  |
    +-----+--+  arris
    |tab 1|  | jamb
    |     |  |
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from shapely.geometry import box

from layout.concrete import Concrete
from layout.folding import FoldedPart, Vector, hinge, scaled
from layout.records import Hole, Profile
from layout.shapes import lowest, value


@dataclass(frozen=True)
class Gusset:
    """What closes one corner of an opening: its number clockwise from the top left, which it is, its station, parts."""

    number: int
    corner: str
    station: int
    parts: tuple[FoldedPart, ...]


def gussets(concrete: Concrete, hole: Hole, *, lap: int, side_lap: int) -> list[Gusset]:
    """Return the gussets of an opening, clockwise from the top left; none where there is no corner to close.

    It lies on jamb and head (or sill) as deep as the sheet turns in, and on the wall beside both. What turns in is cut
    at 45° from the corner, so that the deeper it is the farther its edge is from there: the gusset goes a side lap past
    the deepest, but no farther than it takes to lap the one at the other end.
    """
    wall = concrete.wall
    leg = next(leg for leg in concrete.legs if leg.span.left <= hole.left < leg.span.right)
    motion = leg.wall()
    back = float(min(wall.opening_return, (hole.right - hole.left) / 2, (hole.top - hole.bottom) / 2))
    made: list[Gusset] = []
    for number, (corner, x, y, right, up) in enumerate((
        ("top left", hole.left, hole.top, 1, 1), ("top right", hole.right, hole.top, -1, 1),
        ("bottom right", hole.right, hole.bottom, -1, -1), ("bottom left", hole.left, hole.bottom, 1, -1),
    ), 1):
        line = float(value(wall.top, x, from_right=right > 0))
        below = y - float(value(wall.footing, x, from_right=right > 0)) - (wall.fillet if leg.span.ledge else 0)
        if line <= y or below <= 0:  # where the line or the joint cuts the opening there is no corner to close
            continue
        reach = max(float(lap), back + side_lap)
        beside, past = (_along(reach, size, float(lap), side_lap)
                        for size in (hole.top - hole.bottom, hole.right - hole.left))
        if up < 0:
            beside = min(beside, line - y)
        above, along = min(float(lap), below), past
        if up > 0:  # as far along the head as the membrane line stays above it, and no higher than that line
            along, above = _under_line(wall.top, (x, y), right, past, float(lap))
            past = min([past, *_crossings(wall.top, (x, y), right)])
        jamb_normal = scaled(leg.along, float(right))
        head_normal: Vector = (0.0, 0.0, -float(up))
        # tab 1 on the wall beside the jamb, not past its end; the jamb; the head; tab 2 on the wall beyond the head
        aside = min(float(lap), x - leg.span.left if right > 0 else leg.span.right - x)
        tab1 = box(*ordered(x, x - right * aside, min(y, y - up * beside), max(y, y - up * beside)))
        jamb = box(*ordered(x, x + right * back, min(y, y - up * beside), max(y, y - up * beside)))
        head = box(*ordered(x, x + right * back, min(y, y + up * past), max(y, y + up * past)))
        tab2 = box(*ordered(x, x - right * above, min(y, y + up * along), max(y, y + up * along)))
        on_jamb = hinge(motion, (x, y), (x, y - up), jamb_normal)
        on_head = hinge(on_jamb, (x, y), (x + right, y), head_normal)
        on_wall = hinge(on_head, (x, y), (x, y + up), leg.out)
        surface = "head" if up > 0 else "sill"
        made.append(Gusset(number, corner, x, (
            FoldedPart("wall", tab1, motion), FoldedPart("jamb", jamb, on_jamb), FoldedPart(surface, head, on_head),
            FoldedPart("wall", tab2, on_wall))))
    return made


def _along(reach: float, side: int, lap: float, side_lap: int) -> float:
    """Return how far along a side of an opening a gusset goes that would go so far: half of it and half a lap."""
    half = side / 2
    return min(lap, half) if reach <= lap else min(reach, max(half + side_lap / 2, min(lap, half)), float(side))


def _crossings(line: Profile, corner: tuple[int, int], right: int) -> Iterator[float]:
    """Yield how far along a head the membrane line comes down to it [ticks]."""
    x, y = corner
    for (x0, y0), (x1, y1) in zip(line, line[1:], strict=False):
        if min(y0, y1) <= y < max(y0, y1):
            there = x0 if x0 == x1 else float(x0 + (y - y0) * (x1 - x0) / (y1 - y0))
            if (there - x) * right > 0:
                yield (there - x) * right


def _under_line(line: Profile, corner: tuple[int, int], right: int, past: float, lap: float) -> tuple[float, float]:
    """Return how far along a head, and how far above it, sheet lies under the membrane line [ticks]."""
    x, y = corner
    while past > 1:
        ends = sorted((x, x + right * math.ceil(past)))
        room = lowest(line, ends[0], ends[1]) - y
        if room > 0:
            return past, min(lap, float(room))
        past = math.floor(past * 0.9)
    return 1.0, 1.0


def ordered(x0: float, x1: float, y0: float, y1: float) -> tuple[float, float, float, float]:
    """Return a box's sides in order: left, bottom, right, top."""
    return (min(x0, x1), y0, max(x0, x1), y1)
