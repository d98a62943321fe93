"""The almanac's apparent sun against published worked examples.

1. Reda, I. and Andreas, A. (2008), Solar Position Algorithm for Solar Radiation Applications, NREL/TP-560-34302,
   appendix A.5; values as repeated in pvlib's tests/test_spa.py. The algorithm is stated to be good to 0.0003 deg.
2. Meeus, J., Astronomical Algorithms, examples 25.a, 25.b and 28.b (example numbers from memory); where
   the values were seen is said beside each.

The almanac takes UTC and adds the leap seconds itself. The examples state their own Delta T or dynamical time, so the
instants below are moved by the difference, which is under five seconds.
"""

import numpy as np
import pytest

from geozone.numbers.almanac import apparent_sun
from geozone.numbers.sun import switch_times

TAI_UTC_S = {1992: 27, 2003: 32}  # IERS Bulletin C: leap seconds in force in October of those years
TT_TAI_S = 32.184


def sun_at(year, day_tt):
    """The apparent sun at an instant of terrestrial time, given in days since 1 January 0h TT."""
    return apparent_sun(year, day_tt - (TAI_UTC_S[year] + TT_TAI_S) / 86400)


def equation_of_time_min(sun, day_ut):
    """Apparent less mean solar time at Greenwich [min]."""
    apparent_day = sun.greenwich_hour_angle_rad[0] / (2 * np.pi) + 0.5
    return ((apparent_day - day_ut + 0.5) % 1.0 - 0.5) * 1440


def test_spa_example():
    # 2003-10-17 12:30:30 at UTC - 7 h; the example sets UT1 = UT and Delta T = 67 s.
    day_ut = 289 + 19.5 / 24 + 30 / 86400
    sun = sun_at(2003, day_ut + 67 / 86400)
    assert np.degrees(sun.right_ascension_rad[0]) == pytest.approx(202.227408, abs=0.0003)
    assert np.degrees(sun.declination_rad[0]) == pytest.approx(-9.31434, abs=0.0003)


def test_spa_equation_of_time_and_zenith():
    day_ut = 289 + 19.5 / 24 + 30 / 86400
    sun = apparent_sun(2003, day_ut)  # UTC read as UT1, as geozone does everywhere
    assert equation_of_time_min(sun, day_ut) == pytest.approx(14.64, abs=0.01)
    # Topocentric zenith 50.11162 and azimuth 194.340241 at 39.742476 N, 105.1786 W, 820 hPa and 11 degrees C. Zenith
    # includes 0.016 degrees of refraction by SPA's eq. 42, taken out here; 1,830 m of height move it by 0.000002.
    lat, hour_angle = np.radians(39.742476), sun.greenwich_hour_angle_rad[0] + np.radians(-105.1786)
    dec = sun.declination_rad[0]
    altitude = np.degrees(np.arcsin(np.sin(lat) * np.sin(dec) + np.cos(lat) * np.cos(dec) * np.cos(hour_angle)))
    altitude -= 8.794 / 3600 * np.cos(np.radians(altitude))
    refraction = 820 / 1010 * 283 / (273 + 11) * 1.02 / (60 * np.tan(np.radians(altitude + 10.3 / (altitude + 5.11))))
    assert 90 - (altitude + refraction) == pytest.approx(50.11162, abs=0.0006)
    azimuth = np.degrees(np.arctan2(np.sin(hour_angle), np.cos(hour_angle) * np.sin(lat) - np.tan(dec) * np.cos(lat))) + 180
    assert azimuth == pytest.approx(194.340241, abs=0.0006)


def test_spa_example_through_switch_times():
    """The published zenith turned round: the sun must cross that very altitude at 12:30:30, going down."""
    refraction = 820 / 1010 * 283 / 284 * 1.02 / (60 * np.tan(np.radians(39.87 + 10.3 / (39.87 + 5.11))))
    threshold = 90 - 50.11162 - refraction
    ours = switch_times(lat_deg=39.742476, lon_deg=-105.1786, year=2003, altitude_deg=threshold)
    expected = 289 * 1440 + 19 * 60 + 30.5
    # At 14 degrees past noon the sun falls 0.05 degrees a minute: 0.0006 degrees are 0.8 s.
    assert ours.dusk_utc_min[0, 289] == pytest.approx(expected, abs=1.0 / 60)


def test_meeus_25a():
    # 1992 October 13 0h TD by the book's low-precision method, which it states to be good to 0.01 degrees.
    # Values as printed by pymeeus (Sun.apparent_rightascension_declination_coarse).
    sun = sun_at(1992, 286.0)
    assert np.degrees(sun.right_ascension_rad[0]) == pytest.approx(15 * (13 + 13 / 60 + 31.4 / 3600), abs=0.01)
    assert np.degrees(sun.declination_rad[0]) == pytest.approx(-(7 + 47 / 60 + 6 / 3600), abs=0.01)


def test_meeus_25b():
    # The same instant from the full planetary theory: 13h 13m 30.749s, -7 deg 47' 01.74". Values from memory,
    # confirmed in a public list of test vectors that quotes the example.
    sun = sun_at(1992, 286.0)
    assert np.degrees(sun.right_ascension_rad[0]) / 15 == pytest.approx(13 + 13 / 60 + 30.749 / 3600, abs=0.005 / 3600)
    assert np.degrees(sun.declination_rad[0]) == pytest.approx(-(7 + 47 / 60 + 1.74 / 3600), abs=0.05 / 3600)


def test_meeus_28b():
    # Same instant: equation of time + 13 m 42.6 s. 0h TD is 59 s before 0h UT: 0.01 s of equation of time.
    assert equation_of_time_min(apparent_sun(1992, 286.0), 286.0) == pytest.approx(13 + 42.6 / 60, abs=0.5 / 60)
