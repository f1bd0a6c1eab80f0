"""Building models give the walls that someone would have written by hand; what is not understood is named."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from cli import main
from helpers.ifc_models import FT, IN, Building, rectangle
from layout.errors import JobError
from layout.job import read_job_text
from layout.job.ifc import model as ifc_model
from layout.job.ifc import trace_model
from layout.job.ifc.apart import apart
from layout.records import Run

pytest.importorskip("ifcopenshell", reason="IfcOpenShell is not installed: pip install 'lapwright[ifc]'")

HEAD = """
job: {name: By hand}
units: UNIT
sheet: {name: sheet, width: WIDE, rolls: [{length: 20 m}]}
runs:
"""


def by_hand(runs: str, unit: str) -> tuple[Run, ...]:
    """Return the runs of a job written by hand."""
    head = HEAD.replace("UNIT", unit).replace("WIDE", "36" if unit == "in" else "1000")
    return read_job_text(head + runs, "hand").runs


def traced(path: Path, **how: object) -> tuple[Run, ...]:
    """Return the runs of a traced model."""
    return read_job_text(trace_model(path, **how).text, "traced").runs  # type: ignore[arg-type]


def faults_of(path: Path, **how: object) -> list[str]:
    """Return the faults told of a model."""
    with pytest.raises(JobError) as caught:
        trace_model(path, **how)  # type: ignore[arg-type]
    lines = caught.value.lines()
    assert lines and all(line.isprintable() for line in lines)
    return lines


# --- five models -------------------------------------------------------------------------------

def test_a_rectangle_in_millimetres_on_strip_footings(tmp_path: Path) -> None:
    made = Building("IFC4", "MILLIMETRE")
    rectangle(made, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1)
    corners = [(0.0, 0.0), (12.0, 0.0), (12.0, 8.0), (0.0, 8.0)]
    for start, end in zip(corners, [*corners[1:], corners[0]]):
        made.footing("strip", start, end, ledge=0.15, wide=0.55, low=-2.9, high=-2.6)
    face = "top: -100, footing: -2600, ledge: 150, footing_depth: 300, corner: outside"
    assert traced(made.saved(tmp_path / "m.ifc")) == by_hand(f"""
  - name: A
    closed: true
    faces:
      - {{name: South, length: 12000, {face}}}
      - {{name: East, length: 8000, {face}}}
      - {{name: North, length: 12000, {face}}}
      - {{name: West, length: 8000, {face}}}
""", "mm")


def test_an_l_with_a_step_and_an_inside_corner(tmp_path: Path) -> None:
    """The east wall and its footing step down 400 mm, 3 m from its left end; the court makes an inside corner."""
    made = Building("IFC4", "METRE")
    thick, low, high = 0.3, -2.5, 0.0
    deep = low - 0.4
    made.wall("South", (0.0, 0.0), (10.0, 0.0), thick=thick, low=low, high=high)
    made.mesh_wall("East", [(0.0, low), (3.0 - thick, low), (3.0 - thick, deep), (9.0 - thick, deep),
                            (9.0 - thick, high), (0.0, high)], (10.0, thick, 0.0), 90.0, thick=thick)
    made.wall("North", (10.0 - thick, 9.0), (6.0, 9.0), thick=thick, low=deep, high=high)
    made.wall("Court", (6.0, 9.0 - thick), (6.0, 5.0 - thick), thick=thick, low=deep, high=high)
    made.wall("Court side", (6.0, 5.0), (0.0, 5.0), thick=thick, low=deep, high=high)
    made.wall("West", (0.0, 5.0 - thick), (0.0, thick), thick=thick, low=low, high=high)
    made.footing("s", (0.0, 0.0), (10.0, 0.0), ledge=0.2, wide=0.7, low=low - 0.3, high=low)
    made.footing("e1", (10.0, 0.0), (10.0, 3.0), ledge=0.2, wide=0.7, low=low - 0.3, high=low)
    made.footing("e2", (10.0, 3.0), (10.0, 9.0), ledge=0.2, wide=0.7, low=deep - 0.3, high=deep)
    made.footing("n", (10.0, 9.0), (6.0, 9.0), ledge=0.2, wide=0.7, low=deep - 0.3, high=deep)
    made.footing("c", (6.0, 9.0), (6.0, 5.0), ledge=0.2, wide=0.7, low=deep - 0.3, high=deep)
    made.footing("cs", (6.0, 5.0), (0.0, 5.0), ledge=0.2, wide=0.7, low=deep - 0.3, high=deep)
    made.footing("w", (0.0, 5.0), (0.0, 0.0), ledge=0.2, wide=0.7, low=low - 0.3, high=low)
    rest = "top: 0, ledge: 200, footing_depth: 300"
    assert traced(made.saved(tmp_path / "m.ifc")) == by_hand(f"""
  - name: A
    closed: true
    faces:
      - {{name: South, length: 10 m, footing: -2500, corner: outside, {rest}}}
      - {{name: East, length: 9 m, footing: [[0, -2500], [3 m, -2500], [3 m, -2900], [9 m, -2900]], corner: outside,
          {rest}}}
      - {{name: North, length: 4 m, footing: -2900, corner: outside, {rest}}}
      - {{name: Court, length: 4 m, footing: -2900, corner: inside, {rest}}}
      - {{name: Court side, length: 6 m, footing: -2900, corner: outside, {rest}}}
      - {{name: West, length: 5 m, footing: -2500, corner: outside, {rest}}}
