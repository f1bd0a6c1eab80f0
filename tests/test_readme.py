"""The first page and the pages of reference: the commands, the printed example, the pictures, what is generated."""

from __future__ import annotations

import csv
import importlib.util
import io
import re
from pathlib import Path
from types import ModuleType

import pytest
from click.testing import CliRunner

import cli
from layout.job import limits
from layout.job.form import form
from layout.job.model import RulesPart
from layout.reference import limit_rows, topics

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def printed(*words: str) -> str:
    """Return what a command prints, its lines joined where a table or the page's width broke them."""
    run = CliRunner().invoke(cli.main, words, env={"COLUMNS": "100"})
    assert run.exit_code == 0, run.output
    assert all(len(line) <= 100 for line in run.output.splitlines())
    return run.output


@pytest.mark.slow
def test_the_printed_example_is_what_plan_prints(tmp_path: Path) -> None:
    shown = re.search(r"samples/basement\.yaml` prints:\n\n```text\n(.*?)\n```", README, re.S)
    assert shown is not None
    folder = tmp_path / "basement-packet"
    run = CliRunner().invoke(cli.main, ["plan", str(ROOT / "samples/basement.yaml"), "-o", str(folder)])
    assert run.exit_code == 0
    assert run.output.strip().replace(str(folder), "samples/basement-packet") == shown[1]
    for file in folder.iterdir():
        assert f"`{file.name}" in README, file.name


def test_a_buyer_and_a_developer_each_have_a_short_page() -> None:
    assert len(README.splitlines()) <= 110
    assert len((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines()) <= 160


def test_every_command_is_on_the_first_page() -> None:
    told = {word for line in README.splitlines() if line.startswith("| `")
            for quoted in re.findall(r"`([^`]*)`", line.split("|")[1]) for word in quoted.split()[:1]}
    assert set(cli.main.commands) <= told


def test_every_file_and_topic_that_is_named_is_there() -> None:
    for place in re.findall(r"\]\(([^)]+)\)", README):
        assert (ROOT / place).is_file(), place
    assert set(topics()) == set(re.findall(r"\(layout/docs/(\w+)\.md\)", README))


@pytest.mark.parametrize("name", topics())
def test_a_topic_is_printed(name: str) -> None:
    assert topics()[name] in printed("docs", name) and name in printed("docs")


def test_the_limits_are_the_programs() -> None:
    told = " ".join(cell for row in limit_rows() for cell in row)
    for name, most in vars(limits).items():
        if name.startswith("MAX_"):
            shown = most if isinstance(most, str) else f"{most // 1_000_000} MB" if name == "MAX_BYTES" else f"{most:,}"
            assert re.search(rf"(?<![\d,]){re.escape(shown)}(?![\d,])", told), name
    assert "5280 ft long" in " ".join(printed("limits").split())


def test_every_rule_is_told_with_its_defaults() -> None:
    text = printed("rules")
    assert all(re.search(rf"^ {name} ", text, re.M) for name in RulesPart.model_fields)
    assert re.search(r'^ side_lap +2 1/2" +65 mm +Overlap', text, re.M)


def test_the_keys_of_every_part_are_told() -> None:
    parts = form()
    places, told = [("", "JobPart")], set()
    while places:
        place, part = places.pop()
        text = printed("keys", *([place] if place else []))
        told.add(part)
        for field in parts[part]:
            assert re.search(rf"^ {field['key']}\*? ", text, re.M), (place, field["key"])
            if "of" in field:
                places.append((f"{place}.{field['key']}".lstrip("."), field["of"]))
    assert told == set(parts)


@pytest.mark.parametrize("words", [("keys", "runs.doors"), ("keys", "rules.side_lap"), ("docs", "roofs")])
def test_what_is_not_there_is_refused_with_what_is(words: tuple[str, str]) -> None:
    run = CliRunner().invoke(cli.main, words)
    assert run.exit_code == 2
    assert run.stderr.count("\n") == 1 and re.search(r"is no (part|topic).*(here|there) are ", run.stderr)


def test_every_layer_is_told_and_the_mapping_names_it() -> None:
    text = printed("layers")
    for row in csv.DictReader(io.StringIO(printed("layers", "--csv"))):
        assert re.search(rf"^ {row['use']} +{row['name']} +{re.escape(row['meaning'])}", text, re.M)


def pictures() -> ModuleType:
    """Return the script that draws the pictures."""
    spec = importlib.util.spec_from_file_location("pictures", ROOT / "samples" / "pictures.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.slow
def test_the_pictures_are_what_the_program_draws() -> None:
    for name, text in pictures().pictures().items():
        assert (ROOT / "samples" / name).read_text(encoding="utf-8") == text, "python samples/pictures.py draws anew"
