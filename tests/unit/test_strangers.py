"""What a file from a stranger can make the program do: read its own rows, and nothing else.

Each carrier below asks an address on this machine, or a file outside the folder, as formats of GDAL (gdal.org, drivers/vector/vrt)
and GeoJSON 2008 (section 3.2, "Linked CRS") allow. A listener counts.
"""

import json
import socket
import sqlite3
import struct
import subprocess
import sys
import threading
import zipfile

import geopandas as gpd
import pytest
import shapely

from geozone.errors import InputError
from geozone.places import geofiles, projections
from geozone.places.areas import read_areas, read_backdrop
from geozone.places.sites import SiteReading, read_sites
from geozone.places.tables import read_tables

SECRET = "classified-7341"


class Listener:
    """A server on this machine that counts who calls."""

    def __init__(self):
        self.calls = 0
        self.socket = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self.socket.getsockname()[1]}/x"
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self):
        while True:
            try:
                caller, _ = self.socket.accept()
            except OSError:
                return
            self.calls += 1
            caller.sendall(b"HTTP/1.1 404 Not Found\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
            caller.close()


@pytest.fixture
def listener():
    made = Listener()
    yield made
    made.socket.close()


@pytest.fixture
def outside(tmp_path):
    path = tmp_path / "outside.csv"
    path.write_text(f"id,lat,lon\n{SECRET},-35,141\n")
    return path


def virtual(source):
    """A document of GDAL's virtual format: its rows are another file's."""
    return (f"<OGRVRTDataSource><OGRVRTLayer name='outside'><SrcDataSource>{source}</SrcDataSource>"
            "<GeometryType>wkbPoint</GeometryType><GeometryField encoding='PointFromColumns' x='lon' y='lat'/>"
            "</OGRVRTLayer></OGRVRTDataSource>")


def plain():
    return gpd.GeoDataFrame({"id": ["a", "b"]}, geometry=[shapely.Point(141, -35).buffer(0.1), shapely.Point(142, -36).buffer(0.1)],
                            crs="EPSG:4326")


def shapefile(folder, **replaced):
    """A Shapefile with some of its parts replaced."""
    folder.mkdir()
    plain().to_file(folder / "list.shp")
    for ending, content in replaced.items():
        (folder / f"list.{ending}").write_bytes(content if isinstance(content, bytes) else content.encode())
    return folder / "list.shp"


def zipped(shape):
    target = shape.parent / "list.zip"
    with zipfile.ZipFile(target, "w") as pack:
        for part in shape.parent.glob("list.*"):
            if part != target:
                pack.write(part, part.name)
    return target


def database(path, *commands):
    plain().to_file(path, layer="poles")
    base = sqlite3.connect(path)
    for command in commands:
        base.execute(command)
    base.commit()
    base.close()
    return path


LAYER = "insert into gpkg_contents (table_name, identifier, data_type) values ('{0}', '{0}', 'attributes')"


def flatgeobuf_with_crs(path, org, code_string):
    """The smallest FlatGeobuf header with such a CRS (flatgeobuf.org, header.fbs: Crs is field 9; org 0, code 1, code_string 5)."""
    def text(value):
        raw = value.encode()
        return struct.pack("<I", len(raw)) + raw + b"\0" * (4 - len(raw) % 4)

    first, second = text(org), text(code_string)
    vtable = struct.pack("<HHHHHHHH", 16, 16, 4, 8, 0, 0, 0, 12)
    strings = 16 + 16  # vtable, table
    table = struct.pack("<iIiI", 16, strings - 16 - 4, 7, strings + len(first) - 16 - 12)
    crs = vtable + table + first + second
    head_vtable = struct.pack("<13H", 26, 16, 0, 0, 12, 0, 0, 0, 0, 0, 0, 4, 0) + b"\0\0"
    table_at = 4 + len(head_vtable)
    head_table = struct.pack("<iI", len(head_vtable), 16 - 4 + 16) + b"\0" * 8
    body = struct.pack("<I", table_at) + head_vtable + head_table + crs
    path.write_bytes(b"fgb\x03fgb\x01" + struct.pack("<I", len(body)) + body)
    return path


def workbook_with_link(path, address):
    import xlsxwriter
    with xlsxwriter.Workbook(path) as made:
        sheet = made.add_worksheet()
        sheet.write_row(0, 0, ["id", "lat", "lon", "link"])
        sheet.write_row(1, 0, ["a", -35, 141])
        if address.startswith("http"):
            sheet.write_url(1, 3, address)
        sheet.write_formula(1, 4, f'=WEBSERVICE("{address}")', value="0")
    return path


def geojson(path, **more):
    features = [{"type": "Feature", "properties": {"id": "a", "note": more.pop("note", "")},
                 "geometry": json.loads(shapely.to_geojson(shapely.Point(141, -35).buffer(0.1)))}]
    path.write_text(json.dumps({"type": "FeatureCollection", **more, "features": features}))
    return path


def pointer(path, content):
    path.write_text(content)
    return path


CARRIERS = {
    "virtual format as shp in a zip": lambda d, s: zipped(shapefile(d / "f", shp=virtual(s))),
    "virtual format behind shp magic": lambda d, s: zipped(shapefile(d / "f", shp=b"\0\0\x27\x0a" + virtual(s).encode())),
    "virtual format behind shp magic, unpacked": lambda d, s: shapefile(d / "f", shp=b"\0\0\x27\x0a" + virtual(s).encode()),
    "virtual format as dbf": lambda d, s: shapefile(d / "f", dbf=virtual(s)),
    "virtual format as shx": lambda d, s: shapefile(d / "f", shx=virtual(s)),
    "virtual format as prj": lambda d, s: shapefile(d / "f", prj=virtual(s)),
    "address as prj": lambda d, s: shapefile(d / "f", prj=s),
    "grid in prj": lambda d, s: shapefile(d / "f", prj=(
        'GEOGCS["x",DATUM["d",SPHEROID["WGS84",6378137,298.257223563],EXTENSION["PROJ4_GRIDS","' + s + '"]],'
        'PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],EXTENSION["PROJ4","+proj=longlat +nadgrids=' + s + '"]]')),
    "address as cpg": lambda d, s: shapefile(d / "f", cpg=s),
    "address as index": lambda d, s: shapefile(d / "f", qix=s, sbn=s, aux=s),
    "virtual format behind fgb magic": lambda d, s: pointer(d / "a.fgb", "fgb\x03fgb\x01" + virtual(s)),
    "address as crs of fgb": lambda d, s: flatgeobuf_with_crs(d / "a.fgb", *(s.split(":", 1) + [""])[:2]),
    "virtual format in a text of GeoJSON": lambda d, s: geojson(d / "a.geojson", note=virtual(s)),
    "virtual format as name of GeoJSON": lambda d, s: geojson(d / "a.geojson", name=virtual(s)),
    "GeoJSON crs link": lambda d, s: geojson(d / "a.geojson", crs={"type": "link", "properties": {"href": s, "type": "proj4"}}),
    "GeoJSON crs url": lambda d, s: geojson(d / "a.geojson", crs={"type": "url", "properties": {"url": s}}),
    "GeoJSON crs name": lambda d, s: geojson(d / "a.geojson", crs={"type": "name", "properties": {"name": s}}),
    "GeoJSON crs list": lambda d, s: geojson(d / "a.geojson", crs={"type": "OGC", "properties": {"urn": s, "href": s}}),
    "GeoJSON with a service's words": lambda d, s: geojson(d / "a.geojson", links=[{"rel": "next", "href": s, "method": "GET"}],
                                                          exceededTransferLimit=True, stac_version="1.0.0"),
    "algorithm as GeoJSON": lambda d, s: pointer(d / "a.json", json.dumps(
        {"type": "gdal_streamed_alg", "command_line": f"gdal vector pipeline ! read {s} ! reproject --dst-crs EPSG:4326"})),
    "GeoPackage view that asks": lambda d, s: database(
        d / "a.gpkg", f"create view v as select ogr_geocode('{s}') as id, 1 as lat", LAYER.format("v")),
    "GeoPackage view over a file": lambda d, s: database(
        d / "a.gpkg", f"create view v as select gdal_get_layer_pixel_value('{s}',1,'georef',1,1) as id", LAYER.format("v")),
    "workbook with links": lambda d, s: workbook_with_link(d / "a.xlsx", s),
    "CSV of an address": lambda d, s: pointer(d / "a.csv", f"id,lat,lon,link\na,-35,141,{s}\n/vsicurl/{s},-35,141,x\n"),
}


def read_every_way(path):
    """As site list, as outlines and as backdrop; what was read, as one text."""
    found = []
    for how in (lambda: read_sites(path).sites, lambda: read_areas(path)[0], lambda: read_backdrop(path)):
        try:
            found.append(how().to_json())
        except InputError as why:
            found.append(str(why))
    return " ".join(found)


@pytest.mark.parametrize("carrier", CARRIERS)
def test_no_file_makes_it_call_or_read_another_file(carrier, tmp_path, listener, outside):
    prefix = "/vsicurl/" if "virtual" in carrier or "file" in carrier else ""
    for name, source in (("call", prefix + listener.address), ("read", str(outside))):
        (tmp_path / name).mkdir()
        assert SECRET not in read_every_way(CARRIERS[carrier](tmp_path / name, source))
    assert listener.calls == 0


# What the same files do to a map library that opens whatever it likes: the tests above can fail.
UNPROTECTED = """
import sys, warnings, pyogrio
warnings.simplefilter("ignore")
for name in sys.argv[1:]:
    try:
        print(pyogrio.read_dataframe(name).to_csv())
    except Exception as why:
        print(why)
"""


@pytest.mark.parametrize("carrier", ["virtual format as shp in a zip", "virtual format behind fgb magic",
                                     "virtual format as name of GeoJSON", "GeoJSON crs link", "GeoJSON crs url"])
def test_the_same_files_do_call_where_nothing_limits_the_library(carrier, tmp_path, listener, outside):
    paths = []
    for name, source in (("call", f"/vsicurl/{listener.address}" if "virtual" in carrier else listener.address), ("read", str(outside))):
        (tmp_path / name).mkdir()
        path = CARRIERS[carrier](tmp_path / name, source)
        paths.append(str(path.with_suffix(".shp") if path.suffix == ".zip" else path))  # as it lies when it is unpacked
    done = subprocess.run([sys.executable, "-c", UNPROTECTED, *paths], capture_output=True, text=True)
    assert listener.calls > 0
    assert ("virtual" in carrier) == (SECRET in done.stdout)


def test_the_process_that_reads_has_one_driver():
    for driver in set(geofiles.DRIVERS.values()) - {"Parquet", "GeoJSON"}:
        done = subprocess.run([sys.executable, "-P", "-c", "import pyogrio; print(*pyogrio.list_drivers(), sep=',')"],
                              env=geofiles._environment(driver), capture_output=True, text=True)
        assert done.stdout.strip() == driver


@pytest.mark.parametrize("stated", ["+proj=longlat +nadgrids=/etc/passwd", "+init=/etc/passwd:1", "http://127.0.0.1:9/x",
                                    "/etc/passwd", "file:///etc/passwd", "+proj=pipeline +step +proj=vgridshift +grids=/etc/passwd",
                                    "9" * 100_000])
def test_a_stated_crs_opens_no_file(stated):
    with pytest.raises(InputError):
        projections.as_crs(stated, "job.toml")


def test_a_link_as_crs_is_said(tmp_path):
    path = geojson(tmp_path / "a.geojson", crs={"type": "link", "properties": {"href": "http://127.0.0.1:9/x"}})
    assert any("links are not followed" in note for note in read_sites(path).notes)
    assert read_sites(path, SiteReading(crs="EPSG:4326")).sites.lat_deg.round().tolist() == [-35]


@pytest.mark.parametrize("commands", [
    ["create view v as select load_extension('x') as a"],
    ["create table t (a text, b text generated always as (ogr_geocode(a)) virtual)"],
    ["create view v as with recursive n(i) as (select 1 union all select i + 1 from n) select load_extension(i) from n"]])
def test_a_database_with_instructions_is_refused(tmp_path, commands):
    try:
        path = database(tmp_path / "a.gpkg", *commands)
    except sqlite3.OperationalError:  # this machine's own SQLite does not even write it
        pytest.skip("cannot be written here")
    with pytest.raises(InputError, match="instructions"):
        read_tables(path)


def test_a_virtual_table_over_a_file_is_refused(tmp_path):
    path = database(tmp_path / "a.gpkg", "pragma writable_schema=on",
                    "insert into sqlite_master values ('table', 't', 't', 0, 'CREATE VIRTUAL TABLE t USING VirtualOGR(''/etc/passwd'')')")
    with pytest.raises(InputError, match="VirtualOGR|virtualogr|instructions"):
        read_tables(path)


def test_plain_views_are_read(tmp_path):
    path = database(tmp_path / "a.gpkg", "create view v as select fid, upper(id) as id, '141' as lon, '-35' as lat from poles",
                    LAYER.format("v"))
    assert {t.layer: t.frame["id"].tolist() for t in read_tables(path)} == {"poles": ["a", "b"], "v": ["A", "B"]}


def test_nothing_is_written_beside_a_database(tmp_path):
    path = database(tmp_path / "a.gpkg", "pragma journal_mode=wal")
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert len(read_tables(path)[0].frame) == 2
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_a_table_written_ahead_is_read_to_its_end(tmp_path):
    """Another program has the GeoPackage open: its last rows stand in the file beside it (sqlite.org/wal.html)."""
    path = database(tmp_path / "a.gpkg", "pragma journal_mode=wal")
    base = sqlite3.connect(path)
    base.execute("pragma wal_autocheckpoint=0")
    base.execute("create table more (a)")
    base.execute(LAYER.format("more"))
    base.execute("insert into more values ('late')")
    base.commit()
    assert {t.layer for t in read_tables(path)} == {"poles", "more"}
    base.close()


@pytest.mark.parametrize("crs", ["+proj=longlat +nadgrids=/etc/passwd +type=crs", "http://127.0.0.1:9/x", None, {"$schema": "x"}])
def test_geoparquet_names_no_file(tmp_path, crs):
    pytest.importorskip("pyarrow", reason="the extra 'parquet' is not installed")
    import pyarrow.parquet as parquet

    plain().to_parquet(tmp_path / "a.parquet")
    table = parquet.read_table(tmp_path / "a.parquet")
    told = dict(table.schema.metadata)
    about = json.loads(told[b"geo"])
    if crs is not None:
        about["columns"]["geometry"]["crs"] = crs
    parquet.write_table(table.replace_schema_metadata({**told, b"geo": json.dumps(about)}), tmp_path / "b.parquet")
    if crs is None:
        assert len(read_sites(tmp_path / "b.parquet").sites) == 2
    else:
        with pytest.raises(InputError, match="coordinate reference system"):
            read_sites(tmp_path / "b.parquet")
