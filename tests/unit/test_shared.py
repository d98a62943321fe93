"""The best shared setting against brute force over every keypad setting of a small keypad, written out from the definitions."""

import itertools

import numpy as np
import pytest

from geozone.numbers.shallow import judged_nights
from geozone.numbers.sun import State, switch_times
from geozone.sharing.drift import setting_drift
from geozone.sharing.envelope import envelope
from geozone.sharing.shared import FoundSetting, searched_setting
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Setting, Tolerance


def lit(times, noon):
    """Begin and end of what should be lit (or is given) in each night, equal where nothing is."""
    from_noon = np.isin(times.state, (State.BELOW, State.DAWN_ONLY))
    to_noon = np.isin(times.state, (State.BELOW, State.DUSK_ONLY))
    above = times.state == State.ABOVE
    begin = np.where(above, 0.0, np.where(from_noon, noon[:, :-1], times.dusk_utc_min))
    return begin, np.where(above, 0.0, np.where(to_noon, noon[:, 1:], times.dawn_utc_min))


def noons(lat, lon):
    """Solar noons that bound the nights: half-way between dusk and dawn of a threshold that the sun crosses everywhere."""
    near = switch_times(lat_deg=np.zeros(len(lat)), lon_deg=lon, year=2027, altitude_deg=0.0)
    middle = 0.5 * (near.dusk_utc_min + near.dawn_utc_min)
    # At the equator midnight lies half-way; noon half a solar day before (within a minute: used for whole nights only).
    return np.column_stack([middle - 720.0, middle[:, -1] + 720.0])


def brute(lat, lon, keys, offsets, altitude_deg, tolerance):
    """Of every setting (positions x offsets) the sites within tolerance and the worst factor; minutes by the definitions."""
    own = switch_times(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=altitude_deg)
    noon = noons(lat, lon)
    a0, a1 = lit(own, noon)
    judged = judged_nights(lat, lon, 2027, altitude_deg, tolerance.shallow_deg)
    found = {}
    for key_lat, key_lon in keys:
        key = switch_times(lat_deg=key_lat, lon_deg=key_lon, year=2027, altitude_deg=altitude_deg)
        key_from = np.isin(key.state[0], (State.BELOW, State.DAWN_ONLY))
        key_to = np.isin(key.state[0], (State.BELOW, State.DUSK_ONLY))
        key_lit = key.state[0] != State.ABOVE
        own_lit = own.state != State.ABOVE
        for dusk, dawn in itertools.product(offsets, repeat=2):
            b0 = np.where(key_from, noon[:, :-1], key.dusk_utc_min[0] + dusk)
            b1 = np.where(key_to, noon[:, 1:], key.dawn_utc_min[0] + dawn)
            both = own_lit & key_lit
            length, given = np.maximum(a1 - a0, 0), np.where(key_lit, np.maximum(b1 - b0, 0), 0)
            dark = np.where(both, np.minimum(np.maximum(np.maximum(b0 - a0, a1 - b1), 0), length), np.where(own_lit, length, 0))
            excess = np.where(both, np.minimum(np.maximum(np.maximum(a0 - b0, b1 - a1), 0), given), np.where(key_lit & ~own_lit, given, 0))
            factor = np.where(judged, np.maximum(dark / tolerance.dark_min, excess / tolerance.excess_min), 0).max(axis=1)
            found[key_lat, key_lon, dusk, dawn] = (int((factor <= 1 + 1e-9).sum()), float(factor.max()))
    return found


def positions(lat, lon, step):
    """Keypad positions round the sites: all that `searched_setting` looks at that can be near the best."""
    south, north = np.floor(lat.min() / step) - 3, np.ceil(lat.max() / step) + 3
    west, east = np.floor(lon.min() / step) - 2, np.ceil(lon.max() / step) + 2
    return [(i * step, j * step) for i in np.arange(south, north + 1) for j in np.arange(west, east + 1) if abs(i * step) <= 90]


CASES = {
    "plain, within": ((-36, -34), (139, 141.5), -4.0, Tolerance(8, 8), "Australia/Adelaide"),
    "plain, two tolerances": ((-36, -34), (139, 141.5), -4.0, Tolerance(5, 10), "Australia/Adelaide"),
    "plain, beyond": ((-36, -34), (138, 141.5), -4.0, Tolerance(3, 4), "Australia/Adelaide"),
    "both hemispheres": ((-4, 4), (38.0, 40.0), -4.0, Tolerance(6, 9), "Africa/Nairobi"),
    "white nights": ((64.85, 65.15), (20.85, 21.15), -4.0, Tolerance(8, 12), "Europe/Stockholm"),
    "white nights, some sites": ((60, 66), (15, 17), -6.0, Tolerance(20, 30), "Europe/Stockholm"),
    "white nights left out": ((61, 66), (15, 17), -4.0, Tolerance(8, 12, 1.0), "Europe/Stockholm"),
    "white and polar nights": ((67, 71), (22, 24), -0.8333, Tolerance(60, 90), "Europe/Oslo"),
    "wide in longitude": ((66, 70), (10, 19), -4.0, Tolerance(30, 45), "Europe/Oslo"),
}


