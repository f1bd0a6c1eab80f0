"""Elevations of every sample: labels apart and in their drops, tags once, dimensions that say what the plan says."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import pytest

from helpers.drawing_plans import SAMPLES, sample_plan
from helpers.thinned import slow_where
from layout.drawing.elevations import Elevation, elevation, face_elevations, scale_words, strip
from layout.drawing.listing import listing, overlapping, texts
from layout.drawing.model.blocks import BLOCKS
from layout.drawing.model.entities import (
    PLOTTED_MM, Box, Dimension, Drawing, Group, Hatch, Insert, Line, Polyline, Text, walk,
)
from layout.drawing.model.plain import plain
from layout.errors import DrawingError
from layout.records import Opening, Plan
from layout.shapes import outline_polygon, rectangle
from layout.units import INCH, MM, tape

Faces = dict[tuple[str, str, str], Elevation]


@pytest.fixture(scope="module", params=slow_where(lambda name: name == "metric", SAMPLES))
def plan(request: pytest.FixtureRequest) -> Plan:
    return sample_plan(request.param)


@pytest.fixture(scope="module")
def faces(plan: Plan) -> Faces:
    return face_elevations(plan)


@pytest.fixture(scope="module")
def strips(plan: Plan) -> list[Drawing]:
    layers = sorted({drop.layer for drop in plan.drops})
    return [strip(plan, run.name, layer=layer) for run in plan.job.runs for layer in layers]


def groups(drawing: Drawing) -> list[Group]:
    return [entity for entity in drawing.entities if isinstance(entity, Group)]


def tags(entities: object) -> list[Insert]:
    return [entity for entity in walk(entities)  # type: ignore[arg-type]
            if isinstance(entity, Insert) and any(slot.tag == "TAG" for slot in BLOCKS[entity.block].slots)]


def test_no_text_lies_on_another(faces: Faces, strips: list[Drawing]) -> None:
    for drawing in (*(face.whole() for face in faces.values()), *strips):
        pairs = overlapping(texts(drawing))
        assert [(a.text, b.text) for a, b in pairs] == [], drawing.name


def test_no_text_plots_too_small(plan: Plan, faces: Faces, strips: list[Drawing]) -> None:
    least = PLOTTED_MM[plan.job.unit.name]
    for drawing in (*(face.whole() for face in faces.values()), *strips):
        assert min(text.height for text in texts(drawing)) >= least


def test_every_text_lies_within_the_frame(faces: Faces) -> None:
    for face in faces.values():
        drawing = face.whole()
        one = drawing.on_wall(1.0)
        frame = drawing.frame
        on_paper = Box(frame.left / one, frame.bottom / one, frame.right / one, frame.top / one)
        assert all(on_paper.holds(text.box) for text in texts(drawing)), drawing.name


def test_a_label_written_in_a_drop_stays_in_it(plan: Plan, faces: Faces, strips: list[Drawing]) -> None:
    """Tags, numbers and lengths of the field lie wholly in the sheet they belong to, unless a leader leads there."""
    pieces = {piece.tag: piece for piece in plan.pieces}
    lengths = {wall.run: wall.length for wall in plan.walls}
    inside = 0
    for drawing in (*(face.bare for face in faces.values()), *strips):
        one = drawing.on_wall(1.0)
        for group in groups(drawing):
            piece = pieces[group.tag]
            if not piece.drop:
                continue
            shapes = [outline_polygon(tuple((x + shift, y) for x, y in piece.outline),
                                      [tuple((x + shift, y) for x, y in hole) for hole in piece.holes])
                      for shift in (-lengths[piece.run], 0, lengths[piece.run])]
            for text in (each for each in texts(replace(drawing, entities=(group,)))):
                box = rectangle(text.box.left * one, text.box.bottom * one, text.box.right * one, text.box.top * one)
                assert any(shape.contains(box) for shape in shapes), (drawing.name, group.tag, text.text)
                inside += 1
    assert inside > len(plan.drops)


def test_every_drop_is_tagged_once_over_all_faces(plan: Plan, faces: Faces) -> None:
    found = Counter(dict(insert.values)["TAG"] for face in faces.values() for insert in tags(face.bare.entities))
    assert found == Counter(piece.tag for piece in plan.pieces if piece.flat)


def test_every_number_and_every_length_is_written(plan: Plan, faces: Faces, strips: list[Drawing]) -> None:
    """In the drop where there is room, and in the row below where there is none."""
    for drawings in ([made.bare for made in faces.values()], strips):
        numbers: Counter[str] = Counter()
        lengths: Counter[str] = Counter()
        for drawing in drawings:
            for group in groups(drawing):
                said = [text.text for text in texts(replace(drawing, entities=(group,)))]
                numbers[group.tag] += sum(text.isdigit() for text in said)
                lengths[group.tag] += sum("'" in text or "mm" in text or '"' in text for text in said)
            for text in texts(drawing):
                below = re.fullmatch(r"(?:\[\d+\] )?(\S+) (goes on \d+)?(?:, )?(cut .+)?", text.text)
                if below:
                    numbers[below[1]] += bool(below[2])
                    lengths[below[1]] += bool(below[3])
        assert all(sum(numbers[tag] for tag in drop.pieces) == 1 for drop in plan.drops)
        assert all(lengths[piece.tag] >= 1 for piece in plan.pieces if piece.drop and piece.flat)


def test_a_strip_tags_every_flat_piece_once(plan: Plan, strips: list[Drawing]) -> None:
    found = Counter(dict(insert.values)["TAG"] for drawing in strips for insert in tags(drawing.entities))
    assert found == Counter(piece.tag for piece in plan.pieces if piece.flat)


def test_a_tag_is_put_on_its_piece(plan: Plan, strips: list[Drawing]) -> None:
    pieces = {piece.tag: piece for piece in plan.pieces}
    for drawing in strips:
        for insert in tags(drawing.entities):
            piece = pieces[dict(insert.values)["TAG"]]
            x, y = insert.at
            assert outline_polygon(piece.outline).intersects(rectangle(x - 1, y - 1, x + 1, y + 1)), piece.tag


def test_a_strip_has_each_outline_as_the_plan_has_it(plan: Plan, strips: list[Drawing]) -> None:
    drawn = {entity.piece: entity.points for drawing in strips for entity in walk(drawing.entities)
             if isinstance(entity, Polyline) and entity.piece}
    assert set(drawn) == {piece.tag for piece in plan.pieces if piece.flat}
    for piece in plan.pieces:
        if piece.flat:
            assert sorted(drawn[piece.tag]) == sorted(piece.outline)


def test_every_seam_has_its_station_from_the_face_s_left_end(plan: Plan, faces: Faces) -> None:
    stations = Counter()
    for (run, face, layer), made in faces.items():
        left = next(span.left for wall in plan.walls if (wall.run, wall.layer) == (run, layer)
                    for span in wall.faces if span.name == face)
        for entity in walk(made.bare.entities):
            if isinstance(entity, Dimension) and entity.measure == "station" and entity.at[1] > entity.end[1]:
                assert entity.start[0] == left
                assert entity.text.removesuffix(entity.suffix) == tape(round(entity.end[0] - left), plan.job.unit)
                stations[run, layer, round(entity.end[0])] += 1
    lengths = {(wall.run, wall.layer): wall.length for wall in plan.walls}
    wanted = Counter((seam.run, seam.layer, (seam.right_edge if seam.over == seam.left else seam.left_edge)
                      % lengths[seam.run, seam.layer]) for seam in plan.seams)
    assert stations == wanted


def test_openings_and_sleeves_are_dimensioned(plan: Plan, faces: Faces) -> None:
    for run in plan.job.runs:
        for face in run.faces:
            said = " | ".join(text.text for text in texts(faces[run.name, face.name, "membrane"].bare))
            for opening in face.openings:
                for at in (opening.left, opening.left + opening.width):
                    assert f"{tape(at, plan.job.unit)} {opening.tag}" in said
                for level in (opening.sill, opening.sill + opening.height):
                    assert tape(level, plan.job.unit) in said
            for sleeve in face.sleeves:
                assert f"{tape(sleeve.at, plan.job.unit)} {sleeve.tag}" in said
                assert re.search(rf"{sleeve.tag}(?: \| | )Ø", said) and tape(sleeve.elevation, plan.job.unit) in said


def test_every_dimension_says_what_it_measures(plan: Plan, faces: Faces, strips: list[Drawing]) -> None:
    for drawing in (*(face.bare for face in faces.values()), *strips):
        for entity in walk(drawing.entities):
            if not isinstance(entity, Dimension) or entity.text == entity.suffix:
                continue
            axis = 0 if entity.measure in ("across", "station") else 1
            length = entity.end[axis] - entity.start[axis]
            assert entity.text.removesuffix(entity.suffix) == tape(round(length), plan.job.unit)


def test_laps_show_which_drop_is_over(plan: Plan, faces: Faces) -> None:
    """At every side lap the mark points away from the drop on top, and only that drop's edge is drawn on top."""
    for seam in plan.seams[:40]:
        left, right = ([piece for piece in plan.pieces if piece.drop == tag] for tag in (seam.left, seam.right))
        if len(left) > 1 or len(right) > 1:
            continue
        for made in faces.values():
            if (made.view.wall.run, made.view.wall.layer) != (seam.run, seam.layer):
                continue
            shown = {group.tag: group for group in reversed(groups(made.bare))}  # labels drawn last come second
            low, high = seam.left_edge, seam.right_edge
            if made.view.left < low and high < made.view.right and {left[0].tag, right[0].tag} <= set(shown):
                over, under = (left[0], right[0]) if seam.over == seam.left else (right[0], left[0])
                top_x, hidden_x = (high, low) if seam.over == seam.left else (low, high)
                assert upright_edge(shown[over.tag], top_x) and not upright_edge(shown[under.tag], hidden_x)


