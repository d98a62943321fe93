"""Switching times against Skyfield with the JPL ephemeris DE421: the reference engine.

Skyfield 1.55 (MIT), DE421 from the package skyfield-data, offline. Definitions of the thresholds: Skyfield,
documentation/almanac.rst, citing the US Naval Observatory (centre of the sun at -50', -6, -12 degrees, geometric,
flat horizon). Topocentric altitudes on WGS84, no refraction, as geozone defines its threshold.

Two time scales. The turning of the Earth follows UT1; clocks follow UTC, which is kept within 0.9 s of it. geozone
takes UT1 = UTC and says so. Therefore

- on the UT1 scale our minutes are read as UT1: what is left is geozone's own error, in any year;
- on the UTC scale the measured UT1 - UTC comes on top. Skyfield knows it up to its table's end (2026 here) and
  predicts it beyond, on the assumption that no leap second will ever be added: -0.6 s in 2040, -2.1 s in 2049.
  Past 2035 that says more about the assumption than about either program, so those years are compared on UT1 only.
"""

import datetime as dt
from importlib.resources import files

import numpy as np
import pytest
from skyfield import almanac
from skyfield.api import load, load_file, wgs84

from geozone.numbers.shallow import judged_nights
from geozone.numbers.sun import State, switch_times

THRESHOLDS_DEG = (-0.8333, -4.0, -6.0, -12.0)

ALTITUDE_LIMIT_DEG = 0.01
# On UT1: interpolation of the almanac, ERFA's analytic Earth (4.6 km, 0.006"), the mean parallax and the kernel's
# 2 ms stop rule; together 0.03 s where the sun crosses faster than 0.1 degrees a minute.
OWN_ERROR_S, OWN_ALTITUDE_DEG = 0.05, 0.0002
# On UTC: up to 0.9 s of UT1 - UTC comes on top.
UTC_LIMIT_S, UTC_PREDICTED_LIMIT_S = 1.0, 1.5
STEADY_DEG_PER_MIN = 0.1
LAST_MEASURED_YEAR, LAST_COMPARED_ON_UTC = 2026, 2035


class Sky:
    """The reference sun over one place."""

    def __init__(self):
        # Not `skyfield_data.get_skyfield_data_path()`: it warns that the package's Earth-orientation file has
        # expired. Only DE421 is read from the package, and it serves until 2053.
        self._ephemeris = load_file(str(files("skyfield_data") / "data" / "de421.bsp"))
        self._scale = load.timescale(builtin=True)

    def close(self):
        self._ephemeris.close()

    def time(self, year, utc_min, scale):
        """Our minutes since 1 January 0h as Skyfield time, read as "utc" or "ut1"."""
        day, minute = np.divmod(np.asarray(utc_min, dtype=float), 1440.0)
        if scale == "utc":
            return self._scale.utc(year, 1, 1 + day.astype(int), 0, minute)
        return self._scale.ut1_jd(dt.date(year, 1, 1).toordinal() + 1721424.5 + day + minute / 1440.0)

    def minutes(self, year, time, scale):
        """Skyfield time as minutes since 1 January 0h of the scale."""
        if scale == "utc":
            start = dt.datetime(year, 1, 1, tzinfo=dt.timezone.utc)
            return np.array([(t - start).total_seconds() / 60 for t in time.utc_datetime()])
        start = dt.date(year, 1, 1).toordinal() + 1721424.5
        return (time.whole - start + time.ut1_fraction) * 1440.0

    def altitude_deg(self, lat_deg, lon_deg, time):
        return self._at(lat_deg, lon_deg).at(time).observe(self._ephemeris["sun"]).apparent().altaz()[0].degrees

    def events(self, lat_deg, lon_deg, year, first_min, last_min, altitude_deg, scale, edge):
        """Skyfield's own search: minutes of all real crossings between two instants."""
        find = almanac.find_settings if edge == "dusk" else almanac.find_risings
        time, crosses = find(self._at(lat_deg, lon_deg), self._ephemeris["sun"], self.time(year, first_min, scale),
                             self.time(year, last_min, scale), horizon_degrees=altitude_deg)
        return self.minutes(year, time, scale)[crosses.astype(bool)]

    def _at(self, lat_deg, lon_deg):
        return self._ephemeris["earth"] + wgs84.latlon(lat_deg, lon_deg)


