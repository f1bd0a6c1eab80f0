"""Marks say every cut from the top-left corner, and the text alone gives the outline back."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from helpers.crew_plan import crew_plan, t
from helpers.marks_reader import read_marks
from layout.marks import is_plain, marks
from layout.pieces.field import whole_ring
from layout.records import Piece, Ring, Slit
from layout.shapes import circle_ring, ring_of
from layout.units import INCH, MM, Unit


def piece(outline: Ring, *, holes: tuple[Ring, ...] = (), length: int = 0, width: int = 0, **more: object) -> Piece:
    """Return a piece of an outline; its rectangle is the outline's own unless given."""
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    plain = Piece("A-01", "drop", "membrane", "A", "South", "membrane", length or max(ys) - min(ys),
                  width or max(xs) - min(xs), True, outline, holes)
    return replace(plain, **more)  # type: ignore[arg-type]


def lie(points: Ring, of: Piece, *, mirrored: bool, right: int) -> list[tuple[int, int]]:
    """Return points of a piece as it lies: right and down from its rectangle's top left."""
    left, top = min(x for x, _ in of.outline), max(y for _, y in of.outline)
    return [(right - (x - left) if mirrored else x - left, top - y) for x, y in points]


def assert_rebuilds(of: Piece, unit: Unit = INCH) -> None:
    """Check that both texts give back outline, holes and slits."""
    for mirrored in (False, True):
        text = "; ".join(marks(of, unit, mirrored=mirrored))
        read = read_marks(text, length=of.length, width=of.width, unit=unit)
        right = of.length if text.startswith("lies along") else of.width
        shape = Polygon(lie(of.outline, of, mirrored=mirrored, right=right),
                        [lie(hole, of, mirrored=mirrored, right=right) for hole in of.holes])
        assert read.shape.symmetric_difference(shape).area == 0, text
        assert read.slits == {frozenset(lie((s.start, s.end), of, mirrored=mirrored, right=right)) for s in of.slits}


SQUARE = ((0, 96), (36, 96), (36, 0), (0, 0))


def feet(*points: tuple[str, str]) -> Ring:
    return tuple((t(x), t(y)) for x, y in points)


def test_a_plain_rectangle_has_no_marks() -> None:
    assert marks(piece(SQUARE), INCH) == ()
    assert is_plain(piece(SQUARE))


def test_the_hand_plan_reads_as_the_crew_would_say_it() -> None:
    """Window from 4'-0" to 6'-6", 5'-2" to 7'-2" up an 8'-0" wall; drop 2 starts at 2'-9 1/2", drop 3 at 5'-7"."""
    first, second, third, fourth, fifth = crew_plan().pieces[:5]
    assert marks(first, INCH) == ('hole 4" dia, centre 15" right, 5\'-6" down (P1)',)
    assert marks(second, INCH) == ('notch right edge 10" to 2\'-10" down, 21 1/2" deep',)
    assert marks(second, INCH, mirrored=True) == ('notch left edge 10" to 2\'-10" down, 21 1/2" deep',)
    assert marks(third, INCH) == ('notch left edge 10" to 2\'-10" down, 11" deep',)
    assert marks(fourth, INCH) == ()
    assert marks(fifth, INCH) == ('slit 18" right, 8\'-0" to 8\'-9 9/16" down',)


@pytest.mark.parametrize("of", crew_plan().pieces, ids=lambda of: of.tag)
def test_each_piece_of_the_hand_plan_rebuilds(of: Piece) -> None:
    assert_rebuilds(of)


