"""10xx: every piece folds on to the concrete, with the slits that this takes and no others.

Two strips of a run that meet at a station carry that line of the sheet to the same place in space, or they do not.
Where they do not the sheet must be slit, as far as it goes on both sides; where they do, a slit opens sound sheet.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import STRtree
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.audit.asked import Asked, AskedOpening, AskedRun, AskedSleeve
from layout.audit.concrete import ENDLESS, FLAT, FaceCorner, RunInSpace, Pose, Spot, DevelopedBand
from layout.audit.findings import Findings
from layout.audit.walls import line_of, parts, value
from layout.audit.written import WrittenLaid, WrittenPiece
from layout.units import Unit

SheetLine = tuple[Spot, Spot]

ROUNDED = 1.5
"""Slits and folds lie on whole ticks, one tick off at most, and half of one for slants [ticks]."""
SAME = 0.02
"""Two motions carry a line to one place when they are not farther apart; floating point, no tolerance [ticks]."""
UNIT_VECTORS = 5e-6
"""How far directions of parts may be from units at right angles: they are written to a millionth."""


def taken_up(unit: Unit) -> float:
    """Return what the sheet takes up at a change of slope: 1/8 in or 3 mm, common practice [ticks]."""
    return 2.0 if unit.name == "in" else 3.0


@dataclass(frozen=True)
class Crease:
    """A straight line of the developed sheet along which two motions differ.

    Parameters
    ----------
    spots
        Points of the line in order, its ends among them [ticks].
    gaps
        How far apart the sheet comes at each; between two it changes evenly [ticks].
    why
        What parts it.
    sure
        False where it may be slit and need not: where an opening's corner is cut off by the membrane line or the
        joint, and where a tip is turned on to a wall.
    """

    spots: tuple[Spot, ...]
    gaps: tuple[float, ...]
    why: str
    sure: bool = True

    def gap(self, spot: Spot) -> float:
        """Return how far apart the sheet comes at a point of the line."""
        along = [math.dist(self.spots[0], each) for each in self.spots]
        return float(np.interp(math.dist(self.spots[0], spot), along, self.gaps))


def breaks_of(made: RunInSpace, asked: Asked) -> list[Crease]:
    """Return the lines along which sheet on a run must part: at stations, and from the corners of openings.

    Parameters
    ----------
    made
        The run's concrete.
    asked
        The job, for the openings that the sheet turns into.
    """
    found: list[Crease] = []
    for left, right in zip(made.strips, made.strips[1:]):
        if abs(left.right - right.left) < ROUNDED:
            found += _between(left.right, left, right)
    for corner in made.corners:
        found += _into_walls(made, corner)
    back = float(asked.rules["opening_return"])
    if back:
        found += _at_openings(made.run, asked, back, made.fillet)
    return found


def _into_walls(made: RunInSpace, corner: FaceCorner) -> Iterator[Crease]:
    """Yield where a flap on a falling ledge comes into a wall without one, and its tip may be slit along the edge.

    A plumb end runs askew into that wall, on the ledge and on its footing's face: what turns on to the wall of the one
    and of the other parts in the corner.
    """
    for setting, other, first in ((corner.before, corner.after, True), (corner.after, corner.before, False)):
        if corner.edge is None or corner.turn >= 0 or not setting.face.ledge or other.face.ledge:
            continue
        for strip in made.strips:
            end = strip.right if first else strip.left
            if strip.stretch.face is setting.face and strip.stretch.faced and abs(end - corner.at) < FLAT:
                spot = setting.spot(corner.at, setting.face.ledge)
                x, y, _ = strip.parts[-1].motion.back(np.array([*spot, strip.height(corner.at)]))
                if (end - x) * (1 if first else -1) > SAME:
                    spots = ((x, y), (end, strip.parts[-1].begins(end)))
                    yield Crease(spots, (0.0, 0.0), "the sheet comes into a wall", sure=False)


def _between(x: float, left: DevelopedBand, right: DevelopedBand) -> Iterator[Crease]:
    """Yield the lengths of a station along which the strips on its two sides part."""
    levels = sorted({*left.levels(x), *right.levels(x)}, reverse=True)
    spots: list[Spot] = []
    gaps: list[float] = []
    for high, low in zip(levels, [*levels[1:], levels[-1] - ENDLESS] if levels else ()):
        if high - low < SAME:
            continue
        one, other = (strip.part_at(x, high - SAME / 2).motion for strip in (left, right))
        at_high, at_low = (float(np.linalg.norm(one.put((x, y)) - other.put((x, y)))) for y in (high, low))
        if max(at_high, at_low) < SAME:
            if spots:
                yield Crease(tuple(spots), tuple(gaps), "the concrete parts here")
            spots, gaps = [], []
            continue
        if not spots:
            spots, gaps = [(x, high)], [at_high]
        spots.append((x, low))
        gaps.append(at_low)
    if spots:
        yield Crease(tuple(spots), tuple(gaps), "the concrete parts here")


def _at_openings(run: AskedRun, asked: Asked, back: float, fillet: float) -> Iterator[Crease]:
    """Yield the slants from the corners of openings that the sheet turns into."""
    around = (-run.length, 0.0, run.length) if run.closed else (0.0,)
    for face in run.faces:
        line = line_of(face, asked)
        for opening in face.openings:
            deep = min(back, (opening.right - opening.left) / 2, (opening.top - opening.bottom) / 2)
            for x, y, dx, dy in corners_of_opening(opening):
                joint = value(face.footing, x, from_right=dx > 0) + (fillet if face.ledge else 0.0)
                sure = value(line, x, from_right=dx > 0) > y > joint
                for by in around:
                    yield Crease(((x + by, y), (x + by + dx * deep, y + dy * deep)), (0.0, deep * math.sqrt(2)),
                                 f"the sheet turns into {opening.tag}", sure)


def cut_openings(run: AskedRun, asked: Asked, fillet: float) -> list[Polygon]:
    """Return the openings that the membrane line or the joint cuts, as far as the sheet might turn into them.

    What turns in there has no wall on one side: it is trimmed and sealed like any edge of an opening.
    """
    back = float(asked.rules["opening_return"])
    found: list[Polygon] = []
    for face in run.faces if back else ():
        line = line_of(face, asked)
        for opening in face.openings:
            sides = ((opening.left, True), (opening.right, False))
            joints = [value(face.footing, x, from_right=side) + (fillet if face.ledge else 0.0) for x, side in sides]
            lines = [value(line, x, from_right=side) for x, side in sides]
            if opening.bottom <= max(joints) or opening.top >= min(lines):
                for by in (-run.length, 0.0, run.length) if run.closed else (0.0,):
                    hole = box(opening.left + by, opening.bottom, opening.right + by, opening.top)
                    found.append(hole.buffer(ROUNDED, join_style="mitre"))
    return found


def corners_of_opening(opening: AskedOpening) -> Iterator[tuple[float, float, int, int]]:
    """Yield the corners of an opening, and which way its middle lies from each."""
    yield opening.left, opening.bottom, 1, 1
    yield opening.right, opening.bottom, -1, 1
    yield opening.left, opening.top, 1, -1
    yield opening.right, opening.top, -1, -1


# --- pieces that lie flat in the run's frame ---------------------------------------------------

class Breaks:
    """The breaks of a run, to look up by place.

    Parameters
    ----------
    breaks
        As ``breaks_of`` gives them.
    loose
        Places where sheet may be slit at will: see ``cut_openings``.
    """

    def __init__(self, breaks: Sequence[Crease], loose: Sequence[Polygon] = ()) -> None:
        self.all = list(breaks)
        self.loose = list(loose)
        self._lines = [LineString(each.spots) for each in self.all]
        self._tree = STRtree(self._lines)

    def near(self, shape: BaseGeometry) -> list[tuple[Crease, LineString]]:
        """Return the breaks that meet a shape, as lines."""
        return [(self.all[index], self._lines[index]) for index in self._tree.query(shape, "intersects")]


def check_flat(piece: WrittenPiece, shape: Polygon, breaks: Breaks, sleeves: Sequence[AskedSleeve], unit: Unit,
               book: Findings) -> None:
    """Note what keeps a flat piece from folding, or else the first slit that opens sound sheet.

    Parameters
    ----------
    piece, shape
        The piece and its shape.
    breaks
        Those of its run.
    sleeves
        Those whose pipe stands out: slits may lead to their holes.
    unit
        The job's unit.
    book
        Where findings are noted.
    """
    near = breaks.near(shape)
    slits = [LineString(slit) for slit in piece.slits]
    cut = unary_union([slit.buffer(ROUNDED) for slit in slits]) if slits else Polygon()
    inside = shape.buffer(-1.0) if near else shape
    for each, line in near:
        for part in lines_of(line.intersection(inside)):
            if not each.sure or max(each.gap((x, y)) for x, y, *_ in part.coords) <= taken_up(unit):
                continue
            bare = [rest for rest in lines_of(part.difference(cut)) if rest.length > ROUNDED]
            if bare:
                x, y = bare[0].coords[0][:2]
                book.note(1001, f"piece {piece.tag}, " + book.at(piece.run, x, y),
                          f"a slit {book.say_length(sum(rest.length for rest in bare))} longer: {each.why}",
                          f"{len(slits)} slits")
                return
    allowed = [line.buffer(ROUNDED) for _, line in near] + breaks.loose
    for slit in slits:
        if any(leads_to(slit, sleeve, shape) for sleeve in sleeves):
            continue
        sound = slit.difference(unary_union(allowed)) if allowed else slit
        rest = [part for part in lines_of(sound) if part.length > ROUNDED]
        if rest:
            x, y = rest[0].coords[0][:2]
            book.note(1002, f"piece {piece.tag}, " + book.at(piece.run, x, y), "sound sheet",
                      f"a slit {book.say_length(sum(part.length for part in rest))} long")
            return


def moved_sleeve(sleeve: AskedSleeve, by: float) -> AskedSleeve:
    """Return a sleeve so much farther along the run."""
    return replace(sleeve, x=sleeve.x + by)


def leads_to(slit: LineString, sleeve: AskedSleeve, shape: Polygon) -> bool:
    """Tell whether a slit leads from a sleeve's hole to an edge of its piece or to another hole."""
    centre = Point(sleeve.x, sleeve.y)
    ends = [Point(spot) for spot in slit.coords]
    at = [end for end in ends if abs(end.distance(centre) - sleeve.diameter / 2) <= 2.5]
    away = [end for end in ends if end not in at]
    return bool(at and away) and shape.boundary.distance(away[0]) <= ROUNDED


