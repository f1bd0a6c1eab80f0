"""The dimension rows around an elevation: seams above, jambs, sleeves and steps below, levels beside, water."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from layout.drawing.chains import Note, keyed, level_column, station_row
from layout.drawing.facenotes import FaceNotes, Spans, face_origin
from layout.drawing.labels import first_free, inside_centres
from layout.drawing.model.blocks import SMALL
from layout.drawing.model.entities import Box, Dimension, Insert, Text
from layout.drawing.model.fonts import DESCENT, width
from layout.records import Face, FaceSpan, Profile
from layout.shapes import highest, lowest, value
from layout.units import tape


LONGEST = 40.0
"""Words longer than this in a row or a column are numbered and explained under the drawing [plotted mm]."""
LINE = SMALL * (1 + DESCENT) + 0.7
"""From one line of the key to the next [plotted mm]."""


def dimension_rows(notes: FaceNotes, spans: Spans, *, alone: bool) -> None:
    """Put the dimension rows around the wall."""
    one, view, unit = notes.one, notes.view, notes.plan.job.unit
    wall = view.wall
    left, right = spans[0][0].left, spans[-1][0].right
    tops = [highest(wall.wall_top, left, right), highest(wall.top, left, right)]
    if wall.grade:
        tops.append(highest(wall.grade, left, right))
    top = max(tops)
    bottom = min(min(lowest(wall.bottom, span.left, span.right),
                     lowest(wall.footing, span.left, span.right) - span.footing_depth) for span, _ in spans)
    seams = _seam_notes(notes, spans, left, right)
    row, deep = station_row(seams, level=top + 5 * one, one=one, low=left, high=view.right)
    notes.entities += row
    level = top + 5 * one + deep + 4 * one
    for span, _ in spans:
        ends = [(float(x), float(value(wall.wall_top, x, from_right=x == span.left))) for x in (span.left, span.right)]
        notes.entities.append(Dimension("dims", "across", ends[0], ends[1], (ends[0][0], level),
                                        tape(span.right - span.left, unit), SMALL))
        notes.entities.append(Text("text", ((span.left + span.right) / 2, level + 5.5 * one), span.name, 3.2, "centre",
                                   strong=True))
    for span, face in spans:
        notes.below += _feature_notes(notes, span, face)
    below = keyed(notes.below, notes.keyed, longest=LONGEST)
    row, deep = station_row(below, level=bottom - 5 * one, one=one, low=left, high=view.right)
    notes.entities += row
    _water(notes, spans, bottom - 5 * one - deep - 5 * one)
    _beside_wall(notes, spans, alone=alone)
    key = [f"[{number}] {words}" for number, words in enumerate(notes.keyed, start=1)]
    key += notes.flags
    for number, words in enumerate(key, start=1):
        y = bottom - (5 + 7) * one - deep - number * LINE * one
        notes.entities.append(Text("note", (float(left), y), words, SMALL))


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


def _beside_wall(notes: FaceNotes, spans: Spans, *, alone: bool) -> None:
    """Put levels to the left of the first face, height and folds to the right of the last."""
    one, view, unit = notes.one, notes.view, notes.plan.job.unit
    wall = view.wall
    (first, _), (last, _) = spans[0], spans[-1]
    levels: dict[int, list[str]] = defaultdict(list)
    for span, face in spans if alone else spans[:1]:
        for profile, word in ((face.footing, "footing"), (face.top, "top")):
            for number, (at, level) in enumerate(profile):
                if not any(level == other for _, other in profile[:number]):
                    levels[level].append(word if at == 0 else f"{word} at {tape(at, unit)}")
        for opening in face.openings:
            levels[opening.sill].append(f"{opening.tag} sill")
            levels[opening.sill + opening.height].append(f"{opening.tag} head")
        for sleeve in face.sleeves:
            levels[sleeve.elevation].append(sleeve.tag)
    column = []
    for y in sorted(levels):
        suffix = " " + ", ".join(levels[y])
        column.append(Note((float(first.left), float(y)), (float(first.left), 0.0), tape(y, unit) + suffix,
                           suffix=suffix))
    column = keyed(column, notes.keyed, longest=LONGEST)
    entities, _ = level_column(column, station=first.left - 7 * one, one=one)
    notes.entities += entities
    x = float(last.right)
    head, joint, end = (float(value(profile, last.right, from_right=False))
                        for profile in (wall.top, wall.footing, wall.bottom))
    start = max(x, float(view.right))
    for out, low in ((8, joint), (15, end)) if joint > end else ((8, joint),):
        notes.entities.append(Dimension("dims", "up", (x, low), (x, head), (start + out * one, (low + head) / 2),
                                        tape(round(head - low), unit), SMALL))
    folds = [(joint, "joint")]
    if joint > end:
        folds.append((end, f"sheet ends {tape(round(joint - end), unit)} on"))
    if last.ledge and wall.layer == "membrane":
        folds.insert(1, (end + wall.turn_down, f"ledge edge {tape(round(joint - end - wall.turn_down), unit)} on"))
    levels_right = [Note((x, height), (x, 0.0), text, suffix=text) for height, text in folds]
    entities, _ = level_column(levels_right, station=start + 21 * one, one=one)
    notes.entities += entities


def _water(notes: FaceNotes, spans: Spans, level: float) -> None:
    """Put a mark at each low and high point, and arrows the way water runs."""
    one, wall = notes.one, notes.view.wall
    left, right = spans[0][0].left, spans[-1][0].right
    pairs = zip(wall.slopes, (*wall.slopes[1:], *(wall.slopes[:1] if wall.closed else ())), strict=False)
    for (_, at, before), (_, _, after) in pairs:
        if before == after or not left <= at <= right:
            continue
        word, block = ("low point", "LOW") if before == "right" else ("high point", "HIGH")
        notes.places.take(Box(at - 3 * one, level - 2 * one, at + (4 + width(word, SMALL)) * one, level + 6 * one))
        notes.entities.append(Insert("water", block, (float(at), level)))
        notes.entities.append(Text("text", (float(at) + 2.5 * one, level), word, SMALL))
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
            notes.entities.append(Insert("water", arrow, (found[0], level)))
            notes.entities.append(Text("text", (found[0], level + 1.6 * one), "water", SMALL, "centre"))
