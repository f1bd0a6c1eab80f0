"""Openings and sleeves, each on its wall, and the words beside them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence

from layout.job.limits import MAX_FEATURES_A_FACE, MAX_NAME
from layout.job.trace.drawn import Box, Chain, Place, Sheet, Vec, Words, within
from layout.job.trace.layers import OPENINGS
from layout.job.trace.outlines import SLACK, is_rectangle
from layout.job.trace.walls import ELSEWHERE, Row, Stand, Wall
from layout.units import INCH, read_length

_TAG = re.compile(r"[A-Za-z]{1,4}[-.]?\d{1,4}[A-Za-z]?")
TAG_REACH = (9.0, 192.0)
"""A tag stands within so many letter heights of what it names, or within so many ticks."""


def put_openings(stand: Stand, sheet: Sheet, outlines: Iterable[Chain]) -> None:
    """Put each rectangle on its wall; what is drawn inside one, such as a sash, is counted and said."""
    ordered = sorted(outlines, key=lambda outline: -_area(outline.box))
    for outline in ordered:
        wall = stand.under(outline.box)
        if wall is None:
            _homeless(stand, outline.place, outline.box)
        elif any(within(outline.box, other.box, slack=SLACK) for other in wall.openings):
            sheet.notes[f"line inside an opening ({outline.role})"] += 1
        elif not outline.closed or not is_rectangle(outline.points):
            stand.faults.append(outline.place.fault(
                "must be a closed rectangle with level and plumb sides, or lie inside one"))
        elif len(wall.openings) >= MAX_FEATURES_A_FACE:
            stand.faults.append(outline.place.fault(f"must be one of at most {MAX_FEATURES_A_FACE} openings on a wall"))
        else:
            wall.openings.append(outline)
    for disc in sheet.discs:
        if disc.role in OPENINGS:
            stand.faults.append(disc.place.fault(
                "must be a rectangle, not a circle, on a layer for openings", hint="draw it on a layer for sleeves"))


def put_sleeves(stand: Stand, sheet: Sheet) -> None:
    """Put each circle on its wall; smaller circles inside it and centre marks are counted and said."""
    for disc in sorted((disc for disc in sheet.discs if disc.role == "sleeve"), key=lambda disc: -disc.radius):
        (x, y), r = disc.centre, disc.radius
        box = (x - r, y - r, x + r, y + r)
        wall = stand.under(box)
        if wall is None:
            _homeless(stand, disc.place, box)
        elif any(math.dist(disc.centre, other.centre) + r <= other.radius + SLACK for other in wall.sleeves):
            sheet.notes["circle inside a sleeve"] += 1
        elif len(wall.sleeves) >= MAX_FEATURES_A_FACE:
            stand.faults.append(disc.place.fault(f"must be one of at most {MAX_FEATURES_A_FACE} sleeves on a wall"))
        else:
            wall.sleeves.append(disc)
    for chain in sheet.chains:
        if chain.role == "sleeve":
            _sleeve_line(stand, sheet, chain)
    for disc in sheet.discs:
        if disc.role in ("wall", "footing", "grade", "datum"):
            stand.faults.append(disc.place.fault(f"must not be a circle on a layer for {disc.role}",
                                                 hint="draw sleeves on a layer for sleeves"))


def _sleeve_line(stand: Stand, sheet: Sheet, chain: Chain) -> None:
    """Pass over a line inside a sleeve, or one through its centre."""
    box = chain.box
    middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    wall = stand.under(box)
    if wall is None:
        _homeless(stand, chain.place, box)
        return
    for disc in wall.sleeves:
        (x, y), r = disc.centre, disc.radius
        if math.dist(middle, disc.centre) <= SLACK or within(box, (x - r, y - r, x + r, y + r), slack=SLACK):
            sheet.notes["centre mark of a sleeve"] += 1
            return
    stand.faults.append(chain.place.fault("must be a circle, on a layer for sleeves",
                                          hint="draw rectangular holes on a layer for openings"))


def _homeless(stand: Stand, place: Place, box: Box) -> None:
    """Tell what lies on no wall."""
    if not stand.lost(box):
        stand.faults.append(place.fault("must lie on a wall", hint=ELSEWHERE))


def _area(box: Box) -> float:
    return (box[2] - box[0]) * (box[3] - box[1])


# --- words -------------------------------------------------------------------------------------

def tags_of(wall: Wall, words: Sequence[Words]) -> tuple[dict[int, str], set[int]]:
    """Return the tags beside a wall's openings and sleeves, and which words they are.

    Parameters
    ----------
    wall
        The wall.
    words
        Words on it and around it.

    Returns
    -------
    dict of int to str
        Tag by number of the feature: the openings in order, then the sleeves.
    set of int
        Numbers of the words that are tags.
    """
    boxes: list[Box] = [opening.box for opening in wall.openings]
    boxes += [(x - r, y - r, x + r, y + r) for (x, y), r in ((disc.centre, disc.radius) for disc in wall.sleeves)]
    pairs: list[tuple[float, float, int, int, str]] = []
    for number, word in enumerate(words):
        match = _TAG.fullmatch(word.text.split()[0])
        if match:
            reach = max(TAG_REACH[0] * word.height, TAG_REACH[1])
            for feature, box in enumerate(boxes):
                apart = _apart(word.middle, box)
                if apart <= reach:
                    middle = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
                    pairs.append((apart, math.dist(word.middle, middle), feature, number, match[0]))
    tags: dict[int, str] = {}
    used: set[int] = set()
    for _, _, feature, number, tag in sorted(pairs):
        if feature not in tags and number not in used:
            tags[feature] = tag
            used.add(number)
    return tags, used


def _apart(point: Vec, box: Box) -> float:
    """Return the distance from a point to a box."""
    return math.hypot(max(box[0] - point[0], point[0] - box[2], 0.0), max(box[1] - point[1], point[1] - box[3], 0.0))


def words_by_wall(stand: Stand, words: Iterable[Words]) -> dict[int, list[Words]]:
    """Return the words inside each wall, or above it by no more than its height, by the wall's identity."""
    found: dict[int, list[Words]] = {}
    for word in words:
        x, y = word.middle
        near = [wall for wall in stand.over((x, y, x, y), reach=1.0)
                if wall.left <= x <= wall.right and y >= wall.box[1]]
        if near:
            wall = min(near, key=lambda wall: max(y - wall.box[3], 0.0))
            found.setdefault(id(wall), []).append(word)
    return found


