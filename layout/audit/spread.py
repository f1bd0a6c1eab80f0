"""Where the developed sheet of a run lies in space, and back: strips over wall and footing, flaps in openings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.audit.asked import Asked, AskedOpening, AskedRun
from layout.audit.concrete import (
    ENDLESS, FLAT, UP, Array, RunInSpace, Pose, Plane, Setting, Spot, DevelopedBand, SpaceVec, build, joint,
)
from layout.audit.written import Written

Bools = NDArray[np.bool_]
Index = NDArray[np.intp]

OFF = 3.0
"""Plies lie on one another: so far apart where rounding and folds add up [ticks]."""
EDGE = 1.5
"""How far outside a surface a point may be and still be on it: one rounding and a half [ticks]."""
TILT = 0.05
"""Sine of the angle within which a direction lies in a surface."""
STEEP = 0.87
"""The same where a flap rides up a fillet: 45 degrees from level and as much as 15 of slope."""
SIDES = ("left", "right", "bottom", "top")
"""The sides of an opening that sheet turns in at."""


@dataclass(frozen=True)
class Flap:
    """What of the sheet turns into an opening at one of its sides; ``side`` is left, right, bottom or top."""

    opening: AskedOpening
    side: str
    motion: Pose
    deep: float

    def holds(self, x: float, y: float, by: float = EDGE) -> bool:
        """Tell whether a point of the sheet is on the flap: nearer its side than the others, and not past its end."""
        return self.away(x, y, self.side) <= min(self.deep + by, min(
            self.away(x, y, side) for side in SIDES) + by) and (
            min(self.away(x, y, side) for side in SIDES) >= -by)

    def away(self, x: float, y: float, side: str) -> float:
        """Return how far within the opening a point is from one of its sides."""
        here = self.opening
        return {"left": x - here.left, "right": here.right - x, "bottom": y - here.bottom, "top": here.top - y}[side]


@dataclass(frozen=True)
class _End:
    """One end of a strip's footing on a straight wall: where, which way is past it, and the footing beside it.

    ``bent`` is the way the ledge beside it faces where that goes on from the same height at another slope.
    """

    at: SpaceVec
    away: SpaceVec
    out: SpaceVec
    top: float
    other_ledge: float
    other_top: float
    bent: SpaceVec | None = None

    def turns(self, kind: str, point: SpaceVec) -> SpaceVec | None:
        """Return which way the surface looks that sheet at a point past the end is turned on to; None where to none."""
        if kind not in ("ledge", "footing face") or float((point - self.at) @ self.away) <= FLAT:
            return None
        off, height = float((point - self.at) @ self.out), self.top if kind == "ledge" else float(point[2])
        if self.other_ledge < off - FLAT or self.other_top < height - FLAT:
            return self.away  # over its own end: nothing is beside it
        if self.other_ledge > off + FLAT and self.other_top > height + FLAT:
            return -self.away  # into the end of what is beside it
        return self.bent if kind == "ledge" else None


@dataclass(frozen=True)
class _AroundCorner:
    """Where a strip's footing comes to an outside corner and goes on around it level: where, and which way is past."""

    at: SpaceVec
    away: SpaceVec

    def turns(self, kind: str, point: SpaceVec) -> SpaceVec | None:
        """Return which way the surface looks that sheet at a point past the end is bent on to; None where to none."""
        return UP if kind == "ledge" and float((point - self.at) @ self.away) > FLAT else None


def _around_corners(made: RunInSpace, strip: DevelopedBand) -> Iterator[_AroundCorner]:
    """Yield the ends of a sloping strip's ledge at outside corners that its own footing goes around."""
    for corner in made.corners:
        first = corner.before.face is strip.stretch.face and abs(corner.at - strip.right) < FLAT
        second = corner.after.face is strip.stretch.face and abs(corner.at - strip.left) < FLAT
        if corner.turn <= 0 or corner.edge is None or not (first or second):
            continue
        own, other = (corner.before, corner.after) if first else (corner.after, corner.before)
        level, beside = strip.height(corner.at), joint(other.face, at_right=second)
        if -corner.back(left=first) > FLAT and (level >= beside or not other.face.ledge):
            yield _AroundCorner(_at(corner.spot, level), (1.0 if first else -1.0) * _at(own.way, 0.0))


