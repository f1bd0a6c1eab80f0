"""A job drawn as a drafter might draw it is traced back to the same walls."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from cli import main
from helpers.drafted import box, saved, sheet, stepped
from helpers.random_jobs import random_job
from helpers.sample_plans import NAMES, sample_plan
from helpers.trace_drawings import Style, draw, geometry
from helpers.thinned import thinned
from layout import drawing
from layout.drawing.cad_sheets import cad_set
from layout.job import read_job, read_job_text
from layout.job.trace import trace
from layout.records import Job

SAMPLES = Path(__file__).resolve().parent.parent / "samples"


def traced(path: Path, **how: Any) -> Job:
    """Return the job traced from a drawing."""
    return read_job_text(trace(path, **how).text, path.name)


@pytest.mark.parametrize("lines", [False, True], ids=["polylines", "lines"])
@pytest.mark.parametrize("footing", ["outline", "line", "ring"])
def test_steps_slopes_openings_and_sleeves_come_back(tmp_path: Path, lines: bool, footing: str) -> None:
    job, path = stepped(), tmp_path / "walls.dxf"
    draw(job, path, Style(lines=lines, footing=footing))
    depths = footing == "ring"
    assert geometry(traced(path), depths=depths) == geometry(job, depths=depths)


@pytest.mark.parametrize("name", ["basement", "hillside", "metric", "long-wall"])
def test_the_samples_come_back(tmp_path: Path, name: str) -> None:
    job, path = read_job(SAMPLES / f"{name}.yaml"), tmp_path / f"{name}.dxf"
    draw(job, path, Style(footing="ring"))
    assert geometry(traced(path), depths=True) == geometry(job, depths=True)


@pytest.mark.parametrize("seed", range(12))
def test_random_walls_come_back(tmp_path: Path, seed: int) -> None:
    job, path = read_job_text(random_job(seed), f"{seed}.json"), tmp_path / "walls.dxf"
    draw(job, path)
    assert geometry(traced(path, accept_size=True)) == geometry(job)


@pytest.mark.parametrize("unit, insunits, per_unit", [
    ("", 1, 16.0), ("", 2, 192.0), ("in", 0, 16.0), ("ft", 0, 192.0), ("ft", 1, 192.0)])
def test_any_unit_of_a_drawing_in_feet_and_inches(tmp_path: Path, unit: str, insunits: int, per_unit: float) -> None:
    job, path = stepped(), tmp_path / "walls.dxf"
    draw(job, path, Style(per_unit=per_unit, insunits=insunits))
    assert geometry(traced(path, unit=unit)) == geometry(job)


@pytest.mark.parametrize("unit, insunits, per_unit", [("", 4, 1.0), ("", 5, 10.0), ("", 6, 1000.0), ("mm", 0, 1.0)])
def test_any_unit_of_a_metric_drawing(tmp_path: Path, unit: str, insunits: int, per_unit: float) -> None:
    job, path = read_job(SAMPLES / "metric.yaml"), tmp_path / "walls.dxf"
    draw(job, path, Style(per_unit=per_unit, insunits=insunits))
    assert geometry(traced(path, unit=unit)) == geometry(job)


def test_far_from_the_origin_and_off_the_grid(tmp_path: Path) -> None:
    job, path = stepped(), tmp_path / "walls.dxf"
    draw(job, path, Style(shift=(1_234_567.891, -765_432.123)))
    assert geometry(traced(path)) == geometry(job)


@pytest.mark.parametrize("name", thinned(NAMES[:3]))
def test_our_own_elevations_come_back_within_a_window(tmp_path: Path, name: str) -> None:
    """Key plan, sections and the drainage board's elevations repeat the layers of the walls, so they are left out."""
    plan = sample_plan(name)
    path = tmp_path / "elevations.dxf"
    drawing.write_plan_dxf(plan, path)
    runs = [model for model in cad_set(plan).models if model.drawing.name in {run.name for run in plan.job.runs}]
    model = runs[0]
    frame, (x, y), ticks = model.drawing.frame, model.at, plan.job.unit.ticks
    corners = [(frame.left + x) / ticks, (frame.bottom + y) / ticks, (frame.right + x) / ticks, (frame.top + y) / ticks]
    found = traced(path, window=",".join(f"{corner:.2f}" for corner in corners))
    assert geometry(found, depths=True) == [
        [(*face[:5], tuple(replace(opening, kind="opening") for opening in face[5]), *face[6:]) for face in run]
        for run in geometry(plan.job, depths=True)]  # one layer for openings of every kind


