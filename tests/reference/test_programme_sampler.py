"""Lit intervals against an independent sampler: every 30 seconds of a year, sun by pvlib, clock by zoneinfo.

The sampler shares no code with geozone: the sun's altitude comes from pvlib's SPA (NREL/TP-560-34302), wall time from
pandas with zoneinfo, and the switch is a plain latch, or the regime itself stated as a condition on the instant.

Sources of the regimes: part-night hours as public authorities state them, Kent (midnight to 05:30 by UTC all year) and
Warwickshire (dusk to 24:00 and 05:30 to dawn; Friday and Saturday nights off 01:00 to 06:30; the morning period left
out in summer because it is light already); switches left unadjusted in autumn run an hour early, South
Gloucestershire. The places and the fixtures are ours.
"""

from functools import lru_cache

import numpy as np
import pandas as pd
import pytest
from scipy.interpolate import CubicSpline

from geozone.numbers import clock
from geozone.numbers.civil import MIN_PER_DAY
from geozone.switching.conditions import Conditions
from geozone.switching.cure import cure_of
from geozone.switching.foolish import Switch, foolish_nights
from geozone.switching.programme_year import intended, lit_hours, programme_year
from geozone.trade.programme import DAY_SETS, DUSK_TO_DAWN, Event, Holidays, Programme
from geozone.trade.setting import Setting

pvlib = pytest.importorskip("pvlib")

STEP_MIN = 0.5
SUN_TO_THU, FRI_SAT = frozenset((6, 0, 1, 2, 3)), frozenset((4, 5))
REGIME = Programme("county regime", (
    Event("on", "dusk"), Event("off", 1440, days=SUN_TO_THU), Event("off", 60, days=FRI_SAT),
    Event("on", 330, days=SUN_TO_THU), Event("on", 390, days=FRI_SAT), Event("off", "dawn")))
MIDLANDS = (52.3, -1.5, "Europe/London")
PLACES = {"midlands": MIDLANDS, "riverland": (-34.2, 140.7, "Australia/Adelaide"),
          "lord howe": (-31.55, 159.08, "Australia/Lord_Howe"), "north": (63.0, 12.0, "Europe/Stockholm"),
          "plains": (41.0, -98.0, "America/Chicago")}


@lru_cache(maxsize=8)
def sampled(lat, lon, zone, year, altitude):
    """Ticks of the year: UTC minutes, sine of altitude above the threshold's, wall minute of the day, civil day, weekday."""
    stamp = pd.date_range(f"{year - 1}-12-20", f"{year + 1}-01-03", freq="30s", tz="UTC")
    # Altitude without refraction, on the ellipsoid's surface: what the threshold means. The sine is a smooth curve: a
    # cubic spline through ten-minute nodes is within 1e-7 of it, and twenty times as fast.
    node = pd.date_range(stamp[0], stamp[-1], freq="10min")
    sun = pvlib.solarposition.spa_python(node, lat, lon, altitude=0, delta_t=69.0, temperature=10, atmos_refract=0.0)
    spline = CubicSpline(node.as_unit("s").asi8, np.sin(np.radians(sun["elevation"].to_numpy())))
    above = spline(stamp.as_unit("s").asi8) - np.sin(np.radians(altitude))
    minutes = (stamp - pd.Timestamp(f"{year}-01-01", tz="UTC")) / pd.Timedelta(minutes=1)
    clock.use_packaged_tz()
    wall = stamp.tz_convert(zone).tz_localize(None)
    day = ((wall.normalize() - pd.Timestamp(f"{year}-01-01")) / pd.Timedelta(days=1)).to_numpy().astype(int)
    minute = (wall - wall.normalize()) / pd.Timedelta(minutes=1)
    return minutes.to_numpy(), above, minute.to_numpy(), day, wall.day_of_week.to_numpy()