def _at(spot: SpaceVec, z: float) -> SpaceVec:
    return np.array([spot[0], spot[1], z])


def _ends_of(made: RunInSpace, index: int) -> Iterator[_End]:
    """Yield the ends of a strip where a straight wall goes on beside another footing."""
    strip = made.strips[index]
    own = next(each for each in made.settings if each.face is strip.stretch.face)
    for beside, at, sign in ((index - 1, strip.left, -1.0), (index + 1, strip.right, 1.0)):
        if not 0 <= beside < len(made.strips) or not strip.stretch.faced or not made.strips[beside].stretch.faced:
            continue
        other = made.strips[beside]
        setting = next(each for each in made.settings if each.face is other.stretch.face)
        if float(np.linalg.norm(setting.way - own.way)) < FLAT:
            spot = own.spot(at)
            top = strip.height(at)
            ledge = next((part.plane.out for part in other.parts if part.plane.kind == "ledge"), None)
            alike = ledge is None or abs(other.height(at) - top) > FLAT or any(
                float(np.linalg.norm(part.plane.out - ledge)) < FLAT for part in strip.parts)
            yield _End(_at(spot, top), sign * _at(own.way, 0.0), _at(own.out, 0.0), top, other.stretch.face.ledge,
                       other.height(at), None if alike else ledge)


@dataclass(frozen=True)
class SheetSpots:
    """Points of the developed sheet that lie at points in space.

    Parameters
    ----------
    of
        Which of the points in space each lies at.
    spots, turned
        Where each is on the sheet, and the direction there.
    """

    of: Index
    spots: Array
    turned: Array


class _Places:
    """All surfaces that the sheet of a run lies on, to look many points up at once: facets of strips, then flaps."""

    def __init__(self, strips: Sequence[DevelopedBand], flaps: Sequence[Flap]) -> None:
        facets = [(strip, part, after) for strip in strips
                  for part, after in zip(strip.parts, (*strip.parts[1:], None))]
        motions = [part.motion for _, part, _ in facets] + [flap.motion for flap in flaps]
        self.origins, self.along, self.up, self.out = (
            np.array(rows) for rows in zip(*((each.origin, each.along, each.up, each.out) for each in motions)))
        self.flaps_from = len(facets)
        self._ends = np.array([(strip.left, strip.right) for strip, _, _ in facets])
        self._begins = np.array([part.fold or (0.0, 1.0, ENDLESS) for _, part, _ in facets])
        self._stops = np.array([after.fold if after else (0.0, 1.0, -math.inf) for _, _, after in facets])
        self._openings = np.array([[getattr(flap.opening, side) for side in SIDES] for flap in flaps]).reshape(-1, 4)
        self._sides = np.array([SIDES.index(flap.side) for flap in flaps], dtype=np.intp)
        self._deep = np.array([flap.deep for flap in flaps])

    def has(self, place: Index, x: Array, y: Array) -> Bools:
        """Tell of each point of the sheet whether it is on a surface of its own."""
        on = np.zeros(len(place), dtype=bool)
        flat = place < self.flaps_from
        on[flat] = self._on_facet(place[flat], x[flat], y[flat])
        own, nearest, deep = self.within(place[~flat], x[~flat], y[~flat])
        on[~flat] = (own <= np.minimum(deep, nearest) + EDGE) & (nearest >= -EDGE)
        return on

    def _on_facet(self, place: Index, x: Array, y: Array) -> Bools:
        left, right = self._ends[place].T
        (a, b, c), (d, e, f) = self._begins[place].T, self._stops[place].T
        on: Bools = ((left - EDGE <= x) & (x <= right + EDGE)
                     & (y <= (c - a * x) / b + EDGE) & (y >= (f - d * x) / e - EDGE))
        return on

    def within(self, place: Index, x: Array, y: Array) -> tuple[Array, Array, Array]:
        """Return how far within openings points of flaps are from the flap's side and the nearest, and its depth."""
        flap = place - self.flaps_from
        left, right, bottom, top = self._openings[flap].T
        away = np.stack([x - left, right - x, y - bottom, top - y])
        return away[self._sides[flap], np.arange(len(flap))], away.min(axis=0), self._deep[flap]


