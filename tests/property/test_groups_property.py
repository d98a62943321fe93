"""Groupings against brute force over every setting that a coarse keypad holds."""

import itertools

import numpy as np
from hypothesis import given
from hypothesis import settings as budget
from hypothesis import strategies as st

from geozone.grouping import shiftcells
from geozone.grouping.allowedshifts import AllowedShifts
from geozone.grouping.groups import fewest_groups
from geozone.grouping.keylattice import KeyLattice
from geozone.grouping.siteparts import GroupSites
from geozone.numbers.sun import switch_times
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Tolerance

YEAR, ALTITUDE = 2027, -4.0
COARSE = Keypad(coordinate_step_deg=1.0, offset_limit_min=2)

places = st.lists(st.tuples(st.integers(0, 300), st.integers(0, 300)), min_size=1, max_size=12)
minutes = st.integers(5, 14)


def positions(points):
    return np.array([-36.0 + a / 100 for a, _ in points]), np.array([142.0 + b / 100 for _, b in points])


def plan(points, dark, excess, keypad=COARSE, **more):
    lat, lon = positions(points)
    options = {name: more.pop(name) for name in ("offsets", "curve_to", "time_limit_s") if name in more}
    return fewest_groups(GroupSites(lat, lon, YEAR, **more), Basis(YEAR, ALTITUDE, Tolerance(dark, excess), keypad), **options)


def every_setting(points, dark, excess, keypad, offsets=True):
    """Bit masks of the sites that each setting of the keypad serves, from whole years of switching times."""
    lat, lon = positions(points)
    step, limit = keypad.coordinate_step_deg, keypad.offset_limit_min if offsets else 0
    reach = (max(dark, excess) + limit) / 4 + 1
    keyed = np.array([(p * step, q * step) for p in range(int(np.floor(lat.min() / step)) - 4, int(np.ceil(lat.max() / step)) + 5)
                      for q in range(int(np.floor((lon.min() - reach) / step)), int(np.ceil((lon.max() + reach) / step)) + 1)])
    own = switch_times(lat_deg=lat, lon_deg=lon, year=YEAR, altitude_deg=ALTITUDE)
    given_ = switch_times(lat_deg=keyed[:, 0], lon_deg=keyed[:, 1], year=YEAR, altitude_deg=ALTITUDE)
    late_dusk = given_.dusk_utc_min[:, None, :] - own.dusk_utc_min[None]
    late_dawn = given_.dawn_utc_min[:, None, :] - own.dawn_utc_min[None]
    dusk = [(late_dusk.max(axis=2) + a <= dark) & (late_dusk.min(axis=2) + a >= -excess) for a in range(-limit, limit + 1)]
    dawn = [(late_dawn.max(axis=2) + b <= excess) & (late_dawn.min(axis=2) + b >= -dark) for b in range(-limit, limit + 1)]
    bit = 1 << np.arange(lat.size)
    return {int(mask) for a in dusk for b in dawn for mask in ((a & b) @ bit)} - {0}


def brute_force(masks, n):
    """Fewest masks whose union is everything that any of them holds; and that union."""
    everything = 0
    for mask in masks:
        everything |= mask
    reached, count = {0}, 0
    while everything not in reached:
        reached = {have | mask for have in reached for mask in masks}
        count += 1
    return count, everything


@budget(max_examples=20, deadline=None)
@given(places, minutes, minutes, st.booleans())
def test_brute_force(points, dark, excess, offsets):
    points = sorted(set(points))
    best, served = brute_force(every_setting(points, dark, excess, COARSE, offsets), len(points))
    answer = plan(points, dark, excess, offsets=offsets)
    assert answer.lower_bound <= best <= answer.count
    assert answer.count <= best + answer.gap
    assert {i for one in answer.unserved for i in one.site_ids} == {i for i in range(len(points)) if not served >> i & 1}
    assert answer.worst_dark_min <= dark + 1e-6 and answer.worst_excess_min <= excess + 1e-6


