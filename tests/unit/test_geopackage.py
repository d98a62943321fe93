"""Layers and looks in one GeoPackage."""

import sqlite3
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

from geozone.files.geopackage import FIXED_TIME, Layer, write_geopackage


def points(**columns):
    n = len(next(iter(columns.values())))
    return gpd.GeoDataFrame(columns, geometry=gpd.points_from_xy(141 + np.arange(n) / 10, [-35.0] * n), crs=4326)


def outlines(*geometries):
    return gpd.GeoDataFrame({"area": [f"A{i}" for i in range(len(geometries))]}, geometry=list(geometries), crs=4326)


def query(path, sql):
    connection = sqlite3.connect(path)
    try:
        return connection.execute(sql).fetchall()
    finally:
        connection.close()


def test_layers_read_back_with_values_geometry_and_crs(tmp_path):
    path = tmp_path / "a.gpkg"
    sites = points(site_id=["a", "b"], worst_dark_min=[1.25, np.nan], confirm_zone=[True, False], row=[2, 3],
                   boundary_m=[np.inf, 5.0], own=["=1+1", None])
    box = shapely.box(140, -36, 142, -34)
    write_geopackage(path, [Layer("sites", sites, "Point", "<a/>"),
                            Layer("areas", outlines(box, shapely.MultiPolygon([box])), "MultiPolygon", "<b/>")])
    assert pyogrio.list_layers(path)[:, 0].tolist()[:2] == ["sites", "areas"]
    back = gpd.read_file(path, layer="sites")
    assert back.crs.to_epsg() == 4326
    assert back["site_id"].tolist() == ["a", "b"] and back["row"].tolist() == [2, 3]
    assert back["worst_dark_min"].tolist()[0] == 1.25 and np.isnan(back["worst_dark_min"][1])
    assert back["confirm_zone"].tolist() == [True, False] and back["confirm_zone"].dtype == bool
    assert np.isnan(back["boundary_m"][0]) and back["boundary_m"][1] == 5
    assert back["own"][0] == "=1+1" and pd.isna(back["own"][1])
    assert shapely.get_coordinates(back.geometry).tolist() == shapely.get_coordinates(sites.geometry).tolist()
    areas = gpd.read_file(path, layer="areas")
    assert set(areas.geom_type) == {"MultiPolygon"}
    assert shapely.area(areas.geometry.array).tolist() == [4.0, 4.0]


def test_looks_are_registered_the_way_a_desktop_gis_asks_for_them(tmp_path):
    """GeoPackage 1.3 (OGC 12-128r17): user tables without geometry are listed in gpkg_contents as "attributes"."""
    path = tmp_path / "a.gpkg"
    write_geopackage(path, [Layer("sites", points(n=[1]), "Point", "<one/>"),
                            Layer("areas", outlines(shapely.box(0, 0, 1, 1)), "MultiPolygon", "<two/>")], "what & why")
    assert query(path, "SELECT f_table_name, styleQML FROM layer_styles WHERE f_table_catalog = '' AND f_table_schema = ''"
                       " AND f_geometry_column = 'geom' AND useAsDefault") == [("sites", "<one/>"), ("areas", "<two/>")]
    assert query(path, "SELECT data_type FROM gpkg_contents WHERE table_name = 'layer_styles'") == [("attributes",)]
    assert query(path, "SELECT table_name, column_name, geometry_type_name FROM gpkg_geometry_columns ORDER BY 1") == [
        ("areas", "geom", "MULTIPOLYGON"), ("sites", "geom", "POINT")]
    assert query(path, "SELECT description FROM gpkg_contents WHERE table_name = 'sites'") == [
        ("A row a site of the list that could be used. what & why",)]
    assert set(query(path, "SELECT last_change FROM gpkg_contents")) == {(FIXED_TIME,)}
    assert query(path, "SELECT DISTINCT update_time FROM layer_styles") == [(FIXED_TIME,)]
    assert query(path, "PRAGMA integrity_check") == [("ok",)]


