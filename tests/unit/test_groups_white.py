"""The fewest settings beside white nights: bounds, single sites, plans, later years, against counting all settings out."""

from dataclasses import replace
from itertools import combinations
from types import SimpleNamespace

import numpy as np
import pytest

from geozone.grouping import groups as groups_module
from geozone.grouping.allowedshifts import AllowedShifts
from geozone.grouping.alone import best_alone
from geozone.grouping.groups import fewest_groups
from geozone.grouping.keyedcovers import best_cell, cell_of, exact_factor, model_factor
from geozone.grouping.keylattice import KeyLattice
from geozone.grouping.lateryears import later_years, said
from geozone.grouping.planrecords import GroupSetting
from geozone.grouping.settingcover import SettingCover
from geozone.grouping.siteparts import GroupSites
from geozone.numbers.shallow import judged_nights
from geozone.numbers.sun import State, switch_times
from geozone.setcover.neighbours import Neighbours
from geozone.setcover.relaxation import Relaxation, Relaxed
from geozone.sharing.drift import setting_drift
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Setting, Tolerance

YEAR, ALTITUDE = 2027, -4.0


def shifts_of(lat, lon, tolerance, keypad=Keypad(), cap=1.0):
    lat = np.asarray(lat, float)
    return AllowedShifts(lat, np.asarray(lon, float), np.arange(lat.size), Basis(YEAR, ALTITUDE, tolerance, keypad), KeyLattice.of(keypad, True), cap)


def plan_for(lat, lon, tolerance, keypad=Keypad(), zone="Europe/Oslo", **more):
    sites = GroupSites(lat, lon, YEAR, legal_zone=np.full(len(lat), zone, dtype=object))
    return fewest_groups(sites, Basis(YEAR, ALTITUDE, tolerance, keypad), **{"time_limit_s": 20, **more})


def drift(setting, lat, lon, tolerance, year=YEAR):
    return setting_drift(lat_deg=lat, lon_deg=lon, setting=setting, year=year, altitude_deg=ALTITUDE, tolerance=tolerance)


@pytest.mark.parametrize("lat_deg, shallow_deg", [(62.7, 0.0), (62.7, 1.0), (69.3, 1.0), (69.3, 0.0)])
def test_the_safe_side_never_misses_a_setting_that_works_however_far_its_longitude(lat_deg, shallow_deg):
    rng = np.random.default_rng(4)
    lat, lon = lat_deg + rng.uniform(-0.2, 0.2, 12), 15.0 + rng.uniform(-0.4, 0.4, 12)
    tolerance = Tolerance(25.0, 30.0, shallow_deg)
    shifts = shifts_of(lat, lon, tolerance)
    settings = [Setting(round(lat_deg + step, 1), key_lon, "Europe/Oslo", late + a, late + b) for step in (-0.1, 0.0, 0.1)
                for key_lon, late in ((15.0, 0), (12.0, -12), (19.5, 18), (-3.0, -72), (36.0, 84))
                for a, b in ((0, 0), (4, -3), (-5, 6))]
    exact = np.stack([exact_factor(shifts, setting, np.arange(12)) for setting in settings])
    cells = np.stack([cell_of(shifts, setting) for setting in settings])
    for factor in (1.0, 0.6):
        assert shifts.served(cells, factor, True)[exact <= factor].all()
    served = int((exact <= 0.6).sum())
    assert served > 50


def test_far_longitudes_do_not_loosen_the_bound():
    # At 78 N, keyed 25 degrees off, dusk moves by minutes in spring one way and in autumn the other: no milder on all nights.
    shifts = shifts_of([78.2], [15.6], Tolerance(10, 10, 1.0))
    near, safe = shifts.extremes(), shifts.extremes(safe=True)
    j = int(np.argmin(np.abs(shifts.key_lat_deg - 78.0)))
    spread = [float(one.dusk_most[j, 0] - one.dusk_least[j, 0]) for one in (near, safe)]
    assert 15 < spread[0] < 20 and spread[0] - 0.8 < spread[1]  # over the whole reach at once: 2.6 less
    assert spread[1] <= spread[0] + 0.01


def test_a_new_row_that_no_known_cell_serves_gets_one():
    shifts = shifts_of([60.0, 60.1, 66.0], [10.0, 10.1, 14.0], Tolerance(5, 5, 1.0))
    problem = SettingCover(shifts, np.arange(3))
    relaxation = Relaxation(problem, np.array([0, 1]), Neighbours(problem.at, problem.near))
    got = relaxation.raised(Relaxed(1, 1.0, np.array([0]), np.ones(1)), np.inf)
    assert got.lower_bound == 2 and 2 in got.rows


