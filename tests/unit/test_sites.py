import datetime as dt

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
import xlsxwriter

from geozone.errors import InputError
from geozone.places.sites import RESERVED, SiteReading, read_sites

GOOD = "".join(f"S{i},-35.{i},141.{i}\n" for i in range(10, 20))  # rows 2 to 11


def listed(tmp_path, text, name="sites.csv", encoding="utf-8", **reading):
    (tmp_path / name).write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return read_sites(tmp_path / name, SiteReading(**reading))


@pytest.mark.parametrize("row, value, reason", [
    ("a,141.2,-35.1", "141.2, -35.1", "exchanged"), ("a,0,0", "0, 0", "placeholder"),
    ("a,-91,141", "-91, 141", "latitude outside"), ("a,-35,188", "-35, 188", "negative"),
    ("a,-35,999", "-35, 999", "longitude outside"), ("a,,141", ", 141", "lat: no value"), ("a,,", "a", "no position"),
    ("S12,-35,141", "S12", "id already used in row 4"), ("a,south,141", "south, 141", "lat: not a number"),
    ("a,\u00a0,141", "\u00a0, 141", "hidden characters"), ("a,−,141", "−, 141", "lone sign"), ("a,nan,141", "nan, 141", "no value"),
    ("a,-35,5,141", "a,-35,5,141", "4 values under 3 headings"), ("a,-3512345,141", "-3512345, 141", "latitude outside"),
    ("S12\u00a0,-35,141", "S12", "id already used in row 4")])
def test_one_bad_row_costs_one_row(tmp_path, row, value, reason):
    got = listed(tmp_path, f"id,lat,lon\n{GOOD}{row}\nlast,-35.5,141.5\n")
    assert len(got.sites) == 11 and got.read == 12
    line = got.rejects.iloc[0]
    assert list(got.rejects) == ["file", "row", "value", "reason"]
    assert (line["file"], line["row"], line["value"]) == ("sites.csv", 12, value) and reason in line["reason"]
    assert got.sites["row"].tolist()[-1] == 13


def test_exchanged_where_both_ways_are_on_the_globe(tmp_path):
    rows = "".join(f"S{i},45.{i},11.{i}\n" for i in range(10, 20))
    got = listed(tmp_path, f"id,lat,lon\n{rows}x,11.15,45.15\ny,46.9,12.9\n")
    assert got.rejects["row"].tolist() == [12] and "exchanged" in got.rejects["reason"][0]
    # where lat and lon are alike, nothing tells an exchange: nothing is rejected
    alike = "".join(f"S{i},40.{i},40.{30 - i}\n" for i in range(10, 20))
    assert len(listed(tmp_path, f"id,lat,lon\n{alike}x,40.5,40.1\n").rejects) == 0
    # a list without a home has no strangers
    wide = "".join(f"S{i},{i * 8 - 40},{i * 15 - 80}\n" for i in range(1, 10))
    assert len(listed(tmp_path, f"id,lat,lon\n{wide}").rejects) == 0


def test_a_changed_sign_is_asked_not_decided(tmp_path):
    got = listed(tmp_path, f"id,lat,lon\n{GOOD}x,35.15,141.15\n")
    assert len(got.sites) == 11 and any("sign changed" in n and "row 12" in n for n in got.notes)


def test_columns_types_and_order(tmp_path):
    got = listed(tmp_path, "id,lat,lon,timezone,watt,row,pole,0012\nA1,-35.1,141.2,Australia/Adelaide,150,7,=1+1,007\n")
    sites = got.sites
    assert tuple(sites.columns[:7]) == RESERVED
    assert list(sites.columns[7:]) == ["row_given", "pole", "0012", "geometry"]
    assert sites.crs.to_epsg() == 4326 and sites.index.equals(pd.RangeIndex(1))
    assert sites.loc[0, ["site_id", "name", "legal_zone_given", "row_given", "pole", "0012"]].tolist() == [
        "A1", "", "Australia/Adelaide", "7", "=1+1", "007"]
    assert (sites.lat_deg[0], sites.lon_deg[0], sites.load_w[0], sites.row[0]) == (-35.1, 141.2, 150.0, 2)
    assert any('column "row" is kept as "row_given"' in n for n in got.notes)


