"""Pieces and a product in, rolls in cutting order out, with what is proven about them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from layout.errors import NoLayout
from layout.records import Cutting, Leftover, Piece, Product, Roll
from layout.rolls.cutaways import Room, rooms
from layout.rolls.first_come import first_come
from layout.rolls.first_fit import fits
from layout.rolls.master import Master
from layout.rolls.order import OpenPiles, in_cutting_order
from layout.rolls.problem import Answer, Effort, Item, Leaf, Pattern, Problem, Proof, Stock
from layout.rolls.small import with_small
from layout.units import Unit, inches, tape


@dataclass(frozen=True)
class Priced:
    """A product's stock in whole numbers: bought rolls first, remnants after.

    ``step`` is the money that one unit of cost stands for; None when total length rules instead.
    """

    stocks: tuple[Stock, ...]
    step: Decimal | None
    notes: tuple[str, ...]

    def spent(self, cutting: Cutting) -> int:
        """Return what a cutting of this stock costs, in its whole numbers."""
        cost = outlay(cutting)
        return int(cost if self.step is None or cutting.cost is None else cost / self.step)


def outlay(cutting: Cutting) -> Decimal:
    """Return what a cutting costs; where rolls have no prices, the length of all that are bought [ticks]."""
    if cutting.cost is not None:
        return cutting.cost
    return Decimal(sum(roll.length for roll in cutting.rolls if not roll.remnant))


def best_cutting(
    pieces: Sequence[Piece],
    product: Product,
    *,
    unit: Unit,
    keep_remnant: int,
    effort: Effort = Effort(),
    prefix: str = "R",
    mirrored: bool = False,
) -> Cutting:
    """Cut the pieces from the product's rolls and remnants at the least cost, and prove how near to least it is.

    Decided: which rolls are opened, what is cut from each, and in what order. Held fixed: the size of every piece.

    Parameters
    ----------
    pieces
        What is cut, in hanging order; lengths and widths in ticks.
    product
        Its rolls, with prices and limits, and its remnants.
    unit
        How lengths are spoken of.
    keep_remnant
        A leftover this long is stock, not scrap; what is left for squaring does not count [ticks].
    effort
        How far to search.
    prefix
        Rolls are tagged with it and a number, in cutting order.
    mirrored
        The sheet is marked and cut liner side up.

    Returns
    -------
    Cutting
        Rolls in cutting order, cost, bound, and the certificate of the bound.

    Raises
    ------
    NoLayout
        When a piece fits no roll, or limited stock cannot hold the pieces.
    TooDear
        When all that is found costs more than ``effort.dearest``.

    Notes
    -----
    Goals in strict order: roll cost, useful leftovers, few patterns, few faces open at a time. When a
    roll has no price, total length of the rolls opened stands for cost, remnants count nothing, and cost and bound
    are None.
    """
    priced = price(product)
    if not pieces:
        return Cutting(product.name, (), _money(0, priced), _money(0, priced), 0, True, 0, {}, priced.notes)
    problem, items = gather_pieces(pieces, priced.stocks)
    _check(pieces, product, unit)
    least = min((min(piece.length, piece.width) for piece in pieces if piece.turnable), default=0)

    def free() -> dict[str, tuple[Room, ...]]:
        return {piece.tag: rooms(piece, mirrored=mirrored, least=least) for piece in pieces if not piece.turnable}

    plain = all(len(piece.outline) <= 4 and not piece.holes for piece in pieces if not piece.turnable)
    found = with_small(problem, free, effort, plain=plain)
    if found is None:
        raise NoLayout(
            f"the rolls of {product.name} on hand cannot hold all {len(pieces)} pieces; "
            "raise on_hand or add a roll length")
    answer = replace(found.answer, proof=_told(found.answer.proof, found.proven, effort))
    notes = list(priced.notes)
    if answer.stopped:
        notes.append(f"The search for fewer rolls of {product.name} was cut short; the bound stands.")
    return Cutting(
        product=product.name,
        rolls=_opened(
            problem, answer.opened, OpenPiles(pieces, items, found.inside), product, unit=unit,
            keep_remnant=keep_remnant, prefix=prefix),
        cost=_money(answer.cost, priced),
        bound=_money(answer.proof.bound, priced),
        rolls_bound=found.fewest,
        optimal=answer.optimal,
        first_come=first_come(problem, items),
        certificate=certificate(found.proven, answer, priced),
        notes=tuple(notes),
    )


def _told(proof: Proof, problem: Problem, effort: Effort) -> Proof:
    """Return what a certificate can tell of a proof: what was proven only by search, others cannot check.

    Where the search knew lanes of one piece only, its duals are priced again with lanes that are cross-cut.
    """
    if not effort.laned:
        master = Master(problem)
        if any(lane.slots for lane in master.lanes):
            return master.proof(master.with_lanes(master.price(proof.duals)))
    one_width = len({stock.width for stock in problem.stocks}) == 1
    told = proof.leaves and all(
        leaf.by in ("duals", "cost") or (leaf.by == "area" and one_width) for leaf in proof.leaves)
    return proof if told or not proof.searched else replace(proof, bound=proof.by_duals, searched="", leaves=())


def price(product: Product) -> Priced:
    """Return the product's stock with costs in whole numbers: exact, in the smallest decimal its prices use."""
    prices = [roll.price for roll in product.rolls if roll.price is not None]
    notes: tuple[str, ...] = ()
    step: Decimal | None = None
    if product.rolls and len(prices) == len(product.rolls):
        finest = min(0, *(int(value.normalize().as_tuple().exponent) for value in prices))
        step = Decimal(1).scaleb(finest)
        costs = [int(value / step) for value in prices]
    else:
        costs = [roll.length for roll in product.rolls]
        if product.rolls:
            notes = (f"{product.name}: no price for every roll, so the total length of the rolls opened is least.",)
    bought = [
        Stock(roll.length - product.roll_end, roll.width, cost, roll.on_hand)
        for roll, cost in zip(product.rolls, costs, strict=True)
    ]
    remnants = [Stock(remnant.length, remnant.width, 0, 1) for remnant in product.remnants]
    return Priced((*bought, *remnants), step, notes)


