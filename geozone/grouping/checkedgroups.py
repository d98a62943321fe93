"""The last check: every group night by night by the drift itself, on every site. What fails is mended, or said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import PlanCheckError
from ..sharing.drift import night_label, drift_at
from ..trade.basis import Basis
from .alone import best_alone
from .planrecords import GroupSetting
from .siteparts import GroupSites, Part, unserved_row


def checked_groups(parts: list[Part], sites: GroupSites, basis: Basis):
    """Verify every group night by night, mend what fails, then name the groups and say how they fare.

    Returns
    -------
    parts : list of Part
        Without the rows that the check took out.
    settings, group_of_site
        As in `Groups`.
    failed : list of Unserved
        Rows that the check took out of their group and that no setting found serves.
    mended : int
        Rows that the check gave settings of their own.

    Raises
    ------
    PlanCheckError
        If a site is in no group, or in two.
    """
    parts, found, failed, mended = list(parts), [], [], 0
    for number, part in enumerate(parts):
        if part.found is None:
            continue
        cover, served = part.found.cover, part.served.copy()
        of_row = np.full(part.shifts.n, -1)
        of_row[cover.rows] = cover.of_row
        waiting = [(setting, np.flatnonzero(of_row == c), True) for c, setting in enumerate(cover.settings)]
        while waiting:
            setting, rows, first = waiting.pop(0)
            index = part.sites[np.isin(part.shifts.unit, rows)]
            worst = drift_at(sites.lat[index], sites.lon[index], setting, basis, sites.zone[index])
            bad = np.unique(part.shifts.unit[np.isin(part.sites, index)][worst.nights_beyond > 0])
            if not bad.size:
                found.append((part, setting, index, worst, float(worst.factor(basis.tolerance).max())))
                continue
            if not first:
                failed.append(unserved_row(part, sites, int(bad[0]), setting, float(worst.factor(basis.tolerance).max()), False))
                served[bad] = False
                continue
            mended += bad.size
            waiting += [(best_alone(part.shifts, int(row), part.zone, enough=1.0)[0], np.array([row]), False) for row in bad]
            if bad.size < rows.size:
                waiting.append((setting, np.setdiff1d(rows, bad), True))
        parts[number] = replace(part, served=served)
    if not found:
        return parts, (), np.full(sites.n, "", dtype=object), failed, mended
    covered = np.concatenate([item[2] for item in found])
    wanted = sum(int(np.isin(part.shifts.unit, np.flatnonzero(part.served)).sum()) for part in parts if part.found is not None)
    if np.unique(covered).size != covered.size or covered.size != wanted:
        raise PlanCheckError("a site is in no group, or in two")
    order = _reading_order(np.array([sites.lat[item[2]].mean() for item in found]),
                           np.array([sites.lon[item[2]].mean() for item in found]))
    labels, records = np.full(sites.n, "", dtype=object), []
    for rank, number in enumerate(order):
        part, setting, index, worst, factor = found[number]
        labels[index] = group_name(rank)
        dark, excess = int(np.argmax(worst.worst_dark_min)), int(np.argmax(worst.worst_excess_min))
        records.append(GroupSetting(
            group_name(rank), setting, part.rule, part.value, index.size,
            max(0.0, float(worst.worst_dark_min[dark])), sites.ids[index[dark]] if worst.worst_dark_night[dark] >= 0 else None,
            str(night_label(worst.worst_dark_night[dark], basis.year, basis.years)), str(worst.worst_dark_edge[dark]),
            max(0.0, float(worst.worst_excess_min[excess])),
            sites.ids[index[excess]] if worst.worst_excess_night[excess] >= 0 else None,
            str(night_label(worst.worst_excess_night[excess], basis.year, basis.years)), str(worst.worst_excess_edge[excess]), factor))
    given = np.empty(sites.n, dtype=object)
    given[sites.back] = labels
    return parts, tuple(records), given, failed, mended


def _reading_order(lat, lon) -> np.ndarray:
    """Indices from north-west to south-east, line by line as one reads."""
    lines = max(1, int(np.ceil(np.sqrt(len(lat)))))
    height = (np.max(lat) - np.min(lat)) / lines or 1.0
    line = np.minimum(((np.max(lat) - lat) / height).astype(int), lines - 1)
    return np.lexsort((-lat, lon, line))


def group_name(index: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    name = ""
    index += 1
    while index:
        index, letter = divmod(index - 1, 26)
        name = chr(ord("A") + letter) + name
    return name
