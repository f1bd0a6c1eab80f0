"""Details of laps and of inside corners, from the job's own numbers: side lap, end lap, inside corner."""

from __future__ import annotations

from layout.drawing.model.entities import Dimension, Drawing, Text, Vec
from layout.drawing.model.blocks import SMALL, tag_written
from layout.drawing.sections import meeting_faces
from layout.drawing.sketch import SHOWN, THICK, Sketch
from layout.records import MEMBRANE, FaceSpan, Plan, Seam, Wall
from layout.units import inches

OFF, OUT = 1.2, 2.6
"""How far a sheet is drawn off the wall, and off a sheet beneath it [plotted mm]."""


def plain_seam(plan: Plan) -> tuple[Wall, Seam] | None:
    """Return the first seam of the membrane that is not tucked, and its wall: the side lap that is drawn."""
    for wall in plan.walls:
        for seam in plan.seams:
            if (seam.run, seam.layer) == (wall.run, MEMBRANE) and wall.layer == MEMBRANE and not seam.tuck:
                return wall, seam
    return None


def side_lap_detail(plan: Plan, scale: int) -> Drawing | None:
    """Return the plan section through a side lap: which drop lies over, and which way water runs.

    Parameters
    ----------
    plan
        The plan.
    scale
        8 for 1:8.
    """
    found = plain_seam(plan)
    if found is None:
        return None
    _, seam = found
    unit, lap = plan.job.unit, float(plan.job.rules.side_lap)
    sketch = Sketch(plan, scale, "side lap")
    one, wide, thick = sketch.one, float(SHOWN[unit.name]) / 2, float(THICK[unit.name]) / 2
    # seen from above, soil at the bottom; the lap from station 0 to lap
    left, right = -wide / 2, lap + wide / 2
    sketch.mass(((left, thick), (right, thick), (right, 0), (left, 0)), ((left, 0), (right, 0)))
    for x in (left, right):
        sketch.broken((x, 0), (x, thick))
    sketch.broken((left, thick), (right, thick))
    rightward = seam.over == seam.left
    below: list[Vec] = [(0, -OFF * one), (right, -OFF * one)]
    above: list[Vec] = [(left, -OFF * one), (-2 * one, -OFF * one), (0, -OUT * one), (lap, -OUT * one)]
    if not rightward:
        below, above = ([(lap - x, y) for x, y in line] for line in (below, above))
    sketch.shape("membrane", below, closed=False)
    sketch.shape("membrane", above, closed=False)
    sketch.across((0, -OUT * one), (lap, -OUT * one), -11 * one)
    sketch.note((above[-1][0], -OUT * one), f"on top: {tag_written(seam.over)}; water runs from it across its edge")
    under = seam.right if rightward else seam.left
    sketch.note((below[-1][0], -OFF * one), f"beneath: {tag_written(under)}")
    sketch.note((right * 0.6, thick * 0.6), "wall, seen from above; soil below")
    return sketch.drawing("Side lap")


def end_lap_detail(plan: Plan, scale: int) -> Drawing | None:
    """Return the section through an end lap: the upper piece over the lower.

    Parameters
    ----------
    plan
        The plan.
    scale
        8 for 1:8.
    """
    drop = next((drop for drop in plan.drops if drop.layer == MEMBRANE and len(drop.pieces) > 1), None)
    if drop is None:
        return None
    unit, lap = plan.job.unit, float(plan.job.rules.end_lap)
    sketch = Sketch(plan, scale, "end lap")
    one, high, thick = sketch.one, float(SHOWN[unit.name]) / 2, float(THICK[unit.name]) / 2
    bottom, top = -high / 2, lap + high / 2
    sketch.mass(((-thick, top), (0, top), (0, bottom), (-thick, bottom)), ((0, top), (0, bottom)))
    for y in (top, bottom):
        sketch.broken((-thick, y), (0, y))
    sketch.broken((-thick, bottom), (-thick, top))
    sketch.shape("membrane", ((OFF * one, lap), (OFF * one, bottom)), closed=False)
    sketch.shape("membrane", ((OFF * one, top), (OFF * one, lap + 2 * one), (OUT * one, lap), (OUT * one, 0)),
                 closed=False)
    sketch.up((OUT * one, 0), (OUT * one, lap), 12 * one)
    sketch.note((OFF * one, top * 0.8), f"upper piece: {tag_written(drop.pieces[0])}")
    sketch.note((OUT * one, lap * 0.4), "the upper piece lies over the lower")
    sketch.note((OFF * one, bottom * 0.6), f"lower piece: {tag_written(drop.pieces[1])}")
    return sketch.drawing("End lap")


def inside_corner(plan: Plan) -> tuple[Wall, FaceSpan, FaceSpan] | None:
    """Return the first inside corner of a job: the wall, the face before it and the face after it."""
    for wall in plan.walls:
        if wall.layer == MEMBRANE:
            for span, after in meeting_faces(wall):
                if span.corner == "inside":
                    return wall, span, after
    return None


def inside_corner_detail(plan: Plan, scale: int) -> Drawing | None:
    """Return the plan of an inside corner: strip and sheet in it, the ledges that meet.

    Parameters
    ----------
    plan
        The plan.
    scale
        8 for 1:8.
    """
    found = inside_corner(plan)
    if found is None or found[1].angle != 90:
        return None
    wall, span, after = found
    unit, rules = plan.job.unit, plan.job.rules
    sketch = Sketch(plan, scale, "inside corner")
    one, thick, wide = sketch.one, float(THICK[unit.name]) / 2, float(SHOWN[unit.name]) / 2
    first, second = float(span.ledge), float(after.ledge)
    # seen from above, soil at the lower left; the wall's corner at (0, 0)
    sketch.mass(((-wide, thick), (thick, thick), (thick, -wide), (0, -wide), (0, 0), (-wide, 0)),
                ((-wide, 0), (0, 0), (0, -wide)))
    sketch.broken((-wide, 0), (-wide, thick))
    sketch.broken((0, -wide), (thick, -wide))
    sketch.broken((-wide, thick), (thick, thick))
    sketch.broken((thick, -wide), (thick, thick))
    if first or second:
        sketch.shape("beyond", ((-wide, -first), (-second, -first), (-second, -wide)), closed=False)
        sketch.note((-second, -wide * 0.85), "edge of footing")
    half = float(rules.corner_strip) / 2
    if half:
        sketch.shape("strip", ((-half, -0.6 * one), (-0.6 * one, -0.6 * one), (-0.6 * one, -half)), closed=False)
        sketch.note((-0.6 * one, -half * 0.8), f"corner strip {inches(rules.corner_strip, unit)} wide, centred")
    sketch.shape("membrane", ((-wide, -OFF * one), (-OFF * one, -OFF * one), (-OFF * one, -wide)), closed=False)
    sketch.note((-OFF * one, -wide * 0.6), "sheet pressed into the corner")
    if first:
        sketch.up((-wide, -first), (-wide, 0), -wide - 6 * one)
        sketch.entities.append(Dimension("dims", "across", (-second, -wide), (0.0, -wide), (-second, -wide - 8 * one),
                                         inches(round(second), unit), SMALL)) if second else None
    sketch.entities.append(Text("text", (-wide * 0.75, -wide * 0.6), "soil side", SMALL, "centre", "middle"))
    return sketch.drawing(f"Inside corner, run {wall.run}, right end of {span.name}")
