"""Properties that dusk and dawn have at every place, year and threshold."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geozone.errors import InputError
from geozone.numbers.almanac import FIRST_YEAR, LAST_YEAR
from geozone.numbers.sun import State, switch_times

FEW = settings(max_examples=20, deadline=None)  # the first call compiles; a call is otherwise about 1 ms

latitudes = st.floats(-90, 90)
middle_latitudes = st.floats(-55, 55)
longitudes = st.floats(-180, 180)
years = st.sampled_from([1972, 1980, 2000, 2024, 2027, 2050, 2098])
thresholds = st.sampled_from([-50 / 60, -4.0, -6.0, -12.0, -18.0, 0.0, 3.0])


def at(lat, lon, year, altitude):
    return switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=altitude)


def noon_utc_min(lon, n_night):
    """Mean solar noons n_night + 1 of them; true noon is within 16.5 minutes (equation of time)."""
    return np.arange(n_night + 1) * 1440.0 + 720.0 - 4 * lon


EQUATION_OF_TIME_MIN = 16.6


@FEW
@given(latitudes, st.floats(-360, 360), years, thresholds)
def test_every_event_lies_in_its_own_night(lat, lon, year, altitude):
    ours = at(lat, lon, year, altitude)
    noon = noon_utc_min(lon, ours.night.size)
    for times in (ours.dusk_utc_min[0], ours.dawn_utc_min[0]):
        known = np.isfinite(times)
        assert (times[known] > noon[:-1][known] - EQUATION_OF_TIME_MIN).all()
        assert (times[known] < noon[1:][known] + EQUATION_OF_TIME_MIN).all()
    both = ours.state[0] == State.CROSSES
    assert (ours.dusk_utc_min[0, both] <= ours.dawn_utc_min[0, both]).all()


@FEW
@given(latitudes, longitudes, years, thresholds)
def test_state_says_exactly_which_times_exist(lat, lon, year, altitude):
    ours = at(lat, lon, year, altitude)
    has_dusk = np.isin(ours.state, (State.CROSSES, State.DUSK_ONLY))
    has_dawn = np.isin(ours.state, (State.CROSSES, State.DAWN_ONLY))
    assert (np.isfinite(ours.dusk_utc_min) == has_dusk).all()
    assert (np.isfinite(ours.dawn_utc_min) == has_dawn).all()
    assert ours.state.dtype == np.int8 and np.isin(ours.state, [int(s) for s in State]).all()
    assert ours.night.size == ours.state.shape[1] == (366 if year % 4 == 0 else 365)
    assert ours.night[0] == np.datetime64(f"{year}-01-01") and (np.diff(ours.night).astype(int) == 1).all()


@FEW
@given(st.floats(-89, 89), longitudes, years, thresholds)
def test_a_night_begins_as_the_last_one_ended(lat, lon, year, altitude):
    """Light or dark at a noon must be the same seen from the night before and from the night after.

    The sun stands highest a little after noon while the declination rises (a minute at 80 degrees, six at 88),
    and can then peep over the threshold between the two: by less than 0.01 degrees up to latitude 89.
    """
    disagree = unlike_neighbours(lat, lon, year, altitude)
    if disagree.size:
        for shift in (-0.01, 0.01):
            assert not np.intersect1d(disagree, unlike_neighbours(lat, lon, year, altitude + shift)).size


def unlike_neighbours(lat, lon, year, altitude):
    state = at(lat, lon, year, altitude).state[0]
    dark_at_start = np.isin(state, (State.BELOW, State.DAWN_ONLY))
    dark_at_end = np.isin(state, (State.BELOW, State.DUSK_ONLY))
    return np.flatnonzero(dark_at_end[:-1] != dark_at_start[1:])


@FEW
@given(middle_latitudes, st.floats(-179, 178), years, st.sampled_from([-50 / 60, -4.0, -6.0]))
def test_one_degree_east_is_four_minutes_earlier(lat, lon, year, altitude):
    west, east = at(lat, lon, year, altitude), at(lat, lon + 1, year, altitude)
    for edge in ("dusk_utc_min", "dawn_utc_min"):
        earlier = getattr(west, edge) - getattr(east, edge)
        here = np.isfinite(earlier)
        assert here.sum() > 300
        # In 4 of 1,440 minutes the sun's own drift, at most 4.5 min a day off the white nights, is 0.0125 min.
        graze = np.abs(np.gradient(getattr(west, edge)[0]) - 1440) > 4.5
        assert np.abs(earlier[0][here[0] & ~graze] - 4).max() < 0.0126


@FEW
@given(latitudes, longitudes, years, st.floats(-18, 5), st.floats(0.01, 5))
def test_a_higher_threshold_lengthens_the_night(lat, lon, year, altitude, more):
    low, high = at(lat, lon, year, altitude), at(lat, lon, year, altitude + more)
    both = np.isfinite(low.dusk_utc_min) & np.isfinite(high.dusk_utc_min)
    assert (high.dusk_utc_min[both] < low.dusk_utc_min[both]).all()
    both = np.isfinite(low.dawn_utc_min) & np.isfinite(high.dawn_utc_min)
    assert (high.dawn_utc_min[both] > low.dawn_utc_min[both]).all()
    # A night that is dark at the lower threshold all through is dark at the higher one; a light one the other way.
    assert (high.state[low.state == State.BELOW] == State.BELOW).all()
    assert (low.state[high.state == State.ABOVE] == State.ABOVE).all()


@FEW
@given(st.floats(1, 60), years)
def test_the_other_hemisphere_has_the_day_that_is_night_here(lat, year):
    """Turn the globe over: the geocentric sun is above the horizon at the antipode while it is below it here.

    So dusk here is dawn there, to the second: the antipode of (lat, lon) is (-lat, lon + 180). Parallax is taken
    out by asking for the altitude at which it cancels.
    """
    parallax = -8.794148 / 3600
    here, there = at(lat, 10.0, year, parallax), at(-lat, 190.0, year, parallax)
    # Night k there starts half a turn before night k here does.
    dusk_here = here.dusk_utc_min[0]
    dawn_there = there.dawn_utc_min[0]
    known = np.isfinite(dusk_here) & np.isfinite(dawn_there)
    assert known.all()
    assert np.abs(dusk_here - dawn_there).max() < 0.05 / 60  # 50 ms


@FEW
@given(st.floats(0, 50), st.sampled_from([2025, 2026, 2027]), st.sampled_from([-50 / 60, -6.0]))
def test_seasons_swap_across_the_equator(lat, year, altitude):
    """Roughly: the length of tonight's night at -lat is that at lat half a year on (182.6 nights)."""
    north, south = at(lat, 0.0, year, altitude), at(-lat, 0.0, year, altitude)
    length_n = (north.dawn_utc_min - north.dusk_utc_min)[0]
    length_s = (south.dawn_utc_min - south.dusk_utc_min)[0]
    later = np.roll(length_n, -183)
    # The two half-years differ by 7.6 days (Kepler), so the seasons slip by up to 4 nights.
    nightly = np.abs(np.gradient(length_n)).max()
    assert np.abs(later - length_s).max() < 6 * nightly + 0.5


