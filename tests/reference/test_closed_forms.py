"""What spherical trigonometry and plain counting say about dusk and dawn.

Spherical astronomy: cos H = (sin a - sin lat sin dec) / (cos lat cos dec), and its derivative. The declination comes
from pvlib's SPA, not from geozone's almanac. Dark hours: computed with SPA positions every 30 s (2025, longitude 0).
"""

import numpy as np
import pytest
from pvlib import spa

from geozone.numbers.sun import State, switch_times

PARALLAX_DEG = 8.794 / 3600  # an observer on the ground sees the sun lower: it is dark a little more than half the time
OBLIQUITY_DEG = 23.44


def declination_deg(year, utc_min):
    unix = (np.datetime64(f"{year}-01-01", "s").astype(np.int64) + np.atleast_1d(utc_min) * 60.0).astype(float)
    julian = spa.julian_ephemeris_day(spa.julian_day(unix), 69.0)
    century = spa.julian_ephemeris_century(julian)
    millennium = spa.julian_ephemeris_millennium(century)
    distance = spa.heliocentric_radius_vector(millennium)
    longitude = spa.geocentric_longitude(spa.heliocentric_longitude(millennium))
    latitude = spa.geocentric_latitude(spa.heliocentric_latitude(millennium))
    angles = [f(century) for f in (spa.mean_elongation, spa.mean_anomaly_sun, spa.mean_anomaly_moon,
                                   spa.moon_argument_latitude, spa.moon_ascending_longitude)]
    nutation = np.empty((2, unix.size))
    spa.longitude_obliquity_nutation(century, *angles, nutation)
    obliquity = spa.true_ecliptic_obliquity(spa.mean_ecliptic_obliquity(millennium), nutation[1])
    apparent = spa.apparent_sun_longitude(longitude, nutation[0], spa.aberration_correction(distance))
    return spa.geocentric_sun_declination(apparent, obliquity, latitude)


def dh_dlat_min_per_deg(lat_deg, altitude_deg, declination_deg):
    """How much later dusk comes per degree of latitude, at one declination [min/degree]."""
    a, lat, d = np.radians(altitude_deg), np.radians(lat_deg), np.radians(declination_deg)
    hour_angle = np.arccos((np.sin(a) - np.sin(lat) * np.sin(d)) / (np.cos(lat) * np.cos(d)))
    return 4 * (np.sin(d) - np.sin(a) * np.sin(lat)) / (np.sin(hour_angle) * np.cos(lat) ** 2 * np.cos(d))


@pytest.mark.parametrize("declination, minutes", [(23.44, 7.0886), (-23.44, -4.3709), (0.0, 0.5838)])
def test_the_published_slopes_are_this_formula(declination, minutes):
    assert dh_dlat_min_per_deg(52, -4, declination) == pytest.approx(minutes, abs=1e-4)


@pytest.mark.parametrize("night, declination, minutes",
                         [("2027-06-21", 23.44, 7.0886), ("2027-12-22", -23.44, -4.3709), ("2027-03-20", 0.0, 0.5838)])
def test_slope_with_latitude(night, declination, minutes):
    """Dusk against latitude 52, threshold -4 degrees, at the solstices and the March equinox of 2027."""
    step = 0.05
    ours = switch_times(lat_deg=[52 - step, 52, 52 + step], lon_deg=np.zeros(3), year=2027, altitude_deg=-4.0)
    k = int(np.flatnonzero(ours.night == np.datetime64(night))[0])
    dusk = ours.dusk_utc_min[:, k]
    slope = (dusk[2] - dusk[0]) / (2 * step)
    there = declination_deg(2027, dusk[1])[0]
    # The declination of that very evening, from SPA: the formula must then hold closely.
    assert slope == pytest.approx(dh_dlat_min_per_deg(52, -4, there), abs=0.005)
    # The round declination of the books: 0.1 degrees of it change the slope by 0.02 min/degree.
    assert there == pytest.approx(declination, abs=0.15)
    assert slope == pytest.approx(minutes, abs=0.03)
    # Dawn mirrors dusk about noon, within what the declination changes overnight.
    dawn = ours.dawn_utc_min[:, k]
    assert (dawn[2] - dawn[0]) / (2 * step) == pytest.approx(-slope, abs=0.05)


def test_slope_with_latitude_everywhere():
    lat = np.arange(-60.0, 61.0, 10.0)
    step = 0.02
    low, mid, high = (switch_times(lat_deg=lat + d, lon_deg=np.zeros(lat.size), year=2026, altitude_deg=-4.0)
                      for d in (-step, 0.0, step))
    slope = (high.dusk_utc_min - low.dusk_utc_min) / (2 * step)
    d = declination_deg(2026, mid.dusk_utc_min.ravel()).reshape(mid.dusk_utc_min.shape)
    expected = dh_dlat_min_per_deg(lat[:, None], -4.0 + PARALLAX_DEG, d)
    # The declination moves 0.4 degrees a day while dusk moves some minutes with latitude: up to 0.2 % of the slope.
    assert np.isfinite(expected).all()
    assert np.abs(slope / expected - 1)[np.abs(expected) > 1].max() < 0.005
    assert np.abs(slope - expected).max() < 0.05


