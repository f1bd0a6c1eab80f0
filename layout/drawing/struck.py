"""Text that a line runs through: found, counted, and put on a blank where it cannot stand elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from layout.drawing.ink import Ink, lines_of
from layout.drawing.model.entities import Box, Dimension, Entity, Group, Hatch, Insert, Part, Text, Vec, moved
from layout.drawing.model.plain import box_of, dimension_text, plain
from layout.shapes import outline_polygon, rectangle

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
    flat = list(_flat(entities))
    ink = _inked(flat, one)
    late = Ink(12 * one)
    found: list[Struck] = []
    for entity in reversed(flat):
        for text in _texts(entity, one):
            box = box_of(text, one=one).grown(-BARE * one)
            if (late if getattr(entity, "masked", False) else ink).crosses(box, but=id(entity)):
                found.append(Struck(text.text, text.layer, box))
        _ink(late, entity, one)
    return found[::-1]


def masked(entities: Sequence[Entity], *, one: float) -> tuple[Entity, ...]:
    """Return entities with every struck text on a blank, drawn after all else.

    What belongs to a piece then stands in a second group of that piece.

    Parameters
    ----------
    entities
        What is drawn, in drawing order.
    one
        What plots as one millimetre.
    """
    ink = _inked(list(_flat(entities)), one)
    late: list[Entity] = []

    def kept(every: Iterable[Entity]) -> tuple[tuple[Entity, ...], list[Entity]]:
        stay: list[Entity] = []
        go: list[Entity] = []
        for entity in every:
            if isinstance(entity, Group):
                inside, out = kept(entity.entities)
                stay.append(entity if not out else replace(entity, entities=inside))
                if out:
                    late.append(replace(entity, entities=tuple(out)))
            elif isinstance(entity, (Text, Insert)) and any(
                    ink.crosses(box_of(text, one=one).grown(-BARE * one), but=id(entity))
                    for text in _texts(entity, one)):
                go.append(replace(entity, masked=True))
            else:
                stay.append(entity)
        return tuple(stay), go

    stay, go = kept(entities)
    return (*stay, *late, *go)


def _flat(entities: Iterable[Entity], step: Vec = (0.0, 0.0)) -> Iterator[Entity]:
    for entity in entities:
        if isinstance(entity, Group):
            yield from _flat(entity.entities)
        elif isinstance(entity, Part):
            yield from _flat(moved(entity.entities, entity.step))
        else:
            yield entity


def _texts(entity: Entity, one: float) -> list[Text]:
    """Return what an entity says."""
    if isinstance(entity, Text):
        return [entity] if entity.text else []
    if isinstance(entity, Dimension):
        return [dimension_text(entity, one=one)]
    if isinstance(entity, Insert):
        return [part for part in plain([entity], one=one) if isinstance(part, Text) and part.text]
    return []


def _inked(flat: Iterable[Entity], one: float) -> Ink:
    ink = Ink(12 * one)
    for entity in flat:
        _ink(ink, entity, one)
    return ink


def _ink(ink: Ink, entity: Entity, one: float) -> None:
    if isinstance(entity, Hatch):
        shape = outline_polygon(entity.rings[0], list(entity.rings[1:]))  # type: ignore[arg-type]
        ink.area(shape.bounds, lambda box: bool(shape.intersects(
            rectangle(box.left, box.bottom, box.right, box.top))))
        return
    for start, end in lines_of([entity], one=one):
        ink.line(start, end, of=id(entity))
