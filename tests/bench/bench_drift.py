"""Speed of the drift kernel against astral and pvlib, with the accuracy beside it. Ratios in one run.

    python tests/bench/bench_drift.py
"""

from __future__ import annotations

import datetime as dt
import resource
import sys
import time

import numpy as np
from astral import Observer, SunDirection
from astral.sun import time_of_transit

from geozone.numbers.sun import switch_times
from geozone.sharing.drift import setting_drift
from geozone.trade.setting import Setting

YEAR, ALTITUDE_DEG = 2027, -4.0
SETTING = Setting(-35.1, 141.0, "Australia/Adelaide")


def places(n, seed=1):
    rng = np.random.default_rng(seed)
    return rng.uniform(-38, -32, n), rng.uniform(136.5, 143.5, n)


def best_of(times, call):
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        taken.append(time.perf_counter() - start)
    return min(taken)


def drift_ns(n):
    lat, lon = places(n)
    call = lambda: setting_drift(lat_deg=lat, lon_deg=lon, setting=SETTING, year=YEAR, altitude_deg=ALTITUDE_DEG)
    setting_drift(lat_deg=lat[:300], lon_deg=lon[:300], setting=SETTING, year=YEAR, altitude_deg=ALTITUDE_DEG)
    return best_of(3, call) / (n * 730) * 1e9


def astral_ns_and_difference_s(count=400):
    lat, lon = places(count, seed=2)
    ours = switch_times(lat_deg=lat, lon_deg=lon, year=YEAR, altitude_deg=ALTITUDE_DEG)
    night = np.random.default_rng(3).integers(0, 365, count)
    zenith, found = 90.0 - ALTITUDE_DEG, []
    start = time.perf_counter()
    for i in range(count):
        # In Australia dusk falls on the UTC date of the night's own evening.
        day = dt.date(YEAR, 1, 1) + dt.timedelta(days=int(night[i]))
        found.append(time_of_transit(Observer(lat[i], lon[i]), day, zenith, SunDirection.SETTING, with_refraction=False))
    taken = time.perf_counter() - start
    epoch = dt.datetime(YEAR, 1, 1, tzinfo=dt.timezone.utc)
    minutes = np.array([(t - epoch).total_seconds() / 60.0 for t in found])
    difference = (minutes - ours.dusk_utc_min[np.arange(count), night]) * 60.0
    difference -= np.rint(difference / 86400.0) * 86400.0
    return taken / count * 1e9, np.abs(difference).max()


def pvlib_figures(sites=20):
    """pvlib's compiled SPA on the same cases, and its rise and set routine, which knows no threshold but sunset.

    The same cases need its positions and a root: secant from a mean dusk six hours after mean noon, until the step
    is below 0.1 s. Returns ns a switching time for both, and the largest difference of the former from ours [s].
    """
    spa = _with_numba()
    lat, lon = places(sites, seed=4)
    start_s = np.datetime64(f"{YEAR}-01-01", "s").astype(np.int64) + np.arange(365.0) * 86400.0
    ours = switch_times(lat_deg=lat, lon_deg=lon, year=YEAR, altitude_deg=ALTITUDE_DEG)

    def elevation(at, i):
        # Row 3: topocentric elevation without refraction.
        return spa.solar_position(at, lat[i], lon[i], 0.0, 0.0, 10.0, 69.2, 0.0, numthreads=1)[3]

    def dusk(i):
        a = start_s + (18.0 - lon[i] / 15.0) * 3600.0
        b = a + 1800.0
        fa, fb = elevation(a, i) - ALTITUDE_DEG, elevation(b, i) - ALTITUDE_DEG
        for _ in range(10):
            slope = np.where(fb == fa, np.inf, (fb - fa) / np.where(b == a, 1.0, b - a))  # settled days stay
            c = b - fb / slope
            if np.abs(c - b).max() < 0.1:
                return c
            a, fa, b, fb = b, fb, c, elevation(c, i) - ALTITUDE_DEG
        raise RuntimeError("the secant did not settle")

    dusk(0), spa.transit_sunrise_sunset(start_s, lat[0], lon[0], 69.2, 1)
    start = time.perf_counter()
    found = [dusk(i) for i in range(sites)]
    same = (time.perf_counter() - start) / (sites * 365) * 1e9
    start = time.perf_counter()
    for i in range(sites):
        spa.transit_sunrise_sunset(start_s, lat[i], lon[i], 69.2, 1)
    sunset = (time.perf_counter() - start) / (sites * 365 * 2) * 1e9
    worst = max(np.abs(found[i] - start_s[0] - ours.dusk_utc_min[i] * 60.0).max() for i in range(sites))
    return same, sunset, worst


def _with_numba():
    import importlib
    import os

    os.environ["PVLIB_USE_NUMBA"] = "1"
    import pvlib.spa

    return importlib.reload(pvlib.spa)


def main():
    ours = drift_ns(200_000)
    astral, astral_s = astral_ns_and_difference_s()
    pvlib, pvlib_sunset, pvlib_s = pvlib_figures()
    lat, lon = places(1_000_000, seed=6)
    start = time.perf_counter()
    setting_drift(lat_deg=lat, lon_deg=lon, setting=SETTING, year=YEAR, altitude_deg=ALTITUDE_DEG)
    million_s = time.perf_counter() - start
    peak_gb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"drift kernel, 200,000 sites x 730 switchings  {ours:8.2f} ns each")
    print(f"astral                                        {astral:8.0f} ns each, {astral / ours:,.0f} times ours; "
          f"largest difference {astral_s:.1f} s")
    print(f"pvlib SPA, compiled, same threshold           {pvlib:8.0f} ns each, {pvlib / ours:,.0f} times ours; "
          f"largest difference {pvlib_s:.1f} s")
    print(f"pvlib SPA, compiled, its own sunset           {pvlib_sunset:8.0f} ns each, {pvlib_sunset / ours:,.0f} times "
          "ours; another threshold, for information")
    print(f"drift of 1,000,000 sites                      {million_s:8.1f} s, peak {peak_gb:.2f} GB")
    failed = [text for ok, text in [
        (ours <= 6.0, "a switching time takes more than 6 ns"),
        (astral >= 5000 * ours, "less than 5,000 times faster than astral"),
        (pvlib >= 3000 * ours, "less than 3,000 times faster than pvlib"),
        (astral_s < 30.0, "astral disagrees"), (pvlib_s < 2.0, "pvlib disagrees"),
        (million_s <= 15.0, "a million sites take more than 15 s"), (peak_gb <= 3.0, "more than 3 GB"),
    ] if not ok]
    sys.exit("; ".join(failed) or 0)


if __name__ == "__main__":
    main()
