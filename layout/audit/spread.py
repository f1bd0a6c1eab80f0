"""Where the developed sheet of a run lies in space, and back: strips over wall and footing, flaps in openings."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.audit.asked import Asked, AskedOpening, AskedRun
from layout.audit.concrete import (
    FLAT, UP, RunInSpace, FaceCorner, Pose, Plane, Spot, DevelopedBand, SpaceVec, joint,
)

OFF = 3.0
"""Plies lie on one another: so far apart where rounding and folds add up [ticks]."""
EDGE = 1.5
"""How far outside a surface a point may be and still be on it: one rounding and a half [ticks]."""
TILT = 0.05
"""Sine of the angle within which a direction lies in a surface."""
STEEP = 0.87
"""The same where a flap rides up a fillet: 45 degrees from level and as much as 15 of slope."""


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
            self.away(x, y, side) for side in ("left", "right", "bottom", "top")) + by) and (
            min(self.away(x, y, side) for side in ("left", "right", "bottom", "top")) >= -by)

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
        self._places: list[tuple[Pose, DevelopedBand | Flap, int]] = [
            (part.motion, strip, number) for strip in made.strips for number, part in enumerate(strip.parts)
        ] + [(flap.motion, flap, 0) for flap in self.flaps]
        self._origins = np.array([motion.origin for motion, _, _ in self._places])
        self._out = np.array([motion.out for motion, _, _ in self._places])

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
        return self.ended(self.motion_at(spot).put(spot), reach)

    def rides(self, spot: Spot) -> float:
        """Return how far a flap lies off the ledge at an inside corner [ticks]: up a fillet; 0 elsewhere."""
        return max(self.made.fillet, OFF) if self._flap_at(spot) else 0.0

    def where_it_rides(self, spot: Spot, point: SpaceVec) -> Iterator[SpaceVec]:
        """Yield where a point of the sheet may lie: where it is and, beside an inside corner, on the next ledge.

        Where one of the two ledges slopes they part on the way out: what hangs on the lower one rides on the higher.
        """
        yield point
        strip = self._flap_at(spot)
        for corner in self.made.corners if strip else ():
            assert strip is not None
            before = corner.before.face is strip.stretch.face
            if not before and corner.after.face is not strip.stretch.face or corner.turn >= 0 or corner.at not in (
                    strip.left, strip.right):
                continue
            own, other = (corner.before, corner.after) if before else (corner.after, corner.before)
            there = [each for each in self.made.strips if each.stretch.face is other.face
                     and corner.at in (each.left, each.right)]
            for each in there:
                apart = each.height(other.station(point[:2])) - strip.height(own.station(point[:2]))
                if each.height(corner.at) == strip.height(corner.at) and abs(apart) > FLAT:
                    yield point + apart * UP

    def _flap_at(self, spot: Spot) -> DevelopedBand | None:
        """Return the strip that a point of a flap is on which goes on past its footing's edge; None elsewhere."""
        return next((strip for strip in self.made.strips if strip.left <= spot[0] <= strip.right
                     and not strip.stretch.faced and spot[1] < strip.height(spot[0])), None)

    def found(self, point: SpaceVec, way: SpaceVec, slack: float = 0.0) -> Iterator[tuple[Spot, Spot]]:
        """Yield each point of the developed sheet that lies at a point in space, and a direction in space there.

        Parameters
        ----------
        point
            In space.
        way
            A direction in the surface there; where it leaves a surface that surface is passed over.
        slack
            How much farther off a surface a point may be, and the direction may then leave it as on a
            fillet [ticks].
        """
        away = point - self._origins
        off = np.abs(np.einsum("ij,ij->i", away, self._out))
        tilt = np.abs(self._out @ way)
        for index in np.nonzero((off <= OFF + slack) & (tilt <= (STEEP if slack else TILT)))[0].tolist():
            motion, place, number = self._places[index]
            x, y = float(away[index] @ motion.along), float(away[index] @ motion.up)
            if isinstance(place, Flap):
                inside = place.holds(x, y)
            else:
                inside = place.left - EDGE <= x <= place.right + EDGE and self._on_part(place, number, x, y)
            if inside:
                ahead, up = float(way @ motion.along), float(way @ motion.up)
                long = math.hypot(ahead, up)
                yield (x, y), (ahead / long, up / long)

    def _on_part(self, strip: DevelopedBand, number: int, x: float, y: float) -> bool:
        if y > strip.parts[number].begins(x) + EDGE:
            return False
        return number + 1 == len(strip.parts) or y >= strip.parts[number + 1].begins(x) - EDGE

    def ended(self, point: SpaceVec, reach: float) -> bool:
        """Tell whether a point on a footing's face lies below the end of the turn-down there.

        Parameters
        ----------
        point
            In space.
        reach
            How far past the ends of a strip its footing's face may go on [ticks].
        """
        for strip in self.made.strips:
            last = strip.parts[-1]
            if last.plane.kind not in ("footing face", "wall"):
                continue
            x, y, off = last.motion.back(point)
            if abs(off) <= OFF and strip.left - reach <= x <= strip.right + reach:
                edge = last.begins(x) if last.fold else strip.height(x)
                if y <= edge - self.made.turn_down + 2 * EDGE:
                    return True
        if any(self._below_higher(point, corner, reach) for corner in self.made.corners if corner.turn > 0):
            return True
        # on the end of a ledge too, which no strip has: below the turn-down of every footing near it
        lowest = min(self._heights_near(point, reach), default=math.inf)
        return float(point[2]) <= lowest - self.made.turn_down + 2 * EDGE

    def _heights_near(self, point: SpaceVec, reach: float) -> Iterator[float]:
        for setting in self.made.settings:
            x, off = setting.station(point[:2]), float((point[:2] - setting.start) @ setting.out)
            if -OFF <= off <= reach:
                for strip in self.made.strips:
                    if strip.stretch.face is setting.face and strip.left - OFF <= x <= strip.right + OFF:
                        yield strip.height(min(max(x, strip.left), strip.right))

    def _below_higher(self, point: SpaceVec, corner: FaceCorner, reach: float) -> bool:
        """Tell whether a point is below the turn-down on a higher footing that comes around an outside corner."""
        left, right = corner.before.face.footing[-1][1], corner.after.face.footing[0][1]
        lower, way = (corner.before, 1.0) if left < right else (corner.after, -1.0)
        past = (lower.station(point[:2]) - corner.at) * way
        off = float((point[:2] - lower.spot(corner.at, lower.face.ledge)) @ lower.out)
        low_enough = float(point[2]) <= max(left, right) - self.made.turn_down + 2 * EDGE
        return left != right and abs(off) <= OFF and -EDGE <= past <= reach and low_enough

    def beside_steps(self, spots: NDArray[np.float64], ways: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tell of each point of the developed sheet whether it is on an upright edge along a riser.

        There the sheet of the lower footing ends, though not the concrete.
        """
        found = np.zeros(len(spots), dtype=bool)
        for left, right in zip(self.made.strips, self.made.strips[1:]):
            heights = left.height(left.right), right.height(left.right)
            upper = left if heights[0] > heights[1] else right
            if abs(heights[0] - heights[1]) > EDGE and upper.stretch.face.ledge:
                found |= ((np.abs(spots[:, 0] - left.right) <= EDGE) & (np.abs(ways[:, 0]) > 0.99)
                          & (spots[:, 1] < max(heights) + self.made.fillet))
        return found


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
