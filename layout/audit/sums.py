"""8xx: the plan's own figures, worked again."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from layout.audit.asked import Asked, AskedStock
from layout.audit.coverage import FIELD
from layout.audit.findings import Findings
from layout.audit.walls import must, toe
from layout.audit.rolls import TURNABLE
from layout.audit.written import Summary, Written, WrittenPiece, WrittenRoll

CENT = Decimal("0.005")
PLACE = Decimal("0.001")
"""Areas are the same when they differ by less than this [square feet or metres]."""
LOOSE = {"to_cover": Decimal("0.001"), "laps": Decimal("0.002")}
"""What more these may differ, as a share of the wall, and a tick all round each sleeve: whole ticks on slopes and
circles."""


def check_sums(plan: Written, asked: Asked, book: Findings) -> None:
    """Hold the summary of each product against its rolls, pieces and walls."""
    field = next((piece.product for piece in plan.pieces if piece.kind == "drop" and piece.layer == FIELD), "membrane")
    _check_summary("summary", field, plan.summary, plan, asked, book)
    for product, summary in plan.products.items():
        _check_summary(f"products, {product}", product, summary, plan, asked, book)


def _check_summary(
    place: str, product: str, summary: Summary, plan: Written, asked: Asked, book: Findings,
) -> None:
    rolls = [roll for roll in plan.rolls if roll.product == product]
    cut = {cut.piece for roll in rolls for cut in roll.cuts}
    inside = {cut.piece for roll in rolls for cut in roll.cuts if cut.within}
    pieces = [piece for piece in plan.pieces if piece.tag in cut]
    _check_counts(place, summary, rolls, book)
    _check_money(place, product, summary, rolls, asked, book)
    _check_bounds(place, product, summary, [piece for piece in pieces if piece.tag not in inside], asked, book)
    _check_areas(place, summary, rolls, pieces, inside, plan, asked, book)


def _check_counts(place: str, summary: Summary, rolls: Sequence[WrittenRoll], book: Findings) -> None:
    bought = dict(sorted(Counter(roll.stock for roll in rolls if not roll.remnant).items()))
    if dict(sorted(summary.rolls.items())) != bought:
        book.note(802, f"{place}.rolls", str(bought), str(dict(sorted(summary.rolls.items()))))
    remnants = sum(roll.remnant for roll in rolls)
    if summary.remnants_used != remnants:
        book.note(803, f"{place}.remnants_used", str(remnants), str(summary.remnants_used))
    if summary.rolls_bound > len(rolls):
        book.note(814, f"{place}.rolls_bound", f"at most {len(rolls)}", str(summary.rolls_bound))


def _check_money(
    place: str, product: str, summary: Summary, rolls: Sequence[WrittenRoll], asked: Asked, book: Findings,
) -> None:
    prices = [roll.price for roll in rolls if not roll.remnant]
    priced = [stock.price for stock in asked.stock.get(product, ())]
    needed = None if None in prices or None in priced else sum((p for p in prices if p is not None), Decimal(0))
    if _differ(needed, summary.cost) and not (needed is not None and not rolls and summary.cost is None):
        book.note(801, f"{place}.cost", _money(needed), _money(summary.cost))
    if summary.cost is None:
        if summary.cost_bound is not None:
            book.note(816, f"{place}.cost_bound", "none without a cost", str(summary.cost_bound))
        return
    if summary.cost_bound is None:
        if summary.optimal:
            book.note(811, f"{place}.optimal", "false without a bound", "true")
        return
    if summary.cost_bound > summary.cost + CENT:
        book.note(810, f"{place}.cost_bound", f"at most {summary.cost}", str(summary.cost_bound))
    elif summary.optimal != (not _differ(summary.cost, summary.cost_bound)):
        book.note(811, f"{place}.optimal", str(not summary.optimal).lower(), str(summary.optimal).lower())


def _differ(a: Decimal | None, b: Decimal | None) -> bool:
    if a is None or b is None:
        return a is not b
    return abs(a - b) > CENT


def _money(value: Decimal | None) -> str:
    return "none" if value is None else str(value)


# --- the bound ---------------------------------------------------------------------------------

def _check_bounds(
    place: str, product: str, summary: Summary, pieces: Sequence[WrittenPiece], asked: Asked, book: Findings,
) -> None:
    """Note a count of rolls below what the pieces' area takes, and a cost that a plain first-fit of them beats."""
    # the bound is over the large pieces: small ones may lie in what is cut away of others
    least = least_rolls([piece for piece in pieces if piece.kind not in TURNABLE], product, asked)
    if summary.rolls_bound < least:
        book.note(815, f"{place}.rolls_bound", f"at least {least}", str(summary.rolls_bound))
    bound = summary.cost_bound
    stocks = [stock for stock in asked.stock.get(product, ()) if stock.on_hand is None and stock.price is not None]
    if bound is None or not stocks:
        return
    ways = (first_fit_cost(pieces, stock, asked.rules["roll_end"]) for stock in stocks)
    costs = [cost for cost in ways if cost is not None]
    if costs and min(costs) + CENT < bound:
        book.note(812, f"{place}.cost_bound", f"at most {min(costs)}", str(bound))


