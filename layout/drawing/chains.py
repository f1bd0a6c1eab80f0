"""Dimension rows along a wall: stations above and below it, levels beside it, their texts spread apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from layout.drawing.labels import spread_apart
from layout.drawing.model.blocks import SMALL, tag_written
from layout.drawing.model.entities import Dimension, Entity, Insert, Measure, Polyline, Vec
from layout.drawing.model.fonts import DESCENT, width
from layout.drawing.model.plain import GAP, dimension_text, leader_points

PITCH = SMALL * (1 + DESCENT) + 1.0
"""Distance of two texts side by side in a row [plotted mm]."""


@dataclass(frozen=True)
class Note:
    """One entry of a row: where it points, what it says, and the end of that which is not measured.

    An entry that is no dimension but the tag of a piece has ``tag``, and ``values`` with what is known of the piece.
    """

    point: Vec
    origin: Vec
    text: str
    tag: str = ""
    suffix: str = ""
    values: tuple[tuple[str, str], ...] = ()


def station_row(
    notes: Iterable[Note], *, level: float, one: float, low: float, high: float,
) -> tuple[list[Entity], float]:
    """Return a row of upright texts above or below a wall, and how deep it is [ticks].

    Parameters
    ----------
    notes
        What to write; a note's point is where its leader begins, its origin the left end of its face.
    level
        Elevation at which the leaders end [ticks]; texts go on from there, away from the wall.
    one
        Ticks that plot as one millimetre.
    low, high
        Ends of the row [ticks].
    """
    ordered = sorted(notes, key=lambda note: (note.point[0], note.text))
    places = spread_apart([note.point[0] for note in ordered], PITCH * one, low=low + PITCH * one / 2,
                          high=high - PITCH * one / 2)
    entities: list[Entity] = []
    for note, x in zip(ordered, places, strict=True):
        entities += _note(note, (x, level), "station", one)
    return entities, depth(ordered) * one


def level_column(notes: Iterable[Note], *, station: float, one: float) -> tuple[list[Entity], float]:
    """Return a column of level texts beside a wall, and how wide it is [ticks].

    Parameters
    ----------
    notes
        What to write; a note's point is where its leader begins, its origin at elevation 0.
    station
        Station at which the leaders end [ticks].
    one
        Ticks that plot as one millimetre.
    """
    ordered = sorted(notes, key=lambda note: (note.point[1], note.text))
    places = spread_apart([note.point[1] for note in ordered], PITCH * one)
    entities: list[Entity] = []
    for note, y in zip(ordered, places, strict=True):
        entities += _note(note, (station, y), "level", one)
    return entities, depth(ordered) * one


def keyed(notes: Sequence[Note], key: list[str], *, longest: float, before: int = 0) -> list[Note]:
    """Return notes with words too long for their row put as a number, and add what the number stands for to a key.

    Parameters
    ----------
    notes
        What to write.
    key
        What numbers stand for, in their order; added to.
    longest
        Longest words written in place [plotted mm].
    before
        How many numbers are given out already elsewhere.
    """
    made: list[Note] = []
    for note in notes:
        words = note.suffix or note.text
        if note.tag or width(words, SMALL) <= longest:
            made.append(note)
            continue
        key.append(words.strip())
        number = f"[{before + len(key)}]"
        if note.suffix and note.suffix != note.text:
            number = f" {number}"
        text = note.text.removesuffix(words) + number
        made.append(replace(note, text=text, suffix=number if note.suffix else ""))
    return made


def depth(notes: Sequence[Note]) -> float:
    """Return how far the texts of a row reach from the ends of their leaders [plotted mm]."""
    return max((width(tag_written(note.text) if note.tag else note.text, SMALL) for note in notes), default=0.0) + GAP


def _note(note: Note, at: Vec, measure: Measure, one: float) -> list[Entity]:
    """Return one entry: a real dimension, or a leader and the tag of a piece."""
    dimension = Dimension("dims", measure, note.origin, note.point, at, note.text, SMALL, note.suffix)
    if not note.tag and note.suffix == note.text:  # words measure nothing
        text = dimension_text(dimension, one=one)
        return [Polyline("leader", leader_points(dimension, one=one), closed=False), text._replace(layer="text")]
    if not note.tag:
        return [dimension]
    half = (GAP + width(tag_written(note.tag), SMALL) / 2) * one * (1 if at[1] >= note.point[1] else -1)
    return [Polyline("leader", leader_points(dimension, one=one), closed=False),
            Insert("tag", "MARK-UP", note.point, note.values or (("TAG", note.tag),), away=(at[0], at[1] + half))]
