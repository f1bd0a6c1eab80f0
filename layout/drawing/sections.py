"""Sections and details, to scale and from the job's own numbers: footing, top edge, sleeve, opening, corner.

What the job does not say (thickness of the wall, the drain) is drawn broken off or left to others, and says so.
"""

from __future__ import annotations

from collections.abc import Iterator

from layout.drawing.model.blocks import SMALL, tag_written
from layout.drawing.model.entities import Circle, Drawing, Text, Vec
from layout.drawing.sketch import SHOWN, THICK, Sketch
from layout.records import DRAINAGE, MEMBRANE, FaceSpan, Piece, Plan, Wall
from layout.shapes import value
from layout.units import inches, tape


def meeting_faces(wall: Wall) -> Iterator[tuple[FaceSpan, FaceSpan]]:
    """Yield each two faces of a run that meet, the one before the corner first."""
    yield from zip(wall.faces, (*wall.faces[1:], *(wall.faces[:1] if wall.closed else ())), strict=False)


def deepest(plan: Plan) -> tuple[Wall, FaceSpan] | None:
    """Return the face with the widest ledge: the one its strip must reach over."""
    spans = [(wall, span) for wall in plan.walls if wall.layer == MEMBRANE for span in wall.faces]
    return max(spans, key=lambda pair: (pair[1].ledge, -pair[1].left), default=None)


def _of_kind(plan: Plan, kind: str, run: str = "") -> Piece | None:
    return next((piece for piece in plan.pieces if piece.kind == kind and (not run or piece.run == run)), None)


def footing_section(plan: Plan, scale: int) -> Drawing | None:
    """Return the section through wall and footing: fillet, strip, sheet, turn-down, board, drain.

    Parameters
    ----------
    plan
        The plan.
    scale
        8 for 1:8.
    """
    found = deepest(plan)
    if found is None:
        return None
    wall, span = found
    unit, rules = plan.job.unit, plan.job.rules
    detail = Sketch(plan, scale, "footing section")
    one, high, thick = detail.one, float(SHOWN[unit.name]), float(THICK[unit.name])
    depth = float(span.footing_depth or wall.turn_down * 2)
    ledge, down, f = float(span.ledge), float(wall.turn_down), float(rules.fillet if span.ledge else 0)
    # wall surface at station 0, soil to the right; the joint at elevation 0
    detail.mass(((-thick, high), (0, high), (0, 0), (-thick, 0)), ((0, high), (0, 0)))
    detail.mass(((-thick, 0), (ledge, 0), (ledge, -depth), (-thick, -depth)),
                ((-thick, 0), (ledge, 0), (ledge, -depth), (-thick, -depth)))
    detail.broken((-thick, -depth), (-thick, high))
    detail.broken((-thick, high), (0, high))
    if f:
        detail.shape("cut", ((0, f), (f, 0), (0, 0)), tone="concrete")
    strip = _of_kind(plan, "base strip", wall.run)
    path = _around((0, high), f, ledge, down, out=1.2 * one)
    if strip:
        up, fall = _strip_reach(plan, span, strip)
        detail.shape("strip", _around((0, up), f, ledge, fall, out=0.6 * one), closed=False)
        detail.note((0.6 * one, up * 0.7), f"base strip {inches(strip.width, unit)} wide, {inches(round(up), unit)} up")
    detail.shape("membrane", path, closed=False)
    detail.note((1.2 * one, high * 0.62), "sheet, one line whatever its plies")
    if f:
        detail.note((f / 2 + one, f / 2 + one), f"fillet {inches(round(f), unit)} leg")
    board = any(each.layer == DRAINAGE for each in plan.walls)
    if board:
        detail.shape("board", ((2.4 * one, high), (2.4 * one, f + 2 * one)), closed=False)
        detail.shape("board", ((3.8 * one, high), (3.8 * one, f + 2 * one)), closed=False)
        detail.note((3.8 * one, high * 0.84), "drainage board, fabric to the soil")
    pipe = 2.0 * unit.ticks if unit.name == "in" else 50.0
    middle = ledge + 2.2 * pipe, -depth + pipe * 1.4
    detail.entities.append(Circle("board", middle, pipe))
    detail.note((middle[0] + pipe, middle[1]), "footing drain: size and stone by others")
    if ledge:
        detail.across((0, -depth), (ledge, -depth), -depth - 8 * one)
        detail.note((ledge, 0), f"ledge {inches(span.ledge, unit)}")
    detail.up((ledge + 1.2 * one, -down), (ledge + 1.2 * one, 0), ledge + pipe * 4.5)
    detail.note((ledge + 1.2 * one, -down), f"sheet ends {inches(wall.turn_down, unit)} down the face")
    detail.note((-thick / 2, high * 0.95), "wall")
    return detail.drawing(f"Footing, run {wall.run}, face {span.name}")


