"""Daylight on the ground through dusk: lux to solar altitude and back, and the named twilights."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from ..errors import InputError

TWILIGHT = {"sunset": -50 / 60, "civil": -6.0, "nautical": -12.0, "astronomical": -18.0}
"""Altitude of the sun's centre that ends each stage of dusk [degree], flat horizon.

Sunset by convention at 50' (34' of refraction at the horizon and 16' of solar radius), the twilights
geometric, without refraction. Reference: Skyfield, documentation/almanac.rst, which cites the US Naval
Observatory.
"""

# Upper and lower altitude [degree] and l0..l3 of log10(E) = l0 + l1 x + l2 x^2 + l3 x^3, x = altitude / 90.
# Explanatory Supplement to the Astronomical Almanac (1992), ch. 9, Yallop & Hohenkerk, pp. 490-493.
# Brightest first; an altitude on a join belongs to the piece above it.
_PIECES = (
    (90.0, 20.0, (3.74, 3.97, -4.07, 1.47)),
    (20.0, 5.0, (3.05, 13.28, -45.98, 64.33)),
    (5.0, -0.8, (2.88, 22.26, -207.64, 1034.30)),
    (-0.8, -5.0, (2.88, 21.81, -258.11, -858.36)),
    (-5.0, -12.0, (2.70, 12.17, -431.69, -1899.83)),
    (-12.0, -18.0, (13.84, 262.72, 1447.42, 2797.93)),
)
HIGHEST_DEG, LOWEST_DEG = _PIECES[0][0], _PIECES[-1][1]

# Each halving of a piece (at most 70 degrees wide) gains one bit: 60 of them reach 1e-16 degree.
_HALVINGS = 60


def illuminance_lx(altitude_deg):
    """Horizontal illuminance under a clear sky, from the sun and the sky it lights.

    Parameters
    ----------
    altitude_deg : float or (...,) array_like
        Altitude of the sun's centre [degree], -18 to 90. NaN stays NaN.

    Returns
    -------
    float or (...,) float64
        Illuminance on level ground [lux].

    Raises
    ------
    InputError
        If an altitude lies outside the fit.

    Notes
    -----
    ``log10 E = l0 + l1 x + l2 x^2 + l3 x^3`` with x = altitude / 90, in six pieces whose joins step by about
    1 %. A second, independent fit agrees within 5 % from 0 to -8 degrees. The real sky does not: cloud, haze,
    snow and buildings scatter the light at one solar altitude by a factor of several, either way. Moon,
    stars and town glow are not included. Say so wherever a figure in lux is printed.

    Reference: Explanatory Supplement to the Astronomical Almanac (1992), ch. 9, pp. 490-493.

    Examples
    --------
    >>> round(illuminance_lx(-6.0), 2)
    3.41
    """
    altitude = np.asarray(altitude_deg, dtype=float)
    _refuse(altitude, (altitude < LOWEST_DEG) | (altitude > HIGHEST_DEG), "the solar altitude has no illuminance",
            f"degrees from {LOWEST_DEG:g} to {HIGHEST_DEG:g}, the range of the published fit",
            "below -18 degrees the sun no longer lights the sky; give a higher altitude")
    log_e = np.full(altitude.shape, np.nan)
    for upper, lower, coefficients in _PIECES:
        inside = (altitude >= lower) & (altitude <= upper) & np.isnan(log_e)
        log_e[inside] = _log10_lx(altitude[inside], coefficients)
    return _like(altitude, 10.0**log_e)


def altitude_deg_for(illuminance_lx):
    """Solar altitude at which a clear evening sky has fallen to an illuminance.

    The inverse of `illuminance_lx`: never decreasing in its argument, also across the joins, where the fit
    steps by about 1 %. Where two altitudes give the same light the higher one is taken, and where none does
    the join: lamps then come on a few seconds early rather than late.

    Parameters
    ----------
    illuminance_lx : float or (...,) array_like
        Illuminance on level ground [lux]. NaN stays NaN.

    Returns
    -------
    float or (...,) float64
        Altitude of the sun's centre [degree].

    Raises
    ------
    InputError
        If an illuminance is not positive or lies outside what the fit reaches, 0.000645 to 128,824 lux.

    Notes
    -----
    A factor of two in lux is about 0.6 degrees of altitude, some 4 minutes at middle latitudes; the real sky
    scatters by a factor of several about this clear-sky mean. Reference: see `illuminance_lx`.

    Examples
    --------
    >>> round(altitude_deg_for(3.43), 1)
    -6.0
    """
    lux = np.asarray(illuminance_lx, dtype=float)
    darkest, brightest = lux_range()
    # An array's powers differ from a number's in the last place on some processors.
    _refuse(lux, (lux < darkest * (1 - 1e-12)) | (lux > brightest * (1 + 1e-12)), "the illuminance has no solar altitude",
            f"lux from {darkest:.3g} (sun at {LOWEST_DEG:g} degrees) to {np.floor(brightest):,.0f} (sun overhead)",
            "give the level in lux at which light is needed, such as 20")
    altitude = np.full(lux.shape, np.nan)
    with np.errstate(invalid="ignore"):
        log_e = np.log10(lux)
    open_ = ~np.isnan(lux)
    for upper, lower, coefficients in _PIECES:
        # The highest altitude not brighter than asked lies in the first piece whose lower end is no brighter.
        here = open_ & (log_e >= _log10_lx(lower, coefficients))
        altitude[here] = _bisect(log_e[here], lower, upper, coefficients)
        open_ &= ~here
    return _like(lux, altitude)


def lux_range() -> tuple[float, float]:
    """Darkest and brightest illuminance that the fit reaches [lux]."""
    return illuminance_lx(LOWEST_DEG), illuminance_lx(HIGHEST_DEG)


def _log10_lx(altitude_deg, coefficients):
    l0, l1, l2, l3 = coefficients
    x = np.asarray(altitude_deg) / 90.0
    return l0 + x * (l1 + x * (l2 + x * l3))


def _bisect(log_e, lower, upper, coefficients):
    """Where a rising piece reaches log_e; its upper end if the piece ends below it (a gap at the join)."""
    low, high = np.full(log_e.shape, lower), np.full(log_e.shape, upper)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        darker = _log10_lx(middle, coefficients) <= log_e
        low = np.where(darker, middle, low)
        high = np.where(darker, high, middle)
    # Snap to the upper end, which the halvings can only approach: 90 degrees comes back as 90.
    return np.where(log_e >= _log10_lx(upper, coefficients), upper, low)


def _refuse(values, wrong, what, rule, next_step):
    if np.any(wrong):
        raise InputError(what, value=float(values[wrong].flat[0]), rule=rule, next_step=next_step)


def _like(argument, result):
    return float(result) if argument.ndim == 0 else result


def dark_threshold(kind: str, value) -> tuple[float, str]:
    """A dark threshold as the altitude of the sun's centre [degree] and in words.

    Parameters
    ----------
    kind : str
        One of `THRESHOLDS`, which is a key of [dark] and an option of the commands about one place.
    value : float or str
        What stands under that key.

    Raises
    ------
    InputError
        If the value is none of its kind.

    Examples
    --------
    >>> dark_threshold("altitude_deg", -4.0)
    (-4.0, 'sun 4 degrees below the horizon')
    """
    return THRESHOLDS[kind](value)


def _by_altitude(altitude_deg: float) -> tuple[float, str]:
    return altitude_deg, f"sun {abs(altitude_deg):g} degrees {_side(altitude_deg)} the horizon"


def _by_twilight(name: str) -> tuple[float, str]:
    names = ("sunset", "civil", "nautical")
    if name not in names:
        raise InputError("no such twilight", value=name, rule=f"one of {', '.join(names)}")
    altitude = TWILIGHT[name]
    words = "sunset and sunrise" if name == "sunset" else f"{name} twilight"
    return altitude, f"{words} (sun {abs(altitude):.4g} degrees below the horizon)"


def _by_illuminance(lux: float) -> tuple[float, str]:
    altitude = float(altitude_deg_for(lux))
    return altitude, (f"{lux:g} lx under a clear sky (sun {abs(altitude):.2f} degrees {_side(altitude)} the horizon; "
                      f"real skies differ by a factor of several)")


def _side(altitude_deg: float) -> str:
    return "below" if altitude_deg < 0 else "above"


#: What makes an altitude and its words of a value, by the kind of threshold.
THRESHOLDS: dict[str, Callable[[Any], tuple[float, str]]] = {"altitude_deg": _by_altitude, "twilight": _by_twilight, "illuminance_lx": _by_illuminance}
