"""Drift against two oracles that share none of its arithmetic: plain numpy on arrays, and a 30-second sampler."""

import numpy as np
import pytest

from geozone.errors import InputError
from geozone.numbers import clock
from geozone.numbers.almanac import apparent_sun
from geozone.numbers.sun import State, sin_threshold, switch_times
from geozone.sharing.drift import keyed_times, setting_drift, unwrapped_lon_deg
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Setting, Tolerance

ADELAIDE = Setting(-35.1, 141.0, "Australia/Adelaide")


def lit_by_sampling(lat_deg, lon_deg, year, altitude_deg, minutes):
    """Whether the sun is below the threshold, from the almanac's place of the sun and nothing else."""
    hour = np.arange(0.0, minutes[-1] + 120.0, 60.0)  # linear between hours: within 0.02 arcsec
    sun = apparent_sun(year, hour / 1440.0)
    hour_angle = np.interp(minutes, hour, np.unwrap(sun.greenwich_hour_angle_rad)) + np.radians(lon_deg)
    declination = np.interp(minutes, hour, sun.declination_rad)
    lat = np.radians(lat_deg)
    sin_alt = np.sin(lat) * np.sin(declination) + np.cos(lat) * np.cos(declination) * np.cos(hour_angle)
    return sin_alt < sin_threshold(altitude_deg)


def test_plain_nights_agree_with_arrays():
    rng = np.random.default_rng(5)
    lat, lon = rng.uniform(-38, -32, 300), rng.uniform(137, 145, 300)
    setting = Setting(-35.1, 141.0, "Australia/Adelaide", -3, 4)
    found = setting_drift(lat_deg=lat, lon_deg=lon, setting=setting, year=2027, altitude_deg=-4.0,
                          tolerance=Tolerance(5, 10))
    own = switch_times(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=-4.0)
    key = switch_times(lat_deg=-35.1, lon_deg=141.0, year=2027, altitude_deg=-4.0)
    dusk = key.dusk_utc_min - 3 - own.dusk_utc_min
    dawn = key.dawn_utc_min + 4 - own.dawn_utc_min
    dark = np.maximum(np.maximum(dusk, 0), np.maximum(-dawn, 0))
    excess = np.maximum(np.maximum(-dusk, 0), np.maximum(dawn, 0))
    # The reduced sums run in another order of additions: 1e-6 minutes over 730 of them.
    np.testing.assert_allclose(found.worst_dark_min, dark.max(1), atol=1e-7)
    np.testing.assert_allclose(found.worst_excess_min, excess.max(1), atol=1e-7)
    np.testing.assert_allclose(found.dark_year_min, np.maximum(dusk, 0).sum(1) + np.maximum(-dawn, 0).sum(1), atol=1e-6)
    np.testing.assert_allclose(found.excess_year_min, np.maximum(-dusk, 0).sum(1) + np.maximum(dawn, 0).sum(1), atol=1e-6)
    np.testing.assert_array_equal(found.nights_beyond, ((dark > 5) | (excess > 10)).sum(1))
    i = np.arange(300)
    np.testing.assert_allclose(dark[i, found.worst_dark_night], dark.max(1), atol=1e-7)
    at_edge = np.where(found.worst_dark_edge == "dusk", np.maximum(dusk, 0)[i, found.worst_dark_night],
                       np.maximum(-dawn, 0)[i, found.worst_dark_night])
    np.testing.assert_allclose(at_edge, dark.max(1), atol=1e-7)


@pytest.mark.parametrize("site_lat, key_lat, altitude_deg", [
    (60.3, 60.9, -6.0),    # the site has a dusk all year, the setting has white nights
    (60.9, 60.3, -6.0),    # the reverse
    (60.7, 61.5, -6.0),    # both have white nights, not the same ones
    (69.0, 67.0, -0.8333),  # polar night and midnight sun at the site
    (78.2, 70.0, -6.0),    # dark all day at the site for weeks
])
def test_white_and_polar_nights_agree_with_a_sampler(site_lat, key_lat, altitude_deg):
    year, lon, step = 2027, 18.0, 0.5
    setting = Setting(key_lat, lon, "Europe/Stockholm")
    found = setting_drift(lat_deg=[site_lat], lon_deg=[lon], setting=setting, year=year, altitude_deg=altitude_deg)
    minutes = np.arange(0.0, 365 * 1440.0, step)
    intended = lit_by_sampling(site_lat, lon, year, altitude_deg, minutes)
    delivered = lit_by_sampling(key_lat, lon, year, altitude_deg, minutes)
    # The year's sums: the sampler runs from midnight to midnight, drift from noon to noon, half a night at each
    # end apart; each switching is off by up to one step.
    one_night = 24 * 60
    tolerance = 730 * step / 2 + abs(found.dark_year_min[0] + found.excess_year_min[0]) / 365 * 2 + 2
    assert abs((intended & ~delivered).sum() * step - found.dark_year_min[0]) < tolerance
    assert abs((delivered & ~intended).sum() * step - found.excess_year_min[0]) < tolerance
    assert found.dark_year_min[0] + found.excess_year_min[0] > one_night  # the case is not an empty one


