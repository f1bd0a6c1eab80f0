"""A job's sheet in horizontal courses, laid and cut: what ``compare`` sets beside the drops.

``plan`` never hangs courses. Nothing here is weighed against other layouts, so nothing is proven about them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from layout.courses import Coursing, lay_courses
from layout.faces import develop
from layout.integrated import FIRST, cut_product
from layout.pieces import course_pieces, reinforce
from layout.pieces.blanks import longest
from layout.records import MEMBRANE, Cutting, Job, Piece, Plan, RuleException, Rules, Wall
from layout.rolls.cutting import price as priced_stock

MOST_LENGTHS = 3
"""Greatest lengths of a piece that are tried: what a crew can handle, and what divides the longest rolls."""


@dataclass(frozen=True)
class Coursed:
    """A job in horizontal courses.

    Parameters
    ----------
    plan
        Its walls, pieces, rolls and exceptions, without drops, seams and takeoff.
    courses
        How many courses, all runs together.
    seam_length
        Length of the seams between courses and of the end laps [ticks].
    """

    plan: Plan
    courses: int
    seam_length: int


@dataclass(frozen=True)
class _Trial:
    """Every run laid in pieces of one greatest length, and cut; ``spent`` is its cost in the stock's whole numbers."""

    laid: tuple[Coursing, ...]
    pieces: tuple[Piece, ...]
    sheet: Cutting
    spent: int

    @property
    def rank(self) -> tuple[int, int, int, int, int]:
        """What one is better than another by: rules broken, roll cost, rolls, pieces, and their length together."""
        return (self.shortfall, self.spent, len(self.sheet.rolls), len(self.pieces),
                sum(piece.length for piece in self.pieces))

    @property
    def shortfall(self) -> int:
        """By how much rules are broken [ticks]."""
        return sum(coursing.shortfall for coursing in self.laid)


def lay_job(job: Job, *, stop: Callable[[], bool]) -> Coursed:
    """Lay the sheet of a job in horizontal courses and cut it from rolls.

    Parameters
    ----------
    job
        The job; its drainage board and strips of their own product are left out.
    stop
        Asked now and then; when it says yes, what is laid so far is taken.

    Raises
    ------
    NoLayout
        When a piece fits no roll, or the rolls on hand do not do.

    Notes
    -----
    The courses of each run lie as ``layout.courses`` says: the fewest, or those that take the least roll, each once
    for a few greatest lengths of a piece. Of these the one is taken that breaks the rules least, then costs least,
    then takes the fewest pieces. No bound on other ways is worked out.
    """
    walls = develop(job)
    strips, short = reinforce(job, walls, (), ())
    stock = priced_stock(job.sheet)
    best: _Trial | None = None
    for laid in _ways(job, walls):
        if best is not None and stop():
            break
        pieces = tuple(
            piece for wall, coursing in zip(walls, laid, strict=True) for piece in course_pieces(
                wall, [course.boxes for course in coursing.courses], job.rules, product=wall.layer)
        )
        if best is not None and sum(coursing.shortfall for coursing in laid) > best.shortfall:
            continue
        effort = FIRST if best is None else replace(FIRST, wanted=best.spent)
        sheet = cut_product(job, MEMBRANE, job.sheet, (*pieces, *strips), stop=stop, effort=effort)
        trial = _Trial(laid, pieces, sheet, stock.spent(sheet))
        if best is None or trial.rank < best.rank:
            best = trial
    assert best is not None
    broken: list[RuleException] = [each for coursing in best.laid for each in coursing.broken]
    plan = Plan(
        job=job, walls=walls, drops=(), seams=(), pieces=(*best.pieces, *strips), cuttings=(best.sheet,),
        exceptions=(*broken, *short), notes=tuple(note for wall in walls for note in wall.notes),
    )
    return Coursed(
        plan, courses=sum(len(coursing.courses) for coursing in best.laid),
        seam_length=sum(coursing.seam_length for coursing in best.laid),
    )


def _ways(job: Job, walls: Sequence[Wall]) -> Iterator[tuple[Coursing, ...]]:
    """Yield the ways to lay every run that are tried, none twice."""
    seen: list[tuple[Coursing, ...]] = []
    for fewest in (True, False):
        for most in piece_lengths(job):
            laid = tuple(
                lay_courses(wall, job.rules, width=job.sheet.width, longest=most, fewest=fewest, unit=job.unit)
                for wall in walls
            )
            if laid not in seen:
                seen.append(laid)
                yield laid


def piece_lengths(job: Job) -> tuple[int, ...]:
    """Return the greatest lengths of a piece that are tried, the longest first [ticks].

    The longest that a crew can handle, then those up to it that divide the longest rolls without a rest: of 12'-0" at
    most, six of 11'-1 5/16" come from a roll of 66'-8" and leave nothing, five of 12'-0" leave 6'-8".
    """
    most = longest(job.sheet, job.rules)
    found = [most]
    for roll in sorted({roll.length - job.rules.roll_end for roll in job.sheet.rolls}, reverse=True):
        share = _uncut(roll // -(-roll // _cut(most, job.rules)), job.rules)
        if job.rules.end_lap < share < most and share not in found:
            found.append(share)
    return tuple(sorted(found[:MOST_LENGTHS], reverse=True))


def _cut(length: int, rules: Rules) -> int:
    """Return what is cut from the roll for a piece [ticks]."""
    return -(-(length + rules.cut_allowance) // rules.cut_to) * rules.cut_to


def _uncut(length: int, rules: Rules) -> int:
    """Return the longest piece that so much of a roll gives [ticks]."""
    return length - length % rules.cut_to - rules.cut_allowance
