"""Earliest and latest dusk and dawn over many sites, night by night."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..numbers import comparison, shallow
from ..numbers.almanac import almanac, check_year
from ..numbers.sun import checked_positions, run_in_parts, sin_threshold


@dataclass(frozen=True)
class Envelope:
    """Earliest and latest dusk and dawn over a set of sites, night by night.

    Attributes
    ----------
    dusk_earliest_utc_min, dusk_latest_utc_min, dawn_earliest_utc_min, dawn_latest_utc_min : (n_night,) float64
        Minutes since 1 January 00:00 UTC; NaN where no site crosses.
    sites_without : (n_night,) int64
        Sites where the sun does not cross the threshold both ways that night.
    """

    dusk_earliest_utc_min: np.ndarray
    dusk_latest_utc_min: np.ndarray
    dawn_earliest_utc_min: np.ndarray
    dawn_latest_utc_min: np.ndarray
    sites_without: np.ndarray


def envelope(*, lat_deg, lon_deg, year: int, altitude_deg: float, shallow_deg: float = 0.0) -> Envelope:
    """Earliest and latest dusk and dawn over n sites on every night; no site x night array is made.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
    year : int
    altitude_deg : float [degree]
    shallow_deg : float [degree]
        A site takes part on its judged nights only, see `judged_nights`.

    Returns
    -------
    Envelope
    """
    lat_rad, lon_rad = checked_positions(lat_deg, lon_deg)
    table, sin_h = almanac(check_year(year)), sin_threshold(altitude_deg)
    judged = shallow.limits(altitude_deg, shallow_deg)

    def part(rows: slice):
        reduced = np.empty((5, table.n_night))
        comparison.envelope(table.hour_angle, table.sin_declination, lat_rad[rows], lon_rad[rows], sin_h, *judged,
                            reduced)
        return reduced

    parts = np.stack(run_in_parts(part, lat_rad.size))
    extremes = [parts[:, 0].min(0), parts[:, 1].max(0), parts[:, 2].min(0), parts[:, 3].max(0)]
    first, last, early, late = (np.where(np.isfinite(row), row, np.nan) for row in extremes)
    return Envelope(first, last, early, late, parts[:, 4].sum(0).astype(np.int64))
