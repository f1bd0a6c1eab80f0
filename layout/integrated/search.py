"""Drops and rolls decided together: the search over layouts, with a bound on all of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache, partial
from itertools import pairwise
from math import floor

import numpy as np

from layout.drops import Layout, chalk_line, habit_note, place
from layout.drops.prices import cut_lengths
from layout.integrated.certificate import Claim, RunLeast, area_certificate, by_worths
from layout.integrated.hang import Hung, cut_product, hang, hang_board, joined_runs
from layout.integrated.limits import FIRST, QUICK, THOROUGH, TRIAL
from layout.integrated.market import Market, Sharing, Terms, Want, Worth, Yield, least_cover
from layout.integrated.pairs import PairChoice, Share, best_choices, rooms_beside, widths_to_try
from layout.integrated.roll_ends import to_the_ends
from layout.pieces import reinforce
from layout.records import MEMBRANE, STRIP, Cutting, Job, Piece, Plan, Profile, RuleException, Rules, Wall
from layout.rolls import Effort, Problem, TooDear, Work
from layout.rolls.cutting import outlay
from layout.rolls.cutting import price as priced_stock
from layout.rolls.totals import Totals
from layout.units import Unit

Progress = Callable[[str], None]
"""Told what is being done, in a few words."""
Stop = Callable[[], bool]
"""Asked now and again whether to end; True ends the search soon, with the best that is found."""

SLOPING, CLOSED = 8, 4
"""What a sloping tick, and a tick of a closed run, counts for more than another one."""
LOOSE, FAIR, CLOSE = 1, 2, 4
"""How closely the starting points of closed runs are looked at: for one layout of many, for a good one, and at most,
for a bound.
"""
FEW = 2
"""For each so many rounds of the search one of pairing is made."""
BEST_PAIRINGS = 5
"""Choices whose rooms are looked at."""
SHARE, LEAST_SHARE = 4, 40
"""One cutting takes at most one of so many parts of what is left of that, since the first ones tell most; when less
than one of so many of the whole falls to it, nothing more is cut."""


@dataclass(frozen=True)
class Trial:
    """One layout for each run, hung and cut."""

    layouts: tuple[Layout, ...]
    field: Hung
    strips: tuple[Piece, ...]
    broken: tuple[RuleException, ...]
    sheet: Cutting

    @property
    def rank(self) -> tuple[int, Decimal, int, int]:
        """What one trial is better than another by: rules broken, roll cost, rolls, priced length of its layouts."""
        return (
            violation(self.layouts),
            outlay(self.sheet),
            len(self.sheet.rolls),
            sum(piece.length for piece in self.field.pieces),
        )


def violation(layouts: Sequence[Layout]) -> int:
    """Return by how much layouts miss the clearances of seams [ticks]."""
    return sum(layout.cost.violation for layout in layouts)


@dataclass
class Known:
    """The layouts of one run, by its number, that were found, and what each asks for."""

    run: int
    layouts: list[Layout] = field(default_factory=list)
    wants: list[tuple[Want, ...]] = field(default_factory=list)

    def learn(self, market: Market, layout: Layout, wants: tuple[Want, ...]) -> None:
        """Keep a layout that is new."""
        if market.add_layout(self.run, wants):
            self.layouts.append(layout)
            self.wants.append(wants)

    def within(self, violation: int) -> list[tuple[Layout, tuple[Want, ...]]]:
        """Return the layouts that break rules by no more than so much [ticks]."""
        return [
            (layout, wants) for layout, wants in zip(self.layouts, self.wants, strict=True)
            if layout.cost.violation <= violation
        ]


@dataclass(frozen=True)
class Pairings:
    """Layouts of each run, what each takes of the rolls, and the choices among them that take the least, best first."""

    layouts: list[list[Layout]]
    shares: list[list[Share]]
    choices: list[PairChoice]


def decide(
    job: Job, walls: Sequence[Wall], *, thorough: bool = False, progress: Progress, stop: Stop, rough: int = 0,
) -> Plan:
    """Place the drops of every run, cut them into pieces, and cut the pieces from rolls, together.

    Parameters
    ----------
    job
        The job.
    walls
        Its developed runs.
    thorough, progress, stop
        As for ``pipeline.make_plan``.
    rough
        When not 0, the first layouts look at the starting points of closed runs only so closely (``drops.place``).

    Returns
    -------
    Plan
        Without the takeoff's quantities.

    Raises
    ------
    NoLayout
        When a wall cannot be covered or a piece fits no roll.

    Notes
    -----
    The first layouts are those of least total length. While the bound is below the cost, the worths of lengths that
    the linear program implies are handed to the placement, which answers with better layouts and a better bound.
    Among plans of one cost the one of least total length is taken, so the outcome is never dearer than deciding one
    after the other.
    """
    search = IntegratedSearch(job, walls, progress, stop, thorough=thorough, rough=rough)
    best = search.run()
    certificate = search.certificate()
    cuttings = [best.sheet]
    if job.strips_from == "strip":
        cuttings.append(cut_product(job, STRIP, job.strip, best.strips, stop=stop))
    board, board_cutting = hang_board(job, best.field, progress=progress, stop=stop)
    cuttings += board_cutting
    return Plan(
        job=job, walls=(*best.field.walls, *board.walls), drops=(*best.field.drops, *board.drops),
        seams=(*best.field.seams, *board.seams), pieces=(*best.field.pieces, *best.strips, *board.pieces),
        cuttings=tuple(cuttings), exceptions=(*best.field.broken, *best.broken, *board.broken),
        notes=(*(note for wall in walls for note in wall.notes), *habit_notes(job, best)),
        cost_bound=search.bound_money(), optimal=search.proven(best), certificate=certificate,
    )


def quiet(words: str) -> None:
    """Ignore what is being done: the progress function of a caller who shows none."""


def never() -> bool:
    """Return False: never stop before the search has ended by itself."""
    return False


class IntegratedSearch:
    """The search under way: the best trial and the best bound."""

    def __init__(
        self, job: Job, walls: Sequence[Wall], progress: Progress = quiet, stop: Stop = never, *,
        thorough: bool = False, rough: int = 0,
    ) -> None:
        self.limits, self.rough = THOROUGH if thorough else QUICK, rough
        self.job, self.walls, self.progress, self.stop = job, walls, progress, stop
        self.stock = priced_stock(job.sheet)
        self.bound = self.area_bound = 0
        self.violations: dict[str, int] = {}
        self.claim: tuple[Market, Claim] | None = None
        """What proves the bound; None when it is by area."""
        self.tried: list[tuple[Layout, ...]] = []
        self.hung: list[list[tuple[Layout, Hung]]] = [[] for _ in walls]
        """What hangs on each run in each of its layouts that was cut."""
        self.turns_tried = self.paired = 0
        self.too_long: int | None = None
        self.work = Work(self.limits.steps)
        self.rounds = self.limits.allowed(work(walls))
        self.reinforcing = reinforce(job, walls, (), ())

    def first(self) -> Trial:
        """Return the layouts of least total length, cut."""
        self.progress("placing the drops")
        return self.cut(tuple(self.place(wall, None) for wall in self.walls), FIRST)

    def run(self) -> Trial:
        """Return the best trial found."""
        best = self.first()
        self.bound = self.area_bound = self._by_area()
        self._tell("cutting the rolls", best)
        if not self._open(best):
            return best
        first = best.layouts
        best = self._to_the_ends(first, FIRST, self._cost(best)) or best
        self.violations = {
            wall.run: layout.bound.violation if layout.bound else layout.cost.violation
            for wall, layout in zip(self.walls, first, strict=True)
        }
        if not self._open(best) or self.stop():
            return best
        self._tell("weighing layouts against rolls", best)
        market = self._market()
        known = [Known(run) for run in range(len(self.walls))]
        self._learn(known, market, best.layouts)
        idle = 0
        proving, measure = market.by_length(), None
        for turn in range(self.rounds):
            if self.stop() or idle >= self.limits.patience:
                break
            before = (self.bound, best.rank)
            worth = proving
            if turn:
                # half way to the program's worths often proves more than they do while few layouts are known
                worth = market.settle() if turn % 2 else market.between(proving, market.settle())
            layouts, least = self._weighed(market, worth, FAIR if turn else CLOSE)
            if least is not None:
                asked = market.asked(worth, least)
                bound = market.bound(worth, asked)
                if bound > self.bound:
                    self.bound, self.claim = bound, (market, Claim(worth, tuple(
                        RunLeast(wall.run, wall.closed, self.violations[wall.run], worths)
                        for wall, worths in zip(self.walls, least, strict=True))))
                found = market.measure(worth, asked)
                if measure is None or found > measure:
                    proving, measure = worth, found
            if not self._open(best):
                break
            self._learn(known, market, layouts)
            best = self._better(best, layouts)
            if turn < self.limits.paired_turns and self._open(best):
                best = self._paired(best, known, market, worth, layouts)
            idle = idle + 1 if (self.bound, best.rank) == before else 0
        for worth in (market.settle(), market.by_length()):
            if self._open(best) and not self.stop():
                best = self._side_by_side(best, self._pairings(known, worth), market, worth)
        if best.layouts != first and not best.sheet.optimal and not self.stop():
            best = min(best, self.cut(best.layouts, FIRST), key=lambda trial: trial.rank)
        return best

    def _tell(self, words: str, best: Trial) -> None:
        """Say what is being done, what the best plan so far costs, and what none costs less than."""
        money, bound = best.sheet.cost, self.bound_money()
        told = f"{len(best.sheet.rolls)} rolls" if money is None else f"{money:,.2f}"
        self.progress(f"{words}; best so far {told}" + ("" if not bound else f", no plan under {bound:,.2f}"))

    def _learn(self, known: Sequence[Known], market: Market, layouts: Sequence[Layout]) -> None:
        """Keep the layout of each run that is new."""
        for each, layout in zip(known, layouts, strict=True):
            each.learn(market, layout, wants_of(layout, self.job.rules))

    def _paired(
        self, best: Trial, known: Sequence[Known], market: Market, worth: Worth, layouts: Sequence[Layout],
    ) -> Trial:
        """Try layouts with other widths of narrow drops, so that those of different runs fit side by side.

        ``layouts`` are those placed at this worth.
        """
        self._tell("pairing narrow drops", best)
        shared = sharing(self.job)
        most = min(self.limits.widths, self.rounds)
        widths, tried = widths_to_try(shared, most), set[int]()
        placed = [{shared.widest: layout} for layout in layouts]
        for _ in range(min(self.limits.pair_rounds, self.rounds // FEW)):
            for share in widths:
                if self.stop():
                    return best
                self._learn(known, market, [
                    self.narrower(wall, worth, share, there) for wall, there in zip(self.walls, placed, strict=True)])
            pairings = self._pairings(known, worth)
            best = self._side_by_side(best, pairings, market, worth)
            if not self._open(best):
                break
            tried.update(widths)
            beside = rooms_beside(pairings.shares, pairings.choices[:BEST_PAIRINGS], shared)
            widths = [width for width in beside if width not in tried][:most]
        return best

    def narrower(self, wall: Wall, worth: Worth, share: int, placed: dict[int, Layout]) -> Layout:
        """Return the layout of a run whose narrow drops are at most ``share`` wide.

        One placed for wider narrow drops is the best here too where all of its own are so narrow.
        """
        for wider, layout in placed.items():
            widths = [drop.right - drop.left for drop in layout.drops]
            if share <= wider and not any(share < width <= wider for width in widths):
                return layout
        placed[share] = self.place(wall, worth, share)
        return placed[share]

    def _pairings(self, known: Sequence[Known], worth: Worth) -> Pairings:
        """Return the known layouts that break no more rules than they must, and the best choices among them."""
        shared = sharing(self.job)
        fixed = Share.of(self._fixed(), shared, worth)
        pools = [each.within(self.violations[wall.run]) for each, wall in zip(known, self.walls, strict=True)]
        shares = [[Share.of(wants, shared, worth) for _, wants in pool] for pool in pools]
        choices = best_choices(shares, fixed, width=shared.width) if all(shares) else []
        return Pairings([[layout for layout, _ in pool] for pool in pools], shares, choices)

    def _side_by_side(self, best: Trial, pairings: Pairings, market: Market, worth: Worth) -> Trial:
        """Cut the choices of known layouts that take the least of the rolls, while they may cost less."""
        cut = 0
        for total, numbers in pairings.choices:
            asked = total * self.job.sheet.width
            if cut >= self.limits.choices or market.bound(worth, asked) >= self._cost(best) or self._tired():
                break
            layouts = tuple(pool[i] for pool, i in zip(pairings.layouts, numbers, strict=True))
            if layouts not in self.tried and self.paired < self.limits.paired:
                cut += 1
                self.paired += 1
                best = self._lesser(best, layouts, FIRST)
        return best

    def _by_area(self) -> int:
        """Return a bound by area alone: of the walls, without laps, and of what else is cut from the sheet."""
        asked = sum(floor(least_area(wall)) for wall in self.walls)
        asked += sum(want.length * want.width for want in self._fixed())
        stocks = self.stock.stocks
        least = least_cover(asked, [Yield(stock.length * stock.width, stock.cost, stock.count) for stock in stocks])
        return Totals(Problem((), stocks)).at_least(least)

    def _better(self, best: Trial, layouts: tuple[Layout, ...]) -> Trial:
        """Return the better of the best trial and another set of layouts, cut when it is worth trying."""
        if self.turns_tried >= self.limits.trials or self._tired() or layouts in self.tried:
            return best
        self.turns_tried += 1
        return self._lesser(best, layouts, TRIAL)

    def _lesser(self, best: Trial, layouts: tuple[Layout, ...], effort: Effort) -> Trial:
        """Return the better of the best trial and layouts cut with some effort."""
        cost = self._cost(best)
        dearest = cost if violation(layouts) >= violation(best.layouts) else None
        wanted = replace(effort, wanted=cost - 1, dearest=dearest)
        try:
            trial = self._to_the_ends(layouts, wanted, cost) or self.cut(layouts, wanted)
        except TooDear:
            return best
        return min(best, trial, key=lambda trial: trial.rank)

    def _to_the_ends(self, layouts: tuple[Layout, ...], effort: Effort, below: int) -> Trial | None:
        """Return layouts whose tall drops are split where rolls end, cut for less than so much; None where not found.

        Where small pieces found no room, layouts must take less before that is tried again.
        """
        large = self._large_strips()
        ended = to_the_ends(
            self.job, self.walls, layouts, self._field(layouts), large, self.stock.stocks,
            wide=sharing(self.job).widest, below=below, longest=self.too_long)
        if ended is None:
            return None
        pieces = {piece.tag: piece for piece in (*self._field(ended.layouts).pieces, *large)}
        try:
            trial = self.cut(ended.layouts, replace(effort, start=partial(ended.patterns, pieces)))
        except TooDear:
            trial = None
        if trial is not None and self._cost(trial) < below:
            return trial
        self.too_long = ended.asked
        return None

    def place(self, wall: Wall, worth: Worth | None, share: int = 0, rough: int = LOOSE) -> Layout:
        """Place one run: at the worth of lengths when there is one, drops wider than ``share`` being wide ones."""
        job = self.job
        if worth is None:
            return _shortest(wall, job.rules, job.sheet.width, job.unit, self.rough)
        return place(
            wall, job.rules, width=job.sheet.width, side_lap=job.rules.side_lap, prefix=wall.run, unit=job.unit,
            price=worth.of, share=share or sharing(job).widest, rough=rough,
        )

    def _weighed(self, market: Market, worth: Worth, close: int) -> tuple[tuple[Layout, ...], list[int] | None]:
        """Return a layout of each run at some worth, and the least worth of any; None where that is not proven.

        The starting points of closed runs are looked at so closely, and more so only as far as it takes to tell what
        the worth proves.
        """
        unit = 1 if market.sharing.widest else market.sharing.width
        layouts: list[Layout] = []
        for rough in range(close, CLOSE + 1):
            layouts = [layouts[run] if layouts and not wall.closed else self.place(wall, worth, rough=rough)
                       for run, wall in enumerate(self.walls)]
            found = [self._least(wall, layout, unit) for wall, layout in zip(self.walls, layouts, strict=True)]
            least = None if None in found else [worths for worths in found if worths is not None]
            proven = self.bound if least is None else max(self.bound, market.bound(worth, market.asked(worth, least)))
            if market.bound(worth, market.asked(worth, [each.cost.price * unit for each in layouts])) <= proven:
                break
        return tuple(layouts), least

    def _least(self, wall: Wall, layout: Layout, unit: int) -> int | None:
        """Return the least worth of any layout of a run, in so many ticks of width; None when none was proven."""
        shared = sharing(self.job)
        if layout.bound is None or layout.bound.violation < self.violations[wall.run]:
            return None
        if wall.length < shared.narrowest:
            return 0
        return layout.bound.price * unit

    def cut(self, layouts: tuple[Layout, ...], effort: Effort) -> Trial:
        """Hang and cut one layout for each run."""
        self.tried.append(layouts)
        field = self._field(layouts)
        strips, broken = self.reinforcing
        with replace(effort, work=self.work).limited(self.limits.steps, SHARE) as limited:
            sheet = cut_product(
                self.job, MEMBRANE, self.job.sheet, (*field.pieces, *strips), stop=self.stop, effort=limited)
        return Trial(layouts, field, strips, broken, sheet)

    def _field(self, layouts: Sequence[Layout]) -> Hung:
        """Return what hangs on all runs in their layouts."""
        return joined_runs([self._hung(run, layout) for run, layout in enumerate(layouts)])

    def _hung(self, run: int, layout: Layout) -> Hung:
        """Return what hangs on a run in one of its layouts, cut into pieces once."""
        for known, hung in self.hung[run]:
            if known == layout:
                return hung
        hung = hang(self.job, self.walls[run], layout)
        self.hung[run].append((layout, hung))
        return hung

    def _market(self) -> Market:
        return Market(Terms(self.stock.stocks, sharing(self.job), len(self.walls), tuple(self._fixed())))

    def _large_strips(self) -> list[Piece]:
        """Return the strips that are cut from the sheet of the drops."""
        strips, _ = self.reinforcing
        return [piece for piece in strips if piece.product == MEMBRANE and not piece.turnable]

    def _fixed(self) -> list[Want]:
        """Return what the job asks for whatever the layouts."""
        return [Want(piece.length, piece.width, 1) for piece in self._large_strips()]

    def _tired(self) -> bool:
        """Tell whether no more layouts are cut."""
        return self.stop() or self.work.left // SHARE < self.limits.steps // LEAST_SHARE

    def _open(self, best: Trial) -> bool:
        """Tell whether something better than the best trial is still possible."""
        return self.bound < self._cost(best)

    def _cost(self, trial: Trial) -> int:
        """Return a trial's cost in the whole numbers of the stock."""
        return self.stock.spent(trial.sheet)

    def bound_money(self) -> Decimal | None:
        """Return the bound in money; None when the sheet has no prices."""
        return None if self.stock.step is None else self.bound * self.stock.step

    def certificate(self) -> Mapping[str, object]:
        """Return what separate code needs to check the bound; where it cannot be written, the bound is by area."""
        if self.stock.step is None:
            return {}
        if self.claim is not None:
            told = by_worths(*self.claim, self.bound, grain=max(self.job.rules.cut_to, 1))
            if told is not None:
                return told
            self.bound = self.area_bound
        return area_certificate(self.bound)

    def proven(self, best: Trial) -> bool:
        """Tell whether no layout and no cutting costs less than the best trial."""
        return self.bound >= self._cost(best)


