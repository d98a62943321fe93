"""A plan as tables and outlines."""

import json
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geozone.files.outputs import _plain
from geozone.grouping.grouphulls import group_hulls
from geozone.grouping.groups import groups_of
from geozone.grouping.grouptables import group_answers, group_columns, groups_summary
from geozone.numbers import clock
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Tolerance

BASIS = Basis(2027, -4.0, Tolerance(3, 6))


def table(lat, lon, zone="Australia/Adelaide", **columns):
    n = len(lat)
    return gpd.GeoDataFrame({
        "site_id": [f"S{i:03d}" for i in range(n)], "lat_deg": lat, "lon_deg": lon, "solar_lon_deg": lon,
        "legal_zone": zone, "clock_rule": 0, "load_w": 100.0, **columns}, geometry=gpd.points_from_xy(lon, lat), crs=4326)


def rules(zone="Australia/Adelaide"):
    return pd.DataFrame({"text": [clock.rule_text(clock.offsets(zone, 2027), 2027)], "legal_zones": [[zone]], "sites": [1]},
                        index=pd.Index([0], name="clock_rule"))


@pytest.fixture(scope="module")
def found():
    random = np.random.default_rng(3)
    town = random.integers(0, 6, 60)
    sites = table(-35 + np.array([0, 1, 0, -1, 1, 0.3])[town] + random.normal(0, 0.02, 60),
                  140 + 0.9 * town + random.normal(0, 0.02, 60), contract=[f"K{t % 2}" for t in town])
    plan = groups_of(sites, BASIS, existing="contract", curve_to=3, time_limit_s=30)
    return sites, plan, group_answers(plan, sites, rules(), existing_column="contract")


def test_no_outline_holds_a_site_of_another_group(found):
    sites, plan, answers = found
    assert len(answers.hulls) == plan.count > 2
    for row in answers.hulls.itertuples():
        inside = sites.geometry.within(row.geometry).to_numpy()
        assert inside.any() and set(plan.group_of_site[inside]) == {row.group}
        assert inside.sum() == row.sites == (plan.group_of_site == row.group).sum()


@pytest.mark.parametrize("seed", range(8))
def test_outlines_of_groups_that_are_mixed_like_confetti(seed):
    """Any grouping at all, also sites of no group: each outline holds its own sites and no other."""
    random = np.random.default_rng(seed)
    n = int(random.integers(2, 60))
    lat, lon = random.uniform(-60, 60) + random.uniform(0, 2, n), random.uniform(0, 3, n)
    group = random.choice(np.array(["A", "B", "C", ""], dtype=object), n)
    group[0] = "A"
    sites = table(lat, lon)
    hulls = group_hulls(sites, group)
    assert set(hulls["group"]) == set(group) - {""} and (hulls.geometry.geom_type == "MultiPolygon").all()
    assert hulls.geometry.is_valid.all()
    for row in hulls.itertuples():
        assert (sites.geometry.within(row.geometry).to_numpy() == (group == row.group)).all()


def test_sites_of_two_groups_on_one_spot_are_said():
    sites = table([-35.0, -35.0, -35.2], [140.0, 140.0, 140.0])
    hulls = group_hulls(sites, ["A", "B", "B"])
    assert hulls["shared_spots"].tolist() == [1, 1]
    assert not hulls.geometry.is_empty.any()


def test_one_site_and_sites_in_a_row_have_outlines():
    for lat, lon in (([-35.0], [140.0]), ([-35.0, -35.0, -35.0], [140.0, 141.0, 142.0]), ([1.0, 2.0], [0.0, 0.0])):
        hulls = group_hulls(table(lat, lon), ["A"] * len(lat))
        assert table(lat, lon).geometry.within(hulls.geometry.iloc[0]).all()


def test_outlines_across_the_antimeridian_stay_on_earth():
    sites = table([-18.0, -18.1, -18.0, -17.9], [179.0, 179.9, 180.4, 181.0])
    hulls = group_hulls(sites, ["A", "A", "A", "B"])
    west, south, east, north = hulls.total_bounds
    assert -180 <= west and east <= 180
    a, b = hulls.set_index("group").geometry.loc[["A", "B"]]
    assert a.contains(shapely.Point(179.9, -18.1)) and a.contains(shapely.Point(-179.6, -18.0))
    assert b.contains(shapely.Point(-179.0, -17.9)) and not b.contains(shapely.Point(-179.6, -18.0))


