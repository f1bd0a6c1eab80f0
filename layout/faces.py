"""Job -> developed runs: what must be covered, where seams may not be, which way water goes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from layout.records import (
    MEMBRANE, Face, FaceSpan, Hole, Job, Point, Profile, Rules, Run, SeamClearance, Side, SleeveHole, Wall,
)
from layout.shapes import Exact, Levels, along, exactly, highest, tidy, value
from layout.units import FILLET_FACTOR


TAKEN_UP = {"in": 2, "mm": 3}
"""Edges of sheet no further apart than 1/8 in (3 mm) are pressed together without a slit; common practice [ticks]."""


def develop(job: Job) -> tuple[Wall, ...]:
    """Return each run's developed wall for the membrane, at the least turn-down its rules allow.

    The least turn-down is never the worse choice: every drop gets shorter by the same amount and nothing else
    changes, so no plan with more turn-down costs less.
    """
    return tuple(
        replace(develop_run(run, job.rules, turn_down=job.rules.turn_down[0]), taken_up=TAKEN_UP[job.unit.name])
        for run in job.runs
    )


def toe(ledge: int, turn_down: int, fillet: int) -> int:
    """Return the developed length below the wall/footing joint [ticks], rounded up.

    A chamfer fillet of leg f replaces two legs by its hypotenuse and so saves (2 - sqrt 2) f; there is none without a
    ledge.

    Examples
    --------
    >>> toe(96, 64, 12) / 16
    9.5625
    """
    saved = FILLET_FACTOR * fillet if ledge else 0.0
    return math.ceil(round(ledge + turn_down - saved, 9))


def develop_run(run: Run, rules: Rules, *, turn_down: int) -> Wall:
    """Develop one run flat for the membrane.

    Parameters
    ----------
    run, rules
        As the job says them.
    turn_down
        How far the sheet goes down the footing face [ticks].
    """
    spans: list[FaceSpan] = []
    left = 0
    for face in run.faces:
        spans.append(FaceSpan(
            name=face.name, left=left, right=left + face.length, corner=face.corner, angle=face.angle,
            ledge=face.ledge, toe=toe(face.ledge, turn_down, rules.fillet), footing_depth=face.footing_depth,
        ))
        left += face.length
    footing = _joined((face.footing for face in run.faces), spans)
    wall_top = _joined((face.top for face in run.faces), spans)
    bottom = _joined((_lowered(face.footing, span.toe) for face, span in zip(run.faces, spans, strict=True)), spans)
    grades = [face.grade for face in run.faces]
    grade = _joined((g for g in grades if g is not None), spans) if all(grades) else None
    exact = _membrane_line(run.faces, spans, rules, footing)
    exact, holes = _cut_openings(run.faces, spans, rules, exact, footing)
    line = tidy((station, math.ceil(level)) for station, level in exact)
    return Wall(
        run=run.name, layer=MEMBRANE, closed=run.closed, length=left, turn_down=turn_down, faces=tuple(spans),
        top=line, bottom=bottom, footing=footing, wall_top=wall_top, grade=grade, holes=tuple(holes),
        rounds=tuple(_rounds(run.faces, spans)),
        keeps=tuple(_keeps(run, spans, rules, line)),
        slopes=water(run)[0], notes=water(run)[1], openings=tuple(_openings(run.faces, spans)),
        fillet=rules.fillet, opening_return=rules.opening_return,
    )


def _joined(profiles: Iterable[Profile], spans: Sequence[FaceSpan]) -> Profile:
    """Chain the faces' profiles into one of the run."""
    points: list[Point] = []
    for profile, span in zip(profiles, spans, strict=True):
        points += [(x + span.left, y) for x, y in profile]
    return tidy(points)


def _lowered(profile: Profile, by: int) -> Profile:
    return tuple((x, y - by) for x, y in profile)


def _membrane_line(faces: Sequence[Face], spans: Sequence[FaceSpan], rules: Rules, footing: Profile) -> Exact:
    """Return how high the membrane goes: the wall top, or grade plus a height but never above the wall.

    It never lies below the footing top: a footing that stands out of the ground is still wrapped.
    """
    top = _joined((face.top for face in faces), spans)
    if rules.top == "wall":
        return exactly(top)
    raised = _joined((_lowered(face.grade or face.top, -rules.above_grade) for face in faces), spans)
    return combined(combined(top, raised, lower=True), footing, lower=False)


