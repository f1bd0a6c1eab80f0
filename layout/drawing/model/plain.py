"""Dimensions, symbols and hatches as plain lines and text, for writers whose format has none of them."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from layout.drawing.model.blocks import BLOCKS, tag_written
from layout.drawing.model.fonts import text_box
from layout.drawing.model.entities import (
    Box, Circle, Dimension, Entity, Group, Hatch, Insert, Line, SubDrawing, Polyline, Text, Vec, moved, unknown,
)

TICK = 1.2
"""Half the length of the slanted tick at the ends of a dimension line, across and up [mm]."""
GAP = 1.0
"""Gap between what is measured and its extension line, and between a line and its text [mm]."""

SPECK = 0.01
"""A line of a hatch shorter than this only touches a corner, and is not drawn [mm]."""


def plain(entities: Iterable[Entity], *, one: float) -> Iterator[Line | Polyline | Circle | Text | Group]:
    """Yield entities in drawing order with everything but lines, circles and text taken apart; groups are kept.

    Parameters
    ----------
    entities
        What is drawn.
    one
        What plots as one millimetre, in the entities' own unit.

    Raises
    ------
    DrawingError
        When an entity is of a kind not known here.
    """
    for entity in entities:
        if isinstance(entity, Group):
            yield replace(entity, entities=tuple(plain(entity.entities, one=one)))
        elif isinstance(entity, SubDrawing):
            yield from plain(moved(entity.entities, entity.step), one=one)
        elif isinstance(entity, (Line, Polyline, Circle, Text)):
            yield entity
        elif isinstance(entity, Hatch):
            yield from hatch_lines(entity, one=one)
        elif isinstance(entity, Dimension):
            yield from dimension_parts(entity, one=one)
        elif isinstance(entity, Insert):
            yield from insert_parts(entity, one=one)
        else:
            raise unknown(entity)


def plain_within(
    entities: Iterable[Entity], window: Box, *, one: float,
) -> Iterator[Line | Polyline | Circle | Text]:
    """Yield in drawing order, without groups and taken apart, what may be seen of entities within a window.

    Parameters
    ----------
    entities
        What is drawn.
    window
        What is seen, with room for the width of pens.
    one
        What plots as one millimetre, in the entities' own unit.

    Raises
    ------
    DrawingError
        When an entity is of a kind not known here.
    """
    for entity in entities:
        if isinstance(entity, Group):
            yield from plain_within(entity.entities, window, one=one)
        elif isinstance(entity, SubDrawing):
            dx, dy = entity.step
            inside = Box(window.left - dx, window.bottom - dy, window.right - dx, window.top - dy)
            yield from moved(plain_within(entity.entities, inside, one=one), (dx, dy))  # type: ignore[misc]
        elif not isinstance(entity, Hatch) or any(_around(ring).overlaps(window) for ring in entity.rings):
            for part in plain([entity], one=one):
                if not isinstance(part, Group) and _box(part, one).overlaps(window):
                    yield part


def _box(part: Line | Polyline | Circle | Text, one: float) -> Box:
    """Return the box around a line, a circle or a text."""
    if isinstance(part, Text):
        return box_of_text(part, one=one)
    if isinstance(part, Circle):
        return Box(*part.centre, *part.centre).grown(part.radius)
    if isinstance(part, Line):
        (x0, y0), (x1, y1) = part.start, part.end
        return Box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
    return _around(part.points)


def _around(points: Sequence[Vec]) -> Box:
    """Return the box around points."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return Box(min(xs), min(ys), max(xs), max(ys))


def insert_parts(insert: Insert, *, one: float) -> Iterator[Line | Polyline | Circle | Text]:
    """Yield the lines of a symbol and the text of its attributes where it has been put.

    Parameters
    ----------
    insert
        The symbol.
    one
        What plots as one millimetre.
    """
    block = BLOCKS[insert.block]

    yield from moved(block.entities, insert.at, size=one)  # type: ignore[misc]
    values = dict(insert.values)
    away = insert.away or insert.at
    for slot in block.slots:
        if not slot.hidden:
            at = away[0] + slot.at[0] * one, away[1] + slot.at[1] * one
            value = values.get(slot.tag, "")
            yield Text(insert.layer, at, tag_written(value) if slot.tag == "TAG" else value, slot.height,
                       slot.across, slot.up, slot.turned, slot.strong, insert.masked and not block.blank)


def insert_box(insert: Insert, *, one: float) -> Box | None:
    """Return the box around the lines of a symbol, or None when it has text only.

    Parameters
    ----------
    insert
        The symbol.
    one
        What plots as one millimetre.
    """
    boxes = [_box(part, one) for part in insert_parts(insert, one=one) if not isinstance(part, Text)]
    return Box.around(boxes) if boxes else None


