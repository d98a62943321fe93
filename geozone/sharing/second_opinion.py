"""The same switching times once more, by a library that shares no line of code with geozone.

astral follows Meeus' low-precision sun. Its `time_at_elevation` answers for one event on one date, but:

- with a UTC date the event can come from the night before or after (dusk precedes dawn in the Americas), so the
  date is never trusted: the dates around the night are tried and the nearest event is taken;
- its `dusk` and `dawn` add refraction even far below the horizon, 13 to 30 s, so geometric altitudes are asked
  for with `with_refraction=False`;
- now and then it misses an event within seconds of midnight UTC on all dates; then its own altitude of the sun is
  searched between the noon and the midnight of the night;
- near white nights it finds no event, or one that is minutes off, because two passes are not enough where the sun
  only grazes the threshold. The table says how fast the sun crosses, so that a reader can tell.

Differences seen over the world: seven years from 1990 to 2045, thresholds -0.8333, -4, -6 and -12 degrees, 185,000
events. "Steady" leaves out events that cross slower than 0.1 degrees a minute, which are the times near white nights
and in polar places.

| latitude, either side | median [s] | 99 of 100 below [s] | largest, steady [s] | largest of all |
|---|---|---|---|---|
| 0 to 40 | 1.0 | 4 | 4.2 | 4 s |
| 40 to 55 | 1.2 | 4 | 4.9 | 30 s |
| 55 to 60 | 1.5 | 5 | 5.2 | 40 s |
| 60 to 66 | 1.7 | 9 | 5.4 | half an hour at a graze |
| 66 to 75 | 2.2 | 17 | 4.9 | half an hour at a graze |
| 75 to 90 | 4.6 | 160 | none is steady | an hour at a graze |

In altitude the two suns differed by at most 0.018 degrees up to latitude 75 (0.05 beyond): the large times are low
precision multiplied where the sun hardly rises or sinks. Against DE421 geozone's own altitudes are within 0.0002
degrees (tests/reference/test_skyfield.py).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd
from astral import Observer, SunDirection
from astral.sun import elevation, time_at_elevation

from ..numbers.sun import switch_times
from ..trade.basis import Basis

# The sun crosses a threshold once a night each way, so consecutive dusks lie about 1,440 minutes apart. An event
# more than half a day off belongs to another night; anything nearer is a real difference and is shown.
_SAME_NIGHT_MIN = 720.0
# Site-nights of a run that are computed once more.
_OPINION_SIZE = 200

STEADY_DEG_PER_MIN = 0.1
"""Where the sun crosses slower than this [degree per minute], a tiny difference in altitude is a large one in time."""


@dataclass(frozen=True)
class SecondOpinion:
    """How far astral's times lie from ours.

    Attributes
    ----------
    compared : int
        Events that both computed.
    largest_s, mean_s : float
        Largest and mean absolute difference of these [second]; NaN if there are none.
    unmatched : int
        Events of ours for which astral found nothing within half a day: grazes that its sun just misses.
    surplus : int
        Nights on which we say that the sun does not cross and astral has a crossing between the two noons.
    largest_steady_s : float
        Largest difference where the sun crosses faster than `STEADY_DEG_PER_MIN` [second]; NaN if there are none.
    table : DataFrame
        A row an event: lat_deg, lon_deg, night, edge ("dusk" | "dawn"), utc_min (ours), astral_utc_min,
        difference_s (astral minus ours), crossing_deg_per_min, altitude_off_deg (astral's altitude at our instant
        less the threshold). NaN where a side has no event.
    """

    compared: int
    largest_s: float
    mean_s: float
    unmatched: int
    surplus: int
    largest_steady_s: float
    table: pd.DataFrame


def sample(n_site: int, n_night: int, size: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """A random choice of (site, night) pairs without repetition; the same arguments give the same pairs.

    Parameters
    ----------
    n_site, n_night : int
    size : int
        How many pairs are wanted; all of them if there are fewer.
    seed : int

    Returns
    -------
    site, night : (m,) int64
        In ascending order of site, then night.
    """
    n_pair = n_site * n_night
    if n_pair == 0 or size <= 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    chosen = (np.arange(n_pair) if size >= n_pair
              else np.sort(np.random.default_rng(seed).choice(n_pair, size=size, replace=False)))
    return chosen // n_night, chosen % n_night


def second_opinion(*, lat_deg, lon_deg, night, dusk_utc_min, dawn_utc_min, year: int,
                   altitude_deg: float) -> SecondOpinion:
    """Recompute given switching times with astral.

    Parameters
    ----------
    lat_deg, lon_deg : (m,) array_like of float
        Positions [degree]; a longitude may be unwrapped beyond +-180, as in `switch_times`.
    night : (m,) array_like of datetime64[D]
        The date each night is named by.
    dusk_utc_min, dawn_utc_min : (m,) array_like of float
        Our times [minutes since 1 January 00:00 UTC of `year`]; NaN where the sun does not cross.
    year : int
    altitude_deg : float
        Dark threshold [degree], geometric.

    Returns
    -------
    SecondOpinion

    Notes
    -----
    Never raises for a place or a night: what astral cannot answer is counted as `unmatched`.
    """
    lat, lon, dusk, dawn = (np.atleast_1d(np.asarray(a, dtype=float))
                            for a in (lat_deg, lon_deg, dusk_utc_min, dawn_utc_min))
    nights = np.atleast_1d(np.asarray(night, dtype="datetime64[D]"))
    epoch = dt.datetime(year, 1, 1, tzinfo=dt.timezone.utc)
    rows = [_one_event(lat[i], lon[i], nights[i], edge, ours, epoch, float(altitude_deg))
            for i in range(lat.size)
            for edge, ours in (("dusk", dusk[i]), ("dawn", dawn[i]))]
    table = pd.DataFrame(rows, columns=["lat_deg", "lon_deg", "night", "edge", "utc_min", "astral_utc_min",
                                        "difference_s", "crossing_deg_per_min", "altitude_off_deg"])
    ours, theirs = table["utc_min"].notna(), table["astral_utc_min"].notna()
    off = table.loc[ours & theirs, "difference_s"].abs()
    steady = off[table.loc[off.index, "crossing_deg_per_min"] > STEADY_DEG_PER_MIN]
    return SecondOpinion(compared=len(off), largest_s=float(off.max()), mean_s=float(off.mean()),
                         unmatched=int((ours & ~theirs).sum()), surplus=int((~ours & theirs).sum()),
                         largest_steady_s=float(steady.max()), table=table)


def opinion_on(sites: pd.DataFrame, basis: Basis) -> SecondOpinion:
    """A random sample of a run's own switching times, recomputed by astral; the year is the seed.

    Parameters
    ----------
    sites : DataFrame
        With lat_deg, solar_lon_deg.
    basis : Basis
    """
    year, altitude_deg = basis.year, basis.altitude_deg
    n_night = 366 if pd.Timestamp(year, 1, 1).is_leap_year else 365
    site, night = sample(len(sites), n_night, _OPINION_SIZE, seed=year)
    chosen, row = np.unique(site, return_inverse=True)
    lat, lon = (sites[name].to_numpy(float)[chosen] for name in ("lat_deg", "solar_lon_deg"))
    times = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=altitude_deg)
    return second_opinion(lat_deg=lat[row], lon_deg=lon[row], night=times.night[night],
                          dusk_utc_min=times.dusk_utc_min[row, night], dawn_utc_min=times.dawn_utc_min[row, night],
                          year=year, altitude_deg=altitude_deg)


def _one_event(lat, lon, night, edge, ours, epoch, altitude_deg):
    """One row of the table."""
    day = (night - np.datetime64(epoch.date())).astype(int)
    noon = day * 1440.0 + 720.0 - 4.0 * lon
    observer = Observer(float(lat), float((lon + 180.0) % 360.0 - 180.0))
    # Without a time of ours, six hours from noon serves as the place to look around.
    near = ours if np.isfinite(ours) else noon + (360.0 if edge == "dusk" else 1080.0)
    astral = _nearest_event(observer, near, edge, epoch, altitude_deg)
    if not np.isfinite(ours):
        # Mean noon and true noon differ by up to 17 minutes: an event that close to noon could be either night's.
        inside = np.isfinite(astral) and noon + 20.0 < astral < noon + 1420.0
        return lat, lon, night, edge, np.nan, astral if inside else np.nan, np.nan, np.nan, np.nan
    if not abs(astral - ours) <= _SAME_NIGHT_MIN:
        astral = _searched_event(observer, noon, edge, epoch, altitude_deg)
    before, at, after = (_altitude_deg(observer, ours + step, epoch) for step in (-0.5, 0.0, 0.5))
    return (lat, lon, night, edge, ours, astral, (astral - ours) * 60.0, abs(after - before), at - altitude_deg)


def _nearest_event(observer, near_utc_min, edge, epoch, altitude_deg):
    """astral's event closest to an instant [minutes since epoch]; NaN if it has none on the dates around it."""
    direction = SunDirection.SETTING if edge == "dusk" else SunDirection.RISING
    found = [np.nan]
    try:
        date = (epoch + dt.timedelta(minutes=float(near_utc_min))).date()
        dates = [date + dt.timedelta(days=shift) for shift in (-1, 0, 1)]
    except (OverflowError, ValueError):
        return np.nan
    for date in dates:
        try:
            event = time_at_elevation(observer, altitude_deg, date, direction, with_refraction=False)
        except (ValueError, OverflowError, ZeroDivisionError):  # no event there, says astral
            continue
        found.append((event - epoch).total_seconds() / 60.0)
    off = np.abs(np.array(found) - near_utc_min)
    return np.nan if np.isnan(off).all() else found[int(np.nanargmin(off))]


def _searched_event(observer, noon, edge, epoch, altitude_deg):
    """Where astral's own altitude crosses the threshold between mean noon and midnight; NaN if it does not."""
    high, low = (noon, noon + 720.0) if edge == "dusk" else (noon + 1440.0, noon + 720.0)
    if not _altitude_deg(observer, high, epoch) > altitude_deg > _altitude_deg(observer, low, epoch):
        return np.nan
    for _ in range(30):  # 720 minutes / 2^30: below a microminute
        middle = 0.5 * (high + low)
        if _altitude_deg(observer, middle, epoch) > altitude_deg:
            high = middle
        else:
            low = middle
    return 0.5 * (high + low)


def _altitude_deg(observer, utc_min, epoch):
    """astral's geometric altitude of the sun at an instant [degree]; NaN if it cannot say."""
    try:
        return elevation(observer, epoch + dt.timedelta(minutes=float(utc_min)), with_refraction=False)
    except (ValueError, OverflowError, ZeroDivisionError):
        return np.nan
