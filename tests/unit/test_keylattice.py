"""Which shifts a keypad can give."""

import numpy as np
import pytest

from geozone.grouping.keylattice import KeyLattice
from geozone.trade.keypad import Keypad


def brute_shifts(step, limit):
    """All (dusk shift, dawn shift) near the base that positions and offsets give."""
    return {(round(a - 4 * n * step, 6), round(b - 4 * n * step, 6))
            for n in range(-60, 61) for a in range(-limit, limit + 1) for b in range(-limit, limit + 1)}


@pytest.mark.parametrize("step, limit, phases", [(0.1, 3, 5), (1.0, 2, 1), (0.25, 1, 1), (0.05, 2, 5), (0.3, 0, 5), (5.0, 3, 1)])
def test_the_lattice_is_exactly_the_keypads(step, limit, phases):
    lattice = KeyLattice.of(Keypad(step, limit), True)
    assert lattice.phases.size == phases and lattice.blur_min == 0
    can = lattice.possible(-4, 9, -8, 17)
    found = {(round(i - 4 + phase, 6), round(i - 4 + phase + d - 8, 6))
             for p, phase in enumerate(lattice.phases) for i in range(9) for d in range(17) if can[p, i, d]}
    want = {(x, y) for x, y in brute_shifts(step, limit) if -4 <= x < 5 and -8 <= y - x <= 8}
    assert found == want


def test_without_offsets_only_positions():
    lattice = KeyLattice.of(Keypad(0.1, 99), False)
    can = lattice.possible(-2, 4, -1, 3)
    assert not can[:, :, [0, 2]].any()
    shifts = sorted(round(i - 2 + lattice.phases[p], 6) for p, i in np.argwhere(can[:, :, 1]))
    assert shifts == [-2.0, -1.6, -1.2, -0.8, -0.4, 0.0, 0.4, 0.8, 1.2, 1.6]


def test_keyings_give_the_shift():
    lattice = KeyLattice.of(Keypad(0.1, 20), True)
    for x, gap in ((0.2, 0), (-3.6, 2), (7.4, -5)):
        for lon, dusk, dawn in lattice.keyings(x, gap, 143.0, 144.0, count=5):
            assert dusk - 4 * (lon - 143.0) == pytest.approx(x) and dawn - dusk == gap
            assert abs(dusk) <= 20 and abs(dawn) <= 20 and lattice.keypad.round_deg(lon) == lon
    assert lattice.keyings(0.1, 0, 143.0, 143.0) == []


def test_across_the_antimeridian():
    """Unwrapped 181 degrees is keyed as -179."""
    lattice = KeyLattice.of(Keypad(), True)
    lon, dusk, dawn = lattice.keyings(0.0, 0, 181.0, 181.0)[0]
    assert (lon, dusk, dawn) == (-179.0, 0, 0)


def test_a_keypad_finer_than_the_raster_is_allowed_for():
    lattice = KeyLattice.of(Keypad(0.001, 9), True)
    assert lattice.blur_min == pytest.approx(0.02)
    key, half = lattice.latitudes(-35.0, -34.0)
    assert key[0] <= -35.0 and key[-1] >= -34.0
    assert np.diff(key).max() <= 2 * half + 0.001 + 1e-9


def test_latitudes_stop_at_the_poles():
    key, half = KeyLattice.of(Keypad(0.7, 9), True).latitudes(85, 95)
    assert key.max() <= 90 and half == 0
