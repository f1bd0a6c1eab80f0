"""Where each piece goes, as its card says it, and what must hang there before a drop does."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

import pytest

from helpers.packets import short_plan, write_tables
from layout.packet.field_data import field_data
from layout.packet.sequence import hanging
from layout.packet.view import cards, roll_views
from layout.records import Plan
from layout.revise import read_earlier

JOB = """
job: {name: Mill}
units: in
sheet:
  width: 36
  rolls: [{length: 66'-8", price: 205}]
rules: {corner_strip: 12, base_strip: 18, opening_return: 2}
runs:
  - name: A
    flow: right
    faces:
      - name: South
        length: 24'-0"
        top: 8'-0"
        footing: [[0, 0], [9'-0", 0], [9'-0", -1'-0"], [24'-0", -1'-0"]]
        ledge: 4
        footing_depth: 12
        corner: outside
        openings:
          - {tag: W1, kind: window, left: 18'-0", sill: 5'-0", width: 3'-0", height: 2'-0"}
          - {tag: W10, kind: vent, left: 3'-0", sill: 5'-0", width: 2'-0", height: 1'-0"}
      - name: East
        length: 20'-0"
        top: 8'-0"
        footing: [[0, -1'-0"], [6'-0", -1'-0"], [16'-0", -2'-0"], [20'-0", -2'-0"]]
        ledge: 4
        footing_depth: 12
"""


@lru_cache(maxsize=None)
def plan() -> Plan:
    return short_plan(JOB)


@pytest.mark.parametrize(("tag", "words", "feet"), [
    ("A-FC1", "outside corner of South and East", 24),
    ("A-RC1", "riser of the footing step, 9'-0\" from the left of South", 9),
    ("A-RC1-2", "foot of the riser's outer edge, 9'-0\" from the left of South", 9),
    ("A-SC1", "where the footing's slope changes, 6'-0\" from the left of East", 30),
    ("A-SC2", "where the footing's slope changes, 16'-0\" from the left of East", 40),
    ("A-OG-W1-1", "top left corner of window W1", 18),
    ("A-OG-W1-2", "top right corner of window W1", 21),
    ("A-OG-W1-3", "bottom right corner of window W1", 21),
    ("A-OG-W1-4", "bottom left corner of window W1", 18),
    ("A-OG-W10-1", "top left corner of vent W10", 3),
])
def test_a_piece_that_folds_says_where_it_goes(tag: str, words: str, feet: int) -> None:
    """Stations are feet from the run's start: East begins at 24 ft."""
    dealt = cards(plan())
    assert next(card.near for card in dealt if card.tag == tag) == words
    told = json.loads(field_data(plan(), dealt, roll_views(plan(), dealt)))["pieces"][tag]
    assert (told["near"], told["spot"]) == (words, feet * 12 * 16)


def test_only_what_lies_near_a_drop_must_be_on_before_it() -> None:
    """No gusset is longer than a foot: drops that end a foot short of an opening or begin a foot past it want none."""
    drops = {drop.tag: drop for drop in plan().drops}
    wanting = {"W1": 0, "W10": 0}
    for tag, before in hanging(plan()).before.items():
        if tag not in drops:
            continue
        left, right = (edge / 192 for edge in (drops[tag].left, drops[tag].right))
        for name, start, end in (("W1", 18, 21), ("W10", 3, 5)):
            wanted = {one[-1] for one in before if one.startswith(f"A-OG-{name}-")}
            if right <= start - 1 or left >= end + 1:
                assert wanted == set(), tag
            if left < start and right > end:
                assert wanted == {"1", "2", "3", "4"}, tag
            wanting[name] += bool(wanted)
    assert all(wanting.values())


def test_where_it_goes_is_kept_in_the_packet(tmp_path: Path) -> None:
    write_tables(plan(), tmp_path)
    again = {piece.tag: piece for made in [read_earlier(tmp_path, lambda folder: ())] for piece in made.pieces}
    assert (again["A-SC2"].spot, again["A-SC2"].where) == (40 * 192, "where the footing's slope changes")
    assert again["A-01"].spot is None
