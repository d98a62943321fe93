"""How far a year of nights lets a setting be shifted at a site: extremes of (keyed time - own time).

A setting keyed at latitude p acts at its own sun's dusk plus a shift x, and at its dawn plus a shift y. At a site the
drift of night k is then K_k + x - d_k, so that the year's worst drifts need only the largest and the smallest K_k - d_k:
the shifts that stay within tolerance form a box. Own times are computed once a site and held against every keyed
latitude inside one compiled loop.

Every extreme is given twice. `nearest` is what the keyed longitude nearest to the site gives. `easiest` is on the safe
side for a proof that something cannot be done: no keyed longitude within reach has a milder one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..compiled import kernel
from ..numbers import crossing
from ..numbers.almanac import almanac
from ..numbers.cores import on_all_cores
from ..numbers.crossing import CROSSES, DAWN_ONLY, DUSK_ONLY, STAYS_ABOVE, STAYS_BELOW, day_of_hour_angle
from ..numbers.shallow import judged_nights
from ..numbers.sun import checked_positions, sin_threshold
from .keyedtimes import UNSURE, KeyedTimes, times

# Sites of one block lie within this many degrees of longitude of each other, so that one keyed longitude is near all.
_BLOCK_LON_DEG = 0.5
# The loop counts in whole ticks from the block's mean midnight; rounding to them moves a time by 0.007 s at most.
_TICKS_PER_MIN = 4096
_NEVER = 1 << 29


@dataclass(frozen=True)
class Extremes:
    """Extremes over a year of keyed minus own time, for a setting without offsets at the base longitude.

    Attributes
    ----------
    dusk_most, dusk_least, dawn_most, dawn_least : (n_lat, n) float32 [minute]
        "most" is the latest switching; 4 minutes per degree between site and base longitude are included.
    need : (n_lat, n) float32 or None
        Smallest factor on the job's tolerances that no shift can avoid, from nights on which only one of the two has a
        lit interval; None where every night has dusk and dawn.
    lit_most : (n_lat, n) float32 or None [minute]
        The longest night that the setting lights while the site wants none.
    """

    dusk_most: np.ndarray
    dusk_least: np.ndarray
    dawn_most: np.ndarray
    dawn_least: np.ndarray
    need: np.ndarray | None = None
    lit_most: np.ndarray | None = None

    def merged(self, order: np.ndarray, starts: np.ndarray) -> "Extremes":
        """Rows that must share a setting made one: `order` sorts the rows, `starts` opens each unit."""
        if starts.size == order.size and (order == np.arange(order.size)).all():
            return self

        def most(values):
            return None if values is None else np.maximum.reduceat(values[:, order], starts, axis=1)

        def least(values):
            return np.minimum.reduceat(values[:, order], starts, axis=1)

        return Extremes(most(self.dusk_most), least(self.dusk_least), most(self.dawn_most), least(self.dawn_least),
                        most(self.need), most(self.lit_most))

    def rows(self, index) -> "Extremes":
        """The same for some of the rows."""
        def take(values):
            return None if values is None else np.ascontiguousarray(values[:, index])

        return Extremes(*(take(getattr(self, name)) for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class Probe:
    """What is asked of `yearly_extremes` about the keypad.

    Attributes
    ----------
    key_lat_deg : (n_lat,) float64 [degree]
    base_lon_deg : float
    lon_reach_deg : float
        How far a keyed longitude may lie from a site's.
    lat_reach_deg : float
        Half the spacing of `key_lat_deg` where the keypad has latitudes in between, else 0.
    dark_min, excess_min : float
        Tolerances: nights so short that they cannot pass them are left out.
    unit_min : (float, float), optional
        The job's own tolerances, where `dark_min` and `excess_min` are a multiple of them.
    shallow_deg : float [degree]
        Nights that it leaves out at a site (`judged_nights`) set no limit there.
    """

    key_lat_deg: np.ndarray
    base_lon_deg: float
    lon_reach_deg: float
    lat_reach_deg: float
    dark_min: float
    excess_min: float
    unit_min: tuple[float, float] | None = None
    shallow_deg: float = 0.0


def yearly_extremes(*, lat_deg, lon_deg, year: int, altitude_deg: float, probe: Probe, keyed: KeyedTimes | None = None,
                    years: int = 1):
    """Extremes at every keyed latitude and site, over the nights of a year or of several from it on.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
        Longitudes unwrapped as `switch_times` describes.
    year : int
    altitude_deg : float [degree]
    probe : Probe
    keyed : KeyedTimes, optional
        `keyed_times` of the same sites and a probe whose keyed latitudes are the same and whose reach is no smaller.
    years : int

    Returns
    -------
    nearest, easiest : Extremes
    plain : bool
        True if every night that counts has dusk and dawn at the sites and at every keyed latitude.
    steady : bool
        True if the extremes are the same at all smaller tolerances: no night that counts is so short that it is left out.

    Notes
    -----
    A dark minute bound to a night no longer than `dark_min` cannot be passed, so such a night sets no limit on that
    side. If a longer night keeps within dark D on both edges, what is given lasts at least (own night - 2 D); where
    that is longer than E, excess is not capped by the given night's length either. Shorter nights set no limit on
    excess in `easiest`.
    """
    lat, lon = checked_positions(lat_deg, lon_deg)
    table, sin_h = almanac(year, years), sin_threshold(altitude_deg)
    lat_deg, lon_deg = np.degrees(lat), np.degrees(lon)
    n_lat, n = probe.key_lat_deg.size, lat.size
    nearest = np.empty((6, n_lat, n), np.float32)
    easiest = np.empty((6, n_lat, n), np.float32)

    keyed = keyed_times(lon_deg, year, altitude_deg, probe, years) if keyed is None else keyed.reaching(probe.lon_reach_deg)

    def block(rows):
        judged = judged_nights(lat_deg[rows], lon_deg[rows], year, altitude_deg, probe.shallow_deg, years)
        return _block(table, sin_h, lat[rows], lon[rows], judged, keyed, probe, rows, nearest, easiest)

    blocks = _blocks(lon_deg, lat_deg)
    plain, steady = (all(one) for one in zip(*on_all_cores(block, blocks)))
    last = 4 if plain else 6
    return Extremes(*nearest[:last]), Extremes(*easiest[:last]), plain, steady


def keyed_times(lon_deg, year: int, altitude_deg: float, probe: Probe, years: int = 1) -> KeyedTimes:
    """When switches with the probe's keyed positions act, for sites at some longitudes [degree]."""
    return KeyedTimes(almanac(year, years), sin_threshold(altitude_deg), probe.key_lat_deg, probe.lat_reach_deg, probe.lon_reach_deg,
                      np.min(lon_deg), np.max(lon_deg))


