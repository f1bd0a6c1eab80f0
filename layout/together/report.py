"""What many jobs come to together: one order, a table of the jobs, and what is proven about the rolls."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from pathlib import Path

from layout.job.shelf import Book
from layout.packet.cut_list import table_csv
from layout.packet.order_list import order_csv
from layout.packet.order_book import write_order_book
from layout.order import OrderLine
from layout.records import Product
from layout.stock import Use, promised, released
from layout.together.stock import Lot, Served, bought_rolls
from layout.units import tape

FORMAT = "lapwright together"
VERSION = 1
NAME = "together.json"
COLUMNS = ("job", "name", "start", "delivery", "drops", "rolls", "rolls_alone", "remnants", "total", "currency",
           "unpriced", "exceptions", "status", "fault")
SCREEN = 100


@dataclass(frozen=True)
class JobLine:
    """One job of many.

    Parameters
    ----------
    name, file, title
        Its packet's name without ``-packet``, its file, and the job's own name.
    start, delivery
        Days; empty when it names none.
    place
        Its place in the order of cutting, from 0; -1 for a job without a plan.
    drops, rolls, rolls_alone, remnants
        Drops; rolls of the membrane it buys, and would buy alone; remnants of all products it is promised.
    total, currency, unpriced
        Its whole takeoff as far as priced; empty text without a packet.
    exceptions
        Rules its plan could not keep.
    status, faults
        0, or the exit status that stands for what is wrong, and that in lines.
    order, takes, products, on_hand
        Its order; what it takes from the yard, by product; those products; rolls it takes from stock, by product and
        length [ticks].
    called
        What a stock book calls it.
    """

    name: str
    file: str
    title: str
    start: str
    delivery: str
    place: int
    drops: int
    rolls: int
    rolls_alone: int
    remnants: int
    total: str
    currency: str
    unpriced: int
    exceptions: int
    status: int
    faults: tuple[str, ...]
    order: tuple[OrderLine, ...] = field(default=(), repr=False)
    takes: Mapping[str, Served] = field(default_factory=dict, repr=False)
    products: Mapping[str, Product] = field(default_factory=dict, repr=False)
    on_hand: Mapping[tuple[str, int], int] = field(default_factory=dict, repr=False)
    called: str = ""


@dataclass(frozen=True)
class Report:
    """All jobs, in the order given, and each cutting problem with its delivery."""

    lines: tuple[JobLine, ...]
    lots: tuple[tuple[str, Lot], ...]

    @property
    def status(self) -> int:
        """The exit status of the run: that of the first job that failed, bad input before all else; 0 when none did."""
        return min((line.status for line in self.lines if line.status), default=0)


def whole_order(lines: Sequence[JobLine]) -> tuple[OrderLine, ...]:
    """Return one order for all jobs: lines of the same thing at the same price added up, needed by the first.

    What one job leaves for another is not in it, and a remnant that lies in stock has a line of its own.
    """
    ready = sorted((line for line in lines if line.order), key=lambda line: line.place)
    ends = {remnant.tag for line in ready for served in line.takes.values() for remnant in served.remnants
            if served.origins.get(remnant.tag, "").partition(", roll ")[1]}
    added: dict[tuple[object, ...], OrderLine] = {}
    for job in ready:
        for line in job.order:
            if line.uses in ends and line.uses:
                continue
            key = (job.delivery, line.item, line.size, line.unit, line.price, line.weight_lb, line.uses)
            other = added.get(key)
            added[key] = line if other is None else _added(other, line)
    return tuple(added.values())


def _added(one: OrderLine, other: OrderLine) -> OrderLine:
    days = [day for day in (one.needed_by, other.needed_by) if day]
    cost = None if one.cost is None or other.cost is None else one.cost + other.cost
    pallets = None if one.pallets is None or other.pallets is None else one.pallets + other.pallets
    return replace(
        one, need=one.need + other.need, stock=one.stock + other.stock, buy=one.buy + other.buy, cost=cost,
        pallets=pallets, needed_by=min(days, default=""), instead="",
    )


def promises(book: Book, report: Report) -> Book:
    """Return a stock book in which every job is promised what it takes of it.

    Raises
    ------
    Taken
        When some of it has been promised to others since.
    """
    for line in report.lines:
        if line.total:
            book = released(book, line.called)
    for line in report.lines:
        if line.total:
            book = promised(book, line.called, [
                Use((product.name, product.width), tuple(each.tag for each in line.takes[kind].remnants),
                    tuple((length, count) for (word, length), count in sorted(line.on_hand.items()) if word == kind))
                for kind, product in line.products.items() if kind in line.takes])
    return book


def write_report(report: Report, folder: Path) -> None:
    """Write order.csv, order.xlsx, jobs.csv and together.json into a folder."""
    order = whole_order(report.lines)
    rows = [_row(line) for line in report.lines]
    (folder / "order.csv").write_text(order_csv(order), encoding="utf-8", newline="")
    (folder / "jobs.csv").write_text(table_csv(rows, COLUMNS), encoding="utf-8", newline="")
    write_order_book(order, [[row[name] for name in COLUMNS] for row in rows], COLUMNS, folder / "order.xlsx")
    (folder / NAME).write_text(_json(report), encoding="utf-8", newline="")


def _row(line: JobLine) -> dict[str, str]:
    return {
        "job": line.name, "name": line.title, "start": line.start, "delivery": line.delivery,
        "drops": str(line.drops), "rolls": str(line.rolls), "rolls_alone": str(line.rolls_alone),
        "remnants": str(line.remnants), "total": line.total, "currency": line.currency,
        "unpriced": str(line.unpriced), "exceptions": str(line.exceptions), "status": str(line.status),
        "fault": "; ".join(line.faults)[:1000],
    }


def _json(report: Report) -> str:
    return json.dumps({
        "format": FORMAT, "version": VERSION,
        "jobs": [
            {
                "name": line.name, "title": line.title, "start": line.start, "delivery": line.delivery,
                "place": line.place, "drops": line.drops, "rolls": line.rolls, "rolls_alone": line.rolls_alone,
                "total": float(line.total) if line.total else None, "currency": line.currency,
                "unpriced": line.unpriced, "exceptions": line.exceptions, "status": line.status,
                "faults": list(line.faults), "packet": f"{line.name}-packet" if line.total else None,
                "promised": [
                    {"product": kind, "tag": remnant.tag, "from": served.origins.get(remnant.tag, "")}
                    for kind, served in line.takes.items() for remnant in served.remnants
                ],
            }
            for line in report.lines
        ],
        "deliveries": [
            {
                "delivery": delivery, "product": lot.key, "name": lot.product.name,
                "jobs": [job.name for job in lot.jobs if job.number in lot.served], "rolls": lot.rolls,
                "cost": _money(lot, lot.cost), "alone": _money(lot, lot.alone),
                "rolls_alone": sum(bought_rolls(job.alone) for job in lot.jobs if job.number in lot.served),
                "bound": None if lot.bound is None else _money(lot, lot.bound),
                "optimal": lot.bound is not None and lot.bound >= lot.cost,
            }
            for delivery, lot in report.lots
        ],
    }, indent=1, ensure_ascii=True) + "\n"


def _money(lot: Lot, value: Decimal) -> float | None:
    return float(value) if lot.priced else None


# --- on a screen -------------------------------------------------------------------------------

def report_lines(report: Report, folder: Path) -> list[str]:
    """Return the report for the screen: a row for each job, what the rolls come to, what is proven, where it is."""
    heads = ("job", "start", "drops", "rolls", "alone", "remnants", "takeoff", "")
    rows = [heads] + [
        (line.name, line.start, f"{line.drops:,}", f"{line.rolls:,}", f"{line.rolls_alone:,}", f"{line.remnants:,}",
         f"{Decimal(line.total):,.2f} {line.currency}".strip(),
         f"{line.exceptions} exceptions" if line.exceptions else "") if line.total else
        (line.name, line.start, "", "", "", "", "", _failure(line))
        for line in report.lines
    ]
    widths = [max(len(row[i]) for row in rows) for i in range(len(heads))]
    widths[0] = min(widths[0], max(SCREEN - sum(widths[1:]) - 2 * len(heads), 12))
    told = []
    for row in rows:
        name = row[0] if len(row[0]) <= widths[0] else row[0][:widths[0] - 1] + "…"
        cells = [name.ljust(widths[0])] + [cell.ljust(widths[i]) if i in (1, 7) else cell.rjust(widths[i])
                                           for i, cell in enumerate(row) if i]
        told.append("  ".join(cells).rstrip())
    told.insert(1, "-" * max(len(line) for line in told))
    for delivery, lot in report.lots:
        told += _lot_lines(delivery, lot)
    done = sum(bool(line.total) for line in report.lines)
    return [*told, f"{done} of {len(report.lines)} jobs have a packet; one order for all of them: "
                   f"{folder / 'order.csv'}"]


def _failure(line: JobLine) -> str:
    return {3: "no layout", 4: "rejected by the audit"}.get(line.status, "faults")


def _lot_lines(delivery: str, lot: Lot) -> list[str]:
    """Return what one cutting problem comes to, and what is proven of it."""
    served = [job for job in lot.jobs if job.number in lot.served]
    if not served:
        return []
    when = f", delivery of {delivery}" if delivery else ""
    alone = sum(bought_rolls(job.alone) for job in served)
    unit = served[0].job.unit

    def told(value: Decimal) -> str:
        return f"{value:,.2f}" if lot.priced else f"{tape(int(value), unit)} of roll"

    saved = lot.alone - lot.cost
    lines = [f"{lot.product.name}{when}: {lot.rolls} rolls for {told(lot.cost)}; one by one {alone} rolls for "
             f"{told(lot.alone)}" + (f": {told(saved)} saved" if saved > 0 else "")]
    if lot.bound is None:
        lines.append("  proof: none")
    elif lot.bound >= lot.cost:
        lines.append("  proof: no cutting of all these pieces from this stock costs less")
    else:
        gap = (lot.cost - lot.bound) / lot.cost if lot.cost else Decimal(0)
        lines.append(f"  proof: no cutting of all these pieces costs less than {told(lot.bound)}, {gap:.1%} below")
    return lines
