"""Where the sheet ends on the wall: the top and its steps, the upright ends of an open run, the edges at openings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from layout.records import FaceSpan, Plan, Wall
from layout.shapes import along, highest, value

EdgeKind = Literal["top", "step", "run end", "opening"]


@dataclass(frozen=True)
class Edge:
    """One straight part of the terminated edge.

    Parameters
    ----------
    kind
        ``top``: the membrane line, level or sloping. ``step``: an upright step in it. ``run end``: the upright end of
        an open run. ``opening``: an edge at an opening, where the sheet stops or returns into it.
    run, face, tag
        Where it is; ``tag`` names the opening.
    bead
        Length of sealant along it [ticks, rounded up]: all of the edge.
    bar
        Length of termination bar on it [ticks, rounded up]; 0 where it has none.

    Notes
    -----
    As the details show them: bar and bead along the top, bead alone where the sheet ends at an opening. At the end of
    a run the bar goes from the wall/footing joint to the membrane line, and the bead on to the sheet's lower end. The
    bead at an opening is as long as the opening's own sides, however far the sheet returns into it.
    """

    kind: EdgeKind
    run: str
    face: str
    tag: str
    bead: int
    bar: int


@dataclass(frozen=True)
class _Opening:
    """An opening on its run as the sheet sees it, shrunk by the return ``back`` [ticks]."""

    tag: str
    left: int
    right: int
    bottom: int
    top: int
    back: int


def terminated_edges(plan: Plan, wall: Wall, *, ends: bool = True) -> list[Edge]:
    """Return the terminated edge of one run's membrane, face by face.

    Parameters
    ----------
    plan
        The plan; its job says what openings there are.
    wall
        The run, developed.
    ends
        The upright ends of an open run get bar too.
    """
    openings = {span.name: _openings(plan, wall, span) for span in wall.faces}
    found: list[Edge] = []
    for span in wall.faces:
        if not wall.closed and span is wall.faces[0]:
            found.append(_end(wall, span, 0, ends=ends))
        found += _boundary_step(wall, span)
        found += _line(wall, span, openings[span.name])
        found += _around(wall, span, openings[span.name])
        if not wall.closed and span is wall.faces[-1]:
            found.append(_end(wall, span, wall.length, ends=ends))
    return [edge for edge in found if edge.bead]


def _openings(plan: Plan, wall: Wall, span: FaceSpan) -> list[_Opening]:
    """Return a face's openings as the sheet sees them; those that the return closes are none."""
    back = plan.job.rules.opening_return
    found: list[_Opening] = []
    for run in plan.job.runs:
        for face in run.faces:
            if run.name != wall.run or face.name != span.name:
                continue
            for each in face.openings:
                left, right = span.left + each.left + back, span.left + each.left + each.width - back
                bottom, top = each.sill + back, each.sill + each.height - back
                if left < right and bottom < top:
                    foot = max(bottom, highest(wall.footing, left, right))
                    if foot < top:
                        found.append(_Opening(each.tag, left, right, foot, top, back))
    return found


def _end(wall: Wall, span: FaceSpan, station: int, *, ends: bool) -> Edge:
    """Return the upright end of an open run."""
    right = station == 0
    top = value(wall.top, station, from_right=right)
    joint = value(wall.footing, station, from_right=right)
    low = value(wall.bottom, station, from_right=right)
    return Edge("run end", wall.run, span.name, "", math.ceil(top - low), math.ceil(top - joint) if ends else 0)


def _boundary_step(wall: Wall, span: FaceSpan) -> Iterator[Edge]:
    """Yield the step of the membrane line at a face's left end."""
    if not span.left and not wall.closed:
        return
    before = value(wall.top, span.left or wall.length, from_right=False)
    rise = math.ceil(abs(value(wall.top, span.left, from_right=True) - before))
    if rise:
        yield Edge("step", wall.run, span.name, "", rise, rise)


def _line(wall: Wall, span: FaceSpan, openings: Sequence[_Opening]) -> Iterator[Edge]:
    """Yield the membrane line along a face: its straight parts and steps, those at openings apart."""
    points = along(wall.top, span.left, span.right)
    for (x0, y0), (x1, y1) in zip(points, points[1:], strict=False):
        low, high = sorted((y0, y1))
        if x0 < x1:
            length = math.ceil(math.hypot(x1 - x0, float(y1 - y0)))
            foot = next((o for o in openings if o.left <= x0 and x1 <= o.right and y0 == y1 == o.bottom), None)
            if foot is None:
                yield Edge("top", wall.run, span.name, "", length, length)
            else:
                back = (foot.back if x0 == foot.left else 0) + (foot.back if x1 == foot.right else 0)
                yield Edge("opening", wall.run, span.name, foot.tag, length + back, 0)
        elif low < high:
            jamb = next((o for o in openings if o.left <= x0 <= o.right and low == o.bottom), None)
            if jamb is None:
                yield Edge("step", wall.run, span.name, "", math.ceil(high - low), math.ceil(high - low))
            elif x0 in (jamb.left, jamb.right):
                yield Edge("opening", wall.run, span.name, jamb.tag, math.ceil(high - low) + jamb.back, 0)
            else:  # the line comes down through the opening's head: no sheet beside it below the head
                yield Edge("opening", wall.run, span.name, jamb.tag, max(math.ceil(high - jamb.top), 0), 0)


def _around(wall: Wall, span: FaceSpan, openings: Sequence[_Opening]) -> Iterator[Edge]:
    """Yield the edges of the openings that have sheet above them."""
    for opening in openings:
        for hole in wall.holes:
            if hole.tag != opening.tag or not span.left <= hole.left < span.right:
                continue
            sides = (hole.left == opening.left) + (hole.right == opening.right)
            across = hole.right - hole.left + sides * opening.back
            upright = sides * (hole.top - hole.bottom + 2 * opening.back)
            yield Edge("opening", wall.run, span.name, opening.tag, 2 * across + upright, 0)


def lengths(edges: Sequence[Edge], kind: EdgeKind) -> list[tuple[str, int]]:
    """Return (face with its run, length of edge) for each face that has some of a kind [ticks]."""
    found: dict[str, int] = {}
    for edge in edges:
        if edge.kind == kind:
            found[f"{edge.run} {edge.face}"] = found.get(f"{edge.run} {edge.face}", 0) + edge.bead
    return list(found.items())


def total_length(edges: Sequence[Edge], *kinds: EdgeKind) -> int:
    """Return the length of all edges of some kinds [ticks]."""
    return sum(edge.bead for edge in edges if edge.kind in kinds)
