"""What happened, put into the plan that was worked from: sheet that is gone, rolls that changed, pieces elsewhere.

Sheet that nothing can be made of any more becomes a piece of its own that keeps its place on its roll, so that every
roll still adds up: it is on the roll cards, and the crew sees what not to measure into.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from layout.errors import Fault, JobError, NoLayout
from layout.records import BaselinePlan, Cut, Cutting, Job, Leftover, Piece, Product, Roll, Rules
from layout.revise.earlier import DAMAGED, MISSING, SPARE, SPOILT
from layout.revise.progress import Done
from layout.revise.told import RollSpan, Told
from layout.units import inches, tape


@dataclass(frozen=True)
class Happened:
    """The plan that was worked from with what happened in it.

    Parameters
    ----------
    earlier, done, job
        Changed by what happened.
    gone
        Roll -> stretches of it that are used up though nothing is shown there [ticks].
    words
        What was made of it, for the crew.
    """

    earlier: BaselinePlan
    done: Done
    job: Job
    gone: Mapping[str, tuple[RollSpan, ...]]
    words: tuple[str, ...]


def happened(earlier: BaselinePlan, done: Done, told: Told, job: Job) -> Happened:
    """Put what happened into the plan that was worked from.

    Parameters
    ----------
    earlier, done
        The plan, and what of it is cut and hung.
    told
        What happened.
    job
        The job that is to be planned: it gets remnants that were found and limits by what was delivered.

    Raises
    ------
    JobError
        When what is told cannot be: a roll shorter than what is cut from it, a remnant whose tag is taken.
    NoLayout
        When a piece hangs where it cannot serve.
    """
    work = _Work(earlier, done, told, job)
    work.elsewhere()
    work.spoilt()
    work.wrong()
    work.rolls()
    work.stock()
    if work.faults:
        raise JobError(work.faults, "what happened")
    return Happened(
        replace(earlier, pieces=tuple(work.pieces.values()), cuttings=tuple(work.cuttings)),
        Done(frozenset(work.cut), frozenset(work.hung)), work.job,
        {roll: tuple(spans) for roll, spans in work.gone.items()}, tuple(work.words),
    )


class _Work:
    def __init__(self, earlier: BaselinePlan, done: Done, told: Told, job: Job) -> None:
        self.earlier, self.told, self.job = earlier, told, job
        self.unit, self.rules = earlier.job.unit, earlier.job.rules
        self.pieces = {piece.tag: piece for piece in earlier.pieces}
        self.cuttings = list(earlier.cuttings)
        self.cut = set(done.cut) | set(done.hung) | {
            piece.tag for piece in earlier.pieces if piece.layer == SPARE}
        self.hung = set(done.hung)
        self.gone: dict[str, list[RollSpan]] = {}
        self.faults: list[Fault] = []
        self.words: list[str] = []

    # --- pieces ----------------------------------------------------------------------------------

    def spoilt(self) -> None:
        """Leave the sheet of spoilt pieces on its roll as waste; the pieces are to be cut again."""
        for tag in sorted(self.told.spoilt):
            roll, cut = self._cut_of(tag)
            waste = self._waste(f"{tag}.spoilt", SPOILT, self.pieces[tag].product, cut.length, cut.width)
            self._put(roll, [replace(cut, piece=waste.tag, turned=False) if one.piece == tag else one
                             for one in roll.cuts], waste)
            self._uncut(tag)
            self.words.append(f"recut: {tag}, whose sheet is spoilt")

    def wrong(self) -> None:
        """Trim what was cut too large; make what was cut too small a spare of the size it has."""
        for tag, (length, width) in sorted(self.told.wrong.items()):
            piece = self.pieces[tag]
            roll, cut = self._cut_of(tag)
            needed = (piece.length, piece.width)
            if length >= needed[0] and width >= needed[1]:
                self.cut.add(tag)
                over = length - needed[0]
                if over and not cut.turned:
                    self.gone.setdefault(roll.tag, []).append((cut.at + cut.length, cut.at + cut.length + over))
                self.words.append(f"trim: {tag}, cut as {tape(length, self.unit)} x {inches(width, self.unit)}, to "
                                  f"{tape(needed[0], self.unit)} x {inches(needed[1], self.unit)}")
                continue
            # the block stays used up: whether the sheet beside the piece is still on the roll is not known
            self.gone.setdefault(roll.tag, []).append((cut.at, cut.at + cut.length))
            along, across = (width, length) if cut.turned else (length, width)
            spare = self._waste(f"{tag}.wrong", SPARE, piece.product, min(along, cut.length), min(across, cut.width))
            room = replace(cut, piece=spare.tag, length=spare.length, width=spare.width, turned=False,
                           at=cut.at + cut.length - spare.length)
            self._put(roll, [room if one.piece == tag else one for one in roll.cuts], spare)
            self._uncut(tag)
            self.words.append(f"recut: {tag}, which was cut as {tape(length, self.unit)} x {inches(width, self.unit)}")

    def elsewhere(self) -> None:
        """Let a piece that hangs where another of its shape belongs be that other one."""
        for tag, (run, face, left) in sorted(self.told.elsewhere.items()):
            other = self._belongs(tag, run, face, left)
            if other == tag:
                self.hung.add(tag)
                self.cut.add(tag)
                continue
            if other in self.hung:
                self.faults.append(Fault(0, tag, f"must hang where nothing hangs yet; {other} hangs there"))
                continue
            was_cut = other in self.cut
            self._swap(tag, other)
            self.cut.discard(tag)
            self.cut.add(other)
            self.hung.discard(tag)
            self.hung.add(other)
            if was_cut:
                self.cut.add(tag)
            rest = f"the piece marked {other} is {tag} now" if was_cut else f"{tag} is still to be cut"
            self.words.append(f"{tag} hangs where {other} belongs: it is {other} now, mark it so; {rest}")

    def _belongs(self, tag: str, run: str, face: str, left: int) -> str:
        """Return the piece whose place a piece hangs at."""
        wall = self.earlier.walls.get(run)
        span = next((span for span in wall.faces if span.name == face), None) if wall else None
        if wall is None or span is None:
            self.faults.append(Fault(0, tag, "must hang on a face of the job", f"{run}, {face}"))
            return tag
        piece, near = self.pieces[tag], _NEAR[self.unit.name]
        station = span.left + left
        turns = (0, wall.length) if wall.closed else (0,)
        found = [(abs(_left(other) - station - turn), other.tag) for other in self.pieces.values()
                 if other.flat and other.run == run and other.kind == piece.kind for turn in turns]
        nearest = min(found, default=(0, ""))
        if not found or nearest[0] > near:
            where = f"; {nearest[1]} begins nearest" if found else ""
            raise NoLayout(
                f"{tag} hangs with its left edge {tape(left, self.unit)} from the left end of {face}, and no "
                f"{piece.kind} begins within {inches(near, self.unit)} of there{where}. What would make it possible: "
                "measure again, or take it down and tell it spoilt")
        other = self.pieces[nearest[1]]
        if _shape(other) != _shape(piece):
            raise NoLayout(
                f"{tag} hangs where {other.tag} belongs and is not of its shape ({tape(other.length, self.unit)} x "
                f"{inches(other.width, self.unit)}). What would make it possible: take it down, tell it spoilt and "
                f"hang {other.tag} there")
        return other.tag

    def _swap(self, tag: str, other: str) -> None:
        """Let two pieces of one shape change names on their rolls."""
        name = {tag: other, other: tag}
        self.cuttings = [replace(made, rolls=tuple(
            replace(roll, cuts=tuple(replace(cut, piece=name.get(cut.piece, cut.piece)) for cut in roll.cuts))
            for roll in made.rolls)) for made in self.cuttings]

    # --- rolls -------------------------------------------------------------------------------------

    def rolls(self) -> None:
        """Take what is missing or damaged out of rolls; what was to be cut there is cut elsewhere."""
        told = self.told
        for name in sorted({*told.short, *told.damaged, *told.lost}):
            roll = self._roll(name)
            spans: list[tuple[int, int, str, str]] = []
            # the end of a bought roll is left for squaring: nothing is shown there
            last = roll.length - (0 if roll.remnant else self.rules.roll_end)
            if name in told.lost:
                spans.append((0, last, MISSING, "lost"))
                self.words.append(f"{name} is lost: what is cut from it stays, the rest of it is gone")
            elif name in told.short:
                spans.append((told.short[name], last, MISSING, "missing"))
                true = tape(told.short[name], self.unit)
                self.words.append(f"{name} is {true} long, not {tape(roll.length, self.unit)}")
            for start, end in told.damaged.get(name, ()):
                spans.append((start, min(end, last), DAMAGED, "damaged"))
                self.words.append(f"{name}: cut out and throw away {tape(start, self.unit)} to {tape(end, self.unit)}")
            for start, end, kind, word in spans:
                if start < end:
                    self._take_out(name, start, end, kind, word)

    def _take_out(self, name: str, start: int, end: int, kind: str, word: str) -> None:
        """Make a stretch of a roll waste, but for blocks that something is cut from already."""
        roll = self._roll(name)
        blocks = blocks_of(roll.cuts)
        held = [block for block in blocks if any(cut.piece in self.cut for cut in roll.cuts
                                                 if block[0] <= cut.at < block[1])]
        if kind == MISSING and word == "missing" and held and max(right for _, right in held) > start:
            self.faults.append(Fault(0, name, "must be at least as long as what is cut from it, "
                                     + tape(max(right for _, right in held), self.unit), tape(start, self.unit)))
            return
        cuts = [cut for cut in roll.cuts if any(left <= cut.at < right for left, right in held)
                or not any(left <= cut.at < right and left < end and start < right for left, right in blocks)]
        made: list[Piece] = []
        for left, right in _less((start, end), held):
            grown = self._grown(left, right, held)
            if grown is None:
                continue
            waste = self._waste(f"{name}-{word}", kind, roll.product, grown[1] - grown[0], roll.width,
                                [piece.tag for piece in made])
            # a waste piece that grew to a whole step may meet the next uncut block: that one moves too
            cuts = [cut for cut in cuts if cut.piece in self.cut or not any(
                a <= cut.at < b and a < grown[1] and grown[0] < b for a, b in blocks)
                or any(a <= cut.at < b for a, b in held)]
            cuts.append(Cut(waste.tag, grown[0], 0, waste.length, waste.width))
            made.append(waste)
        self._put(roll, sorted(cuts, key=lambda cut: (cut.at, cut.across)), *made)

    def _grown(self, left: int, right: int, held: Sequence[RollSpan]) -> RollSpan | None:
        """Return a stretch grown to what a piece can be: whole steps of cut_to, past the allowance; None for less."""
        step, least = self.rules.cut_to, self.rules.cut_allowance + 1
        length = -(-max(right - left, least) // step) * step
        low = max((b for _, b in held if b <= left), default=0)
        if right - length >= low:
            return right - length, right
        shorter = (right - left) // step * step
        return (right - shorter, right) if shorter >= least else None

    # --- stock -------------------------------------------------------------------------------------

    def stock(self) -> None:
        """Limit rolls to what was delivered, and add remnants that were found."""
        for length, count in sorted(self.told.delivered.items()):
            names = [name for name, product in (("sheet", self.job.sheet), ("strip", self.job.strip))
                     if any(stock.length == length for stock in product.rolls)]
            if not names:
                self.faults.append(Fault(0, "delivered", "must be a length of roll that the job buys",
                                         tape(length, self.unit)))
                continue
            opened = [roll for made in self.cuttings for roll in made.rolls if not roll.remnant
                      and roll.length == length and any(cut.piece in self.cut for cut in roll.cuts)]
            if len(opened) > count:
                self.faults.append(Fault(0, "delivered", f"must be at least the {len(opened)} that are opened",
                                         str(count)))
            self._change(names[0], _limited(length, count))
            self.words.append(f"delivered: {count} of {tape(length, self.unit)}")
        taken = {remnant.tag for remnant in (*self.job.sheet.remnants, *self.job.strip.remnants)}
        for remnant in self.told.remnants:
            if remnant.tag in taken:
                self.faults.append(Fault(0, "remnant", "must have a tag that no other remnant has", remnant.tag))
            if remnant.width > self.job.sheet.width:
                self.faults.append(Fault(0, f"remnant {remnant.tag}", "must be no wider than the sheet, "
                                         + inches(self.job.sheet.width, self.unit), inches(remnant.width, self.unit)))
            taken.add(remnant.tag)
        if self.told.remnants:
            self._change("sheet", lambda product: replace(product, remnants=(*product.remnants, *self.told.remnants)))

    def _change(self, name: str, change: Callable[[Product], Product]) -> None:
        job = self.job
        same = job.strip == job.sheet
        if name == "sheet":
            sheet = change(job.sheet)
            self.job = replace(job, sheet=sheet, strip=sheet if same else job.strip)
        else:
            self.job = replace(job, strip=change(job.strip))

    # --- what these need ---------------------------------------------------------------------------

    def _uncut(self, tag: str) -> None:
        self.cut.discard(tag)
        self.hung.discard(tag)

    def _cut_of(self, tag: str) -> tuple[Roll, Cut]:
        return next((roll, cut) for made in self.cuttings for roll in made.rolls for cut in roll.cuts
                    if cut.piece == tag)

    def _roll(self, name: str) -> Roll:
        return next(roll for made in self.cuttings for roll in made.rolls if roll.tag == name)

    def _put(self, roll: Roll, cuts: Sequence[Cut], *made: Piece) -> None:
        """Put other cuts on a roll, and add pieces to the plan."""
        self.pieces |= {piece.tag: piece for piece in made}
        self.cut |= {piece.tag for piece in made}
        left = roll.length - max((cut.at + cut.length for cut in cuts), default=0)
        new = replace(roll, cuts=tuple(cuts), leftover=Leftover(left, roll.width, left >= self.rules.keep_remnant))
        self.cuttings = [_with(one, new) for one in self.cuttings]

    def _waste(
        self, tag: str, kind: str, product: str, length: int, width: int, more: Sequence[str] = (),
    ) -> Piece:
        """Return a plain rectangle of sheet that hangs nowhere, its tag its own; no longer than there is sheet."""
        names = (tag, *(f"{tag}{number}" for number in range(2, 10_000)))
        name = next(one for one in names if one not in self.pieces and one not in more)
        run = self.earlier.job.runs[0]
        return plain_sheet(name, kind, run.name, run.faces[0].name, product, length, width, self.rules)


_NEAR = {"in": 16, "mm": 25}
"""How far from its place a piece may hang and still be taken to hang there [ticks]: common practice."""


def plain_sheet(
    tag: str, kind: str, run: str, face: str, product: str, length: int, width: int, rules: Rules,
) -> Piece:
    """Return a plain rectangle of sheet that hangs nowhere, its length on the steps that pieces are cut in."""
    least = rules.cut_allowance + 1
    length = max(length // rules.cut_to * rules.cut_to, -(-least // rules.cut_to) * rules.cut_to)
    high = length - rules.cut_allowance
    return Piece(tag, kind, SPARE, run, face, product, length, width, False,
                 ((0, high), (width, high), (width, 0), (0, 0)), drop=tag)


def blocks_of(cuts: Sequence[Cut]) -> list[RollSpan]:
    """Return the stretches that cross-cuts take off a roll."""
    blocks: list[RollSpan] = []
    for cut in sorted(cuts, key=lambda cut: cut.at):
        end = cut.at + cut.length
        if blocks and cut.at < blocks[-1][1]:
            blocks[-1] = (blocks[-1][0], max(blocks[-1][1], end))
        else:
            blocks.append((cut.at, end))
    return blocks


def _less(span: RollSpan, held: Sequence[RollSpan]) -> list[RollSpan]:
    """Return what is left of a stretch beside others."""
    found: list[RollSpan] = []
    at = span[0]
    for left, right in sorted(held):
        if right <= at or left >= span[1]:
            continue
        if left > at:
            found.append((at, left))
        at = max(at, right)
    return [*found, (at, span[1])] if at < span[1] else found


def _limited(length: int, count: int) -> Callable[[Product], Product]:
    """Return what limits the rolls of one length of a product to a number."""
    def change(product: Product) -> Product:
        return replace(product, rolls=tuple(
            replace(stock, on_hand=count) if stock.length == length else stock for stock in product.rolls))

    return change


def _with(made: Cutting, roll: Roll) -> Cutting:
    return replace(made, rolls=tuple(roll if one.tag == roll.tag else one for one in made.rolls))


def _left(piece: Piece) -> int:
    return min(x for x, _ in piece.outline)


def _shape(piece: Piece) -> object:
    """Return what makes two pieces alike, wherever they hang along the wall at one height."""
    left = _left(piece)

    def moved(ring: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
        return [(x - left, y) for x, y in ring]

    return (piece.kind, piece.product, piece.length, piece.width, moved(piece.outline),
            [moved(hole) for hole in piece.holes], [moved((slit.start, slit.end)) for slit in piece.slits])