def test_a_whole_night_counts_when_the_setting_has_no_dusk():
    site, key = 60.3, 61.5
    found = setting_drift(lat_deg=[site], lon_deg=[18.0], setting=Setting(key, 18.0, "Europe/Stockholm"), year=2027,
                          altitude_deg=-6.0)
    own = switch_times(lat_deg=site, lon_deg=18.0, year=2027, altitude_deg=-6.0)
    white = switch_times(lat_deg=key, lon_deg=18.0, year=2027, altitude_deg=-6.0).state[0] == State.ABOVE
    length = np.where(white, own.dawn_utc_min[0] - own.dusk_utc_min[0], np.nan)
    assert found.worst_dark_edge[0] == "night"
    assert found.worst_dark_min[0] == pytest.approx(np.nanmax(length))
    assert found.worst_dark_night[0] == np.nanargmax(length)


def test_other_clock_shifts_by_the_difference_and_master_does_not():
    place = dict(lat_deg=[-35.1], lon_deg=[141.0], setting=ADELAIDE, year=2027, altitude_deg=-4.0)
    same = setting_drift(**place, legal_zone=["Australia/Darwin"])  # half the year on the same clock, then an hour off
    other = setting_drift(**place, legal_zone=["Australia/Melbourne"])
    master = setting_drift(**place, legal_zone=["Australia/Melbourne"], switch_clock="master")
    # Melbourne's clock is half an hour ahead all year, so a switch on it acts half an hour early: light too soon
    # at dusk, dark at dawn.
    assert other.worst_excess_min[0] == pytest.approx(30.0) and other.worst_excess_edge[0] == "dusk"
    assert other.worst_dark_min[0] == pytest.approx(30.0) and other.worst_dark_edge[0] == "dawn"
    assert other.nights_beyond[0] == 365
    assert master.worst_dark_min[0] == 0.0 and master.worst_excess_min[0] == 0.0
    # Darwin never changes its clock: on summer time the keyed zone is an hour ahead of it, the switch an hour late.
    assert same.worst_dark_min[0] == pytest.approx(60.0) and same.worst_dark_edge[0] == "dusk"
    summer = clock.offset_min_at(clock.offsets("Australia/Adelaide", 2027), np.arange(365) * 1440.0 + 600) == 630
    assert same.nights_beyond[0] == pytest.approx(summer.sum(), abs=1)


def test_position_is_rounded_to_the_keypad():
    fine, coarse = (setting_drift(lat_deg=[-35.13], lon_deg=[141.04], setting=Setting(-35.13, 141.04, "Australia/Adelaide"),
                                  year=2027, altitude_deg=-4.0, keypad=Keypad(step)) for step in (0.01, 0.1))
    assert fine.worst_dark_min[0] == 0.0
    # 0.04 degrees of longitude alone are 0.16 minutes.
    assert 0.1 < max(coarse.worst_dark_min[0], coarse.worst_excess_min[0]) < 0.4


def test_drift_equal_to_the_tolerance_is_within():
    setting = Setting(-35.0, 141.0, "Australia/Adelaide", dusk_offset_min=5)
    found = setting_drift(lat_deg=[-35.0], lon_deg=[141.0], setting=setting, year=2027, altitude_deg=-4.0,
                          tolerance=Tolerance(5, 10))
    assert found.worst_dark_min[0] == pytest.approx(5.0) and found.nights_beyond[0] == 0


def test_offset_beyond_the_keypad_is_refused():
    with pytest.raises(InputError, match="dusk_offset_min"):
        setting_drift(lat_deg=[0], lon_deg=[0], setting=Setting(0, 0, "UTC", 100), year=2027, altitude_deg=-4.0)


def test_nothing_sums_to_less_than_the_worst_of_it():
    found = setting_drift(lat_deg=np.linspace(-60, 75, 50), lon_deg=np.full(50, 141.0), setting=ADELAIDE, year=2027,
                          altitude_deg=-6.0)
    assert (found.dark_year_min >= found.worst_dark_min).all()
    assert (found.excess_year_min >= found.worst_excess_min).all()


def test_longitude_is_unwrapped_to_the_legal_date():
    assert float(unwrapped_lon_deg(-171.76, "Pacific/Apia", 2027)) == pytest.approx(188.24)
    assert float(unwrapped_lon_deg(141.0, "Australia/Adelaide", 2027)) == 141.0
    assert float(unwrapped_lon_deg(-157.4, "Pacific/Kiritimati", 2027)) == pytest.approx(202.6)


def test_sign_slip_of_the_longitude_is_hours_not_a_day():
    keyed = keyed_times(Setting(-35.1, -141.0, "Australia/Adelaide"), year=2027, altitude_deg=-4.0)
    own = switch_times(lat_deg=-35.1, lon_deg=141.0, year=2027, altitude_deg=-4.0)
    # The switch counts modulo a day: 282 degrees of longitude are 78 the other way, 312 minutes early.
    assert np.median(keyed.dusk_utc_min - own.dusk_utc_min[0]) == pytest.approx(-312.0, abs=0.5)