def upright_edge(group: Group, x: float) -> bool:
    """Tell whether an edge on top runs upright at a station; a sloped top can stick out by a tick."""
    return any(entity.layer == "edge" and any(a[0] == b[0] == x and abs(a[1] - b[1]) > 16
                                              for a, b in zip(entity.points, entity.points[1:]))
               for entity in group.entities if isinstance(entity, Polyline))


def test_drops_that_turn_a_corner_bear_a_mark_on_both_faces(plan: Plan, faces: Faces) -> None:
    marked: Counter[str] = Counter()
    for made in faces.values():
        for group in groups(made.bare):
            marked[group.tag] += sum(isinstance(each, Insert) and each.block.startswith("ON-")
                                     for each in group.entities)
    for tag, times in marked.items():
        shown = sum(any(group.tag == tag for group in groups(made.bare)) for made in faces.values())
        piece = next(piece for piece in plan.pieces if piece.tag == tag)
        if piece.drop:
            assert times <= 2 * (shown - 1)
    crossing = [drop for wall in plan.walls if wall.layer == "membrane" for drop in plan.drops
                if (drop.run, drop.layer) == (wall.run, wall.layer)
                and any(drop.left + 400 < span.right < drop.right - 400 for span in wall.faces[:-1])]
    assert all(sum(marked[tag] for tag in drop.pieces) >= 2 for drop in crossing)


