"""A limit that is too short for sites far apart: the plan is quick, every site in it is within tolerance, and its bound is true."""

import itertools

import numpy as np
import pytest

from geozone.grouping.allowedshifts import AllowedShifts
from geozone.grouping.fewestsettings import fewest
from geozone.grouping.groups import fewest_groups
from geozone.grouping.hurried import hurried, in_a_hurry
from geozone.grouping.keylattice import KeyLattice
from geozone.grouping.siteparts import GroupSites
from geozone.sharing.drift import drift_at
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Tolerance


def towns(sites, places, south, west, high, wide, seed=1):
    pick = np.random.default_rng(seed)
    at = np.column_stack((pick.uniform(south, south + high, places), pick.uniform(west, west + wide, places)))
    return (at[pick.integers(0, places, sites)] + pick.normal(0, 0.03, (sites, 2))).T


@pytest.fixture(scope="module")
def wide():
    """1,200 sites over 12 by 14 degrees, a limit of a second, units of two sites and a group of today."""
    lat, lon = towns(1200, 120, -38, 138, 12, 14)
    unit = np.full(1200, "", object)
    unit[:40] = [f"c{i // 2}" for i in range(40)]
    lat[1:40:2], lon[1:40:2] = lat[0:40:2] + 0.02, lon[0:40:2]
    basis = Basis(2027, -4.0, Tolerance(5, 10))
    sites = GroupSites(lat, lon, 2027, keep_together=unit, existing=["old"] * 1200)
    return lat, lon, unit, basis, fewest_groups(sites, basis, time_limit_s=1, curve_to=3, after=0)


def test_everybody_is_served_by_the_setting_of_its_group(wide):
    lat, lon, unit, basis, plan = wide
    assert plan.count == len(plan.settings) > plan.lower_bound > 3 and not plan.unserved
    for one in plan.settings:
        mine = plan.group_of_site == one.name
        assert mine.sum() == one.sites and not drift_at(lat[mine], lon[mine], one.setting, basis).nights_beyond.any()
    assert all(len(set(plan.group_of_site[unit == name])) == 1 for name in set(unit) - {""})


def test_it_says_that_it_is_quick_and_what_was_left_out(wide):
    plan = wide[-1]
    assert plan.curve == () and plan.existing is None
    assert any("quick plan" in note and "the curve and the comparison with the groups of today" in note for note in plan.notes)
    assert not any("No site names a group" in note for note in plan.notes)


def test_no_two_proof_sites_can_share_a_setting(wide):
    """By the search itself, over the positions and offsets of the keypad; it knows nothing of how they were found."""
    lat, lon, _, basis, plan = wide
    assert plan.witnesses.kind == "apart" and len(plan.witnesses.site_ids) == plan.lower_bound
    near = sorted(itertools.combinations(plan.witnesses.site_ids, 2), key=lambda pair: np.hypot(*(v[pair[0]] - v[pair[1]] for v in (lat, lon))))
    for pair in near[:2]:
        shifts = AllowedShifts(lat[list(pair)], lon[list(pair)], np.arange(2), basis, KeyLattice.of(basis.keypad, True))
        assert len(fewest(shifts, np.arange(2), "UTC", 5.0).cover) == 2, pair


def test_bounds_of_the_quick_way_and_of_the_search_agree():
    lat, lon = towns(60, 20, 50, 0, 3, 4)
    order = np.lexsort((lon, lat))
    for tolerance, keypad, offsets in ((Tolerance(3, 6), Keypad(), True), (Tolerance(4, 4), Keypad(0.5), False)):
        shifts = AllowedShifts(lat[order], lon[order], np.arange(60), Basis(2027, -4.0, tolerance, keypad), KeyLattice.of(keypad, offsets))
        quick, served = hurried(shifts, "UTC", 1.0)
        assert not shifts._made  # no boxes
        rows = np.flatnonzero(served & shifts.servable(1.0, False))
        slow = fewest(shifts, rows, "UTC", 20.0)
        assert served[rows].all() and quick.lower_bound <= len(slow.cover.settings) and slow.lower_bound <= len(quick.cover.settings)
        if not offsets:
            assert all(one.dusk_offset_min == one.dawn_offset_min == 0 for one in quick.cover.settings)


def test_white_nights_are_judged_by_the_drift():
    lat, lon = np.array([60.0, 63.0, 66.0, 69.0, 69.2]), np.array([11.0, 12.0, 14.0, 19.0, 19.1])
    basis = Basis(2027, -4.0, Tolerance(15, 15, shallow_deg=1.0))
    shifts = AllowedShifts(lat, lon, np.arange(5), basis, KeyLattice.of(Keypad(), True))
    found, served = hurried(shifts, "Europe/Oslo", 1.0)
    assert served.any() and found.cover.rows.tolist() == np.flatnonzero(served).tolist()
    for number, setting in enumerate(found.cover.settings):
        mine = found.cover.rows[found.cover.of_row == number]
        assert not drift_at(lat[mine], lon[mine], setting, basis).nights_beyond.any()


def test_only_a_short_limit_over_wide_ground_hurries():
    lattice, basis = KeyLattice.of(Keypad(), True), Basis(2027, -4.0)
    lat, lon = towns(3000, 200, -38, 138, 12, 14)
    assert in_a_hurry(lat, lon, basis, lattice, 1.0) and not in_a_hurry(lat, lon, basis, lattice, 60.0)
    assert not in_a_hurry(lat[:600] / 10, lon[:600] / 10, basis, lattice, 1.0)