def least_rolls(pieces: Sequence[WrittenPiece], product: str, asked: Asked) -> int:
    """Return how many rolls the area of the pieces takes, were all as large as the largest and used up."""
    stocks = (*asked.stock.get(product, ()), *asked.remnants.get(product, ()))
    end = asked.rules["roll_end"]
    largest = max(((stock.length - (0 if stock.tag else end)) * stock.width for stock in stocks), default=0)
    needed = sum(piece.length * piece.width for piece in pieces)
    return -(-needed // largest) if largest else 0


def first_fit_cost(pieces: Sequence[WrittenPiece], stock: AskedStock, roll_end: int) -> Decimal | None:
    """Return what the pieces cost cut by first-fit decreasing from one stock alone, each over the whole width."""
    room: list[int] = []
    usable = stock.length - roll_end
    for length in sorted((piece.length for piece in pieces), reverse=True):
        if length > usable:
            return None
        for index, left in enumerate(room):
            if length <= left:
                room[index] = left - length
                break
        else:
            room.append(usable - length)
    return (stock.price or Decimal(0)) * len(room) if all(piece.width <= stock.width for piece in pieces) else None


# --- areas -------------------------------------------------------------------------------------

def _check_areas(
    place: str, summary: Summary, rolls: Sequence[WrittenRoll], pieces: Sequence[WrittenPiece], inside: set[str],
    plan: Written, asked: Asked, book: Findings,
) -> None:
    net = sum(piece.shape.area for piece in pieces)
    rectangles = sum(piece.length * piece.width for piece in pieces if piece.tag not in inside)
    ordered = sum(roll.length * roll.width for roll in rolls)
    kept = sum(roll.left_length * roll.left_width for roll in rolls if roll.keep)
    wall = _to_cover(plan, asked, pieces)
    needed = {"ordered": ordered, "leftover_kept": kept, "cut_away": rectangles - net,
              "scrap": ordered - kept - rectangles}
    if wall is not None:
        needed |= {"to_cover": wall, "laps": net - wall}
    edges = sum(math.pi * (sleeve.diameter + 1) for run in asked.runs for face in run.faces for sleeve in face.sleeves)
    before = len(book.findings())
    numbers = {"to_cover": 805, "laps": 806, "cut_away": 807, "leftover_kept": 808, "ordered": 809, "scrap": 813}
    for name, area in needed.items():
        written, worked = summary.area[name], in_words(area, asked)
        loose = PLACE + LOOSE.get(name, Decimal(0)) * in_words(wall or 0, asked)
        loose += in_words(edges, asked) if name in LOOSE else 0
        if abs(written - worked) > loose:
            book.note(numbers[name], f"{place}.area.{name}", f"{worked:.4f}", str(written))
    parts = sum(summary.area[name] for name in numbers if name != "ordered")
    if len(book.findings()) == before and abs(parts - summary.area["ordered"]) > PLACE:
        book.note(804, f"{place}.area", f"{summary.area['ordered']}", f"{parts}")


def _to_cover(plan: Written, asked: Asked, pieces: Sequence[WrittenPiece]) -> float | None:
    """Return the area the pieces of a product must cover; None when it is no layer the audit knows."""
    layers = {piece.layer for piece in pieces if piece.kind == "drop"}
    if not layers:
        return 0.0
    if layers != {FIELD}:
        return None
    wall = 0.0
    for run, written in zip(asked.runs, plan.runs, strict=True):
        wall += sum(float(shape.area) for _, shape in must(run, asked, written.turn_down))
        for face in run.faces:  # toes are planned in whole ticks, rounded up
            exact = toe(face, turn_down=written.turn_down, fillet=asked.rules["fillet"])
            wall += (math.ceil(round(exact, 6)) - exact) * (face.right - face.left)
    return wall


def in_words(square_ticks: float, asked: Asked) -> Decimal:
    """Return an area in the plan's unit of area."""
    per = (asked.unit.ticks * 12) ** 2 if asked.unit.name == "in" else 1_000_000
    exact = Fraction(square_ticks) / per
    return Decimal(exact.numerator) / Decimal(exact.denominator)