@dataclass(frozen=True)
class _Foot:
    """The lowest parts of strips that end on a footing's face or a wall: how they lie and where each begins."""

    poses: Array
    ends: Array
    folds: Array
    heights: Array

    @classmethod
    def of(cls, strips: Sequence[DevelopedBand]) -> _Foot:
        """Return those of a run's strips."""
        low = [strip for strip in strips if strip.parts[-1].plane.kind in ("footing face", "wall")]
        motions = [strip.parts[-1].motion for strip in low]
        return cls(
            np.array([(each.origin, each.along, each.up, each.out) for each in motions]).reshape(-1, 4, 3),
            np.array([(strip.left, strip.right) for strip in low]).reshape(-1, 2),
            np.array([strip.parts[-1].fold or (math.nan,) * 3 for strip in low]).reshape(-1, 3),
            np.array([strip.stretch.heights for strip in low]).reshape(-1, 2),
        )

    def below(self, points: Array, by: float, reach: float) -> Bools:
        """Tell of each point in space whether it lies on such a part, so far below its beginning or more.

        Parameters
        ----------
        points
            In space.
        by
            How far below [ticks].
        reach
            How far past the ends of a strip its part may go on [ticks].
        """
        origins, along, up, out = self.poses.transpose(1, 0, 2)
        away = points[:, None] - origins
        x, y, off = (np.einsum("nsk,sk->ns", away, axis) for axis in (along, up, out))
        left, right = self.ends.T
        a, b, c = self.folds.T
        share = (x - left) / (right - left)
        level = self.heights[:, 0] * (1 - share) + self.heights[:, 1] * share
        edge = np.where(np.isnan(a), level, (c - a * x) / b)
        on = (np.abs(off) <= OFF) & (left - reach <= x) & (x <= right + reach)
        found: Bools = (on & (y <= edge - by)).any(axis=1)
        return found


