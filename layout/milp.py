"""The only door to the LP solver (HiGHS): build a program, solve it, and hear what is really known.

Answers are floating point. Whoever needs a whole number or a proof checks it in integers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

from layout.errors import SolverError

INFINITY = float(highspy.kHighsInf)
Floats = NDArray[np.float64]

# HiGHS's numbers for its two simplex methods
_DUAL, _PRIMAL = 1, 4


@dataclass(frozen=True)
class LinearAnswer:
    """An optimal point of a linear program: objective, column values and row duals."""

    objective: float
    columns: Floats
    duals: Floats


class _Quiet(highspy.Highs):
    """A solver that prints no banner: its callbacks are switched on only once its output is off."""

    def __init__(self) -> None:
        self._awake = False
        super().__init__()  # type: ignore[no-untyped-call]
        for name, value in (("output_flag", False), ("threads", 1), ("random_seed", 0)):
            self.setOptionValue(name, value)
        self._awake = True

    def enableCallbacks(self) -> None:
        if self._awake:
            super().enableCallbacks()  # type: ignore[no-untyped-call]


class Program:
    """A program to minimise, with columns and rows added as they are found; one solver instance throughout."""

    def __init__(self) -> None:
        self._solver = _Quiet()

    @property
    def columns(self) -> int:
        """Columns added so far."""
        return int(self._solver.getNumCol())

    @property
    def rows(self) -> int:
        """Rows added so far."""
        return int(self._solver.getNumRow())

    @property
    def steps(self) -> int:
        """Steps of the simplex method that the last solution took."""
        return max(0, int(self._solver.getInfo().simplex_iteration_count))

    def add_row(
        self, lower: float, upper: float, indices: Sequence[int] = (), values: Sequence[float] = (),
    ) -> int:
        """Add a row over columns that are already there and return its number."""
        _accepted(self._solver.addRow(float(lower), float(upper), len(indices), _ints(indices), _floats(values)))
        return self.rows - 1

    def add_column(
        self,
        cost: float,
        indices: Sequence[int],
        values: Sequence[float],
        *,
        lower: float = 0.0,
        upper: float = INFINITY,
    ) -> int:
        """Add a column with its entries (row numbers, values) and return its number."""
        _accepted(self._solver.addCol(
            float(cost), float(lower), float(upper), len(indices), _ints(indices), _floats(values)))
        return self.columns - 1

    def bound_column(self, column: int, *, lower: float, upper: float) -> None:
        """Change the bounds of a column."""
        _accepted(self._solver.changeColBounds(column, float(lower), float(upper)))

    def bound_row(self, row: int, *, lower: float, upper: float) -> None:
        """Change the bounds of a row."""
        _accepted(self._solver.changeRowBounds(row, float(lower), float(upper)))

    def solve_linear(self) -> LinearAnswer | None:
        """Solve the program as a linear one, from the last basis.

        Returns
        -------
        LinearAnswer or None
            None when the program is infeasible.

        Raises
        ------
        SolverError
            When the solver gives neither an optimal point nor a proof that there is none.
        """
        self._solver.setOptionValue("simplex_strategy", _PRIMAL)  # columns are added, so the last basis stays feasible
        for attempt in range(2):
            self._solver.run()
            status = self._solver.getModelStatus()
            if status == highspy.HighsModelStatus.kOptimal:
                point = self._solver.getSolution()
                return LinearAnswer(
                    float(self._solver.getObjectiveValue()),
                    np.array(point.col_value),
                    np.array(point.row_dual),
                )
            if status == highspy.HighsModelStatus.kInfeasible:
                return None
            if attempt == 0:
                self._solver.clearSolver()
                self._solver.setOptionValue("simplex_strategy", _DUAL)
        raise SolverError(f"the linear program was not solved: {self._solver.modelStatusToString(status)}")


def _ints(values: Sequence[int]) -> NDArray[np.int32]:
    return np.array(values, dtype=np.int32)


def _floats(values: Sequence[float]) -> Floats:
    return np.array(values, dtype=np.float64)


def _accepted(status: object) -> None:
    """Raise when the solver refused a change to the program."""
    if status == highspy.HighsStatus.kError:
        raise SolverError("the solver refused a change to the program")
