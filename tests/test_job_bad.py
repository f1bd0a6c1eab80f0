"""Bad job files: one file a fault in tests/bad_jobs, each with its exact message; and inputs that are no job at all."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from cli import main
from layout.errors import JobError
from layout.job import echo, limits, read_job, read_job_text

FOLDER = Path(__file__).parent / "bad_jobs"
FILES = sorted(path for path in FOLDER.iterdir() if path.suffix in (".yaml", ".json"))
MARK = "# expect: "


def expected(path: Path) -> list[str]:
    """Return the messages that a bad job's own first lines, or the text file beside it, say it must give."""
    beside = path.with_suffix(".txt")
    lines = (beside if beside.exists() else path).read_text(encoding="utf-8", errors="replace").splitlines()
    return [f"{path}:{line.removeprefix(MARK)}" for line in lines if line.startswith(MARK)]


def faults(text: str, *, file: str = "job.yaml") -> list[str]:
    """Return the messages that a text gives; none when it is a good job."""
    try:
        read_job_text(text, file)
    except JobError as error:
        return error.lines()
    return []


GOOD = """\
job: {name: Good}
sheet: {width: 36, rolls: [{length: 66'-8"}]}
runs:
  - {name: A, faces: [{name: South, length: 40'-0", top: 8'-0"}]}
"""


def test_there_are_enough_bad_jobs() -> None:
    assert len(FILES) >= 40


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_bad_job_gives_its_message_and_no_other(path: Path) -> None:
    assert expected(path)
    with pytest.raises(JobError) as caught:
        read_job(path)
    assert caught.value.lines() == expected(path)


def test_good_job_gives_none() -> None:
    assert faults(GOOD) == []


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(JobError, match=r"none\.yaml: cannot be read: no such file or directory"):
        read_job(tmp_path / "none.yaml")


def test_directory(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="must be a file, not a folder, a device or a pipe"):
        read_job(tmp_path)


def test_path_with_a_null() -> None:
    with pytest.raises(JobError, match="cannot be read: no such file"):
        read_job(Path("a\0b"))


def test_huge_file(tmp_path: Path) -> None:
    path = tmp_path / "huge.yaml"
    path.write_bytes(b"#" * (limits.MAX_BYTES + 1))
    with pytest.raises(JobError) as caught:
        read_job(path)
    assert caught.value.lines() == [f"{path}: must be at most 5 MB"]


def test_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "job.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert read_job(path).info.name == "Good"


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing\n", "---\n", "null\n", "8'-0\"\n", "[]\n", "{}\n"])
def test_hardly_any_text(text: str) -> None:
    assert len(faults(text)) >= 1


def many_faces(count: int, *, more: str = "") -> str:
    """Return a job of so many short faces."""
    faces = "".join(f"      - {{name: F{index}, length: 4', top: 8'{more}}}\n" for index in range(count))
    return GOOD[:GOOD.index("runs:")] + "runs:\n  - name: A\n    faces:\n" + faces


def test_too_many_faces() -> None:
    assert faults(many_faces(limits.MAX_FACES + 1)) == [
        "job.yaml:3: runs: must have at most 500 faces together (got 501)"]


def test_too_many_runs() -> None:
    run = "  - {name: R%d, faces: [{name: S, length: 4', top: 8'}]}\n"
    text = GOOD[:GOOD.index("runs:")] + "runs:\n" + "".join(run % index for index in range(limits.MAX_RUNS + 1))
    assert faults(text) == ["job.yaml:3: runs: must be at most 100 runs (got 101)"]


def test_too_many_points() -> None:
    points = ", ".join(f"[{index}, 96]" for index in range(limits.MAX_POINTS + 1))
    assert faults(GOOD.replace("top: 8'-0\"", f"top: [{points}]").replace("40'-0\"", "4000")) == [
        "job.yaml:4: runs.A.faces.South.top: must have at most 500 points (got 501)"]


def test_too_many_openings_on_one_face() -> None:
    sleeve = "{tag: P%d, at: 1000, elevation: 40, diameter: 4}"
    sleeves = ", ".join(sleeve % index for index in range(limits.MAX_FEATURES_A_FACE + 1))
    text = GOOD.replace("top: 8'-0\"}", f"top: 8'-0\", sleeves: [{sleeves}]}}").replace("40'-0\"", "4000")
    assert faults(text) == ["job.yaml:4: runs.A.faces.South.sleeves: must be at most 200 on one face (got 201)"]