def test_unknown_legal_zone_is_rejected(tmp_path):
    got = listed(tmp_path, "id,lat,lon,tz\na,-35,141,Australia/Adelaide\nb,-35,141.1,Australia/Nowhere\nc,-35,141.2,\n")
    assert got.rejects["value"].tolist() == ["Australia/Nowhere"] and len(got.sites) == 2


def test_ids_are_made_and_said(tmp_path):
    got = listed(tmp_path, "lat,lon\n-35,141\n-35,141.1\n")
    assert got.sites.site_id.tolist() == ["row-2", "row-3"] and any("ids are made" in n for n in got.notes)
    got = listed(tmp_path, "id,lat,lon\na,-35,141\n,-35,141.1\n\nrow-3,-35,141.2\n")
    assert got.sites.site_id.is_unique and len(got.sites) == 3 and any("1 row without an id" in n for n in got.notes)


def test_one_position_twice_is_no_fault(tmp_path):
    got = listed(tmp_path, "id,lat,lon\na,-35,141\nb,-35,141\n")
    assert len(got.sites) == 2 and any("1 site stands at the position of another" in n for n in got.notes)


# GDA94 / MGA zone 54: on its central meridian 141 E the easting is 500,000 m by definition; one UTM metre of easting
# there is 1/0.9996 m on the ground. The independent northing of 35 S comes from the closed series below.
def meridian_northing(lat_deg):
    """Distance from the equator on GRS80 [m], series in e^2 (Snyder, Map Projections, USGS PP 1395, eq. 3-21; from memory)."""
    a, f = 6378137.0, 1 / 298.257222101
    e2, p = f * (2 - f), np.radians(lat_deg)
    return a * ((1 - e2 / 4 - 3 * e2**2 / 64 - 5 * e2**3 / 256) * p - (3 * e2 / 8 + 3 * e2**2 / 32 + 45 * e2**3 / 1024) * np.sin(2 * p)
                + (15 * e2**2 / 256 + 45 * e2**3 / 1024) * np.sin(4 * p) - 35 * e2**3 / 3072 * np.sin(6 * p))


def test_projected_list_semicolons_decimal_comma_cp1252(tmp_path):
    north = 10_000_000 + 0.9996 * meridian_northing(-35.0)
    rows = "".join(f"K{i};Café Nº {i};{500000 + i},25;{north:.3f}\n".replace(".", ",") for i in range(5))
    text = "Schrank Nr;Bezeichnung;Rechtswert;Hochwert\n" + rows
    got = listed(tmp_path, text, encoding="cp1252", crs="EPSG:28354")
    assert len(got.sites) == 5 and got.sites.name[0] == "Café Nº 0" and got.sites.site_id[0] == "K0"
    assert got.sites.lat_deg[0] == pytest.approx(-35.0, abs=1e-6)
    assert got.sites.lon_deg[0] == pytest.approx(141.0, abs=1e-5)
    assert got.sites["Rechtswert"][0] == "500000,25"  # the file's own columns stay as they are
    assert any("EPSG:28354" in n for n in got.notes) and any("CP1252" in n for n in got.notes)
    with pytest.raises(InputError) as raised:
        listed(tmp_path, text, encoding="cp1252")
    message = str(raised.value)
    assert "EPSG:28354" in message and "EPSG:7854" in message and '[job] crs = "EPSG:..."' in message
    with pytest.raises(InputError, match="do not fit"):
        listed(tmp_path, text, encoding="cp1252", crs="EPSG:27700")
    with pytest.raises(InputError, match="do not fit"):
        listed(tmp_path, text, encoding="cp1252", crs="4326")
    with pytest.raises(InputError, match="not known"):
        listed(tmp_path, text, encoding="cp1252", crs="EPSG:1")


def test_degrees_under_a_projected_crs(tmp_path):
    with pytest.raises(InputError, match="are degrees, but"):
        listed(tmp_path, f"id,lat,lon\n{GOOD}", crs="EPSG:28354")


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_separators_and_encodings(tmp_path, separator, encoding):
    text = "id,name,lat,lon\n1,Zoë,-35.1,141.2\n2,Größe,-35.2,141.3\n".replace(",", separator)
    got = listed(tmp_path, text, encoding=encoding)
    assert got.sites.name.tolist() == ["Zoë", "Größe"] and got.sites.lat_deg.tolist() == [-35.1, -35.2]


