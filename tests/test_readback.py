"""What ``check`` tells of a job, and the drawing of its walls."""

from __future__ import annotations

import re
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from cli import main
from layout.job import read_job, starter, as_file
from layout.pipeline import draw_walls
from layout.readback import read_back

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = sorted((ROOT / "samples").glob("*.yaml"))


def told(path: Path) -> list[str]:
    return read_back(read_job(path))


def test_the_basement_read_back() -> None:
    """129'-9 3/4" round: 2 x (38'-7 1/2" + 26'-3 3/8"); 1,133.6 sq ft is what plan covers, README."""
    assert told(ROOT / "samples/basement.yaml") == [
        'Marlpit House, basement: in inches, to 1/16 in; sheet 36" wide, rolls of 66\'-8"', "",
        'run A, closed: 129\'-9 3/4" round; closes',
        'to cover: 1,133.6 sq ft, from the membrane line over the ledge and 4" down the footing\'s face, less openings '
        "and sleeves",
        'water runs: right from 0" to 129\'-9 3/4"',
        "   face    length       height      footing   ledge   depth     grade   corner",
        '   South   38\'-7 1/2"   8\'-1 1/4"   0"        4"      11 1/2"   –       outside',
        '   East    26\'-3 3/8"   8\'-1 1/4"   0"        4"      11 1/2"   –       outside',
        '      sleeve P1: 6 5/8" across, centre at 9\'-5 1/2", elevation 1\'-7 3/4"',
        '   North   38\'-7 1/2"   8\'-1 1/4"   0"        4"      11 1/2"   –       outside',
        '   West    26\'-3 3/8"   8\'-1 1/4"   0"        4"      11 1/2"   –       outside',
        '      sleeve P2: 2 1/2" across, centre at 15\'-2 1/4", elevation 3\'-11"',
    ]


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_face_opening_and_sleeve_is_told(path: Path) -> None:
    job, lines = read_job(path), told(path)
    for run in job.runs:
        assert any(line.startswith(f"run {run.name}, ") for line in lines)
        for face in run.faces:
            assert any(re.match(rf" +{re.escape(face.name)}  ", line) for line in lines)
            assert all(any(f"{opening.kind} {opening.tag}: " in line for line in lines) for opening in face.openings)
            assert all(any(f"sleeve {sleeve.tag}: " in line for line in lines) for sleeve in face.sleeves)


def test_the_area_of_a_plain_wall(tmp_path: Path) -> None:
    """10 ft x (8 ft + 6 in ledge + 4 in turn-down) = 88 1/3 sq ft, less a window of 6 and a round of 12 in."""
    job = tmp_path / "job.yaml"
    job.write_text("""\
job: {name: Plain}
sheet: {width: 36, rolls: [{length: 66'-8"}]}
rules: {fillet: 0, base_strip: 18}
runs:
  - name: A
    faces:
      - name: South
        length: 10'
        top: 8'
        ledge: 6
        openings: [{tag: W1, left: 1', sill: 4', width: 3', height: 2'}]
        sleeves: [{tag: P1, at: 7', elevation: 3', diameter: 12}]
""")
    line = next(line for line in told(job) if line.startswith("to cover"))
    area = Decimal(line.split()[2])
    assert area == pytest.approx(Decimal("88.333") - 6 - Decimal("0.785"), abs=Decimal("0.06"))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_the_walls_are_drawn_from_above_and_in_elevation(path: Path, tmp_path: Path) -> None:
    file = tmp_path / "walls.svg"
    result = CliRunner().invoke(main, ["check", str(path), "--draw", str(file)])
    assert result.exit_code == 0 and result.output.endswith("no faults\n")
    tree = ElementTree.parse(file)
    job = read_job(path)
    drawings = [element for element in tree.getroot() if element.tag.endswith("}svg")]
    assert len(drawings) == sum(1 + len(run.faces) for run in job.runs)
    words = {element.text for element in tree.iter() if element.tag.endswith("}text")}
    assert all(face.name in words for run in job.runs for face in run.faces)
    assert not any("crew" in word or "lap" in word for word in words if word)
    assert file.read_text(encoding="utf-8") == draw_walls(job)


def test_a_name_is_escaped_in_the_drawing(tmp_path: Path) -> None:
    job = tmp_path / "job.yaml"
    job.write_text(starter("wall").replace("Starter basement", '"<b>&"').replace("name: North", 'name: "<i>"'))
    file = tmp_path / "walls.svg"
    assert CliRunner().invoke(main, ["check", str(job), "--draw", str(file)]).exit_code == 0
    assert ElementTree.parse(file).getroot()[0].text == "<b>&: walls as they were read"


@pytest.mark.parametrize(("name", "words"), [("walls.pdf", "must end in .svg"), ("mine.svg", "is no drawing")])
def test_nothing_else_is_written_over(name: str, words: str, tmp_path: Path) -> None:
    (tmp_path / "mine.svg").write_text("notes")
    result = CliRunner().invoke(main, ["check", str(SAMPLES[0]), "--draw", str(tmp_path / name)])
    assert result.exit_code == 2 and words in result.stderr
    assert (tmp_path / "mine.svg").read_text() == "notes" and len(list(tmp_path.iterdir())) == 1


def test_a_job_with_faults_is_not_drawn(tmp_path: Path) -> None:
    job = tmp_path / "job.yaml"
    job.write_text("job: {name: x}\n")
    result = CliRunner().invoke(main, ["check", str(job), "--draw", str(tmp_path / "walls.svg")])
    assert result.exit_code == 2 and not (tmp_path / "walls.svg").exists()


def test_a_packet_is_not_drawn(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["check", str(tmp_path), "--draw", str(tmp_path / "walls.svg")])
    assert result.exit_code == 2 and "takes a job file" in result.stderr


def test_a_workbook_reads_back_as_its_yaml(tmp_path: Path) -> None:
    book = tmp_path / "job.xlsx"
    book.write_bytes(as_file(SAMPLES[0].read_text(encoding="utf-8"), book))
    assert told(book) == told(SAMPLES[0])


def test_checking_a_job_imports_no_solver_no_audit_and_no_writer() -> None:
    """They take longer to import than all the rest of a check does."""
    script = """
import sys
import cli
try:
    cli.main(["check", "samples/basement.yaml"])
except SystemExit as ended:
    assert not ended.code
print(sorted({"highspy", "matplotlib", "ezdxf", "openpyxl", "xlsxwriter", "jinja2", "layout.audit"} & set(sys.modules)))
"""
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True)
    assert done.stdout.endswith("no faults\n[]\n"), done.stdout + done.stderr
