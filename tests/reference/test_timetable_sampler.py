"""Printed timetables against independent readers: the table read line by line, the calendar expanded, a lamp every 30 seconds.

The table is read here from its own words (dates, weekday names, times) with the standard library; calendars are parsed by
`icalendar` and their recurrences (RFC 5545) expanded by `dateutil`; the sun is pvlib's SPA (NREL/TP-560-34302), wall time pandas
and zoneinfo. Nothing of geozone is used but what makes the table. Places and programmes are ours.
"""

import datetime as dt
import io
import runpy
from pathlib import Path

import icalendar
import numpy as np
import pandas as pd
import pytest
from dateutil import rrule
from hypothesis import given, settings
from hypothesis import strategies as st

from geozone.numbers import clock
from geozone.switching.calendars import timetable_calendar
from geozone.switching.conditions import Conditions
from geozone.switching.programme_year import delivered
from geozone.switching.switchings import switching_rows
from geozone.switching.timetable import dated_timetable, timetable_year
from geozone.trade.programme import DAY_SETS, DUSK_TO_DAWN, Event, Holidays, Programme, Season
from geozone.trade.setting import Tolerance

sampled = runpy.run_path(str(Path(__file__).with_name("test_programme_sampler.py")))["sampled"]
DAYS = "mon tue wed thu fri sat sun".split()


def weekdays_named(text):
    if text == "all":
        return set(range(7))
    if text == "mon-fri":
        return set(range(5))
    if text == "weekend":
        return {5, 6}
    return {DAYS.index(name) for name in text.split(", ")}


def by_table(rows):
    """(wall time, turn) of every switching, from the printed lines alone."""
    found = []
    for row in pd.read_csv(io.StringIO(rows.to_csv(index=False)), dtype=str, keep_default_na=False).to_dict("records"):
        day, last = dt.date.fromisoformat(row["from"]), dt.date.fromisoformat(row["to"])
        out, more = ({dt.date.fromisoformat(one) for one in row[key].split(", ") if one} for key in ("except", "also"))
        named = weekdays_named(row["days"])
        assert day <= last and all(day <= one <= last for one in out | more)
        while day <= last:
            if day in more or (day.weekday() in named and day not in out):
                found.append((dt.datetime.combine(day, dt.time.fromisoformat(row["at"])), row["turn"]))
            day += dt.timedelta(days=1)
    return sorted(found)


def by_calendar(data, zone):
    found = []
    for entry in icalendar.Calendar.from_ical(data).walk("VEVENT"):
        start = entry["dtstart"].dt
        assert str(entry["dtstart"].params["TZID"]) == zone
        wall = start.replace(tzinfo=None)
        rule = entry.get("rrule")
        every = rrule.rrulestr(rule.to_ical().decode(), dtstart=wall) if rule else [wall]
        found += [(one, str(entry["summary"]).split()[0]) for one in every]
    return sorted(found)


def instants(found, zone):
    """Of wall times that the clock shows exactly once."""
    clock.use_packaged_tz()
    stamp = pd.DatetimeIndex([at for at, _ in found]).tz_localize(zone, ambiguous="NaT", nonexistent="NaT").tz_convert("UTC")
    return [(at, turn) for at, (_, turn) in zip(stamp, found) if at is not pd.NaT]


def made(lat, lon, zone, year=2027, altitude=-4.0, programme=DUSK_TO_DAWN, holidays=Holidays(), **how):
    table = dated_timetable(lat_deg=np.atleast_1d(lat), lon_deg=np.atleast_1d(lon), legal_zone=zone, year=year, altitude_deg=altitude,
                            **how)
    return table, switching_rows(table, programme, holidays)


def lamp(found, wall):
    """Whether the lamps burn at each tick: the last switching at or before it on the clock as it runs; -1 before the first."""
    turn = np.array([turn == "on" for _, turn in found], dtype=np.int8)
    minute = np.array([(at - dt.datetime(1970, 1, 1)).total_seconds() / 60 for at, _ in found])
    # What comes within each tick, a tick being a minute's half: clocks that are put back repeat their switchings.
    order = np.argsort(minute, kind="stable")
    minute, turn = minute[order], turn[order]
    begin, end = np.searchsorted(minute, wall), np.searchsorted(minute, wall + 0.5)
    jumps = np.flatnonzero(np.diff(wall) > 0.75) + 1  # put forward: what is left out comes at the change
    begin[jumps] = np.searchsorted(minute, wall[jumps - 1] + 0.5)
    at = np.where(end > begin, end - 1, -1)
    latest = np.maximum.accumulate(np.where(at >= 0, np.arange(at.size), -1))
    return np.where(latest >= 0, turn[at[np.maximum(latest, 0)]], -1)


