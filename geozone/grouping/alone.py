"""The best setting for a few sites that must share one, judged night by night and not by yearly extremes.

On nights without dusk, or so short that their length caps what can go wrong, extremes say too little or too much. But with
the position held, every kind of dark minutes grows as dusk moves later or dawn earlier, and every kind of excess falls.
So for a given amount of dark the latest dusk offset and the earliest dawn offset that keep it are the best there are, and
walking along them finds the least factor.
"""

from __future__ import annotations

import numpy as np

from ..compiled import kernel
from ..numbers.almanac import almanac
from ..numbers.comparison import lit_differences
from ..numbers.crossing import CROSSES, DAWN_ONLY, DUSK_ONLY, STAYS_ABOVE, STAYS_BELOW, day_of_hour_angle
from ..numbers.shallow import judged_nights
from ..numbers.sun import switch_times
from ..trade.setting import Setting

# Keyed longitudes that are tried, east and west of the sites' middle; more where offsets cannot shift dusk and dawn instead.
_LON_DEG, _LON_ALONE_DEG, _FREE_MIN = 1.0, 4.0, 10
_LAT_DEG = 6.0


def best_alone(shifts, row: int, legal_zone: str, enough: float = 0.0):
    """The setting with the smallest worst drift for one row, keyed near its middle.

    Parameters
    ----------
    shifts : AllowedShifts
    row : int
    legal_zone : str
    enough : float
        Stop at the first latitude at which the factor is no larger than this.

    Returns
    -------
    (Setting, float)
        The setting and its factor on the tolerances.
    """
    mine = np.flatnonzero(shifts.unit == row)
    lat, lon = shifts.lat_deg[mine], shifts.lon_deg[mine]
    keypad, limit, tolerance = shifts.lattice.keypad, shifts.lattice.limit_min, shifts.tolerance
    years = shifts.basis.years
    table = almanac(shifts.year, years)
    own = switch_times(lat_deg=lat, lon_deg=lon, year=shifts.year, altitude_deg=shifts.altitude_deg, years=years)
    judged = judged_nights(lat, lon, shifts.year, shifts.altitude_deg, tolerance.shallow_deg, years)
    sites = (table.hour_angle, np.radians(lon), own.state, own.dusk_utc_min, own.dawn_utc_min, judged, *_plain_nights(own, judged))
    step = keypad.coordinate_step_deg
    reach = max(1, int(np.ceil((_LON_DEG if limit >= _FREE_MIN else _LON_ALONE_DEG) / step)))
    # On the keypad first: half way between two of its steps, rounding each sum would leave steps out.
    middle_lat, middle_lon = (keypad.round_deg(0.5 * (one.min() + one.max())) for one in (lat, lon))
    # Nearest first, so that a good factor is known early and ties go to the near one.
    lons = keypad.round_deg(middle_lon + step * np.array(sorted(range(-reach, reach + 1), key=lambda i: (abs(i), i))))
    wide = max(1, int(np.ceil((_LAT_DEG + lat.max() - lat.min()) / step)))
    idle, best, found = [0, 0], np.inf, None
    for ring in range(wide + 1):
        for side in (0, 1) if ring else (0,):
            key_lat = float(keypad.round_deg(middle_lat + (1 - 2 * side) * ring * step))
            if abs(key_lat) > 90.0 or idle[side] > 3:
                continue
            key = switch_times(lat_deg=np.full(lons.size, key_lat), lon_deg=lons, year=shifts.year, altitude_deg=shifts.altitude_deg, years=years)
            factor, which, dusk, dawn = _least_factor(*sites, key.state, key.dusk_utc_min, key.dawn_utc_min, limit,
                                                      tolerance.dark_min, tolerance.excess_min, best)
            if which >= 0:
                key_lon = round((float(lons[which]) + 180.0) % 360.0 - 180.0, 9)
                best, found = factor, Setting(key_lat, key_lon, legal_zone, dusk, dawn)
                idle = [0, 0]
            else:
                # Farther latitudes differ more all year: three in a row that are worse end the walk on that side.
                idle[side] += 1 if ring * step > 0.3 and found is not None else 0
        if best <= enough:
            break
    return found, best


def _plain_nights(own, judged) -> tuple[np.ndarray, np.ndarray]:
    """Nights on which all judged sites have dusk and dawn, of which only the extremes then count.

    Returns
    -------
    plain : (n_night,) bool
    extremes : (5, n_night) float64 [UTC minutes of the year; minute]
        Earliest and latest dusk, earliest and latest dawn, shortest night.
    """
    plain = judged.any(axis=0) & ((own.state == CROSSES) | ~judged).all(axis=0)
    dusk, dawn = (np.where(judged & plain, times, np.nan)[:, plain] for times in (own.dusk_utc_min, own.dawn_utc_min))
    extremes = np.full((5, plain.size), np.nan)
    if plain.any():
        extremes[:, plain] = [np.nanmin(dusk, axis=0), np.nanmax(dusk, axis=0), np.nanmin(dawn, axis=0), np.nanmax(dawn, axis=0),
                              np.nanmin(dawn - dusk, axis=0)]
    return plain, extremes


