"""Marks as a crew says them: every corner that is cut is numbered, and its words alone say where it is."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pytest

from helpers.crew_plan import crew_plan, t
from helpers.sample_plans import NAMES, sample_plan
from helpers.thinned import slow_where
from layout.marks import LyingPiece, sheet
from layout.packet.crew import crew_marks
from layout.records import Piece, Point
from layout.shapes import circle_ring
from layout.units import INCH, Unit, read_length

FROM = re.compile(r"(.+?) (from|past the) (top|right|bottom|left)(?: edge)?")


def spot(words: str, flat: LyingPiece, unit: Unit) -> Point:
    """Return the place that a corner's words say, measured right and down from the rectangle's top left."""
    far = {"right": flat.width, "bottom": flat.height}
    if words.endswith(" corner"):
        end, side = words.split()[:2]
        return far.get(side, 0), far.get(end, 0)
    found: dict[str, int] = {}
    for part in words.split(", "):
        match = FROM.fullmatch(part)
        if match:
            ticks = int(read_length(match[1], unit)) * (1 if match[2] == "from" else -1)
            edge = match[3]
        else:
            ticks, edge = 0, part.removesuffix(" edge")
        axis = "x" if edge in ("left", "right") else "y"
        assert axis not in found, words
        found[axis] = ticks if edge in ("left", "top") else far[edge] - ticks
    return found["x"], found["y"]


def needed(flat: LyingPiece) -> set[Point]:
    """Return every corner that a crew must find: not the box's own, and no point of a round hole."""
    rings = {point for x, y, diameter in flat.rounds for point in circle_ring(x, y, diameter)}
    xs, ys = [x for x, _ in flat.ring], [y for _, y in flat.ring]
    box = {(x, y) for x in (min(xs), max(xs)) for y in (min(ys), max(ys))}
    points = {point for ring in (flat.ring, *flat.holes) for point in ring}
    points |= {point for slit in flat.slits for point in slit}
    points |= {(x, y) for x, y, _ in flat.rounds if 0 <= x <= flat.width and 0 <= y <= flat.height}
    return points - rings - box | {(x, y) for x, y, _ in flat.rounds if (x, y) in points}


def check(piece: Piece, unit: Unit) -> None:
    for mirrored in (False, True):
        flat, told = sheet(piece, mirrored=mirrored), crew_marks(piece, unit, mirrored=mirrored)
        assert [corner.number for corner in told.corners] == list(range(1, len(told.corners) + 1))
        for corner in told.corners:
            assert spot(corner.words, flat, unit) == corner.point, (piece.tag, corner)
        assert needed(flat) <= {corner.point for corner in told.corners}, piece.tag
        numbers = {int(one) for line in told.lines for part in re.findall(
            r"(?:corners?|corner to corner|from|centre) ([0-9, and to]+)[.,:]", line)
            for one in re.findall(r"[0-9]+", part)}
        assert numbers == {corner.number for corner in told.corners}, told.lines


@pytest.mark.parametrize("name", NAMES)
def test_every_corner_of_a_sample_can_be_found_by_its_words(name: str) -> None:
    plan = sample_plan(name)
    for piece in plan.pieces:
        check(piece, plan.job.unit)


def test_the_nearest_edge_comes_first() -> None:
    """The window bites 21 1/2 in into the right edge of the second drop, from 10 in to 2'-10" of the top end."""
    told = crew_marks(crew_plan().pieces[1], INCH)
    assert told.lines == ('Notch the right edge, 21 1/2" deep and 2\'-0" long: corners 1, 2, 3 and 4.',)
    assert [corner.words for corner in told.corners] == [
        'right edge, 10" from top', '10" from top, 14 1/2" from left', '14 1/2" from left, 2\'-10" from top',
        'right edge, 2\'-10" from top']


def test_a_round_hole_is_told_by_its_centre_and_a_slit_by_its_ends() -> None:
    """The sleeve is 15 in from the first drop's left edge and 5'-6" from its top: 3'-3 9/16" from the bottom."""
    first = crew_marks(crew_plan().pieces[0], INCH)
    assert first.lines == ('Round hole for P1, 4" across, centre 1.',)
    assert [corner.words for corner in first.corners] == ['15" from left, 3\'-3 9/16" from bottom']
    strip = crew_marks(crew_plan().pieces[-1], INCH)
    assert strip.lines == ("Slit from 1 to 2.",)
    assert [corner.words for corner in strip.corners] == ['6" from left, 9" from bottom', 'bottom edge, 6" from left']
    assert t('9"') == 144


def lengths(words: Sequence[str]) -> list[str]:
    return [word for word in words if "down" in word or "along 0" in word]


@pytest.mark.parametrize("name", slow_where(lambda name: name != "metric", NAMES))
def test_no_chain_of_right_and_down(name: str) -> None:
    plan = sample_plan(name)
    for piece in plan.pieces:
        told = crew_marks(piece, plan.job.unit)
        assert not lengths([*told.lines, *(corner.words for corner in told.corners)])