def test_columns_that_sqlite_would_confuse_are_kept_apart(tmp_path):
    path = tmp_path / "a.gpkg"
    sites = points(name=["x"], Name=["y"], NAME_2=["z"], fid=["f"], geom=["g"], Geometry_=["h"])
    sites["ROW"] = [1]
    sites["row"] = [2]
    write_geopackage(path, [Layer("sites", sites, "Point", "")])
    back = gpd.read_file(path, layer="sites")
    assert back.drop(columns="geometry").iloc[0].to_dict() == {
        "name": "x", "Name_2": "y", "NAME_2_2": "z", "fid_2": "f", "geom_2": "g", "Geometry_": "h", "ROW": 1, "row_2": 2}


@pytest.mark.parametrize("cells, stored", [
    (pd.to_datetime(["2027-01-01", None]), ["2027-01-01 00:00:00", None]),
    (pd.Series([1, None], dtype="Int64"), [1.0, None]),
    (pd.Series([5, "x"], dtype=object), ["5", "x"]),
    (pd.Series([True, None], dtype="boolean"), ["True", None]),
    (pd.Categorical(["a", "b"]), ["a", "b"]),
    (np.array([1, 2], dtype="int8"), [1, 2]),
    (np.array([1, 2], dtype="float32"), [1.0, 2.0]),
    (["a\ud800", "b\x00c"], ["a\ufffd", "b\ufffdc"]),
    (["", "'); DROP TABLE sites; --"], ["", "'); DROP TABLE sites; --"]),
])
def test_every_kind_of_cell_can_be_stored(tmp_path, cells, stored):
    write_geopackage(tmp_path / "a.gpkg", [Layer("sites", points(own=cells), "Point", "")])
    back = gpd.read_file(tmp_path / "a.gpkg", layer="sites")["own"]
    assert [None if pd.isna(cell) else cell for cell in back] == stored


@pytest.mark.parametrize("offsets", [[-2.0, np.nan], pd.array([-2, None], dtype="Int64"), [-2, 0]])
def test_a_field_of_whole_numbers_is_one_also_where_some_are_missing(tmp_path, offsets):
    write_geopackage(tmp_path / "a.gpkg", [Layer("sites", points(key_dusk_offset_min=offsets), "Point", "")])
    assert query(tmp_path / "a.gpkg", "SELECT type FROM pragma_table_info('sites') WHERE name = 'key_dusk_offset_min'") == [("INTEGER",)]
    kept = query(tmp_path / "a.gpkg", "SELECT key_dusk_offset_min, typeof(key_dusk_offset_min) FROM sites")
    assert kept == [(-2, "integer"), (None, "null") if pd.isna(offsets[1]) else (0, "integer")]


def test_a_layer_without_rows_has_the_kinds_of_field_that_it_always_has(tmp_path):
    some = points(group=["A"], dusk_offset_min=[-2], worst_dark_min=[1.5])
    kinds = []
    for name, layer in (("some", some), ("none", gpd.GeoDataFrame(pd.DataFrame([], columns=some.columns[:-1]), geometry=[], crs=4326))):
        write_geopackage(tmp_path / f"{name}.gpkg", [Layer("groups", layer, "Point", "")])
        kinds.append(query(tmp_path / f"{name}.gpkg", "SELECT name, type FROM pragma_table_info('groups')"))
    assert kinds[0] == kinds[1]


def test_two_columns_of_one_name_are_both_stored(tmp_path):
    sites = points(a=[1])
    sites.insert(1, "a", [2], allow_duplicates=True)
    write_geopackage(tmp_path / "a.gpkg", [Layer("sites", sites, "Point", "")])
    assert gpd.read_file(tmp_path / "a.gpkg", layer="sites")[["a", "a_2"]].iloc[0].tolist() == [1, 2]


def test_an_empty_layer_is_there_with_its_columns_and_look(tmp_path):
    empty = points(kind=["x"], factor=[1.0]).iloc[:0]
    write_geopackage(tmp_path / "a.gpkg", [Layer("drift_lines", empty, "LineString", "<a/>")])
    back = gpd.read_file(tmp_path / "a.gpkg", layer="drift_lines")
    assert len(back) == 0 and {"kind", "factor"} <= set(back.columns)
    assert query(tmp_path / "a.gpkg", "SELECT f_table_name FROM layer_styles") == [("drift_lines",)]


