"""Lamps seen to switch, put to the nights and events of a programme: how far each switching is from the planned one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..numbers.civil import MIN_PER_DAY
from ..trade.readings import wrapped

ON, OFF = 1, 0
#: Edges of a night, and places in arrays.
DUSK, DAWN = 0, 1
#: More rounds than events of a night of one turn are never wanted.
_MOST_ROUNDS = 12
#: Times of a site that stray farther than this on average may have been put to the wrong events [minute].
_DISAGREE_MIN = 8.0
#: And so may times that agree this far from what is planned [minute].
_HOURS_OFF_MIN = 120.0


@dataclass(frozen=True, eq=False)
class Slot:
    """One event of a programme over the nights of a year, as the right setting carries it out.

    Attributes
    ----------
    turn : int
        `ON` or `OFF`.
    edge : int
        `DUSK`, `DAWN`, or -1 for a clock time.
    planned_utc_min : (n_night,) float64
        [UTC minute from 1 January]; NaN where it is not due.
    """

    turn: int
    edge: int
    planned_utc_min: np.ndarray


@dataclass(frozen=True, eq=False)
class Seen:
    """Switchings of n sites by night, less what is planned [minute, positive is later]; NaN where none was seen.

    Attributes
    ----------
    sun_min : (n, 2, n_night) float64
        Dusk and dawn. Within half a day of `centre_min`, which is the site's own middle.
    clock_min : (n, n_slot, n_night) float64
        Events at clock times.
    centre_min : (n, 2) float64
    unused : (n,) int64
        Switchings that belong to no event of the programme, or are the second for one.
    """

    sun_min: np.ndarray
    clock_min: np.ndarray
    centre_min: np.ndarray
    unused: np.ndarray

    def chosen(self, rows) -> Seen:
        """Some of the sites."""
        return Seen(self.sun_min[rows], self.clock_min[rows], self.centre_min[rows], self.unused[rows])


def seen_by_night(site, turn, utc_min, slots: list[Slot], n_site: int) -> Seen:
    """Switchings put to the events of the programme that their sites run.

    Parameters
    ----------
    site : (m,) ndarray of int
        0 to `n_site` - 1.
    turn : (m,) ndarray of int
        `ON` or `OFF`.
    utc_min : (m,) ndarray of float64
        When [UTC minute from 1 January].
    slots : list of Slot
    n_site : int

    Returns
    -------
    Seen

    Notes
    -----
    Every switching goes to the nearest event of its turn, each event of a night to one switching, the nearer pairs first. Done twice: a switch that is hours
    off is looked for where it was found the first time.
    """
    n_night = slots[0].planned_utc_min.size
    row, slot, night, off, centre = _matched(site, turn, utc_min, slots, np.zeros((n_site, len(slots))), n_night)
    if len(slots) > 2:
        # Of several events of a turn the wrong one may be the nearest where a switch is hours off: other starts for sites whose times do not agree, or only hours off.
        spread = _spread(site, row, slot, off, centre, n_site)
        doubtful = np.flatnonzero((spread > _DISAGREE_MIN) | (np.abs(centre) > _HOURS_OFF_MIN).any(axis=1))
        for start in _starts(slots):
            mine = np.flatnonzero(np.isin(site, doubtful))
            if not mine.size:
                break
            other = _matched(site[mine], turn[mine], utc_min[mine], slots, np.broadcast_to(start, centre.shape), n_night)
            its = _spread(site[mine], other[0], other[1], other[3], other[4], n_site)
            better = (its < spread) & np.isin(np.arange(n_site), doubtful)
            keep, take = ~better[site[row]], better[site[mine[other[0]]]]
            row, slot, night, off = (np.concatenate([old[keep], new[take]]) for old, new in zip((row, slot, night, off), (mine[other[0]], *other[1:4]), strict=True))
            centre, spread = np.where(better[:, None], other[4], centre), np.where(better, its, spread)
    sun = np.full((n_site, 2, n_night), np.nan)
    clocks = [place for place, one in enumerate(slots) if one.edge < 0]
    clock = np.full((n_site, len(clocks), n_night), np.nan)
    middle = np.zeros((n_site, 2))
    for place, one in enumerate(slots):
        mine = slot == place
        at = site[row[mine]], night[mine]
        if one.edge < 0:
            clock[at[0], clocks.index(place), at[1]] = off[mine]
        else:  # of two events at one edge the first of the night counts
            empty = np.isnan(sun[at[0], one.edge, at[1]])
            sun[at[0][empty], one.edge, at[1][empty]] = off[mine][empty]
            middle[:, one.edge] = np.where(middle[:, one.edge] == 0, centre[:, place], middle[:, one.edge])
    unused = np.bincount(site, minlength=n_site) - np.bincount(site[row], minlength=n_site)
    return Seen(sun, clock, middle, unused)


def _matched(site, turn, utc_min, slots, start, n_night):
    """Switching, event, night and minutes off of every pair, and each site's middles; begun from given middles [minute], and once more from those found."""
    centre = start
    for last in (False, True):
        row, slot, night, off = _pairs(site, turn, utc_min, slots, centre, n_night)
        row, slot, night, off = _nearest_first(site, row, slot, night, off, centre, n_night)
        if not last:
            centre = np.stack([_middles(site[row[slot == place]], off[slot == place], start.shape[0]) for place in range(len(slots))], axis=1)
    return row, slot, night, off, centre


