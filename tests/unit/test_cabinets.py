"""Cabinets as rows: what is keyed, where they stand, which sites belong to them."""

import numpy as np
import pandas as pd
import pytest

from geozone.grouping.cabinets import cabinet_names, cabinets_table

SETTINGS = pd.DataFrame({"group": ["A", "B"], "clock": ["UTC+09:30", "UTC+10:00"], "clock_to_key": ["UTC+9:30, no change", ""]})


def sites(**columns):
    n = 5
    table = pd.DataFrame({
        "site_id": ["S1", "S2", "S3", "S4", "S5"], "cabinet": ["K2", "K10", "K2", "", "K10"],
                          "lat_deg": [-35.0, -36.0, -35.0, -35.5, -36.0],
        "lon_deg": [140.0, 141.0, 140.002, 140.5, 141.0], "group": ["A", "B", "A", "A", "B"],
                          "key_lat_deg": [-35.1, -36.0, -35.1, -35.1, -36.0],
        "key_lon_deg": [140.2, 141.1, 140.2, 140.2, 141.1], "key_legal_zone": "Australia/Adelaide",
                          "key_dusk_offset_min": [-2, 0, -2, -2, 0],
        "key_dawn_offset_min": [1, 0, 1, 1, 0], "load_w": [100.0, np.nan, 50.5, np.nan, np.nan],
                          "area": ["North", "South", "North", "", "East"],
        "programme": ["all", "part", "late", "all", "part"]}, index=range(10, 10 + n))
    return table.assign(**columns)


def test_a_row_a_cabinet_in_the_order_of_the_list():
    table = cabinets_table(sites(), "cabinet", SETTINGS)
    assert table["cabinet"].tolist() == ["K2", "K10", ""] and table["sites"].tolist() == [2, 2, 1]
    assert table["site_ids"].tolist() == ["S1; S3", "S2; S5", "S4"]
    assert table["group"].tolist() == ["A", "B", "A"]
    assert table["key_lat_deg"].tolist() == [-35.1, -36.0, -35.1] and table["key_dusk_offset_min"].tolist() == [-2, 0, -2]
    assert table["clock_to_key"].tolist() == ["UTC+9:30, no change", "", "UTC+9:30, no change"]
    assert table["programme"].tolist() == ["all; late", "part", "all"] and table["area"].tolist() == ["North", "South; East", ""]
    assert table["load_w"].tolist()[0] == 150.5 and np.isnan(table["load_w"].tolist()[1])
    assert table["sites"].sum() == 5, "no site is lost"


def test_it_stands_in_the_middle_of_its_sites():
    table = cabinets_table(sites(), "cabinet", SETTINGS)
    assert table["lat_deg"][0] == pytest.approx(-35.0, abs=1e-6) and table["lon_deg"][0] == pytest.approx(140.001, abs=1e-9)
    # Half of 0.002 degrees along the parallel of 35 degrees: 0.001 x 111,195 m x cos 35 = 91.09 m on a sphere of 6,371.0088 km.
    assert table["farthest_m"][0] == pytest.approx(91.09, abs=0.01)
    assert table["farthest_m"].tolist()[1:] == pytest.approx([0, 0], abs=1e-6)


def test_beside_the_antimeridian_the_middle_is_beside_it_too():
    table = cabinets_table(sites(cabinet="K", lat_deg=-17.0, lon_deg=[179.9, -179.9, 179.9, -179.9, 180.0]), "cabinet", SETTINGS)
    assert len(table) == 1 and abs(abs(table["lon_deg"][0]) - 180) < 1e-9 and table["farthest_m"][0] < 11_000


def test_without_a_group_nothing_is_keyed():
    table = cabinets_table(sites(group=["", "B", "", "A", "B"], key_lat_deg=[np.nan, 1, np.nan, 2, 1]), "cabinet", SETTINGS)
    assert table["group"][0] == "" and np.isnan(table["key_lat_deg"][0]) and table["clock"][0] == table["clock_to_key"][0] == ""


def test_whole_numbers_with_gaps_and_names_that_a_run_needs_itself():
    assert cabinet_names(sites(cabinet=[1.0, 2.0, np.nan, 1.0, None]), "cabinet").tolist() == ["1", "2", "", "1", ""]
    assert cabinet_names(sites(group_given=["a", "b", "a", " c ", ""]), "group").tolist() == ["a", "b", "a", "c", ""]
    assert cabinet_names(sites(), "feeder").tolist() == [""] * 5
    assert len(cabinets_table(sites(), "feeder", SETTINGS)) == 0 and len(cabinets_table(sites(cabinet=""), "cabinet", SETTINGS)) == 0


def test_without_programmes_there_is_no_such_column():
    assert "programme" not in cabinets_table(sites().drop(columns="programme"), "cabinet", SETTINGS)
