"""The audit, tested by breaking one thing at a time in good packets: it finds that thing and no other.

Changes to the plan itself are made before the packet is written, so that all its papers agree with one another and
only the wall, the rolls or the sums are wrong. Changes to papers are made in the files.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from layout.audit import FINDINGS
from layout.records import Broken, Cut, Cutting, Leftover, Piece, Plan, Ring, Roll, Seam
from frozen import NAMES, frozen_plan
from packets import findings, write_drawings, write_rest, write_roll_cards, write_tables

IN = 16
"""Ticks in an inch; the metric packet counts in mm."""


@dataclass(frozen=True)
class Packet:
    """A good packet: its plan and where it is written."""

    plan: Plan
    folder: Path


@pytest.fixture(scope="module")
def packets(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Packet]:
    """Good packets, by name."""
    made = {}
    for name in NAMES:
        plan = frozen_plan(name)
        folder = tmp_path_factory.mktemp(name) / "packet"
        write_tables(plan, folder)
        write_drawings(plan, folder)
        write_rest(plan, folder)
        made[name] = Packet(plan, folder)
    return made


@pytest.mark.parametrize("name", NAMES)
def test_good_packets_are_clean(packets: dict[str, Packet], name: str) -> None:
    assert findings(packets[name].folder) == ()


# --- changes to the plan -----------------------------------------------------------------------

def piece(plan: Plan, tag: str) -> Piece:
    """Return the piece of a tag."""
    return next(piece for piece in plan.pieces if piece.tag == tag)


def with_piece(tag: str, change: Callable[[Piece], Piece]) -> Callable[[Plan], Plan]:
    """Change one piece."""
    def run(plan: Plan) -> Plan:
        assert any(piece.tag == tag for piece in plan.pieces)
        return replace(plan, pieces=tuple(change(p) if p.tag == tag else p for p in plan.pieces))

    return run


def without_piece(tag: str) -> Callable[[Plan], Plan]:
    """Leave one piece out of the plan and off its roll."""
    def run(plan: Plan) -> Plan:
        out = replace(plan, pieces=tuple(p for p in plan.pieces if p.tag != tag))
        assert len(out.pieces) == len(plan.pieces) - 1
        return with_rolls(lambda roll: relaid(replace(roll, cuts=tuple(c for c in roll.cuts if c.piece != tag))))(out)

    return run


def with_drop(tag: str, **changes: Any) -> Callable[[Plan], Plan]:
    """Change one drop."""
    def run(plan: Plan) -> Plan:
        assert any(drop.tag == tag for drop in plan.drops)
        return replace(plan, drops=tuple(replace(d, **changes) if d.tag == tag else d for d in plan.drops))

    return run


def with_seam(left: str, change: Callable[[Seam], Seam | None]) -> Callable[[Plan], Plan]:
    """Change, or leave out, the seam to the right of a drop."""
    def run(plan: Plan) -> Plan:
        assert any(seam.left == left for seam in plan.seams)
        changed = [change(s) if s.left == left else s for s in plan.seams]
        return replace(plan, seams=tuple(s for s in changed if s))

    return run


def with_rolls(change: Callable[[Roll], Roll]) -> Callable[[Plan], Plan]:
    """Change every roll."""
    def run(plan: Plan) -> Plan:
        return replace(plan, cuttings=tuple(
            replace(cutting, rolls=tuple(change(roll) for roll in cutting.rolls)) for cutting in plan.cuttings
        ))

    return run


def with_roll(tag: str, change: Callable[[Roll], Roll]) -> Callable[[Plan], Plan]:
    """Change one roll."""
    return with_rolls(lambda roll: change(roll) if roll.tag == tag else roll)


def with_cut(tag: str, **changes: Any) -> Callable[[Plan], Plan]:
    """Change where one piece is cut."""
    def one(roll: Roll) -> Roll:
        return replace(roll, cuts=tuple(replace(c, **changes) if c.piece == tag else c for c in roll.cuts))

    return with_rolls(one)


def with_cutting(product: str, **changes: Any) -> Callable[[Plan], Plan]:
    """Change what is said about one product's rolls."""
    def run(plan: Plan) -> Plan:
        return replace(plan, cuttings=tuple(
            replace(cutting, **changes) if cutting.product == product else cutting for cutting in plan.cuttings
        ))

    return run


