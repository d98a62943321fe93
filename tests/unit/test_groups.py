"""The fewest settings, end to end over arrays and tables."""

import itertools
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest

from geozone.errors import InputError, PlanCheckError
from geozone.grouping import fewestsettings as fewest_module
from geozone.grouping import groups
from geozone.grouping.checkedgroups import group_name
from geozone.grouping.groups import fewest_groups, groups_of
from geozone.grouping.siteparts import GroupSites
from geozone.grouping.witnesses import told
from geozone.sharing.drift import setting_drift
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Tolerance

RNG = np.random.default_rng(11)
TOWN_LAT, TOWN_LON = RNG.uniform(-38, -33, 8), RNG.uniform(140, 147, 8)
TOWN = RNG.integers(0, 8, 160)
LAT, LON = TOWN_LAT[TOWN] + RNG.normal(0, 0.04, 160), TOWN_LON[TOWN] + RNG.normal(0, 0.04, 160)


def plan(lat=LAT, lon=LON, dark=5.0, excess=10.0, altitude=-4.0, keypad=Keypad(), **more):
    options = {name: more.pop(name) for name in ("offsets", "curve_to", "time_limit_s") if name in more}
    return fewest_groups(GroupSites(lat, lon, 2027, **more), Basis(2027, altitude, Tolerance(dark, excess), keypad), **options)


@pytest.fixture(scope="module")
def answer():
    return plan(curve_to=5, existing=TOWN.astype(str), legal_zone=np.full(160, "Australia/Adelaide"))


def test_every_site_is_in_one_group_and_within_tolerance(answer):
    assert answer.proved and answer.gap == 0 and answer.unserved == ()
    assert sum(s.sites for s in answer.settings) == 160 and answer.count == len(answer.settings)
    for s in answer.settings:
        mine = answer.group_of_site == s.name
        worst = setting_drift(lat_deg=LAT[mine], lon_deg=LON[mine], setting=s.setting, year=2027, altitude_deg=-4.0,
                              tolerance=Tolerance(5, 10))
        assert mine.sum() == s.sites and not worst.nights_beyond.any()
        assert worst.worst_dark_min.max() == s.worst_dark_min
        assert np.flatnonzero(mine)[np.argmax(worst.worst_dark_min)] == s.worst_dark_site
        assert s.worst_dark_night.startswith("2027-") and s.worst_dark_edge in ("dusk", "dawn")


def test_names_read_from_the_north_west(answer):
    middle = {s.name: (LAT[answer.group_of_site == s.name].mean(), LON[answer.group_of_site == s.name].mean())
              for s in answer.settings}
    assert [s.name for s in answer.settings] == [group_name(i) for i in range(answer.count)]
    north, last = max(v[0] for v in middle.values()), list(middle)[-1]
    assert middle["A"][0] > np.mean([v[0] for v in middle.values()]) or answer.count == 1
    assert middle[last][0] < north


def test_group_names():
    assert [group_name(i) for i in (0, 25, 26, 27, 51, 52, 701, 702)] == ["A", "Z", "AA", "AB", "AZ", "BA", "ZZ", "AAA"]


def test_witnesses_cannot_share(answer):
    sites = np.array(answer.witnesses.site_ids)
    assert answer.witnesses.kind == "apart" and sites.size == answer.lower_bound
    for a, b in itertools.combinations(sites, 2):
        assert plan(LAT[[a, b]], LON[[a, b]]).count == 2
    assert f"need {answer.count} settings" in answer.witnesses.sentence


def test_weights_are_told_as_weights():
    text = told([["a", "b", "c"]], [np.array([0.5, 0.5, 0.5])], ["weights"], [2]).sentence
    assert "1.50" in text and "at least 2 settings" in text
    assert "alone need 2 settings" in told([["a", "b", "c"]], [np.ones(3)], ["together"], [2]).sentence
    assert told([["a"]], [np.ones(1)], ["apart"], [1]).kind == "none"


def test_curve_falls_and_agrees_with_the_best_shared_setting(answer):
    from geozone.sharing.shared import best_shared_setting

    factor = [point.factor for point in answer.curve]
    assert [point.k for point in answer.curve] == [1, 2, 3, 4, 5]
    assert factor == sorted(factor, reverse=True)
    assert all(point.bound_factor <= point.factor and point.proved and len(point.settings) <= point.k
               for point in answer.curve)
    found = best_shared_setting(lat_deg=LAT, lon_deg=LON, legal_zone="Australia/Adelaide", year=2027, altitude_deg=-4.0,
                                tolerance=Tolerance(5, 10), keypad=Keypad())
    setting = found if hasattr(found, "lat_deg") else found[0]
    other = setting_drift(lat_deg=LAT, lon_deg=LON, setting=setting, year=2027, altitude_deg=-4.0,
                          tolerance=Tolerance(5, 10)).factor(Tolerance(5, 10)).max()
    assert answer.curve[0].bound_factor <= other + 1e-9 and answer.curve[0].factor <= other + 0.01
    within = [point.k for point in answer.curve if point.factor <= 1]
    assert min(within, default=6) == min(answer.count, 6)


