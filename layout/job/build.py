"""Parts that are right, to the records that every later stage works with."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from layout.job.model import FacePart, JobPart, OpeningPart, RulesPart, RunPart, SheetPart, SleevePart
from layout.job.profiles import filled, wrapped
from layout.records import (
    Corner, Face, Job, JobInfo, Opening, Product, Remnant, RollStock, Rules, Run, Sleeve,
)
from layout.units import Unit, read_length, round_ticks


def build_job(part: JobPart, unit: Unit) -> Job:
    """Return the job that checked parts describe."""
    rules = _rules(part.rules)
    sheet = _sheet(part.sheet)
    strips_from: Literal["strip", "sheet"] = "strip"
    return Job(
        info=JobInfo(**dict(part.job)), unit=unit, sheet=sheet, strip=_own_strip(rules, unit), strips_from=strips_from,
        rules=rules, runs=tuple(_run(run) for run in part.runs), film_side_up=part.film_side_up)


def _own_strip(rules: Rules, unit: Unit) -> Product:
    """Return the strip of a job that names none: as wide as its widest strip, in unpriced rolls."""
    plain = "12 in" if unit.name == "in" else "300 mm"
    width = max(rules.corner_strip, rules.base_strip) or round_ticks(read_length(plain, unit), "nearest")
    length = round_ticks(read_length("50 ft" if unit.name == "in" else "15 m", unit), "nearest")
    return Product("strip", width, (RollStock(length, width),))


def _sheet(part: SheetPart) -> Product:
    rolls = tuple(RollStock(roll.length, part.width, roll.price, roll.weight_lb, roll.on_hand) for roll in part.rolls)
    remnants = tuple(Remnant(remnant.tag, remnant.length, remnant.width or part.width) for remnant in part.remnants)
    return Product(part.name, part.width, rolls, remnants)


def _rules(part: RulesPart) -> Rules:
    return Rules(**dict(part))


def _run(part: RunPart) -> Run:
    length = sum(face.length for face in part.faces)
    drain = part.drain and (wrapped if part.closed else filled)(part.drain, length=length)
    flow = part.flow if part.flow or part.lows or part.drain else "right"
    last = len(part.faces) - 1
    faces = tuple(_face(face, "none" if index == last and not part.closed else "outside")
                  for index, face in enumerate(part.faces))
    return Run(part.name, part.closed, faces, flow, _stations(part.lows), _stations(part.highs), drain)


def _stations(given: Sequence[int] | None) -> tuple[int, ...]:
    return tuple(sorted(given or ()))


def _face(part: FacePart, corner: Corner) -> Face:
    corner = part.corner or corner
    return Face(
        name=part.name, length=part.length, top=filled(part.top, length=part.length),
        footing=filled(part.footing, length=part.length), ledge=part.ledge, footing_depth=part.footing_depth,
        grade=part.grade and filled(part.grade, length=part.length), corner=corner,
        angle=90.0 if part.angle is None else float(part.angle),
        openings=tuple(_opening(opening) for opening in part.openings),
        sleeves=tuple(_sleeve(sleeve) for sleeve in part.sleeves))


def _opening(part: OpeningPart) -> Opening:
    return Opening(part.tag, part.kind, part.left, part.sill, part.width, part.height)


def _sleeve(part: SleevePart) -> Sleeve:
    return Sleeve(part.tag, part.at, part.elevation, part.diameter)
