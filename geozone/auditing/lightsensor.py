"""Lamps on a light sensor: on early and off late under cloud, so their times scatter with the weather and follow no setting.

A sensor is told from a switch by times that stray to the side of the longer night more than a switch's do. A switch that is made to scatter for security
strays as well; only neighbours that stray on the same evenings tell the two apart.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.stats import norm

#: A switch's times in a log stray by no more than this about the sun's: the log's own clock, its interval, the switch's seconds
#: [minute, standard deviation]. Common practice, no source.
SWITCH_NOISE_MIN = 2.0
#: Fewer nights do not tell a sensor; fewer in common do not tell whether neighbours stray together.
LEAST_NIGHTS, LEAST_COMMON_NIGHTS = 12, 30
#: Natural logarithm of how much better a straying one must explain the times: found by trial so that of switches 1 in 100 or fewer go over it.
STRAYS = 4.0
#: Neighbours that stray together do so with at least this correlation. Switches made to scatter stay below 0.32 in 99 of 100 pairs of 30 nights, sensors
#: under one sky lie near 0.7 (trials with an invented sky).
TOGETHER = 0.35
#: How far apart one sky still is one [kilometre]. Common practice, no source.
SAME_SKY_KM = 25.0
_MOST_NEIGHBOURS = 5
#: Times farther off than this are mistakes of the log and tell nothing [minute].
_MOST_MIN = 90.0
_BIN_MIN = 0.5
_EDGES = np.arange(-_MOST_MIN, _MOST_MIN + _BIN_MIN / 2, _BIN_MIN)
#: Share of times that are wrong in any way, under either explanation.
_ODD = 0.02


@lru_cache(maxsize=32)
def _explanations(noise_min: float) -> tuple[np.ndarray, np.ndarray]:
    """Logarithms of the share of each bin under every switch and under every straying one that is tried: (bins, switches), (bins, strays)."""
    def shares(middle, noise, reach=0.0):
        if reach == 0.0:
            return np.diff(norm.cdf((_EDGES - middle) / noise))
        # A uniform reach to one side, blurred by the noise: the integral of the normal's distribution function.
        def below(x):
            z = x / noise
            return noise * (z * norm.cdf(z) + norm.pdf(z))
        return np.diff((below(_EDGES - middle) - below(_EDGES - middle - reach)) / reach)

    odd = _ODD / (_EDGES.size - 1)
    # Close together: in a year's times a switch between two of these would look like neither.
    narrower = noise_min * np.geomspace(0.25, 1.0, 18)
    switches = [np.log((1 - _ODD) * shares(middle, noise) + odd) for noise in narrower for middle in np.arange(-2.0, 2.1, 0.25)]
    strays = [np.log((1 - _ODD) * ((1 - part) * shares(middle, noise) + part * shares(middle, noise, reach)) + odd) for noise in narrower[[5, 9, 13, 17]]
              for middle in np.arange(-20.0, 2.1, 1.0) for reach in (5.0, 10.0, 20.0, 35.0, 60.0) for part in (0.1, 0.2, 0.35, 0.55, 0.75, 0.95)]
    return np.stack(switches, axis=1), np.stack(strays, axis=1)


def lengthening(left_min: np.ndarray) -> np.ndarray:
    """(n, 2, n_night) what is left beside the best fit, positive where the lit time is longer: on early, off late."""
    return left_min * np.array([-1.0, 1.0])[:, None]


def step_of(minutes: np.ndarray) -> float:
    """Length of a log's own steps [minute]: a meter that writes down quarters of an hour has 15; 0 where it is a few minutes or none.

    Parameters
    ----------
    minutes : (m,) ndarray of float64
        Its times, from any midnight.

    Examples
    --------
    >>> step_of(np.array([15.0, 30.0, 45.0, 1080.0])), step_of(np.array([15.0, 16.5])), step_of(np.array([6.0, 8.0]))
    (15.0, 0.0, 0.0)
    """
    whole = np.rint(minutes).astype(np.int64)
    if not whole.size or np.abs(minutes - whole).max() > 1e-6:
        return 0.0
    step = int(np.gcd.reduce(whole))
    # A few times that all happen to be even say nothing of a step.
    return float(step) if step in (5, 10, 15, 20, 30, 60) else 0.0


def straying(left_min: np.ndarray, noise_min: float = SWITCH_NOISE_MIN) -> np.ndarray:
    """How much better times that stray explain what is left than a switch does.

    Parameters
    ----------
    left_min : (n, 2, n_night) float64
        Beside the best fit of latitude, sum and opposite offset; NaN where none was seen.
    noise_min : float
        The most that a switch's times stray in this log [minute, standard deviation].

    Returns
    -------
    (n,) float64
        Natural logarithm of the ratio of the best likelihoods: above `STRAYS` it is no switch. NaN with fewer than `LEAST_NIGHTS` nights.
    """
    longer = lengthening(left_min)
    row, edge, night = np.nonzero(np.abs(longer) < _MOST_MIN)
    place = np.clip(((longer[row, edge, night] + _MOST_MIN) / _BIN_MIN).astype(int), 0, _EDGES.size - 2)
    counts = np.zeros((longer.shape[0], _EDGES.size - 1))
    np.add.at(counts, (row, place), 1.0)
    switches, strays = _explanations(round(float(noise_min), 2))
    found = (counts @ strays).max(axis=1) - (counts @ switches).max(axis=1)
    nights = np.isfinite(left_min).any(axis=1).sum(axis=1)
    return np.where(nights >= LEAST_NIGHTS, found, np.nan)


def under_one_sky(left_min: np.ndarray, lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
    """Which of the sites that stray do so together with their neighbours, as under one sky.

    Parameters
    ----------
    left_min : (n, 2, n_night) float64
        Of sites that stray.
    lat_deg, lon_deg : (n,) float64 [degree]

    Returns
    -------
    (n,) bool
        False also where there is no neighbour within `SAME_SKY_KM` with `LEAST_COMMON_NIGHTS` nights in common: then nothing tells.
    """
    n = lat_deg.size
    longer = np.where(np.abs(lengthening(left_min)) < _MOST_MIN, lengthening(left_min), np.nan).reshape(n, -1)
    together = np.zeros(n, dtype=bool)
    for i in range(n):
        east = (lon_deg - lon_deg[i] + 180) % 360 - 180
        away = 111.2 * np.hypot(lat_deg - lat_deg[i], east * np.cos(np.radians(lat_deg[i])))
        away[i] = np.inf
        near = np.argsort(away, kind="stable")[:_MOST_NEIGHBOURS]
        near = near[away[near] <= SAME_SKY_KM]
        # One neighbour may be of another kind: the nearest alone, and all together.
        for some in {tuple(near[:1].tolist()), tuple(near.tolist())} - {()}:
            seen = np.isfinite(longer[list(some)])
            others = np.where(seen, longer[list(some)], 0.0).sum(axis=0) / np.maximum(seen.sum(axis=0), 1)
            both = np.isfinite(longer[i]) & seen.any(axis=0)
            if both.sum() >= 1.5 * LEAST_COMMON_NIGHTS and np.std(longer[i][both]) > 0 and np.std(others[both]) > 0:
                together[i] |= bool(np.corrcoef(longer[i][both], others[both])[0, 1] >= TOGETHER)
    return together
