"""What a run says about programmes: tables that add up, clocks, timetables, and files with harmless names."""

from dataclasses import replace

import geopandas as gpd
import icalendar
import numpy as np
import pandas as pd
import pytest

from geozone.files.programmefiles import _cure_text, _names, group_key_events
from geozone.places.legalzones import add_legal_time, clock_rules
from geozone.screens.mapprogrammes import MORE_FOR_LESS, dearer_hours
from geozone.switching.assigned import Assigned
from geozone.switching.conditions import Conditions
from geozone.switching.programmeanswers import keyed_clocks, programme_answers, wall_clocks
from geozone.switching.tariff import Tariff
from geozone.trade.programme import DUSK_TO_DAWN, Event, Programme
from geozone.trade.setting import Setting, Tolerance
from geozone.trade.switchclock import ClockKeypad

YEAR, ALTITUDE = 2027, -4.0
PART = Programme("part-night", (Event("on", "dusk"), Event("off", 1410), Event("off", "dawn")))
EARLY = Programme("early", (Event("on", "dusk"), Event("off", 1320), Event("on", 375), Event("off", "dawn")))


def sites_at(lat, lon, zone=None, load=200.0):
    n = len(lat)
    sites = gpd.GeoDataFrame({"site_id": [f"S{i}" for i in range(n)], "name": "", "lat_deg": np.array(lat, float),
                              "lon_deg": np.array(lon, float), "legal_zone_given": zone or [""] * n, "load_w": load,
                              "row": np.arange(2, n + 2)}, geometry=gpd.points_from_xy(lon, lat), crs=4326)
    return add_legal_time(sites, YEAR)


def answers_for(sites, programmes, programme_of, settings, setting_of, keypad=ClockKeypad(), switch_clock="own", **options):
    rules = clock_rules(sites, YEAR)
    keyed = keyed_clocks(rules, YEAR, keypad)
    conditions = Conditions(YEAR, ALTITUDE, Tolerance(3, 6), tariff=Tariff(0.25, currency="EUR"), wall_clocks=wall_clocks(keyed),
                            switch_clock=switch_clock)
    assigned = Assigned(tuple(programmes), pd.Series(programme_of, index=sites.index), settings, setting_of, next(iter(settings.values())),
                        options.pop("groups", len(settings) > 1))
    return programme_answers(sites, assigned, conditions, rules, keyed, **options)


@pytest.fixture(scope="module")
def found():
    sites = sites_at([-35.0, -35.2, -35.1, -35.6], [139.9, 140.1, 142.0, 142.1])
    settings = {"A": Setting(-35.1, 140.0, "Australia/Adelaide"), "B": Setting(-35.6, 142.1, "Australia/Melbourne")}
    programmes = (DUSK_TO_DAWN, PART, EARLY)
    return sites, answers_for(sites, programmes, ["dusk to dawn", "part-night", "part-night", "early"], settings,
                              ["A", "A", "B", "B"], timetable=("month", 10), title="t")


def test_every_level_of_the_hours_adds_up_to_the_sites(found):
    sites, answers = found
    hours = answers.hours
    assert list(dict.fromkeys(hours["level"])) == ["programme", "group", "programme and group", "site"]
    whole = answers.sites[["lit_h", "kwh", "cost", "dark_h", "excess_h"]].sum()
    for level in dict.fromkeys(hours["level"]):
        part = hours[hours["level"] == level]
        assert part["sites"].sum() == len(sites)
        assert part["site_h"].sum() == pytest.approx(whole["lit_h"])
        for name in ("kwh", "cost", "dark_h", "excess_h"):
            assert part[name].sum() == pytest.approx(whole[name])
    # E = P H / 1000, MIL-HDBK-1133 equation 1, and the flat price.
    assert answers.sites["kwh"].tolist() == pytest.approx((0.2 * answers.sites["lit_h"]).tolist())
    assert answers.sites["cost"].tolist() == pytest.approx((0.25 * answers.sites["kwh"]).tolist())


def test_only_the_foolish_programme_is_found_and_cured(found):
    _, answers = found
    assert set(answers.foolish["programme"]) == {"early"} == set(answers.cures)
    assert answers.cures["early"].verified
    # The foolish site stands where its setting says: on its own setting it burns by day on the very same nights.
    assert answers.comparison.loc["own setting", "excess_h"] == pytest.approx(answers.foolish["site_hours"].sum(), abs=1.0)


