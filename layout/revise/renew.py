"""The new plan: what stays, what is placed anew, what each piece is made of, how the rest is cut."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from layout.board import board_product
from layout.errors import Fault, JobError, NoLayout
from layout.faces import develop
from layout.integrated import cut_product
from layout.integrated.hang import Hung, hang_board, joined_runs
from layout.pieces import reinforce, settle
from layout.records import DRAINAGE, MEMBRANE, STRIP, BaselinePlan, Job, Piece, Plan, Product, RuleException, Wall
from layout.revision import Revision
from layout.revise.crew_page import changed_tags, crew_page
from layout.revise.earlier import SPARE
from layout.revise.matching import Matched, match, unsuited
from layout.revise.mending import Unsuited, kept_strips
from layout.revise.places import Placed, Stay, freed, place_around, stay, tags_of
from layout.revise.progress import Done
from layout.revise.recut import Recut, recut
from layout.revise.told import RollSpan
from layout.rolls.cutting import outlay
from layout.takeoff import bar_pieces, bar_product, fit_checks, take_off
from layout.units import inches

FIXED = ("end_lap", "end_lap_stagger", "max_piece", "min_width", "cut_allowance", "cut_to")
"""Rules that what is cut was cut by; they must stay as they were."""

PEELS = (0, 1, 2, 3, 10_000)
"""How many drops at each end of a row that is only cut are let go, one way after the other."""

Progress = Callable[[str], None]
Stop = Callable[[], bool]


@dataclass(frozen=True)
class Revised:
    """A new plan, what of it is done already, what the change comes to for the crew, and what it costs, in words."""

    plan: Plan
    done: Done
    words: tuple[str, ...]
    costs: tuple[str, ...] = ()


@dataclass(frozen=True)
class KeptTrial:
    """The membrane of one way to keep what is cut."""

    field: Hung
    matched: Matched
    sheet: Recut
    kept: bool
    mended: frozenset[str] = frozenset()

    @property
    def rank(self) -> tuple[Decimal, int, int]:
        """What one way is better than another by: roll cost, pieces that lose their place, sheet still to be cut."""
        new = sum(piece.length for piece in self.matched.pieces if piece.tag not in self.matched.made_of)
        return outlay(self.sheet.cutting), len(self.matched.spares) + len(self.matched.trimmed), new


def _mended(kept: Mapping[str, Stay]) -> frozenset[str]:
    """Return the tags of the pieces that get a new hole or a patch."""
    return frozenset(piece.tag for one in kept.values() if one.mended for piece in one.pieces)


def _violation(placed: Sequence[Placed]) -> int:
    return sum(one.violation for one in placed)


def renew(
    earlier: BaselinePlan, done: Done, job: Job, *, progress: Progress, stop: Stop,
    gone: Mapping[str, tuple[RollSpan, ...]] | None = None, anew: bool = False,
) -> Revised:
    """Plan the changed job again; what is cut stays cut, what is hung stays where it hangs.

    Parameters
    ----------
    earlier
        The plan that was worked from.
    done
        What of it is cut and hung.
    job
        The changed job; the job as it was when nothing but the progress has changed.
    progress, stop
        As for ``pipeline.make_plan``.
    gone
        Roll -> stretches of it that are used up though nothing is shown there [ticks].
    anew
        Something happened, so that what could be better cut is.

    Returns
    -------
    Revised
        With the takeoff of the whole job: rolls that were opened are in it, and in its cost.

    Raises
    ------
    JobError
        When the change touches what the cut pieces were cut by.
    NoLayout
        When something that is hung does not suit the changed job, or no layout is possible around it.

    Notes
    -----
    A run that has not changed keeps its drops. On a changed run the drops that are hung stay; those that are only cut
    stay too where they suit, or some or all of them are used elsewhere, whichever breaks the rules less, then costs
    less, then moves fewer pieces (``PEELS`` says which ways are tried). Savings are not asked, and nothing is called
    optimal unless everything stays.
    """
    spares = frozenset(piece.tag for piece in earlier.pieces if piece.layer == SPARE)
    done = Done(done.cut | done.hung | spares, done.hung - spares)
    _check(earlier, job)
    progress("developing the walls")
    work = _Work(earlier, done, job, develop(job), progress, stop, gone or {}, anew)
    return work.finished(work.best())


def _check(earlier: BaselinePlan, job: Job) -> None:
    """Raise JobError where the change touches what the cut pieces were cut by."""
    faults, _ = fit_checks(job)
    if faults:
        raise JobError(faults)
    found: list[Fault] = []
    was = earlier.job

    def same(where: str, before: object, after: object) -> None:
        if before != after:
            found.append(Fault(0, where, "must stay as it was: pieces are cut by it", str(after), f"it was {before}"))

    same("units", was.unit.name, job.unit.name)
    if was.unit == job.unit:
        for name in FIXED:
            before, after = (inches(getattr(of.rules, name), job.unit) for of in (was, job))
            same(f"rules.{name}", before, after)
        same("sheet.width", inches(was.sheet.width, job.unit), inches(job.sheet.width, job.unit))
    same("strip.from", was.strips_from, job.strips_from)
    if was.extras.drainage_board != job.extras.drainage_board:
        found.append(Fault(0, "drainage_board", "must stay as it was: pieces are cut by it"))
    if found:
        raise JobError(found, "changed job")


class _Work:
    """The new plan under way."""

    def __init__(
        self, earlier: BaselinePlan, done: Done, job: Job, walls: Sequence[Wall], progress: Progress, stop: Stop,
        gone: Mapping[str, tuple[RollSpan, ...]], anew: bool,
    ) -> None:
        self.earlier, self.done, self.job, self.walls = earlier, done, job, walls
        self.progress, self.stop, self.gone, self.anew = progress, stop, gone, anew
        self.turned = frozenset(
            cut.piece for made in earlier.cuttings for roll in made.rolls for cut in roll.cuts if cut.turned)
        self.cut = tuple(piece for piece in earlier.pieces if piece.tag in done.cut)
        asked, self.strips_broken = reinforce(job, walls, (), ())
        self.strips = kept_strips(asked, self.cut, old=dict(earlier.walls), new={wall.run: wall for wall in walls},
                                  lap=job.rules.end_lap)
        self.old_strips_broken = reinforce(earlier.job, tuple(earlier.walls.values()), (), ())[1]

    # --- the membrane --------------------------------------------------------------------------

    def best(self) -> KeptTrial:
        """Return the best of the ways to keep drops that are only cut: all that suit stay, or fewer, or none."""
        ways: list[tuple[list[Placed], dict[str, Stay]]] = []
        refused: list[NoLayout] = []
        for peel, mend in ((peel, mend) for peel in PEELS for mend in (True, False)):
            try:
                way = self._placed(peel, mend)
            except NoLayout as error:
                refused.append(error)
                continue
            if all((set(way[1]), _mended(way[1])) != (set(kept), _mended(kept)) for _, kept in ways):
                ways.append(way)
        if not ways:
            raise refused[0]
        least = min(_violation(placed) for placed, _ in ways)
        trials = [self._trial(placed, kept) for placed, kept in ways if _violation(placed) == least]
        return min(trials, key=lambda trial: trial.rank)

    def _placed(self, peel: int, mend: bool) -> tuple[list[Placed], dict[str, Stay]]:
        """Place every run; of drops that are only cut, ``peel`` at each end of a row are free to go elsewhere.

        With ``mend`` those whose sleeves moved get a patch and a new hole; what hangs gets them in any case.
        """
        self.progress("placing the drops")
        kept: dict[str, Stay] = {}
        placed = [self._run(wall, peel, mend, kept) for wall in self.walls]
        return placed, kept

    def _trial(self, placed: Sequence[Placed], kept: Mapping[str, Stay]) -> KeptTrial:
        """Match and cut the membrane."""
        field = joined_runs([one.hung for one in placed])
        cut = [piece for piece in self.cut if piece.product in (MEMBRANE, STRIP)]
        matched = self._match((*field.pieces, *self.strips), cut, _mended(kept))
        self.progress("cutting the rolls")
        return KeptTrial(field, matched, self._recut(MEMBRANE, self.job.sheet, matched),
                         all(self._unchanged(wall) for wall in self.walls), _mended(kept))

    def _run(self, wall: Wall, peel: int, mend: bool, kept: dict[str, Stay]) -> Placed:
        """Return one run, hung; the drops that stay on a changed run are added to ``kept`` by their tags."""
        old = self.earlier.walls.get(wall.run)
        if old is not None and self._unchanged(wall):
            return Placed(self._as_before(wall), 0)
        stays = list(self._stays(old, wall, mend)) if old is not None else []
        for _ in range(min(peel, len(stays))):
            stays = freed(wall, stays)
        here = {one.drop.tag for one in stays}
        kept |= {one.drop.tag: one for one in stays}
        written = tags_of([piece for piece in self.cut if piece.drop not in here]) | tags_of(self.strips)
        return place_around(self.job, wall, stays, written)

    def _unchanged(self, wall: Wall) -> bool:
        """Tell whether a run is what it was, and its rules with it."""
        old = self.earlier.walls.get(wall.run)
        return old is not None and replace(old, notes=()) == replace(wall, notes=()) and (
            self.earlier.job.rules.side_lap == self.job.rules.side_lap)

    def _as_before(self, wall: Wall) -> Hung:
        drops = tuple(drop for drop in self.earlier.drops if (drop.run, drop.layer) == (wall.run, wall.layer))
        tags = {drop.tag for drop in drops}
        return Hung(
            (wall,), drops,
            tuple(seam for seam in self.earlier.seams if seam.left in tags and seam.layer == wall.layer),
            tuple(piece for piece in self.earlier.pieces if piece.kind == "drop" and piece.drop in tags),
            tuple(broken for broken in self.earlier.broken
                  if broken.run == wall.run and broken not in self.old_strips_broken),
        )

    def _stays(self, old: Wall, wall: Wall, mend: bool) -> Iterator[Stay]:
        """Yield the drops of a changed run that are hung, and those that are only cut and suit.

        Raises
        ------
        NoLayout
            When one that is hung does not suit.
        """
        for drop in self.earlier.drops:
            if (drop.run, drop.layer) != (wall.run, wall.layer):
                continue
            hung = any(tag in self.done.hung for tag in drop.pieces)
            if not hung and not any(tag in self.done.cut for tag in drop.pieces):
                continue
            try:
                yield stay(old, wall, drop, self.earlier.pieces_of(drop), hung=hung,
                           rules=self.job.rules if mend or hung else None)
            except Unsuited as why:
                if hung:
                    raise unsuited(drop.tag, "hung", why) from None

    # --- pieces and rolls ----------------------------------------------------------------------

    def _match(self, pieces: Sequence[Piece], cut: Sequence[Piece], mended: frozenset[str]) -> Matched:
        return match(self.job, pieces, cut, self.done.hung, old=self.earlier.walls,
                     new={wall.run: wall for wall in self.walls}, turned=self.turned, mended=mended)

    def _recut(self, name: str, product: Product, matched: Matched) -> Recut:
        pieces = [piece for piece in (*matched.pieces, *matched.spares) if piece.product == name]
        before = next((made for made in self.earlier.cuttings if made.product == name), None)
        if before is None:
            return Recut(cut_product(self.job, name, product, pieces, stop=self.stop), (), False)
        return recut(self.job, name, product, pieces, matched.made_of, before=before,
                     same_stock=product == self._old_product(name), stop=self.stop, gone=self.gone, anew=self.anew)

    def _old_product(self, name: str) -> Product | None:
        was = self.earlier.job
        board = was.extras.drainage_board
        return {MEMBRANE: was.sheet, STRIP: was.strip}.get(name) or (board_product(board) if board else None)

    # --- the whole -----------------------------------------------------------------------------

    def finished(self, best: KeptTrial) -> Revised:
        """Return the plan of the best way, with its board, its takeoff, and what it says of the change."""
        made = [best.sheet]
        if self.job.strips_from == "strip":
            made.append(self._recut(STRIP, self.job.strip, best.matched))
        field = {drop.tag for drop in best.field.drops}
        pieces = best.matched.pieces
        hung = replace(best.field, pieces=tuple(piece for piece in pieces if piece.drop in field))
        laid, matched = self._board(hung)
        board = self.job.extras.drainage_board
        if matched is not None and board is not None:
            made.append(self._recut(DRAINAGE, board_product(board), matched))
        made_of = {**best.matched.made_of, **(matched.made_of if matched else {})}
        spares = (*best.matched.spares, *(matched.spares if matched else ()))
        words = self._words(best, made, (*pieces, *laid.pieces, *spares), made_of)
        before = best.kept and best.sheet.as_before and (self.earlier.job.rules, self.earlier.job.runs) == (
            self.job.rules, self.job.runs)
        sheet = best.sheet.cutting
        bound = self.earlier.cost_bound if before else None
        plan = Plan(
            job=self.job, walls=(*self.walls, *laid.walls), drops=(*hung.drops, *laid.drops),
            seams=(*hung.seams, *laid.seams), pieces=(*pieces, *laid.pieces, *spares),
            cuttings=tuple(one.cutting for one in made),
            exceptions=(*self._field_broken(hung, laid.broken), *self.strips_broken, *laid.broken),
            notes=(*words, *(note for wall in self.walls for note in wall.notes)),
            cost_bound=sheet.cost if bound is not None and bound == sheet.cost else bound,
            optimal=before and self.earlier.optimal, certificate=self.earlier.certificate if before else {},
        )
        plan = replace(plan, revision=Revision(
            self.earlier.revision + 1, self.earlier.digest,
            changed_tags(self.earlier, plan.pieces, made_of, best.mended), words))
        settled, dabs = settle(plan.job, plan.walls, plan.pieces)
        plan = replace(plan, pieces=settled, dabs=dabs)
        bar = bar_product(self.job)
        bars = cut_product(self.job, "termination bar", bar, bar_pieces(plan), stop=self.stop) if bar else None
        done = Done(frozenset(made_of), frozenset(tag for tag in made_of if made_of[tag] in self.done.hung))
        return Revised(take_off(plan, bars=bars), done, words, spent(made))

    def _field_broken(self, field: Hung, board: Sequence[RuleException]) -> tuple[RuleException, ...]:
        """Return the field's exceptions without those of the board that came with a run that stays."""
        return tuple(broken for broken in field.broken if broken not in board)

    def _board(self, field: Hung) -> tuple[Hung, Matched | None]:
        """Lay the drainage board again, and hold it against what is cut of it."""
        cut = [piece for piece in self.cut if piece.product == DRAINAGE]
        laid, cuttings = hang_board(self.job, field, progress=self.progress, stop=lambda: True)
        if not cuttings:
            if cut:
                raise NoLayout("drainage board is cut, and the changed job has no place for any")
            return laid, None
        by_tag = {piece.tag: piece for piece in laid.pieces}
        lost = [piece.tag for piece in cut if by_tag.get(piece.tag) != piece]
        if lost:
            raise NoLayout(
                f"drainage board is cut ({', '.join(lost[:6])}) that does not suit the changed job; changes under "
                "board that is cut are not replanned")
        return laid, Matched(laid.pieces, {piece.tag: piece.tag for piece in cut}, (), ())

    def _words(self, best: KeptTrial, made: Sequence[Recut], pieces: Sequence[Piece],
               made_of: Mapping[str, str]) -> tuple[str, ...]:
        """Say what is done, what to do with every piece, and which rolls to open, buy or return."""
        return crew_page(
            self.earlier, pieces, [one.cutting for one in made], made_of=made_of,
            trimmed=best.matched.trimmed,
            opened={one.cutting.product: frozenset(roll.tag for roll in one.opened) for one in made},
            cut=len(self.done.cut), hung=len(self.done.hung), mended=best.mended,
        )


def spent(made: Sequence[Recut]) -> tuple[str, ...]:
    """Say for each product what its opened rolls cost and what those still to be opened will."""
    words = []
    for one in made:
        cutting, opened = one.cutting, {roll.tag for roll in one.opened}
        if cutting.cost is None:
            continue
        costs = [sum((roll.price or Decimal(0) for roll in cutting.rolls
                      if not roll.remnant and (roll.tag in opened) == here), Decimal(0)) for here in (True, False)]
        words.append(f"{cutting.product}: rolls opened cost {costs[0]:,.2f}, rolls still to open {costs[1]:,.2f}")
    return tuple(words)
