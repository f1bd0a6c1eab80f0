"""What is done for one job by itself, wherever a worker runs: planning it, and writing its packet."""

from __future__ import annotations

import pickle
import tempfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from layout.drawing.options import DrawingOptions
from layout.errors import JobError, LayoutError, NoLayout
from layout.job import read_job
from layout.integrated import cut_product, never
from layout.pipeline import make_plan, write_packet
from layout.order import OrderLine
from layout.records import DRAINAGE, MEMBRANE, STRIP, Cutting, Job, Piece, Plan, Product, Remnant
from layout.shortages import products_of
from layout.takeoff import bar_pieces, bar_product, take_off

BAD, IMPOSSIBLE, REJECTED = 2, 3, 4
"""Exit statuses of a job that fails: bad input, no layout, audit."""


@dataclass(frozen=True)
class JobFile:
    """One job to plan: its file's name and bytes, and what it is called in messages."""

    file: str
    shown: str
    data: bytes
    thorough: bool = False


@dataclass(frozen=True)
class Failed:
    """Why a job has no plan or no packet, in lines to print, and the exit status that stands for it."""

    status: int
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Planned:
    """One job planned by itself.

    Parameters
    ----------
    job
        The job.
    packed
        Its plan, pickled and compressed: kept on disk until its packet is written.
    needs
        Product's word -> the product, its pieces (with the least of an outline), and how they are cut alone.
    start, delivery
        First day of work and day of delivery; empty when the job gives none.
    drops
        Drops of the membrane.
    """

    job: Job
    packed: bytes = field(repr=False)
    needs: Mapping[str, Need] = field(repr=False)
    start: str = ""
    delivery: str = ""
    drops: int = 0


@dataclass(frozen=True)
class Need:
    """What one job takes of one product, and how that is cut when nothing else is."""

    product: Product
    pieces: tuple[Piece, ...]
    alone: Cutting


@dataclass(frozen=True)
class Finish:
    """One job to write: its plan, how its products are cut in the end, the remnants it was promised, and notes."""

    packed: bytes = field(repr=False)
    cuttings: Mapping[str, Cutting] = field(repr=False)
    remnants: Mapping[str, tuple[Remnant, ...]]
    on_hand: Mapping[tuple[str, int], int]
    notes: tuple[str, ...]
    keep: int | None = None
    paper: str = ""


@dataclass(frozen=True)
class Finished:
    """One packet: its files by name, its order, what it costs, and what is told of it."""

    files: Mapping[str, bytes] = field(repr=False)
    order: tuple[OrderLine, ...]
    total: str
    currency: str
    unpriced: int
    exceptions: int


def plan_one(asked: JobFile | Failed) -> Planned | Failed:
    """Plan one job by itself; what is wrong with it is returned, not raised, as is why its file cannot be read."""
    if isinstance(asked, Failed):
        return asked
    try:
        with tempfile.TemporaryDirectory(prefix="lapwright-") as place:
            path = Path(place) / asked.file
            path.write_bytes(asked.data)
            job = read_job(path)
        plan = make_plan(job, thorough=asked.thorough)
    except JobError as error:
        return Failed(BAD, tuple(fault.text(asked.shown) for fault in error.faults))
    except NoLayout as error:
        return Failed(IMPOSSIBLE, (f"{asked.shown}: no layout is possible: {error}",))
    except LayoutError as error:
        return Failed(BAD, (f"{asked.shown}: {error}",))
    dates, delivery = job.extras.schedule, job.extras.delivery
    products = products_of(job)
    return Planned(
        job=job, packed=pack(plan), needs={
            cutting.product: Need(
                products[cutting.product],
                tuple(slim(piece) for piece in plan.pieces if piece.product == cutting.product), cutting)
            for cutting in plan.cuttings if cutting.product in products
        },
        start=dates.start if dates else "",
        delivery=(delivery and delivery.date) or "",
        drops=sum(drop.layer == MEMBRANE for drop in plan.drops),
    )


def slim(piece: Piece) -> Piece:
    """Return a piece with no more of an outline than cutting asks for: its highest and its lowest point."""
    x = min(x for x, _ in piece.outline)
    high, low = max(y for _, y in piece.outline), min(y for _, y in piece.outline)
    return replace(piece, outline=((x, high), (x, low)), holes=(), slits=(), sleeves=())


