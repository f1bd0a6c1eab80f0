"""A sheet as a drawing of its own: what its views show, cut at their edges, at its plotted size.

For programs that open model space only: each sheet becomes a file in which paper is full size.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from layout.drawing.model.blanks import unmasked
from layout.drawing.model.entities import (
    Box, CadSet, Circle, Drawing, Entity, Hatch, Insert, Line, Model, Page, Polyline, Text, Vec, View, on_wall,
)
from layout.drawing.model.plain import box_of, plain, plain_within
from layout.units import Unit

NEAR = 1e-9


def sheet_set(page: Page, unit: Unit) -> CadSet:
    """Return a sheet as a set with nothing but model space, at its plotted size.

    Parameters
    ----------
    page
        The sheet.
    unit
        The job's unit, which the file is in.
    """
    one = on_wall(1.0, unit, 1)
    shown: list[Entity] = []
    for view in page.views:
        shown += _shown(view, one)
    shown += [_sized(entity, (0.0, 0.0), one) for entity in page.entities]
    entities = tuple(plain(unmasked(shown, one=one), one=one))
    frame = Box(0.0, 0.0, page.size.width * one, page.size.height * one)
    drawing = Drawing(page.number, page.title, unit, 1, frame, entities)
    return CadSet(unit, 1, (Model(drawing),), ())


def _shown(view: View, one: float) -> Iterator[Entity]:
    """Yield what a view shows, in ticks of the sheet, lines cut at its edges."""
    plotted = view.drawing.on_wall(1.0)
    share = one / plotted
    at = view.at[0] * one - view.window.left * share, view.at[1] * one - view.window.bottom * share
    for part in plain_within(unmasked(view.drawing.entities, one=plotted), view.window, one=plotted):
        if isinstance(part, Text):
            seen = Box(*part.at, *part.at).grown(NEAR)
            if view.window.holds(box_of(part, one=plotted)) or view.window.overlaps(seen):
                yield _sized(part, at, share)
        elif isinstance(part, Circle):
            yield _sized(part, at, share)
        elif isinstance(part, Line):
            yield from (_sized(cut, at, share) for cut in _cut(part.layer, (part.start, part.end), view.window))
        else:
            points = (*part.points, part.points[0]) if part.closed else part.points
            if all(_within(point, view.window) for point in points):
                yield _sized(replace(part, piece="", values=()), at, share)
            else:
                yield from (_sized(cut, at, share) for cut in _cut(part.layer, points, view.window))


def _sized(entity: Entity, at: Vec, share: float) -> Entity:
    """Return an entity at another size; heights of text are plotted ones and stay."""
    def put(point: Vec) -> Vec:
        return at[0] + point[0] * share, at[1] + point[1] * share

    if isinstance(entity, Line):
        return Line(entity.layer, put(entity.start), put(entity.end))
    if isinstance(entity, Polyline):
        return replace(entity, points=tuple(put(point) for point in entity.points))
    if isinstance(entity, Circle):
        return replace(entity, centre=put(entity.centre), radius=entity.radius * share)
    if isinstance(entity, Text):
        return replace(entity, at=put(entity.at))
    if isinstance(entity, Hatch):
        return replace(entity, rings=tuple(tuple(put(point) for point in ring) for ring in entity.rings))
    if isinstance(entity, Insert):
        return replace(entity, at=put(entity.at), away=put(entity.away) if entity.away else None)
    raise TypeError(f"no sheet has a {type(entity).__name__} of its own")


def _within(point: Vec, box: Box) -> bool:
    return (box.left - NEAR <= point[0] <= box.right + NEAR) and (box.bottom - NEAR <= point[1] <= box.top + NEAR)


def _cut(layer: str, points: Iterable[Vec], box: Box) -> Iterator[Line]:
    """Yield what lies within a box of joined straight lines."""
    every = list(points)
    for (x0, y0), (x1, y1) in zip(every, every[1:]):
        low, high = 0.0, 1.0
        for at, step, least, most in ((x0, x1 - x0, box.left, box.right), (y0, y1 - y0, box.bottom, box.top)):
            if step == 0:
                if not least - NEAR <= at <= most + NEAR:
                    low, high = 1.0, 0.0
                continue
            first, last = sorted(((least - at) / step, (most - at) / step))
            low, high = max(low, first), min(high, last)
        if high > low:
            yield Line(layer, (x0 + (x1 - x0) * low, y0 + (y1 - y0) * low),
                       (x0 + (x1 - x0) * high, y0 + (y1 - y0) * high))
