"""The altitude of pvlib's sun (NREL SPA, Reda & Andreas 2008) at our instants: a second opinion.

Only pvlib's positions are used. Its rise and set times work on UT days and belong to a neighbouring night for many
longitudes. Topocentric elevation without refraction. Delta T is 66 to 70 s in these years: four seconds of the sun's
own motion are 0.00005 degrees, so one value serves.
"""

import numpy as np
import pytest
from pvlib import spa

from geozone.numbers.sun import switch_times

ALTITUDE_LIMIT_DEG = 0.0003  # SPA's own stated uncertainty
DELTA_T_S = 69.0


def elevation_deg(lat, lon, year, utc_min):
    unix = (np.datetime64(f"{year}-01-01", "s").astype(np.int64) + utc_min * 60.0).astype(float)
    # Row 3: topocentric elevation before refraction. Pressure and temperature only enter the refracted row.
    return spa.solar_position(unix, lat, lon, 0.0, 1013.25, 12.0, DELTA_T_S, 0.5667, numthreads=1)[3]


@pytest.mark.parametrize("year", [2012, 2020, 2027, 2034])
def test_altitude_at_our_instants(year):
    rng = np.random.default_rng(year)
    n = 12
    lat, lon = rng.uniform(-75, 75, n), rng.uniform(-180, 180, n)
    checked = 0
    for threshold in (-0.8333, -4.0, -6.0, -12.0):
        ours = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=threshold)
        for i in range(n):
            night = rng.choice(ours.night.size, 20, replace=False)
            utc_min = np.concatenate([ours.dusk_utc_min[i, night], ours.dawn_utc_min[i, night]])
            utc_min = utc_min[np.isfinite(utc_min)]
            if not utc_min.size:
                continue
            assert elevation_deg(lat[i], lon[i], year, utc_min) == pytest.approx(threshold, abs=ALTITUDE_LIMIT_DEG)
            checked += utc_min.size
    assert checked > 1500
