"""Labels on an elevation: tags, install numbers, cut lengths, openings and sleeves, each where there is room for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from layout.drawing.chains import Note
from layout.drawing.facenotes import FaceNotes, Spans, face_origin
from layout.drawing.labels import Holds, first_free, held_in, inside_centres
from layout.drawing.model.blocks import SMALL, TAG_HEIGHT, tag_written
from layout.drawing.model.entities import Box, Insert, Text, Vec
from layout.drawing.model.fonts import DESCENT, width
from layout.drawing.flags import flag_exceptions
from layout.drawing.revisions import mark_revisions
from layout.drawing.rows import row_notes
from layout.drawing.spots import spot
from layout.drawing.wallview import VisiblePiece
from layout.records import FaceSpan, Opening, Sleeve
from layout.shapes import lowest, polygons, rectangle, value
from layout.units import inches, tape

LINE = SMALL * (1 + DESCENT) + 0.6
"""From one line of small text to the next [plotted mm]."""
TAG_DEEP = TAG_HEIGHT * (1 + 2 * DESCENT) + 0.2
"""Room a tag takes up and down [plotted mm]."""
WIDE_TAG = 0.8
"""Share of a drop's clear width beyond which its tag reads upward: match lines must find a way between tags."""


def annotate(notes: FaceNotes, spans: Spans) -> FaceNotes:
    """Place every label and dimension of a face and return the notes.

    Parameters
    ----------
    notes
        The notes to fill.
    spans
        The face shown.
    """
    for span, face in spans:
        for opening in face.openings:
            _opening_label(notes, span, opening)
    for span, face in spans:
        for sleeve in face.sleeves:
            _sleeve_label(notes, span, sleeve)
    flag_exceptions(notes, spans)
    mark_revisions(notes, spans)
    for seen in notes.view.field:
        _going_on(notes, seen)
    for seen in notes.view.others:
        if _is_larger(notes, seen):
            _other_tag(notes, seen)
    for seen in notes.view.field:
        if _is_larger(notes, seen):
            _drop_labels(notes, seen)
    row_notes(notes, spans)
    return notes


# --- labels ------------------------------------------------------------------------------------

def _opening_label(notes: FaceNotes, span: FaceSpan, opening: Opening) -> None:
    """Write an opening's tag and size inside it, or beside it with a leader."""
    one, unit = notes.one, notes.plan.job.unit
    name, across, up = opening.tag or opening.kind, inches(opening.width, unit), inches(opening.height, unit)
    left, right = span.left + opening.left, span.left + opening.left + opening.width
    box = Box(left, opening.sill, right, opening.sill + opening.height)
    notes.places.take(box)
    short = across.removesuffix(" mm")  # a unit is said once
    wall_top = lowest(notes.view.wall.wall_top, left, right)  # stations stand above it
    ways = [[name, f"{short} × {up}"], [name, f"{short} ×", up]]
    for turned in (False, True):
        for lines in ways:
            wide, high = max(width(line, SMALL) for line in lines) * one, LINE * len(lines) * one
            wide, high = (high, wide) if turned else (wide, high)
            slack = box.height - high - 0.5 * one
            if wide + one > box.width or slack < 0:
                continue
            for share in (0.0, -0.2, 0.2, -0.38, 0.38):  # the membrane's edge may run across the middle
                x, y = box.centre[0], box.centre[1] + share * slack
                if share and y + high / 2 > wall_top:
                    continue
                if not notes.ink.crosses(Box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)):
                    _lines(notes, (x, y), lines, turned=turned)
                    return
    _beside(notes, box.centre, ways, reach=max(box.width, box.height) / 2)


def _sleeve_label(notes: FaceNotes, span: FaceSpan, sleeve: Sleeve) -> None:
    """Write a sleeve's tag and size beside it."""
    unit = notes.plan.job.unit
    across = f"Ø{inches(sleeve.diameter, unit)}"
    ways = [[f"{sleeve.tag} {across}".strip()], [sleeve.tag, across]]
    _beside(notes, (span.left + sleeve.at, sleeve.elevation), ways, reach=sleeve.diameter / 2)


def _beside(notes: FaceNotes, point: Vec, ways: Sequence[Sequence[str]], *, reach: float) -> None:
    """Write lines of text beside a point in the first way that fits, level or upright; else number them below."""
    one = notes.one
    sizes = [((max(width(line, SMALL) for line in lines) + 1.0) * one, (LINE * len(lines) + 0.5) * one)
             for lines in ways]
    notes.places.take(Box(point[0] - reach, point[1] - reach, point[0] + reach, point[1] + reach))
    found = spot(notes, point, [*sizes, *((high, wide) for wide, high in sizes)], reach=reach)
    if found is None:
        text = ", ".join(ways[0])
        notes.below.append(Note((point[0], point[1] - reach), face_origin(notes, point[0]), text, suffix=text))
        return
    way, centre, leader = found
    notes.entities += leader
    _lines(notes, centre, ways[way % len(ways)], turned=way >= len(ways))


