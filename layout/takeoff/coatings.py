"""What is spread or run out: primer, sealant, adhesive, protection."""

from __future__ import annotations

import math
from fractions import Fraction

from layout.records import Quantity, Sealant
from layout.takeoff.figures import area, bought, exact, measured_area, plain_number, say_area, say_long, several
from layout.takeoff.primed import reinforced_area
from layout.takeoff.terminated import total_length
from layout.takeoff.walls import Measures
from layout.units import inches


DAB = {"in": 2, "mm": 3}
"""Thickness of a dab: 1/8 in or 3 mm; common practice [ticks]."""


def primer_bands(measures: Measures) -> tuple[float, float]:
    """Return the areas primed first and after [square ticks].

    The first band is the concrete under the strips, collars and covers, where they really lie; the second is the rest
    of the field.
    """
    first = min(reinforced_area(measures.plan), measures.surface)
    return first, measures.surface - first


def primer_lines(measures: Measures) -> list[Quantity]:
    """Return the lines of primer: its two bands as measured, and the packages."""
    job = measures.plan.job
    primer = job.extras.primer
    if primer is None:
        return []
    unit = job.unit
    first, field = primer_bands(measures)
    surface = area(first, unit) + area(field, unit)
    coats = f" x {primer.coats} coats" if primer.coats > 1 else ""
    weight = f", {plain_number(primer.weight_lb)} lb" if primer.weight_lb is not None else ""
    return [
        measured_area("primer, first band", first, unit,
                      basis="under the strips, collars and covers, overlaps once: primed before they go on"),
        measured_area("primer, field", field, unit,
                      basis=f"surface {say_area(first + field, unit)} less the first band"),
        bought(
            primer.name, unit=primer.package, net=surface * primer.coats / Fraction(primer.coverage),
            basis=f"{say_area(first, unit)} first + {say_area(field, unit)} field{coats} at "
                  f"{plain_number(primer.coverage)} {unit.area_name} a {primer.package}",
            waste=primer.waste, overage=primer.overage, price=primer.price,
            package=f"{primer.package} for {plain_number(primer.coverage)} {unit.area_name}{weight}",
        ),
    ]


def sealant_lines(measures: Measures) -> list[Quantity]:
    """Return the line of sealant: each bead's section by its length, in packages.

    Beads are round; the fillet at the joint is a triangle with both legs as long as ``rules.fillet``; a bead around a
    sleeve is as long as the sleeve's own circumference.
    """
    job = measures.plan.job
    sealant = job.extras.sealant
    if sealant is None:
        return []
    unit = job.unit
    beads = [bead for bead in _beads(measures, sealant) if bead[1] and bead[2]]
    volume = sum(length * section for _, length, section in beads)
    words = [f"{name} {say_long(length, unit)} x {_section(section, measures)}" for name, length, section in beads]
    fluid = "fl oz" if unit.name == "in" else "ml"
    return [bought(
        sealant.name, unit=sealant.package, net=exact(volume) / sealant.cubic_ticks(unit),
        basis=f"{' + '.join(words) or 'no bead'}, at {plain_number(sealant.volume)} {fluid} a {sealant.package}",
        waste=sealant.waste, overage=sealant.overage, price=sealant.price,
        package=f"{sealant.package} of {plain_number(sealant.volume)} {fluid}",
    )]


def _beads(measures: Measures, sealant: Sealant) -> list[tuple[str, float, float]]:
    """Return each bead: its name, length [ticks] and section [square ticks]."""
    rules = measures.plan.job.rules
    fillet = rules.fillet if sealant.joint_fillet else 0
    ledges = {(wall.run, face.name) for wall in measures.walls for face in wall.faces if face.ledge}
    joint = sum(face.joint for face in measures.faces if (face.run, face.face) in ledges)
    openings = len({(edge.run, edge.face, edge.tag) for edge in measures.edges if edge.kind == "opening"})
    around = sum(math.pi * sleeve.diameter for wall in measures.walls for sleeve in wall.rounds)
    return [
        (f"joint fillet {inches(fillet, measures.plan.job.unit)}", joint, fillet ** 2 / 2),
        (_edge_words(measures), total_length(measures.edges, "top", "step", "run end"), _round(sealant.top_bead)),
        (f"around {several(openings, 'opening')}", total_length(measures.edges, "opening"),
         _round(sealant.opening_bead)),
        (f"around {several(sum(len(wall.rounds) for wall in measures.walls), 'sleeve')}", around,
         _round(sealant.sleeve_bead)),
        ("side laps and end laps", measures.seams + measures.end_laps, _round(sealant.seam_bead)),
        _dabs(measures),
    ]


def _dabs(measures: Measures) -> tuple[str, float, float]:
    """Return the dabs on points that no sheet holds: how many, their thicknesses end to end, their mean area."""
    plan, unit = measures.plan, measures.plan.job.unit
    thick = DAB[unit.name]
    areas = [math.pi * dab.size ** 2 / 4 for dab in plan.dabs]
    words = f"{several(len(areas), 'dab')} {inches(thick, unit)} thick"
    return words, float(len(areas) * thick), sum(areas) / max(len(areas), 1)


def _edge_words(measures: Measures) -> str:
    """Return what the terminated edge is made of, openings left out."""
    kinds = {edge.kind for edge in measures.edges}
    more = (["its steps"] if "step" in kinds else []) + (["run ends"] if "run end" in kinds else [])
    return " + ".join(["top edge", *more])


def _round(diameter: int) -> float:
    """Return the section of a round bead [square ticks]."""
    return math.pi * diameter ** 2 / 4


def _section(section: float, measures: Measures) -> str:
    """Return the section of a bead in words, in square inches or millimetres."""
    unit = measures.plan.job.unit
    return f"{section / unit.ticks ** 2:.4f} sq in" if unit.name == "in" else f"{section:.1f} mm²"


def area_lines(measures: Measures) -> list[Quantity]:
    """Return the lines of adhesive, over the board's area, and of protection, over the membrane's surface."""
    job = measures.plan.job
    board = sum(face.area for face in measures.board_faces)
    places = ((job.extras.adhesive, board or measures.flat, "drainage board" if board else "membrane"),
              (job.extras.protection, measures.surface, "membrane surface, corners and steps included"))
    lines: list[Quantity] = []
    for product, square_ticks, what in places:
        if product is None:
            continue
        rate = f"{plain_number(product.coverage)} {job.unit.area_name}"
        lines.append(bought(
            product.name, unit=product.package, net=area(square_ticks, job.unit) / Fraction(product.coverage),
            basis=f"{what} {say_area(square_ticks, job.unit)} at {rate} a {product.package}", waste=product.waste,
            overage=product.overage, price=product.price, package=f"{product.package} for {rate}",
        ))
    return lines
