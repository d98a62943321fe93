"""Civil days and clock times of a year, turned into instants: gaps, folds, weekdays and seasons included.

Civil day d is the d-th day after 1 January of the year, whatever clock is meant: -1 is 31 December of the year
before. A wall minute counts from 1 January 00:00 on that clock.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .clock import OffsetSequence

MIN_PER_DAY = 1440.0
# As they are counted: Monday 0 to Sunday 6.
DAY_NAMES = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True)
class Instants:
    """When a clock shows given wall minutes.

    Attributes
    ----------
    first_utc_min : ndarray of float64
        The first instant [minutes since 1 January 00:00 UTC]; for a time that the clock leaves out, the instant of
        the change.
    again_utc_min : ndarray of float64
        The second instant where the clock is put back over the time, else NaN.
    gap : ndarray of bool
        The clock never shows this time.
    """

    first_utc_min: np.ndarray
    again_utc_min: np.ndarray
    gap: np.ndarray


def instants(wall_min, sequence: OffsetSequence) -> Instants:
    """Instants at which a clock shows `wall_min`; any shape, NaN stays NaN.

    Examples
    --------
    >>> from .clock import offsets
    >>> at = instants([2.5 * 60 + 92 * 1440], offsets("Australia/Adelaide", 2027))   # 3 April 2027, 02:30
    >>> float(at.first_utc_min[0] + 630 - 92 * 1440), bool(at.gap[0])
    (150.0, False)
    """
    wall = np.asarray(wall_min, dtype=float)
    first = np.full(wall.shape, np.nan)
    again = np.full(wall.shape, np.nan)
    starts, offset = sequence.start_utc_min, np.asarray(sequence.offset_min, dtype=float)
    ends = np.append(starts[1:], np.inf)
    for start, end, shown in zip(starts, ends, offset):  # a handful of offsets a year
        utc = wall - shown
        inside = (utc >= start) & (utc < end)
        again = np.where(inside & ~np.isnan(first) & np.isnan(again), utc, again)
        first = np.where(inside & np.isnan(first), utc, first)
    gap = np.isnan(first) & ~np.isnan(wall)
    for change, before, after in zip(starts[1:], offset[:-1], offset[1:]):
        skipped = gap & (wall >= change + before) & (wall < change + after)
        first = np.where(skipped, change, first)
    return Instants(first, again, gap)


def dates(day, year: int) -> np.ndarray:
    """Dates (datetime64[D]) of civil days counted from 1 January of the year."""
    return np.datetime64(f"{year:04d}-01-01", "D") + np.asarray(day).astype(int)


def weekdays(day, year: int) -> np.ndarray:
    """Weekdays of civil days, Monday 0 to Sunday 6."""
    # 1 January 1970 was a Thursday.
    return (dates(day, year).astype("datetime64[D]").astype(int) + 3) % 7


def month_days(day, year: int) -> np.ndarray:
    """Month and day of civil days as one number, 101 for 1 January to 1231 for 31 December."""
    date = dates(day, year)
    month = date.astype("datetime64[M]")
    return (month.astype(int) % 12 + 1) * 100 + (date - month).astype(int) + 1


def in_season(month_day, first: int, last: int) -> np.ndarray:
    """Whether month-days lie from `first` to `last`, both included; a season may run over New Year."""
    month_day = np.asarray(month_day)
    if first <= last:
        return (month_day >= first) & (month_day <= last)
    return (month_day >= first) | (month_day <= last)


def clock_text(minute: float) -> str:
    """A minute of the day as people write it: 1410 is 23:30, 1440 is 24:00."""
    whole = int(round(minute))
    return f"{whole // 60:02d}:{whole % 60:02d}"