def _lines(notes: FaceNotes, centre: Vec, lines: Sequence[str], *, turned: bool = False) -> None:
    """Write lines of text centred on a point."""
    pitch = LINE * notes.one
    for number, line in enumerate(lines):
        out = pitch * ((len(lines) - 1) / 2 - number)
        at = (centre[0] - out, centre[1]) if turned else (centre[0], centre[1] + out)
        notes.entities.append(Text("text", at, line, SMALL, "centre", "middle", turned))


def _drop_labels(notes: FaceNotes, seen: VisiblePiece) -> None:
    """Write a drop's tag, its install number in a circle and its cut length, one below the other if they fit so."""
    one, piece = notes.one, seen.piece
    room = held_in(notes.view.clear[piece.tag, seen.shift])
    number = str(piece.install) if piece.install and _carries_order(notes, seen) else ""
    length = tape(piece.length, notes.plan.job.unit)
    across, long = width(tag_written(piece.tag), TAG_HEIGHT, strong=True) + 0.6, width(length, SMALL) + 1.0
    turned = across > WIDE_TAG * room[1].width / one
    tag_wide, tag_high = (TAG_DEEP, across) if turned else (across, TAG_DEEP)
    circle = _circle_size(number)
    high = (tag_high + circle + long) * one
    wide = max(tag_wide, circle, LINE) * one
    line = _preferred(notes, room[1], high)
    centre = (room[1].centre[0], line - high / 2)
    centres = inside_centres(room[1], centre, 2 * one, wide=wide, high=high)
    at = first_free(notes.places, centres, wide=wide, high=high,
                    holds=lambda box: room[0](box) and not notes.lines_in(box))
    if at is None:
        _apart(notes, seen, room, number, length)
        return
    top = at[1] + high / 2
    labels = notes.placed[piece.tag, seen.shift]
    labels.append(Insert("tag", "TAG-UP" if turned else "TAG", (at[0], top - tag_high / 2 * one),
                         notes.values(piece)))
    if number:
        labels.append(_order(number, (at[0], top - (tag_high + circle / 2) * one)))
    labels.append(Text("text", (at[0], top - (tag_high + circle + long / 2) * one), length, SMALL, "centre", "middle",
                       True))


def _apart(notes: FaceNotes, seen: VisiblePiece, room: tuple[Holds, Box], number: str, length: str) -> None:
    """Write tag, number and length of a drop each where it fits: the tag first; what fits nowhere stands below."""
    one, tag = notes.one, seen.piece.tag
    prefer = (room[1].centre[0], room[1].top)
    labels = notes.placed[tag, seen.shift]
    wide, high = (width(tag_written(tag), TAG_HEIGHT, strong=True) + 0.6) * one, TAG_DEEP * one
    found = _somewhere(notes, room, prefer, {"TAG": (wide, high), "TAG-UP": (high, wide)})
    if found:
        block, at, deep = found
        labels.append(Insert("tag", block, at, notes.values(seen.piece)))
        prefer = at[0], at[1] - deep / 2
    else:
        foot = _foot(seen)
        notes.below.append(Note(foot, face_origin(notes, foot[0]), tag, tag=tag, values=notes.values(seen.piece)))
    rest: list[str] = []
    if number:
        size = _circle_size(number) * one
        found = _somewhere(notes, room, (prefer[0], prefer[1] - size / 2), {"": (size, size)})
        if found:
            labels.append(_order(number, found[1]))
            prefer = found[1][0], found[1][1] - size / 2
        else:
            rest.append(f"goes on {number}")
    long, deep = (width(length, SMALL) + 1.0) * one, (SMALL * (1 + 2 * DESCENT) + 0.2) * one
    found = _somewhere(notes, room, (prefer[0], prefer[1] - long / 2), {"up": (deep, long), "": (long, deep)})
    if found:
        labels.append(Text("text", found[1], length, SMALL, "centre", "middle", found[0] == "up"))
    else:
        rest.append(f"cut {length}")
    if rest:
        x, text = _foot(seen)[0], f"{tag} {', '.join(rest)}"
        wall = notes.view.wall  # the words name the piece: the leader need not cross the one below to reach it
        end = value(wall.bottom, min(max(round(x), 0), wall.length), from_right=x < wall.length)
        notes.below.append(Note((x, float(end)), face_origin(notes, x), text, suffix=text))


def _somewhere(
    notes: FaceNotes, room: tuple[Holds, Box], prefer: Vec, sizes: Mapping[str, tuple[float, float]],
) -> tuple[str, Vec, float] | None:
    """Find room for a label in one of its ways to stand: clear of every line if there is such room, else anywhere.

    Returns the way, the middle and the height of the room, which is taken; None when it fits nowhere.
    """
    holds, box = room

    def clear(each: Box) -> bool:
        return holds(each) and not notes.lines_in(each)

    for test in (clear, holds):
        for way, (wide, high) in sizes.items():
            centres = inside_centres(box, prefer, 2 * notes.one, wide=wide, high=high)
            at = first_free(notes.places, centres, wide=wide, high=high, holds=test)
            if at:
                return way, at, high
    return None


def _circle_size(number: str) -> float:
    """Return the room an install number takes with its circle [plotted mm]; none when there is no number."""
    return 0.0 if not number else 6.4 if len(number) < 3 else 8.4


