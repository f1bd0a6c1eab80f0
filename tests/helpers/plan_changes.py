"""Changes to a plan, one thing each, for tests of what the audit finds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

from layout.records import Cut, Cutting, Leftover, Piece, Plan, Ring, Roll, RuleException, Seam


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


def with_exceptions(change: Callable[[tuple[RuleException, ...]], tuple[RuleException, ...]]) -> Callable[[Plan], Plan]:
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


def alone(plan: Plan) -> Plan:
    """Cut every piece from a roll of its own, on which it fits: whatever size it is, only it is wrong."""
    for cutting in plan.cuttings:
        plan = one_a_roll(cutting.product)(plan)
    return plan


def one_a_roll(product: str = "membrane") -> Callable[[Plan], Plan]:
    """Cut every piece of a product from a roll of its own; nothing is claimed of the least cost."""
    def run(plan: Plan) -> Plan:
        cuttings: list[Cutting] = []
        for cutting in plan.cuttings:
            if cutting.product == product:
                model = max((roll for roll in cutting.rolls if not roll.remnant), key=lambda roll: roll.length)
                rolls = tuple(
                    _with_one(replace(model, tag=f"{product[0].upper()}{n:02d}"), p, plan.job.rules.keep_remnant)
                    for n, p in enumerate((p for p in plan.pieces if p.product == product), start=1)
                )
                cost = None if model.price is None else model.price * len(rolls)
                cutting = replace(cutting, rolls=rolls, cost=cost, bound=None, optimal=False, rolls_bound=len(rolls))
            cuttings.append(cutting)
        return replace(plan, cuttings=tuple(cuttings), cost_bound=None, optimal=False)

    return run


def _with_one(roll: Roll, one: Piece, keep: int) -> Roll:
    turned = one.width > roll.width
    length, width = (one.width, one.length) if turned else (one.length, one.width)
    left = roll.length - length
    return replace(roll, cuts=(Cut(one.tag, 0, 0, length, width, turned),),
                   leftover=Leftover(left, roll.width, left >= keep))


def dearer(by: int) -> Callable[[Plan], Plan]:
    """Say so much more of what the membrane costs."""
    def run(plan: Plan) -> Plan:
        cost = next(cutting.cost for cutting in plan.cuttings if cutting.product == "membrane")
        return with_cutting("membrane", cost=(cost or Decimal(0)) + by)(plan)

    return run


def without_empty(plan: Plan) -> Plan:
    """Leave out rolls from which nothing is cut."""
    cuttings = []
    for cutting in plan.cuttings:
        rolls = tuple(roll for roll in cutting.rolls if roll.cuts)
        cost = None if cutting.cost is None else sum((roll.price or Decimal(0) for roll in rolls), Decimal(0))
        cuttings.append(replace(cutting, rolls=rolls, cost=cost, rolls_bound=min(cutting.rolls_bound, len(rolls))))
    return replace(plan, cuttings=tuple(cuttings))


def roll_of(plan: Plan, tag: str) -> str:
    """Return the tag of the roll that a piece is cut from."""
    return next(roll.tag for cutting in plan.cuttings for roll in cutting.rolls
                if any(cut.piece == tag for cut in roll.cuts))


def on_the_roll_of(one: str, tag: str) -> Callable[[Plan], Plan]:
    """Cut one piece, once more, behind another."""
    return lambda plan: on_roll(roll_of(plan, one), tag)(plan)


def relaid_of(tag: str) -> Callable[[Plan], Plan]:
    """Work the leftover of the roll that a piece is cut from again."""
    return lambda plan: with_roll(roll_of(plan, tag), relaid)(plan)


def other_over(seam: Seam) -> Seam:
    """Turn a seam's lap around."""
    return replace(seam, over=seam.left if seam.over == seam.right else seam.right)


def exception(rule: str, run: str, at: int, needed: int, found: int) -> Callable[[Plan], Plan]:
    """List one more exception."""
    return with_exceptions(lambda listed: (*listed, RuleException(rule, run, at, needed, found, "made up")))


def in_hole(one: Piece) -> Piece:
    """Leave a piece's holes uncut."""
    return replace(one, holes=(), sleeves=())


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
        at(tag, right=-by), shrunk(tag, cut_right(by), step=4),
        with_seam(tag, lambda seam: replace(seam, right_edge=seam.right_edge - by)),
    )


def top_raised(x: int, y: int) -> tuple[int, int]:
    """Move the upper points of an outline up 10 ticks."""
    return (x, y + 10 if y > 500 else y)


def foot_lowered(x: int, y: int) -> tuple[int, int]:
    """Move the lower points of an outline down 10 ticks."""
    return (x, y if y > 500 else y - 10)
