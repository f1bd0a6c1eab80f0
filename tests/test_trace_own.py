"""The DXF that a plan is drawn in is traced back to the job it came from; what was changed in it is told."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from helpers.frozen import frozen_plan
from helpers.random_jobs import random_job
from helpers.sample_plans import NAMES, sample_plan
from layout import drawing
from layout.drawing.options import DrawingOptions
from layout.errors import JobError
from layout.job import echo, read_job_text
from layout.job.trace import trace
from layout.pipeline import make_plan
from layout.records import Plan


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Path]:
    """The plan of a small job with everything that a drawing can carry, and its drawing."""
    plan = frozen_plan("nook")
    return plan, drawn(plan, tmp_path_factory.mktemp("once"))


@pytest.fixture
def small(once: tuple[Plan, Path], tmp_path: Path) -> tuple[Plan, Path]:
    """The job with everything, and a drawing of it that may be changed."""
    return once[0], Path(shutil.copy(once[1], tmp_path / "elevations.dxf"))


@pytest.fixture
def walls(tmp_path: Path) -> Path:
    """The drawing of a smaller job, four walls with nothing in them, which may be changed."""
    return drawn(frozen_plan("ring"), tmp_path)


def drawn(plan: Plan, tmp_path: Path, **how: Any) -> Path:
    """Draw a plan as its packet has it."""
    path = tmp_path / "elevations.dxf"
    drawing.write_plan_dxf(plan, path, carried=echo(plan.job), **how)
    return path


def outlines(document: Any) -> list[Any]:
    """Return the outlines of walls that are marked, in model space or in its blocks."""
    spaces = [document.modelspace(), *document.blocks]
    return [line for space in spaces for line in space.query("LWPOLYLINE") if line.has_xdata("LAPWRIGHT_WALL")]


def test_a_job_with_everything_comes_back_whole(once: tuple[Plan, Path]) -> None:
    plan, path = once
    made = trace(path)
    assert read_job_text(made.text, "nook") == plan.job
    assert "every wall is drawn as it was planned" in made.told


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.slow
def test_the_samples_come_back_whole(tmp_path: Path, name: str) -> None:
    plan = sample_plan(name)
    made = trace(drawn(plan, tmp_path))
    assert read_job_text(made.text, name) == plan.job
    assert "every wall is drawn as it was planned" in made.told


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.slow
def test_random_jobs_come_back_whole_and_plan_the_same(tmp_path: Path, seed: int) -> None:
    job = read_job_text(random_job(seed), str(seed))
    plan = make_plan(job, stop=lambda: True)
    back = read_job_text(trace(drawn(plan, tmp_path)).text, "traced")
    assert back == job
    if seed % 3 == 0:
        assert make_plan(back, stop=lambda: True) == plan


def test_names_that_no_extended_data_holds(tmp_path: Path) -> None:
    job = frozen_plan("ring").job
    long = "Süd ^J %%d \\U+00e9 " + "ü" * 100
    name = job.runs[0].faces[0].name
    job = read_job_text(echo(job).replace(f"name: {name}", f"name: {json.dumps(long)}", 1), "long")
    assert job.runs[0].faces[0].name == long
    plan = make_plan(job, stop=lambda: True)
    assert read_job_text(trace(drawn(plan, tmp_path)).text, "traced") == job


def test_an_office_s_own_layers_come_back_too(tmp_path: Path) -> None:
    mapping = tmp_path / "layers.csv"
    mapping.write_text("use,name\nwall,K-1\nfooting,K-2\ngrade,K-3\nopening,K-4\nsleeve,K-5\n", encoding="utf-8")
    plan = frozen_plan("nook")
    assert read_job_text(trace(drawn(plan, tmp_path, asked=DrawingOptions(mapping))).text, "t") == plan.job


def test_what_is_changed_in_the_drawing_is_taken_and_told(small: tuple[Plan, Path]) -> None:
    plan, path = small
    document = ezdxf.readfile(path)  # type: ignore[attr-defined]
    sleeve = next(circle for space in (document.modelspace(), *document.blocks) for circle in space.query("CIRCLE")
                  if circle.dxf.layer == "Z-WALL-PENE-N")
    sleeve.dxf.radius += 1
    document.saveas(path)
    made = trace(path)
    old = {s.tag: s for run in plan.job.runs for face in run.faces for s in face.sleeves}
    new = {s.tag: s for run in read_job_text(made.text, "t").runs for face in run.faces for s in face.sleeves}
    changed = [tag for tag in old if new[tag] != old[tag]]
    assert set(old) == set(new) and len(changed) == 1
    assert new[changed[0]].diameter == old[changed[0]].diameter + 32
    assert any(line.endswith(f"not as it was planned: {changed[0]}") for line in made.told)


def test_a_wall_that_is_gone_and_one_that_is_copied_are_faults(walls: Path) -> None:
    document = ezdxf.readfile(walls)  # type: ignore[attr-defined]
    first, second, *_ = outlines(document)
    second.set_xdata("LAPWRIGHT_WALL", first.get_xdata("LAPWRIGHT_WALL"))
    document.saveas(walls)
    with pytest.raises(JobError) as caught:
        trace(walls)
    lines = caught.value.lines()
    assert any("run R, One: must be drawn once" in line for line in lines)
    assert any("run R, Two: must be in the drawing" in line for line in lines)


def test_a_carried_job_that_was_cut_short_is_not_read(once: tuple[Plan, Path], small: tuple[Plan, Path]) -> None:
    """The drawing is then read as any other: its key plan and sections are on layers of walls, and are told."""
    (_, whole), (_, path) = once, small
    document = ezdxf.readfile(path)  # type: ignore[attr-defined]
    record = document.rootdict["LAPWRIGHT"]
    record.reset([(tag.code, tag.value) for tag in list(record.tags)[:-1]])
    document.saveas(path)
    with pytest.raises(JobError):
        trace(path)
    with pytest.raises(JobError):
        trace(whole, fresh=True)


@pytest.mark.parametrize("how", [
    pytest.param({}, id="moved"), pytest.param({"xscale": -1.0}, id="mirrored", marks=pytest.mark.slow)])
def test_walls_put_into_a_block_and_moved_come_back(small: tuple[Plan, Path], how: dict[str, float]) -> None:
    """Whoever draws the faces as blocks, or moves them in CAD, moves their marks too; mirrored they are others."""
    plan, path = small
    document: Any = ezdxf.readfile(path)  # type: ignore[attr-defined]
    space = document.modelspace()
    block = document.blocks.new("WALLS")
    for entity in list(space):
        if entity.dxf.layer in ("Z-WALL-OTLN-N", "Z-FNDN-HIDD-N", "Z-ELEV-GRAD-N", "Z-WALL-OPNG-N", "Z-WALL-PENE-N"):
            space.move_to_layout(entity, block)
    space.add_blockref("WALLS", (1000.5, -300.25), dxfattribs=how)
    document.saveas(path)
    made = trace(path)
    back = read_job_text(made.text, "t")
    assert (back == plan.job) == (not how)
    if how:
        assert any("not as it was planned" in line for line in made.told)
