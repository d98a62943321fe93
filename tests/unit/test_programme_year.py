"""A programme over a year at a few sites: nights worked by hand, clock changes, master clock, tables of hours."""

import doctest

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from geozone.errors import InputError
from geozone.numbers import clock
from geozone.numbers.sun import switch_times
from geozone.switching import hours, tariff
from geozone.switching import programme_year as py
from geozone.switching.assigned import Assigned
from geozone.switching.burning import difference_by_night, noons
from geozone.switching.conditions import Conditions
from geozone.switching.tariff import Band, Tariff, bins_of
from geozone.trade import programme
from geozone.trade.keypad import Keypad, check_programme
from geozone.trade.programme import DUSK_TO_DAWN, Event, Programme
from geozone.trade.setting import Setting, Tolerance
from geozone.trade.switchclock import SAVING_RULES, SwitchClock, best_keying

HERE = {"lat_deg": -35.1, "lon_deg": 141.0, "legal_zone": "Australia/Adelaide", "year": 2027, "altitude_deg": -4.0}
SITE = {**HERE, "lat_deg": [-35.1], "lon_deg": [141.0]}
UNTIL_2330 = Programme("until 23:30", (Event("on", "dusk"), Event("off", 1410)))


def ran(lat_deg, lon_deg, legal_zone, year, altitude_deg, programme=DUSK_TO_DAWN, setting=None, **more):
    """A programme over a year by what stands in dictionaries here."""
    return py.programme_year(lat_deg, lon_deg, legal_zone, programme, Conditions(year, altitude_deg, **more), setting=setting)


def local(utc_min, zone="Australia/Adelaide"):
    return str(clock.to_legal(utc_min, zone, 2027))


@pytest.mark.parametrize("module, at_least", [(py, 3), (programme, 1), (tariff, 1)])
def test_examples(module, at_least):
    failed, attempted = doctest.testmod(module)
    assert attempted >= at_least and failed == 0


def test_one_evening_by_hand():
    union = py.intended(UNTIL_2330, **HERE)
    times = switch_times(lat_deg=-35.1, lon_deg=141.0, year=2027, altitude_deg=-4.0)
    k = 200
    i = np.searchsorted(union.ends[0], times.dusk_utc_min[0, k] - 1)
    assert union.ends[0, i] == times.dusk_utc_min[0, k]
    assert local(union.ends[1, i]) == f"{times.night[k]}T23:30"


@pytest.mark.parametrize("zone, lat, lon, put_forward, put_back", [
    ("Australia/Adelaide", -34.9, 138.6, 274, 92), ("America/New_York", 40.7, -74.0, 71, 309),
    ("Europe/London", 51.5, -0.1, 85, 302), ("Australia/Lord_Howe", -31.55, 159.08, 274, 92),
])
def test_nights_of_the_clock_changes(zone, lat, lon, put_forward, put_back):
    """A lamp from 20:00 to 06:00 by the clock burns an hour (Lord Howe half) less, and more, in those nights."""
    by_clock = Programme("c", (Event("on", 1200), Event("off", 360)))
    union = py.intended(by_clock, lat_deg=lat, lon_deg=lon, legal_zone=zone, year=2027, altitude_deg=-4.0)
    empty = type(union)(np.empty((2, 0)), np.empty((2, 0), np.int8))
    by_night = difference_by_night(union, empty, noons(lon, 2027))
    step = 30 if "Howe" in zone else 60
    odd = {put_forward: 600 - step, put_back: 600 + step}
    assert {k: round(by_night[k]) for k in odd} == odd
    assert (np.round(np.delete(by_night, list(odd))) == 600).all()


def test_a_leap_year_has_its_night():
    found = py.lit_hours(**{**SITE, "year": 2028}, programme=Programme("c", (Event("on", 1200), Event("off", 360))))
    # Two clock changes cancel: 366 nights of ten hours; February has 29.
    assert found.sum() == pytest.approx(3660) and found[0, 1] == pytest.approx(290)


def test_part_of_a_white_night_is_not_meant_to_be_lit():
    where = {"lat_deg": [69.6], "lon_deg": [18.9], "legal_zone": "Europe/Oslo", "year": 2027, "altitude_deg": -4.0}
    for p in (UNTIL_2330, DUSK_TO_DAWN, Programme("one", (Event("on", "dusk"), Event("off", 60))),
              Programme("split", (Event("on", "dusk"), Event("off", 1410), Event("on", 300), Event("off", "dawn")))):
        assert py.lit_hours(**where, programme=p, reading="meant")[0, 5] == 0


