"""What is written on an elevation: labels where there is room for them, dimension rows around the wall."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from layout.drawing.chains import Note, level_column, station_row
from layout.drawing.labels import Holds, Places, around, first_free, inside_centres
from layout.drawing.model.blocks import SMALL, TAG_HEIGHT
from layout.drawing.model.entities import Box, Dimension, Entity, Insert, Line, Text, Vec
from layout.drawing.model.fonts import DESCENT, width
from layout.drawing.wallview import Seen, Shape, WallView
from layout.records import Face, FaceSpan, Opening, Plan, Profile, Sleeve
from layout.shapes import highest, lowest, polygons, rectangle, value
from layout.units import inches, tape

Spans = Sequence[tuple[FaceSpan, Face]]
LINE = SMALL * (1 + DESCENT) + 0.6
"""From one line of small text to the next [plotted mm]."""


@dataclass
class FaceNotes:
    """The labels and dimensions of one elevation as they are being placed.

    Parameters
    ----------
    plan
        The plan.
    view
        What is seen.
    one
        Ticks that plot as one millimetre.
    """

    plan: Plan
    view: WallView
    one: float
    entities: list[Entity] = field(default_factory=list)
    keyed: list[str] = field(default_factory=list)
    rolls: dict[str, str] = field(default_factory=dict)
    _labels: dict[tuple[str, int], list[Entity]] = field(default_factory=lambda: defaultdict(list))
    _below: list[Note] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.places = Places(12 * self.one)
        for cutting in self.plan.cuttings:
            for roll in cutting.rolls:
                self.rolls.update((cut.piece, roll.tag) for cut in roll.cuts)
        self.laps_of: dict[str, list[Shape]] = defaultdict(list)
        for lap in self.view.laps:
            self.laps_of[lap.over].append(lap.shape)
            self.laps_of[lap.under].append(lap.shape)
        self.lines = [(lap.bounds, lap.shape) for lap in self.view.laps]
        self.lines += [(seen.part.bounds, seen.part.boundary) for seen in self.view.others
                       if seen.piece.kind in ("collar", "opening corner")]
        self.same_tag: dict[str, list[Seen]] = defaultdict(list)
        for seen in (*self.view.field, *self.view.others):
            self.same_tag[seen.piece.tag].append(seen)
        self.largest: dict[str, Seen] = {}
        for seen in self.view.field:
            best = self.largest.get(seen.piece.drop)
            if best is None or seen.whole.area > best.whole.area:
                self.largest[seen.piece.drop] = seen
        unit = self.plan.job.unit
        self.longest = max((width(tape(seen.piece.length, unit), SMALL) for seen in self.view.field), default=0.0)

    def lines_in(self, box: Box) -> bool:
        """Tell whether a lap, the edge of a collar, the membrane line or the grade line crosses a box."""
        area = rectangle(box.left, box.bottom, box.right, box.top)
        for bounds, shape in self.lines:
            left, bottom, right, top = bounds
            near = left < box.right and box.left < right and bottom < box.top and box.bottom < top
            if near and shape.intersects(area):
                return True
        wall = self.view.wall
        low, high = max(round(box.left), 0), min(round(box.right), wall.length)
        if low >= high:
            return False
        gap = self.one / 2
        if lowest(wall.top, low, high) - gap < box.top:
            return True  # above the membrane line stand the leaders of the stations
        return bool(wall.grade and lowest(wall.grade, low, high) - gap < box.top
                    and box.bottom < highest(wall.grade, low, high) + gap)

    def labels(self, seen: Seen) -> list[Entity]:
        """Return the labels of a piece, as far as they were placed here."""
        return self._labels.get((seen.piece.tag, seen.shift), [])


def annotate(notes: FaceNotes, spans: Spans, *, alone: bool) -> FaceNotes:
    """Place every label and dimension of an elevation and return the notes.

    Parameters
    ----------
    notes
        The notes to fill.
    spans
        The faces shown, left to right.
    alone
        One face by itself: levels beside it, and marks on drops that go on around a corner.
    """
    for span, face in spans:
        for opening in face.openings:
            _opening_label(notes, span, opening)
    for span, face in spans:
        for sleeve in face.sleeves:
            _sleeve_label(notes, span, sleeve, levels=not alone)
    for seen in notes.view.field:
        if alone:
            _going_on(notes, seen)
        if _is_larger(notes, seen):
            _drop_labels(notes, seen)
    for seen in notes.view.others:
        _other_tag(notes, seen)
    _rows(notes, spans, alone=alone)
    return notes


# --- labels ------------------------------------------------------------------------------------

def _opening_label(notes: FaceNotes, span: FaceSpan, opening: Opening) -> None:
    """Write an opening's tag and size inside it, or beside it with a leader."""
    one, unit = notes.one, notes.plan.job.unit
    name, across, up = opening.tag or opening.kind, inches(opening.width, unit), inches(opening.height, unit)
    left, right = span.left + opening.left, span.left + opening.left + opening.width
    box = Box(left, opening.sill, right, opening.sill + opening.height)
    notes.places.take(box)
    for lines in ([name, f"{across} × {up}"], [name, f"{across} ×", up]):
        wide, high = max(width(line, SMALL) for line in lines) * one, LINE * len(lines) * one
        if wide + 1.5 * one <= box.width and high + 0.5 * one <= box.height:
            _lines(notes, box.centre, lines)
            return
    _beside(notes, box.centre, [name, f"{across} × {up}"], reach=max(box.width, box.height) / 2)


