"""Which nights are judged: those on which the sun passes the dark threshold by more than a given depth.

Where the sun only grazes the threshold, a hair of altitude is many minutes of switching time, and where it does not
cross it there is no switching at all: a whole night is lost or won at once, and no setting mends it. A planner may
leave such nights out of the judgement.
"""

from __future__ import annotations

import numpy as np

from ..compiled import kernel
from .almanac import almanac, check_year
from .comparison import EVERY_NIGHT
from .crossing import is_judged, surely_judged
from .sun import checked_positions, run_in_parts, sin_threshold


def judged_nights(lat_deg, lon_deg, year: int, altitude_deg: float, shallow_deg: float, years: int = 1) -> np.ndarray:
    """Which nights of the year, or of several from it on, are judged at each site.

    Parameters
    ----------
    lat_deg, lon_deg : float or (n,) array_like [degree]
        Longitudes unwrapped as `switch_times` describes.
    year : int
    altitude_deg : float [degree]
        Dark threshold.
    shallow_deg : float [degree]
        0 judges every night.
    years : int

    Returns
    -------
    (n, n_night) bool

    Raises
    ------
    InputError
        As `switch_times`.

    Notes
    -----
    With `shallow_deg` D above 0, a night is judged where the sun stands at least D below the threshold at the site's
    midnight, and at least D above it at the noon before and at the noon after. So a white night (the sun stays above)
    and a polar night (it stays below) are not judged either, however far it is from crossing: the sun passes the
    threshold by less than D, namely not at all. Every judged night therefore has a dusk and a dawn at the site.

    The rule asks nothing of the setting. With the midnight altitude |lat + declination| - 90 and the noon altitude
    90 - |lat - declination| a night that is not judged at one latitude is not judged nearer the pole either (outside
    the tropics), and a larger D never adds a judged night. Midnight and noon are where the hour angle is 180 and 0
    degrees; altitudes are topocentric, as the threshold is.

    Examples
    --------
    >>> print(judged_nights([55.0, 63.0, 70.0], [10.0, 10.0, 10.0], 2027, -4.0, 1.0).sum(axis=1))
    [365 324 240]
    """
    lat, lon = checked_positions(lat_deg, lon_deg)
    table = almanac(check_year(year), years)
    out = np.ones((lat.size, table.n_night), bool)
    sin_deep, sin_clear = limits(altitude_deg, shallow_deg)
    if (sin_deep, sin_clear) != EVERY_NIGHT:
        run_in_parts(lambda rows: _judged(table.hour_angle, table.sin_declination, lat[rows], lon[rows], sin_deep,
                                          sin_clear, out[rows]), lat.size)
    return out


def limits(altitude_deg: float, shallow_deg: float) -> tuple[float, float]:
    """(sin_deep, sin_clear) as the compiled comparisons want them: what midnight may not pass, and noon must reach."""
    if shallow_deg == 0.0:
        return EVERY_NIGHT
    return (sin_threshold(max(altitude_deg - shallow_deg, -90.0)), sin_threshold(min(altitude_deg + shallow_deg, 90.0)))


@kernel()
def _judged(e, s, lat_rad, lon_rad, sin_deep, sin_clear, out):
    for i in range(lat_rad.size):
        sin_lat, cos_lat = np.sin(lat_rad[i]), max(np.cos(lat_rad[i]), 1e-12)
        for k in range(e.shape[0]):
            out[i, k] = (surely_judged(s, k, lat_rad[i], lat_rad[i], sin_deep, sin_clear)
                         or is_judged(e, s, k, sin_lat, cos_lat, lon_rad[i], sin_deep, sin_clear))
