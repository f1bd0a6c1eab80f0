"""The only door to the LP and MILP solver (HiGHS): build a program, solve it, and hear what is really known.

Answers are floating point. Whoever needs a whole number or a proof checks it in integers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import highspy
import numpy as np
from numpy.typing import NDArray

from layout.errors import SolverError

INFINITY = float(highspy.kHighsInf)
Status = Literal["optimal", "infeasible", "stopped"]
Floats = NDArray[np.float64]

# a program in which no column can be worth less than this is solved to the last whole unit
_TIGHT = 1e-9
# HiGHS's numbers for its two simplex methods
_DUAL, _PRIMAL = 1, 4


@dataclass(frozen=True)
class LinearAnswer:
    """An optimal point of a linear program: objective, column values, row duals and column reduced costs."""

    objective: float
    columns: Floats
    duals: Floats
    reduced: Floats


@dataclass(frozen=True)
class IntegerAnswer:
    """What an integer program ended with.

    Parameters
    ----------
    status
        ``optimal`` and ``infeasible`` are the solver's claims; ``stopped`` says that a limit ended the search.
    objective
        Of the best point found; None when there is none.
    columns
        The best point, rounded to whole numbers where columns are integer; empty when there is none.
    bound
        The solver's lower bound.
    """

    status: Status
    objective: float | None
    columns: Floats
    bound: float


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
    """A program to minimise, with columns and rows added as they are found; one solver instance throughout.

    Parameters
    ----------
    steps
        Most steps of the simplex method in one solution of it as a linear program, twice over; no limit when None.
    """

    def __init__(self, steps: int | None = None) -> None:
        self._solver = _Quiet()
        self._integers: list[int] = []
        if steps is not None:
            self._solver.setOptionValue("simplex_iteration_limit", steps)

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
        """Steps of the simplex method that the last solution took, all nodes of an integer program together."""
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
        integer: bool = False,
    ) -> int:
        """Add a column with its entries (row numbers, values) and return its number."""
        _accepted(self._solver.addCol(
            float(cost), float(lower), float(upper), len(indices), _ints(indices), _floats(values)))
        column = self.columns - 1
        if integer:
            _accepted(self._solver.changeColIntegrality(column, highspy.HighsVarType.kInteger))
            self._integers.append(column)
        return column

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
                    np.array(point.col_dual),
                )
            if status == highspy.HighsModelStatus.kInfeasible:
                return None
            if attempt == 0:
                self._solver.clearSolver()
                self._solver.setOptionValue("simplex_strategy", _DUAL)
        raise SolverError(f"the linear program was not solved: {self._solver.modelStatusToString(status)}")

    def solve_integer(
        self,
        *,
        nodes: int,
        step: float,
        cutoff: float | None = None,
        stop: Callable[[], bool] | None = None,
    ) -> IntegerAnswer:
        """Solve the program with its integer columns.

        Parameters
        ----------
        nodes
            Most nodes of the search tree.
        step
            Objectives of different answers differ by at least this much.
        cutoff
            Only answers of at most this objective are wanted.
        stop
            Asked now and then; true ends the search.
        """
        self._solver.setOptionValue("simplex_strategy", _DUAL)
        self._solver.setOptionValue("mip_max_nodes", nodes)
        self._solver.setOptionValue("mip_rel_gap", 0.0)
        self._solver.setOptionValue("mip_abs_gap", max(_TIGHT, step * (1 - 1e-6)))
        if cutoff is not None:
            self._solver.setOptionValue("objective_bound", cutoff + step / 2)
        if stop is not None:
            self._listen(stop)
        self._solver.run()
        status = self._solver.getModelStatus()
        info = self._solver.getInfo()
        if status == highspy.HighsModelStatus.kInfeasible:
            return IntegerAnswer("infeasible", None, np.zeros(0), INFINITY)
        found = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
        point = np.array(self._solver.getSolution().col_value) if found else np.zeros(0)
        if found:
            point[self._integers] = np.rint(point[self._integers])
        ended: Status = "optimal" if found and status == highspy.HighsModelStatus.kOptimal else "stopped"
        objective = float(info.objective_function_value) if found else None
        return IntegerAnswer(ended, objective, point, float(info.mip_dual_bound))

    def _listen(self, stop: Callable[[], bool]) -> None:
        """Let the caller end the search of an integer program."""
        def heard(event: Any) -> None:
            if stop():
                event.interrupt()
        self._solver.enableCallbacks()
        self._solver.cbMipInterrupt.subscribe(heard)


def _ints(values: Sequence[int]) -> NDArray[np.int32]:
    return np.array(values, dtype=np.int32)


def _floats(values: Sequence[float]) -> Floats:
    return np.array(values, dtype=np.float64)


def _accepted(status: object) -> None:
    """Raise when the solver refused a change to the program."""
    if status == highspy.HighsStatus.kError:
        raise SolverError("the solver refused a change to the program")
