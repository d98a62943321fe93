"""The best shared setting: the one that the keypad can hold and that drifts least at the worst site."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..numbers import comparison, shallow
from ..numbers.almanac import almanac, check_year
from ..numbers.sun import State, checked_positions, run_in_parts, sin_threshold, switch_times
from ..trade.keypad import Keypad
from ..trade.setting import Setting, Tolerance
from .drift import setting_drift

# Settings whose worst drift differs by less than this are equally good: UT1 - UTC alone, which is not modelled,
# is up to 0.9 s. Among them plain ones (no offsets, near the middle) are preferred.
_EQUAL_MIN = 0.01
_MARGIN_DEG = 1.0
_MOST_CANDIDATES = 200_000


@dataclass(frozen=True)
class Envelope:
    """Earliest and latest dusk and dawn over a set of sites, night by night.

    Attributes
    ----------
    dusk_earliest_utc_min, dusk_latest_utc_min, dawn_earliest_utc_min, dawn_latest_utc_min : (n_night,) float64
        Minutes since 1 January 00:00 UTC; NaN where no site crosses.
    sites_without : (n_night,) int64
        Sites where the sun does not cross the threshold both ways that night.
    """

    dusk_earliest_utc_min: np.ndarray
    dusk_latest_utc_min: np.ndarray
    dawn_earliest_utc_min: np.ndarray
    dawn_latest_utc_min: np.ndarray
    sites_without: np.ndarray


def envelope(*, lat_deg, lon_deg, year: int, altitude_deg: float, shallow_deg: float = 0.0) -> Envelope:
    """Earliest and latest dusk and dawn over n sites on every night; no site x night array is made.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
    year : int
    altitude_deg : float [degree]
    shallow_deg : float [degree]
        A site takes part on its judged nights only, see `judged_nights`.

    Returns
    -------
    Envelope
    """
    lat_rad, lon_rad = checked_positions(lat_deg, lon_deg)
    table, sin_h = almanac(check_year(year)), sin_threshold(altitude_deg)
    judged = shallow.limits(altitude_deg, shallow_deg)

    def part(rows: slice):
        reduced = np.empty((5, table.n_night))
        comparison.envelope(table.hour_angle, table.sin_declination, lat_rad[rows], lon_rad[rows], sin_h, *judged,
                            reduced)
        return reduced

    parts = np.stack(run_in_parts(part, lat_rad.size))
    extremes = [parts[:, 0].min(0), parts[:, 1].max(0), parts[:, 2].min(0), parts[:, 3].max(0)]
    return Envelope(*(np.where(np.isfinite(row), row, np.nan) for row in extremes),
                    parts[:, 4].sum(0).astype(np.int64))


def best_shared_setting(*, lat_deg, lon_deg, year: int, altitude_deg: float, legal_zone: str,
                        tolerance: Tolerance = Tolerance(), keypad: Keypad = Keypad()) -> Setting:
    """The keypad setting with the smallest worst drift, in units of the tolerance, over sites of one clock rule.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
        Sites; longitudes unwrapped as `switch_times` describes.
    year, altitude_deg, tolerance, keypad
        As for `setting_drift`.
    legal_zone : str
        The zone that is keyed; all sites share its clock rule.

    Returns
    -------
    Setting

    Notes
    -----
    Exact by exhaustion over the keypad's positions within one degree of the sites: for a keyed position the worst
    drift over all sites and nights follows from the night-by-night envelope of the sites, and the best whole-minute
    offsets then follow one edge at a time. Areas of more than 200,000 keypad positions are searched coarsely
    first and finely round the best. Where some site has nights without a crossing, candidates of every keyed
    latitude are judged by `setting_drift` on a sample of at most 400 sites and the best is improved step by step, so
    that white nights count; there the result is the best found, not proved to be the best.
    """
    lat_deg, lon_deg = np.atleast_1d(np.asarray(lat_deg, float)), np.atleast_1d(np.asarray(lon_deg, float))
    edge = envelope(lat_deg=lat_deg, lon_deg=lon_deg, year=year, altitude_deg=altitude_deg,
                    shallow_deg=tolerance.shallow_deg)
    step = keypad.coordinate_step_deg
    lat = _steps(max(lat_deg.min() - _MARGIN_DEG, -89.0), min(lat_deg.max() + _MARGIN_DEG, 89.0), step)
    lon = _steps(lon_deg.min() - _MARGIN_DEG, lon_deg.max() + _MARGIN_DEG, step)
    stride = max(1, int(np.ceil(np.sqrt(lat.size * lon.size / _MOST_CANDIDATES))))
    found = _Candidates.over(lat[::stride], lon[::stride], edge, year, altitude_deg, tolerance, keypad)
    if stride > 1:
        i = int(np.argmin(found.factor))
        near_lat, near_lon = (int(np.rint(v / step)) for v in (found.lat_deg[i], found.lon_deg[i]))
        reach = np.arange(-2 * stride, 2 * stride + 1)
        found = _Candidates.over(keypad.round_deg((near_lat + reach) * step), keypad.round_deg((near_lon + reach) * step),
                                 edge, year, altitude_deg, tolerance, keypad)
    middle = (0.5 * (lat_deg.min() + lat_deg.max()), 0.5 * (lon_deg.min() + lon_deg.max()))
    equal = _EQUAL_MIN / min(tolerance.dark_min, tolerance.excess_min)
    if not edge.sites_without.any():
        i = found.plainest(np.arange(found.factor.size), equal, middle)
        return found.setting(i, legal_zone)
    sample = np.unique(np.linspace(0, lat_deg.size - 1, min(400, lat_deg.size)).astype(int))
    sample = np.argsort(lat_deg, kind="stable")[sample]
    sample = np.union1d(sample, [np.argmin(lon_deg), np.argmax(lon_deg)])

    def judged(setting: Setting) -> float:
        return float(setting_drift(lat_deg=lat_deg[sample], lon_deg=lon_deg[sample], setting=setting, year=year,
                                   altitude_deg=altitude_deg, tolerance=tolerance, keypad=keypad).factor(tolerance).max())

    starts = []
    for keyed in np.unique(found.lat_deg):
        i = found.plainest(np.flatnonzero(found.lat_deg == keyed), equal, middle)
        setting = found.setting(i, legal_zone)
        starts += [setting, replace(setting, lon_deg=keypad.round_deg(middle[1]), dusk_offset_min=0, dawn_offset_min=0)]
    return _descend(min(starts, key=judged), judged, keypad)


def _descend(setting: Setting, judged, keypad: Keypad) -> Setting:
    """Take the best neighbour on the keypad until none is better."""
    worst, step = judged(setting), keypad.coordinate_step_deg
    for _ in range(100):
        moves = [replace(setting, lat_deg=keypad.round_deg(setting.lat_deg + i * step),
                         lon_deg=keypad.round_deg(setting.lon_deg + j * step),
                         dusk_offset_min=setting.dusk_offset_min + dusk, dawn_offset_min=setting.dawn_offset_min + dawn)
                 for i, j, dusk, dawn in ((1, 0, 0, 0), (-1, 0, 0, 0), (0, 1, 0, 0), (0, -1, 0, 0), (0, 0, 1, 0),
                                          (0, 0, -1, 0), (0, 0, 0, 1), (0, 0, 0, -1), (0, 0, 1, -1), (0, 0, -1, 1),
                                          (0, 0, 1, 1), (0, 0, -1, -1))]
        moves = [m for m in moves if max(abs(m.dusk_offset_min), abs(m.dawn_offset_min)) <= keypad.offset_limit_min
                 and abs(m.lat_deg) <= 90 and abs(m.lon_deg) <= 180]
        better = min(moves, key=judged)
        if judged(better) >= worst - 1e-9:
            break
        setting, worst = better, judged(better)
    return setting


@dataclass(frozen=True)
class _Candidates:
    """Keyed positions with their best offsets and the worst factor that these leave; flat arrays."""

    lat_deg: np.ndarray
    lon_deg: np.ndarray
    dusk_offset_min: np.ndarray
    dawn_offset_min: np.ndarray
    factor: np.ndarray

    @classmethod
    def over(cls, lat, lon, edge: Envelope, year, altitude_deg, tolerance: Tolerance, keypad: Keypad):
        lat_all, lon_all = (grid.ravel() for grid in np.meshgrid(lat, lon, indexing="ij"))
        dusk_offset, dawn_offset = np.zeros(lat_all.size), np.zeros(lat_all.size)
        factor = np.full(lat_all.size, np.inf)
        plain = edge.sites_without == 0
        if not plain.any():
            plain = np.isfinite(edge.dusk_latest_utc_min) & np.isfinite(edge.dawn_latest_utc_min)
        for first in range(0, lat_all.size, 4096):
            rows = slice(first, first + 4096)
            times = switch_times(lat_deg=lat_all[rows], lon_deg=lon_all[rows], year=year, altitude_deg=altitude_deg)
            counts = plain & (times.state == State.CROSSES)
            late, early = _extremes(times.dusk_utc_min, edge.dusk_earliest_utc_min, edge.dusk_latest_utc_min, counts)
            dusk_offset[rows], dusk = _best_offset(late, early, tolerance.dark_min, tolerance.excess_min, keypad)
            late, early = _extremes(times.dawn_utc_min, edge.dawn_earliest_utc_min, edge.dawn_latest_utc_min, counts)
            dawn_offset[rows], dawn = _best_offset(late, early, tolerance.excess_min, tolerance.dark_min, keypad)
            factor[rows] = np.maximum(dusk, dawn)
        return cls(lat_all, lon_all, dusk_offset, dawn_offset, factor)

    def plainest(self, rows, equal: float, middle) -> int:
        """Among the rows as good as the best: the smallest offsets, then the nearest to the middle."""
        rows = rows[self.factor[rows] <= self.factor[rows].min() + equal]
        offsets = np.abs(self.dusk_offset_min[rows]) + np.abs(self.dawn_offset_min[rows])
        away = np.hypot(self.lat_deg[rows] - middle[0],
                        (self.lon_deg[rows] - middle[1]) * np.cos(np.radians(middle[0])))
        return int(rows[np.lexsort((self.lon_deg[rows], self.lat_deg[rows], np.round(away, 6), offsets))[0]])

    def setting(self, i: int, legal_zone: str) -> Setting:
        lon = round((float(self.lon_deg[i]) + 180.0) % 360.0 - 180.0, 9)
        return Setting(float(self.lat_deg[i]), lon, legal_zone,
                       int(self.dusk_offset_min[i]), int(self.dawn_offset_min[i]))


def _steps(low: float, high: float, step: float) -> np.ndarray:
    return np.round(np.arange(np.floor(low / step), np.ceil(high / step) + 1) * step, 9) + 0.0


def _extremes(keyed, earliest, latest, counts):
    """How late and how early the keyed time can be against any site, on the nights that count: (n,), (n,)."""
    late = np.where(counts, keyed - earliest, -np.inf).max(axis=1)
    early = np.where(counts, latest - keyed, -np.inf).max(axis=1)
    return np.where(np.isfinite(late), late, 0.0), np.where(np.isfinite(early), early, 0.0)


def _best_offset(late, early, late_limit, early_limit, keypad: Keypad):
    """Whole minutes that even out `late + offset` and `early - offset`, each in units of its limit."""
    even = (early * late_limit - late * early_limit) / (late_limit + early_limit)
    best, factor = np.zeros_like(late), np.full_like(late, np.inf)
    for candidate in (np.zeros_like(late), np.floor(even), np.ceil(even)):
        offset = np.clip(candidate, -keypad.offset_limit_min, keypad.offset_limit_min)
        this = np.maximum(np.maximum(late + offset, 0.0) / late_limit, np.maximum(early - offset, 0.0) / early_limit)
        better = this < factor - 1e-12
        best, factor = np.where(better, offset, best), np.where(better, this, factor)
    return best, factor


def majority_clock_rule(sites, clock_rules) -> tuple[np.ndarray, str]:
    """The clock rule with most sites: a mask of its sites and its most frequent legal zone."""
    rule = clock_rules.index[0]
    mine = (sites["clock_rule"] == rule).to_numpy()
    counts = sites.loc[mine, "legal_zone"].value_counts()
    return mine, sorted(counts.index, key=lambda zone: (-counts[zone], zone))[0]

