"""Where to go first: sites by unlit hours, then by waste, put together in days of work that lie near each other."""

from __future__ import annotations

import numpy as np

from ..places.driving import driving_order

#: Stops that a crew makes in a day. Common practice, no source.
STOPS_A_DAY = 12


def ranked(dark_h, waste) -> np.ndarray:
    """Places of sites in the order of harm: most unlit hours first, then most waste; what is not known comes last, equal ones as listed.

    Parameters
    ----------
    dark_h, waste : (n,) array_like
        NaN where it is not known.

    Examples
    --------
    >>> ranked([1.0, np.nan, 5.0, 1.0], [2.0, 0.0, 0.0, 3.0]).tolist()
    [2, 3, 0, 1]
    """
    dark, waste = (np.nan_to_num(np.asarray(one, dtype=float), nan=-1.0) for one in (dark_h, waste))
    # To the minute: what is equal on paper must not be ordered by the last bits of a sum.
    return np.lexsort((np.arange(dark.size), -np.round(waste, 1), -np.round(dark * 60)))


def days_of_work(lat_deg, lon_deg, rank, stops: int = STOPS_A_DAY) -> tuple[np.ndarray, np.ndarray]:
    """Which day each site is visited, and which stop of that day it is, both from 1.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
    rank : (n,) array_like of int
        Each site's place in the order of harm, from 0.
    stops : int
        The most of a day.

    Returns
    -------
    day, stop : (n,) ndarray of int

    Notes
    -----
    A day begins with the worst site that has none, and takes the nearest others that are left, the worse of equally near ones.
    Within the day the order is that of `driving_order`. It is no shortest tour, and roads are not known.

    Examples
    --------
    >>> days_of_work([0.0, 0.0, 0.0], [0.0, 5.0, 0.1], [1, 0, 2], stops=2)[0].tolist()
    [2, 1, 1]
    """
    lat, lon = np.asarray(lat_deg, dtype=float), np.asarray(lon_deg, dtype=float)
    order = np.argsort(np.asarray(rank))
    day, stop = np.zeros(lat.size, dtype=np.int64), np.zeros(lat.size, dtype=np.int64)
    left = order.copy()
    number = 0
    while left.size:
        number += 1
        first = left[0]
        east = ((lon[left] - lon[first] + 180) % 360 - 180) * np.cos(np.radians(lat[first]))
        near = np.argsort((lat[left] - lat[first]) ** 2 + east ** 2, kind="stable")[:stops]
        mine = left[near]
        day[mine] = number
        stop[mine[driving_order(lat[mine], lon[mine], np.full(mine.size, ""))]] = np.arange(1, mine.size + 1)
        left = np.delete(left, near)
    return day, stop