@kernel()
def _worst(e, lon, state, dusk, dawn, judged, plain, extremes, key_state, key_dusk, key_dawn, a, b):
    """(dark at dusk, dark at dawn, dark whatever the offsets, excess) [minute]: the most over sites and judged nights."""
    late, early, fixed, excess = 0.0, 0.0, 0.0, 0.0
    for k in range(state.shape[1]):
        if plain[k] and key_state[k] == CROSSES:
            b0, b1 = key_dusk[k] + a, key_dawn[k] + b
            latest, earliest = max(b0 - extremes[0, k], 0.0), max(extremes[3, k] - b1, 0.0)
            # As long as no site's whole night is dark, and it is never more than its night, the extremes tell all.
            if latest <= extremes[4, k] and earliest <= extremes[4, k]:
                given = max(b1 - b0, 0.0)
                late, early = max(late, latest), max(early, earliest)
                excess = max(excess, min(max(extremes[1, k] - b0, 0.0), given), min(max(b1 - extremes[2, k], 0.0), given))
                continue
        for i in range(state.shape[0]):
            if not judged[i, k]:
                continue
            if state[i, k] == CROSSES and key_state[k] == CROSSES:
                b0, b1 = key_dusk[k] + a, key_dawn[k] + b
                own, given = dawn[i, k] - dusk[i, k], max(b1 - b0, 0.0)
                late = max(late, min(max(b0 - dusk[i, k], 0.0), own))
                early = max(early, min(max(dawn[i, k] - b1, 0.0), own))
                excess = max(excess, min(max(dusk[i, k] - b0, 0.0), given), min(max(b1 - dawn[i, k], 0.0), given))
                continue
            centre = (k + 1.0) * 1440.0
            noon = centre + 1440.0 * day_of_hour_angle(e, k, lon[i], 0.0)
            next_noon = centre + 1440.0 * day_of_hour_angle(e, k, lon[i], 2.0 * np.pi)
            dark_dusk, excess_dusk, dark_dawn, excess_dawn, dark_night, excess_night = lit_differences(
                state[i, k], dusk[i, k], dawn[i, k], noon, next_noon, key_state[k], key_dusk[k] + a, key_dawn[k] + b)
            late, early, fixed = max(late, dark_dusk), max(early, dark_dawn), max(fixed, dark_night)
            excess = max(excess, excess_dusk, excess_dawn, excess_night)
    return late, early, fixed, excess


@kernel()
def _least_factor(e, lon, state, dusk, dawn, judged, plain, extremes, key_states, key_dusks, key_dawns, limit, dark_min, excess_min, below):
    """The least factor over keyed positions and whole-minute offsets if it is less than `below`: (factor, which, a, b)."""
    best, which, best_a, best_b = below, -1, 0, 0
    for p in range(key_states.shape[0]):
        key_state, key_dusk, key_dawn = key_states[p], key_dusks[p], key_dawns[p]
        # The latest dusk and the earliest dawn that leave no dark minute: others that leave none only give more excess.
        # `most_a` and `most_b` are where every further minute of dark is too many: a whole night's dark is no more than the night.
        a, b, most_a, most_b, room = limit, -limit, limit, -limit, best * dark_min
        for k in range(state.shape[1]):
            if plain[k] and key_state[k] == CROSSES:
                a = min(a, int(np.floor(extremes[0, k] - key_dusk[k])))
                b = max(b, int(np.ceil(extremes[3, k] - key_dawn[k])))
                if extremes[4, k] >= room:
                    most_a = min(most_a, int(np.ceil(extremes[0, k] + room - key_dusk[k])))
                    most_b = max(most_b, int(np.floor(extremes[3, k] - room - key_dawn[k])))
                continue
            for i in range(state.shape[0]):
                if judged[i, k] and state[i, k] != STAYS_ABOVE and key_state[k] != STAYS_ABOVE:
                    if not (key_state[k] == STAYS_BELOW or key_state[k] == DAWN_ONLY):
                        crosses = state[i, k] == CROSSES or state[i, k] == DUSK_ONLY
                        a = min(a, int(np.floor(dusk[i, k] - key_dusk[k])) if crosses else -limit)
                    if not (key_state[k] == STAYS_BELOW or key_state[k] == DUSK_ONLY):
                        crosses = state[i, k] == CROSSES or state[i, k] == DAWN_ONLY
                        b = max(b, int(np.ceil(dawn[i, k] - key_dawn[k])) if crosses else limit)
        a, b = max(a, -limit), min(b, limit)
        least = _worst(e, lon, state, dusk, dawn, judged, plain, extremes, key_state, key_dusk, key_dawn, max(a, most_a), min(b, most_b))[3]
        if least / excess_min >= best:
            continue
        late, early, fixed, excess = _worst(e, lon, state, dusk, dawn, judged, plain, extremes, key_state, key_dusk, key_dawn, a, b)
        while True:
            dark = max(late, early, fixed) / dark_min
            factor = max(dark, excess / excess_min)
            if factor < best - 1e-9:
                best, which, best_a, best_b = factor, p, a, b
            if dark >= best - 1e-9 or excess / excess_min <= dark:
                break
            # One minute more of dark, where it costs less: only that can lower the excess.
            later = _worst(e, lon, state, dusk, dawn, judged, plain, extremes, key_state, key_dusk, key_dawn, a + 1, b)
            earlier = _worst(e, lon, state, dusk, dawn, judged, plain, extremes, key_state, key_dusk, key_dawn, a, b - 1)
            if a < limit and (b <= -limit or later[0] < earlier[1] or (later[0] == earlier[1] and later[3] <= earlier[3])):
                a += 1
                late, early, fixed, excess = later
            elif b > -limit:
                b -= 1
                late, early, fixed, excess = earlier
            else:
                break
    return best, which, best_a, best_b