# --- drawings made by hand ---------------------------------------------------------------------


def test_lengths_are_rounded_to_the_nearest_tick_and_how_far_is_told(tmp_path: Path) -> None:
    document = sheet()
    box(document, "WALL", 0.02, 0, 120.0, 96.01)
    made = trace(saved(document, tmp_path))
    face = read_job_text(made.text, "t").runs[0].faces[0]
    assert (face.length, face.top[0][1]) == (1920, 1536)  # 119.98 in is 1919.68 ticks, 96.01 in is 1536.16
    assert 'anything was moved by at most 0.0200", to whole sixteenths of an inch' in made.told


@pytest.mark.parametrize("gap, closes", [(0.0625, True), (0.07, False)])
def test_gaps_up_to_a_sixteenth_are_closed(tmp_path: Path, gap: float, closes: bool) -> None:
    from layout.errors import JobError

    document = sheet()
    document.modelspace().add_lwpolyline([(gap, 0), (0, 0), (0, 96), (120, 96), (120, 0), (gap * 2, 0)],
                                         dxfattribs={"layer": "WALL"})
    path = saved(document, tmp_path)
    if closes:
        assert traced(path).runs[0].faces[0].length == 1920
    else:
        with pytest.raises(JobError, match=r"layer WALL, at \(0.14, 0\): must be a closed outline; its ends are 0.07 "):
            trace(path)


def test_datum_names_rows_and_tags(tmp_path: Path) -> None:
    document = sheet()
    space = document.modelspace()
    box(document, "Basement Walls", 0, 1000, 120, 1096)
    box(document, "Basement Walls", 300, 1000, 400, 1096)
    box(document, "Basement Walls", 0, 0, 60, 48)
    space.add_line((-50, 988), (500, 988), dxfattribs={"layer": "DATUM"})
    box(document, "windows", 10, 1040, 30, 1060)
    box(document, "windows", 11, 1041, 29, 1059)  # its trim
    box(document, "windows", 50, 1040, 70, 1060)
    space.add_circle((350, 1030), 3, dxfattribs={"layer": "Pipe sleeves"})
    space.add_circle((350, 1030), 2, dxfattribs={"layer": "Pipe sleeves"})
    space.add_text("W12 TYP", height=4, dxfattribs={"layer": "t"}).set_placement((12, 1064))
    space.add_mtext("Street\\Pside", dxfattribs={"layer": "t", "char_height": 8, "insert": (40, 1120)})
    made = trace(saved(document, tmp_path), trim="outer")
    job = read_job_text(made.text, "t")
    assert [[face.name for face in run.faces] for run in job.runs] == [["Street", "Face 1"], ["Face 1"]]
    street, other = job.runs[0].faces
    assert street.footing == ((0, 192), (1920, 192)) and street.top[0][1] == 108 * 16
    assert [(opening.tag, opening.kind) for opening in street.openings] == [("W12", "window"), ("W1", "window")]
    assert [(sleeve.tag, sleeve.elevation, sleeve.diameter) for sleeve in other.sleeves] == [("P1", 42 * 16, 96)]
    assert job.runs[1].faces[0].footing[0] == (0, 0)
    assert "passed over: 1 x circle inside a sleeve, 1 x inner rectangle of an opening" in made.told


