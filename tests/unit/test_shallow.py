"""Which nights are judged, and that drift leaves out those and no others."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geozone.errors import InputError
from geozone.numbers.shallow import judged_nights
from geozone.numbers.sun import State, switch_times
from geozone.sharing.drift import setting_drift
from geozone.sharing.envelope import envelope
from geozone.switching.conditions import Conditions
from geozone.switching.programme_year import programme_drift, programme_year
from geozone.trade.programme import Event, Programme
from geozone.trade.setting import Setting, Tolerance

YEAR = 2027
FEW = settings(max_examples=25, deadline=None)
depths = st.floats(0.01, 5.0)
thresholds = st.sampled_from([-50 / 60, -4.0, -6.0, -12.0, 3.0])
latitudes = st.floats(24.0, 90.0)


def judged(lat, altitude, depth, lon=12.0, year=YEAR):
    return judged_nights(lat, np.full(np.size(lat), lon), year, altitude, depth)


def test_zero_judges_every_night():
    assert judged([0.0, 65.0, 90.0, -90.0], -4.0, 0.0).all()


@FEW
@given(latitudes, latitudes, thresholds, depths, st.sampled_from([1, -1]), st.floats(-180, 180))
def test_a_night_not_judged_here_is_not_judged_nearer_the_pole(one, other, altitude, depth, hemisphere, lon):
    near, far = judged(hemisphere * np.sort([one, other]), altitude, depth, lon)
    assert not (far & ~near).any()


@FEW
@given(st.floats(-90, 90), thresholds, depths, depths)
def test_a_larger_depth_never_adds_a_judged_night(lat, altitude, one, other):
    small, large = sorted((one, other))
    assert not (judged([lat], altitude, large) & ~judged([lat], altitude, small)).any()


@FEW
@given(st.floats(-90, 90), st.floats(-180, 180), thresholds, depths)
def test_every_judged_night_has_dusk_and_dawn(lat, lon, altitude, depth):
    times = switch_times(lat_deg=lat, lon_deg=lon, year=YEAR, altitude_deg=altitude)
    assert (times.state[0][judged([lat], altitude, depth, lon)[0]] == State.CROSSES).all()


def test_no_jump_where_white_nights_begin():
    # Where the first white night comes (62.56 N at -4), the count of judged nights moves by a few nights per tenth of a degree.
    lat = np.arange(61.0, 64.0, 0.02)
    counts = judged(lat, -4.0, 1.0).sum(axis=1)
    assert counts[0] == 365 and np.abs(np.diff(counts)).max() <= 14
    inside = counts[lat > 62.0]
    assert np.abs(np.diff(inside)).max() <= 2


SETTING = Setting(66.0, 20.0, "Europe/Stockholm", 2, -1)
LAT = np.array([55.0, 62.4, 62.6, 64.0, 65.9, 66.3, 68.0, 71.0, 78.2, -54.8])
LON = np.linspace(5.0, 30.0, LAT.size)


def drift(**more):
    return setting_drift(lat_deg=LAT, lon_deg=LON, setting=SETTING, year=YEAR, altitude_deg=-4.0, **more)


def test_drift_leaves_out_just_these_nights():
    # Nothing compiled in common: light of each night as intervals from the switching times.
    tolerance = Tolerance(10, 12, 1.0)
    found, whole = drift(tolerance=tolerance), drift(tolerance=Tolerance(10, 12))
    times = switch_times(lat_deg=LAT, lon_deg=LON, year=YEAR, altitude_deg=-4.0)
    key = switch_times(lat_deg=66.0, lon_deg=20.0, year=YEAR, altitude_deg=-4.0)
    counted = judged_nights(LAT, LON, YEAR, -4.0, 1.0)
    np.testing.assert_array_equal(found.nights_not_judged, (~counted).sum(axis=1))
    np.testing.assert_array_equal(found.dark_year_min, whole.dark_year_min)
    np.testing.assert_array_equal(found.excess_year_min, whole.excess_year_min)
    for i in range(LAT.size):
        mine = counted[i]
        late_dusk = key.dusk_utc_min[0, mine] + 2 - times.dusk_utc_min[i, mine]
        late_dawn = key.dawn_utc_min[0, mine] - 1 - times.dawn_utc_min[i, mine]
        own = (times.dawn_utc_min - times.dusk_utc_min)[i, mine]
        white = key.state[0, mine] == State.ABOVE
        dark = np.where(white, own, np.maximum(np.clip(late_dusk, 0, own), np.clip(-late_dawn, 0, own)))
        assert found.worst_dark_min[i] == pytest.approx(np.nanmax(dark, initial=0.0), abs=1e-6)
        assert found.nights_beyond[i] <= whole.nights_beyond[i]
        beyond = np.flatnonzero(mine)[dark > 10.0]
        assert found.nights_beyond[i] >= beyond.size
        if found.worst_dark_night[i] >= 0:
            assert counted[i, found.worst_dark_night[i]]
    assert (found.dark_not_judged_min <= found.dark_year_min).all() and found.dark_not_judged_min.sum() > 100
    assert whole.nights_not_judged.sum() == 0 and whole.dark_not_judged_min.sum() == 0


def test_without_shallow_nights_the_rule_changes_nothing():
    lat, lon = np.linspace(-38, -32, 300), np.linspace(137, 145, 300)
    how = {"lat_deg": lat, "lon_deg": lon, "setting": Setting(-35.1, 141.0, "Australia/Adelaide"), "year": YEAR, "altitude_deg": -4.0}
    plain, ruled = setting_drift(**how), setting_drift(**how, tolerance=Tolerance(5, 10, 1.0))
    for name in plain.__dataclass_fields__:
        np.testing.assert_array_equal(getattr(plain, name), getattr(ruled, name))


def test_a_site_is_judged_the_same_wherever_it_stands():
    alone = [setting_drift(lat_deg=[LAT[i]], lon_deg=[LON[i]], setting=SETTING, year=YEAR, altitude_deg=-4.0,
                           tolerance=Tolerance(10, 12, 1.0)) for i in range(LAT.size)]
    together = drift(tolerance=Tolerance(10, 12, 1.0))
    for name in together.__dataclass_fields__:
        np.testing.assert_array_equal(getattr(together, name), np.concatenate([getattr(one, name) for one in alone]))


def test_programmes_leave_out_the_same_nights():
    # A programme that is dusk to dawn but for one event must be judged as the fast way judges it.
    split = Programme("dusk to dawn", (Event("on", "dusk"), Event("off", "dawn")))
    zone = np.full(LAT.size, "Europe/Stockholm", dtype=object)
    conditions = Conditions(YEAR, -4.0, Tolerance(10, 12, 1.0))
    slow = programme_year(LAT, LON, zone, split, conditions, setting=SETTING).drift
    fast = programme_drift(LAT, LON, SETTING, conditions, legal_zone=zone)
    np.testing.assert_array_equal(slow.nights_not_judged, fast.nights_not_judged)
    judged_part = fast.dark_year_min - fast.dark_not_judged_min
    np.testing.assert_allclose(slow.dark_year_min - slow.dark_not_judged_min, judged_part, atol=1e-6)
    np.testing.assert_allclose(slow.worst_dark_min, fast.worst_dark_min, atol=1e-6)
    np.testing.assert_array_equal(slow.nights_beyond, fast.nights_beyond)


def test_envelope_takes_judged_nights_only():
    found = envelope(lat_deg=LAT, lon_deg=LON, year=YEAR, altitude_deg=-4.0, shallow_deg=1.0)
    times = switch_times(lat_deg=LAT, lon_deg=LON, year=YEAR, altitude_deg=-4.0)
    dusk = np.where(judged_nights(LAT, LON, YEAR, -4.0, 1.0), times.dusk_utc_min, np.nan)
    np.testing.assert_array_equal(found.dusk_earliest_utc_min, np.nanmin(dusk, axis=0))
    np.testing.assert_array_equal(found.dusk_latest_utc_min, np.nanmax(dusk, axis=0))
    assert found.sites_without.sum() == 0
    assert envelope(lat_deg=LAT, lon_deg=LON, year=YEAR, altitude_deg=-4.0).sites_without.sum() > 100


@pytest.mark.parametrize("depth", [-0.1, 5.1, float("nan")])
def test_a_depth_that_is_none(depth):
    with pytest.raises(InputError, match="shallow_deg"):
        Tolerance(5, 10, depth)
