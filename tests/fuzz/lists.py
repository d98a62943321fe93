"""Site lists and outlines in every kind of file, whole ones and spoilt ones."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import struct
import warnings
import zipfile
from pathlib import Path
from random import Random

from jobs import NASTY_NUMBERS, NASTY_TEXTS

CELLS = (*NASTY_TEXTS, "-35.1", "141,2", "35°12'S", "141 E", "12 O", "999", "-35.1, 141.2", "POINT (141 -35)", "SRID=4326;POINT(1 2)",
         "POINT (nan nan)", "POINT EMPTY", "POLYGON ((0 0, 1 1, 1 0, 0 0))", "1e400", "9" * 400, "-0", "1.234.567,8", "#N/A", "12 W",
         "1 kW",
         "2027-01-01", "°", "N", "S 1 2 3 4", "\u221235", "a,b;c\td|e", '"', '""', "'", "Australia/Adelaide", "Europe/Nowhere")
HEADINGS = ("lat", "lon", "x", "y", "Easting", "Northing", "position", "wkt", "id", "site_id", "name", "load_kw", "timezone", "geometry",
            "area", "verdict", "result", "row", "lat_given", "Länge", "", " ", "id", "lat", "a" * 300, "group", "worst_dark_min")
KINDS = {"csv": 24, "tsv": 4, "xlsx": 10, "ods": 3, "geojson": 14, "gpkg": 6, "shp": 5, "zip": 4, "fgb": 5}


def write(random: Random, folder: Path, rows: list[list], kind: str) -> tuple[Path, int | None]:
    """A list of this kind; how many rows it holds, or None if that cannot be told any more."""
    path, known = folder / f"list.{kind}", True
    headings, body = list(rows[0]), [list(row) for row in rows[1:]]
    if random.random() < 0.6:
        known = _spoil_cells(random, headings, body)
    count = sum(any(str(cell).strip() for cell in row) for row in body)
    raw = _WRITERS[kind](random, path, headings, body)
    if raw is not None:
        path.write_bytes(raw)
    if random.random() < 0.35:
        known = False
        _damage(random, path, folder)
    return path, count if known and kind in ("csv", "tsv", "geojson") else None


def _spoil_cells(random: Random, headings: list, body: list[list]) -> bool:
    """Put foolish values into cells and headings; whether the number of rows can still be told by counting filled ones."""
    for _ in range(random.choice((1, 2, 5, 20))):
        what = random.random()
        if what < 0.6 and body:
            row = random.choice(body)
            if row:
                row[random.randrange(len(row))] = random.choice(CELLS + NASTY_NUMBERS)
        elif what < 0.75:
            headings[random.randrange(len(headings))] = random.choice(HEADINGS)
        elif what < 0.85 and body:
            body.append(list(random.choice(body)))
        elif what < 0.9 and len(headings) > 1:
            spot = random.randrange(len(headings))
            del headings[spot]
            for row in body:
                del row[spot:spot + 1]
        else:
            headings.append(random.choice(HEADINGS))
            for row in body:
                row.append(random.choice(CELLS + NASTY_NUMBERS))
    # hidden characters and line ends inside of cells make "filled" a matter of definition, headings of numbers a matter of luck
    return all(str(cell).isprintable() and "\ufeff" not in str(cell) for row in [headings, *body]
               for cell in row) and headings[0] == "site_id"


def _text(random: Random, path: Path, headings, body, separator=None) -> bytes:
    stream = io.StringIO()
    csv.writer(stream, delimiter=separator or random.choice(",;\t|"),
               lineterminator=random.choice(("\n", "\r\n"))).writerows([headings, *body])
    text = stream.getvalue()
    encoding = random.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252", "cp850", "utf-16-le"))
    return text.encode(encoding, errors="replace")


def _workbook(random: Random, path: Path, headings, body) -> None:
    import xlsxwriter

    with xlsxwriter.Workbook(path, {"nan_inf_to_errors": True, "strings_to_formulas": random.random() < 0.5}) as made:
        sheet = made.add_worksheet()
        first = random.choice((0, 0, 0, 3))
        for number, row in enumerate([headings, *body]):
            for place, cell in enumerate(row):
                try:
                    with warnings.catch_warnings():
                        warnings.simplefilter("ignore")
                        sheet.write(first + number, place, cell)
                except (ValueError, OverflowError, TypeError):
                    pass
        if random.random() < 0.1:
            sheet.write(random.choice((5, 10**4, 1048575)), random.choice((3, 300, 16383)), "stray")


def _open_document(random: Random, path: Path, headings, body) -> None:
    from xml.sax.saxutils import escape

    def cell(value):
        repeated = f' table:number-columns-repeated="{random.choice((1, 2, 10**4, 10**9))}"' if random.random() < 0.01 else ""
        if isinstance(value, (int, float)):
            return (f'<table:table-cell office:value-type="float" office:value="{value}"{repeated}>'
                    f'<text:p>{value}</text:p></table:table-cell>')
        clean = "".join(c for c in str(value) if c.isprintable() or c == "\n")
        return f'<table:table-cell office:value-type="string"{repeated}><text:p>{escape(clean)}</text:p></table:table-cell>'

    lines = "".join("<table:table-row>" + "".join(map(cell, row)) + "</table:table-row>" for row in [headings, *body])
    names = "".join(f' xmlns:{k}="urn:oasis:names:tc:opendocument:xmlns:{k}:1.0"' for k in ("office", "table", "text"))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as pack:
        pack.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        pack.writestr("content.xml", f'<?xml version="1.0"?><office:document-content{names}><office:body><office:spreadsheet>'
                      f'<table:table table:name="A">{lines}</table:table></office:spreadsheet></office:body></office:document-content>')


def _place(headings, row) -> tuple[float, float]:
    found = []
    for name in ("lon", "lat"):
        try:
            found.append(float(row[headings.index(name)]))
        except (ValueError, IndexError):
            found.append(float("nan"))
    return found[0], found[1]


def _geojson(random: Random, path: Path, headings, body) -> bytes:
    features = []
    for row in body:
        x, y = _place(headings, row)
        points = {"type": "Point", "coordinates": [x, y]} if x == x and y == y else None
        if random.random() < 0.15:
            points = random.choice((None, {"type": "Polygon", "coordinates": [[[x, y], [x + 1, y], [x, y + 1], [x, y]]]},
                                    {"type": "Polygon", "coordinates": [[[x, y], [x + 1, y + 1], [x + 1, y], [x, y + 1], [x, y]]]},
                                    {"type": "MultiPoint", "coordinates": [[x, y]]}, {"type": "MultiPoint", "coordinates": []},
                                    {"type": "LineString", "coordinates": [[x, y]]}, {"type": "GeometryCollection", "geometries": []},
                                    {"type": "Point", "coordinates": []}, {"type": "Point"}, {"type": "Curve"}, [], "x",
                                    {"type": "Polygon", "coordinates": [[]]}, {"type": "Point", "coordinates": {"a": 1}}))
        features.append({"type": "Feature", "properties": dict(zip(map(str, headings), row)), "geometry": points})
    content = {"type": "FeatureCollection", "features": features}
    if random.random() < 0.3:
        content["crs"] = random.choice((None, 1, {}, {"type": "name", "properties": {"name": random.choice(
            ("EPSG:28354", "urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:0", "EPSG:99999999", "http://127.0.0.1:9/x", "", "EPSG:5773"))}},
            {"type": "link", "properties": {"href": "http://127.0.0.1:9/x"}}))
    if not features:
        content["features"] = [{}]
    return json.dumps(content, ensure_ascii=random.random() < 0.5).encode("utf-8", "surrogatepass")


def _map_file(random: Random, path: Path, headings, body) -> None:
    """GeoPackage, Shapefile, FlatGeobuf, as a map library writes them; the two large ones by hand where the library would not."""
    import geopandas as gpd
    import numpy as np
    import shapely

    shapes = []
    for row in body:
        x, y = _place(headings, row)
        whole = np.isfinite(x) and np.isfinite(y) and abs(x) < 1e9
        shapes.append((shapely.box(x, y, x + 0.5, y + 0.5) if random.random() < 0.3 else shapely.Point(x, y)) if whole else None)
    if path.suffix != ".gpkg":
        kind = random.choice((shapely.Point, shapely.Polygon))
        shapes = [s if isinstance(s, kind) else kind(141, -35) if kind is shapely.Point else shapely.box(141, -35, 142, -34)
                  for s in shapes]
    data = {f"{str(h)[:9]}{i}" if path.suffix != ".gpkg" else f"{h}_{i}" if h in headings[:i] else str(h) or "c":
            [str(row[i])[:100].replace("\0", "") if i < len(row) else "" for row in body] for i, h in enumerate(headings)}
    data = {"".join(c for c in k if c.isprintable()) or f"c{n}": [v.encode("utf-8", "replace").decode() for v in values]
            for n, (k, values) in enumerate(data.items()) if k.lower() not in ("fid", "geom", "geometry")}
    frame = gpd.GeoDataFrame(data, geometry=shapes, crs=random.choice(("EPSG:4326", "EPSG:4326", "EPSG:28354", None)))
    target = path.with_suffix(".shp") if path.suffix == ".zip" else path
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            frame.to_file(target, engine="pyogrio", **({"SPATIAL_INDEX": "NO"} if path.suffix == ".fgb" else {}))
        except Exception:  # a table that the library does not write: something else with the right beginning
            target.write_bytes({".gpkg": b"SQLite format 3\0", ".fgb": b"fgb\x03fgb\x01"}.get(path.suffix, b"\0\0\x27\x0a") + b"\0" * 200)
    if path.suffix == ".zip":
        with zipfile.ZipFile(path, "w", random.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))) as pack:
            for part in sorted(path.parent.glob("list.*")):
                if part != path:
                    pack.write(part, random.choice(("", "deep/")) + part.name)


_WRITERS = {"csv": _text, "tsv": lambda r, p, h, b: _text(r, p, h, b, "\t"), "xlsx": _workbook, "ods": _open_document, "geojson": _geojson,
            "gpkg": _map_file, "shp": _map_file, "zip": _map_file, "fgb": _map_file}


def _damage(random: Random, path: Path, folder: Path) -> None:
    """Change bytes of one of the files; inside archives the members, so that the archive itself stays whole."""
    ending = path.suffix
    if ending in (".xlsx", ".ods", ".zip") and path.exists() and random.random() < 0.7:
        with zipfile.ZipFile(path) as pack:
            parts = {name: pack.read(name) for name in pack.namelist()}
        name = random.choice([n for n in parts if "sheet1" in n or "content" in n or n.startswith("list")] or list(parts))
        parts[name] = bytes_changed(random, parts[name])
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as pack:
            for member, raw in parts.items():
                pack.writestr(member, raw)
        return
    if ending == ".gpkg" and random.random() < 0.6:
        _spoil_database(random, path)
        return
    target = random.choice(sorted(p for p in folder.iterdir() if p.is_file() and p.name.startswith("list"))) if ending == ".shp" else path
    if ending == ".shp" and random.random() < 0.15:
        target.unlink()
    else:
        target.write_bytes(bytes_changed(random, target.read_bytes()))


def _spoil_database(random: Random, path: Path) -> None:
    base = sqlite3.connect(path)
    commands = ("update gpkg_geometry_columns set srs_id = 99", "update gpkg_contents set data_type = 'tiles'", "delete from gpkg_contents",
                "update gpkg_contents set table_name = 'x'", "drop table gpkg_spatial_ref_sys", "update list set geom = x'4750'",
                "update list set geom = x'47500001e6100000010100000000000000000000f87f000000000000f87f'", "update list set geom = 'text'",
                "update list set geom = zeroblob(1000)", "create view v as select * from list", "create view w as select nothing()",
                "insert into gpkg_contents (table_name, identifier, data_type) values ('v', 'v', 'features')",
                "update gpkg_spatial_ref_sys set definition = 'PROJCS['", "alter table list add column a blob",
                "update list set geom = null", "create table other (a, b)", "delete from list", "pragma user_version = 99")
    for command in random.sample(commands, random.choice((1, 2, 4))):
        try:
            base.execute(command)
        except sqlite3.Error:
            pass
    base.commit()
    base.close()


def bytes_changed(random: Random, raw: bytes) -> bytes:
    """Bits turned, pieces cut out, doubled, overwritten with bytes that mean something, or the end cut off."""
    data = bytearray(raw or b"\0")
    for _ in range(random.choice((1, 1, 2, 4, 16))):
        spot, length = random.randrange(len(data)), random.choice((1, 2, 4, 8, 64))
        what = random.randrange(7)
        if what == 0:
            data[spot] ^= 1 << random.randrange(8)
        elif what == 1:
            del data[spot:spot + length]
        elif what == 2:
            data[spot:spot] = data[spot:spot + length] * random.choice((1, 2, 50))
        elif what == 3:
            data[spot:spot + 4] = struct.pack("<I", random.choice((0, 1, 0x7FFFFFFF, 0xFFFFFFFF, 0x80000000, 1000)))
        elif what == 4:
            data[spot:spot + 8] = struct.pack("<d", random.choice((float("nan"), float("inf"), 1e300, -0.0, 1e-320)))
        elif what == 5:
            data[spot:spot + 1] = random.choice((b"\0", b"\xff", b"\xc3", b'"', b",", b"\n", b"\r", b"<", b"&", b"{", b"[",
                                                 b"\xed\xa0\x80"))
        else:
            del data[spot + 1:]
        data = data or bytearray(b"\0")
    return bytes(data)


