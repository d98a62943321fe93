"""Lower bounds: the relaxed cover problem over all columns, rows and columns joining as they are needed.

Weights on rows of which no column holds more than 1 prove a lower bound, whichever rows and columns were looked at.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from .bits import unpack
from .greedy import greedy_columns
from .neighbours import Neighbours
from .problem import Problem
from .programs import RelaxedCover, bound_of

# Up to this many rows all columns that matter are listed, and small problems are settled exactly.
FEW_ROWS = 260
# Columns listed for so few rows, at most.
LISTED = 40_000
_STARTING_COLUMNS = 3000
_NEW_COLUMNS = 250
_NEW_ROWS = 60


@dataclass(frozen=True)
class Relaxed:
    """What the relaxed problem proves.

    Attributes
    ----------
    lower_bound : int
    value : float
        Sum of the weights.
    rows : (m,) int64
        Rows that carry weight.
    weight : (m,) float64
        No column holds more than 1 of it.
    """

    lower_bound: int
    value: float
    rows: np.ndarray
    weight: np.ndarray

    def spread_over(self, rows: np.ndarray) -> np.ndarray:
        """Weights of other rows: theirs, or 0."""
        weight = np.zeros(rows.size)
        _, mine, other = np.intersect1d(rows, self.rows, return_indices=True)
        weight[mine] = self.weight[other]
        return weight

    def among(self, kept: np.ndarray) -> "Relaxed":
        """The same for a problem that has only some of the rows; the bound stays that of all.

        Parameters
        ----------
        kept : (n,) bool
        """
        number, mine = np.cumsum(kept) - 1, kept[self.rows]
        return Relaxed(self.lower_bound, self.value, number[self.rows[mine]], self.weight[mine])


class Relaxation:
    """The relaxed problem over some rows, growing by columns and rows.

    Parameters
    ----------
    problem : Problem
        Its wide columns count.
    rows : (m,) int64
        Rows to begin with.
    neighbours : Neighbours
    """

    def __init__(self, problem: Problem, rows: np.ndarray, neighbours: Neighbours):
        self.problem, self.rows, self._neighbours = problem, rows, neighbours
        self._columns = problem.columns(rows, True)
        n = rows.size
        listed = self._columns.listed(np.ones(n), 0.5, LISTED) if n <= FEW_ROWS else None
        if listed is not None and listed[0].shape[0] <= _STARTING_COLUMNS:
            self.pool, member = listed[0], unpack(listed[1], n)
        else:
            self.pool = greedy_columns(self._columns)
            member = self._columns.member(self.pool)
        self._linear = RelaxedCover(n)
        self._linear.add_sets(member)

    def raised(self, known: Relaxed, deadline: float, enough: int | None = None, patience: int = 4) -> Relaxed:
        """A better bound than a known one, or that.

        Parameters
        ----------
        known : Relaxed
        deadline : float
            On the clock of `time.monotonic`.
        enough : int, optional
            Stop when the bound reaches this.
        patience : int
            Stop when so many rounds of new rows have not raised it.
        """
        best, idle = known, 0
        for _ in range(40):
            got, value = self._priced(deadline, enough)
            idle = 0 if got.lower_bound > best.lower_bound or got.value > 1.02 * best.value else idle + 1
            best = got if got.value > best.value else best
            if idle > patience or (enough is not None and best.lower_bound >= enough) or time.monotonic() > deadline or value is None:
                break
            used = value > 1e-7
            held = value[used] @ self.problem.held(self.pool[used], True)
            missed = np.setdiff1d(np.flatnonzero(held < 0.98), self.rows)
            if not missed.size:
                break
            # The least held rows, one of each neighbourhood.
            order = np.lexsort((missed, np.round(held[missed], 6)))
            self.add_rows(self._neighbours.first_of_each(missed[order], max(_NEW_ROWS, self.rows.size // 4)))
        return best

    def add_rows(self, new: np.ndarray) -> None:
        """Let more rows join."""
        self.rows = np.concatenate((self.rows, new))
        self._columns = self.problem.columns(self.rows, True)
        held = self._columns.member(self.pool)
        self._linear.add_rows(held[:, -new.size:].T)
        # A row that no column of the pool holds leaves the problem without a solution.
        bare = np.flatnonzero(~held.any(axis=0))
        if bare.size:
            more = greedy_columns(self.problem.columns(self.rows[bare], True))
            self.pool = np.concatenate((self.pool, more))
            self._linear.add_sets(self._columns.member(more))

    def _priced(self, deadline: float, enough: int | None):
        """Relaxed, and the columns' values (None if time ran out)."""
        best, best_weight, centre, value = 0.0, np.zeros(self.rows.size), None, None
        for _ in range(300):
            solved = self._linear.solve(deadline - time.monotonic())
            if solved is None:
                value = None
                break
            objective, dual, value = solved
            # Duals jump from one optimum to another; half the way towards the best known ones converges sooner.
            for trial in ((dual,) if centre is None else (0.5 * (centre + dual), dual)):
                total, where, _ = self._columns.heaviest(trial)
                bound = trial.sum() / max(1.0, total.max())
                if bound > best:
                    best, best_weight, centre = bound, trial / max(1.0, total.max()), trial
                new = where[total > 1.0 + 1e-7]
                fresh = self._columns.member(new)
                price = fresh @ dual
                if (price > 1.0 + 1e-7).any():
                    break
            settled = (bound_of(best) >= bound_of(objective) or objective - best < 1e-4
                       or (enough is not None and bound_of(best) >= enough))
            useful = np.flatnonzero(price > 1.0 + 1e-7)
            if settled or not useful.size or time.monotonic() > deadline:
                break
            order = useful[np.argsort(-price[useful], kind="stable")[:max(_NEW_COLUMNS, self.rows.size // 2)]]
            self.pool = np.concatenate((self.pool, new[order]))
            self._linear.add_sets(fresh[order])
        some = best_weight > 1e-9
        rows = np.argsort(self.rows[some])
        got = Relaxed(max(1, bound_of(best)), float(best), self.rows[some][rows], best_weight[some][rows])
        return got, None if value is None else np.concatenate((value, np.zeros(self.pool.shape[0] - value.size)))
