"""The input of a grouping: sites checked and put in an order of their own, and cut into parts that share nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from ..errors import InputError
from ..numbers import clock
from ..numbers.sun import checked_positions
from ..sharing.drift import unwrapped_lon_deg
from ..trade.basis import Basis
from .allowedshifts import AllowedShifts
from .alone import best_alone
from .fewestsettings import Fewest
from .hurried import hurried
from .keylattice import KeyLattice
from .keyedcovers import best_setting, within as is_within
from .planrecords import Unserved


@dataclass(frozen=True, eq=False)
class Part:
    """Sites that may share settings: one clock rule, one value of `within`.

    Attributes
    ----------
    rule : int
    value : str
        Of `within`.
    zone : str
    sites : (m,) int64
        Its sites.
    shifts : AllowedShifts
        What its rows allow.
    unit_names : (n,) of str
    served : (n,) bool
        Rows that some setting keeps within tolerance, as far as is known.
    found : Fewest or None
        Settings for these, once they were looked for.
    """

    rule: int
    value: str
    zone: str
    sites: np.ndarray
    shifts: AllowedShifts
    unit_names: np.ndarray
    served: np.ndarray
    found: Fewest | None = None


class GroupSites:
    """The sites to be grouped, checked, in an order of their own so that the order of the rows does not matter.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
    year : int
    legal_zone : (n,) array_like of str, optional
        Legal zone of each site; left out: UTC.
    clock_rule : (n,) array_like of int, optional
        Left out: sites whose zones have the same offsets all year share a clock rule.
    keep_together : (n,) array_like, optional
        Units (cabinet, feeder) whose sites must share a setting. A blank value is a unit of its own.
    within : (n,) array_like, optional
        No group crosses from one value to another.
    site_id : (n,) array_like, optional
        Names for the answer; left out: 0, 1, 2, ...
    existing : (n,) array_like, optional
        A grouping to compare with. Sites that name none, a blank, are left out of the comparison.

    Raises
    ------
    InputError
        For positions or columns that cannot be used.
    """

    def __init__(self, lat_deg, lon_deg, year: int, *, legal_zone=None, clock_rule=None, keep_together=None, within=None, site_id=None,
                 existing=None):
        lat, lon = checked_positions(lat_deg, lon_deg)
        n = lat.size
        if n == 0:
            raise InputError("there are no sites to group", next_step="give at least one site")

        def texts(values, name, default):
            if values is None:
                return default
            values = np.asarray(values, dtype=object)
            if values.shape != (n,):
                raise InputError(f"{name} does not pair up with the sites", value=f"{values.shape} for {n} sites",
                                 rule="one value a site")
            return np.array([text_of(v) for v in values], dtype=object)

        ids = np.arange(n).astype(object) if site_id is None else np.asarray(site_id, dtype=object)
        zone = texts(legal_zone, "legal_zone", np.full(n, "UTC", dtype=object))
        unit = texts(keep_together, "keep_together", np.full(n, "", dtype=object))
        value = texts(within, "within", np.full(n, "", dtype=object))
        group = texts(existing, "existing", np.full(n, "", dtype=object))
        self.rule = _rules(zone, year) if clock_rule is None else np.asarray(clock_rule, dtype=np.int64)
        lat, lon = np.degrees(lat), np.degrees(lon)
        for name in sorted(set(zone)):
            mine = zone == name
            lon[mine] = unwrapped_lon_deg(lon[mine], name, year)
        order = np.lexsort((np.array([str(i) for i in ids]), unit.astype(str), lat, lon))
        self.n, self.back = n, order
        # What was asked for, blank columns included.
        self.ruled, self.compared = keep_together is not None or within is not None, existing is not None
        self.lat, self.lon, self.zone, self.rule = lat[order], lon[order], zone[order], self.rule[order]
        self.unit, self.value, self.group, self.ids = unit[order], value[order], group[order], ids[order]


def text_of(value) -> str:
    """A cell as text: blank where nothing is, and a whole number without the point that a gap in its column gives it."""
    if value is None or pd.isna(value):
        return ""
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value).strip()


def _rules(zone, year: int) -> np.ndarray:
    keys: dict = {}
    number = {name: keys.setdefault(clock.offsets(name, year).key, len(keys)) for name in sorted(set(zone))}
    return np.array([number[name] for name in zone], dtype=np.int64)


def most_common(names) -> str:
    values, counts = np.unique(names.astype(str), return_counts=True)
    return str(values[np.argmax(counts)])


def parts_of(sites: GroupSites, basis: Basis, lattice: KeyLattice) -> list[Part]:
    """The sites in parts that share no setting, in the order of clock rules and values of `within`.

    Raises
    ------
    InputError
        If a unit spans two of them.
    """
    home: dict = {}
    for i, (unit, rule, value) in enumerate(zip(sites.unit, sites.rule, sites.value)):
        first = home.setdefault(unit, i) if unit else i
        if sites.rule[first] != rule:
            raise InputError("sites that must stay together keep different clocks", value=unit,
                             rule=f"site {sites.ids[first]} is in {sites.zone[first]}, site {sites.ids[i]} in {sites.zone[i]}; "
                                  "they cannot share a setting",
                             next_step="give both the same legal_zone if the list is wrong; else split the unit, or leave its "
                                       "keep_together value blank")
        if sites.value[first] != value:
            raise InputError("sites that must stay together lie on two sides of `within`", value=unit,
                             rule=f"site {sites.ids[first]} is in {sites.value[first] or 'none'}, site {sites.ids[i]} in {value or 'none'}",
                             next_step="split the unit, or leave its keep_together value blank")
    parts = []
    for rule, value in sorted(set(zip(sites.rule.tolist(), sites.value.tolist()))):
        index = np.flatnonzero((sites.rule == rule) & (sites.value == value))
        names = np.array([f"u{u}" if u else f"s{i:09d}" for i, u in zip(index, sites.unit[index])])
        # Sites at one spot, not bound to others, need the same: they are one row.
        spot = {}
        for k, i in enumerate(index):
            if not sites.unit[i]:
                names[k] = spot.setdefault((sites.lat[i], sites.lon[i]), names[k])
        _, first, unit = np.unique(names, return_index=True, return_inverse=True)
        rank = np.argsort(np.argsort(first))
        shifts = AllowedShifts(sites.lat[index], sites.lon[index], rank[unit], basis, lattice)
        labels = np.array([sites.unit[index[f]] or str(sites.ids[index[f]]) for f in np.sort(first)], dtype=object)
        parts.append(Part(rule, value, most_common(sites.zone[index]), index, shifts, labels, np.ones(shifts.n, bool)))
    return parts


def without_unserved(part: Part, sites: GroupSites) -> tuple[Part, list[Unserved]]:
    """The part without the rows that no setting keeps within tolerance, and the records of these."""
    shifts = part.shifts
    doubtful, safe = ~shifts.servable(1.0, False), shifts.servable(1.0, True)
    if not shifts.steady:
        # Beside white nights the extremes can promise what the night itself does not keep: every row is tried.
        for row in np.flatnonzero(~doubtful):
            doubtful[row] = not is_within(best_setting(shifts, np.array([row]), part.zone)[2], shifts)[0]
    served, records = part.served.copy(), []
    for row in np.flatnonzero(doubtful):
        setting, factor = best_alone(shifts, row, part.zone, enough=1.0)
        if is_within(np.array([factor]), shifts)[0]:
            continue
        served[row] = False
        records.append(unserved_row(part, sites, row, setting, factor, not safe[row]))
    return replace(part, served=served), records


def hurried_part(part: Part, sites: GroupSites, seconds: float) -> tuple[Part, list[Unserved]]:
    """The part with a plan that is quick to find, and the records of the rows for which none was found; see `hurried`."""
    share = seconds * part.shifts.n / sites.n
    found, served = hurried(part.shifts, part.zone, share)
    records = []
    for row in np.flatnonzero(~served):
        setting, factor = best_alone(part.shifts, int(row), part.zone, enough=1.0)
        records.append(unserved_row(part, sites, int(row), setting, factor, False))
    return replace(part, served=served, found=found if served.any() else None), records


def unserved_row(part: Part, sites: GroupSites, row: int, setting, factor: float, proved: bool) -> Unserved:
    """The record of a row that is in no group."""
    tolerance = part.shifts.tolerance
    return Unserved(str(part.unit_names[row]), tuple(sites.ids[part.sites[part.shifts.unit == row]]), setting, factor,
                    factor * tolerance.dark_min, factor * tolerance.excess_min, proved)