def pack(plan: Plan) -> bytes:
    """Return a plan as bytes."""
    return zlib.compress(pickle.dumps(plan, protocol=5), 1)


def unpack(packed: bytes) -> Plan:
    """Return the plan that ``pack`` made bytes of."""
    plan = pickle.loads(zlib.decompress(packed))
    assert isinstance(plan, Plan)
    return plan


def finished_plan(finish: Finish) -> Plan:
    """Return a job's plan cut as the whole order is, counted anew.

    What was proven of the job alone, with its own stock, is not claimed of it any more.
    """
    plan = unpack(finish.packed)
    job = with_remnants(plan.job, finish.remnants)
    keep = job.rules.keep_remnant if finish.keep is None else min(job.rules.keep_remnant, finish.keep)
    job = replace(job, rules=replace(job.rules, keep_remnant=keep))
    cuttings = tuple(_kept(finish.cuttings.get(cutting.product, cutting), keep=keep, end=job.rules.roll_end)
                     for cutting in plan.cuttings)
    same = cuttings == plan.cuttings and (job.sheet, job.strip) == (plan.job.sheet, plan.job.strip)
    if not same:
        cuttings = tuple(replace(each, bound=None, optimal=False, certificate={}) for each in cuttings)
    plan = replace(
        plan, job=job, cuttings=cuttings, cost_bound=plan.cost_bound if same else None,
        optimal=plan.optimal and same,
        certificate=plan.certificate if same else {}, notes=(*plan.notes, *finish.notes),
    )
    bar = bar_product(job)
    bars = cut_product(job, "termination bar", bar, bar_pieces(plan), stop=never) if bar else None
    return take_off(plan, bars=bars, on_hand=finish.on_hand)


def _kept(cutting: Cutting, *, keep: int, end: int) -> Cutting:
    """Return a cutting whose leftovers are kept from a length on, besides the end that a bought roll loses [ticks]."""
    return replace(cutting, rolls=tuple(replace(roll, leftover=replace(
        roll.leftover, keep=roll.leftover.length - (0 if roll.remnant else end) >= keep)) for roll in cutting.rolls))


def with_remnants(job: Job, remnants: Mapping[str, tuple[Remnant, ...]]) -> Job:
    """Return a job with other remnants of its products; those of products that are not named stay."""
    if MEMBRANE in remnants:
        sheet = replace(job.sheet, remnants=remnants[MEMBRANE])
        job = replace(job, sheet=sheet, strip=sheet if job.strips_from == "sheet" else job.strip)
    if STRIP in remnants:
        job = replace(job, strip=replace(job.strip, remnants=remnants[STRIP]))
    board = job.extras.drainage_board
    if board and DRAINAGE in remnants:
        panels = tuple(replace(each, width=each.width - board.flap) for each in remnants[DRAINAGE])
        product = replace(board.product, remnants=panels)
        job = replace(job, extras=replace(job.extras, drainage_board=replace(board, product=product)))
    return job


def write_one(finish: Finish) -> Finished | Failed:
    """Write and audit one packet aside and return its files; what is wrong is returned, not raised."""
    try:
        plan = finished_plan(finish)
        with tempfile.TemporaryDirectory(prefix="lapwright-") as place:
            folder = Path(place) / "packet"
            findings = write_packet(plan, folder, asked=DrawingOptions(paper=finish.paper))
            if findings:
                return Failed(REJECTED, tuple(
                    f"{each.number}: {each.place}: {each.what} (needed {each.needed}, found {each.found})"
                    for each in findings))
            files = {path.relative_to(folder).as_posix(): path.read_bytes()
                     for path in sorted(folder.rglob("*")) if path.is_file()}
    except JobError as error:
        return Failed(BAD, tuple(fault.text() for fault in error.faults))
    except LayoutError as error:
        return Failed(BAD, (str(error),))
    costing = plan.costing
    assert costing is not None
    return Finished(files, plan.order, str(costing.total), costing.currency, len(costing.unpriced),
                    len(plan.exceptions))
