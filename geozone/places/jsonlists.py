"""JSON that is no plain GeoJSON collection: several collections, a map server's answer, records; and answers cut short.

Each is rewritten as one GeoJSON text for the GeoJSON reader, or as rows. RFC 7946 (GeoJSON), RFC 8142 (text sequences),
OGC API - Features (numberMatched, numberReturned).
"""

from __future__ import annotations

import json
import re

from ..errors import InputError

#: Keys under which web services answer with a list of records, from memory.
_LIST_KEYS = ("features", "results", "records", "data", "value", "items", "rows")
_GEOMETRY_KINDS = {"Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "GeometryCollection"}
#: A plain collection begins so; it goes to the GeoJSON reader as it is, unless more begin after it.
_COLLECTION = re.compile(rb'"type"\s*:\s*"FeatureCollection"')
#: More than this is no site list, and each would be an object of its own; the GeoJSON reader has the word.
_MOST_BRACKETS = 20_000_000
#: Collections in collections in lists: more than this is no list.
_DEEPEST = 8
_CUT = re.compile(rb'"exceededTransferLimit"\s*:\s*true|"numberMatched"\s*:\s*\d')


def read_json_list(data: bytes, file: str) -> tuple[list[tuple[str, dict]], list[dict] | None, tuple[str, ...]]:
    """What an unusual JSON file holds: named GeoJSON collections, or records without geometry.

    Parameters
    ----------
    data : bytes
    file : str

    Returns
    -------
    collections : list of (str, dict)
        Empty where the file is plain GeoJSON, or broken: the GeoJSON reader has the word then.
    records : list of dict or None
    notes : tuple of str

    Raises
    ------
    InputError
        If the answer of a web service says itself that it is not whole.
    """
    if data.count(b"[") + data.count(b"{") > _MOST_BRACKETS:
        return [], None, ()
    if data.lstrip()[:1] == b"{" and len(_COLLECTION.findall(data, 0, 2_000_000)) == 1 and not _CUT.search(data):
        return [], None, ()
    texts = _texts(data)
    if not texts:
        return [], None, ()
    for content in texts:
        _refuse_cut(content, file)
    kind = texts[0].get("type") if len(texts) == 1 and isinstance(texts[0], dict) else None
    if isinstance(kind, str) and kind in {"FeatureCollection", "Feature"} | _GEOMETRY_KINDS:
        if not any(isinstance(f, dict) and f.get("type") == "FeatureCollection" for f in _list(texts[0].get("features"))):
            return [], None, ()
    collections: list[tuple[str, dict]] = []
    records: list[dict] = []
    for number, content in enumerate(texts, 1):
        _collect(content, f"collection {number}", collections, records)
    if len(texts) == 1 and isinstance(texts[0], dict) and records == [texts[0]]:
        return [], None, ()  # one lone object is no list
    if collections:
        found = _merged(collections)
        said = (f"{file}: {len(collections)} collections of features in one file" + (
            "; all are read as one list" if len(found) == 1 else ""),) if len(collections) > 1 else ()
        return found, None, said
    return [], records or None, (f"{file}: records of JSON without geometry; read as a table",) if records else ()


def _texts(data: bytes) -> list:
    """The JSON texts of a file: one, or a sequence of them, a line or a record separator each."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return []
    decoder, found, spot = json.JSONDecoder(), [], 0
    gap = re.compile(r"[\s\x1e,]*")
    try:
        while (spot := gap.match(text, spot).end()) < len(text):
            content, spot = decoder.raw_decode(text, spot)
            found.append(content)
    except (json.JSONDecodeError, RecursionError, ValueError):
        return []
    return found


def _list(value: object) -> list:
    return value if isinstance(value, list) else []


def _collect(content: object, name: str, collections: list, records: list, depth: int = 0) -> None:
    """Sort what a JSON text holds into collections of features and plain records."""
    if depth > _DEEPEST:
        return
    depth += 1
    if isinstance(content, list):
        features = [c for c in content if isinstance(c, dict) and c.get("type") == "Feature"]
        if features:
            collections.append((name, {"type": "FeatureCollection", "features": features}))
        for number, inner in enumerate(c for c in content if not (isinstance(c, dict) and c.get("type") == "Feature")):
            _collect(inner, f"{name}.{number + 1}", collections, records, depth)
    elif isinstance(content, dict):
        kind = content.get("type")
        features = _list(content.get("features"))
        if kind == "FeatureCollection":
            own = [f for f in features if not isinstance(f, dict) or f.get("type") != "FeatureCollection"]
            if own or not features:
                collections.append((str(content.get("name") or name), {**content, "features": own}))
            for number, inner in enumerate(f for f in features if isinstance(f, dict) and f.get("type") == "FeatureCollection"):
                _collect(inner, f"{name}.{number + 1}", collections, records, depth)
        elif kind == "Feature":
            collections.append((name, {"type": "FeatureCollection", "features": [content]}))
        elif isinstance(kind, str) and kind in _GEOMETRY_KINDS and "coordinates" in content:
            collections.append((name, {"type": "FeatureCollection",
                                       "features": [{"type": "Feature", "properties": {}, "geometry": content}]}))
        elif features and all(isinstance(f, dict) and isinstance(f.get("attributes"), dict) for f in features):
            collections.append((name, _from_server(content, features)))
        else:
            inner = {key: value for key, value in content.items()
                     if isinstance(value, dict) and value.get("type") == "FeatureCollection"}
            lists = [key for key in _LIST_KEYS if any(isinstance(v, dict) for v in _list(content.get(key)))]
            if inner:
                for key, value in inner.items():
                    _collect({**value, "name": value.get("name") or key}, key, collections, records, depth)
            elif lists:
                _collect(content[lists[0]], name, collections, records, depth)
            elif content:
                records.append(content)


def _from_server(content: dict, features: list[dict]) -> dict:
    """Features with "attributes" and x, y, as map servers answer, as a GeoJSON collection that names its system."""
    made = []
    for feature in features:
        given, shape = feature.get("geometry"), None
        if isinstance(given, dict):
            if "x" in given and "y" in given:
                shape = {"type": "Point", "coordinates": [given["x"], given["y"]]}
            elif _list(given.get("points")):
                shape = {"type": "MultiPoint", "coordinates": given["points"]}
            elif _list(given.get("rings")):
                shape = {"type": "Polygon", "coordinates": given["rings"]}
            elif _list(given.get("paths")):
                shape = {"type": "MultiLineString", "coordinates": given["paths"]}
        if shape and shape["type"] == "Point" and not all(isinstance(v, (int, float)) for v in shape["coordinates"]):
            shape = None
        made.append({"type": "Feature", "properties": feature["attributes"], "geometry": shape})
    system = content.get("spatialReference")
    code = (system.get("latestWkid") or system.get("wkid")) if isinstance(system, dict) else None
    result: dict[str, object] = {"type": "FeatureCollection", "features": made}
    if isinstance(code, int):
        code = {102100: 3857, 102113: 3857}.get(code, code)
        register = "EPSG" if code < 32768 else "ESRI"
        result["crs"] = {"type": "name", "properties": {"name": f"urn:ogc:def:crs:{register}::{code}"}}
    return result


def _merged(collections: list[tuple[str, dict]]) -> list[tuple[str, dict]]:
    """One collection of all features, where all are points in one system or none is a point; else as they are."""
    kinds = {(json.dumps(c.get("crs"), sort_keys=True), (f.get("geometry") or {}).get("type") in ("Point", "MultiPoint"))
             for _, c in collections for f in c["features"] if isinstance(f, dict) and isinstance(f.get("geometry"), dict)}
    if len(kinds) > 1:
        return collections
    whole = {**collections[0][1], "features": [f for _, c in collections for f in c["features"]]}
    return [(collections[0][0], whole)]


def _refuse_cut(content: object, file: str) -> None:
    """Stop at an answer that says itself that features are missing: sites would be left out in silence."""
    if not isinstance(content, dict):
        return
    inner = content.get("properties") if isinstance(content.get("properties"), dict) else {}
    matched, returned = content.get("numberMatched"), content.get("numberReturned")
    returned = returned if isinstance(returned, int) else len(_list(content.get("features")))
    cut = content.get("exceededTransferLimit") is True or inner.get("exceededTransferLimit") is True
    if cut or isinstance(matched, int) and matched > returned:
        raise InputError("this is the answer of a web service, cut at its page size: sites are missing", where=file,
                         value=f"{returned:,} of {matched:,} features" if isinstance(matched, int) and matched > returned
                         else f'"exceededTransferLimit": true, {len(_list(content.get("features"))):,} features',
                         rule="a list must hold every site, or sites are judged by others alone",
                         next_step="fetch the remaining pages too (a service counts them by an offset) and put all features "
                         "into one file, or take the portal's download of the whole layer. If this part is all you want, "
                         'delete "exceededTransferLimit" or "numberMatched" from the file')
