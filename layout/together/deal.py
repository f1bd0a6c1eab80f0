"""Deals the rolls of one cutting out to the jobs whose pieces it holds.

On each roll earlier jobs cut first, and what is handed on is a whole end of the roll, at least as long as the earlier
job's rules keep. So a short block, which could not be handed on by itself, goes to a job that starts no later than the
last one with a long block on the same roll. Where pieces of several jobs lie side by side in one block, the earliest
of them cuts the block off and rips its own, and the strip beside them is handed on as a remnant of its own. Where that
leaves some block without a taker, shorter ends are handed on too, and the job that leaves them keeps all ends so short.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from layout.records import Cut, Cutting, Leftover, Piece, Remnant, Roll
from layout.together.stock import Served, Wanted, Yard, outlay_on_rolls, tag_of

Size = tuple[int, int, bool]
"""Length and width of a piece, and whether it may lie turned [ticks]."""
Left = Mapping[int, Counter[Size]]
"""Job -> how many pieces of each size it still wants."""
DealtBlock = list[Cut]
"""What one pair of cross-cuts takes off a roll, as it was cut."""


@dataclass(frozen=True)
class JobShare:
    """What one job cuts of one block.

    Parameters
    ----------
    cuts
        Its own pieces, as they were cut.
    length
        Of the whole block [ticks].
    strips
        Who gets the strips beside, one after the other by place in the order of starts, with their pieces.
    """

    cuts: tuple[Cut, ...]
    length: int
    strips: tuple[tuple[int, tuple[Cut, ...]], ...] = ()


def deal(whole: Cutting, jobs: Sequence[Wanted], yard: Yard) -> dict[int, Served] | None:
    """Deal the rolls of one cutting out to the jobs, or return None where no way was found.

    Parameters
    ----------
    whole
        How all pieces are cut as one, each tagged ``NUMBER/TAG``. Only the sizes of what lies on each roll are kept;
        which job's piece is which is decided here.
    jobs
        The jobs, in the order of their start.
    yard
        Where remnants come from.
    """
    if not all(_plain(roll) for roll in whole.rolls):
        return None
    for prefer, short_ends in ((_most, False), (_earliest, False), (_most, True), (_earliest, True)):
        dealer = _Dealer(whole, jobs, short_ends=short_ends)
        chains = dealer.chains(prefer)
        if chains is not None:
            return _Hands(chains, dealer.size, jobs, yard).served()
    return None


def _plain(roll: Roll) -> bool:
    """Tell whether a roll's blocks lie one behind the other from its very end."""
    at = 0
    for block in _blocks(roll):
        if block[0].at != at:
            return False
        at += _long(block)
    return True


def _blocks(roll: Roll) -> list[DealtBlock]:
    """Return the blocks of a roll in cutting order."""
    blocks: dict[int, DealtBlock] = {}
    for cut in roll.cuts:
        blocks.setdefault(cut.at, []).append(cut)
    return [blocks[at] for at in sorted(blocks)]


def _long(block: DealtBlock) -> int:
    return max(cut.length for cut in block)


def _size(piece: Piece) -> Size:
    return piece.length, piece.width, piece.turnable


@dataclass
class _Shared:
    """A roll on its way to being dealt out: its blocks and the place, in the order of starts, of who gets each."""

    roll: Roll
    long: list[DealtBlock]
    short: list[DealtBlock]
    end: int
    given: list[tuple[int, JobShare]] = field(default_factory=list)

    @property
    def here(self) -> set[int]:
        return {place for place, _ in self.given}

    @property
    def spare(self) -> int:
        """Length of the roll that no block takes [ticks]."""
        used = sum(part.length for _, part in self.given)
        return self.roll.length - self.end - used - sum(map(_long, (*self.long, *self.short)))


Prefer = Callable[["_Dealer", _Shared, int], tuple[int, ...]]


