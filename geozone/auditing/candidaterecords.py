"""Records of what a switch may hold: candidates of one day, and what those of many days have in common."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..trade.readings import Keyed
from ..trade.slips import Slip
from ..trade.switchclock import SwitchClock

#: Keyed values in the order in which arrays of them are kept.
FIELDS = ("lat_deg", "lon_deg", "clock", "altitude_deg", "dusk_offset_min", "dawn_offset_min", "date_error_days", "year_error", "clock_error_min")


@dataclass(frozen=True, eq=False)
class Candidates:
    """The right setting, every slip of it that does harm, and every pair of slips in different keyed values, on one day.

    Attributes
    ----------
    slips : tuple of Slip
    first, second : (m,) int64
        Which slips each candidate has, as places in `slips`; -1 for none. Entry 0 is the right setting, then come single slips.
    alike : (n_slip,) int64
        Slips of one number read alike all year and are mended alike.
    keyed : dict of str to (m,) ndarray
        What each candidate holds, by the names of `Keyed`; `clock` as a place in `clocks`.
    clocks : tuple of SwitchClock
    dusk_min, dawn_min, coming_dawn_min : (m,) float64
        Minute of the day shown, without offsets; NaN where there is none.
    clock_fast_min : (m,) float64
        What the candidate's clock is ahead of legal time on that day.
    clock_only : (m,) bool
        One of its slips is in the clock alone, which no display of dusk and dawn shows.
    """

    slips: tuple[Slip, ...]
    first: np.ndarray
    second: np.ndarray
    alike: np.ndarray
    keyed: dict[str, np.ndarray]
    clocks: tuple[SwitchClock, ...]
    dusk_min: np.ndarray
    dawn_min: np.ndarray
    coming_dawn_min: np.ndarray
    clock_fast_min: np.ndarray
    clock_only: np.ndarray

    def record(self, i: int) -> Keyed:
        """What candidate i holds."""
        found = {name: self.keyed[name][i].item() for name in FIELDS}
        return Keyed(**{**found, "clock": self.clocks[found["clock"]]})


@dataclass(frozen=True, eq=False)
class Pairs:
    """What candidates of many days have in common: which slips each has, and what it holds but for the date.

    Attributes
    ----------
    one, two : (k,) int64
        The two slips of each pair, as places among right setting and slips.
    other_date : (k,) bool
        The second one's date is held, not the first one's.
    first, second, clock_only
        As of `Candidates`.
    held : dict of str to (m,) ndarray
    far : (m,) bool
        A wrong date, or year, is held.
    row : (m,) int64
        Of the sun's table.
    """

    one: np.ndarray
    two: np.ndarray
    other_date: np.ndarray
    first: np.ndarray
    second: np.ndarray
    clock_only: np.ndarray
    held: dict[str, np.ndarray]
    far: np.ndarray
    row: np.ndarray
