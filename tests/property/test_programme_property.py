"""Properties of programmes that hold for any place, setting and events."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from geozone.numbers import clock
from geozone.numbers.intervals import lit_minutes, minus, union_of
from geozone.sharing.drift import setting_drift
from geozone.switching.burning import difference_by_night, noons
from geozone.switching.conditions import Conditions
from geozone.switching.foolish import Switch, foolish_nights, wrong_minutes, year_at
from geozone.switching.programme_year import intended, lit_hours, programme_year
from geozone.switching.tariff import Band, Tariff
from geozone.trade.duedays import events_on
from geozone.trade.programme import DAY_SETS, DUSK_TO_DAWN, Event, Programme, Season
from geozone.trade.setting import Setting, Tolerance

YEARS = st.sampled_from([2027, 2028])
ZONES = st.sampled_from(["Australia/Adelaide", "Australia/Brisbane", "Europe/London", "America/New_York", "UTC"])
DAYS = st.sampled_from(list(DAY_SETS.values()))
SEASONS = st.one_of(st.none(), st.builds(Season, st.sampled_from([101, 229, 401, 1001]), st.sampled_from([131, 331, 930, 1231])))
SUN_EVENTS = st.builds(Event, st.sampled_from(["on", "off"]), st.sampled_from(["dusk", "dawn"]), st.integers(-90, 90), DAYS, SEASONS)
CLOCK_EVENTS = st.builds(Event, st.sampled_from(["on", "off"]), st.integers(0, 1440), st.just(0), DAYS, SEASONS)
PROGRAMMES = st.builds(Programme, st.just("p"), st.lists(st.one_of(SUN_EVENTS, CLOCK_EVENTS), min_size=1, max_size=5).map(tuple),
                       st.sampled_from(["night", "date"]))
LATITUDES = st.floats(-58, 58)
FEW = settings(max_examples=40, deadline=None)


def at(lat, lon=138.0, zone="Australia/Adelaide", year=2027, altitude=-4.0):
    return {"lat_deg": lat, "lon_deg": lon, "legal_zone": zone, "year": year, "altitude_deg": altitude}


def zone_lon(zone):
    return {"Australia/Adelaide": 138.0, "Australia/Brisbane": 152.0, "Europe/London": -1.5, "America/New_York": -74.0, "UTC": 0.0}[zone]


@FEW
@given(PROGRAMMES, LATITUDES, ZONES, YEARS)
def test_a_union_differs_from_itself_by_nothing(programme, lat, zone, year):
    for reading in ("meant", "obeyed"):
        union = intended(programme, **at(lat, zone_lon(zone), zone, year), reading=reading)
        noon = noons(zone_lon(zone), year)
        assert difference_by_night(union, union, noon).sum() == 0
        # And it is a union: ascending, apart, not empty.
        assert (union.ends[1] > union.ends[0]).all() and (union.ends[0, 1:] > union.ends[1, :-1]).all()


@FEW
@given(PROGRAMMES, LATITUDES, ZONES)
def test_own_setting_that_obeys_in_the_meant_order_has_no_drift(programme, lat, zone):
    """Intended == delivered gives zero wherever no foolish night is reported, and only there."""
    lon = zone_lon(zone)
    found = programme_year([lat], [lon], zone, programme, Conditions(2027, -4.0))
    wrong = found.drift.dark_year_min[0] + found.drift.excess_year_min[0]
    switch = Switch("s", Setting(lat, lon, zone), zone)
    kinds = {f.kind for f in foolish_nights(programme, [switch], Conditions(2027, -4.0))}
    if not kinds - {"never happens", "left out by the clock"}:
        # Half a minute a night is what a foolish night starts from.
        assert wrong <= 0.5 * 365
    else:
        assert wrong > 0 or kinds <= {"never happens", "left out by the clock", "twice on the clock"}


@FEW
@given(st.integers(-60, 60), st.floats(-50, 50), YEARS)
def test_shifting_a_programme_shifts_its_intervals(m, lat, year):
    base = Programme("p", (Event("on", "dusk"), Event("off", 1320), Event("on", "dawn", -45), Event("off", "dawn")))
    moved = Programme("p", (Event("on", "dusk", m), Event("off", 1320 + m), Event("on", "dawn", m - 45), Event("off", "dawn", m)))
    # On a clock that is never changed, so that minutes of the clock are minutes.
    for reading in ("meant", "obeyed"):
        a, b = (intended(p, **at(lat, 152.0, "Australia/Brisbane", year), reading=reading) for p in (base, moved))
        assert a.ends.shape == b.ends.shape
        # Not the last one, which may be cut at the end of the year's computation.
        assert np.allclose(a.ends[:, :-1] + m, b.ends[:, :-1], atol=1e-6)


@FEW
@given(PROGRAMMES, LATITUDES, ZONES, YEARS)
def test_total_is_the_sum_of_months_and_of_bands(programme, lat, zone, year):
    lon = zone_lon(zone)
    tariff = Tariff(1.0, (Band("low", 2.0, 1320, 420), Band("noon", 3.0, 660, 780, frozenset((0, 3)))))
    found = programme_year([lat], [lon], zone, programme, Conditions(year, -4.0, tariff=tariff))
    months = lit_hours(lat_deg=[lat], lon_deg=[lon], legal_zone=zone, programme=programme, year=year, altitude_deg=-4.0)
    assert np.allclose(found.lit_min.sum(2) / 60, months, atol=1e-9)
    union = intended(programme, **at(lat, lon, zone, year), reading="obeyed")
    span = np.array([0.5, (366 if year == 2028 else 365) + 0.5]) * 1440
    first, last = span - clock.offset_min_at(clock.offsets(zone, year), span)
    assert np.isclose(found.lit_min.sum(), lit_minutes(union.ends, first=first, last=last), atol=1e-5)


@FEW
@given(st.floats(-60, 60), st.floats(-60, 60), st.floats(125, 155), st.floats(-8, 8), st.integers(-30, 30), st.integers(-30, 30))
def test_plain_dusk_to_dawn_agrees_with_the_fast_way_to_the_second(lat, key_lat, lon, east, dusk, dawn):
    setting = Setting(key_lat, lon + east, "Australia/Adelaide", dusk, dawn)
    where = {"lat_deg": [lat, lat / 2], "lon_deg": [lon, lon + 1.0], "legal_zone": ["Australia/Adelaide", "Australia/Melbourne"],
             "setting": setting, "year": 2027, "altitude_deg": -4.0, "tolerance": Tolerance(5, 10)}
    fast = setting_drift(**where)
    full = programme_year(where["lat_deg"], where["lon_deg"], where["legal_zone"], DUSK_TO_DAWN, Conditions(2027, -4.0, Tolerance(5, 10)),
                          setting=setting).drift
    for name in ("worst_dark_min", "worst_excess_min", "dark_year_min", "excess_year_min"):
        assert np.allclose(getattr(fast, name), getattr(full, name), atol=1 / 60), name
    assert (fast.nights_beyond == full.nights_beyond).all()
    assert (fast.worst_dark_edge == full.worst_dark_edge).all() or (fast.worst_dark_min < 1e-6).any()


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 1e5), st.floats(0, 2000)), max_size=12),
       st.lists(st.tuples(st.floats(0, 1e5), st.floats(0, 2000)), max_size=12))
def test_measures_add_up(a, b):
    def union(pairs):
        return union_of([p[0] for p in pairs], [p[0] + p[1] for p in pairs])[0]

    ua, ub = union(a), union(b)
    both = union_of(np.concatenate([ua[0], ub[0]]), np.concatenate([ua[1], ub[1]]))[0]
    # |A or B| = |A| + |B without A| = |B| + |A without B|.
    assert np.isclose(lit_minutes(both), lit_minutes(ua) + minus(ub, ua), atol=1e-6)
    assert np.isclose(lit_minutes(both), lit_minutes(ub) + minus(ua, ub), atol=1e-6)


@FEW
@given(PROGRAMMES, ZONES)
def test_the_written_order_of_events_does_not_matter_but_for_ties(programme, zone):
    turned = Programme("p", programme.events[::-1], programme.night_rule)
    kinds = [(e.at, e.shift_min) for e in programme.events]
    minutes = [0 if e.at == 1440 else e.at for e in programme.events]
    if len(set(zip(minutes, (k[1] for k in kinds)))) < len(kinds):
        return
    a, b = (intended(p, **at(-35.0, zone_lon(zone), zone), reading="meant") for p in (programme, turned))
    assert np.array_equal(a.ends, b.ends)
    offsets = clock.offsets(zone, 2027)
    assert events_on(programme, offsets, 2027).stream_utc.size == events_on(turned, offsets, 2027).stream_utc.size


@settings(max_examples=15, deadline=None)
@given(PROGRAMMES, LATITUDES, ZONES)
def test_foolish_hours_that_can_be_added_count_each_night_once(programme, lat, zone):
    switch = Switch("s", Setting(lat, zone_lon(zone), zone), zone, ("a",))
    found = foolish_nights(programme, [switch], Conditions(2027, -4.0))
    wrong = wrong_minutes(year_at(programme, switch, Conditions(2027, -4.0)))
    assert abs(sum(one.counted_hours for one in found) - wrong[wrong > 0.5].sum() / 60) < 1e-6
