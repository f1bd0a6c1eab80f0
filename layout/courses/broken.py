"""What could not be kept: seams and end laps too near to things, pieces too narrow; and what would mend it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from layout.courses.columns import Columns
from layout.courses.things import CourseKeep, keeps_at
from layout.records import RuleException, Rules, Wall
from layout.units import Unit, inches

CourseBox = tuple[int, int, int, int]
"""Left, right, bottom and top of a piece, or of the lap of two [ticks]."""


def too_near_seams(
    wall: Wall, columns: Columns, things: Sequence[CourseKeep], courses: Sequence[Sequence[CourseBox]], *, unit: Unit,
) -> list[RuleException]:
    """Return an exception for each seam between courses that comes too near to something.

    Parameters
    ----------
    wall, columns, things
        The run, and what seams keep clear of.
    courses
        The pieces of each course, lowest first.
    unit
        The job's unit, for the words.
    """
    found: list[RuleException] = []
    for number, (lower, upper) in enumerate(pairwise(courses), 1):
        seams = _InOrder([
            (max(left, start), min(right, end), bottom, top) for under in [_InOrder(_repeated(lower, wall))]
            for left, right, bottom, _ in _repeated(upper, wall) for start, end, _, top in under.meeting(left, right)
            if bottom < top
        ])
        for thing in things:
            gaps = [
                thing.gap(bottom=bottom, top=top) for left, right, bottom, top in seams.meeting(thing.left, thing.right)
                if thing.shortfall(bottom=bottom, top=top) and columns.seam_is_there(
                    left=max(left, thing.left), right=min(right, thing.right), bottom=bottom, top=top)
            ]
            if gaps:
                found.append(_near_seam(wall, thing, number, min(gaps), unit))
    return found


def _repeated(boxes: Iterable[CourseBox], wall: Wall) -> list[CourseBox]:
    """Return the pieces of a course; of a closed run also one round earlier and later."""
    return [(left + by, right + by, bottom, top) for left, right, bottom, top in boxes for by in _shifts(wall)]


def _shifts(wall: Wall) -> tuple[int, ...]:
    return (-wall.length, 0, wall.length) if wall.closed else (0,)


class _InOrder:
    """Boxes from left to right, and how to find those that meet a stretch."""

    def __init__(self, boxes: Iterable[CourseBox]) -> None:
        self.boxes = sorted(boxes)
        self.lefts = [box[0] for box in self.boxes]
        self.longest = max((right - left for left, right, _, _ in self.boxes), default=0)

    def meeting(self, left: int, right: int) -> Iterator[CourseBox]:
        """Yield the boxes that lie over some of a stretch."""
        for box in self.boxes[bisect_right(self.lefts, left - self.longest):bisect_left(self.lefts, right)]:
            if box[1] > left:
                yield box


def _near_seam(wall: Wall, thing: CourseKeep, number: int, gap: int, unit: Unit) -> RuleException:
    how = "crosses" if gap == 0 else f"comes within {inches(gap, unit)} of"
    return RuleException(
        thing.rule, wall.run, max(thing.left, 0) % max(wall.length, 1), needed=thing.clear, found=gap,
        why=f"the seam between courses {number} and {number + 1} {how} {thing.tag}; the levels "
            "are those that come least near to things",
        cure=f"{thing.rule} of {inches(gap, unit)} here would allow it; so might another width of sheet",
    )


def too_near_ends(
    wall: Wall, courses: Sequence[tuple[int, int, Sequence[int]]], rules: Rules, *, unit: Unit,
) -> list[RuleException]:
    """Return an exception for each end lap that comes too near to something, or to one in the course below.

    Parameters
    ----------
    wall
        The run.
    courses
        For each course, lowest first, its lower and upper level and the left edges of its end laps [ticks].
    rules
        For the laps and clearances.
    unit
        The job's unit, for the words.
    """
    found: list[RuleException] = []
    below: Sequence[int] = ()
    for number, (bottom, top, places) in enumerate(courses, 1):
        for keep in keeps_at(wall, bottom=bottom, top=top):
            for place in places:
                gap = min(max(keep.left + by - place - rules.end_lap, place - keep.right - by, 0)
                          for by in _shifts(wall))
                if gap < keep.clear:
                    found.append(_near_end(wall, place, keep.rule, keep.tag, keep.clear, gap, number, unit))
        for place in places:
            apart = min((abs(place - other + by) for other in below for by in _shifts(wall)),
                        default=rules.end_lap_stagger)
            if apart < rules.end_lap_stagger:
                found.append(_near_end(wall, place, "end_lap_stagger", "one in the course below",
                                       rules.end_lap_stagger, apart, number, unit))
        below = places
    return found


def _near_end(
    wall: Wall, place: int, rule: str, tag: str, needed: int, gap: int, number: int, unit: Unit,
) -> RuleException:
    return RuleException(
        rule, wall.run, place % wall.length, needed=needed, found=gap,
        why=f"an end lap of course {number} lies {inches(gap, unit)} from {tag}; no better "
            "place was found for pieces no longer than max_piece beside the course below",
        cure=f"{rule} of {inches(gap, unit)} here, or a longer max_piece, would allow it",
    )


def too_narrow(wall: Wall, courses: Sequence[Sequence[CourseBox]], rules: Rules, *, unit: Unit) -> list[RuleException]:
    """Return an exception for each piece narrower, or shorter, than the narrowest drop: the wall itself is there."""
    return [
        RuleException(
            "min_width", wall.run, left % wall.length, needed=rules.min_width, found=min(right - left, top - bottom),
            why=f"a piece of course {number} is only {inches(right - left, unit)} long and "
                f"{inches(top - bottom, unit)} wide: there is no more wall for it",
            cure=f"min_width of {inches(min(right - left, top - bottom), unit)} would allow it",
        )
        for number, boxes in enumerate(courses, 1) for left, right, bottom, top in boxes
        if min(right - left, top - bottom) < rules.min_width
    ]
