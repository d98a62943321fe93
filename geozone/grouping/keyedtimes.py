"""When switches with a keyed latitude act: at one keyed longitude, and within bounds over all that are in reach.

A longitude keyed elsewhere and made good by offsets gives the sun of another hour: declination has moved by up to 0.04
degrees, which is minutes at high latitudes. In spring and in autumn the two ways are opposite, so no far longitude is
milder than a near one on all nights; bounds over the whole reach at once do not see that. So they are taken band by band,
near ones narrow and far ones wide, and a proof takes the mildest band.
"""

from __future__ import annotations

import math
from copy import copy
from dataclasses import dataclass

import numpy as np

from ..numbers import crossing
from ..numbers.almanac import Almanac
from ..numbers.crossing import CROSSES, STAYS_ABOVE, STAYS_BELOW

# Nights shorter (or days shorter) than this graze the threshold, and a proof does without them. Above it, half a night goes
# like the square root of the depth d; where its second difference between probes is at most this share of the night, d
# changes by less than two thirds from probe to probe, and a curve strays from its chord by no more than that difference.
_GRAZING_MIN = 10.0
_SMOOTH_SHARE = 0.05
# Noise of the crossing kernel is 2 ms (crossing._LEFT_OVER), of two roundings to ticks 15 ms, of float32 1 ms.
_NOISE_MIN = 5e-4  # 30 ms
UNSURE = 9  # a keyed night whose state depends on the keyed longitude
# The band of keyed longitudes round a block of sites, and where the bands beyond it begin [degree].
_NEAR_DEG = 2.0
_FAR_DEG = (2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0)
_GRID_DEG = 2.0
_BEND_KEPT = 4_000_000
#: So many times of a grid, 17 bytes each, are held at most; a wider grid takes fewer, and its bounds are looser.
_GRID_MOST = 24_000_000
# Positions whose nights are computed together, whole blocks of the kernel.
_TOGETHER = 32 * crossing.BLOCK
# Far bands look at one night in so many where no keyed latitude has white nights: fewer nights set fewer limits, which is
# on the safe side, and a year's extremes are flat there. Next to white nights the very last night counts.
_FAR_NIGHTS = 7


@dataclass(frozen=True)
class Band:
    """Bounds on keyed times over a band of keyed longitudes.

    Attributes
    ----------
    nights : slice
        The nights that are looked at.
    times : tuple of (n_lat, n_looked_at) float64
        Earliest and latest dusk, earliest and latest dawn [minutes since the block's mean midnight of each night];
        infinite where the bounds are not known.
    state : (n_lat, n_looked_at) int8
        As in `sun.State`, or `UNSURE`.
    """

    nights: slice
    times: tuple
    state: np.ndarray