@lru_cache(maxsize=32)
def _shortest(wall: Wall, rules: Rules, width: int, unit: Unit, rough: int) -> Layout:
    """Return the layout of least total length of a run: the same whatever rolls there are and what they cost."""
    return place(wall, rules, width=width, side_lap=rules.side_lap, prefix=wall.run, unit=unit, rough=rough)


def least_area(wall: Wall) -> Fraction:
    """Return the area of a run that sheet must cover, openings left out whole [square ticks]."""
    def under(profile: Profile) -> Fraction:
        points = ((0, profile[0][1]), *profile, (wall.length, profile[-1][1]))  # level beyond its ends
        return sum((Fraction((x1 - x0) * (y0 + y1), 2) for (x0, y0), (x1, y1) in pairwise(points)), Fraction(0))

    holes = sum((hole.right - hole.left) * (hole.top - hole.bottom) for hole in wall.holes)
    return under(wall.top) - under(wall.bottom) - holes


def habit_notes(job: Job, best: Trial) -> list[str]:
    """Say for each run how its layout compares with a person's habit: full sheets from the left end of each face."""
    notes = []
    for wall, layout in zip(best.field.walls, best.layouts, strict=True):
        habit = chalk_line(wall, job.rules, width=job.sheet.width, side_lap=job.rules.side_lap)
        lengths = [piece.length for piece in best.field.pieces if piece.run == wall.run]
        cost = layout.cost._replace(price=sum(lengths), pieces=len(lengths))
        notes.append(habit_note(replace(layout, cost=cost), habit, wall.run, job.unit))
    return notes