def ticks(zone, year):
    clock.use_packaged_tz()
    stamp = pd.date_range(f"{year - 1}-12-31", f"{year + 1}-01-02", freq="30s", tz="UTC")
    wall = stamp.tz_convert(zone).tz_localize(None)
    utc = ((stamp - pd.Timestamp(f"{year}-01-01", tz="UTC")) / pd.Timedelta(minutes=1)).to_numpy()
    return utc, ((wall - pd.Timestamp("1970-01-01")) / pd.Timedelta(minutes=1)).to_numpy()


WEEK = Programme("w", (Event("on", "dusk", 20), Event("off", 1410, days=frozenset(range(5))), Event("off", 60, days=frozenset((4, 5))),
                       Event("on", 300, days=frozenset(range(5)), season=Season(1015, 331)), Event("off", 1440, days=frozenset((6,))),
                       Event("off", "dawn", -10)))
HOLIDAYS = Holidays((dt.date(2027, 1, 1), dt.date(2027, 6, 14), dt.date(2027, 12, 27), dt.date(2027, 12, 31), dt.date(2028, 1, 1)), 6)
PLACES = [(60.2, 18.0, "Europe/Stockholm", -6.0), (64.5, -51.7, "America/Nuuk", -4.0), (69.65, 18.95, "Europe/Oslo", -0.8333),
          (-34.9, 138.6, "Australia/Adelaide", -4.0), (-31.55, 159.08, "Australia/Lord_Howe", -4.0),
          (-54.8, -68.3, "America/Argentina/Ushuaia", -12.0),
          (40.7, -74.0, "America/New_York", -6.0), (5.0, 100.3, "Asia/Kuala_Lumpur", -4.0)]


@pytest.mark.parametrize("place", PLACES[:6], ids=lambda place: place[2])
def test_table_and_calendar_say_the_same_instants(place):
    lat, lon, zone, altitude = place
    programme = WEEK if PLACES.index(place) % 2 else Programme("d", WEEK.events, "date")
    table, rows = made(lat, lon, zone, altitude=altitude, programme=programme, holidays=HOLIDAYS, period="fortnight")
    printed = by_table(rows)
    expanded = by_calendar(timetable_calendar(table, "t", programme, HOLIDAYS), zone)
    assert printed == expanded and len(printed) > 500
    assert instants(printed, zone) == instants(expanded, zone)


def test_dusk_after_midnight_has_its_dates():
    """60.2 N, civil dusk: the night of 1 July 2027 begins after midnight, so its "on" is on 2 July."""
    _, rows = made(60.2, 18.0, "Europe/Stockholm", altitude=-6.0)
    near = [(at, turn) for at, turn in by_table(rows) if dt.datetime(2027, 7, 1, 12) < at < dt.datetime(2027, 7, 2, 12)]
    assert [turn for _, turn in near] == ["on", "off"]


@pytest.mark.parametrize("place", [*PLACES, (64.5, -51.7, "America/Nuuk", -6.0), (66.5, 25.7, "Europe/Helsinki", -0.8333),
                                   (67.4, 26.6, "Europe/Helsinki", -0.8333), (78.2, 15.6, "Arctic/Longyearbyen", -6.0)],
                         ids=lambda place: f"{place[2]} {place[3]}")
def test_a_clock_that_obeys_the_table(place):
    """Every half minute of a year: dark minutes within the tolerance, and nobody burns through a white night."""
    for period, year in (("week", 2027), ("fortnight", 2027), ("month", 2027 + (place[0] < 0))):
        obeyed(*place, period, year)