def test_blocks_are_taken_apart(tmp_path: Path) -> None:
    document = sheet()
    block = document.blocks.new("WIN")
    block.add_lwpolyline([(0, 0), (0, 1), (1, 1), (1, 0)], close=True, dxfattribs={"layer": "0"})
    box(document, "WALL", 0, 0, 120, 96)
    document.modelspace().add_blockref("WIN", (30, 40), dxfattribs={"layer": "WINDOW", "xscale": 36, "yscale": 24})
    document.modelspace().add_blockref("WIN", (0, 0), dxfattribs={"layer": "TREES"})
    opening, = traced(saved(document, tmp_path)).runs[0].faces[0].openings
    assert (opening.left, opening.sill, opening.width, opening.height) == (480, 640, 576, 384)


def test_layers_may_be_named(tmp_path: Path) -> None:
    document = sheet()
    box(document, "S-CONC", 0, 0, 120, 96)
    box(document, "A-WALL", 900, 0, 1000, 20)
    job = traced(saved(document, tmp_path), layers=["wall=s-conc"])
    assert [face.length for face in job.runs[0].faces] == [1920]


def test_what_is_not_read_is_counted(tmp_path: Path) -> None:
    document = sheet()
    document.layers.add("OLD-WALL").off()
    box(document, "WALL", 0, 0, 120, 96)
    box(document, "OLD-WALL", 0, 0, 150, 96)
    box(document, "TREES", 0, 0, 150, 96)
    document.modelspace().add_circle((5, 5), 1, dxfattribs={"layer": "TREES"})
    told = trace(saved(document, tmp_path)).told
    assert "not read: 2 on other layers: TREES" in told
    assert "not read: 1 on layers that are off or frozen: OLD-WALL" in told


def test_a_shallow_footing_takes_a_shallow_turn_down(tmp_path: Path) -> None:
    document = sheet()
    box(document, "WALL", 0, 0, 120, 96)
    box(document, "FOOTING", -6, -3.5, 126, 0)
    job = traced(saved(document, tmp_path))
    assert job.runs[0].faces[0].footing_depth == 56
    assert job.rules.turn_down == (56, 56)


# --- the command -------------------------------------------------------------------------------

def test_the_command_writes_a_job_that_check_takes(tmp_path: Path) -> None:
    path, made = tmp_path / "walls.dxf", tmp_path / "job.yaml"
    draw(stepped(), path)
    done = CliRunner().invoke(main, ["trace", str(path), "-o", str(made)])
    assert done.exit_code == 0, done.output
    assert "run A: North side 40'-0\", Return 8'-2 1/16\"; openings: 2, sleeves: 1" in done.output
    assert made.read_text(encoding="utf-8").count("FILL IN:") > 6
    assert CliRunner().invoke(main, ["check", str(made)]).exit_code == 0
    assert "not read" not in done.output and "nothing was moved" in done.output
    again = CliRunner().invoke(main, ["trace", str(path), "-o", str(made)])
    assert again.exit_code == 2 and "already exists" in again.output


def test_the_command_writes_nothing_on_faults(tmp_path: Path) -> None:
    document = sheet()
    document.modelspace().add_line((0, 0), (9, 9), dxfattribs={"layer": "WALL"})
    made = tmp_path / "job.yaml"
    done = CliRunner().invoke(main, ["trace", str(saved(document, tmp_path)), "-o", str(made)])
    assert done.exit_code == 2 and "must be a closed outline" in done.output
    assert not made.exists()


def test_the_command_takes_its_options(tmp_path: Path) -> None:
    document = sheet(0)
    box(document, "S-CONC", -20, -8, -10, 0)
    box(document, "S-CONC", 50, -8, 70, 0)
    made = tmp_path / "job.yaml"
    words = ["trace", str(saved(document, tmp_path)), "-o", str(made), "--as", "wall=S-CONC", "--unit", "ft",
             "--window", "-30,-20,0,20"]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0 and "run A: Face 1 10'-0\"" in done.output, done.output
    assert "not read: 1 outside the window" in done.output


def test_the_same_drawing_gives_the_same_bytes(tmp_path: Path) -> None:
    path = tmp_path / "walls.dxf"
    draw(stepped(), path)
    assert trace(path) == trace(path)
