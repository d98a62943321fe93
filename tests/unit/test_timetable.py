"""Dated timetables: dark minutes within tolerance at every site and night, rounding, clock changes, files.

RFC 5545 (CRLF, lines of at most 75 octets, UID and DTSTAMP; from memory) is checked on the bytes, and the file is read
back with the `icalendar` library.
"""

import datetime as dt

import icalendar
import numpy as np
import pandas as pd
import pytest

from geozone.errors import InputError
from geozone.files.spreadsheets import write_csv
from geozone.files.workbook import Sheet, write_xlsx
from geozone.numbers import clock
from geozone.numbers.crossing import STAYS_ABOVE
from geozone.numbers.sun import switch_times
from geozone.switching.calendars import timetable_calendar
from geozone.switching.conditions import Conditions
from geozone.switching.switchings import switching_rows
from geozone.switching.timetable import dated_timetable, timetable_year
from geozone.trade.programme import DUSK_TO_DAWN, Event, Holidays, Programme, Season
from geozone.trade.setting import Tolerance

RNG = np.random.default_rng(4)
TOWN = {"lat_deg": RNG.uniform(-35.3, -34.9, 40), "lon_deg": RNG.uniform(140.8, 141.3, 40), "legal_zone": "Australia/Adelaide"}
SUN = {"year": 2027, "altitude_deg": -4.0}


def made(**how):
    return dated_timetable(**{**TOWN, **SUN, **how})


def ran(table, **how):
    return year_of(table, **{**TOWN, "altitude_deg": -4.0, **how}).drift


def year_of(table, lat_deg, lon_deg, legal_zone, altitude_deg, programme=DUSK_TO_DAWN, setting=None, **more):
    """A timetable's year with its own tolerance, unless another is given."""
    conditions = Conditions(table.year, altitude_deg, **{"tolerance": table.tolerance, **more})
    return timetable_year(table, lat_deg, lon_deg, legal_zone, conditions, programme, setting=setting)


@pytest.mark.parametrize("period", ["week", "fortnight", "month"])
@pytest.mark.parametrize("rounding", [1, 5, 10])
def test_dark_minutes_stay_within_tolerance(period, rounding):
    table = made(period=period, rounding_min=rounding)
    drift = ran(table)
    assert table.kept.all() and drift.worst_dark_min.max() <= 5 + 1e-6
    # And no earlier than rounding makes it: some site comes within one step of the tolerance.
    assert drift.worst_dark_min.max() > 5 - rounding
    assert not np.any(table.dusk_min % rounding) and not np.any(table.dawn_min % rounding)


def test_shorter_periods_waste_less_and_clock_changes_start_new_ones():
    week, month = made(period="week", rounding_min=1), made(period="month", rounding_min=1)
    assert ran(week).excess_year_min.max() < ran(month).excess_year_min.max() / 3
    # 4 April and 3 October 2027: no evening or morning is keyed on the wrong side of the change.
    assert {"2027-04-04", "2027-10-03"} <= set(month.frame()["from"]) and len(month.frame()) == 14
    assert ran(week).worst_excess_min.max() < 20


