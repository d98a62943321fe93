"""Whether a plan made for one year holds in the next three: with it they make the four years of the leap cycle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..numbers.almanac import LAST_YEAR
from ..sharing.drift import night_label, setting_drift
from ..trade.keypad import Keypad
from ..trade.setting import MOST_TOLERANCE_MIN, Tolerance
from .planrecords import GroupSetting, LaterYear

_YEARS = 3
# Without white nights worst drifts move by 0.0015 min from year to year at most, and UT1 alone is 0.9 s: no more than noise.
_NOISE_MIN = 0.015


def later_years(*, lat_deg, lon_deg, legal_zone, site_id, group, settings: tuple[GroupSetting, ...], year: int,
                altitude_deg: float, tolerance: Tolerance, keypad: Keypad) -> tuple[LaterYear, ...]:
    """How the plan's groups fare in the three years after its own.

    Parameters
    ----------
    lat_deg, lon_deg, legal_zone, site_id : (n,) array_like
        Longitudes unwrapped as `switch_times` describes.
    group : (n,) array_like of str
        Name of each site's group, "" for none.
    settings : tuple of GroupSetting
    year, altitude_deg, tolerance, keypad

    Returns
    -------
    tuple of LaterYear
        One for each year that can be computed; clocks are those that the tz database foresees.
    """
    lat, lon, zone, ids, group = (np.asarray(one) for one in (lat_deg, lon_deg, legal_zone, site_id, group))
    # A hair more than allowed is no news.
    roomy = replace(tolerance, dark_min=min(tolerance.dark_min + _NOISE_MIN, MOST_TOLERANCE_MIN),
                    excess_min=min(tolerance.excess_min + _NOISE_MIN, MOST_TOLERANCE_MIN))
    found = []
    for later in range(year + 1, min(year + _YEARS, LAST_YEAR) + 1):
        groups, sites, nights, over, where = 0, 0, 0, 0.0, (None, "")
        for one in settings:
            mine = np.flatnonzero(group == one.name)
            drift = setting_drift(lat_deg=lat[mine], lon_deg=lon[mine], setting=one.setting, year=later,
                                  altitude_deg=altitude_deg, tolerance=roomy, keypad=keypad, legal_zone=zone[mine])
            beyond = drift.nights_beyond > 0
            if not beyond.any():
                continue
            groups, sites = groups + 1, sites + int(beyond.sum())
            nights = max(nights, int(drift.nights_beyond.max()))
            dark, excess = drift.worst_dark_min - tolerance.dark_min, drift.worst_excess_min - tolerance.excess_min
            worst = int(np.argmax(np.maximum(dark, excess)))
            if max(dark[worst], excess[worst]) > over:
                over = float(max(dark[worst], excess[worst]))
                night = (drift.worst_dark_night if dark[worst] >= excess[worst] else drift.worst_excess_night)[worst]
                where = (ids[mine[worst]], str(night_label(night, later)))
        found.append(LaterYear(later, groups, sites, nights, over, *where))
    return tuple(found)


def said(years: tuple[LaterYear, ...], year: int, count: int) -> str | None:
    """The same in one sentence, None where the plan holds in all of them."""
    bad = [one for one in years if one.groups_beyond]
    if not bad:
        return None
    worst = max(bad, key=lambda one: one.over_min)
    each = ", ".join(f"{one.year} {one.groups_beyond}" for one in bad)
    nights = max(one.nights_beyond for one in bad)
    over = f"up to {worst.over_min:.1f}" if worst.over_min >= 0.05 else "less than 0.1"
    return (f"The plan is for {year}. With the same settings some sites leave the tolerance later; of {count} "
            f"group{'' if count == 1 else 's'} these are touched: {each}; on at most {nights} night{'' if nights == 1 else 's'} "
            f"a year, by {over} min ({worst.site}, night of {worst.night}).")
