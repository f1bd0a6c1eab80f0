"""4xx: what seams and end laps keep clear of; every break is an exception, and every exception is a break."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from layout.audit.asked import Asked, Run
from layout.audit.coverage import Hung
from layout.audit.findings import Book
from layout.audit.laps import Lap
from layout.audit.walls import line_of, must, seen, value
from layout.audit.written import Written, WrittenDrop, WrittenException


@dataclass(frozen=True)
class Near:
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
class Break:
    """A rule broken on the wall, as the audit measures it [ticks]."""

    rule: str
    left: float
    right: float
    needed: float
    found: float
    sure: bool


def obstacles(run: Run, asked: Asked, turn_down: float) -> list[Near]:
    """Return what the seams of a run keep clear of."""
    found = [*_corners(run), *_steps(run, asked)]
    bands = dict(must(run, asked, turn_down))
    for face in run.faces:
        for sleeve in face.sleeves:
            half = -(-sleeve.diameter // 2)
            found.append(Near("clear_of_sleeve", sleeve.x - half, sleeve.x + half))
        for opening in face.openings:
            line = line_of(face, asked)
            over = max(y for x, y in _along(line, opening.left, opening.right))
            freed = seen(opening, asked.rules["opening_return"])
            sure = freed.bounds[1] < over if not freed.is_empty else False
            if opening.bottom < over and not bands[face].is_empty:
                found += [Near("clear_of_opening", jamb, jamb, sure) for jamb in (opening.left, opening.right)]
    return found


def _along(points: Sequence[tuple[float, float]], left: float, right: float) -> list[tuple[float, float]]:
    profile = tuple(points)
    ends = [(left, value(profile, left, from_right=True)), (right, value(profile, right, from_right=False))]
    return [*ends, *((x, y) for x, y in profile if left < x < right)]


def _corners(run: Run) -> list[Near]:
    last = run.faces[-1]
    return [
        Near("clear_of_corner", face.right, face.right, sure=face is not last or run.closed)
        for face in run.faces if face.corner != "none"
    ]


def _steps(run: Run, asked: Asked) -> list[Near]:
    """Return footing steps; steps of the membrane line, and changes at a joint of faces, may count as steps too."""
    found = []
    for face in run.faces:
        for sure, profile in ((True, face.footing), (False, face.top), (False, face.grade or ()),
                              (False, line_of(face, asked))):
            for (x0, y0), (x1, y1) in zip(profile, profile[1:]):
                if x0 == x1 and y0 != y1:
                    found.append(Near("clear_of_step", x0, x0, sure and face.left < x0 < face.right))
    joints = list(zip(run.faces, [*run.faces[1:], run.faces[0]]))
    for face, after in joints if run.closed else joints[:-1]:
        stepped = face.footing[-1][1] != after.footing[0][1]
        changed = stepped or face.ledge != after.ledge or face.top[-1][1] != after.top[0][1]
        changed = changed or (face.grade or ((0, 0),))[-1][1] != (after.grade or ((0, 0),))[0][1]
        if changed:
            found.append(Near("clear_of_step", face.right, face.right, stepped and face.corner == "none"))
    return found


def breaks(laps: Iterable[Lap], near: Iterable[Near], run: Run, asked: Asked) -> list[Break]:
    """Return every clearance that a seam breaks."""
    found = []
    things = list(near)
    turns = (-run.length, 0.0, run.length, 2 * run.length) if run.closed else (0.0,)
    for lap in laps:
        for thing in things:
            needed = asked.rules[thing.rule]
            for by in turns:
                gap = max(thing.left + by - lap.to, lap.from_ - thing.right - by, 0)
                if gap < needed:
                    left, right = min(lap.from_, thing.left + by), max(lap.to, thing.right + by)
                    found.append(Break(thing.rule, left, right, needed, gap, thing.sure))
    return found


CLEARANCES = ("clear_of_corner", "clear_of_sleeve", "clear_of_opening", "clear_of_step")


def check_clearances(plan: Written, run: Run, broken: Sequence[Break], book: Book) -> None:
    """Hold the breaks of one run's seams against its exceptions, both ways."""
    listed = [item for item in plan.exceptions if item.run == run.name and item.rule in CLEARANCES]
    for item in broken:
        if item.sure and not any(_same(item, entry, run) for entry in listed):
            near = [entry for entry in listed if _about(item, entry, run)]
            if not near:
                book.note(401, f"{item.rule}, " + book.at(run.name, item.left), item.needed, item.found)
    for entry in listed:
        about = [item for item in broken if _about(item, entry, run)]
        if any(_same(item, entry, run) for item in about):
            continue
        place = f"{entry.rule}, " + book.at(run.name, entry.at)
        if about:
            book.note(403, place, f"needed {book.say_length(about[0].needed)}, found {book.say_length(about[0].found)}",
                      f"needed {book.say_length(entry.needed)}, found {book.say_length(entry.found)}")
        else:
            book.note(402, place, "a broken clearance", "none")


def _about(item: Break, entry: WrittenException, run: Run) -> bool:
    """Tell whether an exception speaks of a break: the same rule, at a station between the seam and what it is near."""
    if item.rule != entry.rule:
        return False
    turns = (-run.length, 0.0, run.length) if run.closed else (0.0,)
    return any(item.left - 1 <= entry.at + by <= item.right + 1 for by in turns)


def _same(item: Break, entry: WrittenException, run: Run) -> bool:
    return _about(item, entry, run) and (item.needed, item.found) == (entry.needed, entry.found)


def check_sizes(plan: Written, hung: Hung, drops: Sequence[WrittenDrop], asked: Asked, book: Book) -> None:
    """Note drops too narrow and pieces too long that no exception tells of, and exceptions that tell of none."""
    run = hung.run
    narrow = [drop for drop in drops if drop.right - drop.left < asked.rules["min_width"]]
    long = [piece for piece in hung.pieces if piece.length > asked.rules["max_piece"]]
    listed = {rule: [item for item in plan.exceptions if item.run == run.name and item.rule == rule]
              for rule in ("min_width", "max_piece")}
    places = {drop.tag: (drop.left, drop.right) for drop in drops}
    for drop in narrow:
        width = drop.right - drop.left
        if not any(_within(item, *places[drop.tag], run) and item.found == width for item in listed["min_width"]):
            book.note(404, f"drop {drop.tag}", asked.rules["min_width"], width)
    for piece in long:
        near = places.get(piece.drop, (0, 0))
        if not any(_within(item, *near, run) and item.found == piece.length for item in listed["max_piece"]):
            book.note(405, f"piece {piece.tag}", asked.rules["max_piece"], piece.length)
    for item in listed["min_width"]:
        if not any(_within(item, drop.left, drop.right, run) for drop in narrow):
            book.note(402, "min_width, " + book.at(run.name, item.at), "a drop too narrow", "none")
    for item in listed["max_piece"]:
        if not any(_within(item, *places.get(piece.drop, (0, 0)), run) for piece in long):
            book.note(402, "max_piece, " + book.at(run.name, item.at), "a piece too long", "none")


def _within(item: WrittenException, left: float, right: float, run: Run) -> bool:
    turns = (-run.length, 0.0, run.length) if run.closed else (0.0,)
    return any(left - 1 <= item.at + by <= right + 1 for by in turns)