def latch(programme, sample, holidays=()):
    """What a switch does that carries out every event when it comes; night rule as the programme says."""
    utc, above, minute, day, weekday = sample
    dark = above < 0
    fired = []
    falls = np.flatnonzero(~dark[:-1] & dark[1:]) + 1
    rises = np.flatnonzero(dark[:-1] & ~dark[1:]) + 1
    for line, event in enumerate(programme.events):
        if event.at in ("dusk", "dawn"):
            cross = falls if event.at == "dusk" else rises
            # Part of a tick before it, so that dawn at 05:29:45 comes before a clock time of 05:30.
            early = above[cross] / (above[cross] - above[cross - 1])
            at = cross + 2 * event.shift_min
            early, at = early[(at >= 0) & (at < utc.size)], at[(at >= 0) & (at < utc.size)]
            # The night is named by the date 12 hours earlier than any moment of it between 12:00 and 12:00.
            date = day[at] if programme.night_rule == "date" else np.where(minute[at] < 720, day[at] - 1, day[at])
        else:
            wall = day * 1440.0 + minute
            at = np.flatnonzero(minute == event.at % 1440)
            # A time that the clock jumps over is carried out at the jump: geozone's stated convention.
            jump = np.flatnonzero(np.diff(wall) > 1) + 1
            over = [i for i in jump if (wall[i - 1] - event.at % 1440) // 1440 < (wall[i] - event.at % 1440 - 0.1) // 1440]
            at = np.sort(np.append(at, np.array(over, dtype=int)))
            early = np.zeros(at.size)
            date = day[at]
            if event.at == 1440 or (programme.night_rule == "night" and event.at < 720):
                date = date - 1
        # 1 January 2000 was a Saturday.
        anchor = (np.datetime64(f"{YEAR}-01-01") - np.datetime64("2000-01-01")).astype(int)
        named = (date + anchor + 5) % 7
        for holiday, counts_as in holidays:
            named = np.where(date == holiday, counts_as, named)
        due = np.isin(named, list(event.days))
        if event.season:
            real = np.datetime64(f"{YEAR}-01-01") + date
            month = real.astype("datetime64[M]").astype(int) % 12 + 1
            number = 100 * month + (real - real.astype("datetime64[M]")).astype(int) + 1
            a, b = event.season.first, event.season.last
            due &= (a <= number) & (number <= b) if a <= b else (a <= number) | (number <= b)
        fired += [(i - e, line, event.turn == "on", i) for i, e in zip(at[due], early[due])]
    fired.sort()
    lit = np.zeros(utc.size, bool)
    where = np.array([f[3] for f in fired] + [utc.size])
    for (_, _, on, i), stop in zip(fired, where[1:]):
        lit[i:stop] = on
    return lit


YEAR = 2027


def disagreement(union, sample, lit, lon=0.0):
    """Minutes in which the intervals and the samples differ, and how many switchings there are."""
    utc = sample[0]
    first, last = 750.0 - 4 * lon, 365.5 * MIN_PER_DAY - 30 - 4 * lon
    i = np.searchsorted(union.ends[0], utc, side="right") - 1
    ours = (i >= 0) & (utc < union.ends[1, np.maximum(i, 0)])
    seen = (utc >= first) & (utc < last)
    return (ours != lit)[seen].sum() * STEP_MIN, 2 * union.ends.shape[1]


PROGRAMMES = {
    "dusk to dawn": DUSK_TO_DAWN,
    "regime": REGIME,
    "by date": Programme("p", REGIME.events, "date"),
    "split": Programme("s", (Event("on", "dusk", -7), Event("off", 1410, days=SUN_TO_THU), Event("on", 330), Event("off", "dawn", 12))),
    "early off": Programme("e", (Event("on", "dusk"), Event("off", 1215), Event("on", 290), Event("off", "dawn"))),
    "weekend only": Programme("w", (Event("on", "dusk", days=DAY_SETS["weekend"]), Event("off", 1325), Event("off", "dawn"))),
}


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("name", PROGRAMMES)
def test_obeyed_intervals_are_those_of_the_sampled_latch(place, name):
    lat, lon, zone = PLACES[place]
    sample = sampled(lat, lon, zone, YEAR, -4.0)
    programme = PROGRAMMES[name]
    union = intended(programme, lat_deg=lat, lon_deg=lon, legal_zone=zone, year=YEAR, altitude_deg=-4.0, reading="obeyed")
    wrong, switchings = disagreement(union, sample, latch(programme, sample), lon)
    assert wrong <= STEP_MIN * switchings + 1 and switchings > 50


def test_holidays_against_the_latch():
    from datetime import date

    lat, lon, zone = MIDLANDS
    sample = sampled(lat, lon, zone, YEAR, -4.0)
    programme = PROGRAMMES["regime"]
    union = intended(programme, lat_deg=lat, lon_deg=lon, legal_zone=zone, year=YEAR, altitude_deg=-4.0, reading="obeyed",
                     holidays=Holidays((date(2027, 3, 25), date(2027, 12, 27)), 4))
    wrong, switchings = disagreement(union, sample, latch(programme, sample, [(83, 4), (360, 4)]))
    assert wrong <= STEP_MIN * switchings + 1
    plain, _ = disagreement(union, sample, latch(programme, sample))
    assert plain > 100


def regime_condition(sample):
    """Lit exactly when it is dark and the hour of that night is not an hour off."""
    utc, above, minute, day, weekday = sample
    dark = above < 0
    night_weekday = np.where(minute < 720, weekday - 1, weekday) % 7
    late = np.isin(night_weekday, (4, 5))
    off = np.where(late, (minute >= 60) & (minute < 390), minute < 330)
    return dark & ~off


def test_the_regime_as_meant_is_darkness_less_the_hours_off():
    lat, lon, zone = MIDLANDS
    sample = sampled(lat, lon, zone, YEAR, -4.0)
    union = intended(REGIME, lat_deg=lat, lon_deg=lon, legal_zone=zone, year=YEAR, altitude_deg=-4.0)
    wrong, switchings = disagreement(union, sample, regime_condition(sample))
    assert wrong <= STEP_MIN * switchings + 1


def test_the_regimes_morning_is_left_out_in_summer():
    lat, lon, zone = MIDLANDS
    union = intended(REGIME, lat_deg=lat, lon_deg=lon, legal_zone=zone, year=YEAR, altitude_deg=-4.0)
    june = (union.ends[0] > 151 * 1440) & (union.ends[0] < 181 * 1440)
    # One period a night, each in the evening: none starts between 02:00 and 12:00 UTC.
    assert june.sum() == 30
    assert not np.any((union.ends[0][june] % 1440 > 120) & (union.ends[0][june] % 1440 < 720))


def test_a_simple_switch_burns_through_those_days_and_the_cure_stops_it():
    lat, lon, zone = MIDLANDS
    switch = Switch("county", Setting(lat, lon, zone), zone)
    found = foolish_nights(REGIME, [switch], Conditions(YEAR, -4.0))
    # 01:00 on a Saturday night is in both changes of the clock.
    assert {f.kind for f in found} == {"on after dawn", "left out by the clock", "twice on the clock"}
    assert max(f.hours for f in found) > 1000
    cure = cure_of(REGIME, [switch], Conditions(YEAR, -4.0))
    assert cure.verified and cure.wrong_before_h > 1000 and cure.wrong_after_h < 20
    # By the sampler too: the changed programme, obeyed, is lit when the regime says so, apart from the margin days.
    sample = sampled(lat, lon, zone, YEAR, -4.0)
    lit = latch(cure.programme, sample)
    seen = (sample[0] >= 720) & (sample[0] < 365.5 * 1440)
    assert (lit != regime_condition(sample))[seen].sum() * STEP_MIN / 60 < 20


def test_off_hours_by_utc_all_year_are_an_hour_later_by_the_clock_in_summer():
    lat, lon, zone = MIDLANDS
    programme = Programme("by utc", (Event("on", "dusk"), Event("off", 1440), Event("on", 330), Event("off", "dawn")))
    sample = sampled(lat, lon, zone, YEAR, -0.8333)
    utc, dark = sample[0], sample[1] < 0
    seen = (utc >= 720) & (utc < 365.5 * 1440)
    # One end of a period on a tick, the other anywhere: a quarter of a minute a period, so 1 h over a year's unequal
    # numbers of evenings and mornings.
    condition = dark & ~(utc % 1440 < 330)
    hours = lit_hours(lat_deg=[lat], lon_deg=[lon], legal_zone="UTC", programme=programme, year=YEAR,
                      altitude_deg=-0.8333, reading="meant").sum()
    assert hours == pytest.approx(condition[seen].sum() * STEP_MIN / 60, abs=1)
    # By legal time instead: other hours in summer.
    by_law = dark & ~(sample[2] < 330)
    legal = lit_hours(lat_deg=[lat], lon_deg=[lon], legal_zone=zone, programme=programme, year=YEAR,
                      altitude_deg=-0.8333, reading="meant").sum()
    assert legal == pytest.approx(by_law[seen].sum() * STEP_MIN / 60, abs=1)
    assert abs(legal - hours) > 50
    # Seven months of one hour: in winter both are the same light.
    months = [lit_hours(lat_deg=[lat], lon_deg=[lon], legal_zone=z, programme=programme, year=YEAR, altitude_deg=-0.8333,
                        reading="meant")[0] for z in ("UTC", zone)]
    assert months[0][[0, 1, 10, 11]] == pytest.approx(months[1][[0, 1, 10, 11]], abs=1e-6)


def test_a_clock_left_unadjusted_in_autumn_runs_an_hour_early():
    lat, lon, zone = MIDLANDS
    programme = Programme("part-night", (Event("on", "dusk"), Event("off", 1410)))
    legal = clock.offsets(zone, YEAR)
    # Set right in summer and never put back: an hour ahead from 31 October on.
    stuck = clock.OffsetSequence(legal.start_utc_min[:2].copy(), legal.offset_min[:2].copy())
    found = programme_year([lat], [lon], zone, programme, Conditions(YEAR, -4.0, wall_clocks={legal.key: stuck}),
                           setting=Setting(lat, lon, zone)).drift
    assert found.worst_dark_min[0] == pytest.approx(60) and found.worst_dark_edge[0] == "clock"
    assert found.worst_dark_night[0] >= 303 and found.worst_excess_min[0] < 0.1
    assert found.dark_year_min[0] == pytest.approx(60 * 62)  # 31 October to 31 December
