"""A detail of each way the sheet is folded on to the concrete: flat pattern with every dimension, folded, from above.

Pieces alike share a detail. The pattern is seen film side up, each of its parts named by the surface it lies on, so
that nobody need ask which edge is up. Beside it stand the same piece folded, over the concrete it lies on, with the
dabs that close the points no sheet can hold.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from layout.concrete import Concrete, concrete_of, parts_of
from layout.drawing.elevations import MARGIN, bounds
from layout.drawing.folds import Eye, DrawnPly, dab_seen, eye, from_above, seen, walls_by_run
from layout.drawing.model.blocks import SMALL, tag_written
from layout.drawing.model.entities import Drawing, Entity, Polyline, Text, Vec, moved, on_wall
from layout.drawing.model.fonts import wrapped
from layout.drawing.patterns import FlatPattern, in_unit
from layout.drawing.sketch import SCALE
from layout.folding import FoldedPart, Motion, Vector, scaled
from layout.records import MEMBRANE, Dab, Piece, Plan, Wall
from layout.shapes import polygons, rectangle, value
from layout.units import inches

WORDS = {
    "footing cover": "Outside footing corner", "inside cover": "Inside footing corner", "riser cover": "Footing step",
    "ledge cover": "Change of ledge", "slope cover": "Change of slope",
    "opening gusset": "Corner of an opening", "sleeve patch": "Pipe that stands out",
}
"""What a detail of each kind of cover is called."""
PATCH = "sleeve patch"
GAP_BETWEEN = 14.0
"""Between the pictures of one detail [plotted mm]."""


@dataclass(frozen=True)
class FoldDetail:
    """A detail of pieces that are alike: its drawing, and where they go (run, station, height on the elevation)."""

    drawing: Drawing
    places: tuple[tuple[str, float, float], ...]


def fold_details(plan: Plan, *, scale: int = 0) -> list[FoldDetail]:
    """Return a detail of each kind of folded cover that the job has, in the order they go on.

    Parameters
    ----------
    plan
        The plan.
    scale
        8 for 1:8; 0 takes that of the packet's pages.
    """
    walls = walls_by_run(plan)
    made: list[FoldDetail] = []
    for alike in _alike(plan):
        first = alike[0]
        drawing = _Sheet(plan, walls[first.run], alike, scale or SCALE[plan.job.unit.name]).drawing(len(made) + 1)
        places = tuple(place for piece in alike for place in _places(plan, walls[piece.run], piece))
        made.append(FoldDetail(drawing, places))
    return made


def _alike(plan: Plan) -> Iterator[list[Piece]]:
    """Yield the folded covers of a plan, those of one kind and shape together, turned and mirrored ones too."""
    groups: dict[tuple[object, ...], list[Piece]] = {}
    for piece in sorted(plan.pieces, key=lambda piece: (piece.order, piece.tag)):
        if piece.laid and "strip" not in piece.kind:
            surfaces = tuple(sorted(laid.on.replace("sill", "head") for laid in piece.laid))
            groups.setdefault((piece.kind, _shape(piece), surfaces), []).append(piece)
    yield from sorted(groups.values(), key=lambda alike: (list(WORDS).index(alike[0].kind)
                                                          if alike[0].kind in WORDS else len(WORDS)))


def _shape(piece: Piece) -> tuple[object, ...]:
    """Return what is the same for a pattern however it is turned or mirrored: the least of its eight ways to lie."""
    ways = []
    for a, b, c, d in ((1, 0, 0, 1), (-1, 0, 0, 1), (1, 0, 0, -1), (-1, 0, 0, -1),
                       (0, 1, 1, 0), (0, -1, 1, 0), (0, 1, -1, 0), (0, -1, -1, 0)):
        def put(spot: tuple[int, int], a: int = a, b: int = b, c: int = c, d: int = d) -> tuple[int, int]:
            return a * spot[0] + b * spot[1], c * spot[0] + d * spot[1]

        ring = [put(spot) for spot in piece.outline]
        left, low = min(x for x, _ in ring), min(y for _, y in ring)
        corners = tuple(sorted((x - left, y - low) for x, y in ring))
        cuts = tuple(sorted(tuple(sorted((x - left, y - low) for x, y in (put(slit.start), put(slit.end))))
                            for slit in piece.slits))
        ways.append((corners, cuts))
    return min(ways)


def _places(plan: Plan, wall: Wall, piece: Piece) -> Iterator[tuple[str, float, float]]:
    """Yield where a piece goes: at the dab nearest to it, as the elevation shows that."""
    near = _dabs_near(plan, piece, parts_of(piece, wall))
    if near:
        yield piece.run, float(near[0].station), float(near[0].drawn_at)


def _dabs_near(plan: Plan, piece: Piece, parts: Sequence[FoldedPart]) -> list[Dab]:
    """Return the dabs on, or right beside, a piece, the nearest first."""
    reach = 2 * plan.job.rules.side_lap
    corners = [part.motion.place((x, y)) for part in parts for x, y, *_ in part.shape.exterior.coords]
    found = [
        (min(math.dist(dab.point, corner) for corner in corners), dab.tag, dab)
        for dab in plan.dabs if dab.run == piece.run
    ]
    return [dab for distance, _, dab in sorted(found) if distance <= reach]


def fold_pictures(plan: Plan) -> dict[str, Drawing]:
    """Return how each piece that is slit, or is a folded cover, lies on the concrete; straight drops have none.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    dict
        Tag -> its picture, seen from the soil side; of a drop what lies within reach of its slits.
    """
    walls = walls_by_run(plan)
    unit, scale = plan.job.unit, SCALE[plan.job.unit.name]
    one = on_wall(1.0, unit, scale)
    made: dict[str, Drawing] = {}
    for piece in plan.pieces:
        wall = walls.get(piece.run)
        if wall is None or piece.layer != MEMBRANE or not (piece.slits or piece.laid) or piece.kind == PATCH:
            continue
        parts = _near_slits(plan, piece, parts_of(piece, wall))
        if not parts:
            continue
        sheet = _Sheet(plan, wall, [piece], scale)
        sheet.one = one
        out = _looks(parts, wall, concrete_of(wall))
        view = eye(out, side=sheet.side(parts, out))
        dabs = _dabs_near(plan, piece, parts)
        drawn = seen([DrawnPly("beyond", part, "concrete") for part in sheet.concrete(parts)], view)
        drawn += seen([DrawnPly("cover" if piece.laid else "piece", part, "sheet") for part in parts], view)
        drawn += [dab_seen(dab.point, min(dab.size, 3 * one), view) for dab in dabs]
        frame = bounds(drawn, one).grown(MARGIN / 2 * one)
        made[piece.tag] = Drawing(f"fold-{piece.tag}", f"{piece.tag} folded", unit, scale, frame, tuple(drawn))
    return made


def _near_slits(plan: Plan, piece: Piece, parts: Sequence[FoldedPart]) -> list[FoldedPart]:
    """Return what of a flat piece lies within reach of its slits; of a pattern, all of it."""
    if piece.laid or not piece.slits:
        return list(parts)
    reach = 8 * plan.job.rules.side_lap
    xs = [x for slit in piece.slits for x, _ in (slit.start, slit.end)]
    ys = [y for slit in piece.slits for _, y in (slit.start, slit.end)]
    near = rectangle(min(xs) - reach, min(ys) - reach, max(xs) + reach, max(ys) + reach)
    return [FoldedPart(part.on, kept, part.motion)
            for part in parts for kept in polygons(part.shape.intersection(near))]


WORDS_WIDE = 150.0
"""The words under a detail are as wide as its pictures, and at least this [plotted mm]."""


@dataclass
class _Sheet:
    """One detail being drawn."""

    plan: Plan
    wall: Wall
    alike: Sequence[Piece]
    scale: int
    entities: list[Entity] = field(default_factory=list)
    one: float = 1.0

    def drawing(self, number: int) -> Drawing:
        unit, piece = self.plan.job.unit, self.alike[0]
        self.one = one = on_wall(1.0, unit, self.scale)
        parts = parts_of(piece, self.wall)
        dabs = _dabs_near(self.plan, piece, parts)
        self._pattern(piece, parts)
        around = self.concrete(parts)
        out = _looks(parts, self.wall, concrete_of(self.wall))
        side = self.side(parts, out)
        level = piece.kind in ("opening gusset", "sleeve patch")
        straight = ("from the soil side", eye(out, side=0.0, rise=0.0)) if level else ("from above", from_above(out))
        for title, view in (("folded", eye(out, side=side)), straight):
            self._view(title, view, around, parts, dabs)
        self._words(piece, dabs)
        tags = ", ".join(each.tag for each in self.alike[:4]) + (" …" if len(self.alike) > 4 else "")
        frame = bounds(self.entities, one).grown(MARGIN * one)
        title = f"{WORDS.get(piece.kind, piece.kind)}: {piece.kind} {tags}"
        return Drawing(f"fold {number}", title, unit, self.scale, frame, tuple(self.entities))

    # --- the pictures --------------------------------------------------------------------------

    def _pattern(self, piece: Piece, parts: Sequence[FoldedPart]) -> None:
        """Draw the flat pattern with its heading."""
        drawn = FlatPattern(piece, parts, self.plan.job.unit, self.one).drawn()
        self.entities += drawn
        top = bounds(drawn, self.one).top
        words = f"flat, film side up, top edge up; {in_unit(self.plan.job.unit)}from the lower left corner as cut"
        self._heading(words, (0.0, top + 5 * self.one))

    def _view(
        self, title: str, view: Eye, around: Sequence[FoldedPart], parts: Sequence[FoldedPart], dabs: Sequence[Dab],
    ) -> None:
        """Draw the concrete with the folded piece over it, to the right of what is drawn."""
        drawn = seen([DrawnPly("beyond", part, "concrete") for part in around], view)
        drawn += seen([DrawnPly("cover", part, "reinforcing") for part in parts], view)
        if not drawn:
            return
        for dab in dabs:
            drawn.append(dab_seen(dab.point, min(dab.size, 3 * self.one), view))
        box = bounds(drawn, self.one)
        right = bounds(self.entities, self.one).right
        by = (right + GAP_BETWEEN * self.one - box.left, -box.bottom)
        self.entities += moved(drawn, by)
        self.entities += self._dab_tags(dabs, view, by)
        self._heading(title, (box.left + by[0], box.top + by[1] + 5 * self.one))

    def _dab_tags(self, dabs: Sequence[Dab], view: Eye, by: Vec) -> Iterator[Entity]:
        """Yield the tags of dabs, side by side below the picture, each with a leader."""
        one = self.one
        spots = sorted((view.see(dab.point)[0] + by[0], view.see(dab.point)[1] + by[1], dab.tag) for dab in dabs)
        last = -math.inf
        for x, y, tag in spots:
            at = max(x, last + (SMALL + 1.5) * one)
            last = at
            yield Polyline("leader", ((x, y), (at, -3 * one)), closed=False)
            yield Text("text", (at, -3.5 * one), tag_written(tag), SMALL, "right", "middle", True)

    def _heading(self, words: str, at: Vec) -> None:
        self.entities.append(Text("text", at, words, SMALL))

    def _words(self, piece: Piece, dabs: Sequence[Dab]) -> None:
        """Write what a hand must know, under the pictures."""
        unit, rules = self.plan.job.unit, self.plan.job.rules
        lines = [
            f"Cut {inches(piece.length, unit)} by {inches(piece.width, unit)}. Dashed lines are folds, heavy lines "
            "slits; each part is named by the surface it lies on.",
            f"It goes on after the strips and before the drops, and laps {inches(rules.cover_lap, unit)} past the "
            "corner where there is room.",
        ]
        if any(each.outline != piece.outline or each.slits != piece.slits for each in self.alike):
            others = [each.tag for each in self.alike if (each.outline, each.slits) != (piece.outline, piece.slits)]
            more = " …" if len(others) > 8 else ""
            lines.append(f"Turned or mirrored: {', '.join(map(tag_written, others[:8]))}{more}.")
        if dabs:
            size = inches(min(dab.size for dab in dabs), unit)
            lines.append(f"Dabs of mastic or liquid membrane, {size} across or more, on {len(dabs)} "
                         f"{'point' if len(dabs) == 1 else 'points'}: "
                         f"{', '.join(tag_written(dab.tag) for dab in dabs)}.")
        drawn = bounds(self.entities, self.one)
        low, room = drawn.bottom - 5 * self.one, max(drawn.width / self.one, WORDS_WIDE)
        for number, line in enumerate(part for line in lines for part in wrapped(line, SMALL, room)):
            self.entities.append(Text("text", (0.0, low - number * 4.2 * self.one), line, SMALL))

    # --- what is around ------------------------------------------------------------------------

    def concrete(self, parts: Sequence[FoldedPart]) -> list[FoldedPart]:
        """Return the concrete around a piece: walls, ledges and faces within reach of it."""
        concrete = concrete_of(self.wall)
        corners = [part.motion.place((x, y)) for part in parts for x, y, *_ in part.shape.exterior.coords]
        stations = [concrete.station_of(corner) for corner in corners]
        reach = 5.5 * self.plan.job.rules.side_lap
        middle = (min(stations) + max(stations)) / 2
        if self.wall.closed and max(stations) - min(stations) > self.wall.length / 2:
            # on both sides of the start of a closed run
            middle = self.wall.length
        left, right = max(middle - reach, 0.0), min(middle + reach, float(concrete.wall.length))
        low, high = min(corner[2] for corner in corners), max(corner[2] for corner in corners)
        found = concrete.parts(rectangle(left, low - 2 * reach, right, high + reach / 2))
        shown = [*self._on_concrete(found, concrete), *_risers(concrete, left, right, high + reach / 2)]
        return [kept for part in shown for kept in _cut_at(part, low - reach / 4)]

    def _on_concrete(self, parts: Sequence[FoldedPart], concrete: Concrete) -> Iterator[FoldedPart]:
        """Yield parts without what hangs over the ledge's edge where the edge has turned away."""
        wall = concrete.wall
        for part in parts:
            if part.on != "ledge":
                yield part
                continue
            left, bottom, right, top = part.shape.bounds
            x = round((left + right) / 2)
            edge = float(value(wall.bottom, x, from_right=True)) + wall.turn_down
            for kept in polygons(part.shape.intersection(rectangle(left - 1, edge, right + 1, top + 1))):
                yield FoldedPart(part.on, kept, part.motion)

    def side(self, parts: Sequence[FoldedPart], out: Vector) -> float:
        """Return from which side the piece is seen best: the one that more of its parts face."""
        def shown(side: float) -> float:
            view = eye(out, side=side)
            total = 0.0
            for part in parts:
                facing = sum(a * b for a, b in zip(part.motion.normal, view.toward, strict=True))
                total += max(facing, 0.0) * part.shape.area
            return total

        return max((math.radians(32), math.radians(-32)), key=shown)