@pytest.fixture(scope="module")
def sky():
    sky = Sky()
    yield sky
    sky.close()


def places(seed, n):
    """n places, equally likely anywhere on the globe's latitudes, a third of them polar."""
    rng = np.random.default_rng(seed)
    lat = rng.uniform(-66, 66, n)
    polar = np.arange(n) % 3 == 0
    lat[polar] = rng.uniform(60, 89.5, polar.sum()) * rng.choice([-1, 1], polar.sum())
    return np.round(lat, 4), np.round(rng.uniform(-180, 180, n), 4)


def altitude_and_rate(sky, lat, lon, year, utc_min, scale):
    """Reference altitude at our instants [degree] and how fast it changes there [degree/min]."""
    n = utc_min.size
    around = np.concatenate([utc_min, utc_min - 0.5, utc_min + 0.5])
    altitude = sky.altitude_deg(lat, lon, sky.time(year, around, scale))
    return altitude[:n], altitude[2 * n:] - altitude[n:2 * n]


def scale_errors(sky, year, scale, seed, n_place, nights_each):
    """Altitude error [degree], time error [s] and crossing rate [degree/min] of a sample of our events."""
    lat, lon = places(seed, n_place)
    rng = np.random.default_rng(seed + 1)
    altitude_off, time_off_s, rates = [], [], []
    for threshold in THRESHOLDS_DEG:
        ours = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=threshold)
        for i in range(n_place):
            night = rng.choice(ours.night.size, nights_each, replace=False)
            for times, direction in ((ours.dusk_utc_min, -1), (ours.dawn_utc_min, 1)):
                utc_min = times[i, night]
                utc_min = utc_min[~np.isnan(utc_min)]
                if not utc_min.size:
                    continue
                altitude, rate = altitude_and_rate(sky, lat[i], lon[i], year, utc_min, scale)
                altitude_off.append(altitude - threshold)
                time_off_s.append((altitude - threshold) / rate * 60.0)
                rates.append(rate * direction)
    return np.concatenate(altitude_off), np.concatenate(time_off_s), np.concatenate(rates)


@pytest.mark.parametrize("year", [1980, 1999, 2016, 2027, 2033, 2049])
def test_altitude_and_own_error_on_ut1(sky, year):
    off_deg, off_s, rate = scale_errors(sky, year, "ut1", seed=year, n_place=6, nights_each=50)
    assert off_deg.size > 1000
    assert np.abs(off_deg).max() < OWN_ALTITUDE_DEG
    steady = rate > STEADY_DEG_PER_MIN
    assert steady.sum() > 600
    assert np.abs(off_s[steady]).max() < OWN_ERROR_S
    # Dusk falls and dawn rises. At a graze the rate passes through zero, hence the small margin.
    assert rate.min() > -0.001


@pytest.mark.parametrize("year", [1981, 1994, 2015, 2026, 2027, 2035])
def test_altitude_and_time_on_utc(sky, year):
    off_deg, off_s, rate = scale_errors(sky, year, "utc", seed=10_000 + year, n_place=6, nights_each=40)
    assert np.abs(off_deg).max() < ALTITUDE_LIMIT_DEG
    limit = UTC_LIMIT_S if year <= LAST_MEASURED_YEAR else UTC_PREDICTED_LIMIT_S
    assert year <= LAST_COMPARED_ON_UTC
    assert np.abs(off_s[rate > STEADY_DEG_PER_MIN]).max() < limit


