"""Legal time: numbers worked by hand from the dates and hours of the law."""

import doctest
import zoneinfo
from datetime import datetime, timezone
from pathlib import Path

import numpy as np
import pytest
import tzdata

from geozone.errors import InputError
from geozone.numbers import clock
from geozone.numbers.clock import offset_min_at, offset_text, offsets, rule_text, to_legal, wall_time


def utc_min(year, month, day, hour=0, minute=0):
    return (datetime(year, month, day, hour, minute) - datetime(year, 1, 1)).total_seconds() / 60


def test_docstring_examples():
    assert doctest.testmod(clock).failed == 0


def test_the_packaged_tz_data_wins_over_the_systems(tmp_path):
    # A system database in which Brisbane is an hour off: copy another zone's rules under its name.
    wrong = tmp_path / "Australia"
    wrong.mkdir()
    package = Path(tzdata.__path__[0])
    (wrong / "Brisbane").write_bytes((package / "zoneinfo" / "Australia" / "Eucla").read_bytes())
    before = zoneinfo.TZPATH
    try:
        zoneinfo.reset_tzpath(to=[str(tmp_path)])
        zoneinfo.ZoneInfo.clear_cache()
        assert datetime(2027, 1, 1, tzinfo=zoneinfo.ZoneInfo("Australia/Brisbane")).utcoffset().total_seconds() == 31500
        offsets.cache_clear()
        assert offsets("Australia/Brisbane", 2027).offset_min.tolist() == [600]
        assert zoneinfo.TZPATH == ()
    finally:
        zoneinfo.reset_tzpath(to=before)
        zoneinfo.ZoneInfo.clear_cache()
        offsets.cache_clear()
        clock.use_packaged_tz()


def test_use_packaged_tz_twice_keeps_loaded_zones():
    clock.use_packaged_tz()
    zone = zoneinfo.ZoneInfo("Australia/Sydney")
    clock.use_packaged_tz()
    assert zoneinfo.ZoneInfo("Australia/Sydney") is zone


def test_tz_version_is_that_of_the_package():
    assert clock.tz_version() == tzdata.IANA_VERSION
    assert clock.tz_version()[:4].isdigit() and clock.tz_version()[4:].isalpha()


def test_adelaide_changes_at_3_and_2_oclock():
    sequence = offsets("Australia/Adelaide", 2027)
    assert sequence.offset_min.tolist() == [630, 570, 630]
    # 4 April 03:00 at +10:30 is 3 April 16:30Z; 3 October 02:00 at +09:30 is 2 October 16:30Z.
    assert sequence.start_utc_min.tolist() == [-np.inf, utc_min(2027, 4, 3, 16, 30), utc_min(2027, 10, 2, 16, 30)]


def test_a_zone_without_changes_has_one_offset():
    sequence = offsets("Australia/Brisbane", 2027)
    assert sequence.offset_min.tolist() == [600] and sequence.start_utc_min.tolist() == [-np.inf]


def test_sequence_is_read_only_and_cached():
    sequence = offsets("Australia/Brisbane", 2027)
    with pytest.raises(ValueError):
        sequence.offset_min[0] = 0
    assert offsets("Australia/Brisbane", 2027) is sequence


def test_new_offset_holds_from_its_first_instant():
    sequence = offsets("Australia/Lord_Howe", 2027)
    change = utc_min(2027, 4, 3, 15)
    assert offset_min_at(sequence, [change - 1 / 60, change, change + 1]).tolist() == [660, 630, 630]
    assert offset_min_at(sequence, np.zeros((2, 3))).shape == (2, 3)


def test_days_around_the_year_are_covered():
    # Samoa stood on the other side of the date line until the end of 29 December 2011 (10:00Z on the 30th).
    assert offset_min_at(offsets("Pacific/Apia", 2012), [-1440 * 2, utc_min(2012, 1, 1)]).tolist() == [-600, 840]


def test_same_key_means_same_clock():
    assert offsets("Australia/Adelaide", 2027).key == offsets("Australia/Broken_Hill", 2027).key
    assert offsets("Australia/Adelaide", 2027).key != offsets("Australia/Darwin", 2027).key
    assert hash(offsets("Europe/Paris", 2027).key) == hash(offsets("Europe/Berlin", 2027).key)