class Spread:
    """The developed sheet of a run in space.

    Parameters
    ----------
    made
        The run's concrete.
    asked
        The job, for the openings the sheet turns into.
    """

    def __init__(self, made: RunInSpace, asked: Asked) -> None:
        self.made = made
        self.flaps = list(_flaps(made, asked))
        self._ends: dict[int, list[_End | _AroundCorner]] = {
            id(strip): [*_ends_of(made, index), *_around_corners(made, strip)]
            for index, strip in enumerate(made.strips)}
        self._places = _Places(made.strips, self.flaps)
        self._feet = _Foot.of(made.strips)
        self._edgeless = [strip for strip in made.strips if not strip.stretch.faced]
        self._beside = list(self._ledges_beside())
        self._steps = list(_steps(made))
        self._on_faces = [(setting, [strip for strip in made.strips if strip.stretch.face is setting.face])
                          for setting in made.settings]

    def motion_at(self, spot: Spot) -> Pose:
        """Return how the sheet lies around a point of it that is on no fold and no break.

        On a slope it runs askew past one end of its footing; there it is turned on to what it comes to.
        """
        for flap in self.flaps:
            if flap.opening.left < spot[0] < flap.opening.right and flap.opening.bottom < spot[1] < flap.opening.top:
                if flap.holds(*spot, by=0.0):
                    return flap.motion
        strip = self._strip_at(spot)
        if strip is None:
            strip = self.made.strips[0 if spot[0] < self.made.strips[0].left else -1]
        part = strip.part_at(*spot)
        for end in self._ends[id(strip)]:
            looks = end.turns(part.plane.kind, part.motion.put(spot))
            if looks is not None:
                return part.motion.rolled(Plane(end.at, looks, "riser"))[0]
        return part.motion

    def _strip_at(self, spot: Spot) -> DevelopedBand | None:
        """Return the strip that a point of the sheet is on; None past the run's ends."""
        return next((strip for strip in self.made.strips if strip.left <= spot[0] < strip.right), None)

    def below(self, spot: Spot, reach: float) -> bool:
        """Tell whether a flap at an inside corner comes below the end of the turn-down, on a face it runs askew over.

        Its wall's own footing is lower than the one it lies on, and it is cut as long as that asks.
        """
        strip = self._strip_at(spot)
        if strip is None or strip.stretch.faced or strip.part_at(*spot).plane.kind != "footing face":
            return False
        return bool(self.ended(self.motion_at(spot).put(spot)[None], reach)[0])

    def rides(self, spots: Array) -> Array:
        """Return how far flaps lie off the ledge at an inside corner [ticks]: up a fillet; 0 elsewhere."""
        return np.where(self._flap_at(spots) >= 0, max(self.made.fillet, OFF), 0.0)

    def elsewhere(self, spots: Array, points: Array) -> tuple[Index, Array]:
        """Return where else points of the sheet may lie beside an inside corner: which of them, and on the next ledge.

        Where one of the two ledges slopes they part on the way out: what hangs on the lower one rides on the higher.
        """
        flap = self._flap_at(spots)
        of, there = [np.zeros(0, dtype=np.intp)], [np.zeros((0, 3))]
        for number, own, other, beside in self._beside:
            at = np.flatnonzero(flap == number)
            if at.size:
                ground = points[at, :2]
                apart = beside.height(other.measured(ground)[0]) - self._edgeless[number].height(
                    own.measured(ground)[0])
                at, apart = at[np.abs(apart) > FLAT], apart[np.abs(apart) > FLAT]
                of.append(at)
                there.append(points[at] + apart[:, None] * UP)
        return np.concatenate(of), np.concatenate(there)

    def _ledges_beside(self) -> Iterator[tuple[int, Setting, Setting, DevelopedBand]]:
        """Yield the ledges beside flaps past a footing's edge: the flap's number, its face, the next and its strip."""
        for number, strip in enumerate(self._edgeless):
            for corner in self.made.corners:
                before = corner.before.face is strip.stretch.face
                if not before and corner.after.face is not strip.stretch.face or corner.turn >= 0 or corner.at not in (
                        strip.left, strip.right):
                    continue
                own, other = (corner.before, corner.after) if before else (corner.after, corner.before)
                for each in self.made.strips:
                    if each.stretch.face is other.face and corner.at in (each.left, each.right) and (
                            each.height(corner.at) == strip.height(corner.at)):
                        yield number, own, other, each

    def _flap_at(self, spots: Array) -> Index:
        """Return which flap past its footing's edge each point of the sheet is on; -1 where on none."""
        found = np.full(len(spots), -1, dtype=np.intp)
        x, y = spots.T
        for number, strip in enumerate(self._edgeless):
            found[(found < 0) & (strip.left <= x) & (x <= strip.right) & (y < strip.height(x))] = number
        return found

    def found(self, points: Array, ways: Array, slack: Array) -> SheetSpots:
        """Return all points of the developed sheet that lie at points in space, and the directions there.

        Parameters
        ----------
        points
            In space, a row for each.
        ways
            A direction in the surface at each; where it leaves a surface that surface is passed over.
        slack
            How much farther off a surface each point may be, and the direction may then leave it as on a
            fillet [ticks].
        """
        places = self._places
        off = np.abs(np.einsum("npk,pk->np", points[:, None] - places.origins, places.out))
        tilt = np.abs(ways @ places.out.T)
        of, place = np.nonzero((off <= OFF + slack[:, None]) & (tilt <= np.where(slack, STEEP, TILT)[:, None]))
        away = points[of] - places.origins[place]
        x, y = (np.einsum("ij,ij->i", away, axis[place]) for axis in (places.along, places.up))
        on = places.has(place, x, y)
        of, place = of[on], place[on]
        turned = np.stack([np.einsum("ij,ij->i", ways[of], axis[place]) for axis in (places.along, places.up)], axis=1)
        return SheetSpots(of, np.stack([x[on], y[on]], axis=1), turned / np.hypot(*turned.T)[:, None])

    def past_flaps(self, points: Array, by: float) -> Bools:
        """Tell of each point in an opening whether it is past the inner end of what turns in, or so near it."""
        places, first = self._places, self._places.flaps_from
        away = points[:, None] - places.origins[first:]
        of, flap = np.nonzero(np.abs(np.einsum("npk,pk->np", away, places.out[first:])) <= OFF)
        x, y = (np.einsum("ij,ij->i", away[of, flap], axis[first + flap]) for axis in (places.along, places.up))
        own, _, deep = places.within(first + flap, x, y)
        found = np.zeros(len(points), dtype=bool)
        found[of[own >= deep - by]] = True
        return found

    def ended(self, points: Array, reach: float) -> Bools:
        """Tell of each point on a footing's face whether it lies below the end of the turn-down there.

        Parameters
        ----------
        points
            In space, a row for each.
        reach
            How far past the ends of a strip its footing's face may go on [ticks].
        """
        by = self.made.turn_down - 2 * EDGE
        # on the end of a ledge too, which no strip has: below the turn-down of every footing near it
        return (self._feet.below(points, by, reach) | self._below_higher(points, reach)
                | (points[:, 2] <= self._lowest_near(points[:, :2], reach) - by))

    def _lowest_near(self, ground: Array, reach: float) -> Array:
        """Return how high the lowest footing near each place on plan is."""
        lowest = np.full(len(ground), math.inf)
        for setting, strips in self._on_faces:
            x, off = setting.measured(ground)
            near = (-OFF <= off) & (off <= reach)
            for strip in strips if near.any() else ():
                at = near & (strip.left - OFF <= x) & (x <= strip.right + OFF)
                lowest[at] = np.minimum(lowest[at], strip.height(np.clip(x[at], strip.left, strip.right)))
        return lowest

    def _below_higher(self, points: Array, reach: float) -> Bools:
        """Tell of points whether they are below the turn-down on a higher footing that comes around a corner."""
        found = np.zeros(len(points), dtype=bool)
        for corner in self.made.corners:
            left, right = corner.before.face.footing[-1][1], corner.after.face.footing[0][1]
            if corner.turn <= 0 or left == right:
                continue
            lower, way = (corner.before, 1.0) if left < right else (corner.after, -1.0)
            x, off = lower.measured(points[:, :2])
            past = (x - corner.at) * way
            found |= ((np.abs(off - lower.face.ledge) <= OFF) & (-EDGE <= past) & (past <= reach)
                      & (points[:, 2] <= max(left, right) - self.made.turn_down + 2 * EDGE))
        return found

    def beside_steps(self, spots: Array, ways: Array) -> Bools:
        """Tell of each point of the developed sheet whether it is on an upright edge along a riser.

        There the sheet of the lower footing ends, though not the concrete.
        """
        found = np.zeros(len(spots), dtype=bool)
        for at, top in self._steps:
            found |= (np.abs(spots[:, 0] - at) <= EDGE) & (np.abs(ways[:, 0]) > 0.99) & (spots[:, 1] < top)
        return found


