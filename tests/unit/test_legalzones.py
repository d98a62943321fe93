"""Sites with their legal zone, clock rule and distance to the next zone."""

import geopandas
import numpy as np
import pandas as pd
import pytest

from geozone.errors import InputError
from geozone.places.legalzones import add_legal_time, clock_rules, legal_time_notes

ADELAIDE, MELBOURNE, BORDERTOWN = (-34.93, 138.60), (-37.81, 144.96), (-36.31, 140.77)


def sites(*positions, index=None, **columns):
    lat, lon = zip(*positions) if positions else ((), ())
    return geopandas.GeoDataFrame({"lat_deg": np.array(lat, float), "lon_deg": np.array(lon, float), **columns},
                                  geometry=geopandas.points_from_xy(lon, lat), crs="EPSG:4326", index=index)


def test_a_copy_with_the_same_index_and_the_columns_promised():
    given = sites(ADELAIDE, MELBOURNE, index=[7, 3])
    before = given.copy()
    found = add_legal_time(given, 2027)
    pd.testing.assert_frame_equal(pd.DataFrame(given), pd.DataFrame(before))
    assert found.index.tolist() == [7, 3] and found.crs == given.crs
    assert list(found.columns[3:]) == ["legal_zone", "legal_zone_source", "legal_zone_there", "clock_rule",
                                       "solar_lon_deg", "boundary_m", "zone_across", "confirm_zone"]
    assert found["legal_zone"].tolist() == ["Australia/Adelaide", "Australia/Melbourne"]
    assert found["legal_zone_source"].tolist() == ["boundary data"] * 2
    assert found["clock_rule"].dtype == np.int64 and found["confirm_zone"].dtype == bool


def test_no_sites():
    found = add_legal_time(sites(), 2027)
    assert len(found) == 0 and "boundary_m" in found
    assert len(clock_rules(found, 2027)) == 0 and legal_time_notes(found) == ()


def test_blank_overrides_are_none():
    found = add_legal_time(sites(*[ADELAIDE] * 3, legal_zone_given=["", "  ", None]), 2027)
    assert found["legal_zone_source"].tolist() == ["boundary data"] * 3


def test_an_override_wins_and_is_to_be_confirmed_if_its_clock_differs():
    found = add_legal_time(sites(*[ADELAIDE] * 3, legal_zone_given=[" Australia/Melbourne ", "Australia/South", ""]), 2027)
    assert found["legal_zone"].tolist() == ["Australia/Melbourne", "Australia/South", "Australia/Adelaide"]
    assert found["legal_zone_source"].tolist() == ["site list", "site list", "boundary data"]
    assert found["legal_zone_there"].tolist() == ["Australia/Adelaide"] * 3
    # Australia/South is another name for the same clock: nothing to confirm.
    assert found["confirm_zone"].tolist() == [True, False, False]


def test_unknown_override_is_refused_with_a_suggestion():
    with pytest.raises(InputError, match="Australia/Adelaide"):
        add_legal_time(sites(ADELAIDE, legal_zone_given=["Australia/Adelade"]), 2027)


def test_distance_grows_away_from_the_border():
    lon = 140.9630 - np.array([0.005, 0.02, 0.1, 1.0])
    found = add_legal_time(sites(*[(-36.5, x) for x in lon]), 2027)
    metres = found["boundary_m"].to_numpy()
    # The border runs north-south here, and a degree of longitude at 36.5 S is 89.6 km (WGS84).
    assert np.diff(metres) == pytest.approx(-np.diff(lon) * 89_600, abs=150)
    assert metres[0] < 2000 < metres[2]
    assert found["confirm_zone"].tolist() == (metres < 2000).tolist()
    assert set(found["zone_across"]) == {"Australia/Melbourne"}


def test_a_site_without_a_neighbour():
    honolulu = add_legal_time(sites((21.31, -157.86)), 2027).iloc[0]
    assert np.isinf(honolulu["boundary_m"]) and honolulu["zone_across"] == "" and not honolulu["confirm_zone"]


def test_a_site_off_the_coast_takes_the_nearest_land():
    # Robe, South Australia; the zone's outline ends at the limit of territorial waters.
    line = [(-37.16, 139.74 - d) for d in np.arange(0, 1.2, 0.02)]
    found = add_legal_time(sites(*line), 2027)
    source = found["legal_zone_source"].tolist()
    assert source == sorted(source, key=["boundary data", "nearest land"].index) or "Etc/GMT-9" in set(found["legal_zone"])
    coast = found[found["legal_zone_source"] == "nearest land"]
    assert len(coast) > 3
    assert set(coast["legal_zone"]) == {"Australia/Adelaide"} and coast["confirm_zone"].all()
    sea = found[found["legal_zone"].str.startswith("Etc/")]
    assert len(sea) > 3 and sea["confirm_zone"].all()
    # 25 km are about 0.28 degrees of longitude here.
    assert 0.22 < coast["lon_deg"].max() - coast["lon_deg"].min() + 0.02 < 0.45


def test_mid_ocean_is_kept_and_said():
    found = add_legal_time(sites((0.0, -30.0), ADELAIDE), 2027)
    assert found["legal_zone"].tolist() == ["Etc/GMT+2", "Australia/Adelaide"]
    assert found["confirm_zone"].tolist() == [True, False]
    assert len(legal_time_notes(found)) == 1 and "at sea" in legal_time_notes(found)[0]


def test_an_override_at_sea_settles_it():
    found = add_legal_time(sites((0.0, -30.0), legal_zone_given=["Atlantic/Azores"]), 2027)
    assert found["legal_zone"].tolist() == ["Atlantic/Azores"]


def test_notes_count():
    found = add_legal_time(sites(ADELAIDE, (-36.5, 140.955), (-36.5, 140.95),
                                 legal_zone_given=["Australia/Melbourne", "", ""]), 2027)
    kept, near = legal_time_notes(found)
    assert kept.startswith("1 site is kept") and near.startswith("2 sites are within 2 km")


def test_clock_rules_most_sites_first():
    found = add_legal_time(sites(ADELAIDE, MELBOURNE, (-33.87, 151.21), (-31.96, 141.46), (-35.28, 149.13)), 2027)
    rules = clock_rules(found, 2027)
    assert rules["sites"].tolist() == [3, 2] and rules.index.name == "clock_rule"
    assert rules["legal_zones"].tolist() == [["Australia/Melbourne", "Australia/Sydney"],
                                             ["Australia/Adelaide", "Australia/Broken_Hill"]]
    assert rules["text"].tolist() == ["UTC+10:00, +11:00 to 4 Apr and from 3 Oct",
                                      "UTC+09:30, +10:30 to 4 Apr and from 3 Oct"]
    assert found["clock_rule"].tolist() == [1, 0, 0, 1, 0]


def test_clock_rules_do_not_depend_on_row_order():
    places = sites(ADELAIDE, MELBOURNE, (-12.46, 130.84), (-27.47, 153.03))
    forward, backward = add_legal_time(places, 2027), add_legal_time(places.iloc[::-1], 2027)
    assert forward["clock_rule"].sort_index().tolist() == backward["clock_rule"].sort_index().tolist()
    pd.testing.assert_frame_equal(clock_rules(forward, 2027), clock_rules(backward, 2027))


def test_solar_longitude_keeps_the_legal_date():
    found = add_legal_time(sites((-13.83, -171.77), (52.9, 172.9), ADELAIDE), 2027)
    # Samoa counts its days with Asia; Attu, west of 180, with America.
    assert found["solar_lon_deg"].tolist() == pytest.approx([188.23, -187.1, 138.60])