def test_small_problems_are_settled():
    """On twenty drawn instances of twelve sites: the plan is brute force's every time, and nearly always proved so."""
    rng, proved = np.random.default_rng(0), 0
    for _ in range(20):
        points = sorted({(int(a), int(b)) for a, b in rng.integers(0, 301, (12, 2))})
        dark, excess = (int(v) for v in rng.integers(6, 15, 2))
        best, _ = brute_force(every_setting(points, dark, excess, COARSE), len(points))
        answer = plan(points, dark, excess)
        assert answer.count == best
        proved += answer.proved
    assert proved >= 18


@budget(max_examples=8, deadline=None)
@given(places, minutes, st.integers(0, 6), st.permutations(range(12)))
def test_more_tolerance_never_needs_more_and_order_does_not_matter(points, tolerance, more, shuffle):
    points = sorted(set(points))
    keypad = Keypad()
    answer = plan(points, tolerance, tolerance, keypad)
    assert answer.proved and answer.unserved == ()
    assert plan(points, tolerance + more, tolerance + more, keypad).count <= answer.count
    order = [i for i in shuffle if i < len(points)]
    turned = plan([points[i] for i in order], tolerance, tolerance, keypad)
    assert turned.settings == tuple(
        type(s)(**{**vars(s), "worst_dark_site": None if s.worst_dark_site is None else order.index(s.worst_dark_site),
                   "worst_excess_site": None if s.worst_excess_site is None else order.index(s.worst_excess_site)})
        for s in answer.settings)
    assert list(turned.group_of_site) == [answer.group_of_site[i] for i in order]


@budget(max_examples=10, deadline=None)
@given(places, st.tuples(st.integers(0, 300), st.integers(0, 300)), minutes)
def test_one_more_site_never_needs_fewer(points, extra, tolerance):
    points = sorted(set(points))
    before = plan(points, tolerance, tolerance, Keypad())
    after = plan([*points, extra], tolerance, tolerance, Keypad())
    assert before.lower_bound <= after.count and before.count <= after.count


@budget(max_examples=10, deadline=None)
@given(places, minutes, st.data())
def test_one_latitude_is_decided_by_pairs(points, tolerance, data):
    """Rectangles share a point exactly when every two of them do (Helly; from memory), so on one keyed latitude and
    phase the most that a cell serves is the largest set of which every two overlap."""
    lat, lon = positions(sorted(set(points)))
    shifts = AllowedShifts(lat, lon, np.arange(lat.size), Basis(YEAR, ALTITUDE, Tolerance(tolerance, tolerance)), KeyLattice.of(Keypad(), True))
    bounds = shifts.bounds(1.0, False)
    n_lat, phases = shifts.key_lat_deg.size, shifts.lattice.phases
    grid = shifts.grid(bounds)
    shape = (n_lat, phases.size, -(-grid[0].shape[1] // shiftcells.STRIP_MIN))
    weight, where = np.zeros(shape), np.zeros((*shape, 2), np.int64)
    shiftcells.heaviest(bounds.box, bounds.longest_lit, phases, *grid, np.ones(shifts.n), 0, n_lat, weight, where)
    j, p = data.draw(st.integers(0, n_lat - 1)), data.draw(st.integers(0, phases.size - 1))
    box = bounds.box[:, j].astype(float) - phases[p]
    low, high = np.ceil(box[[0, 2]] - 1e-5), np.floor(box[[1, 3]] + 1e-5)
    there = [i for i in range(shifts.n) if (low[:, i] <= high[:, i]).all()]
    overlap = {(a, b) for a, b in itertools.combinations(there, 2)
               if (np.maximum(low[:, a], low[:, b]) <= np.minimum(high[:, a], high[:, b])).all()}
    most = next(size for size in range(len(there), -1, -1)
                if any(all(pair in overlap for pair in itertools.combinations(some, 2))
                       for some in itertools.combinations(there, size)))
    assert weight[j, p].max() == most
