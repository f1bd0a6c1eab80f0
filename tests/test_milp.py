"""The solver's door: what it says is optimal, infeasible or stopped is just that."""

import pytest
from helpers.integer import IntegerProgram

from layout.milp import INFINITY, Program


def knapsack() -> IntegerProgram:
    """Return: at most 10 of weights 6, 5, 5 with worths 8, 5, 5; the linear optimum takes 6 and four fifths of a 5."""
    program = IntegerProgram()
    program.add_row(-INFINITY, 10)
    for weight, worth in ((6, 8), (5, 5), (5, 5)):
        program.add_integer(-worth, [0], [weight], upper=1)
    return program


def test_linear_optimum_and_duals_of_a_worked_program() -> None:
    # least x + y with x + 2y >= 4 and 3x + y >= 6: x = 8/5, y = 6/5, objective 14/5, duals 2/5 and 1/5
    program = Program()
    program.add_row(4, INFINITY)
    program.add_row(6, INFINITY)
    program.add_column(1, [0, 1], [1, 3])
    program.add_column(1, [0, 1], [2, 1])
    answer = program.solve_linear()
    assert answer is not None
    assert answer.objective == pytest.approx(14 / 5)
    assert list(answer.columns) == pytest.approx([8 / 5, 6 / 5])
    assert list(answer.duals) == pytest.approx([2 / 5, 1 / 5])


def test_a_column_added_later_is_used() -> None:
    program = Program()
    program.add_row(7, INFINITY)
    program.add_column(1, [0], [2])
    first = program.solve_linear()
    program.add_column(1, [0], [7])
    second = program.solve_linear()
    assert first is not None and second is not None
    assert first.objective == pytest.approx(3.5)
    assert second.objective == pytest.approx(1)


def test_an_infeasible_linear_program_is_none_and_can_be_mended() -> None:
    program = Program()
    row = program.add_row(5, INFINITY)
    program.add_column(1, [row], [1], upper=2)
    assert program.solve_linear() is None
    program.bound_row(row, lower=2, upper=INFINITY)
    answer = program.solve_linear()
    assert answer is not None and answer.objective == pytest.approx(2)


def test_integer_optimum_of_a_worked_knapsack() -> None:
    answer = knapsack().solve_integer(nodes=100, step=1)
    assert answer.status == "optimal"
    assert answer.objective == pytest.approx(-10)
    assert list(answer.columns) == [0, 1, 1]


def test_integer_infeasible_is_said() -> None:
    program = IntegerProgram()
    program.add_row(3, 3)
    program.add_integer(1, [0], [2], upper=5)
    answer = program.solve_integer(nodes=100, step=1)
    assert answer.status == "infeasible"
    assert answer.objective is None


def test_stop_ends_the_search_and_the_status_says_so() -> None:
    program = IntegerProgram()
    count = 40
    for row in range(count):
        program.add_row(-INFINITY, 900 + row)
    for column in range(120):
        values = [(column * 37 + row * 101) % 293 + 1 for row in range(count)]
        program.add_integer(-(100 + column * 61 % 97), list(range(count)), values, upper=3)
    answer = program.solve_integer(nodes=10**6, step=1, stop=lambda: True)
    assert answer.status == "stopped"


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    program = knapsack()
    program.solve_linear()
    program.solve_integer(nodes=10, step=1, stop=lambda: False)
    assert capfd.readouterr().out == ""
