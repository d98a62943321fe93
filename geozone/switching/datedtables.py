"""Dated timetables of a plan: for each setting and clock the table, its calendar, and how far it is off at every site."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from .assigned import Assigned
from .calendars import timetable_calendar
from .conditions import Conditions
from .switchings import switching_rows
from .timetable import Timetable, dated_timetable, timetable_year


@dataclass(frozen=True, eq=False)
class DatedTable:
    """A timetable of clock times for one group and programme.

    Attributes
    ----------
    group, programme : str
    timetable : Timetable
    rows : pandas.DataFrame
        As `switching_rows`.
    calendar : bytes
        The same as iCalendar.
    """

    group: str
    programme: str
    timetable: Timetable
    rows: pd.DataFrame
    calendar: bytes


def dated_tables(sites, assigned: Assigned, conditions: Conditions, wanted: tuple[str, int], title: str):
    """One timetable a setting label and clock rule, for every programme there; its drift at every site.

    Parameters
    ----------
    sites, assigned, conditions
        As for `programme_answers`. With a master clock a setting's zone is the clock of every site of its label.
    wanted : (str, int)
        Period and rounding [minute].
    title : str
        Of calendars.

    Returns
    -------
    tuple of (tuple of DatedTable, DataFrame, tuple of str)
        The timetables; timetable_dark_min and timetable_excess_min of each site; sentences for the user.
    """
    period, rounding_min = wanted
    chosen, label, settings = np.asarray(assigned.programme_of, dtype=object), assigned.setting_of, assigned.settings
    drift = pd.DataFrame({"timetable_dark_min": np.nan, "timetable_excess_min": np.nan}, index=sites.index)
    tables, notes = [], []
    master = conditions.switch_clock == "master"
    rules = np.zeros(len(sites), int) if master else sites["clock_rule"].to_numpy()
    several = label.nunique() < len(set(zip(label, rules)))
    for (name, _), rows in sites.groupby([label.to_numpy(object), rules], sort=True):
        zone = settings[name].legal_zone if master else rows["legal_zone"].mode().iloc[0]
        where = {"lat_deg": rows["lat_deg"].to_numpy(float), "lon_deg": rows["solar_lon_deg"].to_numpy(float)}
        dated = dated_timetable(**where, legal_zone=zone, year=conditions.year, altitude_deg=conditions.altitude_deg,
                                period=period, rounding_min=rounding_min, tolerance=conditions.tolerance)
        group = f"{name}, {zone}" if several else str(name)
        if not dated.kept.all():
            notes.append(f"Timetable of {group}: in {int((~dated.kept).sum())} periods no pair of clock times keeps "
                         "unlit minutes within the tolerance.")
        here = chosen[sites.index.get_indexer(rows.index)]
        for programme in assigned.programmes:
            mine = here == programme.name
            if not mine.any():
                continue
            found = timetable_year(dated, where["lat_deg"][mine], where["lon_deg"][mine], rows["legal_zone"].to_numpy(object)[mine],
                                   conditions, programme, setting=settings[name]).drift
            drift.loc[rows.index[mine], "timetable_dark_min"] = found.worst_dark_min
            drift.loc[rows.index[mine], "timetable_excess_min"] = found.worst_excess_min
            called = ": ".join(filter(None, (title, f"{group}, {programme.name}")))
            tables.append(DatedTable(group, programme.name, dated, switching_rows(dated, programme, conditions.holidays),
                                     timetable_calendar(dated, called, programme, conditions.holidays)))
    return tuple(tables), drift, tuple(notes)