def _risers(concrete: Concrete, left: float, right: float, level: float) -> Iterator[FoldedPart]:
    """Yield the upright ends of higher footings between two stations, as far up as a level."""
    length = concrete.wall.length
    for step in concrete.steps():
        at = step.station + (length if step.station < left else 0)
        top = min(step.top, level)
        if top <= step.bottom or step.upper_ledge <= 0 or not left <= at <= right:
            continue
        side = -1.0 if step.falls > 0 else 1.0  # seen from the lower footing the wall lies to this side of the riser
        motion = Motion(step.leg.spot(step.station, 0.0, 0.0), scaled(step.leg.out, side), (0.0, 0.0, 1.0))
        edge = side * step.upper_ledge
        yield FoldedPart("riser", rectangle(min(0.0, edge), step.bottom, max(0.0, edge), top), motion)


def _cut_at(part: FoldedPart, level: float) -> list[FoldedPart]:
    """Return what of a part of the concrete does not lie below a level."""
    up = part.motion.up[2]
    if abs(up) < 1e-6:
        return [part] if part.motion.origin[2] >= level else []
    y = (level - part.motion.origin[2]) / up
    left, bottom, right, top = part.shape.bounds
    low, high = (y, top + 1) if up > 0 else (bottom - 1, y)
    if low >= high or low >= top or high <= bottom:
        return []
    kept = polygons(part.shape.intersection(rectangle(left - 1, max(low, bottom - 1), right + 1, high)))
    return [FoldedPart(part.on, each, part.motion) for each in kept]


def _looks(parts: Sequence[FoldedPart], wall: Wall, concrete: Concrete) -> Vector:
    """Return the level direction that the faces around a piece look on the whole: the middle of its corner."""
    total = [0.0, 0.0]
    for part in parts:
        station = concrete.station_of(part.motion.place((part.shape.centroid.x, part.shape.centroid.y)))
        leg = next(leg for leg in concrete.legs if leg.span.left <= station <= leg.span.right)
        total = [total[0] + leg.out[0], total[1] + leg.out[1]]
    length = math.hypot(*total) or 1.0
    return (total[0] / length, total[1] / length, 0.0)
