"""Facts of legal time from the tz database's own files and NEWS, and instants computed with another release.

Marks: [S] seen in the tz database 2026c sources (rules) or its NEWS file; [C] computed with PyPI
tzdata 2026f; [L] the law or treaty named. The rule dates are worked out here by calendar
arithmetic, independently of zoneinfo.
"""

import calendar
from datetime import datetime, timedelta

import numpy as np
import pytest

from geozone.numbers.clock import offset_min_at, offsets, to_legal, tz_version

YEARS = (2024, 2025, 2026, 2027, 2028, 2032)


def nth_sunday(year, month, n):
    """n-th Sunday of a month, -1 for the last, by the calendar."""
    days = [week[6] for week in calendar.monthcalendar(year, month) if week[6]]
    return datetime(year, month, days[n - 1] if n > 0 else days[n])


def changes(zone, year):
    sequence = offsets(zone, year)
    begin = datetime(year, 1, 1)
    return [(begin + timedelta(minutes=start), offset)
            for start, offset in zip(sequence.start_utc_min[1:].tolist(), sequence.offset_min[1:].tolist())]


@pytest.mark.parametrize("year", YEARS)
@pytest.mark.parametrize("zone, standard_min", [("America/New_York", -300), ("America/Chicago", -360),
                                                ("America/Denver", -420), ("America/Los_Angeles", -480)])
def test_united_states_since_2007(zone, standard_min, year):
    """[L] Energy Policy Act of 2005; [S] Rule US: 2nd Sunday of March 2:00 to 1st Sunday of November 2:00."""
    spring = nth_sunday(year, 3, 2) + timedelta(hours=2) - timedelta(minutes=standard_min)
    autumn = nth_sunday(year, 11, 1) + timedelta(hours=2) - timedelta(minutes=standard_min + 60)
    assert changes(zone, year) == [(spring, standard_min + 60), (autumn, standard_min)]


@pytest.mark.parametrize("year", YEARS)
@pytest.mark.parametrize("zone, standard_min", [("Europe/London", 0), ("Europe/Lisbon", 0), ("Europe/Berlin", 60),
                                                ("Europe/Stockholm", 60), ("Europe/Helsinki", 120)])
def test_european_union(zone, standard_min, year):
    """[L] Directive 2000/84/EC: last Sundays of March and October, 01:00 UTC everywhere."""
    spring, autumn = (nth_sunday(year, month, -1) + timedelta(hours=1) for month in (3, 10))
    assert changes(zone, year) == [(spring, standard_min + 60), (autumn, standard_min)]


@pytest.mark.parametrize("year", YEARS)
@pytest.mark.parametrize("zone, standard_min, shift_min", [
    ("Australia/Sydney", 600, 60), ("Australia/Melbourne", 600, 60), ("Australia/Hobart", 600, 60),
    ("Australia/Adelaide", 570, 60), ("Australia/Broken_Hill", 570, 60), ("Australia/Lord_Howe", 630, 30)])
def test_southern_australia(zone, standard_min, shift_min, year):
    """[S] Rules AN, AV, AS, AT: first Sundays of April and October, 2:00 standard time; Rule LH: 2:00 wall, 30 min."""
    hour_utc = timedelta(hours=2) - timedelta(minutes=standard_min)
    autumn, spring = nth_sunday(year, 4, 1) + hour_utc, nth_sunday(year, 10, 1) + hour_utc
    if zone == "Australia/Lord_Howe":
        # Its autumn change is at 2:00 by the wall clock, which runs 30 minutes ahead then.
        autumn -= timedelta(minutes=30)
    assert changes(zone, year) == [(autumn, standard_min), (spring, standard_min + shift_min)]


@pytest.mark.parametrize("year", YEARS)
@pytest.mark.parametrize("zone, offset_min", [("Australia/Brisbane", 600), ("Australia/Darwin", 570),
                                              ("Australia/Perth", 480), ("Australia/Eucla", 525),
                                              ("Asia/Kathmandu", 345), ("America/Phoenix", -420)])