def test_the_same_layers_give_the_same_bytes(tmp_path):
    for name in ("a.gpkg", "b.gpkg"):
        write_geopackage(tmp_path / name, [Layer("sites", points(n=[1, 2]), "Point", "<a/>")], "d")
    assert (tmp_path / "a.gpkg").read_bytes() == (tmp_path / "b.gpkg").read_bytes()


def test_the_table_handed_in_is_not_changed(tmp_path):
    sites = points(own=[None, 5], boundary_m=[np.inf, 1.0])
    copy = sites.copy()
    write_geopackage(tmp_path / "a.gpkg", [Layer("sites", sites, "Point", "")])
    pd.testing.assert_frame_equal(sites, copy)


def test_a_file_that_cannot_be_created_is_an_os_error(tmp_path):
    with pytest.raises(OSError, match="a.gpkg"):
        write_geopackage(tmp_path / "missing" / "a.gpkg", [Layer("sites", points(n=[1]), "Point", "")])


FULL_DISK = """
import resource, sys, tempfile
from pathlib import Path
sys.path.insert(0, sys.argv[1])
import geopandas as gpd, numpy as np
from geozone.files.geopackage import Layer, write_geopackage
place = np.linspace(0, 10, 4000)
table = gpd.GeoDataFrame({"text": ["some text for every row"] * 4000}, geometry=gpd.points_from_xy(place, place), crs=4326)
layers = [Layer("sites", table, "Point", ""), Layer("lattice", table, "Point", "")]
folder = Path(sys.argv[2])
write_geopackage(folder / "whole.gpkg", layers)
size = (folder / "whole.gpkg").stat().st_size
refused = 0
steps = np.linspace(0.1, 0.995, 25)
for i, share in enumerate(steps):
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(size * share), resource.RLIM_INFINITY))
    try:
        write_geopackage(folder / f"{i}.gpkg", layers)
    except OSError:
        refused += 1
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
print(refused, len(steps))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="resource limits")
def test_wherever_the_disk_fills_up_the_loss_is_noticed(tmp_path):
    """A file-size limit stands in for the full disk. GDAL alone reports no error when only the spatial index is lost."""
    root = str(Path(__file__).parents[2])
    done = subprocess.run([sys.executable, "-W", "ignore", "-c", FULL_DISK, root, str(tmp_path)], capture_output=True,
                          text=True, timeout=120)
    assert done.stdout.split() == ["25", "25"], done.stdout + done.stderr


def test_every_declared_field_says_what_it_holds(tmp_path):
    """OGC 12-128r18, annex F.9 "Schema": descriptions of fields stand in gpkg_data_columns, and the extension is registered."""
    path = tmp_path / "a.gpkg"
    write_geopackage(path, [Layer("sites", points(site_id=["a"], nights_beyond=[1], own=["x"]), "Point", "")])
    assert query(path, "SELECT column_name, title, description FROM gpkg_data_columns ORDER BY 1") == [
        ("nights_beyond", "Nights beyond [nights]", "Nights of the year beyond tolerance with the shared setting."),
        ("site_id", "Site", "Identification of the site, as in the site list.")]
    assert query(path, "SELECT table_name FROM gpkg_extensions WHERE extension_name = 'gpkg_schema' ORDER BY 1") == [
        ("gpkg_data_column_constraints",), ("gpkg_data_columns",)]


def test_the_last_bit_of_an_arithmetic_makes_no_other_file(tmp_path):
    for name, hair in (("a", 0.0), ("b", 1e-13)):
        sites = points(worst_dark_min=[1.25 + hair])
        sites = sites.set_geometry(sites.geometry.translate(hair, -hair))
        write_geopackage(tmp_path / f"{name}.gpkg", [Layer("sites", sites, "Point", "")])
    assert (tmp_path / "a.gpkg").read_bytes() == (tmp_path / "b.gpkg").read_bytes()
