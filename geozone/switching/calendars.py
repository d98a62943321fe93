"""A dated timetable as an iCalendar file: every switching on its dates, on the wall clock of the legal zone."""

from __future__ import annotations

import hashlib
from datetime import date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import icalendar
import numpy as np

from ..numbers import clock
from ..numbers.civil import MIN_PER_DAY
from ..trade.dayplan import due_days
from ..trade.programme import DUSK_TO_DAWN, Event, Holidays, Programme
from .timetable import Timetable


def timetable_calendar(timetable: Timetable, title: str, programme: Programme = DUSK_TO_DAWN,
                       holidays: Holidays = Holidays()) -> bytes:
    """The timetable as iCalendar: a daily repeating entry for each run of dates on which a switching comes at one time.

    Weekdays, seasons and holidays of the programme are in the dates. Times are wall times of the legal zone, whose rules
    are put into the file. The same timetable gives the same bytes.

    References
    ----------
    RFC 5545, written by the `icalendar` library.
    """
    clock.use_packaged_tz()
    zone = ZoneInfo(timetable.legal_zone)
    # A title is untrusted text: one line, or it could start a line of its own in the file.
    title = " ".join("".join(c if c.isprintable() else " " for c in title).split())
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//geozone//dated timetable//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", title)
    stamp = datetime(timetable.year - 1, 12, 1, tzinfo=timezone.utc)
    for first, last, minute, line, event in _switchings(timetable, programme, holidays):
        at = (datetime(timetable.year, 1, 1) + timedelta(days=first, minutes=minute)).replace(tzinfo=zone)
        entry = icalendar.Event()
        name = f"{title}|{programme.name}|{at.isoformat()}|{event.turn}|{event.at}|{event.shift_min}|{line}"
        entry.add("uid", hashlib.sha256(name.encode()).hexdigest()[:32] + "@geozone")
        entry.add("dtstamp", stamp)
        entry.add("summary", f"{event.turn} {at:%H:%M} ({event.at if event.by_sun else 'clock time'}): {title}")
        entry.add("dtstart", at)
        entry.add("duration", timedelta(minutes=1))
        if last > first:
            entry.add("rrule", {"freq": "daily", "count": last - first + 1})
        entry.add("description", ("Clock time that stands for " if event.by_sun else "Clock time of ") + event.text() + ".")
        entry.add("transp", "TRANSPARENT")
        calendar.add_component(entry)
    calendar.add_missing_timezones(first_date=date(timetable.year - 1, 1, 1), last_date=date(timetable.year + 1, 12, 31))
    return calendar.to_ical()


def _switchings(timetable: Timetable, programme: Programme, holidays: Holidays):
    """(first date, last date, minute of these dates, line, event): dates counted from 1 January."""
    for i in range(timetable.first.size):
        period = np.arange(timetable.first[i], timetable.last[i] + 1)
        for line, event in enumerate(programme.events):
            night, base = _night_and_minute(timetable, i, event, period)
            if np.isnan(base):
                continue
            minute = base + event.shift_min
            # Night k is named by its evening; a switching after midnight is on the next date.
            dated = night + int(minute // MIN_PER_DAY)
            due = due_days(event, night if programme.night_rule == "night" else dated, timetable.year, holidays)
            for run in np.split(dated[due], np.flatnonzero(np.diff(dated[due]) > 1) + 1):
                if run.size:
                    yield int(run[0]), int(run[-1]), float(minute % MIN_PER_DAY), line, event


def _night_and_minute(timetable: Timetable, i: int, event: Event, period: np.ndarray) -> tuple[np.ndarray, float]:
    """Nights whose event falls into a period, and the event's minute from the midnight that begins the night's date."""
    if event.at == "dusk":
        return period, float(timetable.dusk_min[i])
    if event.at == "dawn":
        return period - 1, float(timetable.dawn_min[i]) + MIN_PER_DAY
    after_midnight = event.at < 720 or event.at == MIN_PER_DAY
    return (period - 1, float(event.at % MIN_PER_DAY + MIN_PER_DAY)) if after_midnight else (period, float(event.at))
