"""Profiles of a face or a run: filled out to both ends, and looked up."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from layout.records import Point, Profile

ProfileStretch = tuple[Fraction, Fraction, Fraction, Fraction]
"""A straight part of a profile: left, right, elevation at the left, elevation at the right."""


def filled(points: Profile, *, length: int) -> Profile:
    """Return a profile that runs from 0 to the length: level before its first point and after its last."""
    first, last = points[0], points[-1]
    before = ((0, first[1]),) if first[0] > 0 else ()
    after = ((length, last[1]),) if last[0] < length else ()
    return (*before, *points, *after)


def unfilled(points: Profile) -> Profile:
    """Return a profile without a first point level with the second, and without a last one level with that before."""
    left = 1 if len(points) > 1 and points[0][1] == points[1][1] else 0
    right = len(points) - 1 if len(points) > left + 1 and points[-1][1] == points[-2][1] else len(points)
    return points[left:right]


def closed_profile(points: Profile, *, length: int) -> Profile:
    """Return a closed run's profile from 0 to its length; the last point joins the first by a straight line."""
    first, last = points[0], points[-1]
    gap = first[0] + length - last[0]
    if not gap:
        return points
    share = Fraction(length - last[0], gap)
    meeting = round(last[1] + share * (first[1] - last[1]))
    before = ((0, meeting),) if first[0] > 0 else ()
    after = ((length, meeting),) if last[0] < length else ()
    return (*before, *points, *after)


def straight_stretches(profile: Profile, *, left: int | Fraction, right: int | Fraction) -> Iterator[ProfileStretch]:
    """Yield the straight parts of a profile between two stations, cut off at them; risers are passed over."""
    for (x0, y0), (x1, y1) in zip(profile, profile[1:]):
        start, end = max(Fraction(left), Fraction(x0)), min(Fraction(right), Fraction(x1))
        if start < end:
            slope = Fraction(y1 - y0, x1 - x0)
            yield start, end, y0 + slope * (start - x0), y0 + slope * (end - x0)


def exact_highest(profile: Profile, *, left: int, right: int) -> Fraction:
    """Return the highest elevation between two stations."""
    return max(max(low, high) for _, _, low, high in straight_stretches(profile, left=left, right=right))


def exact_lowest(profile: Profile, *, left: int, right: int) -> Fraction:
    """Return the lowest elevation between two stations."""
    return min(min(low, high) for _, _, low, high in straight_stretches(profile, left=left, right=right))


def height_stretches(upper: Profile, lower: Profile) -> Iterator[tuple[Fraction, Fraction, Fraction, Fraction]]:
    """Yield each stretch where both profiles are straight: left, right, height at its left, height at its right."""
    left, right = max(upper[0][0], lower[0][0]), min(upper[-1][0], lower[-1][0])
    above, below = (list(straight_stretches(profile, left=left, right=right)) for profile in (upper, lower))
    i = j = 0
    while i < len(above) and j < len(below):
        start, end = max(above[i][0], below[j][0]), min(above[i][1], below[j][1])
        if start < end:
            yield (start, end, _on(above[i], start) - _on(below[j], start), _on(above[i], end) - _on(below[j], end))
        if above[i][1] <= end:
            i += 1
        if below[j][1] <= end:
            j += 1


def _on(stretch: ProfileStretch, station: Fraction) -> Fraction:
    """Return the elevation of a straight part at a station."""
    left, right, start, end = stretch
    return start + (end - start) / (right - left) * (station - left)


def cuts_circle(profile: Profile, *, centre: Point, diameter: int) -> bool:
    """Return whether a profile, its risers too, comes inside a circle."""
    x, y = centre
    for (x0, y0), (x1, y1) in zip(profile, profile[1:]):
        if min(abs(x - x0), abs(x - x1)) * 2 >= diameter and not x0 < x < x1:
            continue
        along_x, along_y = x1 - x0, y1 - y0
        square = along_x ** 2 + along_y ** 2
        if not square:
            continue
        share = min(max(Fraction((x - x0) * along_x + (y - y0) * along_y, square), Fraction(0)), Fraction(1))
        gap_x, gap_y = x0 + share * along_x - x, y0 + share * along_y - y
        if 4 * (gap_x ** 2 + gap_y ** 2) < diameter ** 2:
            return True
    return False
