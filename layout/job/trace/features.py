"""Openings and sleeves, each on its wall."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from layout.errors import Fault
from layout.job.limits import MAX_FEATURES_A_FACE
from layout.job.trace.drawn import Bow, DrawnBox, DrawnPolyline, Disc, DrawingPlace, ReadDrawing, box_within
from layout.job.trace.joining import SLACK, Moved, joined
from layout.job.trace.layers import OPENINGS
from layout.job.trace.networks import framing_rectangle, nets
from layout.job.trace.outlines import is_rectangle
from layout.job.trace.walls import ELSEWHERE, WallRow, Stand, DrawnWall
from layout.units import Unit, inches, round_ticks

TRIMS = ("outer", "inner")
"""What ``--trim`` may say: which of two rectangles, one in the other, is the opening in the concrete."""
SAME = 0.5
"""A rectangle that fills less of another than this is a pane or a panel of it, not its trim."""
ROUND = 8
"""Fewest points of an outline that may be a circle."""


def rectangles(
    chains: Sequence[DrawnPolyline], sheet: ReadDrawing, moved: Moved,
) -> tuple[list[DrawnPolyline], list[Fault]]:
    """Return the outlines of openings of one kind: what is closed, and rectangles that lines cover in nets.

    An X, a mullion or a swing that touches such a rectangle belongs to it; it is counted.
    """
    closed = [chain for chain in chains if chain.closed]
    done, faults = joined(closed, moved)
    opened = [chain for chain in chains if not chain.closed]
    groups = nets(opened, moved)
    for net in [opened] if groups is None else groups:
        frame = framing_rectangle(net, moved) if len(net) > 1 and groups is not None else None
        if frame is None:
            found, wrong = joined(net, moved)
            done += found
            faults += wrong
            continue
        done.append(frame)
        inner = sum(any(not _on_frame(point, frame.box, moved) for point in chain.points)
                    or not _along(chain, frame.box, moved) for chain in net)
        if inner:
            sheet.notes[f"line inside an opening ({frame.role})"] += inner
    return done, faults


def _on_frame(point: tuple[float, float], box: DrawnBox, moved: Moved) -> bool:
    (x, y), (left, bottom, right, top) = point, box
    return min(abs(x - left), abs(x - right), abs(y - bottom), abs(y - top)) <= moved.near


def _along(chain: DrawnPolyline, box: DrawnBox, moved: Moved) -> bool:
    """Tell whether every side of a chain lies along the sides of a box."""
    left, bottom, right, top = box
    for (x0, y0), (x1, y1) in zip(chain.points, chain.points[1:]):
        plumb = abs(x0 - x1) <= moved.near and min(abs(x0 - left), abs(x0 - right)) <= moved.near
        level = abs(y0 - y1) <= moved.near and min(abs(y0 - bottom), abs(y0 - top)) <= moved.near
        if not (plumb or level):
            return False
    return True


def put_openings(stand: Stand, sheet: ReadDrawing, outlines: Iterable[DrawnPolyline], *, trim: str, unit: Unit) -> None:
    """Put each rectangle on its wall; what is drawn inside one, such as a sash, is counted and said.

    Parameters
    ----------
    stand
        The walls; faults are put there.
    sheet
        The drawing, for what is counted.
    outlines
        Outlines and lines on layers for openings.
    trim
        ``outer`` or ``inner``: which of two rectangles, one in the other, is the opening; empty to ask.
    unit
        The job's unit.
    """
    ordered = sorted(outlines, key=lambda outline: -_area(outline.box))
    for outline in ordered:
        wall = stand.under(outline.box)
        if wall is None:
            _homeless(stand, outline.place, outline.box)
            continue
        around = next((other for other in wall.openings if box_within(outline.box, other.box, slack=SLACK)), None)
        box = outline.closed and is_rectangle(outline.points)
        if around is not None:
            if box and _area(outline.box) >= SAME * _area(around.box):
                _trim(stand, sheet, wall, around, outline, trim=trim, unit=unit)
            else:
                sheet.notes[f"line inside an opening ({outline.role})"] += 1
        elif not box:
            stand.faults.append(outline.place.fault(
                "must be a closed rectangle with level and plumb sides, or lie inside one"))
        elif len(wall.openings) >= MAX_FEATURES_A_FACE:
            stand.faults.append(outline.place.fault(f"must be one of at most {MAX_FEATURES_A_FACE} openings on a wall"))
        else:
            wall.openings.append(outline)
    for disc in sheet.discs:
        if disc.role in OPENINGS:
            stand.faults.append(disc.place.fault(
                "must be a rectangle, not a circle, on a layer for openings", hint="draw it on a layer for sleeves"))


def _trim(
    stand: Stand, sheet: ReadDrawing, wall: DrawnWall, outer: DrawnPolyline, inner: DrawnPolyline, *, trim: str,
    unit: Unit,
) -> None:
    """Take the one of two rectangles that is said to be the opening, or ask which it is."""
    if all(abs(a - b) <= SLACK for a, b in zip(outer.box, inner.box)):
        sheet.notes[f"rectangle drawn twice ({inner.role})"] += 1
    elif trim == "outer":
        sheet.notes["inner rectangle of an opening"] += 1
    elif trim == "inner":
        wall.openings[wall.openings.index(outer)] = inner
        sheet.notes["outer rectangle of an opening"] += 1
    else:
        stand.faults.append(inner.place.fault(
            f"must be one opening; there are two rectangles, {_size(inner.box, unit)} within {_size(outer.box, unit)}",
            hint="which is the opening in the concrete? say --trim inner or --trim outer"))


def _size(box: DrawnBox, unit: Unit) -> str:
    return " × ".join(inches(round_ticks(size, "nearest"), unit) for size in (box[2] - box[0], box[3] - box[1]))


# --- sleeves -----------------------------------------------------------------------------------

def put_sleeves(stand: Stand, sheet: ReadDrawing, moved: Moved) -> None:
    """Put each circle on its wall; smaller circles inside it and centre marks are counted and said."""
    discs, rest = _circles(stand, sheet, moved)
    for disc in sorted(discs, key=lambda disc: -disc.radius):
        wall = stand.under(disc.box)
        if wall is None:
            _homeless(stand, disc.place, disc.box)
        elif any(math.dist(disc.centre, other.centre) + disc.radius <= other.radius + SLACK for other in wall.sleeves):
            sheet.notes["circle inside a sleeve"] += 1
        elif len(wall.sleeves) >= MAX_FEATURES_A_FACE:
            stand.faults.append(disc.place.fault(f"must be one of at most {MAX_FEATURES_A_FACE} sleeves on a wall"))
        else:
            wall.sleeves.append(disc)
    for chain in rest:
        _sleeve_line(stand, sheet, chain)
    for disc in sheet.discs:
        if disc.role in ("wall", "footing", "grade", "datum"):
            stand.faults.append(disc.place.fault(f"must not be a circle on a layer for {disc.role}",
                                                 hint="draw sleeves on a layer for sleeves"))


def _circles(stand: Stand, sheet: ReadDrawing, moved: Moved) -> tuple[list[Disc], list[DrawnPolyline]]:
    """Return the circles on layers for sleeves, those drawn as arcs or outlines among them, and what is none."""
    discs = [disc for disc in sheet.discs if disc.role == "sleeve"]
    rest: list[DrawnPolyline] = []
    groups: list[list[Bow]] = []
    for bow in sheet.bows:
        for group in groups:
            if math.dist(bow.centre, group[0].centre) <= SLACK and abs(bow.radius - group[0].radius) <= SLACK:
                group.append(bow)
                break
        else:
            groups.append([bow])
    for group in groups:
        turned = _turned(group)
        if turned >= 360.0 - math.degrees(moved.near / max(group[0].radius, moved.near)):
            discs.append(Disc("sleeve", group[0].place, group[0].centre, max(bow.radius for bow in group)))
        else:
            (x, y), r = group[0].centre, group[0].radius
            ends = tuple((x + r * math.cos(math.radians(turn)), y + r * math.sin(math.radians(turn)))
                         for bow in group for turn in (bow.start, bow.start + bow.sweep / 2, bow.start + bow.sweep))
            stand.faults += [] if _in_circle(discs, ends) else [group[0].place.fault(
                "must be a whole circle, on a layer for sleeves", got=f"arcs of {turned:.4g} degrees together")]
            if _in_circle(discs, ends):
                sheet.notes["arc inside a sleeve"] += 1
    lines, faults = joined([chain for chain in sheet.chains if chain.role == "sleeve"], moved)
    stand.faults += faults
    for chain in lines:
        disc = _as_circle(chain)
        if disc is None:
            rest.append(chain)
        else:
            discs.append(disc)
    return discs, rest


def _in_circle(discs: Sequence[Disc], points: Sequence[tuple[float, float]]) -> bool:
    return any(all(math.dist(point, disc.centre) <= disc.radius + SLACK for point in points) for disc in discs)


def _turned(bows: Sequence[Bow]) -> float:
    """Return how much of a circle its arcs cover together [degrees]."""
    spans = sorted((bow.start + turn, bow.start + bow.sweep + turn) for bow in bows for turn in (-360.0, 0.0))
    covered, at = 0.0, 0.0
    for start, end in spans:
        start, end = max(start, at), min(end, 360.0)
        if end > start:
            covered += end - start
            at = end
    return covered


def _as_circle(chain: DrawnPolyline) -> Disc | None:
    """Return an outline of many points as the circle it is within a tick; None when it is none."""
    if not chain.closed or len(chain.points) < ROUND:
        return None
    left, bottom, right, top = chain.box
    if abs((right - left) - (top - bottom)) > 2 * SLACK:
        return None
    centre = (left + right) / 2, (bottom + top) / 2
    away = [math.dist(point, centre) for point in chain.points]
    sides = max(math.dist(one, other) for one, other in zip(chain.points, (*chain.points[1:], chain.points[0])))
    if max(away) - min(away) > SLACK or sides > max(away):
        return None
    return Disc("sleeve", chain.place.there(centre), centre, max(away))


def _sleeve_line(stand: Stand, sheet: ReadDrawing, chain: DrawnPolyline) -> None:
    """Pass over a line inside a sleeve, or one through its centre."""
    box = chain.box
    middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    wall = stand.under(box)
    if wall is None:
        _homeless(stand, chain.place, box)
        return
    for disc in wall.sleeves:
        if math.dist(middle, disc.centre) <= SLACK or box_within(box, disc.box, slack=SLACK):
            sheet.notes["centre mark of a sleeve"] += 1
            return
    stand.faults.append(chain.place.fault("must be a circle, on a layer for sleeves",
                                          hint="draw rectangular holes on a layer for openings"))


def _homeless(stand: Stand, place: DrawingPlace, box: DrawnBox) -> None:
    """Tell what lies on no wall."""
    if not stand.lost(box):
        stand.faults.append(place.fault("must lie on a wall", hint=ELSEWHERE))


def _area(box: DrawnBox) -> float:
    return (box[2] - box[0]) * (box[3] - box[1])


def in_order(row: WallRow) -> None:
    """Put the openings and sleeves of each wall of a row from left to right."""
    for wall in row.walls:
        wall.openings.sort(key=lambda opening: (opening.box[0], opening.box[1]))
        wall.sleeves.sort(key=lambda disc: disc.centre)
