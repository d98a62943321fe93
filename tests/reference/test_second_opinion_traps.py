"""What astral 3.2 does, pinned: why `geozone.sharing.second_opinion` asks it the way it does.

astral is an independent library (Apache-2.0). Each test shows one of its ways that would turn a plain comparison into
a false alarm, and that ours does not fall into it. If one of them fails after an update, astral has changed: look at
`geozone/second_opinion.py` again.
"""

import datetime as dt

import numpy as np
import pytest
from astral import Observer, SunDirection
from astral.sun import dusk, sun, sunset, time_at_elevation, time_of_transit

from geozone.numbers.sun import switch_times
from geozone.sharing.second_opinion import second_opinion

UTC = dt.timezone.utc


def minutes(event, year=2027):
    return (event - dt.datetime(year, 1, 1, tzinfo=UTC)).total_seconds() / 60


def ours(lat, lon, night, altitude):
    """One night of geozone and its second opinion."""
    times = switch_times(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=altitude)
    k = int(np.flatnonzero(times.night == np.datetime64(night))[0])
    dusk_min, dawn_min = times.dusk_utc_min[0, k], times.dawn_utc_min[0, k]
    return dusk_min, dawn_min, second_opinion(lat_deg=lat, lon_deg=lon, night=times.night[k], dusk_utc_min=dusk_min,
                                              dawn_utc_min=dawn_min, year=2027, altitude_deg=altitude)


def test_on_utc_dates_dusk_comes_before_dawn_in_the_americas():
    day = sun(Observer(39.7, -105.0), dt.date(2027, 6, 21), tzinfo=UTC)
    assert day["dusk"] < day["dawn"] and day["sunset"] < day["sunrise"]
    dusk_min, dawn_min, found = ours(39.7, -105.0, "2027-06-21", -6.0)
    assert dusk_min < dawn_min
    # Taken by calendar date, astral's dusk would be a day off; the nearest one is seconds off.
    assert abs(minutes(day["dusk"]) - dusk_min) > 1430
    assert found.compared == 2 and found.largest_s < 4.5


def test_near_midnight_the_plain_functions_find_nothing():
    with pytest.raises(ValueError, match="Unable to find"):
        sunset(Observer(-35.0, -106.0), dt.date(2027, 6, 23), tzinfo=UTC)
    _, _, found = ours(-35.0, -106.0, "2027-06-22", -50 / 60)
    assert found.compared == 2 and found.largest_s < 4.5
    _, _, found = ours(-35.0, -106.0, "2027-06-23", -50 / 60)
    assert found.compared == 2 and found.largest_s < 4.5


def test_twilight_functions_add_refraction_below_the_horizon():
    place, date = Observer(52.0, 0.0), dt.date(2027, 3, 21)
    geometric = time_at_elevation(place, -6.0, date, SunDirection.SETTING, with_refraction=False)
    assert (dusk(place, date, 6.0, UTC) - geometric).total_seconds() == pytest.approx(22, abs=3)
    assert time_of_transit(place, date, 96.0, SunDirection.SETTING, with_refraction=False) == geometric
    dusk_min, _, _ = ours(52.0, 0.0, "2027-03-21", -6.0)
    assert minutes(geometric) == pytest.approx(dusk_min, abs=4.5 / 60)
    assert minutes(dusk(place, date, 6.0, UTC)) - dusk_min > 15 / 60


def test_an_event_at_midnight_utc_is_missing_on_every_date():
    lat, lon = -7.7, 87.8
    dusk_min, dawn_min, found = ours(lat, lon, "2027-07-31", -6.0)
    assert dawn_min / 1440 == pytest.approx(212, abs=1e-3)  # within seconds of midnight UTC, 1 August
    events = [minutes(time_at_elevation(Observer(lat, lon), -6.0, dt.date(2027, 7, 30) + dt.timedelta(days),
                                        SunDirection.RISING, with_refraction=False)) for days in range(5)]
    assert np.abs(np.array(events) - dawn_min).min() > 1400
    assert found.compared == 2 and found.unmatched == 0 and found.largest_s < 4.5


def test_beside_white_nights_it_is_minutes_off_or_finds_nothing():
    """Anchorage, civil twilight, the nights beside the white ones: the altitudes agree, the times need not."""
    times = switch_times(lat_deg=61.2181, lon_deg=-149.9003, year=2027, altitude_deg=-6.0)
    dark = np.flatnonzero(np.isfinite(times.dusk_utc_min[0]))
    last = dark[np.flatnonzero(np.diff(dark) > 1)[0]]
    night = np.arange(last - 8, last + 1)
    place = np.ones(night.size)
    found = second_opinion(lat_deg=61.2181 * place, lon_deg=-149.9003 * place, night=times.night[night],
                           dusk_utc_min=times.dusk_utc_min[0, night], dawn_utc_min=times.dawn_utc_min[0, night],
                           year=2027, altitude_deg=-6.0)
    assert found.compared + found.unmatched == 2 * night.size
    assert found.largest_s > 10 or found.unmatched > 0
    assert np.isnan(found.largest_steady_s)  # none of them counts as steady
    assert found.table["altitude_off_deg"].abs().max() < 0.017
