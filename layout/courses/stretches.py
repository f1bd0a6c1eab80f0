"""How far along the wall each course goes: it leaves out where there is nothing for it to cover."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from layout.courses.columns import WallColumn, Columns
from layout.courses.levels import Strip

StationRange = tuple[int, int]
"""Left and right end of what one course covers without a gap [ticks]; all round a closed run is (0, length)."""


@dataclass(frozen=True)
class CourseLayout:
    """Where the courses of a run go.

    Parameters
    ----------
    stretches
        For each course, lowest first, its stretches from left to right. In a closed run one may end past its length.
    seam_length
        Length of the seams between courses [ticks].
    """

    stretches: tuple[tuple[StationRange, ...], ...]
    seam_length: int


@dataclass(frozen=True)
class _Part:
    """A part of a column that the same courses cover all along: the numbers of the lowest and the highest."""

    column: WallColumn
    low: int
    high: int


def course_places(columns: Columns, strips: Sequence[Strip], *, least: int, end_lap: int) -> CourseLayout:
    """Return where each course goes.

    Parameters
    ----------
    columns
        The run.
    strips
        Its courses, lowest first.
    least
        A gap narrower than this is not left out, and no stretch is shorter, as far as there is wall beside it [ticks].
    end_lap
        How far a course goes on over another that ends where it starts [ticks].

    Notes
    -----
    Each column is covered from the highest course that reaches down to its bottom to the lowest one that reaches up to
    its top. Where neighbouring columns have no course in common, the upper one goes on over the lower.
    """
    parts = _parts(columns, strips)
    needed: list[list[StationRange]] = [[] for _ in strips]
    within_reach: list[list[StationRange]] = [[] for _ in strips]
    for part in parts:
        place = (part.column.left, part.column.right)
        for number in range(part.low, part.high + 1):
            needed[number].append(place)
        first = bisect_right([top for _, top in strips], part.column.lowest)
        for number in range(first, bisect_left([bottom for bottom, _ in strips], part.column.highest)):
            within_reach[number].append(place)
    for number, place in _laps_needed(parts, columns, end_lap):
        needed[number] += _on_run(place, columns)
    return CourseLayout(
        tuple(tuple(_joined(mine, _merged(reach), columns, least))
              for mine, reach in zip(needed, within_reach, strict=True)),
        sum((part.column.right - part.column.left) * (part.high - part.low) for part in parts),
    )


def _parts(columns: Columns, strips: Sequence[Strip]) -> list[_Part]:
    """Return the columns cut so that the same courses cover all of each part."""
    bottoms, tops = [bottom for bottom, _ in strips], [top for _, top in strips]
    levels = sorted({*bottoms, *tops})
    parts: list[_Part] = []
    for whole in columns.all:
        for column in whole.split(levels):
            high = min(bisect_left(tops, column.highest), len(strips) - 1)
            low = max(bisect_right(bottoms, column.lowest) - 1, 0)
            parts.append(_Part(column, min(low, high), high))
    return parts


def _laps_needed(parts: Sequence[_Part], columns: Columns, end_lap: int) -> list[tuple[int, StationRange]]:
    """Return which courses go on how far, so that every two columns side by side have a course in common."""
    ending, starting = defaultdict(list), defaultdict(list)
    for part in parts:
        ending[part.column.right].append(part)
        starting[part.column.left].append(part)
    if columns.closed:
        starting[columns.length] = starting[0]
    found: list[tuple[int, StationRange]] = []
    for station in sorted(ending):
        for left in ending[station]:
            for right in starting[station]:
                foot = max(left.column.bottom[1], right.column.bottom[0])
                touch = foot < min(left.column.top[1], right.column.top[0])
                if touch and left.high < right.low:
                    found.append((right.low, (station - end_lap, station)))
                elif touch and right.high < left.low:
                    found.append((left.low, (station, station + end_lap)))
    return found


def _on_run(place: StationRange, columns: Columns) -> list[StationRange]:
    """Return a stretch brought back onto the run."""
    left, right, length = *place, columns.length
    if not columns.closed:
        return [(max(left, 0), min(right, length))]
    if left < 0:
        return [(0, right), (left + length, length)]
    return [(left, length), (0, right - length)] if right > length else [place]


def _joined(
    needed: Iterable[StationRange], reach: Sequence[StationRange], columns: Columns, least: int,
) -> list[StationRange]:
    """Return the stretches of one course: narrow gaps closed and short stretches lengthened, where there is wall."""
    found: list[StationRange] = []
    for place in _merged(_lengthened(place, reach, least) for place in _merged(needed)):
        if found and place[0] - found[-1][1] < least and _reached((found[-1][1], place[0]), reach):
            place = (found.pop()[0], place[1])
        found.append(place)
    if not columns.closed or not found:
        return found
    (first, end), (start, last) = found[0], found[-1]
    across = [(last, columns.length), (0, first)]
    if columns.length - last + first < least and all(_reached(gap, reach) for gap in across):
        if len(found) == 1:
            return [(0, columns.length)]
        return [*found[1:-1], (start, end + columns.length)]
    return found


def _lengthened(place: StationRange, reach: Sequence[StationRange], least: int) -> StationRange:
    """Return a stretch at least so long, as far as there is wall beside it for the course to lie on."""
    left, right = place
    for start, end in reach:
        if start <= left < end:
            right = max(right, min(left + least, end))
            left = min(left, max(right - least, start))
    return left, right


def _reached(gap: StationRange, reach: Sequence[StationRange]) -> bool:
    """Tell whether there is wall for the course all along a gap."""
    return gap[0] == gap[1] or any(start <= gap[0] and gap[1] <= end for start, end in reach)


def _merged(places: Iterable[StationRange]) -> list[StationRange]:
    """Return stretches from left to right, those that touch made one."""
    merged: list[StationRange] = []
    for left, right in sorted(places):
        if merged and left <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(right, merged[-1][1]))
        else:
            merged.append((left, right))
    return merged
