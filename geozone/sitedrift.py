"""Drift as columns of a site table: what a planner reads and a map draws."""

from __future__ import annotations

import numpy as np
import pandas as pd

from . import clock
from .drift import night_label, setting_drift
from .keypad import Keypad
from .setting import Setting, Tolerance

WITHIN, BEYOND, OTHER_CLOCK = "within", "beyond", "other clock"


def site_drift(sites: pd.DataFrame, setting: Setting, *, year: int, altitude_deg: float,
               tolerance: Tolerance = Tolerance(), keypad: Keypad = Keypad(),
               switch_clock: str = "own") -> pd.DataFrame:
    """Drift of one setting at every site of a table.

    Parameters
    ----------
    sites : DataFrame or GeoDataFrame
        Columns `lat_deg`, `solar_lon_deg`, `legal_zone`, as `add_legal_time` makes them.
    setting, year, altitude_deg, tolerance, keypad, switch_clock
        As for `setting_drift`.

    Returns
    -------
    DataFrame
        Index-identical. `worst_dark_min` [minute], `worst_dark_night` (ISO date or ""), `worst_dark_edge` ("dusk",
        "dawn", "night" or ""), the same three for excess, `nights_beyond`, `dark_year_min`, `excess_year_min`
        [minute], `tolerance_factor` (worst drift in units of the tolerance), `verdict`: "other clock" where the
        switch runs its own legal clock and that is not the setting's all year; else "within" or "beyond".
    """
    found = setting_drift(lat_deg=sites["lat_deg"].to_numpy(float), lon_deg=sites["solar_lon_deg"].to_numpy(float),
                  setting=setting, year=year, altitude_deg=altitude_deg, tolerance=tolerance, keypad=keypad,
                  legal_zone=sites["legal_zone"].to_numpy(object), switch_clock=switch_clock)
    factor = found.factor(tolerance)
    # Beyond is what the nights say, so that the verdict and the count of nights can never disagree.
    verdict = np.where(found.nights_beyond > 0, BEYOND, WITHIN).astype(object)
    if switch_clock == "own":
        verdict[~same_clock(sites["legal_zone"], setting.legal_zone, year)] = OTHER_CLOCK
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
        "tolerance_factor": factor,
        "verdict": verdict,
    }, index=sites.index)


def same_clock(legal_zone, other: str, year: int) -> np.ndarray:
    """(n,) bool: whether each legal zone has the other's offsets from UTC all through the year."""
    zones = np.asarray(legal_zone, dtype=object)
    key = clock.offsets(other, year).key
    same = [name for name in set(zones) if clock.offsets(name, year).key == key]
    return np.isin(zones, same)
