"""Which event is due on which day and at which instant: a programme laid over a year and a clock."""

from __future__ import annotations

import numpy as np

from ..numbers.civil import MIN_PER_DAY, dates, in_season, instants, month_days, weekdays
from ..numbers.clock import OffsetSequence
from ..numbers.intervals import CLOCK, DAWN, DUSK
from ..numbers.sun import nights_of
from .latch import DAYS_AFTER, NIGHTS_BEFORE, OFF, ON, Events
from .programme import Holidays, Programme, meant_order


def due_days(event, days, year: int, holidays: Holidays = Holidays()) -> np.ndarray:
    """Whether an event is due on civil days (counted from 1 January), by weekday, holiday and season."""
    days = np.asarray(days)
    weekday = weekdays(days, year)
    if holidays.dates:
        weekday = np.where(np.isin(dates(days, year), np.array(holidays.dates, dtype="datetime64[D]")),
                           holidays.counts_as, weekday)
    due = np.isin(weekday, sorted(event.days))
    if event.season:
        due &= in_season(month_days(days, year), event.season.first, event.season.last)
    return due


def events_on(programme: Programme, sequence: OffsetSequence, year: int, holidays: Holidays = Holidays(), *,
              miss_gap: bool = False, once_in_fold: bool = False) -> Events:
    """A programme on one clock as the arrays that the compiled readings take.

    Parameters
    ----------
    programme : Programme
    sequence : OffsetSequence
        The clock that the switch shows.
    year : int
    holidays : Holidays
    miss_gap : bool
        True: a time that the clock leaves out is not carried out. False: it is carried out at the change.
    once_in_fold : bool
        True: a time that the clock shows twice is carried out the first time only. False: both times.
    """
    n_night = nights_of(year).size
    order = meant_order(programme.events)
    events = [programme.events[i] for i in order]
    by_date = programme.night_rule == "date"
    day = np.arange(-NIGHTS_BEFORE, n_night + DAYS_AFTER)
    m = len(events)
    active = np.zeros((m, day.size), np.uint8)
    at_utc = np.full((m, day.size), np.nan)
    stream = []
    for i, event in enumerate(events):
        due = due_days(event, day, year, holidays)
        active[i] = due
        if event.by_sun:
            continue
        morning = event.at < 720
        # Wall minute of the event in night d: on date d, or on the next date for times before noon.
        happens = instants((day + morning) * MIN_PER_DAY + event.at, sequence)
        # The date that the event's day means; 24:00 is the end of the date that it is written for.
        due = due_days(event, day + morning, year, holidays) if by_date and morning else due
        if miss_gap:
            due = due & ~happens.gap
        at_utc[i] = np.where(due, happens.first_utc_min, np.nan)
        stream.append((happens.first_utc_min[due], event, order[i]))
        twice = due & ~np.isnan(happens.again_utc_min)
        if twice.any() and not once_in_fold:
            stream.append((happens.again_utc_min[twice], event, order[i]))
    utc = np.concatenate([np.empty(0), *(s[0] for s in stream)])
    turn = np.concatenate([np.empty(0, np.int8), *(np.full(s[0].size, ON if s[1].turn == "on" else OFF, np.int8)
                                                   for s in stream)])
    line = np.concatenate([np.empty(0, np.int64), *(np.full(s[0].size, s[2], np.int64) for s in stream)])
    by_time = np.lexsort((line, utc))
    kinds = {"dusk": DUSK, "dawn": DAWN}
    return Events(
        kind=np.array([kinds.get(e.at, CLOCK) for e in events], np.int8),
        turn=np.array([ON if e.turn == "on" else OFF for e in events], np.int8),
        line=np.array(order, np.int64),
        shift=np.array([float(e.shift_min) for e in events]),
        active=active, at_utc=at_utc,
        stream_utc=np.ascontiguousarray(utc[by_time]), stream_turn=np.ascontiguousarray(turn[by_time]),
        stream_line=np.ascontiguousarray(line[by_time]),
        by_date=np.array([by_date], np.uint8),
        wall_start=np.array(sequence.start_utc_min, dtype=float),
        wall_offset=np.array(sequence.offset_min, dtype=float))
