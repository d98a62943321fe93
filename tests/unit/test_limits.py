"""What is too large, too deep or no file at all is refused before it is read, in a second and in a few megabytes."""

import json
import os
import struct
import time
import zipfile

import geopandas as gpd
import numpy as np
import pytest
import shapely
import xlsxwriter

from geozone.errors import GeozoneError, InputError
from geozone.files.folder import check_target
from geozone.jobs.job import read_job
from geozone.places import limits
from geozone.places.areas import read_areas, read_backdrop
from geozone.places.sites import read_sites
from geozone.places.tables import read_tables
from geozone.sharing.shared import best_shared_setting
from geozone.trade.keypad import Keypad


@pytest.fixture(autouse=True)
def quick():
    started = time.process_time()
    yield
    # Bad input once took minutes; this is no measure of speed, which a busy machine would spoil.
    assert time.process_time() - started < 60


def refused(path, match, reader=read_sites):
    with pytest.raises(InputError, match=match) as why:
        reader(path)
    assert why.value.next_step


@pytest.mark.parametrize("name", ["a.csv", "a.xlsx", "a.geojson", "a.gpkg", "a.fgb", "a.zip", "a.shp"])
def test_a_file_of_five_gigabytes_that_holds_nothing(tmp_path, name):
    with (tmp_path / name).open("wb") as stream:
        stream.truncate(5_000_000_000)
    refused(tmp_path / name, "larger than a list")


def test_a_job_file_of_three_megabytes(tmp_path):
    (tmp_path / "job.toml").write_text("# x\n" * 800_000)
    refused(tmp_path / "job.toml", "larger", read_job)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes of this kind here")
@pytest.mark.parametrize("name", ["a.csv", "a.shp", "a.geojson", "a.dbf", "a.cpg"])
def test_a_pipe_is_not_waited_for(tmp_path, name):
    if name in ("a.dbf", "a.cpg"):
        gpd.GeoDataFrame({"id": ["a"]}, geometry=[shapely.Point(141, -35)], crs="EPSG:4326").to_file(tmp_path / "a.shp")
        (tmp_path / name).unlink()
    os.mkfifo(tmp_path / name)
    refused(tmp_path / ("a.shp" if name in ("a.dbf", "a.cpg") else name), "not a plain file")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes of this kind here")
def test_a_pipe_as_job(tmp_path):
    os.mkfifo(tmp_path / "job.toml")
    refused(tmp_path / "job.toml", "not a plain file", read_job)


@pytest.mark.parametrize("reader", [read_sites, read_areas, read_backdrop, read_job])
def test_a_name_longer_than_any_file_can_have(tmp_path, reader):
    refused(tmp_path / ("x" * 300 + ".csv"), "there can be no such", reader)


@pytest.mark.parametrize("reader", [read_sites, read_job])
def test_a_file_that_is_a_link_to_itself(tmp_path, reader):
    (tmp_path / "a.csv").symlink_to(tmp_path / "a.csv")
    with pytest.raises(InputError):
        reader(tmp_path / "a.csv")


def test_an_output_folder_that_is_a_link_to_itself_or_has_no_possible_name(tmp_path):
    (tmp_path / "out").symlink_to(tmp_path / "out")
    for path in (tmp_path / "out", tmp_path / "out" / "below", tmp_path / ("x" * 300), tmp_path / "a\0b"):
        with pytest.raises(GeozoneError):
            check_target(path)