def test_four_minutes_a_degree_eastward():
    lon = np.arange(-170.0, 171.0, 10.0)
    for lat in (-45.0, 0.0, 50.0):
        west = switch_times(lat_deg=np.full(lon.size, lat), lon_deg=lon, year=2027, altitude_deg=-4.0)
        east = switch_times(lat_deg=np.full(lon.size, lat), lon_deg=lon + 1, year=2027, altitude_deg=-4.0)
        for edge in ("dusk_utc_min", "dawn_utc_min"):
            earlier = getattr(west, edge) - getattr(east, edge)
            # In the 4 minutes between them the sun's own drift is at most 3 min/day of dusk: 0.01 min.
            assert np.abs(earlier - 4.0).max() < 0.01


@pytest.mark.parametrize("altitude, limit_deg", [(-6.0, 60.56), (-12.0, 54.56), (-50 / 60, 65.73)])
def test_where_white_nights_begin(altitude, limit_deg):
    """Lowest latitude with a night that stays light: 90 - 23.44 - depression, both hemispheres."""
    assert limit_deg == pytest.approx(90 - OBLIQUITY_DEG + altitude, abs=0.01)
    for sign in (1, -1):
        lat = sign * np.round(np.arange(limit_deg - 0.1, limit_deg + 0.1, 0.01), 2)
        ours = switch_times(lat_deg=lat, lon_deg=np.zeros(lat.size), year=2027, altitude_deg=altitude)
        white = (ours.state == State.ABOVE).any(axis=1)
        first = np.abs(lat[white][0])
        # Obliquity is 23.436 in 2027 and midnight need not fall on the solstice: some 0.02 degrees in all.
        assert abs(first - limit_deg) <= 0.025
        assert white[np.abs(lat) >= first].all() and not white[np.abs(lat) < first].any()


def dark_hours(lat_deg, altitude_deg, year=2025):
    """Dark hours of a year's nights at longitude 0, from dusk, dawn and state."""
    ours = switch_times(lat_deg=lat_deg, lon_deg=np.zeros(len(lat_deg)), year=year, altitude_deg=altitude_deg)
    noon = np.arange(ours.night.size) * 1440.0 + 720.0  # mean noon: its 17 minutes cancel between neighbours
    start = np.where(np.isin(ours.state, (State.CROSSES, State.DUSK_ONLY)), ours.dusk_utc_min, noon)
    end = np.where(np.isin(ours.state, (State.CROSSES, State.DAWN_ONLY)), ours.dawn_utc_min, noon + 1440.0)
    assert np.isfinite(start).all() and np.isfinite(end).all()
    return np.where(ours.state == State.ABOVE, 0.0, end - start).sum(axis=1) / 60


@pytest.mark.parametrize("lat, below_sunset, below_minus_4", [
    (0, 4337.8, 4177.0), (30, 4318.9, 4130.1), (40, 4305.8, 4088.3), (50, 4284.6, 4013.9), (60, 4239.8, 3839.5),
    (-35, 4341.5, 4140.3)])
def test_dark_hours_of_a_year(lat, below_sunset, below_minus_4):
    assert dark_hours([lat], -50 / 60)[0] == pytest.approx(below_sunset, abs=1.0)
    assert dark_hours([lat], -4.0)[0] == pytest.approx(below_minus_4, abs=1.0)


def test_dark_hours_of_both_hemispheres_fill_a_year():
    """The sun is below the horizon here whenever it is above it at the antipode: together 8,760 h."""
    lat = np.array([0, 10, 25, 40, 55, 62.0])
    assert dark_hours(lat, 0.0) + dark_hours(-lat, 0.0) == pytest.approx(8760, abs=1.0)
    # Parallax lowers the sun on both sides at once. Without it the sum is exact but for the year's ends.
    seen_from_the_centre = dark_hours(lat, -PARALLAX_DEG) + dark_hours(-lat, -PARALLAX_DEG)
    assert seen_from_the_centre == pytest.approx(8760, abs=0.01)


def test_dark_hours_of_both_polar_caps_fill_a_year():
    # Nights that stay dark are counted from mean noon to mean noon, up to 17 minutes off the true one, at each of
    # the four changes between polar night, ordinary nights and midnight sun.
    lat = np.array([66, 70, 75, 80, 88, 90.0])
    both = dark_hours(lat, -PARALLAX_DEG) + dark_hours(-lat, -PARALLAX_DEG)
    assert both == pytest.approx(8760, abs=1.0)


def test_equator_has_twelve_hours_and_parallax():
    ours = switch_times(lat_deg=0.0, lon_deg=0.0, year=2027, altitude_deg=0.0)
    hours = (ours.dawn_utc_min - ours.dusk_utc_min)[0] / 60
    assert hours == pytest.approx(12 + 2 * PARALLAX_DEG / 15, abs=0.02)
