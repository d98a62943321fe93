"""One grouping problem in numbers: the rows to be served, and the shifts that each of them allows."""

from __future__ import annotations

from dataclasses import dataclass, field as also
from functools import cached_property

import numpy as np

from ..trade.basis import Basis
from ..trade.setting import Tolerance
from . import shiftcells
from .keylattice import KeyLattice
from .keyedtimes import KeyedTimes
from .yearlyextremes import Extremes, Probe, keyed_times, yearly_extremes

# A box this wide cannot matter: a day has 1440 minutes. Keeps grids finite where no night sets a limit.
_WIDEST_MIN = 700.0
_NO_LIT = np.empty((0, 0), np.float32)


@dataclass(frozen=True)
class Bounds:
    """Allowed shifts at one factor of the tolerances.

    Attributes
    ----------
    box : (4, n_lat, n) float32 [minute]
        Least and most dusk shift, least and most dawn shift.
    longest_lit : (n_lat, n) float32 [minute]
        Largest dawn minus dusk shift; shape (0, 0) where no night limits it.
    """

    box: np.ndarray
    longest_lit: np.ndarray


@dataclass(frozen=True, eq=False)
class AllowedShifts:
    """Rows (sites or units that stay together) of one clock rule.

    Attributes
    ----------
    lat_deg, lon_deg : (n_site,) float64
    unit : (n_site,) int64
        Row that each site belongs to, 0..n-1.
    basis : Basis
        Its year, dark threshold and tolerance; the keypad stands in the lattice.
    lattice : KeyLattice
    factor_cap : float
        Largest factor on the tolerances that will be asked for.
    """

    lat_deg: np.ndarray
    lon_deg: np.ndarray
    unit: np.ndarray
    basis: Basis
    lattice: KeyLattice
    factor_cap: float = 1.0
    base_lon_deg: float = also(init=False)
    row_lat: np.ndarray = also(init=False)
    row_lon: np.ndarray = also(init=False)
    # Extremes by factor, made when they are asked for: a search that has no time for boxes asks for none.
    _made: dict = also(init=False, default_factory=dict)
    _keyed: KeyedTimes | None = also(init=False, default=None)

    @property
    def year(self) -> int:
        return self.basis.year

    @property
    def altitude_deg(self) -> float:
        return self.basis.altitude_deg

    @property
    def tolerance(self) -> Tolerance:
        return self.basis.tolerance

    def __post_init__(self):
        order = np.argsort(self.unit, kind="stable")
        starts = np.searchsorted(self.unit[order], np.arange(self.n))
        base = float(self.lattice.keypad.round_deg(0.5 * (self.lon_deg.min() + self.lon_deg.max())))
        self._know(_order=order, _starts=starts, base_lon_deg=base, row_lat=np.add.reduceat(self.lat_deg[order], starts) / self.sizes,
                   row_lon=np.add.reduceat(self.lon_deg[order], starts) / self.sizes)

    def _know(self, **values) -> None:
        """What follows from the rest, kept from the start."""
        for name, value in values.items():
            object.__setattr__(self, name, value)

    @property
    def key_lat_deg(self) -> np.ndarray:
        """(n_lat,) keyed latitudes at which some row has a box."""
        return self._keyed_latitudes[0]

    @property
    def plain(self) -> bool:
        """True if every night that counts has dusk and dawn at every site and keyed latitude."""
        self._make(self.factor_cap)
        return self._made["plain"]

    @property
    def steady(self) -> bool:
        """True if no night that counts is so short that the tolerance alone decides it."""
        self._make(self.factor_cap)
        return self._made["steady"]

    @property
    def n(self) -> int:
        """Number of rows."""
        return int(self.unit.max()) + 1

    @property
    def first_sites(self) -> np.ndarray:
        """(n,) int: the first site of each row."""
        return self._order[self._starts]

    @property
    def sizes(self) -> np.ndarray:
        """(n,) int: sites in each row."""
        return np.bincount(self.unit, minlength=self.n)

    def _probe(self, key_lat_deg, factor: float, lat_reach: float) -> Probe:
        dark, excess = factor * self.tolerance.dark_min, factor * self.tolerance.excess_min
        # A keyed longitude off by more cannot be made good by the largest offset plus the widest box.
        reach = (self.lattice.limit_min + 1.5 * max(dark, excess) + 30.0) / 4.0
        return Probe(np.asarray(key_lat_deg, float), self.base_lon_deg, min(reach, 170.0), lat_reach, dark, excess,
                     (self.tolerance.dark_min, self.tolerance.excess_min), self.tolerance.shallow_deg)

    @cached_property
    def _keyed_latitudes(self):
        """Keyed latitudes at which some row has a box, and their reach: beyond the last, boxes only get narrower."""
        probe_rows = np.unique([np.argmin(self.lat_deg), np.argmax(self.lat_deg)])
        low, high = self.lat_deg[probe_rows].min(), self.lat_deg[probe_rows].max()
        # Tolerances of hours reach far, where it does not matter which latitude is the last.
        for reach, step in ((4.0, 0.5), (15.0, 0.5), (60.0, 3.0)):
            coarse = np.unique(np.clip(np.concatenate((np.arange(low, low - reach, -step), np.arange(high, high + reach, step))),
                                       -89.9, 89.9))
            # Boxes only get narrower with the distance, so two empty ends are enough.
            if not self._some_box(coarse[[0, -1]], step, probe_rows).any():
                break
        some = self._some_box(coarse, step, probe_rows)
        used = coarse[some] if some.any() else np.array([low, high])
        return self.lattice.latitudes(min(low, used.min() - step), max(high, used.max() + step))

    def _some_box(self, key_lat_deg, step_deg: float, sites) -> np.ndarray:
        """(n_lat,) bool: some of these sites has a box at a keyed latitude, or within half a step of it."""
        easiest = yearly_extremes(lat_deg=self.lat_deg[sites], lon_deg=self.lon_deg[sites], year=self.year, altitude_deg=self.altitude_deg,
                                  probe=self._probe(key_lat_deg, self.factor_cap, step_deg / 2), years=self.basis.years)[1]
        box = self._box(easiest, self.factor_cap, np.zeros(len(sites)), self.lattice.blur_min, self.lon_deg[sites]).box
        return ((box[0] <= box[1]) & (box[2] <= box[3])).any(axis=1)

    def _make(self, factor: float):
        if "steady" not in self._made and factor != self.factor_cap:
            self._make(self.factor_cap)  # what is steady or plain there is so at all smaller ones
        key = None if self._made.get("steady") else round(factor, 9)
        if key not in self._made:
            probe = self._probe(self.key_lat_deg, factor, self._keyed_latitudes[1])
            if self._keyed is None:
                self._know(_keyed=keyed_times(self.lon_deg, self.year, self.altitude_deg, probe, self.basis.years))  # of the largest factor, made first
            nearest, easiest, plain, steady = yearly_extremes(
                lat_deg=self.lat_deg, lon_deg=self.lon_deg, year=self.year, altitude_deg=self.altitude_deg, probe=probe, keyed=self._keyed,
                years=self.basis.years)
            if "steady" not in self._made:
                if steady:
                    self._know(_keyed=None)  # never asked for again
                self._made.update(steady=steady, plain=plain)
            key = None if self._made["steady"] else key
            # The widest are asked for again and again, of the others the last.
            kept = round(self.factor_cap, 9)
            made = {name: self._made[name] for name in ("steady", "plain", kept) if name in self._made}
            self._made.clear()
            self._made.update({**made, key: (nearest.merged(self._order, self._starts), easiest.merged(self._order, self._starts))})
        return self._made[key]

    def extremes(self, factor: float = 1.0, safe: bool = False) -> Extremes:
        """Extremes of the rows; those for a proof if `safe`."""
        if factor > self.factor_cap + 1e-9:
            raise ValueError(f"factor {factor} is above the cap {self.factor_cap}")
        return self._make(factor)[1 if safe else 0]

    def bounds(self, factor: float, safe: bool, rows=None, lat_index=slice(None), margin_min=None) -> Bounds:
        """Allowed shifts of some rows (all if None); `margin_min` (m,) draws the boxes in that are not on the safe side."""
        extremes = self.extremes(factor, safe)
        rows = np.arange(self.n) if rows is None else np.asarray(rows)
        picked = Extremes(*(None if values is None else values[lat_index][:, rows] for values in
                            (getattr(extremes, name) for name in Extremes.__dataclass_fields__)))
        # What a proof allows must hold whatever the raster of the lattice leaves out.
        loose = self.lattice.blur_min if safe else 0.0
        margin = np.zeros(rows.size) if safe or margin_min is None else margin_min
        return self._box(picked, factor, margin, loose, self.row_lon[rows])

    def _box(self, extremes: Extremes, factor: float, margin, loose: float, lon_deg) -> Bounds:
        dark = np.float32(factor * self.tolerance.dark_min + loose) - margin.astype(np.float32)
        excess = np.float32(factor * self.tolerance.excess_min + loose) - margin.astype(np.float32)
        box = np.stack((-excess - extremes.dusk_least, dark - extremes.dusk_most,
                        -dark - extremes.dawn_least, excess - extremes.dawn_most))
        middle = (4.0 * (self.base_lon_deg - lon_deg)).astype(np.float32)
        np.clip(box, middle - _WIDEST_MIN, middle + _WIDEST_MIN, out=box)
        if extremes.need is None:
            return Bounds(box, _NO_LIT)
        box[0][extremes.need > factor + 1e-6] = np.float32(1e6)  # empty: no shift will do
        lit = np.where(np.isneginf(extremes.lit_most), np.float32(1e4), excess - extremes.lit_most)
        return Bounds(box, np.ascontiguousarray(lit, dtype=np.float32))

    def grid(self, bounds: Bounds):
        """The mask of possible cells over these bounds: (can, first I, first J - I)."""
        ok = (bounds.box[0] <= bounds.box[1]) & (bounds.box[2] <= bounds.box[3])
        if not ok.any():
            return np.zeros((self.lattice.phases.size, 1, 1), bool), 0, 0
        i0, i1 = np.floor(bounds.box[0][ok].min()) - 2, np.ceil(bounds.box[1][ok].max()) + 2
        d0 = max(np.floor((bounds.box[2] - bounds.box[1])[ok].min()) - 2, -2 * self.lattice.limit_min)
        d1 = min(np.ceil((bounds.box[3] - bounds.box[0])[ok].max()) + 2, 2 * self.lattice.limit_min)
        d1 = max(d0, d1)
        return self.lattice.possible(int(i0), int(i1 - i0) + 1, int(d0), int(d1 - d0) + 1), int(i0), int(d0)

    def servable(self, factor: float, safe: bool, rows=None, margin_min=None) -> np.ndarray:
        """(n,) bool: rows that some cell serves."""
        rows = np.arange(self.n) if rows is None else np.asarray(rows)
        out = np.zeros(rows.size, bool)
        for first in range(0, rows.size, 8192):
            part = slice(first, first + 8192)
            bounds = self.bounds(factor, safe, rows[part], margin_min=None if margin_min is None else margin_min[part])
            shiftcells.servable(bounds.box, bounds.longest_lit, self.lattice.phases, *self.grid(bounds), out[part])
        return out

    def served(self, cell_list: np.ndarray, factor: float, safe: bool, rows=None, margin_min=None) -> np.ndarray:
        """(n_cell, n) bool: which rows each cell serves."""
        rows = np.arange(self.n) if rows is None else np.asarray(rows)
        out = np.zeros((cell_list.shape[0], rows.size), bool)
        everyone = np.arange(rows.size)
        for j in np.unique(cell_list[:, 0]):
            mine = np.flatnonzero(cell_list[:, 0] == j)
            bounds = self.bounds(factor, safe, rows, slice(j, j + 1), margin_min)
            local = cell_list[mine].copy()
            local[:, 0] = 0
            part = np.zeros((mine.size, rows.size), bool)
            shiftcells.serves(bounds.box, bounds.longest_lit, self.lattice.phases, local, everyone, part)
            out[mine] = part
        return out