def with_exceptions(change: Callable[[tuple[Broken, ...]], tuple[Broken, ...]]) -> Callable[[Plan], Plan]:
    """Change the exceptions."""
    return lambda plan: replace(plan, exceptions=change(plan.exceptions))


def relaid(roll: Roll) -> Roll:
    """Work the leftover of a roll again."""
    used = max((cut.at + cut.length for cut in roll.cuts), default=0)
    left = roll.length - used
    return replace(roll, leftover=Leftover(left, roll.width, left >= 768))


def both(*changes: Callable[[Plan], Plan]) -> Callable[[Plan], Plan]:
    """Make several changes."""
    def run(plan: Plan) -> Plan:
        for change in changes:
            plan = change(plan)
        return plan

    return run


def reshaped(
    move: Callable[[int, int], tuple[int, int]], *, allowance: int = 0, step: int = 1,
) -> Callable[[Piece], Piece]:
    """Move the points of a piece's outline; length and width follow."""
    def run(one: Piece) -> Piece:
        return measured(replace(one, outline=tuple(move(x, y) for x, y in one.outline)), allowance, step)

    return run


def measured(one: Piece, allowance: int = 0, step: int = 1) -> Piece:
    """Work a piece's length and width again from its outline."""
    xs, ys = [x for x, _ in one.outline], [y for _, y in one.outline]
    across, down = max(xs) - min(xs), max(ys) - min(ys)
    if one.kind == "base strip":
        across, down = down, across
    return replace(one, length=-(-(down + allowance) // step) * step, width=across)


def recut(plan: Plan) -> Plan:
    """Cut every piece at its present size, one after the other on its own roll; rolls are opened as needed."""
    sizes = {p.tag: p for p in plan.pieces}
    cuttings = []
    for cutting in plan.cuttings:
        rolls = []
        for roll in cutting.rolls:
            cuts = tuple(
                replace(c, length=sizes[c.piece].width if c.turned else sizes[c.piece].length,
                        width=sizes[c.piece].length if c.turned else sizes[c.piece].width) for c in roll.cuts
            )
            rolls.append(relaid(replace(roll, cuts=cuts)))
        cuttings.append(replace(cutting, rolls=tuple(rolls)))
    return replace(plan, cuttings=tuple(cuttings))


def sized(tag: str, move: Callable[[int, int], tuple[int, int]], **how: int) -> Callable[[Plan], Plan]:
    """Reshape a piece to no larger a rectangle and cut it so, where it lay."""
    return both(with_piece(tag, reshaped(move, **how)), recut)


def shrunk(tag: str, ring: Callable[[Ring], Ring], **how: int) -> Callable[[Plan], Plan]:
    """Give a piece another outline and cut it so, where it lay."""
    return both(with_piece(tag, lambda one: measured(replace(one, outline=ring(one.outline)), **how)), recut)


def lowered_top(by: int) -> Callable[[Ring], Ring]:
    """Take a strip off the top of an outline."""
    def run(ring: Ring) -> Ring:
        top = max(y for _, y in ring)
        return tuple((x, min(y, top - by)) for x, y in ring)

    return run


def raised_foot(by: int) -> Callable[[Ring], Ring]:
    """Take a strip off the foot of an outline."""
    def run(ring: Ring) -> Ring:
        foot = min(y for _, y in ring)
        return tuple((x, max(y, foot + by)) for x, y in ring)

    return run


def cut_right(by: int) -> Callable[[Ring], Ring]:
    """Take a strip off the right of an outline."""
    def run(ring: Ring) -> Ring:
        right = max(x for x, _ in ring)
        return tuple((min(x, right - by), y) for x, y in ring)

    return run


def at(tag: str, *, left: int = 0, right: int = 0) -> Callable[[Plan], Plan]:
    """Move the edges of a drop as listed."""
    def run(plan: Plan) -> Plan:
        drop = next(d for d in plan.drops if d.tag == tag)
        return with_drop(tag, left=drop.left + left, right=drop.right + right)(plan)

    return run


def swapped_install(one: str, other: str) -> Callable[[Plan], Plan]:
    """Let two drops change places in the order of hanging, their pieces with them."""
    def run(plan: Plan) -> Plan:
        order = {d.tag: d.install for d in plan.drops}
        new = {one: order[other], other: order[one]}
        plan = replace(plan, drops=tuple(replace(d, install=new.get(d.tag, d.install)) for d in plan.drops))
        return replace(plan, pieces=tuple(replace(p, install=new.get(p.drop, p.install)) for p in plan.pieces))

    return run


def wall_with(**changes: Any) -> Callable[[Plan], Plan]:
    """Change what the membrane's developed wall says of itself."""
    def run(plan: Plan) -> Plan:
        return replace(plan, walls=tuple(
            replace(wall, **changes) if wall.layer == "membrane" else wall for wall in plan.walls
        ))

    return run


def moved_split(tag: str, by: int) -> Callable[[Plan], Plan]:
    """Move the end lap between the upper and the lower piece of a metric drop up or down."""
    upper, lower = f"{tag}a", f"{tag}b"

    def run(plan: Plan) -> Plan:
        foot, head = min(y for _, y in piece(plan, upper).outline), max(y for _, y in piece(plan, lower).outline)
        plan = with_piece(upper, reshaped(lambda x, y: (x, y + by if y == foot else y), allowance=20, step=5))(plan)
        plan = with_piece(lower, reshaped(lambda x, y: (x, y + by if y == head else y), allowance=20, step=5))(plan)
        return plan

    return run


def one_a_roll(product: str = "membrane", length: int = 20000) -> Callable[[Plan], Plan]:
    """Cut every piece of a product from a roll of its own: any sizes fit."""
    def run(plan: Plan) -> Plan:
        cuttings: list[Cutting] = []
        for cutting in plan.cuttings:
            if cutting.product == product:
                model = next(roll for roll in cutting.rolls if not roll.remnant)
                rolls = tuple(
                    relaid_metric(replace(model, tag=f"R{n:02d}", cuts=(Cut(p.tag, 0, 0, p.length, p.width),)))
                    for n, p in enumerate((p for p in plan.pieces if p.product == product), start=1)
                )
                cost = sum((roll.price or Decimal(0) for roll in rolls), Decimal(0))
                cutting = replace(cutting, rolls=rolls, cost=cost, bound=None, optimal=False)
            cuttings.append(cutting)
        return replace(plan, cuttings=tuple(cuttings))

    return run


def relaid_metric(roll: Roll) -> Roll:
    """Work the leftover of a metric roll again."""
    left = roll.length - max(cut.at + cut.length for cut in roll.cuts)
    return replace(roll, leftover=Leftover(left, roll.width, left >= 1220))


def other_over(seam: Seam) -> Seam:
    """Turn a seam's lap around."""
    return replace(seam, over=seam.left if seam.over == seam.right else seam.right)


def exception(rule: str, run: str, at: int, needed: int, found: int) -> Callable[[Plan], Plan]:
    """List one more exception."""
    return with_exceptions(lambda listed: (*listed, Broken(rule, run, at, needed, found, "made up")))


def in_hole(one: Piece) -> Piece:
    """Leave a piece's holes uncut."""
    return replace(one, holes=(), sleeves=())


def to_drop(tag: str, **changes: Any) -> Callable[[Plan], Plan]:
    """Give the pieces of a drop other values."""
    return lambda plan: replace(plan, pieces=tuple(replace(p, **changes) if p.drop == tag else p for p in plan.pieces))


def swapped_cuts(roll_tag: str, one: int, other: int) -> Callable[[Plan], Plan]:
    """List two cuts of one roll in the other order."""
    def run(roll: Roll) -> Roll:
        cuts = list(roll.cuts)
        cuts[one], cuts[other] = cuts[other], cuts[one]
        return replace(roll, cuts=tuple(cuts))

    return with_roll(roll_tag, run)


def install_from_zero(plan: Plan) -> Plan:
    """Count the order of hanging from 0."""
    plan = replace(plan, drops=tuple(replace(d, install=d.install - 1) for d in plan.drops))
    return replace(plan, pieces=tuple(replace(p, install=p.install - 1) if p.drop else p for p in plan.pieces))


def notched(x0: int, x1: int, depth: int, *, foot: bool = False) -> Callable[[Ring], Ring]:
    """Cut a notch into the level top or foot of a rectangle, so far from its left."""
    def run(ring: Ring) -> Ring:
        left, right = min(x for x, _ in ring), max(x for x, _ in ring)
        top, bottom = max(y for _, y in ring), min(y for _, y in ring)
        assert len(ring) == 4
        if foot:
            return ((left, top), (right, top), (right, bottom), (left + x1, bottom), (left + x1, bottom + depth),
                    (left + x0, bottom + depth), (left + x0, bottom), (left, bottom))
        return ((left, top), (left + x0, top), (left + x0, top - depth), (left + x1, top - depth), (left + x1, top),
                (right, top), (right, bottom), (left, bottom))

    return run


def holed(left: int, bottom: int, width: int, height: int) -> Callable[[Piece], Piece]:
    """Cut a hole into a piece, so far from the lower left of its outline."""
    def run(one: Piece) -> Piece:
        x, y = min(x for x, _ in one.outline) + left, min(y for _, y in one.outline) + bottom
        hole = ((x, y + height), (x + width, y + height), (x + width, y), (x, y))
        return replace(one, holes=(*one.holes, hole))

    return run


def rules_with(**changes: Any) -> Callable[[Plan], Plan]:
    """Change the job's rules after the plan was made."""
    return lambda plan: replace(plan, job=replace(plan.job, rules=replace(plan.job.rules, **changes)))


def stock_with(**changes: Any) -> Callable[[Plan], Plan]:
    """Change the first roll of the job's sheet after the plan was made."""
    def run(plan: Plan) -> Plan:
        first, *others = plan.job.sheet.rolls
        sheet = replace(plan.job.sheet, rolls=(replace(first, **changes), *others))
        return replace(plan, job=replace(plan.job, sheet=sheet))

    return run


def one_more_roll(model: str, **changes: Any) -> Callable[[Plan], Plan]:
    """Open one more roll like another, at the end of its product."""
    def run(plan: Plan) -> Plan:
        cuttings = []
        for cutting in plan.cuttings:
            like = [roll for roll in cutting.rolls if roll.tag == model]
            more = tuple(relaid(replace(roll, tag="R99", **changes)) for roll in like)
            cuttings.append(replace(cutting, rolls=(*cutting.rolls, *more)))
        return replace(plan, cuttings=tuple(cuttings))

    return run


def off_roll(tag: str) -> Callable[[Plan], Plan]:
    """Take one piece off its roll."""
    return with_rolls(lambda roll: relaid(replace(roll, cuts=tuple(c for c in roll.cuts if c.piece != tag))))


def on_roll(roll_tag: str, tag: str, *, turned: bool = False) -> Callable[[Plan], Plan]:
    """Cut one piece, once more or turned, behind the others of a roll."""
    def run(plan: Plan) -> Plan:
        one = piece(plan, tag)
        size = (one.width, one.length) if turned else (one.length, one.width)

        def more(roll: Roll) -> Roll:
            behind = max((c.at + c.length for c in roll.cuts), default=0)
            return relaid(replace(roll, cuts=(*roll.cuts, Cut(tag, behind, 0, *size, turned))))

        return with_roll(roll_tag, more)(plan)

    return run


def swapped_drop_tags(one: str, other: str) -> Callable[[Plan], Plan]:
    """Let two drops change names, their pieces keeping theirs."""
    def run(plan: Plan) -> Plan:
        names = {one: other, other: one}

        def new(tag: str) -> str:
            return names.get(tag, tag)

        return replace(
            plan, drops=tuple(replace(d, tag=new(d.tag)) for d in plan.drops),
            seams=tuple(replace(s, left=new(s.left), right=new(s.right), over=new(s.over)) for s in plan.seams),
            pieces=tuple(replace(p, drop=new(p.drop)) for p in plan.pieces),
        )

    return run


def narrowed_drop(tag: str, by: int) -> Callable[[Plan], Plan]:
    """Take a strip off the right of a drop, its piece and its seam."""
    return both(
        at(tag, right=-by), shrunk(tag, cut_right(by)),
        with_seam(tag, lambda seam: replace(seam, right_edge=seam.right_edge - by)),
    )


@dataclass(frozen=True)
class Broke:
    """One thing broken in a plan: the packet, the finding it must give, and whether the drawings are drawn again."""

    name: str
    packet: str
    number: int
    change: Callable[[Plan], Plan]
    redraw: bool = False


def top_raised(x: int, y: int) -> tuple[int, int]:
    """Move the upper points of an outline up 10 ticks."""
    return (x, y + 10 if y > 500 else y)


def foot_lowered(x: int, y: int) -> tuple[int, int]:
    """Move the lower points of an outline down 10 ticks."""
    return (x, y if y > 500 else y - 10)


PLANS = [
    # 2xx: coverage
    Broke("notch in the top of a drop", "nook", 201, shrunk("A-09", notched(100, 400, 60)), redraw=True),
    Broke("notch in the foot of a drop", "nook", 201, shrunk("A-09", notched(100, 400, 12, foot=True)), redraw=True),
    Broke("hole in a drop", "nook", 201, with_piece("A-09", holed(200, 600, 40, 30)), redraw=True),
    Broke("pinhole in a drop", "nook", 201, with_piece("A-09", holed(200, 600, 1, 1)), redraw=True),
    Broke("hole in the drainage board", "nook", 201, with_piece("A-B-07", holed(300, 600, 40, 30)), redraw=True),
    Broke("sleeve not cut out", "nook", 202, with_piece("A-06", in_hole), redraw=True),
    Broke("sheet over the membrane line", "nook", 202, sized("A-04", top_raised), redraw=True),
    Broke("sheet below the toe", "nook", 202, sized("A-04", foot_lowered), redraw=True),
    Broke("sheet past the end of an open run", "bank", 202, both(
        at("T 1-06", right=10), with_piece("T 1-06b", reshaped(
            lambda x, y: (x + 10 if x == 4930 else x, y), allowance=20, step=5)), one_a_roll()), redraw=True),
    Broke("piece past its drop", "nook", 203, both(with_piece("A-13", reshaped(
        lambda x, y: (x + 8 if x == 6645 else x, y))), recut), redraw=True),
    Broke("turn-down under its range", "nook", 204, rules_with(turn_down=(80, 96))),
    Broke("turn-down over its range", "ring", 204, rules_with(turn_down=(32, 48))),
    Broke("toe too long", "nook", 205, lambda plan: wall_with(faces=tuple(
        replace(face, toe=face.toe + 16) for face in plan.walls[0].faces))(plan)),
    Broke("toe too short", "nook", 205, lambda plan: wall_with(faces=tuple(
        replace(face, toe=face.toe - 1) for face in plan.walls[0].faces))(plan)),
    # 3xx: laps
    Broke("seam not listed", "nook", 301, with_seam("A-09", lambda seam: None)),
    Broke("closing seam not listed", "nook", 301, with_seam("A-14", lambda seam: None)),
    Broke("seam of no neighbours", "nook", 302, lambda plan: replace(
        plan, seams=(*plan.seams, replace(plan.seams[0], right="A-05")))),
    Broke("seam listed twice", "nook", 302, lambda plan: replace(plan, seams=(*plan.seams, plan.seams[0]))),
    Broke("seam a tick off", "nook", 303, with_seam("A-09", lambda seam: replace(seam, left_edge=seam.left_edge + 1))),
    Broke("side lap a tick short", "nook", 304, narrowed_drop("A-09", 1), redraw=True),
    Broke("side lap of the board short", "nook", 304, narrowed_drop("A-B-07", 8), redraw=True),
    Broke("piece narrower than its drop", "nook", 305, shrunk("A-09", cut_right(8)), redraw=True),
    Broke("corner cut off in a lap", "nook", 305, shrunk("A-09", lambda ring: (
        ring[0], (ring[1][0] - 20, ring[1][1]), (ring[1][0], ring[1][1] - 60), ring[2], ring[3])), redraw=True),
    Broke("end lap 40 mm short", "bank", 306, both(shrunk(
        "T 1-03b", lowered_top(40), allowance=20, step=5)), redraw=True),
    Broke("end lap 1 mm short", "bank", 306, both(shrunk(
        "T 1-04b", lowered_top(1), allowance=20, step=5)), redraw=True),
    Broke("pieces bottom to top", "bank", 307, with_drop("T 1-03", pieces=("T 1-03b", "T 1-03a"))),
    Broke("end laps side by side", "bank", 308, both(moved_split("T 1-03", 500), one_a_roll()), redraw=True),
    Broke("a wider stagger asked for", "bank", 308, rules_with(end_lap_stagger=700)),
    Broke("drops not tagged left to right", "nook", 309, swapped_drop_tags("A-09", "A-10")),
    # 4xx: clearances and exceptions
    Broke("broken clearance not listed", "bank", 401, with_exceptions(lambda listed: listed[1:])),
    Broke("broken clearance of the board not listed", "nook", 401, with_exceptions(lambda listed: listed[:-1])),
    Broke("more clearance asked for at corners", "nook", 401, rules_with(clear_of_corner=16 * IN)),
    Broke("exception made up", "nook", 402, exception("clear_of_step", "A", 4000, 96, 40)),
    Broke("exception at another place", "bank", 402, exception("clear_of_sleeve", "T 1", 4500, 150, 75)),
    Broke("narrow drop made up", "nook", 402, exception("min_width", "A", 4000, 192, 180)),
    Broke("long piece made up", "bank", 402, exception("max_piece", "T 1", 2000, 3000, 3100)),
    Broke("short stagger made up", "bank", 402, exception("end_lap_stagger", "T 1", 2000, 305, 300)),
    Broke("narrow strip made up", "nook", 402, exception("base_strip", "A", 0, 300, 288)),
    Broke("exception finds more than there is", "bank", 403, with_exceptions(
        lambda listed: (replace(listed[0], found=140), *listed[1:]))),
    Broke("exception needs less than the rule", "bank", 403, with_exceptions(
        lambda listed: (replace(listed[0], needed=100), *listed[1:]))),
    Broke("drops narrower than asked", "nook", 404, rules_with(min_width=30 * IN)),
    Broke("pieces longer than asked", "bank", 405, rules_with(max_piece=2990)),
    Broke("end lap at a sleeve", "bank", 406, both(
        rules_with(max_piece=3400), moved_split("T 1-03", -130), one_a_roll()), redraw=True),
    # 5xx: water and hanging
    Broke("lap against the water", "nook", 501, both(with_seam("A-09", other_over), swapped_install("A-09", "A-10"))),
    Broke("lap against the water, one way", "bank", 501, both(
        with_seam("T 1-02", other_over), swapped_install("T 1-02", "T 1-03"))),
    Broke("two drops with one number", "nook", 502, with_drop("A-10", install=12)),
    Broke("hanging counted from 0", "nook", 502, install_from_zero),
    Broke("piece with another number than its drop", "nook", 502, with_piece("A-10", lambda p: replace(p, install=3))),
    Broke("over hung before under", "nook", 503, swapped_install("A-09", "A-10")),
    Broke("closing seam not tucked", "ring", 503, lambda plan: replace(
        plan, seams=tuple(replace(seam, tuck=False) for seam in plan.seams))),
    Broke("tuck where none is needed", "nook", 504, with_seam("A-09", lambda seam: replace(seam, tuck=True))),
    Broke("tuck in an open run", "bank", 504, with_seam("T 1-02", lambda seam: replace(seam, tuck=True))),
    # 6xx: pieces and reinforcing
    Broke("piece cut longer than it is", "nook", 601, both(
        with_piece("A-04", lambda p: replace(p, length=p.length + 1)), recut)),
    Broke("piece without its allowance", "bank", 601, both(
        with_piece("T 1-04b", lambda p: replace(p, length=p.length - 20)), recut)),
    Broke("corner strip missing", "nook", 602, without_piece("A-CS2"), redraw=True),
    Broke("corner strip narrow", "nook", 602, shrunk("A-CS2", cut_right(32)), redraw=True),
    Broke("corner strip short", "nook", 602, shrunk("A-CS2", lowered_top(32)), redraw=True),
    Broke("base strip missing", "nook", 603, without_piece("A-BS04"), redraw=True),
    Broke("base strip short", "nook", 603, shrunk("A-BS04", cut_right(100)), redraw=True),
    Broke("base strip low", "nook", 603, shrunk("A-BS04", lowered_top(100)), redraw=True),
    Broke("base strips lapped too little", "bank", 603, shrunk("T 1-BS01", cut_right(20), allowance=20, step=5),
          redraw=True),
    Broke("collar missing", "nook", 604, without_piece("A-CL-P1"), redraw=True),
    Broke("collar small", "nook", 604, shrunk("A-CL-P1", cut_right(16)), redraw=True),
    Broke("footing cover missing", "nook", 605, without_piece("A-FC1")),
    Broke("riser cover missing", "nook", 606, without_piece("A-RC1")),
    Broke("narrow strip not listed", "bank", 607, with_exceptions(lambda listed: listed[:-1])),
    Broke("piece on another face", "nook", 609, with_piece("A-04", lambda p: replace(p, face="North"))),
    Broke("piece on no face", "nook", 609, with_piece("A-CL-P1", lambda p: replace(p, face="Attic"))),
    # 7xx: rolls and cutting
    Broke("piece on no roll", "nook", 701, off_roll("A-RC1")),
    Broke("piece cut twice", "nook", 702, on_roll("R03", "A-FC1")),
    Broke("cut past the roll's end", "nook", 703, with_cut("A-04", at=509 * IN)),
    Broke("cut past the roll's edge", "nook", 703, with_cut("A-13", across=15 * IN)),
    Broke("cut before the roll's start", "nook", 703, with_cut("A-10", at=-1)),
    Broke("cuts overlap", "nook", 704, with_cut("A-FC3", across=10 * IN)),
    Broke("cuts overlap by a tick", "nook", 704, with_cut("A-FC3", across=16 * IN - 1)),
    Broke("no rip parts a block", "nook", 705, both(
        with_cut("A-FC2", at=9332, across=16 * IN), with_roll("R01", relaid))),
    Broke("cut longer than its piece", "nook", 706, both(with_cut("A-04", length=1478), with_roll("R03", relaid))),
    Broke("cut shorter than its piece", "nook", 706, both(with_cut("A-04", length=1462), with_roll("R03", relaid))),
    Broke("roll longer than any sold", "nook", 708, with_roll("R03", lambda roll: relaid(
        replace(roll, length=roll.length + 16)))),
    Broke("roll at another price", "nook", 708, both(
        with_roll("R03", lambda roll: replace(roll, price=Decimal(149))), with_cutting("membrane", cost=Decimal(299)))),
    Broke("remnant nobody has", "nook", 708, with_roll("R02", lambda roll: replace(roll, stock="K9"))),
    Broke("remnant longer than it is", "nook", 708, with_roll("R02", lambda roll: relaid(
        replace(roll, length=roll.length + 16)))),
    Broke("remnant used twice", "nook", 709, both(
        off_roll("A-FC4"), one_more_roll("R02", cuts=()), on_roll("R99", "A-FC4"))),
    Broke("more rolls than there are", "nook", 710, stock_with(on_hand=1)),
    Broke("leftover an inch off", "nook", 711, with_roll("R03", lambda roll: replace(
        roll, leftover=replace(roll.leftover, length=roll.leftover.length - 16)))),
    Broke("scrap called stock", "nook", 711, with_roll("R03", lambda roll: replace(
        roll, leftover=replace(roll.leftover, keep=True)))),
    Broke("piece of another product", "nook", 712, with_piece("A-CL-P1", lambda p: replace(p, product="strip"))),
    Broke("drop turned on its roll", "nook", 713, both(
        off_roll("A-02a"), one_more_roll("R02", stock="K2", length=1152, width=320, cuts=()),
        on_roll("R99", "A-02a", turned=True))),
    # 8xx: sums and bounds
    Broke("cost a dollar more", "nook", 801, with_cutting("membrane", cost=Decimal(301))),
    Broke("bound over the cost", "nook", 810, with_cutting("membrane", bound=Decimal(310), optimal=False)),
    Broke("optimal without its bound", "nook", 811, with_cutting("membrane", bound=Decimal(200), optimal=True)),
    Broke("optimal but not said", "nook", 811, with_cutting("membrane", bound=Decimal(300), optimal=False)),
    Broke("strips optimal but not said", "nook", 811, with_cutting("strip", bound=Decimal(120))),
    Broke("board optimal without its bound", "nook", 811, with_cutting("drainage", optimal=True)),
    Broke("bound of the whole over its cost", "nook", 810, lambda plan: replace(plan, cost_bound=Decimal(301))),
    Broke("whole optimal without a bound", "nook", 811, lambda plan: replace(plan, optimal=True)),
    Broke("whole optimal over its bound", "nook", 811, lambda p: replace(p, cost_bound=Decimal(299), optimal=True)),
    Broke("whole optimal but not said", "nook", 811, lambda plan: replace(plan, cost_bound=Decimal(300))),
    Broke("bound that plain cutting beats", "bank", 812, both(
        one_a_roll(), with_cutting("membrane", bound=Decimal(4000)))),
    Broke("more rolls proven than used", "nook", 814, with_cutting("membrane", rolls_bound=9)),
    Broke("fewer rolls proven than the area takes", "nook", 815, with_cutting("membrane", rolls_bound=1)),
]


@pytest.mark.parametrize("broke", PLANS, ids=lambda broke: f"{broke.number} {broke.name}")
def test_one_thing_wrong_in_the_plan(broke: Broke, packets: dict[str, Packet], tmp_path: Path) -> None:
    good = packets[broke.packet]
    folder = tmp_path / "packet"
    shutil.copytree(good.folder, folder)
    plan = broke.change(good.plan)
    write_tables(plan, folder)
    write_roll_cards(plan, folder)
    if broke.redraw:
        write_drawings(plan, folder)
    found = findings(folder)
    assert {finding.number for finding in found} == {broke.number}, found
    assert all(finding.what == FINDINGS[broke.number] and finding.place for finding in found)
