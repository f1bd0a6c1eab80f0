"""Sheet in rolls, what is cut from it, and what it weighs: membrane, strip and drainage board."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from fractions import Fraction

from layout.counts import count_pieces
from layout.records import DRAINAGE, MEMBRANE, STRIP, Cutting, Piece, Plan, Product, Quantity, Roll, RollStock
from layout.takeoff.figures import area, cents, counted, decimal, plain_number, say_area, say_long, several
from layout.units import inches, tape


def product_of(plan: Plan, cutting: Cutting) -> str:
    """Return what a cutting cuts, by the word its pieces have for it: ``membrane``, ``strip`` or ``drainage``."""
    products = {piece.tag: piece.product for piece in plan.pieces}
    return next((products[cut.piece] for roll in cutting.rolls for cut in roll.cuts if cut.piece in products), "")


def product_named(plan: Plan, name: str) -> Product | None:
    """Return the product with its rolls and weights, by the word that pieces have for it."""
    board = plan.job.extras.drainage_board
    known = {MEMBRANE: plan.job.sheet, STRIP: plan.job.strip}
    return known.get(name, board.product if board and name == DRAINAGE else None)


def roll_lines(plan: Plan) -> list[Quantity]:
    """Return the lines of rolls to buy, one a stock length of each product, and of remnants used."""
    lines: list[Quantity] = []
    for cutting in plan.cuttings:
        name = product_of(plan, cutting)
        bought: dict[tuple[str, int, int], list[Roll]] = {}
        for roll in cutting.rolls:
            if not roll.remnant:
                bought.setdefault((roll.stock, roll.length, roll.width), []).append(roll)
        lines += [_roll_line(plan, name, rolls) for rolls in bought.values()]
        lines += [_remnant_line(plan, name, roll) for roll in cutting.rolls if roll.remnant]
    return lines


def _roll_line(plan: Plan, name: str, rolls: list[Roll]) -> Quantity:
    unit = plan.job.unit
    first = rolls[0]
    size = first.length * first.width
    used = sum(cut.length * cut.width for roll in rolls for cut in roll.cuts if not cut.within)
    kept = sum(roll.leftover.length * roll.leftover.width for roll in rolls if roll.leftover.keep)
    waste = len(rolls) * size - used - kept
    words = _pieces_on(plan, rolls)
    share = decimal(Fraction(100 * waste, len(rolls) * size), 1)
    count = len(rolls)
    return Quantity(
        f"{titled(plan, name)}, roll {first.stock}", "roll", decimal(Fraction(used, size), up=True), Decimal(count),
        f"{inches(first.width, unit)} by {tape(first.length, unit)}", first.price,
        None if first.price is None else cents(first.price * count),
        f"{say_area(used, unit)} for {words}, of {say_area(count * size, unit)} in "
        f"{several(count, 'roll')}; {say_area(kept, unit)} left over to keep, {say_area(waste, unit)} scrap "
        f"({share} %)",
    )


def _remnant_line(plan: Plan, name: str, roll: Roll) -> Quantity:
    """Return the line of a remnant used: nothing is bought."""
    unit = plan.job.unit
    used = sum(cut.length * cut.width for cut in roll.cuts if not cut.within)
    return Quantity(
        f"{titled(plan, name)}, remnant {roll.stock}", "remnant",
        decimal(Fraction(used, roll.length * roll.width), up=True), Decimal(0),
        f"{inches(roll.width, unit)} by {tape(roll.length, unit)}", Decimal(0), Decimal(0),
        f"from stock, not bought: {say_area(used, unit)} for {_pieces_on(plan, [roll])}, of "
        f"{say_area(roll.length * roll.width, unit)}",
    )


def _pieces_on(plan: Plan, rolls: list[Roll]) -> str:
    """Return what is cut from some rolls, in words."""
    tags = {cut.piece for roll in rolls for cut in roll.cuts}
    return count_pieces(piece for piece in plan.pieces if piece.tag in tags).words() or "nothing"


def titled(plan: Plan, name: str) -> str:
    """Return the word for a product with its name in the job."""
    word = {DRAINAGE: "drainage board"}.get(name, name)
    product = product_named(plan, name)
    return word if product is None or product.name == word else f"{word} ({product.name})"


NAMED = {"drop": "pieces of sheet", "course": "pieces of sheet", DRAINAGE: "pieces of drainage board"}
"""What the pieces of a kind, or of a layer, are called in the takeoff; reinforcing goes by its kind."""


def piece_lines(plan: Plan) -> list[Quantity]:
    """Return the lines of pieces by kind, cut from the rolls above."""
    groups: dict[tuple[str, str], list[Piece]] = {}
    for piece in plan.pieces:
        kind = NAMED.get(piece.layer if piece.layer == DRAINAGE else piece.kind, piece.kind)
        groups.setdefault((kind, piece.product), []).append(piece)
    return [
        counted(
            kind, len(pieces), unit="piece",
            basis=f"{_sizes(plan, pieces)}, {say_long(sum(piece.length for piece in pieces), plan.job.unit)} in all, "
                  f"cut from {product}",
        )
        for (kind, product), pieces in groups.items()
    ]


def _sizes(plan: Plan, pieces: list[Piece]) -> str:
    """Return the widths of pieces, with how many of each where there are few."""
    unit = plan.job.unit
    widths = Counter(piece.width for piece in pieces)
    if len(widths) > 3:
        return f"{inches(min(widths), unit)} to {inches(max(widths), unit)} wide"
    return ", ".join(f"{count} of {inches(width, unit)} wide" for width, count in sorted(widths.items(), reverse=True))


def weight_lines(plan: Plan) -> list[Quantity]:
    """Return the lines of weights: each product's rolls, pallets, and the heaviest piece; only what is known [lb]."""
    lines: list[Quantity] = []
    for cutting in plan.cuttings:
        name = product_of(plan, cutting)
        product = product_named(plan, name)
        bought = [roll for roll in cutting.rolls if not roll.remnant]
        weights = {stock.length: stock.weight_lb for stock in product.rolls} if product else {}
        known = [(roll, weights.get(roll.length)) for roll in bought]
        if not bought or any(weight is None for _, weight in known):
            continue
        total = sum((weight for _, weight in known if weight is not None), Decimal(0))
        heaviest = max(weight for _, weight in known if weight is not None)
        lines.append(_weight(
            f"weight of {titled(plan, name)} rolls", total,
            f"{several(len(bought), 'roll')}, the heaviest {plain_number(heaviest)} lb",
        ))
        lines += _pallets(plan, titled(plan, name), len(bought), heaviest)
        lines += _heaviest_piece(plan, name, titled(plan, name), product.rolls if product else ())
    return lines