def _around(top: Vec, fillet: float, ledge: float, down: float, *, out: float) -> tuple[Vec, ...]:
    """Return the line of a sheet a little off the concrete: down the wall, over fillet and ledge, down the face."""
    x, high = top
    bend = out * 0.414
    points: list[Vec] = [(x + out, high)]
    if ledge:
        points += [(x + out, fillet + bend), (x + fillet + bend, out)] if fillet else [(x + out, out)]
        points.append((x + ledge + out, out))
    points.append((x + ledge + out, -down))
    return tuple(points)


def _strip_reach(plan: Plan, span: FaceSpan, strip: Piece) -> tuple[float, float]:
    """Return how far a base strip goes up the wall and down the face [ticks].

    Its outline says so when it lies flat on a level footing; else the least height up is what is known.
    """
    wall = next(wall for wall in plan.walls if wall.run == strip.run and wall.layer == MEMBRANE)
    face = next((each for each in wall.faces if each.name == strip.face), span)
    joint = float(value(wall.footing, (min(x for x, _ in strip.outline) + 1) % wall.length, from_right=True))
    if not strip.flat:
        up = float(plan.job.rules.base_strip_up)
        return up, max(strip.width - up - (face.toe - wall.turn_down), 0.0)
    up = max(y for _, y in strip.outline) - joint
    below = joint - min(y for _, y in strip.outline)
    return up, max(below - (face.toe - wall.turn_down), 0.0)


def top_section(plan: Plan, scale: int) -> Drawing | None:
    """Return the section through the top edge: bar, sealant, grade.

    Parameters
    ----------
    plan
        The plan.
    scale
        8 for 1:8.
    """
    wall = next((wall for wall in plan.walls if wall.layer == MEMBRANE), None)
    if wall is None:
        return None
    unit, rules = plan.job.unit, plan.job.rules
    detail = Sketch(plan, scale, "top edge")
    one, shown, thick = detail.one, float(SHOWN[unit.name]) / 2, float(THICK[unit.name])
    line, head = float(value(wall.top, 0, from_right=True)), float(value(wall.wall_top, 0, from_right=True))
    above = min(head - line, shown / 2)
    whole = head - line <= above
    detail.mass(((-thick, above), (0, above), (0, -shown), (-thick, -shown)),
                ((-thick, above), (0, above), (0, -shown)) if whole else ((0, above), (0, -shown)))
    detail.broken((-thick, -shown), (-thick, above))
    detail.broken((-thick, -shown), (0, -shown))
    if not whole:
        detail.broken((-thick, above), (0, above))
    detail.shape("membrane", ((1.2 * one, 0), (1.2 * one, -shown)), closed=False)
    bar = 2.2 * one
    detail.shape("cut", ((1.8 * one, -2 * one), (1.8 * one + bar / 2, -2 * one), (1.8 * one + bar / 2, -9 * one),
                         (1.8 * one, -9 * one)), tone="ink")
    detail.line("beyond", (-6 * one, -5.5 * one), (5 * one, -5.5 * one))
    detail.shape("board", ((0.4 * one, 1.5 * one), (3.4 * one, -1.8 * one), (0.4 * one, 0)), tone="leftover")
    detail.note((2.4 * one, 0.6 * one), "bead of sealant along the edge")
    detail.note((3.0 * one, -6 * one), "termination bar, fastened as the takeoff says")
    detail.note((1.2 * one, -shown * 0.7), "sheet")
    if head > line:
        if whole:
            detail.up((0, 0), (0, above), 14 * one)
        detail.note((0, above), "top of wall" if whole else f"wall goes on to {tape(round(head), unit)}")
    if wall.grade:
        grade = float(value(wall.grade, 0, from_right=True)) - line
        if -shown < grade < above:
            detail.line("grade", (4 * one, grade), (34 * one, grade))
            words = f"finished grade; the sheet goes {inches(rules.above_grade, unit)} above" if rules.top == "grade" \
                else "finished grade"
            detail.note((34 * one, grade), words)
    return detail.drawing(f"Top edge, run {wall.run} at its start")


