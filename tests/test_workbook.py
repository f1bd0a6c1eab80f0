"""A job as a workbook: written, read back to the tick, filled in as people do, and read by every command."""

from __future__ import annotations

import datetime
import io
import textwrap
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner

from cli import main
from helpers.house import HOUSE
from helpers.random_jobs import random_job
from helpers.workbooks import book, changed, column, packed, parts_of, put, row_of
from helpers.thinned import thinned
from layout.job import SHAPES, echo, read_job, read_job_text, starter, as_file
from layout.job.extras import ExtrasPart
from layout.job.model import FacePart, JobPart, OpeningPart, RulesPart, RunPart, SleevePart
from layout.job.walk import keys_of
from layout.job.workbook.columns import sheets
from layout.records import Job

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = sorted((ROOT / "samples").glob("*.yaml"))


def read(data: bytes, folder: Path) -> Job:
    """Read a workbook as a command does."""
    path = folder / "job.xlsx"
    path.write_bytes(data)
    return read_job(path)


def run(*words: str) -> str:
    """Run a command that must succeed, and return what it prints."""
    result = CliRunner().invoke(main, list(words))
    assert result.exit_code == 0, result.output
    return result.stdout


# --- there and back ------------------------------------------------------------------------------

@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_a_sample_as_a_workbook_and_back_is_equal_to_the_tick(path: Path, tmp_path: Path) -> None:
    there, back = tmp_path / "there.xlsx", tmp_path / "back.yaml"
    run("new", str(there), "--from", str(path))
    run("new", str(back), "--from", str(there))
    assert read_job(there) == read_job(back) == read_job(path)
    assert back.read_text(encoding="utf-8") == echo(read_job(path))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_a_sample_is_the_same_however_it_is_written(path: Path, tmp_path: Path) -> None:
    """Lengths as the file has them, numbers and all, not as the echo spells them."""
    assert read(as_file(path.read_text(encoding="utf-8"), Path("x.xlsx")), tmp_path) == read_job(path)


@pytest.mark.parametrize("seed", thinned(range(30)))
def test_a_random_job_as_a_workbook_and_back_is_equal(seed: int, tmp_path: Path) -> None:
    text = random_job(seed)
    job = read_job_text(text, "")
    assert read(as_file(echo(job), Path("x.xlsx")), tmp_path) == job
    assert read(as_file(text, Path("x.xlsx")), tmp_path) == job


@pytest.mark.parametrize("metric", [False, True])
@pytest.mark.parametrize("shape", SHAPES)
def test_the_form_is_the_starter(shape: str, metric: bool, tmp_path: Path) -> None:
    form = tmp_path / "form.xlsx"
    run("new", str(form), "--shape", shape, *(["--metric"] if metric else []))
    assert read_job(form) == read_job_text(starter(shape, metric=metric), "")


def test_the_same_job_gives_the_same_bytes() -> None:
    text = SAMPLES[0].read_text(encoding="utf-8")
    assert as_file(text, Path("a.xlsx")) == as_file(text, Path("b.XLSX"))


@pytest.mark.parametrize("name", [
    "=1+1", "0001", "3/4", "2031", "true", "null", "+5", "@sum", "x; y", "A [in]", "3 to 4"])
def test_any_name_comes_back_as_it_is(name: str, tmp_path: Path) -> None:
    text = starter("rectangle").replace("Starter basement", f'"{name}"').replace("name: South", f'name: "{name}"')
    job = read_job_text(text, "")
    again = read(as_file(text, Path("x.xlsx")), tmp_path)
    assert again == job and again.info.name == name and again.runs[0].faces[0].name == name


def test_a_job_as_json(tmp_path: Path) -> None:
    run("new", str(tmp_path / "a.json"), "--metric")
    assert read_job(tmp_path / "a.json") == read_job_text(starter(metric=True), "")


def test_new_leaves_an_existing_file_alone(tmp_path: Path) -> None:
    there = tmp_path / "a.xlsx"
    there.write_text("mine")
    result = CliRunner().invoke(main, ["new", str(there)])
    assert result.exit_code == 2 and "already exists" in result.stderr and there.read_text() == "mine"


def test_other_kinds_of_workbook_are_not_written(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["new", str(tmp_path / "a.xlsm")])
    assert result.exit_code == 2 and "must end in .xlsx" in result.stderr and list(tmp_path.iterdir()) == []


def test_a_job_with_faults_is_not_taken(tmp_path: Path) -> None:
    (tmp_path / "job.yaml").write_text("job: {name: x}\n")
    result = CliRunner().invoke(main, ["new", str(tmp_path / "a.xlsx"), "--from", str(tmp_path / "job.yaml")])
    assert result.exit_code == 2 and not (tmp_path / "a.xlsx").exists()