@pytest.mark.parametrize("year", [1983, 2012, 2027, 2044])
def test_no_event_is_missing_and_none_is_invented(sky, year):
    """Every crossing of a year found by Skyfield's own search, and no other, except while the sun grazes."""
    lat, lon = places(20_000 + year, 9)
    compared = 0
    for threshold in (-0.8333, -6.0):
        ours = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=threshold)
        for i in range(lat.size):
            # From the first noon of the year to the last one, as in geozone, but half a day in from either end:
            # a crossing near noon (polar twilight) could belong to a night of the neighbouring year.
            first, last = 1440.0 + 720.0 - 4 * lon[i], ours.night.size * 1440.0 - 720.0 - 4 * lon[i]
            for edge, times in (("dusk", ours.dusk_utc_min[i]), ("dawn", ours.dawn_utc_min[i])):
                mine = times[(times > first) & (times < last)]
                theirs = sky.events(lat[i], lon[i], year, first, last, threshold, "ut1", edge)
                compared += theirs.size
                for one, other in ((mine, theirs), (theirs, mine)):
                    apart = nearest(one, other)
                    far = one[apart > 0.1 / 60]
                    if far.size:
                        # Slow crossings may differ in time, and at a graze one side may see no crossing at all;
                        # there the sun's lowest (or highest) point is within a hair of the threshold.
                        _, rate = altitude_and_rate(sky, lat[i], lon[i], year, far, "ut1")
                        assert np.abs(rate).max() < STEADY_DEG_PER_MIN
                        lonely = apart[apart > 0.1 / 60] > 2.0
                        assert np.abs(rate[lonely]).max(initial=0.0) < 0.01
    assert compared > 8000


def nearest(one, other):
    """Distance from each of `one` to the nearest of `other` [min]."""
    if not other.size:
        return np.full(one.size, np.inf)
    return np.abs(one[:, None] - other[None, :]).min(axis=1)


# References: computed with Skyfield and DE421. (place, lat, lon, threshold, night, dusk, dawn), UTC; "" = not given.
EDGE_CASES = [
    ("Helsinki: dusk at 00:42 legal time, on the next date", 60.1699, 24.9384, -6.0, "2025-06-21",
     "2025-06-21T21:42:21.5", ""),
    ("Reykjavik: sunset after midnight", 64.1466, -21.9426, -0.8333, "2025-06-21", "2025-06-22T00:03:58.8", ""),
    ("Tromso: civil twilight only", 69.6492, 18.9553, -6.0, "2025-12-20", "", "2025-12-21T08:31:24.5"),
    ("Tromso: civil twilight only", 69.6492, 18.9553, -6.0, "2025-12-21", "2025-12-21T12:53:15.3", ""),
]


@pytest.mark.parametrize("place, lat, lon, threshold, night, dusk, dawn", EDGE_CASES)
def test_edge_cases_in_time(sky, place, lat, lon, threshold, night, dusk, dawn):
    year = int(night[:4])
    ours = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=threshold)
    k = int(np.flatnonzero(ours.night == np.datetime64(night))[0])
    assert ours.state[0, k] == State.CROSSES
    checked = 0
    for printed, utc_min in ((dusk, ours.dusk_utc_min[0, k]), (dawn, ours.dawn_utc_min[0, k])):
        if printed:
            expected = (np.datetime64(printed, "ms") - np.datetime64(f"{year}-01-01", "ms")) / np.timedelta64(60_000, "ms")
            assert utc_min == pytest.approx(expected, abs=UTC_LIMIT_S / 60)
            # The printed instant itself, looked up in the reference sun: guards against a slip in copying it.
            assert sky.altitude_deg(lat, lon, sky.time(year, expected, "utc")) == pytest.approx(threshold, abs=5e-4)
            checked += 1
    assert checked == 1


def test_anchorage_first_dusk_after_the_white_nights(sky):
    """Night of 4 July 2025, civil: the first dusk in weeks, with no dawn before it on the same solar day."""
    lat, lon = 61.2181, -149.9003
    ours = switch_times(lat_deg=lat, lon_deg=lon, year=2025, altitude_deg=-6.0)
    k = int(np.flatnonzero(ours.night == np.datetime64("2025-07-04"))[0])
    assert ours.state[0, k - 1] == State.ABOVE and ours.state[0, k] == State.CROSSES
    assert np.isnan(ours.dawn_utc_min[0, k - 1]) and np.isfinite(ours.dusk_utc_min[0, k])
    lowest = sky.altitude_deg(lat, lon, sky.time(2025, (k - 1) * 1440 + 720 - 4 * lon + np.arange(0, 1440.0, 1.0), "utc"))
    assert -6.0 < lowest.min() < -5.9