def sleeve_section(plan: Plan, scale: int) -> Drawing | None:
    """Return the section through a sleeve with its collar.

    Parameters
    ----------
    plan
        The plan.
    scale
        8 for 1:8.
    """
    rounds = [(wall, each) for wall in plan.walls if wall.layer == MEMBRANE for each in wall.rounds]
    if not rounds:
        return None
    wall, sleeve = max(rounds, key=lambda pair: pair[1].diameter)
    unit, rules = plan.job.unit, plan.job.rules
    detail = Sketch(plan, scale, "sleeve")
    one, half, thick = detail.one, sleeve.diameter / 2, float(THICK[unit.name])
    reach = float(rules.collar_reach)
    shown = half + reach + 14 * one
    for side in (1, -1):
        detail.mass(((-thick, side * shown), (0, side * shown), (0, side * half), (-thick, side * half)),
                    ((0, side * shown), (0, side * half), (-thick, side * half)))
        detail.broken((-thick, side * shown), (0, side * shown))
        if reach:
            detail.shape("collar", ((0.6 * one, side * half), (0.6 * one, side * (half + reach))), closed=False)
        detail.shape("membrane", ((1.2 * one, side * half), (1.2 * one, side * shown)), closed=False)
        detail.shape("board", ((0.2 * one, side * half), (3 * one, side * half), (0.2 * one, side * (half + 3 * one))),
                     tone="leftover")
    out = 16 * one
    inner = -thick - out / 2
    detail.shape("sleeve", ((inner, half), (out, half), (out, -half), (inner, -half)), closed=False)
    detail.broken((-thick, half), (-thick, shown))
    detail.broken((-thick, -shown), (-thick, -half))
    detail.note((out, half * 0.6), f"sleeve {tag_written(sleeve.tag)}, {inches(sleeve.diameter, unit)} across")
    if reach:
        detail.up((0.6 * one, half), (0.6 * one, half + reach), out + 12 * one)
        detail.note((0.6 * one, half + reach), f"collar {inches(rules.collar_reach, unit)} past the sleeve all round")
    detail.note((1.2 * one, half + reach + 8 * one), "sheet, cut to the sleeve")
    detail.note((2 * one, -half - one), "sealant around the sleeve")
    return detail.drawing(f"Sleeve {sleeve.tag}, run {wall.run}")


