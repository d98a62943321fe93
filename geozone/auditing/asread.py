"""What a crew read off switches: one record of arrays, an entry a switch."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from ..errors import InputError

#: Numbers that may be missing, each NaN where it was not read.
_NUMBERS = ("dusk_min", "dawn_min", "clock_fast_min", "date_ahead_days", "lat_deg", "lon_deg", "standard_min", "dusk_offset_min", "dawn_offset_min",
            "altitude_deg")


@dataclass(frozen=True, eq=False)
class AsRead:
    """Readings of n switches. What was not read is NaN, False or "".

    Attributes
    ----------
    day : (n,) int64
        True date of the reading as a day of the year, 0 for 1 January.
    dusk_min, dawn_min : (n,) float64
        Shown on the display [minute of the day].
    dusk_none, dawn_none : (n,) bool
        True where the display showed that there is no such time.
    clock_fast_min : (n,) float64
        The switch's clock minus true legal time [minute].
    date_ahead_days : (n,) float64
        The date that the switch showed minus the true one [day].
    lat_deg, lon_deg : (n,) float64
        Keyed position, read back [degree].
    standard_min : (n,) float64
        Keyed standard time minus UTC [minute].
    saving : (n,) object
        Name of the keyed summer-time rule.
    dusk_offset_min, dawn_offset_min : (n,) float64
        Keyed offsets [minute].
    altitude_deg : (n,) float64
        Keyed dark threshold [degree].

    Raises
    ------
    InputError
        If the arrays differ in length, or a time is no minute of a day.
    """

    day: np.ndarray
    dusk_min: np.ndarray
    dawn_min: np.ndarray
    dusk_none: np.ndarray
    dawn_none: np.ndarray
    clock_fast_min: np.ndarray
    date_ahead_days: np.ndarray
    lat_deg: np.ndarray
    lon_deg: np.ndarray
    standard_min: np.ndarray
    saving: np.ndarray
    dusk_offset_min: np.ndarray
    dawn_offset_min: np.ndarray
    altitude_deg: np.ndarray

    def __post_init__(self):
        if len({len(getattr(self, one.name)) for one in fields(self)}) != 1:
            raise InputError("readings differ in length", rule="an entry a switch in every array")
        for name in ("dusk_min", "dawn_min"):
            times = getattr(self, name)
            bad = np.flatnonzero((times < 0) | (times >= 1440))
            if bad.size:
                raise InputError(f"{name} is no time of a day", value=float(times[bad[0]]), rule="minutes from 0 to below 1440")

    @classmethod
    def of(cls, day, **read) -> AsRead:
        """Readings of which only some things were read.

        Parameters
        ----------
        day : (n,) array_like of int
        **read
            Any of the attributes, (n,) array_like each.

        Examples
        --------
        >>> AsRead.of([171], dusk_min=[1031.0]).dawn_min
        array([nan])
        """
        day = np.asarray(day, dtype=np.int64)
        n = day.size
        blank: dict = {name: np.full(n, np.nan) for name in _NUMBERS}
        blank |= {"dusk_none": np.zeros(n, dtype=bool), "dawn_none": np.zeros(n, dtype=bool), "saving": np.full(n, "", dtype=object)}
        for name, values in read.items():
            if name not in blank:
                raise InputError("no such reading", value=name, rule=", ".join(blank))
            blank[name] = np.asarray(values, dtype=blank[name].dtype)
        return cls(day, **blank)

    def __len__(self) -> int:
        return int(self.day.size)

    def chosen(self, rows) -> AsRead:
        """Some of them."""
        return AsRead(*(getattr(self, one.name)[rows] for one in fields(self)))

    def keys(self) -> list[bytes]:
        """A key a switch: equal where all that was read is equal."""
        _, saving = np.unique(self.saving.astype(str), return_inverse=True)
        table = np.column_stack([*(np.asarray(getattr(self, one.name), dtype=float) for one in fields(self) if one.name != "saving"), saving.astype(float)])
        return [row.tobytes() for row in table]

    def nothing_read(self) -> np.ndarray:
        """(n,) bool: nothing at all was read."""
        some = self.dusk_none | self.dawn_none | (self.saving != "")
        for name in _NUMBERS:
            some = some | np.isfinite(getattr(self, name))
        return ~some
