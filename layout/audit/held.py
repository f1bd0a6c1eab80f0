"""1003: every edge of every ply, slits too, is held: other plies lie across it and reach the lap past it on both sides.

The lap goes with the edge: the end lap where two pieces of one drop lie over one another and one of them ends, the side
lap everywhere else. Points about an inch apart are walked along all edges. At each, probes go so far to both sides
along the sheet of whatever lies there: sheet is folded, not stretched, so that a length on it is the length along the
concrete. A ply that ends on the way may be lapped by another that goes on. Exempt are the ends of the membrane (its
line, the end of the turn-down, the ends of an open run, openings, sleeves, the inner ends of what is turned into an
opening) and what lies under a dab.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.audit.asked import Asked
from layout.audit.concrete import FLAT, UP, Array, Pose, SpaceVec
from layout.audit.coverage import HungLayer
from layout.audit.findings import Findings
from layout.audit.folding import cut_openings, motion_of
from layout.audit.spread import EDGE, OFF, TILT, Bools, Index, Spread
from layout.audit.walls import farther_along, shifted
from layout.audit.written import WrittenLaid, WrittenDab, WrittenPiece

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
TURNED_IN = ("jamb", "head", "sill")
"""What is turned into an opening lies on these."""
SHORTEST = 2
"""So many points in a row must be loose: a single one, an inch at most, is where roundings meet."""


@dataclass(frozen=True)
class Walk:
    """Points along the edges of one ply: where, the way into the ply there, and which edge each is on."""

    spots: Array
    ways: Array
    edges: NDArray[np.int64]

    def some(self, which: Bools) -> Walk:
        """Return some of them."""
        return Walk(self.spots[which], self.ways[which], self.edges[which])


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
        self.shape = farther_along(piece.shape, by)
        self.bounds = self.shape.bounds
        left, low, right, high = self.bounds
        self._plain = len(piece.ring) == 4 and not piece.holes and abs(
            self.shape.area - (right - left) * (high - low)) < 0.5
        self.slits = np.array([[a[0] + by, a[1], b[0] + by, b[1]] for a, b in piece.slits], dtype=float).reshape(-1, 4)

    def holds(self, spots: Array) -> Bools:
        """Tell of each point whether the ply, a tick wider, is there."""
        left, low, right, high = self.bounds
        x, y = spots[..., 0], spots[..., 1]
        inside: Bools = (x >= left - TICK) & (x <= right + TICK) & (y >= low - TICK) & (y <= high + TICK)
        if not self._plain and inside.any():
            inside[inside] = shapely.contains_xy(self._wide, x[inside], y[inside])
        return inside

    @cached_property
    def _wide(self) -> BaseGeometry:
        wide = self.shape.buffer(TICK + FLAT, join_style="mitre")  # its edge belongs to it
        shapely.prepare(wide)
        return wide

    def reaches(self, starts: Array, ends: Array) -> Bools:
        """Tell of each end whether the ply is there, and no slit between that and the start, where it is too."""
        there = self.holds(ends)
        if len(self.slits) and there.any():
            there[there] = ~self._parted(np.broadcast_to(starts, ends.shape)[there], ends[there])
        return there

    def _parted(self, starts: Array, ends: Array) -> Bools:
        """Tell of each way from a start to an end whether a slit of the ply crosses it."""
        ax, ay, bx, by = self.slits.T[:, :, None]
        (sx, sy), (ex, ey) = starts.T, ends.T
        one, other = ((bx - ax) * (y - ay) - (by - ay) * (x - ax) for x, y in ((sx, sy), (ex, ey)))
        first, second = ((ex - sx) * (y - sy) - (ey - sy) * (x - sx) for x, y in ((ax, ay), (bx, by)))
        crossed: Bools = ((one * other < 0) & (first * second <= 0)).any(axis=0)
        return crossed


def edge_walk(ply: Ply, step: float) -> Walk:
    """Return points about a step apart along all edges of a ply and both sides of its slits."""
    rings = [shapely.get_coordinates(ring)[::1 if ring.is_ccw == outer else -1] for outer, rings in (
        (True, [ply.shape.exterior]), (False, ply.shape.interiors)) for ring in rings]
    slits = ply.slits.reshape(-1, 2, 2)
    starts = np.concatenate([*(ring[:-1] for ring in rings), np.repeat(slits[:, 0], 2, axis=0)])
    along = np.concatenate([*(ring[1:] for ring in rings), np.repeat(slits[:, 1], 2, axis=0)]) - starts
    long = np.hypot(*along.T)
    sides = np.concatenate([np.ones(len(starts) - 2 * len(slits)), np.tile([1.0, -1.0], len(slits))])
    held = long >= EDGE
    starts, along, long, sides = starts[held], along[held], long[held], sides[held]
    inward = np.stack([-along[:, 1], along[:, 0]], axis=1) * (sides / long)[:, None]
    counts = np.maximum(np.round(long / step).astype(int), 1)
    edges = np.repeat(np.arange(len(starts)), counts)
    shares = (np.arange(len(edges)) - np.repeat(np.cumsum(counts) - counts, counts) + 0.5) / counts[edges]
    return Walk(starts[edges] + shares[:, None] * along[edges], inward[edges], edges)


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
class _Meeting:
    """A ply at points in space: at which of them, where on the ply that is, and the direction there."""

    ply: Ply
    of: Index
    spots: Array
    ahead: Array

    def some(self, which: Bools | Index) -> _Meeting:
        """Return it at some of its points."""
        return _Meeting(self.ply, self.of[which], self.spots[which], self.ahead[which])


@dataclass(frozen=True)
class _EdgePoints:
    """Points of a ply's edges in space.

    Parameters
    ----------
    ply, at
        The ply whose edges they are of, and where they are on it.
    points, ways
        Where they are in space, and the way into the ply at each.
    laps
        How far past the edge other plies must reach on both sides [ticks].
    rides
        How much farther than usual a ply may be from each: where a flap rides up a fillet [ticks].
    elsewhere
        Where else they may come to lie, on another ledge beside their own: which of them, and there.
    goes_on
        Whether the concrete goes on past the edge though no sheet need: beside a riser.
    """

    ply: Ply
    at: Array
    points: Array
    ways: Array
    laps: Array
    rides: Array
    elsewhere: tuple[Index, Array]
    goes_on: Bools


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
        self._parts = {ply: [lying for move in (None, *again) for lying in _lying(ply, move)] for ply in self.patterns}
        self.lying = [lying for parts in self._parts.values() for lying in parts]
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

    def near(self, ply: Ply) -> list[Ply]:
        """Return the other flat plies whose boxes are no farther than a lap from that of one."""
        left, low, right, high = ply.bounds
        by = max(self.lap, self.end_lap) + 2 * TICK
        found = self._tree.query(shapely.box(left - by, low - by, right + by, high + by))
        return [self.flat[index] for index in found if self.flat[index] is not ply]

    def belongs(self, spots: Array) -> Bools:
        """Tell of each point of the developed sheet whether sheet must be there."""
        found = np.zeros(len(spots), dtype=bool)
        if len(spots):
            for index in self._wall_tree.query(shapely.box(*spots.min(axis=0), *spots.max(axis=0))):
                found |= shapely.contains_xy(self._walls[index], spots[:, 0], spots[:, 1])
        return found

    def dabbed(self, points: Array) -> Bools:
        """Tell of each point in space whether a dab lies over it."""
        found: Bools = (np.linalg.norm(self._points - points[:, None], axis=2) <= self._sizes).any(axis=1)
        return found

    # --- flat plies ----------------------------------------------------------------------------

    def loose_flat(self, ply: Ply, found: Walk, laps: Array, others: Sequence[Ply]) -> Bools:
        """Tell of each point of a flat ply's edges whether no flat ply holds it where the sheet lies side by side."""
        inner = found.spots + found.ways * BESIDE
        ends = found.spots + found.ways * (np.array(SHARES)[:, None] * laps)[:, :, None]
        crossed = np.zeros(len(inner), dtype=bool)
        reached = np.zeros(ends.shape[:2], dtype=bool)
        for other in others:
            here = other.holds(inner)
            if here.any():
                crossed |= here
                reached |= here & other.reaches(inner, ends)
        for far, half in HALVES.items():  # what laps those plies half way there holds on: its own edge is walked too
            for other in others:
                left = np.flatnonzero(reached[half] & ~reached[far])
                if left.size:
                    start, end = ends[half, left], ends[far, left]
                    reached[far, left] = other.holds(start) & other.reaches(start, end)
        short = crossed & ~reached
        reached[short] = ~self.belongs(ends[short])  # past an end of the membrane nothing need reach
        loose = ~(crossed & reached.all(axis=0))
        for by in (BESIDE, BESIDE / 3):  # in a narrow notch of the membrane line there is sheet again further out
            loose[loose] = self.belongs((found.spots - found.ways * by)[loose])
        loose |= self.spread.beside_steps(found.spots, found.ways)
        loose[loose] = self.belongs(inner[loose])
        return loose

    def laps_of(self, ply: Ply, found: Walk, others: Sequence[Ply]) -> Array:
        """Return the lap that plies must reach past each point of a flat ply's edges [ticks].

        It is the end lap where an edge is level and another piece of the same drop lies across it.
        """
        laps = np.full(len(found.spots), self.lap)
        ends = np.abs(found.ways[:, 0]) < FLAT
        same = [other for other in others if other.piece.drop == ply.piece.drop and other.piece is not ply.piece]
        if ply.piece.drop and same and ends.any():
            inner = found.spots + found.ways * BESIDE
            for other in same:
                laps[ends & other.holds(inner)] = self.end_lap
        return laps

    # --- in space ------------------------------------------------------------------------------

    def held(self, edge: _EdgePoints) -> Bools:
        """Tell of each point of an edge in space whether other plies hold it.

        Another place of the same sheet may come to lie there and hold it too.
        """
        cases = np.concatenate([np.arange(len(edge.points)), edge.elsewhere[0]])
        points, ways = np.concatenate([edge.points, edge.elsewhere[1]]), edge.ways[cases]
        crossed = np.zeros(len(edge.points), dtype=bool)
        reached = np.zeros((len(SHARES), len(edge.points)), dtype=bool)
        half_way: list[tuple[int, _Meeting]] = []
        for met in self._there(points + ways * BESIDE, ways, edge.rides[cases]):
            on = met.ply.holds(met.spots)
            if met.ply.piece is edge.ply.piece:
                on &= np.hypot(*(edge.at[cases[met.of]] - met.spots + (met.ply.by, 0.0)).T) >= 4 * OFF
            if not on.any():
                continue
            met, of = met.some(on), cases[met.of[on]]
            crossed[of] = True
            ends = met.spots + met.ahead * (np.array(SHARES)[:, None] * edge.laps[of] - BESIDE)[:, :, None]
            there = met.ply.reaches(met.spots, ends)
            half_way += [(half, _Meeting(met.ply, of[there[half]], ends[half, there[half]], met.ahead[there[half]]))
                         for half in HALVES.values()]
            short = ~there & ~reached[:, of] & ~(edge.goes_on[of] & met.ply.piece.flat)
            there[short] = self._past(met.ply, ends[short])
            for number, on_it in enumerate(there):
                reached[number, of[on_it]] = True
        for number, half in HALVES.items():
            by = (SHARES[number] - SHARES[half]) * edge.laps
            for at_half, met in half_way:
                if at_half == half:
                    met = met.some(~reached[number, met.of])
                    reached[number, met.of[self._goes_on(met, edge, by[met.of])]] = True
        return self.dabbed(edge.points) | (crossed & reached.all(axis=0))

    def _goes_on(self, half: _Meeting, edge: _EdgePoints, rest: Array) -> Bools:
        """Tell of points where a ply may end whether another one that laps it goes on: its own edge is walked too."""
        found = np.zeros(len(half.of), dtype=bool)
        if not found.size:
            return found
        poses = self._poses(half.ply, half.spots)
        points = np.array([pose.put((x, y)) for pose, (x, y) in zip(poses, half.spots)])
        ways = np.array([ahead * pose.along + up * pose.up for pose, (ahead, up) in zip(poses, half.ahead)])
        for met in self._there(points, ways, edge.rides[half.of]):
            if met.ply.piece is not edge.ply.piece and met.ply.piece is not half.ply.piece:
                ends = met.spots + met.ahead * rest[met.of, None]
                found[met.of[met.ply.holds(met.spots) & met.ply.reaches(met.spots, ends)]] = True
        return found

    def _poses(self, ply: Ply, spots: Array) -> list[Pose]:
        """Return how a ply lies at points of it."""
        if ply.piece.flat:
            return [self.spread.motion_at((float(x), float(y))) for x, y in spots]
        parts = self.parts_of(ply)
        return [parts[number].motion for number in self.nearest(ply, spots).tolist()]

    def parts_of(self, ply: Ply) -> list[_Lying]:
        """Return the parts of a pattern where they lie this time around."""
        return self._parts[ply][:len(ply.piece.parts)]

    def nearest(self, ply: Ply, spots: Array) -> Index:
        """Return which part of a pattern points of it are on, or nearest to."""
        outlines = np.array([each.outline for each in self.parts_of(ply)])
        nearest: Index = np.argmin(shapely.distance(outlines[:, None], shapely.points(spots)), axis=0)
        return nearest

    def _there(self, points: Array, ways: Array, slack: Array) -> Iterator[_Meeting]:
        """Yield each ply that is at some of many points in space, or as near as that; ``slack`` as for ``held``."""
        found = self.spread.found(points, ways, slack)
        boxes = shapely.box(*(found.spots - TICK).T, *(found.spots + TICK).T)
        spot, flat = self._tree.query(boxes)
        for number in np.unique(flat):
            here = spot[flat == number]
            yield _Meeting(self.flat[number], found.of[here], found.spots[here], found.turned[here])
        near = np.linalg.norm(self._middles - points[:, None], axis=2) <= self._reaches
        for number in np.flatnonzero(near.any(axis=0)):
            lying, of = self.lying[number], np.flatnonzero(near[:, number])
            x, y, off = lying.motion.back_all(points[of])
            on = (np.abs(off) <= OFF) & (np.abs(ways[of] @ lying.motion.out) <= TILT)
            on &= shapely.contains_xy(lying.outline, x, y)
            turned = np.stack([ways[of] @ lying.motion.along, ways[of] @ lying.motion.up], axis=1)
            yield _Meeting(lying.ply, of, np.stack([x, y], axis=1), turned).some(on)

    def _past(self, ply: Ply, spots: Array) -> Bools:
        """Tell of points off a ply whether they lie past an end of the membrane."""
        if ply.piece.flat or not len(spots):
            return ~self.belongs(spots)
        past = np.zeros(len(spots), dtype=bool)
        nearest = self.nearest(ply, spots)
        for number in np.unique(nearest):
            lying, here = self.parts_of(ply)[number], nearest == number
            points = lying.motion.put_all(spots[here])
            if lying.laid.on in TURNED_IN:
                past[here] = self.spread.past_flaps(points, TICK)
                continue
            past[here] = self.spread.ended(points, self.deep)
            if lying.laid.on == "wall":  # in a door beside it, say
                past[here] |= self._none_at(points, np.tile(lying.motion.along, (len(points), 1)))
        return past

    def ends(self, points: Array, ways: Array, laid: WrittenLaid) -> Bools:
        """Tell of points outside the edges of a part of a pattern whether they are past an end of the membrane."""
        made = self.spread.made
        past = self._none_at(points, ways)
        if not made.run.closed:
            (first, _), (last, _) = (made.settings[end].measured(points[:, :2]) for end in (0, -1))
            past |= (first < TICK) | (last > made.run.length - TICK)
        if laid.on in ("ledge", "riser") and not made.turn_down:
            past |= ~shapely.contains_xy(self._ground, points[:, 0], points[:, 1])
        if laid.on in TURNED_IN:
            past |= self.spread.past_flaps(points, TICK)
        if laid.on in ("footing face", "riser", "wall"):
            past |= self.spread.ended(points, self.deep)
        return past

    def under_none(self, at: Array, points: Array, ways: Array, rides: Array) -> Bools:
        """Tell of points of edges whether they lie along the foot of another wall, where there is none.

        That is under a door in it, say; the points, on the ply and in space, are as of ``_EdgePoints``.
        """
        found = self.spread.found(points, ways, rides)
        other = np.hypot(*(at[found.of] - found.spots).T) > 4 * OFF
        of, past = found.of[other], (found.spots - found.turned * BESIDE)[other]
        joints = self.spread.made.heights(found.spots[other, 0])
        none = (past[:, 1] > joints - EDGE) & ~self.belongs(past)
        return _any(of, none, len(at)) & ~_any(of, ~none, len(at))

    def _none_at(self, points: Array, ways: Array) -> Bools:
        """Tell of points in space whether they are on the developed sheet, and where none need be."""
        found = self.spread.found(points, ways, np.zeros(len(points)))
        belongs = self.belongs(found.spots)
        return _any(found.of, ~belongs, len(points)) & ~_any(found.of, belongs, len(points))


