"""The comparison: its figures against the plans they are of, its table in every form, and the command."""

from __future__ import annotations

import csv
import io
import json
import re
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

import cli
from layout.compare import (
    COLUMNS, Figures, Row, cells, compare, compare_rules, comparison_csv, comparison_json, difference, plan_figures,
    headings, narrow_table, one_currency, cost_picture, ranked, tables_across, verdict,
)
from layout.job import read_job_text
from layout.pipeline import make_plan
from layout.scenarios import Scenario, read_scenarios
from layout.units import INCH, MM


def wall_job(**rules: object) -> dict[str, object]:
    """Return a straight wall 505 in long, just what 15 drops cover at 2 1/2 in of lap; they are 100 in long."""
    return {
        "job": {"name": "Straight wall"}, "sheet": {"width": 36, "rolls": [{"length": 800, "price": 205}]},
        "rules": {"turn_down": 4, "corner_strip": 0, "base_strip": 0, "cut_to": "1/16", "roll_end": 0, **rules},
        "runs": [{"name": "A", "faces": [{"name": "South", "length": 505, "top": 96}]}],
    }


@pytest.fixture()
def job_file(tmp_path: Path) -> Path:
    """Return the wall's job file."""
    path = tmp_path / "wall.json"
    path.write_text(json.dumps(wall_job()), encoding="utf-8")
    return path


def some(**changes: object) -> Figures:
    """Return figures, most of them of no matter."""
    made: dict[str, object] = {
        "rolls": 3, "remnants": 0, "cost": Decimal("615"), "bound": Decimal("615"), "proven": True, "drops": 15,
        "pieces_of_sheet": 15, "seam_length": Decimal("116.7"), "lap_area": Decimal("24.3"),
        "leftover_kept": Decimal("1.0"),
        "scrap": Decimal("0.5"), "exceptions": 0, **changes,
    }
    return Figures(**made)  # type: ignore[arg-type]


def test_figures_of_a_wall_worked_by_hand() -> None:
    found = plan_figures(make_plan(read_job_text(json.dumps(wall_job()), "wall")), INCH)
    # 15 x 36 - 14 x 2 1/2 = 505 in; 8 drops of 100 in a roll of 800 in: 2 rolls, 100 in left of the second
    assert (found.rolls, found.drops, found.pieces_of_sheet) == (2, 15, 15)
    assert (found.cost, found.proven) == (Decimal(410), True)
    assert found.seam_length == Decimal("116.7")  # 14 seams of 100 in, in feet
    assert found.lap_area == Decimal("24.3")  # 14 x 2 1/2 x 100 sq in, in square feet
    assert (found.leftover_kept, found.scrap) == (Decimal("25.0"), Decimal("0.0"))  # 100 x 36 sq in


def test_figures_in_the_other_system_are_the_same_lengths() -> None:
    plan = make_plan(read_job_text(json.dumps(wall_job()), "wall"))
    assert plan_figures(plan, MM).seam_length == Decimal("35.6")  # 14 x 100 in x 25.4 mm
    assert plan_figures(plan, MM).lap_area == Decimal("2.3")  # 3500 sq in


def test_rows_come_in_the_order_given_and_are_the_same_side_by_side(job_file: Path) -> None:
    scenarios = read_scenarios(job_file, ["side_lap=6", "max_piece=60", "turn_down=6"])
    alone = compare(scenarios, workers=1)
    assert [row.name for row in alone] == ["as it is", "side_lap=6", "max_piece=60", "turn_down=6"]
    assert compare(scenarios, workers=3) == alone
    assert alone[1].figures is not None and alone[1].figures.drops == 17  # ceil((505 - 6) / 30)
    assert alone[2].figures is not None and alone[2].figures.pieces_of_sheet == 30


