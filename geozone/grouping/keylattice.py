"""The shifts of dusk and dawn that a keypad can really give, and the settings that give them.

A setting keyed at longitude L with offsets a and b moves dusk by x = a - 4 (L - base) minutes and dawn by
y = b - 4 (L - base). Coordinates come in steps and offsets in whole minutes, so (x, y) lies on a lattice: y - x is a
whole number, and x modulo one minute takes few values (at a step of 0.1 degrees: 0, 0.2, 0.4, 0.6, 0.8).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from ..trade.keypad import Keypad

# Finer phases than 1/25 of a minute say nothing to a switch; a keypad that has them is searched on this raster.
_FINEST = 25
# Keyed latitudes are searched this far apart where the keypad's own step is finer.
_LATITUDE_DEG = 0.05
# Where a tolerance of hours lets latitudes of a whole continent be keyed, the common keypad's step is fine enough.
_WIDE_LATITUDE_DEG, _WIDE_DEG = 0.1, 40.0


@dataclass(frozen=True)
class KeyLattice:
    """The lattice of one keypad.

    Attributes
    ----------
    keypad : Keypad
    offsets : bool
        Whether offsets may be keyed; if not, only positions differ.
    phases : (n_phase,) float64 [minute]
        What x modulo one minute can be.
    blur_min : float [minute]
        0 where `phases` is exact; else half the raster's step.
    """

    keypad: Keypad
    offsets: bool
    phases: np.ndarray
    blur_min: float

    @classmethod
    def of(cls, keypad: Keypad, offsets: bool) -> "KeyLattice":
        """The lattice of a keypad."""
        shift = Fraction(4.0 * keypad.coordinate_step_deg).limit_denominator(_FINEST)
        exact = abs(float(shift) - 4.0 * keypad.coordinate_step_deg) < 1e-9
        count = shift.denominator if exact else _FINEST
        return cls(keypad, offsets, np.arange(count) / count, 0.0 if exact else 0.5 / count)

    @property
    def limit_min(self) -> int:
        """Largest offset either way [minute]."""
        return self.keypad.offset_limit_min if self.offsets else 0

    def latitudes(self, south_deg: float, north_deg: float) -> tuple[np.ndarray, float]:
        """Keyed latitudes from south to north [degree], and half the gap between them that the keypad could fill."""
        step = self.keypad.coordinate_step_deg
        wide = _WIDE_LATITUDE_DEG if north_deg - south_deg > _WIDE_DEG else _LATITUDE_DEG
        every = max(1, int(np.floor(wide / step + 1e-9)))
        first, last = np.floor(max(south_deg, -90) / step + 1e-9), np.ceil(min(north_deg, 90) / step - 1e-9)
        keyed = self.keypad.round_deg(np.arange(first, last + every, every) * step)
        return keyed[np.abs(keyed) <= 90.0], (0.5 * (every - 1) * step if every > 1 else 0.0)

    def possible(self, i0: int, n_i: int, d0: int, n_d: int) -> np.ndarray:
        """Which cells the keypad can give: (n_phase, n_i, n_d) bool over I from i0 and J - I from d0."""
        limit, step = self.limit_min, 4.0 * self.keypad.coordinate_step_deg
        x = self.phases[:, None, None] + (i0 + np.arange(n_i))[None, :, None]
        a = np.arange(-limit, limit + 1)[None, None, :]
        n = np.rint((a - x) / step)
        given = np.abs(a - step * n - x) <= self.blur_min + 1e-6
        sums = np.concatenate((np.zeros(given.shape[:2] + (1,), int), np.cumsum(given, axis=2)), axis=2)
        d = d0 + np.arange(n_d)
        low = np.clip(np.maximum(-limit, -limit - d) + limit, 0, 2 * limit + 1)
        high = np.clip(np.minimum(limit, limit - d) + limit + 1, 0, 2 * limit + 1)
        return sums[:, :, np.maximum(high, low)] > sums[:, :, low]

    def keyings(self, x_min: float, gap_min: int, base_lon_deg: float, near_lon_deg: float, count: int = 1) -> list:
        """Longitudes and offsets that give a shift, nearest longitude first.

        Parameters
        ----------
        x_min : float [minute]
            Dusk shift against a setting without offsets at the base longitude.
        gap_min : int [minute]
            Dawn offset minus dusk offset.
        base_lon_deg, near_lon_deg : float [degree]
        count : int
            At most so many.

        Returns
        -------
        list of (keyed longitude -180..180, dusk offset, dawn offset)
        """
        limit, step = self.limit_min, self.keypad.coordinate_step_deg
        found = []
        for turns in (-1, 0, 1):
            for a in range(max(-limit, -limit - gap_min), min(limit, limit - gap_min) + 1):
                n = np.rint(((a - x_min) / 4.0 + base_lon_deg - 360.0 * turns) / step)
                lon = n * step
                if abs(lon) > 180.0 or abs(a - 4.0 * (lon + 360.0 * turns - base_lon_deg) - x_min) > self.blur_min + 1e-6:
                    continue
                far = abs(lon + 360.0 * turns - near_lon_deg)
                found.append((round(far, 6), abs(a), float(self.keypad.round_deg(lon)), a, a + gap_min))
        found.sort()
        return [item[2:] for item in found[:count]]
