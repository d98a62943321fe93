"""Map files (GeoJSON, GeoPackage, Shapefile, FlatGeobuf, GeoParquet) read without trusting them.

GDAL opens by content, whatever a name says, and some of its formats are instructions that fetch or run things.
So each file is looked at first, and only these formats reach GDAL.
"""

from __future__ import annotations

import codecs
import json
import shutil
import tempfile
import warnings
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
import pyogrio.errors
import shapely

from ..errors import InputError
from .packed import unpack

#: Extension to the GDAL driver that reads it; nothing else is opened.
DRIVERS = {".geojson": "GeoJSON", ".json": "GeoJSON", ".gpkg": "GPKG", ".shp": "ESRI Shapefile",
           ".zip": "ESRI Shapefile", ".fgb": "FlatGeobuf", ".parquet": "Parquet", ".geoparquet": "Parquet"}
_MAGIC = {".gpkg": (b"SQLite format 3\x00", "GeoPackage"), ".fgb": (b"fgb\x03fgb", "FlatGeobuf"),
          ".shp": (b"\x00\x00\x27\x0a", "Shapefile"), ".zip": (b"PK", "zip archive"),
          ".parquet": (b"PAR1", "Parquet"), ".geoparquet": (b"PAR1", "Parquet")}
_GEOMETRIES = {"Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon",
               "GeometryCollection"}


def read_layers(path: Path, layer: str | None = None,
                encoding: str | None = None) -> list[tuple[str, pd.DataFrame, tuple[str, ...]]]:
    """Every layer of a map file: its name, its table and notes.

    Parameters
    ----------
    path : Path
        An existing file with one of the extensions in `DRIVERS`.
    layer : str, optional
        Read only this layer.
    encoding : str, optional
        Encoding of a Shapefile's table when its .cpg is missing or wrong.

    Returns
    -------
    list of (str, GeoDataFrame or DataFrame, tuple of str)
        A layer without geometry comes as a plain DataFrame. Features keep the order of the file.

    Raises
    ------
    InputError
        If the file is not what its name says, is damaged, or has no such layer.
    """
    ending = path.suffix.lower()
    if ending in _MAGIC:
        magic, kind = _MAGIC[ending]
        with path.open("rb") as stream:
            start = stream.read(len(magic))
        if start != magic:
            raise InputError(f"this is not a {kind}, whatever its name says", where=path.name, value=repr(start),
                             next_step="export it again, or give it the extension of its real format")
    if ending in (".parquet", ".geoparquet"):
        return [(path.stem, _read_parquet(path), ())]
    if ending in (".geojson", ".json"):
        return [_read_geojson(path)]
    with tempfile.TemporaryDirectory(prefix="geozone-") as folder:
        if ending == ".zip":
            unpacked = unpack(path, Path(folder), (".shp", ".shx", ".dbf", ".prj", ".cpg"))
            shapes = [p for p in unpacked if p.suffix.lower() == ".shp"]
            if not shapes:
                raise InputError("the archive holds no Shapefile (.shp)", where=path.name,
                                 next_step="other formats go unpacked: give the file inside")
            names = [p.relative_to(folder).with_suffix("").as_posix() for p in shapes]
            if len({Path(n).name for n in names}) == len(names):
                names = [Path(n).name for n in names]
            _check_layer(layer, names, path.name)
            return [(name, *_read_gdal(shape, None, path.name, encoding)) for name, shape in zip(names, shapes)
                    if layer in (None, name)]
        real = path
        if "!" in str(path.resolve()):  # pyogrio takes what follows a ! for a file inside an archive
            real = Path(folder) / ("copy" + ending)
            for part in path.parent.glob(path.stem.replace("[", "[[]") + ".*"):
                shutil.copyfile(part, real.with_suffix(part.suffix))
        if ending == ".shp":
            _check_shape_parts(real, path.name)
            return [(path.stem, *_read_gdal(real, None, path.name, encoding))]
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # the same remarks come again, and are noted, when a layer is read
                names = [str(name) for name, _ in pyogrio.list_layers(real)]
        except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, RuntimeError) as why:
            raise _damaged(path.name, why) from None
        names = [n for n in names if n != "layer_styles"]  # a table of looks that GIS programs add
        if ending == ".fgb" and names:
            return [(names[0], *_read_gdal(real, names[0], path.name, encoding))]
        if not names:
            raise _damaged(path.name, ValueError("it holds no layer"))
        _check_layer(layer, names, path.name)
        return [(name, *_read_gdal(real, name, path.name, encoding)) for name in names if layer in (None, name)]


