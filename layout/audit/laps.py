"""3xx: side laps and end laps, over their whole length; stagger; pieces in order."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from shapely import get_coordinates
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.audit.asked import Asked, AskedRun
from layout.audit.coverage import FAR, HungLayer, ShapeIndex, window
from layout.audit.findings import Findings
from layout.audit.walls import disc, farther_along, parts, shifted
from layout.audit.written import Written, WrittenDrop, WrittenSeam


@dataclass(frozen=True)
class Lap:
    """Where two neighbouring drops lap: stations as the left drop gives them [ticks]."""

    left: WrittenDrop
    right: WrittenDrop
    from_: float
    to: float

    @property
    def width(self) -> float:
        """Width of the lap [ticks]; negative for a gap."""
        return self.to - self.from_


@dataclass(frozen=True)
class EndLap:
    """A level overlap of two pieces of one drop, named by the foot of the upper one [ticks]."""

    drop: WrittenDrop
    upper: str
    lower: str
    left: float
    right: float
    foot: float


def drops_of(plan: Written, run: str, layer: str) -> list[WrittenDrop]:
    """Return a run's drops of one layer, left to right."""
    return sorted((drop for drop in plan.drops if drop.run == run and drop.layer == layer),
                  key=lambda drop: (drop.left, drop.right))


def laps_of(drops: Sequence[WrittenDrop], run: AskedRun) -> list[Lap]:
    """Return the laps of neighbouring drops; in a closed run the last drop laps the first."""
    laps = [Lap(a, b, b.left, a.right) for a, b in zip(drops, drops[1:])]
    if run.closed and len(drops) > 1:
        first, last = drops[0], drops[-1]
        laps.append(Lap(last, first, first.left + run.length, last.right))
    elif run.closed and drops:
        only = drops[0]
        laps.append(Lap(only, only, only.left + run.length, only.right))
    return laps


def _rising(tag: str) -> list[tuple[int, str]]:
    """Return what tags rise by: their figures as numbers, so that A-07, A-07.1, A-08, A-100 is an order."""
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"([0-9]+)", tag)]


def check_seams(plan: Written, hung: HungLayer, asked: Asked, book: Findings) -> dict[Lap, WrittenSeam]:
    """Hold the listed seams against the laps the drops make; return the seam of each lap that has one."""
    run, layer, side_lap = hung.run, asked.layer, asked.rules["side_lap"]
    drops = drops_of(plan, run.name, layer)
    tags = [drop.tag for drop in drops]
    if tags != sorted(tags, key=_rising):
        book.note(309, f"run {run.name}", "tags rising from left to right", ", ".join(tags[:8]))
    laps = laps_of(drops, run)
    seams = [seam for seam in plan.seams if seam.run == run.name and seam.layer == layer]
    by_pair: dict[tuple[str, str], list[WrittenSeam]] = {}
    for seam in seams:
        by_pair.setdefault((seam.left, seam.right), []).append(seam)
    found: dict[Lap, WrittenSeam] = {}
    for lap in laps:
        listed = by_pair.get((lap.left.tag, lap.right.tag), [])
        place = f"{lap.left.tag} and {lap.right.tag}, " + book.at(run.name, lap.from_)
        if lap.width < side_lap:
            book.note(304, place, side_lap, lap.width)
        if not listed:
            book.note(301, place, "a seam", "none")
            continue
        seam = listed.pop(0)
        found[lap] = seam
        if not any((seam.left_edge + by, seam.right_edge + by) == (lap.from_, lap.to) for by in _turns(run)):
            book.note(303, place, f"{book.say_length(lap.from_)} to {book.say_length(lap.to)}",
                      f"{book.say_length(seam.left_edge)} to {book.say_length(seam.right_edge)}")
    for left_over in by_pair.values():
        for seam in left_over:
            book.note(302, f"seam of {seam.left} and {seam.right}, run {run.name}", "neighbouring drops", "none")
    return found


def _turns(run: AskedRun) -> tuple[float, ...]:
    return (0, run.length, -run.length) if run.closed else (0,)


def check_side_laps(
    hung: HungLayer, laps: Iterable[Lap], sheets: Mapping[str, BaseGeometry], book: Findings,
) -> None:
    """Note every part of a lap, inside what must be covered, where one of its two drops has no sheet."""
    run = hung.run
    walls = hung.walls
    for lap in laps:
        if lap.width <= 0:
            continue
        stripe = window(lap.from_, lap.to)
        needed = walls.within(stripe)
        by = run.length if lap.right.left < lap.left.left or lap.right == lap.left else 0
        both = sheets[lap.left.tag].intersection(farther_along(sheets[lap.right.tag], by))
        for bare in parts(needed.difference(both)):
            low, high = bare.bounds[1], bare.bounds[3]
            book.note(305, f"{lap.left.tag} and {lap.right.tag}, " + book.at(run.name, bare.centroid.x),
                      "both sheets", f"one or none from {book.say_length(low)} to {book.say_length(high)}")


