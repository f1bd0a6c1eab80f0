"""Where the pieces of a course meet: end laps clear of corners, steps and openings, and off those of the course below.

A *place* is where the piece to the right starts; the one to the left reaches ``end_lap`` past it. The places along one
stretch are those that lie too near to things by least, summed, in the fewest pieces or up to ``MORE`` more where those
lie less too near; of equal ones the pieces to the left are as long as they can be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]

MORE = 2
"""Pieces more than the fewest that are tried."""
STARTS = 24
"""Starting points of a course all round a closed run that are tried."""
FAR = np.iinfo(np.int64).max // 4


@dataclass(frozen=True)
class Near:
    """Something that an end lap keeps clear of: no part of the lap within ``clear`` of [left, right]."""

    left: int
    right: int
    clear: int


@dataclass(frozen=True)
class Pieces:
    """How long the pieces of a course may be [ticks].

    Parameters
    ----------
    longest, shortest
        Of one piece.
    end_lap
        How far neighbours lap.
    """

    longest: int
    shortest: int
    end_lap: int

    @property
    def steps(self) -> tuple[int, int]:
        """Least and most from one end lap to the next."""
        return max(self.shortest - self.end_lap, 1), self.longest - self.end_lap


def laps_along(stretch: tuple[int, int], near: Sequence[Near], pieces: Pieces) -> tuple[int, ...]:
    """Return the places of the end laps along a stretch with two ends.

    Parameters
    ----------
    stretch
        Its ends [ticks].
    near
        What end laps keep clear of.
    pieces
        How long pieces may be.
    """
    left, right = stretch
    if right - left <= pieces.longest:
        return ()
    costs = _costs(near, left, right, pieces.end_lap)
    return _best(costs, left, left, right - pieces.end_lap, pieces)[1]


def laps_around(length: int, near: Sequence[Near], pieces: Pieces) -> tuple[int, ...]:
    """Return the places of the end laps of a course that goes all round a closed run; at least one.

    Parameters
    ----------
    length
        Of the run [ticks].
    near
        What end laps keep clear of, wherever it lies on the run.
    pieces
        How long pieces may be.

    Notes
    -----
    ``STARTS`` starting points are tried, within one piece's length of the start of the run: those least too near to
    things, evenly among them.
    """
    shifted = [Near(thing.left + shift, thing.right + shift, thing.clear)
               for thing in near for shift in (-length, 0, length)]
    once = _costs(shifted, 0, length, pieces.end_lap)
    costs = np.concatenate([once, once])
    reach = max(min(pieces.steps[1], length - pieces.end_lap), 1)
    starts = np.argsort(once[:reach], kind="stable")
    starts = starts[:max(int((once[:reach] == once[starts[0]]).sum()), STARTS)]
    best: tuple[int, tuple[int, ...]] | None = None
    for start in (int(place) for place in starts[::max(len(starts) // STARTS, 1)]):
        shortfall, places = _best(costs, 0, start, start + length, pieces)
        if best is None or (shortfall + int(once[start]), len(places) + 1) < (best[0], len(best[1])):
            best = (shortfall + int(once[start]), (start, *places))
        if not best[0]:
            break
    assert best is not None
    return best[1]


def _costs(near: Sequence[Near], left: int, right: int, end_lap: int) -> Whole:
    """Return by how much an end lap at each place from ``left`` on lies too near to things, summed."""
    costs: Whole = np.zeros(right - left, dtype=np.int64)
    for thing in near:
        low = max(thing.left - end_lap - thing.clear + 1, left)
        high = min(thing.right + thing.clear, right)
        if low < high:
            places = np.arange(low, high)
            gaps = np.maximum(np.maximum(thing.left - end_lap - places, places - thing.right), 0)
            costs[low - left:high - left] += np.maximum(thing.clear - gaps, 0)
    return costs


def _best(costs: Whole, origin: int, start: int, end: int, pieces: Pieces) -> tuple[int, tuple[int, ...]]:
    """Return the least shortfall of end laps between two places, and the places."""
    best: tuple[int, tuple[int, ...]] | None = None
    fewest = -(-(end - start) // pieces.steps[1])
    for count in range(fewest, fewest + MORE + 1):
        found = _chain(costs, origin, start, end, count, pieces.steps)
        if found is None and count == fewest:
            found = _chain(costs, origin, start, end, count, (1, pieces.steps[1]))
        if found is not None and (best is None or found[0] < best[0]):
            best = found
        if best is not None and not best[0]:
            break
    assert best is not None
    return best


def _chain(
    costs: Whole, origin: int, start: int, end: int, count: int, steps: tuple[int, int],
) -> tuple[int, tuple[int, ...]] | None:
    """Return the best places that part a stretch into so many pieces; None when none do."""
    least, most = steps
    windows = [
        (max(start + k * least, end - (count - k) * most), min(start + k * most, end - (count - k) * least))
        for k in range(count + 1)
    ]
    if any(first > last for first, last in windows):
        return None
    totals: list[Whole] = [np.zeros(1, dtype=np.int64)]
    for (first, last), (after, until) in zip(windows[count - 1:0:-1], windows[count:1:-1], strict=True):
        before = max(after - first - least, 0)
        behind = max(last + most - until, 0)
        padded = np.pad(totals[-1], (before, behind), constant_values=FAR)
        padded = padded[max(first + least - after, 0):]
        following = _sliding_least(padded, most - least + 1)[:last - first + 1]
        totals.append(following + costs[first - origin:last - origin + 1])
    totals.reverse()
    places: list[int] = []
    at, shortfall = start, 0
    for k in range(1, count):
        first, last = windows[k]
        low, high = max(first, at + least), min(last, at + most)
        choices = totals[k - 1][low - first:high - first + 1]
        at = low + len(choices) - 1 - int(np.argmin(choices[::-1]))
        if k == 1:
            shortfall = int(choices.min())
        places.append(at)
    return shortfall, tuple(places)


def _sliding_least(values: Whole, width: int) -> Whole:
    """Return the least of every ``width`` values in a row."""
    count = len(values) - width + 1
    whole = np.pad(values, (0, -len(values) % width), constant_values=FAR).reshape(-1, width)
    from_left = np.minimum.accumulate(whole, axis=1).ravel()
    from_right = np.minimum.accumulate(whole[:, ::-1], axis=1)[:, ::-1].ravel()
    least: Whole = np.minimum(from_right[:count], from_left[width - 1:width - 1 + count])
    return least
