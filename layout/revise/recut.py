"""One product cut again: what is cut stays, the rest is cut from the rests of opened rolls and from new ones."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from layout.errors import Fault, JobError, NoLayout
from layout.integrated import cut_product
from layout.integrated.hang import PREFIXES
from layout.records import Cut, Cutting, Job, Leftover, Piece, Product, Remnant, Roll
from layout.revise.earlier import SPARE
from layout.revise.happened import blocks_of
from layout.revise.told import RollSpan
from layout.rolls.cutting import gather_pieces, price
from layout.rolls.first_come import first_come
from layout.rolls.solve import fewest_by_area
from layout.units import tape


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
    taken: tuple[RollSpan, ...]
    usable: int

    def rests(self) -> list[RollSpan]:
        """Return the stretches that are still whole."""
        found: list[RollSpan] = []
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
    same_stock: bool, stop: Callable[[], bool], gone: Mapping[str, tuple[RollSpan, ...]] | None = None,
    anew: bool = False,
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
    gone
        Roll -> stretches of it that are used up though nothing is shown there [ticks].
    anew
        Something happened: what is as it was is cut again all the same where a free remnant would serve.

    Raises
    ------
    JobError
        When the changed job no longer has a roll that was opened.
    NoLayout
        When what is still to be cut fits no rest and no roll.

    Notes
    -----
    Nothing is called optimal unless the whole cutting is as before: of the rest alone a bound would say little. Rests
    of opened rolls and remnants cost nothing, and nothing that fits a free one is cut from a roll that is still to be
    opened. Where it takes no more and nothing fits a free one, all rolls not opened yet are cut as they are listed.
    """
    old_cuts = {cut.piece: cut for roll in before.rolls for cut in roll.cuts}
    done = {made_of[piece.tag] for piece in pieces if piece.tag in made_of}
    opened_rolls = [roll for roll in before.rolls if any(cut.piece in done for cut in roll.cuts)]
    _check_stock(name, product, opened_rolls, job)
    opened = [_opened(roll, pieces, made_of, (gone or {}).get(roll.tag, ()), product) for roll in opened_rolls]
    placed = {cut.piece for one in opened for cut in one.cuts}
    wanted = [piece for piece in {piece.tag: piece for piece in pieces}.values() if piece.tag not in placed]
    rests, origin = _rests(opened, wanted, {remnant.tag for remnant in product.remnants})
    unchanged = same_stock and {(piece.tag, piece.length, piece.width) for piece in pieces} == _sizes(before) and all(
        new == old for new, old in made_of.items() if new in old_cuts)
    if unchanged and not (anew and _would_serve(before, product, opened_rolls, rests, wanted)):
        return Recut(_repriced(before, product), tuple(opened_rolls), True)
    stock = _stock_left(product, opened_rolls, rests)
    made = cut_product(job, name, stock, wanted, stop=stop)
    made = replace(made, rolls=_free_first(job, name, stock, wanted, made, stop))
    listed = _as_listed(before, product, opened_rolls, wanted)
    less = _beside(job, name, product, (opened_rolls, listed, rests), wanted, made, stop) if listed else None
    if less is None:
        listed = []
    rolls = _joined(opened, made.rolls if less is None else less, listed, origin, prefix=PREFIXES[name],
                    keep_remnant=job.rules.keep_remnant)
    problem, _ = gather_pieces(pieces, price(product).stocks)
    hanging = _in_hanging_order([piece for piece in pieces if piece.kind != SPARE], job)
    return Recut(Cutting(
        product=name, rolls=rolls, cost=_cost(rolls, product), bound=None,
        rolls_bound=max(len(opened), fewest_by_area(problem)), optimal=False,
        first_come=first_come(*gather_pieces(hanging, price(product).stocks)) if hanging else 0,
        notes=made.notes,
    ), tuple(opened_rolls), False)