def gather_pieces(pieces: Sequence[Piece], stocks: tuple[Stock, ...]) -> tuple[Problem, list[int]]:
    """Return the problem with pieces of one size counted together, and the item of every piece."""
    sizes = [(piece.length, piece.width, piece.turnable) for piece in pieces]
    kinds = sorted(set(sizes), reverse=True)
    index = {kind: i for i, kind in enumerate(kinds)}
    counts = [0] * len(kinds)
    for size in sizes:
        counts[index[size]] += 1
    items = tuple(Item(length, width, count, turnable) for (length, width, turnable), count in zip(kinds, counts))
    return Problem(items, stocks), [index[size] for size in sizes]


def certificate(problem: Problem, answer: Answer, priced: Priced) -> dict[str, object]:
    """Return what separate code needs to check the bound, JSON-ready; lengths in ticks, costs in ``step``.

    Notes
    -----
    See ``Proof`` and ``Leaf``. Where ``searched`` is not empty and there are no leaves, the duals prove ``by_duals``
    only, and the search the rest.
    """
    proof = answer.proof

    def asked(duals: Sequence[int]) -> list[int]:
        return [dual for dual, item in zip(duals, problem.items, strict=True) if item.demand]

    return {
        "scale": proof.scale,
        "step": None if priced.step is None else str(priced.step),
        "items": [
            {"length": item.length, "width": item.width, "demand": item.demand, "turnable": item.turnable}
            for item in problem.items if item.demand
        ],
        "stocks": [
            {"length": stock.length, "width": stock.width, "cost": stock.cost, "count": stock.count}
            for stock in problem.stocks
        ],
        "duals": asked(proof.duals),
        "values": list(proof.values),
        "by_duals": proof.by_duals,
        "bound": proof.bound,
        "searched": proof.searched,
        "leaves": [_leaf(leaf, asked) for leaf in proof.leaves],
    }


def _leaf(leaf: Leaf, asked: Callable[[Sequence[int]], list[int]]) -> dict[str, object]:
    entry: dict[str, object] = {"least": list(leaf.box.least), "most": list(leaf.box.most), "by": leaf.by}
    if leaf.proof is not None:
        entry |= {"scale": leaf.proof.scale, "duals": asked(leaf.proof.duals), "values": list(leaf.proof.values)}
    return entry


def _check(pieces: Sequence[Piece], product: Product, unit: Unit) -> None:
    """Raise NoLayout for the first piece that no roll or remnant takes."""
    stocks = [Stock(roll.length - product.roll_end, roll.width, 0) for roll in product.rolls]
    stocks += [Stock(remnant.length, remnant.width, 0) for remnant in product.remnants]
    if not stocks:
        raise NoLayout(f"{product.name} has no rolls to cut {pieces[0].tag} from")
    longest = max(stock.length for stock in stocks)
    widest = max(stock.width for stock in stocks)
    for piece in pieces:
        if any(fits(Item(piece.length, piece.width, 1, piece.turnable), stock) for stock in stocks):
            continue
        size = f"{tape(piece.length, unit)} x {inches(piece.width, unit)}"
        remedy = "order a wider roll"
        if piece.width <= widest:
            remedy = "order a longer roll or allow an end lap (a shorter max_piece)"
        raise NoLayout(
            f"piece {piece.tag} ({size}) fits no roll of {product.name}: the longest is {tape(longest, unit)}, "
            f"the widest {inches(widest, unit)}; {remedy}")


def _money(cost: int, priced: Priced) -> Decimal | None:
    return None if priced.step is None else cost * priced.step


def _opened(
    problem: Problem,
    rolls: Sequence[Pattern],
    piles: OpenPiles,
    product: Product,
    *,
    unit: Unit,
    keep_remnant: int,
    prefix: str,
) -> tuple[Roll, ...]:
    """Return the rolls in cutting order, every piece in its place."""
    remnants = dict(enumerate(product.remnants, start=len(product.rolls)))
    opened: list[Roll] = []
    for pattern, cuts in in_cutting_order(problem, rolls, piles):
        stock = problem.stocks[pattern.stock]
        remnant = remnants.get(pattern.stock)
        length = remnant.length if remnant else product.rolls[pattern.stock].length
        used = max(cut.at + cut.length for cut in cuts)
        opened.append(Roll(
            tag=f"{prefix}{len(opened) + 1:02d}",
            product=product.name,
            stock=remnant.tag if remnant else tape(length, unit),
            remnant=remnant is not None,
            length=length,
            width=stock.width,
            price=None if remnant else product.rolls[pattern.stock].price,
            cuts=cuts,
            leftover=Leftover(length - used, stock.width, stock.length - used >= keep_remnant),
        ))
    return tuple(opened)