# --- filled in as people do ----------------------------------------------------------------------

STARTER = read_job_text(starter("rectangle"), "")


HOUSE_ROWS: dict[str, list[dict[str, object]]] = {
    "Rolls": [{"length": "66'-8\"", "price": 205}],
    "Runs": [{"name": "A", "closed": "yes"}],
    "Faces": [{"name": name, "length": length, "top": "8'-0\"", "footing": "0", "ledge": "6", "footing depth": "12",
               **({"corner": "inside"} if name == "North" else {})}
              for name, length in (("South", "40'-0\""), ("East", "28'"), ("North", "16'"), ("Porch", "8'-6\""),
                                   ("North 2", "24'"), ("West", "36'-6\""))],
    "Points": [],
    "Openings": [{"face": "East", "tag": "W1", "kind": "window", "left": "10'-0\"", "sill": "5'-2\"",
                  "width": "3'-0\"", "height": "2'-0\""}],
    "Sleeves": [{"face": "East", "tag": "P1", "at": "22'-3\"", "elevation": "2'-6\"", "diameter": 4}],
}


def entered(opened: Any) -> None:
    """Enter the house as a person does who clears the example's cells and types into them, one by one."""
    for setting, value in (("name", "Ash Row 7"), ("number", None), ("site", None), ("prepared by", None),
                           ("sheet name", None)):
        put("Job", setting, "value", value)(opened)
    put("Rules", "side lap", "value", "3")(opened)
    for name, rows in HOUSE_ROWS.items():
        page = opened[name]
        for cells in page.iter_rows(min_row=2):
            for cell in cells:
                cell.value = None
        for row, told in enumerate(rows, 2):
            for head, value in told.items():
                put(name, row, head, value)(opened)


@pytest.mark.parametrize("shape", ["ell", "rectangle", "wall"])
def test_a_house_entered_into_the_form_is_the_job_in_yaml(shape: str, tmp_path: Path) -> None:
    """From whichever example the form begins with; nothing of the example is left in the job."""
    file = tmp_path / "house.xlsx"
    run("new", str(file), "--shape", shape)
    file.write_bytes(changed(entered, file.read_bytes()))
    assert read_job(file) == read_job_text(HOUSE, "house.yaml")


@pytest.mark.slow
def test_a_house_entered_into_the_form_is_planned_as_the_job_in_yaml_is(tmp_path: Path) -> None:
    made = []
    for name, data in (("form.xlsx", changed(entered, book(starter("ell")))), ("job.yaml", HOUSE.encode())):
        (tmp_path / name).write_bytes(data)
        run("plan", str(tmp_path / name), "-o", str(tmp_path / f"of-{name}"))
        made.append({each.name: each.read_bytes() for each in (tmp_path / f"of-{name}").iterdir() if each.is_file()})
    assert made[0] == made[1]


def test_lengths_may_be_numbers_or_text_in_any_unit(tmp_path: Path) -> None:
    def change(opened: Any) -> None:
        for value, name in ((268, "East"), ("22.333333 ft", "West")):
            put("Faces", name, "length", value)(opened)
        put("Faces", "South", "ledge", "101.6 mm")(opened)
        put("Faces", "North", "ledge", 4.0)(opened)

    assert read(changed(change), tmp_path) == STARTER


def test_a_formula_counts_for_its_value(tmp_path: Path) -> None:
    parts = parts_of(book())
    name = next(name for name in parts if name.startswith("xl/worksheets/sheet6"))
    old = b"<v>12</v></c>"
    assert old in parts[name]
    parts[name] = parts[name].replace(old, b"<f>6+6</f><v>12.000000000000002</v></c>", 1)
    assert read(packed(parts), tmp_path) == STARTER


def test_what_a_file_says_of_its_own_size_is_not_trusted(tmp_path: Path) -> None:
    parts = {name: re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="A1"', part)
             for name, part in parts_of(book()).items()}
    assert read(packed(parts), tmp_path) == STARTER


@pytest.mark.parametrize("yes", ["yes", "Yes", "TRUE", "true", True])
def test_yes_in_any_words(yes: object, tmp_path: Path) -> None:
    assert read(changed(put("Runs", "A", "closed", yes)), tmp_path).runs[0].closed


def test_a_date_where_a_date_belongs(tmp_path: Path) -> None:
    def change(opened: Any) -> None:
        opened["Job"].cell(row_of(opened["Job"], "date"), 2).value = datetime.datetime(2026, 5, 4)

    assert read(changed(change), tmp_path).info.date == "2026-05-04"


