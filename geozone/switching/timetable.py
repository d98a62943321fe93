"""Dated timetables: clock times by week, fortnight or month for switches that know no sun, and their drift."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..errors import InputError
from ..numbers import clock, comparison, crossing
from ..numbers.almanac import almanac
from ..numbers.civil import MIN_PER_DAY, clock_text, dates, instants
from ..numbers.clock import OffsetSequence, offset_min_at
from ..numbers.sun import checked_positions, nights_of, sin_threshold, switch_times
from ..trade.programme import DUSK_TO_DAWN, Holidays, Programme, days_text, meant_order, minute_of_night
from ..trade.setting import Tolerance
from .programme_year import ProgrammeYear, programme_year

PERIODS = ("week", "fortnight", "month")
ROUNDINGS_MIN = (1, 5, 10)
_SAME_MIN = 1e-6


@dataclass(frozen=True)
class Timetable:
    """Clock times that stand for dusk and dawn, period by period, on one clock.

    Attributes
    ----------
    year : int
    legal_zone : str
        The zone whose legal time the switches show.
    first, last : (k,) int64
        First and last civil date of each period, counted from 1 January; a clock change starts a new period.
    dusk_min, dawn_min : (k,) float64
        Minute of each date of the period at which the lamps take it to be dusk (past 1440 where dusk falls after
        midnight), and dawn. NaN where no site has dusk, or dawn, in the period.
    tolerance : Tolerance
    kept : (k,) bool
        False where no pair of times keeps dark minutes within the tolerance at every site and night: dusk would come after
        dawn, or the sun stays below the threshold all day somewhere.
    """

    year: int
    legal_zone: str
    first: np.ndarray
    last: np.ndarray
    dusk_min: np.ndarray
    dawn_min: np.ndarray
    tolerance: Tolerance
    kept: np.ndarray

    def frame(self) -> pd.DataFrame:
        """One row a period: from, to (ISO civil dates), days, dusk, dawn (clock times, "" for none), and `kept`."""
        return pd.DataFrame({
            "from": dates(self.first, self.year).astype(str), "to": dates(self.last, self.year).astype(str),
            "days": self.last - self.first + 1, "dusk": [_text(t) for t in self.dusk_min],
            "dawn": [_text(t) for t in self.dawn_min], "dark_within_tolerance": self.kept})

    def dusk_dawn(self, legal: OffsetSequence):
        """(dusk_utc_min, dawn_utc_min, state) of switches whose clock shows `legal`."""
        n = nights_of(self.year).size
        date = np.arange(n + 1)
        # The dawn of the year's last night falls on the next year's first date: the last period goes on.
        period = np.searchsorted(self.first, date, side="right") - 1
        dusk = instants((date * MIN_PER_DAY + self.dusk_min[period])[:-1], legal).first_utc_min
        dawn = instants((date * MIN_PER_DAY + self.dawn_min[period])[1:], legal).first_utc_min
        state = np.full(n, crossing.CROSSES, np.int8)
        state[np.isnan(dusk) & np.isnan(dawn)] = crossing.STAYS_ABOVE
        return dusk, dawn, state


def dated_timetable(*, lat_deg, lon_deg, legal_zone: str, year: int, altitude_deg: float, period: str = "fortnight",
                    rounding_min: int = 5, tolerance: Tolerance = Tolerance()) -> Timetable:
    """Clock times for dusk and dawn that keep every site's dark minutes within the tolerance, at the least excess.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
        Sites that share the timetable, all of them on the clock of `legal_zone`; longitudes unwrapped.
    legal_zone : str
    year, altitude_deg
    period : {"week", "fortnight", "month"}
    rounding_min : {1, 5, 10}
        Clock times are whole multiples of this.
    tolerance : Tolerance

    Returns
    -------
    Timetable

    Raises
    ------
    InputError
        Another period or rounding.

    Notes
    -----
    Dusk is the latest rounded time that is at most `tolerance.dark_min` after the earliest dusk of all sites and
    dates of the period, dawn the earliest that is at most as much before the latest dawn. So dark minutes stay within
    the tolerance by construction; the excess is what it costs. Where dusk would come after dawn, or the sun stays below the
    threshold all day, that is impossible, and `kept` says so. Every night counts, whatever `tolerance.shallow_deg`: lamps
    must burn in a polar night too. Sites without darkness on a night are lit all the same when others are not.
    """
    if period not in PERIODS:
        raise InputError("unknown timetable period", where="timetable", value=period, rule=f"one of {', '.join(PERIODS)}")
    if rounding_min not in ROUNDINGS_MIN:
        raise InputError("the timetable's rounding cannot be used", where="timetable", value=rounding_min,
                         rule="1, 5 or 10 minutes")
    sequence = clock.offsets(legal_zone, year)
    lat_rad, lon_rad = checked_positions(lat_deg, lon_deg)
    table = almanac(year)
    spread = np.empty((5, table.n_night))
    comparison.envelope(table.hour_angle, table.sin_declination, lat_rad, lon_rad, sin_threshold(altitude_deg),
                        *comparison.EVERY_NIGHT, spread)
    date = np.arange(table.n_night) * MIN_PER_DAY
    dusk = _on_clock(spread[0], sequence) - date
    dawn = np.append(np.nan, (_on_clock(spread[3], sequence) - date - MIN_PER_DAY))
    first = _starts(period, year, sequence)
    last = np.append(first[1:], table.n_night) - 1
    latest_dusk, earliest_dawn = np.full(first.size, np.nan), np.full(first.size, np.nan)
    for i, (a, b) in enumerate(zip(first, last)):  # at most 60 periods
        evenings = dusk[a:b + 1][np.isfinite(dusk[a:b + 1])]
        # The last period also serves the dawn after the year's last night.
        mornings = dawn[a:b + 2] if b == table.n_night - 1 else dawn[a:b + 1]
        mornings = mornings[np.isfinite(mornings)]
        if evenings.size:
            latest_dusk[i] = math.floor((evenings.min() + tolerance.dark_min + _SAME_MIN) / rounding_min) * rounding_min
        if mornings.size:
            earliest_dawn[i] = math.ceil((mornings.max() - tolerance.dark_min - _SAME_MIN) / rounding_min) * rounding_min
    # The last evening of a period may have its dawn in the next, which has none of its own: the lamps would burn for weeks.
    for i in range(1, first.size):
        if np.isnan(earliest_dawn[i]) and not np.isnan(latest_dusk[i - 1]):
            earliest_dawn[i] = earliest_dawn[i - 1]
    kept = ~(latest_dusk >= earliest_dawn + MIN_PER_DAY)
    # Where the sun stays below the threshold all day, no pair of times says "on".
    dark_days = _dark_days(lat_deg, lon_deg, year, altitude_deg)
    kept &= ~np.array([dark_days[a:b + 1].any() for a, b in zip(first, last)])
    return Timetable(year, legal_zone, first, last, latest_dusk, earliest_dawn, tolerance, kept)


def timetable_year(timetable: Timetable, *, lat_deg, lon_deg, legal_zone, altitude_deg: float,
                   programme: Programme = DUSK_TO_DAWN, holidays: Holidays = Holidays(), **how) -> ProgrammeYear:
    """What switches that run a programme by this timetable do at every site: its drift, like any other setting's.

    Other keywords as for `programme_year` (tolerance, keypad, tariff).
    """
    return programme_year(lat_deg=lat_deg, lon_deg=lon_deg, legal_zone=legal_zone, programme=programme,
                          year=timetable.year, altitude_deg=altitude_deg, holidays=holidays,
                          delivered_dusk_dawn=timetable.dusk_dawn, **{"tolerance": timetable.tolerance, **how})


def switching_rows(timetable: Timetable, programme: Programme = DUSK_TO_DAWN) -> pd.DataFrame:
    """What to key in: one row for each period and event of the programme, in the order of the night.

    Columns: from, to, turn, at (clock time), days, season, stands_for ("dusk", "dawn", with its shift, or "clock time"),
    dark_within_tolerance (of the period).
    `from`, `to` and `days` are dates and weekdays of the calendar, as a weekly clock keeps them: an event after midnight
    that a programme gives to the night of a Friday is a Saturday's here.
    """
    rows = []
    frame = timetable.frame()
    for i in range(len(frame)):
        events = []
        for j in meant_order(programme.events):
            event = programme.events[j]
            if event.by_sun:
                base = timetable.dusk_min[i] if event.at == "dusk" else timetable.dawn_min[i] + MIN_PER_DAY
                if np.isnan(base):
                    continue
                minute = base + event.shift_min
                stands = event.at + (f" {event.shift_min:+d} min" if event.shift_min else "")
            else:
                minute, stands = 720.0 + minute_of_night(event.at), "clock time"
            season = event.season.toml() if event.season else ""
            events.append((minute, {"from": frame["from"][i], "to": frame["to"][i], "turn": event.turn,
                                    "at": _text(minute), "days": days_text(_dates_of(event.days, minute, programme)), "season": season,
                                    "stands_for": stands,
                                    "dark_within_tolerance": bool(timetable.kept[i])}))
        rows += [row for _, row in sorted(events, key=lambda pair: pair[0])]
    return pd.DataFrame(rows, columns=["from", "to", "turn", "at", "days", "season", "stands_for", "dark_within_tolerance"])


def _dark_days(lat_deg, lon_deg, year: int, altitude_deg: float) -> np.ndarray:
    """(n_night,) bool: nights on which the sun stays below the threshold at the site nearest to a pole."""
    lat, lon = np.asarray(lat_deg, dtype=float), np.asarray(lon_deg, dtype=float)
    ends = np.unique([int(np.argmin(lat)), int(np.argmax(lat))])
    times = switch_times(lat_deg=lat[ends], lon_deg=lon[ends], year=year, altitude_deg=altitude_deg)
    return (times.state == crossing.STAYS_BELOW).any(axis=0)


def _on_clock(utc_min: np.ndarray, sequence: OffsetSequence) -> np.ndarray:
    known = np.isfinite(utc_min)
    at = np.where(known, utc_min, 0.0)
    return np.where(known, at + offset_min_at(sequence, at), np.nan)


def _starts(period: str, year: int, sequence: OffsetSequence) -> np.ndarray:
    night = nights_of(year)
    n = night.size
    if period == "month":
        starts = (np.unique(night.astype("datetime64[M]")).astype("datetime64[D]") - night[0]).astype(int)
    else:
        starts = np.arange(0, n, 7 if period == "week" else 14)
    # Clocks are changed in the small hours, before the dawn of the date.
    changes = np.floor((sequence.start_utc_min[1:] + sequence.offset_min[:-1]) / MIN_PER_DAY).astype(int)
    return np.unique(np.concatenate([[0], starts, changes[(changes > 0) & (changes < n)]])).astype(np.int64)


def _dates_of(days: frozenset, minute: float, programme: Programme) -> frozenset:
    """Weekdays of the dates on which an event happens, of those that the programme means."""
    after_midnight = minute >= MIN_PER_DAY and programme.night_rule == "night"
    return frozenset((day + 1) % 7 for day in days) if after_midnight else days


def _text(minute: float) -> str:
    return "" if np.isnan(minute) else clock_text(minute % MIN_PER_DAY)