def _as_listed(
    before: Cutting, product: Product, opened: Sequence[Roll], wanted: Sequence[Piece],
) -> list[Roll]:
    """Return the rolls not opened yet that can be cut as they are on the list that the crew has."""
    sizes = {piece.tag: (piece.length, piece.width) for piece in wanted}
    tags = {roll.tag for roll in opened}
    prices = {(stock.length, stock.width): stock.price for stock in product.rolls}
    remnants = {(one.tag, one.length, one.width) for one in product.remnants}
    here = Counter((roll.length, roll.width) for roll in opened if not roll.remnant)
    room = {(stock.length, stock.width): stock.on_hand - here[stock.length, stock.width] for stock in product.rolls
            if stock.on_hand is not None}
    found = []
    for roll in before.rolls:
        same = all(sizes.get(cut.piece) == ((cut.width, cut.length) if cut.turned else (cut.length, cut.width))
                   for cut in roll.cuts)
        if not roll.cuts or roll.tag in tags or not same:
            continue
        if roll.remnant and (roll.stock, roll.length, roll.width) in remnants:
            found.append(roll)
        elif not roll.remnant and (roll.length, roll.width) in prices and room.get((roll.length, roll.width), 1) > 0:
            if (roll.length, roll.width) in room:
                room[roll.length, roll.width] -= 1
            found.append(replace(roll, price=prices[roll.length, roll.width]))
    return found


def _beside(
    job: Job, name: str, product: Product, there: tuple[Sequence[Roll], Sequence[Roll], Sequence[Remnant]],
    wanted: Sequence[Piece], made: Cutting, stop: Callable[[], bool],
) -> tuple[Roll, ...] | None:
    """Return how the rest is cut beside rolls that stay as they are listed; None when that takes more, or leaves a
    free remnant that would serve.

    ``there`` is the rolls opened, those that stay as they are listed, and the rests of the opened ones.
    """
    opened, listed, rests = there
    held = {cut.piece for roll in listed for cut in roll.cuts}
    stock = _stock_left(product, [*opened, *listed], rests)
    try:
        rest = cut_product(job, name, stock, [piece for piece in wanted if piece.tag not in held], stop=stop)
    except NoLayout:
        return None
    rolls = (*listed, *rest.rolls)
    if _spend(rolls, product) > _spend(made.rolls, product):
        return None
    together = replace(made, rolls=rolls)
    whole = _stock_left(product, opened, rests)
    return rest.rolls if _free_first(job, name, whole, wanted, together, stop) == rolls else None


def _would_serve(
    before: Cutting, product: Product, opened: Sequence[Roll], rests: Sequence[Remnant], wanted: Sequence[Piece],
) -> bool:
    """Tell whether a rest or an unused remnant would hold a piece that is to be cut from a roll not yet opened."""
    tags = {roll.tag for roll in opened}
    bought = {cut.piece for roll in before.rolls if not roll.remnant and roll.tag not in tags for cut in roll.cuts}
    used = {roll.stock for roll in before.rolls if roll.remnant}
    free = [*rests, *(remnant for remnant in product.remnants if remnant.tag not in used)]
    return any(
        (piece.length <= one.length and piece.width <= one.width)
        or (piece.turnable and piece.width <= one.length and piece.length <= one.width)
        for piece in wanted if piece.tag in bought for one in free)


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


def _opened(
    roll: Roll, pieces: Sequence[Piece], made_of: Mapping[str, str], gone: Sequence[RollSpan], product: Product,
) -> Opened:
    """Return what stays on an opened roll: what is cut, and what was to be cut beside it and is as it was.

    A block that something is cut from is used up. Where its longest piece is gone, or trimmed, what stays is told
    at the block's far end: the sheet between is scrap, and the rest of the roll begins behind the block.
    """
    old = {cut.piece: cut for cut in roll.cuts}
    blocks = blocks_of(roll.cuts)
    cuts: list[Cut] = []
    now = {old: new for new, old in made_of.items()}
    for piece in pieces:
        was = old.get(made_of.get(piece.tag, ""))
        if was is not None:
            cuts.append(replace(_lying(was, piece), within=now.get(was.within, "")))
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
    used = [(left, min(right, roll.length)) for left, right in gone if left < roll.length]
    usable = roll.length - (0 if roll.remnant else product.roll_end)
    return Opened(roll, tuple(sorted(cuts, key=lambda cut: (cut.at, cut.across))), (*taken, *used), usable)


