"""GeoJSON (RFC 7946) read by a JSON parser alone, so that nothing in it can be taken for a request.

Map libraries guess what a JSON text is by words that may stand in any of its strings, and follow a `crs` of type "link".
Here a string stays a string and a link is not followed.
"""

from __future__ import annotations

import codecs
import json
import re
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from ..errors import InputError
from ..plurals import counted
from . import limits, projections

_GEOMETRIES = {"Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon",
               "GeometryCollection"}
#: Collections in collections: more than this is no map.
_DEEPEST = 8
#: Names of coordinate reference systems: RFC 7946's predecessor (GeoJSON 2008, section 3.1) uses URNs; others are common.
_CRS_NAME = re.compile(r"(?:urn:(?:x-)?ogc:def:crs:|https?://www\.opengis\.net/(?:def/crs/|gml/srs/))?"
                       r"(EPSG|OGC|ESRI|CRS)(?:[:/][\w.]*)?[:/#.](?:xml#)?(\w{1,12})", re.IGNORECASE)


def read_geojson(path: Path) -> tuple[str, pd.DataFrame, tuple[str, ...]]:
    """The one layer of a GeoJSON file: its name, a GeoDataFrame in the order of the file, and notes.

    Raises
    ------
    InputError
        If it is no GeoJSON, holds no feature, or is larger than `limits` allows.
    """
    limits.check_size(path, limits.MOST_TEXT_BYTES)
    data = path.read_bytes()
    parts = data.count(b"[") + data.count(b"{")
    if parts > limits.MOST_CELLS:  # each is an object of its own until it is read
        raise InputError("the file is larger than a list of sites or outlines can be", where=path.name,
                         value=f"{parts:,} brackets", rule=f"at most {limits.MOST_CELLS:,}: features and corners together",
                         next_step="export only what is needed, simplify the outlines, or give it as GeoPackage")
    text, notes = _text(data, path.name)
    try:
        content = json.loads(text)
    except RecursionError:
        raise InputError("this is not GeoJSON: brackets inside brackets without end", where=path.name,
                         next_step="export it again") from None
    except ValueError as why:  # broken JSON, or a number of thousands of digits
        raise InputError("this is not GeoJSON: the JSON itself is broken", where=path.name, value=str(why),
                         next_step="export it again") from None
    features = _features(content, path.name)
    limits.check_table(len(features), 0, path.name)
    shapes, bad = _shapes(features)
    if bad:
        listed = ", ".join(str(spot + 1) for spot in bad[:5]) + (" ..." if len(bad) > 5 else "")
        notes += (f"{path.name}: the geometry of {counted(len(bad), 'feature')} cannot be read (feature {listed})",)
    data = _columns(features, path.name)
    crs, more = _crs(content, path.name)
    frame = gpd.GeoDataFrame(data, geometry=gpd.GeoSeries(shapes, index=data.index), crs=crs)
    return path.stem, frame, notes + more


def _text(data: bytes, file: str) -> tuple[str, tuple[str, ...]]:
    utf16 = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        return data.decode("utf-16" if utf16 else "utf-8-sig"), ()
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), (
            f"{file}: not UTF-8 as GeoJSON must be; read as CP1252 (Windows, western Europe)",)


def _features(content: Any, file: str) -> list[dict]:
    kind = content.get("type") if isinstance(content, dict) else None
    if not isinstance(kind, str) or kind not in _GEOMETRIES | {"Feature", "FeatureCollection"}:
        raise InputError("this is JSON but not GeoJSON", where=file, value=kind,
                         rule='its "type" must be FeatureCollection, Feature or a geometry (RFC 7946)',
                         next_step="export it as GeoJSON")
    if kind == "Feature":
        return [content]
    if kind != "FeatureCollection":
        return [{"geometry": content}]
    features = content.get("features")
    if not isinstance(features, list) or not all(isinstance(f, dict) for f in features):
        raise InputError("the GeoJSON has no list of features", where=file,
                         rule='a FeatureCollection has "features": [...] (RFC 7946)', next_step="export it again")
    if not features:
        raise InputError("the GeoJSON holds no feature", where=file,
                         next_step="export it again and look that something is selected")
    return features


def _columns(features: list[dict], file: str) -> pd.DataFrame:
    """The properties as columns in the order of their first appearance; a text `id` of the feature is one too."""
    own = [p if isinstance(p, dict) else {} for p in (f.get("properties") for f in features)]
    names = dict.fromkeys(key for properties in own for key in properties)
    limits.check_table(len(features), len(names), file)
    data = {}
    if "id" not in names and any(isinstance(f.get("id"), str) for f in features):
        data["id"] = _column([f.get("id") for f in features])
    for name in names:
        data[name] = _column([properties.get(name) for properties in own])
    frame = pd.DataFrame(data, index=range(len(features)))
    frame.columns = [_written(name) for name in data]
    return frame


