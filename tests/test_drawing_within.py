"""What is drawn of a drawing within a window: everything that may be seen there, in order, and little else."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from layout.drawing.model.entities import Box, Circle, Dimension, Entity, Group, Hatch, Insert, Line, Polyline, Text
from layout.drawing.model.plain import plain, plain_within
from layout.errors import DrawingError

SQUARE = ((0.0, 10.0), (10.0, 10.0), (10.0, 0.0), (0.0, 0.0))


def shifted(by: float) -> list[Entity]:
    """Return one entity of each kind, 10 wide, from a station on."""
    ring = tuple((x + by, y) for x, y in SQUARE)
    return [
        Polyline("wall", ring), Hatch("lap", (ring,), spacing=1.0, angle=45), Line("fold", ring[0], ring[2]),
        Circle("sleeve", (by + 5, 5.0), 5.0), Insert("sleeve", "CENTRE", (by + 5, 5.0)),
        Dimension("dims", "across", ring[0], ring[1], (by, 12.0), "10", 2.0),
        Group("A-01", "a group", (Text("text", (by + 5, 5.0), "word", 2.0, "centre"),)),
    ]


def flat(entities: list[Entity]) -> list[str]:
    """Return what is drawn of entities, groups opened."""
    opened: list[str] = []
    for entity in plain(entities, one=1.0):
        opened += [repr(part) for part in entity.entities] if isinstance(entity, Group) else [repr(entity)]
    return opened


def test_a_window_shows_what_lies_in_it_in_order_and_nothing_far_from_it() -> None:
    entities = [*shifted(0), *shifted(100), *shifted(200)]
    seen = [repr(part) for part in plain_within(entities, Box(90, -20, 130, 30), one=1.0)]
    assert seen == flat(shifted(100))


def test_a_window_that_holds_everything_shows_everything() -> None:
    entities = [*shifted(0), *shifted(100)]
    assert [repr(part) for part in plain_within(entities, Box(-50, -50, 200, 50), one=1.0)] == flat(entities)


def test_an_upright_line_in_a_window_is_seen() -> None:
    line = Line("wall", (5.0, 0.0), (5.0, 10.0))
    assert list(plain_within([line], Box(0, 2, 10, 8), one=1.0)) == [line]
    assert list(plain_within([line], Box(6, 2, 10, 8), one=1.0)) == []


def test_what_cannot_be_drawn_raises_wherever_it_lies() -> None:
    @dataclass(frozen=True)
    class Strange:
        layer: str = "wall"

    with pytest.raises(DrawingError):
        list(plain_within([Strange()], Box(0, 0, 1, 1), one=1.0))  # type: ignore[list-item]