def test_the_timetable_keeps_dark_minutes_and_its_calendar_holds_its_times(found):
    sites, answers = found
    assert (answers.sites["timetable_dark_min"] <= 3 + 1e-6).all()
    assert answers.summary["timetable"]["sites_with_foolish_programmes"] == 1
    assert answers.summary["timetable"]["worst_dark_min"] <= 3 + 1e-6
    for one in answers.timetables:
        events = icalendar.Calendar.from_ical(one.calendar).walk("VEVENT")
        # Every time of the table is in the calendar, and no other.
        assert {row.at for row in one.rows.itertuples()} == {f"{event['dtstart'].dt:%H:%M}" for event in events}


def test_pictures_are_of_programme_and_group(found):
    _, answers = found
    assert {(one.programme, one.group, one.sites) for one in answers.years} == {
        ("dusk to dawn", "A", 1), ("part-night", "A", 1), ("part-night", "B", 1), ("early", "B", 1)}
    for one in answers.years:
        assert (np.diff(one.lit.T.ravel()) > 0).all()
        # A night a day, and some on either side of the year.
        starts = one.dark[0][(one.dark[0] > 0) & (one.dark[0] < 525600)]
        assert len(starts) == 365 and np.diff(starts).min() > 1430 and np.diff(starts).max() < 1450


def test_a_shift_of_half_an_hour_that_no_common_rule_has():
    """Lord Howe Island puts its clock forward by 30 minutes (tz database); every rule offered shifts by 60 or not at all."""
    sites = sites_at([-31.53], [159.08])
    assert sites["legal_zone"].tolist() == ["Australia/Lord_Howe"]
    setting = {"shared": Setting(-31.5, 159.1, "Australia/Lord_Howe")}
    answers = answers_for(sites, (PART,), ["part-night"], setting, ["shared"])
    row = answers.clocks.iloc[0]
    assert not row["exact"] and "30 min" in row["wrong"] and 20 < row["wrong_weeks"] < 32
    # 23:30 comes half an hour early or late in these weeks: (weeks x 7) nights of half an hour, at one site.
    assert row["dark_h"] + row["excess_h"] == pytest.approx(row["wrong_weeks"] * 7 * 0.5, abs=1.5)
    assert len(answers.notes) == 1 and "No clock of this keypad" in answers.notes[0]


def test_a_cure_says_for_which_clock_it_holds():
    """Off at 02:15 falls into the hour that a clock of Lord Howe repeats or leaves out, but it is run on the clock keyed there."""
    late = Programme("late", (Event("on", "dusk"), Event("off", 135), Event("on", 375), Event("off", "dawn")))
    lord_howe = answers_for(sites_at([-31.53], [159.08]), (late,), ["late"], {"shared": Setting(-31.5, 159.1, "Australia/Lord_Howe")},
                            ["shared"])
    keyed = lord_howe.clocks.iloc[0]["keyed"]
    assert keyed in lord_howe.cures["late"].clock_note and lord_howe.summary["cures"]["late"]["clock_note"]
    assert lord_howe.cures["late"].clock_note in price_lines(lord_howe)
    adelaide = answers_for(sites_at([-35.0], [140.0]), (late,), ["late"], {"shared": Setting(-35.0, 140.0, "Australia/Adelaide")},
                           ["shared"])
    assert adelaide.cures["late"].clock_note == ""


def price_lines(answers):
    (cure,) = answers.cures.values()
    return _cure_text("late", cure)


def test_what_to_key_is_the_sum_of_setting_and_programme():
    split = Programme("split", (Event("on", "dusk", 10), Event("off", 1350), Event("on", 300, days=frozenset(range(5))),
                                Event("off", "dawn", -95)))
    hours = Programme("hours", (Event("on", 1080), Event("off", 1380)))
    sites = sites_at([-35.0, -35.6, -35.0], [140.0, 142.1, 140.0])
    settings = {"A": Setting(-35.0, 140.0, "Australia/Adelaide", -2, -9), "B": Setting(-35.6, 142.1, "Australia/Melbourne", 0, 1)}
    answers = answers_for(sites, (split, hours), ["split", "split", "hours"], settings, ["A", "B", "A"])
    assert answers.sites["key_events"].tolist() == [
        "on 8 min after dusk (setting -2, programme +10); off at 22:30; on at 05:00, Mon-Fri (days of the evening before); "
        "off 104 min before dawn (setting -9, programme -95, more than the 99 min of one value: key both)",
        "on 10 min after dusk (programme +10); off at 22:30; on at 05:00, Mon-Fri (days of the evening before); "
        "off 94 min before dawn (setting +1, programme -95)",
        "on at 18:00; off at 23:00"]
    assert group_key_events(answers)["A"].startswith("hours: on at 18:00; off at 23:00 | split: on 8 min after dusk")
    # The sum is what the lamps do: the same light from a programme with the sums and a setting without offsets.
    bare = Programme("split", (Event("on", "dusk", 8), Event("off", 1350), Event("on", 300, days=frozenset(range(5))),
                               Event("off", "dawn", -104)))
    again = answers_for(sites.iloc[:1], (replace(bare, events=bare.events[:3] + (Event("off", "dawn", -99),)),), ["split"],
                        {"A": Setting(-35.0, 140.0, "Australia/Adelaide", 0, -5)}, ["A"])
    assert again.sites["lit_h"].iloc[0] == pytest.approx(answers.sites["lit_h"].iloc[0], abs=1e-6)


