"""Whether a plan made for one year holds in those that follow: in the next three, with which it makes the four years of the leap cycle, or as many as asked for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..numbers.almanac import LAST_YEAR
from ..sharing.drift import night_label, drift_at
from ..trade.basis import Basis
from ..trade.setting import MOST_TOLERANCE_MIN
from .planrecords import GroupSetting, LaterYear
from .siteparts import GroupSites

#: Years after its own in which a plan is tried where nothing is asked for.
YEARS_AFTER = 3
# Without white nights worst drifts move by 0.0015 min from year to year at most, and UT1 alone is 0.9 s: no more than noise.
_NOISE_MIN = 0.015


def later_years(sites: GroupSites, group, settings: tuple[GroupSetting, ...], basis: Basis, after: int = YEARS_AFTER) -> tuple[LaterYear, ...]:
    """How the plan's groups fare in the years after its own.

    Parameters
    ----------
    sites : GroupSites
    group : (n,) array_like of str
        Name of each site's group, "" for none.
    settings : tuple of GroupSetting
    basis : Basis
        What the plan was made for.
    after : int
        How many years after `basis.year`.

    Returns
    -------
    tuple of LaterYear
        One for each year that can be computed; clocks are those that the tz database foresees.
    """
    group, tolerance = np.asarray(group), basis.tolerance
    # A hair more than allowed is no news.
    roomy = replace(tolerance, dark_min=min(tolerance.dark_min + _NOISE_MIN, MOST_TOLERANCE_MIN),
                    excess_min=min(tolerance.excess_min + _NOISE_MIN, MOST_TOLERANCE_MIN))
    found = []
    for later in range(basis.year + 1, min(basis.year + after, LAST_YEAR) + 1):
        then = replace(basis, year=later, years=1, tolerance=roomy)
        groups, touched, nights, over, where = 0, 0, 0, 0.0, (None, "")
        for one in settings:
            mine = np.flatnonzero(group == one.name)
            drift = drift_at(sites.lat[mine], sites.lon[mine], one.setting, then, sites.zone[mine])
            beyond = drift.nights_beyond > 0
            if not beyond.any():
                continue
            groups, touched = groups + 1, touched + int(beyond.sum())
            nights = max(nights, int(drift.nights_beyond.max()))
            dark, excess = drift.worst_dark_min - tolerance.dark_min, drift.worst_excess_min - tolerance.excess_min
            worst = int(np.argmax(np.maximum(dark, excess)))
            if max(dark[worst], excess[worst]) > over:
                over = float(max(dark[worst], excess[worst]))
                night = (drift.worst_dark_night if dark[worst] >= excess[worst] else drift.worst_excess_night)[worst]
                where = (sites.ids[mine[worst]], str(night_label(night, later)))
        found.append(LaterYear(later, groups, touched, nights, over, *where))
    return tuple(found)


def said(years: tuple[LaterYear, ...], year: int, count: int) -> str | None:
    """The same in one sentence, None where the plan holds in all of them."""
    bad = [one for one in years if one.groups_beyond]
    return f"The plan is for {year}. {_beyond(bad, count)}" if bad else None


def said_of_all(years: tuple[LaterYear, ...], year: int, count: int, together: bool) -> str:
    """For a plan that is to hold for all of these years: whether it does. `together`: found for all of their nights at once."""
    last = years[-1].year
    bad = [one for one in years if one.groups_beyond]
    if bad:
        why = "a change of clock that is known today, or nights on which the sun grazes the threshold"
        return f"The plan was to hold from {year} to {last} and does not wholly ({why}). {_beyond(bad, count)}"
    how = ("Settings found for one year alone would not: these were found for the nights of all of them together, and so are the worst minutes given for groups"
           if together else f"They were found for {year} and tried night by night in each of the others, with the clock changes that are known today")
    return f"The settings hold from {year} to {last}: no site in a group is a second beyond tolerance. {how}."


def _beyond(bad: list[LaterYear], count: int) -> str:
    worst = max(bad, key=lambda one: one.over_min)
    each = ", ".join(f"{one.year} {one.groups_beyond}" for one in bad)
    nights = max(one.nights_beyond for one in bad)
    over = f"up to {worst.over_min:.1f}" if worst.over_min >= 0.05 else "less than 0.1"
    return (f"With the same settings some sites leave the tolerance later; of {count} "
            f"group{'' if count == 1 else 's'} these are touched: {each}; on at most {nights} night{'' if nights == 1 else 's'} "
            f"a year, by {over} min ({worst.site}, night of {worst.night}).")
