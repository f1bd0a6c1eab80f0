"""Integer programs, for what tests compare with: the program solves linear ones only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import highspy
import numpy as np

from layout.milp import INFINITY, Floats, Program

Status = Literal["optimal", "infeasible", "stopped"]
TIGHT = 1e-9
"""A program in which no column can be worth less than this is solved to the last whole unit."""
DUAL = 1
"""HiGHS's number for the dual simplex method."""


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


class IntegerProgram(Program):
    """A program some of whose columns are whole numbers."""

    def __init__(self) -> None:
        super().__init__()
        self._integers: list[int] = []

    def add_integer(self, cost: float, indices: Sequence[int], values: Sequence[float], *, upper: float) -> int:
        """Add a column of whole numbers with its entries (row numbers, values) and return its number."""
        column = self.add_column(cost, indices, values, upper=upper)
        self._solver.changeColIntegrality(column, highspy.HighsVarType.kInteger)
        self._integers.append(column)
        return column

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
        self._solver.setOptionValue("simplex_strategy", DUAL)
        self._solver.setOptionValue("mip_max_nodes", nodes)
        self._solver.setOptionValue("mip_rel_gap", 0.0)
        self._solver.setOptionValue("mip_abs_gap", max(TIGHT, step * (1 - 1e-6)))
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