@pytest.mark.parametrize("lat, tolerance", [(62.65781, Tolerance(10, 10)), (69.3, Tolerance(6, 4)), (62.9, Tolerance(10, 10, 1.0))])
def test_one_site_by_itself_against_all_settings_round_it(lat, tolerance):
    shifts = shifts_of([lat], [6.24], tolerance, Keypad(0.2, 4))
    setting, factor = best_alone(shifts, 0, "Europe/Oslo")
    assert exact_factor(shifts, setting, np.array([0]))[0] == pytest.approx(factor, abs=1e-9)
    tried = [drift(Setting(round(setting.lat_deg + 0.2 * i, 1), round(6.2 + 0.2 * j, 1), "Europe/Oslo", a, b), [lat], [6.24], tolerance)
             .factor(tolerance)[0] for i in (-1, 0, 1) for j in (-1, 0, 2) for a in range(-4, 5) for b in range(-4, 5)]
    assert factor <= min(tried) + 1e-9


def test_best_cell_weighs_a_night_lit_for_nobody_against_dark():
    # 62.66 N has a night or two without dusk in June; a later dusk and an earlier dawn shorten what is lit then.
    shifts = shifts_of([62.65781], [6.24094], Tolerance(10, 10))
    rows = np.array([0])
    cell, factor = best_cell(shifts, rows)
    tried = [model_factor(shifts, np.array([j, p, i, k]), rows, 1.0)[0] for j in range(cell[0] - 1, cell[0] + 2)
             for p in range(5) for i in range(cell[2] - 9, cell[2] + 10) for k in range(cell[3] - 9, cell[3] + 10)]
    assert factor == pytest.approx(min(tried), abs=1e-6)
    assert factor < 1.0


def counted_out(lat, lon, tolerance, keypad, lats, lons):
    """The fewest settings by trying every one on the keypad: plain arrays of switching times and nothing else."""
    own = switch_times(lat_deg=lat, lon_deg=lon, year=YEAR, altitude_deg=ALTITUDE)
    counts = judged_nights(lat, lon, YEAR, ALTITUDE, tolerance.shallow_deg)
    offsets = np.arange(-keypad.offset_limit_min, keypad.offset_limit_min + 1)
    sets = set()
    for key_lat in lats:
        key = switch_times(lat_deg=np.full(lons.size, key_lat), lon_deg=lons, year=YEAR, altitude_deg=ALTITUDE)
        for p in range(lons.size):
            ok = np.zeros((len(lat), offsets.size, offsets.size), bool)
            for i in range(len(lat)):
                mine = counts[i]
                if (key.state[p, mine] != State.CROSSES).any():
                    continue  # at D of a degree such a night is far longer than any tolerance
                dusk, dawn = (key.dusk_utc_min[p] - own.dusk_utc_min[i])[mine], (key.dawn_utc_min[p] - own.dawn_utc_min[i])[mine]
                evening = (dusk.max() + offsets <= tolerance.dark_min) & (-dusk.min() - offsets <= tolerance.excess_min)
                morning = (dawn.max() + offsets <= tolerance.excess_min) & (-dawn.min() - offsets <= tolerance.dark_min)
                ok[i] = evening[:, None] & morning[None, :]
            sets |= {frozenset(np.flatnonzero(column).tolist()) for column in ok.reshape(len(lat), -1).T}
    sets = [one for one in sets if one and not any(one < other for other in sets)]
    for k in range(1, len(lat) + 1):
        if any(len(frozenset().union(*some)) == len(lat) for some in combinations(sets, k)):
            return k
    return None


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_count_is_least_beside_white_nights(seed):
    rng = np.random.default_rng(seed)
    lat, lon = rng.uniform(64.0, 65.6, 7), rng.uniform(12.0, 14.0, 7)
    keypad, tolerance = Keypad(0.4, 4), Tolerance(14, 14, 1.0)
    plan = plan_for(lat, lon, tolerance, keypad)
    lons = np.round(np.arange(-10, 37, 0.4) / 0.4) * 0.4
    least = counted_out(lat, lon, tolerance, keypad, np.round(np.arange(63.2, 66.8, 0.4) / 0.4) * 0.4, lons)
    assert not plan.unserved and plan.lower_bound <= least <= plan.count
    assert plan.proved and plan.count == least


def test_a_larger_depth_never_needs_more_settings_and_the_order_of_rows_is_nothing():
    rng = np.random.default_rng(8)
    lat, lon = rng.uniform(63.0, 66.0, 12), rng.uniform(9.0, 12.0, 12)
    plans = [plan_for(lat, lon, Tolerance(10, 10, depth)) for depth in (0.8, 1.5, 3.0)]
    assert all(one.proved for one in plans)
    counts = [one.count for one in plans]
    assert counts == sorted(counts, reverse=True) and counts[0] > counts[-1]
    order = rng.permutation(12)
    again = plan_for(lat[order], lon[order], Tolerance(10, 10, 1.5))
    assert [one.setting for one in again.settings] == [one.setting for one in plans[1].settings]
    assert (again.group_of_site == plans[1].group_of_site[order]).all()


