"""Groups that exist already, held against the plan: what each would need."""

from __future__ import annotations

import time

import numpy as np

from ..sharing.drift import drift_at
from .allowedshifts import AllowedShifts
from .fewestsettings import fewest
from .keyedcovers import best_setting, within
from .planrecords import ExistingComparison, ExistingGroup


def existing_groups(several: list, names: list, clock_rules: list, zones: list, servable: list, count: int,
                    seconds: float, without: int = 0) -> ExistingComparison:
    """Best setting of each existing group, and how many settings the plan saves.

    Parameters
    ----------
    several : list of AllowedShifts
        One a clock rule, every site a row of its own.
    names : list of (n,) ndarray of str
        The existing group of each site.
    clock_rules, zones : list
        Clock rule and legal zone of each part.
    servable : list of (n,) bool
        Sites that some setting keeps within tolerance.
    count : int
        Settings that the plan gives to these sites.
    seconds : float
        Time for the groups that one setting does not serve.
    without : int
        Sites that name no group and are not among these.
    """
    begun = time.monotonic()
    groups, waiting = [], []
    for shifts, name, rule, zone, can in zip(several, names, clock_rules, zones, servable):
        for value in sorted(set(name)):
            rows = np.flatnonzero(name == value)
            setting, _, factor = best_setting(shifts, rows, zone)
            served = bool(within(factor, shifts).all())
            worst = drift_at(shifts.lat_deg[rows], shifts.lon_deg[rows], setting, shifts.basis)
            groups.append([value, rule, rows.size, setting, served, float(factor.max()),
                           float(worst.worst_dark_min.max()), float(worst.worst_excess_min.max()), 1])
            if not served:
                waiting.append((len(groups) - 1, shifts, rows[can[rows]], zone))
    proved = True
    for turn, (index, shifts, rows, zone) in enumerate(waiting):
        if rows.size == 0:
            groups[index][-1] = 0
            continue
        left = begun + seconds - time.monotonic()
        part = AllowedShifts(shifts.lat_deg[rows], shifts.lon_deg[rows], np.arange(rows.size), shifts.basis, shifts.lattice)
        share = max(1.0, left / (len(waiting) - turn))
        found = fewest(part, np.arange(rows.size), zone, share, tidy=False)
        groups[index][-1] = len(found.cover.settings)
        proved = proved and found.lower_bound == len(found.cover.settings)
    needed = sum(group[-1] for group in groups)
    return ExistingComparison(tuple(ExistingGroup(*group) for group in groups), needed, needed - count, without, proved)