def hatch_lines(hatch: Hatch, *, one: float) -> Iterator[Line]:
    """Yield the slanted lines that fill an area, on one grid so that neighbouring areas agree.

    Parameters
    ----------
    hatch
        The area.
    one
        What plots as one millimetre.
    """
    rising = hatch.angle == 45
    pitch = hatch.spacing * one * math.sqrt(2)
    rings = [[(x, y if rising else -y) for x, y in ring] for ring in hatch.rings]
    heights = [y - x for ring in rings for x, y in ring]
    levels = [(number + 1e-6) * pitch  # never through a corner that lies on the grid
              for number in range(math.ceil(min(heights) / pitch), math.floor(max(heights) / pitch) + 1)]
    crossings: list[list[float]] = [[] for _ in levels]
    for ring in rings:
        for (x0, y0), (x1, y1) in zip(ring, ring[1:] + ring[:1]):
            start, end = y0 - x0, y1 - x1
            for at in range(bisect_right(levels, min(start, end)), bisect_right(levels, max(start, end))):
                before, after = start - levels[at], end - levels[at]
                crossings[at].append(x0 + (x1 - x0) * before / (before - after))
    for level, xs in zip(levels, crossings):
        xs.sort()
        for left, right in zip(xs[::2], xs[1::2]):
            if right - left < SPECK * one:
                continue
            start, end = left + level, right + level
            yield Line(hatch.layer, (left, start if rising else -start), (right, end if rising else -end))


def dimension_parts(dimension: Dimension, *, one: float) -> Iterator[Line | Polyline | Text]:
    """Yield the lines and the text of a dimension.

    Parameters
    ----------
    dimension
        The dimension.
    one
        What plots as one millimetre.
    """
    text = dimension_text(dimension, one=one)
    layer = dimension.layer
    if dimension.measure in ("station", "level"):
        yield Polyline(layer, leader_points(dimension, one=one), closed=False)
    else:
        across = dimension.measure == "across"
        ends = []
        for point in (dimension.start, dimension.end):
            on_line = (point[0], dimension.at[1]) if across else (dimension.at[0], point[1])
            away = math.copysign(1.0, on_line[1] - point[1] if across else on_line[0] - point[0]) * GAP * one
            if abs(on_line[1] - point[1]) + abs(on_line[0] - point[0]) > 2 * GAP * one:
                from_ = (point[0], point[1] + away) if across else (point[0] + away, point[1])
                past = (on_line[0], on_line[1] + away) if across else (on_line[0] + away, on_line[1])
                yield Line(layer, from_, past)
            half = TICK * one
            yield Line(layer, (on_line[0] - half, on_line[1] - half), (on_line[0] + half, on_line[1] + half))
            ends.append(on_line)
        yield Line(layer, ends[0], ends[1])
    yield text


def leader_points(dimension: Dimension, *, one: float) -> tuple[Vec, ...]:
    """Return the leader of a station or a level: straight out, across where the text had to move, out again.

    Parameters
    ----------
    dimension
        Of measure ``station`` or ``level``.
    one
        What plots as one millimetre.
    """
    (x, y), (to_x, to_y) = dimension.end, dimension.at
    if dimension.measure == "station":
        away = math.copysign(one, to_y - y)
        if to_x == x:
            return (x, y + away), (x, to_y)
        return (x, y + away), (x, to_y - 4 * away), (to_x, to_y - 1.5 * away), (to_x, to_y)
    away = math.copysign(one, to_x - x)
    if to_y == y:
        return (x + away, y), (to_x, y)
    return (x + away, y), (to_x - 4 * away, y), (to_x - 1.5 * away, to_y), (to_x, to_y)


def dimension_text(dimension: Dimension, *, one: float) -> Text:
    """Return the text of a dimension where it stands.

    Parameters
    ----------
    dimension
        The dimension.
    one
        What plots as one millimetre.
    """
    return _dimension_text(dimension, GAP * one)._replace(masked=dimension.masked)


def _dimension_text(dimension: Dimension, gap: float) -> Text:
    x, y = dimension.at
    layer, text, height = dimension.layer, dimension.text, dimension.height
    if dimension.measure == "across":
        return Text(layer, ((dimension.start[0] + dimension.end[0]) / 2, y + gap), text, height, "centre")
    if dimension.measure == "up":
        return Text(layer, (x - gap, (dimension.start[1] + dimension.end[1]) / 2), text, height, "centre", "base", True)
    if dimension.measure == "station":
        up = y >= dimension.end[1]
        return Text(layer, (x, y + (gap if up else -gap)), text, height, "left" if up else "right", "middle", True)
    right = x >= dimension.end[0]
    return Text(layer, (x + (gap if right else -gap), y), text, height, "left" if right else "right", "middle")


def box_of_text(text: Text, *, one: float) -> Box:
    """Return the box of a text in the unit of its drawing.

    Parameters
    ----------
    text
        The text.
    one
        What plots as one millimetre.
    """
    return text_box(text.at, text.text, text.height * one, across=text.across, up=text.up, turned=text.turned,
                    strong=text.strong)