def _any(of: Index, true: Bools, count: int) -> Bools:
    """Tell of each of so many things whether anything is true of it."""
    found = np.zeros(count, dtype=bool)
    found[of[true]] = True
    return found


def _lying(ply: Ply, move: Pose | None) -> Iterator[_Lying]:
    """Yield a pattern's parts where they lie; ``move`` takes them to another time around a closed run."""
    for laid in ply.piece.parts:
        motion = motion_of(laid).carried(move) if move else motion_of(laid)
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
        others = plies.near(ply)
        laps = plies.laps_of(ply, found, others)
        loose = plies.loose_flat(ply, found, laps, others)
        if loose.any():
            loose[loose] = _loose_in_space(plies, ply, found.some(loose), laps[loose])
        _note(ply, found, loose, run, book, None)
    for ply in plies.patterns:
        found = edge_walk(ply, step)
        points, loose = _loose_pattern(plies, ply, found)
        _note(ply, found, loose, run, book, points)


def _loose_in_space(plies: Plies, ply: Ply, found: Walk, laps: Array) -> Bools:
    """Tell of points of a flat ply's edges whether nothing holds them where the sheet is folded."""
    inner = found.spots + found.ways * BESIDE
    spots = [(x, y) for x, y in inner.tolist()]
    motions = [plies.spread.motion_at(spot) for spot in spots]
    points = np.array([motion.put((x, y)) for motion, (x, y) in zip(motions, found.spots.tolist())])
    ways = np.array([x * motion.along + y * motion.up for motion, (x, y) in zip(motions, found.ways.tolist())])
    edge = _EdgePoints(ply, found.spots, points, ways, laps, plies.spread.rides(inner),
                       plies.spread.elsewhere(inner, points), plies.spread.beside_steps(found.spots, found.ways))
    loose = ~plies.held(edge)
    if loose.any():
        loose[loose] = ~plies.under_none(edge.at[loose], points[loose], ways[loose], edge.rides[loose])
    for index in np.flatnonzero(loose).tolist():
        loose[index] = not plies.spread.below(spots[index], plies.deep)
    return loose


