"""Lines broken where text stands on a blank, for formats that cannot hide what was drawn before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from layout.drawing.model.blocks import BLOCKS
from layout.drawing.model.entities import (
    Box, Circle, Dimension, Entity, Group, Hatch, Insert, Line, SubDrawing, Polyline, Text, Vec, moved,
)
from layout.drawing.model.plain import box_of_text, dimension_text, hatch_lines, insert_parts


def unmasked(entities: Sequence[Entity], *, one: float) -> list[Entity]:
    """Return entities with every line broken that runs behind text on a blank.

    The whole outlines of pieces stay whole, since others take them from the file; hatches that run behind a blank come
    out as lines.

    Parameters
    ----------
    entities
        What is drawn, in drawing order.
    one
        What plots as one millimetre.
    """
    blanks = list(_blanks(entities, one))
    if not blanks:
        return list(entities)
    return list(_broken(entities, blanks, one))


def _blanks(entities: Iterable[Entity], one: float) -> Iterable[Box]:
    """Yield the box of each blank."""
    for entity in entities:
        if isinstance(entity, Group):
            yield from _blanks(entity.entities, one)
        elif isinstance(entity, SubDrawing):
            yield from _blanks(moved(entity.entities, entity.step), one)
        elif isinstance(entity, Text) and entity.masked and entity.text:
            yield box_of_text(entity, one=one)
        elif isinstance(entity, Dimension) and entity.masked:
            yield box_of_text(dimension_text(entity, one=one), one=one)
        elif isinstance(entity, Insert):
            if BLOCKS[entity.block].blank:
                radius = max(part.radius for part in BLOCKS[entity.block].entities if isinstance(part, Circle)) * one
                yield Box(*entity.at, *entity.at).grown(radius * 0.98)
            elif entity.masked:
                yield from (box_of_text(part, one=one) for part in insert_parts(entity, one=one)
                            if isinstance(part, Text) and part.text)


def _broken(entities: Iterable[Entity], blanks: Sequence[Box], one: float) -> Iterable[Entity]:
    for entity in entities:
        if isinstance(entity, Group):
            yield replace(entity, entities=tuple(_broken(entity.entities, blanks, one)))
        elif isinstance(entity, SubDrawing):
            dx, dy = entity.step
            inside = [blank.moved((-dx, -dy)) for blank in blanks]
            yield replace(entity, entities=tuple(_broken(entity.entities, inside, one)))
        elif isinstance(entity, Line):
            yield from _pieces(entity.layer, (entity.start, entity.end), blanks, entity)
        elif isinstance(entity, Polyline) and not entity.piece and entity.tone != "ink":
            points = (*entity.points, entity.points[0]) if entity.closed else entity.points
            yield from _pieces(entity.layer, points, blanks, entity)
        elif isinstance(entity, Hatch):
            ring = entity.rings[0]
            around = Box(min(x for x, _ in ring), min(y for _, y in ring), max(x for x, _ in ring),
                         max(y for _, y in ring))
            if any(around.overlaps(blank) for blank in blanks):
                yield from _broken(hatch_lines(entity, one=one), blanks, one)
            else:
                yield entity
        else:
            yield entity


def _pieces(layer: str, points: Sequence[Vec], blanks: Sequence[Box], whole: Entity) -> Iterable[Entity]:
    """Yield what is left of a line behind blanks: the line itself where none lies on it."""
    near = [blank for blank in blanks if _crosses(points, blank)]
    if not near:
        yield whole
        return
    for start, end in zip(points, points[1:]):
        parts = [(0.0, 1.0)]
        for blank in near:
            inside = _inside(start, end, blank)
            if inside is None:
                continue
            low, high = inside
            parts = [(a, b) for left, right in parts for a, b in ((left, min(right, low)), (max(left, high), right))
                     if b - a > 1e-9]
        for a, b in parts:
            yield Line(layer, _between(start, end, a), _between(start, end, b))


def _between(start: Vec, end: Vec, share: float) -> Vec:
    return start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share


def _crosses(points: Sequence[Vec], box: Box) -> bool:
    return any(_inside(start, end, box) is not None for start, end in zip(points, points[1:]))


def _inside(start: Vec, end: Vec, box: Box) -> tuple[float, float] | None:
    """Return the stretch of a straight line within a box, as shares of its length; None when there is none."""
    low, high = 0.0, 1.0
    for at, step, least, most in ((start[0], end[0] - start[0], box.left, box.right),
                                  (start[1], end[1] - start[1], box.bottom, box.top)):
        if step == 0:
            if not least < at < most:
                return None
            continue
        first, last = sorted(((least - at) / step, (most - at) / step))
        low, high = max(low, first), min(high, last)
    return (low, high) if high - low > 1e-9 else None
