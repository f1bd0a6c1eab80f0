"""Composition of sheets: which faces stand in a row, at which scale, and where on which sheet everything lies.

What goes on sheets is a list of items of one size each. An item is put into the first sheet that has room for it, as
high and as far to the left as can be, so that items in order make rows and small ones fill what is left beside them.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from layout.drawing.drawn import DrawnOnce
from layout.drawing.elevations import CORNER, MARGIN, TICKS, FaceDrawing, Faces, bounds, joined_faces
from layout.drawing.model.entities import Box, Drawing, Entity, Vec, on_wall
from layout.drawing.rows import heights, levels
from layout.drawing.sheets import HEAD, SIDE, Window, windows
from layout.errors import DrawingError
from layout.records import Plan
from layout.units import Unit

SCALES = {"in": (24, 32, 48, 64, 96, 128, 192), "mm": (20, 25, 50, 100, 200)}
"""Standard scales, the largest first: the architect's in inches; ISO 5455 and 1:25 in millimetres."""
NARROWEST = 12.0
"""A whole drop plots at least this wide, so that tag, number and length can stand in it [mm]."""
LARGE = 500.0
"""A sheet with more room than this across is large [mm]."""
GAP = 2.0
"""White between two items [mm]."""


@dataclass(frozen=True)
class SheetItem:
    """Something to be put on a sheet.

    Parameters
    ----------
    kind
        ``summary``, ``plan``, ``elevation``, ``detail``, ``roll``, ``schedule`` or ``notes``.
    title
        What a list of sheets calls it.
    size
        Across and up, with what is written under and beside it [mm].
    window
        The part of a drawing that is seen, or None.
    entities
        What is drawn on the paper itself, from its lower left corner on [mm].
    number
        Of the detail, for those who call it out; 0 for what is no detail.
    """

    kind: str
    title: str
    size: Vec
    window: Window | None = None
    entities: tuple[Entity, ...] = field(default=(), repr=False)
    number: int = 0


@dataclass(frozen=True)
class Put:
    """An item where it has been put: the sheet, counted from 0, and its lower left corner [mm]."""

    item: SheetItem
    sheet: int
    at: Vec

    @property
    def box(self) -> Box:
        """What it takes of the sheet [mm]."""
        return Box(self.at[0], self.at[1], self.at[0] + self.item.size[0], self.at[1] + self.item.size[1])


def drawing_items(kind: str, drawings: Iterable[Drawing], area: Box) -> list[SheetItem]:
    """Return items of drawings, those too wide for a sheet in parts.

    Parameters
    ----------
    kind
        What they are.
    drawings
        The drawings, in order.
    area
        Room on a sheet [mm].
    """
    items: list[SheetItem] = []
    for drawing in drawings:
        whole = drawing.paper[0] + GAP <= area.width
        for part in windows(drawing, widest=area.width if whole else area.width - 2 * SIDE - GAP):
            wide, high = part.paper
            title = drawing.title + (f", part {part.number} of {part.of}" if part.of > 1 else "")
            items.append(SheetItem(kind, title, (sum(part.beside) + wide, high + HEAD), part))
    return items


def composed(items: Sequence[SheetItem], area: Box) -> list[Put]:
    """Put items on as many sheets as they need, each on the first sheet with room for it.

    Parameters
    ----------
    items
        In the order in which they are put.
    area
        Room on a sheet [mm]. An item larger than that has a sheet to itself.
    """
    whole = area._replace(bottom=area.bottom - GAP, right=area.right + GAP)  # no white is needed along the edges
    rooms: list[list[Box]] = []
    made: list[Put] = []
    for item in items:
        least = 0  # cards of rolls keep their order: none goes on a sheet before that of the card before it
        if item.kind == "roll":
            least = next((put.sheet for put in reversed(made) if put.item.kind == "roll"), max(len(rooms) - 1, 0))
        wide, high = min(item.size[0] + GAP, whole.width), min(item.size[1] + GAP, whole.height)
        for number in range(least, len(rooms) + 1):
            if number == len(rooms):
                rooms.append([whole])
            spot = _spot(rooms[number], wide, high)
            if spot is None:
                continue
            taken = Box(spot[0], spot[1] - high, spot[0] + wide, spot[1])
            rooms[number] = _without(rooms[number], taken)
            made.append(Put(item, number, (taken.left, taken.top - item.size[1])))
            break
    return made


