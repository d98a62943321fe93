"""Sunrise and sunset to the printed minute, US Naval Observatory.

Source: the table "from USNO" in pvlib's tests/test_spa.py. Two places, four dates of 2015, local standard time.
"""

import numpy as np
import pytest

from geozone.numbers.sun import switch_times

DATES = ("2015-01-02", "2015-04-02", "2015-08-02", "2015-12-02")
PRINTED = [
    # lat, lon, UTC offset [h], rise, set
    (39.0, -105.0, -7, ("07:19", "05:43", "05:01", "07:01"), ("16:49", "18:24", "19:10", "16:38")),
    (39.917, 116.383, 8, ("07:36", "05:58", "05:13", "07:17"), ("17:00", "18:39", "19:28", "16:50")),
]
CASES = [(lat, lon, hours, date, edge, clock)
         for lat, lon, hours, rise, fall in PRINTED
         for edge, clocks in (("dawn", rise), ("dusk", fall))
         for date, clock in zip(DATES, clocks)]


@pytest.mark.parametrize("lat, lon, hours, date, edge, clock", CASES)
def test_printed_minute(lat, lon, hours, date, edge, clock):
    ours = switch_times(lat_deg=lat, lon_deg=lon, year=2015, altitude_deg=-50 / 60)
    day = int((np.datetime64(date) - np.datetime64("2015-01-01")).astype(int))
    printed = day * 1440 + int(clock[:2]) * 60 + int(clock[3:]) - hours * 60
    # The dawn of a date ends the night named by the date before.
    utc_min = ours.dusk_utc_min[0, day] if edge == "dusk" else ours.dawn_utc_min[0, day - 1]
    # Rounding to the minute, 0.4 s of UT1 - UTC in 2015, and a second for the table's own arithmetic.
    assert abs(utc_min - printed) < 0.5 + 1.4 / 60