@pytest.mark.parametrize("name", CASES)
def test_no_keypad_setting_serves_more_or_drifts_less(name):
    lat_range, lon_range, altitude_deg, tolerance, zone = CASES[name]
    rng = np.random.default_rng(sorted(CASES).index(name))
    lat, lon = rng.uniform(*lat_range, 6), rng.uniform(*lon_range, 6)
    keypad = Keypad(coordinate_step_deg=1.0, offset_limit_min=3)
    found = searched_setting(lat, lon, zone, Basis(2027, altitude_deg, tolerance, keypad))
    every = brute(lat, lon, positions(lat, lon, 1.0), range(-3, 4), altitude_deg, tolerance)
    most = max(served for served, _ in every.values())
    least = min(factor for _, factor in every.values())
    # 0.01 minutes are called equal on purpose, to prefer plain settings.
    equal = 0.0101 / min(tolerance.dark_min, tolerance.excess_min)
    key = (found.setting.lat_deg, found.setting.lon_deg, found.setting.dusk_offset_min, found.setting.dawn_offset_min)
    assert every[key] == (found.served, pytest.approx(found.factor, abs=2e-3))
    assert found.served == found.served_at_most == most
    assert found.factor_at_least <= least + 2e-3 and found.factor_at_least >= least - equal - 2e-3
    if most in (0, len(lat)):
        assert found.factor <= least + equal + 2e-3
    drift = setting_drift(lat_deg=lat, lon_deg=lon, setting=found.setting, year=2027, altitude_deg=altitude_deg,
                          tolerance=tolerance, keypad=keypad)
    assert found.factor == pytest.approx(drift.factor(tolerance).max(), rel=1e-12)
    assert found.served == np.count_nonzero(drift.nights_beyond == 0)


TEN = np.random.default_rng(3)
TEN_LAT, TEN_LON = TEN.uniform(64.85, 65.15, 10), TEN.uniform(20.85, 21.15, 10)


def find(lat, lon, zone, *, altitude_deg=-4.0, tolerance=Tolerance(5, 10), keypad=Keypad()):
    """The found setting, and what the drift computation says of it."""
    found = searched_setting(lat, lon, zone, Basis(2027, altitude_deg, tolerance, keypad))
    drift = setting_drift(lat_deg=lat, lon_deg=lon, setting=found.setting, year=2027, altitude_deg=altitude_deg,
                          tolerance=tolerance, keypad=keypad)
    assert found.setting == found.setting.on_keypad(keypad)
    assert found.served == np.count_nonzero(drift.nights_beyond == 0) <= found.served_at_most
    assert found.factor == pytest.approx(drift.factor(tolerance).max()) and found.factor >= found.factor_at_least
    return found


def test_a_cluster_in_white_nights_is_served_as_far_as_any_setting_can():
    found = find(TEN_LAT, TEN_LON, "Europe/Stockholm", tolerance=Tolerance(8, 12))
    # Every position within half a degree, a few offsets: none of them serves more.
    for key_lat, dusk, dawn in itertools.product(np.arange(64.7, 65.3, 0.1), range(-2, 5, 2), range(-2, 5, 2)):
        drift = setting_drift(lat_deg=TEN_LAT, lon_deg=TEN_LON, setting=Setting(key_lat, 21.0, "Europe/Stockholm", dusk, dawn), year=2027,
                              altitude_deg=-4.0, tolerance=Tolerance(8, 12))
        assert np.count_nonzero(drift.nights_beyond == 0) <= found.served_at_most
        assert drift.factor(Tolerance(8, 12)).max() >= found.factor_at_least - 1e-6
    assert 1 <= found.served == found.served_at_most


def test_one_site_gets_its_own_rounded_position_without_offsets():
    found = find([-35.13], [141.04], "Australia/Adelaide", tolerance=Tolerance(5, 5))
    own = setting_drift(lat_deg=[-35.13], lon_deg=[141.04], setting=Setting(-35.1, 141.0, "Australia/Adelaide"), year=2027,
                        altitude_deg=-4.0, tolerance=Tolerance(5, 5)).factor(Tolerance(5, 5)).max()
    assert found.factor <= own + 0.0101 / 5
    assert abs(found.setting.lat_deg + 35.13) <= 0.2 and abs(found.setting.lon_deg - 141.04) <= 0.5
    assert found.words == "No setting near the sites uses a smaller share of the tolerance at its worst site."


