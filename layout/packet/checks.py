"""Checks to sign: what the foreman and the inspector look at before the wall is buried, with the plan's own figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from layout.takeoff.areas import areas, field_cutting
from layout.records import MEMBRANE, Dab, Plan, Ring
from layout.shapes import highest, lowest
from layout.units import inches, tape


@dataclass(frozen=True)
class Check:
    """One thing to look at and sign for: the stage of the work, what to see, and the plan's own quantity."""

    stage: str
    text: str
    quantity: str


def checks(plan: Plan) -> tuple[Check, ...]:
    """Return the checks to sign, in the order of the work.

    Parameters
    ----------
    plan
        The plan whose quantities stand beside the checks.
    """
    found: list[Check] = []
    for stage, make in _STAGES:
        found += [Check(stage, text, quantity) for text, quantity in make(plan)]
    return tuple(found)


def check_rows(plan: Plan) -> tuple[tuple[str, ...], ...]:
    """Return the checks as rows of text with room to sign; the first row is the heading."""
    heading = ("stage", "check", "plan", "foreman, date", "inspector, date")
    return (heading, *((check.stage, check.text, check.quantity, "", "") for check in checks(plan)))


Lines = list[tuple[str, str]]


def _substrate(plan: Plan) -> Lines:
    cutting = field_cutting(plan)
    area = f"{areas(plan, cutting).told().to_cover:,} {plan.job.unit.area_name}" if cutting else ""
    rules = plan.job.rules
    ledges = any(face.ledge for wall in plan.walls for face in wall.faces)
    lines = [
        ("Wall, ledge and footing face clean, dry, free of frost, fins and form oil; voids and tie holes filled.",
         area),
        ("The competent person has looked at the excavation today.", ""),
    ]
    if rules.fillet and ledges:
        lines.insert(1, ("Fillet at the wall/footing joint in place.", f"leg {inches(rules.fillet, plan.job.unit)}"))
    substrate = plan.job.extras.substrate
    if substrate and substrate.foam_forms:
        lines.append(("No organic-solvent product on the foam forms.", ""))
    return lines


def _primer(plan: Plan) -> Lines:
    return [("Primer even and tacky, not wet; nothing primed that will not be covered within its open time.", "")]


def _reinforcing(plan: Plan) -> Lines:
    counts: dict[str, int] = {}
    for piece in plan.pieces:
        if not piece.drop:
            counts[piece.kind] = counts.get(piece.kind, 0) + 1
    return [(f"Every {kind} on, centred and rolled.", str(count)) for kind, count in counts.items()]


def _dabs(plan: Plan) -> Lines:
    """Return a check for each kind of point that no sheet holds, with where it is."""
    unit = plan.job.unit
    kinds: dict[str, list[Dab]] = {}
    for dab in plan.dabs:
        kinds.setdefault(dab.kind, []).append(dab)
    return [
        (f"Dab of mastic or liquid membrane on every {kind}, at least {inches(min(dab.size for dab in dabs), unit)} "
         f"across: {', '.join(dab.tag for dab in dabs[:12])}{' …' if len(dabs) > 12 else ''}.", str(len(dabs)))
        for kind, dabs in kinds.items()
    ]


def _laps(plan: Plan) -> Lines:
    unit, rules = plan.job.unit, plan.job.rules
    seams = [seam for seam in plan.seams if seam.layer == MEMBRANE]
    pieces_of = [drop.pieces for drop in plan.drops if drop.layer == MEMBRANE]
    outlines = {piece.tag: piece.outline for piece in plan.pieces}
    ends = sum(_end_laps([outlines[tag] for tag in tags]) for tags in pieces_of)
    lines = [(f"Side laps at least {inches(rules.side_lap, unit)} over their whole height, upstream sheet on top.",
              f"{len(seams)} seams")]
    if ends:
        lines.append((f"End laps at least {inches(rules.end_lap, unit)}, upper sheet on top, staggered between "
                      "neighbours.", f"{ends} end laps"))
    tucks = [seam for seam in seams if seam.tuck]
    if tucks:
        lines.append(("Closing seam: the last drop is tucked under the first one's loose edge, then rolled.",
                      ", ".join(f"{seam.left}/{seam.right}" for seam in tucks)))
    return lines


def _end_laps(outlines: Sequence[Ring]) -> int:
    """Return how many pieces of a drop, told by their outlines from the top down, lap over the one below."""
    laps = 0
    for upper, lower in zip(outlines, outlines[1:]):
        laps += min(y for _, y in upper) < max(y for _, y in lower)
    return laps


def _rolling(plan: Plan) -> Lines:
    return [("Every sheet and seam rolled with pressure; no fishmouth, wrinkle or blister; each cut-out patched.",
             f"{sum(drop.layer == MEMBRANE for drop in plan.drops)} drops")]


def _penetrations(plan: Plan) -> Lines:
    sleeves = [sleeve.tag for run in plan.job.runs for face in run.faces for sleeve in face.sleeves]
    openings = [opening.tag for run in plan.job.runs for face in run.faces for opening in face.openings]
    lines = []
    if sleeves:
        reach = inches(plan.job.rules.collar_reach, plan.job.unit)
        lines.append((f"Sleeves: collar {reach} past the sleeve all round, sealed.", f"{len(sleeves)} sleeves"))
    if openings:
        lines.append(("Openings: sheet cut clean, edges terminated and sealed.", f"{len(openings)} openings"))
    return lines


def _top(plan: Plan) -> Lines:
    line = next((each for each in plan.quantities if each.item == "top edge"), None)
    length = sum(wall.length for wall in plan.walls if wall.layer == MEMBRANE)
    return [("Top edge: termination bar fastened, bead of sealant along it.",
             (f"{line.net:,} {line.unit}" if line else tape(length, plan.job.unit)) + " of top edge")]


def _base(plan: Plan) -> Lines:
    lines = []
    for wall in plan.walls:
        if wall.layer == MEMBRANE:
            lines.append((f"Run {wall.run}: the sheet goes down the footing face and is stuck to its end.",
                          f"turn-down {inches(wall.turn_down, plan.job.unit)}"))
    return lines


def _protection(plan: Plan) -> Lines:
    return [("Protection or drainage board over every part of the sheet, as soon after it as can be.", "")]


def _backfill(plan: Plan) -> Lines:
    lines = [("The engineer's word that the wall is anchored or braced for the fill.", _heights(plan)),
             ("Drain in place and open, and its outlet too.", "")]
    if plan.exceptions:
        lines.insert(0, ("Every exception of the plan looked at and accepted or cured.",
                         f"{len(plan.exceptions)} exceptions"))
    return lines


def _heights(plan: Plan) -> str:
    walls = [wall for wall in plan.walls if wall.layer == MEMBRANE]
    if not walls:
        return ""
    tallest = max(highest(wall.wall_top, 0, wall.length) - lowest(wall.footing, 0, wall.length) for wall in walls)
    return f"wall up to {tape(tallest, plan.job.unit)} above footing"


_STAGES: tuple[tuple[str, Callable[[Plan], Lines]], ...] = (
    ("Substrate", _substrate), ("Primer", _primer), ("Reinforcing", _reinforcing), ("Dabs", _dabs), ("Laps", _laps),
    ("Rolling", _rolling), ("Penetrations", _penetrations), ("Top edge", _top), ("Base", _base),
    ("Protection", _protection), ("Before backfill", _backfill),
)
