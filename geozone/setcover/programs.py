"""The cover problem as HiGHS solves it: relaxed, growing by rows and sets, and whole."""

from __future__ import annotations

import math

import highspy
import numpy as np
from highspy._core import _Highs  # the public subclass prints a banner to stdout when it is made

from .bits import lists

# A relaxed optimum of 4.0000001 proves no more than 4: HiGHS works to 1e-7.
_LP_NOISE = 1e-6


def _solver(**options) -> _Highs:
    highs = _Highs()
    for name, value in {"output_flag": False, "threads": 1, "random_seed": 1, **options}.items():
        highs.setOptionValue(name, value)
    return highs


class RelaxedCover:
    """The relaxed cover problem: min sum x, sum of x over the sets that hold an element at least 1.

    Rows and sets may be added between solutions; HiGHS goes on from where it was.
    """

    def __init__(self, n: int):
        self._highs = _solver(presolve="off")
        self._n, self._sets = 0, 0
        self.add_rows(np.zeros((n, 0), bool))

    def add_rows(self, member: np.ndarray) -> None:
        """New elements; member (n_new, n_set): which of the present sets hold them."""
        counts = member.sum(axis=1)
        start = np.concatenate(([0], np.cumsum(counts)[:-1])).astype(np.int32)
        index = np.nonzero(member)[1].astype(np.int32)
        n = member.shape[0]
        if n:
            self._highs.addRows(n, np.ones(n), np.full(n, highspy.kHighsInf), index.size, start, index,
                                np.ones(index.size))
        self._n += n

    def add_sets(self, member: np.ndarray) -> None:
        """New sets; member (n_new, n) bool over the present elements."""
        n = member.shape[0]
        if not n:
            return
        counts = member.sum(axis=1)
        start = np.concatenate(([0], np.cumsum(counts)[:-1])).astype(np.int32)
        index = np.nonzero(member)[1].astype(np.int32)
        self._highs.addCols(n, np.ones(n), np.zeros(n), np.full(n, highspy.kHighsInf), index.size, start, index,
                            np.ones(index.size))
        self._sets += n

    def solve(self, seconds: float = math.inf):
        """Objective, duals (n,) and values (n_set,); None if not solved to the end."""
        self._highs.setOptionValue("time_limit", float(self._highs.getRunTime() + max(seconds, 0.1))
                                   if math.isfinite(seconds) else highspy.kHighsInf)
        self._highs.run()
        if self._highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = self._highs.getSolution()
        return (self._highs.getObjectiveValue(), np.maximum(np.asarray(solution.row_dual), 0.0),
                np.asarray(solution.col_value))


def bound_of(weight_sum: float) -> int:
    """Sets needed by elements of this total weight, when no set holds more than 1 of it."""
    return int(math.ceil(weight_sum - _LP_NOISE))


def mixed_integer(member: np.ndarray, upper: int, seconds: float):
    """HiGHS on the whole problem, looking for fewer than `upper` sets: (chosen or None, lower bound)."""
    highs = _solver(time_limit=max(seconds, 0.1), objective_bound=upper - 0.5, mip_abs_gap=0.999)
    n_set, n = member.shape
    start, index = lists(np.ascontiguousarray(member))
    highs.addRows(n, np.ones(n), np.full(n, highspy.kHighsInf), 0, np.zeros(n, np.int32), np.empty(0, np.int32),
                  np.empty(0))
    highs.addCols(n_set, np.ones(n_set), np.zeros(n_set), np.ones(n_set), index.size,
                  start[:-1].astype(np.int32), index.astype(np.int32), np.ones(index.size))
    every = np.arange(n_set, dtype=np.int32)
    highs.changeColsIntegrality(n_set, every, np.full(n_set, highspy.HighsVarType.kInteger))
    highs.run()
    status, info = highs.getModelStatus(), highs.getInfo()
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kObjectiveBound):
        return None, upper
    lower = bound_of(info.mip_dual_bound) if math.isfinite(info.mip_dual_bound) else 0
    value = np.asarray(highs.getSolution().col_value)
    if info.primal_solution_status == 2 and value.size == n_set and value.round().sum() < upper:
        return np.flatnonzero(value > 0.5), min(lower, int(value.round().sum()))
    return None, min(lower, upper)
