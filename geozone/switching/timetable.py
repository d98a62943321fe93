"""Dated timetables: clock times by week, fortnight or month for switches that know no sun, and their drift."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..errors import InputError
from ..numbers import clock, comparison, crossing
from ..numbers.almanac import almanac
from ..numbers.civil import MIN_PER_DAY, clock_text, dates, instants
from ..numbers.clock import OffsetSequence, offset_min_at
from ..numbers.sun import checked_positions, nights_of, sin_threshold, switch_times
from ..trade.programme import DUSK_TO_DAWN, Programme
from ..trade.setting import Setting, Tolerance
from .burning import noons
from .conditions import Conditions
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
        First and last civil date of each period, counted from 1 January. A clock change starts a new period, and so do the
        first and the last night of white nights and of polar night.
    dusk_min : (k,) float64
        Minute at which the lamps take it to be dusk, in the nights that are named by the dates of the period: past 1440 where
        that is after midnight. NaN where no site has darkness.
    dawn_min : (k,) float64
        Minute of the dates of the period at which they take it to be dawn. It ends the nights that began the evening
        before, the first of them in the period before. In white nights it only makes sure that no lamp stays on. NaN where
        the lamps are lit all day.
    all_day : (k,) bool
        The lamps are not switched off on the dates of the period: the sun stays below the threshold somewhere, or rises
        so shortly that switching off would come after switching on.
    tolerance : Tolerance
    kept : (k,) bool
        Whether dark minutes are within the tolerance at every site and night.
    """

    year: int
    legal_zone: str
    first: np.ndarray
    last: np.ndarray
    dusk_min: np.ndarray
    dawn_min: np.ndarray
    all_day: np.ndarray
    tolerance: Tolerance
    kept: np.ndarray

    def frame(self) -> pd.DataFrame:
        """One row a period: from, to (ISO civil dates), days, dusk, dawn (clock times, "" for none), all_day and `kept`."""
        return pd.DataFrame({
            "from": dates(self.first, self.year).astype(str), "to": dates(self.last, self.year).astype(str),
            "days": self.last - self.first + 1, "dusk": [_text(t) for t in self.dusk_min],
            "dawn": [_text(t) for t in self.dawn_min], "all_day": self.all_day, "dark_within_tolerance": self.kept})

    def period_of(self, date) -> np.ndarray:
        """Periods of civil dates; what lies before or after the year belongs to the first and the last."""
        return np.clip(np.searchsorted(self.first, date, side="right") - 1, 0, self.first.size - 1)

    def ends(self, night) -> np.ndarray:
        """Whether a night (named by its evening's date) has a switching that stands for dawn."""
        return ~np.isnan(self.dawn_min[self.period_of(np.asarray(night) + 1)])

    def dusk_dawn(self, legal: OffsetSequence):
        """(dusk_utc_min, dawn_utc_min, state) of switches whose clock shows `legal`."""
        night = np.arange(nights_of(self.year).size)
        dusk = instants(night * MIN_PER_DAY + self.dusk_min[self.period_of(night)], legal).first_utc_min
        dawn = (night + 1) * MIN_PER_DAY + self.dawn_min[self.period_of(night + 1)]
        dawn = instants(dawn, legal).first_utc_min
        state = np.full(night.size, crossing.CROSSES, np.int8)
        state[np.isnan(dusk)] = crossing.STAYS_ABOVE
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
    nights of the period, dawn the earliest that is at most as much before the latest dawn of its dates. Where that would turn
    the lamps off before they are on (nights of some minutes), neither uses the tolerance. Where the sun stays below the
    threshold at noon somewhere, nothing turns the lamps off, and "on" is repeated at noon; where it stays above it
    everywhere, "off" is repeated. Every night counts, whatever `tolerance.shallow_deg`: lamps must burn in a polar night
    too. Sites without darkness on a night are lit all the same when others are not. `kept` is checked afterwards, instant by instant.
    """
    if period not in PERIODS:
        raise InputError("unknown timetable period", where="timetable", value=period, rule=f"one of {', '.join(PERIODS)}")
    if rounding_min not in ROUNDINGS_MIN:
        raise InputError("the timetable's rounding cannot be used", where="timetable", value=rounding_min,
                         rule="1, 5 or 10 minutes")
    sequence = clock.offsets(legal_zone, year)
    earliest, latest, noon_dark, noon = _sun(lat_deg, lon_deg, year, altitude_deg)
    n = earliest.size
    date = np.arange(n + 1)
    noon_clock = _on_clock(noon, sequence) - date * MIN_PER_DAY
    dusk = _on_clock(earliest, sequence) - date[:-1] * MIN_PER_DAY
    # dawn[d] is on date d and ends the night of the day before; that of the first date is outside the year's nights.
    dawn = np.append(np.nan, _on_clock(latest, sequence) - date[1:] * MIN_PER_DAY)
    lit = np.isfinite(dusk) | noon_dark[:-1]
    marks = np.flatnonzero(np.diff(lit) | np.diff(noon_dark[:-1])) + 1
    first = np.unique(np.concatenate([_starts(period, year, sequence), marks])).astype(np.int64)
    last = np.append(first[1:], n) - 1
    k = first.size
    exact_dusk, exact_dawn = np.full(k, np.nan), np.full(k, np.nan)
    all_day = noon_dark[first].copy()
    for i, (a, b) in enumerate(zip(first, last)):  # at most 70 periods
        if all_day[i]:
            exact_dusk[i] = noon_clock[a:b + 1].min()
        elif lit[a]:
            exact_dusk[i] = np.nanmin(dusk[a:b + 1])
        # The last period also serves the dawn after the year's last night.
        mornings = dawn[a:b + 2] if i == k - 1 else dawn[a:b + 1]
        if np.isfinite(mornings).any() and not all_day[i]:
            exact_dawn[i] = np.nanmax(mornings)
    exact_dawn = np.where(all_day, np.nan, _borrowed(exact_dawn))
    late = np.where(all_day, 0.0, tolerance.dark_min)
    dusk_min, dawn_min = _down(exact_dusk + late, rounding_min), _up(exact_dawn - tolerance.dark_min, rounding_min)
    table = Timetable(year, legal_zone, first, last, dusk_min, dawn_min, all_day, tolerance, np.ones(k, bool))
    night = np.arange(n)
    i, j = table.period_of(night), table.period_of(night + 1)
    for _ in range(2):
        short = table.ends(night) & (dusk_min[i] >= dawn_min[j] + MIN_PER_DAY)
        dusk_min[i[short]], dawn_min[j[short]] = _down(exact_dusk[i[short]], rounding_min), _up(exact_dawn[j[short]], rounding_min)
    still = table.ends(night) & (dusk_min[i] >= dawn_min[j] + MIN_PER_DAY)
    dawn_min[np.unique(j[still])] += rounding_min
    # Days so short that "off" would come at or after "on".
    all_day |= dawn_min >= dusk_min
    dawn_min[all_day] = np.nan
    given_dusk, given_dawn, _ = table.dusk_dawn(sequence)
    within = tolerance.dark_min + _SAME_MIN
    bad_dusk = np.isfinite(earliest) & ~noon_dark[:-1] & ~(given_dusk <= earliest + within)
    bad_dawn = np.isfinite(latest) & (given_dawn < latest - within)
    table.kept[i[bad_dusk]] = False
    table.kept[j[bad_dawn]] = False
    return table


def timetable_year(timetable: Timetable, lat_deg, lon_deg, legal_zone, conditions: Conditions, programme: Programme = DUSK_TO_DAWN, *,
                   setting: Setting | None = None) -> ProgrammeYear:
    """What switches that run a programme by this timetable do at every site: its drift, like any other setting's.

    Parameters as for `programme_year`; the conditions' year is the timetable's.
    """
    return programme_year(lat_deg, lon_deg, legal_zone, programme, conditions, setting=setting, delivered_dusk_dawn=timetable.dusk_dawn)


def _sun(lat_deg, lon_deg, year: int, altitude_deg: float):
    """Earliest dusk and latest dawn of each night over the sites (NaN for none), whether the sun stays below the threshold at
    noon somewhere, night by night and at the noon after the last, and the earliest of the sites' noons."""
    lat_rad, lon_rad = checked_positions(lat_deg, lon_deg)
    table = almanac(year)
    spread = np.empty((5, table.n_night))
    comparison.envelope(table.hour_angle, table.sin_declination, lat_rad, lon_rad, sin_threshold(altitude_deg),
                        *comparison.EVERY_NIGHT, spread)
    earliest, latest = (np.where(np.isfinite(one), one, np.nan) for one in (spread[0], spread[3]))
    # The sun stands lowest at noon where it is nearest to a pole.
    lat, lon = np.degrees(lat_rad), np.asarray(lon_deg, dtype=float).reshape(-1)
    ends = np.unique([int(np.argmin(lat)), int(np.argmax(lat))])
    state = switch_times(lat_deg=lat[ends], lon_deg=lon[ends], year=year, altitude_deg=altitude_deg).state
    begins = np.isin(state, (crossing.STAYS_BELOW, crossing.DAWN_ONLY)).any(axis=0)
    finishes = np.isin(state, (crossing.STAYS_BELOW, crossing.DUSK_ONLY)).any(axis=0)
    noon_dark = np.append(begins, False) | np.append(False, finishes)
    return earliest, latest, noon_dark, noons(float(lon.max()), year)


def _borrowed(minute: np.ndarray) -> np.ndarray:
    """Times of periods that have none of their own: of the next period, where that has one, else of the last before."""
    out, known = minute.copy(), np.flatnonzero(np.isfinite(minute))
    for i in np.flatnonzero(np.isnan(minute)) if known.size else ():
        after = np.searchsorted(known, i)
        next_one = after < known.size and (known[after] == i + 1 or after == 0)
        out[i] = minute[known[after if next_one else after - 1]]
    return out


def _down(minute, rounding_min: int):
    return np.floor((minute + _SAME_MIN) / rounding_min) * rounding_min


def _up(minute, rounding_min: int):
    return np.ceil((minute - _SAME_MIN) / rounding_min) * rounding_min


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
    # A clock changed in the small hours starts a period with its dawn and dusk, one changed late in the evening with the next
    # date's.
    changes = np.floor((sequence.start_utc_min[1:] + sequence.offset_min[:-1]) / MIN_PER_DAY + 0.5).astype(int)
    return np.unique(np.concatenate([[0], starts, changes[(changes > 0) & (changes < n)]])).astype(np.int64)


def _text(minute: float) -> str:
    return "" if np.isnan(minute) else clock_text(minute % MIN_PER_DAY)
