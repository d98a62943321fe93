"""Dusk and dawn at places over a year: the public face of the almanac and the crossing kernel."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from ..errors import InputError
from . import crossing
from .almanac import almanac, check_year
from .cores import on_all_cores, workers

# Sun's mean equatorial horizontal parallax, IAU 1976: 8.794148 arcsec at 1 au. The observer stands on the Earth's
# surface, so a topocentric altitude is lower than the geocentric one by parallax x cos(altitude). The yearly
# swing of 1.7 % (0.15 arcsec, 0.01 s) is left out.
_PARALLAX_RAD = math.radians(8.794148 / 3600.0)


class State(IntEnum):
    """How the sun meets the dark threshold in one night (solar noon to solar noon)."""

    CROSSES = crossing.CROSSES          #: goes below it and comes back
    ABOVE = crossing.STAYS_ABOVE        #: no darkness that night
    BELOW = crossing.STAYS_BELOW        #: dark from noon to noon
    DUSK_ONLY = crossing.DUSK_ONLY      #: goes below it and is still there at the next noon
    DAWN_ONLY = crossing.DAWN_ONLY      #: is below it at noon already and comes up


@dataclass(frozen=True)
class SwitchTimes:
    """Dusk and dawn of n sites over the nights of a year.

    Attributes
    ----------
    dusk_utc_min, dawn_utc_min : (n, n_night) float64
        Minutes since 1 January 00:00 UTC of the year; NaN where the sun does not cross the threshold.
    state : (n, n_night) int8
        Values of `State`.
    night : (n_night,) datetime64[D]
        The civil date that each night is named by: that of the solar noon it starts from.
    """

    dusk_utc_min: np.ndarray
    dawn_utc_min: np.ndarray
    state: np.ndarray
    night: np.ndarray


def switch_times(*, lat_deg, lon_deg, year: int, altitude_deg: float, years: int = 1) -> SwitchTimes:
    """Dusk and dawn of every night of a year, or of several.

    Parameters
    ----------
    lat_deg, lon_deg : float or (n,) array_like [degree]
        Geodetic position, north and east positive. A night is named by the date in local mean time; where the
        legal date differs from it (Samoa, the Line Islands), give the longitude unwrapped, 188 for -172.
    year : int
    altitude_deg : float [degree]
        Dark threshold: topocentric altitude of the sun's centre, no refraction, flat horizon.
    years : int
        Nights of so many years, from `year` on.

    Returns
    -------
    SwitchTimes

    Raises
    ------
    InputError
        For a latitude outside -90..90, a longitude outside -540..540, an altitude outside -90..90, NaN, arrays
        of unequal length, or a year that cannot be computed.

    Notes
    -----
    UT1 is taken to be UTC. The horizon is flat, the sky clear, and the site's elevation is not applied.

    References
    ----------
    Positions: IAU SOFA/ERFA. Definitions of dusk and dawn by altitude: US Naval Observatory,
    "Rise, Set, and Twilight Definitions".

    Examples
    --------
    >>> times = switch_times(lat_deg=60.1699, lon_deg=24.9384, year=2025, altitude_deg=-6.0)
    >>> print(times.night[171], round(float(times.dusk_utc_min[0, 171] - 171 * 1440), 1))
    2025-06-21 1302.4
    """
    lat_rad, lon_rad = checked_positions(lat_deg, lon_deg)
    sin_h = sin_threshold(altitude_deg)
    table = almanac(check_year(year), years)
    shape = (lat_rad.size, table.n_night)
    dusk, dawn, state = np.empty(shape), np.empty(shape), np.empty(shape, np.int8)

    def part(rows: slice):
        crossing.all_times(table.hour_angle, table.sin_declination, lat_rad[rows], lon_rad[rows], sin_h,
                           dusk[rows], dawn[rows], state[rows])

    run_in_parts(part, lat_rad.size)
    return SwitchTimes(dusk, dawn, state, nights_of(year, years))


def nights_of(year: int, years: int = 1) -> np.ndarray:
    """(n_night,) datetime64[D]: the civil dates that name the nights of a year, or of several from it on."""
    check_year(year)
    return np.arange(f"{year}-01-01", f"{year + years}-01-01", dtype="datetime64[D]")


def sin_threshold(altitude_deg: float) -> float:
    """Sine of the geocentric altitude at which the topocentric altitude is `altitude_deg`.

    Raises
    ------
    InputError
        If `altitude_deg` is not a number from -90 to 90.
    """
    if not -90.0 <= float(altitude_deg) <= 90.0:
        raise InputError("the dark threshold is not an altitude", value=altitude_deg,
                         rule="degrees from -90 to 90, negative below the horizon",
                         next_step="lighting plans use -0.8333 (sunset) to -6 (civil twilight)")
    altitude = math.radians(float(altitude_deg))
    return math.sin(altitude + _PARALLAX_RAD * math.cos(altitude))


def checked_positions(lat_deg, lon_deg) -> tuple[np.ndarray, np.ndarray]:
    """Positions as contiguous (n,) float64 arrays in radians.

    Raises
    ------
    InputError
        If a value is out of range or not a number, or the lengths differ.
    """
    lat = np.atleast_1d(np.asarray(lat_deg, dtype=float))
    lon = np.atleast_1d(np.asarray(lon_deg, dtype=float))
    if lat.ndim != 1 or lat.shape != lon.shape:
        raise InputError("latitudes and longitudes do not pair up", value=f"{lat.shape} and {lon.shape}",
                         rule="one-dimensional and equally many")
    for name, values, limit in (("lat_deg", lat, 90.0), ("lon_deg", lon, 540.0)):
        bad = ~(np.abs(values) <= limit)
        if bad.any():
            raise InputError(f"{name} is out of range", where=f"site number {int(np.argmax(bad)) + 1}",
                             value=float(values[bad][0]), rule=f"a number from -{limit:g} to {limit:g}")
    return np.radians(lat), np.radians(lon)


def run_in_parts(part, n: int) -> list:
    """Call `part(rows)` for slices of whole blocks covering 0..n, on every core; results in order."""
    blocks = max(1, -(-n // crossing.BLOCK))
    if blocks < 2 or workers() < 2:
        return [part(slice(0, n))]
    # Four parts a worker: parts with white nights take longer, and the others then fill in.
    edges = np.unique(np.linspace(0, blocks, min(blocks, 4 * workers()) + 1).astype(int)) * crossing.BLOCK
    rows = [slice(int(a), int(min(b, n))) for a, b in zip(edges[:-1], edges[1:])]
    return on_all_cores(part, rows)


def prepare() -> None:
    """Compile the kernels or load them from the cache."""
    from . import comparison

    table, one = almanac(2027), np.zeros(1)
    switch_times(lat_deg=0.0, lon_deg=0.0, year=2027, altitude_deg=0.0)
    nothing = np.zeros(table.n_night)
    comparison.compare(table.hour_angle, table.sin_declination, one, one, 0.0, nothing, nothing,
                       nothing.astype(np.int8), 1.0, 1.0, *comparison.EVERY_NIGHT, np.empty((comparison.COLUMNS, 1)))
    comparison.envelope(table.hour_angle, table.sin_declination, one, one, 0.0, *comparison.EVERY_NIGHT,
                        np.empty((5, table.n_night)))