def _sleeve_label(notes: FaceNotes, span: FaceSpan, sleeve: Sleeve, *, levels: bool) -> None:
    """Write a sleeve's tag and size beside it."""
    unit = notes.plan.job.unit
    lines = [f"{sleeve.tag} Ø{inches(sleeve.diameter, unit)}".strip()]
    if levels:
        lines.append(f"at {tape(sleeve.elevation, unit)}")
    _beside(notes, (span.left + sleeve.at, sleeve.elevation), lines, reach=sleeve.diameter / 2)


def _beside(notes: FaceNotes, point: Vec, lines: Sequence[str], *, reach: float) -> None:
    """Write lines of text beside a point, with a leader when they are far from it; else number them below."""
    one, view = notes.one, notes.view
    wide = (max(width(line, SMALL) for line in lines) + 1.0) * one
    high = (LINE * len(lines) + 0.5) * one
    notes.places.take(Box(point[0] - reach, point[1] - reach, point[0] + reach, point[1] + reach))
    found = _spot(notes, point, wide=wide, high=high, reach=reach)
    if found is None:
        text = ", ".join(lines)
        notes._below.append(Note((point[0], point[1] - reach), _origin(notes, point[0]), text))
        return
    centre, leader = found
    notes.entities += leader
    _lines(notes, centre, lines)


def _spot(notes: FaceNotes, point: Vec, *, wide: float, high: float, reach: float) -> tuple[Vec, list[Line]] | None:
    """Find room for a box near a point, and the leader to it when it is not right beside; take the room.

    Lap bands and the grade line are kept clear of when that is possible.
    """
    view, one = notes.view, notes.one
    low, top = lowest(view.wall.bottom, *_within(view)), highest(view.wall.wall_top, *_within(view))
    limits = Box(view.left, low, view.right, top)
    for strict in (True, False):
        for ring in range(1, 16):
            out = reach + ring * 1.5 * one
            for centre in around(point, wide=wide, high=high, clear=out, rings=1):
                box = Box(centre[0] - wide / 2, centre[1] - high / 2, centre[0] + wide / 2, centre[1] + high / 2)
                if not (limits.holds(box) and notes.places.free(box)) or strict and notes.lines_in(box):
                    continue
                start = (min(max(point[0], box.left), box.right), min(max(point[1], box.bottom), box.top))
                leader = Line("leader", _toward(point, start, reach), start)
                if ring > 2 and not notes.places.clear_line(_toward(point, start, reach + one), start):
                    continue
                notes.places.take(box)
                return centre, [leader] if ring > 2 else []
    return None


def _toward(point: Vec, to: Vec, reach: float) -> Vec:
    """Return the point a distance from one point toward another."""
    dx, dy = to[0] - point[0], to[1] - point[1]
    length = max((dx * dx + dy * dy) ** 0.5, 1e-9)
    return point[0] + dx / length * reach, point[1] + dy / length * reach


def _lines(notes: FaceNotes, centre: Vec, lines: Sequence[str]) -> None:
    """Write lines of text centred on a point."""
    pitch = LINE * notes.one
    top = centre[1] + pitch * (len(lines) - 1) / 2
    for number, line in enumerate(lines):
        notes.entities.append(Text("text", (centre[0], top - number * pitch), line, SMALL, "centre", "middle"))


