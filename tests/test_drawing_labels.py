"""Where labels go: rows that spread, boxes that are taken, widths that are the font's own."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.drawing.labels import Places, around, first_free, inside_centres, spread_apart
from layout.drawing.model.entities import Box
from layout.drawing.model.fonts import CAP, EM, WIDTHS, shortened, text_box, width, wrapped

PLACES = st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=40).map(sorted)


@given(PLACES, st.floats(0.1, 500))
def test_spread_keeps_order_and_pitch(wanted: list[float], pitch: float) -> None:
    found = spread_apart(wanted, pitch)
    assert len(found) == len(wanted)
    assert all(after - before >= pitch - 1e-6 for before, after in pairwise(found))


@given(PLACES, st.floats(0.1, 500))
def test_spread_moves_nothing_that_is_apart_already(wanted: list[float], pitch: float) -> None:
    apart = [place + pitch * 1.001 * index for index, place in enumerate(wanted)]
    assert spread_apart(apart, pitch) == pytest.approx(apart, abs=1e-6)


def test_spread_of_equal_places_is_centred_on_them() -> None:
    assert spread_apart([10.0, 10.0, 10.0], 4.0) == pytest.approx([6.0, 10.0, 14.0])


def test_spread_stays_between_its_ends_while_there_is_room() -> None:
    assert spread_apart([0.0, 0.0], 4.0, low=0.0, high=20.0) == [0.0, 4.0]
    assert spread_apart([20.0, 20.0], 4.0, low=0.0, high=20.0) == [16.0, 20.0]


CORNER, SIZE = st.floats(-100, 100), st.floats(0.1, 60)
BOXES = st.tuples(CORNER, CORNER, SIZE, SIZE)


@given(st.lists(BOXES, max_size=15), BOXES)
def test_places_find_what_a_plain_search_finds(taken: list[tuple[float, float, float, float]],
                                               asked: tuple[float, float, float, float]) -> None:
    boxes = [Box(x, y, x + w, y + h) for x, y, w, h in taken]
    places = Places(12.0)
    for box in boxes:
        places.take(box)
    x, y, w, h = asked
    wanted = Box(x, y, x + w, y + h)
    assert places.free(wanted) == (not any(wanted.overlaps(box) for box in boxes))


def test_first_free_takes_the_room_it_finds() -> None:
    places, within = Places(10.0), Box(0, 0, 20, 10)
    centres = [(5.0, 5.0), (15.0, 5.0)]
    assert first_free(places, centres, wide=9, high=9, holds=within.holds) == (5.0, 5.0)
    assert first_free(places, centres, wide=9, high=9, holds=within.holds) == (15.0, 5.0)
    assert first_free(places, centres, wide=9, high=9, holds=within.holds) is None


def test_centres_begin_at_the_preferred_one_and_stay_inside() -> None:
    within = Box(0, 0, 10, 10)
    found = list(inside_centres(within, (4.0, 20.0), 2.0))
    assert found[0] == (4.0, 10.0)
    assert all(within.left <= x <= within.right and within.bottom <= y <= within.top for x, y in found)


def test_boxes_around_a_point_keep_clear_of_it() -> None:
    for x, y in around((0.0, 0.0), wide=8, high=2, clear=3, rings=2):
        assert not Box(x - 4, y - 1, x + 4, y + 1).overlaps(Box(-2.9, -2.9, 2.9, 2.9))


def test_the_line_over_something_taken_is_not_clear() -> None:
    places = Places(10.0)
    places.take(Box(4, 4, 6, 6))
    assert not places.clear_line((0, 0), (10, 10))
    assert places.clear_line((0, 10), (3, 10))


@pytest.mark.parametrize("strong", [False, True])
def test_widths_are_those_of_the_font_file(strong: bool) -> None:
    """The table against DejaVu Sans as matplotlib ships it."""
    from matplotlib.font_manager import FontProperties, findfont
    from matplotlib.ft2font import FT2Font, LoadFlags

    face = FT2Font(findfont(FontProperties(family="DejaVu Sans", weight="bold" if strong else "normal")))
    assert face.units_per_EM == EM
    for code, advance in WIDTHS[strong].items():
        assert face.load_char(code, flags=LoadFlags.NO_SCALE).horiAdvance == advance, chr(code)
    assert face.load_char(ord("H"), flags=LoadFlags.NO_SCALE).bbox[3] == CAP


def test_a_turned_text_box_reads_upward_from_its_anchor() -> None:
    level = text_box((0.0, 0.0), "A-01", 3.0)
    turned = text_box((0.0, 0.0), "A-01", 3.0, turned=True)
    assert (level.width, level.height) == pytest.approx((turned.height, turned.width))
    assert level.right == pytest.approx(width("A-01", 3.0))
    assert turned.top == pytest.approx(width("A-01", 3.0)) and turned.left == -3.0


def test_text_is_cut_and_wrapped_to_its_room() -> None:
    long = "a drop that is far too long to be written in one line of this column"
    assert width(shortened(long, 2.5, 30.0), 2.5) <= 30.0 and shortened(long, 2.5, 30.0).endswith("…")
    lines = wrapped(long, 2.5, 40.0)
    assert " ".join(lines) == long and all(width(line, 2.5) <= 40.0 for line in lines)
    broken = wrapped(f"a {'x' * 60} b", 2.5, 40.0)  # nothing of a word wider than the room is left out
    assert "".join(broken) == f"a{'x' * 60} b" and all(width(line, 2.5) <= 40.0 for line in broken)
    assert len(broken) > 2 and wrapped("", 2.5, 40.0) == [""] and wrapped("xx", 2.5, 0.1) == ["x", "x"]
