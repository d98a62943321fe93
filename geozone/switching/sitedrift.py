"""Drift as columns of a site table: what a planner reads and a map draws."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pandas as pd

from ..numbers import clock
from ..places.legalzones import with_legal_time
from ..sharing.drift import Drift, night_label, setting_drift, unwrapped_lon_deg
from ..trade.keypad import Keypad
from ..trade.setting import Setting, Tolerance
from .programme_year import programme_drift

# Columns of nights that `Tolerance.shallow_deg` leaves out, there when it is used.
NOT_JUDGED = ("nights_not_judged", "dark_not_judged_min", "excess_not_judged_min")
WITHIN, BEYOND, OTHER_CLOCK = "within", "beyond", "other clock"


def site_drift(sites: pd.DataFrame, setting: Setting, *, year: int, altitude_deg: float,
               tolerance: Tolerance = Tolerance(), keypad: Keypad = Keypad(), switch_clock: str = "own",
               programmes=(), programme_of=None, **programme_options) -> pd.DataFrame:
    """Drift of one setting at every site of a table.

    Parameters
    ----------
    sites : DataFrame or GeoDataFrame
        Points in any coordinate system. Legal time is added where it is missing; what `add_legal_time` made is used.
    setting, year, altitude_deg, tolerance, keypad, switch_clock
        As for `setting_drift`.
    programmes : sequence of Programme
        Left out: dusk to dawn.
    programme_of : Series of str
        Each site's programme.
    **programme_options
        holidays, wall_clocks: as for `programme_drift`.

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
    >>> site_drift(sites, Setting(-35.0, 139.0, "Australia/Adelaide"), year=2027, altitude_deg=-4.0)["result"].tolist()
    ['within', 'beyond']
    """
    sites = with_legal_time(sites, year)
    found = _by_programme(sites, setting, programmes, programme_of, year=year, altitude_deg=altitude_deg,
                          tolerance=tolerance, keypad=keypad, switch_clock=switch_clock, **programme_options)
    factor = found.factor(tolerance)
    # Beyond is what the nights say, so that the verdict and the count of nights can never disagree.
    verdict = np.where(found.nights_beyond > 0, BEYOND, WITHIN).astype(object)
    if switch_clock == "own":
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


def _by_programme(sites: pd.DataFrame, setting: Setting, programmes=(), programme_of=None, **how) -> Drift:
    """Drift of one setting at every site, each with its own programme; without programmes from dusk to dawn.

    Parameters
    ----------
    sites, setting, programmes, programme_of
        As for `site_drift`.
    **how
        As for `programme_drift`; without programmes as for `setting_drift`.
    """
    lat, lon = sites["lat_deg"].to_numpy(float), sites["solar_lon_deg"].to_numpy(float)
    zone = sites["legal_zone"].to_numpy(object)
    if not programmes:
        if how.get("switch_clock") == "master":
            # All sites are held against one clock, so all nights are named by its date.
            lon = unwrapped_lon_deg(lon, setting.legal_zone, how["year"])
        options = {name: value for name, value in how.items() if name not in ("holidays", "wall_clocks")}
        return setting_drift(lat_deg=lat, lon_deg=lon, setting=setting, legal_zone=zone, **options)
    chosen = np.asarray(programme_of, dtype=object)
    whole: dict[str, np.ndarray] = {}
    for programme in programmes:
        rows = np.flatnonzero(chosen == programme.name)
        if not rows.size:
            continue
        part = programme_drift(lat_deg=lat[rows], lon_deg=lon[rows], legal_zone=zone[rows], setting=setting,
                               programme=programme, **how)
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
