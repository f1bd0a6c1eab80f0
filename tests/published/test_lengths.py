"""Published figures about lengths: the inch, and rounding to sixteenths."""

from __future__ import annotations

from fractions import Fraction

import pytest

from layout.units import INCH, MM, MM_PER_INCH, read_length, round_ticks, tape


def test_nist_handbook_44_appendix_c_inch_is_25_4_mm_exactly() -> None:
    assert MM_PER_INCH == Fraction(127, 5)
    assert read_length("1 in", MM) == Fraction(127, 5)
    assert read_length("25.4 mm", INCH) == 16
    assert read_length("1 ft", MM) == Fraction("304.8")


@pytest.mark.parametrize(("inches", "shown"), [
    ("11.96875", "1'-0\""),   # 191.5 sixteenths: a half, up
    ("71.99", "6'-0\""),      # 1151.84 sixteenths
    ("1/32", '1/16"'),        # half a sixteenth, up
])
def test_6_9_rounding_to_a_sixteenth_halves_up(inches: str, shown: str) -> None:
    """Worked by hand."""
    assert tape(round_ticks(read_length(inches, INCH), "nearest"), INCH) == shown


def test_floats_do_not_flip_exact_multiples() -> None:
    """0.1 mm steps: 0.1 + 0.2 is not 0.3 in floating point; as text each is exact (worked by hand)."""
    assert read_length("0.1", MM) + read_length("0.2", MM) == read_length("0.3", MM)
    assert read_length(0.1, MM) * 10 == 1