def test_a_scenario_without_a_layout_says_why_and_the_others_stand(job_file: Path) -> None:
    rows = compare(read_scenarios(job_file, ["sheet.rolls.0.on_hand=1"]), workers=1)
    assert rows[0].figures is not None
    assert rows[1].figures is None and "on hand cannot hold" in rows[1].why
    assert cells(rows[1], rows[0]) == ["–"] * len(COLUMNS)


def test_a_wish_to_stop_is_heard(job_file: Path) -> None:
    rows = compare(read_scenarios(job_file, ["side_lap=6"]), workers=2, stop=lambda: True)
    assert all(row.figures is not None for row in rows)


def test_differences_are_from_the_first() -> None:
    first, other = Row("a", some()), Row("b", some(rolls=2, cost=Decimal("410.5"), drops=16, proven=False))
    found = dict(zip((column.name for column in COLUMNS), cells(other, first), strict=True))
    assert found["rolls"] == "2 (-1)" and found["cost"] == "410.50 (-204.50)" and found["drops"] == "16 (+1)"
    assert found["proven"] == "no" and found["pieces_of_sheet"] == "15 (=)"
    assert cells(first, first)[4] == "3"


def test_no_difference_is_told_where_it_would_say_nothing() -> None:
    first = Row("a", some(currency="USD"))
    assert difference(Row("b", some(currency="CAD")), first, "cost") is None
    assert difference(Row("b", some(cost=None)), first, "cost") is None
    assert difference(Row("b", None, "no"), first, "rolls") is None
    assert difference(Row("b", some(proven=False)), first, "proven") is None


def test_headings_name_their_units() -> None:
    assert "seams, ft" in headings(INCH) and "laps, sq ft" in headings(INCH)
    assert "seams, m" in headings(MM) and "laps, m²" in headings(MM)


@pytest.mark.parametrize("name", ["=cmd()", "@x", "+1", "-1", "\t=1", "'x"])
def test_csv_text_is_no_formula_and_numbers_stay_numbers(name: str) -> None:
    rows = [Row("as it is", some()), Row(name, some(rolls=2)), Row("c", None, "=why")]
    read = list(csv.DictReader(io.StringIO(comparison_csv(rows))))
    assert read[1]["scenario"] == "'" + name
    assert (read[1]["rolls"], read[1]["rolls_difference"], read[0]["rolls_difference"]) == ("2", "-1", "")
    assert read[2]["no_layout"] == "'=why" and read[2]["rolls"] == ""


def test_json_holds_every_column() -> None:
    told = json.loads(comparison_json([Row("a", some()), Row("é", some(rolls=2)), Row("c", None, "why")], INCH))
    assert set(told["scenarios"][0]["figures"]) == {column.name for column in COLUMNS}
    assert told["scenarios"][1]["difference"]["rolls"] == -1 and told["scenarios"][1]["name"] == "é"
    assert told["scenarios"][2] == {
        "name": "c", "no_layout": "why", "figures": None, "difference": None, "currency": None, "rank": 3}
    assert (told["format"], told["unit"], told["length"]) == ("lapwright comparison", "in", "ft")


def test_rules_are_tried_one_by_one(job_file: Path) -> None:
    job = read_job_text(json.dumps(wall_job(turn_down=4.5)), "wall")  # 15 drops of 100 1/2 in: 7 a roll, 3 rolls
    rows = compare_rules(Scenario("as it is", job), workers=1)
    assert rows[0].figures is not None and rows[0].figures.rolls == 3
    saved = {row.name: row.figures.rolls for row in rows[1:] if row.figures}
    assert saved['turn_down 4" instead of 4 1/2"'] == 2


# --- the command -------------------------------------------------------------------------------