def test_decimal_comma(tmp_path):
    got = listed(tmp_path, "id;lat;lon;load kW\n1;-35,1;141,2;0,15\n2;-35,2;141,3;1,5\n")
    assert got.sites.lat_deg.tolist() == [-35.1, -35.2] and got.sites.load_w.tolist() == [150, 1500]
    assert any("kW" in n for n in got.notes)
    assert listed(tmp_path, "id;lat;lon\n1;-35,1;141,2\n", decimal=",").sites.lat_deg[0] == -35.1


def test_every_kind_of_map_file_gives_the_same_sites(tmp_path):
    truth = {"a": (-35.0, 141.0), "b": (-36.0, 142.0)}
    degrees = gpd.GeoDataFrame({"site_id": ["a", "b"], "watt": [100.0, None]},
                               geometry=[shapely.Point(141, -35), shapely.Point(142, -36)], crs="EPSG:4326")
    degrees.to_file(tmp_path / "a.geojson")
    degrees.to_crs(28354).to_file(tmp_path / "b.gpkg")
    degrees.to_crs(7854).to_file(tmp_path / "c.shp")
    degrees.to_file(tmp_path / "d.fgb")
    for name in ("a.geojson", "b.gpkg", "c.shp", "d.fgb"):
        got = read_sites(tmp_path / name)
        for site in got.sites.itertuples():
            assert (site.lat_deg, site.lon_deg) == pytest.approx(truth[site.site_id], abs=2e-5), name
        assert len(got.sites) == 2 and set(got.sites["row"]) == {1, 2} and got.sites.load_w.max() == 100
    degrees.to_file(tmp_path / "e.shp")
    (tmp_path / "e.prj").unlink()
    got = read_sites(tmp_path / "e.shp")
    assert len(got.sites) == 2 and any("names no coordinate reference system" in n for n in got.notes)
    degrees.to_crs(28354).to_file(tmp_path / "f.shp")
    (tmp_path / "f.prj").unlink()
    with pytest.raises(InputError, match="no coordinate reference system is stated"):
        read_sites(tmp_path / "f.shp")
    assert read_sites(tmp_path / "f.shp", SiteReading(crs="EPSG:28354")).sites.lat_deg[0] == pytest.approx(-35, abs=1e-6)


def test_shapes_that_are_no_points(tmp_path):
    gpd.GeoDataFrame({"id": ["a", "b", "c"]}, geometry=[shapely.box(141, -35, 141.2, -34.8), None, shapely.Point(141, -35)],
                     crs=4326).to_file(tmp_path / "a.gpkg")
    got = read_sites(tmp_path / "a.gpkg")
    assert got.sites.site_id.tolist() == ["a", "c"] and got.rejects["row"].tolist() == [2]
    assert any("a point inside each is used" in n for n in got.notes)
    assert shapely.box(141, -35, 141.2, -34.8).contains(got.sites.geometry[0])


def test_two_layers_that_fit_are_refused(tmp_path):
    frame = gpd.GeoDataFrame({"id": ["a"]}, geometry=[shapely.Point(141, -35)], crs=4326)
    frame.to_file(tmp_path / "a.gpkg", layer="poles")
    frame.to_file(tmp_path / "a.gpkg", layer="boxes")
    with pytest.raises(InputError, match="'poles', 'boxes'") as raised:
        read_sites(tmp_path / "a.gpkg")
    assert '[reading] layer = "poles"' in str(raised.value)
    assert len(read_sites(tmp_path / "a.gpkg", SiteReading(layer="boxes")).sites) == 1
    outline = gpd.GeoDataFrame({"name": ["x"]}, geometry=[shapely.box(0, 0, 1, 1)], crs=4326)
    frame.to_file(tmp_path / "b.gpkg", layer="poles")
    outline.to_file(tmp_path / "b.gpkg", layer="district")
    assert read_sites(tmp_path / "b.gpkg").sites.site_id.tolist() == ["a"]


