"""Lower bounds: the relaxed cover problem over the whole lattice, rows and cells joining as they are needed."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from .cover import RelaxedCover, bound_of
from .coversearch import unpack

# Up to this many rows every cell that matters is listed, and small problems are settled exactly.
FEW_ROWS = 260
_NEW_CELLS = 250
_NEW_ROWS = 60
_LP_ROWS = 300


@dataclass(frozen=True)
class Relaxed:
    """What the relaxed problem proves at one factor.

    Attributes
    ----------
    lower_bound : int
    value : float
        Sum of the weights.
    rows : (m,) int64
        Rows that carry weight.
    weight : (m,) float64
        No cell serves more than 1 of it.
    """

    lower_bound: int
    value: float
    rows: np.ndarray
    weight: np.ndarray


def relaxed(search, factor: float, deadline: float, enough: int | None = None, patience: int = 4) -> Relaxed:
    """A lower bound on the settings needed, by the extremes that are on the safe side.

    Stops when the bound reaches `enough`, or when so many rounds of new rows have not raised it.
    """
    best = Relaxed(1, 1.0, search.active[:1], np.ones(1))
    if search.master is None or search.master.factor != factor:
        search.master = _Master(search, factor)
    master = search.master
    idle = 0
    for _ in range(40):
        got, value = master.priced(deadline, enough)
        idle = 0 if got.lower_bound > best.lower_bound or got.value > 1.02 * best.value else idle + 1
        best = got if got.value > best.value else best
        if idle > patience or (enough is not None and best.lower_bound >= enough) or time.monotonic() > deadline or value is None:
            break
        used = value > 1e-7
        held = value[used] @ search.field.served(master.pool[used], factor, True, search.rows)
        missed = np.setdiff1d(search.rows[held < 0.98], master.rows)
        if not missed.size:
            break
        master.add_rows(_worst_apart(search, missed, held[np.searchsorted(search.rows, missed)]))
    return best


def _worst_apart(search, missed, held) -> np.ndarray:
    """The least served rows, one of each neighbourhood."""
    order = np.lexsort((missed, np.round(held, 6)))
    _, first = np.unique(search.bins[missed[order]], return_index=True)
    return np.sort(missed[order][np.sort(first)[:max(_NEW_ROWS, search.master.rows.size // 4)]])


class _Master:
    """The relaxed problem over the active rows, growing by cells and rows."""

    def __init__(self, search, factor: float):
        self.search, self.factor = search, factor
        self.rows = search.active.copy() if search.active.size <= _LP_ROWS else search.spread_rows(_LP_ROWS)
        self.bounds, self.grid = search.bounds(factor, True, self.rows)
        n = self.rows.size
        listed = search.fullest(self.bounds, self.grid, np.ones(n), 0.5, 40_000) if n <= FEW_ROWS else None
        if listed is not None and listed[0].shape[0] <= 3000:
            self.pool, member = listed[0], unpack(listed[1], n)
        else:
            self.pool = search.greedy_cells(self.bounds, self.grid, n)
            member = search.member(self.bounds, self.pool, n)
        self.problem = RelaxedCover(n)
        self.problem.add_sets(member)

    def add_rows(self, new: np.ndarray) -> None:
        self.rows = np.concatenate((self.rows, new))
        self.bounds, self.grid = self.search.bounds(self.factor, True, self.rows)
        held = self.search.member(self.bounds, self.pool, self.rows.size)
        self.problem.add_rows(held[:, -new.size:].T)
        # A row that no cell of the pool serves leaves the problem without a solution.
        bare = np.flatnonzero(~held.any(axis=0))
        if bare.size:
            more = self.search.greedy_cells(*self.search.bounds(self.factor, True, self.rows[bare]), bare.size)
            self.pool = np.concatenate((self.pool, more))
            self.problem.add_sets(self.search.member(self.bounds, more, self.rows.size))

    def priced(self, deadline: float, enough: int | None):
        """Relaxed, and the cells' values (None if time ran out)."""
        best, best_weight, centre, value = 0.0, np.zeros(self.rows.size), None, None
        for _ in range(300):
            solved = self.problem.solve(deadline - time.monotonic())
            if solved is None:
                value = None
                break
            objective, dual, value = solved
            # Duals jump from one optimum to another; half the way towards the best known ones converges sooner.
            for trial in ((dual,) if centre is None else (0.5 * (centre + dual), dual)):
                weighed, where = self.search.heaviest(self.bounds, self.grid, trial)
                bound = trial.sum() / max(1.0, weighed.max())
                if bound > best:
                    best, best_weight, centre = bound, trial / max(1.0, weighed.max()), trial
                new = self.search.as_cells(np.nonzero(weighed > 1.0 + 1e-7), where)
                fresh = self.search.member(self.bounds, new, self.rows.size)
                price = fresh @ dual
                if (price > 1.0 + 1e-7).any():
                    break
            settled = (bound_of(best) >= bound_of(objective) or objective - best < 1e-4
                       or (enough is not None and bound_of(best) >= enough))
            useful = np.flatnonzero(price > 1.0 + 1e-7)
            if settled or not useful.size or time.monotonic() > deadline:
                break
            order = useful[np.argsort(-price[useful], kind="stable")[:max(_NEW_CELLS, self.rows.size // 2)]]
            self.pool = np.concatenate((self.pool, new[order]))
            self.problem.add_sets(fresh[order])
        some = best_weight > 1e-9
        rows = np.argsort(self.rows[some])
        got = Relaxed(max(1, bound_of(best)), float(best), self.rows[some][rows], best_weight[some][rows])
        return got, None if value is None else np.concatenate((value, np.zeros(self.pool.shape[0] - value.size)))