def combined(a: Levels, b: Levels, *, lower: bool) -> Exact:
    """Return the lower (or the higher) of two profiles at each station.

    Elevations are exact, so that they are rounded once, when all is combined. Stations are whole ticks: where the two
    cross inside a tick the tick takes the crossing's elevation, so that the result is nowhere below the exact one.
    """
    pick = min if lower else max
    stations = sorted({x for x, _ in a} | {x for x, _ in b})
    points: list[tuple[int, Fraction]] = []
    for left, right in zip(stations, stations[1:], strict=False):
        a0, a1 = value(a, left, from_right=True), value(a, right, from_right=False)
        b0, b1 = value(b, left, from_right=True), value(b, right, from_right=False)
        points.append((left, pick(a0, b0)))
        if (a0 - b0) * (a1 - b1) < 0:
            share = (a0 - b0) / ((a0 - b0) - (a1 - b1))
            crossing = left + share * (right - left)
            height = a0 + share * (a1 - a0)
            for station in (math.floor(crossing), math.ceil(crossing)):
                if left < station < right:
                    part = Fraction(station - left, right - left)
                    beside = pick(a0 + part * (a1 - a0), b0 + part * (b1 - b0))
                    points.append((station, max(height, beside)))
        points.append((right, pick(a1, b1)))
    return tidy(points)


def _cut_openings(
    faces: Sequence[Face], spans: Sequence[FaceSpan], rules: Rules, line: Exact, footing: Profile,
) -> tuple[Exact, list[Hole]]:
    """Return the membrane line stepped down where an opening reaches it, and the openings that stay holes."""
    holes: list[Hole] = []
    for face, span in zip(faces, spans, strict=True):
        for opening in face.openings:
            back = rules.opening_return
            left, right = span.left + opening.left + back, span.left + opening.left + opening.width - back
            bottom, top = opening.sill + back, opening.sill + opening.height - back
            if left >= right or bottom >= top:
                continue
            bottom = max(bottom, highest(footing, left, right))
            if bottom >= top:
                continue
            hole = Hole(opening.tag, opening.kind, left, right, bottom, top)
            line, kept = cut_by_line(line, hole)
            holes += kept
    return line, sorted(holes, key=lambda h: (h.left, h.bottom))


def cut_by_line(line: Exact, hole: Hole) -> tuple[Exact, list[Hole]]:
    """Fold an opening that the membrane line cuts into the line; return the line and what stays a hole.

    Where the line is above the opening there is sheet over it and it stays a hole; where the line is within the
    opening the sheet stops at its foot; where the line is below it, nothing changes. Divisions fall on whole ticks,
    toward more sheet.
    """
    inside = along(line, hole.left, hole.right)
    before = [point for point in line if point[0] < hole.left]
    after = [point for point in line if point[0] > hole.right]
    if min(y for _, y in inside) > hole.top:
        return line, [hole]
    if max(y for _, y in inside) <= hole.bottom:
        return line, []
    middle: list[tuple[int, Fraction]] = []
    kept: list[Hole] = []
    for (x0, y0), (x1, y1) in zip(inside, inside[1:], strict=False):
        if x0 == x1:
            continue
        for left, right in _divisions(x0, y0, x1, y1, (Fraction(hole.bottom), Fraction(hole.top))):
            rise = (y1 - y0) / (x1 - x0)
            at_left, at_right = y0 + rise * (left - x0), y0 + rise * (right - x0)
            if max(at_left, at_right) > hole.top:
                kept.append(Hole(hole.tag, hole.kind, left, right, hole.bottom, hole.top))
                middle += [(left, at_left), (right, at_right)]
            elif max(at_left, at_right) > hole.bottom:
                middle += [(left, Fraction(hole.bottom)), (right, Fraction(hole.bottom))]
            else:
                middle += [(left, at_left), (right, at_right)]
    ends = [(hole.left, value(line, hole.left, from_right=False))] if before else []
    others = [(hole.right, value(line, hole.right, from_right=True))] if after else []
    joined = tidy([*before, *ends, *middle, *others, *after])
    return joined, _merged(kept)


