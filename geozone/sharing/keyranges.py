"""Ranges of keyed positions, and what is surely true of dusk and dawn anywhere in them.

A search over all positions that a keypad holds starts from a few wide ranges and splits those that may still hold a good
setting, down to single positions, where nothing is estimated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..compiled import kernel
from ..numbers import crossing
from ..numbers.almanac import almanac
from ..numbers.crossing import CROSSES, STAYS_ABOVE, STAYS_BELOW
from ..numbers.sun import run_in_parts, sin_threshold
from ..trade.keypad import Keypad

# Nights shorter (or days shorter) than this graze the threshold: between the probes of a range anything may happen.
_GRAZING_MIN = 60.0
# Noise of the crossing kernel is 2 ms (crossing._LEFT_OVER).
_NOISE_MIN = 2e-4
UNSURE = 9  # a night whose state is not the same, or not surely the same, all over the range
# Ranges that a search starts with [degree].
_FIRST_LAT_DEG, _FIRST_LON_DEG = 2.0, 12.0
_PARTS = 4


@dataclass(frozen=True)
class Keys:
    """All positions that come into question.

    Attributes
    ----------
    lat_deg : (n_lat,) float64, ascending
    lon_deg : (n_lon,) float64, ascending
        Unwrapped to share the date with the keyed zone's legal time.
    year : int
    altitude_deg : float
    """

    lat_deg: np.ndarray
    lon_deg: np.ndarray
    year: int
    altitude_deg: float

    @classmethod
    def of(cls, keypad: Keypad, lat_deg: tuple[float, float], lon_deg: tuple[float, float], legal_lon_deg: float, year: int,
           altitude_deg: float) -> "Keys":
        """The keypad's positions between two latitudes and two longitudes that a clock at `legal_lon_deg` can have."""
        step = keypad.coordinate_step_deg

        def steps(limit):
            return keypad.round_deg(np.arange(-np.floor(limit / step + 1e-9), np.floor(limit / step + 1e-9) + 1) * step)

        def between(values, low, high):
            first, last = np.searchsorted(values, low - 1e-9), np.searchsorted(values, high + 1e-9)
            return values[first:max(last, first + 1)] if first < values.size else values[-1:]

        lon = steps(180.0)
        lon = np.unique(np.round(lon + 360.0 * np.round((legal_lon_deg - lon) / 360.0), 9))
        return cls(between(steps(90.0), *lat_deg), between(lon, *lon_deg), year, altitude_deg)

    def first_ranges(self) -> np.ndarray:
        """(m, 4) int64 ranges that hold all positions: first and last latitude, first and last longitude, as indices."""
        def cuts(values, width):
            span = max(1, int(np.ceil((values[-1] - values[0]) / width)))
            edges = np.unique(np.linspace(0, values.size, span + 1).astype(int))
            return list(zip(edges[:-1], edges[1:] - 1))

        return np.array([(*lat, *lon) for lat in cuts(self.lat_deg, _FIRST_LAT_DEG)
                         for lon in cuts(self.lon_deg, _FIRST_LON_DEG)], np.int64)


def split(ranges: np.ndarray) -> np.ndarray:
    """Each range in up to four parts, by latitude first, then by longitude; single positions are not given back."""
    parts = []
    for i0, i1, j0, j1 in ranges:
        by_lat = i1 > i0
        first, last = (i0, i1) if by_lat else (j0, j1)
        if last == first:
            continue
        edges = np.unique(np.linspace(first, last + 1, min(_PARTS, last - first + 1) + 1).astype(int))
        parts += [(a, b - 1, j0, j1) if by_lat else (i0, i1, a, b - 1) for a, b in zip(edges[:-1], edges[1:])]
    return np.array(parts, np.int64).reshape(-1, 4)


def single(ranges: np.ndarray) -> np.ndarray:
    """(m,) bool: which ranges are one position."""
    return (ranges[:, 0] == ranges[:, 1]) & (ranges[:, 2] == ranges[:, 3])


@dataclass(frozen=True)
class KeyedBounds:
    """Bounds on keyed dusk and dawn over ranges, for settings without offsets.

    Minutes since 1 January 00:00 UTC, with 4 minutes per degree between a position and its range's middle longitude
    added, so that a setting with dusk offset a at longitude l switches at one of these plus x = a - 4 (l - middle).

    Attributes
    ----------
    times : (m, 5, n_night) float64
        Earliest and latest dusk, earliest and latest dawn, least dawn minus dusk.
    state : (m, n_night) int8
        Values of `State`, or `UNSURE`: the times then mean nothing.
    mid_lon_deg : (m,) float64
        A longitude of the keypad.
    half_min : (m,) float64
        How far 4 (l - middle) can reach either way.
    """

    times: np.ndarray
    state: np.ndarray
    mid_lon_deg: np.ndarray
    half_min: np.ndarray


