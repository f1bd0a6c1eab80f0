"""What reads as a mistake in a job that breaks no rule: warnings, each with its place and what may have been meant.

Nothing here stops a plan. A wall may be as the job says; the person who entered it is asked to look again. The
thresholds are our own choice: far from what foundation walls are, so that a warning is seldom idle.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from layout.errors import Advice, Fault
from layout.job.closing import PlanSide, allowed_gap, closing_gap
from layout.job.profiles import height_stretches, exact_highest, exact_lowest, straight_stretches
from layout.records import Face, Job, Opening, Run, Side as Way, Sleeve
from layout.units import FILLET_FACTOR, Unit, inches, read_length, round_ticks, tape

Ways = Sequence[tuple[int, int, Way]]
"""Which way water runs along each part of a run: left end, right end, side."""
Steps = tuple[str | int, ...]

SHORT_RUN = ("5 ft", "1500 mm")
"""A run none of whose faces is this long may be in another unit."""
LONG_FACE = ("500 ft", "150 m")
HIGH_WALL = ("40 ft", "12 m")
"""A wall higher, or a face longer, than this may be in another unit."""
LOW_GRADE = ("12 in", "300 mm")
"""Grade given as one elevation less than this above the footing may be in another unit."""
GRADE_JUMP = ("2 in", "50 mm")
"""Grade on the two sides of a corner may differ by this: it is the same ground."""
RISE = ("1 in", "25 mm")
"""A footing may rise by this the way water is said to run."""
TALL_OPENING = ("10 ft", "3 m")
"""An opening as high as this that reaches above its wall may be in another unit."""
SLIM = 10
"""An opening so many times wider than high, or higher than wide, may have its sizes wrong."""
GAP_ALLOWED = Advice("a gap that is allowed", file="allowed by allow_gap",
                     book="allowed under allow gap on the sheet Runs")
"""Why a run that does not close is no fault."""
ALIKE = 3
"""Warnings of one kind told in full for each run; the others are counted."""


def likely_mistakes(job: Job, ways: Mapping[str, Ways]) -> tuple[Fault, ...]:
    """Return what reads as a mistake in a job.

    Parameters
    ----------
    job
        A job that was read and checked.
    ways
        For each run which way water runs along it.

    Returns
    -------
    tuple of Fault
        In the order of the job. Their places are those of the job file; they have no lines.
    """
    return tuple(warning for number in range(len(job.runs)) for warning in _Doubts(job, number).of_run(ways))


class _Doubts:
    """The warnings of one run."""

    def __init__(self, job: Job, number: int) -> None:
        self.job = job
        self.unit: Unit = job.unit
        self.number = number
        self.run: Run = job.runs[number]

    def of_run(self, ways: Mapping[str, Ways]) -> list[Fault]:
        """Return them all, at most a few of each kind."""
        run = self.run
        found: list[tuple[str, Fault]] = [*self._gap(), *self._size()]
        for index, face in enumerate(run.faces):
            found += [*self._height(index, face), *self._grade(index, face)]
            for place, opening in enumerate(face.openings):
                found += self._opening(index, face, place, opening)
            found += [*self._ledge(index, face), *self._risers(index, face)]
        found += [*self._grade_jumps(), *self._sleeves(), *self._rising(ways.get(run.name, ()))]
        return list(_few(found))

    # --- telling ---------------------------------------------------------------------------------

    def say(self, kind: str, steps: Steps, what: str, *, got: str = "", hint: str = "",
            advice: Advice | None = None) -> tuple[str, Fault]:
        """Return a warning at a place in the run: faces, openings and sleeves by their numbers from 0."""
        names = ["runs", self.run.name]
        path: Steps = ("runs", self.number, *steps)
        holder: Any = self.run
        key = ""
        for step in steps:
            if isinstance(step, int):
                holder = getattr(holder, key)[step]
                names.append(holder.name if isinstance(holder, Face) else holder.tag)
            else:
                key = step
                names.append(key)
        return kind, Fault(0, ".".join(names), what, got, hint, path=path, advice=advice)

    def tape(self, ticks: int | Fraction) -> str:
        """Return a length as a person reads it off a tape."""
        return tape(round_ticks(Fraction(ticks), "nearest"), self.unit)

    def size(self, pair: tuple[str, str]) -> int:
        """Return a threshold [ticks]."""
        return round_ticks(read_length(pair[self.unit.name == "mm"], self.unit), "nearest")

    def bigger(self, ticks: int, most: tuple[str, str]) -> str:
        """Return what a length too small may have been meant as: feet, or metres; nothing when that is too large."""
        meant = f"{self.unit.number(ticks):g} {'ft' if self.unit.name == 'in' else 'm'}"
        if not 0 < read_length(meant, self.unit) <= self.size(most):
            return ""
        return f"did you mean {'feet' if self.unit.name == 'in' else 'metres'}?"

    def smaller(self, ticks: int) -> str:
        """Return what a length too large may have been meant as: inches, where it is whole feet."""
        if self.unit.name == "in" and not ticks % (12 * self.unit.ticks):
            return f"did you mean inches, {ticks // (12 * self.unit.ticks)} in?"
        return "did you mean another unit?"

    # --- a run as a whole ------------------------------------------------------------------------

    def _gap(self) -> Iterator[tuple[str, Fault]]:
        """A gap that is allowed is told, so that nobody takes the plan for one that closes."""
        run = self.run
        if not run.closed or not run.allow_gap:
            return
        sides = [PlanSide(face.length, face.corner, face.angle) for face in run.faces]
        gap = math.hypot(*closing_gap(sides))
        if gap > allowed_gap(sides, self.unit):
            yield self.say("gap", ("closed",), "does not close on plan", got=f"a gap of {self.tape(round(gap))}",
                           advice=GAP_ALLOWED)

    def _size(self) -> Iterator[tuple[str, Fault]]:
        """Lengths that smell of another unit."""
        faces = self.run.faces
        longest = max(range(len(faces)), key=lambda number: faces[number].length)
        length = faces[longest].length
        if length < self.size(SHORT_RUN):
            yield self.say("short", ("faces", longest, "length"), "is the longest face of its run, and short",
                           got=self.tape(length), hint=self.bigger(length, LONG_FACE))
        for index, face in enumerate(faces):
            if face.length > self.size(LONG_FACE):
                yield self.say("long", ("faces", index, "length"),
                               f"is more than {self.tape(self.size(LONG_FACE))} long", got=self.tape(face.length),
                               hint=self.smaller(face.length))

    def _rising(self, ways: Ways) -> Iterator[tuple[str, Fault]]:
        """A footing that rises the way water is said to run: each run once, at the first place."""
        places = [(at, rise) for left, right, side in ways for at, rise in self._rises(left, right, side)
                  if rise > self.size(RISE)]
        if not places:
            return
        at, rise = min(places)
        face, left = self._face_at(at)
        more = f", and at {len(places) - 1} places more" if len(places) > 1 else ""
        key = "drain" if self.run.drain else "lows" if self.run.lows else "flow"
        hint = "give lows, the stations of the drain's low points, or the other direction" if key == "flow" else ""
        yield self.say("rising", (key,), f"has water run uphill: the footing rises {self.tape(rise)} on {face.name} at "
                       f"{self.tape(at - left)}{more}", hint=hint, got=self.run.flow or "" if key == "flow" else "")

    def _rises(self, left: int, right: int, side: Way) -> Iterator[tuple[int, Fraction]]:
        """Yield where the footing rises between two stations the way water runs, and by how much: steps and slopes."""
        sign = 1 if side == "right" else -1
        start = 0
        before: int | None = self.run.faces[-1].footing[-1][1] if self.run.closed else None
        for face in self.run.faces:
            if before is not None and (left < start < right or (start == left and right - left == self.run.length)):
                yield start, Fraction(sign * (face.footing[0][1] - before))
            for (x, y), (after, level) in zip(face.footing, face.footing[1:]):
                if x == after and left < start + x < right:
                    yield start + x, Fraction(sign * (level - y))
            for begin, _, low, high in straight_stretches(face.footing, left=left - start, right=right - start):
                yield start + math.floor(begin), sign * (high - low)
            before, start = face.footing[-1][1], start + face.length

    def _face_at(self, station: int) -> tuple[Face, int]:
        left = 0
        for face in self.run.faces:
            if station < left + face.length:
                return face, left
            left += face.length
        return self.run.faces[-1], left - self.run.faces[-1].length

    # --- a face ----------------------------------------------------------------------------------

    def _height(self, index: int, face: Face) -> Iterator[tuple[str, Fault]]:
        """Walls lower than the sheet is wide, or higher than foundation walls are."""
        most = max(max(start, end) for _, _, start, end in height_stretches(face.top, face.footing))
        if most < self.job.sheet.width:
            width = inches(self.job.sheet.width, self.unit)
            yield self.say("low", ("faces", index, "top"), f"makes a wall lower than the sheet is wide, {width}",
                           got=f"{self.tape(most)} high", hint=self.bigger(math.ceil(most), HIGH_WALL))
        elif most > self.size(HIGH_WALL):
            limit = self.tape(self.size(HIGH_WALL))
            yield self.say("high", ("faces", index, "top"), f"makes a wall more than {limit} high",
                           got=f"{self.tape(most)} high", hint=self.smaller(math.ceil(most)))

    def _grade(self, index: int, face: Face) -> Iterator[tuple[str, Fault]]:
        """Grade above the wall, or so low that it smells of another unit."""
        if face.grade is None:
            return
        over, at = max((-gap, station) for left, right, start, end in height_stretches(face.top, face.grade)
                       for gap, station in ((start, left), (end, right)))
        if over > 0:
            yield self.say("grade over", ("faces", index, "grade"), "is above the wall top",
                           got=f"by {self.tape(over)} at {self.tape(at)}")
        level = {y for _, y in face.grade}
        foot = exact_lowest(face.footing, left=0, right=face.length)
        if len(level) == 1 and 0 < max(level) - foot < self.size(LOW_GRADE):
            meant = self.bigger(max(level), HIGH_WALL)
            if meant:
                yield self.say("grade low", ("faces", index, "grade"), "is hardly above the footing",
                               got=f"{self.tape(max(level) - foot)} above it", hint=meant)

    def _grade_jumps(self) -> Iterator[tuple[str, Fault]]:
        """Grade that is not the same on both sides of a corner."""
        faces = self.run.faces
        for index, face in enumerate(faces):
            if index == len(faces) - 1 and not self.run.closed:
                return
            after = faces[(index + 1) % len(faces)]
            if face.grade is None or after.grade is None or face is after:
                continue
            jump = abs(face.grade[-1][1] - after.grade[0][1])
            if jump > self.size(GRADE_JUMP):
                yield self.say("jump", ("faces", (index + 1) % len(faces), "grade"),
                               f"starts at another level than grade on {face.name} ends",
                               got=f"{self.tape(after.grade[0][1])} beside {self.tape(face.grade[-1][1])}")

    def _opening(self, index: int, face: Face, place: int, opening: Opening) -> Iterator[tuple[str, Fault]]:
        """An opening that reaches above the wall, or that has strange proportions."""
        steps: Steps = ("faces", index, "openings", place)
        top = exact_highest(face.top, left=opening.left, right=opening.left + opening.width)
        over = opening.sill + opening.height - top
        if over > 0:
            feet = self.unit.name == "in" and opening.height >= self.size(TALL_OPENING)
            yield self.say("opening over", (*steps, "height"), "reaches above the wall top",
                           got=f"{self.tape(opening.height)}, {self.tape(over)} above it",
                           hint=self.smaller(opening.height) if feet else "")
        if opening.width > SLIM * opening.height:
            yield self.say("wide", (*steps, "width"), f"is more than {SLIM} times the height",
                           got=f"{self.tape(opening.width)} by {self.tape(opening.height)}")
        elif opening.height > SLIM * opening.width:
            yield self.say("tall", (*steps, "height"), f"is more than {SLIM} times the width",
                           got=f"{self.tape(opening.height)} by {self.tape(opening.width)}")

    def _ledge(self, index: int, face: Face) -> Iterator[tuple[str, Fault]]:
        """A ledge that the base strip does not reach over with its least height up and down."""
        rules = self.job.rules
        saved = FILLET_FACTOR * rules.fillet if face.ledge else 0.0
        needed = 2 * rules.base_strip_up + math.ceil(round(face.ledge - saved, 9))
        if face.ledge and 0 < rules.base_strip < needed:
            yield self.say("ledge", ("faces", index, "ledge"),
                           f"is wider than a base strip of {inches(rules.base_strip, self.unit)} reaches over",
                           got=inches(face.ledge, self.unit),
                           hint=f"it needs base_strip: {inches(needed, self.unit)}")

    def _risers(self, index: int, face: Face) -> Iterator[tuple[str, Fault]]:
        """A step of the footing that is higher than the upper footing is deep: below that one there is no face."""
        steps = [(abs(level - y), x) for (x, y), (after, level) in zip(face.footing, face.footing[1:]) if x == after]
        faces = self.run.faces
        for way, own, theirs in ((-1, 0, -1), (1, -1, 0)):  # and where the next footing around a corner is lower
            if self.run.closed or 0 <= index + way < len(faces):
                at, level = face.footing[own]
                steps.append((level - faces[(index + way) % len(faces)].footing[theirs][1], at))
        high, at = max(steps, default=(0, 0))
        if face.ledge and 0 < face.footing_depth < high:
            yield self.say("riser", ("faces", index, "footing"), f"steps by more than the footing is deep, "
                           f"{inches(face.footing_depth, self.unit)}", got=f"{self.tape(high)} at {self.tape(at)}",
                           hint="the riser cover would span a void under the upper footing: give footing_depth there, "
                           "or more steps")

    def _sleeves(self) -> Iterator[tuple[str, Fault]]:
        """Sleeves so near to one another that their collars overlap."""
        reach = self.job.rules.collar_reach
        if not reach:
            return
        placed: list[tuple[int, Steps, Sleeve]] = []
        left = 0
        for index, face in enumerate(self.run.faces):
            placed += [(left + sleeve.at, ("faces", index, "sleeves", place, "at"), sleeve)
                       for place, sleeve in enumerate(face.sleeves)]
            left += face.length
        placed.sort(key=lambda item: item[0])
        widest = max((sleeve.diameter for _, _, sleeve in placed), default=0)
        for number, (x, steps, sleeve) in enumerate(placed):
            for other_x, _, other in reversed(placed[:number]):
                if x - other_x >= widest + 2 * reach:
                    break
                room = Fraction(sleeve.diameter + other.diameter, 2) + 2 * reach
                apart = max(x - other_x, abs(sleeve.elevation - other.elevation))
                if apart < room:
                    clear = apart - Fraction(sleeve.diameter + other.diameter, 2)
                    yield self.say("sleeves", steps, f"is nearer to {other.tag} than their collars reach, "
                                   f"{inches(reach, self.unit)} each",
                                   got=f"{self.tape(max(clear, Fraction(0)))} between")
                    break


def _few(found: Iterable[tuple[str, Fault]]) -> Iterator[Fault]:
    """Yield the first few warnings of each kind; the last of them says how many more there are."""
    by_kind: dict[str, list[Fault]] = {}
    for kind, fault in found:
        by_kind.setdefault(kind, []).append(fault)
    for alike in by_kind.values():
        yield from alike[:ALIKE - 1]
        for fault in alike[ALIKE - 1:ALIKE]:
            more = len(alike) - ALIKE
            others = f"and {more} more like it in this run" if more else ""
            yield replace(fault, hint="; ".join(part for part in (fault.hint, others) if part))
