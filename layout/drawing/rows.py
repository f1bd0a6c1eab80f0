"""The dimension rows around an elevation: seams above, jambs, sleeves and steps below, levels beside, water."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Sequence

from layout.drawing.chains import Note, keyed, level_column, station_row
from layout.drawing.facenotes import FaceNotes, Spans, face_origin
from layout.drawing.labels import first_free, inside_centres
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Box, Dimension, Entity, Insert, Text
from layout.drawing.model.fonts import DESCENT, shortened, width, wrapped
from layout.drawing.model.plain import GAP
from layout.drawing.wallview import WallView
from layout.records import MEMBRANE, Face, FaceSpan, Plan, Profile, Wall
from layout.shapes import highest, lowest, value
from layout.units import tape


LONGEST = 40.0
"""Words longer than this in a row or a column are numbered and explained under the drawing [plotted mm]."""
KEY = 120.0
"""A line of the key is at least as long before it is broken [plotted mm]."""
LINE = SMALL * (1 + DESCENT) + 0.7
"""From one line of the key to the next [plotted mm]."""


def row_notes(notes: FaceNotes, spans: Spans) -> None:
    """Note what stands in the rows above and below a face: stations of seams; of jambs, sleeves and steps; tags.

    Parameters
    ----------
    notes
        The notes of the face; words too long for a row are numbered in its key.
    spans
        The face shown.
    """
    left, right = spans[0][0].left, spans[-1][0].right
    notes.above += _seam_notes(notes, spans, left, right)
    for span, face in spans:
        notes.below += _feature_notes(notes, span, face)
    notes.below = keyed(notes.below, notes.keyed, longest=LONGEST, before=notes.keys_before)


def dimension_rows(notes: FaceNotes, spans: Spans) -> list[Entity]:
    """Return the dimension rows above and below the wall, within its width: seams, faces; jambs, sleeves, steps; water.

    Parameters
    ----------
    notes
        The notes of the elevation, what stands in its rows included.
    spans
        The faces shown, left to right.
    """
    one, view, unit = notes.one, notes.view, notes.plan.job.unit
    wall = view.wall
    left, right = spans[0][0].left, spans[-1][0].right
    top = max(_tops(wall, *_in_line(wall, left, right)))
    bottom = min(min(lowest(wall.bottom, span.left, span.right),
                     lowest(wall.footing, span.left, span.right) - span.footing_depth) for span, _ in spans)
    entities, _ = station_row(notes.above, level=top + 5 * one, one=one, low=left, high=view.right)
    level = top + 5 * one + notes.row_deep * one + 4 * one
    for span, _ in spans:
        ends = [(float(x), level - 3 * one) for x in (span.left, span.right)]  # above the row of seams
        entities.append(Dimension("dims", "across", ends[0], ends[1], (ends[0][0], level),
                                  tape(span.right - span.left, unit), SMALL))
        name = shortened(span.name, 3.2, max((span.right - span.left) / one, LONGEST), strong=True)
        entities.append(Text("text", ((span.left + span.right) / 2, level + 5.5 * one), name, 3.2, "centre",
                             strong=True))
    row, deep = station_row(notes.below, level=bottom - 5 * one, one=one, low=left, high=view.right)
    return [*entities, *row, *_water(notes, spans, bottom - 5 * one - deep - 5 * one)]


def _in_line(wall: Wall, left: int, right: int) -> tuple[int, int]:
    """Return the ends of the flat stretch of wall that some faces lie on: their rows stand at one height."""
    faces = list(wall.faces)
    first = next(number for number, span in enumerate(faces) if span.left == left)
    last = next(number for number, span in enumerate(faces) if span.right == right)
    while first and faces[first - 1].corner == "none":
        first -= 1
    while last + 1 < len(faces) and faces[last].corner == "none":
        last += 1
    return faces[first].left, faces[last].right


def _tops(wall: Wall, left: int, right: int) -> list[float]:
    """Return the highest of what is drawn at the top of a stretch of wall."""
    tops: list[float] = [highest(wall.wall_top, left, right), highest(wall.top, left, right)]
    return [*tops, highest(wall.grade, left, right)] if wall.grade else tops


def deepest_row(plan: Plan, wall: Wall) -> float:
    """Return the depth of the deepest row of seams on a run: all its faces' rows end at one height [plotted mm].

    Parameters
    ----------
    plan
        The plan.
    wall
        The run, for one layer.
    """
    longest = 0.0
    starts = [span.left for span in wall.faces]
    for seam in plan.seams:
        if (seam.run, seam.layer) == (wall.run, wall.layer):
            x = (seam.right_edge if seam.over == seam.left else seam.left_edge) % wall.length
            along = x - starts[bisect_right(starts, x) - 1]
            text = tape(round(along), plan.job.unit) + (" closing seam" if seam.tuck else "")
            longest = max(longest, width(text, SMALL))
    return longest + GAP


def _seam_notes(notes: FaceNotes, spans: Spans, left: int, right: int) -> Iterator[Note]:
    """Yield the station of each seam's edge on top, from the left end of its face."""
    wall, unit = notes.view.wall, notes.plan.job.unit
    for seam in notes.plan.seams:
        if (seam.run, seam.layer) != (wall.run, wall.layer):
            continue
        x = (seam.right_edge if seam.over == seam.left else seam.left_edge) % wall.length
        if left <= x < right or (x == right and not wall.closed):
            origin = face_origin(notes, x if x < right else x - 1)
            suffix = " closing seam" if seam.tuck else ""
            head = value(wall.top, x, from_right=True)
            if any(span.left + o.left <= x <= span.left + o.left + o.width and o.sill + o.height > head
                   for span, face in spans for o in face.openings):
                head = value(wall.wall_top, x, from_right=True)  # the opening reaches the membrane line here
            yield Note((float(x), float(head)), origin,
                       tape(round(x - origin[0]), unit) + suffix, suffix=suffix)