def _most(dealer: _Dealer, shared: _Shared, place: int) -> tuple[int, ...]:
    """Prefer a job that is on the roll already, then one that wants most of its blocks."""
    wants = sum(dealer.has(place, block) for block in shared.long)
    return place not in shared.here, -wants, place


def _earliest(dealer: _Dealer, shared: _Shared, place: int) -> tuple[int, ...]:
    """Prefer a job that is on the roll already, then the earliest."""
    return place not in shared.here, place


class _Dealer:
    """Deals blocks out to jobs, told by their place in the order of starts."""

    def __init__(self, whole: Cutting, jobs: Sequence[Wanted], *, short_ends: bool) -> None:
        self.jobs = jobs
        self.short_ends = short_ends
        self.size = {f"{job.number}/{piece.tag}": _size(piece) for job in jobs for piece in job.pieces}
        self.left = [Counter(_size(piece) for piece in job.pieces) for job in jobs]
        keep = max(job.job.rules.keep_remnant for job in jobs)
        self.rolls = [
            _Shared(roll, [block for block in _blocks(roll) if _long(block) >= keep],
                    [block for block in _blocks(roll) if _long(block) < keep],
                    0 if roll.remnant else max(job.job.rules.roll_end for job in jobs))
            for roll in whole.rolls
        ]

    def sizes(self, block: DealtBlock) -> Counter[Size]:
        return Counter(self.size[cut.piece] for cut in block)

    def has(self, place: int, block: DealtBlock) -> bool:
        """Tell whether a job still wants everything in a block."""
        left = self.left[place]
        return all(left[size] >= count for size, count in self.sizes(block).items())

    def give(self, shared: _Shared, place: int, block: DealtBlock) -> None:
        self.left[place].subtract(self.sizes(block))
        shared.given.append((place, JobShare(tuple(block), _long(block))))

    def give_apart(self, shared: _Shared, block: DealtBlock, until: int) -> bool:
        """Give the pieces of one block to several jobs, the first at most ``until``; tell whether that went."""
        takers: dict[int, list[Cut]] = {}
        for cut in sorted(block, key=lambda cut: (-cut.length, cut.across)):
            wanted = [place for place in range(len(self.jobs)) if self.has(place, [cut])]
            if not wanted:
                return False
            place = min(wanted, key=lambda place: (place not in takers, place))
            self.left[place][self.size[cut.piece]] -= 1
            takers.setdefault(place, []).append(cut)
        places = sorted(takers)
        strips = tuple((place, tuple(takers[place])) for place in places[1:])
        shared.given.append((places[0], JobShare(tuple(takers[places[0]]), _long(block), strips)))
        return places[0] <= until

    def chains(self, prefer: Prefer) -> list[DealtRoll] | None:
        """Return who cuts what from each roll, in order; None where some block finds no taker."""
        if not self._deal_long(prefer) or not self._deal_short():
            return None
        found: list[DealtRoll] = []
        for shared in self.rolls:
            chain = self._chain(shared)
            if chain is None:
                return None
            found.append(chain)
        return found

    def _deal_long(self, prefer: Prefer) -> bool:
        """Give out the long blocks, those of several pieces first."""
        for shared in sorted(self.rolls, key=lambda shared: -max(map(len, shared.long), default=0)):
            waiting = sorted(shared.long, key=len, reverse=True)
            shared.long = waiting
            while waiting:
                block = waiting[0]
                takers = [place for place in range(len(self.jobs)) if self.has(place, block)]
                if takers:
                    self.give(shared, min(takers, key=lambda place: prefer(self, shared, place)), block)
                elif not self.give_apart(shared, block, len(self.jobs)):
                    return False
                del waiting[0]
        return True

    def _deal_short(self) -> bool:
        """Give out the short blocks, on rolls whose last job is early first, each to the earliest job that wants it."""
        last = len(self.jobs) - 1
        for shared in sorted(self.rolls, key=lambda shared: max(shared.here, default=last)):
            until = last if self.short_ends else max(shared.here, default=last)
            for block in sorted(shared.short, key=len, reverse=True):
                shared.short.remove(block)
                for part in self._parts(shared, block, until):
                    taker = next((place for place in range(until + 1) if self.has(place, part)), None)
                    if taker is not None:
                        self.give(shared, taker, part)
                    elif not self.give_apart(shared, part, until):
                        return False
        return True

    def _parts(self, shared: _Shared, block: DealtBlock, until: int) -> Iterator[DealtBlock]:
        """Yield a block whole where one job wants all of it, else its pieces one by one where there is room."""
        whole = any(self.has(place, block) for place in range(until + 1))
        room = shared.spare - _long(block) >= sum(cut.length for cut in block) - _long(block)
        if whole or not room:
            yield block
        else:
            yield from ([replace(cut, across=0)] for cut in block)

    def _chain(self, shared: _Shared) -> DealtRoll | None:
        """Return a roll's shares in the order of starts; None where an end too short to keep would be handed on."""
        shares: dict[int, list[JobShare]] = {}
        for place, part in sorted(shared.given, key=lambda each: (each[0], not each[1].strips)):
            shares.setdefault(place, []).append(part)
        rest = shared.roll.length - shared.end
        places = list(shares)
        for place in places[:-1]:
            rest -= sum(part.length for part in shares[place])
            if rest < (1 if self.short_ends else self.jobs[place].job.rules.keep_remnant):
                return None
        if places and shared.spare < 0:
            return None
        return shared.roll, [(place, shares[place]) for place in places]