def test_too_many_features_together(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("layout.job.checks.names.MAX_FEATURES", 50)
    sleeves = ", ".join(f"{{tag: P%d-{index}, at: 24, elevation: 40, diameter: 4}}" for index in range(11))
    text = "".join(line.replace("8'}", "8', sleeves: [" + sleeves.replace("%d", str(number)) + "]}")
                   for number, line in enumerate(many_faces(5).splitlines(keepends=True)))
    assert faults(text) == ["job.yaml:3: runs: must have at most 50 openings and sleeves together (got 55)"]


def test_too_many_drops() -> None:
    text = many_faces(60).replace("length: 4'", "length: 5000 ft").replace("8'", "8'-0\"")
    assert faults(text) == [
        "job.yaml:3: runs: must need at most 2,500 drops together (got about 107,520)",
        "job.yaml:3: runs: must need at most 5,000 pieces of sheet together (got about 107,520)"]


@pytest.mark.slow
def test_too_many_points_together() -> None:
    """Level ends are not counted: a top of 500 points whose last two are level has 499 of them."""
    points = ", ".join(f"[{index}, {96 + index % 2}]" for index in range(limits.MAX_POINTS - 1))
    top = f"[{points}, [{limits.MAX_POINTS}, 96]]"
    text = many_faces(41).replace("8'}", f"{top}}}").replace("length: 4'", "length: 500")
    assert faults(text) == [
        "job.yaml:3: runs: must have at most 20,000 points in their profiles, lows and highs together "
        f"(got {41 * 499 + 41:,})"]


def test_too_many_kinds_of_roll() -> None:
    rolls = ", ".join(f"{{length: {400 + index}}}" for index in range(limits.MAX_ROLLS + 1))
    text = GOOD.replace('{length: 66\'-8"}', rolls)
    assert faults(text) == ["job.yaml:2: sheet.rolls: must be at most 50 kinds of roll (got 51)"]


def test_too_many_remnants() -> None:
    remnants = ", ".join(f"{{tag: K{index}, length: 100}}" for index in range(limits.MAX_REMNANTS + 1))
    text = GOOD.replace("rolls:", f"remnants: [{remnants}], rolls:")
    assert faults(text) == ["job.yaml:2: sheet.remnants: must be at most 500 remnants (got 501)"]


def test_too_long_a_list() -> None:
    lows = ", ".join(str(index) for index in range(limits.MAX_LIST + 1))
    assert faults(GOOD.replace("{name: A,", f"{{name: A, lows: [{lows}],")) == [
        "job.yaml:4: runs.A.lows: must have 1 to 1,000 items (got 1001)"]


def test_as_many_points_as_may_be_are_written_so_that_they_can_be_read_again() -> None:
    """A profile that ends before its face gets a last point; written out with it, it would have one too many."""
    points = ", ".join(f"[{index + 1}, {96 + index % 2}]" for index in range(limits.MAX_POINTS))
    job = read_job_text(GOOD.replace("top: 8'-0\"", f"top: [{points}]").replace("40'-0\"", "4000"), "job.yaml")
    assert len(job.runs[0].faces[0].top) == limits.MAX_POINTS + 2
    assert read_job_text(echo(job), "again.yaml") == job


def test_faults_past_the_limit_are_counted() -> None:
    wrong = ", ".join(["{length: 0}"] * (limits.MAX_FAULTS + 4))  # and too many kinds of roll, one fault more
    text = GOOD.replace('{length: 66\'-8"}', wrong)
    told = faults(text)
    assert len(told) == limits.MAX_FAULTS + 1
    assert told[-1] == "job.yaml: has 5 faults more, not listed"


def test_wrong_unit_brings_no_faults_about_lengths() -> None:
    text = GOOD.replace("width: 36", "width: 914").replace("sheet", "units: metres\nsheet")
    assert faults(text) == ["job.yaml:2: units: must be in or mm (got metres); did you mean mm?"]


def test_faults_stand_in_the_order_of_the_file() -> None:
    text = "runs: 3\nrules: {side_lap: -1, end_lap: -1}\nsheet: {rolls: [], width: x}\njob: {}\n"
    assert [line.split(": ")[1] for line in faults(text)] == [
        "runs", "rules.side_lap", "rules.end_lap", "sheet.rolls", "sheet.width", "job.name"]


def test_a_wrong_value_hides_no_other_fault() -> None:
    """The face's ledge is wrong, and still its opening is told to lie outside it."""
    text = GOOD.replace("top: 8'-0\"", "top: 8'-0\", ledge: wide, openings: "
                        "[{tag: W1, left: 39', sill: 4', width: 3', height: 2'}]")
    assert [line.split(": ")[1] for line in faults(text)] == [
        "runs.A.faces.South.ledge", "runs.A.faces.South.openings.W1.width"]


def test_messages_hold_no_control_characters() -> None:
    told = faults(GOOD.replace("name: South", 'name: South, "le\\e[31m\\nngth": "\\e[2J"'))
    assert told and all(line.isprintable() for line in told)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_plan_tells_it_on_stderr_and_writes_nothing(path: Path, tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["plan", str(path), "-o", str(tmp_path / "packet")])
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines() == expected(path)
    assert list(tmp_path.iterdir()) == []