def _feature_notes(notes: FaceNotes, span: FaceSpan, face: Face) -> Iterator[Note]:
    """Yield the stations of jambs, sleeve centres and steps of a face."""
    wall, unit = notes.view.wall, notes.plan.job.unit
    features: list[tuple[int, str]] = []
    for opening in face.openings:
        features += [(opening.left, f" {opening.tag} left"), (opening.left + opening.width, f" {opening.tag} right")]
    features += [(sleeve.at, f" {sleeve.tag}") for sleeve in face.sleeves]
    features += [(x, " step") for x in _steps(face.footing)] + [(x, " top step") for x in _steps(face.top)]
    for at, suffix in features:
        x = span.left + at
        sides = (False, True) if 0 < x < wall.length else (x == 0,)
        foot = float(min(value(wall.bottom, x, from_right=side) for side in sides))
        yield Note((float(x), foot), face_origin(notes, span.left + 1), tape(at, unit) + suffix, suffix=suffix)


def _steps(profile: Profile) -> list[int]:
    """Return the stations of a profile's steps."""
    return [a[0] for a, b in zip(profile, profile[1:]) if a[0] == b[0] and a[1] != b[1]]


def levels(
    plan: Plan, wall: Wall, spans: Spans, *, one: float, key: list[str], before: int = 0,
) -> list[Entity]:
    """Return the column of levels to the left of the first of some faces.

    Parameters
    ----------
    plan
        The plan.
    wall, spans
        The run, and the faces whose levels are told.
    one
        Ticks that plot as one millimetre.
    key
        What numbers stand for; added to.
    before
        How many numbers are given out already elsewhere.
    """
    unit, first = plan.job.unit, spans[0][0]
    found: dict[int, list[str]] = defaultdict(list)
    for span, face in spans:
        own = f" {span.name}" if len(spans) > 1 else ""
        for profile, word in ((face.footing, "footing"), (face.top, "top")):
            for number, (at, level) in enumerate(profile):
                if not any(level == other for _, other in profile[:number]):
                    found[level].append(word + own if at == 0 else f"{word}{own} at {tape(at, unit)}")
        for opening in face.openings:
            found[opening.sill].append(f"{opening.tag} sill")
            found[opening.sill + opening.height].append(f"{opening.tag} head")
        for sleeve in face.sleeves:
            found[sleeve.elevation].append(sleeve.tag)
    column = []
    for y in sorted(found):
        suffix = " " + ", ".join(_shared(found[y]))
        column.append(Note((float(first.left), float(y)), (float(first.left), 0.0), tape(y, unit) + suffix,
                           suffix=suffix))
    column = keyed(column, key, longest=LONGEST, before=before)
    entities, _ = level_column(column, station=first.left - 7 * one, one=one)
    return entities


def _shared(words: Sequence[str]) -> list[str]:
    """Return words with what several faces share said once: footing, without their names."""
    for word in ("footing", "top"):
        own = [each for each in words if each.split()[0] == word and " at " not in each]
        if len(own) > 1:
            words = [word, *(each for each in words if each not in own)]
    return list(words)


