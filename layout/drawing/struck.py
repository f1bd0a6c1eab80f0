"""Text that a line runs through: found, counted, and put on a blank where it cannot stand elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from layout.drawing.ink import CELL, Ink, lies_on, straight_lines
from layout.drawing.model.entities import Box, Dimension, Entity, Group, Hatch, Insert, Text, walk
from layout.drawing.model.plain import box_of_text, dimension_text, plain
from layout.shapes import outline_polygon

BARE = 0.1
"""A line may come this near to the edge of a text's box from inside [plotted mm]."""


@dataclass(frozen=True)
class Struck:
    """A text that is struck: what it says, and the layer it is on."""

    text: str
    layer: str
    box: Box


def struck(entities: Sequence[Entity], *, one: float) -> list[Struck]:
    """Return every text that a line or a hatch drawn elsewhere runs through, and that does not stand on a blank.

    The lines of a dimension and of a symbol do not strike their own text. A blank hides only what was drawn before it.

    Parameters
    ----------
    entities
        What is drawn, in drawing order.
    one
        What plots as one millimetre.
    """
    flat = list(walk(entities))
    ink = _inked(flat, one)
    found: list[Struck] = []
    for number, entity in enumerate(flat):
        for text in _texts(entity, one):
            box = box_of_text(text, one=one).grown(-BARE * one)
            if ink.crosses(box, but=number, after=number if getattr(entity, "masked", False) else -1):
                found.append(Struck(text.text, text.layer, box))
    return found


def masked(entities: Sequence[Entity], *, one: float) -> tuple[Entity, ...]:
    """Return entities with every struck text on a blank, drawn after all that strikes it.

    A label of a piece that must come last stands in a second group of that piece.

    Parameters
    ----------
    entities
        What is drawn, in drawing order.
    one
        What plots as one millimetre.
    """
    flat = list(walk(entities))
    ink = _inked(flat, one)
    stays: dict[int, bool] = {}
    for number, entity in enumerate(flat):
        if isinstance(entity, (Text, Insert, Dimension)):
            boxes = [box_of_text(text, one=one).grown(-BARE * one) for text in _texts(entity, one)]
            if any(ink.crosses(box, but=number) for box in boxes):
                stays[id(entity)] = not any(ink.crosses(box, after=number) for box in boxes)
    if not stays:
        return tuple(entities)
    last: list[Entity] = []

    def kept(every: Iterable[Entity]) -> tuple[tuple[Entity, ...], list[Entity]]:
        stay: list[Entity] = []
        go: list[Entity] = []
        for entity in every:
            if isinstance(entity, Group):
                inside, out = kept(entity.entities)
                stay.append(replace(entity, entities=inside))
                if out:
                    last.append(replace(entity, entities=tuple(out)))
            elif id(entity) in stays:
                assert isinstance(entity, (Text, Insert, Dimension))
                (stay if stays[id(entity)] else go).append(entity._replace(masked=True))
            else:
                stay.append(entity)
        return tuple(stay), go

    stay, go = kept(entities)
    return (*stay, *last, *go)


def _texts(entity: Entity, one: float) -> list[Text]:
    """Return what an entity says."""
    if isinstance(entity, Text):
        return [entity] if entity.text else []
    if isinstance(entity, Dimension):
        return [dimension_text(entity, one=one)]
    if isinstance(entity, Insert):
        return [part for part in plain([entity], one=one) if isinstance(part, Text) and part.text]
    return []


def _inked(flat: Sequence[Entity], one: float) -> Ink:
    """Return the lines of entities, each with the number of what it belongs to."""
    ink = Ink(CELL * one)
    for number, entity in enumerate(flat):
        if isinstance(entity, Hatch):
            shape = outline_polygon(entity.rings[0], list(entity.rings[1:]))  # type: ignore[arg-type]
            ink.area(shape.bounds, lies_on(shape), of=number)
        else:
            for start, end in straight_lines([entity], one=one):
                ink.line(start, end, of=number)
    return ink
