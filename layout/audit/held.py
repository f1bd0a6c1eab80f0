"""1003: every edge of every ply, slits too, is held: other plies lie across it and reach the lap past it on both sides.

The lap goes with the edge: the end lap where two pieces of one drop lie over one another and one of them ends, the side
lap everywhere else. Points about an inch apart are walked along all edges. At each, probes go so far to both sides
along the sheet of whatever lies there: sheet is folded, not stretched, so that a length on it is the length along the
concrete. A ply that ends on the way may be lapped by another that goes on. Exempt are the ends of the membrane (its
line, the end of the turn-down, the ends of an open run, openings, sleeves, the inner ends of what is turned into an
opening) and what lies under a dab.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree
from shapely.affinity import translate
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient
from shapely.ops import unary_union

from layout.audit.asked import Asked
from layout.audit.concrete import FLAT, UP, Pose, Spot, SpaceVec
from layout.audit.coverage import HungLayer
from layout.audit.findings import Findings
from layout.audit.folding import cut_openings, motion_of
from layout.audit.spread import EDGE, OFF, TILT, Spread
from layout.audit.walls import shifted
from layout.audit.written import WrittenLaid, WrittenDab, WrittenPiece

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

TICK = 1.0
"""What a lap may come short by: everything is cut to whole ticks [ticks]."""
STEP_INCH, STEP_MM = 16.0, 25.0
"""How far apart points are walked: about an inch [ticks]."""
BESIDE = 3.0
"""An edge is looked at from this far within its ply, past all rounding; where no sheet belongs so far outside it, it is
an end of the membrane [ticks]."""
SHARES = (1.0, 0.5, -0.5, -1.0)
"""Probes go such parts of the lap into the ply and out of it."""
HALVES = {0: 1, 3: 2}
"""Of each whole probe, the one that goes half as far."""
WHOLE = (False,) * len(SHARES)
"""Of each probe on sheet without slits, whether a slit crosses it."""
SHORTEST = 2
"""So many points in a row must be loose: a single one, an inch at most, is where roundings meet."""


@dataclass(frozen=True)
class Walk:
    """Points along the edges of one ply: where, the way into the ply there, and which edge each is on."""

    spots: Array
    ways: Array
    edges: NDArray[np.int64]


class Ply:
    """One piece as a ply: its shape and slits in its own frame.

    Parameters
    ----------
    piece
        The piece.
    by
        How far it is moved along a closed run [ticks].
    """

    def __init__(self, piece: WrittenPiece, by: float = 0.0) -> None:
        self.piece, self.by = piece, by
        shape = Polygon(piece.ring, piece.holes)
        self.shape = translate(shape, xoff=by) if by else shape
        self.bounds = self.shape.bounds
        left, low, right, high = self.bounds
        self._plain = len(piece.ring) == 4 and not piece.holes and abs(
            self.shape.area - (right - left) * (high - low)) < 0.5
        self.slits = np.array([[a[0] + by, a[1], b[0] + by, b[1]] for a, b in piece.slits], dtype=float).reshape(-1, 4)

    def holds(self, spots: Array) -> Bools:
        """Tell of each point whether the ply, a tick wider, is there."""
        left, low, right, high = self.bounds
        x, y = spots[:, 0], spots[:, 1]
        inside: Bools = (x >= left - TICK) & (x <= right + TICK) & (y >= low - TICK) & (y <= high + TICK)
        if not self._plain and inside.any():
            inside[inside] = shapely.contains_xy(self._wide, x[inside], y[inside])
        return inside

    def has(self, spot: Spot) -> bool:
        """Tell of one point what ``holds`` tells of many."""
        left, low, right, high = self.bounds
        x, y = spot
        within = left - TICK <= x <= right + TICK and low - TICK <= y <= high + TICK
        return within and (self._plain or bool(shapely.contains_xy(self._wide, x, y)))

    @cached_property
    def _wide(self) -> BaseGeometry:
        wide = self.shape.buffer(TICK + FLAT, join_style="mitre")  # its edge belongs to it
        shapely.prepare(wide)
        return wide

    def parted(self, starts: Array, ends: Array) -> Bools:
        """Tell of each way from a start to an end whether a slit of the ply crosses it."""
        if not len(self.slits):
            return np.zeros(len(starts), dtype=bool)
        ax, ay, bx, by = self.slits.T[:, :, None]
        (sx, sy), (ex, ey) = starts.T, ends.T
        one, other = ((bx - ax) * (y - ay) - (by - ay) * (x - ax) for x, y in ((sx, sy), (ex, ey)))
        first, second = ((ex - sx) * (y - sy) - (ey - sy) * (x - sx) for x, y in ((ax, ay), (bx, by)))
        crossed: Bools = ((one * other < 0) & (first * second <= 0)).any(axis=0)
        return crossed


def _ahead(spot: Spot, turned: Spot, by: float) -> Spot:
    return (spot[0] + turned[0] * by, spot[1] + turned[1] * by)


def _reaches(ply: Ply, start: Spot, end: Spot) -> bool:
    """Tell whether a ply that is at a point is at another one too, and no slit is between."""
    return ply.has(end) and not ply.parted(np.array([start]), np.array([end]))[0]


def edge_walk(ply: Ply, step: float) -> Walk:
    """Return points about a step apart along all edges of a ply and both sides of its slits."""
    spots: list[Array] = []
    ways: list[Array] = []
    edges: list[NDArray[np.int64]] = []
    shape = orient(ply.shape)
    number = 0

    def along(a: Spot, b: Spot, inward: Sequence[float]) -> None:
        nonlocal number
        length = math.dist(a, b)
        if length < EDGE:
            return
        count = max(1, round(length / step))
        shares = (np.arange(count) + 0.5) / count
        spots.append(np.outer(1 - shares, a) + np.outer(shares, b))
        ways.append(np.tile(inward, (count, 1)))
        edges.append(np.full(count, number))
        number += 1

    for ring in (shape.exterior, *shape.interiors):
        points = [(float(x), float(y)) for x, y, *_ in ring.coords]
        for a, b in zip(points, points[1:]):
            length = math.dist(a, b)
            if length:
                along(a, b, ((a[1] - b[1]) / length, (b[0] - a[0]) / length))
    for ax, ay, bx, by in ply.slits:
        length = math.hypot(bx - ax, by - ay)
        normal = ((ay - by) / length, (bx - ax) / length)
        along((ax, ay), (bx, by), normal)
        along((ax, ay), (bx, by), (-normal[0], -normal[1]))
    if not edges:  # all are too short to hold
        return Walk(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0, dtype=np.int64))
    return Walk(np.concatenate(spots), np.concatenate(ways), np.concatenate(edges))


@dataclass(frozen=True)
class _Lying:
    """A part of a pattern where it lies, with its ply."""

    ply: Ply
    laid: WrittenLaid
    motion: Pose
    outline: BaseGeometry
    middle: SpaceVec
    reach: float


@dataclass(frozen=True)
class _HalfWay:
    """Where a probe is half way on a ply: the point and the direction on it, and how its part lies if a pattern."""

    ply: Ply
    spot: Spot
    ahead: Spot
    bound: Pose | None


class Plies:
    """All plies of a run's membrane, to look up by place.

    Parameters
    ----------
    pieces
        The pieces of the run's membrane.
    hung
        Its drops, and what must be covered.
    spread
        Where the sheet lies.
    dabs
        Those of the run.
    asked
        The job.
    """

    def __init__(self, pieces: Sequence[WrittenPiece], hung: HungLayer, spread: Spread, dabs: Sequence[WrittenDab],
                 asked: Asked) -> None:
        self.spread, self.asked = spread, asked
        self.lap, self.end_lap = (float(asked.rules[name]) - TICK for name in ("side_lap", "end_lap"))
        self.around = (0.0, -hung.run.length, hung.run.length) if hung.run.closed else (0.0,)
        flat = [piece for piece in pieces if piece.flat]
        self.flat = [Ply(piece, by) for piece in flat for by in self.around]
        self._tree = STRtree([ply.shape for ply in self.flat])
        self.patterns = [Ply(piece) for piece in pieces if not piece.flat]
        again = spread.made.again()
        self.lying = [lying for ply in self.patterns for lying in _lying(ply, again)]
        self._middles = np.array([each.middle for each in self.lying]).reshape(-1, 3)
        self._reaches = np.array([each.reach for each in self.lying])
        points = [np.array(dab.point) for dab in dabs]
        points += [move.origin + point[0] * move.along + point[1] * move.up + point[2] * UP
                   for move in again for point in points]
        self._points = np.array(points).reshape(-1, 3)
        self._sizes = np.array([dab.size / 2 + TICK for dab in dabs] * (1 + len(again)))
        cut = unary_union(cut_openings(hung.run, asked, spread.made.fillet))
        self._walls = [shape.buffer(0.01).difference(cut)
                       for shape in shifted([shape for _, shape in hung.needed], hung.run)]
        self._ground = unary_union(list(spread.made.footings()))
        shapely.prepare(self._walls)
        self._wall_tree = STRtree(self._walls)
        # how far past an edge of the concrete sheet is looked for; end laps lie on the wall, far from most of them
        self.deep = max((face.ledge for face in hung.run.faces), default=0.0) * 3 + hung.turn_down + 2 * self.lap

    # --- what is where -------------------------------------------------------------------------

    def near(self, box: BaseGeometry) -> list[Ply]:
        """Return the flat plies that meet a place of the developed sheet."""
        return [self.flat[index] for index in self._tree.query(box, "intersects")]

    def belongs(self, spots: Array, box: BaseGeometry) -> Bools:
        """Tell of each point of the developed sheet whether sheet must be there."""
        found = np.zeros(len(spots), dtype=bool)
        for index in self._wall_tree.query(box, "intersects"):
            found |= shapely.contains_xy(self._walls[index], spots[:, 0], spots[:, 1])
        return found

    def belongs_at(self, spot: Spot) -> bool:
        """Tell of one point what ``belongs`` tells of many."""
        return any(shapely.contains_xy(self._walls[index], *spot)
                   for index in self._wall_tree.query(shapely.Point(spot), "intersects"))

    def dabbed(self, point: SpaceVec) -> bool:
        """Tell whether a dab lies over a point in space."""
        return bool(len(self._points)) and bool(
            (np.linalg.norm(self._points - point, axis=1) <= self._sizes).any())

    # --- flat plies ----------------------------------------------------------------------------

    def laps_of(self, ply: Ply, found: Walk) -> Array:
        """Return the lap that plies must reach past each point of a flat ply's edges [ticks].

        It is the end lap where an edge is level and another piece of the same drop lies across it.
        """
        laps = np.full(len(found.spots), self.lap)
        ends = np.abs(found.ways[:, 0]) < FLAT
        if ply.piece.drop and ends.any():
            inner = found.spots + found.ways * BESIDE
            for other in self.near(shapely.box(*ply.bounds)):
                if other.piece.drop == ply.piece.drop and other.piece is not ply.piece:
                    laps[ends & other.holds(inner)] = self.end_lap
        return laps

    def loose_flat(self, ply: Ply, found: Walk, laps: Array) -> Bools:
        """Tell of each point of a flat ply's edges whether no flat ply holds it where the sheet lies side by side."""
        inner = found.spots + found.ways * BESIDE
        probes = [found.spots + found.ways * (share * laps)[:, None] for share in SHARES]
        box = shapely.box(*ply.bounds).buffer(float(laps.max(initial=0.0)) + 2)
        belongs = self.belongs(inner, box)
        loose = np.ones(len(inner), dtype=bool)
        for away in (BESIDE, BESIDE / 3):  # in a narrow notch of the membrane line there is sheet again further out
            loose &= self.belongs(found.spots - found.ways * away, box)
        crossed = np.zeros(len(inner), dtype=bool)
        reached = [np.zeros(len(inner), dtype=bool) for _ in probes]
        for other in self.near(box):
            if other.piece is ply.piece and other.by == ply.by:
                continue
            here = other.holds(inner)
            if not here.any():
                continue
            crossed |= here
            for number, probe in enumerate(probes):
                there = here & other.holds(probe)
                if there.any():
                    there &= ~other.parted(inner, probe)
                reached[number] |= there
        for other in self.near(box):  # what laps those plies half way there holds on: its own edge is walked too
            for number, half in HALVES.items():
                on = reached[half] & ~reached[number]
                if on.any() and not (other.piece is ply.piece and other.by == ply.by):
                    there = on & other.holds(probes[half]) & other.holds(probes[number])
                    if there.any():
                        there &= ~other.parted(probes[half], probes[number])
                    reached[number] |= there
        held = crossed
        for number, probe in enumerate(probes):
            left = held & ~reached[number]
            if left.any():  # past an end of the membrane nothing need reach
                reached[number][left] = ~self.belongs(probe[left], box)
            held = held & reached[number]
        loose &= ~held
        return belongs & (loose | self.spread.beside_steps(found.spots, found.ways))

    # --- in space ------------------------------------------------------------------------------

    def held(
        self, points: Sequence[SpaceVec], way: SpaceVec, own: Ply, at: Spot, lap: float, slack: float = 0.0, *,
        goes_on: bool = False,
    ) -> bool:
        """Tell whether other plies hold a point of an edge in space.

        Parameters
        ----------
        points
            A point of the edge, and where else it may come to lie: on another ledge beside its own.
        way
            The way into the ply there.
        own
            The ply whose edge it is; another place of the same sheet may come to lie there and hold it.
        at
            The point in the ply's own frame.
        lap
            How far past the edge other plies must reach on both sides [ticks].
        slack
            How much farther than usual a ply may be from the point: where a flap rides up a fillet [ticks].
        goes_on
            The concrete goes on past the edge though no sheet need: beside a riser.
        """
        if self.dabbed(points[0]):
            return True
        crossed = False
        reached = [False] * len(SHARES)
        half_way: list[tuple[int, _HalfWay]] = []
        there_lie = (found for point in points for found in self._there(point + way * BESIDE, way, slack))
        for ply, spot, turned, bound in there_lie:
            if ply.piece is own.piece and math.dist(at, (spot[0] - ply.by, spot[1])) < 4 * OFF:
                continue
            if not ply.has(spot):
                continue
            crossed = True
            ends = [_ahead(spot, turned, share * lap - BESIDE) for share in SHARES]
            parted = ply.parted(np.array([spot] * len(ends)), np.array(ends)) if len(ply.slits) else WHOLE
            for number, end in enumerate(ends):
                if reached[number] and number in HALVES:
                    continue
                there = ply.has(end) and not parted[number]
                if there and number in HALVES.values():
                    half_way.append((number, _HalfWay(ply, end, turned, bound)))
                reached[number] = reached[number] or there or (
                    not (goes_on and bound is None) and self._past(ply, bound, end))
        for number, half in HALVES.items():
            if reached[half] and not reached[number]:
                rest = (SHARES[number] - SHARES[half]) * lap
                reached[number] = any(
                    at_half == half and self._goes_on(each, own, rest, slack) for at_half, each in half_way)
        return crossed and all(reached)

    def _goes_on(self, half: _HalfWay, own: Ply, rest: float, slack: float) -> bool:
        """Tell whether where a ply ends another one that laps it goes on: that one's own edge is walked too."""
        flat = half.bound is None
        pose = self.spread.motion_at(half.spot) if flat else self._part_at(half.ply, half.spot).motion
        way = half.ahead[0] * pose.along + half.ahead[1] * pose.up
        for other, start, ahead, _ in self._there(pose.put(half.spot), way, slack):
            if other.piece is own.piece or other.piece is half.ply.piece or not other.has(start):
                continue
            if _reaches(other, start, _ahead(start, ahead, rest)):
                return True
        return False

    def _part_at(self, ply: Ply, spot: Spot) -> _Lying:
        """Return the part of a pattern that a point of it is on, or nearest to."""
        parts = [lying for lying in self.lying if lying.ply is ply][:len(ply.piece.parts)]
        return min(parts, key=lambda each: each.outline.distance(shapely.Point(spot)))

    def _there(self, point: SpaceVec, way: SpaceVec, slack: float) -> Iterator[tuple[Ply, Spot, Spot, Pose | None]]:
        """Yield each ply at a point in space, the point and the direction on it, and how its part lies if a pattern."""
        for spot, turned in self.spread.found(point, way, slack):
            box = shapely.box(spot[0] - TICK, spot[1] - TICK, spot[0] + TICK, spot[1] + TICK)
            for ply in self.near(box):
                yield ply, spot, turned, None
        if len(self.lying):
            near = np.linalg.norm(self._middles - point, axis=1) <= self._reaches
            for index in np.nonzero(near)[0]:
                lying = self.lying[index]
                x, y, off = lying.motion.back(point)
                if abs(off) > OFF or abs(float(lying.motion.out @ way)) > TILT:
                    continue
                if shapely.contains_xy(lying.outline, x, y):
                    turned = float(way @ lying.motion.along), float(way @ lying.motion.up)
                    yield lying.ply, (x, y), turned, lying.motion

    def _past(self, ply: Ply, motion: Pose | None, spot: Spot) -> bool:
        """Tell whether a point off a ply lies past an end of the membrane."""
        if motion is None:
            return not self.belongs_at(spot)
        lying = self._part_at(ply, spot)
        if lying.laid.on in ("jamb", "head", "sill"):
            return self._inner_ends(lying.motion.put(spot))
        point = lying.motion.put(spot)
        if lying.laid.on == "wall" and self._none_at(point, lying.motion.along):  # in a door beside it, say
            return True
        return self.spread.ended(point, self.deep)

    def ends(self, point: SpaceVec, way: SpaceVec, laid: WrittenLaid) -> bool:
        """Tell whether a point outside a pattern's edge is past an end of the membrane."""
        run, settings = self.spread.made.run, self.spread.made.settings
        first, last = settings[0].station(point[:2]), settings[-1].station(point[:2])
        if not run.closed and (first < TICK or last > run.length - TICK):
            return True
        if laid.on in ("ledge", "riser") and not self.spread.made.turn_down and not self._ground.contains(
            shapely.Point(*point[:2])
        ):
            return True
        flap = laid.on in ("jamb", "head", "sill")
        if flap and self._inner_ends(point):
            return True
        if self._none_at(point, way):
            return True
        return laid.on in ("footing face", "riser", "wall") and self.spread.ended(point, self.deep)

    def under_none(self, point: SpaceVec, way: SpaceVec, at: Spot, slack: float) -> bool:
        """Tell whether an edge lies along the foot of another wall, where there is none: under a door in it, say."""
        found = [(spot, (spot[0] - ahead * BESIDE, spot[1] - up * BESIDE))
                 for spot, (ahead, up) in self.spread.found(point, way, slack) if math.dist(at, spot) > 4 * OFF]
        return bool(found) and all(
            past[1] > self.spread.made.height(spot[0]) - EDGE
            and not self.belongs_at(past) for spot, past in found)

    def _none_at(self, point: SpaceVec, way: SpaceVec) -> bool:
        """Tell whether a point in space is on the developed sheet, and where none need be."""
        spots = [spot for spot, _ in self.spread.found(point, way)]
        return bool(spots) and not any(map(self.belongs_at, spots))

    def _inner_ends(self, point: SpaceVec) -> bool:
        """Tell whether a point in an opening is past the inner end of what turns in."""
        for flap in self.spread.flaps:
            x, y, off = flap.motion.back(point)
            if abs(off) <= OFF and flap.away(x, y, flap.side) >= flap.deep - TICK:
                return True
        return False


