"""What the display of a switch must read for dusk and dawn, from what is keyed into it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..errors import InputError
from ..numbers.civil import MIN_PER_DAY
from ..numbers.clock import OffsetSequence, offset_min_at
from ..numbers.sun import nights_of, switch_times
from .switchclock import SwitchClock

#: Years that the sun is computed for.
_FIRST_YEAR, _LAST_YEAR = 1972, 2098

DAWNS = ("morning", "coming")


@dataclass(frozen=True)
class Display:
    """How a make of switch shows dusk and dawn.

    Attributes
    ----------
    includes_offsets : bool or None
        Whether the times shown have the keyed offsets in them; None: not known.
    dawn : {"morning", "coming"} or None
        "morning": the dawn of the date shown; "coming": the next one. None: not known.
    error_min : float
        How far the switch's own sun may be off [minute]. A display cuts seconds off or rounds them, which comes on top.
    hours : {24, 12}
        Length of its clock's face.
    """

    includes_offsets: bool | None = None
    dawn: Literal["morning", "coming"] | None = None
    error_min: float = 1.0
    hours: int = 24

    def __post_init__(self):
        if self.dawn not in (*DAWNS, None):
            raise InputError("a display shows no such dawn", value=self.dawn, rule='"morning" or "coming"',
                             next_step="leave it out where it is not known")
        if self.hours not in (12, 24):
            raise InputError("a display has no such clock", value=self.hours, rule="12 or 24 hours")
        if not 0 <= self.error_min <= 30:
            raise InputError("display_error_min is out of range", value=self.error_min, rule="minutes from 0 to 30",
                             next_step="1 unless the maker says otherwise")

    def fits(self, shown_min, exact_min):
        """Whether a reading in whole minutes is one of a right switch, whether it cuts seconds off or rounds them.

        Parameters
        ----------
        shown_min, exact_min : array_like [minute of the day]
            NaN is "no time": it fits no time, and only that.
        """
        shown, exact = np.asarray(shown_min, dtype=float), np.asarray(exact_min, dtype=float)
        off = wrapped(shown - exact, 60.0 * self.hours)
        # Cutting off reads up to a minute early, rounding half a minute late.
        return ((off > -1.0 - self.error_min) & (off <= 0.5 + self.error_min)) | (np.isnan(shown) & np.isnan(exact))


@dataclass(frozen=True)
class Keyed:
    """All that is keyed into a switch and bears on what its display reads.

    Attributes
    ----------
    lat_deg, lon_deg : float
    clock : SwitchClock
        Standard time and summer-time rule.
    altitude_deg : float
        Dark threshold.
    dusk_offset_min, dawn_offset_min : int
    date_error_days : int
        How far the date that the switch holds is ahead of the true one.
    year_error : int
        The same in years.
    clock_error_min : float
        How far its clock is ahead. Dusk and dawn on the display do not depend on it.
    """

    lat_deg: float
    lon_deg: float
    clock: SwitchClock
    altitude_deg: float
    dusk_offset_min: int = 0
    dawn_offset_min: int = 0
    date_error_days: int = 0
    year_error: int = 0
    clock_error_min: float = 0.0

    def changed(self, **changes) -> "Keyed":
        """The same with some of it changed."""
        return replace(self, **changes)


@dataclass(frozen=True)
class Readings:
    """What displays read on each date of a year, exact: no display shows the seconds.

    Attributes
    ----------
    dusk_min, dawn_min : (n, n_day) float64
        Minute of the day that the keyed clock shows; NaN where the sun does not cross the threshold. Dusk is that of the night
        that begins on the date.
    coming_dawn_min : (n, n_day) float64
        The dawn that ends that night; `dawn_min` is that of the morning of the date.
    date : (n_day,) datetime64[D]
        True dates.
    """

    dusk_min: np.ndarray
    dawn_min: np.ndarray
    coming_dawn_min: np.ndarray
    date: np.ndarray


def readings(keyed, year: int, *, offsets: bool = True) -> Readings:
    """What displays read on every date of a year.

    Parameters
    ----------
    keyed : sequence of Keyed, n
    year : int
        1972 to 2098.
    offsets : bool
        Whether the times shown have the keyed offsets in them.

    Returns
    -------
    Readings

    Notes
    -----
    A switch takes dusk and dawn for the date that it holds, in universal time from its position, and turns them to its own
    clock. So a wrong date moves them with the season, and a wrong clock not at all.
    """
    keyed = list(keyed)
    nights = nights_of(year)
    dusk = np.empty((len(keyed), nights.size))
    dawn, coming = np.empty_like(dusk), np.empty_like(dusk)
    sun = _Sun(keyed, year)
    clocks: dict[SwitchClock, dict[int, OffsetSequence]] = {}
    for i, one in enumerate(keyed):
        held = _held_days(one, nights, year)
        if one.clock not in clocks:
            clocks[one.clock] = {y: one.clock.sequence(y) for y in sun.years}
        sequences = clocks[one.clock]
        for day, into, edge, offset in ((held, dusk, "dusk", one.dusk_offset_min), (held - 1, dawn, "dawn", one.dawn_offset_min),
                                        (held, coming, "dawn", one.dawn_offset_min)):
            into[i] = _shown(sun, i, day, edge, sequences) + (offset if offsets else 0)
    return Readings(dusk % MIN_PER_DAY, dawn % MIN_PER_DAY, coming % MIN_PER_DAY, nights)


def wrapped(minutes, period: float = MIN_PER_DAY) -> np.ndarray:
    """Differences of times of a clock's face, from minus half of it to half of it."""
    return (np.asarray(minutes, dtype=float) + period / 2) % period - period / 2


