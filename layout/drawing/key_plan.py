"""Key plan: each run from above, with face names, corners, low and high points, and where the crew begins."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count

from layout.drawing.elevations import MARGIN, bounds
from layout.drawing.labels import Places
from layout.drawing.model.blocks import SMALL, tag_written
from layout.drawing.model.entities import Box, Drawing, Entity, Insert, Line, Polyline, Text, Vec, on_wall
from layout.drawing.model.fonts import DESCENT, width, wrapped
from layout.drawing.struck import masked
from layout.records import Drop, Plan, Wall
from layout.units import tape

SCALES = {"in": (48, 64, 96, 128, 192, 240, 384, 480, 960, 1920), "mm": (50, 100, 200, 500, 1000, 2000)}
WIDEST = (330.0, 190.0)
"""Room for one run's plan on a page of 11 × 17 in or A3 [mm]."""
LINE = SMALL * (1 + DESCENT) + 0.6
NAME = 90.0
"""What is written of a face is broken into lines no longer than this [plotted mm]."""


@dataclass(frozen=True)
class PlanFace:
    """A face on plan: its ends, and the direction toward its right end as an angle."""

    name: str
    left: int
    right: int
    start: Vec
    end: Vec
    heading: float

    def at(self, station: float) -> Vec:
        """Return the point of a station."""
        share = (station - self.left) / (self.right - self.left)
        return (self.start[0] + (self.end[0] - self.start[0]) * share,
                self.start[1] + (self.end[1] - self.start[1]) * share)

    @property
    def outward(self) -> Vec:
        """The direction toward the soil: to the right of one who walks the run."""
        return math.sin(self.heading), -math.cos(self.heading)


def legs(wall: Wall) -> list[PlanFace]:
    """Return the faces of a run as they lie on plan, the first going to the right.

    Seen from the soil side a run goes left to right, so on plan the soil lies to the right of it: an outside corner
    turns left, an inside corner right.

    Parameters
    ----------
    wall
        The developed run.
    """
    found: list[PlanFace] = []
    point: Vec = (0.0, 0.0)
    heading = 0.0
    for span in wall.faces:
        length = span.right - span.left
        end = point[0] + math.cos(heading) * length, point[1] + math.sin(heading) * length
        found.append(PlanFace(span.name, span.left, span.right, point, end, heading))
        point = end
        turn = math.radians(span.angle) * {"outside": 1, "inside": -1, "none": 0}[span.corner]
        heading += turn
    return found


def ranges(tags: Sequence[str], every: Sequence[str]) -> list[str]:
    """Return tags as ranges of such as follow each other in the whole list.

    Parameters
    ----------
    tags
        Some of the tags.
    every
        All of them, in their order.

    Examples
    --------
    >>> ranges(["K-9", "K-1", "K-2", "K-3"], ["K-1", "K-2", "K-3", "K-4", "K-9"])
    ['K-9', 'K-1 to K-3']
    """
    place = {tag: number for number, tag in enumerate(every)}
    found: list[list[str]] = []
    for tag in tags:
        if found and place[tag] == place[found[-1][-1]] + 1:
            found[-1].append(tag)
        else:
            found.append([tag])
    return [group[0] if len(group) == 1 else f"{group[0]} to {group[-1]}" for group in found]


def key_plan(plan: Plan, run_name: str, *, room: tuple[float, float] = WIDEST) -> Drawing:
    """Return the key plan of one run, at the largest standard scale that fits.

    Parameters
    ----------
    plan
        The plan.
    run_name
        Which run.
    room
        Across and up [plotted mm].
    """
    wall = next(wall for wall in plan.walls if wall.run == run_name)
    unit = plan.job.unit
    walked = legs(wall)
    xs = [x for leg in walked for x in (leg.start[0], leg.end[0])]
    ys = [y for leg in walked for y in (leg.start[1], leg.end[1])]
    scale = SCALES[unit.name][-1]
    for each in SCALES[unit.name]:
        one = on_wall(1.0, unit, each)
        if (max(xs) - min(xs)) / one <= room[0] - 110 and (max(ys) - min(ys)) / one <= room[1] - 70:
            scale = each
            break
    made = _KeyPlan(plan, wall, walked, on_wall(1.0, unit, scale))
    entities = made.entities()
    entities = list(masked(entities, one=made.one))
    frame = bounds(entities, made.one).grown(MARGIN * made.one)
    return Drawing(f"{run_name} key plan", f"Run {run_name}, key plan", unit, scale, frame, tuple(entities))


