"""Parts that are right, to the records that every later stage works with."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar

from layout.job.closing import PlanSide, closes
from layout.job.extras import DrainageBoardPart, StripPart
from layout.job.model import FacePart, JobPart, OpeningPart, RulesPart, RunPart, SleevePart, widest_strip
from layout.job.part import Part
from layout.job.profiles import filled, closed_profile
from layout.job.stock import RemnantPart, RollPart
from layout.records import (
    Alternate, AreaProduct, Consumable, Corner, Delivery, DrainageBoard, Extras, Face, Job, JobInfo, Labour, Money,
    Opening, OutletChannel, Primer, Product, Remnant, RollStock, Rules, Run, Schedule, Sealant, Sleeve, Substrate,
    Temperature, TerminationBar,
)
from layout.units import Unit, read_length, round_ticks

Noun = TypeVar("Noun")


def build_job(part: JobPart, unit: Unit, *, allow_gap: bool = False) -> Job:
    """Return the job that checked parts describe.

    Parameters
    ----------
    part
        The job file, without a fault.
    unit
        The job's unit.
    allow_gap
        Closed runs need not close on plan; those that do not bear that they are meant so.

    Returns
    -------
    Job
        The job.
    """
    sheet = _product(part.sheet.name, part.sheet.width, part.sheet.rolls, part.sheet.remnants, part.rules.roll_end)
    from_sheet = part.strip is not None and part.strip.source == "sheet"
    return Job(
        info=JobInfo(**dict(part.job)), unit=unit, sheet=sheet, strip=sheet if from_sheet else _strip(part, unit),
        strips_from="sheet" if from_sheet else "strip", rules=_rules(part.rules),
        runs=tuple(_run(run, unit, allow_gap) for run in part.runs), film_side_up=part.film_side_up,
        extras=_extras(part))


def _strip(part: JobPart, unit: Unit) -> Product:
    """Return the strip product; what the job does not say is filled in, unpriced."""
    told = part.strip or StripPart()
    inch = unit.name == "in"
    width = told.width or widest_strip(part) or _plain("12 in" if inch else "300 mm", unit)
    strip = _product(told.name, width, told.rolls, told.remnants, part.rules.roll_end)
    if strip.rolls:
        return strip
    return replace(strip, rolls=(RollStock(_plain("50 ft" if inch else "15 m", unit), width),))


def _plain(text: str, unit: Unit) -> int:
    return round_ticks(read_length(text, unit), "nearest")


def _product(
    name: str, width: int, rolls: Sequence[RollPart], remnants: Sequence[RemnantPart], roll_end: int,
) -> Product:
    return Product(
        name, width,
        tuple(RollStock(roll.length, width, roll.price, roll.weight_lb, roll.on_hand) for roll in rolls),
        tuple(Remnant(remnant.tag, remnant.length, remnant.width or width) for remnant in remnants), roll_end)


def _rules(part: RulesPart) -> Rules:
    return Rules(**dict(part))


def _extras(part: JobPart) -> Extras:
    """Return what the job tells beside its sheet, its rules and its walls."""
    return Extras(
        top_strip=part.top_strip, opening_corner=part.opening_corner, primer=_same(Primer, part.primer),
        sealant=_same(Sealant, part.sealant), termination_bar=_same(TerminationBar, part.termination_bar),
        outlet_channel=_same(OutletChannel, part.outlet_channel), adhesive=_same(AreaProduct, part.adhesive),
        protection=_same(AreaProduct, part.protection),
        consumables=tuple(Consumable(**dict(item)) for item in part.consumables), labour=_same(Labour, part.labour),
        schedule=_same(Schedule, part.schedule), money=_same(Money, part.money),
        alternates=tuple(Alternate(**dict(item)) for item in part.alternates),
        substrate=_same(Substrate, part.substrate), temperature=_same(Temperature, part.temperature),
        delivery=_same(Delivery, part.delivery),
        drainage_board=_board(part.drainage_board, part.rules.roll_end) if part.drainage_board else None,
    )


def _same(noun: Callable[..., Noun], part: Part | None) -> Noun | None:
    """Return the record with the same fields as a part."""
    return None if part is None else noun(**dict(part))


def _board(part: DrainageBoardPart, roll_end: int) -> DrainageBoard:
    return DrainageBoard(
        product=_product(part.name, part.width, part.rolls, part.remnants, roll_end), flap=part.flap,
        top_below_grade=part.top_below_grade, seams_apart=part.seams_apart, min_width=part.min_width,
        max_piece=part.max_piece)


# --- walls -------------------------------------------------------------------------------------

def _run(part: RunPart, unit: Unit, allow_gap: bool) -> Run:
    length = sum(face.length for face in part.faces)
    drain = part.drain and (closed_profile if part.closed else filled)(part.drain, length=length)
    flow = part.flow if part.flow or part.lows or part.drain else "right"
    last = len(part.faces) - 1
    faces = tuple(_face(face, "none" if index == last and not part.closed else "outside")
                  for index, face in enumerate(part.faces))
    sides = [PlanSide(face.length, face.corner, face.angle) for face in faces]
    gap = part.allow_gap or (allow_gap and part.closed and not closes(sides, unit))
    return Run(part.name, part.closed, faces, flow, _stations(part.lows), _stations(part.highs), drain, gap, part.north)


def _stations(given: Sequence[int] | None) -> tuple[int, ...]:
    return tuple(sorted(given or ()))


def _face(part: FacePart, corner: Corner) -> Face:
    return Face(
        name=part.name, length=part.length, top=filled(part.top, length=part.length),
        footing=filled(part.footing, length=part.length), ledge=part.ledge, footing_depth=part.footing_depth,
        grade=part.grade and filled(part.grade, length=part.length), corner=part.corner or corner,
        angle=90.0 if part.angle is None else float(part.angle),
        openings=tuple(_opening(opening) for opening in part.openings),
        sleeves=tuple(_sleeve(sleeve) for sleeve in part.sleeves))


def _opening(part: OpeningPart) -> Opening:
    return Opening(part.tag, part.kind, part.left, part.sill, part.width, part.height)


def _sleeve(part: SleevePart) -> Sleeve:
    return Sleeve(part.tag, part.at, part.elevation, part.diameter, part.projects)