DealtRoll = tuple[Roll, list[tuple[int, list[JobShare]]]]
"""A roll, and the jobs, by place, that cut it one after the other with their blocks."""


@dataclass(frozen=True)
class _Strip:
    """A strip beside what an earlier job rips from a block: a remnant of a later job."""

    tag: str
    origin: str
    length: int
    width: int
    cuts: tuple[Cut, ...]
    then: tuple[tuple[int, tuple[Cut, ...]], ...]


class _Hands:
    """Hands rolls on from job to job, the earlier first."""

    def __init__(
        self, chains: Sequence[DealtRoll], size: Mapping[str, Size], jobs: Sequence[Wanted], yard: Yard,
    ) -> None:
        self.chains = chains
        self.size = size
        self.jobs = jobs
        self.free = {each.remnant.tag: each for each in yard.free}
        self.ends: dict[int, tuple[str, str, int]] = {}
        """Roll of the whole cutting -> (tag, origin, length [ticks]) of the end that was handed on last."""
        self.strips: dict[int, list[_Strip]] = {place: [] for place in range(len(jobs))}

    def served(self) -> dict[int, Served]:
        """Return each job's own cutting."""
        return {job.number: self._job(place, job) for place, job in enumerate(self.jobs)}

    def _job(self, place: int, job: Wanted) -> Served:
        waiting: dict[Size, list[Piece]] = {}
        for piece in job.pieces:
            waiting.setdefault(_size(piece), []).append(piece)
        rolls: list[Roll] = []
        origins: dict[str, str] = {}
        passed: dict[str, str] = {}
        beside: dict[str, str] = {}
        rests: dict[str, int] = {}
        for at, (whole, chain) in enumerate(self.chains):
            turn = next((i for i, (who, _) in enumerate(chain) if who == place), None)
            if turn is None:
                continue
            tag = f"{_prefix(whole)}{len(rolls) + 1:02d}"
            stock, origin, length = self.ends[at] if turn else (
                whole.stock, self.free[whole.stock].origin if whole.remnant else "", whole.length)
            remnant = bool(turn) or whole.remnant
            if remnant:
                origins[stock] = origin
            cuts, used = self._cuts(chain[turn][1], waiting)
            rolls.append(self._roll(job, tag, stock, whole, length, used, cuts, remnant=remnant))
            rests[tag] = length - used
            for number, part in enumerate(chain[turn][1], start=1):
                self._put_by(job, tag, number, part, whole.width, beside)
            if turn + 1 < len(chain):
                passed[tag] = self.jobs[chain[turn + 1][0]].name
                self.ends[at] = (tag_of(job, rolls[-1]), f"{job.name}, roll {tag}", length - used)
        for strip in self.strips[place]:
            model = self.chains[0][0]
            tag = f"{_prefix(model)}{len(rolls) + 1:02d}"
            part = JobShare(strip.cuts, strip.length, strip.then)
            cuts, _ = self._cuts([part], waiting)
            roll = replace(model, width=strip.width)
            longest = max(cut.length for cut in strip.cuts)
            used = longest
            if strip.then:
                passed[tag] = self.jobs[strip.then[0][0]].name
            rolls.append(self._roll(job, tag, strip.tag, roll, strip.length, used, cuts, remnant=True))
            origins[strip.tag] = strip.origin
            rests[tag] = 0 if strip.then else strip.length - longest
            self._put_by(job, tag, 1, part, strip.width, beside)
        end = job.job.rules.roll_end
        handed_on = [roll for roll in rolls if roll.tag in passed and rests[roll.tag]]
        keep = min([job.job.rules.keep_remnant, *(
            rests[roll.tag] - (0 if roll.remnant else end) for roll in handed_on)])
        remnants = tuple(Remnant(roll.stock, roll.length, roll.width) for roll in rolls if roll.remnant)
        return Served(_cutting(job, rolls), remnants, origins, passed, beside, keep, rests)

    @staticmethod
    def _roll(
        job: Wanted, tag: str, stock: str, whole: Roll, length: int, used: int, cuts: tuple[Cut, ...], *,
        remnant: bool,
    ) -> Roll:
        rest = length - max(cut.at + cut.length for cut in cuts)
        assert 0 <= length - used <= rest
        return Roll(
            tag=tag, product=whole.product, stock=stock, remnant=remnant, length=length, width=whole.width,
            price=None if remnant else whole.price, cuts=cuts,
            leftover=Leftover(
                rest, whole.width, rest - (0 if remnant else job.job.rules.roll_end) >= job.job.rules.keep_remnant),
        )

    def _put_by(self, job: Wanted, tag: str, number: int, part: JobShare, width: int, beside: dict[str, str]) -> None:
        """Put the strip beside a part by for the next job that has pieces in it."""
        if not part.strips:
            return
        (place, cuts), *then = part.strips
        name = f"{job.name}-{tag}-strip{number}"
        rest = width - sum(cut.width for cut in part.cuts)
        self.strips[place].append(_Strip(name, f"{job.name}, roll {tag}", part.length, rest, cuts, tuple(then)))
        beside[name] = self.jobs[place].name

    def _cuts(self, parts: Sequence[JobShare], waiting: Mapping[Size, list[Piece]]) -> tuple[tuple[Cut, ...], int]:
        """Return the cuts of some parts, one behind the other from the roll's end, and the length they take."""
        at = 0
        cuts: list[Cut] = []
        for part in parts:
            across = 0
            for cut in part.cuts:
                piece = waiting[self.size[cut.piece]].pop(0)
                cuts.append(replace(cut, piece=piece.tag, at=at, across=across))
                across += cut.width
            at += part.length
        return tuple(cuts), at


def _prefix(roll: Roll) -> str:
    return roll.tag.rstrip("0123456789") or "R"


def _cutting(job: Wanted, rolls: Sequence[Roll]) -> Cutting:
    """Return a job's share of a whole cutting: nothing is proven of it by itself but what its area says."""
    priced = all(roll.price is not None for roll in job.product.rolls)
    sizes = [stock.length * stock.width for stock in job.product.rolls] + [roll.length * roll.width for roll in rolls]
    least = -(-sum(piece.length * piece.width for piece in job.pieces) // max(sizes, default=1))
    return replace(
        job.alone, rolls=tuple(rolls), cost=outlay_on_rolls(rolls, priced=True) if priced else None, bound=None,
        rolls_bound=least, optimal=False, certificate={},
    )