def test_equal_headings_without_end(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("id,lat,lon" + ",x" * 1_900 + "\n1,-35,141" + ",1" * 1_900 + "\n")
    assert len(read_tables(path)[0].frame.columns) == 1_903
    path.write_text("a," * 8_000 + "\n" + "1," * 8_000 + "\n")
    refused(path, "larger than a list")


def test_headings_that_look_like_numbered_ones(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("id (2),id,id,id,lat\n1,2,3,4,5\n")
    assert list(read_tables(path)[0].frame) == ["id (2)", "id", "id (3)", "id (4)", "lat"]


@pytest.mark.parametrize("content", ["a\n" * 3_000_000, "a\r" * 3_000_000, "a,b\n" + "," * 12_000_000])
def test_a_text_of_endless_rows_or_cells(tmp_path, content):
    (tmp_path / "a.csv").write_text(content)
    refused(tmp_path / "a.csv", "larger than a list")


def test_a_geojson_of_endless_brackets(tmp_path):
    (tmp_path / "a.geojson").write_text('{"type":"FeatureCollection","features":[' + "{}," * 11_000_000 + "{}]}")
    refused(tmp_path / "a.geojson", "larger than a list")


@pytest.mark.parametrize("row, column", [(1048575, 16383), (1048575, 20), (3, 16383), (1048575, 2)])
def test_a_workbook_with_a_cell_in_the_last_corner(tmp_path, row, column):
    with xlsxwriter.Workbook(tmp_path / "a.xlsx") as made:
        sheet = made.add_worksheet()
        sheet.write_row(0, 0, ["id", "lat", "lon"])
        sheet.write_row(1, 0, ["a", -35, 141])
        sheet.write(row, column, "x")
    refused(tmp_path / "a.xlsx", "spans more cells")


def test_a_workbook_with_looks_in_the_last_corner_is_read(tmp_path):
    with xlsxwriter.Workbook(tmp_path / "a.xlsx") as made:
        sheet, bold = made.add_worksheet(), made.add_format({"bold": True})
        sheet.write_row(0, 0, ["id", "lat", "lon"])
        sheet.write_row(1, 0, ["a", -35, 141])
        sheet.write_blank(1048575, 16383, None, bold)
    assert len(read_sites(tmp_path / "a.xlsx").sites) == 1


SHEET = '<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{}</sheetData></worksheet>'
ODS = ('<?xml version="1.0"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
       'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0">'
       '<office:body><office:spreadsheet><table:table table:name="A">{}</table:table></office:spreadsheet></office:body>'
       '</office:document-content>')
CELL = '<table:table-cell office:value-type="string"{}><text:p>{}</text:p></table:table-cell>'


def ods(path, rows):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as pack:
        pack.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        pack.writestr("META-INF/manifest.xml", "<manifest/>")
        pack.writestr("content.xml", ODS.format(rows))
    return path


def test_repeated_cells_of_an_open_document(tmp_path):
    """number-rows-repeated and number-columns-repeated: OASIS OpenDocument 1.3, part 3, 19.675 and 19.679."""
    row = "<table:table-row{}>" + "".join(CELL.format("", text) for text in ("{}", "{}", "{}")) + "</table:table-row>"
    rows = row.format("", "id", "lat", "lon") + row.format("", "a", "-35", "141")
    blank = ('<table:table-row table:number-rows-repeated="1048574"><table:table-cell table:number-columns-repeated="16384"/>'
             "</table:table-row>")
    assert len(read_sites(ods(tmp_path / "plain.ods", rows + blank)).sites) == 1
    bomb = '<table:table-row table:number-rows-repeated="1048574">' + CELL.format(' table:number-columns-repeated="16384"', "x")
    refused(ods(tmp_path / "bomb.ods", rows + bomb + "</table:table-row>"), "spans more cells")


def test_names_that_grow_into_gigabytes(tmp_path):
    """Ten names, each ten of the one before: the "billion laughs" (CWE-776)."""
    names = "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 10))
    text = f'<!DOCTYPE x [<!ENTITY a0 "ha">{names}]>' + ODS[21:].format("<table:table-row>" + CELL.format("", "&a9;")
                                                                        + "</table:table-row>")
    with zipfile.ZipFile(tmp_path / "a.ods", "w") as pack:
        pack.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        pack.writestr("content.xml", text)
    refused(tmp_path / "a.ods", "document type")


def test_a_layer_that_claims_more_features_than_its_file_can_hold(tmp_path):
    """FlatGeobuf states the number of its features in the header, and readers make room for it."""
    gpd.GeoDataFrame({"id": ["a"] * 12345}, geometry=shapely.points(np.full(12345, 141.0), np.full(12345, -35.0)),
                     crs="EPSG:4326").to_file(tmp_path / "a.fgb", SPATIAL_INDEX="NO")
    raw = (tmp_path / "a.fgb").read_bytes()
    assert raw[:2000].count(struct.pack("<Q", 12345)) == 1
    (tmp_path / "a.fgb").write_bytes(raw.replace(struct.pack("<Q", 12345), struct.pack("<Q", 2**40), 1))
    with pytest.raises(InputError, match="larger than a list|damaged"):
        read_sites(tmp_path / "a.fgb")


def test_reading_that_does_not_end_is_ended(tmp_path, monkeypatch):
    from geozone.places import geofiles

    gpd.GeoDataFrame({"id": ["a"]}, geometry=[shapely.Point(141, -35)], crs="EPSG:4326").to_file(tmp_path / "a.fgb")
    monkeypatch.setattr(geofiles, "READING_S", 0.01)
    monkeypatch.setattr(geofiles, "READING_S_PER_MB", 0.0)
    refused(tmp_path / "a.fgb", "damaged")


ODD = {"no number": "POINT (nan nan)", "half a number": "POINT (141 nan)", "without end": "POINT (inf -35)", "empty point": "POINT EMPTY",
       "empty in a list": "MULTIPOINT (EMPTY)", "empty in a collection": "GEOMETRYCOLLECTION (POINT EMPTY, POLYGON EMPTY)",
       "nested empty": "GEOMETRYCOLLECTION (GEOMETRYCOLLECTION (MULTIPOLYGON EMPTY))",
       "outline of no numbers": "POLYGON ((141 -35, nan nan, 142 -36, 141 -35))", "line to nowhere": "LINESTRING (141 -35, nan -35)",
       "flat outline": "POLYGON ((141 -35, 141 -35, 141 -35, 141 -35))", "some and none": "MULTIPOINT ((nan nan), (141 -35))"}


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", ["a.gpkg", "a.fgb"])
def test_positions_that_are_none(tmp_path, odd, name):
    with np.errstate(invalid="ignore"):
        odd = shapely.from_wkt(ODD[odd])
    frame = gpd.GeoDataFrame({"id": ["a", "b"]}, geometry=[shapely.Point(141, -35), odd], crs="EPSG:4326")
    frame.to_file(tmp_path / name, geometry_type="Unknown", SPATIAL_INDEX="NO")
    got = read_sites(tmp_path / name)
    assert got.read == 2 and np.isfinite(got.sites[["lat_deg", "lon_deg"]].to_numpy()).all()
    for reader in (read_areas, read_backdrop):
        try:
            reader(tmp_path / name)
        except InputError:
            pass


@pytest.mark.parametrize("text", ["\x00\xff\xfe" * 50, "x" * 5_000_000, "", "GEOGCS[" * 10_000, "\ud800", "http://127.0.0.1:9/", "[]"])
@pytest.mark.parametrize("ending", [".prj", ".cpg"])
def test_side_files_that_are_no_text(tmp_path, text, ending):
    gpd.GeoDataFrame({"id": ["a"]}, geometry=[shapely.Point(141, -35)], crs="EPSG:4326").to_file(tmp_path / "a.shp")
    (tmp_path / f"a{ending}").write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        assert len(read_sites(tmp_path / "a.shp").sites) == 1
    except InputError:
        pass


JOB = '[job]\ntitle = "t"\nyear = 2027\nsites = "s.csv"\n[dark]\ntwilight = "civil"\n'
DIGITS = "9" * 5000


@pytest.mark.parametrize("text", [
    JOB.replace("2027", DIGITS), JOB + f"[tolerance]\ndark_min = {DIGITS}\n", JOB + f"[tolerance]\ndark_min = 1e{DIGITS}\n",
    JOB + f"[tolerance]\ndark_min = {'9' * 4000}\n", JOB + f"[keypad]\noffset_limit_min = {'9' * 4000}\n",
    JOB + f"[keypad]\nutc_offsets = [{'9' * 4000}]\n", JOB + f"[tariff]\nper_kwh = {'9' * 4000}\n",
    JOB + "x = " + "[" * 100_000, JOB + "x = " + "[\n" * 100_000, JOB + "x = " + "{a=" * 100_000, JOB + "a." * 100_000 + "b = 1",
    JOB + "[" + "a." * 100_000 + "b]", JOB + "[holidays]\n" + "a." * 150 + "b = " + "[" * 150 + "]" * 150,
    JOB + "x = " + "[" * 900 + "]" * 900, JOB + "[holidays]\ndates = [" + "[\n" * 900 + "]" * 901,
    JOB + "d = 9999-99-99", JOB + "[holidays]\ndates = [9999-12-31, 0001-01-01]", JOB.replace("s.csv", "\\u0000"),
    JOB + '[programmes]\ncolumn = "\\u001b[2J"', JOB + "[[programme]]\nname = 1979-05-27T07:32:00Z", "\ufeff" * 10, "\0", "=" * 10_000])
def test_job_files_that_are_no_jobs(tmp_path, text):
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    try:
        read_job(tmp_path / "job.toml")
    except InputError as why:
        assert "\x1b" not in str(why)


@pytest.mark.parametrize("content", [
    {"type": "Point", "coordinates": [141, int("9" * 400)]}, {"type": "Point", "coordinates": [[141, -35]]},
    {"type": "Polygon", "coordinates": [[[141, -35]]]}, {"type": "MultiPolygon", "coordinates": [[[[141, -35], [1]]]]},
    {"type": "Feature", "geometry": {"type": "Point"}, "properties": [1]},
    {"type": "Feature", "geometry": [], "properties": {"id": int("9" * 400), "\ud800": "\ud800"}},
    {"type": "FeatureCollection", "features": [{"geometry": {"type": ["Point"], "coordinates": [1, 2]}}]}])
def test_geojson_that_is_odd(tmp_path, content):
    more = {"type": "Feature", "properties": {"id": "a"}, "geometry": {"type": "Point", "coordinates": [141, -35]}}
    odd = content if content["type"] == "Feature" else {"type": "Feature", "properties": {}, "geometry": content}
    features = content["features"] if content["type"] == "FeatureCollection" else [odd]
    (tmp_path / "a.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [more, *features]}))
    got = read_sites(tmp_path / "a.geojson")
    assert got.read == 2 and len(got.sites) == 1


@pytest.mark.parametrize("text", ['{"type":' * 100_000, "[" * 1_000_000, '{"type":"Point","coordinates":[' + "9" * 5000 + ",1]}",
                                  '{"type":"GeometryCollection","geometries":[' * 500 + "]}" * 500])
def test_json_without_end(tmp_path, text):
    (tmp_path / "a.geojson").write_text(text)
    refused(tmp_path / "a.geojson", "GeoJSON|list")


def test_a_keypad_finer_than_any_is_refused_and_a_fine_one_finds_what_a_coarse_one_finds():
    """The finest that is allowed takes half a minute: `tests/bench/bench_shared.py`."""
    with pytest.raises(InputError, match="out of range"):
        Keypad(1e-6)
    fine, plain = (best_shared_setting(lat_deg=[-35.0, -34.7], lon_deg=[140.0, 140.3], year=2027, altitude_deg=-4.0,
                                       legal_zone="Australia/Adelaide", keypad=Keypad(step)) for step in (0.002, 0.01))
    assert abs(fine.lat_deg - plain.lat_deg) < 0.2


def test_limits_stand_in_the_readme():
    from pathlib import Path

    text = " ".join((Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8").split())
    for value in (f"{limits.MOST_TEXT_BYTES / 1e6:.0f} MB", f"{limits.MOST_FILE_BYTES / 1e9:.0f} GB",
                  f"{limits.MOST_ROWS / 1e6:.0f} million rows",
                  f"{limits.MOST_COLUMNS:,} columns", f"{limits.MOST_CELLS / 1e6:.0f} million cells",
                  f"{limits.MOST_CORNERS / 1e6:.0f} million corners"):
        assert value in text, value
