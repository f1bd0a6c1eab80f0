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
    # the flap on the first ledge ends at the foot of the second wall, where the door is
    "a door 3/4 in from an inside corner, down to the joint": (
        face("South", more=", corner: inside") + face("East", more=door(0.75))),
}


@pytest.mark.parametrize("name", PLACES)
def test_the_place_is_closed(name: str, tmp_path: Path) -> None:
    assert [f"{each.number} {each.place}" for each in folded(JOB.format(rules="", faces=PLACES[name]), tmp_path)] == []


@pytest.mark.parametrize("turn", [45, 60, 75])
def test_sharp_footing_corner_with_a_fold_on_no_grid(turn: int, tmp_path: Path) -> None:
    """Behind a corner on the skew the ear's edge and the flap's, one line, come out different in their last bits."""
    faces = (face("South", ledge=0, more=", corner: outside") + face("East", more=f", corner: outside, angle: {turn}")
             + face("North"))
    assert list(folded(JOB.format(rules=", fillet: 0", faces=faces), tmp_path)) == []


def test_step_at_an_inside_corner_on_the_skew(tmp_path: Path) -> None:
    """After a turn of 45 degrees no corner is on a round number; the higher footing comes in over the lower wall's."""
    faces = (face("South", more=", corner: outside, angle: 45") + face("East", footing=0, more=", corner: inside")
             + face("North", ledge=4, footing=8))
    assert list(folded(JOB.format(rules="", faces=faces), tmp_path)) == []
