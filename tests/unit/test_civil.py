"""Civil days and clock times: hand-worked instants, gaps, folds, weekdays, seasons."""

import doctest

import numpy as np
import pytest

from geozone.numbers import civil
from geozone.numbers.clock import offsets


def day(text):
    return (np.datetime64(text) - np.datetime64(text[:4] + "-01-01")).astype(int)


def test_examples():
    failed, attempted = doctest.testmod(civil)
    assert attempted >= 2 and failed == 0


@pytest.mark.parametrize("zone, date, minute, first, again, gap", [
    # Instants of the changes as in references: Adelaide 2027-04-03 16:30Z and 2027-10-02 16:30Z (tzdata 2026f).
    ("Australia/Adelaide", "2027-04-04", 150, "2027-04-03T16:00", "2027-04-03T17:00", False),
    ("Australia/Adelaide", "2027-10-03", 150, "2027-10-02T16:30", None, True),
    ("Australia/Adelaide", "2027-10-03", 120, "2027-10-02T16:30", None, True),
    ("Australia/Adelaide", "2027-10-03", 180, "2027-10-02T16:30", None, False),
    ("Australia/Lord_Howe", "2027-04-04", 105, "2027-04-03T14:45", "2027-04-03T15:15", False),
    ("Australia/Lord_Howe", "2027-10-03", 135, "2027-10-02T15:30", None, True),
    ("America/New_York", "2027-11-07", 90, "2027-11-07T05:30", "2027-11-07T06:30", False),
    ("America/New_York", "2027-03-14", 150, "2027-03-14T07:00", None, True),
    ("Europe/London", "2027-10-31", 90, "2027-10-31T00:30", "2027-10-31T01:30", False),
])
def test_gap_and_fold(zone, date, minute, first, again, gap):
    at = civil.instants([day(date) * 1440.0 + minute], offsets(zone, 2027))

    def utc(text):
        return (np.datetime64(text, "m") - np.datetime64("2027-01-01", "m")).astype(float)

    assert at.first_utc_min[0] == utc(first)
    assert at.gap[0] == gap
    if again is None:
        assert np.isnan(at.again_utc_min[0])
    else:
        assert at.again_utc_min[0] == utc(again)


def test_weekdays_and_month_days_against_numpy_calendar():
    import datetime as dt

    for year in (2027, 2028):
        days = np.arange(-3, 370)
        real = [dt.date(year, 1, 1) + dt.timedelta(days=int(d)) for d in days]
        assert civil.weekdays(days, year).tolist() == [d.weekday() for d in real]
        assert civil.month_days(days, year).tolist() == [100 * d.month + d.day for d in real]


def test_season_over_new_year():
    assert civil.in_season([1231, 101, 331, 401, 930, 1001], 1001, 331).tolist() == [True, True, True, False, False, True]


def test_midnight_has_two_names():
    assert civil.clock_text(1440) == "24:00" and civil.clock_text(0) == "00:00" and civil.clock_text(1410) == "23:30"
