"""Sums over the nights of logs, for every site and every way of holding a setting at once, and what is allowed to a right switch."""

from __future__ import annotations

import numpy as np

from ..numbers.civil import MIN_PER_DAY
from ..trade.readings import wrapped
from .latitudes import near_neighbours

#: A switching on a night on which a slip knows none counts as one so many standard deviations off.
_IMPOSSIBLE = 5.0
#: What is off by more may be carried out on a neighbouring date [minute].
GROSS_MIN = 150.0
#: More than half a day's half from the planned time, minutes off are counted from half a day.
_FAR_MIN = 360.0
#: Noise below this is not believed, and the noise that impossible nights are counted by [minute].
LEAST_SCALE_MIN, IMPOSSIBLE_SCALE_MIN = 1.0, 2.0


def edge_sums(off, kept, moves, centre, give=None) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """(n, k) each: switchings that count, the mean that is left, the sum of squares about it, and those of nights on which a way knows none.

    Parameters
    ----------
    off, kept : (n, n_night)
    moves : (k, n_night)
    centre : (n,) float64
        Near half a day, minutes off are counted from there, so that none lies beside the end of the scale.
    give : (n_night,) float64, optional
        Minutes by which each night may be off all the same at sites whose centre is more than `GROSS_MIN` off: a time of the day that is hours off may be
        carried out on the date before or after.
    """
    found = [np.zeros((off.shape[0], moves.shape[0])) for _ in range(4)]
    gross = np.abs(centre) > (GROSS_MIN if give is not None else np.inf)
    for i in np.flatnonzero(gross):
        for made, value in zip(found, _gross_sums(off[i][kept[i]], moves[:, kept[i]], give[kept[i]]), strict=True):
            made[i] = value
    for far in (False, True):
        mine = np.flatnonzero(((np.abs(centre) > _FAR_MIN) == far) & ~gross)
        if not mine.size:
            continue
        middle = MIN_PER_DAY / 2 if far else 0.0
        weight = kept[mine].astype(float)
        y = np.where(kept[mine], middle + wrapped(np.where(kept[mine], off[mine], 0.0) - middle), 0.0)
        there = np.isfinite(moves)
        d = np.where(there, middle + wrapped(np.where(there, moves, 0.0) - middle), 0.0)
        some = there.T.astype(float)
        count = weight @ some
        first = y @ some - weight @ d.T
        second = (y * y) @ some - 2 * (y @ d.T) + weight @ (d * d).T
        mean = first / np.maximum(count, 1)
        for made, value in zip(found, (count, mean, np.maximum(second - count * mean ** 2, 0.0), weight.sum(axis=1)[:, None] - count), strict=True):
            made[mine] = value
    count, mean, square, none = found
    return count, mean, square, none


def _gross_sums(off, moves, give):
    """The same of one site, night by night."""
    there = np.isfinite(moves)
    count = there.sum(axis=1)
    turn = 2 * np.pi / MIN_PER_DAY
    beside = np.where(there, off - np.where(there, moves, 0.0), 0.0) * turn
    middle = np.arctan2(np.where(there, np.sin(beside), 0.0).sum(axis=1), np.where(there, np.cos(beside), 0.0).sum(axis=1)) / turn
    middle = np.where(middle < -600.0, middle + MIN_PER_DAY, middle)
    left = wrapped(beside / turn - middle[:, None])
    beyond = np.where(there, np.sign(left) * np.maximum(np.abs(left) - give, 0.0), 0.0)
    return count, middle, (beyond ** 2).sum(axis=1), off.size - count


def nearest(sums, same_min, own_min: float, opposite_free: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """(n, k) sums of squares after the best error of the clock within a limit and the best errors of the own sun at dusk and at dawn; and that of the clock.

    Parameters
    ----------
    sums : pair of `edge_sums`
        Of dusk and dawn.
    same_min : float or (n, k) float64
        Limit of the clock's; may be infinite.
    own_min : float
        Limit of the own sun's, at each edge.
    opposite_free : bool
        True: opposite minutes of any size cost nothing either.
    """
    (n1, u1, w1, none1), (n2, u2, w2, none2) = sums
    half = np.zeros_like(u1)
    if opposite_free:
        # The same minutes alone are left: half of what both edges differ goes to either.
        half = np.where((n1 > 0) & (n2 > 0), (u1 - u2) / 2, 0.0)
    a, b = u1 - half, u2 + half
    same, total = np.zeros_like(a), np.maximum(n1 + n2, 1)
    for _ in range(12):
        left = n1 * (a - np.clip(a - same, -own_min, own_min)) + n2 * (b - np.clip(b - same, -own_min, own_min))
        same = np.clip(left / total, -same_min, same_min)
    square = w1 + w2 + n1 * np.maximum(np.abs(a - same) - own_min, 0.0) ** 2 + n2 * np.maximum(np.abs(b - same) - own_min, 0.0) ** 2
    return square + (none1 + none2) * (_IMPOSSIBLE * IMPOSSIBLE_SCALE_MIN) ** 2, same


def nearest_square(sums, same_min, own_min: float, opposite_free: bool = False) -> np.ndarray:
    """The first of `nearest`."""
    return nearest(sums, same_min, own_min, opposite_free)[0]


def near_middle(values: np.ndarray) -> np.ndarray:
    """Which clock times lie within two hours of the row's middle and near those before and after: the others are mistakes of the log."""
    if not values.size:
        return np.zeros(values.shape, dtype=bool)
    with np.errstate(invalid="ignore"):
        return (np.abs(values - row_middles(values)[:, None]) <= 120.0) & near_neighbours(values[:, None, :])[:, 0]


def row_middles(values: np.ndarray) -> np.ndarray:
    """(n,) medians of what is known; 0 where nothing is."""
    return np.array([np.median(row[np.isfinite(row)]) if np.isfinite(row).any() else 0.0 for row in values])
