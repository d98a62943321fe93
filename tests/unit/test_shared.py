"""The best shared setting against brute force over every keypad setting of a small keypad."""

import itertools

import numpy as np
import pytest

from geozone.numbers.sun import switch_times
from geozone.sharing.drift import setting_drift
from geozone.sharing.shared import best_shared_setting, envelope
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Setting, Tolerance


def worst(setting, lat, lon, tolerance, keypad, altitude_deg):
    return setting_drift(lat_deg=lat, lon_deg=lon, setting=setting, year=2027, altitude_deg=altitude_deg,
                         tolerance=tolerance, keypad=keypad).factor(tolerance).max()


@pytest.mark.parametrize("tolerance", [Tolerance(5, 10), Tolerance(8, 8), Tolerance(3, 20)])
def test_no_keypad_setting_is_better(tolerance):
    rng = np.random.default_rng(11)
    lat, lon = rng.uniform(-36, -34, 9), rng.uniform(139, 141.5, 9)
    keypad = Keypad(coordinate_step_deg=1.0, offset_limit_min=6)
    best = best_shared_setting(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=-4.0, legal_zone="Australia/Adelaide",
                               tolerance=tolerance, keypad=keypad)
    own = switch_times(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=-4.0)
    least = np.inf
    for key_lat, key_lon in itertools.product(range(-38, -31), range(137, 145)):
        key = switch_times(lat_deg=key_lat, lon_deg=key_lon, year=2027, altitude_deg=-4.0)
        for dusk, dawn in itertools.product(range(-6, 7), repeat=2):
            late_dusk = key.dusk_utc_min + dusk - own.dusk_utc_min
            late_dawn = key.dawn_utc_min + dawn - own.dawn_utc_min
            dark = max(late_dusk.max(), -late_dawn.min(), 0)
            excess = max(-late_dusk.min(), late_dawn.max(), 0)
            least = min(least, max(dark / tolerance.dark_min, excess / tolerance.excess_min))
    # 0.01 minutes are called equal on purpose, to prefer plain settings.
    assert worst(best, lat, lon, tolerance, keypad, -4.0) <= least + 0.0101 / min(tolerance.dark_min, tolerance.excess_min)


def test_one_site_gets_its_own_rounded_position_without_offsets():
    best = best_shared_setting(lat_deg=[-35.13], lon_deg=[141.04], year=2027, altitude_deg=-4.0,
                               legal_zone="Australia/Adelaide", tolerance=Tolerance(5, 5))
    own = Setting(-35.1, 141.0, "Australia/Adelaide")
    keypad, equal = Keypad(), 0.0101 / 5
    assert worst(best, [-35.13], [141.04], Tolerance(5, 5), keypad, -4.0) <= worst(
        own, [-35.13], [141.04], Tolerance(5, 5), keypad, -4.0) + equal


def test_white_nights_count():
    lat, lon = np.linspace(59.6, 61.2, 40), np.full(40, 15.0)
    keypad, tolerance = Keypad(0.1), Tolerance(5, 10)
    best = best_shared_setting(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=-6.0, legal_zone="Europe/Stockholm",
                               tolerance=tolerance, keypad=keypad)
    plain = [worst(Setting(keyed, 15.0, "Europe/Stockholm"), lat, lon, tolerance, keypad, -6.0)
             for keyed in np.round(np.arange(59.6, 61.3, 0.1), 1)]
    assert worst(best, lat, lon, tolerance, keypad, -6.0) <= min(plain) + 1e-9


def test_envelope_is_the_extremes_of_the_arrays():
    rng = np.random.default_rng(2)
    lat, lon = rng.uniform(55, 66, 700), rng.uniform(10, 30, 700)
    found = envelope(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=-6.0)
    times = switch_times(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=-6.0)
    np.testing.assert_allclose(found.dusk_earliest_utc_min, np.nanmin(times.dusk_utc_min, 0), rtol=0, atol=1e-9)
    np.testing.assert_allclose(found.dawn_latest_utc_min, np.nanmax(times.dawn_utc_min, 0), rtol=0, atol=1e-9)
    np.testing.assert_array_equal(found.sites_without, (times.state != 0).sum(0))