def sheet_shares(puts: Sequence[Put], area: Box) -> list[float]:
    """Return how much of each sheet is taken by what lies on it, from 0 to 1.

    Parameters
    ----------
    puts
        Where everything lies.
    area
        Room on a sheet [mm].
    """
    taken = [0.0] * (max((put.sheet for put in puts), default=-1) + 1)
    for put in puts:
        taken[put.sheet] += put.item.size[0] * put.item.size[1]
    return [each / (area.width * area.height) for each in taken]


def _spot(rooms: Sequence[Box], wide: float, high: float) -> Vec | None:
    """Return the upper left corner of the highest and then leftmost room that is large enough."""
    near = 1e-6
    fits = [room for room in rooms if room.width >= wide - near and room.height >= high - near]
    if not fits:
        return None
    best = min(fits, key=lambda room: (-round(room.top, 3), room.left))
    return best.left, best.top


def _without(rooms: Sequence[Box], taken: Box) -> list[Box]:
    """Return the largest free rectangles once a box is taken."""
    cut: list[Box] = []
    for room in rooms:
        if not room.overlaps(taken):
            cut.append(room)
            continue
        for part in (room._replace(right=taken.left), room._replace(left=taken.right), room._replace(top=taken.bottom),
                     room._replace(bottom=taken.top)):
            if part.width > 1.0 and part.height > 1.0:
                cut.append(part)
    kept: list[Box] = []
    for number, room in enumerate(cut):
        others = (other for at, other in enumerate(cut) if at != number and (other != room or at < number))
        if not any(other.holds(room) for other in others):
            kept.append(room)
    return kept


# --- faces in rows -----------------------------------------------------------------------------

@dataclass(frozen=True)
class _Size:
    """What a face takes on paper at some scale: its wall [ticks], and what is written around it [mm]."""

    wall: Vec
    over: tuple[float, float]
    tall: float
    beside: tuple[float, float]
    corner: bool

    def gap(self, before: _Size) -> float:
        """Return how far it stands from the face before it [mm]."""
        over, under = before.over[1], self.over[0]
        needed = over + under + 2 if max(over, under) > TICKS else 0.0
        return max(needed, CORNER if before.corner else 0.0)


def _size(plan: Plan, face: FaceDrawing) -> _Size:
    """Return what a face takes, measured on what is drawn of it at one scale; its height with the white around it."""
    one, span, box = face.one, face.span, face.box
    wall = face.view.wall
    left = bounds(levels(plan, wall, [(span, face.face)], one=one, key=[]), one)
    right = bounds(heights(plan, face.view, span, one=one, clear=face.words_end), one)
    seen = [piece.whole.bounds for piece in face.view.field] or [(0.0, box.bottom, 0.0, box.top)]
    high = max(each[3] for each in seen) - min(each[1] for each in seen)
    keys = (len(face.numbered) + len(face.flags)) * 3.0
    return _Size((float(span.right - span.left), high), ((span.left - box.left) / one, (box.right - span.right) / one),
                 (box.height - high) / one + keys + 2 * MARGIN, ((span.left - left.left) / one + MARGIN,
                                                                 (right.right - span.right) / one + MARGIN),
                 span.corner != "none")


def _rows(sizes: Sequence[_Size], one: float, room: float) -> list[list[int]]:
    """Return which faces stand side by side in each row: as many as fit, in order; one too long stands alone."""
    rows: list[list[int]] = []
    reach = left = 0.0
    for number, size in enumerate(sizes):
        wide = size.wall[0] / one
        if rows:
            step = size.gap(sizes[number - 1])
            left_now = max(left, size.beside[0])
            if left_now + reach + step + wide + size.beside[1] <= room:
                rows[-1].append(number)
                reach, left = reach + step + wide, left_now
                continue
        rows.append([number])
        reach, left = wide, size.beside[0]
    return rows


Runs = Sequence[Sequence[FaceDrawing]]
"""The faces of each run and layer, in order."""


def elevations_at(plan: Plan, drawn: DrawnOnce, scale: int, area: Box) -> tuple[int, list[Drawing]]:
    """Return the elevations of a set, faces of a run side by side as far as they fit, and the scale they are at.

    That is the one asked for, or the next smaller, or else the next larger one, at which every drawing fits the height
    of a sheet. A larger one can fit, since more of its labels stand in the drops and not below them.

    Parameters
    ----------
    plan
        The plan.
    drawn
        What is drawn once for several files.
    scale
        48 for 1:48.
    area
        Room on a sheet [mm].

    Raises
    ------
    DrawingError
        When a face fits at no scale.
    """
    tried: list[tuple[float, int, list[Drawing]]] = []
    every = SCALES[plan.job.unit.name]
    for each in [scale, *(each for each in every if each > scale), *(each for each in reversed(every) if each < scale)]:
        drawings = [drawing for faces in by_run(drawn.faces(each)) for drawing in _in_rows(plan, faces, area)]
        over = max(drawing.paper[1] for drawing in drawings) + HEAD - area.height
        if over <= 0:
            return each, drawings
        tried.append((over, each, drawings))
    worst = max(min(tried, key=lambda one: one[:2])[2], key=lambda drawing: drawing.paper[1])
    raise DrawingError(f"the paper is too small for {worst.title}: choose a larger one with --paper")


