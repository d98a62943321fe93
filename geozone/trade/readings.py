"""What the display of a switch must read for dusk and dawn, from what is keyed into it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from ..errors import InputError
from ..numbers.civil import MIN_PER_DAY
from ..numbers.clock import OffsetSequence
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
        The dawn that ends that night; `dawn_min` is that of the morning of the date. None for one that was not asked for.
    date : (n_day,) datetime64[D]
        True dates.
    """

    dusk_min: np.ndarray
    dawn_min: np.ndarray | None
    coming_dawn_min: np.ndarray | None
    date: np.ndarray


def readings(keyed, year: int, *, offsets: bool = True, dawn: str = "both") -> Readings:
    """What displays read on every date of a year.

    Parameters
    ----------
    keyed : sequence of Keyed, n
    year : int
        1972 to 2098.
    offsets : bool
        Whether the times shown have the keyed offsets in them.
    dawn : {"both", "morning", "coming"}
        Which dawn is wanted; each takes a third of the time.

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
    sun = _Sun(keyed, year)
    of_error: dict[tuple[int, int], list[int]] = {}
    of_clock: dict[SwitchClock, list[int]] = {}
    for i, one in enumerate(keyed):
        of_error.setdefault((one.date_error_days, one.year_error), []).append(i)
        of_clock.setdefault(one.clock, []).append(i)
    held = [(np.array(mine), _held_days(*error, nights)) for error, mine in of_error.items()]

    def shown(edge: str, shift_days: int) -> np.ndarray:
        times = sun.times(edge, [(mine, day + shift_days) for mine, day in held])
        for clock, mine in of_clock.items():
            times[mine] += sun.clock_offsets(clock, times[mine])
        if offsets:
            times += np.array([one.dusk_offset_min if edge == "dusk" else one.dawn_offset_min for one in keyed], dtype=float)[:, None]
        return times - MIN_PER_DAY * np.floor(times / MIN_PER_DAY)

    return Readings(shown("dusk", 0), shown("dawn", -1) if dawn != "coming" else None, shown("dawn", 0) if dawn != "morning" else None, nights)


def wrapped(minutes, period: float = MIN_PER_DAY) -> np.ndarray:
    """Differences of times of a clock's face, from minus half of it to half of it."""
    minutes = np.asarray(minutes, dtype=float)
    # As a remainder of minutes and half the period would be, which takes several times as long.
    return minutes - period * np.floor(minutes / period + 0.5)


def _held_days(date_error_days: int, year_error: int, nights: np.ndarray) -> np.ndarray:
    """Days from 1 January of the year of the dates that a switch holds, as its own calendar names them."""
    day = np.arange(nights.size) + date_error_days
    if not year_error:
        return day
    first = nights[0]
    date = first + day.astype("timedelta64[D]")
    months = date.astype("datetime64[M]")
    other = (months + np.timedelta64(12 * year_error, "M")).astype("datetime64[D]") + (date - months)
    return (other - first).astype(int)


class _Sun:
    """Dusk and dawn of each switch's own position over the years that its dates reach into [UTC minutes from 1 January]."""

    def __init__(self, keyed: list[Keyed], year: int):
        reach = max((abs(one.year_error) for one in keyed), default=0) + 1
        self._years = [y for y in range(year - reach, year + reach + 1) if _FIRST_YEAR <= y <= _LAST_YEAR]
        self._starts = [_day(y, year) for y in [*self._years, self._years[-1] + 1]]
        places = sorted({(one.altitude_deg, one.lat_deg, one.lon_deg) for one in keyed})
        row = {place: i for i, place in enumerate(places)}
        self._row = np.array([row[one.altitude_deg, one.lat_deg, one.lon_deg] for one in keyed])
        # A right date needs the plan's year and, for the dawn of 1 January, the night before it.
        far = np.zeros(len(places), dtype=bool)
        far[[i for i, one in zip(self._row, keyed, strict=True) if one.date_error_days or one.year_error]] = True
        altitude, lat, lon = (np.array(axis) for axis in zip(*places))
        self._table = {edge: np.full((len(places), self._starts[-1] - self._starts[0]), np.nan) for edge in ("dusk", "dawn")}
        for y, begin in zip(self._years, self._starts[:-1], strict=True):
            for one in np.unique(altitude):
                mine = np.flatnonzero((altitude == one) & (far | (y in (year - 1, year))))
                if mine.size:
                    times = switch_times(lat_deg=lat[mine], lon_deg=lon[mine], year=y, altitude_deg=float(one))
                    at = slice(begin - self._starts[0], begin - self._starts[0] + times.dusk_utc_min.shape[1])
                    self._table["dusk"][mine, at] = times.dusk_utc_min + begin * MIN_PER_DAY
                    self._table["dawn"][mine, at] = times.dawn_utc_min + begin * MIN_PER_DAY

    def times(self, edge: str, held: list[tuple[np.ndarray, np.ndarray]]) -> np.ndarray:
        """Times of the nights that begin on days counted from 1 January, a row a switch; NaN where there is none.

        `held` names switches with the days of all of them. A date beyond the years that the sun is computed for has the time of
        the nearest one, less than a minute away.
        """
        table = self._table[edge]
        found = np.empty((self._row.size, held[0][1].size if held else 0))
        for mine, day in held:
            inside = np.clip(day - self._starts[0], 0, table.shape[1] - 1)
            beyond = day - self._starts[0] - inside
            whole = (np.diff(inside) == 1).all() and not beyond.any()  # days one after the other: a slice, several times as fast
            found[mine] = (table[self._row[mine], inside[0]:inside[-1] + 1] if whole
                           else table[self._row[mine][:, None], inside] + beyond * MIN_PER_DAY)
        return found

    def clock_offsets(self, clock: SwitchClock, utc_min: np.ndarray) -> np.ndarray:
        """What a keyed clock is ahead of UTC at given times [minute]."""
        starts, values = [], []
        for y, begin in zip(self._years, self._starts[:-1], strict=True):
            sequence = _sequence(clock, y)
            starts += [begin * MIN_PER_DAY, *(np.asarray(sequence.start_utc_min[1:]) + begin * MIN_PER_DAY)]
            values += list(sequence.offset_min)
        place = np.searchsorted(np.array(starts, dtype=float), utc_min, side="right") - 1
        return np.array(values, dtype=float)[np.maximum(place, 0)]


def _day(y: int, year: int) -> int:
    return int((np.datetime64(f"{y}-01-01") - np.datetime64(f"{year}-01-01")).astype(int))


@lru_cache(maxsize=4096)
def _sequence(clock: SwitchClock, year: int) -> OffsetSequence:
    return clock.sequence(year)
