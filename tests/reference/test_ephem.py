"""The altitude of PyEphem's sun (VSOP87 in libastro) at our instants: a second opinion.

PyEphem (MIT) with pressure 0, so that no refraction is added. It works in UT and has its own Delta T.
"""

import ephem
import numpy as np
import pytest

from geozone.numbers.sun import switch_times

ALTITUDE_LIMIT_DEG = 0.0007  # twice what was seen in 2045, where its Delta T is a guess; 0.2 s at the equator


def altitude_deg(lat, lon, year, utc_min):
    observer = ephem.Observer()
    observer.lat, observer.lon = np.radians(lat), np.radians(lon)
    observer.elevation = observer.pressure = 0
    observer.date = ephem.Date(f"{year}/1/1") + utc_min / 1440.0
    return np.degrees(float(ephem.Sun(observer).alt))


@pytest.mark.parametrize("year", [1985, 2005, 2027, 2045])
def test_altitude_at_our_instants(year):
    rng = np.random.default_rng(year)
    n = 15
    lat, lon = rng.uniform(-80, 80, n), rng.uniform(-180, 180, n)
    checked = 0
    for threshold in (-0.8333, -4.0, -6.0, -12.0):
        ours = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=threshold)
        for i in range(n):
            for k in rng.choice(ours.night.size, 15, replace=False):
                for utc_min in (ours.dusk_utc_min[i, k], ours.dawn_utc_min[i, k]):
                    if np.isfinite(utc_min):
                        assert altitude_deg(lat[i], lon[i], year, utc_min) == pytest.approx(threshold, abs=ALTITUDE_LIMIT_DEG)
                        checked += 1
    assert checked > 1000
