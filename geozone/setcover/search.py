"""The search for few columns that cover all rows: bounds from below, covers from above.

Rows come in only where they matter: the search starts from a few, and a row joins when what was found for the others
does not hold it. Columns come in by price: dual weights of the relaxed problem are added up over all columns, and the
heaviest join.
"""

from __future__ import annotations

import time

import numpy as np

from .bits import essential, pack, undominated, unpack
from .exact import exact
from .greedy import greedy, greedy_columns, plain_greedy
from .localsearch import improved
from .neighbours import Neighbours
from .problem import Columns, Problem
from .programs import mixed_integer
from .relaxation import FEW_ROWS, LISTED, Relaxation, Relaxed

_ROOM = 120_000
_POOL = 6_000
_NODES = 60_000
_SPREAD_ROWS = 300
_MANY_ROWS = 6_000
_RELAXED_ROWS = 300
_TURNS = 8
_HANDFUL = 8
_PATIENT = 12_000
# Up to this many rows all columns are listed at once, if they are no more than `_POOL`.
_WHOLE_ROWS = 3000


class Search:
    """Search over one problem, or over several with the same rows: what was learnt from one helps at the next.

    Parameters
    ----------
    problem : Problem
        The first; only the number and the places of its rows matter here.

    Attributes
    ----------
    active : (m,) int64
        Rows that have mattered so far.
    """

    def __init__(self, problem: Problem):
        self.n = problem.n
        self._neighbours = Neighbours(problem.at, problem.near)
        # A row or two of each neighbourhood is enough to start with; the rest comes when it is missed.
        self.active = np.arange(self.n) if self.n <= FEW_ROWS // 4 else \
            self._neighbours.spread(FEW_ROWS // 2 if self.n < _MANY_ROWS else _SPREAD_ROWS)
        self._pool = None  # columns of the last cover
        self._relaxation: Relaxation | None = None

    # -- from below ----------------------------------------------------------------------------------------------

    def bound(self, problem: Problem, deadline: float, enough: int | None = None, patience: int = 4) -> Relaxed:
        """A lower bound on the columns needed; see `Relaxation.raised`."""
        if self._relaxation is None or self._relaxation.problem != problem:
            few = self.active.size <= _RELAXED_ROWS
            rows = self.active.copy() if few else self._neighbours.spread(_RELAXED_ROWS)
            self._relaxation = Relaxation(problem, rows, self._neighbours)
        return self._relaxation.raised(Relaxed(1, 1.0, self.active[:1], np.ones(1)), deadline, enough, patience)

    def impossible(self, problem: Problem, k: int, relaxed: Relaxed, deadline: float) -> bool | None:
        """Whether k columns are too few, proved by the wide ones; None if not settled."""
        listed = self._listed(problem, True) if self.n > FEW_ROWS else None
        if listed is not None:
            member = unpack(listed[1], self.n)
            needed = essential(member)
            return mixed_integer(np.ascontiguousarray(member[:, needed]), k + 1, deadline - time.monotonic())[1] > k or None
        for _ in range(20):
            rows = self.active
            if rows.size > FEW_ROWS or time.monotonic() > deadline:
                return None
            listed = problem.columns(rows, True).listed(np.ones(rows.size), 0.5, LISTED)
            if listed is None:
                return None
            found, sets = listed
            weight = relaxed.spread_over(rows)
            weight /= max(1.0, float((unpack(sets, rows.size) @ weight).max(initial=0.0)))
            yes, chosen = exact(sets, rows.size, k, weight, _NODES)
            if yes is not True:
                return None if yes is None else True
            held = problem.held(found[chosen], True).any(axis=0)
            if held.all():
                return False
            self._join(~held)
        return None

    # -- from above ----------------------------------------------------------------------------------------------

    def cover(self, problem: Problem, relaxed: Relaxed, most: int | None, deadline: float, steps: int = 4000):
        """Columns that hold every row.

        Parameters
        ----------
        problem : Problem
        relaxed : Relaxed
            Its weights guide the choice, its bound says when to stop.
        most : int or None
            Give up when more than so many are needed.
        deadline : float
            On the clock of `time.monotonic`.
        steps : int
            Steps of local search.

        Returns
        -------
        columns : (k, width) int64 or None
            None if `most` was given and no cover was found within it.
        settled : bool
            True if no smaller cover (or, with None, none within `most`) exists.
        """
        found, settled = self._cover_whole(problem, relaxed, most, deadline, steps)
        if found is not None or settled:
            return found, settled
        self.active = np.union1d(self.active, relaxed.rows)
        for turn in range(40):
            found, settled = self._cover_active(problem, relaxed, most, deadline, steps)
            if found is None:
                return None, settled
            held = problem.held(found, False).any(axis=0)
            if held.all():
                return found, settled
            if turn >= 35 or time.monotonic() > deadline:
                break
            self._join(~held)
            if turn >= _TURNS and found.shape[0] > _HANDFUL:
                # Row by row takes too long: every neighbourhood sends its outermost, and the search takes its time.
                self.active = np.union1d(self.active, self._neighbours.outermost(4))
                steps = max(steps, _PATIENT)
        # Out of time: what is left over gets columns by the greedy rule.
        found = np.concatenate((found, plain_greedy(problem.columns(np.flatnonzero(~held), False))))
        return (None, False) if most is not None and found.shape[0] > most else (found, False)

    def _join(self, missed) -> None:
        new = self._neighbours.farthest(np.setdiff1d(np.flatnonzero(missed), self.active))
        self.active = np.union1d(self.active, new)

    def _listed(self, problem: Problem, wide: bool):
        """All columns that matter for all rows, with their sets; None if that is too much."""
        if self.n > _WHOLE_ROWS:
            return None
        found = problem.columns(np.arange(self.n), wide).listed(np.ones(self.n), 0.5, 4 * _POOL)
        return None if found is None or found[0].shape[0] > _POOL else found

    def _cover_whole(self, problem: Problem, relaxed: Relaxed, most, deadline, steps):
        """`cover` over all rows and all columns at once, where they are few enough; (None, False) if not, or not settled."""
        listed = self._listed(problem, False) if self.n > FEW_ROWS else None
        if listed is None:
            return None, False
        pool, sets = listed
        member = unpack(sets, self.n)
        weight = 0.1 + relaxed.spread_over(np.arange(self.n))
        start = improved(member, self._start(member, pool), steps, weight=weight, deadline=deadline)
        lower = relaxed.lower_bound
        wanted = start.size if most is None else min(start.size, most + 1)
        if wanted > lower and time.monotonic() < deadline:
            needed = essential(member)
            better, proved = mixed_integer(np.ascontiguousarray(member[:, needed]), wanted, deadline - time.monotonic())
            lower = max(lower, proved)
            start = start if better is None else better
        self._pool = pool[start]
        if most is not None and start.size > most:
            return None, lower > most
        return pool[start], start.size <= lower

    def _cover_active(self, problem: Problem, relaxed: Relaxed, most, deadline, steps):
        rows = self.active
        columns = problem.columns(rows, False)
        weight = relaxed.spread_over(rows)
        listed = columns.listed(np.ones(rows.size), 0.5, LISTED) if rows.size <= FEW_ROWS else None
        lower = relaxed.lower_bound
        if listed is not None:
            pool, sets = listed
            upper = None
            if most is None:
                upper = greedy(unpack(sets, rows.size)).size
            scaled = weight / max(1.0, float((unpack(sets, rows.size) @ weight).max(initial=0.0)))
            for k in range(lower, (most if most is not None else upper) + 1):
                yes, chosen = exact(sets, rows.size, k, scaled, _NODES)
                if yes:
                    return pool[chosen], True
                if yes is None:
                    break
            else:
                return None, True
        else:
            pool, sets = self._pool_of(columns, weight)
        member = unpack(sets, rows.size)
        start = self._start(member, pool)
        if start.size > lower:
            start = improved(member, start, steps, weight=0.1 + weight, deadline=deadline)
        self._pool = pool[start]
        if most is not None and start.size > most:
            return None, False
        return pool[start], start.size <= lower

    def _start(self, member, pool):
        """A cover to improve on: greedy, or what was found last and greedy for what it leaves out, if that is less."""
        plain = greedy(member)
        if self._pool is None:
            return plain
        kept = np.flatnonzero((pool[:, None, :] == self._pool[None, :, :]).all(axis=2).any(axis=1))
        left = ~member[kept].any(axis=0)
        more = np.concatenate((kept, greedy(member[:, left]) if left.any() else np.empty(0, np.int64)))
        return more if kept.size and more.size < plain.size else plain

    def _pool_of(self, columns: Columns, weight):
        """Good columns for a large problem: heavy ones by the relaxed weights, those of the bound, and a greedy cover."""
        for threshold in (0.6, 0.7, 0.8, 0.88, 0.94, 0.98):
            listed = columns.listed(weight, threshold, _ROOM)
            if listed is not None and listed[0].shape[0] <= _POOL:
                break
        base = [greedy_columns(columns)] + ([] if self._pool is None else [self._pool])
        if self._relaxation is not None:
            base.append(self._relaxation.pool[-_POOL:])
        base = np.unique(np.concatenate(base), axis=0)
        sets = pack(columns.member(base))
        if listed is not None:
            base, sets = np.concatenate((listed[0], base)), np.concatenate((listed[1], sets))
        keep = undominated(sets, columns.n)
        return base[keep], sets[keep]