def _column(values: list) -> pd.Series:
    """Numbers as numbers, whole ones whole where none is missing, anything mixed or nested as text."""
    kinds = {type(value) for value in values if value is not None}
    missing = any(value is None for value in values)
    if kinds == {bool} and not missing:
        return pd.Series(values, dtype=bool)
    if kinds and kinds <= {int, float} and all(not isinstance(v, int) or abs(v) < 2**63 for v in values):
        numbers = [np.nan if value is None else value for value in values]
        return pd.Series(numbers, dtype=np.int64 if kinds == {int} and not missing else float)
    return pd.Series([None if value is None else _written(value) for value in values], dtype="str")


def _written(value: object) -> str:
    if not isinstance(value, str):
        value = json.dumps(value, ensure_ascii=False) if isinstance(value, (dict, list, bool)) else repr(value)
    # half of a two-part character, which JSON can write and no file can hold
    return value if value.isascii() else value.encode("utf-8", errors="replace").decode("utf-8")


def _shapes(features: list[dict]) -> tuple[np.ndarray, list[int]]:
    """A geometry or None for each feature, and the features whose geometry cannot be read."""
    shapes, bad = np.full(len(features), None, dtype=object), []
    spots, places = [], []
    for spot, feature in enumerate(features):
        given = feature.get("geometry")
        if given is None:
            continue
        try:
            if isinstance(given, dict) and given.get("type") == "Point" and given.get("coordinates"):
                places.append(_position(given["coordinates"]))  # all points are made at once
                spots.append(spot)
            else:
                shapes[spot] = _shape(given)
        except (ValueError, TypeError, AttributeError, LookupError, OverflowError, shapely.errors.ShapelyError):
            bad.append(spot)
    if spots:
        shapes[spots] = shapely.points(np.array(places))
    return shapes, bad


def _shape(given: dict, depth: int = 0):
    kind, corners = given.get("type"), given.get("coordinates")
    if kind == "GeometryCollection":
        if depth >= _DEEPEST:
            raise ValueError("collections inside collections")
        return shapely.GeometryCollection([_shape(part, depth + 1) for part in given.get("geometries") or []])
    if not isinstance(corners, list) or kind not in _GEOMETRIES:
        raise ValueError("no geometry")
    if not corners:
        return shapely.from_wkt(f"{kind.upper()} EMPTY")
    if kind == "Point":
        return shapely.Point(_position(corners))
    if kind == "MultiPoint":
        return shapely.MultiPoint(_line(corners))
    if kind == "LineString":
        return shapely.LineString(_line(corners))
    if kind == "MultiLineString":
        return shapely.MultiLineString([_line(part) for part in corners])
    if kind == "Polygon":
        return _outline(corners)
    return shapely.MultiPolygon([_outline(part) for part in corners])


def _outline(rings: list):
    rings = [_line(ring) for ring in rings]
    # A ring has four positions at least, the last like the first (RFC 7946, 3.1.6); a library would close it in silence.
    if any(len(ring) and (len(ring) < 4 or (ring[0] != ring[-1]).any()) for ring in rings):
        raise ValueError("a ring is not closed")
    return shapely.Polygon(rings[0], rings[1:]) if rings else shapely.Polygon()


def _line(corners: list) -> np.ndarray:
    return np.array([_position(corner) for corner in corners], dtype=float).reshape(-1, 2)


def _position(corner: list) -> tuple[float, float]:
    x, y = corner[0], corner[1]
    if isinstance(x, (bool, str)) or isinstance(y, (bool, str)):
        raise ValueError("a position is two numbers")
    x, y = float(x), float(y)
    if not (np.isfinite(x) and np.isfinite(y)):
        raise ValueError("a position is two finite numbers")
    return x, y


def _crs(content: dict, file: str) -> tuple[object, tuple[str, ...]]:
    """WGS 84 where the file names none (RFC 7946, section 4); None, and a note, where what it names cannot be used."""
    if "crs" not in content:
        return projections.WGS84, ()
    given = content["crs"]
    if given is None:
        return None, ()
    properties = given.get("properties") if isinstance(given, dict) else None
    kind = given.get("type") if isinstance(given, dict) else None
    if isinstance(properties, dict):
        if isinstance(kind, str) and kind.casefold() in ("link", "url"):
            return None, (f"{file}: its crs is a link to somewhere else; links are not followed, so it counts as none",)
        name = properties.get("name", f"EPSG:{properties.get('code')}")
        found = _CRS_NAME.fullmatch(name.strip()) if isinstance(name, str) else None
        if found:
            try:
                if found[2].upper() in ("84", "CRS84"):
                    return projections.WGS84, ()
                return projections.as_crs(f"{found[1].upper()}:{found[2]}", file), ()
            except InputError:
                pass
    return None, (f"{file}: the coordinate reference system that it names is not known, so it counts as none",)