# --- end laps ----------------------------------------------------------------------------------

def end_laps_of(hung: HungLayer, drop: WrittenDrop) -> list[EndLap]:
    """Return where pieces of one drop lie over one another, upper piece first."""
    found = []
    tags = [tag for tag in drop.pieces]
    for i, one in enumerate(tags):
        for other in tags[i + 1:]:
            a, b = Polygon(hung.shapes[one].exterior), Polygon(hung.shapes[other].exterior)
            for both in parts(a.intersection(b)):
                left, _, right, _ = both.bounds
                upper, lower = (one, other) if a.bounds[1] >= b.bounds[1] else (other, one)
                found.append(EndLap(drop, upper, lower, left, right, hung.shapes[upper].bounds[1]))
    return found


def check_end_laps(plan: Written, hung: HungLayer, asked: Asked, book: Findings) -> list[EndLap]:
    """Note end laps that are too short anywhere, and pieces not listed top to bottom; return the end laps."""
    laps: list[EndLap] = []
    walls = hung.walls
    discs = ShapeIndex(shifted([disc(sleeve) for face in hung.run.faces for sleeve in face.sleeves], hung.run))
    openings = ShapeIndex(shifted([
        box(opening.left, opening.bottom, opening.right, opening.top)
        for face in hung.run.faces for opening in face.openings], hung.run))
    for drop in drops_of(plan, hung.run.name, asked.layer):
        tags = [tag for tag in drop.pieces]
        if len(tags) < 2:
            continue
        if tags != sorted(tags, key=lambda tag: (len(tag), tag)):
            book.note(307, f"drop {drop.tag}", "tags a, b, c from the top", ", ".join(tags))
        laps += end_laps_of(hung, drop)
        needed = walls.within(window(drop.left, drop.right))
        outlines = {tag: _uncut(hung, tag, discs) for tag in tags}
        _check_columns(hung, drop, outlines, needed, openings, asked.rules["end_lap"], book)
    return laps


def _uncut(hung: HungLayer, tag: str, discs: ShapeIndex) -> BaseGeometry:
    """Return a piece's outline with what sleeves cut from its edges put back."""
    outline = Polygon(hung.shapes[tag].exterior)
    frame = box(*outline.bounds)
    cuts = [disc_near.intersection(frame) for disc_near in discs.to(outline)]
    return unary_union([outline, *cuts]) if cuts else outline


def _check_columns(
    hung: HungLayer, drop: WrittenDrop, outlines: Mapping[str, BaseGeometry], needed: BaseGeometry,
    openings: ShapeIndex, least: float, book: Findings,
) -> None:
    """Walk a drop's columns: where wall goes on below an upper piece, both sheets cover the whole lap.

    An upper piece that ends at the head of an opening reaches as far as it would without it: the lap goes on there.
    """
    edges = sorted({x for shape in outlines.values() for x, _ in get_coordinates(shape)})
    meeting = {frozenset(pair) for pair in combinations(outlines, 2) if _meet(*(hung.shapes[tag] for tag in pair))}
    worst: dict[tuple[str, str], tuple[float, float]] = {}
    turned: set[str] = set()
    for left, right in zip(edges, edges[1:]):
        x = (left + right) / 2
        column = LineString([(x, -FAR), (x, FAR)])
        spans = sorted(
            ((part.bounds[1], part.bounds[3], tag) for tag, shape in outlines.items()
             for part in _lines(shape.intersection(column))), reverse=True,
        )
        for (foot, _, upper), (low, head, lower) in zip(spans, spans[1:]):
            if upper == lower or frozenset((upper, lower)) not in meeting or head < foot:
                continue
            if foot > low + 1 and drop.pieces.index(upper) > drop.pieces.index(lower):
                turned.add(f"{upper} before {lower}")
            at_head = [hole.bounds[1] for hole in openings.to(Point(x, foot)) if abs(hole.bounds[3] - foot) < 1]
            lap = head - (max(min(at_head), outlines[upper].bounds[1]) if at_head else foot)
            if lap >= least or lap >= worst.get((upper, lower), (least, 0))[0]:
                continue
            below = needed.intersection(box(left, -FAR, right, foot)).difference(outlines[upper])
            zone = needed.intersection(box(left, foot, right, foot + least))
            if parts(below) and parts(zone.difference(outlines[upper].intersection(outlines[lower]))):
                worst[upper, lower] = (lap, x)
    for order in sorted(turned):
        book.note(307, f"drop {drop.tag}", order, ", ".join(drop.pieces))
    for (upper, lower), (lap, x) in worst.items():
        book.note(306, f"{upper} over {lower}, " + book.at(hung.run.name, x), least, lap)


def _lines(shape: BaseGeometry) -> list[LineString]:
    return [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, LineString) and part.length > 0]


def _meet(one: Polygon, other: Polygon) -> bool:
    """Tell whether two pieces overlap or share an edge; pieces with an opening or a sleeve between them do not."""
    both = one.intersection(other)
    return bool(parts(both)) or both.length > 0.5