def opening_section(plan: Plan, scale: int) -> Drawing | None:
    """Return the plan section through the jamb of an opening.

    Parameters
    ----------
    plan
        The plan.
    scale
        8 for 1:8.
    """
    found = next(((run, opening) for run in plan.job.runs for face in run.faces for opening in face.openings), None)
    if found is None:
        return None
    run, opening = found
    unit, rules = plan.job.unit, plan.job.rules
    detail = Sketch(plan, scale, "opening")
    one, thick = detail.one, float(THICK[unit.name])
    wide = float(SHOWN[unit.name]) / 2
    # seen from above: soil at the bottom, the opening to the right of station 0
    detail.mass(((-wide, thick), (0, thick), (0, 0), (-wide, 0)), ((-wide, thick), (0, thick), (0, 0), (-wide, 0)))
    detail.broken((-wide, 0), (-wide, thick))
    back = float(rules.opening_return)
    ends: list[Vec] = [(-wide, -1.2 * one), (1.2 * one if back else 0.0, -1.2 * one)]
    if back:
        ends.append((1.2 * one, back))
        detail.up((1.2 * one, 0), (1.2 * one, back), 14 * one)
        detail.note((1.2 * one, back), f"sheet returns {inches(rules.opening_return, unit)} into the opening")
    else:
        detail.note((0, -1.2 * one), "sheet stops at the edge of the opening")
    detail.shape("membrane", ends, closed=False)
    detail.note((-wide / 4, thick * 0.8), f"jamb of {opening.kind} {tag_written(opening.tag)}, seen from above")
    detail.note((ends[-1][0] + 0.5 * one, ends[-1][1] - 0.5 * one), "bead of sealant at the end of the sheet")
    detail.entities.append(Text("text", (-wide / 2, -7 * one), "soil side", SMALL, "centre", "middle"))
    return detail.drawing(f"Opening {opening.tag}, run {run.name}")


def corner_detail(plan: Plan, scale: int) -> Drawing | None:
    """Return the plan of an outside footing corner: where square drops stop, and what the cover closes.

    Parameters
    ----------
    plan
        The plan.
    scale
        8 for 1:8.
    """
    for wall in plan.walls:
        if wall.layer != MEMBRANE:
            continue
        for span, after in meeting_faces(wall):
            if span.corner == "outside" and span.angle == 90 and span.ledge and after.ledge:
                return _corner(plan, scale, wall, span, after)
    return None


def _corner(plan: Plan, scale: int, wall: Wall, span: FaceSpan, after: FaceSpan) -> Drawing:
    unit = plan.job.unit
    detail = Sketch(plan, scale, "footing corner")
    one, thick = detail.one, float(THICK[unit.name])
    first, second = float(span.ledge), float(after.ledge)
    wide = float(SHOWN[unit.name]) / 2
    # seen from above, soil at the bottom and to the right; the wall's corner at (0, 0)
    detail.mass(((-wide, 0), (0, 0), (0, wide), (-thick, wide), (-thick, thick), (-wide, thick)),
                ((-wide, 0), (0, 0), (0, wide)), ((-thick, wide), (-thick, thick), (-wide, thick)))
    detail.broken((-wide, 0), (-wide, thick))
    detail.broken((-thick, wide), (0, wide))
    detail.shape("beyond", ((-wide, -first), (second, -first), (second, wide)), closed=False)
    detail.shape("membrane", ((-wide, -1.2 * one), (1.2 * one, -1.2 * one), (1.2 * one, wide)), closed=False)
    opened = ((0.0, 0.0), (second, 0.0), (second, -first), (0.0, -first))
    detail.shape("cover", opened, tone="reinforcing")
    detail.across((0, -first), (second, -first), -first - 8 * one)
    detail.up((-wide, -first), (-wide, 0), -wide - 6 * one)
    cover = _of_kind(plan, "footing cover", wall.run)
    words = "footing cover closes this" if cover else "left open by square drops"
    detail.note((second * 0.8, -first * 0.5), f"{words}: ledge corner and both faces below it")
    detail.note((1.2 * one, wide * 0.6), "sheet around the corner, slit from the top of the fillet down")
    detail.note((second, wide * 0.35), "edge of footing")
    return detail.drawing(f"Footing corner, run {wall.run}, right end of {span.name}")
