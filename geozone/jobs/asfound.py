"""Rows of an as-found list held against the job's sites: one set of readings a site, and every row that cannot be used with its reason."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..auditing.asread import AsRead
from ..nearnames import did_you_mean
from ..places.foundcells import (
    CellError,
    calendar_date,
    day_first,
    keyed_degrees,
    saving_name,
    standard_minutes,
    threshold_degrees,
    time_of_day,
    whole_minutes,
)
from ..places.foundlists import NOT_USED, FoundList
from ..places.sites import REJECT_COLUMNS
from ..plurals import counted
from ..trade.keypad import Keypad
from ..trade.readings import Keyed, wrapped

_KEYED = ("keyed_lat", "keyed_lon", "keyed_zone", "keyed_saving", "keyed_dusk_offset_min", "keyed_dawn_offset_min", "keyed_threshold")
_READ = ("dusk_shown", "dawn_shown", "clock_shown", "true_time", "date_shown", *_KEYED)
#: Looking for ids spelled alike takes some ms each.
_HINTS = 20


@dataclass(frozen=True, eq=False)
class Found:
    """What an as-found list says of the job's sites.

    Attributes
    ----------
    site : (n,) ndarray of int
        Which site each reading is of, as a row of the site table; none twice.
    read : AsRead
    row : (n,) ndarray of int
        Row of the list, the last that says something of that reading.
    rejects : DataFrame
        file, row, value, reason: rows that could not be used.
    notes : tuple of str
    """

    site: np.ndarray
    read: AsRead
    row: np.ndarray
    rejects: pd.DataFrame
    notes: tuple[str, ...]


def found_at(listed: FoundList, site_ids: list[str], rights: list[Keyed], keypad: Keypad, year: int) -> Found:
    """The readings of each site: rows of one day put together, those of its last day taken.

    Parameters
    ----------
    listed : FoundList
    site_ids : list of str
        Of the site table.
    rights : list of Keyed
        What each site should have: "on" as a summer-time rule means the right one.
    keypad : Keypad
    year : int
        The plan's.
    """
    place = {name: i for i, name in enumerate(site_ids)}
    bad: list[tuple[str, int, str, str]] = [(listed.file, row, value, why) for row, value, why in listed.faults]
    cells = {name: listed.cells[name].tolist() for name in listed.cells}
    comes_first = {name: day_first(cells[name]) for name in ("read_on", "date_shown") if name in cells}
    by_site: dict[int, dict[int, list[tuple[int, dict]]]] = {}
    for i, row in enumerate(listed.row.tolist()):
        text = {name: values[i] for name, values in cells.items()}
        if not any(text.values()):
            continue
        try:
            site = place.get(text["site_id"])
            if site is None:
                raise CellError("no site of the job has this id" if text["site_id"] else "no site id", "an id of the job's site list, spelled as there",
                                did_you_mean(text["site_id"], site_ids if len(bad) < _HINTS else (), "look at the cabinet's number"))
            day, values = _values(text, rights[site], keypad, year, comes_first)
        except _At as why:
            bad.append((listed.file, row, why.value, f"{why.name}: {why.error}"))
            continue
        except CellError as error:
            bad.append((listed.file, row, text["site_id"], f"site_id: {error}"))
            continue
        by_site.setdefault(site, {}).setdefault(day, []).append((row, values))
    kept: list[tuple[int, int, int, dict]] = []
    earlier = 0
    for site, days in sorted(by_site.items()):
        whole = {}
        for day, rows in days.items():
            together: dict = {}
            clash = next((name for _, values in rows for name, value in values.items() if together.setdefault(name, value) != value), None)
            if clash is None:
                whole[day] = (rows[-1][0], together)
            else:
                bad += [(listed.file, row, site_ids[site], f"{_HEADING.get(clash, clash)}: rows of this site and day contradict each other. Rule: one value for what was "
                         "read at one time. Next: keep the row that is right, or read the switch again") for row, _ in rows]
        if whole:
            day = max(whole)
            earlier += len(whole) - 1
            kept.append((site, day, *whole[day]))
    bad.sort(key=lambda one: one[1])
    rejects = pd.DataFrame(bad, columns=list(REJECT_COLUMNS)).astype({"file": "str", "row": "int64", "value": "str", "reason": "str"})
    notes = listed.notes
    if earlier:
        notes += (f"{listed.file}: of sites that were read on several days only the last day is used; {counted(earlier, 'earlier one')} left out.",)
    unused = [name for name in NOT_USED if any(cells.get(name, ()))]
    if unused:
        notes += (f"{listed.file}: {' and '.join(unused)} are not concluded from in this list: give them as a log of many nights, with --log.",)
    read = AsRead.of([day for _, day, _, _ in kept], **{name: [values.get(name, blank) for *_, values in kept] for name, blank in _BLANK.items()})
    return Found(np.array([site for site, *_ in kept], dtype=np.int64), read, np.array([row for _, _, row, _ in kept], dtype=np.int64), rejects, notes)


def nothing_found() -> Found:
    """No as-found list at all: what was seen is in a log."""
    none = np.empty(0, dtype=np.int64)
    return Found(none, AsRead.of(none), none, pd.DataFrame([], columns=list(REJECT_COLUMNS)).astype({"file": "str", "row": "int64", "value": "str", "reason": "str"}), ())


_BLANK = {"dusk_min": np.nan, "dawn_min": np.nan, "dusk_none": False, "dawn_none": False, "clock_fast_min": np.nan, "date_ahead_days": np.nan, "lat_deg": np.nan,
          "lon_deg": np.nan, "standard_min": np.nan, "saving": "", "dusk_offset_min": np.nan, "dawn_offset_min": np.nan, "altitude_deg": np.nan}

#: Which column each is read from, for messages.
_HEADING = {"dusk_min": "dusk_shown", "dawn_min": "dawn_shown", "dusk_none": "dusk_shown", "dawn_none": "dawn_shown", "clock_fast_min": "clock_shown",
            "date_ahead_days": "date_shown", "lat_deg": "keyed_lat", "lon_deg": "keyed_lon", "standard_min": "keyed_zone", "saving": "keyed_saving",
            "dusk_offset_min": "keyed_dusk_offset_min", "dawn_offset_min": "keyed_dawn_offset_min", "altitude_deg": "keyed_threshold"}


class _At(Exception):
    """A cell that cannot be used, with its column."""

    def __init__(self, name: str, value: str, error: CellError):
        super().__init__(str(error))
        self.name, self.value, self.error = name, value, error


def _values(text: dict[str, str], right: Keyed, keypad: Keypad, year: int, comes_first: dict) -> tuple[int, dict]:
    """The day of the year of one row, and what was read, by the names of `AsRead`."""
    def cell(name, take):
        if not text.get(name):
            return None
        try:
            return take(text[name])
        except CellError as error:
            raise _At(name, text[name], error) from None

    on = cell("read_on", lambda value: calendar_date(value, comes_first.get("read_on")))
    if on is None:
        raise _At("read_on", "", CellError("no date of reading", "dusk and dawn move from day to day", "write the day of the visit, such as 2027-06-21"))
    if on.year != year:
        raise _At("read_on", text["read_on"], CellError("the date lies outside the plan's year", f"a date of {year} (job.year)",
                                                        "audit with a job of that year, or mend the date"))
    values: dict = {}
    for edge in ("dusk", "dawn"):
        shown = f"{edge}_shown"
        if text.get(shown):
            minutes = cell(shown, time_of_day)
            values |= {f"{edge}_none": True} if minutes is None else {f"{edge}_min": minutes}
    clock, true = cell("clock_shown", time_of_day), cell("true_time", time_of_day)
    if clock is not None and true is not None:
        values["clock_fast_min"] = float(wrapped(clock - true))
    elif clock is not None:
        raise _At("true_time", "", CellError("the switch's clock without the true time", "both, read at one moment", "write the time of a watch beside it"))
    shown_date = cell("date_shown", lambda value: calendar_date(value, comes_first.get("date_shown")))
    if shown_date is not None:
        values["date_ahead_days"] = float((shown_date - on).days)
    step, limit = keypad.coordinate_step_deg, keypad.offset_limit_min
    takes = {"keyed_lat": ("lat_deg", lambda value: keyed_degrees(value, "lat", step)), "keyed_lon": ("lon_deg", lambda value: keyed_degrees(value, "lon", step)),
             "keyed_zone": ("standard_min", lambda value: standard_minutes(value, year)),
             "keyed_saving": ("saving", lambda value: saving_name(value, right.clock.saving.name)),
             "keyed_dusk_offset_min": ("dusk_offset_min", lambda value: whole_minutes(value, limit)),
             "keyed_dawn_offset_min": ("dawn_offset_min", lambda value: whole_minutes(value, limit)),
             "keyed_threshold": ("altitude_deg", threshold_degrees)}
    for name, (ours, take) in takes.items():
        value = cell(name, take)
        if value is not None:
            values[ours] = value
    return (on - dt.date(year, 1, 1)).days, values
