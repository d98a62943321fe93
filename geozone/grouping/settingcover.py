"""The fewest settings as a set cover: rows are what must be served, columns the cells of the keypad's own lattice."""

from __future__ import annotations

from dataclasses import dataclass, field as also, replace
from functools import cached_property

import numpy as np

from ..numbers.cores import on_all_cores, workers
from ..setcover.bits import undominated
from . import shiftcells
from .allowedshifts import AllowedShifts

# Sites within fifths of a degree share settings at any tolerance worth asking for.
_NEAR_DEG = 0.2
# Words looked at when all cells are listed: some 3 seconds.
_LISTING_WORK = 2e9


@dataclass(frozen=True)
class SettingCover:
    """Some rows with their allowed shifts at one factor of the tolerances; a `setcover.problem.Problem`.

    Wide columns are by the extremes that are on the safe side: every setting of the keypad serves no more than one of them.

    Attributes
    ----------
    shifts : AllowedShifts
    rows : (n,) int64
        Rows of the shifts that are to be served.
    factor : float
    margin_min : (shifts.n,) float64 or None [minute]
        By how much each row's boxes are drawn in, for the drift kernel found that the extremes promise too much; None: nowhere.
        Wide columns know nothing of it, so problems that differ in it only have the same bounds, and are equal.
    """

    shifts: AllowedShifts
    rows: np.ndarray = also(compare=False)
    factor: float = 1.0
    margin_min: np.ndarray | None = also(default=None, compare=False)

    @property
    def n(self) -> int:
        """Number of rows."""
        return int(self.rows.size)

    @property
    def at(self) -> np.ndarray:
        """(n, 2) latitude and longitude [degree] of the rows."""
        return np.column_stack((self.shifts.row_lat[self.rows], self.shifts.row_lon[self.rows]))

    @property
    def near(self) -> float:
        """What is near [degree]."""
        return _NEAR_DEG

    def columns(self, rows: np.ndarray, wide: bool) -> "Cells":
        """The cells over some rows."""
        mine = self.rows[rows]
        return Cells(self.shifts, self.factor, wide, mine, None if self.margin_min is None else self.margin_min[mine])

    def held(self, columns: np.ndarray, wide: bool) -> np.ndarray:
        """(m, n) bool: which of all rows the cells serve."""
        return self.shifts.served(columns, self.factor, wide, self.rows, self._margin)

    def servable(self, wide: bool) -> np.ndarray:
        """(n,) bool: rows that some cell serves."""
        return self.shifts.servable(self.factor, wide, self.rows, self._margin)

    def drawn_in(self, rows: np.ndarray, by_min: np.ndarray) -> "SettingCover":
        """The same with the boxes of some rows drawn in further."""
        margin = np.zeros(self.shifts.n) if self.margin_min is None else self.margin_min.copy()
        margin[rows] += by_min
        return replace(self, margin_min=margin)

    @property
    def _margin(self):
        return None if self.margin_min is None else self.margin_min[self.rows]


class Cells:
    """All cells of the lattice over some rows; `setcover.problem.Columns`. A cell is (latitude, phase, I, J)."""

    def __init__(self, shifts: AllowedShifts, factor: float, wide: bool, rows: np.ndarray, margin_min=None):
        self.n = int(rows.size)
        self._bounds = shifts.bounds(factor, wide, rows, margin_min=margin_min)
        self._grid = shifts.grid(self._bounds)
        self._n_lat, self._phases = shifts.key_lat_deg.size, shifts.lattice.phases
        self._shape = (self._n_lat, self._phases.size, -(-self._grid[0].shape[1] // shiftcells.STRIP_MIN))

    def heaviest(self, weight: np.ndarray):
        """The heaviest cell of each latitude, phase and strip; a family has one latitude and strip."""
        best, where = np.zeros(self._shape), np.zeros((*self._shape, 2), np.int64)

        def part(span):
            shiftcells.heaviest(self._bounds.box, self._bounds.longest_lit, self._phases, *self._grid, weight, *span, best, where)

        self._in_threads(part)
        here, family = self._places
        return best.ravel(), np.concatenate((here, where.reshape(-1, 2)), axis=1), family

    @cached_property
    def _places(self):
        latitude, phase, strip = (one.ravel() for one in np.indices(self._shape))
        return np.column_stack((latitude, phase)).astype(np.int64), latitude * self._shape[2] + strip

    def listed(self, weight: np.ndarray, threshold: float, room: int):
        """Cells that serve at least the threshold and no less than any other."""
        words = max(1, -(-weight.size // 64))
        if float(self._n_lat) * self._phases.size * self._grid[0].shape[1] ** 2 * words > _LISTING_WORK:
            return None

        def part(span):
            found, sets = np.empty((room // 4, 4), np.int64), np.empty((room // 4, words), np.uint64)
            count = shiftcells.fullest(self._bounds.box, self._bounds.longest_lit, self._phases, *self._grid, weight, threshold, *span,
                                  found, sets)
            return None if count > room // 4 else (found[:count].copy(), sets[:count].copy())

        parts = self._in_threads(part)
        if any(one is None for one in parts):
            return None
        found, sets = np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])
        keep = undominated(sets, weight.size)
        return found[keep], sets[keep]

    def member(self, columns: np.ndarray) -> np.ndarray:
        """(m, n) bool: which rows the cells serve."""
        out = np.zeros((columns.shape[0], self.n), bool)
        shiftcells.serves(self._bounds.box, self._bounds.longest_lit, self._phases, columns, np.arange(self.n), out)
        return out

    def _in_threads(self, part):
        edges = np.unique(np.linspace(0, self._n_lat, 4 * workers() + 1).astype(int))
        return on_all_cores(part, zip(edges[:-1], edges[1:]))
