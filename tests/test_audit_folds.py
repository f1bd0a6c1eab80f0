"""The audit's folding, tested by breaking one thing at a time in a good plan: it finds that thing and no other.

The yard has one of everything that folds: a window the sheet turns into, a pipe that stands out, a step, an outside and
an inside corner, a sharp corner, a ledge that changes. Every piece is cut from a roll of its own, so that sizes fit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import pytest
from shapely.geometry import Polygon, box

from helpers.packets import LOOKS, Look, counted_again, packet_findings, plan_findings, short_plan
from helpers.plan_changes import alone, both, with_piece
from helpers.thinned import thinned
from layout.audit import FINDINGS
from layout.records import Finding, Laid, Piece, Plan, Slit

IN = 16
"""Ticks in an inch."""
CUT_TO = IN // 4
"""To what lengths are cut unless a job says otherwise [ticks]."""
YARD = """
job: {name: Yard}
sheet: {width: 36, rolls: [{length: "66'-8\\"", price: 205}]}
strip: {width: 18, rolls: [{length: 50 ft, price: 60}]}
rules: {base_strip: 18, opening_return: 3, turn_down: 6, max_piece: 6 ft}
runs:
  - name: A
    flow: right
    faces:
      - name: East
        length: 14 ft
        top: 8 ft
        footing: [[0, 0], [7 ft, 0], [7 ft, -1 ft], [14 ft, -1 ft]]
        ledge: 6
        footing_depth: 18
        corner: outside
        openings: [{tag: W1, kind: window, left: 2 ft, sill: 3 ft, width: 2 ft, height: 2 ft}]
        sleeves: [{tag: P1, at: 10 ft, elevation: 3 ft, diameter: 4, projects: 6}]
      - {name: North, length: 9 ft, top: 8 ft, footing: -1 ft, ledge: 6, footing_depth: 18, corner: inside}
      - {name: Yard, length: 9 ft, top: 8 ft, footing: -1 ft, ledge: 8, footing_depth: 18, corner: outside, angle: 60}
      - {name: Slip, length: 8 ft, top: 8 ft, footing: -1 ft, ledge: 8, footing_depth: 18, corner: none}
      - {name: West, length: 8 ft, top: 8 ft, footing: -1 ft, ledge: 10, footing_depth: 18}
"""
Change = Callable[[Plan], Plan]


@pytest.fixture(scope="module")
def yard() -> Plan:
    """The plan of the yard."""
    return alone(short_plan(YARD))


def numbers(found: Sequence[Finding]) -> set[int]:
    """Return the numbers of findings, each of which says what is wrong and where."""
    assert all(finding.what == FINDINGS[finding.number] and finding.place for finding in found)
    return {finding.number for finding in found}


def wrong(plan: Plan) -> set[int]:
    """Return the numbers that the audit finds in a plan."""
    return numbers(plan_findings(counted_again(plan)))


@pytest.mark.parametrize("look", LOOKS)
def test_the_yard_is_clean(look: Look, yard: Plan) -> None:
    assert numbers(look(counted_again(yard))) == set()


# --- changes -----------------------------------------------------------------------------------

def piece(plan: Plan, tag: str) -> Piece:
    return next(each for each in plan.pieces if each.tag == tag)


def at(plan: Plan, kind: str, station: float) -> str:
    """Return the lowest slit piece of a kind across a station [in]."""
    found = [each for each in plan.pieces if each.kind == kind and each.flat and each.slits and
             min(x for x, _ in each.outline) < station * IN < max(x for x, _ in each.outline)]
    return min(found, key=lambda each: min(y for _, y in each.outline)).tag


def drop(station: float, change: Callable[[Piece], Piece]) -> Change:
    """Change the drop's piece across a station [in]."""
    return lambda plan: with_piece(at(plan, "drop", station), change)(plan)


def strip(kind: str, station: float, change: Callable[[Piece], Piece]) -> Change:
    """Change the strip across a station [in]."""
    return lambda plan: with_piece(at(plan, kind, station), change)(plan)


def slits(change: Callable[[Slit], Slit | None]) -> Callable[[Piece], Piece]:
    """Change every slit of a piece, or leave it out."""
    def run(one: Piece) -> Piece:
        made = replace(one, slits=tuple(slit for slit in map(change, one.slits) if slit))
        assert made != one
        return made

    return run


def no_slits(one: Piece) -> Piece:
    assert one.slits
    return replace(one, slits=())


def moved(by: float) -> Callable[[Piece], Piece]:
    """Move slits along the wall [in]."""
    step = round(by * IN)
    return slits(lambda slit: replace(slit, start=(slit.start[0] + step, slit.start[1]),
                                      end=(slit.end[0] + step, slit.end[1])))


def headed(by: float) -> Callable[[Piece], Piece]:
    """Move the upper ends of slits up [in]."""
    return slits(lambda slit: replace(slit, start=(slit.start[0], slit.start[1] + round(by * IN))))


def without_slit_at(station: float) -> Callable[[Piece], Piece]:
    """Leave out the slits at a station [in]."""
    return slits(lambda slit: None if abs(slit.start[0] - station * IN) < 8 else slit)


def one_more(start: tuple[float, float], end: tuple[float, float]) -> Callable[[Piece], Piece]:
    """Add a slit [in]."""
    ends = [(round(x * IN), round(y * IN)) for x, y in (start, end)]
    return lambda one: replace(one, slits=(*one.slits, Slit(ends[0], ends[1], "")))


def gone(tag: str) -> Change:
    """Leave a piece out; the order of the others closes up, and the dabs only it had go too."""
    def run(plan: Plan) -> Plan:
        out = piece(plan, tag)
        return replace(plan, pieces=tuple(
            replace(each, order=each.order - (each.order > out.order)) for each in plan.pieces if each.tag != tag))

    return run


def cut_back(tag: str, *, left: float = 0, right: float = 0, top: float = 0, bottom: float = 0) -> Change:
    """Cut so much off the sides of a piece, its parts with it [in]."""
    def run(one: Piece) -> Piece:
        xs, ys = [x for x, _ in one.outline], [y for _, y in one.outline]
        room = box(min(xs) + left * IN, min(ys) + bottom * IN, max(xs) - right * IN, max(ys) - top * IN)

        def ring(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
            part = Polygon(points).intersection(room)
            return [(x, y) for x, y in part.exterior.coords[:-1]] if isinstance(part, Polygon) else []

        laid = [replace(each, outline=tuple(ring(each.outline))) for each in one.laid if ring(each.outline)]
        outline = tuple((round(x), round(y)) for x, y in ring(one.outline))
        inside = room.buffer(0.5)
        kept = tuple(slit for slit in one.slits if all(inside.covers(Polygon([spot] * 3).centroid) for spot in (
            slit.start, slit.end)))
        return sized(replace(one, outline=outline, laid=tuple(laid), slits=kept))

    return with_piece(tag, run)


def ear(tag: str, width: float) -> Change:
    """Leave of a footing cover's ear, its last part, so much beside the arris [in]."""
    def run(one: Piece) -> Piece:
        last = one.laid[-1].outline
        left, low = min(x for x, _ in last), min(y for _, y in last)
        right, high = max(x for x, _ in last), max(y for _, y in last)
        kept = box(left, low, left + width * IN, high)
        rest = Polygon(one.outline).difference(box(left + width * IN, low - 1, right + 2, high))
        parts = one.laid[:-1]
        if width:
            parts += (replace(one.laid[-1], outline=tuple(kept.exterior.coords[:-1])),)
        slits = tuple(replace(slit, end=(round(left + width * IN), slit.end[1])) for slit in one.slits if width)
        return sized(replace(one, outline=tuple((round(x), round(y)) for x, y in rest.exterior.coords[:-1]), laid=parts,
                             slits=slits))

    return with_piece(tag, run)


def sized(one: Piece) -> Piece:
    """Work a piece's length and width again, the length up to the next step that a tape is read to."""
    xs, ys = [x for x, _ in one.outline], [y for _, y in one.outline]
    return replace(one, length=-(-(max(ys) - min(ys)) // CUT_TO) * CUT_TO, width=max(xs) - min(xs))


def laid(tag: str, number: int, change: Callable[[Laid], Laid | None]) -> Change:
    """Change, or leave out, one part of a pattern."""
    def run(one: Piece) -> Piece:
        parts = [change(part) if index == number else part for index, part in enumerate(one.laid)]
        return replace(one, laid=tuple(part for part in parts if part))

    return with_piece(tag, run)


def shifted(tag: str, by: tuple[float, float, float]) -> Change:
    """Move a whole cover in space [in]."""
    def move(part: Laid) -> Laid:
        x, y, z = part.origin
        return replace(part, origin=(x + by[0] * IN, y + by[1] * IN, z + by[2] * IN))

    return with_piece(tag, lambda one: replace(one, laid=tuple(map(move, one.laid))))


def without_dab(kind: str) -> Change:
    """Leave out the first dab of a kind."""
    def run(plan: Plan) -> Plan:
        tag = next(dab.tag for dab in plan.dabs if dab.kind.startswith(kind))
        return replace(plan, dabs=tuple(dab for dab in plan.dabs if dab.tag != tag))

    return run


def first_dab(**changes: object) -> Change:
    """Change the dab at the first corner of the wall; numbers are added to what it has [ticks]."""
    def run(plan: Plan) -> Plan:
        tag = next(dab.tag for dab in plan.dabs if dab.kind == "wall corner")
        return replace(plan, dabs=tuple(
            replace(dab, **{key: getattr(dab, key) + by for key, by in changes.items()})  # type: ignore[operator]
            if dab.tag == tag else dab for dab in plan.dabs))

    return run


def one_more_dab(plan: Plan) -> Plan:
    """Put a dab where the wall is plain."""
    dab = plan.dabs[0]
    more = replace(dab, tag="A-D99", station=1000, elevation=1000, point=(1000.0, 0.0, 1000.0))
    return replace(plan, dabs=(*plan.dabs, more))


def orders(change: Callable[[Plan], dict[str, int]]) -> Change:
    """Give pieces other places in the order of work."""
    def run(plan: Plan) -> Plan:
        new = change(plan)
        return replace(plan, pieces=tuple(replace(each, order=new.get(each.tag, each.order)) for each in plan.pieces))

    return run


def swapped(one: Callable[[Plan], str], other: Callable[[Plan], str]) -> Change:
    """Let two pieces change places in the order of work."""
    return orders(lambda plan: {one(plan): piece(plan, other(plan)).order, other(plan): piece(plan, one(plan)).order})


def first_of(kind: str) -> Callable[[Plan], str]:
    return lambda plan: min((each for each in plan.pieces if each.kind == kind), key=lambda each: each.order).tag


def pieces_of_a_drop(plan: Plan) -> tuple[str, str]:
    tags = next(each for each in plan.drops if len(each.pieces) == 2).pieces
    return tags[0], tags[1]


@dataclass(frozen=True)
class Broke:
    """One thing broken in the yard's plan, and the finding it must give."""

    name: str
    number: int
    change: Change


STEP, CORNER, INSIDE, SHARP, LEDGES = 84, 168, 276, 384, 480
"""Stations of the step, the outside corner, the inside corner, the sharp corner, the change of ledge [in]."""

FOLDS = [
    # slits that are missing or too short
    Broke("drop over the step without its slit", 1001, drop(STEP, no_slits)),
    Broke("drop at the outside corner without its slit", 1001, drop(CORNER, no_slits)),
    Broke("drop at the inside corner without the corner's slit", 1001, drop(INSIDE, without_slit_at(INSIDE))),
    Broke("drop at the inside corner without the left tail's slit", 1001, drop(INSIDE, without_slit_at(INSIDE - 8))),
    Broke("drop at the inside corner without the right tail's slit", 1001, drop(INSIDE, without_slit_at(INSIDE + 6))),
    Broke("drop at the sharp corner without its slit", 1001, drop(SHARP, no_slits)),
    Broke("drop where the ledge changes without its slit", 1001, drop(LEDGES, no_slits)),
    Broke("corner strip without its slit", 1001, strip("corner strip", CORNER, no_slits)),
    Broke("strip slits gone at the inside corner", 1001, strip("corner strip", INSIDE, no_slits)),
    Broke("base strip without its slits", 1001, strip("base strip", INSIDE - 8, no_slits)),
    Broke("slits moved 2 in", 1001, drop(STEP, moved(2))),
    Broke("slits moved 1/4 in", 1001, drop(CORNER, moved(0.25))),
    Broke("slit begins at the joint, not at the fillet", 1001, drop(CORNER, headed(-0.75))),
    Broke("slit an inch too short at its foot", 1001, drop(STEP, slits(
        lambda slit: replace(slit, end=(slit.end[0], slit.end[1] + IN))))),
    Broke("window's corner without its slit", 1001, drop(24, no_slits)),
    Broke("window's slit half as long", 1001, drop(24, slits(lambda slit: replace(
        slit, end=((slit.start[0] + slit.end[0]) // 2, (slit.start[1] + slit.end[1]) // 2))))),
    Broke("footing cover without the slit at the arris", 1001, with_piece("A-FC1", no_slits)),
    Broke("inside cover without its slit", 1001, with_piece("A-IC1", no_slits)),
    Broke("gusset without its slit", 1001, with_piece("A-OG-W1-1", no_slits)),
    Broke("cover at the riser's foot without its slit", 1001, with_piece("A-RC1-2", no_slits)),
    # slits that open sound sheet
    Broke("slits run 4 in up the wall", 1002, drop(CORNER, headed(4))),
    Broke("slit runs up the corner strip", 1002, strip("corner strip", CORNER, headed(4))),
    Broke("slit runs on along the tail", 1002, drop(INSIDE, slits(lambda slit: replace(
        slit, start=(slit.start[0], slit.start[1] + 2 * IN)) if slit.start[0] == (INSIDE + 6) * IN else slit))),
    Broke("slit in the middle of a drop", 1002, drop(STEP, one_more((90, 30), (90, 40)))),
    Broke("slit across a drop", 1002, drop(STEP, one_more((76, 20), (90, 20)))),
    Broke("slit at a corner that is not one", 1002, drop(STEP, one_more((96, -4), (96, -20)))),
    Broke("slit in a flap of a cover", 1002, with_piece("A-IC1", one_more((3, 1), (3, 3)))),
    # covers
    Broke("no footing cover", 605, gone("A-FC1")),
    Broke("no footing cover at the sharp corner", 605, gone("A-FC2")),
    Broke("footing cover without a lap", 605, cut_back("A-FC1", left=6)),
    Broke("footing cover a tick short", 605, cut_back("A-FC1", left=1 / 16)),
    Broke("footing cover a tick short at its foot", 605, cut_back("A-FC1", bottom=1 / 16)),
    Broke("no riser cover", 606, gone("A-RC1")),
    Broke("riser cover a tick short on the ledge above", 606, cut_back("A-RC1", top=1 / 16)),
    Broke("no inside cover", 610, gone("A-IC1")),
    Broke("inside cover a tick short", 610, cut_back("A-IC1", right=1 / 16)),
    Broke("inside cover without tabs", 610, cut_back("A-IC1", top=6)),
    Broke("no gusset at a window's corner", 611, gone("A-OG-W1-2")),
    Broke("gusset a tick short on the head", 611, cut_back("A-OG-W1-1", top=1 / 16)),
    Broke("ear gone", 614, ear("A-FC1", 0)),
    Broke("ear a quarter inch narrow", 614, ear("A-FC1", 2.25)),
    Broke("no cover where the ledge changes", 615, gone("A-LC1")),
    Broke("ledge cover a tick short", 615, cut_back("A-LC1", top=1 / 16)),
    # the pipe
    Broke("drop without a slit to the pipe", 612, lambda plan: with_piece(
        next(each.tag for each in plan.pieces if each.kind == "drop" and each.holes and each.slits), no_slits)(plan)),
    Broke("collar without a slit to the pipe", 612, with_piece("A-CL-P1", no_slits)),
    Broke("no patch over the slit to the pipe", 613, gone("A-SP-P1")),
    # where parts lie
    Broke("cover an inch off the ledge", 1006, shifted("A-IC1", (0, 0, 1))),
    Broke("riser cover a foot beside the step", 1006, shifted("A-RC1", (12, 0, 0))),
    Broke("gusset in front of the wall", 1006, shifted("A-OG-W1-1", (0, -1, 0))),
    Broke("a part stretched", 1007, laid("A-FC1", 0, lambda part: replace(part, along=(1.01, 0.0, 0.0)))),
    Broke("a part left out", 1007, laid("A-FC1", 1, lambda part: None)),
    Broke("a part twice", 1007, with_piece("A-IC1", lambda one: replace(one, laid=(*one.laid, one.laid[0])))),
    # edges, dabs, order
    Broke("nothing over the foot of the riser's edge", 1003, gone("A-RC1-2")),
    Broke("no dab at the wall's corner", 1004, without_dab("wall corner")),
    Broke("no dab at the step", 1004, without_dab("step at the wall")),
    Broke("no dab at the window's corner", 1004, without_dab("corner of W1")),
    Broke("dab too small", 1004, first_dab(size=-3 * IN)),
    Broke("dab on plain wall", 1005, one_more_dab),
    Broke("dab at another station than it says", 1005, first_dab(station=5 * IN)),
    Broke("dab at another height than it says", 1005, first_dab(elevation=IN)),
    Broke("two pieces with one place in the order", 1008, orders(lambda plan: {"A-FC1": 1})),
    Broke("cover after a drop", 1008, swapped(first_of("footing cover"), first_of("drop"))),
    Broke("patch before its drop", 1008, swapped(first_of("sleeve patch"), first_of("corner strip"))),
    Broke("upper piece before the lower one", 1009, swapped(
        lambda plan: pieces_of_a_drop(plan)[0], lambda plan: pieces_of_a_drop(plan)[1])),
]


@pytest.mark.parametrize("broke", thinned(FOLDS, keep=8), ids=lambda broke: f"{broke.number} {broke.name}")
def test_one_thing_wrong_in_a_fold(broke: Broke, yard: Plan) -> None:
    assert wrong(alone(broke.change(yard))) == {broke.number}


@pytest.mark.slow
@pytest.mark.parametrize("broke", FOLDS[::4], ids=lambda broke: f"{broke.number} {broke.name}")
def test_the_papers_of_a_broken_fold_have_nothing_else_wrong(broke: Broke, yard: Plan) -> None:
    assert numbers(packet_findings(counted_again(alone(broke.change(yard))))) == {broke.number}


def test_two_things_wrong_are_both_found(yard: Plan) -> None:
    change = both(drop(STEP, no_slits), gone("A-FC2"))
    assert wrong(alone(change(yard))) == {1001, 605}


def test_change_of_slope_without_its_cover() -> None:
    plan = short_plan("""
job: {name: Slope}
units: in
sheet: {width: 36, rolls: [{length: 66'-8"}]}
rules: {turn_down: 4}
runs:
  - {name: A, closed: false, faces: [
      {name: South, length: 240, top: 96, ledge: 4, footing_depth: 24, footing: [[0, 0], [90, 0], [240, -15]]}]}
""")
    cover, = [each.tag for each in plan.pieces if each.kind == "slope cover"]
    assert wrong(plan) == set()
    broke = Broke("no cover where the slope changes", 616, gone(cover))
    assert wrong(alone(broke.change(plan))) == {broke.number}