def test_settings_table_says_what_the_plan_says(found):
    sites, plan, answers = found
    assert answers.settings["group"].tolist() == [one.name for one in plan.settings]
    assert answers.settings["sites"].sum() == len(sites)
    assert answers.settings["load_w"].sum() == pytest.approx(6000)
    for row, one in zip(answers.settings.itertuples(), plan.settings, strict=True):
        assert (row.lat_deg, row.lon_deg, row.legal_zone) == (one.setting.lat_deg, one.setting.lon_deg, one.setting.legal_zone)
        assert row.clock.startswith("UTC+09:30") and row.worst_dark_min == one.worst_dark_min


def test_columns_of_the_sites_agree_with_the_settings(found):
    sites, plan, answers = found
    columns = group_columns(plan, sites, BASIS)
    worst = columns.groupby("group")[["group_dark_min", "group_excess_min"]].max()
    for row in answers.settings.itertuples():
        assert worst.loc[row.group, "group_dark_min"] == pytest.approx(row.worst_dark_min, abs=1e-9)
        assert worst.loc[row.group, "group_excess_min"] == pytest.approx(row.worst_excess_min, abs=1e-9)
    assert set(sites.loc[columns["proof_site"], "site_id"]) == set(plan.witnesses.site_ids)


def test_summary_has_the_promised_names_and_is_json(found):
    summary = json.loads(json.dumps(_plain(groups_summary(found[2])), allow_nan=False))
    for name in ("count", "lower_bound", "proved", "gap", "worst_dark_min", "worst_excess_min", "curve", "witnesses", "settings"):
        assert name in summary
    assert [sorted({"k", "worst_min", "proved"} & set(point)) for point in summary["curve"]] == [["k", "proved", "worst_min"]] * 3
    # Tables say tolerance_share and at_least_share; the contract keeps its names.
    assert all({"tolerance_factor", "bound_factor"} < set(point) for point in summary["curve"])
    assert all("tolerance_factor" in row for row in [*summary["settings"], *summary["existing"]["groups"]])
    assert summary["existing"]["settings_saved"] == summary["existing"]["settings_needed"] - summary["count"]


def test_headline_in_every_case(found):
    sites, plan, answers = found
    assert answers.headline == f"{plan.count} settings serve all 60 sites, and fewer cannot."
    one = table([-35.0], [140.0])
    alone = groups_of(one, BASIS)
    assert group_answers(alone, one, rules()).headline == "One setting serves the one site."
    # A keypad of whole degrees without offsets cannot hold half a degree within a minute: 4 minutes a degree of longitude.
    coarse = Basis(2027, -4.0, Tolerance(1, 1), Keypad(1.0, 0))
    pair = table([-35.0, -35.0], [140.0, 140.5])
    some = groups_of(pair, coarse, offsets=False)
    told = group_answers(some, pair, rules())
    assert told.headline == "One setting serves 1 of 2 sites; no setting serves the other one."
    assert told.unserved["unit"].tolist() == ["S001"]
    assert told.unserved["dark_min"].iloc[0] == pytest.approx(2.05, abs=0.1)
    # Whole minutes stay whole beside a site that is keyed nothing.
    keyed = group_columns(some, pair, coarse)[["key_dusk_offset_min", "key_dawn_offset_min"]]
    assert keyed.isna().to_numpy().tolist() == [[False, False], [True, True]] and set(keyed.dtypes.astype(str)) == {"Int64"}
    # The tolerance that is said to do does, as it stands in the table.
    enough = Tolerance(*told.unserved[["dark_min", "excess_min"]].iloc[0])
    assert not groups_of(pair, replace(coarse, tolerance=enough), offsets=False).unserved
    none = groups_of(pair.iloc[1:], coarse, offsets=False)
    assert group_answers(none, pair.iloc[1:], rules()).headline == "No setting that the keypad holds serves the one site."