def lines_of(shape: BaseGeometry) -> list[LineString]:
    """Return the lines of a shape."""
    return [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, LineString) and part.length > 0]


# --- pieces with a pattern ---------------------------------------------------------------------

def motion_of(laid: WrittenLaid) -> Pose:
    """Return how a part of a pattern lies in space."""
    return Pose(np.array(laid.origin), np.array(laid.along), np.array(laid.up))


def check_pattern(piece: WrittenPiece, unit: Unit, book: Findings) -> bool:
    """Note parts of a pattern that are not rigid or do not make it up, slits it lacks and slits it does not need.

    Returns
    -------
    bool
        Whether its parts may be trusted.
    """
    shape = piece.shape
    place = f"piece {piece.tag}"
    for laid in piece.parts:
        along, up = np.array(laid.along), np.array(laid.up)
        if max(abs(along @ along - 1), abs(up @ up - 1), abs(along @ up)) > UNIT_VECTORS:
            book.note(1007, place, "parts moved as they are", f"a part on the {laid.on} that is stretched")
            return False
    outlines = [Polygon(laid.outline).buffer(0) for laid in piece.parts]
    together = unary_union([outline.buffer(ROUNDED, join_style="mitre") for outline in outlines])
    bare = [part for part in parts(shape.difference(together)) if _thick(part) > 2 * ROUNDED]
    doubled = [part for i, a in enumerate(outlines) for b in outlines[i + 1:]
               for part in parts(a.intersection(b)) if part.buffer(-ROUNDED).area > 0]
    if bare or doubled or not outlines:
        book.note(1007, place, "parts that make up the pattern",
                  "two parts on one place" if doubled else "some of it on no part")
        return False
    return _check_pattern_slits(piece, shape, outlines, unit, book)


