"""The search for few settings at one factor of the tolerances: bounds from below, covers from above.

Rows come in only where they matter: the search starts from a few, and a row joins when what was found for the others
does not serve it. Cells come in by price: dual weights of the relaxed problem are added up over the whole lattice,
and the heaviest cells join. Weights of which no cell of the whole lattice holds more than 1 prove a lower bound,
whichever rows and cells were looked at.
"""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from . import cells
from .boxes import workers
from .cover import exact, greedy, improved, mixed_integer
from .coversearch import essential, pack, undominated, unpack
from .field import Bounds, Field
from .relaxation import FEW_ROWS, Relaxed

_ROOM = 120_000
_POOL = 6_000
_BIN_DEG = 0.2
_NODES = 60_000
_SPREAD_ROWS = 300
_TURNS = 8
_HANDFUL = 8
_PATIENT = 12_000
# Up to this many rows all cells are listed at once, if they are no more than `_POOL`.
_WHOLE_ROWS = 3000
# Words looked at when all cells are listed: some 3 seconds.
_LISTING_WORK = 2e9


class Search:
    """Search over one field; what was learnt at one factor helps at the next.

    Parameters
    ----------
    field : Field
    rows : (m,) int64
        Rows to be served.
    """

    def __init__(self, field: Field, rows: np.ndarray):
        self.field, self.rows = field, np.asarray(rows)
        self.bins = self._bins_of(_BIN_DEG)
        # A row or two of each neighbourhood is enough to start with; the rest comes when it is missed.
        few = self.rows.size <= FEW_ROWS // 4
        self.active = self.rows.copy() if few else self.spread_rows(FEW_ROWS // 2 if self.rows.size < 6000 else _SPREAD_ROWS)
        self._pool = np.empty((0, 4), np.int64)
        self.master = None  # the relaxed problem of `relaxation.relaxed`, kept so that it can go on

    def _bins_of(self, size_deg: float):
        """(n,) int: neighbourhood of each row."""
        lat, lon = self.field.row_lat, self.field.row_lon
        return np.unique(np.floor(lat / size_deg) * 100_000 + np.floor(lon / size_deg), return_inverse=True)[1]

    def outermost(self, size_deg: float, directions: int) -> np.ndarray:
        """Rows that lie farthest out in their neighbourhood, for so many directions of the compass."""
        lat, lon, rows = self.field.row_lat, self.field.row_lon, self.rows
        bins = self._bins_of(size_deg)[rows]
        chosen = []
        for angle in np.arange(directions) * 2 * np.pi / directions:
            out = np.round(np.cos(angle) * lon[rows] + np.sin(angle) * lat[rows], 9)
            order = np.lexsort((rows, -out, bins))
            chosen.append(rows[order[np.unique(bins[order], return_index=True)[1]]])
        return np.unique(np.concatenate(chosen))

    def spread_rows(self, most: int) -> np.ndarray:
        """At most so many rows, one of each neighbourhood, the outermost of all among them."""
        size = _BIN_DEG
        ends = self.outermost(1000.0, 8)
        while True:
            bins = self._bins_of(size)[self.rows]
            first = self.rows[np.unique(bins, return_index=True)[1]]
            if first.size + ends.size <= most:
                return np.union1d(first, ends)
            size *= 1.25

    def add_rows(self, missed: np.ndarray, per_bin: int = 4) -> None:
        """Let the missed rows join, at most a few of each neighbourhood: those that lie farthest apart."""
        lat, lon = self.field.row_lat, self.field.row_lon
        missed = np.setdiff1d(missed, self.active)
        new = []
        for b in np.unique(self.bins[missed]):
            mine = missed[self.bins[missed] == b]
            inside = self.rows[self.bins[self.rows] == b]
            from_lat, from_lon = lat[inside].mean(), lon[inside].mean()
            for _ in range(min(per_bin, mine.size)):
                far = np.round(np.hypot(lat[mine] - from_lat, lon[mine] - from_lon), 9)
                pick = mine[np.argmax(far)]
                new.append(pick)
                from_lat, from_lon = lat[pick], lon[pick]
        self.active = np.union1d(self.active, np.array(new, np.int64))

    # -- the lattice ---------------------------------------------------------------------------------------------

    def bounds(self, factor: float, safe: bool, rows):
        bounds = self.field.bounds(factor, safe, rows)
        return bounds, self.field.grid(bounds)

    def heaviest(self, bounds: Bounds, grid, weight):
        n_lat, phases = self.field.key_lat_deg.size, self.field.lattice.phases
        shape = (n_lat, phases.size, -(-grid[0].shape[1] // cells.STRIP_MIN))
        best, where = np.zeros(shape), np.zeros((*shape, 2), np.int64)

        def part(span):
            cells.heaviest(bounds.box, bounds.longest_lit, phases, *grid, weight, *span, best, where)

        self._in_threads(part, n_lat)
        return best, where

    def fullest(self, bounds: Bounds, grid, weight, threshold: float, room: int = _ROOM):
        """Cells that serve at least `threshold`, with their sets; None if they are more than the room, or too much work."""
        n_lat, phases = self.field.key_lat_deg.size, self.field.lattice.phases
        words = max(1, -(-weight.size // 64))
        if float(n_lat) * phases.size * grid[0].shape[1] ** 2 * words > _LISTING_WORK:
            return None

        def part(span):
            found, sets = np.empty((room // 4, 4), np.int64), np.empty((room // 4, words), np.uint64)
            count = cells.fullest(bounds.box, bounds.longest_lit, phases, *grid, weight, threshold, *span, found, sets)
            return None if count > room // 4 else (found[:count].copy(), sets[:count].copy())

        parts = self._in_threads(part, n_lat)
        if any(one is None for one in parts):
            return None
        found, sets = np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])
        keep = undominated(sets, weight.size)
        return found[keep], sets[keep]

    @staticmethod
    def _in_threads(part, n_lat: int):
        edges = np.unique(np.linspace(0, n_lat, 4 * workers() + 1).astype(int))
        with ThreadPoolExecutor(workers()) as pool:
            return list(pool.map(part, zip(edges[:-1], edges[1:])))

    @staticmethod
    def as_cells(index, where):
        """Cells (m, 4) at some places of what `heaviest` returns."""
        return np.column_stack((index[0], index[1], where[index])).astype(np.int64)

    def member(self, bounds: Bounds, cell_list, n: int):
        out = np.zeros((cell_list.shape[0], n), bool)
        cells.serves(bounds.box, bounds.longest_lit, self.field.lattice.phases, cell_list, np.arange(n), out)
        return out

    def greedy_cells(self, bounds, grid, n: int):
        """A greedy cover over the whole lattice, with the best cell of each latitude and strip at every step.

        Several cells are taken at a step where they do not get in each other's way.
        """
        left, found = np.ones(n), []
        while left.any():
            weighed, where = self.heaviest(bounds, grid, left)
            top = weighed.max()
            if top <= 0:
                break
            phase = np.argmax(weighed, axis=1)
            j, strip = np.nonzero(weighed.max(axis=1) > 0.5 * top)
            some = self.as_cells((j, phase[j, strip], strip), where)
            serves = self.member(bounds, some, n)
            for c in np.argsort(-(serves @ left), kind="stable"):
                if serves[c] @ left > 0.9 * top:
                    left[serves[c]] = 0.0
            found.append(some)
        return np.unique(np.concatenate(found), axis=0) if found else np.empty((0, 4), np.int64)

    def plain_greedy(self, factor: float = 1.0) -> np.ndarray:
        """The plain greedy cover of all rows: always the cell that serves most of what is left. (k, 4)."""
        bounds, grid = self.bounds(factor, False, self.rows)
        left, found = np.ones(self.rows.size), []
        while left.any():
            weighed, where = self.heaviest(bounds, grid, left)
            top = np.unravel_index(np.argmax(weighed), weighed.shape)
            if weighed[top] <= 0:
                break
            best = self.as_cells(tuple(np.array([t]) for t in top), where)
            found.append(best)
            left[self.member(bounds, best, left.size)[0]] = 0.0
        return np.concatenate(found)

    # -- from above ----------------------------------------------------------------------------------------------

    def cover(self, factor: float, relaxed: Relaxed, most: int | None, deadline: float, steps: int = 4000):
        """Cells that serve every row by the model.

        Parameters
        ----------
        relaxed : Relaxed
            Its weights guide the choice, its bound says when to stop.
        most : int or None
            Give up when more than so many are needed.

        Returns
        -------
        cells : (k, 4) int64 or None
            None if `most` was given and no cover was found within it.
        settled : bool
            True if no smaller cover (or, with None, none within `most`) exists by the model.
        """
        found, settled = self._cover_whole(factor, relaxed, most, deadline, steps)
        if found is not None or settled:
            return found, settled
        self.active = np.union1d(self.active, relaxed.rows)
        for turn in range(40):
            found, settled = self._cover_active(factor, relaxed, most, deadline, steps)
            if found is None:
                return None, settled
            served = self.field.served(found, factor, False, self.rows).any(axis=0)
            if served.all():
                return found, settled
            if turn >= 35 or time.monotonic() > deadline:
                break
            self.add_rows(self.rows[~served])
            if turn >= _TURNS and found.shape[0] > _HANDFUL:
                # Row by row takes too long: every neighbourhood sends its outermost, and the search takes its time.
                self.active = np.union1d(self.active, self.outermost(_BIN_DEG, 4))
                steps = max(steps, _PATIENT)
        # Out of time: what is left over gets cells by the greedy rule.
        left = self.rows[~served]
        found = np.concatenate((found, Search(self.field, left).plain_greedy(factor)))
        return (None, False) if most is not None and found.shape[0] > most else (found, False)

    def listed(self, factor: float, safe: bool):
        """All cells that matter for all rows, with their sets; None if that is too much."""
        n = self.rows.size
        if n > _WHOLE_ROWS:
            return None
        found = self.fullest(*self.bounds(factor, safe, self.rows), np.ones(n), 0.5, 4 * _POOL)
        return None if found is None or found[0].shape[0] > _POOL else found

    def _cover_whole(self, factor, relaxed: Relaxed, most, deadline, steps):
        """`cover` over all rows and all cells at once, where they are few enough; (None, False) if not, or not settled."""
        listed = self.listed(factor, False) if self.rows.size > FEW_ROWS else None
        if listed is None:
            return None, False
        pool, sets = listed
        member = unpack(sets, self.rows.size)
        start = improved(member, self._start(member, pool), steps, weight=0.1 + self._weights(relaxed, self.rows), deadline=deadline)
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

    def _cover_active(self, factor, relaxed: Relaxed, most, deadline, steps):
        rows = self.active
        bounds, grid = self.bounds(factor, False, rows)
        weight = self._weights(relaxed, rows)
        listed = self.fullest(bounds, grid, np.ones(rows.size), 0.5, 40_000) if rows.size <= FEW_ROWS else None
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
            pool, sets = self._pool_of(bounds, grid, weight, rows.size)
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
        kept = np.flatnonzero((pool[:, None, :] == self._pool[None, :, :]).all(axis=2).any(axis=1))
        left = ~member[kept].any(axis=0)
        more = np.concatenate((kept, greedy(member[:, left]) if left.any() else np.empty(0, np.int64)))
        return more if kept.size and more.size < plain.size else plain

    @staticmethod
    def _weights(relaxed: Relaxed, rows):
        weight = np.zeros(rows.size)
        _, mine, other = np.intersect1d(rows, relaxed.rows, return_indices=True)
        weight[mine] = relaxed.weight[other]
        return weight

    def _pool_of(self, bounds, grid, weight, n: int):
        """Good cells for a large problem: heavy ones by the relaxed weights, those of the bound, and a greedy cover."""
        for threshold in (0.6, 0.7, 0.8, 0.88, 0.94, 0.98):
            listed = self.fullest(bounds, grid, weight, threshold)
            if listed is not None and listed[0].shape[0] <= _POOL:
                break
        base = [self.greedy_cells(bounds, grid, n), self._pool]
        if self.master is not None:
            base.append(self.master.pool[-_POOL:])
        base = np.unique(np.concatenate(base), axis=0)
        sets = pack(self.member(bounds, base, n))
        if listed is not None:
            base, sets = np.concatenate((listed[0], base)), np.concatenate((listed[1], sets))
        keep = undominated(sets, n)
        return base[keep], sets[keep]

    def impossible(self, factor: float, k: int, relaxed: Relaxed, deadline: float) -> bool | None:
        """Whether k settings are too few, proved by the safe extremes; None if not settled."""
        listed = self.listed(factor, True) if self.rows.size > FEW_ROWS else None
        if listed is not None:
            member = unpack(listed[1], self.rows.size)
            needed = essential(member)
            return mixed_integer(np.ascontiguousarray(member[:, needed]), k + 1, deadline - time.monotonic())[1] > k or None
        for _ in range(20):
            rows = self.active
            if rows.size > FEW_ROWS or time.monotonic() > deadline:
                return None
            bounds, grid = self.bounds(factor, True, rows)
            listed = self.fullest(bounds, grid, np.ones(rows.size), 0.5, 40_000)
            if listed is None:
                return None
            found, sets = listed
            weight = self._weights(relaxed, rows)
            weight /= max(1.0, float((unpack(sets, rows.size) @ weight).max(initial=0.0)))
            yes, chosen = exact(sets, rows.size, k, weight, _NODES)
            if yes is not True:
                return None if yes is None else True
            served = self.field.served(found[chosen], factor, True, self.rows).any(axis=0)
            if served.all():
                return False
            self.add_rows(self.rows[~served])
        return None