def heights(plan: Plan, view: WallView, span: FaceSpan, *, one: float, clear: float = 0.0) -> list[Entity]:
    """Return what stands to the right of a face: the height of its sheet, and the folds below the joint.

    Parameters
    ----------
    plan
        The plan.
    view
        What is seen.
    span
        The last face shown.
    one
        Ticks that plot as one millimetre.
    clear
        Where the words of that face end, when they go on past it [ticks].
    """
    unit, wall = plan.job.unit, view.wall
    x = float(span.right)
    head, joint, end = (float(value(profile, span.right, from_right=False))
                        for profile in (wall.top, wall.footing, wall.bottom))
    start = max(x, float(view.right), clear)
    entities: list[Entity] = []
    for out, low in ((15, end), (8, joint)) if joint > end else ((8, joint),):  # a blank hides what comes before
        entities.append(Dimension("dims", "up", (start, low), (start, head), (start + out * one, (low + head) / 2),
                                  tape(round(head - low), unit), SMALL))
    folds = [(joint, "joint")]
    if joint > end:
        folds.append((end, f"sheet ends {tape(round(joint - end), unit)} on"))
    if span.ledge and wall.layer == MEMBRANE:
        folds.insert(1, (end + wall.turn_down, f"ledge edge {tape(round(joint - end - wall.turn_down), unit)} on"))
    column, _ = level_column([Note((start, height), (start, 0.0), text, suffix=text) for height, text in folds],
                             station=start + 21 * one, one=one)
    return entities + column


def key_lines(lines: Sequence[str], *, left: float, top: float, room: float, one: float) -> list[Entity]:
    """Return what numbers and flags stand for, in columns when they are many.

    Parameters
    ----------
    lines
        What they say.
    left, top
        Upper left corner [ticks].
    room
        Room across [ticks].
    one
        Ticks that plot as one millimetre.
    """
    lines = [line for words in lines for line in wrapped(words, SMALL, max(room / one, KEY))]
    wide = max((width(words, SMALL) for words in lines), default=0.0) * one + 6 * one
    columns = max(1, min(math.floor(room / wide), math.ceil(len(lines) / 4)))
    deep = math.ceil(len(lines) / columns)
    return [Text("note", (left + number // deep * wide, top - (number % deep + 1) * LINE * one), words, SMALL)
            for number, words in enumerate(lines)]


def _water(notes: FaceNotes, spans: Spans, level: float) -> Iterator[Entity]:
    """Yield a mark at each low and high point, and arrows the way water runs."""
    one, wall = notes.one, notes.view.wall
    left, right = spans[0][0].left, spans[-1][0].right
    pairs = zip(wall.slopes, (*wall.slopes[1:], *(wall.slopes[:1] if wall.closed else ())), strict=False)
    for (_, at, before), (_, _, after) in pairs:
        if before == after or not left <= at <= right:
            continue
        word, block = ("low point", "LOW") if before == "right" else ("high point", "HIGH")
        wide = (width(word, SMALL) + 2.5) * one
        yield Insert("water", block, (float(at), level))
        ways = [(back, down, out) for out in (False, True) for down in (0, 1, 2, 3) for back in (False, True)]
        for back, down, out in ways:  # the words stay on this face while they can, and off those of another point
            ends = (at - wide - one, at - 2 * one) if back else (at + 2 * one, at + wide + one)
            foot = level - 5 * down * one
            room = Box(ends[0], foot - 1.5 * one, ends[1], foot + 4.5 * one)
            if (out or left <= ends[0] and ends[1] <= right) and notes.places.free(room):
                break
        notes.places.take(room)
        notes.places.take(Box(at - 2 * one, level - 1.5 * one, at + 2 * one, level + 4.5 * one))
        yield Text("text", (at + (-2.5 if back else 2.5) * one, foot), word, SMALL, "right" if back else "left")
    stretches = [(max(start, span.left), min(end, span.right), side) for span, _ in spans
                 for start, end, side in wall.slopes]
    for low, high, side in stretches:
        room = Box(low + 9 * one, level + one, high - 9 * one, level + one)
        if room.width < 0:
            continue
        found = first_free(notes.places, inside_centres(room, room.centre, 3 * one), wide=18 * one, high=5 * one,
                           holds=lambda box: True)
        if found:
            arrow = "FLOW-RIGHT" if side == "right" else "FLOW-LEFT"
            yield Insert("water", arrow, (found[0], level))
            yield Text("text", (found[0], level + 2.4 * one), "water", SMALL, "centre")
