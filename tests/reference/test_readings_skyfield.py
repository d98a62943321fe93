"""What a display must read, against Skyfield with DE421 and the clock rules written out by hand: shares nothing with geozone.

The hand-written rules: southern Australia first Sundays of October and April, 2:00 standard time; European Union last Sundays
of March and October, 1:00 UTC (Directive 2000/84/EC); both as in the tz database 2026c.
"""

import datetime as dt
from importlib.resources import files

import pytest
from skyfield import almanac
from skyfield.api import load, load_file, wgs84

from geozone.trade.readings import Keyed, readings
from geozone.trade.switchclock import SAVING_RULES, SwitchClock


def sunday(year, month, last):
    days = [dt.date(year, month, day) for day in range(1, 32 if month in (3, 10) else 31)]
    found = [day for day in days if day.weekday() == 6]
    return found[-1] if last else found[0]


def southern_australia(utc):
    y = utc.year
    april, october = (dt.datetime.combine(sunday(y, month, False), dt.time(2)) - dt.timedelta(minutes=570) for month in (4, 10))
    return 570 + (0 if april <= utc < october else 60)


def european_union(utc):
    y = utc.year
    march, october = (dt.datetime.combine(sunday(y, month, True), dt.time(1)) for month in (3, 10))
    return 60 + (60 if march <= utc < october else 0)


CASES = [(Keyed(-34.1, 139.6, SwitchClock(570, SAVING_RULES["southern australia"]), -4.0, -2, 1), southern_australia),
         (Keyed(59.3, 18.1, SwitchClock(60, SAVING_RULES["european union"]), -0.8333, 3, -4), european_union)]
DATES = [dt.date(2027, 1, 20), dt.date(2027, 3, 28), dt.date(2027, 4, 3), dt.date(2027, 4, 4), dt.date(2027, 6, 21), dt.date(2027, 10, 3),
         dt.date(2027, 10, 31), dt.date(2027, 12, 30)]


@pytest.mark.parametrize("keyed, offset", CASES)
def test_readings_agree_on_ordinary_days_and_on_days_of_a_clock_change(keyed, offset):
    ours = readings([keyed], 2027)
    scale, ephemeris = load.timescale(builtin=True), load_file(str(files("skyfield_data") / "data" / "de421.bsp"))
    place = wgs84.latlon(keyed.lat_deg, keyed.lon_deg)
    try:
        crossing = almanac.risings_and_settings(ephemeris, ephemeris["Sun"], place, horizon_degrees=keyed.altitude_deg,
                                                radius_degrees=0.0)
        for day in DATES:
            middle = dt.datetime.combine(day, dt.time(12)) - dt.timedelta(hours=keyed.lon_deg / 15)
            # A day and a half on each side: this morning's dawn, this evening's dusk, the coming dawn.
            span = [scale.utc(*(middle + dt.timedelta(hours=h)).timetuple()[:5]) for h in (-14, 26)]
            at, rises = almanac.find_discrete(*span, crossing)
            events = [(time.utc_datetime().replace(tzinfo=None), bool(up)) for time, up in zip(at, rises)]
            morning = [t for t, up in events if up and t < middle][-1]
            dusk = next(t for t, up in events if not up and t > middle)
            coming = next(t for t, up in events if up and t > middle)
            k = (day - dt.date(2027, 1, 1)).days
            for utc, extra, found in ((dusk, keyed.dusk_offset_min, ours.dusk_min), (morning, keyed.dawn_offset_min, ours.dawn_min),
                                      (coming, keyed.dawn_offset_min, ours.coming_dawn_min)):
                wall = utc + dt.timedelta(minutes=offset(utc) + extra)
                minute = wall.hour * 60 + wall.minute + wall.second / 60 + wall.microsecond / 6e7
                assert abs((found[0, k] - minute + 720) % 1440 - 720) < 1.5 / 60, day
    finally:
        ephemeris.close()