def keyed_bounds(keys: Keys, ranges: np.ndarray) -> KeyedBounds:
    """Bounds for each range, from three by three probes in it.

    Notes
    -----
    Between probes a time strays from the probes' chords by an eighth of its second difference; all of that is allowed.
    """
    table, sin_h = almanac(keys.year), sin_threshold(keys.altitude_deg)
    ends = keys.lat_deg[ranges[:, :2]], keys.lon_deg[ranges[:, 2:]]
    mid_lon = keys.lon_deg[(ranges[:, 2] + ranges[:, 3]) // 2]
    lat = np.column_stack([ends[0][:, 0], ends[0].mean(axis=1), ends[0][:, 1]])
    lon = np.column_stack([ends[1][:, 0], ends[1].mean(axis=1), ends[1][:, 1]])
    m = len(ranges)
    times, state = np.empty((m, 5, table.n_night)), np.empty((m, table.n_night), np.int8)
    one = single(ranges)
    for rows, side in ((np.flatnonzero(one), 1), (np.flatnonzero(~one), 3)):
        if not rows.size:
            continue
        # A range of one latitude is probed three times there, which costs little and keeps one path.
        at_lat = np.repeat(lat[rows][:, :side], side, axis=1).ravel()
        at_lon = np.tile(lon[rows][:, :side], (1, side)).ravel()
        shape = (at_lat.size, table.n_night)
        dusk, dawn, states = np.empty(shape), np.empty(shape), np.empty(shape, np.int8)
        lat_rad, lon_rad = np.radians(at_lat), np.radians(at_lon)

        def part(piece: slice):
            crossing.all_times(table.hour_angle, table.sin_declination, lat_rad[piece], lon_rad[piece], sin_h,
                               dusk[piece], dawn[piece], states[piece])

        run_in_parts(part, at_lat.size)
        moved = 4.0 * (at_lon - np.repeat(mid_lon[rows], side * side))
        _bounds(dusk, dawn, states, moved, side, rows, times, state)
    reach = 4.0 * np.maximum(np.abs(ends[1][:, 0] - mid_lon), np.abs(ends[1][:, 1] - mid_lon))
    return KeyedBounds(times, state, mid_lon, reach)


@kernel()
def _bounds(dusk, dawn, states, moved, side, rows, times, state):
    probes = side * side
    late, dark = np.empty(9), np.empty(9)
    for r in range(rows.size):
        for k in range(dusk.shape[1]):
            first = r * probes
            same, low, high = states[first, k], 0.0, 0.0
            for p in range(probes):
                i = first + p
                if states[i, k] != same:
                    same = UNSURE
                late[p], dark[p] = dusk[i, k] + moved[i], dawn[i, k] + moved[i]
            if same == CROSSES and side > 1:
                for p in range(probes):
                    length = dark[p] - late[p]
                    if length < _GRAZING_MIN or length > 1440.0 - _GRAZING_MIN:
                        same = UNSURE
            elif side > 1 and same != STAYS_ABOVE and same != STAYS_BELOW:
                same = UNSURE
            state[rows[r], k] = same
            if same == UNSURE:
                times[rows[r], :, k] = 0.0
                continue
            least = np.inf
            for edge in range(2):
                one = late if edge == 0 else dark
                low, high, bend = np.inf, -np.inf, 0.0
                for p in range(probes):
                    low, high = min(low, one[p]), max(high, one[p])
                if side > 1:
                    for line in range(3):
                        bend = max(bend, abs(one[3 * line] - 2.0 * one[3 * line + 1] + one[3 * line + 2])
                                   + abs(one[line] - 2.0 * one[line + 3] + one[line + 6]))
                    bend += _NOISE_MIN
                times[rows[r], 2 * edge, k] = low - bend
                times[rows[r], 2 * edge + 1, k] = high + bend
                least = bend if edge == 0 else least + bend
            shortest = np.inf
            for p in range(probes):
                shortest = min(shortest, dark[p] - late[p])
            times[rows[r], 4, k] = shortest - least
