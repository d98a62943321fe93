"""What the sites of one clock demand of any shared setting, night by night, and whether a range of positions can give it.

At a site the drift of a night is keyed time plus shift minus own time, cut off at the night's own (for dark) or the given
(for excess) length. For a fixed difference g of the two offsets the given length is fixed as well, and all demands are
limits on the dusk shift alone: whether some setting keeps all sites within D dark and E excess minutes is asked for each
g by holding one interval together. At a single position the answer is exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..compiled import kernel
from ..numbers import shallow
from ..numbers.almanac import almanac
from ..numbers.comparison import lit_differences
from ..numbers.crossing import CROSSES, DAWN_ONLY, DUSK_ONLY, STAYS_ABOVE, STAYS_BELOW, day_of_hour_angle
from ..numbers.sun import run_in_parts, switch_times
from ..trade.setting import Tolerance
from .drift import KeyedTimes
from .keyranges import UNSURE, KeyedBounds

# Sites of which all nights are held at a time: 4,096 take 35 MB.
_PIECE = 4096
# A drift equal to the limit is within it (drift._SAME_MIN), and so is what is lost in the arithmetic of minutes of a year.
SAME_MIN = 1e-7
_SAME_MIN = 2e-7
# A setting that lights a noon lights most of a day, so its excess is not cut off by the length of what is given.
_MOST_OF_A_DAY_MIN = 700.0

# Rows of the demands.
(DUSK_DARK, DAWN_DARK, DUSK_EXCESS, DAWN_EXCESS, UNLIT, FROM_NOON, TO_NOON, SHORTEST) = range(8)


@dataclass(frozen=True)
class OwnNights:
    """Nights of up to 4,096 sites: (n, n_night) arrays as `SwitchTimes` has them, and which nights are judged."""

    lon_rad: np.ndarray
    dusk: np.ndarray
    dawn: np.ndarray
    state: np.ndarray
    judged: np.ndarray

    def lit_interval(self, e: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Begin and end of what each night should be lit, two (n, n_night) arrays; equal where it should not be."""
        begin, end = np.empty(self.dusk.shape), np.empty(self.dusk.shape)
        _lit_interval(e, self.lon_rad, self.dusk, self.dawn, self.state, begin, end)
        return begin, end


class OwnTimes:
    """Dusk and dawn of all sites; kept where they are few, else computed again piece by piece when asked for."""

    def __init__(self, lat_deg, lon_deg, year: int, altitude_deg: float, shallow_deg: float):
        self.lat_deg, self.lon_deg, self.year, self.altitude_deg = lat_deg, lon_deg, year, altitude_deg
        self.shallow_deg = shallow_deg
        self._kept = list(self._pieces()) if lat_deg.size <= 2 * _PIECE else None

    @property
    def kept(self) -> bool:
        """Whether all nights of all sites are in memory."""
        return self._kept is not None

    @property
    def n(self) -> int:
        """Number of sites."""
        return self.lat_deg.size

    def any_judged(self) -> bool:
        """Whether any night is judged at any site."""
        return any(nights.judged.any() for _, nights in self.pieces())

    def pieces(self):
        """(rows, OwnNights) of all sites in turn."""
        return self._pieces() if self._kept is None else iter(self._kept)

    def _pieces(self):
        for first in range(0, self.n, _PIECE):
            rows = slice(first, min(first + _PIECE, self.n))
            lat, lon = self.lat_deg[rows], self.lon_deg[rows]
            times = switch_times(lat_deg=lat, lon_deg=lon, year=self.year, altitude_deg=self.altitude_deg)
            if self.shallow_deg > 0:
                judged = shallow.judged_nights(lat, lon, self.year, self.altitude_deg, self.shallow_deg)
            else:
                judged = np.ones(times.state.shape, bool)
            yield rows, OwnNights(np.radians(lon), times.dusk_utc_min, times.dawn_utc_min, times.state, judged)


def worst_factors(own: OwnTimes, keyed: KeyedTimes, tolerance: Tolerance) -> np.ndarray:
    """(n,) float64: worst drift of each site in units of the tolerances, as `setting_drift` has it, from times that are known."""
    e, found = almanac(own.year).hour_angle, []
    for _, nights in own.pieces():
        def part(rows: slice):
            out = np.empty(rows.stop - rows.start)
            _worst_factors(e, nights.lon_rad[rows], nights.dusk[rows], nights.dawn[rows], nights.state[rows], nights.judged[rows],
                           keyed.dusk_utc_min, keyed.dawn_utc_min, keyed.state, tolerance.dark_min, tolerance.excess_min, out)
            return out

        found += run_in_parts(part, nights.lon_rad.size)
    return np.concatenate(found)


