"""11xx: what is claimed of cost is proven, in whole numbers, by code of the audit's own.

Two kinds of claim are looked at. That no cutting of a product's pieces costs less: duals that value pieces, and what a
roll is worth at most. That no layout at all costs less: worths of lengths, what each run is worth at least (``least``),
and that no cheaper choice of rolls is worth as much. Rolls are cross-cut into blocks, these ripped into lanes, and
these cross-cut; a bound may leave pieces out, since that only makes a job cheaper, and it leaves out small ones that
could lie within what is cut away of others.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import reduce
from math import gcd
from typing import Any

import numpy as np

from layout.audit.asked import Asked, AskedStock
from layout.audit.findings import Findings
from layout.audit.least import Cells, RowSearch, WorthTerms, Whole
from layout.audit.patterns import best_worth, covered, most_worth
from layout.audit.rolls import TURNABLE
from layout.audit.written import Summary, Written, WrittenPiece

FIELD = "membrane"
MOST_STEPS = 100_000
MOST_SUMS = 4_000_000
"""Sums of roll costs are listed up to this many of their common divisor; past it a bound is rounded up to that."""
"""Entries of worths of lengths that are looked at."""

REFUTED = (810, 811, 812, 816)
"""Findings of the sums that say that a bound or an optimum cannot be as claimed."""


class Doubt(Exception):
    """A certificate does not hold: the finding's number, what is needed and what is found."""

    def __init__(self, number: int, needed: object, found: object) -> None:
        super().__init__(number, needed, found)
        self.number, self.needed, self.found = number, needed, found


def check_certificates(plan: Written, asked: Asked, book: Findings) -> None:
    """Note every claim of a bound that its certificate does not prove."""
    for product, summary in plan.products.items():
        _check(f"products, {product}", summary, book, lambda: proven_cutting(product, summary, plan, asked))
    _check("summary", plan.summary, book, lambda: _layouts(plan, asked))


def _check(place: str, summary: Summary, book: Findings, prove: Any) -> None:
    """Note what keeps a claim from being proven; a bound of nothing needs no proof.

    A claim that the sums already refute is not noted again as unproven; its certificate is still looked at.
    """
    if not summary.cost_bound and not (summary.optimal and summary.cost):
        return
    refuted = any(found.number in REFUTED and found.place.startswith(f"{place}.") for found in book.findings())
    if not summary.certificate:
        if not refuted:
            book.note(1101, f"{place}.certificate", "a certificate", "none")
        return
    try:
        proven = prove()
        claimed = summary.cost_bound or Decimal(0)
        if claimed > proven and not refuted:
            raise Doubt(1108, f"at most {proven}", str(claimed))
    except Doubt as doubt:
        book.note(doubt.number, f"{place}.certificate", str(doubt.needed), str(doubt.found))
    except (KeyError, TypeError, ValueError, IndexError, ArithmeticError, AttributeError) as error:
        book.note(1102, f"{place}.certificate", "a certificate that can be read", repr(error)[:80])


def _stocks(product: str, asked: Asked) -> tuple[list[AskedStock], list[int], Decimal]:
    """Return rolls and remnants of a product, their costs in whole steps of money, and that step."""
    rolls, remnants = asked.stock.get(product, ()), asked.remnants.get(product, ())
    prices = [roll.price for roll in rolls if roll.price is not None]
    if len(prices) < len(rolls):
        raise Doubt(1101, "no bound without a price for every roll", "a bound")
    step = Decimal(1).scaleb(min([0, *(int(price.normalize().as_tuple().exponent) for price in prices)]))
    usable = [replace(roll, length=roll.length - asked.rules["roll_end"]) for roll in rolls]
    return [*usable, *remnants], [*(int(price / step) for price in prices), *(0 for _ in remnants)], step


def _counts(stocks: Sequence[AskedStock]) -> list[int | None]:
    return [1 if stock.tag else stock.on_hand for stock in stocks]


def _whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or abs(value) >= 1 << 60:
        raise ValueError(f"no whole number: {value!r}")
    return value


# --- the cutting of given pieces ---------------------------------------------------------------

