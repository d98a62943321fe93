"""A log held against the job's sites: switchings in universal time, and every row that cannot be used with its reason."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..nearnames import did_you_mean
from ..numbers.civil import MIN_PER_DAY, instants
from ..numbers.clock import offset_min_at, offsets
from ..numbers.sun import nights_of
from ..places.loglists import LogList

#: Looking for ids spelled alike takes some ms each.
_HINTS = 20


@dataclass(frozen=True, eq=False)
class Logged:
    """Switchings at the job's sites, an entry a switching.

    Attributes
    ----------
    site : (m,) ndarray of int
        Row of the site table.
    turn : (m,) ndarray of int
        1 on, 0 off.
    utc_min : (m,) float64
        [UTC minute from 1 January of the plan's year]
    of_day_min : (m,) float64
        Minute of the day as written.
    legal : (m,) bool
        The log does not say what its time is ahead of UTC: taken for legal time.
    ahead_min : (m,) float64
        Legal time minus UTC then.
    row : (m,) ndarray of int
    file : str
    rows : int
    rejects : list of (str, int, str, str)
        file, row, value, reason.
    notes : tuple of str
    """

    site: np.ndarray
    turn: np.ndarray
    utc_min: np.ndarray
    of_day_min: np.ndarray
    legal: np.ndarray
    ahead_min: np.ndarray
    row: np.ndarray
    file: str
    rows: int
    rejects: list[tuple[str, int, str, str]]
    notes: tuple[str, ...]


def logged_at(log: LogList, site_ids: list[str], legal_zones: list[str], year: int) -> Logged:
    """The switchings of each site in universal time.

    Parameters
    ----------
    log : LogList
    site_ids, legal_zones : list of str
        Of the site table.
    year : int
        The plan's.
    """
    place = {name: i for i, name in enumerate(site_ids)}
    bad: list[tuple[str, int, str, str]] = [(log.file, row, value, why) for row, value, why in log.faults]
    site_of_id = np.array([place.get(one, -1) for one in log.ids], dtype=np.int64)
    site = site_of_id[log.site] if log.ids else np.empty(0, dtype=np.int64)
    for which in np.flatnonzero(site_of_id < 0):
        hint = did_you_mean(log.ids[which], site_ids if len(bad) < _HINTS else (), "look at the cabinet's number")
        why = f"site_id: no site of the job has this id. Rule: an id of the job's site list, spelled as there. Next: {hint}"
        bad += [(log.file, row, log.ids[which], why) for row in np.unique(log.row[log.site == which]).tolist()]
    start = (np.datetime64(f"{year}-01-01") - np.datetime64("1970-01-01")).astype(int) * MIN_PER_DAY
    wall = log.wall_min - start
    utc, legal_ahead, gap = wall - log.ahead_min, np.zeros(wall.size), np.zeros(wall.size, dtype=bool)
    legal = np.isnan(log.ahead_min)
    # The last night ends on 1 January of the next year.
    inside = (site >= 0) & (wall >= 0) & (wall < nights_of(year).size * MIN_PER_DAY + MIN_PER_DAY / 2)
    for zone in sorted(set(legal_zones)):
        of_zone = np.array([one == zone for one in legal_zones])
        mine = np.flatnonzero(inside & of_zone[np.maximum(site, 0)])
        sequence = offsets(zone, year)
        local = mine[legal[mine]]
        at = instants(wall[local], sequence)
        utc[local], gap[local] = at.first_utc_min, at.gap
        legal_ahead[mine] = offset_min_at(sequence, utc[mine])
    outside = f"the date lies outside the plan's year. Rule: a date of {year} (job.year). Next: audit with a job of that year"
    skipped = ("no clock showed this time, because legal time was put forward over it. Rule: legal time, or a time with what it is ahead of UTC. "
               "Next: write Z behind times that are UTC, or what they are ahead")
    for where, rule in ((np.flatnonzero((site >= 0) & ~inside), outside), (np.flatnonzero(gap), skipped)):
        bad += [(log.file, int(log.row[i]), _written(log.wall_min[i]), f"{'switched_on' if log.turn[i] else 'switched_off'}: {rule}") for i in where.tolist()]
    good = inside & ~gap
    return Logged(site[good], log.turn[good], utc[good], log.wall_min[good] % MIN_PER_DAY, legal[good], legal_ahead[good], log.row[good], log.file,
                  log.rows, bad, log.notes)


def _written(wall_min: float) -> str:
    return str(np.datetime64("1970-01-01T00:00") + np.timedelta64(int(wall_min), "m")).replace("T", " ")
