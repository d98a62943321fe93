"""Boxes of allowed shifts against whole years of switching times and against the drift kernel."""

import numpy as np
import pytest

from geozone.grouping.allowedshifts import AllowedShifts
from geozone.grouping.keyedcovers import best_cell, exact_factor, keyed, model_factor
from geozone.grouping.keylattice import KeyLattice
from geozone.grouping.yearlyextremes import Probe, yearly_extremes
from geozone.numbers.sun import switch_times
from geozone.sharing.drift import setting_drift
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Setting, Tolerance

LAT = np.array([-37.2, -35.03, -33.9])
LON = np.array([143.1, 143.3, 143.2])


def extremes(lat=LAT, lon=LON, key=(-36.0, -35.0, -34.0), altitude=-4.0, dark=5.0, excess=10.0, reach=30.0):
    probe = Probe(np.array(key), 143.0, reach, 0.0, dark, excess)
    return yearly_extremes(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=altitude, probe=probe)[:3]


def late(lat, lon, key_lat, key_lon, altitude=-4.0):
    own = switch_times(lat_deg=lat, lon_deg=lon, year=2027, altitude_deg=altitude)
    given = switch_times(lat_deg=key_lat, lon_deg=key_lon, year=2027, altitude_deg=altitude)
    return given.dusk_utc_min[0] - own.dusk_utc_min, given.dawn_utc_min[0] - own.dawn_utc_min


def test_nearest_is_the_year_of_a_setting_at_the_block_longitude():
    nearest, _, plain = extremes()
    assert plain
    for j, key_lat in enumerate((-36.0, -35.0, -34.0)):
        dusk, dawn = late(LAT, LON, key_lat, 143.2)  # the middle of the sites' longitudes
        shift = 4 * (143.2 - 143.0)
        for got, want in ((nearest.dusk_most[j], dusk.max(axis=1)), (nearest.dusk_least[j], dusk.min(axis=1)),
                          (nearest.dawn_most[j], dawn.max(axis=1)), (nearest.dawn_least[j], dawn.min(axis=1))):
            assert got == pytest.approx(want + shift, abs=5e-4)


@pytest.mark.parametrize("altitude, lat", [(-4.0, LAT), (-6.0, np.array([54.0, 55.2, 56.1])), (-0.8333, np.array([0.5, 1.0, -2.0]))])
def test_easiest_is_milder_than_any_longitude_within_reach(altitude, lat):
    key_lat = round(float(lat.mean()), 1)
    _, easiest, _ = extremes(lat=lat, key=(key_lat,), altitude=altitude)
    for key_lon in np.linspace(143.2 - 30, 143.2 + 30, 13):
        dusk, dawn = late(lat, LON, key_lat, key_lon, altitude)
        moved = 4 * (key_lon - 143.0)
        assert (easiest.dusk_most[0] <= dusk.max(axis=1) + moved).all()
        assert (easiest.dusk_least[0] >= dusk.min(axis=1) + moved).all()
        assert (easiest.dawn_most[0] <= dawn.max(axis=1) + moved).all()
        assert (easiest.dawn_least[0] >= dawn.min(axis=1) + moved).all()
    nearest, _, _ = extremes(lat=lat, key=(key_lat,), altitude=altitude)
    # And not milder by much: a quarter of a minute over 30 degrees.
    assert (nearest.dusk_most[0] - easiest.dusk_most[0] < 0.25).all()


def test_late_dusk_is_dark_and_early_dawn_is_dark():
    """A setting 3 minutes late at dusk and at dawn: 3 dark minutes in the evening, 3 excess in the morning."""
    shifts = AllowedShifts(np.array([-35.0]), np.array([143.0]), np.array([0]), Basis(2027, -4.0, Tolerance(4.0, 2.0)), KeyLattice.of(Keypad(), True))
    j = int(np.argmin(np.abs(shifts.key_lat_deg + 35.0)))
    cell = np.array([j, 0, 3, 3])
    assert model_factor(shifts, cell, np.array([0]), 1.0)[0] == pytest.approx(3 / 2, abs=2e-3)  # excess 3 of 2
    cell = np.array([j, 0, 3, -3])
    assert model_factor(shifts, cell, np.array([0]), 1.0)[0] == pytest.approx(3 / 4, abs=2e-3)  # dark 3 of 4, twice
    setting = keyed(shifts, cell, 143.0, "Australia/Melbourne")
    assert (setting.lon_deg, setting.dusk_offset_min, setting.dawn_offset_min) == (143.0, 3, -3)