def _check_layer(layer: str | None, names: list[str], file: str) -> None:
    if layer is not None and layer not in names:
        raise InputError("the file has no such layer", where=file, value=layer,
                         rule="its layers: " + ", ".join(repr(n) for n in names),
                         next_step="state one of them as [reading] layer")


def _check_shape_parts(path: Path, file: str) -> None:
    beside = {p.suffix.lower() for p in path.parent.iterdir() if p.stem == path.stem}
    missing = [part for part in (".shx", ".dbf") if part not in beside]
    if missing:
        raise InputError(f"the Shapefile is not whole: {' and '.join(missing)} missing beside it", where=file,
                         rule="a Shapefile is several files of one name: .shp, .shx, .dbf and .prj",
                         next_step="copy all of them, or zip them and give the .zip")


def _damaged(file: str, why: Exception) -> InputError:
    return InputError("the file is damaged and cannot be read", where=file,
                      value=str(why).replace("/vsimem/", "")[:200], next_step="export it again")


def _read_gdal(source: Path | bytes, layer: str | None, file: str,
               encoding: str | None) -> tuple[pd.DataFrame, tuple[str, ...]]:
    notes = []
    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            frame = pyogrio.read_dataframe(source, layer=layer, force_2d=True, encoding=encoding, use_arrow=False,
                                           on_invalid="ignore")
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, pyogrio.errors.FeatureError,
            pyogrio.errors.GeometryError, pyogrio.errors.FieldError, shapely.errors.GEOSException,
            UnicodeDecodeError, LookupError, RuntimeError, ValueError) as why:
        raise _damaged(file, why) from None
    for warning in caught:
        message = str(warning.message)
        if issubclass(warning.category, RuntimeWarning) and "Measured (M)" not in message:
            notes.append(f"{file}: {message[:200]}")
    return frame, tuple(dict.fromkeys(notes))


def _read_geojson(path: Path) -> tuple[str, pd.DataFrame, tuple[str, ...]]:
    data = path.read_bytes()
    utf16 = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    notes: tuple[str, ...] = ()
    try:
        text = data.decode("utf-16" if utf16 else "utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        notes = (f"{path.name}: not UTF-8 as GeoJSON must be; read as CP1252 (Windows, western Europe)",)
    try:
        content = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as why:
        raise InputError("this is not GeoJSON: the JSON itself is broken", where=path.name, value=str(why),
                         next_step="export it again") from None
    kind = content.get("type") if isinstance(content, dict) else None
    if kind not in _GEOMETRIES | {"Feature", "FeatureCollection"}:
        raise InputError("this is JSON but not GeoJSON", where=path.name, value=kind,
                         rule='its "type" must be FeatureCollection, Feature or a geometry (RFC 7946)',
                         next_step="export it as GeoJSON")
    if kind == "FeatureCollection":
        features = content.get("features")
        if not isinstance(features, list) or not all(isinstance(f, dict) for f in features):
            raise InputError("the GeoJSON has no list of features", where=path.name,
                             rule='a FeatureCollection has "features": [...] (RFC 7946)',
                             next_step="export it again")
        if not features:
            raise InputError("the GeoJSON holds no feature", where=path.name,
                             next_step="export it again and look that something is selected")
    frame, more = _read_gdal(text.encode("utf-8"), None, path.name, None)
    return path.stem, frame, notes + more


def _read_parquet(path: Path) -> pd.DataFrame:
    try:
        import pyarrow  # noqa: F401
    except ImportError:
        raise InputError("GeoParquet needs a part that is not installed", where=path.name,
                         rule="the extra 'parquet' brings it",
                         next_step="pip install 'geozone[parquet]', or export the list as GeoPackage") from None
    try:
        return gpd.read_parquet(path)
    except Exception as first:  # pyarrow raises many kinds; a plain Parquet table is still a table
        try:
            return pd.read_parquet(path)
        except Exception:
            raise _damaged(path.name, first) from None