def _drop_labels(notes: FaceNotes, seen: Seen) -> None:
    """Write a drop's tag, its install number in a circle and its cut length, one below the other if they fit so."""
    one, piece = notes.one, seen.piece
    room = _clear(notes, seen)
    number = str(piece.install) if piece.install and _carries_order(notes, seen) else ""
    length = tape(piece.length, notes.plan.job.unit)
    tag_high, long = TAG_HEIGHT * (1 + DESCENT) + 1.0, width(length, SMALL) + 1.0
    circle = _circle_size(number)
    high = (tag_high + circle + long) * one
    wide = max(width(piece.tag, TAG_HEIGHT, strong=True) + 0.6, circle, LINE) * one
    line = _preferred(notes, room[1], high)
    centre = (room[1].centre[0], line - high / 2)
    at = None
    for holds in (lambda box: room[0](box) and not notes.lines_in(box), room[0]):
        at = at or first_free(notes.places, inside_centres(room[1], centre, 2 * one), wide=wide, high=high, holds=holds)
    if at is None:
        _apart(notes, seen, room, number, length)
        return
    top = at[1] + high / 2
    labels = notes._labels[piece.tag, seen.shift]
    labels.append(Insert("tag", "TAG", (at[0], top - tag_high / 2 * one), (("TAG", piece.tag),)))
    if number:
        labels.append(_order(number, (at[0], top - (tag_high + circle / 2) * one)))
    labels.append(Text("text", (at[0], top - (tag_high + circle + long / 2) * one), length, SMALL, "centre", "middle",
                       True))


def _apart(notes: FaceNotes, seen: Seen, room: tuple[Holds, Box], number: str, length: str) -> None:
    """Write tag, number and length of a drop each where it fits: the tag first, at the end of a leader if need be."""
    one, tag = notes.one, seen.piece.tag
    holds, box = room
    prefer = (box.centre[0], _preferred(notes, box, 0.0))
    labels = notes._labels[tag, seen.shift]
    wide, high = (width(tag, TAG_HEIGHT, strong=True) + 0.6) * one, (TAG_HEIGHT * (1 + DESCENT) + 1.0) * one
    for block, w, h in (("TAG", wide, high), ("TAG-UP", high, wide)):
        at = first_free(notes.places, inside_centres(box, prefer, 2 * one), wide=w, high=h, holds=holds)
        if at:
            labels.append(Insert("tag", block, at, (("TAG", tag),)))
            prefer = at[0], at[1] - h / 2
            break
    else:
        foot = _foot(seen)
        notes._below.append(Note(foot, _origin(notes, foot[0]), tag, tag=tag))
    if number:
        size = _circle_size(number) * one
        centres = inside_centres(box, (prefer[0], prefer[1] - size / 2), 2 * one)
        at = first_free(notes.places, centres, wide=size, high=size, holds=holds)
        if at:
            labels.append(_order(number, at))
            prefer = at[0], at[1] - size / 2
    long, deep = (width(length, SMALL) + 1.0) * one, (SMALL * (1 + DESCENT) + 0.6) * one
    for turned, w, h in ((True, deep, long), (False, long, deep)):
        centres = inside_centres(box, (prefer[0], prefer[1] - h / 2), 2 * one)
        at = first_free(notes.places, centres, wide=w, high=h, holds=holds)
        if at:
            labels.append(Text("text", at, length, SMALL, "centre", "middle", turned))
            return


def _circle_size(number: str) -> float:
    """Return the room an install number takes with its circle [plotted mm]; none when there is no number."""
    return 0.0 if not number else 6.4 if len(number) < 3 else 8.4


def _order(number: str, at: Vec) -> Insert:
    return Insert("tag", "ORDER" if len(number) < 3 else "ORDER-WIDE", at, (("ORDER", number),))


def _carries_order(notes: FaceNotes, seen: Seen) -> bool:
    """Tell whether this piece is the one of its drop that bears the install number: the largest."""
    return seen.piece.tag == notes.largest[seen.piece.drop].piece.tag


def _going_on(notes: FaceNotes, seen: Seen) -> None:
    """Mark a drop that goes on around the corner at each end of the face it crosses."""
    view, one = notes.view, notes.one
    left, bottom, right, top = seen.whole.bounds
    for edge, beyond, name, step in ((view.left, left < view.left - 1, "ON-LEFT", 2.5),
                                     (view.right, right > view.right + 1, "ON-RIGHT", -2.5)):
        if not beyond:
            continue
        holds, box = _within_part(seen.part)
        column = Box(edge + step * one, bottom, edge + step * one, top)
        at = first_free(notes.places, inside_centres(column, (edge, (bottom + top) / 2), 3 * one), wide=3.4 * one,
                        high=3.4 * one, holds=holds)
        if at:
            notes._labels[seen.piece.tag, seen.shift].append(Insert("tag", name, at))