def test_many_sites_at_one_place_are_as_one():
    one = find([54.3], [9.7], "Europe/Berlin")
    assert find([54.3] * 300, [9.7] * 300, "Europe/Berlin").setting == one.setting


@pytest.mark.parametrize("lat, lon, zone, near", [
    ([-18.1, -16.8], [178.4, 180.0], "Pacific/Fiji", (-17.5, 179.2)),
    ([-17.0, -16.6], [179.6, 180.6], "Pacific/Fiji", (-16.8, -179.9)),
    ([-13.8, -13.5], [188.2, 187.6], "Pacific/Apia", (-13.65, -172.1)),
    ([3.0, -3.0], [38.5, 39.0], "Africa/Nairobi", (0.0, 38.75)),
    ([1.87, 1.9], [202.6, 202.7], "Pacific/Kiritimati", (1.9, -157.35)),
])
def test_the_found_position_lies_among_the_sites_wherever_they_are(lat, lon, zone, near):
    keyed = find(lat, lon, zone).setting
    assert -180.0 <= keyed.lon_deg <= 180.0
    # The middle, give or take what is needed to even out the two tolerances.
    assert abs((keyed.lon_deg - near[1] + 180.0) % 360.0 - 180.0) <= 1.0
    assert abs(keyed.lat_deg - near[0]) <= 3.0
    assert max(abs(keyed.dusk_offset_min), abs(keyed.dawn_offset_min)) <= 5


def test_a_keypad_without_offsets_or_of_whole_degrees_is_searched_as_it_is():
    lat, lon = np.linspace(-36, -34, 7), np.linspace(139, 141.5, 7)
    for keypad in (Keypad(0.1, 0), Keypad(5.0, 3), Keypad(0.7, 9)):
        setting = find(lat, lon, "Australia/Adelaide", keypad=keypad).setting
        assert max(abs(setting.dusk_offset_min), abs(setting.dawn_offset_min)) <= keypad.offset_limit_min


def test_where_no_night_is_judged_any_setting_will_do_and_the_plainest_is_taken():
    found = find([89.0, 88.0], [10.0, 12.0], "UTC", tolerance=Tolerance(5, 10, 5.0))
    assert found.served == 2 and found.factor == 0.0
    assert (found.setting.dusk_offset_min, found.setting.dawn_offset_min) == (0, 0)
    assert found.setting.lat_deg == pytest.approx(88.5, abs=0.11) and found.setting.lon_deg == pytest.approx(11.0, abs=0.11)


def test_words_say_what_is_proved_and_what_is_not():
    setting = Setting(60.0, 10.0, "Europe/Oslo")

    def words(sites, served, at_most, factor=2.0, at_least=2.0, least=False):
        return FoundSetting(setting, sites, served, at_most, factor, at_least, least).words

    assert words(9, 9, 9, 0.8, 0.4) == "No smaller share of the tolerance at the worst site was found; none is below 50% of it."
    assert words(9, 4, 4) == ("No setting keeps all 9 sites within tolerance from dusk to dawn; this one serves 4 of 9, "
                              "and no setting near the sites serves more.")
    assert words(2, 1, 1).startswith("No setting keeps both sites within tolerance")
    assert words(1200, 4, 7).endswith("this one serves 4 of 1,200, and none near the sites serves more than 7.")
    assert words(9, 0, 0, least=True) == ("No setting keeps any site within tolerance from dusk to dawn; no setting near the "
                                          "sites uses a smaller share of the tolerance at its worst site.")
    assert "one site" in words(1, 0, 0, least=True)


def test_envelope_is_the_extremes_of_the_arrays():
    rng = np.random.default_rng(2)
    lat, lon = rng.uniform(55, 66, 700), rng.uniform(10, 30, 700)
    found = envelope(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=-6.0)
    times = switch_times(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=-6.0)
    np.testing.assert_allclose(found.dusk_earliest_utc_min, np.nanmin(times.dusk_utc_min, 0), rtol=0, atol=1e-9)
    np.testing.assert_allclose(found.dawn_latest_utc_min, np.nanmax(times.dawn_utc_min, 0), rtol=0, atol=1e-9)
    np.testing.assert_array_equal(found.sites_without, (times.state != 0).sum(0))
