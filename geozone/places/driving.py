"""The order in which a crew drives to sites: by area, then always on to the nearest."""

from __future__ import annotations

import numpy as np


def driving_order(lat_deg, lon_deg, area) -> np.ndarray:
    """Places of the sites in driving order.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
    area : (n,) array_like of str
        Areas are driven one after the other, always on to the one with the nearest site.

    Returns
    -------
    (n,) ndarray of int
        It starts at the northernmost site, of equal ones at the westernmost, and is not the shortest tour.

    Examples
    --------
    >>> driving_order([-35.0, -35.0, -35.0, -34.9], [140.0, 140.2, 140.1, 140.0], ["", "", "", ""]).tolist()
    [3, 0, 2, 1]
    """
    lat, lon = np.asarray(lat_deg, dtype=float), np.asarray(lon_deg, dtype=float)
    area = np.asarray(area, dtype=object)
    if not lat.size:
        return np.zeros(0, dtype=np.int64)
    middle = np.radians(lat.mean())
    # Differences from the first, so that the antimeridian parts nothing.
    x, y = ((lon - lon[0] + 180) % 360 - 180) * np.cos(middle), lat
    left = np.ones(lat.size, dtype=bool)
    here = int(np.lexsort((x, -y))[0])
    order = np.empty(lat.size, dtype=np.int64)
    for place in range(lat.size):
        order[place] = here
        left[here] = False
        open_to = np.flatnonzero(left & (area == area[here]))
        if not open_to.size:
            open_to = np.flatnonzero(left)
        if open_to.size:
            away = (x[open_to] - x[here]) ** 2 + (y[open_to] - y[here]) ** 2
            here = int(open_to[np.argmin(away)])
    return order