@pytest.mark.parametrize("lat_deg, altitude_deg", [(-35.0, -4.0), (52.0, -6.0), (59.7, -6.0), (61.5, -6.0), (66.3, -0.8333),
                                                   (68.0, -0.8333)])
def test_the_model_agrees_with_the_drift_kernel(lat_deg, altitude_deg):
    """White nights and polar nights included: where the model says within, the kernel says so, up to hundredths."""
    rng = np.random.default_rng(3)
    lat, lon = lat_deg + rng.uniform(-0.4, 0.4, 40), 24.0 + rng.uniform(-0.5, 0.5, 40)
    tolerance = Tolerance(12.0, 15.0)
    shifts = AllowedShifts(lat, lon, np.arange(40), Basis(2027, altitude_deg, tolerance), KeyLattice.of(Keypad(), True))
    assert shifts.plain == (lat_deg < 59)
    rows = np.arange(40)
    checked = 0
    for j in np.argsort(np.abs(shifts.key_lat_deg - lat_deg))[:8]:
        for shift in ((0, 0), (2, -1), (-3, 3)):
            cell = np.array([j, 0, *shift])
            model = model_factor(shifts, cell, rows, 1.0)
            safe = shifts.served(cell[None, :], 1.0, True)[0]
            exact = exact_factor(shifts, keyed(shifts, cell, 24.0, "Europe/Helsinki"), rows)
            assert (exact[model <= 1.0] <= 1.01).all()
            # The other way round it must never miss what works: that would make a lower bound wrong.
            assert safe[exact <= 1.0].all()
            checked += int((exact <= 1.0).sum())
    assert checked > 0 or lat_deg > 66


def test_a_white_night_forbids_what_no_shift_can_mend():
    """Helsinki (60.2 N) has civil dusk all year; 61.5 N has none in June: lights off all night there are dark there."""
    shifts = AllowedShifts(np.array([60.2]), np.array([25.0]), np.array([0]), Basis(2027, -6.0, Tolerance(10, 10)), KeyLattice.of(Keypad(), True))
    dark = setting_drift(lat_deg=[60.2], lon_deg=[25.0], setting=Setting(61.5, 25.0, "Europe/Helsinki"), year=2027,
                         altitude_deg=-6.0)
    assert dark.worst_dark_edge[0] == "night"
    j = int(np.argmin(np.abs(shifts.key_lat_deg - 61.5)))
    if abs(shifts.key_lat_deg[j] - 61.5) < 0.01:
        assert not shifts.served(np.array([[j, 0, 0, 0]]), 1.0, True)[0, 0]
    assert shifts.extremes().need is not None


def test_best_cell_is_best_of_the_lattice():
    shifts = AllowedShifts(np.array([-35.5, -34.2]), np.array([142.0, 143.0]), np.array([0, 1]), Basis(2027, -4.0, Tolerance(5.0, 8.0)), KeyLattice.of(Keypad(), True))
    rows = np.array([0, 1])
    cell, factor = best_cell(shifts, rows)
    tried = [model_factor(shifts, np.array([j, p, i, k]), rows, 1.0).max()
             for j in range(cell[0] - 3, cell[0] + 4) for p in range(5)
             for i in range(cell[2] - 2, cell[2] + 3) for k in range(cell[3] - 2, cell[3] + 3)]
    assert factor == pytest.approx(min(tried), abs=1e-6)
    assert best_cell(shifts, rows, safe=True)[1] <= factor