def test_odd_offsets_of_the_past_keep_their_seconds():
    # Liberia kept -0:44:30 until 1972-01-07 (tz database, from memory).
    sequence = offsets("Africa/Monrovia", 1971)
    assert sequence.offset_min[0] == -44.5
    assert offset_text(sequence.offset_min[0]) == "-00:44:30"


@pytest.mark.parametrize("offset_min, text", [(0, "+00:00"), (570, "+09:30"), (-210, "-03:30"), (-30, "-00:30"),
                                              (840, "+14:00")])
def test_offset_text(offset_min, text):
    assert offset_text(offset_min) == text


@pytest.mark.parametrize("zone, year, text", [
    ("America/New_York", 2027, "UTC-05:00, -04:00 from 14 Mar to 7 Nov"),
    ("Australia/Adelaide", 2027, "UTC+09:30, +10:30 to 4 Apr and from 3 Oct"),
    ("Australia/Lord_Howe", 2027, "UTC+10:30, +11:00 to 4 Apr and from 3 Oct"),
    ("Antarctica/Troll", 2027, "UTC+00:00, +02:00 from 28 Mar to 31 Oct"),
    ("America/Vancouver", 2027, "UTC-07:00 all year"),
    ("Africa/Casablanca", 2026, "UTC+01:00 to 15 Feb, +00:00 to 22 Mar, +01:00 to 20 Sep, then +00:00"),
])
def test_rule_text(zone, year, text):
    assert rule_text(offsets(zone, year), year) == text


def test_a_change_at_midnight_of_new_year_is_no_change_of_the_year():
    # North Korea's and Venezuela's changes fell inside a year; one at legal New Year must not be told twice.
    sequence = clock.OffsetSequence(np.array([-np.inf, -60.0]), np.array([0, 60]))
    assert rule_text(sequence, 2027) == "UTC+01:00 all year"


def test_wall_time_rounds_to_the_nearest_minute():
    shown = to_legal([0.0, 0.49, 0.5, -0.5, -0.51, np.nan], "Australia/Adelaide", 2027)
    assert shown.dtype == "datetime64[m]"
    assert [str(value) for value in shown] == ["2027-01-01T10:30", "2027-01-01T10:30", "2027-01-01T10:31",
                                               "2027-01-01T10:30", "2027-01-01T10:29", "NaT"]


def test_wall_time_jumps_with_the_law():
    change = utc_min(2027, 10, 2, 16, 30)
    shown = wall_time(np.array([[change - 1, change]]), offsets("Australia/Adelaide", 2027), 2027)
    assert shown.astype(str).tolist() == [["2027-10-03T01:59", "2027-10-03T03:00"]]


def test_valid_zone_is_exact():
    assert clock.valid_zone("Australia/Adelaide") and clock.valid_zone("Etc/GMT+5")
    for name in ("australia/adelaide", "Adelaide", "", "Factory", "../../etc/passwd", "posixrules", None, 5, np.nan):
        assert not clock.valid_zone(name)


@pytest.mark.parametrize("typed, meant", [("australia/adelaide", "Australia/Adelaide"), ("Adelaide", "Australia/Adelaide"),
                                          ("Europe/Amsterdan", "Europe/Amsterdam"), ("new york", "America/New_York")])
def test_near_zones(typed, meant):
    assert clock.near_zones(typed)[0] == meant


def test_near_zones_may_be_empty():
    assert clock.near_zones("") == [] and clock.near_zones("qqqqqqqq") == []


def test_unknown_zone_is_the_users_mistake():
    with pytest.raises(InputError, match="Australia/Adelaide") as caught:
        offsets("Australia/Adelaid", 2027)
    assert caught.value.value == "Australia/Adelaid"
    with pytest.raises(InputError, match="out of range"):
        offsets("Australia/Adelaide", 3000)


def test_minute_scale_starts_in_utc():
    moment = datetime(2028, 2, 29, 12, tzinfo=timezone.utc)
    minutes = (moment - datetime(2028, 1, 1, tzinfo=timezone.utc)).total_seconds() / 60
    assert str(to_legal(minutes, "Asia/Kathmandu", 2028)) == "2028-02-29T17:45"
