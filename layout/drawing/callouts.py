"""Call-outs: marks on the elevations of a sheet that say where a detail is about, with its number and its sheet."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from layout.drawing.details import Call
from layout.drawing.labels import Places
from layout.drawing.listing import texts
from layout.drawing.model.blocks import CALL
from layout.drawing.model.entities import Box, Entity, Insert, Line, SubDrawing, Vec, View
from layout.records import MEMBRANE, Plan

ROUND = CALL + 0.2
"""Half the room of a call-out's circle [mm]."""

Called = tuple[Call, tuple[str, int]]
"""A place, and the sheet and the number of the detail about it."""


def callouts(plan: Plan, views: Sequence[View], calls: Sequence[Called]) -> list[Entity]:
    """Return the call-outs of a sheet, each beside what it is about, at the end of a leader where it must be.

    Parameters
    ----------
    plan
        The plan.
    views
        What is on the sheet.
    calls
        Every place of the set that is called out.
    """
    marks: list[Entity] = []
    for view in views:
        here = [(point, where) for call, where in calls for point in _seen(plan, view, call)]
        if not here:
            continue
        places = Places(4.0)
        one = view.drawing.on_wall(1.0)
        step = view.at[0] - view.window.left / one, view.at[1] - view.window.bottom / one
        for text in texts(view.drawing):
            places.take(text.box.moved(step).grown(0.2))
        for point, (sheet, number) in here:
            found = _room(places, point, view.box)
            if found is None:
                continue
            places.take(Box(found[0] - ROUND, found[1] - ROUND, found[0] + ROUND, found[1] + ROUND))
            away = math.dist(found, point)
            if away > ROUND:
                share = CALL / away
                edge = found[0] + (point[0] - found[0]) * share, found[1] + (point[1] - found[1]) * share
                marks.append(Line("leader", edge, point))
            known = ("NUMBER", str(number)), ("SHEET", sheet.replace("page", "p."))
            marks.append(Insert("tag", "CALL", found, known, masked=True))
    return marks


def _seen(plan: Plan, view: View, call: Call) -> Iterator[Vec]:
    """Yield where on the sheet a place is seen in a view."""
    one = view.drawing.on_wall(1.0)
    for entity in view.drawing.entities:
        if not isinstance(entity, SubDrawing) or dict(entity.values).get("LAYER") != MEMBRANE:
            continue
        known = dict(entity.values)
        if known["RUN"] != call.run:
            continue
        wall = next(wall for wall in plan.walls if (wall.run, wall.layer) == (call.run, MEMBRANE))
        span = next(span for span in wall.faces if span.name == known["FACE"])
        station = call.station % wall.length if wall.closed else call.station
        if span.left < station <= span.right or (station == 0 and span.left == 0):
            x, y = station + entity.step[0], call.elevation + entity.step[1]
            if view.window.left <= x <= view.window.right:
                yield view.at[0] + (x - view.window.left) / one, view.at[1] + (y - view.window.bottom) / one


def _room(places: Places, point: Vec, within: Box) -> Vec | None:
    """Return the nearest middle of a circle that lies on no text, and whose leader crosses none."""
    for ring in range(1, 40):
        out = ROUND + 1.5 * ring
        for turn in (225, 315, 45, 135, 270, 90, 180, 0, 247, 293, 67, 113, 202, 338, 22, 158):
            x = point[0] + out * math.cos(math.radians(turn))
            y = point[1] + out * math.sin(math.radians(turn))
            box = Box(x - ROUND, y - ROUND, x + ROUND, y + ROUND)
            if within.holds(box) and places.free(box) and places.clear_line((x, y), point):
                return x, y
    return None
