"""Labour by drop, seam, piece and face, and what wears out."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from layout.counts import counts
from layout.records import MEMBRANE, Consumable, Labour, Per, Quantity
from layout.shapes import corners
from layout.takeoff.edges import bar_length
from layout.takeoff.figures import area, bought, cents, decimal, long, long_name, plain_number, several, told_area
from layout.takeoff.sheets import product_of
from layout.takeoff.timetable import dabs_of, is_strip, reinforcing_kinds
from layout.takeoff.walls import Measures


def labour_lines(measures: Measures) -> list[Quantity]:
    """Return the lines of labour; a rate that the job leaves out is unpriced, not zero."""
    plan, unit = measures.plan, measures.plan.job.unit
    labour = plan.job.extras.labour
    if labour is None:
        return []
    found = counts(plan)
    seams = decimal(long(measures.seams + measures.end_laps, unit))
    faces = len(measures.faces)
    return [
        *_priming(measures, labour), *_reinforcing(measures, labour),
        _work("hang drops", "drop", Decimal(found.drops), labour.per_drop, "drops of the membrane"),
        _work("roll seams", long_name(unit), seams, labour.per_seam, "side laps and end laps of the membrane"),
        *_finishing(measures, labour),
        _work("cut pieces", "piece", Decimal(found.pieces), labour.per_piece, found.words()),
        _work("set up", "face", Decimal(faces), labour.per_setup, f"once for each of {several(faces, 'face')}"),
    ]


def _priming(measures: Measures, labour: Labour) -> list[Quantity]:
    """Return the line of priming, where the job names a primer."""
    primer = measures.plan.job.extras.primer
    if primer is None:
        return []
    unit = measures.plan.job.unit
    once = told_area(measures.surface, unit)
    coats = f", {primer.coats} coats" if primer.coats > 1 else ""
    return [_work("prime", unit.area_name, once * primer.coats, labour.per_primer,
                  f"surface {once:,} {unit.area_name}{coats}")]


def _reinforcing(measures: Measures, labour: Labour) -> list[Quantity]:
    """Return a line for each kind of reinforcing that the plan has: strips by length, all others by the piece."""
    unit = measures.plan.job.unit
    lines: list[Quantity] = []
    for kind, pieces in reinforcing_kinds(measures.plan).items():
        if is_strip(kind):
            length = decimal(long(sum(piece.length for piece in pieces), unit))
            lines.append(_work(f"put on: {kind}", long_name(unit), length, labour.per_strip,
                               f"{several(len(pieces), 'piece')} end to end, laps included"))
        else:
            rate = labour.per_collar if kind == "collar" else labour.per_cover
            lines.append(_work(f"put on: {kind}", "each", Decimal(len(pieces)), rate, "as many as the plan cuts"))
    dabs = len(dabs_of(measures.plan))
    if dabs:
        lines.append(_work("dabs of sealant", "each", Decimal(dabs), labour.per_dab,
                           "points that no flat sheet holds"))
    slits = sum(len(piece.slits) for piece in measures.plan.pieces)
    if slits:
        lines.append(_work("cut slits", "each", Decimal(slits), labour.per_slit,
                           "so that drops, strips, collars and covers can be folded"))
    return lines


def _finishing(measures: Measures, labour: Labour) -> list[Quantity]:
    """Return the lines of termination bar and drainage board, where there is any."""
    unit = measures.plan.job.unit
    lines: list[Quantity] = []
    if measures.plan.job.extras.termination_bar is not None:
        length = bar_length(measures)
        if length:
            lines.append(_work("fasten termination bar", long_name(unit), decimal(long(length, unit)), labour.per_bar,
                               "the terminated edge that takes bar"))
    board = sum(face.area for face in measures.board_faces)
    if board:
        lines.append(_work("put on drainage board", unit.area_name, told_area(board, unit), labour.per_board,
                           f"{several(counts(measures.plan).board, 'piece')} of drainage board"))
    return lines


def _work(item: str, unit: str, count: Decimal, rate: Decimal | None, basis: str) -> Quantity:
    said = f"{basis}: {plain_number(count)}" + (", no rate given" if rate is None else f" at {plain_number(rate)}")
    return Quantity(
        item, unit, count, count, "", rate, None if rate is None else cents(rate * count), said, "labour",
    )


def consumable_lines(measures: Measures, days: int | None) -> list[Quantity]:
    """Return the lines of tools and supplies; ``days`` is how many the crew works, None without one."""
    lines: list[Quantity] = []
    for item in measures.plan.job.extras.consumables:
        count, what = _count(measures, item.per, days)
        if count is None:
            lines.append(Quantity(
                item.item, item.package, Decimal(0), Decimal(0), "", item.price, None,
                f"not counted: {plain_number(item.quantity)} a day, but the job gives no crew (labour), so no days",
            ))
            continue
        lines.append(bought(
            item.item, unit=item.package, net=count * Fraction(item.quantity) / item.in_package,
            basis=f"{plain_number(item.quantity)} for {what}" + _packed(item), price=item.price, waste=item.waste,
            overage=item.overage,
            package="" if item.in_package == 1 else f"{item.in_package} a {item.package}",
        ))
    return lines


def _packed(item: Consumable) -> str:
    return "" if item.in_package == 1 else f", {item.in_package} a {item.package}"


def _count(measures: Measures, per: Per, days: int | None) -> tuple[Fraction | None, str]:
    """Return how many of something the job has, and the words for it."""
    plan, unit = measures.plan, measures.plan.job.unit
    if per == "job":
        return Fraction(1), "the job"
    if per == "day":
        return (None if days is None else Fraction(days)), f"each day, {several(days or 0, 'day')}"
    if per == "area":
        step = 100 if unit.name == "in" else 10
        square = area(measures.surface, unit)
        return square / step, f"each {step} {unit.area_name} of {decimal(square):,}"
    if per == "seam":
        step = 100 if unit.name == "in" else 30
        length = long(measures.seams + measures.end_laps, unit)
        return length / step, f"each {step} {long_name(unit)} of {decimal(length):,} of seam"
    found = {
        "roll": sum(len(c.rolls) for c in plan.cuttings if product_of(plan, c) == MEMBRANE),
        "drop": counts(plan).drops, "piece": counts(plan).pieces,
        "sleeve": sum(len(face.sleeves) for run in plan.job.runs for face in run.faces),
        "opening": sum(len(face.openings) for run in plan.job.runs for face in run.faces),
        "corner": sum(len(corners(wall)) for wall in measures.walls),
    }
    return Fraction(found[per]), f"each {per}, {several(found[per], per)}"