def _divisions(
    x0: int, y0: Fraction, x1: int, y1: Fraction, levels: Sequence[Fraction],
) -> list[tuple[int, int]]:
    """Split [x0, x1] at the ticks around where the line from (x0, y0) to (x1, y1) crosses each level."""
    stations = {x0, x1}
    for level in levels:
        if (y0 - level) * (y1 - level) < 0:
            crossing = x0 + (level - y0) / (y1 - y0) * (x1 - x0)
            stations |= {math.floor(crossing), math.ceil(crossing)}
    ordered = sorted(stations)
    return list(zip(ordered, ordered[1:], strict=False))


def _merged(holes: Sequence[Hole]) -> list[Hole]:
    """Join neighbouring parts of one opening."""
    joined: list[Hole] = []
    for hole in holes:
        if joined and joined[-1].right == hole.left:
            last = joined.pop()
            hole = Hole(hole.tag, hole.kind, last.left, hole.right, hole.bottom, hole.top)
        joined.append(hole)
    return joined


def _openings(faces: Sequence[Face], spans: Sequence[FaceSpan]) -> list[Hole]:
    """Return the openings as they are built."""
    return [
        Hole(each.tag, each.kind, span.left + each.left, span.left + each.left + each.width, each.sill,
             each.sill + each.height)
        for face, span in zip(faces, spans, strict=True) for each in face.openings
    ]


def _rounds(faces: Sequence[Face], spans: Sequence[FaceSpan]) -> list[SleeveHole]:
    return [
        SleeveHole(sleeve.tag, span.left + sleeve.at, sleeve.elevation, sleeve.diameter, sleeve.projects)
        for face, span in zip(faces, spans, strict=True) for sleeve in face.sleeves
    ]


