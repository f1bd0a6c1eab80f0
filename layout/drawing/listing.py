"""The writer that is a list: what a drawing says, entity by entity, for tests and for comparing two drawings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from layout.drawing.model.blocks import BLOCKS
from layout.drawing.model.layers import layer_of
from layout.drawing.model.entities import (
    Box, Circle, Dimension, Drawing, Entity, Group, Hatch, Insert, Line, Page, SubDrawing, Polyline, Text, unknown,
)
from layout.drawing.model.plain import box_of_text, plain


@dataclass(frozen=True)
class PlacedText:
    """A text as it lies on paper [plotted mm], and the piece it belongs to."""

    text: str
    height: float
    box: Box
    layer: str
    piece: str = ""


def listing(drawing: Drawing) -> list[str]:
    """Return one line an entity, groups indented.

    Parameters
    ----------
    drawing
        Any drawing.

    Raises
    ------
    DrawingError
        When an entity is of a kind not known here, or lies on a layer that is not.
    """
    return _lines(drawing.entities, "")


def _lines(entities: Iterable[Entity], indent: str) -> list[str]:
    lines: list[str] = []
    for entity in entities:
        if isinstance(entity, Group):
            lines.append(f"{indent}group {entity.tag}: {entity.title}")
            lines += _lines(entity.entities, indent + "  ")
            continue
        if isinstance(entity, SubDrawing):
            lines.append(f"{indent}part {entity.name} at {entity.at}")
            lines += _lines(entity.entities, indent + "  ")
            continue
        if not hasattr(entity, "layer"):
            raise unknown(entity)
        name = layer_of(entity.layer).name
        if isinstance(entity, Line):
            what = f"line {entity.start} {entity.end}"
        elif isinstance(entity, Polyline):
            what = f"{'outline' if entity.closed else 'polyline'} {entity.piece} {entity.points} {entity.tone}"
        elif isinstance(entity, Circle):
            what = f"circle {entity.centre} {entity.radius} {entity.tone}"
        elif isinstance(entity, Hatch):
            what = f"hatch {entity.rings}"
        elif isinstance(entity, Text):
            what = f"text {entity.at} {entity.text!r}"
        elif isinstance(entity, Dimension):
            what = f"dimension {entity.measure} {entity.start} {entity.end} {entity.text!r}"
        elif isinstance(entity, Insert):
            what = f"insert {BLOCKS[entity.block].name} {entity.at} {dict(entity.values)}"
        else:
            raise unknown(entity)
        lines.append(f"{indent}{name}: {what}")
    return lines


def texts(drawing: Drawing) -> list[PlacedText]:
    """Return every text of a drawing as it lies on paper, attributes and dimensions included.

    Parameters
    ----------
    drawing
        Any drawing.
    """
    one = drawing.on_wall(1.0)
    return _texts(plain(drawing.entities, one=one), one, "")


def page_texts(page: Page) -> list[PlacedText]:
    """Return every text of a page as it lies on paper: the page's own, and what its views show.

    Parameters
    ----------
    page
        Any page.
    """
    placed = _texts(plain(page.entities, one=1.0), 1.0, "")
    for view in page.views:
        one = view.drawing.on_wall(1.0)
        step = view.at[0] - view.window.left / one, view.at[1] - view.window.bottom / one
        for text in texts(view.drawing):
            box = text.box.moved(step)
            if box.overlaps(view.box):
                placed.append(PlacedText(text.text, text.height, box, text.layer, text.piece))
    return placed


def _texts(entities: Iterable[Entity], one: float, piece: str) -> list[PlacedText]:
    placed: list[PlacedText] = []
    for entity in entities:
        if isinstance(entity, Group):
            placed += _texts(entity.entities, one, entity.tag)
        elif isinstance(entity, Text) and entity.text:
            box = box_of_text(entity, one=one)
            placed.append(PlacedText(entity.text, entity.height,
                                     Box(box.left / one, box.bottom / one, box.right / one, box.top / one),
                                     entity.layer, piece))
    return placed


def overlapping(placed: Iterable[PlacedText]) -> list[tuple[PlacedText, PlacedText]]:
    """Return every two texts that lie on each other.

    Parameters
    ----------
    placed
        Texts on one paper.
    """
    pairs: list[tuple[PlacedText, PlacedText]] = []
    ahead: list[PlacedText] = []
    for text in sorted(placed, key=lambda each: (each.box.left, each.box.bottom, each.text)):
        ahead = [other for other in ahead if other.box.right > text.box.left]
        pairs += [(other, text) for other in ahead if other.box.overlaps(text.box)]
        ahead.append(text)
    return pairs
