"""Legal time against zoneinfo, the standard library's own reading of the same rules."""

import zoneinfo
from datetime import datetime, timedelta, timezone

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from geozone.numbers import clock
from geozone.numbers.clock import offset_min_at, offsets, rule_text, to_legal, wall_time

clock.use_packaged_tz()
ZONES = sorted(name for name in zoneinfo.available_timezones() if clock.valid_zone(name))
zones = st.sampled_from(ZONES)
years = st.integers(1972, 2100)
# From 31 December of the year before to 3 January of the year after, in seconds.
seconds = st.lists(st.integers(-86400, 367 * 86400), min_size=1, max_size=50)


def truth_min(zone, year, second):
    moment = datetime(year, 1, 1, tzinfo=timezone.utc) + timedelta(seconds=second)
    return moment.astimezone(zoneinfo.ZoneInfo(zone)).utcoffset().total_seconds() / 60


@settings(max_examples=300, deadline=None)
@given(zones, years, seconds)
def test_offset_at_any_instant(zone, year, at_s):
    ours = offset_min_at(offsets(zone, year), np.array(at_s) / 60)
    assert ours.tolist() == [truth_min(zone, year, second) for second in at_s]


@settings(max_examples=200, deadline=None)
@given(zones, years)
def test_every_change_is_found_to_the_second(zone, year):
    sequence = offsets(zone, year)
    assert sequence.start_utc_min[0] == -np.inf and (np.diff(sequence.start_utc_min[1:]) > 0).all()
    assert (np.diff(sequence.offset_min) != 0).all()
    for start, before, after in zip(sequence.start_utc_min[1:], sequence.offset_min, sequence.offset_min[1:]):
        second = round(start * 60)
        assert (truth_min(zone, year, second - 1), truth_min(zone, year, second)) == (before, after)


def test_all_zones_of_a_year_at_every_sixth_hour():
    at_s = np.arange(-86400, 367 * 86400, 6 * 3600)
    moments = [datetime(2027, 1, 1, tzinfo=timezone.utc) + timedelta(seconds=int(second)) for second in at_s]
    for zone in ZONES[::7]:
        info = zoneinfo.ZoneInfo(zone)
        truth = [moment.astimezone(info).utcoffset().total_seconds() / 60 for moment in moments]
        assert offset_min_at(offsets(zone, 2027), at_s / 60).tolist() == truth, zone


@settings(max_examples=100, deadline=None)
@given(zones, years, seconds)
def test_wall_time_is_what_zoneinfo_shows(zone, year, at_s):
    whole_min = [second // 60 for second in at_s]
    shown = to_legal(np.array(whole_min, dtype=float), zone, year)
    for minute, ours in zip(whole_min, shown):
        moment = datetime(year, 1, 1, tzinfo=timezone.utc) + timedelta(minutes=minute)
        local = moment.astimezone(zoneinfo.ZoneInfo(zone)).replace(tzinfo=None)
        assert abs((ours.astype("datetime64[s]").astype(datetime) - local).total_seconds()) <= 30


@settings(max_examples=100, deadline=None)
@given(zones, zones, years)
def test_same_key_same_words_and_same_clock(a, b, year):
    if offsets(a, year).key == offsets(b, year).key:
        assert rule_text(offsets(a, year), year) == rule_text(offsets(b, year), year)
        minutes = np.arange(0, 365 * 1440, 720.0)
        assert (wall_time(minutes, offsets(a, year), year) == wall_time(minutes, offsets(b, year), year)).all()


@given(zones, years)
@settings(max_examples=100, deadline=None)
def test_words_name_every_offset_of_the_year(zone, year):
    text = rule_text(offsets(zone, year), year)
    assert text.startswith("UTC") and text.isascii()
    for minute in range(1440, 364 * 1440, 1440):
        assert clock.offset_text(offset_min_at(offsets(zone, year), minute)) in text
