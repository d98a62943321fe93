"""What a kilowatt-hour costs and when: prices by the time of day, and the pieces of time that hours are booked to."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..errors import InputError
from ..numbers.civil import MIN_PER_DAY, dates, instants
from ..numbers.clock import OffsetSequence, offset_min_at
from ..numbers.sun import nights_of
from ..trade.programme import ALL_DAYS
from .burning import Bins


@dataclass(frozen=True)
class Band:
    """A price that holds at some times of the day.

    Attributes
    ----------
    name : str
    per_kwh : float
        Price of a kilowatt-hour.
    first_min, last_min : int
        From minute of the day to minute of the day, in legal time; over midnight when last is not after first.
    days : frozenset of int
        Weekdays of the legal date, Monday 0.
    """

    name: str
    per_kwh: float
    first_min: int = 0
    last_min: int = 1440
    days: frozenset = ALL_DAYS

    def holds(self, minute, weekday) -> np.ndarray:
        """Whether the band holds at minutes of the day on weekdays."""
        minute = np.asarray(minute)
        if self.first_min < self.last_min:
            inside = (minute >= self.first_min) & (minute < self.last_min)
        else:
            inside = (minute >= self.first_min) | (minute < self.last_min)
        return inside & np.isin(weekday, sorted(self.days))


@dataclass(frozen=True)
class Tariff:
    """Prices of a kilowatt-hour.

    Attributes
    ----------
    per_kwh : float
        The price when no band holds; alone, the flat price. 0 is "no price known".
    bands : tuple of Band
        The first that holds counts.
    currency : str
    """

    per_kwh: float = 0.0
    bands: tuple[Band, ...] = ()
    currency: str = ""

    def __post_init__(self):
        for name, price in [("tariff.per_kwh", self.per_kwh)] + [(f"band {b.name!r}", b.per_kwh) for b in self.bands]:
            if not (np.isfinite(price) and price >= 0):
                raise InputError("a price is out of range", where=name, value=price,
                                 rule="a number, 0 or more, for one kilowatt-hour")

    @property
    def prices(self) -> np.ndarray:
        """(1 + bands,) float64: the general price, then each band's."""
        return np.array([self.per_kwh, *(band.per_kwh for band in self.bands)])


@lru_cache(maxsize=256)
def _bins(key, year: int, bands: tuple[Band, ...]) -> Bins:
    sequence = OffsetSequence(np.array(key[0]), np.array(key[1]))
    n_night = nights_of(year).size
    month_starts = np.unique(nights_of(year).astype("datetime64[M]")).astype("datetime64[D]")
    starts = (month_starts - nights_of(year)[0]).astype(int)
    walls = [starts * MIN_PER_DAY + 720.0, np.array([0.5, n_night + 0.5]) * MIN_PER_DAY]
    if bands:
        day = np.arange(0, n_night + 2) * MIN_PER_DAY
        walls += [day]
        for band in bands:
            walls += [day + band.first_min, day + band.last_min]
    span = instants(np.array([0.5, n_night + 0.5]) * MIN_PER_DAY, sequence).first_utc_min
    marks = np.concatenate(walls)
    at = instants(marks, sequence)
    edge = np.unique(np.concatenate([at.first_utc_min, at.again_utc_min[~np.isnan(at.again_utc_min)],
                                     sequence.start_utc_min[1:]]))
    edge = edge[(edge >= span[0]) & (edge <= span[1])]
    middle = (edge[1:] + edge[:-1]) / 2
    wall = middle + offset_min_at(sequence, middle)
    night = np.clip(np.floor(wall / MIN_PER_DAY - 0.5).astype(int), 0, n_night - 1)
    month = dates(night, year).astype("datetime64[M]").astype(int) % 12
    day = np.floor(wall / MIN_PER_DAY).astype(int)
    weekday = (dates(day, year).astype(int) + 3) % 7
    band_of = np.zeros(middle.size, np.int64)
    for i in range(len(bands), 0, -1):
        band_of[bands[i - 1].holds(wall - day * MIN_PER_DAY, weekday)] = i
    return Bins(edge, month * (len(bands) + 1) + band_of, 12 * (len(bands) + 1))


def bins_of(sequence: OffsetSequence, year: int, tariff: Tariff = Tariff()) -> Bins:
    """Pieces of the year on one clock, booked to month x band; bin = month * (1 + bands) + band.

    The year runs from 12:00 on 1 January to 12:00 on 1 January of the next in legal time, so that every night is
    whole; a night belongs to the month in which it begins.
    """
    return _bins(sequence.key, year, tariff.bands)


def energy_kwh(load_w, hours, count: float = 1):
    """Energy of `count` lamps [kilowatt-hour].

    References
    ----------
    E = N P H / 1000, MIL-HDBK-1133, equation 1.

    Examples
    --------
    >>> energy_kwh(100, 4380, count=100)
    43800.0
    """
    return count * np.asarray(load_w, dtype=float) * hours / 1000.0 if np.ndim(load_w) or np.ndim(hours) else (
        float(count * load_w * hours / 1000.0))