@pytest.mark.parametrize("place, lat, lon, threshold, night, state", [
    ("Stockholm", 59.3293, 18.0686, -12.0, "2025-06-21", State.ABOVE),
    ("Longyearbyen", 78.2232, 15.6267, -6.0, "2025-12-21", State.BELOW),
])
def test_edge_cases_without_an_event(sky, place, lat, lon, threshold, night, state):
    ours = switch_times(lat_deg=lat, lon_deg=lon, year=2025, altitude_deg=threshold)
    k = int(np.flatnonzero(ours.night == np.datetime64(night))[0])
    assert ours.state[0, k] == state
    assert np.isnan(ours.dusk_utc_min[0, k]) and np.isnan(ours.dawn_utc_min[0, k])
    altitude = sky.altitude_deg(lat, lon, sky.time(2025, k * 1440 + 720 - 4 * lon + np.arange(0, 1440.0, 2.0), "utc"))
    assert (altitude > threshold).all() if state == State.ABOVE else (altitude < threshold).all()


@pytest.mark.parametrize("year", [1996, 2027])
def test_states_of_polar_places(sky, year):
    """Every state word against the reference altitudes of that night, sampled every 35 minutes."""
    rng = np.random.default_rng(year)
    lat = np.concatenate([rng.uniform(60, 89.8, 4), rng.uniform(-89.8, -60, 3), [90.0, -90.0]])
    lon = rng.uniform(-180, 180, lat.size)
    seen = set()
    for threshold in (-0.8333, -6.0):
        ours = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=threshold)
        for i in range(lat.size):
            # All nights within two of a change of state, and a few of the others.
            change = np.flatnonzero(np.diff(ours.state[i]))
            night = np.unique(np.clip(np.concatenate([(change[:, None] + np.arange(-1, 3)).ravel(),
                                                      rng.integers(0, ours.night.size, 3)]), 0, ours.night.size - 1))
            minute = night[:, None] * 1440.0 + 720.0 - 4 * lon[i] + np.arange(20.0, 1420.0, 35.0)
            above = sky.altitude_deg(lat[i], lon[i], sky.time(year, minute.ravel(), "ut1")).reshape(minute.shape) - threshold
            for j, k in enumerate(night):
                state = State(ours.state[i, k])
                seen.add(state)
                inside = above[j][np.abs(above[j]) > ALTITUDE_LIMIT_DEG]
                if state == State.ABOVE:
                    assert (inside > 0).all()
                elif state == State.BELOW:
                    assert (inside < 0).all()
                else:
                    dusk, dawn = ours.dusk_utc_min[i, k], ours.dawn_utc_min[i, k]
                    dark = (minute[j] > (dusk if state != State.DAWN_ONLY else -np.inf)) & (
                        minute[j] < (dawn if state != State.DUSK_ONLY else np.inf))
                    clear = np.abs(above[j]) > ALTITUDE_LIMIT_DEG
                    assert ((above[j] < 0) == dark)[clear].all()
    assert {State.CROSSES, State.ABOVE, State.BELOW} <= seen


@pytest.mark.parametrize("lat, lon, altitude, depth", [
    (62.6, 6.3, -4.0, 1.0), (69.65, 18.96, -0.8333, 1.0), (78.22, 15.65, -6.0, 2.5), (-54.8, -68.3, -12.0, 0.5),
    (64.18, -51.72, -4.0, 1.0)])
def test_judged_nights_by_skyfields_hour_angles(sky, lat, lon, altitude, depth):
    # Noons and midnights where Skyfield's own local hour angle is 0 and 12 h; 0.001 deg either way decides nothing.
    year = 2027

    def height(nights_from_noon):
        minute = (np.arange(365) + 0.5 + nights_from_noon - lon / 360.0) * 1440.0
        for _ in range(3):
            there = sky._at(lat, lon).at(sky.time(year, minute, "utc")).observe(sky._ephemeris["sun"]).apparent()
            off = there.hadec()[0].hours - 24.0 * nights_from_noon
            minute = minute - 60.0 * ((off + 12.0) % 24.0 - 12.0)
        return there.altaz()[0].degrees

    spare = np.minimum(altitude - depth - height(0.5), np.minimum(height(0.0), height(1.0)) - altitude - depth)
    ours = judged_nights([lat], [lon], year, altitude, depth)[0]
    mine = np.abs(spare) > 0.001
    assert mine.sum() > 360 and 0 < ours.sum() < 365
    np.testing.assert_array_equal(ours[mine], spare[mine] > 0)