def _other_tag(notes: FaceNotes, seen: Seen) -> None:
    """Write the tag of a collar inside it; that of anything else goes to the row below, at the end of a leader."""
    if not _is_larger(notes, seen):
        return
    one, tag = notes.one, seen.piece.tag
    wide, high = (width(tag, SMALL) + 0.8) * one, (SMALL * (1 + DESCENT) + 0.6) * one
    if seen.piece.kind in ("collar", "opening corner"):
        holds, box = _within_part(seen.part)
        for block, w, h in (("MARK", wide, high), ("MARK-UP", high, wide)):
            at = first_free(notes.places, inside_centres(box, (box.centre[0], box.top), one), wide=w, high=h, holds=holds)
            if at:
                notes._labels[tag, seen.shift].append(Insert("tag", block, at, (("TAG", tag),)))
                return
        corner = (seen.part.bounds[2] - 0.5 * one, seen.part.bounds[3] - 0.5 * one)
        found = _spot(notes, corner, wide=wide, high=high, reach=0.0)
        if found:
            inside = (corner[0] - one, corner[1] - one)
            notes._labels[tag, seen.shift] += [*found[1], Insert("tag", "MARK", inside, (("TAG", tag),), away=found[0])]
            return
    foot = _foot(seen)
    notes._below.append(Note(foot, _origin(notes, foot[0]), tag, tag=tag))


def _is_larger(notes: FaceNotes, seen: Seen) -> bool:
    """Tell whether this is the part of a piece that bears its tag: the largest one seen, and half of it at least."""
    best = max(notes.same_tag[seen.piece.tag], key=lambda other: (other.part.area, -abs(other.shift), other.shift))
    return best is seen and seen.part.area * 2 >= seen.whole.area - 1


def _clear(notes: FaceNotes, seen: Seen) -> tuple[Holds, Box]:
    """Return what may hold the labels of a drop: its own part less its laps."""
    shape = seen.part
    for lap in notes.laps_of[seen.piece.tag]:
        shape = shape.difference(lap)
    return _within_part(shape)


def _within_part(shape: Shape) -> tuple[Holds, Box]:
    """Return the test of lying within a shape, and the box around it."""
    if not shape.area:
        return (lambda box: False), Box(0, 0, 0, 0)

    outer = Box(*shape.bounds)
    upright = abs(shape.area - outer.width * outer.height) < 0.5  # the shape is its own box

    def holds(box: Box) -> bool:
        return outer.holds(box) and (upright or shape.contains(rectangle(box.left, box.bottom, box.right, box.top)))

    return holds, outer


def _preferred(notes: FaceNotes, box: Box, high: float) -> float:
    """Return the elevation at which labels of a given height would best begin: the same all along the face."""
    view = notes.view
    bottom, top = lowest(view.wall.bottom, *_within(view)), highest(view.wall.top, *_within(view))
    line = max(bottom + 0.66 * (top - bottom), bottom + high + 4 * notes.one)
    if not box.bottom + high < line < box.top:
        line = box.bottom + max(0.66 * box.height, min(high, box.height))
    return line


def _foot(seen: Seen) -> Vec:
    """Return a point inside the lower end of what is seen of a piece."""
    part = max(polygons(seen.part), key=lambda each: each.area)
    left, bottom, right, top = part.bounds
    for share in (0.5, 0.3, 0.7):
        x = left + (right - left) * share
        line = part.intersection(rectangle(x - 1, bottom, x + 1, top))
        if line.area:
            return x, line.bounds[1] + min(16.0, (line.bounds[3] - line.bounds[1]) / 2)
    point = part.representative_point()
    return point.x, point.y


def _origin(notes: FaceNotes, x: float) -> Vec:
    """Return the foot of the left end of the face that a station lies on."""
    wall = notes.view.wall
    for span in wall.faces:
        if span.left <= x % wall.length <= span.right:
            return float(span.left), float(value(wall.footing, span.left, from_right=True))
    return float(notes.view.left), 0.0