@kernel()
def _worst_factors(e, lon_rad, dusk, dawn, state, judged, key_dusk, key_dawn, key_state, dark, excess, out):
    for i in range(lon_rad.size):
        out[i] = 0.0
        for k in range(dusk.shape[1]):
            if not judged[i, k]:
                continue
            noon, next_noon = 0.0, 0.0
            if state[i, k] != CROSSES or key_state[k] != CROSSES:
                noon = (k + 1.0) * 1440.0 + 1440.0 * day_of_hour_angle(e, k, lon_rad[i], 0.0)
                next_noon = (k + 1.0) * 1440.0 + 1440.0 * day_of_hour_angle(e, k, lon_rad[i], 2.0 * math.pi)
            late_on, early_on, early_off, late_off, unlit, lit = lit_differences(
                state[i, k], dusk[i, k], dawn[i, k], noon, next_noon, key_state[k], key_dusk[k], key_dawn[k])
            out[i] = max(out[i], max(late_on, early_off, unlit) / dark, max(early_on, late_off, lit) / excess)


def demands(own: OwnTimes, dark_min: float) -> np.ndarray:
    """(8, n_night) float64 [minute]: the strictest that any site asks for, on judged nights.

    Rows by the constants above: earliest dusk and latest dawn of nights longer than `dark_min`; latest dusk and earliest
    dawn of all lit nights; 1 where a site wants no light; longest time from noon to dusk and from dawn to noon; shortest
    lit night. Nights lit from or to a noon have dusk or dawn there.
    """
    table = almanac(own.year)
    start = np.array([math.inf, -math.inf, -math.inf, math.inf, 0.0, -math.inf, -math.inf, math.inf])
    found = [np.repeat(start[:, None], table.n_night, axis=1)]
    for _, nights in own.pieces():
        def part(rows: slice):
            out = np.repeat(start[:, None], table.n_night, axis=1)
            _demands(table.hour_angle, nights.lon_rad[rows], nights.dusk[rows], nights.dawn[rows], nights.state[rows],
                     nights.judged[rows], dark_min, out)
            return out

        found += run_in_parts(part, nights.lon_rad.size)
    stack = np.stack(found)
    least = np.isin(np.arange(len(start)), (DUSK_DARK, DAWN_EXCESS, SHORTEST))[:, None]
    return np.where(least, stack.min(axis=0), stack.max(axis=0))


@kernel()
def _demands(e, lon_rad, dusk, dawn, state, judged, dark_min, out):
    for i in range(lon_rad.size):
        for k in range(dusk.shape[1]):
            if not judged[i, k]:
                continue
            now = state[i, k]
            if now == STAYS_ABOVE:
                out[UNLIT, k] = 1.0
                continue
            centre = (k + 1.0) * 1440.0
            noon = centre + 1440.0 * day_of_hour_angle(e, k, lon_rad[i], 0.0)
            next_noon = centre + 1440.0 * day_of_hour_angle(e, k, lon_rad[i], 2.0 * math.pi)
            from_noon = now == STAYS_BELOW or now == DAWN_ONLY
            to_noon = now == STAYS_BELOW or now == DUSK_ONLY
            begin = noon if from_noon else dusk[i, k]
            end = next_noon if to_noon else dawn[i, k]
            own = end - begin
            out[SHORTEST, k] = min(out[SHORTEST, k], own)
            if own > dark_min:
                out[DUSK_DARK, k] = min(out[DUSK_DARK, k], begin)
                out[DAWN_DARK, k] = max(out[DAWN_DARK, k], end)
            out[DUSK_EXCESS, k] = max(out[DUSK_EXCESS, k], begin)
            out[DAWN_EXCESS, k] = min(out[DAWN_EXCESS, k], end)
            if not from_noon:
                out[FROM_NOON, k] = max(out[FROM_NOON, k], begin - noon)
            if not to_noon:
                out[TO_NOON, k] = max(out[TO_NOON, k], next_noon - end)


@kernel()
def _lit_interval(e, lon_rad, dusk, dawn, state, begin, end):
    for i in range(lon_rad.size):
        for k in range(dusk.shape[1]):
            now, centre = state[i, k], (k + 1.0) * 1440.0
            begin[i, k], end[i, k] = dusk[i, k], dawn[i, k]
            if now == STAYS_ABOVE:
                begin[i, k] = end[i, k] = centre
            if now == STAYS_BELOW or now == DAWN_ONLY:
                begin[i, k] = centre + 1440.0 * day_of_hour_angle(e, k, lon_rad[i], 0.0)
            if now == STAYS_BELOW or now == DUSK_ONLY:
                end[i, k] = centre + 1440.0 * day_of_hour_angle(e, k, lon_rad[i], 2.0 * math.pi)