def _lying(ply: Ply, again: Sequence[Pose]) -> Iterator[_Lying]:
    """Yield a pattern's parts where they lie, first this time around a closed run, then the other times."""
    for laid, motion in [(laid, motion_of(laid).carried(move) if move else motion_of(laid))
                         for move in (None, *again) for laid in ply.piece.parts]:
        outline = Polygon(laid.outline)
        wide = outline.buffer(EDGE, join_style="mitre")
        shapely.prepare(wide)
        middle = motion.put((outline.centroid.x, outline.centroid.y))
        reach = max(math.dist((outline.centroid.x, outline.centroid.y), spot) for spot in laid.outline) + 2 * OFF
        yield _Lying(ply, laid, motion, wide, middle, reach)


# --- the walk ----------------------------------------------------------------------------------

def check_held(plies: Plies, run: str, book: Findings) -> None:
    """Note each stretch of an edge that is not held, the longest of each piece first."""
    step = STEP_INCH if plies.asked.unit.name == "in" else STEP_MM
    for ply in [each for each in plies.flat if not each.by]:
        found = edge_walk(ply, step)
        laps = plies.laps_of(ply, found)
        loose = plies.loose_flat(ply, found, laps)
        beside = plies.spread.beside_steps(found.spots, found.ways)
        for index in np.nonzero(loose)[0].tolist():
            spot = found.spots[index] + found.ways[index] * BESIDE
            motion = plies.spread.motion_at((float(spot[0]), float(spot[1])))
            at = (float(found.spots[index][0]), float(found.spots[index][1]))
            way = found.ways[index][0] * motion.along + found.ways[index][1] * motion.up
            here = (float(spot[0]), float(spot[1]))
            rides = plies.spread.rides(here)
            point = motion.put(at)
            held = plies.held(list(plies.spread.where_it_rides(here, point)), way, ply, at, float(laps[index]), rides,
                              goes_on=bool(beside[index]))
            loose[index] = not held and not plies.under_none(point, way, at, rides) and not (
                plies.spread.below(here, plies.deep))
        _note(ply, found, loose, run, book, None)
    for ply in plies.patterns:
        found = edge_walk(ply, step)
        loose = np.zeros(len(found.spots), dtype=bool)
        points: dict[int, SpaceVec] = {}
        parts = [lying for lying in plies.lying if lying.ply is ply][:len(ply.piece.parts)]
        inside = shapely.points(found.spots + found.ways * BESIDE)
        nearest = np.argmin([shapely.distance(each.outline, inside) for each in parts], axis=0).tolist()
        for index, (spot, inward) in enumerate(zip(found.spots, found.ways)):
            lying = parts[nearest[index]]
            point = lying.motion.put((float(spot[0]), float(spot[1])))
            way = inward[0] * lying.motion.along + inward[1] * lying.motion.up
            points[index] = point
            near = [there for there, _ in plies.spread.found(
                point + way * BESIDE, way, max(plies.spread.made.fillet, OFF))]
            rides = max(map(plies.spread.rides, near), default=0.0)
            elsewhere = [each for there in near for each in itertools.islice(
                plies.spread.where_it_rides(there, point), 1, None)]
            loose[index] = not plies.ends(point - way * BESIDE, way, lying.laid) and not plies.held(
                [point, *elsewhere], way, ply, (float(spot[0]), float(spot[1])), plies.lap, rides)
        _note(ply, found, loose, run, book, points)


def _note(ply: Ply, found: Walk, loose: Bools, run: str, book: Findings, points: Mapping[int, SpaceVec] | None) -> None:
    """Note the longest loose stretch of a ply's edges."""
    best: list[int] = []
    current: list[int] = []
    for index in range(len(loose)):
        if loose[index] and current and found.edges[current[-1]] == found.edges[index] and current[-1] == index - 1:
            current.append(index)
        elif loose[index]:
            current = [index]
        if loose[index] and len(current) > len(best):
            best = list(current)
    if len(best) < SHORTEST:
        return
    middle = best[len(best) // 2]
    long = math.dist(found.spots[best[0]], found.spots[best[-1]])
    if points is None:
        place = book.at(run, *map(float, found.spots[middle]))
    else:
        x, y, z = points[middle]
        place = f"run {run}, ({book.say_length(x)}, {book.say_length(y)}) on plan, elevation {book.say_length(z)}"
    book.note(1003, f"piece {ply.piece.tag}, {place}", "another ply across the edge, the lap past it on both sides",
              f"none over {book.say_length(long)} or more")