def test_the_closing_seam_stands_out(plan: Plan, strips: list[Drawing]) -> None:
    tucked = sum(seam.tuck for seam in plan.seams)
    drawn = sum(isinstance(entity, Line) and entity.layer == "closing" for drawing in strips
                for entity in drawing.entities)
    assert bool(drawn) == bool(tucked)


def test_a_strip_is_at_the_scale_it_says(plan: Plan) -> None:
    run = plan.job.runs[0]
    drawing = elevation(plan, run.name, run.faces[0].name)
    assert drawing.scale == {"in": 48, "mm": 50}[plan.job.unit.name]
    assert drawing.on_wall(25.4) == pytest.approx(25.4 * drawing.scale / float(plan.job.unit.tick_mm))


def test_every_writer_s_view_of_an_entity_is_kept(faces: Faces) -> None:
    """Taking dimensions, symbols and hatches apart leaves lines, circles, text and groups, and loses no text."""
    for made in faces.values():
        one = made.bare.on_wall(1.0)
        kinds = {type(entity).__name__ for entity in walk(plain(made.bare.entities, one=one))}
        assert kinds <= {"Line", "Polyline", "Circle", "Text"}
        wanted = sum(isinstance(entity, (Text, Dimension)) for entity in walk(made.bare.entities))
        wanted += sum(not slot.hidden for entity in walk(made.bare.entities) if isinstance(entity, Insert)
                      for slot in BLOCKS[entity.block].slots)
        assert len(texts(made.bare)) == wanted