def proven_cutting(product: str, summary: Summary, plan: Written, asked: Asked) -> Decimal:
    """Return the bound on cost that a cutting's certificate proves."""
    certificate = summary.certificate
    stocks, costs, step = _stocks(product, asked)
    said = [(_whole(s["length"]), _whole(s["width"]), _whole(s["cost"]), s["count"]) for s in certificate["stocks"]]
    there = [(s.length, s.width, cost, count) for s, cost, count in zip(stocks, costs, _counts(stocks), strict=True)]
    if said != there:
        raise Doubt(1103, "the job's rolls and remnants", "others")
    tags = {cut.piece for roll in plan.rolls if roll.product == product for cut in roll.cuts}
    pieces = [piece for piece in plan.pieces if piece.tag in tags]
    items = [(_whole(i["length"]), _whole(i["width"]), _whole(i["demand"]), bool(i["turnable"]))
             for i in certificate["items"]]
    _check_items(items, pieces)
    proof = _Proof(items, there, certificate)
    bound = _whole(certificate["bound"])
    root = proof.bound(certificate, None, costs)
    if not certificate["leaves"]:
        if proof.rounded(root) < bound:
            raise Doubt(1105, f"at most {proof.rounded(root)}", bound)
        return bound * step
    boxes = [list(zip(leaf["least"], leaf["most"], strict=True)) for leaf in certificate["leaves"]]
    if not covered([(0, count) for *_, count in there], boxes):
        raise Doubt(1106, "every count of rolls", "some are left out")
    for number, (leaf, box) in enumerate(zip(certificate["leaves"], boxes, strict=True)):
        least = proof.leaf(leaf, box)
        if least is not None and least < bound:
            raise Doubt(1107, f"leaf {number}: {bound}", least)
    return bound * step


def _check_items(items: Sequence[tuple[int, int, int, bool]], pieces: Sequence[WrittenPiece]) -> None:
    """Raise Doubt when a certificate asks for pieces that the plan has not, or that may need no sheet."""
    there = Counter((piece.length, piece.width, piece.kind in TURNABLE) for piece in pieces)
    for length, width, demand, turnable in items:
        there[length, width, turnable] -= demand
        if demand < 0 or there[length, width, turnable] < 0:
            raise Doubt(1103, "pieces of the plan", f"more of {length} by {width}")
    large = [piece for piece in pieces if piece.kind not in TURNABLE]
    if large and any(turnable for *_, turnable in items) and any(len(p.ring) > 4 or p.holes for p in large):
        raise Doubt(1103, "no small pieces, which others' cut-away may hold", "some")


