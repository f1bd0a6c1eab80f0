"""The heading under a drawing and the legend of its lines and marks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Circle, Entity, Hatch, Insert, Line, Polyline, Text, Vec
from layout.drawing.model.fonts import DESCENT, width, wrapped
from layout.drawing.wallview import WallView

HEADING = 3.5
"""Height of a heading's capitals [plotted mm]."""


def elevation_legend(
    heading: str, view: WallView, *, left: float, top: float, room: float, one: float,
) -> list[Entity]:
    """Return a heading and, under it, one sample of each kind of line and mark with its meaning.

    Parameters
    ----------
    heading
        What the drawing is.
    view
        What is seen: only what is there is explained.
    left, top
        Upper left corner [ticks].
    room
        Room across [ticks].
    one
        Ticks that plot as one millimetre.
    """
    lines = wrapped(heading, HEADING, room / one, strong=True)
    pitch = (HEADING * (1 + DESCENT) + 0.8) * one
    entities: list[Entity] = [Text("title", (left, top - HEADING * one - number * pitch), line, HEADING, strong=True)
                              for number, line in enumerate(lines)]
    below = top - (HEADING + 4) * one - (len(lines) - 1) * pitch
    return entities + legend(view, left=left, top=below, room=room, one=one)


@dataclass(frozen=True)
class Sample:
    """A line or a mark, in plotted millimetres from (0, 0) to (10, 0), and what it means."""

    entities: tuple[Entity, ...]
    meaning: str


def legend(view: WallView, *, left: float, top: float, room: float, one: float) -> list[Entity]:
    """Return the samples and their meanings, row by row.

    Parameters
    ----------
    view
        What is seen.
    left, top
        Upper left corner [ticks].
    room
        Room across [ticks].
    one
        Ticks that plot as one millimetre.
    """
    entities: list[Entity] = []
    x, y = left, top - 4 * one
    for sample in samples_of([view]):
        wide = (12 + width(sample.meaning, SMALL) + 6) * one
        if x + wide > left + room and x > left:
            x, y = left, y - 6 * one
        entities += samples([sample], (x, y), one)
        x += wide
    return entities


def samples(shown: Sequence[Sample], at: Vec, one: float) -> list[Entity]:
    """Return samples with their meanings, line under line.

    Parameters
    ----------
    shown
        The samples.
    at
        Left end of the first [the drawing's unit].
    one
        What plots as one millimetre.
    """
    entities: list[Entity] = []
    x, y = at
    for sample in shown:
        entities += [_scaled(entity, (x, y), one) for entity in sample.entities]
        entities.append(Text("note", (x + 12 * one, y), sample.meaning, SMALL, up="middle"))
        y -= 6 * one
    return entities


def samples_of(views: Sequence[WallView]) -> list[Sample]:
    """Return a sample of each kind of line and mark that is seen.

    Parameters
    ----------
    views
        What is seen; only what is there is explained.
    """
    rows: list[tuple[list[Entity], str]] = [
        ([Line("edge", (0, 0), (10, 0))], "edge of a drop, on top"),
        ([Line("piece", (0, 0), (10, 0))], "edge of a drop, beneath"),
        ([Hatch("lap", (((0, 1.5), (10, 1.5), (10, -1.5), (0, -1.5)),), spacing=0.9),
          Insert("over", "OVER-RIGHT", (5, 0))], "lap; the mark points from the drop on top to the one beneath"),
        ([Insert("tag", "ORDER", (5, 0), (("ORDER", "1"),))], "order of installing"),
        ([Line("fold", (0, 0), (10, 0))], "fold; below the joint the toe is drawn unfolded"),
        ([Line("footing", (0, 0), (10, 0))], "footing behind the sheet"),
    ]
    if not any(view.field for view in views):
        del rows[:4]  # walls without sheet
    if any(view.others for view in views):
        rows.append(([Line("strip", (0, 0), (10, 0))], "strip, collar or cover, under the drops"))
    if any(seen.piece.slits for view in views for seen in (*view.field, *view.others)):
        rows.append(([Line("slit", (0, 0), (10, 0))], "slit"))
        rows.append(([Circle("dab", (5, 0), 1.2)], "dab of mastic on a point that no sheet holds"))
    if any(view.wall.grade for view in views):
        rows.append(([Line("grade", (0, 0), (10, 0))], "finished grade"))
    if any(lap.seam and lap.seam.tuck for view in views for lap in view.laps):
        rows.append(([Line("closing", (0, 0), (10, 0))],
                     "closing seam: first drop left loose at the edge, last tucked under"))
    if any(seen.goes_on for view in views for seen in view.field):
        rows.append(([Insert("tag", "ON-RIGHT", (5, 0))], "drop goes on around the corner"))
    return [Sample(tuple(entities), meaning) for entities, meaning in rows]


def _scaled(entity: Entity, by: Vec, one: float) -> Entity:
    """Return a part of a sample where it belongs."""
    def put(point: Vec) -> Vec:
        return by[0] + point[0] * one, by[1] + point[1] * one

    if isinstance(entity, Line):
        return Line(entity.layer, put(entity.start), put(entity.end))
    if isinstance(entity, Hatch):
        return entity._replace(rings=tuple(tuple(put(point) for point in ring) for ring in entity.rings))
    if isinstance(entity, Insert):
        return entity._replace(at=put(entity.at))
    if isinstance(entity, Circle):
        return entity._replace(centre=put(entity.centre), radius=entity.radius * one)
    assert isinstance(entity, Polyline)
    return entity._replace(points=tuple(put(point) for point in entity.points))
