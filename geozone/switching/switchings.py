"""A programme by a dated timetable, date by date: the one source of the table and of the calendar."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..numbers.civil import MIN_PER_DAY, clock_text, dates, in_season, month_days, weekdays
from ..numbers.sun import nights_of
from ..trade.duedays import due_days
from ..trade.programme import DUSK_TO_DAWN, Event, Holidays, Programme, days_text, meant_order, minute_of_night
from .timetable import Timetable

COLUMNS = ["from", "to", "turn", "at", "days", "except", "also", "stands_for", "dark_within_tolerance", "remark"]


@dataclass(frozen=True, eq=False)
class DatedSwitching:
    """One clock time on dates of the calendar.

    Attributes
    ----------
    period, line : int
        Place of the period in the timetable and of the event in the programme.
    event : Event
    minute : int
        Minute of the day, 0 to 1439.
    first, last : int
        Civil dates from 1 January between which it is keyed; 1 January of the next year may be the last.
    days : frozenset of int
        Weekdays of these dates, Monday 0.
    dates : (m,) int64
        The dates on which it comes: those weekdays, but for holidays that count as another.
    """

    period: int
    line: int
    event: Event
    minute: int
    first: int
    last: int
    days: frozenset
    dates: np.ndarray

    def exceptions(self, year: int) -> tuple[np.ndarray, np.ndarray]:
        """(dates left out, dates added) against the weekdays between first and last."""
        between = np.arange(self.first, self.last + 1)
        regular = between[np.isin(weekdays(between, year), sorted(self.days))]
        return np.setdiff1d(regular, self.dates), np.setdiff1d(self.dates, regular)


def dated_switchings(timetable: Timetable, programme: Programme = DUSK_TO_DAWN,
                     holidays: Holidays = Holidays()) -> Iterator[DatedSwitching]:
    """Every switching of a year by date, in the order of the periods and of the night.

    The nights are those named by the dates of the year and, of the night before them, what comes on 1 January; so every
    night of the year has its end, on 1 January of the next year for the last.
    """
    order = {line: place for place, line in enumerate(meant_order(programme.events))}
    for i in range(timetable.first.size):
        found = []
        for line, event in enumerate(programme.events):
            nights, minute = _nights_and_minute(timetable, i, event)
            if nights.size == 0 or np.isnan(minute):
                continue
            minute += event.shift_min
            ahead = int(minute // MIN_PER_DAY)
            nights = nights[nights + ahead >= 0]
            # 24:00 is the end of the date that it is written for.
            by_night = programme.night_rule == "night" or event.at == MIN_PER_DAY
            meant = nights if by_night else nights + ahead
            for run in _seasons(event, meant, timetable.year):
                due = due_days(event, meant[run], timetable.year, holidays)
                if due.any():
                    days = frozenset((day + (ahead if by_night else 0)) % 7 for day in event.days)
                    dated = nights[run] + ahead
                    found.append((minute, order[line], DatedSwitching(
                        i, line, event, int(minute % MIN_PER_DAY), int(dated[0]), int(dated[-1]), days, dated[due])))
        yield from (one for _, _, one in sorted(found, key=lambda entry: entry[:2]))


def switching_rows(timetable: Timetable, programme: Programme = DUSK_TO_DAWN, holidays: Holidays = Holidays()) -> pd.DataFrame:
    """What to key in: one row for each period, event of the programme and part of a season, in the order of the night.

    Columns: from, to, turn, at (clock time), days, except and also (dates that holidays take out and put in), stands_for
    ("dusk", "dawn", with its shift, or "clock time"), dark_within_tolerance (of the period), remark.
    `from`, `to`, `days` and the dates are those of the calendar, as a clock keeps them: an event after midnight that a
    programme gives to the night of a Friday is a Saturday's here, and a dusk after midnight comes on the next date.
    """
    rows = []
    year = timetable.year
    for one in dated_switchings(timetable, programme, holidays):
        out, more = (", ".join(dates(found, year).astype(str)) for found in one.exceptions(year))
        event = one.event
        stands = event.at + (f" {event.shift_min:+d} min" if event.shift_min else "") if event.by_sun else "clock time"
        first, last = dates([one.first, one.last], year).astype(str)
        rows.append([first, last, event.turn, clock_text(one.minute), days_text(one.days), out, more, stands,
                     bool(timetable.kept[one.period]), _remark(timetable, one.period)])
    return pd.DataFrame(rows, columns=COLUMNS)


def _remark(timetable: Timetable, period: int) -> str:
    if timetable.all_day[period]:
        return "no dawn in this period: lit all day"
    return "no darkness in this period" if np.isnan(timetable.dusk_min[period]) else ""


def _nights_and_minute(timetable: Timetable, i: int, event: Event) -> tuple[np.ndarray, float]:
    """Nights whose event a period has, and the event's minute from the midnight that begins the night's date."""
    end = nights_of(timetable.year).size
    a, b = int(timetable.first[i]), int(timetable.last[i])
    ending = np.arange(a - 1, end if b == end - 1 else b)
    if event.at == "dusk":
        return np.arange(a - (i == 0), b + 1), float(timetable.dusk_min[i])
    if event.at == "dawn":
        return ending[timetable.ends(ending)], float(timetable.dawn_min[i]) + MIN_PER_DAY
    minute = 720.0 + minute_of_night(event.at)
    return (ending if minute >= MIN_PER_DAY else np.arange(a, b + 1)), minute


def _seasons(event: Event, days: np.ndarray, year: int) -> list[slice]:
    """The stretches of days that lie in an event's season."""
    if event.season is None:
        return [slice(0, days.size)] if days.size else []
    inside = in_season(month_days(days, year), event.season.first, event.season.last)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2])]