def _blocks(lon_deg, lat_deg):
    order = np.lexsort((lat_deg, lon_deg))
    blocks, first = [], 0
    while first < order.size:
        last = np.searchsorted(lon_deg[order], lon_deg[order[first]] + _BLOCK_LON_DEG, side="right")
        last = min(int(last), first + crossing.BLOCK)
        rows = order[first:last]
        # Sites that come sorted are written in one piece, which is several times as fast.
        blocks.append(slice(first, last) if (rows == np.arange(first, last)).all() else rows)
        first = last
    return blocks


def _block(table, sin_h, lat, lon, judged, keyed: KeyedTimes, probe: Probe, rows, nearest, easiest) -> tuple[bool, bool]:
    """Fill both results for one block of sites; (plain, steady) as in `yearly_extremes`."""
    dusk, dawn, state = times(table, sin_h, lat, lon)
    mid_lon = 0.5 * (lon.min() + lon.max())
    noon = next_noon = None
    if (state != CROSSES).any():
        noon, next_noon = np.empty(state.shape), np.empty(state.shape)
        _noons(table.hour_angle, lon, noon, next_noon)
        from_noon = (state == STAYS_BELOW) | (state == DAWN_ONLY)
        to_noon = (state == STAYS_BELOW) | (state == DUSK_ONLY)
        dusk, dawn = np.where(from_noon, noon, dusk), np.where(to_noon, next_noon, dawn)
    own = np.where(state == STAYS_ABOVE, 0.0, dawn - dusk)
    no_dark = own <= probe.dark_min
    no_excess = own <= 2.0 * probe.dark_min + probe.excess_min
    here, here_state, bands = keyed.bands(math.degrees(mid_lon))
    seen = judged.any(axis=0)  # nights that count at some site of the block
    steady = not (no_excess & judged).any()
    plain = (steady and not ((state != CROSSES) & judged).any()
             and not any((band.state != CROSSES)[:, seen[band.nights]].any() for band in bands))
    silent = ~judged | (state == STAYS_ABOVE)
    midnight = 1440.0 * np.arange(1, table.n_night + 1) - 4.0 * math.degrees(mid_lon)
    limits = limits_of(dusk - midnight, dawn - midnight, silent | no_dark, silent)
    safe_limits = limits if not no_excess.any() else limits_of(dusk - midnight, dawn - midnight, silent | no_dark,
                                                               silent | no_excess)
    shape = (probe.key_lat_deg.size, lat.size)
    if noon is None and not plain:
        noon, next_noon = np.empty(state.shape), np.empty(state.shape)
        _noons(table.hour_angle, lon, noon, next_noon)

    def extremes(times, key_state, nights, limit):
        """(6, n_lat, n) by some of the nights."""
        found = np.zeros((6, *shape))
        found[5] = -np.inf
        found[:4] = held_against(times, np.ascontiguousarray(limit[:, :, nights]))
        if not plain:
            own_state = state[:, nights]
            white = np.flatnonzero(((key_state != CROSSES).any(axis=0) | (own_state != CROSSES).any(axis=0)) & seen[nights])
            _other_nights(white, judged[:, nights], *(one[:, nights] - midnight[nights] for one in (dusk, dawn)), own_state,
                          *(one[:, nights] - midnight[nights] for one in (noon, next_noon)), times[1], times[2], key_state,
                          *(probe.unit_min or (probe.dark_min, probe.excess_min)), found[4:])
        return found

    shift = 4.0 * (math.degrees(mid_lon) - probe.base_lon_deg)
    for into, found in ((nearest, extremes(here, here_state, slice(None), limits)),
                        (easiest, _mildest(extremes(band.times, band.state, band.nights, safe_limits) for band in bands))):
        for row in range(6):
            into[row][:, rows] = found[row] + (shift if row < 4 else 0.0)
    return plain, steady