def test_master_clock_and_own_clock():
    """Across a half-hour border: clock events come locally with own clocks, half an hour apart from a master."""
    setting = Setting(-35.1, 141.0, "Australia/Adelaide")
    site = {**SITE, "lon_deg": [141.0], "legal_zone": "Australia/Melbourne", "setting": setting}
    own = ran(**site, programme=UNTIL_2330).drift
    # Own clock: dusk half an hour early (the wall shows Melbourne time), the clock event right.
    assert own.worst_excess_min[0] == pytest.approx(30, abs=0.01) and own.worst_dark_min[0] < 0.01
    master = ran(**site, programme=UNTIL_2330, switch_clock="master").drift
    # Master: dusk right, 23:30 in Adelaide is midnight in Melbourne.
    assert master.worst_excess_min[0] == pytest.approx(30, abs=0.01) and master.worst_excess_edge[0] == "clock"
    assert own.worst_excess_edge[0] == "dusk"


def test_what_a_clock_that_cannot_be_keyed_costs():
    """A keypad that knows no daylight saving: right in winter, an hour late in summer, when 23:30 comes at 00:30."""
    from geozone.trade.switchclock import ClockKeypad

    legal = clock.offsets("Australia/Adelaide", 2027)
    keying = best_keying(legal, 2027, ClockKeypad((570,), (SAVING_RULES["none"],)))
    found = ran(**SITE, programme=UNTIL_2330, setting=Setting(-35.1, 141.0, "Australia/Adelaide"),
                              wall_clocks={legal.key: keying.sequence}).drift
    assert found.worst_excess_min[0] == pytest.approx(60) and found.worst_excess_edge[0] == "clock"
    weeks = keying.wrong_weeks
    assert found.excess_year_min[0] == pytest.approx(60 * 7 * weeks, abs=61) and weeks == pytest.approx(26, abs=0.5)
    assert SwitchClock(570).sequence(2027).key == keying.sequence.key


def test_wrong_words_are_refused():
    for bad in ({"switch_clock": "both"}, {"programme": Programme("p", (Event("on", "dusk", 100),))}):
        with pytest.raises((ValueError, InputError)):
            ran(**SITE, **bad)
    with pytest.raises(ValueError):
        py.lit_hours(**SITE, reading="hoped")


def test_a_programme_to_compare_with_may_have_more_events_than_can_be_keyed():
    """Dusk to dawn, which every run compares with, has two: a keypad of one event must not stop the run."""
    keypad = Keypad(event_limit=1)
    assert (ran(**SITE, keypad=keypad).lit_min == ran(**SITE).lit_min).all()
    with pytest.raises(InputError, match="more events than the keypad holds"):
        check_programme(DUSK_TO_DAWN, keypad)


def test_bands_by_hand():
    """A lamp from 20:00 to 06:00; cheap from 22:00 to 04:00 on weekdays, so six of ten hours."""
    prices = Tariff(2.0, (Band("low", 1.0, 1320, 240, frozenset(range(5))),))
    p = Programme("c", (Event("on", 1200), Event("off", 360)))
    found = ran(**{**SITE, "legal_zone": "Australia/Brisbane", "lon_deg": [152.0]}, programme=p, tariff=prices)
    low = found.lit_min[0, :, 1].sum() / 60
    # 2027 has 261 weekdays, Friday 1 January and Friday 31 December: low hours are 2 in the evening, 4 in the morning of
    # each. The morning of 1 January lies before the year's first noon; 1 January 2028 is a Saturday.
    assert low == pytest.approx(261 * 2 + 260 * 4)
    assert found.lit_min.sum() / 60 == pytest.approx(3650)


def test_bins_cover_the_year_once():
    for zone in ("Australia/Adelaide", "Australia/Lord_Howe", "America/St_Johns"):
        bins = bins_of(clock.offsets(zone, 2027), 2027, Tariff(1.0, (Band("x", 1.0, 60, 200),)))
        assert bins.edge[-1] - bins.edge[0] == 365 * 1440 and (np.diff(bins.edge) > 0).all()


def sites():
    table = pd.DataFrame({"site_id": ["a", "b", "c"], "row": [2, 3, 4], "lat_deg": [-35.1, -36.0, -34.0],
                          "lon_deg": [141.0, 142.0, 140.0], "solar_lon_deg": [141.0, 142.0, 140.0],
                          "legal_zone": ["Australia/Adelaide", "Australia/Melbourne", "Australia/Adelaide"],
                          "load_w": [100.0, np.nan, 50.0], "area": ["N", "S", ""], "kind": ["p", "q", "p"]}, index=[7, 3, 5])
    return gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(table["lon_deg"], table["lat_deg"]), crs=4326)


P, Q = Programme("p", UNTIL_2330.events), Programme("q", DUSK_TO_DAWN.events)