def work(walls: Sequence[Wall]) -> int:
    """Return how much work one placing of every run is: its ticks, those that slope and of closed runs counted more."""
    total = 0
    for wall in walls:
        sloping = sum(
            x1 - x0 for profile in (wall.top, wall.bottom)
            for (x0, y0), (x1, y1) in zip(profile, profile[1:], strict=False) if y0 != y1
        )
        total += (wall.length + SLOPING * sloping) * (CLOSED if wall.closed else 1)
    return total


def sharing(job: Job) -> Sharing:
    """Return which pieces can share a roll's width in a job."""
    widths = [job.rules.min_width]
    if job.strips_from == "sheet":
        widths += [width for width in (job.rules.corner_strip, job.rules.base_strip) if width]
    return Sharing(job.sheet.width, max(1, min(*widths, job.sheet.width)))


def wants_of(layout: Layout, rules: Rules) -> tuple[Want, ...]:
    """Return what the pieces of a layout ask for, sizes counted together."""
    boxes = [(top - bottom, drop.right - drop.left) for drop in layout.drops for top, bottom in layout.splits[drop.tag]]
    lengths = cut_lengths(np.array([height for height, _ in boxes], dtype=np.int64), rules).tolist()
    counts = Counter(zip(lengths, (width for _, width in boxes), strict=True))
    return tuple(Want(length, width, count) for (length, width), count in sorted(counts.items(), reverse=True))