def test_one_period_by_hand():
    table = made(period="month", rounding_min=5)
    times = switch_times(lat_deg=TOWN["lat_deg"], lon_deg=TOWN["lon_deg"], **SUN)
    june = slice(151, 181)
    earliest = (times.dusk_utc_min[:, june] - np.arange(151, 181) * 1440 + 570).min()
    row = table.frame().set_index("from").loc["2027-06-01"]
    assert row["dusk"] == f"{int((earliest + 5) // 5 * 5) // 60:02d}:{int((earliest + 5) // 5 * 5) % 60:02d}"
    # Dawns on dates 1 to 30 June end the nights of 31 May to 29 June.
    latest = (times.dawn_utc_min[:, 150:180] - np.arange(151, 181) * 1440 + 570).max()
    step = -int(-(latest - 5) // 5) * 5
    assert row["dawn"] == f"{step // 60:02d}:{step % 60:02d}"


def test_a_part_night_programme_runs_by_timetable():
    programme = Programme("p", (Event("on", "dusk", 10), Event("off", 1410), Event("on", 300), Event("off", "dawn", -5)))
    table = made(period="week", rounding_min=5)
    drift = ran(table, programme=programme)
    night = drift.worst_dark_min
    assert night.max() <= 5 + 1e-6 or "dawn" in set(drift.worst_dark_edge)
    rows = switching_rows(table, programme)
    first = rows[rows["from"] == "2027-01-01"]
    assert first["turn"].tolist() == ["on", "off", "on", "off"] and first["stands_for"].tolist()[0] == "dusk +10 min"


def test_white_nights_have_no_times():
    table = dated_timetable(lat_deg=[69.6], lon_deg=[18.9], legal_zone="Europe/Oslo", year=2027, altitude_deg=-4.0, period="month")
    frame = table.frame().set_index("from")
    state = switch_times(lat_deg=[69.6], lon_deg=[18.9], year=2027, altitude_deg=-4.0).state[0]
    nights = np.flatnonzero(state == STAYS_ABOVE)
    first, end = (str(np.datetime64("2027-01-01") + int(night)) for night in (nights[0], nights[-1] + 1))
    # White nights are periods of their own, without "on"; "off" is repeated, so that no lamp stays on for weeks.
    assert {first, end} < set(frame.index) and (frame.loc[first:"2027-07-01", "dusk"] == "").all() and frame.loc[end, "dusk"] != ""
    rows = switching_rows(table)
    summer = rows[(rows["from"] >= first) & (rows["from"] < end)]
    assert set(summer["turn"]) == {"off"} and set(summer["remark"]) == {"no darkness in this period"}
    drift = year_of(table, lat_deg=[69.6], lon_deg=[18.9], legal_zone="Europe/Oslo", altitude_deg=-4.0).drift
    assert drift.worst_dark_min[0] <= 5 + 1e-6


def test_dusk_after_midnight():
    # Helsinki in June at -6 degrees: dusk at 00:42 of the next date.
    table = dated_timetable(lat_deg=[60.1699], lon_deg=[24.9384], legal_zone="Europe/Helsinki", year=2027, altitude_deg=-6.0,
                            period="week", rounding_min=1)
    row = table.frame()[table.frame()["from"] <= "2027-06-21"].iloc[-1]
    assert row["dusk"].startswith("00:") and table.dusk_min.max() > 1440
    drift = year_of(table, lat_deg=[60.1699], lon_deg=[24.9384], legal_zone="Europe/Helsinki", altitude_deg=-6.0).drift
    assert drift.worst_dark_min[0] <= 5 + 1e-6


def test_a_tolerance_of_its_own():
    drift = ran(made(period="week", rounding_min=1, tolerance=Tolerance(1.0, 10.0)))
    assert 0.01 < drift.worst_dark_min.max() <= 1 + 1e-6


def test_calendar():
    icalendar = pytest.importorskip("icalendar")
    table = made(period="month", rounding_min=5)
    data = timetable_calendar(table, "Süd, A; B\nnext")
    assert data == timetable_calendar(table, "Süd, A; B\nnext")
    lines = data.split(b"\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"") and max(map(len, lines)) <= 75
    calendar = icalendar.Calendar.from_ical(data)
    entries = calendar.walk("VEVENT")
    assert len(entries) == 28 and len({str(e["uid"]) for e in entries}) == 28 and all("dtstamp" in e for e in entries)
    june = [e for e in entries if e.decoded("dtstart").date() == dt.date(2027, 6, 1)]
    frame = table.frame().set_index("from")
    assert {e.decoded("dtstart").strftime("%H:%M") for e in june} == {frame.loc["2027-06-01", "dusk"], frame.loc["2027-06-01", "dawn"]}
    assert all(e["rrule"]["count"] == [30] for e in june)
    # The instant too: 570 minutes ahead of UTC in June.
    assert all(e.decoded("dtstart").utcoffset() == dt.timedelta(minutes=570) for e in june)
    assert clock.tz_version()


def test_every_lamp_is_named_in_the_calendar_entry():
    data = timetable_calendar(made(period="month"), "T", Programme("p", (*DUSK_TO_DAWN.events, Event("off", 1410))))
    assert b"off at 23:30" in data.replace(b"\r\n ", b"")


@pytest.mark.parametrize("how", [{"period": "day"}, {"rounding_min": 7}])
def test_faults(how):
    with pytest.raises(InputError):
        made(**how)


def test_the_last_evening_before_white_nights_is_switched_off():
    """63.4 N: dusk after midnight until mid-June, then none. No lamp may burn through the white nights."""
    where = {"lat_deg": [63.43], "lon_deg": [10.4], "legal_zone": "Europe/Oslo"}
    # Dusk moves by up to five minutes a day there: half a period's days of that, twice a night, is what rounding to it costs.
    for period, days in (("week", 7), ("fortnight", 14), ("month", 31)):
        table = dated_timetable(**where, **SUN, period=period, rounding_min=5)
        found = year_of(table, **where, altitude_deg=-4.0)
        assert found.drift.worst_excess_min[0] < 600 and found.drift.worst_dark_min[0] <= 5 + 1e-6
        assert found.lit_min.sum() - found.intended_min.sum() < 365 * 2 * (5 * days / 2 + 10)


def test_polar_night_is_lit_through():
    where = {"lat_deg": [69.65], "lon_deg": [18.95], "legal_zone": "Europe/Oslo"}
    table = dated_timetable(**where, year=2027, altitude_deg=-0.8333, period="fortnight")
    frame, rows = table.frame().set_index("from"), switching_rows(table)
    assert frame.loc["2027-01-01", "all_day"] and not frame.loc["2027-03-12", "all_day"] and table.kept.all()
    assert rows[rows["from"] == "2027-01-01"]["turn"].tolist() == ["on"] and rows.iloc[0]["remark"] == "no dawn in this period: lit all day"
    assert year_of(table, **where, altitude_deg=-0.8333).drift.worst_dark_min[0] <= 5 + 1e-6


def test_days_of_minutes_are_lit_through_and_nights_of_minutes_are_lit():
    """Two sites 6 degrees apart: near polar night the western has dawn after the eastern has dusk."""
    where = {"lat_deg": [67.0, 67.0], "lon_deg": [20.0, 26.0], "legal_zone": "Europe/Helsinki"}
    for altitude in (-0.8333, 0.2, -0.4):
        table = dated_timetable(**where, year=2027, altitude_deg=altitude, period="month", rounding_min=10)
        assert table.kept.all()
        assert year_of(table, **where, altitude_deg=altitude).drift.worst_dark_min.max() <= 5 + 1e-6
    assert table.all_day.any()
    # A short night at the white nights' edge, and a tolerance as long as the night.
    where = {"lat_deg": np.arange(60.0, 64.0, 0.05), "lon_deg": 18.0 * np.ones(80), "legal_zone": "Europe/Stockholm"}
    table = dated_timetable(**where, year=2027, altitude_deg=-6.0, period="week", tolerance=Tolerance(20, 20))
    found = year_of(table, **where, altitude_deg=-6.0).drift
    assert table.kept.all() and found.worst_dark_min.max() <= 20 + 1e-6 and found.worst_excess_min.max() < 600


def test_holidays_stand_in_the_table_by_date():
    """Monday 14 June 2027 counts as a Sunday: a week's row for Monday to Friday leaves it out, one for Sunday takes it in."""
    programme = Programme("p", (Event("on", "dusk"), Event("off", 1380, days=frozenset(range(5))), Event("off", 60, days=frozenset((6,))),
                                Event("off", "dawn")))
    rows = switching_rows(made(period="month"), programme, Holidays((dt.date(2027, 6, 14),), 6))
    june = rows[rows["from"] == "2027-06-01"].set_index("at")
    assert june.loc["23:00", ["days", "except", "also"]].tolist() == ["mon-fri", "2027-06-14", ""]
    assert june.loc["01:00", ["days", "except", "also"]].tolist() == ["mon", "", "2027-06-15"]


def test_a_season_over_new_year_and_a_leap_day():
    programme = Programme("p", (Event("on", "dusk", season=Season(1215, 229)), Event("off", "dawn", season=Season(1215, 229))))
    rows = switching_rows(made(year=2028, period="month"), programme)
    on, off = (rows[rows["turn"] == turn] for turn in ("on", "off"))
    assert on["to"].iloc[1] == "2028-02-29" and off["to"].iloc[2] == "2028-03-01" and on["from"].iloc[-1] == "2028-12-15"
    assert off["from"].iloc[0] == "2028-01-01" and off["to"].iloc[-1] == "2029-01-01"


def test_workbook_has_the_table_as_it_is(tmp_path):
    programme = Programme("p", (*DUSK_TO_DAWN.events, Event("off", 1440)))
    rows = switching_rows(made(period="month"), programme)
    write_xlsx([Sheet("timetable", rows)], tmp_path / "t.xlsx", "t")
    write_csv(rows, tmp_path / "t.csv")
    sheet = pd.read_excel(tmp_path / "t.xlsx", engine="calamine", dtype=str, keep_default_na=False)
    paper = pd.read_csv(tmp_path / "t.csv", dtype=str, keep_default_na=False)
    same = ["from", "to", "turn", "at", "days", "except", "also", "stands_for"]
    assert sheet[same].values.tolist() == paper[same].values.tolist() and set(paper["at"].str.len()) == {5}


def test_the_calendar_keeps_weekdays_seasons_and_holidays():
    """Each dated switching of the calendar is one that the programme's own days allow, worked out here date by date."""
    programme = Programme("p", (Event("on", "dusk", days=frozenset((4, 5))), Event("off", 60, days=frozenset((4, 5))),
                                Event("on", 360, season=Season(501, 831)), Event("off", "dawn", 10)))
    holiday = Holidays((dt.date(2027, 6, 14),), 5)  # a Monday that counts as a Saturday
    table = made(period="month")
    calendar = icalendar.Calendar.from_ical(timetable_calendar(table, "t", programme, holiday))
    seen = {}
    for event in calendar.walk("VEVENT"):
        start, count = event["dtstart"].dt, int(event.get("rrule", {"count": [1]})["count"][0])
        for k in range(count):
            day = start.date() + dt.timedelta(days=k)
            seen.setdefault((event["summary"].split(" (")[0].split()[0], start.hour), set()).add(day)
    nights = {dt.date(2027, 1, 1) + dt.timedelta(days=k) for k in range(365)}
    fridays = {night for night in nights if night.weekday() in (4, 5)} | {dt.date(2027, 6, 14)}
    evenings = {day for (turn, hour), days in seen.items() if turn == "on" and hour > 12 for day in days}
    assert evenings == fridays
    # 01:00 belongs to the night before: it is keyed on the next date.
    assert {day for day in seen["off", 1] if day.year == 2027} == {night + dt.timedelta(days=1) for night in fridays
                                                                   if night < dt.date(2027, 12, 31)}
    assert seen["on", 6] == {night + dt.timedelta(days=1) for night in nights if (5, 1) <= (night.month, night.day) <= (8, 31)}