class Spreads:
    """The developed sheet of each run in space, laid out once, when it is first asked for.

    Parameters
    ----------
    plan, asked
        The plan and its job.
    """

    def __init__(self, plan: Written, asked: Asked) -> None:
        self._asked = asked
        self._turn_down = {run.name: run.turn_down for run in plan.runs}
        self._spread: dict[str, Spread] = {}

    def of(self, run: AskedRun) -> Spread:
        """Return that of a run."""
        if run.name not in self._spread:
            made = build(run, self._asked, self._turn_down.get(run.name, 0))
            self._spread[run.name] = Spread(made, self._asked)
        return self._spread[run.name]


def _steps(made: RunInSpace) -> Iterator[tuple[float, float]]:
    """Yield the stations of a ledge's risers, and how high each goes on the sheet."""
    for left, right in zip(made.strips, made.strips[1:]):
        heights = left.height(left.right), right.height(left.right)
        upper = left if heights[0] > heights[1] else right
        if abs(heights[0] - heights[1]) > EDGE and upper.stretch.face.ledge:
            yield left.right, max(heights) + made.fillet


def _flaps(made: RunInSpace, asked: Asked) -> Iterator[Flap]:
    back = float(asked.rules["opening_return"])
    if not back:
        return
    run: AskedRun = made.run
    for by in (-run.length, 0.0, run.length) if run.closed else (0.0,):
        for face in run.faces:
            wall = next(strip for strip in made.strips if abs(strip.left - face.left - by) < EDGE).parts[0].motion
            for opening in face.openings:
                moved = AskedOpening(opening.tag, opening.left + by, opening.right + by, opening.bottom, opening.top)
                deep = min(back, (moved.right - moved.left) / 2, (moved.top - moved.bottom) / 2)
                low, high = wall.put((moved.left, moved.bottom)), wall.put((moved.right, moved.top))
                for side, at, out in (("left", low, wall.along), ("right", high, -wall.along), ("bottom", low, UP),
                                      ("top", high, -UP)):
                    yield Flap(moved, side, wall.rolled(Plane(at, out, side))[0], deep)
