"""Which latitude, sum and opposite offset on and off times at dusk and dawn leave open: least squares over all latitudes, and honest ranges.

A switching at dusk or dawn is off by what the keyed latitude changes there (opposite ways), by one sum S (longitude, zone, clock and equal
offsets are one number, for ever) and by an opposite offset O (a dark threshold looks like one).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import stats

from ..numbers.sun import switch_times

#: Latitudes that are tried [degree]; between them the profile is interpolated.
STEP_DEG = 0.5
LATITUDES = np.arange(-90.0, 90.0 + STEP_DEG / 2, STEP_DEG)
#: Share of right latitudes that the ranges are made to hold.
HELD = 0.999
#: Noise below this is not believed: a log in whole minutes says no more [minute].
LEAST_NOISE_MIN = 1.0
#: Switchings farther off the others, in standard deviations, are left out of a fit.
_FAR = 3.5
#: A switching on a night on which a latitude knows none counts as one so many standard deviations off.
_IMPOSSIBLE = 5.0
#: From the best node on, and how far aside a slope is taken [degree].
_STEPS, _ASIDE_DEG = 4, 0.01
#: Fewer switchings do not tell a latitude.
LEAST_SWITCHINGS = 14


@lru_cache(maxsize=8)
def _sun_of_all_latitudes(altitude_deg: float, lon_deg: float, year: int) -> np.ndarray:
    """(2, n_latitude, n_night) dusk and dawn [UTC minute]."""
    times = switch_times(lat_deg=LATITUDES, lon_deg=np.full(LATITUDES.size, lon_deg), year=year, altitude_deg=altitude_deg)
    return np.stack([times.dusk_utc_min, times.dawn_utc_min])


@dataclass(frozen=True, eq=False)
class LatitudeShapes:
    """What each latitude does to dusk and dawn.

    Attributes
    ----------
    base_utc_min : (2, n_night) float64
        Dusk and dawn without offsets that are planned [UTC minute].
    lon_deg, altitude_deg : float
        Keyed longitude and dark threshold [degree].
    year : int
    """

    base_utc_min: np.ndarray
    lon_deg: float
    altitude_deg: float
    year: int

    def table(self, nights: np.ndarray) -> np.ndarray:
        """(2, n_latitude, k) minutes by which dusk and dawn of `LATITUDES` differ from the base on some nights; NaN where there is none.

        The sun is taken two degrees of longitude at a time: a degree aside moves the shape by 0.02 minutes at 62 degrees.
        """
        near = float(2 * np.round(self.lon_deg / 2))
        return _sun_of_all_latitudes(self.altitude_deg, near, self.year)[:, :, nights] - 4.0 * (self.lon_deg - near) - self.base_utc_min[:, None, nights]

    def at(self, lat_deg: np.ndarray, nights: np.ndarray) -> np.ndarray:
        """(n, 2, k) the same at given latitudes."""
        times = switch_times(lat_deg=lat_deg, lon_deg=np.full(lat_deg.size, self.lon_deg), year=self.year, altitude_deg=self.altitude_deg)
        return np.stack([times.dusk_utc_min[:, nights], times.dawn_utc_min[:, nights]], axis=1) - self.base_utc_min[:, nights]


@dataclass(frozen=True, eq=False)
class LatitudeFit:
    """What is left open at n sites; NaN where there were too few switchings.

    Attributes
    ----------
    lat_deg : (n,) float64
        The latitude that fits best.
    least_deg, most_deg : (n, 2) float64
        Up to two ranges of latitude that fit, from south to north; NaN for none. They hold the right one in 99.9 %.
    sum_min, opposite_min : (n,) float64
        Same and opposite minutes off, positive is later at dusk.
    sum_se_min, opposite_se_min : (n,) float64
        Their standard errors, the latitude held.
    noise_min : (n,) float64
        Standard deviation of what is left.
    rss : (n,) float64
        Sum of squares that is left [minute squared].
    count : (n,) int64
        Switchings in the fit.
    kept : (n, 2, n_night) bool
        Which they are.
    left_min : (n, 2, n_night) float64
        What is left at every switching, in the fit or not.
    """

    lat_deg: np.ndarray
    least_deg: np.ndarray
    most_deg: np.ndarray
    sum_min: np.ndarray
    opposite_min: np.ndarray
    sum_se_min: np.ndarray
    opposite_se_min: np.ndarray
    noise_min: np.ndarray
    rss: np.ndarray
    count: np.ndarray
    kept: np.ndarray
    left_min: np.ndarray

    @property
    def within_half(self) -> np.ndarray:
        """(n,) bool: whether all latitudes that fit lie within half a degree of the best: only then it is one figure."""
        most = np.fmax(self.most_deg[:, 0], self.most_deg[:, 1])
        return (most - self.lat_deg <= 0.5) & (self.lat_deg - self.least_deg[:, 0] <= 0.5)


def latitude_fit(off_min: np.ndarray, shapes: LatitudeShapes, *, offsets_known: bool) -> LatitudeFit:
    """Latitude, sum and opposite offset of n sites from a season's or a year's switchings.

    Parameters
    ----------
    off_min : (n, 2, n_night) float64
        Dusk and dawn less what is planned; NaN where none was seen.
    shapes : LatitudeShapes
    offsets_known : bool
        True: the offsets are taken to be keyed as planned, so no opposite offset is left open.

    Notes
    -----
    Least squares; what is far off its neighbours, then off the fit, is left out. The ranges are where the sum of squares grows by no more
    than Student's t allows for what noise was found, a minute at least (the profile, not its curvature: that is too short).
    """
    nights = np.flatnonzero(np.isfinite(off_min).any(axis=(0, 1)))
    off, shape = off_min[:, :, nights], shapes.table(nights)
    enough = np.isfinite(off).sum(axis=(1, 2)) >= LEAST_SWITCHINGS
    kept = np.isfinite(off) & near_neighbours(off)
    for last in (False, True):
        profile, possible = _profile(off, kept, shape, offsets_known)
        lat = _refined(off, kept, shapes, nights, profile, offsets_known)
        left, mean, rss, count = _at(off, kept, shapes.at(lat, nights), offsets_known)
        if not last:
            spread = 1.4826 * _masked_median(np.abs(left), kept)
            kept = np.isfinite(left) & (np.abs(left) <= _FAR * np.maximum(spread, LEAST_NOISE_MIN)[:, None, None])
    freedom = np.maximum(count.sum(axis=1) - (2 if offsets_known else 3), 1)
    node = np.nanargmin(np.where(np.isfinite(profile), profile, np.inf), axis=1)
    least_rss = np.fmin(rss, profile[np.arange(lat.size), node])
    noise = np.sqrt(least_rss / freedom)
    believed = np.maximum(noise, LEAST_NOISE_MIN)
    least, most = _ranges(lat, profile, possible, least_rss, believed, stats.t.ppf((1 + HELD) / 2, freedom))
    n_dusk, n_dawn = count[:, 0], count[:, 1]
    both = (n_dusk > 0) & (n_dawn > 0)
    share = np.sqrt(1.0 / np.maximum(n_dusk, 1) + 1.0 / np.maximum(n_dawn, 1)) / 2
    sums = np.where(both, mean.sum(axis=1) / 2, np.where(n_dusk > 0, mean[:, 0], mean[:, 1]))
    opposite = np.where(both & (not offsets_known), (mean[:, 0] - mean[:, 1]) / 2, 0.0 if offsets_known else np.nan)
    se = believed * (1 / np.sqrt(np.maximum(count.sum(axis=1), 1)) if offsets_known else share)
    whole_kept = np.zeros(off_min.shape, dtype=bool)
    whole_kept[:, :, nights] = kept
    whole_left = np.full(off_min.shape, np.nan)
    # Where the latitude found knows no such night: beside the middle of the others, so that nothing that was seen is lost.
    middle = np.stack([_masked_median(off[:, [edge]], np.isfinite(off[:, [edge]])) for edge in (0, 1)], axis=1)[:, :, None]
    whole_left[:, :, nights] = np.where(np.isfinite(left), left, off - middle)
    useful = enough & (both | offsets_known)

    def only(values):
        return np.where(useful if values.ndim == 1 else useful[:, None], values, np.nan)

    return LatitudeFit(only(lat), only(least), only(most), only(sums), only(opposite), only(se), only(se if not offsets_known else np.zeros_like(se)),
                       only(noise), np.where(useful, least_rss, np.inf), count.sum(axis=1), whole_kept, whole_left)


def near_neighbours(off: np.ndarray) -> np.ndarray:
    """Whether each switching lies near those of the nights around it, whatever the season does: (n, 2, k) bool."""
    n, edges, k = off.shape
    flat = off.reshape(n * edges, k)
    seen = np.isfinite(flat)
    order = np.argsort(~seen, axis=1, kind="stable")
    packed = np.take_along_axis(flat, order, axis=1)
    count = seen.sum(axis=1)
    place = np.arange(k)[None, :]
    last = np.maximum(count - 1, 0)[:, None]
    around = np.stack([np.take_along_axis(packed, np.clip(place + step, 0, last), axis=1) for step in (-2, -1, 0, 1, 2)])
    beside_packed = packed - np.median(around, axis=0)
    beside = np.full_like(flat, np.nan)
    np.put_along_axis(beside, order, np.where(place <= last, beside_packed, np.nan), axis=1)
    beside[~seen] = np.nan
    beside = beside.reshape(off.shape)
    spread = 1.4826 * _masked_median(np.abs(beside), np.isfinite(beside))
    with np.errstate(invalid="ignore"):
        return np.abs(beside) <= np.maximum(6 * spread, 8.0)[:, None, None]


def _masked_median(values: np.ndarray, kept: np.ndarray) -> np.ndarray:
    """(n,) medians of what is kept; 0 where nothing is."""
    flat = np.where(kept, values, np.inf).reshape(values.shape[0], -1)
    count = kept.reshape(kept.shape[0], -1).sum(axis=1)
    middle = np.sort(flat, axis=1)[np.arange(flat.shape[0]), np.maximum(count - 1, 0) // 2] if flat.shape[1] else np.zeros(flat.shape[0])
    return np.where(count > 0, middle, 0.0)


def _sums(off, kept, shape, edge):
    """Sums over the nights of one edge for every site and latitude: count, first and second powers of what is left, and impossible ones."""
    weight = kept[:, edge].astype(float)
    y = np.where(kept[:, edge], off[:, edge], 0.0)
    there = np.isfinite(shape[edge])
    full = there.all(axis=1)
    d = np.where(there, shape[edge], 0.0)
    count = np.broadcast_to(weight.sum(axis=1)[:, None], (y.shape[0], d.shape[0])).copy()
    first_y = np.broadcast_to(y.sum(axis=1)[:, None], count.shape).copy()
    second_y = np.broadcast_to((y * y).sum(axis=1)[:, None], count.shape).copy()
    if not full.all():
        some = there[~full].T.astype(float)
        count[:, ~full], first_y[:, ~full], second_y[:, ~full] = weight @ some, y @ some, (y * y) @ some
    first = first_y - weight @ d.T
    second = second_y - 2 * (y @ d.T) + weight @ (d * d).T
    return count, first, second, weight.sum(axis=1)[:, None] - count


def _profile(off, kept, shape, offsets_known) -> tuple[np.ndarray, np.ndarray]:
    """(n, n_latitude) least sum of squares at each latitude, and whether it knows a dusk or dawn wherever one was seen."""
    dusk, dawn = (_sums(off, kept, shape, edge) for edge in (0, 1))
    second, impossible = dusk[2] + dawn[2], dusk[3] + dawn[3]
    with np.errstate(divide="ignore", invalid="ignore"):
        if offsets_known:
            count, first = dusk[0] + dawn[0], dusk[1] + dawn[1]
            rss = second - np.where(count > 0, first * first / count, 0.0)
        else:
            rss = second - sum(np.where(count > 0, first * first / count, 0.0) for count, first, _, _ in (dusk, dawn))
        count = dusk[0] + dawn[0]
    scale = np.sqrt(np.maximum(np.where(impossible == 0, rss, np.inf).min(axis=1, initial=np.inf), 0) / np.maximum(count.max(axis=1) - 3, 1))
    scale = np.clip(np.where(np.isfinite(scale), scale, 2.0), LEAST_NOISE_MIN, 30.0)
    rss = np.maximum(rss, 0.0) + impossible * (_IMPOSSIBLE * scale[:, None]) ** 2
    return np.where(count > 0, rss, np.inf), impossible == 0


def _centred(values, kept, offsets_known):
    """Values less their mean, of both edges together or of each; and these means (n, 2)."""
    count = kept.sum(axis=2)
    sums = np.where(kept, values, 0.0).sum(axis=2)
    if offsets_known:
        mean = np.repeat((sums.sum(axis=1) / np.maximum(count.sum(axis=1), 1))[:, None], 2, axis=1)
    else:
        mean = sums / np.maximum(count, 1)
    return values - mean[:, :, None], mean


def _refined(off, kept, shapes, nights, profile, offsets_known) -> np.ndarray:
    """(n,) the best latitude between the nodes, by steps of Gauss and Newton from the best node."""
    start = LATITUDES[np.argmin(profile, axis=1)]
    lat = start.copy()
    for _ in range(_STEPS):
        value = shapes.at(lat, nights)
        # Towards the equator, where there is a dusk if there is one here.
        slope = (value - shapes.at(lat - np.sign(lat) * _ASIDE_DEG, nights)) / (np.sign(lat) * _ASIDE_DEG + (lat == 0))[:, None, None]
        mine = kept & np.isfinite(value) & np.isfinite(slope)
        left, _ = _centred(np.where(mine, off - value, 0.0), mine, offsets_known)
        turn, _ = _centred(np.where(mine, slope, 0.0), mine, offsets_known)
        above = np.where(mine, left * turn, 0.0).sum(axis=(1, 2))
        below = np.where(mine, turn * turn, 0.0).sum(axis=(1, 2))
        step = np.where(below > 0, above / np.maximum(below, 1e-12), 0.0)
        lat = np.clip(lat + step, np.maximum(start - STEP_DEG, -90.0), np.minimum(start + STEP_DEG, 90.0))
    return lat


def _at(off, kept, value, offsets_known):
    """What is left beside given shapes, means of the edges, sum of squares (infinite where the sun knows no such night), counts."""
    mine = kept & np.isfinite(value)
    left, mean = _centred(off - value, mine, offsets_known)
    rss = np.where(mine, left * left, 0.0).sum(axis=(1, 2))
    rss = np.where((kept & ~np.isfinite(value)).any(axis=(1, 2)), np.inf, rss)
    return left, mean, rss, kept.sum(axis=2)


def _ranges(lat, profile, possible, least_rss, noise, limit) -> tuple[np.ndarray, np.ndarray]:
    """(n, 2) ends of up to two ranges in which the profile stays within the limit, both in standard deviations."""
    n = lat.size
    lowest = profile.copy()
    inner = profile[:, 1:-1]
    left, right = profile[:, :-2], profile[:, 2:]
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = left - 2 * inner + right
        valley = (inner <= left) & (inner <= right) & (bend > 0) & possible[:, 1:-1] & possible[:, :-2] & possible[:, 2:]
        vertex = inner - np.where(valley, (right - left) ** 2 / (8 * bend), 0.0)
        # A minimum between two nodes may be deeper than both.
        lowest[:, 1:-1] = np.where(np.isfinite(vertex), vertex, inner)
        root = np.sqrt(np.maximum(lowest - least_rss[:, None], 0.0)) / noise[:, None]
    at = np.concatenate([np.broadcast_to(LATITUDES, (n, LATITUDES.size)), lat[:, None]], axis=1)
    root = np.concatenate([root, np.zeros((n, 1))], axis=1)
    order = np.argsort(at, axis=1, kind="stable")
    at, root = np.take_along_axis(at, order, axis=1), np.take_along_axis(root, order, axis=1)
    inside = root <= limit[:, None]
    before = np.concatenate([np.zeros((n, 1), dtype=bool), inside[:, :-1]], axis=1)
    after = np.concatenate([inside[:, 1:], np.zeros((n, 1), dtype=bool)], axis=1)
    least, most = np.full((n, 2), np.nan), np.full((n, 2), np.nan)
    for ends, marks, step in ((least, inside & ~before, -1), (most, inside & ~after, 1)):
        row, place = np.nonzero(marks)
        beyond = np.clip(place + step, 0, at.shape[1] - 1)
        rise = root[row, beyond] - root[row, place]
        share = np.where((beyond != place) & np.isfinite(rise) & (rise > 0), (limit[row] - root[row, place]) / np.where(rise > 0, rise, 1.0), 0.0)
        share = np.where((beyond != place) & ~np.isfinite(rise), 1.0, share)
        end = at[row, place] + share * (at[row, beyond] - at[row, place])
        number = np.concatenate([np.arange(c) for c in np.bincount(row, minlength=n)]) if row.size else row
        # More than two ranges: the last two ends stretch over the rest.
        ends[row[number < 2], number[number < 2]] = end[number < 2]
        if step == 1:
            ends[row[number >= 2], 1] = end[number >= 2]
    return least, most
