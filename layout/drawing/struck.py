"""Text that a line runs through: found, counted, and put on a blank where it cannot stand elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from layout.drawing.ink import CELL, Ink, lies_on
from layout.drawing.model.entities import Box, Dimension, Entity, Group, Hatch, Insert, Text, walk
from layout.drawing.model.plain import box_of_text, plain
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
    parts = [_parts(entity, one) for entity in flat]
    ink = _inked(flat, parts, one)
    found: list[Struck] = []
    for number, entity in enumerate(flat):
        for text in _texts(parts[number]):
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
    parts = [_parts(entity, one) for entity in flat]
    ink = _inked(flat, parts, one)
    stays: dict[int, bool] = {}
    for number, entity in enumerate(flat):
        if isinstance(entity, (Text, Insert, Dimension)):
            boxes = [box_of_text(text, one=one).grown(-BARE * one) for text in _texts(parts[number])]
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


def _parts(entity: Entity, one: float) -> Sequence[Entity]:
    """Return a symbol or a dimension as its lines and its text; anything else as it is."""
    return list(plain([entity], one=one)) if isinstance(entity, (Insert, Dimension)) else [entity]


def _texts(parts: Sequence[Entity]) -> list[Text]:
    """Return what is said among parts."""
    return [part for part in parts if isinstance(part, Text) and part.text]


def _inked(flat: Sequence[Entity], parts: Sequence[Sequence[Entity]], one: float) -> Ink:
    """Return the lines of entities, whose parts are known, each with the number of what it belongs to."""
    ink = Ink(CELL * one)
    for number, (entity, own) in enumerate(zip(flat, parts)):
        if isinstance(entity, Hatch):
            shape = outline_polygon(entity.rings[0], list(entity.rings[1:]))  # type: ignore[arg-type]
            ink.area(shape.bounds, lies_on(shape), of=number)
        else:
            ink.draw(own, one=one, of=number)
    return ink