def test_a_plan_that_fails_its_check_is_mended(monkeypatch):
    lat, lon = np.array([60.0, 60.05, 63.0, 63.05]), np.array([10.0, 10.1, 10.0, 10.1])
    real = groups_module.fewest

    def spoilt(*args, **more):
        found = real(*args, **more)
        first = replace(found.cover.settings[0], dusk_offset_min=found.cover.settings[0].dusk_offset_min + 40)
        found = replace(found, cover=replace(found.cover, settings=(first, *found.cover.settings[1:])))
        return found

    tolerance = Tolerance(8, 8, 1.0)
    good = plan_for(lat, lon, tolerance)
    monkeypatch.setattr(groups_module, "fewest", spoilt)
    plan = plan_for(lat, lon, tolerance)
    assert plan.count > good.count and plan.lower_bound <= good.count and (plan.group_of_site != "").all()
    for one in plan.settings:
        mine = plan.group_of_site == one.name
        assert not drift(one.setting, lat[mine], lon[mine], tolerance).nights_beyond.any()
    assert any("own check" in note for note in plan.notes)
    assert not any("own check" in note for note in good.notes)


def test_sites_without_a_setting_and_what_would_do():
    # One whole degree and no offsets: 62.6 N between two keyed latitudes.
    plan = plan_for([62.62, 62.0], [6.5, 6.0], Tolerance(3, 3), Keypad(1.0, 0))
    assert [one.unit for one in plan.unserved] == ["0"]
    one = plan.unserved[0]
    enough = Tolerance(one.dark_min * 1.0001, one.excess_min * 1.0001)
    assert not drift(one.setting, [62.62], [6.5], enough).nights_beyond.any()
    assert plan_for([62.62], [6.5], enough, Keypad(1.0, 0)).count == 1
    assert plan_for([62.62], [6.5], Tolerance(one.dark_min * 0.99, one.excess_min * 0.99), Keypad(1.0, 0)).count == 0
    assert any("No setting" in note for note in plan.notes)


def test_later_years_say_what_drift_says():
    # Settings that just keep the tolerance in 2027: next to the first white night another year passes it by minutes.
    lat, lon = np.array([62.62, 62.7, 62.66, 60.0]), np.array([6.0, 6.5, 7.0, 9.0])
    group, ids = np.array(["A", "A", "B", "C"], dtype=object), np.array(["a", "b", "c", "d"], dtype=object)
    keyed_to = {"A": Setting(62.7, 6.3, "Europe/Oslo", 3, -3), "B": Setting(62.6, 7.0, "Europe/Oslo"),
                "C": Setting(60.0, 9.0, "Europe/Oslo")}
    now = [drift(keyed_to[name], lat[group == name], lon[group == name], Tolerance()) for name in "ABC"]
    tolerance = Tolerance(max(one.worst_dark_min.max() for one in now) + 0.001, max(one.worst_excess_min.max() for one in now) + 0.001)
    settings = tuple(GroupSetting(name, setting, 0, "", 1, *([None] * 9)) for name, setting in keyed_to.items())
    found = later_years(SimpleNamespace(lat=lat, lon=lon, zone=np.full(4, "Europe/Oslo"), ids=ids), group, settings,
                        Basis(YEAR, ALTITUDE, tolerance))
    assert [one.year for one in found] == [2028, 2029, 2030]
    for one in found:
        over = {}
        for name, setting in keyed_to.items():
            mine = np.flatnonzero(group == name)
            later = drift(setting, lat[mine], lon[mine], tolerance, one.year)
            beyond = np.maximum(later.worst_dark_min - tolerance.dark_min, later.worst_excess_min - tolerance.excess_min)
            over |= {(name, str(ids[i])): minutes for i, minutes in zip(mine, beyond) if minutes > 0.015}
        assert (one.groups_beyond, one.sites_beyond) == (len({name for name, _ in over}), len(over))
        assert one.over_min == pytest.approx(max(over.values(), default=0.0), abs=1e-9)
        if over:
            assert one.site == max(over, key=over.get)[1] and one.night.startswith(str(one.year))
    assert any(one.groups_beyond for one in found)
    assert said(found, YEAR, 3).startswith("The plan is for 2027.")


def test_without_white_nights_the_years_are_alike_and_nothing_is_said():
    lat, lon = np.array([-35.0, -34.0, -36.0, -33.0]), np.array([140.0, 143.0, 146.0, 149.0])
    plan = plan_for(lat, lon, Tolerance(5, 5), zone="Australia/Melbourne")
    assert len(plan.later) == 3 and not any(one.groups_beyond for one in plan.later)
    assert said(plan.later, YEAR, plan.count) is None
    assert not any("2027" in note or "no dusk" in note for note in plan.notes)
    last = later_years(SimpleNamespace(lat=lat, lon=lon, zone=np.full(4, "Australia/Melbourne"), ids=np.arange(4)), plan.group_of_site,
                       plan.settings, Basis(2097, ALTITUDE, Tolerance(5, 5)))
    assert [one.year for one in last] == [2098]


def test_nights_without_dusk_are_named_only_where_there_are_any():
    # 61.9 N has dusk at -4 degrees all year, though latitudes that the search looks at have not.
    south = plan_for([61.9, 61.5], [9.0, 9.2], Tolerance(10, 10))
    north = plan_for([62.9, 62.95], [9.0, 9.2], Tolerance(10, 10))
    ruled = plan_for([62.9, 62.95], [9.0, 9.2], Tolerance(10, 10, 1.0))
    assert [any("no dusk" in note for note in one.notes) for one in (south, north, ruled)] == [False, True, False]
