"""Settings for ground laid out in rows: where the fewest zones of wide plain ground lie, they are diamonds.

With u = 4 minutes a degree of longitude west and g(lat) the integral over latitude of the most by which half a night changes per degree on
any night of the year, a setting serves what lies within (dark + excess) / 2 of its middle in u + g as well as in u - g: a square in these two.
Rows of such squares cover the ground; where the rows begin, and which of the two they follow, is tried.
"""

from __future__ import annotations

import time

import numpy as np

from ..grouping.allowedshifts import AllowedShifts
from ..grouping.keyedcovers import best_setting
from ..numbers.crossing import CROSSES
from ..numbers.sun import switch_times
from ..trade.basis import Basis
from ..trade.setting import Setting

# What the sides are shortened by for the keypad's steps and the curvature of g [minute], where rows may begin, and how many layouts are kept.
_SHORTER_MIN, _BEGINNINGS, _KEPT = (0.7, 0.5, 0.9, 0.3, 1.1), 40, 4
# Each setting takes time to be found and again to be tried on all cells: no layout is begun after so many.
_ENOUGH = 300
_STEP_DEG = 0.05
_MIN_PER_DEG = 4.0


def diamond_layouts(shifts: AllowedShifts, of: np.ndarray, legal_zone: str, basis: Basis, ends: float) -> list[list[Setting]]:
    """Settings of the layouts with the fewest squares, layout by layout.

    Parameters
    ----------
    shifts : AllowedShifts
        Points, a row each.
    of : (n,) array of int
        Rows that are to be served.
    legal_zone : str
    basis : Basis
    ends : float
        Nothing is begun after this moment of `time.monotonic` [second].

    Returns
    -------
    list of list of Setting
        The last may be unfinished where time is over. Empty where the sun does not cross the threshold on every night.
    """
    lat, lon = shifts.lat_deg[of], shifts.lon_deg[of]
    if not of.size:
        return []
    g = _summed_change(lat, basis)
    if g is None:
        return []
    u = -_MIN_PER_DEG * lon
    found: list[list[Setting]] = []
    for square in _layouts(u + g, u - g, basis.tolerance.dark_min + basis.tolerance.excess_min):
        if sum(map(len, found)) >= _ENOUGH:
            break
        layout: dict[Setting, None] = {}
        order = np.argsort(square, kind="stable")
        for rows in np.split(order, np.flatnonzero(np.diff(square[order])) + 1):
            if time.monotonic() > ends:
                return [*found, list(layout)] if layout else found
            best = best_setting(shifts, np.sort(of[rows]), legal_zone)
            if best is not None and best[0] is not None:
                layout[best[0]] = None
        found.append(list(layout))
    return found


def _layouts(one: np.ndarray, other: np.ndarray, longest: float) -> list[np.ndarray]:
    """The layouts with the fewest squares: the best of each length of side, then the second best."""
    found = []
    for side in (longest - shorter for shorter in _SHORTER_MIN if longest > shorter):
        tried = [_rows_of_squares(across, along, side, begin / _BEGINNINGS)
                 for across, along in ((one, other), (other, one)) for begin in range(_BEGINNINGS)]
        found.append(sorted(tried, key=lambda square: square.max())[:_KEPT])
    return [kept[at] for at in range(_KEPT) for kept in found]


def squares_needed(lat_deg: np.ndarray, lon_deg: np.ndarray, basis: Basis) -> int:
    """About how many zones a ground takes, from points of it; 0 where the sun does not cross the threshold on every night."""
    g = _summed_change(lat_deg, basis)
    if g is None:
        return 0
    u = -_MIN_PER_DEG * lon_deg
    side = basis.tolerance.dark_min + basis.tolerance.excess_min
    return min(int(_rows_of_squares(u + g, u - g, side, begin / 4).max()) + 1 for begin in range(4))


def _summed_change(lat_deg: np.ndarray, basis: Basis) -> np.ndarray | None:
    """g at each latitude [minute]; None where the sun does not cross on every night."""
    at = np.arange(lat_deg.min() - _STEP_DEG, lat_deg.max() + 2 * _STEP_DEG, _STEP_DEG)
    times = switch_times(lat_deg=at, lon_deg=np.zeros(at.size), year=basis.year, altitude_deg=basis.altitude_deg)
    if (times.state != CROSSES).any():
        return None
    half = 0.5 * (times.dawn_utc_min - times.dusk_utc_min)
    return np.interp(lat_deg, at, np.concatenate([[0.0], np.cumsum(np.abs(np.diff(half, axis=0)).max(axis=1))]))


def _rows_of_squares(across: np.ndarray, along: np.ndarray, side: float, begin: float) -> np.ndarray:
    """(n,) int64: the square of each point, in rows of width `side`, in each the fewest."""
    row = np.floor((across - across.min()) / side + begin).astype(np.int64)
    square, number = np.empty(len(row), np.int64), 0
    for one in np.unique(row):
        mine = np.flatnonzero(row == one)
        order = mine[np.argsort(along[mine], kind="stable")]
        first = along[order[0]]
        for point in order:
            if along[point] > first + side:
                first, number = along[point], number + 1
            square[point] = number
        number += 1
    return square