def _within(view: WallView) -> tuple[int, int]:
    """Return the window, kept within the run."""
    return max(view.left, 0), min(view.right, view.wall.length)


# --- dimension rows ----------------------------------------------------------------------------

def _rows(notes: FaceNotes, spans: Spans, *, alone: bool) -> None:
    """Put the dimension rows around the wall."""
    one, view, unit = notes.one, notes.view, notes.plan.job.unit
    wall = view.wall
    left, right = spans[0][0].left, spans[-1][0].right
    tops = [highest(wall.wall_top, left, right), highest(wall.top, left, right)]
    if wall.grade:
        tops.append(highest(wall.grade, left, right))
    top = max(tops)
    bottom = min(lowest(wall.bottom, left, right), *(lowest(wall.footing, span.left, span.right) - span.footing_depth
                                                    for span, _ in spans))
    row, deep = station_row(_seam_notes(notes, spans, left, right), level=top + 5 * one, one=one, low=left, high=view.right)
    notes.entities += row
    level = top + 5 * one + deep + 4 * one
    for span, _ in spans:
        ends = [(float(x), float(value(wall.wall_top, x, from_right=x == span.left))) for x in (span.left, span.right)]
        notes.entities.append(Dimension("dims", "across", ends[0], ends[1], (ends[0][0], level),
                                        tape(span.right - span.left, unit), SMALL))
        notes.entities.append(Text("text", ((span.left + span.right) / 2, level + 5.5 * one), span.name, 3.2, "centre",
                                   strong=True))
    for span, face in spans:
        notes._below += _feature_notes(notes, span, face)
    row, deep = station_row(notes._below, level=bottom - 5 * one, one=one, low=left, high=view.right)
    notes.entities += row
    _water(notes, left, right, bottom - 5 * one - deep - 5 * one)
    _beside_wall(notes, spans, alone=alone)


def _seam_notes(notes: FaceNotes, spans: Spans, left: int, right: int) -> Iterator[Note]:
    """Yield the station of each seam's edge on top, from the left end of its face."""
    wall, unit = notes.view.wall, notes.plan.job.unit
    for seam in notes.plan.seams:
        if (seam.run, seam.layer) != (wall.run, wall.layer):
            continue
        x = (seam.right_edge if seam.over == seam.left else seam.left_edge) % wall.length
        if left <= x < right or (x == right and not wall.closed):
            origin = _origin(notes, x if x < right else x - 1)
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
        foot = float(min(value(wall.bottom, x, from_right=side) for side in (False, True) if 0 < x < wall.length or side))
        yield Note((float(x), foot), _origin(notes, span.left + 1), tape(at, unit) + suffix, suffix=suffix)


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
            for number, (x, y) in enumerate(profile):
                if not any(y == other for _, other in profile[:number]):
                    levels[y].append(word if x == 0 else f"{word} at {tape(x, unit)}")
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
    levels_right = [Note((x, y), (x, 0.0), text, suffix=text) for y, text in folds]
    entities, _ = level_column(levels_right, station=start + 21 * one, one=one)
    notes.entities += entities


def _water(notes: FaceNotes, left: int, right: int, level: float) -> None:
    """Put a mark at each low and high point, and arrows the way water runs."""
    one, wall = notes.one, notes.view.wall
    pairs = zip(wall.slopes, (*wall.slopes[1:], *(wall.slopes[:1] if wall.closed else ())), strict=False)
    for (_, at, before), (_, _, after) in pairs:
        if before == after or not left <= at <= right:
            continue
        word, block = ("low point", "LOW") if before == "right" else ("high point", "HIGH")
        notes.places.take(Box(at - 3 * one, level - 2 * one, at + (4 + width(word, SMALL)) * one, level + 6 * one))
        notes.entities.append(Insert("water", block, (float(at), level)))
        notes.entities.append(Text("text", (float(at) + 2.5 * one, level), word, SMALL))
    for start, end, side in wall.slopes:
        low, high = max(start, left), min(end, right)
        room = Box(low + 9 * one, level + one, high - 9 * one, level + one)
        if room.width < 0:
            continue
        at = first_free(notes.places, inside_centres(room, room.centre, 3 * one), wide=18 * one, high=5 * one,
                        holds=lambda box: True)
        if at:
            notes.entities.append(Insert("water", "FLOW-RIGHT" if side == "right" else "FLOW-LEFT", (at[0], level)))
            notes.entities.append(Text("text", (at[0], level + 1.6 * one), "water", SMALL, "centre"))
