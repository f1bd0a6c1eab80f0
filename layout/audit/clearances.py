"""4xx: rules the plan could not keep; every break is an exception, and every exception is a break."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from layout.audit.asked import Asked, AskedRun
from layout.audit.coverage import HungLayer
from layout.audit.findings import Findings
from layout.audit.laps import EndLap, Lap
from layout.audit.walls import line_of, opening_seen, value
from layout.audit.written import Written, WrittenDrop, WrittenException

NUMBERS = {
    "clear_of_corner": 401, "clear_of_sleeve": 401, "clear_of_opening": 401, "clear_of_step": 401, "board_seam": 401,
    "end_lap_stagger": 308, "min_width": 404, "max_piece": 405, "end_lap_clear_of_sleeve": 406,
    "end_lap_clear_of_opening": 406,
}
"""Rule -> the finding when it is broken and no exception says so."""


@dataclass(frozen=True)
class Obstacle:
    """Something seams keep clear of.

    Parameters
    ----------
    rule
        Name of the rule.
    left, right
        Its stations [ticks].
    sure
        False when the rule may be read to leave it out: breaking it may be listed, and need not be.
    """

    rule: str
    left: float
    right: float
    sure: bool = True


@dataclass(frozen=True)
class Violation:
    """A rule broken on the wall, as the audit measures it [ticks]; ``what`` says of what."""

    rule: str
    what: str
    left: float
    right: float
    needed: float
    found: float
    sure: bool = True


def obstacles(run: AskedRun, asked: Asked) -> list[Obstacle]:
    """Return what the seams of a run keep clear of."""
    found = [*_corners(run), *_steps(run, asked)]
    for face in run.faces:
        for sleeve in face.sleeves:
            half = -(-sleeve.diameter // 2)
            found.append(Obstacle("clear_of_sleeve", sleeve.x - half, sleeve.x + half))
        for opening in face.openings:
            line = line_of(face, asked)
            over = max(y for x, y in _along(line, opening.left, opening.right))
            freed = opening_seen(opening, asked.rules["opening_return"])
            for jamb in (opening.left, opening.right):
                # a jamb that stands over the sheet is none of its business
                level = min(value(line, jamb, from_right=side) for side in (True, False))
                sure = not freed.is_empty and freed.bounds[1] < level
                if opening.bottom < over + 1:
                    found.append(Obstacle("clear_of_opening", jamb, jamb, sure))
    return found


def _along(points: Sequence[tuple[float, float]], left: float, right: float) -> list[tuple[float, float]]:
    profile = tuple(points)
    ends = [(left, value(profile, left, from_right=True)), (right, value(profile, right, from_right=False))]
    return [*ends, *((x, y) for x, y in profile if left < x < right)]


def _corners(run: AskedRun) -> list[Obstacle]:
    last = run.faces[-1]
    return [
        Obstacle("clear_of_corner", face.right, face.right, sure=face is not last or run.closed)
        for face in run.faces if face.corner != "none"
    ]


def _steps(run: AskedRun, asked: Asked) -> list[Obstacle]:
    """Return footing steps; steps of the membrane line, and changes at a joint of faces, may count as steps too."""
    found = []
    for face in run.faces:
        for sure, profile in (
            (True, face.footing), (False, face.top), (False, face.grade or ()), (False, line_of(face, asked)),
        ):
            for (x0, y0), (x1, y1) in zip(profile, profile[1:]):
                if x0 == x1 and y0 != y1:
                    found.append(Obstacle("clear_of_step", x0, x0, sure and face.left < x0 < face.right))
    joints = list(zip(run.faces, [*run.faces[1:], run.faces[0]]))
    for face, after in joints if run.closed else joints[:-1]:
        stepped = face.footing[-1][1] != after.footing[0][1]
        found.append(Obstacle("clear_of_step", face.right, face.right, stepped and face.corner == "none"))
    return found


def seam_breaks(laps: Iterable[Lap], near: Iterable[Obstacle], run: AskedRun, asked: Asked) -> Iterator[Violation]:
    """Yield every clearance that a seam breaks."""
    ordered = sorted(laps, key=lambda lap: lap.from_)
    starts = [lap.from_ for lap in ordered]
    widest = max((lap.width for lap in ordered), default=0)
    turns = (-run.length, 0.0, run.length, 2 * run.length) if run.closed else (0.0,)
    for thing in near:
        needed = asked.rules[thing.rule]
        for by in turns:
            first = bisect_left(starts, thing.left + by - needed - widest)
            last = bisect_right(starts, thing.right + by + needed)
            for lap in ordered[first:last]:
                gap = max(thing.left + by - lap.to, lap.from_ - thing.right - by, 0)
                if gap < needed:
                    left, right = min(lap.from_, thing.left + by), max(lap.to, thing.right + by)
                    yield Violation(thing.rule, f"seam of {lap.left.tag} and {lap.right.tag}", left, right, needed, gap,
                                    thing.sure)


def size_breaks(hung: HungLayer, drops: Sequence[WrittenDrop], asked: Asked) -> Iterator[Violation]:
    """Yield every drop too narrow and every piece too long."""
    places = {drop.tag: (drop.left, drop.right) for drop in drops}
    narrowest, longest = asked.rules["min_width"], asked.rules["max_piece"]
    for drop in drops:
        if drop.right - drop.left < narrowest:
            yield Violation("min_width", f"drop {drop.tag}", drop.left, drop.right, narrowest, drop.right - drop.left)
    for piece in hung.pieces:
        if piece.length > longest:
            yield Violation("max_piece", f"piece {piece.tag}", *places[piece.drop], longest, piece.length)


def stagger_breaks(
    neighbours: Iterable[Lap], end_laps: Sequence[EndLap], run: AskedRun, asked: Asked,
) -> Iterator[Violation]:
    """Yield end laps of neighbouring drops that lie too near one another in height."""
    least = asked.rules["end_lap_stagger"]
    of_drop: dict[str, list[EndLap]] = {}
    for end_lap in end_laps:
        of_drop.setdefault(end_lap.drop.tag, []).append(end_lap)
    for pair in neighbours:
        if pair.left == pair.right:
            continue
        right = pair.to if pair.right.left < pair.left.left else pair.right.right
        for one in of_drop.get(pair.left.tag, ()):
            for other in of_drop.get(pair.right.tag, ()):
                apart = abs(one.foot - other.foot)
                if apart < least:
                    yield Violation("end_lap_stagger", f"end laps of {pair.left.tag} and {pair.right.tag}",
                                    pair.left.left, right, least, apart)


def end_lap_breaks(end_laps: Iterable[EndLap], run: AskedRun, asked: Asked) -> Iterator[Violation]:
    """Yield end laps too near in height to a sleeve, or to a corner of an opening, on their drop or beside it."""
    ordered = sorted(end_laps, key=lambda lap: lap.drop.left)
    starts = [lap.drop.left for lap in ordered]
    widest = max((lap.drop.right - lap.drop.left for lap in ordered), default=0)
    turns = (-run.length, 0.0, run.length, 2 * run.length) if run.closed else (0.0,)
    for rule, (left, low, right, high), sure in _corners_and_sleeves(run, asked):
        clear = asked.rules[rule.removeprefix("end_lap_")]
        for by in turns:
            first = bisect_left(starts, left + by - clear - widest)
            for lap in ordered[first:bisect_right(starts, right + by + clear)]:
                gap = max(low - lap.foot - asked.rules["end_lap"], lap.foot - high, 0)
                beside = max(left + by - lap.right, lap.left - right - by, 0)
                near_drop = max(left + by - lap.drop.right, lap.drop.left - right - by, 0) < clear
                if gap < clear and near_drop:
                    yield Violation(rule, f"end lap of {lap.upper} and {lap.lower}", lap.drop.left, lap.drop.right,
                                    clear, gap, sure and beside < clear)


def _corners_and_sleeves(run: AskedRun, asked: Asked) -> Iterator[tuple[str, tuple[float, float, float, float], bool]]:
    """Yield what end laps keep clear of: rule, box [ticks], and whether the rule surely means it."""
    for face in run.faces:
        for sleeve in face.sleeves:
            half = -(-sleeve.diameter // 2)
            place = (sleeve.x - half, sleeve.y - half, sleeve.x + half, sleeve.y + half)
            yield "end_lap_clear_of_sleeve", place, True
        line = line_of(face, asked)
        for opening in face.openings:
            shape = opening_seen(opening, asked.rules["opening_return"])
            if shape.is_empty:
                continue
            left, bottom, right, top = shape.bounds
            under = min(y for _, y in _along(line, left, right))
            over = max(y for _, y in _along(face.footing, left, right))
            for jamb in (left, right):
                for corner in (bottom, top):
                    yield "end_lap_clear_of_opening", (jamb, corner, jamb, corner), over <= bottom and top < under


def check_exceptions(plan: Written, run: AskedRun, broken: Sequence[Violation], book: Findings) -> None:
    """Hold what is broken on one run, all layers together, against its exceptions, both ways."""
    listed = [item for item in plan.exceptions if item.run == run.name and item.rule in NUMBERS]
    by_rule: Mapping[str, list[Violation]] = {rule: [b for b in broken if b.rule == rule] for rule in NUMBERS}
    of_rule: Mapping[str, list[WrittenException]] = {rule: [e for e in listed if e.rule == rule] for rule in NUMBERS}
    for item in broken:
        if item.sure and not any(_about(item, entry, run) for entry in of_rule[item.rule]):
            book.note(NUMBERS[item.rule], f"{item.what}, {item.rule}, " + book.at(run.name, item.left), item.needed,
                      item.found)
    for entry in listed:
        about = [item for item in by_rule[entry.rule] if _about(item, entry, run)]
        if any((item.needed, item.found) == (entry.needed, entry.found) for item in about):
            continue
        place = f"{entry.rule}, " + book.at(run.name, entry.at)
        if about:
            book.note(403, place, f"needed {book.say_length(about[0].needed)}, found {book.say_length(about[0].found)}",
                      f"needed {book.say_length(entry.needed)}, found {book.say_length(entry.found)}")
        else:
            book.note(402, place, "a rule broken there", "none")


def _about(item: Violation, entry: WrittenException, run: AskedRun) -> bool:
    """Tell whether an exception of the same rule speaks of a break: at a station on or between what it is about."""
    turns = (-run.length, 0.0, run.length) if run.closed else (0.0,)
    return any(item.left - 1 <= entry.at + by <= item.right + 1 for by in turns)