def name_of(wall: Wall, words: Sequence[Words]) -> str:
    """Return a wall's name: the largest text in it or above it, the uppermost of these; empty when there is none."""
    middle = (wall.left + wall.right) / 2
    named = [word for word in words if len(word.text) <= MAX_NAME and not _is_length(word.text)]
    best = min(named, key=lambda word: (-round(word.height, 3), -word.middle[1], abs(word.middle[0] - middle)),
               default=None)
    return best.text if best is not None else ""


def _is_length(text: str) -> bool:
    try:
        read_length(text, INCH)
    except ValueError:
        return False
    return True


def unlike(names: Sequence[str], others: Iterator[str]) -> list[str]:
    """Return names made unlike one another: later ones get -2, -3; empty ones are taken from ``others``."""
    taken = {name for name in names if name}
    seen: set[str] = set()
    made: list[str] = []
    for name in names:
        if not name:
            name = next(other for other in others if other not in taken)
        elif name in seen:
            name = next(f"{name}-{number}" for number in range(2, len(names) + 2)
                        if f"{name}-{number}" not in taken | seen)
        seen.add(name)
        taken.add(name)
        made.append(name)
    return made


def in_order(row: Row) -> None:
    """Put the openings and sleeves of each wall of a row from left to right."""
    for wall in row.walls:
        wall.openings.sort(key=lambda opening: (opening.box[0], opening.box[1]))
        wall.sleeves.sort(key=lambda disc: disc.centre)