def _mildest(bands) -> np.ndarray:
    """Of several bands of keyed longitudes what asks least, number by number."""
    best = None
    for found in bands:
        if best is None:
            best = found
            continue
        for row in range(6):
            (np.maximum if row in (1, 3) else np.minimum)(best[row], found[row], out=best[row])
    return best


def held_against(keyed, limits) -> np.ndarray:
    """Extremes over the nights of keyed minus own time, (4, n_keyed, n) float64 [minute]: latest and earliest dusk, latest and earliest dawn.

    Parameters
    ----------
    keyed : tuple of four (n_keyed, n_night) float64
        Bounds on keyed dusk and dawn as in `keyedtimes.Band`, counted from the same midnights as the limits.
    limits : (n, 4, n_night) int32
        As `limits_of` makes them.
    """
    out = np.empty((4, keyed[0].shape[0], limits.shape[0]), np.int32)
    _least_differences(_switching(keyed), limits, out)
    signs = np.array([-1.0, 1.0, -1.0, 1.0])[:, None, None]
    return signs * np.where(out >= _NEVER // 2, np.inf, out / _TICKS_PER_MIN)


def limits_of(dusk, dawn, no_dark, no_excess):
    """Own times as the loop wants them, (n, 4, n_night) int32 ticks: `_NEVER` where a night sets no limit."""
    return _ticks(np.stack((np.where(no_dark, np.inf, dusk), np.where(no_excess, np.inf, -dusk),
                            np.where(no_excess, np.inf, dawn), np.where(no_dark, np.inf, -dawn)), axis=1))


def _switching(keyed):
    """Keyed times as the loop wants them, (n_lat, 4, n_night) int32 ticks."""
    dusk_low, dusk_high, dawn_low, dawn_high = keyed
    return _ticks(np.stack((dusk_low, -dusk_high, dawn_low, -dawn_high), axis=1))


def _ticks(minutes):
    return np.rint(np.clip(minutes * _TICKS_PER_MIN, -_NEVER, _NEVER)).astype(np.int32)


@kernel()
def _least_differences(keyed, limits, out):
    """out[edge, j, i] = least of limit minus keyed time over the nights [tick].

    Whole numbers, and all four edges as minima, because that is what the compiler turns into vector instructions:
    0.4 ns for a site, keyed latitude and night instead of 3.8 with floats.
    """
    for i in range(limits.shape[0]):
        for j in range(keyed.shape[0]):
            for edge in range(4):
                least = np.int32(_NEVER)
                for k in range(limits.shape[2]):
                    difference = np.int32(limits[i, edge, k] - keyed[j, edge, k])
                    least = difference if difference < least else least
                out[edge, j, i] = least


@kernel()
def _noons(e, lon, noon, next_noon):
    for i in range(noon.shape[0]):
        for k in range(noon.shape[1]):
            centre = (k + 1.0) * 1440.0
            noon[i, k] = centre + 1440.0 * day_of_hour_angle(e, k, lon[i], 0.0)
            next_noon[i, k] = centre + 1440.0 * day_of_hour_angle(e, k, lon[i], 2.0 * math.pi)


@kernel()
def _other_nights(nights, judged, dusk, dawn, state, noon, next_noon, key_dusk, key_dawn, key_state, dark_min, excess_min, out):
    """What no shift can mend, by the same rules as `comparison.lit_differences`.

    out[0] : factor on the tolerances that is needed; out[1] : longest night lit for a site that wants none.
    """
    for j in range(key_state.shape[0]):
        for k in nights:
            key = key_state[j, k]
            if key == UNSURE:
                continue
            for i in range(dusk.shape[0]):
                if not judged[i, k]:
                    continue
                own = state[i, k]
                need = 0.0
                if own == STAYS_ABOVE:
                    if key == CROSSES:
                        out[1, j, i] = max(out[1, j, i], key_dawn[j, k] - key_dusk[j, k])
                    elif key != STAYS_ABOVE:
                        need = (next_noon[i, k] - noon[i, k]) / excess_min
                elif key == STAYS_ABOVE:
                    need = (dawn[i, k] - dusk[i, k]) / dark_min
                else:
                    if (key == STAYS_BELOW or key == DAWN_ONLY) and not (own == STAYS_BELOW or own == DAWN_ONLY):
                        need = (dusk[i, k] - noon[i, k]) / excess_min
                    if (key == STAYS_BELOW or key == DUSK_ONLY) and not (own == STAYS_BELOW or own == DUSK_ONLY):
                        need = max(need, (next_noon[i, k] - dawn[i, k]) / excess_min)
                out[0, j, i] = max(out[0, j, i], need)