@dataclass
class _KeyPlan:
    """One run's plan being drawn."""

    plan: Plan
    wall: Wall
    legs: Sequence[PlanFace]
    one: float

    def entities(self) -> list[Entity]:
        self.places = Places(12 * self.one)
        self.drawn: list[Entity] = []
        closed = self.wall.closed
        points = (self.legs[0].start, *(leg.end for leg in self.legs))
        gap = math.dist(points[0], points[-1])
        if closed and gap < 2 * self.one:
            points = points[:-1]
        self.drawn.append(Polyline("wall", points, closed=closed and gap < 2 * self.one))
        if closed and gap >= 2 * self.one:
            self.drawn.append(Line("beyond", points[-1], points[0]))
            words = f"faces and corners as given leave {tape(round(gap), self.plan.job.unit)} between the ends"
            middle = (points[0][0] + points[-1][0]) / 2, (points[0][1] + points[-1][1]) / 2
            self.write(middle, (0.0, -1.0), [words], "note")
        for leg in self.legs:
            self.keep_off(leg)
        for leg in self.legs:
            self.corner(leg)
            self.ledge(leg)
        self.water()
        self.crew()
        for leg in self.legs:
            self.name(leg)
        self.legend()
        self.north()
        return self.drawn

    def legend(self) -> None:
        """Explain the arrows under the plan."""
        one = self.one
        frame = bounds(self.drawn, one)
        y = frame.bottom - 8 * one
        arrows = [("water", "outside the wall: the way water runs along the footing")]
        if self.plan.drops:
            arrows.append(("tag", "inside: the way the crew goes, from low to high"))
        for number, (layer, words) in enumerate(arrows):
            at = y - number * 5 * one
            self.arrow((frame.left, at), (frame.left + 10 * one, at), layer)
            self.drawn.append(Text("note", (frame.left + 13 * one, at), words, SMALL, "left", "middle"))

    def keep_off(self, leg: PlanFace) -> None:
        """Take the room of a wall line and its ledge, so that nothing is written on it."""
        steps = max(1, math.ceil(math.dist(leg.start, leg.end) / (2 * self.one)))
        out = leg.outward
        for step in range(steps + 1):
            x, y = leg.at(leg.left + (leg.right - leg.left) * step / steps)
            x, y = x + out[0] * self.one, y + out[1] * self.one
            self.places.take(Box(x - 1.6 * self.one, y - 1.6 * self.one, x + 1.6 * self.one, y + 1.6 * self.one))

    def corner(self, leg: PlanFace) -> None:
        """Say what kind of corner a face ends in, inside the building."""
        span = next(span for span in self.wall.faces if span.left == leg.left)
        if span.corner == "none" or (leg is self.legs[-1] and not self.wall.closed):
            return
        words = span.corner if span.angle == 90 else f"{span.corner} {span.angle:g}°"
        after = leg.heading + math.radians(span.angle) / 2 * (1 if span.corner == "outside" else -1)
        inward = -math.sin(after), math.cos(after)
        self.write(leg.end, inward, [words], "text")

    def ledge(self, leg: PlanFace) -> None:
        """Draw the footing's edge beside a face."""
        span = next(span for span in self.wall.faces if span.left == leg.left)
        if not span.ledge:
            return
        out = leg.outward[0] * span.ledge, leg.outward[1] * span.ledge
        self.drawn.append(Line("footing", (leg.start[0] + out[0], leg.start[1] + out[1]),
                               (leg.end[0] + out[0], leg.end[1] + out[1])))

    def leg_of(self, station: float) -> PlanFace:
        station %= self.wall.length
        return next((leg for leg in self.legs if leg.left <= station <= leg.right), self.legs[-1])

    def water(self) -> None:
        """Draw the way water runs outside each face, and a mark at each low and high point."""
        slopes = self.wall.slopes
        for leg in self.legs:
            for start, end, side in slopes:
                low, high = max(start, leg.left), min(end, leg.right)
                if high - low < 14 * self.one:
                    continue
                middle, half = (low + high) / 2, 5 * self.one
                ends = (middle - half, middle + half) if side == "right" else (middle + half, middle - half)
                out = leg.outward[0] * 4 * self.one, leg.outward[1] * 4 * self.one
                tail, head = (self._moved(leg.at(station), out) for station in ends)
                self.arrow(tail, head, "water")
        pairs = zip(slopes, (*slopes[1:], *(slopes[:1] if self.wall.closed else ())), strict=False)
        for (_, at, before), (_, _, after) in pairs:
            if before == after:
                continue
            leg = self.leg_of(at)
            kind = "low point" if before == "right" else "high point"
            point = leg.at(at % self.wall.length if at != leg.right else at)
            mark = self._moved(point, (leg.outward[0] * 2 * self.one, leg.outward[1] * 2 * self.one))
            self.drawn.append(Insert("water", "LOW" if before == "right" else "HIGH", mark))
            self.places.take(Box(mark[0] - 2 * self.one, mark[1] - self.one, mark[0] + 2 * self.one,
                                 mark[1] + 3.5 * self.one))
            along = round(at % self.wall.length if at != leg.right else at) - leg.left
            words = f"{kind} at {tape(along, self.plan.job.unit)} of {leg.name}"
            self.write(point, leg.outward, wrapped(words, SMALL, NAME), "text")

    def crew(self) -> None:
        """Say which drop goes on first and last, and which way the crew goes, inside the building."""
        drops = sorted((drop for drop in self.plan.drops if (drop.run, drop.layer) == (self.wall.run, self.wall.layer)),
                       key=lambda drop: drop.install)
        for leg in self.legs:
            for start, end, _ in self.wall.slopes:
                self._crew_arrow(leg, max(start, leg.left), min(end, leg.right), drops)
        for drop, words in ((drops[0], "first"), (drops[-1], "last")) if len(drops) > 1 else ():
            leg = self.leg_of((drop.left + drop.right) / 2)
            self.write(leg.at((drop.left + drop.right) / 2 % self.wall.length),
                       (-leg.outward[0], -leg.outward[1]), [f"{words} on: {tag_written(drop.tag)}"], "text")

    def _crew_arrow(self, leg: PlanFace, low: float, high: float, drops: Sequence[Drop]) -> None:
        """Draw the way the crew goes along one stretch of a face, where there is room for it."""
        order = [drop.install for drop in sorted(drops, key=lambda drop: drop.left)
                 if low <= (drop.left + drop.right) / 2 % self.wall.length < high]
        rising = sum(1 if after > before else -1 for before, after in zip(order, order[1:]))
        if not rising:
            return
        half = 5 * self.one * (1 if rising > 0 else -1)
        inward = -leg.outward[0] * 4 * self.one, -leg.outward[1] * 4 * self.one
        for share in (0.5, 0.4, 0.6, 0.3, 0.7):
            middle = low + (high - low) * share
            if not low <= middle - abs(half) <= middle + abs(half) <= high:
                continue
            tail, head = (self._moved(leg.at(station), inward) for station in (middle - half, middle + half))
            if self.places.free(Box(min(tail[0], head[0]) - self.one, min(tail[1], head[1]) - self.one,
                                    max(tail[0], head[0]) + self.one, max(tail[1], head[1]) + self.one)):
                self.arrow(tail, head, "tag")
                return

    def name(self, leg: PlanFace) -> None:
        """Write a face's name, its length and its drops outside it."""
        tags = [tag_written(drop.tag) for drop in self._of_face(leg)]
        unit = self.plan.job.unit
        drops = ", ".join(ranges(tags, [tag_written(drop.tag) for drop in self._all()]))
        name = wrapped(leg.name, SMALL, NAME, strong=True)
        lines = [*name, tape(leg.right - leg.left, unit), *(wrapped(drops, SMALL, NAME) if drops else [])]
        self.write(leg.at((leg.left + leg.right) / 2), leg.outward, lines, "text", clear=6.0, strong=len(name))

    def _all(self) -> list[Drop]:
        """Return the drops of the run as they hang, left to right from its start."""
        return sorted((drop for drop in self.plan.drops if (drop.run, drop.layer) == (self.wall.run, self.wall.layer)),
                      key=lambda drop: drop.left)

    def _of_face(self, leg: PlanFace) -> list[Drop]:
        """Return the drops whose middle lies on a face, left to right along it."""
        def middle(drop: Drop) -> float:
            return (drop.left + drop.right) / 2 % self.wall.length

        return sorted((drop for drop in self._all() if leg.left <= middle(drop) < leg.right), key=middle)

    def north(self) -> None:
        """Draw an arrow to the north above the plan, where the job says where that is."""
        run = next(run for run in self.plan.job.runs if run.name == self.wall.run)
        given = run.north if run.north is not None else self.plan.job.info.north
        if given is None:
            return
        one, frame = self.one, bounds(self.drawn, self.one)
        turn = math.radians(float(given))
        up, across = (math.sin(turn), math.cos(turn)), (math.cos(turn), -math.sin(turn))
        middle = frame.right + 14 * one, frame.top - 10 * one

        def at(along: float, aside: float) -> Vec:
            return (middle[0] + (up[0] * along + across[0] * aside) * one,
                    middle[1] + (up[1] * along + across[1] * aside) * one)

        self.drawn.append(Insert("note", "NORTH", middle))
        self.drawn.append(Polyline("note", (at(6, 0), at(-4.5, 2.6), at(-2.4, 0), at(-4.5, -2.6)), tone="ink"))
        self.drawn.append(Text("note", at(8.6, 0), "N", 3.0, "centre", "middle", strong=True))

    def arrow(self, tail: Vec, head: Vec, layer: str) -> None:
        """Draw an arrow and take its room."""
        dx, dy = head[0] - tail[0], head[1] - tail[1]
        length = math.hypot(dx, dy)
        dx, dy = dx / length * self.one, dy / length * self.one
        back = head[0] - 3 * dx, head[1] - 3 * dy
        barbs = ((back[0] - 0.8 * dy, back[1] + 0.8 * dx), head, (back[0] + 0.8 * dy, back[1] - 0.8 * dx))
        self.drawn += [Line(layer, tail, back), Polyline(layer, barbs, tone="ink")]
        self.places.take(Box(min(tail[0], head[0]) - self.one, min(tail[1], head[1]) - self.one,
                             max(tail[0], head[0]) + self.one, max(tail[1], head[1]) + self.one))

    def write(self, point: Vec, toward: Vec, lines: Sequence[str], layer: str, *, clear: float = 2.0,
              strong: int = 0) -> None:
        """Write lines beside a point, as near as there is room on one side of it; the first of them may be strong."""
        one = self.one
        wide = (max(width(line, SMALL, strong=True) for line in lines) + 1) * one
        high = LINE * len(lines) * one
        across = -toward[1], toward[0]
        for ring in count():  # what is taken ends somewhere
            out = (clear + ring * 1.5) * one
            for slide in (0.0, 0.3, -0.3, 0.6, -0.6):
                x = point[0] + toward[0] * (out + wide / 2) + across[0] * slide * wide
                y = point[1] + toward[1] * (out + high / 2) + across[1] * slide * high
                box = Box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
                if not self.places.free(box):
                    continue
                self.places.take(box)
                if out > (clear + 6) * one:
                    near = min(max(point[0], box.left), box.right), min(max(point[1], box.bottom), box.top)
                    self.drawn.append(Line("leader", point, near))
                for number, line in enumerate(lines):
                    at = x, y + ((len(lines) - 1) / 2 - number) * LINE * one
                    self.drawn.append(Text(layer, at, line, SMALL, "centre", "middle", strong=number < strong))
                return

    def _moved(self, point: Vec, by: Vec) -> Vec:
        return point[0] + by[0], point[1] + by[1]