class _Proof:
    """Bounds that duals prove for items and stocks: (length, width, demand, turnable), (length, width, cost, count)."""

    def __init__(
        self, items: Sequence[tuple[int, int, int, bool]], stocks: Sequence[tuple[int, int, int, int | None]],
        certificate: Mapping[str, Any],
    ) -> None:
        self.items, self.stocks = items, stocks
        self.scale = _whole(certificate["scale"])

    def bound(
        self, proof: Mapping[str, Any], box: Sequence[tuple[int, int | None]] | None, costs: Sequence[int],
    ) -> int:
        """Return what duals prove of the cost, rounded up."""
        scale, duals = _whole(proof["scale"]), [_whole(dual) for dual in proof["duals"]]
        if len(duals) != len(self.items) or min(duals, default=0) < 0 or scale < 1:
            raise Doubt(1102, "a dual of no less than 0 for each item", duals[:4])
        total = sum(dual * item[2] for dual, item in zip(duals, self.items, strict=True))
        for number, ((length, width, _, count), cost) in enumerate(zip(self.stocks, costs, strict=True)):
            least, most = box[number] if box else (0, count)
            value = _whole(proof["values"][number])
            if most != 0:
                worth = best_worth(self.items, duals, length, width)
                if worth > value:
                    raise Doubt(1104, f"stock {number}: at least {worth}", value)
            left = cost * scale - value
            if left >= 0:
                total += least * left
            elif most is None:
                raise Doubt(1104, f"stock {number}: at most {cost * scale}", value)
            else:
                total += most * left
        return max(0, -(-total // scale))

    def leaf(self, leaf: Mapping[str, Any], box: Sequence[tuple[int, int | None]]) -> int | None:
        """Return the least cost that a leaf proves; None when its counts cannot hold the pieces."""
        if leaf["by"] == "cost":
            return sum(stock[2] * least for stock, (least, _) in zip(self.stocks, box, strict=True))
        if leaf["by"] == "duals":
            return self.rounded(self.bound(leaf, box, [stock[2] for stock in self.stocks]))
        if leaf["by"] == "area" and len({stock[1] for stock in self.stocks}) == 1:
            lengths = [stock[0] for stock in self.stocks]
            if any(most is None for _, most in box):
                return 0
            there = sum(length * (most or 0) for length, (_, most) in zip(lengths, box, strict=True))
            return None if self.bound(leaf, box, lengths) > there else 0
        return 0

    def rounded(self, total: int) -> int:
        """Return the least sum of roll costs that is no less than a total."""
        costs = [(stock[2], stock[3]) for stock in self.stocks if stock[2]]
        unit = reduce(gcd, (cost for cost, _ in costs), 0)
        if not costs or total <= 0:
            return total
        least = -(-total // unit)
        top = min(least + max(cost for cost, _ in costs) // unit, MOST_SUMS)
        if least > top:
            return least * unit
        sums = np.zeros(top + 1, dtype=bool)
        sums[0] = True
        for cost, count in costs:
            left, take = top * unit // cost if count is None else min(count, top * unit // cost), 1
            while left > 0:
                take = min(take, left)
                by = take * cost // unit
                if by <= top:
                    sums[by:] |= sums[:top + 1 - by].copy()
                left -= take
                take *= 2
        reached = np.flatnonzero(sums[least:])
        return (least + (int(reached[0]) if reached.size else 0)) * unit


# --- all layouts -------------------------------------------------------------------------------

def _layouts(plan: Written, asked: Asked) -> Decimal:
    """Return the bound on cost over all layouts that the plan's certificate proves."""
    certificate = plan.summary.certificate
    stocks, costs, step = _stocks(FIELD, asked)
    rules = asked.rules
    width = max(stock.width for stock in asked.stock[FIELD])
    strips = [rules[name] for name in ("corner_strip", "base_strip") if rules[name] and _strips_from_sheet(asked)]
    narrowest = max(1, min([rules["min_width"], width, *strips]))
    widest = max(width - narrowest, 0) if 2 * narrowest <= width else 0
    bound = _whole(certificate["bound"])
    fixed = [piece for piece in plan.pieces if piece.kind in ("corner strip", "base strip") and piece.product == FIELD]
    turn_down = {run.name: run.turn_down for run in plan.runs}
    if certificate["by"] == "area":
        cells = [Cells(run, asked, turn_down[run.name]) for run in asked.runs]
        needed = sum(int(np.maximum(each.top - each.bottom, 0).sum()) for each in cells)
        needed -= sum((h.right - h.left) * (h.top - h.bottom) for each in cells for h in each.holes)
        needed += sum(piece.length * piece.width for piece in fixed)
        yields = [stock.length * stock.width for stock in stocks]
    else:
        worth = _worths(certificate, max(stock.length for stock in stocks), max(rules["cut_to"], 1))
        terms = WorthTerms(worth, width, widest)
        listed = {each["run"]: each for each in certificate["runs"]}
        if sorted(listed) != sorted(run.name for run in asked.runs):
            raise Doubt(1112, ", ".join(run.name for run in asked.runs), ", ".join(listed))
        needed = 0
        for run in asked.runs:
            claim = _whole(listed[run.name]["violation"]), _whole(listed[run.name]["least"])
            found = RowSearch(Cells(run, asked, turn_down[run.name]), terms).least(claim) if claim[1] > 0 else claim
            if claim > found:
                raise Doubt(1110, f"run {run.name}: at most {found}", claim)
            needed += claim[1]
        needed += sum(
            int(worth[min(piece.length, len(worth) - 1)]) * _share(piece.width, width, narrowest, widest)
            for piece in fixed
        )
        yields = [int(worth[stock.length]) * _most(stock.width, width, widest) for stock in stocks]
    there = most_worth(yields, costs, _counts(stocks), bound - 1)
    if there >= needed:
        raise Doubt(1111, f"rolls cheaper than {bound * step} worth less than {needed}", there)
    return bound * step


def _strips_from_sheet(asked: Asked) -> bool:
    return (asked.job.get("strip") or {}).get("from") == "sheet"


def _share(wide: int, width: int, narrowest: int, widest: int) -> int:
    """Return what a piece counts of the sheet's width."""
    return 0 if wide < narrowest else wide if wide <= widest else width


def _most(wide: int, width: int, widest: int) -> int:
    """Return a bound on what pieces side by side in a roll of some width count together."""
    if wide > width:
        return width * -(-wide // width)
    return width if wide > widest else wide


def _worths(certificate: Mapping[str, Any], longest: int, step: int) -> Whole:
    """Return what each length is worth; no two lengths are worth more than one as long as both."""
    grain, rises = _whole(certificate["grain"]), np.array([_whole(rise) for rise in certificate["rises"]])
    if grain < 1 or step % grain or len(rises) != longest // grain or len(rises) > MOST_STEPS:
        raise Doubt(1102, "worths of every length", f"{len(rises)} steps of {grain}")
    if rises.min(initial=0) < 0:
        raise Doubt(1109, "worths that never fall", int(rises.min()))
    worth = np.concatenate(([0], np.cumsum(rises, dtype=np.int64)))
    if int(worth[-1]) >= 1 << 24:
        raise Doubt(1102, "worths under 2 to the 24th", int(worth[-1]))
    for length in range(1, len(worth) // 2 + 1):
        over = worth[length:len(worth) - length] + worth[length] - worth[2 * length:]
        if over.size and over.max() > 0:
            other = length + int(over.argmax())
            raise Doubt(1109, f"{length * grain} and {other * grain}: at most {worth[length + other]} together",
                        int(worth[length] + worth[other]))
    return np.asarray(worth[np.arange(longest + 1) // grain], dtype=np.int64)
