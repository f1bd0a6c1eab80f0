"""The audit, tested by breaking one thing at a time in good packets: it finds that thing and no other.

Changes to the plan itself are made before the packet is written, so that all its papers agree with one another and
only the wall, the rolls or the sums are wrong. Changes to papers are made in the files.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

import pytest

from helpers.frozen import NAMES, frozen_plan
from helpers.packets import counted_again, findings, plan_findings, write_drawings, write_rest, write_tables
from helpers.plan_changes import (
    alone, at, both, cut_right, dearer, exception, foot_lowered, holed, in_hole, install_from_zero, lowered_top,
    moved_split, narrowed_drop, notched, off_roll, on_roll, on_the_roll_of, one_a_roll, one_more_roll, other_over,
    recut, relaid, relaid_of, reshaped, rules_with, shrunk, sized, stock_with, swapped_drop_tags, swapped_install,
    top_raised, wall_with, with_cut, with_cutting, with_drop, with_exceptions, with_piece, with_roll, with_seam,
    without_empty, without_piece,
)
from helpers.thinned import slow_where, thinned
from layout.audit import FINDINGS
from layout.records import Finding, Plan

IN = 16
"""Ticks in an inch; the metric packet counts in mm."""


@dataclass(frozen=True)
class Packet:
    """A good packet: its plan and where it is written."""

    plan: Plan
    folder: Path


@pytest.fixture(scope="module")
def packet_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Packet]:
    """Return what writes the good packet of a name, once."""
    @lru_cache(maxsize=None)
    def write(name: str) -> Packet:
        plan = frozen_plan(name)
        folder = tmp_path_factory.mktemp(name) / "packet"
        write_tables(plan, folder)
        write_drawings(plan, folder)
        write_rest(plan, folder)
        return Packet(plan, folder)

    return write


# test_audit_papers changes a good nook
@pytest.mark.parametrize("name", slow_where(lambda name: name == "nook", NAMES))
def test_good_packets_are_clean(packet_of: Callable[[str], Packet], name: str) -> None:
    assert findings(packet_of(name).folder) == ()


@dataclass(frozen=True)
class Broke:
    """One thing broken in a plan: the packet, the finding it must give, and whether the drawings are drawn again."""

    name: str
    packet: str
    number: int
    change: Callable[[Plan], Plan]
    redraw: bool = False


PLANS = [
    # 2xx: coverage
    Broke("notch in the top of a drop", "nook", 201, shrunk("A-09", notched(100, 400, 60), step=4), redraw=True),
    Broke("notch in the foot of a drop", "nook", 201, shrunk("A-09", notched(100, 400, 12, foot=True), step=4),
          redraw=True),
    Broke("hole in a drop", "nook", 201, with_piece("A-09", holed(200, 600, 40, 30)), redraw=True),
    Broke("pinhole in a drop", "nook", 201, with_piece("A-09", holed(200, 600, 1, 1)), redraw=True),
    Broke("hole in the drainage board", "nook", 201, with_piece("A-B-07", holed(300, 600, 40, 30)), redraw=True),
    Broke("sleeve not cut out", "nook", 202, with_piece("A-06", in_hole), redraw=True),
    Broke("sheet over the membrane line", "nook", 202, both(sized("A-04", top_raised), alone), redraw=True),
    Broke("sheet below the toe", "nook", 202, both(sized("A-09", foot_lowered, step=4), alone), redraw=True),
    Broke("sheet past the end of an open run", "bank", 202, both(
        at("T 1-06", right=10), with_piece("T 1-06b", reshaped(
            lambda x, y: (x + 10 if x == 4930 else x, y), allowance=20, step=5)), one_a_roll()), redraw=True),
    Broke("piece past its drop", "nook", 203, both(with_piece("A-13", reshaped(
        lambda x, y: (x + 8 if x > 6500 else x, y))), alone), redraw=True),
    Broke("turn-down under its range", "nook", 204, rules_with(turn_down=(80, 96))),
    Broke("turn-down over its range", "ring", 204, rules_with(turn_down=(32, 48))),
    Broke("toe too long", "nook", 205, lambda plan: wall_with(faces=tuple(
        replace(face, toe=face.toe + 16) for face in plan.walls[0].faces))(plan)),
    Broke("toe too short", "nook", 205, lambda plan: wall_with(faces=tuple(
        replace(face, toe=face.toe - 1) for face in plan.walls[0].faces))(plan)),
    # 3xx: laps
    Broke("seam not listed", "nook", 301, with_seam("A-09", lambda seam: None), redraw=True),
    Broke("closing seam not listed", "nook", 301, with_seam("A-14", lambda seam: None), redraw=True),
    Broke("seam of no neighbours", "nook", 302, lambda plan: replace(
        plan, seams=(*plan.seams, replace(plan.seams[0], right="A-05"))), redraw=True),
    Broke("seam listed twice", "nook", 302, lambda plan: replace(
        plan, seams=(*plan.seams, plan.seams[0])), redraw=True),
    Broke("seam a tick off", "nook", 303, with_seam(
        "A-09", lambda seam: replace(seam, left_edge=seam.left_edge + 1)), redraw=True),
    Broke("side lap a tick short", "nook", 304, narrowed_drop("A-09", 1), redraw=True),
    Broke("side lap of the board short", "nook", 304, narrowed_drop("A-B-07", 8), redraw=True),
    Broke("piece narrower than its drop", "nook", 305, shrunk("A-09", cut_right(8), step=4), redraw=True),
    Broke("corner cut off in a lap", "nook", 305, shrunk("A-09", lambda ring: (
        ring[0], (ring[1][0] - 20, ring[1][1]), (ring[1][0], ring[1][1] - 60), ring[2], ring[3]), step=4), redraw=True),
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
    Broke("lap against the water", "nook", 501, both(
        with_seam("A-09", other_over), swapped_install("A-09", "A-10")), redraw=True),
    Broke("lap against the water, one way", "bank", 501, both(
        with_seam("T 1-02", other_over), swapped_install("T 1-02", "T 1-03")), redraw=True),
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
        with_piece("A-04", lambda p: replace(p, length=p.length + 1)), alone)),
    Broke("piece without its allowance", "bank", 601, both(
        with_piece("T 1-04b", lambda p: replace(p, length=p.length - 20)), recut)),
    Broke("corner strip missing", "nook", 602, without_piece("A-CS2"), redraw=True),
    Broke("corner strip narrow", "nook", 602, shrunk("A-CS2", cut_right(32), step=4), redraw=True),
    Broke("corner strip short", "nook", 602, shrunk("A-CS2", lowered_top(32), step=4), redraw=True),
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
    Broke("piece cut twice", "nook", 702, both(alone, on_the_roll_of("A-04", "A-FC1"))),
    Broke("cut past the roll's end", "nook", 703, both(alone, with_cut("A-04", at=509 * IN))),
    Broke("cut past the roll's edge", "nook", 703, both(alone, with_cut("A-13", across=15 * IN))),
    Broke("cut before the roll's start", "nook", 703, with_cut("A-11", at=-1)),
    Broke("cuts overlap", "nook", 704, with_cut("A-FC3", across=10 * IN)),
    Broke("cuts overlap by a tick", "nook", 704, with_cut("A-FC3", across=16 * IN - 1)),
    Broke("no rip parts a block", "nook", 705, both(
        alone, *(both(off_roll(tag), on_the_roll_of("A-13", tag)) for tag in ("A-OG-W1-1", "A-OG-W1-2", "A-OG-W1-3")),
        with_cut("A-13", across=14 * IN), with_cut("A-OG-W1-1", at=0, across=0),
        with_cut("A-OG-W1-2", at=6 * IN, across=7 * IN), with_cut("A-OG-W1-3", at=20 * IN, across=56),
        relaid_of("A-13"), without_empty)),
    Broke("cut longer than its piece", "nook", 706, both(alone, with_cut("A-04", length=1478), relaid_of("A-04"))),
    Broke("cut shorter than its piece", "nook", 706, both(alone, with_cut("A-04", length=1462), relaid_of("A-04"))),
    Broke("roll longer than any sold", "nook", 708, with_roll("R03", lambda roll: relaid(
        replace(roll, length=roll.length + 16)))),
    Broke("rolls at another price", "nook", 708, both(
        *(with_roll(tag, lambda roll: replace(roll, price=Decimal(149))) for tag in ("R02", "R03")), dearer(-2),
        lambda plan: replace(plan, cost_bound=None, optimal=False), counted_again)),
    Broke("remnant nobody has", "nook", 708, with_roll("R01", lambda roll: replace(roll, stock="K9"))),
    Broke("remnant longer than it is", "nook", 708, with_roll("R01", lambda roll: relaid(
        replace(roll, length=roll.length + 16)))),
    Broke("remnant used twice", "nook", 709, both(
        off_roll("A-FC1"), one_more_roll("R01", cuts=()), on_roll("R99", "A-FC1"))),
    Broke("more rolls than there are", "nook", 710, stock_with(on_hand=1)),
    Broke("leftover an inch off", "nook", 711, with_roll("R03", lambda roll: replace(
        roll, leftover=replace(roll.leftover, length=roll.leftover.length - 16)))),
    Broke("scrap called stock", "nook", 711, with_roll("R03", lambda roll: replace(
        roll, leftover=replace(roll.leftover, keep=True)))),
    Broke("piece of another product", "nook", 712, with_piece("A-CL-P1", lambda p: replace(p, product="strip"))),
    Broke("drop turned on its roll", "nook", 713, both(
        alone, with_cut("A-02a", length=528, width=308, turned=True), relaid_of("A-02a"))),
    # 8xx: sums and bounds
    Broke("cost a dollar more", "nook", 801, both(alone, dearer(1))),
    Broke("bound over the cost", "nook", 810, with_cutting("membrane", bound=Decimal(310), optimal=False)),
    Broke("optimal without its bound", "nook", 811, with_cutting("membrane", bound=Decimal(200), optimal=True)),
    Broke("optimal but not said", "nook", 811, with_cutting("membrane", bound=Decimal(300), optimal=False)),
    Broke("strips optimal but not said", "nook", 811, with_cutting("strip", bound=Decimal(120))),
    Broke("board optimal without its bound", "nook", 811, with_cutting("drainage", optimal=True)),
    Broke("bound of the whole over its cost", "nook", 810, lambda plan: replace(plan, cost_bound=Decimal(301))),
    Broke("whole optimal without a bound", "nook", 811, both(alone, lambda plan: replace(plan, optimal=True))),
    Broke("whole optimal over its bound", "nook", 811, lambda p: replace(p, cost_bound=Decimal(299), optimal=True)),
    Broke("whole optimal but not said", "nook", 811, lambda p: replace(p, cost_bound=Decimal(300), optimal=False)),
    Broke("bound of the strips without a cost", "bank", 816, with_cutting("strip", bound=Decimal(0))),
    Broke("bound of the whole without a cost", "ring", 816, lambda plan: replace(plan, cost_bound=Decimal(1))),
    Broke("bound that plain cutting beats", "bank", 812, both(
        one_a_roll(), with_cutting("membrane", bound=Decimal(4000)))),
    Broke("more rolls proven than used", "nook", 814, with_cutting("membrane", rolls_bound=9)),
    Broke("fewer rolls proven than the area takes", "nook", 815, with_cutting("membrane", rolls_bound=1)),
]


def broken(broke: Broke, good: Plan) -> Plan:
    """Return a plan with one thing broken, counted again where that changes what is counted."""
    plan = broke.change(good)
    counts = broke.number != 708 and (plan.pieces, plan.cuttings) != (good.pieces, good.cuttings)
    return counted_again(plan) if counts else plan


def only(broke: Broke, found: Sequence[Finding]) -> None:
    """Check that what was broken is found, and nothing else."""
    assert {finding.number for finding in found} == {broke.number}, found
    assert all(finding.what == FINDINGS[broke.number] and finding.place for finding in found)


def named(broke: Broke) -> str:
    return f"{broke.number} {broke.name}"


@pytest.mark.parametrize("broke", thinned(PLANS, keep=8), ids=named)
def test_one_thing_wrong_in_the_plan(broke: Broke) -> None:
    only(broke, plan_findings(broken(broke, frozen_plan(broke.packet))))


@pytest.mark.slow
@pytest.mark.parametrize("broke", PLANS[::2], ids=named)
def test_the_papers_of_a_broken_plan_have_nothing_else_wrong(
    broke: Broke, packet_of: Callable[[str], Packet], tmp_path: Path,
) -> None:
    good = packet_of(broke.packet)
    folder = tmp_path / "packet"
    shutil.copytree(good.folder, folder)
    plan = broken(broke, good.plan)
    write_tables(plan, folder)
    write_rest(plan, folder)
    if broke.redraw:
        write_drawings(plan, folder)
    only(broke, findings(folder))