@pytest.mark.parametrize("outline, text", [
    (feet(("0", "8'"), ("10 in", "8'"), ("10 in", "7'"), ("20 in", "7'"), ("20 in", "8'"), ("36 in", "8'"),
          ("36 in", "0"), ("0", "0")), 'notch top edge 10" to 20" right, 1\'-0" deep'),
    (feet(("0", "8'"), ("36 in", "8'"), ("36 in", "0"), ("14 in", "0"), ("14 in", "2'"), ("0", "2'")),
     'notch bottom left corner 14" wide, 2\'-0" long'),
    (feet(("0", "8'"), ("36 in", "8'"), ("36 in", "2'"), ("14 in", "2'"), ("14 in", "0"), ("0", "0")),
     'notch bottom right corner 22" wide, 2\'-0" long'),
    (feet(("0", "7'"), ("20 in", "7'"), ("20 in", "8'"), ("36 in", "8'"), ("36 in", "0"), ("0", "0")),
     'notch top left corner 20" wide, 1\'-0" long'),
    (feet(("0", "8'"), ("20 in", "8'"), ("20 in", "7'"), ("36 in", "7'"), ("36 in", "0"), ("0", "0")),
     'notch top right corner 16" wide, 1\'-0" long'),
    (feet(("0", "7'-9 in"), ("36 in", "8'"), ("36 in", "0"), ("0", "0")), 'trim top left corner 36" wide, 3" long'),
    (feet(("0", "8'"), ("36 in", "7'-9 in"), ("36 in", "0"), ("0", "0")), 'trim top right corner 36" wide, 3" long'),
    (feet(("0", "8'"), ("20 in", "8'"), ("36 in", "7'-9 in"), ("36 in", "0"), ("0", "0")),
     'trim top right corner 16" wide, 3" long'),
    (feet(("0", "8'"), ("36 in", "8'"), ("36 in", "0"), ("0", "3 in")), 'trim bottom left corner 36" wide, 3" long'),
    (feet(("0", "7'-6 in"), ("20 in", "8'"), ("36 in", "7'-9 in"), ("36 in", "0"), ("0", "0")),
     'trim top left corner 20" wide, 6" long; trim top right corner 16" wide, 3" long'),
    (feet(("0", "7'"), ("10 in", "7'"), ("12 in", "7'-6 in"), ("20 in", "8'"), ("36 in", "8'"), ("36 in", "0"),
          ("0", "0")),
     'cut away top left corner along 0" right 1\'-0" down, 10" right 1\'-0" down, 12" right 6" down, '
     '20" right 0" down'),
    (feet(("0", "8'"), ("36 in", "8'"), ("36 in", "7'"), ("30 in", "5'"), ("36 in", "4'"), ("36 in", "0"),
          ("0", "0")),
     'cut away right edge along 36" right 1\'-0" down, 30" right 3\'-0" down, 36" right 4\'-0" down'),
])
def test_each_form(outline: Ring, text: str) -> None:
    of = piece(outline)
    assert "; ".join(marks(of, INCH)) == text
    assert not is_plain(of)
    assert_rebuilds(of)


def test_holes_slits_and_spare() -> None:
    hole = feet(("6 in", "7'"), ("20 in", "7'"), ("20 in", "5'"), ("6 in", "5'"))
    odd = feet(("6 in", "3'"), ("20 in", "3'-6 in"), ("22 in", "2'"))
    of = piece(feet(("0", "8'"), ("36 in", "8'"), ("36 in", "0"), ("0", "0")), holes=(hole, odd),
               length=t("8'-0 1/4\""), width=t('38"'),
               slits=(Slit((t('10"'), 0), (t('10"'), t('9"')), ""), Slit((0, t('3"')), (t('4"'), t('3"')), ""),
                      Slit((0, 0), (t('4"'), t('4"')), "")))
    assert marks(of, INCH) == (
        'spare 2" at the right', 'spare 1/4" at the bottom',
        'hole 6" to 20" right, 1\'-0" to 3\'-0" down',
        'hole with corners 6" right 5\'-0" down, 20" right 4\'-6" down, 22" right 6\'-0" down',
        'slit 10" right, 7\'-3" to 8\'-0" down', 'slit 7\'-9" down, 0" to 4" right',
        'slit from 0" right 8\'-0" down to 4" right 7\'-8" down',
    )
    assert_rebuilds(of)


