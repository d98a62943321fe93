"""Outlines of one name: one area, or namesakes."""

import geopandas as gpd
import pytest
import shapely

from geozone.errors import InputError
from geozone.places.areas import read_areas


def square(lon, lat=-36):
    return shapely.box(lon, lat, lon + 1, lat + 1)


def areas(tmp_path, shapes, stated=None, **columns):
    gpd.GeoDataFrame(columns, geometry=shapes, crs=4326).to_file(tmp_path / "a.gpkg")
    found, notes = read_areas(tmp_path / "a.gpkg", stated)
    return found, " ".join(notes)


# Two counties named Deuel, 46039 in South Dakota and 31049 in Nebraska, 400 km apart.
# Source: US Census Bureau, FIPS codes of counties.
DEUEL = {"NAME": ["Deuel", "Deuel", "Cherry"], "STATE": ["SD", "NE", "NE"], "GEOID": ["46039", "31049", "31031"]}


def test_namesakes_that_do_not_touch_are_told_apart_and_the_unique_column_is_offered(tmp_path):
    found, notes = areas(tmp_path, [square(0), square(5), square(8)], **DEUEL)
    assert found["area"].tolist() == ["Deuel (SD)", "Deuel (NE)", "Cherry"] and found["area"].is_unique
    assert 'Deuel (SD), Deuel (NE)' in notes and 'area_names = "GEOID"' in notes and "are one area" not in notes
    found, notes = areas(tmp_path, [square(0), square(5), square(8)], "GEOID", **DEUEL)
    assert found["area"].tolist() == ["46039", "31049", "31031"] and "do not touch" not in notes


def test_without_a_telling_column_they_are_numbered(tmp_path):
    found, notes = areas(tmp_path, [square(0), square(5), square(8), square(11)], name=["A", "A", "B", "A (1)"])
    assert found["area"].tolist() == ["A (2)", "A (3)", "B", "A (1)"]
    assert "save them as one outline" in notes


def test_outlines_that_touch_are_one_area_whatever_their_columns_say(tmp_path):
    found, notes = areas(tmp_path, [square(0), square(1), square(8)], name=["A", "A", "B"], ward=["a1", "a2", "b1"])
    assert found["area"].tolist() == ["A", "B"] and found.geometry[0].area == pytest.approx(2)
    assert "outlines of one name are one area (A)" in notes


def test_parts_with_one_key_are_one_area_though_they_do_not_touch(tmp_path):
    """An island district saved part by part: the key is repeated, numbers of rows and sizes of parts are not."""
    found, notes = areas(tmp_path, [square(0), square(5), square(8)], name=["Isle", "Isle", "Coast"], key=["07", "07", "08"],
                         size=[1.5, 2.5, 1.0], part=[1, 2, 3])
    assert found["area"].tolist() == ["Isle", "Coast"] and "one area (Isle)" in notes
    # A kind that other names share is no key.
    found, _ = areas(tmp_path, [square(0), square(5), square(8)], name=["Isle", "Isle", "Coast"], kind=["rural", "rural", "rural"],
                     size=[1.5, 2.5, 1.0])
    assert found["area"].tolist() == ["Isle (1)", "Isle (2)", "Coast"]


def test_a_column_that_joins_most_outlines_joins_them(tmp_path):
    """Wards to districts: the file has a column of districts for that."""
    shapes = [square(3 * i) for i in range(8)]
    found, notes = areas(tmp_path, shapes, "district", ward=list("abcdefgh"), district=["N"] * 5 + ["S"] * 3)
    assert found["area"].tolist() == ["N", "S"] and "one area (N, S)" in notes


def test_three_namesakes_two_of_which_touch(tmp_path):
    shapes = [square(0), square(1), square(5), square(9)]
    found, notes = areas(tmp_path, shapes, name=["A", "A", "A", "B"], county=["x", "x", "y", "y"], id=["1", "2", "3", "4"])
    assert found["area"].tolist() == ["A (x)", "A (y)", "B"]
    assert found.geometry[0].area == pytest.approx(2) and 'if they are not, column "id" names each outline once' in notes
    # No cell of one outline stands for both that were joined.
    (tmp_path / "a.gpkg").unlink()
    found, _ = areas(tmp_path, shapes, name=["A", "A", "A", "B"], county=["x", "z", "y", "y"])
    assert found["area"].tolist() == ["A (1)", "A (2)", "B"]


@pytest.mark.parametrize("stated, step", [("district", 'area_names = "District"'), ("Distrct", 'area_names = "District"'),
                                          ("something", "leave area_names out")])
def test_a_column_of_names_that_is_not_there(tmp_path, stated, step):
    with pytest.raises(InputError, match="no column of the name stated") as stopped:
        areas(tmp_path, [square(0)], stated, District=["A"], code=["7"])
    assert step in str(stopped.value) and "columns: District, code" in str(stopped.value)
