"""Light of many sites over a year, compiled: expanded, compared and summed block by block of sites.

Nothing of the size sites x nights outlives its block. A block of sites gets its dusk and dawn from the crossing kernel;
then each site of the block is expanded to lit intervals, compared, and reduced to a few numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..compiled import kernel
from ..numbers.almanac import almanac
from ..numbers.comparison import EVERY_NIGHT
from ..numbers.crossing import BLOCK, CROSSES, day_of_hour_angle, is_judged, load_block, night_block
from ..numbers.intervals import add_by_bin, by_night, compare_unions
from ..numbers.sun import run_in_parts
from ..trade.latch import Events, capacity, meant, obeyed

_TAU = 2.0 * math.pi


@dataclass(frozen=True)
class Union:
    """Lit intervals of one switch over a year.

    Attributes
    ----------
    ends : (2, n) float64
        Starts and stops [minutes since 1 January 00:00 UTC], ascending.
    kinds : (2, n) int8
        What made each end: DUSK, DAWN or CLOCK of intervals.py.
    """

    ends: np.ndarray
    kinds: np.ndarray


@dataclass(frozen=True)
class Bins:
    """Pieces of time to which lit minutes are booked.

    Attributes
    ----------
    edge : (m + 1,) float64
        Ends of the pieces [minutes since 1 January 00:00 UTC], ascending.
    bin_of : (m,) int64
        Bin of each piece.
    count : int
    """

    edge: np.ndarray
    bin_of: np.ndarray
    count: int


@kernel()
def _fill_block(e, s, sin_h, first, stop, lat_rad, lon_rad, sin_lat, cos_lat, lon, past, one_dusk, one_dawn, one_state,
                dusk, dawn, state):
    load_block(e, s, sin_h, first, stop, lat_rad, lon_rad, sin_lat, cos_lat, lon, past)
    for k in range(e.shape[0]):
        other = night_block(e, s, k, sin_lat, cos_lat, lon, sin_h, past, one_dusk, one_dawn, one_state)
        # One row a site: a column of a 256-wide array would fall on the same few cache lines again and again.
        for i in range(BLOCK):
            dusk[i, k] = one_dusk[i]
            dawn[i, k] = one_dawn[i]
            state[i, k] = one_state[i] if other else CROSSES


@kernel()
def _noons(e, lon, noon):
    for k in range(e.shape[0]):
        noon[k] = (k + 1.0 + day_of_hour_angle(e, k, lon, 0.0)) * 1440.0
    k = e.shape[0] - 1
    noon[k + 1] = (k + 1.0 + day_of_hour_angle(e, k, lon, _TAU)) * 1440.0


@kernel()
def _year_of_sites(e, s, lat_rad, lon_rad, sin_h, events, own, key_lat_rad, key_lon_rad, key_dusk_min, key_dawn_min,
                   key_events, given, given_kinds, dark_limit, excess_limit, sin_deep, sin_clear, edge, bin_of, result,
                   meant_bins, lit_bins, room):
    n_night = e.shape[0]
    sin_lat, cos_lat, lon = np.empty(BLOCK), np.empty(BLOCK), np.empty(BLOCK)
    past = np.empty((7, BLOCK))
    one_dusk, one_dawn, one_state = np.empty(BLOCK), np.empty(BLOCK), np.zeros(BLOCK, np.int8)
    shape = (BLOCK, n_night)
    dusk, dawn, state = np.empty(shape), np.empty(shape), np.empty(shape, np.int8)
    k_dusk, k_dawn, k_state = np.empty(shape), np.empty(shape), np.empty(shape, np.int8)
    noon, key_noon = np.empty(n_night + 1), np.empty(n_night + 1)
    scratch = np.empty((3, room))
    a, a_kinds = np.empty((2, room)), np.empty((2, room), np.int8)
    b, b_kinds = np.empty((2, room)), np.empty((2, room), np.int8)
    beyond, judged = np.zeros(n_night, np.uint8), np.ones(n_night, np.bool_)
    some = sin_deep <= 1.0 or sin_clear >= -1.0
    out = np.empty(10)
    sums = np.empty(meant_bins.shape[0])
    key_lon = np.empty(BLOCK)
    n = lat_rad.size
    for first in range(0, n, BLOCK):
        stop = min(first + BLOCK, n)
        if own:
            _fill_block(e, s, sin_h, first, stop, key_lat_rad, key_lon_rad, sin_lat, cos_lat, key_lon, past, one_dusk,
                        one_dawn, one_state, k_dusk, k_dawn, k_state)
        _fill_block(e, s, sin_h, first, stop, lat_rad, lon_rad, sin_lat, cos_lat, lon, past, one_dusk, one_dawn,
                    one_state, dusk, dawn, state)
        for i in range(stop - first):
            j = first + i
            _noons(e, lon[i], noon)
            if some:
                for k in range(n_night):
                    judged[k] = is_judged(e, s, k, sin_lat[i], cos_lat[i], lon[i], sin_deep, sin_clear)
            n_a = meant(events, dusk[i], dawn[i], state[i], noon, a, a_kinds)
            sums[:] = 0.0
            add_by_bin(a, n_a, edge, bin_of, sums)
            for m in range(sums.size):
                meant_bins[m, j] = sums[m]
            if own:
                for k in range(n_night):
                    k_dusk[i, k] += key_dusk_min[j]
                    k_dawn[i, k] += key_dawn_min[j]
                _noons(e, key_lon[i], key_noon)
                n_b = obeyed(key_events, k_dusk[i], k_dawn[i], k_state[i], key_noon, b, b_kinds, scratch)
                compare_unions(a, n_a, a_kinds, b, n_b, b_kinds, noon, dark_limit, excess_limit, judged, beyond, out)
                sums[:] = 0.0
                add_by_bin(b, n_b, edge, bin_of, sums)
                for m in range(sums.size):
                    lit_bins[m, j] = sums[m]
            else:
                compare_unions(a, n_a, a_kinds, given, given.shape[1], given_kinds, noon, dark_limit, excess_limit,
                               judged, beyond, out)
            for m in range(10):
                result[m, j] = out[m]


def compare_sites(*, year, lat_rad, lon_rad, sin_h, events: Events, given: Union | None = None, key=None,
                  key_events: Events | None = None, dark_limit=math.inf, excess_limit=math.inf, judged=EVERY_NIGHT, bins: Bins):
    """Intended light of every site against what is delivered.

    Parameters
    ----------
    year : int
    lat_rad, lon_rad : (n,) float64 [radian]
    sin_h : float
        Sine of the geocentric threshold.
    events : Events
        The programme on the sites' legal clock.
    given : Union, optional
        What one common setting delivers.
    key : (4, n) float64, optional
        Instead of `given`, each site's own setting: keyed latitude and longitude [radian], dusk and dawn
        offsets [minute].
    key_events : Events, optional
        The programme on the switches' clock, with `key`; left out: `events`.
    dark_limit, excess_limit : float [minute]
    judged : (float, float)
        Which nights are judged, see `shallow.limits`.
    bins : Bins

    Returns
    -------
    result : (10, n) float64
        Rows as in intervals.py.
    meant_min, lit_min : (bins.count, n) float64
        Intended and delivered minutes by bin; `lit_min` has one column when `given` serves all.
    """
    table = almanac(year)
    n = lat_rad.size
    own = given is None
    key = np.zeros((4, n)) if key is None else np.ascontiguousarray(key, dtype=float)
    key_events = events if key_events is None else key_events
    ends = np.empty((2, 0)) if own else given.ends
    kinds = np.empty((2, 0), np.int8) if own else given.kinds
    room = max(capacity(events, table.n_night), capacity(key_events, table.n_night))

    def part(rows: slice):
        size = rows.stop - rows.start
        result, meant_min = np.empty((10, size)), np.zeros((bins.count, size))
        lit_min = np.zeros((bins.count, size if own else 1))
        _year_of_sites(table.hour_angle, table.sin_declination, lat_rad[rows], lon_rad[rows], sin_h, events, own,
                       key[0, rows], key[1, rows], key[2, rows], key[3, rows], key_events, ends, kinds,
                       dark_limit, excess_limit, *judged, bins.edge, bins.bin_of, result, meant_min, lit_min, room)
        return result, meant_min, lit_min

    parts = run_in_parts(part, n)
    result, meant_min, lit_min = (np.concatenate([p[i] for p in parts], axis=1) for i in range(3))
    return result, meant_min, lit_min if own else lit_minutes_by_bin(given, bins)[:, None]


def expand(events: Events, *, dusk_utc_min, dawn_utc_min, state, noon_utc_min, reading: str = "obeyed") -> Union:
    """Lit intervals of one switch whose dusk and dawn are known.

    Parameters
    ----------
    events : Events
    dusk_utc_min, dawn_utc_min : (n_night,) float64
        Offsets and clock differences included; NaN where there is none.
    state : (n_night,) int8
    noon_utc_min : (n_night + 1,) float64
    reading : {"obeyed", "meant"}
    """
    room = capacity(events, len(state))
    ends, kinds = np.empty((2, room)), np.empty((2, room), np.int8)
    dusk, dawn = np.array(dusk_utc_min, dtype=float), np.array(dawn_utc_min, dtype=float)
    state, noon = np.array(state, dtype=np.int8), np.array(noon_utc_min, dtype=float)
    if reading == "obeyed":
        n = obeyed(events, dusk, dawn, state, noon, ends, kinds, np.empty((3, room)))
    elif reading == "meant":
        n = meant(events, dusk, dawn, state, noon, ends, kinds)
    else:
        raise ValueError(f"reading is 'obeyed' or 'meant', not {reading!r}")
    return Union(ends[:, :n].copy(), kinds[:, :n].copy())


def noons(lon_deg: float, year: int) -> np.ndarray:
    """(n_night + 1,) float64: solar noons at a longitude [minutes since 1 January 00:00 UTC]."""
    table = almanac(year)
    noon = np.empty(table.n_night + 1)
    _noons(table.hour_angle, math.radians(lon_deg), noon)
    return noon


def lit_minutes_by_bin(union: Union, bins: Bins) -> np.ndarray:
    """(bins.count,) float64: lit minutes by bin."""
    out = np.zeros(bins.count)
    add_by_bin(union.ends, union.ends.shape[1], bins.edge, bins.bin_of, out)
    return out


def difference_by_night(a: Union, b: Union, noon_utc_min) -> np.ndarray:
    """(n_night,) float64: minutes lit in `a` and not in `b`, night by night."""
    noon = np.asarray(noon_utc_min, dtype=float)
    out = np.zeros(noon.size - 1)
    by_night(a.ends, a.ends.shape[1], b.ends, b.ends.shape[1], noon, out)
    return out