def run(*arguments: str) -> tuple[int, str, str]:
    """Run the command and return its exit status, stdout and stderr."""
    result = CliRunner().invoke(cli.main, ["compare", *arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


def test_command_prints_and_writes_the_table(job_file: Path, tmp_path: Path) -> None:
    table, data = tmp_path / "t.csv", tmp_path / "t.json"
    status, out, err = run(str(job_file), "--with", "side_lap=6", "--with", "max_piece=[red]9 ft",
                           "--csv", str(table), "--json", str(data))
    assert status == 2 and not table.exists() and "max_piece" in err  # a fault in any: nothing is planned
    status, out, err = run(str(job_file), "--with", "side_lap=6", "--with", "turn_down=[4, 5]",
                           "--csv", str(table), "--json", str(data))
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert max(len(line) for line in lines) <= 100
    names = [line[:16].strip() for line in lines[2:5]]
    assert set(names) == {"as it is", "side_lap=6", "turn_down=[4, 5]"} and names[-1] == "side_lap=6"
    assert run(str(job_file), "--with", "side_lap=6", "--wide")[1].count("17 (+2)") == 2  # drops and pieces of sheet
    assert "\x1b" not in out
    assert len(table.read_text(encoding="utf-8").splitlines()) == 4
    assert len(json.loads(data.read_text(encoding="utf-8"))["scenarios"]) == 3


def test_command_tells_all_faults_and_plans_nothing(job_file: Path) -> None:
    status, out, err = run(str(job_file), "--with", "sidelap=4", "--with", "fillet=x")
    assert (status, out) == (2, "")
    assert len(err.splitlines()) == 2 and "did you mean side_lap?" in err


def test_command_says_when_nothing_can_be_laid_out(job_file: Path, tmp_path: Path) -> None:
    job = wall_job()
    job["sheet"] = {"width": 36, "rolls": [{"length": 800, "price": 205, "on_hand": 1}]}
    path = tmp_path / "short.json"
    path.write_text(json.dumps(job), encoding="utf-8")
    status, out, _ = run(str(path))
    assert status == 3 and "as it is: no layout is possible: " in out


def test_a_folder_that_is_not_there_is_told_before_anything_is_planned(job_file: Path, tmp_path: Path) -> None:
    status, out, err = run(str(job_file), "--csv", str(tmp_path / "none" / "t.csv"))
    assert (status, out) == (2, "") and err == f"{tmp_path}/none/t.csv: there is no such folder to write it in\n"


def test_columns_are_shared_among_as_few_tables_as_fit() -> None:
    assert tables_across([10, 10, 10, 5], 35) == [(0, 4)]
    assert tables_across([10, 10, 10, 5], 25) == [(0, 2), (2, 4)]
    assert tables_across([30, 10, 10], 25) == [(0, 1), (1, 3)]


def test_a_narrow_terminal_gets_tables_that_all_name_their_scenarios(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("COLUMNS", "70")
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    cli.show_comparison([Row("as it is", some()), Row("side_lap=6", some(rolls=2))], INCH, wide=True)
    lines = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", capsys.readouterr().out).splitlines()
    assert max(len(line) for line in lines) <= 70 and not any("…" in line for line in lines)
    tables = sum("scenario" in line for line in lines)
    assert tables > 1 and sum("side_lap=6" in line for line in lines) == tables
    assert all(any(column.heading.split(",")[0] in line for line in lines)
               for column in COLUMNS if column.name != "courses")


def test_amounts_name_their_currency_where_it_is_not_the_same_for_all() -> None:
    euro, dollar = Row("a", some(currency="EUR")), Row("b", some(currency="USD"))
    assert one_currency([euro, euro]) == "EUR" and one_currency([euro, dollar]) == ""
    assert cells(dollar, euro)[1] == "615.00 USD" and cells(euro, euro, currency="EUR")[1] == "615.00"
    assert "sheet, EUR" in headings(INCH, currency="EUR") and "sheet" in headings(INCH)


# --- by what the whole job costs ---------------------------------------------------------------

def priced_job() -> dict[str, object]:
    """Return the wall with prices for hanging and rolling: 15 drops of 100 in, 2 rolls."""
    return {**wall_job(), "labour": {"per_drop": 30, "per_seam": 2}, "money": {"currency": "USD"}}


NARROW = 'sheet={width: 24, rolls: [{length: 800, price: 120}]}'


def test_the_cheaper_job_comes_first_though_its_sheet_costs_more(tmp_path: Path) -> None:
    """A narrower sheet is cheaper to buy and dearer to hang.

    36 in: 2 rolls, 410; 15 drops x 30 + 14 seams x 100 / 12 = 116.67 ft x 2 = 233.34: 410 + 450 + 233.34 = 1,093.34.
    24 in: ceil((505 - 2.5) / 21.5) = 24 drops, 8 a roll: 3 rolls, 360; 24 x 30 + 23 x 100 / 12 = 191.67 x 2 = 383.34:
    360 + 720 + 383.34 = 1,463.34.
    """
    path = tmp_path / "priced.json"
    path.write_text(json.dumps(priced_job()), encoding="utf-8")
    rows = compare(read_scenarios(path, [NARROW]), workers=1)
    wide, narrow = (row.figures for row in rows)
    assert wide is not None and narrow is not None
    assert (wide.cost, wide.total) == (Decimal(410), Decimal("1093.34"))
    assert (narrow.cost, narrow.total) == (Decimal(360), Decimal("1463.34"))
    assert [row.name for row in ranked(list(reversed(rows)))] == ["as it is", NARROW]
    lines = narrow_table(rows, INCH)
    assert lines[2].startswith("as it is") and "1,093.34" in lines[2] and "+370.00" in lines[3]
    assert verdict(rows)[0].startswith("the takeoffs leave out lines that have no price")
    told = json.loads(comparison_json(rows, INCH))
    assert [each["rank"] for each in told["scenarios"]] == [1, 2]


def test_rules_say_when_nothing_saves() -> None:
    rows = [Row("as it is", some(total=Decimal(100))), Row("side_lap 2", some(total=Decimal(101)))]
    assert verdict(rows, rules=True) == [
        "of 1 single changes of a rule that were tried, none makes the job cheaper"]
    assert verdict(rows[:1], rules=True) == ["no single change of a rule might take less sheet: none was tried"]
    cheaper = [rows[0], Row("side_lap 2", some(total=Decimal("98.5"), exceptions=1))]
    assert verdict(cheaper, rules=True) == [
        "cheapest: side_lap 2, 1.50 less than as it is", "it breaks more rules: see the column exc."]


def test_the_narrow_table_keeps_within_the_screen() -> None:
    long = "runs.A.faces.East.sleeves.P1.at=12'-0\", runs.A.faces.West.sleeves.P2.elevation=7'-3 1/2\""
    rows = [Row("as it is", some(total=Decimal("1234567.89"), labour=Decimal("234567.10"), days=123)),
            Row(long, some(total=Decimal("1334567.89"), labour=Decimal("234567.10"), days=123)), Row("x", None, "why")]
    lines = narrow_table(rows, INCH)
    assert max(len(line) for line in lines) <= 100
    names = "".join(line[:20].strip() for line in lines[3:])
    assert "sleeves.P1.at" in names and "P2" in names
    assert any("no layout" in line for line in lines)


def test_the_picture_holds_each_way_with_its_areas(tmp_path: Path) -> None:
    from xml.etree import ElementTree

    first = Row("as <it> is", some(total=Decimal(100), to_cover=Decimal("90.5")))
    rows = [first, Row("b", some()), Row("c", None, "w")]
    svg = cost_picture(rows, INCH)
    texts = [element.text for element in ElementTree.fromstring(svg).iter() if element.tag.endswith("text")]
    assert any("as <it> is" in str(text) for text in texts) and not any(text == "c" for text in texts)
    # 90.5 + 24.3 + 0 + 1.0 + 0.5
    assert any("opened 116.3" in str(text) for text in texts)
