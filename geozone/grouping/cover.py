"""Fewest sets that cover everything: bounds and plans for set covers, whatever the sets mean.

Lower bounds come from the relaxed problem, solved by HiGHS; covers from greedy choice, a weighting local search and,
where it is small enough, an exact search. Work is limited by counted steps, so that the same input gives the same
answer; only the deadline can cut it short.
"""

from __future__ import annotations

import math
import threading
import time
from dataclasses import dataclass

import highspy
import numpy as np
from highspy._core import _Highs  # the public subclass prints a banner to stdout when it is made

from . import coversearch
from .coversearch import essential, pack, undominated, unpack
from .coverswaps import local_search

# A relaxed optimum of 4.0000001 proves no more than 4: HiGHS works to 1e-7.
_LP_NOISE = 1e-6
# Some 8 seconds of local search.
_WORK = 8e9


@dataclass(frozen=True)
class Cover:
    """A cover and what is known about its size.

    Attributes
    ----------
    chosen : (k,) int64
        Indices of the sets.
    lower_bound : int
        No cover has fewer sets.
    weight : (n,) float64
        Weights that no set passes 1 of; their sum, rounded up, is a lower bound.
    """

    chosen: np.ndarray
    lower_bound: int
    weight: np.ndarray

    @property
    def proved(self) -> bool:
        """True if no smaller cover exists."""
        return self.chosen.size == self.lower_bound


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


def greedy(member: np.ndarray) -> np.ndarray:
    """Plain greedy cover: always the set that covers most of what is left, the first of equals.

    Parameters
    ----------
    member : (n_set, n) bool

    Raises
    ------
    ValueError
        If some element is in no set.
    """
    left = np.ones(member.shape[1], bool)
    chosen = []
    while left.any():
        gain = member[:, left].sum(axis=1)
        best = int(np.argmax(gain))
        if gain[best] == 0:
            raise ValueError("an element is in no set")
        chosen.append(best)
        left &= ~member[best]
    return np.array(chosen, np.int64)


def _lists(member):
    start = np.concatenate(([0], np.cumsum(member.sum(axis=1)))).astype(np.int64)
    return start, np.nonzero(member)[1].astype(np.int64)


def improved(member: np.ndarray, chosen: np.ndarray, steps: int, seed: int = 1, weight=None,
             deadline: float | None = None) -> np.ndarray:
    """A cover with at most as many sets as `chosen`, by local search; `deadline` is on the clock of `time.monotonic`."""
    weight = np.ones(member.shape[1]) if weight is None else np.asarray(weight, float)
    needed = essential(member)
    member, weight = np.ascontiguousarray(member[:, needed]), weight[needed]
    n_set = member.shape[0]
    # A step costs about (elements a set) x (sets an element); the same work is given to all problems.
    held = member.sum()
    steps = int(min(steps, max(200, _WORK / max(1.0, held / n_set * held / needed.size))))
    cover = np.zeros(n_set, bool)
    cover[chosen] = True
    best = np.zeros(n_set, bool)
    stop = np.zeros(1, np.uint8)
    # The kernel does not hold the interpreter's lock, so a timer can stop it; when none does, the answer is always the same.
    timer = threading.Timer(max(deadline - time.monotonic(), 0.0), stop.fill, (1,)) if deadline is not None else None
    if timer:
        timer.daemon = True
        timer.start()
    try:
        local_search(*_lists(member), *_lists(np.ascontiguousarray(member.T)), cover, steps, seed, weight, best, stop)
    finally:
        if timer:
            timer.cancel()
    return np.flatnonzero(best)


def exact(sets: np.ndarray, n: int, k: int, weight, node_limit: int = 200_000):
    """Whether k sets cover everything: (True, chosen), (False, None), or (None, None) if not settled.

    Parameters
    ----------
    sets : (n_set, words) uint64
    weight : (n,) float64
        Dual weights, or zeros.
    """
    member = unpack(sets, n)
    if not member.any(axis=0).all():
        return False, None
    start, holders = _lists(np.ascontiguousarray(member.T))
    order = np.argsort(np.diff(start), kind="stable")
    chosen = np.full(max(k, 1), -1, np.int64)
    found = coversearch.decide(sets, n, k, np.asarray(weight, float), start, holders,
                               coversearch.shared_sets(sets, n), order, node_limit, chosen)
    return (True, chosen[chosen >= 0]) if found == 1 else (False, None) if found == 0 else (None, None)


def mixed_integer(member: np.ndarray, upper: int, seconds: float):
    """HiGHS on the whole problem, looking for fewer than `upper` sets: (chosen or None, lower bound)."""
    highs = _solver(time_limit=max(seconds, 0.1), objective_bound=upper - 0.5, mip_abs_gap=0.999)
    n_set, n = member.shape
    start, index = _lists(np.ascontiguousarray(member))
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


def fewest_sets(member, *, time_limit_s: float = 60.0, steps: int = 20_000) -> Cover:
    """A smallest cover, or the best found with a bound.

    Parameters
    ----------
    member : (n_set, n) array_like of bool
        Which elements each set holds.
    time_limit_s : float
    steps : int
        Steps of local search.

    Returns
    -------
    Cover

    Raises
    ------
    ValueError
        If some element is in no set.

    Examples
    --------
    >>> fewest_sets([[1, 1, 0, 0], [0, 1, 1, 0], [0, 0, 1, 1]]).chosen
    array([0, 2])
    """
    deadline = time.monotonic() + time_limit_s
    member = np.asarray(member, bool)
    n = member.shape[1]
    if n == 0:
        return Cover(np.empty(0, np.int64), 0, np.empty(0))
    kept = np.sort(undominated(pack(member), n))
    small = member[kept]
    chosen = greedy(small)
    relaxed = RelaxedCover(n)
    relaxed.add_sets(small)
    solved = relaxed.solve(deadline - time.monotonic())
    weight = np.zeros(n)
    if solved is not None:
        # Scaled so that no set passes 1, whatever the solver's noise.
        weight = solved[1] / max(1.0, float((small @ solved[1]).max()))
    lower = max(1, bound_of(weight.sum()))
    if chosen.size > lower:
        chosen = improved(small, chosen, steps, weight=1.0 + weight)
    if chosen.size > lower:
        found, better = exact(pack(small), n, chosen.size - 1, weight, 20_000)
        while found:
            chosen = better
            found, better = exact(pack(small), n, chosen.size - 1, weight, 20_000) if chosen.size > lower else (False, None)
        lower = chosen.size if found is False else lower
    if chosen.size > lower and time.monotonic() < deadline:
        better, bound = mixed_integer(small, chosen.size, deadline - time.monotonic())
        chosen = chosen if better is None else better
        lower = max(lower, bound)
    return Cover(kept[np.sort(chosen)], lower, weight)