def test_places_that_never_change(zone, offset_min, year):
    """[S] tz database: Queensland, Northern Territory, Western Australia, Nepal, Arizona."""
    assert offsets(zone, year).offset_min.tolist() == [offset_min]


@pytest.mark.parametrize("zone, instants", [
    ("America/New_York", ["2027-03-14T07:00", "2027-11-07T06:00"]),
    ("Europe/London", ["2027-03-28T01:00", "2027-10-31T01:00"]),
    ("Europe/Berlin", ["2027-03-28T01:00", "2027-10-31T01:00"]),
    ("Australia/Sydney", ["2027-04-03T16:00", "2027-10-02T16:00"]),
    ("Australia/Adelaide", ["2027-04-03T16:30", "2027-10-02T16:30"]),
    ("Australia/Lord_Howe", ["2027-04-03T15:00", "2027-10-02T15:30"]),
    ("America/St_Johns", ["2027-03-14T05:30"]),
])
def test_instants_of_2027(zone, instants):
    """[C] tzdata 2026f, listed in the project's references; found here to the second."""
    found = [moment.isoformat(timespec="minutes") for moment, _ in changes(zone, 2027)]
    assert found[:len(instants)] == instants
    assert all(moment.second == 0 for moment, _ in changes(zone, 2027))


def test_troll_shifts_by_two_hours():
    """[S] tz database, Antarctica/Troll: +00 and +02."""
    assert offsets("Antarctica/Troll", 2027).offset_min.tolist() == [0, 120, 0]


def test_chatham_keeps_its_quarter_hours():
    """[S] tz database, Pacific/Chatham: +12:45 and +13:45."""
    assert sorted(set(offsets("Pacific/Chatham", 2027).offset_min.tolist())) == [765, 825]


def test_british_columbia_stopped_changing_in_2026():
    """[S] NEWS 2026b: -07 all year from 2026. A system database of 2025 answers -08."""
    assert str(to_legal(utc_min_of("2027-01-15T19:00"), "America/Vancouver", 2027)) == "2027-01-15T12:00"
    assert offsets("America/Vancouver", 2027).offset_min.tolist() == [-420]


def test_alberta_stays_at_six_hours():
    """[S] NEWS 2026c: Alberta -06 all year, so from 2027 on without a change."""
    assert offsets("America/Edmonton", 2027).offset_min.tolist() == [-360]


def test_morocco_ends_its_daylight_saving_in_2026():
    """[S] NEWS 2026c: +00 from 2026-09-20; before that +01 but for the month of fasting."""
    sequence = offsets("Africa/Casablanca", 2026)
    assert sequence.offset_min.tolist() == [60, 0, 60, 0]
    assert changes("Africa/Casablanca", 2026)[-1][0].date().isoformat() == "2026-09-20"
    assert offsets("Africa/Casablanca", 2027).offset_min.tolist() == [0]


def test_yukon_since_november_2020():
    """[S] tz database: Yukon -07 since 2020-11-01."""
    assert offset_min_at(offsets("America/Whitehorse", 2020), utc_min_of("2020-12-01T00:00")) == -420
    assert offsets("America/Whitehorse", 2027).offset_min.tolist() == [-420]


def test_samoa_had_no_30_december_2011():
    """[S] tz database: Samoa went from -10 to +14 at the end of 29 December 2011."""
    before, after = to_legal([utc_min_of("2011-12-30T09:59"), utc_min_of("2011-12-30T10:00")], "Pacific/Apia", 2011)
    assert (str(before), str(after)) == ("2011-12-29T23:59", "2011-12-31T00:00")


def test_release_is_not_older_than_the_facts():
    assert tz_version() >= "2026c"


def utc_min_of(text):
    moment = np.datetime64(text, "m")
    return (moment - moment.astype("datetime64[Y]").astype("datetime64[m]")).astype(float)
