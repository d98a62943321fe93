"""Drift as columns of a site table: what a planner reads and a map draws."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pandas as pd

from ..numbers import clock
from ..places.legalzones import with_legal_time
from ..sharing.drift import Drift, drift_at, night_label, unwrapped_lon_deg
from ..trade.basis import Basis
from ..trade.setting import Setting
from .conditions import Conditions
from .programme_year import programme_drift

# Columns of nights that `Tolerance.shallow_deg` leaves out, there when it is used.
NOT_JUDGED = ("nights_not_judged", "dark_not_judged_min", "excess_not_judged_min")
WITHIN, BEYOND, OTHER_CLOCK = "within", "beyond", "other clock"


def site_drift(sites: pd.DataFrame, setting: Setting, basis: Basis, *, programmes=(), programme_of=None) -> pd.DataFrame:
    """Drift of one setting at every site of a table.

    Parameters
    ----------
    sites : DataFrame or GeoDataFrame
        Points in any coordinate system. Legal time is added where it is missing; what `add_legal_time` made is used.
    setting : Setting
    basis : Basis
        With programmes `Conditions`: their holidays and clocks count.
    programmes : sequence of Programme
        Left out: dusk to dawn.
    programme_of : Series of str
        Each site's programme.

    Returns
    -------
    DataFrame
        Index-identical. `worst_dark_min` [minute], `worst_dark_night` (ISO date or ""), `worst_dark_edge` ("dusk",
        "dawn", "night", "clock" or ""), the same three for excess, `nights_beyond`, `dark_year_min`, `excess_year_min`
        [minute], `tolerance_share` (worst minutes as a share of the tolerance), `result`: "other clock" where the
        switch runs its own legal clock and that is not the setting's all year; else "within" or "beyond".
        With `tolerance.shallow_deg` also `nights_not_judged`, and `dark_not_judged_min` and `excess_not_judged_min`, what
        of the year's sums falls on them.

    Examples
    --------
    >>> import geopandas
    >>> sites = geopandas.GeoDataFrame({"name": ["mill", "weir"]}, geometry=geopandas.points_from_xy([139.0, 140.2], [-35.0, -34.2]), crs=4326)
    >>> site_drift(sites, Setting(-35.0, 139.0, "Australia/Adelaide"), Basis(2027, -4.0))["result"].tolist()
    ['within', 'beyond']
    """
    year, tolerance = basis.year, basis.tolerance
    sites = with_legal_time(sites, year)
    found = _by_programme(sites, setting, basis, programmes, programme_of)
    factor = found.factor(tolerance)
    # Beyond is what the nights say, so that the verdict and the count of nights can never disagree.
    verdict = np.where(found.nights_beyond > 0, BEYOND, WITHIN).astype(object)
    if basis.switch_clock == "own":
        verdict[~same_clock(sites["legal_zone"], setting.legal_zone, year)] = OTHER_CLOCK
    left_out = {name: getattr(found, name) for name in NOT_JUDGED} if tolerance.shallow_deg else {}
    return pd.DataFrame({
        "worst_dark_min": found.worst_dark_min,
        "worst_dark_night": night_label(found.worst_dark_night, year),
        "worst_dark_edge": found.worst_dark_edge,
        "worst_excess_min": found.worst_excess_min,
        "worst_excess_night": night_label(found.worst_excess_night, year),
        "worst_excess_edge": found.worst_excess_edge,
        "nights_beyond": found.nights_beyond,
        "dark_year_min": found.dark_year_min,
        "excess_year_min": found.excess_year_min,
        **left_out,
        "tolerance_share": factor,
        "result": verdict,
    }, index=sites.index)


def _by_programme(sites: pd.DataFrame, setting: Setting, basis: Basis, programmes=(), programme_of=None) -> Drift:
    """Drift of one setting at every site, each with its own programme; without programmes from dusk to dawn."""
    lat, lon = sites["lat_deg"].to_numpy(float), sites["solar_lon_deg"].to_numpy(float)
    zone = sites["legal_zone"].to_numpy(object)
    if not programmes:
        if basis.switch_clock == "master":
            # All sites are held against one clock, so all nights are named by its date.
            lon = unwrapped_lon_deg(lon, setting.legal_zone, basis.year)
        return drift_at(lat, lon, setting, basis, zone)
    conditions = basis if isinstance(basis, Conditions) else Conditions.of(basis)
    chosen = np.asarray(programme_of, dtype=object)
    whole: dict[str, np.ndarray] = {}
    for programme in programmes:
        rows = np.flatnonzero(chosen == programme.name)
        if not rows.size:
            continue
        part = programme_drift(lat[rows], lon[rows], setting, conditions, programme, zone[rows])
        for item in fields(Drift):
            values = getattr(part, item.name)
            whole.setdefault(item.name, np.empty(len(sites), values.dtype))[rows] = values
    return Drift(**whole)


def same_clock(legal_zone, other: str, year: int) -> np.ndarray:
    """(n,) bool: whether each legal zone has the other's offsets from UTC all through the year."""
    zones = np.asarray(legal_zone, dtype=object)
    key = clock.offsets(other, year).key
    same = [name for name in set(zones) if clock.offsets(name, year).key == key]
    return np.isin(zones, same)