def _thick(bare: Polygon) -> float:
    """Return how thick a part of a pattern is that lies on no surface."""
    return 4 * float(bare.area) / float(bare.length)


def _check_pattern_slits(piece: WrittenPiece, shape: Polygon, outlines: Sequence[Polygon], unit: Unit,
                         book: Findings) -> bool:
    motions = [motion_of(laid) for laid in piece.parts]
    slits = [LineString(slit) for slit in piece.slits]
    cut = unary_union([slit.buffer(2 * ROUNDED) for slit in slits]) if slits else Polygon()
    apart: list[LineString] = []
    inside = shape.buffer(-1.0)
    for i, one in enumerate(outlines):
        for j in range(i + 1, len(outlines)):
            for part in _straight(one.boundary.intersection(outlines[j].buffer(0.1))):
                spots = [(float(x), float(y)) for x, y, *_ in part.coords]
                gap = max(float(np.linalg.norm(motions[i].put(spot) - motions[j].put(spot))) for spot in spots)
                if gap <= taken_up(unit):
                    continue
                apart.append(part)
                bare = part.intersection(inside).difference(cut)
                if bare.length > 2 * ROUNDED:
                    book.note(1001, f"piece {piece.tag}", f"a slit between {piece.parts[i].on} and {piece.parts[j].on}",
                              f"{len(slits)} slits")
                    return False
    room = unary_union([line.buffer(2 * ROUNDED) for line in apart]) if apart else Polygon()
    for slit in slits:
        sound = slit.intersection(inside).difference(room)
        if sound.length > 2 * ROUNDED:
            book.note(1002, f"piece {piece.tag}", "sound sheet", f"a slit {book.say_length(sound.length)} long")
            return False
    return True


def _straight(shape: BaseGeometry) -> Iterator[LineString]:
    """Yield the straight lines of a shape that are longer than rounding."""
    for line in lines_of(shape):
        for start, end in zip(line.coords, line.coords[1:]):
            if math.dist(start, end) > ROUNDED:
                yield LineString([start, end])


def slit_heads(shape: Polygon, slits: Iterable[SheetLine]) -> Iterator[Spot]:
    """Yield the ends of slits that lie within a piece, off its edges, and where no other slit goes on."""
    edge = shape.boundary
    ends = [spot for slit in slits for spot in slit]
    for spot in ends:
        goes_on = sum(math.dist(spot, other) <= 2 * ROUNDED for other in ends) > 1
        if not goes_on and edge.distance(Point(spot)) > ROUNDED:
            yield spot