def _order(number: str, at: Vec) -> Insert:
    return Insert("tag", "ORDER" if len(number) < 3 else "ORDER-WIDE", at, (("ORDER", number),))


def _carries_order(notes: FaceNotes, seen: VisiblePiece) -> bool:
    """Tell whether this piece is the one of its drop that bears the install number."""
    return notes.numbered.get(seen.piece.drop) == seen.piece.tag


def _going_on(notes: FaceNotes, seen: VisiblePiece) -> None:
    """Mark a drop that goes on around the corner at each end of the face it crosses."""
    view, one = notes.view, notes.one
    left, bottom, right, top = seen.whole.bounds
    for edge, beyond, name, step in ((view.left, left < view.left - 1, "ON-LEFT", 2.5),
                                     (view.right, right > view.right + 1, "ON-RIGHT", -2.5)):
        if not beyond:
            continue
        holds, box = held_in(seen.part)
        column = Box(edge + step * one, bottom, edge + step * one, top)
        at = first_free(notes.places, inside_centres(column, (edge, (bottom + top) / 2), 3 * one), wide=3.4 * one,
                        high=3.4 * one, holds=holds)
        if at:
            notes.placed[seen.piece.tag, seen.shift].append(Insert("tag", name, at))


def _other_tag(notes: FaceNotes, seen: VisiblePiece) -> None:
    """Write the tag of a collar inside it; that of anything else goes to the row below, at the end of a leader."""
    one, tag = notes.one, seen.piece.tag
    wide, high = (width(tag_written(tag), SMALL) + 0.8) * one, (SMALL * (1 + 2 * DESCENT) + 0.2) * one
    values = notes.values(seen.piece)
    if seen.piece.kind in ("collar", "opening corner", "sleeve patch"):
        holds, box = held_in(seen.part)
        for block, w, h in (("MARK", wide, high), ("MARK-UP", high, wide)):
            centres = inside_centres(box, (box.centre[0], box.top), one, wide=w, high=h)
            at = first_free(notes.places, centres, wide=w, high=h,
                            holds=lambda each: holds(each) and not notes.lines_in(each))
            if at:
                notes.placed[tag, seen.shift].append(Insert("tag", block, at, values))
                return
        corner = (seen.part.bounds[2] - 0.5 * one, seen.part.bounds[3] - 0.5 * one)
        inside = (corner[0] - one, corner[1] - one)
        if not holds(Box(*inside, *corner)):  # a collar that openings or the line have cut
            middle = seen.part.representative_point()
            inside = corner = (middle.x, middle.y)
        found = spot(notes, corner, [(wide, high), (high, wide)], reach=0.0)
        if found:
            block = ("MARK", "MARK-UP")[found[0]]
            notes.placed[tag, seen.shift] += [*found[2], Insert("tag", block, inside, values, away=found[1])]
            return
    foot = _foot(seen)
    notes.below.append(Note(foot, face_origin(notes, foot[0]), tag, tag=tag, values=values))


def _is_larger(notes: FaceNotes, seen: VisiblePiece) -> bool:
    """Tell whether this is the part of a piece that bears its tag: the largest on any face, the first of equals."""
    view = notes.view
    if not seen.goes_on:
        return True
    reach = seen.whole.bounds[0] - seen.shift, seen.whole.bounds[2] - seen.shift
    parts: list[tuple[float, float, int]] = []
    for span in view.wall.faces:
        for shift in (0, -view.wall.length) if view.wall.closed else (0,):
            left, right = span.left - shift, span.right - shift
            if left < reach[1] and reach[0] < right:
                low, high = left + seen.shift, right + seen.shift
                area = seen.whole.intersection(rectangle(low, seen.whole.bounds[1], high, seen.whole.bounds[3])).area
                parts.append((round(area), -left, shift))
    best = max(parts)
    return view.left == -best[1] + best[2] and seen.shift == best[2]


def _preferred(notes: FaceNotes, box: Box, high: float) -> float:
    """Return the elevation at which labels of a given height would best begin: the same all along the face."""
    bottom, top = notes.reach
    line = max(bottom + 0.66 * (top - bottom), bottom + high + 4 * notes.one)
    if not box.bottom + high < line < box.top:
        line = box.bottom + max(0.66 * box.height, min(high, box.height))
    return line


def _foot(seen: VisiblePiece) -> Vec:
    """Return a point inside the lower end of what is seen of a piece."""
    part = max(polygons(seen.part), key=lambda each: each.area)
    left, bottom, right, top = part.bounds
    holds, _ = held_in(part)
    for share in (0.5, 0.3, 0.7):
        x = left + (right - left) * share
        line = part.intersection(rectangle(x - 1, bottom, x + 1, top))
        if line.area:
            y = line.bounds[1] + min(16.0, (line.bounds[3] - line.bounds[1]) / 2)
            if holds(Box(x - 0.1, y - 0.1, x + 0.1, y + 0.1)):  # not so where the edge of a hole passes by
                return x, y
    point = part.representative_point()
    return point.x, point.y
