"""The only door to HiGHS: quiet, one thread, every status checked."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import highspy
import numpy as np
from numpy.typing import NDArray

from dawnbrew.errors import SolverFailed

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

_OPTIONS: dict[str, bool | int | float | str] = {
    "output_flag": False,
    "threads": 1,
    "random_seed": 0,
    "mip_rel_gap": 0.0,
}


@dataclass
class Rows:
    """Rows of a model, one behind the other, ready for HiGHS."""

    starts: list[int] = field(default_factory=list)
    cols: list[int] = field(default_factory=list)
    values: list[float] = field(default_factory=list)
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)

    def add(self, cols: list[int], values: list[float], lower: float, upper: float) -> None:
        """Add lower <= sum of values x cols <= upper."""
        self.starts.append(len(self.cols))
        self.cols += cols
        self.values += values
        self.lower.append(lower)
        self.upper.append(upper)

    def at_most(self, cols: list[int], values: list[float], upper: float) -> None:
        """Add sum of values x cols <= upper."""
        self.add(cols, values, -highspy.kHighsInf, upper)

    def at_least(self, cols: list[int], values: list[float], lower: float) -> None:
        """Add sum of values x cols >= lower."""
        self.add(cols, values, lower, highspy.kHighsInf)

    def copy(self) -> "Rows":
        """Return rows that can grow alone."""
        return Rows(
            self.starts.copy(), self.cols.copy(), self.values.copy(), self.lower.copy(), self.upper.copy()
        )

    def __len__(self) -> int:
        return len(self.starts)


@dataclass(frozen=True)
class Columns:
    """Columns of a model: price, bounds and whether whole. shape (columns,)"""

    cost: Floats
    lower: Floats
    upper: Floats
    whole: NDArray[np.bool_]


@dataclass(frozen=True)
class Found:
    """What a search found: values (None where nothing), their price, the bound, and whether they meet."""

    values: Floats | None
    cost: float
    bound: float
    proven: bool
    infeasible: bool


class Relaxation:
    """A linear relaxation to which rows are added; each solve starts from the last."""

    def __init__(self, columns: Columns, rows: Rows) -> None:
        self._highs = _new()
        _ok(self._highs.passModel(_lp(columns, rows)), "passModel")

    def add(self, rows: Rows) -> None:
        """Add rows behind those that are there."""
        if not len(rows):
            return
        starts, cols = np.asarray(rows.starts, np.int32), np.asarray(rows.cols, np.int32)
        lower, upper, values = (np.asarray(part, float) for part in (rows.lower, rows.upper, rows.values))
        _ok(self._highs.addRows(len(rows), lower, upper, len(cols), starts, cols, values), "addRows")

    def drop(self, rows: Ints) -> None:
        """Take rows out by their places."""
        if len(rows):
            _ok(self._highs.deleteRows(len(rows), rows), "deleteRows")

    def solve(self) -> tuple[float, Floats, Floats] | None:
        """Return price, values and row activities of the optimum, or None where there is none."""
        _ok(self._highs.run(), "run")
        if self._highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = self._highs.getSolution()
        return (
            self._highs.getInfo().objective_function_value,
            np.asarray(solution.col_value),
            np.asarray(solution.row_value),
        )


def search(
    columns: Columns,
    rows: Rows,
    *,
    gap: float = 0.0,
    step: int = 1,
    checks: int | None = None,
    enough: float = np.inf,
    time_limit_s: float | None = None,
) -> Found:
    """Return the best whole values that HiGHS finds.

    No values to begin from can be given: HiGHS 1.16 loses the points of the columns that presolve fixes
    when it takes them over, and then calls a wrong answer optimal.

    Args:
        columns, rows: The model; a minimum is sought.
        gap: Share of the points by which an answer may miss the best one.
        step: All points are multiples of it: a smaller gap is none.
        checks: How often HiGHS may look at its limits before it must stop: work, not time.
        enough: Stop as soon as nothing below these points can exist.
        time_limit_s: A last resort: with it the answer may depend on the machine. [s]

    Errors: SolverFailed where HiGHS refuses the model or a setting, or contradicts itself.
    """
    if not len(rows):  # HiGHS calls a model without rows empty, and every price here is at least nought
        return _at_rest(columns)
    highs = _new()
    _ok(highs.setOptionValue("mip_rel_gap", float(gap)), "mip_rel_gap")
    _ok(highs.setOptionValue("mip_abs_gap", step - 0.1), "mip_abs_gap")
    if time_limit_s is not None:
        _ok(highs.setOptionValue("time_limit", float(time_limit_s)), "time_limit")
    _ok(highs.passModel(_lp(columns, rows, whole=True)), "passModel")
    if checks is not None or enough < np.inf:
        left = [np.inf if checks is None else checks]

        def look(event: Any) -> None:
            left[0] -= 1
            if left[0] < 0 or event.data_out.mip_dual_bound > enough - step + 0.1:
                event.interrupt()

        highs.cbMipInterrupt.subscribe(look)
    highs.run()
    return _found(highs, columns)


def _at_rest(columns: Columns) -> Found:
    cost = float(columns.cost @ columns.lower)
    return Found(columns.lower, cost, cost, proven=True, infeasible=False)


def _found(highs: highspy.Highs, columns: Columns) -> Found:
    status, info = highs.getModelStatus(), highs.getInfo()
    wrong = highspy.HighsModelStatus
    if status in (wrong.kInfeasible, wrong.kUnboundedOrInfeasible):
        return Found(None, np.inf, np.inf, proven=False, infeasible=True)
    if status in (wrong.kNotset, wrong.kLoadError, wrong.kModelError, wrong.kSolveError, wrong.kUnbounded):
        raise _failure("run", f"status {status}")
    bound = info.mip_dual_bound
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Found(None, np.inf, bound, proven=False, infeasible=False)
    values = np.asarray(highs.getSolution().col_value)
    cost = float(columns.cost @ values)
    if abs(cost - info.objective_function_value) > 0.5 or bound > cost + 0.5:
        raise _failure("run", f"{info.objective_function_value:g} points for values that cost {cost:g}")
    return Found(values, cost, bound, proven=status == wrong.kOptimal, infeasible=False)


def _lp(columns: Columns, rows: Rows, *, whole: bool = False) -> highspy.HighsLp:
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(columns.cost), len(rows)
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = columns.cost, columns.lower, columns.upper
    lp.row_lower_, lp.row_upper_ = np.asarray(rows.lower, float), np.asarray(rows.upper, float)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.asarray([*rows.starts, len(rows.cols)], np.int32)
    lp.a_matrix_.index_ = np.asarray(rows.cols, np.int32)
    lp.a_matrix_.value_ = np.asarray(rows.values, float)
    if whole:
        kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
        lp.integrality_ = [kinds[int(is_whole)] for is_whole in columns.whole]
    return lp


def _new() -> highspy.Highs:
    with _quiet_stdout():
        highs: highspy.Highs = highspy.Highs()  # type: ignore[no-untyped-call]
        for name, value in _OPTIONS.items():
            _ok(highs.setOptionValue(name, value), name)
    return highs


@contextmanager
def _quiet_stdout() -> Iterator[None]:
    """Hide what native code prints: the first HiGHS of a process greets on stdout, which spoils JSON."""
    if _greeted:
        yield
        return
    sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # no stdout at all, so nothing to spoil
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
        ctypes.CDLL(None).fflush(None)
        _greeted.append(True)
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


_greeted: list[bool] = []


def _ok(status: highspy.HighsStatus, step: str) -> None:
    if status != highspy.HighsStatus.kOk:
        raise _failure(step, str(status))


def _failure(step: str, got: str) -> SolverFailed:
    return SolverFailed(
        where=f"the solver HiGHS, step '{step}'",
        got=got,
        need="HiGHS must take every model and setting",
        fix="Report this with the farm file; another version of highspy may help.",
    )