def test_site_table_is_index_identical_and_adds_up():
    conditions = Conditions(2027, -4.0, tariff=Tariff(0.5))
    setting = {"A": Setting(-35.1, 141.0, "Australia/Adelaide"), "B": Setting(-36.0, 142.0, "Australia/Melbourne")}
    table = hours.site_hours(sites(), [P, Q], conditions, programme=sites()["kind"], settings=setting,
                             setting_of=pd.Series(["A", "B", "A"], index=sites().index))
    assert list(table.index) == [7, 3, 5]
    months = [f"lit_{m:02d}_h" for m in range(1, 13)]
    assert np.allclose(table[months].sum(axis=1), table["lit_h"])
    assert np.allclose(table["kwh"], [0.1 * table["lit_h"][7], np.nan, 0.05 * table["lit_h"][5]], equal_nan=True)
    assert np.allclose(table["cost"], table["kwh"] / 2, equal_nan=True)
    # Each site alone gives the same numbers: rows do not see each other.
    alone = ran(**{**SITE, "lat_deg": [-34.0], "lon_deg": [140.0]}, programme=P, setting=setting["A"])
    assert table["lit_h"][5] == pytest.approx(alone.lit_min.sum() / 60) and table["worst_dark_min"][5] == alone.drift.worst_dark_min[0]
    by = hours.hours_by(table, "programme")
    assert by["sites"].to_dict() == {"p": 2, "q": 1} and by["site_h"].sum() == pytest.approx(table["lit_h"].sum())
    summary = hours.hours_summary(table)
    assert summary["by_programme"]["p"]["kwh"] == pytest.approx(table["kwh"][[7, 5]].sum(), abs=1e-3)
    assert summary["by_programme"]["q"]["sites_with_load"] == 0 and summary["dark_h"] >= 0


def test_comparison_of_ways():
    conditions = Conditions(2027, -4.0)
    groups = {"A": Setting(-35.1, 141.0, "Australia/Adelaide"), "B": Setting(-36.0, 142.0, "Australia/Melbourne")}
    ways = hours.comparison_of_settings(sites(), Assigned((Q,), None, groups, ["A", "B", "A"], groups["A"], True), conditions)
    assert list(ways.index) == ["own setting", "groups", "one shared setting", "dusk to dawn"]
    # Exact positions that the keypad holds: no drift. One shared setting is half an hour off over the border.
    assert ways.loc["own setting", "dark_h"] == 0 and ways.loc["own setting", "excess_h"] == 0
    assert ways.loc["groups", "worst_dark_min"] < ways.loc["one shared setting", "worst_dark_min"] + 1e-9
    assert ways.loc["one shared setting", "excess_h"] > 365 * 0.4
    assert ways.loc["dusk to dawn", "site_h"] == pytest.approx(ways.loc["own setting", "site_h"])


def test_assignment():
    assert hours.assigned_programmes(sites(), [P, Q], column="kind").tolist() == ["p", "q", "p"]
    assert hours.assigned_programmes(sites(), [P]).tolist() == ["p"] * 3
    by_area = [Programme("p", P.events, areas=("N",)), Programme("q", Q.events)]
    assert hours.assigned_programmes(sites(), by_area).tolist() == ["p", "q", "q"]


@pytest.mark.parametrize("programmes, column, what", [
    ([P, Q], None, "not said which site"), ([P, Q], "colour", "no such column"), ([P], "kind", "unknown programme"),
    ([P, Q, Programme("r", P.events)], "kind", "nobody uses programme 'r'"),
    ([Programme("p", P.events, areas=("N",)), Programme("q", P.events, areas=("N",))], None, "two programmes"),
    ([Programme("p", P.events, areas=("N", "X")), Q], None, "no site lies"),
    ([Programme("p", P.events, areas=("N",)), Programme("q", P.events, areas=("S",))], None, "name no programme"),
])
def test_assignment_faults(programmes, column, what):
    with pytest.raises(InputError, match=what):
        hours.assigned_programmes(sites(), programmes, column=column, where="job.toml")


@pytest.mark.parametrize("named, step", [("Nort", "did you mean North"), ("Deuel", r"did you mean Deuel \(SD\)"),
                                         ("X", "areas with sites: North, Deuel")])
def test_an_area_that_nobody_lies_in_is_answered_with_those_that_are_there(named, step):
    places = sites().assign(area=["North", "Deuel (SD)", ""])
    with pytest.raises(InputError, match=step):
        hours.assigned_programmes(places, [Programme("p", P.events, areas=(named,)), Q], where="job.toml")


def test_nights_beyond_follow_the_tolerance():
    late = Setting(-35.1, 141.0, "Australia/Adelaide", 8, 0)
    few = ran(**SITE, programme=DUSK_TO_DAWN, setting=late, tolerance=Tolerance(10, 10)).drift
    many = ran(**SITE, programme=DUSK_TO_DAWN, setting=late, tolerance=Tolerance(5, 10)).drift
    assert few.nights_beyond[0] == 0 and many.nights_beyond[0] == 365
    assert many.worst_dark_min[0] == pytest.approx(8) and many.dark_year_min[0] == pytest.approx(8 * 365)


def test_energy_per_area():
    assert hours.energy_per_area_kwh_m2(43_800, 10_000) == pytest.approx(4.38)
    with pytest.raises(InputError):
        hours.energy_per_area_kwh_m2(1, 0)
