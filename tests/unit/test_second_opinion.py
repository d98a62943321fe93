"""The second opinion: agreement world-wide, sensitivity to a wrong time, and no exception anywhere."""

import numpy as np
import pytest

from geozone.numbers.sun import State, switch_times
from geozone.sharing.second_opinion import STEADY_DEG_PER_MIN, sample, second_opinion


def opinion(lat, lon, year, altitude, size, seed=1, shift_min=0.0):
    lat, lon = np.atleast_1d(lat).astype(float), np.atleast_1d(lon).astype(float)
    ours = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=altitude)
    site, night = sample(lat.size, ours.night.size, size, seed)
    return second_opinion(lat_deg=lat[site], lon_deg=lon[site], night=ours.night[night],
                          dusk_utc_min=ours.dusk_utc_min[site, night] + shift_min,
                          dawn_utc_min=ours.dawn_utc_min[site, night] + shift_min, year=year, altitude_deg=altitude)


@pytest.mark.parametrize("altitude", [-50 / 60, -4.0, -6.0, -12.0])
@pytest.mark.parametrize("low, high, median_s, steady_s", [
    (0, 40, 1.5, 4.5), (40, 55, 1.7, 5.2), (55, 60, 2.0, 5.5), (60, 66, 2.5, 6.0), (66, 75, 3.0, 6.0)])
def test_the_table_in_the_docstring(low, high, median_s, steady_s, altitude):
    rng = np.random.default_rng(low)
    lat, lon = rng.uniform(low, high, 150) * rng.choice([-1, 1], 150), rng.uniform(-180, 180, 150)
    found = opinion(lat, lon, 2028, altitude, 250)
    assert found.compared > 250
    assert found.table["difference_s"].abs().median() < median_s and found.largest_steady_s < steady_s
    assert found.unmatched + found.surplus <= (0 if high <= 55 else 5)
    assert found.table["altitude_off_deg"].abs().max() < 0.02


@pytest.mark.parametrize("altitude", [-50 / 60, -6.0])
def test_every_longitude_and_every_hour_near_midnight(altitude):
    """One night at each degree of longitude: for some of them the event falls within seconds of midnight UTC."""
    lon = np.arange(-180.0, 180.0, 0.5)
    ours = switch_times(lat_deg=np.full(lon.size, 20.0), lon_deg=lon, year=2027, altitude_deg=altitude)
    night = np.full(lon.size, 123)
    found = second_opinion(lat_deg=np.full(lon.size, 20.0), lon_deg=lon, night=ours.night[night],
                           dusk_utc_min=ours.dusk_utc_min[:, 123], dawn_utc_min=ours.dawn_utc_min[:, 123],
                           year=2027, altitude_deg=altitude)
    assert (found.compared, found.unmatched, found.surplus) == (2 * lon.size, 0, 0)
    assert found.largest_s < 4.5


def test_longitudes_beyond_the_date_line():
    wrapped = opinion(-13.8, -172.0, 2027, -6.0, 365)
    legal = opinion(-13.8, 188.0, 2027, -6.0, 365)
    assert wrapped.largest_s < 4.5 and legal.largest_s < 4.5 and legal.unmatched == legal.surplus == 0


@pytest.mark.parametrize("shift_min", [1.0, -1.0, 60.0, -300.0])
def test_a_wrong_time_shows(shift_min):
    """The comparison can fail: a minute or an hour put into our times comes out as that much."""
    found = opinion(-35.1, 141.0, 2027, -4.0, 60, shift_min=shift_min)
    assert found.compared == 120
    assert found.mean_s == pytest.approx(abs(shift_min) * 60, abs=4.5)
    assert np.sign(found.table["difference_s"]).eq(-np.sign(shift_min)).all()


def test_an_exchanged_dusk_and_dawn_shows():
    ours = switch_times(lat_deg=-35.1, lon_deg=141.0, year=2027, altitude_deg=-4.0)
    found = second_opinion(lat_deg=-35.1, lon_deg=141.0, night=ours.night[10], dusk_utc_min=ours.dawn_utc_min[0, 10],
                           dawn_utc_min=ours.dusk_utc_min[0, 10], year=2027, altitude_deg=-4.0)
    assert found.compared == 2 and found.largest_s > 3600


