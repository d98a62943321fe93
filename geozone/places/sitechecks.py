"""What is wrong with a position: outside the globe, at (0, 0), or with latitude and longitude exchanged."""

from __future__ import annotations

import numpy as np

#: Fewer sites than this do not say where a list "sits".
FEWEST_FOR_HOME = 5
#: A list spread wider than this [degree] has no home that a stray row could be foreign to.
WIDEST_HOME_DEG = 30.0
#: Grown around the home on each side [degree]: a service area reaches beyond its middle four fifths.
HOME_MARGIN_DEG = 2.0


def position_faults(lat_deg: np.ndarray, lon_deg: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Why a position in degrees cannot be used, and where a changed sign would mend a stray one.

    Parameters
    ----------
    lat_deg, lon_deg : ndarray of float64, shape (n,)
        As read [degree]; NaN is not judged here.

    Returns
    -------
    reason : ndarray of object, shape (n,)
        "" for a position that can be used.
    sign_slip : ndarray of bool, shape (n,)
        Usable, but far from the others, and among them with a sign changed: worth a question, no proof.
    """
    reason = np.full(len(lat_deg), "", dtype=object)

    def mark(where: np.ndarray, text: str) -> None:
        reason[where & (reason == "")] = text

    given = ~(np.isnan(lat_deg) | np.isnan(lon_deg))
    lat_out, lon_out = given & (np.abs(lat_deg) > 90), given & (np.abs(lon_deg) > 180)
    mark(given & (lat_deg == 0) & (lon_deg == 0), "position 0, 0: a placeholder, not a place")
    swapped = lat_out & (np.abs(lat_deg) <= 180) & (np.abs(lon_deg) <= 90)
    mark(swapped, "latitude outside -90..90; latitude and longitude look exchanged")
    mark(lat_out, "latitude outside -90..90")
    mark(lon_out & (lon_deg > 180) & (lon_deg <= 360),
         "longitude outside -180..180; count west of Greenwich as negative")
    mark(lon_out, "longitude outside -180..180")
    slip = np.zeros(len(lat_deg), dtype=bool)
    home = _home(lat_deg[given & (reason == "")], lon_deg[given & (reason == "")])
    if home is None:
        return reason, slip
    stray = given & (reason == "") & ~_inside(home, lat_deg, lon_deg)
    exchanged = stray & _inside(home, lon_deg, lat_deg)
    mark(exchanged, "latitude and longitude look exchanged: exchanged, the site lies among the others")
    for lat_sign, lon_sign in ((-1, 1), (1, -1), (-1, -1)):
        slip |= stray & ~exchanged & _inside(home, lat_sign * lat_deg, lon_sign * lon_deg)
    return reason, slip


def _home(lat: np.ndarray, lon: np.ndarray) -> tuple[float, float, float, float] | None:
    """South, north, west, east of where the list sits: the middle four fifths and a margin; None if nowhere.

    Longitude is counted from the circular mean, so that a list across the antimeridian is one place.
    """
    if len(lat) < FEWEST_FOR_HOME:
        return None
    middle = np.angle(np.mean(np.exp(1j * np.radians(lon))), deg=True)
    # the median, not the mean, is what a few strays cannot move
    middle += np.median(_around(lon, middle) - middle)
    turned = _around(lon, middle)
    south, north = np.quantile(lat, [0.1, 0.9])
    west, east = np.quantile(turned, [0.1, 0.9])
    if max(north - south, east - west) > WIDEST_HOME_DEG:
        return None
    grow_lat = HOME_MARGIN_DEG + (north - south) / 2
    grow_lon = HOME_MARGIN_DEG + (east - west) / 2
    return south - grow_lat, north + grow_lat, west - grow_lon, east + grow_lon


def _around(lon: np.ndarray, middle: float) -> np.ndarray:
    return middle + (lon - middle + 180) % 360 - 180


def _inside(home: tuple[float, float, float, float], lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    south, north, west, east = home
    turned = _around(lon, (west + east) / 2)
    with np.errstate(invalid="ignore"):
        return (lat >= south) & (lat <= north) & (turned >= west) & (turned <= east)
