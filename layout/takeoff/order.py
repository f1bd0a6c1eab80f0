"""What to buy: by product and length, from what stock, how heavy, needed by when, and what will do instead."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from layout.order import OrderLine
from layout.records import DRAINAGE, MEMBRANE, STRIP, Cutting, Job, Plan, Quantity, Roll
from layout.takeoff.dates import needed_by
from layout.takeoff.figures import cents, whole_number
from layout.takeoff.sheets import product_of, product_named, titled
from layout.units import inches, tape

Shortage = Mapping[tuple[str, int], Cutting | None]
"""(product, length of a roll [ticks]) -> how its pieces are cut when that roll is not to be had; None when they
cannot be."""
OnHand = Mapping[tuple[str, int], int]
"""(product, length of a roll [ticks]) -> rolls that lie in stock already."""

DATED = {MEMBRANE: "sheet", STRIP: STRIP, DRAINAGE: "drainage_board"}
"""Product -> the key that the timetable has for it."""


def order_lines(plan: Plan, *, short: Shortage = {}, on_hand: OnHand = {}) -> tuple[OrderLine, ...]:
    """Return everything that the job takes from outside: what is bought, and what is taken from stock.

    Parameters
    ----------
    plan
        The plan with its quantities.
    short
        What will do when a roll is not to be had.
    on_hand
        Rolls in stock, which are used before any are bought.
    """
    dates = needed_by(plan)
    lines: list[OrderLine] = []
    for cutting in plan.cuttings:
        name = product_of(plan, cutting)
        lines += _rolls(plan, cutting, name, dates, short, on_hand)
        lines += [_remnant(plan, roll, name, dates) for roll in cutting.rolls if roll.remnant]
    keys = _keys(plan.job)
    for quantity in plan.quantities:
        if quantity.group == "material" and quantity.unit not in ("roll", "remnant") and quantity.order:
            lines.append(_package(plan.job, quantity, keys, dates))
    return tuple(lines)


def _rolls(
    plan: Plan, cutting: Cutting, name: str, dates: Mapping[str, str], short: Shortage, on_hand: OnHand,
) -> list[OrderLine]:
    """Return a line for each length of roll that a product is cut from."""
    unit = plan.job.unit
    product, delivery = product_named(plan, name), plan.job.extras.delivery
    weights = {stock.length: stock.weight_lb for stock in product.rolls} if product else {}
    opened: dict[tuple[int, int], list[Roll]] = {}
    for roll in cutting.rolls:
        if not roll.remnant:
            opened.setdefault((roll.length, roll.width), []).append(roll)
    lines: list[OrderLine] = []
    for (length, width), rolls in opened.items():
        count = len(rolls)
        stock = min(count, on_hand.get((name, length), 0))
        buy, price, weight = count - stock, rolls[0].price, weights.get(length)
        lines.append(OrderLine(
            item=titled(plan, name), key=name, size=f"{inches(width, unit)} by {tape(length, unit)}", unit="roll",
            need=count, stock=stock, buy=buy, price=price, cost=None if price is None else cents(price * buy),
            weight_lb=weight, pallets=None if delivery is None else -(-buy // delivery.rolls_a_pallet),
            needed_by=dates.get(DATED.get(name, "start"), ""),
            instead=_instead(cutting, short[name, length], tape(length, unit)) if (name, length) in short else "",
        ))
    return lines


def _instead(cutting: Cutting, other: Cutting | None, missing: str) -> str:
    """Return what will do when a length is not to be had, in words."""
    if other is None:
        return f"without {missing} the pieces cannot be cut from the other lengths"
    counts: dict[str, int] = {}
    for roll in other.rolls:
        if not roll.remnant:
            counts[roll.stock] = counts.get(roll.stock, 0) + 1
    rolls = " + ".join(f"{count} x {stock}" for stock, count in counts.items()) or "remnants alone"
    if other.cost is None or cutting.cost is None:
        return f"without {missing}: {rolls}"
    return f"without {missing}: {rolls} in all, {other.cost:,.2f} ({other.cost - cutting.cost:+,.2f})"


def _remnant(plan: Plan, roll: Roll, name: str, dates: Mapping[str, str]) -> OrderLine:
    unit = plan.job.unit
    return OrderLine(
        item=titled(plan, name), key=name, size=f"{inches(roll.width, unit)} by {tape(roll.length, unit)}",
        unit="remnant", need=1, stock=1, buy=0, price=Decimal(0), cost=Decimal(0), uses=roll.stock,
        needed_by=dates.get(DATED.get(name, "start"), ""),
    )


def _keys(job: Job) -> dict[str, str]:
    """Return the timetable's key of each thing that the takeoff lists, by its name."""
    given = job.extras
    bar, channel = given.termination_bar, given.outlet_channel
    board = "drainage_board" if given.drainage_board else "protection"
    found = {product.name: when for product, when in (
        (given.primer, "primer"), (given.sealant, "start"), (bar, "termination_bar"), (channel, "drainage_board"),
        (given.adhesive, board), (given.protection, "protection"),
    ) if product}
    if bar:
        found[bar.fastener] = "termination_bar"
    if channel:
        found[f"{channel.name}, outlet"] = "drainage_board"
    return found


def _package(job: Job, quantity: Quantity, keys: Mapping[str, str], dates: Mapping[str, str]) -> OrderLine:
    """Return the line of something bought by the package."""
    weighed = (job.extras.primer, job.extras.adhesive, job.extras.protection)
    weights = {each.name: each.weight_lb for each in weighed if each}
    key = keys.get(quantity.item, "start")
    count = whole_number(quantity.order)
    return OrderLine(
        item=quantity.item, key=key, size=quantity.package, unit=quantity.unit, need=count, stock=0, buy=count,
        price=quantity.price, cost=quantity.cost, weight_lb=weights.get(quantity.item),
        needed_by=dates.get(key, dates.get("start", "")),
    )