def test_one_master_clock_has_one_timetable():
    """Two legal clocks half an hour apart, one switch that commands both: its timetable is on its own clock, for both."""
    sites = sites_at([-35.0, -35.3], [140.9, 141.2])
    assert sites["clock_rule"].nunique() == 2
    setting = {"shared": Setting(-35.1, 141.0, "Australia/Adelaide")}
    master = answers_for(sites, (DUSK_TO_DAWN,), ["dusk to dawn"] * 2, setting, ["shared"] * 2, switch_clock="master",
                         timetable=("week", 5))
    (one,) = master.timetables
    assert one.timetable.legal_zone == "Australia/Adelaide" and one.group == "shared"
    assert (master.sites["timetable_dark_min"] <= 3 + 1e-6).all() and (master.sites["timetable_excess_min"] < 30).all()
    own = answers_for(sites, (DUSK_TO_DAWN,), ["dusk to dawn"] * 2, setting, ["shared"] * 2, timetable=("week", 5))
    assert [two.timetable.legal_zone for two in own.timetables] == ["Australia/Adelaide", sites["legal_zone"].iloc[1]]


def test_more_energy_for_less_money_is_explained():
    """From dusk on at 0.50, from 23:00 at 0.10: lamps that burn on after it use more and cost less than an evening's."""
    cheap = pd.DataFrame({"kwh": [1000.0, 1200.0], "cost": [300.0, 250.0]}, index=["own setting", "groups"])
    assert dearer_hours(cheap) == MORE_FOR_LESS
    assert dearer_hours(cheap.assign(cost=[250.0, 300.0])) == "" and dearer_hours(cheap.assign(cost=[250.2, 250.0])) == ""
    assert dearer_hours(cheap.assign(cost=np.nan)) == ""


def test_loads_that_are_not_known_are_left_out_of_energy_and_counted():
    sites = sites_at([-35.0, -35.1], [140.0, 140.0], load=[100.0, np.nan])
    answers = answers_for(sites, (PART,), ["part-night"] * 2, {"shared": Setting(-35.0, 140.0, "Australia/Adelaide")},
                          ["shared"] * 2)
    row = answers.hours[answers.hours["level"] == "programme"].iloc[0]
    assert row["sites_with_load"] == 1 and row["kwh"] == pytest.approx(0.1 * answers.sites["lit_h"].iloc[0])
    assert "kwh_per_m2" not in answers.hours


def test_energy_by_lit_area_uses_sites_where_both_are_known():
    sites = sites_at([-35.0, -35.1, -35.2], [140.0, 140.0, 140.0], load=[100.0, np.nan, 300.0])
    answers = answers_for(sites, (PART,), ["part-night"] * 3, {"shared": Setting(-35.0, 140.0, "Australia/Adelaide")},
                          ["shared"] * 3, lit_area_m2=[50.0, 60.0, np.nan])
    # W h / m2 of the one site with both, by hand: 100 W over its hours on 50 square metres.
    expected = 0.1 * answers.sites["lit_h"].iloc[0] / 50.0
    assert answers.summary["hours"]["kwh_per_m2"] == pytest.approx(expected)
    assert answers.hours["kwh_per_m2"].iloc[0] == pytest.approx(expected)


def test_file_names_that_windows_keeps_for_itself():
    assert _names([("CON", ""), ("com1", ""), ("aux", "A"), ("con", "")]) == ["con-programme", "com1-programme", "aux-a", "con-programme-2"]


def test_file_names_from_hostile_names():
    names = _names([("../../etc/passwd", "A"), ("Früh & spät", "A"), ("fruh spat", "A"), ("夜", "B"), ("", ""), ("x" * 300, "A")])
    assert names == ["etc-passwd-a", "fruh-spat-a", "fruh-spat-a-2", "b", "programme", "x" * 40 + "-a"]