@pytest.mark.parametrize(("value", "shown"), [(0.065, "0.0%"), (6.5, "General"), ("6.5", "@")])
def test_a_percentage_however_it_is_held(value: object, shown: str, tmp_path: Path) -> None:
    """A spreadsheet program holds what is typed as 6.5 % as 0.065."""
    def change(opened: Any) -> None:
        cell = opened["Takeoff"].cell(row_of(opened["Takeoff"], "money tax"), 2)
        cell.value, cell.number_format = value, shown

    money = read(changed(change), tmp_path).extras.money
    assert getattr(money, "tax") == Decimal("6.5")


def test_cells_of_spaces_are_blank(tmp_path: Path) -> None:
    assert read(changed(put("Faces", 9, "name", "  ")), tmp_path) == STARTER


def test_a_warning_names_its_cell(tmp_path: Path) -> None:
    job = tmp_path / "job.xlsx"
    job.write_bytes(changed(put("Openings", "W1", "height", "48'")))
    told = (f"{job}:Openings!H2: warning: runs.A.faces.South.openings.W1.height: reaches above the wall top "
            "(got 48'-0\", 45'-2\" above it); did you mean inches, 48 in?")
    assert told in run("check", str(job)).splitlines()


def test_columns_and_sheets_in_any_order_and_notes_of_ones_own(tmp_path: Path) -> None:
    def change(opened: Any) -> None:
        page = opened["Faces"]
        page.move_range(f"A1:A{page.max_row}", cols=20)
        page.cell(1, 30).value = "Notes"
        page.cell(3, 30).value = "see sheet A2"
        opened.create_sheet("notes of mine")["B7"] = "call the surveyor"
        opened.move_sheet("Faces", -4)

    assert read(changed(change), tmp_path) == STARTER


def test_the_run_may_be_left_out_where_there_is_one(tmp_path: Path) -> None:
    def change(opened: Any) -> None:
        for name in ("Faces", "Openings", "Sleeves"):
            page = opened[name]
            for row in range(2, page.max_row + 1):
                page.cell(row, column(page, "run")).value = None

    assert read(changed(change), tmp_path) == STARTER


def test_an_empty_row_between_is_passed_over(tmp_path: Path) -> None:
    def change(opened: Any) -> None:
        opened["Faces"].insert_rows(4)

    assert read(changed(change), tmp_path) == STARTER


def test_faults_stand_in_the_order_of_the_sheets(tmp_path: Path) -> None:
    def change(opened: Any) -> None:
        put("Sleeves", "P1", "diameter", 0)(opened)
        put("Faces", "West", "ledge", "x")(opened)
        opened["Rules"].cell(2, 2).value = -1

    job = tmp_path / "job.xlsx"
    job.write_bytes(changed(change))
    lines = CliRunner().invoke(main, ["check", str(job)]).stderr.splitlines()
    assert [line.split(": ")[0].rpartition(":")[2] for line in lines] == ["Rules!B2", "Faces!F5", "Sleeves!F2"]


# --- every command reads it ----------------------------------------------------------------------

SMALL = """\
job: {name: Small}
sheet: {width: 36, rolls: [{length: 66'-8", price: 205}]}
rules: {base_strip: 18}
runs: [{name: A, faces: [{name: South, length: 9'-0", top: 8'-0", ledge: 4}]}]
"""


@pytest.mark.slow
def test_check_compare_plan_and_revise_read_a_workbook(tmp_path: Path) -> None:
    job, plain = tmp_path / "job.xlsx", tmp_path / "plain.yaml"
    job.write_bytes(as_file(SMALL, job))
    plain.write_text(SMALL)
    assert run("check", str(job)).replace("job.xlsx", "plain.yaml") == run("check", str(plain))
    changes = ["--with", "runs.A.faces.South.length=12'-0\"", "--with", "side_lap=3"]
    assert run("compare", str(job), *changes) == run("compare", str(plain), *changes)
    assert "Small: " in run("plan", str(job))
    assert (tmp_path / "job-packet" / "job.yaml").read_text(encoding="utf-8") == echo(read_job(plain))
    assert "Small: " in run("revise", str(tmp_path / "job-packet"), "--job", str(job), "--cut", "A-01")


# --- the form ------------------------------------------------------------------------------------

def form() -> Any:
    return openpyxl.load_workbook(io.BytesIO(as_file(starter(), Path("x.xlsx"))))