def test_existing_groups(answer):
    compared = answer.existing
    assert {g.name for g in compared.groups} == set(TOWN.astype(str)) and sum(g.sites for g in compared.groups) == 160
    assert all(g.served and g.settings_needed == 1 and g.tolerance_factor <= 1 for g in compared.groups)
    assert compared.settings_saved == compared.settings_needed - answer.count == len(compared.groups) - answer.count


def test_sites_that_name_no_group_of_today_are_no_group():
    """Two towns 7 degrees apart (28 minutes of sun); the eastern names no group, so it is no part of the comparison."""
    lat, lon = np.array([-35.0, -35.1, -35.0, -35.1]), np.array([140.0, 140.1, 147.0, 147.1])
    answer = plan(lat, lon, existing=["west", "west", "", None])
    compared = answer.existing
    assert answer.count == 2 and [(one.name, one.sites) for one in compared.groups] == [("west", 2)]
    assert (compared.settings_needed, compared.settings_saved, compared.without) == (1, 0, 2)
    assert plan(lat, lon, existing=["", None, " ", float("nan")]).existing is None
    named = plan(lat, lon, existing=["a", "b", "c", "d"]).existing
    assert (named.settings_needed, named.settings_saved, named.without) == (4, 2, 0)


def test_an_existing_group_that_one_setting_cannot_serve():
    answer = plan(np.array([-35.0, -35.0, -35.1]), np.array([140.0, 147.0, 140.1]), existing=["west and east"] * 3)
    group, = answer.existing.groups
    assert not group.served and group.settings_needed == 2 and answer.existing.settings_saved == 0
    assert group.tolerance_factor > 1 and group.worst_dark_min > 5


def test_clock_rules_do_not_mix_and_an_override_is_obeyed():
    """Two places 40 km apart on either side of a half-hour border need two settings, unless one keeps the other's time."""
    lat, lon = np.array([-34.2, -34.2]), np.array([140.8, 141.2])
    both = plan(lat, lon, legal_zone=["Australia/Adelaide", "Australia/Melbourne"])
    assert (both.count, both.lower_bound) == (2, 2)
    assert [s.setting.legal_zone for s in both.settings] == ["Australia/Adelaide", "Australia/Melbourne"]
    assert plan(lat, lon, legal_zone=["Australia/Adelaide"] * 2).count == 1
    # Melbourne and Sydney have different names and the same offsets.
    assert plan(lat, lon, legal_zone=["Australia/Melbourne", "Australia/Sydney"]).count == 1
    assert plan(lat, lon, clock_rule=[0, 1]).count == 2


def test_units_stay_together_and_areas_apart():
    unit = np.array([f"cabinet {t} {i % 5}" for t, i in zip(TOWN, range(160))])
    answer = plan(keep_together=unit)
    for name in set(unit):
        assert len(set(answer.group_of_site[unit == name])) == 1
    assert answer.count >= plan().count
    half = np.where(LON < 143.5, "west", "east")
    apart = plan(within=half)
    for s in apart.settings:
        assert set(half[apart.group_of_site == s.name]) == {s.within}
    assert apart.count == apart.lower_bound == sum(plan(LAT[half == h], LON[half == h]).count for h in ("west", "east"))


def test_a_unit_that_no_setting_serves_is_named_with_what_would_do():
    unit = ["spread"] * 2 + ["", ""]
    lat, lon = np.array([-35.0, -35.0, -35.0, -35.2]), np.array([140.0, 146.0, 140.1, 140.2])
    answer = plan(lat, lon, keep_together=unit, site_id=["a", "b", "c", "d"])
    one, = answer.unserved
    assert (one.unit, set(one.site_ids)) == ("spread", {"a", "b"})
    assert list(answer.group_of_site) == ["", "", "A", "A"] and answer.count == 1
    enough = plan(lat[:2], lon[:2], one.dark_min * 1.0001, one.excess_min * 1.0001, keep_together=unit[:2])
    assert enough.unserved == () and enough.count == 1
    little = plan(lat[:2], lon[:2], one.dark_min * 0.99, one.excess_min * 0.99, keep_together=unit[:2])
    assert len(little.unserved) == 1 and little.count == 0 and "No setting of this keypad serves" in " ".join(little.notes)


def test_a_tolerance_below_the_keypads_rounding():
    answer = plan(np.array([-35.04]), np.array([143.03]), 0.01, 0.01)
    assert answer.count == 0 and answer.unserved[0].tolerance_factor > 1
    assert answer.unserved[0].dark_min == pytest.approx(0.01 * answer.unserved[0].tolerance_factor)