def by_run(faces: Faces) -> list[list[FaceDrawing]]:
    """Return faces as the lists of each run and layer, in order."""
    runs: dict[tuple[str, str], list[FaceDrawing]] = defaultdict(list)
    for (run, _, layer), face in faces.items():
        runs[run, layer].append(face)
    return list(runs.values())


def _in_rows(plan: Plan, faces: Sequence[FaceDrawing], area: Box) -> list[Drawing]:
    sizes = [_size(plan, face) for face in faces]
    return [drawing for row in _rows(sizes, faces[0].one, area.width - GAP)
            for drawing in _fitting(plan, [faces[number] for number in row], area)]


def _fitting(plan: Plan, faces: Sequence[FaceDrawing], area: Box) -> list[Drawing]:
    """Return faces in one drawing, or in two where their common levels or key turned out too large."""
    drawing = joined_faces(plan, faces)
    wide, high = drawing.paper
    if wide + GAP <= area.width and high + HEAD <= area.height:
        return [drawing]
    if len(faces) == 1:  # a key that has no room under its face stands elsewhere
        return [drawing] if high + HEAD <= area.height else [joined_faces(plan, faces, keyed=False)]
    return [*_fitting(plan, faces[:-1], area), *_fitting(plan, faces[-1:], area)]


def scales_by_need(plan: Plan, runs: Runs, area: Box, others: Sequence[SheetItem]) -> list[tuple[int, int]]:
    """Return standard scales with the sheets that a set will need about, the best first: fewest sheets, largest scale.

    Where there is a scale at which every face fits a sheet, only such scales are returned.
    Scales at which a whole drop plots narrower than ``NARROWEST`` are taken only where a face would else not fit the
    height of a sheet.

    Parameters
    ----------
    plan
        The plan.
    runs
        What is drawn of the faces, at any scale.
    area
        Room on a sheet [mm].
    others
        What else goes on the sheets.
    """
    unit = plan.job.unit
    sizes = [[_size(plan, face) for face in faces] for faces in runs]
    drop = plan.job.sheet.width
    tried: list[tuple[bool, bool, int, int]] = []
    for scale in SCALES[unit.name]:
        one = on_wall(1.0, unit, scale)
        if drop / one < NARROWEST and tried:
            if not min(tried)[0]:
                break
        puts = composed([*_guessed(sizes, unit, scale, area), *others], area)
        tried.append((*_too_large(sizes, one, area), max(put.sheet for put in puts) + 1, scale))
    best = min(tried)[:2]
    return [(scale, sheets) for tall, parted, sheets, scale in sorted(tried) if (tall, parted) == best]


def _too_large(sizes: Sequence[Sequence[_Size]], one: float, area: Box) -> tuple[bool, bool]:
    """Tell whether a face is too tall for a sheet, and whether one is too long."""
    every = [size for faces in sizes for size in faces]
    return (any(size.wall[1] / one + size.tall + HEAD + GAP > area.height for size in every),
            any(size.beside[0] + size.wall[0] / one + size.beside[1] > area.width for size in every))


def _guessed(sizes: Sequence[Sequence[_Size]], unit: Unit, scale: int, area: Box) -> list[SheetItem]:
    """Return items as large as the elevations will be at a scale."""
    one = on_wall(1.0, unit, scale)
    items: list[SheetItem] = []
    for faces in sizes:
        for row in _rows(faces, one, area.width - GAP):
            own = [faces[number] for number in row]
            gaps = sum(after.gap(before) for before, after in zip(own, own[1:]))
            wide = max(size.beside[0] for size in own) + sum(size.wall[0] / one for size in own) + gaps
            wide += own[-1].beside[1]
            high = max(size.wall[1] / one + size.tall for size in own) + HEAD
            parts = math.ceil(wide / (area.width - 2 * SIDE - GAP)) if wide > area.width - GAP else 1
            side = 2 * SIDE if parts > 1 else 0.0
            items += [SheetItem("elevation", "", (min(wide / parts + side, area.width - GAP), high))] * parts
    return items