def _held_days(one: Keyed, nights: np.ndarray, year: int) -> np.ndarray:
    """Days from 1 January of `year` of the dates that a switch holds, as its own calendar names them."""
    day = np.arange(nights.size) + one.date_error_days
    if not one.year_error:
        return day
    first = nights[0]
    date = first + day.astype("timedelta64[D]")
    months = date.astype("datetime64[M]")
    other = (months + np.timedelta64(12 * one.year_error, "M")).astype("datetime64[D]") + (date - months)
    return (other - first).astype(int)


class _Sun:
    """Dusk and dawn of each switch's own position over the years that its dates reach into."""

    def __init__(self, keyed, year: int):
        reach = max((abs(one.year_error) for one in keyed), default=0) + 1
        self.years = [y for y in range(year - reach, year + reach + 1) if _FIRST_YEAR <= y <= _LAST_YEAR]
        self._first = {y: int((np.datetime64(f"{y}-01-01") - np.datetime64(f"{year}-01-01")).astype(int)) for y in self.years}
        self._times: dict[tuple[int, float], tuple] = {}
        self._row: dict[tuple, int] = {}
        self._place = []
        for altitude in sorted({one.altitude_deg for one in keyed}):
            positions = sorted({(one.lat_deg, one.lon_deg) for one in keyed if one.altitude_deg == altitude})
            lat, lon = (np.array(axis) for axis in zip(*positions))
            for y in self.years:
                times = switch_times(lat_deg=lat, lon_deg=lon, year=y, altitude_deg=altitude)
                self._times[y, altitude] = times.dusk_utc_min, times.dawn_utc_min
            self._row |= {(altitude, *position): row for row, position in enumerate(positions)}
        self._place = [(one.altitude_deg, self._row[one.altitude_deg, one.lat_deg, one.lon_deg]) for one in keyed]

    def of(self, i: int, edge: str, y: int) -> tuple[int, np.ndarray]:
        """Day of 1 January of year `y`, and switch i's dusks or dawns in it [UTC minutes of that year]."""
        altitude, row = self._place[i]
        return self._first[y], self._times[y, altitude][0 if edge == "dusk" else 1][row]


def _shown(sun: _Sun, i: int, day: np.ndarray, edge: str, sequences: dict[int, OffsetSequence]) -> np.ndarray:
    """Times of the nights that begin on `day`, on the switch's clock [minutes, any day]; NaN where there is none."""
    found = np.full(day.size, np.nan)
    for y in sun.years:
        first, times = sun.of(i, edge, y)
        inside = (day >= first) & (day < first + times.size)
        utc = times[day[inside] - first]
        found[inside] = utc + offset_min_at(sequences[y], utc)
    # A date beyond the years that the sun is computed for: the nearest one, less than a minute away.
    for beyond, nearest in ((day < sun.of(i, edge, sun.years[0])[0], 0), (day >= sum(_end(sun, i, edge)), -1)):
        if beyond.any():
            y = sun.years[nearest]
            utc = sun.of(i, edge, y)[1][nearest]
            found[beyond] = utc + offset_min_at(sequences[y], utc)
    return found


def _end(sun: _Sun, i: int, edge: str) -> tuple[int, int]:
    first, times = sun.of(i, edge, sun.years[-1])
    return first, times.size