@pytest.mark.parametrize("x", [t('36 1/2"'), t('35"'), t('-1"'), t('1/2"'), t('18"')])
@pytest.mark.parametrize("y", [t("4'"), t("8'-0 1/2\""), t('1/2"')])
def test_sleeves_within_and_across_each_edge(x: int, y: int) -> None:
    """A sleeve cut by one edge is said by size, centre and crossings; by two edges, by its corners."""
    sheet = Polygon([(0, t("8'")), (t('36"'), t("8'")), (t('36"'), 0), (0, 0)])
    ring = circle_ring(x, y, t('4 1/2"'))
    shape = sheet.difference(Polygon(ring))
    of = piece(whole_ring(shape), holes=tuple(ring_of(i.coords[:-1]) for i in shape.interiors),
               sleeves=(("P1", x, y, t('4 1/2"')),))
    assert_rebuilds(of)
    edges = (x != t('18"')) + (y != t("4'"))
    said = "; ".join(marks(of, INCH))
    assert ('dia, centre' in said) == (edges < 2)
    assert ("crossing the" in said) == (edges == 1)


def test_a_strip_along_the_wall_lies_on_its_side() -> None:
    strip = piece(((0, 300), (4000, 300), (4000, 0), (500, 0), (500, 80), (0, 80)), length=4000, width=300)
    assert marks(strip, MM) == ("lies along the wall: right is along the piece",
                                "notch bottom left corner 500 mm wide, 80 mm long")
    assert_rebuilds(strip, MM)


@pytest.mark.parametrize("tag", ["<b>", "=cmd()", "; hole", "שרוול", "🌊", "a" * 13, ""])
def test_a_tag_that_is_not_plain_stays_out_of_the_text(tag: str) -> None:
    of = piece(feet(("0", "8'"), ("36 in", "8'"), ("36 in", "0"), ("0", "0")),
               holes=(circle_ring(t('10"'), t("4'"), t('4"')),), sleeves=((tag, t('10"'), t("4'"), t('4"')),))
    assert marks(of, INCH) == ('hole 4" dia, centre 10" right, 4\'-0" down',)


def largest(shape: BaseGeometry) -> Polygon:
    parts = list(shape.geoms) if isinstance(shape, MultiPolygon) else [shape]
    return max((part for part in parts if isinstance(part, Polygon)), key=lambda part: part.area)


BOXES = st.tuples(st.integers(-4, 40), st.integers(-4, 100), st.integers(1, 25), st.integers(1, 40))
TRIANGLES = st.lists(st.tuples(st.integers(-4, 40), st.integers(-4, 100)), min_size=3, max_size=3, unique=True)
CIRCLES = st.tuples(st.integers(-4, 40), st.integers(-4, 100), st.integers(3, 20))


PIECES = given(
    boxes=st.lists(BOXES, max_size=3), triangles=st.lists(TRIANGLES, max_size=2), circles=st.lists(CIRCLES, max_size=2),
    spare=st.integers(0, 3), unit=st.sampled_from([INCH, MM]))


def rebuilds(
    boxes: list[tuple[int, int, int, int]], triangles: list[list[tuple[int, int]]],
    circles: list[tuple[int, int, int]], spare: int, unit: Unit,
) -> None:
    """Cut shapes out of a sheet, say what is left in words, and check that the words give it back."""
    shape: BaseGeometry = Polygon(SQUARE)
    for x, y, wide, high in boxes:
        shape = shape.difference(Polygon([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]))
    for corners in triangles:
        triangle = Polygon(corners)
        if triangle.area:
            shape = shape.difference(triangle)
    for circle in circles:
        shape = shape.difference(Polygon(circle_ring(*circle)))
    left = largest(shape) if not shape.is_empty else Polygon()
    if left.area < 40:
        return
    holes = tuple(ring_of(i.coords[:-1]) for i in left.interiors)
    outline = ring_of(left.exterior.coords[:-1])
    whole = Polygon(outline, holes)
    if not whole.is_valid or any(len(hole) < 3 for hole in holes):
        return
    high = max(y for _, y in outline) - min(y for _, y in outline)
    of = piece(outline, holes=holes, length=high + spare, sleeves=tuple(("P", *circle) for circle in circles))
    if of.width > of.length:
        return
    assert_rebuilds(of, unit)


test_any_piece_rebuilds_from_its_text = settings(max_examples=80, deadline=None)(PIECES(rebuilds))
test_three_hundred_pieces_rebuild_from_their_texts = pytest.mark.slow(
    settings(max_examples=300, deadline=None)(PIECES(rebuilds)))
