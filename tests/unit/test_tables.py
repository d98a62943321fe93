import datetime as dt
import sqlite3
import zipfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
import xlsxwriter

from geozone.errors import InputError
from geozone.places import geofiles, packed
from geozone.places.tables import as_text, find_file, read_tables


def write(folder, name, content):
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def book(path, sheets, hidden=()):
    with xlsxwriter.Workbook(path, {"default_date_format": "yyyy-mm-dd"}) as made:
        for name, rows in sheets.items():
            sheet = made.add_worksheet(name)
            for number, cells in rows.items():
                sheet.write_row(number - 1, 0, cells)
            if name in hidden:
                sheet.hide()
    return path


def points(crs="EPSG:4326"):
    return gpd.GeoDataFrame({"id": ["a", "b"], "n": [1, 2]}, geometry=[shapely.Point(141, -35), shapely.Point(142, -36)],
                            crs=crs)


def test_row_numbers_survive_blank_lines_titles_and_line_breaks_in_cells(tmp_path):
    path = write(tmp_path, "a.csv", 'Sites of 2027\n\nid,lat,lon,note\n1,-35,141,"two\nlines"\n\n,,,\n2,-36,142,x\n')
    table, = read_tables(path)
    assert table.frame["id"].tolist() == ["1", "2"]
    assert table.row.tolist() == [4, 7]  # a spreadsheet shows the cell of two lines as one row
    assert "row 3" in table.notes[0]


def test_a_row_with_too_many_values_is_a_fault_not_a_shift(tmp_path):
    table, = read_tables(write(tmp_path, "a.csv", "id,lat,lon\n1,-35,5,141,5\n2,-35,141\n3,-35\n4,-35,141,,\n"))
    assert [f[0] for f in table.faults] == [2] and table.faults[0][1] == "1,-35,5,141,5"
    assert table.row.tolist() == [3, 4, 5] and table.frame["lon"].tolist() == ["141", "", "141"]


def test_headings_are_made_unique_and_blank_columns_go(tmp_path):
    table, = read_tables(write(tmp_path, "a.csv", "id,,id,lat\ufeff,\n1,x,2,-35,\n"))
    assert list(table.frame) == ["id", "column 2", "id (2)", "lat"]


def test_workbook_cells_keep_their_type(tmp_path):
    path = book(tmp_path / "a.xlsx", {"List": {2: ["id", "lat", "since", "mixed", "count"],
                                               3: [1001, -35.5, dt.date(2020, 5, 1), "x", 1],
                                               5: [1002, -35.25, dt.date(2021, 5, 1), 7.5, 2]},
                                      "Empty": {}, "Secret": {1: ["id", "lat", "lon"], 2: [1, 2, 3]}}, hidden=["Secret"])
    table, = read_tables(path)
    assert table.row.tolist() == [3, 5] and table.layer == ""
    assert table.frame["lat"].dtype == float and table.frame["count"].dtype == np.int64
    assert table.frame["since"].dtype.kind == "M" and as_text(table.frame["since"]).tolist()[0] == "2020-05-01"
    assert as_text(table.frame["mixed"]).tolist() == ["x", "7.5"]
    assert read_tables(path, layer="Secret")[0].layer == "Secret"
    with pytest.raises(InputError, match="no such sheet"):
        read_tables(path, layer="Nope")


@pytest.mark.parametrize("name", ["a.geojson", "a.gpkg", "a.shp", "a.fgb", "odd!name.gpkg", "odd!name.shp"])
def test_map_files(tmp_path, name):
    plain = tmp_path / name.replace("!", "_")
    points().to_file(plain)
    for part in tmp_path.glob(plain.stem + ".*"):  # the writer itself stumbles over the !
        part.rename(tmp_path / part.name.replace(plain.stem, Path(name).stem))
    table, = read_tables(tmp_path / name)
    assert sorted(table.frame["id"]) == ["a", "b"] and table.row.tolist() == [1, 2]  # FlatGeobuf sorts by place
    assert table.geometry.crs.to_epsg() == 4326 and table.geometry[table.frame["id"] == "b"].x.item() == 142


def zipped(tmp_path, *names, prefix=""):
    with zipfile.ZipFile(tmp_path / "z.zip", "w") as pack:
        for name in names:
            points("EPSG:4326").to_file(tmp_path / f"{name}.shp")
            for part in tmp_path.glob(f"{name}.*"):
                pack.write(part, prefix + part.name)
    return tmp_path / "z.zip"


def test_zipped_shapefiles(tmp_path):
    assert len(read_tables(zipped(tmp_path, "a", prefix="deep/er/"))[0].frame) == 2
    two = read_tables(zipped(tmp_path, "a", "b"))
    assert [t.layer for t in two] == ["a", "b"]
    assert len(read_tables(tmp_path / "z.zip", layer="b")) == 1


def test_geopackage_layers(tmp_path):
    points().to_file(tmp_path / "a.gpkg", layer="poles")
    points().to_file(tmp_path / "a.gpkg", layer="boxes")
    assert [t.layer for t in read_tables(tmp_path / "a.gpkg")] == ["poles", "boxes"]
    assert [t.layer for t in read_tables(tmp_path / "a.gpkg", layer="boxes")] == ["boxes"]
    with pytest.raises(InputError, match="no such layer"):
        read_tables(tmp_path / "a.gpkg", layer="x")


def test_missing_file_suggests_what_is_there(tmp_path):
    write(tmp_path, "sites.csv", "a")
    with pytest.raises(InputError, match="did you mean sites.csv"):
        find_file(tmp_path / "site.csv")
    with pytest.raises(InputError, match="files there: sites.csv"):
        find_file(tmp_path / "zzzzzzzz.gpkg")
    with pytest.raises(InputError, match="folder, not a file") as why:
        find_file(tmp_path)
    assert "sites.csv" in str(why.value)
    with pytest.raises(InputError, match="does not exist either"):
        find_file(tmp_path / "no" / "a.csv")


