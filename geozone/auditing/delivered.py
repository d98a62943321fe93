"""What a switch delivers with what is keyed into it: minutes unlit and lit too long over the year, at the site's own position."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..numbers.shallow import judged_nights
from ..numbers.sun import State, switch_times
from ..switching.burning import noons
from ..trade.basis import Basis

#: As in `sharing.drift`: what equals the tolerance is within it.
_SAME_MIN = 1e-7


@dataclass(frozen=True)
class Delivered:
    """A year of one switch, from dusk to dawn.

    Attributes
    ----------
    worst_dark_min, worst_excess_min : float
        The most minutes at any one switching, nights that are not judged left out.
    dark_h, excess_h : float
        Hours of the year unlit that should be lit, and the reverse; all nights.
    within : bool
        Both within tolerance on every night that is judged.
    """

    worst_dark_min: float
    worst_excess_min: float
    dark_h: float
    excess_h: float
    within: bool


class Intended:
    """The light that sites should have: their own nights over a year.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
        Longitudes unwrapped as `switch_times` describes.
    basis : Basis
    """

    def __init__(self, lat_deg, lon_deg, basis: Basis):
        lat, lon = np.asarray(lat_deg, dtype=float), np.asarray(lon_deg, dtype=float)
        times = switch_times(lat_deg=lat, lon_deg=lon, year=basis.year, altitude_deg=basis.altitude_deg)
        self._lon, self._basis = lon, basis
        self._dusk, self._dawn, self._state = times.dusk_utc_min, times.dawn_utc_min, times.state
        shallow = basis.tolerance.shallow_deg
        self._judged = judged_nights(lat, lon, basis.year, basis.altitude_deg, shallow) if shallow else None

    def held_against(self, i: int, on_utc_min: np.ndarray, off_utc_min: np.ndarray) -> Delivered:
        """What site i gets from a switch that turns on and off at these times.

        Parameters
        ----------
        i : int
        on_utc_min, off_utc_min : (n_day,) float64
            NaN where there is no such event. They are obeyed in the order in which they come.
        """
        noon = noons(float(self._lon[i]), self._basis.year)
        state = self._state[i]
        begin = np.where((state == State.BELOW) | (state == State.DAWN_ONLY), noon[:-1], self._dusk[i])
        end = np.where((state == State.BELOW) | (state == State.DUSK_ONLY), noon[1:], self._dawn[i])
        none = state == State.ABOVE
        begin, end = np.where(none, noon[:-1], begin), np.where(none, noon[:-1], end)
        lit = _lit_until(on_utc_min, off_utc_min, noon[0], noon[-1])
        middle = (begin + end) / 2
        at = lit(np.concatenate([noon, begin, middle, end]))
        n = begin.size
        noons_lit, begin_lit, middle_lit, end_lit = at[:n + 1], at[n + 1:2 * n + 1], at[2 * n + 1:3 * n + 1], at[3 * n + 1:]
        # In two halves: what goes wrong at dusk is one switching, what goes wrong at dawn another.
        dark = np.stack([(middle - begin) - (middle_lit - begin_lit), (end - middle) - (end_lit - middle_lit)])
        excess = np.stack([begin_lit - noons_lit[:-1], noons_lit[1:] - end_lit])
        judged = slice(None) if self._judged is None else self._judged[i]
        worst_dark, worst_excess = (float(max(one[:, judged].max(initial=0.0), 0.0)) for one in (dark, excess))
        tolerance = self._basis.tolerance
        return Delivered(worst_dark, worst_excess, max(float(dark.sum()), 0.0) / 60, max(float(excess.sum()), 0.0) / 60,
                         worst_dark <= tolerance.dark_min + _SAME_MIN and worst_excess <= tolerance.excess_min + _SAME_MIN)


def _lit_until(on: np.ndarray, off: np.ndarray, first: float, last: float):
    """Minutes lit from `first` up to given times, of a switch that obeys its events as they come."""
    on, off = np.sort(on[np.isfinite(on)]), np.sort(off[np.isfinite(off)])
    # Before the year's first event the lamps are as its last one of the year before left them: off after dawn, on after dusk.
    if off.size and (not on.size or off[0] < on[0]):
        on = np.concatenate([[first - 1440.0], on])
    after = np.searchsorted(off, on, side="right")
    until = np.append(off, last + 2880.0)[after]
    until = np.minimum(until, np.append(on[1:], np.inf))
    marks = np.column_stack([on, until]).ravel()
    sums = np.cumsum(np.column_stack([np.zeros(on.size), until - on]).ravel())

    def lit(at: np.ndarray) -> np.ndarray:
        return np.interp(at, marks, sums) if on.size else np.zeros(at.size)

    return lit