@settings(max_examples=12, deadline=None)
@given(st.integers(1, 700), st.integers(0, 2**31), years, thresholds)
def test_order_and_number_of_sites_change_nothing(n, seed, year, altitude):
    """A site's times are the same bits wherever it stands in the list and however long the list is."""
    rng = np.random.default_rng(seed)
    lat, lon = rng.uniform(-90, 90, n), rng.uniform(-180, 180, n)
    order = rng.permutation(n)
    plain, shuffled = at(lat, lon, year, altitude), at(lat[order], lon[order], year, altitude)
    one = int(rng.integers(n))
    alone = at(lat[one], lon[one], year, altitude)
    for field in ("dusk_utc_min", "dawn_utc_min", "state"):
        assert getattr(plain, field)[order].tobytes() == getattr(shuffled, field).tobytes()
        assert getattr(plain, field)[one].tobytes() == getattr(alone, field)[0].tobytes()


@FEW
@given(latitudes, longitudes, thresholds)
def test_years_join_without_a_seam(lat, lon, altitude):
    """The last night of a year and the first of the next are a day apart, like any two nights."""
    last, first = at(lat, lon, 2027, altitude), at(lat, lon, 2028, altitude)
    for edge in ("dusk_utc_min", "dawn_utc_min"):
        run = np.concatenate([getattr(last, edge)[0, -4:], getattr(first, edge)[0, :4] + 365 * 1440.0])
        bend = np.diff(run, 3)  # a smooth run has a small third difference; a seam of s minutes has one of s
        if np.isfinite(bend).all() and abs(np.diff(run) - 1440).max() < 5:
            assert np.abs(bend).max() < 0.05


@FEW
@given(latitudes, st.floats(-180, 180), years, thresholds)
def test_a_longitude_a_full_turn_on_is_the_same_place_named_by_the_next_date(lat, lon, year, altitude):
    """Night k at lon + 360 starts a day before night k at lon: it is night k - 1 there."""
    here, unwrapped = at(lat, lon, year, altitude), at(lat, lon + 360, year, altitude)
    assert (here.state[:, :-1] == unwrapped.state[:, 1:]).mean() > 0.99
    for edge in ("dusk_utc_min", "dawn_utc_min"):
        off = getattr(here, edge)[:, :-1] - getattr(unwrapped, edge)[:, 1:]
        steady = np.abs(np.gradient(getattr(here, edge)[0])[:-1] - 1440) < 5
        steady &= np.isfinite(off[0])
        if steady.any():
            assert np.abs(off[0, steady]).max() < 0.003


@pytest.mark.parametrize("year", [FIRST_YEAR, LAST_YEAR])
def test_first_and_last_year_give_no_warning(year):
    """pytest turns warnings into errors: the Earth theory's and the leap-second table's limits must not show."""
    ours = at(50.0, 10.0, year, -6.0)
    assert (ours.state == State.CROSSES).all() and np.isfinite(ours.dusk_utc_min).all()


def test_not_a_place_is_refused():
    for bad in ({"lat_deg": 91.0}, {"lat_deg": np.nan}, {"lon_deg": 541.0}, {"altitude_deg": -91.0}, {"year": 1800},
                {"lat_deg": [1.0, 2.0]}):
        with pytest.raises(InputError):
            switch_times(**({"lat_deg": 0.0, "lon_deg": 0.0, "year": 2027, "altitude_deg": -6.0} | bad))