@pytest.mark.parametrize("address", ["https://example.org/a.geojson", "/vsicurl/https://example.org/a.geojson",
                                     "/vsizip/a.zip/a.shp", "PG:dbname=x", "a\x00.csv"])
def test_addresses_are_not_fetched(address):
    with pytest.raises(InputError):
        read_tables(address)


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600
VRT = b'<OGRVRTDataSource><OGRVRTLayer name="a"><SrcDataSource>/etc/passwd</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>'


@pytest.mark.parametrize("name, content, why", [
    ("a.csv", b"", "empty"), ("a.csv", b"\n\n \n", "nothing in the table"), ("a.csv", b"id,lat,lon\n", "no rows under"),
    ("a.csv", OLE, "old .xls"), ("a.csv", b"PK\x03\x04", "archive"), ("a.csv", b"<html><table>", "web page"),
    ("a.csv", b"1,-35.1,141.2\n2,-35,142\n", "numbers, not the names"), ("a.xls", OLE, "not read"),
    ("a.xlsx", OLE, "old .xls"), ("a.xlsx", b"id,lat\n", "not a workbook"), ("a.xlsx", b"PK\x03\x04rubbish", "damaged"),
    ("a.vrt", VRT, "not read"), ("a.geojson", VRT, "JSON itself is broken"), ("a.gpkg", VRT, "not a GeoPackage"),
    ("a.shp", VRT, "not a Shapefile"), ("a.fgb", VRT, "not a FlatGeobuf"), ("a.zip", VRT, "not a zip"),
    ("a.json", b'{"type":"gdal_streamed_alg","command_line":"x"}', "not GeoJSON"),
    ("a.json", b'{"type":"Topology"}', "not GeoJSON"), ("a.json", b"[1]", "not GeoJSON"),
    ("a.geojson", b'{"type":"FeatureCollection","features":[]}', "no feature"),
    ("a.geojson", b'{"type":"FeatureCollection"}', "no list of features"),
    ("a.geojson", b'{"type":"FeatureCollection","features":[', "broken"), ("a.shp", b"\0\0\x27\x0a" + b"\0" * 96, "not whole"),
    ("a.fgb", b"fgb\x03fgb\x01" + b"\xff" * 50, "damaged"), ("a.gpkg", b"SQLite format 3\x00" + b"\0" * 100, "damaged"),
    ("a.zip", b"PK\x03\x04rubbish", "damaged"), ("a.pdf", b"%PDF", "not read"), ("a", b"x", "no extension")])
def test_one_clear_error_for_what_is_not_what_it_says(tmp_path, name, content, why):
    with pytest.raises(InputError) as raised:
        read_tables(write(tmp_path, name, content))
    assert why in str(raised.value) and "/vsimem" not in str(raised.value)


def test_a_database_that_is_no_geopackage(tmp_path):
    with sqlite3.connect(tmp_path / "a.gpkg") as base:
        base.execute("create table secrets (a)")
    base.close()
    try:
        tables = read_tables(tmp_path / "a.gpkg")
    except InputError:
        return
    assert all(t.geometry is None for t in tables)


def test_archives_are_looked_at_before_they_are_unpacked(tmp_path, monkeypatch):
    for number, name in enumerate(("../evil.shp", "/evil.shp", "a/../../evil.shp", "..\\evil.shp", "C:/evil.shp")):
        with zipfile.ZipFile(tmp_path / f"{number}.zip", "w") as pack:
            pack.writestr(name, b"x")
        with pytest.raises(InputError, match="outside its folder"):
            read_tables(tmp_path / f"{number}.zip")
    assert not list(tmp_path.parent.glob("evil*"))
    with zipfile.ZipFile(tmp_path / "none.zip", "w") as pack:
        pack.writestr("a.txt", b"x")
    with pytest.raises(InputError, match="no Shapefile"):
        read_tables(tmp_path / "none.zip")
    monkeypatch.setattr(packed, "MOST_BYTES", 1000)
    with zipfile.ZipFile(tmp_path / "big.zip", "w", zipfile.ZIP_DEFLATED) as pack:
        pack.writestr("a.shp", b"\0" * 5000)
    with pytest.raises(InputError, match="more than a list"):
        read_tables(tmp_path / "big.zip")
    book(tmp_path / "big.xlsx", {"A": {1: ["id"], 2: [1]}})
    with pytest.raises(InputError, match="more than a list"):
        read_tables(tmp_path / "big.xlsx")


def test_a_bomb_of_zeros_is_refused_by_its_ratio(tmp_path):
    with zipfile.ZipFile(tmp_path / "bomb.zip", "w", zipfile.ZIP_DEFLATED) as pack:
        with pack.open("a.shp", "w") as member:
            for _ in range(120):
                member.write(b"\0" * 1_000_000)
    with pytest.raises(InputError, match="more than a list"):
        read_tables(tmp_path / "bomb.zip")


def test_parquet_without_its_extra_says_what_to_install(tmp_path, monkeypatch):
    import sys
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(InputError, match="geozone\\[parquet\\]"):
        read_tables(write(tmp_path, "a.parquet", b"PAR1"))


def test_only_listed_drivers():
    assert set(geofiles.DRIVERS.values()) == {"GeoJSON", "GPKG", "ESRI Shapefile", "FlatGeobuf", "Parquet"}


def test_as_text():
    assert as_text(pd.Series([1.0, 2.5, np.nan, np.inf])).tolist() == ["1", "2.5", "", "inf"]