def test_without_offsets_never_fewer():
    bare, full = plan(offsets=False), plan()
    assert bare.count >= full.count and bare.lower_bound >= full.lower_bound
    assert all(s.setting.dusk_offset_min == s.setting.dawn_offset_min == 0 for s in bare.settings)


def test_white_nights():
    """Around the latitude where civil twilight lasts all night, some sites have no dusk for weeks."""
    rng = np.random.default_rng(2)
    lat, lon = rng.uniform(59.6, 61.4, 30), rng.uniform(24, 26, 30)
    answer = plan(lat, lon, 20, 20, altitude=-6.0, legal_zone=["Europe/Helsinki"] * 30)
    assert any("no dusk" in note for note in answer.notes)
    assert sum(s.sites for s in answer.settings) + sum(len(u.site_ids) for u in answer.unserved) == 30
    for s in answer.settings:
        mine = answer.group_of_site == s.name
        worst = setting_drift(lat_deg=lat[mine], lon_deg=lon[mine], setting=s.setting, year=2027, altitude_deg=-6.0,
                              tolerance=Tolerance(20, 20))
        assert not worst.nights_beyond.any()


def test_across_the_antimeridian():
    answer = plan(np.array([-17.0, -17.1, -16.9]), np.array([179.9, -179.9, -179.2]), legal_zone=["Pacific/Fiji"] * 3)
    assert answer.count == 1 and abs(answer.settings[0].setting.lon_deg) <= 180


def test_the_time_limit_gives_a_plan_and_says_what_is_open():
    rng = np.random.default_rng(4)
    lat, lon = rng.uniform(-38, -32, 1500), rng.uniform(140, 147, 1500)
    answer = plan(lat, lon, 3, 3, time_limit_s=1.0)
    assert sum(s.sites for s in answer.settings) == 1500 and answer.lower_bound <= answer.count
    assert answer.proved == (answer.gap == 0)
    if answer.gap:
        assert f"at least {answer.lower_bound} are needed" in answer.notes[0]


def test_a_plan_that_fails_its_check_is_mended(monkeypatch):
    def wrong(*args, **kwargs):
        found = fewest_module.fewest(*args, **kwargs)
        late = tuple(replace(s, dusk_offset_min=s.dusk_offset_min + 30) for s in found.cover.settings)
        found = replace(found, cover=replace(found.cover, settings=late))
        return found

    monkeypatch.setattr(groups, "fewest", wrong)
    answer = plan(LAT[:10], LON[:10])
    assert (answer.group_of_site != "").all() and sum(one.sites for one in answer.settings) == 10
    for one in answer.settings:
        mine = answer.group_of_site == one.name
        assert not setting_drift(lat_deg=LAT[:10][mine], lon_deg=LON[:10][mine], setting=one.setting, year=2027, altitude_deg=-4.0,
                                 tolerance=Tolerance(5, 10)).nights_beyond.any()
    assert any("own check" in note for note in answer.notes)


def test_a_site_left_out_stops_the_run(monkeypatch):
    def short(*args, **kwargs):
        found = fewest_module.fewest(*args, **kwargs)
        found = replace(found, cover=replace(found.cover, rows=found.cover.rows[1:], of_row=found.cover.of_row[1:]))
        return found

    monkeypatch.setattr(groups, "fewest", short)
    with pytest.raises(PlanCheckError, match="in no group"):
        plan(LAT[:10], LON[:10])


def test_from_a_table():
    table = gpd.GeoDataFrame({"site_id": [f"S{i}" for i in range(160)], "lat_deg": LAT, "lon_deg": LON,
                              "legal_zone": "Australia/Adelaide", "town": TOWN},
                             geometry=gpd.points_from_xy(LON, LAT), crs="EPSG:4326")
    answer = groups_of(table, Basis(2027, -4.0, Tolerance(5, 10)), existing="town")
    assert answer.count == plan().count and set(answer.witnesses.site_ids) <= set(table["site_id"])
    with pytest.raises(InputError, match="no such column"):
        groups_of(table, Basis(2027, -4.0), within="district")


def test_mistakes_are_refused():
    with pytest.raises(InputError, match="no sites"):
        plan(np.array([]), np.array([]))
    with pytest.raises(InputError, match="out of range"):
        plan(np.array([95.0]), np.array([0.0]))
    with pytest.raises(InputError, match="pair up"):
        plan(LAT[:3], LON[:3], keep_together=["a"])
    with pytest.raises(InputError, match="keep different clocks"):
        plan(LAT[:2], LON[:2], legal_zone=["Australia/Adelaide", "Australia/Melbourne"], keep_together=["a", "a"])
    with pytest.raises(InputError, match="unknown legal zone"):
        plan(LAT[:1], LON[:1], legal_zone=["Australia/Nowhere"])
