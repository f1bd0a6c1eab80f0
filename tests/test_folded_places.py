"""Small jobs, each with one place that is hard to fold: the audit's own code finds nothing in their plans.

Lengths are inches; a 36 in sheet, 18 in strips, turn-down 4, fillet 3/4 where nothing else is said.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from helpers.folded import folded

JOB = """
job: {{name: Places}}
sheet: {{width: 36, rolls: [{{length: "66'-8\\"", price: 205}}]}}
strip: {{width: 18, rolls: [{{length: 50 ft, price: 60}}]}}
rules: {{base_strip: 18, turn_down: 4{rules}}}
runs:
  - name: A
    flow: right
    faces:
{faces}
"""


def face(name: str, *, ledge: object = 6, footing: object = 0, length: float = 100, more: str = "") -> str:
    """Return a face of 8 ft, on a footing deeper than any step here is high."""
    return (f"      - {{name: {name}, length: {length}, top: 96, footing: {footing}, ledge: {ledge}, "
            f"footing_depth: 30{more}}}\n")


def door(left: float, *, sill: float = 0, width: float = 36) -> str:
    return f", openings: [{{tag: D1, kind: door, left: {left}, sill: {sill}, width: {width}, height: 80}}]"


PLACES = {
    # what is left of the wall beside the slit is narrower than a lap: there the membrane ends at the door
    "a door 2 in from an outside corner with a step of 16": (
        face("South", footing=16, more=", corner: outside") + face("East", more=door(2))),
    # the riser cover's lap on the wall goes as far as the door, whose head is under the wall's top
    "a door 2 in from a step of 16 on a straight wall": (
        face("South", footing="[[0, 16], [60, 16], [60, 0], [100, 0]]", more=door(62, width=30))),
    # with no ledge beyond the corner the flap on the first face hangs from the sloping edge
    "a footing that rises to a corner with a wall without a ledge": (
        face("South", footing="[[0, 0], [100, 8]]", more=", corner: outside") + face("East", ledge=0, footing=8)),
    "a footing that falls to a corner with a wall without a ledge": (
        face("South", footing="[[0, 4], [100, 0]]", more=", corner: outside") + face("East", ledge=0)),
    "a footing that falls from a corner with a wall without a ledge": (
        face("South", ledge=0, footing=8, more=", corner: outside") + face("East", footing="[[0, 8], [100, 0]]")),
    # a strip cut plumb lies 3/4 in past the end of a ledge that falls 1 in 8 over 6 in
    "a footing that slopes to the open end of a run": face("South", footing="[[0, 0], [104, -13]]", length=104),
    # the higher face goes straight down past the lower ledge beside it, which takes nothing from it
    "an inside corner with a wall without a ledge on the higher footing": (
        face("South", more=", corner: inside") + face("East", ledge=0, footing=17)),
    # the two fillets end 1/16 tick apart: what parts above and below that is one slit
    "a footing that rises 1 in 8 to a wider ledge": (
        face("South", footing="[[0, 0], [104, 13]]", length=104, more=", corner: none")
        + face("East", ledge=10, footing=13)),
    # the flap on the first ledge ends at the foot of the second wall, where the door is
    "a door 3/4 in from an inside corner, down to the joint": (
        face("South", more=", corner: inside") + face("East", more=door(0.75))),
}


@pytest.mark.parametrize("name", PLACES)
def test_the_place_is_closed(name: str, tmp_path: Path) -> None:
    assert [f"{each.number} {each.place}" for each in folded(JOB.format(rules="", faces=PLACES[name]), tmp_path)] == []


def test_footing_corner_on_the_skew(tmp_path: Path) -> None:
    """The ear's edge and the flap's are one line, though at 60 degrees they come out different in their last bits."""
    faces = "".join(
        f"      - {{name: F{number}, length: 2500, top: 2400, footing: 0, ledge: {ledge}, footing_depth: 750,\n"
        f"         {corner}}}\n"
        for number, (ledge, corner) in enumerate([
            (0, "corner: outside"), (100, "corner: outside, angle: 60"), (100, "corner: none")]))
    job = f"""
job: {{name: Skew}}
units: mm
sheet: {{width: 900, rolls: [{{length: 20 m}}]}}
strip: {{width: 450, rolls: [{{length: 20 m}}]}}
rules: {{fillet: 0, turn_down: 75, base_strip: 450, corner_strip: 0}}
runs:
  - name: A
    flow: left
    faces:
{faces}
"""
    assert list(folded(job, tmp_path)) == []


def test_step_at_an_inside_corner_on_the_skew(tmp_path: Path) -> None:
    """After a turn of 45 degrees no corner is on a round number; the higher footing comes in over the lower wall's."""
    faces = (face("South", more=", corner: outside, angle: 45") + face("East", footing=0, more=", corner: inside")
             + face("North", ledge=4, footing=8))
    assert list(folded(JOB.format(rules="", faces=faces), tmp_path)) == []