def test_the_sheet_with_fitting_columns_is_taken(tmp_path):
    with xlsxwriter.Workbook(tmp_path / "a.xlsx") as made:
        remarks, list_ = made.add_worksheet("Remarks"), made.add_worksheet("Sites")
        remarks.write_row(0, 0, ["who", "when"])
        remarks.write_row(1, 0, ["me", "today"])
        list_.write_row(1, 0, ["No", "Latitude", "Longitude", "kW", "Since"])
        list_.write_row(2, 0, [101, -35.5, 141.25, 0.15])
        list_.write_datetime(2, 4, dt.datetime(2020, 5, 1), made.add_format({"num_format": "yyyy-mm-dd"}))
        list_.write_row(3, 0, [102, "-35,75", "141° 30' E", 0.2])
    got = read_sites(tmp_path / "a.xlsx")
    assert got.sites.site_id.tolist() == ["101", "102"] and got.sites["row"].tolist() == [3, 4]
    assert got.sites.lat_deg.tolist() == [-35.5, -35.75] and got.sites.lon_deg.tolist() == [141.25, 141.5]
    assert got.sites.load_w.tolist() == [150, 200] and got.sites["Since"].dtype.kind == "M"


def test_nothing_usable_counts_the_reasons(tmp_path):
    with pytest.raises(InputError) as raised:
        listed(tmp_path, "id,lat,lon\n" + "".join(f"{i},141.{i},-35.{i}\n" for i in range(10)) + "x,,\n")
    assert "none of the 11 rows" in str(raised.value) and "10 x" in str(raised.value) and "exchanged" in str(raised.value)


@pytest.mark.parametrize("text", [
    "id,lat,ns,lon,ew\n1,35.2,S,141.5,E\n", "id,lat_dir,lat,lon_dir,lon\n1,S,35.2,E,141.5\n",
    "id,lat_deg,lat_min,lon_deg,lon_min\n1,-35,12,141,30\n",
    "id,lat_deg,lat_min,lat_sec,lat_ns,lon_deg,lon_min,lon_sec,x\n1,35,11,60,S,141,29,60,E\n"])
def test_minutes_seconds_and_hemisphere_in_columns_of_their_own(tmp_path, text):
    got = listed(tmp_path, text)
    assert (got.sites.lat_deg[0], got.sites.lon_deg[0]) == pytest.approx((-35.2, 141.5), abs=1e-9)
    assert any("the rest of lat from" in n for n in got.notes)
    assert len(listed(tmp_path, "id,lat,ns,lon\n1,-35.2,N,141.5\n2,35.2,N,141\n").rejects) == 1  # -35 N contradicts itself


def test_ids_that_repeat_are_still_ids(tmp_path):
    got = listed(tmp_path, "id,lat,lon\nA,,\nA,-35,141\nA,-35,142\n")
    assert got.sites["row"].tolist() == [3] and got.rejects["reason"].tolist() == ["no position", "id already used in row 3"]


def test_wkt_and_one_column(tmp_path):
    got = listed(tmp_path, "id;p\n1;-35.1, 141.2\n2;35°12'S 141°30'E\n3;-35,2 141,4\n")
    assert got.sites.lat_deg.tolist() == pytest.approx([-35.1, -35.2, -35.2])
    assert listed(tmp_path, 'id,wkt\n1,"SRID=28354;POINT(500000 6100000)"\n').sites.lon_deg[0] == pytest.approx(141, abs=1e-6)


def test_hostile_text_passes_as_text(tmp_path):
    got = listed(tmp_path, 'id,name,lat,lon\n1,"${alert(1)}</script>`\\1",-35,141\n')
    assert got.sites.name[0] == "${alert(1)}</script>`\\1"


def test_two_sheets_that_fit_are_refused(tmp_path):
    with xlsxwriter.Workbook(tmp_path / "a.xlsx") as made:
        for name in ("North", "South"):
            sheet = made.add_worksheet(name)
            sheet.write_row(0, 0, ["id", "lat", "lon"])
            sheet.write_row(1, 0, [name, -35.5, 141.25])
    with pytest.raises(InputError, match="'North', 'South'"):
        read_sites(tmp_path / "a.xlsx")
    assert read_sites(tmp_path / "a.xlsx", SiteReading(layer="South")).sites.site_id.tolist() == ["South"]


def test_a_geojson_that_names_its_crs(tmp_path):
    feature = '{"type":"Feature","properties":{"id":"a"},"geometry":{"type":"Point","coordinates":[500000,6100000]}}'
    crs = '"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::28354"}},'
    got = listed(tmp_path, '{"type":"FeatureCollection",%s"features":[%s]}' % (crs, feature), name="a.geojson")
    assert got.sites.lon_deg[0] == pytest.approx(141, abs=1e-6)
    with pytest.raises(InputError, match="no coordinate reference system is stated"):
        listed(tmp_path, '{"type":"FeatureCollection","features":[%s]}' % feature, name="b.geojson")
