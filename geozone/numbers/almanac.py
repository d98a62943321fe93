"""The apparent sun from ERFA: where it stands at 0h UT of each day, and smooth pieces in between.

Everything that depends on the day and not on the place is computed here, once a year and in well under
a second, so that the crossing kernel (`crossing.py`) only evaluates short polynomials.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import erfa
import numpy as np

from ..errors import InputError

# Leap seconds are defined from 1972 on; `erfa.epv00` states its accuracy for 1900 to 2100, and the last year's dawns lie in the next.
FIRST_YEAR, LAST_YEAR = 1972, 2098

_TT_MINUS_TAI_S = 32.184
_AU_LIGHT_DAY = 499.004782 / 86400.0  # light time for one au [day], IAU 2012 au / c
_SCHWARZSCHILD_AU = 1.97412574336e-8  # 2 G M_sun / c^2 [au], as in ERFA's SRS


@dataclass(frozen=True)
class ApparentSun:
    """Apparent geocentric place of the sun, true equator and equinox of date.

    Attributes
    ----------
    right_ascension_rad, declination_rad : (n,) float64 [radian]
    greenwich_hour_angle_rad : (n,) float64 [radian], in [0, 2 pi)
    distance_au : (n,) float64 [astronomical unit]
    """

    right_ascension_rad: np.ndarray
    declination_rad: np.ndarray
    greenwich_hour_angle_rad: np.ndarray
    distance_au: np.ndarray


@dataclass(frozen=True)
class Almanac:
    """A year of sun, or several, as one pair of quartics for every night, good at every longitude.

    Night k is centred on day k + 1 (0h UT, days counted from 1 January 0h UT of the year). With x the days
    since that centre, `hour_angle[k]` gives Greenwich hour angle minus 2 pi x, less whole turns, and
    `sin_declination[k]` the sine of the declination, lowest power first. A place of longitude l has its
    solar noon where 2 pi x + hour_angle(x) + l = 0, and the next one a turn later.

    Attributes
    ----------
    year : int
    n_night : int
        365 or 366; of several years their sum.
    hour_angle, sin_declination : (n_night, 5) float64 [radian, 1]
    """

    year: int
    n_night: int
    hour_angle: np.ndarray
    sin_declination: np.ndarray


def check_year(year: int) -> int:
    """The year as an int.

    Raises
    ------
    InputError
        If it lies outside `FIRST_YEAR` to `LAST_YEAR`.
    """
    if not isinstance(year, (int, np.integer)) or isinstance(year, bool) or not FIRST_YEAR <= year <= LAST_YEAR:
        raise InputError("the year cannot be computed", value=year,
                         rule=f"a whole year from {FIRST_YEAR} (leap seconds begin) to {LAST_YEAR} (end of the Earth theory)",
                         next_step="give the year that the plan is for, such as year = 2027")
    return int(year)


def tai_minus_utc_s(year: int, month: int = 1) -> float:
    """Leap seconds in force [second].

    Read from ERFA's own table rather than through `erfa.dat`, which warns of a "dubious year" for every
    year more than five after its last entry. Future leap seconds are unknown: the last value is kept, and
    an undeclared one would move our times by that one second.
    """
    table = erfa.leap_seconds.get()
    in_force = table[(table["year"] < year) | ((table["year"] == year) & (table["month"] <= month))]
    return float(in_force["tai_utc"][-1])


def apparent_sun(year: int, day) -> ApparentSun:
    """Apparent geocentric sun at instants of a year.

    Parameters
    ----------
    year : int
    day : (n,) float64
        Days (UTC) since 1 January 0h of `year`; may be negative or pass the year's end.

    Returns
    -------
    ApparentSun

    Notes
    -----
    Earth from `erfa.epv00`, light time, aberration and light deflection scale from `erfa.ab`,
    precession-nutation IAU 2006/2000A (`erfa.pnm06a`), sidereal time `erfa.gst06a`. UT1 - UTC (at most
    0.9 s) is not modelled: UT1 is taken to be UTC, which moves a switching time by at most that much.
    """
    check_year(year)
    day = np.atleast_1d(np.asarray(day, dtype=float))
    jd0, jd_jan1 = erfa.cal2jd(year, 1, 1)
    jd_base = jd0 + jd_jan1
    utc2 = day
    tt2 = utc2 + (tai_minus_utc_s(year) + _TT_MINUS_TAI_S) / 86400.0
    # TDB differs from TT by less than 2 ms: 0.00008 arcsec of solar motion, so TT serves for both.
    earth_helio, earth_bary = erfa.epv00(jd_base, tt2)
    sun_bary = earth_bary["p"] - earth_helio["p"]
    sun_velocity = earth_bary["v"] - earth_helio["v"]
    distance = np.linalg.norm(earth_helio["p"], axis=-1)
    light_time = distance * _AU_LIGHT_DAY
    direction = sun_bary - light_time[:, None] * sun_velocity - earth_bary["p"]
    direction /= np.linalg.norm(direction, axis=-1)[:, None]
    velocity_c = earth_bary["v"] * _AU_LIGHT_DAY
    bm1 = np.sqrt(1.0 - np.sum(velocity_c**2, axis=-1))
    proper = erfa.ab(direction, velocity_c, distance, bm1)
    of_date = np.einsum("nij,nj->ni", erfa.pnm06a(jd_base, tt2), proper)
    right_ascension = np.arctan2(of_date[:, 1], of_date[:, 0]) % (2 * np.pi)
    declination = np.arcsin(of_date[:, 2] / np.linalg.norm(of_date, axis=-1))
    sidereal = erfa.gst06a(jd_base, utc2, jd_base, tt2)
    return ApparentSun(right_ascension, declination, (sidereal - right_ascension) % (2 * np.pi), distance)


def check_years(year: int, years: int) -> int:
    """How many years, as an int.

    Raises
    ------
    InputError
        If there is none, or if the last lies beyond `LAST_YEAR`.
    """
    if not isinstance(years, (int, np.integer)) or isinstance(years, bool) or not 1 <= years <= LAST_YEAR - year + 1:
        raise InputError("the years cannot be computed", value=years, rule=f"1 to {LAST_YEAR - year + 1}: from {year} to {LAST_YEAR} at most",
                         next_step="give fewer years")
    return int(years)


def almanac(year: int, years: int = 1) -> Almanac:
    """The almanac of a year, or of several from it on, computed once and kept.

    The quartics run through five daily nodes. The largest fifth derivative, from the monthly swing of the
    Earth about the common centre with the Moon (6.4 arcsec, 27.3 days) and fortnightly nutation (0.2 arcsec),
    bounds the interpolation error at 0.001 arcsec within 1.2 days of the centre: 0.1 ms of time.
    """
    return _almanac(year, years)


@lru_cache(maxsize=8)
def _almanac(year: int, years: int) -> Almanac:
    check_year(year)
    n_night = sum(366 if one % 4 == 0 and (one % 100 != 0 or one % 400 == 0) else 365 for one in range(year, year + check_years(year, years)))
    node_day = np.arange(-1, n_night + 3, dtype=float)
    sun = apparent_sun(year, node_day)
    # Whole turns are taken off day by day, so that noon at Greenwich of night k is where the sum is zero.
    angle = np.unwrap(sun.greenwich_hour_angle_rad)
    angle -= 2 * np.pi * np.round((angle[0] - np.pi) / (2 * np.pi))
    x = np.arange(-2.0, 3.0)
    to_powers = np.linalg.inv(np.vander(x, 5, increasing=True))
    window = np.arange(n_night)[:, None] + np.arange(5)[None, :]
    return Almanac(year, n_night, np.ascontiguousarray(angle[window] @ to_powers.T),
                   np.ascontiguousarray(np.sin(sun.declination_rad)[window] @ to_powers.T))