def _lying(was: Cut, piece: Piece) -> Cut:
    """Return how a piece lies that is made of a cut one: as that lay, or turned when it fits only so."""
    along, across = piece.length, piece.width
    if piece.layer == SPARE:
        return replace(was, piece=piece.tag, length=along, width=across, turned=False)
    as_it_lay, other = ((across, along), (along, across)) if was.turned else ((along, across), (across, along))
    fits = as_it_lay[0] <= was.length and as_it_lay[1] <= was.width
    length, width = as_it_lay if fits else other
    return replace(was, piece=piece.tag, length=length, width=width, turned=was.turned == fits)


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


def _free_first(
    job: Job, name: str, stock: Product, wanted: Sequence[Piece], made: Cutting, stop: Callable[[], bool],
) -> tuple[Roll, ...]:
    """Return the rolls with what fits the free end of a remnant cut from it, and not from a roll still to be opened.

    The longest piece that fits goes first, as a block of its own. What is left is cut again from bought rolls, and the
    answer stands unless that would cost more.
    """
    rolls = made.rolls
    while True:
        bought = {cut.piece for roll in rolls if not roll.remnant for cut in roll.cuts}
        left = sorted((piece for piece in wanted if piece.tag in bought), key=lambda piece: (-piece.length, piece.tag))
        free = [roll for roll in rolls if roll.remnant]
        used = {roll.stock for roll in free}
        free += [Roll("", name, one.tag, True, one.length, one.width, None, (), Leftover(one.length, one.width, False))
                 for one in stock.remnants if one.tag not in used]
        filled = [_filled(roll, left, job.rules.keep_remnant) for roll in free]
        rest = [piece for piece in wanted if piece.tag in {one.tag for one in left}]
        if len(rest) == len(bought):
            return rolls
        then = cut_product(job, name, replace(stock, remnants=()), rest, stop=stop)
        if _spend(then.rolls, stock) > _spend(rolls, stock):
            return rolls
        rolls = (*(roll for roll in filled if roll.cuts), *then.rolls)


def _filled(roll: Roll, left: list[Piece], keep_remnant: int) -> Roll:
    """Return a remnant with pieces cut from its free end; they are taken out of those that are left."""
    cuts, at = list(roll.cuts), roll.length - roll.leftover.length
    for piece in list(left):
        for turned in (False, True) if piece.turnable else (False,):
            long, wide = (piece.width, piece.length) if turned else (piece.length, piece.width)
            if at + long <= roll.length and wide <= roll.width:
                cuts.append(Cut(piece.tag, at, 0, long, wide, turned))
                at += long
                left.remove(piece)
                break
    end = roll.length - at
    return replace(roll, cuts=tuple(cuts), leftover=Leftover(end, roll.width, end >= keep_remnant))


def _spend(rolls: Sequence[Roll], product: Product) -> Decimal:
    """Return what rolls cost; where the product has no prices, the length of all that are bought [ticks]."""
    cost = _cost(rolls, product)
    return Decimal(sum(roll.length for roll in rolls if not roll.remnant)) if cost is None else cost


def _joined(
    opened: Sequence[Opened], made: Sequence[Roll], listed: Sequence[Roll], origin: Mapping[str, tuple[int, int]], *,
    prefix: str, keep_remnant: int,
) -> tuple[Roll, ...]:
    """Return the opened rolls with what is cut from their rests, those that stay as listed, then new ones."""
    cuts = [list(one.cuts) for one in opened]
    fresh: list[Roll] = []
    tags = [*(one.roll.tag for one in opened), *(roll.tag for roll in listed)]
    numbers = [int(tag[len(prefix):]) for tag in tags if tag[len(prefix):].isdigit()]
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
    return (*rolls, *listed, *fresh)


def _in_hanging_order(pieces: Sequence[Piece], job: Job) -> list[Piece]:
    runs = {run.name: number for number, run in enumerate(job.runs)}
    return sorted(pieces, key=lambda piece: (
        runs.get(piece.run, 0), piece.install, min(y for _, y in piece.outline), piece.tag,
    ))
