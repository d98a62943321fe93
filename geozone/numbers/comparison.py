"""Compiled comparison of what sites should have with what one setting gives them, reduced night by night.

Nothing of the size sites x nights is kept. A night's intended lit interval runs from the site's dusk to its dawn,
the delivered one from the keyed dusk to the keyed dawn; dark minutes are what is in the first and not in the second,
excess minutes the reverse, booked to the edge (dusk or dawn) where they arise.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from ..compiled import kernel
from .crossing import (
    _FASTMATH,
    BLOCK,
    CROSSES,
    DAWN_ONLY,
    DUSK_ONLY,
    STAYS_ABOVE,
    STAYS_BELOW,
    day_of_hour_angle,
    is_judged,
    load_block,
    night_block,
    surely_judged,
)

# Edge codes in `worst_code` = 3 * night + edge.
DUSK_EDGE, DAWN_EDGE, WHOLE_NIGHT = 0, 1, 2

# Columns of the reduced result.
(WORST_DARK, WORST_DARK_CODE, WORST_EXCESS, WORST_EXCESS_CODE, NIGHTS_BEYOND, DARK_SUM, EXCESS_SUM, NIGHTS_NOT_JUDGED,
 DARK_NOT_JUDGED, EXCESS_NOT_JUDGED) = range(10)
COLUMNS = 10
# `sin_deep` and `sin_clear` with which every night is judged.
EVERY_NIGHT = (2.0, -2.0)


@njit(error_model="numpy", nogil=True)
def lit_differences(state, dusk, dawn, noon, next_noon, key_state, key_dusk, key_dawn):
    """Dark and excess minutes of one night, whatever its state.

    A site that is below the threshold at noon is meant to be lit from that noon (or to the next); a site where the
    sun stays above is not meant to be lit at all. The same holds for what the setting delivers, and two that are
    both lit through a noon agree there.

    Returns (dark_dusk, excess_dusk, dark_dawn, excess_dawn, dark_night, excess_night) [minutes]; the last two are
    used when one of the two has no lit interval at all.
    """
    lit = state != STAYS_ABOVE
    key_lit = key_state != STAYS_ABOVE
    from_noon = state == STAYS_BELOW or state == DAWN_ONLY
    to_noon = state == STAYS_BELOW or state == DUSK_ONLY
    key_from_noon = key_state == STAYS_BELOW or key_state == DAWN_ONLY
    key_to_noon = key_state == STAYS_BELOW or key_state == DUSK_ONLY
    a0 = noon if from_noon else dusk
    a1 = next_noon if to_noon else dawn
    b0 = noon if key_from_noon else key_dusk
    b1 = next_noon if key_to_noon else key_dawn
    if not lit and not key_lit:
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    if not lit:
        return 0.0, 0.0, 0.0, 0.0, 0.0, max(b1 - b0, 0.0)
    if not key_lit:
        return 0.0, 0.0, 0.0, 0.0, max(a1 - a0, 0.0), 0.0
    own = max(a1 - a0, 0.0)
    given = max(b1 - b0, 0.0)
    return (min(max(b0 - a0, 0.0), own), min(max(a0 - b0, 0.0), given),
            min(max(a1 - b1, 0.0), own), min(max(b1 - a1, 0.0), given), 0.0, 0.0)


@njit(fastmath=_FASTMATH, error_model="numpy", nogil=True)
def _add_plain_night(k, dusk, dawn, key_dusk, key_dawn, dark_limit, excess_limit, out):
    """A night on which every site of the block and the setting cross: vector arithmetic only."""
    dusk_code = 3.0 * k + DUSK_EDGE
    dawn_code = 3.0 * k + DAWN_EDGE
    given = key_dawn - key_dusk
    for i in range(BLOCK):
        late_dusk = key_dusk - dusk[i]
        late_dawn = key_dawn - dawn[i]
        own = dawn[i] - dusk[i]
        dark_dusk = min(max(late_dusk, 0.0), own)
        dark_dawn = min(max(-late_dawn, 0.0), own)
        excess_dusk = min(max(-late_dusk, 0.0), given)
        excess_dawn = min(max(late_dawn, 0.0), given)
        dark = max(dark_dusk, dark_dawn)
        excess = max(excess_dusk, excess_dawn)
        dark_code = dusk_code if dark_dusk >= dark_dawn else dawn_code
        excess_code = dusk_code if excess_dusk >= excess_dawn else dawn_code
        out[1, i] = dark_code if dark > out[0, i] else out[1, i]
        out[0, i] = max(dark, out[0, i])
        out[3, i] = excess_code if excess > out[2, i] else out[3, i]
        out[2, i] = max(excess, out[2, i])
        out[4, i] += 1.0 if (dark > dark_limit) | (excess > excess_limit) else 0.0
        out[5, i] += dark_dusk + dark_dawn
        out[6, i] += excess_dusk + excess_dawn


@njit(error_model="numpy", nogil=True)
def _raise_worst(out, i, value_row, value, code):
    if value > out[value_row, i]:
        out[value_row, i] = value
        out[value_row + 1, i] = code


@njit(error_model="numpy", nogil=True)
def _add_other_night(e, s, k, sin_lat, cos_lat, lon, state, dusk, dawn, key_state, key_dusk, key_dawn, dark_limit,
                     excess_limit, doubtful, sin_deep, sin_clear, out):
    """Any night; `doubtful` if some site of the block may not be judged on it."""
    centre = (k + 1.0) * 1440.0
    for i in range(BLOCK):
        noon = centre + 1440.0 * day_of_hour_angle(e, k, lon[i], 0.0)
        next_noon = centre + 1440.0 * day_of_hour_angle(e, k, lon[i], 2.0 * math.pi)
        dark_dusk, excess_dusk, dark_dawn, excess_dawn, dark_night, excess_night = lit_differences(
            state[i], dusk[i], dawn[i], noon, next_noon, key_state, key_dusk, key_dawn)
        dark, excess = dark_dusk + dark_dawn + dark_night, excess_dusk + excess_dawn + excess_night
        out[5, i] += dark
        out[6, i] += excess
        if doubtful and not is_judged(e, s, k, sin_lat[i], cos_lat[i], lon[i], sin_deep, sin_clear):
            out[7, i] += 1.0
            out[8, i] += dark
            out[9, i] += excess
            continue
        _raise_worst(out, i, 0, dark_dusk, 3.0 * k + DUSK_EDGE)
        _raise_worst(out, i, 0, dark_dawn, 3.0 * k + DAWN_EDGE)
        _raise_worst(out, i, 0, dark_night, 3.0 * k + WHOLE_NIGHT)
        _raise_worst(out, i, 2, excess_dusk, 3.0 * k + DUSK_EDGE)
        _raise_worst(out, i, 2, excess_dawn, 3.0 * k + DAWN_EDGE)
        _raise_worst(out, i, 2, excess_night, 3.0 * k + WHOLE_NIGHT)
        if (max(dark_dusk, dark_dawn, dark_night) > dark_limit
                or max(excess_dusk, excess_dawn, excess_night) > excess_limit):
            out[4, i] += 1.0


@njit(error_model="numpy", nogil=True)
def _reach(lat_rad, first, stop):
    south, north = lat_rad[first], lat_rad[first]
    for i in range(first + 1, stop):
        south, north = min(south, lat_rad[i]), max(north, lat_rad[i])
    return south, north


@kernel()
def compare(e, s, lat_rad, lon_rad, sin_h, key_dusk, key_dawn, key_state, dark_limit, excess_limit, sin_deep, sin_clear,
            result):
    """Reduce a year's comparison to ten numbers a site.

    Parameters
    ----------
    e, s : (n_night, 5) float64
        The almanac.
    lat_rad, lon_rad : (n,) float64 [radian]
    sin_h : float
    key_dusk, key_dawn : (n_night,) float64
        When the switches act [minutes since 1 January 00:00 UTC], offsets and clock differences included.
    key_state : (n_night,) int8
    dark_limit, excess_limit : float [minute]
    sin_deep, sin_clear : float
        As `shallow.limits` gives them; `EVERY_NIGHT` to judge all.
    result : (10, n) float64, written
        Rows as named by the constants above; a code is -1 where nothing was ever dark (or in excess). The worst and
        the nights beyond are over judged nights, the sums over all.
    """
    n = lat_rad.size
    sin_lat, cos_lat, lon = np.empty(BLOCK), np.empty(BLOCK), np.empty(BLOCK)
    past = np.empty((7, BLOCK))
    dusk, dawn, state = np.empty(BLOCK), np.empty(BLOCK), np.zeros(BLOCK, np.int8)
    out = np.empty((10, BLOCK))
    some = sin_deep <= 1.0 or sin_clear >= -1.0
    for first in range(0, n, BLOCK):
        stop = min(first + BLOCK, n)
        load_block(e, s, sin_h, first, stop, lat_rad, lon_rad, sin_lat, cos_lat, lon, past)
        out[:, :] = 0.0
        out[1, :] = -1.0
        out[3, :] = -1.0
        south, north = _reach(lat_rad, first, stop)
        for k in range(e.shape[0]):
            other = night_block(e, s, k, sin_lat, cos_lat, lon, sin_h, past, dusk, dawn, state)
            doubtful = some and not surely_judged(s, k, south, north, sin_deep, sin_clear)
            if other == 0 and key_state[k] == CROSSES and not doubtful:
                _add_plain_night(k, dusk, dawn, key_dusk[k], key_dawn[k], dark_limit, excess_limit, out)
            else:
                if other == 0:
                    state[:] = CROSSES
                _add_other_night(e, s, k, sin_lat, cos_lat, lon, state, dusk, dawn, key_state[k], key_dusk[k],
                                 key_dawn[k], dark_limit, excess_limit, doubtful, sin_deep, sin_clear, out)
        for row in range(10):
            for i in range(stop - first):
                result[row, first + i] = out[row, i]


@kernel()
def envelope(e, s, lat_rad, lon_rad, sin_h, sin_deep, sin_clear, result):
    """Earliest and latest dusk and dawn over the sites, night by night. A site takes part on its judged nights.

    Parameters
    ----------
    sin_deep, sin_clear : float
        As `shallow.limits` gives them; `EVERY_NIGHT` to judge all.
    result : (5, n_night) float64, written
        Earliest dusk, latest dusk, earliest dawn, latest dawn [minutes since 1 January 00:00 UTC]; infinite where
        no site crosses. Row 4: how many sites have no full night (any state other than CROSSES) and are judged.
    """
    n = lat_rad.size
    sin_lat, cos_lat, lon = np.empty(BLOCK), np.empty(BLOCK), np.empty(BLOCK)
    past = np.empty((7, BLOCK))
    dusk, dawn, state = np.empty(BLOCK), np.empty(BLOCK), np.zeros(BLOCK, np.int8)
    result[0, :] = math.inf
    result[1, :] = -math.inf
    result[2, :] = math.inf
    result[3, :] = -math.inf
    result[4, :] = 0.0
    some = sin_deep <= 1.0 or sin_clear >= -1.0
    for first in range(0, n, BLOCK):
        stop = min(first + BLOCK, n)
        load_block(e, s, sin_h, first, stop, lat_rad, lon_rad, sin_lat, cos_lat, lon, past)
        south, north = _reach(lat_rad, first, stop)
        for k in range(e.shape[0]):
            other = night_block(e, s, k, sin_lat, cos_lat, lon, sin_h, past, dusk, dawn, state)
            if some and not surely_judged(s, k, south, north, sin_deep, sin_clear):
                for i in range(stop - first):
                    if not is_judged(e, s, k, sin_lat[i], cos_lat[i], lon[i], sin_deep, sin_clear):
                        dusk[i], dawn[i] = math.nan, math.nan
                        if other:
                            state[i] = CROSSES
            dusk_min, dusk_max, dawn_min, dawn_max = math.inf, -math.inf, math.inf, -math.inf
            for i in range(stop - first):
                # Comparisons with NaN are false, so nights without a crossing leave the extremes alone.
                dusk_min = dusk[i] if dusk[i] < dusk_min else dusk_min
                dusk_max = dusk[i] if dusk[i] > dusk_max else dusk_max
                dawn_min = dawn[i] if dawn[i] < dawn_min else dawn_min
                dawn_max = dawn[i] if dawn[i] > dawn_max else dawn_max
            result[0, k] = min(result[0, k], dusk_min)
            result[1, k] = max(result[1, k], dusk_max)
            result[2, k] = min(result[2, k], dawn_min)
            result[3, k] = max(result[3, k], dawn_max)
            if other:
                for i in range(stop - first):
                    if state[i] != CROSSES:
                        result[4, k] += 1.0
