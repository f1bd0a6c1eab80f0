"""Patterns of covers: their cards for the rolls, their dimensions, and what stands beside them in details."""

from __future__ import annotations

import re

import pytest

from helpers.drawing_plans import sample_plan
from helpers.frozen import frozen_plan
from helpers.packets import short_plan
from layout.drawing.fold_details import fold_details
from layout.drawing.listing import overlapping, texts
from layout.drawing.model.entities import Box, Dimension, Polyline, walk
from layout.drawing.patterns import pattern_cards, told_apart
from layout.records import Plan


@pytest.fixture(scope="module", params=["hillside", "metric"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return sample_plan(request.param)


def test_places_that_no_blade_tells_apart_have_one_dimension() -> None:
    """The far end goes before the corner beside it, a corner before the fold beside it; two ticks apart are two."""
    assert told_apart([0, 96, 97, 192, 193], [95.6, 150.2]) == [96, 150, 193]
    assert told_apart([0, 40], [41.4]) == [40]
    assert told_apart([0, 40, 42]) == [40, 42]


def test_every_cover_has_a_pattern_card_at_1_to_8_or_larger(plan: Plan) -> None:
    """Every corner and end of a slit is measured from the lower left corner of what is cut, as near as a blade can."""
    covers = {piece.tag: piece for piece in plan.pieces if piece.laid and "strip" not in piece.kind}
    cards = pattern_cards(plan, wide=400.0, high=240.0)
    shown = [tag for card in cards for tag in card.title.removeprefix("Pattern of ").split(", ")]
    assert sorted(shown) == sorted(covers)
    for card in cards:
        assert card.scale <= 8 and overlapping(texts(card)) == []
        piece = covers[card.title.removeprefix("Pattern of ").split(", ")[0]]
        left = min(x for x, _ in piece.outline)
        low = max(y for _, y in piece.outline) - piece.length  # of the rectangle that is cut, spare included
        said = {(each.measure, round(each.end[0 if each.measure == "station" else 1]))
                for each in walk(card.entities) if isinstance(each, Dimension)}
        for x, y in [*piece.outline, *(end for slit in piece.slits for end in (slit.start, slit.end))]:
            for measure, at in (("station", x - left), ("level", y - low)):
                assert at <= 1 or any((measure, at + off) in said for off in (-1, 0, 1))
        names = " ".join(text.text for text in texts(card)).replace("\n", " ")
        assert all(word in names for laid in piece.laid for word in laid.on.split())


def test_a_metric_card_says_its_unit_once() -> None:
    """And every figure on it is a whole number of it; feet and inches are marks on the figure and stay there."""
    cards = pattern_cards(sample_plan("metric"), wide=400.0, high=240.0)
    for card in cards:
        assert sum(len(re.findall(r"\bmm\b", text.text)) for text in texts(card)) == 1
        figures = [each.text for each in walk(card.entities) if isinstance(each, Dimension)]
        assert figures and all(figure.isdigit() for figure in figures)
    assert any("footing cover, 400 by 400," in text.text for card in cards for text in texts(card))
    for card in pattern_cards(sample_plan("basement"), wide=400.0, high=240.0):
        assert all(each.text.endswith('"') for each in walk(card.entities) if isinstance(each, Dimension))


def test_nothing_of_the_concrete_hangs_below_a_detail() -> None:
    """The sill of a window is not drawn under the gusset at its head."""
    for each in fold_details(frozen_plan("nook")):
        drawn = [entity for entity in walk(each.drawing.entities)
                 if isinstance(entity, Polyline) and entity.layer in ("beyond", "cover")]
        groups = _touching(drawn)
        assert all(any(entity.layer == "cover" for entity in group) for group in groups), each.drawing.title


def _touching(lines: list[Polyline]) -> list[list[Polyline]]:
    """Return outlines by what hangs together: whose boxes meet."""
    groups: list[list[Polyline]] = []
    for line in lines:
        near = [group for group in groups if any(_meet(line, other) for other in group)]
        groups = [group for group in groups if group not in near]
        groups.append([line, *(each for group in near for each in group)])
    return groups


def _meet(one: Polyline, other: Polyline) -> bool:
    def box(line: Polyline) -> Box:
        xs, ys = [x for x, _ in line.points], [y for _, y in line.points]
        return Box(min(xs) - 1, min(ys) - 1, max(xs) + 1, max(ys) + 1)

    return box(one).overlaps(box(other))


def test_spare_beside_a_pattern_is_measured_with_it() -> None:
    """Cut lengths go up to the next foot: what is measured up from the cut's lower corner begins below the shape."""
    plan = short_plan("""
job: {name: Spare}
sheet: {width: 36, rolls: [{length: 66'-8"}]}
rules: {turn_down: 4, base_strip: 18, cut_to: 12 in}
runs:
  - name: A
    faces:
      - {name: South, length: 12 ft, top: 8 ft, ledge: 6, footing_depth: 12, corner: outside}
      - {name: East, length: 12 ft, top: 8 ft, ledge: 6, footing_depth: 12}
""")
    card, = pattern_cards(plan, wide=400.0, high=240.0)
    cover, = [piece for piece in plan.pieces if piece.kind == "footing cover"]
    assert (cover.width, cover.length) == (16 * 16, 24 * 16)  # 16 in of shape in 24 in of sheet
    levels = {each.text for each in walk(card.entities) if isinstance(each, Dimension) and each.measure == "level"}
    assert levels == {'8"', '12"', '17 1/4"', '24"'}  # foot, face's fold 4 in up, ledge 5 1/4 in past that, top
