"""The plan in hand, measured: whether its own rolls, with pieces shorter or fewer, could do with one less.

A guess decides only which change is planned first; that one saves anything is never said without planning it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil

from layout.errors import NoLayout
from layout.records import MEMBRANE, Cut, Cutting, Drop, Job, Piece, Plan
from layout.rolls import Effort, Problem, best_cutting
from layout.rolls.cutting import price
from layout.rolls.totals import Totals

MOST_SIZES, MOST_RECUTS = 24, 8
"""Pieces of no more sizes than this are cut again for a guess, and no more often."""
GUESS = Effort(rounds=200, laned=0, dives=1, boxes=8)
"""How far pieces are cut for a guess."""

Lengths = Mapping[str, int]
"""Other lengths of some pieces, by tag [ticks]; 0 for a piece that is no longer needed."""


def sheet_of(plan: Plan) -> Cutting:
    """Return how the membrane is cut."""
    return next(cutting for cutting in plan.cuttings if cutting.product == MEMBRANE)


def cost_of(job: Job, cutting: Cutting) -> int:
    """Return what the rolls cost in whole numbers; their length where the sheet has no prices."""
    step = price(job.sheet).step
    if step is None or cutting.cost is None:
        return sum(roll.length for roll in cutting.rolls if not roll.remnant)
    return int(cutting.cost / step)


class InHand:
    """The plan in hand, measured for guesses.

    Parameters
    ----------
    job, plan
        The job, and its plan.
    """

    def __init__(self, job: Job, plan: Plan) -> None:
        self.plan = plan
        self.job = replace(job, extras=replace(job.extras, drainage_board=None))
        self.cutting = sheet_of(plan)
        self.cost = cost_of(job, self.cutting)
        self.recuts = 0
        cut_from_it = {part.piece for roll in self.cutting.rolls for part in roll.cuts}
        self.pieces = tuple(piece for piece in plan.pieces if piece.tag in cut_from_it)
        self.field = {piece.tag: piece for piece in self.pieces if piece.kind == "drop"}
        self.drops = tuple(drop for drop in plan.drops if drop.layer == MEMBRANE and drop.pieces)
        self.sizes = len({(piece.length, piece.width) for piece in self.pieces})
        self.area = sum(piece.length * piece.width for piece in self.pieces)

    def drops_at(self, lap: int) -> int:
        """Return the drops that the runs take at some side lap when nothing else counts."""
        step = self.job.sheet.width - lap
        return sum(max(1, -(-(run.length if run.closed else run.length - lap) // step)) for run in self.job.runs)

    def end_laps(self, drop: Drop) -> list[int]:
        """Return the height of each end lap of a drop [ticks]; pieces parted by an opening have none."""
        hung = [self.field[tag] for tag in drop.pieces]
        gaps = [max(y for _, y in lower.outline) - min(y for _, y in upper.outline)
                for upper, lower in zip(hung, hung[1:], strict=False)]
        return [gap for gap in gaps if gap > 0]

    def might_save(self, area: int, job: Job) -> bool:
        """Tell whether so much sheet [square ticks], remnants first, could cost less than the plan does."""
        stock = price(job.sheet).stocks
        bought = [roll for roll in stock if roll.cost]
        if not bought:
            return True
        free = sum(roll.length * roll.width for roll in stock if not roll.cost)
        rate = min(Fraction(roll.cost, roll.length * roll.width) for roll in bought)
        return Totals(Problem((), stock)).at_least(ceil(max(0, area - free) * rate)) < self.cost

    def seen_to_save(self, lengths: Lengths, *, extra: Sequence[Piece] = (), job: Job | None = None) -> bool:
        """Tell whether the changed pieces, cut with little effort, cost less than the plan.

        Parameters
        ----------
        lengths
            What is changed.
        extra
            Pieces besides.
        job
            With other rolls, where they are what changes.
        """
        there = job or self.job
        pieces = [replace(piece, length=length) for piece in self.pieces
                  if (length := lengths.get(piece.tag, piece.length))]
        pieces += extra
        if not self.might_save(sum(piece.length * piece.width for piece in pieces), there):
            return False
        if not extra and job is None and self._one_roll_less(lengths):
            return True
        if self.sizes > MOST_SIZES or self.recuts >= MOST_RECUTS:
            return False
        self.recuts += 1
        try:
            made = best_cutting(
                pieces, there.sheet, unit=there.unit, keep_remnant=there.rules.keep_remnant,
                effort=replace(GUESS, wanted=self.cost - 1),
            )
        except NoLayout:
            return False
        return cost_of(there, made) < self.cost

    def _one_roll_less(self, lengths: Lengths) -> bool:
        """Tell whether what is cut from some one roll now fits behind what the others yield."""
        of_piece = {piece.tag: piece for piece in self.pieces}
        blocks = [_block_lengths(roll.cuts, lengths, of_piece) for roll in self.cutting.rolls]
        rooms = [roll.length - sum(mine) for roll, mine in zip(self.cutting.rolls, blocks, strict=True)]
        for number, roll in enumerate(self.cutting.rolls):
            if roll.remnant:
                continue
            others = [room for other, room in enumerate(rooms) if other != number]
            alike = [room for other, room in enumerate(rooms) if other != number
                     and self.cutting.rolls[other].width == roll.width]
            if min(others, default=0) >= 0 and _fit_behind(blocks[number], alike):
                return True
        return False

    def with_rule(self, **values: object) -> Job:
        """Return the job with other rules."""
        rules = replace(self.job.rules, **values)  # type: ignore[arg-type]
        sheet, strip = (replace(product, roll_end=rules.roll_end) for product in (self.job.sheet, self.job.strip))
        return replace(self.job, rules=rules, sheet=sheet, strip=strip)


def _block_lengths(cuts: Sequence[Cut], lengths: Lengths, of_piece: Mapping[str, Piece]) -> list[int]:
    """Return the length of each block of a roll with some of its pieces changed [ticks]."""
    blocks: dict[int, int] = {}
    for part in cuts:
        if part.across or part.within:
            continue  # the longest lane of a block lies at the edge
        piece = of_piece[part.piece]
        here = part.length if part.turned else lengths.get(piece.tag, piece.length)
        blocks[part.at] = max(blocks.get(part.at, 0), here)
    return [length for length in blocks.values() if length]


def _fit_behind(blocks: Sequence[int], rooms: list[int]) -> bool:
    """Tell whether blocks fit into what is left of rolls, each put where it fits tightest, the longest first."""
    for length in sorted(blocks, reverse=True):
        best = min((room for room in rooms if room >= length), default=None)
        if best is None:
            return False
        rooms[rooms.index(best)] -= length
    return True