def _loose_pattern(plies: Plies, ply: Ply, found: Walk) -> tuple[Array, Bools]:
    """Return where points of a pattern's edges are in space, and tell of each whether nothing holds it."""
    nearest = plies.nearest(ply, found.spots + found.ways * BESIDE)
    points, ways = np.zeros((2, len(nearest), 3))
    loose = np.ones(len(nearest), dtype=bool)
    for number, lying in enumerate(plies.parts_of(ply)):
        here = nearest == number
        points[here] = lying.motion.put_all(found.spots[here])
        ways[here] = found.ways[here, :1] * lying.motion.along + found.ways[here, 1:] * lying.motion.up
        loose[here] = ~plies.ends(points[here] - ways[here] * BESIDE, ways[here], lying.laid)
    at, way = points[loose], ways[loose]
    spread = plies.spread
    near = spread.found(at + way * BESIDE, way, np.full(len(at), max(spread.made.fillet, OFF)))
    rides = np.zeros(len(at))
    np.maximum.at(rides, near.of, spread.rides(near.spots))
    of, there = spread.elsewhere(near.spots, at[near.of])
    loose[loose] = ~plies.held(_EdgePoints(
        ply, found.spots[loose], at, way, np.full(len(at), plies.lap), rides, (near.of[of], there),
        np.zeros(len(at), dtype=bool)))
    return points, loose


def _note(ply: Ply, found: Walk, loose: Bools, run: str, book: Findings, points: Array | None) -> None:
    """Note the longest loose stretch of a ply's edges."""
    best: list[int] = []
    current: list[int] = []
    for index in np.flatnonzero(loose).tolist():
        if current and found.edges[current[-1]] == found.edges[index] and current[-1] == index - 1:
            current.append(index)
        else:
            current = [index]
        if len(current) > len(best):
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