def test_polar_places_and_poles_never_raise():
    lat = np.array([90.0, -90.0, 89.9, -89.9, 85, -80, 70, -67, 61.0])
    for altitude in (-50 / 60, -6.0, -18.0, 0.0, 5.0, 60.0):
        found = opinion(lat, np.linspace(-180, 180, lat.size), 2027, altitude, 300)
        assert len(found.table) == 600
        assert found.compared + found.unmatched == found.table["utc_min"].notna().sum()
        assert found.table["altitude_off_deg"].abs().max() < 0.25 or np.isnan(found.table["altitude_off_deg"].max())


def test_nights_without_an_event_agree():
    """Where the sun does not cross by our account, astral has no crossing between the two noons either."""
    lat, lon = np.full(40, 70.0), np.linspace(-180, 175, 40)
    ours = switch_times(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=-6.0)
    night = int(np.flatnonzero(ours.night == np.datetime64("2027-06-21"))[0])
    assert (ours.state[:, night] == State.ABOVE).all()
    found = second_opinion(lat_deg=lat, lon_deg=lon, night=np.full(40, ours.night[night]),
                           dusk_utc_min=ours.dusk_utc_min[:, night], dawn_utc_min=ours.dawn_utc_min[:, night],
                           year=2027, altitude_deg=-6.0)
    assert (found.compared, found.unmatched, found.surplus) == (0, 0, 0)
    assert np.isnan(found.largest_s) and np.isnan(found.mean_s) and np.isnan(found.largest_steady_s)


def test_an_event_that_we_deny_is_counted():
    ours = switch_times(lat_deg=-35.1, lon_deg=141.0, year=2027, altitude_deg=-4.0)
    found = second_opinion(lat_deg=-35.1, lon_deg=141.0, night=ours.night[10], dusk_utc_min=np.nan,
                           dawn_utc_min=ours.dawn_utc_min[0, 10], year=2027, altitude_deg=-4.0)
    assert (found.compared, found.unmatched, found.surplus) == (1, 0, 1)


def test_an_event_that_astral_denies_is_counted():
    # 21 June at 70 degrees north: the sun does not set, so a made-up dusk has no partner.
    found = second_opinion(lat_deg=70.0, lon_deg=20.0, night=np.datetime64("2027-06-21"),
                           dusk_utc_min=171 * 1440 + 1360.0, dawn_utc_min=np.nan, year=2027, altitude_deg=-6.0)
    assert (found.compared, found.unmatched, found.surplus) == (0, 1, 0)


def test_nothing_to_compare():
    empty = np.zeros(0)
    found = second_opinion(lat_deg=empty, lon_deg=empty, night=np.zeros(0, "datetime64[D]"), dusk_utc_min=empty,
                           dawn_utc_min=empty, year=2027, altitude_deg=-6.0)
    assert found.compared == found.unmatched == found.surplus == 0
    assert np.isnan(found.largest_s) and len(found.table) == 0


def test_table_names_the_events():
    found = opinion(60.0, 24.0, 2027, -4.0, 5)
    assert found.table["edge"].tolist() == ["dusk", "dawn"] * 5
    assert str(found.table["night"].dtype).startswith("datetime64")
    assert (found.table["crossing_deg_per_min"] > STEADY_DEG_PER_MIN * 0.3).all()
    off = (found.table["astral_utc_min"] - found.table["utc_min"]) * 60
    assert off.tolist() == pytest.approx(found.table["difference_s"].tolist(), abs=1e-6)


def test_sample_is_repeatable_without_repetition_and_within_bounds():
    site, night = sample(1000, 365, 200, seed=3)
    again = sample(1000, 365, 200, seed=3)
    assert (site == again[0]).all() and (night == again[1]).all()
    assert not (site == sample(1000, 365, 200, seed=4)[0]).all()
    assert site.size == 200 and len(set(zip(site.tolist(), night.tolist()))) == 200
    assert 0 <= site.min() and site.max() < 1000 and 0 <= night.min() and night.max() < 365
    assert np.unique(site).size > 150 and np.unique(night).size > 100


def test_sample_of_more_than_there_is_takes_all():
    site, night = sample(3, 4, 99, seed=0)
    assert sorted(zip(site.tolist(), night.tolist())) == [(i, j) for i in range(3) for j in range(4)]
    assert sample(0, 365, 10, seed=0)[0].size == sample(5, 365, 0, seed=0)[1].size == 0


def test_sample_of_a_million_sites_is_quick():
    site, night = sample(1_000_000, 366, 300, seed=0)
    assert site.size == 300 and site.max() > 900_000