def test_every_sheet_of_the_form_is_there() -> None:
    assert form().sheetnames == ["Notes", "Job", "Rolls", "Rules", "Runs", "Faces", "Points", "Openings", "Sleeves",
                                 "Takeoff", "Consumables", "Alternates"]


def test_every_key_of_the_job_has_its_place() -> None:
    """A key added to the models is a column or a setting without anything more."""
    names = {sheet.name: set(sheet.by_name) for sheet in sheets()}
    assert set(keys_of(RulesPart)) == names["Rules"]
    assert set(keys_of(RunPart)) - {"faces", "drain"} == names["Runs"]
    assert set(keys_of(FacePart)) - {"openings", "sleeves", "grade"} == names["Faces"] - {
        "run", "grade_left", "grade_right"}
    assert set(keys_of(OpeningPart)) == names["Openings"] - {"run", "face"}
    assert set(keys_of(SleevePart)) == names["Sleeves"] - {"run", "face"}
    paths = {item.path for sheet in sheets() for item in sheet.columns if item.path}
    for name, key in keys_of(ExtrasPart).items():
        if key.kind is not None:
            assert (name,) in paths
        elif key.part is not None and not key.listed:
            inner = {step for step, held in keys_of(key.part).items() if held.kind is not None}
            assert {(name, step) for step in inner} <= paths
    assert {("units",), ("film_side_up",), ("sheet", "width"), ("job", "name")} <= paths
    assert set(keys_of(JobPart)) - set(keys_of(ExtrasPart)) == {
        "job", "units", "sheet", "rules", "runs", "film_side_up"}


def test_heads_are_frozen_have_units_and_a_comment_each() -> None:
    opened = form()
    for name in opened.sheetnames[1:]:
        page = opened[name]
        assert page.freeze_panes and page.freeze_panes.endswith("2")
        assert all(cell.comment and len(cell.comment.text) > 5 for cell in page[1] if cell.value), name
        assert page.print_title_rows == "$1:$1"
        assert page.page_setup.orientation == "landscape"
        assert page.sheet_properties.pageSetUpPr.fitToPage and page.page_setup.fitToHeight == 0
    heads = [cell.value for cell in opened["Faces"][1]]
    assert heads[:5] == ["run", "name", "length [in]", "top [in]", "footing [in]"] and "angle [degrees]" in heads


def test_paper_is_letter_or_a4() -> None:
    assert form()["Faces"].page_setup.paperSize == 1
    metric = openpyxl.load_workbook(io.BytesIO(as_file(starter(metric=True), Path("x.xlsx"))))
    assert metric["Faces"].page_setup.paperSize == 9
    assert metric["Faces"]["C1"].value == "length [mm]"


def test_on_paper_no_text_is_written_over_and_rows_are_left_to_fill_in_by_hand() -> None:
    """A line of 10-point type is 13 points high; in a column so many letters wide words wrap where they must."""
    opened = form()
    for name in opened.sheetnames[1:]:
        page = opened[name]
        for row in page.iter_rows(1, 60):
            lines = max((len(textwrap.wrap(str(cell.value), round(page.column_dimensions[cell.column_letter].width)))
                         for cell in row if cell.value), default=1)
            if lines > 1:
                assert page.row_dimensions[row[0].row].height >= 13 * lines, (name, row[0].row)
    assert opened["Faces"].row_dimensions[1].height >= 26  # "footing depth [in]" in two lines
    assert opened["Faces"].print_area == "'Faces'!$A$1:$K$21" and opened["Sleeves"].print_area.endswith("$G$21")


def test_lists_drop_down_where_a_few_words_will_do() -> None:
    opened = form()
    found = {name: [rule.formula1 for rule in opened[name].data_validations.dataValidation]
             for name in opened.sheetnames}
    assert '"outside,inside,none"' in found["Faces"] and '"right,left"' in found["Runs"]
    assert '"yes,no"' in found["Runs"] and '"in,mm"' in found["Job"] and '"wall,grade"' in found["Rules"]
    assert any(rule.startswith("Faces!$B$2") for rule in found["Openings"])


def test_empty_cells_for_lengths_and_text_take_text_only() -> None:
    """So that a spreadsheet program leaves 3/4 a fraction and 0001 a number with its noughts."""
    opened = form()
    faces, rules = opened["Faces"], opened["Rules"]
    assert faces.column_dimensions["C"].number_format == rules.column_dimensions["B"].number_format == "@"
    assert {cell.number_format for row in faces.iter_rows(2, max_col=10) for cell in row if cell.value} == {"@"}
    assert {rules.cell(row, 2).number_format for row in range(2, rules.max_row + 1)} == {"@"}
    assert opened["Rolls"].column_dimensions["D"].number_format == "General"
