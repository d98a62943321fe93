"""A dated timetable as an iCalendar file: every switching on its dates, on the wall clock of the legal zone."""

from __future__ import annotations

import hashlib
from datetime import date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import icalendar
import numpy as np

from ..numbers import clock
from ..trade.programme import DUSK_TO_DAWN, Holidays, Programme
from .switchings import dated_switchings
from .timetable import Timetable


def timetable_calendar(timetable: Timetable, title: str, programme: Programme = DUSK_TO_DAWN,
                       holidays: Holidays = Holidays()) -> bytes:
    """The timetable as iCalendar: a daily repeating entry for each run of dates on which a switching comes at one time.

    Weekdays, seasons and holidays of the programme are in the dates. Times are wall times of the legal zone, whose rules
    are put into the file. A time that the clock leaves out on one date is read by that standard as if the clock had not yet
    been put forward; a switch carries it out at the change. The same timetable gives the same bytes.

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
    for one in dated_switchings(timetable, programme, holidays):
        event = one.event
        for run in np.split(one.dates, np.flatnonzero(np.diff(one.dates) > 1) + 1):
            at = (datetime(timetable.year, 1, 1) + timedelta(days=int(run[0]), minutes=one.minute)).replace(tzinfo=zone)
            entry = icalendar.Event()
            name = f"{title}|{programme.name}|{at.isoformat()}|{event.turn}|{event.at}|{event.shift_min}|{one.line}"
            entry.add("uid", hashlib.sha256(name.encode()).hexdigest()[:32] + "@geozone")
            entry.add("dtstamp", stamp)
            entry.add("summary", f"{event.turn} {at:%H:%M} ({event.at if event.by_sun else 'clock time'}): {title}")
            entry.add("dtstart", at)
            entry.add("duration", timedelta(minutes=1))
            if run.size > 1:
                entry.add("rrule", {"freq": "daily", "count": int(run.size)})
            entry.add("description", ("Clock time that stands for " if event.by_sun else "Clock time of ") + event.text() + ".")
            entry.add("transp", "TRANSPARENT")
            calendar.add_component(entry)
    calendar.add_missing_timezones(first_date=date(timetable.year - 1, 1, 1), last_date=date(timetable.year + 1, 12, 31))
    return calendar.to_ical()
