"""When the sun crosses the dark threshold: the compiled kernel over blocks of sites.

Sites run in the innermost loop, in blocks of a fixed length, so that the compiler turns the arithmetic into
vector instructions. Each night starts from the hour angle that the last three nights lead one to expect; one pass
then leaves an error below a millisecond. Where that expectation fails (the sun grazes the threshold, the first
night, high latitudes) a careful scalar routine takes over. No site x night array exists unless a caller makes one.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from ..compiled import kernel

BLOCK = 256

# States of a night; also the values of the public `State` in sun.py.
CROSSES, STAYS_ABOVE, STAYS_BELOW, DUSK_ONLY, DAWN_ONLY = 0, 1, -1, 2, 3

_TAU = 2.0 * math.pi
_MIN_PER_DAY = 1440.0
# One pass of the fixed-point iteration shrinks an error in hour angle by dH/dt per turn, which is the change of H
# from night to night divided by 2 pi. So (error of the expectation) x (nightly change) / 2 pi is what is left:
# 1e-6 keeps it below 1.6e-7 rad, or 2 ms of time. Whatever fails this goes to the careful routine.
_LEFT_OVER = 1.0e-6
# Within 1.1 deg of a pole the declination competes with the turning of the Earth.
_POLE_COS = 0.02
# Declination moves by at most 0.4 deg a day; noons and midnights lie within 2 days of a night's centre.
_DEC_MOVES = 0.02
_FASTMATH = {"contract", "reassoc", "arcp", "nsz", "afn"}  # no nnan: NaN means "no expectation yet"


@njit(inline="always", fastmath=_FASTMATH, error_model="numpy")
def _arccos(c):
    """Arc cosine within 2e-8 rad (0.3 ms of time). Abramowitz & Stegun 4.4.46."""
    a = abs(c)
    p = -0.0012624911
    p = p * a + 0.0066700901
    p = p * a - 0.0170881256
    p = p * a + 0.0308918810
    p = p * a - 0.0501743046
    p = p * a + 0.0889789874
    p = p * a - 0.2145988016
    p = p * a + 1.5707963050
    r = math.sqrt(1.0 - a) * p
    return r if c >= 0.0 else math.pi - r


@njit(inline="always", fastmath=_FASTMATH, error_model="numpy")
def _poly(c, k, x):
    return c[k, 0] + x * (c[k, 1] + x * (c[k, 2] + x * (c[k, 3] + x * c[k, 4])))


@njit(error_model="numpy", nogil=True)
def _sin_altitude(e, s, k, x, sin_lat, cos_lat, lon):
    sin_dec = _poly(s, k, x)
    hour_angle = _TAU * x + _poly(e, k, x) + lon
    return sin_lat * sin_dec + cos_lat * math.sqrt(1.0 - sin_dec * sin_dec) * math.cos(hour_angle)


@njit(error_model="numpy", nogil=True)
def day_of_hour_angle(e, k, lon, hour_angle):
    x = (hour_angle - lon - e[k, 0]) / _TAU
    for _ in range(3):
        x = (hour_angle - lon - _poly(e, k, x)) / _TAU
    return x


@njit(error_model="numpy", nogil=True)
def is_judged(e, s, k, sin_lat, cos_lat, lon, sin_deep, sin_clear):
    """Whether the sun passes the threshold far enough in night k: see `shallow.judged_nights`.

    At the site's midnight it must be no higher than `sin_deep`, at the noons before and after no lower than `sin_clear`
    (sines of geocentric altitudes).
    """
    sin_dec = _poly(s, k, day_of_hour_angle(e, k, lon, math.pi))
    if sin_lat * sin_dec - cos_lat * math.sqrt(1.0 - sin_dec * sin_dec) > sin_deep:
        return False
    for turn in range(2):
        sin_dec = _poly(s, k, day_of_hour_angle(e, k, lon, turn * _TAU))
        if sin_lat * sin_dec + cos_lat * math.sqrt(1.0 - sin_dec * sin_dec) < sin_clear:
            return False
    return True


@njit(error_model="numpy", nogil=True)
def surely_judged(s, k, south_rad, north_rad, sin_deep, sin_clear):
    """Whether night k is judged at every place between two latitudes, whatever its longitude; cheap and cautious."""
    dec = math.asin(s[k, 0])
    lower = max(abs(south_rad + dec), abs(north_rad + dec)) + _DEC_MOVES
    upper = max(abs(south_rad - dec), abs(north_rad - dec)) + _DEC_MOVES
    return lower < math.pi and upper < math.pi and -math.cos(lower) <= sin_deep and math.cos(upper) >= sin_clear


@njit(error_model="numpy", nogil=True)
def _root(e, s, k, sin_lat, cos_lat, lon, sin_h, a, b):
    """The crossing between a and b [day], whose altitudes lie on either side of the threshold."""
    fa = _sin_altitude(e, s, k, a, sin_lat, cos_lat, lon) - sin_h
    fb = _sin_altitude(e, s, k, b, sin_lat, cos_lat, lon) - sin_h
    side = 0
    for _ in range(60):
        m = (a * fb - b * fa) / (fb - fa)  # regula falsi, Illinois variant
        fm = _sin_altitude(e, s, k, m, sin_lat, cos_lat, lon) - sin_h
        if fm * fb > 0.0:
            b, fb = m, fm
            if side == -1:
                fa *= 0.5
            side = -1
        else:
            a, fa = m, fm
            if side == 1:
                fb *= 0.5
            side = 1
        if abs(b - a) < 1e-10 or abs(fm) < 1e-13:
            break
    return (a * fb - b * fa) / (fb - fa) if fb != fa else m


@njit(error_model="numpy", nogil=True)
def _clear(s, k):
    """How far a midnight or noon must be from the threshold to settle whether the sun crosses it, as a sine.

    Within half a night the sun gets no lower than the midnight of its declination there, and |change of altitude| is at most
    |change of declination|: half a night times the fastest it moves in night k, over the least cosine of a declination.
    """
    fastest = abs(s[k, 1]) + 4.0 * abs(s[k, 2]) + 12.0 * abs(s[k, 3]) + 32.0 * abs(s[k, 4])
    return 0.52 / 0.917 * fastest + 1e-6


@njit(error_model="numpy", nogil=True)
def careful_night(e, s, k, sin_lat, cos_lat, lon, sin_h):
    """Dusk and dawn of one night at one place with no assumption about how the sun crosses.

    Returns (x_dusk, x_dawn, state): days from the night's centre, NaN where there is no crossing.
    """
    noon = day_of_hour_angle(e, k, lon, 0.0)
    midnight = day_of_hour_angle(e, k, lon, math.pi)
    next_noon = day_of_hour_angle(e, k, lon, _TAU)
    f0 = _sin_altitude(e, s, k, noon, sin_lat, cos_lat, lon) - sin_h
    f1 = _sin_altitude(e, s, k, midnight, sin_lat, cos_lat, lon) - sin_h
    f2 = _sin_altitude(e, s, k, next_noon, sin_lat, cos_lat, lon) - sin_h
    if cos_lat > _POLE_COS:
        clear = _clear(s, k)
        if f1 > clear and f0 > 0.0 and f2 > 0.0:
            return math.nan, math.nan, STAYS_ABOVE
        if f0 < -clear and f2 < -clear and f1 < 0.0:
            return math.nan, math.nan, STAYS_BELOW
        if f1 < 0.0 and f0 > 0.0 and f2 > 0.0:
            return (_root(e, s, k, sin_lat, cos_lat, lon, sin_h, noon, midnight),
                    _root(e, s, k, sin_lat, cos_lat, lon, sin_h, midnight, next_noon), CROSSES)
    # Grazing, or so near a pole that declination competes with the turning of the Earth: walk through the night.
    # The lowest point may lie off the anti-transit; it is found and put among the steps.
    steps = 96
    lowest, f_lowest = noon, f0
    for i in range(steps + 1):
        x = noon + (next_noon - noon) * i / steps
        f = _sin_altitude(e, s, k, x, sin_lat, cos_lat, lon) - sin_h
        if f < f_lowest:
            lowest, f_lowest = x, f
    width = (next_noon - noon) / steps
    left, right = max(noon, lowest - width), min(next_noon, lowest + width)
    for _ in range(40):
        third = (right - left) / 3.0
        if (_sin_altitude(e, s, k, left + third, sin_lat, cos_lat, lon)
                < _sin_altitude(e, s, k, right - third, sin_lat, cos_lat, lon)):
            right -= third
        else:
            left += third
    lowest = 0.5 * (left + right)
    dusk = math.nan
    dawn = math.nan
    x_before, f_before = noon, f0
    placed = False
    i = 1
    while i <= steps:
        x = noon + (next_noon - noon) * i / steps
        if not placed and lowest <= x:
            placed = True
            if x_before < lowest < x:
                x = lowest
                i -= 1
        f = _sin_altitude(e, s, k, x, sin_lat, cos_lat, lon) - sin_h
        if f_before >= 0.0 and f < 0.0 and math.isnan(dusk):
            dusk = _root(e, s, k, sin_lat, cos_lat, lon, sin_h, x_before, x)
        if f_before < 0.0 and f >= 0.0:
            dawn = _root(e, s, k, sin_lat, cos_lat, lon, sin_h, x_before, x)
        x_before, f_before = x, f
        i += 1
    if math.isnan(dusk):
        if math.isnan(dawn):
            return dusk, dawn, STAYS_BELOW if f_before < 0.0 else STAYS_ABOVE
        return dusk, dawn, DAWN_ONLY
    return dusk, dawn, DUSK_ONLY if math.isnan(dawn) else CROSSES


@kernel(fastmath=_FASTMATH)
def night_block(e, s, k, sin_lat, cos_lat, lon, sin_h, past, dusk, dawn, state):
    """Dusk and dawn of night k for one block of sites.

    Parameters
    ----------
    e, s : (n_night, 5) float64
        `Almanac.hour_angle` and `Almanac.sin_declination`.
    k : int
    sin_lat, cos_lat, lon : (BLOCK,) float64 [1, 1, radian]
    sin_h : float
        Sine of the geocentric threshold altitude.
    past : (7, BLOCK) float64
        Hour angles of dusk one, two and three nights ago, then of dawn [radian], NaN at the start; updated.
        The last row is scratch.
    dusk, dawn : (BLOCK,) float64, written
        Minutes since 1 January 00:00 UTC; NaN where there is no crossing.
    state : (BLOCK,) int8, written unless 0 is returned

    Returns
    -------
    int
        How many sites of the block have a state other than CROSSES; at 0 `state` may be stale and all cross.
    """
    centre = (k + 1.0) * _MIN_PER_DAY
    e0, e1, e2, e3, e4 = e[k, 0], e[k, 1], e[k, 2], e[k, 3], e[k, 4]
    s0, s1, s2, s3, s4 = s[k, 0], s[k, 1], s[k, 2], s[k, 3], s[k, 4]
    to_day = 1.0 / (_TAU + e1)
    unexpected = 0.0
    for i in range(BLOCK):
        h_dusk = 3.0 * (past[0, i] - past[1, i]) + past[2, i]
        h_dawn = 3.0 * (past[3, i] - past[4, i]) + past[5, i]
        inv_cos = 1.0 / cos_lat[i]
        tan_lat = sin_lat[i] * inv_cos
        from_h = sin_h * inv_cos

        x = (h_dusk - lon[i] - e0) * to_day
        angle = _TAU * x + e0 + x * (e1 + x * (e2 + x * (e3 + x * e4))) + lon[i]
        sd = s0 + x * (s1 + x * (s2 + x * (s3 + x * s4)))
        cos_h = (from_h - tan_lat * sd) / math.sqrt(1.0 - sd * sd)
        cos_h = cos_h if abs(cos_h) <= 1.0 else math.nan
        new_dusk = _arccos(cos_h)
        dusk[i] = centre + (x + (new_dusk - angle) * to_day) * _MIN_PER_DAY

        x = (_TAU - h_dawn - lon[i] - e0) * to_day
        angle = _TAU * x + e0 + x * (e1 + x * (e2 + x * (e3 + x * e4))) + lon[i]
        sd = s0 + x * (s1 + x * (s2 + x * (s3 + x * s4)))
        cos_h = (from_h - tan_lat * sd) / math.sqrt(1.0 - sd * sd)
        cos_h = cos_h if abs(cos_h) <= 1.0 else math.nan
        new_dawn = _arccos(cos_h)
        dawn[i] = centre + (x + (_TAU - new_dawn - angle) * to_day) * _MIN_PER_DAY

        left_dusk = abs(new_dusk - h_dusk) * abs(new_dusk - past[0, i])
        left_dawn = abs(new_dawn - h_dawn) * abs(new_dawn - past[3, i])
        past[2, i] = past[1, i]
        past[1, i] = past[0, i]
        past[0, i] = new_dusk
        past[5, i] = past[4, i]
        past[4, i] = past[3, i]
        past[3, i] = new_dawn
        surprise = 0.0 if (left_dusk < _LEFT_OVER) & (left_dawn < _LEFT_OVER) & (cos_lat[i] > _POLE_COS) else 1.0
        past[6, i] = surprise
        unexpected += surprise
    if unexpected == 0.0:
        return 0
    other = 0
    for i in range(BLOCK):
        state[i] = CROSSES
        if past[6, i] != 0.0:
            if i > 0 and lon[i] == lon[i - 1] and sin_lat[i] == sin_lat[i - 1] and past[6, i - 1] != 0.0:
                # The same place again, as where a block is filled up: the careful way costs a hundred times as much.
                dusk[i], dawn[i], state[i] = dusk[i - 1], dawn[i - 1], state[i - 1]
                past[0, i], past[3, i] = past[0, i - 1], past[3, i - 1]
                if state[i] != CROSSES:
                    other += 1
                continue
            x_dusk, x_dawn, state[i] = careful_night(e, s, k, sin_lat[i], cos_lat[i], lon[i], sin_h)
            dusk[i] = centre + x_dusk * _MIN_PER_DAY
            dawn[i] = centre + x_dawn * _MIN_PER_DAY
            past[0, i] = _TAU * x_dusk + _poly(e, k, x_dusk) + lon[i]
            past[3, i] = _TAU - (_TAU * x_dawn + _poly(e, k, x_dawn) + lon[i])
            if state[i] != CROSSES:
                other += 1
    return other


@kernel(fastmath=_FASTMATH)
def load_block(e, s, sin_h, first, stop, lat_rad, lon_rad, sin_lat, cos_lat, lon, past):
    """Fill the block's site arrays from sites `first` to `stop`, repeating the last one to the block's end.

    Every block is full, so that a site is computed by the same instructions wherever it stands in the list.
    `past` is set to what the three nights before the year would have had, from the first night's quartics carried
    back. These are expectations only: `night_block` checks what it makes of them.
    """
    for i in range(BLOCK):
        j = min(first + i, stop - 1)
        sin_lat[i] = math.sin(lat_rad[j])
        cos_lat[i] = max(math.cos(lat_rad[j]), 1e-12)
        lon[i] = lon_rad[j]
    for ago in range(1, 4):
        for edge in range(2):
            sign = 1.0 - 2.0 * edge
            row = 3 * edge + ago - 1
            for i in range(BLOCK):
                h = 0.5 * math.pi
                for _ in range(4):
                    x = (sign * h + edge * _TAU - lon[i] - e[0, 0]) / _TAU - ago
                    sd = _poly(s, 0, x)
                    cos_h = (sin_h - sin_lat[i] * sd) / (cos_lat[i] * math.sqrt(1.0 - sd * sd))
                    h = _arccos(cos_h if abs(cos_h) <= 1.0 else math.nan)
                past[row, i] = h


@kernel()
def all_times(e, s, lat_rad, lon_rad, sin_h, dusk_utc_min, dawn_utc_min, state):
    """Write dusk, dawn and state of every site and night: (n, n_night) arrays."""
    n, n_night = dusk_utc_min.shape
    sin_lat, cos_lat, lon = np.empty(BLOCK), np.empty(BLOCK), np.empty(BLOCK)
    past = np.empty((7, BLOCK))
    dusk, dawn, block_state = np.empty(BLOCK), np.empty(BLOCK), np.zeros(BLOCK, np.int8)
    for first in range(0, n, BLOCK):
        stop = min(first + BLOCK, n)
        load_block(e, s, sin_h, first, stop, lat_rad, lon_rad, sin_lat, cos_lat, lon, past)
        for k in range(n_night):
            other = night_block(e, s, k, sin_lat, cos_lat, lon, sin_h, past, dusk, dawn, block_state)
            for i in range(stop - first):
                dusk_utc_min[first + i, k] = dusk[i]
                dawn_utc_min[first + i, k] = dawn[i]
                state[first + i, k] = block_state[i] if other else CROSSES