def _starts(slots) -> list[np.ndarray]:
    """Middles to begin from: the clock half a day off, and dusk and dawn hours off beside a right clock."""
    by_sun = np.array([float(one.edge >= 0) for one in slots])
    return [np.full(len(slots), MIN_PER_DAY / 2), *(hours * 60.0 * by_sun for hours in (-3, 3, -6, 6, -9, 9, 12))]


def _spread(site, row, slot, off, centre, n_site) -> np.ndarray:
    """(n_site,) how far switchings stray from their site's middles on average, an hour for each that found no event."""
    away = np.minimum(np.abs(wrapped(off - centre[site[row], slot])), 60.0)
    count = np.bincount(site, minlength=n_site)
    missed = count - np.bincount(site[row], minlength=n_site)
    return (np.bincount(site[row], weights=away, minlength=n_site) + 60.0 * missed) / np.maximum(count, 1)


def _pairs(site, turn, utc_min, slots, centre, n_night):
    """Every switching with every event of its turn, at the night that is nearest: (switching, slot, night, minutes off)."""
    found = []
    for place, one in enumerate(slots):
        mine = np.flatnonzero(turn == one.turn)
        planned = one.planned_utc_min
        known = np.flatnonzero(np.isfinite(planned))
        if not mine.size or not known.size:
            continue
        # The night by the middle time of the day, then by the night's own time: planned times move by hours through a year.
        typical = np.interp(np.arange(n_night), known, planned[known] - known * MIN_PER_DAY)
        from_middle = utc_min[mine] - centre[site[mine], place]
        night = np.rint((from_middle - np.median(typical)) / MIN_PER_DAY).astype(np.int64)
        for _ in range(2):
            at = np.clip(night, 0, n_night - 1)
            night = np.rint((from_middle - typical[at]) / MIN_PER_DAY).astype(np.int64)
        inside = (night >= 0) & (night < n_night)
        mine, night = mine[inside], night[inside]
        off = utc_min[mine] - planned[night]
        due = np.isfinite(off)
        found.append((mine[due], np.full(due.sum(), place), night[due], off[due]))
    if not found:
        none = np.empty(0, dtype=np.int64)
        return none, none, none, np.empty(0)
    return tuple(np.concatenate(parts) for parts in zip(*found, strict=True))


def _nearest_first(site, row, slot, night, off, centre, n_night):
    """Of pairs those that are the nearest for their switching and for their event at once, again and again until none is left."""
    away = np.abs(off - centre[site[row], slot])
    event = (site[row] * (slot.max(initial=0) + 1) + slot) * n_night + night
    taken = []
    left = np.arange(row.size)
    for _ in range(_MOST_ROUNDS):
        if not left.size:
            break
        order = left[np.argsort(away[left], kind="stable")]
        best_of_row = np.zeros(row.size, dtype=bool)
        best_of_event = np.zeros(row.size, dtype=bool)
        best_of_row[order[np.unique(row[order], return_index=True)[1]]] = True
        best_of_event[order[np.unique(event[order], return_index=True)[1]]] = True
        mutual = left[best_of_row[left] & best_of_event[left]]
        taken.append(mutual)
        left = left[~np.isin(row[left], row[mutual]) & ~np.isin(event[left], event[mutual])]
    keep = np.concatenate(taken) if taken else np.empty(0, dtype=np.int64)
    return row[keep], slot[keep], night[keep], off[keep]


def _middles(site, off, n_site):
    """Each site's middle of minutes off on the face of a clock; 0 where there is none."""
    turn = 2 * np.pi / MIN_PER_DAY
    along, across = (np.bincount(site, weights=part(off * turn), minlength=n_site) for part in (np.cos, np.sin))
    mean = np.arctan2(across, along) / turn
    beside = wrapped(off - mean[site])
    order = np.lexsort((beside, site))
    count = np.bincount(site, minlength=n_site)
    begin = np.concatenate([[0], np.cumsum(count)[:-1]])
    middle = np.zeros(n_site)
    some = count > 0
    middle[some] = mean[some] + beside[order][begin[some] + count[some] // 2]
    # Half a day off is half a day late at both edges, whichever side of it the noise falls to.
    middle = wrapped(middle)
    return np.where(middle < -600.0, middle + MIN_PER_DAY, middle)
