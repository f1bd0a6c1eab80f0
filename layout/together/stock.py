"""The yard: rolls and remnants of one product, who wants what of it, and who was served with what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from layout.records import Cutting, Job, Piece, Product, Remnant, Roll

MOST_FREE = 40
"""Remnants that one job is offered, the longest first; all others wait in the yard."""


@dataclass(frozen=True)
class Wanted:
    """What one job takes of a product: its pieces, how they are cut alone, and what the job is.

    Parameters
    ----------
    number, name
        The job's place in the order of starts, and its name.
    job
        For its rules.
    product, pieces, alone
        What it is cut from, what is cut, and how when nothing else is.
    """

    number: int
    name: str
    job: Job = field(repr=False)
    product: Product
    pieces: tuple[Piece, ...] = field(repr=False)
    alone: Cutting = field(repr=False)


@dataclass(frozen=True)
class Free:
    """A remnant that lies in the yard: whose list or leavings it is from, in words."""

    remnant: Remnant
    origin: str
    own: int = -1
    """The job that lists it, which is served first; -1 for none."""


@dataclass(frozen=True)
class Served:
    """How one job is cut from the yard: its cutting, the remnants it was promised and where they came from."""

    cutting: Cutting
    remnants: tuple[Remnant, ...]
    origins: Mapping[str, str]
    passed_on: Mapping[str, str] = field(default_factory=dict)
    """Roll's tag -> name of the job that its end is promised to."""
    beside: Mapping[str, str] = field(default_factory=dict)
    """Tag of a strip ripped beside this job's own pieces -> name of the job that it is promised to."""
    keep: int | None = None
    """The shortest end that this job must keep, where that is less than its rules say [ticks]."""
    rests: Mapping[str, int] = field(default_factory=dict)
    """Roll's tag -> what is left of it over its whole width, where that is not its leftover [ticks]: a strip that is
    promised may lie beside the last piece."""


@dataclass
class Lot:
    """One cutting problem: the same product, one delivery.

    Parameters
    ----------
    key
        ``membrane``, ``strip`` or ``drainage``.
    product
        Its rolls.
    jobs
        Those that take from it, in the order of their start.
    served, failed
        How each is cut by its number, or why it cannot be.
    cost, alone
        Of the rolls bought, and of those the same jobs buy one by one; in length of roll [ticks] where unpriced.
    bound
        Proven least cost of any cutting of these pieces from what there was; None when none was proven.
    """

    key: str
    product: Product
    jobs: list[Wanted]
    served: dict[int, Served] = field(default_factory=dict)
    failed: dict[int, str] = field(default_factory=dict)
    cost: Decimal = Decimal(0)
    alone: Decimal = Decimal(0)
    bound: Decimal | None = None

    @property
    def priced(self) -> bool:
        """Whether every roll has a price."""
        return all(roll.price is not None for roll in self.product.rolls)

    @property
    def rolls(self) -> int:
        """Rolls bought."""
        return sum(bought_rolls(each.cutting) for each in self.served.values())


def bought_rolls(cutting: Cutting) -> int:
    """Return how many rolls a cutting buys."""
    return sum(not roll.remnant for roll in cutting.rolls)


def outlay_on_rolls(rolls: Sequence[Roll], *, priced: bool) -> Decimal:
    """Return what rolls cost, or the length of those bought [ticks] where they have no price."""
    bought = [roll for roll in rolls if not roll.remnant]
    if priced:
        return sum((roll.price for roll in bought if roll.price is not None), Decimal(0))
    return Decimal(sum(roll.length for roll in bought))


class Yard:
    """The rolls and remnants of one product.

    Parameters
    ----------
    product
        Its rolls; ``on_hand`` limits those of all jobs together.
    free
        Remnants that are there before any job, in the order they came.
    """

    def __init__(self, product: Product, free: Sequence[Free] = ()) -> None:
        self.product = product
        self.free = list(free)
        self.opened: Counter[int] = Counter()

    def copy(self) -> Yard:
        """Return a yard in the same state."""
        other = Yard(self.product, self.free)
        other.opened = Counter(self.opened)
        return other

    def stock(self, free: Sequence[Free]) -> Product:
        """Return the product as it is on hand now, with some of its free remnants."""
        rolls = tuple(
            roll if roll.on_hand is None else replace(roll, on_hand=max(roll.on_hand - self.opened[roll.length], 0))
            for roll in self.product.rolls)
        return replace(self.product, rolls=rolls, remnants=tuple(each.remnant for each in free))

    def offer(self, number: int) -> list[Free]:
        """Return the remnants that a job may use: its own, and the longest of those that no later job lists."""
        own = [each for each in self.free if each.own == number]
        others = [each for each in self.free if each.own < number]
        others.sort(key=lambda each: (-each.remnant.length * each.remnant.width, each.remnant.tag))
        return [*own, *others[:MOST_FREE]]

    def take(self, cutting: Cutting, *, keep: Callable[[Roll], str], origin: str, number: int) -> None:
        """Take what a cutting opens out of the yard, and put what it leaves to keep in.

        Parameters
        ----------
        cutting
            How the job is cut.
        keep
            Returns the tag that the end of a roll gets.
        origin, number
            The job, in words and by number.
        """
        used = {roll.stock for roll in cutting.rolls if roll.remnant}
        self.free = [each for each in self.free if each.remnant.tag not in used]
        for roll in cutting.rolls:
            if not roll.remnant:
                self.opened[roll.length] += 1
            if roll.leftover.keep:
                left = Remnant(keep(roll), roll.leftover.length, roll.leftover.width)
                self.free.append(Free(left, f"{origin}, roll {roll.tag}", -1))


def tag_of(job: Wanted, roll: Roll) -> str:
    """Return the tag that the end of a roll gets when it is put by."""
    return f"{job.name}-{roll.tag}"