class KeyedTimes:
    """Keyed times for blocks of sites.

    Parameters
    ----------
    table : Almanac
    sin_h : float
    key_lat_deg : (n_lat,) float64 [degree]
    lat_reach_deg, lon_reach_deg : float [degree]
        As in `boxes.Probe`.
    west_deg, east_deg : float
        Where the sites lie.
    """

    def __init__(self, table: Almanac, sin_h: float, key_lat_deg, lat_reach_deg: float, lon_reach_deg: float,
                 west_deg: float, east_deg: float):
        self.table, self.sin_h, self.key_lat_deg = table, sin_h, np.asarray(key_lat_deg, float)
        steps = (0.0,) if lat_reach_deg == 0 else (-lat_reach_deg, 0.0, lat_reach_deg)
        # A latitude is probed once, also where it is halfway between two that can be keyed: `_of` are the places of each step's.
        self._lat, of = np.unique(np.round([np.clip(self.key_lat_deg + step, -90, 90) for step in steps], 9), return_inverse=True)
        self._of, self.lon_reach_deg = of.reshape(len(steps), -1), lon_reach_deg
        self._near_deg = min(_NEAR_DEG, lon_reach_deg)
        self._grid, self._whole = None, False
        if lon_reach_deg > self._near_deg:
            ends = np.array([[-1.0], [1.0]]) * np.abs(self.key_lat_deg).max()
            white = (times(table, sin_h, np.radians(ends[:, 0]), np.zeros(2))[2] != CROSSES).any()
            self._whole = bool(white)
            self._far_nights = slice(None) if white else slice(3, None, _FAR_NIGHTS)
            span_deg, looked_at = east_deg - west_deg + 2 * lon_reach_deg, len(range(table.n_night)[self._far_nights])
            self._spacing_deg = _GRID_DEG * math.ceil(span_deg / _GRID_DEG * self._lat.size * looked_at / _GRID_MOST)
            self._first = math.floor((west_deg - lon_reach_deg) / self._spacing_deg) - 2
            last = math.ceil((east_deg + lon_reach_deg) / self._spacing_deg) + 2
            self._grid = self._probes(np.arange(self._first, last + 1) * self._spacing_deg, self._far_nights)
            # Kept for the blocks that follow, unless it is half the world at every night: then it is made when asked for.
            self._bend = tuple(_bend(times) for times in self._grid[:2]) if self._grid[0].size < _BEND_KEPT else None

    def reaching(self, lon_reach_deg: float) -> "KeyedTimes":
        """The same times for a reach that is no larger: nothing is computed again."""
        if lon_reach_deg > self.lon_reach_deg:
            raise ValueError(f"times reach {self.lon_reach_deg} degrees, not {lon_reach_deg}")
        nearer = copy(self)
        nearer.lon_reach_deg, nearer._near_deg = lon_reach_deg, min(_NEAR_DEG, lon_reach_deg)
        if lon_reach_deg <= nearer._near_deg:
            nearer._grid, nearer._whole = None, False
        return nearer

    def _probes(self, lon_deg, nights: slice):
        """Dusk and dawn since each night's midnight at longitude and state, latitude by latitude: (n_lon, n_probed, n_looked_at)."""
        lat, lon = np.tile(self._lat, len(lon_deg)), np.repeat(lon_deg, self._lat.size)
        looked_at = 1440.0 * np.arange(1, self.table.n_night + 1)[nights]
        dusk, dawn, state = np.empty((lon.size, looked_at.size)), np.empty((lon.size, looked_at.size)), np.empty((lon.size, looked_at.size), np.int8)
        # Some at a time: all nights of half the world at a hundredth of a degree would fill the memory.
        for begin in range(0, lon.size, _TOGETHER):
            rows = slice(begin, begin + _TOGETHER)
            found = times(self.table, self.sin_h, np.radians(lat[rows]), np.radians(lon[rows]))
            midnight = looked_at - 4.0 * lon[rows, None]
            dusk[rows], dawn[rows], state[rows] = found[0][:, nights] - midnight, found[1][:, nights] - midnight, found[2][:, nights]
        shape = (len(lon_deg), self._lat.size, -1)
        return dusk.reshape(shape), dawn.reshape(shape), state.reshape(shape)

    def bands(self, mid_lon_deg: float) -> tuple[tuple, np.ndarray, list[Band]]:
        """For a block of sites round a longitude: times held at just that longitude, their state, and all bands."""
        steps = np.array([0.0] if self._whole else [0.0, -self._near_deg, self._near_deg])
        dusk, dawn, state = self._probes(mid_lon_deg + steps, slice(None))
        here = self._of[len(self._of) // 2]
        if self._whole:
            found = [self._far(mid_lon_deg - self._near_deg, mid_lon_deg + self._near_deg)]
        else:
            bend = tuple(np.abs(one[1:2] - 2.0 * one[:1] + one[2:]) for one in (dusk, dawn))
            found = [_band(slice(None), (dusk, dawn), state, bend, self._of)]
        if self._grid is not None:
            for near, far in zip(_FAR_DEG[:-1], _FAR_DEG[1:]):
                if near < self.lon_reach_deg:
                    far = min(far, self.lon_reach_deg)
                    found += [self._far(mid_lon_deg - far, mid_lon_deg - near), self._far(mid_lon_deg + near, mid_lon_deg + far)]
        return _held(dusk[0, here]) + _held(dawn[0, here]), state[0, here], found

    def _far(self, west_deg: float, east_deg: float) -> Band:
        a, b = math.floor(west_deg / self._spacing_deg) - self._first, math.ceil(east_deg / self._spacing_deg) - self._first
        dusk, dawn, state = (one[a:b + 1] for one in self._grid)
        bend = tuple(one[a - 1:b] for one in self._bend) if self._bend else tuple(_most_bent(one[a - 1:b + 2]) for one in self._grid[:2])
        return _band(self._far_nights, (dusk, dawn), state, bend, self._of)


def _band(nights: slice, dusk_dawn, state, bend, of) -> Band:
    """Bounds over longitudes and, by `of`, over the latitudes probed for each keyed one."""
    dusk, dawn = dusk_dawn
    first = state[0, of[0]]
    with np.errstate(invalid="ignore"):
        shorter = np.full(dusk.shape[1:], np.inf)
        for begin, end in zip(dusk, dawn):  # longitude by longitude, for the memory's sake
            night = end - begin
            np.minimum(shorter, np.minimum(night, 1440.0 - night), out=shorter)
        shorter = shorter[of].min(axis=0)
        rooms = [strays.max(axis=0)[of].max(axis=0) for strays in bend]
        full = (shorter >= _GRAZING_MIN) & (np.maximum(*rooms) <= _SMOOTH_SHARE * shorter)
    same = (state == state[0]).all(axis=0)
    sure = (same[of] & (state[0, of] == first)).all(axis=0) & (full | (first == STAYS_ABOVE) | (first == STAYS_BELOW))
    state = np.where(sure, first, UNSURE).astype(np.int8)
    # Between smooth probes a curve strays from its chords by an eighth of its second difference; all of it is allowed.
    usable, limits = state == CROSSES, ()
    for one, room in zip(dusk_dawn, rooms):
        room = room + _NOISE_MIN
        limits += (np.where(usable, one.min(axis=0)[of].min(axis=0) - room, -np.inf), np.where(usable, one.max(axis=0)[of].max(axis=0) + room, np.inf))
    return Band(nights, limits, state)


def _bend(times):
    """Second differences from longitude to longitude: (n_lon - 2, n_probed, n_looked_at)."""
    bend = np.empty((times.shape[0] - 2, *times.shape[1:]))
    for i in range(bend.shape[0]):
        np.abs(times[i] - 2.0 * times[i + 1] + times[i + 2], out=bend[i])
    return bend


def _most_bent(times):
    """The largest of `_bend` over the longitudes, (1, n_probed, n_looked_at)."""
    most = np.zeros((1, *times.shape[1:]))
    for i in range(times.shape[0] - 2):
        np.maximum(most[0], np.abs(times[i] - 2.0 * times[i + 1] + times[i + 2]), out=most[0])
    return most


def _held(one):
    known = ~np.isnan(one)
    return np.where(known, one, -np.inf), np.where(known, one, np.inf)


def times(table: Almanac, sin_h, lat_rad, lon_rad):
    """Dusk, dawn and state of every night: (n, n_night) each."""
    shape = (lat_rad.size, table.n_night)
    dusk, dawn, state = np.empty(shape), np.empty(shape), np.empty(shape, np.int8)
    crossing.all_times(table.hour_angle, table.sin_declination, lat_rad, lon_rad, sin_h, dusk, dawn, state)
    return dusk, dawn, state