def _weight(item: str, pounds: Decimal, basis: str) -> Quantity:
    figure = pounds.quantize(Decimal("0.1"))
    return Quantity(item, "lb", figure, figure, basis=basis, group="weight")


def _pallets(plan: Plan, title: str, rolls: int, heaviest: Decimal) -> list[Quantity]:
    delivery = plan.job.extras.delivery
    if delivery is None:
        return []
    full = min(rolls, delivery.rolls_a_pallet)
    count = -(-rolls // delivery.rolls_a_pallet)
    return [_weight(
        f"heaviest pallet of {title}", full * heaviest + delivery.pallet_weight_lb,
        f"{several(count, 'pallet')} for {several(rolls, 'roll')}; {several(full, 'roll')} of up to "
        f"{plain_number(heaviest)} lb + pallet {plain_number(delivery.pallet_weight_lb)} lb",
    )]


def _heaviest_piece(plan: Plan, name: str, title: str, stocks: tuple[RollStock, ...]) -> list[Quantity]:
    """Return the line of the piece with the largest rectangle, at the weight of the heaviest roll by area."""
    pieces = [piece for piece in plan.pieces if piece.product == name]
    rates = [Fraction(stock.weight_lb) / (stock.length * stock.width) for stock in stocks if stock.weight_lb]
    if not pieces or not rates:
        return []
    unit = plan.job.unit
    piece = max(pieces, key=lambda one: one.length * one.width)
    pounds = max(rates) * piece.length * piece.width
    a_unit = decimal(max(rates) / area(1, unit), 3)
    return [_weight(
        f"heaviest piece of {title}", decimal(pounds, 1, up=True),
        f"{piece.tag}, {tape(piece.length, unit)} by {inches(piece.width, unit)}: "
        f"{say_area(piece.length * piece.width, unit)} at {a_unit} lb a {unit.area_name}",
    )]