def _keeps(run: Run, spans: Sequence[FaceSpan], rules: Rules, line: Profile) -> list[SeamClearance]:
    """Return what the seams of a run keep clear of, left to right."""
    keeps: list[SeamClearance] = []

    def add(rule: str, tag: str, left: int, right: int, clear: int) -> None:
        if clear > 0:
            keeps.append(SeamClearance(rule, tag, left, right, clear))

    for span in spans:
        if span.corner != "none":
            add("clear_of_corner", f"corner {span.name}", span.right, span.right, rules.clear_of_corner)
    for face, span in zip(run.faces, spans, strict=True):
        for sleeve in face.sleeves:
            left = span.left + sleeve.at - -(-sleeve.diameter // 2)
            right = span.left + sleeve.at + -(-sleeve.diameter // 2)
            add("clear_of_sleeve", sleeve.tag, left, right, rules.clear_of_sleeve)
        for opening in face.openings:
            left, right = span.left + opening.left, span.left + opening.left + opening.width
            if opening.sill + rules.opening_return >= highest(line, left, right):
                if not _stepped(line, left, right):
                    continue
            for jamb in (left, right):
                add("clear_of_opening", opening.tag, jamb, jamb, rules.clear_of_opening)
    for station in sorted(_steps(run, spans, rules)):
        add("clear_of_step", f"step at {station}", station, station, rules.clear_of_step)
    return sorted(keeps, key=lambda keep: (keep.left, keep.right, keep.rule, keep.tag))


def _stepped(line: Profile, left: int, right: int) -> bool:
    """Tell whether the membrane line was stepped down into an opening between two stations."""
    return any(value(line, x, from_right=True) != value(line, x, from_right=False) for x in (left, right))


def _steps(run: Run, spans: Sequence[FaceSpan], rules: Rules) -> set[int]:
    """Return the stations where the footing or the membrane line steps, corners left out."""
    stations: set[int] = set()
    for face, span in zip(run.faces, spans, strict=True):
        profiles = [face.footing, face.top if rules.top == "wall" or face.grade is None else face.grade]
        for profile in profiles:
            for (x0, y0), (x1, y1) in zip(profile, profile[1:], strict=False):
                if x0 == x1 and y0 != y1 and 0 < x0 < face.length:
                    stations.add(span.left + x0)
    joints = list(zip(run.faces, spans, [*run.faces[1:], run.faces[0]], strict=True))
    for face, span, following in joints if run.closed else joints[:-1]:
        jump = face.footing[-1][1] != following.footing[0][1] or face.top[-1][1] != following.top[0][1]
        if span.corner == "none" and (jump or face.ledge != following.ledge):
            stations.add(span.right)
    return stations


def water(run: Run) -> tuple[tuple[tuple[int, int, Side], ...], tuple[str, ...]]:
    """Return which way water runs along each part of a run, and what must be said about it.

    Returns
    -------
    tuple
        Parts (left, right, side) that tile the run, and notes on level stretches and ties.

    Notes
    -----
    From ``flow`` the whole run has one side. From ``lows`` and ``highs`` water runs from each high point to the low
    points beside it; where two lows have no high between them the middle is taken, and said. From ``drain`` each piece
    runs down its slope; a level piece takes the direction of the nearest sloping one, the one to its left on a tie.
    """
    length = run.length
    if run.drain:
        return _from_drain(run.drain, length, closed=run.closed)
    if run.lows:
        return _from_points(run, length)
    return ((0, length, run.flow or "right"),), ()


def _from_points(run: Run, length: int) -> tuple[tuple[tuple[int, int, Side], ...], tuple[str, ...]]:
    marks = sorted([(x, "low") for x in run.lows] + [(x, "high") for x in run.highs])
    notes: list[str] = []
    if run.closed:
        first = marks[0]
        marks = [*marks, (first[0] + length, first[1])]
    full: list[tuple[int, str]] = marks[:1]
    for station, kind in marks[1:]:
        before, kind_before = full[-1]
        if kind == kind_before:
            middle = (before + station) // 2
            other = "high" if kind == "low" else "low"
            full.append((middle, other))
            notes.append(f"run {run.name}: no {other} point is given between two {kind}s; the middle is taken")
        full.append((station, kind))
    parts: list[tuple[int, int, Side]] = []
    for (x0, kind0), (x1, _) in zip(full, full[1:], strict=False):
        parts.append((x0, x1, "left" if kind0 == "low" else "right"))
    if run.closed:
        return _wrapped(parts, length), tuple(notes)
    start, end = full[0], full[-1]
    if start[0] > 0:
        parts.insert(0, (0, start[0], "right" if start[1] == "low" else "left"))
    if end[0] < length:
        parts.append((end[0], length, "left" if end[1] == "low" else "right"))
    return tuple(part for part in parts if part[0] < part[1]), tuple(notes)


def _wrapped(parts: Sequence[tuple[int, int, Side]], length: int) -> tuple[tuple[int, int, Side], ...]:
    """Bring parts of a closed run that reach past its end back to [0, length]."""
    tiled: list[tuple[int, int, Side]] = []
    for left, right, side in parts:
        if left < length < right:
            tiled += [(left, length, side), (0, right - length, side)]
        elif left >= length:
            tiled.append((left - length, right - length, side))
        else:
            tiled.append((left, right, side))
    return tuple(sorted(part for part in tiled if part[0] < part[1]))


def _from_drain(
    drain: Profile, length: int, *, closed: bool,
) -> tuple[tuple[tuple[int, int, Side], ...], tuple[str, ...]]:
    points = along(drain, 0, length)
    parts: list[tuple[int, int, Side | None]] = []
    notes: list[str] = []
    for (x0, y0), (x1, y1) in zip(points, points[1:], strict=False):
        if x0 < x1:
            parts.append((x0, x1, None if y0 == y1 else "right" if y1 < y0 else "left"))
    sloped = [part for part in parts if part[2]]
    if not sloped:
        return ((0, length, "right"),), ("the drain is level all along; water is taken to run right",)
    tiled: list[tuple[int, int, Side]] = []
    for left, right, side in parts:
        if side is None:
            gaps = sorted((_gap(left, right, other, length, closed=closed), i) for i, other in enumerate(sloped))
            side = sloped[gaps[0][1]][2]
            if len(gaps) > 1 and gaps[0][0] == gaps[1][0] and sloped[gaps[1][1]][2] != side:
                notes.append(
                    "a level stretch of drain lies between two slopes; it takes the direction of the one to its left"
                )
        tiled.append((left, right, side or "right"))
    return tuple(tiled), tuple(notes)


def _gap(left: int, right: int, other: tuple[int, int, Side | None], length: int, *, closed: bool) -> int:
    """Return how far a stretch is from another along the run."""
    gap = max(other[0] - right, left - other[1], 0)
    return min(gap, max(other[0] + length - right, 0), max(left + length - other[1], 0)) if closed else gap
