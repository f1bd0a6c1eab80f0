"""Faults as one plain line each."""

from __future__ import annotations

import pytest

from layout.errors import DrawingError, Fault, JobError, LayoutError, NoLayout, SolverError


def test_a_fault_is_one_line() -> None:
    fault = Fault(12, "runs[0].faces[2].openings[0].width", "must be more than 0", "-40")
    assert fault.text("wall.yaml") == "wall.yaml:12: runs[0].faces[2].openings[0].width: must be more than 0 (got -40)"


def test_a_hint_follows() -> None:
    assert Fault(3, "lenght", "is not a known key", hint="did you mean length?").text("a.yaml") == (
        "a.yaml:3: lenght: is not a known key; did you mean length?")


def test_no_line_no_place_no_file() -> None:
    assert Fault(0, "", "must be at most 5 MB").text("a.yaml") == "a.yaml: must be at most 5 MB"
    assert Fault(4, "job", "must be given").text() == "job: must be given"


def test_line_breaks_in_a_value_do_not_break_the_line() -> None:
    assert "\n" not in Fault(1, "a", "must be text", "one\ntwo").text("a\n.yaml")


def test_faults_order_by_line() -> None:
    assert sorted([Fault(9, "a", "x"), Fault(2, "b", "y")])[0].line == 2


def test_job_error_holds_every_fault() -> None:
    faults = [Fault(1, "a", "must be given"), Fault(2, "b", "must be text", "3")]
    error = JobError(faults, "job.yaml")
    assert error.faults == tuple(faults)
    assert error.lines() == ["job.yaml:1: a: must be given", "job.yaml:2: b: must be text (got 3)"]
    assert str(error) == "\n".join(error.lines())


@pytest.mark.parametrize("kind", [JobError, NoLayout, SolverError, DrawingError])
def test_one_tree(kind: type[Exception]) -> None:
    assert issubclass(kind, LayoutError)
