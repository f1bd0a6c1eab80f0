"""A sheet as a drawing of its own: what its views show, cut at their edges, at its plotted size.

For programs that open model space only: each sheet becomes a file in which paper is full size.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from layout.drawing.model.blanks import unmasked
from layout.drawing.model.entities import (
    Box, CadSet, Circle, Drawing, Entity, Line, Model, Page, Text, Vec, View, moved, on_wall,
)
from layout.drawing.model.plain import box_of_text, plain, plain_within
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
    shown += moved(page.entities, (0.0, 0.0), size=one)
    entities = tuple(plain(unmasked(shown, one=one), one=one))
    frame = Box(0.0, 0.0, page.size.width * one, page.size.height * one)
    drawing = Drawing(page.number, page.title, unit, 1, frame, entities)
    return CadSet(unit, 1, (Model(drawing),), ())


def _shown(view: View, one: float) -> tuple[Entity, ...]:
    """Return what a view shows, in ticks of the sheet, lines cut at its edges."""
    share = one / view.drawing.on_wall(1.0)
    at = view.at[0] * one - view.window.left * share, view.at[1] * one - view.window.bottom * share
    return moved(_seen(view), at, size=share)


def _seen(view: View) -> Iterator[Entity]:
    """Yield what a view shows, lines cut at its edges."""
    plotted = view.drawing.on_wall(1.0)
    for part in plain_within(unmasked(view.drawing.entities, one=plotted), view.window, one=plotted):
        if isinstance(part, Text):
            seen = Box(*part.at, *part.at).grown(NEAR)
            if view.window.holds(box_of_text(part, one=plotted)) or view.window.overlaps(seen):
                yield part
        elif isinstance(part, Circle):
            yield part
        elif isinstance(part, Line):
            yield from _cut(part.layer, (part.start, part.end), view.window)
        else:
            points = (*part.points, part.points[0]) if part.closed else part.points
            if all(_within(point, view.window) for point in points):
                yield part._replace(piece="", values=(), wall=None)
            else:
                yield from _cut(part.layer, points, view.window)


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
