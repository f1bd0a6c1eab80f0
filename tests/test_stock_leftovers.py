"""What the stock book reads of a packet's rolls is bounded."""

from __future__ import annotations

import json

import pytest

from layout.job.leftovers import read_packet


def packet(**left: float) -> str:
    """Return the rolls of a packet with one roll."""
    leftover = {"length": 120.0, "width": 36.0, "keep": True, **left}
    return json.dumps({"rolls": [
        {"tag": "R01", "product": "membrane", "stock": "66'-8\"", "remnant": False, "leftover": leftover}]})


def test_a_leftover_is_read() -> None:
    assert read_packet(packet()).rolls[0].leftover.length == 120


@pytest.mark.parametrize("left", [{"length": 1.7e308}, {"width": 1.7e308}, {"length": -1.0}])
def test_a_leftover_that_no_roll_can_have_is_refused(left: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=rf"^rolls\.0\.leftover\.{next(iter(left))}: "):
        read_packet(packet(**left))