def obeyed(lat, lon, zone, altitude, period, year):
    table, rows = made(lat, lon, zone, year, altitude, period=period, rounding_min=5, tolerance=Tolerance(5, 10))
    assert table.kept.all()
    utc, above, minute, day, _ = sampled(lat, lon, zone, year, altitude)
    lit = lamp(by_table(rows), (day + (dt.date(year, 1, 1) - dt.date(1970, 1, 1)).days) * 1440.0 + minute)
    noon = (12 - lon / 15) * 60
    year_of_it = (utc > noon) & (utc < noon + (dt.date(year + 1, 1, 1) - dt.date(year, 1, 1)).days * 1440)
    dark = above < 0
    # The longest stretch that is dark without light, in minutes; a tick more on either side.
    assert longest(year_of_it & dark & (lit != 1)) <= 5 + 1.0
    stretch = longest(year_of_it & (lit == 1) & ~dark)
    # Light without need: dusk and dawn move by some minutes a day, and by more where nights are about to end.
    assert stretch < 8 * 60


def longest(mask):
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    return float((edges[1::2] - edges[::2]).max(initial=0)) / 2


SUN = st.builds(Event, st.sampled_from(["on", "off"]), st.sampled_from(["dusk", "dawn"]), st.integers(-60, 60),
                st.sampled_from(list(DAY_SETS.values())), st.one_of(st.none(),
                                                                    st.builds(Season, st.sampled_from([115, 229, 401, 1001]),
                                                                              st.sampled_from([131, 228, 531, 1231]))))
CLOCK = st.builds(Event, st.sampled_from(["on", "off"]), st.integers(0, 288).map(lambda k: 5 * k), st.just(0),
                  st.sampled_from(list(DAY_SETS.values())),
                  st.one_of(st.none(), st.builds(Season, st.sampled_from([115, 229, 401, 1001]), st.sampled_from([131, 228, 531, 1231]))))
PROGRAMMES = st.builds(Programme, st.just("p"), st.lists(st.one_of(SUN, CLOCK), min_size=1, max_size=4).map(
    lambda some: (Event("on", "dusk"), *some, Event("off", "dawn"))), st.sampled_from(["night", "date"]))
ZONES = st.sampled_from([("Europe/Stockholm", 15.0), ("America/Nuuk", -45.0), ("Australia/Lord_Howe", 159.0), ("America/Santiago", -71.0),
                         ("Asia/Kuala_Lumpur", 101.0)])


@settings(max_examples=6, deadline=None)
@given(PROGRAMMES, st.floats(-66, 78), ZONES, st.sampled_from([2027, 2028]), st.sampled_from(["week", "month"]),
       st.sampled_from([-0.8333, -6.0]))
def test_any_programme(programme, lat, zone, year, period, altitude):
    """Table and calendar agree, and the lamps by the printed table are the light that the run's figures are made from."""
    zone, lon = zone
    holidays = Holidays((dt.date(year, 5, 4), dt.date(year, 12, 31)), 6)
    table, rows = made(lat, lon, zone, year, altitude, programme, holidays, period=period)
    printed = by_table(rows)
    assert printed == by_calendar(timetable_calendar(table, "t", programme, holidays), zone)
    if len({at for at, _ in printed}) < len(printed):
        return  # two switchings in one minute: which of them wins is the switch's own affair
    utc, wall = ticks(zone, year)
    lit = lamp(printed, wall)
    union = delivered(programme, clock.offsets(zone, year), Conditions(year, altitude, holidays=holidays), dusk_dawn=table.dusk_dawn)
    inside = np.searchsorted(union.ends[0], utc + 0.25) > np.searchsorted(union.ends[1], utc + 0.25)
    # From the second day on: what was before the year is known to neither. To the last noon.
    known = (lit >= 0) & (utc > 1440 * 9) & (utc < 1440 * 365 - 720)
    assert np.count_nonzero(known & (inside != (lit == 1))) <= 2


def test_the_first_days_of_a_year_in_polar_night_are_lit():
    _, rows = made(72.0, 20.0, "Europe/Oslo", altitude=-0.8333)
    first = by_table(rows)[0]
    assert first[0].date() == dt.date(2027, 1, 1) and first[1] == "on"
    assert "off" not in {turn for at, turn in by_table(rows) if at < dt.datetime(2027, 1, 10)}


def test_timetable_year_counts_what_the_printed_table_does():
    """64.5 N: no lamp burns for a fortnight because the period's only night ends in the next."""
    table, _ = made(64.5, -51.7, "America/Nuuk")
    found = timetable_year(table, [64.5], [-51.7], "America/Nuuk", Conditions(2027, -4.0)).drift
    assert found.worst_excess_min[0] < 180 and found.worst_dark_min[0] <= 5 + 1e-6