def room(bounds: KeyedBounds, demand: np.ndarray, dark_min: float, excess_min: float, limit_min: int,
         exact: np.ndarray) -> np.ndarray:
    """Whether each range may hold a setting that keeps every site within both limits.

    Parameters
    ----------
    bounds : KeyedBounds
    demand : (8, n_night) float64
        `demands` at the same `dark_min`.
    dark_min, excess_min : float [minute]
    limit_min : int
        Largest offset either way.
    exact : (m,) bool
        Ranges that are a single position.

    Returns
    -------
    (m, 6) float64
        Width of the widest interval of dusk shifts (negative: none, and that is sure), and in its middle the dawn offset
        minus the dusk offset and the dusk shift; then the least |dusk offset| + |dawn offset| of all settings that may
        do, their dusk offset and their dawn offset minus it. At a single position a shift is an offset.
    """
    out = np.empty((len(exact), 6))
    _room(bounds.times, bounds.state, bounds.half_min, demand, dark_min + _SAME_MIN, excess_min + _SAME_MIN, limit_min,
          exact, out)
    return out


@kernel()
def _room(times, state, half_min, demand, dark, excess, limit, exact, out):
    n_night = state.shape[1]
    unclear = np.empty(n_night, np.int64)
    for r in range(state.shape[0]):
        out[r, 0], out[r, 1], out[r, 2], out[r, 3], out[r, 4], out[r, 5] = -1.0, 0.0, 0.0, math.inf, 0.0, 0.0
        half = half_min[r]
        x_low, x_high = -limit - half, limit + half
        y_low, y_high = x_low, x_high
        gap_low, gap_high = -2.0 * limit, 2.0 * limit
        possible = True
        for k in range(n_night):
            key = state[r, k]
            if key == UNSURE:
                continue
            if key == STAYS_ABOVE:
                possible = possible and not demand[DUSK_DARK, k] < math.inf
                continue
            if demand[UNLIT, k] > 0.0:
                if key == CROSSES:
                    gap_high = min(gap_high, excess - times[r, 4, k])
                elif excess < _MOST_OF_A_DAY_MIN:
                    possible = False
            from_noon = key == STAYS_BELOW or key == DAWN_ONLY
            to_noon = key == STAYS_BELOW or key == DUSK_ONLY
            if not from_noon:
                x_high = min(x_high, demand[DUSK_DARK, k] + dark - times[r, 0, k])
            if not to_noon:
                y_low = max(y_low, demand[DAWN_DARK, k] - dark - times[r, 3, k])
            if key != CROSSES and excess < _MOST_OF_A_DAY_MIN:
                if from_noon:
                    possible = possible and not demand[FROM_NOON, k] > excess
                else:
                    x_low = max(x_low, demand[DUSK_EXCESS, k] - excess - times[r, 1, k])
                if to_noon:
                    possible = possible and not demand[TO_NOON, k] > excess
                else:
                    y_high = min(y_high, demand[DAWN_EXCESS, k] + excess - times[r, 2, k])
        gap_low = max(gap_low, math.ceil(y_low - x_high - 1e-7))
        if not possible or gap_low > gap_high or x_low > x_high + 1e-7 or y_low > y_high + 1e-7:
            continue
        # Excess is cut off at the length of what is given: on nights that are long enough at any gap it never is.
        n_unclear = 0
        for k in range(n_night):
            if state[r, k] != CROSSES:
                continue
            if times[r, 4, k] + gap_low > excess:
                x_low = max(x_low, demand[DUSK_EXCESS, k] - excess - times[r, 1, k])
                y_high = min(y_high, demand[DAWN_EXCESS, k] + excess - times[r, 2, k])
            elif times[r, 4, k] + gap_high > excess:
                unclear[n_unclear] = k
                n_unclear += 1
        gap_high = min(gap_high, y_high - x_low + 1e-7)
        gap = math.floor(gap_low)
        while gap <= gap_high:
            low, top = x_low, y_high
            for u in range(n_unclear):
                k = unclear[u]
                if times[r, 4, k] + gap > excess:
                    low = max(low, demand[DUSK_EXCESS, k] - excess - times[r, 1, k])
                    top = min(top, demand[DAWN_EXCESS, k] + excess - times[r, 2, k])
            low, high = max(low, y_low - gap), min(x_high, top - gap)
            if exact[r]:
                low, high = math.ceil(low - 1e-7), math.floor(high + 1e-7)
                low, high = max(low, -limit, -limit - gap), min(high, limit, limit - gap)
            if high >= low - 1e-7:
                if high - low > out[r, 0]:
                    out[r, 0], out[r, 1], out[r, 2] = max(high - low, 0.0), gap, math.floor(0.5 * (low + high))
                # |a| + |a + gap| is least, and flat, between 0 and -gap.
                first, last = max(low - half, min(0.0, -gap)), min(high + half, max(0.0, -gap))
                if first > last:
                    first = last = low - half if low - half > max(0.0, -gap) else high + half
                a = min(max(0.0, first), last)
                plain = abs(a) + abs(a + gap)
                if plain < out[r, 3] - 1e-9:
                    out[r, 3], out[r, 4], out[r, 5] = plain, a, gap
            gap += 1.0
