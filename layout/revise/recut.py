"""One product cut again: what is cut stays, the rest is cut from the rests of opened rolls and from new ones."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from layout.errors import Fault, JobError
from layout.joint import cut_product
from layout.joint.hang import PREFIXES
from layout.records import Cut, Cutting, Job, Leftover, Piece, Product, Remnant, Roll
from layout.revise.earlier import SPARE
from layout.rolls.cutting import gather, price
from layout.rolls.first_come import first_come
from layout.rolls.solve import by_area
from layout.units import tape

Span = tuple[int, int]
"""From and to along a roll [ticks]."""


@dataclass(frozen=True)
class Opened:
    """A roll that something is cut from already.

    Parameters
    ----------
    roll
        As it was planned.
    cuts
        What stays where it is on it, under its new tags.
    taken
        Stretches of the roll that are used up.
    usable
        Length of the roll that may be cut from [ticks].
    """

    roll: Roll
    cuts: tuple[Cut, ...]
    taken: tuple[Span, ...]
    usable: int

    def rests(self) -> list[Span]:
        """Return the stretches that are still whole."""
        found: list[Span] = []
        at = 0
        for left, right in sorted(self.taken):
            if left > at:
                found.append((at, left))
            at = max(at, right)
        return [*found, (at, self.usable)] if at < self.usable else found


@dataclass(frozen=True)
class Recut:
    """How a product is cut now, and which of its rolls were opened before."""

    cutting: Cutting
    opened: tuple[Roll, ...]
    as_before: bool


def recut(
    job: Job, name: str, product: Product, pieces: Sequence[Piece], made_of: Mapping[str, str], *, before: Cutting,
    same_stock: bool, stop: Callable[[], bool],
) -> Recut:
    """Cut one product again.

    Parameters
    ----------
    job
        The changed job.
    name, product
        The product and its stock in the changed job.
    pieces
        The pieces of the new plan cut from it, spares too.
    made_of
        New tag -> tag of the cut piece it is made of.
    before
        How the product was to be cut.
    same_stock
        The stock is what it was.
    stop
        As for ``pipeline.make_plan``.

    Raises
    ------
    JobError
        When the changed job no longer has a roll that was opened.
    NoLayout
        When what is still to be cut fits no rest and no roll.

    Notes
    -----
    Nothing is called optimal unless the whole cutting is as before: of the rest alone a bound would say little.
    """
    old_cuts = {cut.piece: cut for roll in before.rolls for cut in roll.cuts}
    done = {made_of[piece.tag] for piece in pieces if piece.tag in made_of}
    opened_rolls = [roll for roll in before.rolls if any(cut.piece in done for cut in roll.cuts)]
    _check_stock(name, product, opened_rolls, job)
    if same_stock and {(piece.tag, piece.length, piece.width) for piece in pieces} == _sizes(before) and all(
        new == old for new, old in made_of.items() if new in old_cuts
    ):
        return Recut(_repriced(before, product), tuple(opened_rolls), True)
    by_tag = {piece.tag: piece for piece in pieces}
    opened = [_opened(roll, pieces, made_of, product) for roll in opened_rolls]
    placed = {cut.piece for one in opened for cut in one.cuts}
    wanted = [piece for tag, piece in by_tag.items() if tag not in placed]
    rests, origin = _rests(opened, wanted, {remnant.tag for remnant in product.remnants})
    made = cut_product(job, name, _stock_left(product, opened_rolls, rests), wanted, stop=stop)
    rolls = _joined(opened, made.rolls, origin, prefix=PREFIXES[name], keep_remnant=job.rules.keep_remnant)
    problem, _ = gather(pieces, price(product).stocks)
    hanging = _in_hanging_order([piece for piece in pieces if piece.kind != SPARE], job)
    return Recut(Cutting(
        product=name, rolls=rolls, cost=_cost(rolls, product), bound=None,
        rolls_bound=max(len(opened), by_area(problem)), optimal=False,
        first_come=first_come(*gather(hanging, price(product).stocks)) if hanging else 0,
        notes=made.notes,
    ), tuple(opened_rolls), False)


def _sizes(before: Cutting) -> set[tuple[str, int, int]]:
    return {
        (cut.piece, cut.width, cut.length) if cut.turned else (cut.piece, cut.length, cut.width)
        for roll in before.rolls for cut in roll.cuts
    }


def _repriced(before: Cutting, product: Product) -> Cutting:
    """Return a cutting read back with its prices as the job writes them."""
    prices = {(stock.length, stock.width): stock.price for stock in product.rolls}
    rolls = tuple(
        roll if roll.remnant else replace(roll, price=prices[roll.length, roll.width]) for roll in before.rolls
    )
    cost = _cost(rolls, product) if before.cost is not None else None
    bound = cost if before.bound is not None and cost == before.bound else before.bound
    return replace(before, rolls=rolls, cost=cost, bound=bound)


def _cost(rolls: Sequence[Roll], product: Product) -> Decimal | None:
    """Return what the rolls cost that are no remnants; None when some roll of the product has no price."""
    if not product.rolls or any(stock.price is None for stock in product.rolls):
        return None
    return sum((roll.price for roll in rolls if not roll.remnant and roll.price is not None), Decimal(0))


def _check_stock(name: str, product: Product, opened: Sequence[Roll], job: Job) -> None:
    """Raise JobError for each opened roll that the changed job does not list."""
    faults = []
    for roll in opened:
        if roll.remnant:
            listed = any((one.tag, one.length, one.width) == (roll.stock, roll.length, roll.width)
                         for one in product.remnants)
        else:
            listed = any((one.length, one.width, one.price) == (roll.length, roll.width, roll.price)
                         for one in product.rolls)
        if not listed:
            money = "" if roll.price is None else f" at {roll.price:.2f}"
            faults.append(Fault(
                0, name, f"must still list {'remnant ' if roll.remnant else ''}{roll.stock}"
                f" ({tape(roll.length, job.unit)} long{money})", "nothing like it", f"{roll.tag} is opened already"))
    if faults:
        raise JobError(faults, "changed job")


def _opened(roll: Roll, pieces: Sequence[Piece], made_of: Mapping[str, str], product: Product) -> Opened:
    """Return what stays on an opened roll: what is cut, and what was to be cut beside it and is as it was.

    A block that something is cut from is used up. Where its longest piece is gone, or trimmed, what stays is told
    at the block's far end: the sheet between is scrap, and the rest of the roll begins behind the block.
    """
    old = {cut.piece: cut for cut in roll.cuts}
    blocks = _blocks(roll)
    cuts: list[Cut] = []
    now = {old: new for new, old in made_of.items()}
    for piece in pieces:
        was = old.get(made_of.get(piece.tag, ""))
        if was is not None:
            length, width = (piece.width, piece.length) if was.turned else (piece.length, piece.width)
            cuts.append(replace(was, piece=piece.tag, length=length, width=width, within=now.get(was.within, "")))
    taken = [block for block in blocks if any(block[0] <= cut.at < block[1] for cut in cuts)]
    done = {cut.piece for cut in cuts}
    for piece in pieces:
        was = old.get(piece.tag)
        if was is None or piece.tag in made_of or piece.tag in done or was.within:
            continue
        size = (was.width, was.length) if was.turned else (was.length, was.width)
        if size == (piece.length, piece.width) and any(left <= was.at < right for left, right in taken):
            cuts.append(was)
    for left, right in taken:
        inside = [i for i, cut in enumerate(cuts) if left <= cut.at < right]
        short = right - max(cuts[i].at + cuts[i].length for i in inside)
        for i in inside:
            cuts[i] = replace(cuts[i], at=cuts[i].at + short)
    usable = roll.length - (0 if roll.remnant else product.roll_end)
    return Opened(roll, tuple(sorted(cuts, key=lambda cut: (cut.at, cut.across))), tuple(taken), usable)


def _blocks(roll: Roll) -> list[Span]:
    """Return the stretches that cross-cuts take off a roll."""
    blocks: list[Span] = []
    for cut in sorted(roll.cuts, key=lambda cut: cut.at):
        end = cut.at + cut.length
        if blocks and cut.at < blocks[-1][1]:
            blocks[-1] = (blocks[-1][0], max(blocks[-1][1], end))
        else:
            blocks.append((cut.at, end))
    return blocks


def _rests(
    opened: Sequence[Opened], wanted: Sequence[Piece], taken: set[str],
) -> tuple[list[Remnant], dict[str, tuple[int, int]]]:
    """Return the rests long enough for something as remnants, and where each lies: (opened roll, from) [ticks]."""
    least = min((min(piece.length, piece.width) if piece.turnable else piece.length for piece in wanted), default=0)
    rests: list[Remnant] = []
    origin: dict[str, tuple[int, int]] = {}
    for number, one in enumerate(opened):
        for left, right in one.rests():
            if not wanted or right - left < least:
                continue
            names = (f"{one.roll.tag}-rest{extra}" for extra in ("", *(str(n) for n in range(2, 10_000))))
            tag = next(name for name in names if name not in taken and name not in origin)
            rests.append(Remnant(tag, right - left, one.roll.width))
            origin[tag] = (number, left)
    return rests, origin


def _stock_left(product: Product, opened: Sequence[Roll], rests: Sequence[Remnant]) -> Product:
    """Return the stock that what is still to be cut comes from."""
    used = {roll.stock for roll in opened if roll.remnant}
    rolls = []
    for stock in product.rolls:
        if stock.on_hand is not None:
            gone = sum((roll.length, roll.width) == (stock.length, stock.width) for roll in opened if not roll.remnant)
            if stock.on_hand <= gone:
                continue
            stock = replace(stock, on_hand=stock.on_hand - gone)
        rolls.append(stock)
    remnants = [remnant for remnant in product.remnants if remnant.tag not in used]
    return replace(product, rolls=tuple(rolls), remnants=(*remnants, *rests))


def _joined(
    opened: Sequence[Opened], made: Sequence[Roll], origin: Mapping[str, tuple[int, int]], *, prefix: str,
    keep_remnant: int,
) -> tuple[Roll, ...]:
    """Return the opened rolls with what is cut from their rests, then the new ones with tags of their own."""
    cuts = [list(one.cuts) for one in opened]
    fresh: list[Roll] = []
    numbers = [int(one.roll.tag[len(prefix):]) for one in opened if one.roll.tag[len(prefix):].isdigit()]
    last = max(numbers, default=0)
    for roll in made:
        if roll.remnant and roll.stock in origin:
            number, at = origin[roll.stock]
            cuts[number] += [replace(cut, at=cut.at + at) for cut in roll.cuts]
        else:
            last += 1
            fresh.append(replace(roll, tag=f"{prefix}{last:02d}"))
    rolls: list[Roll] = []
    for one, on_it in zip(opened, cuts, strict=True):
        end = max(cut.at + cut.length for cut in on_it)
        left = one.roll.length - end
        rolls.append(replace(
            one.roll, cuts=tuple(sorted(on_it, key=lambda cut: (cut.at, cut.across))),
            leftover=Leftover(left, one.roll.width, one.usable - end >= keep_remnant),
        ))
    return (*rolls, *fresh)


def _in_hanging_order(pieces: Sequence[Piece], job: Job) -> list[Piece]:
    runs = {run.name: number for number, run in enumerate(job.runs)}
    return sorted(pieces, key=lambda piece: (
        runs.get(piece.run, 0), piece.install, min(y for _, y in piece.outline), piece.tag,
    ))