""", "mm")


@pytest.mark.parametrize("schema", ["IFC4", "IFC2X3"])
def test_openings_and_pipes_in_feet(tmp_path: Path, schema: str) -> None:
    made = Building(schema, "FOOT", (("Basement", -8 * FT), ("Ground", 0.0)))
    low, high, thick = -8 * FT, 0.5 * FT, 10 * IN
    walls = rectangle(made, 40 * FT, 24 * FT, thick=thick, low=low, high=high)
    made.opening(walls["South"], "W1", left=10 * FT, sill=5 * FT, wide=3 * FT, high=2 * FT, thick=thick,
                 fill="IfcWindow", low=low)
    made.opening(walls["South"], "D1", left=30 * FT, sill=0.0, wide=3 * FT, high=6 * FT + 8 * IN, thick=thick,
                 fill="IfcDoor", low=low)
    made.opening(walls["South"], "Niche", left=20 * FT, sill=3 * FT, wide=2 * FT, high=2 * FT, thick=thick,
                 deep=4 * IN, low=low)
    made.round_void(walls["East"], "P7", at=6 * FT, up=2 * FT, across=6 * IN, thick=thick)
    made.pipe(walls["East"], "sewer", at=6 * FT, up=2 * FT, across=4 * IN)
    made.pipe(walls["West"], "P8", at=5 * FT, up=3 * FT, across=4.5 * IN)
    wall = made.wall("Ground wall", (0.0, 0.0), (40 * FT, 0.0), thick=thick, low=high, high=high + 9 * FT,
                     storey="Ground")
    result = trace_model(made.saved(tmp_path / "m.ifc"))
    assert read_job_text(result.text, "t").runs == by_hand("""
  - name: A
    closed: true
    faces:
      - name: South
        length: 40'-0"
        top: 6
        footing: -8'-0"
        ledge: 4
        corner: outside
        openings:
          - {tag: W1, kind: window, left: 10'-0", sill: -3'-0", width: 3'-0", height: 2'-0"}
          - {tag: D1, kind: door, left: 30'-0", sill: -8'-0", width: 3'-0", height: 6'-8"}
      - name: East
        length: 24'-0"
        top: 6
        footing: -8'-0"
        ledge: 4
        corner: outside
        sleeves: [{tag: P7, at: 6'-10", elevation: -6'-0", diameter: 6}]
      - {name: North, length: 40'-0", top: 6, footing: -8'-0", ledge: 4, corner: outside}
      - name: West
        length: 24'-0"
        top: 6
        footing: -8'-0"
        ledge: 4
        corner: outside
        sleeves: [{tag: P8, at: 5'-10", elevation: -5'-0", diameter: 4 1/2}]
""", "in")
    assert any("goes through IfcOpeningElement" in line for line in result.told), result.told
    assert any("does not reach the soil side" in line for line in result.told)
    assert wall.GlobalId not in result.text
    assert result.text.count("FILL IN: how far the footing projects") == 4


def test_rotated_mirrored_and_far_off(tmp_path: Path) -> None:
    """Turned by 37 degrees, 3 km off, two shapes mirrored: the same walls."""
    made = Building("IFC2X3", "MILLIMETRE")
    walls = rectangle(made, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1, at=(3000.0, -2000.0), turn=37.0)
    made.mirrored(walls["North"])
    made.mirrored(walls["South"])
    made.pipe(walls["North"], "P1", at=2.0, up=1.0, across=0.16, kind="IfcBuildingElementProxy").ObjectType = \
        "ProvisionForVoid"
    face = "top: -100, footing: -2600, ledge: 100, corner: outside"
    assert traced(made.saved(tmp_path / "m.ifc")) == by_hand(f"""
  - name: A
    closed: true
    faces:
      - {{name: South, length: 12000, {face}}}
      - {{name: East, length: 8000, {face}}}
      - {{name: North, length: 12000, {face}, sleeves: [{{tag: P1, at: 2000, elevation: -1600, diameter: 160}}]}}
      - {{name: West, length: 8000, {face}}}
""", "mm")


def test_an_open_run_in_feet_with_an_angle_and_a_side(tmp_path: Path) -> None:
    """Two walls that meet at 45 degrees, drawn with the soil on their left."""
    made = Building("IFC4", "FOOT", (("Lower", -10 * FT),))
    low, high, thick = -9 * FT, -1 * FT, 8 * IN
    made.wall("Long", (0.0, 0.0), (30 * FT, 0.0), thick=thick, low=low, high=high)
    made.wall("Wing", (30 * FT, 0.0), (30 * FT + 10 * FT, 10 * FT), thick=thick, low=low, high=high)
    path = made.saved(tmp_path / "m.ifc")
    assert any("must be one of walls that close a loop, or the side of the soil must be told" in line
               for line in faults_of(path))
    right, = traced(path, side="right")
    assert [(face.name, face.length, face.corner, face.angle) for face in right.faces] == [
        ("Long", 30 * 192, "outside", 45.0), ("Wing", round(10 * 2 ** 0.5 * 192), "none", 90.0)]
    left, = traced(path, side="left")
    less = thick / IN * 16 * (2 ** 0.5 - 1)  # the soil sides on the inside of the turn meet this much sooner
    assert [(face.name, face.length, face.corner, face.angle) for face in left.faces] == [
        ("Wing", round(10 * 2 ** 0.5 * 192 - less), "inside", 45.0), ("Long", round(30 * 192 - less), "none", 90.0)]


@pytest.mark.parametrize("corners", ["butted", "overlapping", "mitred", "a hair apart"])
def test_corners_made_in_any_way_give_the_same_run(tmp_path: Path, corners: str) -> None:
    made = Building()
    t = 0.25
    points = [(0.0, 0.0), (12.0, 0.0), (12.0, 8.0), (0.0, 8.0)]
    for index, name in enumerate(("South", "East", "North", "West")):
        start, end = points[index], points[(index + 1) % 4]
        long = abs(end[0] - start[0]) + abs(end[1] - start[1])
        along = ((end[0] - start[0]) / long, (end[1] - start[1]) / long)
        if corners == "mitred":
            plan = [(0.0, 0.0), (long, 0.0), (long - t, t), (t, t)]
            made.plan_wall(name, plan, (*start, -2.6), 90.0 * index, high=2.5)
            continue
        cut = {"butted": t, "overlapping": 0.0, "a hair apart": t + 0.004}[corners] if index % 2 else 0.0
        made.wall(name, (start[0] + along[0] * cut, start[1] + along[1] * cut),
                  (end[0] - along[0] * cut, end[1] - along[1] * cut), thick=t, low=-2.6, high=-0.1)
    face = "top: -100, footing: -2600, ledge: 100, corner: outside"
    assert traced(made.saved(tmp_path / "m.ifc")) == by_hand(f"""
  - name: A
    closed: true
    faces:
      - {{name: South, length: 12000, {face}}}
      - {{name: East, length: 8000, {face}}}
      - {{name: North, length: 12000, {face}}}
      - {{name: West, length: 8000, {face}}}
""", "mm")


def test_a_wall_that_goes_on_in_line_and_a_sloping_top(tmp_path: Path) -> None:
    made = Building()
    made.mesh_wall("One", [(0.0, -2.6), (5.0, -2.6), (5.0, -0.4), (0.0, -0.1)], (0.0, 0.0, 0.0), 0.0, thick=0.25)
    made.wall("Two", (5.0, 0.0), (9.0, 0.0), thick=0.3, low=-2.6, high=-0.4)
    run, = traced(made.saved(tmp_path / "m.ifc"), side="right")
    assert [(face.name, face.length, face.top, face.corner) for face in run.faces] == [
        ("One", 5000, ((0, -100), (5000, -400)), "none"), ("Two", 4000, ((0, -400), (4000, -400)), "none")]
    made.wall("Three", (9.0, 0.05), (12.0, 0.05), thick=0.25, low=-2.6, high=-0.4)
    assert any("Three: must be flush with the wall before it" in line
               for line in faults_of(made.saved(tmp_path / "m.ifc"), side="right"))


# --- faulty models -----------------------------------------------------------------------------

def test_what_is_not_understood_is_named_by_its_globalid(tmp_path: Path) -> None:
    made = Building()
    walls = rectangle(made, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1)
    inner = made.wall("Inner", (6.0, 0.25), (6.0, 7.75), thick=0.2, low=-2.6, high=-0.1)
    empty = made.placed(made.make("IfcWall", "No shape"), (0.0, 0.0, 0.0))
    path = made.saved(tmp_path / "m.ifc")
    assert any(f"IfcWall {empty.GlobalId} No shape: must have a shape, which it has not" in line
               for line in faults_of(path))
    lines = faults_of(path, without=[empty.GlobalId])
    assert any(f"IfcWall {inner.GlobalId} Inner: must not meet another wall between its ends" in line
               and f"IfcWall {walls['South'].GlobalId} South" in line for line in lines)
    assert len(traced(path, without=[empty.GlobalId, inner.GlobalId])[0].faces) == 4


def test_a_wall_that_is_not_external_is_left_out(tmp_path: Path) -> None:
    made = Building()
    rectangle(made, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1)
    made.wall("Inner", (6.0, 0.25), (6.0, 7.75), thick=0.2, low=-2.6, high=-0.1, external=False)
    result = trace_model(made.saved(tmp_path / "m.ifc"))
    assert len(read_job_text(result.text, "t").runs[0].faces) == 4
    assert "not read: 1 walls that the model says are not external" in result.told


def test_faults_of_walls_footings_and_pipes(tmp_path: Path) -> None:
    made = Building()
    walls = rectangle(made, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1)
    pipe = made.pipe(walls["South"], "P1", at=4.0, up=1.0, across=0.16, askew=30.0)
    made.footing("half", (0.0, 0.0), (7.0, 0.0), ledge=0.15, wide=0.55, low=-2.9, high=-2.6)
    lines = faults_of(made.saved(tmp_path / "m.ifc"))
    assert any(f"{pipe.GlobalId} P1: must cross the wall square to it" in line for line in lines)
    assert any("South: must have a footing under its whole length, or none in the model (got none from 7000 mm to 12000"
               in line for line in lines)


def test_a_wall_of_two_thicknesses_and_one_too_low(tmp_path: Path) -> None:
    made = Building()
    wall = made.make("IfcWall", "Stepped")
    outline = [(0.0, 0.0), (0.4, 0.0), (0.4, 1.0), (0.2, 1.0), (0.2, 2.5), (0.0, 2.5)]
    points = [(0.0, y, z) for y, z in outline] + [(5.0, y, z) for y, z in outline]
    faces = [[0, 1, 2, 3, 4, 5], [11, 10, 9, 8, 7, 6]] + [[i, i + 6, (i + 1) % 6 + 6, (i + 1) % 6] for i in range(6)]
    made.shaped(wall, made.api.geometry.add_mesh_representation(
        made.file, context=made.body, vertices=[points], faces=[faces], edges=[[]]))
    made.placed(wall, (0.0, 0.0, -2.6))
    assert any(f"{wall.GlobalId} Stepped: must be a straight, plumb wall of one thickness" in line
               for line in faults_of(made.saved(tmp_path / "m.ifc")))
    low = Building()
    rectangle(low, 12.0, 8.0, thick=0.25, low=-2.6, high=-2.0)
    path = low.saved(tmp_path / "low.ifc")
    assert any("South: must be a wall from 900 mm to 12200 mm high (got 600 mm)" in line for line in faults_of(path))
    assert len(traced(path, accept_size=True)[0].faces) == 4


@pytest.mark.parametrize("walls, fault", [
    ([("Cross", (-3.0, 4.0), (15.0, 4.0))], "Cross: must not cross or cover another wall"),
    ([("Fin", (12.0, -0.25), (16.0, -0.25))], "Fin: must meet another wall end to end or at a corner, not beside it"),
    ([("Spur", (12.0, 0.0), (16.0, 0.0))], "must meet one wall at each end"),
    ([("Pit 1", (3.0, 3.0), (6.0, 3.0))], "Pit 1: must not stand inside a loop of other walls"),
])
def test_walls_that_make_no_run(tmp_path: Path, walls: list[tuple[str, tuple[float, float], tuple[float, float]]],
                                fault: str) -> None:
    made = Building()
    rectangle(made, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1)
    for name, start, end in walls:
        made.wall(name, start, end, thick=0.25, low=-2.6, high=-0.1)
    lines = faults_of(made.saved(tmp_path / "m.ifc"), side="right")
    assert any(fault in line for line in lines), lines


def test_a_loop_drawn_clockwise_and_an_open_run_drawn_both_ways(tmp_path: Path) -> None:
    made = Building()
    corners = [(0.0, 0.0), (0.0, 8.0), (12.0, 8.0), (12.0, 0.0)]
    for index, name in enumerate(("West", "North", "East", "South")):
        made.wall(name, corners[(index + 1) % 4], corners[index], thick=0.25, low=-2.6, high=-0.1)
    run, = traced(made.saved(tmp_path / "m.ifc"))
    assert [face.name for face in run.faces] == ["West", "South", "East", "North"]
    mixed = Building()
    mixed.wall("One", (0.0, 0.0), (5.0, 0.0), thick=0.25, low=-2.6, high=-0.1)
    mixed.wall("Two", (9.0, 0.25), (5.0, 0.25), thick=0.25, low=-2.6, high=-0.1)
    assert any("must be drawn the same way as the walls it meets" in line
               for line in faults_of(mixed.saved(tmp_path / "x.ifc"), side="right"))
    with pytest.raises(JobError, match="--side: must be one of left, right"):
        trace_model(tmp_path / "x.ifc", side="up")


def test_storeys_and_units_must_be_known(tmp_path: Path) -> None:
    made = Building(storeys=(("Ground", 0.0), ("Upper", 3.0)))
    rectangle(made, 12.0, 8.0, thick=0.25, low=0.0, high=2.5)
    path = made.saved(tmp_path / "m.ifc")
    assert any("--storey: must name the storeys below grade, as none of the model's lies below 0 (got it has Ground, "
               "Upper)" in line for line in faults_of(path))
    assert any("--storey: must name a storey of the model (got Cellar; it has Ground, Upper)" in line
               for line in faults_of(path, storeys=["Cellar"]))
    assert len(traced(path, storeys=["Ground"])[0].faces) == 4
    assert any("--leave-out: must be the GlobalId" in line
               for line in faults_of(path, storeys=["Ground"], without=["none"]))
    inches, = traced(path, storeys=["Ground"], unit="ft")
    assert inches.faces[0].length == round(12.0 / IN * 16)
    for assignment in made.file.by_type("IfcUnitAssignment"):
        made.file.remove(assignment)
    assert any("must state its unit of length" in line for line in faults_of(made.saved(tmp_path / "u.ifc")))


def test_walls_of_two_storeys_one_on_the_other(tmp_path: Path) -> None:
    made = Building(storeys=(("B2", -6.0), ("B1", -3.0)))
    rectangle(made, 12.0, 8.0, thick=0.25, low=-6.0, high=-3.2)
    made.wall("Upper", (0.0, 0.0), (12.0, 0.0), thick=0.25, low=-3.0, high=-0.1, storey="B1")
    path = made.saved(tmp_path / "m.ifc")
    assert any("Upper: must not stand on or under another wall" in line for line in faults_of(path))
    result = trace_model(path, storeys=["B2"])
    assert "not read: 1 walls of storey B1" in result.told


def test_walls_of_parts_and_walls_in_no_storey_are_never_lost(tmp_path: Path) -> None:
    made = Building()
    walls = rectangle(made, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1)
    loose = made.shaped(made.make("IfcWall", "Loose"), made.box(3.0, 2.5, 0.25))
    assert any(f"{loose.GlobalId} Loose: must stand in a storey" in line
               for line in faults_of(made.saved(tmp_path / "m.ifc")))
    assert len(traced(tmp_path / "m.ifc", without=[loose.GlobalId])[0].faces) == 4
    part = made.shaped(made.make("IfcBuildingElementPart", "Layer"), made.box(12.0, 2.5, 0.25))
    made.join(walls["South"], part)
    walls["South"].Representation = None
    assert any(f"{walls['South'].GlobalId} South: must have a shape" in line
               for line in faults_of(made.saved(tmp_path / "p.ifc"), without=[loose.GlobalId]))


def test_without_ifcopenshell_it_says_how_to_install_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "ifcopenshell", None)
    assert "pip install 'lapwright[ifc]'" in faults_of(tmp_path / "m.ifc")[0]


# --- hostile files -----------------------------------------------------------------------------

def test_a_model_that_names_files_elsewhere_opens_none(tmp_path: Path) -> None:
    made = Building()
    rectangle(made, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1)
    pipe = tmp_path / "elsewhere.txt"
    import os
    os.mkfifo(pipe)  # whoever opens it waits for ever
    made.file.create_entity("IfcDocumentReference", Location=str(pipe), Name="spec")
    made.file.create_entity("IfcImageTexture", RepeatS=True, RepeatT=True, URLReference=f"file://{pipe}")
    result = trace_model(made.saved(tmp_path / "m.ifc"))
    assert "not opened: 2 references to documents, images and libraries outside the model" in result.told


@pytest.mark.parametrize("content, words", [
    (b"", "must be an IFC file"), (b"hello", "must be an IFC file"),
    (b"ISO-10303-21;\nHEADER;", "cannot be read as IFC|must be IFC2X3|must"),
    (b"ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('AP214'));\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n", "must|cannot"),
])
def test_files_that_are_no_model(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "x.ifc"
    path.write_bytes(content)
    assert any(word in line for line in faults_of(path) for word in words.split("|"))


def test_a_model_of_200_megabytes_is_refused_by_its_size(tmp_path: Path) -> None:
    path = tmp_path / "x.ifc"
    with open(path, "wb") as out:
        out.write(b"ISO-10303-21;\n")
        out.truncate(200_000_000)
    assert ifc_model.MAX_IFC_BYTES == 100_000_000
    assert "must be at most 100 MB" in faults_of(path)[0]


def test_cut_off_anywhere(tmp_path: Path) -> None:
    """A model cut off is refused, or nothing of its walls is missing."""
    made = Building()
    rectangle(made, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1)
    whole = made.saved(tmp_path / "m.ifc")
    runs = traced(whole)
    data = whole.read_bytes()
    path = tmp_path / "cut.ifc"
    for share in range(1, 20):
        path.write_bytes(data[:len(data) * share // 20])
        try:
            found = traced(path)
        except JobError as error:
            assert all(line.isprintable() for line in error.lines())
        else:
            assert found == runs


def test_other_formats_and_folders(tmp_path: Path) -> None:
    (tmp_path / "x.ifczip").write_bytes(b"PK")
    assert "must be a plain IFC file (.ifc)" in faults_of(tmp_path / "x.ifczip")[0]
    (tmp_path / "d.ifc").mkdir()
    assert "must be a file" in faults_of(tmp_path / "d.ifc")[0]
    assert "no such file" in faults_of(tmp_path / "none.ifc")[0]


def broken_down(path: Path) -> None:
    """Break down as native code does."""
    import os

    os.abort()


def test_a_reader_that_breaks_down_takes_nothing_with_it(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="m.ifc: cannot be read: what works out its shapes broke down on it"):
        apart(broken_down, tmp_path / "m.ifc")
    with pytest.raises(JobError, match="no such file"):
        apart(trace_model, tmp_path / "m.ifc")


def test_the_command_traces_a_model(tmp_path: Path) -> None:
    building = Building()
    rectangle(building, 12.0, 8.0, thick=0.25, low=-2.6, high=-0.1)
    path, made = building.saved(tmp_path / "m.ifc"), tmp_path / "job.yaml"
    done = CliRunner().invoke(main, ["trace", str(path), "-o", str(made)])
    assert done.exit_code == 0 and "run A, closed: South 12000 mm, East 8000 mm" in done.output, done.output
    assert CliRunner().invoke(main, ["check", str(made)]).exit_code == 0
    assert "# IfcWall" in made.read_text(encoding="utf-8")
