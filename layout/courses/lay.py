"""A developed wall -> its horizontal courses, and the pieces each is cut into."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from layout.courses.broken import too_narrow, too_near_ends, too_near_seams
from layout.courses.columns import Columns
from layout.courses.end_laps import Near, Pieces, laps_along, laps_around
from layout.courses.levels import Strip, choose_levels
from layout.courses.stretches import StationRange, course_places
from layout.courses.things import keeps_at, things_of
from layout.records import RuleException, Rules, Wall
from layout.units import INCH, Unit

CourseBox = tuple[int, int, int, int]
"""Left, right, bottom and top of the rectangle one piece is cut from [ticks]."""


@dataclass(frozen=True)
class Course:
    """One course of a run.

    Parameters
    ----------
    bottom, top
        The levels it lies between [ticks].
    boxes
        Its pieces from left to right, before the wall's outline and openings are cut out of them. One of a closed run
        may reach past its length.
    places
        Where its pieces meet: the left edge of each end lap [ticks].
    """

    bottom: int
    top: int
    boxes: tuple[CourseBox, ...]
    places: tuple[int, ...]


@dataclass(frozen=True)
class Coursing:
    """One run in horizontal courses.

    Parameters
    ----------
    courses
        The lowest first: in the order they are hung.
    seam_length
        Length of the seams between courses and of the end laps [ticks].
    broken
        The rules that could not be kept.
    """

    courses: tuple[Course, ...]
    seam_length: int
    broken: tuple[RuleException, ...]

    @property
    def shortfall(self) -> int:
        """By how much rules are broken, summed [ticks]."""
        return sum(broken.needed - broken.found for broken in self.broken)


def lay_courses(
    wall: Wall, rules: Rules, *, width: int, longest: int, fewest: bool = False, unit: Unit = INCH,
) -> Coursing:
    """Lay one run in horizontal courses.

    Decided: the levels of the courses (``levels``), then from the lowest course up where its end laps lie
    (``end_laps``), each course beside the one below as that lies already. The two are not weighed against each other.

    Parameters
    ----------
    wall
        The developed run.
    rules
        How the sheet must go on: courses lap by ``side_lap``, pieces of one course by ``end_lap``.
    width
        Of the sheet [ticks].
    longest
        Longest piece [ticks].
    fewest
        Few courses go before a short length of roll.
    unit
        The job's unit, for the words of exceptions.
    """
    columns, things = Columns(wall), things_of(wall, rules)
    strips = choose_levels(columns, things, width=width, lap=rules.side_lap, least=rules.min_width, fewest=fewest)
    spreading = course_places(columns, strips, least=rules.min_width, end_lap=rules.end_lap)
    pieces = Pieces(longest, min(rules.min_width, longest), rules.end_lap)
    courses: list[Course] = []
    for strip, stretches in zip(strips, spreading.stretches, strict=True):
        below = courses[-1].places if courses else ()
        courses.append(_course(wall, columns, strip, stretches, below, rules, pieces))
    end_laps = sum(_height(columns, course, place) for course in courses for place in course.places)
    broken = (
        *too_near_seams(wall, columns, things, [course.boxes for course in courses], unit=unit),
        *too_near_ends(wall, [(course.bottom, course.top, course.places) for course in courses], rules, unit=unit),
        *too_narrow(wall, [course.boxes for course in courses], rules, unit=unit),
    )
    return Coursing(tuple(courses), spreading.seam_length + end_laps, broken)


def _course(
    wall: Wall, columns: Columns, strip: Strip, stretches: Sequence[StationRange], below: Sequence[int], rules: Rules,
    pieces: Pieces,
) -> Course:
    """Cut one course into pieces."""
    bottom, top = strip
    near = [Near(keep.left, keep.right, keep.clear) for keep in keeps_at(wall, bottom=bottom, top=top)]
    near += [Near(place + rules.end_lap, place, rules.end_lap_stagger) for place in below if rules.end_lap_stagger]
    boxes: list[CourseBox] = []
    places: list[int] = []
    for left, right in stretches:
        if wall.closed and (left, right) == (0, wall.length):
            found = laps_around(wall.length, near, pieces)
            starts = [*found, found[0] + wall.length]
            places += found
        else:
            shifts = (-wall.length, 0, wall.length) if wall.closed else (0,)
            found = laps_along((left, right), [Near(one.left + by, one.right + by, one.clear)
                                               for one in near for by in shifts], pieces)
            starts = [left, *found, right - rules.end_lap]
            places += found
        boxes += [_box(columns, (start, end + rules.end_lap), strip, rules) for start, end in pairwise(starts)]
    return Course(bottom, top, tuple(boxes), tuple(places))


def _box(columns: Columns, ends: StationRange, strip: Strip, rules: Rules) -> CourseBox:
    """Return what a piece is cut from: where the wall leaves too little of its course, it laps its neighbour more."""
    here = [column for column in columns.between(*ends) if column.lowest < strip[1] and column.highest > strip[0]]
    lowest = min((column.lowest for column in here), default=strip[0])
    highest = max((column.highest for column in here), default=strip[1])
    bottom, top = max(strip[0], lowest), min(strip[1], highest)
    bottom = max(min(bottom, top - rules.min_width), lowest)
    top = min(max(top, bottom + rules.min_width), highest)
    return (*ends, bottom, top)


def _height(columns: Columns, course: Course, place: int) -> int:
    """Return the height of an end lap, openings left out [ticks]."""
    return sum(max(0, min(column.highest, course.top) - max(column.lowest, course.bottom))
               for column in columns.between(place, place + 1))