def test_what_nobody_can_draw_is_an_error() -> None:
    made = elevation(sample_plan("basement"), "A", "South")
    strange = replace(made, entities=(*made.entities, "a scribble"))  # type: ignore[arg-type]
    with pytest.raises(DrawingError, match="cannot draw a str"):
        listing(strange)


def test_a_face_that_is_not_there_is_an_error() -> None:
    with pytest.raises(DrawingError, match="run A has no face named 'Attic'"):
        elevation(sample_plan("basement"), "A", "Attic")
    with pytest.raises(DrawingError, match="no run named 'Z'"):
        strip(sample_plan("basement"), "Z")


def test_the_listing_names_layers_and_pieces() -> None:
    lines = listing(elevation(sample_plan("basement"), "A", "East"))
    assert any(line.startswith("group A-") and "goes on as number" in line for line in lines)
    assert any("Z-MEMB-LAPS-N: hatch" in line for line in lines)


def test_a_hatch_is_filled_from_edge_to_edge() -> None:
    hatch = Hatch("lap", (((0.0, 0.0), (0.0, 100.0), (100.0, 100.0), (100.0, 0.0)),), spacing=10.0)
    lines = [line for line in plain([hatch], one=1.0) if isinstance(line, Line)]
    total = sum(((line.end[0] - line.start[0]) ** 2 + (line.end[1] - line.start[1]) ** 2) ** 0.5 for line in lines)
    assert total * 10.0 == pytest.approx(100.0 * 100.0, rel=0.02)  # each line stands for a band as wide as the spacing
    assert all(line.end[1] - line.start[1] == pytest.approx(line.end[0] - line.start[0]) for line in lines)


def test_long_names_of_openings_still_find_room() -> None:
    """A label that fits nowhere near goes to the row below, and nothing overlaps."""
    plan = sample_plan("basement")
    run = plan.job.runs[0]
    face = replace(run.faces[0], openings=tuple(
        Opening(f"W{n} north-east ventilator", "vent", 16 * (30 + 9 * n), 16 * 60, 16 * 6, 16 * 6) for n in range(12)))
    job = replace(plan.job, runs=(replace(run, faces=(face, *run.faces[1:])), *plan.job.runs[1:]))
    drawing = elevation(replace(plan, job=job), run.name, face.name)
    assert overlapping(texts(drawing)) == []
    said = [text.text for text in texts(drawing)]
    assert all(any(f"W{n} north-east ventilator" in text for text in said) for n in range(12))


def test_scales_are_spoken_of_as_drafters_do() -> None:
    assert scale_words(96, INCH) == '1/8" = 1\'-0" (1:96)'
    assert scale_words(20, MM) == "1:20" and scale_words(7, INCH) == "1:7"


def test_words_too_long_for_a_row_are_numbered_and_explained() -> None:
    plan = sample_plan("basement")
    run = plan.job.runs[0]
    name = "the old coal chute behind the boiler room, bricked up since"
    face = replace(run.faces[0], openings=(Opening(name, "hatch", 16 * 30, 16 * 60, 16 * 6, 16 * 6),))
    job = replace(plan.job, runs=(replace(run, faces=(face, *run.faces[1:])), *plan.job.runs[1:]))
    drawing = elevation(replace(plan, job=job), run.name, face.name)
    said = [text.text for text in texts(drawing)]
    assert overlapping(texts(drawing)) == []
    assert any(re.fullmatch(r"2'-6\" \[\d\]", text) for text in said)
    for words in (f"{name} left", f"{name} right"):
        assert any(re.fullmatch(r"\[\d\] " + re.escape(words), text) for text in said)
